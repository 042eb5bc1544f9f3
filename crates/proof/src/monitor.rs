//! What a claim watches: its memory along a run, and what breaks it.
//!
//! **In:** a state, the action that led to it.
//! **Out:** the claim's memory, or that it is broken.
//! **Never here:** how states are searched.
//!
//! Whatever is only perhaps so is read in the way that hurts the claim.

use fiftytwo_motion::machine::{Action, Agent, Deed, Look, Machine, Tri, UnitKind};
use fiftytwo_scheme::{Atom, DeviceId, Expr, PartId};

/// The memory of a claim along a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Memory(pub u8);

impl Memory {
    /// Broken.
    pub const BROKEN: Self = Self(u8::MAX);
}

/// What must never be.
#[derive(Debug, Clone, PartialEq)]
pub enum Monitor {
    /// A coil is driven while a need is not met: in any state, or once everything has come to
    /// rest without it.
    DrivenWithout {
        /// The coils.
        coils: Vec<PartId>,
        /// The need.
        need: Expr,
        /// Asked only from the first rest without the need until it is met again.
        at_rest: bool,
    },
    /// A fresh order at rest with everything permitted comes to rest without a closing.
    RefusesOrder {
        /// The breaker.
        breaker: DeviceId,
        /// The source, with its own needs.
        source: Expr,
        /// All sources, each with its own needs.
        union: Expr,
        /// All needs.
        needs: Vec<Expr>,
    },
    /// A second closing under one order.
    ClosesTwice {
        /// The breaker.
        breaker: DeviceId,
        /// All sources, each with its own needs.
        union: Expr,
    },
    /// At rest with a trip standing, the breaker is closed.
    StaysClosed {
        /// The breaker.
        breaker: DeviceId,
        /// The trip, with its needs.
        trip: Expr,
    },
    /// A closing begins after a lockout has operated and before a person has reset it.
    ClosesLockedOut {
        /// The breaker.
        breaker: DeviceId,
        /// The lockout.
        lockout: DeviceId,
        /// So once it has operated.
        locked: Expr,
    },
    /// A statement that must never hold.
    Holds {
        /// The statement.
        what: Expr,
    },
}

/// Bits of the memory.
const STANDS: u8 = 1;
const CLOSED_ONCE: u8 = 2;
const WAITS: u8 = 4;
const SETTLED: u8 = 8;
const LOCKED: u8 = 16;

