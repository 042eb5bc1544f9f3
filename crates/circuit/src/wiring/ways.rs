//! Why a part is driven, and what bars it.
//!
//! **In:** a section and the positions of its switches. **Out:** the parts along a conducting path
//! from pole to pole; the ways on which a part can be driven; the open contacts on them.
//! **Never here:** volts as a verdict; potentials only tell which way the current runs.

use super::compile::{Edge, EdgeKind, Section};
use super::{SectionId, Wiring, solve};
use crate::positions::{Positions, Supplies};
use crate::union::Union;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, SupplyId};
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
/// A load on a path weighs as much as so many contacts and conductors.
const LOAD_COST: u64 = 1_000_000;

/// A way on which a load can be driven: from the plus of a supply to its minus, through no other
/// load.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// The supply.
    pub supply: SupplyId,
    /// Contacts, fuses, conductors, diodes and the load itself, from plus to minus. Terminals and
    /// jumpers are left out.
    pub parts: Vec<PartId>,
    /// The switches of the way, closed; all others open.
    pub closed: Positions,
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
    /// unless every way passes through one.
    pub fn ways(&self, part: PartId) -> Arc<Ways> {
        let found = self.ways.get(part.index()).map(|known| {
            let section = self.section_of(part).map(|id| &self.sections[id.index()]);
            Arc::clone(known.get_or_init(|| Arc::new(ways(section, part))))
        });
        found.unwrap_or_else(|| Arc::new(ways(None, part)))
    }
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

fn ways(section: Option<&Section>, part: PartId) -> Ways {
    let none = Ways { list: Vec::new(), complete: true, through_resistors: false };
    let Some(section) = section else { return none };
    let Some(load) = section.edges.iter().position(|edge| edge.part == part) else { return none };
    let free_of_resistors = Follow::all(section, load, false);
    if free_of_resistors.list.is_empty() {
        Follow::all(section, load, true)
    } else {
        free_of_resistors
    }
}

/// Follows all simple ways of a load.
struct Follow<'a> {
    section: &'a Section,
    load: usize,
    resistors: bool,
    visited: Vec<bool>,
    steps: usize,
    too_long: bool,
    list: Vec<Way>,
}

impl<'a> Follow<'a> {
    fn all(section: &'a Section, load: usize, resistors: bool) -> Ways {
        let visited = vec![false; section.nodes];
        let mut follow =
            Self { section, load, resistors, visited, steps: 0, too_long: false, list: Vec::new() };
        let (a, b) = section.ends(&section.edges[load]);
        for (index, feed) in section.feeds.iter().enumerate() {
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
        Ways { list, complete, through_resistors: resistors }
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
        if self.is_pole(node) || self.visited[node] {
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
        if self.is_pole(node) || self.visited[node] {
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
        let passes = match edge.kind {
            _ if index == self.load => false,
            EdgeKind::Wire | EdgeKind::Core { .. } | EdgeKind::Switch(_) => true,
            EdgeKind::Diode(_) => (b == node) == up,
            EdgeKind::Load { drive: None, .. } => self.resistors,
            _ => false,
        };
        (passes && !self.visited[next]).then_some(next)
    }

    fn keep(&mut self, feed: usize, above: &[usize], below: &[usize]) {
        let edges = above.iter().chain([&self.load]).chain(below);
        let mut closed = Positions::OPEN;
        let mut parts = Vec::new();
        for &index in edges {
            let edge = &self.section.edges[index];
            parts.push(edge.part);
            if let EdgeKind::Switch(bit) = edge.kind {
                closed.set(bit, true);
            }
        }
        self.list.push(Way { supply: self.section.feeds[feed].supply, parts, closed });
    }
}

impl Wiring<'_> {
    /// The positions of a way with every other switch closed too, but for those that would join
    /// the two poles, or the two ends of the load, by contacts and conductors alone.
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
        let mut closed = way.closed;
        for (bit, &part) in compiled.switches.iter().enumerate() {
            let Some((a, b)) = ends(part) else { continue };
            if closed.is_closed(bit) {
                continue;
            }
            let mut trial = union.clone();
            trial.join(a, b, 0.0);
            if apart.iter().all(|&(a, b)| trial.root(a) != trial.root(b)) {
                union = trial;
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
}
