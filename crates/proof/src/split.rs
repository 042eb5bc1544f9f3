//! Parts that share only inputs, searched one at a time, in any order.
//!
//! In: [`Parts`]: how what is shared moves by itself, and how each part moves by what is shared and its own.
//! Out: [`Joint`]: for each part a search of it alone, and how many places all have together.
//! Never here: times. What a time forces cannot stand still, so nothing here holds within tolerances.
//!
//! In any order nothing is ever forced. So in a run of all parts together, what the others do can be left
//! out, and to a run of one part standing others can be added: a part together with the shared inputs
//! reaches exactly what it reaches alone, and a claim about one part needs no other part.
//!
//! Where the shared inputs can come back to their start from wherever they get, all parts together reach,
//! for each state `s` of the inputs, the product of what each reaches there: bring the first to its place at
//! `s` while the others stand; let the inputs go back to the start, the first standing; bring the second
//! to its place at `s`; and so on. Where they cannot come back this may be too many, and nothing is counted.
//! That no part reads or moves another is not checked: the trait shows it no other.

use crate::search::{Limits, Outcome, Search, Space};
use std::collections::HashMap;
use std::hash::Hash;

/// Parts that share only inputs. One start; each part sees what is shared and what is its own.
pub trait Parts: Sync {
    /// A state of what is shared.
    type Shared: Clone + Eq + Hash + Send + Sync;
    /// A state of one part.
    type Own: Clone + Eq + Hash + Send + Sync;
    /// What happened between two places.
    type Event: Clone + Send;

    /// How many parts.
    fn parts(&self) -> usize;
    /// Where a run begins.
    fn start(&self, part: usize) -> (Self::Shared, Self::Own);
    /// How what is shared may move: no part is asked. Always in the same order.
    fn shared_steps(&self, shared: &Self::Shared, out: &mut Vec<(Self::Event, Self::Shared)>);
    /// How a part may move.
    fn own_steps(
        &self,
        part: usize,
        shared: &Self::Shared,
        own: &Self::Own,
        out: &mut Vec<(Self::Event, Self::Own)>,
    );
    /// Being here breaks what was claimed of this part.
    fn refutes(&self, part: usize, shared: &Self::Shared, own: &Self::Own) -> bool;
}

/// What all parts have together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Count {
    /// Every part was searched to its end and the inputs can always come back to their start.
    All {
        /// Places of all parts together.
        places: u128,
        /// Steps from them.
        steps: u128,
    },
    /// The inputs cannot always come back to their start.
    InputsDoNotReturn,
    /// A part is refuted or was not searched to its end, or the parts do not begin alike.
    NotAllSeen,
    /// More than a count can hold.
    TooMany,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Joint<E> {
    /// By part: how the search of it alone ended. A story is one of all parts too: the others stand.
    pub parts: Vec<Outcome<E>>,
    /// How much there is together.
    pub count: Count,
}

struct Alone<'p, P> {
    whole: &'p P,
    part: usize,
}

impl<P: Parts> Space for Alone<'_, P> {
    type Place = (P::Shared, P::Own);
    type Event = P::Event;
    fn starts(&self) -> Vec<Self::Place> {
        vec![self.whole.start(self.part)]
    }
    fn steps(&self, (shared, own): &Self::Place, out: &mut Vec<(P::Event, Self::Place)>) {
        let (mut inputs, mut moves) = (Vec::new(), Vec::new());
        self.whole.shared_steps(shared, &mut inputs);
        out.extend(inputs.into_iter().map(|(event, to)| (event, (to, own.clone()))));
        self.whole.own_steps(self.part, shared, own, &mut moves);
        out.extend(moves.into_iter().map(|(event, to)| (event, (shared.clone(), to))));
    }
    fn refutes(&self, (shared, own): &Self::Place) -> bool {
        self.whole.refutes(self.part, shared, own)
    }
}

struct Inputs<'p, P>(&'p P);

impl<P: Parts> Space for Inputs<'_, P> {
    type Place = P::Shared;
    type Event = P::Event;
    fn starts(&self) -> Vec<P::Shared> {
        (self.0.parts() > 0).then(|| self.0.start(0).0).into_iter().collect()
    }
    fn steps(&self, shared: &P::Shared, out: &mut Vec<(P::Event, P::Shared)>) {
        self.0.shared_steps(shared, out);
    }
    fn refutes(&self, _: &P::Shared) -> bool {
        false
    }
}

/// Search each part by itself, each within these limits, and count what all have together.
pub fn search_parts<P: Parts>(whole: &P, limits: &Limits<'_>) -> Joint<P::Event> {
    let inputs = Inputs(whole);
    let shared = Search::run(&inputs, limits);
    let mut parts = Vec::new();
    // By state of what is shared: how many places each part has there, and how many steps of its own.
    let mut at: HashMap<P::Shared, Vec<(u128, u128)>> = HashMap::new();
    for part in 0..whole.parts() {
        let alone = Alone { whole, part };
        let found = Search::run(&alone, limits);
        let mut moves = Vec::new();
        for (inputs, own) in found.places() {
            moves.clear();
            whole.own_steps(part, inputs, own, &mut moves);
            let here = at.entry(inputs.clone()).or_default();
            here.resize(part + 1, (0, 0));
            here[part].0 += 1;
            here[part].1 += moves.len() as u128;
        }
        parts.push(found.outcome());
    }
    let alike = (1..whole.parts()).all(|part| whole.start(part).0 == whole.start(0).0);
    let dry = |outcome: &Outcome<P::Event>| matches!(outcome, Outcome::Exhausted { .. });
    let count = if !alike || !dry(&shared.outcome()) || !parts.iter().all(dry) {
        Count::NotAllSeen
    } else if !returns(whole, &shared) {
        Count::InputsDoNotReturn
    } else {
        counted(whole, &shared, &at).unwrap_or(Count::TooMany)
    };
    Joint { parts, count }
}

/// Whether from every state of the inputs their start can be reached again.
fn returns<P: Parts>(whole: &P, shared: &Search<'_, Inputs<'_, P>>) -> bool {
    let states = shared.places();
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); states.len()];
    let mut steps = Vec::new();
    for (from, state) in states.iter().enumerate() {
        steps.clear();
        whole.shared_steps(state, &mut steps);
        for to in steps.iter().filter_map(|(_, to)| shared.find(to)) {
            before[to].push(from);
        }
    }
    let mut back = vec![false; states.len()];
    let mut waiting: Vec<usize> = (0..states.len().min(1)).collect();
    while let Some(state) = waiting.pop() {
        if !std::mem::replace(&mut back[state], true) {
            waiting.extend(&before[state]);
        }
    }
    back.into_iter().all(|back| back)
}

fn counted<P: Parts>(
    whole: &P,
    shared: &Search<'_, Inputs<'_, P>>,
    at: &HashMap<P::Shared, Vec<(u128, u128)>>,
) -> Option<Count> {
    let (mut places, mut steps, mut moves) = (0_u128, 0_u128, Vec::new());
    for state in shared.places() {
        moves.clear();
        whole.shared_steps(state, &mut moves);
        let parts = at.get(state).map_or(&[][..], Vec::as_slice);
        let here = parts.iter().try_fold(1_u128, |all, (places, _)| all.checked_mul(*places))?;
        places = places.checked_add(here)?;
        steps = steps.checked_add(here.checked_mul(moves.len() as u128)?)?;
        for (own, own_steps) in parts {
            // Each part stands at one of its own places and the others at any of theirs.
            steps = steps.checked_add((here / own).checked_mul(*own_steps)?)?;
        }
    }
    Some(Count::All { places, steps })
}
