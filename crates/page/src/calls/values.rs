//! The values of a part that can be set on the drawing: each with its word, and as it is written now.
//!
//! **In:** a part. **Out:** its values, those not written yet included; the change of the text that
//! sets one. **Never here:** whether a value is sensible: the changed text is read, and says so.

use fiftytwo_scheme::edit::{Change, set};
use fiftytwo_scheme::{
    Coil, Contact, ContactRating, Device, DeviceKind, GoesAfter, Input, Lamp, Light, Motor, Part,
    PartId, PartKind, Quantity, Scheme, Span, TimeRange,
};
use serde::Serialize;

/// A value that can be set.
#[derive(Debug, Clone, Serialize)]
pub struct Value {
    /// What it belongs to, where that is not the part: its device, its cable.
    pub of: Option<String>,
    /// Its word in the text.
    pub property: &'static str,
    /// What it is, in words.
    pub title: &'static str,
    /// As written; empty: not written yet.
    pub now: String,
    #[serde(skip)]
    span: Span,
    /// Written behind the names, without a word of its own.
    #[serde(skip)]
    bare: bool,
}

/// Written under this name, but not as a property.
const BARE: &str = "rating";

struct List {
    span: Span,
    of: Option<String>,
    values: Vec<Value>,
}

impl List {
    fn put(&mut self, property: &'static str, title: &'static str, now: Option<&String>) {
        self.values.push(Value {
            of: self.of.clone(),
            property,
            title,
            now: now.cloned().unwrap_or_default(),
            span: self.span,
            bare: false,
        });
    }
    fn quantity<U>(
        &mut self,
        property: &'static str,
        title: &'static str,
        now: Option<&Quantity<U>>,
    ) {
        self.put(property, title, now.map(|it| &it.written));
    }
    fn time(&mut self, property: &'static str, title: &'static str, now: Option<&TimeRange>) {
        self.put(property, title, now.map(|it| &it.written));
    }
    /// What stands behind the names.
    fn head<U>(&mut self, title: &'static str, now: &Quantity<U>) {
        self.quantity(BARE, title, Some(now));
        if let Some(last) = self.values.last_mut() {
            last.bare = true;
        }
    }
}

/// The values of a part, in the order in which they are usually written.
pub fn values(scheme: &Scheme, id: PartId) -> Vec<Value> {
    let part = &scheme.parts[id];
    let mut list = List { span: part.span, of: None, values: Vec::new() };
    let device = part.device.map(|device| &scheme.devices[device]);
    match &part.kind {
        PartKind::Contact(contact) => of_contact(&mut list, contact, device),
        PartKind::Coil(coil) => of_coil(&mut list, coil, device),
        PartKind::Input(input) => of_input(&mut list, input),
        PartKind::Motor(motor) => of_motor(&mut list, motor),
        PartKind::Lamp(lamp) => of_lamp(&mut list, lamp),
        PartKind::Element { rating, resistance } => {
            if let Some(rating) = rating {
                list.head("Rated current", rating);
            }
            list.quantity("resistance", "Resistance", resistance.as_ref());
        }
        PartKind::Power { burden } => {
            if let Some(burden) = burden {
                list.head("Load", burden);
            } else {
                list.quantity("burden", "Load", None::<&Quantity<()>>);
            }
        }
        PartKind::Fuse { rating, .. } => list.head("Rated current", rating),
        PartKind::Resistor { resistance, power } => {
            list.head("Resistance", resistance);
            list.quantity("power", "Power rating", power.as_ref());
        }
        PartKind::Capacitor { capacitance } => list.head("Capacitance", capacitance),
        PartKind::Diode(diode) => {
            list.quantity("drop", "Forward drop", diode.drop.as_ref());
            list.quantity("blocks", "Greatest reverse voltage", diode.blocks.as_ref());
        }
        PartKind::Varistor(varistor) => {
            list.head("Clamp voltage", &varistor.clamp);
            list.quantity("absorbs", "Energy of one pulse", varistor.absorbs.as_ref());
        }
        PartKind::Heater { power } => list.head("Power", power),
        PartKind::Core(core) => {
            let cable = &scheme.cables[core.cable];
            (list.span, list.of) = (cable.span, Some(cable.name.clone()));
            list.quantity("length", "Length of the cable", Some(&cable.length));
            list.put("size", "Size of each core", Some(&cable.size_written));
        }
        PartKind::Link | PartKind::Terminal | PartKind::Jumper => {}
    }
    list.values
}

fn of_contact(list: &mut List, contact: &Contact, device: Option<&Device>) {
    match device.map(|device| &device.kind) {
        Some(DeviceKind::Breaker { .. }) => {
            let on_close = contact.on_close.as_ref().map(|it| &it.written);
            let on_open = contact.on_open.as_ref().map(|it| &it.written);
            list.put("on-close", "Changes in a closing stroke", on_close);
            list.put("on-open", "Changes in an opening stroke", on_open);
        }
        Some(DeviceKind::Ied { .. } | DeviceKind::Sensor) => {
            list.time("closes-in", "Closes within", contact.closes_in.as_ref());
            list.time("opens-in", "Opens within", contact.opens_in.as_ref());
        }
        _ => {}
    }
    let ratings: [(_, _, &[ContactRating]); 3] = [
        ("makes", "May make", &contact.makes),
        ("carries", "May carry", &contact.carries),
        ("breaks", "May break", &contact.breaks),
    ];
    for (property, title, lines) in ratings {
        // Of several lines it would not be clear which is meant.
        if lines.len() < 2 {
            list.quantity(property, title, lines.first().map(|it| &it.amps));
        }
    }
}

