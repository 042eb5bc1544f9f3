//! Where the contacts of a device stand: short lists under coils, tables for breakers, handles
//! and whatever has more than a list can carry. **In:** the scheme and the places of all parts.
//! **Out:** texts and rules. **Never here:** which sheet a table goes to.

mod under;

pub use under::{draw as draw_list, size};

use crate::geometry::{Anchor, MODULE, Pen, Shape, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};
use fiftytwo_scheme::{
    Contact, ContactRating, DeviceId, DeviceKind, LogicRule, PartId, PartKind, Scheme, TimeRange,
};
use std::collections::{BTreeMap, BTreeSet};

/// Where parts stand: "2/D7".
pub type References = BTreeMap<PartId, String>;

/// More contacts than this go into a table.
const LONGEST_LIST: usize = 8;
/// Distance of lines, mm.
const ROW: f64 = MODULE * LEADING;
/// Room for the heading of a list, mm.
const HEADING: f64 = 18.0;
/// Width of a table, mm.
pub const TABLE: f64 = 90.0;
/// Height of a row of a table, mm.
const TABLE_ROW: f64 = 4.9;
/// From the heading of a table to its first row, mm.
const TABLE_HEAD: f64 = 2.0;
/// Free below a table, mm.
pub const TABLE_GAP: f64 = 7.0;

/// The contacts of a device, spares included.
pub fn contacts(scheme: &Scheme, device: DeviceId) -> Vec<PartId> {
    let device = &scheme.devices[device];
    let is_contact = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Contact(_));
    device.parts.iter().copied().filter(is_contact).collect()
}

/// The coils of a device.
pub fn coils(scheme: &Scheme, device: DeviceId) -> Vec<PartId> {
    let device = &scheme.devices[device];
    let is_coil = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Coil(_));
    device.parts.iter().copied().filter(is_coil).collect()
}

/// The only coil of a device, if it is drawn.
fn only_coil(scheme: &Scheme, device: DeviceId) -> Option<PartId> {
    match coils(scheme, device).as_slice() {
        [coil] if scheme.parts[*coil].at.is_some() => Some(*coil),
        _ => None,
    }
}

/// For a contact: the coil that moves it, if there is just one.
pub fn coil_of(scheme: &Scheme, contact: PartId) -> Option<PartId> {
    let part = &scheme.parts[contact];
    matches!(part.kind, PartKind::Contact(_)).then_some(())?;
    let device = part.device?;
    let follows = matches!(
        scheme.devices[device].kind,
        DeviceKind::Relay
            | DeviceKind::Timer { .. }
            | DeviceKind::Lockout { .. }
            | DeviceKind::Latch { .. }
    );
    if follows { only_coil(scheme, device) } else { None }
}

/// Whether the contacts of a device stand in a list under its coil.
fn has_list(scheme: &Scheme, device: DeviceId) -> bool {
    let relay = !matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. });
    let count = contacts(scheme, device).len();
    relay && only_coil(scheme, device).is_some() && (1..=LONGEST_LIST).contains(&count)
}

/// Whether the contacts of a device have a table of their own.
pub fn has_table(scheme: &Scheme, device: DeviceId) -> bool {
    let kind = &scheme.devices[device].kind;
    let shared = matches!(
        kind,
        DeviceKind::Sensor | DeviceKind::Ied { .. } | DeviceKind::Button | DeviceKind::Overload
    );
    !shared && !contacts(scheme, device).is_empty() && !has_list(scheme, device)
}

fn heading(scheme: &Scheme, device: DeviceId) -> Vec<String> {
    let device = &scheme.devices[device];
    let lines = lettering::wrapped(&device.description, HEADING, MODULE, Weight::Plain);
    shortened(lines, HEADING, 3)
}

/// At most so many lines; where words are left out, three dots say so.
fn shortened(mut lines: Vec<String>, room: f64, most: usize) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            *last = crate::page::clipped(&format!("{last} …"), room, MODULE, Weight::Plain);
        }
    }
    lines
}

/// A table ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The device, if it is about one.
    pub device: Option<DeviceId>,
    /// Bold part of the heading.
    name: String,
    /// Rest of the heading.
    about: String,
    /// Width of each column, mm.
    widths: Vec<f64>,
    /// Rows of cells; the first is the head.
    rows: Vec<Vec<Cell>>,
    /// Rows that say something else than in an earlier text: they stand apart, for their clouds.
    changed: BTreeSet<usize>,
}

