//! Statements before anyone knows the names: NAME STATE joined by and, or, not, brackets.
//!
//! **In:** the text of a statement. **Out:** its tree, with the place of each phrase.
//! **Never here:** what a phrase means; the reader finds the one thing it can mean.

use super::Spelling;
use std::ops::Range;

/// Deepest brackets; no person reads more than three.
const MAX_BRACKETS: usize = 32;

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

impl Raw {
    /// All phrases in written order: their words and places.
    pub fn phrases(&self) -> Vec<(&str, Range<usize>)> {
        match self {
            Self::Phrase { text, range } => vec![(text, range.clone())],
            Self::Not(inner) => inner.phrases(),
            Self::All(items) | Self::Any(items) => items.iter().flat_map(Self::phrases).collect(),
        }
    }
}

/// A misspelt statement and where in it.
type Wrong = (Spelling, Range<usize>);

/// Takes a statement apart.
///
/// # Errors
/// What is wrong and where in `text`: nothing written, and mixed with or, a bracket without its
/// partner, a joining word with nothing behind it, a word twice.
pub fn statement(text: &str) -> Result<Raw, Wrong> {
    let tokens = tokens(text);
    for token in &tokens {
        sign_instead(token)?;
    }
    let mut parser = Parser { text, tokens: &tokens, next: 0, depth: 0 };
    let raw = parser.joined()?;
    match parser.peek() {
        None => Ok(raw),
        Some(token) => Err(token
            .wrong(Spelling::new("a bracket is closed that was never opened").help("take it out"))),
    }
}

/// The first word of `name` that a statement would take for its own: and, or, not, a bracket.
pub fn reserved_word(name: &str) -> Option<&str> {
    name.split_whitespace().find(|word| {
        word.contains(['(', ')'])
            || ["and", "or", "not"].iter().any(|own| word.eq_ignore_ascii_case(own))
    })
}

#[derive(Debug, Clone, PartialEq)]
struct Token<'text> {
    word: &'text str,
    range: Range<usize>,
}

impl Token<'_> {
    fn wrong(&self, spelling: Spelling) -> Wrong {
        (spelling, self.range.clone())
    }
    fn joins(&self) -> bool {
        matches!(self.word, "and" | "or")
    }
    fn is_own(&self) -> bool {
        matches!(self.word, "and" | "or" | "not" | "(" | ")")
    }
}

fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut out = Vec::new();
    let mut start = None;
    let ends = text.char_indices().chain([(text.len(), ' ')]);
    for (at, sign) in ends {
        let bracket = matches!(sign, '(' | ')');
        if bracket || sign.is_whitespace() {
            if let Some(from) = start.take() {
                push(&mut out, text, from..at);
            }
            if bracket {
                push(&mut out, text, at..at + 1);
            }
        } else if start.is_none() {
            start = Some(at);
        }
    }
    out
}

fn push<'text>(out: &mut Vec<Token<'text>>, text: &'text str, range: Range<usize>) {
    if let Some(word) = text.get(range.clone()).filter(|word| !word.trim().is_empty()) {
        out.push(Token { word, range });
    }
}

/// Signs and capitals that people write for and, or, not.
fn sign_instead(token: &Token<'_>) -> Result<(), Wrong> {
    let right = match token.word {
        "&" | "&&" | "+" | "AND" | "And" => "and",
        "|" | "||" | "OR" | "Or" => "or",
        "!" | "~" | "NOT" | "Not" => "not",
        "&|" | "=" | "==" | "!=" | "is" | "," | ";" => {
            return Err(token.wrong(
                Spelling::new(format!("\"{}\" does not belong in a statement", token.word))
                    .help("write NAME STATE, such as \"52 closed\", joined by and, or, not"),
            ));
        }
        _ => return Ok(()),
    };
    Err(token.wrong(
        Spelling::new(format!("\"{}\" is written \"{right}\"", token.word))
            .help(format!("write {right}")),
    ))
}

struct Parser<'text> {
    text: &'text str,
    tokens: &'text [Token<'text>],
    next: usize,
    depth: usize,
}

impl<'text> Parser<'text> {
    fn peek(&self) -> Option<&'text Token<'text>> {
        self.tokens.get(self.next)
    }
    fn take(&mut self) -> Option<&'text Token<'text>> {
        let token = self.peek();
        self.next += usize::from(token.is_some());
        token
    }
    fn before(&self) -> Option<&'text Token<'text>> {
        self.next.checked_sub(1).and_then(|at| self.tokens.get(at))
    }

    /// Terms joined by and alone, or by or alone.
    fn joined(&mut self) -> Result<Raw, Wrong> {
        let from = self.next;
        let mut items = vec![self.term()?];
        let mut joints: Vec<&Token<'_>> = Vec::new();
        let mut starts = vec![from];
        while let Some(joint) = self.peek().filter(|token| token.joins()) {
            self.next += 1;
            joints.push(joint);
            starts.push(self.next);
            items.push(self.term()?);
        }
        starts.push(self.next + 1);
        if let Some(token) = self.peek().filter(|token| token.word != ")") {
            return Err(token.wrong(
                Spelling::new(format!("\"and\" or \"or\" is missing before \"{}\"", token.word))
                    .help("join two phrases by and, or by or"),
            ));
        }
        let Some(first) = joints.first() else {
            return items.pop().ok_or_else(|| (nothing(), 0..self.text.len()));
        };
        if joints.iter().any(|joint| joint.word != first.word) {
            return Err(self.mixed(&joints, &starts));
        }
        Ok(if first.word == "and" { Raw::All(items) } else { Raw::Any(items) })
    }

