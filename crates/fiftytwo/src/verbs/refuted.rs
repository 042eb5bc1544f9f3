//! The stories of refuted claims as pictures. **In:** a proof. **Out:** for each claim that fails its
//! timeline and the storyboard of its decisive moments, into the folder of the results. **Never
//! here:** verdicts.

use crate::input::Checked;
use crate::output::Outputs;
use crate::verbs::slug;
use fiftytwo_motion::Machine;
use fiftytwo_proof::{Proof, Verdict};
use fiftytwo_scene::refuted;
use fiftytwo_scheme::Finding;
use fiftytwo_sheet::{Symbols, verify_marks, whole_svg};
use std::path::Path;

/// Draws them; what could not be drawn, or is hard to read, comes back as notes.
pub fn pictures(
    checked: &Checked<'_>,
    proof: &Proof,
    out: Option<&Path>,
    outputs: &mut Outputs,
) -> Vec<Finding> {
    let mut said = Vec::new();
    let fails = proof.counted().filter(|report| report.verdict == Verdict::Fails);
    let stories = fails.filter_map(|report| Some((report, report.story.as_ref()?)));
    let (Some(folder), Ok(machine)) = (out, Machine::new(checked.scheme)) else { return said };
    for (number, (report, story)) in stories.enumerate() {
        let drawn = refuted::draw(&machine, &report.asks, &story.replay, Symbols::default());
        let pictures = match drawn {
            Ok(pictures) => pictures,
            Err(fault) => {
                let message = format!("the story is not drawn: {}", fault.message);
                said.push(Finding::note("story-not-drawn", message).at(report.at, "asked here"));
                continue;
            }
        };
        let stem = format!("{}-refuted-{}-{}", checked.named.stem, number + 1, slug(&report.claim));
        let all = [("timeline", Some(pictures.timeline)), ("storyboard", pictures.board)];
        for (kind, picture) in all {
            let Some(picture) = picture else { continue };
            outputs.add(folder.join(format!("{stem}-{kind}.svg")), whole_svg(&picture));
            said.extend(verify_marks(&picture, checked.scheme).iter().map(|fault| {
                Finding::note("drawing-crowded", format!("{stem}-{kind}: {}", fault.words))
                    .why("the drawing is whole, but hard to read there")
            }));
        }
    }
    said
}
