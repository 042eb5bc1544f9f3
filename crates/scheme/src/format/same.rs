//! Whether two texts mean the same.

use crate::text::is_property;
use kdl::{KdlDocument, KdlNode, KdlValue};

/// A statement with its properties in the order of their names, wherever they are written: in its
/// line, or as the first lines in its braces.
#[derive(Debug, PartialEq)]
struct Meaning<'doc> {
    word: &'doc str,
    arguments: Vec<&'doc KdlValue>,
    properties: Vec<(&'doc str, &'doc KdlValue)>,
    rest: Vec<Meaning<'doc>>,
}

/// Whether both documents say the same.
pub(super) fn same(one: &KdlDocument, other: &KdlDocument) -> bool {
    meanings(one.nodes()) == meanings(other.nodes())
}

fn meanings(nodes: &[KdlNode]) -> Vec<Meaning<'_>> {
    nodes.iter().map(meaning).collect()
}

fn meaning(node: &KdlNode) -> Meaning<'_> {
    let (mut arguments, mut properties) = (Vec::new(), Vec::new());
    for entry in node.entries() {
        match entry.name() {
            Some(name) => properties.push((name.value(), entry.value())),
            None => arguments.push(entry.value()),
        }
    }
    let children = node.children().map_or(&[][..], KdlDocument::nodes);
    let lines = children.iter().take_while(|child| line(child).is_some()).count();
    let (first, rest) = children.split_at_checked(lines).unwrap_or((&[], children));
    properties.extend(first.iter().filter_map(line));
    properties.sort_by_key(|(name, _)| *name);
    Meaning { word: node.name().value(), arguments, properties, rest: meanings(rest) }
}

/// A property that stands alone in braces.
fn line(node: &KdlNode) -> Option<(&str, &KdlValue)> {
    match node.entries() {
        [entry] if entry.name().is_none() && node.children().is_none() => {
            is_property(node.name().value()).then(|| (node.name().value(), entry.value()))
        }
        _ => None,
    }
}
