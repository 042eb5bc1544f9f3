//! Devices by kind: positions, what only one kind has, and logic.

use super::card::{Card, Words};
use super::curves::positive_time;
use super::desk::{Desk, Name, Thing, no_time, owned};
use super::frame::{Arg, Line};
use super::names::{listed, suggestion};
use super::parts;
use super::statements::{Slot, nothing, wait};
use crate::arena::Id;
use crate::device::{Device, DeviceKind, Duty, Energy, Logic, LogicRule, ResetBy, TurnedBy};
use crate::finding::Finding;
use crate::ids::{DeviceId, LogicId, PlaceId};
use crate::part::PartKind;
use crate::quantity::TimeRange;
use crate::source::Span;
use std::collections::BTreeMap;

/// What devices share, by name: the kind and the line.
pub(super) type Types = BTreeMap<String, Shared>;

/// A `type`.
pub(super) struct Shared {
    /// The kind of device it is for.
    pub kind: String,
    /// Its line.
    pub line: Line,
    /// Whether a device uses it.
    pub used: bool,
}

/// The kinds of devices.
pub(super) const KINDS: &[&str] = &[
    "breaker", "handle", "button", "relay", "timer", "lockout", "latch", "overload", "sensor",
    "ied",
];

/// The words each kind of device may carry.
pub(super) fn words(kind: &str) -> Words {
    let (props, lines): (&'static [&'static str], &'static [&'static str]) = match kind {
        "breaker" => (
            &["place", "type", "function", "drawn", "bounce", "closing-time", "opening-time"],
            &["coil", "contact", "motor", "energy", "link", "terminals"],
        ),
        "handle" => (
            &["place", "type", "function", "drawn", "bounce", "stays"],
            &["position", "contact", "link", "terminals"],
        ),
        "timer" => (
            &["place", "type", "function", "drawn", "bounce", "set"],
            &["coil", "contact", "link", "terminals"],
        ),
        "lockout" => (
            &["place", "type", "function", "drawn", "bounce", "reset-by"],
            &["coil", "contact", "link", "terminals"],
        ),
        "latch" => (
            &["place", "type", "function", "drawn", "bounce", "turned-by"],
            &["position", "coil", "contact", "link", "terminals"],
        ),
        "relay" => (
            &["place", "type", "function", "drawn", "bounce"],
            &["coil", "contact", "link", "terminals"],
        ),
        "overload" => (
            &["place", "type", "function", "drawn", "bounce"],
            &["element", "contact", "link", "terminals"],
        ),
        "ied" => (
            &["place", "type", "function", "drawn", "bounce", "reports-to", "starts-in"],
            &["input", "contact", "power", "logic", "link", "terminals"],
        ),
        "button" => (
            &["place", "type", "function", "drawn", "bounce", "stays"],
            &["contact", "link", "terminals"],
        ),
        _ => (&["place", "type", "function", "drawn", "bounce"], &["contact", "link", "terminals"]),
    };
    Words { props, lines }
}

/// A device line, after its type has been filled in.
pub(super) fn device(desk: &mut Desk, line: &Line, types: &mut Types) {
    let filled = with_type(desk, line, types);
    let line = filled.as_ref().map_or(line, |(line, _)| line);
    let type_unknown = filled.as_ref().is_some_and(|(_, known)| !known);
    let kind = line.word.as_str();
    let card = Card::open(desk, line, &words(kind));
    let Some(name) = card.subject(desk, 0, &format!("The {kind}'s name")) else { return };
    let description = card.text(desk, 1);
    card.no_more(desk, 2);
    let place = desk.place_or_only(card.prop("place"), &name);
    let function = card.prop("function").and_then(|arg| desk.name(arg)).map(|name| name.text);
    let positions = positions(desk, &card, kind, &name);
    let drawn = card.prop("drawn").and_then(|arg| position(desk, arg, &name.text, &positions));
    let stays = super::world::stays(desk, &card);
    let notes = card.notes(desk);
    let kind_data = kind_of(desk, &card, kind, &name, &positions);
    let incomplete = type_unknown || place.is_none();
    let id = DeviceId::from_index(desk.scheme.devices.len());
    if !desk.claim_name(&name.text, name.span, Thing::Device(id)) {
        return;
    }
    desk.scheme.devices.push(Device {
        name: name.text.clone(),
        description,
        kind: kind_data,
        place: place.unwrap_or(PlaceId::from_index(usize::MAX)),
        function,
        positions,
        drawn: drawn.unwrap_or(0),
        parts: Vec::new(),
        logics: Vec::new(),
        stays,
        notes,
        span: name.span,
    });
    desk.devices.declare(&name.text, id, name.span);
    if incomplete {
        desk.incomplete.insert(id);
    }
    for inner in card.all_lines() {
        match inner.word.as_str() {
            "position" | "terminals" => {}
            "energy" => energy(desk, id, inner),
            "logic" => logic(desk, id, inner),
            _ => parts::declare(desk, id, inner),
        }
    }
    for inner in card.lines("terminals") {
        parts::terminals(desk, id, inner);
    }
    parts::bounce_of_all(desk, id, &card);
    needs_power(desk, id, &card);
}

