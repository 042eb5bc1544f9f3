//! Every place that can be reached, in any order: breadth-first, by whole levels.
//!
//! In: a [`Space`] (where it starts, what may happen next, what must not be) and [`Limits`].
//! Out: an [`Outcome`]: all places seen and nothing wrong, a shortest story to something wrong, or which
//! limit stopped the search. Only a search that has run dry says that nothing is wrong.
//! Never here: time, delays, or what a place means.
//!
//! The story is one of the fewest events and, among those, the first in the order in which the space
//! names its events; it is the same on any number of threads. Batches of a level are expanded in
//! parallel and looked up in what is known so far; what seems new is then entered one by one in order.
//!
//! Places are kept whole. A hash only helps to find them, so no place is ever lost to a collision. A
//! place that is a plain array of words (`[u64; N]`) lies packed in one vector without further ado.

use std::hash::{Hash, Hasher};

use hashbrown::HashTable;
use rayon::prelude::*;

mod limits;

pub use limits::{Limits, Which};

/// What can be, and what may happen next.
pub trait Space: Sync {
    /// One whole position: everything that decides what may happen next.
    type Place: Clone + Eq + Hash + Send + Sync;
    /// What happened between two places.
    type Event: Clone + Send;

    /// The places where a run may begin.
    fn starts(&self) -> Vec<Self::Place>;

    /// Everything that may happen next, appended to `out`, in an order that is always the same.
    fn steps(&self, place: &Self::Place, out: &mut Vec<(Self::Event, Self::Place)>);

    /// Being here breaks what was claimed.
    fn refutes(&self, place: &Self::Place) -> bool;

    /// Bytes that a place holds beside its own size, for the limit on memory.
    fn heap_bytes(&self, _place: &Self::Place) -> usize {
        0
    }
}

/// How a search ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome<E> {
    /// Everything that can be reached was seen, and nothing refutes.
    Exhausted {
        /// Places reached.
        places: usize,
        /// Steps taken from them, those to places already known included.
        steps: usize,
    },
    /// Something that must not be can be reached.
    Refuted {
        /// The events from a start to it, as few as possible; none if a start itself refutes.
        story: Vec<E>,
        /// Places reached until then.
        places: usize,
        /// Steps taken until then.
        steps: usize,
    },
    /// A limit stopped the search: nothing is proven.
    Limit {
        /// The limit.
        which: Which,
        /// Places reached until then.
        places: usize,
        /// Steps taken until then.
        steps: usize,
    },
}

/// How many places are expanded between two looks at the limits; also how stale the known set may be.
/// Fixed, so that counts do not depend on the number of threads.
const BATCH: usize = 2048;
/// Places expanded by one thread at a time.
const CHUNK: usize = 64;
/// Nobody's child.
const START: u32 = u32::MAX;

/// The places found, where each was first reached from, and how the search ended.
pub struct Search<'s, S: Space> {
    space: &'s S,
    places: Vec<S::Place>,
    parents: Vec<u32>,
    index: HashTable<u32>,
    heap: usize,
    steps: usize,
    ending: Ending,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Ending {
    Open,
    Dry,
    Refuted(u32),
    Limit(Which),
}

struct Candidate<P> {
    hash: u64,
    parent: u32,
    refutes: bool,
    place: P,
}

/// Search the whole space within the limits.
pub fn search<S: Space>(space: &S, limits: &Limits<'_>) -> Outcome<S::Event> {
    Search::run(space, limits).outcome()
}

fn hash_of<P: Hash>(place: &P) -> u64 {
    let mut hasher = rustc_hash::FxHasher::default();
    place.hash(&mut hasher);
    hasher.finish()
}

impl<'s, S: Space> Search<'s, S> {
    /// Search within the limits and keep what was found.
    pub fn run(space: &'s S, limits: &Limits<'_>) -> Self {
        let mut search = Self {
            space,
            places: Vec::new(),
            parents: Vec::new(),
            index: HashTable::new(),
            heap: 0,
            steps: 0,
            ending: Ending::Open,
        };
        search.enter_starts();
        search.drain(limits);
        search
    }

    /// How it ended.
    pub fn outcome(&self) -> Outcome<S::Event> {
        let (places, steps) = (self.places.len(), self.steps);
        match self.ending {
            Ending::Dry => Outcome::Exhausted { places, steps },
            Ending::Refuted(at) => {
                Outcome::Refuted { story: self.story_to(at as usize), places, steps }
            }
            Ending::Limit(which) => Outcome::Limit { which, places, steps },
            Ending::Open => Outcome::Limit { which: Which::Stopped, places, steps },
        }
    }

