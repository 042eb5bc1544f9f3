//! What goes to which stream, and how a run behaves when a stream is closed or full.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example, fiftytwo};
use std::process::Stdio;

#[test]
fn help_shows_examples_exit_codes_and_cautions() {
    let run = Run::of(std::env::temp_dir().as_path(), &["--help"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    insta::assert_snapshot!("help", run.out);
}

#[test]
fn help_may_be_asked_for_as_a_word() {
    let here = std::env::temp_dir();
    let (word, flag) = (Run::of(&here, &["help"]), Run::of(&here, &["--help"]));
    assert_eq!((word.code, word.out.as_str()), (0, flag.out.as_str()));
    let (word, flag) = (Run::of(&here, &["help", "check"]), Run::of(&here, &["check", "--help"]));
    assert_eq!((word.code, word.out.as_str()), (0, flag.out.as_str()));
}

#[test]
fn version_is_one_line() {
    let run = Run::of(std::env::temp_dir().as_path(), &["--version"]);
    assert_eq!(run.code, 0);
    assert_eq!(run.out, format!("fiftytwo {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    for words in [vec!["--help"], vec!["check"], vec!["check", "--json"]] {
        let mut command = fiftytwo();
        command.args(&words);
        if words.first() == Some(&"check") {
            command.arg(example("quillmere"));
        }
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        let code = output.status.code();
        assert!(matches!(code, Some(0 | 1 | 3)), "{words:?}: {code:?} {told}");
        assert!(!told.contains("panicked") && !told.contains("pipe"), "{words:?}: {told}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_told() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = fiftytwo().arg("check").arg(example("quillmere")).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("standard output"));
}

#[test]
fn nothing_is_coloured_away_from_a_terminal() {
    let run = Run::of(std::env::temp_dir().as_path(), &["check", "nowhere.kdl"]);
    assert!(!run.err.contains('\u{1b}') && !run.out.contains('\u{1b}'));
}

#[test]
fn a_scheme_comes_in_by_a_pipe() {
    use std::io::Write;
    let text = std::fs::read(example("latches")).unwrap();
    let mut command = fiftytwo();
    command.args(["check", "-"]).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(&text).unwrap();
    let run = Run::from(child.wait_with_output().unwrap());
    assert_eq!(run.code, 0);
    assert!(run.out.contains("standard input"), "{}", run.out);
    assert!(run.out.contains("Latches"), "{}", run.out);
}

#[test]
fn with_an_object_the_words_go_to_standard_error() {
    let mut command = fiftytwo();
    let run =
        Run::from(command.arg("check").arg(example("latches")).arg("--json").output().unwrap());
    assert_eq!(run.object()["verb"], "check");
    assert!(run.err.contains("Latches"));
}
