//! One section at one position with its numbers filled in.

use super::{Reach, Undeclared};
use crate::elimination::{Potentials, Work};
use crate::network::{DIODE_LEAKS, DIODE_OHM};
use crate::positions::Positions;
use crate::wiring::compile::{Edge, EdgeKind, Section};

/// A diode keeps its state within this voltage for one volt of supply.
const DIODE_KEEPS: f64 = 1e-9;

pub(super) struct Stamped<'a> {
    pub(super) section: &'a Section,
    key: &'a Positions,
    /// Slots of closed switches.
    closed: Vec<usize>,
    /// Slot and greatest conductance of undeclared loads in series with something.
    in_series: Vec<(usize, f64)>,
    conducts: Vec<bool>,
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
            conducts: vec![true; section.diode_count()],
            work: Work::default(),
            potentials: Potentials::default(),
        }
    }

    /// Whether a load without a declared resistance lies in series with something.
    pub(super) fn has_undeclared(&self) -> bool {
        !self.in_series.is_empty()
    }

    /// How often diodes may change before they count as unsettled.
    pub(super) fn most_changes(&self) -> usize {
        64 + 64 * self.conducts.len() * self.conducts.len()
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
        for &(diode, slot) in &section.diodes {
            let siemens = if self.conducts[diode] { DIODE_OHM.recip() } else { DIODE_LEAKS };
            self.work.add(slot, siemens);
        }
        self.work.eliminate(&section.plan);
    }

    /// Changes the first diode whose state does not fit; false if all fit.
    pub(super) fn change_a_diode(&mut self, scale: f64) -> bool {
        if self.conducts.is_empty() {
            return false;
        }
        let wrong = self.section.edges.iter().find_map(|edge| {
            let EdgeKind::Diode(diode) = edge.kind else { return None };
            let (anode, cathode) = self.section.ends(edge);
            let forward = self.volts(anode, cathode)?;
            let wrong = if self.conducts[diode] {
                forward < -DIODE_KEEPS * scale * DIODE_OHM
            } else {
                forward > DIODE_KEEPS * scale
            };
            wrong.then_some(diode)
        });
        if let Some(diode) = wrong {
            self.conducts[diode] = !self.conducts[diode];
        }
        wrong.is_some()
    }

    /// Whether current may run through an edge in either direction, depending on the resistances of
    /// the others: each of its ends reaches both poles without passing the other end.
    pub(super) fn is_bridge(&self, edge: &Edge, poles: (usize, usize)) -> bool {
        let (a, b) = self.section.ends(edge);
        let (from_a, from_b) = (self.reaches(edge, a, b, poles), self.reaches(edge, b, a, poles));
        from_a.0 && from_a.1 && from_b.0 && from_b.1
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
                let conducts = match edge.kind {
                    EdgeKind::Switch(bit) => self.key.is_closed(bit),
                    EdgeKind::Open | EdgeKind::Unknown { .. } => false,
                    _ => true,
                };
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
