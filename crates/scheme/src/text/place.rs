//! Places in a file as our own spans.

use crate::source::{FileId, Span};
use std::ops::Range;

/// A stretch of bytes of a file.
pub(super) fn span(file: FileId, range: Range<usize>) -> Span {
    let byte = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
    Span { file, start: byte(range.start), end: byte(range.end) }
}
