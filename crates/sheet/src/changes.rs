//! What changed since an earlier text of the same scheme. **In:** both schemes; a finished drawing
//! of the later one. **Out:** the parts that are new or otherwise, the wires that join other ends,
//! the lines of lists and tables that say something else, everything else whose text differs, what is
//! gone; a table of all this, and clouds with the mark of the revision on the drawing. **Never here:**
//! which change is good.

mod clouds;
mod parts;
mod texts;

pub use clouds::{CHANGED_ROW, mark};
pub use texts::Line;

use crate::lists::{self, Table};
use crate::names::{self, WireNumber};
use crate::{draw, plan};
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// The differences between two texts of a scheme.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Changes {
    /// Placed parts that the earlier text does not have.
    pub added: BTreeSet<PartId>,
    /// Placed parts with other data, or joined to other wires.
    pub altered: BTreeSet<PartId>,
    /// Of those with other data: what is otherwise, value by value.
    pub values: BTreeMap<PartId, Vec<String>>,
    /// Wires with a number that join other ends than the wires of that number did, or whose number
    /// is new.
    pub wires: BTreeSet<NodeId>,
    /// Wires that the text does not number and the drawing counts otherwise now: before and now.
    pub renumbered: BTreeMap<NodeId, (String, String)>,
    /// Contacts that are new, closed when something else is so, put to use, or spare now: their
    /// lines in lists and tables say so.
    pub listed: BTreeSet<PartId>,
    /// Rows of tables that say something else: the table's name, the cells.
    pub rows: BTreeSet<(String, Vec<String>)>,
    /// Names of parts that are placed no more.
    pub gone: Vec<String>,
    /// Numbers of the text that no wire bears any more.
    pub gone_wires: Vec<String>,
    /// Everything else that has a name and whose text differs: cables, supplies, devices, logic ….
    pub told: Vec<Line>,
    /// Names of what differs and no sheet shows: claims, stories, persons ….
    pub elsewhere: Vec<String>,
    /// The mark: the revision of the later text.
    pub mark: String,
}

impl Changes {
    /// Whether both texts mean the same.
    pub fn is_empty(&self) -> bool {
        *self == Self { mark: self.mark.clone(), ..Self::default() }
    }
    /// In one sentence.
    pub fn told(&self, scheme: &Scheme) -> String {
        if self.is_empty() {
            return "Nothing changed since the earlier text.".to_owned();
        }
        let lines = self.lines(scheme).into_iter();
        let lines = lines.map(|Line { what, change }| format!("{what}: {change}"));
        format!("Since the earlier text {}.", lines.collect::<Vec<_>>().join("; "))
    }
    /// Line by line: what of the sheets, then everything else.
    pub fn lines(&self, scheme: &Scheme) -> Vec<Line> {
        let names = |parts: &BTreeSet<PartId>| -> Vec<String> {
            parts.iter().map(|part| scheme.parts[*part].name.clone()).collect()
        };
        let elsewhere: BTreeSet<PartId> =
            self.altered.iter().copied().filter(|part| !self.values.contains_key(part)).collect();
        let wires: BTreeSet<String> =
            self.wires.iter().filter_map(|node| number(scheme, *node).cloned()).collect();
        // What stands on a sheet is told above already.
        let spare = self.listed.iter().filter(|part| scheme.parts[**part].at.is_none());
        let moved: BTreeSet<String> =
            self.renumbered.values().map(|(was, is)| format!("{was} is {is}")).collect();
        let mut said = Vec::new();
        for (what, names) in [
            ("new parts", names(&self.added)),
            ("parts on other wires", names(&elsewhere)),
            ("parts gone", self.gone.clone()),
            ("wires that join other ends", wires.into_iter().collect()),
            ("wire numbers gone", self.gone_wires.clone()),
            ("grey wire numbers counted anew", moved.into_iter().collect()),
            ("spare contacts", names(&spare.copied().collect())),
        ] {
            if !names.is_empty() {
                said.push(Line { what: what.to_owned(), change: names.join(", ") });
            }
        }
        said.extend(self.values.iter().map(|(part, values)| Line {
            what: format!("part {}", scheme.parts[*part].name),
            change: values.join("; "),
        }));
        said.extend(self.told.iter().cloned());
        if !self.elsewhere.is_empty() {
            let what = "the text differs also in".to_owned();
            said.push(Line { what, change: self.elsewhere.join(", ") });
        }
        said
    }
    /// The same as a table; none if nothing changed.
    pub(crate) fn table(&self, scheme: &Scheme) -> Option<Table> {
        (!self.is_empty()).then(|| {
            let lines = self.lines(scheme).into_iter().map(|line| [line.what, line.change]);
            let name = match self.mark.as_str() {
                "" => "Changes".to_owned(),
                mark => format!("Changes, revision {mark}"),
            };
            lists::of_words(&name, "since the earlier text", lines.collect())
        })
    }
}

