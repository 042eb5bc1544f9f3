//! Whether statements can be true together.
//!
//! A device has one position at a time, a condition one state; everything else that a statement
//! names is taken to be free. So "possible" may be wrong only on the safe side: two contacts that
//! logic keeps apart count as closed together.

use fiftytwo_scheme::{Atom, ConditionId, DeviceId, Expr, Scheme};

/// Up to this many combinations are tried; beyond, everything counts as possible.
const MOST_TRIED: usize = 1 << 14;

/// What a statement speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thing {
    Device(DeviceId),
    Condition(ConditionId),
    Free(Atom),
}

impl Thing {
    fn of(atom: Atom) -> Self {
        match atom {
            Atom::Position(device, _) => Self::Device(device),
            Atom::Condition(condition, _) => Self::Condition(condition),
            other => Self::Free(other),
        }
    }
    fn choices(self, scheme: &Scheme) -> usize {
        match self {
            Self::Device(device) => scheme.devices[device].positions.len().max(1),
            Self::Condition(condition) => scheme.conditions[condition].states.len().max(1),
            Self::Free(_) => 2,
        }
    }
}

/// Whether all statements can be true at once.
pub(crate) fn possible(scheme: &Scheme, statements: &[&Expr]) -> bool {
    let mut things = Vec::new();
    statements.iter().for_each(|expr| gather(expr, &mut things));
    let choices: Vec<usize> = things.iter().map(|thing| thing.choices(scheme)).collect();
    let combinations = choices.iter().try_fold(1_usize, |all, count| all.checked_mul(*count));
    let Some(combinations) = combinations.filter(|count| *count <= MOST_TRIED) else {
        return true;
    };
    (0..combinations).any(|number| {
        let mut rest = number;
        let chosen: Vec<usize> = choices
            .iter()
            .map(|count| {
                let choice = rest % count;
                rest /= count;
                choice
            })
            .collect();
        statements.iter().all(|expr| holds(expr, &things, &chosen))
    })
}

fn gather(expr: &Expr, things: &mut Vec<Thing>) {
    match expr {
        Expr::Atom(atom) => {
            let thing = Thing::of(*atom);
            if !things.contains(&thing) {
                things.push(thing);
            }
        }
        Expr::Not(inner) => gather(inner, things),
        Expr::All(items) | Expr::Any(items) => items.iter().for_each(|item| gather(item, things)),
    }
}

fn holds(expr: &Expr, things: &[Thing], chosen: &[usize]) -> bool {
    match expr {
        Expr::Atom(atom) => {
            let thing = Thing::of(*atom);
            let place = things.iter().position(|known| *known == thing);
            let choice = place.and_then(|place| chosen.get(place)).copied().unwrap_or(0);
            match atom {
                Atom::Position(_, wanted) | Atom::Condition(_, wanted) => {
                    choice == usize::from(*wanted)
                }
                _ => choice == 1,
            }
        }
        Expr::Not(inner) => !holds(inner, things, chosen),
        Expr::All(items) => items.iter().all(|item| holds(item, things, chosen)),
        Expr::Any(items) => items.iter().any(|item| holds(item, things, chosen)),
    }
}
