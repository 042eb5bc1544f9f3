//! What conducts without a load: from the poles of a supply outwards.
//!
//! **In:** a scheme on the bench. **Out:** the way of least resistance from a pole to a wire, with
//! every contact closed; which wires a pole still reaches when a fuse is out. **Never here:**
//! currents, times.

use fiftytwo_circuit::bench::{Bench, Warmth};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// One more part on a way counts as so much resistance when ways are compared, ohm: of two ways
/// alike the one with fewer parts.
const STEP: f64 = 1e-6;

/// A part between two wires.
struct Edge {
    part: PartId,
    a: usize,
    b: usize,
    /// Without a load.
    conducts: bool,
    cold: f64,
    hot: f64,
}

/// The scheme as a web of conductors.
pub(super) struct Grid {
    /// By node: the wire it belongs to.
    wire: Vec<usize>,
    edges: Vec<Edge>,
    around: Vec<Vec<usize>>,
}

/// Cores that join the same two wires always conduct together: on a way each counts with the resistance of
/// all of them side by side.
fn share_side_by_side(scheme: &Scheme, edges: &mut [Edge]) {
    let mut siemens: BTreeMap<(usize, usize), (f64, f64, usize)> = BTreeMap::new();
    let is_core =
        |edge: &Edge| edge.cold > 0.0 && matches!(scheme.parts[edge.part].kind, PartKind::Core(_));
    let key = |edge: &Edge| (edge.a.min(edge.b), edge.a.max(edge.b));
    for edge in edges.iter().filter(|edge| is_core(edge)) {
        let sum = siemens.entry(key(edge)).or_insert((0.0, 0.0, 0));
        *sum = (sum.0 + edge.cold.recip(), sum.1 + edge.hot.recip(), sum.2 + 1);
    }
    for edge in edges.iter_mut().filter(|edge| is_core(edge)) {
        if let Some((cold, hot, 2..)) = siemens.get(&key(edge)) {
            (edge.cold, edge.hot) = (cold.recip(), hot.recip());
        }
    }
}

/// A way from a pole.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Path {
    /// The parts, from the pole outwards.
    pub(super) parts: Vec<PartId>,
    /// Least and greatest resistance, ohm.
    pub(super) cold: f64,
    pub(super) hot: f64,
}

impl Grid {
    pub(super) fn new(scheme: &Scheme, bench: &Bench<'_>) -> Self {
        let mut wire: Vec<usize> = (0..scheme.nodes.len()).collect();
        for (a, b) in scheme.plain_wires() {
            join(&mut wire, a.index(), b.index());
        }
        let mut edges = Vec::new();
        for (part, data) in scheme.placed() {
            let Some(at) = data.at else { continue };
            let (a, b) = (at.from.index(), at.to.index());
            let ohm = |warmth| bench.ohm(part, warmth).unwrap_or(0.0);
            let (conducts, cold, hot) = match &data.kind {
                PartKind::Core(_) | PartKind::Element { .. } => {
                    (true, ohm(Warmth::Cold), ohm(Warmth::Hot))
                }
                PartKind::Contact(_)
                | PartKind::Link
                | PartKind::Fuse { .. }
                | PartKind::Terminal
                | PartKind::Jumper => (true, 0.0, 0.0),
                PartKind::Capacitor { .. } | PartKind::Varistor(_) | PartKind::Diode(_) => continue,
                _ => (false, 0.0, 0.0),
            };
            edges.push(Edge { part, a, b, conducts, cold, hot });
        }
        let wire: Vec<usize> = (0..wire.len()).map(|node| root(&wire, node)).collect();
        for edge in &mut edges {
            (edge.a, edge.b) = (wire[edge.a], wire[edge.b]);
        }
        share_side_by_side(scheme, &mut edges);
        let mut around = vec![Vec::new(); wire.len()];
        for (index, edge) in edges.iter().enumerate() {
            if edge.a != edge.b {
                around[edge.a].push(index);
                around[edge.b].push(index);
            }
        }
        Self { wire, edges, around }
    }

