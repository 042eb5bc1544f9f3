//! Which stretches of drawn wire carry current. **In:** finished sheets and the amperes of all parts.
//! **Out:** for each sheet the stretches that carry at least what counts. **Never here:** volts, a
//! network: what a wire carries is the sum of what its parts take from it (Kirchhoff), stretch by
//! stretch, from the far ends towards the pole or the flag at which it goes on.

use crate::geometry::{Area, Point, Role, Shape, Sheet, point};
use crate::live::Live;
use crate::patterns::{near, split_at_taps, wire_pieces};
use fiftytwo_scheme::{NodeId, PartId, Scheme};
use std::collections::BTreeMap;

/// How far a symbol's or flag's end may lie from the end of its wire, mm.
const REACH: f64 = 1.3;
/// Points nearer than this are one, mm.
const SAME: f64 = 0.05;

/// A stretch of wire.
pub type Stretch = (Point, Point);

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Exit {
    /// The supply.
    Pole,
    /// A flag to the part of the rail nearer to the supply.
    Before,
    /// A flag to the part of the rail farther from it.
    After,
    /// A flag to anywhere else.
    Flag,
}

/// What hangs together of a wire on one sheet.
#[derive(Debug, Clone)]
struct Piece {
    sheet: usize,
    points: Vec<Point>,
    edges: Vec<(usize, usize)>,
    /// A that come in at each point.
    into: Vec<f64>,
    exits: Vec<(Exit, usize)>,
}

impl Piece {
    fn nearest(&self, at: Point) -> Option<usize> {
        let far = |p: &Point| (p.x - at.x).abs().max((p.y - at.y).abs());
        let found = (0..self.points.len())
            .min_by(|a, b| far(&self.points[*a]).total_cmp(&far(&self.points[*b])))?;
        (far(&self.points[found]) < REACH).then_some(found)
    }
    fn exit(&self, kind: Exit) -> Option<usize> {
        self.exits.iter().find(|(other, _)| *other == kind).map(|(_, at)| *at)
    }
    fn has(&self, kind: Exit) -> bool {
        self.exit(kind).is_some()
    }
    fn net(&self) -> f64 {
        self.into.iter().sum()
    }
    /// What flows along each edge, A, whatever its way.
    fn flows(&self) -> Vec<(Stretch, f64)> {
        let root = [Exit::Pole, Exit::Before, Exit::Flag, Exit::After]
            .into_iter()
            .find_map(|kind| self.exit(kind))
            .unwrap_or(0);
        let mut from: Vec<Option<(usize, usize)>> = vec![None; self.points.len()];
        let mut order = vec![root];
        let mut seen = vec![false; self.points.len()];
        seen[root] = true;
        let mut next = 0;
        while let Some(at) = order.get(next).copied() {
            next += 1;
            for (index, (a, b)) in self.edges.iter().enumerate() {
                let other = if *a == at { *b } else { *a };
                if (*a == at || *b == at) && !seen[other] {
                    seen[other] = true;
                    from[other] = Some((at, index));
                    order.push(other);
                }
            }
        }
        let mut sum = self.into.clone();
        let mut flows = vec![0.0; self.edges.len()];
        for at in order.iter().rev() {
            if let Some((parent, edge)) = from[*at] {
                flows[edge] = sum[*at];
                sum[parent] += sum[*at];
            }
        }
        let stretch = |(a, b): &(usize, usize)| (self.points[*a], self.points[*b]);
        self.edges.iter().map(stretch).zip(flows.into_iter().map(f64::abs)).collect()
    }
}

/// The stretches of each sheet that carry at least [`Live::conducts_from`].
pub fn carrying(sheets: &[Sheet], scheme: &Scheme, live: &Live) -> Vec<Vec<Stretch>> {
    let wires = Wires::of(sheets, scheme);
    (0..sheets.len()).map(|sheet| wires.carrying(sheet, live)).collect()
}

