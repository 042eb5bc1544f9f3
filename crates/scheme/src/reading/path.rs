//! The parts of a feed, a return or a leg, one under the other, and the nodes between them.

use super::card::{Card, Words, unknown_word};
use super::desk::{Desk, Name, Thing};
use super::frame::Line;
use super::lookup;
use super::standing;
use crate::arena::Id;
use crate::circuits::{Chain, Node, Step};
use crate::finding::Finding;
use crate::ids::{CableId, CircuitId, LegId, NodeId, PartId, PlaceId, SupplyId};
use crate::part::Placement;
use crate::source::Span;
use crate::text::OF_CHAIN;

/// A chain with every node between its parts, lost parts included.
#[derive(Debug, Clone, Default)]
pub(super) struct Path {
    /// Top to bottom.
    pub treads: Vec<Tread>,
}

/// One thing of a path with the nodes at both ends.
#[derive(Debug, Clone)]
pub(super) struct Tread {
    /// What it is.
    pub what: What,
    /// Upper end.
    pub from: NodeId,
    /// Lower end.
    pub to: NodeId,
    /// The number written at the lower end, if one is.
    pub wire: Option<Span>,
    /// Its line.
    pub span: Span,
}

/// What stands in a path.
#[derive(Debug, Clone)]
pub(super) enum What {
    /// A part.
    Part(PartId),
    /// Cores; what is not understood of them is missing.
    Core {
        /// The part, if understood.
        part: Option<PartId>,
        /// The cable, if known.
        cable: Option<CableId>,
        /// Where it is said to lead.
        into: Option<(PlaceId, Span)>,
    },
    /// A part that wasn't understood; already reported.
    Lost,
    /// Ways side by side.
    Ways(Vec<Path>),
}

/// The end of a leg as written.
#[derive(Debug, Clone)]
pub(super) struct Said {
    /// The node.
    pub node: NodeId,
    /// Where it is written.
    pub span: Span,
    /// The wire number.
    pub wire: String,
}

/// A feed, return, leg or jumper with its ends.
#[derive(Debug, Clone)]
pub(super) struct Route {
    /// What stands between its ends.
    pub path: Path,
    /// Upper end.
    pub from: NodeId,
    /// Lower end.
    pub to: NodeId,
    /// For messages: "The leg \"Close coil\"".
    pub called: String,
    /// Its name.
    pub span: Span,
    /// The supply it hangs on in the end, if known.
    pub supply: Option<SupplyId>,
    /// The upper end as written, if written.
    pub from_said: Option<Said>,
    /// The lower end as written, if written.
    pub to_said: Option<Said>,
    /// Whether both its ends were understood; if not, its places are not judged.
    pub sound: bool,
}

impl Path {
    /// Nothing at all.
    pub fn nothing() -> Self {
        Self::default()
    }
}

/// The node of a wire number, made when it is first written.
pub(super) fn wire(desk: &mut Desk, name: &Name) -> NodeId {
    if let Some(node) = desk.wires.get(&name.text) {
        return node;
    }
    let node = Node {
        wire: Some(name.text.clone()),
        label: None,
        place: PlaceId::from_index(0),
        span: Some(name.span),
    };
    let id = desk.scheme.nodes.push(node);
    desk.wires.declare(&name.text, id, name.span);
    id
}

/// A node without a number.
fn unnumbered(desk: &mut Desk) -> NodeId {
    let place = PlaceId::from_index(0);
    desk.scheme.nodes.push(Node { wire: None, label: None, place, span: None })
}

/// A node that stands in for something already reported.
pub(super) fn lost_node(desk: &mut Desk, span: Span) -> NodeId {
    let place = PlaceId::from_index(0);
    desk.scheme.nodes.push(Node { wire: None, label: None, place, span: Some(span) })
}

/// The chain of a path: what the engines see.
pub(super) fn chain_of(path: &Path) -> Chain {
    let mut chain = Chain::default();
    let count = path.treads.len();
    for (index, tread) in path.treads.iter().enumerate() {
        match &tread.what {
            What::Part(part) | What::Core { part: Some(part), .. } => {
                chain.steps.push(Step::Part(*part))
            }
            What::Core { part: None, .. } | What::Lost => {}
            What::Ways(ways) => {
                chain.steps.push(Step::Parallel(ways.iter().map(chain_of).collect()))
            }
        }
        if tread.wire.is_some() && index + 1 < count {
            chain.steps.push(Step::Wire(tread.to));
        }
    }
    chain
}

