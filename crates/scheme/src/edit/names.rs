//! Wire numbers, and the wires a leg hangs on.

use super::find::{at, quoted, taken_apart, word};
use super::{Change, Refused};
use crate::text::tree::{Item, Member, Node};

/// Gives a wire another number everywhere it stands in the text.
///
/// # Errors
/// The number stands nowhere, or the new one can't be one.
pub fn rename_wire(text: &str, old: &str, new: &str) -> Result<Vec<Change>, Refused> {
    let new = new.trim();
    if new.is_empty() || new.chars().count() > 40 {
        return Err("A wire number has one to forty letters or digits.".to_owned());
    }
    let tree = taken_apart(text);
    let mut changes = Vec::new();
    walk(&tree.items, &mut |node| {
        let which = word(text, node);
        for (index, piece) in entries(node).enumerate() {
            let (key, value) = piece;
            let is_wire = match (which, key.map(|key| text.get(key).unwrap_or_default())) {
                ("wire", None) => index == 0,
                ("leg" | "circuit", Some("from" | "to")) => true,
                ("jumper" | "chain", None) => true,
                _ => false,
            };
            if is_wire && unquoted(text, &value) == old {
                changes.push(Change::new(value.start, value.end, quoted(new)));
            }
        }
    });
    if changes.is_empty() {
        return Err(format!("The wire {old:?} is not named in this text."));
    }
    Ok(changes)
}

/// Hangs one end of a leg on another wire. `byte`: where the leg's name is written.
///
/// # Errors
/// There is no leg.
pub fn join_leg(
    text: &str,
    leg: usize,
    (from, to): (Option<&str>, Option<&str>),
    now: (&str, &str),
) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = super::find::holding(&tree, leg).or_else(|_| at(&tree, leg))?;
    let node = std::iter::once(place.node)
        .chain(place.around.iter().rev().copied())
        .find(|node| word(text, node) == "leg")
        .ok_or("There is no leg.")?;
    let written = |name: &str| {
        entries(node).find_map(|(key, value)| {
            (key.is_some_and(|key| text.get(key) == Some(name))).then_some(value)
        })
    };
    let mut changes = Vec::new();
    let mut missing = String::new();
    for (name, wanted, now) in [("from", from, now.0), ("to", to, now.1)] {
        match (written(name), wanted) {
            (Some(value), Some(wanted)) => {
                changes.push(Change::new(value.start, value.end, quoted(wanted)));
            }
            (Some(_), None) => {}
            // A leg says both ends or neither.
            (None, wanted) => {
                missing.push_str(&format!(" {name}={}", quoted(wanted.unwrap_or(now))));
            }
        }
    }
    if !missing.is_empty() {
        let behind = entries(node).map(|(_, value)| value.end).max().unwrap_or(node.name.end);
        changes.push(Change::new(behind, behind, missing));
    }
    Ok(changes)
}

type Entry = (Option<std::ops::Range<usize>>, std::ops::Range<usize>);

/// Arguments and properties of a statement, those left out not counted.
pub(super) fn entries(node: &Node) -> impl Iterator<Item = Entry> {
    node.pieces.iter().filter_map(|piece| match piece {
        Member::Entry(entry) if !entry.dashed => Some((entry.key.clone(), entry.value.clone())),
        _ => None,
    })
}

fn unquoted<'t>(text: &'t str, value: &std::ops::Range<usize>) -> &'t str {
    text.get(value.clone()).unwrap_or_default().trim_matches('"')
}

fn walk<'t>(items: &'t [Item], visit: &mut dyn FnMut(&'t Node)) {
    for item in items {
        let Item::Node(node) = item else { continue };
        if node.dashed {
            continue;
        }
        visit(node);
        if let Some(block) = node.block() {
            walk(&block.items, visit);
        }
    }
}
