//! A quick look with a patient world: the outside makes a move, then waits for rest.
//!
//! **Out:** a real run that breaks a claim by plain logic, or one in which what the claim speaks
//! of happens; or nothing. It proves nothing, but what it shows is real: every delay lies within
//! its declared range.

use crate::monitor::{Memory, Monitor, Readings, Signs};
use crate::search::Limits;
use crate::space::{Prepared, Step};
use crate::story::Watch;
use crate::words::named;
use fiftytwo_motion::machine::{
    Action, Agent, ClockId, Deed, Evaluator, Machine, Scope, State, UnitId,
};
use fiftytwo_motion::patient::{Followed, Pace, Rest, follow, follow_from};
use rustc_hash::FxHashSet;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Most moves of the outside.
const MOST_MOVES: u32 = 6;
/// Most resting states looked at for a run that breaks a claim: nothing else may find one.
const MOST_TO_BREAK: usize = 30_000;
/// For one in which something happens.
const MOST_TO_HAPPEN: usize = 10_000;
/// For one without rest: what does not rest is also searched for in any order.
const MOST_TO_UNREST: usize = 3_000;
/// So many are looked at in order of their moves, for the shortest run; then those first in which
/// the claim has already begun to watch. So many suffice for a first look, too.
pub(crate) const IN_ORDER: usize = 1500;
/// As many as what is looked for is worth.
pub(crate) const ALL: usize = usize::MAX;
/// What a mark of the claim's memory is worth in moves.
const WORTH: u32 = 2;
/// Steps looked at for the names of what never rests.
const LAST_STEPS: usize = 40;
/// Between a rest and the next move, µs.
const PAUSE: i64 = 1000;

/// What is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sought {
    /// A run that breaks the claim.
    Break,
    /// A run in which what the claim speaks of happens.
    Premise,
    /// A run in which devices move for ever while the claim hangs undecided.
    Unrest,
    /// One that comes back to where it was, at the same times, with the claim unanswered all the way.
    Round,
}

impl Sought {
    /// Most resting states looked at.
    fn most(self) -> usize {
        match self {
            Self::Break => MOST_TO_BREAK,
            Self::Premise => MOST_TO_HAPPEN,
            Self::Unrest | Self::Round => MOST_TO_UNREST,
        }
    }
}

struct Resting {
    state: State,
    memory: Memory,
    parent: Option<usize>,
    steps: Vec<(i64, Step)>,
    rests_at: i64,
    ages: Vec<(ClockId, i64)>,
    watch: Watch,
    /// Moves of the outside since the start.
    moves: u32,
}

impl Resting {
    /// Who is looked at first: the least.
    fn urgency(&self, index: usize) -> u32 {
        if index < IN_ORDER {
            return self.moves;
        }
        (MOST_MOVES + self.moves + WORTH * u8::BITS) - WORTH * self.memory.0.count_ones()
    }
}

/// A look under way.
struct Patient<'a, 'm, 's> {
    limits: Limits<'a>,
    evaluator: Evaluator<'m, 's>,
    monitor: &'a Monitor,
    readings: Readings,
    sought: Sought,
    pace: Pace,
    /// Most resting states looked at.
    most: usize,
    resting: Vec<Resting>,
    known: FxHashSet<(State, Memory)>,
    /// How many of the last steps of the run that was found come again.
    again: Option<usize>,
}

/// Looks for a run that goes round for ever with the claim unanswered all the way; gives its steps as far as
/// they begin to come again, and how many of the last come again.
pub(crate) fn look_for_round(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    pace: Pace,
    limits: &Limits<'_>,
) -> Option<(Vec<(i64, Step)>, usize)> {
    let sought = (Sought::Round, ALL);
    let mut patient = Patient::new(prepared, scope, monitor, sought, pace, limits);
    let steps = patient.look(starts)?;
    Some((steps, patient.again?))
}

/// Looks for a run at no more than so many resting states; gives its steps from a start, with times in µs.
pub(crate) fn look_for(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    (sought, most): (Sought, usize),
    pace: Pace,
    limits: &Limits<'_>,
) -> Option<Vec<(i64, Step)>> {
    Patient::new(prepared, scope, monitor, (sought, most), pace, limits).look(starts)
}

