//! Claims about what is so at rest, where devices need never come to rest: a motion without end inside
//! what a claim asks must not pass for its proof.
//!
//! **In:** questions with their reports. **Out:** "holds" taken back where such a motion leaves the
//! claim without an answer. **Never here:** a new "holds", a story.
//!
//! Without end moves only what acts on itself and was not shown to come to rest, what a breaker that is
//! not shown free of pumping moves, and what follows from either.

use crate::cone::{Dependencies, units_of_expr};
use crate::monitor::Monitor;
use crate::prove::{fails_for_ever, known_units, ladder_of, starts_of};
use crate::questions::{Question, names};
use crate::report::{Report, Story, Verdict};
use crate::search::{Limits, Outcome, Search, Space};
use crate::space::{ANY_NUMBER, Place, Prepared, Product, Unbroken};
use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_motion::patient::{Pace, follow};
use fiftytwo_scheme::{Atom, DeviceKind};
use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// Most positions of one search for such a motion.
const MOST_PLACES: usize = 60_000;

/// What may move without end in a scheme, found once it is needed.
pub(crate) struct Restless<'a, 'm, 's> {
    pub(crate) prepared: &'a Prepared<'m, 's>,
    pub(crate) dependencies: &'a Dependencies<'m, 's>,
    pub(crate) starts: &'a [State],
    /// Without a deadline: that begins when it is asked.
    pub(crate) limits: Limits<'a>,
    /// Most time for each.
    pub(crate) time: Option<Duration>,
    pub(crate) questions: &'a [Question],
    pub(crate) ask: &'a dyn Fn(&Question) -> Report,
    pub(crate) roots: OnceCell<Roots>,
}

/// What begins a motion without end.
pub(crate) struct Roots {
    /// Latches that somebody waives are pulled both ways by orders that never stand together: that is an
    /// assumption of what follows, and named there. A relay that is waived goes on all the same.
    assumed: BTreeSet<UnitId>,
    real: BTreeSet<UnitId>,
}

/// Whether "holds" may be taken back of it.
pub(crate) fn concerns(question: &Question, report: &Report) -> bool {
    let at_rest = question.monitor.as_ref().is_some_and(|monitor| {
        monitor.asks_rest() && *monitor != Monitor::ComesToRest && question.across.is_none()
    });
    holds(report.verdict) && at_rest
}

fn holds(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::HoldsInAnyOrder | Verdict::HoldsWithinTolerances)
}

/// Whether its answer says which breaker may go on for ever: asked before anything is taken back.
pub(crate) fn decides(question: &Question) -> bool {
    question.claim == names::NO_PUMPING
        && question.across.is_none()
        && matches!(question.monitor, Some(Monitor::ClosesTwice { .. }))
}

impl<'a> Restless<'a, '_, '_> {
    fn limits(&self) -> Limits<'a> {
        Limits { deadline: self.time.map(|time| Instant::now() + time), ..self.limits }
    }
    fn roots(&self, reports: &[Option<Report>]) -> &Roots {
        self.roots.get_or_init(|| {
            let machine = self.prepared.machine();
            let (prepared, limits) = (self.prepared, self.limits());
            let all = crate::rest::without_end(prepared, self.dependencies, self.starts, &limits);
            let mut roots: BTreeSet<UnitId> = all.into_iter().collect();
            roots.extend(pumping(machine, self.questions, reports, self.ask));
            let (assumed, real) = roots.into_iter().partition(|unit| {
                matches!(machine.units[*unit].kind, UnitKind::Bistable(_))
                    && crate::rest::reason(machine, *unit).is_some()
            });
            Roots { assumed, real }
        })
    }
    /// Takes "holds" back where a motion without end leaves the claim without an answer. `reports` has the
    /// answers of all questions that [decide](decides).
    pub(crate) fn judge(
        &self,
        question: &Question,
        report: &mut Report,
        reports: &[Option<Report>],
    ) {
        let Some(monitor) = question.monitor.as_ref().filter(|_| concerns(question, report)) else {
            return;
        };
        let machine = self.prepared.machine();
        let all = self.roots(reports);
        let mut roots = all.real.clone();
        if question.claim == names::HONEST {
            // A breaker that pumps is told under its own claim: its lamps go with it.
            roots.retain(|unit| !matches!(machine.units[*unit].kind, UnitKind::Stroke(_)));
        }
        let ladder = ladder_of(machine, self.dependencies, question, monitor);
        let reads = |unit: &&UnitId| ladder.last().is_some_and(|whole| whole.knows(**unit));
        let provided: Vec<String> = all
            .assumed
            .iter()
            .filter(reads)
            .map(|unit| {
                let reason = crate::rest::reason(machine, *unit).unwrap_or_default();
                format!("{}: {reason}", machine.units[*unit].name)
            })
            .collect();
        if !provided.is_empty() && report.because.is_none() {
            report.because = Some(format!("provided that, as waived, {}", provided.join("; ")));
        }
        if roots.is_empty() {
            return;
        }
        let may = self.dependencies.forward(&roots);
        let limits = self.limits();
        let limits = Limits { places: limits.places.min(MOST_PLACES), ..limits };
        let prepared = self.prepared;
        let in_it = |scope: &&Scope| known_units(scope) == report.known.0;
        let (decided, limits) = (ladder.iter().filter(in_it).collect(), &limits);
        let asked = Asked { prepared, monitor, limits, roots: &roots, may: &may, decided };
        let starts = starts_of(machine, question, self.starts);
        if let Some(names) = asked.goes_on(&ladder, &starts) {
            let in_motion = self.asked_in_motion(question, monitor);
            report.witnesses.clear();
            report.margins.clear();
            if let Some(broken) = in_motion.filter(|it| it.verdict == Verdict::Fails) {
                let Report { verdict, because, story, .. } = broken;
                (report.verdict, report.because, report.story) = (verdict, because, story);
                return;
            }
            if let Some(whole) = ladder.last()
                && fails_for_ever(prepared, whole, monitor, &starts, &self.limits(), report)
            {
                return;
            }
            report.verdict = Verdict::NotProven;
            if self.limits.stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
                report.because = Some("stopped by hand".to_owned());
                return;
            }
            report.because = Some(format!(
                "devices may move for ever without coming to rest: {names}; what is asked at rest is \
                 not answered there"
            ));
        }
    }
    /// What must not last while all rests, asked in motion too: what fails so is driven for too long. What holds so
    /// may still be driven again and again without end, so that is no answer.
    fn asked_in_motion(&self, question: &Question, monitor: &Monitor) -> Option<Report> {
        let Monitor::Longer { what, time, premise, held, quiet: true } = monitor else {
            return None;
        };
        let (what, time, premise, held) = (what.clone(), *time, premise.clone(), *held);
        let anyhow = Monitor::Longer { what, time, premise, held, quiet: false };
        Some((self.ask)(&Question { monitor: Some(anyhow), ..question.clone() }))
    }
}

