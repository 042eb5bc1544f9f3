//! Why a part is driven, and what bars it.
//!
//! **In:** a section and the positions of its switches. **Out:** the parts along a conducting path
//! from pole to pole; the ways on which a part can be driven; the open contacts on them.
//! **Never here:** volts as a verdict; potentials only tell which way the current runs.

use super::compile::{Edge, EdgeKind, Section};
use super::{Drive, SectionId, Wiring, solve};
use crate::positions::{Positions, Supplies};
use crate::union::Union;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind, Scheme, SupplyId};
use std::collections::{BTreeSet, BinaryHeap};
use std::sync::Arc;

/// How many ways of one part are kept.
pub const MOST_WAYS: usize = 64;
/// How many steps the search for ways of one part may take.
const MOST_STEPS: usize = 50_000;
/// How many parts a way may have on each side of the load.
const MOST_PARTS: usize = 2_000;
/// How many sets of barring contacts are told.
const MOST_BLOCKERS: usize = 8;
/// A coil of so many times less resistance carries the current past another.
const BYPASSES: f64 = 10.0;
/// A load on a path weighs as much as so many contacts and conductors.
const LOAD_COST: u64 = 1_000_000;

/// A way on which a load can be driven: from the plus of a supply to its minus, through no other
/// load but for what [`Ways`] says. What conductors and fuses alone join to a pole is that pole: a
/// way that has come there ends there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// The supply.
    pub supply: SupplyId,
    /// Contacts, fuses, conductors, diodes and the load itself, from plus to minus. Terminals and
    /// jumpers are left out.
    pub parts: Vec<PartId>,
    /// The switches of the way, closed; all others open.
    pub closed: Positions,
    /// Diodes that bar the way: they stand against its current. Empty but for
    /// [`Wiring::ways_against_diodes`].
    pub against: Vec<PartId>,
}

/// The ways of a load, the shortest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ways {
    /// The ways.
    pub list: Vec<Way>,
    /// False: there are more than were followed.
    pub complete: bool,
    /// No way is free of resistors, so these pass through resistors.
    pub through_resistors: bool,
    /// These pass through other coils too, as through a target relay in series.
    pub through_coils: bool,
}

/// What a way may lead through beside contacts, fuses and conductors.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Through {
    pub(super) resistors: bool,
    pub(super) coils: bool,
    /// Varistors, heaters, motors and feeds.
    pub(super) others: bool,
    /// Diodes from cathode to anode.
    pub(super) against_diodes: bool,
}

