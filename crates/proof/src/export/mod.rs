//! A claim as a model for a general-purpose model checker (`spin`, language Promela), so that
//! anyone can check a scheme again with a program that is not ours.
//!
//! **In:** a machine, the units that are known, a claim's monitor, where runs begin.
//! **Out:** the text of a model ([`Model`]), or why there is none ([`Refusal`]).
//! **Never here:** our search, `Look::actions`, the nodal solver. The model is written from the
//! meaning of a move (`docs/proof.md`): drive as the ways of closed contacts, with bounds on volts
//! worked out by hand. Only the list of units and where runs begin are taken from the program.
//!
//! `docs/proof-export.md` says how to use it and how its counts compare with ours.

mod logic;
mod moves;
mod print;
mod say;
mod stroke;
mod volts;
mod watch;
mod ways;

use crate::cone::Dependencies;
use crate::monitor::Monitor;
use crate::prove::starts;
use crate::questions::{Question, questions};
use fiftytwo_motion::machine::{Machine, Scope, State};
use fiftytwo_scheme::{Finding, Scheme};
use std::fmt;

/// Why something can't be exported, one sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal(pub String);

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Refusal {}

/// What time means in a model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// No times: every order.
    AnyOrder,
    /// Whole ticks: the greatest common divisor of all declared times, so nothing is rounded.
    WithinTolerances,
}

/// A model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Model {
    /// Its text.
    pub text: String,
    /// Where runs may begin: each is one transition of the model before the first move.
    pub starts: usize,
    /// The tick, µs; none in any order.
    pub tick: Option<i64>,
    /// Whether volts leave something open, which the model then tries both ways.
    pub perhaps: bool,
}

/// Writes the model of a claim: `heading` is told at its top.
///
/// # Errors
/// A [`Refusal`] where the meaning of the scheme can't be said by ways alone, where the search
/// leaves out what the claim depends on, or where a kind of claim is not known here.
pub fn model(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    form: Form,
    heading: &str,
) -> Result<Model, Refusal> {
    print::model(machine, scope, monitor, starts, form, heading)
}

/// One question of a scheme with its models.
#[derive(Debug)]
pub struct Exported {
    /// The question.
    pub question: Question,
    /// In any order.
    pub any_order: Result<Model, Refusal>,
    /// Within tolerances.
    pub within_tolerances: Result<Model, Refusal>,
}

/// Writes the models of all questions of a scheme, each with everything known that matters for it.
///
/// # Errors
/// Findings where the scheme can't be made to move.
pub fn all(scheme: &Scheme) -> Result<Vec<Exported>, Vec<Finding>> {
    let machine = Machine::new(scheme)?;
    let dependencies = Dependencies::new(&machine);
    let begins = starts(&machine);
    let export = |question: Question| {
        let one = |form: Form| {
            let Some(monitor) = &question.monitor else {
                let why = question.not_asked.clone();
                return Err(Refusal(why.unwrap_or_else(|| "it is not searched".to_owned())));
            };
            if question.across.is_some() || !question.setting.fails.is_empty() {
                return Err(Refusal("a supply that is lost is not exported".to_owned()));
            }
            if question.setting.unrecharged.is_some() {
                return Err(Refusal("an energy that is not recharged is not exported".to_owned()));
            }
            let ladder = dependencies.ladder(monitor);
            let Some(scope) = ladder.last() else {
                return Err(Refusal("nothing moves".to_owned()));
            };
            let heading = format!("{}\n{}: {}", scheme.title, question.claim, question.asks);
            model(&machine, scope, monitor, &begins, form, &heading)
        };
        let (any_order, within_tolerances) = (one(Form::AnyOrder), one(Form::WithinTolerances));
        Exported { question, any_order, within_tolerances }
    };
    Ok(questions(scheme).into_iter().map(export).collect())
}
