//! The steps of a story side by side. **In:** states with a head and a reason each, as somebody
//! else found them. **Out:** one drawing: the same legs at the same places in every panel, so
//! that the eye compares place by place. **Never here:** what happened, and why: the words come
//! with the states.
//!
//! Only legs and ways in which something moves or carries current in one of the steps are drawn;
//! the picture says so.

use crate::block::{self, Block};
use crate::draw::plans;
use crate::flow;
use crate::geometry::{
    Anchor, Area, Drawing, Group, Ink, MODULE, Pen, Role, Shape, Sheet, Weight, point,
};
use crate::ink::{self, Mentions, Neighbours, Shared};
use crate::lettering::{self, LEADING};
use crate::lists::References;
use crate::live::Live;
use crate::names::{self, Unique};
use crate::page::{self, SMALL, SMALL_BOLD, SMALL_SECOND, text};
use crate::patterns;
use crate::plan::{self, Share};
use crate::rank;
use crate::style::{Beside, Style, Symbols};
use fiftytwo_scheme::{CircuitId, DeviceKind, LegId, PartId, PartKind, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// When: "351 ms".
    pub when: String,
    /// What happened.
    pub what: String,
    /// Why.
    pub why: String,
    /// The state then.
    pub live: Live,
}

/// Most panels side by side; more stand in a further strip.
const IN_A_STRIP: usize = 4;
/// Width that a strip should not exceed, mm: that of A3 and ANSI B.
const PAPER: f64 = 410.0;
/// Distance of columns and height of ranks, mm.
const PITCH: (f64, f64) = (25.0, 15.0);
/// Above the first words of a panel, mm.
const HEAD: f64 = 12.0;
/// Between the last words of a panel and its circuit, mm.
const APART: f64 = 1.0;
/// Below the circuit, mm.
const FOOT: f64 = 5.0;
/// Most lines that say what happened, and why.
const MOST_LINES: (usize, usize) = (2, 4);

/// How many panels stand side by side: as many as fit the paper; more where one above the other they would
/// stand much higher than wide.
fn side_by_side(width: f64, height: f64, panels: usize) -> usize {
    let fit = (((PAPER - 12.0) / width).floor() as usize).clamp(1, IN_A_STRIP);
    let strips = |count: usize| panels.div_ceil(count) as f64;
    (fit..=IN_A_STRIP)
        .find(|count| strips(*count) * height <= width * *count as f64)
        .unwrap_or(IN_A_STRIP)
}

/// Parts that move or act in one step and not in another, or carry current in any.
fn lively(panels: &[Panel]) -> BTreeSet<PartId> {
    let mut found = BTreeSet::new();
    let parts: BTreeSet<PartId> =
        panels.iter().flat_map(|panel| panel.live.parts.keys().copied()).collect();
    for part in parts {
        let now = |panel: &Panel| {
            panel.live.parts.get(&part).map(|now| (now.closed, now.on)).unwrap_or_default()
        };
        let moves = panels.windows(2).any(|pair| now(&pair[0]) != now(&pair[1]));
        let pointed = panels
            .iter()
            .any(|panel| panel.live.parts.get(&part).is_some_and(|now| now.pointed_at));
        let flows = panels.iter().any(|panel| panel.live.flow(part).is_some());
        if moves || pointed || flows {
            found.insert(part);
        }
    }
    found
}

