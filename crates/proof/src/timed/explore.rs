//! The search itself.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::places::{Places, pass};
use super::stops::{self, Stop};
use super::times::{Told, tell};
use super::{ClockId, Edge, Extremes, Seen, TimedOutcome, TimedSpace};
use crate::search::{Limits, Which};
use crate::zone::Zone;

/// Zones expanded between two looks at the limits. Fixed, so that nothing depends on the threads.
const BATCH: usize = 512;
/// Zones expanded by one thread at a time.
const CHUNK: usize = 16;
/// Refuting zones of one level among which the best story is sought.
const CHOICE: usize = 64;
/// Nobody's child.
const START: u32 = u32::MAX;

/// How far zones are widened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Grain {
    /// By lower and upper constants apart: keeps what can be reached.
    Coarse,
    /// By the greater of both: keeps also what cannot go on.
    Fine,
}

/// What is kept of the zones of a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Keep {
    /// Every zone that no other includes: what can be reached, exactly.
    Each,
    /// One zone that embraces all: what can be reached, and perhaps more.
    Outline,
}

/// A zone of a place, and how it was come by.
pub(super) struct Node {
    pub place: u32,
    parent: u32,
    passage: u32,
    dead: bool,
    pub zone: Zone,
}

impl Node {
    /// A greater zone took its place.
    pub fn is_dead(&self) -> bool {
        self.dead
    }
}

struct Candidate {
    place: u32,
    parent: u32,
    passage: u32,
    zone: Zone,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ending {
    Open,
    Dry,
    Refuted,
    Limit(Which),
}

/// What a search in time found.
pub struct Exploration<'s, S: TimedSpace> {
    pub(super) space: &'s S,
    grain: Grain,
    keep: Keep,
    pub(super) places: Places<S::Place>,
    pub(super) nodes: Vec<Node>,
    heap: usize,
    steps: usize,
    refuting: Vec<u32>,
    /// Zones that a greater one replaced and whose room is still held.
    replaced: Vec<u32>,
    ending: Ending,
    stops: Vec<Stop<S::Event>>,
}

