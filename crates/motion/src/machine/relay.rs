//! Phases of a relay: b opens first, then a closes; an interrupted move is remembered, because
//! an armature that is half-way picks up sooner.

/// Where the armature of a relay is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum RelayPhase {
    /// At rest: b closed, a open.
    Dropped = 0,
    /// The same, but an interrupted pickup may have left it half-way: it may pick up sooner.
    DroppedWarm = 1,
    /// b open, a still open, moving up.
    Rising = 2,
    /// The same after an interruption.
    RisingWarm = 3,
    /// Picked up: a closed, b open.
    Picked = 4,
    /// The same after an interrupted dropout: it may drop out sooner.
    PickedWarm = 5,
    /// a open, b still open, moving down.
    Falling = 6,
    /// The same after an interruption.
    FallingWarm = 7,
}

impl RelayPhase {
    /// The phase with that number; a number beyond the last is `Dropped`.
    pub fn from_u8(value: u8) -> Self {
        match value {
            1 => Self::DroppedWarm,
            2 => Self::Rising,
            3 => Self::RisingWarm,
            4 => Self::Picked,
            5 => Self::PickedWarm,
            6 => Self::Falling,
            7 => Self::FallingWarm,
            _ => Self::Dropped,
        }
    }
    /// b contacts closed.
    pub fn is_dropped(self) -> bool {
        matches!(self, Self::Dropped | Self::DroppedWarm)
    }
    /// a contacts closed.
    pub fn is_picked(self) -> bool {
        matches!(self, Self::Picked | Self::PickedWarm)
    }
    /// Between its positions.
    pub fn is_under_way(self) -> bool {
        !self.is_dropped() && !self.is_picked()
    }
    /// The phase without memory of an interruption: what a search in any order distinguishes.
    #[must_use]
    pub fn cold(self) -> Self {
        match self {
            Self::DroppedWarm => Self::Dropped,
            Self::RisingWarm => Self::Rising,
            Self::PickedWarm => Self::Picked,
            Self::FallingWarm => Self::Falling,
            other => other,
        }
    }
}

/// Longest and shortest time between the b contact opening and the a contact closing, µs: "0.5
/// to 3 ms" (common practice, no source). The declared times run to the last contact.
pub(super) const GAP: (i64, i64) = (500, 3000);
