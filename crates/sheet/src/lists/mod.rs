//! Where the contacts of a device stand: short lists under coils, tables for breakers, handles
//! and whatever has more than a list can carry. **In:** the scheme and the places of all parts.
//! **Out:** texts and rules. **Never here:** which sheet a table goes to.

mod under;

pub use under::{draw as draw_list, size};

use crate::geometry::{Anchor, MODULE, Pen, Shape, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};
use fiftytwo_scheme::{Contact, ContactRating, DeviceId, DeviceKind, PartId, PartKind, Scheme};
use std::collections::BTreeMap;

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
    // A long description stays in the text: half a sentence would say something else.
    if lines.len() > 3 { Vec::new() } else { lines }
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
        MODULE + TABLE_HEAD + self.rows.iter().map(|row| self.row_height(row)).sum::<f64>()
    }
    fn cell_lines(&self, cell: &Cell, column: usize) -> Vec<String> {
        let room = self.widths.get(column).copied().unwrap_or(10.0) - 2.0;
        match cell {
            Cell::Words(words) => lettering::wrapped(words, room, MODULE, Weight::Plain),
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
    pub fn draw(&self, references: &References, (x, y): (f64, f64)) -> Vec<Shape> {
        let mut shapes = vec![text((x, y + MODULE), &self.name, SMALL_BOLD, Anchor::Start)];
        if !self.about.is_empty() {
            let after = x + lettering::width(&self.name, MODULE, Weight::Bold) + 2.0;
            shapes.push(text((after, y + MODULE), &self.about, SMALL, Anchor::Start));
        }
        let top = y + MODULE + TABLE_HEAD;
        let width: f64 = self.widths.iter().sum();
        let mut at = top;
        shapes.push(Shape::line(&[point(x, at), point(x + width, at)], Pen::Wire));
        for (index, row) in self.rows.iter().enumerate() {
            let height = self.row_height(row);
            let mut left = x;
            for (column, cell) in row.iter().enumerate() {
                let room = self.widths.get(column).copied().unwrap_or(0.0);
                let base = at + 3.6;
                match cell {
                    Cell::Cross => {
                        let middle = (left + room / 2.0, base);
                        shapes.push(text(middle, "×", SMALL_BOLD, Anchor::Middle));
                    }
                    Cell::Place(part) => match references.get(part) {
                        Some(place) => {
                            shapes.push(text((left + 1.0, base), place, SMALL, Anchor::Start));
                        }
                        None => shapes.push(text(
                            (left + 1.0, base),
                            "spare",
                            SMALL_SECOND,
                            Anchor::Start,
                        )),
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
            at += height;
            let pen = if index == 0 { Pen::Thin } else { Pen::Rule };
            shapes.push(Shape::line(&[point(x, at), point(x + width, at)], pen));
        }
        let mut left = x;
        for width in self.widths.iter().chain([&0.0]) {
            shapes.push(Shape::line(&[point(left, top), point(left, at)], Pen::Rule));
            left += width;
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
        let mut piece = Self { rows: head.clone(), ..self.clone() };
        for row in self.rows.iter().skip(1) {
            if piece.height() + self.row_height(row) > room && piece.rows.len() > 1 {
                pieces.push(std::mem::replace(
                    &mut piece,
                    Self { rows: head.clone(), ..self.clone() },
                ));
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
        let few = device.positions.len() <= 5 && !device.positions.is_empty();
        let by_position = matches!(
            device.kind,
            DeviceKind::Handle { .. } | DeviceKind::Latch { .. } | DeviceKind::Lockout { .. }
        );
        tables.push(if few && by_position {
            development(scheme, id)
        } else {
            by_statement(scheme, id)
        });
    }
    tables.extend(conditions(scheme));
    tables
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
    }
}

/// Contact, when it is closed, what it may make and break if that is said, place.
fn by_statement(scheme: &Scheme, id: DeviceId) -> Table {
    let device = &scheme.devices[id];
    let all = contacts(scheme, id);
    let rated = |part: &PartId| match &scheme.parts[*part].kind {
        PartKind::Contact(contact) => !contact.makes.is_empty() || !contact.breaks.is_empty(),
        _ => false,
    };
    let rated = all.iter().any(rated);
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
    (rows.len() > 1).then(|| Table {
        device: None,
        name: "Other contacts".to_owned(),
        about: "and when they are closed".to_owned(),
        widths: vec![14.0, 22.0, TABLE - 50.0, 14.0],
        rows,
    })
}