/// What is drawn of a part, in words that do not depend on where it is written.
#[derive(PartialEq)]
struct Sight {
    data: String,
    circuit: String,
    leg: String,
    /// Numbers or neighbours of its upper and lower wire.
    ends: [Wire; 2],
}

/// A wire by its number or, where it has none, by what hangs on it.
struct Wire {
    number: Option<String>,
    parts: BTreeSet<String>,
}

impl PartialEq for Wire {
    fn eq(&self, other: &Self) -> bool {
        match (&self.number, &other.number) {
            (Some(a), Some(b)) => a == b,
            (None, None) => !self.parts.is_disjoint(&other.parts),
            // A number given or taken away changes the sheet.
            _ => false,
        }
    }
}

/// The number of a wire, if the text gives one.
fn number(scheme: &Scheme, node: NodeId) -> Option<&String> {
    scheme.nodes[node].label.as_ref().or(scheme.nodes[node].wire.as_ref())
}

/// A wire and the ends it joins: names of parts, upper end or lower.
type Joint = (NodeId, BTreeSet<(String, bool)>);

/// For every number the wires that bear it.
fn joints(scheme: &Scheme) -> BTreeMap<String, Vec<Joint>> {
    let mut ends: BTreeMap<NodeId, BTreeSet<(String, bool)>> = BTreeMap::new();
    for (_, part) in scheme.placed() {
        if let Some(at) = &part.at {
            ends.entry(at.from).or_default().insert((part.name.clone(), true));
            ends.entry(at.to).or_default().insert((part.name.clone(), false));
        }
    }
    let mut joints: BTreeMap<String, Vec<Joint>> = BTreeMap::new();
    for (node, ends) in ends {
        if let Some(number) = number(scheme, node) {
            joints.entry(number.clone()).or_default().push((node, ends));
        }
    }
    joints
}

/// What lists and tables say of every contact: when it is closed, and whether it is in use.
fn lines(scheme: &Scheme) -> BTreeMap<&str, (PartId, &str, bool)> {
    scheme
        .parts
        .iter()
        .filter_map(|(id, part)| match &part.kind {
            PartKind::Contact(contact) => {
                let when = contact.closed_when.text.as_str();
                Some((part.name.as_str(), (id, when, part.at.is_some())))
            }
            _ => None,
        })
        .collect()
}

fn sights(scheme: &Scheme) -> BTreeMap<String, (PartId, Sight)> {
    let mut hung: BTreeMap<NodeId, BTreeSet<String>> = BTreeMap::new();
    for (_, part) in scheme.placed() {
        for node in part.at.iter().flat_map(|at| [at.from, at.to]) {
            hung.entry(node).or_default().insert(part.name.clone());
        }
    }
    scheme
        .placed()
        .filter_map(|(id, part)| {
            let at = part.at?;
            let wire = |node: NodeId| Wire {
                number: number(scheme, node).cloned(),
                parts: hung
                    .get(&node)
                    .into_iter()
                    .flatten()
                    .filter(|name| **name != part.name)
                    .cloned()
                    .collect(),
            };
            let device = part.device.map(|device| {
                let device = &scheme.devices[device];
                (&device.name, &device.description, device.drawn)
            });
            let place = &scheme.places[at.place].name;
            let own = (&part.own_name, &part.terminals, crate::words::title(scheme, id), place);
            let data = lasting(&format!("{:?} {device:?} {own:?}", part.kind));
            let sight = Sight {
                data,
                circuit: scheme.circuits[at.circuit].name.clone(),
                leg: at.leg.map(|leg| scheme.legs[leg].name.clone()).unwrap_or_default(),
                ends: [wire(at.from), wire(at.to)],
            };
            Some((part.name.clone(), (id, sight)))
        })
        .collect()
}

