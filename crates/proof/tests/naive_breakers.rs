//! Random schemes with a breaker: verdicts, shortest stories and counts against the plain explorer in
//! `naive`, which shares nothing with the program.

#![allow(dead_code, reason = "the explorer is shared with other tests")]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod naive;
mod schemes;

use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::Scope;
use fiftytwo_proof::monitor::Monitor;
use fiftytwo_proof::search::{Limits, Outcome, Space, search};
use fiftytwo_proof::space::{ANY_NUMBER, Place, Product, Step};
use fiftytwo_scheme::Scheme;
use naive::{Kind, bay};
use proptest::prelude::*;
use schemes::{all, device, scheme};

/// The same space with nothing wrong in it.
struct Whole<'a, 'm, 's>(&'a Product<'m, 's>);

impl Space for Whole<'_, '_, '_> {
    type Place = Place;
    type Event = Step;
    fn starts(&self) -> Vec<Place> {
        Space::starts(self.0)
    }
    fn steps(&self, place: &Place, out: &mut Vec<(Step, Place)>) {
        self.0.steps(place, out);
    }
    fn refutes(&self, _place: &Place) -> bool {
        false
    }
}

/// Positions with the claim's memory, and after how many moves it is broken, in any order.
fn asked(scheme: &Scheme, monitor: &Monitor) -> (usize, Option<usize>) {
    let machine = Machine::new(scheme).unwrap();
    let scope = Scope::whole(&machine);
    let starts = [machine.drawn()];
    let product = Product::new(&machine, &scope, monitor, &starts, false, ANY_NUMBER).unwrap();
    let Outcome::Exhausted { places, .. } = search(&Whole(&product), &Limits::USUAL) else {
        panic!("more than the limit")
    };
    match search(&product, &Limits::USUAL) {
        Outcome::Exhausted { .. } => (places, None),
        Outcome::Refuted { story, .. } => (places, Some(story.len())),
        other => panic!("{other:?}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn a_breaker_pumps_after_as_many_moves_as_the_plain_explorer_needs(plan in bay(2, 2)) {
        let scheme = scheme(&plan.text());
        let monitor = Monitor::ClosesTwice {
            breaker: device(&scheme, &plan.name(plan.devices.len() - 1)),
            union: all(&scheme, &[(&plan.name(0), 1)]),
        };
        prop_assert_eq!(asked(&scheme, &monitor), plan.pumps());
    }

    #[test]
    fn without_relays_a_breaker_that_stays_closed_is_found(plan in bay(3, 0)) {
        let scheme = scheme(&plan.text());
        let buttons = plan.devices.iter().filter(|kind| **kind == Kind::Button).count();
        let monitor = Monitor::StaysClosed {
            breaker: device(&scheme, &plan.name(plan.devices.len() - 1)),
            trip: all(&scheme, &[(&plan.name(1.min(buttons - 1)), 1)]),
        };
        prop_assert_eq!(asked(&scheme, &monitor).1, plan.stays_closed());
    }

    #[test]
    fn with_relays_a_breaker_that_stays_closed_is_found(plan in bay(3, 2)) {
        let scheme = scheme(&plan.text());
        let buttons = plan.devices.iter().filter(|kind| **kind == Kind::Button).count();
        let monitor = Monitor::StaysClosed {
            breaker: device(&scheme, &plan.name(plan.devices.len() - 1)),
            trip: all(&scheme, &[(&plan.name(1.min(buttons - 1)), 1)]),
        };
        prop_assert_eq!(asked(&scheme, &monitor).1, plan.stays_closed());
    }
}
