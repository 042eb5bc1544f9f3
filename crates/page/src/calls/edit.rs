//! Changes of the drawing as changes of the text, comments kept. The changed text is read again: what
//! it would find is told before anything is changed.

use super::read::Manner;
use super::values::{change, values};
use crate::answer::Refusal;
use crate::desks::Which;
use crate::drawn::groups;
use crate::model::{Known, Model};
use crate::server::Shared;
use crate::told;
use fiftytwo_scheme::edit::{self, Change, Side, changed};
use fiftytwo_scheme::{NodeId, PartId, PartKind, Severity, Span};
use fiftytwo_sheet::Symbols;
use fiftytwo_sheet::geometry::{Point, Role, Shape};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    edit: Edit,
    #[serde(flatten)]
    manner: Manner,
}

/// What is to be done.
#[derive(Debug, Clone, Deserialize)]
struct Edit {
    /// put-in, replace, take-out, swap, name, move-leg or set.
    #[serde(rename = "do")]
    deed: String,
    /// The group of a part.
    #[serde(default)]
    part: Option<String>,
    /// The group of a piece of wire.
    #[serde(default)]
    wire: Option<String>,
    /// The name of a leg, and of its circuit if several have that name.
    #[serde(default)]
    leg: Option<String>,
    #[serde(default)]
    circuit: Option<String>,
    /// before, after or beside.
    #[serde(default)]
    how: Option<String>,
    #[serde(default)]
    contact: Option<Contact>,
    /// The other part of a swap, the new name, or the new value.
    #[serde(default)]
    to: Option<String>,
    /// The ends of a leg.
    #[serde(default)]
    ends: Option<Ends>,
    /// The device, cable, supply or coil whose value is set, and which.
    #[serde(default)]
    of: Option<String>,
    #[serde(default)]
    property: Option<String>,
    /// On whose sheets its pieces of wire are.
    #[serde(skip)]
    manner: Manner,
}

#[derive(Debug, Clone, Deserialize)]
struct Contact {
    device: String,
    contact: String,
}

#[derive(Debug, Clone, Default, Deserialize)]
struct Ends {
    #[serde(default)]
    from: Option<String>,
    #[serde(default)]
    to: Option<String>,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    changes: Vec<InUnits>,
    /// The lines that the text gets, each with its number.
    lines: Vec<Line>,
    /// The lines that go, each with its number in the text before.
    gone: Vec<Line>,
    sentence: String,
    refused: Option<String>,
    /// The fingerprint of the text after it; it is remembered.
    after: Option<String>,
    findings: Vec<told::Finding>,
}

/// A change in UTF-16 units.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InUnits {
    pub from: usize,
    pub to: usize,
    pub insert: String,
}

#[derive(Debug, Serialize)]
struct Line {
    line: usize,
    text: String,
}

/// What was worked out with the scheme at hand.
struct Planned {
    changes: Vec<Change>,
    sentence: String,
    refused: Option<String>,
}

impl Planned {
    fn refused(why: impl Into<String>) -> Self {
        Self { changes: Vec::new(), sentence: String::new(), refused: Some(why.into()) }
    }
}

pub async fn edit(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let Asked { scheme, edit, manner } = asked;
    let edit = Edit { manner, ..edit };
    let desk = scheme.desk.clone();
    let known = shared.office.known(scheme).await?;
    let planned = known.ask(move |model| planned(model, &edit)).await?;
    let Planned { changes, sentence, refused } = planned;
    let in_units = units(&known, &changes);
    if refused.is_some() || changes.is_empty() {
        let text = known.hash.clone();
        return Ok(Told {
            text,
            changes: in_units,
            lines: Vec::new(),
            gone: Vec::new(),
            sentence,
            refused,
            after: None,
            findings: Vec::new(),
        });
    }
    let after = changed(known.places.text(), &changes);
    let lines = lines_of(&after, &changes);
    let gone = gone_of(known.places.text(), &changes);
    let which = Which { desk, text: Some(after), text_hash: None };
    let read = shared.office.known(which).await?;
    let findings = told::findings(&read.reading.findings, &read.reading, &read.places);
    let worst = read.reading.findings.iter().find(|it| it.severity == Severity::Error);
    let refused = worst.filter(|_| !read.reading.is_usable()).map(|it| match &it.help {
        Some(help) => format!("{} {}", sentence_of(&it.message), sentence_of(help)),
        None => sentence_of(&it.message),
    });
    Ok(Told {
        text: known.hash.clone(),
        changes: in_units,
        lines,
        gone,
        sentence,
        refused,
        after: Some(read.hash.clone()),
        findings,
    })
}

