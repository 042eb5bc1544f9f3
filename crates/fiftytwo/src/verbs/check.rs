//! `check`: is the text a scheme, and has every coil the voltage it needs?

use crate::input::Checked;
use crate::page::{Page, count_of};
use crate::report::Report;
use crate::verbs::{file, notes};

/// Checks the schemes.
pub fn check<'a>(schemes: &[Checked<'a>]) -> Report<'a> {
    let mut page = Page::default();
    for checked in schemes {
        let numbers = file(checked);
        page.head(&numbers.title);
        let counts = [
            count_of(numbers.circuits, "circuit"),
            count_of(numbers.devices, "device"),
            count_of(numbers.placed_parts, "placed part"),
            count_of(numbers.cables, "cable"),
        ];
        page.words(2, 2, &format!("{}: {}", numbers.file, counts.join(", ")));
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings: notes(schemes),
        ..Report::default()
    }
}
