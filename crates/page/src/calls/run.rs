//! Plays a run: what happened, why, what is under way.

use super::read::Manner;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::drawn::{Mark, groups, way};
use crate::handles::{Band, Said, bands};
use crate::model::Model;
use crate::run::{Led, Played, Start};
use crate::server::Shared;
use crate::told;
use fiftytwo_motion::machine::UnitKind;
use fiftytwo_motion::timeline::{Came, Event, Outcome, Row};
use fiftytwo_scene::state::milliseconds;
use fiftytwo_scheme::{PartId, PartKind};
use fiftytwo_sheet::Drawing;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    #[serde(flatten)]
    led: Led,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    run: String,
    now_us: i64,
    quiet: bool,
    /// Something is still under way behind the end.
    more: bool,
    /// Where it began, to go on by hand.
    start: Start,
    /// All acts, those of the story too, to go on by hand.
    acts: Vec<Said>,
    events: Vec<Happened>,
    rows: Vec<Row>,
    pending: Vec<Coming>,
    /// Acts that nobody may do, which were left out.
    refused: Option<String>,
    refused_acts: Vec<usize>,
    stuck: Option<String>,
    bands: Vec<Band>,
    notes: Vec<String>,
    outcomes: Vec<Outcome>,
    given: Vec<String>,
    played: String,
}

/// An event.
#[derive(Debug, Serialize)]
struct Happened {
    n: usize,
    time_us: i64,
    time_ms: f64,
    /// Its time in words, as everywhere.
    when: String,
    device: String,
    what: String,
    why: String,
    by: &'static str,
    minor: bool,
    movement: String,
    line: usize,
    /// The group on the sheets of what moved.
    part: Option<String>,
    sheet: Option<usize>,
    path: Vec<String>,
    marks: Vec<Mark>,
    cause: Option<usize>,
    volts: Option<(f64, f64)>,
    kind: &'static str,
}

#[derive(Debug, Serialize)]
struct Coming {
    what: String,
    earliest_us: i64,
    latest_us: Option<i64>,
}

pub async fn run(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| told(model, text, &asked)).await
}

fn told(model: &Model<'_>, text: String, asked: &Asked) -> Result<Told, Refusal> {
    let led = &asked.led;
    let played = led.played(model)?;
    let Played { key, acted, .. } = &*played;
    let evaluator = model.evaluator()?;
    let look = evaluator.look(&acted.last);
    let drawing = model.drawing(asked.manner.symbols());
    let places = groups(drawing);
    let mut ways: BTreeMap<&[PartId], (Vec<String>, Vec<Mark>)> = BTreeMap::new();
    let timeline = &acted.timeline;
    let events = timeline
        .events
        .iter()
        .enumerate()
        .map(|(n, event)| {
            let (path, marks) = ways
                .entry(&event.parts)
                .or_insert_with(|| along(drawing, model, &event.parts))
                .clone();
            let part = moved(model, event).and_then(|part| places.get(&part));
            Happened {
                n,
                time_us: event.time_us,
                time_ms: event.time_ms,
                when: milliseconds(event.time_us),
                device: event.device.clone(),
                what: event.what.clone(),
                why: event.why.clone(),
                by: event.by,
                minor: event.minor,
                movement: event.movement.clone(),
                line: line(model, event),
                part: part.map(|(_, id)| id.clone()),
                sheet: part.map(|(sheet, _)| sheet + 1),
                path,
                marks,
                cause: event.cause,
                volts: event.volts,
                kind: match event.came {
                    Came::Moved => "moved",
                    Came::Held => "held",
                    Came::GaveUp => "gave up",
                },
            }
        })
        .collect();
    let pending = acted.pending.iter();
    Ok(Told {
        text,
        run: key.clone(),
        now_us: acted.now,
        quiet: acted.is_quiet(),
        more: !acted.is_quiet(),
        start: Start { given: played.given.clone() },
        acts: all_acts(&played.story, &led.acts),
        events,
        rows: rows(&timeline.rows, acted.now),
        pending: pending
            .map(|it| Coming {
                what: it.what.clone(),
                earliest_us: it.earliest,
                latest_us: it.latest,
            })
            .collect(),
        refused: acted.refused.last().map(|it| it.sentence.clone()),
        refused_acts: acted.refused.iter().map(|it| it.act).collect(),
        stuck: timeline
            .stuck
            .as_ref()
            .map(|devices| format!("Time does not go on: {devices} move without end.")),
        bands: bands(model.scheme, &look, |span| told::line(model.places, span)),
        notes: timeline.notes.clone(),
        outcomes: timeline.outcomes.clone(),
        given: timeline.given.clone(),
        played: timeline.played.clone(),
    })
}

