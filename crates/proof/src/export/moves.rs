//! What each unit may do, as guarded moves of the model, from the meaning in `docs/proof.md`.
//!
//! **In:** the units that are known, by a [`Speaker`]. **Out:** [`Moves`].
//! **Never here:** states, `Look::actions`, the search.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::say::{Speaker, relay};
use fiftytwo_motion::machine::{UnitId, UnitKind};
use fiftytwo_scheme::{
    Coil, ConditionId, DeviceId, DeviceKind, LogicId, LogicRule, MayDo, Moves as Changes, OrderId,
    PartId, PartKind, ResetBy, TimeRange, TurnedBy,
};
use std::collections::BTreeMap;

/// The contacts of a relay, lockout or latch open before the others close by this much, µs.
const GAP: (i64, i64) = (500, 3000);

/// What a move asks of a stopwatch, µs.
#[derive(Debug, Clone)]
pub(super) struct Ask {
    pub(super) clock: String,
    pub(super) lo: i64,
    pub(super) hi: Option<i64>,
    /// Only while this is so; else nothing is asked.
    pub(super) only: Bool,
}

impl Ask {
    pub(super) fn new(clock: String, lo: i64, hi: Option<i64>) -> Self {
        Self { clock, lo, hi, only: Bool::Is(true) }
    }
}

/// A guarded move.
#[derive(Debug, Clone)]
pub(super) struct Move {
    pub(super) unit: UnitId,
    pub(super) words: String,
    /// Where the unit must stand.
    pub(super) here: Bool,
    /// What must drive it.
    pub(super) drive: Tri,
    /// It comes by itself; otherwise somebody or something outside does it.
    pub(super) by_itself: bool,
    /// It is an order that ends: what waits for it may rest.
    pub(super) is_order: bool,
    /// Variables and their new values.
    pub(super) set: Vec<(String, String)>,
    pub(super) asks: Vec<Ask>,
    /// Its stopwatches begin anew.
    pub(super) restarts: bool,
    /// It releases the closing latch of this breaker.
    pub(super) closes: Option<DeviceId>,
}

impl Move {
    /// It may come, times apart.
    pub(super) fn may(&self) -> Bool {
        self.here.clone().and(self.drive.may.clone())
    }
    /// A device that is surely on its way, an order that ends left out.
    pub(super) fn restless(&self) -> Bool {
        if self.by_itself && !self.is_order {
            self.here.clone().and(self.drive.sure.clone())
        } else {
            Bool::Is(false)
        }
    }
}

/// A variable of the model.
#[derive(Debug, Clone)]
pub(super) struct Variable {
    pub(super) name: String,
    pub(super) is_bit: bool,
    pub(super) words: String,
}

/// Everything that moves.
#[derive(Debug, Default)]
pub(super) struct Moves {
    pub(super) variables: Vec<Variable>,
    pub(super) list: Vec<Move>,
    /// Lines that mark what a move has interrupted; they may read the values before it.
    pub(super) settle: Vec<String>,
    /// Values before a move that `settle` reads: name and expression.
    pub(super) before: Vec<(String, Bool, bool)>,
    /// Stopwatches that run whatever may move: since something happened.
    pub(super) marks: BTreeMap<String, Vec<Bool>>,
}

