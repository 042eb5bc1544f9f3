//! Bounds of volts that hold whatever the switches do that nobody knows.
//!
//! A circuit is often like a comb: rails that are trees, and every load a tooth between them. Then
//! the bounds are close. Else they are had from the sure way of a load alone, and wide.
//!
//! **In:** a section; which of its switches are closed, and which may be. **Out:** for every load
//! whether it is connected, and bounds of its volts that hold whatever the doubtful switches do.
//! **Never here:** volts of sections of several supplies: of those only what is connected at all.
//!
//! Why the bounds hold: no tooth sees more than the voltage of the supply, so none draws more than
//! that over its least resistance. A conductor of a tree carries at most what the teeth beyond it
//! draw, so the drop from the pole to a tooth is at most the sum of these over its way. In any
//! section of one supply current runs from higher to lower potential and never in a ring, so no
//! conductor carries more than all loads together can draw.

use super::compile::{Edge, EdgeKind, Feed, Section};
use super::{Drive, SectionId, Wiring};
use crate::certainty::Certainty;
use crate::corner::{Battery, Corner, Heat, Method, Others};
use crate::positions::{Positions, Supplies};
use crate::union::Union;
use fiftytwo_scheme::arena::Id;
use std::collections::BTreeMap;

/// A load of a comb.
#[derive(Debug, Clone)]
pub(super) struct Tooth {
    drive: usize,
    part: usize,
    /// Ends of its leg, solved nodes: on the plus side and on the minus side.
    top: usize,
    bottom: usize,
    /// Least and greatest share of its leg's volts.
    share: (f64, f64),
    /// Its leg holds no other load.
    alone: bool,
    /// Ohm-amperes lost on the way for each volt of the supply: the greatest drop.
    drop: f64,
}

/// A section that is a comb.
#[derive(Debug, Clone)]
pub(super) struct Comb {
    teeth: Vec<Tooth>,
    /// Amperes that all teeth draw together for each volt of the supply.
    draw: f64,
}

/// A leg: loads in a row between the two trees.
struct Leg {
    loads: Vec<usize>,
    top: usize,
    bottom: usize,
    /// Siemens at its least resistance.
    siemens: f64,
}

impl Comb {
    /// None if the section is no comb.
    pub(super) fn of(section: &Section) -> Option<Self> {
        let [feed] = &section.feeds[..] else { return None };
        let plain = section.edges.iter().all(|edge| {
            matches!(
                edge.kind,
                EdgeKind::Wire
                    | EdgeKind::Switch(_)
                    | EdgeKind::Core { .. }
                    | EdgeKind::Load { .. }
                    | EdgeKind::Unknown { .. }
                    | EdgeKind::Open
            )
        });
        if !plain {
            return None;
        }
        let (trees, spots) = trees(section)?;
        let legs = legs(section, feed, trees)?;
        Some(Self::with_drops(section, feed, &legs, spots))
    }

    fn with_drops(section: &Section, feed: &Feed, legs: &[Leg], mut spots: Union) -> Self {
        let roots = [spots.root(feed.plus), spots.root(feed.minus)];
        let parents = parents(section, &mut spots, roots);
        let mut beyond: BTreeMap<usize, f64> = BTreeMap::new();
        for leg in legs {
            for end in [leg.top, leg.bottom] {
                for edge in way_home(&parents, spots.root(end)) {
                    *beyond.entry(edge).or_default() += leg.siemens;
                }
            }
        }
        let hot = |edge: usize| match section.edges[edge].kind {
            EdgeKind::Core { hi, .. } => hi,
            _ => 0.0,
        };
        let mut teeth = Vec::new();
        for leg in legs {
            let ends = [leg.top, leg.bottom].map(|end| spots.root(end));
            let drop: f64 = ends
                .iter()
                .flat_map(|end| way_home(&parents, *end))
                .map(|edge| hot(edge) * beyond.get(&edge).copied().unwrap_or(0.0))
                .sum();
            let ohms: Vec<(f64, f64)> =
                leg.loads.iter().map(|load| ohms(&section.edges[*load])).collect();
            let total = ohms.iter().fold((0.0, 0.0), |sum, ohm| (sum.0 + ohm.0, sum.1 + ohm.1));
            for (&load, &(lo, hi)) in leg.loads.iter().zip(&ohms) {
                let edge = &section.edges[load];
                let Some(drive) = asked(edge) else { continue };
                let alone = leg.loads.len() == 1;
                let share = if alone {
                    (1.0, 1.0)
                } else {
                    let least = lo / (lo + (total.1 - hi));
                    let most = if hi.is_finite() { hi / (hi + (total.0 - lo)) } else { 1.0 };
                    (if least.is_nan() { 0.0 } else { least }, most)
                };
                let part = edge.part.index();
                teeth.push(Tooth {
                    drive,
                    part,
                    top: leg.top,
                    bottom: leg.bottom,
                    share,
                    alone,
                    drop,
                });
            }
        }
        Self { teeth, draw: legs.iter().map(|leg| leg.siemens).sum() }
    }
}

