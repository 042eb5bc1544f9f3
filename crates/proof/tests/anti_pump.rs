//! Every way to keep a breaker from pumping, right and wrong: each file says what must come out.
//! What is right and how each goes wrong is common practice, no source.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Options, Verdict, prove};
use std::path::{Path, PathBuf};

fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::HoldsInAnyOrder => "holds in any order",
        Verdict::HoldsWithinTolerances => "holds within tolerances",
        Verdict::Fails => "fails",
        Verdict::NotProven => "not proven",
        Verdict::Vacuous => "vacuous",
        Verdict::Waived => "waived",
        Verdict::NotAsked => "not asked",
    }
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/anti_pump");
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn every_form_of_anti_pump_has_the_verdict_it_deserves() {
    let mut wrong = Vec::new();
    for path in files() {
        let text = std::fs::read_to_string(&path).unwrap();
        let reading = fiftytwo_scheme::read_path(&path);
        let scheme = reading.scheme.unwrap_or_else(|| panic!("{path:?}: {:#?}", reading.findings));
        let expected = text.lines().filter_map(|line| line.strip_prefix("// Expected: "));
        let mut asked = 0;
        for line in expected {
            let (claim, verdict) = line.split_once(": ").unwrap();
            let options = Options { margins: false, only: Some(claim), ..Options::default() };
            let proof = prove(&scheme, &options).unwrap();
            for report in proof.counted() {
                asked += 1;
                if words(report.verdict) != verdict {
                    wrong.push(format!(
                        "{path:?}: {} not {verdict}: {report:#?}",
                        words(report.verdict)
                    ));
                }
                if let Some(story) = &report.story {
                    assert!(story.replayed, "{path:?}");
                }
            }
        }
        assert!(asked > 0, "{path:?} asks nothing");
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
