//! Where time stops, and the times of a story: small cases told in words.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod schemes;

use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::Scope;
use fiftytwo_proof::monitor::Monitor;
use fiftytwo_proof::search::{Limits, Which};
use fiftytwo_proof::space::{ANY_NUMBER, Product};
use fiftytwo_proof::timed::{
    Bound, ClockId, Edge, Extremes, Stop, StopKind, TimedOutcome, TimedSpace, Told, explore,
};
use schemes::{nothing, scheme};
use std::time::Instant;

type Act = (&'static str, u8, u8, Vec<(u16, Bound)>, Vec<u16>);

/// Places 0, 1, … with bounds on staying and acts between them; all clocks run everywhere.
#[derive(Default)]
struct Few {
    clocks: u16,
    stay: Vec<(u8, u16, i64)>,
    urgent: Vec<u8>,
    acts: Vec<Act>,
    persons: Vec<&'static str>,
    wrong: Option<u8>,
}

impl TimedSpace for Few {
    type Place = u8;
    type Event = &'static str;
    fn starts(&self) -> Vec<u8> {
        vec![0]
    }
    fn clocks(&self, _: &u8, out: &mut Vec<ClockId>) {
        out.extend((0..self.clocks).map(ClockId));
    }
    fn invariants(&self, place: &u8, out: &mut Vec<(ClockId, i64)>) {
        let here = self.stay.iter().filter(|(at, ..)| at == place);
        out.extend(here.map(|&(_, clock, most)| (ClockId(clock), most)));
    }
    fn is_urgent(&self, place: &u8) -> bool {
        self.urgent.contains(place)
    }
    fn edges(&self, place: &u8, out: &mut Vec<Edge<&'static str, u8>>) {
        for (event, from, target, guards, resets) in &self.acts {
            if from == place {
                out.push(Edge {
                    event,
                    guards: guards.iter().map(|&(clock, bound)| (ClockId(clock), bound)).collect(),
                    resets: resets.iter().map(|&clock| ClockId(clock)).collect(),
                    target: *target,
                });
            }
        }
    }
    fn extremes(&self, _: &u8, _: ClockId) -> Extremes {
        Extremes { lower: 100_000, upper: 100_000 }
    }
    fn refutes(&self, place: &u8) -> bool {
        self.wrong == Some(*place)
    }
    fn comes_of_itself(&self, event: &&'static str) -> bool {
        !self.persons.contains(event)
    }
}

fn stops(space: &Few) -> Vec<Stop<&'static str>> {
    match explore(space, &Limits::USUAL) {
        TimedOutcome::Exhausted { stops, .. } => stops,
        other => panic!("{other:?}"),
    }
}