/// What is free above and below a row with a cloud round it, mm.
const ROUND_CHANGED: f64 = 1.2;

/// The marks of a table.
pub struct Drawn {
    /// All but the rows that changed.
    pub shapes: Vec<Shape>,
    /// Those rows, each with the words that name it.
    pub changed: Vec<(String, Vec<Shape>)>,
}

#[derive(Debug, Clone, PartialEq)]
enum Cell {
    Words(String),
    /// Where a part stands.
    Place(PartId),
    /// A cross in the middle.
    Cross,
}

impl Table {
    /// Height with heading, mm.
    pub fn height(&self) -> f64 {
        let apart = 2.0 * ROUND_CHANGED * self.changed.len() as f64;
        MODULE + TABLE_HEAD + self.rows.iter().map(|row| self.row_height(row)).sum::<f64>() + apart
    }
    /// Its rows in words, places left out, each with its name.
    pub fn said(&self, scheme: &Scheme) -> Vec<(String, Vec<String>)> {
        self.rows.iter().map(|row| (self.name.clone(), Self::words(row, scheme))).collect()
    }
    fn words(row: &[Cell], scheme: &Scheme) -> Vec<String> {
        let words = |cell: &Cell| match cell {
            Cell::Words(words) => words.clone(),
            Cell::Place(part) if scheme.parts[*part].at.is_none() => "spare".to_owned(),
            Cell::Place(_) => String::new(),
            Cell::Cross => "×".to_owned(),
        };
        row.iter().map(words).collect()
    }
    /// Sets the rows apart that changed.
    pub fn mark(&mut self, scheme: &Scheme, rows: &BTreeSet<(String, Vec<String>)>) {
        let changed = |(_, row): &(usize, &Vec<Cell>)| {
            rows.contains(&(self.name.clone(), Self::words(row, scheme)))
        };
        self.changed = self.rows.iter().enumerate().filter(changed).map(|(at, _)| at).collect();
    }
    fn cell_lines(&self, cell: &Cell, column: usize) -> Vec<String> {
        let room = self.widths.get(column).copied().unwrap_or(10.0) - 2.0;
        match cell {
            Cell::Words(words) => lettering::wrapped(words, room, MODULE, Weight::Plain)
                .iter()
                .flat_map(|line| lettering::broken(line, room, MODULE))
                .collect(),
            Cell::Place(_) | Cell::Cross => vec![String::new()],
        }
    }
    fn row_height(&self, row: &[Cell]) -> f64 {
        let lines = row
            .iter()
            .enumerate()
            .map(|(column, cell)| self.cell_lines(cell, column).len())
            .max()
            .unwrap_or(1)
            .max(1);
        TABLE_ROW + ROW * (lines - 1) as f64
    }
    /// The marks, with the upper left corner at (`x`, `y`).
    pub fn draw(&self, references: &References, (x, y): (f64, f64)) -> Drawn {
        let mut shapes = vec![text((x, y + MODULE), &self.name, SMALL_BOLD, Anchor::Start)];
        let width: f64 = self.widths.iter().sum();
        if !self.about.is_empty() {
            let after = x + lettering::width(&self.name, MODULE, Weight::Bold) + 2.0;
            let room = (x + width - after).max(8.0);
            let about = crate::page::clipped(&self.about, room, MODULE, Weight::Plain);
            shapes.push(text((after, y + MODULE), &about, SMALL, Anchor::Start));
        }
        let top = y + MODULE + TABLE_HEAD;
        let mut at = top;
        let mut changed = Vec::new();
        shapes.push(Shape::line(&[point(x, at), point(x + width, at)], Pen::Wire));
        for (index, row) in self.rows.iter().enumerate() {
            let apart = if self.changed.contains(&index) { ROUND_CHANGED } else { 0.0 };
            let height = self.row_height(row) + 2.0 * apart;
            let words = self.row(references, (index, row), (x, at + apart));
            if apart > 0.0 {
                changed.push((self.row_name(row), words));
            } else {
                shapes.extend(words);
            }
            at += height;
            let pen = if index == 0 { Pen::Thin } else { Pen::Rule };
            shapes.push(Shape::line(&[point(x, at), point(x + width, at)], pen));
        }
        let mut left = x;
        for width in self.widths.iter().chain([&0.0]) {
            shapes.push(Shape::line(&[point(left, top), point(left, at)], Pen::Rule));
            left += width;
        }
        Drawn { shapes, changed }
    }
    /// What a row is about: "63X a1".
    fn row_name(&self, row: &[Cell]) -> String {
        let cell = |at: usize| match row.get(at) {
            Some(Cell::Words(words)) => words.as_str(),
            _ => "",
        };
        match self.device {
            Some(_) => format!("{} {}", self.name, cell(0)),
            None => format!("{} {}", cell(0), cell(1)),
        }
    }
    /// The words of a row whose upper edge is at `y`.
    fn row(
        &self,
        references: &References,
        (index, row): (usize, &[Cell]),
        (x, y): (f64, f64),
    ) -> Vec<Shape> {
        let mut shapes = Vec::new();
        let mut left = x;
        let base = y + 3.6;
        for (column, cell) in row.iter().enumerate() {
            let room = self.widths.get(column).copied().unwrap_or(0.0);
            match cell {
                Cell::Cross => {
                    let middle = (left + room / 2.0, base);
                    shapes.push(text(middle, "×", SMALL_BOLD, Anchor::Middle));
                }
                Cell::Place(part) => match references.get(part) {
                    Some(place) => {
                        shapes.push(text((left + 1.0, base), place, SMALL, Anchor::Start));
                    }
                    None => {
                        shapes.push(text((left + 1.0, base), "spare", SMALL_SECOND, Anchor::Start))
                    }
                },
                Cell::Words(_) => {
                    let look = if index == 0 { SMALL_SECOND } else { SMALL };
                    for (line, words) in self.cell_lines(cell, column).iter().enumerate() {
                        let at = (left + 1.0, base + ROW * line as f64);
                        shapes.push(text(at, words, look, Anchor::Start));
                    }
                }
            }
            left += room;
        }
        shapes.retain(|shape| !matches!(shape, Shape::Text(text) if text.words.is_empty()));
        shapes
    }
    /// Cut into pieces no higher than `room` mm, each with its head.
    pub fn cut(self, room: f64) -> Vec<Self> {
        if self.height() <= room {
            return vec![self];
        }
        let mut pieces = Vec::new();
        let head: Vec<Vec<Cell>> = self.rows.first().cloned().into_iter().collect();
        let begun = || Self { rows: head.clone(), changed: BTreeSet::new(), ..self.clone() };
        let mut piece = begun();
        for (index, row) in self.rows.iter().enumerate().skip(1) {
            let apart = if self.changed.contains(&index) { 2.0 * ROUND_CHANGED } else { 0.0 };
            if piece.height() + self.row_height(row) + apart > room && piece.rows.len() > 1 {
                pieces.push(std::mem::replace(&mut piece, begun()));
            }
            if apart > 0.0 {
                piece.changed.insert(piece.rows.len());
            }
            piece.rows.push(row.clone());
        }
        pieces.push(piece);
        pieces
    }
    /// Name of what it is about, for lists of sheets.
    pub fn subject(&self) -> &str {
        &self.name
    }
    /// Lasting name.
    pub fn id(&self) -> String {
        format!("table-{}", crate::names::slug(&self.name))
    }
}

