//! Programs of others that look at what the writers made. Where one is not there the test says
//! so loudly and passes; `FIFTYTWO_PAPERS=required` makes that a failure.
#![allow(dead_code, reason = "each test takes what it needs")]
#![allow(
    clippy::unwrap_used,
    clippy::print_stderr,
    reason = "a test stops at what it did not expect"
)]

use fiftytwo_scheme::Scheme;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The examples, with their names.
pub fn examples() -> Vec<(&'static str, Scheme)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    ["dunmarrow", "harrowfen", "latches", "quillmere"]
        .into_iter()
        .map(|name| {
            let reading = fiftytwo_scheme::read_path(&folder.join(name).join("scheme.kdl"));
            (name, reading.scheme.unwrap())
        })
        .collect()
}

/// Where tests put files; left there for a person to look at.
pub fn folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("papers");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Whether a program can be started with these arguments.
pub fn is_there(program: &str, args: &[&str]) -> bool {
    let mut run = Command::new(program);
    run.args(args).stdout(Stdio::null()).stderr(Stdio::null());
    let there = run.status().is_ok_and(|status| status.success());
    let required = std::env::var("FIFTYTWO_PAPERS").is_ok_and(|value| value == "required");
    assert!(there || !required, "{program} is required (FIFTYTWO_PAPERS) and not there");
    if !there {
        eprintln!("NOT CHECKED: {program} is not there");
    }
    there
}

/// What a program says on its standard output; its end must be a good one, without a complaint.
pub fn said(command: &mut Command) -> String {
    let output = command.output().unwrap();
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success() && complaint.is_empty(), "{command:?}: {complaint}");
    String::from_utf8(output.stdout).unwrap()
}

/// The Python that has the library: `FIFTYTWO_PYTHON`, else the one in the path.
pub fn python() -> String {
    std::env::var("FIFTYTWO_PYTHON").unwrap_or_else(|_| "python3".to_owned())
}
