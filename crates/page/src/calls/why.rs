//! Why something happened, and why something does not.

use super::read::Manner;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::drawn::{Mark, groups, way};
use crate::model::Model;
use crate::run::{Led, Played};
use crate::server::Shared;
use fiftytwo_motion::{Event, Goal, why_not as ask};
use fiftytwo_scene::state::milliseconds;
use fiftytwo_scheme::{DeviceKind, PartId, PartKind, Scheme};
use serde::{Deserialize, Serialize};

#[derive(Debug, Deserialize)]
pub struct Why {
    scheme: Which,
    #[serde(flatten)]
    led: Led,
    event: usize,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Serialize)]
pub struct Because {
    text: String,
    sentence: String,
    beside: String,
    path: Vec<String>,
    marks: Vec<Mark>,
    /// The cause, its cause, and so on.
    causes: Vec<usize>,
}

#[derive(Debug, Deserialize)]
pub struct WhyNot {
    scheme: Which,
    #[serde(flatten)]
    led: Led,
    /// The event after which; none: now.
    #[serde(default)]
    at: Option<usize>,
    #[serde(default)]
    goal: Option<Wanted>,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Wanted {
    Device { device: String, to: String },
    Coil { coil: String },
}

#[derive(Debug, Serialize)]
pub struct Stands {
    text: String,
    goal: String,
    sentence: String,
    beside: String,
    coil: Option<String>,
    stands: Vec<Bar>,
    enough: bool,
    then: Vec<String>,
    soon: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Bar {
    part: Option<String>,
    sheet: Option<usize>,
    words: String,
    /// One of several of which one is enough.
    or: bool,
    /// The event that left it open.
    cause: Option<usize>,
}

/// Most steps back that are told.
const MOST_CAUSES: usize = 100;

pub async fn why(shared: &Shared, asked: Why) -> Result<Because, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| because(model, text, &asked)).await
}

fn because(model: &Model<'_>, text: String, asked: &Why) -> Result<Because, Refusal> {
    let played = asked.led.played(model)?;
    let events = &played.acted.timeline.events;
    let event = events.get(asked.event).ok_or_else(no_event)?;
    let mut causes = Vec::new();
    let mut at = event.cause;
    while let Some(cause) = at.filter(|cause| causes.len() < MOST_CAUSES && !causes.contains(cause))
    {
        causes.push(cause);
        at = events.get(cause).and_then(|event| event.cause);
    }
    let came_of = event
        .cause
        .and_then(|cause| events.get(cause))
        .map(|cause| format!("Because of {}: {}.", milliseconds(cause.time_us), cause.what));
    let why = Some(sentence_of(&event.why)).filter(|why| !why.is_empty());
    let path = way(model.drawing(asked.manner.symbols()), model.scheme, &event.parts);
    Ok(Because {
        text,
        sentence: format!("{}: {}.", milliseconds(event.time_us), event.what),
        beside: [why, came_of].into_iter().flatten().collect::<Vec<_>>().join(" "),
        path: path.ids,
        marks: path.marks,
        causes,
    })
}

fn sentence_of(words: &str) -> String {
    let mut letters = words.chars();
    let Some(first) = letters.next() else { return String::new() };
    let mut sentence: String = first.to_uppercase().chain(letters).collect();
    if !sentence.ends_with('.') {
        sentence.push('.');
    }
    sentence
}

fn no_event() -> Refusal {
    Refusal::unclear("There is no such event in this run.")
}

pub async fn why_not(shared: &Shared, asked: WhyNot) -> Result<Stands, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| stands(model, text, &asked)).await
}

