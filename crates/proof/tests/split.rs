//! Bays that share only inputs, one at a time: as many places and steps as of all searched together.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

#[allow(dead_code, reason = "only the untimed half is used here")]
mod bays;

use bays::{Bays, Rule};
use fiftytwo_proof::search::{Limits, Outcome, search};
use fiftytwo_proof::split::{Count, Parts, search_parts};

/// A bay's place beside the shared inputs, which are its last five bits.
struct Apart {
    bays: usize,
    robust: bool,
    /// A bus trip that was given never goes again.
    stays: bool,
}

const INPUTS: u64 = 31;

impl Apart {
    fn one(&self) -> Bays {
        Bays { bays: 1, robust: self.robust, still: false }
    }
}

impl Parts for Apart {
    type Shared = u64;
    type Own = u64;
    type Event = Rule;
    fn parts(&self) -> usize {
        self.bays
    }
    fn start(&self, _: usize) -> (u64, u64) {
        (0, 0)
    }
    fn shared_steps(&self, shared: &u64, out: &mut Vec<(Rule, u64)>) {
        self.one().each(*shared, |rule, _, to| {
            let goes_back = rule == Rule::BusTrip && to < *shared;
            if rule <= Rule::LockoutReset && !(self.stays && goes_back) {
                out.push((rule, to));
            }
        });
    }
    fn own_steps(&self, _: usize, shared: &u64, own: &u64, out: &mut Vec<(Rule, u64)>) {
        self.one().each(shared | own, |rule, _, to| {
            if rule > Rule::LockoutReset {
                out.push((rule, to & !INPUTS));
            }
        });
    }
    fn refutes(&self, _: usize, _: &u64, own: &u64) -> bool {
        own >> 63 == 1
    }
}

fn apart(bays: usize) -> Count {
    search_parts(&Apart { bays, robust: true, stays: false }, &Limits::USUAL).count
}

/// One and two: spin 6.5.2, see `peers/README.md`. Three and four: NuSMV 2.5.4 and a library of decision
/// diagrams, counted on the same rules.
#[test]
fn bays_one_at_a_time_have_as_many_places_as_the_peers_count_of_all_together() {
    let counts = [
        (1, 1_664, 11_916),
        (2, 86_528, 849_888),
        (3, 4_499_456, 56_167_488),
        (4, 233_971_712, 3_543_321_600),
    ];
    for (bays, places, steps) in counts {
        assert_eq!(apart(bays), Count::All { places, steps }, "{bays} bays");
    }
}

#[test]
fn bays_one_at_a_time_have_as_many_places_as_our_own_search_of_all_together() {
    for bays in 1..=3 {
        let together = search(&Bays { bays, robust: true, still: false }, &Limits::USUAL);
        let Outcome::Exhausted { places, steps } = together else { panic!("{together:?}") };
        let (places, steps) = (places as u128, steps as u128);
        assert_eq!(apart(bays as usize), Count::All { places, steps }, "{bays} bays");
    }
}

#[test]
fn a_bay_that_pumps_is_told_by_ten_moves_and_nothing_is_counted() {
    let joint = search_parts(&Apart { bays: 2, robust: false, stays: false }, &Limits::USUAL);
    assert_eq!(joint.count, Count::NotAllSeen);
    for outcome in joint.parts {
        let Outcome::Refuted { story, .. } = outcome else { panic!("{outcome:?}") };
        assert_eq!(story.len(), 10);
    }
}

#[test]
fn inputs_that_do_not_come_back_give_no_count() {
    let joint = search_parts(&Apart { bays: 2, robust: true, stays: true }, &Limits::USUAL);
    assert_eq!(joint.count, Count::InputsDoNotReturn);
}

#[test]
fn more_places_than_a_number_holds_are_said_so() {
    assert_eq!(apart(40), Count::TooMany);
}

#[test]
fn a_limit_on_a_part_gives_no_count() {
    let limits = Limits { places: 1000, ..Limits::USUAL };
    let joint = search_parts(&Apart { bays: 2, robust: true, stays: false }, &limits);
    assert_eq!(joint.count, Count::NotAllSeen);
}
