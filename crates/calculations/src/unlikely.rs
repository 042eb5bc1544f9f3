//! Values that no plant has: a wrong unit or one nought too many, named where it stands before its
//! consequences are.
//!
//! **In:** a scheme. **Out:** `value-unlikely` findings. **Never here:** values that may well be and do
//! harm (those are each topic's), values that contradict one another (`contradictions`).
//!
//! The bounds are far outside of what is met, so that nothing real is named (common practice, no
//! source, but where one is written beside it).

use crate::figures::digits;
use fiftytwo_scheme::{
    Coil, Contact, CurrentKind, DeviceKind, Finding, GoesAfter, Light, LogicRule, Part, PartKind,
    Quantity, Scheme, Severity, Span, TimeRange,
};
use std::collections::BTreeMap;

/// Control supplies, V: 24 to 250 V is met, 1000 V DC and 480 V AC are power.
const SUPPLY: (f64, f64) = (5.0, 1000.0);
/// A control cable, m.
const LENGTH: (f64, f64) = (0.0, 20e3);
/// Legs of a ground detector, ohm (5 to 100 kohm is met; from memory).
const LEGS: (f64, f64) = (500.0, 10e6);
/// From where a ground detector gives alarm, ohm (5 to 25 kohm is met; from memory).
const ALARM: f64 = 1e6;
/// Stray capacitance of a station, F (1 to 50 µF is met; from memory).
const STRAY: f64 = 2e-3;
/// Voltage of a contact's rating, V.
const CONTACT_VOLTS: f64 = 1000.0;
/// Current of a contact's rating, A.
const CONTACT_AMPS: f64 = 1000.0;
/// L/R of a coil, or of a contact's rating, µs (5 to 300 ms is met; IEC 60947-5-1 stops at 300 ms).
const TIME_CONSTANT: i64 = 2_000_000;
/// How long a relay, a lockout or a latch takes to move, µs.
const MOVES: i64 = 10_000_000;
/// How long a breaker takes, or until its mechanism goes, µs.
const STROKE: i64 = 2_000_000;
/// A delay of a timer or a line of logic, µs: a day.
const DELAY: i64 = 86_400_000_000;
/// A breaker's or a lockout's coil draws at least so much at nominal voltage, A (1.3 A and more is met,
/// 60 mA for a lockout coil of a mechanism; read in instruction books).
const COIL_LEAST: f64 = 0.02;
/// A coil draws at most so much, A (old closing solenoids: 50 to 150 A; from memory).
const COIL_MOST: f64 = 500.0;

/// A battery or a charger drives at least so much into a short, A; a small control transformer at least
/// so much.
const INTO_A_SHORT: (f64, f64) = (20.0, 1.0);
/// An indicating lamp takes at most so many watts and at least so much current, A.
const LAMP: (f64, f64) = (150.0, 2e-4);
/// A light-emitting diode takes at most so much, A.
const LIGHT: f64 = 1.0;
/// A spring motor takes so many watts; it starts with at most so many times its running current.
const MOTOR: (f64, f64) = (5.0, 100e3);
const STARTS: f64 = 30.0;
/// A heater of a cabinet, W.
const HEATER: (f64, f64) = (0.5, 50e3);
/// An overload element is rated for so much, A.
const ELEMENT: (f64, f64) = (0.05, 1000.0);
/// An input has at most so many ohms: 60 µA at 125 V.
const INPUT: f64 = 2e6;
/// A diode drops at most so much, V (a row of several counted).
const DROP: f64 = 5.0;
/// A varistor clamps at so many times its supply's nominal voltage at the most.
const CLAMP: f64 = 20.0;
/// A capacitor of a control circuit, F.
const CAPACITOR: f64 = 5e-3;
/// A relay draws at least so much at nominal voltage, A.
const RELAY_LEAST: f64 = 2e-4;
/// A contact breaks at most so much direct current, A.
const BREAKS: f64 = 200.0;
/// A fuse of a control circuit, A.
const FUSE: (f64, f64) = (0.02, 2000.0);