/// The two ends of a load's resistance; one that is not declared may have any from its least.
fn ohms(edge: &Edge) -> (f64, f64) {
    match edge.kind {
        EdgeKind::Load { lo, hi, .. } => (lo, hi),
        EdgeKind::Unknown { least, .. } => (least, f64::INFINITY),
        _ => (0.0, 0.0),
    }
}

fn asked(edge: &Edge) -> Option<usize> {
    match edge.kind {
        EdgeKind::Load { drive, .. } | EdgeKind::Bent { drive, .. } => drive,
        EdgeKind::Unknown { drive, .. } => Some(drive),
        _ => None,
    }
}

fn is_load(edge: &Edge) -> bool {
    matches!(edge.kind, EdgeKind::Load { .. } | EdgeKind::Unknown { .. })
}

/// What conductors and switches hang together, and what switches alone do; none if conductors form
/// a ring.
fn trees(section: &Section) -> Option<(Union, Union)> {
    let mut spots = Union::new(section.nodes);
    for edge in &section.edges {
        if matches!(edge.kind, EdgeKind::Switch(_)) {
            let (a, b) = section.ends(edge);
            spots.join(a, b, 0.0);
        }
    }
    let mut trees = spots.clone();
    for edge in &section.edges {
        if matches!(edge.kind, EdgeKind::Core { .. }) {
            let (a, b) = section.ends(edge);
            if a != b && trees.root(a) == trees.root(b) {
                return None;
            }
            trees.join(a, b, 0.0);
        }
    }
    Some((trees, spots))
}

/// The legs between the two trees; none if something stands otherwise.
fn legs(section: &Section, feed: &Feed, mut trees: Union) -> Option<Vec<Leg>> {
    let (plus, minus) = (trees.root(feed.plus), trees.root(feed.minus));
    if plus == minus {
        return None;
    }
    let mut at: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let loads: Vec<usize> =
        (0..section.edges.len()).filter(|edge| is_load(&section.edges[*edge])).collect();
    for &load in &loads {
        let (a, b) = section.ends(&section.edges[load]);
        for end in [a, b] {
            at.entry(trees.root(end)).or_default().push(load);
        }
    }
    // Between two loads of a leg there is one point, and nothing that could open.
    let one_point = |trees: &mut Union, tree: usize| {
        (0..section.nodes).filter(|node| trees.root(*node) == tree).count() == 1
    };
    let mut found: Vec<Leg> = Vec::new();
    let mut used = vec![false; section.edges.len()];
    for &first in at.get(&plus).into_iter().flatten() {
        let (a, b) = section.ends(&section.edges[first]);
        let (top, mut end) = if trees.root(a) == plus { (a, b) } else { (b, a) };
        let mut leg = Leg { loads: vec![first], top, bottom: end, siemens: 0.0 };
        used[first] = true;
        while trees.root(end) != minus {
            let tree = trees.root(end);
            if tree == plus || !one_point(&mut trees, tree) {
                return None;
            }
            let [one, two] = at.get(&tree)?[..] else { return None };
            let last = *leg.loads.last()?;
            let next = if one == last { two } else { one };
            if used[next] {
                return None;
            }
            used[next] = true;
            leg.loads.push(next);
            let (a, b) = section.ends(&section.edges[next]);
            end = if trees.root(a) == tree { b } else { a };
        }
        leg.bottom = end;
        let least: f64 = leg.loads.iter().map(|load| ohms(&section.edges[*load]).0).sum();
        leg.siemens = least.recip();
        found.push(leg);
    }
    let all =
        loads.iter().all(|load| used[*load]) && found.iter().all(|leg| leg.siemens.is_finite());
    all.then_some(found)
}

