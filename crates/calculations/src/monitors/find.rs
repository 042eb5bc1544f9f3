//! Which lamps, inputs and relays lead their current through which coil, in which position.

use crate::shown::{Shown, Thresholds};
use crate::{RestPosition, Study};
use fiftytwo_circuit::{BenchFault, Ends, Fault, Positions, Readings, Setup};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{DeviceKind, PartId, PartKind, Scheme};

/// Less than this is no current, A: leakage of what blocks.
const CARRIES: f64 = 1e-7;

/// A coil in a rest position, or held in by its monitors after an operation.
#[derive(Debug, Clone)]
pub(super) struct Situation {
    pub(super) coil: PartId,
    /// The position in words.
    pub(super) name: String,
    /// Nothing is off its healthy place and the breaker stays where it was put.
    pub(super) healthy: bool,
    /// The coil's own relay stands picked up: has its order ended, may it let go?
    pub(super) held: bool,
    /// At nominal ends.
    pub(super) setup: Setup,
    /// What leads its current through the coil.
    pub(super) monitors: Vec<PartId>,
}

/// The coils that move breakers, placed ones.
pub(super) fn breaker_coils(scheme: &Scheme) -> impl Iterator<Item = PartId> + '_ {
    scheme.coils().filter_map(|(id, part, _)| {
        let device = &scheme.devices[part.device?];
        let placed = part.at.is_some();
        (placed && matches!(device.kind, DeviceKind::Breaker { .. })).then_some(id)
    })
}

/// The coils that move breakers and lockouts, placed ones.
pub(super) fn breaker_or_lockout_coils(scheme: &Scheme) -> impl Iterator<Item = PartId> + '_ {
    scheme.coils().filter_map(|(id, part, _)| {
        let device = &scheme.devices[part.device?];
        let moves = matches!(device.kind, DeviceKind::Breaker { .. } | DeviceKind::Lockout { .. });
        (part.at.is_some() && moves).then_some(id)
    })
}

/// Every coil in every rest position that looks different from where it stands; those without
/// monitors too, so that coverage can tell of them.
pub(super) fn situations(study: &Study<'_, '_>) -> Result<Vec<Situation>, BenchFault> {
    let scheme = study.scheme();
    let mut found: Vec<Situation> = Vec::new();
    let mut seen: Vec<(PartId, bool, Positions, Vec<bool>)> = Vec::new();
    for rest in &study.rest {
        let base = rest.setup(&study.bench);
        let readings = study.bench.solve(&base)?;
        for (coil, part, _) in scheme.coils().filter(|(_, part, _)| part.at.is_some()) {
            let Some(section) = study.machine.wiring.section_of(coil) else { continue };
            let mut standings = vec![(base.clone(), false)];
            if let Some(device) = part.device
                && matches!(
                    scheme.devices[device].kind,
                    DeviceKind::Relay | DeviceKind::Timer { .. }
                )
            {
                let closed = rest.closed_with(study.machine, device, 1);
                standings.push((Setup { closed, ..base.clone() }, true));
            }
            for (setup, held) in standings {
                let key = study.machine.wiring.positions(section, |part| {
                    setup.closed.get(part.index()).copied().unwrap_or(false)
                });
                let healthy = rest.is_healthy() && rest.stays;
                let live = study
                    .machine
                    .wiring
                    .supplies(section)
                    .map(|supply| setup.live.get(supply.index()).copied().unwrap_or(false));
                let key = (coil, held, key, live.collect());
                if seen.contains(&key) {
                    continue;
                }
                seen.push(key);
                let monitors = if held {
                    let readings = study.bench.solve(&setup)?;
                    through(study, &setup, &readings, coil)?
                } else {
                    through(study, &setup, &readings, coil)?
                };
                if held && monitors.is_empty() {
                    continue;
                }
                let name = name(study, rest, coil, held);
                found.push(Situation { coil, name, healthy, held, setup, monitors });
            }
        }
    }
    Ok(found)
}

