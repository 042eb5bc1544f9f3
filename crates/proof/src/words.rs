//! Verdicts and races in words: the terminal and the page say the same.

use crate::report::{Margin, Verdict};
use fiftytwo_motion::machine::{Machine, UnitId};

/// The names of some units, each once: a line of logic and the contact it moves may share one.
pub(crate) fn named<'u>(
    machine: &Machine<'_>,
    units: impl IntoIterator<Item = &'u UnitId>,
) -> String {
    let mut names: Vec<&str> = Vec::new();
    for unit in units {
        let name = machine.units[*unit].name.as_str();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join(", ")
}

/// A time as a reader wants it: `12`, `12.5`.
fn shown_ms(ms: f64) -> String {
    let tenths = format!("{ms:.1}");
    tenths.strip_suffix(".0").map_or_else(|| tenths.clone(), str::to_owned)
}

impl Verdict {
    /// In words, as the documentation has them.
    pub fn words(self) -> &'static str {
        match self {
            Self::HoldsInAnyOrder => "holds in any order",
            Self::HoldsWithinTolerances => "holds within tolerances",
            Self::Fails => "fails",
            Self::NotProven => "not proven",
            Self::Vacuous => "vacuous",
            Self::Waived => "waived",
            Self::NotAsked => "not asked",
        }
    }
}

impl Margin {
    /// The race in a sentence.
    pub fn words(&self) -> String {
        let Self { device, the_move, declared_ms, holds_to_ms, fails_from_ms } = self;
        let declared = shown_ms(*declared_ms);
        let proven = shown_ms(*holds_to_ms);
        let bound = match fails_from_ms {
            // Whole milliseconds lie apart by one; more is a gap in which nothing is known.
            Some(fails) if (fails - holds_to_ms).abs() > 1.5 => format!(
                "declared {declared} ms, proven to {proven} ms, broken by a story from {} ms; \
                 between the two not proven",
                shown_ms(*fails)
            ),
            Some(fails) => {
                let spare = shown_ms((fails - declared_ms).abs());
                let fails = shown_ms(*fails);
                format!("fails from {fails} ms, declared {declared}: margin {spare} ms")
            }
            None => {
                format!("declared {declared} ms, proven to {proven} ms, beyond that not proven")
            }
        };
        format!("race: {device} {the_move}: {bound}")
    }
}
