//! What may happen next.

use super::clocks::{ClockId, Slot, Timing, Timings};
use super::eval::Look;
use super::relay::{GAP, RelayPhase};
use super::stroke::{Direction, StrokeEvent, StrokePhase, StrokeTable};
use super::{Action, Agent, Deed, Machine, State, Stayer, Tri, UnitId, UnitKind};
use fiftytwo_scheme::{
    ConditionId, DeviceId, DeviceKind, LogicId, LogicRule, MayDo, Moves, OrderId, PartId, PartKind,
    ResetBy, TimeRange, TurnedBy,
};
use smallvec::smallvec;

impl Look<'_, '_, '_> {
    /// Everything that may happen next in this state, in a fixed order.
    pub fn actions(&self) -> Vec<Action> {
        let mut actions = Vec::new();
        for unit in self.machine().units.ids() {
            self.add_actions_of(unit, &mut actions);
        }
        actions
    }
    /// The same, where the actions of another state are known: only the units that the difference may
    /// stir are asked anew.
    pub(crate) fn actions_like(&self, other: &State, known: Vec<Action>) -> Vec<Action> {
        let stirred = self.evaluator.stirred(other, self.state);
        let mut actions = Vec::with_capacity(known.len() + 2);
        let mut known = known.into_iter().peekable();
        for unit in self.machine().units.ids() {
            let anew = stirred(unit);
            while let Some(action) = known.next_if(|action| action.unit == unit) {
                if !anew {
                    actions.push(action);
                }
            }
            if anew {
                self.add_actions_of(unit, &mut actions);
            }
        }
        actions
    }
    /// What one unit may do next in this state.
    pub fn actions_of(&self, unit: UnitId) -> Vec<Action> {
        let mut actions = Vec::new();
        self.add_actions_of(unit, &mut actions);
        actions
    }
    fn add_actions_of(&self, unit: UnitId, actions: &mut Vec<Action>) {
        let machine = self.machine();
        if !self.knows(unit) || self.evaluator.scope.holds_still(unit) {
            return;
        }
        let first = actions.len();
        let mut here = Here { look: self, machine, unit, actions };
        match machine.units[unit].kind {
            UnitKind::Condition(id) => here.condition(id),
            UnitKind::Order(id) => here.order(id),
            UnitKind::Hand(id) => here.hand(id),
            UnitKind::Relay(id) => here.relay(id),
            UnitKind::Bistable(id) => here.bistable(id),
            UnitKind::Stroke(id) => here.stroke(id),
            UnitKind::Energy(id) => here.energy(id),
            UnitKind::Logic(id) => here.logic(id),
            UnitKind::Contact(id) => here.contact(id),
            UnitKind::Input(id) => here.input(id),
            UnitKind::Supply(_) => here.supply(),
            UnitKind::Stay(of) => here.stay(of),
            UnitKind::Fuse(_) | UnitKind::Link(_) | UnitKind::Overload(_) => {}
        }
        if self.evaluator.scope.is_at_will(unit) {
            for action in actions.iter_mut().skip(first) {
                action.timing.clear();
                action.certainty = action.certainty.and(Tri::Perhaps);
            }
        }
    }
}

/// One unit of one state.
struct Here<'a, 'e, 'm, 's> {
    look: &'a Look<'e, 'm, 's>,
    machine: &'m Machine<'s>,
    unit: UnitId,
    actions: &'a mut Vec<Action>,
}

impl Here<'_, '_, '_, '_> {
    fn phase(&self) -> u8 {
        self.look.state.phase(self.unit)
    }
    fn timing(&self, slot: u8, lo: i64, hi: Option<i64>) -> Timing {
        Timing { clock: self.machine.clocks.of(self.unit, Slot(slot)), lo: lo.max(0), hi }
    }
    fn within(&self, slot: u8, time: Option<&TimeRange>) -> Timing {
        match time {
            Some(time) => self.timing(slot, time.lo, Some(time.hi)),
            None => self.timing(slot, 0, None),
        }
    }
    fn push(&mut self, to: u8, deed: Deed, agent: Agent, certainty: Tri, timing: Timings) {
        if certainty.possible() {
            let unit = self.unit;
            self.actions.push(Action { unit, to, also: None, deed, agent, certainty, timing });
        }
    }

