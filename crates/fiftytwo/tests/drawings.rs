//! What `draw` draws beside plain sheets: moments, storyboards, timelines, volts, coverage, for every
//! example and story. The pictures of the gallery are compared with what is drawn today;
//! `UPDATE_PICTURES=1` draws them anew, and a person looks at them before they are committed.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, contents};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn example(name: &str) -> String {
    root().join("examples").join(name).join("scheme.kdl").to_string_lossy().into_owned()
}

const EXAMPLES: &[&str] = &[
    "dunmarrow",
    "dunmarrow-repaired",
    "harrowfen",
    "harrowfen-direct",
    "latches",
    "quillmere",
    "quillmere-block",
    "quillmere-shared",
];

/// Runs `draw` with these words; returns the files by name. Nothing may be crowded, and a caution
/// stands on every picture.
fn drawn(words: &[&str]) -> Vec<(String, String)> {
    let folder = tempfile::tempdir().unwrap();
    let mut all = vec!["draw"];
    all.extend(words);
    all.extend(["--out", "o", "--json"]);
    let run = Run::of(folder.path(), &all);
    assert!(run.code < 2, "{all:?}: {}", run.err);
    let object = run.object();
    for finding in object["findings"].as_array().unwrap() {
        assert_ne!(finding["id"], "drawing-crowded", "{all:?}: {finding}");
    }
    contents(folder.path())
        .into_iter()
        .filter(|(path, _)| path.extension().is_some_and(|ending| ending == "svg"))
        .map(|(path, bytes)| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let svg = String::from_utf8(bytes).unwrap();
            assert!(svg.contains("Prove every circuit dead"), "{all:?}: no caution on {name}");
            (name, svg)
        })
        .collect()
}

/// The names of an example's stories.
fn stories(name: &str) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["play", &example(name), "--json"]);
    let object = run.object();
    let stories = object["stories"].as_array().unwrap_or_else(|| panic!("{}", run.out));
    stories.iter().map(|it| it["story"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn moments_of_every_story_are_readable() {
    let mut count = 0;
    for name in EXAMPLES {
        for story in stories(name) {
            count += 1;
            let mut words = vec![example(name), "--story".to_owned(), story];
            for at in ["0", "72 ms", "101 ms", "200 ms", "1 s", "5 s"] {
                words.extend(["--at".to_owned(), at.to_owned()]);
            }
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let files = drawn(&words);
            for kind in ["-timeline.svg", "-storyboard.svg", "-72-1.svg"] {
                let has = files.iter().any(|(file, _)| file.ends_with(kind));
                assert!(has, "{words:?}: no {kind}");
            }
        }
    }
    assert!(count >= 8, "stories are gone: {count}");
}

#[test]
fn moments_stay_readable_in_other_styles() {
    for more in [["--symbols", "iec"], ["--legs", "across"], ["--paper", "a3"]] {
        for (name, story) in [
            ("dunmarrow", "A standing close on to a fault"),
            ("latches", "Remember and forget"),
            ("harrowfen", "Close held on to a fault"),
        ] {
            let path = example(name);
            let mut words = vec![path.as_str(), "--story", story, "--at", "72", "--at", "120"];
            words.extend(more);
            drawn(&words);
        }
    }
}

#[test]
fn volts_matrix_and_coverage_are_readable_for_every_coil() {
    for name in EXAMPLES {
        let path = example(name);
        let folder = tempfile::tempdir().unwrap();
        let run = Run::of(folder.path(), &["check", path.as_str(), "--json"]);
        let object = run.object();
        for coil in object["coils"].as_array().unwrap() {
            let ways = coil["ways"].as_array().map_or(0, Vec::len);
            if ways > 0 {
                drawn(&[&path, "--matrix", "--volts", coil["coil"].as_str().unwrap()]);
            }
        }
        let monitors = object["calculations"][0]["monitors"]["coils"].as_array().unwrap();
        for coil in monitors {
            let coil = coil["coil"].as_str().unwrap();
            let files = drawn(&[&path, "--watched", coil]);
            assert!(files.iter().any(|(file, _)| file.contains("-watched")), "{name}, {coil}");
        }
    }
}

#[test]
fn a_coil_without_monitors_is_told_so() {
    let folder = tempfile::tempdir().unwrap();
    let words = ["draw", &example("quillmere"), "--watched", "52Y", "--out", "o", "--json"];
    let run = Run::of(folder.path(), &words);
    assert!(run.ids().iter().any(|id| id == "coil-unwatched"), "{}", run.err);
    let words = ["draw", &example("quillmere"), "--watched", "52 trip 9", "--out", "o", "--json"];
    let run = Run::of(folder.path(), &words);
    assert!(run.ids().iter().any(|id| id == "coil-unknown"), "{}", run.err);
    assert!(run.err.contains("52 trip 1"), "it says which there are");
}

#[test]
fn the_gallery_is_what_the_program_draws() {
    let standing = "A standing close on to a fault";
    let board = ["--story", standing, "--at", "72", "--at", "100", "--at", "130", "--at", "200"];
    let pictures: [(&str, &str, Vec<&str>, &str); 5] = [
        ("dunmarrow", "dunmarrow-live.svg", vec!["--story", standing, "--at", "72"], "-72-1.svg"),
        ("dunmarrow", "dunmarrow-storyboard.svg", board.to_vec(), "-storyboard.svg"),
        ("dunmarrow", "dunmarrow-timeline.svg", vec!["--story", standing], "-timeline.svg"),
        ("quillmere", "quillmere-volts.svg", vec!["--volts", "52 close"], "-volts.svg"),
        ("quillmere", "quillmere-watched.svg", vec!["--watched", "52 trip 1"], "-watched-2.svg"),
    ];
    for (name, picture, words, ending) in pictures {
        let path = example(name);
        let mut all = vec![path.as_str()];
        all.extend(words);
        let files = drawn(&all);
        let (_, svg) = files.iter().find(|(file, _)| file.ends_with(ending)).unwrap();
        let committed = root().join("docs/img").join(picture);
        if std::env::var_os("UPDATE_PICTURES").is_some() {
            std::fs::write(&committed, svg).unwrap();
        }
        let known = std::fs::read_to_string(&committed).unwrap_or_default();
        assert!(
            without_lines(&known) == without_lines(svg),
            "docs/img/{picture} is out of date: UPDATE_PICTURES=1 cargo test -p fiftytwo --test drawings"
        );
    }
}

/// A comment more in the scheme moves all lines of its text, but nothing on the sheet.
fn without_lines(svg: &str) -> String {
    let mut pieces = svg.split("data-line=\"");
    let mut kept = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        kept.push_str(piece.trim_start_matches(|letter: char| letter.is_ascii_digit()));
    }
    kept
}
