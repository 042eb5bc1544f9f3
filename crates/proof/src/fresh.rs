//! What comes of an order given at rest needs no times of what was before it.
//!
//! **In:** a claim about such an order, the units known. **Out:** the states at rest that any order of events
//! leads to, and the claim as it is asked from there. **Never here:** a verdict.
//!
//! At rest no relay is on its way, none still remembers an interruption, and no time runs but that of orders
//! which stand: those may end whenever they like. So whatever a run within the declared times does after
//! its order, some run from one of these states does too.

use crate::monitor::{Aim, Monitor};
use crate::search::{Limits, Outcome, Search};
use crate::space::{ANY_NUMBER, Prepared, Product};
use fiftytwo_motion::machine::{Scope, State, UnitId, UnitKind};
use fiftytwo_scheme::arena::Id;
use std::collections::BTreeSet;

/// The claim asked of one order alone, if it speaks of an order that may end meanwhile.
pub(crate) fn of_one_order(monitor: &Monitor) -> Option<Monitor> {
    match monitor {
        Monitor::RefusesOrder { breaker, source, union, needs, aim, only_first: false }
            if *aim != Aim::Close =>
        {
            Some(Monitor::RefusesOrder {
                breaker: *breaker,
                source: source.clone(),
                union: union.clone(),
                needs: needs.clone(),
                aim: *aim,
                only_first: true,
            })
        }
        _ => None,
    }
}

/// The same units known, but every order that is not asked for ends whenever it likes.
pub(crate) fn while_others_end(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    asked: &Monitor,
) -> Scope {
    let machine = prepared.machine();
    let mut counted = BTreeSet::new();
    if let Monitor::RefusesOrder { source, .. } = asked {
        crate::cone::units_of_expr(machine, source, &mut counted);
    }
    let mut free = scope.clone();
    let other = |unit: UnitId, kind: &UnitKind| {
        matches!(kind, UnitKind::Order(_)) && scope.knows(unit) && !counted.contains(&unit)
    };
    for (unit, _) in machine.units.iter().filter(|(unit, item)| other(*unit, &item.kind)) {
        free.at_will[unit.index()] = true;
    }
    free
}

/// Every state at rest that some order of events leads to, and how many positions were seen; none: more
/// than the limits allow.
pub(crate) fn rests(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    starts: &[State],
    limits: &Limits<'_>,
) -> Option<(Vec<State>, usize)> {
    let product = Product::of(prepared, scope, &Monitor::ComesToRest, starts, false, ANY_NUMBER)?;
    let search = Search::run(&product, limits);
    let Outcome::Exhausted { .. } = search.outcome() else { return None };
    let machine = prepared.machine();
    let mut found: Vec<State> =
        search.places().iter().filter_map(|place| product.state_at_rest(place)).collect();
    for state in &mut found {
        for (unit, item) in machine.units.iter() {
            if !matches!(item.kind, UnitKind::Energy(_)) {
                continue;
            }
            // What was wound before an interruption stays: such a recharge may take any time.
            let full = item.phases / 2 - 1;
            if state.phase(unit) < full {
                state.set(unit, full + 1 + state.phase(unit));
            }
        }
    }
    Some((found, search.places().len()))
}