/// Everything that is unlikely, in source order of its sort.
pub(crate) fn unlikely(scheme: &Scheme) -> Vec<Finding> {
    let mut told = Vec::new();
    supplies(scheme, &mut told);
    for cable in scheme.cables.values() {
        let length = &cable.length;
        if length.lo <= LENGTH.0 || length.hi > LENGTH.1 {
            let message = format!("{} is {} long", cable.name, length.written);
            let why = "a run of no length drops nothing and limits no short; one of more than 20 km is \
                       no control cable";
            told.push(found(message, "its true length", cable.span, &cable.name).why(why));
        }
    }
    for (_, part) in scheme.parts.iter() {
        match &part.kind {
            PartKind::Contact(contact) => of_contact(part, contact, &mut told),
            PartKind::Coil(coil) => of_coil(scheme, part, coil, &mut told),
            PartKind::Fuse { rating, .. } if rating.lo < FUSE.0 || rating.hi > FUSE.1 => {
                let message = format!("{} is rated {}", part.name, rating.written);
                told.push(found(message, "its rated current", part.span, &part.name));
            }
            PartKind::Resistor { resistance, .. } if resistance.hi <= 0.0 => {
                let message = format!("{} has {}: it is a wire", part.name, resistance.written);
                told.push(found(message, "its resistance, or a jumper", part.span, &part.name));
            }
            _ => of_load(scheme, part, &mut told),
        }
    }
    for device in scheme.devices.values() {
        if let DeviceKind::Breaker { closing_time, opening_time, .. } = &device.kind {
            for (what, time) in [("close", closing_time), ("open", opening_time)] {
                if time.lo <= 0 || time.hi > STROKE {
                    let message = format!("{} takes {} to {what}", device.name, time.written);
                    let why = "opening takes 14 to 60 ms, closing 35 to 200 ms as a rule";
                    let finding = found(message, "its time in ms", device.span, &device.name);
                    told.push(finding.why(why));
                }
            }
        }
        if let DeviceKind::Timer { set } = &device.kind {
            delay(&device.name, "is set to", set, device.span, &mut told);
        }
    }
    for logic in scheme.logics.values() {
        if let LogicRule::When { on_delay, off_delay, .. } = &logic.rule {
            delay(&logic.name, "waits", on_delay, logic.span, &mut told);
            delay(&logic.name, "stays on for", off_delay, logic.span, &mut told);
        }
    }
    told
}

fn found(message: String, help: &str, span: Span, name: &str) -> Finding {
    Finding::new("value-unlikely", Severity::Finding, format!("{message}: is the unit right?"))
        .help(help)
        .at(span, "this value")
        .device(name)
}

fn supplies(scheme: &Scheme, told: &mut Vec<Finding>) {
    for supply in scheme.supplies.values() {
        let (name, nominal) = (&supply.name, &supply.nominal);
        if nominal.lo < SUPPLY.0 || nominal.hi > SUPPLY.1 {
            let message = format!("{name} has {}", nominal.written);
            told.push(found(message, "24, 48, 125 or 250 V as a rule", supply.span, name));
        }
        if supply.current == CurrentKind::Dc && supply.range.hi > 2.0 * supply.range.lo {
            let message = format!("{name} ranges over {}", supply.range.written);
            let help = "84 to 112 % of the nominal voltage as a rule (from memory of IEEE 946)";
            told.push(found(message, help, supply.span, name));
        }
        // From 0 ohm to what leaves it no short-circuit current worth the name.
        let least = if supply.current == CurrentKind::Dc { INTO_A_SHORT.0 } else { INTO_A_SHORT.1 };
        let ohm = &supply.resistance;
        if ohm.hi > 0.0 && nominal.middle() / ohm.hi < least {
            let amps = crate::words::amps(nominal.middle() / ohm.hi);
            let message = format!(
                "{name} has a resistance of {} and drives only {amps} into a short",
                ohm.written
            );
            let help = "its internal resistance: 5 to 500 mohm for a battery as a rule";
            told.push(found(message, help, supply.span, name));
        }
        for detector in &supply.grounds {
            let mut add = |message: String| {
                let help =
                    "legs of 5 to 100 kohm, alarm below 5 to 25 kohm as a rule (from memory)";
                told.push(found(message, help, detector.span, name));
            };
            for leg in [&detector.plus, &detector.minus] {
                // 0 ohm is told as a contradiction.
                if leg.lo > 0.0 && (leg.lo < LEGS.0 || leg.hi > LEGS.1) {
                    add(format!("a leg of the ground detector of {name} has {}", leg.written));
                }
            }
            if let Some(alarm) = detector.alarms_below.as_ref().filter(|ohm| ohm.hi > ALARM) {
                add(format!("the ground detector of {name} gives alarm below {}", alarm.written));
            }
            if let Some(farad) = detector.capacitance.as_ref().filter(|farad| farad.hi > STRAY) {
                add(format!("the stray capacitance of {name} is {}", farad.written));
            }
        }
    }
}

