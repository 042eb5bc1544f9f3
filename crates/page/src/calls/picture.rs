//! A sheet at a moment of a run: where every wire lies, what every part does.

use super::read::Manner;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::handles::{Band, bands};
use crate::model::Model;
use crate::run::Led;
use crate::server::Shared;
use fiftytwo_motion::Acted;
use fiftytwo_scene::state::{Seen, milliseconds, seen};
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme};
use fiftytwo_sheet::geometry::Role;
use fiftytwo_sheet::{Level, Live, PartNow, WireNow, shown_volts};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    #[serde(flatten)]
    led: Led,
    /// The event after which; none: now.
    #[serde(default)]
    event: Option<usize>,
    /// The number of the sheet, from 1.
    #[serde(default = "first")]
    sheet: usize,
    #[serde(flatten)]
    manner: Manner,
    /// Leave the drawing out: its parts and wires alone say the state.
    #[serde(default)]
    without_svg: bool,
}

fn first() -> usize {
    1
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    run: String,
    svg: Option<String>,
    moment: String,
    time_us: i64,
    parts: BTreeMap<String, PartSaid>,
    wires: BTreeMap<String, WireSaid>,
    /// Everything that can be done from outside, at this moment.
    bands: Vec<Band>,
    /// What the volts stand for.
    notes: Vec<String>,
}

#[derive(Debug, Serialize)]
struct PartSaid {
    closed: Option<bool>,
    on: Option<bool>,
    note: Option<String>,
    amps: Option<f64>,
    changed: bool,
    words: String,
}

#[derive(Debug, Serialize)]
struct WireSaid {
    level: &'static str,
    volts: Option<f64>,
    words: String,
}

pub async fn picture(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| told(model, text, &asked)).await
}

fn told(model: &Model<'_>, text: String, asked: &Asked) -> Result<Told, Refusal> {
    let played = asked.led.played(model)?;
    let acted = &played.acted;
    let live = live(model, acted, asked.event)?;
    let symbols = asked.manner.symbols();
    let drawn;
    let missing = || Refusal::missing("There is no sheet to draw.", "Write a circuit first.");
    let sheet = if asked.without_svg {
        let sheets = &model.drawing(symbols).sheets;
        let own = sheets.iter().find(|sheet| sheet.number == asked.sheet);
        own.or_else(|| sheets.first()).ok_or_else(missing)?
    } else {
        drawn = if asked.manner.plain {
            // The moment's title stands on paper only, and the same state may come again.
            let live = Live { title: String::new(), ..live.clone() };
            model.sheet_of(symbols, &live, asked.sheet)
        } else {
            model.sheet_of(symbols, &live, asked.sheet)
        };
        drawn.as_deref().ok_or_else(missing)?
    };
    let mut parts = BTreeMap::new();
    let mut wires = BTreeMap::new();
    for group in &sheet.items {
        match group.role {
            Role::Part(id) => {
                if let Some(now) = live.parts.get(&id) {
                    parts.insert(group.id.clone(), part_said(model.scheme, id, now));
                }
            }
            Role::Wire(node) if group.id.starts_with("wire-") => {
                if let Some(now) = live.wires.get(&node) {
                    let name = group.title.strip_prefix("wire ").unwrap_or(&group.title);
                    wires.insert(group.id.clone(), wire_said(model, node, name, now));
                }
            }
            _ => {}
        }
    }
    let time_us = asked
        .event
        .and_then(|event| acted.timeline.events.get(event))
        .map_or_else(|| standing_at(acted), |event| event.time_us);
    Ok(Told {
        text,
        run: played.key.clone(),
        svg: (!asked.without_svg).then(|| asked.manner.svg(sheet)),
        moment: live.title.clone(),
        time_us,
        parts,
        wires,
        bands: bands_at(model, acted, asked.event)?,
        notes: live.notes.clone(),
    })
}

fn bands_at(model: &Model<'_>, acted: &Acted, event: Option<usize>) -> Result<Vec<Band>, Refusal> {
    let look = model.evaluator()?.look(acted.state_at(event));
    Ok(bands(model.scheme, &look, |span| crate::told::line(model.places, span)))
}

/// The state at an event of a run (after it), with its volts.
///
/// # Errors
/// The volts of this moment are not known.
pub fn live(model: &Model<'_>, acted: &Acted, event: Option<usize>) -> Result<Live, Refusal> {
    let evaluator = model.evaluator()?;
    let seen_at = |event: Option<usize>| -> Seen {
        let state = match event {
            Some(event) => acted.states.get(event).unwrap_or(&acted.last),
            None => &acted.last,
        };
        seen(model.scheme, &evaluator.look(state))
    };
    // `states` has one more than there are events: the state before the first.
    let (now, before) = match event.filter(|event| *event < acted.timeline.events.len()) {
        Some(event) => (seen_at(Some(event + 1)), seen_at(Some(event))),
        None => (seen_at(None), seen_at(None)),
    };
    let live = now.live(&model.bench, Some(&before)).map_err(|fault| {
        Refusal::conflict(
            fault.message.clone(),
            fault.help.clone().unwrap_or_else(|| "The drawing stays at rest.".to_owned()),
        )
    })?;
    Ok(Live { title: moment(acted, event), ..live })
}

