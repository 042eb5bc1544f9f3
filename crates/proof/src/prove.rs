//! From a scheme to verdicts.
//!
//! A question is tried with few units known, then with more. In any order first: what holds so
//! needs no times. Else within tolerances: what holds so is a race. What fails with everything
//! known that matters is replayed, and only a replayed story refutes.

mod answers;
mod starts;

pub use starts::starts;

use crate::asked::{Asked, InMotion};
use crate::cone::Dependencies;
use crate::environment;
use crate::fresh;
use crate::margins;
use crate::monitor::Monitor;
use crate::questions::{Question, questions};
use crate::report::{Proof, Report, Verdict};
use crate::restless::{self, Restless};
use crate::search::Limits;
use crate::space::Prepared;
use crate::witness;
use answers::{Answers, side_by_side};
use fiftytwo_motion::machine::{Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, Scheme};
use std::cell::{Cell, OnceCell};
use std::collections::BTreeSet;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// How much a proof may spend.
#[derive(Debug, Clone, Copy)]
pub struct Options<'a> {
    /// Most positions of one search in any order; within tolerances a third as many zones.
    pub places: usize,
    /// Most time for one question, none: no limit. A limit on time makes verdicts depend on the
    /// machine; the limit on positions does not.
    pub time: Option<Duration>,
    /// Whether to look for the margins of races.
    pub margins: bool,
    /// Somebody's hand on the brake: what is under way then is not proven, what was decided stays.
    pub stop: Option<&'a AtomicBool>,
    /// Asks only the claims of this name; none: all.
    pub only: Option<&'a str>,
    /// Told how far it is.
    pub progress: Option<Progress<'a>>,
}

/// Who is told how far a proof is.
#[derive(Clone, Copy)]
pub struct Progress<'a>(pub &'a (dyn Fn(Stage<'_>) + Sync));

impl std::fmt::Debug for Progress<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Progress")
    }
}

/// How far a proof is.
#[derive(Debug, Clone, Copy)]
pub enum Stage<'a> {
    /// A question is taken up: the how many-eth, of how many.
    Asks {
        /// Its number, from 1.
        number: usize,
        /// How many there are.
        of: usize,
        /// The question.
        question: &'a Question,
    },
    /// It has its verdict.
    Answered(&'a Report),
}

impl Options<'_> {
    /// Most zones of one search within tolerances: each costs about as much as three positions.
    pub(crate) fn zones(&self) -> usize {
        self.places / ZONE
    }
    /// The same with no more zones than this.
    pub(crate) fn with_zones(&self, most: usize) -> Self {
        Self { places: self.places.min(ZONE * most), ..*self }
    }
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { places: 600_000, time: None, margins: true, stop: None, only: None, progress: None }
    }
}

/// Said where the outside can do nothing.
const NARROW: &str = "nobody may do anything and nothing outside can change, so nothing happens: \
                      write a person, an order or a condition";
/// What a zone costs in positions.
pub(crate) const ZONE: usize = 3;
/// Most zones of a search across the loss of a supply: it is told beside the claim.
const ACROSS_PLACES: usize = 60_000;

/// Asks every claim of a scheme.
///
/// # Errors
/// Findings where the scheme can't be made to move (its wiring can't be solved).
pub fn prove(scheme: &Scheme, options: &Options<'_>) -> Result<Proof, Vec<Finding>> {
    let machine = Machine::new(scheme)?;
    let dependencies = Dependencies::new(&machine);
    let prepared = Prepared::new(&machine);
    let starts = starts(&machine);
    let narrow = !witness::outside_acts(&machine, &starts);
    let mut proof = Proof { reports: Vec::new(), assumptions: assumptions(&machine) };
    let questions: Vec<Question> = questions(scheme)
        .into_iter()
        .filter(|question| options.only.is_none_or(|name| question.claim == name))
        .collect();
    let circling = OnceLock::new();
    let known = Known {
        dependencies: &dependencies,
        prepared: &prepared,
        starts: &starts,
        narrow,
        circling: &circling,
    };
    let limits =
        Limits { places: options.places, bytes: 4 << 30, deadline: None, stop: options.stop };
    let again = Options { margins: false, progress: None, ..*options };
    let restless = Restless {
        prepared: &prepared,
        dependencies: &dependencies,
        starts: &starts,
        limits,
        time: options.time,
        questions: &questions,
        ask: &|question| ask(&machine, &known, question, &again).report,
        circling: &circling,
        roots: OnceLock::new(),
    };
    let mut answers = Answers::new(&restless, options.progress);
    let ask = |question: &Question| ask(&machine, &known, question, options);
    side_by_side(&questions, ask, |told| answers.take(told));
    proof.reports = answers.all();
    Ok(proof)
}

