//! What if: declared numbers that can be drawn up and down, and what follows at once. The text is not
//! touched; the answer has the changes that would write the numbers into it.

use super::coils::{Coil, all as all_coils};
use super::edit::{InUnits, units};
use crate::answer::Refusal;
use crate::desks::Which;
use crate::model::{Known, Model};
use crate::server::Shared;
use crate::told;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::edit::{Change, changed, set};
use fiftytwo_scheme::{DeviceKind, PartKind, Severity, Span};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    levers: Vec<Lever>,
}

/// A number that can be drawn.
#[derive(Debug, Clone, Serialize)]
pub struct Lever {
    id: String,
    title: String,
    unit: String,
    value: f64,
    lo: f64,
    hi: f64,
    step: f64,
    /// How it is declared, in words: "declared 12 to 20 ms".
    declared: String,
    line: usize,
    /// The device whose race it moves, and how, for the edges.
    #[serde(skip)]
    race: Option<(String, &'static str)>,
    #[serde(skip)]
    property: &'static str,
    #[serde(skip)]
    span: Span,
    #[serde(skip)]
    written: Written,
    #[serde(skip)]
    end: End,
}

/// Which end of a range a lever moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Low,
    High,
}

/// A quantity taken apart: "12 to 20 ms".
#[derive(Debug, Clone, PartialEq)]
struct Written {
    lo: f64,
    hi: f64,
    unit: String,
}

impl Written {
    fn read(written: &str) -> Option<Self> {
        let words: Vec<&str> = written.split_whitespace().filter(|it| *it != "typical").collect();
        let number = |word: &str| word.parse::<f64>().ok().filter(|it| it.is_finite());
        match words[..] {
            [one, unit] => {
                let value = number(one)?;
                Some(Self { lo: value, hi: value, unit: unit.to_owned() })
            }
            [lo, "to", hi, unit] => {
                Some(Self { lo: number(lo)?, hi: number(hi)?, unit: unit.to_owned() })
            }
            _ => None,
        }
    }
    fn at(&self, end: End) -> f64 {
        match end {
            End::Low => self.lo,
            End::High => self.hi,
        }
    }
    /// With one end elsewhere, as it is written; the other end gives way.
    fn with(&self, end: End, value: f64) -> String {
        let (lo, hi) = match end {
            _ if (self.lo - self.hi).abs() < f64::EPSILON => (value, value),
            End::Low => (value, self.hi.max(value)),
            End::High => (self.lo.min(value), value),
        };
        let unit = &self.unit;
        if (lo - hi).abs() < f64::EPSILON {
            format!("{} {unit}", shown(lo))
        } else {
            format!("{} to {} {unit}", shown(lo), shown(hi))
        }
    }
}

/// At most two decimals, none that say nothing.
fn shown(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
    if text == "-0" { "0".to_owned() } else { text }
}

/// What a place without a temperature is taken to have.
const NOT_SAID: &str = "-30 to 50 C";

fn declared(written: &str) -> String {
    format!("declared {}", in_words(written))
}

/// A value as it stands in a sentence: "−30 to 50 °C".
fn in_words(written: &str) -> String {
    let words = written.split(' ').map(|word| match word.strip_prefix('-') {
        Some(rest) => format!("−{rest}"),
        None => unit_words(word).to_owned(),
    });
    words.collect::<Vec<_>>().join(" ")
}

fn unit_words(unit: &str) -> &str {
    if unit == "C" { "°C" } else { unit }
}

pub async fn levers(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    let text = known.hash.clone();
    known.ask(move |model| Ok(Told { text, levers: all(model) })).await
}

struct Wanted<'w> {
    kind: &'static str,
    of: &'w str,
    property: &'static str,
    title: String,
    written: &'w str,
    /// How that is declared, in words.
    declared: String,
    end: End,
    /// Least and greatest as shares of the declared value.
    reach: (f64, f64),
    race: Option<(String, &'static str)>,
    span: Span,
}

