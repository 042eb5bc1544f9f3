//! Two grounds at once: two wires joined through ground.
//!
//! **In:** the islands at every rest position, and with each way of a trip coil closed. **Out:** the
//! pairs that trip, close, block a trip or move something, the worst first, wires of one behaviour
//! together. **Never here:** single grounds.
//!
//! Both grounds are taken as solid; the detector's own current is nothing beside that. Pairs on two
//! batteries that nothing joins are two single grounds.

use super::Plant;
use super::assumed::Detector;
use super::discharge::Discharge;
use super::effect::{How, Judged, Warm, idle_threshold, judge};
use super::field::Added;
use super::follow::{Follower, Outcome, nominal};
use super::island::{Island, islands};
use crate::Study;
use crate::meter::wire_name;
use fiftytwo_circuit::bench::{Charge, Ends, Warmth};
use fiftytwo_circuit::{BenchFault, Setup};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{DeviceKind, NodeId, Part, PartId, PartKind, Scheme, SupplyId};
use serde::Serialize;
use std::collections::BTreeMap;

/// Pairs of grounds with one outcome: any of `first` with any of `second`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairOfGrounds {
    /// Wires, any of which …
    pub first: Vec<String>,
    /// … with any of these.
    pub second: Vec<String>,
    /// What may come of it.
    pub outcome: Outcome,
    /// The coil, input or fuse through which.
    pub through: String,
    /// What happens, in words.
    pub words: String,
    /// The most volts across that coil or input, or the least where a trip is blocked; the most
    /// amperes through that fuse.
    pub value: f64,
    /// The rest positions.
    pub positions: Vec<String>,
}

/// Resistance of each ground of a pair that shorts a battery, ohm.
const JOINT: f64 = 0.5e-3;
/// Resistance of a fuse while its short current is looked for, ohm.
const FUSE: f64 = 1e-3;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Through {
    Moves(PartId, How),
    Starves(PartId),
    Blows(PartId),
}

#[derive(Debug, Clone, Copy)]
struct Seen {
    value: f64,
    /// Bit i: the i-th rest position; the last bit for all beyond.
    positions: u128,
}

#[derive(Default)]
struct Found {
    pairs: BTreeMap<(Through, Outcome), BTreeMap<(NodeId, NodeId), Seen>>,
}

impl Found {
    fn add(
        &mut self,
        through: Through,
        (one, other): (&[NodeId], &[NodeId]),
        outcome: Outcome,
        value: f64,
        position: usize,
    ) {
        let pairs = self.pairs.entry((through, outcome)).or_default();
        for &a in one {
            for &b in other {
                let key = (a.min(b), a.max(b));
                let seen = pairs.entry(key).or_insert(Seen { value, positions: 0 });
                seen.positions |= 1 << position.min(127);
                seen.value = match through {
                    Through::Starves(_) => seen.value.min(value),
                    _ => seen.value.max(value),
                };
            }
        }
    }
}

/// What pairs of grounds do.
pub(super) fn pairs(
    study: &Study<'_, '_>,
    plants: &[Plant],
    detectors: &[Detector],
    follower: &Follower<'_, '_>,
) -> (Vec<PairOfGrounds>, Vec<BenchFault>) {
    let mut found = Found::default();
    for plant in plants.iter().filter(|plant| plant.high && plant.hot && plant.middle) {
        for island in &plant.islands {
            moving(study, plant, island, follower, &mut found);
        }
    }
    let faults = blocking(study, &mut found);
    blowing(study, detectors, &mut found);
    (told(study, found), faults)
}

fn strap(a: NodeId, b: NodeId) -> Added {
    Added { a: a.index(), b: b.index(), ohm: 0.0, volt: 0.0 }
}

