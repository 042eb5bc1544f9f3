//! From a scheme to verdicts.
//!
//! A question is tried with few units known, then with more. In any order first: what holds so
//! needs no times. Else within tolerances: what holds so is a race. What fails with everything
//! known that matters is replayed, and only a replayed story refutes.

use crate::cone::Dependencies;
use crate::environment;
use crate::fresh;
use crate::margins;
use crate::monitor::Monitor;
use crate::patient::{self, Sought};
use crate::questions::{Question, questions};
use crate::report::{Proof, Report, SearchMade, Story, Verdict};
use crate::restless::{self, Restless};
use crate::round;
use crate::search::{Limits, Outcome, Search, Which};
use crate::space::{ANY_NUMBER, Prepared, Product, Step};
use crate::story::replayed;
use crate::timed::{self, TimedOutcome};
use crate::witness::{self, Seen};
use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_motion::patient::Pace;
use fiftytwo_motion::play::{PlayOptions, still};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, Scheme};
use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
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

impl Default for Options<'_> {
    fn default() -> Self {
        Self { places: 600_000, time: None, margins: true, stop: None, only: None, progress: None }
    }
}

/// Most moves of the outside in a story that is looked for before everything is searched.
const FEW_OUTSIDE: u8 = 5;

/// Said where nothing breaks a claim, but what it speaks of was not seen to happen either.
const NEVER_SEEN: &str =
    "nothing breaks it, but no run was found in which what it speaks of happens";
/// Said where the outside can do nothing.
const NARROW: &str = "nobody may do anything and nothing outside can change, so nothing happens: \
                      write a person, an order or a condition";
/// Said where nothing need come to rest.
const ENDLESS: &str = "devices may move for ever without coming to rest";
/// Most zones of a search with parts left out.
const PART_PLACES: usize = 120_000;
/// What a zone costs in positions.
pub(crate) const ZONE: usize = 3;
/// Most zones of a search across the loss of a supply: it is told beside the claim.
const ACROSS_PLACES: usize = 60_000;
/// Up to so many known units all orders of few moves are tried first.
const FEW_UNITS: usize = 24;
/// Of so many breakers every combination of positions is a start.
const MOST_APART: usize = 5;
/// Most positions of a search in any order for a breaker left alone: devices that order it again wait for
/// times, so that seldom answers.
const ALONE_PLACES: usize = 30_000;
/// Most zones of a search for a breaker left alone.
const ALONE_ZONES: usize = 600_000;
/// A story of plain logic before one of a race.
const LOGIC_FIRST: [Pace; 2] = [Pace::Middle, Pace::SlowRelays];
/// The other way round, where a race is asked for.
pub(crate) const RACES_FIRST: [Pace; 2] = [Pace::SlowRelays, Pace::Middle];
/// Most zones of a search for a run with the outside's moves of another.
const RETRACED_PLACES: usize = 20_000;
/// Most zones of such a search.
const QUICK_PLACES: usize = 30_000;

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
    let known = Known { dependencies: &dependencies, prepared: &prepared, starts: &starts, narrow };
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
        ask: &|question| ask(&machine, &known, question, &again),
        roots: OnceCell::new(),
    };
    let mut answers = Answers {
        restless: &restless,
        progress: options.progress,
        reports: questions.iter().map(|_| None).collect(),
        held: Vec::new(),
    };
    let ask = |question: &Question| ask(&machine, &known, question, options);
    side_by_side(&questions, ask, |told| answers.take(told));
    answers.release();
    proof.reports = answers.reports.into_iter().flatten().collect();
    Ok(proof)
}

/// What a worker tells about a question: that it takes it up, or the answer.
type Told = (usize, Option<Report>);

/// The answers so far. A "holds" that may still be taken back is told to nobody until that is decided.
struct Answers<'a, 'm, 's> {
    restless: &'a Restless<'a, 'm, 's>,
    progress: Option<Progress<'a>>,
    reports: Vec<Option<Report>>,
    held: Vec<usize>,
}