/// Widths of a first column, equal ones, and the place, mm.
fn widths(first: f64, middle: usize, place: f64) -> Vec<f64> {
    let each = (TABLE - first - place) / middle.max(1) as f64;
    let mut widths = vec![first];
    widths.extend(std::iter::repeat_n(each, middle));
    widths.push(place);
    widths
}

/// Whether the contacts of a device stand against its positions.
fn is_development(scheme: &Scheme, id: DeviceId) -> bool {
    let device = &scheme.devices[id];
    let few = device.positions.len() <= 5 && !device.positions.is_empty();
    few && matches!(
        device.kind,
        DeviceKind::Handle { .. } | DeviceKind::Latch { .. } | DeviceKind::Lockout { .. }
    )
}

/// All tables of a scheme: one for each breaker, handle and latch, one for all contacts that
/// follow conditions, in the order of the source.
pub fn tables(scheme: &Scheme) -> Vec<Table> {
    let mut tables = Vec::new();
    for (id, device) in scheme.devices.iter() {
        if !has_table(scheme, id) {
            continue;
        }
        let placed = device.parts.iter().any(|part| scheme.parts[*part].at.is_some());
        if !placed {
            continue;
        }
        tables.push(if is_development(scheme, id) {
            development(scheme, id)
        } else {
            by_statement(scheme, id)
        });
    }
    tables.extend(conditions(scheme));
    tables.extend(ratings(scheme));
    tables.extend(logic(scheme));
    tables
}

