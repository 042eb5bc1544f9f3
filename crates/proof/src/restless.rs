//! Claims about what is so at rest, where devices need never come to rest: a motion without end inside
//! what a claim asks must not pass for its proof.
//!
//! **In:** questions with their reports. **Out:** "holds" taken back where such a motion leaves the
//! claim without an answer. **Never here:** a new "holds", a story.
//!
//! Without end moves only what acts on itself and was not shown to come to rest, what a breaker that is
//! not shown free of pumping moves, and what follows from either.

use crate::asked::{fails_for_ever, known_units};
use crate::cone::{Dependencies, units_of_expr};
use crate::monitor::{Monitor, Quiet};
use crate::prove::{ladder_of, starts_of};
use crate::questions::{Question, names};
use crate::report::{Margin, Report, Story, Verdict};
use crate::search::{Limits, Outcome, Search};
use crate::space::{ANY_NUMBER, Motion, Prepared, Product};
use crate::words::named;
use fiftytwo_motion::machine::{Evaluator, Machine, Scope, State, UnitId, UnitKind};
use fiftytwo_motion::patient::{Pace, follow};
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr};
use std::collections::BTreeSet;
use std::sync::OnceLock;
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
    pub(crate) ask: &'a (dyn Fn(&Question) -> Report + Sync),
    pub(crate) roots: OnceLock<Roots>,
    /// What was not shown to come to rest by itself; found once.
    pub(crate) circling: &'a OnceLock<BTreeSet<UnitId>>,
}

/// What begins a motion without end.
pub(crate) struct Roots {
    /// Latches that somebody waives are pulled both ways by orders that never stand together: that is an
    /// assumption of what follows, and named there. A relay that is waived goes on all the same.
    assumed: BTreeSet<UnitId>,
    real: BTreeSet<UnitId>,
    /// Breakers that don't pump only because a race goes well.
    racing: BTreeSet<UnitId>,
    /// The margins of these races; none: of some of them they are not known.
    margins: Option<Vec<Margin>>,
}

/// Whether "holds" may be taken back of it.
pub(crate) fn concerns(question: &Question, report: &Report) -> bool {
    let at_rest = |monitor: &Monitor| asks_about_rest(question, monitor);
    holds(report.verdict) && question.monitor.as_ref().is_some_and(at_rest)
}

/// Whether what never rests leaves it without an answer.
pub(crate) fn asks_about_rest(question: &Question, monitor: &Monitor) -> bool {
    monitor.asks_rest() && *monitor != Monitor::ComesToRest && question.across.is_none()
}

