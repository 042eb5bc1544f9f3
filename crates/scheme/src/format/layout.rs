//! Statements into lines.

use super::lines::{Line, width};
use crate::text::is_property;
use crate::text::lex::is_newline;
use crate::text::tree::{Block, Entry, Item, Member, Node};
use std::ops::Range;

/// Characters a line may have; comments behind it don't count.
const WIDTH: usize = 100;
const STEP: &str = "    ";
/// Properties that stay with the name when the others get lines of their own.
const STAY: &[&str] = &[
    "place",
    "kind",
    "type",
    "supply",
    "circuit",
    "from",
    "to",
    "drives-to",
    "closed-when",
    "when",
];
/// Statements whose properties are the user's own names, or belong to the head: never in braces.
const WHOLE: &[&str] = &["terminals", "apply", "leg", "core", "circuit", "revision"];

/// All lines of a text.
pub(super) fn lines(text: &str, items: &[Item]) -> Vec<Line> {
    let mut writer = Writer { text, lines: Vec::new() };
    writer.items(items, 0);
    writer.lines
}

struct Writer<'text> {
    text: &'text str,
    lines: Vec<Line>,
}

impl<'text> Writer<'text> {
    fn words(&self, range: &Range<usize>) -> &'text str {
        self.text.get(range.clone()).unwrap_or_default().trim_end()
    }
    fn push(&mut self, code: String) {
        self.lines.push(Line { code, tail: Vec::new() });
    }

    fn items(&mut self, items: &[Item], depth: usize) {
        for (at, item) in items.iter().enumerate() {
            match item {
                Item::Gap if at > 0 => self.push(String::new()),
                Item::Gap => {}
                Item::Comment(range) => self.push(indent(depth) + self.words(range)),
                Item::Node(node) => self.node(node, depth),
            }
        }
    }

    fn node(&mut self, node: &Node, depth: usize) {
        let (pieces, behind) = tail(node);
        let head = indent(depth) + self.first(node).as_str();
        match self.inline(pieces) {
            Some(inline) if width(&head) + width(&inline) <= WIDTH => self.push(head + &inline),
            _ => self.several(node, head, pieces, depth),
        }
        let tail: Vec<String> = behind.map(|range| self.words(&range).to_owned()).collect();
        if let Some(last) = self.lines.last_mut() {
            last.tail.extend(tail);
        }
    }

    fn first(&self, node: &Node) -> String {
        let dash = if node.dashed { "/-" } else { "" };
        format!("{dash}{}", self.words(&node.name))
    }

    fn entry(&self, entry: &Entry) -> String {
        let dash = if entry.dashed { "/-" } else { "" };
        let value = self.words(&entry.value);
        match &entry.key {
            Some(key) => format!("{dash}{}={value}", self.words(key)),
            None => format!("{dash}{value}"),
        }
    }

    /// Everything behind a statement's word in one line, if it may stand there.
    fn inline(&self, pieces: &[Member]) -> Option<String> {
        let mut out = String::new();
        for piece in pieces {
            let shown = match piece {
                Member::Entry(entry) => self.entry(entry),
                Member::Comment(range) => self.words(range).to_owned(),
                Member::Continue(range) => {
                    if self.comment_of(range).is_some() {
                        return None;
                    }
                    continue;
                }
                Member::Block(block) => self.inline_block(block)?,
            };
            out.push(' ');
            out.push_str(&shown);
        }
        (!out.contains(is_newline)).then_some(out)
    }

    fn inline_block(&self, block: &Block) -> Option<String> {
        let dash = if block.dashed { "/-" } else { "" };
        if !block.one_line {
            return None;
        }
        let mut shown: Vec<String> = Vec::new();
        for item in &block.items {
            match item {
                Item::Gap => {}
                Item::Comment(_) => return None,
                Item::Node(node) => {
                    let (pieces, behind) = tail(node);
                    let mut one = self.first(node) + &self.inline(pieces)?;
                    for range in behind {
                        one = format!("{one} {}", self.words(&range));
                    }
                    shown.push(one);
                }
            }
        }
        let comments: Vec<&str> = block.comments.iter().map(|range| self.words(range)).collect();
        let comments = comments.join(" ");
        Some(match (comments.is_empty(), shown.is_empty()) {
            (true, true) => format!("{dash}{{}}"),
            (true, false) => format!("{dash}{{ {} }}", shown.join("; ")),
            (false, true) => format!("{dash}{{ {comments} }}"),
            (false, false) => format!("{dash}{{ {comments} {} }}", shown.join("; ")),
        })
    }

    /// A statement that needs more than one line.
    fn several(&mut self, node: &Node, head: String, pieces: &[Member], depth: usize) {
        let moved = self.moved(node, &head, pieces);
        let is_moved = |entry: &Entry| moved.iter().any(|one| one.value == entry.value);
        let mut code = head;
        let mut blocks = 0;
        for piece in pieces {
            match piece {
                Member::Entry(entry) if is_moved(entry) => {}
                Member::Entry(entry) => code = self.add(code, &self.entry(entry), depth),
                Member::Comment(range) => code = self.add(code, self.words(range), depth),
                Member::Continue(range) => {
                    if let Some(comment) = self.comment_of(range) {
                        self.push(format!("{code} \\ {comment}"));
                        code = indent(depth + 1);
                    }
                }
                Member::Block(block) => {
                    let lines = if block.dashed { &[][..] } else { &moved[..] };
                    blocks += usize::from(!block.dashed);
                    code = self.block(code, block, lines, depth);
                }
            }
        }
        if blocks == 0 && !moved.is_empty() {
            self.push(code + " {");
            self.properties(&moved, depth);
            code = indent(depth) + "}";
        }
        self.push(code);
    }

    /// Writes a block behind `code`; what comes back is the line with its closing brace.
    fn block(&mut self, code: String, block: &Block, moved: &[&Entry], depth: usize) -> String {
        let dash = if block.dashed { "/-" } else { "" };
        if moved.is_empty()
            && let Some(inline) = self.inline_block(block)
            && width(&code) + 1 + width(&inline) <= WIDTH
        {
            return format!("{code} {inline}");
        }
        let tail = block.comments.iter().map(|range| self.words(range).to_owned()).collect();
        let open = if code.trim().is_empty() {
            format!("{code}{dash}{{")
        } else {
            format!("{code} {dash}{{")
        };
        self.lines.push(Line { code: open, tail });
        self.properties(moved, depth);
        self.items(&block.items, depth + 1);
        indent(depth) + "}"
    }

    fn properties(&mut self, moved: &[&Entry], depth: usize) {
        for entry in moved {
            let key = entry.key.as_ref().map_or("", |key| self.words(key));
            self.push(format!("{}{key} {}", indent(depth + 1), self.words(&entry.value)));
        }
    }

    /// The properties that get lines of their own, because the statement's own line is too long.
    fn moved<'node>(&self, node: &Node, head: &str, pieces: &'node [Member]) -> Vec<&'node Entry> {
        let entries: Vec<&Entry> = pieces
            .iter()
            .filter_map(|piece| match piece {
                Member::Entry(entry) => Some(entry),
                _ => None,
            })
            .collect();
        let only_entries = pieces.iter().all(|piece| {
            matches!(piece, Member::Entry(_) | Member::Block(Block { dashed: false, .. }))
        });
        let plain =
            entries.iter().all(|entry| !entry.dashed && !self.entry(entry).contains(is_newline));
        let brace = if node.block().is_some() { 2 } else { 0 };
        let length = |kept: &dyn Fn(&Entry) -> bool| {
            let kept = entries.iter().filter(|entry| kept(entry));
            width(head) + kept.map(|entry| width(&self.entry(entry)) + 1).sum::<usize>()
        };
        let word = self.words(&node.name);
        if !only_entries || !plain || WHOLE.contains(&word) || length(&|_| true) + brace <= WIDTH {
            return Vec::new();
        }
        let key = |entry: &Entry| entry.key.as_ref().map_or("", |key| self.words(key));
        let movable = |entry: &Entry| is_property(key(entry));
        let stays = |entry: &Entry| !movable(entry) || STAY.contains(&key(entry));
        if length(&stays) + 2 <= WIDTH {
            entries.iter().copied().filter(|entry| !stays(entry)).collect()
        } else {
            entries.iter().copied().filter(|entry| movable(entry)).collect()
        }
    }

    /// Adds a word to a line, or goes on in the next line if it is full.
    fn add(&mut self, code: String, shown: &str, depth: usize) -> String {
        if code.trim().is_empty() {
            return code + shown;
        }
        // A backslash and an opening brace need two characters each.
        let first = shown.split(is_newline).next().unwrap_or(shown);
        if width(&code) + 1 + width(first) + 2 <= WIDTH || width(&code) <= STEP.len() * (depth + 1)
        {
            return format!("{code} {shown}");
        }
        self.push(code + " \\");
        indent(depth + 1) + shown
    }

    /// The comment behind a backslash.
    fn comment_of(&self, range: &Range<usize>) -> Option<&'text str> {
        let comment = self.words(range).trim_start_matches('\\').trim();
        (!comment.is_empty()).then_some(comment)
    }
}

/// What stands behind a statement's word, without the comments at its end; and those.
fn tail(node: &Node) -> (&[Member], impl Iterator<Item = Range<usize>>) {
    let comment = |piece: &Member| matches!(piece, Member::Comment(_));
    let end = node.pieces.iter().rposition(|piece| !comment(piece)).map_or(0, |last| last + 1);
    let (pieces, behind) = node.pieces.split_at_checked(end).unwrap_or((&node.pieces, &[]));
    let behind = behind.iter().filter_map(|piece| match piece {
        Member::Comment(range) => Some(range.clone()),
        _ => None,
    });
    (pieces, behind.chain(node.comments.iter().cloned()))
}

fn indent(depth: usize) -> String {
    STEP.repeat(depth)
}
