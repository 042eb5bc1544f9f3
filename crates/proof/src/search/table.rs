//! Finds a place among those found by a number mixed from it.
//!
//! In: that number (a hash) and which places seem meant. Out: which place it is.
//! Never here: the places. Two places of the same hash stand side by side; who asks compares them.
//!
//! Half a word a slot: the place's number and one, in as many bits as the table has slots for, and above
//! it as many bits of the hash as there is room for. Zero is an empty slot. What the first slot does not
//! settle stands in the slots behind it. At most two thirds are full, so a place takes 6 to 12 bytes.

/// Slots of a new table.
const FIRST: usize = 64;
/// Slots of the greatest.
const MOST: usize = 1 << 31;
/// Spreads a number over all its bits.
const MIX: u64 = 0x9e37_79b9_7f4a_7c15;

/// Which numbers were entered under which hash.
pub(super) struct Table {
    slots: Vec<u32>,
    /// Bits of a number: two to their power is how many slots there are.
    bits: u32,
    entered: usize,
}

/// A hash as the table wants it: the upper bits say where, the lower ones tell apart.
pub(super) fn mixed(hash: u64) -> u64 {
    (hash ^ (hash >> 32)).wrapping_mul(MIX)
}

impl Table {
    pub(super) fn new() -> Self {
        Self { slots: vec![0; FIRST], bits: FIRST.trailing_zeros(), entered: 0 }
    }

    /// The slot with which looking for a hash begins.
    fn home(&self, hash: u64) -> usize {
        (hash >> (u64::BITS - self.bits)) as usize
    }

    fn after(&self, at: usize) -> usize {
        (at + 1) & (self.slots.len() - 1)
    }

    /// What stands first for each hash, appended in order. To ask many in a row and only then settle each
    /// lets the memory answer them at the same time instead of one after the other.
    pub(super) fn glance(&self, hashes: &[u64], seen: &mut Vec<u32>) {
        seen.extend(hashes.iter().map(|&hash| self.slots[self.home(hash)]));
    }

    /// The number under this hash for which `is` says yes.
    pub(super) fn find(&self, hash: u64, is: impl FnMut(usize) -> bool) -> Option<usize> {
        self.find_from(hash, self.slots[self.home(hash)], is)
    }

    /// The same after a glance that saw this.
    pub(super) fn find_from(
        &self,
        hash: u64,
        seen: u32,
        mut is: impl FnMut(usize) -> bool,
    ) -> Option<usize> {
        let tag = (hash as u32) << self.bits;
        let (mut slot, mut at) = (seen, self.home(hash));
        while slot != 0 {
            if (slot ^ tag) >> self.bits == 0 {
                let number = (slot ^ tag) as usize - 1;
                if is(number) {
                    return Some(number);
                }
            }
            at = self.after(at);
            slot = self.slots[at];
        }
        None
    }

    /// Enters the next number; `hash_of` tells the hash of each that was entered before, 0 and up. False:
    /// there is no room for so many.
    pub(super) fn enter(&mut self, hash: u64, hash_of: impl Fn(usize) -> u64) -> bool {
        if (self.entered + 1) * 3 > self.slots.len() * 2 {
            let slots = self.slots.len() * 2;
            if slots > MOST {
                return false;
            }
            // The old ones go first: never are both held.
            self.slots = Vec::new();
            self.slots = vec![0; slots];
            self.bits += 1;
            for earlier in 0..self.entered {
                self.put(hash_of(earlier), earlier);
            }
        }
        self.put(hash, self.entered);
        self.entered += 1;
        true
    }

    fn put(&mut self, hash: u64, number: usize) {
        let mut at = self.home(hash);
        while self.slots[at] != 0 {
            at = self.after(at);
        }
        self.slots[at] = (hash as u32) << self.bits | (number as u32 + 1);
    }

    pub(super) fn bytes(&self) -> usize {
        self.slots.capacity() * size_of::<u32>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// However few different hashes there are, each number is found, and none that was not entered.
    #[test]
    fn what_has_the_same_hash_is_told_apart() {
        let hashes: [fn(usize) -> u64; 4] =
            [|_| 0, |_| u64::MAX, |k| mixed(k as u64 % 7), |k| mixed(k as u64)];
        for hash_of in hashes {
            let mut table = Table::new();
            for k in 0..1000 {
                assert!(table.enter(hash_of(k), hash_of));
            }
            let find = |k: usize| {
                let hash = hash_of(k);
                table.find(hash, |number| number == k)
            };
            assert!((0..1000).all(|k| find(k) == Some(k)));
            assert!((1000..2000).all(|k| find(k).is_none()));
        }
    }
}
