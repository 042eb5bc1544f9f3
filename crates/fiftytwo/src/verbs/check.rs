//! `check`: is the text a scheme, and has every coil the voltage it needs?

use crate::input::Checked;
use crate::json::{JsonCoil, Results};
use crate::page::{Page, count_of};
use crate::report::Report;
use crate::verbs::{coils, file, notes};

/// Checks the schemes.
pub fn check<'a>(schemes: &[Checked<'a>]) -> Report<'a> {
    let mut page = Page::default();
    let mut findings = notes(schemes);
    let mut all_coils = Vec::new();
    for checked in schemes {
        page.block(&title(checked));
        match coils::reports(checked.scheme) {
            Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
            Ok(reports) => {
                page.gap().block(&coils::told(&reports));
                for report in reports {
                    all_coils.push(JsonCoil::new(&checked.named.shown, &report));
                    findings.extend(report.findings.into_iter().map(|it| checked.told(it)));
                }
            }
        }
        page.gap();
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings,
        results: Results { coils: Some(all_coils), ..Results::default() },
        ..Report::default()
    }
}

/// What was read, in two lines.
pub fn title(checked: &Checked<'_>) -> String {
    let numbers = file(checked);
    let mut page = Page::default();
    let revision = numbers.revision.map(|it| format!(", revision {it}")).unwrap_or_default();
    page.head(&format!("{}{revision}", numbers.title));
    let counts = [
        count_of(numbers.circuits, "circuit"),
        count_of(numbers.devices, "device"),
        count_of(numbers.placed_parts, "placed part"),
        count_of(numbers.cables, "cable"),
    ];
    page.words(2, 2, &format!("{}: {}", numbers.file, counts.join(", ")));
    page.into_text()
}