impl Wiring<'_> {
    /// The parts along a shortest path on which current runs from a pole of a living supply through
    /// `part` to another pole, in that order, terminals included. Paths with fewer other loads come
    /// first, then those with fewer parts. Empty if the part carries no current.
    pub fn path(
        &self,
        section: SectionId,
        key: &Positions,
        live: Supplies,
        part: PartId,
    ) -> Vec<PartId> {
        let compiled = &self.sections[section.index()];
        let live = live.only(compiled.supplies());
        let Some(through) = compiled.edges.iter().find(|edge| edge.part == part) else {
            return Vec::new();
        };
        let Some(volts) = solve::potentials(self.scheme, compiled, key, live) else {
            return Vec::new();
        };
        let (a, b) = (through.a, through.b);
        let across = volts.at(compiled.solved[a]) - volts.at(compiled.solved[b]);
        if across.is_nan() || across.abs() <= volts.keeps {
            return Vec::new();
        }
        let (upper, lower) = if across > 0.0 { (a, b) } else { (b, a) };
        let search = Search { section: compiled, key, live, volts: &volts, through: part };
        let (Some(mut path), Some(below)) =
            (search.to_pole(upper, 1.0), search.to_pole(lower, -1.0))
        else {
            return Vec::new();
        };
        path.reverse();
        path.push(part);
        path.extend(below);
        path
    }

    /// For a load that is not driven: the open contacts, links and fuses that bar its nearest ways,
    /// one set for each way, those with the fewest only. Empty if a way is whole, or if there is
    /// none at all.
    pub fn blockers(&self, section: SectionId, key: &Positions, part: PartId) -> Vec<Vec<PartId>> {
        let switches = self.switches(section);
        let mut sets: Vec<Vec<PartId>> = Vec::new();
        for way in &self.ways(part).list {
            let open: Vec<PartId> = way
                .parts
                .iter()
                .copied()
                .filter(|part| {
                    let bit = switches.iter().position(|switch| switch == part);
                    bit.is_some_and(|bit| !key.is_closed(bit))
                })
                .collect();
            if !sets.contains(&open) {
                sets.push(open);
            }
        }
        let fewest = sets.iter().map(Vec::len).min().unwrap_or(0);
        if fewest == 0 {
            return Vec::new();
        }
        sets.retain(|set| set.len() == fewest);
        sets.truncate(MOST_BLOCKERS);
        sets
    }

    /// The ways on which a load can be driven, at most [`MOST_WAYS`]. A resistor counts as a load
    /// unless every way passes through one; for a coil, another coil in series does too.
    pub fn ways(&self, part: PartId) -> Arc<Ways> {
        let found = self.ways.get(part.index()).map(|known| {
            Arc::clone(known.get_or_init(|| {
                let free = self.follow(part, Through::default());
                if !free.list.is_empty() {
                    return Arc::new(free);
                }
                let resistors =
                    self.follow(part, Through { resistors: true, ..Through::default() });
                if !resistors.list.is_empty() || !is_coil(self.scheme, part) {
                    return Arc::new(resistors);
                }
                let through = Through { resistors: true, coils: true, ..Through::default() };
                Arc::new(self.follow(part, through))
            }))
        });
        found.unwrap_or_default()
    }

    /// Of a coil the ways that lead through another coil in series, beside those of
    /// [`Wiring::ways`]: a free way by one contact says nothing of the volts by another. Empty where
    /// those lead through coils anyway.
    pub fn ways_through_coils(&self, coil: PartId) -> Ways {
        let known = self.ways(coil);
        if known.through_coils || !is_coil(self.scheme, coil) {
            return Ways::default();
        }
        let resistors = known.through_resistors;
        let through = Through { resistors, coils: true, ..Through::default() };
        let mut ways = self.follow(coil, through);
        ways.list.retain(|way| {
            way.parts.iter().any(|part| *part != coil && is_coil(self.scheme, *part))
        });
        ways
    }

    /// Of a coil the ways that lead through resistors: those of [`Wiring::ways`] where none is free,
    /// else those beside the free ones.
    pub fn ways_through_resistors(&self, coil: PartId) -> Ways {
        let known = self.ways(coil);
        let mut ways = if known.through_resistors || known.through_coils {
            known.as_ref().clone()
        } else {
            self.follow(coil, Through { resistors: true, ..Through::default() })
        };
        ways.list.retain(|way| {
            let resistor =
                |part: &PartId| matches!(self.scheme.parts[*part].kind, PartKind::Resistor { .. });
            way.parts.iter().any(resistor)
        });
        ways
    }

    /// Of a coil without ways: those it would have if current could pass diodes backwards.
    pub fn ways_against_diodes(&self, coil: PartId) -> Ways {
        if !self.ways(coil).list.is_empty() {
            return Ways::default();
        }
        let through = Through { resistors: true, coils: true, against_diodes: true, others: false };
        self.follow(coil, through)
    }

    pub(super) fn follow(&self, part: PartId, through: Through) -> Ways {
        let Some(section) = self.section_of(part) else { return Ways::default() };
        let section = &self.sections[section.index()];
        match section.edges.iter().position(|edge| edge.part == part) {
            Some(load) => Follow::all(self.scheme, section, load, through),
            None => Ways::default(),
        }
    }
}

impl Default for Ways {
    fn default() -> Self {
        Self { list: Vec::new(), complete: true, through_resistors: false, through_coils: false }
    }
}

fn is_coil(scheme: &Scheme, part: PartId) -> bool {
    matches!(scheme.parts[part].kind, PartKind::Coil(_))
}

struct Search<'a> {
    section: &'a Section,
    key: &'a Positions,
    live: Supplies,
    volts: &'a solve::Volts,
    through: PartId,
}

