//! The order of the legs. **In:** a plan with its ranks. **Out:** the same plan, its legs
//! moved a little where that saves crossings. **Never here:** millimetres.
//!
//! The source's order is a cost, not a law, but a leg never moves further than
//! [`furthest`] places from where it is written.

use crate::plan::{Plan, Unit};
use crate::rank::{Ranks, core_places};
use fiftytwo_scheme::{NodeId, PlaceId, Scheme};
use std::collections::BTreeMap;

/// Price of one wire crossing another.
const CROSSING: f64 = 10.0;
/// Price of a column that passes through the frame of a place it has nothing in.
const STRANGER: f64 = 8.0;
/// Price of two legs standing in the other order than written.
const INVERSION: f64 = 3.0;
/// Price of one column of bus.
const LENGTH: f64 = 0.25;

/// How many places a leg may stand from where it is written, with `legs` in the circuit.
pub fn furthest(legs: usize) -> usize {
    (legs / 2).clamp(4, 12)
}

/// First and last level of every run, column by column.
pub type Spans = Vec<Vec<(usize, usize)>>;

/// First and last level of every run, column by column.
pub fn spans(plan: &Plan, ranks: &Ranks) -> Spans {
    let mut spans: Spans = vec![Vec::new(); plan.width()];
    for (column, run) in plan.columns() {
        if let Some(column) = spans.get_mut(column) {
            column.push(ranks.span(run));
        }
    }
    spans
}

/// Whether a run of a column begins above the first level and ends below the second.
fn passes(spans: &Spans, column: usize, (above, below): (usize, usize)) -> bool {
    spans.get(column).is_some_and(|runs| runs.iter().any(|(top, end)| *top < above && below < *end))
}

/// Columns of a bus: every column that taps it.
pub fn bus_columns(plan: &Plan) -> BTreeMap<NodeId, Vec<usize>> {
    let mut buses: BTreeMap<NodeId, Vec<usize>> = BTreeMap::new();
    for (column, run) in plan.columns() {
        for node in &run.nodes {
            if run.touches(*node) && !plan.is_rail(*node) {
                buses.entry(*node).or_default().push(column);
            }
        }
    }
    for columns in buses.values_mut() {
        columns.sort_unstable();
    }
    buses
}

/// Moves single legs while that makes the picture cheaper. The first leg stays first, and where
/// nothing crosses the order is the source's.
pub fn arrange(scheme: &Scheme, plan: &mut Plan, ranks: &Ranks) {
    let count = plan.units.len();
    let reach = furthest(count);
    let mut best = cost(scheme, plan, ranks);
    if best.crowded == 0.0 {
        return;
    }
    let order = |unit: &Unit| plan_order(&plan.units, unit);
    let home: Vec<usize> = plan.units.iter().map(order).collect();
    let mut at: Vec<usize> = (0..count).collect();
    // Each round takes the best of all single moves; a circuit settles in a handful of rounds.
    for _ in 0..count.min(24) {
        let mut found: Option<(Cost, usize, usize)> = None;
        for from in 1..count {
            for to in from.saturating_sub(reach).max(1)..(from + reach + 1).min(count) {
                if from == to {
                    continue;
                }
                shift(&mut at, from, to);
                let (low, high) = (from.min(to), from.max(to));
                let near = (low..=high).all(|place| place.abs_diff(home[at[place]]) <= reach);
                if near {
                    shift(&mut plan.units, from, to);
                    let price = cost(scheme, plan, ranks);
                    let cheapest = found.as_ref().map_or(best.all(), |(price, _, _)| price.all());
                    if price.all() < cheapest - 1e-9 {
                        found = Some((price, from, to));
                    }
                    shift(&mut plan.units, to, from);
                }
                shift(&mut at, to, from);
            }
        }
        let Some((price, from, to)) = found else { break };
        shift(&mut plan.units, from, to);
        shift(&mut at, from, to);
        best = price;
        if best.crowded == 0.0 {
            break;
        }
    }
}

/// The place of a leg among the others as written.
fn plan_order(units: &[Unit], unit: &Unit) -> usize {
    units.iter().filter(|other| other.written < unit.written).count()
}

