//! What the examples come to, as a user sees it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example, fiftytwo};
use serde_json::Value;
use std::sync::OnceLock;

fn prove(name: &str, more: &[&str]) -> Run {
    let mut command = fiftytwo();
    Run::from(command.arg("prove").arg(example(name)).arg("--json").args(more).output().unwrap())
}

fn claim(object: &Value, id: &str) -> Value {
    let claims = object["claims"].as_array().unwrap();
    claims.iter().find(|claim| claim["id"] == id).unwrap().clone()
}

/// The proof of dunmarrow on two threads, made once.
fn dunmarrow() -> &'static Run {
    static MADE: OnceLock<Run> = OnceLock::new();
    MADE.get_or_init(|| dunmarrow_on("2"))
}

fn dunmarrow_on(threads: &str) -> Run {
    let mut command = fiftytwo();
    command.env("RAYON_NUM_THREADS", threads);
    command.arg("prove").arg(example("dunmarrow")).args(["--json"]);
    Run::from(command.output().unwrap())
}

#[test]
fn a_25_that_lets_go_under_a_standing_close_makes_dunmarrow_pump() {
    let run = dunmarrow();
    assert_eq!(run.code, 1);
    let pumping = claim(&run.object(), "no-pumping");
    assert_eq!(pumping["verdict"], "fails");
    assert_eq!(pumping["replayed"], true);
    let story = pumping["story"].as_array().unwrap();
    assert!((4..=12).contains(&story.len()), "{} events", story.len());
    let told: Vec<&str> = story.iter().map(|it| it["what"].as_str().unwrap()).collect();
    assert!(told.iter().any(|it| it.contains("25")), "{told:?}");
    let closings = told.iter().filter(|it| it.contains("a closing begins")).count();
    assert_eq!(closings, 2, "{told:?}");
    assert!(run.ids().contains(&"pumps".to_owned()));
}

#[test]
fn dunmarrow_repaired_holds_with_its_race_named() {
    let run = prove("dunmarrow-repaired", &[]);
    assert_eq!(run.code, 0);
    let pumping = claim(&run.object(), "no-pumping");
    assert_eq!(pumping["verdict"], "holds-within-tolerances");
    let edges = pumping["edges"].as_array().unwrap();
    let edge = edges.iter().find(|edge| edge["device"] == "52Y").unwrap();
    let number = |key: &str| edge[key].as_f64().unwrap();
    assert!(number("declared_ms") <= number("holds_to_ms"));
    assert!(number("holds_to_ms") < number("fails_from_ms"));
}

#[test]
fn a_limit_is_never_a_pass() {
    let run = prove("quillmere", &["--positions", "40"]);
    assert_eq!(run.code, 3);
    let claims = run.object()["claims"].as_array().unwrap().clone();
    let open = claims.iter().filter(|claim| claim["verdict"] == "not-proven").count();
    assert!(open > 0);
    assert!(run.err.contains("not proven"));
}

#[test]
fn the_number_of_threads_does_not_show() {
    assert_eq!(dunmarrow_on("1").out, dunmarrow().out);
}

#[test]
fn a_story_that_comes_out_otherwise_is_a_finding() {
    let mut command = fiftytwo();
    let run =
        Run::from(command.arg("play").arg(example("dunmarrow")).arg("--json").output().unwrap());
    assert_eq!(run.code, 1);
    assert_eq!(run.object()["stories"][0]["holds"], false);
    assert!(run.ids().contains(&"story-otherwise".to_owned()));
    let mut command = fiftytwo();
    let run = Run::from(command.arg("play").arg(example("dunmarrow-repaired")).output().unwrap());
    assert_eq!(run.code, 0, "{}", run.out);
}

#[test]
fn a_story_nobody_told_gets_a_suggestion() {
    let mut command = fiftytwo();
    command
        .arg("play")
        .arg(example("dunmarrow"))
        .args(["--story", "A standing clse on to a fault"]);
    let run = Run::from(command.output().unwrap());
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("did you mean \"A standing close on to a fault\"?"), "{}", run.err);
}

#[test]
fn the_parts_of_a_fleet_cover_it() {
    let names = ["latches", "harrowfen", "dunmarrow"];
    let mut seen = Vec::new();
    for part in ["1/2", "2/2"] {
        let mut command = fiftytwo();
        command.arg("check").args(names.map(example)).args(["--json", "--part", part]);
        let object = Run::from(command.output().unwrap()).object();
        let files = object["files"].as_array().unwrap().clone();
        seen.extend(files.iter().map(|file| file["title"].as_str().unwrap().to_owned()));
    }
    seen.sort();
    assert_eq!(seen.len(), 3, "{seen:?}");
    seen.dedup();
    assert_eq!(seen.len(), 3, "{seen:?}");
}
