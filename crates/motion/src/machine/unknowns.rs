//! Fewer questions about what a search leaves out.
//!
//! Unknown switches side by side connect the same two points: they answer as one. So do those
//! in a chain that nothing else touches. Trying one of each is exact, because a closed switch
//! has no resistance.

use fiftytwo_scheme::{NodeId, PartId, Scheme};
use rustc_hash::FxHashMap;

/// A switch or another part between two points.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Link {
    a: usize,
    b: usize,
    /// Indices of the unknown switches it stands for; empty for a part that always conducts.
    unknown: Vec<usize>,
    /// Something that is no bare conductor stands in it.
    loaded: bool,
}

/// Groups of unknown switches: those of a group are tried closed or open together. Switches in
/// no group lead nowhere, or another one side by side answers for them.
pub(super) fn groups(
    scheme: &Scheme,
    parts: impl Iterator<Item = PartId>,
    mut role: impl FnMut(PartId) -> Role,
) -> Vec<Vec<usize>> {
    let mut points = Points::default();
    let mut links = Vec::new();
    let mut kept = Vec::new();
    for part in parts {
        let Some(at) = scheme.parts[part].at else { continue };
        let (a, b) = (points.of(at.from), points.of(at.to));
        match role(part) {
            Role::Open => {}
            Role::Closed => points.join(a, b),
            Role::Unknown(index) => links.push(Link { a, b, unknown: vec![index], loaded: false }),
            Role::Load => links.push(Link { a, b, unknown: Vec::new(), loaded: true }),
        }
    }
    for supply in scheme.supplies.values() {
        kept.push(points.of(supply.plus));
        kept.push(points.of(supply.minus));
    }
    for link in &mut links {
        link.a = points.root(link.a);
        link.b = points.root(link.b);
    }
    let kept: Vec<usize> = kept.into_iter().map(|point| points.root(point)).collect();
    reduce(&mut links, &kept);
    links.into_iter().map(|link| link.unknown).filter(|unknown| !unknown.is_empty()).collect()
}

/// What a part is for this purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// An open switch.
    Open,
    /// A closed switch or a bare connection.
    Closed,
    /// A switch that is not known, by its index in the section.
    Unknown(usize),
    /// Anything with a resistance.
    Load,
}

fn reduce(links: &mut Vec<Link>, kept: &[usize]) {
    loop {
        links.retain(|link| link.a != link.b);
        if !(merge_parallel(links) || merge_series(links, kept) || drop_dangling(links, kept)) {
            return;
        }
    }
}

/// Side by side: either closes the way. Only bare switches merge so; a load beside a switch is
/// short-circuited by it and counts.
fn merge_parallel(links: &mut Vec<Link>) -> bool {
    for first in 0..links.len() {
        for second in first + 1..links.len() {
            let (x, y) = (&links[first], &links[second]);
            let same = (x.a, x.b) == (y.a, y.b) || (x.a, x.b) == (y.b, y.a);
            if same && !x.loaded && !y.loaded {
                // One of the two stands for both; the other is taken as open.
                links.remove(second);
                return true;
            }
        }
    }
    false
}

/// In a chain whose middle nothing else touches, one switch stands for all. A load in the chain
/// only sees current when all are closed, whichever side they stand.
fn merge_series(links: &mut Vec<Link>, kept: &[usize]) -> bool {
    for index in 0..links.len() {
        for point in [links[index].a, links[index].b] {
            if kept.contains(&point) {
                continue;
            }
            let touching: Vec<usize> = (0..links.len())
                .filter(|other| links[*other].a == point || links[*other].b == point)
                .collect();
            let [first, second] = touching.as_slice() else { continue };
            let (x, y) = (links[*first].clone(), links[*second].clone());
            if x.unknown.is_empty() && y.unknown.is_empty() {
                continue;
            }
            let far = |link: &Link| if link.a == point { link.b } else { link.a };
            let mut unknown = x.unknown.clone();
            unknown.extend(&y.unknown);
            let merged = Link { a: far(&x), b: far(&y), unknown, loaded: x.loaded || y.loaded };
            links.remove(*second);
            links[*first] = merged;
            return true;
        }
    }
    false
}

fn drop_dangling(links: &mut Vec<Link>, kept: &[usize]) -> bool {
    for index in 0..links.len() {
        for point in [links[index].a, links[index].b] {
            let alone = !kept.contains(&point)
                && links.iter().filter(|link| link.a == point || link.b == point).count() == 1;
            if alone {
                links.remove(index);
                return true;
            }
        }
    }
    false
}

#[derive(Default)]
struct Points {
    index: FxHashMap<NodeId, usize>,
    parent: Vec<usize>,
}

impl Points {
    fn of(&mut self, node: NodeId) -> usize {
        let next = self.parent.len();
        let point = *self.index.entry(node).or_insert(next);
        if point == next {
            self.parent.push(next);
        }
        point
    }
    fn root(&self, mut point: usize) -> usize {
        while self.parent[point] != point {
            point = self.parent[point];
        }
        point
    }
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a] = b;
    }
}
