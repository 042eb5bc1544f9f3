//! Asking `spin`, a general-purpose model checker that is not ours (Debian package `spin`).

#![allow(dead_code, reason = "each test uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};

/// What the checker found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Found {
    /// Positions stored.
    pub states: usize,
    /// Transitions, those to known positions included.
    pub transitions: usize,
    /// After how many steps the claim is broken, as few as possible; none: it is not.
    pub broken_after: Option<usize>,
    /// Different lines that the model printed about positions.
    pub places: usize,
}

/// Set to `required` the tests fail where the checker is missing; else they say so and pass.
const REQUIRED: &str = "FIFTYTWO_MODEL_CHECKER";

/// Whether the checker and a C compiler are there.
pub fn is_there() -> bool {
    let runs = |program: &str, arg: &str| {
        let mut run = Command::new(program);
        run.arg(arg).stdout(Stdio::null()).stderr(Stdio::null());
        run.status().is_ok_and(|status| status.success())
    };
    let (spin, gcc) = (runs("spin", "-V"), runs("gcc", "--version"));
    if spin && gcc {
        return true;
    }
    let required = std::env::var(REQUIRED).is_ok_and(|value| value == "required");
    assert!(!required, "{REQUIRED} is `required`, but spin: {spin}, gcc: {gcc}");
    // Printed past the capture of the test harness: whoever reads must know.
    let mut out = std::io::stderr().lock();
    writeln!(
        out,
        "NOT RUN: the models were written but not counted: install `spin` and `gcc` \
         (Debian packages of these names), or set {REQUIRED}=required to make this fail"
    )
    .unwrap();
    false
}

static RUNS: AtomicUsize = AtomicUsize::new(0);

/// Runs the checker on a model with preprocessor options such as `-DCOUNT`.
pub fn spin(model: &str, options: &[&str]) -> Found {
    let run = RUNS.fetch_add(1, Ordering::Relaxed);
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
        .join(format!("spin-{}-{run}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("model.pml"), model).unwrap();
    let made = Command::new("spin")
        .args(options)
        .args(["-a", "model.pml"])
        .current_dir(&folder)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&made.stdout).into_owned();
    assert!(made.status.success() && folder.join("pan.c").exists(), "{said}\n{}", folder.display());
    let compiled = Command::new("gcc")
        .args([
            "-O1",
            "-w",
            "-DSAFETY",
            "-DBFS",
            "-DNOREDUCE",
            "-DVECTORSZ=4096",
            "-o",
            "pan",
            "pan.c",
        ])
        .current_dir(&folder)
        .output()
        .unwrap();
    assert!(compiled.status.success(), "{}", String::from_utf8_lossy(&compiled.stderr));
    let mut pan = Command::new("./pan")
        .args(["-w22", "-m1000000"])
        .current_dir(&folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut found = Found::default();
    let mut places: BTreeSet<String> = BTreeSet::new();
    let mut said = String::new();
    for line in BufReader::new(pan.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        if let Some(place) = line.strip_prefix("place ") {
            if !places.contains(place) {
                places.insert(place.to_owned());
            }
            continue;
        }
        said.push_str(&line);
        said.push('\n');
        let number = || line.split_whitespace().next().and_then(|word| word.parse().ok());
        if line.contains("states, stored") {
            found.states = number().unwrap();
        } else if line.contains("transitions (=") {
            found.transitions = number().unwrap();
        } else if let Some((_, depth)) = line.split_once("assertion violated") {
            let depth = depth.rsplit_once("depth ").unwrap().1;
            found.broken_after = Some(depth.trim_end_matches(')').trim().parse().unwrap());
        }
    }
    pan.wait().unwrap();
    found.places = places.len();
    let complete = !said.contains("Search not completed") || found.broken_after.is_some();
    assert!(complete && !said.contains("max search depth"), "{said}");
    assert!(found.broken_after.is_some() || said.contains("errors: 0"), "{said}");
    std::fs::remove_dir_all(&folder).unwrap();
    found
}
