//! The title, where things are, and what the outside may do.

use super::card::{Card, Words, usable};
use super::curves::{positive, positive_time};
use super::desk::{Desk, Name, no_time};
use super::frame::{Form, Line};
use super::names::listed;
use super::statements::Slot;
use crate::arena::Id;
use crate::circuits::Node;
use crate::finding::Finding;
use crate::ids::{ConditionId, NodeId, PlaceId};
use crate::model::Revision;
use crate::quantity::{Quantity, TimeRange};
use crate::source::Span;
use crate::statement::{Expr, Statement};
use crate::text::{self, Kind};
use crate::world::{
    Becomes, Cable, Condition, CurrentKind, GroundDetector, Landing, Material, Moves, Order, Place,
    Supply,
};

/// `scheme TITLE`.
pub(super) fn scheme(desk: &mut Desk, line: &Line) {
    // The revision is a property on the line and a table of lines in the braces.
    let card =
        Card::open(desk, line, &Words { props: &["revision", "frequency"], lines: &["revision"] });
    if let Some(title) = card.line.args.first().and_then(|arg| desk.name(arg)) {
        desk.scheme.title = title.text;
    } else if card.line.args.is_empty() {
        card.name(desk, 0, "The scheme's title");
    }
    card.no_more(desk, 1);
    desk.scheme.revision = card.prop("revision").and_then(|arg| desk.name(arg)).map(|n| n.text);
    if let Some(arg) = card.prop("frequency") {
        match frequency(&arg.text) {
            Some(hertz) if arg.form == Form::Quoted => desk.scheme.frequency = hertz,
            _ => desk.report(
                Finding::error("quantity", format!("{} is no frequency.", arg.text))
                    .at(arg.span, "can't be read")
                    .help("write \"50 Hz\" or \"60 Hz\""),
            ),
        }
    }
    let notes = card.notes(desk);
    desk.scheme.notes.extend(notes);
    for line in card.lines("revision") {
        revision(desk, line);
    }
}

fn frequency(text: &str) -> Option<f64> {
    let number = text.strip_suffix("Hz")?.trim_end();
    let hertz: f64 = number.parse().ok()?;
    (1.0..=1000.0).contains(&hertz).then_some(hertz)
}

fn revision(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["date", "by"], lines: &[] });
    let Some(name) = card.name(desk, 0, "The revision's name") else { return };
    let text = card.text(desk, 1);
    card.no_more(desk, 2);
    let date = card.prop("date").and_then(|arg| desk.name(arg)).map(|name| name.text);
    let by = card.prop("by").and_then(|arg| desk.name(arg)).map(|name| name.text);
    desk.scheme.revisions.push(Revision { name: name.text, text, date, by, span: name.span });
}

/// `place NAME TEXT`.
pub(super) fn place(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["ambient"], lines: &[] });
    let Some(name) = card.name(desk, 0, "The place's name") else { return };
    let description = card.text(desk, 1);
    card.no_more(desk, 2);
    take_notes(desk, &card);
    let ambient = card
        .prop("ambient")
        .and_then(|arg| desk.quantity(arg, Kind::Temperature, text::celsius))
        .unwrap_or_else(|| Quantity::new(-30.0, 50.0, ""));
    if twice(desk, "place", &name, desk.places.span(&name.text)) {
        return;
    }
    let place = Place { name: name.text.clone(), description, ambient, span: name.span };
    let id = desk.scheme.places.push(place);
    desk.places.declare(&name.text, id, name.span);
}