fn stands(model: &Model<'_>, text: String, asked: &WhyNot) -> Result<Stands, Refusal> {
    let WhyNot { at, goal: wanted, .. } = asked;
    let at = *at;
    let played = asked.led.played(model)?;
    let evaluator = model.evaluator()?;
    let scheme = model.scheme;
    let acted = &played.acted;
    let state = acted.state_at(at);
    let drawing = model.drawing(asked.manner.symbols());
    let places = groups(drawing);
    let goal = match wanted {
        Some(wanted) => goal(scheme, wanted, |id| {
            places.iter().find(|(_, (_, group))| group == id).map(|(part, _)| *part)
        })?,
        None => usual_goal(scheme, |device| {
            evaluator.look(state).atom(fiftytwo_scheme::Atom::Position(device, 1)).sure()
        })?,
    };
    // What is under way is known for now only.
    let (now, pending) = match at.and_then(|at| acted.timeline.events.get(at)) {
        Some(event) => (event.time_us, &[][..]),
        None => (acted.now, acted.pending.as_slice()),
    };
    let answer = ask(evaluator, state, goal, (now, pending));
    let bar = |bar: &fiftytwo_motion::why_not::Bar, or: bool| {
        let place = places.get(&bar.part);
        Bar {
            part: place.map(|(_, id)| id.clone()),
            sheet: place.map(|(sheet, _)| sheet + 1),
            words: bar.words.clone(),
            or,
            cause: opened_by(model, &played, at, bar.part),
        }
    };
    let bars = answer.bars.iter().map(|it| bar(it, false));
    let stands = bars.chain(answer.one_of.iter().map(|it| bar(it, true))).collect();
    Ok(Stands {
        text,
        goal: answer.goal,
        sentence: answer.sentence,
        beside: answer.beside,
        coil: answer.coil.and_then(|coil| places.get(&coil)).map(|(_, id)| id.clone()),
        stands,
        enough: answer.enough,
        then: answer.then,
        soon: answer.soon,
    })
}

/// The last event before which a contact was closed.
fn opened_by(model: &Model<'_>, played: &Played, at: Option<usize>, part: PartId) -> Option<usize> {
    let evaluator = model.evaluator().ok()?;
    let events: &[Event] = &played.acted.timeline.events;
    let last = at.map_or(events.len(), |at| at + 1).min(events.len());
    (0..last).rev().find(|event| {
        let state = played.acted.states.get(*event);
        state.is_some_and(|state| evaluator.look(state).closed(part).sure())
    })
}

fn goal(
    scheme: &Scheme,
    wanted: &Wanted,
    by_group: impl Fn(&str) -> Option<PartId>,
) -> Result<Goal, Refusal> {
    match wanted {
        Wanted::Coil { coil } => {
            let part = by_group(coil).or_else(|| scheme.part_named(coil));
            part.filter(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_)))
                .map(Goal::Coil)
                .ok_or_else(|| Refusal::unclear(format!("{coil:?} is no coil of this text.")))
        }
        Wanted::Device { device, to } => {
            let id = scheme.device_named(device).ok_or_else(|| {
                Refusal::unclear(format!("There is no device {device:?} in this text."))
            })?;
            let positions = &scheme.devices[id].positions;
            let index = positions.iter().position(|position| position == to);
            let index = index
                .and_then(|index| u8::try_from(index).ok())
                .ok_or_else(|| Refusal::unclear(format!("{device} has no position {to:?}.")))?;
            Ok(Goal::Position(id, index))
        }
    }
}

/// The breaker's next move.
fn usual_goal(
    scheme: &Scheme,
    closed: impl Fn(fiftytwo_scheme::DeviceId) -> bool,
) -> Result<Goal, Refusal> {
    let is_breaker =
        |device: &fiftytwo_scheme::Device| matches!(device.kind, DeviceKind::Breaker { .. });
    let breaker = scheme.devices.iter().find(|(_, device)| is_breaker(device));
    breaker.map(|(id, _)| Goal::Position(id, u8::from(!closed(id)))).ok_or_else(|| {
        Refusal::conflict("This scheme has no breaker.", "Choose a coil on the drawing first.")
    })
}
