//! The object of `--json` is the one that `docs/json.md` describes: every key there occurs, and
//! every key that occurs stands there.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The documented key paths under each heading.
fn documented() -> BTreeMap<String, BTreeSet<String>> {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/json.md");
    let mut sections: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut heading = String::new();
    for line in fs::read_to_string(page).unwrap().lines() {
        if let Some(title) = line.strip_prefix("## ") {
            title.clone_into(&mut heading);
        }
        if let Some(key) = line.strip_prefix("| `").and_then(|it| it.split('`').next()) {
            assert!(
                sections.entry(heading.clone()).or_default().insert(key.to_owned()),
                "{key} twice"
            );
        }
    }
    sections
}

/// Every key path in an object.
fn paths(value: &Value, here: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let path = if here.is_empty() { key.clone() } else { format!("{here}.{key}") };
                found.insert(path.clone());
                paths(inner, &path, found);
            }
        }
        Value::Array(items) => {
            for item in items {
                paths(item, &format!("{here}[]"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn every_key_is_documented_and_every_documented_key_occurs() {
    let documented = documented();
    let always = &documented["Every object"];
    let mut seen: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (heading, run) in runs() {
        let object = run.object();
        let mut found = BTreeSet::new();
        paths(&object, "", &mut found);
        for key in &found {
            // Each step of a story is an event as in `play`.
            let key = match key.strip_prefix("claims[].story[].steps[]") {
                Some(event) => &format!("stories[].events[]{event}"),
                None => key,
            };
            let heading = if key.starts_with("stories") { "play" } else { heading };
            let known = always.contains(key)
                || documented.get(heading).is_some_and(|section| section.contains(key));
            assert!(known, "{heading}: {key} is not documented");
        }
        for key in ["format", "verb", "exit", "files", "findings", "written", "cautions"] {
            assert!(found.contains(key), "{heading}: {key} is missing");
        }
        assert_eq!(object["format"], 1);
        assert_eq!(object["exit"], run.code);
        seen.entry(heading.to_owned()).or_default().extend(found.iter().cloned());
        seen.entry("Every object".to_owned()).or_default().extend(found);
    }
    for (heading, keys) in &documented {
        for key in keys {
            let occurs = seen.get(heading).is_some_and(|found| found.contains(key));
            assert!(occurs, "{heading}: {key} is documented but never occurs");
        }
    }
}

/// Runs that together show every key.
fn runs() -> Vec<(&'static str, Run)> {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    fs::write(here.join("twice.kdl"), "scheme \"T\"\nplace \"A\"\nplace \"A\"\n").unwrap();
    fs::write(here.join("loose.kdl"), "scheme   \"T\"\n").unwrap();
    let run = |words: &[&str]| Run::of(here, words);
    let on = |verb: &str, name: &str| {
        let path = example(name);
        Run::of(here, &[verb.as_ref(), path.as_os_str(), "--json".as_ref()])
    };
    vec![
        ("check", run(&["check", "twice.kdl", "--json"])),
        ("check", on("check", "quillmere")),
        ("draw", on("draw", "dunmarrow")),
        ("prove", on("prove", "dunmarrow")),
        ("prove", on("prove", "dunmarrow-repaired")),
        ("play", on("play", "dunmarrow")),
        ("format", run(&["format", "--check", "loose.kdl", "--json"])),
        ("usage", run(&["chek", "--json"])),
    ]
}