fn shift<T>(items: &mut Vec<T>, from: usize, to: usize) {
    let item = items.remove(from);
    items.insert(to, item);
}

/// What an order costs.
struct Cost {
    /// Crossings and strangers: what is worth moving a leg.
    crowded: f64,
    /// Length and inversions.
    rest: f64,
}

impl Cost {
    fn all(&self) -> f64 {
        self.crowded + self.rest
    }
}

fn cost(scheme: &Scheme, plan: &Plan, ranks: &Ranks) -> Cost {
    let spans = spans(plan, ranks);
    let mut crowded = 0.0;
    let mut rest = 0.0;
    let buses = bus_columns(plan);
    let mut rows: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (node, columns) in &buses {
        let (Some(first), Some(last)) = (columns.first(), columns.last()) else { continue };
        let level = ranks.level(*node);
        rest += LENGTH * count(last - first);
        crowded += CROSSING * count(crossings(&spans, columns, level));
        if first < last {
            rows.entry(level).or_default().push((*first, *last));
        }
    }
    for row in rows.values() {
        for (index, a) in row.iter().enumerate() {
            let clashes = row[index + 1..].iter().filter(|b| a.0 < b.1 && b.0 < a.1).count();
            crowded += CROSSING * count(clashes);
        }
    }
    for (index, unit) in plan.units.iter().enumerate() {
        let before = plan.units[..index].iter().filter(|other| other.written > unit.written);
        rest += INVERSION * count(before.count());
    }
    crowded += STRANGER * count(strangers(scheme, plan, ranks, &spans));
    Cost { crowded, rest }
}

/// Columns that a bus passes while their own wire is passing its level.
fn crossings(spans: &Spans, columns: &[usize], level: usize) -> usize {
    let (Some(first), Some(last)) = (columns.first(), columns.last()) else { return 0 };
    (*first..*last)
        .filter(|column| !columns.contains(column))
        .filter(|column| passes(spans, *column, (level, level)))
        .count()
}

fn strangers(scheme: &Scheme, plan: &Plan, ranks: &Ranks, spans: &Spans) -> usize {
    frames(scheme, plan, ranks)
        .values()
        .map(|frame| {
            (frame.first..=frame.last)
                .filter(|column| !frame.columns.contains(column))
                .filter(|column| passes(spans, *column, (frame.bottom, frame.top)))
                .count()
        })
        .sum()
}

/// What a place covers, in columns and levels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Extent {
    /// First column.
    pub first: usize,
    /// Last column.
    pub last: usize,
    /// Columns with something of the place in them.
    pub columns: Vec<usize>,
    /// Upper level.
    pub top: usize,
    /// Lower level.
    pub bottom: usize,
}

/// The places other than that of the rails, with what they cover.
pub fn frames(scheme: &Scheme, plan: &Plan, ranks: &Ranks) -> BTreeMap<PlaceId, Extent> {
    let ground = scheme.nodes[plan.plus].place;
    let mut frames: BTreeMap<PlaceId, Extent> = BTreeMap::new();
    let mut cover = |place: PlaceId, column: usize, top: usize, bottom: usize| {
        if place == ground {
            return;
        }
        let extent = frames.entry(place).or_insert(Extent {
            first: column,
            last: column,
            columns: Vec::new(),
            top,
            bottom,
        });
        extent.first = extent.first.min(column);
        extent.last = extent.last.max(column);
        extent.top = extent.top.min(top);
        extent.bottom = extent.bottom.max(bottom);
        if !extent.columns.contains(&column) {
            extent.columns.push(column);
        }
    };
    for (column, run) in plan.columns() {
        for part in &run.parts {
            let rank = ranks.rank(*part);
            if let Some((from, into)) = core_places(scheme, *part, run.flipped) {
                cover(from, column, rank, rank);
                cover(into, column, rank + 1, rank + 1);
            } else if let Some(at) = scheme.parts[*part].at {
                cover(at.place, column, rank, rank + 1);
            }
        }
    }
    frames
}

fn count(value: usize) -> f64 {
    f64::from(u32::try_from(value).unwrap_or(u32::MAX))
}
