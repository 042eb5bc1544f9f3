//! How far a search may go.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

/// How far a search may go before it has to say that nothing is proven.
#[derive(Clone, Copy, Debug)]
pub struct Limits<'a> {
    /// Most places (for a search in time: most zones).
    pub places: usize,
    /// Most bytes for what is kept; an estimate of the search's own tables.
    pub bytes: usize,
    /// The moment to stop at, if any.
    pub deadline: Option<Instant>,
    /// Somebody's hand on the brake: the search stops when it reads true.
    pub stop: Option<&'a AtomicBool>,
}

/// The limit that stopped a search.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Which {
    /// More places than allowed.
    Places,
    /// More memory than allowed.
    Bytes,
    /// The deadline passed.
    Time,
    /// Somebody stopped it.
    Stopped,
}

impl Limits<'_> {
    /// Ten million places, two gibibytes, no deadline, nobody at the brake.
    pub const USUAL: Limits<'static> =
        Limits { places: 10_000_000, bytes: 2 << 30, deadline: None, stop: None };

    /// No limit but the machine's.
    pub const NONE: Limits<'static> =
        Limits { places: usize::MAX, bytes: usize::MAX, deadline: None, stop: None };

    /// The first limit that is now passed.
    pub fn struck(&self, places: usize, bytes: usize) -> Option<Which> {
        if self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            Some(Which::Stopped)
        } else if places > self.places {
            Some(Which::Places)
        } else if bytes > self.bytes {
            Some(Which::Bytes)
        } else if self.deadline.is_some_and(|deadline| Instant::now() >= deadline) {
            Some(Which::Time)
        } else {
            None
        }
    }
}

impl Default for Limits<'_> {
    fn default() -> Self {
        Self::USUAL
    }
}
