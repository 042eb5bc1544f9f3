//! What follows from a state, put together from what follows for each unit alone.
//!
//! **In:** the phases of the known units. **Out:** what each unit may do next, what the claim reads.
//! **Never here:** where a move leads, the claim's memory.
//!
//! The moves of a unit depend on little: its own phase, what its coils see, seldom more. They are found
//! once for each combination of these and taken from there for every state that has it. What the loads
//! of a section see depends on the phases behind its contacts; it is found once for each of these.

use crate::cone::{sections_and_more, units_of_expr, units_of_section};
use crate::monitor::{Reading, Readings};
use crate::packing::{Packed, Packing, Units, each};
use fiftytwo_circuit::SectionId;
use fiftytwo_motion::machine::{
    Action, Evaluator, Look, Machine, Pull, Scope, Sight, State, Tri, UnitId,
};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, Expr};
use rustc_hash::FxHashMap;
use smallvec::{SmallVec, smallvec};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What follows for one unit.
#[derive(Debug)]
pub(super) struct Local {
    /// What it may do next.
    pub(super) actions: Box<[Action]>,
    /// How many of its moves are surely on their way for which the claim waits.
    pub(super) under_way: u16,
    /// The stopwatches of moves that must come within a time.
    pub(super) bounded: Box<[u16]>,
    /// Those of them whose drive is only perhaps so.
    pub(super) unsure: Box<[u16]>,
    /// The stopwatches that run besides those its actions ask.
    pub(super) marks: Box<[u16]>,
    /// What pulls it, where a change may interrupt it.
    pub(super) pull: Option<Pull>,
}

/// What follows for every kept unit, in their order.
pub(super) type Locals = SmallVec<[Arc<Local>; 32]>;

/// What the atoms that a claim reads are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Atoms {
    each: SmallVec<[Tri; 16]>,
    /// The first [`KEYED`] of them: equal where these are.
    key: u128,
}

/// Atoms that a key can hold, two bits each.
const KEYED: usize = 64;

impl Atoms {
    fn put(&mut self, index: usize, so: Tri) {
        self.each[index] = so;
        if index < KEYED {
            self.key = self.key & !(3 << (2 * index)) | (so as u128) << (2 * index);
        }
    }
}

/// The least that a claim reads.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Word {
    Atom(Atom),
    /// A unit stands in a phase.
    Stands(UnitId, u8),
}

impl Word {
    fn holds(self, look: &Look<'_, '_, '_>) -> Tri {
        match self {
            Self::Atom(atom) => look.atom(atom),
            Self::Stands(unit, phase) => Reading::Stands(unit, phase).holds(look),
        }
    }
}

/// A statement of a claim, its words by number.
#[derive(Debug, Clone)]
enum Sentence {
    Word(usize),
    Surely(Box<Sentence>),
    Not(Box<Sentence>),
    All(Vec<Sentence>),
    Any(Vec<Sentence>),
}

impl Sentence {
    fn holds(&self, atoms: &Atoms) -> Tri {
        match self {
            Self::Word(index) => atoms.each[*index],
            Self::Surely(inner) => Tri::from_bool(inner.holds(atoms).sure()),
            Self::Not(inner) => !inner.holds(atoms),
            Self::All(items) => items.iter().map(|item| item.holds(atoms)).fold(Tri::Yes, Tri::and),
            Self::Any(items) => items.iter().map(|item| item.holds(atoms)).fold(Tri::No, Tri::or),
        }
    }
}

/// Sections of one unit's coils.
const SECTIONS: usize = 3;

/// What decides something: what the loads of some sections see, by number, and some phases.
#[derive(Debug)]
struct Causes {
    /// All phases behind it.
    all: Packed,
    sections: SmallVec<[usize; SECTIONS]>,
    /// The phases that matter beside.
    beside: Packed,
}

impl Causes {
    fn combination(&self, phases: &Packed, sections: &Sections) -> Combination {
        let mut shown = [0; SECTIONS];
        for (slot, section) in shown.iter_mut().zip(&self.sections) {
            *slot = sections[*section];
        }
        (shown, phases.only(&self.beside))
    }
}

/// One combination of causes: what the sections show, by number, and the phases beside.
type Combination = ([u32; SECTIONS], Packed);

/// What decides what.
#[derive(Debug)]
pub(super) struct Reads {
    /// The sections, each with the phases behind its contacts.
    sections: Vec<(SectionId, Packed)>,
    /// The known units that can move, in order.
    units: Vec<(UnitId, Causes)>,
    /// The words of the claim's statements.
    atoms: Vec<(Word, Causes)>,
    /// The claim's statements.
    statements: [Sentence; 4],
    /// What the claim reads.
    readings: Readings,
    /// By unit: what a change of its phase may make otherwise.
    stirs: Vec<Touched>,
}