fn sentence_of(words: &str) -> String {
    let mut letters = words.chars();
    let mut out: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    out.extend(letters);
    if !out.ends_with('.') {
        out.push('.');
    }
    out
}

/// Changes as a browser counts.
pub fn units(known: &Arc<Known>, changes: &[Change]) -> Vec<InUnits> {
    let places = &known.places;
    let mut all: Vec<InUnits> = changes
        .iter()
        .map(|change| InUnits {
            from: places.units(change.from),
            to: places.units(change.to),
            insert: change.insert.clone(),
        })
        .collect();
    all.sort_by_key(|change| (change.from, change.to));
    all
}

/// The lines that changes touch, as they stand afterwards.
fn lines_of(after: &str, changes: &[Change]) -> Vec<Line> {
    let mut sorted: Vec<&Change> = changes.iter().collect();
    sorted.sort_by_key(|change| change.from);
    let mut touched = Vec::new();
    let mut shift = 0_i64;
    let signed = |value: usize| i64::try_from(value).unwrap_or(i64::MAX);
    for change in sorted {
        let from = usize::try_from(signed(change.from) + shift).unwrap_or(0);
        if !change.insert.is_empty() || !is_between_lines(after, from) {
            touched.push((from, from + change.insert.len()));
        }
        shift += signed(change.insert.len()) - signed(change.to - change.from);
    }
    let mut lines = Vec::new();
    let mut start = 0;
    for (index, line) in after.split('\n').enumerate() {
        let end = start + line.len();
        let is_touched = touched.iter().any(|(from, to)| {
            // A line end put in belongs to the line it ends, not to the one behind it.
            *from <= end && (*to > start || (*to == start && from == to))
        });
        if is_touched && !line.trim().is_empty() {
            lines.push(Line { line: index + 1, text: line.trim().to_owned() });
        }
        start = end + 1;
    }
    lines.truncate(12);
    lines
}

/// Whether a place of a text lies before or behind a line, not within one.
fn is_between_lines(text: &str, at: usize) -> bool {
    let ends = text.get(..at).is_none_or(|before| before.is_empty() || before.ends_with('\n'));
    ends || text.get(at..).is_none_or(|behind| behind.is_empty() || behind.starts_with('\n'))
}

/// The lines that changes take away whole.
fn gone_of(before: &str, changes: &[Change]) -> Vec<Line> {
    let taken = changes.iter().filter(|change| change.insert.trim().is_empty());
    let taken: Vec<&Change> = taken.collect();
    let mut lines = Vec::new();
    let mut start = 0;
    for (index, line) in before.split('\n').enumerate() {
        let words = line.trim();
        let from = start + line.len() - line.trim_start().len();
        let is_gone = taken.iter().any(|it| it.from <= from && from + words.len() <= it.to);
        if is_gone && !words.is_empty() {
            lines.push(Line { line: index + 1, text: words.to_owned() });
        }
        start += line.len() + 1;
    }
    lines.truncate(12);
    lines
}

