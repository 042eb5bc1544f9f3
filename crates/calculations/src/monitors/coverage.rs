//! What monitors see of a coil's path.

use super::find::{Situation, corners};
use crate::Study;
use crate::shown::{Shown, Thresholds};
use fiftytwo_circuit::{BenchFault, Ends, Fault};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme};
use serde::Serialize;
use std::collections::{BTreeSet, VecDeque};

/// A contact that is open in the position: nothing runs through it that could stop.
pub(super) const OPEN_HERE: &str = "open here";

/// The share of a coil's path in which a break shows, in one rest position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Coverage {
    /// The rest position.
    pub position: String,
    /// The pieces of all ways of the coil between the poles of its supply: fuses, cores, links,
    /// terminals, contacts, the coil, each with its two leads.
    pub pieces: usize,
    /// Those of which a break surely shows on a monitor.
    pub covered: usize,
    /// The share.
    pub share: f64,
    /// The same for what every way has in common.
    pub common_pieces: usize,
    /// Of these, those of which a break shows.
    pub common_covered: usize,
    /// The rest, each with the reason.
    pub uncovered: Vec<Uncovered>,
    /// All pieces, for pictures.
    #[serde(skip)]
    pub parts: Vec<PartId>,
}

/// A piece whose break shows nowhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Uncovered {
    /// The part, with its two leads.
    pub part: String,
    /// Every way of the coil leads through it.
    pub common: bool,
    /// Why nothing is seen: "open here", "nothing changes".
    pub why: &'static str,
}

/// What the monitors of a coil see in a position.
pub(super) fn of(study: &Study<'_, '_>, situation: &Situation) -> Result<Coverage, BenchFault> {
    let scheme = study.scheme();
    let (pieces, common) = pieces(study, situation.coil);
    let eyes = Eyes::new(study, situation)?;
    let mut uncovered = Vec::new();
    let mut common_covered = 0;
    for &piece in &pieces {
        let why = if is_open(scheme, situation, piece) {
            Some(OPEN_HERE)
        } else if eyes.see(Fault::Open(piece))? {
            None
        } else {
            Some("nothing changes")
        };
        let common = common.contains(&piece);
        match why {
            Some(why) => {
                let part = scheme.parts[piece].name.clone();
                uncovered.push(Uncovered { part, common, why });
            }
            None => common_covered += usize::from(common),
        }
    }
    let covered = pieces.len() - uncovered.len();
    Ok(Coverage {
        position: situation.name.clone(),
        pieces: pieces.len(),
        covered,
        share: share(covered, pieces.len()),
        common_pieces: common.len(),
        common_covered,
        uncovered,
        parts: pieces,
    })
}

fn share(part: usize, whole: usize) -> f64 {
    let number = |count: usize| u32::try_from(count).map_or(f64::MAX, f64::from);
    if whole == 0 { 0.0 } else { number(part) / number(whole) }
}

fn is_open(scheme: &Scheme, situation: &Situation, part: PartId) -> bool {
    let switches = matches!(
        scheme.parts[part].kind,
        PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. }
    );
    switches && !situation.setup.closed.get(part.index()).copied().unwrap_or(false)
}

/// The monitors of a position with what they show while all is well.
struct Eyes<'a, 's> {
    study: &'a Study<'a, 's>,
    situation: &'a Situation,
    /// Those that are surely on or surely off.
    sure: Vec<(PartId, Thresholds, Shown)>,
}

impl<'a, 's> Eyes<'a, 's> {
    fn new(study: &'a Study<'a, 's>, situation: &'a Situation) -> Result<Self, BenchFault> {
        let scheme = study.scheme();
        let readings = study.bench.solve(&situation.setup)?;
        let sure = situation
            .monitors
            .iter()
            .filter_map(|&id| {
                let thresholds = Thresholds::of(scheme, &scheme.parts[id])?;
                let shown = thresholds.shown(&readings, id);
                (shown != Shown::Unsure).then_some((id, thresholds, shown))
            })
            .collect();
        Ok(Self { study, situation, sure })
    }

    /// Whether a fault surely changes what at least one of them shows.
    fn see(&self, fault: Fault) -> Result<bool, BenchFault> {
        let mut left = self.sure.clone();
        for ends in [Ends::MOST, Ends::LEAST] {
            if left.is_empty() {
                return Ok(false);
            }
            let setup = self.situation.setup.clone().at(ends).with_fault(fault);
            let readings = self.study.bench.solve(&setup)?;
            left.retain(|(id, thresholds, before)| {
                let after = thresholds.shown(&readings, *id);
                after != Shown::Unsure && after != *before
            });
        }
        // Its own resistance at the other end: only those that are left need it.
        let mut seen = false;
        for (id, thresholds, before) in left {
            let spreads = self.study.bench.spreads(id);
            let mut sure = true;
            for setup in corners(&self.situation.setup, id) {
                if !spreads || !sure {
                    break;
                }
                let readings = self.study.bench.solve(&setup.with_fault(fault))?;
                let after = thresholds.shown(&readings, id);
                sure = after != Shown::Unsure && after != before;
            }
            if sure {
                seen = true;
                break;
            }
        }
        Ok(seen)
    }
}

/// The pieces of all ways of a coil, and those that all ways have in common.
fn pieces(study: &Study<'_, '_>, coil: PartId) -> (Vec<PartId>, BTreeSet<PartId>) {
    let scheme = study.scheme();
    let ways = study.machine.wiring.ways(coil);
    let mut all = BTreeSet::new();
    let mut common: Option<BTreeSet<PartId>> = None;
    for way in &ways.list {
        let supply = &scheme.supplies[way.supply];
        let mut parts: BTreeSet<PartId> = way.parts.iter().copied().collect();
        let mut at = vec![supply.plus];
        for part in &way.parts {
            let Some(place) = scheme.parts[*part].at else { continue };
            parts.extend(wires_between(scheme, &at, &[place.from, place.to]));
            at = vec![place.from, place.to];
        }
        parts.extend(wires_between(scheme, &at, &[supply.minus]));
        common = Some(match common {
            None => parts.clone(),
            Some(common) => common.intersection(&parts).copied().collect(),
        });
        all.extend(parts);
    }
    (all.into_iter().collect(), common.unwrap_or_default())
}

/// The terminals and jumpers on a shortest way from one of the first nodes to one of the second.
fn wires_between(scheme: &Scheme, from: &[NodeId], to: &[NodeId]) -> Vec<PartId> {
    if from.iter().any(|node| to.contains(node)) {
        return Vec::new();
    }
    let mut came: Vec<Option<(NodeId, PartId)>> = vec![None; scheme.nodes.len()];
    let mut queue: VecDeque<NodeId> = from.iter().copied().collect();
    while let Some(node) = queue.pop_front() {
        if to.contains(&node) {
            let mut way = Vec::new();
            let mut at = node;
            while let Some((before, part)) = came[at.index()] {
                way.push(part);
                at = before;
            }
            return way;
        }
        for (id, part) in scheme.placed() {
            let (Some(place), PartKind::Terminal | PartKind::Jumper) = (part.at, &part.kind) else {
                continue;
            };
            let next = if place.from == node {
                place.to
            } else if place.to == node {
                place.from
            } else {
                continue;
            };
            if came[next.index()].is_none() && !from.contains(&next) {
                came[next.index()] = Some((node, id));
                queue.push_back(next);
            }
        }
    }
    Vec::new()
}
