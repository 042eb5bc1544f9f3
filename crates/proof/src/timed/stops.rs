//! Where time stops. What can only be said of a world in which time goes on is worth nothing in a model
//! in which it does not: everything later is out of reach, and every claim about it would pass.
//!
//! Looked at is every reading at which no time may pass: in an urgent place all of them, elsewhere those
//! at which some bound on staying is reached. Time stops there
//! - if no event comes of itself ([`StopKind::Dead`]; exact: readings between whole microseconds too), or
//! - if events come of themselves for ever without any time between them ([`StopKind::Endless`]; found
//!   where no reading of the zone leads on, so a zone from which some readings lead on and others do not
//!   passes).

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::TimedSpace;
use super::explore::{Exploration, Node};
use super::places::{Manner, Passage, pass};
use super::times::Told;
use crate::zone::{Zone, is_covered};

/// A place where time stops.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stop<E> {
    /// How it stops.
    pub kind: StopKind,
    /// A run to the place.
    pub story: Told<E>,
}

/// How time stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum StopKind {
    /// A bound on staying is reached and nothing comes of itself.
    Dead,
    /// Events follow one another for ever and no time passes.
    Endless,
}

/// Stops told of, at most.
const FEW: usize = 8;

/// Time stops somewhere.
pub(super) fn any<S: TimedSpace>(found: &Exploration<'_, S>) -> bool {
    (0..found.nodes.len()).into_par_iter().any(|at| kind_at(found, at).is_some())
}

/// The first few stops, one for each place.
pub(super) fn all<S: TimedSpace>(found: &Exploration<'_, S>) -> Vec<Stop<S::Event>> {
    let kinds: Vec<Option<StopKind>> =
        (0..found.nodes.len()).into_par_iter().map(|at| kind_at(found, at)).collect();
    let mut places = FxHashSet::default();
    let stops = kinds.into_iter().enumerate().filter_map(|(at, kind)| {
        let kind = kind.filter(|_| places.insert(found.nodes[at].place))?;
        Some(Stop { kind, story: found.tell(at as u32)? })
    });
    stops.take(FEW).collect()
}

fn kind_at<S: TimedSpace>(found: &Exploration<'_, S>, at: usize) -> Option<StopKind> {
    let node = &found.nodes[at];
    if node.is_dead() {
        return None;
    }
    let here = manner(found, node.place);
    // Widening lets go of bounds on staying that no guard can see; here they matter.
    let mut zone = node.zone.clone();
    here.admit(&mut zone);
    ends(here, &zone).into_iter().find_map(|end| {
        if !goes_on(found, node, &end) {
            Some(StopKind::Dead)
        } else if !time_returns(found, node.place, end) {
            Some(StopKind::Endless)
        } else {
            None
        }
    })
}

fn manner<'f, S: TimedSpace>(found: &'f Exploration<'_, S>, place: u32) -> &'f Manner {
    &found.places.known[place as usize].manner
}

/// The parts of a zone at which no time may pass.
fn ends(manner: &Manner, zone: &Zone) -> Vec<Zone> {
    if manner.urgent {
        return vec![zone.clone()];
    }
    let at_bound = |&(clock, most): &(usize, i64)| {
        let mut end = zone.clone();
        end.constrain_lower(clock, most).then_some(end)
    };
    manner.bounds.iter().filter_map(at_bound).collect()
}

fn of_itself<'f, S: TimedSpace>(
    found: &'f Exploration<'_, S>,
    place: u32,
) -> impl Iterator<Item = &'f Passage> {
    let passages = found.places.known[place as usize].passages.iter().flatten();
    passages.filter(|passage| passage.of_itself)
}

/// Some event comes of itself at every reading of the end.
fn goes_on<S: TimedSpace>(found: &Exploration<'_, S>, node: &Node, end: &Zone) -> bool {
    let mut ways = Vec::new();
    for passage in of_itself(found, node.place) {
        let mut way = end.clone();
        let target = manner(found, passage.target);
        let enters = target.bounds.iter().all(|&(clock, most)| match passage.carry[clock - 1] {
            0 => most >= 0,
            from => way.constrain_upper(from, most),
        });
        if enters && pass(&passage.guards, &mut way) {
            ways.push(way);
        }
    }
    is_covered(end, &ways)
}

/// Following events that come of themselves, a reading is reached at which time may pass.
fn time_returns<S: TimedSpace>(found: &Exploration<'_, S>, place: u32, end: Zone) -> bool {
    let mut seen = FxHashSet::default();
    let mut waiting = vec![(place, end)];
    while let Some((place, zone)) = waiting.pop() {
        for passage in of_itself(found, place) {
            let mut through = zone.clone();
            if !pass(&passage.guards, &mut through) {
                continue;
            }
            let mut entry = through.carried(&passage.carry);
            let target = manner(found, passage.target);
            if !target.admit(&mut entry) {
                continue;
            }
            // Zones hold the least of each clock in one reading, so that one decides.
            let waits = |&(clock, most): &(usize, i64)| entry.range(clock).0 < most;
            if !target.urgent && target.bounds.iter().all(waits) {
                return true;
            }
            if seen.insert((passage.target, entry.clone())) {
                waiting.push((passage.target, entry));
            }
        }
    }
    false
}
