//! How many ohms in front of a lamp or an input are too many, and what else would do.

use super::corner::{Needed, needed};
use crate::Study;
use crate::shown::Thresholds;
use crate::words::{amps, down, volts};
use fiftytwo_circuit::{BenchFault, Fault, Setup, Stand};
use fiftytwo_scheme::{CurrentKind, PartId, PartKind};

/// How near to a bound the search for it ends, as a share.
pub(crate) const CLOSE: f64 = 1e-7;
/// More ohms than this are an open wire.
const MOST_OHM: f64 = 1e9;
/// Where a search begins at the least, ohm: a wire.
const LEAST_OHM: f64 = 1e-3;

/// The most ohms that a resistor may have, now `ohm`, for a part to be surely on; none: not even a
/// wire in its place does.
pub(crate) fn most_ohm(
    study: &Study<'_, '_>,
    setup: &Setup,
    (resistor, ohm): (PartId, f64),
    part: PartId,
    thresholds: &Thresholds,
) -> Result<Option<f64>, BenchFault> {
    let fails = |ohm: f64| -> Result<bool, BenchFault> {
        let setup = setup.clone().with_apart(resistor, Stand::Ohm(ohm));
        Ok(!needed(study, &setup, part, thresholds)?.enough())
    };
    if fails(ohm * 1e-6)? {
        return Ok(None);
    }
    let most = least_that(ohm, &fails)?;
    Ok(most.map(|ohm| ohm * (1.0 - 2.0 * CLOSE)))
}

/// The largest resistor in series with a part, and its ohms: its break takes more than half of the
/// part's current.
pub(crate) fn largest_in_series(
    study: &Study<'_, '_>,
    setup: &Setup,
    part: PartId,
) -> Result<Option<(PartId, f64)>, BenchFault> {
    let amps = study.bench.solve(setup)?.amps(part).unwrap_or(0.0).abs();
    let mut largest: Option<(PartId, f64)> = None;
    for (id, other) in study.scheme().placed() {
        let PartKind::Resistor { resistance, .. } = &other.kind else { continue };
        if largest.is_some_and(|(_, ohm)| ohm >= resistance.hi) {
            continue;
        }
        let broken = study.bench.solve(&setup.clone().with_fault(Fault::Open(id)))?;
        if broken.amps(part).unwrap_or(0.0).abs() < amps / 2.0 {
            largest = Some((id, resistance.hi));
        }
    }
    Ok(largest)
}

/// The least ohms from which on something is so; none: it never is.
pub(crate) fn least_that(
    near: f64,
    is_so: &dyn Fn(f64) -> Result<bool, BenchFault>,
) -> Result<Option<f64>, BenchFault> {
    // A search that multiplies never leaves 0 ohm.
    let near = near.max(LEAST_OHM);
    let (mut no, mut yes) = (0.0, near);
    // Of a linear network the estimate is the answer: one step on either side of it shows that.
    if is_so(near * (1.0 + CLOSE))? {
        yes = near * (1.0 + CLOSE);
        if !is_so(near * (1.0 - CLOSE))? {
            return Ok(Some(yes));
        }
    } else {
        while !is_so(yes)? {
            no = yes;
            yes *= 4.0;
            if yes > MOST_OHM {
                return Ok(None);
            }
        }
    }
    while yes - no > CLOSE * yes && yes > 1e-9 {
        let middle = f64::midpoint(no, yes);
        if is_so(middle)? {
            yes = middle;
        } else {
            no = middle;
        }
    }
    Ok(Some(yes))
}

/// Another part in its place. A threshold that a single ground reaches, or below the one it goes off
/// at, is no cure.
pub(crate) fn instead(study: &Study<'_, '_>, id: PartId, gets: &Needed) -> String {
    let scheme = study.scheme();
    let part = &scheme.parts[id];
    let PartKind::Input(input) = &part.kind else {
        return match &part.kind {
            PartKind::Lamp(_) => "a lamp for less current".to_owned(),
            _ => format!("a relay that surely picks up from {} or less", volts(down(gets.gets))),
        };
    };
    if gets.in_amps {
        return format!("an input that is on from {} or less", amps(down(gets.gets)));
    }
    let least = part.at.map_or(0.0, |at| {
        let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
        if supply.current == CurrentKind::Dc { supply.range.hi / 2.0 } else { 0.0 }
    });
    let least = input.off_below.as_ref().map_or(least, |off| off.hi.max(least));
    let may = down(gets.gets);
    if may > least {
        format!("an input that is surely on from {} or less", volts(may))
    } else {
        "an input for less current (1 to 4 mA are usual)".to_owned()
    }
}