/// The name of the table that says when contacts without a table of their own are closed.
pub const OTHERS: &str = "Other contacts";

/// What programmed devices think: when each line of logic is true, and after which time.
fn logic(scheme: &Scheme) -> Option<Table> {
    let mut rows = vec![statement_head(&["device", "logic", "is true when", "after"])];
    for logic in scheme.logics.values() {
        let (when, after) = match &logic.rule {
            LogicRule::When { when, on_delay, off_delay } => {
                let said = |time: &TimeRange| (time.hi > 0).then(|| time.written.clone());
                let after = match (said(on_delay), said(off_delay)) {
                    (Some(on), Some(off)) => format!("{on}, off {off}"),
                    (Some(on), None) => on,
                    (None, Some(off)) => format!("off {off}"),
                    (None, None) => String::new(),
                };
                (when.text.clone(), after)
            }
            LogicRule::Memory { set, clear } => {
                (format!("set by {}; cleared by {}", set.text, clear.text), String::new())
            }
        };
        rows.push(vec![
            Cell::Words(scheme.devices[logic.device].name.clone()),
            Cell::Words(logic.name.clone()),
            Cell::Words(when),
            Cell::Words(after),
        ]);
    }
    of_many(
        ("Logic", "of programmed devices, as written"),
        vec![14.0, 20.0, TABLE - 52.0, 18.0],
        rows,
    )
}

/// A table about many devices; none if it has no row but its head.
fn of_many((name, about): (&str, &str), widths: Vec<f64>, rows: Vec<Vec<Cell>>) -> Option<Table> {
    (rows.len() > 1).then(|| Table {
        device: None,
        name: name.to_owned(),
        about: about.to_owned(),
        widths,
        rows,
        changed: BTreeSet::new(),
    })
}

/// A table of two columns of words.
pub fn of_words(name: &str, about: &str, lines: Vec<[String; 2]>) -> Table {
    let row = |[a, b]: [String; 2]| vec![Cell::Words(a), Cell::Words(b)];
    let mut rows = vec![statement_head(&["what", "change"])];
    rows.extend(lines.into_iter().map(row));
    Table {
        device: None,
        name: name.to_owned(),
        about: about.to_owned(),
        widths: vec![30.0, TABLE - 30.0],
        rows,
        changed: BTreeSet::new(),
    }
}

/// Every device with its words and its place.
pub fn devices(scheme: &Scheme) -> Option<Table> {
    let mut rows = vec![statement_head(&["device", "what it is", "place"])];
    for device in scheme.devices.values() {
        rows.push(vec![
            Cell::Words(device.name.clone()),
            Cell::Words(device.description.clone()),
            Cell::Words(scheme.places[device.place].name.clone()),
        ]);
    }
    of_many(("Devices", ""), vec![18.0, TABLE - 42.0, 24.0], rows)
}

/// Contact against position, a cross where it is closed.
fn development(scheme: &Scheme, id: DeviceId) -> Table {
    let device = &scheme.devices[id];
    let mut head = vec![Cell::Words("contact".to_owned())];
    head.extend(device.positions.iter().map(|position| Cell::Words(position.clone())));
    head.push(Cell::Words("place".to_owned()));
    let mut rows = vec![head];
    for contact in contacts(scheme, id) {
        let part = &scheme.parts[contact];
        let PartKind::Contact(kind) = &part.kind else { continue };
        let mut row = vec![Cell::Words(part.own_name.clone())];
        for (index, _) in device.positions.iter().enumerate() {
            let closed = kind.closed_when.expr.holds(&mut |atom| {
                matches!(atom, fiftytwo_scheme::Atom::Position(other, position)
                    if other == id && usize::from(position) == index)
            });
            row.push(if closed { Cell::Cross } else { Cell::Words(String::new()) });
        }
        row.push(Cell::Place(contact));
        rows.push(row);
    }
    Table {
        device: Some(id),
        name: device.name.clone(),
        about: device.description.clone(),
        widths: widths(24.0, device.positions.len(), 14.0),
        rows,
        changed: BTreeSet::new(),
    }
}

/// Whether it is said what a contact may make or break.
fn is_rated(scheme: &Scheme, part: PartId) -> bool {
    match &scheme.parts[part].kind {
        PartKind::Contact(contact) => !contact.makes.is_empty() || !contact.breaks.is_empty(),
        _ => false,
    }
}

