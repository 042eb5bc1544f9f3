//! The moves of a breaker: latches, main contacts, groups of auxiliary contacts.
//!
//! Three variables and one for each group: which way it moves (0 open or opening, 1 closing or
//! closed, 2 turned back before touch), whether the main contacts touch, whether the group has
//! changed from where it stands while the breaker is open. With times there is a fourth way, opening
//! again before everything had changed (3): what has not moved tells no time.
//!
//! A group changes at its offset from touch or parting. Two events come in the order of their
//! offsets; where these overlap, in either order. What declares no offset changes with the main
//! contacts, what opens an instant before, what closes an instant after.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::moves::{Ask, Here, Move, Variable, latch};
use super::say::{Speaker, Together};
use fiftytwo_motion::machine::UnitId;
use fiftytwo_scheme::{Coil, DeviceId, DeviceKind, GoesAfter, PartId, PartKind, TimeRange};

const DOWN: u8 = 0;
const UP: u8 = 1;
const BACK: u8 = 2;
/// Opening again before everything had changed; told apart from `DOWN` only where times count.
const SHORT: u8 = 3;

type Span = (i64, i64);

/// What a breaker is made of.
struct Breaker {
    way: String,
    touch: String,
    groups: Vec<Group>,
    /// From the latch to touch, from the latch to parting, µs.
    closing: Span,
    opening: Span,
    close_coils: Vec<PartId>,
    trip_coils: Vec<PartId>,
    solenoid: Option<PartId>,
}

struct Group {
    changed: String,
    words: String,
    closed_when_open: bool,
    on_close: Span,
    on_open: Span,
    before_touch: bool,
    before_parting: bool,
}

impl Breaker {
    fn way(&self, way: u8) -> Bool {
        Bool::equals(&self.way, way)
    }
    fn touches(&self) -> Bool {
        Bool::word(self.touch.clone())
    }
    /// Something that changes back before parting has not changed at all; none: by touch all have.
    fn unmoved_early(&self) -> Option<Bool> {
        let late = self.groups.iter().filter(|group| group.before_parting && !group.before_touch);
        let unmoved: Vec<Bool> =
            late.map(|group| Bool::word(group.changed.clone()).negated()).collect();
        (!unmoved.is_empty()).then(|| Bool::any(unmoved))
    }
    fn fully_open(&self) -> Bool {
        Bool::all(
            [self.way(DOWN), self.touches().negated()]
                .into_iter()
                .chain(self.groups.iter().map(|group| Bool::word(group.changed.clone()).negated())),
        )
    }
    fn fully_closed(&self) -> Bool {
        Bool::all(
            [self.way(UP), self.touches()]
                .into_iter()
                .chain(self.groups.iter().map(|group| Bool::word(group.changed.clone()))),
        )
    }
}

/// One event surely comes before the other. Equal single moments keep the written order.
fn surely_before(one: (usize, Span), other: (usize, Span)) -> bool {
    let ((first, a), (second, b)) = (one, other);
    if a == b && a.0 == a.1 { first < second } else { a.1 <= b.0 }
}

impl Speaker<'_, '_> {
    /// A breaker stands closed, its stroke done.
    pub(super) fn stands_closed(&self, id: DeviceId) -> Bool {
        let Some(unit) = self.machine.device_unit(id) else { return Bool::Is(true) };
        let groups = 0..self.groups(id).len();
        let way = Bool::equals(&self.way(unit), UP);
        let touch = Bool::word(self.touch(unit));
        let changed = groups.map(|group| Bool::word(self.changed(unit, group)));
        Bool::all([way, touch].into_iter().chain(changed))
    }
}

