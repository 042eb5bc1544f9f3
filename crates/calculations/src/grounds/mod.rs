//! Grounds on a floating battery: which coils and inputs move, for how long; which pairs trip or
//! close; where coils rest; the detector itself.
//!
//! **In:** a [`Study`](crate::Study): the scheme on the test bench and its rest positions.
//! **Out:** a [`Grounds`]: typed data and findings.
//! **Never here:** grounds while something is on its way (only at rest, and with a trip coil driven),
//! alternating current, capacitance along single cables (all of it stands at the poles).
//!
//! Formulas: `docs/calculations.md`. The detector's ground is one node; the station's stray
//! capacitance holds it in the first instant, then it moves by one time constant to where the
//! detector's legs and the ground hold it.

mod alike;
mod assumed;
pub mod bridge;
mod detectors;
pub mod discharge;
mod effect;
mod exact;
pub mod field;
mod figures;
mod follow;
mod grounded;
mod island;
mod joined;
mod pairs;
mod polarity;
mod single;
mod telling;

#[cfg(test)]
mod tests;

use crate::Study;
use fiftytwo_circuit::bench::{Charge, Ends, Warmth};
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_circuit::{DetectorLegs, Setup, Stand};
use fiftytwo_motion::machine::Scope;
use fiftytwo_scheme::{CurrentKind, Finding, PartId, Scheme, SupplyId};
use serde::Serialize;

pub(crate) use alike::Alike;
pub use assumed::{TYPICAL_LEG, TYPICAL_STILL};
pub use detectors::{Alarm, DetectorReport};
pub(crate) use effect::pickup_time;
pub use effect::{How, Moved};
pub use follow::Outcome;
pub use pairs::PairOfGrounds;
pub use polarity::RestingCoil;
pub use single::{OneGround, WorstGround};

/// Resistances of a ground that are tried beside the detectors' alarm values, ohm.
pub const TRIED: [f64; 4] = [0.0, 1e3, 5e3, 20e3];

/// What grounds do.
#[derive(Debug, Clone, Serialize)]
pub struct Grounds {
    /// The detectors, supply by supply.
    pub detectors: Vec<DetectorReport>,
    /// The resistances tried, ohm.
    pub tried_ohm: Vec<f64>,
    /// The rest positions tried. Where all that hangs together with a battery stands as in an
    /// earlier one, it is tried there only.
    pub positions: Vec<String>,
    /// Single grounds that move something, the worst first.
    pub moves: Vec<OneGround>,
    /// The worst that a single ground does to each coil and input, the least margin first.
    pub worst: Vec<WorstGround>,
    /// Pairs of grounds, the worst first.
    pub pairs: Vec<PairOfGrounds>,
    /// Where idle coils rest.
    pub resting: Vec<RestingCoil>,
    /// Typical values in use, in words.
    pub typical: Vec<String>,
    /// What is covered and what not, in words.
    pub covers: Vec<String>,
    /// `ground-moves`, `ground-holds`, `two-ground-detectors`, `ground-detector-too-strong`,
    /// `coil-rests-at-plus`, `ground-shorts-supply`, `input-threshold-not-declared`, `grounds-not-computed`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// The islands of one rest position at one corner.
#[derive(Debug)]
struct Plant {
    position: usize,
    corner: &'static str,
    high: bool,
    hot: bool,
    /// The detector's legs stand at their middle.
    middle: bool,
    islands: Vec<island::Island>,
}

const CORNERS: [(Ends, &str); 3] = [
    (
        Ends { battery: Charge::High, conductors: Warmth::Cold, coils: Warmth::Hot },
        "supply high, conductors cold, coils hot",
    ),
    (
        Ends { battery: Charge::High, conductors: Warmth::Cold, coils: Warmth::Cold },
        "supply high, conductors and coils cold",
    ),
    (
        Ends { battery: Charge::Low, conductors: Warmth::Hot, coils: Warmth::Hot },
        "supply low, conductors and coils hot",
    ),
];

/// A corner with the detector's legs elsewhere in their ranges.
fn corner_with(corner: usize, stand: DetectorLegs) -> &'static str {
    const NEAR_PLUS: [&str; 3] = [
        "supply high, conductors cold, coils hot, the plus leg low and the minus leg high",
        "supply high, conductors and coils cold, the plus leg low and the minus leg high",
        "supply low, conductors and coils hot, the plus leg low and the minus leg high",
    ];
    const NEAR_MINUS: [&str; 3] = [
        "supply high, conductors cold, coils hot, the plus leg high and the minus leg low",
        "supply high, conductors and coils cold, the plus leg high and the minus leg low",
        "supply low, conductors and coils hot, the plus leg high and the minus leg low",
    ];
    const BOTH_LOW: [&str; 3] = [
        "supply high, conductors cold, coils hot, both legs low",
        "supply high, conductors and coils cold, both legs low",
        "supply low, conductors and coils hot, both legs low",
    ];
    let names = match stand {
        DetectorLegs::NearPlus => NEAR_PLUS,
        DetectorLegs::NearMinus => NEAR_MINUS,
        DetectorLegs::BothLow => BOTH_LOW,
        DetectorLegs::Middle => CORNERS.map(|(_, name)| name),
    };
    names.get(corner).copied().unwrap_or_default()
}