/// One claim that holds, put to what may move without end.
struct Asked<'a, 'm, 's> {
    prepared: &'a Prepared<'m, 's>,
    monitor: &'a Monitor,
    limits: &'a Limits<'a>,
    roots: &'a BTreeSet<UnitId>,
    may: &'a BTreeSet<UnitId>,
    /// What the search knew that decided it: one of these.
    decided: Vec<&'a Scope>,
}

impl Asked<'_, '_, '_> {
    /// Who may go on for ever where the claim has no answer; none: nobody.
    fn goes_on(&self, ladder: &[Scope], starts: &[State]) -> Option<String> {
        let mut why = None;
        let whole = ladder.last()?;
        for (rung, scope) in ladder.iter().enumerate() {
            let last = rung + 1 == ladder.len();
            // With the claim itself, what is left out is asked as if it rested. Broken within no times
            // it can still be looked at without the claim, if all that begins a motion is known.
            let knows_all = self.roots.iter().all(|unit| scope.knows(*unit) || !whole.knows(*unit));
            let found =
                self.searched(scope, self.monitor, starts, (last, knows_all)).or_else(|| {
                    let plain = self.monitor.has_no_memory() && knows_all;
                    plain.then(|| {
                        self.searched(scope, &Monitor::ComesToRest, starts, (last, knows_all))
                    })?
                });
            match found {
                Some(None) => return None,
                Some(names) => why = names,
                None => {}
            }
        }
        why.or_else(|| Some(named(self.prepared.machine(), self.roots)))
    }
    /// Inside: who goes on for ever in this scope, if anybody. None: the search says nothing.
    fn searched(
        &self,
        scope: &Scope,
        watched: &Monitor,
        starts: &[State],
        (whole, knows_all): (bool, bool),
    ) -> Option<Option<String>> {
        let product = Product::of(self.prepared, scope, watched, starts, false, ANY_NUMBER)?;
        // Where the claim was decided nothing breaks it: what any order has beyond a break is no run.
        let decided = !self.decided.is_empty() && self.decided.iter().all(|it| knows_as(scope, it));
        if decided && watched.allows().is_none() {
            let unbroken = Unbroken(&product);
            let search = Search::run(&unbroken, self.limits);
            self.in_endless_motion(&product, &search, (whole, knows_all))
        } else {
            let search = Search::run(&product, self.limits);
            self.in_endless_motion(&product, &search, (whole, knows_all))
        }
    }
    /// The same, once everything was searched.
    fn in_endless_motion<S: Space<Place = Place>>(
        &self,
        product: &Product<'_, '_>,
        search: &Search<'_, S>,
        (whole, knows_all): (bool, bool),
    ) -> Option<Option<String>> {
        match search.outcome() {
            Outcome::Exhausted { .. } => {
                let goes = |unit: UnitId| self.may.contains(&unit);
                let find = |place: &_| search.find(place);
                // Where all that begins a motion is known, some of it moves in one.
                let movers = knows_all.then(|| self.roots.clone());
                let places = search.places();
                Some(product.endless_for(places, whole, self.monitor, goes, movers, find))
            }
            _ => None,
        }
    }
}

