//! What the wiring as a whole must keep: wires with two ends, AC apart from DC, changeovers whole.

use super::desk::{Desk, owned};
use super::names::nearest;
use super::path::{Path, Route, What};
use crate::arena::Id;
use crate::finding::{Finding, Severity};
use crate::ids::{CableId, NodeId, PartId, SupplyId};
use crate::part::PartKind;
use crate::source::Span;
use crate::text::{self, Kind};
use crate::world::CurrentKind;
use std::collections::BTreeMap;

/// Checks the wiring once all routes are read.
pub(super) fn check(desk: &mut Desk, routes: &[Route]) {
    ends(desk, routes);
    currents(desk, routes);
    changeovers(desk);
    percents(desk);
}

/// Every wire number joins at least two ends.
fn ends(desk: &mut Desk, routes: &[Route]) {
    let mut count: BTreeMap<NodeId, usize> = BTreeMap::new();
    for route in routes {
        for tread in &route.path.treads {
            *count.entry(tread.from).or_default() += 1;
            *count.entry(tread.to).or_default() += 1;
        }
        inner_ends(&route.path, &mut count);
    }
    let mut told: Vec<NodeId> = Vec::new();
    for route in routes {
        let ends = [(&route.from_said, "begins at"), (&route.to_said, "ends at")];
        for (said, verb) in ends {
            let Some(said) = said else { continue };
            let alone = count.get(&said.node).copied().unwrap_or(0) < 2;
            if !alone || told.contains(&said.node) || desk.lost_wires.contains(&said.node) {
                continue;
            }
            told.push(said.node);
            if route.path.treads.is_empty() {
                continue;
            }
            let known = owned(desk.wires.names());
            let near = nearest(&said.wire, known.iter().map(String::as_str));
            let help = match near {
                Some(near) => format!("did you mean {near:?}?"),
                None => "write that wire number in the leg it joins".to_owned(),
            };
            desk.report(
                Finding::error(
                    "leg-nowhere",
                    format!(
                        "{} {verb} wire {:?}, which is written nowhere else.",
                        route.called, said.wire
                    ),
                )
                .at(said.span, "nothing else hangs on it")
                .help(help)
                .wire(&said.wire),
            );
        }
    }
    let lonely: Vec<(NodeId, String, Span)> = desk
        .scheme
        .nodes
        .iter()
        .filter(|(id, _)| !told.contains(id) && !desk.lost_wires.contains(id))
        .filter(|(id, _)| count.get(id).copied().unwrap_or(0) == 1)
        .filter(|(id, _)| {
            !desk.scheme.supplies.values().any(|one| one.plus == *id || one.minus == *id)
        })
        .filter_map(|(id, node)| Some((id, node.wire.clone()?, node.span?)))
        .collect();
    for (node, wire, span) in lonely {
        let rail = desk.scheme.circuits.values().find(|one| one.plus == node || one.minus == node);
        // A circuit without legs gets its own note.
        if rail.is_some_and(|circuit| circuit.legs.is_empty()) {
            continue;
        }
        desk.report(
            Finding::error("wire-one-end", format!("Wire {wire:?} has only one end."))
                .at(span, "nothing else hangs on it")
                .help("join it to what it should feed, or take the number out")
                .wire(wire),
        );
    }
    for (node, name) in std::mem::take(&mut desk.mentions) {
        if count.get(&node).copied().unwrap_or(0) == 0 {
            let known: Vec<String> =
                owned(desk.wires.names()).into_iter().filter(|wire| *wire != name.text).collect();
            desk.unknown("wire", "wire-unknown", &name, &known);
        }
    }
}

fn inner_ends(path: &Path, count: &mut BTreeMap<NodeId, usize>) {
    for tread in &path.treads {
        let What::Ways(ways) = &tread.what else { continue };
        for way in ways {
            let last = way.treads.len().saturating_sub(1);
            for (index, inner) in way.treads.iter().enumerate() {
                if index > 0 {
                    *count.entry(inner.from).or_default() += 1;
                }
                if index < last {
                    *count.entry(inner.to).or_default() += 1;
                }
            }
            inner_ends(way, count);
        }
    }
}

