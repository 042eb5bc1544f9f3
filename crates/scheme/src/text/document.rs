//! From a file's bytes to a KDL document.
//!
//! **In:** bytes, or text. **Out:** KDL's tree with places, or everything that stands in its way.
//! **Never here:** a text that could overflow KDL's stack: it recurses by block, by comment and
//! by error, so only text found sound is given to it.

use super::Spelling;
use super::braces::braces;
use super::lex::{Piece, is_forbidden, lex};
use super::place::span;
use super::tree::{self, Tree};
use crate::finding::Finding;
use crate::source::{FileId, Span};
use kdl::KdlDocument;
use std::collections::BTreeSet;
use std::ops::Range;

/// The largest file read, bytes. A whole station stays far below.
pub const MAX_BYTES: usize = 4 << 20;
/// The deepest braces read.
pub const MAX_DEPTH: usize = 64;

/// Checks a file's bytes before anything reads them: size, binary junk, encoding.
///
/// # Errors
/// What the file is instead of a scheme's text.
pub fn decode(bytes: &[u8]) -> Result<String, Spelling> {
    if bytes.len() > MAX_BYTES {
        return Err(too_large(bytes.len()));
    }
    let no_text = |what: &str| {
        Spelling::new(format!("this file is not text: {what}"))
            .help("give the scheme's text file, not a drawing, an archive or a spreadsheet")
    };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Spelling::new("this text is stored as UTF-16").help("save it as UTF-8"));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return Err(no_text(&format!("byte {} is zero", at + 1)));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_owned()),
        Err(wrong) => {
            let at = wrong.valid_up_to();
            let head = bytes.get(..at).unwrap_or_default();
            let line = head.iter().filter(|byte| **byte == b'\n').count() + 1;
            let mostly_text = head.len() > 16 && !head.iter().any(|byte| *byte < 9);
            Err(if mostly_text {
                Spelling::new(format!("a letter in line {line} is not stored as UTF-8"))
                    .help("save the file as UTF-8")
            } else {
                no_text(&format!("line {line} is not UTF-8"))
            })
        }
    }
}

fn too_large(bytes: usize) -> Spelling {
    let megabytes = bytes.div_ceil(1 << 20);
    Spelling::new(format!(
        "this file has {megabytes} MB; a scheme has at most {} MB",
        MAX_BYTES >> 20
    ))
    .help("is it the right file? Large stations go into several schemes")
}

/// Parses a file's text as KDL 2.
///
/// # Errors
/// Everything that stands in the way of reading, in the designer's words.
pub fn document(file: FileId, text: &str) -> Result<KdlDocument, Vec<Finding>> {
    if let Some(finding) = refused(file, text) {
        return Err(vec![finding]);
    }
    let (tree, braces) = examined(file, text);
    if tree.hard || !braces.is_empty() {
        return Err(ordered(text, tree.findings.into_iter().chain(braces).collect()));
    }
    KdlDocument::parse_v2(&spoken(text, &tree.left_out)).map_err(|wrong| {
        let mut findings: Vec<Finding> = Vec::new();
        for one in wrong.diagnostics {
            let start = floor(text, one.span.offset());
            let end = floor(text, start + one.span.len().max(1));
            findings.push(
                Finding::error("text", "This can't be read.")
                    .at(span(file, start..end), "something is written in another way than expected")
                    .help("compare the line with a right one: word, names in quotes, properties"),
            );
        }
        ordered(text, findings.into_iter().chain(tree.findings).collect())
    })
}

/// Takes a text apart as [`document`] does, but without building KDL's own tree, which takes some
/// twenty times as long. Slips that leave the lines and braces whole stay in the tree's findings:
/// what stands in the other lines can still be read.
///
/// # Errors
/// What makes the lines themselves doubtful: braces, quotes and comments that don't close, lines
/// without a word.
pub(crate) fn examine(file: FileId, text: &str) -> Result<Tree, Vec<Finding>> {
    if let Some(finding) = refused(file, text) {
        return Err(vec![finding]);
    }
    let (mut tree, braces) = examined(file, text);
    let doubtful = ["quote-missing", "comment-open", "word-missing", "brace"];
    let doubtful = tree.findings.iter().any(|finding| doubtful.contains(&finding.id));
    if doubtful || !braces.is_empty() {
        return Err(ordered(text, tree.findings.into_iter().chain(braces).collect()));
    }
    tree.findings = ordered(text, tree.findings);
    Ok(tree)
}

/// What can be read as KDL but is not how a scheme is written: names and quantities without
/// quotes, yes and no, commas, a missing `=` or line. Findings of later checks that touch one of
/// these say the same again: see [`touches`].
pub fn slips(file: FileId, text: &str) -> Vec<Finding> {
    if refused(file, text).is_some() {
        return Vec::new();
    }
    ordered(text, examined(file, text).0.findings)
}