impl Search<'_> {
    /// Cheapest way from a node along falling (`down` = -1) or rising (1) potential to a pole.
    fn to_pole(&self, from: usize, up: f64) -> Option<Vec<PartId>> {
        let section = self.section;
        let nodes = section.solved.len();
        let poles: BTreeSet<usize> = section
            .feeds
            .iter()
            .filter(|feed| self.live.lives(feed.supply))
            .flat_map(|feed| [feed.plus_at, feed.minus_at])
            .collect();
        let mut best = vec![u64::MAX; nodes];
        let mut came: Vec<Option<(usize, PartId)>> = vec![None; nodes];
        let mut heap = BinaryHeap::from([(std::cmp::Reverse(0_u64), from)]);
        best[from] = 0;
        while let Some((std::cmp::Reverse(cost), node)) = heap.pop() {
            if cost > best[node] {
                continue;
            }
            if poles.contains(&node) {
                return Some(back_to(&came, node));
            }
            for edge in section.edges.iter().filter(|edge| edge.part != self.through) {
                let Some(next) = other_end(edge, node) else { continue };
                let Some(step) = self.cost(edge, node, next, up) else { continue };
                if cost + step < best[next] {
                    best[next] = cost + step;
                    came[next] = Some((node, edge.part));
                    heap.push((std::cmp::Reverse(cost + step), next));
                }
            }
        }
        None
    }

    fn cost(&self, edge: &Edge, from: usize, to: usize, up: f64) -> Option<u64> {
        let volt = |node: usize| self.volts.at(self.section.solved[node]);
        let rise = (volt(to) - volt(from)) * up;
        if rise.is_nan() || rise < -self.volts.keeps {
            return None;
        }
        match edge.kind {
            EdgeKind::Wire | EdgeKind::Core { .. } => Some(1),
            EdgeKind::Switch(bit) => self.key.is_closed(bit).then_some(1),
            // Down the leg only: seen from the load upwards, from cathode to anode.
            EdgeKind::Diode(_) => ((edge.b == from) == (up > 0.0)).then_some(1),
            EdgeKind::Load { .. } | EdgeKind::Bent { .. } | EdgeKind::Unknown { .. } => {
                (rise > self.volts.keeps).then_some(LOAD_COST)
            }
            EdgeKind::Open => None,
        }
    }
}

fn back_to(came: &[Option<(usize, PartId)>], from: usize) -> Vec<PartId> {
    let mut parts = Vec::new();
    let mut at = from;
    while let Some((before, part)) = came[at] {
        parts.push(part);
        at = before;
    }
    parts.reverse();
    parts
}

fn other_end(edge: &Edge, node: usize) -> Option<usize> {
    if edge.a == edge.b {
        None
    } else if edge.a == node {
        Some(edge.b)
    } else {
        (edge.b == node).then_some(edge.a)
    }
}

/// Follows all simple ways of a load.
struct Follow<'a> {
    scheme: &'a Scheme,
    section: &'a Section,
    load: usize,
    through: Through,
    visited: Vec<bool>,
    steps: usize,
    too_long: bool,
    list: Vec<Way>,
    /// What is joined to the plus and to the minus of the feed that is followed.
    rails: [Vec<bool>; 2],
}

/// What wires, conductors and fuses alone join to a pole.
fn rail(scheme: &Scheme, section: &Section, pole: usize) -> Vec<bool> {
    let mut seen = vec![false; section.nodes];
    let mut open = vec![pole];
    while let Some(node) = open.pop() {
        if std::mem::replace(&mut seen[node], true) {
            continue;
        }
        for edge in section.around[node].iter().map(|index| &section.edges[*index]) {
            let joins = match edge.kind {
                EdgeKind::Wire | EdgeKind::Core { .. } => true,
                EdgeKind::Switch(_) => {
                    matches!(scheme.parts[edge.part].kind, PartKind::Fuse { .. })
                }
                _ => false,
            };
            let (a, b) = section.ends(edge);
            if joins {
                open.push(if a == node { b } else { a });
            }
        }
    }
    seen
}

impl<'a> Follow<'a> {
    fn all(scheme: &'a Scheme, section: &'a Section, load: usize, through: Through) -> Ways {
        let visited = vec![false; section.nodes];
        let list = Vec::new();
        let rails = [Vec::new(), Vec::new()];
        let mut follow = Self {
            scheme,
            section,
            load,
            through,
            visited,
            steps: 0,
            too_long: false,
            list,
            rails,
        };
        let (a, b) = section.ends(&section.edges[load]);
        for (index, feed) in section.feeds.iter().enumerate() {
            follow.rails = [feed.plus, feed.minus].map(|pole| rail(scheme, section, pole));
            for (upper, lower) in [(a, b), (b, a)] {
                follow.visited[lower] = true;
                follow.up(index, upper, lower, feed.plus, &mut Vec::new());
                follow.visited[lower] = false;
            }
        }
        let complete =
            follow.steps < MOST_STEPS && follow.list.len() <= MOST_WAYS && !follow.too_long;
        let mut list = follow.list;
        list.sort_by_key(|way| way.parts.len());
        list.truncate(MOST_WAYS);
        Ways { list, complete, through_resistors: through.resistors, through_coils: through.coils }
    }

