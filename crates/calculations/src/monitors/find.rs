//! Which lamps, inputs and relays lead their current through which coil, in which position.

use super::Levels;
use crate::burdens::driven_in_series;
use crate::shown::{Shown, Thresholds};
use crate::{RestPosition, Study};
use fiftytwo_circuit::{BenchFault, Ends, Fault, Positions, Readings, Setup, Stand, Warmth};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{DeviceKind, PartId, PartKind, Scheme};

/// Less than this is no current, A: leakage of what blocks.
const CARRIES: f64 = 1e-7;
/// A part leads current through a coil if its break takes at least this share of the coil's current:
/// more than what the solver rounds, less than one of ten lamps behind one resistor.
const LEAST_SHARE: f64 = 1e-4;

/// What stands beside a coil counts where it moves its current by more than this share.
const TELLS: f64 = 1e-4;

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
    /// What sees a break of the coil: its current runs through it.
    pub(super) monitors: Vec<PartId>,
    /// What leads current through the coil, whatever else stands beside it.
    pub(super) feeders: Vec<PartId>,
    /// Each resistor and diode in series with some of these, and which.
    pub(super) series: Vec<(PartId, Vec<PartId>)>,
    /// What stands beside the coil, and where it has its most ohms: there it leaves the coil more.
    pub(super) beside: Vec<(PartId, Stand)>,
}

