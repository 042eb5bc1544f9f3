//! A claim put to a machine, as something to search.
//!
//! **In:** the machine, the units that are known, the claim's monitor.
//! **Out:** a [`Space`] in any order and a [`TimedSpace`] within tolerances over the same places.
//! **Never here:** the search itself, verdicts.
//!
//! A place is one phase per known unit, the claim's memory, and for each stopwatch of a move
//! whether its drive was only perhaps sure when it started (then the time since it has been sure
//! is measured apart: it alone can force the move).

use crate::monitor::{Memory, Monitor, Quiet, Readings, Signs};
use crate::packing::{Packed, Packing, Units};
use crate::search::Space;
use crate::timed::{Bound, ClockId, Edge, Extremes, TimedSpace};
use crate::words::named;
use fiftytwo_motion::machine::{
    Action, Agent, ClockId as Stopwatch, Deed, Evaluator, Machine, RelayPhase, Scope, State, Stirs,
    Tri, UnitId, UnitKind,
};
use fiftytwo_scheme::arena::Id;
use known::{Asking, Atoms, Local, Locals, Memo, Reads, Sections, Touched};
use smallvec::SmallVec;
use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, OnceLock};

mod known;

/// One step of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Step {
    /// The unit that moves.
    pub unit: UnitId,
    /// To which phase.
    pub to: u8,
    /// By which kind of move.
    pub deed: Deed,
    /// By whom.
    pub agent: Agent,
}

impl Step {
    /// A time that the claim allows is over; no unit moves.
    pub fn elapse() -> Self {
        Self { unit: UnitId::from_index(0), to: 0, deed: Deed::Elapse, agent: Agent::World }
    }
}

/// A place of the search.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    phases: Packed,
    memory: Memory,
    /// Moves by the outside still allowed, where a search allows only so many.
    outside: u8,
    /// Stopwatches whose drive was only perhaps sure when they started.
    unsure: Box<[u16]>,
}

/// Moves by persons and conditions that a search allows without limit.
pub const ANY_NUMBER: u8 = u8::MAX;

/// The greatest constants a stopwatch is compared with: from below, from above.
type Greatest = Vec<(Stopwatch, (i64, i64))>;

/// What every search of a machine needs, found once.
#[derive(Debug, Clone)]
pub struct Prepared<'m, 's> {
    machine: &'m Machine<'s>,
    /// By the unit that moves: whose moves have to be asked anew.
    stirs: Stirs,
    /// By unit: its stopwatches; found when a search in time is first made.
    greatest: Arc<OnceLock<Vec<Greatest>>>,
}

impl<'m, 's> Prepared<'m, 's> {
    /// Reads it off the machine.
    pub fn new(machine: &'m Machine<'s>) -> Self {
        let stirs = crate::cone::stirs(machine).into();
        Self { machine, stirs, greatest: Arc::default() }
    }
    /// Whose moves a move may change.
    pub(crate) fn stirs(&self) -> &Stirs {
        &self.stirs
    }
    /// The machine.
    pub fn machine(&self) -> &'m Machine<'s> {
        self.machine
    }
    /// The greatest constants that the stopwatches of a unit are ever compared with: it is asked in
    /// every phase with everything else unknown.
    fn greatest(&self, unit: UnitId) -> &Greatest {
        let all = self.greatest.get_or_init(|| {
            let units = self.machine.units.ids();
            units.map(|unit| greatest(self.machine, unit)).collect()
        });
        &all[unit.index()]
    }
}

fn greatest(machine: &Machine<'_>, unit: UnitId) -> Greatest {
    let mut scope = Scope::of(vec![false; machine.units.len()]);
    for (other, item) in machine.units.iter() {
        scope.known[other.index()] = other == unit || crate::cone::never_moves(&item.kind);
    }
    let evaluator = Evaluator::new(machine, &scope);
    let mut state = machine.drawn();
    let mut found = Greatest::new();
    for phase in 0..machine.units[unit].phases {
        state.set(unit, phase);
        for timing in evaluator.look(&state).actions().iter().flat_map(|action| &action.timing) {
            let (lo, hi) = (timing.lo, timing.hi.unwrap_or(0));
            match found.iter_mut().find(|(clock, _)| *clock == timing.clock) {
                Some((_, most)) => *most = (most.0.max(lo), most.1.max(hi)),
                None => found.push((timing.clock, (lo.max(0), hi.max(0)))),
            }
        }
    }
    found
}

