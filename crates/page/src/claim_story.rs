//! The story of a claim that fails, as a run: replayed at its own times, which lie anywhere within the
//! declared ranges.

use fiftytwo_motion::machine::{Evaluator, State};
use fiftytwo_motion::rows::rows_of;
use fiftytwo_motion::timeline::Came;
use fiftytwo_motion::{Acted, Event, Replay, Timeline};

/// The events of a replay with what did not come, and the state after each.
fn told(replay: &Replay) -> (Vec<Event>, Vec<&State>) {
    let mut events: Vec<Event> = Vec::new();
    let mut states: Vec<&State> = replay.states.first().into_iter().collect();
    // Where each step has come to stand; what nobody sees is left out.
    let mut stands: Vec<Option<usize>> = Vec::new();
    for (step, event) in replay.events.iter().enumerate() {
        let Some(after) = replay.states.get(step + 1) else { break };
        let at = events.len();
        if event.silent {
            stands.push(at.checked_sub(1));
        } else {
            let cause = event.cause.and_then(|cause| stands.get(cause).copied().flatten());
            stands.push(Some(at));
            events.push(Event { cause, ..event.clone() });
            states.push(after);
        }
        for (_, gone) in replay.given_up.iter().filter(|(of, _)| *of == step) {
            events.push(Event { cause: stands.last().copied().flatten(), ..gone.clone() });
            states.push(after);
        }
    }
    (events, states)
}

/// The event at which it is decided: the first that did not come, else the last.
pub fn decisive(replay: &Replay) -> usize {
    let (events, _) = told(replay);
    let gave_up = events.iter().position(|event| event.came == Came::GaveUp);
    gave_up.unwrap_or(events.len().saturating_sub(1))
}

/// The run, cut at a time.
pub fn acted(evaluator: &Evaluator<'_, '_>, replay: &Replay, until: Option<i64>) -> Acted {
    let (mut events, mut states) = told(replay);
    let whole = events.len();
    if let Some(until) = until {
        let kept = events.iter().take_while(|event| event.time_us <= until).count();
        events.truncate(kept);
        states.truncate(kept + 1);
    }
    let now = until.unwrap_or_else(|| events.last().map_or(0, |event| event.time_us)).max(0);
    let times = std::iter::once(0).chain(events.iter().map(|event| event.time_us));
    let timed: Vec<(i64, &State)> = times.zip(states.iter().copied()).collect();
    let rows = rows_of(evaluator, &timed, now);
    let acts_to_come = events.len() < whole;
    let drawn = evaluator.machine.drawn();
    let last = states.last().map_or(drawn, |state| (*state).clone());
    let timeline = Timeline {
        story: String::new(),
        given: Vec::new(),
        played: "replayed at times within the declared ranges that break the claim".to_owned(),
        events,
        rows,
        outcomes: Vec::new(),
        notes: Vec::new(),
        end_us: now,
        stuck: None,
    };
    Acted {
        timeline,
        states: states.into_iter().cloned().collect(),
        last,
        now,
        pending: Vec::new(),
        acts_to_come,
        refused: Vec::new(),
    }
}
