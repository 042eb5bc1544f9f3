//! What is so in a state: contacts, statements, drives, each three-valued.

use super::relay::RelayPhase;
use super::unknowns::{self, Role};
use super::{Machine, State, Switch, Tri, UnitId, UnitKind};
use fiftytwo_circuit::{Certainty, Drive, Positions, SectionId, Supplies};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, Expr, LogicRule, PartId, PartKind};
use rustc_hash::FxHashMap;
use smallvec::{SmallVec, smallvec};
use std::cell::RefCell;
use std::sync::{Arc, PoisonError, RwLock};

/// Which units a search knows; what it does not know is perhaps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scope {
    /// By unit.
    pub known: Vec<bool>,
    /// By unit: known, but its moves may come at any time and need not come (sound: it can only
    /// add runs).
    pub at_will: Vec<bool>,
    /// By unit: known, but kept from moving: a mechanism held in its position.
    pub held: Vec<bool>,
    /// By unit: a supply that may be lost and come back at any time.
    pub fails: Vec<bool>,
    /// A breaker that stands closed does not begin to open while something stands.
    pub stuck: Option<Stuck>,
}

/// A breaker that stays closed, once it stands so, while a statement holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stuck {
    /// Its stroke.
    pub unit: UnitId,
    /// The phase in which it stands closed.
    pub closed: u8,
    /// While this holds.
    pub premise: Expr,
}

impl Scope {
    /// Everything is known.
    pub fn whole(machine: &Machine<'_>) -> Self {
        Self::of(vec![true; machine.units.len()])
    }
    /// These are known, all with their times.
    pub fn of(known: Vec<bool>) -> Self {
        let none = vec![false; known.len()];
        Self { known, at_will: none.clone(), held: none.clone(), fails: none, stuck: None }
    }
    /// Whether a supply may be lost and come back.
    pub fn may_fail(&self, unit: UnitId) -> bool {
        self.fails[unit.index()]
    }
    /// Whether a unit is held.
    pub fn holds_still(&self, unit: UnitId) -> bool {
        self.held[unit.index()]
    }
    /// Whether a unit moves at will.
    pub fn is_at_will(&self, unit: UnitId) -> bool {
        self.at_will[unit.index()]
    }
    /// Whether a unit is known.
    pub fn knows(&self, unit: UnitId) -> bool {
        self.known[unit.index()]
    }
}

/// What one load of a section sees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Seen {
    pub(super) pickup: Tri,
    pub(super) dropout: Tri,
    pub(super) lit: Tri,
}

/// What the loads of a section see, in the order of [`Wiring::loads`](fiftytwo_circuit::Wiring::loads).
type SectionView = Arc<[Seen]>;

/// What all loads of a section see; to be compared with that in another state.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Sight(SectionView);

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Key {
    section: SectionId,
    closed: Positions,
    unknown: Positions,
    live: Supplies,
}

/// What has been solved of a machine, for all its evaluators: what a section's loads see depends on
/// its switches alone.
#[derive(Debug, Default)]
pub(super) struct Solved {
    views: RwLock<FxHashMap<Key, SectionView>>,
}

/// More views than this are not kept for all.
const MOST_SOLVED: usize = 1 << 19;

impl Solved {
    // A poisoned lock only means that another thread stopped while storing: the map is whole.
    fn get(&self, key: &Key) -> Option<SectionView> {
        self.views.read().unwrap_or_else(PoisonError::into_inner).get(key).cloned()
    }
    fn keep(&self, key: Key, view: &SectionView) {
        let mut views = self.views.write().unwrap_or_else(PoisonError::into_inner);
        if views.len() < MOST_SOLVED {
            views.insert(key, Arc::clone(view));
        }
    }
}

/// How each switch of each section is read, whatever is known.
pub(super) type Readings = Vec<Vec<Reading>>;

/// How a switch is read.
#[derive(Debug, Clone)]
pub(super) enum Reading {
    /// It stands still.
    Fixed(Tri),
    /// By the phase of one unit; the last is for a unit that is not known.
    ByPhase(UnitId, Arc<[Tri]>, Tri),
    /// By its statement.
    Statement(PartId),
}