impl Here<'_, '_, '_> {
    pub(super) fn stroke(&mut self, id: DeviceId) -> Result<(), Refusal> {
        let breaker = self.breaker(id);
        self.declare(&breaker);
        self.close_latches(id, &breaker)?;
        self.trip_latches(&breaker)?;
        self.going_up(&breaker)?;
        self.going_down(&breaker);
        if breaker.solenoid.is_some() {
            self.going_back(&breaker);
        }
        self.marks(&breaker)
    }
    /// A mechanism that is held stands where its run begins.
    pub(super) fn held_stroke(&mut self, id: DeviceId) {
        let breaker = self.breaker(id);
        self.declare(&breaker);
    }
    /// It does not begin to open here: it stands closed and what is asked stands.
    fn is_stuck(&mut self, breaker: &Breaker) -> Result<Tri, Refusal> {
        match &self.speaker.scope.stuck {
            Some(stuck) if stuck.unit == self.unit => {
                let closed = Tri::known(breaker.fully_closed());
                let premise = stuck.premise.clone();
                Ok(self.speaker.expr(&premise)?.and(closed))
            }
            _ => Ok(Tri::is(false)),
        }
    }
    fn breaker(&self, id: DeviceId) -> Breaker {
        let scheme = self.speaker.scheme;
        let coils = |closing: bool| -> Vec<(PartId, &Coil)> {
            let coils = scheme.devices[id].parts.iter().copied();
            coils
                .filter_map(|part| match &scheme.parts[part].kind {
                    PartKind::Coil(coil) if (coil.drives_to != 0) == closing => Some((part, coil)),
                    _ => None,
                })
                .collect()
        };
        let (close, trip) = (coils(true), coils(false));
        let (closing_time, opening_time) = match &scheme.devices[id].kind {
            DeviceKind::Breaker { closing_time, opening_time, .. } => {
                ((closing_time.lo, closing_time.hi), (opening_time.lo, opening_time.hi))
            }
            _ => ((0, 0), (0, 0)),
        };
        let solenoid =
            close.iter().rev().find(|(_, coil)| coil.goes_after == Some(GoesAfter::WholeStroke));
        Breaker {
            way: self.speaker.way(self.unit),
            touch: self.speaker.touch(self.unit),
            groups: self.groups(id, self.unit),
            closing: less(closing_time, &close),
            opening: less(opening_time, &trip),
            solenoid: solenoid.map(|(part, _)| *part),
            close_coils: close.into_iter().map(|(part, _)| part).collect(),
            trip_coils: trip.into_iter().map(|(part, _)| part).collect(),
        }
    }
    fn groups(&self, id: DeviceId, unit: UnitId) -> Vec<Group> {
        let scheme = self.speaker.scheme;
        let group = |(index, group): (usize, &Together)| {
            let early = |offset: Span, opens: bool| offset.0 < 0 || (offset == (0, 0) && opens);
            let names: Vec<&str> =
                group.contacts.iter().map(|part| scheme.parts[*part].own_name.as_str()).collect();
            Group {
                changed: self.speaker.changed(unit, index),
                words: names.join(", "),
                closed_when_open: group.closed_when_open,
                on_close: group.on_close,
                on_open: group.on_open,
                before_touch: early(group.on_close, group.closed_when_open),
                before_parting: early(group.on_open, !group.closed_when_open),
            }
        };
        self.speaker.groups(id).iter().enumerate().map(group).collect()
    }
    fn declare(&mut self, breaker: &Breaker) {
        let item = &self.speaker.machine.units[self.unit].name;
        let mut declare = |name: &String, is_bit: bool, words: String| {
            self.moves.variables.push(Variable { name: name.clone(), is_bit, words });
        };
        declare(
            &breaker.way,
            false,
            format!("{item}: 0 open or opening, 1 closing or closed, 2 turned back"),
        );
        declare(&breaker.touch, true, format!("{item}: main contacts touch"));
        for group in &breaker.groups {
            let rest = if group.closed_when_open { "opened" } else { "closed" };
            declare(&group.changed, true, format!("{item}: {} {rest}", group.words));
        }
    }
    fn made(&self, here: Bool, drive: Tri, set: Vec<(String, String)>, words: &str) -> Move {
        Move {
            unit: self.unit,
            words: format!("{} {words}", self.speaker.machine.units[self.unit].name),
            here,
            drive,
            by_itself: true,
            is_order: false,
            set,
            asks: Vec::new(),
            restarts: true,
            closes: None,
        }
    }
    /// A driven trip coil holds the closing latch; a closing uses up one charge where it begins.
    fn close_latches(&mut self, id: DeviceId, breaker: &Breaker) -> Result<(), Refusal> {
        let scheme = self.speaker.scheme;
        let tripping: Result<Vec<Tri>, Refusal> =
            breaker.trip_coils.iter().map(|coil| Ok(self.speaker.seen(*coil)?.pickup)).collect();
        let tripping = Tri::any(tripping?);
        let energy = self.speaker.machine.energy_unit(id);
        let mut set = vec![(breaker.way.clone(), UP.to_string())];
        let mut charged = Bool::Is(true);
        if let Some(unit) = energy {
            if !self.speaker.scope.knows(unit) {
                return Err(Refusal(format!(
                    "it depends on {}, which is left out of the search",
                    self.speaker.machine.units[unit].name
                )));
            }
            charged = self.speaker.charged(unit);
            let name = self.speaker.name(unit).to_owned();
            let levels = self.speaker.machine.units[unit].phases / 2;
            let less = if self.speaker.timed {
                format!("({name} % {levels}) - 1")
            } else {
                format!("{name} - 1")
            };
            set.push((name, less));
        }
        for &coil in &breaker.close_coils {
            let on = self.speaker.seen(coil)?.pickup;
            let drive = Tri::all([on, tripping.clone().not(), Tri::known(charged.clone())]);
            let (lo, hi) = latch_of(&scheme.parts[coil].kind);
            let clock = self.clock(&super::say::plain(&scheme.parts[coil].own_name));
            let words = "close latch goes: a closing begins";
            let made = self.made(breaker.fully_open(), drive, set.clone(), words);
            let asks = vec![Ask::new(clock, lo, hi)];
            self.push(Move { asks, closes: Some(id), ..made });
        }
        Ok(())
    }
    /// A trip takes effect once the main contacts touch; a coil driven before counts from then on
    /// for the latest, but for the earliest from when it was first driven.
    fn trip_latches(&mut self, breaker: &Breaker) -> Result<(), Refusal> {
        let scheme = self.speaker.scheme;
        for &coil in &breaker.trip_coils {
            let on = self.speaker.seen(coil)?.pickup;
            let drive = on.clone().and(self.is_stuck(breaker)?.not());
            let (lo, hi) = latch_of(&scheme.parts[coil].kind);
            let plain = super::say::plain(&scheme.parts[coil].own_name);
            let here = breaker.way(UP).and(breaker.touches());
            let set = vec![(breaker.way.clone(), DOWN.to_string())];
            let driven = self.clock(&format!("driven_{plain}"));
            let made = self.made(here, drive, set, &format!("trip latch goes ({plain})"));
            let asks =
                vec![Ask::new(driven.clone(), lo, None), Ask::new(self.clock(&plain), 0, hi)];
            let early = breaker.unmoved_early().filter(|_| self.speaker.timed);
            let whole = early.clone().map_or(Bool::Is(true), Bool::negated);
            if let Some(unmoved) = early {
                let set = vec![(breaker.way.clone(), SHORT.to_string())];
                let here = made.here.clone().and(unmoved);
                self.push(Move { asks: asks.clone(), here, set, ..made.clone() });
            }
            self.push(Move { asks, here: made.here.clone().and(whole), ..made });
            let runs = breaker.way(UP).and(on.may);
            self.moves.marks.entry(driven).or_default().push(runs);
        }
        Ok(())
    }
    fn going_up(&mut self, breaker: &Breaker) -> Result<(), Refusal> {
        // A solenoid pulls all the way; without it the mechanism falls back.
        let pulled = match breaker.solenoid {
            Some(solenoid) => {
                let seen = self.speaker.seen(solenoid)?;
                let pulls = Tri {
                    may: seen.dropout.sure.clone().negated(),
                    sure: seen.pickup.sure.clone(),
                };
                let something_moved =
                    Bool::any(breaker.groups.iter().map(|group| Bool::word(group.changed.clone())));
                let loses = Tri { may: seen.pickup.sure.negated(), sure: seen.dropout.sure };
                let closing = breaker.way(UP).and(breaker.touches().negated());
                for (some, to) in [(true, BACK), (false, DOWN)] {
                    let moved = if some {
                        something_moved.clone()
                    } else {
                        something_moved.clone().negated()
                    };
                    let set = vec![(breaker.way.clone(), to.to_string())];
                    let here = closing.clone().and(moved);
                    self.push(self.made(here, loses.clone(), set, "falls back"));
                }
                pulls
            }
            None => Tri::is(true),
        };
        let order: Vec<(usize, Span)> =
            breaker.groups.iter().map(|group| group.on_close).enumerate().collect();
        let changed = |group: &Group| Bool::word(group.changed.clone());
        let mut before = Vec::new();
        for (index, group) in breaker.groups.iter().enumerate() {
            let first = breaker.groups.iter().enumerate().filter(|(other, earlier)| {
                *other != index
                    && earlier.before_touch == group.before_touch
                    && surely_before(order[*other], order[index])
            });
            let first: Vec<Bool> = first.map(|(_, earlier)| changed(earlier)).collect();
            let touches =
                if group.before_touch { breaker.touches().negated() } else { breaker.touches() };
            let here = Bool::all([breaker.way(UP), touches, changed(group).negated()])
                .and(Bool::all(first));
            let drive = if group.before_touch { pulled.clone() } else { Tri::is(true) };
            let set = vec![(group.changed.clone(), "1".to_owned())];
            let made = self.made(here, drive, set, &format!("closing: {}", group.words));
            let asks = if group.before_touch {
                self.before_main(breaker, index, true)
            } else {
                vec![self.after(group.on_close, "touched")]
            };
            self.push_timed(Move { restarts: false, ..made }, asks);
            if group.before_touch {
                before.push(changed(group));
            }
        }
        let here = Bool::all([breaker.way(UP), breaker.touches().negated()]).and(Bool::all(before));
        let set = vec![(breaker.touch.clone(), "1".to_owned())];
        let made = self.made(here, pulled, set, "main contacts touch");
        let asks = self.before_main(breaker, usize::MAX, true);
        self.push_timed(Move { restarts: false, ..made }, asks);
        Ok(())
    }
    fn going_down(&mut self, breaker: &Breaker) {
        let order: Vec<(usize, Span)> =
            breaker.groups.iter().map(|group| group.on_open).enumerate().collect();
        let stands = |group: &Group| Bool::word(group.changed.clone());
        let mut before = Vec::new();
        for (index, group) in breaker.groups.iter().enumerate() {
            let first = |only_early: bool| {
                Bool::all(
                    breaker
                        .groups
                        .iter()
                        .enumerate()
                        .filter(|(other, earlier)| {
                            *other != index
                                && (!only_early || earlier.before_parting)
                                && surely_before(order[*other], order[index])
                        })
                        .map(|(_, earlier)| stands(earlier).negated()),
                )
            };
            let set = vec![(group.changed.clone(), "0".to_owned())];
            let words = format!("opening: {}", group.words);
            let down = Bool::all([breaker.way(DOWN), stands(group)]);
            if group.before_parting {
                let here = down.clone().and(breaker.touches()).and(first(true));
                let made = self.made(here, Tri::is(true), set.clone(), &words);
                let asks = self.before_main(breaker, index, false);
                self.push_timed(Move { restarts: false, ..made }, asks);
                before.push(stands(group).negated());
            }
            let here = down.and(breaker.touches().negated()).and(first(false));
            let made = self.made(here, Tri::is(true), set, &words);
            let asks = vec![self.after(group.on_open, "parted")];
            self.push_timed(Move { restarts: false, ..made }, asks);
        }
        let before = Bool::all(before);
        let here = Bool::all([breaker.way(DOWN), breaker.touches(), before.clone()]);
        let set = vec![(breaker.touch.clone(), "0".to_owned())];
        let made = self.made(here, Tri::is(true), set, "main contacts part");
        let asks = self.before_main(breaker, usize::MAX, false);
        self.push_timed(Move { restarts: false, ..made }, asks);
        if self.speaker.timed && breaker.unmoved_early().is_some() {
            self.going_short(breaker, before);
        }
    }
    /// Opening again before everything had changed: each event against the latch alone.
    fn going_short(&mut self, breaker: &Breaker, all_before: Bool) {
        let since_latch = |here: &Self, event: usize| -> Vec<Ask> {
            here.before_main(breaker, event, false).into_iter().take(1).collect()
        };
        for (index, group) in breaker.groups.iter().enumerate() {
            if !group.before_parting {
                continue;
            }
            let first = breaker.groups.iter().enumerate().filter(|(other, earlier)| {
                *other != index
                    && earlier.before_parting
                    && surely_before((*other, earlier.on_open), (index, group.on_open))
            });
            let first: Vec<Bool> =
                first.map(|(_, it)| Bool::word(it.changed.clone()).negated()).collect();
            let stands = Bool::word(group.changed.clone());
            let here =
                Bool::all([breaker.way(SHORT), breaker.touches(), stands]).and(Bool::all(first));
            let set = vec![(group.changed.clone(), "0".to_owned())];
            let made = self.made(here, Tri::is(true), set, &format!("opening: {}", group.words));
            let asks = since_latch(self, index);
            self.push_timed(Move { restarts: false, ..made }, asks);
        }
        let here = Bool::all([breaker.way(SHORT), breaker.touches(), all_before]);
        let set =
            vec![(breaker.touch.clone(), "0".to_owned()), (breaker.way.clone(), DOWN.to_string())];
        let made = self.made(here, Tri::is(true), set, "main contacts part");
        let asks = since_latch(self, usize::MAX);
        self.push_timed(Move { restarts: false, ..made }, asks);
    }
    /// What had changed changes back; the last one ends it.
    fn going_back(&mut self, breaker: &Breaker) {
        for (index, group) in breaker.groups.iter().enumerate() {
            let others = breaker.groups.iter().enumerate().filter(|(other, _)| *other != index);
            let waits = others.clone().filter(|(other, earlier)| {
                surely_before((*other, earlier.on_open), (index, group.on_open))
            });
            let waits = Bool::all(waits.map(|(_, it)| Bool::word(it.changed.clone()).negated()));
            let rest = Bool::any(others.map(|(_, it)| Bool::word(it.changed.clone())));
            let latest = breaker.opening.1 + group.on_open.1.max(0);
            for last in [false, true] {
                let more = if last { rest.clone().negated() } else { rest.clone() };
                let here = Bool::all([
                    breaker.way(BACK),
                    Bool::word(group.changed.clone()),
                    waits.clone(),
                    more,
                ]);
                let mut set = vec![(group.changed.clone(), "0".to_owned())];
                if last {
                    set.push((breaker.way.clone(), DOWN.to_string()));
                }
                let words = format!("falling back: {}", group.words);
                let made = self.made(here, Tri::is(true), set, &words);
                let asks = vec![Ask::new(self.clock("tripped"), 0, Some(latest))];
                self.push_timed(Move { restarts: false, ..made }, asks);
            }
        }
    }
    fn push_timed(&mut self, made: Move, asks: Vec<Ask>) {
        self.push(Move { asks, ..made });
    }
    fn after(&self, offset: Span, since: &str) -> Ask {
        Ask::new(self.clock(since), offset.0.max(0), Some(offset.1.max(0)))
    }
    /// The times of an event before touch or parting (`usize::MAX`: of touch or parting itself).
    /// Main contacts come `stroke` after the latch, a group so much before them: that bounds the
    /// event against the latch, and against each group that has changed already.
    fn before_main(&self, breaker: &Breaker, event: usize, closing: bool) -> Vec<Ask> {
        let (since, stroke, name) = if closing {
            ("released", breaker.closing, "closing")
        } else {
            ("tripped", breaker.opening, "opening")
        };
        let ahead = |group: &Group| {
            let offset = if closing { group.on_close } else { group.on_open };
            (-offset.1, -offset.0)
        };
        let own = breaker.groups.get(event).map_or((0, 0), ahead);
        let ask = |clock: String, lo: i64, hi: i64| Ask::new(clock, lo.max(0), Some(hi.max(0)));
        let mut asks = vec![ask(self.clock(since), stroke.0 - own.1, stroke.1 - own.0)];
        for (index, group) in breaker.groups.iter().enumerate() {
            let early = if closing { group.before_touch } else { group.before_parting };
            if early && index != event {
                let theirs = ahead(group);
                let clock = self.clock(&format!("{name}{index}"));
                let changed = Bool::word(group.changed.clone());
                let only = if closing { changed } else { changed.negated() };
                asks.push(Ask { only, ..ask(clock, theirs.0 - own.1, theirs.1 - own.0) });
            }
        }
        asks
    }
    /// The stopwatches since what happened in a stroke.
    fn marks(&mut self, breaker: &Breaker) -> Result<(), Refusal> {
        let opening = breaker.way(DOWN).and(breaker.touches());
        let closing = breaker.way(UP).and(breaker.touches().negated());
        let touched =
            Bool::all([breaker.way(UP), breaker.touches(), breaker.fully_closed().negated()]);
        let parted = Bool::all([
            breaker.way(DOWN),
            breaker.touches().negated(),
            breaker.fully_open().negated(),
        ]);
        let mut mark = |clock: String, runs: Bool| {
            self.moves.marks.entry(clock).or_default().push(runs);
        };
        let name = self.speaker.name(self.unit);
        let clock = |what: &str| format!("t_{name}_{what}");
        mark(clock("released"), closing.clone());
        mark(clock("touched"), touched);
        let mut tripped = opening.clone().or(breaker.way(BACK));
        if self.speaker.timed && breaker.unmoved_early().is_some() {
            tripped = tripped.or(breaker.way(SHORT));
        }
        mark(clock("tripped"), tripped);
        mark(clock("parted"), parted);
        for (index, group) in breaker.groups.iter().enumerate() {
            let changed = Bool::word(group.changed.clone());
            if group.before_touch {
                mark(clock(&format!("closing{index}")), closing.clone().and(changed.clone()));
            }
            if group.before_parting {
                mark(clock(&format!("opening{index}")), opening.clone().and(changed.negated()));
            }
        }
        Ok(())
    }
}

fn latch_of(kind: &PartKind) -> (i64, Option<i64>) {
    match kind {
        PartKind::Coil(coil) => latch(coil),
        _ => (0, None),
    }
}

/// The stroke is what the latch leaves of the declared time, bound by bound; where that can't be,
/// the widest stroke that keeps the declared time.
fn less(total: Span, coils: &[(PartId, &Coil)]) -> Span {
    let spans = coils.iter().map(|(_, coil)| match &coil.goes_after {
        Some(GoesAfter::After(TimeRange { lo, hi, .. })) => (*lo, *hi),
        _ => (0, 0),
    });
    let latch = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or((0, 0));
    let (lo, hi) = (total.0 - latch.0, total.1 - latch.1);
    if lo <= hi && hi >= 0 {
        (lo.max(0), hi)
    } else {
        ((total.0 - latch.1).max(0), (total.1 - latch.0).max(0))
    }
}
