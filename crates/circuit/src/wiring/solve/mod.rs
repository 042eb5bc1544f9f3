//! The drive of a section's loads over the corners, for one position of its switches.
//!
//! **In:** a section, its key, the living supplies, the most that other sections draw. **Out:** one
//! [`Drive`] for each load, potentials for telling which way current runs, the most the section
//! itself can draw. **Never here:** memory of earlier answers.

mod bent;
mod bridge;
mod found;
mod many;
mod reach;
mod series_parallel;
mod single;
mod stamped;

use super::Drive;
use super::compile::{EdgeKind, Section};
use crate::corner::Heat;
use crate::curve::STEEPEST;
use crate::elimination::Work;
use crate::positions::{Positions, Supplies};
use fiftytwo_scheme::{Scheme, SupplyId};
use found::Found;
use reach::Reach;
use stamped::Stamped;

/// Below this part of the nominal voltage a load counts as without current: rounding, not volts.
const NO_CURRENT: f64 = 1e-9;

/// What stands for loads without a declared resistance that lie in series with something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Undeclared {
    Open,
    Least,
}

/// One end of all resistances.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Ends {
    conductors: Heat,
    coils: Heat,
    undeclared: Undeclared,
}

impl Ends {
    /// Every combination that has to be solved.
    fn all(with_undeclared: bool) -> Vec<Self> {
        let undeclared: &[Undeclared] = if with_undeclared {
            &[Undeclared::Open, Undeclared::Least]
        } else {
            &[Undeclared::Open]
        };
        let mut all = Vec::with_capacity(8);
        for &undeclared in undeclared {
            for conductors in [Heat::Cold, Heat::Hot] {
                for coils in [Heat::Cold, Heat::Hot] {
                    all.push(Self { conductors, coils, undeclared });
                }
            }
        }
        all
    }
    /// For each edge of the section whether it is at its greatest resistance.
    fn hot(self, section: &Section, hot: &mut Vec<bool>) {
        hot.clear();
        hot.extend(section.edges.iter().map(|edge| match edge.kind {
            EdgeKind::Core { .. } => self.conductors == Heat::Hot,
            EdgeKind::Load { .. } | EdgeKind::Bent { .. } | EdgeKind::Diode(_) => {
                self.coils == Heat::Hot
            }
            _ => false,
        }));
    }
}

/// The drives of all loads.
pub(super) fn drives(
    scheme: &Scheme,
    section: &Section,
    key: &Positions,
    live: Supplies,
    others: &[f64],
) -> Vec<Drive> {
    let reach = Reach::new(section, key, live);
    let mut found = Found::new(section, &reach);
    if section.feeds.iter().any(|feed| live.lives(feed.supply)) {
        let mut stamped = Stamped::new(section, key, &reach);
        match (&section.feeds[..], others) {
            _ if !section.curves.is_empty() => {
                bent::solve(scheme, &stamped, live, others, &mut found);
            }
            ([feed], [ampere]) => {
                let rail = single::Rail::new(&scheme.supplies[feed.supply], *ampere);
                single::solve(&mut stamped, feed, &rail, &mut found);
            }
            _ => many::solve(scheme, &mut stamped, live, others, &mut found),
        }
        let most = section
            .feeds
            .iter()
            .filter(|feed| live.lives(feed.supply))
            .map(|feed| scheme.supplies[feed.supply].range.hi)
            .sum();
        found.widen_undeclared(section, &reach, most);
    }
    found.into_drives(section)
}

/// Potentials of one corner, for telling which way current runs.
pub(super) struct Volts {
    by_node: Vec<f64>,
    /// Differences below this are rounding.
    pub(super) keeps: f64,
}

impl Volts {
    /// Potential of a solved node; NaN: floating.
    pub(super) fn at(&self, node: usize) -> f64 {
        self.by_node[node]
    }
}

/// Potentials with every living supply at its highest. None if nothing lives, or no voltage can be
/// named.
pub(super) fn potentials(
    scheme: &Scheme,
    section: &Section,
    key: &Positions,
    live: Supplies,
) -> Option<Volts> {
    let reach = Reach::new(section, key, live);
    let mut stamped = Stamped::new(section, key, &reach);
    let idle = vec![0.0; section.feeds.len()];
    let highest = many::sources(scheme, section, live, &idle, Heat::Hot).pop()?;
    let scale = highest.scale();
    let ends = Ends { conductors: Heat::Hot, coils: Heat::Cold, undeclared: Undeclared::Least };
    let mut hot = Vec::new();
    ends.hot(section, &mut hot);
    if scale <= 0.0 {
        return None;
    }
    let by_node = if section.curves.is_empty() {
        if !many::solve_corner(&mut stamped, &hot, ends.undeclared, &highest) {
            return None;
        }
        (0..section.nodes).map(|node| stamped.potential(node)).collect()
    } else {
        let solution = bent::Corners::new(&stamped, ends.undeclared)?.solve(&hot, &highest)?;
        let volt = |node| solution.potential(node).unwrap_or(f64::NAN);
        (0..section.nodes).map(volt).collect()
    };
    Some(Volts { by_node, keeps: NO_CURRENT * scale })
}

/// The most a section can draw from each of its supplies, A: every switch closed and everything
/// cold (closing a switch or lowering a resistance never lowers the conductance between two poles).
/// Where that is more than each load takes at full voltage (conductors alone short the supply), and
/// where several supplies meet, each load at full voltage instead: a short is a fault, not a load.
/// Loads without a declared resistance count as opto inputs do, others are left out.
pub(super) fn most_drawn(scheme: &Scheme, section: &Section) -> Vec<(SupplyId, f64)> {
    let full: f64 = section.feeds.iter().map(|feed| scheme.supplies[feed.supply].range.hi).sum();
    let each_alone: f64 = section
        .edges
        .iter()
        .map(|edge| match edge.kind {
            EdgeKind::Load { lo, .. } => full / lo,
            EdgeKind::Bent { curve, .. } => full * section.curves[curve].most.chords(-full, full).0,
            EdgeKind::Unknown { least, .. } if least > 1.0 => full / least,
            _ => 0.0,
        })
        .sum();
    let [feed] = &section.feeds[..] else {
        return section.feeds.iter().map(|feed| (feed.supply, each_alone)).collect();
    };
    let mut work = Work::default();
    work.clear(&section.plan);
    for (edge, slot) in section.edges.iter().zip(&section.slots) {
        let Some(slot) = *slot else { continue };
        match edge.kind {
            EdgeKind::Switch(_) => work.close(slot),
            EdgeKind::Core { lo, .. } | EdgeKind::Load { lo, .. } => work.add(slot, lo.recip()),
            EdgeKind::Unknown { least, .. } if least > 1.0 => work.add(slot, least.recip()),
            EdgeKind::Diode(_) => work.add(slot, STEEPEST),
            EdgeKind::Bent { curve, .. } => {
                work.add(slot, section.curves[curve].most.chords(-full, full).0);
            }
            _ => {}
        }
    }
    work.eliminate(&section.plan);
    let (siemens, shorted) = work.left(section.plan.slot(feed.plus, feed.minus));
    let ampere = if shorted { each_alone } else { (full * siemens).min(each_alone) };
    vec![(feed.supply, ampere)]
}
