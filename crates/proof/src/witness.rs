//! The run that a proven claim shows: what it speaks of does happen.
//!
//! **Out:** for each thing that must be seen a real run to it, that it never happens, or that none
//! was found. **Never here:** whether the claim holds.

use crate::cone::{Dependencies, never_moves, units_of_expr};
use crate::monitor::Monitor;
use crate::patient::{self, Sought};
use crate::questions::{Question, names};
use crate::report::Witness;
use crate::search::{Limits, Outcome, search};
use crate::space::{ANY_NUMBER, Prepared, Product, Step};
use crate::story::shown;
use fiftytwo_motion::machine::{Agent, Evaluator, Machine, Scope, State};
use fiftytwo_motion::patient::{Pace, follow};
use fiftytwo_scheme::Expr;
use std::collections::BTreeSet;

/// What came of looking.
pub(crate) enum Seen {
    /// It happens, but for what is said.
    All {
        /// The runs.
        found: Vec<Witness>,
        /// What reads only what no search moves, and what a sound monitor was never seen to tell.
        unseen: Vec<String>,
    },
    /// This never happens.
    Never(String),
    /// Of a claim of the designer's own: this reads only what no search moves.
    Assumed(String),
    /// No run to this was found within the limits.
    NotFound(String),
}

/// Said of what a claim's own premise is.
const PREMISE: &str = "what it speaks of";

/// Looks for everything that a question says must be seen to happen.
pub(crate) fn seek(
    prepared: &Prepared<'_, '_>,
    dependencies: &Dependencies<'_, '_>,
    question: &Question,
    starts: &[State],
    limits: &Limits<'_>,
) -> Seen {
    let machine = prepared.machine();
    let (mut found, mut unseen) = (Vec::new(), Vec::new());
    if let (true, Some(Monitor::Holds { what })) = (question.own, &question.monitor)
        && stands_by_assumption(machine, question, what)
    {
        return Seen::Assumed(format!("what \"{}\" speaks of", question.claim));
    }
    let reached = question.setting.reaches.iter();
    let all = question.shows.iter().map(|shown| (shown, true)).chain(reached.map(|it| (it, false)));
    for ((words, what), needed) in all {
        if stands_by_assumption(machine, question, what) {
            if question.own {
                return Seen::Assumed(words.clone());
            }
            unseen.push(words.clone());
            continue;
        }
        // The claim that it never is so: what breaks it is the run that is wanted.
        let never = Monitor::Holds { what: what.clone() };
        let ladder = crate::prove::ladder_of(machine, dependencies, question, &never);
        let Some(whole) = ladder.last() else { continue };
        let premise = Monitor::AtRest {
            what: Expr::Any(Vec::new()),
            premise: what.clone(),
            held: question.monitor.as_ref().and_then(Monitor::held),
        };
        let steps = patient::look_for(
            prepared,
            whole,
            &premise,
            starts,
            (Sought::Premise, patient::ALL),
            Pace::Middle,
            limits,
        );
        match steps {
            Some(_) if !needed => {}
            Some(steps) => found.extend(witness(machine, whole, starts, words, &premise, &steps)),
            // Each half of what a monitor says is a claim of its own: one is enough.
            None if question.claim == names::HONEST => unseen.push(words.clone()),
            None if never_happens(prepared, whole, &never, starts, limits) => {
                return Seen::Never(words.clone());
            }
            None if !needed => {}
            None => return Seen::NotFound(words.clone()),
        }
    }
    Seen::All { found, unseen }
}

/// Whether a statement reads only what no search moves: supplies, fuses, links, overloads. Such a
/// thing is assumed, it can't be seen to change.
fn stands_by_assumption(machine: &Machine<'_>, question: &Question, what: &Expr) -> bool {
    let mut units = BTreeSet::new();
    units_of_expr(machine, what, &mut units);
    let lost = question.setting.fails.iter().chain(&question.across);
    let lost: Vec<_> = lost.map(|supply| machine.supply_unit(*supply)).collect();
    !units.is_empty()
        && units.iter().all(|unit| never_moves(&machine.units[*unit].kind) && !lost.contains(unit))
}

/// A run to what a claim's own premise is, told.
pub(crate) fn of_premise(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    steps: &[(i64, Step)],
) -> Option<Witness> {
    witness(machine, scope, starts, PREMISE, monitor, steps)
}

fn witness(
    machine: &Machine<'_>,
    scope: &Scope,
    starts: &[State],
    words: &str,
    monitor: &Monitor,
    steps: &[(i64, Step)],
) -> Option<Witness> {
    let events = shown(machine, scope, monitor, starts, steps)?;
    Some(Witness { shows: words.to_owned(), events })
}

fn never_happens(
    prepared: &Prepared<'_, '_>,
    scope: &Scope,
    never: &Monitor,
    starts: &[State],
    limits: &Limits<'_>,
) -> bool {
    let product = Product::of(prepared, scope, never, starts, false, ANY_NUMBER);
    product.is_some_and(|product| matches!(search(&product, limits), Outcome::Exhausted { .. }))
}

/// Whether the outside can do anything at all, in a start or where devices have come to rest.
pub(crate) fn outside_acts(machine: &Machine<'_>, starts: &[State]) -> bool {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    starts.iter().any(|start| {
        let followed = follow(&evaluator, start, &[], 0, Pace::Middle, None);
        let states = std::iter::once(start).chain(followed.states.last());
        states.into_iter().any(|state| {
            evaluator.look(state).actions().iter().any(|action| action.agent == Agent::World)
        })
    })
}
