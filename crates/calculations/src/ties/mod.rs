//! Ties: no conducting path joins two supplies, in any position of the contacts.
//!
//! **In:** a scheme. **Out:** for every two supplies the paths that join a pole of the one with a
//! pole of the other, with the contacts that must be closed; findings with the place to part them.
//! **Never here:** volts. One point of contact is enough: no current need flow, the two are tied
//! before anything happens, and a ground on the one is a ground on the other.
//!
//! Everything that carries direct current joins its two ends: wires, contacts, fuses, lamps,
//! diodes either way, coils, resistors, inputs, motors. What a device keeps apart it keeps apart:
//! a coil does not join its circuit to that of its contacts, an input not to what it makes the
//! device think. Grounds and detectors are no ties here (see the section on grounds).

mod possible;
mod search;

use crate::words::list;
use fiftytwo_scheme::{Finding, PartId, PartKind, Scheme, Severity, SupplyId};
pub(crate) use possible::possible;
use search::{Found, Search};
use serde::Serialize;

/// So many ties of two supplies are told.
const MOST_TIES: usize = 8;

/// What was found about ties.
#[derive(Debug, Clone, Serialize)]
pub struct Ties {
    /// Every two supplies, in source order.
    pub pairs: Vec<Pair>,
    /// Findings, each with its cure.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Two supplies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// The one.
    pub one: String,
    /// The other.
    pub other: String,
    /// No path joins them, whatever the contacts do.
    pub apart: bool,
    /// The search for paths was given up; the list of ties may lack some.
    pub given_up: bool,
    /// The paths, those with the fewest contacts first.
    pub ties: Vec<Tie>,
}

/// A path between poles of two supplies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tie {
    /// The pole it leaves: "DC1-".
    pub from: String,
    /// The pole it reaches.
    pub to: String,
    /// Its parts in order; wires and terminals are left out.
    pub path: Vec<String>,
    /// The contacts that must be closed; empty: the two are always tied.
    pub contacts: Vec<String>,
    /// Loads on it: a tie all the same.
    pub loads: Vec<String>,
    /// The wire where it leaves the circuits of the one supply.
    pub wire: Option<String>,
    /// Two of the contacts that are never closed together: all that keeps the supplies apart.
    pub kept_apart_by: Option<[String; 2]>,
    /// These two share a screw: a changeover.
    pub changeover: bool,
}

/// Looks for ties between every two supplies.
pub fn ties(scheme: &Scheme) -> Ties {
    let mut result = Ties { pairs: Vec::new(), findings: Vec::new() };
    let ids: Vec<SupplyId> = scheme.supplies.ids().collect();
    for (index, &one) in ids.iter().enumerate() {
        for &other in &ids[index + 1..] {
            pair(scheme, one, other, &mut result);
        }
    }
    result
}

fn pair(scheme: &Scheme, one: SupplyId, other: SupplyId, result: &mut Ties) {
    let mut search = Search::new(scheme, one, other);
    let mut ties = Vec::new();
    let mut given_up = false;
    let (a, b) = (&scheme.supplies[one].name, &scheme.supplies[other].name);
    while ties.len() < MOST_TIES && search.joined() {
        let Some(found) = search.next() else {
            given_up = true;
            break;
        };
        let tie = told(scheme, &found);
        result.findings.push(finding(scheme, &found, &tie, a, b));
        ties.push(tie);
        search.part_at(&found);
    }
    if given_up || search.joined() {
        given_up = true;
        result.findings.push(
            Finding::new(
                "ties-not-counted",
                Severity::Finding,
                format!("{a} and {b} may be joined in more ways than were followed"),
            )
            .at(scheme.supplies[one].span, "joined with another supply")
            .help(format!("mend the {} ways that are told, then check again", ties.len())),
        );
    }
    result.pairs.push(Pair {
        one: a.clone(),
        other: b.clone(),
        apart: ties.is_empty() && !given_up,
        given_up,
        ties,
    });
}