fn of_coil(list: &mut List, coil: &Coil, device: Option<&Device>) {
    list.quantity("resistance", "Resistance", coil.resistance.as_ref());
    list.quantity("works", "Works at", coil.works.as_ref());
    list.quantity("pickup", "Picks up between", coil.pickup.as_ref());
    let kind = device.map(|device| &device.kind);
    match kind {
        Some(DeviceKind::Breaker { .. }) => match &coil.goes_after {
            Some(GoesAfter::WholeStroke) => {}
            Some(GoesAfter::After(time)) => {
                list.time("goes-after", "Goes by itself after", Some(time))
            }
            None => list.time("goes-after", "Goes by itself after", None),
        },
        Some(DeviceKind::Relay | DeviceKind::Timer { .. }) => {
            list.quantity("dropout", "Drops out between", coil.dropout.as_ref());
            list.time("pickup-time", "Picks up within", coil.pickup_time.as_ref());
            list.time("dropout-time", "Drops out within", coil.dropout_time.as_ref());
        }
        _ => list.time("pickup-time", "Moves within", coil.pickup_time.as_ref()),
    }
    list.time("max-on", "May be on for", coil.max_on.as_ref());
    list.time("time-constant", "L/R", coil.time_constant.as_ref());
    let Some(device) = device else { return };
    (list.span, list.of) = (device.span, Some(device.name.clone()));
    match &device.kind {
        DeviceKind::Breaker { closing_time, opening_time, .. } => {
            let (property, title, time) = if coil.drives_to == CLOSED {
                ("closing-time", "The breaker closes within", closing_time)
            } else {
                ("opening-time", "The breaker opens within", opening_time)
            };
            list.time(property, title, Some(time));
        }
        DeviceKind::Timer { set } => list.time("set", "The timer is set to", Some(set)),
        _ => {}
    }
}

/// A breaker's positions are open and closed, in this order.
const CLOSED: u8 = 1;

fn of_input(list: &mut List, input: &Input) {
    list.quantity("resistance", "Resistance", input.resistance.as_ref());
    list.quantity("on-above", "On above", input.on_above.as_ref());
    list.quantity("off-below", "Off below", input.off_below.as_ref());
    list.quantity("least", "Least current at which it is on", input.least.as_ref());
}

fn of_motor(list: &mut List, motor: &Motor) {
    list.head("Running current", &motor.rating);
    list.quantity("inrush", "Starting current", motor.inrush.as_ref());
    list.time("starts-in", "Starts within", motor.starts_in.as_ref());
    list.quantity("works", "Works at", motor.works.as_ref());
}

fn of_lamp(list: &mut List, lamp: &Lamp) {
    list.head("Current at its rated voltage", &lamp.current);
    list.quantity("rated", "Rated voltage", lamp.rated.as_ref());
    match lamp.light {
        Light::Led => list.quantity("drop", "No current below", lamp.drop.as_ref()),
        Light::Filament => list.quantity("cold", "Resistance when cold", lamp.cold.as_ref()),
        Light::NotSaid => {}
    }
}

/// A value set: the changes of the text, and a sentence that says whom else they concern.
///
/// # Errors
/// Why it can't be set here.
pub fn change(
    scheme: &Scheme,
    text: &str,
    (id, value): (PartId, &Value),
    to: &str,
) -> Result<(Vec<Change>, String), String> {
    super::edit::in_main(value.span)?;
    let changes = if value.bare {
        vec![bare(text, value, to).ok_or("It is written elsewhere: change it in the text.")?]
    } else {
        set(text, value.span.start as usize, value.property, to)?
    };
    let part = &scheme.parts[id];
    let whose = value.of.as_ref().unwrap_or(&part.name);
    let before = if value.now.is_empty() { "" } else { value.now.as_str() };
    let becomes = if before.is_empty() {
        format!("{whose}: {}: {to}.", lower(value.title))
    } else {
        format!("{whose}: {}: {to} instead of {before}.", lower(value.title))
    };
    let also = shared(scheme, id, part, value);
    let also = match &also[..] {
        [] => String::new(),
        names => format!(" The same line serves {} too.", listed(names)),
    };
    Ok((changes, format!("{becomes}{also}")))
}

/// The parts for which the same line stands.
fn shared(scheme: &Scheme, id: PartId, part: &Part, value: &Value) -> Vec<String> {
    if value.of.is_some() {
        return Vec::new();
    }
    let same = |other: &&(PartId, &Part)| other.0 != id && other.1.span == part.span;
    let of_line = scheme.parts.iter().collect::<Vec<_>>();
    of_line.iter().filter(same).map(|(_, other)| other.name.clone()).collect()
}

/// So many names are told.
const SHOWN: usize = 6;

fn listed(names: &[String]) -> String {
    let told: Vec<&str> = names.iter().take(SHOWN).map(String::as_str).collect();
    match names.len().saturating_sub(SHOWN) {
        0 => told.join(", "),
        more => format!("{} and {more} more", told.join(", ")),
    }
}

fn lower(words: &str) -> String {
    // A quotient of letters stays.
    if words.contains('/') {
        return words.to_owned();
    }
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// The first place in the line where the value stands as it is written.
fn bare(text: &str, value: &Value, to: &str) -> Option<Change> {
    let start = value.span.start as usize;
    let line = text.get(start..)?.split('\n').next()?;
    let written = format!("\"{}\"", value.now);
    let at = start + line.find(&written)?;
    let quoted = format!("\"{}\"", to.replace('\\', "\\\\").replace('"', "\\\""));
    Some(Change { from: at, to: at + written.len(), insert: quoted })
}