/// A start, and the edges taken from it.
type Way<'f, S> =
    (&'f <S as TimedSpace>::Place, Vec<Edge<<S as TimedSpace>::Event, <S as TimedSpace>::Place>>);

/// Search everything that can happen within tolerances.
///
/// First an outline: one zone for each place, which embraces all that was found there. It is quick, and
/// where it runs dry nothing is wrong, for it holds everything that can be. If something wrong shows in it
/// and a way there has times, that is the story; there is no shorter one. Only else are the zones of each
/// place kept apart.
pub fn explore<S: TimedSpace>(space: &S, limits: &Limits<'_>) -> TimedOutcome<S::Event> {
    let outline = Exploration::of(space, limits, Grain::Coarse, Keep::Outline, Places::new());
    match outline.ending {
        Ending::Dry if !space.asks_stops() || !stops::any(&outline) => outline.outcome(),
        Ending::Limit(_) => outline.outcome(),
        Ending::Refuted => match outline.outcome() {
            TimedOutcome::Mismatch { .. } => outline.made_exact(limits).outcome(),
            outcome => outcome,
        },
        _ => outline.made_exact(limits).outcome(),
    }
}

/// What the clocks may read at a start.
fn start_zone<S: TimedSpace>(space: &S, clocks: &[ClockId]) -> Zone {
    if !clocks.iter().any(|clock| space.may_have_run(*clock)) {
        return Zone::zero(clocks.len());
    }
    let mut zone = Zone::anything(clocks.len());
    for (index, clock) in clocks.iter().enumerate() {
        if !space.may_have_run(*clock) {
            zone.reset(index + 1);
        }
    }
    zone
}

impl<'s, S: TimedSpace> Exploration<'s, S> {
    /// Search within the limits, exactly, and keep what was found. If it runs dry, also look for where time
    /// stops.
    pub fn run(space: &'s S, limits: &Limits<'_>) -> Self {
        Self::exactly(space, limits, Places::new())
    }

    /// The exact search over the places that this one has met.
    fn made_exact(mut self, limits: &Limits<'_>) -> Self {
        self.places.take_zones();
        Self::exactly(self.space, limits, self.places)
    }

    /// The same with places that another search has met: they and their edges are not asked anew.
    fn exactly(space: &'s S, limits: &Limits<'_>, met: Places<S::Place>) -> Self {
        let mut coarse = Self::of(space, limits, Grain::Coarse, Keep::Each, met);
        if coarse.ending == Ending::Dry && stops::any(&coarse) {
            // The coarse zones also hold readings that only stand for others. Ask the finer ones.
            let zones = coarse.places.take_zones();
            let met = std::mem::replace(&mut coarse.places, Places::new());
            let mut fine = Self::of(space, limits, Grain::Fine, Keep::Each, met);
            match fine.ending {
                Ending::Dry => coarse.stops = stops::all(&fine),
                ending => coarse.ending = ending,
            }
            fine.places.take_zones();
            fine.places.put_zones(zones);
            coarse.places = fine.places;
        }
        coarse
    }

    fn of(
        space: &'s S,
        limits: &Limits<'_>,
        grain: Grain,
        keep: Keep,
        places: Places<S::Place>,
    ) -> Self {
        let mut exploration = Self {
            space,
            grain,
            keep,
            places,
            nodes: Vec::new(),
            heap: 0,
            steps: 0,
            refuting: Vec::new(),
            replaced: Vec::new(),
            ending: Ending::Open,
            stops: Vec::new(),
        };
        exploration.drain(limits);
        exploration
    }

    /// How it ended.
    pub fn outcome(&self) -> TimedOutcome<S::Event> {
        let seen = self.seen();
        match self.ending {
            Ending::Dry => TimedOutcome::Exhausted { seen, stops: self.stops.clone() },
            Ending::Limit(which) => TimedOutcome::Limit { which, seen },
            Ending::Open => TimedOutcome::Limit { which: Which::Stopped, seen },
            Ending::Refuted => self.best_story(seen),
        }
    }

    /// How much was seen.
    pub fn seen(&self) -> Seen {
        let places = self.reached().count();
        Seen { places, zones: self.nodes.len(), steps: self.steps }
    }

    /// Every place that some run reaches, in the order in which they were first met.
    pub fn reached(&self) -> impl Iterator<Item = &S::Place> {
        self.places.known.iter().filter(|known| !known.zones.is_empty()).map(|known| &known.place)
    }

    /// A shortest run to a place; `None` if no run found leads there.
    pub fn story_to(&self, place: &S::Place) -> Option<Told<S::Event>> {
        let at = self.places.find(place)?;
        let node = self.nodes.iter().position(|node| node.place == at)?;
        self.tell(node as u32)
    }

    fn best_story(&self, seen: Seen) -> TimedOutcome<S::Event> {
        let told = self.refuting.iter().take(CHOICE).filter_map(|&node| self.tell(node));
        let best = told.min_by_key(|told| (told.ties, told.events.last().map_or(0, |&(at, _)| at)));
        match best {
            Some(story) => TimedOutcome::Refuted { story, seen },
            None => {
                let way = self.refuting.first().map(|&node| self.way_to(node).1);
                let events = way.unwrap_or_default().into_iter().map(|edge| edge.event).collect();
                TimedOutcome::Mismatch { events, seen }
            }
        }
    }

    pub(super) fn tell(&self, node: u32) -> Option<Told<S::Event>> {
        let (start, way) = self.way_to(node);
        tell(self.space, start, &way)
    }

    fn way_to(&self, node: u32) -> Way<'_, S> {
        let mut way = Vec::new();
        let mut at = &self.nodes[node as usize];
        let mut edges = Vec::new();
        while at.parent != START {
            let parent = &self.nodes[at.parent as usize];
            edges.clear();
            self.space.edges(&self.places.known[parent.place as usize].place, &mut edges);
            way.extend(edges.drain(..).nth(at.passage as usize));
            at = parent;
        }
        way.reverse();
        (&self.places.known[at.place as usize].place, way)
    }

    fn drain(&mut self, limits: &Limits<'_>) {
        for place in self.space.starts() {
            let place = self.places.enter(self.space, place, None);
            let manner = &self.places.known[place as usize].manner;
            let mut zone = start_zone(self.space, &manner.clocks);
            if manner.admit(&mut zone) {
                self.settle(place, &mut zone);
                self.insert(Candidate { place, parent: START, passage: 0, zone });
            }
        }
        let mut level = 0..self.nodes.len();
        while self.ending == Ending::Open {
            if !self.refuting.is_empty() {
                self.ending = Ending::Refuted;
            } else if level.is_empty() {
                self.ending = Ending::Dry;
            } else {
                self.level(level.clone(), limits);
                self.release();
                level = level.end..self.nodes.len();
            }
        }
    }

    /// One event more. Zones of this level stay alive even if a later one includes them: their stories are
    /// the shorter ones.
    fn level(&mut self, level: std::ops::Range<usize>, limits: &Limits<'_>) {
        let alive: Vec<u32> =
            level.filter(|&at| !self.nodes[at].dead).map(|at| at as u32).collect();
        for batch in alive.chunks(BATCH) {
            if let Some(which) = limits.struck(self.nodes.len(), self.bytes()) {
                // A story already found is a story; it only might not be the one with the most room.
                self.ending =
                    if self.refuting.is_empty() { Ending::Limit(which) } else { Ending::Refuted };
                return;
            }
            self.connect(batch);
            let found: Vec<(usize, Vec<Candidate>)> = if batch.len() <= CHUNK {
                vec![self.successors(batch)]
            } else {
                batch.par_chunks(CHUNK).map(|chunk| self.successors(chunk)).collect()
            };
            for (steps, candidates) in found {
                self.steps += steps;
                for candidate in candidates {
                    self.insert(candidate);
                }
            }
        }
    }

    /// Ask the space for the edges of the batch's places, each place once in the whole search.
    fn connect(&mut self, batch: &[u32]) {
        let fresh: BTreeSet<u32> = batch
            .iter()
            .map(|&node| self.nodes[node as usize].place)
            .filter(|&place| self.places.known[place as usize].passages.is_none())
            .collect();
        let edges_of = |&place: &u32| (place, self.places.edges(self.space, place));
        let fresh: Vec<u32> = fresh.into_iter().collect();
        let found: Vec<_> = if fresh.len() <= CHUNK {
            fresh.iter().map(edges_of).collect()
        } else {
            fresh.par_iter().with_min_len(CHUNK / 4).map(edges_of).collect()
        };
        for (place, edges) in found {
            self.places.connect(self.space, place, edges);
        }
    }

    fn successors(&self, chunk: &[u32]) -> (usize, Vec<Candidate>) {
        let (mut count, mut out) = (0, Vec::new());
        let (mut guarded, mut carried) = (Zone::zero(0), Zone::zero(0));
        for &parent in chunk {
            let node = &self.nodes[parent as usize];
            let passages = self.places.known[node.place as usize].passages.iter().flatten();
            for (number, passage) in passages.enumerate() {
                guarded.copy_from(&node.zone);
                if !pass(&passage.guards, &mut guarded) {
                    continue;
                }
                guarded.carry_into(&passage.carry, &mut carried);
                let target = &self.places.known[passage.target as usize];
                if !target.manner.admit(&mut carried) {
                    continue;
                }
                count += 1;
                self.settle(passage.target, &mut carried);
                if target.manner.refutes || !self.is_known(passage.target, &carried) {
                    out.push(Candidate {
                        place: passage.target,
                        parent,
                        passage: number as u32,
                        zone: carried.clone(),
                    });
                }
            }
        }
        (count, out)
    }

    /// Wait as long as one may, then forget what cannot matter.
    fn settle(&self, place: u32, zone: &mut Zone) {
        let manner = &self.places.known[place as usize].manner;
        manner.wait(zone);
        match self.grain {
            Grain::Coarse => zone.widen(&manner.extremes),
            Grain::Fine => {
                let level: Vec<Extremes> = manner.extremes.iter().map(|x| x.level()).collect();
                zone.widen(&level);
            }
        }
    }

    fn is_known(&self, place: u32, zone: &Zone) -> bool {
        let zones = &self.places.known[place as usize].zones;
        zones.iter().any(|&node| self.nodes[node as usize].zone.includes(zone))
    }

    fn insert(&mut self, candidate: Candidate) {
        let Candidate { place, parent, passage, mut zone } = candidate;
        let at = self.nodes.len() as u32;
        if self.is_known(place, &zone) {
            if self.places.known[place as usize].manner.refutes && self.refuting.len() < CHOICE {
                // Another way to it, perhaps with more room.
                self.refuting.push(at);
                self.nodes.push(Node { place, parent, passage, dead: true, zone: Zone::zero(0) });
            }
            return;
        }
        let known = &mut self.places.known[place as usize];
        for &old in known.zones.iter().filter(|_| self.keep == Keep::Outline) {
            zone.embrace(&self.nodes[old as usize].zone);
        }
        let (nodes, replaced) = (&mut self.nodes, &mut self.replaced);
        known.zones.retain(|&at| {
            let old = &mut nodes[at as usize];
            old.dead = zone.includes(&old.zone);
            replaced.extend(old.dead.then_some(at));
            !old.dead
        });
        known.zones.push(at);
        if known.manner.refutes {
            self.refuting.push(at);
        }
        self.heap += zone.heap_bytes();
        self.nodes.push(Node { place, parent, passage, dead: false, zone });
    }

    /// Give back the room of zones that were replaced; none of them will be expanded any more.
    fn release(&mut self) {
        for at in self.replaced.drain(..) {
            let zone = &mut self.nodes[at as usize].zone;
            self.heap -= zone.heap_bytes();
            *zone = Zone::zero(0);
        }
    }

    pub(super) fn bytes(&self) -> usize {
        self.nodes.capacity() * size_of::<Node>() + self.heap + self.places.bytes()
    }
}
