//! Circuits: what they hang on, their rails, and their legs one by one.

use super::card::{Card, Words, unknown_word};
use super::desk::{Desk, Name, owned};
use super::frame::Line;
use super::lookup;
use super::path::{Path, Route, Said, Weaver, chain_of, wire};
use crate::arena::Id;
use crate::circuits::{Circuit, DaisyChain, Leg, Strand};
use crate::finding::Finding;
use crate::model::{CircuitId, LegId, NodeId, PartId, SupplyId};
use crate::part::{Part, PartKind};

/// The words of a leg.
pub(super) const STEPS: &[&str] = &[
    "contact",
    "coil",
    "input",
    "motor",
    "element",
    "power",
    "link",
    "wire",
    "core",
    "fuse",
    "resistor",
    "capacitor",
    "diode",
    "varistor",
    "lamp",
    "heater",
    "terminal",
    "parallel",
];

const CIRCUIT: Words = Words {
    props: &["supply", "circuit", "sheet"],
    lines: &["feed", "return", "leg", "jumper", "chain"],
};

/// A circuit before its legs are read.
struct Draft<'a> {
    card: Card<'a>,
    name: Name,
    supply: Option<SupplyId>,
    parent: Option<usize>,
    feed: Option<&'a Line>,
    back: Option<&'a Line>,
    plus: Option<NodeId>,
    minus: Option<NodeId>,
}

/// Reads all circuits; gives back the routes for walking their places.
pub(super) fn all(desk: &mut Desk, lines: &[&Line]) -> Vec<Route> {
    let mut drafts: Vec<Draft<'_>> =
        lines.iter().enumerate().map(|(index, line)| draft(desk, index, line)).collect();
    hang(desk, &mut drafts);
    for draft in &mut drafts {
        rails(desk, draft);
    }
    let mut routes = Vec::new();
    for (index, draft) in drafts.iter().enumerate() {
        read(desk, index, draft, &drafts, &mut routes);
    }
    routes
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
        let supply = draft.card.prop("supply");
        let circuit = draft.card.prop("circuit");
        match (supply, circuit) {
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
            (None, None) => {
                let known = owned(desk.supplies.names());
                let known = super::names::listed(known.iter().map(String::as_str));
                let help = match known.is_empty() {
                    true => "declare a supply first: supply \"DC1\" \"125 V DC\"".to_owned(),
                    false => format!("add supply=… ({known})"),
                };
                desk.report(
                    Finding::error(
                        "supply-missing",
                        format!("It is not said what feeds the circuit {:?}.", draft.name.text),
                    )
                    .at(draft.name.span, "no supply")
                    .help(help),
                );
            }
            (Some(_), Some(circuit)) => {
                let message = "A circuit hangs on a supply or on another circuit, not on both.";
                desk.error("supply-twice", circuit.span, "one is enough", message.to_owned());
            }
        }
    }
    for index in 0..drafts.len() {
        let mut at = index;
        let mut steps = 0;
        while let Some(parent) = drafts[at].parent {
            at = parent;
            steps += 1;
            if steps > drafts.len() {
                let name = drafts[index].name.clone();
                let message = format!("The circuit {:?} hangs on itself in the end.", name.text);
                desk.error("circuit-circular", name.span, "fed by itself", message);
                drafts[index].parent = None;
                break;
            }
        }
        drafts[index].supply = drafts[at].supply.or(drafts[index].supply);
    }
}

