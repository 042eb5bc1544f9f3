//! One section without curves at one position, with its numbers filled in.

use super::{Reach, Undeclared};
use crate::elimination::{Potentials, Work};
use crate::positions::Positions;
use crate::union::Union;
use crate::wiring::compile::{Edge, EdgeKind, Feed, Section};

pub(super) struct Stamped<'a> {
    pub(super) section: &'a Section,
    key: &'a Positions,
    /// Slots of closed switches.
    closed: Vec<usize>,
    /// Slot and greatest conductance of undeclared loads in series with something.
    in_series: Vec<(usize, f64)>,
    pub(super) work: Work,
    pub(super) potentials: Potentials,
}

impl<'a> Stamped<'a> {
    pub(super) fn new(section: &'a Section, key: &'a Positions, reach: &Reach) -> Self {
        let mut closed = Vec::with_capacity(section.switches.len());
        let mut in_series = Vec::new();
        for (edge, slot) in section.edges.iter().zip(&section.slots) {
            let Some(slot) = *slot else { continue };
            match edge.kind {
                EdgeKind::Switch(bit) if key.is_closed(bit) => closed.push(slot),
                EdgeKind::Unknown { least, .. } => {
                    let (a, b) = section.ends(edge);
                    if !reach.is_straight(a, b) {
                        in_series.push((slot, least.recip()));
                    }
                }
                _ => {}
            }
        }
        Self {
            section,
            key,
            closed,
            in_series,
            work: Work::default(),
            potentials: Potentials::default(),
        }
    }

    /// Whether a load without a declared resistance lies in series with something.
    pub(super) fn has_undeclared(&self) -> bool {
        !self.in_series.is_empty()
    }

    /// Fills in a conductance for each ranged part, S, and eliminates; undeclared loads are open.
    pub(super) fn factor_at(&mut self, siemens: &[f64]) {
        let section = self.section;
        self.work.clear(&section.plan);
        for (ranged, &siemens) in section.ranged.iter().zip(siemens) {
            self.work.add(ranged.slot, siemens);
        }
        for &slot in &self.closed {
            self.work.close(slot);
        }
        self.work.eliminate(&section.plan);
    }

    /// The potentials at 1 V between the poles of what was filled in last, and the section's
    /// conductance; none if it is shorted.
    pub(super) fn unit_potentials(&mut self, feed: &Feed) -> Option<f64> {
        let plan = &self.section.plan;
        let (siemens, shorted) = self.work.left(plan.slot(feed.plus, feed.minus));
        if shorted {
            return None;
        }
        self.potentials.reset(plan);
        self.potentials.hold(plan, feed.plus, 1.0);
        self.potentials.hold(plan, feed.minus, 0.0);
        self.work.spread(plan, &mut self.potentials);
        Some(siemens)
    }

    /// Fills in the numbers and eliminates; `hot` says for every edge which end of its resistance.
    pub(super) fn factor(&mut self, hot: &[bool], undeclared: Undeclared) {
        let section = self.section;
        self.work.clear(&section.plan);
        for ranged in &section.ranged {
            let siemens = if hot[ranged.edge] { ranged.hot } else { ranged.cold };
            self.work.add(ranged.slot, siemens);
        }
        for &slot in &self.closed {
            self.work.close(slot);
        }
        if undeclared == Undeclared::Least {
            self.in_series.iter().for_each(|&(slot, siemens)| self.work.add(slot, siemens));
        }
        self.work.eliminate(&section.plan);
    }

    /// Whether an edge may carry current at this position.
    pub(super) fn conducts(&self, edge: &Edge) -> bool {
        match edge.kind {
            EdgeKind::Switch(bit) => self.key.is_closed(bit),
            EdgeKind::Open | EdgeKind::Unknown { .. } => false,
            _ => true,
        }
    }

    /// The ends of every edge that may carry current and of some more branches, with what closed
    /// switches make one taken as one.
    pub(super) fn joined(&self, more: impl Iterator<Item = (usize, usize)>) -> Vec<(usize, usize)> {
        let section = self.section;
        let mut union = Union::new(section.nodes);
        let edges = || section.edges.iter().filter(|edge| self.conducts(edge));
        for edge in edges().filter(|edge| matches!(edge.kind, EdgeKind::Switch(_))) {
            let (a, b) = section.ends(edge);
            union.join(a, b, 0.0);
        }
        let ends = edges().map(|edge| section.ends(edge)).chain(more);
        ends.map(|(a, b)| (union.root(a), union.root(b))).collect()
    }

    /// Whether an undeclared load lies in series with something.
    pub(super) fn is_in_series(&self, edge: usize) -> bool {
        let slot = self.section.slots[edge];
        slot.is_some_and(|slot| self.in_series.iter().any(|&(other, _)| other == slot))
    }

    /// Whether current may run through an edge in either direction, depending on the resistances of
    /// the others: each of its ends reaches both poles without passing the other end.
    pub(super) fn is_bridge(&self, edge: &Edge, poles: (usize, usize)) -> bool {
        let (a, b) = self.section.ends(edge);
        let both = |from: usize, barred: usize| {
            let (first, second) = self.reaches(edge, from, barred, poles);
            first && second
        };
        both(a, b) && both(b, a)
    }

    /// Whether a node reaches the first and the second pole, not passing `barred`.
    fn reaches(
        &self,
        but: &Edge,
        from: usize,
        barred: usize,
        poles: (usize, usize),
    ) -> (bool, bool) {
        let section = self.section;
        let mut seen = vec![false; section.nodes];
        let mut stack = vec![from];
        seen[from] = true;
        let (mut first, mut second) = (false, false);
        while let Some(node) = stack.pop() {
            first |= node == poles.0;
            second |= node == poles.1;
            if node == poles.0 || node == poles.1 {
                continue;
            }
            for &index in &section.around[node] {
                let edge = &section.edges[index];
                let (a, b) = section.ends(edge);
                let next = if a == node { b } else { a };
                let conducts = self.conducts(edge);
                if conducts && edge.part != but.part && next != barred && !seen[next] {
                    seen[next] = true;
                    stack.push(next);
                }
            }
        }
        (first, second)
    }

    /// Potential of a solved node; NaN if it floats.
    pub(super) fn potential(&self, node: usize) -> f64 {
        self.potentials.of(&self.section.plan, node)
    }

    /// Voltage from `a` to `b`; none if either floats.
    pub(super) fn volts(&self, a: usize, b: usize) -> Option<f64> {
        let volt = self.potential(a) - self.potential(b);
        (!volt.is_nan()).then_some(volt)
    }
}
