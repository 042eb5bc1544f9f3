//! Plays one story: every delay and every voltage has one value.

use crate::machine::{
    Action, Agent, Deed, Evaluator, Look, Machine, Scope, State, Teller, Timings, Tri, UnitKind,
};
use crate::operating::{Operating, coil_volts, happens};
use crate::rows::{Watched, all_rows};
use crate::run::Run;
use crate::timeline::{Came, Event, Outcome, Row, StepKind, Timeline};
use fiftytwo_scheme::{
    Act, Atom, DeviceKind, ExpectBody, Expr, PartId, PartKind, Scheme, Span, Story,
};
use serde::Serialize;

/// How a story is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct PlayOptions {
    /// Volts at the coils, out of their interval over the corners.
    pub volts: Operating,
    /// Delays, out of their declared range.
    pub delays: Operating,
}

/// More events than this in one instant: time does not go on.
const MOST_AT_ONCE: usize = 10_000;
/// More events than this in one story: the rest is not played.
const MOST_EVENTS: usize = 100_000;
/// So many of the events of an instant without end are kept.
const SHOWN_STUCK: usize = 12;
/// What a delay is played as where nobody wrote one, µs.
const UNSAID: i64 = 10_000;
/// How long a story goes on after its last act and expectation, µs.
const TAIL: i64 = 1_000_000;

/// Plays a story.
pub fn play(machine: &Machine<'_>, story: &Story, options: PlayOptions) -> Timeline {
    let scope = Scope::whole(machine);
    play_seen(&Evaluator::new(machine, &scope), story, options, &mut |_, _| {})
}

