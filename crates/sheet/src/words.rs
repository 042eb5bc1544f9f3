//! What stands beside a part. **In:** the scheme. **Out:** short texts in the designer's own
//! words. **Never here:** places on the paper.

use crate::geometry::{Ink, MODULE, Weight};
use crate::lettering;
use crate::rest;
use crate::style::{Beside, Style};
use crate::symbols::{Colour, Contact, Figure, Hand};
use fiftytwo_scheme::{Atom, Chain, DeviceKind, Part, PartId, PartKind, Scheme, Step, TurnedBy};

/// Some words in one weight and ink.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The words.
    pub words: String,
    /// Weight.
    pub weight: Weight,
    /// Ink.
    pub ink: Ink,
}

impl Piece {
    /// Plain words in the main ink.
    pub fn plain(words: impl AsRef<str>) -> Self {
        Self { words: lettering::tidy(words.as_ref()), weight: Weight::Plain, ink: Ink::Main }
    }
    /// Bold words in the main ink.
    pub fn bold(words: impl AsRef<str>) -> Self {
        Self { weight: Weight::Bold, ..Self::plain(words) }
    }
    /// Plain words in the second ink.
    pub fn second(words: impl AsRef<str>) -> Self {
        Self { ink: Ink::Second, ..Self::plain(words) }
    }
    /// Width at the smallest height, mm.
    pub fn width(&self) -> f64 {
        lettering::width(&self.words, MODULE, self.weight)
    }
}

/// One line of pieces.
pub type Line = Vec<Piece>;

/// Gap between two pieces of a line, mm.
pub const GAP: f64 = 1.0;

/// Width of a line, mm.
pub fn line_width(line: &[Piece]) -> f64 {
    let gaps = line.len().saturating_sub(1);
    line.iter().map(Piece::width).sum::<f64>() + GAP * f64::from(u32::try_from(gaps).unwrap_or(0))
}

/// The figure of a part.
pub fn figure(scheme: &Scheme, id: PartId) -> Figure {
    let part = &scheme.parts[id];
    match &part.kind {
        PartKind::Contact(_) => {
            let device = part.device.map(|device| &scheme.devices[device].kind);
            Figure::Contact(Contact {
                closed: rest::is_closed(scheme, id),
                delayed: matches!(device, Some(DeviceKind::Timer { .. })),
                hand: match device {
                    Some(DeviceKind::Handle { .. }) => Some(Hand::Turns),
                    Some(DeviceKind::Button) => Some(Hand::Presses),
                    _ => None,
                },
                stays: stays(scheme, part),
                now: None,
            })
        }
        PartKind::Coil(_) => {
            Figure::Coil { name: name_in_coil(scheme, part), stays: stays(scheme, part) }
        }
        PartKind::Input(_) => Figure::Input,
        PartKind::Motor(_) => Figure::Motor,
        PartKind::Element { .. } => Figure::Element,
        PartKind::Power { .. } => Figure::Power,
        PartKind::Link => Figure::Link,
        PartKind::Fuse { .. } => Figure::Fuse,
        PartKind::Resistor { .. } => Figure::Resistor,
        PartKind::Capacitor { .. } => Figure::Capacitor,
        PartKind::Diode(_) => Figure::Diode,
        PartKind::Varistor(_) => Figure::Varistor,
        PartKind::Lamp(_) => Figure::Lamp(lamp_colour(&part.name)),
        PartKind::Heater { .. } => Figure::Heater,
        PartKind::Terminal => Figure::Terminal,
        PartKind::Core(_) => Figure::Core,
        PartKind::Jumper => Figure::Jumper,
    }
}

/// Whether the device of a part stays where it was driven, without supply too.
fn stays(scheme: &Scheme, part: &Part) -> bool {
    let kind = part.device.map(|device| &scheme.devices[device].kind);
    matches!(kind, Some(DeviceKind::Latch { .. } | DeviceKind::Lockout { .. }))
}