/// Pairs that drive, drop or hold something.
fn moving(
    study: &Study<'_, '_>,
    plant: &Plant,
    island: &Island,
    follower: &Follower<'_, '_>,
    found: &mut Found,
) {
    let scheme = study.scheme();
    // Beyond the largest fuse a pair is a short: which fuse it blows is looked for apart.
    let greatest = fuses(scheme).iter().map(|(_, rating)| *rating).max_by(f64::total_cmp);
    let greatest = greatest.unwrap_or(f64::INFINITY);
    let Ok(before) = island.field.with(&[]) else { return };
    let parts: Vec<(PartId, f64, f64)> = island
        .parts
        .iter()
        .filter_map(|&part| {
            let nominal = nominal(study.machine, part);
            idle_threshold(&scheme.parts[part], nominal, Warm::worst(scheme, part))?;
            let volts = island.across(&study.bench, part, &before)?.abs();
            Some((part, nominal, volts))
        })
        .collect();
    for (index, one) in island.points.iter().enumerate() {
        for other in &island.points[index + 1..] {
            let (Some(&a), Some(&b)) = (one.first(), other.first()) else { continue };
            // A short of an ideal supply: the fuses' business.
            let Ok(state) = island.field.with(&[strap(a, b)]) else { continue };
            if state.amps(0).abs() > greatest {
                continue;
            }
            for &(part, nominal, volts_before) in &parts {
                let Some(volts) = island.across(&study.bench, part, &state) else { continue };
                if (volts.abs() - volts_before).abs() < 0.02 * nominal {
                    continue;
                }
                let volts = Discharge { first: volts, last: volts, tau: 0.0 };
                let warm = Warm::worst(scheme, part);
                if let Judged::Moves(moves) =
                    judge(scheme, part, (nominal, volts_before), volts, warm)
                {
                    let rest = &study.rest[plant.position];
                    let outcome = follower.outcome(plant.position, rest, part, moves.how);
                    let through = Through::Moves(part, moves.how);
                    found.add(through, (one, other), outcome, moves.last, plant.position);
                }
            }
        }
    }
}

/// Pairs that take a trip coil's volts while it is driven.
fn blocking(study: &Study<'_, '_>, found: &mut Found) -> Vec<BenchFault> {
    let scheme = study.scheme();
    let wiring = &study.machine.wiring;
    let ends = Ends { battery: Charge::Low, conductors: Warmth::Hot, coils: Warmth::Hot };
    let mut faults = Vec::new();
    for (position, rest) in study.rest.iter().enumerate() {
        if !rest.is_healthy_with(true) {
            continue;
        }
        for (id, part, coil) in scheme.coils() {
            let breaker = rest.breaker.map(|(device, _)| device);
            let needs = coil.surely_from();
            let (Some(section), Some(needs)) = (wiring.section_of(id), needs) else { continue };
            if coil.drives_to != 0 || part.device != breaker {
                continue;
            }
            let mut tried: Vec<Vec<Vec<NodeId>>> = Vec::new();
            for way in &wiring.ways(id).list {
                let mut setup: Setup = rest.setup(&study.bench).at(ends);
                for (bit, &switch) in wiring.switches(section).iter().enumerate() {
                    if way.closed.is_closed(bit) {
                        setup = setup.with_closed(switch, true);
                    }
                }
                let islands = match islands(&study.bench, &setup, &[], &[way.supply], None) {
                    Ok(islands) => islands,
                    Err(super::island::IslandFault::Bench(fault)) => {
                        faults.push(fault);
                        continue;
                    }
                    Err(super::island::IslandFault::Field(..)) => continue,
                };
                for island in islands.iter().filter(|island| island.parts.contains(&id)) {
                    // Ways that make the same numbered wires one are one.
                    let numbered = island.points.iter().map(|point| {
                        let has = |node: &NodeId| scheme.nodes[*node].wire.is_some();
                        point.iter().copied().filter(has).collect::<Vec<NodeId>>()
                    });
                    let mut numbered: Vec<_> = numbered.filter(|it| !it.is_empty()).collect();
                    numbered.sort();
                    if tried.contains(&numbered) {
                        continue;
                    }
                    tried.push(numbered);
                    starved(study, island, id, needs, position, found);
                }
            }
        }
    }
    faults
}