/// What a line of a path is, before its nodes are known.
enum Item {
    Wire { node: NodeId, name: Name },
    Thing { what: What, span: Span },
    Ways { ways: Vec<Vec<Item>>, span: Span },
}

/// Reads the parts of one circuit.
pub(super) struct Weaver<'d> {
    /// The desk.
    pub desk: &'d mut Desk,
    /// The circuit.
    pub circuit: CircuitId,
    /// The leg being read; none: the feed or the return.
    pub leg: Option<LegId>,
    /// Notes met.
    pub notes: Vec<String>,
}

impl Weaver<'_> {
    /// The parts of a feed; its last wire is the rail.
    pub fn feed(&mut self, line: &Line, source: NodeId, rail: NodeId, rail_written: bool) -> Path {
        self.bare(line);
        let mut items = self.items(&line.lines, "feed");
        if rail_written && matches!(items.last(), Some(Item::Wire { .. })) {
            items.pop();
        }
        self.forget(rail_written, &items);
        self.path(items, source, rail, rail_written)
    }

    /// The parts of a return; its first wire is the rail.
    pub fn back(&mut self, line: &Line, rail: NodeId, sink: NodeId, rail_written: bool) -> Path {
        self.bare(line);
        let mut items = self.items(&line.lines, "return");
        if rail_written && matches!(items.first(), Some(Item::Wire { .. })) {
            items.remove(0);
        }
        self.forget(rail_written, &items);
        self.path(items, rail, sink, rail_written)
    }

    /// Where the rail was not understood, the wires around it are not judged.
    fn forget(&mut self, rail_written: bool, items: &[Item]) {
        for item in items.iter().filter(|_| !rail_written) {
            if let Item::Wire { node, .. } = item {
                self.desk.lost_wires.insert(*node);
            }
        }
    }

    /// The parts of a leg.
    pub fn leg_path(
        &mut self,
        lines: &[Line],
        from: NodeId,
        to: NodeId,
        name: &Name,
        ends_known: bool,
    ) -> Path {
        // `from` and `to` may also stand as lines in the braces; the card has read them.
        let mut steps = Vec::new();
        for line in lines.iter().filter(|line| !matches!(line.word.as_str(), "from" | "to")) {
            // Other words were reported when the card was opened.
            if OF_CHAIN.contains(&line.word.as_str()) || line.word == "note" {
                steps.push(line);
            }
        }
        let lost = steps.len() < lines.len();
        let items = self.items_of(steps, "leg");
        if items.is_empty() && !lost {
            self.desk.report(
                Finding::error("leg-empty", format!("The leg {:?} has no part.", name.text))
                    .at(name.span, "nothing in it")
                    .help("write its parts in braces, top to bottom; two wires are joined by a jumper"),
            );
        }
        self.path(items, from, to, ends_known)
    }

    /// A path of one part.
    pub fn single(&mut self, part: PartId, from: NodeId, to: NodeId, span: Span) -> Path {
        let items = vec![Item::Thing { what: What::Part(part), span }];
        self.path(items, from, to, true)
    }

    fn bare(&mut self, line: &Line) {
        for arg in &line.args {
            super::card::stray(self.desk, &line.word, arg);
        }
        Card::open(
            self.desk,
            &Line { lines: Vec::new(), ..line.clone() },
            &Words { props: &[], lines: &[] },
        );
    }

    fn items(&mut self, lines: &[Line], context: &str) -> Vec<Item> {
        self.items_of(lines.iter().collect(), context)
    }

    fn items_of(&mut self, lines: Vec<&Line>, context: &str) -> Vec<Item> {
        let mut items = Vec::new();
        for line in lines {
            match line.word.as_str() {
                "note" => {
                    let note = super::card::note(self.desk, line);
                    self.notes.extend(note);
                }
                "wire" => items.extend(self.wire_line(line)),
                "parallel" => items.push(self.parallel(line)),
                "branch" => {
                    self.desk.report(
                        Finding::error("branch-alone", "A branch stands in parallel only.")
                            .at(line.span, "no parallel around it")
                            .help("write its parts here one under the other, or put parallel { … } around the ways"),
                    );
                    items.extend(self.items(&line.lines, "branch"));
                }
                word if OF_CHAIN.contains(&word) => {
                    let what = standing::part(self, line);
                    items.push(Item::Thing { what, span: line.span });
                }
                _ => unknown_word(self.desk, context, line, OF_CHAIN, &[]),
            }
        }
        items
    }

    fn wire_line(&mut self, line: &Line) -> Option<Item> {
        let card = Card::open(self.desk, line, &Words { props: &["label"], lines: &[] });
        let name = card.name(self.desk, 0, "The wire number")?;
        card.no_more(self.desk, 1);
        let notes = card.notes(self.desk);
        self.notes.extend(notes);
        let node = wire(self.desk, &name);
        if let Some(label) = card.prop("label").and_then(|arg| self.desk.name(arg)) {
            let known = &mut self.desk.scheme.nodes[node].label;
            match known {
                Some(first) if *first != label.text => {
                    let message = format!(
                        "Wire {:?} has the labels {first:?} and {:?}.",
                        name.text, label.text
                    );
                    self.desk.error("label-twice", label.span, "another label", message);
                }
                _ => *known = Some(label.text),
            }
        }
        Some(Item::Wire { node, name })
    }

    fn parallel(&mut self, line: &Line) -> Item {
        self.bare(line);
        let mut ways = Vec::new();
        for way in &line.lines {
            match way.word.as_str() {
                "note" => {
                    let note = super::card::note(self.desk, way);
                    self.notes.extend(note);
                }
                "branch" => {
                    self.bare(way);
                    let items = self.items(&way.lines, "branch");
                    if items.is_empty() && way.lines.is_empty() {
                        let message = "This branch has no part.".to_owned();
                        self.desk.error("branch-empty", way.span, "nothing in it", message);
                    }
                    ways.push(items);
                }
                "wire" => {
                    self.desk.report(
                        Finding::error("wire-as-way", "A wire alone is no way: it would bridge all the others.")
                            .at(way.span, "a bare wire")
                            .help("put it before or after the parallel, or into a branch between two parts"),
                    );
                }
                _ => ways.push(self.items_of(vec![way], "parallel")),
            }
        }
        if line.lines.iter().filter(|way| way.word != "note").count() < 2 {
            self.desk.report(
                Finding::error("parallel-alone", "Only one way stands in this parallel.")
                    .at(line.span, "nothing beside it")
                    .help(
                        "write each way on its own line; several parts in a row stand in a branch",
                    ),
            );
        }
        Item::Ways { ways, span: line.span }
    }

    /// Gives every item its two nodes.
    fn path(&mut self, items: Vec<Item>, from: NodeId, to: NodeId, ends_known: bool) -> Path {
        let mut treads: Vec<Tread> = Vec::new();
        let mut at = from;
        let count = items.len();
        let mut items = items.into_iter().enumerate().peekable();
        while let Some((index, item)) = items.next() {
            let (what, span) = match item {
                Item::Wire { node, name } => {
                    if node != at && (ends_known || index > 0) {
                        self.touching(at, &name);
                    }
                    at = node;
                    continue;
                }
                Item::Thing { what, span } => (Ok(what), span),
                Item::Ways { ways, span } => (Err(ways), span),
            };
            let mut wire_span = None;
            let next = match items.peek() {
                Some((_, Item::Wire { node, name })) => {
                    wire_span = Some(name.span);
                    *node
                }
                Some(_) => unnumbered(self.desk),
                None => to,
            };
            // The last wire of a leg stands at its end already.
            if let Some((last, Item::Wire { node, name })) = items.peek()
                && last + 1 == count
                && *node != to
                && ends_known
            {
                let name = name.clone();
                self.touching(to, &name);
            }
            let what = match what {
                Ok(what) => what,
                Err(ways) => {
                    What::Ways(ways.into_iter().map(|way| self.path(way, at, next, true)).collect())
                }
            };
            self.set_placement(&what, at, next, span);
            treads.push(Tread { what, from: at, to: next, wire: wire_span, span });
            if wire_span.is_some() {
                items.next();
            }
            at = next;
        }
        Path { treads }
    }

    /// Two wire numbers with nothing between.
    fn touching(&mut self, at: NodeId, name: &Name) {
        self.desk.lost_wires.insert(at);
        self.desk.lost_wires.extend(self.desk.wires.get(&name.text));
        let other = &self.desk.scheme.nodes[at];
        let (wire, span) = (other.wire.clone(), other.span);
        let message = match &wire {
            Some(wire) => {
                format!("Wires {wire:?} and {:?} meet with nothing between them.", name.text)
            }
            None => format!("Wire {:?} stands where another point already is.", name.text),
        };
        let mut finding = Finding::error("wires-touch", message)
            .at(name.span, "nothing stands between")
            .why("two numbers for one point: one of them is probably the end of another leg")
            .help("take one out, give the leg from=… and to=…, or join two wires by a jumper")
            .wire(&name.text);
        if let (Some(wire), Some(span)) = (wire, span) {
            finding = finding.and_at(span, format!("{wire:?} is first written here")).wire(wire);
        }
        self.desk.report(finding);
    }

    fn set_placement(&mut self, what: &What, from: NodeId, to: NodeId, span: Span) {
        let (What::Part(part) | What::Core { part: Some(part), .. }) = what else { return };
        let (circuit, leg) = (self.circuit, self.leg);
        let part = &mut self.desk.scheme.parts[*part];
        let place = PlaceId::from_index(0);
        part.at = Some(Placement { circuit, leg, from, to, place, span });
    }

    /// The part of a device that a line places; a part placed before is an error.
    pub fn of_device(&mut self, what: &'static str, line: &Line) -> Option<PartId> {
        let desk = &mut *self.desk;
        let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
        let device_name = card.name(desk, 0, "The device")?;
        let own = match line.args.len() {
            0 | 1 => None,
            _ => Some(card.name(desk, 1, "The part")?),
        };
        card.no_more(desk, 2);
        let notes = card.notes(desk);
        self.notes.extend(notes);
        let device = lookup::device(desk, &device_name)?;
        let part = lookup::part(desk, what, device, &device_name, own.as_ref())?;
        let found = &desk.scheme.parts[part];
        if let Some(first) = found.at {
            let (name, device) = (found.name.clone(), found.device);
            let spare: Vec<String> = device
                .map(|device| desk.scheme.devices[device].parts.clone())
                .unwrap_or_default()
                .into_iter()
                .map(|part| &desk.scheme.parts[part])
                .filter(|part| part.at.is_none() && part.kind.word() == what)
                .map(|part| part.own_name.clone())
                .collect();
            let help = match spare.is_empty() {
                true => format!("declare another {what} in the device"),
                false => {
                    format!(
                        "not placed so far: {}",
                        super::names::listed(spare.iter().map(String::as_str))
                    )
                }
            };
            desk.report(
                Finding::error("part-twice", format!("{name:?} is placed twice."))
                    .at(
                        line.args.get(1).or(line.args.first()).map_or(line.span, |arg| arg.span),
                        "placed again",
                    )
                    .and_at(first.span, "placed here first")
                    .why(format!("one {what} has two ends and can't stand in two circuits"))
                    .help(help)
                    .device(name),
            );
            return None;
        }
        // Taken at once, so that a second line of the same leg sees it.
        let (circuit, leg) = (self.circuit, self.leg);
        let none = NodeId::from_index(0);
        let place = PlaceId::from_index(0);
        desk.scheme.parts[part].at =
            Some(Placement { circuit, leg, from: none, to: none, place, span: line.span });
        Some(part)
    }

    /// Adds a part that stands alone; a name already taken is an error.
    pub fn alone(&mut self, name: &Name, kind: crate::part::PartKind) -> Option<PartId> {
        let id = PartId::from_index(self.desk.scheme.parts.len());
        if !self.desk.claim_name(&name.text, name.span, Thing::Part(id)) {
            return None;
        }
        self.desk.scheme.parts.push(crate::part::Part {
            name: name.text.clone(),
            own_name: String::new(),
            device: None,
            kind,
            terminals: None,
            shows: None,
            watches: None,
            at: None,
            span: name.span,
        });
        Some(id)
    }
}
