//! What of a plan stands in other places than its rails. **In:** columns and levels. **Out:** regions:
//! stretches of neighbouring columns in one place, in each column one stretch of height. **Never
//! here:** millimetres.
//!
//! A place that is left for another and entered again in the same column has two regions there: a frame
//! round both would go round the other place as well, as if that stood inside.

use crate::order::bus_columns;
use crate::plan::{Plan, Run};
use crate::rank::Ranks;
use fiftytwo_scheme::{NodeId, PartId, PartKind, PlaceId, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// What stands in one place in one column, between two levels.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// The column.
    pub column: usize,
    /// First and last level of its wires.
    pub levels: (usize, usize),
    /// Its parts, cores left out.
    pub parts: Vec<PartId>,
    /// The cores that lead in from above.
    pub above: Vec<PartId>,
    /// The cores that lead out below.
    pub below: Vec<PartId>,
    /// Its wires.
    pub nodes: BTreeSet<NodeId>,
}

/// A stretch of columns in one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// The place.
    pub place: PlaceId,
    /// First column.
    pub first: usize,
    /// Last column.
    pub last: usize,
    /// One for each column that has something of it.
    pub cells: Vec<Cell>,
}

impl Region {
    /// The cell of a column.
    pub fn cell(&self, column: usize) -> Option<&Cell> {
        self.cells.iter().find(|cell| cell.column == column)
    }
    /// First and last level.
    pub fn levels(&self) -> (usize, usize) {
        let first = self.cells.iter().map(|cell| cell.levels.0).min().unwrap_or(0);
        let last = self.cells.iter().map(|cell| cell.levels.1).max().unwrap_or(0);
        (first, last)
    }
    /// Whether a wire belongs to it.
    pub fn has(&self, node: NodeId) -> bool {
        self.cells.iter().any(|cell| cell.nodes.contains(&node))
    }
}

/// The regions of a plan, place by place.
pub fn regions(scheme: &Scheme, plan: &Plan, ranks: &Ranks) -> Vec<Region> {
    let ground = scheme.nodes[plan.plus].place;
    let mut cells: BTreeMap<(PlaceId, usize), Vec<Cell>> = BTreeMap::new();
    for (column, run) in plan.columns() {
        for (place, cell) in cells_of(scheme, (column, run), ranks) {
            if place != ground {
                cells.entry((place, column)).or_default().push(cell);
            }
        }
    }
    let buses = bus_columns(plan);
    let mut regions: Vec<Region> = Vec::new();
    for ((place, column), cells) in cells {
        let mut used: Vec<usize> = Vec::new();
        for cell in one_above_another(scheme, (plan, ranks), place, cells) {
            let reaches = |region: &Region| {
                let joined = buses.iter().any(|(node, taps)| {
                    scheme.nodes[*node].place == place
                        && taps.contains(&column)
                        && region.has(*node)
                });
                let (first, last) = region.levels();
                let shared = last.min(cell.levels.1) as i64 - first.max(cell.levels.0) as i64;
                let beside = region.last + 1 == column && shared >= 0;
                (joined || beside).then_some((joined, shared))
            };
            let candidates = regions
                .iter()
                .enumerate()
                .filter(|(at, region)| {
                    region.place == place && region.last < column && !used.contains(at)
                })
                .filter_map(|(at, region)| Some((reaches(region)?, at)));
            match candidates.max_by_key(|(score, at)| (*score, std::cmp::Reverse(*at))) {
                Some((_, at)) => {
                    regions[at].last = column;
                    regions[at].cells.push(cell);
                    used.push(at);
                }
                None => {
                    used.push(regions.len());
                    regions.push(Region { place, first: column, last: column, cells: vec![cell] });
                }
            }
        }
    }
    while let Some((a, b)) = one_wire(scheme, plan, &regions) {
        let other = regions.remove(b);
        let region = &mut regions[a];
        region.first = region.first.min(other.first);
        region.last = region.last.max(other.last);
        region.cells.extend(other.cells);
    }
    regions
}

/// Two regions of a place that a wire across joins and that have no column in common.
fn one_wire(scheme: &Scheme, plan: &Plan, regions: &[Region]) -> Option<(usize, usize)> {
    let buses = bus_columns(plan);
    for (a, one) in regions.iter().enumerate() {
        for (b, other) in regions.iter().enumerate().skip(a + 1) {
            let apart = one.cells.iter().all(|cell| other.cell(cell.column).is_none());
            let joined = buses.keys().any(|node| {
                scheme.nodes[*node].place == one.place && one.has(*node) && other.has(*node)
            });
            if one.place == other.place && apart && joined {
                return Some((a, b));
            }
        }
    }
    None
}

/// The stretches of a run in one place each.
fn cells_of(scheme: &Scheme, (column, run): (usize, &Run), ranks: &Ranks) -> Vec<(PlaceId, Cell)> {
    let place = |at: usize| run.nodes.get(at).map(|node| scheme.nodes[*node].place);
    let is_core = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Core(_));
    let level = |at: usize| {
        let last = at + 1 == run.nodes.len();
        if last && at > 0 { ranks.span(run).1 } else { ranks.level(run.nodes[at]) }
    };
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(here) = place(from) {
        let mut to = from;
        while place(to + 1) == Some(here) && !run.parts.get(to).is_some_and(is_core) {
            to += 1;
        }
        let core = |at: Option<usize>| {
            at.and_then(|at| run.parts.get(at)).copied().filter(|part| is_core(part))
        };
        let cell = Cell {
            column,
            levels: (level(from), level(to)),
            parts: run.parts.get(from..to).unwrap_or_default().to_vec(),
            above: core(from.checked_sub(1)).into_iter().collect(),
            below: core(Some(to)).into_iter().collect(),
            nodes: run.nodes.get(from..=to).unwrap_or_default().iter().copied().collect(),
        };
        found.push((here, cell));
        from = to + 1;
    }
    found
}

/// The cells of one column and place from top to bottom; those with nothing of another place between
/// them are one.
fn one_above_another(
    scheme: &Scheme,
    (plan, ranks): (&Plan, &Ranks),
    place: PlaceId,
    mut cells: Vec<Cell>,
) -> Vec<Cell> {
    cells.sort_by_key(|cell| cell.levels);
    let mut merged: Vec<Cell> = Vec::new();
    for cell in cells {
        let apart = |above: &Cell| {
            let between = above.levels.1..=cell.levels.0;
            plan.columns().filter(|(column, _)| *column == cell.column).any(|(_, run)| {
                run.nodes.iter().any(|node| {
                    scheme.nodes[*node].place != place && between.contains(&ranks.level(*node))
                })
            })
        };
        match merged.last_mut() {
            Some(above) if !apart(above) => {
                above.levels.1 = above.levels.1.max(cell.levels.1);
                above.parts.extend(cell.parts);
                above.above.extend(cell.above);
                above.below.extend(cell.below);
                above.nodes.extend(cell.nodes);
            }
            _ => merged.push(cell),
        }
    }
    merged
}