/// Whether everything that one scope knows another knows as well.
fn knows_as(scope: &Scope, other: &Scope) -> bool {
    let known = scope.known.iter().zip(&other.known).all(|(this, other)| *this || !other);
    let at_will = scope.at_will.iter().zip(&other.at_will).zip(&other.known);
    known && at_will.into_iter().all(|((this, other), known)| !this || *other || !known)
}

fn named(machine: &Machine<'_>, units: &BTreeSet<UnitId>) -> String {
    let names: Vec<&str> = units.iter().map(|unit| machine.units[*unit].name.as_str()).collect();
    names.join(", ")
}

/// The strokes of breakers that were not shown to close once for each order, or once for each move of the
/// outside.
fn pumping(
    machine: &Machine<'_>,
    questions: &[Question],
    reports: &[Option<Report>],
    ask: &dyn Fn(&Question) -> Report,
) -> Vec<UnitId> {
    let scheme = machine.scheme;
    // What never closes does not go on for ever either.
    let rests = |verdict: Verdict| holds(verdict) || verdict == Verdict::Vacuous;
    let mut found = Vec::new();
    for (unit, item) in machine.units.iter() {
        let UnitKind::Stroke(device) = item.kind else { continue };
        let placed = |coil: &fiftytwo_scheme::PartId| scheme.parts[*coil].at.is_some();
        let closes =
            machine.stroke(device).is_some_and(|table| table.close_coils.iter().any(placed));
        if !closes {
            continue;
        }
        let once = |question: &Question| {
            decides(question)
                && question.monitor.as_ref().and_then(|it| it.breaker(machine)) == Some(device)
        };
        let asked = questions
            .iter()
            .zip(reports)
            .find(|(question, _)| once(question))
            .and_then(|(question, report)| Some((question, report.as_ref()?)));
        let all = asked.is_none().then(|| crate::questions::questions(scheme));
        let unasked = all.iter().flatten().find(|question| once(question));
        let verdict =
            asked.map(|(_, report)| report.verdict).or_else(|| Some(ask(unasked?).verdict));
        if verdict.is_some_and(|verdict| !rests(verdict)) {
            found.push(unit);
            continue;
        }
        // Where one order closes once, what closes without end is ordered anew without end: never by a
        // hand, since nobody moves.
        let orders = asked.map(|(question, _)| question).or(unasked);
        let sources = match orders.and_then(|question| question.monitor.as_ref()) {
            Some(Monitor::ClosesTwice { union: fiftytwo_scheme::Expr::Any(sources), .. }) => {
                sources.clone()
            }
            _ => Vec::new(),
        };
        let all_of_them = sources.len();
        let by_hand: Vec<_> =
            sources.into_iter().filter(|source| is_from_outside(machine, source)).collect();
        if all_of_them > 0 && by_hand.len() == all_of_them {
            continue;
        }
        let by_hand = fiftytwo_scheme::Expr::Any(by_hand);
        let alone = Question::closes_alone(device, by_hand, scheme.devices[device].span);
        if !rests(ask(&alone).verdict) {
            found.push(unit);
        }
    }
    found
}
/// Whether an order can begin anew only by somebody's move.
fn is_from_outside(machine: &Machine<'_>, union: &fiftytwo_scheme::Expr) -> bool {
    let mut outside = true;
    union.atoms(&mut |atom| {
        outside &= match atom {
            Atom::Order(_) => true,
            Atom::Condition(condition, _) => {
                machine.scheme.conditions[condition].becomes.is_empty()
            }
            Atom::Position(device, _) => matches!(
                machine.scheme.devices[device].kind,
                DeviceKind::Handle { .. } | DeviceKind::Button
            ),
            _ => false,
        };
    });
    let mut read = BTreeSet::new();
    units_of_expr(machine, union, &mut read);
    outside && !read.is_empty()
}

/// Steps in one instant after which time counts as stopped.
const ONE_INSTANT: usize = 100;

/// The devices that move without end in one instant where a story still goes on: time does not pass them,
/// so what comes after is no run.
pub(crate) fn time_stops_in(machine: &Machine<'_>, story: &Story) -> Option<String> {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let passed = story.replay.states.iter().take(story.replay.states.len().saturating_sub(1));
    passed.into_iter().find_map(|state| {
        let followed = follow(&evaluator, state, &[], 0, Pace::Middle, None);
        let last = followed.steps.last().filter(|_| !followed.rests)?.0.at;
        let instant: BTreeSet<UnitId> = followed
            .steps
            .iter()
            .rev()
            .take(ONE_INSTANT)
            .filter(|(step, _)| step.at == last)
            .map(|(step, _)| step.unit)
            .collect();
        let stopped =
            followed.steps.iter().rev().take(ONE_INSTANT).all(|(step, _)| step.at == last);
        stopped.then(|| named(machine, &instant))
    })
}
