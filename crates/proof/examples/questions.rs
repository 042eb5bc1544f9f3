//! Prints how long each question of a scheme takes: for whoever makes the search faster.
//!
//! `questions [--margins] [--all FILE] [SCHEME [CLAIM]]`; `--all` writes every report whole, to be compared
//! with that of another build.

use fiftytwo_proof::prove::{Progress, Stage};
use fiftytwo_proof::{Options, prove};
use std::collections::HashMap;
use std::io::Write;
use std::sync::Mutex;
use std::time::Instant;

/// Processor time of this process so far, s, where the system tells it; with one thread
/// (`RAYON_NUM_THREADS=1`) what lies between two readings is one question's.
fn spent() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(") ").next().unwrap_or_default().split(' ');
    fields.skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / 100.0
}

fn main() {
    let (mut margins, mut all, mut rest) = (false, None, Vec::new());
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--margins" => margins = true,
            "--all" => all = args.next(),
            _ => rest.push(arg),
        }
    }
    let mut rest = rest.into_iter();
    let path = rest.next().unwrap_or_else(|| "examples/quillmere/scheme.kdl".to_owned());
    let only = rest.next();
    let reading = fiftytwo_scheme::read_path(std::path::Path::new(&path));
    let Some(scheme) = reading.scheme else { return };
    let began = Mutex::new(HashMap::new());
    let told = |stage: Stage<'_>| {
        let mut out = std::io::stdout();
        let _ = match stage {
            Stage::Asks { question, .. } => {
                if let Ok(mut began) = began.lock() {
                    began.insert((question.claim.clone(), question.asks.clone()), spent());
                }
                Ok(())
            }
            Stage::Answered(report) => {
                let key = (report.claim.clone(), report.asks.clone());
                let began = began.lock().ok().and_then(|mut began| began.remove(&key));
                let took = began.map_or(0.0, |began| spent() - began);
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
                for margin in &report.margins {
                    result = writeln!(out, "      {margin:?}");
                }
                result
            }
        };
    };
    let options = Options {
        margins,
        only: only.as_deref(),
        progress: Some(Progress(&told)),
        ..Options::default()
    };
    let start = Instant::now();
    let Ok(proof) = prove(&scheme, &options) else { return };
    let positions: usize = proof.reports.iter().map(|report| report.positions).sum();
    let mut out = std::io::stdout();
    let (took, many) = (start.elapsed().as_secs_f64(), proof.reports.len());
    let _ = writeln!(out, "{:8.3} s all {many} in {took:.3} s, {positions} positions", spent());
    if let Some(path) = all {
        let _ = std::fs::write(path, format!("{:#?}\n", proof.reports));
    }
}
