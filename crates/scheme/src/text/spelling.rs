//! What is wrong with a few words, before anyone knows where they stand.

use crate::finding::Finding;
use crate::source::Span;

/// A misspelt value: what is wrong, the right spelling, and why where that isn't obvious.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spelling {
    /// What is wrong.
    pub message: String,
    /// The right spelling, or what to do.
    pub help: Option<String>,
    /// Why it matters.
    pub why: Option<String>,
}

impl Spelling {
    /// Only what is wrong.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), help: None, why: None }
    }
    /// Adds what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    /// Adds why it matters.
    #[must_use]
    pub fn why(mut self, why: impl Into<String>) -> Self {
        self.why = Some(why.into());
        self
    }
    /// The same as an error of the text at a place.
    pub fn finding(self, id: &'static str, span: Span, label: impl Into<String>) -> Finding {
        let mut finding = Finding::error(id, sentence(&self.message)).at(span, label);
        finding.help = self.help;
        finding.why = self.why;
        finding
    }
}

/// A message as a sentence: a capital at its beginning, a full stop at its end.
pub(super) fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    let mut out: String = first.chain(letters).collect();
    if !out.ends_with(['.', '?', '!']) {
        out.push('.');
    }
    out
}