/// Draws the steps of a story; none if nothing moves or no step is given.
pub fn storyboard(
    scheme: &Scheme,
    symbols: Symbols,
    title: &str,
    panels: &[Panel],
) -> Option<Drawing> {
    let mut lively = lively(panels);
    let circuit = board_circuit(scheme, title, panels)?;
    lively.extend(named_coil(scheme, title).map(|(coil, _)| coil));
    let taps = plan::taps(scheme);
    let numbers = names::wire_numbers(scheme, &plans(scheme, &taps));
    let style = Style { symbols, beside: Beside::Names, ..Style::default() };
    let mut block = reduced(scheme, circuit, &lively, (&taps, style))?;
    make_room(&mut block, scheme, panels);
    let (width, height) = (block.width(PITCH.0), block.height(PITCH.1));
    let (references, tables, wires) = (References::new(), BTreeMap::new(), Mentions::new());
    let (text_lines, spare) = (crate::lines::Lines::new(&scheme.sources), BTreeMap::new());
    let mut unique = Unique::default();
    let mut pieces = BTreeMap::new();
    let mut items: Vec<Group> = Vec::new();
    let mut boxes = Vec::new();
    let in_a_strip = side_by_side(width, height, panels.len());
    let across = panels.len().min(in_a_strip) as f64;
    // The legend needs room of its own.
    let total = (12.0 + width * across).max(320.0);
    let (mut head, more) = crate::pictures::headline(title, total - 16.0, (8.0, 11.0));
    let about = format!(
        "{}, circuit {}: only legs and ways in which something moves or carries current in one of \
         these steps.",
        scheme.title, scheme.circuits[circuit].name
    );
    let about = lettering::wrapped(&about, total - 16.0, MODULE, Weight::Plain);
    for (line, words) in about.iter().enumerate() {
        let y = 17.0 + more + MODULE * LEADING * line as f64;
        head.push(text((8.0, y), words, SMALL_SECOND, Anchor::Start));
    }
    // On the grid of the wires.
    let top = (17.0 + more + MODULE * LEADING * about.len() as f64 + 1.0).ceil();
    let said: Vec<Said> = panels.iter().map(|panel| Said::new(panel, width - 8.0)).collect();
    let lines = said.iter().map(|said| said.what.len() + said.why.len()).max().unwrap_or(0);
    // On the grid of the wires.
    let head_height = (HEAD + MODULE * LEADING * lines as f64 + APART).ceil();
    let strip = head_height + height + FOOT;
    let mut frames: Vec<Shape> = Vec::new();
    for (index, (panel, said)) in panels.iter().zip(&said).enumerate() {
        let left = 6.0 + width * (index % in_a_strip) as f64;
        let y = top + strip * (index / in_a_strip) as f64;
        let shared = Shared {
            scheme,
            numbers: &numbers,
            references: &references,
            tables: &tables,
            wires: &wires,
            live: Some(&panel.live),
            lines: &text_lines,
            spare: &spare,
            bare: true,
            bones: false,
        };
        let placed = block::place(block.clone(), (0, 1), (left, y + head_height), PITCH);
        let drawn = ink::draw(&shared, &placed, &Neighbours::default(), &mut unique, &mut pieces);
        let mut sheet = Sheet {
            number: index + 1,
            title: panel.when.clone(),
            width,
            height,
            frame: Area { left, right: left + width, top: y, bottom: y + strip },
            items: drawn.groups,
            boxes: drawn.bodies,
        };
        let carrying = flow::carrying(std::slice::from_ref(&sheet), scheme, &panel.live);
        let carrying = carrying.first().map_or(&[][..], Vec::as_slice);
        patterns::dress(&mut sheet, (scheme, &panel.live), carrying);
        items.extend(sheet.items);
        boxes.extend(sheet.boxes);
        frames.extend(words_of(index, &panel.when, said, sheet.frame));
        if index % in_a_strip > 0 {
            let ends = [point(left, y + 2.0), point(left, y + strip - 4.0)];
            frames.push(Shape::line(&ends, Pen::Rule));
        }
    }
    let strips = panels.len().div_ceil(in_a_strip) as f64;
    let bottom = top + strip * strips;
    let mut all = Live { pointer: String::new(), ..Live::default() };
    for panel in panels {
        for (node, wire) in &panel.live.wires {
            // Every level that occurs, once.
            if !all.levels().contains(&wire.level) {
                all.wires.insert(*node, *wire);
            }
        }
        for (part, now) in &panel.live.parts {
            let known = all.parts.entry(*part).or_insert_with(|| now.clone());
            known.pointed_at |= now.pointed_at;
            if panel.live.flow(*part).is_some() {
                known.amps = now.amps;
            }
        }
        all.conducts_from = panel.live.conducts_from;
        all.pointer.clone_from(&panel.live.pointer);
        // A supply that is lost in some steps only is marked where it feeds.
        if all.notes.is_empty() || panel.live.lost.is_empty() {
            all.notes.clone_from(&panel.live.notes);
        }
    }
    if let Some(first) = panels.first().map(|panel| &panel.live.pointer)
        && *first != all.pointer
    {
        all.pointer = format!("{}; in 1: {first}", all.pointer);
    }
    let ac = patterns::is_ac(scheme, circuit);
    let kinds = patterns::Kinds { ac, dc: !ac };
    let notes = std::mem::take(&mut all.notes);
    let legend = patterns::legend(&all, kinds, (8.0, bottom + 2.0));
    let end = legend.iter().map(|shape| shape.area().right).fold(0.0, f64::max);
    let total = total.max(end + 8.0);
    head.extend(legend);
    for (line, note) in notes.iter().enumerate() {
        let y = bottom + 9.5 + MODULE * LEADING * line as f64;
        head.push(text((8.0, y), note, SMALL_SECOND, Anchor::Start));
    }
    let below = bottom + 9.5 + MODULE * LEADING * notes.len() as f64 + 1.0;
    let (caution, end) = crate::notes::caution(8.0, below, total - 16.0);
    head.extend(caution);
    let group = |id: &str, shapes: Vec<Shape>| Group {
        id: id.to_owned(),
        role: Role::Notes,
        title: id.to_owned(),
        source: None,
        shapes,
    };
    items.push(group("steps", frames));
    items.push(group("title-and-legend", head));
    let height = end + 3.0;
    let frame = Area { left: 0.0, top: 0.0, right: total, bottom: height };
    let sheet =
        Sheet { number: 1, title: title.to_owned(), width: total, height, frame, items, boxes };
    Some(Drawing { title: title.to_owned(), sheets: vec![sheet], notes: Vec::new() })
}

