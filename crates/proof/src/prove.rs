//! From a scheme to verdicts.
//!
//! A question is tried with few units known, then with more. In any order first: what holds so
//! needs no times. Else within tolerances: what holds so is a race. What fails with everything
//! known that matters is replayed, and only a replayed story refutes.

use crate::cone::Dependencies;
use crate::margins;
use crate::monitor::Monitor;
use crate::questions::{Question, questions};
use crate::report::{Proof, Report, SearchMade, Story, Verdict};
use crate::search::{self, Limits, Outcome, Which};
use crate::space::{ANY_NUMBER, Product, Step};
use crate::story::replayed;
use crate::timed::{self, TimedOutcome};
use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitKind};
use fiftytwo_motion::play::{PlayOptions, still};
use fiftytwo_scheme::{Finding, Scheme};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// How much a proof may spend.
#[derive(Debug, Clone, Copy)]
pub struct Options<'a> {
    /// Most positions (zones within tolerances) of one search.
    pub places: usize,
    /// Most time for one question, none: no limit. A limit on time makes verdicts depend on the
    /// machine; the limit on positions does not.
    pub time: Option<Duration>,
    /// Whether to look for the margins of races.
    pub margins: bool,
    /// Somebody's hand on the brake.
    pub stop: Option<&'a AtomicBool>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { places: 200_000, time: None, margins: true, stop: None }
    }
}

/// Most moves of the outside in a story that is looked for before everything is searched.
const FEW_OUTSIDE: u8 = 5;

/// Asks every claim of a scheme.
///
/// # Errors
/// Findings where the scheme can't be made to move (its wiring can't be solved).
pub fn prove(scheme: &Scheme, options: &Options<'_>) -> Result<Proof, Vec<Finding>> {
    let machine = Machine::new(scheme)?;
    let dependencies = Dependencies::new(&machine);
    let starts = starts(&machine);
    let mut proof = Proof { reports: Vec::new(), assumptions: assumptions(&machine) };
    for question in questions(scheme) {
        proof.reports.push(ask(&machine, &dependencies, &starts, &question, options));
    }
    Ok(proof)
}

/// Where every run may begin: as delivered (as drawn, just energised) and in service (energy
/// charged, logic and relays have followed); a latch that never was driven may stand anywhere.
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
    let settled: Vec<State> = states
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
    states.extend(settled);
    states
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
        "an auxiliary contact of a relay opens 0.5 to 3 ms before the other closes (common \
         practice, no source)"
            .to_owned(),
    ];
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