/// The product of a machine and a claim.
pub struct Product<'m, 's> {
    machine: &'m Machine<'s>,
    scope: &'m Scope,
    monitor: &'m Monitor,
    /// The known units that can move, in order.
    kept: Vec<UnitId>,
    /// By unit: its number among them.
    number: Vec<Option<usize>>,
    packing: Packing,
    reads: Reads,
    starts: Vec<State>,
    outside: u8,
    /// The moves of the outside in their order, where it may make no others.
    retraced: Option<Vec<Step>>,
    /// What breaks the claim does not end the search; nothing is followed from there all the same.
    beyond_breaks: bool,
    timed: bool,
    extremes: Vec<(i64, i64)>,
    pool: Mutex<Vec<Worker<'m, 's>>>,
}

/// An evaluator with what it has found out before.
struct Worker<'m, 's> {
    evaluator: Evaluator<'m, 's>,
    memo: Memo,
    /// What was last asked whole: what is asked next mostly differs little.
    last: Option<(Packed, Box<Here>)>,
}

/// What follows from the phases of the known units alone.
struct Here {
    sections: Sections,
    locals: Locals,
    /// The atoms that the claim reads.
    atoms: Atoms,
    signs: Signs,
}

/// Where a move leads from a state whose sections are known.
struct Moved<'h> {
    here: &'h Here,
    phases: Packed,
    stirs: Touched,
    /// What its sections show, once somebody asks.
    sections: Option<Sections>,
}

impl Moved<'_> {
    /// Its phases, and what its sections show.
    fn seen<F: Fn(&Packed) -> State>(
        &mut self,
        asking: &mut Asking<'_, '_, '_, F>,
    ) -> (&Packed, &Sections) {
        let Self { here, phases, stirs, sections } = self;
        let sections =
            sections.get_or_insert_with(|| asking.sections_near(&here.sections, stirs, phases));
        (phases, sections)
    }
}

/// What a move makes otherwise, by the number of the unit.
type Stirred = SmallVec<[(usize, Arc<Local>); 8]>;

impl Here {
    /// How many moves are surely on their way once some have become otherwise.
    fn under_way(&self, stirred: &Stirred) -> u16 {
        let all = self.signs.under_way();
        stirred
            .iter()
            .fold(all, |sum, (index, local)| sum + local.under_way - self.locals[*index].under_way)
    }
    /// Everything that may happen next.
    fn actions(&self) -> impl Iterator<Item = &Action> {
        self.locals.iter().flat_map(|local| &local.actions)
    }
}

