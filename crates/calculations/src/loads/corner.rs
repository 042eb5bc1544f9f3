//! The corner at which one lamp, input or relay gets least or most.
//!
//! Everything hot is the corner of least current, but not that of the least volts on an input: the
//! fewer ohms it has itself, the more of the volts stay on the resistor in front of it. So each load
//! whose tolerance matters is put to whichever end is worse, its own first.

use crate::Study;
use crate::shown::Thresholds;
use fiftytwo_circuit::{BenchFault, Ends, Setup, Stand, Warmth};
use fiftytwo_scheme::{PartId, PartKind};

/// Less than this share of a change is none: what the solver rounds.
const SAME: f64 = 1e-9;
/// Less than this is no current, A: leakage of what blocks.
const CARRIES: f64 = 1e-7;

/// What a part gets at the worst for it, the volts and the current each at a corner of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Extreme {
    /// Across it, V.
    pub volts: f64,
    /// Through it, A.
    pub amps: f64,
}

/// The least of what a part needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Needed {
    /// What it gets at the least, of volts and current each.
    pub least: Extreme,
    /// The one of the two that lacks most: what it gets, V or A.
    pub gets: f64,
    /// What it surely needs of that, V or A.
    pub needs: f64,
    /// It is a current.
    pub in_amps: bool,
}

impl Needed {
    /// It surely is on.
    pub(crate) fn enough(&self) -> bool {
        self.gets >= self.needs
    }
    /// What it gets over what it needs.
    pub(crate) fn share(&self) -> f64 {
        self.gets / self.needs
    }
}

/// The least of what a part gets, against what it needs to be surely on.
pub(crate) fn needed(
    study: &Study<'_, '_>,
    setup: &Setup,
    part: PartId,
    thresholds: &Thresholds,
) -> Result<Needed, BenchFault> {
    Ok(lacking(extreme(study, setup, part, false)?, thresholds))
}

/// What a part that gets so much at the least lacks most.
pub(crate) fn lacking(least: Extreme, thresholds: &Thresholds) -> Needed {
    let (volts, amps) = (least.volts, least.amps);
    let by_amps = |needs| Needed { least, gets: amps, needs, in_amps: true };
    let by_volts = Needed { least, gets: volts, needs: thresholds.on, in_amps: false };
    match thresholds.least {
        _ if thresholds.by_current => by_amps(thresholds.on),
        Some(needs) if amps / needs < volts / thresholds.on => by_amps(needs),
        _ => by_volts,
    }
}

/// The least or the most of volts and current that a part gets where a setup puts it.
pub(crate) fn extreme(
    study: &Study<'_, '_>,
    setup: &Setup,
    part: PartId,
    most: bool,
) -> Result<Extreme, BenchFault> {
    // A coil moves by its current: its volts are told at the temperature of its resistance.
    if let PartKind::Coil(_) = study.scheme().parts[part].kind {
        let (ends, warmth) =
            if most { (Ends::MOST, Warmth::Cold) } else { (Ends::LEAST, Warmth::Hot) };
        let readings = study.bench.solve(&setup.clone().at(ends))?;
        let room = study.bench.ohm(part, Warmth::Room).zip(study.bench.ohm(part, warmth));
        let told = room.map_or(1.0, |(room, here)| room / here);
        return Ok(Extreme {
            volts: readings.across(part).unwrap_or(0.0).abs() * told,
            amps: readings.amps(part).unwrap_or(0.0).abs(),
        });
    }
    let others = spreading(study, setup, part)?;
    let (ends, far) = if most { (Ends::MOST, Warmth::Hot) } else { (Ends::LEAST, Warmth::Cold) };
    let begin = setup.clone().at(ends);
    let first = at(study, &begin, part)?;
    let corner = |value: fn(&Extreme) -> f64| {
        corner(study, (&begin, first), part, (&others, far), (most, value))
    };
    let by_amps = corner(|it| it.amps)?;
    // A lamp is judged by its current, and has the volts that belong to it.
    if let PartKind::Lamp(_) = study.scheme().parts[part].kind {
        return Ok(by_amps);
    }
    Ok(Extreme { volts: corner(|it| it.volts)?.volts, amps: by_amps.amps })
}

/// The most current that a lamp or an input gets where a setup puts it.
pub(crate) fn most_amps(
    study: &Study<'_, '_>,
    setup: &Setup,
    part: PartId,
) -> Result<f64, BenchFault> {
    let others = spreading(study, setup, part)?;
    let begin = setup.clone().at(Ends::MOST);
    let first = at(study, &begin, part)?;
    let worst = corner(
        study,
        (&begin, first),
        part,
        (&others, Warmth::Hot),
        (true, |it: &Extreme| it.amps),
    )?;
    Ok(worst.amps)
}

/// What a part gets in a setup.
fn at(study: &Study<'_, '_>, setup: &Setup, part: PartId) -> Result<Extreme, BenchFault> {
    let readings = study.bench.solve(setup)?;
    Ok(Extreme { volts: super::of(&readings, part, false), amps: super::of(&readings, part, true) })
}

/// From one corner on, each of the others in turn at its far end where that is worse.
fn corner(
    study: &Study<'_, '_>,
    (begin, first): (&Setup, Extreme),
    part: PartId,
    (others, far): (&[PartId], Warmth),
    (most, value): (bool, fn(&Extreme) -> f64),
) -> Result<Extreme, BenchFault> {
    let (mut setup, mut worst) = (begin.clone(), first);
    for &other in others {
        let tried = setup.clone().with_apart(other, Stand::At(far));
        let got = at(study, &tried, part)?;
        let (now, known) = (value(&got), value(&worst));
        let worse = if most { now > known * (1.0 + SAME) } else { now < known * (1.0 - SAME) };
        if worse {
            (setup, worst) = (tried, got);
        }
    }
    Ok(worst)
}

/// The part itself and the loads of its section that carry current, as far as their tolerances
/// matter. What the setup puts somewhere of its own stays there.
fn spreading(
    study: &Study<'_, '_>,
    setup: &Setup,
    part: PartId,
) -> Result<Vec<PartId>, BenchFault> {
    let readings = study.bench.solve(setup)?;
    let wiring = &study.machine.wiring;
    let section = wiring.section_of(part);
    let counts = |id: PartId| {
        study.bench.spreads(id)
            && !setup.apart.iter().any(|(known, _)| *known == id)
            && wiring.section_of(id) == section
            && readings.amps(id).is_some_and(|amps| amps.abs() >= CARRIES)
    };
    let others = study.scheme().placed().map(|(id, _)| id).filter(|id| *id != part);
    Ok(std::iter::once(part).chain(others).filter(|id| counts(*id)).collect())
}