fn all_acts(story: &[Said], by_hand: &[Said]) -> Vec<Said> {
    let mut all: Vec<Said> = story.iter().chain(by_hand).cloned().collect();
    all.sort_by_key(|said| said.at_us);
    all
}

fn along(drawing: &Drawing, model: &Model<'_>, parts: &[PartId]) -> (Vec<String>, Vec<Mark>) {
    if parts.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let way = way(drawing, model.scheme, parts);
    (way.ids, way.marks)
}

/// The rows in which something changes, in the order of their first change.
fn rows(rows: &[Row], now: i64) -> Vec<Row> {
    let first = |row: &Row| {
        let ends = row.so.iter().flat_map(|(from, to)| [*from, *to]);
        ends.filter(|at| 0 < *at && *at < now).min().or_else(|| {
            row.so.iter().any(|(from, to)| *from == 0 && *to < now || *from == now).then_some(0)
        })
    };
    let mut moving: Vec<(i64, &Row)> =
        rows.iter().filter_map(|row| Some((first(row)?, row))).collect();
    moving.sort_by_key(|(at, _)| *at);
    moving.into_iter().map(|(_, row)| row.clone()).collect()
}

/// The part on the sheets that stands for what moved.
pub fn moved(model: &Model<'_>, event: &Event) -> Option<PartId> {
    let scheme = model.scheme;
    let evaluator = model.evaluator().ok()?;
    let of_device = |device: fiftytwo_scheme::DeviceId| {
        let parts = || scheme.devices[device].parts.iter().copied();
        let placed = |part: &PartId| scheme.parts[*part].at.is_some();
        let coil = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Coil(_));
        parts().filter(placed).find(coil).or_else(|| parts().find(placed))
    };
    match event.unit.map(|unit| &evaluator.machine.units[unit].kind) {
        Some(UnitKind::Contact(part) | UnitKind::Input(part))
        | Some(UnitKind::Fuse(part) | UnitKind::Link(part)) => Some(*part),
        Some(UnitKind::Stroke(device)) => {
            let driven = event.parts.iter().copied();
            driven
                .filter(|part| scheme.parts[*part].device == Some(*device))
                .find(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_)))
                .or_else(|| of_device(*device))
        }
        Some(
            UnitKind::Hand(device)
            | UnitKind::Relay(device)
            | UnitKind::Bistable(device)
            | UnitKind::Energy(device)
            | UnitKind::Overload(device),
        ) => of_device(*device),
        Some(UnitKind::Logic(logic)) => of_device(scheme.logics[*logic].device),
        Some(
            UnitKind::Condition(_) | UnitKind::Order(_) | UnitKind::Supply(_) | UnitKind::Stay(_),
        ) => None,
        None => event
            .parts
            .iter()
            .copied()
            .find(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_))),
    }
}

/// The line of what moved; 0 if it is written in another file.
fn line(model: &Model<'_>, event: &Event) -> usize {
    let main = model.reading.sources.files.values().next().map(|file| file.name.as_str());
    let Some((file, place)) = event.at.as_deref().and_then(|at| {
        let (rest, _) = at.rsplit_once(':')?;
        rest.rsplit_once(':')
    }) else {
        return 0;
    };
    if Some(file) == main { place.parse().unwrap_or(0) } else { 0 }
}
