//! The path between two supplies with the fewest contacts.

use super::possible::possible;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Expr, NodeId, PartId, PartKind, Scheme, SupplyId};
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

/// More steps than this: the search is given up, and that is told.
const MOST_STEPS: usize = 20_000;

/// A path.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// The pole it leaves.
    pub(super) from: NodeId,
    /// The pole it reaches.
    pub(super) to: NodeId,
    pub(super) parts: Vec<PartId>,
    /// Where it leaves the circuits of the first supply: the node and the first part behind it.
    pub(super) crossing: Option<(NodeId, PartId)>,
    /// Two contacts that exclude each other; none: all can be closed at once.
    pub(super) kept_apart: Option<(PartId, PartId)>,
}

impl Found {
    /// Its contacts.
    pub(super) fn contacts(&self, scheme: &Scheme) -> Vec<PartId> {
        let is_contact = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Contact(_));
        self.parts.iter().copied().filter(is_contact).collect()
    }
}

/// A search between two supplies.
pub(super) struct Search<'s> {
    scheme: &'s Scheme,
    one: SupplyId,
    other: SupplyId,
    /// By node: where it leads, over which part (none: a plain wire).
    around: Vec<Vec<(NodeId, Option<PartId>)>>,
    /// Parts taken out: places that are told already.
    out: BTreeSet<PartId>,
}

/// A path under way.
#[derive(Debug, Clone)]
struct Label {
    at: NodeId,
    from: NodeId,
    contacts: BTreeSet<PartId>,
    parts: Vec<(PartId, NodeId)>,
}

impl<'s> Search<'s> {
    pub(super) fn new(scheme: &'s Scheme, one: SupplyId, other: SupplyId) -> Self {
        let mut around = vec![Vec::new(); scheme.nodes.len()];
        let mut join = |a: NodeId, b: NodeId, part: Option<PartId>| {
            around[a.index()].push((b, part));
            around[b.index()].push((a, part));
        };
        for (id, part) in scheme.placed() {
            if let Some(at) = part.at
                && !matches!(part.kind, PartKind::Capacitor { .. })
            {
                join(at.from, at.to, Some(id));
            }
        }
        for (a, b) in scheme.plain_wires() {
            join(a, b, None);
        }
        Self { scheme, one, other, around, out: BTreeSet::new() }
    }

    /// Whether any path is left, whatever its contacts.
    pub(super) fn joined(&self) -> bool {
        let mut reached = vec![false; self.around.len()];
        let mut queue: Vec<NodeId> = self.poles(self.one).to_vec();
        let targets = self.poles(self.other);
        while let Some(node) = queue.pop() {
            if targets.contains(&node) {
                return true;
            }
            if std::mem::replace(&mut reached[node.index()], true) {
                continue;
            }
            queue.extend(self.steps(node).map(|(next, _)| next));
        }
        false
    }

    /// The path with the fewest contacts, then the fewest parts: one whose contacts can all be
    /// closed at once if there is any, else one that two contacts keep apart. None: given up.
    pub(super) fn next(&self) -> Option<Found> {
        self.shortest(true).or_else(|| self.shortest(false))
    }

    /// Takes out the place where a path leaves the circuits of the first supply.
    pub(super) fn part_at(&mut self, found: &Found) {
        let place = found.crossing.map(|(_, part)| part).or(found.parts.first().copied());
        self.out.extend(place);
    }

    fn poles(&self, supply: SupplyId) -> [NodeId; 2] {
        let supply = &self.scheme.supplies[supply];
        [supply.plus, supply.minus]
    }

    fn steps(&self, node: NodeId) -> impl Iterator<Item = (NodeId, Option<PartId>)> + '_ {
        let open = |part: Option<PartId>| part.is_some_and(|part| self.out.contains(&part));
        self.around[node.index()].iter().copied().filter(move |(_, part)| !open(*part))
    }

    fn shortest(&self, together: bool) -> Option<Found> {
        let mut labels: Vec<Label> = Vec::new();
        let mut queue = BinaryHeap::new();
        let mut settled: Vec<Vec<BTreeSet<PartId>>> = vec![Vec::new(); self.around.len()];
        for pole in self.poles(self.one) {
            queue.push(Reverse((0, 0, labels.len())));
            labels.push(Label {
                at: pole,
                from: pole,
                contacts: BTreeSet::new(),
                parts: Vec::new(),
            });
        }
        let targets = self.poles(self.other);
        while let Some(Reverse((_, _, number))) = queue.pop() {
            if labels.len() > MOST_STEPS {
                return None;
            }
            let label = labels[number].clone();
            let before = &mut settled[label.at.index()];
            // A way with fewer contacts leads everywhere this one does; where it does not matter
            // which contacts can be closed together, the first to arrive is enough.
            if before.iter().any(|set| !together || set.is_subset(&label.contacts)) {
                continue;
            }
            before.push(label.contacts.clone());
            if targets.contains(&label.at) {
                return Some(self.found(label));
            }
            for (next, part) in self.steps(label.at) {
                let mut ahead = label.clone();
                ahead.at = next;
                if let Some(part) = part {
                    if ahead.parts.iter().any(|(known, _)| *known == part) {
                        continue;
                    }
                    ahead.parts.push((part, label.at));
                    if matches!(self.scheme.parts[part].kind, PartKind::Contact(_)) {
                        ahead.contacts.insert(part);
                        if together && !possible(self.scheme, &self.statements(&ahead.contacts)) {
                            continue;
                        }
                    }
                }
                queue.push(Reverse((ahead.contacts.len(), ahead.parts.len(), labels.len())));
                labels.push(ahead);
            }
        }
        None
    }

    fn statements(&self, contacts: &BTreeSet<PartId>) -> Vec<&'s Expr> {
        contacts
            .iter()
            .filter_map(|part| match &self.scheme.parts[*part].kind {
                PartKind::Contact(contact) => Some(&contact.closed_when.expr),
                _ => None,
            })
            .collect()
    }

    fn found(&self, label: Label) -> Found {
        let own = |part: PartId| {
            self.scheme.parts[part]
                .at
                .is_some_and(|at| self.scheme.circuits[at.circuit].supply == self.one)
        };
        let crossing =
            label.parts.iter().find(|(part, _)| !own(*part)).map(|(part, node)| (*node, *part));
        let contacts: Vec<PartId> = label.contacts.iter().copied().collect();
        let all = self.statements(&label.contacts);
        let kept_apart = if possible(self.scheme, &all) {
            None
        } else {
            contacts.iter().enumerate().find_map(|(index, &a)| {
                contacts[index + 1..].iter().copied().find_map(|b| {
                    let pair = BTreeSet::from([a, b]);
                    (!possible(self.scheme, &self.statements(&pair))).then_some((a, b))
                })
            })
        };
        Found {
            from: label.from,
            to: label.at,
            parts: label.parts.into_iter().map(|(part, _)| part).collect(),
            crossing,
            kept_apart,
        }
    }
}
