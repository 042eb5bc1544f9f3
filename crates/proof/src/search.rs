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
//! On one thread the same is done chunk by chunk.
//!
//! Places are kept whole. A hash only helps to find them, so no place is ever lost to a collision. A
//! place that is a plain array of words (`[u64; N]`) lies packed in one vector without further ado. From
//! where a place was first reached is not kept for each: of every few that are expanded in a row it is
//! known which place was the first new one, and a story asks these few again.

use std::hash::{Hash, Hasher};
use std::sync::OnceLock;

use rayon::prelude::*;

mod limits;
mod table;
mod words;

pub use limits::{Limits, Which};
use table::Table;
use words::Words;

/// What can be, and what may happen next.
pub trait Space: Sync {
    /// One whole position: everything that decides what may happen next.
    type Place: Clone + Eq + Hash + Send + Sync;
    /// What happened between two places.
    type Event: Clone + Send;

    /// For a space whose every place is told from all others by one word: that word. Then the search keeps
    /// words instead of looking for places, which is several times faster.
    const WORD: Option<fn(&Self::Place) -> u64> = None;

    /// The places where a run may begin.
    fn starts(&self) -> Vec<Self::Place>;

    /// Everything that may happen next, appended to `out`, in an order that is always the same.
    fn steps(&self, place: &Self::Place, out: &mut Vec<(Self::Event, Self::Place)>);

