//! What stands across a coil: chains of diodes, varistors, resistors and capacitors between its two
//! ends.

use fiftytwo_circuit::Wiring;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, Part, PartId, PartKind, Scheme};

/// A chain is followed over so many parts.
const MOST_PARTS: usize = 12;

/// A chain across a coil.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Across {
    pub(super) coil: PartId,
    /// From the coil's upper end to its lower, with whether a part stands upside up there.
    pub(super) parts: Vec<(PartId, bool)>,
    /// The coil's two ends as wires, for coils side by side.
    pub(super) ends: (usize, usize),
    /// Positive end when driven: the upper, the lower, either.
    pub(super) upper_positive: bool,
    pub(super) lower_positive: bool,
    /// Contacts, links and cores that the chain bridges together with the coil; empty: it stands at
    /// the coil itself.
    pub(super) inside: Vec<PartId>,
}

/// Wires: nodes that terminals, jumpers and legs without parts make one.
pub(super) struct Wires {
    root: Vec<usize>,
}

impl Wires {
    pub(super) fn new(scheme: &Scheme) -> Self {
        let mut wires = Self { root: (0..scheme.nodes.len()).collect() };
        for (_, part) in scheme.placed() {
            if let (Some(at), PartKind::Terminal | PartKind::Jumper) = (part.at, &part.kind) {
                wires.join(at.from, at.to);
            }
        }
        for (a, b) in scheme.plain_wires() {
            wires.join(a, b);
        }
        wires
    }
    fn join(&mut self, a: NodeId, b: NodeId) {
        let (a, b) = (self.of(a), self.of(b));
        self.root[a.max(b)] = a.min(b);
    }
    pub(super) fn of(&self, node: NodeId) -> usize {
        let mut at = node.index();
        while self.root[at] != at {
            at = self.root[at];
        }
        at
    }
}

/// All chains across all placed coils, in source order.
pub(super) fn all(wiring: &Wiring<'_>) -> Vec<Across> {
    let scheme = wiring.scheme();
    let wires = Wires::new(scheme);
    let around = around(scheme, &wires);
    let mut found = Vec::new();
    for (coil, part, _) in scheme.coils() {
        let Some(at) = part.at else { continue };
        let (upper, lower) = (wires.of(at.from), wires.of(at.to));
        if upper == lower {
            continue;
        }
        let follow = Follow { scheme, wires: &wires, around: &around, coil, lower };
        let mut chains = Vec::new();
        follow.on(upper, &mut Vec::new(), &mut chains);
        if chains.is_empty() {
            continue;
        }
        let (upper_positive, lower_positive) = polarity(wiring, &wires, coil);
        found.extend(chains.into_iter().map(|parts| Across {
            coil,
            parts,
            ends: (upper.min(lower), upper.max(lower)),
            upper_positive,
            lower_positive,
            inside: Vec::new(),
        }));
    }
    found
}

/// Diodes and clamps that stand across a coil and what is in series with it together, on some way of
/// the coil: for each coil and chain the one with the fewest parts inside. Only those that are open
/// while the coil is driven.
pub(super) fn beyond(wiring: &Wiring<'_>) -> Vec<Across> {
    let scheme = wiring.scheme();
    let bends = |part: &Part| matches!(part.kind, PartKind::Diode(_) | PartKind::Varistor(_));
    if !scheme.placed().any(|(_, part)| bends(part)) {
        return Vec::new();
    }
    let wires = Wires::new(scheme);
    let around = around(scheme, &wires);
    let mut found: Vec<Across> = Vec::new();
    for (coil, part, _) in scheme.coils() {
        let Some(at) = part.at else { continue };
        let own = [wires.of(at.from), wires.of(at.to)];
        for way in &wiring.ways(coil).list {
            let mut node = wires.of(scheme.supplies[way.supply].plus);
            let mut nodes = vec![node];
            for part in &way.parts {
                let Some(at) = scheme.parts[*part].at else { break };
                let (a, b) = (wires.of(at.from), wires.of(at.to));
                node = if a == node { b } else { a };
                nodes.push(node);
            }
            let Some(place) = way.parts.iter().position(|part| *part == coil) else { continue };
            for (above, &upper) in nodes.iter().enumerate().take(place + 1) {
                for (below, &lower) in nodes.iter().enumerate().skip(place + 1) {
                    if own.contains(&upper) && own.contains(&lower) {
                        continue;
                    }
                    let inside: Vec<PartId> = way
                        .parts
                        .get(above..below)
                        .unwrap_or_default()
                        .iter()
                        .copied()
                        .filter(|part| *part != coil)
                        .collect();
                    // Nothing but what switches or conducts may stand inside.
                    if !inside.iter().all(|part| conducts(&scheme.parts[*part].kind)) {
                        continue;
                    }
                    let follow = Follow { scheme, wires: &wires, around: &around, coil, lower };
                    let mut chains = Vec::new();
                    follow.on(upper, &mut Vec::new(), &mut chains);
                    for parts in chains {
                        let open = parts.iter().all(|(part, down)| {
                            !matches!(scheme.parts[*part].kind, PartKind::Diode(_)) || !*down
                        });
                        let counts = parts.iter().any(|(part, _)| bends(&scheme.parts[*part]))
                            && !parts.iter().any(|(part, _)| way.parts.contains(part))
                            && open;
                        if !counts {
                            continue;
                        }
                        let ends = (upper.min(lower), upper.max(lower));
                        let one = Across {
                            coil,
                            parts,
                            ends,
                            upper_positive: true,
                            lower_positive: false,
                            inside: inside.clone(),
                        };
                        keep_smallest(&mut found, one);
                    }
                }
            }
        }
    }
    // Other coils that current reaches through it by a longer way only: it is not theirs.
    let fewest = |one: &Across| {
        let same = found.iter().filter(|other| other.parts == one.parts || reversed(other, one));
        same.map(|other| other.inside.len()).min()
    };
    let keep: Vec<bool> = found.iter().map(|one| fewest(one) == Some(one.inside.len())).collect();
    let mut keep = keep.into_iter();
    found.retain(|_| keep.next().unwrap_or(true));
    found
}

