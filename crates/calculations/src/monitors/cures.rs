//! How many ohms cure it.
//!
//! Seen from a monitor's two ends the rest of a linear network is a voltage behind a resistance
//! (Thévenin), and every voltage in it is linear in the monitor's current: two solves, with the
//! monitor open and with it shorted, give everything. With diodes, clamps and curves it holds near
//! the two points only; a cure is then an estimate, and the check of the changed scheme decides.

use crate::Study;
use crate::shown::Thresholds;
use fiftytwo_circuit::{BenchFault, Fault, Setup};
use fiftytwo_scheme::PartId;

/// The ohms that must be added in series with a monitor for `volts` on a coil with the monitor
/// shorted (negative: so many may be taken away). None: no resistance helps.
pub(super) fn series_ohm(
    study: &Study<'_, '_>,
    setup: &Setup,
    monitor: PartId,
    coil: PartId,
    volts: f64,
) -> Result<Option<f64>, BenchFault> {
    let open = study.bench.solve(&setup.clone().with_fault(Fault::Open(monitor)))?;
    let short = study.bench.solve(&setup.clone().with_fault(Fault::Shorted(monitor)))?;
    let source = open.across(monitor).unwrap_or(0.0).abs();
    let most = short.amps(monitor).unwrap_or(0.0).abs();
    let (least, all) =
        (open.across(coil).unwrap_or(0.0).abs(), short.across(coil).unwrap_or(0.0).abs());
    if most <= 0.0 || all <= least || volts <= least {
        return Ok(None);
    }
    let amps = most * (volts - least) / (all - least);
    Ok(Some(source / amps - source / most))
}

/// The ohms that may be added in series with a monitor until it is just surely on (negative: so
/// many must go). None: nothing helps.
pub(super) fn room(
    study: &Study<'_, '_>,
    setup: &Setup,
    monitor: PartId,
    thresholds: &Thresholds,
) -> Result<Option<f64>, BenchFault> {
    let now = study.bench.solve(setup)?;
    let open = study.bench.solve(&setup.clone().with_fault(Fault::Open(monitor)))?;
    let (volts, amps) =
        (now.across(monitor).unwrap_or(0.0).abs(), now.amps(monitor).unwrap_or(0.0).abs());
    let source = open.across(monitor).unwrap_or(0.0).abs();
    if amps <= 0.0 || volts <= 0.0 {
        return Ok(None);
    }
    let own = volts / amps;
    let by_level = if thresholds.by_current { thresholds.on } else { thresholds.on / own };
    let needs = by_level.max(thresholds.least.unwrap_or(0.0));
    let (behind, may) = ((source - volts) / amps, source / needs - own);
    Ok((may >= 0.0).then_some(may - behind))
}
