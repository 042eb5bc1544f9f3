//! What may move in a state, and how long it takes.
//!
//! A scheme becomes a list of *units*: everything that has a position of its own (a relay, the
//! stroke of a breaker, a handle, a condition, a line of logic, a contact with times of its
//! own). A [`State`] is one phase per unit. From a state, [`Look::actions`] lists what may
//! happen next, who does it, how certain its drive is and within which times.
//!
//! Contacts without times of their own, and lines of logic without delays, follow at once: they
//! are read off the state and are no units.
//!
//! The same machine serves one run (`play`), the replay of a story and the search over every
//! run (`proof`). A search may leave units out: they are then *unknown*, and everything that
//! depends on them is "perhaps" (sound: it can only add runs).

mod actions;
mod build;
mod clocks;
mod eval;
mod relay;
mod settle;
mod stroke;
mod tell;
mod undriven;
mod unknowns;

pub use clocks::{ClockId, ClockUse, Timing, Timings};
pub use eval::{Evaluator, Look, Scope, Sight, Stirs, Stuck};
pub use relay::RelayPhase;
pub use settle::Pull;
pub use stroke::{Direction, Group, StrokePhase, StrokeTable};
pub use tell::{Teller, Why, volts_text};

use fiftytwo_circuit::Wiring;
use fiftytwo_scheme::{
    Arena, ConditionId, DeviceId, Finding, LogicId, OrderId, PartId, Scheme, SupplyId, id_type,
};
use std::sync::{Arc, OnceLock};

id_type!(/// A unit: something with a position of its own.
    UnitId);

/// No, perhaps or yes: the answer of three-valued reasoning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tri {
    /// Surely not.
    No,
    /// At some corner, or for some position of what is left out.
    Perhaps,
    /// Surely.
    Yes,
}

impl Tri {
    /// Yes for true, no for false.
    pub fn from_bool(value: bool) -> Self {
        if value { Self::Yes } else { Self::No }
    }
    /// At least perhaps.
    pub fn possible(self) -> bool {
        self != Self::No
    }
    /// Surely.
    pub fn sure(self) -> bool {
        self == Self::Yes
    }
    /// Both.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        self.min(other)
    }
    /// Either.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        self.max(other)
    }
}

impl std::ops::Not for Tri {
    type Output = Self;
    fn not(self) -> Self {
        match self {
            Self::No => Self::Yes,
            Self::Perhaps => Self::Perhaps,
            Self::Yes => Self::No,
        }
    }
}

/// What a unit is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UnitKind {
    /// A condition; phase = index of its state.
    Condition(ConditionId),
    /// An order; phase 1 while it stands.
    Order(OrderId),
    /// A handle or a button; phase = position.
    Hand(DeviceId),
    /// A relay or timer; phases as [`RelayPhase`].
    Relay(DeviceId),
    /// A lockout or latch with n positions; phase p < n is a position, n + p is on the way to p.
    Bistable(DeviceId),
    /// The stroke of a breaker; phases as in its [`StrokeTable`].
    Stroke(DeviceId),
    /// The stored energy of a breaker: with n closings, phase 0 to n is the charge, n + 1 + c
    /// is charge c with a recharge that was broken off.
    Energy(DeviceId),
    /// A line of logic with delays or memory; phase 1 while it is true.
    Logic(LogicId),
    /// A contact with times of its own: closed in odd phases. 1 and 0 at rest; it bounces in 4 and 5
    /// after closing, in 2 and 3 after opening.
    Contact(PartId),
    /// An opto input; phase 1 while it is on. Also the feed of a device that takes a time to start;
    /// phase 1 once it has started.
    Input(PartId),
    /// A supply; phase 1 while it lives. Moved only by a story.
    Supply(SupplyId),
    /// A fuse; phase 1 when blown. Moved only by a story.
    Fuse(PartId),
    /// A link; phase 1 when open. Moved only by a story.
    Link(PartId),
    /// An overload; phase = position. Moved only by a story.
    Overload(DeviceId),
    /// What was moved from outside and has to stay so for a time; phase 0: the time is over, 1: it
    /// may not be moved back towards its first state, 2: nor towards its last.
    Stay(Stayer),
}

