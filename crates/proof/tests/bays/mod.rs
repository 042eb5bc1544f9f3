//! The breakers of `peers/bays.pml`, once for any order and once with delays.
//!
//! A place is one word, a bit for each variable, in the order of the Promela text. Rules stand in its
//! order too. Delays are from memory and only size the problem.

use fiftytwo_proof::search::Space;
use fiftytwo_proof::timed::{Bound, ClockId, Edge, Extremes, TimedSpace};

/// Which breakers.
#[derive(Clone, Copy, Debug)]
pub struct Bays {
    pub bays: u32,
    /// The spring motor waits for 52Y or for the end of the order.
    pub robust: bool,
    /// 25 stands and the gas is good.
    pub still: bool,
}

/// What moves: the rule, and of which bay.
pub type Event = (Rule, u32);

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    LineTrip,
    BusTrip,
    Permissive,
    Gas,
    LockoutOperates,
    LockoutReset,
    CloseHeld,
    CloseReleased,
    TripHeld,
    TripReleased,
    BreakerCloses,
    BreakerOpens,
    Auxiliary,
    AntiPump,
    SpringCharged,
}

const P21: u32 = 0;
const P87: u32 = 1;
const K86: u32 = 2;
const SYNC: u32 = 3;
const GAS: u32 = 4;
const BAD: u32 = 63;
const FIRST: u32 = 5;
const HC: u32 = 0;
const HT: u32 = 1;
const BRK: u32 = 2;
const AUX: u32 = 3;
const Y: u32 = 4;
const SPRING: u32 = 5;
const DONE: u32 = 6;

fn on(place: u64, bit: u32) -> bool {
    place >> bit & 1 == 1
}

fn set(place: u64, bit: u32, value: bool) -> u64 {
    place & !(1 << bit) | u64::from(value) << bit
}

impl Bays {
    /// Every rule that is open, in order.
    pub fn each(&self, place: u64, mut rule: impl FnMut(Rule, u32, u64)) {
        let is = |bit| on(place, bit);
        rule(Rule::LineTrip, 0, place ^ 1 << P21);
        rule(Rule::BusTrip, 0, place ^ 1 << P87);
        if !self.still {
            rule(Rule::Permissive, 0, place ^ 1 << SYNC);
            rule(Rule::Gas, 0, place ^ 1 << GAS);
        }
        if !is(K86) && is(P87) {
            rule(Rule::LockoutOperates, 0, set(place, K86, true));
        }
        if is(K86) && !is(P87) {
            rule(Rule::LockoutReset, 0, set(place, K86, false));
        }
        for bay in 0..self.bays {
            let at = |variable| FIRST + 7 * bay + variable;
            let has = |variable| is(at(variable));
            let to = |variable, value| set(place, at(variable), value);
            let permits = self.still || is(SYNC) && !is(GAS);
            if !has(HC) && !has(HT) {
                rule(Rule::CloseHeld, bay, set(to(HC, true), at(DONE), false));
            }
            if has(HC) {
                rule(Rule::CloseReleased, bay, set(to(HC, false), at(DONE), false));
            }
            if !has(HC) && !has(HT) {
                rule(Rule::TripHeld, bay, to(HT, true));
            }
            if has(HT) {
                rule(Rule::TripReleased, bay, to(HT, false));
            }
            let close = has(HC) && !is(K86) && permits && !has(AUX) && has(SPRING) && !has(Y);
            if !has(BRK) && close {
                let closed = set(set(to(BRK, true), at(SPRING), false), at(DONE), true);
                rule(Rule::BreakerCloses, bay, set(closed, BAD, is(BAD) || has(DONE)));
            }
            if has(BRK) && has(AUX) && (is(P21) || is(K86) || has(HT)) {
                rule(Rule::BreakerOpens, bay, to(BRK, false));
            }
            if has(AUX) != has(BRK) {
                rule(Rule::Auxiliary, bay, to(AUX, has(BRK)));
            }
            let feed = has(HC) && (has(AUX) || has(Y));
            if has(Y) != feed {
                rule(Rule::AntiPump, bay, to(Y, feed));
            }
            if !has(SPRING) && (!self.robust || has(Y) || !has(HC)) {
                rule(Rule::SpringCharged, bay, to(SPRING, true));
            }
        }
    }
}

