//! Replays a story that `proof` found, at the times given, and checks every step of it: was it
//! possible then, had its least delay passed, and was nothing overdue?

use crate::giving_up::{drives, given_up};
use crate::machine::{Action, Deed, Evaluator, Machine, Scope, State, Teller, Tri, UnitId};
use crate::play::{cause, ms, tell};
use crate::run::Run;
use crate::timeline::{Came, Event, StepKind};

/// One step of a script.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scripted {
    /// When, µs.
    pub at: i64,
    /// Which unit moves.
    pub unit: UnitId,
    /// To which phase.
    pub to: u8,
    /// By which kind of move.
    pub deed: Deed,
}

/// Why a script could not be played.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReplayFault {
    /// Which step.
    pub step: usize,
    /// What was wrong, in words.
    pub what: String,
}

/// A replayed script.
#[derive(Debug, Clone, PartialEq)]
pub struct Replay {
    /// What happened, with causes.
    pub events: Vec<Event>,
    /// The state after each step; the first is the start.
    pub states: Vec<State>,
    /// The time of each step.
    pub times: Vec<i64>,
    /// What did not come, each with the step that took its drive away.
    pub given_up: Vec<(usize, Event)>,
}

/// Replays a script from a state. Units outside `scope` stand still: it must hold everything the
/// script depends on.
///
/// # Errors
/// The first step that is not possible then, comes too early, or leaves something overdue.
pub fn replay(
    machine: &Machine<'_>,
    scope: &Scope,
    start: State,
    script: &[Scripted],
) -> Result<Replay, ReplayFault> {
    let evaluator = Evaluator::new(machine, scope);
    let teller = Teller::new(machine);
    let mut states = vec![start.clone()];
    let mut events = Vec::new();
    let mut times = Vec::new();
    let mut gone = Vec::new();
    let mut run = Run::new(&evaluator, start);
    for (step, scripted) in script.iter().enumerate() {
        let fault = |what: String| ReplayFault { step, what };
        if scripted.at < run.now {
            return Err(fault(format!("{} ms lies before the step ahead of it", ms(scripted.at))));
        }
        if let Some(overdue) = overdue(&run, scripted.at) {
            let name = &machine.units[overdue.unit].name;
            return Err(fault(format!("{name} would have moved before {} ms", ms(scripted.at))));
        }
        run.now = scripted.at;
        if scripted.deed == Deed::Elapse {
            events.push(over(run.now));
            states.push(run.state.clone());
            times.push(scripted.at);
            continue;
        }
        let found = run
            .actions
            .iter()
            .find(|action| {
                action.unit == scripted.unit
                    && action.to == scripted.to
                    && action.deed == scripted.deed
                    && action.certainty != Tri::No
            })
            .cloned();
        let Some(action) = found else {
            let name = &machine.units[scripted.unit].name;
            return Err(fault(format!("{name} can't move so at {} ms", ms(scripted.at))));
        };
        if run.earliest(&action) > scripted.at {
            let name = &machine.units[scripted.unit].name;
            return Err(fault(format!("{name} moves too early at {} ms", ms(scripted.at))));
        }
        let mut event = {
            let look = evaluator.look(&run.state);
            tell(&teller, machine.scheme, &look, &action, run.now)
        };
        event.cause = cause(&run, &events, &action);
        run.event = Some(events.len());
        events.push(event);
        let before = drives(&run, &teller);
        run.take(&action);
        let lost = given_up(&run, &teller, &before, Some(action.unit));
        gone.extend(lost.into_iter().map(|event| (step, event)));
        states.push(run.state.clone());
        times.push(scripted.at);
    }
    Ok(Replay { events, states, times, given_up: gone })
}

/// A time that a claim allows has run out; nothing moves.
fn over(now: i64) -> Event {
    Event {
        time_us: now,
        time_ms: ms(now),
        device: String::new(),
        what: "the time that the claim allows is over".to_owned(),
        why: String::new(),
        path: Vec::new(),
        volts: None,
        by: "claim",
        minor: false,
        silent: false,
        kind: StepKind::Alone,
        movement: String::new(),
        at: None,
        parts: Vec::new(),
        unit: None,
        cause: None,
        came: Came::Moved,
    }
}

fn overdue<'r>(run: &'r Run<'_, '_, '_>, at: i64) -> Option<&'r Action> {
    run.actions.iter().find(|action| run.latest(action).is_some_and(|latest| latest < at))
}