fn all(model: &Model<'_>) -> Vec<Lever> {
    let scheme = model.scheme;
    let mut levers = Vec::new();
    let mut put = |wanted: Wanted<'_>| {
        let Some(written) = Written::read(wanted.written) else { return };
        // What is written in another file, or shared, is not drawn here.
        if wanted.span.file.index() != 0 {
            return;
        }
        let value = written.at(wanted.end);
        let (least, most) = if wanted.property == "ambient" {
            (-50.0, 90.0)
        } else {
            (value * wanted.reach.0, value * wanted.reach.1)
        };
        let step = match most - least {
            range if range > 2000.0 => 10.0,
            range if range > 40.0 => 1.0,
            range if range > 4.0 => 0.5,
            _ => 0.05,
        };
        levers.push(Lever {
            id: format!("{}:{}:{}", wanted.kind, wanted.of, wanted.property),
            title: wanted.title,
            unit: unit_words(&written.unit).to_owned(),
            value,
            lo: (least / step).floor() * step,
            hi: (most / step).ceil() * step,
            step,
            declared: wanted.declared,
            line: told::line(model.places, wanted.span),
            race: wanted.race,
            property: wanted.property,
            span: wanted.span,
            written,
            end: wanted.end,
        });
    };
    for supply in scheme.supplies.values() {
        put(Wanted {
            kind: "supply",
            of: &supply.name,
            property: "range",
            title: format!("{} at its lowest", supply.name),
            written: &supply.range.written,
            declared: declared(&supply.range.written),
            end: End::Low,
            reach: (0.6, 1.3),
            race: None,
            span: supply.span,
        });
    }
    for cable in scheme.cables.values() {
        put(Wanted {
            kind: "cable",
            of: &cable.name,
            property: "length",
            title: format!("Length of {}", cable.name),
            written: &cable.length.written,
            declared: declared(&cable.length.written),
            end: End::High,
            reach: (0.1, 5.0),
            race: None,
            span: cable.span,
        });
    }
    for place in scheme.places.values() {
        let is_declared = !place.ambient.written.is_empty();
        put(Wanted {
            kind: "place",
            of: &place.name,
            property: "ambient",
            title: format!("Hottest in {}", place.name),
            written: if is_declared { &place.ambient.written } else { NOT_SAID },
            declared: if is_declared {
                declared(&place.ambient.written)
            } else {
                format!("nothing is declared: {} is taken", in_words(NOT_SAID))
            },
            end: End::High,
            reach: (1.0, 1.0),
            race: None,
            span: place.span,
        });
    }
    for (id, device) in scheme.devices.iter() {
        let coil = device.parts.iter().find_map(|part| match &scheme.parts[*part].kind {
            PartKind::Coil(coil) => Some((*part, coil)),
            _ => None,
        });
        if matches!(device.kind, DeviceKind::Relay)
            && let Some((part, coil)) = coil
        {
            // A time that several relays share by a type is no lever of one of them.
            let span = scheme.parts[part].span;
            let shared = scheme
                .parts
                .iter()
                .any(|(other, it)| other != part && it.span == span && it.device != Some(id));
            if shared {
                continue;
            }
            let up = coil
                .pickup_time
                .as_ref()
                .map(|time| (time, "pickup-time", "picks up within", End::High, "picks up"));
            let down = coil.dropout_time.as_ref().map(|time| {
                (time, "dropout-time", "drops out after, at the least", End::Low, "drops out")
            });
            for (time, property, words, end, the_move) in up.into_iter().chain(down) {
                put(Wanted {
                    kind: "time",
                    of: &scheme.parts[part].name,
                    property,
                    title: format!("{} {words}", device.name),
                    written: &time.written,
                    declared: declared(&time.written),
                    end,
                    reach: (0.0, 4.0),
                    race: Some((device.name.clone(), the_move)),
                    span,
                });
            }
        }
        if let DeviceKind::Timer { set } = &device.kind {
            put(Wanted {
                kind: "time",
                of: &device.name,
                property: "set",
                title: format!("{} is set to, at the most", device.name),
                written: &set.written,
                declared: declared(&set.written),
                end: End::High,
                reach: (0.0, 4.0),
                race: None,
                span: device.span,
            });
        }
        if let DeviceKind::Breaker { closing_time, opening_time, .. } = &device.kind {
            for (time, property, words) in [
                (closing_time, "closing-time", "closes within"),
                (opening_time, "opening-time", "opens within"),
            ] {
                put(Wanted {
                    kind: "time",
                    of: &device.name,
                    property,
                    title: format!("{} {words}", device.name),
                    written: &time.written,
                    declared: declared(&time.written),
                    end: End::High,
                    reach: (0.2, 3.0),
                    race: None,
                    span: device.span,
                });
            }
        }
    }
    levers
}

