//! From readings to the single faults that explain them all.
//!
//! **In:** a study, readings, the rest position if it is known. **Out:** a [`Diagnosis`].
//! **Never here:** two faults at once.
//!
//! Each fault is put on the bench at nominal voltage and 20 °C; with nothing broken the readings may
//! also lie anywhere between the ends of the tolerances of the parts. A battery stands somewhere in its
//! range, the same for all readings of one supply: one factor must bring every reading within the
//! tolerance. What floats shows 0 V.

use super::ends::corners;
use super::fault::{FaultKind, SingleFault, faults};
use super::fit::{StandsAt, To, Wanted, beyond, fit};
use super::next::{Candidate, NextPoint, next_point};
use super::points::{Points, sides, wire_name};
use super::table::with_reference;
use super::taken::{OtherProbe, ReadingTaken};
use crate::Study;
use crate::grounds::Alike;
use crate::rest::RestPosition;
use fiftytwo_circuit::bench::{Charge, Readings};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, Scheme, SupplyId};
use serde::Serialize;
use std::fmt;

/// A reading may lie off by this …
pub const TOLERANCE_VOLTS: f64 = 1.5;
/// … and this share of it (a meter, its leads, values that are not quite as declared; common
/// practice, no source).
pub const TOLERANCE_SHARE: f64 = 0.03;
/// More explanations than this are counted, not listed.
const MOST_LISTED: usize = 60;
/// So many are told that come near where nothing explains the readings.
const MOST_NEAREST: usize = 3;

/// What is wrong with what was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MeterFault {
    /// No reading was given.
    NoReading,
    /// There is no such point.
    PointUnknown {
        /// As typed.
        point: String,
        /// A name that looks like it.
        like: Option<String>,
        /// What it is instead: a part, and the wires on its two sides.
        instead: Option<String>,
    },
    /// There is no such rest position.
    PositionUnknown {
        /// As typed.
        position: String,
        /// Those there are.
        known: Vec<String>,
    },
}

impl fmt::Display for MeterFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoReading => write!(f, "no reading was given"),
            Self::PointUnknown { point, instead: Some(instead), .. } => {
                write!(f, "\"{point}\" is no wire, terminal or screw: {instead}")
            }
            Self::PointUnknown { point, like: Some(like), .. } => write!(
                f,
                "there is no wire, terminal or screw \"{point}\"; one is called \"{like}\""
            ),
            Self::PointUnknown { point, .. } => {
                write!(f, "there is no wire, terminal or screw \"{point}\"")
            }
            Self::PositionUnknown { position, known } => write!(
                f,
                "there is no rest position \"{position}\"; there are: {}",
                known.join("; ")
            ),
        }
    }
}

impl std::error::Error for MeterFault {}

/// A wire at ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Grounded {
    /// The wire.
    pub wire: String,
    /// Through so many ohms; 0: solidly.
    pub ohm: f64,
}

/// One fault that explains every reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Explanation {
    /// In words.
    pub fault: String,
    /// Its kind.
    pub kind: FaultKind,
    /// The part, if it is one.
    pub part: Option<String>,
    /// Of a ground: where.
    pub ground: Option<Grounded>,
    /// In these rest positions.
    pub positions: Vec<String>,
    /// The voltage of each supply at which it fits best, V.
    pub supplies: Vec<StandsAt>,
    /// The readings that would be expected, in the order given, V.
    pub expected: Vec<f64>,
    /// The greatest difference, V.
    pub off: f64,
}

/// A fault that comes near.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Near {
    /// In words.
    pub fault: String,
    /// In these rest positions.
    pub positions: Vec<String>,
    /// The readings that would be expected, in the order given, V.
    pub expected: Vec<f64>,
}

/// What the readings mean.
#[derive(Debug, Clone, Serialize)]
pub struct Diagnosis {
    /// The readings as understood.
    pub readings: Vec<String>,
    /// The rest positions tried.
    pub positions: Vec<String>,
    /// Nothing broken explains them in at least one position.
    pub healthy: bool,
    /// Those positions.
    pub healthy_in: Vec<String>,
    /// The single faults that explain every reading where nothing broken does not, the likelier
    /// first; before them that nothing is broken, if it explains them anywhere.
    pub explanations: Vec<Explanation>,
    /// How many more there are than are listed.
    pub more: usize,
    /// How many faults leave the readings within their tolerance where nothing broken explains them:
    /// the readings say nothing of them.
    pub unmoved: usize,
    /// Nothing explains them: what comes nearest, the nearest first.
    pub nearest: Vec<Near>,
    /// Readings that no supply can give, in a sentence each.
    pub beyond: Vec<String>,
    /// How many faults were tried, over all positions.
    pub tried: usize,
    /// How many could not be computed: they are neither explanations nor ruled out.
    pub not_computed: usize,
    /// The point that tells the remaining ones apart best; none: no voltage does.
    pub next: Option<NextPoint>,
    /// What is covered and what not.
    pub covers: Vec<String>,
}

