//! What stands under a coil (legs across: right of its rail): where its contacts are. **In:** the
//! places of all parts. **Out:** a list, or the mirror of an IEC sheet. **Never here:** tables.

use super::{References, contacts, has_list, has_table, heading};
use crate::block::any_reference;
use crate::geometry::{Anchor, Group, MODULE, Pen, Point, Role, Shape, Turn, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};
use crate::rest;
use crate::style::Style;
use crate::symbols::{self, Contact, Figure};
use crate::words::{GAP, Line, Piece, line_width};
use fiftytwo_scheme::{DeviceId, PartId, PartKind, Scheme};
use std::collections::BTreeMap;

/// Distance of lines, mm.
const ROW: f64 = MODULE * LEADING;
/// From the lower rail to the first line, mm.
const DROP: f64 = 3.0;
/// Width of a list beside a rail, mm.
const BESIDE: f64 = 44.0;
/// Between the stem of a mirror and its words, mm.
const STEM: f64 = 1.2;
/// Height of a mirror's head with its two small contacts, mm.
const MIRROR_HEAD: f64 = 5.7;

/// The room a list takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Before the line of the coil's column (left of it, or above it), mm.
    pub before: f64,
    /// After it, mm.
    pub after: f64,
    /// Away from the rail, mm.
    pub foot: f64,
}

/// The room that what stands under a coil takes; none: nothing stands there.
pub fn size(scheme: &Scheme, coil: PartId, style: Style) -> Option<Size> {
    let part = &scheme.parts[coil];
    matches!(part.kind, PartKind::Coil(_)).then_some(())?;
    let device = part.device?;
    let listed = has_list(scheme, device);
    if !listed && !has_table(scheme, device) {
        return None;
    }
    if style.across() {
        let lines = if listed { across(scheme, None, device).len() } else { 1 };
        let half = ROW * lines as f64 / 2.0;
        return Some(Size { before: half, after: half, foot: BESIDE + 4.0 });
    }
    if !listed {
        return Some(Size { before: 0.0, after: 16.0, foot: 2.0 * ROW });
    }
    let about = heading(scheme, device);
    let head =
        about.iter().map(|line| lettering::width(line, MODULE, Weight::Plain)).fold(0.0, f64::max);
    if style.iec() {
        let (open, closed) = halves(scheme, device);
        let rows = open.len().max(closed.len());
        let wide = |half: &[PartId]| {
            half.iter()
                .map(|part| line_width(&entry(scheme, *part, any_reference(style))))
                .fold(7.0, f64::max)
        };
        let (left, right) = (wide(&open) + STEM + 1.0, wide(&closed) + STEM + 1.0);
        let foot = ROW * (rows + about.len()) as f64 + MIRROR_HEAD + 1.0;
        return Some(Size { before: left, after: right.max(head - left + 1.0), foot });
    }
    let mut width = head;
    for contact in contacts(scheme, device) {
        width = f64::max(width, line_width(&entry(scheme, contact, any_reference(style))));
    }
    let rows = about.len() + contacts(scheme, device).len();
    Some(Size { before: 0.0, after: width, foot: ROW * rows as f64 + 2.0 })
}

fn entry(scheme: &Scheme, contact: PartId, place: &str) -> Line {
    vec![Piece::bold(&scheme.parts[contact].own_name), Piece::plain(place)]
}

/// The contacts of a device, those open as drawn and those closed.
fn halves(scheme: &Scheme, device: DeviceId) -> (Vec<PartId>, Vec<PartId>) {
    contacts(scheme, device).into_iter().partition(|part| !rest::is_closed(scheme, *part))
}

/// Lines right of a rail; without references as long as they may become.
fn across(scheme: &Scheme, references: Option<&References>, device: DeviceId) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let about = heading(scheme, device).join(" ");
    if !about.is_empty() {
        lines.push(vec![Piece::second(about)]);
    }
    for contact in contacts(scheme, device) {
        let piece = match references.map(|all| all.get(&contact)) {
            None => entry(scheme, contact, any_reference(Style::default())),
            Some(Some(place)) => entry(scheme, contact, place),
            Some(None) => {
                vec![Piece::bold(&scheme.parts[contact].own_name), Piece::second("spare")]
            }
        };
        let gap = 3.5;
        match lines.last_mut() {
            Some(line) if shares(line, &piece, gap) => {
                line.push(Piece::second("·"));
                line.extend(piece);
            }
            _ => lines.push(piece),
        }
    }
    lines
}

fn shares(line: &Line, piece: &Line, gap: f64) -> bool {
    // A heading is one grey piece: contacts never share its line.
    line.len() > 1 && line_width(line) + gap + line_width(piece) <= BESIDE
}

