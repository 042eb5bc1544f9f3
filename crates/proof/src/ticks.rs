//! The check on [`timed`](crate::timed): the same space with clocks that read whole ticks.
//!
//! In: a [`TimedSpace`] and a tick. Out: what is reached, the shortest way to something wrong, and where
//! no time and no event may follow.
//! Never here: zones. It shares no code with the search in time, and pays for its plainness: it is far too
//! slow for a real breaker.
//!
//! With closed bounds that are whole multiples of the tick, whole ticks reach exactly the places that real
//! time reaches (digital clocks: Henzinger, Manna and Pnueli 1992, "What good are digital clocks?", from
//! memory). A clock past every constant that it is compared with stops there; that changes nothing.

use std::collections::{BTreeMap, BTreeSet};

use rustc_hash::FxHashSet;

use crate::search::{Limits, Which};
use crate::timed::{Bound, ClockId, TimedSpace};

/// What the search by ticks found.
#[derive(Clone, Debug)]
pub struct Ticked<P> {
    /// Every place reached, clock readings apart.
    pub places: FxHashSet<P>,
    /// Places with their readings.
    pub states: usize,
    /// Fewest events that lead to something wrong, if anything does.
    pub refuted_after: Option<usize>,
    /// Places in which, at some reading, no time may pass and nothing comes of itself.
    pub dead: FxHashSet<P>,
    /// A limit stopped it.
    pub limit: Option<Which>,
}

type State<P> = (P, Vec<(ClockId, i64)>);

/// The greatest common divisor of all bounds that can be met: the coarsest tick that is exact. 1 if there
/// is none. Looks at every place that may be reached whatever the times.
pub fn finest_common_tick<S: TimedSpace>(space: &S) -> i64 {
    let mut tick = 0;
    let mut seen: FxHashSet<S::Place> = FxHashSet::default();
    let mut waiting = space.starts();
    let mut bounds = Vec::new();
    let mut edges = Vec::new();
    while let Some(place) = waiting.pop() {
        if !seen.insert(place.clone()) {
            continue;
        }
        bounds.clear();
        space.invariants(&place, &mut bounds);
        bounds.iter().for_each(|&(_, most)| tick = divisor(tick, most));
        edges.clear();
        space.edges(&place, &mut edges);
        for edge in edges.drain(..) {
            for (_, bound) in edge.guards {
                let (Bound::AtLeast(constant) | Bound::AtMost(constant)) = bound;
                tick = divisor(tick, constant);
            }
            waiting.push(edge.target);
        }
    }
    tick.max(1)
}

fn divisor(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Everything that whole ticks of `tick` microseconds reach. All events are counted: it goes on after
/// something wrong was found.
pub fn explore<S: TimedSpace>(space: &S, tick: i64, limits: &Limits<'_>) -> Ticked<S::Place> {
    let mut found = Ticked {
        places: FxHashSet::default(),
        states: 0,
        refuted_after: None,
        dead: FxHashSet::default(),
        limit: None,
    };
    let mut seen: FxHashSet<State<S::Place>> = FxHashSet::default();
    let mut level: Vec<State<S::Place>> = Vec::new();
    for place in space.starts() {
        let fresh = clocks(space, &place).into_iter().map(|clock| (clock, 0)).collect();
        level.push((place, fresh));
    }
    let mut events = 0;
    while !level.is_empty() {
        let mut next = Vec::new();
        while let Some(state) = level.pop() {
            if !within(space, &state) || !seen.insert(state.clone()) {
                continue;
            }
            if let Some(which) = limits.struck(seen.len(), 0) {
                found.limit = Some(which);
                return found;
            }
            found.states += 1;
            found.places.insert(state.0.clone());
            if found.refuted_after.is_none() && space.refutes(&state.0) {
                found.refuted_after = Some(events);
            }
            let later = tick_of(space, &state, tick).filter(|later| within(space, later));
            let (mut goes_on, stands) = (later.is_some(), later);
            level.extend(stands);
            let mut edges = Vec::new();
            space.edges(&state.0, &mut edges);
            for edge in edges {
                let open = edge.guards.iter().all(|(clock, bound)| holds(&state.1, *clock, *bound));
                let to = after(space, &state, &edge.resets, edge.target);
                if open && within(space, &to) {
                    goes_on |= space.comes_of_itself(&edge.event);
                    next.push(to);
                }
            }
            if !goes_on {
                found.dead.insert(state.0);
            }
        }
        level = next;
        events += 1;
    }
    found
}

fn clocks<S: TimedSpace>(space: &S, place: &S::Place) -> BTreeSet<ClockId> {
    let mut clocks = Vec::new();
    space.clocks(place, &mut clocks);
    clocks.into_iter().collect()
}

fn holds(readings: &[(ClockId, i64)], clock: ClockId, bound: Bound) -> bool {
    readings.iter().filter(|(of, _)| *of == clock).all(|&(_, reading)| match bound {
        Bound::AtLeast(least) => reading >= least,
        Bound::AtMost(most) => reading <= most,
    })
}

fn within<S: TimedSpace>(space: &S, (place, readings): &State<S::Place>) -> bool {
    let mut bounds = Vec::new();
    space.invariants(place, &mut bounds);
    bounds.iter().all(|&(clock, most)| holds(readings, clock, Bound::AtMost(most)))
}

fn tick_of<S: TimedSpace>(
    space: &S,
    (place, readings): &State<S::Place>,
    tick: i64,
) -> Option<State<S::Place>> {
    if space.is_urgent(place) {
        return None;
    }
    let grow = |&(clock, reading): &(ClockId, i64)| {
        let seen = space.extremes(place, clock);
        let past = seen.lower.max(seen.upper).max(0) + tick;
        (clock, (reading + tick).min(past))
    };
    Some((place.clone(), readings.iter().map(grow).collect()))
}

fn after<S: TimedSpace>(
    space: &S,
    (_, readings): &State<S::Place>,
    resets: &[ClockId],
    target: S::Place,
) -> State<S::Place> {
    let old: BTreeMap<ClockId, i64> = readings.iter().copied().collect();
    let carried = clocks(space, &target)
        .into_iter()
        .map(|clock| match old.get(&clock) {
            Some(&reading) if !resets.contains(&clock) => (clock, reading),
            _ => (clock, 0),
        })
        .collect();
    (target, carried)
}
