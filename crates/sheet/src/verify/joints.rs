//! How wires join: dots, ends of parts, wires in one piece, contacts as they are drawn.

use super::{Fault, Look, Rule, near};
use crate::flow::flag_ends;
use crate::geometry::{Drawing, Pen, Point, Role, Shape, Sheet};
use crate::rest;
use fiftytwo_scheme::{NodeId, PartKind, Scheme};
use std::collections::BTreeMap;

/// How far a flag or a pole may stand from the end of its wire, mm.
const GOES_ON: f64 = 1.4;

type Stroke = (Point, Point);

/// Whether a point lies on a stroke, and whether at its end.
fn on(at: Point, (a, b): &Stroke) -> Option<bool> {
    if near(at, *a) || near(at, *b) {
        return Some(true);
    }
    let (low, high) = (a.x.min(b.x) - 0.05, a.x.max(b.x) + 0.05);
    let (top, end) = (a.y.min(b.y) - 0.05, a.y.max(b.y) + 0.05);
    let inside = low <= at.x && at.x <= high && top <= at.y && at.y <= end;
    let off = ((at.x - a.x) * (b.y - a.y) - (at.y - a.y) * (b.x - a.x)).abs();
    (inside && off < 0.05 * (b.x - a.x).hypot(b.y - a.y).max(0.05)).then_some(false)
}

impl Look<'_> {
    /// A wire that branches has a dot there; where nothing branches, or wires cross, there is none.
    pub(super) fn dots(&self, faults: &mut Vec<Fault>) {
        if !is_plain(self.sheet) {
            return;
        }
        let mut strokes: BTreeMap<NodeId, Vec<Stroke>> = BTreeMap::new();
        for (node, ends) in &self.wires {
            strokes.entry(*node).or_default().push(*ends);
        }
        let dots: Vec<(NodeId, Point)> = self
            .sheet
            .items
            .iter()
            .filter(|group| group.id.starts_with("dot-"))
            .filter_map(|group| match (group.role, group.shapes.first()) {
                (Role::Wire(node), Some(Shape::Circle { centre, .. })) => Some((node, *centre)),
                _ => None,
            })
            .collect();
        let arms = |node: NodeId, at: Point| -> usize {
            let own = strokes.get(&node).into_iter().flatten().filter_map(|stroke| on(at, stroke));
            let parts = self.sheet.boxes.iter().filter(|body| {
                let stands = self.scheme.parts[body.part].at;
                stands.is_some_and(|stands| {
                    stands.from == node && near(body.ends[0], at)
                        || stands.to == node && near(body.ends[1], at)
                })
            });
            own.map(|end| if end { 1 } else { 2 }).sum::<usize>() + parts.count()
        };
        for (node, own) in &strokes {
            let mut seen: Vec<Point> = Vec::new();
            for at in own.iter().flat_map(|(a, b)| [*a, *b]) {
                if seen.iter().any(|other| near(*other, at)) {
                    continue;
                }
                seen.push(at);
                let dotted = dots.iter().any(|(of, dot)| of == node && near(*dot, at));
                if arms(*node, at) >= 3 && !dotted {
                    let words = format!("wire {} branches without a dot", self.wire_name(*node));
                    self.fault(faults, Rule::Junction, words);
                }
            }
        }
        for (node, at) in dots {
            let crossed =
                self.wires.iter().any(|(other, stroke)| *other != node && on(at, stroke).is_some());
            if crossed || arms(node, at) < 3 {
                let name = self.wire_name(node);
                let words = format!("a dot of wire {name} stands where it does not branch");
                self.fault(faults, Rule::Junction, words);
            }
        }
    }

    /// Every end of a part meets its own wire, and not that of its other end.
    pub(super) fn joined(&self, faults: &mut Vec<Fault>) {
        for body in &self.sheet.boxes {
            let Some(at) = self.scheme.parts[body.part].at else { continue };
            let name = &self.scheme.parts[body.part].name;
            for (end, own, other) in
                [(body.ends[0], at.from, at.to), (body.ends[1], at.to, at.from)]
            {
                let meets = |wanted: NodeId| {
                    self.wires.iter().any(|(node, (a, b))| {
                        *node == wanted && [a, b].iter().any(|p| near(**p, end))
                    })
                };
                if !meets(own) {
                    let words = format!("an end of {name} does not meet its wire");
                    self.fault(faults, Rule::Joined, words);
                }
                if own != other && meets(other) {
                    let words = format!("an end of {name} meets the wire of its other end");
                    self.fault(faults, Rule::Joined, words);
                }
            }
        }
    }

    /// Contacts stand as they do de-energised.
    pub(super) fn contacts_as_drawn(&self, faults: &mut Vec<Fault>) {
        for body in &self.sheet.boxes {
            let part = &self.scheme.parts[body.part];
            if !matches!(part.kind, PartKind::Contact(_)) {
                continue;
            }
            let closed = rest::is_closed(self.scheme, body.part);
            if body.symbol.starts_with("contact-closed") != closed {
                let word = if closed { "open" } else { "closed" };
                let words = format!("{} is drawn {word} and is not so at rest", part.name);
                self.fault(faults, Rule::DrawnState, words);
            }
        }
    }

    /// No symbol lies on a band but those of parts that carry its current.
    pub(super) fn bands_clear(&self, faults: &mut Vec<Fault>) {
        let bands: Vec<&Stroke> = self
            .lines
            .iter()
            .filter(|(_, _, pen)| *pen == Pen::Band)
            .map(|(_, it, _)| it)
            .collect();
        for body in &self.sheet.boxes {
            let own = |(a, b): &Stroke| {
                on(body.ends[0], &(*a, *b)).is_some() && on(body.ends[1], &(*a, *b)).is_some()
            };
            if bands.iter().any(|band| own(band)) {
                continue;
            }
            let inner = body.area.grown(-0.3);
            let half = Pen::Band.width() / 2.0 - 0.3;
            let covered = bands.iter().any(|(a, b)| {
                let mut area = crate::geometry::Area::between(*a, *b);
                if (a.y - b.y).abs() < 0.01 {
                    (area.top, area.bottom) = (area.top - half, area.bottom + half);
                    (area.left, area.right) = (area.left + 0.4, area.right - 0.4);
                } else {
                    (area.left, area.right) = (area.left - half, area.right + half);
                    (area.top, area.bottom) = (area.top + 0.4, area.bottom - 0.4);
                }
                area.overlaps(&inner)
            });
            if covered {
                let name = &self.scheme.parts[body.part].name;
                let words = format!("{name} lies on a band and carries none of its current");
                self.fault(faults, Rule::OnBand, words);
            }
        }
    }
}

