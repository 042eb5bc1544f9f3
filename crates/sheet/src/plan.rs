//! From circuit to columns. **In:** the legs of a circuit (or some of them). **Out:** runs:
//! chains of parts that stand in one column, top to bottom. **Never here:** millimetres.
//!
//! The first way of every `parallel` goes on in the column of its leg; every other way gets a
//! column of its own to the right. So one straight line leads from plus to the main load, and
//! what the source names first is the main way.

use fiftytwo_scheme::{Chain, CircuitId, LegId, NodeId, PartId, Scheme, Step, Strand};
use std::collections::{BTreeMap, BTreeSet};

/// Parts in one column.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The leg it belongs to; none: feed or return.
    pub leg: Option<LegId>,
    /// The nodes along it, top first: one more than parts.
    pub nodes: Vec<NodeId>,
    /// The parts, top first.
    pub parts: Vec<PartId>,
    /// Whether it is drawn against the written order.
    pub flipped: bool,
    /// Begins and ends on the same wire: its lower end is drawn as a flag.
    pub looped: bool,
}

impl Run {
    /// The node at the top.
    pub fn top(&self) -> NodeId {
        self.nodes[0]
    }
    /// The node at the bottom.
    pub fn bottom(&self) -> NodeId {
        self.nodes[self.nodes.len() - 1]
    }
    /// Whether it has a tap on the node that must be drawn.
    pub fn touches(&self, node: NodeId) -> bool {
        let last = if self.looped { self.nodes.len() - 1 } else { self.nodes.len() };
        self.nodes[..last].contains(&node)
    }
    fn turn_over(&mut self) {
        self.nodes.reverse();
        self.parts.reverse();
        self.flipped = !self.flipped;
    }
}

/// The columns of one leg.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// The leg; none: a jumper, or a feed or return that is no plain string.
    pub leg: Option<LegId>,
    /// The part, if it stands in no leg (a jumper).
    pub loose: Option<PartId>,
    /// Place among the legs of the circuit, as written.
    pub written: usize,
    /// Its runs, left to right.
    pub runs: Vec<Run>,
    /// The column of each run, counted from the first of the leg.
    pub columns: Vec<usize>,
}

impl Unit {
    fn new(leg: Option<LegId>, written: usize, runs: Vec<Run>) -> Self {
        Self { leg, loose: None, written, columns: (0..runs.len()).collect(), runs }
    }
    /// How many columns it takes.
    pub fn width(&self) -> usize {
        self.columns.iter().max().map_or(1, |last| last + 1)
    }
}

/// A circuit in columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The circuit.
    pub circuit: CircuitId,
    /// The node of the upper rail.
    pub plus: NodeId,
    /// The node of the lower rail.
    pub minus: NodeId,
    /// Parts between supply and upper rail, drawn lying on it.
    pub feed: Vec<PartId>,
    /// Parts between lower rail and supply, drawn lying on it, rail first.
    pub back: Vec<PartId>,
    /// Whether feed and return belong to it.
    pub ends: bool,
    /// Its legs, left to right.
    pub units: Vec<Unit>,
    /// Nodes with taps outside this plan.
    pub outside: BTreeSet<NodeId>,
}

impl Plan {
    /// All columns, left to right.
    pub fn runs(&self) -> impl Iterator<Item = &Run> {
        self.units.iter().flat_map(|unit| &unit.runs)
    }
    /// All runs with their columns.
    pub fn columns(&self) -> impl Iterator<Item = (usize, &Run)> {
        let mut first = 0;
        self.units.iter().flat_map(move |unit| {
            let base = first;
            first += unit.width();
            unit.columns.iter().map(move |column| base + column).zip(&unit.runs)
        })
    }
    /// How many columns there are.
    pub fn width(&self) -> usize {
        self.units.iter().map(Unit::width).sum()
    }
    /// Lets ways of one leg share a column where one ends above the other: `span` gives the
    /// first and last level of a run.
    pub fn share_columns(&mut self, span: impl Fn(&Run) -> (usize, usize)) {
        for unit in &mut self.units {
            let mut ends: Vec<usize> = Vec::new();
            let mut columns = Vec::new();
            for run in &unit.runs {
                let (top, bottom) = span(run);
                let free = ends.iter().position(|end| *end < top);
                let column = free.unwrap_or(ends.len());
                match ends.get_mut(column) {
                    Some(end) => *end = bottom,
                    None => ends.push(bottom),
                }
                columns.push(column);
            }
            unit.columns = columns;
        }
    }
    /// Whether a node is one of the rails.
    pub fn is_rail(&self, node: NodeId) -> bool {
        node == self.plus || node == self.minus
    }
}

/// For every node, the legs, feeds and returns that have a tap on it.
pub type Taps = BTreeMap<NodeId, BTreeSet<Tap>>;

