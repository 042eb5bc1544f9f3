//! Who asks the questions, and who hears the answers.
//!
//! **In:** the questions and how one is asked. **Out:** each answer once, told as soon as nothing can take it
//! back any more. **Never here:** how a question is decided.

use super::{Answer, Progress, Stage};
use crate::questions::Question;
use crate::report::Report;
use crate::restless::{self, Restless};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What a worker tells about a question: that it takes it up, or the answer.
pub(super) type Told = (usize, Option<Answer>);

/// The answers so far. A "holds" that may still be taken back is told to nobody until that is decided.
pub(super) struct Answers<'a, 'm, 's> {
    restless: &'a Restless<'a, 'm, 's>,
    progress: Option<Progress<'a>>,
    reports: Vec<Option<Report>>,
    held: Vec<usize>,
    /// Whether devices may move without end in the search that decided, as far as that was asked.
    moves: Vec<Option<bool>>,
}

impl<'a, 'm, 's> Answers<'a, 'm, 's> {
    /// None yet.
    pub(super) fn new(restless: &'a Restless<'a, 'm, 's>, progress: Option<Progress<'a>>) -> Self {
        let many = restless.questions.len();
        Self {
            restless,
            progress,
            reports: vec![None; many],
            held: Vec::new(),
            moves: vec![None; many],
        }
    }
    /// All of them, in the order of the questions; what is still held back is judged now.
    pub(super) fn all(mut self) -> Vec<Report> {
        self.release();
        self.reports.into_iter().flatten().collect()
    }
    pub(super) fn take(&mut self, (index, answer): Told) {
        let questions = self.restless.questions;
        let Some(question) = questions.get(index) else { return };
        let Some(Answer { report, moves }) = answer else {
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
        if let Some(slot) = self.moves.get_mut(index) {
            *slot = moves;
        }
        let mut all = questions.iter().zip(&self.reports);
        if !all.any(|(question, report)| restless::decides(question) && report.is_none()) {
            self.release();
        }
    }
    /// Tells what was held back, once it is judged.
    fn release(&mut self) {
        let held = std::mem::take(&mut self.held);
        let taken: Vec<(usize, Report)> = held
            .into_iter()
            .filter_map(|index| Some((index, self.reports.get_mut(index)?.take()?)))
            .collect();
        if taken.is_empty() {
            return;
        }
        let (restless, reports, moves) = (self.restless, &self.reports, &self.moves);
        // Found here, once: a thread that finds it while it judges might take up another to judge meanwhile, and
        // wait for itself.
        restless.roots(reports);
        let judged = |(index, mut report): (usize, Report)| {
            if let Some(question) = restless.questions.get(index) {
                let moves = moves.get(index).copied().flatten();
                restless.judge(question, &mut report, moves, reports);
            }
            (index, report)
        };
        let judged: Vec<(usize, Report)> = taken.into_par_iter().map(judged).collect();
        for (index, report) in judged {
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
pub(super) fn side_by_side(
    questions: &[Question],
    ask: impl Fn(&Question) -> Answer + Sync,
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
