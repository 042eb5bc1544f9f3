//! What a claim watches: its memory along a run, and what breaks it.
//!
//! **In:** a state, the action that led to it.
//! **Out:** the claim's memory, or that it is broken.
//! **Never here:** how states are searched.
//!
//! Whatever is only perhaps so is read in the way that hurts the claim.

use fiftytwo_motion::machine::{Action, Agent, Deed, Look, Machine, Tri, UnitKind};
use fiftytwo_scheme::{Atom, DeviceId, Expr, PartId};

mod reading;

pub use reading::{Reading, Readings};

/// The memory of a claim along a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Memory(pub u8);

impl Memory {
    /// Broken.
    pub const BROKEN: Self = Self(u8::MAX);
    /// Nothing that comes later can break it.
    pub const DONE: Self = Self(u8::MAX - 1);

    /// Whether what comes later no longer matters.
    pub fn is_decided(self) -> bool {
        self == Self::BROKEN || self == Self::DONE
    }
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
    /// A fresh order at rest with everything permitted comes to rest without the breaker having moved.
    RefusesOrder {
        /// The breaker.
        breaker: DeviceId,
        /// The source, with its own needs.
        source: Expr,
        /// All sources, each with its own needs.
        union: Expr,
        /// All needs.
        needs: Vec<Expr>,
        /// What has to come of it.
        aim: Aim,
        /// Asked of an order that is the first move of a run, and of nothing later.
        only_first: bool,
    },
    /// A fresh order at rest, with closings of the duty still to do, comes to rest without one.
    FailsDuty {
        /// The breaker.
        breaker: DeviceId,
        /// Any source, with its own needs.
        orders: Expr,
        /// All sources, at the hand.
        union: Expr,
        /// All needs.
        needs: Vec<Expr>,
        /// The closings of the duty.
        closings: u8,
    },
    /// A second closing under one order.
    ClosesTwice {
        /// The breaker.
        breaker: DeviceId,
        /// All sources, each with its own needs.
        union: Expr,
    },
    /// A second closing although nobody has moved, no order ended and no hand asked since the first.
    ClosesAlone {
        /// The breaker.
        breaker: DeviceId,
        /// Somebody's hand or order asks.
        by_hand: Expr,
    },
    /// At rest with a trip standing, the breaker is closed.
    StaysClosed {
        /// The breaker.
        breaker: DeviceId,
        /// The trip, with its needs.
        trip: Expr,
    },
    /// Under a trip that stands, since anybody last moved, the breaker closes, opens and closes again.
    ClosesUnder {
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
    /// Devices that go on for ever although nobody moves.
    ComesToRest,
    /// A statement that must not hold at rest.
    AtRest {
        /// The statement.
        what: Expr,
        /// When the claim speaks of something at all.
        premise: Expr,
        /// A breaker that does not begin to open while the premise stands: one coil can't hide another.
        held: Option<DeviceId>,
    },
    /// A statement that must not hold for longer than a time.
    Longer {
        /// The statement.
        what: Expr,
        /// The time, µs.
        time: i64,
        /// When the claim speaks of something at all.
        premise: Expr,
        /// A breaker that does not begin to open while the premise stands: one coil can't hide another.
        held: Option<DeviceId>,
        /// Whether it counts only while everything rests but for what takes longer than that time.
        quiet: Quiet,
    },
    /// A coil is driven although nobody has asked since the start.
    Unasked {
        /// The coils.
        coils: Vec<PartId>,
        /// Somebody asks.
        asked: Expr,
    },
    /// A statement that must not become true more than so many times while another stands.
    MoreThan {
        /// How often it may.
        times: u8,
        /// The statement.
        of: Expr,
        /// Counted anew each time this begins; always: counted along the whole run.
        during: Option<Expr>,
    },
}

/// Whether a time counts only while everything rests.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quiet {
    /// Whatever moves.
    No,
    /// Only then.
    Yes,
    /// Only then, and only from the start of a run until something moves; later nothing is asked.
    FromTheStart,
}

/// What has to come of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// It closes, while the order stands.
    Close,
    /// It closes, even if the order ends by itself meanwhile.
    CloseAllTheSame,
    /// It opens, even if the order ends by itself meanwhile.
    OpenAllTheSame,
}