fn ask(
    machine: &Machine<'_>,
    dependencies: &Dependencies<'_, '_>,
    starts: &[State],
    question: &Question,
    options: &Options<'_>,
) -> Report {
    let mut report = Report {
        claim: question.claim.clone(),
        asks: question.asks.clone(),
        about: question.about.clone(),
        verdict: Verdict::NotProven,
        because: None,
        covers: question.covers.to_owned(),
        positions: 0,
        known: (0, machine.units.len()),
        searches: Vec::new(),
        margins: Vec::new(),
        story: None,
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
    let Some(monitor) = &question.monitor else {
        report.verdict = Verdict::NotAsked;
        report.because = Some("claims of this form are not searched yet".to_owned());
        return report;
    };
    let asked = Asked {
        machine,
        ladder: dependencies.ladder(monitor),
        starts,
        monitor,
        options,
        deadline: options.time.map(|time| Instant::now() + time),
    };
    let decided = asked.decide(&mut report);
    if let (Verdict::HoldsWithinTolerances, true, Some(scope)) =
        (report.verdict, options.margins, decided)
    {
        report.margins = margins::margins(machine, question, options, scope);
    }
    report
}

/// One question under way.
pub(crate) struct Asked<'a, 's> {
    pub(crate) machine: &'a Machine<'s>,
    pub(crate) ladder: Vec<Scope>,
    pub(crate) starts: &'a [State],
    pub(crate) monitor: &'a Monitor,
    pub(crate) options: &'a Options<'a>,
    pub(crate) deadline: Option<Instant>,
}

/// What one search said.
pub(crate) enum Found {
    /// Nothing breaks the claim here; how many positions, and whether its premise was met.
    Holds { positions: usize, premise: bool },
    /// Something does, at these times.
    Breaks { steps: Vec<(i64, Step)>, ties: usize, positions: usize },
    /// A limit, or a fault of the search; in words.
    Open { why: String, positions: usize },
}

impl<'a, 's> Asked<'a, 's> {
    fn limits(&self) -> Limits<'a> {
        Limits {
            places: self.options.places,
            bytes: 4 << 30,
            deadline: self.deadline,
            stop: self.options.stop,
        }
    }
    /// Fills in the verdict; gives the scope of the search that decided.
    fn decide(&self, report: &mut Report) -> Option<&Scope> {
        let whole = self.ladder.len().saturating_sub(1);
        let mut why = String::from("no search was made");
        for (rung, scope) in self.ladder.iter().enumerate() {
            report.known.0 = scope.known.iter().filter(|known| **known).count();
            let found = self.in_any_order(scope);
            self.log(report, "in any order", &found);
            match found {
                Found::Holds { positions, premise } => {
                    report.positions = positions;
                    report.verdict =
                        if premise { Verdict::HoldsInAnyOrder } else { Verdict::Vacuous };
                    // With few units known the premise may lie outside what was searched.
                    if premise || rung == whole {
                        report.because =
                            (!premise).then(|| "what it speaks of never happens".to_owned());
                        return Some(scope);
                    }
                    continue;
                }
                Found::Open { why: limit, positions } => {
                    report.positions = positions;
                    why = limit;
                }
                Found::Breaks { positions, .. } => report.positions = positions,
            }
            if rung == whole
                && let Some(story) = self.quick_story(scope)
            {
                fails(report, story);
                return Some(scope);
            }
            let found = self.within_tolerances(scope, ANY_NUMBER);
            self.log(report, "within tolerances", &found);
            match found {
                Found::Holds { positions, premise } => {
                    report.positions = positions;
                    report.verdict =
                        if premise { Verdict::HoldsWithinTolerances } else { Verdict::Vacuous };
                    if premise || rung == whole {
                        report.because =
                            (!premise).then(|| "what it speaks of never happens".to_owned());
                        return Some(scope);
                    }
                }
                Found::Breaks { steps, ties, positions } => {
                    report.positions = positions;
                    if rung == whole {
                        match replayed(self.machine, scope, self.monitor, self.starts, &steps, ties)
                        {
                            Ok(story) => fails(report, story),
                            Err(disagrees) => {
                                report.verdict = Verdict::NotProven;
                                report.because = Some(format!(
                                    "a story was found that the replay does not confirm: {disagrees}"
                                ));
                            }
                        }
                        return Some(scope);
                    }
                    "it fails only with parts left out of the search".clone_into(&mut why);
                }
                Found::Open { why: limit, positions } => {
                    report.positions = positions;
                    why = limit;
                    if rung < whole
                        && let Some(scope) = self.ladder.last()
                        && let Some(story) = self.quick_story(scope)
                    {
                        report.known.0 = scope.known.iter().filter(|known| **known).count();
                        fails(report, story);
                        return Some(scope);
                    }
                    // What knows more is only larger.
                    break;
                }
            }
        }
        report.verdict = Verdict::NotProven;
        report.because = Some(why);
        None
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
        };
        report.searches.push(SearchMade { known: report.known.0, mode, positions, said });
    }
    /// A story with few moves of the outside, found and confirmed before everything is searched.
    pub(crate) fn quick_story(&self, scope: &Scope) -> Option<Story> {
        for outside in 1..=FEW_OUTSIDE {
            match self.within_tolerances(scope, outside) {
                Found::Breaks { steps, ties, .. } => {
                    return replayed(self.machine, scope, self.monitor, self.starts, &steps, ties)
                        .ok();
                }
                Found::Holds { .. } => {}
                Found::Open { .. } => return None,
            }
        }
        None
    }
    fn in_any_order(&self, scope: &Scope) -> Found {
        let product =
            Product::new(self.machine, scope, self.monitor, self.starts, false, ANY_NUMBER);
        match search::search(&product, &self.limits()) {
            Outcome::Exhausted { places, .. } => {
                Found::Holds { positions: places, premise: product.premise_met() }
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
        let product = Product::new(self.machine, scope, self.monitor, self.starts, true, outside);
        match timed::explore(&product, &self.limits()) {
            TimedOutcome::Exhausted { seen, stops } if stops.is_empty() => {
                Found::Holds { positions: seen.places, premise: product.premise_met() }
            }
            TimedOutcome::Exhausted { seen, .. } => Found::Open {
                why:
                    "time stops in some run: devices move without end in one instant, or declared \
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
}

fn fails(report: &mut Report, story: Story) {
    report.verdict = Verdict::Fails;
    report.because = None;
    report.story = Some(story);
}

fn limit_words(which: Which, positions: usize) -> String {
    match which {
        Which::Places => format!("stopped after {positions} positions, the limit"),
        Which::Bytes => format!("stopped after {positions} positions for want of memory"),
        Which::Time => format!("stopped after {positions} positions, its time was over"),
        Which::Stopped => format!("stopped by hand after {positions} positions"),
    }
}
