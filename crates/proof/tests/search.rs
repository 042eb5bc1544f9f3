//! The search in any order: counts known beforehand, shortest stories, limits, threads.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_proof::search::{Limits, Outcome, Search, Space, Which, search};
use proptest::prelude::*;
use std::collections::{BTreeMap, VecDeque};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

/// `n` switches that anybody may turn; wrong is all on.
struct Switches {
    n: u32,
    wrong: Option<u64>,
}

impl Space for Switches {
    type Place = u64;
    type Event = u32;
    fn starts(&self) -> Vec<u64> {
        vec![0]
    }
    fn steps(&self, place: &u64, out: &mut Vec<(u32, u64)>) {
        out.extend((0..self.n).map(|k| (k, place ^ (1 << k))));
    }
    fn refutes(&self, place: &u64) -> bool {
        Some(*place) == self.wrong
    }
}

#[test]
fn n_switches_have_two_to_the_n_places() {
    for n in [0, 1, 5, 13] {
        let outcome = search(&Switches { n, wrong: None }, &Limits::USUAL);
        let places = 1 << n;
        assert_eq!(outcome, Outcome::Exhausted { places, steps: places * n as usize });
    }
}

#[test]
fn the_story_is_as_short_as_can_be_and_the_first_of_its_length() {
    let outcome = search(&Switches { n: 14, wrong: Some(0b10_0100_0001_0001) }, &Limits::USUAL);
    let Outcome::Refuted { story, .. } = outcome else { panic!("{outcome:?}") };
    assert_eq!(story, [0, 4, 10, 13]);
}

#[test]
fn a_wrong_start_is_a_story_of_no_events() {
    let outcome = search(&Switches { n: 3, wrong: Some(0) }, &Limits::USUAL);
    assert_eq!(outcome, Outcome::Refuted { story: vec![], places: 1, steps: 0 });
}

#[test]
fn the_answer_does_not_depend_on_the_threads() {
    let on = |threads: usize, wrong| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| search(&Switches { n: 15, wrong }, &Limits::USUAL))
    };
    for wrong in [None, Some(0x5aa5 & 0x7fff), Some(0x7fff)] {
        assert_eq!(on(1, wrong), on(2, wrong));
        assert_eq!(on(1, wrong), on(5, wrong));
    }
}

#[test]
fn a_limit_is_never_a_pass() {
    let space = Switches { n: 20, wrong: None };
    let which = |limits: Limits<'_>| match search(&space, &limits) {
        Outcome::Limit { which, .. } => which,
        other => panic!("{other:?}"),
    };
    assert_eq!(which(Limits { places: 1000, ..Limits::USUAL }), Which::Places);
    assert_eq!(which(Limits { bytes: 100_000, ..Limits::USUAL }), Which::Bytes);
    assert_eq!(which(Limits { deadline: Some(Instant::now()), ..Limits::USUAL }), Which::Time);
    let stop = AtomicBool::new(true);
    assert_eq!(which(Limits { stop: Some(&stop), ..Limits::USUAL }), Which::Stopped);
}

#[test]
fn exactly_as_many_places_as_allowed_is_no_limit() {
    let space = Switches { n: 10, wrong: None };
    let limits = Limits { places: 1024, ..Limits::USUAL };
    assert!(matches!(search(&space, &limits), Outcome::Exhausted { places: 1024, .. }));
    let limits = Limits { places: 1023, ..Limits::USUAL };
    assert!(matches!(search(&space, &limits), Outcome::Limit { which: Which::Places, .. }));
}

/// Places are told apart by words or by comparing them.
#[derive(Clone, Debug)]
struct Graph<const WORDS: bool> {
    arcs: Vec<(u8, u8)>,
    wrong: u8,
}

impl<const WORDS: bool> Space for Graph<WORDS> {
    type Place = u8;
    type Event = usize;
    const WORD: Option<fn(&u8) -> u64> = if WORDS {
        Some(|place| u64::from(*place).wrapping_mul(0x0123_4567_89ab_cdef))
    } else {
        None
    };
    fn starts(&self) -> Vec<u8> {
        vec![0, 1]
    }
    fn steps(&self, place: &u8, out: &mut Vec<(usize, u8)>) {
        let leaving = self.arcs.iter().enumerate().filter(|(_, (from, _))| from == place);
        out.extend(leaving.map(|(k, &(_, to))| (k, to)));
    }
    fn refutes(&self, place: &u8) -> bool {
        *place == self.wrong
    }
}

fn as_by_hand<const WORDS: bool>(arcs: Vec<(u8, u8)>, wrong: u8) -> Result<(), TestCaseError> {
    let mut far: BTreeMap<u8, usize> = BTreeMap::from([(0, 0), (1, 0)]);
    let mut queue = VecDeque::from([0, 1]);
    while let Some(at) = queue.pop_front() {
        for &(_, to) in arcs.iter().filter(|(from, _)| *from == at) {
            if !far.contains_key(&to) {
                far.insert(to, far[&at] + 1);
                queue.push_back(to);
            }
        }
    }
    let graph = Graph::<WORDS> { arcs, wrong };
    match search(&graph, &Limits::USUAL) {
        Outcome::Exhausted { places, steps } => {
            prop_assert_eq!(places, far.len());
            let leaving = graph.arcs.iter().filter(|(from, _)| far.contains_key(from)).count();
            prop_assert_eq!(steps, leaving);
            prop_assert!(!far.contains_key(&wrong));
        }
        Outcome::Refuted { story, .. } => {
            prop_assert_eq!(Some(story.len()), far.get(&wrong).copied());
            let joined = story.windows(2).all(|w| graph.arcs[w[0]].1 == graph.arcs[w[1]].0);
            prop_assert!(joined);
            prop_assert_eq!(story.last().map_or(wrong, |&k| graph.arcs[k].1), wrong);
            prop_assert!(story.first().is_none_or(|&k| graph.arcs[k].0 < 2));
        }
        other => return Err(TestCaseError::fail(format!("{other:?}"))),
    }
    let all = Graph::<WORDS> { wrong: 99, ..graph };
    let found = Search::run(&all, &Limits::USUAL);
    for (&place, &events) in &far {
        prop_assert_eq!(found.story_to(found.find(&place).unwrap()).len(), events);
    }
    prop_assert_eq!(found.find(&77), None);
    Ok(())
}

proptest! {
    #[test]
    fn any_graph_is_searched_as_by_hand(
        arcs in prop::collection::vec((0..40u8, 0..40u8), 0..90), wrong in 0..41u8,
    ) {
        as_by_hand::<false>(arcs.clone(), wrong)?;
        as_by_hand::<true>(arcs, wrong)?;
    }
}
