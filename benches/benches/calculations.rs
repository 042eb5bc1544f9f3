//! What each topic of the calculations costs on the largest example, and all of them: the aim is
//! a whole `check` of it in 300 ms.
#![allow(clippy::unwrap_used, reason = "a bench may fail loudly")]

use divan::{Bencher, black_box};
use fiftytwo_calculations::{
    Study, cables, calculate, clearing, duty, fuses, monitors, suppression, ties,
};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::Scheme;
use std::path::Path;

fn main() {
    divan::main();
}

fn quillmere() -> Scheme {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/quillmere/scheme.kdl");
    fiftytwo_scheme::read_path(&path).scheme.unwrap()
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn all_of_it(bencher: Bencher<'_, '_>) {
    let scheme = quillmere();
    bencher.bench_local(|| calculate(black_box(&scheme)));
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn before_any_topic(bencher: Bencher<'_, '_>) {
    let scheme = quillmere();
    bencher.bench_local(|| {
        let machine = Machine::new(&scheme).unwrap();
        Study::new(&machine).rest.len()
    });
}

/// One topic on a machine made anew each time, so that nothing is remembered; making it counts.
fn topic<T>(bencher: Bencher<'_, '_>, of: impl Fn(&Study<'_, '_>) -> T) {
    let scheme = quillmere();
    bencher.bench_local(|| {
        let machine = Machine::new(&scheme).unwrap();
        black_box(of(&Study::new(&machine)));
    });
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn cables(bencher: Bencher<'_, '_>) {
    topic(bencher, |study| cables::cables(study, &fuses::fuses(study)));
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn clearing(bencher: Bencher<'_, '_>) {
    topic(bencher, clearing::clearing);
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn duty(bencher: Bencher<'_, '_>) {
    topic(bencher, |study| duty::duty(study, &suppression::suppression(&study.machine.wiring)));
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn fuses(bencher: Bencher<'_, '_>) {
    topic(bencher, fuses::fuses);
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn monitors(bencher: Bencher<'_, '_>) {
    topic(bencher, monitors::monitors);
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn ties(bencher: Bencher<'_, '_>) {
    topic(bencher, |study| ties::ties(study.scheme()));
}