/// Looks for the single faults that explain readings.
///
/// # Errors
/// A point or a position that does not exist; no reading at all.
pub fn explain(
    study: &Study<'_, '_>,
    readings: &[ReadingTaken],
    position: Option<&str>,
) -> Result<Diagnosis, Vec<MeterFault>> {
    let scheme = study.scheme();
    let wanted = resolve(study, readings)?;
    let rests: Vec<_> = study
        .rest
        .iter()
        .filter(|rest| position.is_none_or(|name| rest.name.eq_ignore_ascii_case(name.trim())))
        .collect();
    if rests.is_empty() {
        let known = study.rest.iter().map(|rest| rest.name.clone()).collect();
        let position = position.unwrap_or_default().to_owned();
        return Err(vec![MeterFault::PositionUnknown { position, known }]);
    }
    let alike = Alike::new(scheme);
    let near = |node: NodeId| {
        wanted.iter().any(|reading| alike.together(node.index(), reading.point.index()))
    };
    let mut found: Vec<(SingleFault, Explanation)> = Vec::new();
    let mut nearest: Vec<(SingleFault, Explanation)> = Vec::new();
    let mut healthy_in: Vec<String> = Vec::new();
    let mut unmoved: Vec<SingleFault> = Vec::new();
    let mut candidates = Vec::new();
    let (mut tried, mut not_computed) = (0, 0);
    for (rest, names) in as_one(&alike, &wanted, &rests) {
        let setup = with_reference(scheme, rest.setup(&study.bench));
        let mut sound = false;
        for fault in faults(scheme, rest, &near) {
            tried += 1;
            let Ok(solved) = study.bench.solve(&fault.put(setup.clone())) else {
                not_computed += 1;
                continue;
            };
            // Sound parts may stand anywhere in their tolerances.
            let ends = match fault {
                SingleFault::None => corners(study, &setup, &[Charge::Nominal]).unwrap_or_default(),
                _ => Vec::new(),
            };
            let all: Vec<&Readings<'_>> = std::iter::once(&solved).chain(&ends).collect();
            let fit = fit(study, &wanted, &all);
            if leaves(scheme, rest, &solved) {
                continue;
            }
            let told = || Explanation {
                fault: fault.words(scheme, &|node| wire_name(scheme, node)),
                kind: fault.kind(scheme),
                part: fault.part().map(|part| scheme.parts[part].name.clone()),
                ground: fault
                    .ground()
                    .map(|(node, ohm)| Grounded { wire: wire_name(scheme, node), ohm }),
                positions: names.clone(),
                supplies: fit.supplies.clone(),
                expected: fit.expected.clone(),
                off: fit.off,
            };
            if !fit.inside {
                nearest.push((fault, told()));
                continue;
            }
            if fault == SingleFault::None {
                // The first of each position: the others are held against it.
                sound = true;
                healthy_in.extend(names.iter().cloned());
            } else if sound {
                if !unmoved.contains(&fault) {
                    unmoved.push(fault);
                }
                continue;
            }
            if candidates.len() < MOST_LISTED * 4 {
                candidates.push(Candidate::new(study, fault, &rest.name, &solved));
            }
            match found.iter_mut().find(|(known, _)| *known == fault) {
                Some((_, old)) => {
                    old.positions.extend(names.iter().cloned());
                    if fit.off < old.off {
                        let Explanation { supplies, expected, off, .. } = told();
                        (old.off, old.expected, old.supplies) = (off, expected, supplies);
                    }
                }
                None => found.push((fault, told())),
            }
        }
    }
    let unmoved = unmoved.iter().filter(|it| !found.iter().any(|(known, _)| known == *it)).count();
    let mut explanations: Vec<Explanation> = found.into_iter().map(|(_, told)| told).collect();
    explanations.sort_by(|a, b| {
        let close = |off: f64| off > TOLERANCE_VOLTS;
        (a.kind, close(a.off)).cmp(&(b.kind, close(b.off))).then(a.off.total_cmp(&b.off))
    });
    let nearest = if explanations.is_empty() { nearest_of(nearest) } else { Vec::new() };
    let measured: Vec<NodeId> = wanted.iter().map(|reading| reading.point).collect();
    let more = explanations.len().saturating_sub(MOST_LISTED);
    explanations.truncate(MOST_LISTED);
    Ok(Diagnosis {
        readings: readings.iter().map(ToString::to_string).collect(),
        positions: rests.iter().map(|rest| rest.name.clone()).collect(),
        healthy: !healthy_in.is_empty(),
        healthy_in,
        explanations,
        more,
        unmoved,
        nearest,
        beyond: beyond(scheme, readings, &wanted),
        tried,
        not_computed,
        next: next_point(study, &candidates, &measured),
        covers: vec![
            "one fault at a time: a part open or shorted, a contact that does not make or is \
             welded, a fuse blown, a wire grounded (solidly, through 5 and 20 kohm), a supply lost"
                .to_owned(),
            format!(
                "each reading within {TOLERANCE_VOLTS} V and {} % of what is expected, the supply \
                 anywhere in its range; where nothing is broken, parts anywhere in their tolerances, \
                 beside a fault at the middle of theirs",
                TOLERANCE_SHARE * 100.0
            ),
            "every device stands as in the rest position, and a fault that would drive the breaker \
             out of it is left out; not: two faults at once, bad joints, the meter's own current, \
             what relays do because of the fault"
                .to_owned(),
        ],
    })
}