/// Most contacts follow one device: what they are in each of its phases is found once.
fn readings(machine: &Machine<'_>) -> Readings {
    let (all, nothing) = (Scope::whole(machine), Scope::of(vec![false; machine.units.len()]));
    let bare = |scope| Evaluator {
        machine,
        scope,
        seen: RefCell::default(),
        cold: false,
        switches: Vec::new(),
        stirs: None,
    };
    let (knowing, blind) = (bare(&all), bare(&nothing));
    let mut state = machine.drawn();
    let mut reading = |switch: PartId| {
        let Some(unit) = machine.unit_read_by(switch) else { return Reading::Statement(switch) };
        let Some(unit) = unit else {
            return Reading::Fixed(knowing.look(&state).closed(switch));
        };
        let drawn = state.phase(unit);
        let by_phase = (0..machine.units[unit].phases)
            .map(|phase| {
                state.set(unit, phase);
                knowing.look(&state).closed(switch)
            })
            .collect();
        state.set(unit, drawn);
        Reading::ByPhase(unit, by_phase, blind.look(&state).closed(switch))
    };
    let sections = machine.wiring.sections();
    sections
        .map(|section| {
            let switches = machine.wiring.switches(section);
            switches.iter().map(|switch| reading(*switch)).collect()
        })
        .collect()
}

/// Evaluates states; keeps what it has solved. One per thread.
#[derive(Debug)]
pub struct Evaluator<'m, 's> {
    /// The machine.
    pub machine: &'m Machine<'s>,
    /// What is known.
    pub scope: &'m Scope,
    seen: RefCell<FxHashMap<Key, SectionView>>,
    /// Nobody remembers interruptions: they only change times.
    pub(super) cold: bool,
    /// For each section how each of its switches is read.
    switches: Vec<Vec<Read>>,
    /// By the unit that moves: whose moves may be others then.
    pub(super) stirs: Option<Stirs>,
}

/// By the unit that moves, by unit: whether its moves may be others then.
pub type Stirs = Arc<[Box<[bool]>]>;

/// How a switch is read off a state.
#[derive(Debug, Clone)]
enum Read {
    /// It stands still.
    Fixed(Tri),
    /// By the phase of one unit.
    ByPhase(UnitId, Arc<[Tri]>),
    /// By its statement.
    Statement(PartId),
}

/// Up to this many independent unknowns of a section every position is tried; beyond it only what
/// connects counts, and a load that may be connected is perhaps driven.
const MOST_TRIED: usize = 8;

impl<'m, 's> Evaluator<'m, 's> {
    /// An evaluator without memory.
    pub fn new(machine: &'m Machine<'s>, scope: &'m Scope) -> Self {
        let readings = machine.readings.get_or_init(|| readings(machine));
        let read = |reading: &Reading| match reading {
            Reading::Fixed(closed) => Read::Fixed(*closed),
            Reading::ByPhase(unit, by_phase, _) if scope.knows(*unit) => {
                Read::ByPhase(*unit, Arc::clone(by_phase))
            }
            Reading::ByPhase(_, _, unknown) => Read::Fixed(*unknown),
            Reading::Statement(switch) => Read::Statement(*switch),
        };
        let switches = readings.iter().map(|section| section.iter().map(read).collect()).collect();
        Self { machine, scope, seen: RefCell::default(), cold: false, switches, stirs: None }
    }
    /// An evaluator for searches in any order: interruptions, which only change times, are not
    /// remembered.
    pub fn cold(machine: &'m Machine<'s>, scope: &'m Scope) -> Self {
        Self { cold: true, ..Self::new(machine, scope) }
    }
    /// The same, told whose moves a move may change: what it does not stir is not asked anew.
    #[must_use]
    pub fn told(self, stirs: &Stirs) -> Self {
        Self { stirs: Some(Arc::clone(stirs)), ..self }
    }
    /// Whether what a unit may do, and what pulls it, may be otherwise in one state than in another.
    pub(super) fn stirred<'a>(
        &'a self,
        before: &'a State,
        after: &'a State,
    ) -> impl Fn(UnitId) -> bool + 'a {
        let moved: Option<SmallVec<[&[bool]; 4]>> = self.stirs.as_ref().map(|stirs| {
            let units = self.machine.units.ids();
            let moved = units.filter(|unit| before.phase(*unit) != after.phase(*unit));
            moved.map(|unit| &*stirs[unit.index()]).collect()
        });
        // What keeps a breaker from opening may be anything.
        let stuck = self.scope.stuck.as_ref().map(|stuck| stuck.unit);
        move |unit| {
            stuck == Some(unit)
                || moved.as_ref().is_none_or(|rows| rows.iter().any(|row| row[unit.index()]))
        }
    }
    /// A view of one state.
    pub fn look<'e>(&'e self, state: &'e State) -> Look<'e, 'm, 's> {
        let sections = self.machine.wiring.sections().len();
        Look { evaluator: self, state, views: RefCell::new(smallvec![None; sections]) }
    }
}