/// Collects the moves of all known units.
pub(super) fn moves(speaker: &mut Speaker<'_, '_>) -> Result<Moves, Refusal> {
    let machine = speaker.machine;
    let mut moves = Moves::default();
    for (unit, item) in machine.units.iter() {
        if !speaker.scope.knows(unit) || crate::cone::never_moves(&item.kind) {
            continue;
        }
        if speaker.scope.is_at_will(unit) {
            return Err(Refusal(format!("{} moves at will in this search", item.name)));
        }
        if speaker.scope.may_fail(unit) {
            return Err(Refusal(format!("{} may fail in this search", item.name)));
        }
        let still = speaker.scope.holds_still(unit);
        let mut here = Here { speaker, unit, moves: &mut moves };
        match item.kind {
            UnitKind::Stroke(id) if still => here.held_stroke(id),
            _ if still => {
                return Err(Refusal(format!("{} is held in this search", item.name)));
            }
            UnitKind::Condition(id) => here.condition(id)?,
            UnitKind::Order(id) => here.order(id)?,
            UnitKind::Hand(id) => here.hand(id)?,
            UnitKind::Relay(id) => here.relay(id)?,
            UnitKind::Bistable(id) => here.bistable(id)?,
            UnitKind::Stroke(id) => here.stroke(id)?,
            UnitKind::Energy(id) => here.energy(id)?,
            UnitKind::Logic(id) => here.logic(id)?,
            UnitKind::Contact(_) if item.phases > 2 => {
                return Err(Refusal(format!("{} bounces: a bounce is not exported", item.name)));
            }
            UnitKind::Contact(id) => here.contact(id)?,
            UnitKind::Input(id) if is_feed(machine, id) => {
                let why = "takes a time to start: that is not exported";
                return Err(Refusal(format!("{} {why}", item.name)));
            }
            UnitKind::Input(id) => here.input(id)?,
            UnitKind::Stay(_) => {
                let why = "for a time: a shortest stay is not exported";
                return Err(Refusal(format!("{} {why}", item.name)));
            }
            UnitKind::Supply(_) | UnitKind::Fuse(_) | UnitKind::Link(_) | UnitKind::Overload(_) => {
            }
        }
    }
    Ok(moves)
}

/// Whether a part feeds a device.
fn is_feed(machine: &fiftytwo_motion::machine::Machine<'_>, part: PartId) -> bool {
    matches!(machine.scheme.parts[part].kind, PartKind::Power { .. })
}

/// One unit.
pub(super) struct Here<'a, 'm, 's> {
    pub(super) speaker: &'a mut Speaker<'m, 's>,
    pub(super) unit: UnitId,
    pub(super) moves: &'a mut Moves,
}

