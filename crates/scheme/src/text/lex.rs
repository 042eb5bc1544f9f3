//! The pieces of a file's text, none lost: put together again they are the text.
//!
//! **In:** text. **Out:** pieces with their places, whatever the text.
//! **Never here:** what stands where; nor a panic or deep recursion on any text.

use std::ops::Range;

/// What a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Piece {
    Space,
    Newline,
    /// `// …` without its newline.
    LineComment,
    /// `/* … */`.
    BlockComment,
    /// `/-`.
    Dash,
    /// A word, a number, or a keyword with `#`.
    Word,
    /// A string in quotes of any kind.
    Text,
    Open,
    Close,
    Semicolon,
    Equals,
    /// A backslash at the end of a line: the statement goes on.
    Continue,
    /// A string without its closing quote.
    OpenText,
    /// A block comment without its end.
    OpenComment,
    /// A sign with no meaning here.
    Stray,
}

/// A piece and its place in bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Token {
    pub piece: Piece,
    pub range: Range<usize>,
}

/// Takes the whole text apart.
pub(crate) fn lex(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
        let (piece, length) = first(rest);
        let end = at + length.max(1);
        tokens.push(Token { piece, range: at..end });
        at = end;
    }
    tokens
}

fn first(rest: &str) -> (Piece, usize) {
    let Some(sign) = rest.chars().next() else { return (Piece::Space, 0) };
    match sign {
        '{' => (Piece::Open, 1),
        '}' => (Piece::Close, 1),
        ';' => (Piece::Semicolon, 1),
        '=' => (Piece::Equals, 1),
        '"' => quoted(rest),
        '#' => raw(rest),
        '\\' => escaped_line(rest),
        '/' if rest.starts_with("//") => (Piece::LineComment, line(rest)),
        '/' if rest.starts_with("/*") => block_comment(rest),
        '/' if rest.starts_with("/-") => (Piece::Dash, 2),
        '/' | '(' | ')' | '[' | ']' => (Piece::Stray, 1),
        _ if is_newline(sign) => {
            (Piece::Newline, if rest.starts_with("\r\n") { 2 } else { sign.len_utf8() })
        }
        _ if is_space(sign) => (Piece::Space, span(rest, is_space)),
        _ if is_forbidden(sign) => (Piece::Stray, span(rest, is_forbidden)),
        _ => (Piece::Word, span(rest, is_word)),
    }
}

fn span(rest: &str, belongs: impl Fn(char) -> bool) -> usize {
    rest.find(|sign| !belongs(sign)).unwrap_or(rest.len())
}

/// KDL's newlines.
pub(crate) fn is_newline(sign: char) -> bool {
    matches!(sign, '\n' | '\r' | '\u{85}' | '\u{b}' | '\u{c}' | '\u{2028}' | '\u{2029}')
}

/// KDL's spaces; a mark of byte order is as good as one.
fn is_space(sign: char) -> bool {
    matches!(
        sign,
        '\t' | ' ' | '\u{a0}' | '\u{1680}' | '\u{2000}'
            ..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' | '\u{feff}'
    )
}