    fn term(&mut self) -> Result<Raw, Wrong> {
        let Some(token) = self.peek() else { return Err(self.missing()) };
        match token.word {
            "not" => {
                self.next += 1;
                match self.peek() {
                    Some(again) if again.word == "not" => Err(again.wrong(
                        Spelling::new("\"not\" stands twice").help("leave both out, or one"),
                    )),
                    _ => Ok(Raw::Not(Box::new(self.term()?))),
                }
            }
            "(" => self.bracket(token),
            "and" | "or" | ")" => Err(self.missing()),
            _ => self.phrase(token),
        }
    }

    fn bracket(&mut self, open: &Token<'_>) -> Result<Raw, Wrong> {
        self.next += 1;
        self.depth += 1;
        if self.depth > MAX_BRACKETS {
            return Err(open.wrong(
                Spelling::new(format!("brackets are nested more than {MAX_BRACKETS} deep"))
                    .help("give a part of the statement a name: a line of logic"),
            ));
        }
        if let Some(close) = self.peek().filter(|token| token.word == ")") {
            return Err((
                Spelling::new("nothing stands between the brackets").help("take them out"),
                open.range.start..close.range.end,
            ));
        }
        let inner = self.joined()?;
        self.depth -= 1;
        match self.take() {
            Some(_) => Ok(inner),
            None => Err(open.wrong(
                Spelling::new("this bracket is never closed").help("write the missing \")\""),
            )),
        }
    }

    fn phrase(&mut self, first: &Token<'_>) -> Result<Raw, Wrong> {
        let mut words: Vec<&str> = Vec::new();
        let mut range = first.range.clone();
        while let Some(token) = self.peek().filter(|token| !token.is_own()) {
            if words.last() == Some(&token.word) {
                return Err(token.wrong(
                    Spelling::new(format!("\"{}\" stands twice", token.word)).help("take one out"),
                ));
            }
            words.push(token.word);
            range.end = token.range.end;
            self.next += 1;
        }
        if let Some(token) = self.peek().filter(|token| token.word == "not") {
            let mut rest: Vec<&str> = Vec::new();
            let behind = self.tokens.get(self.next + 1..).unwrap_or_default();
            rest.extend(behind.iter().take_while(|token| !token.is_own()).map(|token| token.word));
            return Err(token.wrong(
                Spelling::new("\"not\" stands inside a phrase")
                    .help(format!("put it in front: \"not {}\"", [words, rest].concat().join(" "))),
            ));
        }
        Ok(Raw::Phrase { text: words.join(" "), range })
    }

    /// Where a phrase must stand and none does.
    fn missing(&self) -> Wrong {
        let here = self.peek();
        let whole = 0..self.text.len();
        match (self.before(), here) {
            (None, None) => (nothing(), whole),
            (Some(before), Some(here)) if before.word == here.word && before.joins() => here.wrong(
                Spelling::new(format!("\"{}\" stands twice", here.word)).help("take one out"),
            ),
            (Some(before), None) if before.word == "(" => before.wrong(
                Spelling::new("this bracket is never closed").help("write the missing \")\""),
            ),
            (Some(before), _) => before.wrong(
                Spelling::new(format!("nothing follows \"{}\"", before.word))
                    .help(format!("write a phrase behind \"{}\", or take it out", before.word)),
            ),
            (None, Some(here)) if here.word == ")" => here.wrong(
                Spelling::new("a bracket is closed that was never opened").help("take it out"),
            ),
            (None, Some(here)) => here.wrong(
                Spelling::new(format!("nothing stands before \"{}\"", here.word))
                    .help(format!("write a phrase before \"{}\", or take it out", here.word)),
            ),
        }
    }

    /// And mixed with or: both readings, so that the writer can choose.
    fn mixed(&self, joints: &[&Token<'_>], starts: &[usize]) -> Wrong {
        let term = |index: usize| -> &str {
            let from = starts.get(index).and_then(|at| self.tokens.get(*at));
            let to = starts.get(index + 1).and_then(|at| self.tokens.get(at.saturating_sub(2)));
            match (from, to) {
                (Some(from), Some(to)) => {
                    self.text.get(from.range.start..to.range.end).unwrap_or_default()
                }
                _ => "",
            }
        };
        let bracketed = |inner: &str| {
            let mut groups: Vec<Vec<&str>> = vec![vec![term(0)]];
            for (index, joint) in joints.iter().enumerate() {
                match groups.last_mut() {
                    Some(group) if joint.word == inner => group.push(term(index + 1)),
                    _ => groups.push(vec![term(index + 1)]),
                }
            }
            let outer = if inner == "and" { " or " } else { " and " };
            let shown = groups.iter().map(|group| match group.as_slice() {
                [one] => (*one).to_owned(),
                many => format!("({})", many.join(&format!(" {inner} "))),
            });
            shown.collect::<Vec<_>>().join(outer)
        };
        let from = starts.first().and_then(|at| self.tokens.get(*at));
        let start = from.map_or(0, |token| token.range.start);
        let end = self.before().map_or(self.text.len(), |token| token.range.end);
        let spelling = Spelling::new("\"and\" is mixed with \"or\"")
            .help(format!("write \"{}\", or \"{}\"", bracketed("and"), bracketed("or")))
            .why("without brackets this can be read in two ways");
        (spelling, start..end)
    }
}

fn nothing() -> Spelling {
    Spelling::new("the statement is empty").help("write NAME STATE, such as \"52 closed\"")
}
