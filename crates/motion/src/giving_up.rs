//! What did not come: a coil was driven, and its drive went away before anything moved.
//!
//! **In:** a run just before and just after a step. **Out:** an event for each move that gave up, with
//! the contact at which its feed left. **Never here:** whether that is bad.

use crate::machine::{Action, Deed, Machine, Teller, UnitId, UnitKind, Why};
use crate::play::ms;
use crate::run::Run;
use crate::timeline::{Came, Event, StepKind};
use fiftytwo_scheme::{DeviceKind, GoesAfter, PartId, PartKind, Scheme};

/// A move that a coil is about to make.
pub(crate) struct Drive {
    action: Action,
    coil: PartId,
    /// Since when it has been driven, µs.
    since: i64,
    why: Why,
}

/// The moves that driven coils are about to make.
pub(crate) fn drives(run: &Run<'_, '_, '_>, teller: &Teller<'_, '_>) -> Vec<Drive> {
    let look = run.evaluator.look(&run.state);
    let driven = run.actions.iter().filter_map(|action| match action.deed {
        Deed::Begin(Some(coil)) | Deed::Arrive(Some(coil)) | Deed::Release(coil) => {
            Some((action, coil))
        }
        _ => None,
    });
    driven
        .filter(|(action, _)| !action.timing.is_empty() && action.certainty.possible())
        .map(|(action, coil)| Drive {
            coil,
            since: run.driven_since(action).unwrap_or(run.now),
            why: teller.driven(&look, coil),
            action: action.clone(),
        })
        .collect()
}

/// Moves whose drive has gone with the last step. `taken`: the unit that moved in it.
pub(crate) fn given_up(
    run: &Run<'_, '_, '_>,
    teller: &Teller<'_, '_>,
    before: &[Drive],
    taken: Option<UnitId>,
) -> Vec<Event> {
    let machine = run.evaluator.machine;
    let scheme = machine.scheme;
    let mut events = Vec::new();
    for Drive { action, coil, since, why } in before {
        let goes_on = run.actions.iter().any(|now| {
            now.unit == action.unit
                && matches!(
                    now.deed,
                    Deed::Begin(Some(it)) | Deed::Arrive(Some(it)) | Deed::Release(it)
                        if it == *coil
                )
        });
        if goes_on || taken == Some(action.unit) || run.now <= *since {
            continue;
        }
        let look = run.evaluator.look(&run.state);
        if look.pickup(*coil).possible() {
            continue;
        }
        let opened = why.parts.iter().find(|part| !look.closed(**part).possible());
        let lost = opened.map_or_else(
            || "its feed went away".to_owned(),
            |part| format!("its feed left at {}", scheme.parts[*part].name),
        );
        let needed = needs(scheme, action, *coil)
            .map_or_else(String::new, |needs| format!("; it needs {needs}"));
        let lasted = ms(run.now - since);
        let name = teller.device_name(action).to_owned();
        events.push(Event {
            time_us: run.now,
            time_ms: ms(run.now),
            movement: name.clone(),
            what: never(machine, action, &name),
            device: name,
            why: format!("{lost} after {lasted} ms{needed}"),
            path: why.path.clone(),
            parts: why.parts.clone(),
            volts: why.volts,
            by: "device",
            minor: false,
            silent: false,
            kind: StepKind::Alone,
            at: teller.span(action).map(|span| scheme.sources.place(span)),
            unit: None,
            cause: run.event,
            came: Came::GaveUp,
        });
    }
    events
}

/// How long a coil has to be driven, as written.
fn needs(scheme: &Scheme, action: &Action, coil: PartId) -> Option<String> {
    let PartKind::Coil(data) = &scheme.parts[coil].kind else { return None };
    let set = scheme.parts[coil].device.and_then(|device| match &scheme.devices[device].kind {
        DeviceKind::Timer { set } => Some(set),
        _ => None,
    });
    let written = match (action.deed, &data.goes_after) {
        (Deed::Release(_), Some(GoesAfter::After(time))) => Some(time),
        (Deed::Release(_), _) => None,
        _ => set.or(data.pickup_time.as_ref()),
    };
    written.map(|time| time.written.clone())
}

fn never(machine: &Machine<'_>, action: &Action, name: &str) -> String {
    match (&machine.units[action.unit].kind, action.deed) {
        (UnitKind::Stroke(device), Deed::Release(coil)) => {
            let opens =
                machine.stroke(*device).is_some_and(|table| table.trip_coils.contains(&coil));
            if opens { format!("{name} never tripped") } else { format!("{name} never closed") }
        }
        (UnitKind::Bistable(device), _) => {
            let positions = &machine.scheme.devices[*device].positions;
            let to = usize::from(action.to) % positions.len().max(1);
            let position = positions.get(to).map_or("?", String::as_str);
            format!("{name} never was {position}")
        }
        (UnitKind::Relay(device), _) => {
            let word = machine.scheme.devices[*device].positions.get(1).map_or("", String::as_str);
            if word == "picked up" {
                format!("{name} never picked up")
            } else {
                format!("{name} never was {word}")
            }
        }
        _ => format!("{name} never moved"),
    }
}
