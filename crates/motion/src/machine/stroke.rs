//! The stroke of a breaker: main contacts and groups of auxiliary contacts, rigidly coupled.
//!
//! A group changes at an offset from touch (closing) or parting (opening). Offsets that overlap
//! may come in either order; what surely comes first comes first, whatever the times.

use fiftytwo_scheme::statement::Atom;
use fiftytwo_scheme::{
    Coil, DeviceId, DeviceKind, Expr, GoesAfter, PartId, PartKind, Scheme, StrokeOffset, TimeRange,
};

/// Which way a breaker moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Direction {
    /// Closing, or closed.
    Up,
    /// Opening, or open.
    Down,
    /// Turned back in a closing stroke before the main contacts had touched.
    Back,
    /// Opening again after touch, before every auxiliary contact had changed: what has not moved
    /// tells no time. Ends with the parting.
    Short,
}

/// One phase: a direction, and what has moved away from its open position (bit 0: the main
/// contacts touch; bit 1 + g: group g has changed).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StrokePhase {
    /// Direction.
    pub direction: Direction,
    /// What has moved.
    pub moved: u8,
}

/// Auxiliary contacts that change together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// The contacts.
    pub contacts: Vec<PartId>,
    /// Whether they are closed while the breaker is open.
    pub closed_when_open: bool,
    /// Offset from touch, µs; negative is before.
    pub on_close: (i64, i64),
    /// Offset from parting, µs.
    pub on_open: (i64, i64),
    /// Whether it changes before touch.
    pub before_touch: bool,
    /// Whether it changes before parting.
    pub before_parting: bool,
}

/// Everything about the stroke of one breaker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StrokeTable {
    /// The breaker.
    pub device: DeviceId,
    /// The groups.
    pub groups: Vec<Group>,
    /// Group of each auxiliary contact.
    pub group_of: Vec<(PartId, u8)>,
    /// All phases; 0 is open at rest.
    pub phases: Vec<StrokePhase>,
    /// The phase closed at rest.
    pub closed: u8,
    /// From release to touch, µs.
    pub closing: (i64, i64),
    /// From release to parting, µs.
    pub opening: (i64, i64),
    /// Closing coils.
    pub close_coils: Vec<PartId>,
    /// Opening coils.
    pub trip_coils: Vec<PartId>,
    /// A closing coil that has to drive the whole stroke.
    pub solenoid: Option<PartId>,
}

/// Most groups with different offsets that one breaker may have.
pub(super) const MOST_GROUPS: usize = 6;