/// One state as seen by an evaluator.
#[derive(Debug)]
pub struct Look<'e, 'm, 's> {
    pub(super) evaluator: &'e Evaluator<'m, 's>,
    /// The state.
    pub state: &'e State,
    views: RefCell<SmallVec<[Option<SectionView>; 16]>>,
}

impl<'m, 's> Look<'_, 'm, 's> {
    /// The machine.
    pub fn machine(&self) -> &'m Machine<'s> {
        self.evaluator.machine
    }
    /// Whether a unit is known.
    pub fn knows(&self, unit: UnitId) -> bool {
        self.evaluator.scope.knows(unit)
    }
    /// The phase of a known unit.
    pub fn phase(&self, unit: UnitId) -> Option<u8> {
        self.knows(unit).then(|| self.state.phase(unit))
    }
    /// Whether a breaker is kept from beginning to open here.
    pub(super) fn is_stuck(&self, unit: UnitId) -> Tri {
        let stuck = self.evaluator.scope.stuck.as_ref();
        let here =
            stuck.filter(|stuck| stuck.unit == unit && self.state.phase(unit) == stuck.closed);
        here.map_or(Tri::No, |stuck| self.holds(&stuck.premise))
    }
    /// Whether a statement holds.
    pub fn holds(&self, expr: &Expr) -> Tri {
        match expr {
            Expr::Atom(atom) => self.atom(*atom),
            Expr::Not(inner) => !self.holds(inner),
            Expr::All(items) => items.iter().map(|item| self.holds(item)).fold(Tri::Yes, Tri::and),
            Expr::Any(items) => items.iter().map(|item| self.holds(item)).fold(Tri::No, Tri::or),
        }
    }
    /// Whether all statements of a list hold.
    pub fn all<'a>(&self, statements: impl IntoIterator<Item = &'a Expr>) -> Tri {
        statements.into_iter().map(|expr| self.holds(expr)).fold(Tri::Yes, Tri::and)
    }
    /// Whether an atom holds.
    pub fn atom(&self, atom: Atom) -> Tri {
        let machine = self.machine();
        match atom {
            Atom::Position(device, position) => match machine.device_unit(device) {
                Some(unit) => self.position(unit, position),
                None => Tri::from_bool(position == machine.scheme.devices[device].drawn),
            },
            Atom::Charged(device) => match machine.energy_unit(device) {
                Some(unit) => self.known_phase(unit, |phase| machine.charge_of(unit, phase) > 0),
                None => Tri::Yes,
            },
            Atom::Driven(part) => self.pickup(part),
            Atom::Closed(part) => self.closed(part),
            Atom::InputOn(part) => match machine.part_unit(part) {
                Some(unit) => self.known_phase(unit, |phase| phase == 1),
                None => Tri::No,
            },
            Atom::Logic(logic) => self.logic(logic),
            Atom::Order(order) => self.known_phase(machine.order_unit(order), |phase| phase == 1),
            Atom::Condition(condition, state) => {
                self.known_phase(machine.condition_unit(condition), |phase| phase == state)
            }
            Atom::Lit(part) | Atom::Running(part) => self.lit(part),
            Atom::Blown(part) | Atom::LinkOpen(part) => match machine.part_unit(part) {
                Some(unit) => self.known_phase(unit, |phase| phase == 1),
                None => Tri::No,
            },
            Atom::Live(supply) => self.known_phase(machine.supply_unit(supply), |phase| phase == 1),
        }
    }
    fn known_phase(&self, unit: UnitId, test: impl FnOnce(u8) -> bool) -> Tri {
        self.phase(unit).map_or(Tri::Perhaps, |phase| Tri::from_bool(test(phase)))
    }
    fn position(&self, unit: UnitId, position: u8) -> Tri {
        let machine = self.machine();
        self.known_phase(unit, |phase| match machine.units[unit].kind {
            UnitKind::Relay(_) => {
                let relay = RelayPhase::from_u8(phase);
                if position == 0 { relay.is_dropped() } else { relay.is_picked() }
            }
            UnitKind::Stroke(device) => {
                machine.stroke(device).is_some_and(|table| table.touches(phase) == (position == 1))
            }
            _ => phase == position,
        })
    }
    fn logic(&self, logic: fiftytwo_scheme::LogicId) -> Tri {
        let machine = self.machine();
        if let Some(unit) = machine.logic_unit(logic) {
            return self.known_phase(unit, |phase| phase == 1);
        }
        let item = &machine.scheme.logics[logic];
        match &item.rule {
            LogicRule::When { when, .. } => self.started(item.device).and(self.holds(&when.expr)),
            LogicRule::Memory { .. } => Tri::Perhaps,
        }
    }
    /// Whether a device has started; one that takes no time to is never without its feed.
    pub(super) fn started(&self, device: fiftytwo_scheme::DeviceId) -> Tri {
        let unit = self.machine().start_of(device);
        unit.map_or(Tri::Yes, |unit| self.known_phase(unit, |phase| phase == 1))
    }
    /// What the statement of a contact says: without supply a device sees nothing.
    fn said(&self, part: PartId) -> Tri {
        let machine = self.machine();
        let PartKind::Contact(contact) = &machine.scheme.parts[part].kind else { return Tri::Yes };
        let expr = &contact.closed_when.expr;
        let started = machine.scheme.parts[part].device.map_or(Tri::Yes, |it| self.started(it));
        let dead = || Tri::from_bool(expr.holds(&mut |_| false));
        match started {
            Tri::Yes => self.holds(expr),
            Tri::No => dead(),
            Tri::Perhaps => {
                let (dead, alive) = (dead(), self.holds(expr));
                if dead == alive { alive } else { Tri::Perhaps }
            }
        }
    }
    /// What a contact follows: the stroke or its statement, times of its own apart.
    pub(super) fn followed(&self, part: PartId) -> Tri {
        self.switched(self.machine().follows[part.index()], part)
    }
    /// Whether a part that switches is closed. Loads and wires count as closed.
    pub fn closed(&self, part: PartId) -> Tri {
        self.switched(self.machine().switch_of[part.index()], part)
    }
    fn switched(&self, switch: Switch, part: PartId) -> Tri {
        let machine = self.machine();
        match switch {
            Switch::Always => Tri::Yes,
            Switch::Unit { unit, closed_phase } => {
                self.known_phase(unit, |phase| phase & 1 == closed_phase)
            }
            Switch::Stroke { unit, bit, closed_when_open } => self.known_phase(unit, |phase| {
                let moved = machine.moved_bits(unit, phase) & bit != 0;
                moved != closed_when_open
            }),
            Switch::Statement => self.said(part),
        }
    }
    /// Whether a coil reaches pickup.
    pub fn pickup(&self, part: PartId) -> Tri {
        self.seen(part).map_or(Tri::No, |seen| seen.pickup)
    }
    /// Whether a coil falls below dropout.
    pub fn dropout(&self, part: PartId) -> Tri {
        self.seen(part).map_or(Tri::Yes, |seen| seen.dropout)
    }
    /// Whether a lamp is lit or a motor runs.
    pub fn lit(&self, part: PartId) -> Tri {
        self.seen(part).map_or(Tri::No, |seen| seen.lit)
    }
    fn seen(&self, part: PartId) -> Option<Seen> {
        let (section, slot) = self.machine().load_of[part.index()]?;
        if let Some(view) = &self.views.borrow()[section.index()] {
            return view.get(slot).copied();
        }
        let view = self.view(section);
        let seen = view.get(slot).copied();
        self.views.borrow_mut()[section.index()] = Some(view);
        seen
    }
    /// What all loads of a section see.
    pub fn sight(&self, section: SectionId) -> Sight {
        Sight(self.view(section))
    }
    /// Positions of a section's switches, for asking the wiring itself; unknown ones are open.
    pub fn positions(&self, section: SectionId) -> Positions {
        self.machine().wiring.positions(section, |part| self.closed(part).sure())
    }
    /// Which supplies live, for asking the wiring itself.
    pub fn live(&self) -> Supplies {
        let machine = self.machine();
        machine.scheme.supplies.ids().fold(Supplies::ALL, |live, supply| {
            let unit = machine.supply_unit(supply);
            if self.state.phase(unit) == 1 { live } else { live.without(supply) }
        })
    }
    /// The same for one section: other supplies make no difference to it.
    fn live_of(&self, section: SectionId) -> Supplies {
        let machine = self.machine();
        machine.wiring.supplies(section).fold(Supplies::ALL, |live, supply| {
            let lives = self.state.phase(machine.supply_unit(supply)) == 1;
            if lives { live } else { live.without(supply) }
        })
    }
    fn view(&self, section: SectionId) -> SectionView {
        let mut closed = Positions::OPEN;
        let mut unknown = Positions::OPEN;
        let mut open_questions = Vec::new();
        for (index, read) in self.evaluator.switches[section.index()].iter().enumerate() {
            let is_closed = match read {
                Read::Fixed(closed) => *closed,
                Read::ByPhase(unit, by_phase) => by_phase[usize::from(self.state.phase(*unit))],
                Read::Statement(part) => self.closed(*part),
            };
            match is_closed {
                Tri::Yes => closed.set(index, true),
                Tri::Perhaps => {
                    unknown.set(index, true);
                    open_questions.push(index);
                }
                Tri::No => {}
            }
        }
        let key = Key { section, closed, unknown, live: self.live_of(section) };
        if let Some(view) = self.evaluator.seen.borrow().get(&key) {
            return Arc::clone(view);
        }
        let solved = &self.machine().solved;
        let view = solved.get(&key).unwrap_or_else(|| {
            let view: SectionView = self.solve(&key, &open_questions).into();
            solved.keep(key, &view);
            view
        });
        self.evaluator.seen.borrow_mut().insert(key, Arc::clone(&view));
        view
    }
    fn solve(&self, key: &Key, open_questions: &[usize]) -> Vec<Seen> {
        let groups = if open_questions.is_empty() { Vec::new() } else { self.groups(key) };
        if groups.len() > MOST_TRIED {
            let all = open_questions.iter().fold(key.closed, |all, index| all.with(*index));
            return self.within_bounds(key, &all);
        }
        let mut view: Vec<Seen> = Vec::new();
        for choice in 0_u32..1 << groups.len() {
            let mut tried = key.closed;
            for (bit, group) in groups.iter().enumerate() {
                for &index in group {
                    tried.set(index, choice & (1 << bit) != 0);
                }
            }
            let drives = self.machine().wiring.drive(key.section, &tried, key.live);
            let seen = drives.iter().map(|drive| self.judge(drive));
            if choice == 0 {
                view = seen.collect();
            } else {
                for (old, new) in view.iter_mut().zip(seen) {
                    *old = old.merge(new);
                }
            }
        }
        view
    }
    /// The unknown switches of a section, those that answer as one together.
    fn groups(&self, key: &Key) -> Vec<Vec<usize>> {
        let machine = self.machine();
        let switches = machine.wiring.switches(key.section);
        let parts = machine
            .scheme
            .parts
            .ids()
            .filter(|part| machine.wiring.section_of(*part) == Some(key.section));
        unknowns::groups(machine.scheme, parts, |part| {
            match switches.iter().position(|switch| *switch == part) {
                Some(index) if key.unknown.is_closed(index) => Role::Unknown(index),
                Some(index) if key.closed.is_closed(index) => Role::Closed,
                Some(_) => Role::Open,
                None => match machine.scheme.parts[part].kind {
                    PartKind::Jumper | PartKind::Terminal => Role::Closed,
                    _ => Role::Load,
                },
            }
        })
    }
    /// By bounds that hold whatever the unknown switches do.
    fn within_bounds(&self, key: &Key, all_closed: &Positions) -> Vec<Seen> {
        let wiring = &self.machine().wiring;
        let bounds = wiring.bounds(key.section, &key.closed, all_closed, key.live);
        let off = Seen { pickup: Tri::No, dropout: Tri::Yes, lit: Tri::No };
        let seen = bounds.iter().map(|(connected, drive)| match connected {
            Certainty::Surely => self.judge(drive),
            Certainty::Perhaps => self.judge(drive).merge(off),
            Certainty::Not => off,
        });
        seen.collect()
    }
    fn judge(&self, drive: &Drive) -> Seen {
        let scheme = self.machine().scheme;
        match &scheme.parts[drive.part].kind {
            PartKind::Coil(coil) => Seen {
                pickup: tri(fiftytwo_circuit::reaches_pickup(drive, coil)),
                dropout: tri(fiftytwo_circuit::falls_below_dropout(drive, coil)),
                lit: Tri::No,
            },
            PartKind::Input(input) => {
                let on = tri(fiftytwo_circuit::input_on(drive, input));
                Seen { pickup: on, dropout: !on, lit: on }
            }
            _ => {
                let lit = tri(fiftytwo_circuit::lit(drive));
                Seen { pickup: lit, dropout: !lit, lit }
            }
        }
    }
}

impl Seen {
    fn merge(self, other: Self) -> Self {
        let same = |a: Tri, b: Tri| if a == b { a } else { Tri::Perhaps };
        Self {
            pickup: same(self.pickup, other.pickup),
            dropout: same(self.dropout, other.dropout),
            lit: same(self.lit, other.lit),
        }
    }
}

fn tri(certainty: Certainty) -> Tri {
    match certainty {
        Certainty::Surely => Tri::Yes,
        Certainty::Perhaps => Tri::Perhaps,
        Certainty::Not => Tri::No,
    }
}