impl Space for Bays {
    type Place = u64;
    type Event = Event;
    const WORD: Option<fn(&u64) -> u64> = Some(|place| *place);
    fn starts(&self) -> Vec<u64> {
        vec![0]
    }
    fn steps(&self, place: &u64, out: &mut Vec<(Event, u64)>) {
        self.each(*place, |rule, bay, to| out.push(((rule, bay), to)));
    }
    fn reached(&self, place: &u64, out: &mut Vec<u64>) {
        self.each(*place, |_, _, to| out.push(to));
    }
    fn refutes(&self, place: &u64) -> bool {
        on(*place, BAD)
    }
}

/// The same with delays, each device with one clock that runs while it is driven.
#[derive(Clone, Copy, Debug)]
pub struct TimedBays {
    pub bays: Bays,
    /// Greatest pickup of 52Y, in ms.
    pub anti_pump: i64,
    /// Delays are rounded outward to whole multiples of this, in ms.
    pub tick: i64,
}

const MS: i64 = 1000;

impl TimedBays {
    /// Least and greatest delay, in microseconds.
    fn delay(&self, rule: Rule) -> Option<(i64, i64)> {
        let (least, most) = match rule {
            Rule::BreakerCloses => (50, 60),
            Rule::BreakerOpens => (20, 30),
            Rule::Auxiliary => (5, 10),
            Rule::AntiPump => (10, self.anti_pump),
            Rule::LockoutOperates => (10, 20),
            Rule::SpringCharged => (200, 200),
            _ => return None,
        };
        let rounded = |ms: i64| ms / self.tick * self.tick;
        Some((rounded(least) * MS, rounded(most + self.tick - 1) * MS))
    }

    /// A breaker never closes and opens at once: both moves share its clock.
    fn clock((rule, bay): Event) -> ClockId {
        let kind = match rule {
            Rule::BreakerCloses | Rule::BreakerOpens => 0,
            Rule::Auxiliary => 1,
            Rule::AntiPump => 2,
            Rule::SpringCharged => 3,
            _ => 4,
        };
        ClockId(bay as u16 * 5 + kind)
    }
}

impl TimedSpace for TimedBays {
    type Place = u64;
    type Event = Event;
    fn starts(&self) -> Vec<u64> {
        vec![0]
    }
    fn clocks(&self, place: &u64, out: &mut Vec<ClockId>) {
        self.bays.each(*place, |rule, bay, _| {
            out.extend(self.delay(rule).map(|_| Self::clock((rule, bay))));
        });
    }
    fn invariants(&self, place: &u64, out: &mut Vec<(ClockId, i64)>) {
        self.bays.each(*place, |rule, bay, _| {
            out.extend(self.delay(rule).map(|(_, most)| (Self::clock((rule, bay)), most)));
        });
    }
    fn edges(&self, place: &u64, out: &mut Vec<Edge<Event, u64>>) {
        self.bays.each(*place, |rule, bay, target| {
            let event = (rule, bay);
            let own = self.delay(rule).map(|(least, _)| (Self::clock(event), least));
            out.push(Edge {
                event,
                guards: own.iter().map(|&(clock, least)| (clock, Bound::AtLeast(least))).collect(),
                resets: own.iter().map(|&(clock, _)| clock).collect(),
                target,
            });
        });
    }
    fn extremes(&self, place: &u64, clock: ClockId) -> Extremes {
        let mut extremes = Extremes::UNSEEN;
        self.bays.each(*place, |rule, bay, _| {
            if let Some((lower, upper)) =
                self.delay(rule).filter(|_| Self::clock((rule, bay)) == clock)
            {
                extremes = extremes.join(Extremes { lower, upper });
            }
        });
        extremes
    }
    fn refutes(&self, place: &u64) -> bool {
        on(*place, BAD)
    }
    fn comes_of_itself(&self, event: &Event) -> bool {
        self.delay(event.0).is_some()
    }
}