/// The wires of all sheets in what hangs together, with the parts that take current from them.
#[derive(Debug)]
pub struct Wires {
    pieces: BTreeMap<NodeId, Vec<Piece>>,
    taps: Vec<Tap>,
}

/// Where an end of a part meets a wire.
#[derive(Debug)]
struct Tap {
    part: PartId,
    node: NodeId,
    piece: usize,
    point: usize,
    /// Whether it is the part's lower end: its current comes in there.
    lower: bool,
}

impl Wires {
    /// Of these sheets.
    pub fn of(sheets: &[Sheet], scheme: &Scheme) -> Self {
        let mut wires = Self { pieces: BTreeMap::new(), taps: Vec::new() };
        for (number, sheet) in sheets.iter().enumerate() {
            wires.add(number, sheet, scheme);
        }
        wires
    }
    fn add(&mut self, number: usize, sheet: &Sheet, scheme: &Scheme) {
        let mut here: BTreeMap<NodeId, Vec<Piece>> = BTreeMap::new();
        for (node, strokes) in wire_pieces(sheet) {
            here.insert(node, apart(number, &split_at_taps(&strokes)));
        }
        for body in &sheet.boxes {
            let Some(at) = scheme.parts[body.part].at else { continue };
            for (node, end, lower) in [(at.from, body.ends[0], false), (at.to, body.ends[1], true)]
            {
                let before = self.pieces.get(&node).map_or(0, Vec::len);
                let pieces = here.get(&node).into_iter().flatten().enumerate();
                let met = pieces.filter_map(|(piece, it)| Some((before + piece, it.nearest(end)?)));
                self.taps.extend(met.take(1).map(|(piece, point)| Tap {
                    part: body.part,
                    node,
                    piece,
                    point,
                    lower,
                }));
            }
        }
        exits(sheet, scheme, &mut here);
        for (node, pieces) in here {
            self.pieces.entry(node).or_default().extend(pieces);
        }
    }
    /// The stretches of one sheet, by its index, that carry at least [`Live::conducts_from`].
    pub fn carrying(&self, sheet: usize, live: &Live) -> Vec<Stretch> {
        let mut found = Vec::new();
        // What a wire carries here may come from another sheet.
        let of_sheet = |pieces: &&Vec<Piece>| pieces.iter().any(|piece| piece.sheet == sheet);
        let mut here: BTreeMap<NodeId, Vec<Piece>> = BTreeMap::new();
        for (node, pieces) in self.pieces.iter().filter(|(_, pieces)| of_sheet(pieces)) {
            here.insert(*node, pieces.clone());
        }
        for tap in &self.taps {
            let amps = live.parts.get(&tap.part).and_then(|now| now.amps);
            let piece = here.get_mut(&tap.node).and_then(|pieces| pieces.get_mut(tap.piece));
            if let (Some(piece), Some(amps)) = (piece, amps)
                && let Some(into) = piece.into.get_mut(tap.point)
            {
                *into += if tap.lower { amps } else { -amps };
            }
        }
        for pieces in here.values_mut() {
            hand_on(pieces);
            for piece in pieces.iter().filter(|piece| piece.sheet == sheet) {
                let carries = |amps: f64| amps >= live.conducts_from - 1e-9;
                let flows = piece.flows();
                let kept = flows.into_iter().filter(|(_, amps)| carries(*amps));
                found.extend(kept.map(|(ends, _)| ends));
            }
        }
        found
    }
}

