//! Zones against every whole reading in a small box, tried one by one.
//!
//! The readings are the check: nothing of the matrix is used to say what a set holds. Whole readings
//! suffice because closed whole bounds have whole corners.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_proof::zone::{Extremes, Zone, is_covered};
use proptest::prelude::*;
use std::collections::BTreeSet;

const CLOCKS: usize = 3;
/// Readings 0 to EDGE - 1 are tried; bounds stay well below, so that EDGE stands for "any later".
const EDGE: i64 = 14;

#[derive(Clone, Debug)]
enum Act {
    Upper(usize, i64),
    Lower(usize, i64),
    Difference(usize, usize, i64),
    Delay,
    Reset(usize),
}

fn act() -> impl Strategy<Value = Act> {
    let clock = 1..=CLOCKS;
    prop_oneof![
        (clock.clone(), 0..6i64).prop_map(|(c, b)| Act::Upper(c, b)),
        (clock.clone(), 0..5i64).prop_map(|(c, b)| Act::Lower(c, b)),
        (clock.clone(), clock.clone(), -4..5i64).prop_map(|(a, b, d)| Act::Difference(a, b, d)),
        Just(Act::Delay),
        Just(Act::Delay),
        clock.prop_map(Act::Reset),
    ]
}

type Readings = Vec<i64>;

fn all_readings() -> Vec<Readings> {
    (0..EDGE.pow(CLOCKS as u32))
        .map(|n| (0..CLOCKS as u32).map(|k| n / EDGE.pow(k) % EDGE).collect())
        .collect()
}

fn play(acts: &[Act]) -> (Zone, BTreeSet<Readings>) {
    let mut zone = Zone::zero(CLOCKS);
    let mut set: BTreeSet<Readings> = BTreeSet::from([vec![0; CLOCKS]]);
    for act in acts {
        match *act {
            Act::Upper(c, b) => {
                zone.constrain_upper(c, b);
                set.retain(|r| r[c - 1] <= b);
            }
            Act::Lower(c, b) => {
                zone.constrain_lower(c, b);
                set.retain(|r| r[c - 1] >= b);
            }
            Act::Difference(a, b, _) if a == b => {}
            Act::Difference(a, b, d) => {
                zone.constrain_difference(a, b, d);
                set.retain(|r| r[a - 1] - r[b - 1] <= d);
            }
            Act::Delay => {
                zone.delay();
                set = set
                    .iter()
                    .flat_map(|r| {
                        (0..EDGE)
                            .map(move |t| r.iter().map(|x| x + t).collect::<Readings>())
                            .take_while(|r| r.iter().all(|&x| x < EDGE))
                    })
                    .collect();
            }
            Act::Reset(c) => {
                zone.reset(c);
                set = set
                    .into_iter()
                    .map(|mut r| {
                        r[c - 1] = 0;
                        r
                    })
                    .collect();
            }
        }
    }
    (zone, set)
}