/// Whether a place touches one of the findings.
pub fn touches(place: Span, findings: &[Finding]) -> bool {
    findings.iter().filter_map(|finding| finding.at).any(|at| {
        at.file == place.file
            && at.start < place.end.max(place.start + 1)
            && place.start < at.end.max(at.start + 1)
    })
}

/// What a text says: comments, what `/-` leaves out and semicolons that end nothing are blank;
/// every other byte is in its place.
fn spoken(text: &str, left_out: &[Range<usize>]) -> String {
    let mut out = String::with_capacity(text.len());
    let mut left_out: Vec<&Range<usize>> = left_out.iter().collect();
    left_out.sort_by_key(|range| std::cmp::Reverse(range.start));
    let (mut begun, mut silent_to) = (false, 0);
    for token in lex(text) {
        while left_out.last().is_some_and(|range| range.start <= token.range.start) {
            silent_to = left_out.pop().map_or(silent_to, |range| silent_to.max(range.end));
        }
        let written = text.get(token.range.clone()).unwrap_or_default();
        let spacing = token.range.start < silent_to
            || matches!(token.piece, Piece::Space | Piece::LineComment | Piece::BlockComment);
        let alone = token.piece == Piece::Semicolon && !begun;
        if !spacing {
            begun = !matches!(token.piece, Piece::Newline | Piece::Open | Piece::Semicolon);
        }
        match token.piece {
            _ if spacing || alone => blank(&mut out, written.len()),
            Piece::Continue => {
                let newline = written.find(super::lex::is_newline).unwrap_or(written.len());
                out.push('\\');
                blank(&mut out, newline.saturating_sub(1));
                out.push_str(written.get(newline..).unwrap_or_default());
            }
            _ => out.push_str(written),
        }
    }
    out
}

fn blank(out: &mut String, bytes: usize) {
    out.extend(std::iter::repeat_n(' ', bytes));
}

fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Texts that are not looked into.
fn refused(file: FileId, text: &str) -> Option<Finding> {
    let nothing = span(file, 0..0);
    if text.len() > MAX_BYTES {
        return Some(too_large(text.len()).finding("text-too-large", nothing, "beginning"));
    }
    if text.trim().is_empty() {
        return Some(
            Finding::error("text-empty", "This file is empty.")
                .at(nothing, "nothing is written")
                .help("a scheme begins with its title: scheme \"Our station, breaker 52-1\""),
        );
    }
    let junk = text.chars().filter(|sign| is_forbidden(*sign)).count();
    if text.contains('\0') || junk > 8 {
        let at = text.find(is_forbidden).unwrap_or(0);
        return Some(
            Finding::error("text-junk", "This file is not text.")
                .at(span(file, at..at + 1), "a sign that no text has")
                .help("give the scheme's text file, not a drawing, an archive or a spreadsheet"),
        );
    }
    let mut depth = 0_usize;
    for token in lex(text) {
        match token.piece {
            Piece::Open => depth += 1,
            Piece::Close => depth = depth.saturating_sub(1),
            _ => {}
        }
        if depth > MAX_DEPTH {
            return Some(
                Finding::error(
                    "text-too-deep",
                    format!("Braces stand more than {MAX_DEPTH} deep in each other."),
                )
                .at(span(file, token.range), "too deep")
                .help("close the braces that are done with"),
            );
        }
    }
    None
}

/// The tree, and what is wrong with its braces unless a lost quote explains it.
fn examined(file: FileId, text: &str) -> (Tree, Vec<Finding>) {
    let tree = tree::tree(file, text, MAX_DEPTH);
    let lost =
        tree.findings.iter().any(|finding| matches!(finding.id, "quote-missing" | "comment-open"));
    let braces = if lost { Vec::new() } else { braces(file, text, &tree) };
    (tree, braces)
}

/// In the order of the text, one for each place; a line with a missing quote has only that.
fn ordered(text: &str, mut findings: Vec<Finding>) -> Vec<Finding> {
    let newlines: Vec<usize> = text.match_indices('\n').map(|(at, _)| at).collect();
    let line = |place: Span| newlines.partition_point(|at| *at < place.start as usize);
    let quotes: BTreeSet<usize> = findings
        .iter()
        .filter(|one| one.id == "quote-missing")
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    findings.retain(|one| {
        one.id == "quote-missing" || one.at.is_none_or(|place| !quotes.contains(&line(place)))
    });
    findings.sort_by_key(|one| one.at.map(|at| (at.start, at.end)));
    let mut told = 0;
    findings.retain(|one| {
        let Some(at) = one.at else { return true };
        let again = at.start < told;
        told = told.max(at.end.max(at.start + 1));
        !again
    });
    findings
}