/// Finds the rails: the last wire of the feed and the first of the return.
fn rails(desk: &mut Desk, draft: &mut Draft<'_>) {
    let (name, span, parent) = (draft.name.text.clone(), draft.name.span, draft.parent);
    let last = draft.feed.and_then(|line| line.lines.iter().rfind(|line| line.word != "note"));
    let first = draft.back.and_then(|line| line.lines.iter().find(|line| line.word != "note"));
    let feed = draft.feed.map(|line| line.span);
    let back = draft.back.map(|line| line.span);
    let mut rail = |line: Option<&Line>, said: Option<crate::source::Span>, which: [&str; 4]| {
        let [word, id_word, where_, example] = which;
        match (line.filter(|line| line.word == "wire"), said) {
            (Some(line), _) => {
                let arg = line.args.first()?;
                // Quotes are checked where the wire itself is read.
                Some(wire(desk, &Name { text: arg.text.clone(), span: arg.span }))
            }
            (None, Some(said)) => {
                let at = line.map_or(said, |line| line.span);
                desk.report(
                    Finding::error(
                        if id_word == "feed" { "feed-without-rail" } else { "return-without-rail" },
                        format!("The {word} of {name:?} does not {where_} with a wire."),
                    )
                    .at(at, "no wire here")
                    .why("that wire is the rail the legs hang on")
                    .help(example.to_owned()),
                );
                None
            }
            (None, None) if parent.is_none() => {
                desk.report(
                    Finding::error(
                        if id_word == "feed" { "feed-missing" } else { "return-missing" },
                        format!("The circuit {name:?} has no {word}."),
                    )
                    .at(span, format!("no {word}"))
                    .help(example.to_owned()),
                );
                None
            }
            (None, None) => None,
        }
    };
    let plus = rail(
        last,
        feed,
        ["feed", "feed", "end", "write feed { fuse \"F1\" \"15 A\"; wire \"CP\" }"],
    );
    let minus = rail(
        first,
        back,
        ["return", "return", "begin", "write return { wire \"CN\"; fuse \"F2\" \"15 A\" }"],
    );
    draft.plus = plus;
    draft.minus = minus;
}