/// A reading beyond the box cannot be tried, and a clock put back to zero after leaving it would be
/// missed: runs in which a clock may have left the box before a reset are left out.
fn stays_in_the_box(acts: &[Act]) -> bool {
    let mut zone = Zone::zero(CLOCKS);
    for act in acts {
        match *act {
            Act::Upper(c, b) => _ = zone.constrain_upper(c, b),
            Act::Lower(c, b) => _ = zone.constrain_lower(c, b),
            Act::Difference(a, b, d) if a != b => _ = zone.constrain_difference(a, b, d),
            Act::Difference(..) => {}
            Act::Delay => zone.delay(),
            Act::Reset(c) => {
                if !zone.is_empty() && zone.range(c).1.is_none_or(|most| most >= EDGE) {
                    return false;
                }
                zone.reset(c);
            }
        }
    }
    true
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, max_global_rejects: 100_000, ..ProptestConfig::default() })]

    #[test]
    fn a_zone_holds_exactly_the_readings_that_happen(acts in prop::collection::vec(act(), 0..9)) {
        prop_assume!(stays_in_the_box(&acts));
        let (zone, set) = play(&acts);
        for readings in all_readings() {
            prop_assert_eq!(zone.contains(&readings), set.contains(&readings), "{:?} {:?}", readings, zone);
        }
        prop_assert_eq!(zone.is_empty(), set.is_empty());
    }

    #[test]
    fn every_bound_of_a_zone_is_met_by_a_reading(acts in prop::collection::vec(act(), 0..9)) {
        prop_assume!(stays_in_the_box(&acts));
        let (zone, set) = play(&acts);
        prop_assume!(!zone.is_empty());
        for i in 0..=CLOCKS {
            for j in 0..=CLOCKS {
                let value = |r: &Readings, k: usize| if k == 0 { 0 } else { r[k - 1] };
                let greatest = set.iter().map(|r| value(r, i) - value(r, j)).max().unwrap();
                if let Some(bound) = zone.difference(i, j).filter(|b| b.abs() < 8) {
                    prop_assert_eq!(bound, greatest, "{} {} {:?}", i, j, zone);
                }
            }
        }
    }

    #[test]
    fn a_zone_includes_another_when_it_holds_all_its_readings(
        a in prop::collection::vec(act(), 0..7), b in prop::collection::vec(act(), 0..7),
    ) {
        prop_assume!(stays_in_the_box(&a) && stays_in_the_box(&b));
        let ((one, ones), (two, twos)) = (play(&a), play(&b));
        prop_assert_eq!(one.includes(&two), twos.is_subset(&ones));
    }

    /// Widening forgets only what no comparison up to the extremes can see: the same runs of comparisons
    /// and resets stay possible, no more and no fewer.
    #[test]
    fn widening_changes_nothing_that_can_be_compared(
        acts in prop::collection::vec(act(), 0..8),
        later in prop::collection::vec(act(), 0..6),
    ) {
        let later: Vec<Act> =
            later.into_iter().filter(|act| !matches!(act, Act::Difference(..))).collect();
        let mut extremes = vec![Extremes::UNSEEN; CLOCKS];
        for act in &later {
            match *act {
                Act::Upper(c, b) => extremes[c - 1].upper = extremes[c - 1].upper.max(b),
                Act::Lower(c, b) => extremes[c - 1].lower = extremes[c - 1].lower.max(b),
                _ => {}
            }
        }
        let go = |mut zone: Zone, widen: bool| {
            let mut open = vec![!zone.is_empty()];
            for act in &later {
                if widen {
                    zone.widen(&extremes);
                }
                match *act {
                    Act::Upper(c, b) => _ = zone.constrain_upper(c, b),
                    Act::Lower(c, b) => _ = zone.constrain_lower(c, b),
                    Act::Delay => zone.delay(),
                    Act::Reset(c) => zone.reset(c),
                    Act::Difference(..) => {}
                }
                open.push(!zone.is_empty());
            }
            open
        };
        let (zone, _) = play(&acts);
        let mut wide = zone.clone();
        wide.widen(&extremes);
        prop_assert!(wide.includes(&zone));
        prop_assert_eq!(go(zone, false), go(wide, true));
    }

    #[test]
    fn covered_means_that_every_reading_is_in_some_part(
        whole in prop::collection::vec(act(), 0..5),
        parts in prop::collection::vec(prop::collection::vec(act(), 0..6), 0..4),
    ) {
        prop_assume!(stays_in_the_box(&whole) && parts.iter().all(|part| stays_in_the_box(part)));
        let (zone, set) = play(&whole);
        let played: Vec<_> = parts.iter().map(|part| play(part)).collect();
        let zones: Vec<Zone> = played.iter().map(|(zone, _)| zone.clone()).collect();
        let all_in = set.iter().all(|r| played.iter().any(|(_, part)| part.contains(r)));
        // Whole readings can only show that something is left; what lies between them is tried below.
        prop_assert!(all_in || !is_covered(&zone, &zones));
    }
}

#[test]
fn a_gap_between_whole_readings_is_seen() {
    let mut whole = Zone::anything(1);
    whole.constrain_upper(1, 9);
    let part = |from, to| {
        let mut zone = Zone::anything(1);
        zone.constrain_lower(1, from);
        zone.constrain_upper(1, to);
        zone
    };
    assert!(is_covered(&whole, &[part(0, 3), part(3, 9)]));
    assert!(!is_covered(&whole, &[part(0, 3), part(4, 9)]));
    assert!(is_covered(&whole, &[part(5, 9), part(2, 6), part(0, 2)]));
}

#[test]
fn a_gap_that_needs_two_different_fractions_is_seen() {
    // 0 < y < x < 1: no half shows it, thirds do.
    let mut whole = Zone::anything(2);
    whole.constrain_upper(1, 1);
    whole.constrain_difference(2, 1, 0);
    let part = |i, j, bound| {
        let mut zone = Zone::anything(2);
        zone.constrain_difference(i, j, bound);
        zone
    };
    let (low_y, same, high_x) = (part(2, 0, 0), part(1, 2, 0), part(0, 1, -1));
    assert!(!is_covered(&whole, &[low_y, same, high_x]));
}

#[test]
fn clocks_come_and_go() {
    let mut zone = Zone::zero(1);
    zone.delay();
    zone.constrain_upper(1, 5);
    zone.add();
    zone.delay();
    zone.constrain_lower(2, 3);
    assert_eq!(zone.range(1), (3, None));
    assert_eq!(zone.difference(1, 2), Some(5));
    zone.drop_clock(1);
    assert_eq!(zone.clocks(), 1);
    assert_eq!(zone.range(1), (3, None));
}

#[test]
fn nothing_left_stays_nothing() {
    let mut zone = Zone::zero(2);
    assert!(!zone.constrain_lower(1, 1));
    zone.delay();
    zone.reset(2);
    zone.add();
    zone.widen(&[Extremes::UNSEEN; 3]);
    assert!(zone.is_empty());
    assert!(!zone.contains(&[0, 0, 0]));
    assert!(Zone::zero(3).includes(&zone));
}