/// Plays a story and shows every state it goes through: the first at time 0, then the state after
/// each act and each move, with its time in µs. Several states may have the same time.
pub fn play_seen<'m, 's>(
    evaluator: &Evaluator<'m, 's>,
    story: &Story,
    options: PlayOptions,
    see: &mut dyn FnMut(i64, &Look<'_, 'm, 's>),
) -> Timeline {
    Player::at_start(evaluator, story, options).play(see)
}

/// The state in which logic, contacts, inputs and relays have followed what is given, before
/// time 0. Mechanisms, latches and conditions stay as given.
pub fn still(evaluator: &Evaluator<'_, '_>, mut state: State, options: PlayOptions) -> State {
    let machine = evaluator.machine;
    for _ in 0..MOST_AT_ONCE {
        let look = evaluator.look(&state);
        let follows = look.actions().into_iter().find(|action| {
            action.agent == Agent::Device
                && matches!(
                    machine.units[action.unit].kind,
                    UnitKind::Logic(_)
                        | UnitKind::Contact(_)
                        | UnitKind::Input(_)
                        | UnitKind::Relay(_)
                )
                && happens(&look, action, options.volts)
        });
        let Some(action) = follows else { break };
        let next = evaluator.after(&look, &action);
        drop(look);
        state = next;
    }
    // What is still before time 0 carries no memory of an interruption.
    for (unit, item) in machine.units.iter() {
        if matches!(item.kind, UnitKind::Relay(_)) {
            let phase = crate::machine::RelayPhase::from_u8(state.phase(unit));
            state.set(unit, phase.cold() as u8);
        }
    }
    state
}

/// Puts the thing an act names into its state. Returns whether anything changed.
fn put(machine: &Machine<'_>, state: &mut State, act: &Act) -> bool {
    let target = target(machine, state, act);
    let Some((unit, phase)) = target else { return false };
    let changed = state.phase(unit) != phase;
    state.set(unit, phase);
    changed
}

pub(crate) fn target(
    machine: &Machine<'_>,
    state: &State,
    act: &Act,
) -> Option<(crate::machine::UnitId, u8)> {
    let so = u8::from(act.so);
    Some(match act.atom {
        Atom::Position(device, position) => {
            let unit = machine.device_unit(device)?;
            let position = if act.so { position } else { 1_u8.saturating_sub(position) };
            let phase = match machine.units[unit].kind {
                UnitKind::Stroke(device) if position == 1 => machine.stroke(device)?.closed,
                UnitKind::Stroke(_) => 0,
                UnitKind::Relay(_) if position == 1 => crate::machine::RelayPhase::Picked as u8,
                _ => position,
            };
            (unit, phase)
        }
        Atom::Charged(device) => {
            let unit = machine.energy_unit(device)?;
            let full = machine.units[unit].phases / 2 - 1;
            (unit, if act.so { full } else { 0 })
        }
        Atom::Order(order) => (machine.order_unit(order), so),
        Atom::Condition(condition, index) => {
            let unit = machine.condition_unit(condition);
            let other = u8::from(index == 0);
            let yes_no = machine.scheme.conditions[condition].yes_no;
            let phase = if act.so {
                index
            } else if yes_no {
                other
            } else {
                state.phase(unit)
            };
            (unit, phase)
        }
        Atom::Live(supply) => (machine.supply_unit(supply), so),
        Atom::Blown(part) | Atom::LinkOpen(part) => (machine.part_unit(part)?, so),
        Atom::Logic(logic) => (machine.logic_unit(logic)?, so),
        Atom::InputOn(part) | Atom::Closed(part) => (machine.part_unit(part)?, so),
        Atom::Driven(_) | Atom::Lit(_) | Atom::Running(_) => return None,
    })
}

/// What a story does at one moment.
#[derive(Debug, Clone)]
pub(crate) struct Due {
    pub(crate) at: i64,
    pub(crate) act: Act,
    pub(crate) ends: bool,
    /// Who does it, where it is not the story.
    pub(crate) by: Option<Option<String>>,
}

/// What comes next in a run.
pub(crate) enum Next {
    /// An act is due.
    Act(i64),
    /// Something moves by itself.
    Move(i64, Action),
}

impl Next {
    pub(crate) fn at(&self) -> i64 {
        match self {
            Self::Act(at) | Self::Move(at, _) => *at,
        }
    }
}

pub(crate) struct Player<'p, 'm, 's> {
    pub(crate) machine: &'m Machine<'s>,
    pub(crate) scheme: &'s Scheme,
    story: &'p Story,
    pub(crate) options: PlayOptions,
    pub(crate) run: Run<'p, 'm, 's>,
    pub(crate) teller: Teller<'m, 's>,
    /// What is still to be done, the last first.
    pub(crate) dues: Vec<Due>,
    held_orders: Vec<crate::machine::UnitId>,
    pub(crate) events: Vec<Event>,
    at_once: usize,
    notes: Vec<String>,
    rows: Vec<Watched>,
    counts: Vec<(bool, u32)>,
    verdicts: Vec<Option<Outcome>>,
    weak: Vec<PartId>,
}

