//! The rows of a chart: what is watched in a run, and when it was so.

use crate::machine::{Evaluator, Machine, State};
use crate::timeline::Row;
use fiftytwo_scheme::{Atom, DeviceKind, Expr, PartKind};

/// A row of the chart under way.
pub(crate) struct Watched {
    pub(crate) name: String,
    pub(crate) what: Expr,
    pub(crate) so: Vec<(i64, i64)>,
    pub(crate) since: Option<i64>,
}

/// Rows of the chart: handles away from rest, orders, conditions, breaker, relays, coils.
pub(crate) fn all_rows(machine: &Machine<'_>) -> Vec<Watched> {
    let scheme = machine.scheme;
    let mut rows = Vec::new();
    let mut row = |name: String, atom: Atom| {
        rows.push(Watched { name, what: Expr::Atom(atom), so: Vec::new(), since: None });
    };
    for (id, order) in scheme.orders.iter() {
        row(order.name.clone(), Atom::Order(id));
    }
    for (id, device) in scheme.devices.iter() {
        match &device.kind {
            DeviceKind::Handle { returns_to } => {
                for (index, position) in device.positions.iter().enumerate() {
                    if returns_to.get(index).is_some_and(Option::is_some) {
                        let name = format!("{} {position}", device.name);
                        row(name, Atom::Position(id, index_u8(index)));
                    }
                }
            }
            DeviceKind::Button => row(format!("{} pressed", device.name), Atom::Position(id, 1)),
            _ => {}
        }
    }
    for (id, condition) in scheme.conditions.iter() {
        let states = condition.states.iter().enumerate().skip(1);
        for (index, state) in states {
            let name = if condition.yes_no {
                condition.name.clone()
            } else {
                format!("{} {state}", condition.name)
            };
            row(name, Atom::Condition(id, index_u8(index)));
        }
    }
    for (part, item, _) in scheme.coils() {
        let is_breaker = item.device.is_some_and(|device| {
            matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. })
        });
        if is_breaker && item.at.is_some() {
            row(format!("{} driven", item.name), Atom::Driven(part));
        }
    }
    for (id, device) in scheme.devices.iter() {
        match &device.kind {
            DeviceKind::Breaker { energy, .. } => {
                row(format!("{} closed", device.name), Atom::Position(id, 1));
                if let Some(energy) = energy {
                    row(format!("{} {} charged", device.name, energy.name), Atom::Charged(id));
                }
            }
            DeviceKind::Relay
            | DeviceKind::Timer { .. }
            | DeviceKind::Lockout { .. }
            | DeviceKind::Latch { .. } => {
                let name = device.positions.get(1).map_or("", String::as_str);
                row(format!("{} {name}", device.name), Atom::Position(id, 1));
            }
            _ => {}
        }
    }
    for (part, item) in scheme.placed() {
        if machine.part_unit(part).is_some() && matches!(item.kind, PartKind::Contact(_)) {
            row(format!("{} closed", item.name), Atom::Closed(part));
        }
    }
    rows
}

/// The rows of a run whose states are known, each with the time from which on it stood, µs.
pub fn rows_of(evaluator: &Evaluator<'_, '_>, states: &[(i64, &State)], end: i64) -> Vec<Row> {
    let mut rows = all_rows(evaluator.machine);
    for (at, state) in states {
        let look = evaluator.look(state);
        for row in &mut rows {
            match (look.holds(&row.what).sure(), row.since) {
                (true, None) => row.since = Some(*at),
                (false, Some(since)) => {
                    row.so.push((since, *at));
                    row.since = None;
                }
                _ => {}
            }
        }
    }
    let ended = rows.into_iter().map(|mut row| {
        row.so.extend(row.since.map(|since| (since, end)));
        Row { name: row.name, so: row.so }
    });
    ended.filter(|row| !row.so.is_empty()).collect()
}

fn index_u8(index: usize) -> u8 {
    u8::try_from(index).unwrap_or(u8::MAX)
}
