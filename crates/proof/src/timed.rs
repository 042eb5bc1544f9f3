//! Every place that can be reached within tolerances: a search over zones.
//!
//! In: a [`TimedSpace`] (places, the clocks that run there, how long one may stay, what may happen when).
//! Out: a [`TimedOutcome`]: all seen and nothing wrong, a shortest story with times in microseconds, or
//! which limit stopped the search; and every place where time itself would stop.
//! Never here: what a clock or an event stands for; stopwatches that pause (widen such a delay instead).
//!
//! The search goes by levels of events, so a story has the fewest events. First it draws an outline, with
//! one zone for each place that embraces everything found there: quick, and enough where nothing wrong
//! shows. Else it keeps, for each place, the zones that no other includes. Zones are widened to what the
//! constants can tell apart, which changes nothing of what can be reached as long as clocks are compared
//! with constants alone.
//!
//! The times of a story come from the story itself, not from widened zones: every guard and every bound
//! on staying along it is a difference of two event times, and that system is solved exactly. Should it
//! have no solution the search itself is at fault, and says so ([`TimedOutcome::Mismatch`]).

use std::hash::Hash;

use crate::search::Which;
pub use crate::zone::Extremes;

mod explore;
mod places;
mod stops;
mod times;

pub use explore::{Exploration, explore};
pub use stops::{Stop, StopKind};
pub use times::{Told, times_of};

/// A clock of the space. Clocks of different numbers are different clocks in every place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClockId(pub u16);

/// A comparison of one clock with a constant, in microseconds. Both are closed: a tie may fall either way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Bound {
    /// The clock reads this or more.
    AtLeast(i64),
    /// The clock reads this or less.
    AtMost(i64),
}

/// Something that may happen in a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edge<E, P> {
    /// What happens.
    pub event: E,
    /// When it may happen: all of these hold. One that names a clock which does not
    /// run in the place says nothing.
    pub guards: Vec<(ClockId, Bound)>,
    /// Clocks that start again at zero although they run before and after.
    pub resets: Vec<ClockId>,
    /// Where it leads. A clock that runs there but not before starts at zero; one that runs before but not
    /// there is forgotten.
    pub target: P,
}

/// What can be, how long, and what may happen when.
///
/// Every answer depends on its arguments alone and comes in the same order each time.
pub trait TimedSpace: Sync {
    /// A position without its clock readings.
    type Place: Clone + Eq + Hash + Send + Sync;
    /// What happened between two places.
    type Event: Clone + Send + Sync;

    /// The places where a run may begin, every clock at zero but those that [may have run](Self::may_have_run).
    fn starts(&self) -> Vec<Self::Place>;

    /// At a start the clock may read anything that the place allows. A story from there has no times of its own.
    fn may_have_run(&self, _clock: ClockId) -> bool {
        false
    }

    /// The clocks that run in a place, appended to `out`; the order does not matter.
    fn clocks(&self, place: &Self::Place, out: &mut Vec<ClockId>);

    /// How long one may stay: each named clock reads at most so many microseconds while in the place, the
    /// moment of entry and of leaving included. An edge that would enter later cannot be taken. One that names
    /// a clock which does not run says nothing.
    fn invariants(&self, place: &Self::Place, out: &mut Vec<(ClockId, i64)>);

    /// No time may pass here.
    fn is_urgent(&self, _place: &Self::Place) -> bool {
        false
    }

    /// Everything that may happen in a place, appended to `out`.
    fn edges(&self, place: &Self::Place, out: &mut Vec<Edge<Self::Event, Self::Place>>);

    /// The greatest constants that `clock`, as it runs in `place`, may be compared with before it next
    /// starts at zero or is forgotten: here and in every place it may be carried to. The greatest over the
    /// whole space is always right; a tighter answer makes the search faster.
    fn extremes(&self, place: &Self::Place, clock: ClockId) -> Extremes;

    /// Being here breaks what was claimed.
    fn refutes(&self, place: &Self::Place) -> bool;

    /// The event comes of itself when its time is up. Persons and the world outside need not act; a place
    /// that time may leave only by their grace is one where time stops.
    fn comes_of_itself(&self, _event: &Self::Event) -> bool {
        true
    }

    /// Whether it matters that time may stop; else a search does not look for that.
    fn asks_stops(&self) -> bool {
        true
    }

    /// Bytes that a place holds beside its own size, for the limit on memory.
    fn heap_bytes(&self, _place: &Self::Place) -> usize {
        0
    }
}

/// How a search in time ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TimedOutcome<E> {
    /// Everything that can be reached was seen, and nothing refutes. A pass only where `stops` is empty.
    Exhausted {
        /// What was seen.
        seen: Seen,
        /// Where time would stop, each with a story; only the first few.
        stops: Vec<Stop<E>>,
    },
    /// Something that must not be can be reached.
    Refuted {
        /// One real run to it, of as few events as possible.
        story: Told<E>,
        /// What was seen until then.
        seen: Seen,
    },
    /// A limit stopped the search: nothing is proven.
    Limit {
        /// The limit.
        which: Which,
        /// What was seen until then.
        seen: Seen,
    },
    /// The search found a way that no times allow: a fault of this program or wrong
    /// [`extremes`](TimedSpace::extremes). Nothing is proven.
    Mismatch {
        /// The events of the way.
        events: Vec<E>,
        /// What was seen until then.
        seen: Seen,
    },
}

/// How much a search in time has seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Places reached, clock readings apart.
    pub places: usize,
    /// Zones entered, those that a greater one replaced later included.
    pub zones: usize,
    /// Zones that an event led to, those already known included.
    pub steps: usize,
}
