//! A state, the time and the stopwatches: what `play` and `replay` share.

use crate::machine::{Action, Agent, ClockId, Evaluator, State};
use crate::operating::{Operating, happens, picks_up};
use rustc_hash::FxHashMap;
use std::collections::hash_map::Entry;

/// How long each stopwatch has run, and how long each drive has been sure.
pub(crate) type Moment = [Vec<(ClockId, i64)>; 2];

/// A run under way.
#[derive(Clone)]
pub(crate) struct Run<'e, 'm, 's> {
    pub(crate) evaluator: &'e Evaluator<'m, 's>,
    pub(crate) state: State,
    /// µs from the beginning.
    pub(crate) now: i64,
    /// When each running stopwatch started.
    since: FxHashMap<ClockId, i64>,
    /// Since when the drive of the move that a stopwatch belongs to has been sure.
    sure_since: FxHashMap<ClockId, i64>,
    pub(crate) actions: Vec<Action>,
    /// The state that they are all the actions of.
    asked: Option<State>,
    /// The event (its place in the list) that started each running stopwatch; none: the beginning.
    begun_by: FxHashMap<ClockId, usize>,
    /// The event that is being told, for [`Run::cause`].
    pub(crate) event: Option<usize>,
    /// The volts everything has, where a run has one value for each; none: what is only perhaps
    /// driven may move.
    volts: Option<Operating>,
}

