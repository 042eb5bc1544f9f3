//! Shorts by operation: contacts that join plus and minus with no load between.
//!
//! **In:** a study. **Out:** for every supply the sets of contacts that short it when they are
//! closed together, with the current and the fuses that would have to clear it; a finding for each.
//! **Never here:** whether a run leads there (every set of contacts that logic allows counts), the
//! time a fuse takes.
//!
//! Contacts, links, fuses, conductors, elements and diodes (from anode to cathode) carry the short.
//! A resistor, or a coil made to stand in series (it picks up below a tenth of the supply's lowest
//! voltage), carries it too if the current is as a short's: ten times the largest fuse on its way,
//! or 100 A where there is none (common practice, no source). Contacts that can't be closed together
//! (two positions of one device, one statement and its contrary) are never on one way.

use crate::Study;
use crate::ties::possible;
use crate::words::list;
use fiftytwo_circuit::bench::Warmth;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, NodeId, PartId, PartKind, Scheme, Severity, SupplyId};
use serde::Serialize;
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

/// So many shorts of one supply are told.
const MOST_SHORTS: usize = 8;
/// More steps than this: the search is given up, and that is told.
const MOST_STEPS: usize = 20_000;
/// A load that lets through so many times the rating of the largest fuse on its way is a short.
const TIMES_THE_FUSE: f64 = 10.0;
/// A load that lets through so much where there is no fuse is a short, A.
const WITHOUT_FUSE: f64 = 100.0;
/// A coil that picks up below this share of the supply stands in series with others.
const IN_SERIES: f64 = 0.1;

/// What was found about shorts.
#[derive(Debug, Clone, Serialize)]
pub struct Shorts {
    /// The shorts, supply by supply, those with the fewest contacts first.
    pub list: Vec<ShortBy>,
    /// Supplies whose search was given up: the list may lack some of theirs.
    pub given_up: Vec<String>,
    /// Findings, each with its cure.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Contacts that short a supply.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShortBy {
    /// The supply.
    pub supply: String,
    /// The contacts that must be closed together; empty: it is always shorted.
    pub contacts: Vec<String>,
    /// All parts from plus to minus.
    pub path: Vec<String>,
    /// Resistors, coils and diodes on it that are no load worth the name.
    pub through: Vec<String>,
    /// Resistance of the loop with the supply, ohm, least and greatest.
    pub ohms: [f64; 2],
    /// Current, A, least and greatest; none: nothing with a resistance is in the loop.
    pub amps: Option<[f64; 2]>,
    /// The fuses that would have to clear it, with their ratings, A.
    pub fuses: Vec<(String, f64)>,
}

/// A step of a way.
#[derive(Clone, Copy)]
struct Edge {
    to: NodeId,
    part: Option<PartId>,
    ohms: [f64; 2],
    load: bool,
}

#[derive(Clone)]
struct Label {
    at: NodeId,
    contacts: BTreeSet<PartId>,
    parts: Vec<PartId>,
    ohms: [f64; 2],
    loads: usize,
}

/// Looks for shorts of every supply.
pub fn shorts(study: &Study<'_, '_>) -> Shorts {
    let scheme = study.scheme();
    let mut result = Shorts { list: Vec::new(), given_up: Vec::new(), findings: Vec::new() };
    for id in scheme.supplies.ids() {
        let search = Search { scheme, id, around: around(study, id) };
        if !search.joined() {
            continue;
        }
        let (found, complete) = search.all();
        let name = &scheme.supplies[id].name;
        if !complete {
            result.given_up.push(name.clone());
            result.findings.push(
                Finding::new(
                    "shorts-not-all-found",
                    Severity::Finding,
                    format!("not every short of {name} by contacts was looked for: too many ways"),
                )
                .help(format!(
                    "fewer contacts between plus and minus than {MOST_STEPS} steps need"
                )),
            );
        }
        for label in found {
            let short = search.told(&label);
            result.findings.push(finding(scheme, &label, &short));
            result.list.push(short);
        }
    }
    result
}