fn put(shapes: &mut Vec<Shape>, (x, y): (f64, f64), line: &[Piece]) {
    let mut at = x;
    for piece in line {
        shapes.push(text((at, y), &piece.words, (MODULE, piece.weight, piece.ink), Anchor::Start));
        at += piece.width() + GAP;
    }
}

/// What stands under a coil whose column meets the lower rail at `at` (legs across: whose row
/// meets the right rail there).
pub fn draw(
    scheme: &Scheme,
    references: &References,
    tables: &BTreeMap<DeviceId, String>,
    coil: PartId,
    (at, style): (Point, Style),
) -> Option<Group> {
    let device = scheme.parts[coil].device?;
    let mut shapes = Vec::new();
    let left = at.x - 2.5;
    let mut base = at.y + MODULE + DROP;
    if has_list(scheme, device) && style.across() {
        let lines = across(scheme, Some(references), device);
        let mut y = at.y + MODULE / 2.0 - ROW * (lines.len() - 1) as f64 / 2.0;
        for line in lines {
            put(&mut shapes, (at.x + DROP, y), &line);
            y += ROW;
        }
    } else if has_list(scheme, device) {
        let about = heading(scheme, device);
        let start = if style.iec() {
            size(scheme, coil, style).map_or(left, |size| at.x - size.before + 1.0)
        } else {
            left
        };
        for line in about {
            shapes.push(text((start, base), &line, SMALL_SECOND, Anchor::Start));
            base += ROW;
        }
        if style.iec() {
            mirror(scheme, references, device, point(at.x, base - MODULE), &mut shapes);
        } else {
            let top = base - MODULE - 0.5;
            for contact in contacts(scheme, device) {
                let name = &scheme.parts[contact].own_name;
                shapes.push(text((left, base), name, SMALL_BOLD, Anchor::Start));
                let after = left + lettering::width(name, MODULE, Weight::Bold) + GAP;
                match references.get(&contact) {
                    Some(place) => shapes.push(text((after, base), place, SMALL, Anchor::Start)),
                    None => {
                        shapes.push(text((after, base), "spare", SMALL_SECOND, Anchor::Start));
                    }
                }
                base += ROW;
            }
            let ends = [point(left - 1.5, top), point(left - 1.5, base - ROW + 0.5)];
            shapes.push(Shape::line(&ends, Pen::Thin));
        }
    } else if let Some(place) = tables.get(&device) {
        let words = format!("{} contacts:", scheme.devices[device].name);
        let table = format!("table, sheet {place}");
        if style.across() {
            let line = [Piece::second(words), Piece::second(table)];
            put(&mut shapes, (at.x + DROP, at.y + MODULE / 2.0), &line);
        } else {
            shapes.push(text((left, base), &words, SMALL_SECOND, Anchor::Start));
            shapes.push(text((left, base + ROW), &table, SMALL_SECOND, Anchor::Start));
        }
    } else {
        return None;
    }
    let name = &scheme.devices[device].name;
    Some(Group {
        id: format!("contacts-under-{}", crate::names::slug(&scheme.parts[coil].name)),
        role: Role::Contacts(device),
        title: format!("Where the contacts of {name} stand"),
        source: None,
        shapes,
    })
}

/// The mirror of IEC sheets: contacts open as drawn left of the stem, closed ones right of it.
fn mirror(
    scheme: &Scheme,
    references: &References,
    device: DeviceId,
    top: Point,
    shapes: &mut Vec<Shape>,
) {
    let (open, closed) = halves(scheme, device);
    for (side, is_closed) in [(-1.0, false), (1.0, true)] {
        let figure = Figure::Contact(Contact { closed: is_closed, ..Contact::default() });
        let symbol = symbols::draw(&figure, crate::style::Symbols::Iec60617);
        let middle = point(top.x + side * 4.6, top.y + 2.5);
        for shape in &symbol.shapes {
            shapes.push(shape.placed(Turn::Down, middle));
        }
    }
    let rows = open.len().max(closed.len()) as f64;
    let end = top.y + MIRROR_HEAD + ROW * rows + 0.5;
    shapes.push(Shape::line(&[point(top.x, top.y), point(top.x, end)], Pen::Thin));
    for (contacts, is_closed) in [(open, false), (closed, true)] {
        for (row, contact) in contacts.into_iter().enumerate() {
            let y = top.y + MIRROR_HEAD + MODULE + ROW * row as f64;
            let line = match references.get(&contact) {
                Some(place) => entry(scheme, contact, place),
                None => vec![Piece::bold(&scheme.parts[contact].own_name), Piece::second("–")],
            };
            let x = if is_closed { top.x + STEM } else { top.x - STEM - line_width(&line) };
            put(shapes, (x, y), &line);
        }
    }
}
