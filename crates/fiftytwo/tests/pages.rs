//! The pages on claims: each claim that `prove` prints has one, and what they show is what comes out.
//!
//! `FIFTYTWO_PAGES=write` puts what comes out into the pages instead: read the change before you keep it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, fiftytwo};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Which claims a page tells that is not about one claim.
const OWN: &str = "own claims";
const PARTS: [&str; 6] = [
    "## What it says",
    "## What it assumes",
    "## What it does not cover",
    "## Why it matters",
    "## An example that holds",
    "## An example that is refuted",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn files(folder: &str, extension: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(root().join(folder)).unwrap();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|its| its == extension));
    files.sort();
    files
}

fn pages() -> Vec<PathBuf> {
    let mut pages = files("docs/claims", "md");
    pages.retain(|path| path.file_stem().is_some_and(|name| name != "README"));
    pages
}

fn title(page: &str) -> &str {
    page.lines().next().unwrap().strip_prefix("# ").unwrap()
}

fn file_name(claim: &str) -> String {
    format!("{}.md", claim.replace('\'', "").replace(' ', "-"))
}

/// The names of the built-in claims, as the program has them.
fn names() -> BTreeSet<String> {
    let source = root().join("crates/proof/src/questions.rs");
    let source = std::fs::read_to_string(source).unwrap();
    let (_, names) = source.split_once("pub mod names {").unwrap();
    let (names, _) = names.split_once("\n}").unwrap();
    let name = |line: &str| Some(line.split_once("&str = \"")?.1.strip_suffix("\";")?.to_owned());
    names.lines().filter_map(name).collect()
}

#[test]
fn every_claim_has_its_page_and_every_page_its_claim() {
    let told: BTreeSet<String> = pages()
        .iter()
        .map(|path| title(&std::fs::read_to_string(path).unwrap()).to_owned())
        .collect();
    let mut asked = names();
    assert!(asked.len() >= 8, "{asked:?}");
    asked.insert(OWN.to_owned());
    assert_eq!(told, asked);
    let readme = std::fs::read_to_string(root().join("docs/claims/README.md")).unwrap();
    for claim in &told {
        let link = format!("[{claim}]({})", file_name(claim));
        assert!(readme.contains(&link), "docs/claims/README.md: {link}");
    }
}

#[test]
fn every_page_has_all_its_parts() {
    for path in pages() {
        let page = std::fs::read_to_string(&path).unwrap();
        assert_eq!(path.file_name().unwrap().to_str().unwrap(), file_name(title(&page)));
        let parts: Vec<&str> = page.lines().filter(|line| line.starts_with("## ")).collect();
        assert_eq!(parts, PARTS, "{path:?}");
    }
}

#[test]
fn the_help_of_prove_names_the_pages() {
    let run = Run::of(&root(), &["prove", "--help"]);
    assert!(run.out.contains("docs/claims"), "{}", run.out);
}

fn scheme(name: &str) -> String {
    let path = root().join("docs/claims/schemes").join(name);
    std::fs::read_to_string(&path).unwrap_or_default()
}

#[test]
fn the_line_that_a_page_changes_is_the_line_that_differs() {
    for path in pages() {
        let page = std::fs::read_to_string(&path).unwrap();
        let Some((_, rest)) = page.split_once("```diff\n") else { continue };
        let (changed, _) = rest.split_once("```").unwrap();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let (own, wrong) = (scheme(&format!("{name}-right.kdl")), scheme(&format!("{name}.kdl")));
        let right = if own.is_empty() { scheme("right.kdl") } else { own };
        let has = |text: &str, line: &str| text.lines().any(|its| its == line);
        for line in changed.lines() {
            let (side, line) = line.split_at(1);
            let (here, there) = if side == "-" { (&right, &wrong) } else { (&wrong, &right) };
            assert!(has(here, line) && !has(there, line), "{name}: {line}");
        }
    }
}

