//! Which loads hang behind which contacts.

use super::currents::Sample;
use super::inductance::{TimeConstant, time_constant};
use fiftytwo_circuit::{Way, Wiring};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Coil, Light, PartId, PartKind, Scheme};

/// A coil without a declared pickup counts as on from this share of nominal volts.
const ON_FROM: f64 = 0.1;

/// Contacts and loads of a scheme.
pub(super) struct Loads<'w, 's> {
    pub(super) scheme: &'s Scheme,
    pub(super) wiring: &'w Wiring<'s>,
    /// Placed contacts and links.
    pub(super) contacts: Vec<PartId>,
    /// Placed loads that are asked for.
    pub(super) all: Vec<PartId>,
    /// Resistors that are loads of their own: asked for in any order of events, not in stories.
    pub(super) burdens: Vec<PartId>,
    /// Coils, each with the volts from which it counts as on.
    pub(super) coils: Vec<(PartId, f64)>,
    /// By load (part): the contacts on its ways.
    ways: Vec<Vec<PartId>>,
    times: Vec<Option<TimeConstant>>,
}

impl<'w, 's> Loads<'w, 's> {
    pub(super) fn new(scheme: &'s Scheme, wiring: &'w Wiring<'s>) -> Self {
        let placed = |test: fn(&PartKind) -> bool| {
            scheme.placed().filter(move |(_, part)| test(&part.kind)).map(|(id, _)| id).collect()
        };
        let contacts: Vec<PartId> =
            placed(|kind| matches!(kind, PartKind::Contact(_) | PartKind::Link));
        let all: Vec<PartId> = placed(|kind| {
            matches!(
                kind,
                PartKind::Coil(_)
                    | PartKind::Input(_)
                    | PartKind::Motor(_)
                    | PartKind::Lamp(_)
                    | PartKind::Heater { .. }
                    | PartKind::Power { .. }
            )
        });
        let burdens: Vec<PartId> = scheme
            .placed()
            .map(|(id, _)| id)
            .filter(|id| !crate::burdens::ways(wiring, *id).is_empty())
            .collect();
        let mut ways = vec![Vec::new(); scheme.parts.len()];
        for &load in all.iter().chain(&burdens) {
            let parts = &mut ways[load.index()];
            let series = wiring.ways_in_series(load);
            let series = series.list.iter().filter(|way| one_coil(scheme, way));
            for way in wiring.ways(load).list.iter().chain(series) {
                parts.extend(way.parts.iter().filter(|part| contacts.contains(part)));
            }
            parts.sort_unstable();
            parts.dedup();
        }
        let coils = all
            .iter()
            .filter_map(|&id| match &scheme.parts[id].kind {
                PartKind::Coil(coil) => Some((id, on_from(scheme, id, coil))),
                _ => None,
            })
            .collect();
        let times = scheme.parts.values().map(|part| time_constant(scheme, part)).collect();
        Self { scheme, wiring, contacts, all, burdens, coils, ways, times }
    }
    /// The contacts on the ways of a load.
    pub(super) fn on_ways(&self, load: PartId) -> &[PartId] {
        &self.ways[load.index()]
    }
    /// L/R of a load.
    pub(super) fn time(&self, load: PartId) -> Option<&TimeConstant> {
        self.times[load.index()].as_ref()
    }
    /// The greatest L/R of several loads, s; 0: resistive.
    pub(super) fn time_most(&self, loads: &[PartId]) -> f64 {
        loads.iter().filter_map(|load| self.time(*load)).map(|time| time.most).fold(0.0, f64::max)
    }
    /// Whether a load draws more when it is switched on.
    pub(super) fn starts(&self, load: PartId) -> bool {
        match &self.scheme.parts[load].kind {
            PartKind::Motor(_) => true,
            PartKind::Lamp(lamp) => lamp.light == Light::Filament || lamp.cold.is_some(),
            _ => false,
        }
    }
    /// A contact may carry the current of a load: it is on one of its ways, or the load has no way
    /// of its own (a monitor through a coil) and hangs together with it.
    fn may_carry(&self, contact: PartId, load: PartId) -> bool {
        let ways = self.on_ways(load);
        ways.contains(&contact)
            || (self.wiring.ways(load).list.is_empty()
                && self.wiring.section_of(contact) == self.wiring.section_of(load))
    }
    /// What a contact carries in `with`, and the loads that it takes with it: those whose current in
    /// `with` is greater than in `without` by a share of it. Where it shares its current with a
    /// contact beside it, the currents of those loads together.
    pub(super) fn changed(
        &self,
        contact: PartId,
        with: &Sample,
        without: &Sample,
        share: f64,
    ) -> (f64, Vec<PartId>) {
        let known = with.amps(contact);
        let least = share * known.unwrap_or(0.0).max(1e-5);
        let change = |load: &PartId| with.drawn(*load) - without.drawn(*load);
        let loads: Vec<PartId> = self
            .all
            .iter()
            .copied()
            .filter(|load| change(load) > least && self.may_carry(contact, *load))
            .collect();
        (known.unwrap_or_else(|| loads.iter().map(change).sum()), loads)
    }
    /// Loads and resistors that are loads, in source order.
    pub(super) fn asked(&self) -> Vec<PartId> {
        let mut asked: Vec<PartId> = self.all.iter().chain(&self.burdens).copied().collect();
        asked.sort_unstable();
        asked
    }
    /// The loads and burdens that draw more in `with` than in `without`, by 1 % of what a contact
    /// carries in `with`.
    pub(super) fn together_behind(
        &self,
        contact: PartId,
        with: &Sample,
        without: &Sample,
    ) -> Vec<PartId> {
        let (amps, mut loads) = self.changed(contact, with, without, 0.01);
        let least = 0.01 * amps.max(1e-5);
        let burdens = self.burdens.iter().filter(|burden| {
            with.drawn(**burden) - without.drawn(**burden) > least
                && self.on_ways(**burden).contains(&contact)
        });
        loads.extend(burdens);
        loads.sort_unstable();
        loads
    }
    /// Loads whose current grows.
    pub(super) fn won(&self, before: &Sample, after: &Sample) -> (f64, Vec<PartId>) {
        let change = |load: &PartId| after.drawn(*load) - before.drawn(*load);
        let loads: Vec<PartId> =
            self.all.iter().copied().filter(|load| change(load) > 1e-5).collect();
        (loads.iter().map(change).sum(), loads)
    }
    /// Whether one of these loads is a coil that is on.
    pub(super) fn any_on(&self, loads: &[PartId], sample: &Sample) -> bool {
        self.coils.iter().any(|(coil, from)| {
            loads.contains(coil) && sample.across(*coil).is_some_and(|volts| volts >= *from)
        })
    }
    /// Two contacts lie on one way of one of these loads.
    pub(super) fn together(&self, a: PartId, b: PartId, loads: &[PartId]) -> bool {
        loads.iter().any(|load| {
            self.wiring
                .ways(*load)
                .list
                .iter()
                .any(|way| way.parts.contains(&a) && way.parts.contains(&b))
        })
    }
    /// Nominal volts of the supply a part hangs on.
    pub(super) fn nominal(&self, part: PartId) -> f64 {
        nominal(self.scheme, part)
    }
}

/// A way through a part in series that no second coil shares: an order, not a relay that watches.
pub(super) fn one_coil(scheme: &Scheme, way: &Way) -> bool {
    let coils =
        way.parts.iter().filter(|part| matches!(scheme.parts[**part].kind, PartKind::Coil(_)));
    coils.count() < 2
}

fn nominal(scheme: &Scheme, part: PartId) -> f64 {
    let at = scheme.parts[part].at;
    at.map_or(0.0, |at| scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle())
}

fn on_from(scheme: &Scheme, id: PartId, coil: &Coil) -> f64 {
    let least = coil.surely_not_below();
    if least > 0.0 { least } else { ON_FROM * nominal(scheme, id) }
}