#[derive(Debug, Deserialize)]
pub struct WhatIf {
    scheme: Which,
    levers: BTreeMap<String, f64>,
}

#[derive(Debug, Serialize)]
pub struct Then {
    text: String,
    /// The text with the numbers put in; it is remembered under `after`.
    after: String,
    changes: Vec<InUnits>,
    coils: Vec<Coil>,
    edges: Vec<Edge>,
    findings: Vec<told::Finding>,
    refused: Option<String>,
}

/// An edge that a proof has found, judged by comparison.
#[derive(Debug, Serialize)]
struct Edge {
    claim: String,
    first: String,
    now_ms: f64,
    fails_from_ms: Option<f64>,
    spare_ms: Option<f64>,
    /// Whether the claim still holds as far as this bound goes; none: beyond what was proven.
    holds: Option<bool>,
    words: String,
}

pub async fn what_if(shared: &Shared, asked: WhatIf) -> Result<Then, Refusal> {
    let WhatIf { scheme, levers } = asked;
    let desk = scheme.desk.clone();
    let known = shared.office.known(scheme).await?;
    let to = levers.clone();
    let (changes, drawn) = known.ask(move |model| drawn_to(model, &to)).await?;
    let after = changed(known.places.text(), &changes);
    let which = Which { desk, text: Some(after), text_hash: None };
    let then = shared.office.known(which).await?;
    let worst = then.reading.findings.iter().find(|it| it.severity == Severity::Error);
    let refused = worst.filter(|_| !then.reading.is_usable()).map(|it| it.message.clone());
    let coils = match &refused {
        None => then.ask(all_coils).await?,
        Some(_) => Vec::new(),
    };
    let grave = then.reading.findings.iter().filter(|it| it.severity != Severity::Note);
    let findings = told::findings(grave, &then.reading, &then.places);
    Ok(Then {
        text: known.hash.clone(),
        after: then.hash.clone(),
        changes: units(&known, &changes),
        coils,
        edges: edges(&known, &drawn),
        findings,
        refused,
    })
}

/// What was drawn: the numbers of races, and how many of all numbers stand elsewhere than declared.
#[derive(Debug, Default)]
struct Drawn {
    races: Vec<Race>,
    moved: usize,
}

/// A number of a race that was drawn.
#[derive(Debug)]
struct Race {
    device: String,
    the_move: &'static str,
    ms: f64,
    moved: bool,
}