fn story(space: &Few) -> Told<&'static str> {
    match explore(space, &Limits::USUAL) {
        TimedOutcome::Refuted { story, .. } => story,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_bound_that_nothing_answers_stops_time() {
    let space = Few {
        clocks: 1,
        stay: vec![(1, 0, 50)],
        acts: vec![("in", 0, 1, vec![], vec![0])],
        ..Few::default()
    };
    let stops = stops(&space);
    assert_eq!(stops.len(), 1);
    assert_eq!(stops[0].kind, StopKind::Dead);
    assert_eq!(stops[0].story.events.last().unwrap().1, "in");
}

#[test]
fn a_person_need_not_act_before_a_bound() {
    let mut space = Few {
        clocks: 1,
        stay: vec![(0, 0, 50)],
        acts: vec![("out", 0, 1, vec![], vec![])],
        persons: vec!["out"],
        ..Few::default()
    };
    assert_eq!(stops(&space)[0].kind, StopKind::Dead);
    space.persons.clear();
    assert_eq!(stops(&space), []);
}

#[test]
fn an_answer_that_comes_too_late_for_some_readings_stops_time() {
    // At clock 0 = 50 the way out needs clock 1 >= 30; entered late, clock 1 is behind.
    let space = Few {
        clocks: 2,
        stay: vec![(1, 0, 50)],
        acts: vec![
            ("in", 0, 1, vec![(0, Bound::AtMost(25))], vec![1]),
            ("out", 1, 2, vec![(1, Bound::AtLeast(30))], vec![]),
        ],
        ..Few::default()
    };
    assert_eq!(stops(&space)[0].kind, StopKind::Dead);
    let mut early = space;
    early.acts[0].3 = vec![(0, Bound::AtMost(20))];
    assert_eq!(stops(&early), []);
}

#[test]
fn moves_without_time_for_ever_stop_time() {
    let space = Few {
        clocks: 1,
        urgent: vec![1, 2],
        acts: vec![
            ("press", 0, 1, vec![], vec![]),
            ("up", 1, 2, vec![], vec![]),
            ("down", 2, 1, vec![], vec![]),
        ],
        persons: vec!["press"],
        ..Few::default()
    };
    assert!(stops(&space).iter().all(|stop| stop.kind == StopKind::Endless));
    assert_eq!(stops(&space).len(), 2);
    let mut ends = space;
    ends.acts.push(("rest", 2, 0, vec![], vec![]));
    assert_eq!(stops(&ends), []);
}

/// A relay that cuts its own coil, without delay: no millisecond ever passes, and whatever is claimed of
/// later would hold. With a delay it only buzzes.
#[test]
fn a_buzzer_without_delay_stops_time() {
    let buzzer = |time: &str| {
        let text = format!(
            "scheme \"Buzzer\"\nplace \"PANEL\" \"Panel\"\n\
             supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" resistance=\"20 mohm\" place=\"PANEL\"\n\
             relay \"K1\" place=\"PANEL\" {{\n    coil resistance=\"2400 ohm\" works=\"85 to 140 V\" \
             pickup=\"60 to 80 V\" dropout=\"15 to 45 V\" pickup-time=\"{time}\" dropout-time=\"{time}\"\n    \
             contact \"b1\" closed-when=\"dropped out\"\n}}\n\
             circuit \"C\" supply=\"DC1\" {{\n    feed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\n    \
             return {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n    \
             leg \"Buzzer\" {{ contact \"K1\" \"b1\"; coil \"K1\" }}\n}}\n"
        );
        let scheme = scheme(&text);
        let machine = Machine::new(&scheme).unwrap();
        let scope = Scope::whole(&machine);
        let monitor = Monitor::Holds { what: nothing(&scheme) };
        let starts = [machine.drawn()];
        let product = Product::new(&machine, &scope, &monitor, &starts, true, ANY_NUMBER).unwrap();
        match explore(&product, &Limits::USUAL) {
            TimedOutcome::Exhausted { stops, .. } => {
                stops.into_iter().map(|s| s.kind).collect::<Vec<_>>()
            }
            other => panic!("{other:?}"),
        }
    };
    assert!(buzzer("0 to 0 ms").contains(&StopKind::Endless));
    assert_eq!(buzzer("1 to 1 ms"), []);
    assert_eq!(buzzer("5 to 9 ms"), []);
}

#[test]
fn a_story_keeps_every_bound_and_leaves_room_where_there_is() {
    // Two devices start together: one moves in 10 to 20 ms, the other in 15 to 30 ms, and must be second.
    let space = Few {
        clocks: 1,
        stay: vec![(0, 0, 20_000), (1, 0, 30_000)],
        acts: vec![
            ("first", 0, 1, vec![(0, Bound::AtLeast(10_000))], vec![]),
            ("second", 1, 2, vec![(0, Bound::AtLeast(15_000))], vec![]),
        ],
        wrong: Some(2),
        ..Few::default()
    };
    let story = story(&space);
    assert_eq!(story.events, [(10_000, "first"), (15_000, "second")]);
    assert_eq!(story.ties, 0);
}

#[test]
fn a_story_that_hangs_on_a_coincidence_says_so() {
    let space = Few {
        clocks: 1,
        stay: vec![(0, 0, 10_000), (1, 0, 10_000)],
        acts: vec![
            ("one", 0, 1, vec![(0, Bound::AtLeast(10_000))], vec![]),
            ("other", 1, 2, vec![(0, Bound::AtLeast(10_000))], vec![]),
        ],
        wrong: Some(2),
        ..Few::default()
    };
    let story = story(&space);
    assert_eq!(story.events, [(10_000, "one"), (10_000, "other")]);
    assert_eq!(story.ties, 1);
}

#[test]
fn of_two_shortest_stories_the_one_without_a_coincidence_is_told() {
    let space = Few {
        clocks: 1,
        stay: vec![(1, 0, 10_000)],
        acts: vec![
            ("tie", 0, 1, vec![(0, Bound::AtLeast(10_000)), (0, Bound::AtMost(10_000))], vec![]),
            ("end", 1, 9, vec![], vec![]),
            ("free", 0, 2, vec![(0, Bound::AtLeast(20_000))], vec![]),
            ("end", 2, 9, vec![], vec![]),
        ],
        wrong: Some(9),
        ..Few::default()
    };
    let story = story(&space);
    assert_eq!(story.events, [(20_000, "free"), (21_000, "end")]);
    assert_eq!(story.ties, 0);
}

#[test]
fn what_is_out_of_reach_in_time_is_not_reached() {
    let mut space = Few {
        clocks: 2,
        stay: vec![(0, 0, 10_000), (1, 0, 25_000)],
        acts: vec![
            ("begin", 0, 1, vec![(0, Bound::AtLeast(10_000))], vec![1]),
            ("late", 1, 2, vec![(1, Bound::AtLeast(15_001))], vec![]),
            ("out", 1, 3, vec![(0, Bound::AtLeast(25_000))], vec![]),
        ],
        wrong: Some(2),
        ..Few::default()
    };
    assert_eq!(stops(&space), []);
    space.acts[1].3 = vec![(1, Bound::AtLeast(15_000))];
    assert_eq!(story(&space).events, [(10_000, "begin"), (25_000, "late")]);
}

#[test]
fn a_limit_is_never_a_pass() {
    let space = Few {
        clocks: 1,
        acts: vec![("a", 0, 1, vec![], vec![0]), ("b", 1, 2, vec![], vec![0])],
        ..Few::default()
    };
    let which = |limits: Limits<'_>| match explore(&space, &limits) {
        TimedOutcome::Limit { which, .. } => which,
        other => panic!("{other:?}"),
    };
    assert_eq!(which(Limits { places: 1, ..Limits::USUAL }), Which::Places);
    assert_eq!(which(Limits { bytes: 1, ..Limits::USUAL }), Which::Bytes);
    assert_eq!(which(Limits { deadline: Some(Instant::now()), ..Limits::USUAL }), Which::Time);
    let stop = std::sync::atomic::AtomicBool::new(true);
    assert_eq!(which(Limits { stop: Some(&stop), ..Limits::USUAL }), Which::Stopped);
}