/// Rest positions in which all that hangs together with the points measured stands alike: the
/// first, and the names of all.
fn as_one<'r>(
    alike: &Alike,
    wanted: &[Wanted],
    rests: &[&'r RestPosition],
) -> Vec<(&'r RestPosition, Vec<String>)> {
    let mut supplies: Vec<SupplyId> = wanted.iter().filter_map(|it| it.supply).collect();
    supplies.sort_unstable();
    supplies.dedup();
    let mut groups: Vec<(&RestPosition, Vec<String>, Vec<_>)> = Vec::new();
    for &rest in rests {
        let key: Vec<_> = supplies.iter().map(|supply| alike.key(*supply, rest)).collect();
        let about = rest.breaker;
        match groups.iter_mut().find(|(first, _, known)| first.breaker == about && *known == key) {
            Some((_, names, _)) => names.push(rest.name.clone()),
            None => groups.push((rest, vec![rest.name.clone()], key)),
        }
    }
    groups.into_iter().map(|(rest, names, _)| (rest, names)).collect()
}

/// Whether a coil of the breaker is driven away from where it stands: then it would not stand there.
fn leaves(scheme: &Scheme, rest: &RestPosition, solved: &Readings<'_>) -> bool {
    let Some((breaker, closed)) = rest.breaker.filter(|_| rest.stays) else { return false };
    scheme.coils().any(|(id, part, coil)| {
        part.device == Some(breaker)
            && (coil.drives_to == 1) != closed
            && solved.amps(id).is_some_and(|amps| amps != 0.0)
            && solved
                .across(id)
                .zip(coil.surely_from())
                .is_some_and(|(volts, needs)| volts.abs() >= needs)
    })
}

fn resolve(
    study: &Study<'_, '_>,
    readings: &[ReadingTaken],
) -> Result<Vec<Wanted>, Vec<MeterFault>> {
    let scheme = study.scheme();
    if readings.is_empty() {
        return Err(vec![MeterFault::NoReading]);
    }
    let points = Points::new(scheme);
    let mut unknown = Vec::new();
    let mut find = |name: &str| {
        let node = points.find(name);
        if node.is_none() {
            let like = points.like(name).map(str::to_owned);
            let instead = sides(scheme, name);
            unknown.push(MeterFault::PointUnknown { point: name.to_owned(), like, instead });
        }
        node
    };
    let mut wanted = Vec::new();
    for reading in readings {
        let Some(point) = find(&reading.point) else { continue };
        let supply = study.bench.supply_of(point);
        let pole = |plus: bool| {
            supply.map(|id| {
                let supply = &scheme.supplies[id];
                To::Node(if plus { supply.plus } else { supply.minus })
            })
        };
        let to = match &reading.to {
            OtherProbe::Ground => Some(To::Ground),
            OtherProbe::OwnMinus => pole(false),
            OtherProbe::OwnPlus => pole(true),
            OtherProbe::Point(name) => find(name).map(To::Node),
        };
        let Some(to) = to else { continue };
        wanted.push(Wanted { point, to, volts: reading.volts, supply });
    }
    if unknown.is_empty() { Ok(wanted) } else { Err(unknown) }
}

/// The nearest few, each fault once.
fn nearest_of(mut all: Vec<(SingleFault, Explanation)>) -> Vec<Near> {
    all.sort_by(|a, b| a.1.off.total_cmp(&b.1.off).then(a.1.kind.cmp(&b.1.kind)));
    let mut nearest: Vec<(SingleFault, Explanation)> = Vec::new();
    for one in all {
        if nearest.len() == MOST_NEAREST {
            break;
        }
        if !nearest.iter().any(|(known, _)| *known == one.0) {
            nearest.push(one);
        }
    }
    let near = |Explanation { fault, positions, expected, .. }| Near { fault, positions, expected };
    nearest.into_iter().map(|(_, told)| near(told)).collect()
}
