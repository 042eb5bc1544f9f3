//! Bad input: exit code 2, a clear message on standard error, nothing on standard output,
//! nothing written.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, contents, example};
use std::fs;
use std::path::Path;

const VERBS: &[&str] = &["check", "draw", "play", "prove", "format"];

/// Every verb refuses the file, says what is wrong and what to do, and leaves the folder alone.
fn refused(folder: &Path, file: &str, id: &str, says: &[&str]) {
    let before = contents(folder);
    for verb in VERBS {
        let run = Run::of(folder, &[verb, file, "--out", "results"]);
        assert_eq!(run.code, 2, "{verb} {file}: {run:?}");
        assert_eq!(run.out, "", "{verb} {file}");
        for words in says {
            assert!(run.err.contains(words), "{verb} {file}: no {words:?} in\n{}", run.err);
        }
        let run = Run::of(folder, &[verb, file, "--out", "results", "--json"]);
        assert_eq!(run.code, 2, "{verb} {file}");
        assert!(run.ids().iter().any(|it| it == id), "{verb} {file}: no {id} in {:?}", run.ids());
        let object = run.object();
        assert_eq!(object["exit"], 2);
        assert_eq!(object["verb"], *verb);
        assert_eq!(object["written"].as_array().map(Vec::len), Some(0));
        assert!(!run.err.is_empty(), "people are told too");
    }
    assert_eq!(contents(folder), before, "{file} changed the folder");
}

#[test]
fn a_missing_file_is_named_with_the_one_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("quillmere.kdl"), "").unwrap();
    let says = ["there is no file quilmere.kdl", "did you mean quillmere.kdl?"];
    refused(folder.path(), "quilmere.kdl", "file-missing", &says);
    refused(folder.path(), "nowhere/at/all.kdl", "file-missing", &["nowhere/at/all.kdl"]);
}

#[test]
fn a_folder_is_no_scheme() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("bay")).unwrap();
    refused(folder.path(), "bay", "file-is-folder", &["bay is a folder", "name the scheme"]);
    fs::write(folder.path().join("bay/scheme.kdl"), "").unwrap();
    refused(folder.path(), "bay", "file-is-folder", &["bay/scheme.kdl"]);
}

#[test]
fn a_path_through_a_file_is_no_path() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("bay.kdl"), "").unwrap();
    refused(folder.path(), "bay.kdl/scheme.kdl", "file-unreadable", &["cannot be read"]);
}

#[test]
fn binary_junk_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let junk: Vec<u8> =
        (0..40_000_u32).map(|it| (it.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    fs::write(folder.path().join("junk.kdl"), junk).unwrap();
    refused(folder.path(), "junk.kdl", "not-text", &["junk.kdl"]);
}

#[test]
fn a_file_of_fifty_megabytes_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = fs::File::create(folder.path().join("huge.kdl")).unwrap();
    file.set_len(50_000_000).unwrap();
    let run = Run::of(folder.path(), &["check", "huge.kdl"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("huge.kdl"), "{}", run.err);
    assert!(run.err.len() < 2_000, "the file is named, not printed");
}

#[cfg(unix)]
#[test]
fn a_file_nobody_may_read_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("locked.kdl");
    fs::write(&path, "").unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::File::open(&path).is_ok() {
        // The administrator may read everything; there is nothing to refuse then.
        fs::remove_file(&path).unwrap();
        return;
    }
    let run = Run::of(folder.path(), &["check", "locked.kdl"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("you may not read it"), "{}", run.err);
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_text_is_a_name_all_the_same() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let folder = tempfile::tempdir().unwrap();
    let name = OsStr::from_bytes(b"bay-\xff\x1b[2J.kdl");
    let run = Run::of(folder.path(), &[OsStr::new("check"), name]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("there is no file bay-"), "{}", run.err);
    assert!(!run.err.contains('\u{1b}'), "a name must not move the cursor");
}

#[cfg(unix)]
#[test]
fn an_endless_device_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["check", "/dev/zero"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("larger than"), "{}", run.err);
}

#[test]
fn a_misspelt_verb_gets_a_suggestion() {
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["chek", "scheme.kdl"]);
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("'check'"), "{}", run.err);
    let run = Run::of(folder.path(), &["chek", "scheme.kdl", "--json"]);
    assert_eq!(run.ids(), ["usage"]);
    assert!(run.object()["verb"].is_null());
}

#[test]
fn a_file_without_a_verb_gets_one_suggested() {
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["bay.kdl"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("fiftytwo check bay.kdl"), "{}", run.err);
}

#[test]
fn an_unknown_flag_or_a_wrong_part_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for words in [
        vec!["check", "a.kdl", "--jsn"],
        vec!["check"],
        vec!["check", "a.kdl", "--part", "0/4"],
        vec!["check", "a.kdl", "--part", "5/4"],
    ] {
        let run = Run::of(folder.path(), &words);
        assert_eq!(run.code, 2, "{words:?}");
        assert_eq!(run.out, "");
        assert!(run.err.contains("error"), "{}", run.err);
    }
}

#[test]
fn an_empty_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("empty.kdl"), "").unwrap();
    let run = Run::of(folder.path(), &["check", "empty.kdl"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("empty.kdl"), "{}", run.err);
}

#[test]
fn one_bad_file_among_good_ones_stops_the_run() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(example("latches"), folder.path().join("good.kdl")).unwrap();
    let bad = fs::read_to_string(example("latches")).unwrap() + "\ncircuit \"Open {";
    fs::write(folder.path().join("bad.kdl"), bad).unwrap();
    for verb in VERBS {
        let run = Run::of(folder.path(), &[verb, "good.kdl", "bad.kdl", "--out", "results"]);
        assert_eq!(run.code, 2, "{verb}: {run:?}");
        assert!(run.err.contains("bad.kdl:"), "{verb}: the place is shown\n{}", run.err);
        assert!(!folder.path().join("results").exists(), "{verb} wrote something");
    }
}

#[test]
fn a_reading_that_says_nothing_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = example("latches");
    for (reading, says) in [
        ("TB3-7", "has no = between the point and its volts"),
        ("TB3-7=62 A", "only V, mV and kV are read"),
        ("NOWHERE=62 V", "there is no wire, terminal or screw"),
    ] {
        let words = ["check".as_ref(), path.as_os_str(), "--reading".as_ref(), reading.as_ref()];
        let run = Run::of(folder.path(), &words);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{reading}: {}", run.err);
        let words: Vec<&str> = run.err.split_whitespace().collect();
        assert!(words.join(" ").contains(says), "{reading}: {}", run.err);
    }
}