/// Signs that no text may hold: control signs and those that turn the direction of writing.
pub(crate) fn is_forbidden(sign: char) -> bool {
    matches!(
        sign,
        '\0'..='\u{8}' | '\u{e}'..='\u{1f}' | '\u{7f}' | '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    )
}

fn is_word(sign: char) -> bool {
    !matches!(sign, '\\' | '/' | '(' | ')' | '{' | '}' | ';' | '[' | ']' | '"' | '#' | '=')
        && !is_newline(sign)
        && !is_space(sign)
        && !is_forbidden(sign)
}

fn line(rest: &str) -> usize {
    span(rest, |sign| !is_newline(sign))
}

fn block_comment(rest: &str) -> (Piece, usize) {
    let mut depth = 0_usize;
    let mut at = 0;
    while let Some(tail) = rest.get(at..) {
        let Some(next) = tail.find(['/', '*']) else { break };
        at += next;
        let tail = rest.get(at..).unwrap_or_default();
        if tail.starts_with("/*") {
            depth += 1;
            at += 2;
        } else if tail.starts_with("*/") {
            depth = depth.saturating_sub(1);
            at += 2;
            if depth == 0 {
                return (Piece::BlockComment, at);
            }
        } else {
            at += 1;
        }
    }
    (Piece::OpenComment, rest.len())
}

fn quoted(rest: &str) -> (Piece, usize) {
    if rest.starts_with("\"\"\"") && rest.chars().nth(3).is_some_and(is_newline) {
        return closed(rest, 3, |tail| tail.starts_with("\"\"\"").then_some(3), true);
    }
    let mut signs = rest.char_indices().skip(1).peekable();
    while let Some((at, sign)) = signs.next() {
        match sign {
            '"' => return (Piece::Text, at + 1),
            '\\' => match signs.peek().copied() {
                Some((_, next)) if is_newline(next) || is_space(next) => {
                    while signs.next_if(|(_, sign)| is_newline(*sign) || is_space(*sign)).is_some()
                    {
                    }
                }
                _ => drop(signs.next()),
            },
            _ if is_newline(sign) => return (Piece::OpenText, at),
            _ => {}
        }
    }
    (Piece::OpenText, rest.len())
}

fn raw(rest: &str) -> (Piece, usize) {
    let hashes = span(rest, |sign| sign == '#');
    let behind = rest.get(hashes..).unwrap_or_default();
    if !behind.starts_with('"') {
        let word = span(behind, is_word);
        return if hashes == 1 && word > 0 {
            (Piece::Word, 1 + word)
        } else {
            (Piece::Stray, hashes)
        };
    }
    let several = behind.starts_with("\"\"\"") && behind.chars().nth(3).is_some_and(is_newline);
    let quotes = if several { "\"\"\"" } else { "\"" };
    let end = format!("{quotes}{}", "#".repeat(hashes));
    let from = hashes + quotes.len();
    let closing = |tail: &str| tail.starts_with(&end).then_some(end.len());
    if several {
        return closed(rest, from, closing, false);
    }
    let stop = rest.get(from..).map_or(rest.len(), |tail| from + line(tail));
    match rest.get(from..stop).and_then(|tail| tail.find(&end)) {
        Some(at) => (Piece::Text, from + at + end.len()),
        None => (Piece::OpenText, stop),
    }
}

/// A string over several lines, up to what `closing` recognises.
fn closed(
    rest: &str,
    from: usize,
    closing: impl Fn(&str) -> Option<usize>,
    escapes: bool,
) -> (Piece, usize) {
    let mut at = from;
    while let Some(sign) = rest.get(at..).and_then(|tail| tail.chars().next()) {
        let tail = rest.get(at..).unwrap_or_default();
        if let Some(length) = closing(tail) {
            return (Piece::Text, at + length);
        }
        at += sign.len_utf8();
        if escapes && sign == '\\' {
            at += rest.get(at..).and_then(|tail| tail.chars().next()).map_or(0, char::len_utf8);
        }
    }
    (Piece::OpenText, rest.len())
}

fn escaped_line(rest: &str) -> (Piece, usize) {
    let mut at = 1;
    while let Some(tail) = rest.get(at..) {
        let Some(sign) = tail.chars().next() else { return (Piece::Continue, at) };
        if is_newline(sign) {
            let newline = if tail.starts_with("\r\n") { 2 } else { sign.len_utf8() };
            return (Piece::Continue, at + newline);
        }
        if tail.starts_with("//") {
            at += line(tail);
        } else if tail.starts_with("/*") {
            match block_comment(tail) {
                (Piece::BlockComment, length) => at += length,
                _ => break,
            }
        } else if is_space(sign) {
            at += span(tail, is_space);
        } else {
            break;
        }
    }
    (Piece::Stray, 1)
}