/// The strokes that some coil closes, with their breakers.
pub(crate) fn closed_by_something(
    machine: &Machine<'_>,
) -> impl Iterator<Item = (UnitId, DeviceId)> {
    let placed = |coil: &fiftytwo_scheme::PartId| machine.scheme.parts[*coil].at.is_some();
    machine.units.iter().filter_map(move |(unit, item)| match item.kind {
        UnitKind::Stroke(device) => {
            let table = machine.stroke(device)?;
            table.close_coils.iter().any(placed).then_some((unit, device))
        }
        _ => None,
    })
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
    /// What begins a motion without end; found once.
    pub(crate) fn roots(&self, reports: &[Option<Report>]) -> &Roots {
        self.roots.get_or_init(|| {
            let machine = self.prepared.machine();
            let (prepared, limits) = (self.prepared, self.limits());
            let circling = self.circling.get_or_init(|| {
                crate::rest::without_end(prepared, self.dependencies, self.starts, &limits)
            });
            let mut roots = circling.clone();
            let (mut racing, mut margins) = (BTreeSet::new(), Some(Vec::new()));
            for (unit, closes) in pumping(machine, self.questions, reports, self.ask) {
                match closes {
                    Closes::Once => {}
                    Closes::OnceByARace(known) => {
                        racing.insert(unit);
                        margins = margins.zip(known).map(|(all, more)| [all, more].concat());
                    }
                    Closes::Again => {
                        roots.insert(unit);
                    }
                }
            }
            let (assumed, real) = roots.into_iter().partition(|unit| {
                matches!(machine.units[*unit].kind, UnitKind::Bistable(_))
                    && crate::rest::reason(machine, *unit).is_some()
            });
            Roots { assumed, real, racing, margins }
        })
    }
    /// Takes "holds" back where a motion without end leaves the claim without an answer. `reports` has the
    /// answers of all questions that [decide](decides); `moves` says whether anything may move without end in the
    /// search that decided, where that was asked.
    pub(crate) fn judge(
        &self,
        question: &Question,
        report: &mut Report,
        moves: Option<bool>,
        reports: &[Option<Report>],
    ) {
        let Some(monitor) = question.monitor.as_ref().filter(|_| concerns(question, report)) else {
            return;
        };
        let machine = self.prepared.machine();
        let all = self.roots(reports);
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
        if moves == Some(false) {
            return;
        }
        // A breaker that pumps is told under its own claim: its lamps go with it.
        let strokes = question.claim != names::HONEST;
        let counts =
            |unit: &&UnitId| strokes || !matches!(machine.units[**unit].kind, UnitKind::Stroke(_));
        let roots: BTreeSet<UnitId> = all.real.iter().filter(counts).copied().collect();
        let starts = starts_of(machine, question, self.starts);
        let in_it = |scope: &&Scope| known_units(scope) == report.known.0;
        let decided: Vec<&Scope> = ladder.iter().filter(in_it).collect();
        let (prepared, limits) = (self.prepared, self.limits());
        let limits = Limits { places: limits.places.min(MOST_PLACES), ..limits };
        let asked = |roots: BTreeSet<UnitId>| {
            let may = self.dependencies.forward(&roots);
            Asked { prepared, monitor, limits, roots, may, decided: decided.clone() }
        };
        let asked_so = asked(roots.clone());
        if !roots.is_empty()
            && let Some(names) = asked_so.goes_on(&ladder, &starts)
        {
            self.take_back(question, monitor, (&ladder, &starts), report, &names);
            return;
        }
        let racing: BTreeSet<UnitId> = all.racing.iter().filter(counts).copied().collect();
        let with_races = asked(roots.union(&racing).copied().collect());
        if !racing.is_empty() && with_races.leans(&ladder, &starts, moves == Some(true)) {
            lean(report, &named(machine, &racing), all.margins.as_deref());
        }
    }
    /// Takes "holds" back where `names` may move for ever.
    fn take_back(
        &self,
        question: &Question,
        monitor: &Monitor,
        (ladder, starts): (&[Scope], &[State]),
        report: &mut Report,
        names: &str,
    ) {
        report.witnesses.clear();
        report.margins.clear();
        let goes_round = |report: &mut Report| {
            ladder.last().is_some_and(|whole| {
                fails_for_ever(self.prepared, whole, monitor, starts, &self.limits(), report)
            })
        };
        // Of a trip that stands, the breaker that goes round for ever says most.
        let trip = matches!(monitor, Monitor::StaysClosed { .. });
        if trip && goes_round(report) {
            return;
        }
        let in_motion = self.asked_in_motion(question, monitor);
        if let Some(broken) = in_motion.filter(|it| it.verdict == Verdict::Fails) {
            let Report { verdict, because, story, .. } = broken;
            (report.verdict, report.because, report.story) = (verdict, because, story);
            return;
        }
        if !trip && goes_round(report) {
            return;
        }
        report.verdict = Verdict::NotProven;
        if self.limits.stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            report.because = Some("stopped by hand".to_owned());
            return;
        }
        report.because = Some(format!(
            "devices may move for ever without coming to rest: {names}; what is asked at rest is not \
             answered there"
        ));
    }
    /// What is asked at rest, asked in motion too: what fails so fails. What holds so is no answer to what has no end.
    fn asked_in_motion(&self, question: &Question, monitor: &Monitor) -> Option<Report> {
        let anyhow = in_motion(monitor)?;
        Some((self.ask)(&Question { monitor: Some(anyhow), ..question.clone() }))
    }
}

/// A claim about rest that needs a breaker not to pump holds no better than that does.
fn lean(report: &mut Report, breakers: &str, races: Option<&[Margin]>) {
    report.verdict = Verdict::HoldsWithinTolerances;
    let mut leans = format!(
        "leans on {breakers} not pumping, which a race decides: a breaker that pumps never comes to rest"
    );
    // Where the margins of the race are not known, its own would promise too much.
    if races.is_none() {
        report.margins.clear();
        leans += "; the margins of that race are not known";
    }
    for race in races.unwrap_or_default() {
        let same =
            |own: &&mut Margin| (&own.device, &own.the_move) == (&race.device, &race.the_move);
        // Of what breaks the other claim there is no story of this one.
        let race = Margin { fails_from_ms: None, ..race.clone() };
        match report.margins.iter_mut().find(same) {
            Some(own) if own.room() <= race.room() => {}
            Some(own) => *own = race,
            None => report.margins.push(race),
        }
    }
    report.margins.sort_by(|a, b| a.room().total_cmp(&b.room()));
    report.because = Some(match report.because.take() {
        Some(known) => format!("{known}; {leans}"),
        None => leans,
    });
}

/// What of a claim about rest can be seen while devices move: a coil on for longer than it may at a stretch; a
/// breaker that closes twice under a trip.
fn in_motion(monitor: &Monitor) -> Option<Monitor> {
    match monitor.clone() {
        Monitor::Longer { what, time, premise, held, quiet: Quiet::Yes } => {
            Some(Monitor::Longer { what, time, premise, held, quiet: Quiet::No })
        }
        Monitor::StaysClosed { breaker, trip } => Some(Monitor::ClosesUnder { breaker, trip }),
        _ => None,
    }
}