fn planned(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let text = model.places.text();
    let found = match edit.deed.as_str() {
        "put-in" => put_in(model, edit)?,
        "replace" => replace(model, edit)?,
        "take-out" => take_out(model, edit)?,
        "swap" => swap(model, edit)?,
        "name" => name(model, edit)?,
        "move-leg" => move_leg(model, edit)?,
        "set" => set(model, edit)?,
        other => return Err(Refusal::unclear(format!("{other:?} is no change of a drawing."))),
    };
    // Nothing is promised of a text that stays the same.
    let same = found.refused.is_none() && changed(text, &found.changes) == text;
    Ok(if same { Planned::refused("That is how it stands already.") } else { found })
}

/// A spot in a leg: the line of a part, and on which side of it.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    /// The part.
    pub part: PartId,
    /// On which side.
    pub side: Side,
}

fn part_of(model: &Model<'_>, id: &str) -> Result<PartId, Refusal> {
    let drawing = model.drawing(Symbols::Ieee315);
    let groups = groups(drawing);
    let found = groups.iter().find(|(_, (_, group))| group == id).map(|(part, _)| *part);
    found.or_else(|| model.scheme.part_named(id)).ok_or_else(|| {
        Refusal::conflict("This part is not on the drawing any more.", "Choose another one.")
    })
}

/// Where a piece of wire stands: below the part above it, or above the part below it.
pub fn spot_of_wire(model: &Model<'_>, id: &str, symbols: Symbols) -> Result<Spot, Refusal> {
    let gone =
        || Refusal::conflict("This wire is not on the drawing any more.", "Choose another one.");
    let drawing = model.drawing(symbols);
    for sheet in &drawing.sheets {
        let Some(group) = sheet.items.iter().find(|group| group.id == id) else { continue };
        let Role::Wire(node) = group.role else { continue };
        let Some(Shape::Line { points, .. }) = group.shapes.first() else { continue };
        let near = |at: Point| {
            points.iter().any(|end| (end.x - at.x).abs() < 1.5 && (end.y - at.y).abs() < 1.5)
        };
        let spots = sheet.boxes.iter().filter_map(|body| {
            let at = model.scheme.parts[body.part].at?;
            let spot = |side| Spot { part: body.part, side };
            if at.to == node && near(body.ends[1]) {
                Some((0, spot(Side::After)))
            } else if at.from == node && near(body.ends[0]) {
                Some((1, spot(Side::Before)))
            } else {
                None
            }
        });
        if let Some((_, spot)) = spots.min_by_key(|(rank, _)| *rank) {
            return Ok(spot);
        }
        return any_on(model, node).ok_or_else(gone);
    }
    Err(gone())
}

fn any_on(model: &Model<'_>, node: NodeId) -> Option<Spot> {
    let placed = || model.scheme.placed().filter_map(|(id, part)| Some((id, part.at?)));
    let above = placed().find(|(_, at)| at.to == node);
    let above = above.map(|(part, _)| Spot { part, side: Side::After });
    above.or_else(|| {
        let below = placed().find(|(_, at)| at.from == node);
        below.map(|(part, _)| Spot { part, side: Side::Before })
    })
}

/// Where the line that places a part begins; refused where the text has it elsewhere.
fn line_of(model: &Model<'_>, part: PartId) -> Result<usize, String> {
    let scheme = model.scheme;
    let span = scheme.parts[part].at.map(|at| at.span).ok_or("It stands in no leg.")?;
    in_main(span)?;
    let shared = scheme.placed().filter(|(_, other)| other.at.is_some_and(|at| at.span == span));
    if shared.count() > 1 && !matches!(scheme.parts[part].kind, PartKind::Core(_)) {
        return Err("This comes from a pattern: change the pattern in the text.".to_owned());
    }
    Ok(span.start as usize)
}

/// Refused where it stands in another file.
pub fn in_main(span: Span) -> Result<(), String> {
    use fiftytwo_scheme::arena::Id;
    if span.file.index() == 0 {
        Ok(())
    } else {
        Err("This is written in another file: change it there.".to_owned())
    }
}