/// `X.kdl` is `X-right.kdl`, or else `right.kdl`, with one line changed.
#[test]
fn each_wrong_scheme_differs_from_the_right_one_in_one_line() {
    for path in files("docs/claims/schemes", "kdl") {
        let name = path.file_stem().unwrap().to_str().unwrap();
        if name.ends_with("right") {
            continue;
        }
        let own = path.with_file_name(format!("{name}-right.kdl"));
        let right = if own.exists() { own } else { path.with_file_name("right.kdl") };
        let lines = |path: &Path| -> Vec<String> {
            let text = std::fs::read_to_string(path).unwrap();
            text.lines().filter(|line| !line.starts_with("//")).map(str::to_owned).collect()
        };
        let (mut right, mut wrong) = (lines(&right), lines(&path));
        while !right.is_empty() && right.first() == wrong.first() {
            right.remove(0);
            wrong.remove(0);
        }
        while !right.is_empty() && right.last() == wrong.last() {
            right.pop();
            wrong.pop();
        }
        assert!(
            right.len() <= 1 && wrong.len() <= 1 && right != wrong,
            "{name}: {right:?} {wrong:?}"
        );
    }
}

/// A heading of the report of `prove` stands two columns in, one of `check` at the margin.
fn is_heading(command: &str, line: &str) -> bool {
    let columns = line.len() - line.trim_start().len();
    !line.trim().is_empty() && columns == if command.starts_with("fiftytwo prove") { 2 } else { 0 }
}

/// The lines of a report under these headings, its title above them.
fn excerpt(command: &str, out: &str, headings: &[&str]) -> String {
    let mut text = format!("{}\n", out.lines().next().unwrap_or_default());
    for heading in headings {
        let lines = out.lines().skip_while(|line| line != heading);
        let section: Vec<&str> = lines
            .enumerate()
            .take_while(|(at, line)| *at == 0 || !is_heading(command, line))
            .map(|(_, line)| line)
            .collect();
        write!(text, "{}\n\n", section.join("\n").trim_end()).unwrap();
    }
    text.trim_end().to_owned() + "\n"
}

/// The page with what its commands print now: the lines under the headings that it shows.
fn shown(page: &str, outputs: &BTreeMap<&str, String>) -> String {
    let mut text = String::new();
    let mut rest = page;
    while let Some((before, from)) = rest.split_once("```text\n$ ") {
        let (command, from) = from.split_once('\n').unwrap();
        let (block, after) = from.split_once("```").unwrap();
        let headings: Vec<&str> =
            block.lines().skip(1).filter(|line| is_heading(command, line)).collect();
        let now = excerpt(command, &outputs[command], &headings);
        write!(text, "{before}```text\n$ {command}\n{now}```").unwrap();
        rest = after;
    }
    text + rest
}

#[test]
fn the_commands_of_the_pages_print_what_the_pages_show() {
    let pages: Vec<(PathBuf, String)> = pages()
        .into_iter()
        .map(|path| (path.clone(), std::fs::read_to_string(path).unwrap()))
        .collect();
    let commands: BTreeSet<&str> = pages
        .iter()
        .flat_map(|(_, page)| page.lines().filter_map(|line| line.strip_prefix("$ ")))
        .collect();
    let outputs: BTreeMap<&str, String> = commands
        .iter()
        .map(|command| {
            let words: Vec<&str> = command.split_whitespace().collect();
            assert_eq!(words[0], "fiftytwo");
            let out = fiftytwo().current_dir(root()).args(&words[1..]).output().unwrap();
            (*command, Run::from(out).out)
        })
        .collect();
    let write = std::env::var("FIFTYTWO_PAGES").is_ok_and(|value| value == "write");
    for (path, page) in &pages {
        let now = shown(page, &outputs);
        if write {
            std::fs::write(path, &now).unwrap();
            continue;
        }
        assert_eq!(page, &now, "{path:?}: FIFTYTWO_PAGES=write puts in what comes out now");
        // A page that shows a claim broken shows its story, and that it was replayed.
        let (holds, refuted) = page.split_once("## An example that is refuted").unwrap();
        assert!(holds.contains("\n    holds "), "{path:?}");
        assert!(!holds.contains("\n    fails "), "{path:?}");
        assert!(refuted.contains("\n    fails "), "{path:?}");
        let shown = ["(replayed at these times)", "calculated: "];
        assert!(shown.iter().any(|words| refuted.contains(words)), "{path:?}");
    }
}