/// One claim that holds, put to what may move without end.
struct Asked<'a, 'm, 's> {
    prepared: &'a Prepared<'m, 's>,
    monitor: &'a Monitor,
    limits: Limits<'a>,
    roots: BTreeSet<UnitId>,
    may: BTreeSet<UnitId>,
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
            let knows_all = self.knows_all(scope, whole);
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
        why.or_else(|| Some(named(self.prepared.machine(), &self.roots)))
    }
    /// Whether some motion without end may leave the claim without an answer, as far as few searches tell: from
    /// what decided it on, until one is too large.
    fn leans(&self, ladder: &[Scope], starts: &[State], moves: bool) -> bool {
        let Some(whole) = ladder.last() else { return true };
        // Of what decided it, it may be known that something moves there.
        let known = |scope: &&Scope| {
            let more = |it: &&Scope| !moves || known_units(it) < known_units(scope);
            self.decided.iter().all(|it| knows_as(scope, it) && more(it))
        };
        ladder
            .iter()
            .filter(known)
            .map(|scope| {
                let asks = (std::ptr::eq(scope, whole), self.knows_all(scope, whole));
                self.searched(scope, self.monitor, starts, asks)
            })
            .find(|found| !matches!(found, Some(Some(_))))
            .is_none_or(|found| found.is_none())
    }
    /// Whether a scope knows all that begins a motion.
    fn knows_all(&self, scope: &Scope, whole: &Scope) -> bool {
        self.roots.iter().all(|unit| scope.knows(*unit) || !whole.knows(*unit))
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
        let beyond = decided && watched.allows().is_none();
        let product = if beyond { product.beyond_breaks() } else { product };
        let search = Search::run(&product, &self.limits);
        if !matches!(search.outcome(), Outcome::Exhausted { .. }) {
            return None;
        }
        let find = |place: &_| search.find(place);
        // Where all that begins a motion is known, some of it moves in one.
        let movers = knows_all.then(|| self.roots.clone());
        let motion = Motion { whole, may: &self.may, movers };
        Some(product.endless_for(search.places(), self.monitor, motion, find))
    }
}

/// Whether everything that one scope knows another knows as well.
fn knows_as(scope: &Scope, other: &Scope) -> bool {
    let known = scope.known.iter().zip(&other.known).all(|(this, other)| *this || !other);
    let at_will = scope.at_will.iter().zip(&other.at_will).zip(&other.known);
    known && at_will.into_iter().all(|((this, other), known)| !this || *other || !known)
}

/// How often a breaker closes for each order, or for each move of the outside.
enum Closes {
    Once,
    /// Once, since a race goes well, with its margins if they are known.
    OnceByARace(Option<Vec<Margin>>),
    /// It was not shown to close once.
    Again,
}

/// What every stroke that something closes does.
fn pumping(
    machine: &Machine<'_>,
    questions: &[Question],
    reports: &[Option<Report>],
    ask: &dyn Fn(&Question) -> Report,
) -> Vec<(UnitId, Closes)> {
    closed_by_something(machine)
        .map(|(unit, breaker)| (unit, closes(machine, breaker, (questions, reports), ask)))
        .collect()
}

fn closes(
    machine: &Machine<'_>,
    breaker: DeviceId,
    (questions, reports): (&[Question], &[Option<Report>]),
    ask: &dyn Fn(&Question) -> Report,
) -> Closes {
    let scheme = machine.scheme;
    let once = |question: &Question| {
        decides(question)
            && question.monitor.as_ref().and_then(|it| it.breaker(machine)) == Some(breaker)
    };
    let asked = questions.iter().zip(reports).find(|(question, _)| once(question));
    let asked = asked.and_then(|(question, report)| Some((question.clone(), report.clone()?)));
    let unasked = || {
        let question = crate::questions::questions(scheme).into_iter().find(once)?;
        let report = ask(&question);
        Some((question, report))
    };
    let (mut sources, mut race) = (Vec::new(), None);
    if let Some((question, report)) = asked.or_else(unasked) {
        match report.verdict {
            // What never closes does not go on for ever either.
            Verdict::HoldsInAnyOrder | Verdict::Vacuous => {}
            Verdict::HoldsWithinTolerances => race = Some(Some(report.margins)),
            _ => return Closes::Again,
        }
        if let Some(Monitor::ClosesTwice { union: Expr::Any(all), .. }) = question.monitor {
            sources = all;
        }
    }
    // Where one order closes once, what closes without end is ordered anew without end: never by a
    // hand, since nobody moves.
    let all_of_them = sources.len();
    sources.retain(|source| is_from_outside(machine, source));
    if all_of_them == 0 || sources.len() != all_of_them {
        let alone =
            Question::closes_alone(breaker, Expr::Any(sources), scheme.devices[breaker].span);
        match ask(&alone).verdict {
            Verdict::HoldsInAnyOrder | Verdict::Vacuous => {}
            // Its margins are not looked for: they would cost more than all others together.
            Verdict::HoldsWithinTolerances => race = Some(None),
            _ => return Closes::Again,
        }
    }
    race.map_or(Closes::Once, Closes::OnceByARace)
}

/// Whether an order can begin anew only by somebody's move.
fn is_from_outside(machine: &Machine<'_>, union: &Expr) -> bool {
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
