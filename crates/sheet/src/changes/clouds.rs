//! Clouds round what changed. **In:** a finished drawing and what changed. **Out:** clouds, each with
//! the mark of the revision in a triangle. **Never here:** what changed.

use super::Changes;
use crate::geometry::{
    Anchor, Area, Drawing, Fill, Group, Ink, MODULE, Pen, Point, Role, Shape, Sheet, Text, Weight,
    point,
};
use crate::page::text;
use fiftytwo_scheme::{PartId, Scheme};

/// From what changed to its cloud, mm.
const AROUND: f64 = 1.0;
/// The same for a line of a table, mm: the next line is near.
const ROUND_A_LINE: f64 = 0.3;
/// How far the bows reach out, mm.
const OUT: f64 = 1.15;
/// Kept free between a cloud and words, mm.
const CLEAR: f64 = 0.25;
/// Length of one bow of a cloud, about, mm.
const BOW: f64 = 4.0;

/// A place that changed, with what it is about.
type Place = (Area, String);

/// Draws clouds round what changed, each with the mark of the revision in a triangle.
pub fn mark(drawing: &mut Drawing, scheme: &Scheme, changes: &Changes) {
    for sheet in &mut drawing.sheets {
        let mut areas = changed(sheet, scheme, changes);
        settle(sheet, &mut areas);
        // The frame of a place leaves room inside.
        let edges = sheet.items.iter().filter(|group| matches!(group.role, Role::Place(_)));
        let edges: Vec<Area> = edges.flat_map(|group| &group.shapes).flat_map(edges_of).collect();
        let counts = |group: &Group, shape: &Shape| match group.role {
            Role::Place(_) => matches!(shape, Shape::Text(_)),
            _ => !group.id.ends_with("-frame"),
        };
        let mut taken: Vec<Area> = sheet
            .items
            .iter()
            .flat_map(|group| group.shapes.iter().filter(move |shape| counts(group, shape)))
            .map(Shape::area)
            .collect();
        taken.extend(edges);
        taken.extend(areas.iter().map(|(area, _)| area.grown(OUT)));
        for (index, (area, names)) in areas.iter().enumerate() {
            let mut shapes = vec![cloud(*area)];
            shapes.extend(triangle(*area, sheet.frame, &changes.mark, &mut taken));
            sheet.items.push(Group {
                id: format!("change-{}-sheet-{}", index + 1, sheet.number),
                role: Role::Change,
                title: format!("changed in revision {}: {names}", changes.mark),
                source: None,
                shapes,
            });
        }
    }
}

/// What of a sheet changed.
fn changed(sheet: &Sheet, scheme: &Scheme, changes: &Changes) -> Vec<Place> {
    let mut areas: Vec<Place> = Vec::new();
    for group in &sheet.items {
        let all = || group.shapes.iter().map(Shape::area).reduce(Area::with);
        match group.role {
            Role::Part(part)
                if changes.added.contains(&part) || changes.altered.contains(&part) =>
            {
                let name = scheme.parts[part].name.clone();
                areas.extend(all().map(|area| (area.grown(AROUND), name)));
            }
            Role::Wire(node)
                if group.id.starts_with("number-") && changes.wires.contains(&node) =>
            {
                areas.extend(all().map(|area| (area.grown(AROUND), group.title.clone())));
            }
            Role::Flag(node) if changes.wires.contains(&node) => {
                areas.extend(all().map(|area| (area.grown(AROUND), group.title.clone())));
            }
            Role::Contacts(_) | Role::Notes => {
                for part in &changes.listed {
                    let line = if group.id.starts_with("table-") {
                        of_table(group, scheme, *part)
                    } else if group.id.starts_with("contacts-") {
                        of_list(group, scheme, *part)
                    } else {
                        None
                    };
                    let name = format!("line of {}", scheme.parts[*part].name);
                    areas.extend(line.map(|area| (area.grown(ROUND_A_LINE), name)));
                }
            }
            _ => {}
        }
    }
    areas
}

/// The edges of a closed line.
fn edges_of(shape: &Shape) -> Vec<Area> {
    let Shape::Line { points, .. } = shape else { return Vec::new() };
    let next = points.iter().cycle().skip(1);
    points.iter().zip(next).map(|(a, b)| Area::between(*a, *b).grown(0.2)).collect()
}

fn texts(group: &Group) -> impl Iterator<Item = (usize, &Text)> {
    group.shapes.iter().enumerate().filter_map(|(at, shape)| match shape {
        Shape::Text(text) => Some((at, text)),
        _ => None,
    })
}

/// Whether a list or table is about the device of a contact.
fn is_about(group: &Group, scheme: &Scheme, contact: PartId) -> bool {
    match (group.role, scheme.parts[contact].device) {
        (Role::Contacts(device), Some(own)) => device == own,
        (Role::Notes, Some(_)) => true,
        _ => false,
    }
}

/// A contact's line of a table: everything at the height of its name.
fn of_table(group: &Group, scheme: &Scheme, contact: PartId) -> Option<Area> {
    if !is_about(group, scheme, contact) {
        return None;
    }
    let part = &scheme.parts[contact];
    let at_height = |y: f64| texts(group).filter(move |(_, text)| (text.at.y - y).abs() < 0.01);
    let device = part.device.map(|device| scheme.devices[device].name.as_str());
    let y = texts(group)
        .filter(|(_, text)| text.words == part.own_name)
        .map(|(_, text)| text.at.y)
        .find(|y| {
            // Tables of several devices name the device at the same height.
            let named = at_height(*y).any(|(_, text)| Some(text.words.as_str()) == device);
            matches!(group.role, Role::Contacts(_)) || named
        })?;
    at_height(y).map(|(_, text)| text.area()).reduce(Area::with)
}