/// The rail of a circuit, its parents' where it has none of its own.
fn rail(
    drafts: &[Draft<'_>],
    draft: &Draft<'_>,
    own: impl Fn(&Draft<'_>) -> Option<NodeId>,
) -> Option<NodeId> {
    let mut at = draft;
    loop {
        if let Some(node) = own(at) {
            return Some(node);
        }
        at = drafts.get(at.parent?)?;
    }
}

fn read(
    desk: &mut Desk,
    index: usize,
    draft: &Draft<'_>,
    drafts: &[Draft<'_>],
    routes: &mut Vec<Route>,
) {
    let circuit = CircuitId::from_index(index);
    let parent = draft.parent.and_then(|parent| drafts.get(parent));
    let supply = draft.supply.map(|id| &desk.scheme.supplies[id]);
    let (source, sink) = match parent {
        Some(parent) => {
            (rail(drafts, parent, |one| one.plus), rail(drafts, parent, |one| one.minus))
        }
        None => (supply.map(|supply| supply.plus), supply.map(|supply| supply.minus)),
    };
    let known = source.is_some() && sink.is_some();
    let source = source.unwrap_or_else(|| super::path::lost_node(desk, draft.name.span));
    let sink = sink.unwrap_or_else(|| super::path::lost_node(desk, draft.name.span));
    let plus = draft.plus.or_else(|| rail(drafts, draft, |one| one.plus)).unwrap_or(source);
    let minus = draft.minus.or_else(|| rail(drafts, draft, |one| one.minus)).unwrap_or(sink);
    let rails_known = known && draft.plus.or(parent.and(Some(plus))).is_some();
    let sheet = draft.card.prop("sheet").and_then(|arg| desk.name(arg)).map(|name| name.text);
    let notes = draft.card.notes(desk);
    let mut weaver = Weaver { desk, circuit, leg: None, notes };

    let feed = draft
        .feed
        .map_or_else(Path::nothing, |line| weaver.feed(line, source, plus, draft.plus.is_some()));
    let back = draft
        .back
        .map_or_else(Path::nothing, |line| weaver.back(line, minus, sink, draft.minus.is_some()));
    let strand = |path: &Path, from, to| Strand { from, to, chain: chain_of(path) };
    let mut made = Circuit {
        name: draft.name.text.clone(),
        supply: draft.supply.unwrap_or(SupplyId::from_index(usize::MAX)),
        of_circuit: draft.parent.map(CircuitId::from_index),
        sheet,
        feed: strand(&feed, source, plus),
        back: strand(&back, minus, sink),
        plus,
        minus,
        legs: Vec::new(),
        notes: Vec::new(),
        span: draft.name.span,
    };
    let route = |path: Path, from: NodeId, to: NodeId, called: &str| Route {
        path,
        from,
        to,
        called: called.to_owned(),
        span: draft.name.span,
        supply: draft.supply,
        from_said: None,
        to_said: None,
    };
    routes.push(route(feed, source, plus, &format!("The feed of {:?}", draft.name.text)));
    routes.push(route(back, minus, sink, &format!("The return of {:?}", draft.name.text)));

    let rails = (plus, minus);
    for line in draft.card.all_lines() {
        let leg = match line.word.as_str() {
            "leg" => leg(&mut weaver, line, rails, rails_known, draft.supply),
            "jumper" => jumper(&mut weaver, line, draft.supply),
            "chain" => {
                chain(weaver.desk, line);
                None
            }
            _ => None,
        };
        if let Some((leg, route)) = leg {
            routes.push(route);
            made.legs.push(leg);
        }
    }
    made.notes = std::mem::take(&mut weaver.notes);
    desk.scheme.circuits.push(made);
}

fn leg(
    weaver: &mut Weaver<'_>,
    line: &Line,
    rails: (NodeId, NodeId),
    rails_known: bool,
    supply: Option<SupplyId>,
) -> Option<(LegId, Route)> {
    let desk = &mut *weaver.desk;
    let card = Card::open(desk, line, &Words { props: &["from", "to"], lines: STEPS });
    let name = card.name(desk, 0, "The leg's name")?;
    card.no_more(desk, 1);
    let said = |desk: &mut Desk, word: &str| {
        let name = card.prop(word).and_then(|arg| desk.name(arg))?;
        Some(Said { node: wire(desk, &name), span: name.span, wire: name.text })
    };
    let (from, to) = (said(desk, "from"), said(desk, "to"));
    if from.is_some() != to.is_some() {
        let (there, lacking) = if from.is_some() { ("from", "to") } else { ("to", "from") };
        let at = from.as_ref().or(to.as_ref()).map_or(name.span, |said| said.span);
        desk.report(
            Finding::error(
                "leg-one-end",
                format!("The leg {:?} says {there} but no {lacking}.", name.text),
            )
            .at(at, format!("{there} without {lacking}"))
            .why("a leg goes from rail to rail, or says both its ends; half an answer hides a slip")
            .help(format!("add {lacking}=…, or take {there} out")),
        );
    }
    if let (Some(from), Some(to)) = (&from, &to)
        && from.node == to.node
    {
        let message =
            format!("The leg {:?} begins and ends at the same wire {:?}.", name.text, to.wire);
        desk.error("leg-loop", to.span, "the same wire", message);
    }
    let rail_to_rail = from.is_none() && to.is_none();
    let start = from.as_ref().map_or(rails.0, |said| said.node);
    let end = to.as_ref().map_or(rails.1, |said| said.node);
    let id = LegId::from_index(desk.scheme.legs.len());
    weaver.leg = Some(id);
    let notes = card.notes(weaver.desk);
    weaver.notes.extend(notes);
    let path = weaver.leg_path(&line.lines, start, end, &name, rails_known || !rail_to_rail);
    weaver.leg = None;
    let strand = Strand { from: start, to: end, chain: chain_of(&path) };
    let circuit = weaver.circuit;
    weaver.desk.scheme.legs.push(Leg {
        name: name.text.clone(),
        circuit,
        strand,
        rail_to_rail,
        span: name.span,
    });
    let route = Route {
        path,
        from: start,
        to: end,
        called: format!("The leg {:?}", name.text),
        span: name.span,
        supply,
        from_said: from,
        to_said: to,
    };
    Some((id, route))
}

/// `jumper A B`: a leg of one part.
fn jumper(
    weaver: &mut Weaver<'_>,
    line: &Line,
    supply: Option<SupplyId>,
) -> Option<(LegId, Route)> {
    let desk = &mut *weaver.desk;
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    let first = card.name(desk, 0, "The jumper's first wire")?;
    let second = card.name(desk, 1, "The jumper's second wire")?;
    card.no_more(desk, 2);
    let notes = card.notes(desk);
    let (from, to) = (wire(desk, &first), wire(desk, &second));
    if from == to {
        let message = format!("The jumper joins {:?} to itself.", first.text);
        desk.error("leg-loop", second.span, "the same wire", message);
        return None;
    }
    let name = format!("jumper {} {}", first.text, second.text);
    let id = PartId::from_index(desk.scheme.parts.len());
    if !desk.claim_name(&name, first.span, super::desk::Thing::Part(id)) {
        return None;
    }
    desk.scheme.parts.push(Part {
        name: name.clone(),
        own_name: String::new(),
        device: None,
        kind: PartKind::Jumper,
        terminals: None,
        shows: None,
        watches: None,
        at: None,
        span: first.span,
    });
    weaver.notes.extend(notes);
    let leg = LegId::from_index(weaver.desk.scheme.legs.len());
    weaver.leg = Some(leg);
    let path = weaver.single(id, from, to, line.span);
    weaver.leg = None;
    let (circuit, desk) = (weaver.circuit, &mut *weaver.desk);
    let strand = Strand { from, to, chain: chain_of(&path) };
    desk.scheme.legs.push(Leg {
        name: name.clone(),
        circuit,
        strand,
        rail_to_rail: false,
        span: first.span,
    });
    let said = |node, name: Name| Some(Said { node, span: name.span, wire: name.text });
    let route = Route {
        path,
        from,
        to,
        called: format!("The {name}"),
        span: first.span,
        supply,
        from_said: said(from, first),
        to_said: said(to, second),
    };
    Some((leg, route))
}

/// `chain WIRE POINTS`.
fn chain(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    let Some(name) = card.name(desk, 0, "The wire of the chain") else { return };
    super::world::take_notes(desk, &card);
    let points: Vec<Name> = line.args.iter().skip(1).filter_map(|arg| desk.name(arg)).collect();
    if points.len() < 2 {
        let message = format!("The chain of {:?} has fewer than two points.", name.text);
        desk.error("chain-short", name.span, "nothing to join", message);
    }
    for point in &points {
        let known = point.text.split_once(':').filter(|(thing, screw)| {
            !screw.is_empty() && (desk.things.get(thing).is_some() || desk.blocks.contains(*thing))
        });
        if known.is_none() {
            desk.daisy_points.push(point.clone());
        }
    }
    let wire = wire(desk, &name);
    desk.mentions.push((wire, name.clone()));
    desk.scheme.chains.push(DaisyChain {
        wire,
        points: points.into_iter().map(|point| point.text).collect(),
        span: name.span,
    });
}

/// Reports the points of daisy chains that name nothing, once all parts are known.
pub(super) fn report_points(desk: &mut Desk) {
    for point in std::mem::take(&mut desk.daisy_points) {
        let Some((thing, screw)) = point.text.split_once(':') else {
            desk.report(
                Finding::error("chain-point", format!("{:?} is no point of a chain.", point.text))
                    .at(point.span, "not DEVICE:TERMINAL")
                    .help("write \"F2:2\": the device or part, a colon, its screw"),
            );
            continue;
        };
        if desk.things.get(thing).is_some() || desk.blocks.contains(thing) {
            if screw.is_empty() {
                let message = format!("{:?} names no screw.", point.text);
                desk.error("chain-point", point.span, "nothing after the colon", message);
            }
            continue;
        }
        let name = Name { text: thing.to_owned(), span: point.span };
        let known = owned(desk.things.names());
        desk.unknown("device", "device-unknown", &name, &known);
    }
}

/// Reports a word that can't stand where the parts of a circuit stand.
pub(super) fn not_a_step(desk: &mut Desk, context: &str, line: &Line) {
    if line.word == "branch" {
        desk.report(
            Finding::error("branch-alone", "A branch stands in parallel only.")
                .at(line.span, "no parallel around it")
                .help("write its parts here one under the other, or put parallel { … } around the ways"),
        );
        return;
    }
    unknown_word(desk, context, line, STEPS, &[]);
}