fn starved(
    study: &Study<'_, '_>,
    island: &Island,
    coil: PartId,
    needs: f64,
    position: usize,
    found: &mut Found,
) {
    let healthy = island.field.with(&[]).ok();
    let volts = healthy.and_then(|state| island.across(&study.bench, coil, &state));
    if volts.is_none_or(|volts| volts.abs() < needs) {
        return;
    }
    for (index, one) in island.points.iter().enumerate() {
        for other in &island.points[index + 1..] {
            let (Some(&a), Some(&b)) = (one.first(), other.first()) else { continue };
            let volts = match island.field.with(&[strap(a, b)]) {
                Ok(state) => island.across(&study.bench, coil, &state).map_or(0.0, f64::abs),
                Err(_) => 0.0,
            };
            if volts < needs {
                let through = Through::Starves(coil);
                found.add(through, (one, other), Outcome::BlocksATrip, volts, position);
            }
        }
    }
}

/// Pairs that blow a fuse at rest, with the breaker closed.
fn blowing(study: &Study<'_, '_>, detectors: &[Detector], found: &mut Found) {
    let scheme = study.scheme();
    let fuses = fuses(scheme);
    let Some(least) = fuses.iter().map(|(_, rating)| *rating).min_by(f64::total_cmp) else {
        return;
    };
    let all: Vec<SupplyId> = scheme.supplies.ids().collect();
    for (position, rest) in study.rest.iter().enumerate() {
        let closed = rest.is_healthy_with(true) || rest.breaker.is_none() && rest.is_healthy();
        if !closed {
            continue;
        }
        let setup = rest.setup(&study.bench).at(Ends::MOST);
        // What can't be computed here was told with the moves already.
        let Ok(islands) = islands(&study.bench, &setup, detectors, &all, Some(FUSE)) else {
            continue;
        };
        for island in &islands {
            let here: Vec<(PartId, f64)> =
                fuses.iter().copied().filter(|(fuse, _)| island.parts.contains(fuse)).collect();
            for (index, one) in island.points.iter().enumerate() {
                for other in &island.points[index + 1..] {
                    let (Some(&a), Some(&b)) = (one.first(), other.first()) else { continue };
                    let joint = Added { ohm: 2.0 * JOINT, ..strap(a, b) };
                    let Ok(state) = island.field.with(&[joint]) else { continue };
                    if state.amps(0).abs() <= least {
                        continue;
                    }
                    for &(fuse, rating) in &here {
                        let volts = island.across(&study.bench, fuse, &state);
                        let amps = volts.map_or(0.0, |volts| (volts / FUSE).abs());
                        if amps > rating {
                            let outcome = taken_away(study, position, fuse);
                            found.add(Through::Blows(fuse), (one, other), outcome, amps, position);
                        }
                    }
                }
            }
        }
    }
}

/// Placed fuses and their ratings, A.
fn fuses(scheme: &Scheme) -> Vec<(PartId, f64)> {
    let rating = |(id, part): (PartId, &Part)| match &part.kind {
        PartKind::Fuse { rating, .. } => Some((id, rating.hi)),
        _ => None,
    };
    scheme.placed().filter_map(rating).collect()
}

/// What is lost with a fuse: a trip, if no way of a trip coil goes without it.
fn taken_away(study: &Study<'_, '_>, position: usize, fuse: PartId) -> Outcome {
    let breaker = study.rest[position].breaker.map(|(device, _)| device);
    let needs_it = study.scheme().coils().any(|(id, part, coil)| {
        let ways = &study.machine.wiring.ways(id).list;
        coil.drives_to == 0
            && part.device == breaker
            && !ways.is_empty()
            && ways.iter().all(|way| way.parts.contains(&fuse))
    });
    if needs_it { Outcome::BlocksATrip } else { Outcome::MovesADevice }
}

