//! The statement that stands at a place, and what it stands in.

use super::Refused;
use crate::arena::Id;
use crate::source::FileId;
use crate::text::MAX_DEPTH;
use crate::text::tree::{Block, Item, Member, Node, Tree, tree};

/// A statement with all it stands in, the outermost first.
#[derive(Debug)]
pub(super) struct Place<'t> {
    /// The statement.
    pub node: &'t Node,
    /// The statements round it, the nearest last.
    pub around: Vec<&'t Node>,
}

impl<'t> Place<'t> {
    /// The statement it stands in.
    pub fn parent(&self) -> Option<&'t Node> {
        self.around.last().copied()
    }
    /// The statement it stands in as a place of its own.
    pub fn up(&self) -> Option<Place<'t>> {
        let (node, around) = self.around.split_last()?;
        Some(Place { node, around: around.to_vec() })
    }
}

/// Takes a text apart.
pub(super) fn taken_apart(text: &str) -> Tree {
    tree(FileId::from_index(0), text, MAX_DEPTH)
}

/// The statement whose word stands at a byte.
pub(super) fn at<'t>(tree: &'t Tree, byte: usize) -> Result<Place<'t>, Refused> {
    let mut around = Vec::new();
    let node = inside(&tree.items, byte, &mut around);
    node.map(|node| Place { node, around })
        .ok_or_else(|| "Nothing stands there in the text that could be changed.".to_owned())
}

fn inside<'t>(items: &'t [Item], byte: usize, around: &mut Vec<&'t Node>) -> Option<&'t Node> {
    for item in items {
        let Item::Node(node) = item else { continue };
        if node.name.start == byte {
            return Some(node);
        }
        if byte < node.name.start || byte >= end(node) {
            continue;
        }
        around.push(node);
        let found = node.block().and_then(|block| inside(&block.items, byte, around));
        if found.is_some() {
            return found;
        }
        around.pop();
    }
    None
}

/// The statement that holds a byte anywhere, the innermost.
pub(super) fn holding<'t>(tree: &'t Tree, byte: usize) -> Result<Place<'t>, Refused> {
    let mut around: Vec<&Node> = Vec::new();
    let mut items = &tree.items;
    loop {
        let next = items.iter().find_map(|item| match item {
            Item::Node(node) if node.name.start <= byte && byte < end(node) => Some(node),
            _ => None,
        });
        let Some(node) = next else { break };
        around.push(node);
        match node.block() {
            Some(block) => items = &block.items,
            None => break,
        }
    }
    let node = around.pop();
    node.map(|node| Place { node, around })
        .ok_or_else(|| "Nothing stands there in the text that could be changed.".to_owned())
}

/// One past the last byte of a statement, without what stands behind it in the line.
pub(super) fn end(node: &Node) -> usize {
    let ends = node.pieces.iter().map(|piece| match piece {
        Member::Entry(entry) => entry.value.end,
        Member::Comment(range) | Member::Continue(range) => range.end,
        Member::Block(block) => block.end,
    });
    ends.max().unwrap_or(node.name.end).max(node.name.end)
}

/// The statements of a block, those left out by a dash not counted.
pub(super) fn nodes(block: &Block) -> impl Iterator<Item = &Node> {
    block.items.iter().filter_map(|item| match item {
        Item::Node(node) if !node.dashed => Some(node),
        _ => None,
    })
}

/// The beginning of the line a byte stands in.
pub(super) fn line_start(text: &str, byte: usize) -> usize {
    text.get(..byte).and_then(|before| before.rfind('\n')).map_or(0, |newline| newline + 1)
}

/// The end of the line a byte stands in, its line end not included.
pub(super) fn line_end(text: &str, byte: usize) -> usize {
    text.get(byte..).and_then(|after| after.find('\n')).map_or(text.len(), |at| byte + at)
}

/// What stands before a byte in its line, if it is nothing but space.
pub(super) fn indent(text: &str, byte: usize) -> Option<&str> {
    let before = text.get(line_start(text, byte)..byte)?;
    before.chars().all(char::is_whitespace).then_some(before)
}

/// The written text of a statement.
pub(super) fn written<'t>(text: &'t str, node: &Node) -> &'t str {
    text.get(node.name.start..end(node)).unwrap_or_default()
}

/// The word a statement begins with.
pub(super) fn word<'t>(text: &'t str, node: &Node) -> &'t str {
    text.get(node.name.clone()).unwrap_or_default()
}

/// A name or quantity as it stands in a text, in quotes.
pub(super) fn quoted(words: &str) -> String {
    let mut out = String::from("\"");
    for letter in words.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' | '\r' | '\t' => out.push(' '),
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}
