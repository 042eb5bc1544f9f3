//! What the monitors of a coil watch, on the sheets. **In:** the parts of its path, and in which
//! positions a break of each shows. **Out:** the same sheets, a band behind what is watched, a
//! pointer at what is not. **Never here:** what a monitor sees.

use crate::draw::{Options, draw_pointed};
use crate::flow::flag_ends;
use crate::geometry::{Anchor, MODULE};
use crate::geometry::{Dash, Drawing, Group, Ink, Point, Role, Shape, Sheet, Weight, point};
use crate::live::{Live, PartNow};
use crate::page::{SMALL_BOLD, SMALL_SECOND, text};
use crate::patterns;
use fiftytwo_scheme::{NodeId, PartId, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// What is watched of the path of a coil.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Watched {
    /// The coil.
    pub coil: String,
    /// What watches it, in words: "one input and one lamp".
    pub by: String,
    /// The positions in which it was asked, such as "52 closed".
    pub positions: Vec<String>,
    /// Every piece of its path, with the positions in which a break of it, or of a lead of it, shows
    /// (places in `positions`).
    pub pieces: BTreeMap<PartId, BTreeSet<usize>>,
}

impl Watched {
    fn always(&self) -> BTreeSet<PartId> {
        let all = self.positions.len();
        self.those(|seen| seen.len() == all && all > 0)
    }
    fn sometimes(&self) -> BTreeSet<PartId> {
        let all = self.positions.len();
        self.those(|seen| !seen.is_empty() && seen.len() < all)
    }
    fn never(&self) -> BTreeSet<PartId> {
        self.those(BTreeSet::is_empty)
    }
    fn those(&self, test: impl Fn(&BTreeSet<usize>) -> bool) -> BTreeSet<PartId> {
        self.pieces.iter().filter(|(_, seen)| test(seen)).map(|(part, _)| *part).collect()
    }
    /// In which positions the broken band holds, if that is the same for all of it.
    fn only(&self) -> String {
        let mut sets = self
            .pieces
            .values()
            .filter(|seen| !seen.is_empty() && seen.len() < self.positions.len());
        let Some(first) = sets.next() else { return String::new() };
        if sets.any(|other| other != first) {
            return "in some of these positions".to_owned();
        }
        let names: Vec<&str> =
            first.iter().filter_map(|at| self.positions.get(*at)).map(String::as_str).collect();
        format!("only with {}", names.join(", "))
    }
    fn told(&self) -> String {
        format!(
            "Shows what the monitors of {} ({}) watch; asked with {}. A band: a break there surely \
             shows on one of them, at the lowest and at the highest volts of the supply. What bears \
             neither band nor pointer, the coil itself too, is not asked; nor are shorts and grounds. Contacts are drawn de-energised.",
            self.coil,
            self.by,
            self.positions.join(", with ")
        )
    }
}

/// Draws all circuits of a scheme with what is watched of a coil's path.
pub fn draw_watched(scheme: &Scheme, options: &Options, watched: &Watched) -> Drawing {
    let never = watched.never();
    let parts = never.iter().map(|part| {
        let now = PartNow { pointed_at: true, ..PartNow::default() };
        (*part, now)
    });
    let live = Live {
        title: format!("What is watched of the path of {}", watched.coil),
        parts: parts.collect(),
        conducts_from: f64::INFINITY,
        ..Live::default()
    };
    let mut drawing = draw_pointed(scheme, options, &live, &watched.told());
    let (always, sometimes) = (watched.always(), watched.sometimes());
    let hangs: Vec<BTreeSet<(PartId, NodeId)>> =
        drawing.sheets.iter().map(|it| hung(it, scheme)).collect();
    for (index, sheet) in drawing.sheets.iter_mut().enumerate() {
        let on_sheet = |part: &PartId| sheet.boxes.iter().any(|body| body.part == *part);
        if !watched.pieces.keys().any(on_sheet) {
            continue;
        }
        let others = hangs.iter().enumerate().filter(|(other, _)| *other != index);
        let beyond: BTreeSet<(PartId, NodeId)> = others.flat_map(|(_, all)| all).copied().collect();
        let shapes = bands(sheet, scheme, (&always, &sometimes), &beyond);
        let mut words = legend(sheet, watched, [&always, &sometimes, &never]);
        words.extend(patterns::title(sheet, &live.title));
        let number = sheet.number;
        let group = |name: &str, role: Role, title: &str, shapes: Vec<Shape>| Group {
            id: format!("{name}-sheet-{number}"),
            role,
            title: title.to_owned(),
            source: None,
            shapes,
        };
        sheet.items.push(group("watched", Role::Band, "what is watched", shapes));
        sheet.items.push(group("state", Role::Notes, "what the bands say", words));
        sheet.items.retain(|group| !group.shapes.is_empty());
    }
    drawing
}