fn name(study: &Study<'_, '_>, rest: &RestPosition, coil: PartId, held: bool) -> String {
    let scheme = study.scheme();
    let device = scheme.parts[coil].device.map(|device| &scheme.devices[device]);
    match device {
        Some(device) if held => {
            let word = device.positions.get(1).map_or("picked up", String::as_str);
            format!("{}, {} {word}", rest.name, device.name)
        }
        _ => rest.name.clone(),
    }
}

/// What leads its current through a coil.
fn through(
    study: &Study<'_, '_>,
    setup: &Setup,
    readings: &Readings<'_>,
    coil: PartId,
) -> Result<Vec<PartId>, BenchFault> {
    let carried = |readings: &Readings<'_>, part| readings.amps(part).unwrap_or(0.0).abs();
    let through_coil = carried(readings, coil);
    if through_coil < CARRIES {
        return Ok(Vec::new());
    }
    let broken = study.bench.solve(&setup.clone().with_fault(Fault::Open(coil)))?;
    let scheme = study.scheme();
    let monitors: Vec<PartId> = scheme
        .placed()
        .filter(|(id, part)| {
            let looks =
                matches!(part.kind, PartKind::Lamp(_) | PartKind::Input(_) | PartKind::Coil(_));
            looks && *id != coil && {
                let amps = carried(readings, *id);
                amps >= CARRIES && carried(&broken, *id) < amps / 2.0
            }
        })
        .filter(|(id, part)| match part.kind {
            // Two coils in series: the one that takes most of the volts watches the other.
            PartKind::Coil(_) => {
                let volts = |part| readings.across(part).unwrap_or(0.0).abs();
                volts(*id) > volts(coil)
            }
            _ => true,
        })
        .map(|(id, _)| id)
        .collect();
    if monitors.is_empty() {
        return Ok(monitors);
    }
    let mut without = setup.clone();
    without.faults.extend(monitors.iter().map(|part| Fault::Open(*part)));
    let without = study.bench.solve(&without)?;
    Ok(if carried(&without, coil) < through_coil / 2.0 { monitors } else { Vec::new() })
}

/// Resistors and diodes in series with a monitor: a break takes its current away.
pub(super) fn in_series(
    study: &Study<'_, '_>,
    situation: &Situation,
) -> Result<Vec<PartId>, BenchFault> {
    let scheme = study.scheme();
    let readings = study.bench.solve(&situation.setup)?;
    let amps = |readings: &Readings<'_>, part| readings.amps(part).unwrap_or(0.0).abs();
    let mut found = Vec::new();
    for (id, part) in scheme.placed() {
        let limits = matches!(part.kind, PartKind::Resistor { .. } | PartKind::Diode(_));
        if !limits || amps(&readings, id) < CARRIES {
            continue;
        }
        let broken = study.bench.solve(&situation.setup.clone().with_fault(Fault::Open(id)))?;
        let takes = |monitor: &PartId| amps(&broken, *monitor) < amps(&readings, *monitor) / 2.0;
        if situation.monitors.iter().any(takes) {
            found.push(id);
        }
    }
    Ok(found)
}

/// Whether a fault surely shows on a monitor: it changes from off to on or from on to off, with
/// the supply at either end.
pub(super) fn shows(
    study: &Study<'_, '_>,
    situation: &Situation,
    monitor: PartId,
    fault: Fault,
) -> Result<bool, BenchFault> {
    let scheme = study.scheme();
    let Some(thresholds) = Thresholds::of(scheme, &scheme.parts[monitor]) else {
        return Ok(false);
    };
    let healthy = study.bench.solve(&situation.setup)?;
    let before = thresholds.shown(&healthy, monitor);
    let after = match before {
        Shown::On => Shown::Off,
        Shown::Off => Shown::On,
        Shown::Unsure => return Ok(false),
    };
    for ends in [Ends::MOST, Ends::LEAST] {
        let setup = situation.setup.clone().at(ends).with_fault(fault);
        let readings = study.bench.solve(&setup)?;
        if thresholds.shown(&readings, monitor) != after {
            return Ok(false);
        }
    }
    Ok(true)
}
