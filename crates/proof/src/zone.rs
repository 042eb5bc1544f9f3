//! Zones: sets of clock readings held as difference bounds.
//!
//! In: constraints on clocks, in whole microseconds, every bound closed (`<=`).
//! Out: which readings are possible after waiting, restarting and comparing clocks.
//! Never here: what a clock stands for. A clock is an index, 1 and up; index 0 is the constant zero.
//!
//! A zone over `n` clocks is a matrix of `n + 1` rows: the cell `(i, j)` is the greatest value that
//! `x_i - x_j` may take. Every method keeps the matrix *canonical* (each cell the tightest that the
//! others imply), so that two zones hold the same readings exactly when their cells are equal.
//!
//! Sources, all from memory: difference bounds for clocks, Dill 1989 ("Timing assumptions and
//! verification of finite-state concurrent systems"); the closure is the Floyd–Warshall shortest path;
//! the abstraction in [`Zone::widen`], Behrmann, Bouyer, Larsen and Pelánek 2006 ("Lower and upper
//! bounds in zone-based abstractions of timed automata").

mod remainder;
mod widen;

pub use remainder::is_covered;
pub use widen::Extremes;

/// A bound that bounds nothing.
const NONE: i64 = i64::MAX;

/// The greatest bound, in microseconds, that a zone takes (285 years); a greater one is cut to it. Sums of
/// a hundred such bounds stay far from overflow.
pub const GREATEST: i64 = 1 << 53;

/// A set of clock readings, in whole microseconds, described by closed difference bounds.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Zone {
    size: usize,
    cells: Vec<i64>,
}

fn sum(a: i64, b: i64) -> i64 {
    if a == NONE || b == NONE { NONE } else { a + b }
}

impl Zone {
    /// All `clocks` clocks at zero.
    pub fn zero(clocks: usize) -> Self {
        let size = clocks + 1;
        Self { size, cells: vec![0; size * size] }
    }

    /// Every reading that is not negative.
    pub fn anything(clocks: usize) -> Self {
        let mut zone = Self::zero(clocks);
        for i in 1..zone.size {
            for j in 0..zone.size {
                if i != j {
                    zone.put(i, j, NONE);
                }
            }
        }
        zone
    }

    /// How many clocks it speaks of, the constant zero not counted.
    pub fn clocks(&self) -> usize {
        self.size - 1
    }

    /// Bytes held beside the value itself.
    pub fn heap_bytes(&self) -> usize {
        self.cells.capacity() * size_of::<i64>()
    }

    /// No reading at all is possible.
    pub fn is_empty(&self) -> bool {
        self.cells.first().is_some_and(|&corner| corner < 0)
    }

    /// The greatest value of `x_i - x_j`; `None` where nothing bounds it. Index 0 is the constant zero.
    pub fn difference(&self, i: usize, j: usize) -> Option<i64> {
        match self.get(i, j) {
            NONE => None,
            bound => Some(bound),
        }
    }

    /// The least and, where bounded, the greatest reading of a clock.
    pub fn range(&self, clock: usize) -> (i64, Option<i64>) {
        (-self.get(0, clock), self.difference(clock, 0))
    }

    /// These readings (the first is clock 1's) are among those of the zone.
    pub fn contains(&self, readings: &[i64]) -> bool {
        let value = |i: usize| if i == 0 { 0 } else { readings.get(i - 1).copied().unwrap_or(0) };
        !self.is_empty()
            && (0..self.size).all(|i| {
                (0..self.size).all(|j| {
                    let bound = self.get(i, j);
                    bound == NONE || value(i) - value(j) <= bound
                })
            })
    }

    /// Every reading of `other` is one of this zone.
    pub fn includes(&self, other: &Self) -> bool {
        other.is_empty()
            || (self.size == other.size
                && self.cells.iter().zip(&other.cells).all(|(mine, theirs)| theirs <= mine))
    }

    /// Let any time pass: all clocks grow alike.
    pub fn delay(&mut self) {
        if self.is_empty() {
            return;
        }
        for i in 1..self.size {
            self.put(i, 0, NONE);
        }
    }

    /// Keep the readings with `clock <= bound`. False when none is left.
    pub fn constrain_upper(&mut self, clock: usize, bound: i64) -> bool {
        self.tighten(clock, 0, bound)
    }

    /// Keep the readings with `clock >= bound`. False when none is left.
    pub fn constrain_lower(&mut self, clock: usize, bound: i64) -> bool {
        self.tighten(0, clock, -bound)
    }