fn told(scheme: &Scheme, found: &Found) -> Tie {
    let name = |part: &PartId| scheme.parts[*part].name.clone();
    let is_load = |part: &&PartId| {
        !matches!(
            scheme.parts[**part].kind,
            PartKind::Contact(_)
                | PartKind::Link
                | PartKind::Fuse { .. }
                | PartKind::Core(_)
                | PartKind::Terminal
                | PartKind::Jumper
        )
    };
    let wire = |part: &&PartId| {
        !matches!(scheme.parts[**part].kind, PartKind::Terminal | PartKind::Jumper)
    };
    let pole = |node| scheme.nodes[node].wire.clone().unwrap_or_default();
    Tie {
        from: pole(found.from),
        to: pole(found.to),
        path: found.parts.iter().filter(wire).map(name).collect(),
        contacts: found.contacts(scheme).iter().map(name).collect(),
        loads: found.parts.iter().filter(is_load).map(name).collect(),
        wire: found.crossing.and_then(|(node, _)| scheme.nodes[node].wire.clone()),
        kept_apart_by: found.kept_apart.map(|(a, b)| [name(&a), name(&b)]),
        changeover: found.kept_apart.is_some_and(|(a, b)| share_a_screw(scheme, a, b)),
    }
}

fn share_a_screw(scheme: &Scheme, a: PartId, b: PartId) -> bool {
    let screws = |part: PartId| scheme.parts[part].terminals.clone();
    scheme.parts[a].device == scheme.parts[b].device
        && screws(a)
            .zip(screws(b))
            .is_some_and(|(a, b)| a.0 == b.0 || a.0 == b.1 || a.1 == b.0 || a.1 == b.1)
}

fn finding(scheme: &Scheme, found: &Found, tie: &Tie, a: &str, b: &str) -> Finding {
    let through = if tie.loads.is_empty() {
        "without any load".to_owned()
    } else {
        format!("through {}", list(&tie.loads))
    };
    let at = tie.wire.as_ref().map_or_else(String::new, |wire| format!(" at wire {wire}"));
    let (id, message, help) = match &tie.kept_apart_by {
        Some([one, other]) => {
            let (what, keep) =
                if tie.changeover { ("the changeover", "keeps") } else { ("the contacts", "keep") };
            (
                "changeover-between-supplies",
                format!("only {what} {one} and {other} {keep} {a} and {b} apart: they meet{at}"),
                format!(
                    "2 contacts of different devices, or a relay of its own for {b}: one that \
                     flashes over or welds joins both batteries"
                ),
            )
        }
        None if tie.contacts.is_empty() => (
            "supplies-tied",
            format!("{a} and {b} are always joined{at}, {through}"),
            format!(
                "part them{at}: no wire in common, each of the 2 circuits back to its own supply"
            ),
        ),
        None => (
            "supplies-tied",
            format!(
                "{a} and {b} are joined{at}, {through}, while {} {} closed",
                list(&tie.contacts),
                if tie.contacts.len() == 1 { "is" } else { "are" }
            ),
            format!(
                "part them{at} by a contact of a second device, or by 1 relay whose coil stands on \
                 {a} and whose contact stands on {b}"
            ),
        ),
    };
    let mut finding = Finding::new(id, Severity::Finding, message)
        .why(format!(
            "from {} over {} to {}: a ground on the one battery is then a ground on the other, and \
             losing one pole feeds back from the other",
            tie.from,
            list(&tie.path),
            tie.to
        ))
        .help(help);
    let place = found.crossing.map(|(_, part)| part).or(found.parts.first().copied());
    if let Some(at) = place.and_then(|part| scheme.parts[part].at) {
        finding = finding.at(at.span, "here they meet");
    }
    for contact in &tie.contacts {
        finding = finding.device(contact);
    }
    finding
}