impl Monitor {
    /// Whether no device is surely on its way. An order that will end some time is of the
    /// outside: while it stands, devices may rest.
    pub fn rests(actions: &[Action]) -> bool {
        !actions.iter().any(|action| {
            action.agent == Agent::Device && action.certainty.sure() && action.deed != Deed::Give
        })
    }
    /// Whether nothing but this action is on its way: an order that a device gives by itself is
    /// given at rest, too.
    pub fn rests_but_for(actions: &[Action], taken: &Action) -> bool {
        !actions.iter().any(|action| {
            action != taken
                && action.agent == Agent::Device
                && action.certainty.sure()
                && action.deed != Deed::Give
        })
    }
    /// What is wrong where the story ends.
    pub fn broken_words(&self, machine: &Machine<'_>) -> String {
        let name = |breaker: &DeviceId| machine.scheme.devices[*breaker].name.as_str();
        match self {
            Self::DrivenWithout { coils, .. } => {
                let coils: Vec<&str> =
                    coils.iter().map(|coil| machine.scheme.parts[*coil].name.as_str()).collect();
                format!("at the end {} is driven all the same", coils.join(" or "))
            }
            Self::RefusesOrder { breaker, .. } => {
                format!("at the end everything rests and {} has not begun to close", name(breaker))
            }
            Self::ClosesTwice { .. } => {
                "at the end a second closing begins under the same order".to_owned()
            }
            Self::StaysClosed { breaker, .. } => {
                format!(
                    "at the end everything rests, the trip stands and {} is closed",
                    name(breaker)
                )
            }
            Self::ClosesLockedOut { breaker, lockout, .. } => format!(
                "at the end {} begins to close although nobody has reset {}",
                name(breaker),
                name(lockout)
            ),
            Self::Holds { .. } => "at the end it is so".to_owned(),
        }
    }
    /// Whether it asks what is so at rest.
    pub fn asks_rest(&self) -> bool {
        match self {
            Self::RefusesOrder { .. } | Self::StaysClosed { .. } => true,
            Self::DrivenWithout { at_rest, .. } => *at_rest,
            _ => false,
        }
    }
    /// Whether it is still broken if everything rested here: what devices that never rest would
    /// leave undecided for ever.
    pub fn hangs(&self, memory: Memory, look: &Look<'_, '_, '_>) -> bool {
        match self {
            Self::RefusesOrder { .. } => memory.0 & WAITS != 0,
            Self::StaysClosed { breaker, trip } => {
                look.holds(trip).possible() && look.atom(Atom::Position(*breaker, 1)).possible()
            }
            _ => false,
        }
    }
    /// The breaker it speaks of.
    pub fn breaker(&self, machine: &Machine<'_>) -> Option<DeviceId> {
        match self {
            Self::DrivenWithout { coils, .. } => {
                coils.first().and_then(|coil| machine.scheme.parts[*coil].device)
            }
            Self::RefusesOrder { breaker, .. }
            | Self::ClosesTwice { breaker, .. }
            | Self::StaysClosed { breaker, .. }
            | Self::ClosesLockedOut { breaker, .. } => Some(*breaker),
            Self::Holds { .. } => None,
        }
    }
    /// The statements it reads.
    pub fn statements(&self) -> Vec<&Expr> {
        match self {
            Self::DrivenWithout { need, .. } => vec![need],
            Self::RefusesOrder { source, union, needs, .. } => {
                let mut all = vec![source, union];
                all.extend(needs);
                all
            }
            Self::ClosesTwice { union, .. } => vec![union],
            Self::StaysClosed { trip, .. } => vec![trip],
            Self::ClosesLockedOut { locked, .. } => vec![locked],
            Self::Holds { what } => vec![what],
        }
    }
    /// The memory at a start.
    pub fn start(&self, look: &Look<'_, '_, '_>, actions: &[Action]) -> Memory {
        let memory = match self {
            Self::ClosesTwice { union, .. } | Self::RefusesOrder { union, .. } => {
                Memory(u8::from(look.holds(union).possible()) * STANDS)
            }
            _ => Memory::default(),
        };
        self.at(memory, look, actions)
    }
    /// The memory after an action. `before_rests`: nothing but the action was on its way.
    pub fn step(
        &self,
        memory: Memory,
        before: &Look<'_, '_, '_>,
        before_rests: bool,
        action: &Action,
        after: &Look<'_, '_, '_>,
        actions: &[Action],
    ) -> Memory {
        if memory == Memory::BROKEN {
            return memory;
        }
        let mut bits = memory.0;
        match self {
            Self::ClosesTwice { breaker, union } => {
                let stood = bits & STANDS != 0;
                let stands = stays(after.holds(union), stood);
                if stands && !stood {
                    bits &= !CLOSED_ONCE;
                }
                bits = if stands { bits | STANDS } else { bits & !STANDS };
                if closing_begins(before, action, *breaker) {
                    if bits & CLOSED_ONCE != 0 {
                        return Memory::BROKEN;
                    }
                    bits |= CLOSED_ONCE;
                    return Memory(bits);
                }
            }
            Self::RefusesOrder { breaker, source, union, needs } => {
                let stood = bits & STANDS != 0;
                let stands = stays(after.holds(union), stood);
                bits = if stands { bits | STANDS } else { bits & !STANDS };
                let permitted =
                    needs.iter().map(|need| after.holds(need)).fold(Tri::Yes, Tri::and).sure()
                        && !any_trip_driven(after, *breaker);
                let fresh = stands && !stood && before_rests && after.holds(source).sure();
                let is_open = after.atom(Atom::Position(*breaker, 0)).sure();
                if fresh && permitted && is_open && charged(after, *breaker) {
                    bits |= WAITS;
                }
                let still = after.holds(source).sure() && permitted;
                if !still || closing_begins(before, action, *breaker) {
                    bits &= !WAITS;
                }
            }
            Self::ClosesLockedOut { breaker, lockout, .. } => {
                if closing_begins(before, action, *breaker) && bits & LOCKED != 0 {
                    return Memory::BROKEN;
                }
                let by_a_person = action.agent == Agent::World
                    && before.machine().device_unit(*lockout) == Some(action.unit);
                if by_a_person {
                    bits &= !LOCKED;
                }
            }
            _ => {}
        }
        self.at(Memory(bits), after, actions)
    }
    /// What being in a state does.
    fn at(&self, mut memory: Memory, look: &Look<'_, '_, '_>, actions: &[Action]) -> Memory {
        let broken = match self {
            Self::DrivenWithout { coils, need, at_rest } => {
                let met = look.holds(need);
                if met.sure() {
                    memory.0 &= !SETTLED;
                } else if Self::rests(actions) {
                    memory.0 |= SETTLED;
                }
                let driven = coils.iter().any(|coil| look.pickup(*coil).possible());
                let asked = !at_rest || memory.0 & SETTLED != 0;
                asked && driven && !met.sure()
            }
            Self::RefusesOrder { .. } => memory.0 & WAITS != 0 && Self::rests(actions),
            Self::StaysClosed { breaker, trip } => {
                let closed = look.atom(Atom::Position(*breaker, 1));
                Self::rests(actions) && look.holds(trip).possible() && closed.possible()
            }
            Self::ClosesLockedOut { locked, .. } => {
                if look.holds(locked).possible() {
                    memory.0 |= LOCKED;
                }
                false
            }
            Self::ClosesTwice { .. } => false,
            Self::Holds { what } => look.holds(what).possible(),
        };
        if broken { Memory::BROKEN } else { memory }
    }
    /// Whether what the claim speaks of happens in a state that was reached.
    pub fn premise(&self, memory: Memory, look: &Look<'_, '_, '_>) -> bool {
        match self {
            Self::DrivenWithout { need, at_rest, .. } => {
                look.holds(need) == Tri::No && (!at_rest || memory.0 & SETTLED != 0)
            }
            Self::RefusesOrder { .. } => memory.0 & WAITS != 0,
            Self::StaysClosed { breaker, trip } => {
                look.holds(trip).sure() && look.atom(Atom::Position(*breaker, 1)).sure()
            }
            Self::ClosesLockedOut { locked, .. } => look.holds(locked).sure(),
            Self::ClosesTwice { .. } => memory.0 & CLOSED_ONCE != 0,
            Self::Holds { .. } => true,
        }
    }
}

/// An order that is only perhaps given is taken as unchanged: that cannot begin a new one.
fn stays(now: Tri, stood: bool) -> bool {
    match now {
        Tri::Yes => true,
        Tri::No => false,
        Tri::Perhaps => stood,
    }
}

/// Whether an action releases the closing latch of a breaker: a closing counts from there, also
/// when it is turned back.
pub fn closing_begins(before: &Look<'_, '_, '_>, action: &Action, breaker: DeviceId) -> bool {
    let machine = before.machine();
    machine.units[action.unit].kind == UnitKind::Stroke(breaker)
        && matches!(action.deed, Deed::Release(coil)
            if machine.stroke(breaker).is_some_and(|table| table.close_coils.contains(&coil)))
}

fn any_trip_driven(look: &Look<'_, '_, '_>, breaker: DeviceId) -> bool {
    look.machine()
        .stroke(breaker)
        .is_some_and(|table| table.trip_coils.iter().any(|coil| look.pickup(*coil).possible()))
}

fn charged(look: &Look<'_, '_, '_>, breaker: DeviceId) -> bool {
    look.machine().energy_unit(breaker).is_none() || look.atom(Atom::Charged(breaker)).sure()
}