    /// Keep the readings with `x_i - x_j <= bound`. False when none is left.
    pub fn constrain_difference(&mut self, i: usize, j: usize, bound: i64) -> bool {
        self.tighten(i, j, bound)
    }

    /// Put one clock back to zero.
    pub fn reset(&mut self, clock: usize) {
        for j in 0..self.size {
            let (row, column) = (self.get(0, j), self.get(j, 0));
            self.put(clock, j, row);
            self.put(j, clock, column);
        }
        self.put(clock, clock, self.get(0, 0));
    }

    /// One more clock, the last, at zero.
    pub fn add(&mut self) {
        let keep: Vec<usize> = (1..self.size).chain([0]).collect();
        *self = self.carried(&keep);
    }

    /// Forget a clock; those behind it move up by one.
    pub fn drop_clock(&mut self, clock: usize) {
        let keep: Vec<usize> = (1..self.size).filter(|&c| c != clock).collect();
        *self = self.carried(&keep);
    }

    /// The zone over other clocks: the new clock `k + 1` reads as the present clock `from[k]`, where 0
    /// stands for a clock that starts at zero now. Clocks not named are forgotten.
    pub fn carried(&self, from: &[usize]) -> Self {
        let mut zone = Self { size: 0, cells: Vec::new() };
        self.carry_into(from, &mut zone);
        zone
    }

    /// [`Zone::carried`] into a zone whose room is used again.
    pub fn carry_into(&self, from: &[usize], into: &mut Self) {
        into.size = from.len() + 1;
        into.cells.clear();
        let old = |k: usize| if k == 0 { 0 } else { from.get(k - 1).copied().unwrap_or(0) };
        for i in 0..into.size {
            let row = old(i) * self.size;
            into.cells.extend((0..into.size).map(|j| self.cells[row + old(j)]));
        }
    }

    /// Grow to the least zone that holds the readings of both. It may hold others too.
    pub fn embrace(&mut self, other: &Self) {
        if self.is_empty() {
            self.copy_from(other);
        } else if !other.is_empty() {
            // The greater of two tightest bounds is the tightest: a detour is no shorter for both.
            for (mine, &theirs) in self.cells.iter_mut().zip(&other.cells) {
                *mine = (*mine).max(theirs);
            }
        }
    }

    /// Take over the readings of `other`, using this zone's room.
    pub fn copy_from(&mut self, other: &Self) {
        self.size = other.size;
        self.cells.clone_from(&other.cells);
    }

    /// Make every cell the tightest that the others imply.
    pub(crate) fn close(&mut self) {
        let n = self.size;
        for k in 0..n {
            let through: Vec<i64> = self.cells[k * n..(k + 1) * n].to_vec();
            for i in 0..n {
                let to_k = self.cells[i * n + k];
                if i == k || to_k == NONE {
                    continue;
                }
                for (cell, &onward) in self.cells[i * n..(i + 1) * n].iter_mut().zip(&through) {
                    let detour = sum(to_k, onward);
                    if detour < *cell {
                        *cell = detour;
                    }
                }
            }
        }
        if (0..n).any(|i| self.get(i, i) < 0) {
            self.clear();
        }
    }

    fn get(&self, i: usize, j: usize) -> i64 {
        self.cells[i * self.size + j]
    }

    fn put(&mut self, i: usize, j: usize, bound: i64) {
        self.cells[i * self.size + j] = bound;
    }

    /// One shape for the empty zone, so that equality stays equality of sets.
    fn clear(&mut self) {
        self.cells.fill(-1);
    }

    /// One more bound on a canonical zone, in quadratic time: every path may now lead over `i → j`.
    fn tighten(&mut self, i: usize, j: usize, bound: i64) -> bool {
        if self.is_empty() {
            return false;
        }
        let bound = bound.clamp(-GREATEST, GREATEST);
        if bound >= self.get(i, j) {
            return true;
        }
        if sum(self.get(j, i), bound) < 0 {
            self.clear();
            return false;
        }
        let n = self.size;
        for a in 0..n {
            let to = sum(self.get(a, i), bound);
            if to == NONE || to >= self.get(a, j) {
                continue;
            }
            for b in 0..n {
                let detour = sum(to, self.get(j, b));
                if detour < self.get(a, b) {
                    self.put(a, b, detour);
                }
            }
        }
        true
    }
}
