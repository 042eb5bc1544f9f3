//! Slips of writing, each answered in the designer's words by looking at what stands there.

use super::lex::{Piece, Token, is_forbidden};
use super::place::span;
use super::quantity;
use super::spelling::sentence;
use super::tree::{Entry, Member, Node};
use super::vocabulary;
use crate::finding::Finding;
use crate::source::FileId;
use std::ops::Range;

/// A finding, and whether KDL too refuses the text because of it.
pub(super) struct Slip {
    pub finding: Finding,
    pub hard: bool,
}

fn error(
    file: FileId,
    id: &'static str,
    message: String,
    range: Range<usize>,
    label: &str,
) -> Finding {
    Finding::error(id, sentence(&message)).at(span(file, range), label)
}

fn words(text: &str, range: &Range<usize>) -> String {
    text.get(range.clone()).unwrap_or_default().to_owned()
}

/// A sign with no meaning where it stands.
pub(super) fn stray(file: FileId, text: &str, token: &Token) -> Finding {
    let range = token.range.clone();
    let shown = words(text, &range);
    match token.piece {
        Piece::OpenText => {
            let first =
                if shown.starts_with("\"\"\"") { range.start..range.start + 3 } else { range };
            error(
                file,
                "quote-missing",
                "a quote is missing in this line".into(),
                first,
                "never closed",
            )
            .help("every name and quantity stands between two quotes: \"52CS\"")
        }
        Piece::OpenComment => error(
            file,
            "comment-open",
            "this comment is never closed".into(),
            range.start..range.start + 2,
            "begins here",
        )
        .help("write */ at its end, or // before each line"),
        Piece::Equals => {
            error(file, "sign", "nothing stands before \"=\"".into(), range, "which property?")
                .help("a property is written name=\"value\", such as length=\"350 m\"")
        }
        Piece::Dash => error(file, "sign", "\"/-\" stands twice".into(), range, "one is enough")
            .help("one /- leaves out what follows it"),
        Piece::Continue => error(
            file,
            "sign",
            "a backslash goes on with no line".into(),
            range,
            "nothing to go on with",
        )
        .help("take it out"),
        _ => stray_sign(file, &shown, range),
    }
}

fn stray_sign(file: FileId, shown: &str, range: Range<usize>) -> Finding {
    let (message, help) = match shown.chars().next() {
        Some('(' | ')') => (
            format!("a bracket \"{shown}\" stands outside quotes"),
            "brackets belong into statements, inside the quotes: \"52 closed and (bus hot or line dead)\"",
        ),
        Some('[' | ']') => (
            format!("a square bracket \"{shown}\" stands outside quotes"),
            "parameters of a pattern stand inside quotes: \"[relay]\"",
        ),
        Some('#') => (
            "\"#\" has no meaning here".to_owned(),
            "a comment begins with //; names with # stand in quotes",
        ),
        Some('\\') => (
            "a backslash stands in the line".to_owned(),
            "take it out; it may only end a line that goes on in the next",
        ),
        Some('/') => (
            "a stroke \"/\" stands alone".to_owned(),
            "a comment begins with //; sizes such as \"1/0 AWG\" stand in quotes",
        ),
        _ => ("a control sign stands in the text, invisible on paper".to_owned(), "take it out"),
    };
    error(file, "sign", message, range, "here").help(help)
}

/// `/-` with nothing behind it.
pub(super) fn dash_alone(file: FileId, range: Range<usize>) -> Finding {
    error(file, "sign", "\"/-\" leaves nothing out".into(), range, "nothing follows")
        .help("/- stands before what is to be left out, in the same line")
}

/// A statement that does not begin with a word.
pub(super) fn no_word(file: FileId, text: &str, token: &Token) -> Finding {
    if matches!(token.piece, Piece::Open) {
        return error(
            file,
            "word-missing",
            "a brace opens with no statement before it".into(),
            token.range.clone(),
            "whose braces?",
        )
        .help(
            "the opening brace stands at the end of the line it belongs to: leg \"Close coil\" {",
        );
    }
    stray(file, text, token)
}