impl Answers<'_, '_, '_> {
    fn take(&mut self, (index, report): Told) {
        let questions = self.restless.questions;
        let Some(question) = questions.get(index) else { return };
        let Some(report) = report else {
            self.tell(Stage::Asks { number: index + 1, of: questions.len(), question });
            return;
        };
        if restless::concerns(question, &report) {
            self.held.push(index);
        } else {
            self.tell(Stage::Answered(&report));
        }
        if let Some(slot) = self.reports.get_mut(index) {
            *slot = Some(report);
        }
        let mut all = questions.iter().zip(&self.reports);
        if !all.any(|(question, report)| restless::decides(question) && report.is_none()) {
            self.release();
        }
    }
    /// Tells what was held back, once it is judged.
    fn release(&mut self) {
        for index in std::mem::take(&mut self.held) {
            let question = self.restless.questions.get(index);
            let taken = self.reports.get_mut(index).and_then(Option::take);
            let (Some(question), Some(mut report)) = (question, taken) else { continue };
            self.restless.judge(question, &mut report, &self.reports);
            self.tell(Stage::Answered(&report));
            if let Some(slot) = self.reports.get_mut(index) {
                *slot = Some(report);
            }
        }
    }
    fn tell(&self, stage: Stage<'_>) {
        if let Some(Progress(told)) = self.progress {
            told(stage);
        }
    }
}

/// Asks all questions, several at a time, those first that decide what others are told; what is told comes
/// to one thread.
fn side_by_side(
    questions: &[Question],
    ask: impl Fn(&Question) -> Report + Sync,
    mut take: impl FnMut(Told),
) {
    let mut order: Vec<usize> = (0..questions.len()).collect();
    order.sort_by_key(|index| !questions.get(*index).is_some_and(restless::decides));
    let next = AtomicUsize::new(0);
    let (sender, told) = std::sync::mpsc::channel::<Told>();
    std::thread::scope(|threads| {
        for _ in 0..rayon::current_num_threads().min(questions.len()) {
            let (sender, next, ask, order) = (sender.clone(), &next, &ask, &order);
            threads.spawn(move || {
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    let Some(index) = order.get(place).copied() else { break };
                    let Some(question) = questions.get(index) else { break };
                    // Nobody listens any more only where the whole proof is gone.
                    let _ = sender.send((index, None));
                    let _ = sender.send((index, Some(ask(question))));
                }
            });
        }
        drop(sender);
        told.into_iter().for_each(&mut take);
    });
}

/// Where every run may begin: in service (energy charged, each breaker open or closed, logic and
/// relays have followed) and as delivered (as drawn, just energised); a latch that never was driven
/// may stand anywhere. Of more than [`MOST_APART`] breakers those apart from all others one at a time.
pub fn starts(machine: &Machine<'_>) -> Vec<State> {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let mut states = vec![machine.drawn()];
    for (unit, item) in machine.units.iter() {
        let UnitKind::Bistable(device) = item.kind else { continue };
        let device = &machine.scheme.devices[device];
        if !matches!(device.kind, fiftytwo_scheme::DeviceKind::Latch { .. }) {
            continue;
        }
        let mut more = Vec::new();
        for state in &states {
            for position in 0..device.positions.len() {
                let mut other = state.clone();
                other.set(unit, u8::try_from(position).unwrap_or(0));
                more.push(other);
            }
        }
        states = more;
    }
    let mut in_service: Vec<State> = states
        .iter()
        .map(|state| {
            let mut state = state.clone();
            for (unit, item) in machine.units.iter() {
                if matches!(item.kind, UnitKind::Energy(_)) {
                    state.set(unit, item.phases / 2 - 1);
                }
            }
            still(&evaluator, state, PlayOptions::default())
        })
        .filter(|state| !states.contains(state))
        .collect();
    let open = if in_service.is_empty() { &states } else { &in_service };
    let mut moved: Vec<State> = Vec::new();
    for positions in positions(machine) {
        for state in open {
            let mut state = state.clone();
            for (unit, phase) in &positions {
                state.set(*unit, *phase);
            }
            let state = still(&evaluator, state, PlayOptions::default());
            if !open.contains(&state) && !moved.contains(&state) {
                moved.push(state);
            }
        }
    }
    in_service.append(&mut moved);
    // A story from service is the one a reader looks for.
    in_service.extend(states);
    in_service
}

