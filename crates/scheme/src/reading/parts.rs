//! Parts as devices declare them: coils, contacts, inputs, motors, and their screws.

use super::card::{Card, Words};
use super::curves::{Sort, curve_or, followed, positive, positive_time};
use super::desk::{CoilVolts, Desk, Name, Percent, Thing};
use super::frame::{Arg, Line};
use super::ratings::ratings;
use super::statements::{Slot, nothing, wait};
use crate::arena::Id;
use crate::device::DeviceKind;
use crate::finding::Finding;
use crate::ids::{DeviceId, PartId};
use crate::part::{Coil, Contact, GoesAfter, Input, Motor, Part, PartKind, StrokeOffset};
use crate::quantity::{Ampere, Ohm, Quantity, TimeRange, Volt, Watt};
use crate::source::Span;
use crate::text::{self, Kind, Stroke};

/// Declares the part or parts of one line of a device.
pub(super) fn declare(desk: &mut Desk, device: DeviceId, line: &Line) {
    match line.word.as_str() {
        "coil" => coil(desk, device, line),
        "contact" => contact(desk, device, line),
        "input" => input(desk, device, line),
        "motor" => motor(desk, device, line),
        "element" => element(desk, device, line),
        "power" => power(desk, device, line),
        _ => link(desk, device, line),
    }
}

/// Adds a part to a device; a name already taken is an error.
fn add(desk: &mut Desk, device: DeviceId, own: &str, kind: PartKind, span: Span) -> Option<PartId> {
    let id = PartId::from_index(desk.scheme.parts.len());
    let owner = &desk.scheme.devices[device];
    let name = if own.is_empty() { owner.name.clone() } else { format!("{} {own}", owner.name) };
    if own.is_empty() {
        // A lone part is called like its device; only a second one clashes.
        let first =
            owner.parts.iter().map(|part| &desk.scheme.parts[*part]).find(|part| part.name == name);
        if let Some(first) = first.map(|part| part.span) {
            desk.report(
                Finding::error("name-twice", format!("{name:?} has two parts without a name."))
                    .at(span, "no name")
                    .and_at(first, "no name either")
                    .help("give each part of a device its own name")
                    .device(&name),
            );
            return None;
        }
    } else if !desk.claim_name(&name, span, Thing::Part(id)) {
        return None;
    }
    desk.scheme.parts.push(Part {
        name,
        own_name: own.to_owned(),
        device: Some(device),
        kind,
        terminals: None,
        shows: None,
        watches: None,
        at: None,
        span,
    });
    desk.scheme.devices[device].parts.push(id);
    Some(id)
}

/// A property that is a quantity of one kind.
pub(super) fn ohms(desk: &mut Desk, arg: Option<&Arg>) -> Option<Quantity<Ohm>> {
    desk.quantity(arg?, Kind::Resistance, text::ohms)
}
/// A property that is a voltage.
pub(super) fn volts(desk: &mut Desk, arg: Option<&Arg>) -> Option<Quantity<Volt>> {
    desk.quantity(arg?, Kind::Voltage, text::volts)
}
/// A property that is a current.
pub(super) fn amperes(desk: &mut Desk, arg: Option<&Arg>) -> Option<Quantity<Ampere>> {
    desk.quantity(arg?, Kind::Current, text::amperes)
}
/// A property that is a power.
pub(super) fn watts(desk: &mut Desk, arg: Option<&Arg>) -> Option<Quantity<Watt>> {
    desk.quantity(arg?, Kind::Power, text::watts)
}

fn own_name(desk: &mut Desk, card: &Card<'_>, what: &str) -> Option<Name> {
    if card.line.args.is_empty() {
        return Some(Name { text: String::new(), span: card.line.span });
    }
    let name = card.subject(desk, 0, what);
    card.no_more(desk, 1);
    name
}

const COIL: Words = Words {
    props: &[
        "drives-to",
        "resistance",
        "rated",
        "works",
        "pickup",
        "dropout",
        "pickup-time",
        "dropout-time",
        "goes-after",
        "max-on",
        "time-constant",
    ],
    lines: &[],
};