    /// Only where these steps lead, each of them and in the same order. A search asks this of every place
    /// and [`Self::steps`] only along a story; a space that need not say what happened may be faster.
    fn reached(&self, place: &Self::Place, out: &mut Vec<Self::Place>) {
        let mut steps = Vec::with_capacity(16);
        self.steps(place, &mut steps);
        out.extend(steps.into_iter().map(|(_, to)| to));
    }

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
/// Of so many places expanded in a row it is kept which was the first place reached from them.
const GROUP: usize = 8;

/// The places found, where each was first reached from, and how the search ended.
pub struct Search<'s, S: Space> {
    space: &'s S,
    places: Vec<S::Place>,
    /// By group of [`GROUP`] places: the first place that was reached from it or a later one.
    firsts: Vec<u32>,
    known: Known,
    /// For who asks where a place stands, if only its word is known.
    late: OnceLock<Table>,
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

enum Known {
    Hashed(Table),
    Words(Words),
}

struct Candidate<P> {
    /// Its word, else its hash.
    mark: u64,
    parent: usize,
    refutes: bool,
    place: P,
}

/// What one thread found for one chunk; kept to be filled again.
struct Found<P> {
    /// All places reached, how many up to each, their marks, and what a glance into the table saw.
    reached: Vec<P>,
    ends: Vec<usize>,
    marks: Vec<u64>,
    glances: Vec<u32>,
    steps: usize,
    /// Those that are not known yet, in order.
    fresh: Vec<Candidate<P>>,
}

impl<P> Found<P> {
    fn new() -> Self {
        Self {
            reached: Vec::new(),
            ends: Vec::new(),
            marks: Vec::new(),
            glances: Vec::new(),
            steps: 0,
            fresh: Vec::new(),
        }
    }
}

/// Search the whole space within the limits.
pub fn search<S: Space>(space: &S, limits: &Limits<'_>) -> Outcome<S::Event> {
    Search::run(space, limits).outcome()
}

fn hash_of<P: Hash>(place: &P) -> u64 {
    let mut hasher = rustc_hash::FxHasher::default();
    place.hash(&mut hasher);
    table::mixed(hasher.finish())
}

impl<'s, S: Space> Search<'s, S> {
    /// Search within the limits and keep what was found.
    pub fn run(space: &'s S, limits: &Limits<'_>) -> Self {
        let mut search = Self {
            space,
            places: Vec::new(),
            firsts: Vec::new(),
            known: S::WORD
                .map_or_else(|| Known::Hashed(Table::new()), |_| Known::Words(Words::new())),
            late: OnceLock::new(),
            heap: 0,
            steps: 0,
            ending: Ending::Open,
        };
        for place in space.starts() {
            let refutes = space.refutes(&place);
            search.enter(Self::mark(&place), refutes, place);
        }
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

    fn mark(place: &S::Place) -> u64 {
        S::WORD.map_or_else(|| hash_of(place), |word| word(place))
    }

    /// Where a place stands among those found.
    pub fn find(&self, place: &S::Place) -> Option<usize> {
        let hash = hash_of(place);
        let table = match &self.known {
            Known::Hashed(table) => table,
            Known::Words(_) => self.late.get_or_init(|| {
                let mut table = Table::new();
                for place in &self.places {
                    table.enter(hash_of(place), |earlier| hash_of(&self.places[earlier]));
                }
                table
            }),
        };
        table.find(hash, |at| &self.places[at] == place)
    }

    /// The bytes that the places, the table and what stories need take, with what lies ready for more.
    /// What a batch is worked out in, the same for any number of places, is not counted.
    pub fn bytes(&self) -> usize {
        self.places.capacity() * size_of::<S::Place>()
            + self.firsts.capacity() * size_of::<u32>()
            + match &self.known {
                Known::Hashed(table) => table.bytes(),
                Known::Words(words) => words.bytes(),
            }
            + self.late.get().map_or(0, Table::bytes)
            + self.heap
    }

    /// The events of a shortest way from a start to the place found as number `at`.
    pub fn story_to(&self, at: usize) -> Vec<S::Event> {
        let mut story = Vec::new();
        let mut child = at;
        while let Some((parent, event)) = self.first_step_to(child) {
            story.push(event);
            child = parent;
        }
        story.reverse();
        story
    }

    /// The first place from which this one was reached, and how; none for a start.
    fn first_step_to(&self, child: usize) -> Option<(usize, S::Event)> {
        let reached = self.places.get(child)?;
        let group = self.firsts.partition_point(|&first| first as usize <= child).checked_sub(1)?;
        let mut steps = Vec::new();
        (group * GROUP..(group + 1) * GROUP).find_map(|parent| {
            self.space.steps(self.places.get(parent)?, &mut steps);
            let step = steps.drain(..).find(|(_, to)| to == reached);
            step.map(|(event, _)| (parent, event))
        })
    }

    /// Places are entered level by level and taken in the order of entry: the queue is the vector.
    fn drain(&mut self, limits: &Limits<'_>) {
        let alone = rayon::current_num_threads() == 1;
        let mut found: Vec<Found<S::Place>> = Vec::new();
        found.resize_with(if alone { 1 } else { BATCH / CHUNK }, Found::new);
        let mut next = 0;
        while self.ending == Ending::Open {
            if next == self.places.len() {
                self.ending = Ending::Dry;
            } else if let Some(which) = limits.struck(self.places.len(), self.bytes()) {
                self.ending = Ending::Limit(which);
            } else {
                let end = self.places.len().min(next + BATCH);
                self.expand(next, end, &mut found, limits.places);
                next = end;
            }
        }
    }

    fn expand(&mut self, from: usize, to: usize, found: &mut [Found<S::Place>], most: usize) {
        if found.len() == 1 || to - from <= CHUNK {
            for first in (from..to).step_by(CHUNK) {
                self.successors(first, to.min(first + CHUNK), &mut found[0]);
                self.take(&mut found[0], most);
                if self.ending != Ending::Open {
                    return;
                }
            }
            return;
        }
        let chunks = (to - from).div_ceil(CHUNK);
        found[..chunks].par_iter_mut().enumerate().for_each(|(k, found)| {
            let first = from + k * CHUNK;
            self.successors(first, to.min(first + CHUNK), found);
        });
        for found in &mut found[..chunks] {
            self.take(found, most);
            if self.ending != Ending::Open {
                return;
            }
        }
    }

    /// What is reached from these places and not known yet, in order.
    fn successors(&self, from: usize, to: usize, found: &mut Found<S::Place>) {
        let Found { reached, ends, marks, glances, steps, fresh } = found;
        reached.clear();
        ends.clear();
        marks.clear();
        fresh.clear();
        for place in &self.places[from..to] {
            self.space.reached(place, reached);
            ends.push(reached.len());
        }
        *steps = reached.len();
        marks.extend(reached.iter().map(Self::mark));
        if let Known::Hashed(table) = &self.known {
            glances.clear();
            table.glance(marks, glances);
        }
        let mut parent = 0;
        for (k, (place, &mark)) in reached.drain(..).zip(marks.iter()).enumerate() {
            let known = match &self.known {
                Known::Words(words) => words.has(mark),
                Known::Hashed(table) => {
                    table.find_from(mark, glances[k], |at| self.places[at] == place).is_some()
                }
            };
            if !known {
                while ends[parent] <= k {
                    parent += 1;
                }
                let refutes = self.space.refutes(&place);
                fresh.push(Candidate { mark, parent: from + parent, refutes, place });
            }
        }
    }

    fn take(&mut self, found: &mut Found<S::Place>, most: usize) {
        self.steps += found.steps;
        for Candidate { mark, parent, refutes, place } in found.fresh.drain(..) {
            while self.firsts.len() <= parent / GROUP {
                self.firsts.push(self.places.len() as u32);
            }
            self.enter(mark, refutes, place);
            if self.ending == Ending::Open && self.places.len() > most {
                self.ending = Ending::Limit(Which::Places);
            }
            if self.ending != Ending::Open {
                return;
            }
        }
    }

    fn enter(&mut self, mark: u64, refutes: bool, place: S::Place) {
        let places = &self.places;
        let Ok(at) = u32::try_from(places.len()) else {
            self.ending = Ending::Limit(Which::Places);
            return;
        };
        match &mut self.known {
            Known::Words(words) => {
                if !words.enter(mark) {
                    return;
                }
            }
            Known::Hashed(table) => {
                if table.find(mark, |at| places[at] == place).is_some() {
                    return;
                }
                if !table.enter(mark, |earlier| hash_of(&places[earlier])) {
                    self.ending = Ending::Limit(Which::Places);
                    return;
                }
            }
        }
        self.heap += self.space.heap_bytes(&place);
        if self.places.len() == self.places.capacity() {
            self.places.reserve_exact(self.places.len() / 8 + CHUNK);
        }
        self.places.push(place);
        if refutes && self.ending == Ending::Open {
            self.ending = Ending::Refuted(at);
        }
    }
}