/// For each spot of the two trees, the conductor towards its pole and the spot behind it.
fn parents(
    section: &Section,
    spots: &mut Union,
    roots: [usize; 2],
) -> BTreeMap<usize, (usize, usize)> {
    let mut around: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (index, edge) in section.edges.iter().enumerate() {
        if matches!(edge.kind, EdgeKind::Core { .. }) {
            let (a, b) = section.ends(edge);
            let (a, b) = (spots.root(a), spots.root(b));
            around.entry(a).or_default().push((index, b));
            around.entry(b).or_default().push((index, a));
        }
    }
    let mut parents = BTreeMap::new();
    let mut waiting = roots.to_vec();
    while let Some(spot) = waiting.pop() {
        for &(edge, next) in around.get(&spot).into_iter().flatten() {
            if next != spot && !roots.contains(&next) && !parents.contains_key(&next) {
                parents.insert(next, (edge, spot));
                waiting.push(next);
            }
        }
    }
    parents
}

/// The conductors from a spot to its pole.
fn way_home(
    parents: &BTreeMap<usize, (usize, usize)>,
    spot: usize,
) -> impl Iterator<Item = usize> + '_ {
    let mut at = spot;
    std::iter::from_fn(move || {
        let (edge, next) = parents.get(&at)?;
        at = *next;
        Some(*edge)
    })
}

impl Wiring<'_> {
    /// For every load of a section (in the order of [`Wiring::loads`]) whether it is connected and
    /// the bounds of its volts while it is, whatever the switches do that are in `perhaps` but not
    /// in `closed`.
    pub fn bounds(
        &self,
        section: SectionId,
        closed: &Positions,
        perhaps: &Positions,
        live: Supplies,
    ) -> Vec<(Certainty, Drive)> {
        let compiled = &self.sections[section.index()];
        let one = match &compiled.feeds[..] {
            [feed] => Some(feed),
            _ => None,
        };
        let (Some(feed), Some(comb)) = (one, self.combs[section.index()].as_ref()) else {
            return self.along_ways(section, one, closed, perhaps, live);
        };
        let supply = &self.scheme.supplies[feed.supply];
        let lives = live.lives(feed.supply);
        let others: f64 = self.draws[feed.supply.index()]
            .iter()
            .filter(|(id, _)| *id != section)
            .map(|(_, ampere)| ampere)
            .sum();
        let surely = connected(compiled, closed);
        let maybe = connected(compiled, perhaps);
        let joined = |union: &[usize], tooth: &Tooth| {
            union[tooth.top] == union[feed.plus] && union[tooth.bottom] == union[feed.minus]
        };
        let (low, high) = (supply.range.lo, supply.range.hi);
        let rail = low - supply.resistance.hi * (comb.draw * high + others);
        let corner =
            |battery, conductors, others| Corner { battery, conductors, coils: Heat::Each, others };
        let mut all: Vec<Option<(Certainty, Drive)>> = vec![None; compiled.loads.len()];
        for tooth in &comb.teeth {
            let certainty = match (lives && joined(&surely, tooth), lives && joined(&maybe, tooth))
            {
                (true, _) => Certainty::Surely,
                (false, true) => Certainty::Perhaps,
                (false, false) => Certainty::Not,
            };
            let on = certainty != Certainty::Not;
            let volts = if on {
                ((rail - tooth.drop * high).max(0.0) * tooth.share.0, high * tooth.share.1)
            } else {
                (0.0, 0.0)
            };
            let drive = Drive {
                part: fiftytwo_scheme::PartId::from_index(tooth.part),
                volts_lo: volts.0,
                volts_hi: volts.1,
                connected: on,
                straight: on && tooth.alone,
                nominal: compiled.nominal[tooth.drive],
                needs: compiled.needs[tooth.drive],
                corner_lo: corner(Battery::Low, Heat::Hot, Others::On),
                corner_hi: corner(Battery::High, Heat::Cold, Others::Off),
                method: Method::Widened,
            };
            all[tooth.drive] = Some((certainty, drive));
        }
        // Every load that is asked for is a tooth.
        all.into_iter().flatten().collect()
    }
}

