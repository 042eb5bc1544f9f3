//! The house is tidy: what every file of the repository owes its reader.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::fs;
use std::path::{Path, PathBuf};

/// Split a room by thing before it grows so large.
const LARGEST_SOURCE: u64 = 60_000;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// All files of the repository with one of these endings.
fn files(endings: &[&str]) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![root()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() {
                if !["target", "out", ".git", "node_modules"].contains(&name.as_str()) {
                    open.push(path);
                }
            } else if endings.iter().any(|ending| name.ends_with(ending)) {
                found.push(path);
            }
        }
    }
    found.sort();
    assert!(!found.is_empty(), "no files ending in {endings:?}: the walk is broken");
    found
}

#[test]
fn every_room_says_what_it_is() {
    for path in files(&[".rs"]) {
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("//!"), "{} begins without a word about itself", path.display());
        let size = text.len() as u64;
        assert!(size <= LARGEST_SOURCE, "{} has grown to {size} bytes: split it", path.display());
    }
    for path in files(&[".ts"]) {
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("/**"), "{} begins without a word about itself", path.display());
    }
}

#[test]
fn no_page_leads_outside() {
    for path in files(&[".md", ".kdl"]) {
        let text = fs::read_to_string(&path).unwrap_or_default();
        assert!(!text.contains("://"), "{} has an address in it", path.display());
    }
}

#[test]
fn no_file_knows_the_machine_it_was_written_on() {
    let here = Path::new(file!());
    for path in files(&[".rs", ".md", ".kdl", ".toml", ".svg", ".json", ".snap"]) {
        if path.ends_with(here) {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap_or_default();
        for machine in ["/root/", "/home/"] {
            assert!(!text.contains(machine), "{} mentions {machine}", path.display());
        }
    }
}

#[test]
fn the_readme_gives_the_two_commands_and_the_cautions() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    for words in ["cargo run --release", "cargo xtask test", "## Cautions", "licensed engineer"] {
        assert!(readme.contains(words), "README.md misses {words:?}");
    }
    for link in links(&readme) {
        assert!(root().join(&link).exists(), "README.md points at {link}, which is not there");
    }
}

/// The targets of `](…)`.
fn links(markdown: &str) -> Vec<String> {
    let parts = markdown.split("](").skip(1);
    parts.filter_map(|part| part.split(')').next()).map(str::to_owned).collect()
}
