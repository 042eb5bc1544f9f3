//! Steps become a story: replayed in `motion`, then told in few events.

use crate::monitor::{Memory, Monitor, Signs};
use crate::report::{Story, Told};
use crate::space::Step;
use fiftytwo_motion::machine::{Deed, Evaluator, Machine, Scope, State, Teller, Tri};
use fiftytwo_motion::replay::{Replay, ReplayFault, Scripted, replay};
use fiftytwo_motion::timeline::{Event, StepKind};
use fiftytwo_scheme::PartKind;

/// Replays steps at their times and checks with the claim's own eyes that the last of them
/// breaks it.
///
/// # Errors
/// Where the replay does not agree: then the search is at fault, and the story is no refutation.
pub fn replayed(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    steps: &[(i64, Step)],
    ties: usize,
) -> Result<Story, String> {
    let script = scripted(steps);
    let mut last = (0, String::from("there is no start"));
    for start in starts {
        match replay(machine, scope, start.clone(), &script) {
            Ok(run) => {
                if breaks(machine, scope, monitor, &run, &script) {
                    let events = told(&run.events);
                    return Ok(Story { events, replayed: true, ties, replay: Box::new(run) });
                }
                last = (usize::MAX, "the replayed run does not break the claim".to_owned());
            }
            // Of several starts the one that went furthest tells.
            Err(ReplayFault { step, what }) if step >= last.0 => {
                last = (step, format!("step {}: {what}", step + 1));
            }
            Err(_) => {}
        }
    }
    Err(last.1)
}

/// Steps as the replay takes them.
pub(crate) fn scripted(steps: &[(i64, Step)]) -> Vec<Scripted> {
    let each = steps.iter();
    each.map(|(at, step)| Scripted { at: *at, unit: step.unit, to: step.to, deed: step.deed })
        .collect()
}

/// Where a story ends with a coil that is only perhaps driven: the volts that decide, for the end of a
/// sentence.
pub(crate) fn volts_at_end(
    machine: &Machine<'_>,
    story: &Story,
    monitor: &Monitor,
) -> Option<String> {
    let (Monitor::DrivenWithout { coils, .. } | Monitor::Unasked { coils, .. }) = monitor else {
        return None;
    };
    let state = story.replay.states.last()?;
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let look = evaluator.look(state);
    let coil = coils.iter().copied().find(|coil| look.pickup(*coil) == Tri::Perhaps)?;
    let why = Teller::new(machine).driven(&look, coil).words;
    let unsaid = match &machine.scheme.parts[coil].kind {
        PartKind::Coil(data) if data.pickup.is_none() => {
            "; it says no pickup, so any voltage may move it"
        }
        _ => ", which may be enough",
    };
    Some(format!(": {why}{unsaid}"))
}

fn breaks(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    run: &Replay,
    script: &[Scripted],
) -> bool {
    let evaluator = Evaluator::new(machine, scope);
    let Some(first) = run.states.first() else { return false };
    let readings = monitor.readings(machine, scope);
    let signs = |state: &State| {
        let look = evaluator.look(state);
        let actions = look.actions();
        (Signs::of(&readings, &look, &actions), actions)
    };
    let mut memory = monitor.start(&signs(first).0);
    let mut watch = Watch::new(monitor, memory, 0);
    for (scripted, pair) in script.iter().zip(run.states.windows(2)) {
        let [before, after] = pair else { continue };
        if scripted.deed == Deed::Elapse {
            return watch.is_over(scripted.at);
        }
        let (before, actions) = signs(before);
        let Some(action) = actions.iter().find(|action| {
            action.unit == scripted.unit && action.to == scripted.to && action.deed == scripted.deed
        }) else {
            return false;
        };
        memory = monitor.step(machine, memory, &before, action, &signs(after).0);
        watch.sees(monitor, memory, scripted.at);
    }
    memory == Memory::BROKEN
}

/// A run to where what a claim speaks of happens, replayed at its times and told; none: the replay
/// does not show it.
pub(crate) fn shown(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    steps: &[(i64, Step)],
) -> Option<Vec<Told>> {
    let script = scripted(steps);
    let evaluator = Evaluator::new(machine, scope);
    let readings = monitor.readings(machine, scope);
    let signs = |state: &State| {
        let look = evaluator.look(state);
        let actions = look.actions();
        (Signs::of(&readings, &look, &actions), actions)
    };
    starts.iter().find_map(|start| {
        let run = replay(machine, scope, start.clone(), &script).ok()?;
        let (mut before, mut actions) = signs(run.states.first()?);
        let mut memory = monitor.start(&before);
        for (scripted, state) in script.iter().zip(run.states.iter().skip(1)) {
            let action = actions.iter().find(|action| {
                action.unit == scripted.unit
                    && action.to == scripted.to
                    && action.deed == scripted.deed
            })?;
            let (after, next) = signs(state);
            memory = monitor.step(machine, memory, &before, action, &after);
            (before, actions) = (after, next);
        }
        monitor.premise(memory, &before).then(|| told(&run.events))
    })
}

