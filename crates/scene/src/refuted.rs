//! The story that breaks a claim, as pictures. **In:** the replayed run, state by state. **Out:** its
//! timeline, and a storyboard of its decisive moments. **Never here:** a search, a verdict.

use crate::state::{self, Seen, seen};
use fiftytwo_circuit::Bench;
use fiftytwo_motion::machine::{Evaluator, Scope, State};
use fiftytwo_motion::rows::rows_of;
use fiftytwo_motion::timeline::{Event, StepKind};
use fiftytwo_motion::{Machine, Replay, Timeline};
use fiftytwo_scheme::{DeviceKind, Finding, PartId, Scheme};
use fiftytwo_sheet::{Drawing, Panel, Symbols, pictures, storyboard};

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

/// A moment: an event and the state after everything that happens at its time.
struct Moment<'a> {
    event: &'a Event,
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
    let timeline = run(&evaluator, title, replay);
    let bench = Bench::new(scheme);
    let mut panels: Vec<Panel> = Vec::new();
    let mut before: Option<Seen> = None;
    for moment in decisive(scheme, &evaluator, replay) {
        let live = moment.seen.live(&bench, before.as_ref())?;
        let Event { device, what, why, .. } = moment.event;
        let what =
            if what.contains(device.as_str()) { what.clone() } else { format!("{device} {what}") };
        let when = state::milliseconds(moment.event.time_us);
        panels.push(Panel { when, what, why: why.clone(), live });
        before = Some(moment.seen);
    }
    Ok(Pictures {
        timeline: pictures::timeline(&state::picture(scheme, &timeline)),
        board: storyboard(scheme, symbols, title, &panels),
    })
}

/// The replay as a run with its chart.
fn run(evaluator: &Evaluator<'_, '_>, title: &str, replay: &Replay) -> Timeline {
    let end_us = replay.times.last().copied().unwrap_or(0).max(0) + AFTER;
    let times = std::iter::once(0).chain(replay.times.iter().copied());
    let timed: Vec<(i64, &State)> = times.zip(&replay.states).collect();
    Timeline {
        story: title.to_owned(),
        given: vec!["A story that breaks this claim".to_owned()],
        played: "replayed at times within the declared ranges".to_owned(),
        events: replay.events.clone(),
        rows: rows_of(evaluator, &timed, end_us),
        outcomes: Vec::new(),
        notes: Vec::new(),
        end_us,
        stuck: None,
    }
}

/// At most [`MOST`] moments in order of time: the last, those at which something gave up, at which a
/// breaker's coil is driven or let go, hands, then whatever else is told; later before earlier.
fn decisive<'a>(
    scheme: &Scheme,
    evaluator: &Evaluator<'_, '_>,
    replay: &'a Replay,
) -> Vec<Moment<'a>> {
    let mut moments: Vec<Moment<'a>> = Vec::new();
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
            // One time, one moment: with the event that tells most, and the state after the last.
            Some(last) if last.event.time_us == event.time_us => {
                last.seen = seen;
                if weight >= last.weight {
                    last.event = event;
                }
                last.weight = last.weight.max(weight);
            }
            _ => moments.push(Moment { event, seen, weight }),
        }
    }
    moments.retain(|moment| moment.weight > 0);
    while moments.len() > MOST {
        let least = moments.iter().enumerate().min_by_key(|(_, moment)| moment.weight);
        let Some((least, _)) = least else { break };
        moments.remove(least);
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