fn coil(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &COIL);
    let Some(name) = own_name(desk, &card, "The coil's name") else { return };
    super::world::take_notes(desk, &card);
    let drives_to = drives_to(desk, device, &card, &name);
    let rated = volts(desk, card.prop("rated"));
    let mut percents = Vec::new();
    let base = rated.as_ref().map(Quantity::middle);
    let mut volts_of = |desk: &mut Desk, word: &str, which: CoilVolts| {
        let arg = card.prop(word)?;
        if base.is_none() && arg.text.contains('%') {
            percents.push((which, arg.text.clone(), arg.span));
            return None;
        }
        desk.quantity(arg, Kind::Voltage, |text| text::volts_or_percent(text, base))
    };
    let works = volts_of(desk, "works", CoilVolts::Works);
    let pickup = volts_of(desk, "pickup", CoilVolts::Pickup);
    let dropout = volts_of(desk, "dropout", CoilVolts::Dropout);
    let goes_after = goes_after(desk, device, &card);
    let time = |desk: &mut Desk, word: &str| card.prop(word).and_then(|arg| desk.time(arg));
    let coil = Coil {
        drives_to,
        resistance: ohms(desk, card.prop("resistance")),
        rated,
        works,
        pickup,
        dropout,
        pickup_time: time(desk, "pickup-time"),
        dropout_time: time(desk, "dropout-time"),
        goes_after,
        max_on: time(desk, "max-on"),
        time_constant: time(desk, "time-constant"),
    };
    let Some(id) = add(desk, device, &name.text, PartKind::Coil(coil), name.span) else { return };
    for (which, text, span) in percents {
        desk.percents.push(Percent { coil: id, which, text, span });
    }
}

fn drives_to(desk: &mut Desk, device: DeviceId, card: &Card<'_>, name: &Name) -> u8 {
    let owner = &desk.scheme.devices[device];
    let (device_name, positions) = (owner.name.clone(), owner.positions.clone());
    if let Some(arg) = card.prop("drives-to") {
        return super::devices::position(desk, arg, &device_name, &positions).unwrap_or(1);
    }
    if matches!(owner.kind, DeviceKind::Breaker { .. } | DeviceKind::Latch { .. }) {
        let whose = format!("{device_name} {}", name.text);
        let known = super::names::listed(positions.iter().map(String::as_str));
        desk.report(
            Finding::error(
                "drives-to-missing",
                format!("It is not said what {:?} drives to.", whose.trim()),
            )
            .at(name.span, "no drives-to")
            .why("a name such as \"close\" says nothing to the tool; only drives-to does")
            .help(format!("add drives-to=… ({known})"))
            .device(whose.trim()),
        );
    }
    1
}

fn goes_after(desk: &mut Desk, device: DeviceId, card: &Card<'_>) -> Option<GoesAfter> {
    let arg = card.prop("goes-after")?;
    let owner = &desk.scheme.devices[device];
    if !matches!(owner.kind, DeviceKind::Breaker { .. }) {
        let message = format!("{:?} is no breaker: its coils have no goes-after.", owner.name);
        desk.report(
            Finding::error("goes-after-elsewhere", message)
                .at(arg.span, "only for the coils of a breaker")
                .help("write pickup-time for what follows its coil"),
        );
        return None;
    }
    if arg.text == "whole stroke" {
        desk.name(arg)?;
        return Some(GoesAfter::WholeStroke);
    }
    desk.time(arg).map(GoesAfter::After)
}

const CONTACT: Words = Words {
    props: &[
        "closed-when",
        "closes-in",
        "opens-in",
        "bounce",
        "on-close",
        "on-open",
        "makes",
        "carries",
        "breaks",
    ],
    lines: &["makes", "carries", "breaks"],
};

fn contact(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &CONTACT);
    super::world::take_notes(desk, &card);
    let names = if line.args.is_empty() {
        vec![Name { text: String::new(), span: line.span }]
    } else {
        (0..line.args.len())
            .filter_map(|index| card.subject(desk, index, "The contact's name"))
            .collect()
    };
    let time = |desk: &mut Desk, word: &str| card.prop(word).and_then(|arg| desk.time(arg));
    let contact = Contact {
        closed_when: nothing(line.span),
        closes_in: time(desk, "closes-in"),
        opens_in: time(desk, "opens-in"),
        bounce: bounce(desk, &card),
        on_close: stroke(desk, device, card.prop("on-close"), Stroke::Closing),
        on_open: stroke(desk, device, card.prop("on-open"), Stroke::Opening),
        makes: ratings(desk, &card, "makes"),
        carries: ratings(desk, &card, "carries"),
        breaks: ratings(desk, &card, "breaks"),
    };
    let closed_when = card.prop("closed-when");
    if closed_when.is_none() {
        let at = names.first().map_or(line.span, |name| name.span);
        desk.report(
            Finding::error("closed-when-missing", "It is not said when this contact is closed.")
                .at(at, "no closed-when")
                .why("a and b are only names: the tool never reads them")
                .help("add closed-when=\"…\", such as \"open\" or \"picked up\""),
        );
    }
    for name in names {
        let kind = PartKind::Contact(contact.clone());
        let Some(id) = add(desk, device, &name.text, kind, name.span) else { continue };
        if let Some(arg) = closed_when {
            wait(desk, arg, Some(device), Slot::ClosedWhen(id));
        }
    }
}

