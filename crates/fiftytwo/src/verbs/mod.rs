//! The verbs. Each takes schemes that can be worked on and hands back a report; none prints,
//! none writes.

pub mod check;
pub mod format;

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
