//! A run that somebody leads by hand: acts come one after the other, and the run stops where it is
//! asked to.
//!
//! **In:** where it begins, what was done and when, how far to go. **Out:** the timeline so far, the
//! state after each event, what is under way, and what gave up. The run is played anew each time:
//! the same acts give the same run. **Never here:** any other rule of motion than `play` has.

use crate::giving_up::{drives, given_up};
use crate::machine::{Agent, Deed, Evaluator, Look, State, UnitId};
use crate::play::{Due, Next, PlayOptions, Player, target};
use crate::timeline::Timeline;
use fiftytwo_scheme::{
    Act, Atom, DeviceId, DeviceKind, MayDo, Moves, PartKind, ResetBy, Scheme, Story, TurnedBy,
};

/// Something done from outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Acting {
    /// When, µs from the beginning.
    pub at: i64,
    /// What.
    pub act: Act,
    /// Lets go what the act names: a handle springs back, a button comes up, an order ends.
    pub lets_go: bool,
    /// Who, by name; none: whoever may.
    pub by: Option<String>,
}

/// How far a run goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Until {
    /// Until nothing is under way, at most this long behind the last act, µs, and not before the
    /// end of the story.
    Rest(i64),
    /// To this time, µs.
    Time(i64),
    /// To this time, and on to the next instant at which something can be seen to happen.
    EventAfter(i64),
}

/// Something under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Pending {
    /// What will happen, one short sentence.
    pub what: String,
    /// Earliest, µs.
    pub earliest: i64,
    /// Latest, µs; none: not said.
    pub latest: Option<i64>,
    /// The unit that moves.
    pub unit: UnitId,
    /// To which phase.
    pub to: u8,
}

/// An act that nobody may do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Which of the acts, from 0.
    pub act: usize,
    /// Why, one sentence.
    pub sentence: String,
}

/// A run so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Acted {
    /// What happened; its end is now.
    pub timeline: Timeline,
    /// The state before the first event, and after each.
    pub states: Vec<State>,
    /// The state now.
    pub last: State,
    /// Now, µs.
    pub now: i64,
    /// What is under way, the soonest first.
    pub pending: Vec<Pending>,
    /// Acts of the story or by hand are still to come.
    pub acts_to_come: bool,
    /// Acts that nobody may do; they were left out.
    pub refused: Vec<Refused>,
}

impl Acted {
    /// Nothing is under way and nothing is still to be done.
    pub fn is_quiet(&self) -> bool {
        self.pending.is_empty() && !self.acts_to_come
    }
    /// The state at an event (after it); none: now.
    pub fn state_at(&self, event: Option<usize>) -> &State {
        event.and_then(|event| self.states.get(event + 1)).unwrap_or(&self.last)
    }
}

/// Most acts of one run.
pub const MOST_ACTS: usize = 10_000;

/// Plays a story with acts by hand beside it.
pub fn act_out(
    evaluator: &Evaluator<'_, '_>,
    story: &Story,
    acts: &[Acting],
    until: Until,
    options: PlayOptions,
) -> Acted {
    let player = Player::at_start(evaluator, story, options);
    let mut stage = Stage {
        states: vec![player.run.state.clone()],
        player,
        acts: Vec::new(),
        refused: Vec::new(),
        seen: 0,
    };
    let mut acts: Vec<(usize, &Acting)> = acts.iter().take(MOST_ACTS).enumerate().collect();
    acts.sort_by_key(|(_, act)| act.at);
    acts.reverse();
    stage.acts = acts;
    stage.go(until)
}