/// A value printed without places in the text and without numbers of arenas, which move when
/// something else is written.
fn lasting(printed: &str) -> String {
    let mut out = String::new();
    let mut rest = printed;
    while let Some(at) = rest.find("Span {").into_iter().chain(rest.find("Id(")).min() {
        out.push_str(&rest[..at]);
        let tail = &rest[at..];
        let close = if tail.starts_with("Span") { '}' } else { ')' };
        let end = tail.find(close).map_or(tail.len(), |end| end + 1);
        rest = &tail[end..];
    }
    out.push_str(rest);
    out
}

/// The rows of all tables, by the table's name.
fn rows(scheme: &Scheme) -> BTreeSet<(String, Vec<String>)> {
    let tables = lists::tables(scheme);
    tables.iter().flat_map(|table| table.said(scheme)).collect()
}

/// The numbers that a drawing of a scheme gives its wires, by the ends of parts that hang on them.
fn counted(scheme: &Scheme) -> BTreeMap<(String, bool), (NodeId, WireNumber)> {
    let plans = draw::plans(scheme, &plan::taps(scheme));
    let numbers = names::wire_numbers(scheme, &plans);
    let mut found = BTreeMap::new();
    for (_, part) in scheme.placed() {
        for (node, upper) in part.at.iter().flat_map(|at| [(at.from, true), (at.to, false)]) {
            if let Some(number) = numbers.get(&node) {
                found.insert((part.name.clone(), upper), (node, number.clone()));
            }
        }
    }
    found
}

/// Wires that are the same and are counted otherwise.
fn renumbered(earlier: &Scheme, later: &Scheme) -> BTreeMap<NodeId, (String, String)> {
    let before = counted(earlier);
    let mut found = BTreeMap::new();
    for (end, (node, number)) in counted(later) {
        if let Some((_, old)) = before.get(&end)
            && old.counted
            && number.counted
            && old.number != number.number
        {
            found.insert(node, (old.number.clone(), number.number.clone()));
        }
    }
    found
}

/// Compares two texts of a scheme, part by part, by name.
pub fn changes(earlier: &Scheme, later: &Scheme) -> Changes {
    let (before, after) = (sights(earlier), sights(later));
    let mut changes =
        Changes { mark: later.revision.clone().unwrap_or_default(), ..Changes::default() };
    for (name, (id, sight)) in &after {
        match before.get(name) {
            None => {
                changes.added.insert(*id);
            }
            Some((was, other)) if other != sight => {
                changes.altered.insert(*id);
                let values = texts::said(&parts::data(earlier, *was), &parts::data(later, *id));
                if !values.is_empty() {
                    changes.values.insert(*id, values);
                }
            }
            Some(_) => {}
        }
    }
    let joined = joints(earlier);
    for (number, wires) in joints(later) {
        let known = joined.get(&number);
        for (node, ends) in wires {
            let same = known.is_some_and(|all| all.iter().any(|(_, other)| *other == ends));
            if !same {
                changes.wires.insert(node);
            }
        }
    }
    let told = lines(earlier);
    for (name, (id, when, used)) in lines(later) {
        let same =
            told.get(name).is_some_and(|(_, other, before)| (*other, *before) == (when, used));
        if !same {
            changes.listed.insert(id);
        }
    }
    changes.gone = before.keys().filter(|name| !after.contains_key(*name)).cloned().collect();
    let (old, new) = (joints(earlier), joints(later));
    changes.gone_wires = old.into_keys().filter(|number| !new.contains_key(number)).collect();
    changes.rows = rows(later).difference(&rows(earlier)).cloned().collect();
    changes.renumbered = renumbered(earlier, later);
    (changes.told, changes.elsewhere) = texts::differences(earlier, later);
    changes
}
