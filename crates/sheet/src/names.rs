//! Lasting names of what is drawn, and wire numbers where the scheme has none.
//! **In:** the scheme and its plans. **Out:** words. **Never here:** places.

use crate::plan::Plan;
use fiftytwo_scheme::{NodeId, PartKind, Scheme};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// Letters, digits and hyphens only: fit for an XML id. Different names may give one slug; the
/// caller sees to that.
pub fn slug(name: &str) -> String {
    let mut slug = String::new();
    for letter in name.chars() {
        if letter.is_ascii_alphanumeric() || letter == '.' || letter == '_' {
            slug.push(letter);
        } else if letter == '+' {
            slug.push_str("plus");
        } else if letter.is_ascii() {
            if !slug.ends_with('-') {
                slug.push('-');
            }
        } else {
            slug.push_str(&format!("u{:x}", u32::from(letter)));
        }
    }
    slug.trim_matches('-').to_owned()
}

/// Gives every name once: a second "part-A" becomes "part-A-2".
#[derive(Debug, Default)]
pub struct Unique {
    given: BTreeMap<String, usize>,
    /// How often names were given when they were first asked for since [`Unique::asked`].
    asked: BTreeMap<String, usize>,
}

impl Unique {
    /// `name`, made unique.
    pub fn once(&mut self, name: String) -> String {
        let mut name = name;
        loop {
            let seen = self.given.entry(name.clone()).or_insert(0);
            self.asked.entry(name.clone()).or_insert(*seen);
            *seen += 1;
            if *seen == 1 {
                return name;
            }
            name = format!("{name}-{seen}");
        }
    }
    /// The names that were asked for since this was last called and had been given before, and how
    /// often.
    pub fn asked(&mut self) -> BTreeMap<String, usize> {
        let mut asked = std::mem::take(&mut self.asked);
        asked.retain(|_, given| *given > 0);
        asked
    }
    /// As if these names had been given so often.
    pub fn after(given: BTreeMap<String, usize>) -> Self {
        Self { given, asked: BTreeMap::new() }
    }
}

/// The number of a wire as drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WireNumber {
    /// The number.
    pub number: String,
    /// Counted by the drawing: the scheme has none.
    pub counted: bool,
}

/// Numbers of all wires. A wire without a number takes that of the wire at the other end of a
/// core; the rest are counted circuit by circuit in reading order, leaving out numbers in use.
pub fn wire_numbers(scheme: &Scheme, plans: &[Plan]) -> BTreeMap<NodeId, WireNumber> {
    let mut numbers: BTreeMap<NodeId, WireNumber> = BTreeMap::new();
    let mut used: BTreeSet<String> = BTreeSet::new();
    for (id, node) in scheme.nodes.iter() {
        if let Some(number) = node.label.as_ref().or(node.wire.as_ref()) {
            numbers.insert(id, WireNumber { number: number.clone(), counted: false });
            used.insert(number.clone());
        }
        used.extend(node.wire.clone());
    }
    used.extend(taken(scheme));
    let cores: Vec<(NodeId, NodeId)> = scheme
        .placed()
        .filter(|(_, part)| matches!(part.kind, PartKind::Core(_)))
        .filter_map(|(_, part)| part.at.map(|at| (at.from, at.to)))
        .collect();
    spread(&cores, &mut numbers);
    let mut beyond: BTreeMap<NodeId, Vec<NodeId>> = BTreeMap::new();
    for (a, b) in &cores {
        beyond.entry(*a).or_default().push(*b);
        beyond.entry(*b).or_default().push(*a);
    }
    for plan in plans {
        let prefix = prefix(scheme, plan);
        let mut next = 1_usize;
        for node in plan.runs().flat_map(|run| run.nodes.clone()) {
            if numbers.contains_key(&node) {
                continue;
            }
            while used.contains(&format!("{prefix}{next}")) {
                next += 1;
            }
            let number = format!("{prefix}{next}");
            used.insert(number.clone());
            // Through cores, to all wires that have no number yet.
            let number = WireNumber { number, counted: true };
            let mut open = vec![node];
            while let Some(node) = open.pop() {
                if let Entry::Vacant(free) = numbers.entry(node) {
                    free.insert(number.clone());
                    open.extend(beyond.get(&node).into_iter().flatten());
                }
            }
        }
    }
    numbers
}

/// Names that a counted number would be taken for: devices, parts, terminals, phases.
fn taken(scheme: &Scheme) -> BTreeSet<String> {
    let mut taken: BTreeSet<String> = ["L1", "L2", "L3"].map(str::to_owned).into();
    taken.extend(scheme.devices.values().map(|device| device.name.clone()));
    taken.extend(scheme.supplies.values().map(|supply| supply.name.clone()));
    for part in scheme.parts.values() {
        taken.extend([part.name.clone(), part.own_name.clone()]);
        taken.extend(part.terminals.iter().flat_map(|(a, b)| [a.clone(), b.clone()]));
    }
    let landings = scheme.cables.values().flat_map(|cable| &cable.landings);
    taken.extend(landings.flat_map(|landing| [&landing.from, &landing.to]).flatten().cloned());
    // Coils of IEC sheets are counted A1-A2, B1-B2, ….
    let most = scheme.devices.ids().map(|id| crate::lists::coils(scheme, id).len()).max();
    for place in 0..most.unwrap_or(0).min(26) {
        let letter = char::from(b'A' + u8::try_from(place).unwrap_or(0));
        taken.extend([format!("{letter}1"), format!("{letter}2")]);
    }
    taken
}

fn spread(cores: &[(NodeId, NodeId)], numbers: &mut BTreeMap<NodeId, WireNumber>) {
    let mut changed = true;
    while changed {
        changed = false;
        for (a, b) in cores {
            for (from, to) in [(a, b), (b, a)] {
                if let (Some(number), false) =
                    (numbers.get(from).cloned(), numbers.contains_key(to))
                {
                    numbers.insert(*to, number);
                    changed = true;
                }
            }
        }
    }
}

/// The letters most numbers of a circuit begin with, else W: the first letter of a rail would read as
/// the rail.
fn prefix(scheme: &Scheme, plan: &Plan) -> String {
    let mut votes: BTreeMap<String, usize> = BTreeMap::new();
    let rails = [plan.plus, plan.minus];
    for node in plan.runs().flat_map(|run| &run.nodes).filter(|node| !rails.contains(node)) {
        let Some(wire) = &scheme.nodes[*node].wire else { continue };
        let letters: String = wire.chars().take_while(|c| c.is_alphabetic()).collect();
        let digits = wire[letters.len()..].chars().all(|c| c.is_ascii_digit());
        if !letters.is_empty() && digits && letters.len() < wire.len() {
            *votes.entry(letters.clone()).or_default() += 1;
        }
    }
    let best = votes.iter().max_by_key(|(letters, count)| (**count, std::cmp::Reverse(*letters)));
    best.map_or_else(|| "W".to_owned(), |(letters, _)| letters.clone())
}
