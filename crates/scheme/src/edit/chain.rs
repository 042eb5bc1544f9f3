//! Parts of a leg: put in, replaced, taken out, swapped; a wire number between two of them.

use super::find::{
    Place, at, end, indent, line_end, line_start, nodes, quoted, taken_apart, word, written,
};
use super::{Change, Refused};
use crate::text::tree::{Block, Item, Node};

/// On which side of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Nearer to plus.
    Before,
    /// Nearer to minus.
    After,
}

/// Puts a line in series with the part whose line begins at `byte`.
///
/// # Errors
/// Nothing stands there, or it stands in a pattern.
pub fn put_in(text: &str, byte: usize, line: &str, side: Side) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = in_chain(text, at(&tree, byte)?)?;
    let node = place.node;
    let in_parallel = place.parent().is_some_and(|parent| word(text, parent) == "parallel");
    if in_parallel {
        // A line of a parallel is a way of its own: two parts on it need a branch.
        let own = written(text, node);
        if own.contains('\n') {
            let inner = deeper(own);
            let pad = pad_of(text, node);
            let step = format!("{pad}    ");
            let (first, second) = ordered(line, &inner, side);
            let branch = format!("branch {{\n{step}{first}\n{step}{second}\n{pad}}}");
            return Ok(vec![Change::new(node.name.start, end(node), branch)]);
        }
        let (first, second) = ordered(line, own, side);
        let branch = format!("branch {{ {first}; {second} }}");
        return Ok(vec![Change::new(node.name.start, end(node), branch)]);
    }
    Ok(vec![beside_line(text, &place, line, side)])
}

/// A new statement before or after another in the same block.
fn beside_line(text: &str, place: &Place<'_>, line: &str, side: Side) -> Change {
    let node = place.node;
    match (side, indent(text, node.name.start), last_of_line(text, place)) {
        (Side::Before, Some(pad), _) => {
            let start = line_start(text, node.name.start);
            Change::new(start, start, format!("{pad}{line}\n"))
        }
        (Side::Before, None, _) => {
            Change::new(node.name.start, node.name.start, format!("{line}; "))
        }
        (Side::After, Some(pad), true) => {
            let at = line_end(text, end(node));
            Change::new(at, at, format!("\n{pad}{line}"))
        }
        (Side::After, _, _) => Change::new(end(node), end(node), format!("; {line}")),
    }
}

/// Whether nothing but comments follows a statement in its line.
fn last_of_line(text: &str, place: &Place<'_>) -> bool {
    let rest = text.get(end(place.node)..line_end(text, end(place.node))).unwrap_or_default();
    let rest = rest.trim();
    rest.is_empty() || rest.starts_with("//")
}

/// Puts a line beside the part whose line begins at `byte`: a way in parallel with it.
///
/// # Errors
/// As [`put_in`].
pub fn put_beside(text: &str, byte: usize, line: &str) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = in_chain(text, at(&tree, byte)?)?;
    let node = place.node;
    if place.parent().is_some_and(|parent| word(text, parent) == "parallel") {
        return Ok(vec![beside_line(text, &place, line, Side::After)]);
    }
    let own = written(text, node);
    if own.contains('\n') {
        let pad = pad_of(text, node);
        let step = format!("{pad}    ");
        let inner = deeper(own);
        let ways = format!("parallel {{\n{step}{inner}\n{step}{line}\n{pad}}}");
        return Ok(vec![Change::new(node.name.start, end(node), ways)]);
    }
    let ways = format!("parallel {{ {own}; {line} }}");
    Ok(vec![Change::new(node.name.start, end(node), ways)])
}

/// Another line instead of the part whose line begins at `byte`.
///
/// # Errors
/// As [`put_in`].
pub fn replace(text: &str, byte: usize, line: &str) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = in_chain(text, at(&tree, byte)?)?;
    Ok(vec![Change::new(place.node.name.start, end(place.node), line)])
}

/// Takes out the part whose line begins at `byte`. A way or a branch that holds one thing only
/// afterwards is written without its braces.
///
/// # Errors
/// As [`put_in`], or it is the only thing there.
pub fn take_out(text: &str, byte: usize) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = in_chain(text, at(&tree, byte)?)?;
    let parent = place.parent().ok_or("It stands in no leg.")?;
    let block = parent.block().ok_or("It stands in no leg.")?;
    let mut others: Vec<&Node> =
        nodes(block).filter(|other| other.name != place.node.name).collect();
    let around = word(text, parent);
    let bare = around == "branch" || around == "parallel";
    if others.is_empty() {
        if let (true, Some(up)) = (bare, place.up()) {
            return take_out(text, up.node.name.start);
        }
        return Err("It is the only thing there: take the whole leg out of the text.".to_owned());
    }
    if let (true, [only], false) = (bare, &others[..], has_comments(block)) {
        let kept = if around == "parallel" && word(text, only) == "branch" {
            // The only way left is no branch any more: its lines follow one another.
            let inner = only.block().filter(|inner| !has_comments(inner));
            inner.map(|inner| lines_of(text, inner, parent))
        } else {
            Some(shallower(written(text, only), text, only, parent))
        };
        if let Some(kept) = kept {
            return Ok(vec![Change::new(parent.name.start, end(parent), kept)]);
        }
    }
    others.sort_by_key(|other| other.name.start);
    Ok(vec![without(text, place.node, &others)])
}