    fn up(&mut self, feed: usize, node: usize, lower: usize, plus: usize, above: &mut Vec<usize>) {
        // The lower end itself is marked so that the upper piece can't run through it.
        if node == plus {
            let minus = self.section.feeds[feed].minus;
            self.visited[node] = true;
            let from_plus: Vec<usize> = above.iter().rev().copied().collect();
            self.visited[lower] = false;
            self.down(feed, lower, minus, &from_plus, &mut Vec::new());
            self.visited[lower] = true;
            self.visited[node] = false;
            return;
        }
        if self.is_pole(node) || self.visited[node] || self.rails[1][node] {
            return;
        }
        self.visited[node] = true;
        for &index in &self.section.around[node] {
            if let Some(next) = self.step(index, node, true, above.len()) {
                above.push(index);
                self.up(feed, next, lower, plus, above);
                above.pop();
            }
        }
        self.visited[node] = false;
    }

    fn down(
        &mut self,
        feed: usize,
        node: usize,
        minus: usize,
        above: &[usize],
        below: &mut Vec<usize>,
    ) {
        if node == minus {
            self.keep(feed, above, below);
            return;
        }
        if self.is_pole(node) || self.visited[node] || self.rails[0][node] {
            return;
        }
        self.visited[node] = true;
        for &index in &self.section.around[node] {
            if let Some(next) = self.step(index, node, false, below.len()) {
                below.push(index);
                self.down(feed, next, minus, above, below);
                below.pop();
            }
        }
        self.visited[node] = false;
    }

    fn is_pole(&self, node: usize) -> bool {
        self.section.poles.binary_search(&node).is_ok()
    }

    fn step(&mut self, index: usize, node: usize, up: bool, so_far: usize) -> Option<usize> {
        self.steps += 1;
        if so_far >= MOST_PARTS {
            self.too_long = true;
            return None;
        }
        if self.steps >= MOST_STEPS || self.list.len() > 4 * MOST_WAYS {
            return None;
        }
        let edge = &self.section.edges[index];
        let (a, b) = self.section.ends(edge);
        let next = if a == node { b } else { a };
        let rail = &self.rails[usize::from(!up)];
        if rail[node] && !rail[next] {
            return None;
        }
        let passes = match edge.kind {
            _ if index == self.load => false,
            EdgeKind::Wire | EdgeKind::Core { .. } | EdgeKind::Switch(_) => true,
            EdgeKind::Diode(_) => self.through.against_diodes || (b == node) == up,
            EdgeKind::Load { .. } | EdgeKind::Unknown { .. } | EdgeKind::Bent { .. } => {
                match self.scheme.parts[edge.part].kind {
                    PartKind::Coil(_) => self.through.coils,
                    PartKind::Resistor { .. } => self.through.resistors,
                    PartKind::Heater { .. } => self.through.resistors,
                    PartKind::Varistor(_) | PartKind::Motor(_) | PartKind::Power { .. } => {
                        self.through.others
                    }
                    _ => false,
                }
            }
            _ => false,
        };
        (passes && !self.visited[next]).then_some(next)
    }

    fn keep(&mut self, feed: usize, above: &[usize], below: &[usize]) {
        let edges = above.iter().chain([&self.load]).chain(below);
        let mut closed = Positions::OPEN;
        let mut parts = Vec::new();
        let mut against = Vec::new();
        let mut at = self.section.feeds[feed].plus;
        for &index in edges {
            let edge = &self.section.edges[index];
            let (a, b) = self.section.ends(edge);
            parts.push(edge.part);
            if matches!(edge.kind, EdgeKind::Diode(_)) && a != at {
                against.push(edge.part);
            }
            at = if a == at { b } else { a };
            if let EdgeKind::Switch(bit) = edge.kind {
                closed.set(bit, true);
            }
        }
        let supply = self.section.feeds[feed].supply;
        self.list.push(Way { supply, parts, closed, against });
    }
}

