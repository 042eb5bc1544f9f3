//! Asks the claims: verdicts come one by one, as they are found, a line of JSON each. Whoever closes
//! the connection stops the search.

use crate::answer::Refusal;
use crate::claim_story::decisive;
use crate::desks::Which;
use crate::model::{Known, unusable};
use crate::proven::Came;
use crate::server::Shared;
use crate::told;
use axum::body::Body;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use fiftytwo_proof::prove::{Progress, Stage};
use fiftytwo_proof::{Margin, Options, Report, Verdict, prove as search};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    /// Only the claims of this name.
    #[serde(default)]
    only: Option<String>,
}

/// One line of the answer.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum Line {
    Progress { progress: Asking },
    Answered(Box<Told>),
    Findings { findings: Vec<told::Finding> },
    Done { done: bool, partial: bool, counts: BTreeMap<Verdict, usize>, assumes: Vec<String> },
}

#[derive(Debug, Serialize)]
struct Asking {
    claim: String,
    asks: String,
    decided: usize,
    of: usize,
}

#[derive(Debug, Serialize)]
struct Told {
    id: String,
    claim: String,
    title: String,
    asks: String,
    about: String,
    verdict: Verdict,
    words: &'static str,
    because: Option<String>,
    covers: String,
    edges: Vec<Edge>,
    positions: usize,
    story: Option<Story>,
    waived: Option<String>,
    /// Asked across the loss and return of this supply: beside the claim, no finding.
    across: Option<String>,
    own: bool,
    line: usize,
}

#[derive(Debug, Serialize)]
struct Edge {
    first: String,
    declared_ms: f64,
    holds_to_ms: f64,
    fails_from_ms: Option<f64>,
    spare_ms: Option<f64>,
    words: String,
}

#[derive(Debug, Serialize)]
struct Story {
    /// For `run` and `picture`, as "claim_story".
    id: String,
    decisive: usize,
    events: usize,
    replayed: bool,
}

/// How many lines may wait for a slow reader.
const LINES: usize = 64;
/// How often it is looked whether anybody still listens.
const LOOKS: Duration = Duration::from_millis(50);

pub async fn prove(shared: &Shared, asked: Asked) -> Result<Response, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    if !known.reading.is_usable() {
        return Err(unusable());
    }
    let (lines, read) = mpsc::channel::<Result<Vec<u8>, Infallible>>(LINES);
    let stop = Arc::new(AtomicBool::new(false));
    let (brake, all_stop, listener) = (stop.clone(), shared.stop.clone(), lines.downgrade());
    tokio::spawn(async move {
        // Gone are the reader, or the searcher with its end of the channel.
        while listener.upgrade().is_some_and(|lines| !lines.is_closed())
            && !all_stop.load(Ordering::Relaxed)
        {
            tokio::time::sleep(LOOKS).await;
        }
        brake.store(true, Ordering::Relaxed);
    });
    std::thread::Builder::new()
        .name("prove".to_owned())
        .spawn(move || look_through(&known, asked.only.as_deref(), &stop, &lines))
        .map_err(|_| Refusal::defect())?;
    let mut response = Response::new(Body::from_stream(ReceiverStream::new(read)));
    let kind = HeaderValue::from_static("application/x-ndjson; charset=utf-8");
    response.headers_mut().insert(header::CONTENT_TYPE, kind);
    Ok(response)
}

type Lines = mpsc::Sender<Result<Vec<u8>, Infallible>>;

fn say(lines: &Lines, line: &Line) {
    let Ok(mut bytes) = serde_json::to_vec(line) else { return };
    bytes.push(b'\n');
    // Nobody listens any more: the brake is on its way.
    let _ = lines.blocking_send(Ok(bytes));
}

fn look_through(known: &Known, only: Option<&str>, stop: &AtomicBool, lines: &Lines) {
    let Some(scheme) = &known.reading.scheme else { return };
    let decided = AtomicUsize::new(0);
    let line_of = |report: &Report| told::line(&known.places, report.at);
    // The search calls from one thread; the sender needs no lock.
    let progress = |stage: Stage<'_>| match stage {
        Stage::Asks { of, question, .. } => {
            if only.is_none() {
                known.stories.came_to(Came { of, whole: false });
            }
            let progress = Asking {
                claim: question.claim.clone(),
                asks: question.asks.clone(),
                decided: decided.load(Ordering::Relaxed),
                of,
            };
            say(lines, &Line::Progress { progress });
        }
        Stage::Answered(report) => {
            decided.fetch_add(1, Ordering::Relaxed);
            if !stop.load(Ordering::Relaxed) {
                let told = answered(known, report, line_of(report));
                say(lines, &Line::Answered(Box::new(told)));
            }
        }
    };
    let options = Options {
        stop: Some(stop),
        only,
        progress: Some(Progress(&progress)),
        ..Options::default()
    };
    // One processor stays free for the hand on the drawing.
    let threads = std::thread::available_parallelism().map_or(1, |all| (all.get() - 1).max(1));
    let proof = match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(|| search(scheme, &options)),
        Err(_) => search(scheme, &options),
    };
    match proof {
        Err(findings) => {
            let findings = told::findings(&findings, &known.reading, &known.places);
            say(lines, &Line::Findings { findings });
        }
        Ok(proof) => {
            let mut counts = BTreeMap::new();
            for report in proof.counted() {
                *counts.entry(report.verdict).or_insert(0) += 1;
            }
            let partial = stop.load(Ordering::Relaxed);
            if only.is_none() && !partial {
                known.stories.came_to(Came { of: proof.reports.len(), whole: true });
            }
            say(lines, &Line::Done { done: true, partial, counts, assumes: proof.assumptions });
        }
    }
}

fn answered(known: &Known, report: &Report, line: usize) -> Told {
    let id = crate::text::hash(
        format!("{}\n{}\n{:?}", report.claim, report.asks, report.across).as_bytes(),
    );
    known.stories.keep(&id, report);
    let story = report.story.as_ref().map(|story| Story {
        id: id.clone(),
        decisive: decisive(&story.replay),
        events: story.events.len(),
        replayed: story.replayed,
    });
    Told {
        id,
        claim: report.claim.clone(),
        title: title(&report.claim),
        asks: report.asks.clone(),
        about: report.about.clone(),
        verdict: report.verdict,
        words: report.verdict.words(),
        waived: report.because.clone().filter(|_| report.verdict == Verdict::Waived),
        because: report.because.clone(),
        covers: report.covers.clone(),
        edges: report.margins.iter().map(edge).collect(),
        positions: report.positions,
        story,
        across: report.across.clone(),
        own: report.own,
        line,
    }
}

/// A claim's name as a heading.
fn title(claim: &str) -> String {
    let mut letters = claim.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn edge(margin: &Margin) -> Edge {
    Edge {
        first: format!("{} {}", margin.device, margin.the_move),
        declared_ms: margin.declared_ms,
        holds_to_ms: margin.holds_to_ms,
        fails_from_ms: margin.fails_from_ms,
        spare_ms: margin.fails_from_ms.map(|fails| (fails - margin.declared_ms).abs()),
        words: margin.words(),
    }
}