impl StrokeTable {
    /// The bits of a breaker that is closed at rest.
    pub fn full(&self) -> u8 {
        u8::try_from((1_u16 << (self.groups.len() + 1)) - 1).unwrap_or(u8::MAX)
    }
    /// The phase with that number.
    pub fn phase(&self, number: u8) -> StrokePhase {
        self.phases
            .get(number as usize)
            .copied()
            .unwrap_or(StrokePhase { direction: Direction::Down, moved: 0 })
    }
    /// The number of a phase.
    pub fn number(&self, phase: StrokePhase) -> u8 {
        let position = self.phases.iter().position(|other| *other == phase);
        position.and_then(|index| u8::try_from(index).ok()).unwrap_or(0)
    }
    /// Whether the main contacts touch.
    pub fn touches(&self, number: u8) -> bool {
        self.phase(number).moved & 1 != 0
    }
    /// Whether an auxiliary contact is closed; none: it is not one of the stroke's.
    pub fn contact_closed(&self, part: PartId, number: u8) -> Option<bool> {
        let group = self.group_of.iter().find(|(contact, _)| *contact == part)?.1;
        let moved = self.phase(number).moved & bit(group) != 0;
        Some(self.groups[group as usize].closed_when_open != moved)
    }
    /// What may change next in the stroke: groups and main contacts, in an order that the
    /// declared offsets allow.
    pub fn next(&self, phase: StrokePhase) -> Vec<StrokeEvent> {
        let mut events = Vec::new();
        match phase.direction {
            Direction::Up => self.next_up(phase.moved, &mut events),
            Direction::Down | Direction::Short => self.next_down(phase.moved, &mut events),
            Direction::Back => {
                for index in 0..self.groups.len() {
                    let group = index as u8;
                    if phase.moved & bit(group) != 0 && self.may_go_back(group, phase.moved) {
                        events.push(StrokeEvent::Group(group));
                    }
                }
            }
        }
        events
    }
    fn next_up(&self, moved: u8, events: &mut Vec<StrokeEvent>) {
        let touched = moved & 1 != 0;
        let mut all_before = true;
        for (index, group) in self.groups.iter().enumerate() {
            if moved & bit(index as u8) != 0 {
                continue;
            }
            if group.before_touch && !touched {
                all_before = false;
                let waits = self.groups.iter().enumerate().any(|(other, earlier)| {
                    moved & bit(other as u8) == 0
                        && earlier.before_touch
                        && other != index
                        && surely_before(earlier.on_close, group.on_close, other, index)
                });
                if !waits {
                    events.push(StrokeEvent::Group(index as u8));
                }
            } else if touched && !group.before_touch {
                let waits = self.groups.iter().enumerate().any(|(other, earlier)| {
                    moved & bit(other as u8) == 0
                        && other != index
                        && surely_before(earlier.on_close, group.on_close, other, index)
                });
                if !waits {
                    events.push(StrokeEvent::Group(index as u8));
                }
            }
        }
        if !touched && all_before {
            events.push(StrokeEvent::Main);
        }
    }
    fn next_down(&self, moved: u8, events: &mut Vec<StrokeEvent>) {
        let touches = moved & 1 != 0;
        let mut all_before = true;
        for (index, group) in self.groups.iter().enumerate() {
            if moved & bit(index as u8) == 0 {
                continue;
            }
            let now = if touches { group.before_parting } else { true };
            if touches && group.before_parting {
                all_before = false;
            }
            if !now {
                continue;
            }
            let waits = self.groups.iter().enumerate().any(|(other, earlier)| {
                moved & bit(other as u8) != 0
                    && other != index
                    && (!touches || earlier.before_parting)
                    && surely_before(earlier.on_open, group.on_open, other, index)
            });
            if !waits {
                events.push(StrokeEvent::Group(index as u8));
            }
        }
        if touches && all_before {
            events.push(StrokeEvent::Main);
        }
    }
    fn may_go_back(&self, group: u8, moved: u8) -> bool {
        let index = group as usize;
        !self.groups.iter().enumerate().any(|(other, earlier)| {
            moved & bit(other as u8) != 0
                && other != index
                && surely_before(earlier.on_open, self.groups[index].on_open, other, index)
        })
    }
    /// The phase after an event.
    pub fn after(&self, phase: StrokePhase, event: StrokeEvent) -> StrokePhase {
        let flip = match event {
            StrokeEvent::Main => 1,
            StrokeEvent::Group(group) => bit(group),
        };
        let moved = phase.moved ^ flip;
        let direction = match phase.direction {
            Direction::Back if moved == 0 => Direction::Down,
            Direction::Short if moved & 1 == 0 => Direction::Down,
            other => other,
        };
        StrokePhase { direction, moved }
    }
    /// The phase after a trip latch has gone in `phase`.
    pub fn turned_back(&self, phase: StrokePhase) -> StrokePhase {
        let touches = phase.moved & 1 != 0;
        let direction = if touches && !self.all_early_changed(phase.moved) {
            Direction::Short
        } else if phase.moved == 0 || touches {
            Direction::Down
        } else {
            Direction::Back
        };
        StrokePhase { direction, moved: phase.moved }
    }
    /// Whether everything that changes back before parting has changed at all.
    fn all_early_changed(&self, moved: u8) -> bool {
        let groups = self.groups.iter().enumerate();
        groups
            .filter(|(_, group)| group.before_parting)
            .all(|(index, _)| moved & bit(index as u8) != 0)
    }
    /// The phase that differs only in the times it allows.
    pub fn without_times(&self, number: u8) -> u8 {
        match self.phase(number) {
            StrokePhase { direction: Direction::Short, moved } => {
                self.number(StrokePhase { direction: Direction::Down, moved })
            }
            _ => number,
        }
    }
}

/// What changes in a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrokeEvent {
    /// The main contacts touch or part.
    Main,
    /// A group changes.
    Group(u8),
}

pub(super) fn bit(group: u8) -> u8 {
    1_u8.checked_shl(u32::from(group) + 1).unwrap_or(0)
}

/// Equal single moments keep the written order, so that nothing waits for itself.
fn surely_before(a: (i64, i64), b: (i64, i64), a_index: usize, b_index: usize) -> bool {
    if a == b && a.0 == a.1 { a_index < b_index } else { a.1 <= b.0 }
}