    fn supply(&mut self) {
        if self.look.evaluator.scope.may_fail(self.unit) {
            let to = 1 - self.phase().min(1);
            self.push(to, Deed::Change, Agent::World, Tri::Yes, Timings::new());
        }
    }
    fn condition(&mut self, id: ConditionId) {
        let condition = &self.machine.scheme.conditions[id];
        let phase = self.phase();
        let mut ruled = Tri::No;
        for (index, rule) in condition.becomes.iter().enumerate() {
            let stands = self.look.holds(&rule.when.expr);
            ruled = ruled.or(stands);
            if rule.state != phase && stands.possible() {
                let slot = u8::try_from(index).unwrap_or(u8::MAX);
                let timing = self.timing(slot, rule.after.lo, Some(rule.after.hi));
                self.push(rule.state, Deed::Follow(slot), Agent::Device, stands, smallvec![timing]);
            }
        }
        if ruled.sure() {
            return;
        }
        let last = u8::try_from(condition.states.len().saturating_sub(1)).unwrap_or(u8::MAX);
        for to in 0..=last {
            let near = to.abs_diff(phase) == 1;
            let allowed = match condition.moves {
                Moves::Freely => to != phase,
                Moves::StepByStep => near,
                Moves::OnlyDown => near && to > phase,
            };
            if allowed {
                self.move_from_outside(
                    to,
                    Deed::Change,
                    Tri::Yes,
                    self.machine.stay_of_condition(id),
                );
            }
        }
    }
    /// Somebody or something outside moves it, unless it was moved the other way too short ago.
    fn move_from_outside(&mut self, to: u8, deed: Deed, certainty: Tri, stay: Option<UnitId>) {
        let stay = stay.filter(|stay| self.look.knows(*stay) && !self.look.evaluator.cold);
        let Some(stay) = stay else {
            return self.push(to, deed, Agent::World, certainty, Timings::new());
        };
        if !certainty.possible() {
            return;
        }
        let (this_way, the_other) = if to > self.phase() { (1, 2) } else { (2, 1) };
        let held = self.look.state.phase(stay);
        if held == the_other {
            return;
        }
        // Moved on, its time starts anew.
        let clock = self.machine.clocks.of(stay, Slot(0));
        let anew = (held == this_way).then_some(Timing { clock, lo: 0, hi: None });
        self.actions.push(Action {
            unit: self.unit,
            to,
            also: Some((stay, this_way)),
            deed,
            agent: Agent::World,
            certainty,
            timing: anew.into_iter().collect(),
        });
    }
    fn stay(&mut self, of: Stayer) {
        let scheme = self.machine.scheme;
        let time = match of {
            Stayer::Condition(id) => &scheme.conditions[id].stays,
            Stayer::Hand(id) => &scheme.devices[id].stays,
        };
        let Some(time) = time.as_ref().filter(|_| self.phase() != 0) else { return };
        let timing = self.timing(0, time.lo, Some(time.lo));
        self.push(0, Deed::Subside, Agent::Device, Tri::Yes, smallvec![timing]);
    }
    fn order(&mut self, id: OrderId) {
        let lasts = self.machine.scheme.orders[id].lasts.as_ref();
        if self.phase() == 0 {
            let may = self.somebody_may(|does| does == MayDo::Give(id));
            self.push(1, Deed::Give, Agent::World, may, Timings::new());
        } else if lasts.is_some() {
            // An order that was given ends in its time, as a device does.
            let timing = self.within(0, lasts);
            self.push(0, Deed::Give, Agent::Device, Tri::Yes, smallvec![timing]);
        } else {
            self.push(0, Deed::Give, Agent::World, Tri::Yes, Timings::new());
        }
    }
    fn somebody_may(&self, test: impl Fn(MayDo) -> bool) -> Tri {
        let persons = self.machine.scheme.persons.values();
        persons
            .flat_map(|person| &person.may)
            .filter(|may| test(may.does))
            .map(|may| may.when.as_ref().map_or(Tri::Yes, |when| self.look.holds(&when.expr)))
            .fold(Tri::No, Tri::or)
    }
    fn hand(&mut self, id: DeviceId) {
        let device = &self.machine.scheme.devices[id];
        let phase = self.phase();
        let last = u8::try_from(device.positions.len().saturating_sub(1)).unwrap_or(u8::MAX);
        let springs_to = match &device.kind {
            DeviceKind::Handle { returns_to } => returns_to.get(phase as usize).copied().flatten(),
            _ => None,
        };
        for to in 0..=last {
            let turns = to.abs_diff(phase) == 1;
            let operated = self.somebody_may(|does| {
                (turns && does == MayDo::Operate(id))
                    || (to != phase && does == MayDo::Bring(id, to))
            });
            let let_go = if springs_to == Some(to) { Tri::Yes } else { Tri::No };
            let stay = self.machine.stay_of_device(id);
            self.move_from_outside(to, Deed::Turn, operated.or(let_go), stay);
        }
    }
    fn relay(&mut self, id: DeviceId) {
        let Some(part) = self.machine.lone_coil(id) else { return };
        let PartKind::Coil(coil) = &self.machine.scheme.parts[part].kind else { return };
        let set = match &self.machine.scheme.devices[id].kind {
            DeviceKind::Timer { set } => Some(set.clone()),
            _ => None,
        };
        let up = set.as_ref().or(coil.pickup_time.as_ref());
        let down = coil.dropout_time.as_ref();
        let (up_lo, up_hi) = bounds(up);
        let (down_lo, down_hi) = bounds(down);
        let pickup = self.look.pickup(part);
        let dropout = self.look.dropout(part);
        let driven = Some(part);
        // Beginning may come earlier than arriving by the gap between b and a.
        let begin_lo = |lo: i64| (lo - GAP.1).max(0);
        let begin_hi = |hi: Option<i64>| hi.map(|hi| (hi - GAP.0).max(0));
        let go = |phase: RelayPhase| phase as u8;
        match RelayPhase::from_u8(self.phase()) {
            RelayPhase::Dropped => {
                let timing = self.timing(0, begin_lo(up_lo), begin_hi(up_hi));
                self.push(
                    go(RelayPhase::Rising),
                    Deed::Begin(driven),
                    Agent::Device,
                    pickup,
                    smallvec![timing],
                );
            }
            RelayPhase::DroppedWarm => {
                let timing = self.timing(0, 0, begin_hi(up_hi));
                self.push(
                    go(RelayPhase::RisingWarm),
                    Deed::Begin(driven),
                    Agent::Device,
                    pickup,
                    smallvec![timing],
                );
                if !pickup.sure() {
                    let timing = self.timing(2, down_hi.unwrap_or(0), down_hi);
                    self.push(
                        go(RelayPhase::Dropped),
                        Deed::Subside,
                        Agent::Device,
                        !pickup,
                        smallvec![timing],
                    );
                }
            }
            phase @ (RelayPhase::Rising | RelayPhase::RisingWarm) => {
                let lo = if phase == RelayPhase::Rising { up_lo } else { 0 };
                let timing = self.timing(0, lo, up_hi);
                self.push(
                    go(RelayPhase::Picked),
                    Deed::Arrive(driven),
                    Agent::Device,
                    pickup,
                    smallvec![timing],
                );
            }
            RelayPhase::Picked => {
                let timing = self.timing(1, begin_lo(down_lo), begin_hi(down_hi));
                self.push(
                    go(RelayPhase::Falling),
                    Deed::Begin(None),
                    Agent::Device,
                    dropout,
                    smallvec![timing],
                );
            }
            RelayPhase::PickedWarm => {
                let timing = self.timing(1, 0, begin_hi(down_hi));
                self.push(
                    go(RelayPhase::FallingWarm),
                    Deed::Begin(None),
                    Agent::Device,
                    dropout,
                    smallvec![timing],
                );
                if !dropout.sure() {
                    let timing = self.timing(2, up_hi.unwrap_or(0), up_hi);
                    self.push(
                        go(RelayPhase::Picked),
                        Deed::Subside,
                        Agent::Device,
                        !dropout,
                        smallvec![timing],
                    );
                }
            }
            phase @ (RelayPhase::Falling | RelayPhase::FallingWarm) => {
                let lo = if phase == RelayPhase::Falling { down_lo } else { 0 };
                let timing = self.timing(1, lo, down_hi);
                // Between dropout and pickup an armature on its way down may still turn back.
                let falls = if dropout.sure() { Tri::Yes } else { Tri::Perhaps };
                self.push(
                    go(RelayPhase::Dropped),
                    Deed::Arrive(None),
                    Agent::Device,
                    falls,
                    smallvec![timing],
                );
                if !dropout.sure() {
                    self.push(
                        go(RelayPhase::RisingWarm),
                        Deed::Begin(driven),
                        Agent::Device,
                        Tri::Perhaps,
                        Timings::new(),
                    );
                }
            }
        }
    }
    fn bistable(&mut self, id: DeviceId) {
        let scheme = self.machine.scheme;
        let device = &scheme.devices[id];
        let positions = u8::try_from(device.positions.len()).unwrap_or(u8::MAX);
        let phase = self.phase();
        for &part in &device.parts {
            let PartKind::Coil(coil) = &scheme.parts[part].kind else { continue };
            let target = coil.drives_to;
            let (lo, hi) = bounds(coil.pickup_time.as_ref());
            if phase == positions + target {
                // Once begun it goes through.
                let timing = self.timing(target, lo, hi);
                self.push(
                    target,
                    Deed::Arrive(Some(part)),
                    Agent::Device,
                    Tri::Yes,
                    smallvec![timing],
                );
            } else if phase != target && phase < positions {
                let pickup = self.look.pickup(part);
                let lo = (lo - GAP.1).max(0);
                let hi = hi.map(|hi| (hi - GAP.0).max(0));
                let timing = self.timing(target, lo, hi);
                let to = positions + target;
                self.push(to, Deed::Begin(Some(part)), Agent::Device, pickup, smallvec![timing]);
            }
        }
        let by_hand = match &device.kind {
            DeviceKind::Lockout { reset_by } => *reset_by != ResetBy::Coil,
            DeviceKind::Latch { turned_by } => *turned_by == TurnedBy::HandOrCoil,
            _ => false,
        };
        if by_hand {
            let is_lockout = matches!(device.kind, DeviceKind::Lockout { .. });
            for to in 0..positions {
                let may = self.somebody_may(|does| {
                    does == MayDo::Bring(id, to)
                        || (!is_lockout && does == MayDo::Operate(id))
                        || (is_lockout && to == 0 && does == MayDo::Operate(id))
                });
                // What is on its way goes through: a hand finds it where it has arrived.
                if to != phase && phase < positions {
                    // What a coil was about to begin starts anew.
                    let anew =
                        device.parts.iter().filter_map(|part| match &scheme.parts[*part].kind {
                            PartKind::Coil(coil) => Some(self.timing(coil.drives_to, 0, None)),
                            _ => None,
                        });
                    let anew = anew.collect();
                    self.push(to, Deed::Bring, Agent::World, may, anew);
                }
            }
        }
    }
    fn energy(&mut self, id: DeviceId) {
        let DeviceKind::Breaker { energy: Some(energy), .. } =
            &self.machine.scheme.devices[id].kind
        else {
            return;
        };
        let full = u8::try_from(energy.closings).unwrap_or(u8::MAX);
        let phase = self.phase();
        let charge = self.machine.charge_of(self.unit, phase);
        if charge >= full {
            return;
        }
        let runs = energy.charged_by.map_or(Tri::Yes, |motor| self.look.lit(motor));
        let (lo, hi) = bounds(energy.charged_in.as_ref());
        // One closing's worth takes its share; what was wound before an interruption stays.
        let steps = i64::from(full.max(1));
        let lo = if phase > full { 0 } else { lo / steps };
        let timing = self.timing(0, lo, hi.map(|hi| hi / steps));
        self.push(charge + 1, Deed::Charge, Agent::Device, runs, smallvec![timing]);
    }
    fn logic(&mut self, id: LogicId) {
        let phase = self.phase();
        let started = self.look.started(self.machine.scheme.logics[id].device);
        match &self.machine.scheme.logics[id].rule {
            LogicRule::When { when, on_delay, off_delay } => {
                let stands = started.and(self.look.holds(&when.expr));
                if phase == 0 {
                    let timing = self.within(0, Some(on_delay));
                    self.push(1, Deed::Think, Agent::Device, stands, smallvec![timing]);
                } else {
                    let timing = self.within(1, Some(off_delay));
                    self.push(0, Deed::Think, Agent::Device, !stands, smallvec![timing]);
                }
            }
            LogicRule::Memory { set, clear } => {
                let set = started.and(self.look.holds(&set.expr));
                let clear = started.and(self.look.holds(&clear.expr));
                if phase == 0 {
                    let timing = self.timing(0, 0, Some(0));
                    self.push(1, Deed::Think, Agent::Device, set.and(!clear), smallvec![timing]);
                } else {
                    let timing = self.timing(1, 0, Some(0));
                    self.push(0, Deed::Think, Agent::Device, clear, smallvec![timing]);
                }
            }
        }
    }
    fn contact(&mut self, id: PartId) {
        let PartKind::Contact(contact) = &self.machine.scheme.parts[id].kind else { return };
        let stands = self.look.followed(id);
        let at_once = |time: &Option<TimeRange>| {
            time.as_ref().map_or((0, Some(0)), |time| (time.lo, Some(time.hi)))
        };
        let phase = self.phase();
        let bounce = contact.bounce.as_ref().map(|time| time.hi);
        let (closing, opening) = if bounce.is_some() { (5, 2) } else { (1, 0) };
        let was_closed = matches!(phase, 1 | 4 | 5);
        if was_closed {
            let (lo, hi) = at_once(&contact.opens_in);
            let timing = self.timing(1, lo, hi);
            self.push(opening, Deed::Switch, Agent::Device, !stands, smallvec![timing]);
        } else {
            let (lo, hi) = at_once(&contact.closes_in);
            let timing = self.timing(0, lo, hi);
            self.push(closing, Deed::Switch, Agent::Device, stands, smallvec![timing]);
        }
        if let (Some(bounce), 2..=5) = (bounce, phase) {
            self.push(phase ^ 1, Deed::Bounce, Agent::Device, Tri::Perhaps, Timings::new());
            let timing = self.timing(if was_closed { 2 } else { 3 }, 0, Some(bounce));
            let rests = u8::from(was_closed);
            self.push(rests, Deed::Settle, Agent::Device, Tri::Yes, smallvec![timing]);
        }
    }
    fn input(&mut self, id: PartId) {
        let starts_in = self.machine.scheme.parts[id].device.and_then(|device| {
            match (&self.machine.scheme.parts[id].kind, &self.machine.scheme.devices[device].kind) {
                (PartKind::Power { .. }, DeviceKind::Ied { starts_in, .. }) => starts_in.as_ref(),
                _ => None,
            }
        });
        if self.phase() == 0 {
            let (lo, hi) = starts_in.map_or((0, 0), |time| (time.lo, time.hi));
            let timing = self.timing(0, lo, Some(hi));
            let on = self.look.pickup(id);
            self.push(1, Deed::Sense, Agent::Device, on, smallvec![timing]);
        } else {
            let timing = self.timing(1, 0, Some(0));
            let off = self.look.dropout(id);
            self.push(0, Deed::Sense, Agent::Device, off, smallvec![timing]);
        }
    }
    fn stroke(&mut self, id: DeviceId) {
        let Some(table) = self.machine.stroke(id) else { return };
        let phase = table.phase(self.phase());
        self.releases(id, table, phase);
        let closing = phase.direction == Direction::Up && phase.moved & 1 == 0;
        if let (Some(solenoid), true) = (table.solenoid, closing) {
            self.solenoid_stroke(table, phase, solenoid);
            return;
        }
        self.stroke_events(table, phase, Tri::Yes);
    }
    /// A solenoid has to pull all the way; without drive the mechanism falls back.
    fn solenoid_stroke(&mut self, table: &StrokeTable, phase: StrokePhase, solenoid: PartId) {
        let pulls = self.look.pickup(solenoid);
        let gone = self.look.dropout(solenoid);
        self.stroke_events(
            table,
            phase,
            if gone.sure() { Tri::No } else { pulls.or(Tri::Perhaps) },
        );
        if !pulls.sure() {
            let to = table.number(table.turned_back(phase));
            self.push(to, Deed::FallBack, Agent::Device, Tri::Perhaps.max(gone), Timings::new());
        }
    }
    fn stroke_events(&mut self, table: &StrokeTable, phase: StrokePhase, certainty: Tri) {
        for event in table.next(phase) {
            let timing = self.stroke_timing(table, phase, event);
            let to = table.number(table.after(phase, event));
            let deed = match (event, phase.direction) {
                (StrokeEvent::Main, Direction::Up) => Deed::Touch,
                (StrokeEvent::Main, _) => Deed::Part,
                (StrokeEvent::Group(group), _) => Deed::Auxiliary(group),
            };
            self.push(to, deed, Agent::Device, certainty, timing);
        }
    }
    fn releases(&mut self, id: DeviceId, table: &StrokeTable, phase: StrokePhase) {
        let scheme = self.machine.scheme;
        let trips: Vec<(usize, PartId, Tri)> = table
            .trip_coils
            .iter()
            .enumerate()
            .map(|(index, coil)| (index, *coil, self.look.pickup(*coil)))
            .collect();
        if phase.direction == Direction::Up && phase.moved & 1 != 0 {
            // The latch may be free before touch, but the closing is completed first.
            let free = !self.look.is_stuck(self.unit);
            for (index, coil, pickup) in trips {
                let pickup = pickup.and(free);
                let to = table.number(table.turned_back(phase));
                let latch = self.latch_timing(table.trip_slot(index), &scheme.parts[coil].kind);
                let driven = self.timing(to_u8(table.driven_slot(index)), latch.lo, None);
                let forced = Timing { lo: 0, ..latch };
                let timing = smallvec![driven, forced];
                self.push(to, Deed::Release(coil), Agent::Device, pickup, timing);
            }
        } else if phase == (StrokePhase { direction: Direction::Down, moved: 0 }) {
            // Trip-free: a driven trip coil holds the closing latch.
            let tripping = trips.iter().map(|(_, _, pickup)| *pickup).fold(Tri::No, Tri::or);
            let energy = self.machine.energy_unit(id);
            let charge = match energy {
                None => Tri::Yes,
                Some(unit) => match self.look.phase(unit) {
                    None => Tri::Perhaps,
                    Some(phase) => Tri::from_bool(self.machine.charge_of(unit, phase) > 0),
                },
            };
            for (index, &coil) in table.close_coils.iter().enumerate() {
                let certainty = self.look.pickup(coil).and(!tripping).and(charge);
                if !certainty.possible() {
                    continue;
                }
                let to = table.number(StrokePhase { direction: Direction::Up, moved: 0 });
                let timing = self.latch_timing(table.close_slot(index), &scheme.parts[coil].kind);
                let also = energy.filter(|unit| self.look.knows(*unit)).map(|unit| {
                    let charge = self.machine.charge_of(unit, self.look.state.phase(unit));
                    (unit, charge.saturating_sub(1))
                });
                self.actions.push(Action {
                    unit: self.unit,
                    to,
                    also,
                    deed: Deed::Release(coil),
                    agent: Agent::Device,
                    certainty,
                    timing: smallvec![timing],
                });
            }
        }
    }
    fn latch_timing(&self, slot: usize, kind: &PartKind) -> Timing {
        let slot = to_u8(slot);
        match kind {
            PartKind::Coil(coil) => match &coil.goes_after {
                Some(fiftytwo_scheme::GoesAfter::After(time)) => {
                    self.timing(slot, time.lo, Some(time.hi))
                }
                Some(fiftytwo_scheme::GoesAfter::WholeStroke) => self.timing(slot, 0, Some(0)),
                // Unsaid: any time.
                None => self.timing(slot, 0, None),
            },
            _ => self.timing(slot, 0, None),
        }
    }
    fn stroke_timing(
        &self,
        table: &StrokeTable,
        phase: StrokePhase,
        event: StrokeEvent,
    ) -> Timings {
        let clock = |slot: usize, lo: i64, hi: i64| self.timing(to_u8(slot), lo, Some(hi.max(0)));
        let up = phase.direction == Direction::Up;
        if phase.direction == Direction::Back {
            let StrokeEvent::Group(group) = event else { return Timings::new() };
            let latest = table.opening.1 + table.groups[group as usize].on_open.1.max(0);
            return smallvec![clock(marks::TRIPPED, 0, latest)];
        }
        let (since, stroke, first) = if up {
            (marks::RELEASED, table.closing, marks::GROUPS)
        } else {
            (marks::TRIPPED, table.opening, marks::GROUPS + table.groups.len())
        };
        let main_done = (phase.moved & 1 != 0) == up;
        if main_done {
            let StrokeEvent::Group(group) = event else { return Timings::new() };
            let group = &table.groups[group as usize];
            let (offset, slot) =
                if up { (group.on_close, marks::TOUCHED) } else { (group.on_open, marks::PARTED) };
            return smallvec![clock(slot, offset.0, offset.1)];
        }
        // Offsets before touch count backwards: the event comes `before.0` to `before.1` ahead.
        let before = |group: &super::Group| {
            let offset = if up { group.on_close } else { group.on_open };
            (-offset.1, -offset.0)
        };
        let own = match event {
            StrokeEvent::Main => (0, 0),
            StrokeEvent::Group(group) => before(&table.groups[group as usize]),
        };
        let mut timings: Timings = smallvec![clock(since, stroke.0 - own.1, stroke.1 - own.0)];
        for (index, group) in table.groups.iter().enumerate() {
            let early = if up { group.before_touch } else { group.before_parting };
            let tells = phase.direction != Direction::Short;
            let changed = (phase.moved & super::stroke::bit(index as u8) != 0) == up;
            if early && changed && tells {
                let theirs = before(group);
                timings.push(clock(first + index, theirs.0 - own.1, theirs.1 - own.0));
            }
        }
        timings
    }
}

