//! A state, the time and the stopwatches: what `play` and `replay` share.

use crate::machine::{Action, Agent, ClockId, Evaluator, State};
use crate::operating::{Operating, happens, picks_up};
use rustc_hash::FxHashMap;

/// A run under way.
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
        let mut run = Self {
            evaluator,
            state,
            now: 0,
            since: FxHashMap::default(),
            sure_since: FxHashMap::default(),
            actions: Vec::new(),
            volts,
        };
        run.refresh();
        run
    }
    /// How long each stopwatch has run.
    pub(crate) fn ages(&self) -> Vec<(ClockId, i64)> {
        self.since.iter().map(|(clock, since)| (*clock, self.now - since)).collect()
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
        self.actions = look.actions();
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
        for action in &self.actions {
            for timing in &action.timing {
                running.push(timing.clock);
                if action.certainty.sure() {
                    sure.push(timing.clock);
                }
            }
        }
        self.since.retain(|clock, _| running.contains(clock));
        self.sure_since.retain(|clock, _| sure.contains(clock));
        for clock in running {
            self.since.entry(clock).or_insert(self.now);
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
            }
        }
        self.state = next;
        self.refresh();
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
