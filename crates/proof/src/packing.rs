//! The phases of a search's units in a few machine words.
//!
//! **In:** which units a search tells apart, and how many phases each has. **Out:** a key that is
//! equal exactly where all these phases are; which units' phases differ. **Never here:** what a phase means.

use fiftytwo_motion::machine::{Machine, State, UnitId};
use std::hash::{Hash, Hasher};

/// Words of a key: enough for a hundred units and more.
const WORDS: usize = 4;

/// Phases, packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(crate) struct Packed([u64; WORDS]);

/// Some units of a search, by their numbers: a bit each.
pub(crate) type Units = u128;

/// An odd number with its bits well mixed.
const MIX: u64 = 0x9e37_79b9_7f4a_7c15;

impl Hash for Packed {
    fn hash<H: Hasher>(&self, state: &mut H) {
        let mix = |mixed: u64, word: &u64| (mixed.rotate_left(23) ^ word).wrapping_mul(MIX);
        state.write_u64(self.0.iter().fold(0, mix));
    }
}

impl Packed {
    /// No phase at all.
    pub(crate) const NONE: Self = Self([0; WORDS]);

    /// The phases that a mask keeps.
    pub(crate) fn only(&self, mask: &Self) -> Self {
        Self(std::array::from_fn(|word| self.0[word] & mask.0[word]))
    }
}

/// The numbers of some units, or of other things kept as bits, in order.
pub(crate) fn each(mut bits: Units) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let next = (bits != 0).then(|| bits.trailing_zeros() as usize)?;
        bits &= bits - 1;
        Some(next)
    })
}

/// Where each unit's phase stands in a key.
#[derive(Debug, Clone)]
pub(crate) struct Packing {
    fields: Vec<Field>,
    /// Of each bit of a key: the number of the unit whose phase it is part of.
    of_bit: Vec<u8>,
}

#[derive(Debug, Clone, Copy)]
struct Field {
    unit: UnitId,
    word: usize,
    shift: u32,
    mask: u64,
}

impl Packing {
    /// None: there are more units than a key can hold.
    pub(crate) fn new(machine: &Machine<'_>, units: &[UnitId]) -> Option<Self> {
        let (mut fields, mut word, mut used) = (Vec::new(), 0, 0);
        for &unit in units {
            let last = u64::from(machine.units[unit].phases.saturating_sub(1));
            let bits = u64::BITS - last.leading_zeros();
            if used + bits > u64::BITS {
                (word, used) = (word + 1, 0);
            }
            if word >= WORDS {
                return None;
            }
            let mask = (1_u64 << bits) - 1;
            fields.push(Field { unit, word, shift: used, mask });
            used += bits;
        }
        if fields.len() > Units::BITS as usize {
            return None;
        }
        let mut of_bit = vec![0; WORDS * u64::BITS as usize];
        for (number, field) in (0_u8..).zip(&fields) {
            let first = field.word * u64::BITS as usize + field.shift as usize;
            of_bit[first..first + field.mask.count_ones() as usize].fill(number);
        }
        Some(Self { fields, of_bit })
    }
    /// The key of a state, each phase as `distinguished` tells it.
    pub(crate) fn pack(
        &self,
        state: &State,
        mut distinguished: impl FnMut(UnitId, u8) -> u8,
    ) -> Packed {
        let mut packed = Packed::default();
        for field in &self.fields {
            let phase = distinguished(field.unit, state.phase(field.unit));
            packed.0[field.word] |= (u64::from(phase) & field.mask) << field.shift;
        }
        packed
    }
    /// A key in which the fields of some units are full.
    pub(crate) fn mask(&self, takes: impl Fn(UnitId) -> bool) -> Packed {
        let mut packed = Packed::NONE;
        for field in self.fields.iter().filter(|field| takes(field.unit)) {
            packed.0[field.word] |= field.mask << field.shift;
        }
        packed
    }
    /// The units whose phases differ.
    pub(crate) fn changed(&self, from: &Packed, to: &Packed) -> Units {
        let mut changed = 0;
        for (word, (mine, theirs)) in from.0.iter().zip(&to.0).enumerate() {
            let mut differs = mine ^ theirs;
            while differs != 0 {
                let bit = word * u64::BITS as usize + differs.trailing_zeros() as usize;
                let number = self.of_bit[bit];
                let field = &self.fields[usize::from(number)];
                changed |= 1 << number;
                differs &= !(field.mask << field.shift);
            }
        }
        changed
    }
    /// The units that a mask takes in.
    pub(crate) fn units(&self, mask: &Packed) -> Units {
        self.changed(&Packed::NONE, mask)
    }
    /// The phase of the unit of this number.
    pub(crate) fn phase(&self, packed: &Packed, index: usize) -> u8 {
        let field = &self.fields[index];
        (packed.0[field.word] >> field.shift & field.mask) as u8
    }
    /// Puts another phase for the unit of this number.
    pub(crate) fn set(&self, packed: &mut Packed, index: usize, phase: u8) {
        let field = &self.fields[index];
        let word = &mut packed.0[field.word];
        *word =
            *word & !(field.mask << field.shift) | (u64::from(phase) & field.mask) << field.shift;
    }
    /// Puts the phases of a key into a state.
    pub(crate) fn unpack(&self, packed: &Packed, state: &mut State) {
        for field in &self.fields {
            let phase = packed.0[field.word] >> field.shift & field.mask;
            state.set(field.unit, u8::try_from(phase).unwrap_or(u8::MAX));
        }
    }
}
