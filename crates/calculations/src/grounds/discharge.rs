//! A stray capacitance that discharges through a circuit: one exponential, in closed form.
//!
//! **In:** volts at first and in the end, the time constant. **Out:** how long a threshold is
//! exceeded, energies. **Never here:** networks.

use fiftytwo_circuit::series::{exp, ln};

/// A voltage that goes from `first` to `last` with one time constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Discharge {
    /// In the first instant, V.
    pub first: f64,
    /// When all has settled, V.
    pub last: f64,
    /// Time constant, s (0: at once at its last value).
    pub tau: f64,
}

/// How long a voltage stands at or above a threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Above {
    /// Never.
    Never,
    /// For so long from the beginning, s.
    For(f64),
    /// From so long after the beginning, s, and for ever.
    From(f64),
    /// Crosses the threshold down and up again with the other sign: above from the beginning for
    /// the first time, s, and for ever from the second.
    ForAndFrom(f64, f64),
}

impl Discharge {
    /// The voltage after `seconds`, V.
    pub fn at(&self, seconds: f64) -> f64 {
        self.last + (self.first - self.last) * decay(seconds, self.tau)
    }
    /// How long the voltage, whatever its sign, stands at `threshold` or above.
    ///
    /// With `v = last + (first - last) e^(-t/tau)` it reaches a level `x` between its ends at
    /// `t = tau ln((first - last) / (x - last))`.
    pub fn above(&self, threshold: f64) -> Above {
        if threshold <= 0.0 {
            return Above::From(0.0);
        }
        let (first, last) =
            if self.tau > 0.0 { (self.first, self.last) } else { (self.last, self.last) };
        // Seen from the side where it begins, so that it falls through `threshold`, if at all.
        let sign = if first < 0.0 { -1.0 } else { 1.0 };
        let (first, last) = (sign * first, sign * last);
        let reaches = |level: f64| self.tau * ln((first - last) / (level - last));
        match (first >= threshold, last >= threshold, last <= -threshold) {
            (_, true, _) if first >= threshold => Above::From(0.0),
            (_, true, _) => Above::From(reaches(threshold)),
            (true, _, true) => Above::ForAndFrom(reaches(threshold), reaches(-threshold)),
            (false, _, true) => Above::From(reaches(-threshold)),
            (true, false, false) => Above::For(reaches(threshold)),
            (false, false, false) => Above::Never,
        }
    }
}

impl Above {
    /// The longest stretch without a break, s; infinite: for ever.
    pub fn longest(self) -> f64 {
        match self {
            Self::Never => 0.0,
            Self::For(seconds) => seconds,
            Self::From(_) | Self::ForAndFrom(..) => f64::INFINITY,
        }
    }
}

/// The energy a capacitance gives off when its voltage goes from `from` to `to` volts, J.
pub fn energy(farad: f64, from: f64, to: f64) -> f64 {
    0.5 * farad * (from * from - to * to)
}

/// e^(-t/tau).
fn decay(seconds: f64, tau: f64) -> f64 {
    if tau <= 0.0 || seconds.is_infinite() { 0.0 } else { exp(-seconds / tau) }
}
