//! What a fuse must carry: for ever, and for moments.
//!
//! **In:** the loads behind it. **Out:** the greatest steady current, the moments, and the share of
//! its melting that the moments may use up. **Never here:** shorts.
//!
//! An upper bound: every load behind it at once, each at the highest voltage of the supply and at
//! its least resistance, without the drop in cables. Coils with `max-on`, and coils of breakers and
//! lockouts, count for that time (1 s if none is written: common practice, no source), motors with
//! their starting current for `starts-in` (0.5 s if not written: common practice, no source),
//! filaments with their cold current for 0.1 s (from memory); everything else counts for ever. Lamps,
//! inputs and relays across a contact or in front of a coil (`across`) count with the most that they
//! draw in any rest position.
//! Coils in series (a target relay before a trip coil) carry one current: it counts once, at the coil
//! of the most ohms, through the resistances of the way. Moments begin together. The share used up is the sum, over the stretches of time, of the stretch
//! over the least melting time at its current (linear accumulation; common practice, no source).

use super::curve::TimeCurrent;
use fiftytwo_circuit::Wiring;
use fiftytwo_circuit::bench::{Bench, Warmth};
use fiftytwo_scheme::{DeviceKind, Lamp, Motor, Part, PartId, PartKind, Scheme, Supply, TimeRange};
use serde::Serialize;

/// A coil of a breaker or a lockout without `max-on` counts as on for so long, s.
const COIL_ON: f64 = 1.0;
/// A motor without `starts-in` starts for so long, s.
const MOTOR_STARTS: f64 = 0.5;
/// A cold filament draws its greatest current for so long, s.
const FILAMENT_COLD: f64 = 0.1;
/// An opto input without a resistance, A.
const INPUT: f64 = 0.004;

/// A load that draws more for a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// The load.
    pub load: String,
    /// Above its steady current, A.
    pub amps: f64,
    /// For so long, s.
    pub seconds: f64,
    /// The time is declared.
    pub declared: bool,
}

/// What a fuse must carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Carries {
    /// For ever, A (upper bound).
    pub steady: f64,
    /// The load that draws the most of that, and its share, A.
    #[serde(skip)]
    pub greatest_steady: Option<(String, f64)>,
    /// With every moment at once, A (upper bound).
    pub most: f64,
    /// The moments, the shortest first.
    pub moments: Vec<Moment>,
    /// The part of its melting that they use up; none: its times are not known.
    pub used: Option<f64>,
    /// Loads whose current is not declared, and what was taken.
    pub typical: Vec<String>,
}

/// What loads are asked of: the scheme, how it is wired, and its resistances.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a, 's> {
    pub(super) scheme: &'s Scheme,
    pub(super) wiring: &'a Wiring<'s>,
    pub(super) bench: &'a Bench<'s>,
}

pub(super) fn carries(
    asked: Asked<'_, '_>,
    supply: &Supply,
    (behind, across): (&[PartId], &[(PartId, f64)]),
    times: Option<&TimeCurrent>,
) -> Carries {
    let mut found = Carries {
        steady: 0.0,
        greatest_steady: None,
        most: 0.0,
        moments: Vec::new(),
        used: None,
        typical: Vec::new(),
    };
    for &id in behind {
        add(asked, supply, id, behind, &mut found);
    }
    for &(id, amps) in across {
        found.steady += amps;
        if amps > found.greatest_steady.as_ref().map_or(0.0, |(_, most)| *most) {
            found.greatest_steady = Some((asked.scheme.parts[id].name.clone(), amps));
        }
    }
    found.moments.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    found.most = found.steady + found.moments.iter().map(|moment| moment.amps).sum::<f64>();
    found.used = times.map(|times| used(times, &found));
    found
}

fn add(asked: Asked<'_, '_>, supply: &Supply, id: PartId, behind: &[PartId], found: &mut Carries) {
    let Asked { scheme, bench, .. } = asked;
    let part = &scheme.parts[id];
    let high = supply.range.hi;
    let by_ohm = bench.ohm(id, Warmth::Cold).map(|ohm| high / ohm);
    // A load given by its current at nominal voltage is taken as a resistance.
    let scaled = |amps: f64, volts: f64| amps * high / volts.max(1e-9);
    let nominal = supply.nominal.middle();
    if let Some(assumed) = bench.assumed().iter().find(|assumed| assumed.part == id) {
        found.typical.push(format!("{}: {}", assumed.name, assumed.words));
    }
    let steady = match &part.kind {
        PartKind::Coil(coil) => {
            let in_series = in_series(asked, id, behind).map(|ohm| high / ohm);
            let amps = in_series.or(by_ohm).unwrap_or(0.0);
            match on_time(scheme, part, coil.max_on.as_ref()) {
                // It carries the current of another coil, which is counted there.
                _ if amps <= 0.0 => 0.0,
                Some((seconds, declared)) => {
                    found.moments.push(Moment { load: part.name.clone(), amps, seconds, declared });
                    0.0
                }
                None => amps,
            }
        }
        PartKind::Motor(motor) => {
            let runs = scaled(motor.rating.hi, nominal);
            starts(motor, part, runs, |amps| scaled(amps, nominal), found);
            runs
        }
        PartKind::Lamp(lamp) => {
            let runs = by_ohm.unwrap_or_else(|| glows(lamp, high, nominal));
            if let Some(cold) = &lamp.cold {
                found.moments.push(Moment {
                    load: part.name.clone(),
                    amps: (high / cold.lo.max(1e-9) - runs).max(0.0),
                    seconds: FILAMENT_COLD,
                    declared: false,
                });
            }
            runs
        }
        PartKind::Input(_) => by_ohm.unwrap_or(INPUT),
        _ => by_ohm.unwrap_or(0.0),
    };
    found.steady += steady;
    if steady > found.greatest_steady.as_ref().map_or(0.0, |(_, most)| *most) {
        found.greatest_steady = Some((part.name.clone(), steady));
    }
}

