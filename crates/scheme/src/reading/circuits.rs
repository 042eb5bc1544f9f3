//! Circuits: what they hang on, their rails, and their legs one by one.

use super::card::{Card, Words};
use super::desk::{Desk, Name, owned};
use super::frame::Line;
use super::hanging::{self, Draft, Rails};
use super::path::{Path, Route, Said, Weaver, chain_of, wire};
use crate::arena::Id;
use crate::circuits::{Circuit, DaisyChain, Leg, Strand};
use crate::finding::Finding;
use crate::ids::{CircuitId, LegId, NodeId, PartId, SupplyId};
use crate::part::{Part, PartKind};
use crate::text::OF_CHAIN;

/// Reads all circuits; gives back the routes for walking their places.
pub(super) fn all(desk: &mut Desk, lines: &[&Line]) -> Vec<Route> {
    let drafts = hanging::drafts(desk, lines);
    let mut routes = Vec::new();
    for (index, draft) in drafts.iter().enumerate() {
        read(desk, index, draft, &drafts, &mut routes);
    }
    routes
}

fn read(
    desk: &mut Desk,
    index: usize,
    draft: &Draft<'_>,
    drafts: &[Draft<'_>],
    routes: &mut Vec<Route>,
) {
    let circuit = CircuitId::from_index(index);
    let Rails { source, sink, plus, minus, known } = Rails::of(desk, draft, drafts);
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
        sound: known,
    };
    routes.push(route(feed, source, plus, &format!("The feed of {:?}", draft.name.text)));
    routes.push(route(back, minus, sink, &format!("The return of {:?}", draft.name.text)));

    let rails = (plus, minus);
    for line in draft.card.all_lines() {
        let leg = match line.word.as_str() {
            "leg" => leg(&mut weaver, line, rails, known, draft.supply),
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
    known: bool,
    supply: Option<SupplyId>,
) -> Option<(LegId, Route)> {
    let desk = &mut *weaver.desk;
    let card = Card::open(desk, line, &Words { props: &["from", "to"], lines: OF_CHAIN });
    let name = card.name(desk, 0, "The leg's name")?;
    card.no_more(desk, 1);
    let circuit = weaver.circuit;
    let first =
        desk.scheme.legs.values().find(|leg| leg.circuit == circuit && leg.name == name.text);
    let first = first.map(|leg| leg.span);
    super::world::twice(desk, "leg", &name, first);
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
    let path = weaver.leg_path(&line.lines, start, end, &name, known || !rail_to_rail);
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
        sound: from.is_some() == to.is_some() && (known || !rail_to_rail),
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
        sound: true,
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
