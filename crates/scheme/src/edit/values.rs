//! Values: a property of a statement set to something else.

use super::find::{end, holding, indent, line_start, nodes, quoted, taken_apart, word};
use super::names::entries;
use super::{Change, Refused};
use crate::text::tree::{Block, Member, Node};
use std::ops::Range;

/// Sets a property of the statement that holds `byte` (a name in it, as a span of the model gives
/// it), or of the nearest statement round it that has the property. A property that is not written
/// yet is added to that statement itself.
///
/// # Errors
/// Nothing stands there.
pub fn set(text: &str, byte: usize, property: &str, value: &str) -> Result<Vec<Change>, Refused> {
    let tree = taken_apart(text);
    let place = holding(&tree, byte)?;
    for node in std::iter::once(place.node).chain(place.around.iter().rev().copied()) {
        if let Some(found) = value_of(text, node, property) {
            return Ok(vec![Change::new(found.start, found.end, quoted(value))]);
        }
        if let Some(change) = in_head(text, node, property, value) {
            return Ok(vec![change]);
        }
    }
    // A relay's time stands in its coil: the one statement inside that has it.
    let inner = place.node.block().into_iter().flat_map(nodes);
    let found: Vec<_> = inner.filter_map(|inner| value_of(text, inner, property)).collect();
    if let [only] = &found[..] {
        return Ok(vec![Change::new(only.start, only.end, quoted(value))]);
    }
    Ok(vec![added(text, place.node, property, value)])
}

/// Where the value of a property is written, in the line or in the braces.
fn value_of(text: &str, node: &Node, property: &str) -> Option<Range<usize>> {
    let in_line = entries(node).find_map(|(key, value)| {
        let key = key?;
        (text.get(key)? == property).then_some(value)
    });
    in_line.or_else(|| {
        let inner = nodes(node.block()?).find(|inner| word(text, inner) == property)?;
        entries(inner).find(|(key, _)| key.is_none()).map(|(_, value)| value)
    })
}

/// What a statement says without a property's name: the voltage of a supply, the rating of a fuse.
fn in_head(text: &str, node: &Node, property: &str, value: &str) -> Option<Change> {
    let index = match (word(text, node), property) {
        ("supply", "nominal") => 1,
        ("fuse" | "resistor" | "heater" | "capacitor" | "lamp", "rating") => 1,
        _ => return None,
    };
    let (_, found) = entries(node).filter(|(key, _)| key.is_none()).nth(index)?;
    Some(Change::new(found.start, found.end, quoted(value)))
}

fn added(text: &str, node: &Node, property: &str, value: &str) -> Change {
    let block = node.pieces.iter().find_map(|piece| match piece {
        Member::Block(block) if !block.dashed => Some(block),
        _ => None,
    });
    let Some(block) = block else {
        return Change::new(end(node), end(node), format!(" {property}={}", quoted(value)));
    };
    if block.one_line {
        let open = block.open.start;
        return Change::new(open, open, format!("{property}={} ", quoted(value)));
    }
    in_block(text, node, block, &format!("{property} {}", quoted(value)))
}

/// A line of its own at the end of a block.
fn in_block(text: &str, node: &Node, block: &Block, line: &str) -> Change {
    let close = block.end.saturating_sub(1);
    let at = line_start(text, close);
    let pad = indent(text, node.name.start).unwrap_or_default();
    Change::new(at, at, format!("{pad}    {line}\n"))
}
