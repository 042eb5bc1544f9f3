//! Where to measure next: the point that tells the remaining faults apart best.
//!
//! **In:** the faults that explain the readings, each with its volts everywhere. **Out:** a
//! [`NextPoint`]. **Never here:** new solutions.

use super::fault::{FaultKind, SingleFault};
use super::points::{screws, wire_name};
use crate::Study;
use fiftytwo_circuit::bench::Readings;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, Scheme};
use serde::Serialize;

/// Readings closer than this are one, V (twice the tolerance of a reading near 0 V, rounded up).
const APART: f64 = 5.0;

/// Faults that would show the same there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// From so many volts …
    pub least: f64,
    /// … to so many.
    pub most: f64,
    /// The faults, in words, each with its rest position.
    pub faults: Vec<String>,
}

/// The next best point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextPoint {
    /// Its wire.
    pub wire: String,
    /// Where it can be reached.
    pub screws: Vec<String>,
    /// The other probe: "minus" or "ground".
    pub to: String,
    /// What each reading would mean, the lowest first.
    pub groups: Vec<Group>,
}

/// A fault and the volts it makes everywhere.
pub(super) struct Candidate {
    fault: SingleFault,
    kind: FaultKind,
    position: String,
    /// By node: to its own minus pole, to ground; what floats shows 0.
    volts: Vec<(f64, f64)>,
}

impl Candidate {
    pub fn new(
        study: &Study<'_, '_>,
        fault: SingleFault,
        position: &str,
        solved: &Readings<'_>,
    ) -> Self {
        let scheme = study.scheme();
        let volts = scheme
            .nodes
            .ids()
            .map(|node| {
                let minus = study.bench.supply_of(node).map(|id| scheme.supplies[id].minus);
                let to_minus = minus.and_then(|minus| solved.between(node, minus));
                (to_minus.unwrap_or(0.0), solved.to_ground(node).unwrap_or(0.0))
            })
            .collect();
        Self { fault, kind: fault.kind(scheme), position: position.to_owned(), volts }
    }
}

/// The point whose reading leaves the fewest faults on average (the least sum of the squares of
/// the groups' sizes); those with a screw or a terminal first among equals.
pub(super) fn next_point(
    study: &Study<'_, '_>,
    candidates: &[Candidate],
    measured: &[NodeId],
) -> Option<NextPoint> {
    let scheme = study.scheme();
    if candidates.len() < 2 {
        return None;
    }
    let mut best: Option<(usize, bool, NodeId, bool)> = None;
    for node in scheme.nodes.ids() {
        if measured.contains(&node) || study.bench.supply_of(node).is_none() {
            continue;
        }
        let hidden = scheme.nodes[node].wire.is_none() && screws(scheme, node).is_empty();
        for ground in [false, true] {
            let score = clusters(candidates, node, ground)
                .iter()
                .map(|group| group.len() * group.len())
                .sum();
            let rank = (score, hidden);
            if best.is_none_or(|(score, hidden, ..)| rank < (score, hidden)) {
                best = Some((score, hidden, node, ground));
            }
        }
    }
    let (score, _, node, ground) = best?;
    if score == candidates.len() * candidates.len() {
        return None;
    }
    let groups = clusters(candidates, node, ground)
        .into_iter()
        .map(|group| told(scheme, &group, node, ground))
        .collect();
    Some(NextPoint {
        wire: wire_name(scheme, node),
        screws: screws(scheme, node),
        to: if ground { "ground" } else { "minus" }.to_owned(),
        groups,
    })
}

fn at(candidate: &Candidate, node: NodeId, ground: bool) -> f64 {
    let (minus, earth) = candidate.volts.get(node.index()).copied().unwrap_or((0.0, 0.0));
    if ground { earth } else { minus }
}

/// Candidates by what they show at a point, the lowest first.
fn clusters(candidates: &[Candidate], node: NodeId, ground: bool) -> Vec<Vec<&Candidate>> {
    let mut sorted: Vec<&Candidate> = candidates.iter().collect();
    sorted.sort_by(|a, b| at(a, node, ground).total_cmp(&at(b, node, ground)));
    let mut clusters: Vec<Vec<&Candidate>> = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for candidate in sorted {
        let volts = at(candidate, node, ground);
        match clusters.last_mut() {
            Some(cluster) if volts - last <= APART => cluster.push(candidate),
            _ => clusters.push(vec![candidate]),
        }
        last = volts;
    }
    clusters
}

fn told(scheme: &Scheme, group: &[&Candidate], node: NodeId, ground: bool) -> Group {
    let volts = || group.iter().map(|candidate| at(candidate, node, ground));
    let mut sorted: Vec<&&Candidate> = group.iter().collect();
    sorted.sort_by_key(|candidate| candidate.kind);
    Group {
        least: volts().fold(f64::INFINITY, f64::min),
        most: volts().fold(f64::NEG_INFINITY, f64::max),
        faults: sorted
            .iter()
            .map(|candidate| {
                let words = candidate.fault.words(scheme, &|node| wire_name(scheme, node));
                format!("{words} ({})", candidate.position)
            })
            .collect(),
    }
}
