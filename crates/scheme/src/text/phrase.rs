//! Statements before anyone knows the names: NAME STATE joined by and, or, not, brackets.

use super::Spelling;
use std::ops::Range;

/// A statement as written; ranges are bytes inside its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Raw {
    /// NAME STATE, one space between words.
    Phrase {
        /// The words.
        text: String,
        /// Where they stand.
        range: Range<usize>,
    },
    /// Not.
    Not(Box<Raw>),
    /// Joined by "and"; two or more.
    All(Vec<Raw>),
    /// Joined by "or"; two or more.
    Any(Vec<Raw>),
}

/// Takes a statement apart.
pub fn statement(text: &str) -> Result<Raw, (Spelling, Range<usize>)> {
    Ok(Raw::Phrase { text: text.to_owned(), range: 0..text.len() })
}

/// The first word of `name` that a statement would take for its own (and, or, not, a bracket).
pub fn reserved_word(name: &str) -> Option<&str> {
    name.split_whitespace()
        .find(|word| matches!(*word, "and" | "or" | "not") || word.contains(['(', ')']))
}
