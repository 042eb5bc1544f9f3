//! What a claim reads off a state.
//!
//! **In:** a claim, the units that are known.
//! **Out:** its statements, and which moves it waits for: all that its memory depends on.
//! **Never here:** the memory.

use super::{Aim, Monitor, Quiet};
use fiftytwo_motion::machine::{Action, Look, Machine, Scope, Tri, UnitId};
use fiftytwo_scheme::{Atom, DeviceId, Expr, PartId};

/// One statement.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// It holds.
    Holds(Expr),
    /// It surely holds: what is only perhaps so counts as not so.
    Surely(Expr),
    /// A unit stands in a phase.
    Stands(UnitId, u8),
    /// The contrary.
    Not(Box<Self>),
    /// All of these.
    All(Vec<Self>),
    /// Some of these.
    Any(Vec<Self>),
}

impl Reading {
    fn nothing() -> Self {
        Self::Any(Vec::new())
    }
    pub(crate) fn holds(&self, look: &Look<'_, '_, '_>) -> Tri {
        match self {
            Self::Holds(expr) => look.holds(expr),
            Self::Surely(expr) => Tri::from_bool(look.holds(expr).sure()),
            Self::Stands(unit, phase) => {
                look.phase(*unit).map_or(Tri::Perhaps, |now| Tri::from_bool(now == *phase))
            }
            Self::Not(inner) => !inner.holds(look),
            Self::All(items) => items.iter().map(|it| it.holds(look)).fold(Tri::Yes, Tri::and),
            Self::Any(items) => items.iter().map(|it| it.holds(look)).fold(Tri::No, Tri::or),
        }
    }
}

/// All that a claim reads.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    /// Its statements, in the order of its signs.
    pub statements: [Reading; 4],
    /// A move that may come later than this, µs, is none that it waits for; none: it waits for all.
    pub patience: Option<i64>,
}

impl Readings {
    /// What the statements are in a state.
    pub(crate) fn read(&self, look: &Look<'_, '_, '_>) -> [Tri; 4] {
        std::array::from_fn(|index| self.statements[index].holds(look))
    }
    /// Whether everything does not rest while this may happen: a device surely makes it, and surely not so
    /// late that the claim does not wait for it.
    pub(crate) fn waits_for(&self, action: &Action) -> bool {
        // It comes by the first of its latest times; without one it may come at any time.
        let late =
            |time: i64| action.timing.iter().all(|timing| timing.hi.is_none_or(|hi| hi > time));
        action.is_under_way() && !self.patience.is_some_and(late)
    }
}

impl Monitor {
    /// What the claim reads off a state of which `scope` is known.
    pub fn readings(&self, machine: &Machine<'_>, scope: &Scope) -> Readings {
        let patience = match self {
            Self::Longer { time, quiet, .. } if *quiet != Quiet::No => Some(*time),
            _ => None,
        };
        Readings { statements: self.statements_read(machine, scope), patience }
    }
    fn statements_read(&self, machine: &Machine<'_>, scope: &Scope) -> [Reading; 4] {
        let nothing = Reading::nothing;
        let holds = |expr: &Expr| Reading::Holds(expr.clone());
        let is_in = |breaker: DeviceId, position| {
            Reading::Holds(Expr::Atom(Atom::Position(breaker, position)))
        };
        let driven = |coils: &[PartId]| {
            let each = coils.iter().map(|coil| Reading::Holds(Expr::Atom(Atom::Driven(*coil))));
            Reading::Any(each.collect())
        };
        let all = |needs: &[Expr]| needs.iter().map(holds).collect::<Vec<_>>();
        let permitted = |needs: &[Expr], breaker: DeviceId| {
            let mut all = all(needs);
            all.push(Reading::Not(Box::new(trips(machine, scope, breaker))));
            Reading::All(all)
        };
        match self {
            Self::DrivenWithout { coils, need, .. } => {
                [holds(need), driven(coils), nothing(), nothing()]
            }
            Self::RefusesOrder {
                breaker, source, union, needs, aim: Aim::OpenAllTheSame, ..
            } => [holds(union), Reading::All(all(needs)), holds(source), is_in(*breaker, 1)],
            Self::RefusesOrder { breaker, source, union, needs, .. } => {
                let ready = vec![is_in(*breaker, 0), charged(machine, scope, *breaker)];
                [holds(union), permitted(needs, *breaker), holds(source), Reading::All(ready)]
            }
            Self::FailsDuty { breaker, orders, union, needs, .. } => {
                [holds(union), permitted(needs, *breaker), holds(orders), is_in(*breaker, 0)]
            }
            Self::ClosesTwice { union, .. } => [holds(union), nothing(), nothing(), nothing()],
            Self::StaysClosed { breaker, trip } | Self::ClosesUnder { breaker, trip } => {
                [holds(trip), is_in(*breaker, 1), nothing(), nothing()]
            }
            Self::ClosesLockedOut { locked, .. } => {
                [holds(locked), nothing(), nothing(), nothing()]
            }
            Self::ComesToRest => std::array::from_fn(|_| nothing()),
            Self::ClosesAlone { by_hand, .. } => [holds(by_hand), nothing(), nothing(), nothing()],
            Self::Holds { what } => [holds(what), nothing(), nothing(), nothing()],
            Self::AtRest { what, premise, held } | Self::Longer { what, premise, held, .. } => {
                let closed = stands_closed(machine, *held);
                let and_closed = |expr: &Expr| Reading::All(vec![holds(expr), closed.clone()]);
                [and_closed(what), and_closed(premise), nothing(), nothing()]
            }
            Self::Unasked { coils, asked } => [holds(asked), driven(coils), nothing(), nothing()],
            Self::MoreThan { of, during, .. } => {
                let during = during.as_ref().map_or(Reading::All(Vec::new()), holds);
                [holds(of), during, nothing(), nothing()]
            }
        }
    }
}

/// Some trip coil is driven. What only units left out of the search leave open is no excuse for
/// refusing an order: there it counts as not driven.
fn trips(machine: &Machine<'_>, scope: &Scope, breaker: DeviceId) -> Reading {
    let Some(table) = machine.stroke(breaker) else { return Reading::nothing() };
    let driven = |coil: &PartId| {
        let driven = Expr::Atom(Atom::Driven(*coil));
        let behind = crate::cone::units_behind(machine, *coil);
        let knows_all = behind.iter().all(|unit| scope.knows(*unit));
        if knows_all { Reading::Holds(driven) } else { Reading::Surely(driven) }
    };
    Reading::Any(table.trip_coils.iter().map(driven).collect())
}

/// Its energy is charged; left out of the search, an order is asked as if it were.
fn charged(machine: &Machine<'_>, scope: &Scope, breaker: DeviceId) -> Reading {
    match machine.energy_unit(breaker) {
        Some(unit) if scope.knows(unit) => Reading::Holds(Expr::Atom(Atom::Charged(breaker))),
        _ => Reading::All(Vec::new()),
    }
}

/// A breaker stands closed, its stroke done; without one, always.
fn stands_closed(machine: &Machine<'_>, breaker: Option<DeviceId>) -> Reading {
    let stroke = breaker.and_then(|device| {
        machine.device_unit(device).zip(machine.stroke(device).map(|table| table.closed))
    });
    stroke.map_or(Reading::All(Vec::new()), |(unit, closed)| Reading::Stands(unit, closed))
}
