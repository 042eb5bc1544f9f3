//! Zones against whole ticks on small random devices that act on one another.
//!
//! Two or three components with two or three positions each, up to four clocks, constants 0 to 8. Two
//! searches that share no code have to agree on every place reached, on the verdict, on the fewest events
//! and on where time stops.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod automata;

use automata::{Move, Plant, plant};
use fiftytwo_proof::search::Limits;
use fiftytwo_proof::ticks;
use fiftytwo_proof::timed::{Bound, Exploration, StopKind, TimedOutcome, TimedSpace, Told};
use proptest::prelude::*;
use rustc_hash::FxHashSet;

/// Every wait and every comparison of a story, done with plain numbers.
fn replay(plant: &Plant, story: &Told<Move>) -> Result<Vec<u8>, String> {
    'start: for start in plant.starts() {
        let mut place = start;
        let mut began = [0; automata::CLOCKS];
        let mut now = 0;
        for (at, event) in &story.events {
            if *at < now || (plant.is_urgent(&place) && *at > now) {
                continue 'start;
            }
            let mut bounds = Vec::new();
            plant.invariants(&place, &mut bounds);
            let late = |(clock, most): &(fiftytwo_proof::timed::ClockId, i64)| {
                at - began[usize::from(clock.0)] > *most
            };
            if bounds.iter().any(late) {
                continue 'start;
            }
            now = *at;
            let mut edges = Vec::new();
            plant.edges(&place, &mut edges);
            let Some(edge) = edges.into_iter().find(|edge| edge.event == *event) else {
                continue 'start;
            };
            let holds = |(clock, bound): &(fiftytwo_proof::timed::ClockId, Bound)| {
                let reading = now - began[usize::from(clock.0)];
                match bound {
                    Bound::AtLeast(least) => reading >= *least,
                    Bound::AtMost(most) => reading <= *most,
                }
            };
            if !edge.guards.iter().all(holds) {
                continue 'start;
            }
            let (mut ran, mut runs) = (Vec::new(), Vec::new());
            plant.clocks(&place, &mut ran);
            plant.clocks(&edge.target, &mut runs);
            for clock in runs {
                if !ran.contains(&clock) || edge.resets.contains(&clock) {
                    began[usize::from(clock.0)] = now;
                }
            }
            place = edge.target;
            let mut bounds = Vec::new();
            plant.invariants(&place, &mut bounds);
            if bounds.iter().any(|(clock, most)| now - began[usize::from(clock.0)] > *most) {
                continue 'start;
            }
        }
        return Ok(place);
    }
    Err(format!("no start allows {story:?}"))
}

fn agree(plant: &Plant) -> Result<(), TestCaseError> {
    let limits = Limits::USUAL;
    let mut whole = plant.clone();
    whole.bad = Vec::new();
    let by_ticks = ticks::explore(plant, 1, &limits);
    prop_assert!(by_ticks.limit.is_none());

    let found = Exploration::run(&whole, &limits);
    let reached: FxHashSet<Vec<u8>> = found.reached().cloned().collect();
    prop_assert_eq!(&reached, &by_ticks.places);
    let TimedOutcome::Exhausted { stops, .. } = found.outcome() else {
        return Err(TestCaseError::fail("nothing refutes, yet it did not run dry"));
    };
    for stop in &stops {
        let at = replay(plant, &stop.story).map_err(TestCaseError::fail)?;
        if stop.kind == StopKind::Dead && !by_ticks.dead.contains(&at) {
            // Perhaps only between whole readings: 7 < x < 8. Five steps to each show that.
            let finer = ticks::explore(&plant.scaled(5), 1, &limits);
            prop_assert!(finer.dead.contains(&at), "{:?} not dead by ticks", at);
        }
    }
    if stops.is_empty() {
        prop_assert!(by_ticks.dead.is_empty(), "dead by ticks: {:?}", by_ticks.dead);
    }
    for place in found.reached() {
        let told = found.story_to(place).unwrap();
        prop_assert_eq!(&replay(plant, &told).map_err(TestCaseError::fail)?, place);
    }

    match fiftytwo_proof::timed::explore(plant, &limits) {
        TimedOutcome::Exhausted { .. } => prop_assert_eq!(by_ticks.refuted_after, None),
        TimedOutcome::Refuted { story, .. } => {
            prop_assert_eq!(by_ticks.refuted_after, Some(story.events.len()));
            let at = replay(plant, &story).map_err(TestCaseError::fail)?;
            prop_assert!(plant.refutes(&at));
        }
        other => return Err(TestCaseError::fail(format!("{other:?}"))),
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn zones_reach_what_whole_ticks_reach(plant in plant(false)) {
        agree(&plant)?;
    }

    #[test]
    fn zones_stop_where_whole_ticks_stop(plant in plant(true)) {
        agree(&plant)?;
    }

    #[test]
    fn the_answer_does_not_depend_on_the_threads(plant in plant(false)) {
        let on = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| fiftytwo_proof::timed::explore(&plant, &Limits::USUAL))
        };
        prop_assert_eq!(on(1), on(3));
    }
}
