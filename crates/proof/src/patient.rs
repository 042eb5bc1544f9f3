//! A quick look for what is wrong by logic alone: a patient world, few moves of the outside.
//!
//! **Out:** steps with times that break the claim, or nothing. It proves nothing.

use crate::monitor::{Memory, Monitor};
use crate::space::Step;
use fiftytwo_motion::machine::{Action, Agent, ClockId, Deed, Evaluator, Machine, Scope, State};
use fiftytwo_motion::patient::{Followed, follow};
use rustc_hash::FxHashSet;

/// Most moves of the outside.
const MOST_MOVES: usize = 6;
/// Most resting states looked at.
const MOST_STATES: usize = 20_000;
/// Between a rest and the next move, µs.
const PAUSE: i64 = 1000;

struct Resting {
    state: State,
    memory: Memory,
    parent: Option<usize>,
    steps: Vec<(i64, Step)>,
    rests_at: i64,
    ages: Vec<(ClockId, i64)>,
}

/// Looks for a run that breaks the claim.
pub(crate) fn look_for(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
) -> Option<Vec<(i64, Step)>> {
    let evaluator = Evaluator::new(machine, scope);
    let mut resting: Vec<Resting> = Vec::new();
    let mut known: FxHashSet<(State, Memory)> = FxHashSet::default();
    for start in starts {
        let look = evaluator.look(start);
        let memory = monitor.start(&look, &look.actions()).memory;
        let followed = follow(&evaluator, start, &[], 0, None);
        if let Some(found) =
            enter(&evaluator, monitor, &followed, memory, None, 0, &mut resting, &mut known)
        {
            return Some(found);
        }
    }
    let mut level = 0..resting.len();
    for _ in 0..MOST_MOVES {
        let begin = resting.len();
        for index in level.clone() {
            if resting.len() > MOST_STATES {
                return None;
            }
            let (state, memory) = (resting[index].state.clone(), resting[index].memory);
            let at = resting[index].rests_at;
            let ages = resting[index].ages.clone();
            let moves: Vec<Action> = evaluator
                .look(&state)
                .actions()
                .into_iter()
                .filter(|action| action.agent == Agent::World || action.deed == Deed::Give)
                .collect();
            for action in moves {
                let pause = earliest(&action, &ages);
                let followed = follow(&evaluator, &state, &ages, pause, Some(&action));
                let found = enter(
                    &evaluator,
                    monitor,
                    &followed,
                    memory,
                    Some(index),
                    at,
                    &mut resting,
                    &mut known,
                );
                if let Some(mut tail) = found {
                    let mut steps = way_to(&resting, index);
                    steps.append(&mut tail);
                    return Some(steps);
                }
            }
        }
        level = begin..resting.len();
    }
    None
}

/// Judges what followed a move; keeps where it rests. Gives the steps if it breaks the claim.
#[expect(clippy::too_many_arguments, reason = "the tables of one search, private to it")]
fn enter(
    evaluator: &Evaluator<'_, '_>,
    monitor: &Monitor,
    followed: &Followed,
    mut memory: Memory,
    parent: Option<usize>,
    at: i64,
    resting: &mut Vec<Resting>,
    known: &mut FxHashSet<(State, Memory)>,
) -> Option<Vec<(i64, Step)>> {
    let mut steps = Vec::new();
    for ((scripted, action), pair) in followed.steps.iter().zip(followed.states.windows(2)) {
        let [before, after] = pair else { continue };
        let (before, after) = (evaluator.look(before), evaluator.look(after));
        let rests = Monitor::rests(&before.actions());
        memory = monitor.step(memory, &before, rests, action, &after, &after.actions()).memory;
        let step =
            Step { unit: scripted.unit, to: scripted.to, deed: scripted.deed, agent: action.agent };
        steps.push((at + scripted.at, step));
        if memory == Memory::BROKEN {
            return Some(steps);
        }
    }
    let state = followed.states.last()?.clone();
    if followed.rests && known.insert((state.clone(), memory)) {
        let rests_at = at + followed.rests_at;
        let ages = followed.ages.clone();
        resting.push(Resting { state, memory, parent, steps, rests_at, ages });
    }
    None
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