/// How long a memory has stood that may not stand for ever.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Watch {
    /// Since when, µs, and how long it may.
    stands: Option<(i64, i64)>,
}

impl Watch {
    pub(crate) fn new(monitor: &Monitor, memory: Memory, at: i64) -> Self {
        Self { stands: monitor.limit(memory).map(|time| (at, time)) }
    }
    pub(crate) fn sees(&mut self, monitor: &Monitor, memory: Memory, at: i64) {
        let time = monitor.limit(memory);
        self.stands = time.map(|time| (self.stands.map_or(at, |(since, _)| since), time));
    }
    /// Whether its time is over at a moment.
    pub(crate) fn is_over(&self, at: i64) -> bool {
        self.over_from().is_some_and(|from| at >= from)
    }
    /// The first moment at which its time is over, µs.
    pub(crate) fn over_from(&self) -> Option<i64> {
        self.stands.map(|(since, time)| since + time + 1)
    }
}

/// Steps of one movement are told as one event: a stroke with its auxiliary contacts, a relay
/// that begins and arrives, a line of logic with the contact that follows it, one hand that turns
/// through several positions.
pub fn told(events: &[Event]) -> Vec<Told> {
    let mut told: Vec<Told> = Vec::new();
    for event in events.iter().filter(|event| !event.silent) {
        let place = join(&told, event);
        match place.and_then(|index| told.get_mut(index)) {
            Some(open) => {
                open.steps.push(event.clone());
                retell(open);
            }
            None => told.push(Told {
                time_ms: event.time_ms,
                until_ms: event.time_ms,
                what: event.what.clone(),
                why: event.why.clone(),
                steps: vec![event.clone()],
            }),
        }
    }
    told.sort_by(|a, b| a.time_ms.total_cmp(&b.time_ms));
    told
}

/// The told event that a step continues: the last one of its device, if it is the same movement. A
/// contact continues the one line of logic just before it; a hand's steps join only while nothing
/// else happens in between; what a person does to a mechanism, the outside and other logic stand alone.
fn join(told: &[Told], event: &Event) -> Option<usize> {
    let of_device =
        |item: &Told| item.steps.first().is_some_and(|first| first.device == event.device);
    let index = told.iter().rposition(of_device)?;
    let steps = &told.get(index)?.steps;
    let first = steps.first()?;
    if first.movement != event.movement {
        return None;
    }
    let joins = match event.kind {
        StepKind::Mechanism => first.by == event.by,
        StepKind::Contact => steps.len() == 1 && first.kind == StepKind::Thought,
        StepKind::Hand => index + 1 == told.len(),
        StepKind::Thought | StepKind::Alone => false,
    };
    joins.then_some(index)
}

/// What is told of several steps: a stroke by its beginning and its main contacts, anything else by
/// what it came to, at that time; with the first one's cause.
fn retell(open: &mut Told) {
    let major: Vec<&Event> = open.steps.iter().filter(|event| !event.minor).collect();
    let first = major.first().copied().or(open.steps.first());
    let last = major.last().copied().or(open.steps.last());
    let (Some(first), Some(last)) = (first.cloned(), last.cloned()) else { return };
    let is_stroke = first.what != last.what && last.kind == StepKind::Mechanism;
    open.what =
        if is_stroke { format!("{}; {}", first.what, last.what) } else { last.what.clone() };
    open.time_ms = if is_stroke { first.time_ms } else { last.time_ms };
    open.until_ms = last.time_ms;
    let no_longer = |event: &Event| last.path.is_empty() && !event.path.is_empty();
    match open.steps.first() {
        // What drove it is gone by the time it is told.
        Some(cause) if last.kind == StepKind::Mechanism && !is_stroke && no_longer(cause) => {
            let Event { why, time_ms, .. } = cause;
            open.why = format!("{why} until {time_ms} ms, when it had begun; it goes through");
        }
        Some(cause) => open.why.clone_from(&cause.why),
        None => {}
    }
}
