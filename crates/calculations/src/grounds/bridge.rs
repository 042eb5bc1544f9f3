//! A ground detector's two legs as a bridge: where they hold the ground, and how a second pair of
//! legs beside them makes the detector deaf.
//!
//! **In:** volts and ohms. **Out:** volts and ohms. **Never here:** schemes.

/// The two legs of a ground detector (or of several, side by side).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Legs {
    /// From plus to ground, ohm.
    pub plus: f64,
    /// From minus to ground, ohm.
    pub minus: f64,
}

/// A pole of a supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pole {
    /// The positive one.
    Plus,
    /// The negative one.
    Minus,
}

/// Volts of the two poles, counted as a meter shows them without its sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Divided {
    /// From plus to ground, V.
    pub plus: f64,
    /// From ground to minus, V.
    pub minus: f64,
}

impl Legs {
    /// Both detectors at once: each leg beside the other's.
    #[must_use]
    pub fn beside(self, other: Self) -> Self {
        Self {
            plus: side_by_side(self.plus, other.plus),
            minus: side_by_side(self.minus, other.minus),
        }
    }
    /// How `volt` between the poles divides about ground.
    pub fn divide(self, volt: f64) -> Divided {
        let plus = if self.plus.is_infinite() && self.minus.is_infinite() {
            0.5
        } else if self.plus.is_infinite() {
            1.0
        } else {
            self.plus / (self.plus + self.minus)
        };
        Divided { plus: volt * plus, minus: volt * (1.0 - plus) }
    }
    /// With a ground of `ohm` on a pole.
    #[must_use]
    pub fn with_ground(self, pole: Pole, ohm: f64) -> Self {
        match pole {
            Pole::Plus => Self { plus: side_by_side(self.plus, ohm), ..self },
            Pole::Minus => Self { minus: side_by_side(self.minus, ohm), ..self },
        }
    }
    /// What stands between the supply and ground: both legs side by side, ohm.
    pub fn source_ohm(self) -> f64 {
        side_by_side(self.plus, self.minus)
    }
    /// A detector gives alarm when the ground has moved by some volts. These legs alone make it
    /// move so far at a ground of `alone` ohm; the resistance at which `together`, another
    /// detector's legs beside these, let it move as far: less, so the alarm is deafer. Zero: not even
    /// a solid ground moves it so far.
    pub fn alarm_beside(self, together: Self, pole: Pole, alone: f64) -> f64 {
        let moves = |legs: Self| {
            let rest = legs.divide(1.0);
            match pole {
                Pole::Plus => rest.plus,
                Pole::Minus => rest.minus,
            }
        };
        // A pole at `u` from ground behind `s` ohm, grounded through `r`: the ground moves by
        // u s / (s + r). Solved for r at the same movement.
        let (before, after) = (self.source_ohm(), together.source_ohm());
        let moved = moves(self) * before / (before + alone);
        (after * (moves(together) / moved - 1.0)).max(0.0)
    }
}

/// Two resistances side by side, ohm.
pub fn side_by_side(one: f64, other: f64) -> f64 {
    if one == 0.0 || other == 0.0 {
        0.0
    } else if one.is_infinite() {
        other
    } else if other.is_infinite() {
        one
    } else {
        one * other / (one + other)
    }
}
