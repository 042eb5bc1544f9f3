//! What circuits hang on: supplies, other circuits, and the rails of both.

use super::card::{Card, Words};
use super::desk::{Desk, Name, owned};
use super::frame::Line;
use super::lookup;
use super::path::{lost_node, wire};
use crate::arena::Id;
use crate::finding::Finding;
use crate::ids::{CircuitId, NodeId, SupplyId};

const CIRCUIT: Words = Words {
    props: &["supply", "circuit", "sheet"],
    lines: &["feed", "return", "leg", "jumper", "chain"],
};

/// A circuit before its legs are read.
pub(super) struct Draft<'a> {
    /// Its line.
    pub card: Card<'a>,
    /// Its name.
    pub name: Name,
    /// The supply it hangs on in the end, if known.
    pub supply: Option<SupplyId>,
    /// The circuit it hangs on, if known.
    pub parent: Option<usize>,
    /// Its feed.
    pub feed: Option<&'a Line>,
    /// Its return.
    pub back: Option<&'a Line>,
    /// The rail its own feed ends with.
    pub plus: Option<NodeId>,
    /// The rail its own return begins with.
    pub minus: Option<NodeId>,
}

/// The circuits before their legs are read, each with what it hangs on and its rails.
pub(super) fn drafts<'a>(desk: &mut Desk, lines: &[&'a Line]) -> Vec<Draft<'a>> {
    let mut drafts: Vec<Draft<'a>> =
        lines.iter().enumerate().map(|(index, line)| draft(desk, index, line)).collect();
    hang(desk, &mut drafts);
    circles(desk, &mut drafts);
    for draft in &mut drafts {
        draft.plus = rail(desk, draft, &FEED);
        draft.minus = rail(desk, draft, &RETURN);
    }
    drafts
}

fn draft<'a>(desk: &mut Desk, index: usize, line: &'a Line) -> Draft<'a> {
    let card = Card::open(desk, line, &CIRCUIT);
    let name = card
        .name(desk, 0, "The circuit's name")
        .unwrap_or_else(|| Name { text: String::new(), span: line.span });
    card.no_more(desk, 1);
    let twice = super::world::twice(desk, "circuit", &name, desk.circuits.span(&name.text));
    if !twice && !name.text.is_empty() {
        desk.circuits.declare(&name.text, CircuitId::from_index(index), name.span);
    }
    let one = |desk: &mut Desk, word: &'static str| {
        let mut found = card.lines(word);
        let first = found.next();
        for extra in found {
            let message = format!("The circuit {:?} has a second {word}.", name.text);
            desk.error("feed-twice", extra.span, "one is enough", message);
        }
        first
    };
    let feed = one(desk, "feed");
    let back = one(desk, "return");
    Draft { card, name, supply: None, parent: None, feed, back, plus: None, minus: None }
}

