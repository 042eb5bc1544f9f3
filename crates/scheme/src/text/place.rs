//! Places of KDL's nodes, entries and values in our own spans.

use crate::source::{FileId, Span};
use kdl::{KdlEntry, KdlNode};
use std::ops::Range;

pub(super) fn span(file: FileId, range: Range<usize>) -> Span {
    let byte = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
    Span { file, start: byte(range.start), end: byte(range.end) }
}

/// A whole node with its children.
pub fn node_span(file: FileId, node: &KdlNode) -> Span {
    span(file, node.span().offset()..node.span().offset() + node.span().len())
}

/// The word a node begins with.
pub fn name_span(file: FileId, node: &KdlNode) -> Span {
    let name = node.name().span();
    span(file, name.offset()..name.offset() + name.len())
}

/// An argument, or a property with its name.
pub fn entry_span(file: FileId, entry: &KdlEntry) -> Span {
    span(file, entry.span().offset()..entry.span().offset() + entry.span().len())
}

/// The value of an argument or property, quotes included. `text` is the whole file.
pub fn value_span(file: FileId, text: &str, entry: &KdlEntry) -> Span {
    let whole = entry.span().offset()..entry.span().offset() + entry.span().len();
    let Some(name) = entry.name() else { return span(file, whole) };
    let after_name = name.span().offset() + name.span().len();
    let Some(rest) = text.get(after_name..whole.end) else { return span(file, whole) };
    let value = rest.trim_start_matches(|sign: char| sign == '=' || sign.is_whitespace());
    span(file, whole.end - value.len()..whole.end)
}

/// A stretch inside the text of a value, such as one phrase of a statement. Where the value is
/// written with escapes or in several lines the whole value is meant.
pub fn inside_span(file: FileId, text: &str, entry: &KdlEntry, inside: Range<usize>) -> Span {
    let whole = value_span(file, text, entry);
    let written = text.get(whole.start as usize..whole.end as usize).unwrap_or_default();
    let plain = written.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
    match (plain, entry.value().as_string()) {
        (Some(plain), Some(value)) if plain == value && inside.end <= plain.len() => {
            let start = whole.start as usize + 1;
            span(file, start + inside.start..start + inside.end)
        }
        _ => whole,
    }
}
