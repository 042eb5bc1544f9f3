//! Tries every question of a scheme; a developer's tool.
#![allow(clippy::print_stdout, clippy::unwrap_used)]
use fiftytwo_proof::{Options, prove};
use std::time::Instant;
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let margins = std::env::args().nth(2).is_some();
    let only = std::env::var("ONLY").unwrap_or_default();
    let reading = fiftytwo_scheme::read_path(std::path::Path::new(&path));
    for f in &reading.findings {
        if f.severity == fiftytwo_scheme::Severity::Error {
            println!("{} {} {:?}", f.id, f.message, f.at.map(|s| reading.sources.place(s)));
        }
    }
    let scheme = reading.scheme.unwrap();
    let machine = fiftytwo_motion::Machine::new(&scheme).unwrap();
    for story in &scheme.stories {
        let t = fiftytwo_motion::play(&machine, story, fiftytwo_motion::PlayOptions::default());
        println!("=== {}", t.story);
        for e in &t.events {
            println!("{:>9.2} {:30} {} | {}", e.time_ms, e.device, e.what, e.why);
        }
        println!("{}", fiftytwo_motion::chart::chart(&t));
        for o in &t.outcomes {
            println!("{:?}", o);
        }
        for o in &t.notes {
            println!("note {o}");
        }
        println!("stuck {:?}", t.stuck);
    }
    let begin = Instant::now();
    let options =
        Options { margins, time: Some(std::time::Duration::from_secs(20)), ..Options::default() };
    let mut scheme = scheme.clone();
    if only == "pump" {
        for m in &mut scheme.matrices {
            m.close_needs.clear();
            m.trip_by.clear();
        }
    }
    let proof = prove(&scheme, &options).unwrap();
    for r in &proof.reports {
        println!(
            "{:?} {} | {} | {:?} known {:?} positions {}",
            r.verdict, r.claim, r.asks, r.because, r.known, r.positions
        );
        if std::env::var("LOG").is_ok() {
            for m in &r.searches {
                println!("    {m:?}");
            }
        }
        for m in &r.margins {
            println!("    {m:?}");
        }
        if let Some(s) = &r.story {
            for (i, e) in s.events.iter().enumerate() {
                println!(
                    "   {:2} {:8.1}..{:8.1} {} [{}]",
                    i + 1,
                    e.time_ms,
                    e.until_ms,
                    e.what,
                    e.why
                );
            }
        }
    }
    println!("{:?}", begin.elapsed());
}