    /// All places found, in the order in which they were found.
    pub fn places(&self) -> &[S::Place] {
        &self.places
    }

    /// Where a place stands among those found.
    pub fn find(&self, place: &S::Place) -> Option<usize> {
        self.index
            .find(hash_of(place), |&at| &self.places[at as usize] == place)
            .map(|&at| at as usize)
    }

    /// The events of a shortest way from a start to the place found as number `at`.
    pub fn story_to(&self, at: usize) -> Vec<S::Event> {
        let mut story = Vec::new();
        let mut steps = Vec::new();
        let mut child = at;
        while let Some(&parent) = self.parents.get(child).filter(|&&parent| parent != START) {
            let parent = parent as usize;
            steps.clear();
            self.space.steps(&self.places[parent], &mut steps);
            let reached = &self.places[child];
            story.extend(steps.drain(..).find(|(_, to)| to == reached).map(|(event, _)| event));
            child = parent;
        }
        story.reverse();
        story
    }

    fn enter_starts(&mut self) {
        for place in self.space.starts() {
            let refutes = self.space.refutes(&place);
            self.enter(Candidate { hash: hash_of(&place), parent: START, refutes, place });
        }
    }

    fn drain(&mut self, limits: &Limits<'_>) {
        let mut next = 0;
        while self.ending == Ending::Open {
            if next == self.places.len() {
                self.ending = Ending::Dry;
            } else if let Some(which) = limits.struck(self.places.len(), self.bytes()) {
                self.ending = Ending::Limit(which);
            } else {
                let end = self.places.len().min(next + BATCH);
                self.expand(next, end, limits.places);
                next = end;
            }
        }
    }

    /// Places are entered level by level and taken in the order of entry: the queue is the vector.
    fn expand(&mut self, from: usize, to: usize, most: usize) {
        let chunks: Vec<(usize, Vec<Candidate<S::Place>>)> = if to - from <= CHUNK {
            vec![self.successors(from, &self.places[from..to])]
        } else {
            self.places[from..to]
                .par_chunks(CHUNK)
                .enumerate()
                .map(|(k, chunk)| self.successors(from + k * CHUNK, chunk))
                .collect()
        };
        for (steps, candidates) in chunks {
            self.steps += steps;
            for candidate in candidates {
                self.enter(candidate);
                if self.ending != Ending::Open {
                    return;
                }
                if self.places.len() > most {
                    self.ending = Ending::Limit(Which::Places);
                    return;
                }
            }
        }
    }

    /// Successors that are not known yet, in order; the first number counts all.
    fn successors(&self, first: usize, chunk: &[S::Place]) -> (usize, Vec<Candidate<S::Place>>) {
        let (mut count, mut out, mut steps) = (0, Vec::new(), Vec::new());
        for (k, place) in chunk.iter().enumerate() {
            self.space.steps(place, &mut steps);
            count += steps.len();
            for (_, place) in steps.drain(..) {
                let hash = hash_of(&place);
                if self.index.find(hash, |&at| self.places[at as usize] == place).is_none() {
                    let refutes = self.space.refutes(&place);
                    out.push(Candidate { hash, parent: (first + k) as u32, refutes, place });
                }
            }
        }
        (count, out)
    }

    fn enter(&mut self, candidate: Candidate<S::Place>) {
        let Candidate { hash, parent, refutes, place } = candidate;
        let places = &self.places;
        let entry = self.index.entry(
            hash,
            |&at| places[at as usize] == place,
            |&at| hash_of(&places[at as usize]),
        );
        let hashbrown::hash_table::Entry::Vacant(vacant) = entry else { return };
        let Some(at) = u32::try_from(places.len()).ok().filter(|&at| at != START) else {
            self.ending = Ending::Limit(Which::Places);
            return;
        };
        vacant.insert(at);
        self.heap += self.space.heap_bytes(&place);
        self.places.push(place);
        self.parents.push(parent);
        if refutes && self.ending == Ending::Open {
            self.ending = Ending::Refuted(at);
        }
    }

    fn bytes(&self) -> usize {
        self.places.capacity() * size_of::<S::Place>()
            + self.parents.capacity() * size_of::<u32>()
            + self.index.capacity() * (size_of::<u32>() + 1)
            + self.heap
    }
}