fn spot(model: &Model<'_>, edit: &Edit) -> Result<Spot, Refusal> {
    match (&edit.wire, &edit.part) {
        (Some(wire), _) => spot_of_wire(model, wire, edit.manner.symbols()),
        (None, Some(part)) => {
            let before = edit.how.as_deref() == Some("before");
            let side = if before { Side::Before } else { Side::After };
            Ok(Spot { part: part_of(model, part)?, side })
        }
        (None, None) => Err(Refusal::unclear("It is not said where.")),
    }
}

/// A contact that stands nowhere yet.
fn spare(model: &Model<'_>, edit: &Edit) -> Result<Result<PartId, String>, Refusal> {
    let wanted =
        edit.contact.as_ref().ok_or_else(|| Refusal::unclear("It is not said which contact."))?;
    let scheme = model.scheme;
    let name = format!("{} {}", wanted.device, wanted.contact);
    let found = scheme.parts.iter().find(|(_, part)| {
        let device = part.device.map(|device| scheme.devices[device].name.as_str());
        device == Some(wanted.device.as_str())
            && part.own_name == wanted.contact
            && matches!(part.kind, PartKind::Contact(_))
    });
    let Some((id, part)) = found else {
        return Ok(Err(format!("There is no contact {name:?}.")));
    };
    Ok(match part.at {
        Some(at) => {
            let line = told::line(model.places, at.span);
            Err(format!("{name} stands in line {line} already."))
        }
        None => Ok(id),
    })
}

fn contact_line(model: &Model<'_>, contact: PartId) -> String {
    let part = &model.scheme.parts[contact];
    let device = part.device.map_or("", |device| model.scheme.devices[device].name.as_str());
    let quote = |words: &str| format!("\"{}\"", words.replace('\\', "\\\\").replace('"', "\\\""));
    format!("contact {} {}", quote(device), quote(&part.own_name))
}

fn when(model: &Model<'_>, part: PartId) -> String {
    match &model.scheme.parts[part].kind {
        PartKind::Contact(contact) => {
            let device = model.scheme.parts[part].device;
            let device = device.map_or("", |device| model.scheme.devices[device].name.as_str());
            let text = &contact.closed_when.text;
            if text.contains(device) { text.clone() } else { format!("{device} {text}") }
        }
        _ => model.scheme.parts[part].name.clone(),
    }
}

fn leg_of(model: &Model<'_>, part: PartId) -> String {
    let at = model.scheme.parts[part].at;
    let leg = at.and_then(|at| at.leg).map(|leg| model.scheme.legs[leg].name.clone());
    leg.map_or_else(|| "the feed".to_owned(), |leg| format!("the leg “{leg}”"))
}

fn from(result: Result<Vec<Change>, String>, sentence: String) -> Planned {
    match result {
        Ok(changes) => Planned { changes, sentence, refused: None },
        Err(why) => Planned::refused(why),
    }
}

fn put_in(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let spot = spot(model, edit)?;
    let contact = match spare(model, edit)? {
        Ok(contact) => contact,
        Err(why) => return Ok(Planned::refused(why)),
    };
    let at = match line_of(model, spot.part) {
        Ok(at) => at,
        Err(why) => return Ok(Planned::refused(why)),
    };
    let line = contact_line(model, contact);
    let text = model.places.text();
    let (leg, when) = (leg_of(model, spot.part), when(model, contact));
    Ok(if edit.how.as_deref() == Some("beside") {
        let beside = &model.scheme.parts[spot.part].name;
        let sentence = format!("{} conducts past {beside} while {when}.", sentence_start(&leg));
        from(edit::put_beside(text, at, &line), sentence)
    } else {
        // It may stand in one of several branches: what is said is said of this way alone.
        let sentence = format!("{}: this way conducts only while {when}.", sentence_start(&leg));
        from(edit::put_in(text, at, &line, spot.side), sentence)
    })
}

fn sentence_start(words: &str) -> String {
    let sentence = sentence_of(words);
    sentence.strip_suffix('.').map_or(sentence.clone(), str::to_owned)
}