/// Calls `visit` for every node and core of a path.
fn each(path: &Path, visit: &mut impl FnMut(Seen, Span)) {
    for tread in &path.treads {
        visit(Seen::Node(tread.from), tread.span);
        visit(Seen::Node(tread.to), tread.span);
        match &tread.what {
            What::Part(part) => visit(Seen::Part(*part), tread.span),
            What::Core { cable: Some(cable), .. } => visit(Seen::Cable(*cable), tread.span),
            What::Core { cable: None, .. } | What::Lost => {}
            What::Ways(ways) => ways.iter().for_each(|way| each(way, visit)),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Seen {
    Node(NodeId),
    Cable(CableId),
    Part(PartId),
}

/// AC and DC never share a wire, a cable or a changeover.
fn currents(desk: &mut Desk, routes: &[Route]) {
    let mut first: BTreeMap<Seen, (CurrentKind, SupplyId, Span)> = BTreeMap::new();
    let mut mixed: Vec<(Seen, Span, Span, SupplyId, SupplyId)> = Vec::new();
    let mut joined: Vec<(Seen, Span, Span, SupplyId, SupplyId)> = Vec::new();
    for route in routes {
        let Some(supply) = route.supply else { continue };
        let current = desk.scheme.supplies[supply].current;
        each(&route.path, &mut |seen, span| {
            let known = *first.entry(seen).or_insert((current, supply, span));
            let tied = known.1 != supply && matches!(seen, Seen::Node(_));
            if tied && known.0 == current && !joined.iter().any(|(other, ..)| *other == seen) {
                joined.push((seen, span, known.2, supply, known.1));
            }
            if known.0 != current && !mixed.iter().any(|(other, ..)| *other == seen) {
                mixed.push((seen, span, known.2, supply, known.1));
            }
        });
    }
    for (seen, span, earlier, supply, other) in joined {
        let Seen::Node(node) = seen else { continue };
        let Some(wire) = desk.scheme.nodes[node].wire.clone() else { continue };
        let supplies = &desk.scheme.supplies;
        let (here, there) = (&supplies[supply].name, &supplies[other].name);
        let message = format!("Wire {wire:?} stands in circuits of {here} and of {there}.");
        let finding = Finding::new("supplies-joined", Severity::Finding, message)
            .at(span, format!("{here} here"))
            .and_at(earlier, format!("{there} here"))
            .why("one wire joins the two: a fault or a loss of one is a fault of both")
            .help("give each supply its own wire numbers")
            .wire(wire);
        desk.report(finding);
    }
    for (seen, span, earlier, supply, other) in mixed {
        let supplies = &desk.scheme.supplies;
        let (here, there) = (supplies[supply].name.clone(), supplies[other].name.clone());
        let what = match seen {
            Seen::Node(node) => match &desk.scheme.nodes[node].wire {
                Some(wire) => format!("wire {wire:?}"),
                None => continue,
            },
            Seen::Cable(cable) => format!("the cable {:?}", desk.scheme.cables[cable].name),
            Seen::Part(_) => continue,
        };
        let id = if matches!(seen, Seen::Cable(_)) { "ac-dc-cable" } else { "ac-dc-wire" };
        desk.report(
            Finding::error(
                id,
                format!("{here} and {there} share {what}: one is AC, the other DC."),
            )
            .at(span, format!("{here} here"))
            .and_at(earlier, format!("{there} here"))
            .why("a fault between them would put AC on the battery's control wiring")
            .help("give each its own"),
        );
    }
    let currents: BTreeMap<PartId, CurrentKind> = first
        .iter()
        .filter_map(|(seen, (current, ..))| match seen {
            Seen::Part(part) => Some((*part, *current)),
            _ => None,
        })
        .collect();
    shared_screws(desk, |desk, one, two, screw| {
        let (a, b) = (currents.get(&one), currents.get(&two));
        if let (Some(a), Some(b)) = (a, b)
            && a != b
        {
            let scheme = &desk.scheme;
            let (one, two) = (&scheme.parts[one], &scheme.parts[two]);
            let message = format!(
                "{:?} and {:?} share screw {screw}: one is on AC, the other on DC.",
                one.name, two.name
            );
            let finding = Finding::error("ac-dc-changeover", message)
                .at(two.at.map_or(two.span, |at| at.span), "the other current")
                .and_at(one.at.map_or(one.span, |at| at.span), "one current")
                .why("a changeover that flashes over joins the two");
            desk.report(finding);
            return true;
        }
        false
    });
}

/// Calls `visit` for every two contacts of a device with a screw in common.
fn shared_screws(desk: &mut Desk, mut visit: impl FnMut(&mut Desk, PartId, PartId, &str) -> bool) {
    let devices: Vec<Vec<PartId>> =
        desk.scheme.devices.values().map(|device| device.parts.clone()).collect();
    for parts in devices {
        for (index, one) in parts.iter().enumerate() {
            for two in parts.iter().skip(index + 1) {
                let screws = |part: &PartId| desk.scheme.parts[*part].terminals.clone();
                let (Some(a), Some(b)) = (screws(one), screws(two)) else { continue };
                for screw in [&a.0, &a.1] {
                    if *screw == b.0 || *screw == b.1 {
                        visit(desk, *one, *two, screw);
                    }
                }
            }
        }
    }
}

/// A screw shared by two contacts is one point; more or others can't share one.
fn changeovers(desk: &mut Desk) {
    let mut reported: Vec<(PartId, String)> = Vec::new();
    shared_screws(desk, |desk, one, two, screw| {
        let scheme = &desk.scheme;
        let (a, b) = (&scheme.parts[one], &scheme.parts[two]);
        let contacts =
            matches!(a.kind, PartKind::Contact(_)) && matches!(b.kind, PartKind::Contact(_));
        let node = |part: &crate::part::Part| {
            let at = part.at?;
            let (upper, _) = part.terminals.as_ref()?;
            Some(if upper == screw { at.from } else { at.to })
        };
        let split = match (node(a), node(b)) {
            (Some(a), Some(b)) => a != b,
            _ => false,
        };
        if contacts && !split || reported.contains(&(one, screw.to_owned())) {
            return false;
        }
        reported.push((one, screw.to_owned()));
        let finding = if contacts {
            Finding::error(
                "changeover-split",
                format!(
                    "{:?} and {:?} share screw {screw}, but stand on different points.",
                    a.name, b.name
                ),
            )
            .at(b.at.map_or(b.span, |at| at.span), "on another point")
            .why("one screw is one point: the print can't be wired")
            .help("lead both contacts to the same wire, or give them their own screws")
        } else {
            Finding::error(
                "terminals",
                format!("{:?} and {:?} share screw {screw}.", a.name, b.name),
            )
            .at(b.span, "shared")
            .why("only the two contacts of a changeover have a screw in common")
        };
        let finding = finding
            .and_at(a.at.map_or(a.span, |at| at.span), "the other")
            .device(&a.name)
            .device(&b.name);
        desk.report(finding);
        true
    });
}

/// Coil voltages in percent, now that every coil has its supply.
fn percents(desk: &mut Desk) {
    use super::desk::{CoilVolts, Percent};
    for Percent { coil, which, text: written, span } in std::mem::take(&mut desk.percents) {
        let part = &desk.scheme.parts[coil];
        let circuit = part.at.filter(|at| at.circuit.index() < desk.scheme.circuits.len());
        let supply = circuit
            .map(|at| desk.scheme.circuits[at.circuit].supply)
            .filter(|supply| supply.index() < desk.scheme.supplies.len());
        let Some(supply) = supply else {
            if part.at.is_none() {
                let message = format!("{written:?} of {:?} is percent of nothing.", part.name);
                desk.report(
                    Finding::error("percent-of-nothing", message)
                        .at(span, "no base")
                        .why("the coil has no rated voltage and stands in no circuit")
                        .help("add rated=\"125 V\", or write volts"),
                );
            }
            continue;
        };
        let base = desk.scheme.supplies[supply].nominal.middle();
        let arg = super::frame::Arg { text: written, form: super::frame::Form::Quoted, span };
        let Some(volts) =
            desk.quantity(&arg, Kind::Voltage, |text| text::volts_or_percent(text, Some(base)))
        else {
            continue;
        };
        if let PartKind::Coil(coil) = &mut desk.scheme.parts[coil].kind {
            match which {
                CoilVolts::Works => coil.works = Some(volts),
                CoilVolts::Pickup => coil.pickup = Some(volts),
                CoilVolts::Dropout => coil.dropout = Some(volts),
            }
        }
    }
}