/// What a change of phases may make otherwise, by number.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Touched {
    /// Whose moves.
    units: Units,
    /// Which words of the claim.
    atoms: Units,
    /// What which sections show.
    sections: Units,
}

/// What the sections show in a state, by number.
pub(super) type Sections = SmallVec<[u32; 16]>;

/// What was found out before; one for each thread.
#[derive(Debug, Default)]
pub(super) struct Memo {
    sections: Vec<Shown>,
    locals: Vec<FxHashMap<Combination, Arc<Local>>>,
    atoms: Vec<FxHashMap<Combination, Tri>>,
    /// What the claim's statements are, by what its atoms are.
    read: FxHashMap<u128, [Tri; 4]>,
}

/// What a section shows.
#[derive(Debug, Default)]
struct Shown {
    /// The phases asked last, and what they show.
    last: Option<(Packed, u32)>,
    by_phases: FxHashMap<Packed, u32>,
    /// Sights that are alike have one number.
    number: FxHashMap<Sight, u32>,
}

/// More than so many combinations of one unit are not remembered.
const MOST_KNOWN: usize = 1 << 18;

impl Reads {
    pub(super) fn new(
        machine: &Machine<'_>,
        scope: &Scope,
        packing: &Packing,
        kept: &[UnitId],
        stirs: &[Box<[bool]>],
        readings: &Readings,
    ) -> Self {
        let nothing = std::array::from_fn(|_| Sentence::Any(Vec::new()));
        let mut reads = Self {
            sections: Vec::new(),
            units: Vec::with_capacity(kept.len()),
            atoms: Vec::new(),
            statements: nothing,
            readings: readings.clone(),
            stirs: Vec::new(),
        };
        for &unit in kept {
            // A breaker that is kept from opening asks what keeps it, too.
            let mut premise = BTreeSet::new();
            if let Some(stuck) = scope.stuck.as_ref().filter(|stuck| stuck.unit == unit) {
                units_of_expr(machine, &stuck.premise, &mut premise);
            }
            let stirs = |other: UnitId| stirs[other.index()][unit.index()];
            let all = packing.mask(|other| stirs(other) || premise.contains(&other));
            let (sections, mut beside) = sections_and_more(machine, unit);
            beside.insert(unit);
            beside.append(&mut premise);
            let beside = packing.mask(|other| beside.contains(&other));
            let causes = reads.causes(machine, packing, all, sections, beside);
            reads.units.push((unit, causes));
        }
        reads.statements =
            std::array::from_fn(|index| reads.said(machine, packing, &readings.statements[index]));
        reads.stirs = (0..kept.len()).map(|number| reads.stirred_by(packing, number)).collect();
        reads
    }
    fn stirred_by(&self, packing: &Packing, number: usize) -> Touched {
        let of = |masks: &mut dyn Iterator<Item = &Packed>| {
            let met = masks.map(|mask| packing.units(mask) >> number & 1 == 1).enumerate();
            // What has no bit of its own is taken with the last: it is asked too often, never too seldom.
            met.filter(|(_, met)| *met).fold(0, |all, (index, _)| all | 1 << index.min(LAST_BIT))
        };
        Touched {
            units: of(&mut self.units.iter().map(|(_, causes)| &causes.all)),
            atoms: of(&mut self.atoms.iter().map(|(_, causes)| &causes.all)),
            sections: of(&mut self.sections.iter().map(|(_, mask)| mask)),
        }
    }
    fn causes(
        &mut self,
        machine: &Machine<'_>,
        packing: &Packing,
        all: Packed,
        sections: impl IntoIterator<Item = SectionId>,
        beside: Packed,
    ) -> Causes {
        let mut numbers = SmallVec::new();
        for section in sections {
            let known = self.sections.iter().position(|(other, _)| *other == section);
            numbers.push(known.unwrap_or_else(|| {
                let read = units_of_section(machine, section);
                self.sections.push((section, packing.mask(|unit| read.contains(&unit))));
                self.sections.len() - 1
            }));
        }
        if numbers.len() > SECTIONS {
            return Causes { all, sections: SmallVec::new(), beside: all };
        }
        Causes { all, sections: numbers, beside }
    }
    fn said(&mut self, machine: &Machine<'_>, packing: &Packing, reading: &Reading) -> Sentence {
        let mut all = |items: &[Reading]| {
            items.iter().map(|item| self.said(machine, packing, item)).collect()
        };
        match reading {
            Reading::All(items) => Sentence::All(all(items)),
            Reading::Any(items) => Sentence::Any(all(items)),
            Reading::Not(inner) => Sentence::Not(Box::new(self.said(machine, packing, inner))),
            Reading::Holds(expr) => self.sentence(machine, packing, expr),
            Reading::Surely(expr) => {
                Sentence::Surely(Box::new(self.sentence(machine, packing, expr)))
            }
            Reading::Stands(unit, phase) => {
                let all = packing.mask(|other| other == *unit);
                self.word(machine, packing, Word::Stands(*unit, *phase), (all, None))
            }
        }
    }
    fn word(
        &mut self,
        machine: &Machine<'_>,
        packing: &Packing,
        word: Word,
        (all, section): (Packed, Option<SectionId>),
    ) -> Sentence {
        let known = self.atoms.iter().position(|(other, _)| *other == word);
        Sentence::Word(known.unwrap_or_else(|| {
            let beside = if section.is_some() { Packed::NONE } else { all };
            let causes = self.causes(machine, packing, all, section, beside);
            self.atoms.push((word, causes));
            self.atoms.len() - 1
        }))
    }
    fn sentence(&mut self, machine: &Machine<'_>, packing: &Packing, expr: &Expr) -> Sentence {
        let mut all = |items: &[Expr]| {
            items.iter().map(|item| self.sentence(machine, packing, item)).collect()
        };
        match expr {
            Expr::All(items) => Sentence::All(all(items)),
            Expr::Any(items) => Sentence::Any(all(items)),
            Expr::Not(inner) => Sentence::Not(Box::new(self.sentence(machine, packing, inner))),
            Expr::Atom(atom) => {
                let mut read = BTreeSet::new();
                units_of_expr(machine, expr, &mut read);
                let all = packing.mask(|unit| read.contains(&unit));
                let section = match atom {
                    Atom::Driven(part) | Atom::Lit(part) | Atom::Running(part) => {
                        machine.wiring.section_of(*part)
                    }
                    _ => None,
                };
                self.word(machine, packing, Word::Atom(*atom), (all, section))
            }
        }
    }
    pub(super) fn memo(&self) -> Memo {
        Memo {
            sections: self.sections.iter().map(|_| Shown::default()).collect(),
            locals: self.units.iter().map(|_| FxHashMap::default()).collect(),
            atoms: self.atoms.iter().map(|_| FxHashMap::default()).collect(),
            read: FxHashMap::default(),
        }
    }
    /// What a change of the phases of these units may make otherwise.
    pub(super) fn stirs(&self, changed: Units) -> Touched {
        let mut stirs = Touched::default();
        for unit in each(changed) {
            let by = &self.stirs[unit];
            stirs.units |= by.units;
            stirs.atoms |= by.atoms;
            stirs.sections |= by.sections;
        }
        stirs
    }
}

