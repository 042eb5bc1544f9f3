//! `check`: is the text a scheme, and does every part stand its worst case?

use crate::input::Checked;
use crate::json::{JsonCalculations, JsonCoil, JsonDiagnosis, Results};
use crate::output::Outputs;
use crate::page::{Page, count_of};
use crate::report::{CAUTIONS, Report};
use crate::verbs::{coils, file, notes, topics};
use fiftytwo_calculations::Study;
use fiftytwo_calculations::gather::WorkedOut;
use fiftytwo_calculations::meter::{self, Diagnosis, ReadingTaken};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Finding, Severity};
use std::path::Path;

/// What is asked beside the schemes.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'r> {
    /// Readings of a meter.
    pub readings: &'r [ReadingTaken],
    /// The rest position in which they were taken; none: any.
    pub standing: Option<&'r str>,
    /// Every line is wanted.
    pub full: bool,
}

/// Checks the schemes; with a folder, the whole page of each goes there.
pub fn check<'a>(schemes: &[Checked<'a>], asked: Asked<'_>, out: Option<&Path>) -> Report<'a> {
    let mut page = Page::default();
    let mut findings = notes(schemes);
    let (mut all_coils, mut all, mut diagnoses) = (Vec::new(), Vec::new(), Vec::new());
    let mut outputs = Outputs::default();
    for checked in schemes {
        page.block(&title(checked));
        match calculated(checked) {
            Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
            Ok(found) => {
                // Who holds a meter in his hand reads its answer first.
                if !asked.readings.is_empty() {
                    match explained(checked, asked) {
                        Ok(diagnosis) => {
                            page.gap().block(&topics::meter::diagnosis(&diagnosis));
                            diagnoses.push(JsonDiagnosis::new(&checked.named.shown, &diagnosis));
                        }
                        // A slip in what was asked is told alone: the rest would bury it.
                        Err(faults) => {
                            findings.clear();
                            findings.extend(faults.into_iter().map(|it| checked.told(it)));
                            break;
                        }
                    }
                }
                page.gap().block(&told(&found, asked.full));
                let shown = &checked.named.shown;
                all_coils.extend(found.coils.iter().map(|it| JsonCoil::new(shown, it)));
                if let Some(folder) = out {
                    write(checked, &found, folder, &mut outputs);
                }
                findings.extend(found.findings().into_iter().map(|it| checked.told(it)));
                all.push(JsonCalculations { file: shown.clone(), topics: found.calculations });
            }
        }
        page.gap();
    }
    let all_notes = findings.iter().all(|told| told.finding.severity == Severity::Note);
    if all_notes && !schemes.is_empty() {
        page.gap().words(
            0,
            2,
            "No finding. What the notes name was not judged, rests on typical values, or falls short \
             of what is usual without being called a finding; all else that was judged holds.",
        );
    }
    let results = Results {
        coils: Some(all_coils),
        calculations: Some(all),
        diagnoses: (!asked.readings.is_empty()).then_some(diagnoses),
        ..Results::default()
    };
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings,
        results,
        outputs,
        ..Report::default()
    }
}

/// Works everything out.
///
/// # Errors
/// Findings where the wiring of the scheme can't be solved at all.
pub fn calculated(checked: &Checked<'_>) -> Result<WorkedOut, Vec<Finding>> {
    Ok(WorkedOut::of(&Machine::new(checked.scheme)?))
}

/// What readings mean. A reading that names no point of the scheme makes the input unusable.
fn explained(checked: &Checked<'_>, asked: Asked<'_>) -> Result<Diagnosis, Vec<Finding>> {
    let machine = Machine::new(checked.scheme)?;
    meter::explain(&Study::new(&machine), asked.readings, asked.standing).map_err(|faults| {
        faults.iter().map(|fault| Finding::error("reading", fault.to_string())).collect()
    })
}

fn told(found: &WorkedOut, full: bool) -> String {
    let mut page = Page::default();
    page.block(&coils::told(&found.coils));
    let sections = topics::sections(&found.calculations);
    let typical = topics::typical(&found.calculations);
    page.gap().block(&topics::told(&sections, &typical, full));
    page.into_text()
}

/// Puts what is to be printed and taken along into a folder.
pub fn write(checked: &Checked<'_>, found: &WorkedOut, folder: &Path, outputs: &mut Outputs) {
    let stem = &checked.named.stem;
    outputs.add(folder.join(format!("{stem}-check.txt")), whole_page(checked, found));
    let table = &found.calculations.meter;
    let volts = topics::meter::page(&checked.scheme.title, table);
    outputs.add(folder.join(format!("{stem}-volts.txt")), volts);
    outputs.add(folder.join(format!("{stem}-volts.csv")), topics::meter::csv(table));
}

/// All lines, to print and keep.
fn whole_page(checked: &Checked<'_>, found: &WorkedOut) -> String {
    let mut page = Page::default();
    page.block(&title(checked)).gap().block(&told(found, true)).gap();
    for caution in CAUTIONS {
        page.words(0, 2, caution);
    }
    anstream::adapter::strip_str(&page.into_text()).to_string()
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