type Corner<'d> = (DetectorLegs, &'d [assumed::Detector], Ends, &'static str, Vec<(PartId, Stand)>);

/// A coil's tolerance has nothing to do with its temperature: a cold coil moves at fewer volts, and one of
/// the most ohms lets the capacitance discharge slowest. Only where a coil has a tolerance.
fn tolerances<'d>(scheme: &Scheme, detectors: &'d [assumed::Detector]) -> Vec<Corner<'d>> {
    let coils = || {
        scheme.coils().filter_map(|(id, part, coil)| {
            let ohm = coil.resistance.as_ref()?;
            (part.at.is_some() && ohm.hi > ohm.lo).then(|| (id, coil_warmth(scheme, part), ohm))
        })
    };
    if coils().next().is_none() {
        return Vec::new();
    }
    let most = coils().map(|(id, (cold, _), ohm)| (id, Stand::Ohm(ohm.hi * cold))).collect();
    let least = coils().map(|(id, (_, hot), ohm)| (id, Stand::Ohm(ohm.lo * hot))).collect();
    vec![
        (
            DetectorLegs::Middle,
            detectors,
            CORNERS[1].0,
            "supply high, conductors and coils cold, each coil at the most ohms of its tolerance",
            most,
        ),
        (
            DetectorLegs::Middle,
            detectors,
            CORNERS[2].0,
            "supply low, conductors and coils hot, each coil at the least ohms of its tolerance",
            least,
        ),
    ]
}

/// Tries grounds everywhere.
pub fn grounds(study: &Study<'_, '_>) -> Grounds {
    let scheme = study.scheme();
    let (detectors, mut typical) = assumed::detectors(scheme);
    let mut findings = Vec::new();
    let mut plants: Vec<Plant> = Vec::new();
    let mut positions: Vec<usize> = Vec::new();
    let alike = Alike::new(scheme);
    let mut seen = std::collections::BTreeSet::new();
    let mut stands = vec![(DetectorLegs::Middle, detectors.clone())];
    for stand in [DetectorLegs::NearPlus, DetectorLegs::NearMinus, DetectorLegs::BothLow] {
        stands.extend(assumed::with_legs(scheme, &detectors, stand).map(|legs| (stand, legs)));
    }
    for (position, rest) in study.rest.iter().enumerate() {
        if !rest.rests {
            continue;
        }
        let direct = scheme.supplies.iter().filter(|(_, supply)| supply.current == CurrentKind::Dc);
        let fresh: Vec<SupplyId> =
            direct.map(|(id, _)| id).filter(|id| seen.insert(alike.key(*id, rest))).collect();
        if fresh.is_empty() {
            continue;
        }
        positions.push(position);
        let corners = stands.iter().flat_map(|(stand, detectors)| {
            let named = CORNERS.iter().enumerate();
            named.map(move |(at, (ends, _))| (*stand, detectors, *ends, corner_with(at, *stand)))
        });
        let corners = corners.map(|(stand, detectors, ends, corner)| {
            (stand, detectors.as_slice(), ends, corner, Vec::new())
        });
        for (stand, detectors, ends, corner, apart) in corners.chain(tolerances(scheme, &detectors))
        {
            let setup = Setup { legs: stand, apart, ..rest.setup(&study.bench).at(ends) };
            match island::islands(&study.bench, &setup, detectors, &fresh, None) {
                Ok(islands) => plants.push(Plant {
                    position,
                    corner,
                    high: ends.battery == Charge::High,
                    hot: ends.coils == Warmth::Hot,
                    middle: stand == DetectorLegs::Middle,
                    islands,
                }),
                Err(fault) => findings.push(telling::not_computed(scheme, rest, corner, fault)),
            }
        }
    }
    let tried = resistances(study);
    let scope = Scope::whole(study.machine);
    let follower = follow::Follower::new(study, &scope);
    let singles = single::singles(study, &plants, &tried, &follower);
    let (pairs, pair_faults) = pairs::pairs(study, &plants, &detectors, &follower);
    let (detector_reports, detector_findings) = detectors::report(study, &detectors);
    let (resting, resting_findings) = polarity::resting(study, &plants);
    findings.extend(telling::single_findings(scheme, &singles));
    findings.extend(telling::no_answers(scheme, &singles.faults));
    findings.extend(pair_faults.iter().map(|fault| fault.finding(scheme)));
    findings.extend(detector_findings);
    findings.extend(grounded::shorts(study));
    findings.extend(resting_findings);
    typical.extend(telling::undeclared(scheme));
    Grounds {
        detectors: detector_reports,
        tried_ohm: tried,
        positions: positions.iter().map(|at| study.rest[*at].name.clone()).collect(),
        moves: singles.moves,
        worst: singles.worst,
        pairs,
        resting,
        typical,
        covers: telling::covers(scheme),
        findings,
    }
}

/// Solid, the usual ones, and where the detectors give alarm; the lowest first.
fn resistances(study: &Study<'_, '_>) -> Vec<f64> {
    let declared = study.scheme().supplies.values().flat_map(|supply| &supply.grounds);
    let alarms = declared.filter_map(|detector| detector.alarms_below.as_ref());
    let mut tried: Vec<f64> = TRIED.iter().copied().chain(alarms.map(|ohm| ohm.middle())).collect();
    tried.sort_by(f64::total_cmp);
    tried.dedup();
    tried
}