fn delay(name: &str, does: &str, time: &TimeRange, span: Span, told: &mut Vec<Finding>) {
    if time.hi > DELAY {
        let message = format!("{name} {does} {}", time.written);
        told.push(found(message, "its time", span, name));
    }
}

fn of_contact(part: &Part, contact: &Contact, told: &mut Vec<Finding>) {
    let sorts =
        [("makes", &contact.makes), ("carries", &contact.carries), ("breaks", &contact.breaks)];
    for (does, ratings) in sorts {
        for rating in ratings {
            let mut add = |what: String, help: &str| {
                let message = format!("{} {does} {}{what}", part.name, rating.amps.written);
                told.push(found(message, help, part.span, &part.name));
            };
            if let Some(volts) = rating.volts.as_ref().filter(|volts| volts.hi > CONTACT_VOLTS) {
                add(format!(" at {}", volts.written), "the volts of its data sheet");
            }
            let most = if does == "breaks" { BREAKS } else { CONTACT_AMPS };
            if rating.amps.hi > most {
                add(String::new(), "the amperes of its data sheet");
            }
            if let Some(time) = rating.time_constant.as_ref().filter(|it| it.hi > TIME_CONSTANT) {
                add(format!(" with an L/R of {}", time.written), "40 ms as a rule");
            }
        }
    }
}

fn of_coil(scheme: &Scheme, part: &Part, coil: &Coil, told: &mut Vec<Finding>) {
    let name = &part.name;
    let mut add = |message: String, help: &str| {
        told.push(found(message, help, part.span, name));
    };
    if let Some(time) = &coil.time_constant
        && (time.hi <= 0 || time.hi > TIME_CONSTANT)
    {
        let message = format!("{name} has an L/R of {}", time.written);
        add(message, "5 to 100 ms as a rule, or nothing: then a typical one is taken");
    }
    for (does, time) in [("picks up in", &coil.pickup_time), ("drops out in", &coil.dropout_time)] {
        if let Some(time) = time.as_ref().filter(|time| time.hi > MOVES) {
            add(format!("{name} {does} {}", time.written), "its time in ms; a delay is a timer's");
        }
    }
    if let Some(GoesAfter::After(time)) = &coil.goes_after
        && time.hi > STROKE
    {
        add(format!("{name} goes after {}", time.written), "5 to 20 ms as a rule");
    }
    let device = part.device.map(|device| &scheme.devices[device].kind);
    let at = part.at.map(|at| &scheme.supplies[scheme.circuits[at.circuit].supply]);
    if let (Some(ohm), Some(supply)) = (&coil.resistance, at)
        && ohm.lo > 0.0
    {
        let volts = supply.nominal.middle();
        let (least, most) = (volts / ohm.hi, volts / ohm.lo);
        let large = device.is_some_and(DeviceKind::is_breaker_or_lockout);
        if most < RELAY_LEAST || (large && most < COIL_LEAST) || least > COIL_MOST {
            let amps = crate::words::amps(most);
            add(
                format!("{name} has {} and draws {amps} at {} V", ohm.written, digits(volts, 3)),
                "its resistance from the nameplate; coils of breakers and lockouts draw 1 to 10 A, of \
                 relays 1 to 400 mA",
            );
        }
    }
}