/// Lets every piece that goes on elsewhere hand its surplus to where it goes on.
fn hand_on(pieces: &mut [Piece]) {
    let is_rail =
        |piece: &Piece| piece.has(Exit::Pole) || piece.has(Exit::Before) || piece.has(Exit::After);
    let flagged: Vec<usize> = (0..pieces.len()).filter(|at| pieces[*at].has(Exit::Flag)).collect();
    let main =
        flagged.iter().copied().find(|at| is_rail(&pieces[*at])).or(flagged.first().copied());
    if let Some(main) = main {
        let from: f64 = flagged.iter().filter(|at| **at != main).map(|at| pieces[*at].net()).sum();
        if let Some(at) = pieces[main].exit(Exit::Flag) {
            // Its own root must not be the flag, or nothing would flow there.
            pieces[main].into[at] += from;
            pieces[main].exits.retain(|(kind, _)| *kind != Exit::Flag);
        }
    }
    // From the far end of a rail towards its supply.
    let mut beyond = 0.0;
    for piece in pieces.iter_mut().rev() {
        if let Some(at) = piece.exit(Exit::After) {
            piece.into[at] += beyond;
        }
        if piece.has(Exit::Before) {
            beyond = piece.net();
        } else if piece.has(Exit::After) {
            beyond = 0.0;
        }
    }
}

/// Strokes of one wire, sorted into what hangs together.
fn apart(sheet: usize, strokes: &[Stretch]) -> Vec<Piece> {
    let mut points: Vec<Point> = Vec::new();
    let mut index = |at: Point| {
        let known = points.iter().position(|other| near(*other, at, SAME));
        known.unwrap_or_else(|| {
            points.push(at);
            points.len() - 1
        })
    };
    let edges: Vec<(usize, usize)> =
        strokes.iter().map(|(a, b)| (index(*a), index(*b))).filter(|(a, b)| a != b).collect();
    let mut group: Vec<usize> = (0..points.len()).collect();
    for (a, b) in &edges {
        let (old, new) = (group[*a], group[*b]);
        group.iter_mut().filter(|it| **it == old).for_each(|it| *it = new);
    }
    let mut names = group.clone();
    names.sort_unstable();
    names.dedup();
    let of = |name: usize| {
        let own: Vec<usize> = (0..points.len()).filter(|at| group[*at] == name).collect();
        let place = |at: &usize| own.iter().position(|other| other == at);
        Piece {
            sheet,
            points: own.iter().map(|at| points[*at]).collect(),
            edges: edges.iter().filter_map(|(a, b)| Some((place(a)?, place(b)?))).collect(),
            into: vec![0.0; own.len()],
            exits: Vec::new(),
        }
    };
    names.into_iter().map(of).collect()
}

/// Notes the poles and flags at which wires go on.
fn exits(sheet: &Sheet, scheme: &Scheme, here: &mut BTreeMap<NodeId, Vec<Piece>>) {
    let mut note = |node: NodeId, at: Point, kind: Exit| {
        for piece in here.get_mut(&node).into_iter().flatten() {
            if let Some(point) = piece.nearest(at) {
                piece.exits.push((kind, point));
                break;
            }
        }
    };
    for group in &sheet.items {
        match group.role {
            Role::Wire(node) if group.id.starts_with("pole-") => {
                if let Some(Shape::Circle { centre, .. }) = group.shapes.first() {
                    note(node, *centre, Exit::Pole);
                }
            }
            Role::Flag(node) => {
                for (at, _) in group.shapes.iter().filter_map(flag_ends).flatten() {
                    note(node, at, Exit::Flag);
                }
            }
            Role::Circuit(circuit) => {
                let circuit = &scheme.circuits[circuit];
                let rails = [circuit.plus, circuit.minus, circuit.feed.from, circuit.back.to];
                for (at, begins) in group.shapes.iter().filter_map(flag_ends).flatten() {
                    let kind = if begins { Exit::Before } else { Exit::After };
                    rails.iter().for_each(|node| note(*node, at, kind));
                }
            }
            _ => {}
        }
    }
}

/// Where a wire may meet a flag, and whether it begins there (behind the flag) or ends there.
pub fn flag_ends(shape: &Shape) -> Option<[(Point, bool); 4]> {
    let Shape::Line { closed: true, points, .. } = shape else { return None };
    if points.len() != 5 {
        return None;
    }
    let Area { left, top, right, bottom } = shape.area();
    let (x, y) = ((left + right) / 2.0, (top + bottom) / 2.0);
    Some([
        (point(left, y), false),
        (point(x, top), false),
        (point(right, y), true),
        (point(x, bottom), true),
    ])
}