impl<'m, 's> Product<'m, 's> {
    /// Puts a claim to a machine of which `scope` is known, from the given starts. None: there are
    /// more units than one search can hold.
    pub fn new(
        machine: &'m Machine<'s>,
        scope: &'m Scope,
        monitor: &'m Monitor,
        starts: &[State],
        timed: bool,
        outside: u8,
    ) -> Option<Self> {
        Self::of(&Prepared::new(machine), scope, monitor, starts, timed, outside)
    }
    /// The same, where what every search needs is known.
    pub fn of(
        prepared: &Prepared<'m, 's>,
        scope: &'m Scope,
        monitor: &'m Monitor,
        starts: &[State],
        timed: bool,
        outside: u8,
    ) -> Option<Self> {
        let machine = prepared.machine;
        let kept: Vec<UnitId> = machine
            .units
            .iter()
            .filter(|(unit, item)| {
                scope.knows(*unit)
                    && (!crate::cone::never_moves(&item.kind) || scope.may_fail(*unit))
            })
            .map(|(unit, _)| unit)
            .collect();
        let packing = Packing::new(machine, &kept)?;
        let readings = monitor.readings(machine, scope);
        let mut number = vec![None; machine.units.len()];
        for (index, unit) in kept.iter().enumerate() {
            number[unit.index()] = Some(index);
        }
        let mut product = Self {
            machine,
            scope,
            monitor,
            reads: Reads::new(machine, scope, &packing, &kept, &prepared.stirs, &readings),
            packing,
            kept,
            number,
            starts: starts.to_vec(),
            outside,
            retraced: None,
            beyond_breaks: false,
            timed,
            extremes: Vec::new(),
            pool: Mutex::new(Vec::new()),
        };
        if timed {
            product.extremes = vec![(0, 0); machine.clock_count()];
            for unit in &product.kept {
                for (clock, most) in prepared.greatest(*unit) {
                    product.extremes[clock.index()] = *most;
                }
            }
            product.extremes.push((monitor.allows().map_or(0, |time| time + 1), 0));
        }
        Some(product)
    }
    /// From now on the outside may make so many moves; what follows from a state stays known.
    pub fn allow(&mut self, outside: u8) {
        self.outside = outside;
    }
    /// From now on a search in any order goes on beside what breaks the claim: where it is known that no run does,
    /// it meets everything that runs reach.
    pub(crate) fn beyond_breaks(self) -> Self {
        Self { beyond_breaks: true, ..self }
    }
    /// From now on the outside may only do what it did in a run, in that order; false: it did too much.
    pub(crate) fn retrace(&mut self, run: &[(i64, Step)]) -> bool {
        let steps = run.iter().map(|(_, step)| *step);
        let moves: Vec<Step> =
            steps.filter(|it| it.agent == Agent::World && it.deed != Deed::Elapse).collect();
        let Some(many) = u8::try_from(moves.len()).ok().filter(|many| *many < ANY_NUMBER) else {
            return false;
        };
        self.outside = many;
        self.retraced = Some(moves);
        true
    }
    /// Whether the outside may make this move with so many left.
    fn may_come(&self, action: &Action, left: u8) -> bool {
        self.retraced.as_ref().is_none_or(|moves| {
            let next = moves.len().checked_sub(usize::from(left)).and_then(|at| moves.get(at));
            next == Some(&step(action))
        })
    }
    /// Whether what the claim speaks of happens in some of these places.
    pub fn premise_met<'p>(&self, mut reached: impl Iterator<Item = &'p Place>) -> bool {
        reached
            .any(|place| self.seen(place, |here| self.monitor.premise(place.memory, &here.signs)))
    }
    /// The units of an endless motion of devices alone, in which the claim hangs undecided: a
    /// cycle of moves that leaves out no move that stays sure all the way round. `whole`: everything
    /// that matters is known, so that only sure moves can go on for ever; else what is perhaps may
    /// be sure.
    pub fn endless(
        &self,
        places: &[Place],
        whole: bool,
        find: impl Fn(&Place) -> Option<usize>,
    ) -> Option<String> {
        if !self.monitor.asks_rest() {
            return None;
        }
        let hangs: Vec<bool> = places
            .iter()
            .map(|place| self.seen(place, |here| self.monitor.hangs(place.memory, &here.signs)))
            .collect();
        let touched = vec![true; places.len()];
        self.fair_motion((places, find), whole, (&hangs, touched), |_| true, None)
    }
    /// The units of a fair endless motion, in which `judge` asks something and somewhere has no answer or a
    /// wrong one.
    pub(crate) fn endless_for(
        &self,
        places: &[Place],
        judge: &Monitor,
        motion: Motion<'_>,
        find: impl Fn(&Place) -> Option<usize>,
    ) -> Option<String> {
        let readings = (judge != self.monitor).then(|| judge.readings(self.machine, self.scope));
        let rule = |place: &Place| {
            let signs = readings.as_ref().map_or_else(
                || self.seen(place, |here| here.signs),
                |readings| self.signs_for(place, readings),
            );
            judge.unsettled(place.memory, &signs)
        };
        let rules: Vec<Option<bool>> = places.iter().map(rule).collect();
        let asks: Vec<bool> = rules.iter().map(Option::is_some).collect();
        let touched = rules.iter().map(|rule| *rule == Some(true)).collect();
        let may = |unit: UnitId| motion.may.contains(&unit);
        self.fair_motion((places, find), motion.whole, (&asks, touched), may, motion.movers)
    }
    /// The units that move in a fair cycle through places that count, and through one of those that it has to touch.
    ///
    /// A coil whose volts leave it open may be one that always operates there, or one that always lets go: where
    /// one unit does both only perhaps, the two are taken apart, since at the same volts it does not do both.
    fn fair_motion(
        &self,
        (places, find): (&[Place], impl Fn(&Place) -> Option<usize>),
        whole: bool,
        (counts, touched): (&[bool], Vec<bool>),
        may: impl Fn(UnitId) -> bool,
        movers: Option<BTreeSet<UnitId>>,
    ) -> Option<String> {
        let mut made = Vec::new();
        let (mut operate, mut let_go) = (BTreeSet::new(), BTreeSet::new());
        for (from, place) in places.iter().enumerate().filter(|(from, _)| counts[*from]) {
            self.successors(place, |action, target| {
                let Some(going) = goes_on_by(action) else { return };
                match going {
                    Going::Surely => {}
                    Going::Operates => _ = operate.insert(action.unit),
                    Going::LetsGo => _ = let_go.insert(action.unit),
                }
                let to = find(&target).filter(|to| may(action.unit) && counts[*to]);
                made.push((from, (action.unit, action.to), going, to));
            });
        }
        let both: BTreeSet<UnitId> = operate.intersection(&let_go).copied().collect();
        let without = |left_out: Option<Going>| {
            let mut graph = crate::endless::Graph::new(places.len());
            for (from, step, going, to) in &made {
                if left_out != Some(*going) || !both.contains(&step.0) {
                    graph.add(*from, *step, *going == Going::Surely, *to);
                }
            }
            if let Some(movers) = movers.clone() {
                graph.moves_some_of(movers);
            }
            graph.touches(touched.clone());
            graph.fair_cycle()
        };
        let found = if !whole || both.is_empty() {
            without(None)
        } else {
            without(Some(Going::LetsGo)).or_else(|| without(Some(Going::Operates)))
        };
        found.map(|units| named(self.machine, &units))
    }
    /// How many units the search knows.
    pub fn known_units(&self) -> usize {
        self.kept.len()
    }
    fn with<R>(&self, work: impl FnOnce(&mut Worker<'m, 's>) -> R) -> R {
        let taken = self.pool.lock().ok().and_then(|mut pool| pool.pop());
        let mut worker = taken.unwrap_or_else(|| Worker {
            evaluator: if self.timed {
                Evaluator::new(self.machine, self.scope)
            } else {
                Evaluator::cold(self.machine, self.scope)
            },
            memo: self.reads.memo(),
            last: None,
        });
        let result = work(&mut worker);
        if let Ok(mut pool) = self.pool.lock() {
            pool.push(worker);
        }
        result
    }
    /// A state with these phases; what no search moves stands as at the start.
    fn state(&self, phases: &Packed) -> State {
        let mut state = self.starts.first().cloned().unwrap_or_else(|| self.machine.drawn());
        self.packing.unpack(phases, &mut state);
        state
    }
    fn phases(&self, state: &State) -> Packed {
        self.packing.pack(state, |unit, phase| self.distinguished(unit, phase))
    }
    fn asking<'w>(
        &'w self,
        worker: &'w mut Worker<'m, 's>,
    ) -> Asking<'w, 'm, 's, impl Fn(&Packed) -> State + 'w> {
        let Worker { evaluator, memo, .. } = worker;
        Asking { reads: &self.reads, evaluator, memo, state: |phases| self.state(phases) }
    }
    /// What follows from these phases; to be given back with [`Self::keep`].
    fn here(&self, worker: &mut Worker<'m, 's>, phases: &Packed) -> Box<Here> {
        let last = worker.last.take();
        let mut asking = self.asking(worker);
        let Some((from, mut here)) = last else {
            let sections = asking.sections(phases);
            let locals = asking.locals(phases, &sections);
            let under_way = locals.iter().map(|local| local.under_way).sum();
            let atoms = asking.atoms(phases, &sections);
            let signs = Signs::new(asking.read(&atoms), under_way);
            return Box::new(Here { sections, locals, atoms, signs });
        };
        let stirs = self.reads.stirs(self.packing.changed(&from, phases));
        here.sections = asking.sections_near(&here.sections, &stirs, phases);
        let mut under_way = here.signs.under_way();
        for index in stirs.units() {
            let local = asking.local(index, phases, &here.sections);
            under_way = under_way + local.under_way - here.locals[index].under_way;
            here.locals[index] = local;
        }
        let before = (&here.atoms, here.signs.read());
        let (read, atoms) = asking.read_near(before, &stirs, phases, &here.sections);
        here.signs = Signs::new(read, under_way);
        if let Some(atoms) = atoms {
            here.atoms = atoms;
        }
        here
    }
    /// Remembers what followed from these phases.
    fn keep(&self, worker: &mut Worker<'m, 's>, phases: &Packed, here: Box<Here>) {
        worker.last = Some((*phases, here));
    }
    /// Where a move leads.
    fn moved<'h>(&self, here: &'h Here, from: &Packed, phases: Packed) -> Moved<'h> {
        let stirs = self.reads.stirs(self.packing.changed(from, &phases));
        Moved { here, phases, stirs, sections: None }
    }
    /// What may be otherwise once a move has led there: by number of its unit.
    fn stirred(&self, worker: &mut Worker<'m, 's>, moved: &mut Moved<'_>) -> Stirred {
        let stirs = moved.stirs;
        let mut asking = self.asking(worker);
        let (phases, sections) = moved.seen(&mut asking);
        stirs.units().map(|index| (index, asking.local(index, phases, sections))).collect()
    }
    /// What the claim reads once a move has led there.
    fn read_after(&self, worker: &mut Worker<'m, 's>, moved: &mut Moved<'_>) -> [Tri; 4] {
        let (here, stirs) = (moved.here, moved.stirs);
        let read = here.signs.read();
        if !stirs.may_read() {
            return read;
        }
        let mut asking = self.asking(worker);
        let (phases, sections) = moved.seen(&mut asking);
        asking.read_near((&here.atoms, read), &stirs, phases, sections).0
    }
    /// Where an action leads: it moves its unit, and turns back what that interrupts.
    fn after(
        &self,
        worker: &mut Worker<'m, 's>,
        from: &Packed,
        here: &Here,
        action: &Action,
    ) -> Packed {
        let mut phases = *from;
        let mut changed: Units = 0;
        let also = action.also.into_iter();
        for (unit, phase) in std::iter::once((action.unit, action.to)).chain(also) {
            if let Some(index) = self.number[unit.index()] {
                self.packing.set(&mut phases, index, self.distinguished(unit, phase));
                changed |= 1 << index;
            }
        }
        let mut settled = phases;
        let stirs = self.reads.stirs(changed);
        let mut moved = Moved { here, phases, stirs, sections: None };
        for index in stirs.units() {
            let Some(was) = here.locals[index].pull else { continue };
            let unit = self.kept[index];
            let phase = self.packing.phase(&phases, index);
            if !self.timed && !self.machine.is_under_way(unit, phase) {
                continue;
            }
            let mut asking = self.asking(worker);
            let (phases, sections) = moved.seen(&mut asking);
            let Some(is) = asking.local(index, phases, sections).pull else { continue };
            let same = self.packing.phase(from, index) == phase;
            if let Some(to) = self.machine.interrupted(unit, was, is, phase, same) {
                self.packing.set(&mut settled, index, self.distinguished(unit, to));
            }
        }
        settled
    }
    /// In any order nobody remembers interruptions: they only change times.
    fn distinguished(&self, unit: UnitId, phase: u8) -> u8 {
        if self.timed {
            return phase;
        }
        match self.machine.units[unit].kind {
            UnitKind::Relay(_) => RelayPhase::from_u8(phase).cold() as u8,
            UnitKind::Energy(_) => self.machine.charge_of(unit, phase),
            UnitKind::Stroke(device) => {
                self.machine.stroke(device).map_or(phase, |table| table.without_times(phase))
            }
            _ => phase,
        }
    }
    fn all_starts(&self) -> Vec<Place> {
        let mut places: Vec<Place> = Vec::new();
        self.with(|worker| {
            for state in &self.starts {
                let phases = self.phases(state);
                let here = self.here(worker, &phases);
                let place = Place {
                    phases,
                    memory: self.judged(self.monitor.start(&here.signs)),
                    outside: self.outside,
                    unsure: self.unsure(here.locals.iter(), None),
                };
                self.keep(worker, &phases, here);
                if !places.contains(&place) {
                    places.push(place);
                }
            }
        });
        places
    }
    /// In any order there are no times: what must not last must not be.
    fn judged(&self, memory: Memory) -> Memory {
        if !self.timed && self.monitor.limit(memory).is_some() { Memory::BROKEN } else { memory }
    }
    /// The stopwatch of the claim itself.
    fn of_the_claim(&self) -> ClockId {
        since(u16::try_from(self.machine.clock_count()).unwrap_or(u16::MAX / 2))
    }
    /// Stopwatches that run for a move that is, or was when it started, only perhaps driven.
    fn unsure<'h>(
        &self,
        locals: impl Iterator<Item = &'h Arc<Local>>,
        before: Option<(&Place, &Here, &Action)>,
    ) -> Box<[u16]> {
        if !self.timed {
            return Box::default();
        }
        // Those that still ran for such a move, and do not start anew.
        let carried: SmallVec<[u16; 8]> = match before {
            None => SmallVec::new(),
            Some((place, here, taken)) => {
                let still = |number: &&u16| {
                    here.actions().any(|action| mentions(action, **number))
                        && !(taken.restarts() && mentions(taken, **number))
                };
                place.unsure.iter().filter(still).copied().collect()
            }
        };
        let mut unsure: SmallVec<[u16; 16]> = SmallVec::new();
        for local in locals {
            unsure.extend_from_slice(&local.unsure);
            let bounded = local.bounded.iter().copied();
            unsure.extend(bounded.filter(|number| carried.contains(number)));
        }
        unsure.sort_unstable();
        unsure.dedup();
        unsure.as_slice().into()
    }
    fn unsure_after(
        &self,
        place: &Place,
        here: &Here,
        action: &Action,
        stirred: &Stirred,
    ) -> Box<[u16]> {
        let mut stirred = stirred.iter().peekable();
        let locals = here.locals.iter().enumerate().map(|(index, local)| {
            stirred.next_if(|(other, _)| *other == index).map_or(local, |(_, new)| new)
        });
        self.unsure(locals, Some((place, here, action)))
    }
    fn successors(&self, place: &Place, mut visit: impl FnMut(&Action, Place)) {
        if place.memory.is_decided() {
            return;
        }
        self.with(|worker| {
            let here = self.here(worker, &place.phases);
            for action in here.actions() {
                let outside = match (action.agent, place.outside) {
                    (_, ANY_NUMBER) => ANY_NUMBER,
                    (Agent::Device, left) => left,
                    (Agent::World, 0) => continue,
                    (Agent::World, left) if !self.may_come(action, left) => continue,
                    (Agent::World, left) => left - 1,
                };
                if !self.timed && action.deed == Deed::Subside {
                    continue;
                }
                let phases = self.after(worker, &place.phases, &here, action);
                let mut moved = self.moved(&here, &place.phases, phases);
                let read = self.read_after(worker, &mut moved);
                let (machine, signs) = (self.machine, &here.signs);
                let step = |rests: &mut dyn FnMut() -> bool| {
                    self.monitor.step_to(machine, place.memory, signs, action, read, rests)
                };
                let (memory, unsure) = if self.timed {
                    let stirred = self.stirred(worker, &mut moved);
                    let memory = step(&mut || here.under_way(&stirred) == 0);
                    (memory, self.unsure_after(place, &here, action, &stirred))
                } else {
                    let mut rests = || {
                        let stirred = self.stirred(worker, &mut moved);
                        here.under_way(&stirred) == 0
                    };
                    (step(&mut rests), Box::default())
                };
                let target = Place { phases, memory: self.judged(memory), outside, unsure };
                visit(action, target);
            }
            self.keep(worker, &place.phases, here);
        });
    }
    /// What a claim that reads this sees in a place of another.
    fn signs_for(&self, place: &Place, readings: &Readings) -> Signs {
        self.with(|worker| {
            let here = self.here(worker, &place.phases);
            let state = self.state(&place.phases);
            let signs = Signs::of(readings, &worker.evaluator.look(&state), here.actions());
            self.keep(worker, &place.phases, here);
            signs
        })
    }
    /// The state of a place where a run may begin of which another claim asks something.
    pub(crate) fn state_where(
        &self,
        place: &Place,
        asked: &Monitor,
        readings: &Readings,
    ) -> Option<State> {
        let begins = asked.start(&self.signs_for(place, readings));
        (begins != Memory::DONE).then(|| self.state(&place.phases))
    }
    /// All states that are one position here and differ in some of these units alone.
    pub(crate) fn alike(&self, state: &State, units: impl Fn(&UnitKind) -> bool) -> Vec<State> {
        let mut all = vec![state.clone()];
        for &unit in self.kept.iter().filter(|unit| units(&self.machine.units[**unit].kind)) {
            let same = |phase: &u8| {
                self.distinguished(unit, *phase) == self.distinguished(unit, state.phase(unit))
            };
            let phases: Vec<u8> = (0..self.machine.units[unit].phases).filter(same).collect();
            if phases.len() < 2 {
                continue;
            }
            let each = |of: &State| {
                let with = |phase: &u8| {
                    let mut other = of.clone();
                    other.set(unit, *phase);
                    other
                };
                phases.iter().map(with).collect::<Vec<_>>()
            };
            all = all.iter().flat_map(each).collect();
        }
        all
    }
    /// The state of a place at rest.
    pub(crate) fn state_at_rest(&self, place: &Place) -> Option<State> {
        self.seen(place, |here| here.signs.rests()).then(|| self.state(&place.phases))
    }
    fn seen<R>(&self, place: &Place, ask: impl FnOnce(&Here) -> R) -> R {
        self.with(|worker| {
            let here = self.here(worker, &place.phases);
            let answer = ask(&here);
            self.keep(worker, &place.phases, here);
            answer
        })
    }
}

