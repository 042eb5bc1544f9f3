//! Which brace is missing: KDL only sees it at the end of the file, the words see it earlier.

use super::place::span;
use super::tree::{Item, Member, Node, Tree};
use super::vocabulary;
use crate::finding::Finding;
use crate::source::FileId;
use std::ops::Range;

/// A statement that can't stand where it stands.
struct Misplaced<'tree> {
    node: &'tree Node,
    /// The statements it stands in, outermost first.
    within: Vec<&'tree Node>,
    /// The statement before it in the same block.
    before: Option<&'tree Node>,
}

/// What is wrong with the braces of a text; nothing if they pair.
pub(super) fn braces(file: FileId, text: &str, tree: &Tree) -> Vec<Finding> {
    let open = innermost_open(&tree.items);
    if open.is_none() && tree.extra.is_empty() {
        return Vec::new();
    }
    let head = |node: &Node| head(text, node);
    let word = |node: &Node| text.get(node.name.clone()).unwrap_or_default();
    let misplaced = first_misplaced(text, &tree.items, &mut Vec::new());
    match (open, misplaced) {
        (Some(open), Some(found)) => {
            let holder = found.within.last().copied().unwrap_or(open);
            vec![
                Finding::error(
                    "brace-missing",
                    format!("The closing brace of {} is missing.", head(holder)),
                )
                .at(
                    span(file, found.node.name.clone()),
                    format!("{} can't stand in {}", word(found.node), word(holder)),
                )
                .and_at(span(file, holder.name.clone()), "opened here")
                .help("write } before this line"),
            ]
        }
        (Some(open), None) => vec![
            Finding::error(
                "brace-missing",
                format!("The closing brace of {} is missing.", head(open)),
            )
            .at(span(file, open.name.clone()), "opened here, never closed")
            .help("write } behind its last line"),
        ],
        (None, Some(Misplaced { node, before: Some(before), .. }))
            if before.block().is_none() && vocabulary::may_hold(word(before), word(node)) =>
        {
            vec![
                Finding::error(
                    "brace-missing",
                    format!("The opening brace of {} is missing.", head(before)),
                )
                .at(span(file, before.name.clone()), "no brace at the end of this line")
                .and_at(span(file, node.name.clone()), format!("{} belongs inside", word(node)))
                .help(format!("write {} {{", head(before))),
            ]
        }
        // What follows the first is its consequence.
        (None, _) => tree.extra.first().map(|range| extra(file, range)).into_iter().collect(),
    }
}

fn extra(file: FileId, range: &Range<usize>) -> Finding {
    Finding::error("brace-extra", "This brace closes nothing.")
        .at(span(file, range.clone()), "nothing is open here")
        .help("take it out, or find the block that was closed too early")
}

/// "relay "52Y"": the word and the first name.
fn head(text: &str, node: &Node) -> String {
    let word = text.get(node.name.clone()).unwrap_or_default();
    let name = node.pieces.iter().find_map(|piece| match piece {
        Member::Entry(entry) if entry.key.is_none() => text.get(entry.value.clone()),
        _ => None,
    });
    name.map_or_else(|| word.to_owned(), |name| format!("{word} {name}"))
}

fn nodes(items: &[Item]) -> impl Iterator<Item = &Node> {
    items.iter().filter_map(|item| match item {
        Item::Node(node) => Some(node),
        _ => None,
    })
}

/// The innermost statement whose braces are never closed.
fn innermost_open(items: &[Item]) -> Option<&Node> {
    let last = nodes(items).last()?;
    let block = last.pieces.iter().find_map(|piece| match piece {
        Member::Block(block) if !block.closed => Some(block),
        _ => None,
    })?;
    innermost_open(&block.items).or(Some(last))
}

fn first_misplaced<'tree>(
    text: &str,
    items: &'tree [Item],
    within: &mut Vec<&'tree Node>,
) -> Option<Misplaced<'tree>> {
    let mut before = None;
    let parent = within.last().and_then(|node| text.get(node.name.clone()));
    for node in nodes(items) {
        let word = text.get(node.name.clone()).unwrap_or_default();
        let alone = matches!(node.pieces.as_slice(), [Member::Entry(entry)] if entry.key.is_none());
        if vocabulary::is_misplaced(word, parent, alone) {
            return Some(Misplaced { node, within: within.clone(), before });
        }
        if let Some(block) = node.block() {
            within.push(node);
            let found = first_misplaced(text, &block.items, within);
            if found.is_some() {
                return found;
            }
            within.pop();
        }
        before = Some(node);
    }
    None
}
