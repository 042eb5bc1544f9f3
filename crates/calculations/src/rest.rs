//! Where everything stands when nothing moves: the breaker open and closed, locked out, the gas low,
//! a supply lost.
//!
//! **In:** the machine of a scheme. **Out:** one [`RestPosition`] for each such state, settled: every
//! relay, input and line of logic where it really stands then.
//! **Never here:** volts, verdicts over runs.
//!
//! A position begins as drawn, with energy charged and every supply living, is put where its name
//! says and then left alone, every delay and every coil at the middle of its range, until nothing
//! moves by itself. What no order or person does is not done: handles stay as drawn. A position that
//! devices leave by themselves (a breaker that trips on low gas) says so.

use fiftytwo_circuit::{Bench, Setup};
use fiftytwo_motion::machine::{Evaluator, RelayPhase, Scope, UnitKind};
use fiftytwo_motion::patient::{Pace, follow};
use fiftytwo_motion::play::still;
use fiftytwo_motion::{Machine, PlayOptions, State};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{
    Atom, ConditionId, DeviceId, DeviceKind, Expr, Part, PartId, PartKind, Scheme, SupplyId,
};
use serde::Serialize;

/// Everything at rest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestPosition {
    /// Its name: "52 closed, gas low".
    pub name: String,
    /// What was put where, and what came of it, in a sentence.
    pub description: String,
    /// The breaker it is about, and whether it was put closed; none in a scheme without breakers.
    #[serde(skip)]
    pub breaker: Option<(DeviceId, bool)>,
    /// What else was put off its healthy place.
    #[serde(skip)]
    pub change: Change,
    /// Everything came to rest.
    pub rests: bool,
    /// What was put stayed where it was put.
    pub stays: bool,
    /// Devices that stand elsewhere than drawn, in words ("27C picked up").
    pub devices: Vec<String>,
    /// The machine's state.
    #[serde(skip)]
    pub state: State,
    /// By part: whether it is closed (contacts, links, fuses).
    #[serde(skip)]
    pub closed: Vec<bool>,
    /// The same for the moment it was put so, before anything moved by itself.
    #[serde(skip)]
    pub put: Vec<bool>,
    /// By supply: whether it lives.
    #[serde(skip)]
    pub live: Vec<bool>,
    /// Contacts that stand either way, depending on the corner; counted as open.
    pub unsure: Vec<String>,
}

/// What is off its healthy place in a rest position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// Nothing.
    Healthy,
    /// A lockout has operated.
    LockedOut(DeviceId),
    /// A condition that a sensor watches stands in this state.
    Condition(ConditionId, u8),
    /// A supply is lost.
    Lost(SupplyId),
}

impl RestPosition {
    /// The bench in this position, at nominal ends.
    pub fn setup(&self, bench: &Bench<'_>) -> Setup {
        Setup { closed: self.closed.clone(), live: self.live.clone(), ..bench.setup() }
    }
    /// Whether a part is closed.
    pub fn is_closed(&self, part: PartId) -> bool {
        self.closed.get(part.index()).copied().unwrap_or(false)
    }
    /// Which parts would be closed if a device stood in another position and nothing else had
    /// followed yet: a relay picked up whose order has just ended.
    pub fn closed_with(&self, machine: &Machine<'_>, device: DeviceId, position: u8) -> Vec<bool> {
        let mut state = self.state.clone();
        if let Some(unit) = machine.device_unit(device) {
            let phase = match machine.units[unit].kind {
                UnitKind::Relay(_) if position == 1 => RelayPhase::Picked as u8,
                UnitKind::Stroke(_) if position == 1 => {
                    machine.stroke(device).map_or(0, |table| table.closed)
                }
                _ => position,
            };
            state.set(unit, phase);
        }
        let scope = Scope::whole(machine);
        let evaluator = Evaluator::new(machine, &scope);
        let look = evaluator.look(&state);
        let parts = machine.scheme.parts.iter();
        parts.map(|(id, part)| switches(part) && look.closed(id).sure()).collect()
    }
    /// Nothing is off its healthy place.
    pub fn is_healthy(&self) -> bool {
        self.change == Change::Healthy
    }
    /// Healthy, with the breaker closed (or open) to the end.
    pub fn is_healthy_with(&self, closed: bool) -> bool {
        self.is_healthy() && self.stays && self.breaker.is_some_and(|(_, is)| is == closed)
    }
}

