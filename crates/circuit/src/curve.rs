//! Characteristics: the current of a part for every voltage across it, in straight pieces.
//!
//! **In:** points, or what is known of a part (a drop, a clamp voltage, a rated point). **Out:** a
//! [`Characteristic`] that never falls, passes through the origin and therefore never gives power
//! out; its current, voltage, slope and resistance at any point. **Never here:** networks,
//! temperatures, time.
//!
//! A straight piece is exact where the part is given by points; how far a constant drop lies from the
//! law of a junction is stated in `docs/circuit.md`.

mod of_part;

use serde::Serialize;
use std::fmt;

pub use of_part::{Filament, PartCurve, part_curve};

/// The greatest slope of a characteristic, S: what is steeper holds its voltage as a closed switch
/// does, within 1 mV at 1 A.
pub const STEEPEST: f64 = 1e3;
/// Two points of a curve lie apart by at least so many volts.
pub const LEAST_APART: f64 = 1e-5;

/// Voltage and current of a filament at rest, of the rated ones: `i = u^0.55`.
const FILAMENT: [(f64, f64); 21] = [
    (0.002, 0.032776796),
    (0.003, 0.0409653519),
    (0.0045, 0.0511996371),
    (0.0065, 0.062676155),
    (0.0095, 0.0772232336),
    (0.014, 0.0955807468),
    (0.02, 0.116296461),
    (0.028, 0.139938404),
    (0.04, 0.170267985),
    (0.057, 0.206886032),
    (0.08, 0.249286921),
    (0.115, 0.304357363),
    (0.165, 0.37120701),
    (0.235, 0.45090736),
    (0.335, 0.547992537),
    (0.475, 0.664020497),
    (0.68, 0.808872186),
    (1.0, 1.0),
    (1.4, 1.20329031),
    (2.0, 1.4640857),
    (3.0, 1.82985505),
];

/// Volts to amperes in straight pieces.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Characteristic {
    /// Volts and amperes where the slope changes; the origin is one of them.
    points: Vec<(f64, f64)>,
    /// Slopes below the first point, between the points, above the last, S.
    slopes: Vec<f64>,
}

/// Which way a part that is given in one direction lets current through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum Conducts {
    /// From its upper end to its lower only.
    OneWay,
    /// In the same manner either way.
    BothWays,
}

/// Why points make no characteristic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CurveFault {
    /// There is no point beside the origin.
    Empty,
    /// A number is not finite.
    NotFinite,
    /// Two points lie closer than [`LEAST_APART`] volts.
    TooClose {
        /// Voltage of the second point.
        volt: f64,
    },
    /// The current falls while the voltage rises.
    Falls {
        /// Voltage of the point at which it is lower than before.
        volt: f64,
    },
    /// The current grows by more than 1 A in 1 mV ([`STEEPEST`]).
    TooSteep {
        /// Voltage of the point.
        volt: f64,
    },
    /// Voltage and current have opposite signs: the part would give power out.
    GivesPower {
        /// Voltage of the point.
        volt: f64,
    },
}

impl fmt::Display for CurveFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "the curve has no point with a voltage"),
            Self::NotFinite => write!(f, "a point of the curve is not a number"),
            Self::TooClose { volt } => {
                write!(f, "two points of the curve lie at {volt} V, less than 10 µV apart")
            }
            Self::Falls { volt } => {
                write!(f, "the current of the curve falls towards {volt} V")
            }
            Self::TooSteep { volt } => {
                write!(f, "the curve rises by more than 1 A in 1 mV towards {volt} V")
            }
            Self::GivesPower { volt } => {
                write!(f, "at {volt} V the current of the curve runs against the voltage")
            }
        }
    }
}

impl std::error::Error for CurveFault {}

/// A piece of a characteristic: `ampere + siemens × (v − volt)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    pub(crate) siemens: f64,
    pub(crate) volt: f64,
    pub(crate) ampere: f64,
}

impl Piece {
    pub(crate) fn current(self, volt: f64) -> f64 {
        self.ampere + self.siemens * (volt - self.volt)
    }
}