/// `supply NAME "125 V DC"`.
pub(super) fn supply(desk: &mut Desk, line: &Line) {
    let words = Words { props: &["place", "range", "resistance", "grounded"], lines: &[] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.subject(desk, 0, "The supply's name") else { return };
    let voltage = card
        .line
        .args
        .get(1)
        .and_then(|arg| desk.quantity(arg, Kind::Voltage, text::supply_voltage));
    if card.line.args.len() < 2 {
        desk.report(
            Finding::error(
                "voltage-missing",
                format!("The supply {:?} has no voltage.", name.text),
            )
            .at(name.span, "no voltage follows")
            .help(format!("write supply {:?} \"125 V DC\"", name.text)),
        );
    }
    card.no_more(desk, 2);
    take_notes(desk, &card);
    let range = card.prop("range").and_then(|arg| desk.quantity(arg, Kind::Voltage, text::volts));
    let resistance =
        card.prop("resistance").and_then(|arg| desk.quantity(arg, Kind::Resistance, text::ohms));
    let answers = [("yes", true), ("no", false)];
    let grounded = card.prop("grounded").and_then(|arg| desk.choice(arg, "grounded", &answers));
    let place = desk.place_or_only(card.prop("place"), &name);
    if twice(desk, "supply", &name, desk.supplies.span(&name.text)) {
        return;
    }
    let (nominal, current) = voltage.unwrap_or_else(|| (Desk::bare_value(125.0), CurrentKind::Dc));
    let place = place.unwrap_or(PlaceId::from_index(0));
    let poles = match current {
        CurrentKind::Dc => ["+", "-"],
        CurrentKind::Ac => ["L", "N"],
    };
    let [plus, minus] =
        poles.map(|sign| pole(desk, &format!("{}{sign}", name.text), place, name.span));
    let supply = Supply {
        name: name.text.clone(),
        description: card.line.args.get(1).map(|arg| arg.text.clone()).unwrap_or_default(),
        current,
        range: range.unwrap_or_else(|| match current {
            CurrentKind::Dc => Supply::typical_range(&nominal),
            CurrentKind::Ac => nominal.clone(),
        }),
        nominal,
        resistance: resistance.unwrap_or_else(|| Desk::bare_value(0.0)),
        grounded: grounded.unwrap_or(false),
        place,
        plus,
        minus,
        grounds: Vec::new(),
        span: name.span,
    };
    let id = desk.scheme.supplies.push(supply);
    desk.supplies.declare(&name.text, id, name.span);
}

fn pole(desk: &mut Desk, wire: &str, place: PlaceId, span: Span) -> NodeId {
    let node = Node { wire: Some(wire.to_owned()), label: None, place, span: Some(span) };
    let id = desk.scheme.nodes.push(node);
    desk.wires.declare(wire, id, span);
    if place.index() < desk.scheme.places.len() {
        desk.node_places.insert(id, place);
    }
    id
}

/// `ground SUPPLY`.
pub(super) fn ground(desk: &mut Desk, line: &Line) {
    let words = Words { props: &["plus", "minus", "capacitance", "alarms-below"], lines: &[] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.subject(desk, 0, "The supply's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let mut leg = |what: &'static str| match card.prop(what) {
        Some(arg) => desk.quantity(arg, Kind::Resistance, text::ohms),
        None => {
            desk.report(
                Finding::error("value-missing", format!("The ground detector has no {what} leg."))
                    .at(name.span, format!("no {what}"))
                    .help(format!("add {what}=\"50 kohm\" with the real value")),
            );
            None
        }
    };
    let (plus, minus) = (leg("plus"), leg("minus"));
    let capacitance = card
        .prop("capacitance")
        .and_then(|arg| desk.quantity(arg, Kind::Capacitance, text::farads));
    let alarms_below = card.prop("alarms-below").and_then(|arg| {
        let found = desk.quantity(arg, Kind::Resistance, text::ohms);
        positive(desk, arg, "The resistance a detector alarms below", found)
    });
    let Some(supply) = super::lookup::supply(desk, &name) else { return };
    if let (Some(plus), Some(minus)) = (plus, minus) {
        let ground = GroundDetector { plus, minus, capacitance, alarms_below, span: name.span };
        desk.scheme.supplies[supply].grounds.push(ground);
    }
}

/// `cable NAME TEXT`.
pub(super) fn cable(desk: &mut Desk, line: &Line) {
    let words =
        Words { props: &["from", "to", "length", "size", "material", "cores"], lines: &["core"] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.name(desk, 0, "The cable's name") else { return };
    let description = card.text(desk, 1);
    card.no_more(desk, 2);
    take_notes(desk, &card);
    for needed in ["from", "to", "length", "size", "cores"] {
        if card.prop(needed).is_none() {
            desk.report(
                Finding::error(
                    "value-missing",
                    format!("The cable {:?} has no {needed}.", name.text),
                )
                .at(name.span, format!("no {needed}"))
                .help(format!("add {needed}=…")),
            );
        }
    }
    let from = card.prop("from").and_then(|arg| desk.place(arg));
    let to = card.prop("to").and_then(|arg| desk.place(arg));
    if let (Some(from), Some(to)) = (from, to)
        && from == to
    {
        let message = format!("The cable {:?} begins and ends in the same place.", name.text);
        desk.error("cable-nowhere", name.span, "from and to are the same", message);
    }
    let length = card.prop("length").and_then(|arg| desk.quantity(arg, Kind::Length, text::metres));
    let size = card.prop("size").and_then(|arg| desk.quantity(arg, Kind::Size, text::wire_size));
    let answers = [("copper", Material::Copper), ("aluminium", Material::Aluminium)];
    let material = card.prop("material").and_then(|arg| desk.choice(arg, "material", &answers));
    let cores = card.prop("cores").and_then(|arg| desk.count(arg, "cores", 1));
    // A count that can't be read makes no core "too many".
    let cores = cores.unwrap_or(u32::MAX);
    let landings = card.lines("core").filter_map(|line| landing(desk, line, cores)).collect();
    if twice(desk, "cable", &name, desk.cables.span(&name.text)) {
        return;
    }
    let nowhere = PlaceId::from_index(usize::MAX);
    let cable = Cable {
        name: name.text.clone(),
        description,
        from: from.unwrap_or(nowhere),
        to: to.unwrap_or(nowhere),
        length: length.unwrap_or_else(|| Desk::bare_value(0.0)),
        size: size.unwrap_or(crate::quantity::WireSize::Awg(10)),
        size_written: card.prop("size").map(|arg| arg.text.clone()).unwrap_or_default(),
        material: material.unwrap_or(Material::Copper),
        cores,
        landings,
        span: name.span,
    };
    let id = desk.scheme.cables.push(cable);
    desk.cables.declare(&name.text, id, name.span);
}

fn landing(desk: &mut Desk, line: &Line, cores: u32) -> Option<Landing> {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    let Some(first) = card.line.args.first() else {
        let message = "The core's number is missing.".to_owned();
        desk.error("value-missing", line.span, "nothing follows", message);
        return None;
    };
    let core = desk.count(first, "The core's number", 1)?;
    if core > cores {
        let message = format!("The cable has {cores} cores; there is no core {core}.");
        desk.error("core-beyond", first.span, "no such core", message);
    }
    let mut end = |index: usize| {
        let arg = card.line.args.get(index)?;
        desk.name(arg).map(|name| name.text)
    };
    let (from, to) = (end(1), end(2));
    card.no_more(desk, 3);
    Some(Landing { core, from, to, span: first.span })
}

/// `condition NAME STATES`.
pub(super) fn condition(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["moves", "stays"], lines: &["becomes"] });
    let Some(name) = card.subject(desk, 0, "The condition's name") else { return };
    take_notes(desk, &card);
    let mut states: Vec<String> = Vec::new();
    for arg in card.line.args.iter().skip(1) {
        let Some(state) = desk.name(arg) else { continue };
        usable(desk, &state);
        if states.contains(&state.text) {
            let message = format!("{:?} has the state {:?} twice.", name.text, state.text);
            desk.error("state-twice", state.span, "given again", message);
        } else {
            states.push(state.text);
        }
    }
    if states.len() == 1 {
        desk.report(
            Finding::error("state-alone", format!("{:?} has only one state.", name.text))
                .at(name.span, "it could never change")
                .help("give it two states or more, or none for a yes/no condition"),
        );
    }
    let yes_no = states.is_empty();
    if yes_no {
        states = vec!["no".to_owned(), "yes".to_owned()];
    }
    let answers = [
        ("freely", Moves::Freely),
        ("step by step", Moves::StepByStep),
        ("only down", Moves::OnlyDown),
    ];
    let moves = card.prop("moves").and_then(|arg| desk.choice(arg, "moves", &answers));
    let stays = stays(desk, &card);
    if twice(desk, "condition", &name, desk.conditions.span(&name.text)) {
        return;
    }
    let condition = Condition {
        name: name.text.clone(),
        states,
        yes_no,
        moves: moves.unwrap_or(Moves::Freely),
        stays,
        becomes: Vec::new(),
        span: name.span,
    };
    let id = desk.scheme.conditions.push(condition);
    desk.conditions.declare(&name.text, id, name.span);
    for line in card.lines("becomes") {
        becomes(desk, id, line);
    }
}

/// How long something stays as it was put, at least.
pub(super) fn stays(desk: &mut Desk, card: &Card<'_>) -> Option<TimeRange> {
    let arg = card.prop("stays")?;
    let found = desk.time(arg);
    positive_time(desk, arg, "The time it stays", found)
}

fn becomes(desk: &mut Desk, id: ConditionId, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["when", "after"], lines: &[] });
    let Some(state) = card.name(desk, 0, "The state it becomes") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let after = card.prop("after").and_then(|arg| desk.time(arg)).unwrap_or_else(no_time);
    let Some(when) = card.prop("when") else {
        desk.report(
            Finding::error(
                "value-missing",
                format!("It is not said when it becomes {:?}.", state.text),
            )
            .at(state.span, "no when")
            .help("add when=\"…\" with the statement that brings it there"),
        );
        return;
    };
    let condition = &desk.scheme.conditions[id];
    let Some(index) = condition.states.iter().position(|known| *known == state.text) else {
        let known = listed(condition.states.iter().map(String::as_str));
        let message = format!("{:?} has no state {:?}.", condition.name, state.text);
        desk.report(
            Finding::error("state-unknown", message)
                .at(state.span, "unknown state")
                .help(format!("its states: {known}")),
        );
        return;
    };
    let nth = condition.becomes.len();
    let placeholder =
        Statement { text: String::new(), expr: Expr::All(Vec::new()), span: state.span };
    desk.scheme.conditions[id].becomes.push(Becomes {
        state: u8::try_from(index).unwrap_or(u8::MAX),
        when: placeholder,
        after,
        span: state.span,
    });
    super::statements::wait(desk, when, None, Slot::Becomes(id, nth));
}

/// `order NAME`.
pub(super) fn order(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["lasts"], lines: &[] });
    let Some(name) = card.subject(desk, 0, "The order's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let lasts = card.prop("lasts").and_then(|arg| desk.time(arg));
    if twice(desk, "order", &name, desk.orders.span(&name.text)) {
        return;
    }
    let id = desk.scheme.orders.push(Order { name: name.text.clone(), lasts, span: name.span });
    desk.orders.declare(&name.text, id, name.span);
}

/// Reports a second declaration; true if it is one.
pub(super) fn twice(desk: &mut Desk, what: &str, name: &Name, first: Option<Span>) -> bool {
    let Some(first) = first else { return false };
    desk.report(
        Finding::error("name-twice", format!("The {what} {:?} is declared twice.", name.text))
            .at(name.span, "declared again")
            .and_at(first, "declared here first")
            .why("a name on a print points at one thing")
            .help("give one of the two another name"),
    );
    true
}

/// Notes of things that have no list of their own go to the sheet.
pub(super) fn take_notes(desk: &mut Desk, card: &Card<'_>) {
    let notes = card.notes(desk);
    desk.scheme.notes.extend(notes);
}