impl<'p, 'm, 's> Player<'p, 'm, 's> {
    /// A player at time 0 of a story.
    pub(crate) fn at_start(
        evaluator: &'p Evaluator<'m, 's>,
        story: &'p Story,
        options: PlayOptions,
    ) -> Self {
        let machine = evaluator.machine;
        let mut given = machine.drawn();
        for act in &story.given {
            put(machine, &mut given, act);
        }
        let start = still(evaluator, given, options);
        Self::new(machine, evaluator, story, options, start)
    }
    fn new(
        machine: &'m Machine<'s>,
        evaluator: &'p Evaluator<'m, 's>,
        story: &'p Story,
        options: PlayOptions,
        start: State,
    ) -> Self {
        let mut dues = Vec::new();
        for step in &story.steps {
            for act in &step.acts {
                let due = Due { at: step.at, act: act.clone(), ends: false, by: None };
                let ends = step.held.map(|held| Due {
                    at: step.at.saturating_add(held),
                    ends: true,
                    ..due.clone()
                });
                dues.push(due);
                dues.extend(ends);
            }
        }
        dues.sort_by_key(|due| due.at);
        dues.reverse();
        let held_orders = story
            .steps
            .iter()
            .filter(|step| step.held.is_some())
            .flat_map(|step| &step.acts)
            .filter_map(|act| match act.atom {
                Atom::Order(order) => Some(machine.order_unit(order)),
                _ => None,
            })
            .collect();
        let mut player = Self {
            machine,
            scheme: machine.scheme,
            story,
            options,
            run: Run::at(evaluator, start, Some(options.volts)),
            teller: Teller::new(machine),
            dues,
            held_orders,
            events: Vec::new(),
            at_once: 0,
            notes: Vec::new(),
            rows: Vec::new(),
            counts: vec![(false, 0); story.expects.len()],
            verdicts: vec![None; story.expects.len()],
            weak: Vec::new(),
        };
        player.rows = all_rows(machine);
        player.watch(true);
        player
    }
    pub(crate) fn end(&self) -> i64 {
        let acts = self.dues.iter().map(|due| due.at);
        let limits = self.story.expects.iter().filter_map(|expect| match expect.body {
            ExpectBody::By { by, .. } => by,
            ExpectBody::AtMost { .. } => None,
        });
        acts.chain(limits).max().unwrap_or(0) + TAIL
    }
    fn play(mut self, see: &mut dyn FnMut(i64, &Look<'_, 'm, 's>)) -> Timeline {
        let end = self.end();
        let mut stuck = None;
        self.feel_weak_coils();
        see(self.run.now, &self.run.evaluator.look(&self.run.state));
        while let Some(next) = self.next().filter(|next| next.at() <= end) {
            stuck = self.go(&next);
            if stuck.is_some() {
                break;
            }
            see(self.run.now, &self.run.evaluator.look(&self.run.state));
        }
        self.judge_until(i64::MAX);
        self.finish(end, stuck)
    }
    /// What comes next; an act comes before what moves at the same time.
    pub(crate) fn next(&mut self) -> Option<Next> {
        let act_at = self.dues.last().map(|due| due.at);
        match (act_at, self.next_move()) {
            (Some(act), Some((at, action))) if at < act => Some(Next::Move(at, action)),
            (Some(act), _) => Some(Next::Act(act)),
            (None, Some((at, action))) => Some(Next::Move(at, action)),
            (None, None) => None,
        }
    }
    /// Lets it happen. Says what moves without end where time does not go on.
    pub(crate) fn go(&mut self, next: &Next) -> Option<String> {
        let at = next.at();
        self.at_once = if at == self.run.now { self.at_once + 1 } else { 0 };
        if self.at_once > MOST_AT_ONCE || self.events.len() > MOST_EVENTS {
            let restless = self.restless();
            self.events.truncate(self.events.len().saturating_sub(self.at_once) + SHOWN_STUCK);
            return Some(restless);
        }
        self.judge_until(at);
        self.run.now = self.run.now.max(at);
        match next {
            Next::Act(_) => {
                if let Some(due) = self.dues.pop() {
                    self.act(&due);
                }
            }
            Next::Move(_, action) => self.make(action),
        }
        self.watch(false);
        self.feel_weak_coils();
        None
    }
    /// The devices that move without end.
    fn restless(&self) -> String {
        let mut names: Vec<&str> = Vec::new();
        for event in self.events.iter().rev().take(50) {
            if !names.contains(&event.device.as_str()) {
                names.push(&event.device);
            }
        }
        names.join(", ")
    }
    fn choose(&mut self, action: &Action) -> i64 {
        let (lo, hi) = self.run.window(action);
        let Some(hi) = hi else {
            let name = self.machine.units[action.unit].name.clone();
            let note = format!("{name}: no time is written; played as {} ms", UNSAID / 1000);
            if !self.notes.contains(&note) {
                self.notes.push(note);
            }
            return lo + UNSAID;
        };
        match self.options.delays {
            Operating::Low => lo,
            Operating::Middle => i64::midpoint(lo, hi.max(lo)),
            Operating::High => hi.max(lo),
        }
    }
    fn next_move(&mut self) -> Option<(i64, Action)> {
        let mut best: Option<(i64, Action)> = None;
        // The run keeps only actions that happen at its volts.
        for action in self.run.actions.clone() {
            if action.agent == Agent::World || self.held_orders.contains(&action.unit) {
                continue;
            }
            let at = self.choose(&action).max(self.run.now);
            if best.as_ref().is_none_or(|(time, _)| at < *time) {
                best = Some((at, action));
            }
        }
        best
    }
    fn make(&mut self, action: &Action) {
        let mut event = {
            let look = self.run.evaluator.look(&self.run.state);
            tell(&self.teller, self.scheme, &look, action, self.run.now)
        };
        event.cause = cause(&self.run, &self.events, action);
        self.run.event = Some(self.events.len());
        self.run.take(action);
        if !event.silent {
            self.events.push(event);
        }
        if action.deed == Deed::Switch {
            self.note_bounce(action);
        }
    }
    /// A bounce is never played: it would be one of very many.
    fn note_bounce(&mut self, action: &Action) {
        let UnitKind::Contact(id) = self.machine.units[action.unit].kind else { return };
        let part = &self.scheme.parts[id];
        let PartKind::Contact(fiftytwo_scheme::Contact { bounce: Some(time), .. }) = &part.kind
        else {
            return;
        };
        let note = format!(
            "{} may bounce for {} after it changes: not played; prove tries every bounce",
            part.name, time.written
        );
        if !self.notes.contains(&note) {
            self.notes.push(note);
        }
    }
    fn act(&mut self, due: &Due) {
        let mut state = self.run.state.clone();
        let Some((unit, phase)) = (if due.ends {
            self.ended(&due.act)
        } else {
            target(self.machine, &self.run.state, &due.act)
        }) else {
            return;
        };
        if state.phase(unit) == phase {
            return;
        }
        let action = Action {
            unit,
            to: phase,
            also: None,
            deed: Deed::Turn,
            agent: Agent::World,
            certainty: Tri::Yes,
            timing: Timings::new(),
        };
        let mut event = {
            let look = self.run.evaluator.look(&self.run.state);
            tell(&self.teller, self.scheme, &look, &action, self.run.now)
        };
        event.why = match &due.by {
            None if due.ends => "the story lets it go".to_owned(),
            None => "the story".to_owned(),
            Some(Some(by)) => format!("done by the {by}"),
            Some(None) if event.by == "person" => "done by hand".to_owned(),
            Some(None) => "from outside".to_owned(),
        };
        event.at = Some(self.scheme.sources.place(due.act.span));
        state.set(unit, phase);
        self.run.event = Some(self.events.len());
        self.run.put(state);
        self.events.push(event);
    }
    /// What `held` comes back to: a handle springs back, an order or condition ends.
    fn ended(&self, act: &Act) -> Option<(crate::machine::UnitId, u8)> {
        match act.atom {
            Atom::Position(device, _) => {
                let unit = self.machine.device_unit(device)?;
                let phase = self.run.state.phase(unit);
                match &self.scheme.devices[device].kind {
                    DeviceKind::Handle { returns_to } => returns_to
                        .get(usize::from(phase))
                        .copied()
                        .flatten()
                        .map(|back| (unit, back)),
                    DeviceKind::Button => Some((unit, 0)),
                    _ => None,
                }
            }
            Atom::Order(_)
            | Atom::Condition(..)
            | Atom::Live(_)
            | Atom::Blown(_)
            | Atom::LinkOpen(_) => {
                target(self.machine, &self.run.state, &Act { so: !act.so, ..act.clone() })
            }
            _ => None,
        }
    }
    /// Tells of coils that have a path but not enough volts.
    pub(crate) fn feel_weak_coils(&mut self) {
        let mut weak = Vec::new();
        let mut fresh = Vec::new();
        {
            let look = self.run.evaluator.look(&self.run.state);
            for (part, item, coil) in self.scheme.coils() {
                let Some(section) = self.machine.wiring.section_of(part) else { continue };
                let drives =
                    self.machine.wiring.drive(section, &look.positions(section), look.live());
                let Some(drive) = drives.iter().find(|drive| drive.part == part) else { continue };
                let Some(volts) = coil_volts(&look, part, self.options.volts) else { continue };
                let needs = coil
                    .pickup
                    .as_ref()
                    .map(fiftytwo_scheme::Quantity::middle)
                    .or_else(|| coil.surely_from());
                let Some(needs) = needs else { continue };
                if drive.connected && drive.straight && volts < needs {
                    weak.push(part);
                    if !self.weak.contains(&part) {
                        let why = self.teller.driven(&look, part);
                        fresh.push((item, volts, needs, why));
                    }
                }
            }
        }
        for (item, volts, needs, why) in fresh {
            let name = &item.name;
            self.events.push(Event {
                time_us: self.run.now,
                time_ms: ms(self.run.now),
                device: item.device.map_or_else(
                    || name.clone(),
                    |device| self.scheme.devices[device].name.clone(),
                ),
                what: format!("{name} has {volts:.1} V, too little to move (needs {needs:.1} V)"),
                why: why.words,
                path: why.path,
                volts: why.volts,
                by: "device",
                minor: false,
                silent: false,
                kind: StepKind::Alone,
                movement: name.clone(),
                at: Some(self.scheme.sources.place(item.span)),
                parts: why.parts,
                unit: None,
                cause: self.run.event,
                came: Came::Held,
            });
        }
        self.weak = weak;
    }
    fn truth(&self, expr: &Expr) -> bool {
        let look = self.run.evaluator.look(&self.run.state);
        match look.holds(expr) {
            Tri::Yes => true,
            Tri::No => false,
            Tri::Perhaps => self.options.volts == Operating::High,
        }
    }
    /// Follows rows and counts.
    fn watch(&mut self, first: bool) {
        let now = self.run.now;
        for index in 0..self.rows.len() {
            let so = self.truth(&self.rows[index].what);
            let row = &mut self.rows[index];
            match (so, row.since) {
                (true, None) => row.since = Some(now),
                (false, Some(since)) => {
                    row.so.push((since, now));
                    row.since = None;
                }
                _ => {}
            }
        }
        for (index, expect) in self.story.expects.iter().enumerate() {
            if let ExpectBody::AtMost { of, .. } = &expect.body {
                let so = self.truth(&of.expr);
                let (was, count) = self.counts[index];
                let count = if so && !was && !first { count + 1 } else { count };
                self.counts[index] = (so, count);
            }
        }
    }
    /// Judges expectations whose moment has passed before `until`.
    pub(crate) fn judge_until(&mut self, until: i64) {
        for (index, expect) in self.story.expects.iter().enumerate() {
            if self.verdicts[index].is_some() {
                continue;
            }
            let outcome = match &expect.body {
                ExpectBody::By { statement, by } => {
                    if by.is_some_and(|by| by >= until) {
                        continue;
                    }
                    if by.is_none() && until != i64::MAX {
                        continue;
                    }
                    let met = self.truth(&statement.expr);
                    let when = by
                        .map_or_else(|| "at the end".to_owned(), |by| format!("by {} ms", ms(by)));
                    Outcome {
                        expected: format!("{} {when}", statement.text),
                        met,
                        instead: (!met).then(|| format!("it was not so {when}")),
                        at: self.scheme.sources.place(expect.span),
                    }
                }
                ExpectBody::AtMost { times, of } => {
                    if until != i64::MAX {
                        continue;
                    }
                    let count = self.counts[index].1;
                    Outcome {
                        expected: format!("at most {times} × {}", of.text),
                        met: count <= *times,
                        instead: (count > *times).then(|| format!("it happened {count} times")),
                        at: self.scheme.sources.place(expect.span),
                    }
                }
            };
            self.verdicts[index] = Some(outcome);
        }
    }
    pub(crate) fn finish(mut self, end: i64, stuck: Option<String>) -> Timeline {
        let rows = self
            .rows
            .drain(..)
            .map(|row| {
                let mut so = row.so;
                if let Some(since) = row.since {
                    so.push((since, end));
                }
                Row { name: row.name, so }
            })
            .filter(|row| !row.so.is_empty())
            .collect();
        let word = |value: Operating| match value {
            Operating::Low => "least",
            Operating::Middle => "middle",
            Operating::High => "greatest",
        };
        Timeline {
            story: self.story.name.clone(),
            given: self.story.given.iter().map(|act| act.text.clone()).collect(),
            played: format!(
                "{} volts at the coils, {} delays of their declared ranges",
                word(self.options.volts),
                word(self.options.delays)
            ),
            events: self.events,
            rows,
            outcomes: self.verdicts.into_iter().flatten().collect(),
            notes: self.notes,
            end_us: end,
            stuck,
        }
    }
}

/// The event an action comes of. A stroke under way comes of the latch that let it go.
pub(crate) fn cause(run: &Run<'_, '_, '_>, events: &[Event], action: &Action) -> Option<usize> {
    if matches!(action.deed, Deed::Auxiliary(_) | Deed::Touch | Deed::Part) {
        let of_stroke = |event: &Event| event.unit == Some(action.unit) && !event.minor;
        return events.iter().rposition(of_stroke);
    }
    run.cause(action)
}

/// Milliseconds of microseconds.
pub fn ms(us: i64) -> f64 {
    us as f64 / 1000.0
}

/// An action as an event.
pub(crate) fn tell(
    teller: &Teller<'_, '_>,
    scheme: &Scheme,
    look: &Look<'_, '_, '_>,
    action: &Action,
    now: i64,
) -> Event {
    let why = teller.why(look, action);
    let kind = &look.machine().units[action.unit].kind;
    let by = match (action.agent, kind) {
        (Agent::Device, _) => "device",
        (Agent::World, UnitKind::Condition(_) | UnitKind::Supply(_)) => "outside",
        (Agent::World, _) => "person",
    };
    let device = teller.device_name(action).to_owned();
    let direction = match kind {
        UnitKind::Stroke(id) => look.machine().stroke(*id).map_or("", |table| {
            let up = table.phase(action.to).direction == crate::machine::Direction::Up;
            if up { " closing" } else { " opening" }
        }),
        UnitKind::Relay(_) => match action.deed {
            Deed::Begin(Some(_)) | Deed::Arrive(Some(_)) => " up",
            _ => " down",
        },
        // Pressed and let go are two moves, not one that goes on.
        UnitKind::Hand(_) if action.to < look.state.phase(action.unit) => " back",
        UnitKind::Logic(_) | UnitKind::Contact(_) if action.to & 1 == 1 => " on",
        UnitKind::Logic(_) | UnitKind::Contact(_) => " off",
        _ => "",
    };
    let place = |span: Span| scheme.sources.place(span);
    Event {
        time_us: now,
        time_ms: ms(now),
        what: teller.what(look, action),
        why: why.words,
        path: why.path,
        volts: why.volts,
        by,
        minor: matches!(
            action.deed,
            Deed::Begin(_) | Deed::Auxiliary(_) | Deed::Think | Deed::Subside
        ),
        // A contact at rest where it stands is nothing to be seen.
        silent: action.deed == Deed::Subside
            || action.deed == Deed::Settle && look.state.phase(action.unit) & 1 == action.to,
        kind: match kind {
            UnitKind::Stroke(_) | UnitKind::Relay(_) | UnitKind::Bistable(_) => StepKind::Mechanism,
            UnitKind::Contact(_) => StepKind::Contact,
            UnitKind::Logic(_) => StepKind::Thought,
            UnitKind::Hand(_) => StepKind::Hand,
            _ => StepKind::Alone,
        },
        movement: format!("{device}{direction}"),
        device,
        at: teller.span(action).map(place),
        parts: why.parts,
        unit: Some(action.unit),
        cause: None,
        came: Came::Moved,
    }
}