/// The words of a panel, in lines.
struct Said {
    what: Vec<String>,
    why: Vec<String>,
}

impl Said {
    fn new(panel: &Panel, room: f64) -> Self {
        let lines = |words: &str, weight: Weight, most: usize| {
            let mut lines = lettering::wrapped(words, room, MODULE, weight);
            if lines.len() > most {
                lines.truncate(most);
                if let Some(last) = lines.last_mut() {
                    *last = page::clipped(&format!("{last} …"), room, MODULE, weight);
                }
            }
            lines
        };
        Self {
            what: lines(&panel.what, Weight::Bold, MOST_LINES.0),
            why: lines(&panel.why, Weight::Plain, MOST_LINES.1),
        }
    }
}

/// Number, time, what happened and why, over a panel.
fn words_of(index: usize, when: &str, said: &Said, area: Area) -> Vec<Shape> {
    let left = area.left + 4.0;
    let mut shapes = Vec::new();
    let look = (3.5, Weight::Bold, Ink::Main);
    let number = (index + 1).to_string();
    shapes.push(text((left, area.top + 6.0), &number, look, Anchor::Start));
    shapes.push(text((left + 7.0, area.top + 6.0), when, look, Anchor::Start));
    let mut y = area.top + HEAD;
    let what = said.what.iter().map(|words| (words, SMALL_BOLD));
    let why = said.why.iter().map(|words| (words, SMALL));
    for (words, look) in what.chain(why) {
        shapes.push(text((left, y), words, look, Anchor::Start));
        y += MODULE * LEADING;
    }
    shapes
}

/// The circuit that a storyboard shows: that of the placed coil whose name stands in the title, else
/// the one in which most happens.
pub fn board_circuit(scheme: &Scheme, title: &str, panels: &[Panel]) -> Option<CircuitId> {
    if let Some((_, at)) = named_coil(scheme, title) {
        return Some(at);
    }
    // What a breaker's coil does is what a reader looks for, the first such coil most.
    let drives = |panel: &Panel| -> Option<CircuitId> {
        panel.live.parts.iter().find_map(|(part, now)| {
            let data = &scheme.parts[*part];
            let kind = data.device.map(|device| &scheme.devices[device].kind);
            let coil = matches!(data.kind, PartKind::Coil(_))
                && matches!(kind, Some(DeviceKind::Breaker { .. }));
            (coil && now.on == Some(true)).then_some(data.at?.circuit)
        })
    };
    if let Some(first) = panels.iter().find_map(drives) {
        return Some(first);
    }
    let mut votes: BTreeMap<CircuitId, usize> = BTreeMap::new();
    for pair in panels.windows(2) {
        for (part, now) in &pair[1].live.parts {
            let before = pair[0].live.parts.get(part);
            let moved =
                before.is_some_and(|before| (before.closed, before.on) != (now.closed, now.on));
            if let (true, Some(at)) = (moved, scheme.parts[*part].at) {
                *votes.entry(at.circuit).or_default() += 1;
            }
        }
    }
    let most = votes.iter().max_by_key(|(id, count)| (**count, std::cmp::Reverse(**id)));
    most.map(|(id, _)| *id).or_else(|| scheme.circuits.ids().next())
}

