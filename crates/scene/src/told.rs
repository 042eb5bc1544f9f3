//! What happened up to a moment, in one sentence. **In:** the events of a run. **Out:** what happened
//! last and why, for the whole scheme or for what one circuit has to do with. **Never here:** states.

use crate::state::milliseconds;
use fiftytwo_motion::timeline::Event;
use fiftytwo_scheme::{CircuitId, DeviceKind, Scheme};

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
/// has, whatever did. An event before `since` is told with its own time.
pub fn told(
    scheme: &Scheme,
    events: &[Event],
    circuit: Option<CircuitId>,
    (since, at): (i64, i64),
) -> Told {
    let seen: Vec<&Event> = events
        .iter()
        .filter(|event| event.time_us <= at && !event.silent && !event.minor)
        .collect();
    let own: Vec<&Event> = match circuit {
        Some(circuit) => {
            seen.iter().copied().filter(|event| concerns(scheme, event, circuit)).collect()
        }
        None => seen.clone(),
    };
    let fresh = own.iter().copied().rfind(|event| event.time_us > since);
    let Some(last) = fresh.or(own.last().copied()).or(seen.last().copied()) else {
        return Told { what: "where the story begins".to_owned(), why: String::new() };
    };
    let from = if own.is_empty() { &seen } else { &own };
    let mut together: Vec<&Event> =
        from.iter().copied().filter(|event| event.time_us == last.time_us).collect();
    let others = together.len().saturating_sub(MOST);
    // What a breaker does tells most, then what drives its coils; else the later.
    together.sort_by_key(|event| std::cmp::Reverse(weight(scheme, event)));
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

/// Whether an event has to do with a circuit: its device has a part there, its supply feeds it, or
/// what drove it leads through it.
pub fn concerns(scheme: &Scheme, event: &Event, circuit: CircuitId) -> bool {
    let stands = |part: &fiftytwo_scheme::PartId| {
        scheme.parts[*part].at.is_some_and(|at| at.circuit == circuit)
    };
    let device = scheme.device_named(&event.device);
    device.is_some_and(|device| scheme.devices[device].parts.iter().any(stands))
        || event.parts.iter().any(stands)
        || scheme.supplies[scheme.circuits[circuit].supply].name == event.device
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
