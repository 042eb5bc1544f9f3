//! Corners: which end of each tolerance a value was taken at.

use serde::Serialize;
use std::fmt;

/// The end of the supplies' voltage ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Battery {
    /// Low ends.
    Low,
    /// High ends.
    High,
    /// Several supplies at different ends.
    Mixed,
}

/// The end of a range of temperatures (and of the tolerance of a resistance, if one is written).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Heat {
    /// Lowest temperature, least resistance.
    Cold,
    /// Highest temperature, greatest resistance.
    Hot,
    /// Each resistance on its own at whichever end is worse.
    Each,
}

/// What the other sections of the same supplies draw meanwhile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Others {
    /// Nothing.
    Off,
    /// The most they can draw.
    On,
}

/// A named corner of the tolerances.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Corner {
    /// The supplies' voltages.
    pub battery: Battery,
    /// Conductors (and the internal resistance of the supplies).
    pub conductors: Heat,
    /// Coils and all other loads.
    pub coils: Heat,
    /// Other sections of the same supplies.
    pub others: Others,
}

impl fmt::Display for Corner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let battery = match self.battery {
            Battery::Low => "supply low",
            Battery::High => "supply high",
            Battery::Mixed => "supplies low and high",
        };
        let heat = |heat: Heat| match heat {
            Heat::Cold => "cold",
            Heat::Hot => "hot",
            Heat::Each => "each at its worse end",
        };
        let others = match self.others {
            Others::Off => "other loads of the supply off",
            Others::On => "other loads of the supply on",
        };
        write!(
            f,
            "{battery}, conductors {}, coils {}, {others}",
            heat(self.conductors),
            heat(self.coils)
        )
    }
}

/// How an interval was got.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// A named corner; each resistance was then moved on its own to its worse end, which changed
    /// the result by less than one part in a thousand (the change is in the result).
    Corners,
    /// Resistances that one temperature moves together were moved one by one, and that made a
    /// difference: the interval may be wider than what can happen.
    Widened,
    /// Several supplies meet, or non-linear parts stand in a bridge: the named corners were tried,
    /// and on one supply what gets worse from them by moving resistances; nothing else.
    Sampled,
    /// A resistance is not declared: the interval covers what it may be.
    Undeclared,
    /// At some corner no voltage was found that fits a non-linear part: the interval covers anything.
    Unsolved,
}