impl<'e, 'm, 's> Run<'e, 'm, 's> {
    pub(crate) fn new(evaluator: &'e Evaluator<'m, 's>, state: State) -> Self {
        Self::at(evaluator, state, None)
    }
    /// A run in which a coil that does not move at these volts is not driven.
    pub(crate) fn at(
        evaluator: &'e Evaluator<'m, 's>,
        state: State,
        volts: Option<Operating>,
    ) -> Self {
        let mut run = Self::unasked(evaluator, state, volts);
        run.refresh();
        run
    }
    /// A run from a state whose actions are known.
    pub(crate) fn knowing(
        evaluator: &'e Evaluator<'m, 's>,
        state: State,
        actions: Vec<Action>,
    ) -> Self {
        let asked = Some(state.clone());
        let mut run = Self { actions, asked, ..Self::unasked(evaluator, state, None) };
        run.refresh();
        run
    }
    fn unasked(evaluator: &'e Evaluator<'m, 's>, state: State, volts: Option<Operating>) -> Self {
        Self {
            evaluator,
            state,
            now: 0,
            since: FxHashMap::default(),
            sure_since: FxHashMap::default(),
            actions: Vec::new(),
            asked: None,
            begun_by: FxHashMap::default(),
            event: None,
            volts,
        }
    }
    /// How long each stopwatch has run.
    pub(crate) fn ages(&self) -> Vec<(ClockId, i64)> {
        self.since.iter().map(|(clock, since)| (*clock, self.now - since)).collect()
    }
    /// What decides beside the state what comes next and when.
    pub(crate) fn moment(&self) -> Moment {
        [&self.since, &self.sure_since].map(|running| {
            let mut ages: Vec<_> =
                running.iter().map(|(clock, since)| (*clock, self.now - since)).collect();
            ages.sort_unstable();
            ages
        })
    }
    /// Lets stopwatches that run have run for longer.
    pub(crate) fn age(&mut self, ages: &[(ClockId, i64)]) {
        for (clock, age) in ages {
            if let Some(since) = self.since.get_mut(clock) {
                *since = self.now - age;
            }
        }
    }
    /// Lists the actions of the present state and starts and stops the stopwatches.
    fn refresh(&mut self) {
        let look = self.evaluator.look(&self.state);
        self.actions = match self.asked.take() {
            Some(asked) => look.actions_like(&asked, std::mem::take(&mut self.actions)),
            None => look.actions(),
        };
        // At certain volts some are left out below.
        self.asked = self.volts.is_none().then(|| self.state.clone());
        let mut running = Vec::new();
        match self.volts {
            None => self.evaluator.machine.marks(&look, &mut running),
            Some(volts) => {
                self.actions.retain(|action| happens(&look, action, volts));
                let driven = |coil| picks_up(&look, coil, volts);
                self.evaluator.machine.marks_while(&look, driven, &mut running);
            }
        }
        let mut sure = Vec::new();
        // What a hand may do drives nothing: it only ends what a coil was about to do.
        for action in self.actions.iter().filter(|action| action.agent == Agent::Device) {
            for timing in &action.timing {
                running.push(timing.clock);
                if action.certainty.sure() {
                    sure.push(timing.clock);
                }
            }
        }
        self.since.retain(|clock, _| running.contains(clock));
        self.sure_since.retain(|clock, _| sure.contains(clock));
        self.begun_by.retain(|clock, _| running.contains(clock));
        for clock in running {
            if let Entry::Vacant(since) = self.since.entry(clock) {
                since.insert(self.now);
                self.begun_by.extend(self.event.map(|event| (clock, event)));
            }
        }
        for clock in sure {
            self.sure_since.entry(clock).or_insert(self.now);
        }
    }
    /// Puts the state where something outside has put it.
    pub(crate) fn put(&mut self, state: State) {
        let settled = {
            let look = self.evaluator.look(&self.state);
            self.evaluator.settle(&look, state)
        };
        self.state = settled;
        self.refresh();
    }
    /// Takes an action now.
    pub(crate) fn take(&mut self, action: &Action) {
        let next = {
            let look = self.evaluator.look(&self.state);
            self.evaluator.after(&look, action)
        };
        if action.restarts() {
            for timing in &action.timing {
                self.since.remove(&timing.clock);
                self.sure_since.remove(&timing.clock);
                self.begun_by.remove(&timing.clock);
            }
        }
        self.state = next;
        self.refresh();
    }
    /// The event that started the stopwatch on which an action waits longest: its cause. An action
    /// without stopwatches comes of the event just told.
    pub(crate) fn cause(&self, action: &Action) -> Option<usize> {
        let since = |clock| self.since.get(clock).copied().unwrap_or(self.now);
        match action.timing.iter().max_by_key(|timing| since(&timing.clock) + timing.lo) {
            Some(timing) => self.begun_by.get(&timing.clock).copied(),
            None => self.event,
        }
    }
    /// Since when its stopwatch has run; none: it has none.
    pub(crate) fn driven_since(&self, action: &Action) -> Option<i64> {
        action.timing.iter().filter_map(|timing| self.since.get(&timing.clock)).max().copied()
    }
    /// Earliest moment an action may happen.
    pub(crate) fn earliest(&self, action: &Action) -> i64 {
        action
            .timing
            .iter()
            .map(|timing| self.since.get(&timing.clock).copied().unwrap_or(self.now) + timing.lo)
            .fold(self.now, i64::max)
    }
    /// Latest moment an action must have happened; none: it need not.
    pub(crate) fn latest(&self, action: &Action) -> Option<i64> {
        if !action.certainty.sure() || action.agent == Agent::World {
            return None;
        }
        action
            .timing
            .iter()
            .filter_map(|timing| {
                let since = self.sure_since.get(&timing.clock).copied().unwrap_or(self.now);
                timing.hi.map(|hi| since + hi)
            })
            .min()
    }
    /// When its stopwatches started: the window an action was given, for choosing a moment in it.
    pub(crate) fn window(&self, action: &Action) -> (i64, Option<i64>) {
        let mut lo = i64::MIN;
        let mut hi: Option<i64> = None;
        for timing in &action.timing {
            let since = self.since.get(&timing.clock).copied().unwrap_or(self.now);
            lo = lo.max(since + timing.lo);
            if let Some(bound) = timing.hi {
                hi = Some(hi.map_or(since + bound, |old| old.min(since + bound)));
            }
        }
        (if lo == i64::MIN { self.now } else { lo }, hi)
    }
}
