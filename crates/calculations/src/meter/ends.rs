//! The corners between which what a meter shows may lie.
//!
//! **In:** a setup at rest, and the voltages of the supplies. **Out:** its solutions at the corners of
//! the tolerances; the least and the most of them are told. **Never here:** faults.
//!
//! Everything hot or cold together leaves out what makes a divider: of an input of 25 to 60 kohm behind
//! a resistor of 18 kohm the end of its own tolerance decides, whatever the battery does. So at each
//! voltage of the supplies each load that leaves volts to something else is put to its other
//! end, alone, then together with all that move a point the same way.

use crate::Study;
use fiftytwo_circuit::bench::{BenchFault, Charge, Ends, Readings, Setup, Stand, Warmth};
use fiftytwo_scheme::PartId;
use std::collections::BTreeSet;

/// Less current than this is none, A: leakage of what blocks.
const CARRIES: f64 = 1e-7;
/// Volts less than this are not told (the table has one decimal).
const TELLS: f64 = 1e-3;

/// The solutions between which the readings lie.
pub(super) fn corners<'b>(
    study: &'b Study<'_, '_>,
    setup: &Setup,
    batteries: &[Charge],
) -> Result<Vec<Readings<'b>>, BenchFault> {
    let mut all = Vec::new();
    for &battery in batteries {
        let dropping = Ends { battery, conductors: Warmth::Hot, coils: Warmth::Cold };
        all.push(study.bench.solve(&setup.clone().at(dropping))?);
        let begin =
            setup.clone().at(Ends { battery, conductors: Warmth::Cold, coils: Warmth::Hot });
        let first = study.bench.solve(&begin)?;
        let with = |parts: &BTreeSet<PartId>| {
            let far = parts.iter().fold(begin.clone(), |setup, part| {
                setup.with_apart(*part, Stand::At(Warmth::Cold))
            });
            study.bench.solve(&far)
        };
        let mut alone = Vec::new();
        for part in dividing(study, &first) {
            alone.push((part, with(&BTreeSet::from([part]))?));
        }
        let mut together: BTreeSet<BTreeSet<PartId>> = BTreeSet::new();
        for node in study.scheme().nodes.ids() {
            let Some(was) = first.potential(node) else { continue };
            let moved = |sign: f64| {
                let moves = alone.iter().filter(|(_, solved)| {
                    solved.potential(node).is_some_and(|volts| (volts - was) * sign > TELLS)
                });
                moves.map(|(part, _)| *part).collect::<BTreeSet<PartId>>()
            };
            together.extend([moved(1.0), moved(-1.0)].into_iter().filter(|it| it.len() > 1));
        }
        for parts in &together {
            all.push(with(parts)?);
        }
        all.push(first);
        all.extend(alone.into_iter().map(|(_, solved)| solved));
    }
    Ok(all)
}

/// Loads whose tolerance matters and that leave some of their supply's volts to something else.
fn dividing(study: &Study<'_, '_>, solved: &Readings<'_>) -> Vec<PartId> {
    let scheme = study.scheme();
    let placed = scheme.placed().filter(|(id, part)| {
        let Some(at) = part.at else { return false };
        let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
        let whole = solved.between(supply.plus, supply.minus).unwrap_or(0.0).abs();
        study.bench.spreads(*id)
            && solved.amps(*id).is_some_and(|amps| amps.abs() >= CARRIES)
            && (solved.across(*id).unwrap_or(0.0).abs() - whole).abs() > TELLS
    });
    placed.map(|(id, _)| id).collect()
}