/// Where each node leads without a load worth the name.
fn around(study: &Study<'_, '_>, id: SupplyId) -> Vec<Vec<Edge>> {
    let scheme = study.scheme();
    let supply = &scheme.supplies[id];
    let mut around: Vec<Vec<Edge>> = vec![Vec::new(); scheme.nodes.len()];
    for (part, item) in scheme.placed() {
        let Some(at) = item.at else { continue };
        let ohm = |warmth| study.bench.ohm(part, warmth).unwrap_or(0.0);
        let measured = [ohm(Warmth::Cold), ohm(Warmth::Hot)];
        let (both, ohms, load) = match &item.kind {
            PartKind::Contact(_)
            | PartKind::Link
            | PartKind::Fuse { .. }
            | PartKind::Terminal
            | PartKind::Jumper => (true, [0.0, 0.0], false),
            PartKind::Core(_) | PartKind::Element { .. } => (true, measured, false),
            PartKind::Diode(_) => (false, [0.0, 0.0], false),
            PartKind::Resistor { resistance, .. } => (true, [resistance.lo, resistance.hi], true),
            PartKind::Coil(coil) => {
                let series =
                    coil.surely_from().is_some_and(|from| from < IN_SERIES * supply.range.lo);
                match coil.resistance.as_ref().filter(|_| series) {
                    Some(ohm) => (true, [ohm.lo, ohm.hi], true),
                    None => continue,
                }
            }
            _ => continue,
        };
        let step = |to| Edge { to, part: Some(part), ohms, load };
        around[at.from.index()].push(step(at.to));
        if both {
            around[at.to.index()].push(step(at.from));
        }
    }
    for (a, b) in scheme.plain_wires() {
        let step = |to| Edge { to, part: None, ohms: [0.0, 0.0], load: false };
        around[a.index()].push(step(b));
        around[b.index()].push(step(a));
    }
    around
}

struct Search<'s> {
    scheme: &'s Scheme,
    id: SupplyId,
    around: Vec<Vec<Edge>>,
}

impl Search<'_> {
    /// Whether plus reaches minus at all, whatever the contacts.
    fn joined(&self) -> bool {
        let supply = &self.scheme.supplies[self.id];
        let mut reached = vec![false; self.around.len()];
        let mut queue = vec![supply.plus];
        while let Some(node) = queue.pop() {
            if node == supply.minus {
                return true;
            }
            if !std::mem::replace(&mut reached[node.index()], true) {
                queue.extend(self.around[node.index()].iter().map(|edge| edge.to));
            }
        }
        false
    }

    /// All smallest sets of contacts that short it, and whether the search came to its end.
    fn all(&self) -> (Vec<Label>, bool) {
        let supply = &self.scheme.supplies[self.id];
        let mut labels = vec![Label {
            at: supply.plus,
            contacts: BTreeSet::new(),
            parts: Vec::new(),
            ohms: [supply.resistance.lo, supply.resistance.hi],
            loads: 0,
        }];
        let mut settled: Vec<Vec<(BTreeSet<PartId>, usize)>> = vec![Vec::new(); self.around.len()];
        let mut queue = BinaryHeap::from([Reverse((0_usize, 0_usize, 0_usize, 0_usize))]);
        let mut found: Vec<Label> = Vec::new();
        while let Some(Reverse((_, _, _, number))) = queue.pop() {
            if labels.len() > MOST_STEPS {
                return (found, false);
            }
            let label = labels[number].clone();
            let known = found.iter().any(|short| short.contacts.is_subset(&label.contacts));
            let before = &mut settled[label.at.index()];
            let covered = before
                .iter()
                .any(|(set, loads)| *loads <= label.loads && set.is_subset(&label.contacts));
            if known || covered {
                continue;
            }
            before.push((label.contacts.clone(), label.loads));
            if label.at == supply.minus {
                if label.loads == 0 || self.is_short(&label) {
                    found.push(label);
                    if found.len() >= MOST_SHORTS {
                        return (found, queue.is_empty());
                    }
                }
                continue;
            }
            for edge in &self.around[label.at.index()] {
                if let Some(ahead) = self.ahead(&label, edge) {
                    queue.push(Reverse((
                        ahead.loads,
                        ahead.contacts.len(),
                        ahead.parts.len(),
                        labels.len(),
                    )));
                    labels.push(ahead);
                }
            }
        }
        (found, true)
    }

    fn ahead(&self, label: &Label, edge: &Edge) -> Option<Label> {
        let mut ahead = label.clone();
        ahead.at = edge.to;
        ahead.loads += usize::from(edge.load);
        ahead.ohms = [label.ohms[0] + edge.ohms[0], label.ohms[1] + edge.ohms[1]];
        let Some(part) = edge.part else { return Some(ahead) };
        if label.parts.contains(&part) {
            return None;
        }
        ahead.parts.push(part);
        if let PartKind::Contact(_) = &self.scheme.parts[part].kind {
            ahead.contacts.insert(part);
            let statements: Vec<_> = ahead
                .contacts
                .iter()
                .filter_map(|part| match &self.scheme.parts[*part].kind {
                    PartKind::Contact(contact) => Some(&contact.closed_when.expr),
                    _ => None,
                })
                .collect();
            if !possible(self.scheme, &statements) {
                return None;
            }
        }
        // Even the most that could flow is no short: a load worth the name.
        let supply = &self.scheme.supplies[self.id];
        let most = supply.range.hi / ahead.ohms[0].max(f64::MIN_POSITIVE);
        if ahead.loads > 0 && most < self.least_rating() {
            return None;
        }
        Some(ahead)
    }

    /// Below this no current counts as a short's, A.
    fn least_rating(&self) -> f64 {
        let fuses = self.scheme.placed().filter_map(|(_, part)| match &part.kind {
            PartKind::Fuse { rating, .. } => Some(TIMES_THE_FUSE * rating.hi),
            _ => None,
        });
        fuses.fold(WITHOUT_FUSE, f64::min)
    }

    fn is_short(&self, label: &Label) -> bool {
        let supply = &self.scheme.supplies[self.id];
        let amps = supply.range.hi / label.ohms[0].max(f64::MIN_POSITIVE);
        let fuse = self.fuses(label).iter().map(|(_, rating)| *rating).reduce(f64::max);
        amps >= fuse.map_or(WITHOUT_FUSE, |rating| TIMES_THE_FUSE * rating)
    }

    fn fuses(&self, label: &Label) -> Vec<(String, f64)> {
        let parts = label.parts.iter().map(|part| &self.scheme.parts[*part]);
        let rated = parts.filter_map(|part| match &part.kind {
            PartKind::Fuse { rating, .. } => Some((part.name.clone(), rating.hi)),
            _ => None,
        });
        rated.collect()
    }

    fn told(&self, label: &Label) -> ShortBy {
        let supply = &self.scheme.supplies[self.id];
        let name = |part: &PartId| self.scheme.parts[*part].name.clone();
        let kind = |part: &PartId| &self.scheme.parts[*part].kind;
        let wire = |part: &&PartId| !matches!(kind(part), PartKind::Terminal | PartKind::Jumper);
        let through = |part: &&PartId| {
            matches!(kind(part), PartKind::Resistor { .. } | PartKind::Coil(_) | PartKind::Diode(_))
        };
        let [least, most] = label.ohms;
        let amps = (least > 0.0).then(|| [supply.range.lo / most, supply.range.hi / least]);
        ShortBy {
            supply: supply.name.clone(),
            contacts: label.contacts.iter().map(name).collect(),
            path: label.parts.iter().filter(wire).map(name).collect(),
            through: label.parts.iter().filter(through).map(name).collect(),
            ohms: label.ohms,
            amps,
            fuses: self.fuses(label),
        }
    }
}