/// The time at the end of a run: while more is under way that of the last event. Nothing has moved since, and a
/// hand that acts now acts there.
fn standing_at(acted: &Acted) -> i64 {
    if acted.is_quiet() {
        acted.now
    } else {
        acted.timeline.events.last().map_or(0, |event| event.time_us)
    }
}

/// A moment in words: "351 ms: 52 closed: main contacts touch".
fn moment(acted: &Acted, event: Option<usize>) -> String {
    let events = &acted.timeline.events;
    match event.and_then(|event| events.get(event)) {
        Some(event) => format!("{}: {}", milliseconds(event.time_us), event.what),
        None if !acted.is_quiet() => {
            format!("{}: now; more is still under way", milliseconds(standing_at(acted)))
        }
        None if events.is_empty() => {
            format!("{}: nothing has happened yet", milliseconds(acted.now))
        }
        None => format!("{}: now", milliseconds(acted.now)),
    }
}

/// A part in words: "25 permit, closed now".
pub fn part_said_words(scheme: &Scheme, id: PartId, now: &PartNow) -> String {
    let part = &scheme.parts[id];
    let name = &part.name;
    let state = match (&part.kind, now.closed, now.on) {
        (PartKind::Contact(_), Some(closed), _) => {
            if closed {
                "closed now"
            } else {
                "open now"
            }
        }
        (PartKind::Link, Some(closed), _) => {
            if closed {
                "closed"
            } else {
                "opened by hand"
            }
        }
        (PartKind::Fuse { .. }, Some(closed), _) => {
            if closed {
                "whole"
            } else {
                "blown"
            }
        }
        (PartKind::Coil(_), _, Some(on)) => {
            if on {
                "driven"
            } else {
                "not driven"
            }
        }
        (PartKind::Lamp(_), _, Some(on)) => {
            if on {
                "lit"
            } else {
                "dark"
            }
        }
        (PartKind::Motor(_), _, Some(on)) => {
            if on {
                "running"
            } else {
                "standing"
            }
        }
        (PartKind::Input(_), _, Some(on)) => {
            if on {
                "on"
            } else {
                "off"
            }
        }
        _ => "",
    };
    let kind = match part.kind {
        PartKind::Contact(_) => "",
        ref other => crate::told::kind(other),
    };
    let note = now.note.as_deref().filter(|_| matches!(part.kind, PartKind::Coil(_)));
    let mut words = if kind.is_empty() || name.contains(kind) {
        name.clone()
    } else {
        format!("{kind} {name}")
    };
    for more in [Some(state), note].into_iter().flatten().filter(|more| !more.is_empty()) {
        words.push_str(", ");
        words.push_str(more);
    }
    words
}

fn part_said(scheme: &Scheme, id: PartId, now: &PartNow) -> PartSaid {
    PartSaid {
        closed: now.closed,
        on: now.on,
        note: now.note.clone(),
        amps: now.amps,
        changed: now.pointed_at,
        words: part_said_words(scheme, id, now),
    }
}

fn wire_said(model: &Model<'_>, node: NodeId, name: &str, now: &WireNow) -> WireSaid {
    let (level, volts) = match (now.level, now.volts) {
        (Level::Floating, _) | (_, None) => ("floating", None),
        (Level::Plus, volts) => ("plus", volts),
        (Level::Minus, volts) => ("minus", volts),
        (Level::Between, volts) => ("between", volts),
    };
    WireSaid { level, volts, words: wire_words(model, node, name, now) }
}

/// A wire in words: "wire C1 at plus, 125 V to DC1-".
pub fn wire_words(model: &Model<'_>, node: NodeId, name: &str, now: &WireNow) -> String {
    let Some(volts) = now.volts.filter(|_| now.level != Level::Floating) else {
        return format!("wire {name} floats: a meter may show anything");
    };
    let supply = model.bench.supply_of(node);
    let minus = supply.and_then(|supply| {
        let minus = model.scheme.supplies[supply].minus;
        model.scheme.nodes[minus].wire.clone()
    });
    let minus = minus.unwrap_or_else(|| "minus".to_owned());
    let lies = match now.level {
        Level::Plus => "at plus",
        Level::Minus => "at minus",
        Level::Between | Level::Floating => "between plus and minus",
    };
    format!("wire {name} {lies}, {} to {minus}", shown_volts(volts))
}
