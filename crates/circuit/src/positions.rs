//! Positions of the switches of a section, and which supplies live, as small keys.

use fiftytwo_scheme::SupplyId;
use fiftytwo_scheme::arena::Id;

/// How many switches one section may have.
pub const MOST_SWITCHES: usize = 256;
/// How many supplies a scheme may have.
pub const MOST_SUPPLIES: usize = 64;

/// Which switches of a section are closed: bit i is switch i of
/// [`Wiring::switches`](crate::Wiring::switches). Bits from [`MOST_SWITCHES`] on do not exist:
/// setting one does nothing, reading one gives false.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Positions {
    words: [u64; MOST_SWITCHES / 64],
}

impl Positions {
    /// All open.
    pub const OPEN: Self = Self { words: [0; MOST_SWITCHES / 64] };

    /// The first `count` closed, the rest open.
    pub fn closed(count: usize) -> Self {
        (0..count.min(MOST_SWITCHES)).fold(Self::OPEN, |all, bit| all.with(bit))
    }
    /// The same with one more closed.
    #[must_use]
    pub fn with(mut self, bit: usize) -> Self {
        self.set(bit, true);
        self
    }
    /// Closes or opens one.
    pub fn set(&mut self, bit: usize, closed: bool) {
        if let Some(word) = self.words.get_mut(bit / 64) {
            let mask = 1 << (bit % 64);
            *word = if closed { *word | mask } else { *word & !mask };
        }
    }
    /// Whether one is closed.
    pub fn is_closed(&self, bit: usize) -> bool {
        self.words.get(bit / 64).is_some_and(|word| word >> (bit % 64) & 1 == 1)
    }
    /// The key itself, lowest bits first.
    pub fn words(&self) -> &[u64] {
        &self.words
    }
}

/// Which supplies live.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Supplies(u64);

impl Supplies {
    /// Every supply lives.
    pub const ALL: Self = Self(u64::MAX);
    /// No supply lives.
    pub const NONE: Self = Self(0);

    /// The same with one lost (both its poles open).
    #[must_use]
    pub fn without(self, supply: SupplyId) -> Self {
        Self(self.0 & !Self::bit(supply))
    }
    /// The same with one living.
    #[must_use]
    pub fn with(self, supply: SupplyId) -> Self {
        Self(self.0 | Self::bit(supply))
    }
    /// Whether a supply lives.
    pub fn lives(self, supply: SupplyId) -> bool {
        self.0 & Self::bit(supply) != 0
    }
    /// Only those of `others` too.
    pub(crate) fn only(self, others: Self) -> Self {
        Self(self.0 & others.0)
    }
    fn bit(supply: SupplyId) -> u64 {
        u32::try_from(supply.index()).ok().and_then(|index| 1_u64.checked_shl(index)).unwrap_or(0)
    }
}
