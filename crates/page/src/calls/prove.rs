//! Asks the claims: verdicts come one by one, as they are found, a line of JSON each. Who asks the same
//! of the same text hears the same search, from its beginning; when nobody listens any more it stops.

use crate::answer::Refusal;
use crate::claim_story::decisive;
use crate::desks::Which;
use crate::hearing::Hearing;
use crate::joined;
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
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

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

/// How often it is looked whether the search goes on.
const LOOKS: Duration = Duration::from_millis(50);

pub async fn prove(shared: &Shared, asked: Asked) -> Result<Response, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    if !known.reading.is_usable() {
        return Err(unusable());
    }
    let (hearing, is_new) = match &asked.only {
        // A single claim is nobody else's question.
        Some(_) => (Arc::new(Hearing::begun()), true),
        None => known.proving.joined(),
    };
    let left = {
        let (known, hearing) = (known.clone(), hearing.clone());
        move || known.proving.left(&hearing)
    };
    let stream = hearing.heard(left);
    if is_new {
        begin(shared, known, asked.only, &hearing)?;
    }
    let mut response = Response::new(Body::from_stream(stream));
    let kind = HeaderValue::from_static("application/x-ndjson; charset=utf-8");
    response.headers_mut().insert(header::CONTENT_TYPE, kind);
    Ok(response)
}

fn begin(
    shared: &Shared,
    known: Arc<Known>,
    only: Option<String>,
    hearing: &Arc<Hearing>,
) -> Result<(), Refusal> {
    let (all_stop, watched) = (shared.stop.clone(), hearing.clone());
    tokio::spawn(async move {
        while !watched.is_over() && !all_stop.load(Ordering::Relaxed) {
            tokio::time::sleep(LOOKS).await;
        }
        watched.stop();
    });
    let own = hearing.clone();
    let work = move || {
        let ends = Ends { known: &known, hearing: &own };
        look_through(&known, only.as_deref(), &own);
        drop(ends);
    };
    let thread = std::thread::Builder::new().name("prove".to_owned()).spawn(work);
    if thread.is_err() {
        hearing.ended();
        return Err(Refusal::defect());
    }
    Ok(())
}

/// However a search ends, nobody waits for it any longer.
struct Ends<'a> {
    known: &'a Known,
    hearing: &'a Arc<Hearing>,
}

impl Drop for Ends<'_> {
    fn drop(&mut self) {
        self.hearing.ended();
        if !self.hearing.is_whole() {
            self.known.proving.forgotten(self.hearing);
        }
    }
}

fn say(hearing: &Hearing, line: &Line) {
    let Ok(mut bytes) = serde_json::to_vec(line) else { return };
    bytes.push(b'\n');
    match line {
        Line::Progress { .. } => hearing.asks(bytes),
        _ => hearing.says(bytes),
    }
}

fn look_through(known: &Known, only: Option<&str>, hearing: &Hearing) {
    let stop = hearing.brake();
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
            say(hearing, &Line::Progress { progress });
        }
        Stage::Answered(report) => {
            decided.fetch_add(1, Ordering::Relaxed);
            if !stop.load(Ordering::Relaxed) {
                let told = answered(known, report, line_of(report));
                say(hearing, &Line::Answered(Box::new(told)));
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
            say(hearing, &Line::Findings { findings });
        }
        Ok(mut proof) => {
            let partial = stop.load(Ordering::Relaxed);
            if !partial {
                // What is shown over all positions of the contacts, not by a search.
                let calculated = joined::calculated(scheme).unwrap_or_default();
                for report in
                    calculated.into_iter().filter(|it| only.is_none_or(|name| it.claim == name))
                {
                    let told = answered(known, &report, line_of(&report));
                    say(hearing, &Line::Answered(Box::new(told)));
                    proof.reports.push(report);
                }
            }
            let mut counts = BTreeMap::new();
            for report in proof.counted() {
                *counts.entry(report.verdict).or_insert(0) += 1;
            }
            if only.is_none() && !partial {
                known.stories.came_to(Came { of: proof.reports.len(), whole: true });
            }
            say(hearing, &Line::Done { done: true, partial, counts, assumes: proof.assumptions });
            hearing.came_to_its_end(!partial);
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
