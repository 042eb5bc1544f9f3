//! Quillmere in the moments of all its stories: the whole drawing, and the one sheet somebody looks at.
//! Run with `cargo run --release -p fiftytwo-scene --example one_sheet`.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "an example may fail loudly")]

use fiftytwo_scene::state::moments;
use fiftytwo_scheme::read_path;
use fiftytwo_sheet::{Arranged, Options, Symbols};
use std::path::Path;
use std::time::{Duration, Instant};

/// How often each state is drawn.
const ROUNDS: usize = 5;

/// Time on the processor, where the system tells it (Linux): work of others does not count.
fn busy(begin: Instant) -> Duration {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanos = told.and_then(|text| text.split(' ').next()?.parse().ok());
    nanos.map_or_else(|| begin.elapsed(), Duration::from_nanos)
}

/// How long each of many takes on the average.
fn told<'a, T>(
    what: &str,
    begin: Instant,
    states: impl Iterator<Item = T> + Clone + 'a,
    work: impl Fn(T),
) {
    let start = busy(begin);
    let mut count = 0;
    for _ in 0..ROUNDS {
        for state in states.clone() {
            work(state);
            count += 1;
        }
    }
    println!("{what:<24}{:>12.2?} each, of {count}", (busy(begin) - start) / count);
}

fn main() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/quillmere/scheme.kdl");
    let scheme = read_path(&path).scheme.unwrap();
    let begin = Instant::now();
    let mut states = Vec::new();
    for story in &scheme.stories {
        let times = [0, 20_000, 72_000, 101_000, 320_000, 1_000_000];
        let (moments, _) = moments(&scheme, story, &times).unwrap();
        states.extend(moments.into_iter().map(|moment| moment.live));
    }
    for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
        let options = Options { symbols, ..Options::default() };
        let (arranged, rest) = Arranged::new(&scheme, &options);
        let sheets = 1..=rest.sheets.len();
        println!("{symbols:?}, {} sheets", rest.sheets.len());
        let all = states.iter();
        told("all sheets of a state", begin, all.clone(), |live| {
            std::hint::black_box(arranged.live(live));
        });
        for sheet in sheets {
            told(&format!("sheet {sheet} of a state"), begin, all.clone(), |live| {
                std::hint::black_box(arranged.live_sheet(live, sheet));
            });
        }
        told("arranged, and sheet 1", begin, all, |live| {
            let (fresh, _) = Arranged::new(&scheme, &options);
            std::hint::black_box(fresh.live_sheet(live, 1));
        });
    }
}