impl Aim {
    fn reached_by(self, machine: &Machine<'_>, action: &Action, breaker: DeviceId) -> bool {
        let deed = if self == Self::OpenAllTheSame { Deed::Part } else { Deed::Touch };
        machine.units[action.unit].kind == UnitKind::Stroke(breaker) && action.deed == deed
    }
}

/// Bits of the memory.
const STANDS: u8 = 1;
const CLOSED_ONCE: u8 = 2;
const WAITS: u8 = 4;
const SETTLED: u8 = 8;
const LOCKED: u8 = 16;
/// The statement of a limited time holds.
const OVER: u8 = 32;
/// Under a trip that stands, since anybody last moved: closed once; then opened.
const CLOSED_FIRST: u8 = 1;
const OPENED_AGAIN: u8 = 2;
/// One closing done, kept above the bits before it.
const DONE_ONCE: u8 = 16;
/// A count of becoming true: how often is kept above these bits.
const SO: u8 = 1;
const DURING: u8 = 2;
const COUNT: u8 = 4;
/// The most a count can be.
pub const MOST_COUNTED: u8 = (u8::MAX - 2) / COUNT - 1;

/// What a claim reads off a state, once for all runs that come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signs {
    /// Its statements, as each claim needs them.
    read: [Tri; 4],
    /// How many moves are surely on their way for which the claim waits.
    under_way: u16,
}

impl Signs {
    /// What the claim's statements are in a state, and how many moves are surely on their way.
    pub(crate) fn new(read: [Tri; 4], under_way: u16) -> Self {
        Self { read, under_way }
    }
    /// What a claim that reads this sees in a state, and in what may happen there.
    pub fn of<'a>(
        readings: &Readings,
        look: &Look<'_, '_, '_>,
        actions: impl IntoIterator<Item = &'a Action>,
    ) -> Self {
        let waits = actions.into_iter().filter(|action| readings.waits_for(action));
        let under_way = u16::try_from(waits.count()).unwrap_or(u16::MAX);
        Self { read: readings.read(look), under_way }
    }
    /// What its statements are.
    pub(crate) fn read(&self) -> [Tri; 4] {
        self.read
    }
    /// How many moves are surely on their way.
    pub(crate) fn under_way(&self) -> u16 {
        self.under_way
    }
    /// Whether no device is surely on its way. An order that will end some time is of the
    /// outside: while it stands, devices may rest.
    pub fn rests(&self) -> bool {
        self.under_way == 0
    }
    /// Whether nothing but this action is on its way: an order that a device gives by itself is
    /// given at rest, too.
    fn rests_but_for(&self, action: &Action) -> bool {
        self.under_way == u16::from(action.is_under_way())
    }
}

