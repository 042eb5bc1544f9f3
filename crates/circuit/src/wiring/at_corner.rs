//! One section at one corner, solved again and again: for currents while a run goes on, and for
//! asking one corner alone.

use super::compile::{EdgeKind, Section};
use super::{SectionId, Wiring};
use crate::corner::{Battery, Heat};
use crate::elimination::{Potentials, Work};
use crate::positions::Positions;
use fiftytwo_scheme::arena::Id;

/// A section of one supply with the resistances and the voltage of one corner. Keeps its own
/// scratch memory: nothing is allocated from one position to the next.
#[derive(Debug)]
pub struct AtCorner<'w> {
    section: &'w Section,
    switches: Vec<(u32, u32)>,
    fixed: Vec<f64>,
    rails: usize,
    asked: Vec<(u32, u32)>,
    volt: f64,
    ohm: f64,
    work: Work,
    potentials: Potentials,
    volts: Vec<f64>,
}

impl Wiring<'_> {
    /// A section at one corner: conductors and coils cold or hot, the supply low or high, other
    /// sections of the supply off, loads without a declared resistance open. None for a section
    /// without a supply, with several, or with diodes, lights or other parts given by a curve (ask
    /// [`Wiring::drive`]).
    pub fn at_corner(
        &self,
        section: SectionId,
        battery: Battery,
        conductors: Heat,
        coils: Heat,
    ) -> Option<AtCorner<'_>> {
        let section = &self.sections[section.index()];
        let [feed] = &section.feeds[..] else { return None };
        let supply = &self.scheme.supplies[feed.supply];
        let mut work = Work::default();
        work.clear(&section.plan);
        let mut switches = Vec::new();
        let end = |heat: Heat, lo: f64, hi: f64| if heat == Heat::Hot { hi } else { lo };
        for (edge, slot) in section.edges.iter().zip(&section.slots) {
            let Some(slot) = *slot else { continue };
            match edge.kind {
                EdgeKind::Switch(bit) => {
                    switches.push((u32::try_from(bit).ok()?, u32::try_from(slot).ok()?));
                }
                EdgeKind::Core { lo, hi } => work.add(slot, end(conductors, lo, hi).recip()),
                EdgeKind::Load { lo, hi, .. } => work.add(slot, end(coils, lo, hi).recip()),
                EdgeKind::Diode(_) | EdgeKind::Bent { .. } => return None,
                _ => {}
            }
        }
        let mut asked = vec![(0, 0); section.loads.len()];
        for (edge, drive) in section.asked() {
            let (a, b) = section.ends(edge);
            asked[drive] = (section.plan.step_of(a), section.plan.step_of(b));
        }
        Some(AtCorner {
            rails: section.plan.slot(feed.plus, feed.minus),
            fixed: work.conductances().to_vec(),
            volt: if battery == Battery::High { supply.range.hi } else { supply.range.lo },
            ohm: end(conductors, supply.resistance.lo, supply.resistance.hi),
            volts: vec![0.0; section.loads.len()],
            potentials: Potentials::default(),
            section,
            switches,
            asked,
            work,
        })
    }
}

impl AtCorner<'_> {
    /// The voltage across every load (in the order of [`Wiring::loads`]), V, positive from its
    /// upper end to its lower; 0 where it floats or the supply is shorted.
    pub fn volts(&mut self, key: &Positions) -> &[f64] {
        let plan = &self.section.plan;
        self.work.restart(&self.fixed);
        for &(bit, slot) in &self.switches {
            if key.is_closed(bit as usize) {
                self.work.close(slot as usize);
            }
        }
        self.work.eliminate(plan);
        let (siemens, shorted) = self.work.left(self.rails);
        let Some(feed) = self.section.feeds.first().filter(|_| !shorted) else {
            self.volts.fill(0.0);
            return &self.volts;
        };
        self.potentials.fit(plan);
        self.potentials.hold(plan, feed.plus, self.volt / (1.0 + self.ohm * siemens));
        self.potentials.hold(plan, feed.minus, 0.0);
        self.work.spread(plan, &mut self.potentials);
        let steps = self.potentials.by_step();
        for (volt, &(a, b)) in self.volts.iter_mut().zip(&self.asked) {
            let across = steps[a as usize] - steps[b as usize];
            *volt = if across.is_nan() { 0.0 } else { across };
        }
        &self.volts
    }
}