/// The placed coil with the longest name that stands in the title, and its circuit.
fn named_coil(scheme: &Scheme, title: &str) -> Option<(PartId, CircuitId)> {
    let stands = |name: &str| {
        title.match_indices(name).any(|(at, _)| {
            let before = title[..at].chars().next_back();
            let after = title[at + name.len()..].chars().next();
            let parts = |letter: Option<char>| letter.is_none_or(|it| !it.is_alphanumeric());
            parts(before) && parts(after)
        })
    };
    let coils = scheme.coils().filter(|(_, part, _)| part.at.is_some() && stands(&part.name));
    // A relay's coil bears the name of its device: a title that names the relay does not mean it.
    let coils = coils.filter(|(_, part, _)| !part.own_name.is_empty());
    let longest = coils.max_by_key(|(_, part, _)| part.name.len());
    longest.and_then(|(id, part, _)| Some((id, part.at?.circuit)))
}

/// Room beside every part for what it does in any of the steps.
fn make_room(block: &mut Block, scheme: &Scheme, panels: &[Panel]) {
    let mut wanted: Vec<(usize, f64)> = Vec::new();
    for (column, run) in block.plan.columns() {
        for part in &run.parts {
            let notes = panels
                .iter()
                .filter_map(|panel| panel.live.parts.get(part).and_then(|now| now.note.as_deref()));
            let widest =
                notes.map(|note| lettering::width(note, MODULE, Weight::Bold)).fold(0.0, f64::max);
            if widest > 0.0 {
                let beside = block::beside_of(scheme, *part, block.style);
                wanted.push((column, beside + widest + 1.0));
            }
        }
    }
    for (column, room) in wanted {
        if let Some(sides) = block.sides.get_mut(column) {
            sides.1 = sides.1.max(room);
        }
    }
}

/// A circuit without the legs and ways in which nothing happens.
fn reduced(
    scheme: &Scheme,
    circuit: CircuitId,
    lively: &BTreeSet<PartId>,
    (taps, style): (&plan::Taps, Style),
) -> Option<Block> {
    let happens = |parts: &[PartId]| parts.iter().any(|part| lively.contains(part));
    let share =
        Share { legs: scheme.circuits[circuit].legs.clone(), loose: Vec::new(), ends: true };
    let whole = plan::plan(scheme, circuit, &share, taps);
    let legs: Vec<LegId> = whole
        .units
        .iter()
        .filter(|unit| unit.runs.iter().any(|run| happens(&run.parts)))
        .filter_map(|unit| unit.leg)
        .collect();
    let share = Share { legs, loose: Vec::new(), ends: true };
    let mut plan = plan::plan(scheme, circuit, &share, taps);
    for unit in &mut plan.units {
        let mut first = true;
        unit.runs.retain(|run| std::mem::take(&mut first) || happens(&run.parts));
        unit.columns = (0..unit.runs.len()).collect();
    }
    // Wires that go on elsewhere carry no flags here.
    plan.outside.clear();
    plan.units.retain(|unit| !unit.runs.is_empty());
    if plan.units.is_empty() {
        return None;
    }
    let ranks = rank::ranks(scheme, &plan);
    plan.share_columns(|run| ranks.span(run));
    let mut block = block::measure(scheme, plan, ranks, style);
    block.foot = 0.0;
    Some(block)
}
