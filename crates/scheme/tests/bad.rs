//! Schemes with errors: every file of `tests/bad` says itself what must be found in it.
//!
//! A line `//! 7:12 contact-unknown "part of the message"` expects an error there;
//! `//! beside/x.kdl:3:5 …` one in a file that is used; `//! ~ 7:12 …` a finding that is no error.
//! Every error must be expected and every expected one found. A file without expectations and a
//! file in `beside` that nothing reads are failures. What is too big to keep is made here.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test fails by panicking"
)]

use fiftytwo_scheme::{Finding, Reading, Severity, read_path, read_text};
use libtest_mimic::{Arguments, Failed, Trial};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad")
}

/// Something a file expects to be found in it.
#[derive(Debug, Clone, PartialEq)]
struct Expected {
    error: bool,
    place: String,
    id: String,
    part: String,
}

fn expected(line: &str) -> Option<Result<Expected, String>> {
    let rest = line.strip_prefix("//! ")?;
    let (error, rest) = rest.strip_prefix("~ ").map_or((true, rest), |rest| (false, rest));
    let read = || {
        let (place, rest) = rest.split_once(' ')?;
        let (id, part) = rest.split_once(' ')?;
        let part = part.trim().strip_prefix('"')?.strip_suffix('"')?;
        if part.is_empty() {
            return None;
        }
        Some(Expected { error, place: place.into(), id: id.into(), part: part.into() })
    };
    Some(read().ok_or_else(|| format!("not understood: {line}")))
}

/// "7:12", or "beside/x.kdl:7:12" for another file than the first.
fn place(reading: &Reading, finding: &Finding, main: &Path) -> String {
    let Some(at) = finding.at else { return "-".into() };
    let position = reading.sources.position(at);
    let here = format!("{}:{}", position.line, position.column);
    let file = Path::new(reading.sources.file_name(at));
    if file == main {
        return here;
    }
    let beside = file.strip_prefix(main.parent().unwrap()).unwrap_or(file);
    format!("{}:{here}", beside.display())
}

fn check(path: &Path) -> Result<(), Failed> {
    let folder = path.parent().unwrap();
    let mut wanted = Vec::new();
    let own = [path.to_owned(), folder.join("stories.kdl")];
    for text in own.iter().filter_map(|file| std::fs::read_to_string(file).ok()) {
        for line in text.lines().filter_map(expected) {
            wanted.push(line?);
        }
    }
    if wanted.is_empty() {
        return Err("this file expects nothing: add lines such as //! 7:12 id \"message\"".into());
    }
    let reading = read_path(path);
    let has_errors = wanted.iter().any(|one| one.error);
    if reading.scheme.is_some() == has_errors {
        return Err("a scheme with errors must not be usable, one without must".into());
    }
    let mut lacking = String::new();
    let mut found: Vec<&Finding> = reading
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error || !has_errors)
        .filter(|finding| {
            finding.severity != Severity::Note || wanted.iter().any(|one| one.id == finding.id)
        })
        .collect();
    for one in &wanted {
        let index = found.iter().position(|finding| {
            (finding.severity == Severity::Error) == one.error
                && finding.id == one.id
                && place(&reading, finding, path) == one.place
                && finding.message.contains(&one.part)
        });
        match index {
            Some(index) => {
                found.remove(index);
            }
            None => lacking.push_str(&format!("not found: {one:?}\n")),
        }
    }
    for finding in found {
        let at = place(&reading, finding, path);
        lacking.push_str(&format!("not expected: {at} {} {:?}\n", finding.id, finding.message));
    }
    for finding in &reading.findings {
        lacking.push_str(&well_told(finding));
    }
    if lacking.is_empty() { Ok(()) } else { Err(lacking.into()) }
}

/// What every finding owes its reader.
fn well_told(finding: &Finding) -> String {
    let mut lacking = String::new();
    let mut need = |good: bool, what: &str| {
        if !good {
            lacking.push_str(&format!("{what}: {} {:?}\n", finding.id, finding.message));
        }
    };
    let message = &finding.message;
    need(message.starts_with(|sign: char| !sign.is_lowercase()), "a message begins a sentence");
    need(message.ends_with('.'), "a message ends with a full stop");
    need(finding.at.is_none() || !finding.label.is_empty(), "a place says what is there");
    for debug in ["Span", "Id(", "Some(", "None", "Form::", "::", "\\\""] {
        need(!message.contains(debug), "the designer's words, not the program's");
    }
    lacking
}

