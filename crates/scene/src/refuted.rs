//! The story that breaks a claim, as pictures. **In:** the replayed run, state by state. **Out:** its
//! timeline, and a storyboard of its decisive moments. **Never here:** a search, a verdict.

use crate::chart;
use crate::state::{self, Seen, seen};
use crate::told::{Told, told};
use fiftytwo_circuit::Bench;
use fiftytwo_motion::machine::{Evaluator, Scope, State};
use fiftytwo_motion::rows::rows_of;
use fiftytwo_motion::timeline::StepKind;
use fiftytwo_motion::{Machine, Replay, Timeline};
use fiftytwo_scheme::{DeviceKind, Finding, PartId, Scheme};
use fiftytwo_sheet::{Drawing, Panel, Symbols, board_circuit, pictures, storyboard};

/// Most moments of a storyboard.
const MOST: usize = 8;
/// What a chart shows after the last event, µs.
const AFTER: i64 = 20_000;

/// The pictures of a story.
#[derive(Debug)]
pub struct Pictures {
    /// Everything that moves, over time.
    pub timeline: Drawing,
    /// The decisive moments side by side; none: nothing of a circuit moves.
    pub board: Option<Drawing>,
}

/// A moment: the state after everything that happens at its time.
struct Moment {
    at: i64,
    /// Where the run begins.
    first: bool,
    seen: Seen,
    /// How much it tells.
    weight: usize,
}

/// Draws the story of a refuted claim. `title`: what was asked.
///
/// # Errors
/// Where the volts of a moment are not known: nothing is drawn then.
pub fn draw(
    machine: &Machine<'_>,
    title: &str,
    replay: &Replay,
    symbols: Symbols,
) -> Result<Pictures, Finding> {
    let scheme = machine.scheme;
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let title = format!("A run that breaks the claim: {title}");
    let timeline = run(&evaluator, &title, replay);
    let bench = Bench::new(scheme);
    let mut panels: Vec<Panel> = Vec::new();
    let mut before: Option<Seen> = None;
    let moments = moments(scheme, &evaluator, replay);
    for moment in &moments {
        let live = moment.seen.live(&bench, before.as_ref())?;
        let when = state::milliseconds(moment.at);
        panels.push(Panel { when, what: String::new(), why: String::new(), live });
        before = Some(moment.seen.clone());
    }
    let circuit = board_circuit(scheme, &title, &panels);
    let mut since = i64::MIN;
    for (panel, moment) in panels.iter_mut().zip(&moments) {
        let Told { what, why } = if moment.first {
            let stands = timeline.given.join(", ");
            Told { what: "where the run begins".to_owned(), why: stands }
        } else {
            told(scheme, &replay.events, circuit, (since, moment.at))
        };
        (panel.what, panel.why) = (what, why);
        since = moment.at;
    }
    Ok(Pictures {
        timeline: pictures::timeline(&chart::picture(scheme, &timeline)),
        board: storyboard(scheme, symbols, &title, &panels),
    })
}

/// The replay as a run with its chart.
fn run(evaluator: &Evaluator<'_, '_>, title: &str, replay: &Replay) -> Timeline {
    let end_us = replay.times.last().copied().unwrap_or(0).max(0) + AFTER;
    let times = std::iter::once(0).chain(replay.times.iter().copied());
    let timed: Vec<(i64, &State)> = times.zip(&replay.states).collect();
    let rows = rows_of(evaluator, &timed, end_us);
    let first = replay.states.first().map(|state| rows_of(evaluator, &[(0, state)], 1));
    let stands: Vec<String> = first.into_iter().flatten().map(|row| row.name).collect();
    let begins = if stands.is_empty() {
        "It begins with everything at rest, as drawn".to_owned()
    } else {
        format!("It begins with {}", stands.join(", "))
    };
    Timeline {
        story: title.to_owned(),
        given: vec![begins],
        played: "replayed at times within the declared ranges".to_owned(),
        events: replay.events.clone(),
        rows,
        outcomes: Vec::new(),
        notes: Vec::new(),
        end_us,
        stuck: None,
    }
}

/// The beginning, and at most [`MOST`] - 1 moments in order of time: the last, those at which something
/// gave up, at which a breaker's coil is driven or let go, hands, then whatever else is told; later
/// before earlier.
fn moments(scheme: &Scheme, evaluator: &Evaluator<'_, '_>, replay: &Replay) -> Vec<Moment> {
    let mut moments: Vec<Moment> = Vec::new();
    let mut coils: Option<Vec<(PartId, bool)>> = None;
    for (step, event) in replay.events.iter().enumerate() {
        let Some(after) = replay.states.get(step + 1) else { break };
        let seen = seen(scheme, &evaluator.look(after));
        let driven = breaker_coils(scheme, &seen);
        let turned = coils.as_ref().is_some_and(|before| *before != driven);
        coils = Some(driven);
        let gave_up = replay.given_up.iter().any(|(of, _)| *of == step);
        let is_last = step + 1 == replay.events.len();
        let told = !event.silent && !event.minor;
        let mut weight = usize::from(told);
        for (is_so, counts) in
            [(is_last, 16), (gave_up, 8), (turned, 4), (event.kind == StepKind::Hand, 2)]
        {
            weight += if is_so { counts } else { 0 };
        }
        match moments.last_mut() {
            // One time, one moment: the state after the last of its events.
            Some(last) if last.at == event.time_us => {
                last.seen = seen;
                last.weight = last.weight.max(weight);
            }
            _ => moments.push(Moment { at: event.time_us, first: false, seen, weight }),
        }
    }
    moments.retain(|moment| moment.weight > 0);
    while moments.len() > MOST - 1 {
        let least = moments.iter().enumerate().min_by_key(|(_, moment)| moment.weight);
        let Some((least, _)) = least else { break };
        moments.remove(least);
    }
    if let Some(start) = replay.states.first() {
        let seen = seen(scheme, &evaluator.look(start));
        moments.insert(0, Moment { at: 0, first: true, seen, weight: 0 });
    }
    moments
}

fn breaker_coils(scheme: &Scheme, seen: &Seen) -> Vec<(PartId, bool)> {
    let of_breaker = |part: &PartId| {
        let device = scheme.parts[*part].device.map(|device| &scheme.devices[device].kind);
        matches!(device, Some(DeviceKind::Breaker { .. }))
    };
    seen.on.iter().filter(|(part, _)| of_breaker(part)).map(|(part, on)| (*part, *on)).collect()
}
