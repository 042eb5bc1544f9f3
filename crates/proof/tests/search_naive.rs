//! Random small schemes: the program, from text to verdict, against the plain explorer in `naive`.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod naive;
mod schemes;

use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::Scope;
use fiftytwo_proof::monitor::Monitor;
use fiftytwo_proof::search::{Limits, Outcome};
use fiftytwo_proof::space::{ANY_NUMBER, Product};
use fiftytwo_proof::ticks;
use fiftytwo_proof::timed::{self, StopKind, TimedOutcome};
use naive::{Plan, plan};
use proptest::prelude::*;
use schemes::{all, any_order, nothing, scheme};

/// A plan, and devices that must never all be in their other position.
fn asked(buttons: usize, relays: usize) -> impl Strategy<Value = (Plan, Vec<usize>)> {
    plan(buttons, relays).prop_flat_map(|plan| {
        let moving = 1..plan.devices.len();
        (Just(plan), prop::collection::vec(moving, 1..=3))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    #[test]
    fn any_order_finds_what_the_plain_explorer_finds((plan, wrong) in asked(3, 3)) {
        let (positions, first) = plan.explore(&wrong);
        let scheme = scheme(&plan.text());
        let found = any_order(&scheme, nothing(&scheme));
        let Outcome::Exhausted { places, .. } = found.outcome else {
            return Err(TestCaseError::fail(format!("{:?}", found.outcome)));
        };
        prop_assert_eq!(places, positions.len());
        let names: Vec<String> = wrong.iter().map(|&device| plan.name(device)).collect();
        let never: Vec<(&str, u8)> = names.iter().map(|name| (name.as_str(), 1)).collect();
        match any_order(&scheme, all(&scheme, &never)).outcome {
            Outcome::Exhausted { .. } => prop_assert_eq!(first, None),
            Outcome::Refuted { story, .. } => prop_assert_eq!(first, Some(story.len())),
            other => return Err(TestCaseError::fail(format!("{other:?}"))),
        }
    }

    /// What no order breaks no times break; and zones agree with whole ticks on real schemes too.
    #[test]
    fn within_tolerances_agrees_with_any_order_and_with_ticks((plan, wrong) in asked(1, 2)) {
        let scheme = scheme(&plan.text());
        let machine = Machine::new(&scheme).unwrap();
        let scope = Scope::whole(&machine);
        let names: Vec<String> = wrong.iter().map(|&device| plan.name(device)).collect();
        let never: Vec<(&str, u8)> = names.iter().map(|name| (name.as_str(), 1)).collect();
        let monitor = Monitor::Holds { what: all(&scheme, &never) };
        let starts = [machine.drawn()];
        let product = Product::new(&machine, &scope, &monitor, &starts, true, ANY_NUMBER).unwrap();
        let limits = Limits { places: 60_000, ..Limits::USUAL };
        let by_ticks = ticks::explore(&product, 500, &limits);
        let (_, any) = plan.explore(&wrong);
        match timed::explore(&product, &limits) {
            TimedOutcome::Exhausted { stops, .. } => {
                prop_assert!(by_ticks.limit.is_some() || by_ticks.refuted_after.is_none());
                if by_ticks.limit.is_none() {
                    let dead = stops.iter().any(|stop| stop.kind == StopKind::Dead);
                    prop_assert_eq!(dead, !by_ticks.dead.is_empty());
                }
            }
            TimedOutcome::Refuted { story, .. } => {
                prop_assert!(any.is_some(), "broken in time, yet not in any order: {:?}", story);
                if by_ticks.limit.is_none() {
                    prop_assert_eq!(by_ticks.refuted_after, Some(story.events.len()));
                }
            }
            other => return Err(TestCaseError::fail(format!("{other:?}"))),
        }
    }
}