/// Every file in `beside` is read by some case.
fn nothing_unread(cases: &[PathBuf]) -> Result<(), Failed> {
    let mut read: BTreeSet<PathBuf> = BTreeSet::new();
    for case in cases {
        let reading = read_path(case);
        for file in reading.sources.files.values() {
            read.extend(Path::new(&file.name).canonicalize());
        }
    }
    for path in files(&folder().join("beside")) {
        if !read.contains(&path.canonicalize().unwrap()) {
            return Err(format!("{} is read by no case", path.display()).into());
        }
    }
    Ok(())
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

/// Files of the folder, and `scheme.kdl` of its folders.
fn cases() -> Vec<PathBuf> {
    let mut cases = Vec::new();
    for path in files(&folder()) {
        if path.is_dir() {
            cases.extend(Some(path.join("scheme.kdl")).filter(|scheme| scheme.is_file()));
        } else {
            cases.push(path);
        }
    }
    cases
}

fn only(reading: &Reading, id: &str) -> Result<(), Failed> {
    let ids: Vec<&str> = reading.findings.iter().map(|finding| finding.id).collect();
    if reading.scheme.is_some() || ids != [id] {
        return Err(format!("expected only {id}, found {ids:?}").into());
    }
    let told = well_told(&reading.findings[0]);
    if told.is_empty() { Ok(()) } else { Err(told.into()) }
}

fn in_file(bytes: &[u8], id: &str) -> Result<(), Failed> {
    let name = format!("fiftytwo-bad-{}-{id}.kdl", std::process::id());
    let path = std::env::temp_dir().join(name);
    std::fs::write(&path, bytes).unwrap();
    let reading = read_path(&path);
    std::fs::remove_file(&path).unwrap();
    only(&reading, id)
}

fn deep(depth: usize) -> String {
    format!("scheme \"Deep\"\n{}{}", "parallel {".repeat(depth), "}".repeat(depth))
}

fn made() -> Vec<Trial> {
    let test =
        |name: &str, run: fn() -> Result<(), Failed>| Trial::test(format!("made/{name}"), run);
    vec![
        test("an empty file", || in_file(b"", "text-empty")),
        test("only blanks", || only(&read_text("blank.kdl", " \n\t\n"), "text-empty")),
        test("only a comment", || only(&read_text("comment.kdl", "// later\n"), "empty")),
        test("binary junk", || {
            in_file(&[0x7f, b'E', b'L', b'F', 0, 1, 2, 3, 0xff, 0xfe], "not-text")
        }),
        test("not UTF-8", || in_file(b"scheme \"Stra\xdfe und Weg\"\n", "not-text")),
        test("UTF-16", || in_file(&[0xff, 0xfe, b's', 0, b'c', 0], "not-text")),
        test("50 MB", || in_file(&vec![b'x'; 50 << 20], "file-too-big")),
        test("50 MB from memory", || {
            only(&read_text("big.kdl", &"x".repeat(50 << 20)), "file-too-big")
        }),
        test("10 000 deep", || only(&read_text("deep.kdl", &deep(10_000)), "text-too-deep")),
        test("a million deep", || {
            only(&read_text("deep.kdl", &deep(1_000_000 / 4)), "text-too-deep")
        }),
        test("no such file", || only(&read_path(&folder().join("no-such.kdl")), "file")),
        test("a folder", || only(&read_path(&folder()), "file")),
        test("patterns that grow without bound", || {
            let mut text = String::from(
                "scheme \"Growing\"\nplace \"HOUSE\" \"House\"\npattern \"p0\" { note \"x\"; }\n",
            );
            for level in 1..40 {
                let below = level - 1;
                text.push_str(&format!(
                    "pattern \"p{level}\" {{ apply \"p{below}\"; apply \"p{below}\"; }}\n"
                ));
            }
            text.push_str("apply \"p39\"\n");
            only(&read_text("growing.kdl", &text), "pattern-too-big")
        }),
    ]
}

fn main() {
    let arguments = Arguments::from_args();
    let cases = cases();
    let mut trials: Vec<Trial> = cases
        .iter()
        .cloned()
        .map(|path| {
            let name = path.strip_prefix(folder()).unwrap().display().to_string();
            Trial::test(name, move || check(&path))
        })
        .collect();
    let count = cases.len();
    trials.push(Trial::test("at least sixty files", move || {
        if count >= 60 { Ok(()) } else { Err(format!("only {count}").into()) }
    }));
    trials.push(Trial::test("nothing beside is unread", move || nothing_unread(&cases)));
    trials.extend(made());
    libtest_mimic::run(&arguments, trials).exit();
}
