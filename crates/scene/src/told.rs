//! What happened up to a moment, in one sentence. **In:** the events of a run. **Out:** what happened
//! last and why, for the whole scheme or for what one circuit has to do with. **Never here:** states.

use crate::state::milliseconds;
use fiftytwo_motion::timeline::Event;
use fiftytwo_scheme::{Atom, CircuitId, DeviceKind, LogicId, Part, PartId, PartKind, Scheme};

/// Most events told of one time.
const MOST: usize = 2;

/// What happened, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// What, one short sentence.
    pub what: String,
    /// Why.
    pub why: String,
}

/// What happened last up to a time, µs: of a circuit, if one is given, what concerns it; if nothing
/// has since `since`, whatever did then, and if nothing did at all, what concerns it last. An event before
/// `since` is told with its own time.
pub fn told(
    scheme: &Scheme,
    events: &[Event],
    circuit: Option<CircuitId>,
    (since, at): (i64, i64),
) -> Told {
    let seen: Vec<&Event> =
        events.iter().filter(|event| event.time_us <= at && !event.silent).collect();
    let own: Vec<&Event> = match circuit {
        Some(circuit) => {
            seen.iter().copied().filter(|event| concerns(scheme, event, circuit)).collect()
        }
        None => seen.clone(),
    };
    let fresh = |from: &[&Event]| from.iter().rfind(|event| event.time_us > since).is_some();
    let from = if fresh(&own) || (!fresh(&seen) && !own.is_empty()) { &own } else { &seen };
    let Some(last) = from.last().copied() else {
        return Told { what: "where the story begins".to_owned(), why: String::new() };
    };
    let mut together: Vec<&Event> =
        from.iter().copied().filter(|event| event.time_us == last.time_us).collect();
    let others = together.len().saturating_sub(MOST);
    // What a breaker does tells most, then what drives its coils, small steps least; else the later.
    together.sort_by_key(|event| std::cmp::Reverse((!event.minor, weight(scheme, event))));
    together.truncate(MOST);
    let mut what: Vec<String> = together.iter().map(|event| sentence(event)).collect();
    if others > 0 {
        what.push(format!("and {others} more"));
    }
    let mut what = what.join("; ");
    if last.time_us != at {
        what = format!("{what} at {}", milliseconds(last.time_us));
    }
    let why = together.first().map(|event| event.why.clone()).unwrap_or_default();
    Told { what, why }
}

/// An event with the name of its device.
pub fn sentence(event: &Event) -> String {
    if event.what.contains(event.device.as_str()) {
        event.what.clone()
    } else {
        format!("{} {}", event.device, event.what)
    }
}

/// Whether an event has to do with a circuit: the part that moves stands there, or a contact that follows the
/// line of logic, or else a part of its device; or its supply feeds it, or what drove it leads through it.
pub fn concerns(scheme: &Scheme, event: &Event, circuit: CircuitId) -> bool {
    let stands = |part: &PartId| scheme.parts[*part].at.is_some_and(|at| at.circuit == circuit);
    let device = scheme.device_named(&event.device).map(|device| &scheme.devices[device]);
    let moves = match (part_moved(scheme, event), logic_moved(scheme, event)) {
        (Some(part), _) => stands(&part),
        (None, Some(logic)) => device.is_some_and(|device| {
            let follows = |part: &&PartId| follows(&scheme.parts[**part], logic);
            device.parts.iter().filter(follows).any(stands)
        }),
        (None, None) => device.is_some_and(|device| device.parts.iter().any(stands)),
    };
    moves
        || event.parts.iter().any(stands)
        || scheme.supplies[scheme.circuits[circuit].supply].name == event.device
}

/// The contact, input, fuse or link that an event moves by itself.
fn part_moved(scheme: &Scheme, event: &Event) -> Option<PartId> {
    const VERBS: [&str; 8] = [
        "closes",
        "opens",
        "comes on",
        "goes off",
        "blows",
        "is replaced",
        "is opened",
        "is closed",
    ];
    let name = VERBS.iter().find_map(|verb| event.what.strip_suffix(verb))?;
    scheme.part_named(name.trim())
}

/// The line of logic that an event turns on or off.
pub(crate) fn logic_moved(scheme: &Scheme, event: &Event) -> Option<LogicId> {
    let name = ["comes on", "goes off"].iter().find_map(|it| event.what.strip_suffix(it))?;
    let is = |logic: &fiftytwo_scheme::Logic| {
        let device = &scheme.devices[logic.device].name;
        *device == event.device && format!("{device} {}", logic.name) == name.trim()
    };
    scheme.logics.iter().find(|(_, logic)| is(logic)).map(|(id, _)| id)
}

/// Whether a part is a contact that reads a line of logic.
pub(crate) fn follows(part: &Part, logic: LogicId) -> bool {
    let PartKind::Contact(contact) = &part.kind else { return false };
    let mut reads = false;
    contact.closed_when.expr.atoms(&mut |atom| reads |= atom == Atom::Logic(logic));
    reads
}

fn weight(scheme: &Scheme, event: &Event) -> usize {
    let kind = scheme.device_named(&event.device).map(|device| &scheme.devices[device].kind);
    match kind {
        Some(DeviceKind::Breaker { .. }) => 3,
        Some(DeviceKind::Handle { .. } | DeviceKind::Button) => 2,
        Some(_) if event.what.contains("closes") || event.what.contains("picks up") => 2,
        _ => 1,
    }
}