    /// The wire of a node.
    pub(super) fn wire(&self, node: NodeId) -> usize {
        self.wire[node.index()]
    }

    /// The way of least (hot) resistance from a pole to every wire, without loads, without `but`
    /// and not through `barred` (the other pole).
    pub(super) fn reach(&self, pole: NodeId, barred: NodeId, but: Option<PartId>) -> Reached<'_> {
        let mut best = vec![f64::INFINITY; self.wire.len()];
        let mut came: Vec<Option<usize>> = vec![None; self.wire.len()];
        let (start, barred) = (self.wire(pole), self.wire(barred));
        let mut heap = BinaryHeap::from([(Reverse(Key(0.0)), start)]);
        best[start] = 0.0;
        while let Some((Reverse(Key(cost)), at)) = heap.pop() {
            if cost > best[at] || at == barred {
                continue;
            }
            for &index in &self.around[at] {
                let edge = &self.edges[index];
                if !edge.conducts || Some(edge.part) == but {
                    continue;
                }
                let next = if edge.a == at { edge.b } else { edge.a };
                let cost = cost + edge.hot + STEP;
                if cost < best[next] {
                    best[next] = cost;
                    came[next] = Some(index);
                    heap.push((Reverse(Key(cost)), next));
                }
            }
        }
        Reached { grid: self, best, came, start }
    }

    /// The way of most (hot) resistance from a pole to a wire that no other wire of it meets twice,
    /// without loads and without `but`, not through `barred` (the other pole): with the other
    /// contacts open it may be the only one. None: no way was found. Given up after [`MOST_STEPS`]
    /// steps: then the most of what was followed.
    pub(super) fn longest(
        &self,
        pole: NodeId,
        to: usize,
        barred: NodeId,
        but: PartId,
    ) -> Option<Path> {
        let (start, barred) = (self.wire(pole), self.wire(barred));
        let mut search = Longest {
            grid: self,
            to,
            but,
            seen: vec![false; self.wire.len()],
            edges: Vec::new(),
            best: None,
            steps: 0,
        };
        search.seen[barred] = true;
        search.follow(start, 0.0);
        let (_, edges) = search.best?;
        let mut path = Path { parts: Vec::new(), cold: 0.0, hot: 0.0 };
        edges.iter().for_each(|edge| path.add(&self.edges[*edge]));
        Some(path)
    }

    /// The part as the last of a way.
    pub(super) fn with_last(&self, mut path: Path, part: PartId) -> Path {
        if let Some(edge) = self.edges.iter().find(|edge| edge.part == part) {
            path.add(edge);
        }
        path
    }

    /// The wires that a pole reaches, loads included, without `but`; not those that belong to the other
    /// pole: a load beside one that has lost its own wire does not feed it from there.
    pub(super) fn alive(
        &self,
        pole: NodeId,
        other: &Reached<'_>,
        own: &Reached<'_>,
        but: Option<PartId>,
    ) -> Vec<bool> {
        let mut seen = vec![false; self.wire.len()];
        let start = self.wire(pole);
        let mut stack = vec![start];
        seen[start] = true;
        while let Some(at) = stack.pop() {
            for &index in &self.around[at] {
                let edge = &self.edges[index];
                let next = if edge.a == at { edge.b } else { edge.a };
                let others = other.best[next] < own.best[next];
                if Some(edge.part) != but && !others && !seen[next] {
                    seen[next] = true;
                    stack.push(next);
                }
            }
        }
        seen
    }

    /// Of two wires each: whether some position of the contacts lets current run from pole to pole
    /// through a part between them, without `but`. It can if no single wire keeps both ends from
    /// the poles (Menger: then two ways without a wire in common lead from the ends to the poles).
    pub(super) fn between_poles(
        &self,
        poles: [NodeId; 2],
        ends: &[(usize, usize)],
        but: Option<PartId>,
    ) -> Vec<bool> {
        let mut can: Vec<bool> = ends.iter().map(|(a, b)| a != b).collect();
        for barred in 0..self.wire.len() {
            if self.wire[barred] != barred || !can.contains(&true) {
                continue;
            }
            let seen = self.flood(poles, barred, but);
            let reached = |at: usize| at != barred && seen[at];
            for (can, (a, b)) in can.iter_mut().zip(ends) {
                *can &= reached(*a) || reached(*b);
            }
        }
        can
    }

    /// The wires joined to a pole through anything, not through `barred`.
    fn flood(&self, poles: [NodeId; 2], barred: usize, but: Option<PartId>) -> Vec<bool> {
        let mut seen = vec![false; self.wire.len()];
        let mut stack: Vec<usize> = Vec::new();
        for pole in poles.map(|pole| self.wire(pole)).into_iter().filter(|pole| *pole != barred) {
            seen[pole] = true;
            stack.push(pole);
        }
        while let Some(at) = stack.pop() {
            for &index in &self.around[at] {
                let edge = &self.edges[index];
                let next = if edge.a == at { edge.b } else { edge.a };
                if next != barred && Some(edge.part) != but && !seen[next] {
                    seen[next] = true;
                    stack.push(next);
                }
            }
        }
        seen
    }
}