/// Slots of a stroke's stopwatches.
pub(super) mod marks {
    /// Since the close latch went.
    pub(crate) const RELEASED: usize = 0;
    /// Since touch.
    pub(crate) const TOUCHED: usize = 1;
    /// Since the trip latch went.
    pub(crate) const TRIPPED: usize = 2;
    /// Since parting.
    pub(crate) const PARTED: usize = 3;
    /// First of the groups, closing then opening; then the coils, closing then opening.
    pub(crate) const GROUPS: usize = 4;
}

impl StrokeTable {
    /// Slot of the stopwatch of a closing coil.
    fn close_slot(&self, index: usize) -> usize {
        marks::GROUPS + 2 * self.groups.len() + index
    }
    /// Slot of the stopwatch that forces a trip latch: since touch or drive, whichever is later.
    fn trip_slot(&self, index: usize) -> usize {
        self.close_slot(self.close_coils.len()) + index
    }
    /// Slot of the stopwatch since a trip coil has been driven, before touch too.
    fn driven_slot(&self, index: usize) -> usize {
        self.trip_slot(self.trip_coils.len()) + index
    }
}

fn to_u8(slot: usize) -> u8 {
    u8::try_from(slot).unwrap_or(u8::MAX)
}

fn bounds(time: Option<&TimeRange>) -> (i64, Option<i64>) {
    time.map_or((0, None), |time| (time.lo, Some(time.hi)))
}

