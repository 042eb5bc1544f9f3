//! Schemes with a fault that must not pass: each file says which verdict must come out of which question.
//!
//! `// expect: claim / a piece of the question: verdict` asks every such question; the verdict may also be
//! "not holds" or say how it holds ("holds in any order"), and "across" instead of "expect" speaks of questions across the loss of a supply. The
//! verdicts follow from the wiring and the declared times as the comments of each scheme say.
#![allow(clippy::unwrap_used, reason = "tests")]

use fiftytwo_proof::{Options, Report, Verdict, prove};
use fiftytwo_scheme::read_text;
use std::path::Path;

fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::HoldsInAnyOrder | Verdict::HoldsWithinTolerances => "holds",
        Verdict::Fails => "fails",
        Verdict::NotProven => "not proven",
        Verdict::Vacuous => "vacuous",
        Verdict::Waived => "waived",
        Verdict::NotAsked => "not asked",
    }
}

fn judge(path: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(path).unwrap();
    let file = path.file_name().unwrap().to_string_lossy().into_owned();
    let reading = read_text(&file, &text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{file}: {:#?}", reading.findings));
    let options = Options { margins: false, ..Options::default() };
    let proof = prove(&scheme, &options).unwrap();
    let mut wrong = Vec::new();
    let mut expected = 0;
    for line in text.lines() {
        let (line, across) = match line.strip_prefix("// across: ") {
            Some(rest) => (rest, true),
            None => match line.strip_prefix("// expect: ") {
                Some(rest) => (rest, false),
                None => continue,
            },
        };
        expected += 1;
        let (what, verdict) = line.rsplit_once(": ").unwrap();
        let (claim, asks) = what.split_once(" / ").unwrap_or((what, ""));
        let speaks = |report: &&Report| {
            report.claim == claim && report.asks.contains(asks) && report.across.is_some() == across
        };
        let asked: Vec<&Report> = proof.reports.iter().filter(speaks).collect();
        if asked.is_empty() {
            wrong.push(format!("{file}: nothing asks {what}"));
        }
        for report in asked {
            let is = words(report.verdict);
            let so = is == verdict || report.verdict.words() == verdict;
            if !(so || (verdict == "not holds" && is != "holds")) {
                wrong.push(format!(
                    "{file}: {} / {}: {verdict} expected, {is} found ({:?})",
                    report.claim, report.asks, report.because
                ));
            }
        }
    }
    assert!(expected > 0, "{file} expects nothing");
    wrong
}

#[test]
fn what_is_wrong_does_not_pass() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/refuted");
    let mut files: Vec<_> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() > 20);
    let wrong: Vec<String> = files.iter().flat_map(|path| judge(path)).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
