//! Notes in the lower left corner: in what state the sheet is drawn, how to read it, caution.
//! **In:** the scheme and what is on the sheet. **Out:** one group. **Never here:** verdicts.

use crate::geometry::{Anchor, Group, MODULE, Role, Shape, Weight};
use crate::lettering::{self, LEADING};
use crate::live::Live;
use crate::page::{Paper, SMALL, SMALL_BOLD, furniture_left, text};
use crate::style::Style;
use crate::words;
use fiftytwo_scheme::{CircuitId, PartId, PartKind, Scheme};

/// Height of the strip that notes may take above the frame's lower edge, mm.
pub const STRIP: f64 = 38.0;

/// How many of those that found no room beside their wire or part are told: the strip is low.
const MOST_TOLD: usize = 12;

/// What a sheet's notes depend on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OnSheet {
    /// Parts drawn on it.
    pub parts: Vec<PartId>,
    /// Circuits drawn on it.
    pub circuits: Vec<CircuitId>,
    /// Whether wire numbers on it were counted by the drawing.
    pub counted: bool,
    /// Whether screw numbers on it were counted by the drawing.
    pub screws_counted: bool,
    /// Whether a contact follows something that is not said beside it.
    pub unsaid: bool,
    /// The sheets with tables that say it.
    pub tables: Vec<usize>,
    /// Whether it has more than tables.
    pub has_circuit: bool,
    /// What found no room beside its wire or part: "wire C5: 17 V".
    pub unplaced: Vec<String>,
    /// The state it shows.
    pub live: Option<Live>,
    /// The first note; none: in what state the sheet is drawn.
    pub told: Option<String>,
}

/// The caution every sheet carries.
pub const CAUTION: &str = "Caution: shows the scheme as written, not the equipment as built. \
    Prove every circuit dead before touching it.";

/// The caution below a picture that has no notes, from a height on; returns where it ends.
pub fn caution(left: f64, top: f64, room: f64) -> (Vec<Shape>, f64) {
    let mut y = top;
    let mut shapes = Vec::new();
    for words in lettering::wrapped(CAUTION, room, MODULE, Weight::Bold) {
        shapes.push(text((left, y), &words, SMALL_BOLD, Anchor::Start));
        y += MODULE * LEADING;
    }
    (shapes, y)
}

/// The notes of a sheet.
pub fn notes(
    scheme: &Scheme,
    paper: Paper,
    (number, style): (usize, Style),
    on: &OnSheet,
) -> Group {
    // What the designer wrote comes before how to read the sheet: if room is short, the rules of
    // reading go first.
    let mut notes: Vec<String> = Vec::new();
    if on.has_circuit {
        notes.push(match (&on.told, &on.live) {
            (Some(told), _) => told.clone(),
            (None, None) => words::state(scheme, &on.parts),
            (None, Some(live)) => {
                let mut words = format!(
                    "Not at rest: shows a moment ({}). Contacts as they stand now; how they are \
                     drawn at rest still shows.",
                    live.title
                );
                for more in live.notes.iter().skip(1) {
                    words.push(' ');
                    words.push_str(more);
                }
                words
            }
        });
    }
    if !on.unplaced.is_empty() {
        notes.push(unplaced(&on.unplaced));
    }
    for circuit in &on.circuits {
        notes.extend(scheme.circuits[*circuit].notes.iter().cloned());
    }
    notes.extend(scheme.notes.iter().cloned());
    let frame = paper.frame();
    let left = frame.left + 3.0;
    let room = furniture_left(paper, !scheme.revisions.is_empty()) - 4.0 - left - 5.0;
    let leading = MODULE * LEADING;
    let caution = lettering::wrapped(CAUTION, room + 5.0, MODULE, Weight::Bold);
    let most = ((STRIP - 2.0) / leading) as usize - caution.len();
    let rules = if on.has_circuit { reading_rules(scheme, on, style) } else { Vec::new() };
    let told = |rules: &Vec<String>| numbered(notes.iter().chain(rules), room);
    let mut lines = rules
        .iter()
        .map(told)
        .find(|lines| lines.len() <= most)
        .unwrap_or_else(|| numbered(notes.iter(), room));
    if lines.len() > most {
        lines.truncate(most.saturating_sub(1));
        lines.push((None, "More notes stand in the scheme's text.".to_owned()));
    }
    let count = lines.len() + caution.len();
    let mut y = frame.bottom - 3.0 - leading * (count - 1) as f64;
    let mut shapes: Vec<Shape> = Vec::new();
    for (number, words) in lines {
        if let Some(number) = number {
            shapes.push(text((left, y), &number, SMALL, Anchor::Start));
        }
        shapes.push(text((left + 5.0, y), &words, SMALL, Anchor::Start));
        y += leading;
    }
    for words in caution {
        shapes.push(text((left, y), &words, SMALL_BOLD, Anchor::Start));
        y += leading;
    }
    Group {
        id: format!("sheet-{number}-notes"),
        role: Role::Notes,
        title: "Notes".to_owned(),
        source: None,
        shapes,
    }
}