/// Positions of all breakers together: all closed first, all open, then apart.
fn positions(machine: &Machine<'_>) -> Vec<Vec<(UnitId, u8)>> {
    let strokes: Vec<(UnitId, u8)> = machine
        .units
        .iter()
        .filter_map(|(unit, item)| match item.kind {
            UnitKind::Stroke(device) => machine.stroke(device).map(|table| (unit, table.closed)),
            _ => None,
        })
        .collect();
    let many = strokes.len();
    let all = |closed: &dyn Fn(usize) -> bool| -> Vec<(UnitId, u8)> {
        let each = strokes.iter().enumerate();
        each.map(|(index, (unit, phase))| (*unit, if closed(index) { *phase } else { 0 })).collect()
    };
    let mut found = vec![all(&|_| true), all(&|_| false)];
    if many <= MOST_APART {
        found.extend((1..(1_usize << many) - 1).map(|set| all(&|index| set >> index & 1 == 1)));
    } else {
        for alone in 0..many {
            found.push(all(&|index| index == alone));
            found.push(all(&|index| index != alone));
        }
    }
    found
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
    if breakers.count() > MOST_APART {
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
}

fn ask(
    machine: &Machine<'_>,
    known: &Known<'_, '_, '_>,
    question: &Question,
    options: &Options<'_>,
) -> Report {
    let Known { dependencies, prepared, starts, narrow } = *known;
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
        return report;
    }
    if narrow && question.monitor.is_some() {
        report.verdict = Verdict::Vacuous;
        report.because = Some(NARROW.to_owned());
        return report;
    }
    let Some(monitor) = &question.monitor else {
        // A coil that stands nowhere is driven by nothing.
        report.verdict = if question.loose { Verdict::Vacuous } else { Verdict::NotAsked };
        report.because.clone_from(&question.not_asked);
        return report;
    };
    if *monitor == Monitor::ComesToRest {
        let limits = Limits {
            places: options.places,
            bytes: 4 << 30,
            deadline: options.time.map(|time| Instant::now() + time),
            stop: options.stop,
        };
        crate::rest::decide(prepared, dependencies, starts, &limits, &mut report);
        return report;
    }
    let begins = starts_of(machine, question, starts);
    let ladder = ladder_of(machine, dependencies, question, monitor);
    let beside = Options { places: options.places.min(ZONE * ACROSS_PLACES), ..*options };
    let options = if question.across.is_some() { &beside } else { options };
    let asked = Asked {
        machine,
        prepared,
        ladder,
        starts: &begins,
        monitor,
        options,
        deadline: options.time.map(|time| Instant::now() + time),
        witness: OnceCell::new(),
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
    report
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

/// One question under way.
pub(crate) struct Asked<'a, 's> {
    pub(crate) machine: &'a Machine<'s>,
    pub(crate) prepared: &'a Prepared<'a, 's>,
    pub(crate) ladder: Vec<Scope>,
    pub(crate) starts: &'a [State],
    pub(crate) monitor: &'a Monitor,
    pub(crate) options: &'a Options<'a>,
    pub(crate) deadline: Option<Instant>,
    pub(crate) witness: OnceCell<Option<Vec<(i64, Step)>>>,
}

/// The steps of a run, with their times in µs.
pub(crate) type Steps = Vec<(i64, Step)>;

/// What one search said.
pub(crate) enum Found {
    /// Nothing breaks the claim here; how many positions, and whether its premise was met.
    Holds { positions: usize, premise: bool },
    /// Something does, at these times.
    Breaks { steps: Vec<(i64, Step)>, ties: usize, positions: usize },
    /// A limit, or a fault of the search; in words.
    Open { why: String, positions: usize },
    /// Nothing breaks it, but these devices may move for ever with the claim undecided.
    Endless { who: String, positions: usize },
}

impl<'a, 's> Asked<'a, 's> {
    /// A zone costs about as much as three positions.
    fn most_zones(&self) -> usize {
        self.options.places / ZONE
    }
    fn limits(&self, places: usize) -> Limits<'a> {
        Limits {
            places: places.min(self.options.places),
            bytes: 4 << 30,
            deadline: self.deadline,
            stop: self.options.stop,
        }
    }
    /// Fills in the verdict; gives the scope of the search that decided.
    fn decide(&self, report: &mut Report) -> Option<&Scope> {
        let whole = self.ladder.last()?;
        if self.monitor.asks_rest()
            && let Some(restless) = patient::restless(self.machine, whole, self.starts)
        {
            report.known.0 = known_units(whole);
            report.because = Some(format!(
                "devices move for ever and nothing comes to rest: {restless}; what is asked at \
                 rest can't be proven"
            ));
            return None;
        }
        let rungs = self.ladder.len();
        let mut why = String::from("no search was made");
        // A story is looked for once: a second look would see the same.
        let mut sought = false;
        let mut endless = false;
        let mut too_much = false;
        for (rung, scope) in self.ladder.iter().enumerate() {
            if self.stopped() {
                break;
            }
            let last = rung + 1 == rungs;
            let alone = matches!(self.monitor, Monitor::ClosesAlone { .. });
            // What is too much with few units known is too much with more.
            let most = if too_much && !last { PART_PLACES } else { self.options.places };
            let limits = self.limits(if alone { ALONE_PLACES } else { most });
            report.known.0 = known_units(scope);
            let found = self.in_any_order(scope, last, &limits);
            self.log(report, "in any order", &found);
            if self.holds(report, &found, last, Verdict::HoldsInAnyOrder) {
                return Some(scope);
            }
            if let Found::Endless { who, .. } = &found {
                why = format!("{ENDLESS}: {who}");
                endless = true;
                continue;
            }
            if let Found::Holds { .. } = found {
                NEVER_SEEN.clone_into(&mut why);
                continue;
            }
            // With everything known and many units a quick look first: if it can be broken, the search in
            // time says so.
            let many = known_units(whole) > FEW_UNITS;
            // Of a trip that nobody asked for a plain story tells more than the shortest one.
            let plain = !many || matches!(self.monitor, Monitor::Unasked { .. });
            if last && !plain && !sought && self.take(report, whole, self.first_look(whole)) {
                return Some(whole);
            }
            let stopped = matches!(found, Found::Open { .. });
            too_much |= stopped;
            let pays = (last && plain) || (stopped && !alone);
            if pays && !std::mem::replace(&mut sought, true) && self.refuted(report, whole) {
                return Some(whole);
            }
            let most = if last { self.most_zones() } else { PART_PLACES.min(self.most_zones()) };
            let zones = if alone { ALONE_ZONES.min(self.options.places) } else { most };
            let limits = Limits { places: zones, ..self.limits(zones) };
            let found = self
                .asked_from_rest(scope, &limits)
                .unwrap_or_else(|| self.search_in_time(scope, ANY_NUMBER, &limits));
            self.log(report, "within tolerances", &found);
            if matches!(found, Found::Holds { .. }) && self.hangs_for_ever() {
                ENDLESS.clone_into(&mut why);
                endless = true;
                continue;
            }
            if self.holds(report, &found, last, Verdict::HoldsWithinTolerances) {
                return Some(scope);
            }
            match found {
                Found::Holds { .. } => NEVER_SEEN.clone_into(&mut why),
                Found::Breaks { steps, ties, .. } if last => {
                    let confirmed =
                        replayed(self.machine, scope, self.monitor, self.starts, &steps, ties);
                    match confirmed {
                        Ok(story) => {
                            fails(report, story);
                            return Some(scope);
                        }
                        Err(disagrees) => {
                            why = format!(
                                "a story was found that the replay does not confirm: {disagrees}"
                            );
                        }
                    }
                }
                Found::Breaks { .. } => {
                    "it can be broken while parts are left out of the search".clone_into(&mut why);
                }
                Found::Endless { .. } => {}
                // With more units known it only grows, and nobody is told of it.
                Found::Open { why: limit, .. } if alone => {
                    why = limit;
                    break;
                }
                Found::Open { why: limit, .. } => {
                    why = limit;
                    if !std::mem::replace(&mut sought, true) && self.refuted(report, whole) {
                        return Some(whole);
                    }
                }
            }
        }
        if endless && self.fails_for_ever(report, whole) {
            return Some(whole);
        }
        report.verdict = Verdict::NotProven;
        report.because = Some(if self.stopped() { "stopped by hand".to_owned() } else { why });
        None
    }
    /// Refutes what is promised at rest by a real run in which rest never comes.
    fn fails_for_ever(&self, report: &mut Report, whole: &Scope) -> bool {
        let limits = self.limits(self.options.places);
        let (prepared, monitor, starts) = (self.prepared, self.monitor, self.starts);
        fails_for_ever(prepared, whole, monitor, starts, &limits, report)
    }
    /// Takes "nothing breaks it" as the verdict, if what the claim speaks of does happen in some
    /// real run. With few units known, what was searched says nothing about that.
    fn holds(&self, report: &mut Report, found: &Found, last: bool, verdict: Verdict) -> bool {
        let Found::Holds { positions, premise } = found else { return false };
        report.positions = *positions;
        if *premise && self.happens() {
            report.verdict = verdict;
            return true;
        }
        if last && !*premise {
            report.verdict = Verdict::Vacuous;
            report.because = Some("what it speaks of never happens".to_owned());
            return true;
        }
        false
    }
    /// Whether some real run leaves the claim undecided for ever; the search in time does not see
    /// that.
    fn hangs_for_ever(&self) -> bool {
        self.monitor.asks_rest()
            && self.ladder.last().is_some_and(|whole| {
                self.looks_for(whole, (Sought::Unrest, patient::ALL), Pace::Middle).is_some()
            })
    }
    /// Whether some real run was found in which what the claim speaks of happens.
    fn happens(&self) -> bool {
        self.seen_run().is_some()
    }
    /// That run.
    fn seen_run(&self) -> Option<&[(i64, Step)]> {
        let seen = self.witness.get_or_init(|| {
            self.ladder.last().and_then(|whole| {
                self.looks_for(whole, (Sought::Premise, patient::ALL), Pace::Middle)
            })
        });
        seen.as_deref()
    }
    /// What shows that a claim which holds is not empty; takes the verdict back if something it
    /// speaks of never happens, or was not seen to.
    fn witnesses(
        &self,
        dependencies: &Dependencies<'_, '_>,
        question: &Question,
        report: &mut Report,
    ) {
        let Some(whole) = self.ladder.last() else { return };
        let limits = self.limits(PART_PLACES);
        let seen = witness::seek(self.prepared, dependencies, question, self.starts, &limits);
        match seen {
            Seen::All { found, unseen } => {
                report.witnesses = found;
                if !unseen.is_empty() {
                    report.because = Some(format!(
                        "no run was seen in which {} is so: that half says nothing without a \
                         fault, a lost supply or an overload, which no run has",
                        unseen.join(" or ")
                    ));
                }
            }
            Seen::Never(what) => {
                report.verdict = Verdict::Vacuous;
                report.because = Some(format!("{what}: that never happens"));
                return;
            }
            Seen::Assumed(what) => {
                report.verdict = Verdict::Vacuous;
                report.because = Some(format!(
                    "{what}: that never happens here, since in every run supplies stay on, fuses whole, \
                     links closed and overloads reset"
                ));
                return;
            }
            Seen::NotFound(what) => {
                report.verdict = Verdict::NotProven;
                report.because = Some(format!("nothing breaks it, but no run was found to {what}"));
                return;
            }
        }
        if report.witnesses.is_empty()
            && let Some(steps) = self.seen_run()
        {
            let (machine, monitor) = (self.machine, self.monitor);
            let shown = witness::of_premise(machine, whole, monitor, self.starts, steps);
            report.witnesses.extend(shown);
        }
    }
    fn refuted(&self, report: &mut Report, scope: &Scope) -> bool {
        self.take(report, scope, self.quick_story(scope))
    }
    fn take(&self, report: &mut Report, scope: &Scope, story: Option<Story>) -> bool {
        let Some(story) = story else { return false };
        report.positions = report.searches.iter().map(|search| search.positions).max().unwrap_or(0);
        report.known.0 = known_units(scope);
        fails(report, story);
        true
    }
    fn log(&self, report: &mut Report, mode: &'static str, found: &Found) {
        let (positions, said) = match found {
            Found::Holds { positions, .. } => (*positions, "nothing breaks it".to_owned()),
            Found::Breaks { positions, steps, .. } => {
                let names = steps.iter().map(|(at, step)| {
                    let unit = &self.machine.units[step.unit];
                    format!("{:.1} {} {}", *at as f64 / 1000.0, unit.name, step.to)
                });
                let way: Vec<String> = names.collect();
                let way =
                    if way.is_empty() { String::new() } else { format!(": {}", way.join(", ")) };
                (*positions, format!("it can be broken{way}"))
            }
            Found::Open { why, positions } => (*positions, why.clone()),
            Found::Endless { who, positions } => (*positions, format!("{ENDLESS}: {who}")),
        };
        report.searches.push(SearchMade { known: report.known.0, mode, positions, said });
    }
    /// A story with few moves of the outside, found and confirmed before everything is searched.
    /// Few units: all orders of few moves first, for the shortest story. Many: logic first.
    pub(crate) fn quick_story(&self, scope: &Scope) -> Option<Story> {
        self.quick_run(scope, LOGIC_FIRST).map(|(_, story)| story)
    }
    /// The same, with its steps.
    pub(crate) fn quick_run(&self, scope: &Scope, paces: [Pace; 2]) -> Option<(Steps, Story)> {
        let many = known_units(scope) > FEW_UNITS;
        if many && let Some(found) = self.patient_run(scope, paces) {
            return Some(found);
        }
        let limits = self.limits(if many { QUICK_PLACES } else { PART_PLACES });
        let mut product = self.in_time(scope, ANY_NUMBER)?;
        for outside in 1..=FEW_OUTSIDE {
            product.allow(outside);
            match explored(&product, &limits) {
                Found::Breaks { steps, ties, .. } => {
                    let story = self.confirm(scope, &steps, ties)?;
                    return Some((steps, story));
                }
                Found::Holds { .. } => {}
                Found::Open { .. } | Found::Endless { .. } => break,
            }
        }
        if many { None } else { self.patient_run(scope, paces) }
    }
    /// A story of plain logic, or else of a race against slow relays: a short one of either before a long one.
    fn patient_run(&self, scope: &Scope, paces: [Pace; 2]) -> Option<(Steps, Story)> {
        self.patient_look(scope, patient::IN_ORDER, LOGIC_FIRST)
            .or_else(|| self.patient_look(scope, patient::ALL, paces))
    }
    fn patient_look(&self, scope: &Scope, most: usize, paces: [Pace; 2]) -> Option<(Steps, Story)> {
        paces.into_iter().find_map(|pace| {
            let steps = self.looks_for(scope, (Sought::Break, most), pace)?;
            let story = self.confirm(scope, &steps, 0)?;
            Some((steps, story))
        })
    }
    /// A story that shows at once.
    fn first_look(&self, scope: &Scope) -> Option<Story> {
        self.patient_look(scope, patient::IN_ORDER, LOGIC_FIRST).map(|(_, story)| story)
    }
    /// Whether the steps of a run found elsewhere break the claim here too, at some times.
    pub(crate) fn breaks_again(&self, scope: &Scope, steps: &Steps) -> bool {
        let events: Vec<Step> = steps.iter().map(|(_, step)| *step).collect();
        let told =
            self.in_time(scope, ANY_NUMBER).and_then(|product| timed::times_of(&product, &events));
        told.is_some_and(|told| self.confirm(scope, &told.events, told.ties).is_some())
    }
    /// A run that breaks the claim with no other moves of the outside than those of a run found elsewhere.
    pub(crate) fn retraced(&self, scope: &Scope, run: &Steps) -> Option<Steps> {
        let mut product = self.in_time(scope, ANY_NUMBER)?;
        let limits = self.limits(RETRACED_PLACES);
        match product.retrace(run).then(|| explored(&product, &limits))? {
            Found::Breaks { steps, ties, .. } => self.confirm(scope, &steps, ties).map(|_| steps),
            _ => None,
        }
    }
    fn looks_for(
        &self,
        scope: &Scope,
        sought: (Sought, usize),
        pace: Pace,
    ) -> Option<Vec<(i64, Step)>> {
        let limits = self.limits(self.options.places);
        patient::look_for(self.prepared, scope, self.monitor, self.starts, sought, pace, &limits)
    }
    fn stopped(&self) -> bool {
        self.options.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
    }
    fn confirm(&self, scope: &Scope, steps: &[(i64, Step)], ties: usize) -> Option<Story> {
        replayed(self.machine, scope, self.monitor, self.starts, steps, ties).ok()
    }
    fn in_any_order(&self, scope: &Scope, whole: bool, limits: &Limits<'_>) -> Found {
        let product =
            Product::of(self.prepared, scope, self.monitor, self.starts, false, ANY_NUMBER);
        let Some(product) = product else { return too_many() };
        let search = Search::run(&product, limits);
        match search.outcome() {
            Outcome::Exhausted { places, .. } => {
                match product.endless(search.places(), whole, |place| search.find(place)) {
                    Some(who) => Found::Endless { who, positions: places },
                    None => Found::Holds {
                        positions: places,
                        premise: product.premise_met(search.places().iter()),
                    },
                }
            }
            Outcome::Refuted { places, .. } => {
                Found::Breaks { steps: Vec::new(), ties: 0, positions: places }
            }
            Outcome::Limit { which, places, .. } => {
                Found::Open { why: limit_words(which, places), positions: places }
            }
        }
    }
    /// Searches within the declared times.
    pub(crate) fn within_tolerances(&self, scope: &Scope, outside: u8) -> Found {
        let limits = self.limits(self.most_zones());
        let of_one_order =
            (outside == ANY_NUMBER).then(|| self.asked_from_rest(scope, &limits)).flatten();
        of_one_order.unwrap_or_else(|| self.search_in_time(scope, outside, &limits))
    }
    fn search_in_time(&self, scope: &Scope, outside: u8, limits: &Limits<'_>) -> Found {
        self.in_time(scope, outside).map_or_else(too_many, |product| explored(&product, limits))
    }
    /// A claim about an order given at rest, asked from every state at rest; none: it does not speak of one,
    /// or it can be broken so and the way to that state is not known.
    fn asked_from_rest(&self, scope: &Scope, limits: &Limits<'_>) -> Option<Found> {
        let asked = fresh::of_one_order(self.monitor)?;
        let free = fresh::while_others_end(self.prepared, scope, self.monitor);
        let in_order = self.limits(self.options.places);
        let (starts, before) = fresh::rests(self.prepared, scope, self.starts, &in_order)?;
        let product = Product::of(self.prepared, &free, &asked, &starts, true, ANY_NUMBER)?;
        match explored(&product, limits) {
            Found::Holds { positions, premise } => {
                Some(Found::Holds { positions: positions + before, premise })
            }
            _ => None,
        }
    }
    fn in_time<'p>(&'p self, scope: &'p Scope, outside: u8) -> Option<Product<'p, 's>> {
        Product::of(self.prepared, scope, self.monitor, self.starts, true, outside)
    }
}

