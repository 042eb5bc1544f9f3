//! What was proven of a text so far.
//!
//! **In:** reports as the search gives them, one by one. **Out:** stories of claims that fail, edges,
//! verdicts in the order in which they were asked, and whether all were. **Never here:** a search.

use fiftytwo_proof::{Margin, Report};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What was proven of a text, question by question.
#[derive(Debug, Default)]
pub struct Stories(Mutex<Proven>);

#[derive(Debug, Default)]
struct Proven {
    answers: Vec<(String, Arc<Report>)>,
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

impl Stories {
    fn proven(&self) -> MutexGuard<'_, Proven> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// The answer to a question, by its id.
    pub fn get(&self, id: &str) -> Option<Arc<Report>> {
        let proven = self.proven();
        proven.answers.iter().find(|(known, _)| known == id).map(|(_, report)| report.clone())
    }
    /// Keeps what was proven of one question.
    pub fn keep(&self, id: &str, report: &Report) {
        let answers = &mut self.proven().answers;
        let report = Arc::new(report.clone());
        match answers.iter_mut().find(|(known, _)| known == id) {
            Some((_, old)) => *old = report,
            None => answers.push((id.to_owned(), report)),
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
        let answers = self.answers();
        let plain = answers.iter().filter(|report| report.across.is_none());
        plain
            .flat_map(|it| it.margins.iter().map(|margin| (it.claim.clone(), margin.clone())))
            .collect()
    }
    /// All answers so far, in the order in which they came.
    pub fn answers(&self) -> Vec<Arc<Report>> {
        self.proven().answers.iter().map(|(_, report)| report.clone()).collect()
    }
}