fn stopwatch(clock: Stopwatch) -> u16 {
    u16::try_from(clock.index()).unwrap_or(u16::MAX / 2)
}

fn mentions(action: &Action, number: u16) -> bool {
    action.timing.iter().any(|timing| stopwatch(timing.clock) == number)
}

/// The stopwatch since a move became possible.
fn since(number: u16) -> ClockId {
    ClockId(number * 2)
}

/// The stopwatch since it has been sure.
fn since_sure(number: u16) -> ClockId {
    ClockId(number * 2 + 1)
}

impl Space for Product<'_, '_> {
    type Place = Place;
    type Event = Step;

    fn starts(&self) -> Vec<Place> {
        self.all_starts()
    }
    fn steps(&self, place: &Place, out: &mut Vec<(Step, Place)>) {
        self.successors(place, |action, target| out.push((step(action), target)));
    }
    fn reached(&self, place: &Place, out: &mut Vec<Place>) {
        self.successors(place, |_, target| out.push(target));
    }
    fn refutes(&self, place: &Place) -> bool {
        !self.beyond_breaks && place.memory == Memory::BROKEN
    }
    fn heap_bytes(&self, place: &Place) -> usize {
        place.unsure.len() * 2
    }
}

/// A motion without end that is looked for.
pub(crate) struct Motion<'a> {
    /// Everything that matters is known: then what is perhaps is so by its volts alone.
    pub(crate) whole: bool,
    /// Who may go on for ever.
    pub(crate) may: &'a BTreeSet<UnitId>,
    /// It has to move one of these; none: any.
    pub(crate) movers: Option<BTreeSet<UnitId>>,
}

