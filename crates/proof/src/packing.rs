//! The phases of a search's units in a few machine words.
//!
//! **In:** which units a search tells apart, and how many phases each has. **Out:** a key that is
//! equal exactly where all these phases are. **Never here:** what a phase means.

use fiftytwo_motion::machine::{Machine, State, UnitId};
use std::hash::{Hash, Hasher};

/// Words of a key: enough for a hundred units and more.
const WORDS: usize = 4;

/// Phases, packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(crate) struct Packed([u64; WORDS]);

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
    /// Where two keys differ.
    pub(crate) fn changed(&self, other: &Self) -> Self {
        Self(std::array::from_fn(|word| self.0[word] ^ other.0[word]))
    }
    /// Whether two masks have something in common.
    pub(crate) fn meets(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).any(|(mine, theirs)| mine & theirs != 0)
    }
}

/// Where each unit's phase stands in a key.
#[derive(Debug, Clone)]
pub(crate) struct Packing {
    fields: Vec<Field>,
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
        Some(Self { fields })
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
