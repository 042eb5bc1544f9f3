//! Forgetting what no later comparison can see, so that only finitely many zones exist.

use super::{NONE, Zone};

/// The greatest constants a clock is ever compared with, in microseconds.
///
/// A clock that is never compared in one of the two ways has [`Extremes::NEVER`] there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Extremes {
    /// Greatest constant of a comparison `clock >= constant`.
    pub lower: i64,
    /// Greatest constant of a comparison `clock <= constant`, bounds on staying included.
    pub upper: i64,
}

impl Extremes {
    /// No comparison of that kind.
    pub const NEVER: i64 = i64::MIN;
    /// A clock that nothing looks at.
    pub const UNSEEN: Self = Self { lower: Self::NEVER, upper: Self::NEVER };

    /// The same greatest constant both ways: the finer abstraction, which keeps not only what can be
    /// reached but also what cannot go on.
    pub fn level(self) -> Self {
        let both = self.lower.max(self.upper);
        Self { lower: both, upper: both }
    }

    /// Room for one more comparison of each kind.
    pub fn join(self, other: Self) -> Self {
        Self { lower: self.lower.max(other.lower), upper: self.upper.max(other.upper) }
    }
}

impl Zone {
    /// Widen the zone as far as no comparison up to `extremes` (one entry for each clock, in order) can
    /// tell. What can be reached stays exactly the same, provided clocks are compared with constants
    /// alone, never with one another.
    ///
    /// This is the abstraction called Extra⁺ with lower and upper bounds in Behrmann et al. 2006 (from
    /// memory), save that its one strict bound, `clock > U`, becomes the closed `clock >= U + 1`: with
    /// whole bounds that lies between the zone and its abstraction, so both promises hold.
    pub fn widen(&mut self, extremes: &[Extremes]) {
        if self.is_empty() {
            return;
        }
        let n = self.size;
        let seen = |clock: usize| match clock.checked_sub(1).and_then(|k| extremes.get(k)) {
            Some(extreme) => *extreme,
            None if clock == 0 => Extremes { lower: 0, upper: 0 },
            None => Extremes { lower: NONE, upper: NONE },
        };
        let least: Vec<i64> = (0..n).map(|clock| -self.get(0, clock)).collect();
        let mut changed = false;
        for i in 0..n {
            let lower = seen(i).lower;
            let past_lower = i != 0 && least[i] > lower;
            for (j, &least_j) in least.iter().enumerate() {
                if i == j {
                    continue;
                }
                let bound = self.get(i, j);
                let past_upper = j != 0 && least_j > seen(j).upper;
                let wide = if i == 0 {
                    if past_upper { -(seen(j).upper.max(-1) + 1) } else { bound }
                } else if bound > lower || past_lower || past_upper {
                    NONE
                } else {
                    bound
                };
                if wide != bound {
                    self.put(i, j, wide);
                    changed = true;
                }
            }
        }
        if changed {
            self.close();
        }
    }
}
