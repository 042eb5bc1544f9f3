//! Sums of many numbers of which few change: pairwise sums of pairwise sums.
//!
//! Nothing is ever subtracted, so a sum after any number of changes is to the last bit the sum
//! made afresh.

/// One sum.
#[derive(Debug, Clone)]
pub(super) struct Total {
    /// The sum of places 2 i and 2 i + 1 stands at place i; the numbers at the end.
    tree: Vec<f64>,
    first: usize,
}

impl Total {
    pub(super) fn new(numbers: usize) -> Self {
        let first = numbers.next_power_of_two().max(1);
        Self { tree: vec![0.0; first + numbers.max(1)], first }
    }
    /// Puts a number without adding up: [`Self::add_up`] must follow.
    pub(super) fn put(&mut self, number: usize, value: f64) {
        self.tree[self.first + number] = value;
    }
    pub(super) fn add_up(&mut self) {
        let end = self.tree.len();
        for place in (1..self.first).rev() {
            let left = 2 * place;
            self.tree[place] = if left + 1 < end {
                self.tree[left] + self.tree[left + 1]
            } else if left < end {
                self.tree[left]
            } else {
                0.0
            };
        }
    }
    /// Puts a number and keeps the sum.
    pub(super) fn set(&mut self, number: usize, value: f64) {
        let mut place = self.first + number;
        self.tree[place] = value;
        while place > 1 {
            place /= 2;
            let right = self.tree.get(2 * place + 1).copied().unwrap_or(0.0);
            self.tree[place] = self.tree[2 * place] + right;
        }
    }
    pub(super) fn number(&self, number: usize) -> f64 {
        self.tree[self.first + number]
    }
    pub(super) fn sum(&self) -> f64 {
        self.tree[1]
    }
}