impl Wiring<'_> {
    /// The bounds of loads that conductors and surely closed switches alone join to both poles; of
    /// the others only whether they are connected at all.
    fn along_ways(
        &self,
        section: SectionId,
        feed: Option<&Feed>,
        closed: &Positions,
        perhaps: &Positions,
        live: Supplies,
    ) -> Vec<(Certainty, Drive)> {
        let compiled = &self.sections[section.index()];
        let mut all = self.by_connection(compiled, perhaps, live);
        let Some(feed) = feed.filter(|feed| live.lives(feed.supply)) else { return all };
        let supply = &self.scheme.supplies[feed.supply];
        let (low, high) = (supply.range.lo, supply.range.hi);
        let others: f64 = self.draws[feed.supply.index()]
            .iter()
            .filter(|(id, _)| *id != section)
            .map(|(_, ampere)| ampere)
            .sum();
        let most: f64 = compiled.edges.iter().map(|edge| greatest_draw(compiled, edge, high)).sum();
        let rail = low - supply.resistance.hi * (most + others);
        let from_plus = ohms_from(compiled, closed, feed.plus);
        let from_minus = ohms_from(compiled, closed, feed.minus);
        for edge in &compiled.edges {
            let Some(entry) = asked(edge).and_then(|drive| all.get_mut(drive)) else { continue };
            let (a, b) = compiled.ends(edge);
            let down = from_plus[a] + from_minus[b];
            let ohm = down.min(from_plus[b] + from_minus[a]);
            if a != b && ohm.is_finite() {
                let volts_lo = if most.is_finite() { (rail - ohm * most).max(0.0) } else { 0.0 };
                entry.0 = Certainty::Surely;
                entry.1 = Drive {
                    volts_lo,
                    volts_hi: high,
                    connected: true,
                    straight: true,
                    ..entry.1.clone()
                };
            }
        }
        all
    }

    /// Which loads may carry current at all while these switches may be closed: each end reaches a
    /// pole without the load itself. A switch beside a load may short it, and need not.
    fn by_connection(
        &self,
        section: &Section,
        perhaps: &Positions,
        live: Supplies,
    ) -> Vec<(Certainty, Drive)> {
        let feeds: Vec<&Feed> =
            section.feeds.iter().filter(|feed| live.lives(feed.supply)).collect();
        let most: f64 = feeds.iter().map(|feed| self.scheme.supplies[feed.supply].range.hi).sum();
        let poles: Vec<usize> = feeds.iter().flat_map(|feed| [feed.plus, feed.minus]).collect();
        let corner =
            |battery, conductors, others| Corner { battery, conductors, coils: Heat::Each, others };
        let mut all: Vec<(Certainty, Drive)> = section
            .loads
            .iter()
            .zip(&section.nominal)
            .zip(&section.needs)
            .map(|((&part, &nominal), &needs)| {
                let drive = Drive {
                    part,
                    volts_lo: 0.0,
                    volts_hi: 0.0,
                    connected: false,
                    straight: false,
                    nominal,
                    needs,
                    corner_lo: corner(Battery::Low, Heat::Hot, Others::On),
                    corner_hi: corner(Battery::High, Heat::Cold, Others::Off),
                    method: Method::Widened,
                };
                (Certainty::Not, drive)
            })
            .collect();
        for (index, edge) in section.edges.iter().enumerate() {
            let Some(entry) = asked(edge).and_then(|drive| all.get_mut(drive)) else { continue };
            let (a, b) = section.ends(edge);
            let from_a = poles_reached(section, perhaps, a, index, &poles);
            let from_b = poles_reached(section, perhaps, b, index, &poles);
            // Two different poles, one from each end.
            let apart = from_a.iter().any(|one| from_b.iter().any(|two| one != two));
            if a != b && apart {
                entry.0 = Certainty::Perhaps;
                entry.1 = Drive { volts_hi: most, connected: true, ..entry.1.clone() };
            }
        }
        all
    }
}