impl Situation {
    /// The resistors and diodes in series with any of these parts.
    pub(super) fn in_series(&self, parts: &[PartId]) -> Vec<PartId> {
        let serves = |behind: &[PartId]| behind.iter().any(|part| parts.contains(part));
        self.series.iter().filter(|(_, behind)| serves(behind)).map(|(id, _)| *id).collect()
    }
    /// Everything that leads current through the coil or sees it.
    pub(super) fn lookers(&self) -> Vec<PartId> {
        let mut all: Vec<PartId> = self.feeders.iter().chain(&self.monitors).copied().collect();
        all.sort_unstable();
        all.dedup();
        all
    }
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
        let moves = device.kind.is_breaker_or_lockout();
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
                let closed =
                    |part: PartId| setup.closed.get(part.index()).copied().unwrap_or(false);
                if driven_in_series(&study.machine.wiring, coil, closed) {
                    continue;
                }
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
                let own = if held { Some(study.bench.solve(&setup)?) } else { None };
                let readings = own.as_ref().unwrap_or(&readings);
                let monitors = through(study, &setup, readings, coil)?;
                let feeders = feeders(study, &setup, readings, coil, &monitors, held)?;
                if held && feeders.is_empty() {
                    continue;
                }
                let all: Vec<PartId> = feeders.iter().chain(&monitors).copied().collect();
                let series = in_series(study, &setup, readings, &all)?;
                let name = name(study, rest, coil, held);
                let but: Vec<PartId> =
                    all.iter().copied().chain(series.iter().map(|(id, _)| *id)).collect();
                let beside = beside(study, &setup.clone().at(Ends::MOST), coil, &but)?;
                found.push(Situation {
                    coil,
                    name,
                    healthy,
                    held,
                    setup,
                    monitors,
                    feeders,
                    series,
                    beside,
                });
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

/// Loads beside a coil that leave it more current where they have most ohms, and where that is: a coil in
/// the same place is as warm as this one. What leads current through it (`but`) does so the more, the
/// fewer ohms it has.
pub(super) fn beside(
    study: &Study<'_, '_>,
    setup: &Setup,
    coil: PartId,
    but: &[PartId],
) -> Result<Vec<(PartId, Stand)>, BenchFault> {
    let readings = study.bench.solve(setup)?;
    let amps = |readings: &Readings<'_>, part| readings.amps(part).unwrap_or(0.0).abs();
    let scheme = study.scheme();
    let place = |part: PartId| scheme.parts[part].at.map(|at| at.place);
    let most_ohms = |part: PartId| match &scheme.parts[part].kind {
        PartKind::Coil(data) if place(part) == place(coil) => data
            .resistance
            .as_ref()
            .filter(|ohm| ohm.lo > 0.0)
            .zip(study.bench.ohm(part, Warmth::Cold))
            .map_or(Stand::At(Warmth::Cold), |(ohm, cold)| Stand::Ohm(cold * ohm.hi / ohm.lo)),
        _ => Stand::At(Warmth::Hot),
    };
    let now = amps(&readings, coil);
    let mut found = Vec::new();
    if now < CARRIES {
        return Ok(found);
    }
    let wiring = &study.machine.wiring;
    let section = wiring.section_of(coil);
    for (id, _) in scheme.placed() {
        let may = id != coil
            && !but.contains(&id)
            && study.bench.spreads(id)
            && wiring.section_of(id) == section
            && amps(&readings, id) >= CARRIES;
        if !may {
            continue;
        }
        let stand = most_ohms(id);
        let there = setup.clone().with_apart(id, stand);
        if amps(&study.bench.solve(&there)?, coil) > now * (1.0 + TELLS) {
            found.push((id, stand));
        }
    }
    Ok(found)
}

/// Whose current runs through a coil: a break of the coil takes more than half of it away.
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

/// What leads current through a coil: broken, it leaves less. What stands beside the coil, a second
/// coil, a resistor or a diode, takes a part of its current and none of its effect. Empty where
/// something else holds or moves the coil by itself.
fn feeders(
    study: &Study<'_, '_>,
    setup: &Setup,
    readings: &Readings<'_>,
    coil: PartId,
    monitors: &[PartId],
    held: bool,
) -> Result<Vec<PartId>, BenchFault> {
    let scheme = study.scheme();
    let carried = |readings: &Readings<'_>, part| readings.amps(part).unwrap_or(0.0).abs();
    let through_coil = carried(readings, coil);
    let PartKind::Coil(data) = &scheme.parts[coil].kind else { return Ok(Vec::new()) };
    if through_coil < CARRIES {
        return Ok(Vec::new());
    }
    let wiring = &study.machine.wiring;
    let section = wiring.section_of(coil);
    let volts = |part| readings.across(part).unwrap_or(0.0).abs();
    let mut feeders = monitors.to_vec();
    for (id, part) in scheme.placed() {
        let looks = match part.kind {
            PartKind::Lamp(_) | PartKind::Input(_) => true,
            // Two coils in series: the one that takes most of the volts watches the other.
            PartKind::Coil(_) => volts(id) > volts(coil),
            _ => false,
        };
        if !looks
            || id == coil
            || feeders.contains(&id)
            || wiring.section_of(id) != section
            || carried(readings, id) < CARRIES
        {
            continue;
        }
        let broken = study.bench.solve(&setup.clone().with_fault(Fault::Open(id)))?;
        if carried(&broken, coil) < through_coil * (1.0 - LEAST_SHARE) {
            feeders.push(id);
        }
    }
    if feeders.is_empty() {
        return Ok(feeders);
    }
    feeders.sort_unstable();
    let mut without = setup.clone();
    without.faults.extend(feeders.iter().map(|part| Fault::Open(*part)));
    let without = study.bench.solve(&without)?;
    let (levels, _) = Levels::of(study, coil, data);
    let level = if held { levels.releases_below } else { levels.pickup_from };
    let stays = carried(&without, coil) >= through_coil / 2.0
        && without.across(coil).unwrap_or(0.0).abs() >= level;
    Ok(if stays { Vec::new() } else { feeders })
}

/// Resistors and diodes, each with those of the parts that a break of it takes more than half of
/// their current from.
fn in_series(
    study: &Study<'_, '_>,
    setup: &Setup,
    readings: &Readings<'_>,
    parts: &[PartId],
) -> Result<Vec<(PartId, Vec<PartId>)>, BenchFault> {
    let scheme = study.scheme();
    let amps = |readings: &Readings<'_>, part| readings.amps(part).unwrap_or(0.0).abs();
    let mut found = Vec::new();
    if parts.is_empty() {
        return Ok(found);
    }
    for (id, part) in scheme.placed() {
        let limits = matches!(part.kind, PartKind::Resistor { .. } | PartKind::Diode(_));
        if !limits || amps(readings, id) < CARRIES {
            continue;
        }
        let broken = study.bench.solve(&setup.clone().with_fault(Fault::Open(id)))?;
        let takes = |part: &PartId| amps(&broken, *part) < amps(readings, *part) / 2.0;
        let behind: Vec<PartId> = parts.iter().copied().filter(takes).collect();
        if !behind.is_empty() {
            found.push((id, behind));
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
    for setup in corners(&situation.setup, monitor) {
        let readings = study.bench.solve(&setup.with_fault(fault))?;
        if thresholds.shown(&readings, monitor) != after {
            return Ok(false);
        }
    }
    Ok(true)
}

/// The corners at which a monitor is looked at: supplies at either end, its own resistance at either.
pub(super) fn corners(setup: &Setup, monitor: PartId) -> [Setup; 4] {
    let at = |ends: Ends, own| setup.clone().at(ends).with_apart(monitor, Stand::At(own));
    [
        at(Ends::MOST, Warmth::Cold),
        at(Ends::MOST, Warmth::Hot),
        at(Ends::LEAST, Warmth::Hot),
        at(Ends::LEAST, Warmth::Cold),
    ]
}