/// Whether a sheet shows no state: in one, strokes are drawn longer at corners. The places are those of
/// the plain sheet.
fn is_plain(sheet: &Sheet) -> bool {
    let wires = sheet.items.iter().filter(|group| matches!(group.role, Role::Wire(_)));
    let plain = |shape: &Shape| match shape {
        Shape::Line { pen, .. } => matches!(pen, Pen::Wire | Pen::Rail),
        _ => true,
    };
    wires.into_iter().flat_map(|group| &group.shapes).all(plain)
}

/// A wire in several pieces goes on from each of them: at a flag or at a pole.
pub(super) fn in_one_piece(drawing: &Drawing, scheme: &Scheme, faults: &mut Vec<Fault>) {
    let mut pieces: BTreeMap<NodeId, Vec<(usize, bool)>> = BTreeMap::new();
    if drawing.sheets.iter().any(|sheet| !is_plain(sheet)) {
        return;
    }
    for sheet in &drawing.sheets {
        let exits = exits(sheet);
        for (node, strokes) in crate::patterns::wire_pieces(sheet) {
            for piece in apart(&strokes) {
                let goes_on = exits.iter().any(|(of, at)| {
                    of.is_none_or(|of| of == node)
                        && piece
                            .iter()
                            .flat_map(|(a, b)| [a, b])
                            .any(|end| (end.x - at.x).abs().max((end.y - at.y).abs()) < GOES_ON)
                });
                pieces.entry(node).or_default().push((sheet.number, goes_on));
            }
        }
    }
    for (node, pieces) in pieces.iter().filter(|(_, pieces)| pieces.len() > 1) {
        for (sheet, _) in pieces.iter().filter(|(_, goes_on)| !goes_on) {
            let name = scheme.nodes[*node].wire.as_deref().unwrap_or("without number");
            let words = format!("a piece of wire {name} goes on nowhere");
            faults.push(Fault { sheet: *sheet, rule: Rule::OnePiece, words });
        }
    }
}

/// Flags and poles, with the wire where that is known.
fn exits(sheet: &Sheet) -> Vec<(Option<NodeId>, Point)> {
    let mut found = Vec::new();
    for group in &sheet.items {
        match group.role {
            Role::Wire(node) if group.id.starts_with("pole-") => {
                if let Some(Shape::Circle { centre, .. }) = group.shapes.first() {
                    found.push((Some(node), *centre));
                }
            }
            Role::Flag(node) => {
                let ends = group.shapes.iter().filter_map(flag_ends).flatten();
                found.extend(ends.map(|(at, _)| (Some(node), at)));
            }
            Role::Circuit(_) => {
                let ends = group.shapes.iter().filter_map(flag_ends).flatten();
                found.extend(ends.map(|(at, _)| (None, at)));
            }
            _ => {}
        }
    }
    found
}

/// Strokes sorted into what touches.
fn apart(strokes: &[Stroke]) -> Vec<Vec<Stroke>> {
    let mut pieces: Vec<Vec<Stroke>> = Vec::new();
    let touch = |x: &Stroke, y: &Stroke| {
        [x.0, x.1].into_iter().any(|at| on(at, y).is_some())
            || [y.0, y.1].into_iter().any(|at| on(at, x).is_some())
    };
    for stroke in strokes {
        let (met, rest): (Vec<_>, Vec<_>) =
            pieces.into_iter().partition(|piece| piece.iter().any(|other| touch(other, stroke)));
        pieces = rest;
        let mut joined: Vec<Stroke> = met.into_iter().flatten().collect();
        joined.push(*stroke);
        pieces.push(joined);
    }
    pieces
}