impl Characteristic {
    /// Through points of V and A in any order; straight lines between them, and beyond the ends
    /// along the last line. The origin is added. With `Conducts::BothWays` points on one side of the origin
    /// only are mirrored to the other; with `Conducts::OneWay` no current flows on the side without points.
    ///
    /// # Errors
    /// See [`CurveFault`].
    pub fn through(points: &[(f64, f64)], way: Conducts) -> Result<Self, CurveFault> {
        let mut all: Vec<(f64, f64)> = points.to_vec();
        if all.iter().any(|&(volt, ampere)| !volt.is_finite() || !ampere.is_finite()) {
            return Err(CurveFault::NotFinite);
        }
        all.retain(|&(volt, ampere)| (volt, ampere) != (0.0, 0.0));
        let one_side = |side: f64| all.iter().all(|&(volt, _)| volt * side >= 0.0);
        let (above, below) = (one_side(1.0), one_side(-1.0));
        if way == Conducts::BothWays && (above || below) {
            let mirrored: Vec<_> = all.iter().map(|&(volt, ampere)| (-volt, -ampere)).collect();
            all.extend(mirrored);
        }
        if all.is_empty() {
            return Err(CurveFault::Empty);
        }
        all.push((0.0, 0.0));
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (before, point) in all.iter().zip(&all[1..]) {
            if point.1 < before.1 {
                return Err(CurveFault::Falls { volt: point.0 });
            }
            if point.0 - before.0 < LEAST_APART {
                return Err(CurveFault::TooClose { volt: point.0 });
            }
        }
        if let Some(&(volt, _)) = all.iter().find(|(volt, ampere)| volt * ampere < 0.0) {
            return Err(CurveFault::GivesPower { volt });
        }
        let slope = |(from, to): (&(f64, f64), &(f64, f64))| (to.1 - from.1) / (to.0 - from.0);
        let between: Vec<f64> = all.iter().zip(&all[1..]).map(slope).collect();
        if let Some(at) = between.iter().position(|&slope| slope > STEEPEST) {
            return Err(CurveFault::TooSteep { volt: all[at + 1].0 });
        }
        let end = |value: Option<&f64>, closed: bool| {
            if closed && way == Conducts::OneWay { 0.0 } else { value.copied().unwrap_or(0.0) }
        };
        let mut slopes = vec![end(between.first(), above)];
        slopes.extend(&between);
        slopes.push(end(between.last(), below));
        Ok(Self { points: all, slopes })
    }

    /// A resistance, ohm (at least 1 mΩ).
    pub fn resistance(ohm: f64) -> Self {
        let siemens = ohm.recip().min(STEEPEST);
        Self { points: vec![(0.0, 0.0)], slopes: vec![siemens, siemens] }
    }

    /// No current below `drop` (V, at least 0), from there `ohm` (at least 1 mΩ): diodes and
    /// light-emitting diodes as textbooks draw them. Reversed, exactly no current.
    pub fn drop(drop: f64, ohm: f64) -> Self {
        let siemens = ohm.recip().min(STEEPEST);
        if drop < LEAST_APART {
            return Self { points: vec![(0.0, 0.0)], slopes: vec![0.0, siemens] };
        }
        Self { points: vec![(0.0, 0.0), (drop, 0.0)], slopes: vec![0.0, 0.0, siemens] }
    }

    /// No current below `volt` either way, from there `ohm` (at least 1 mΩ): varistors, and pairs
    /// of clamp diodes.
    pub fn clamp(volt: f64, ohm: f64) -> Self {
        Self::drop(volt, ohm).both_ways()
    }

    /// A filament at rest at every voltage: the current grows as the voltage to the power of 0.55
    /// (see [`FILAMENT_EXPONENT`](crate::typical::FILAMENT_EXPONENT)) through the rated point, but no
    /// resistance is below `cold`, ohm. In pieces between points of that law, within 1 % of it from
    /// 0.2 % to 300 % of the rated voltage.
    ///
    /// # Errors
    /// Values that are not positive.
    pub fn filament(volt: f64, ampere: f64, cold: f64) -> Result<Self, CurveFault> {
        let hot = volt / ampere;
        if ![volt, hot, cold].iter().all(|&value| value > 0.0 && value.is_finite()) {
            return Err(CurveFault::NotFinite);
        }
        if cold >= hot {
            return Ok(Self::resistance(hot));
        }
        let law = FILAMENT.map(|(volts, amperes)| (volts * volt, amperes * ampere));
        let warm = law.partition_point(|(volt, ampere)| volt < &(cold * ampere));
        let mut points = Vec::new();
        if let (Some(&(v, i)), Some(&(w, j))) = (law[..warm].last(), law.get(warm)) {
            // Where the cold resistance meets the line between two points of the law.
            let slope = (j - i) / (w - v);
            let meets = (i - slope * v) / (cold.recip() - slope);
            if w - meets > LEAST_APART {
                points.push((meets, meets / cold));
            }
        }
        points.extend(&law[warm..]);
        Self::through(&points, Conducts::BothWays)
    }

