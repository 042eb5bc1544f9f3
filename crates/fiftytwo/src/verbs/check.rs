//! `check`: is the text a scheme, and has every coil the voltage it needs?

use crate::exit::Exit;
use crate::input::Checked;
use crate::json::Results;
use crate::output::Outputs;
use crate::page::{Page, count_of};
use crate::report::Report;
use crate::tell;
use crate::verbs::{file, notes};

/// Checks the schemes.
pub fn check(schemes: &[Checked<'_>]) -> Report {
    let mut page = Page::default();
    for checked in schemes {
        let numbers = file(checked);
        page.head(&numbers.title);
        page.words(
            2,
            2,
            &format!(
                "{}: {}, {}, {}",
                numbers.file,
                count_of(numbers.circuits, "circuit"),
                count_of(numbers.devices, "device"),
                count_of(numbers.placed_parts, "placed part"),
            ),
        );
        page.gap();
        page.block(&tell::findings(
            checked.notes.iter().map(|note| (note, checked.sources, Some(numbers.file.as_str()))),
        ));
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings: notes(schemes),
        results: Results::default(),
        outputs: Outputs::default(),
        exit: Exit::Holds,
    }
}
