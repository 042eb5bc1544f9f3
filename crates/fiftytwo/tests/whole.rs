//! No verb: the whole job into a folder.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, contents};
use std::fs;

#[test]
fn the_whole_job_writes_the_same_bytes_each_time_and_keeps_what_was_changed() {
    let first = tempfile::tempdir().unwrap();
    let page = Run::of::<&str>(first.path(), &[]);
    assert_eq!((page.code, page.err.as_str()), (0, ""));
    for words in ["Quillmere", "52 close", "A story", "Claims", "Dunmarrow", "fails", "Repaired"] {
        assert!(page.out.contains(words), "{words} is missing in\n{}", page.out);
    }
    assert!(page.out.contains("licensed engineer"), "the cautions stand at the end");
    let lines = page.out.lines().map(|line| line.chars().count());
    assert!(lines.max() <= Some(80), "the page is too wide");

    let out = first.path().join("out");
    let files = contents(&out);
    for name in [
        "results.txt",
        "results.json",
        "quillmere/scheme.kdl",
        "quillmere/quillmere.svg",
        "quillmere/quillmere-1.svg",
        "quillmere/quillmere.pdf",
        "quillmere/quillmere.dxf",
        "quillmere/quillmere-prove.txt",
        "quillmere/quillmere-close-from-the-house-then-a-line-fault.txt",
        "dunmarrow/dunmarrow-prove.json",
        "dunmarrow-repaired/dunmarrow-repaired.svg",
    ] {
        assert!(files.iter().any(|(path, _)| path.as_os_str() == name), "{name} is missing");
    }
    assert_eq!(fs::read_to_string(out.join("results.txt")).unwrap(), page.out);

    // Again, into the same folder, with a text that its owner has changed meanwhile.
    let changed = out.join("quillmere/scheme.kdl");
    fs::write(&changed, "scheme \"Mine\"\n").unwrap();
    let data = Run::of(first.path(), &["--json"]);
    assert_eq!(data.code, 0);
    assert_eq!(fs::read_to_string(&changed).unwrap(), "scheme \"Mine\"\n");
    assert!(data.err.contains("it is left as it is"), "{}", data.err);
    let object = data.object();
    assert_eq!((&object["verb"], &object["exit"]), (&"example".into(), &0.into()));
    let again = contents(&out);
    for ((path, old), (_, new)) in files.iter().zip(&again) {
        let name = path.to_string_lossy();
        if !name.starts_with("results") && name != "quillmere/scheme.kdl" {
            assert_eq!(old, new, "{name} differs");
        }
    }
    assert_eq!(files.len(), again.len());
}

#[test]
fn a_scheme_is_named_after_its_folder_also_from_within() {
    let folder = tempfile::tempdir().unwrap();
    let bay = folder.path().join("bay-7");
    fs::create_dir(&bay).unwrap();
    fs::copy(common::example("latches"), bay.join("scheme.kdl")).unwrap();
    assert_eq!(Run::of(&bay, &["draw", "scheme.kdl", "--out", "drawn"]).code, 0);
    assert!(bay.join("drawn/bay-7.svg").is_file());
    assert!(!bay.join("drawn/bay-7.pdf").exists(), "nobody asked for it");
    let both = ["draw", "scheme.kdl", "--to", "dxf,pdf", "--json", "--out", "printed"];
    let object = Run::of(&bay, &both).object();
    assert_eq!(object["written"], serde_json::json!(["printed/bay-7.pdf", "printed/bay-7.dxf"]));
    assert_eq!(object["drawings"][0]["written"], object["written"]);
    assert!(object["drawings"][0]["sheets"][0]["written"].is_null());
    assert!(fs::read(bay.join("printed/bay-7.pdf")).unwrap().starts_with(b"%PDF-1.7"));
    assert_eq!(contents(&bay.join("printed")).len(), 2);
    assert_eq!(Run::of(&bay, &["draw", "scheme.kdl", "--to", "png"]).code, 2);
    assert_eq!(Run::of(&bay, &["check", "./scheme.kdl", "--out", "checked"]).code, 0);
    let page = fs::read_to_string(bay.join("checked/bay-7-check.txt")).unwrap();
    for words in ["Latches", "what they make, carry and break", "licensed engineer"] {
        assert!(page.contains(words), "{words} is missing in\n{page}");
    }
}

#[test]
fn no_verb_has_no_parts() {
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["--part", "1/2"]);
    assert_eq!(run.code, 2);
    assert!(contents(folder.path()).is_empty());
}

