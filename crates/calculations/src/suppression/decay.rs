//! A coil's current dying away through what stands across the coil.
//!
//! **In:** the coil at the moment its supply is cut off, and a clamp of constant voltage with a
//! resistance in series. **Out:** times and energies in closed form: nothing is stepped.
//! **Never here:** which parts these are.
//!
//! With L di/dt = -(R + r) i - V the current falls as i = (I + V/(R+r)) exp(-t (R+r)/L) - V/(R+r),
//! until it is 0. With k = V / (I (R+r)) the time to the fraction f is
//! t = L/(R+r) ln((1+k)/(f+k)) (open textbooks on RL circuits; a diode is V small, a resistor V = 0,
//! a varistor r = 0): one piece of a course of `circuit`.

use fiftytwo_circuit::series::ln;
use fiftytwo_circuit::transient::Piece;

/// From this clamp over I R on a series takes the place of a logarithm …
const FAR: f64 = 20.0;
/// … with so many terms: the next is below 1e-18 of the first.
const TERMS: u32 = 14;

/// A coil that has lost its supply, and what its current runs through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decay {
    /// The current at the moment of cut-off, A; above 0.
    pub amps: f64,
    /// Resistance of the coil, ohm; above 0.
    pub ohm: f64,
    /// L/R of the coil alone, s; 0 or more.
    pub time_constant: f64,
    /// Voltage of the clamp, V; 0 or more.
    pub clamp: f64,
    /// Resistance in series with the clamp, ohm; 0 or more.
    pub series: f64,
}

impl Decay {
    /// Inductance, H.
    pub fn henry(&self) -> f64 {
        self.time_constant * self.ohm
    }
    /// The clamp's voltage over that of the resistances at cut-off.
    fn k(&self) -> f64 {
        self.clamp / (self.amps * (self.ohm + self.series))
    }
    /// L over all resistance, s.
    fn tau(&self) -> f64 {
        self.henry() / (self.ohm + self.series)
    }
    /// When the current has fallen to a fraction of its first value, s: 0 from 1 on, none if it
    /// never gets there (a fraction of 0 without a clamp).
    pub fn falls_to(&self, fraction: f64) -> Option<f64> {
        let fraction = fraction.max(0.0);
        if fraction >= 1.0 {
            return Some(0.0);
        }
        let end = -self.clamp / (self.ohm + self.series);
        let falls = Piece { from: 0.0, start: self.amps, end, tau: self.tau() };
        falls.reaches(fraction * self.amps)
    }
    /// The magnetic energy at cut-off, J: half L I².
    pub fn energy(&self) -> f64 {
        0.5 * self.henry() * self.amps * self.amps
    }
    /// What the clamp alone absorbs, J: V times the charge that runs through it,
    /// tau I (1 - k ln((1+k)/k)).
    pub fn in_clamp(&self) -> f64 {
        let k = self.k();
        if k <= 0.0 {
            return 0.0;
        }
        // 1 - k ln(1 + 1/k) is 1/(2k) - 1/(3k²) + …: for large k the difference of near equals
        // would lose it.
        let bracket = if k > FAR {
            let x = k.recip();
            (1..=TERMS).rev().fold(0.0, |sum, n| x * (1.0 / f64::from(n + 1) - sum))
        } else {
            1.0 - k * ln((1.0 + k) / k)
        };
        self.clamp * self.tau() * self.amps * bracket
    }
    /// What the resistance in series with the clamp absorbs, J: its share of the rest.
    pub fn in_series(&self) -> f64 {
        (self.energy() - self.in_clamp()) * self.series / (self.ohm + self.series)
    }
    /// The voltage that the coil shows at the moment of cut-off, V, against its supply.
    pub fn kick(&self) -> f64 {
        self.clamp + self.amps * self.series
    }
}