/// What every verdict assumes, in words.
fn assumptions(machine: &Machine<'_>) -> Vec<String> {
    let mut list = vec![
        "supplies stay on within their declared ranges".to_owned(),
        "fuses whole, links closed, overloads reset; no part is faulty".to_owned(),
        "drive is instant once contacts stand; declared times are of the devices as wired"
            .to_owned(),
        "persons and conditions may act at any moment, even for an instant".to_owned(),
        "latch and stroke of a breaker spread together: the stroke takes the declared time less \
         the latch's, bound by bound"
            .to_owned(),
        "a trip that comes during a closing stroke takes effect once the main contacts have \
         touched: the closing is completed first (ask the maker)"
            .to_owned(),
        "an auxiliary contact of a relay opens at least 0.5 ms before the other closes, at the most \
         3 ms and the spread of the declared time (common practice, no source)"
            .to_owned(),
        "a latch of a breaker, a lockout and a latch that lose their drive, for however short, begin \
         anew: pulses with gaps between them don't add up"
            .to_owned(),
    ];
    list.extend(environment::assumed(machine.scheme));
    let breakers = machine.units.values().filter(|it| matches!(it.kind, UnitKind::Stroke(_)));
    if breakers.count() > starts::MOST_APART {
        list.push(
            "runs begin with all breakers open, all closed, or one apart from all others"
                .to_owned(),
        );
    }
    let scheme = machine.scheme;
    for (_, part, coil) in scheme.coils() {
        let is_breaker = part.device.is_some_and(|device| {
            matches!(scheme.devices[device].kind, fiftytwo_scheme::DeviceKind::Breaker { .. })
        });
        if part.at.is_some() && !is_breaker && coil.pickup_time.is_none() {
            list.push(format!("{}: no pickup-time is written, so any time is tried", part.name));
        }
    }
    list
}

/// What is known of a machine before anything is asked.
struct Known<'a, 'm, 's> {
    dependencies: &'a Dependencies<'m, 's>,
    prepared: &'a Prepared<'m, 's>,
    starts: &'a [State],
    /// Nothing outside can do anything.
    narrow: bool,
    /// What was not shown to come to rest by itself; found once.
    circling: &'a OnceLock<BTreeSet<UnitId>>,
}

impl Known<'_, '_, '_> {
    /// Everything that might move without end, as long as nobody asked which of it does.
    fn may_never_rest(&self, limits: &Limits<'_>) -> InMotion {
        let (prepared, dependencies) = (self.prepared, self.dependencies);
        let circling = self
            .circling
            .get_or_init(|| crate::rest::without_end(prepared, dependencies, self.starts, limits));
        let machine = prepared.machine();
        let mut roots = circling.clone();
        roots.extend(restless::closed_by_something(machine).map(|(unit, _)| unit));
        InMotion { may: dependencies.forward(&roots), roots }
    }
}

/// An answer, and whether devices may move without end in the search that gave it; none: that was not asked.
struct Answer {
    report: Report,
    moves: Option<bool>,
}

impl From<Report> for Answer {
    fn from(report: Report) -> Self {
        Self { report, moves: None }
    }
}