/// What found no room beside its wire or part, in one sentence.
fn unplaced(said: &[String]) -> String {
    let first: Vec<&str> = said.iter().take(MOST_TOLD).map(String::as_str).collect();
    let more = match said.len().saturating_sub(MOST_TOLD) {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    format!("No room beside: {}{more}.", first.join("; "))
}

type Line = (Option<String>, String);

fn numbered<'a>(notes: impl Iterator<Item = &'a String>, room: f64) -> Vec<Line> {
    let mut lines = Vec::new();
    for (index, note) in notes.enumerate() {
        let wrapped = lettering::wrapped(note, room, MODULE, Weight::Plain);
        for (line, words) in wrapped.into_iter().enumerate() {
            lines.push(((line == 0).then(|| (index + 1).to_string()), words));
        }
    }
    lines
}

/// How to read the sheet: from all rules to those that nothing else says. The cover and the symbols themselves
/// say how contacts and references are read; nothing else says which numbers are no labels, nor where it is
/// told when a contact is closed.
fn reading_rules(scheme: &Scheme, on: &OnSheet, style: Style) -> Vec<Vec<String>> {
    let closed = style.symbols.closed_rule();
    let cores = on.parts.iter().find_map(|part| match &scheme.parts[*part].kind {
        PartKind::Core(core) => {
            let listed: Vec<String> = core.cores.iter().map(u32::to_string).collect();
            let many = if listed.len() > 1 { "cores" } else { "core" };
            Some(format!(
                "Circles with {} between: {many} {} of cable {}. Dash-dot frame: another place.",
                scheme.parts[*part].name,
                listed.join(" and "),
                scheme.cables[core.cable].name
            ))
        }
        _ => None,
    });
    let reference = style.symbols.reference_rule(style.legs);
    let counted = match (on.counted, on.screws_counted) {
        (true, true) => Some("Grey numbers of wires, contacts and coils"),
        (true, false) => Some("Grey numbers of wires"),
        (false, true) => Some("Grey numbers of contacts and coils"),
        (false, false) => None,
    };
    let counted = counted.map(|what| {
        format!(
            "{what} are counted here, not by the scheme: no labels, the next issue may count \
             otherwise."
        )
    });
    let tables = (on.unsaid && !on.tables.is_empty()).then(|| {
        let sheets: Vec<String> = on.tables.iter().map(usize::to_string).collect();
        format!("When contacts are closed: tables, sheet {}.", sheets.join(", "))
    });
    let (cores, counted, tables) = (cores.as_deref(), counted.as_deref(), tables.as_deref());
    let note = |said: &[Option<&str>]| said.iter().flatten().copied().collect::<Vec<_>>().join(" ");
    [
        [note(&[Some(closed), cores, tables]), note(&[Some(reference), counted])],
        [note(&[Some(closed), cores, tables]), note(&[counted])],
        [note(&[Some(closed), tables]), note(&[counted])],
        [note(&[tables, counted]), String::new()],
    ]
    .into_iter()
    .map(|notes| notes.into_iter().filter(|note| !note.is_empty()).collect())
    .collect()
}
