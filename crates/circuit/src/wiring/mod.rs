//! A scheme compiled for solving: sections, their switches, and the drive of their loads.
//!
//! **In:** a checked scheme, once; then positions of switches. **Out:** [`Drive`]s, cached by
//! position. **Never here:** devices, time.
//!
//! A *section* is what hangs together other than at the poles of a supply: the parts of one
//! circuit with its fuses, feed and return, and of all circuits joined with it. Sections of one
//! supply meet only at its poles, so each is solved alone; what the others draw moves the voltage
//! at the poles by the supply's internal resistance and enters as an interval from nothing to the
//! most they can draw.

mod at_corner;
mod bounds;
mod compile;
mod orders;
mod resized;
mod solve;
mod ways;

use crate::corner::{Corner, Method};
use crate::positions::{Positions, Supplies};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, PartId, Scheme, SupplyId, id_type};
use rustc_hash::FxHashMap;
use std::sync::{Arc, OnceLock, PoisonError, RwLock};

pub use at_corner::AtCorner;
use compile::Section;
pub use resized::Resized;
pub use ways::{MOST_WAYS, Way, Ways};

id_type!(/// A section: what hangs together other than at the poles of a supply.
    SectionId);

/// How many positions of one section are remembered.
const MOST_REMEMBERED: usize = 1 << 20;

/// The voltage across a coil, input, lamp, motor or power feed.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// The part.
    pub part: PartId,
    /// Least voltage across it over all corners, V, whatever its direction.
    pub volts_lo: f64,
    /// Greatest voltage across it over all corners, V.
    pub volts_hi: f64,
    /// Current flows through it at some corner.
    pub connected: bool,
    /// Closed contacts, fuses and conductors alone join it to both poles of a living supply.
    pub straight: bool,
    /// Its rated voltage if it is a lamp that has one, else the nominal voltage of its supply, V.
    pub nominal: f64,
    /// Of an opto input with a least current: below the first voltage that current surely does not
    /// flow, from the second it surely does, V.
    pub needs: Option<(f64, f64)>,
    /// The corner of the least voltage.
    pub corner_lo: Corner,
    /// The corner of the greatest voltage.
    pub corner_hi: Corner,
    /// How the interval was got.
    pub method: Method,
}

type Memory = RwLock<FxHashMap<(Positions, Supplies), Arc<[Drive]>>>;

/// A scheme compiled for solving. Shared by threads.
#[derive(Debug)]
pub struct Wiring<'s> {
    scheme: &'s Scheme,
    sections: Vec<Section>,
    section_of: Vec<Option<SectionId>>,
    /// The most that all sections of a supply can draw together, and each section's own share.
    draws: Vec<Vec<(SectionId, f64)>>,
    memory: Vec<Memory>,
    combs: Vec<Option<bounds::Comb>>,
    ways: Vec<OnceLock<Arc<Ways>>>,
    orders: Vec<OnceLock<Arc<orders::InSeries>>>,
}

impl<'s> Wiring<'s> {
    /// Compiles a scheme.
    ///
    /// # Errors
    /// Everything that keeps a section from being solved: a supply shorted by wires that never
    /// open, a section with more than [`MOST_SWITCHES`](crate::MOST_SWITCHES) contacts, more than
    /// [`MOST_SUPPLIES`](crate::MOST_SUPPLIES) supplies.
    pub fn new(scheme: &'s Scheme) -> Result<Self, Vec<Finding>> {
        let sections = compile::sections(scheme)?;
        let mut section_of = vec![None; scheme.parts.len()];
        for (index, section) in sections.iter().enumerate() {
            for edge in &section.edges {
                section_of[edge.part.index()] = Some(SectionId::from_index(index));
            }
        }
        let mut wiring = Self {
            scheme,
            memory: sections.iter().map(|_| Memory::default()).collect(),
            combs: sections.iter().map(bounds::Comb::of).collect(),
            draws: vec![Vec::new(); scheme.supplies.len()],
            sections,
            section_of,
            ways: scheme.parts.ids().map(|_| OnceLock::new()).collect(),
            orders: scheme.parts.ids().map(|_| OnceLock::new()).collect(),
        };
        for index in 0..wiring.sections.len() {
            let id = SectionId::from_index(index);
            for (supply, ampere) in solve::most_drawn(scheme, &wiring.sections[index]) {
                wiring.draws[supply.index()].push((id, ampere));
            }
        }
        Ok(wiring)
    }

    /// The scheme it was made from.
    pub fn scheme(&self) -> &'s Scheme {
        self.scheme
    }
    /// All sections, in the order of their first parts.
    pub fn sections(&self) -> impl ExactSizeIterator<Item = SectionId> + use<> {
        (0..self.sections.len()).map(SectionId::from_index)
    }
    /// The section of a placed part; none for a spare.
    pub fn section_of(&self, part: PartId) -> Option<SectionId> {
        self.section_of.get(part.index()).copied().flatten()
    }
    /// The contacts, links and fuses of a section in a fixed order (that of the source): bit i of
    /// a [`Positions`] is the i-th of them.
    pub fn switches(&self, section: SectionId) -> &[PartId] {
        &self.sections[section.index()].switches
    }
    /// The coils, inputs, lamps, motors and power feeds of a section, in the order of their
    /// drives.
    pub fn loads(&self, section: SectionId) -> &[PartId] {
        &self.sections[section.index()].loads
    }
    /// The supplies a section hangs on; more than one where contacts can join them.
    pub fn supplies(&self, section: SectionId) -> impl Iterator<Item = SupplyId> + '_ {
        self.sections[section.index()].feeds.iter().map(|feed| feed.supply)
    }
    /// The positions of a section's switches.
    pub fn positions(
        &self,
        section: SectionId,
        mut is_closed: impl FnMut(PartId) -> bool,
    ) -> Positions {
        let mut key = Positions::OPEN;
        for (bit, &part) in self.switches(section).iter().enumerate() {
            key.set(bit, is_closed(part));
        }
        key
    }

    /// The drive of every load of a section (in the order of [`Wiring::loads`]) for the closed
    /// switches of `key` and the supplies that live. Remembered by position.
    pub fn drive(&self, section: SectionId, key: &Positions, live: Supplies) -> Arc<[Drive]> {
        let compiled = &self.sections[section.index()];
        let key = (*key, live.only(compiled.supplies()));
        let memory = &self.memory[section.index()];
        // A poisoned lock only means that another thread stopped while storing: the map is whole.
        let seen = memory.read().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        if let Some(seen) = seen {
            return seen;
        }
        let drives: Arc<[Drive]> = self.drive_afresh(section, &key.0, key.1).into();
        let mut memory = memory.write().unwrap_or_else(PoisonError::into_inner);
        if memory.len() < MOST_REMEMBERED {
            memory.insert(key, Arc::clone(&drives));
        }
        drives
    }

    /// As [`Wiring::drive`], computed anew and not remembered.
    pub fn drive_afresh(&self, section: SectionId, key: &Positions, live: Supplies) -> Vec<Drive> {
        let compiled = &self.sections[section.index()];
        let others = self.others(section, compiled);
        solve::drives(self.scheme, compiled, key, live, &others)
    }

    /// The most that the other sections draw from each supply of a section, A.
    fn others(&self, id: SectionId, section: &Section) -> Vec<f64> {
        let others = |feed: &compile::Feed| {
            let draws = &self.draws[feed.supply.index()];
            draws.iter().filter(|(other, _)| *other != id).map(|(_, ampere)| ampere).sum()
        };
        section.feeds.iter().map(others).collect()
    }
}