fn replace(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let part =
        edit.part.as_deref().ok_or_else(|| Refusal::unclear("It is not said which part."))?;
    let part = part_of(model, part)?;
    if !matches!(model.scheme.parts[part].kind, PartKind::Contact(_)) {
        return Ok(Planned::refused("Only a contact is replaced by a contact."));
    }
    let contact = match spare(model, edit)? {
        Ok(contact) => contact,
        Err(why) => return Ok(Planned::refused(why)),
    };
    let sentence = format!(
        "{} conducts there while {}, not while {}.",
        sentence_start(&leg_of(model, part)),
        when(model, contact),
        when(model, part)
    );
    let at = line_of(model, part);
    let line = contact_line(model, contact);
    Ok(from(at.and_then(|at| edit::replace(model.places.text(), at, &line)), sentence))
}

fn take_out(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let part =
        edit.part.as_deref().ok_or_else(|| Refusal::unclear("It is not said which part."))?;
    let part = part_of(model, part)?;
    let leg = sentence_start(&leg_of(model, part));
    let item = &model.scheme.parts[part];
    let sentence = if matches!(item.kind, PartKind::Contact(_)) {
        format!("{leg} no longer asks whether {}.", when(model, part))
    } else {
        format!("{leg} goes on without {}.", item.name)
    };
    let at = line_of(model, part);
    Ok(from(at.and_then(|at| edit::take_out(model.places.text(), at)), sentence))
}

fn swap(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let unclear = || Refusal::unclear("It is not said which two parts.");
    let one = part_of(model, edit.part.as_deref().ok_or_else(unclear)?)?;
    let other = part_of(model, edit.to.as_deref().ok_or_else(unclear)?)?;
    let (a, b) = (&model.scheme.parts[one].name, &model.scheme.parts[other].name);
    let sentence = format!("{a} and {b} change places.");
    let lines = line_of(model, one).and_then(|one| Ok((one, line_of(model, other)?)));
    Ok(from(lines.and_then(|(a, b)| edit::swap(model.places.text(), a, b)), sentence))
}

fn name(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let unclear = || Refusal::unclear("It is not said which wire, or which number.");
    let wire = edit.wire.as_deref().ok_or_else(unclear)?;
    let number = edit.to.as_deref().ok_or_else(unclear)?.trim();
    if number.is_empty() || number.chars().count() > 40 || number.contains(['"', '\n', '\\']) {
        return Ok(Planned::refused("A wire number has one to forty letters or digits."));
    }
    if model.scheme.node_named(number).is_some() {
        return Ok(Planned::refused(format!("{number} is the number of another wire.")));
    }
    let node = model.drawing(edit.manner.symbols()).sheets.iter().find_map(|sheet| {
        let group = sheet.items.iter().find(|group| group.id == wire)?;
        if let Role::Wire(node) = group.role { Some(node) } else { None }
    });
    let node = node.ok_or_else(|| {
        Refusal::conflict("This wire is not on the drawing any more.", "Choose another one.")
    })?;
    let text = model.places.text();
    if let Some(old) = &model.scheme.nodes[node].wire {
        let sentence = format!("The wire {old} is called {number} everywhere.");
        return Ok(from(edit::rename_wire(text, old, number), sentence));
    }
    let spot = spot_of_wire(model, wire, edit.manner.symbols())?;
    let at = line_of(model, spot.part);
    let sentence = format!("The wire gets the number {number}; other legs may join it there.");
    Ok(from(at.and_then(|at| edit::name_wire(text, at, number, spot.side)), sentence))
}

