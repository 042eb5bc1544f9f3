//! `prove`: every claim in every run, each with its verdict, its race, or its shortest story.

use crate::console;
use crate::input::Checked;
use crate::json::{Assumed, JsonClaim, JsonProof, Results, to_text};
use crate::output::Outputs;
use crate::page::{ASIDE, BAD, GOOD, OPEN, Page, painted, shown_width, wrapped};
use crate::report::Report;
use crate::verbs::events;
use crate::verbs::{file, notes, refuted};
use clap::builder::styling::Style;
use fiftytwo_page::joined;
use fiftytwo_proof::prove::{Progress, Stage};
use fiftytwo_proof::{Options, Proof, Report as Asked, Verdict, prove as search};
use fiftytwo_scheme::{Finding, Severity};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Where the question begins, after its verdict.
const INDENT: usize = 29;
/// Above the claims that are asked again while a supply is lost and comes back.
const ACROSS: &str = "across the loss and return of a supply (beside the claims, no finding)";

/// Proves the claims of the schemes; `places` is the most positions of one search.
pub fn prove<'a>(
    schemes: &[Checked<'a>],
    places: Option<usize>,
    full: bool,
    watched: Watched<'_>,
    out: Option<&Path>,
) -> Report<'a> {
    let mut page = Page::default();
    let mut findings = notes(schemes);
    let mut outputs = Outputs::default();
    let mut claims = Vec::new();
    let mut assumptions = Vec::new();
    let mut open = false;
    for checked in schemes {
        page.head(&checked.scheme.title);
        let proof = match proof(checked, places, watched) {
            Ok(proof) => proof,
            Err(faults) => {
                findings.extend(faults.into_iter().map(|it| checked.told(it)));
                continue;
            }
        };
        page.block(&told(&proof, full));
        findings.extend(self::findings(&proof).into_iter().map(|it| checked.told(it)));
        open |= proof.is_open();
        let (asked, assumed) = write(checked, &proof, out, &mut outputs);
        let drawn = refuted::pictures(checked, &proof, out, &mut outputs);
        findings.extend(drawn.into_iter().map(|it| checked.told(it)));
        claims.extend(asked);
        assumptions.push(assumed);
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings,
        results: Results {
            claims: Some(claims),
            assumptions: Some(assumptions),
            ..Results::default()
        },
        outputs,
        open,
        ..Report::default()
    }
}

/// The proof of one scheme.
///
/// # Errors
/// Findings where the scheme cannot be set in motion at all.
pub fn proof(
    checked: &Checked<'_>,
    places: Option<usize>,
    watched: Watched<'_>,
) -> Result<Proof, Vec<Finding>> {
    let mut options = Options { stop: watched.stop, ..Options::default() };
    if let Some(places) = places {
        options.places = places;
    }
    if !watched.shown {
        let mut proof = search(checked.scheme, &options)?;
        joined::join(checked.scheme, &mut proof)?;
        return Ok(proof);
    }
    let decided = AtomicUsize::new(0);
    let title = &checked.scheme.title;
    let progress = |stage: Stage<'_>| match stage {
        Stage::Asks { of, question, .. } => {
            let decided = decided.load(Ordering::Relaxed);
            console::while_waiting(&format!(
                "{title}: {decided} of {of} decided · {}",
                question.asks
            ));
        }
        Stage::Answered(_) => {
            decided.fetch_add(1, Ordering::Relaxed);
        }
    };
    options.progress = Some(Progress(&progress));
    let proof = search(checked.scheme, &options);
    console::while_waiting("");
    let mut proof = proof?;
    joined::join(checked.scheme, &mut proof)?;
    Ok(proof)
}

/// Who watches a search.
#[derive(Debug, Clone, Copy, Default)]
pub struct Watched<'a> {
    /// The brake.
    pub stop: Option<&'a AtomicBool>,
    /// Whether how far it is shows, to somebody who sits there and waits.
    pub shown: bool,
}

/// A proof's files, and what they hold as data.
pub fn write(
    checked: &Checked<'_>,
    proof: &Proof,
    out: Option<&Path>,
    outputs: &mut Outputs,
) -> (Vec<JsonClaim>, Assumed) {
    let file = checked.named.shown.clone();
    let claims = proof.reports.iter().map(|it| JsonClaim::new(&file, it, checked.sources));
    let claims: Vec<JsonClaim> = claims.collect();
    let assumes = proof.assumptions.clone();
    if let Some(folder) = out {
        let stem = &checked.named.stem;
        let plain = anstream::adapter::strip_str(&told(proof, true)).to_string();
        outputs.add(folder.join(format!("{stem}-prove.txt")), plain);
        let object = JsonProof { file: file.clone(), claims: &claims, assumes: &assumes };
        outputs.add(folder.join(format!("{stem}-prove.json")), to_text(&object));
    }
    (claims, Assumed { file, assumes })
}

/// All verdicts, stories behind them, and what they assume.
pub fn told(proof: &Proof, full: bool) -> String {
    let mut page = Page::default();
    let mut claim = "";
    for report in &proof.reports {
        let heading = if report.across.is_some() { ACROSS } else { &report.claim };
        if heading != claim {
            claim = heading;
            page.gap().line(&format!("  {claim}"));
        }
        page.block(&verdict(report));
        if let Some(story) = &report.story {
            page.gap().block(&events::story(story)).gap();
        }
        if full && report.verdict != Verdict::NotAsked {
            page.block(&behind(report));
        }
    }
    if proof.reports.is_empty() {
        page.words(2, 2, "no claim: write a matrix, so that there is something to prove");
    }
    page.gap().line("  Every verdict assumes");
    for assumed in &proof.assumptions {
        page.words(4, 2, &painted(ASIDE, &format!("· {assumed}")));
    }
    page.into_text()
}

