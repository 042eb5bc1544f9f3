//! Running the binary as a user would.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each test file uses its share; tests may fail loudly"
)]

use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The binary, in an empty environment as far as colour goes.
pub fn fiftytwo() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fiftytwo"));
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "TERM"] {
        command.env_remove(name);
    }
    command
}

/// What came of one run.
#[derive(Debug)]
pub struct Run {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    /// Runs with these words in that folder.
    pub fn of<Word: AsRef<OsStr>>(folder: &Path, words: &[Word]) -> Self {
        Self::from(fiftytwo().current_dir(folder).args(words).output().unwrap())
    }

    /// The object on standard output.
    pub fn object(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error} in:\n{}", self.out))
    }

    /// The ids of the findings in the object.
    pub fn ids(&self) -> Vec<String> {
        let object = self.object();
        let findings = object["findings"].as_array().unwrap();
        findings.iter().map(|it| it["id"].as_str().unwrap().to_owned()).collect()
    }
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Everything in a folder, by path and bytes.
pub fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in std::fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                found.push((name, std::fs::read(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

/// A file of the repository's examples.
pub fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name).join("scheme.kdl")
}