/// All rest positions of a scheme: for each breaker open, closed, then each with one thing off its
/// healthy place.
pub fn rest_positions(machine: &Machine<'_>) -> Vec<RestPosition> {
    let scheme = machine.scheme;
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let settler = Settler { machine, evaluator: &evaluator };
    let breakers: Vec<DeviceId> = scheme
        .devices
        .iter()
        .filter(|(_, device)| matches!(device.kind, DeviceKind::Breaker { .. }))
        .map(|(id, _)| id)
        .collect();
    let mut bases: Vec<Option<(DeviceId, bool)>> =
        breakers.iter().flat_map(|&id| [Some((id, false)), Some((id, true))]).collect();
    if bases.is_empty() {
        bases.push(None);
    }
    let changes = changes(scheme);
    let mut positions = Vec::new();
    for &base in &bases {
        positions.push(settler.settled(base, Change::Healthy));
    }
    for &change in &changes {
        for &base in &bases {
            // A lockout trips: with the breaker closed it does not rest.
            if matches!(change, Change::LockedOut(_)) && base.is_some_and(|(_, closed)| closed) {
                continue;
            }
            positions.push(settler.settled(base, change));
        }
    }
    positions
}

/// Everything that may be off its healthy place, one at a time.
fn changes(scheme: &Scheme) -> Vec<Change> {
    let mut changes = Vec::new();
    for (id, device) in scheme.devices.iter() {
        if matches!(device.kind, DeviceKind::Lockout { .. }) {
            changes.push(Change::LockedOut(id));
        }
    }
    let mut watched = Vec::new();
    for device in scheme.devices.values().filter(|device| device.kind == DeviceKind::Sensor) {
        for part in &device.parts {
            if let PartKind::Contact(contact) = &scheme.parts[*part].kind {
                conditions_of(&contact.closed_when.expr, &mut watched);
            }
        }
    }
    watched.sort_unstable();
    watched.dedup();
    for id in watched {
        let condition = &scheme.conditions[id];
        if condition.becomes.is_empty() {
            let states = (1..condition.states.len()).filter_map(|state| u8::try_from(state).ok());
            changes.extend(states.map(|state| Change::Condition(id, state)));
        }
    }
    changes.extend(scheme.supplies.ids().map(Change::Lost));
    changes
}

fn conditions_of(expr: &Expr, found: &mut Vec<ConditionId>) {
    match expr {
        Expr::Atom(Atom::Condition(id, _)) => found.push(*id),
        Expr::Atom(_) => {}
        Expr::Not(inner) => conditions_of(inner, found),
        Expr::All(items) | Expr::Any(items) => {
            items.iter().for_each(|item| conditions_of(item, found));
        }
    }
}

struct Settler<'a, 'm, 's> {
    machine: &'m Machine<'s>,
    evaluator: &'a Evaluator<'m, 's>,
}

