//! How many ohms cure it.
//!
//! Seen from a monitor's two ends the rest of a linear network is a voltage behind a resistance
//! (Thévenin), and every voltage in it is linear in the monitor's current: two solves, with the
//! monitor open and with it shorted, give everything. With diodes, clamps and curves that holds near
//! the two points only: so each answer is put on the bench, and corrected until it holds.

use crate::Study;
use crate::loads::corner::needed;
use crate::loads::less::{CLOSE, least_that};
use crate::shown::Thresholds;
use fiftytwo_circuit::{BenchFault, Fault, Setup};
use fiftytwo_scheme::PartId;

/// The ohms that must be added in series with a monitor for `volts` on a coil with the monitor
/// shorted (negative: so many may be taken away, an estimate). None: no resistance helps.
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
    let estimate = source / amps - source / most;
    if estimate <= 0.0 {
        return Ok(Some(estimate));
    }
    let shorted = setup.clone().with_fault(Fault::Shorted(monitor));
    let fits = |ohm: f64| -> Result<bool, BenchFault> {
        let with = shorted.clone().with_fault(Fault::Behind { part: monitor, ohm });
        Ok(study.bench.solve(&with)?.across(coil).unwrap_or(0.0).abs() <= volts)
    };
    least_that(estimate, &fits)
}

/// The volts and the ohms behind them that a monitor sees at its two ends (Thévenin; near its own
/// points where parts bend).
pub(super) fn seen_from(
    study: &Study<'_, '_>,
    setup: &Setup,
    monitor: PartId,
) -> Result<(f64, f64), BenchFault> {
    let open = study.bench.solve(&setup.clone().with_fault(Fault::Open(monitor)))?;
    let short = study.bench.solve(&setup.clone().with_fault(Fault::Shorted(monitor)))?;
    let volts = open.across(monitor).unwrap_or(0.0).abs();
    let amps = short.amps(monitor).unwrap_or(0.0).abs();
    Ok((volts, if amps > 0.0 { volts / amps } else { 0.0 }))
}

/// The ohms that may be added in series with a monitor until it is just surely on. Negative: so many
/// must go, an estimate. None: nothing helps.
pub(super) fn room(
    study: &Study<'_, '_>,
    setup: &Setup,
    monitor: PartId,
    thresholds: &Thresholds,
) -> Result<Option<f64>, BenchFault> {
    let now = needed(study, setup, monitor, thresholds)?;
    if now.enough() {
        let fails = |ohm: f64| -> Result<bool, BenchFault> {
            let with = setup.clone().with_fault(Fault::Behind { part: monitor, ohm });
            Ok(!needed(study, &with, monitor, thresholds)?.enough())
        };
        return Ok(least_that(1e3, &fails)?.map(|ohm| ohm * (1.0 - 2.0 * CLOSE)));
    }
    let open = study.bench.solve(&setup.clone().with_fault(Fault::Open(monitor)))?;
    let (volts, amps) = (now.least.volts, now.least.amps);
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
