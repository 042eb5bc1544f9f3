//! What comes of an order given at rest, and what lasts while all rests, needs no times of what was before it.
//!
//! **In:** a claim of one of these kinds, the units known. **Out:** the states at rest that any order of events
//! leads to, and the claim as it is asked from there. **Never here:** a verdict.
//!
//! At rest no relay is on its way, none still remembers an interruption, and no time runs but that of orders
//! which stand: those may end whenever they like. So whatever a run within the declared times does after
//! its order, some run from one of these states does too.
//!
//! What must not last while all rests begins in some state at rest, and while it lasts nothing moves but the
//! outside, orders that end, and what takes longer. There the search begins, with anything on the stopwatches,
//! and with every interruption that any order of events does not remember.

use crate::monitor::{Aim, Monitor, Quiet};
use crate::search::{Limits, Outcome, Search};
use crate::space::{ANY_NUMBER, Place, Prepared, Product};
use fiftytwo_motion::machine::{Scope, State, UnitId, UnitKind};
use fiftytwo_scheme::arena::Id;
use std::collections::BTreeSet;

/// More states to begin with are not tried.
const MOST_ALIKE: usize = 20_000;

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

/// The claim asked only of what is so from the start of a run on, if it speaks of what must not last while all
/// rests.
pub(crate) fn of_what_lasts(monitor: &Monitor) -> Option<Monitor> {
    match monitor {
        Monitor::Longer { what, time, premise, held, quiet: Quiet::Yes } => Some(Monitor::Longer {
            what: what.clone(),
            time: *time,
            premise: premise.clone(),
            held: *held,
            quiet: Quiet::FromTheStart,
        }),
        _ => None,
    }
}

/// Every state that some order of events leads to in which what must not last is so at rest, and how many
/// positions were seen; none: more than the limits allow.
pub(crate) fn where_so(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    lasting: &Monitor,
    starts: &[State],
    limits: &Limits<'_>,
) -> Option<(Vec<State>, usize)> {
    let readings = lasting.readings(prepared.machine(), scope);
    everywhere(prepared, scope, starts, limits, |product, places| {
        let so = places.iter().filter_map(|place| product.state_where(place, lasting, &readings));
        let mut found = Vec::new();
        for state in so {
            found.extend(product.alike(&state, |_| true));
            if found.len() > MOST_ALIKE {
                return None;
            }
        }
        Some(found)
    })
}

/// What is found among all places that some order of events leads to, and how many they are; none: more than the
/// limits allow.
fn everywhere(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    starts: &[State],
    limits: &Limits<'_>,
    found: impl FnOnce(&Product<'_, '_>, &[Place]) -> Option<Vec<State>>,
) -> Option<(Vec<State>, usize)> {
    let product = Product::of(prepared, scope, &Monitor::ComesToRest, starts, false, ANY_NUMBER)?;
    let search = Search::run(&product, limits);
    let Outcome::Exhausted { places, .. } = search.outcome() else { return None };
    Some((found(&product, search.places())?, places))
}

/// Every state at rest that some order of events leads to, and how many positions were seen; none: more
/// than the limits allow.
pub(crate) fn rests(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    starts: &[State],
    limits: &Limits<'_>,
) -> Option<(Vec<State>, usize)> {
    // A stroke that nothing surely moves may stand anywhere, with either time still before it.
    let is_stroke = |kind: &UnitKind| matches!(kind, UnitKind::Stroke(_));
    let (mut found, places) = everywhere(prepared, scope, starts, limits, |product, places| {
        let at_rest = places.iter().filter_map(|place| product.state_at_rest(place));
        Some(at_rest.flat_map(|state| product.alike(&state, is_stroke)).collect())
    })?;
    let machine = prepared.machine();
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
    Some((found, places))
}