    /// The same seen from its other end.
    pub fn reversed(&self) -> Self {
        let turn = |&(volt, ampere): &(f64, f64)| (0.0 - volt, 0.0 - ampere);
        Self {
            points: self.points.iter().rev().map(turn).collect(),
            slopes: self.slopes.iter().rev().copied().collect(),
        }
    }

    /// What it does above 0 V, either way.
    pub fn both_ways(&self) -> Self {
        let zero = self.zero();
        let (points, slopes) = (&self.points[zero..], &self.slopes[zero + 1..]);
        let mut both = Self {
            points: points.iter().rev().map(|&(volt, ampere)| (-volt, -ampere)).collect(),
            slopes: slopes.iter().rev().copied().collect(),
        };
        both.points.pop();
        both.points.extend(points);
        both.slopes.extend(slopes);
        both
    }

    /// Current, A, at a voltage.
    pub fn current(&self, volt: f64) -> f64 {
        self.piece(self.piece_at(volt)).current(volt)
    }

    /// The least voltage, V, at which so much current flows (A); none: no voltage drives it.
    pub fn voltage(&self, ampere: f64) -> Option<f64> {
        if ampere == 0.0 {
            return Some(0.0);
        }
        let within = self.points.partition_point(|point| point.1 < ampere);
        let piece = self.piece(within);
        (piece.siemens > 0.0).then(|| piece.volt + (ampere - piece.ampere) / piece.siemens)
    }

    /// The greatest and the least of current over voltage, S, over all voltages from `lo` to `hi`:
    /// whatever voltage in that range stands across it, it is a resistance between these.
    pub fn chords(&self, lo: f64, hi: f64) -> (f64, f64) {
        let inside = self.points.iter().map(|point| point.0).filter(|&at| lo < at && at < hi);
        let (mut most, mut least) = (0.0_f64, f64::INFINITY);
        for volt in inside.chain([lo, hi]) {
            let chords = if volt == 0.0 {
                let zero = self.zero();
                let below = (lo < 0.0).then_some(self.slopes[zero]);
                let above = (hi > 0.0).then_some(self.slopes[zero + 1]);
                [below.or(above), above.or(below)]
            } else {
                [Some(self.current(volt) / volt), None]
            };
            for chord in chords.into_iter().flatten() {
                most = most.max(chord);
                least = least.min(chord);
            }
        }
        (most, least)
    }

    /// Whether it lets current through one way only.
    pub fn is_one_way(&self) -> bool {
        let zero = self.zero();
        self.slopes[..=zero].iter().all(|&slope| slope == 0.0)
    }

    /// Whether it is a resistance, and which (ohm; infinite: no current at any voltage).
    pub fn ohm(&self) -> Option<f64> {
        let first = self.slopes[0];
        self.slopes.iter().all(|&slope| slope == first).then(|| first.recip())
    }

    /// Its points, V and A, the origin among them.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Slopes below the first point, between the points, above the last, S.
    pub fn slopes(&self) -> &[f64] {
        &self.slopes
    }

    /// How many pieces it has; they are numbered upwards.
    pub(crate) fn pieces(&self) -> usize {
        self.slopes.len()
    }

    /// A piece, anchored at its end nearer to the origin, so that a piece through the origin has
    /// neither a voltage nor a current of its own.
    pub(crate) fn piece(&self, number: usize) -> Piece {
        let at = if number <= self.zero() { number } else { number - 1 };
        let (volt, ampere) = self.points[at];
        Piece { siemens: self.slopes[number], volt, ampere }
    }

    /// The piece on which a voltage lies.
    pub(crate) fn piece_at(&self, volt: f64) -> usize {
        self.points.partition_point(|point| point.0 < volt)
    }

    /// The voltages at which a piece begins and ends.
    pub(crate) fn span(&self, number: usize) -> (f64, f64) {
        let from = number.checked_sub(1).map_or(f64::NEG_INFINITY, |before| self.points[before].0);
        (from, self.points.get(number).map_or(f64::INFINITY, |point| point.0))
    }

    fn zero(&self) -> usize {
        self.points.iter().position(|point| point.0 == 0.0).unwrap_or(0)
    }
}