fn ask(
    machine: &Machine<'_>,
    known: &Known<'_, '_, '_>,
    question: &Question,
    options: &Options<'_>,
) -> Answer {
    let Known { dependencies, prepared, starts, narrow, .. } = *known;
    let mut report = Report {
        across: question.across.map(|supply| machine.scheme.supplies[supply].name.clone()),
        claim: question.claim.clone(),
        asks: question.asks.clone(),
        about: question.about.clone(),
        verdict: Verdict::NotProven,
        because: None,
        own: question.own,
        covers: question.covers.to_owned(),
        positions: 0,
        known: (0, machine.units.len()),
        searches: Vec::new(),
        margins: Vec::new(),
        story: None,
        witnesses: Vec::new(),
        at: question.at,
    };
    let waiver = machine.scheme.waivers.iter().find(|waiver| {
        waiver.claim == question.claim
            && waiver.for_name.as_ref().is_none_or(|name| *name == question.about)
    });
    if let Some(waiver) = waiver {
        report.verdict = Verdict::Waived;
        report.because = Some(waiver.because.clone());
        return report.into();
    }
    if narrow && question.monitor.is_some() {
        report.verdict = Verdict::Vacuous;
        report.because = Some(NARROW.to_owned());
        return report.into();
    }
    let Some(monitor) = &question.monitor else {
        // A coil that stands nowhere is driven by nothing.
        report.verdict = if question.loose { Verdict::Vacuous } else { Verdict::NotAsked };
        report.because.clone_from(&question.not_asked);
        return report.into();
    };
    if *monitor == Monitor::ComesToRest {
        let limits = Limits {
            places: options.places,
            bytes: 4 << 30,
            deadline: options.time.map(|time| Instant::now() + time),
            stop: options.stop,
        };
        crate::rest::decide(prepared, dependencies, starts, &limits, &mut report);
        return report.into();
    }
    let begins = starts_of(machine, question, starts);
    let ladder = ladder_of(machine, dependencies, question, monitor);
    let beside = options.with_zones(ACROSS_PLACES);
    let options = if question.across.is_some() { &beside } else { options };
    let in_motion = restless::asks_about_rest(question, monitor).then(|| {
        let (places, stop) = (options.places, options.stop);
        known.may_never_rest(&Limits { places, bytes: 4 << 30, deadline: None, stop })
    });
    let asked = Asked {
        machine,
        prepared,
        ladder,
        starts: &begins,
        monitor,
        options,
        deadline: options.time.map(|time| Instant::now() + time),
        witness: OnceCell::new(),
        in_motion,
        moves: Cell::new(None),
    };
    let decided = asked.decide(&mut report);
    let holds = matches!(report.verdict, Verdict::HoldsInAnyOrder | Verdict::HoldsWithinTolerances);
    if holds {
        asked.witnesses(dependencies, question, &mut report);
    }
    if report.verdict == Verdict::Fails && report.because.is_none() {
        let story = report.story.as_ref();
        let volts = story.and_then(|story| crate::story::volts_at_end(machine, story, monitor));
        report.because = Some(monitor.broken_words(machine) + &volts.unwrap_or_default());
        if let Some(names) = story.and_then(|story| restless::time_stops_in(machine, story)) {
            report.verdict = Verdict::NotProven;
            report.story = None;
            report.because = Some(format!(
                "time stops: {names} moves without end in one instant, so what breaks it later is no run"
            ));
        }
    }
    // What is too wide for the search of a margin is told without one.
    let fits = fresh::of_one_order(monitor).is_none() || report.positions <= margins::MOST_PLACES;
    if let (Verdict::HoldsWithinTolerances, true, Some(scope), None) =
        (report.verdict, options.margins && fits, decided, question.across)
    {
        report.margins = margins::margins(machine, question, options, scope);
    }
    Answer { report, moves: asked.moves.get() }
}

/// The starts of a question: with an energy that is never recharged, those in which it is full.
pub(crate) fn starts_of(
    machine: &Machine<'_>,
    question: &Question,
    starts: &[State],
) -> Vec<State> {
    let energy = question.setting.unrecharged.and_then(|breaker| machine.energy_unit(breaker));
    let mut fitting = starts.to_vec();
    if let Some(unit) = energy {
        let full = machine.units[unit].phases / 2 - 1;
        fitting.retain(|state| state.phase(unit) == full);
    }
    fitting
}

/// The scopes of a question, with what is so while it is asked.
pub(crate) fn ladder_of(
    machine: &Machine<'_>,
    dependencies: &Dependencies<'_, '_>,
    question: &Question,
    monitor: &Monitor,
) -> Vec<Scope> {
    let energy = question.setting.unrecharged.and_then(|breaker| machine.energy_unit(breaker));
    let mut still: BTreeSet<UnitId> = energy.into_iter().collect();
    if let Some(alone) = &question.setting.alone {
        still.extend(dependencies.stands_still(alone));
    }
    let mut ladder = dependencies.ladder_while(monitor, &still);
    for scope in &mut ladder {
        for &supply in &question.setting.fails {
            // A loss that nothing known can feel only doubles the positions.
            scope.fails[machine.supply_unit(supply).index()] =
                dependencies.feels(scope, monitor, &still, supply);
        }
        if let Some(supply) = question.across {
            scope.fails[machine.supply_unit(supply).index()] = true;
        }
        for unit in &still {
            scope.held[unit.index()] = true;
        }
    }
    ladder
}