/// The parts of a sheet with the wires they hang on.
fn hung(sheet: &Sheet, scheme: &Scheme) -> BTreeSet<(PartId, NodeId)> {
    let placed =
        sheet.boxes.iter().filter_map(|body| Some((body.part, scheme.parts[body.part].at?)));
    placed.flat_map(|(part, at)| [(part, at.from), (part, at.to)]).collect()
}

/// Where the wires of a sheet go on elsewhere.
fn flags(sheet: &Sheet, scheme: &Scheme) -> Vec<(NodeId, Point)> {
    let mut found = Vec::new();
    for group in &sheet.items {
        let nodes = match group.role {
            Role::Flag(node) => vec![node],
            Role::Circuit(circuit) => {
                vec![scheme.circuits[circuit].plus, scheme.circuits[circuit].minus]
            }
            _ => continue,
        };
        for (at, _) in group.shapes.iter().filter_map(flag_ends).flatten() {
            found.extend(nodes.iter().map(|node| (*node, at)));
        }
    }
    found
}

/// Bands behind the pieces and the wires between them, up to the flags behind which they go on. The wire between two pieces is as watched as
/// the lesser of them.
fn bands(
    sheet: &Sheet,
    scheme: &Scheme,
    (always, sometimes): (&BTreeSet<PartId>, &BTreeSet<PartId>),
    beyond: &BTreeSet<(PartId, NodeId)>,
) -> Vec<Shape> {
    let flags = flags(sheet, scheme);
    let either: BTreeSet<PartId> = always.union(sometimes).copied().collect();
    let pieces = patterns::wire_pieces(sheet);
    let ends_of = |parts: &BTreeSet<PartId>| {
        let mut ends: BTreeMap<NodeId, Vec<Point>> = BTreeMap::new();
        for body in sheet.boxes.iter().filter(|body| parts.contains(&body.part)) {
            if let Some(at) = scheme.parts[body.part].at {
                ends.entry(at.from).or_default().push(body.ends[0]);
                ends.entry(at.to).or_default().push(body.ends[1]);
            }
        }
        for (node, at) in &flags {
            if beyond.iter().any(|(part, of)| of == node && parts.contains(part)) {
                ends.entry(*node).or_default().push(*at);
            }
        }
        ends
    };
    let mut shapes = Vec::new();
    let mut solid: Vec<(Point, Point)> = Vec::new();
    for (dash, parts) in [(Dash::Solid, always), (Dash::Dashes, &either)] {
        let ends = ends_of(parts);
        for (node, pieces) in &pieces {
            let own = ends.get(node).map_or(&[][..], Vec::as_slice);
            for stretch in patterns::between(pieces, own) {
                if !solid.contains(&stretch) {
                    shapes.push(patterns::band(stretch, dash));
                    if dash == Dash::Solid {
                        solid.push(stretch);
                    }
                }
            }
        }
    }
    for body in &sheet.boxes {
        let ends = (body.ends[0], body.ends[1]);
        if always.contains(&body.part) {
            shapes.push(patterns::band(ends, Dash::Solid));
        } else if sometimes.contains(&body.part) {
            shapes.push(patterns::band(ends, Dash::Dashes));
        }
    }
    shapes
}

/// What the bands and pointers say, in one row above the notes.
fn legend(
    sheet: &Sheet,
    watched: &Watched,
    [always, sometimes, never]: [&BTreeSet<PartId>; 3],
) -> Vec<Shape> {
    let mut x = sheet.frame.left + 3.0;
    let y = sheet.frame.bottom - 40.5;
    let mut shapes = Vec::new();
    let mut entry = |mark: Vec<Shape>, name: &str, how: &str| {
        shapes.extend(
            mark.into_iter().map(|shape| shape.placed(crate::geometry::Turn::Down, point(x, y))),
        );
        x += 14.0;
        shapes.push(text((x, y + MODULE / 2.0), name, SMALL_BOLD, Anchor::Start));
        x += crate::lettering::width(name, MODULE, Weight::Bold) + 1.5;
        if !how.is_empty() {
            shapes.push(text((x, y + MODULE / 2.0), how, SMALL_SECOND, Anchor::Start));
            x += crate::lettering::width(how, MODULE, Weight::Plain);
        }
        x += 6.0;
    };
    let stroke = |dash: Dash| patterns::band((point(0.0, 0.0), point(11.0, 0.0)), dash);
    if !always.is_empty() {
        entry(vec![stroke(Dash::Solid)], "watched", "in every position");
    }
    if !sometimes.is_empty() {
        entry(vec![stroke(Dash::Dashes)], "watched", &watched.only());
    }
    if !never.is_empty() {
        let tip = point(10.0, 0.0);
        let pointer = Shape::Line {
            points: vec![tip, point(tip.x - 2.2, -1.3), point(tip.x - 2.2, 1.3)],
            closed: true,
            pen: crate::geometry::Pen::None,
            ink: Ink::Main,
            fill: crate::geometry::Fill::Ink,
            dash: Dash::Solid,
        };
        entry(vec![pointer], "of its path, not watched", "");
    }
    shapes
}