impl Machine<'_> {
    /// How many closings a phase of an energy unit holds.
    pub fn charge_of(&self, unit: UnitId, phase: u8) -> u8 {
        let levels = self.units[unit].phases / 2;
        if levels == 0 { 0 } else { phase % levels }
    }
    /// The stopwatches that run in a state besides those its actions ask: marks of strokes.
    pub fn marks(&self, look: &Look<'_, '_, '_>, out: &mut Vec<ClockId>) {
        self.marks_while(look, |coil| look.pickup(coil).possible(), out);
    }
    /// The same, where the caller decides which trip coils are driven.
    pub fn marks_while(
        &self,
        look: &Look<'_, '_, '_>,
        driven: impl Fn(PartId) -> bool,
        out: &mut Vec<ClockId>,
    ) {
        for unit in self.units.ids() {
            self.marks_of(look, unit, &driven, out);
        }
    }
    /// The same for one unit.
    pub fn marks_of(
        &self,
        look: &Look<'_, '_, '_>,
        unit: UnitId,
        driven: impl Fn(PartId) -> bool,
        out: &mut Vec<ClockId>,
    ) {
        let UnitKind::Stroke(device) = self.units[unit].kind else { return };
        let (Some(number), Some(table)) = (look.phase(unit), self.stroke(device)) else { return };
        let phase = table.phase(number);
        let mut mark = |slot: usize| {
            out.push(self.clocks.of(unit, Slot(to_u8(slot))));
        };
        let touches = phase.moved & 1 != 0;
        if phase.direction == Direction::Up {
            for (index, coil) in table.trip_coils.iter().enumerate() {
                if driven(*coil) {
                    mark(table.driven_slot(index));
                }
            }
        }
        let resting = number == 0 || number == table.closed;
        match phase.direction {
            _ if resting => {}
            Direction::Up if touches => mark(marks::TOUCHED),
            Direction::Up => {
                mark(marks::RELEASED);
                for (index, group) in table.groups.iter().enumerate() {
                    if group.before_touch && phase.moved & super::stroke::bit(index as u8) != 0 {
                        mark(marks::GROUPS + index);
                    }
                }
            }
            Direction::Down if touches => {
                mark(marks::TRIPPED);
                for (index, group) in table.groups.iter().enumerate() {
                    if group.before_parting && phase.moved & super::stroke::bit(index as u8) == 0 {
                        mark(marks::GROUPS + table.groups.len() + index);
                    }
                }
            }
            Direction::Down => mark(marks::PARTED),
            Direction::Back | Direction::Short => mark(marks::TRIPPED),
        }
    }
    /// How many stopwatches there are.
    pub fn clock_count(&self) -> usize {
        self.clocks.len()
    }
}