fn finding(scheme: &Scheme, label: &Label, short: &ShortBy) -> Finding {
    let supply = &short.supply;
    let current = short.amps.map_or_else(
        || "without limit: no resistance is declared in its loop".to_owned(),
        |[least, most]| format!("{least:.0} to {most:.0} A"),
    );
    let while_closed = match short.contacts.len() {
        0 => "always".to_owned(),
        1 => format!("while {} is closed", short.contacts[0]),
        _ => format!("while {} are closed together", list(&short.contacts)),
    };
    let through = if short.through.is_empty() {
        "with no load between".to_owned()
    } else {
        format!("with only {} between", list(&short.through))
    };
    let clears = if short.fuses.is_empty() {
        "no fuse is on its way".to_owned()
    } else {
        let fuses: Vec<String> =
            short.fuses.iter().map(|(name, rating)| format!("{name} ({rating} A)")).collect();
        format!("{} would have to clear it", list(&fuses))
    };
    let help = match label.contacts.len() {
        0 => "part plus and minus: a load belongs between them, 0 parts do this today".to_owned(),
        1 => format!("1 load in series with {}, or its leg led elsewhere", short.contacts[0]),
        many => format!(
            "1 load on the way, or contacts of one device that are never closed together: now \
             nothing keeps these {many} apart"
        ),
    };
    let mut finding = Finding::new(
        "supply-shorted-by",
        Severity::Finding,
        format!("plus and minus of {supply} are joined {while_closed}, {through}: {current}"),
    )
    .why(format!("from plus over {} to minus; {clears}", list(&short.path)))
    .help(help);
    let place = label.contacts.iter().chain(&label.parts).find_map(|part| scheme.parts[*part].at);
    if let Some(at) = place {
        finding = finding.at(at.span, "this joins the poles");
    }
    for name in short.contacts.iter().chain(&short.through) {
        finding = finding.device(name);
    }
    finding
}
