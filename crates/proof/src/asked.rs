//! One question under way: tried with few units known, then with more, until something decides it.
//!
//! **In:** the claim's monitor, its scopes, the starts, what may be spent. **Out:** the verdict in a report, with
//! the searches made. **Never here:** which questions there are, what other answers do to this one.

use crate::cone::Dependencies;
use crate::fresh;
use crate::monitor::Monitor;
use crate::patient::{self, Sought};
use crate::prove::{Options, ZONE};
use crate::questions::Question;
use crate::report::{Report, SearchMade, Story, Verdict};
use crate::round;
use crate::search::{Limits, Outcome, Search, Which};
use crate::space::{ANY_NUMBER, Motion, Prepared, Product, Step};
use crate::story::replayed;
use crate::timed::{self, TimedOutcome};
use crate::witness::{self, Seen};
use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitId};
use fiftytwo_motion::patient::Pace;
use std::cell::{Cell, OnceCell};
use std::collections::BTreeSet;
use std::sync::atomic::Ordering;
use std::time::Instant;

/// Most moves of the outside in a story that is looked for before everything is searched.
const FEW_OUTSIDE: u8 = 5;

/// Said where nothing breaks a claim, but what it speaks of was not seen to happen either.
const NEVER_SEEN: &str =
    "nothing breaks it, but no run was found in which what it speaks of happens";

/// Said where nothing need come to rest.
const ENDLESS: &str = "devices may move for ever without coming to rest";

/// Most zones of a search with parts left out.
const PART_PLACES: usize = 120_000;

/// Up to so many known units all orders of few moves are tried first.
const FEW_UNITS: usize = 24;

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
    /// What is asked of a search that finds nothing wrong, where the claim is about rest.
    pub(crate) in_motion: Option<InMotion>,
    /// Whether devices may move without end in the search that decided.
    pub(crate) moves: Cell<Option<bool>>,
}

/// What may move without end, whatever is found about it.
pub(crate) struct InMotion {
    /// What may begin it.
    pub(crate) roots: BTreeSet<UnitId>,
    /// What follows from these.
    pub(crate) may: BTreeSet<UnitId>,
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
    fn limits(&self, places: usize) -> Limits<'a> {
        Limits {
            places: places.min(self.options.places),
            bytes: 4 << 30,
            deadline: self.deadline,
            stop: self.options.stop,
        }
    }
    /// Fills in the verdict; gives the scope of the search that decided.
    pub(crate) fn decide(&self, report: &mut Report) -> Option<&Scope> {
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
            let most =
                if last { self.options.zones() } else { PART_PLACES.min(self.options.zones()) };
            let zones = if alone { ALONE_ZONES.min(self.options.places) } else { most };
            let limits = Limits { places: zones, ..self.limits(zones) };
            let found = self
                .asked_from_rest(scope, &limits)
                .unwrap_or_else(|| self.search_in_time(scope, ANY_NUMBER, &limits));
            self.log(report, "within tolerances", &found);
            if matches!(found, Found::Holds { .. }) && self.hangs_for_ever() {
                ENDLESS.clone_into(&mut why);
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
        if self.monitor.asks_rest() && self.fails_for_ever(report, whole) {
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
    pub(crate) fn witnesses(
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
                    None => {
                        self.moves.set(self.in_motion.as_ref().map(|all| {
                            let known = |unit: &UnitId| {
                                scope.knows(*unit)
                                    || self.ladder.last().is_some_and(|whole| !whole.knows(*unit))
                            };
                            let movers = all.roots.iter().all(known).then(|| all.roots.clone());
                            let motion = Motion { whole, may: &all.may, movers };
                            let find = |place: &_| search.find(place);
                            let places = search.places();
                            product.endless_for(places, self.monitor, motion, find).is_some()
                        }));
                        Found::Holds {
                            positions: places,
                            premise: product.premise_met(search.places().iter()),
                        }
                    }
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
        let limits = self.limits(self.options.zones());
        let of_one_order =
            (outside == ANY_NUMBER).then(|| self.asked_from_rest(scope, &limits)).flatten();
        of_one_order.unwrap_or_else(|| self.search_in_time(scope, outside, &limits))
    }
    fn search_in_time(&self, scope: &Scope, outside: u8, limits: &Limits<'_>) -> Found {
        self.in_time(scope, outside).map_or_else(too_many, |product| explored(&product, limits))
    }
    /// A claim about an order given at rest or about what lasts there, asked from every state at rest; none: it
    /// speaks of neither, or it can be broken so and the way to that state is not known.
    fn asked_from_rest(&self, scope: &Scope, limits: &Limits<'_>) -> Option<Found> {
        let in_order = self.limits(self.options.places);
        let (prepared, starts) = (self.prepared, self.starts);
        let (asked, scope, (starts, before)) =
            if let Some(lasts) = fresh::of_what_lasts(self.monitor) {
                let so = fresh::where_so(prepared, scope, &lasts, starts, &in_order)?;
                (lasts, scope.clone(), so)
            } else {
                let asked = fresh::of_one_order(self.monitor)?;
                let free = fresh::while_others_end(prepared, scope, self.monitor);
                (asked, free, fresh::rests(prepared, scope, starts, &in_order)?)
            };
        let product = Product::of(prepared, &scope, &asked, &starts, true, ANY_NUMBER)?;
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
    match timed::explore(product, limits) {
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
            let zones = seen.zones;
            let why = match which {
                Which::Places => format!(
                    "stopped after {zones} zones, the limit: a zone counts as {ZONE} positions"
                ),
                _ => limit_words(which, seen.places),
            };
            Found::Open { why, positions: seen.places }
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
    let evaluator = Evaluator::new(machine, whole);
    let readings = monitor.readings(machine, whole);
    let so_for = round.time_in(|state| readings.read(&evaluator.look(state))[0].sure());
    let broken = monitor.broken_for_ever(machine, so_for);
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