/// When a contact is closed, in the words of the text, where its name and the drawing do not tell:
/// it follows a condition, a program, an order, stored energy or another part, not a position of its
/// device. None too where the words are longer than three lines of `room` mm: the table has them.
fn closed_if(scheme: &Scheme, part: &Part, room: f64) -> Option<String> {
    let PartKind::Contact(contact) = &part.kind else { return None };
    let mut tells = true;
    contact.closed_when.expr.atoms(&mut |atom| {
        tells &= matches!(atom, Atom::Position(device, _) if Some(device) == part.device);
    });
    let said = contact.closed_when.text.trim();
    if tells || said == part.own_name || said == device_name(scheme, part) {
        return None;
    }
    let words = format!("if {said}");
    let lines = lettering::wrapped(&words, room, MODULE, Weight::Plain);
    // A word that is a little wider than the room still stands there whole.
    let most = room + 3.0;
    let fits = lines.iter().all(|line| lettering::width(line, MODULE, Weight::Plain) <= most);
    (fits && lines.len() <= 3).then_some(words)
}

/// Whether a contact follows something that its name does not tell and no words stand beside it.
pub fn leaves_condition_out(scheme: &Scheme, id: PartId, style: Style) -> bool {
    let part = &scheme.parts[id];
    if closed_if(scheme, part, f64::INFINITY).is_none() {
        return false;
    }
    let room = crate::block::room_beside(style);
    style.beside == Beside::Names || closed_if(scheme, part, room).is_none()
}

/// Whether the rating of a contact matters where it stands: its leg has a coil of a breaker or a
/// lockout, a motor or a heater, or no load of its own, so that it feeds into another leg.
fn breaks_much(scheme: &Scheme, part: &Part) -> bool {
    let Some(leg) = part.at.and_then(|at| at.leg) else { return true };
    let mut loads = Vec::new();
    loads_of(scheme, &scheme.legs[leg].strand.chain, &mut loads);
    loads.is_empty() || loads.contains(&true)
}

/// The loads of a chain, each with whether it is one that burns contacts.
fn loads_of(scheme: &Scheme, chain: &Chain, loads: &mut Vec<bool>) {
    for step in &chain.steps {
        match step {
            Step::Part(id) => {
                let part = &scheme.parts[*id];
                let device = part.device.map(|device| &scheme.devices[device].kind);
                match part.kind {
                    PartKind::Coil(_) => {
                        loads.push(device.is_some_and(DeviceKind::is_breaker_or_lockout))
                    }
                    PartKind::Motor(_) | PartKind::Heater { .. } => loads.push(true),
                    PartKind::Lamp(_) | PartKind::Input(_) | PartKind::Power { .. } => {
                        loads.push(false);
                    }
                    _ => {}
                }
            }
            Step::Wire(_) => {}
            Step::Parallel(ways) => ways.iter().for_each(|way| loads_of(scheme, way, loads)),
        }
    }
}

/// What a contact may break, or, if that is not said, make: the first line of its rating.
fn contact_rating(contact: &fiftytwo_scheme::Contact) -> Option<String> {
    let first = |word: &str, lines: &[fiftytwo_scheme::ContactRating]| {
        lines.first().map(|line| bound(&format!("{word} {}", short(&line.amps.written))))
    };
    first("breaks", &contact.breaks).or_else(|| first("makes", &contact.makes))
}

/// Room for a name inside a coil, mm.
const IN_COIL: f64 = 7.5;

fn name_in_coil(scheme: &Scheme, part: &Part) -> String {
    let name = device_name(scheme, part);
    if lettering::width(&name, MODULE, Weight::Bold) <= IN_COIL { name } else { String::new() }
}

/// The colour that a lamp's name begins with.
fn lamp_colour(name: &str) -> Option<Colour> {
    let upper = name.to_uppercase();
    Colour::ALL
        .iter()
        .find(|(colour, _)| {
            upper
                .strip_prefix(colour)
                .is_some_and(|rest| rest.chars().next().is_none_or(|next| !next.is_alphabetic()))
        })
        .map(|(_, colour)| *colour)
}

/// The name of the device a part belongs to, or its own.
pub fn device_name(scheme: &Scheme, part: &Part) -> String {
    part.device.map_or_else(|| part.name.clone(), |device| scheme.devices[device].name.clone())
}

/// A quantity as written, in the shorter spelling of a drawing.
pub fn short(written: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    for word in written.split_whitespace() {
        words.push(match word {
            "ohm" => "Ω".to_owned(),
            "mohm" => "mΩ".to_owned(),
            "kohm" => "kΩ".to_owned(),
            "Mohm" => "MΩ".to_owned(),
            "uF" => "µF".to_owned(),
            "nF" | "mF" => word.to_owned(),
            "typical" => "typ.".to_owned(),
            other => other.to_owned(),
        });
    }
    words.join(" ")
}