impl Here<'_, '_, '_> {
    pub(super) fn name(&self) -> String {
        self.speaker.name(self.unit).to_owned()
    }
    pub(super) fn clock(&self, what: &str) -> String {
        format!("t_{}_{what}", self.speaker.name(self.unit))
    }
    pub(super) fn within(&self, what: &str, time: Option<&TimeRange>) -> Ask {
        let (lo, hi) = bounds(time);
        Ask::new(self.clock(what), lo, hi)
    }
    pub(super) fn at(&self, phase: u8) -> Bool {
        Bool::equals(self.speaker.name(self.unit), phase)
    }
    fn variable(&mut self, is_bit: bool) {
        let name = self.name();
        let words = self.speaker.machine.units[self.unit].name.clone();
        self.moves.variables.push(Variable { name, is_bit, words });
    }
    pub(super) fn push(&mut self, made: Move) {
        if !made.may().is_never() {
            self.moves.list.push(made);
        }
    }
    /// A move of the unit's own variable.
    fn goes(&self, from: Bool, to: u8, drive: Tri, words: &str) -> Move {
        Move {
            unit: self.unit,
            words: format!("{} {words}", self.speaker.machine.units[self.unit].name),
            here: from,
            drive,
            by_itself: true,
            is_order: false,
            set: vec![(self.name(), to.to_string())],
            asks: Vec::new(),
            restarts: true,
            closes: None,
        }
    }
    fn outside(&self, from: Bool, to: u8, drive: Tri, words: &str) -> Move {
        Move { by_itself: false, ..self.goes(from, to, drive, words) }
    }
    /// Somebody may do it.
    fn somebody_may(&mut self, test: impl Fn(MayDo) -> bool) -> Result<Tri, Refusal> {
        let scheme = self.speaker.scheme;
        let mut ways = Vec::new();
        for may in scheme.persons.values().flat_map(|person| &person.may) {
            if test(may.does) {
                ways.push(match &may.when {
                    Some(when) => self.speaker.expr(&when.expr)?,
                    None => Tri::is(true),
                });
            }
        }
        Ok(Tri::any(ways))
    }

    fn condition(&mut self, id: ConditionId) -> Result<(), Refusal> {
        let condition = &self.speaker.scheme.conditions[id];
        self.variable(condition.states.len() <= 2);
        let mut ruled = Vec::new();
        for (index, rule) in condition.becomes.iter().enumerate() {
            let stands = self.speaker.expr(&rule.when.expr)?;
            ruled.push(stands.clone());
            let state = &condition.states[usize::from(rule.state)];
            let from = self.at(rule.state).negated();
            let follows = self.goes(from, rule.state, stands, &format!("follows: {state}"));
            let asks = vec![self.within(&format!("rule{index}"), Some(&rule.after))];
            self.push(Move { asks, ..follows });
        }
        let free = Tri::known(Tri::any(ruled).sure.negated());
        let last = count(condition.states.len().saturating_sub(1));
        for from in 0..=last {
            for to in 0..=last {
                let near = from.abs_diff(to) == 1;
                let allowed = match condition.moves {
                    Changes::Freely => from != to,
                    Changes::StepByStep => near,
                    Changes::OnlyDown => near && to > from,
                };
                if allowed {
                    let state = &condition.states[usize::from(to)];
                    let free = free.clone();
                    self.push(self.outside(self.at(from), to, free, &format!("becomes {state}")));
                }
            }
        }
        Ok(())
    }
    fn order(&mut self, id: OrderId) -> Result<(), Refusal> {
        self.variable(true);
        let lasts = self.speaker.scheme.orders[id].lasts.as_ref();
        let may = self.somebody_may(|does| does == MayDo::Give(id))?;
        self.push(Move { is_order: true, ..self.outside(self.at(0), 1, may, "is given") });
        let ends = self.outside(self.at(1), 0, Tri::is(true), "ends");
        let asks = if lasts.is_some() { vec![self.within("lasts", lasts)] } else { Vec::new() };
        self.push(Move { is_order: true, by_itself: lasts.is_some(), asks, ..ends });
        Ok(())
    }
    fn hand(&mut self, id: DeviceId) -> Result<(), Refusal> {
        let device = &self.speaker.scheme.devices[id];
        let positions = count(device.positions.len());
        self.variable(positions <= 2);
        for from in 0..positions {
            let springs_to = match &device.kind {
                DeviceKind::Handle { returns_to } => {
                    returns_to.get(usize::from(from)).copied().flatten()
                }
                _ => None,
            };
            for to in (0..positions).filter(|to| *to != from) {
                let neighbour = from.abs_diff(to) == 1;
                let turned = self.somebody_may(|does| {
                    does == MayDo::Bring(id, to) || (neighbour && does == MayDo::Operate(id))
                })?;
                let let_go = Tri::is(springs_to == Some(to));
                let words = format!("to {}", device.positions[usize::from(to)]);
                self.push(self.outside(self.at(from), to, Tri::any([turned, let_go]), &words));
            }
        }
        Ok(())
    }
    /// A relay or timer: b opens, then a closes, and back the same way. What is driven again, or
    /// let go, on its way turns back at once, and is remembered as half-way (its least time is
    /// gone) until it has had time to come to rest.
    fn relay(&mut self, id: DeviceId) -> Result<(), Refusal> {
        use relay::{
            DROPPED, DROPPED_WARM, FALLING, FALLING_WARM, PICKED, PICKED_WARM, RISING, RISING_WARM,
        };
        self.variable(false);
        let scheme = self.speaker.scheme;
        let device = &scheme.devices[id];
        let coil = device.parts.iter().copied().find_map(|part| match &scheme.parts[part].kind {
            PartKind::Coil(coil) => Some((part, coil)),
            _ => None,
        });
        let Some((part, coil)) = coil else { return Ok(()) };
        let seen = self.speaker.seen(part)?;
        let (on, off) = (seen.pickup, seen.dropout);
        let timer = match &device.kind {
            DeviceKind::Timer { set } => Some(set),
            _ => None,
        };
        let (up_lo, up_hi) = bounds(timer.or(coil.pickup_time.as_ref()));
        let (down_lo, down_hi) = bounds(coil.dropout_time.as_ref());
        let up = |lo: i64, hi: Option<i64>| Ask::new(self.clock("up"), lo, hi);
        let down = |lo: i64, hi: Option<i64>| Ask::new(self.clock("down"), lo, hi);
        let early = |lo: i64| (lo - GAP.1).max(0);
        let late = |hi: Option<i64>| hi.map(|hi| (hi - GAP.0).max(0));
        let begin = |from: u8, to: u8, drive: &Tri, ask: Ask, words: &str| Move {
            asks: vec![ask],
            restarts: false,
            ..self.goes(self.at(from), to, drive.clone(), words)
        };
        let arrive = |from: u8, to: u8, drive: &Tri, ask: Ask, words: &str| Move {
            asks: vec![ask],
            ..self.goes(self.at(from), to, drive.clone(), words)
        };
        let decided = on.is_known() && off.is_known() && on.may == off.may.clone().negated();
        // While it is driven it has turned back already.
        let sinks = if decided {
            Tri::is(true)
        } else {
            Tri { may: Bool::Is(true), sure: off.sure.clone() }
        };
        let (b_opens, a_closes) = ("leaves dropped out", "is picked up");
        let (a_opens, b_closes) = ("leaves picked up", "is dropped out");
        let mut made = vec![
            begin(DROPPED, RISING, &on, up(early(up_lo), late(up_hi)), b_opens),
            arrive(RISING, PICKED, &on, up(up_lo, up_hi), a_closes),
            begin(PICKED, FALLING, &off, down(early(down_lo), late(down_hi)), a_opens),
            arrive(FALLING, DROPPED, &sinks, down(down_lo, down_hi), b_closes),
        ];
        let may_turn = Tri { may: off.sure.clone().negated(), sure: Bool::Is(false) };
        let turns = |from: u8, to: u8| Move {
            restarts: false,
            ..self.goes(self.at(from), to, may_turn.clone(), "turns back perhaps")
        };
        if !decided {
            made.push(turns(FALLING, if self.speaker.timed { RISING_WARM } else { RISING }));
        }
        if self.speaker.timed {
            let rest = |from: u8, to: u8, drive: Tri, time: Option<i64>| Move {
                asks: vec![Ask::new(self.clock("rest"), time.unwrap_or(0), time)],
                ..self.goes(self.at(from), to, drive, "has come to rest")
            };
            made.extend([
                begin(DROPPED_WARM, RISING_WARM, &on, up(0, late(up_hi)), b_opens),
                arrive(RISING_WARM, PICKED, &on, up(0, up_hi), a_closes),
                begin(PICKED_WARM, FALLING_WARM, &off, down(0, late(down_hi)), a_opens),
                arrive(FALLING_WARM, DROPPED, &sinks, down(0, down_hi), b_closes),
                rest(DROPPED_WARM, DROPPED, on.clone().not(), down_hi),
                rest(PICKED_WARM, PICKED, off.clone().not(), up_hi),
            ]);
        }
        made.into_iter().for_each(|made| self.push(made));
        self.interrupted(&on, &off, timer.is_some());
        Ok(())
    }
    /// Marks a relay whose drive a move has changed.
    fn interrupted(&mut self, on: &Tri, off: &Tri, is_timer: bool) {
        use relay::{
            DROPPED, DROPPED_WARM, FALLING, FALLING_WARM, PICKED, PICKED_WARM, RISING, RISING_WARM,
        };
        let name = self.name();
        let (gone, back) = (on.may.clone().negated(), on.sure.clone());
        let mut lines = Vec::new();
        if self.speaker.timed {
            let (old, was_on, was_off) =
                (format!("o_{name}"), format!("o_on_{name}"), format!("o_off_{name}"));
            self.moves.before.push((old.clone(), Bool::word(name.clone()), false));
            self.moves.before.push((was_on.clone(), on.may.clone(), true));
            self.moves.before.push((was_off.clone(), off.may.clone(), true));
            if !is_timer {
                lines.push(format!(
                    ":: {name} == {DROPPED} && {old} == {DROPPED} && {was_on} && {gone} -> \
                     {name} = {DROPPED_WARM}"
                ));
            }
            let stays = off.may.clone().negated();
            lines.push(format!(
                ":: {name} == {PICKED} && {old} == {PICKED} && {was_off} && {stays} -> \
                 {name} = {PICKED_WARM}"
            ));
            lines.push(format!(
                ":: ({name} == {RISING} || {name} == {RISING_WARM}) && {gone} -> \
                 {name} = {FALLING_WARM}"
            ));
            lines.push(format!(
                ":: ({name} == {FALLING} || {name} == {FALLING_WARM}) && {back} -> \
                 {name} = {RISING_WARM}"
            ));
        } else {
            lines.push(format!(":: {name} == {RISING} && {gone} -> {name} = {FALLING}"));
            lines.push(format!(":: {name} == {FALLING} && {back} -> {name} = {RISING}"));
        }
        self.moves.settle.push(format!("if {} :: else fi", lines.join(" ")));
    }
    /// A lockout or latch: once begun it goes through; by hand it jumps. With n positions the
    /// variable is p at position p and n + p on the way to it.
    fn bistable(&mut self, id: DeviceId) -> Result<(), Refusal> {
        self.variable(false);
        let scheme = self.speaker.scheme;
        let device = &scheme.devices[id];
        let positions = count(device.positions.len());
        for &part in &device.parts {
            let PartKind::Coil(coil) = &scheme.parts[part].kind else { continue };
            let target = coil.drives_to;
            let (lo, hi) = bounds(coil.pickup_time.as_ref());
            let clock = self.clock(&format!("to{target}"));
            let seen = self.speaker.seen(part)?;
            let words = &device.positions[usize::from(target)];
            let rests = Bool::word(format!("{} < {positions}", self.name()));
            let from = rests.and(self.at(target).negated());
            let leaves =
                self.goes(from, positions + target, seen.pickup, &format!("leaves for {words}"));
            let late = hi.map(|hi| (hi - GAP.0).max(0));
            let ask = Ask::new(clock.clone(), (lo - GAP.1).max(0), late);
            self.push(Move { asks: vec![ask], restarts: false, ..leaves });
            let way = self.at(positions + target);
            let arrives = self.goes(way, target, Tri::is(true), &format!("is {words}"));
            self.push(Move { asks: vec![Ask::new(clock, lo, hi)], ..arrives });
        }
        let is_lockout = matches!(device.kind, DeviceKind::Lockout { .. });
        let by_hand = match &device.kind {
            DeviceKind::Lockout { reset_by } => *reset_by != ResetBy::Coil,
            DeviceKind::Latch { turned_by } => *turned_by == TurnedBy::HandOrCoil,
            _ => false,
        };
        for to in (0..positions).filter(|_| by_hand) {
            let may = self.somebody_may(|does| {
                does == MayDo::Bring(id, to)
                    || (does == MayDo::Operate(id) && (!is_lockout || to == 0))
            })?;
            let words = format!("is brought to {}", device.positions[usize::from(to)]);
            let rests = Bool::word(format!("{} < {positions}", self.name()));
            let brought = self.outside(rests.and(self.at(to).negated()), to, may, &words);
            // What a coil was about to begin starts anew.
            let anew = |to: u8| Ask::new(self.clock(&format!("to{to}")), 0, None);
            let asks = (0..positions).map(anew).collect();
            self.push(Move { asks, ..brought });
        }
        Ok(())
    }
    /// One closing's worth after another; within times, a recharge that is broken off keeps what
    /// is wound: its least time is gone (the variable is then above the full charge).
    fn energy(&mut self, id: DeviceId) -> Result<(), Refusal> {
        let DeviceKind::Breaker { energy: Some(energy), .. } =
            &self.speaker.scheme.devices[id].kind
        else {
            return Ok(());
        };
        self.variable(false);
        let full = u8::try_from(energy.closings).unwrap_or(u8::MAX);
        let runs = match energy.charged_by {
            Some(motor) => self.speaker.seen(motor)?.pickup,
            None => Tri::is(true),
        };
        let (lo, hi) = bounds(energy.charged_in.as_ref());
        let share = i64::from(full.max(1));
        let (lo, hi) = (lo / share, hi.map(|hi| hi / share));
        let levels = full + 1;
        for charge in 0..full {
            let ask = |lo| Ask::new(self.clock("charge"), lo, hi);
            let words = format!("is charged for {}", charge + 1);
            let one = self.goes(self.at(charge), charge + 1, runs.clone(), &words);
            let two = self.goes(self.at(levels + charge), charge + 1, runs.clone(), &words);
            let (cold, warm) = (ask(lo), ask(0));
            self.push(Move { asks: vec![cold], ..one });
            if self.speaker.timed && energy.charged_by.is_some() {
                self.push(Move { asks: vec![warm], ..two });
            }
        }
        if self.speaker.timed && energy.charged_by.is_some() {
            let name = self.name();
            let (old, ran) = (format!("o_{name}"), format!("o_on_{name}"));
            self.moves.before.push((old.clone(), Bool::word(name.clone()), false));
            self.moves.before.push((ran.clone(), runs.may.clone(), true));
            let stops = runs.may.negated();
            self.moves.settle.push(format!(
                "if :: {name} < {full} && {name} == {old} && {ran} && {stops} -> \
                 {name} = {name} + {levels} :: else fi"
            ));
        }
        Ok(())
    }
    fn logic(&mut self, id: LogicId) -> Result<(), Refusal> {
        self.variable(true);
        let at_once = |clock: String| Ask::new(clock, 0, Some(0));
        let (on, off, comes, goes) = match &self.speaker.scheme.logics[id].rule {
            LogicRule::When { when, on_delay, off_delay } => {
                let stands = self.speaker.expr(&when.expr)?;
                let (on, off) =
                    (self.within("on", Some(on_delay)), self.within("off", Some(off_delay)));
                (stands.clone(), stands.not(), on, off)
            }
            LogicRule::Memory { set, clear } => {
                let (set, clear) = (self.speaker.expr(&set.expr)?, self.speaker.expr(&clear.expr)?);
                let (on, off) = (at_once(self.clock("on")), at_once(self.clock("off")));
                (set.and(clear.clone().not()), clear, on, off)
            }
        };
        self.two_way(on, off, comes, goes);
        Ok(())
    }
    fn contact(&mut self, id: PartId) -> Result<(), Refusal> {
        let PartKind::Contact(contact) = &self.speaker.scheme.parts[id].kind else {
            return Ok(());
        };
        self.variable(true);
        let stands = self.speaker.expr(&contact.closed_when.expr)?;
        let time = |here: &Self, what: &str, time: &Option<TimeRange>| {
            let (lo, hi) = time.as_ref().map_or((0, 0), |time| (time.lo, time.hi));
            Ask::new(here.clock(what), lo, Some(hi))
        };
        let comes = time(self, "on", &contact.closes_in);
        let goes = time(self, "off", &contact.opens_in);
        self.two_way(stands.clone(), stands.not(), comes, goes);
        Ok(())
    }
    fn input(&mut self, id: PartId) -> Result<(), Refusal> {
        self.variable(true);
        let on = self.speaker.seen(id)?.pickup;
        let at_once = |clock: String| Ask::new(clock, 0, Some(0));
        let (comes, goes) = (at_once(self.clock("on")), at_once(self.clock("off")));
        self.two_way(on.clone(), on.not(), comes, goes);
        Ok(())
    }
    fn two_way(&mut self, on: Tri, off: Tri, comes: Ask, goes: Ask) {
        let one = self.goes(self.at(0), 1, on, "comes on");
        let two = self.goes(self.at(1), 0, off, "goes off");
        self.push(Move { asks: vec![comes], ..one });
        self.push(Move { asks: vec![goes], ..two });
    }
}

fn count(number: usize) -> u8 {
    u8::try_from(number).unwrap_or(u8::MAX)
}

pub(super) fn bounds(time: Option<&TimeRange>) -> (i64, Option<i64>) {
    time.map_or((0, None), |time| (time.lo.max(0), Some(time.hi.max(0))))
}

/// How long a breaker coil must be driven until its latch goes.
pub(super) fn latch(coil: &Coil) -> (i64, Option<i64>) {
    use fiftytwo_scheme::GoesAfter;
    match &coil.goes_after {
        Some(GoesAfter::After(time)) => (time.lo, Some(time.hi)),
        Some(GoesAfter::WholeStroke) => (0, Some(0)),
        None => (0, None),
    }
}