/// Who taps a node: a leg, a part that stands in no leg, or (neither) the feed and return of a
/// circuit.
pub type Tap = (CircuitId, Option<LegId>, Option<PartId>);

/// Placed parts that stand neither in a leg nor in feed or return of their circuit: its jumpers.
pub fn loose_parts(scheme: &Scheme) -> BTreeMap<CircuitId, Vec<PartId>> {
    let strung: BTreeSet<PartId> = scheme
        .circuits
        .values()
        .flat_map(|circuit| [&circuit.feed, &circuit.back])
        .flat_map(|strand| runs(scheme, None, strand))
        .flat_map(|run| run.parts)
        .collect();
    let mut loose: BTreeMap<CircuitId, Vec<PartId>> = BTreeMap::new();
    for (id, part) in scheme.placed() {
        if let Some(at) = part.at
            && at.leg.is_none()
            && !strung.contains(&id)
        {
            loose.entry(at.circuit).or_default().push(id);
        }
    }
    loose
}

/// Who taps which node in the whole scheme.
pub fn taps(scheme: &Scheme) -> Taps {
    let mut taps = Taps::new();
    let loose = loose_parts(scheme);
    for (circuit_id, circuit) in scheme.circuits.iter() {
        let mut add = |leg: Option<LegId>, strand: &Strand| {
            for run in runs(scheme, leg, strand) {
                for node in run.nodes {
                    taps.entry(node).or_default().insert((circuit_id, leg, None));
                }
            }
        };
        add(None, &circuit.feed);
        add(None, &circuit.back);
        for leg in &circuit.legs {
            add(Some(*leg), &scheme.legs[*leg].strand);
        }
        for part in loose.get(&circuit_id).into_iter().flatten() {
            for node in scheme.parts[*part].at.iter().flat_map(|at| [at.from, at.to]) {
                taps.entry(node).or_default().insert((circuit_id, None, Some(*part)));
            }
        }
    }
    taps
}

/// What of a circuit is to be drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Share {
    /// The legs, in the order to be drawn.
    pub legs: Vec<LegId>,
    /// The parts that stand in no leg.
    pub loose: Vec<PartId>,
    /// Whether feed and return belong to it.
    pub ends: bool,
}

/// The columns of a circuit, or of a share of it.
pub fn plan(scheme: &Scheme, circuit_id: CircuitId, share: &Share, taps: &Taps) -> Plan {
    let circuit = &scheme.circuits[circuit_id];
    let feed = string(&circuit.feed, circuit.plus, taps, (circuit_id, None, None));
    let back = string(&circuit.back, circuit.minus, taps, (circuit_id, None, None));
    let mut units: Vec<Unit> = Vec::new();
    if feed.is_none() && share.ends {
        units.push(Unit::new(None, 0, runs(scheme, None, &circuit.feed)));
    }
    for leg in &share.legs {
        let written = circuit.legs.iter().position(|other| other == leg).unwrap_or(0) + 1;
        units.push(Unit::new(
            Some(*leg),
            written,
            runs(scheme, Some(*leg), &scheme.legs[*leg].strand),
        ));
    }
    for part in &share.loose {
        let Some(at) = scheme.parts[*part].at else { continue };
        let run = Run {
            leg: None,
            nodes: vec![at.from, at.to],
            parts: vec![*part],
            flipped: false,
            looped: at.from == at.to,
        };
        let unit = Unit::new(None, circuit.legs.len() + 1, vec![run]);
        units.push(Unit { loose: Some(*part), ..unit });
    }
    if back.is_none() && share.ends {
        units.push(Unit::new(None, circuit.legs.len() + 1, runs(scheme, None, &circuit.back)));
    }
    let plus = if feed.is_some() { circuit.plus } else { circuit.feed.from };
    let minus = if back.is_some() { circuit.minus } else { circuit.back.to };
    units.iter_mut().for_each(|unit| unit.runs.retain(|run| !run.parts.is_empty()));
    units.retain(|unit| !unit.runs.is_empty());
    orient(plus, minus, &mut units);
    let mut plan = Plan {
        circuit: circuit_id,
        plus,
        minus,
        feed: feed.filter(|_| share.ends).unwrap_or_default(),
        back: back.filter(|_| share.ends).unwrap_or_default(),
        ends: share.ends,
        units,
        outside: BTreeSet::new(),
    };
    plan.outside = outside(&plan, taps);
    plan
}

fn outside(plan: &Plan, taps: &Taps) -> BTreeSet<NodeId> {
    let inside: BTreeSet<Tap> =
        plan.units.iter().map(|unit| (plan.circuit, unit.leg, unit.loose)).collect();
    let drawn: BTreeSet<NodeId> = plan.runs().flat_map(|run| run.nodes.clone()).collect();
    let looped = plan.runs().filter(|run| run.looped).map(Run::bottom);
    let mut outside: BTreeSet<NodeId> = drawn
        .into_iter()
        .filter(|node| !plan.is_rail(*node))
        .filter(|node| {
            taps.get(node).is_some_and(|all| all.iter().any(|tap| !inside.contains(tap)))
        })
        .collect();
    outside.extend(looped.filter(|node| !plan.is_rail(*node)));
    outside
}