/// Whether the table of a device says what its contacts make and break.
fn tells_ratings(scheme: &Scheme, id: DeviceId) -> bool {
    has_table(scheme, id) && !is_development(scheme, id)
}

/// What contacts may make and break whose device has no table that says it.
fn ratings(scheme: &Scheme) -> Option<Table> {
    let mut rows = vec![statement_head(&["device", "contact", "makes / breaks", "place"])];
    for (id, device) in scheme.devices.iter().filter(|(id, _)| !tells_ratings(scheme, *id)) {
        let used = |it: &PartId| scheme.parts[*it].at.is_some() && is_rated(scheme, *it);
        for contact in contacts(scheme, id).into_iter().filter(used) {
            let PartKind::Contact(kind) = &scheme.parts[contact].kind else { continue };
            rows.push(vec![
                Cell::Words(device.name.clone()),
                Cell::Words(scheme.parts[contact].own_name.clone()),
                Cell::Words(rating(kind)),
                Cell::Place(contact),
            ]);
        }
    }
    of_many(
        ("Contact ratings", "of devices without a table of their own"),
        vec![14.0, 22.0, TABLE - 50.0, 14.0],
        rows,
    )
}

/// Contact, when it is closed, what it may make and break if that is said, place.
fn by_statement(scheme: &Scheme, id: DeviceId) -> Table {
    let device = &scheme.devices[id];
    let all = contacts(scheme, id);
    let rated = all.iter().any(|part| is_rated(scheme, *part));
    let mut head = vec!["contact", "closed when", "place"];
    let mut widths = vec![24.0, TABLE - 38.0, 14.0];
    if rated {
        head.insert(2, "makes / breaks");
        widths = vec![20.0, TABLE - 34.0 - RATING, RATING, 14.0];
    }
    let mut rows = vec![statement_head(&head)];
    for contact in all {
        let part = &scheme.parts[contact];
        let PartKind::Contact(kind) = &part.kind else { continue };
        let mut row = vec![
            Cell::Words(part.own_name.clone()),
            Cell::Words(kind.closed_when.text.clone()),
            Cell::Place(contact),
        ];
        if rated {
            row.insert(2, Cell::Words(rating(kind)));
        }
        rows.push(row);
    }
    Table {
        device: Some(id),
        name: device.name.clone(),
        about: device.description.clone(),
        widths,
        rows,
        changed: BTreeSet::new(),
    }
}

/// Width of the column of ratings, mm.
const RATING: f64 = 26.0;

/// The amperes a contact may make and break, at which volts if that is said: "30 A / 10 A at 125 V".
fn rating(contact: &Contact) -> String {
    let told = |lines: &[ContactRating]| {
        let lines: Vec<String> = lines
            .iter()
            .map(|line| {
                let volts = line.volts.as_ref().map(|volts| format!(" at {}", volts.written));
                format!("{}{}", line.amps.written, volts.unwrap_or_default())
            })
            .collect();
        if lines.is_empty() { "–".to_owned() } else { lines.join(", ") }
    };
    if contact.makes.is_empty() && contact.breaks.is_empty() {
        return String::new();
    }
    format!("{} / {}", told(&contact.makes), told(&contact.breaks))
}

fn statement_head(words: &[&str]) -> Vec<Cell> {
    words.iter().map(|words| Cell::Words((*words).to_owned())).collect()
}

/// What follows conditions, programs and hands: sensors, programmed devices, buttons.
fn conditions(scheme: &Scheme) -> Option<Table> {
    let mut rows = vec![statement_head(&["device", "contact", "closed when", "place"])];
    for (id, device) in scheme.devices.iter() {
        let shared = matches!(
            device.kind,
            DeviceKind::Sensor | DeviceKind::Ied { .. } | DeviceKind::Button | DeviceKind::Overload
        );
        if !shared {
            continue;
        }
        for contact in contacts(scheme, id) {
            let part = &scheme.parts[contact];
            let PartKind::Contact(kind) = &part.kind else { continue };
            rows.push(vec![
                Cell::Words(device.name.clone()),
                Cell::Words(part.own_name.clone()),
                Cell::Words(kind.closed_when.text.clone()),
                Cell::Place(contact),
            ]);
        }
    }
    of_many((OTHERS, "and when they are closed"), vec![14.0, 22.0, TABLE - 50.0, 14.0], rows)
}
