//! What a person calls a point of the circuit.

use fiftytwo_scheme::{Core, NodeId, PartKind, Scheme};
use std::collections::BTreeMap;

/// The wire's number; without one, what it lies between: "between 52 a2 and 52 trip 1".
pub fn wire_name(scheme: &Scheme, node: NodeId) -> String {
    if let Some(wire) = &scheme.nodes[node].wire {
        return wire.clone();
    }
    let mut above = None;
    let mut below = None;
    for (_, part) in scheme.placed() {
        let Some(at) = part.at else { continue };
        if at.to == node && above.is_none() {
            above = Some(part.name.as_str());
        }
        if at.from == node && below.is_none() {
            below = Some(part.name.as_str());
        }
    }
    match (above, below) {
        (Some(above), Some(below)) => format!("between {above} and {below}"),
        (Some(one), None) => format!("below {one}"),
        (None, Some(one)) => format!("above {one}"),
        (None, None) => "an unused wire".to_owned(),
    }
}

/// The screws and terminals of a point, as written on a strip: "TB3-7", "52:13".
pub fn screws(scheme: &Scheme, node: NodeId) -> Vec<String> {
    let mut screws = Vec::new();
    for (_, part) in scheme.placed() {
        let Some(at) = part.at else { continue };
        if at.from != node && at.to != node {
            continue;
        }
        if matches!(part.kind, PartKind::Terminal) {
            screws.push(part.name.clone());
            continue;
        }
        if let PartKind::Core(core) = &part.kind {
            screws.extend(landed(scheme, node, core, (at.from, at.to)));
            continue;
        }
        let Some((upper, lower)) = &part.terminals else { continue };
        let owner = part.device.map_or(&part.name, |device| &scheme.devices[device].name);
        if at.from == node {
            screws.push(format!("{owner}:{upper}"));
        }
        if at.to == node {
            screws.push(format!("{owner}:{lower}"));
        }
    }
    screws
}

/// The terminals of a cable on which its cores land at a wire.
fn landed(scheme: &Scheme, node: NodeId, core: &Core, (from, to): (NodeId, NodeId)) -> Vec<String> {
    let cable = &scheme.cables[core.cable];
    // The end of the core that lies where it leads into.
    let far = if scheme.nodes[from].place == core.into { from } else { to };
    let into_to = core.into == cable.to;
    let mut names = Vec::new();
    for landing in cable.landings.iter().filter(|landing| core.cores.contains(&landing.core)) {
        let at_to = (node == far) == into_to;
        names.extend(if at_to { landing.to.clone() } else { landing.from.clone() });
    }
    names
}

/// What a name is that means a part and no point: the wires on its two sides.
pub(super) fn sides(scheme: &Scheme, name: &str) -> Option<String> {
    let typed = spelled(name);
    let mut parts = scheme.placed().filter(|(_, part)| spelled(&part.name) == typed);
    let (_, part) = parts.next().filter(|_| parts.next().is_none())?;
    let at = part.at?;
    let what = match part.kind {
        PartKind::Core(_) => "core",
        PartKind::Contact(_) => "contact",
        PartKind::Coil(_) => "coil",
        PartKind::Fuse { .. } => "fuse",
        PartKind::Resistor { .. } => "resistor",
        PartKind::Lamp(_) => "lamp",
        PartKind::Input(_) => "input",
        _ => "part",
    };
    let [upper, lower] = [at.from, at.to].map(|node| format!("\"{}\"", wire_name(scheme, node)));
    Some(format!("it is a {what} from {upper} to {lower}; write one of these two"))
}

/// A name in capitals, with `-` for whatever stands between a strip and its terminal.
fn spelled(name: &str) -> String {
    let mut text = String::new();
    for letter in name.trim().chars() {
        if "/:- ".contains(letter) {
            if !text.ends_with('-') {
                text.push('-');
            }
        } else {
            text.extend(letter.to_uppercase());
        }
    }
    text
}

/// Every name a person may use for a wire.
#[derive(Debug)]
pub struct Points {
    names: BTreeMap<String, NodeId>,
}

impl Points {
    /// Wire numbers, poles of supplies, terminals, device screws, and "between A and B".
    pub fn new(scheme: &Scheme) -> Self {
        let mut names = BTreeMap::new();
        for node in scheme.nodes.ids() {
            let data = &scheme.nodes[node];
            for name in data.wire.iter().chain(&data.label).cloned().chain(screws(scheme, node)) {
                names.entry(name).or_insert(node);
            }
        }
        // What the table of volts calls a point that has no number; never in place of a number.
        let mut twice = Vec::new();
        let mut between: BTreeMap<String, NodeId> = BTreeMap::new();
        for node in scheme.nodes.ids() {
            let name = wire_name(scheme, node);
            if names.contains_key(&name) {
                continue;
            }
            if between.insert(name.clone(), node).is_some() {
                twice.push(name);
            }
        }
        between.retain(|name, _| !twice.contains(name));
        names.extend(between);
        Self { names }
    }
    /// The wire of that name: in any case of letters; else with any of `/ : -` or a space between a strip
    /// and its terminal ("TB3-7" for TB3/7), if that means one wire only.
    pub fn find(&self, name: &str) -> Option<NodeId> {
        let exact = self.names.get(name).copied();
        exact.or_else(|| self.only(|known| known.eq_ignore_ascii_case(name))).or_else(|| {
            let typed = spelled(name);
            self.only(|known| !typed.is_empty() && spelled(known) == typed)
        })
    }
    /// The one wire whose names suit; none: several do.
    fn only(&self, suits: impl Fn(&str) -> bool) -> Option<NodeId> {
        let mut nodes = self.names.iter().filter(|(known, _)| suits(known)).map(|(_, node)| *node);
        let first = nodes.next()?;
        nodes.all(|node| node == first).then_some(first)
    }
    /// A name that looks like the one typed, for a suggestion.
    pub fn like(&self, name: &str) -> Option<&str> {
        let letters = |text: &str| -> Vec<char> {
            text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
        };
        let typed = letters(name);
        let common = |known: &str| {
            let known = letters(known);
            let same = known.iter().zip(&typed).take_while(|(a, b)| a == b).count();
            (same, std::cmp::Reverse(known.len().abs_diff(typed.len())))
        };
        let best = self.names.keys().max_by_key(|known| common(known))?;
        // A shared first letter alone is no likeness.
        (2 * common(best).0 > typed.len()).then_some(best.as_str())
    }
}
