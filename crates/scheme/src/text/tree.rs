//! The statements of a text with every comment in its place, and what can't stand as written.
//!
//! **In:** text. **Out:** a tree that the formatter can lay out, and findings; a text without
//! findings is a text that KDL reads, too.
//! **Never here:** the meaning of a word.

use super::lex::{Piece, Token, lex};
use super::slips;
use crate::finding::Finding;
use crate::source::FileId;
use std::ops::Range;

/// Something in a block, in written order.
#[derive(Debug, Clone)]
pub(crate) enum Item {
    /// One or more empty lines.
    Gap,
    /// A comment that no statement stands before in its line.
    Comment(Range<usize>),
    /// A statement.
    Node(Node),
}

/// A statement.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// Left out by `/-`.
    pub dashed: bool,
    /// Its word.
    pub name: Range<usize>,
    /// What follows, in order.
    pub pieces: Vec<Member>,
    /// Comments behind it in its last line.
    pub comments: Vec<Range<usize>>,
}

/// What follows a statement's word.
#[derive(Debug, Clone)]
pub(crate) enum Member {
    /// An argument or a property.
    Entry(Entry),
    /// A comment in the line.
    Comment(Range<usize>),
    /// A backslash that goes on in the next line, with its comment.
    Continue(Range<usize>),
    /// A block in braces.
    Block(Block),
}

/// An argument, or a property with its key.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    /// Left out by `/-`.
    pub dashed: bool,
    /// The property's name.
    pub key: Option<Range<usize>>,
    /// The value.
    pub value: Range<usize>,
}

/// A block in braces.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    /// Left out by `/-`.
    pub dashed: bool,
    /// Its opening brace.
    pub open: Range<usize>,
    /// Whether its closing brace was found.
    pub closed: bool,
    /// Its end, closing brace included.
    pub end: usize,
    /// Comments behind the opening brace, in its line.
    pub comments: Vec<Range<usize>>,
    /// What stands in it.
    pub items: Vec<Item>,
    /// Written in one line.
    pub one_line: bool,
}

impl Node {
    /// Its block, unless left out.
    pub fn block(&self) -> Option<&Block> {
        self.pieces.iter().find_map(|piece| match piece {
            Member::Block(block) if !block.dashed => Some(block),
            _ => None,
        })
    }
}

/// A text taken apart.
#[derive(Debug, Clone)]
pub(crate) struct Tree {
    /// What stands at the top.
    pub items: Vec<Item>,
    /// Closing braces that close nothing.
    pub extra: Vec<Range<usize>>,
    /// What can't stand as written.
    pub findings: Vec<Finding>,
    /// Whether KDL can't read it, either.
    pub hard: bool,
    /// What `/-` leaves out, in order.
    pub left_out: Vec<Range<usize>>,
}

/// Takes a text apart. Deeper blocks than `max_depth` are not entered; the caller has refused
/// such a text before.
pub(crate) fn tree(file: FileId, text: &str, max_depth: usize) -> Tree {
    let tokens = lex(text);
    let mut builder = Builder {
        file,
        text,
        tokens: &tokens,
        next: 0,
        findings: Vec::new(),
        hard: false,
        left_out: Vec::new(),
        max_depth,
    };
    let mut items = Vec::new();
    let mut extra = Vec::new();
    loop {
        items.append(&mut builder.items(0));
        match builder.take() {
            Some(close) => extra.push(close.range.clone()),
            None => break,
        }
    }
    Tree {
        items,
        extra,
        findings: builder.findings,
        hard: builder.hard,
        left_out: builder.left_out,
    }
}

struct Builder<'text> {
    file: FileId,
    text: &'text str,
    tokens: &'text [Token],
    next: usize,
    findings: Vec<Finding>,
    hard: bool,
    left_out: Vec<Range<usize>>,
    max_depth: usize,
}