/// Builds the table of one breaker; the error is a sentence.
pub(super) fn table(scheme: &Scheme, device: DeviceId) -> Result<StrokeTable, String> {
    let breaker = &scheme.devices[device];
    let DeviceKind::Breaker { closing_time, opening_time, .. } = &breaker.kind else {
        return Err(format!("{} is no breaker", breaker.name));
    };
    let mut table = StrokeTable {
        device,
        groups: Vec::new(),
        group_of: Vec::new(),
        phases: Vec::new(),
        closed: 0,
        closing: (0, 0),
        opening: (0, 0),
        close_coils: Vec::new(),
        trip_coils: Vec::new(),
        solenoid: None,
    };
    let mut close_latch: Option<(i64, i64)> = None;
    let mut trip_latch: Option<(i64, i64)> = None;
    for &part in &breaker.parts {
        match &scheme.parts[part].kind {
            PartKind::Contact(contact) => {
                if let Some(closed_when_open) = follows_stroke(&contact.closed_when.expr, device) {
                    let on_close = offset(contact.on_close.as_ref());
                    let on_open = offset(contact.on_open.as_ref());
                    table.add_contact(part, closed_when_open, on_close, on_open);
                }
            }
            PartKind::Coil(coil) => {
                let latch = latch_time(coil);
                if coil.drives_to == 0 {
                    table.trip_coils.push(part);
                    trip_latch = Some(hull(trip_latch, latch));
                } else {
                    table.close_coils.push(part);
                    if coil.goes_after == Some(GoesAfter::WholeStroke) {
                        table.solenoid = Some(part);
                    }
                    close_latch = Some(hull(close_latch, latch));
                }
            }
            _ => {}
        }
    }
    if table.groups.len() > MOST_GROUPS {
        return Err(format!(
            "{} has auxiliary contacts with {} different offsets; at most {MOST_GROUPS} can be \
             told apart",
            breaker.name,
            table.groups.len()
        ));
    }
    table.closing = rest_of(closing_time, close_latch);
    table.opening = rest_of(opening_time, trip_latch);
    table.enumerate();
    if table.phases.len() > usize::from(u8::MAX) {
        return Err(format!(
            "{} has auxiliary contacts whose offsets overlap in more ways than can be told apart",
            breaker.name
        ));
    }
    Ok(table)
}

impl StrokeTable {
    fn add_contact(
        &mut self,
        part: PartId,
        closed_when_open: bool,
        on_close: (i64, i64),
        on_open: (i64, i64),
    ) {
        let found = self.groups.iter().position(|group| {
            group.closed_when_open == closed_when_open
                && group.on_close == on_close
                && group.on_open == on_open
        });
        let index = found.unwrap_or_else(|| {
            // What says nothing changes with the main contacts: a b contact just before an
            // a contact, so that both are open for an instant.
            let early =
                |offset: (i64, i64), opens: bool| offset.0 < 0 || (offset == (0, 0) && opens);
            self.groups.push(Group {
                contacts: Vec::new(),
                closed_when_open,
                on_close,
                on_open,
                before_touch: early(on_close, closed_when_open),
                before_parting: early(on_open, !closed_when_open),
            });
            self.groups.len() - 1
        });
        self.groups[index].contacts.push(part);
        self.group_of.push((part, index as u8));
    }
    fn enumerate(&mut self) {
        let open = StrokePhase { direction: Direction::Down, moved: 0 };
        let begin = StrokePhase { direction: Direction::Up, moved: 0 };
        let mut phases = vec![open, begin];
        let mut next = 0;
        while next < phases.len() {
            let phase = phases[next];
            next += 1;
            let mut reached: Vec<StrokePhase> =
                self.next(phase).into_iter().map(|event| self.after(phase, event)).collect();
            if phase.direction == Direction::Up && (phase.moved & 1 != 0 || self.solenoid.is_some())
            {
                let back = self.turned_back(phase);
                reached.push(back);
                if back.direction == Direction::Short {
                    reached.push(StrokePhase { direction: Direction::Down, ..back });
                }
            }
            for phase in reached {
                if !phases.contains(&phase) {
                    phases.push(phase);
                }
            }
        }
        self.phases = phases;
        let closed = StrokePhase { direction: Direction::Up, moved: self.full() };
        self.closed = self.number(closed);
    }
}

fn follows_stroke(expr: &Expr, breaker: DeviceId) -> Option<bool> {
    match expr {
        Expr::Atom(Atom::Position(device, position)) if *device == breaker => Some(*position == 0),
        Expr::Not(inner) => {
            follows_stroke(inner, breaker).map(|closed_when_open| !closed_when_open)
        }
        _ => None,
    }
}

fn offset(offset: Option<&StrokeOffset>) -> (i64, i64) {
    offset.map_or((0, 0), |offset| (offset.lo, offset.hi))
}

fn latch_time(coil: &Coil) -> (i64, i64) {
    match &coil.goes_after {
        Some(GoesAfter::After(time)) => (time.lo, time.hi),
        Some(GoesAfter::WholeStroke) | None => (0, 0),
    }
}

fn hull(so_far: Option<(i64, i64)>, next: (i64, i64)) -> (i64, i64) {
    so_far.map_or(next, |old| (old.0.min(next.0), old.1.max(next.1)))
}

/// The stroke is what is left of the declared time when the latch has gone. Where latch and
/// total have the same spread their bounds subtract; otherwise the widest stroke that the
/// declared total allows.
fn rest_of(total: &TimeRange, latch: Option<(i64, i64)>) -> (i64, i64) {
    let latch = latch.unwrap_or((0, 0));
    let (lo, hi) = (total.lo - latch.0, total.hi - latch.1);
    if lo <= hi && hi >= 0 {
        (lo.max(0), hi)
    } else {
        ((total.lo - latch.1).max(0), (total.hi - latch.0).max(0))
    }
}
