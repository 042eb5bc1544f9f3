//! Typical values, each with its mark. Whatever a result owes to one of them, it lists.
//!
//! **In:** nothing. **Out:** constants. **Never here:** a value that somebody declared.
//!
//! None of these is a promise of any maker. They stand in where a scheme is silent, so that a
//! calculation can go on; the designer replaces them by data of the part.

use serde::{Serialize, Serializer};
use std::fmt;

/// Where a typical value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// Read in a public document of this kind.
    Published(&'static str),
    /// From memory of this kind of document.
    Memory(&'static str),
    /// What many designers take; no source.
    CommonPractice,
}

/// A typical value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Typical {
    /// What it is of, in the singular, after "a": "diode's drop".
    pub of: &'static str,
    /// Its least value.
    pub lo: f64,
    /// Its greatest value.
    pub hi: f64,
    /// Its unit; empty: a number.
    pub unit: &'static str,
    /// Where it comes from.
    pub mark: Mark,
}

impl Typical {
    /// The middle of its range.
    pub const fn middle(&self) -> f64 {
        f64::midpoint(self.lo, self.hi)
    }
}

impl fmt::Display for Typical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.of, self.lo)?;
        if self.lo != self.hi {
            write!(f, " to {}", self.hi)?;
        }
        if !self.unit.is_empty() {
            write!(f, " {}", self.unit)?;
        }
        match self.mark {
            Mark::Published(source) => write!(f, " (typical; {source})"),
            Mark::Memory(source) => write!(f, " (typical; from memory of {source})"),
            Mark::CommonPractice => write!(f, " (typical; common practice, no source)"),
        }
    }
}

impl Serialize for Typical {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// The forward drop of a silicon diode. Textbooks take 0.7 V for any current; the exponential law
/// of a junction of 1 pA at 27 °C runs from 0.48 V at 0.1 mA to 0.77 V at 10 A, and power
/// rectifiers reach about 1 V.
pub const DIODE_DROP: Typical = Typical {
    of: "drop of a silicon diode",
    lo: 0.5,
    hi: 1.0,
    unit: "V",
    mark: Mark::Memory("textbooks, which take 0.7 V"),
};

/// The drop of a diode at its typical value, where one number is wanted, V.
pub const DIODE_DROP_MIDDLE: f64 = 0.7;

/// The voltage below which a light-emitting diode carries no current.
pub const LED_DROP: Typical = Typical {
    of: "drop of a light-emitting diode",
    lo: 1.6,
    hi: 3.2,
    unit: "V",
    mark: Mark::Memory("data sheets, red to white"),
};

/// The resistance of a cold filament as a share of its resistance at the rated voltage.
pub const COLD_FILAMENT: Typical = Typical {
    of: "share of a filament's hot resistance that it has cold",
    lo: 0.1,
    hi: 0.1,
    unit: "",
    mark: Mark::Memory("lamp handbooks: one tenth to one fifteenth"),
};

/// The current of a filament at rest grows as the voltage to this power.
pub const FILAMENT_EXPONENT: Typical = Typical {
    of: "exponent of a filament's current over voltage",
    lo: 0.55,
    hi: 0.55,
    unit: "",
    mark: Mark::Memory("lamp rerating formulas: 0.54 to 0.58"),
};

/// The steady power of a relay's coil. Auxiliary relays and latching relays take 2 to 10 W, heavy
/// contactors of closing solenoids up to some 50 W; what takes more is made for a moment.
pub const RELAY_POWER: Typical = Typical {
    of: "steady power of a relay's coil",
    lo: 1.0,
    hi: 50.0,
    unit: "W",
    mark: Mark::Memory("data sheets of auxiliary relays and contactors"),
};
