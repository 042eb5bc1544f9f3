//! The phases of a search's units in a few machine words.
//!
//! **In:** which units a search tells apart, and how many phases each has. **Out:** a key that is
//! equal exactly where all these phases are. **Never here:** what a phase means.

use fiftytwo_motion::machine::{Machine, State, UnitId};

/// Words of a key: enough for a hundred units and more.
const WORDS: usize = 4;

/// Phases, packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(crate) struct Packed([u64; WORDS]);

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
    /// Puts the phases of a key into a state.
    pub(crate) fn unpack(&self, packed: &Packed, state: &mut State) {
        for field in &self.fields {
            let phase = packed.0[field.word] >> field.shift & field.mask;
            state.set(field.unit, u8::try_from(phase).unwrap_or(u8::MAX));
        }
    }
}