/// The parts of a strand that is a plain string with no taps of others in between.
fn string(strand: &Strand, rail: NodeId, taps: &Taps, own: Tap) -> Option<Vec<PartId>> {
    let mut parts = Vec::new();
    for step in &strand.chain.steps {
        match step {
            Step::Part(part) => parts.push(*part),
            Step::Wire(node) => {
                let ends = [strand.from, strand.to, rail];
                let tapped = taps.get(node).is_some_and(|all| all.iter().any(|tap| *tap != own));
                if tapped && !ends.contains(node) {
                    return None;
                }
            }
            Step::Parallel(_) => return None,
        }
    }
    Some(parts)
}

/// The columns of a strand: its trunk first, then every other way.
fn runs(scheme: &Scheme, leg: Option<LegId>, strand: &Strand) -> Vec<Run> {
    let (trunk, mut others) = trunk(scheme, leg, &strand.chain, strand.from);
    others.insert(0, trunk);
    others
}

fn trunk(scheme: &Scheme, leg: Option<LegId>, chain: &Chain, from: NodeId) -> (Run, Vec<Run>) {
    let mut run = Run { leg, nodes: vec![from], parts: Vec::new(), flipped: false, looped: false };
    let mut others = Vec::new();
    for step in &chain.steps {
        match step {
            Step::Part(part) => {
                let Some(at) = scheme.parts[*part].at else { continue };
                run.parts.push(*part);
                run.nodes.push(at.to);
            }
            Step::Wire(_) => {}
            Step::Parallel(ways) => {
                let here = run.bottom();
                for (index, way) in ways.iter().enumerate() {
                    let (first, more) = trunk(scheme, leg, way, here);
                    if index == 0 {
                        run.parts.extend(first.parts);
                        run.nodes.extend(first.nodes.into_iter().skip(1));
                    } else {
                        others.push(first);
                    }
                    others.extend(more);
                }
            }
        }
    }
    (run, others)
}

/// Turns runs over, or splits them, until every wire has its taps from above above its taps
/// from below: plus on top, minus at the bottom, no wire above itself.
fn orient(plus: NodeId, minus: NodeId, units: &mut [Unit]) {
    let mut below = Below::default();
    for unit in units {
        let mut placed: Vec<Run> = Vec::new();
        for mut run in std::mem::take(&mut unit.runs) {
            if below.fits(&run, plus, minus) {
                below.add(&run);
                placed.push(run);
                continue;
            }
            run.turn_over();
            if below.fits(&run, plus, minus) {
                below.add(&run);
                placed.push(run);
                continue;
            }
            run.turn_over();
            for mut piece in pieces(&run) {
                if piece.top() == piece.bottom() {
                    piece.looped = true;
                } else {
                    if !below.fits(&piece, plus, minus) {
                        piece.turn_over();
                    }
                    below.add(&piece);
                }
                placed.push(piece);
            }
        }
        unit.columns = (0..placed.len()).collect();
        unit.runs = placed;
    }
}

/// A run cut into its single parts.
fn pieces(run: &Run) -> Vec<Run> {
    run.parts
        .iter()
        .zip(run.nodes.windows(2))
        .map(|(part, ends)| Run {
            leg: run.leg,
            nodes: ends.to_vec(),
            parts: vec![*part],
            flipped: run.flipped,
            looped: false,
        })
        .collect()
}

/// Which nodes stand below which.
#[derive(Default)]
struct Below(BTreeMap<NodeId, BTreeSet<NodeId>>);

impl Below {
    fn fits(&self, run: &Run, plus: NodeId, minus: NodeId) -> bool {
        let distinct: BTreeSet<_> = run.nodes.iter().collect();
        distinct.len() == run.nodes.len()
            && run.nodes.iter().skip(1).all(|node| *node != plus)
            && run.nodes.iter().rev().skip(1).all(|node| *node != minus)
            && run.nodes.iter().enumerate().all(|(index, node)| {
                let above = &run.nodes[..index];
                above.is_empty() || !self.reaches(*node, above)
            })
    }
    fn reaches(&self, from: NodeId, targets: &[NodeId]) -> bool {
        let mut seen = BTreeSet::from([from]);
        let mut open = vec![from];
        while let Some(node) = open.pop() {
            if targets.contains(&node) {
                return true;
            }
            for next in self.0.get(&node).into_iter().flatten() {
                if seen.insert(*next) {
                    open.push(*next);
                }
            }
        }
        false
    }
    fn add(&mut self, run: &Run) {
        for pair in run.nodes.windows(2) {
            if let [upper, lower] = pair {
                self.0.entry(*upper).or_default().insert(*lower);
            }
        }
    }
}