/// What stays as it was put for a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stayer {
    /// A condition.
    Condition(ConditionId),
    /// A handle or a button.
    Hand(DeviceId),
}

/// A unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// What it is.
    pub kind: UnitKind,
    /// How it is called.
    pub name: String,
    /// Its phase as drawn.
    pub drawn: u8,
    /// How many phases it has.
    pub phases: u8,
}

/// One phase per unit.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct State(pub Box<[u8]>);

impl State {
    /// The phase of a unit.
    pub fn phase(&self, unit: UnitId) -> u8 {
        self.0[fiftytwo_scheme::arena::Id::index(unit)]
    }
    /// Sets the phase of a unit.
    pub fn set(&mut self, unit: UnitId, phase: u8) {
        self.0[fiftytwo_scheme::arena::Id::index(unit)] = phase;
    }
}

/// Who makes a move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Agent {
    /// The devices themselves.
    Device,
    /// A person or the outside; index into [`Machine::persons`] is not kept here.
    World,
}

/// What kind of move it is, for telling and for the claims.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Deed {
    /// A person turns or presses, or lets go.
    Turn,
    /// A person brings a device into a position (resets a lockout).
    Bring,
    /// An order begins or ends.
    Give,
    /// A condition changes freely.
    Change,
    /// A condition follows the breaker; index of its rule.
    Follow(u8),
    /// A relay, lockout or latch begins to move: its old contacts open. The coil that drives
    /// it; none: its drive went away.
    Begin(Option<PartId>),
    /// It arrives: its new contacts close.
    Arrive(Option<PartId>),
    /// The rest of an interrupted move dies away; nothing visible.
    Subside,
    /// A latch of a breaker is released by this coil; the stroke begins.
    Release(PartId),
    /// A group of auxiliary contacts changes in a stroke.
    Auxiliary(u8),
    /// The main contacts touch.
    Touch,
    /// The main contacts part.
    Part,
    /// A stroke loses its drive and falls back.
    FallBack,
    /// One closing's worth of energy is charged.
    Charge,
    /// A line of logic becomes true or false.
    Think,
    /// A contact with times of its own changes.
    Switch,
    /// It opens and closes again before it has come to rest.
    Bounce,
    /// It has come to rest; if it stood open after closing, or closed after opening, it changes with it.
    Settle,
    /// An opto input goes on or off.
    Sense,
    /// Nothing moves; a time that a claim allows is over.
    Elapse,
}

/// Something that may happen next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Action {
    /// The unit that moves.
    pub unit: UnitId,
    /// To this phase.
    pub to: u8,
    /// A second unit that moves in the same instant (the energy used by a release).
    pub also: Option<(UnitId, u8)>,
    /// What kind of move.
    pub deed: Deed,
    /// Who.
    pub agent: Agent,
    /// How certain its drive is: yes must happen in time, perhaps may.
    pub certainty: Tri,
    /// Within which times.
    pub timing: Timings,
}

impl Action {
    /// Whether the stopwatches it asked for start anew once it has happened. A relay that has
    /// begun to move and a stroke under way keep theirs.
    pub fn restarts(&self) -> bool {
        !matches!(self.deed, Deed::Begin(_) | Deed::Auxiliary(_) | Deed::Touch | Deed::Part)
    }
    /// Whether a device surely makes it some time. That an order ends is of the outside.
    pub fn is_under_way(&self) -> bool {
        self.agent == Agent::Device && self.certainty.sure() && self.deed != Deed::Give
    }
    /// Whether it must happen at once.
    pub fn is_urgent(&self) -> bool {
        self.certainty.sure()
            && self.agent == Agent::Device
            && !self.timing.is_empty()
            && self.timing.iter().all(|timing| timing.hi == Some(0))
    }
}