/// The same chain, followed from its other end.
fn reversed(a: &Across, b: &Across) -> bool {
    a.parts.iter().map(|(part, _)| part).eq(b.parts.iter().rev().map(|(part, _)| part))
}

fn keep_smallest(found: &mut Vec<Across>, one: Across) {
    let same = |known: &&mut Across| known.coil == one.coil && known.parts == one.parts;
    match found.iter_mut().find(same) {
        Some(known) if one.inside.len() < known.inside.len() => *known = one,
        Some(_) => {}
        None => found.push(one),
    }
}

fn conducts(kind: &PartKind) -> bool {
    matches!(
        kind,
        PartKind::Contact(_) | PartKind::Link | PartKind::Core(_) | PartKind::Element { .. }
    )
}

/// By wire: the parts at it.
fn around(scheme: &Scheme, wires: &Wires) -> Vec<Vec<PartId>> {
    let mut around: Vec<Vec<PartId>> = vec![Vec::new(); scheme.nodes.len()];
    for (id, part) in scheme.placed() {
        let Some(at) = part.at else { continue };
        if matches!(part.kind, PartKind::Terminal | PartKind::Jumper) {
            continue;
        }
        let (a, b) = (wires.of(at.from), wires.of(at.to));
        around[a].push(id);
        if a != b {
            around[b].push(id);
        }
    }
    around
}

struct Follow<'a> {
    scheme: &'a Scheme,
    wires: &'a Wires,
    around: &'a [Vec<PartId>],
    coil: PartId,
    lower: usize,
}

impl Follow<'_> {
    fn on(
        &self,
        node: usize,
        so_far: &mut Vec<(PartId, bool)>,
        found: &mut Vec<Vec<(PartId, bool)>>,
    ) {
        if node == self.lower {
            let is_suppression =
                so_far.iter().any(|(part, _)| !matches!(self.kind(*part), PartKind::Core(_)));
            if is_suppression {
                found.push(so_far.clone());
            }
            return;
        }
        if so_far.len() >= MOST_PARTS || (!so_far.is_empty() && self.around[node].len() != 2) {
            return;
        }
        for &part in &self.around[node] {
            if part == self.coil || so_far.iter().any(|(taken, _)| *taken == part) {
                continue;
            }
            let passes = matches!(
                self.kind(part),
                PartKind::Diode(_)
                    | PartKind::Varistor(_)
                    | PartKind::Resistor { .. }
                    | PartKind::Capacitor { .. }
                    | PartKind::Core(_)
            );
            let Some(at) = self.scheme.parts[part].at.filter(|_| passes) else { continue };
            let (a, b) = (self.wires.of(at.from), self.wires.of(at.to));
            so_far.push((part, a == node));
            self.on(if a == node { b } else { a }, so_far, found);
            so_far.pop();
        }
    }
    fn kind(&self, part: PartId) -> &PartKind {
        &self.scheme.parts[part].kind
    }
}

/// Which end of a coil is positive on the ways that drive it: (upper, lower). Where no way is
/// known, the upper, as written.
fn polarity(wiring: &Wiring<'_>, wires: &Wires, coil: PartId) -> (bool, bool) {
    let scheme = wiring.scheme();
    let (mut upper, mut lower) = (false, false);
    for way in &wiring.ways(coil).list {
        let mut node = wires.of(scheme.supplies[way.supply].plus);
        for &part in &way.parts {
            let Some(at) = scheme.parts[part].at else { break };
            let (a, b) = (wires.of(at.from), wires.of(at.to));
            let down = a == node;
            if !down && b != node {
                break;
            }
            if part == coil {
                upper |= down;
                lower |= !down;
                break;
            }
            node = if down { b } else { a };
        }
    }
    if upper || lower { (upper, lower) } else { (true, false) }
}