/// How long a contact may bounce.
fn bounce(desk: &mut Desk, card: &Card<'_>) -> Option<TimeRange> {
    let arg = card.prop("bounce")?;
    let found = desk.time(arg);
    positive_time(desk, arg, "The time a contact bounces", found)
}

/// `bounce` of a device: of each of its contacts that says none.
pub(super) fn bounce_of_all(desk: &mut Desk, device: DeviceId, card: &Card<'_>) {
    let Some(time) = bounce(desk, card) else { return };
    let mut any = false;
    for id in desk.scheme.devices[device].parts.clone() {
        if let PartKind::Contact(contact) = &mut desk.scheme.parts[id].kind {
            contact.bounce.get_or_insert_with(|| time.clone());
            any = true;
        }
    }
    if let (false, Some(arg)) = (any, card.prop("bounce")) {
        let message =
            format!("{:?} has no contact that could bounce.", desk.scheme.devices[device].name);
        desk.report(
            Finding::error("bounce-nowhere", message)
                .at(arg.span, "nothing to bounce")
                .help("write bounce with the contact it is of"),
        );
    }
}

fn stroke(
    desk: &mut Desk,
    device: DeviceId,
    arg: Option<&Arg>,
    stroke: Stroke,
) -> Option<StrokeOffset> {
    let arg = arg?;
    let owner = &desk.scheme.devices[device];
    if !matches!(owner.kind, DeviceKind::Breaker { .. }) {
        let message =
            format!("{:?} is no breaker: its contacts have no touch or parting.", owner.name);
        desk.report(
            Finding::error("stroke-elsewhere", message)
                .at(arg.span, "only for the contacts of a breaker")
                .help("write closes-in or opens-in"),
        );
        return None;
    }
    let frequency = desk.scheme.frequency;
    desk.quantity(arg, Kind::Time, |text| text::stroke_offset(text, stroke, frequency))
}

const INPUT: Words = Words {
    props: &["resistance", "on-above", "off-below", "least", "curve", "shows", "watches"],
    lines: &[],
};

fn input(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &INPUT);
    let Some(name) = own_name(desk, &card, "The input's name") else { return };
    super::world::take_notes(desk, &card);
    let input = Input {
        resistance: ohms(desk, card.prop("resistance")),
        on_above: volts(desk, card.prop("on-above")),
        off_below: volts(desk, card.prop("off-below")),
        least: card.prop("least").and_then(|arg| {
            let found = amperes(desk, Some(arg));
            positive(desk, arg, "The least current of an input", found)
        }),
        curve: followed(desk, card.prop("curve"), Sort::VoltsAmps, &name.text),
    };
    curve_or(desk, &card, &["resistance"], &name.text);
    if let (Some(on), Some(off)) = (&input.on_above, &input.off_below)
        && off.hi > on.lo
    {
        let message = format!(
            "{:?} would be off below {} and on above {}.",
            name.text, off.written, on.written
        );
        desk.report(
            Finding::error("input-range", message)
                .at(
                    card.prop("off-below").map_or(name.span, |arg| arg.span),
                    "higher than on-above",
                )
                .why("between the two it would be on and off at once"),
        );
    }
    let Some(id) = add(desk, device, &name.text, PartKind::Input(input), name.span) else { return };
    intent(desk, &card, id);
}

/// `shows` and `watches` of a lamp or input.
pub(super) fn intent(desk: &mut Desk, card: &Card<'_>, part: PartId) {
    if let Some(arg) = card.prop("shows") {
        wait(desk, arg, None, Slot::Shows(part));
    }
    if let Some(name) = card.prop("watches").and_then(|arg| desk.name(arg)) {
        desk.watches.push((part, name));
    }
}

/// The arguments [NAME] QUANTITY of a part that usually stands alone in its device.
fn named_or(desk: &mut Desk, card: &Card<'_>, usual: &str) -> Option<(Name, Option<usize>)> {
    let usual = Name { text: usual.to_owned(), span: card.line.span };
    match card.line.args.len() {
        0 => Some((usual, None)),
        1 => Some((usual, Some(0))),
        _ => {
            let name = card.subject(desk, 0, "The part's name")?;
            card.no_more(desk, 2);
            Some((name, Some(1)))
        }
    }
}

const MOTOR: &[&str] = &["rating", "inrush", "starts-in", "works"];