/// What decides whether a part is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Switch {
    /// It never opens.
    Always,
    /// A unit of its own; its last bit counts.
    Unit { unit: UnitId, closed_phase: u8 },
    /// The stroke of a breaker.
    Stroke { unit: UnitId, bit: u8, closed_when_open: bool },
    /// Its statement, at once.
    Statement,
}

/// The machine of a scheme.
#[derive(Debug)]
pub struct Machine<'s> {
    /// The scheme.
    pub scheme: &'s Scheme,
    /// Its wiring.
    pub wiring: Wiring<'s>,
    /// All units.
    pub units: Arena<UnitId, Unit>,
    /// Unit of each condition, order, supply.
    pub(crate) of_condition: Vec<UnitId>,
    pub(crate) of_order: Vec<UnitId>,
    pub(crate) of_supply: Vec<UnitId>,
    /// Unit of each device, if it has one.
    pub(crate) of_device: Vec<Option<UnitId>>,
    /// Energy unit of each breaker.
    pub(crate) of_energy: Vec<Option<UnitId>>,
    /// Unit of each line of logic, if it has one.
    pub(crate) of_logic: Vec<Option<UnitId>>,
    /// Unit of each part, if it has one.
    pub(crate) of_part: Vec<Option<UnitId>>,
    /// Unit of what stays for a time, of each condition and each device.
    pub(crate) stay_of_condition: Vec<Option<UnitId>>,
    pub(crate) stay_of_device: Vec<Option<UnitId>>,
    /// The unit that says whether a device has started, of each device that takes a time to.
    pub(crate) start_of: Vec<Option<UnitId>>,
    /// Stroke tables by device.
    pub(crate) strokes: Vec<Option<StrokeTable>>,
    /// What decides whether each part is closed.
    pub(crate) switch_of: Vec<Switch>,
    /// What each part would follow if it had no times of its own.
    pub(crate) follows: Vec<Switch>,
    /// Section of each load and its place in it.
    pub(crate) load_of: Vec<Option<(fiftytwo_circuit::SectionId, usize)>>,
    /// Bits that have moved, by phase, for the unit of each stroke.
    pub(crate) moved_of: Vec<Vec<u8>>,
    /// Clocks: names and owners.
    pub(crate) clocks: clocks::ClockTable,
    /// How its switches are read; found when first needed.
    readings: OnceLock<eval::Readings>,
    /// What its sections see, solved once for all evaluators.
    solved: Arc<eval::Solved>,
}