impl Monitor {
    /// What is wrong where the story ends.
    pub fn broken_words(&self, machine: &Machine<'_>) -> String {
        let name = |breaker: &DeviceId| machine.scheme.devices[*breaker].name.as_str();
        match self {
            Self::DrivenWithout { coils, .. } => {
                let coils: Vec<&str> =
                    coils.iter().map(|coil| machine.scheme.parts[*coil].name.as_str()).collect();
                format!("at the end {} is driven all the same", coils.join(" or "))
            }
            Self::RefusesOrder { breaker, aim, .. } => {
                let missed = if *aim == Aim::OpenAllTheSame { "opened" } else { "closed" };
                format!("at the end everything rests and {} has not {missed}", name(breaker))
            }
            Self::FailsDuty { breaker, closings, .. } => format!(
                "at the end everything rests and {} has not closed, though it has to {} \
                 without recharging",
                name(breaker),
                if *closings == 1 { "once".to_owned() } else { format!("{closings} times") }
            ),
            Self::ClosesTwice { .. } => {
                "at the end a second closing begins under the same order".to_owned()
            }
            Self::ClosesAlone { .. } => {
                "at the end a second closing begins although nobody has moved".to_owned()
            }
            Self::StaysClosed { breaker, .. } => {
                format!(
                    "at the end everything rests, the trip stands and {} is closed",
                    name(breaker)
                )
            }
            Self::ClosesUnder { breaker, .. } => format!(
                "at the end the trip stands and {} closes a second time, although nobody has moved since before \
                 the first: it does not come to rest open",
                name(breaker)
            ),
            Self::ClosesLockedOut { breaker, lockout, .. } => format!(
                "at the end {} begins to close although nobody has reset {}",
                name(breaker),
                name(lockout)
            ),
            Self::ComesToRest => "it goes round for ever".to_owned(),
            Self::Holds { .. } => "at the end what it rules out is so".to_owned(),
            Self::AtRest { held, .. } => {
                let still = held
                    .map(|held| format!(", {} held closed to ask each coil alone", name(&held)));
                format!(
                    "at the end everything rests and what it rules out is so{}",
                    still.unwrap_or_default()
                )
            }
            Self::Longer { time, held, .. } => {
                let still = held
                    .map(|held| format!(", {} held closed to ask each coil alone", name(&held)));
                format!(
                    "at the end what it rules out has been so for more than {}{}",
                    crate::report::in_ms(*time),
                    still.unwrap_or_default()
                )
            }
            Self::Unasked { coils, .. } => {
                let coils: Vec<&str> =
                    coils.iter().map(|coil| machine.scheme.parts[*coil].name.as_str()).collect();
                format!("at the end {} is driven although nobody has asked", coils.join(" or "))
            }
            Self::MoreThan { times, .. } => {
                format!("at the end it has become so {} times", u32::from(*times) + 1)
            }
        }
    }
    /// Whether it asks what is so at rest.
    pub fn asks_rest(&self) -> bool {
        match self {
            Self::RefusesOrder { .. }
            | Self::FailsDuty { .. }
            | Self::StaysClosed { .. }
            | Self::ComesToRest
            | Self::AtRest { .. } => true,
            Self::DrivenWithout { at_rest, .. } => *at_rest,
            Self::Longer { quiet, .. } => *quiet != Quiet::No,
            _ => false,
        }
    }
    /// The time that a memory may stand, µs; none: for ever.
    pub fn limit(&self, memory: Memory) -> Option<i64> {
        match self {
            Self::Longer { time, .. } if !memory.is_decided() && memory.0 & OVER != 0 => {
                Some(*time)
            }
            _ => None,
        }
    }
    /// The longest time it ever allows, µs.
    pub fn allows(&self) -> Option<i64> {
        match self {
            Self::Longer { time, .. } => Some(*time),
            _ => None,
        }
    }
    /// The breaker that does not begin to open while the premise stands.
    pub fn held(&self) -> Option<DeviceId> {
        match self {
            Self::AtRest { held, .. } | Self::Longer { held, .. } => *held,
            _ => None,
        }
    }
    /// Whether it is still broken if everything rested here: what devices that never rest would
    /// leave undecided for ever.
    pub fn hangs(&self, memory: Memory, signs: &Signs) -> bool {
        let [first, second, ..] = signs.read;
        match self {
            Self::RefusesOrder { .. } | Self::FailsDuty { .. } => memory.0 & WAITS != 0,
            Self::StaysClosed { .. } => first.possible() && second.possible(),
            Self::AtRest { .. } => first.possible(),
            Self::ComesToRest => true,
            _ => false,
        }
    }
    /// While this stands the breaker does not begin to open.
    pub(crate) fn premise_that_holds(&self) -> Option<(DeviceId, &Expr)> {
        match self {
            Self::AtRest { held, premise, .. } | Self::Longer { held, premise, .. } => {
                held.map(|held| (held, premise))
            }
            _ => None,
        }
    }
    /// Whether it reads nothing but the state: its memory says nothing.
    pub(crate) fn has_no_memory(&self) -> bool {
        matches!(self, Self::StaysClosed { .. } | Self::AtRest { .. } | Self::Longer { .. })
    }
    /// What a motion without end does to it here: none where it asks nothing; whether it would be
    /// broken, or has no answer, if everything rested.
    pub(crate) fn unsettled(&self, memory: Memory, signs: &Signs) -> Option<bool> {
        let [first, second, _, fourth] = signs.read;
        let unasked = !first.sure() && second.possible() && fourth.possible();
        match self {
            _ if memory.is_decided() => None,
            Self::RefusesOrder { .. } | Self::FailsDuty { .. } => {
                (memory.0 & WAITS != 0 || unasked).then_some(true)
            }
            Self::StaysClosed { .. } => first.possible().then_some(second.possible()),
            // What must not be so at all is its own premise.
            Self::AtRest { what, premise, .. } if what == premise => Some(first.possible()),
            Self::AtRest { .. } => second.possible().then_some(first.possible()),
            // Where all rests for so long that it does not wait, it is asked.
            Self::Longer { quiet: Quiet::Yes, .. } => (!signs.rests()).then(|| second.possible()),
            Self::DrivenWithout { at_rest: true, .. } => {
                (!first.sure() && memory.0 & SETTLED == 0).then_some(true)
            }
            _ => None,
        }
    }
    /// Whether a motion without end through here leaves what it promises undone for ever: none where it promises
    /// nothing; whether what it must not be is so here.
    pub(crate) fn unanswered(&self, memory: Memory, signs: &Signs) -> Option<bool> {
        let [first, second, ..] = signs.read;
        match self {
            _ if memory.is_decided() => None,
            Self::RefusesOrder { .. } | Self::FailsDuty { .. } => {
                (memory.0 & WAITS != 0).then_some(true)
            }
            Self::StaysClosed { .. } => first.sure().then_some(second.possible()),
            Self::ComesToRest => Some(true),
            // What is driven again and again, and nothing rests in between, is left driven.
            Self::Longer { quiet: Quiet::Yes, .. } => (!signs.rests()).then(|| first.sure()),
            _ => None,
        }
    }
    /// What it promises, where a run without end breaks it; in each round what must not last is so for a time, µs.
    pub(crate) fn broken_for_ever(&self, machine: &Machine<'_>, so_for: i64) -> String {
        let name = |breaker: &DeviceId| machine.scheme.devices[*breaker].name.as_str();
        match self {
            Self::StaysClosed { breaker, .. } => {
                format!("the trip stands and {} never comes to rest open", name(breaker))
            }
            Self::RefusesOrder { breaker, aim: Aim::OpenAllTheSame, .. } => {
                format!("{} never opens", name(breaker))
            }
            Self::RefusesOrder { breaker, .. } | Self::FailsDuty { breaker, .. } => {
                format!("{} never closes", name(breaker))
            }
            Self::Longer { what, .. } => {
                let mut coils = Vec::new();
                what.atoms(&mut |atom| {
                    if let Atom::Driven(coil) = atom {
                        coils.push(machine.scheme.parts[coil].name.as_str());
                    }
                });
                format!(
                    "{} is driven for {} of each round, and nothing ends that",
                    coils.join(" or "),
                    crate::report::in_ms(so_for)
                )
            }
            _ => "nothing comes to rest".to_owned(),
        }
    }
    /// The breaker it speaks of.
    pub fn breaker(&self, machine: &Machine<'_>) -> Option<DeviceId> {
        match self {
            Self::DrivenWithout { coils, .. } | Self::Unasked { coils, .. } => {
                coils.first().and_then(|coil| machine.scheme.parts[*coil].device)
            }
            Self::RefusesOrder { breaker, .. }
            | Self::FailsDuty { breaker, .. }
            | Self::ClosesTwice { breaker, .. }
            | Self::ClosesAlone { breaker, .. }
            | Self::StaysClosed { breaker, .. }
            | Self::ClosesUnder { breaker, .. }
            | Self::ClosesLockedOut { breaker, .. } => Some(*breaker),
            Self::AtRest { held, .. } | Self::Longer { held, .. } => *held,
            Self::MoreThan { of, .. } => {
                let mut found = None;
                of.atoms(&mut |atom| {
                    if let Atom::Position(device, _) = atom
                        && machine.stroke(device).is_some()
                    {
                        found.get_or_insert(device);
                    }
                });
                found
            }
            Self::Holds { .. } | Self::ComesToRest => None,
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
            Self::FailsDuty { orders, union, needs, .. } => {
                let mut all = vec![orders, union];
                all.extend(needs);
                all
            }
            Self::ClosesTwice { union, .. } => vec![union],
            Self::StaysClosed { trip, .. } | Self::ClosesUnder { trip, .. } => vec![trip],
            Self::ClosesLockedOut { locked, .. } => vec![locked],
            Self::Holds { what } | Self::AtRest { what, .. } | Self::Longer { what, .. } => {
                vec![what]
            }
            Self::Unasked { asked, .. } => vec![asked],
            Self::ClosesAlone { by_hand, .. } => vec![by_hand],
            Self::ComesToRest => Vec::new(),
            Self::MoreThan { of, during, .. } => {
                let mut all = vec![of];
                all.extend(during);
                all
            }
        }
    }
    /// The memory at a start.
    pub fn start(&self, signs: &Signs) -> Memory {
        let first = signs.read[0];
        let memory = match self {
            Self::ClosesTwice { .. } | Self::RefusesOrder { .. } | Self::FailsDuty { .. } => {
                Memory(u8::from(first.possible()) * STANDS)
            }
            Self::MoreThan { .. } => Memory(u8::from(first.possible()) * SO),
            _ => Memory::default(),
        };
        self.at(memory, signs.read, || signs.rests())
    }
    /// The memory after an action.
    pub fn step(
        &self,
        machine: &Machine<'_>,
        memory: Memory,
        before: &Signs,
        action: &Action,
        after: &Signs,
    ) -> Memory {
        self.step_to(machine, memory, before, action, after.read, || after.rests())
    }
    /// The same, where it costs something to say whether the state that the action leads to rests.
    pub(crate) fn step_to(
        &self,
        machine: &Machine<'_>,
        memory: Memory,
        before: &Signs,
        action: &Action,
        after: [Tri; 4],
        rests: impl FnOnce() -> bool,
    ) -> Memory {
        if memory.is_decided() {
            return memory;
        }
        let mut bits = memory.0;
        let [first, second, third, fourth] = after;
        match self {
            Self::ClosesTwice { breaker, .. } => {
                let stood = bits & STANDS != 0;
                let stands = stays(first, stood);
                if stands && !stood {
                    bits &= !CLOSED_ONCE;
                }
                bits = if stands { bits | STANDS } else { bits & !STANDS };
                if closing_begins(machine, action, *breaker) {
                    if bits & CLOSED_ONCE != 0 {
                        return Memory::BROKEN;
                    }
                    bits |= CLOSED_ONCE;
                    return Memory(bits);
                }
            }
            Self::ClosesAlone { breaker, .. } => {
                let asked = first.possible();
                if asked || action.agent == Agent::World || action.deed == Deed::Give {
                    bits &= !CLOSED_ONCE;
                }
                if !asked && closing_begins(machine, action, *breaker) {
                    if bits & CLOSED_ONCE != 0 {
                        return Memory::BROKEN;
                    }
                    bits |= CLOSED_ONCE;
                }
            }
            Self::RefusesOrder { breaker, aim, only_first, .. } => {
                let stood = bits & STANDS != 0;
                let stands = stays(first, stood);
                bits = if stands { bits | STANDS } else { bits & !STANDS };
                let (permitted, given, ready) = (second.sure(), third.sure(), fourth.sure());
                let fresh = stands && !stood && before.rests_but_for(action) && given;
                // An order that ends has its whole time only if it begins here: a selector turned back
                // under it may leave it too little.
                let begins = *aim == Aim::Close || action.deed == Deed::Give;
                if fresh && begins && permitted && ready {
                    bits |= WAITS;
                }
                let ended = *aim == Aim::Close && !given;
                if ended || !permitted || aim.reached_by(machine, action, *breaker) {
                    bits &= !WAITS;
                }
                if *only_first && bits & WAITS == 0 {
                    return Memory::DONE;
                }
            }
            Self::FailsDuty { breaker, closings, .. } => {
                let stood = bits & STANDS != 0;
                let stands = stays(first, stood);
                bits = if stands { bits | STANDS } else { bits & !STANDS };
                let (permitted, given, is_open) = (second.sure(), third.sure(), fourth.sure());
                let fresh = stands && !stood && before.rests_but_for(action) && given;
                if fresh && permitted && is_open {
                    bits |= WAITS;
                }
                let closes = Aim::Close.reached_by(machine, action, *breaker);
                if !(given && permitted) || closes {
                    bits &= !WAITS;
                }
                if closes {
                    bits += DONE_ONCE;
                    if bits / DONE_ONCE >= *closings {
                        return Memory::DONE;
                    }
                }
            }
            Self::ClosesUnder { breaker, .. } => {
                let closes = Aim::Close.reached_by(machine, action, *breaker);
                let opens = Aim::OpenAllTheSame.reached_by(machine, action, *breaker);
                if !first.sure() || action.agent == Agent::World {
                    bits = 0;
                } else if closes && bits == OPENED_AGAIN {
                    return Memory::BROKEN;
                } else if closes {
                    bits = CLOSED_FIRST;
                } else if opens && bits == CLOSED_FIRST {
                    bits = OPENED_AGAIN;
                }
            }
            Self::ClosesLockedOut { breaker, lockout, .. } => {
                if closing_begins(machine, action, *breaker) && bits & LOCKED != 0 {
                    return Memory::BROKEN;
                }
                let by_a_person = action.agent == Agent::World
                    && machine.device_unit(*lockout) == Some(action.unit);
                if by_a_person {
                    bits &= !LOCKED;
                }
            }
            Self::MoreThan { times, .. } => {
                // What begins with the count in one instant is counted.
                let stands = second.possible();
                if stands && bits & DURING == 0 {
                    bits = (bits & SO) | DURING;
                }
                // What is only perhaps so may just have become so, and may become so again.
                let was_surely = bits & SO != 0 && first.sure() && before.read[0].sure();
                if first.possible() && !was_surely && bits & DURING != 0 {
                    if bits / COUNT >= *times {
                        return Memory::BROKEN;
                    }
                    bits += COUNT;
                }
                bits = if first.possible() { bits | SO } else { bits & !SO };
            }
            _ => {}
        }
        self.at(Memory(bits), after, rests)
    }
    /// What being in a state does.
    fn at(&self, mut memory: Memory, read: [Tri; 4], rests: impl FnOnce() -> bool) -> Memory {
        let [first, second, ..] = read;
        let broken = match self {
            Self::DrivenWithout { at_rest, .. } => {
                let met = first.sure();
                if met {
                    memory.0 &= !SETTLED;
                } else if rests() {
                    memory.0 |= SETTLED;
                }
                let asked = !at_rest || memory.0 & SETTLED != 0;
                asked && second.possible() && !met
            }
            Self::RefusesOrder { .. } | Self::FailsDuty { .. } => memory.0 & WAITS != 0 && rests(),
            Self::StaysClosed { .. } => first.possible() && second.possible() && rests(),
            Self::ClosesLockedOut { .. } => {
                if first.possible() {
                    memory.0 |= LOCKED;
                }
                false
            }
            Self::ClosesTwice { .. }
            | Self::ClosesAlone { .. }
            | Self::ClosesUnder { .. }
            | Self::ComesToRest => false,
            Self::Holds { .. } => first.possible(),
            Self::AtRest { .. } => first.possible() && rests(),
            // What is only perhaps asked is no excuse.
            Self::Unasked { .. } if first.sure() => return Memory::DONE,
            Self::Unasked { .. } => second.possible(),
            Self::Longer { quiet, .. } => {
                let so = first.possible() && (*quiet == Quiet::No || rests());
                if !so && *quiet == Quiet::FromTheStart {
                    return Memory::DONE;
                }
                memory.0 = if so { memory.0 | OVER } else { memory.0 & !OVER };
                false
            }
            Self::MoreThan { .. } => {
                let stood = memory.0 & DURING != 0;
                memory.0 = match (second.possible(), stood) {
                    (true, true) => memory.0,
                    (true, false) => (memory.0 & SO) | DURING,
                    (false, _) => memory.0 & SO,
                };
                false
            }
        };
        if broken { Memory::BROKEN } else { memory }
    }
    /// Whether what the claim speaks of happens in a state that was reached.
    pub fn premise(&self, memory: Memory, signs: &Signs) -> bool {
        let [first, second, ..] = signs.read;
        match self {
            Self::DrivenWithout { at_rest, .. } => {
                first == Tri::No && (!at_rest || memory.0 & SETTLED != 0)
            }
            Self::RefusesOrder { .. } => memory.0 & WAITS != 0,
            // The last closing of the duty is asked for.
            Self::FailsDuty { closings, .. } => {
                memory.0 & WAITS != 0 && memory.0 / DONE_ONCE + 1 == *closings
            }
            Self::StaysClosed { .. } => first.sure() && second.sure(),
            Self::ClosesUnder { .. } => memory.0 == OPENED_AGAIN,
            Self::ClosesLockedOut { .. } => first.sure(),
            Self::ClosesTwice { .. } | Self::ClosesAlone { .. } => memory.0 & CLOSED_ONCE != 0,
            Self::Holds { .. } | Self::ComesToRest => true,
            Self::AtRest { .. } | Self::Longer { .. } => second.sure(),
            Self::Unasked { .. } => memory != Memory::DONE,
            Self::MoreThan { .. } => memory.0 & DURING != 0 && memory.0 / COUNT > 0,
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
pub fn closing_begins(machine: &Machine<'_>, action: &Action, breaker: DeviceId) -> bool {
    machine.units[action.unit].kind == UnitKind::Stroke(breaker)
        && matches!(action.deed, Deed::Release(coil)
            if machine.stroke(breaker).is_some_and(|table| table.close_coils.contains(&coil)))
}
