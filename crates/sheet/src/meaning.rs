//! What the texts of a finished drawing say, and where its cross-references lead. **In:** the
//! drawing, the scheme, the places handed out while it was drawn. **Out:** the same drawing, its
//! texts marked. **Never here:** words or places.

use crate::block::terminals;
use crate::geometry::{
    Anchor, Drawing, Ink, Link, Meaning, Point, Role, Shape, Sheet, Text, Weight, point,
};
use crate::lists::{References, coil_of, contacts};
use fiftytwo_scheme::{CircuitId, DeviceId, NodeId, PartId, PartKind, Scheme};
use std::collections::BTreeMap;

/// What can be referred to: the group and its middle, by sheet.
#[derive(Debug)]
pub struct Goals {
    parts: BTreeMap<PartId, Link>,
    wires: BTreeMap<(NodeId, usize), Link>,
    tables: BTreeMap<DeviceId, Link>,
    /// Contacts by the places that tables name.
    by_place: BTreeMap<String, PartId>,
}

/// Marks every text of a drawing with what it says.
pub fn tell(drawing: &mut Drawing, scheme: &Scheme, references: &References) {
    let goals = goals(&drawing.sheets, scheme, references);
    for sheet in &mut drawing.sheets {
        tell_sheet(sheet, scheme, references, &goals);
    }
}

/// Marks every text of a sheet with what it says.
pub fn tell_sheet(sheet: &mut Sheet, scheme: &Scheme, references: &References, goals: &Goals) {
    for group in &mut sheet.items {
        let role = group.role;
        let is_table = group.id.starts_with("table-");
        for shape in &mut group.shapes {
            let Shape::Text(text) = shape else { continue };
            if text.meaning != Meaning::Words {
                continue;
            }
            let link = match role {
                Role::Part(part) => coil_of(scheme, part)
                    .and_then(|coil| part_called(&text.words, [coil], goals, references)),
                Role::Contacts(device) => {
                    part_called(&text.words, contacts(scheme, device), goals, references)
                        .or_else(|| table_called(&text.words, device, goals))
                }
                Role::Notes if is_table => goals
                    .by_place
                    .get(text.words.as_str())
                    .and_then(|part| goals.parts.get(part).cloned()),
                Role::Flag(node) => wire_called(&text.words, &[node], goals),
                Role::Circuit(circuit) => wire_called(&text.words, &rails(scheme, circuit), goals),
                _ => None,
            };
            text.meaning = match (link, role) {
                (Some(link), _) => Meaning::Reference(link),
                (None, Role::Part(part)) => of_part(scheme, part, text),
                (None, _) => Meaning::Words,
            };
        }
    }
}

/// The wires at the ends of a circuit's feed and return: what its rails go on as.
fn rails(scheme: &Scheme, circuit: CircuitId) -> [NodeId; 4] {
    let circuit = &scheme.circuits[circuit];
    [circuit.feed.to, circuit.back.from, circuit.feed.from, circuit.back.to]
}

/// What can be referred to on these sheets, which are all of a drawing.
pub fn goals(sheets: &[Sheet], scheme: &Scheme, references: &References) -> Goals {
    let by_place = scheme
        .devices
        .iter()
        .flat_map(|(id, _)| contacts(scheme, id))
        .filter_map(|part| Some((references.get(&part)?.clone(), part)))
        .collect();
    let mut goals =
        Goals { parts: BTreeMap::new(), wires: BTreeMap::new(), tables: BTreeMap::new(), by_place };
    for sheet in sheets {
        let bodies: BTreeMap<PartId, Point> = sheet
            .boxes
            .iter()
            .map(|body| {
                let area = body.area;
                (body.part, point((area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0))
            })
            .collect();
        for group in &sheet.items {
            let link = |at: Point| Link { sheet: sheet.number, at, group: group.id.clone() };
            match group.role {
                Role::Part(part) => {
                    if let Some(at) = bodies.get(&part) {
                        goals.parts.entry(part).or_insert_with(|| link(*at));
                    }
                }
                Role::Wire(node) => {
                    if let Some(Shape::Line { points, .. }) = group.shapes.first()
                        && let Some(at) = points.first()
                    {
                        goals.wires.entry((node, sheet.number)).or_insert_with(|| link(*at));
                    }
                }
                Role::Contacts(device)
                    if group.id.starts_with("table-")
                        && !group.id.contains(crate::changes::CHANGED_ROW) =>
                {
                    if let Some(shape) = group.shapes.first() {
                        let area = shape.area();
                        let at = point(area.left, area.bottom);
                        goals.tables.entry(device).or_insert_with(|| link(at));
                    }
                }
                _ => {}
            }
        }
    }
    goals
}

fn part_called(
    words: &str,
    candidates: impl IntoIterator<Item = PartId>,
    goals: &Goals,
    references: &References,
) -> Option<Link> {
    candidates
        .into_iter()
        .find(|part| references.get(part).is_some_and(|place| place == words))
        .and_then(|part| goals.parts.get(&part).cloned())
}

/// A wire at the place that `words` say, if they say a place at all: "2/D7", "2.13".
fn wire_called(words: &str, candidates: &[NodeId], goals: &Goals) -> Option<Link> {
    let (sheet, zone) = words.split_once(['/', '.'])?;
    if zone.is_empty() || !zone.chars().all(|letter| letter.is_ascii_alphanumeric()) {
        return None;
    }
    let sheet: usize = sheet.parse().ok()?;
    candidates.iter().find_map(|node| goals.wires.get(&(*node, sheet)).cloned())
}

fn table_called(words: &str, device: DeviceId, goals: &Goals) -> Option<Link> {
    words.strip_prefix("table, sheet ")?;
    goals.tables.get(&device).cloned()
}

fn of_part(scheme: &Scheme, part: PartId, text: &Text) -> Meaning {
    let is_terminal = terminals(scheme, part)
        .is_some_and(|(upper, lower)| text.words == upper || text.words == lower);
    let part = &scheme.parts[part];
    // The letter in a lamp or a motor is part of its symbol.
    let is_sign = matches!(part.kind, PartKind::Lamp(_) | PartKind::Motor(_))
        && text.anchor == Anchor::Middle
        && text.words.chars().count() <= 2;
    match (text.weight, text.ink) {
        _ if is_sign => Meaning::Words,
        (Weight::Bold, _) => Meaning::Device,
        // Cores, terminals and jumpers have no device: their name stands in plain letters.
        (Weight::Plain, _) if text.words == part.name => Meaning::Device,
        (Weight::Plain, _) if is_terminal => Meaning::Terminal,
        (Weight::Plain, Ink::Main) => Meaning::Contact,
        (Weight::Plain, _) => Meaning::Rating,
    }
}
