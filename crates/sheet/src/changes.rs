//! What changed since an earlier text of the same scheme. **In:** both schemes; a finished drawing
//! of the later one. **Out:** the parts that are new or otherwise, what is gone, and clouds with
//! the mark of the revision on the drawing. **Never here:** which change is good.

use crate::geometry::{
    Anchor, Area, Drawing, Fill, Group, Ink, MODULE, Pen, Point, Role, Shape, Weight, point,
};
use crate::page::text;
use fiftytwo_scheme::{NodeId, PartId, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// The differences between two texts of a scheme.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Changes {
    /// Placed parts that the earlier text does not have.
    pub added: BTreeSet<PartId>,
    /// Placed parts with other data, or joined to other wires.
    pub altered: BTreeSet<PartId>,
    /// Names of parts that are placed no more.
    pub gone: Vec<String>,
    /// The mark: the revision of the later text.
    pub mark: String,
}

impl Changes {
    /// Whether the drawing is the same.
    pub fn is_empty(&self) -> bool {
        self.added.is_empty() && self.altered.is_empty() && self.gone.is_empty()
    }
    /// In one sentence.
    pub fn told(&self, scheme: &Scheme) -> String {
        if self.is_empty() {
            return "Nothing on the sheets changed since the earlier text.".to_owned();
        }
        let names = |parts: &BTreeSet<PartId>| -> Vec<String> {
            parts.iter().map(|part| scheme.parts[*part].name.clone()).collect()
        };
        let mut said = Vec::new();
        for (word, names) in [
            ("new", names(&self.added)),
            ("changed", names(&self.altered)),
            ("gone", self.gone.clone()),
        ] {
            if !names.is_empty() {
                said.push(format!("{word}: {}", names.join(", ")));
            }
        }
        format!("Since the earlier text {}.", said.join("; "))
    }
}

/// What is drawn of a part, in words that do not depend on where it is written.
#[derive(PartialEq)]
struct Sight {
    data: String,
    circuit: String,
    leg: String,
    /// Numbers or neighbours of its upper and lower wire.
    ends: [Wire; 2],
}

/// A wire by its number or, where it has none, by what hangs on it.
struct Wire {
    number: Option<String>,
    parts: BTreeSet<String>,
}

impl PartialEq for Wire {
    fn eq(&self, other: &Self) -> bool {
        match (&self.number, &other.number) {
            (Some(a), Some(b)) => a == b,
            (None, None) => !self.parts.is_disjoint(&other.parts),
            // A number given or taken away changes the sheet.
            _ => false,
        }
    }
}

fn sights(scheme: &Scheme) -> BTreeMap<String, (PartId, Sight)> {
    let mut hung: BTreeMap<NodeId, BTreeSet<String>> = BTreeMap::new();
    for (_, part) in scheme.placed() {
        for node in part.at.iter().flat_map(|at| [at.from, at.to]) {
            hung.entry(node).or_default().insert(part.name.clone());
        }
    }
    scheme
        .placed()
        .filter_map(|(id, part)| {
            let at = part.at?;
            let wire = |node: NodeId| Wire {
                number: scheme.nodes[node].label.clone().or(scheme.nodes[node].wire.clone()),
                parts: hung
                    .get(&node)
                    .into_iter()
                    .flatten()
                    .filter(|name| **name != part.name)
                    .cloned()
                    .collect(),
            };
            let device = part.device.map(|device| {
                let device = &scheme.devices[device];
                (&device.name, &device.description, device.drawn)
            });
            let place = &scheme.places[at.place].name;
            let own = (&part.own_name, &part.terminals, crate::words::title(scheme, id), place);
            let data = lasting(&format!("{:?} {device:?} {own:?}", part.kind));
            let sight = Sight {
                data,
                circuit: scheme.circuits[at.circuit].name.clone(),
                leg: at.leg.map(|leg| scheme.legs[leg].name.clone()).unwrap_or_default(),
                ends: [wire(at.from), wire(at.to)],
            };
            Some((part.name.clone(), (id, sight)))
        })
        .collect()
}