/// A quantity that no line break may part: its number stays with its unit.
fn bound(words: &str) -> String {
    words.replace(' ', "\u{a0}")
}

/// What a part says about itself, before breaking into lines: name, own name, rating.
fn sayings(
    scheme: &Scheme,
    id: PartId,
    reference: Option<&str>,
    (room, style): (f64, Style),
) -> Vec<Line> {
    let part = &scheme.parts[id];
    let name = device_name(scheme, part);
    let mut lines: Vec<Line> = Vec::new();
    let mut own = part.own_name.clone();
    let mut rating: Option<String> = None;
    let mut more: Vec<String> = Vec::new();
    match &part.kind {
        PartKind::Contact(contact) => {
            if style.beside != Beside::Names {
                more.extend(closed_if(scheme, part, room));
            }
            if style.beside == Beside::All && breaks_much(scheme, part) {
                more.extend(contact_rating(contact));
            }
            let timed = part.device.map(|device| &scheme.devices[device].kind);
            if let Some(DeviceKind::Timer { set }) = timed {
                rating = Some(short(&set.written));
            }
        }
        PartKind::Coil(coil) => {
            rating = coil.resistance.as_ref().map(|value| short(&value.written));
            if !style.iec() && !name_in_coil(scheme, part).is_empty() {
                if !own.is_empty() {
                    lines.push(vec![Piece::plain(&own)]);
                }
                if let Some(rating) = rating {
                    lines.push(vec![Piece::second(rating)]);
                }
                return lines;
            }
        }
        PartKind::Input(input) => {
            rating = input.resistance.as_ref().map(|value| short(&value.written));
        }
        PartKind::Motor(motor) => rating = Some(short(&motor.rating.written)),
        PartKind::Element { rating: value, .. } => {
            rating = value.as_ref().map(|value| short(&value.written));
        }
        PartKind::Power { burden } => {
            rating = burden.as_ref().map(|value| short(&value.written));
        }
        PartKind::Fuse { rating: value, .. } => rating = Some(short(&value.written)),
        PartKind::Resistor { resistance, power } => {
            rating = Some(bound(&short(&resistance.written)));
            if let Some(power) = power {
                rating = rating.map(|value| format!("{value} {}", bound(&short(&power.written))));
            }
        }
        PartKind::Capacitor { capacitance } => rating = Some(short(&capacitance.written)),
        PartKind::Varistor(varistor) => rating = Some(short(&varistor.clamp.written)),
        PartKind::Lamp(lamp) => rating = Some(short(&lamp.current.written)),
        PartKind::Heater { power } => rating = Some(short(&power.written)),
        PartKind::Core(_) => return vec![vec![Piece::plain(&part.name)]],
        PartKind::Terminal | PartKind::Jumper => {
            return vec![vec![Piece::second(&part.name)]];
        }
        PartKind::Link | PartKind::Diode(_) => {}
    }
    if part.device.is_none() {
        own.clear();
    }
    let mut first = vec![Piece::bold(&name)];
    if let Some(reference) = reference {
        first.push(Piece::second(reference));
    }
    lines.push(first);
    if !own.is_empty() && own != name {
        lines.push(vec![Piece::plain(&own)]);
    }
    lines.extend(rating.into_iter().chain(more).map(|words| vec![Piece::second(words)]));
    lines
}

/// The lines beside a part, none wider than `room` mm if its words can be broken.
/// `reference` is the place of its coil.
pub fn beside(
    scheme: &Scheme,
    id: PartId,
    reference: Option<&str>,
    (room, style): (f64, Style),
) -> Vec<Line> {
    let mut lines = Vec::new();
    for line in sayings(scheme, id, reference, (room, style)) {
        if line_width(&line) <= room {
            lines.push(line);
            continue;
        }
        for piece in line {
            for words in lettering::wrapped(&piece.words, room, MODULE, piece.weight) {
                lines.push(vec![Piece { words, ..piece.clone() }]);
            }
        }
    }
    for piece in lines.iter_mut().flatten() {
        piece.words = piece.words.replace('\u{a0}', " ");
    }
    lines
}

