//! What follows when a part moves by itself at a rest position: does the breaker trip or close?
//!
//! **In:** the machine, a rest position, a part and how it moves. **Out:** an [`Outcome`].
//! **Never here:** volts, times: every move that may follow is followed, whoever would be faster.
//!
//! A part whose contacts and logic lead to no coil of a breaker, whatever stands in between, is not
//! followed at all.

use super::assumed::still_below;
use super::effect::How;
use crate::Study;
use crate::rest::RestPosition;
use fiftytwo_circuit::Setup;
use fiftytwo_circuit::bench::{Charge, Ends, Warmth};
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_motion::machine::{Evaluator, Look, RelayPhase, Scope, UnitKind};
use fiftytwo_motion::{Agent, Deed, Machine, State, UnitId};
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr, LogicId, LogicRule, PartId, PartKind};
use serde::Serialize;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// What comes of it, the worst last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// An input says what is not so.
    MovesAnInput,
    /// A relay or another device moves.
    MovesADevice,
    /// A relay that should let go may not.
    Holds,
    /// A trip coil gets too little, or its fuse blows.
    BlocksATrip,
    /// The breaker closes.
    Closes,
    /// The breaker trips.
    Trips,
}

/// More moves than this after one are not followed.
const MOST_MOVES: usize = 60;

/// Follows moves; remembers what it has found.
pub(super) struct Follower<'m, 's> {
    study: &'m Study<'m, 's>,
    machine: &'m Machine<'s>,
    evaluator: Evaluator<'m, 's>,
    known: RefCell<BTreeMap<(usize, PartId, How), Outcome>>,
    leads: RefCell<BTreeMap<PartId, bool>>,
}

impl<'m, 's> Follower<'m, 's> {
    pub fn new(study: &'m Study<'m, 's>, scope: &'m Scope) -> Self {
        let machine = study.machine;
        Self {
            study,
            machine,
            evaluator: Evaluator::new(machine, scope),
            known: RefCell::default(),
            leads: RefCell::default(),
        }
    }

    /// What comes of a part's move at a rest position (by its number).
    pub fn outcome(&self, number: usize, rest: &RestPosition, part: PartId, how: How) -> Outcome {
        let key = (number, part, how);
        if let Some(known) = self.known.borrow().get(&key) {
            return *known;
        }
        let found = self.follow(rest, part, how);
        self.known.borrow_mut().insert(key, found);
        found
    }

    fn follow(&self, rest: &RestPosition, id: PartId, how: How) -> Outcome {
        let scheme = self.machine.scheme;
        let part = &scheme.parts[id];
        let mildest = match (how, &part.kind) {
            (How::StaysPickedUp, _) => Outcome::Holds,
            (_, PartKind::Input(_)) => Outcome::MovesAnInput,
            _ => Outcome::MovesADevice,
        };
        if !self.leads(id) {
            return mildest;
        }
        let on = matches!(how, How::PicksUp | How::StaysPickedUp | How::GoesOn | How::StaysOn);
        let mut state = rest.state.clone();
        let unit = match (&part.kind, part.device) {
            (PartKind::Input(_), _) => {
                let Some(unit) = self.machine.part_unit(id) else { return mildest };
                state.set(unit, u8::from(on));
                unit
            }
            (PartKind::Coil(coil), Some(device)) => {
                let Some(unit) = self.machine.device_unit(device) else { return mildest };
                match &scheme.devices[device].kind {
                    DeviceKind::Breaker { .. } => {
                        return self.breaker_coil(rest, device, coil.drives_to, mildest);
                    }
                    DeviceKind::Relay | DeviceKind::Timer { .. } => {
                        let phase = if on { RelayPhase::Picked } else { RelayPhase::Dropped };
                        state.set(unit, phase as u8);
                    }
                    _ => state.set(unit, coil.drives_to),
                }
                unit
            }
            _ => return mildest,
        };
        mildest.max(self.run(state, unit).unwrap_or(mildest))
    }

    fn leads(&self, part: PartId) -> bool {
        let known = self.leads.borrow().get(&part).copied();
        known.unwrap_or_else(|| {
            let leads = leads_to_a_breaker(self.machine, part);
            self.leads.borrow_mut().insert(part, leads);
            leads
        })
    }

    /// Whether a driven coil of the breaker does anything where the breaker stands.
    fn breaker_coil(
        &self,
        rest: &RestPosition,
        device: DeviceId,
        to: u8,
        mildest: Outcome,
    ) -> Outcome {
        let look = self.evaluator.look(&rest.state);
        let stands = |position| look.atom(Atom::Position(device, position)).possible();
        if to == 0 && stands(1) {
            Outcome::Trips
        } else if to == 1 && stands(0) && look.atom(Atom::Charged(device)).possible() {
            Outcome::Closes
        } else {
            mildest
        }
    }

