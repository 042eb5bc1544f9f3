//! Ctrl-C while a proof is under way.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::Run;
use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Long enough for the search to be under way, far too short for it to end.
const UNDER_WAY: Duration = Duration::from_millis(1500);

#[test]
fn a_proof_stopped_by_hand_tells_what_is_decided_and_calls_the_rest_not_proven() {
    let folder = tempfile::tempdir().unwrap();
    let scheme = common::example("quillmere");
    let mut begun = common::fiftytwo();
    begun.current_dir(folder.path()).arg("prove").arg(&scheme).args(["--out", "proof"]);
    let child = begun.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(UNDER_WAY);
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let run = Run::from(child.wait_with_output().unwrap());
    assert_eq!(run.code, 3, "not proven is no pass: {}", run.out);
    assert!(run.err.contains("what is decided stays"), "{}", run.err);
    assert!(run.out.contains("stopped by hand"), "{}", run.out);
    assert!(run.out.contains("holds in any order"), "what was decided stays: {}", run.out);
    let written = fs::read_to_string(folder.path().join("proof/quillmere-prove.txt")).unwrap();
    assert!(written.contains("stopped by hand"), "the file is whole");
}
