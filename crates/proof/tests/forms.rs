//! Schemes with their verdicts, and siblings that differ in one line.
//!
//! Each file says in comments what must come out of it; then, for each sibling, the piece of one
//! line that it has instead, and what must come out of that. `forms` are the usual circuits, right
//! and wrong (common practice, no source); `notices` are cases that regulators have published, each
//! with its source.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Options, Report, Verdict, prove};
use fiftytwo_scheme::read_text;
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

/// What must come out: `claim: verdict`, or `claim / a piece of the question: verdict`.
struct Expected {
    claim: String,
    asks: String,
    verdict: String,
    /// Asked across the loss and return of a supply.
    across: bool,
}

impl Expected {
    fn read(line: &str) -> Option<Self> {
        let (line, across) = match line.strip_prefix("// Expected across: ") {
            Some(rest) => (rest, true),
            None => (line.strip_prefix("// Expected: ")?, false),
        };
        let (what, verdict) = line.rsplit_once(": ")?;
        let (claim, asks) = what.split_once(" / ").unwrap_or((what, ""));
        let own = str::to_owned;
        Some(Self { claim: own(claim), asks: own(asks), verdict: own(verdict), across })
    }
    fn speaks_of(&self, report: &Report) -> bool {
        report.claim == self.claim
            && report.asks.contains(&self.asks)
            && report.across.is_some() == self.across
    }
}

/// A scheme with what must come out of it.
struct Form {
    name: String,
    text: String,
    expected: Vec<Expected>,
}

/// The scheme of a file and its siblings.
fn forms(path: &Path) -> Vec<Form> {
    let whole = std::fs::read_to_string(path).unwrap();
    let lines = || whole.lines().filter(|line| line.starts_with("// "));
    let text: String = whole
        .lines()
        .filter(|line| !line.starts_with("// "))
        .map(|line| format!("{line}\n"))
        .collect();
    let file = path.file_name().unwrap().to_string_lossy().into_owned();
    let mut forms = vec![Form { name: file.clone(), text: text.clone(), expected: Vec::new() }];
    let mut instead = "";
    for line in lines() {
        if let Some(sibling) = line.strip_prefix("// Sibling: ") {
            let name = format!("{file}: {sibling}");
            forms.push(Form { name, text: text.clone(), expected: Vec::new() });
        } else if let Some(piece) = line.strip_prefix("// Instead of: ") {
            assert_eq!(text.matches(piece).count(), 1, "{file}: {piece}");
            instead = piece;
        } else if let Some(piece) = line.strip_prefix("// Written: ") {
            let last = forms.last_mut().unwrap();
            assert!(last.text == text && instead != piece, "{file}: a sibling differs in one line");
            last.text = text.replacen(instead, piece, 1);
        } else if let Some(expected) = Expected::read(line) {
            forms.last_mut().unwrap().expected.push(expected);
        }
    }
    forms
}

/// What is not as it should be.
fn wrong(form: &Form) -> Vec<String> {
    let Form { name, text, expected } = form;
    let reading = read_text("form.kdl", text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{name}: {:#?}", reading.findings));
    assert!(!expected.is_empty(), "{name} asks nothing");
    let mut wrong = Vec::new();
    let mut claims: Vec<&str> = expected.iter().map(|expected| expected.claim.as_str()).collect();
    claims.dedup();
    for claim in claims {
        let options = Options { margins: false, only: Some(claim), ..Options::default() };
        let proof = prove(&scheme, &options).unwrap();
        for expected in expected.iter().filter(|expected| expected.claim == claim) {
            // What is not asked at all says nothing about the circuit.
            let said = |report: &&Report| {
                expected.speaks_of(report)
                    && (report.verdict != Verdict::NotAsked || expected.verdict == "not asked")
            };
            let asked: Vec<&Report> = proof.reports.iter().filter(said).collect();
            // Of several questions of one claim it is enough that one fails.
            let verdicts: Vec<&str> = asked.iter().map(|report| words(report.verdict)).collect();
            let as_said = |verdict: &&str| **verdict == expected.verdict;
            let right = match expected.verdict.as_str() {
                "fails" => verdicts.iter().any(as_said),
                _ => !verdicts.is_empty() && verdicts.iter().all(as_said),
            };
            if !right {
                let Expected { asks, verdict, .. } = expected;
                wrong.push(format!("{name}: {claim} {asks}: {verdicts:?}, not {verdict}"));
            }
            for report in asked.iter().filter(|report| report.verdict == Verdict::Fails) {
                let story = report.story.as_ref();
                if !story.is_some_and(|story| story.replayed) {
                    wrong.push(format!("{name}: {claim}: no story that was replayed"));
                }
            }
        }
    }
    wrong
}

fn folder(name: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(name);
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty());
    files
}

fn every_form_of(name: &str) {
    let wrong: Vec<String> =
        folder(name).iter().flat_map(|path| forms(path)).flat_map(|form| wrong(&form)).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn usual_circuits_and_their_mistakes_have_the_verdicts_they_deserve() {
    every_form_of("forms");
}

#[test]
fn published_cases_of_regulators_are_refuted_and_their_cures_hold() {
    every_form_of("notices");
}

#[test]
fn each_pair_has_one_side_that_holds_and_one_that_fails() {
    for path in folder("forms").iter().chain(&folder("notices")) {
        let forms = forms(path);
        let verdicts: Vec<&str> =
            forms.iter().flat_map(|form| &form.expected).map(|it| it.verdict.as_str()).collect();
        assert!(forms.len() > 1, "{path:?}");
        assert!(verdicts.contains(&"fails"), "{path:?}");
        assert!(verdicts.iter().any(|verdict| verdict.starts_with("holds")), "{path:?}");
    }
}

#[test]
fn every_published_case_names_its_source() {
    for path in folder("notices") {
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.lines().next().unwrap().starts_with("// Source: "), "{path:?}");
    }
}
