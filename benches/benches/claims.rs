//! Every claim of the bundled schemes, from the checked model to the verdicts.
//!
//! `cargo bench -p fiftytwo-benches --bench claims`. There is no peer here yet: a general model checker would
//! need the scheme in its own language; the same engine stands beside one in the bench `search`.

#![allow(clippy::unwrap_used, reason = "a benchmark may fail loudly")]

use divan::Bencher;
use fiftytwo_proof::{Options, Verdict, prove};
use fiftytwo_scheme::{Scheme, read_path};
use std::path::Path;

fn main() {
    divan::main();
}

fn example(name: &str) -> Scheme {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples").join(name).join("scheme.kdl");
    read_path(&path).scheme.unwrap()
}

/// Without margins: verdicts alone.
fn verdicts(bencher: Bencher<'_, '_>, name: &str) {
    let scheme = example(name);
    bencher.bench(|| {
        let proof = prove(&scheme, &Options { margins: false, ..Options::default() }).unwrap();
        assert!(proof.reports.iter().all(|report| report.verdict != Verdict::NotProven));
        proof.reports.len()
    });
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn quillmere(bencher: Bencher<'_, '_>) {
    verdicts(bencher, "quillmere");
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn dunmarrow(bencher: Bencher<'_, '_>) {
    verdicts(bencher, "dunmarrow");
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn dunmarrow_repaired(bencher: Bencher<'_, '_>) {
    verdicts(bencher, "dunmarrow-repaired");
}
