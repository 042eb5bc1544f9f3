//! Where every run may begin.
//!
//! **In:** the machine. **Out:** its states in service and as delivered. **Never here:** what comes after.

use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_motion::play::{PlayOptions, still};

/// Of so many breakers every combination of positions is a start.
pub(super) const MOST_APART: usize = 5;

/// Where every run may begin: in service (energy charged, each breaker open or closed, logic and
/// relays have followed) and as delivered (as drawn, just energised); a latch that never was driven
/// may stand anywhere. Of more than [`MOST_APART`] breakers those apart from all others one at a time.
pub fn starts(machine: &Machine<'_>) -> Vec<State> {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let mut states = vec![machine.drawn()];
    for (unit, item) in machine.units.iter() {
        let UnitKind::Bistable(device) = item.kind else { continue };
        let device = &machine.scheme.devices[device];
        if !matches!(device.kind, fiftytwo_scheme::DeviceKind::Latch { .. }) {
            continue;
        }
        let mut more = Vec::new();
        for state in &states {
            for position in 0..device.positions.len() {
                let mut other = state.clone();
                other.set(unit, u8::try_from(position).unwrap_or(0));
                more.push(other);
            }
        }
        states = more;
    }
    let mut in_service: Vec<State> = states
        .iter()
        .map(|state| {
            let mut state = state.clone();
            for (unit, item) in machine.units.iter() {
                if matches!(item.kind, UnitKind::Energy(_)) {
                    state.set(unit, item.phases / 2 - 1);
                }
            }
            still(&evaluator, state, PlayOptions::default())
        })
        .filter(|state| !states.contains(state))
        .collect();
    let open = if in_service.is_empty() { &states } else { &in_service };
    let mut moved: Vec<State> = Vec::new();
    for positions in positions(machine) {
        for state in open {
            let mut state = state.clone();
            for (unit, phase) in &positions {
                state.set(*unit, *phase);
            }
            let state = still(&evaluator, state, PlayOptions::default());
            if !open.contains(&state) && !moved.contains(&state) {
                moved.push(state);
            }
        }
    }
    in_service.append(&mut moved);
    // A story from service is the one a reader looks for.
    in_service.extend(states);
    in_service
}

/// Positions of all breakers together: all closed first, all open, then apart.
fn positions(machine: &Machine<'_>) -> Vec<Vec<(UnitId, u8)>> {
    let strokes: Vec<(UnitId, u8)> = machine
        .units
        .iter()
        .filter_map(|(unit, item)| match item.kind {
            UnitKind::Stroke(device) => machine.stroke(device).map(|table| (unit, table.closed)),
            _ => None,
        })
        .collect();
    let many = strokes.len();
    let all = |closed: &dyn Fn(usize) -> bool| -> Vec<(UnitId, u8)> {
        let each = strokes.iter().enumerate();
        each.map(|(index, (unit, phase))| (*unit, if closed(index) { *phase } else { 0 })).collect()
    };
    let mut found = vec![all(&|_| true), all(&|_| false)];
    if many <= MOST_APART {
        found.extend((1..(1_usize << many) - 1).map(|set| all(&|index| set >> index & 1 == 1)));
    } else {
        for alone in 0..many {
            found.push(all(&|index| index == alone));
            found.push(all(&|index| index != alone));
        }
    }
    found
}
