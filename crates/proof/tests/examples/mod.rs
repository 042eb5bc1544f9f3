//! Each example proven once, for every test of this file; and what came out, one line a question.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Margin, Options, Proof, Report, Verdict, prove};
use fiftytwo_scheme::{Scheme, read_path};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock, Mutex, OnceLock};

pub fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name).join("scheme.kdl")
}

pub fn example(name: &str) -> Scheme {
    read_path(&path(name)).scheme.expect("a right example")
}

type Proofs = Mutex<BTreeMap<String, Arc<OnceLock<Proof>>>>;

/// The whole proof of an example with its margins: made when it is first asked for.
pub fn proof_of(name: &str) -> Proof {
    static MADE: LazyLock<Proofs> = LazyLock::new(Mutex::default);
    let slot = Arc::clone(MADE.lock().unwrap().entry(name.to_owned()).or_default());
    // The small ones come to the same verdicts with fewer positions.
    let places = if name.starts_with("quillmere") { Options::default().places } else { 60_000 };
    let options = Options { places, ..Options::default() };
    slot.get_or_init(|| prove(&example(name), &options).expect("a machine")).clone()
}

fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::HoldsInAnyOrder => "holds in any order",
        Verdict::HoldsWithinTolerances => "holds within tolerances",
        Verdict::Fails => "FAILS",
        Verdict::NotProven => "not proven",
        Verdict::Vacuous => "VACUOUS",
        Verdict::Waived => "waived",
        Verdict::NotAsked => "not asked",
    }
}

fn edge(margin: &Margin) -> String {
    let Margin { device, the_move, declared_ms, holds_to_ms, fails_from_ms } = margin;
    let fails = fails_from_ms.map_or("no edge".to_owned(), |fails| format!("fails from {fails}"));
    let room = (holds_to_ms - declared_ms).abs();
    format!(
        "{device} {the_move}: declared {declared_ms}, holds to {holds_to_ms}, {fails}, room {room} ms"
    )
}

/// The claim, its subject, the verdict, the race, the story.
fn line(report: &Report) -> String {
    let mut line = format!(
        "{} | {} | {} | {}",
        report.claim,
        report.about,
        report.asks,
        words(report.verdict)
    );
    for margin in &report.margins {
        line.push_str(" | ");
        line.push_str(&edge(margin));
    }
    if let Some(story) = &report.story {
        let replayed = if story.replayed { "replayed" } else { "NOT replayed" };
        line.push_str(&format!(" | a story of {} events, {replayed}", story.events.len()));
    }
    line
}

/// Everything that came out of an example.
pub fn told(proof: &Proof) -> String {
    let counted = proof.reports.iter().map(line);
    let mut text = counted.collect::<Vec<_>>().join("\n");
    text.push('\n');
    text
}

fn file_of(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/examples").join(name).with_extension("txt")
}

/// Compares the lines of one claim alone, where the whole takes minutes.
pub fn is_as_read_about(name: &str, claim: &str) {
    let options = Options { only: Some(claim), ..Options::default() };
    let found = told(&prove(&example(name), &options).expect("a machine"));
    let wanted = std::fs::read_to_string(file_of(name)).unwrap().replace("\r\n", "\n");
    let of_claim = |line: &&str| line.split(" | ").next() == Some(claim);
    let wanted: Vec<&str> = wanted.lines().filter(of_claim).collect();
    assert!(!wanted.is_empty(), "{name} says nothing about {claim}");
    assert_eq!(found.lines().collect::<Vec<_>>(), wanted, "{name}: {claim}");
}

/// Compares with what a person has read. `FIFTYTWO_VERDICTS=write` writes it anew: read every line
/// that changes before you commit it.
pub fn is_as_read(name: &str) {
    let read = file_of(name);
    let found = told(&proof_of(name));
    if std::env::var_os("FIFTYTWO_VERDICTS").is_some_and(|word| word == "write") {
        std::fs::write(&read, &found).unwrap();
    }
    let wanted = std::fs::read_to_string(&read).unwrap_or_default().replace("\r\n", "\n");
    let not_in = |one: &str, other: &str| -> Vec<String> {
        one.lines().filter(|line| !other.lines().any(|it| it == *line)).map(str::to_owned).collect()
    };
    let (gone, new) = (not_in(&wanted, &found), not_in(&found, &wanted));
    assert!(
        wanted == found,
        "{name} comes to other verdicts.\nNo longer:\n{}\nInstead:\n{}",
        gone.join("\n"),
        new.join("\n")
    );
}