/// A first word that can't be one.
pub(super) fn name(file: FileId, text: &str, token: &Token) -> Option<Finding> {
    let shown = words(text, &token.range);
    if token.piece == Piece::Text {
        return escape(file, text, &token.range).map(|slip| slip.finding);
    }
    let message = if is_numberlike(&shown) {
        format!("a line begins with {shown}, not with a word")
    } else if shown.starts_with('#') || KEYWORDS.contains(&shown.as_str()) {
        format!("no line of a scheme begins with {shown}")
    } else {
        return None;
    };
    Some(
        error(file, "word-missing", message, token.range.clone(), "not a word")
            .help("a line begins with what stands there: contact \"52\" \"a1\"; a comment with //"),
    )
}

/// Two things with no space between.
pub(super) fn no_space(file: FileId, text: &str, range: Range<usize>) -> Finding {
    let shown = words(text, &range);
    if shown.starts_with(',') {
        return error(file, "comma", "a comma stands between names".into(), range, "no comma")
            .help("only spaces stand between names: contact \"a1\" \"a2\"");
    }
    error(file, "space-missing", format!("a space is missing before {shown}"), range, "too close")
        .help("a space stands before each name and property")
}

/// `key=` with nothing behind it.
pub(super) fn no_value(file: FileId, key: &str, range: Range<usize>) -> Finding {
    error(file, "value-missing", format!("nothing follows \"{key}=\""), range, "which value?")
        .help(format!("write {key}=\"…\", or take it out"))
}

/// A second block.
pub(super) fn second_block(file: FileId, range: &Range<usize>) -> Finding {
    error(file, "brace", "a statement has two blocks".into(), range.clone(), "second block")
        .help("put everything into one pair of braces, or begin a new line")
}

/// Something behind a closing brace.
pub(super) fn behind_block(file: FileId, text: &str, range: Range<usize>) -> Finding {
    let shown = words(text, &range);
    error(file, "brace", format!("behind a closing brace stands {shown}"), range, "belongs elsewhere")
        .help("names and properties stand before the braces; the next statement begins a new line, or behind ;")
}

const KEYWORDS: &[&str] = &["true", "false", "null", "inf", "-inf", "nan"];
const YES_NO: &[&str] = &["true", "false", "null"];

/// What is wrong with a statement's arguments and properties.
pub(super) fn arguments(file: FileId, text: &str, node: &Node) -> Vec<Slip> {
    let entries: Vec<&Entry> = node
        .pieces
        .iter()
        .filter_map(|piece| match piece {
            Member::Entry(entry) => Some(entry),
            _ => None,
        })
        .collect();
    let mut found = Vec::new();
    let mut next = 0;
    while let Some(entry) = entries.get(next) {
        next += 1;
        if let Some(slip) = key(file, text, entry) {
            found.push(slip);
        }
        let shown = words(text, &entry.value);
        if shown.is_empty() {
            // The missing value is told already.
            continue;
        }
        if is_quoted(&shown) {
            found.extend(escape(file, text, &entry.value));
            continue;
        }
        let tail = entries.get(next..).unwrap_or_default();
        let bare = tail
            .iter()
            .take_while(|more| more.key.is_none() && !is_quoted(&words(text, &more.value)))
            .take_while(|more| {
                let word = words(text, &more.value);
                let inside = is_numberlike(&shown) && matches!(word.as_str(), "to" | "at");
                inside || !vocabulary::is_property(&word) && !vocabulary::is_known(&word)
            });
        let mut stretch = vec![entry.value.clone()];
        stretch.extend(bare.map(|more| more.value.clone()));
        if let Some((slip, used)) = value(file, text, &stretch, tail) {
            found.push(slip);
            next += used - 1;
        }
    }
    found
}

fn is_quoted(shown: &str) -> bool {
    shown.trim_start_matches('#').starts_with('"')
}

/// A key that needs quotes.
fn key(file: FileId, text: &str, entry: &Entry) -> Option<Slip> {
    let range = entry.key.clone()?;
    let shown = words(text, &range);
    if is_quoted(&shown) {
        return escape(file, text, &range);
    }
    let wrong =
        is_numberlike(&shown) || KEYWORDS.contains(&shown.as_str()) || shown.starts_with('#');
    wrong.then(|| Slip {
        finding: error(
            file,
            "name-unquoted",
            format!("quotes are missing round {shown}"),
            range,
            "a name",
        )
        .help(format!("put quotes round it: \"{shown}\"=…")),
        hard: true,
    })
}

