//! When the events of a story happen: one exact solution of all its bounds, with room where there is.

use super::places::Manner;
use super::{Bound, Edge, TimedSpace};
use crate::zone::Zone;

/// A story with times.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told<E> {
    /// The events, each with its time in microseconds from the start.
    pub events: Vec<(i64, E)>,
    /// How many neighbouring events fall in the same instant although an order between them matters.
    pub ties: usize,
}

/// Room asked for between two neighbouring events, and before a bound that something else beats, in
/// microseconds. A reader doubts a story that hangs on a coincidence.
const ROOM: i64 = 1000;

/// Times for events in a given order that lead to something wrong; none: there is no such way from a
/// start, or no times allow it.
pub fn times_of<S: TimedSpace>(space: &S, events: &[S::Event]) -> Option<Told<S::Event>>
where
    S::Event: PartialEq,
{
    let mut edges = Vec::new();
    space.starts().into_iter().find_map(|start| {
        let mut way: Vec<Edge<S::Event, S::Place>> = Vec::with_capacity(events.len());
        for event in events {
            edges.clear();
            space.edges(way.last().map_or(&start, |edge| &edge.target), &mut edges);
            way.push(edges.drain(..).find(|edge| edge.event == *event)?);
        }
        let wrong = space.refutes(way.last().map_or(&start, |edge| &edge.target));
        wrong.then(|| tell(space, &start, &way))?
    })
}

/// Times for a way through a space: the edges taken, in order, from a start.
///
/// Variable `k` is the time of event `k`, 0 the start. Every guard and every bound on staying along the
/// way says that two of them are at least or at most so far apart: exactly a [`Zone`] over event times.
/// Then room of a millisecond is asked for, first between neighbours, then before bounds, each where the
/// rest still allows it; and from what remains each event takes its earliest time.
///
/// `None` when no times allow the way at all.
pub(super) fn tell<S: TimedSpace>(
    space: &S,
    start: &S::Place,
    way: &[Edge<S::Event, S::Place>],
) -> Option<Told<S::Event>> {
    let n = way.len();
    let mut times = Zone::anything(n);
    let mut room: Vec<(usize, usize, i64)> = Vec::new();
    let mut late: Vec<(usize, usize, i64)> = Vec::new();
    let mut manner = Manner::of(space, start);
    // The event that last put each clock of the present place to zero.
    let mut began: Vec<usize> = vec![0; manner.clocks.len()];
    if manner.bounds.iter().any(|&(_, most)| most < 0) {
        return None;
    }
    for (before, edge) in way.iter().enumerate() {
        let now = before + 1;
        let mut fits = times.constrain_difference(before, now, 0);
        if manner.urgent {
            fits &= times.constrain_difference(now, before, 0);
        } else {
            room.push((before, now, -ROOM));
        }
        for &(clock, most) in &manner.bounds {
            fits &= times.constrain_difference(now, began[clock - 1], most);
            late.push((now, began[clock - 1], most - ROOM));
        }
        for (clock, bound) in manner.guards(edge) {
            fits &= match bound {
                Bound::AtLeast(least) => times.constrain_difference(began[clock - 1], now, -least),
                Bound::AtMost(most) => times.constrain_difference(now, began[clock - 1], most),
            };
        }
        let next = Manner::of(space, &edge.target);
        let carry = manner.carry(edge, &next);
        began = carry.iter().map(|&from| if from == 0 { now } else { began[from - 1] }).collect();
        for &(clock, most) in &next.bounds {
            fits &= times.constrain_difference(now, began[clock - 1], most);
        }
        if !fits {
            return None;
        }
        manner = next;
    }
    for &(i, j, bound) in room.iter().chain(&late) {
        let possible = times.difference(j, i).is_none_or(|back| back.saturating_add(bound) >= 0);
        if possible {
            times.constrain_difference(i, j, bound);
        }
    }
    let mut at = Vec::with_capacity(n);
    for event in 1..=n {
        let (earliest, _) = times.range(event);
        times.constrain_upper(event, earliest);
        at.push(earliest);
    }
    let ties =
        room.iter().filter(|&&(_, now, _)| now >= 2 && at.get(now - 1) == at.get(now - 2)).count();
    let events = at.into_iter().zip(way.iter().map(|edge| edge.event.clone())).collect();
    Some(Told { events, ties })
}