/// A value printed without places in the text and without numbers of arenas, which move when
/// something else is written.
fn lasting(printed: &str) -> String {
    let mut out = String::new();
    let mut rest = printed;
    while let Some(at) = rest.find("Span {").into_iter().chain(rest.find("Id(")).min() {
        out.push_str(&rest[..at]);
        let tail = &rest[at..];
        let close = if tail.starts_with("Span") { '}' } else { ')' };
        let end = tail.find(close).map_or(tail.len(), |end| end + 1);
        rest = &tail[end..];
    }
    out.push_str(rest);
    out
}

/// Compares two texts of a scheme, part by part, by name.
pub fn changes(earlier: &Scheme, later: &Scheme) -> Changes {
    let (before, after) = (sights(earlier), sights(later));
    let mut changes =
        Changes { mark: later.revision.clone().unwrap_or_default(), ..Changes::default() };
    for (name, (id, sight)) in &after {
        match before.get(name) {
            None => {
                changes.added.insert(*id);
            }
            Some((_, other)) if other != sight => {
                changes.altered.insert(*id);
            }
            Some(_) => {}
        }
    }
    changes.gone = before.keys().filter(|name| !after.contains_key(*name)).cloned().collect();
    changes
}

/// From what changed to its cloud, mm.
const AROUND: f64 = 1.4;
/// Length of one bow of a cloud, about, mm.
const BOW: f64 = 4.0;

/// Draws clouds round what changed, each with the mark of the revision in a triangle.
pub fn mark(drawing: &mut Drawing, scheme: &Scheme, changes: &Changes) {
    for sheet in &mut drawing.sheets {
        let mut areas: Vec<(Area, String)> = Vec::new();
        for group in &sheet.items {
            let Role::Part(part) = group.role else { continue };
            if !changes.added.contains(&part) && !changes.altered.contains(&part) {
                continue;
            }
            let shapes = group.shapes.iter().map(Shape::area);
            if let Some(area) = shapes.reduce(Area::with) {
                areas.push((area.grown(AROUND), scheme.parts[part].name.clone()));
            }
        }
        // Clouds that meet become one.
        while let Some((a, b)) = meeting(&areas) {
            let (other, names) = areas.swap_remove(b);
            areas[a].0 = areas[a].0.with(other);
            areas[a].1.push_str(", ");
            areas[a].1.push_str(&names);
        }
        let taken: Vec<Area> = sheet
            .items
            .iter()
            .filter(|group| !matches!(group.role, Role::Place(_)) && !group.id.ends_with("-frame"))
            .flat_map(|group| group.shapes.iter().map(Shape::area))
            .collect();
        for (index, (area, names)) in areas.iter().enumerate() {
            let mut shapes = vec![cloud(*area)];
            shapes.extend(triangle(*area, &changes.mark, &taken));
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

fn meeting(areas: &[(Area, String)]) -> Option<(usize, usize)> {
    for (a, (area, _)) in areas.iter().enumerate() {
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

/// The mark of a revision in a triangle at a corner of a cloud, in the first free place.
fn triangle(area: Area, mark: &str, taken: &[Area]) -> Vec<Shape> {
    let (half, height) = (3.2, 5.4);
    let spots = [
        point(area.right + half + 1.6, area.top + 1.0),
        point(area.right + half + 1.6, area.bottom - 4.0),
        point(area.left - half - 1.6, area.top + 1.0),
        point(area.left - half - 1.6, area.bottom - 4.0),
        point(area.right - half, area.top - height - 1.8),
        point(area.right - half, area.bottom + 1.8),
    ];
    let body = |at: Point| Area {
        left: at.x - half,
        right: at.x + half,
        top: at.y - 0.4,
        bottom: at.y + height,
    };
    let free = spots.iter().find(|at| !taken.iter().any(|other| other.overlaps(&body(**at))));
    let at = *free.unwrap_or(&spots[0]);
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