/// A number, or what begins like one.
fn is_numberlike(shown: &str) -> bool {
    let plain = shown.strip_prefix(['+', '-']).unwrap_or(shown);
    let plain = plain.strip_prefix('.').unwrap_or(plain);
    plain.starts_with(|sign: char| sign.is_ascii_digit())
}

/// A number that KDL reads as one.
fn is_number(shown: &str) -> bool {
    let plain = shown.strip_prefix(['+', '-']).unwrap_or(shown);
    let digits = |part: &str| {
        part.starts_with(|sign: char| sign.is_ascii_digit())
            && part.chars().all(|sign| sign.is_ascii_digit() || sign == '_')
    };
    let (mantissa, exponent) = match plain.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => {
            (mantissa, digits(exponent.strip_prefix(['+', '-']).unwrap_or(exponent)))
        }
        None => (plain, true),
    };
    let (whole, fraction) = match mantissa.split_once('.') {
        Some((whole, fraction)) => (whole, digits(fraction)),
        None => (mantissa, true),
    };
    digits(whole) && fraction && exponent
}

/// What is wrong with a bare value and the bare words behind it, and how many of them are meant.
fn value(
    file: FileId,
    text: &str,
    stretch: &[Range<usize>],
    tail: &[&Entry],
) -> Option<(Slip, usize)> {
    let first = stretch.first()?.clone();
    let shown = words(text, &first);
    let whole = first.start..stretch.last().map_or(first.end, |last| last.end);
    let all = words(text, &whole);
    let number = is_number(&shown);
    let slip = |hard, finding| Slip { finding, hard };
    if number && shown.replace('_', "").parse::<f64>().is_ok_and(f64::is_infinite)
        || matches!(shown.as_str(), "inf" | "-inf" | "nan" | "#inf" | "#-inf" | "#nan")
    {
        let finding = error(
            file,
            "not-finite",
            format!("nothing can have the value {shown}"),
            first,
            "no value",
        )
        .help("write the number with its unit, in quotes: \"41 ohm\"");
        return Some((slip(true, finding), 1));
    }
    if number {
        if stretch.len() == 1 || stretch.iter().skip(1).all(|more| is_number(&words(text, more))) {
            return None;
        }
        let finding = error(
            file,
            "quantity-unquoted",
            format!("quotes are missing round {all}"),
            whole,
            "a quantity",
        )
        .help(format!("put quotes round it: \"{all}\""));
        return Some((slip(false, finding), stretch.len()));
    }
    if is_numberlike(&shown) {
        let quoted = quantity::spaced(&all);
        let (id, range, label, right, used) = match quoted {
            Some(right) => ("quantity-unquoted", whole, "a quantity", right, stretch.len()),
            None => ("name-unquoted", first, "a name", shown.clone(), 1),
        };
        let finding = error(
            file,
            id,
            format!("quotes are missing round {}", words(text, &range)),
            range,
            label,
        )
        .help(format!("put quotes round it: \"{right}\""))
        .why("names and quantities of yours stand in quotes, the words of the language don't");
        return Some((slip(true, finding), used));
    }
    if shown.starts_with('#') || YES_NO.contains(&shown.as_str()) {
        let finding = error(
            file,
            "yes-no",
            format!("there is no {shown} in a scheme"),
            first,
            "no yes or no",
        )
        .help("write the word itself in quotes (\"yes\"), or leave the property out");
        let hard = shown.starts_with('#')
            && !["#true", "#false", "#null"].contains(&shown.as_str())
            || KEYWORDS.contains(&shown.as_str());
        return Some((slip(hard, finding), 1));
    }
    Some(bare_word(file, text, stretch, tail, shown))
}

const MARKS: &[char] = &['“', '”', '„', '‟', '‘', '’', '‚', '\'', '`', '´', '«', '»'];

