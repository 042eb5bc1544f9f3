//! A stray capacitance that discharges through a circuit: one exponential, in closed form.
//!
//! **In:** volts at first and in the end, the time constant. **Out:** how long a threshold is
//! exceeded, energies. **Never here:** networks.

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

/// e^x by halving and a fixed-order series: the same digits on every system.
pub fn exp(x: f64) -> f64 {
    if x < -700.0 {
        return 0.0;
    }
    let halvings = 10;
    let small = x / f64::from(1 << halvings);
    let mut sum = 1.0;
    for order in (1..=14).rev() {
        sum = 1.0 + small / f64::from(order) * sum;
    }
    (0..halvings).fold(sum, |value, _| value * value)
}

/// The natural logarithm of a positive number by a fixed-order series: the same digits on every
/// system. Infinite for 0 and infinity; for a negative number not a number.
pub fn ln(x: f64) -> f64 {
    if x == 0.0 {
        return f64::NEG_INFINITY;
    }
    if x.is_infinite() || x.is_nan() || x < 0.0 {
        return if x > 0.0 { x } else { f64::NAN };
    }
    let (mut mantissa, mut doublings) = (x, 0_i32);
    while mantissa > std::f64::consts::SQRT_2 {
        mantissa *= 0.5;
        doublings += 1;
    }
    while mantissa < std::f64::consts::FRAC_1_SQRT_2 {
        mantissa *= 2.0;
        doublings -= 1;
    }
    // ln m = 2 artanh((m - 1) / (m + 1)); |ratio| < 0.172, so 12 terms reach the last digit.
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    let square = ratio * ratio;
    let series = (0..12).rev().fold(0.0, |sum, term| sum * square + 1.0 / f64::from(2 * term + 1));
    2.0 * ratio * series + f64::from(doublings) * std::f64::consts::LN_2
}