/// How a motion of devices alone goes on by a move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Going {
    /// It comes some time.
    Surely,
    /// Perhaps: something operates.
    Operates,
    /// Perhaps: something lets go.
    LetsGo,
}

/// How a motion of devices alone may go on by a move, if it may. That an order ends is none: while it stands, what
/// never rests leaves a claim about rest without an answer. A bounce may always come and never need.
fn goes_on_by(action: &Action) -> Option<Going> {
    if action.agent != Agent::Device || matches!(action.deed, Deed::Give | Deed::Bounce) {
        return None;
    }
    if action.certainty.sure() {
        return Some(Going::Surely);
    }
    Some(match action.deed {
        Deed::Begin(None) | Deed::Arrive(None) | Deed::FallBack => Going::LetsGo,
        Deed::Begin(_) | Deed::Arrive(_) => Going::Operates,
        Deed::Think | Deed::Sense | Deed::Switch if action.to == 0 => Going::LetsGo,
        _ => Going::Operates,
    })
}

fn step(action: &Action) -> Step {
    Step { unit: action.unit, to: action.to, deed: action.deed, agent: action.agent }
}

impl TimedSpace for Product<'_, '_> {
    type Place = Place;
    type Event = Step;

    fn starts(&self) -> Vec<Place> {
        self.all_starts()
    }
    fn clocks(&self, place: &Place, out: &mut Vec<ClockId>) {
        if self.monitor.limit(place.memory).is_some() {
            out.push(self.of_the_claim());
        }
        self.seen(place, |here| {
            let marks = here.locals.iter().flat_map(|local| &local.marks);
            out.extend(marks.map(|number| since(*number)));
            let timed =
                here.actions().flat_map(|it| it.timing.iter().map(move |timing| (it, timing)));
            for (action, timing) in timed {
                let number = stopwatch(timing.clock);
                let forces = action.certainty.sure() && timing.hi.is_some_and(|hi| hi > 0);
                let unsure = place.unsure.contains(&number);
                if timing.lo > 0 || (forces && !unsure) {
                    out.push(since(number));
                }
                if forces && unsure {
                    out.push(since_sure(number));
                }
            }
        });
    }
    fn invariants(&self, place: &Place, out: &mut Vec<(ClockId, i64)>) {
        // Nothing is followed from there, so nothing is late there.
        if place.memory.is_decided() {
            return;
        }
        self.seen(place, |here| {
            let forced =
                |action: &&Action| action.certainty.sure() && action.agent == Agent::Device;
            for timing in here.actions().filter(forced).flat_map(|action| &action.timing) {
                let Some(hi) = timing.hi.filter(|hi| *hi > 0) else { continue };
                let number = stopwatch(timing.clock);
                let clock =
                    if place.unsure.contains(&number) { since_sure(number) } else { since(number) };
                out.push((clock, hi));
            }
        });
    }
    fn is_urgent(&self, place: &Place) -> bool {
        !place.memory.is_decided()
            && self.seen(place, |here| {
                here.actions().any(|action| {
                    action.certainty.sure()
                        && action.agent == Agent::Device
                        && action.timing.iter().any(|timing| timing.hi == Some(0))
                })
            })
    }
    fn edges(&self, place: &Place, out: &mut Vec<Edge<Step, Place>>) {
        self.successors(place, |action, target| {
            let guards = action
                .timing
                .iter()
                .filter(|timing| timing.lo > 0)
                .map(|timing| (since(stopwatch(timing.clock)), Bound::AtLeast(timing.lo)))
                .collect();
            let resets = if action.restarts() {
                let numbers = action.timing.iter().map(|timing| stopwatch(timing.clock));
                numbers.flat_map(|number| [since(number), since_sure(number)]).collect()
            } else {
                Vec::new()
            };
            out.push(Edge { event: step(action), guards, resets, target });
        });
        // The time itself is still allowed, and bounds are whole microseconds: over from the next.
        if let Some(time) = self.monitor.limit(place.memory) {
            out.push(Edge {
                event: Step::elapse(),
                guards: vec![(self.of_the_claim(), Bound::AtLeast(time + 1))],
                resets: Vec::new(),
                target: Place { memory: Memory::BROKEN, ..place.clone() },
            });
        }
    }
    fn extremes(&self, _place: &Place, clock: ClockId) -> Extremes {
        let (lo, hi) =
            self.extremes.get(usize::from(clock.0 / 2)).copied().unwrap_or((i64::MAX, i64::MAX));
        // The stopwatch since a drive is sure only forces: it is never compared from below.
        let lower = if clock.0 % 2 == 1 { Extremes::NEVER } else { lo };
        Extremes { lower, upper: hi }
    }
    fn refutes(&self, place: &Place) -> bool {
        place.memory == Memory::BROKEN
    }
    fn may_have_run(&self, clock: ClockId) -> bool {
        let lasts = matches!(self.monitor, Monitor::Longer { quiet: Quiet::FromTheStart, .. });
        lasts && clock != self.of_the_claim()
    }
    /// A breaker that nothing moves any more does not close again, and what moves without end in one instant is
    /// asked apart.
    fn asks_stops(&self) -> bool {
        !matches!(self.monitor, Monitor::ClosesAlone { .. })
    }
    fn comes_of_itself(&self, event: &Step) -> bool {
        event.agent == Agent::Device
    }
    fn heap_bytes(&self, place: &Place) -> usize {
        place.unsure.len() * 2
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

    use super::*;
    use crate::cone::Dependencies;
    use std::path::Path;

    /// Places looked at on each rung.
    const MANY: usize = 300;

    /// What is put together from what was found for each unit is what is found by asking everything
    /// anew: for the first places of every scope of every claim of an example.
    fn what_a_move_does_not_stir_stays_as_it_was(example: &str) {
        let compared = compared(&format!("../../examples/{example}/scheme.kdl"));
        assert!(compared > 1000, "only {compared}");
    }

    /// How many moves were compared.
    fn compared(path: &str) -> usize {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
        let reading = fiftytwo_scheme::read_path(&path);
        let scheme = reading.scheme.unwrap();
        let machine = Machine::new(&scheme).unwrap();
        let dependencies = Dependencies::new(&machine);
        let starts = crate::prove::starts(&machine);
        let mut compared = 0;
        let mut scopes = Vec::new();
        for question in crate::questions::questions(&scheme) {
            let Some(monitor) = &question.monitor else { continue };
            for mut scope in dependencies.ladder(monitor) {
                if let Some(supply) = question.across {
                    scope.fails[machine.supply_unit(supply).index()] = true;
                }
                let readings = monitor.readings(&machine, &scope);
                let asked = (scope.clone(), std::mem::discriminant(monitor));
                if scopes.contains(&asked) {
                    continue;
                }
                scopes.push(asked);
                for timed in [false, true] {
                    let product =
                        Product::new(&machine, &scope, monitor, &starts, timed, ANY_NUMBER);
                    let Some(product) = product else { continue };
                    let mut seen: BTreeSet<Packed> = BTreeSet::new();
                    let mut waiting: Vec<Packed> =
                        product.all_starts().iter().map(|place| place.phases).collect();
                    while let Some(phases) = waiting.pop() {
                        if seen.len() >= MANY {
                            break;
                        }
                        if !seen.insert(phases) {
                            continue;
                        }
                        product.with(|worker| {
                            let here = product.here(worker, &phases);
                            let state = product.state(&phases);
                            let actions: Vec<Action> = here.actions().cloned().collect();
                            for action in &actions {
                                let next = product.after(worker, &phases, &here, action);
                                let look = worker.evaluator.look(&state);
                                let after = worker.evaluator.after(&look, action);
                                assert_eq!(next, product.phases(&after), "{}", question.asks);
                                let mut moved = product.moved(&here, &phases, next);
                                let stirred = product.stirred(worker, &mut moved);
                                let read = product.read_after(worker, &mut moved);
                                let signs = Signs::new(read, here.under_way(&stirred));
                                let after = product.state(&next);
                                let look = worker.evaluator.look(&after);
                                let anew = look.actions();
                                assert_eq!(signs, Signs::of(&readings, &look, &anew));
                                let there = product.here(worker, &next);
                                assert_eq!(signs, there.signs);
                                let found: Vec<Action> = there.actions().cloned().collect();
                                assert_eq!(found, anew, "{}", question.asks);
                                compared += 1;
                                waiting.push(next);
                            }
                        });
                    }
                }
            }
        }
        compared
    }

    #[test]
    fn what_bounces_stays_or_starts_slowly_is_put_together_rightly() {
        for form in
            ["bouncing-relay-contact", "shortest-stay", "anti-pump-52a-bounces", "slow-start"]
        {
            let compared = compared(&format!("tests/forms/{form}.kdl"));
            assert!(compared > 50, "{form}: only {compared}");
        }
    }
    #[test]
    fn what_a_move_does_not_stir_stays_as_it_was_in_quillmere() {
        what_a_move_does_not_stir_stays_as_it_was("quillmere");
    }
    #[test]
    fn what_a_move_does_not_stir_stays_as_it_was_in_harrowfen() {
        what_a_move_does_not_stir_stays_as_it_was("harrowfen");
    }
    #[test]
    fn what_a_move_does_not_stir_stays_as_it_was_in_dunmarrow() {
        what_a_move_does_not_stir_stays_as_it_was("dunmarrow");
    }
    #[test]
    fn what_a_move_does_not_stir_stays_as_it_was_in_latches() {
        what_a_move_does_not_stir_stays_as_it_was("latches");
    }
}
