//! A claim about what is so at rest, broken by a run in which rest never comes.
//!
//! **In:** a claim, the units it depends on. **Out:** a replayed run that goes round for ever although nobody
//! moves, with the claim unanswered all the way. **Never here:** a proof that there is none.
//!
//! The run comes back to the same state with the same time on every stopwatch: what came between comes again
//! and again. The replay has to agree with a second round.

use crate::monitor::Monitor;
use crate::patient;
use crate::report::{Story, in_ms};
use crate::search::Limits;
use crate::space::{Prepared, Step};
use crate::story::{scripted, told};
use crate::words::named;
use fiftytwo_motion::machine::{Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_motion::patient::Pace;
use fiftytwo_motion::replay::{Scripted, replay};

/// A run that goes round.
pub(crate) struct Round {
    /// Told as far as it begins to come again.
    pub(crate) story: Story,
    /// Who moves in it, in the order of their first moves.
    pub(crate) who: Vec<UnitId>,
    /// When the state stood to which it comes back, µs.
    begins: i64,
    /// When what comes again begins, µs.
    from: i64,
    /// How long one round takes, µs.
    takes: i64,
}

impl Round {
    /// From when on what comes again, for the end of a sentence.
    pub(crate) fn words(&self) -> String {
        format!("what comes from {} on comes again every {}", in_ms(self.from), in_ms(self.takes))
    }
    /// The names of who moves.
    pub(crate) fn names(&self, machine: &Machine<'_>) -> String {
        named(machine, &self.who)
    }
    /// For how long of one round a state is so, µs.
    pub(crate) fn time_in(&self, so: impl Fn(&State) -> bool) -> i64 {
        let replay = &self.story.replay;
        let until = replay.times.iter().skip(1);
        // A state stands from the step that led to it until the next.
        let stays = replay.times.iter().zip(until).zip(replay.states.iter().skip(1));
        stays
            .filter(|((from, _), state)| **from >= self.begins && so(state))
            .map(|((from, until), _)| until - from)
            .sum()
    }
    /// Whether a breaker moves in it.
    pub(crate) fn has_a_stroke(&self, machine: &Machine<'_>) -> bool {
        self.who.iter().any(|unit| matches!(machine.units[*unit].kind, UnitKind::Stroke(_)))
    }
}

/// Such a run, if a patient look sees one at one of these paces.
pub(crate) fn look_for(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    paces: &[Pace],
    limits: &Limits<'_>,
) -> Option<Round> {
    let machine = prepared.machine();
    paces.iter().find_map(|pace| {
        let (steps, again) =
            patient::look_for_round(prepared, scope, monitor, starts, *pace, limits)?;
        starts.iter().find_map(|start| confirmed(machine, scope, start, &steps, again))
    })
}

/// The run from this start, if the replay agrees with it and with a second round of its last steps.
fn confirmed(
    machine: &Machine<'_>,
    scope: &Scope,
    start: &State,
    steps: &[(i64, Step)],
    again: usize,
) -> Option<Round> {
    let script = scripted(steps);
    let first = script.len().checked_sub(again)?;
    let (begins, ends) = (first.checked_sub(1).map_or(0, |at| script[at].at), script.last()?.at);
    let takes = ends - begins;
    let round = script.get(first..)?;
    let second = round.iter().map(|step| Scripted { at: step.at + takes, ..step.clone() });
    let twice: Vec<Scripted> = script.iter().cloned().chain(second).collect();
    let both = replay(machine, scope, start.clone(), &twice).ok()?;
    let same = both.states.get(first) == both.states.get(script.len())
        && both.states.get(script.len()) == both.states.last();
    if !same || takes <= 0 {
        return None;
    }
    let run = replay(machine, scope, start.clone(), &script).ok()?;
    let mut who = Vec::new();
    for step in round {
        if !who.contains(&step.unit) {
            who.push(step.unit);
        }
    }
    let from = round.first()?.at;
    let events = told(&run.events);
    let story = Story { events, replayed: true, ties: 0, replay: Box::new(run) };
    Some(Round { story, who, begins, from, takes })
}
