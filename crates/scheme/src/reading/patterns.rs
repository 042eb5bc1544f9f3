//! Patterns: pieces of a scheme with blanks, filled in where they are applied.

use super::desk::Desk;
use super::frame::Line;

/// Replaces every `apply` by the lines of its pattern.
pub(super) fn fill_in(desk: &mut Desk, lines: Vec<Line>) -> Vec<Line> {
    let _ = desk;
    lines
}