/// One question: its verdict, what was asked, why, and the race.
pub fn verdict(report: &Asked) -> String {
    let mut page = Page::default();
    let (style, words) = words(report.verdict);
    let label = painted(style, words);
    let blank = " ".repeat(INDENT.saturating_sub(4 + shown_width(&label)));
    let asks = wrapped(&report.asks, INDENT, 0);
    for (idx, line) in asks.iter().enumerate() {
        if idx == 0 {
            page.line(&format!("    {label}{blank}{}", line.trim_start()));
        } else {
            page.line(line);
        }
    }
    if let Some(because) = &report.because {
        for line in wrapped(because, INDENT, 0) {
            page.line(&painted(ASIDE, &line));
        }
    }
    for margin in &report.margins {
        for line in wrapped(&margin.words(), INDENT, 2) {
            page.line(&painted(ASIDE, &line));
        }
    }
    page.into_text()
}

/// What a verdict covers, and runs that show that it is not empty.
fn behind(report: &Asked) -> String {
    let mut page = Page::default();
    for line in wrapped(&format!("covers: {}", report.covers), INDENT, 2) {
        page.line(&painted(ASIDE, &line));
    }
    for witness in &report.witnesses {
        let from = if witness.events.is_empty() { ", from the start" } else { "" };
        for line in wrapped(&format!("seen to happen{from}: {}", witness.shows), INDENT, 2) {
            page.line(&painted(ASIDE, &line));
        }
        page.block(&events::seen(&witness.events));
    }
    page.into_text()
}

/// A verdict in words, as the documentation has them.
pub fn words(verdict: Verdict) -> (Style, &'static str) {
    let style = match verdict {
        Verdict::HoldsInAnyOrder | Verdict::HoldsWithinTolerances => GOOD,
        Verdict::Fails => BAD,
        Verdict::NotProven | Verdict::Vacuous => OPEN,
        Verdict::Waived | Verdict::NotAsked => ASIDE,
    };
    (style, verdict.words())
}

/// What the verdicts find.
pub fn findings(proof: &Proof) -> Vec<Finding> {
    proof.counted().filter_map(finding).collect()
}

/// A finding where a verdict is one.
fn finding(report: &Asked) -> Option<Finding> {
    let (id, severity, message) = match report.verdict {
        Verdict::Fails => (id(report), Severity::Finding, format!("Not so: {}", report.asks)),
        Verdict::Vacuous => (
            "claim-vacuous",
            Severity::Finding,
            format!("Nothing was proven, what it speaks of never happens: {}", report.asks),
        ),
        Verdict::NotProven => {
            ("not-proven", Severity::Note, format!("Not proven: {}", report.asks))
        }
        _ => return None,
    };
    let n_events = report.story.as_ref().map(|story| story.events.len());
    let label = match n_events {
        Some(n) => format!("broken in {}", crate::page::count_of(n, "event")),
        None => "asked here".to_owned(),
    };
    let mut finding =
        Finding::new(id, severity, message).at(report.at, label).device(&report.about);
    if let Some(because) = &report.because {
        finding = finding.why(because);
    }
    if let Some(help) = help(report).filter(|_| report.verdict == Verdict::Fails) {
        finding = finding.help(help);
    }
    Some(finding)
}

/// What to do about a claim that fails.
fn help(report: &Asked) -> Option<&'static str> {
    use fiftytwo_proof::questions::names;
    Some(match report.claim.as_str() {
        names::NO_PUMPING => {
            "Let something hold the order off until it is withdrawn, sure to be quicker than the breaker closes and trips"
        }
        names::PERMISSIVES => {
            "Look in the story at what stood in the close circuit, and mend the circuit or the matrix: one of them is not what is wanted"
        }
        names::TRIP_FREE | names::EVERY_TRIP => {
            "Look in the story at what kept the trip from its coil, and mend the circuit or the trip's `needs`"
        }
        names::LOCKED_OUT => "Let the lockout open the close circuit until a person resets it",
        names::UNASKED => {
            "Write who tripped in the story as a `trip-by` of the matrix, with its `needs`, or take its contact out of the trip circuit"
        }
        names::HONEST => "Change what the lamp or input hangs on, or what its `shows` says",
        names::HANGS => {
            "Let a contact of its own device cut the coil off; if its maker allows it, `waive` with his word"
        }
        _ => return None,
    })
}

/// Our word for a claim that fails.
fn id(report: &Asked) -> &'static str {
    use fiftytwo_proof::questions::names;
    match report.claim.as_str() {
        names::NO_PUMPING => "pumps",
        names::PERMISSIVES => "permissive-fails",
        names::TRIP_FREE => "not-trip-free",
        names::LOCKED_OUT => "closes-locked-out",
        names::EVERY_TRIP => "trip-fails",
        names::UNASKED => "trips-unasked",
        names::HONEST => "monitor-misleads",
        names::HANGS => "left-driven",
        names::ENERGY => "energy-short",
        names::BACKUP => "backup-fails",
        names::APART => "supplies-not-apart",
        names::BREAKS => "breaks-too-much",
        _ => "claim-fails",
    }
}
