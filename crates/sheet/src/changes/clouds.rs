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

/// Part of the id of a table's row that changed: it is a group of its own.
pub const CHANGED_ROW: &str = "-changed-";

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
            Role::Wire(node)
                if group.id.starts_with("number-") && changes.renumbered.contains_key(&node) =>
            {
                areas.extend(all().map(|area| (area.grown(AROUND), group.title.clone())));
            }
            Role::Contacts(_) | Role::Notes if group.id.contains(CHANGED_ROW) => {
                areas.extend(all().map(|area| (area.grown(ROUND_A_LINE), group.title.clone())));
            }
            Role::Contacts(_) if group.id.starts_with("contacts-") => {
                for part in &changes.listed {
                    let line = of_list(group, scheme, *part);
                    let name = format!("line of {}", scheme.parts[*part].name);
                    areas.extend(line.map(|area| (area.grown(ROUND_A_LINE), name)));
                }
            }
            Role::Circuit(_) | Role::Notes => areas.extend(of_names(group, scheme, changes)),
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

/// The words about cables and supplies whose text differs, and the names of rails whose wires do.
fn of_names(group: &Group, scheme: &Scheme, changes: &Changes) -> Vec<Place> {
    let mut wanted: Vec<(String, String)> = Vec::new();
    for line in &changes.told {
        if let Some(name) = line.what.strip_prefix("cable ") {
            wanted.push((format!("Cable {name}"), line.what.clone()));
            wanted.push((name.to_owned(), line.what.clone()));
        } else if let Some(name) = line.what.strip_prefix("supply ") {
            wanted.push((name.to_owned(), line.what.clone()));
        }
    }
    if group.id.starts_with("rail-") {
        for node in &changes.wires {
            let number = scheme.nodes[*node].wire.clone();
            wanted.extend(number.map(|number| (number.clone(), format!("rail {number}"))));
        }
    }
    let known = ["margin-", "rail-", "cover-lists"];
    if wanted.is_empty() || !known.iter().any(|begins| group.id.starts_with(begins)) {
        return Vec::new();
    }
    let texts: Vec<&Text> = texts(group).map(|(_, text)| text).collect();
    let mut areas = Vec::new();
    for (at, text) in texts.iter().enumerate().filter(|(_, text)| text.weight == Weight::Bold) {
        let Some((_, told)) = wanted.iter().find(|(name, _)| *name == text.words) else { continue };
        // The name and what is said about it, up to the next name.
        let about = texts[at + 1..].iter().take_while(|text| text.weight == Weight::Plain);
        let near = |area: Area, other: &&&Text| area.grown(6.0).overlaps(&other.area());
        let mut area = text.area();
        for other in about {
            if near(area, &other) || group.id == "cover-lists" {
                area = area.with(other.area());
            }
        }
        areas.push((area.grown(ROUND_A_LINE), told.clone()));
    }
    areas
}

/// A contact's entry in the list under its coil: its name and what follows it.
fn of_list(group: &Group, scheme: &Scheme, contact: PartId) -> Option<Area> {
    let about = matches!(group.role, Role::Contacts(device)
        if scheme.parts[contact].device == Some(device));
    if !about {
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
        .chain(rings(sheet))
        .collect();
    // A cloud that would cut its neighbours draws in as far as it can.
    let least = AROUND - ROUND_A_LINE;
    for (area, _) in areas.iter_mut() {
        let outer = area.grown(OUT + CLEAR);
        let close = area.grown(-least);
        let cuts = |by: Area| {
            let inner = by.grown(-OUT - CLEAR - CLEAR + 0.01);
            words.iter().any(|it| by.overlaps(it) && !inner.holds(it))
        };
        if cuts(outer) && !cuts(close.grown(OUT + CLEAR)) {
            *area = close;
        }
    }
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

/// Terminals: no edge of a cloud runs through one.
fn rings(sheet: &Sheet) -> impl Iterator<Item = Area> {
    let parts = sheet.items.iter().filter(|group| matches!(group.role, Role::Part(_)));
    let small = |shape: &&Shape| matches!(shape, Shape::Circle { radius, .. } if *radius < 1.5);
    parts.flat_map(|group| &group.shapes).filter(small).map(Shape::area)
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