impl<'text> Builder<'text> {
    fn peek(&self) -> Option<&'text Token> {
        self.tokens.get(self.next)
    }
    fn take(&mut self) -> Option<&'text Token> {
        let token = self.tokens.get(self.next);
        self.next += usize::from(token.is_some());
        token
    }
    fn report(&mut self, finding: Finding) {
        self.findings.push(finding);
        self.hard = true;
    }
    /// Notes that everything from a dash to here is left out.
    fn leave_out(&mut self, dash: Option<Range<usize>>) {
        let last = self.next.checked_sub(1).and_then(|at| self.tokens.get(at));
        if let (Some(dash), Some(last)) = (dash, last) {
            self.left_out.push(dash.start..last.range.end);
        }
    }
    fn words(&self, range: &Range<usize>) -> &'text str {
        self.text.get(range.clone()).unwrap_or_default()
    }

    /// Items up to a closing brace (left for the caller) or the end.
    fn items(&mut self, depth: usize) -> Vec<Item> {
        let mut items: Vec<Item> = Vec::new();
        let mut newlines = 0;
        let mut dashed = None;
        while let Some(token) = self.peek().filter(|token| token.piece != Piece::Close) {
            match token.piece {
                Piece::Space => self.next += 1,
                Piece::Semicolon => {
                    self.next += 1;
                    if let Some(range) = dashed.take() {
                        self.report(slips::dash_alone(self.file, range));
                    }
                }
                Piece::Continue => {
                    self.next += 1;
                    self.report(slips::stray(self.file, self.text, token));
                }
                Piece::Newline => {
                    self.next += 1;
                    newlines += 1;
                    if newlines > 1 && items.last().is_some_and(|last| !matches!(last, Item::Gap)) {
                        items.push(Item::Gap);
                    }
                }
                Piece::LineComment | Piece::BlockComment => {
                    self.next += 1;
                    let range = token.range.clone();
                    match items.last_mut() {
                        Some(Item::Node(node)) if newlines == 0 && dashed.is_none() => {
                            node.comments.push(range);
                        }
                        _ => items.push(Item::Comment(range)),
                    }
                    newlines = 0;
                }
                Piece::Dash => {
                    self.next += 1;
                    if dashed.is_some() {
                        self.report(slips::stray(self.file, self.text, token));
                    }
                    dashed = Some(token.range.clone());
                    newlines = 0;
                }
                _ => {
                    newlines = 0;
                    let dash = dashed.take();
                    if let Some(node) = self.node(dash.is_some(), depth) {
                        items.push(Item::Node(node));
                    }
                    self.leave_out(dash);
                }
            }
        }
        if let Some(range) = dashed {
            self.report(slips::dash_alone(self.file, range));
        }
        while matches!(items.last(), Some(Item::Gap)) {
            items.pop();
        }
        items
    }

    /// A statement; none if no word stands at its beginning.
    fn node(&mut self, dashed: bool, depth: usize) -> Option<Node> {
        let first = self.take()?;
        let mut known = matches!(first.piece, Piece::Word | Piece::Text);
        let wrong = if known {
            slips::name(self.file, self.text, first)
        } else {
            Some(slips::no_word(self.file, self.text, first))
        };
        if let Some(finding) = wrong {
            known = false;
            self.report(finding);
        }
        if first.piece == Piece::Open {
            self.next -= 1;
        }
        let mut node =
            Node { dashed, name: first.range.clone(), pieces: Vec::new(), comments: Vec::new() };
        let lost = self.members(&mut node, depth);
        if known && !lost {
            for slip in slips::arguments(self.file, self.text, &node) {
                self.hard |= slip.hard;
                self.findings.push(slip.finding);
            }
        }
        known.then_some(node)
    }

    /// Everything behind a statement's word; whether a quote is missing there.
    fn members(&mut self, node: &mut Node, depth: usize) -> bool {
        let mut lost = false;
        let mut spaced = false;
        let mut dashed: Option<Range<usize>> = None;
        let mut quiet = false;
        while let Some(token) = self.peek() {
            let range = token.range.clone();
            match token.piece {
                Piece::Newline | Piece::Semicolon | Piece::Close => break,
                Piece::LineComment => break,
                Piece::Space => self.next += 1,
                Piece::BlockComment => {
                    self.next += 1;
                    node.pieces.push(Member::Comment(range));
                }
                Piece::Continue => {
                    self.next += 1;
                    node.pieces.push(Member::Continue(range));
                }
                Piece::Dash => {
                    self.next += 1;
                    if dashed.is_some() && !quiet {
                        self.report(slips::stray(self.file, self.text, token));
                        quiet = true;
                    } else if !spaced && !quiet {
                        self.report(slips::no_space(self.file, self.text, range.clone()));
                        quiet = true;
                    }
                    dashed = Some(range);
                    spaced = true;
                    continue;
                }
                Piece::Open => {
                    let block = self.block(dashed.is_some(), depth);
                    if !block.dashed && node.block().is_some() && !quiet {
                        self.report(slips::second_block(self.file, &block.open));
                    }
                    node.pieces.push(Member::Block(block));
                    self.leave_out(dashed.take());
                }
                Piece::Word | Piece::Text => {
                    let entry = self.entry(dashed.is_some(), &mut quiet);
                    if !spaced && !quiet {
                        let at = entry.key.as_ref().unwrap_or(&entry.value).clone();
                        self.report(slips::no_space(self.file, self.text, at));
                        quiet = true;
                    }
                    if node.block().is_some() && !quiet {
                        let at = entry.key.as_ref().unwrap_or(&entry.value).clone();
                        self.report(slips::behind_block(self.file, self.text, at));
                        quiet = true;
                    }
                    if !quiet {
                        node.pieces.push(Member::Entry(entry));
                    }
                    self.leave_out(dashed.take());
                }
                Piece::Equals | Piece::Stray | Piece::OpenText | Piece::OpenComment => {
                    self.next += 1;
                    let open = matches!(token.piece, Piece::OpenText | Piece::OpenComment);
                    lost |= open;
                    if open || !quiet {
                        self.report(slips::stray(self.file, self.text, token));
                    }
                    // One sign out of place makes the rest of the line unreadable.
                    quiet = true;
                }
            }
            spaced = matches!(
                token.piece,
                Piece::Space | Piece::BlockComment | Piece::Continue | Piece::Open
            );
        }
        if dashed.is_some() && !quiet {
            let at = self.next.checked_sub(1).and_then(|at| self.tokens.get(at));
            if let Some(at) = at {
                self.report(slips::dash_alone(self.file, at.range.clone()));
            }
        }
        lost
    }

    /// A value, or a key with its value.
    fn entry(&mut self, dashed: bool, quiet: &mut bool) -> Entry {
        let first = self.take().map_or(0..0, |token| token.range.clone());
        let behind = self.next;
        let skip = |builder: &mut Self| {
            while builder.peek().is_some_and(|token| token.piece == Piece::Space) {
                builder.next += 1;
            }
        };
        skip(self);
        if self.peek().is_none_or(|token| token.piece != Piece::Equals) {
            self.next = behind;
            return Entry { dashed, key: None, value: first };
        }
        self.next += 1;
        skip(self);
        let following = self.tokens.get(self.next + 1..).unwrap_or_default();
        let another = following.iter().find(|token| token.piece != Piece::Space);
        let is_key = another.is_some_and(|token| token.piece == Piece::Equals);
        match self.peek() {
            Some(token) if matches!(token.piece, Piece::Word | Piece::Text) && !is_key => {
                self.next += 1;
                Entry { dashed, key: Some(first), value: token.range.clone() }
            }
            Some(token) if matches!(token.piece, Piece::OpenText | Piece::Stray) => {
                Entry { dashed, value: first.end..first.end, key: Some(first) }
            }
            _ => {
                if !*quiet {
                    let finding = slips::no_value(self.file, self.words(&first), first.clone());
                    self.report(finding);
                }
                *quiet = true;
                Entry { dashed, value: first.end..first.end, key: Some(first) }
            }
        }
    }

    fn block(&mut self, dashed: bool, depth: usize) -> Block {
        let open = self.take().map_or(0..0, |token| token.range.clone());
        let start = self.next;
        let mut block = Block {
            dashed,
            open,
            closed: false,
            end: 0,
            comments: Vec::new(),
            items: Vec::new(),
            one_line: false,
        };
        if depth >= self.max_depth {
            return block;
        }
        while let Some(token) = self.peek() {
            match token.piece {
                Piece::Space => self.next += 1,
                Piece::LineComment | Piece::BlockComment => {
                    self.next += 1;
                    block.comments.push(token.range.clone());
                }
                _ => break,
            }
        }
        block.items = self.items(depth + 1);
        let inside = self.tokens.get(start..self.next).unwrap_or_default();
        block.one_line = !inside.iter().any(|token| {
            matches!(token.piece, Piece::Newline | Piece::LineComment | Piece::Continue)
        });
        block.closed = self.peek().is_some();
        block.end = self.peek().map_or(self.text.len(), |close| close.range.end);
        self.next += usize::from(block.closed);
        block
    }
}

/// All comments of a text, in order, without spaces behind them.
pub(crate) fn comments(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for token in lex(text) {
        let written = text.get(token.range).unwrap_or_default();
        match token.piece {
            Piece::LineComment | Piece::BlockComment => found.push(written.trim_end().to_owned()),
            Piece::Continue => {
                let behind = written.trim_start_matches('\\').trim();
                if !behind.is_empty() {
                    found.push(behind.to_owned());
                }
            }
            _ => {}
        }
    }
    found
}
