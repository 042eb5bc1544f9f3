//! A patient world: the outside makes one move, then waits until nothing moves by itself.
//!
//! Every delay takes one value of its range and every coil its middle volts, so each move of the
//! outside leads to one run. This finds what is wrong by logic alone, fast; it proves nothing.

use crate::machine::{
    Action, Agent, ClockId, Deed, Direction, Evaluator, Look, State, Tri, UnitKind,
};
use crate::operating::{Operating, happens};
use crate::replay::Scripted;
use crate::run::{Moment, Run};
use rustc_hash::FxHashMap;

/// Which end of its range each delay takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// The middle.
    Middle,
    /// Relays as slow and everything else as quick as declared, closing strokes apart: what a
    /// race against a relay looks like. In a tie the relay loses.
    SlowRelays,
}

/// What came of one move.
#[derive(Debug, Clone)]
pub struct Followed {
    /// The move and everything it led to, with times from 0.
    pub steps: Vec<(Scripted, Action)>,
    /// The states before each step, and the last one.
    pub states: Vec<State>,
    /// In each of them, how many moves of devices are surely on their way; that an order ends is none.
    pub under_way: Vec<usize>,
    /// When everything rested.
    pub rests_at: i64,
    /// Whether it came to rest at all.
    pub rests: bool,
    /// Two of the states between which it goes round: the same, with the same time on every stopwatch. What came
    /// between them comes again and again.
    pub round: Option<(usize, usize)>,
    /// How long the stopwatches that run on have run then.
    pub ages: Vec<(ClockId, i64)>,
}

/// More steps than this after one move: it never rests.
const MOST_STEPS: usize = 400;
/// From so many steps on a run is asked whether it comes back to where it was.
const LONG: usize = 24;

/// Makes one move (or none) in a resting state and follows it until everything rests again.
///
/// `ages` says how long stopwatches have run already, `pause` how long everything has rested (µs);
/// times count from the rest.
pub fn follow(
    evaluator: &Evaluator<'_, '_>,
    start: &State,
    ages: &[(ClockId, i64)],
    pause: i64,
    pace: Pace,
    first: Option<&Action>,
) -> Followed {
    let run = Run::new(evaluator, start.clone());
    follow_run(run, ages, pause, pace, first)
}

/// A resting state whose actions are known.
#[derive(Debug, Clone, Copy)]
pub struct Rest<'a> {
    /// The state.
    pub state: &'a State,
    /// Everything that may happen next in it.
    pub actions: &'a [Action],
    /// How long stopwatches have run already, µs.
    pub ages: &'a [(ClockId, i64)],
}

/// [`follow`], from a state whose actions are known: they are not asked again.
pub fn follow_from(
    evaluator: &Evaluator<'_, '_>,
    rest: Rest<'_>,
    pause: i64,
    pace: Pace,
    first: Option<&Action>,
) -> Followed {
    let run = Run::knowing(evaluator, rest.state.clone(), rest.actions.to_vec());
    follow_run(run, rest.ages, pause, pace, first)
}

fn follow_run(
    mut run: Run<'_, '_, '_>,
    ages: &[(ClockId, i64)],
    pause: i64,
    pace: Pace,
    first: Option<&Action>,
) -> Followed {
    run.age(ages);
    let followed = followed_from(run.clone(), pause, pace, first, LONG);
    if followed.round.is_none() {
        return followed;
    }
    // Few runs go round: only of those it is asked where they first do.
    followed_from(run, pause, pace, first, 0)
}

/// When a run was in which state, with what on its stopwatches.
type Moments = FxHashMap<(State, Moment), usize>;

/// Follows a run; from so many steps on it is asked whether it comes back to where it was.
fn followed_from(
    mut run: Run<'_, '_, '_>,
    pause: i64,
    pace: Pace,
    first: Option<&Action>,
    asks_from: usize,
) -> Followed {
    let evaluator = run.evaluator;
    let mut moments = Moments::default();
    let mut followed = Followed {
        steps: Vec::new(),
        states: vec![run.state.clone()],
        under_way: vec![under_way(&run.actions)],
        rests_at: 0,
        rests: true,
        round: None,
        ages: Vec::new(),
    };
    let mut next =
        first.cloned().map(|action| (pause, action)).or_else(|| soonest(evaluator, &run, pace));
    while let Some((at, action)) = next.take() {
        if followed.steps.len() > MOST_STEPS {
            followed.rests = false;
            break;
        }
        run.now = run.now.max(at);
        let scripted =
            Scripted { at: run.now, unit: action.unit, to: action.to, deed: action.deed };
        run.take(&action);
        followed.steps.push((scripted, action));
        followed.states.push(run.state.clone());
        followed.under_way.push(under_way(&run.actions));
        let here = followed.steps.len();
        if here >= asks_from
            && let Some(before) = moments.insert((run.state.clone(), run.moment()), here)
        {
            followed.rests = false;
            followed.round = Some((before, here));
            break;
        }
        next = soonest(evaluator, &run, pace);
    }
    followed.rests_at = run.now;
    followed.ages = run.ages();
    followed
}

fn under_way(actions: &[Action]) -> usize {
    actions.iter().filter(|action| action.is_under_way()).count()
}

/// The next move that comes by itself.
fn soonest(
    evaluator: &Evaluator<'_, '_>,
    run: &Run<'_, '_, '_>,
    pace: Pace,
) -> Option<(i64, Action)> {
    let look = evaluator.look(&run.state);
    let mut best: Option<(i64, bool, &Action)> = None;
    for action in &run.actions {
        let comes = action.agent == Agent::Device
            && action.certainty != Tri::No
            && happens(&look, action, Operating::Middle);
        if !comes {
            continue;
        }
        let (lo, hi) = run.window(action);
        let slow = is_slow(&look, action);
        // Where nobody wrote a time, the move comes as soon as it may.
        let at = match hi {
            // An order stands as long as it may.
            Some(hi) if action.deed == Deed::Give => hi,
            Some(hi) => match pace {
                Pace::Middle => i64::midpoint(lo, hi.max(lo)),
                Pace::SlowRelays if slow => hi.max(lo),
                Pace::SlowRelays => lo,
            },
            None => lo,
        };
        let at = at.max(run.now);
        if best.is_none_or(|(time, loses, _)| (at, slow) < (time, loses)) {
            best = Some((at, slow, action));
        }
    }
    // With nothing but an order left, everything rests.
    best.filter(|(_, _, action)| action.deed != Deed::Give)
        .map(|(at, _, action)| (at, action.clone()))
}

/// Relays, and the closing stroke: an auxiliary contact made late stays made for less.
fn is_slow(look: &Look<'_, '_, '_>, action: &Action) -> bool {
    let machine = look.machine();
    match machine.units[action.unit].kind {
        UnitKind::Relay(_) => true,
        UnitKind::Stroke(device) => machine.stroke(device).is_some_and(|table| {
            let phase = table.phase(look.state.phase(action.unit));
            phase.direction == Direction::Up
                && matches!(action.deed, Deed::Auxiliary(_) | Deed::Touch)
        }),
        _ => false,
    }
}
