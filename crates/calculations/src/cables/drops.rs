//! What drops in every core at its worst.
//!
//! **In:** a scheme on the bench, the ways of its loads. **Out:** for every
//! placed core the greatest drop and which load causes it. **Never here:** whether the load still
//! works (that is asked of the load).
//!
//! Corner: supplies at their high end, conductors hot, loads cold: the greatest drop in a loop of
//! one load. Each load is taken on its ways alone, and with every other contact of its section
//! closed too; motors draw their starting current, lamps have warmed up.

use fiftytwo_circuit::bench::{Bench, Charge, Ends, Warmth};
use fiftytwo_circuit::{SectionId, Way, Wiring};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind, SupplyId};
use serde::Serialize;
use std::collections::BTreeMap;

/// The corner of the greatest drop.
const WORST: Ends = Ends { battery: Charge::High, conductors: Warmth::Hot, coils: Warmth::Cold };

/// The worst case of one core.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoreDrop {
    /// The core, such as "C4-1/5".
    pub core: String,
    /// Its cable.
    pub cable: String,
    /// The load that causes it.
    pub load: String,
    /// Every other contact of the section is closed too (more than can be closed at one time).
    pub with_others: bool,
    /// Resistance hot, ohm, all cores side by side.
    pub ohm: f64,
    /// Through it, A.
    pub amps: f64,
    /// Across it, V.
    pub volts: f64,
    /// Part of the voltage at the poles of the supply that drops in it.
    pub of_supply: f64,
    /// Part of what drops in all conductors of the load's loop that drops in it.
    pub of_loop: f64,
}

/// The worst case of every placed core that a load draws through, in source order. Lamps, inputs
/// and heaters are asked only about cores that nothing larger draws through.
pub(super) fn drops(wiring: &Wiring<'_>, bench: &Bench<'_>) -> Vec<CoreDrop> {
    let scheme = wiring.scheme();
    let mut worst: BTreeMap<usize, CoreDrop> = BTreeMap::new();
    for large in [true, false] {
        for (load, part) in scheme.placed() {
            if is_load(&part.kind) != Some(large) {
                continue;
            }
            let Some(section) = wiring.section_of(load) else { continue };
            let mut seen: Vec<Vec<PartId>> = Vec::new();
            for way in &wiring.ways(load).list {
                let cores = cores(wiring, way);
                let known = || cores.iter().all(|core| worst.contains_key(&core.index()));
                if cores.is_empty() || seen.contains(&cores) || (!large && known()) {
                    continue;
                }
                for with_others in [false, true] {
                    let at = At { wiring, bench, section, way, load, with_others };
                    at.take(&cores, &mut worst);
                }
                seen.push(cores);
            }
        }
    }
    worst.into_values().collect()
}

/// Whether a load is one of the large ones; none: it is no load.
fn is_load(kind: &PartKind) -> Option<bool> {
    match kind {
        PartKind::Coil(_) | PartKind::Motor(_) | PartKind::Power { .. } => Some(true),
        PartKind::Lamp(_) | PartKind::Input(_) | PartKind::Heater { .. } => Some(false),
        _ => None,
    }
}

fn cores(wiring: &Wiring<'_>, way: &Way) -> Vec<PartId> {
    let parts = &wiring.scheme().parts;
    let cores = way.parts.iter().copied();
    cores.filter(|part| matches!(parts[*part].kind, PartKind::Core(_))).collect()
}

struct At<'a, 's> {
    wiring: &'a Wiring<'s>,
    bench: &'a Bench<'s>,
    section: SectionId,
    way: &'a Way,
    load: PartId,
    with_others: bool,
}

impl At<'_, '_> {
    fn take(&self, cores: &[PartId], worst: &mut BTreeMap<usize, CoreDrop>) {
        let scheme = self.wiring.scheme();
        let key = if self.with_others {
            self.wiring.with_other_loads(self.section, self.way, self.load)
        } else {
            self.way.closed
        };
        let mut setup = self.bench.setup().at(WORST);
        setup.motors_start = true;
        for (bit, &switch) in self.wiring.switches(self.section).iter().enumerate() {
            setup = setup.with_closed(switch, key.is_closed(bit));
        }
        // What can't be solved (supplies against each other) is told by the report on coils.
        let Ok(readings) = self.bench.solve(&setup) else { return };
        let at_poles = self.at_poles(self.way.supply, &readings);
        let across = |core: PartId| readings.across(core).map_or(0.0, f64::abs);
        let in_loop: f64 = cores.iter().map(|core| across(*core)).sum();
        for &core in cores {
            let (Some(amps), PartKind::Core(kind)) =
                (readings.amps(core), &scheme.parts[core].kind)
            else {
                continue;
            };
            let volts = across(core);
            if worst.get(&core.index()).is_some_and(|drop| drop.volts >= volts) {
                continue;
            }
            let share = |whole: f64| if whole > 0.0 { volts / whole } else { 0.0 };
            let drop = CoreDrop {
                core: scheme.parts[core].name.clone(),
                cable: scheme.cables[kind.cable].name.clone(),
                load: scheme.parts[self.load].name.clone(),
                with_others: self.with_others,
                ohm: self.bench.ohm(core, Warmth::Hot).unwrap_or(0.0),
                amps: amps.abs(),
                volts,
                of_supply: share(at_poles),
                of_loop: share(in_loop),
            };
            worst.insert(core.index(), drop);
        }
    }

    fn at_poles(&self, supply: SupplyId, readings: &fiftytwo_circuit::bench::Readings<'_>) -> f64 {
        let supply = &self.wiring.scheme().supplies[supply];
        readings.between(supply.plus, supply.minus).map_or(0.0, f64::abs)
    }
}
