//! What was proven of a text so far.
//!
//! **In:** reports as the search gives them, one by one. **Out:** stories of claims that fail, edges,
//! verdicts in the order in which they were asked, and whether all were. **Never here:** a search.

use fiftytwo_motion::Replay;
use fiftytwo_proof::{Margin, Report, Verdict};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What was proven of a text: stories of claims that fail, edges, verdicts.
#[derive(Debug, Default)]
pub struct Stories(Mutex<Proven>);

#[derive(Debug, Default)]
struct Proven {
    stories: BTreeMap<String, Arc<Replay>>,
    answers: Vec<Answer>,
    came: Option<Came>,
}

/// How far the last search came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Came {
    /// Questions in all.
    pub of: usize,
    /// It came to its end.
    pub whole: bool,
}

/// One verdict.
#[derive(Debug, Clone)]
pub struct Answer {
    id: String,
    /// The claim.
    pub claim: String,
    /// What exactly was asked.
    pub asks: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, where the verdict alone does not say it.
    pub because: Option<String>,
    /// What it covers, and what not.
    pub covers: String,
    /// Asked across the loss and return of this supply.
    pub across: Option<String>,
    /// Edges of its race.
    pub margins: Vec<Margin>,
}

impl Stories {
    fn proven(&self) -> MutexGuard<'_, Proven> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// A story by the id of its claim.
    pub fn get(&self, id: &str) -> Option<Arc<Replay>> {
        self.proven().stories.get(id).cloned()
    }
    /// Keeps what was proven of one question.
    pub fn keep(&self, id: &str, report: &Report, replay: Option<Arc<Replay>>) {
        let mut proven = self.proven();
        proven.stories.extend(replay.map(|replay| (id.to_owned(), replay)));
        let answer = Answer {
            id: id.to_owned(),
            claim: report.claim.clone(),
            asks: report.asks.clone(),
            verdict: report.verdict,
            because: report.because.clone(),
            covers: report.covers.clone(),
            across: report.across.clone(),
            margins: report.margins.clone(),
        };
        match proven.answers.iter_mut().find(|old| old.id == id) {
            Some(old) => *old = answer,
            None => proven.answers.push(answer),
        }
    }
    /// Keeps how far a search of all claims came.
    pub fn came_to(&self, came: Came) {
        self.proven().came = Some(came);
    }
    /// How far the last search of all claims came; none: nobody asked.
    pub fn came(&self) -> Option<Came> {
        self.proven().came
    }
    /// All edges found, each with its claim.
    pub fn margins(&self) -> Vec<(String, Margin)> {
        let proven = self.proven();
        let plain = proven.answers.iter().filter(|answer| answer.across.is_none());
        plain
            .flat_map(|it| it.margins.iter().map(|margin| (it.claim.clone(), margin.clone())))
            .collect()
    }
    /// All verdicts so far.
    pub fn answers(&self) -> Vec<Answer> {
        self.proven().answers.clone()
    }
}