struct Stage<'a, 'p, 'm, 's> {
    player: Player<'p, 'm, 's>,
    /// Acts still to come, the last first.
    acts: Vec<(usize, &'a Acting)>,
    refused: Vec<Refused>,
    states: Vec<State>,
    /// Events whose states are kept.
    seen: usize,
}

impl Stage<'_, '_, '_, '_> {
    fn go(mut self, until: Until) -> Acted {
        let last_act = self.acts.first().map_or(0, |(_, act)| act.at);
        let limit = match until {
            Until::Rest(tail) => self.player.end().max(last_act.saturating_add(tail)),
            Until::Time(time) | Until::EventAfter(time) => time.max(0),
        };
        self.player.feel_weak_coils();
        self.keep();
        let mut stuck = self.until(limit);
        let mut now = limit;
        if stuck.is_none() && matches!(until, Until::EventAfter(_)) {
            let before = self.visible();
            while stuck.is_none() && self.visible() == before {
                let Some(at) = self.next_at() else { break };
                stuck = self.until(at);
                now = at;
            }
            if self.visible() == before {
                now = limit;
            }
        }
        if matches!(until, Until::Rest(_)) && stuck.is_none() && self.next_at().is_none() {
            now = self.player.run.now.max(last_act);
        }
        if stuck.is_some() {
            now = self.player.run.now;
        }
        // Followed to its end, a story has met what it expects, or not.
        if matches!(until, Until::Rest(_)) {
            self.player.judge_until(i64::MAX);
        }
        self.end(now, stuck)
    }
    /// Events that somebody could see.
    fn visible(&self) -> usize {
        self.player.events.iter().filter(|event| !event.silent).count()
    }
    fn next_at(&mut self) -> Option<i64> {
        let act = self.acts.last().map(|(_, act)| act.at.max(self.player.run.now));
        let next = self.player.next().map(|next| next.at());
        [act, next].into_iter().flatten().min()
    }
    fn until(&mut self, limit: i64) -> Option<String> {
        loop {
            let next = self.player.next();
            let at = next.as_ref().map(Next::at);
            let by_hand = self.acts.last().map(|(_, act)| act.at.max(self.player.run.now));
            if let Some(hand) = by_hand.filter(|hand| at.is_none_or(|at| *hand <= at)) {
                if hand > limit {
                    return None;
                }
                self.player.run.now = hand;
                if let Some((index, act)) = self.acts.pop() {
                    self.hand(index, act, hand);
                }
                continue;
            }
            let next = next.filter(|next| next.at() <= limit)?;
            let stuck = self.step(&next);
            if stuck.is_some() {
                return stuck;
            }
        }
    }
    /// An act becomes the next thing that is due, unless nobody may do it.
    fn hand(&mut self, index: usize, act: &Acting, at: i64) {
        let player = &mut self.player;
        let refused = {
            let look = player.run.evaluator.look(&player.run.state);
            refusal(&look, act)
        };
        if let Some(sentence) = refused {
            self.refused.push(Refused { act: index, sentence });
            return;
        }
        let by = Some(act.by.clone());
        player.dues.push(Due { at, act: act.act.clone(), ends: act.lets_go, by });
        // It is the last of the list and at no later time than any other: it comes next.
        let _ = self.step(&Next::Act(at));
    }
    fn step(&mut self, next: &Next) -> Option<String> {
        let drives = drives(&self.player.run, &self.player.teller);
        let taken = match next {
            Next::Move(_, action) => Some(action.unit),
            Next::Act(_) => None,
        };
        let stuck = self.player.go(next);
        if stuck.is_none() {
            let gone = given_up(&self.player.run, &self.player.teller, &drives, taken);
            self.player.events.extend(gone);
        }
        self.keep();
        stuck
    }
    fn keep(&mut self) {
        let events = self.player.events.len();
        for _ in self.seen..events {
            self.states.push(self.player.run.state.clone());
        }
        self.states.truncate(events + 1);
        self.seen = events;
    }
    fn end(mut self, now: i64, stuck: Option<String>) -> Acted {
        self.player.run.now = self.player.run.now.max(now);
        let player = &self.player;
        let look = player.run.evaluator.look(&player.run.state);
        let mut pending: Vec<Pending> = player
            .run
            .actions
            .iter()
            .filter(|action| {
                action.agent == Agent::Device
                    && !matches!(action.deed, Deed::Subside | Deed::Settle)
            })
            .map(|action| {
                let (lo, hi) = player.run.window(action);
                Pending {
                    what: player.teller.what(&look, action),
                    earliest: lo.max(now),
                    latest: hi.map(|hi| hi.max(now)),
                    unit: action.unit,
                    to: action.to,
                }
            })
            .collect();
        drop(look);
        pending.sort_by_key(|it| (it.earliest, it.latest));
        let last = player.run.state.clone();
        let acts_to_come = !player.dues.is_empty() || !self.acts.is_empty();
        let (states, refused) = (self.states, self.refused);
        let timeline = self.player.finish(now, stuck);
        Acted { timeline, states, last, now, pending, acts_to_come, refused }
    }
}

/// Why an act can't be done in a state; none: it can.
pub fn refusal(look: &Look<'_, '_, '_>, acting: &Acting) -> Option<String> {
    let machine = look.machine();
    let scheme = machine.scheme;
    let act = &acting.act;
    if acting.lets_go {
        return None;
    }
    let refused = match act.atom {
        Atom::Position(device, position) => by_hand(look, acting, device, position),
        Atom::Order(order) => {
            let name = &scheme.orders[order].name;
            who_may(look, acting, &format!("give {name}"), |does| does == MayDo::Give(order))
        }
        Atom::Condition(condition, to) => {
            let item = &scheme.conditions[condition];
            let name = &item.name;
            let now = look.state.phase(machine.condition_unit(condition));
            let to = if act.so { to } else { u8::from(to == 0) };
            let state = |index: u8| item.states.get(usize::from(index)).map_or("?", String::as_str);
            let rule = item.becomes.iter().find(|rule| look.holds(&rule.when.expr).sure());
            if let Some(rule) = rule.filter(|_| now != to) {
                return Some(format!(
                    "{name} is {} by itself while {}.",
                    state(rule.state),
                    rule.when.text
                ));
            }
            let steps = match item.moves {
                Moves::Freely => None,
                Moves::StepByStep if to.abs_diff(now) > 1 => Some(if to > now {
                    state(now.saturating_add(1))
                } else {
                    state(now.saturating_sub(1))
                }),
                Moves::StepByStep => None,
                Moves::OnlyDown if to < now => {
                    return Some(format!("{name} does not come back from {}.", state(now)));
                }
                Moves::OnlyDown if to > now.saturating_add(1) => Some(state(now.saturating_add(1))),
                Moves::OnlyDown => None,
            };
            steps.map(|next| format!("{name} changes step by step: {next} comes first."))
        }
        Atom::Charged(_) | Atom::Live(_) | Atom::Blown(_) | Atom::LinkOpen(_) => None,
        _ => Some(format!("{}: this follows from the circuit and is not done by hand.", act.text)),
    };
    let stands_so = target(machine, look.state, act)
        .is_some_and(|(unit, phase)| look.state.phase(unit) == phase);
    refused.filter(|_| !stands_so)
}

fn by_hand(
    look: &Look<'_, '_, '_>,
    acting: &Acting,
    device: DeviceId,
    position: u8,
) -> Option<String> {
    let scheme = look.machine().scheme;
    let item = &scheme.devices[device];
    let name = &item.name;
    let to = item.positions.get(usize::from(position)).map_or("?", String::as_str);
    let operates = |does| does == MayDo::Operate(device) || does == MayDo::Bring(device, position);
    match &item.kind {
        DeviceKind::Handle { .. } => {
            who_may(look, acting, &format!("turn {name} to {to}"), operates)
        }
        DeviceKind::Button => who_may(look, acting, &format!("press {name}"), operates),
        DeviceKind::Lockout { reset_by } if position == 0 && *reset_by != ResetBy::Coil => {
            who_may(look, acting, &format!("reset {name}"), operates)
        }
        DeviceKind::Lockout { .. } if position == 0 => {
            Some(format!("{name} is reset by its coil only."))
        }
        DeviceKind::Latch { turned_by: TurnedBy::HandOrCoil } => {
            who_may(look, acting, &format!("bring {name} to {to}"), operates)
        }
        DeviceKind::Latch { .. } => Some(format!("{name} is turned by its coils only.")),
        DeviceKind::Overload => None,
        _ => {
            let coils = item
                .parts
                .iter()
                .filter(|part| matches!(scheme.parts[**part].kind, PartKind::Coil(_)));
            let coils: Vec<&str> = coils.map(|part| scheme.parts[*part].name.as_str()).collect();
            Some(if coils.is_empty() {
                format!("{name} is not moved by hand.")
            } else {
                format!("{name} is not moved by hand: it follows {}.", coils.join(", "))
            })
        }
    }
}

/// Whether somebody may, and the one who does it.
fn who_may(
    look: &Look<'_, '_, '_>,
    acting: &Acting,
    doing: &str,
    does: impl Fn(MayDo) -> bool,
) -> Option<String> {
    let scheme = look.machine().scheme;
    let persons: Vec<_> =
        scheme.persons.values().filter(|it| it.may.iter().any(|may| does(may.does))).collect();
    if persons.is_empty() {
        return Some(format!("Nobody may {doing}: no person of the text has it."));
    }
    let named: Vec<_> = match &acting.by {
        None => persons.clone(),
        Some(by) => persons.iter().copied().filter(|person| person.name == *by).collect(),
    };
    if named.is_empty() {
        let others: Vec<String> = persons.iter().map(|it| stands(scheme, it)).collect();
        let by = acting.by.as_deref().unwrap_or("nobody");
        return Some(format!("The {by} may not {doing}: {} may.", others.join(" or ")));
    }
    let mays = named.iter().flat_map(|person| &person.may).filter(|may| does(may.does));
    let mut when = Vec::new();
    for may in mays {
        match &may.when {
            None => return None,
            Some(statement) if look.holds(&statement.expr).sure() => return None,
            Some(statement) => when.push(statement.text.as_str()),
        }
    }
    Some(format!("Nobody may {doing} now: only while {}.", when.join(" or ")))
}

fn stands(scheme: &Scheme, person: &fiftytwo_scheme::Person) -> String {
    match person.place {
        Some(place) => format!("the {} in {}", person.name, scheme.places[place].name),
        None => format!("the {}", person.name),
    }
}
