//! Prints how long each question of a scheme takes: for whoever makes the search faster.

use fiftytwo_proof::prove::{Progress, Stage};
use fiftytwo_proof::{Options, prove};
use std::collections::HashMap;
use std::io::Write;
use std::sync::Mutex;
use std::time::Instant;

fn main() {
    let mut args = std::env::args().skip(1);
    let path = args.next().unwrap_or_else(|| "examples/quillmere/scheme.kdl".to_owned());
    let only = args.next();
    let reading = fiftytwo_scheme::read_path(std::path::Path::new(&path));
    let Some(scheme) = reading.scheme else { return };
    let began = Mutex::new(HashMap::new());
    let told = |stage: Stage<'_>| {
        let mut out = std::io::stdout();
        let _ = match stage {
            Stage::Asks { question, .. } => {
                if let Ok(mut began) = began.lock() {
                    began.insert((question.claim.clone(), question.asks.clone()), Instant::now());
                }
                Ok(())
            }
            Stage::Answered(report) => {
                let key = (report.claim.clone(), report.asks.clone());
                let began = began.lock().ok().and_then(|mut began| began.remove(&key));
                let took = began.map_or(0.0, |began| began.elapsed().as_secs_f64());
                let mut result = writeln!(
                    out,
                    "{:8.3} s {:?} {} · {}",
                    took, report.verdict, report.claim, report.asks
                );
                for search in &report.searches {
                    result = writeln!(
                        out,
                        "             {} known, {}, {} positions: {}",
                        search.known, search.mode, search.positions, search.said
                    );
                }
                for event in report.story.iter().flat_map(|story| &story.events) {
                    let (at, what, why) = (event.time_ms, &event.what, &event.why);
                    result = writeln!(out, "      {at:9.3} ms {what} ({why})");
                }
                if let Some(because) = &report.because {
                    result = writeln!(out, "      {because}");
                }
                result
            }
        };
    };
    let options = Options {
        margins: false,
        only: only.as_deref(),
        progress: Some(Progress(&told)),
        ..Options::default()
    };
    let _ = prove(&scheme, &options);
}
