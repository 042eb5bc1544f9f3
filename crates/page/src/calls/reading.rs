//! What a meter should show at a wire, at a moment of a run.

use super::picture::{live, wire_words};
use super::read::Manner;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::model::Model;
use crate::run::Led;
use crate::server::Shared;
use fiftytwo_scene::state::milliseconds;
use fiftytwo_scheme::PartKind;
use fiftytwo_sheet::geometry::Role;
use fiftytwo_sheet::shown_volts;
use serde::{Deserialize, Serialize};

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    #[serde(flatten)]
    led: Led,
    /// The event after which; none: now.
    #[serde(default)]
    at: Option<usize>,
    /// The group of a piece of wire.
    wire: String,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    sentence: String,
    beside: String,
}

pub async fn reading(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| told(model, text, &asked)).await
}

fn told(model: &Model<'_>, text: String, asked: &Asked) -> Result<Told, Refusal> {
    let played = asked.led.played(model)?;
    let acted = &played.acted;
    let scheme = model.scheme;
    let found = model.drawing(asked.manner.symbols()).sheets.iter().find_map(|sheet| {
        let group = sheet.items.iter().find(|group| group.id == asked.wire)?;
        match group.role {
            Role::Wire(node) => Some((node, group.title.as_str())),
            _ => None,
        }
    });
    let (node, title) = found.ok_or_else(|| {
        Refusal::conflict("This wire is not on the drawing any more.", "Choose another one.")
    })?;
    let name = title.strip_prefix("wire ").unwrap_or(title);
    let now = live(model, acted, asked.at)?;
    let wire = now.wires.get(&node).copied();
    let sentence = wire.map_or_else(
        || format!("Nothing is known of the wire {name}."),
        |wire| format!("{}.", capital(&wire_words(model, node, name, &wire))),
    );
    let mut beside = vec![format!("In {}.", place(model, node))];
    let cores: Vec<String> = scheme
        .placed()
        .filter(|(_, part)| part.at.is_some_and(|at| at.from == node || at.to == node))
        .filter_map(|(_, part)| match &part.kind {
            PartKind::Core(core) => {
                let numbers: Vec<String> = core.cores.iter().map(u32::to_string).collect();
                Some(format!("{} core {}", scheme.cables[core.cable].name, numbers.join(", ")))
            }
            PartKind::Terminal => Some(format!("terminal {}", part.name)),
            _ => None,
        })
        .collect();
    if !cores.is_empty() {
        beside.push(format!("On it: {}.", cores.join("; ")));
    }
    if let Some(becomes) = becomes(model, asked, node)? {
        beside.push(becomes);
    }
    beside.push("Expected, not measured; supplies at nominal volts.".to_owned());
    Ok(Told { text, sentence, beside: beside.join(" ") })
}

/// The next event at which the wire shows something else.
fn becomes(
    model: &Model<'_>,
    asked: &Asked,
    node: fiftytwo_scheme::NodeId,
) -> Result<Option<String>, Refusal> {
    let played = asked.led.played(model)?;
    let acted = &played.acted;
    let Some(at) = asked.at else { return Ok(None) };
    let now = live(model, acted, Some(at))?.wires.get(&node).copied();
    // A wire that never changes would make this long: the next few events are enough.
    for (event, it) in acted.timeline.events.iter().enumerate().skip(at + 1).take(40) {
        let then = live(model, acted, Some(event))?.wires.get(&node).copied();
        let differs = match (now, then) {
            (Some(now), Some(then)) => {
                now.level != then.level
                    || match (now.volts, then.volts) {
                        (Some(a), Some(b)) => (a - b).abs() > 1.0,
                        (a, b) => a.is_some() != b.is_some(),
                    }
            }
            (a, b) => a.is_some() != b.is_some(),
        };
        if differs {
            let volts = then.and_then(|wire| wire.volts);
            let shows = volts.map_or_else(|| "floating".to_owned(), shown_volts);
            let when = milliseconds(it.time_us);
            return Ok(Some(format!("At {when} it becomes {shows}: {}.", it.what)));
        }
    }
    Ok(None)
}

fn place(model: &Model<'_>, node: fiftytwo_scheme::NodeId) -> String {
    let place = &model.scheme.places[model.scheme.nodes[node].place];
    let about = place.description.split(',').next().unwrap_or_default().trim();
    if about.is_empty() { place.name.clone() } else { about.to_owned() }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