impl<'s> Machine<'s> {
    /// Builds the machine of a scheme.
    ///
    /// # Errors
    /// Findings where the scheme's wiring or a breaker's contacts can't be represented.
    pub fn new(scheme: &'s Scheme) -> Result<Self, Vec<Finding>> {
        build::build(scheme)
    }
    /// The machine of a scheme that differs from another machine's in nothing but times: what that
    /// one has solved of the circuits holds here too.
    ///
    /// # Errors
    /// As [`Machine::new`].
    pub fn retimed(scheme: &'s Scheme, like: &Machine<'_>) -> Result<Self, Vec<Finding>> {
        let machine = build::build(scheme)?;
        Ok(Self { solved: Arc::clone(&like.solved), ..machine })
    }
    /// The state as drawn (breaker open, energy discharged, relays dropped out …).
    pub fn drawn(&self) -> State {
        State(self.units.values().map(|unit| unit.drawn).collect())
    }
    /// The unit of a device.
    pub fn device_unit(&self, device: DeviceId) -> Option<UnitId> {
        at(&self.of_device, device)
    }
    /// The only coil of a relay or timer: the first it has.
    pub(crate) fn lone_coil(&self, device: DeviceId) -> Option<PartId> {
        let parts = &self.scheme.devices[device].parts;
        parts.iter().copied().find(|part| {
            matches!(self.scheme.parts[*part].kind, fiftytwo_scheme::PartKind::Coil(_))
        })
    }
    /// The unit of a breaker's energy.
    pub fn energy_unit(&self, device: DeviceId) -> Option<UnitId> {
        at(&self.of_energy, device)
    }
    /// The unit of a condition.
    pub fn condition_unit(&self, condition: ConditionId) -> UnitId {
        at(&self.of_condition, condition)
    }
    /// The unit of an order.
    pub fn order_unit(&self, order: OrderId) -> UnitId {
        at(&self.of_order, order)
    }
    /// The unit of a supply.
    pub fn supply_unit(&self, supply: SupplyId) -> UnitId {
        at(&self.of_supply, supply)
    }
    /// The unit of a line of logic that has delays or memory.
    pub fn logic_unit(&self, logic: LogicId) -> Option<UnitId> {
        at(&self.of_logic, logic)
    }
    /// The unit of a part that moves by itself.
    pub fn part_unit(&self, part: PartId) -> Option<UnitId> {
        at(&self.of_part, part)
    }
    /// The unit that says how long a condition stays, if it says so.
    pub fn stay_of_condition(&self, condition: ConditionId) -> Option<UnitId> {
        at(&self.stay_of_condition, condition)
    }
    /// The unit that says how long a handle or a button stays, if it says so.
    pub fn stay_of_device(&self, device: DeviceId) -> Option<UnitId> {
        at(&self.stay_of_device, device)
    }
    /// The unit that says whether a device has started, if it takes a time to.
    pub fn start_of(&self, device: DeviceId) -> Option<UnitId> {
        at(&self.start_of, device)
    }
    /// The same of the device a part belongs to.
    pub fn start_of_part(&self, part: PartId) -> Option<UnitId> {
        self.scheme.parts[part].device.and_then(|device| self.start_of(device))
    }
    /// The stroke table of a breaker.
    pub fn stroke(&self, device: DeviceId) -> Option<&StrokeTable> {
        self.strokes[fiftytwo_scheme::arena::Id::index(device)].as_ref()
    }
    /// The one unit that decides whether a switch is closed; none inside: it stands still; none: it
    /// reads more than one.
    pub(crate) fn unit_read_by(&self, part: PartId) -> Option<Option<UnitId>> {
        match self.switch_of[fiftytwo_scheme::arena::Id::index(part)] {
            Switch::Always => Some(None),
            Switch::Unit { unit, .. } | Switch::Stroke { unit, .. } => Some(Some(unit)),
            Switch::Statement => {
                let fiftytwo_scheme::PartKind::Contact(contact) = &self.scheme.parts[part].kind
                else {
                    return Some(None);
                };
                if self.start_of_part(part).is_some() {
                    return None;
                }
                let (mut units, mut plain) = (Vec::new(), true);
                contact.closed_when.expr.atoms(&mut |atom| match atom {
                    fiftytwo_scheme::Atom::Position(device, _) => {
                        units.extend(self.device_unit(device))
                    }
                    fiftytwo_scheme::Atom::Condition(condition, _) => {
                        units.push(self.condition_unit(condition));
                    }
                    fiftytwo_scheme::Atom::Order(order) => units.push(self.order_unit(order)),
                    fiftytwo_scheme::Atom::Charged(device) => {
                        units.extend(self.energy_unit(device))
                    }
                    _ => plain = false,
                });
                units.dedup();
                match units[..] {
                    [] if plain => Some(None),
                    [unit] if plain => Some(Some(unit)),
                    _ => None,
                }
            }
        }
    }
    /// What has moved in a phase of a stroke.
    pub(crate) fn moved_bits(&self, unit: UnitId, phase: u8) -> u8 {
        let phases = &self.moved_of[fiftytwo_scheme::arena::Id::index(unit)];
        phases.get(usize::from(phase)).copied().unwrap_or(0)
    }
    /// Name of a clock, for stories about bounds.
    pub fn clock_name(&self, clock: ClockId) -> &str {
        self.clocks.name(clock)
    }
}

fn at<I: fiftytwo_scheme::arena::Id, T: Copy>(table: &[T], id: I) -> T {
    table[id.index()]
}