/// Finds out what each circuit hangs on.
fn hang(desk: &mut Desk, drafts: &mut [Draft<'_>]) {
    let names: Vec<String> = drafts.iter().map(|draft| draft.name.text.clone()).collect();
    for draft in drafts.iter_mut() {
        match (draft.card.prop("supply"), draft.card.prop("circuit")) {
            (Some(supply), None) => {
                let name = desk.name(supply);
                draft.supply = name.and_then(|name| lookup::supply(desk, &name));
            }
            (None, Some(circuit)) => {
                let Some(name) = desk.name(circuit) else { continue };
                draft.parent = names.iter().position(|known| *known == name.text);
                if draft.parent.is_none() {
                    desk.unknown("circuit", "circuit-unknown", &name, &names);
                }
            }
            (None, None) => supply_missing(desk, &draft.name),
            (Some(_), Some(circuit)) => {
                let message = "A circuit hangs on a supply or on another circuit, not on both.";
                desk.error("supply-twice", circuit.span, "one is enough", message.to_owned());
            }
        }
    }
}

fn supply_missing(desk: &mut Desk, name: &Name) {
    let known = owned(desk.supplies.names());
    let known = super::names::listed(known.iter().map(String::as_str));
    let help = match known.is_empty() {
        true => "declare a supply first: supply \"DC1\" \"125 V DC\"".to_owned(),
        false => format!("add supply=… ({known})"),
    };
    let message = format!("It is not said what feeds the circuit {:?}.", name.text);
    desk.report(Finding::error("supply-missing", message).at(name.span, "no supply").help(help));
}

/// Follows every circuit to its supply; a circuit that hangs on itself is cut loose.
fn circles(desk: &mut Desk, drafts: &mut [Draft<'_>]) {
    for index in 0..drafts.len() {
        let mut at = index;
        let mut steps = 0;
        let mut supply = None;
        while let Some(draft) = drafts.get(at) {
            supply = draft.supply;
            let Some(parent) = draft.parent else { break };
            at = parent;
            steps += 1;
            if steps > drafts.len() {
                break;
            }
        }
        let circular = steps > drafts.len();
        let Some(draft) = drafts.get_mut(index) else { continue };
        draft.supply = supply;
        if circular {
            draft.parent = None;
            let message = format!("The circuit {:?} hangs on itself in the end.", draft.name.text);
            desk.error("circuit-circular", draft.name.span, "fed by itself", message);
        }
    }
}

/// A feed or a return.
struct Side {
    word: &'static str,
    missing: &'static str,
    without: &'static str,
    which: &'static str,
    example: &'static str,
}

const FEED: Side = Side {
    word: "feed",
    missing: "feed-missing",
    without: "feed-without-rail",
    which: "end",
    example: "write feed { fuse \"F1\" \"15 A\"; wire \"CP\" }",
};
const RETURN: Side = Side {
    word: "return",
    missing: "return-missing",
    without: "return-without-rail",
    which: "begin",
    example: "write return { wire \"CN\"; fuse \"F2\" \"15 A\" }",
};

/// The rail: the last wire of the feed or the first of the return.
fn rail(desk: &mut Desk, draft: &Draft<'_>, side: &Side) -> Option<NodeId> {
    let name = &draft.name;
    let (block, last) = match side.word {
        "feed" => (draft.feed, true),
        _ => (draft.back, false),
    };
    let Some(block) = block else {
        if draft.card.prop("circuit").is_none() {
            let message = format!("The circuit {:?} has no {}.", name.text, side.word);
            let label = format!("no {}", side.word);
            let finding = Finding::error(side.missing, message).at(name.span, label);
            desk.report(finding.help(side.example));
        }
        return None;
    };
    let mut lines = block.lines.iter().filter(|line| line.word != "note");
    let line = if last { lines.next_back() } else { lines.next() };
    if let Some(line) = line.filter(|line| line.word == "wire") {
        // Quotes are checked where the wire itself is read.
        let arg = line.args.first()?;
        return Some(wire(desk, &Name { text: arg.text.clone(), span: arg.span }));
    }
    let message =
        format!("The {} of {:?} does not {} with a wire.", side.word, name.text, side.which);
    desk.report(
        Finding::error(side.without, message)
            .at(line.map_or(block.span, |line| line.span), "no wire here")
            .why("that wire is the rail the legs hang on")
            .help(side.example),
    );
    None
}

/// The nodes a circuit hangs between, and its rails.
pub(super) struct Rails {
    /// Where its feed begins.
    pub source: NodeId,
    /// Where its return ends.
    pub sink: NodeId,
    /// Its positive rail.
    pub plus: NodeId,
    /// Its negative rail.
    pub minus: NodeId,
    /// Whether all of them are known; what is not was reported.
    pub known: bool,
}

impl Rails {
    /// The rails of a circuit. What was not understood gets a node of its own, so that nothing
    /// else is found wrong because of it.
    pub fn of(desk: &mut Desk, draft: &Draft<'_>, drafts: &[Draft<'_>]) -> Self {
        let parent = draft.parent.and_then(|parent| drafts.get(parent));
        let supply = draft.supply.and_then(|id| {
            let supply = &desk.scheme.supplies[id];
            parent.is_none().then_some((supply.plus, supply.minus))
        });
        let inherited = |own: fn(&Draft<'_>) -> Option<NodeId>| {
            let mut at = parent;
            // No more steps than circuits: circles were cut before.
            for _ in 0..drafts.len() {
                let draft = at?;
                if let Some(node) = own(draft) {
                    return Some(node);
                }
                at = draft.parent.and_then(|parent| drafts.get(parent));
            }
            None
        };
        let above = inherited(|one| one.plus);
        let below = inherited(|one| one.minus);
        let source = supply.map(|(plus, _)| plus).or(above);
        let sink = supply.map(|(_, minus)| minus).or(below);
        let plus = draft.plus.or(above.filter(|_| draft.feed.is_none()));
        let minus = draft.minus.or(below.filter(|_| draft.back.is_none()));
        let known = source.is_some() && sink.is_some() && plus.is_some() && minus.is_some();
        let mut or_lost =
            |node: Option<NodeId>| node.unwrap_or_else(|| lost_node(desk, draft.name.span));
        Self {
            source: or_lost(source),
            sink: or_lost(sink),
            plus: or_lost(plus),
            minus: or_lost(minus),
            known,
        }
    }
}