/// Lamps, motors, heaters, elements, inputs, diodes, varistors and capacitors.
fn of_load(scheme: &Scheme, part: &Part, told: &mut Vec<Finding>) {
    let supply = part.at.map(|at| &scheme.supplies[scheme.circuits[at.circuit].supply]);
    let Some(nominal) = supply.map(|supply| supply.nominal.middle()) else { return };
    let name = &part.name;
    let mut add = |message: String, help: &str| {
        told.push(found(message, help, part.span, name));
    };
    let out_of = |lo: f64, hi: f64, bounds: (f64, f64)| lo < bounds.0 || hi > bounds.1;
    match &part.kind {
        PartKind::Lamp(lamp) => {
            let watts =
                lamp.rated.as_ref().map_or(nominal, Quantity::middle) * lamp.current.middle();
            let led = lamp.light == Light::Led && lamp.current.hi > LIGHT;
            if watts > LAMP.0 || led || lamp.current.hi < LAMP.1 {
                add(
                    format!("{name} takes {}", lamp.current.written),
                    "its current at its rated voltage: 5 to 100 mA for an indicating lamp as a rule",
                );
            }
        }
        PartKind::Motor(motor) => {
            let help = "its running current from the nameplate: 2 to 40 A as a rule";
            let running = &motor.rating;
            if out_of(running.hi * nominal, running.lo * nominal, MOTOR) {
                add(format!("{name} runs with {}", running.written), help);
            } else if let Some(inrush) = &motor.inrush
                && inrush.lo > STARTS * running.hi
            {
                let message = format!(
                    "{name} starts with {} and runs with {}",
                    inrush.written, running.written
                );
                add(message, "4 to 10 times its running current as a rule");
            }
        }
        PartKind::Heater { power } if out_of(power.hi, power.lo, HEATER) => {
            add(format!("{name} takes {}", power.written), "20 W to 3 kW as a rule");
        }
        PartKind::Element { rating: Some(rating), .. } if out_of(rating.hi, rating.lo, ELEMENT) => {
            add(format!("{name} is rated {}", rating.written), "the current its motor runs with");
        }
        PartKind::Input(input) => {
            if let Some(ohm) = input.resistance.as_ref().filter(|ohm| ohm.lo > INPUT) {
                let message = format!("{name} has {}", ohm.written);
                add(message, "25 to 150 kohm as a rule: 1 to 4 mA");
            }
        }
        PartKind::Diode(diode) => {
            if let Some(drop) = diode.drop.as_ref().filter(|drop| drop.lo > DROP) {
                let help = "0.5 to 1 V for one diode; what clamps at more is a varistor or a curve";
                add(format!("{name} drops {}", drop.written), help);
            }
        }
        PartKind::Varistor(varistor) if varistor.clamp.lo > CLAMP * nominal => {
            let message = format!("{name} clamps at {}", varistor.clamp.written);
            add(message, "1.5 to 3 times the supply's voltage as a rule: so it bounds nothing");
        }
        PartKind::Capacitor { capacitance } if capacitance.lo > CAPACITOR => {
            let message = format!("{name} has {}", capacitance.written);
            add(message, "0.1 to 1000 uF as a rule: it makes contacts carry thousands of amperes");
        }
        _ => {}
    }
}

/// By the name of a supply, the names of all that hangs on it: what follows from its own values.
pub(crate) fn behind(scheme: &Scheme) -> BTreeMap<String, Vec<String>> {
    let mut behind: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (_, part) in scheme.placed() {
        let Some(at) = part.at else { continue };
        let supply = &scheme.supplies[scheme.circuits[at.circuit].supply].name;
        behind.entry(supply.clone()).or_default().push(part.name.clone());
    }
    behind
}