fn explored(product: &Product<'_, '_>, limits: &Limits<'_>) -> Found {
    match timed::explore_for(product, limits, product.asks_stops()) {
        // Whether the premise happens is asked of real runs alone.
        TimedOutcome::Exhausted { seen, stops } if stops.is_empty() => {
            Found::Holds { positions: seen.places, premise: true }
        }
        TimedOutcome::Exhausted { seen, .. } => Found::Open {
            why: "time stops in some run: devices move without end in one instant, or declared \
                  times contradict each other"
                .to_owned(),
            positions: seen.places,
        },
        TimedOutcome::Refuted { story, seen } => {
            Found::Breaks { steps: story.events, ties: story.ties, positions: seen.places }
        }
        TimedOutcome::Limit { which, seen } => {
            Found::Open { why: limit_words(which, seen.zones), positions: seen.places }
        }
        TimedOutcome::Mismatch { seen, .. } => Found::Open {
            why: "the search contradicts itself; please report this scheme".to_owned(),
            positions: seen.places,
        },
    }
}

pub(crate) fn known_units(scope: &Scope) -> usize {
    scope.known.iter().filter(|known| **known).count()
}

/// Refutes what a claim promises at rest by a real run in which rest never comes, if a look shows one.
pub(crate) fn fails_for_ever(
    prepared: &Prepared<'_, '_>,
    whole: &Scope,
    monitor: &Monitor,
    starts: &[State],
    limits: &Limits<'_>,
    report: &mut Report,
) -> bool {
    let machine = prepared.machine();
    let paces = [Pace::Middle, Pace::SlowRelays];
    let Some(round) = round::look_for(prepared, whole, monitor, starts, &paces, limits) else {
        return false;
    };
    let (who, again) = (round.names(machine), round.words());
    let broken = monitor.broken_for_ever(machine);
    fails(report, round.story);
    report.because = Some(format!("at the end it goes round for ever ({who}): {again}; {broken}"));
    true
}

fn fails(report: &mut Report, story: Story) {
    report.verdict = Verdict::Fails;
    report.because = None;
    report.story = Some(story);
}

fn too_many() -> Found {
    Found::Open {
        why: "more devices hang together than one search can hold".to_owned(),
        positions: 0,
    }
}

fn limit_words(which: Which, positions: usize) -> String {
    match which {
        Which::Places => format!("stopped after {positions} positions, the limit"),
        Which::Bytes => format!("stopped after {positions} positions for want of memory"),
        Which::Time => format!("stopped after {positions} positions, its time was over"),
        Which::Stopped => format!("stopped by hand after {positions} positions"),
    }
}
