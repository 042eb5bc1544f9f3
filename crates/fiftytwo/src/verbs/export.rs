//! `prove --export`: each question as models for a general-purpose model checker.

use crate::input::Checked;
use crate::page::{Page, count_of};
use crate::report::Report;
use fiftytwo_proof::export::all;
use std::path::Path;

/// Adds the models of all questions to the files of a report, and says which have none and why.
pub fn export(schemes: &[Checked<'_>], folder: &Path, report: &mut Report<'_>) {
    let mut page = Page::default();
    page.line(&format!("Models for spin, into {}", folder.display()));
    for checked in schemes {
        // A scheme that can't be made to move was told by the proof.
        let Ok(questions) = all(checked.scheme) else { continue };
        let mut written = 0_usize;
        for (index, exported) in questions.iter().enumerate() {
            let forms =
                [("any-order", &exported.any_order), ("in-ticks", &exported.within_tolerances)];
            for (form, made) in forms {
                match made {
                    Ok(model) => {
                        let name = format!("{}-{}-{form}.pml", checked.named.stem, index + 1);
                        report.outputs.add(folder.join(name), model.text.clone());
                        written += 1;
                    }
                    Err(refused) => {
                        page.words(2, 4, &format!("{} {form} not written: {refused}", index + 1));
                    }
                }
            }
        }
        page.words(2, 4, &format!("{}: {}", checked.scheme.title, count_of(written, "model")));
    }
    report.text.push('\n');
    report.text.push_str(&page.into_text());
}