/// The poles that a node reaches without one edge and not through another pole.
fn poles_reached(
    section: &Section,
    perhaps: &Positions,
    from: usize,
    without: usize,
    poles: &[usize],
) -> Vec<usize> {
    let mut seen = vec![false; section.nodes];
    seen[from] = true;
    let (mut waiting, mut found) = (vec![from], Vec::new());
    while let Some(node) = waiting.pop() {
        if poles.contains(&node) {
            found.push(node);
            continue;
        }
        for &index in &section.around[node] {
            let edge = &section.edges[index];
            let conducts = match edge.kind {
                EdgeKind::Switch(bit) => perhaps.is_closed(bit),
                EdgeKind::Open => false,
                _ => true,
            };
            let (a, b) = section.ends(edge);
            let next = if a == node { b } else { a };
            if conducts && index != without && !std::mem::replace(&mut seen[next], true) {
                waiting.push(next);
            }
        }
    }
    found
}

/// The most a part can draw by itself; what is no load draws nothing, what has no least resistance
/// draws without limit.
fn greatest_draw(section: &Section, edge: &Edge, volt: f64) -> f64 {
    match edge.kind {
        EdgeKind::Load { .. } | EdgeKind::Unknown { .. } => volt / ohms(edge).0,
        EdgeKind::Wire | EdgeKind::Switch(_) | EdgeKind::Core { .. } | EdgeKind::Open => 0.0,
        EdgeKind::Diode(curve) | EdgeKind::Bent { curve, .. } => {
            let most = &section.curves[curve].most;
            most.current(volt).abs().max(most.current(-volt).abs())
        }
    }
}

/// The least greatest-resistance of conductors and closed switches from a node to every node;
/// infinite where they do not lead.
fn ohms_from(section: &Section, closed: &Positions, from: usize) -> Vec<f64> {
    let mut ohms = vec![f64::INFINITY; section.nodes];
    ohms[from] = 0.0;
    let mut waiting = vec![from];
    while let Some(node) = waiting.pop() {
        for &index in &section.around[node] {
            let edge = &section.edges[index];
            let ohm = match edge.kind {
                EdgeKind::Switch(bit) if closed.is_closed(bit) => 0.0,
                EdgeKind::Core { hi, .. } => hi,
                _ => continue,
            };
            let (a, b) = section.ends(edge);
            let next = if a == node { b } else { a };
            if ohms[node] + ohm < ohms[next] {
                ohms[next] = ohms[node] + ohm;
                waiting.push(next);
            }
        }
    }
    ohms
}

/// The set of each solved node, by conductors and closed switches.
fn connected(section: &Section, closed: &Positions) -> Vec<usize> {
    let mut union = Union::new(section.nodes);
    for edge in &section.edges {
        let joins = match edge.kind {
            EdgeKind::Switch(bit) => closed.is_closed(bit),
            EdgeKind::Core { .. } => true,
            _ => false,
        };
        if joins {
            let (a, b) = section.ends(edge);
            union.join(a, b, 0.0);
        }
    }
    (0..section.nodes).map(|node| union.root(node)).collect()
}
