//! The verbs. Each takes schemes that can be worked on and hands back a report; none prints,
//! none writes.

pub mod check;
pub mod format;

use crate::input::Checked;
use crate::json::{File, JsonFinding};

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
pub fn notes(schemes: &[Checked<'_>]) -> Vec<JsonFinding> {
    schemes
        .iter()
        .flat_map(|it| {
            it.notes.iter().map(|note| JsonFinding::new(note, it.sources, Some(&it.named.shown)))
        })
        .collect()
}