/// A part in one sentence, for tool tips: "52 b1, contact, closed as drawn".
pub fn title(scheme: &Scheme, id: PartId) -> String {
    let part = &scheme.parts[id];
    let kind = match &part.kind {
        PartKind::Contact(contact) => {
            let rest = if rest::is_closed(scheme, id) { "closed" } else { "open" };
            format!("contact, drawn {rest}, closed when {}", contact.closed_when.text)
        }
        PartKind::Coil(_) => "coil".to_owned(),
        PartKind::Input(_) => "opto input".to_owned(),
        PartKind::Motor(_) => "motor".to_owned(),
        PartKind::Element { .. } => "thermal element".to_owned(),
        PartKind::Power { .. } => "feed of the device".to_owned(),
        PartKind::Link => "link".to_owned(),
        PartKind::Fuse { .. } => "fuse".to_owned(),
        PartKind::Resistor { .. } => "resistor".to_owned(),
        PartKind::Capacitor { .. } => "capacitor".to_owned(),
        PartKind::Diode(_) => "diode".to_owned(),
        PartKind::Varistor(_) => "varistor".to_owned(),
        PartKind::Lamp(_) => "lamp".to_owned(),
        PartKind::Heater { .. } => "heater".to_owned(),
        PartKind::Terminal => "terminal".to_owned(),
        PartKind::Core(core) => format!("core of cable {}", scheme.cables[core.cable].name),
        PartKind::Jumper => "jumper".to_owned(),
    };
    let device = part.device.map(|device| scheme.devices[device].description.clone());
    let device = device.filter(|words| !words.is_empty());
    match device {
        Some(device) => format!("{} ({device}), {kind}", part.name),
        None => format!("{}, {kind}", part.name),
    }
}

/// In what state the sheet is drawn, from the devices on it, in one sentence.
pub fn state(scheme: &Scheme, on_sheet: &[PartId]) -> String {
    let mut devices: Vec<_> =
        on_sheet.iter().filter_map(|part| scheme.parts[*part].device).collect();
    devices.sort_unstable();
    devices.dedup();
    let mut said: Vec<String> = Vec::new();
    let mut relays = false;
    let mut latched = false;
    let mut programmed = false;
    for device in devices {
        let device = &scheme.devices[device];
        let position = device.positions.get(usize::from(device.drawn));
        let stands = position.map(|position| format!("{} {position}", device.name));
        match &device.kind {
            DeviceKind::Breaker { energy, .. } => {
                said.extend(stands);
                if let Some(energy) = energy {
                    said.push(format!("{} discharged", energy.name));
                }
            }
            DeviceKind::Relay | DeviceKind::Timer { .. } if device.drawn == 0 => relays = true,
            DeviceKind::Latch { turned_by } => {
                latched |= *turned_by == TurnedBy::Coil;
                said.extend(stands);
            }
            DeviceKind::Lockout { .. } | DeviceKind::Overload => {
                latched = true;
                said.extend(stands);
            }
            DeviceKind::Button if device.drawn == 0 => {}
            DeviceKind::Ied { .. } => programmed = true,
            DeviceKind::Sensor => {}
            _ => said.extend(stands),
        }
    }
    if relays {
        said.push("relays and timers dropped out".to_owned());
    }
    if programmed {
        said.push("programmed devices dead, whatever they watch".to_owned());
    }
    let conditions = conditions(scheme, on_sheet);
    said.extend(conditions);
    let mut sentence = "Drawn de-energised".to_owned();
    if !said.is_empty() {
        sentence.push_str(": ");
        sentence.push_str(&said.join(", "));
    }
    sentence.push('.');
    if latched {
        sentence.push_str(" Latches and lockouts as after their last reset.");
    }
    sentence
}

/// The conditions that contacts on the sheet follow, each in its first state. Contacts of programmed
/// devices follow none: they are drawn dead.
fn conditions(scheme: &Scheme, on_sheet: &[PartId]) -> Vec<String> {
    let mut found = Vec::new();
    for part in on_sheet {
        let device = scheme.parts[*part].device.map(|device| &scheme.devices[device].kind);
        if matches!(device, Some(DeviceKind::Ied { .. })) {
            continue;
        }
        if let PartKind::Contact(contact) = &scheme.parts[*part].kind {
            contact.closed_when.expr.atoms(&mut |atom| {
                if let Atom::Condition(condition, _) = atom
                    && !found.contains(&condition)
                {
                    found.push(condition);
                }
            });
        }
    }
    found.sort_unstable();
    found
        .into_iter()
        .map(|id| {
            let condition = &scheme.conditions[id];
            if condition.yes_no {
                format!("no {}", condition.name)
            } else {
                let first = condition.states.first().map_or("", String::as_str);
                format!("{} {first}", condition.name)
            }
        })
        .collect()
}