/// A contact's entry in the list under its coil: its name and what follows it.
fn of_list(group: &Group, scheme: &Scheme, contact: PartId) -> Option<Area> {
    if !is_about(group, scheme, contact) {
        return None;
    }
    let name = &scheme.parts[contact].own_name;
    let (at, text) =
        texts(group).find(|(_, text)| text.words == *name && text.weight == Weight::Bold)?;
    let after = group.shapes.get(at + 1).map(Shape::area);
    Some(after.map_or(text.area(), |after| text.area().with(after)))
}

/// Grows clouds round words that their edges would cut, and makes one of those that meet.
fn settle(sheet: &Sheet, areas: &mut Vec<Place>) {
    let words: Vec<Area> = sheet
        .items
        .iter()
        .filter(|group| group.role != Role::Furniture)
        .flat_map(texts)
        .map(|(_, text)| text.area())
        .collect();
    // Each round takes words in or makes clouds fewer: it comes to an end.
    loop {
        let mut grew = false;
        for (area, _) in areas.iter_mut() {
            let outer = area.grown(OUT + CLEAR);
            let cut = words
                .iter()
                .find(|words| outer.overlaps(words) && !area.grown(-CLEAR + 0.01).holds(words));
            if let Some(words) = cut {
                *area = area.with(words.grown(CLEAR));
                grew = true;
            }
        }
        let meets = meeting(areas);
        if let Some((a, b)) = meets {
            let (other, names) = areas.swap_remove(b);
            if let Some(kept) = areas.get_mut(a) {
                kept.0 = kept.0.with(other);
                kept.1.push_str(", ");
                kept.1.push_str(&names);
            }
        }
        if !grew && meets.is_none() {
            return;
        }
    }
}

/// Two clouds whose edges would meet, the first before the second.
fn meeting(areas: &[Place]) -> Option<(usize, usize)> {
    for (a, (area, _)) in areas.iter().enumerate() {
        let area = area.grown(2.0 * OUT);
        for (b, (other, _)) in areas.iter().enumerate().skip(a + 1) {
            if area.overlaps(other) {
                return Some((a, b));
            }
        }
    }
    None
}

/// A closed line of bows round an area.
fn cloud(area: Area) -> Shape {
    let corners = [
        point(area.left, area.top),
        point(area.right, area.top),
        point(area.right, area.bottom),
        point(area.left, area.bottom),
    ];
    let mut bends = Vec::new();
    for (index, from) in corners.iter().enumerate() {
        let to = corners[(index + 1) % corners.len()];
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let length = dx.hypot(dy).max(1e-9);
        let count = (length / BOW).round().max(1.0);
        let (ux, uy) = (dx / length, dy / length);
        let step = length / count;
        // Outwards: left of the way round.
        let out = |at: Point, by: f64| point(at.x + uy * by, at.y - ux * by);
        for bow in 0..count as usize {
            let at = |along: f64| {
                let along = step * (bow as f64 + along);
                point(from.x + ux * along, from.y + uy * along)
            };
            bends.push([out(at(0.1), 1.5), out(at(0.9), 1.5), at(1.0)]);
        }
    }
    Shape::Curve { start: corners[0], bends, pen: Pen::Thin, ink: Ink::Main }
}

/// The mark of a revision in a triangle beside a cloud, in the nearest free place.
fn triangle(area: Area, frame: Area, mark: &str, taken: &mut Vec<Area>) -> Vec<Shape> {
    let height = 5.4;
    // The sides of the triangle leave the mark free at its upper edge.
    let letters = crate::lettering::width(mark, MODULE, Weight::Bold);
    let half = f64::max(3.2, (letters / 2.0 + 0.45) * height / (height - 0.7 - MODULE));
    let body = |at: Point| Area {
        left: at.x - half - 0.5,
        right: at.x + half + 0.5,
        top: at.y - 0.7,
        bottom: at.y + height + 0.5,
    };
    let mut spots = Vec::new();
    for step in 0..8 {
        let away = OUT + 0.5 + 2.0 * f64::from(step);
        let mut y = area.top - 1.0;
        while y <= area.bottom - 2.0 {
            spots.push(point(area.right + half + away, y));
            spots.push(point(area.left - half - away, y));
            y += 2.0;
        }
        for x in [area.right - half, (area.left + area.right) / 2.0, area.left + half] {
            spots.push(point(x, area.top - height - away));
            spots.push(point(x, area.bottom + away));
        }
    }
    let inside = frame.grown(-1.0);
    let free = spots.iter().find(|at| {
        let body = body(**at);
        inside.holds(&body) && !taken.iter().any(|other| other.overlaps(&body))
    });
    // No room at all: the cloud alone marks the change, its title names the revision.
    let Some(at) = free else { return Vec::new() };
    taken.push(body(*at));
    vec![
        Shape::outline(
            &[
                point(at.x, at.y),
                point(at.x + half, at.y + height),
                point(at.x - half, at.y + height),
            ],
            Pen::Wire,
            Fill::Paper,
        ),
        text((at.x, at.y + height - 0.7), mark, (MODULE, Weight::Bold, Ink::Main), Anchor::Middle),
    ]
}