/// The most that a coil alone draws through its ways, conductors counted at their coldest, A; none:
/// nothing is declared, or no way leads to it.
pub(super) fn alone(asked: Asked<'_, '_>, supply: &Supply, coil: PartId) -> Option<f64> {
    let ways = asked.wiring.ways(coil);
    let of_way = ways.list.iter().map(|way| {
        let ohm = |part: &PartId| asked.bench.ohm(*part, Warmth::Cold).unwrap_or(0.0);
        supply.range.hi / (supply.resistance.lo + way.parts.iter().map(ohm).sum::<f64>())
    });
    of_way.filter(|amps| amps.is_finite()).reduce(f64::max)
}

/// The least resistance of the ways of a coil that stands in series with other coils or resistors
/// on all of them, ohm; infinite where another coil behind the same fuse counts for it; none: it
/// stands alone on some way.
fn in_series(asked: Asked<'_, '_>, coil: PartId, behind: &[PartId]) -> Option<f64> {
    let Asked { scheme, wiring, bench } = asked;
    let own = bench.ohm(coil, Warmth::Cold)?;
    let ways = wiring.ways(coil);
    let mut least = f64::INFINITY;
    for way in &ways.list {
        let others = way.parts.iter().filter(|part| **part != coil).filter_map(|part| {
            let is_coil = matches!(scheme.parts[*part].kind, PartKind::Coil(_));
            let counts = is_coil || matches!(scheme.parts[*part].kind, PartKind::Resistor { .. });
            let ohm = bench.ohm(*part, Warmth::Cold).unwrap_or(0.0);
            counts.then_some((*part, is_coil, ohm))
        });
        let others: Vec<(PartId, bool, f64)> = others.collect();
        if others.is_empty() {
            return None;
        }
        let for_it = others.iter().any(|(part, is_coil, ohm)| {
            *is_coil && behind.contains(part) && (*ohm, *part) > (own, coil)
        });
        if !for_it {
            least = least.min(own + others.iter().map(|(.., ohm)| ohm).sum::<f64>());
        }
    }
    (!ways.list.is_empty()).then_some(least)
}

/// A lamp that is no plain resistance: its current at its rated voltage, in proportion to the
/// volts above.
fn glows(lamp: &Lamp, high: f64, nominal: f64) -> f64 {
    let rated = lamp.rated.as_ref().map_or(nominal, |rated| rated.lo);
    lamp.current.hi * (high / rated.max(1e-9)).max(1.0)
}

fn starts(motor: &Motor, part: &Part, runs: f64, scaled: impl Fn(f64) -> f64, found: &mut Carries) {
    let Some(inrush) = &motor.inrush else { return };
    found.moments.push(Moment {
        load: part.name.clone(),
        amps: (scaled(inrush.hi) - runs).max(0.0),
        seconds: motor.starts_in.as_ref().map_or(MOTOR_STARTS, seconds),
        declared: motor.starts_in.is_some(),
    });
}

/// How long a momentary coil is on, and whether that is declared; none: it may be on for ever.
fn on_time(scheme: &Scheme, part: &Part, max_on: Option<&TimeRange>) -> Option<(f64, bool)> {
    if let Some(max_on) = max_on {
        return Some((seconds(max_on), true));
    }
    let kind = part.device.map(|device| &scheme.devices[device].kind);
    let momentary = kind.is_some_and(DeviceKind::is_breaker_or_lockout);
    momentary.then_some((COIL_ON, false))
}

/// The greatest of a range, s.
fn seconds(range: &TimeRange) -> f64 {
    // Microseconds of a time in a scheme are far below 2^53.
    #[expect(clippy::cast_precision_loss, reason = "below 2^53 microseconds it is exact")]
    let micros = range.hi as f64;
    micros / 1e6
}

fn used(times: &TimeCurrent, carries: &Carries) -> f64 {
    let (mut used, mut begin, mut amps) = (0.0, 0.0, carries.most);
    for moment in &carries.moments {
        let melts = times.melts_not_before(amps);
        if moment.seconds > begin {
            used += if melts > 0.0 { (moment.seconds - begin) / melts } else { f64::INFINITY };
            begin = moment.seconds;
        }
        amps -= moment.amps;
    }
    used
}