/// So many parts are looked at for a way of most resistance.
const MOST_STEPS: usize = 20_000;

/// The search for the way of most resistance.
struct Longest<'g> {
    grid: &'g Grid,
    to: usize,
    but: PartId,
    seen: Vec<bool>,
    edges: Vec<usize>,
    best: Option<(f64, Vec<usize>)>,
    steps: usize,
}

impl Longest<'_> {
    fn follow(&mut self, at: usize, hot: f64) {
        if at == self.to {
            // The first of equals: what is written first.
            if self.best.as_ref().is_none_or(|(most, _)| hot > *most + STEP) {
                self.best = Some((hot, self.edges.clone()));
            }
            return;
        }
        self.seen[at] = true;
        for &index in &self.grid.around[at] {
            let edge = &self.grid.edges[index];
            let next = if edge.a == at { edge.b } else { edge.a };
            self.steps += 1;
            if self.steps > MOST_STEPS {
                break;
            }
            if edge.conducts && edge.part != self.but && !self.seen[next] {
                self.edges.push(index);
                self.follow(next, hot + edge.hot);
                self.edges.pop();
            }
        }
        self.seen[at] = false;
    }
}

impl Path {
    fn add(&mut self, edge: &Edge) {
        self.parts.push(edge.part);
        self.cold += edge.cold;
        self.hot += edge.hot;
    }
}

/// Ways from one pole.
pub(super) struct Reached<'g> {
    grid: &'g Grid,
    best: Vec<f64>,
    came: Vec<Option<usize>>,
    start: usize,
}

impl Reached<'_> {
    /// Resistance hot, ohm (a hair more for each part); infinite: not reached.
    pub(super) fn distance(&self, node: NodeId) -> f64 {
        self.best[self.grid.wire(node)]
    }

    /// The way to a node.
    pub(super) fn path(&self, node: NodeId) -> Option<Path> {
        let mut at = self.grid.wire(node);
        if self.best[at].is_infinite() {
            return None;
        }
        let mut path = Path { parts: Vec::new(), cold: 0.0, hot: 0.0 };
        while at != self.start {
            let edge = &self.grid.edges[self.came[at]?];
            path.parts.push(edge.part);
            path.cold += edge.cold;
            path.hot += edge.hot;
            at = if edge.a == at { edge.b } else { edge.a };
        }
        path.parts.reverse();
        Some(path)
    }
}

/// A cost that orders a heap.
#[derive(PartialEq)]
struct Key(f64);

impl Eq for Key {}

impl PartialOrd for Key {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Key {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

fn root(wire: &[usize], mut node: usize) -> usize {
    while wire[node] != node {
        node = wire[node];
    }
    node
}

fn join(wire: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(wire, a), root(wire, b));
    wire[a.max(b)] = a.min(b);
}
