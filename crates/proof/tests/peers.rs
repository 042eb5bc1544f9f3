//! Counts and verdicts of independent general-purpose model checkers on the breakers of `peers/bays.pml`.
//! How each figure was come by stands in `peers/README.md`.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod bays;

use bays::{Bays, Rule, TimedBays};
use fiftytwo_proof::search::{Limits, Outcome, Search, Space, search};
use fiftytwo_proof::ticks;
use fiftytwo_proof::timed::{self, TimedOutcome};

const MS: i64 = 1000;

#[test]
fn any_order_reaches_as_many_places_as_the_peers() {
    let counts = [(1, false, 1_664, 11_916), (2, false, 86_528, 849_888)];
    for (bays, still, places, steps) in counts {
        let outcome = search(&Bays { bays, robust: true, still }, &Limits::USUAL);
        assert_eq!(outcome, Outcome::Exhausted { places, steps }, "{bays} bays");
    }
}

/// The same breakers without a word for each place, and their next places only with what happened.
struct Plain(Bays);

impl Space for Plain {
    type Place = u64;
    type Event = <Bays as Space>::Event;
    fn starts(&self) -> Vec<u64> {
        self.0.starts()
    }
    fn steps(&self, place: &u64, out: &mut Vec<(Self::Event, u64)>) {
        self.0.steps(place, out);
    }
    fn refutes(&self, place: &u64) -> bool {
        self.0.refutes(place)
    }
}

#[test]
fn how_places_are_told_apart_and_on_how_many_threads_changes_no_place_and_no_story() {
    for (bays, robust, still) in [(2, true, false), (3, false, true)] {
        let bays = Bays { bays, robust, still };
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
        let words = one.install(|| Search::run(&bays, &Limits::USUAL));
        for pool in [one, two] {
            let again = pool.install(|| Search::run(&bays, &Limits::USUAL));
            assert_eq!((again.places(), again.outcome()), (words.places(), words.outcome()));
            let plain = Plain(bays);
            let plain = pool.install(|| Search::run(&plain, &Limits::USUAL));
            assert_eq!((plain.places(), plain.outcome()), (words.places(), words.outcome()));
            if robust {
                assert!(plain.bytes() <= 24 * plain.places().len(), "{} bytes", plain.bytes());
                assert!(words.bytes() <= 12 * words.places().len(), "{} bytes", words.bytes());
            }
        }
    }
}

#[test]
fn the_shortest_pumping_in_any_order_has_ten_moves_as_the_peers_say() {
    let outcome = search(&Bays { bays: 1, robust: false, still: false }, &Limits::USUAL);
    let Outcome::Refuted { story, .. } = outcome else { panic!("{outcome:?}") };
    assert_eq!(story.len(), 10);
}

fn race(anti_pump: i64, tick: i64) -> TimedBays {
    let bays = Bays { bays: 1, robust: false, still: false };
    TimedBays { bays, anti_pump, tick }
}

#[test]
fn whole_ticks_reach_as_many_states_as_the_peers() {
    let found = ticks::explore(&race(20, 1), 5 * MS, &Limits::USUAL);
    assert_eq!((found.states, found.refuted_after), (414_224, None));
    assert!(found.dead.is_empty());
}

#[test]
fn zones_say_what_the_peers_say_by_ticks() {
    let holds = |space| match timed::explore(&space, &Limits::USUAL) {
        TimedOutcome::Exhausted { stops, .. } => {
            assert_eq!(stops, []);
            true
        }
        TimedOutcome::Refuted { .. } => false,
        other => panic!("{other:?}"),
    };
    assert!(holds(race(20, 1)), "52Y 10 to 20 ms holds at ticks of 5 and 2 ms");
    assert!(!holds(race(40, 1)), "52Y 10 to 40 ms fails");
    assert!(!holds(race(20, 10)), "rounded to ticks of 10 ms: the false alarm");
}

#[test]
fn the_story_of_the_race_has_times_that_keep_every_delay() {
    let outcome = timed::explore(&race(40, 1), &Limits::USUAL);
    let TimedOutcome::Refuted { story, .. } = outcome else { panic!("{outcome:?}") };
    let at = |rule: Rule, nth: usize| {
        story.events.iter().filter(|(_, event)| event.0 == rule).nth(nth).unwrap().0
    };
    assert_eq!(story.events.last().unwrap().1.0, Rule::BreakerCloses);
    let stood = at(Rule::Auxiliary, 1) - at(Rule::Auxiliary, 0);
    assert!((25 * MS..=40 * MS).contains(&stood), "52a stood for {stood} us: 52Y did not pick");
    assert!(story.events.windows(2).all(|w| w[0].0 <= w[1].0));
    assert_eq!(story.ties, 0, "{:?}", story.events);
}