    /// Takes every move that devices may make, with one unit held, until the breaker moves or
    /// nothing new happens.
    fn run(&self, mut state: State, held: UnitId) -> Option<Outcome> {
        let scheme = self.machine.scheme;
        let mut taken: Vec<(UnitId, u8)> = Vec::new();
        for _ in 0..MOST_MOVES {
            let look = self.evaluator.look(&state);
            let actions = look.actions();
            let mut next = None;
            for action in &actions {
                if action.agent != Agent::Device
                    || !action.certainty.possible()
                    || action.unit == held
                    || matches!(action.deed, Deed::Give)
                {
                    continue;
                }
                if let Deed::Release(coil) | Deed::Begin(Some(coil)) = action.deed
                    && self.trickles(&look, coil)
                {
                    continue;
                }
                if let Deed::Release(coil) = action.deed
                    && let PartKind::Coil(coil) = &scheme.parts[coil].kind
                {
                    return Some(if coil.drives_to == 0 {
                        Outcome::Trips
                    } else {
                        Outcome::Closes
                    });
                }
                let once = (action.unit, action.to);
                let follows = !matches!(
                    self.machine.units[action.unit].kind,
                    UnitKind::Condition(_) | UnitKind::Energy(_)
                );
                if next.is_none() && follows && !taken.contains(&once) {
                    next = Some(action);
                    taken.push(once);
                }
            }
            let after = self.evaluator.after(&look, next?);
            drop(look);
            state = after;
        }
        None
    }

    /// Whether a coil that declares no pickup gets no more than a coil like it stands without
    /// moving: the current of a lamp or an input that watches it is no drive.
    fn trickles(&self, look: &Look<'_, '_, '_>, id: PartId) -> bool {
        let scheme = self.machine.scheme;
        let PartKind::Coil(coil) = &scheme.parts[id].kind else { return false };
        if coil.pickup.is_some() {
            return false;
        }
        let still = still_below(coil, nominal(self.machine, id)).volts;
        let bench = &self.study.bench;
        // A contact that may stand either way may lead to the coil or past it.
        [true, false].into_iter().all(|either| {
            let closed = scheme.parts.ids().map(|part| {
                let closed = look.closed(part);
                if either { closed.possible() } else { closed.sure() }
            });
            let live = scheme.supplies.ids().map(|supply| {
                look.phase(self.machine.supply_unit(supply)).is_none_or(|phase| phase == 1)
            });
            let setup = Setup { closed: closed.collect(), live: live.collect(), ..bench.setup() };
            let (cold, hot) = coil_warmth(scheme, &scheme.parts[id]);
            [(Warmth::Hot, hot), (Warmth::Cold, cold)].into_iter().all(|(coils, warm)| {
                let ends = Ends { battery: Charge::High, conductors: Warmth::Cold, coils };
                let still = still * warm;
                let solved = bench.solve(&setup.clone().at(ends));
                solved.is_ok_and(|solved| solved.across(id).is_none_or(|v| v.abs() < still))
            })
        })
    }
}

/// Nominal volts of the supply a part hangs on.
pub(super) fn nominal(machine: &Machine<'_>, part: PartId) -> f64 {
    let scheme = machine.scheme;
    scheme.parts[part]
        .at
        .map_or(0.0, |at| scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle())
}

/// Whether the move of a coil's device or of an input can reach a coil of a breaker at all:
/// through contacts, logic and whatever hangs together with a contact that changes.
fn leads_to_a_breaker(machine: &Machine<'_>, part: PartId) -> bool {
    let scheme = machine.scheme;
    let mut parts = BTreeSet::from([part]);
    let mut devices: BTreeSet<DeviceId> = BTreeSet::new();
    let mut logics: BTreeSet<LogicId> = BTreeSet::new();
    let mut sections = BTreeSet::new();
    if let (PartKind::Coil(_), Some(device)) = (&scheme.parts[part].kind, scheme.parts[part].device)
    {
        if matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. }) {
            return true;
        }
        devices.insert(device);
    }
    loop {
        let before = (parts.len(), devices.len(), logics.len());
        for (id, logic) in scheme.logics.iter() {
            let speaks = |expr: &Expr| mentions(expr, &parts, &devices, &logics);
            let moves = match &logic.rule {
                LogicRule::When { when, .. } => speaks(&when.expr),
                LogicRule::Memory { set, clear } => speaks(&set.expr) || speaks(&clear.expr),
            };
            if moves {
                logics.insert(id);
            }
        }
        for (id, part) in scheme.parts.iter() {
            let PartKind::Contact(contact) = &part.kind else { continue };
            if !mentions(&contact.closed_when.expr, &parts, &devices, &logics) {
                continue;
            }
            parts.insert(id);
            let Some(section) = machine.wiring.section_of(id) else { continue };
            if !sections.insert(section) {
                continue;
            }
            for &load in machine.wiring.loads(section) {
                parts.insert(load);
                let data = &scheme.parts[load];
                if let (PartKind::Coil(_), Some(device)) = (&data.kind, data.device) {
                    if matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. }) {
                        return true;
                    }
                    devices.insert(device);
                }
            }
        }
        if before == (parts.len(), devices.len(), logics.len()) {
            return false;
        }
    }
}

fn mentions(
    expr: &Expr,
    parts: &BTreeSet<PartId>,
    devices: &BTreeSet<DeviceId>,
    logics: &BTreeSet<LogicId>,
) -> bool {
    match expr {
        Expr::Not(inner) => mentions(inner, parts, devices, logics),
        Expr::All(items) | Expr::Any(items) => {
            items.iter().any(|item| mentions(item, parts, devices, logics))
        }
        Expr::Atom(atom) => match atom {
            Atom::Position(device, _) | Atom::Charged(device) => devices.contains(device),
            Atom::Logic(logic) => logics.contains(logic),
            Atom::Driven(part)
            | Atom::Closed(part)
            | Atom::InputOn(part)
            | Atom::Lit(part)
            | Atom::Running(part) => parts.contains(part),
            Atom::Order(_)
            | Atom::Condition(..)
            | Atom::Blown(_)
            | Atom::LinkOpen(_)
            | Atom::Live(_) => false,
        },
    }
}
