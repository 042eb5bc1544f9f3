//! The house keeps its arrows: each crate knows only those it may know.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// Who may know whom, in `[dependencies]` and `[build-dependencies]`. As drawn in CONTRIBUTING.md.
const ALLOWED: &[(&str, &[&str])] = &[
    ("fiftytwo-scheme", &[]),
    ("fiftytwo-circuit", &["fiftytwo-scheme"]),
    ("fiftytwo-motion", &["fiftytwo-scheme", "fiftytwo-circuit"]),
    ("fiftytwo-proof", &["fiftytwo-scheme", "fiftytwo-circuit", "fiftytwo-motion"]),
    ("fiftytwo-calculations", &["fiftytwo-scheme", "fiftytwo-circuit", "fiftytwo-motion"]),
    ("fiftytwo-sheet", &["fiftytwo-scheme"]),
    (
        "fiftytwo-scene",
        &["fiftytwo-scheme", "fiftytwo-circuit", "fiftytwo-motion", "fiftytwo-sheet"],
    ),
    (
        "fiftytwo-page",
        &[
            "fiftytwo-scheme",
            "fiftytwo-circuit",
            "fiftytwo-motion",
            "fiftytwo-proof",
            "fiftytwo-calculations",
            "fiftytwo-sheet",
            "fiftytwo-scene",
        ],
    ),
    (
        "fiftytwo",
        &[
            "fiftytwo-scheme",
            "fiftytwo-circuit",
            "fiftytwo-motion",
            "fiftytwo-proof",
            "fiftytwo-calculations",
            "fiftytwo-sheet",
            "fiftytwo-scene",
            "fiftytwo-page",
        ],
    ),
];

/// Members that nothing of the product may need.
const OUTSIDE: &[&str] = &["fiftytwo-benches", "xtask"];

#[test]
fn each_crate_knows_only_those_it_may_know() {
    let arrows = arrows_of_the_workspace();
    let allowed: BTreeMap<&str, BTreeSet<&str>> =
        ALLOWED.iter().map(|(name, knows)| (*name, knows.iter().copied().collect())).collect();
    for (name, knows) in &arrows {
        if OUTSIDE.contains(&name.as_str()) {
            continue;
        }
        let may = allowed.get(name.as_str()).unwrap_or_else(|| {
            panic!("{name} is new: draw its arrows here and in CONTRIBUTING.md")
        });
        for other in knows {
            assert!(may.contains(other.as_str()), "{name} must not know {other}");
        }
    }
    for name in allowed.keys() {
        assert!(arrows.contains_key(*name), "{name} is drawn but does not exist");
    }
}

#[test]
fn the_house_is_drawn_with_every_crate_in_it() {
    let house = std::fs::read_to_string(workspace_root().join("CONTRIBUTING.md")).unwrap();
    for (name, _) in ALLOWED {
        let folder = name.strip_prefix("fiftytwo-").unwrap_or(name);
        assert!(
            house.contains(&format!("crates/{folder}")),
            "CONTRIBUTING.md misses crates/{folder}"
        );
    }
}

fn workspace_root() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn arrows_of_the_workspace() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .current_dir(workspace_root())
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let names: BTreeSet<&str> = packages.iter().map(|one| one["name"].as_str().unwrap()).collect();
    packages
        .iter()
        .map(|package| {
            let knows = package["dependencies"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|dependency| dependency["kind"].as_str() != Some("dev"))
                .map(|dependency| dependency["name"].as_str().unwrap())
                .filter(|name| names.contains(name))
                .map(str::to_owned)
                .collect();
            (package["name"].as_str().unwrap().to_owned(), knows)
        })
        .collect()
}