fn move_leg(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let unclear = || Refusal::unclear("It is not said which leg, or where to.");
    let wanted = edit.leg.as_deref().ok_or_else(unclear)?;
    let ends =
        edit.ends.clone().or_else(|| edit.to.clone().map(|to| Ends { from: Some(to), to: None }));
    let ends = ends.ok_or_else(unclear)?;
    let scheme = model.scheme;
    let mut found = scheme.legs.values().filter(|leg| {
        leg.name == wanted
            && edit.circuit.as_ref().is_none_or(|it| scheme.circuits[leg.circuit].name == *it)
    });
    let (Some(leg), None) = (found.next(), found.next()) else {
        return Ok(Planned::refused(format!("It is not clear which leg is {wanted:?}.")));
    };
    for wire in [&ends.from, &ends.to].into_iter().flatten() {
        if scheme.node_named(wire).is_none() {
            return Ok(Planned::refused(format!("There is no wire {wire:?}.")));
        }
    }
    if let Err(why) = in_main(leg.span) {
        return Ok(Planned::refused(why));
    }
    let wire = |node| scheme.nodes[node].wire.clone().unwrap_or_default();
    let (from_now, to_now) = (wire(leg.strand.from), wire(leg.strand.to));
    let mut words = Vec::new();
    words.extend(ends.from.as_ref().map(|from| format!("begins at {from}")));
    words.extend(ends.to.as_ref().map(|to| format!("ends at {to}")));
    let sentence = format!("The leg “{}” {}.", leg.name, words.join(" and "));
    let joined = edit::join_leg(
        model.places.text(),
        leg.span.start as usize,
        (ends.from.as_deref(), ends.to.as_deref()),
        (&from_now, &to_now),
    );
    Ok(from(joined, sentence))
}

fn set(model: &Model<'_>, edit: &Edit) -> Result<Planned, Refusal> {
    let unclear = || Refusal::unclear("It is not said which value of what.");
    let property = edit.property.as_deref().ok_or_else(unclear)?;
    let value = edit.to.as_deref().ok_or_else(unclear)?.trim();
    let fits = |it: char| it.is_ascii_lowercase() || it == '-';
    if property.is_empty() || !property.chars().all(fits) || value.len() > 80 {
        return Err(unclear());
    }
    if value.is_empty() {
        return Ok(Planned::refused("Write the value with its unit, such as \"22 ohm\"."));
    }
    let scheme = model.scheme;
    if let Some(part) = &edit.part {
        let id = part_of(model, part)?;
        let known = values(scheme, id);
        let wanted = known.iter().find(|it| it.property == property && it.of == edit.of);
        if let Some(wanted) = wanted {
            return Ok(match change(scheme, model.places.text(), (id, wanted), value) {
                Ok((changes, sentence)) => Planned { changes, sentence, refused: None },
                Err(why) => Planned::refused(why),
            });
        }
    }
    let span = match (&edit.of, &edit.part) {
        (Some(name), _) => named(scheme, name),
        (None, Some(part)) => Some(scheme.parts[part_of(model, part)?].span),
        (None, None) => None,
    };
    let Some(span) = span else {
        return Ok(Planned::refused("There is nothing of that name in this text."));
    };
    if let Err(why) = in_main(span) {
        return Ok(Planned::refused(why));
    }
    let sentence = format!("{property} becomes {value}.");
    let set = edit::set(model.places.text(), span.start as usize, property, value);
    Ok(from(set, sentence_of(&sentence)))
}

/// Where a thing of that name is declared.
pub fn named(scheme: &fiftytwo_scheme::Scheme, name: &str) -> Option<Span> {
    let cable = scheme.cables.values().find(|it| it.name == name).map(|it| it.span);
    let supply = || scheme.supplies.values().find(|it| it.name == name).map(|it| it.span);
    let place = || scheme.places.values().find(|it| it.name == name).map(|it| it.span);
    let part = || scheme.part_named(name).map(|it| scheme.parts[it].span);
    let device = || scheme.device_named(name).map(|it| scheme.devices[it].span);
    let order = || scheme.orders.values().find(|it| it.name == name).map(|it| it.span);
    cable.or_else(supply).or_else(device).or_else(part).or_else(place).or_else(order)
}
