//! Searches in any order and in time, beside `spin` on the same breakers in the same run.
//!
//! `cargo bench -p fiftytwo-benches --bench search`. The rows of `spin` appear where `spin` and `gcc` are
//! installed; its count of states must equal ours. Building its checker is not in its time.

#![allow(clippy::unwrap_used, reason = "a benchmark may fail loudly")]

#[path = "../../crates/proof/tests/bays/mod.rs"]
mod bays;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use bays::{Bays, TimedBays};
use divan::Bencher;
use divan::counter::ItemsCount;
use fiftytwo_proof::search::{Limits, Outcome, Search, search};
use fiftytwo_proof::ticks;
use fiftytwo_proof::timed::{self, Seen, TimedOutcome};

/// Three breakers that share a line trip, a bus trip and a lockout.
const THREE: Bays = Bays { bays: 3, robust: true, still: true };
const PLACES: usize = 1_124_864;

fn main() {
    divan::main();
}

#[divan::bench(args = [1, 2], sample_count = 5, sample_size = 1)]
fn any_order_three_breakers(bencher: Bencher<'_, '_>, threads: usize) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    bencher.counter(ItemsCount::new(PLACES)).bench(|| {
        let outcome = pool.install(|| search(&THREE, &Limits::USUAL));
        assert!(matches!(outcome, Outcome::Exhausted { places: PLACES, .. }), "{outcome:?}");
    });
}

/// The same with the permissive and the gas moving.
const THREE_FREE: Bays = Bays { bays: 3, robust: true, still: false };
const PLACES_FREE: usize = 4_499_456;
const STEPS_FREE: usize = 56_167_488;

#[divan::bench(args = [1, 2], sample_count = 5, sample_size = 1)]
fn any_order_three_breakers_free(bencher: Bencher<'_, '_>, threads: usize) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    bencher.counter(ItemsCount::new(PLACES_FREE)).bench(|| {
        let found = pool.install(|| Search::run(&THREE_FREE, &Limits::USUAL));
        let expected = Outcome::Exhausted { places: PLACES_FREE, steps: STEPS_FREE };
        assert_eq!(found.outcome(), expected);
        assert!(found.bytes() <= 24 * PLACES_FREE, "{} bytes", found.bytes());
    });
}

#[divan::bench(args = ["breadth first", "depth first"], sample_count = 3, sample_size = 1)]
fn spin_three_breakers(bencher: Bencher<'_, '_>, order: &str) {
    let flags: &[&str] = if order == "breadth first" { &["-DBFS"] } else { &[] };
    let Some(checker) = spin("bays.pml", &["-DBAYS=3", "-DROBUST", "-DSTILL"], flags) else {
        return;
    };
    bencher.counter(ItemsCount::new(PLACES)).bench(|| assert_eq!(states(&checker), PLACES));
}

const RACE: TimedBays =
    TimedBays { bays: Bays { bays: 1, robust: false, still: false }, anti_pump: 20, tick: 1 };
/// States at ticks of 5 ms.
const STATES: usize = 414_224;

#[divan::bench(sample_count = 20, sample_size = 1)]
fn zones_one_breaker() {
    assert!(holds(&RACE).zones > 0);
}

#[divan::bench(sample_count = 2, sample_size = 1)]
fn zones_two_breakers() {
    let bays = Bays { bays: 2, robust: false, still: true };
    assert!(holds(&TimedBays { bays, ..RACE }).zones > 0);
}

#[divan::bench(sample_count = 2, sample_size = 1)]
fn our_ticks_of_5_ms_one_breaker(bencher: Bencher<'_, '_>) {
    bencher.counter(ItemsCount::new(STATES)).bench(|| {
        assert_eq!(ticks::explore(&RACE, 5000, &Limits::USUAL).states, STATES);
    });
}

#[divan::bench(args = [5], sample_count = 2, sample_size = 1)]
fn spin_ticks_one_breaker(bencher: Bencher<'_, '_>, ms: u32) {
    let tick = format!("-DTICK={ms}");
    let Some(checker) = spin("bays-timed.pml", &[&tick, "-DYMAX=20"], &["-DBFS"]) else { return };
    let count = if ms == 5 { STATES } else { 6_795_096 };
    bencher.counter(ItemsCount::new(count)).bench(|| assert_eq!(states(&checker), count));
}

fn holds(space: &TimedBays) -> Seen {
    match timed::explore(space, &Limits::USUAL) {
        TimedOutcome::Exhausted { seen, stops } if stops.is_empty() => seen,
        other => panic!("{other:?}"),
    }
}

/// The checker that `spin` writes for a model; none where it cannot be built.
fn spin(model: &str, options: &[&str], flags: &[&str]) -> Option<PathBuf> {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    let name: String = [model].iter().chain(options).chain(flags).copied().collect();
    let folder = FOLDER.get_or_init(|| tempfile::tempdir().unwrap()).path().join(name);
    std::fs::create_dir_all(&folder).ok()?;
    let source =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/proof/tests/peers").join(model);
    let run = |program: &str, args: &[&str], last: &Path| {
        let done = Command::new(program).args(args).arg(last).current_dir(&folder).output().ok()?;
        done.status.success().then_some(())
    };
    run("spin", &[&["-a"], options].concat(), &source)?;
    let gcc = ["-O2", "-w", "-DNOREDUCE", "-DSAFETY"];
    run("gcc", &[&gcc[..], flags, &["-o", "pan"]].concat(), Path::new("pan.c"))?;
    Some(folder.join("pan"))
}

/// Runs a checker to its end: the states it stored.
fn states(checker: &Path) -> usize {
    let done = Command::new(checker).args(["-w24", "-m8000000"]).output().unwrap();
    let told = String::from_utf8_lossy(&done.stdout);
    assert!(told.contains("errors: 0"), "{told}");
    let line = told.lines().find(|line| line.ends_with("states, stored")).unwrap();
    line.split_whitespace().next().unwrap().parse().unwrap()
}
