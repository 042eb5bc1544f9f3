//! Which words were met.
//!
//! In: words. Out: whether one was met before. Never here: a hash that could take one word for another,
//! or what a word means.
//!
//! Words that differ in their last six bits alone share a slot: what they have in common, and a bit for
//! each. A search in any order turns single bits, so most of what it asks stands in few slots near each
//! other. A word that is alone in its slot takes 24 to 48 bytes, one of many a fraction.

use super::table::mixed;

/// Slots of a new set.
const FIRST: usize = 64;
/// Bits that share a slot.
const LAST: u32 = 6;
/// Spreads the other bits before they are mixed: without it some searches are a tenth slower.
const SPREAD: u64 = 0xd6e8_feb8_6659_fd93;

#[derive(Clone, Copy)]
#[repr(align(16))]
struct Slot {
    common: u64,
    /// None: the slot is empty.
    met: u64,
}

const EMPTY: Slot = Slot { common: 0, met: 0 };

/// A set of words.
pub(super) struct Words {
    slots: Vec<Slot>,
    taken: usize,
}

fn bit(word: u64) -> u64 {
    1 << (word & ((1 << LAST) - 1))
}

impl Words {
    pub(super) fn new() -> Self {
        Self { slots: vec![EMPTY; FIRST], taken: 0 }
    }

    /// The slot that is or would be of all words with these upper bits.
    fn slot(&self, common: u64) -> usize {
        let mask = self.slots.len() - 1;
        let mut at = (mixed(common.wrapping_mul(SPREAD)) >> 32) as usize & mask;
        while self.slots[at].common != common && self.slots[at].met != 0 {
            at = (at + 1) & mask;
        }
        at
    }

    pub(super) fn has(&self, word: u64) -> bool {
        let common = word >> LAST;
        let slot = self.slots[self.slot(common)];
        slot.common == common && slot.met & bit(word) != 0
    }

    /// Enters a word; false: it was there.
    pub(super) fn enter(&mut self, word: u64) -> bool {
        let common = word >> LAST;
        let at = self.slot(common);
        let slot = &mut self.slots[at];
        if slot.met != 0 {
            let is_new = slot.met & bit(word) == 0;
            slot.met |= bit(word);
            return is_new;
        }
        *slot = Slot { common, met: bit(word) };
        self.taken += 1;
        if self.taken * 3 > self.slots.len() * 2 {
            let twice = vec![EMPTY; self.slots.len() * 2];
            for slot in std::mem::replace(&mut self.slots, twice) {
                if slot.met != 0 {
                    let at = self.slot(slot.common);
                    self.slots[at] = slot;
                }
            }
        }
        true
    }

    pub(super) fn bytes(&self) -> usize {
        self.slots.capacity() * size_of::<Slot>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_word_is_new_once_and_no_other_is_taken_for_it() {
        let mut seed = 7_u64;
        let mut random = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            seed
        };
        // Near each other, far apart, and those that differ in their upper bits alone.
        for shift in [0, 30, 52] {
            let (mut words, mut plain) = (Words::new(), BTreeSet::new());
            for _ in 0..20_000 {
                let word = random() >> 52 << shift;
                assert_eq!(words.has(word), plain.contains(&word));
                assert_eq!(words.enter(word), plain.insert(word));
                assert!(words.has(word));
            }
        }
        let mut words = Words::new();
        assert!(!words.has(0) && words.enter(0) && words.has(0) && !words.has(1));
    }
}