/// A device that takes a time to start says what feeds it.
fn needs_power(desk: &mut Desk, id: DeviceId, card: &Card<'_>) {
    let Some(arg) = card.prop("starts-in") else { return };
    let device = &desk.scheme.devices[id];
    let fed = device
        .parts
        .iter()
        .any(|part| matches!(desk.scheme.parts[*part].kind, PartKind::Power { .. }));
    if fed {
        return;
    }
    let name = device.name.clone();
    desk.report(
        Finding::error("starts-in-without-power", format!("It is not said what feeds {name:?}."))
            .at(arg.span, "no power to come back")
            .why("the time counts from the moment its feed comes back")
            .help("add power burden=\"15 W\" to it and place it in a circuit")
            .device(&name),
    );
}

/// The line with its type's data filled in, and whether the type is known.
fn with_type(desk: &mut Desk, line: &Line, types: &mut Types) -> Option<(Line, bool)> {
    let prop = line.props.iter().find(|prop| prop.name == "type").map(|prop| &prop.arg);
    let inner = line.lines.iter().find(|inner| inner.word == "type");
    let arg = prop.or_else(|| inner.and_then(|inner| inner.args.first()))?;
    let name = desk.name(arg)?;
    let known = owned({
        let mut names: Vec<&str> = types.keys().map(String::as_str).collect();
        names.sort_unstable();
        names
    });
    let Some(shared) = types.get_mut(&name.text) else {
        desk.unknown("type", "type-unknown", &name, &known);
        return Some((line.clone(), false));
    };
    shared.used = true;
    if shared.kind != line.word {
        desk.report(
            Finding::error(
                "type-kind",
                format!(
                    "The type {:?} is for a {}, not for a {}.",
                    name.text, shared.kind, line.word
                ),
            )
            .at(name.span, format!("a type for a {}", shared.kind))
            .and_at(shared.line.span, "declared here"),
        );
        return Some((line.clone(), false));
    }
    Some((fill(line, &shared.line, &words(&line.word)), true))
}

fn fill(own: &Line, shared: &Line, words: &Words) -> Line {
    let said = |name: &str| {
        own.props.iter().any(|prop| prop.name == name)
            || (words.props.contains(&name) && own.lines.iter().any(|line| line.word == name))
    };
    let mut line = own.clone();
    line.props.extend(
        shared.props.iter().filter(|prop| prop.name != "kind" && !said(&prop.name)).cloned(),
    );
    line.lines = shared
        .lines
        .iter()
        .filter(|inner| inner.word != "kind" && !said(&inner.word))
        .chain(&own.lines)
        .cloned()
        .collect();
    line
}

fn positions(desk: &mut Desk, card: &Card<'_>, kind: &str, name: &Name) -> Vec<String> {
    let fixed: &[&str] = match kind {
        "breaker" => &["open", "closed"],
        "relay" => &["dropped out", "picked up"],
        "timer" => &["waiting", "timed out"],
        "lockout" | "overload" => &["reset", "operated"],
        "button" => &["released", "pressed"],
        _ => &[],
    };
    let mut positions: Vec<String> = fixed.iter().map(|word| (*word).to_owned()).collect();
    if !matches!(kind, "handle" | "latch") {
        return positions;
    }
    for line in card.lines("position") {
        let Some(arg) = line.args.first() else {
            let message = "The position's name is missing.".to_owned();
            desk.error("name-missing", line.span, "nothing follows", message);
            continue;
        };
        // An unquoted name is reported where the position itself is read.
        if positions.contains(&arg.text) {
            let message = format!("{:?} has the position {:?} twice.", name.text, arg.text);
            desk.error("position-twice", arg.span, "given again", message);
        } else {
            positions.push(arg.text.clone());
        }
    }
    if positions.len() < 2 && !desk.incomplete_type(card) {
        desk.report(
            Finding::error(
                "positions-missing",
                format!("{:?} has fewer than two positions.", name.text),
            )
            .at(name.span, "could never be turned")
            .help("add a line for each: position \"…\", in turning order")
            .device(&name.text),
        );
    }
    positions
}

impl Desk {
    /// Whether the card's type could not be filled in.
    fn incomplete_type(&self, card: &Card<'_>) -> bool {
        card.prop("type").is_some_and(|arg| self.reported.contains(&("type", arg.text.clone())))
    }
}