fn bare_word(
    file: FileId,
    text: &str,
    stretch: &[Range<usize>],
    tail: &[&Entry],
    shown: String,
) -> (Slip, usize) {
    let first = stretch.first().cloned().unwrap_or_default();
    let soft = |finding| Slip { finding, hard: false };
    if shown.starts_with(MARKS) {
        let closing = stretch.iter().position(|word| words(text, word).ends_with(MARKS));
        let used = closing.unwrap_or(0) + 1;
        let end = stretch.get(used - 1).map_or(first.end, |last| last.end);
        let range = first.start..end;
        let inner = words(text, &range);
        let finding = error(
            file,
            "quote-kind",
            format!("these are quotes of another kind: {inner}"),
            range,
            "other quotes",
        )
        .help(format!("write straight double quotes: \"{}\"", inner.trim_matches(MARKS)));
        return (soft(finding), used);
    }
    if shown.starts_with(',') || shown.ends_with(',') {
        let finding =
            error(file, "comma", "a comma stands between names".into(), first, "no comma")
                .help("only spaces stand between names: contact \"a1\" \"a2\"");
        return (soft(finding), 1);
    }
    let next_quoted =
        tail.first().is_some_and(|next| next.key.is_none() && is_quoted(&words(text, &next.value)));
    if vocabulary::is_property(&shown) && next_quoted {
        let value = tail.first().map(|next| words(text, &next.value)).unwrap_or_default();
        let finding = error(
            file,
            "equals-missing",
            format!("\"=\" is missing behind {shown}"),
            first,
            "a property",
        )
        .help(format!("write {shown}={value}"));
        return (soft(finding), 1);
    }
    let hyphened = tail
        .first()
        .and_then(|next| next.key.as_ref())
        .map(|key| format!("{shown}-{}", words(text, key)))
        .filter(|whole| vocabulary::is_property(whole));
    if let Some(whole) = hyphened {
        let message = format!("a hyphen is missing in {whole}");
        let finding = error(file, "hyphen-missing", message, first, "a property in two words")
            .help(format!("write {whole}=…"));
        return (soft(finding), 1);
    }
    if vocabulary::is_known(&shown) {
        let finding = error(
            file,
            "line-missing",
            format!("a new statement begins in the middle of a line: {shown}"),
            first,
            "a new statement",
        )
        .help(format!("begin a new line before {shown}, or write ; before it"));
        return (soft(finding), 1);
    }
    let last = stretch.last().map_or(first.end, |last| last.end);
    let range = first.start..last;
    let all = words(text, &range);
    let each: Vec<String> =
        stretch.iter().map(|word| format!("\"{}\"", words(text, word))).collect();
    let help = match stretch.len() {
        1 => format!("put quotes round it: \"{all}\""),
        _ if stretch.iter().any(|word| is_numberlike(&words(text, word))) => {
            format!("put quotes round each: {}", each.join(" "))
        }
        _ => format!("put quotes round it: \"{all}\", or round each name: {}", each.join(" ")),
    };
    let finding =
        error(file, "name-unquoted", format!("quotes are missing round {all}"), range, "a name")
            .help(help)
            .why("names and quantities of yours stand in quotes, the words of the language don't");
    (soft(finding), stretch.len())
}

/// A backslash in quotes that stands for nothing.
fn escape(file: FileId, text: &str, range: &Range<usize>) -> Option<Slip> {
    let shown = words(text, range);
    let hidden = |sign: char| is_forbidden(sign) || sign == '\u{feff}';
    if let Some((at, sign)) = shown.char_indices().find(|(_, sign)| hidden(*sign)) {
        let start = range.start + at;
        let finding = error(
            file,
            "sign",
            "a sign that can't be seen stands in quotes".into(),
            start..start + sign.len_utf8(),
            "invisible",
        )
        .help("take it out: two names that look alike must be alike");
        return Some(Slip { finding, hard: true });
    }
    if shown.starts_with('#') {
        return None;
    }
    let mut signs = shown.char_indices();
    while let Some((at, sign)) = signs.next() {
        if sign != '\\' {
            continue;
        }
        let known = match signs.next() {
            Some((_, next)) => {
                matches!(next, 'n' | 'r' | 't' | '\\' | '"' | 'b' | 'f' | 's' | 'u')
                    || next.is_whitespace()
            }
            None => false,
        };
        if !known {
            let start = range.start + at;
            let finding = error(
                file,
                "sign",
                "a backslash in quotes has a meaning of its own".into(),
                start..start + 1,
                "backslash",
            )
            .help("write / or two backslashes");
            return Some(Slip { finding, hard: true });
        }
    }
    None
}