/// Groups wires with the same partners and puts everything into words, the worst first.
fn told(study: &Study<'_, '_>, found: Found) -> Vec<PairOfGrounds> {
    let scheme = study.scheme();
    let names: Vec<String> = scheme.nodes.ids().map(|node| wire_name(scheme, node)).collect();
    let mut list = Vec::new();
    for ((through, outcome), pairs) in found.pairs {
        let words = scheme.nodes.len().div_ceil(64);
        let mut partners: BTreeMap<NodeId, Vec<u64>> = BTreeMap::new();
        for &(a, b) in pairs.keys() {
            for (one, other) in [(a, b), (b, a)] {
                let set = partners.entry(one).or_insert_with(|| vec![0; words]);
                set[other.index() / 64] |= 1 << (other.index() % 64);
            }
        }
        let mut classes: BTreeMap<&[u64], Vec<NodeId>> = BTreeMap::new();
        for (node, with) in &partners {
            classes.entry(with).or_default().push(*node);
        }
        let classes: Vec<Vec<NodeId>> = classes.into_values().collect();
        for (index, one) in classes.iter().enumerate() {
            for other in &classes[index..] {
                let together = one
                    .first()
                    .zip(other.last())
                    .is_some_and(|(a, b)| pairs.contains_key(&(*a.min(b), *a.max(b))));
                if !together {
                    continue;
                }
                let seen: Vec<Seen> = one
                    .iter()
                    .flat_map(|a| other.iter().map(move |b| (*a.min(b), *a.max(b))))
                    .filter_map(|key| pairs.get(&key).copied())
                    .collect();
                list.push(group(study, &names, (through, outcome), (one, other), &seen));
            }
        }
    }
    list.sort_by(|a, b| b.outcome.cmp(&a.outcome).then(b.value.total_cmp(&a.value)));
    list
}

fn group(
    study: &Study<'_, '_>,
    wires: &[String],
    (through, outcome): (Through, Outcome),
    (one, other): (&[NodeId], &[NodeId]),
    seen: &[Seen],
) -> PairOfGrounds {
    let scheme = study.scheme();
    let values = seen.iter().map(|seen| seen.value);
    let positions = seen.iter().fold(0, |all, seen| all | seen.positions);
    let names = |nodes: &[NodeId]| {
        let mut names: Vec<String> =
            nodes.iter().filter_map(|node| wires.get(node.index()).cloned()).collect();
        names.dedup();
        names
    };
    let (part, value, words) = match through {
        Through::Moves(part, how) => {
            let value = values.fold(0.0, f64::max);
            (part, value, moves_in_words(scheme, part, how, outcome, value))
        }
        Through::Starves(coil) => {
            let value = values.fold(f64::INFINITY, f64::min);
            let name = &scheme.parts[coil].name;
            (coil, value, format!("{name} gets {value:.1} V of a trip"))
        }
        Through::Blows(fuse) => {
            let value = values.fold(0.0, f64::max);
            let name = &scheme.parts[fuse].name;
            (fuse, value, format!("{value:.0} A through {name}: it blows"))
        }
    };
    PairOfGrounds {
        first: names(one),
        second: names(other),
        outcome,
        through: scheme.parts[part].name.clone(),
        words,
        value,
        positions: study
            .rest
            .iter()
            .enumerate()
            .filter(|(at, _)| positions >> (*at).min(127) & 1 == 1)
            .map(|(_, rest)| rest.name.clone())
            .collect(),
    }
}

fn moves_in_words(scheme: &Scheme, part: PartId, how: How, outcome: Outcome, value: f64) -> String {
    let data = &scheme.parts[part];
    let does = match how {
        How::PicksUp => "is driven",
        How::DropsOut => "drops out",
        How::StaysPickedUp => "does not let go",
        How::GoesOn => "goes on",
        How::GoesOff => "goes off",
        How::StaysOn => "stays on",
    };
    let own = data
        .device
        .is_some_and(|device| matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. }));
    let then = match outcome {
        Outcome::Trips if own => ": the breaker trips",
        Outcome::Closes if own => ": the breaker closes",
        Outcome::Trips => ", and through it the breaker trips",
        Outcome::Closes => ", and through it the breaker closes",
        _ => "",
    };
    format!("{} {does} ({value:.1} V){then}", data.name)
}