/// The lines of a block, one after the other in the place of `instead_of`.
fn lines_of(text: &str, block: &Block, instead_of: &Node) -> String {
    let lines: Vec<&str> = nodes(block).map(|node| written(text, node)).collect();
    match indent(text, instead_of.name.start) {
        Some(pad) => lines.join(&format!("\n{pad}")),
        None => lines.join("; "),
    }
}

fn has_comments(block: &Block) -> bool {
    !block.comments.is_empty()
        || block.items.iter().any(|item| match item {
            Item::Comment(_) => true,
            Item::Node(node) => node.dashed || !node.comments.is_empty(),
            Item::Gap => false,
        })
}

/// A statement removed with what parts it from its neighbours; comments stay.
fn without(text: &str, node: &Node, others: &[&Node]) -> Change {
    let (start, stop) = (node.name.start, end(node));
    let alone_before = indent(text, start).is_some();
    let rest = text.get(stop..line_end(text, stop)).unwrap_or_default();
    if alone_before && rest.trim().is_empty() {
        let line = line_start(text, start);
        let next = (line_end(text, stop) + 1).min(text.len());
        return Change::new(line, next, "");
    }
    if alone_before && rest.trim_start().starts_with("//") {
        // Its comment keeps the line.
        let spaces = rest.len() - rest.trim_start().len();
        return Change::new(start, stop + spaces, "");
    }
    // In one line with others: the semicolon towards the next goes, or that from the one before.
    let between = |from: usize, to: usize| text.get(from..to).unwrap_or_default();
    if let Some(next) = others.iter().find(|other| other.name.start >= stop)
        && is_parting(between(stop, next.name.start))
    {
        return Change::new(start, next.name.start, "");
    }
    if let Some(before) = others.iter().rev().find(|other| end(other) <= start)
        && is_parting(between(end(before), start))
    {
        return Change::new(end(before), stop, "");
    }
    Change::new(start, stop, "")
}

fn is_parting(between: &str) -> bool {
    !between.contains('\n') && between.chars().all(|it| it == ';' || it.is_whitespace())
}

/// Two parts change places.
///
/// # Errors
/// As [`put_in`], or one stands inside the other.
pub fn swap(text: &str, one: usize, other: usize) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let one = in_chain(text, at(&tree, one)?)?;
    let other = in_chain(text, at(&tree, other)?)?;
    let (a, b) = (one.node, other.node);
    if a.name == b.name {
        return Err("A part can't change places with itself.".to_owned());
    }
    if a.name.start < end(b) && b.name.start < end(a) {
        return Err("One stands inside the other.".to_owned());
    }
    Ok(vec![
        Change::new(a.name.start, end(a), written(text, b)),
        Change::new(b.name.start, end(b), written(text, a)),
    ])
}

/// Names the wire before or after the part whose line begins at `byte`.
///
/// # Errors
/// As [`put_in`].
pub fn name_wire(text: &str, byte: usize, name: &str, side: Side) -> Result<Vec<Change>, Refused> {
    put_in(text, byte, &format!("wire {}", quoted(name)), side)
}

/// Only what stands in a leg, a feed or a return, and in no pattern.
fn in_chain<'t>(text: &str, place: Place<'t>) -> Result<Place<'t>, Refused> {
    let is = |name: &str| place.around.iter().any(|node| word(text, node) == name);
    if is("pattern") {
        return Err("This comes from a pattern: change the pattern in the text.".to_owned());
    }
    let chain = ["leg", "feed", "return"].into_iter().any(is);
    if chain { Ok(place) } else { Err("It stands in no leg.".to_owned()) }
}

fn ordered<'a>(line: &'a str, own: &'a str, side: Side) -> (&'a str, &'a str) {
    match side {
        Side::Before => (line, own),
        Side::After => (own, line),
    }
}

/// What stands before a statement in its line, as spaces.
fn pad_of(text: &str, node: &Node) -> String {
    let start = line_start(text, node.name.start);
    let before = text.get(start..node.name.start).unwrap_or_default();
    before.chars().take_while(|it| it.is_whitespace()).collect()
}

/// Lines after the first one level deeper.
fn deeper(written: &str) -> String {
    written.replace('\n', "\n    ")
}

/// Lines after the first as deep as where they come to stand.
fn shallower(written: &str, text: &str, node: &Node, instead_of: &Node) -> String {
    let own = pad_of(text, node);
    let there = pad_of(text, instead_of);
    let Some(more) = own.strip_prefix(there.as_str()).filter(|more| !more.is_empty()) else {
        return written.to_owned();
    };
    written.replace(&format!("\n{there}{more}"), &format!("\n{there}"))
}
