//! The verbs. Each takes schemes that can be worked on and hands back a report; none prints,
//! none writes.

pub mod chart;
pub mod check;
pub mod coils;
pub mod draw;
pub mod events;
pub mod example;
pub mod export;
pub mod format;
pub mod open;
pub mod play;
pub mod prove;
pub mod refuted;
pub mod topics;
pub mod watched;

use crate::input::Checked;
use crate::json::File;
use crate::report::Told;

/// A scheme in numbers.
pub fn file(checked: &Checked<'_>) -> File {
    let scheme = checked.scheme;
    File {
        file: checked.named.shown.clone(),
        title: scheme.title.clone(),
        revision: scheme.revision.clone(),
        circuits: scheme.circuits.len(),
        devices: scheme.devices.len(),
        placed_parts: scheme.placed().count(),
        cables: scheme.cables.len(),
        stories: scheme.stories.len(),
    }
}

/// What was noted while the schemes were read.
pub fn notes<'a>(schemes: &[Checked<'a>]) -> Vec<Told<'a>> {
    schemes.iter().flat_map(|it| it.notes.iter().map(|note| it.told(note.clone()))).collect()
}

/// Milliseconds of microseconds.
#[expect(clippy::cast_precision_loss, reason = "no story lasts 285 years")]
pub fn ms(us: i64) -> f64 {
    us as f64 / 1000.0
}

/// A name as part of a file's name: "Fault, trip" gives "fault-trip".
pub fn slug(name: &str) -> String {
    let mut slug = String::new();
    for character in name.chars().flat_map(char::to_lowercase) {
        if character.is_alphanumeric() {
            slug.push(character);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug: String = slug.trim_end_matches('-').chars().take(60).collect();
    if slug.is_empty() { "story".to_owned() } else { slug }
}

#[cfg(test)]
mod tests {
    use super::slug;

    #[test]
    fn a_name_becomes_part_of_a_files_name() {
        assert_eq!(
            slug("Close from the house, then a line fault"),
            "close-from-the-house-then-a-line-fault"
        );
        assert_eq!(slug("../52"), "52");
        assert_eq!(slug("…"), "story");
    }
}
