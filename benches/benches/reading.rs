//! Reading: the largest example from text to checked model, beside a plain parse of the same text
//! by a general-purpose parser; and `check` as a whole process, beside the cheapest process there
//! is. Run with `cargo build --release && cargo bench -p fiftytwo-benches --bench reading`.
#![allow(clippy::unwrap_used, reason = "a bench may fail loudly")]

use divan::{Bencher, black_box};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn main() {
    divan::main();
}

fn quillmere() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/quillmere/scheme.kdl")
}

#[divan::bench]
fn in_process_fiftytwo_reads_and_checks(bencher: Bencher<'_, '_>) {
    let path = quillmere();
    assert!(fiftytwo_scheme::read_path(&path).is_usable());
    bencher.bench(|| fiftytwo_scheme::read_path(black_box(&path)));
}

#[divan::bench]
fn in_process_kdl_only_parses(bencher: Bencher<'_, '_>) {
    let text = std::fs::read_to_string(quillmere()).unwrap();
    assert!(kdl::KdlDocument::parse_v2(&text).is_ok());
    bencher.bench(|| kdl::KdlDocument::parse_v2(black_box(&text)));
}

#[divan::bench(sample_count = 50, sample_size = 1)]
fn process_fiftytwo_check(bencher: Bencher<'_, '_>) {
    let bench = std::env::current_exe().unwrap();
    let program = bench.parent().and_then(Path::parent).unwrap().join("fiftytwo");
    assert!(program.exists(), "run `cargo build --release` first");
    bencher.bench(|| run(Command::new(&program).arg("check").arg(quillmere())));
}

#[divan::bench(sample_count = 50, sample_size = 1)]
fn process_true(bencher: Bencher<'_, '_>) {
    bencher.bench(|| run(&mut Command::new("true")));
}

fn run(command: &mut Command) -> Option<i32> {
    let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap();
    let code = status.code();
    assert!(matches!(code, Some(0 | 1)), "{code:?}");
    code
}
