//! A section with other conductors: what a thicker core or a longer run would do.
//!
//! **In:** a load and a factor for each conductor of its section. **Out:** its drive as
//! [`Wiring::drive_afresh`] gives it. **Never here:** which conductor to choose.

use super::compile::{Edge, EdgeKind, Section};
use super::{Drive, SectionId, Wiring, solve};
use crate::positions::{Positions, Supplies};
use fiftytwo_scheme::PartId;
use fiftytwo_scheme::arena::Id;

/// The least resistance of a conductor, ohm, as in a compiled section.
const LEAST: f64 = 1e-9;

/// The section of a load, its conductors with other resistances. The other sections of its supplies
/// draw their most: through conductors that get less resistance as if these had none, so that the
/// bound holds for every better conductor; through all others as they are.
#[derive(Debug)]
pub struct Resized<'w, 's> {
    wiring: &'w Wiring<'s>,
    id: SectionId,
    /// Its other loads are there but not asked for.
    section: Section,
    /// Place of the load among the section's.
    load: usize,
    /// The most that the other sections draw from each supply of the section, A.
    others: Vec<f64>,
    /// The cores of other sections that have less resistance than in the scheme.
    eased: Vec<PartId>,
}

impl<'s> Wiring<'s> {
    /// A load whose section is to be given other conductors; none for a spare and for what is not
    /// asked for.
    pub fn resized(&self, load: PartId) -> Option<Resized<'_, 's>> {
        let id = self.section_of(load)?;
        let compiled = &self.sections[id.index()];
        let place = compiled.loads.iter().position(|part| *part == load)?;
        let mut section = compiled.clone();
        for edge in &mut section.edges {
            if let EdgeKind::Load { drive, .. } = &mut edge.kind
                && *drive != Some(place)
            {
                *drive = None;
            }
        }
        let others = self.others(id, compiled);
        Some(Resized { wiring: self, id, section, load: place, others, eased: Vec::new() })
    }

    /// As [`Wiring::others`], these cores of the other sections without resistance.
    fn others_eased(&self, id: SectionId, eased: &[PartId]) -> Vec<f64> {
        let own = &self.sections[id.index()];
        let mut others = self.others(id, own);
        for (index, compiled) in self.sections.iter().enumerate() {
            let is_eased = |edge: &Edge| eased.contains(&edge.part);
            if index == id.index() || !compiled.edges.iter().any(is_eased) {
                continue;
            }
            let mut bare = compiled.clone();
            for edge in bare.edges.iter_mut().filter(|edge| is_eased(edge)) {
                if let EdgeKind::Core { lo, .. } = &mut edge.kind {
                    *lo = LEAST;
                }
            }
            let before = solve::most_drawn(self.scheme, compiled);
            for ((supply, more), (_, was)) in
                solve::most_drawn(self.scheme, &bare).into_iter().zip(before)
            {
                for (feed, ampere) in own.feeds.iter().zip(&mut others) {
                    if feed.supply == supply {
                        *ampere += more - was;
                    }
                }
            }
        }
        others
    }
}

impl Resized<'_, '_> {
    /// Gives each conductor so many times the resistance it has in the scheme (0: none). Parts that
    /// are no conductors are not asked for.
    pub fn resize(&mut self, mut times: impl FnMut(PartId) -> f64) {
        let original = &self.wiring.sections[self.id.index()];
        for (edge, was) in self.section.edges.iter_mut().zip(&original.edges) {
            if let (EdgeKind::Core { lo, hi }, EdgeKind::Core { lo: was_lo, hi: was_hi }) =
                (&mut edge.kind, was.kind)
            {
                let times = times(edge.part).max(0.0);
                (*lo, *hi) = ((was_lo * times).max(LEAST), (was_hi * times).max(LEAST));
            }
        }
        for ranged in &mut self.section.ranged {
            if let EdgeKind::Core { lo, hi } = self.section.edges[ranged.edge].kind {
                (ranged.cold, ranged.hot) = (lo.recip(), hi.recip());
            }
        }
        let beside = self.wiring.sections.iter().enumerate();
        let beside = beside.filter(|(index, _)| *index != self.id.index());
        let eased: Vec<PartId> = beside
            .flat_map(|(_, section)| &section.edges)
            .filter(|edge| matches!(edge.kind, EdgeKind::Core { .. }) && times(edge.part) < 1.0)
            .map(|edge| edge.part)
            .collect();
        if eased != self.eased {
            self.others = self.wiring.others_eased(self.id, &eased);
            self.eased = eased;
        }
    }

    /// The drive of the load; none only if it is not asked for.
    pub fn drive(&self, key: &Positions, live: Supplies) -> Option<Drive> {
        let scheme = self.wiring.scheme;
        let mut drives = solve::drives(scheme, &self.section, key, live, &self.others);
        (self.load < drives.len()).then(|| drives.swap_remove(self.load))
    }
}