impl Settler<'_, '_, '_> {
    fn settled(&self, breaker: Option<(DeviceId, bool)>, change: Change) -> RestPosition {
        let mut start = self.healthy();
        if let Some((device, closed)) = breaker {
            self.put_breaker(&mut start, device, closed);
        }
        match change {
            Change::Healthy => {}
            Change::LockedOut(device) => {
                if let Some(unit) = self.machine.device_unit(device) {
                    start.set(unit, 1);
                }
            }
            Change::Condition(condition, state) => {
                start.set(self.machine.condition_unit(condition), state);
            }
            Change::Lost(supply) => start.set(self.machine.supply_unit(supply), 0),
        }
        let options = PlayOptions::default();
        let start = still(self.evaluator, start, options);
        let followed = follow(self.evaluator, &start, &[], 0, Pace::Middle, None);
        let put = self.closed(&start);
        let end = followed.states.last().cloned().unwrap_or(start);
        RestPosition { put, ..self.told(breaker, change, &end, followed.rests) }
    }

    /// As drawn, but with energy charged.
    fn healthy(&self) -> State {
        let machine = self.machine;
        let mut state = machine.drawn();
        for (unit, item) in machine.units.iter() {
            match item.kind {
                UnitKind::Energy(_) => state.set(unit, (item.phases / 2).saturating_sub(1)),
                UnitKind::Supply(_) => state.set(unit, 1),
                _ => {}
            }
        }
        state
    }

    fn put_breaker(&self, state: &mut State, device: DeviceId, closed: bool) {
        let table = self.machine.stroke(device);
        if let (Some(unit), Some(table)) = (self.machine.device_unit(device), table) {
            state.set(unit, if closed { table.closed } else { 0 });
        }
    }

    fn closed(&self, state: &State) -> Vec<bool> {
        let look = self.evaluator.look(state);
        let parts = self.machine.scheme.parts.iter();
        parts.map(|(id, part)| switches(part) && look.closed(id).sure()).collect()
    }

    fn told(
        &self,
        breaker: Option<(DeviceId, bool)>,
        change: Change,
        end: &State,
        rests: bool,
    ) -> RestPosition {
        let (machine, scheme) = (self.machine, self.machine.scheme);
        let look = self.evaluator.look(end);
        let position = |device, position| look.atom(Atom::Position(device, position)).sure();
        let (mut closed, mut unsure) = (Vec::new(), Vec::new());
        for (id, part) in scheme.parts.iter() {
            let switches =
                matches!(part.kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. });
            let state = look.closed(id);
            if switches && state.possible() && !state.sure() {
                unsure.push(part.name.clone());
            }
            closed.push(switches && state.sure());
        }
        let devices = scheme
            .devices
            .iter()
            .filter(|(id, _)| machine.device_unit(*id).is_some())
            .filter_map(|(id, device)| {
                let at = (0..device.positions.len())
                    .filter_map(|index| u8::try_from(index).ok())
                    .find(|index| position(id, *index))?;
                let word = device.positions.get(usize::from(at))?;
                (at != device.drawn).then(|| format!("{} {word}", device.name))
            })
            .collect();
        let stays_put = match change {
            Change::Healthy => true,
            Change::LockedOut(device) => position(device, 1),
            Change::Condition(condition, state) => {
                end.phase(machine.condition_unit(condition)) == state
            }
            Change::Lost(supply) => end.phase(machine.supply_unit(supply)) == 0,
        };
        let stays = rests
            && stays_put
            && breaker.is_none_or(|(device, closed)| position(device, u8::from(closed)));
        RestPosition {
            name: name(scheme, breaker, change),
            description: description(scheme, breaker, rests, stays),
            breaker,
            change,
            rests,
            stays,
            devices,
            state: end.clone(),
            put: closed.clone(),
            closed,
            live: scheme
                .supplies
                .ids()
                .map(|supply| end.phase(machine.supply_unit(supply)) == 1)
                .collect(),
            unsure,
        }
    }
}

fn switches(part: &Part) -> bool {
    matches!(part.kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. })
}

fn name(scheme: &Scheme, breaker: Option<(DeviceId, bool)>, change: Change) -> String {
    let breaker = breaker.map(|(device, closed)| {
        format!("{} {}", scheme.devices[device].name, if closed { "closed" } else { "open" })
    });
    let change = match change {
        Change::Healthy => None,
        Change::LockedOut(device) => {
            let device = &scheme.devices[device];
            let word = device.positions.get(1).map_or("operated", String::as_str);
            Some(format!("{} {word}", device.name))
        }
        Change::Condition(condition, state) => {
            let condition = &scheme.conditions[condition];
            Some(if condition.yes_no {
                condition.name.clone()
            } else {
                let state = condition.states.get(usize::from(state)).map_or("", String::as_str);
                format!("{} {state}", condition.name)
            })
        }
        Change::Lost(supply) => Some(format!("{} lost", scheme.supplies[supply].name)),
    };
    match (breaker, change) {
        (Some(breaker), Some(change)) => format!("{breaker}, {change}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "at rest".to_owned(),
    }
}

fn description(
    scheme: &Scheme,
    breaker: Option<(DeviceId, bool)>,
    rests: bool,
    stays: bool,
) -> String {
    let charged = breaker.is_some_and(|(device, _)| {
        matches!(&scheme.devices[device].kind, DeviceKind::Breaker { energy: Some(_), .. })
    });
    let energy = if charged { "energy charged, " } else { "" };
    let end = match (rests, stays) {
        (true, true) => "everything stays so",
        (true, false) => "it does not stay so: this is where everything comes to rest",
        (false, _) => "it never comes to rest: this is where the search for rest was given up",
    };
    format!("put so with {energy}handles as drawn; {end}")
}