impl Touched {
    /// The units whose moves may be otherwise, by their number.
    pub(super) fn units(&self) -> impl Iterator<Item = usize> + use<> {
        each(self.units)
    }
    /// Whether the claim may read something else.
    pub(super) fn may_read(&self) -> bool {
        self.atoms != 0
    }
}

/// Which of so many things are stirred.
fn stirred(bits: Units, many: usize) -> impl Iterator<Item = usize> {
    let beyond = if bits >> LAST_BIT & 1 == 1 { LAST_BIT..many } else { 0..0 };
    each(bits & !(1 << LAST_BIT)).chain(beyond)
}

/// The last of the things that have a bit.
const LAST_BIT: usize = Units::BITS as usize - 1;

/// A state of one search, to be asked.
pub(super) struct Asking<'a, 'm, 's, F: Fn(&Packed) -> State> {
    pub(super) reads: &'a Reads,
    pub(super) evaluator: &'a Evaluator<'m, 's>,
    pub(super) memo: &'a mut Memo,
    /// The state with these phases.
    pub(super) state: F,
}

impl<F: Fn(&Packed) -> State> Asking<'_, '_, '_, F> {
    /// What the loads of every section see, by number.
    pub(super) fn sections(&mut self, phases: &Packed) -> Sections {
        (0..self.reads.sections.len()).map(|index| self.shown(index, phases)).collect()
    }
    /// The same, where it is known of a state from which little differs.
    pub(super) fn sections_near(
        &mut self,
        known: &Sections,
        stirs: &Touched,
        phases: &Packed,
    ) -> Sections {
        let mut sections = known.clone();
        for index in stirred(stirs.sections, sections.len()) {
            sections[index] = self.shown(index, phases);
        }
        sections
    }
    /// What the loads of a section see, by number.
    fn shown(&mut self, index: usize, phases: &Packed) -> u32 {
        let (section, read) = self.reads.sections[index];
        let shown = &mut self.memo.sections[index];
        let key = phases.only(&read);
        if let Some((_, number)) = shown.last.filter(|(last, _)| *last == key) {
            return number;
        }
        let number = shown.by_phases.get(&key).copied().unwrap_or_else(|| {
            let state = (self.state)(phases);
            let sight = self.evaluator.look(&state).sight(section);
            let next = u32::try_from(shown.number.len()).unwrap_or(u32::MAX);
            let number = *shown.number.entry(sight).or_insert(next);
            if shown.by_phases.len() >= MOST_KNOWN {
                shown.by_phases.clear();
            }
            shown.by_phases.insert(key, number);
            number
        });
        shown.last = Some((key, number));
        number
    }
    /// What follows for the unit of this number.
    pub(super) fn local(
        &mut self,
        index: usize,
        phases: &Packed,
        sections: &Sections,
    ) -> Arc<Local> {
        let reads = self.reads;
        let (unit, causes) = &reads.units[index];
        let (unit, key) = (*unit, causes.combination(phases, sections));
        let known = &mut self.memo.locals[index];
        if let Some(local) = known.get(&key) {
            return Arc::clone(local);
        }
        let state = (self.state)(phases);
        let look = self.evaluator.look(&state);
        let actions: Box<[Action]> = look.actions_of(unit).into();
        let under_way = actions.iter().filter(|action| reads.readings.waits_for(action)).count();
        let under_way = u16::try_from(under_way).unwrap_or(u16::MAX);
        let bounded = |test: &dyn Fn(&Action) -> bool| {
            let timings = actions.iter().filter(|action| test(action)).flat_map(|it| &it.timing);
            let bounded = timings.filter(|it| it.hi.is_some_and(|hi| hi != 0 || it.lo != 0));
            bounded.map(|timing| super::stopwatch(timing.clock)).collect()
        };
        let mut marks = Vec::new();
        look.machine().marks_of(&look, unit, |coil| look.pickup(coil).possible(), &mut marks);
        let local = Arc::new(Local {
            marks: marks.into_iter().map(super::stopwatch).collect(),
            under_way,
            bounded: bounded(&|_| true),
            unsure: bounded(&|action| action.certainty == Tri::Perhaps),
            pull: look.pull(unit),
            actions,
        });
        if known.len() >= MOST_KNOWN {
            known.clear();
        }
        known.insert(key, Arc::clone(&local));
        local
    }
    /// What follows for every unit.
    pub(super) fn locals(&mut self, phases: &Packed, sections: &Sections) -> Locals {
        (0..self.reads.units.len()).map(|index| self.local(index, phases, sections)).collect()
    }
    /// What the atoms are that the claim reads.
    pub(super) fn atoms(&mut self, phases: &Packed, sections: &Sections) -> Atoms {
        let many = self.reads.atoms.len();
        let mut atoms = Atoms { each: smallvec![Tri::No; many], key: 0 };
        for index in 0..many {
            atoms.put(index, self.atom(index, phases, sections));
        }
        atoms
    }
    /// What the claim's statements are.
    pub(super) fn read(&mut self, atoms: &Atoms) -> [Tri; 4] {
        let reads = self.reads;
        let anew = || std::array::from_fn(|index| reads.statements[index].holds(atoms));
        if atoms.each.len() > KEYED {
            return anew();
        }
        *self.memo.read.entry(atoms.key).or_insert_with(anew)
    }
    /// What the claim reads, where what it reads in a state near by is known; and its atoms, where they are
    /// others.
    pub(super) fn read_near(
        &mut self,
        (atoms, read): (&Atoms, [Tri; 4]),
        stirs: &Touched,
        phases: &Packed,
        sections: &Sections,
    ) -> ([Tri; 4], Option<Atoms>) {
        let mut now: Option<Atoms> = None;
        for index in stirred(stirs.atoms, self.reads.atoms.len()) {
            let so = self.atom(index, phases, sections);
            if so != atoms.each[index] {
                now.get_or_insert_with(|| atoms.clone()).put(index, so);
            }
        }
        (now.as_ref().map_or(read, |now| self.read(now)), now)
    }
    fn atom(&mut self, index: usize, phases: &Packed, sections: &Sections) -> Tri {
        let reads = self.reads;
        let (word, causes) = &reads.atoms[index];
        let key = causes.combination(phases, sections);
        let known = &mut self.memo.atoms[index];
        if let Some(so) = known.get(&key) {
            return *so;
        }
        let state = (self.state)(phases);
        let so = word.holds(&self.evaluator.look(&state));
        if known.len() >= MOST_KNOWN {
            known.clear();
        }
        known.insert(key, so);
        so
    }
}