fn motor(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &Words { props: MOTOR, lines: &[] });
    super::world::take_notes(desk, &card);
    let Some((name, value)) = named_or(desk, &card, "motor") else { return };
    let value = value.and_then(|index| line.args.get(index)).or(card.prop("rating"));
    if value.is_none() {
        desk.report(
            Finding::error("value-missing", "The motor has no current.")
                .at(line.span, "nothing follows")
                .help("write motor \"6 A\" with the real running current"),
        );
    }
    let rating = amperes(desk, value);
    let inrush = amperes(desk, card.prop("inrush"));
    let starts_in = card.prop("starts-in").and_then(|arg| {
        let found = desk.time(arg);
        positive_time(desk, arg, "The time a motor starts in", found)
    });
    if let (Some(arg), None) = (card.prop("starts-in"), card.prop("inrush")) {
        let message = "It is not said what the motor draws while it starts.";
        desk.report(
            Finding::error("motor-inrush", message)
                .at(arg.span, "starts-in without inrush")
                .help("add inrush=\"18 A\" with the real starting current"),
        );
    }
    if let (Some(inrush), Some(rating), Some(arg)) = (&inrush, &rating, card.prop("inrush"))
        && inrush.hi < rating.lo
    {
        let message = format!(
            "The motor would draw {} while it starts and {} while it runs.",
            inrush.written, rating.written
        );
        desk.report(
            Finding::error("motor-inrush", message)
                .at(arg.span, "less than running")
                .why("a motor draws most while it stands still")
                .help("is the unit right?"),
        );
    }
    let rating = rating.unwrap_or_else(|| Desk::bare_value(0.0));
    let works = card.prop("works").and_then(|arg| {
        let found = volts(desk, Some(arg));
        positive(desk, arg, "The voltage a motor works at", found)
    });
    let motor = Motor { rating, inrush, starts_in, works };
    add(desk, device, &name.text, PartKind::Motor(motor), name.span);
}

fn element(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["rating", "resistance"], lines: &[] });
    super::world::take_notes(desk, &card);
    let Some((name, value)) = named_or(desk, &card, "element") else { return };
    let value = value.and_then(|index| line.args.get(index)).or(card.prop("rating"));
    let rating = amperes(desk, value);
    let resistance = ohms(desk, card.prop("resistance"));
    add(desk, device, &name.text, PartKind::Element { rating, resistance }, name.span);
}

fn power(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["burden"], lines: &[] });
    super::world::take_notes(desk, &card);
    let Some((name, value)) = named_or(desk, &card, "power") else { return };
    let value = value.and_then(|index| line.args.get(index)).or(card.prop("burden"));
    let burden = watts(desk, value);
    add(desk, device, &name.text, PartKind::Power { burden }, name.span);
}

fn link(desk: &mut Desk, device: DeviceId, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    super::world::take_notes(desk, &card);
    let Some(name) = card.subject(desk, 0, "The link's name") else { return };
    card.no_more(desk, 1);
    add(desk, device, &name.text, PartKind::Link, name.span);
}

/// `terminals PART="in-out"`.
pub(super) fn terminals(desk: &mut Desk, device: DeviceId, line: &Line) {
    for extra in &line.args {
        super::card::stray(desk, "terminals", extra);
    }
    for inner in &line.lines {
        super::card::unknown_word(desk, "terminals", inner, &[], &[]);
    }
    for prop in &line.props {
        let Some(screws) = desk.name(&prop.arg) else { continue };
        let Some((upper, lower)) = screws.text.split_once('-').filter(|(upper, lower)| {
            !upper.is_empty() && !lower.is_empty() && !lower.contains('-') && upper != lower
        }) else {
            desk.report(
                Finding::error("terminals", format!("{:?} names no two screws.", screws.text))
                    .at(screws.span, "not two screw numbers")
                    .help("write the upper screw, a hyphen, the lower screw: \"11-12\""),
            );
            continue;
        };
        let owner = &desk.scheme.devices[device];
        let found = owner.parts.iter().copied().find(|part| {
            let part = &desk.scheme.parts[*part];
            part.own_name == prop.name
                || (part.own_name.is_empty() && part.kind.word() == prop.name)
        });
        let Some(part) = found else {
            let known: Vec<&str> = owner
                .parts
                .iter()
                .map(|part| &desk.scheme.parts[*part])
                .map(
                    |part| {
                        if part.own_name.is_empty() { part.kind.word() } else { &part.own_name }
                    },
                )
                .collect();
            let help = super::names::suggestion(&prop.name, known, "part");
            let finding =
                Finding::error("part-unknown", format!("{:?} has no {:?}.", owner.name, prop.name))
                    .at(prop.span, "no such part")
                    .help(help)
                    .device(&owner.name);
            if !desk.incomplete.contains(&device) {
                desk.report(finding);
            }
            continue;
        };
        if desk.scheme.parts[part].terminals.is_some() {
            let message =
                format!("The screws of {:?} are given twice.", desk.scheme.parts[part].name);
            desk.error("terminals", prop.span, "given again", message);
            continue;
        }
        desk.scheme.parts[part].terminals = Some((upper.to_owned(), lower.to_owned()));
    }
}
