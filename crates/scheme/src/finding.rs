//! A finding as plain data: the terminal, JSON and the page are only ways of telling it.

use crate::source::Span;
use serde::Serialize;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The text cannot be used (exit code 2).
    Error,
    /// The scheme says something that is wrong or unproven (exit code 1).
    Finding,
    /// Worth knowing; does not change the exit code.
    Note,
}

/// What is wrong, where, why it matters and what to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Stable identifier of our own words, such as `contact-unknown`.
    pub id: &'static str,
    /// Its weight.
    pub severity: Severity,
    /// What is wrong, one sentence, in the designer's words.
    pub message: String,
    /// Where.
    pub at: Option<Span>,
    /// A few words at that place.
    pub label: String,
    /// Other places that matter, each with a few words ("first placed here").
    pub others: Vec<(Span, String)>,
    /// Why it matters, where that isn't obvious.
    pub why: Option<String>,
    /// What to do.
    pub help: Option<String>,
    /// Names of the devices and parts meant.
    pub devices: Vec<String>,
    /// Wire numbers meant.
    pub wires: Vec<String>,
}

impl Finding {
    /// A finding with no more than its message.
    pub fn new(id: &'static str, severity: Severity, message: impl Into<String>) -> Self {
        Self {
            id,
            severity,
            message: message.into(),
            at: None,
            label: String::new(),
            others: Vec::new(),
            why: None,
            help: None,
            devices: Vec::new(),
            wires: Vec::new(),
        }
    }
    /// An error of the text.
    pub fn error(id: &'static str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Error, message)
    }
    /// A note.
    pub fn note(id: &'static str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Note, message)
    }
    /// Sets the place and a few words for it.
    #[must_use]
    pub fn at(mut self, span: Span, label: impl Into<String>) -> Self {
        self.at = Some(span);
        self.label = label.into();
        self
    }
    /// Adds another place.
    #[must_use]
    pub fn and_at(mut self, span: Span, label: impl Into<String>) -> Self {
        self.others.push((span, label.into()));
        self
    }
    /// Says why it matters.
    #[must_use]
    pub fn why(mut self, why: impl Into<String>) -> Self {
        self.why = Some(why.into());
        self
    }
    /// Says what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    /// Names a device or part.
    #[must_use]
    pub fn device(mut self, name: impl Into<String>) -> Self {
        self.devices.push(name.into());
        self
    }
    /// Names a wire.
    #[must_use]
    pub fn wire(mut self, name: impl Into<String>) -> Self {
        self.wires.push(name.into());
        self
    }
}
