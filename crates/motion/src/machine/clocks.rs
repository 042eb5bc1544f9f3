//! Stopwatches: which exist, and what a move asks of them.

use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::id_type;

id_type!(/// A stopwatch.
    ClockId);

/// What a move asks of one stopwatch, µs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Timing {
    /// The stopwatch.
    pub clock: ClockId,
    /// Not before.
    pub lo: i64,
    /// Not after, if its drive is sure; none: any time.
    pub hi: Option<i64>,
}

/// The times of one action; mostly one, seldom more than two.
pub type Timings = smallvec::SmallVec<[Timing; 2]>;

/// What a stopwatch measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClockUse {
    /// Since a move became possible: it starts when the move's drive appears and stops when the
    /// drive goes away or the unit moves.
    Pending,
    /// Since something happened in a stroke or since an order began.
    Mark,
}

/// All stopwatches of a machine.
#[derive(Debug, Default)]
pub(crate) struct ClockTable {
    names: Vec<String>,
    first: Vec<u32>,
}

/// Which stopwatch of a unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Slot(pub u8);

impl ClockTable {
    /// Reserves the stopwatches of the next unit.
    pub(crate) fn reserve(&mut self, names: Vec<String>) {
        self.first.push(u32::try_from(self.names.len()).unwrap_or(u32::MAX));
        self.names.extend(names);
    }
    /// The stopwatch in that slot of a unit.
    pub(crate) fn of(&self, unit: super::UnitId, slot: Slot) -> ClockId {
        ClockId::from_index(self.first[unit.index()] as usize + slot.0 as usize)
    }
    /// Its name.
    pub(crate) fn name(&self, clock: ClockId) -> &str {
        self.names.get(clock.index()).map_or("", String::as_str)
    }
    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.names.len()
    }
}