fn drawn_to(
    model: &Model<'_>,
    levers: &BTreeMap<String, f64>,
) -> Result<(Vec<Change>, Drawn), Refusal> {
    let known = all(model);
    let mut changes: Vec<Change> = Vec::new();
    let mut drawn = Drawn::default();
    for (id, value) in levers {
        let lever = known.iter().find(|lever| lever.id == *id).ok_or_else(|| {
            Refusal::unclear(format!("There is nothing {id:?} to draw in this text."))
        })?;
        if !value.is_finite() || value.abs() > 1e9 {
            return Err(Refusal::unclear("That is no number to draw to."));
        }
        let moved = (value - lever.value).abs() >= 1e-9;
        if let Some((device, the_move)) = &lever.race {
            let ms = in_ms(*value, &lever.unit);
            drawn.races.push(Race { device: device.clone(), the_move, ms, moved });
        }
        if !moved {
            continue;
        }
        drawn.moved += 1;
        let written = lever.written.with(lever.end, *value);
        let at = lever.span.start as usize;
        let set = set(model.places.text(), at, lever.property, &written);
        let set = set.map_err(|why| Refusal::conflict(why, "Change it in the text."))?;
        for change in set {
            let clash =
                changes.iter().any(|other| change.from < other.to && other.from < change.to);
            if !clash {
                changes.push(change);
            }
        }
    }
    Ok((changes, drawn))
}

fn in_ms(value: f64, unit: &str) -> f64 {
    match unit {
        "s" => value * 1000.0,
        "min" => value * 60_000.0,
        _ => value,
    }
}

/// The edges of the races that the claims hang on. An edge was found with everything else as declared:
/// where something else is drawn, it says nothing.
fn edges(known: &Known, drawn: &Drawn) -> Vec<Edge> {
    let mut edges = Vec::new();
    for (claim, margin) in known.stories.margins() {
        let own = drawn
            .races
            .iter()
            .find(|race| race.device == margin.device && race.the_move == margin.the_move);
        let now = own.map_or(margin.declared_ms, |race| race.ms);
        let others = drawn.moved - usize::from(own.is_some_and(|race| race.moved));
        if others > 0 {
            edges.push(Edge {
                claim,
                first: format!("{} {}", margin.device, margin.the_move),
                now_ms: now,
                fails_from_ms: None,
                spare_ms: None,
                holds: None,
                words: "not asked with these numbers: write them into the text, and the claim is asked anew"
                    .to_owned(),
            });
            continue;
        }
        // Slow is bad for what picks up, quick for what drops out.
        let up = margin.the_move == "picks up";
        let beyond = |limit: f64| if up { now >= limit } else { now <= limit };
        let within = if up { now <= margin.holds_to_ms } else { now >= margin.holds_to_ms };
        let holds = match margin.fails_from_ms {
            Some(fails) if beyond(fails) => Some(false),
            _ if within => Some(true),
            _ => None,
        };
        let spare = margin.fails_from_ms.map(|fails| if up { fails - now } else { now - fails });
        let words = match (holds, spare) {
            (Some(true), Some(spare)) => format!("holds: {} ms to spare", shown(spare)),
            (Some(true), None) => "holds as far as it was proven".to_owned(),
            (Some(false), _) => {
                let fails = margin.fails_from_ms.unwrap_or(margin.holds_to_ms);
                format!("fails from {} ms", shown(fails))
            }
            (None, _) => "not proven here: ask the claim anew".to_owned(),
        };
        edges.push(Edge {
            claim,
            first: format!("{} {}", margin.device, margin.the_move),
            now_ms: now,
            fails_from_ms: margin.fails_from_ms,
            spare_ms: spare,
            holds,
            words,
        });
    }
    edges
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail loudly")]
mod tests {
    use super::*;

    #[test]
    fn a_number_drawn_is_written_as_the_text_has_it() {
        let range = Written::read("12 to 20 ms").unwrap();
        assert_eq!(range.with(End::High, 24.0), "12 to 24 ms");
        assert_eq!(range.with(End::High, 8.0), "8 ms");
        assert_eq!(range.with(End::Low, 14.5), "14.5 to 20 ms");
        let one = Written::read("350 m").unwrap();
        assert_eq!(one.with(End::High, 420.0), "420 m");
        assert_eq!(Written::read("-30 to 50 C").unwrap().with(End::High, 60.0), "-30 to 60 C");
        assert_eq!(Written::read("18 A typical").unwrap().hi, 18.0);
        assert_eq!(Written::read("22 ohm at 75 C"), None);
        assert_eq!(Written::read(""), None);
    }
}
