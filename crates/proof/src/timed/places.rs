//! The discrete skeleton of a timed space: each place once, with what its clocks may do.

use std::hash::{Hash, Hasher};

use hashbrown::HashTable;

use super::{Bound, ClockId, Edge, Extremes, TimedSpace};
use crate::zone::Zone;

/// What staying in a place means.
pub(super) struct Manner {
    /// The clocks that run, sorted; the first is the zone's clock 1.
    pub clocks: Vec<ClockId>,
    /// Bounds on staying, by the zone's clock.
    pub bounds: Vec<(usize, i64)>,
    pub extremes: Vec<Extremes>,
    pub urgent: bool,
    pub refutes: bool,
}

/// One edge in terms of the zone's clocks.
pub(super) struct Passage {
    pub guards: Vec<(usize, Bound)>,
    /// For each clock of the target: the clock it reads from, 0 for one that starts.
    pub carry: Vec<usize>,
    pub target: u32,
    pub of_itself: bool,
}

pub(super) struct Known<P> {
    pub place: P,
    pub manner: Manner,
    /// None until the place is first expanded.
    pub passages: Option<Vec<Passage>>,
    /// The greatest zones found here, by node.
    pub zones: Vec<u32>,
}

/// An edge, and what staying at its end means where that is not known yet.
pub(super) type Found<E, P> = (Edge<E, P>, Option<Manner>);

/// All places met, each once.
pub(super) struct Places<P> {
    pub known: Vec<Known<P>>,
    index: HashTable<u32>,
    heap: usize,
}

fn hash_of<P: Hash>(place: &P) -> u64 {
    let mut hasher = rustc_hash::FxHasher::default();
    place.hash(&mut hasher);
    hasher.finish()
}

impl Manner {
    pub fn of<S: TimedSpace>(space: &S, place: &S::Place) -> Self {
        let mut clocks = Vec::new();
        space.clocks(place, &mut clocks);
        clocks.sort_unstable();
        clocks.dedup();
        let mut bounds = Vec::new();
        space.invariants(place, &mut bounds);
        let bounds = bounds
            .into_iter()
            .filter_map(|(clock, most)| Some((clocks.binary_search(&clock).ok()? + 1, most)))
            .collect();
        let extremes = clocks.iter().map(|&clock| space.extremes(place, clock)).collect();
        let (urgent, refutes) = (space.is_urgent(place), space.refutes(place));
        Self { clocks, bounds, extremes, urgent, refutes }
    }

    /// Keep of a zone what may stand here. False when nothing may.
    pub fn admit(&self, zone: &mut Zone) -> bool {
        self.bounds.iter().all(|&(clock, most)| zone.constrain_upper(clock, most))
    }

    /// Let time pass as far as it may.
    pub fn wait(&self, zone: &mut Zone) {
        if !self.urgent {
            zone.delay();
            self.admit(zone);
        }
    }

    /// How an edge moves the clocks from here to `target`.
    pub fn carry<E, P>(&self, edge: &Edge<E, P>, target: &Self) -> Vec<usize> {
        let from = |clock: &ClockId| match self.clocks.binary_search(clock) {
            Ok(at) if !edge.resets.contains(clock) => at + 1,
            _ => 0,
        };
        target.clocks.iter().map(from).collect()
    }

    pub fn guards<E, P>(&self, edge: &Edge<E, P>) -> Vec<(usize, Bound)> {
        edge.guards
            .iter()
            .filter_map(|&(clock, bound)| {
                Some((self.clocks.binary_search(&clock).ok()? + 1, bound))
            })
            .collect()
    }
}

/// Keep of a zone what the guards allow. False when nothing is left.
pub(super) fn pass(guards: &[(usize, Bound)], zone: &mut Zone) -> bool {
    guards.iter().all(|&(clock, bound)| match bound {
        Bound::AtLeast(least) => zone.constrain_lower(clock, least),
        Bound::AtMost(most) => zone.constrain_upper(clock, most),
    })
}

impl<P: Clone + Eq + Hash> Places<P> {
    pub fn new() -> Self {
        Self { known: Vec::new(), index: HashTable::new(), heap: 0 }
    }

    pub fn find(&self, place: &P) -> Option<u32> {
        self.index.find(hash_of(place), |&at| &self.known[at as usize].place == place).copied()
    }

    /// The edges of a place.
    pub fn edges<S: TimedSpace<Place = P>>(&self, space: &S, at: u32) -> Vec<Found<S::Event, P>> {
        let mut edges = Vec::new();
        space.edges(&self.known[at as usize].place, &mut edges);
        edges
            .into_iter()
            .map(|edge| {
                let fresh = self.find(&edge.target).is_none();
                let manner = fresh.then(|| Manner::of(space, &edge.target));
                (edge, manner)
            })
            .collect()
    }

    /// The number of a place, which is entered if it is new.
    pub fn enter<S: TimedSpace<Place = P>>(
        &mut self,
        space: &S,
        place: P,
        manner: Option<Manner>,
    ) -> u32 {
        let known = &self.known;
        let entry = self.index.entry(
            hash_of(&place),
            |&at| known[at as usize].place == place,
            |&at| hash_of(&known[at as usize].place),
        );
        match entry {
            hashbrown::hash_table::Entry::Occupied(entry) => *entry.get(),
            hashbrown::hash_table::Entry::Vacant(entry) => {
                let at = known.len() as u32;
                entry.insert(at);
                let manner = manner.unwrap_or_else(|| Manner::of(space, &place));
                self.heap += space.heap_bytes(&place)
                    + manner.clocks.len() * (size_of::<ClockId>() + size_of::<Extremes>())
                    + manner.bounds.len() * size_of::<(usize, i64)>();
                self.known.push(Known { place, manner, passages: None, zones: Vec::new() });
                at
            }
        }
    }

    /// Enter the edges of a place as passages, in their order.
    pub fn connect<S: TimedSpace<Place = P>>(
        &mut self,
        space: &S,
        at: u32,
        edges: Vec<Found<S::Event, P>>,
    ) {
        let mut passages = Vec::with_capacity(edges.len());
        for (edge, manner) in edges {
            let target = self.enter(space, edge.target.clone(), manner);
            let from = &self.known[at as usize].manner;
            let to = &self.known[target as usize].manner;
            let passage = Passage {
                guards: from.guards(&edge),
                carry: from.carry(&edge, to),
                target,
                of_itself: space.comes_of_itself(&edge.event),
            };
            self.heap += size_of::<Passage>()
                + passage.guards.len() * size_of::<(usize, Bound)>()
                + passage.carry.len() * size_of::<usize>();
            passages.push(passage);
        }
        self.known[at as usize].passages = Some(passages);
    }

    /// Forget which zones were found, place by place.
    pub fn take_zones(&mut self) -> Vec<Vec<u32>> {
        self.known.iter_mut().map(|known| std::mem::take(&mut known.zones)).collect()
    }

    /// Put back which zones were found.
    pub fn put_zones(&mut self, zones: Vec<Vec<u32>>) {
        for (known, zones) in self.known.iter_mut().zip(zones) {
            known.zones = zones;
        }
    }

    pub fn bytes(&self) -> usize {
        self.known.capacity() * size_of::<Known<P>>()
            + self.index.capacity() * (size_of::<u32>() + 1)
            + self.heap
    }
}