/// The devices that never come to rest from some start, although nobody touches anything.
pub(crate) fn restless(machine: &Machine<'_>, scope: &Scope, starts: &[State]) -> Option<String> {
    let evaluator = Evaluator::new(machine, scope);
    starts.iter().find_map(|start| {
        let followed = follow(&evaluator, start, &[], 0, Pace::Middle, None);
        if followed.rests {
            return None;
        }
        let last = followed.steps.iter().rev().take(LAST_STEPS);
        let last: Vec<UnitId> = last.map(|(scripted, _)| scripted.unit).collect();
        Some(named(machine, &last))
    })
}

impl<'a, 'm, 's> Patient<'a, 'm, 's> {
    fn new(
        prepared: &Prepared<'m, 's>,
        scope: &'m Scope,
        monitor: &'a Monitor,
        (sought, most): (Sought, usize),
        pace: Pace,
        limits: &Limits<'a>,
    ) -> Self {
        let machine = prepared.machine();
        Self {
            limits: *limits,
            evaluator: Evaluator::new(machine, scope).told(prepared.stirs()),
            monitor,
            readings: monitor.readings(machine, scope),
            sought,
            pace,
            most: most.min(sought.most()),
            resting: Vec::new(),
            known: FxHashSet::default(),
            again: None,
        }
    }
    fn look(&mut self, starts: &[State]) -> Option<Vec<(i64, Step)>> {
        for start in starts {
            let signs = self.signs(start);
            let memory = self.monitor.start(&signs);
            if self.is_sought(memory, &signs) {
                return Some(Vec::new());
            }
            let followed = follow(&self.evaluator, start, &[], 0, self.pace, None);
            let watch = Watch::new(self.monitor, memory, 0);
            if let Some(found) = self.enter(&followed, memory, watch, None, 0) {
                return Some(found);
            }
        }
        let mut waiting = BinaryHeap::new();
        let mut seen = 0;
        loop {
            for (index, rest) in self.resting.iter().enumerate().skip(seen) {
                if rest.moves < MOST_MOVES {
                    waiting.push(Reverse((rest.urgency(index), index)));
                }
            }
            seen = self.resting.len();
            let Reverse((_, index)) = waiting.pop()?;
            if seen > self.most || self.limits.struck(seen, 0).is_some() {
                return None;
            }
            if let Some(found) = self.moves_from(index) {
                return Some(found);
            }
        }
    }
    /// Tries every move of the outside from one rest.
    fn moves_from(&mut self, index: usize) -> Option<Vec<(i64, Step)>> {
        let from = self.resting.get(index)?;
        let (state, memory, at) = (from.state.clone(), from.memory, from.rests_at);
        let (ages, watch) = (from.ages.clone(), from.watch);
        let all = self.evaluator.look(&state).actions();
        let by_the_outside =
            |action: &&Action| action.agent == Agent::World || action.deed == Deed::Give;
        for action in all.iter().filter(by_the_outside) {
            let rest = Rest { state: &state, actions: &all, ages: &ages };
            let pause = earliest(action, &ages);
            let followed = follow_from(&self.evaluator, rest, pause, self.pace, Some(action));
            if let Some(mut tail) = self.enter(&followed, memory, watch, Some(index), at) {
                let mut steps = way_to(&self.resting, index);
                steps.append(&mut tail);
                return Some(steps);
            }
        }
        None
    }
    /// Judges what followed a move; keeps where it rests. Gives the steps if it is what is sought.
    fn enter(
        &mut self,
        followed: &Followed,
        mut memory: Memory,
        mut watch: Watch,
        parent: Option<usize>,
        at: i64,
    ) -> Option<Vec<(i64, Step)>> {
        let mut steps = Vec::new();
        let machine = self.evaluator.machine;
        let mut seen = followed.states.iter().zip(&followed.under_way);
        let (start, moving) = seen.next()?;
        let mut before = self.signs_of(start, *moving);
        let goes_round = (self.sought == Sought::Round).then_some(followed.round).flatten();
        let mut unanswered = Vec::new();
        let asks = |memory, signs: &Signs| (memory, self.monitor.unanswered(memory, signs));
        unanswered.extend(goes_round.map(|_| asks(memory, &before)));
        for ((scripted, action), (after, moving)) in followed.steps.iter().zip(seen) {
            if let Some(over) = self.over(&watch, at + scripted.at) {
                steps.push(over);
                return Some(steps);
            }
            let now = self.signs_of(after, *moving);
            memory = self.monitor.step(machine, memory, &before, action, &now);
            let (unit, to, deed) = (scripted.unit, scripted.to, scripted.deed);
            steps.push((at + scripted.at, Step { unit, to, deed, agent: action.agent }));
            watch.sees(self.monitor, memory, at + scripted.at);
            if self.is_sought(memory, &now) {
                return Some(steps);
            }
            unanswered.extend(goes_round.map(|_| asks(memory, &now)));
            before = now;
        }
        if let Some((first, last)) = goes_round
            && let Some(passed) = unanswered.get(first..=last)
            && passed.first().map(|it| it.0) == passed.last().map(|it| it.0)
            && passed.iter().all(|(_, asks)| asks.is_some())
            && passed.iter().any(|(_, asks)| *asks == Some(true))
        {
            self.again = Some(last - first);
            return Some(steps);
        }
        let state = followed.states.last()?.clone();
        if self.sought == Sought::Unrest && !followed.rests && self.monitor.hangs(memory, &before) {
            return Some(steps);
        }
        // Where everything rests the outside may leave it so for ever, but for orders that end.
        if followed.rests
            && let Some(over) = self.over(&watch, i64::MAX)
            && !self
                .evaluator
                .look(&state)
                .actions()
                .iter()
                .any(|action| action.deed == Deed::Give && action.agent == Agent::Device)
        {
            steps.push(over);
            return Some(steps);
        }
        let over = match self.sought {
            Sought::Break => memory.is_decided(),
            Sought::Premise | Sought::Unrest | Sought::Round => memory == Memory::BROKEN,
        };
        let goes_on = followed.rests && !over;
        if goes_on && self.known.insert((state.clone(), memory)) {
            let rests_at = at + followed.rests_at;
            let ages = followed.ages.clone();
            let moves =
                parent.and_then(|index| self.resting.get(index)).map_or(0, |it| it.moves + 1);
            let rest = Resting { state, memory, parent, steps, rests_at, ages, watch, moves };
            self.resting.push(rest);
        }
        None
    }
    fn signs(&self, state: &State) -> Signs {
        let look = self.evaluator.look(state);
        Signs::of(&self.readings, &look, &look.actions())
    }
    /// The same, where it is known how many moves are surely on their way.
    fn signs_of(&self, state: &State, under_way: usize) -> Signs {
        if self.readings.patience.is_some() {
            return self.signs(state);
        }
        let read = self.readings.read(&self.evaluator.look(state));
        Signs::new(read, u16::try_from(under_way).unwrap_or(u16::MAX))
    }
    /// The step at which a time that the claim allows is over, if that comes before a moment.
    fn over(&self, watch: &Watch, before: i64) -> Option<(i64, Step)> {
        let from = watch.over_from().filter(|from| *from <= before)?;
        (self.sought == Sought::Break).then_some((from, Step::elapse()))
    }
    fn is_sought(&self, memory: Memory, signs: &Signs) -> bool {
        match self.sought {
            Sought::Break => memory == Memory::BROKEN,
            Sought::Unrest | Sought::Round => false,
            Sought::Premise => memory != Memory::BROKEN && self.monitor.premise(memory, signs),
        }
    }
}

/// How long the outside has to wait before a move: an order lasts as long as it must.
fn earliest(action: &Action, ages: &[(ClockId, i64)]) -> i64 {
    let waits = action.timing.iter().map(|timing| {
        let age = ages.iter().find(|(clock, _)| *clock == timing.clock).map_or(0, |(_, age)| *age);
        timing.lo - age
    });
    waits.fold(PAUSE, i64::max)
}

fn way_to(resting: &[Resting], index: usize) -> Vec<(i64, Step)> {
    let mut parts = Vec::new();
    let mut at = Some(index);
    while let Some(item) = at.and_then(|index| resting.get(index)) {
        parts.push(item.steps.clone());
        at = item.parent;
    }
    parts.reverse();
    parts.concat()
}