impl Wiring<'_> {
    /// The positions of a way with every other switch closed too, but for those that would join
    /// the two poles, or the two ends of the load or of a coil in series with it, by contacts and
    /// conductors alone.
    pub fn with_other_loads(&self, section: SectionId, way: &Way, load: PartId) -> Positions {
        let compiled = &self.sections[section.index()];
        let mut union = Union::new(compiled.nodes);
        let ends = |part: PartId| {
            let edge = compiled.edges.iter().find(|edge| edge.part == part);
            edge.map(|edge| compiled.ends(edge))
        };
        for edge in &compiled.edges {
            let (a, b) = compiled.ends(edge);
            let joins = match edge.kind {
                EdgeKind::Core { .. } => true,
                EdgeKind::Switch(bit) => way.closed.is_closed(bit),
                _ => false,
            };
            if joins {
                union.join(a, b, 0.0);
            }
        }
        let mut apart: Vec<(usize, usize)> =
            compiled.feeds.iter().map(|feed| (feed.plus, feed.minus)).collect();
        apart.extend(ends(load));
        let in_series = way.parts.iter().filter(|part| is_coil(self.scheme, **part));
        apart.extend(in_series.clone().filter_map(|part| ends(*part)));
        // A target relay in series may carry the order past a relay that watches: that is the
        // order, not a load beside it.
        let series = in_series.clone().any(|part| *part != load);
        let ohms = self.ohms(section, load);
        let bypasses = |edge: &&Edge| match (edge.kind, ohms) {
            (EdgeKind::Load { hi, .. }, Some((lo, _))) => {
                series
                    && is_coil(self.scheme, edge.part)
                    && !way.parts.contains(&edge.part)
                    && BYPASSES * hi < lo
            }
            _ => false,
        };
        let mut past = union.clone();
        for edge in compiled.edges.iter().filter(bypasses) {
            let (a, b) = compiled.ends(edge);
            past.join(a, b, 0.0);
        }
        let of_load = ends(load);
        let mut closed = way.closed;
        for (bit, &part) in compiled.switches.iter().enumerate() {
            let Some((a, b)) = ends(part) else { continue };
            if closed.is_closed(bit) {
                continue;
            }
            let mut trial = union.clone();
            trial.join(a, b, 0.0);
            let mut trial_past = past.clone();
            trial_past.join(a, b, 0.0);
            if apart.iter().all(|&(a, b)| trial.root(a) != trial.root(b))
                && of_load.is_none_or(|(a, b)| trial_past.root(a) != trial_past.root(b))
            {
                union = trial;
                past = trial_past;
                closed.set(bit, true);
            }
        }
        closed
    }

    /// The least and greatest resistance of a load over its temperatures, ohm; none if it is not
    /// declared.
    pub fn ohms(&self, section: SectionId, load: PartId) -> Option<(f64, f64)> {
        let compiled = &self.sections[section.index()];
        compiled.edges.iter().find(|edge| edge.part == load).and_then(|edge| match edge.kind {
            EdgeKind::Load { lo, hi, .. } | EdgeKind::Core { lo, hi } => Some((lo, hi)),
            _ => None,
        })
    }

    /// The most that the other sections draw from a supply of this section, A: every load they have
    /// at once, supply at its highest.
    pub fn others_at_most(&self, section: SectionId, supply: SupplyId) -> f64 {
        let compiled = &self.sections[section.index()];
        let others = self.others(section, compiled);
        let of_supply = compiled.feeds.iter().zip(others).filter(|(feed, _)| feed.supply == supply);
        of_supply.map(|(_, ampere)| ampere).sum()
    }

    /// As [`Wiring::drive_afresh`] with nothing else on the supplies of the section.
    pub fn drive_without_others(&self, section: SectionId, key: &Positions) -> Vec<Drive> {
        let compiled = &self.sections[section.index()];
        let nothing = vec![0.0; compiled.feeds.len()];
        let live = Supplies::ALL.only(compiled.supplies());
        solve::drives(self.scheme, compiled, key, live, &nothing)
    }

    /// The diodes that conduct from pole to pole beside the load of a way with these switches
    /// closed: conductors, contacts and other coils of the way join their anodes to plus and their
    /// cathodes to minus.
    pub fn diodes_beside(
        &self,
        section: SectionId,
        way: &Way,
        load: PartId,
        key: &Positions,
    ) -> Vec<PartId> {
        let compiled = &self.sections[section.index()];
        let Some(feed) = compiled.feeds.iter().find(|feed| feed.supply == way.supply) else {
            return Vec::new();
        };
        let mut union = Union::new(compiled.nodes);
        for edge in &compiled.edges {
            let (a, b) = compiled.ends(edge);
            let joins = match edge.kind {
                EdgeKind::Core { .. } => true,
                EdgeKind::Switch(bit) => key.is_closed(bit),
                _ => edge.part != load && way.parts.contains(&edge.part),
            };
            if joins {
                union.join(a, b, 0.0);
            }
        }
        let (plus, minus) = (union.root(feed.plus), union.root(feed.minus));
        if plus == minus {
            return Vec::new();
        }
        let diodes = compiled.edges.iter().filter(|edge| matches!(edge.kind, EdgeKind::Diode(_)));
        diodes
            .filter(|edge| {
                let (a, b) = compiled.ends(edge);
                union.root(a) == plus && union.root(b) == minus
            })
            .map(|edge| edge.part)
            .collect()
    }
}