/// The index of a position, or an error that lists them.
pub(super) fn position(
    desk: &mut Desk,
    arg: &Arg,
    device: &str,
    positions: &[String],
) -> Option<u8> {
    let name = desk.name(arg)?;
    let found = positions.iter().position(|known| *known == name.text);
    if found.is_none() {
        let known = positions.iter().map(String::as_str);
        let help = match positions.len() {
            0 => "it has no positions".to_owned(),
            1..=6 => format!("its positions: {}", listed(known)),
            _ => suggestion(&name.text, known, "position"),
        };
        desk.report(
            Finding::error(
                "position-unknown",
                format!("{device:?} has no position {:?}.", name.text),
            )
            .at(name.span, "unknown position")
            .help(help)
            .device(device),
        );
    }
    found.and_then(|index| u8::try_from(index).ok())
}

fn kind_of(
    desk: &mut Desk,
    card: &Card<'_>,
    kind: &str,
    name: &Name,
    positions: &[String],
) -> DeviceKind {
    match kind {
        "breaker" => DeviceKind::Breaker {
            closing_time: needed_time(desk, card, "closing-time", name),
            opening_time: needed_time(desk, card, "opening-time", name),
            energy: None,
        },
        "handle" => DeviceKind::Handle { returns_to: returns(desk, card, name, positions) },
        "button" => DeviceKind::Button,
        "timer" => DeviceKind::Timer { set: needed_time(desk, card, "set", name) },
        "lockout" => {
            let answers = [
                ("hand", ResetBy::Hand),
                ("coil", ResetBy::Coil),
                ("hand or coil", ResetBy::HandOrCoil),
            ];
            let reset_by =
                card.prop("reset-by").and_then(|arg| desk.choice(arg, "reset-by", &answers));
            DeviceKind::Lockout { reset_by: reset_by.unwrap_or(ResetBy::Hand) }
        }
        "latch" => {
            returns(desk, card, name, positions);
            let answers = [("coil", TurnedBy::Coil), ("hand or coil", TurnedBy::HandOrCoil)];
            let turned_by =
                card.prop("turned-by").and_then(|arg| desk.choice(arg, "turned-by", &answers));
            DeviceKind::Latch { turned_by: turned_by.unwrap_or(TurnedBy::Coil) }
        }
        "overload" => DeviceKind::Overload,
        "sensor" => DeviceKind::Sensor,
        "ied" => DeviceKind::Ied {
            reports_to: card
                .prop("reports-to")
                .and_then(|arg| desk.name(arg))
                .map(|name| name.text),
            starts_in: card.prop("starts-in").and_then(|arg| {
                let found = desk.time(arg);
                positive_time(desk, arg, "The time it starts in", found)
            }),
        },
        _ => DeviceKind::Relay,
    }
}

fn needed_time(desk: &mut Desk, card: &Card<'_>, what: &str, name: &Name) -> TimeRange {
    if card.prop(what).is_none() && !desk.incomplete_type(card) {
        desk.report(
            Finding::error("value-missing", format!("{:?} has no {what}.", name.text))
                .at(name.span, format!("no {what}"))
                .why("a time nobody stated would be a silent number in every verdict")
                .help(format!("add {what}=\"… to … ms\""))
                .device(&name.text),
        );
    }
    card.prop(what).and_then(|arg| desk.time(arg)).unwrap_or_else(no_time)
}

/// Reads the positions; where each springs back to.
fn returns(desk: &mut Desk, card: &Card<'_>, name: &Name, positions: &[String]) -> Vec<Option<u8>> {
    let mut returns_to = vec![None; positions.len()];
    let latch = card.line.word == "latch";
    for line in card.lines("position") {
        let props: &'static [&'static str] = if latch { &[] } else { &["returns-to"] };
        let card = Card::open(desk, line, &Words { props, lines: &[] });
        if line.args.is_empty() {
            continue; // reported when the positions were counted
        }
        let Some(own) = card.subject(desk, 0, "The position's name") else { continue };
        card.no_more(desk, 1);
        super::world::take_notes(desk, &card);
        let Some(arg) = card.prop("returns-to") else { continue };
        let Some(back) = position(desk, arg, &name.text, positions) else { continue };
        if positions.get(back as usize) == Some(&own.text) {
            let message = format!("{:?} can't spring back to itself.", own.text);
            desk.error("returns-to-itself", arg.span, "the same position", message);
            continue;
        }
        let index = positions.iter().position(|known| *known == own.text);
        if let Some(slot) = index.and_then(|index| returns_to.get_mut(index)) {
            *slot = Some(back);
        }
    }
    returns_to
}

