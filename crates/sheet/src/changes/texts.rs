//! What the text says of everything that has a name. **In:** two schemes. **Out:** what differs, thing
//! by thing, in the words of the text. **Never here:** parts and wires as drawn; which change is good.

use super::lasting;
use fiftytwo_scheme::{
    Cable, Circuit, Condition, Device, DeviceKind, LogicRule, Order, Part, Scheme, Supply,
    TimeRange,
};
use std::collections::BTreeMap;

/// A thing whose text differs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Line {
    /// The thing: "cable C4-1".
    pub what: String,
    /// How it differs: "length 500 m, was 350 m".
    pub change: String,
}

/// A thing as its text has it.
struct Thing {
    /// What a sheet or a cover shows or what a reader acts on, by name.
    fields: Vec<(&'static str, String)>,
    /// All of it, without places in the text.
    all: String,
    /// Whether the sheets have anything to do with it.
    drawn: bool,
    /// That it is new, gone, put to use or spare now is told elsewhere.
    quiet: bool,
}

impl Thing {
    fn drawn(fields: Vec<(&'static str, String)>, all: &impl std::fmt::Debug) -> Self {
        Self { fields, all: lasting(&format!("{all:?}")), drawn: true, quiet: false }
    }
    fn beside(all: &impl std::fmt::Debug) -> Self {
        Self { fields: Vec::new(), all: lasting(&format!("{all:?}")), drawn: false, quiet: false }
    }
}

/// What differs of what the sheets are about, and the names of what differs and they do not show.
pub fn differences(earlier: &Scheme, later: &Scheme) -> (Vec<Line>, Vec<String>) {
    let (before, after) = (things(earlier), things(later));
    let (mut lines, mut elsewhere) = (Vec::new(), Vec::new());
    for (what, thing) in &after {
        let change = match before.get(what) {
            None if thing.drawn => "new".to_owned(),
            None if thing.quiet => continue,
            Some(other) if other.quiet != thing.quiet => continue,
            None => {
                elsewhere.push(format!("{what} (new)"));
                continue;
            }
            Some(other) => {
                let said = said(&other.fields, &thing.fields);
                if said.is_empty() {
                    if other.all != thing.all {
                        elsewhere.push(what.clone());
                    }
                    continue;
                }
                said.join("; ")
            }
        };
        lines.push(Line { what: what.clone(), change });
    }
    for (what, thing) in before.iter().filter(|(what, _)| !after.contains_key(*what)) {
        if thing.drawn {
            lines.push(Line { what: what.clone(), change: "gone".to_owned() });
        } else if !thing.quiet {
            elsewhere.push(format!("{what} (gone)"));
        }
    }
    lines.sort();
    elsewhere.sort();
    (lines, elsewhere)
}

/// What is otherwise, value by value: "length 500 m, was 350 m".
pub(super) fn said(
    before: &[(&'static str, String)],
    after: &[(&'static str, String)],
) -> Vec<String> {
    let mut said = Vec::new();
    for (name, value) in after {
        let old = before.iter().find(|(other, _)| other == name);
        let old = old.map_or("", |(_, old)| old.as_str());
        if old != value {
            let shown =
                |words: &str| if words.is_empty() { "–".to_owned() } else { words.to_owned() };
            said.push(format!("{name} {}, was {}", shown(value), shown(old)));
        }
    }
    for (name, old) in before {
        if !after.iter().any(|(other, _)| other == name) {
            said.push(format!("{name} gone, was {old}"));
        }
    }
    said
}

fn time(time: &TimeRange) -> String {
    time.written.clone()
}

fn things(scheme: &Scheme) -> BTreeMap<String, Thing> {
    let mut things: BTreeMap<String, Thing> = BTreeMap::new();
    // Two of one name, such as claims of one kind, are told apart by their number.
    let mut add = |what: String, thing: Thing| {
        let mut name = what.clone();
        let mut number = 1;
        while things.contains_key(&name) {
            number += 1;
            name = format!("{what}, number {number}");
        }
        things.insert(name, thing);
    };
    let title = vec![
        ("title", scheme.title.clone()),
        ("frequency", format!("{} Hz", scheme.frequency)),
        ("notes", scheme.notes.join(" / ")),
    ];
    add(
        "scheme".to_owned(),
        Thing { fields: title, all: String::new(), drawn: true, quiet: false },
    );
    for place in scheme.places.values() {
        let fields = vec![
            ("description", place.description.clone()),
            ("ambient", place.ambient.written.clone()),
        ];
        add(format!("place {}", place.name), Thing::drawn(fields, place));
    }
    for supply in scheme.supplies.values() {
        add(format!("supply {}", supply.name), of_supply(scheme, supply));
    }
    for cable in scheme.cables.values() {
        add(format!("cable {}", cable.name), of_cable(scheme, cable));
    }
    for condition in scheme.conditions.values() {
        add(format!("condition {}", condition.name), of_condition(condition));
    }
    for order in scheme.orders.values() {
        add(format!("order {}", order.name), of_order(order));
    }
    for device in scheme.devices.values() {
        add(format!("device {}", device.name), of_device(scheme, device));
    }
    for logic in scheme.logics.values() {
        let fields = match &logic.rule {
            LogicRule::When { when, on_delay, off_delay } => vec![
                ("true when", when.text.clone()),
                ("on after", time(on_delay)),
                ("off after", time(off_delay)),
            ],
            LogicRule::Memory { set, clear } => {
                vec![("set by", set.text.clone()), ("cleared by", clear.text.clone())]
            }
        };
        let device = &scheme.devices[logic.device].name;
        add(format!("logic {device} {}", logic.name), Thing::drawn(fields, logic));
    }
    for circuit in scheme.circuits.values() {
        add(format!("circuit {}", circuit.name), of_circuit(scheme, circuit));
    }
    for leg in scheme.legs.values() {
        let circuit = &scheme.circuits[leg.circuit].name;
        let fields = vec![("circuit", circuit.clone())];
        let thing = Thing { fields, all: String::new(), drawn: true, quiet: false };
        add(format!("leg {} of circuit {circuit}", leg.name), thing);
    }
    // Placed parts are compared as drawn; here what no sheet shows of them, and the spares.
    for part in scheme.parts.values() {
        add(format!("part {}", part.name), of_part(part));
    }
    for curve in scheme.curves.values() {
        add(format!("curve {}", curve.name), Thing::beside(curve));
    }
    for person in scheme.persons.values() {
        add(format!("person {}", person.name), Thing::beside(person));
    }
    for chain in &scheme.chains {
        let wire = scheme.nodes[chain.wire].wire.clone().unwrap_or_default();
        add(format!("daisy chain of wire {wire}"), Thing::beside(&chain.points));
    }
    for matrix in &scheme.matrices {
        let breaker = &scheme.devices[matrix.breaker].name;
        add(format!("matrix of {breaker}"), Thing::beside(matrix));
    }
    for claim in &scheme.claims {
        add(format!("claim {}", claim.name), Thing::beside(claim));
    }
    for waiver in &scheme.waivers {
        add(format!("waiver of {}", waiver.claim), Thing::beside(waiver));
    }
    for tune in &scheme.tunes {
        add(format!("tuning of {}", tune.claim), Thing::beside(tune));
    }
    for story in &scheme.stories {
        add(format!("story {}", story.name), Thing::beside(story));
    }
    things
}

fn of_supply(scheme: &Scheme, supply: &Supply) -> Thing {
    let fields = vec![
        ("nominal", supply.nominal.written.clone()),
        ("range", supply.range.written.clone()),
        ("internal resistance", supply.resistance.written.clone()),
        ("place", scheme.places[supply.place].name.clone()),
        ("description", supply.description.clone()),
    ];
    Thing::drawn(fields, supply)
}

fn of_cable(scheme: &Scheme, cable: &Cable) -> Thing {
    let landings = cable.landings.iter().map(|landing| {
        let end = |end: &Option<String>| end.clone().unwrap_or_else(|| "–".to_owned());
        format!("{}: {} / {}", landing.core, end(&landing.from), end(&landing.to))
    });
    let fields = vec![
        ("cores", cable.cores.to_string()),
        ("size", cable.size_written.clone()),
        ("length", cable.length.written.clone()),
        ("from", scheme.places[cable.from].name.clone()),
        ("to", scheme.places[cable.to].name.clone()),
        ("description", cable.description.clone()),
        ("landings", landings.collect::<Vec<_>>().join(", ")),
    ];
    Thing::drawn(fields, cable)
}

fn of_condition(condition: &Condition) -> Thing {
    let becomes = condition.becomes.iter().map(|rule| {
        let state = condition.states.get(usize::from(rule.state)).map_or("", String::as_str);
        format!("{state} when {} after {}", rule.when.text, rule.after.written)
    });
    let fields = vec![
        ("states", condition.states.join(", ")),
        ("becomes", becomes.collect::<Vec<_>>().join("; ")),
    ];
    Thing::drawn(fields, condition)
}

fn of_order(order: &Order) -> Thing {
    let lasts = order.lasts.as_ref().map(time).unwrap_or_default();
    Thing::drawn(vec![("lasts", lasts)], order)
}

fn of_device(scheme: &Scheme, device: &Device) -> Thing {
    let drawn = device.positions.get(usize::from(device.drawn)).cloned().unwrap_or_default();
    let mut fields = vec![
        ("description", device.description.clone()),
        ("function", device.function.clone().unwrap_or_default()),
        ("place", scheme.places[device.place].name.clone()),
        ("positions", device.positions.join(", ")),
        ("drawn", drawn),
        ("notes", device.notes.join(" / ")),
    ];
    match &device.kind {
        DeviceKind::Breaker { closing_time, opening_time, energy } => {
            fields.push(("closing time", time(closing_time)));
            fields.push(("opening time", time(opening_time)));
            if let Some(energy) = energy {
                fields.push(("energy", energy.name.clone()));
                fields.push(("closings of a charge", energy.closings.to_string()));
                let charged = energy.charged_in.as_ref().map(time).unwrap_or_default();
                fields.push(("charged in", charged));
                fields.push(("duty", energy.duty.written.clone()));
            }
        }
        DeviceKind::Timer { set } => fields.push(("set", time(set))),
        DeviceKind::Ied { reports_to, starts_in } => {
            fields.push(("reports to", reports_to.clone().unwrap_or_default()));
            fields.push(("starts in", starts_in.as_ref().map(time).unwrap_or_default()));
        }
        _ => {}
    }
    // Its parts and its logic are things of their own.
    let alone = Device { parts: Vec::new(), logics: Vec::new(), ..device.clone() };
    Thing::drawn(fields, &alone)
}

fn of_circuit(scheme: &Scheme, circuit: &Circuit) -> Thing {
    let of = circuit.of_circuit.map(|of| scheme.circuits[of].name.clone()).unwrap_or_default();
    let wire = |node| scheme.nodes[node].wire.clone().unwrap_or_default();
    let fields = vec![
        ("supply", scheme.supplies[circuit.supply].name.clone()),
        ("branches from", of),
        ("sheet", circuit.sheet.clone().unwrap_or_default()),
        ("rails", format!("{} and {}", wire(circuit.plus), wire(circuit.minus))),
        ("notes", circuit.notes.join(" / ")),
    ];
    Thing { fields, all: String::new(), drawn: true, quiet: false }
}

fn of_part(part: &Part) -> Thing {
    let shows = part.shows.as_ref().map(|shows| shows.text.clone()).unwrap_or_default();
    // Placed ones are compared as drawn, contacts by their lines in lists and tables too.
    let placed = part.at.is_some();
    let all = if placed {
        shows
    } else {
        lasting(&format!(
            "{:?} {shows} {:?} {:?}",
            part.kind,
            part.watches.is_some(),
            part.terminals
        ))
    };
    Thing { fields: Vec::new(), all, drawn: false, quiet: placed }
}