#[test]
fn a_folder_that_cannot_be_written_is_told_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("taken"), "a file").unwrap();
    let scheme = common::example("latches");
    let words = ["draw".as_ref(), scheme.as_os_str(), "--out".as_ref(), "taken".as_ref()];
    let run = Run::of(folder.path(), &words);
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("cannot be written"), "{}", run.err);
    assert_eq!(contents(folder.path()).len(), 1);
}

#[test]
fn a_text_is_formatted_in_its_place_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bay.kdl");
    fs::write(&path, "// kept\nscheme   \"T\"\n").unwrap();
    assert_eq!(Run::of(folder.path(), &["format", "--check", "bay.kdl"]).code, 1);
    assert_eq!(Run::of(folder.path(), &["format", "bay.kdl"]).code, 0);
    let once = fs::read_to_string(&path).unwrap();
    assert!(once.contains("// kept") && once.contains("scheme \"T\""), "{once}");
    assert_eq!(Run::of(folder.path(), &["format", "--check", "bay.kdl"]).code, 0);
    assert_eq!(Run::of(folder.path(), &["format", "bay.kdl"]).code, 0);
    assert_eq!(fs::read_to_string(&path).unwrap(), once);
    assert_eq!(contents(folder.path()).len(), 1, "a temporary file was left behind");
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_whole_files() {
    use std::time::Duration;
    let folder = tempfile::tempdir().unwrap();
    let scheme = common::example("quillmere");
    let words = ["draw".as_ref(), scheme.as_os_str(), "--out".as_ref(), "drawn".as_ref()];
    let mut begun = common::fiftytwo();
    assert_eq!(Run::from(begun.current_dir(folder.path()).args(words).output().unwrap()).code, 0);
    let whole = contents(&folder.path().join("drawn"));
    for delay in 0..12 {
        let target = tempfile::tempdir().unwrap();
        let mut command = common::fiftytwo();
        command.current_dir(target.path()).args(words);
        let quiet = std::process::Stdio::null;
        let mut child = command.stdout(quiet()).stderr(quiet()).spawn().unwrap();
        std::thread::sleep(Duration::from_millis(delay * 12));
        child.kill().unwrap();
        child.wait().unwrap();
        let drawn = target.path().join("drawn");
        let found = if drawn.exists() { contents(&drawn) } else { Vec::new() };
        for (path, bytes) in found {
            let name = path.to_string_lossy().into_owned();
            if name.starts_with(".fiftytwo-") {
                continue;
            }
            let same = whole.iter().find(|(other, _)| *other == path).unwrap();
            assert_eq!(bytes, same.1, "{name} is not whole");
        }
    }
}

#[test]
fn a_reading_is_explained_and_the_volts_to_expect_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = common::example("quillmere");
    let words: [&std::ffi::OsStr; 8] = [
        "check".as_ref(),
        path.as_os_str(),
        "--reading".as_ref(),
        "TP=0 V".as_ref(),
        "--standing".as_ref(),
        "52 closed".as_ref(),
        "--out".as_ref(),
        "out".as_ref(),
    ];
    let run = Run::of(folder.path(), &words);
    assert!(matches!(run.code, 0 | 1), "{}", run.err);
    assert!(run.out.contains("Readings:") && run.out.contains("F3"), "{}", run.out);
    let table = fs::read_to_string(folder.path().join("out/quillmere-volts.txt")).unwrap();
    assert!(table.contains("licensed engineer") && table.contains("YARD"), "{table}");
    assert!(table.contains("to minus, V") && !table.contains("-0.0"), "{table}");
    let column = |line: &str| line.find("to plus, V").or(line.find(" 0.0  ").map(|at| at + 1));
    let head = table.lines().find(|line| line.contains("to plus, V")).and_then(column);
    assert!(
        table.lines().any(|line| line.contains("125.0 [105.0 140.0] ") && column(line) == head)
    );
    let (answer, grounds) = (run.out.find("Readings:"), run.out.find("One ground"));
    assert!(answer.is_some() && grounds.is_none_or(|at| answer < Some(at)), "{}", run.out);
    let answer = run.out.split("faults tried").next().unwrap_or_default();
    assert!(!answer.contains("52 open"), "{answer}");
    let sheet = fs::read_to_string(folder.path().join("out/quillmere-volts.csv")).unwrap();
    let columns: Vec<usize> = sheet.lines().take(1).map(|line| line.matches(',').count()).collect();
    assert!(columns == [13] && sheet.lines().count() > 50, "{columns:?}");
}