fn energy(desk: &mut Desk, id: DeviceId, line: &Line) {
    let words = Words { props: &["closings", "charged-in", "charged-by", "duty"], lines: &[] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.subject(desk, 0, "The energy's name") else { return };
    card.no_more(desk, 1);
    super::world::take_notes(desk, &card);
    let closings = card.prop("closings").and_then(|arg| desk.count(arg, "closings", 1));
    let charged_in = card.prop("charged-in").and_then(|arg| desk.time(arg));
    if let Some(motor) = card.prop("charged-by").and_then(|arg| desk.name(arg)) {
        desk.chargers.push((id, motor));
    }
    let energy = Energy {
        name: name.text.clone(),
        closings: closings.unwrap_or(1),
        charged_in,
        charged_by: None,
        duty: card.prop("duty").and_then(|arg| duty(desk, arg)).unwrap_or_default(),
        span: name.span,
    };
    let mut second: Option<Span> = None;
    if let DeviceKind::Breaker { energy: slot, .. } = &mut desk.scheme.devices[id].kind {
        match slot {
            Some(first) => second = Some(first.span),
            None => *slot = Some(energy),
        }
    }
    if let Some(first) = second {
        desk.report(
            Finding::error("energy-twice", "A breaker has one energy that a close uses up.")
                .at(name.span, "a second energy")
                .and_at(first, "the first"),
        );
    }
}

/// Operations joined by "-": O opens, C closes, CO closes and opens at once.
fn duty(desk: &mut Desk, arg: &Arg) -> Option<Duty> {
    let name = desk.name(arg)?;
    let operations: Vec<&str> = name.text.split('-').map(str::trim).collect();
    let known = operations.iter().all(|it| ["O", "C", "CO"].contains(it));
    let closings = operations.iter().filter(|it| it.starts_with('C')).count();
    let alternate = known && {
        let moves: String = operations.concat();
        !moves.contains("OO") && !moves.contains("CC")
    };
    match u8::try_from(closings).ok().filter(|closings| *closings <= Duty::MOST_CLOSINGS) {
        Some(closings) if alternate && closings > 0 => {
            Some(Duty { closings, written: operations.join("-") })
        }
        _ => {
            desk.report(
                Finding::error("duty", format!("{:?} is no duty.", name.text))
                    .at(name.span, "operations one after the other")
                    .why("what is recharged in a pause begins a new duty: only what is done without it counts")
                    .help("write O, C and CO in turn, with at least one closing and no times: \"O-CO\""),
            );
            None
        }
    }
}

fn logic(desk: &mut Desk, device: DeviceId, line: &Line) {
    let words = Words { props: &["when", "on-delay", "off-delay", "set", "clear"], lines: &[] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.subject(desk, 0, "The name of the line of logic") else { return };
    card.no_more(desk, 1);
    super::world::take_notes(desk, &card);
    let (when, set, clear) = (card.prop("when"), card.prop("set"), card.prop("clear"));
    let on_delay = card.prop("on-delay").and_then(|arg| desk.time(arg)).unwrap_or_else(no_time);
    let off_delay = card.prop("off-delay").and_then(|arg| desk.time(arg)).unwrap_or_else(no_time);
    let delays = card.prop("on-delay").or(card.prop("off-delay"));
    let id = LogicId::from_index(desk.scheme.logics.len());
    let rule = match (when, set, clear) {
        (Some(when), None, None) => {
            wait(desk, when, Some(device), Slot::LogicWhen(id));
            LogicRule::When { when: nothing(when.span), on_delay, off_delay }
        }
        (None, Some(set), Some(clear)) if delays.is_none() => {
            wait(desk, set, Some(device), Slot::LogicSet(id));
            wait(desk, clear, Some(device), Slot::LogicClear(id));
            LogicRule::Memory { set: nothing(set.span), clear: nothing(clear.span) }
        }
        _ => {
            desk.report(
                Finding::error(
                    "logic-shape",
                    format!("{:?} says neither when alone, nor set and clear.", name.text),
                )
                .at(name.span, "when it is true stays open")
                .help("write either when=\"…\" with on-delay, off-delay, or set=\"…\" clear=\"…\""),
            );
            LogicRule::Memory { set: nothing(name.span), clear: nothing(name.span) }
        }
    };
    let twice = desk.scheme.devices[device]
        .logics
        .iter()
        .map(|known| &desk.scheme.logics[*known])
        .find(|known| known.name == name.text)
        .map(|known| known.span);
    if let Some(first) = twice {
        desk.report(
            Finding::error(
                "name-twice",
                format!("The line of logic {:?} is declared twice.", name.text),
            )
            .at(name.span, "declared again")
            .and_at(first, "declared here first"),
        );
    }
    desk.scheme.logics.push(Logic { device, name: name.text, rule, span: name.span });
    desk.scheme.devices[device].logics.push(id);
}
