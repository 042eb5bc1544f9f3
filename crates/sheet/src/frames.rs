//! Frames of places. **In:** a placed block and a region. **Out:** the outline. **Never here:** the
//! name of the place.
//!
//! A frame is a rectangle from the cores that lead in to the cores that lead out. Where a column
//! between has something of another place at that height, the frame draws in to what it has of its
//! own there, or to the wires of its own place that pass.

use crate::block::Placed;
use crate::geometry::{Area, Point, point};
use crate::rank::core_places;
use crate::regions::{Cell, Region};
use crate::symbols::EDGE;
use fiftytwo_scheme::{PartId, Scheme};

/// From a wire of the place to the frame where no more is free, mm.
const CORRIDOR: f64 = 1.2;
/// From a wire of the place to the frame, mm.
const AROUND: f64 = 4.0;
/// What the eye takes for apart, mm.
const APART: f64 = 0.01;

type Reach = Option<(f64, f64)>;

fn with(reach: Reach, top: f64, bottom: f64) -> Reach {
    Some(reach.map_or((top, bottom), |(a, b)| (a.min(top), b.max(bottom))))
}

/// The rectangle a region would have, and its outline.
pub fn outline(scheme: &Scheme, placed: &Placed, region: &Region) -> Option<(Area, Vec<Point>)> {
    let columns = region.first..=region.last;
    let own: Vec<Reach> = columns
        .clone()
        .map(|column| region.cell(column).and_then(|cell| own(placed, cell)))
        .collect();
    let (top, bottom) =
        own.iter().flatten().fold(None, |all, (top, bottom)| with(all, *top, *bottom))?;
    let first = *placed.x.get(region.first)?;
    let last = *placed.x.get(region.last)?;
    let sides = &placed.block.sides;
    let before = sides.get(region.first)?.0;
    let left = match (region.first == 0, placed.block.style.across()) {
        (true, false) => first - 19.0,
        (true, true) => first - before - 6.0,
        (false, _) => first - before + 1.0,
    };
    let right = last + sides.get(region.last)?.1 - 1.5;
    let mut upper = Vec::new();
    let mut lower = Vec::new();
    let mut at = left;
    for (index, column) in columns.enumerate() {
        let free = !has_strangers(scheme, placed, region, column, (top, bottom));
        // What it has of its own, and what passes; of these only as much as goes round nothing else.
        let all = corridor(scheme, placed, region, column, own[index]);
        let clear = all.filter(|reach| !has_strangers(scheme, placed, region, column, *reach));
        let narrow = clear.or(own[index]).or(all);
        let (t, b) = if free { (top, bottom) } else { narrow.unwrap_or((top, bottom)) };
        let next = if column == region.last {
            right
        } else {
            let here = placed.x[column] + sides[column].1;
            let there = placed.x[column + 1] - sides[column + 1].0;
            (here + there) / 2.0
        };
        upper.extend([point(at, t), point(next, t)]);
        lower.extend([point(at, b), point(next, b)]);
        at = next;
    }
    upper.extend(lower.into_iter().rev());
    upper.dedup_by(|a, b| (a.x - b.x).abs() < 0.01 && (a.y - b.y).abs() < 0.01);
    let straight = |points: &[Point]| -> Vec<Point> {
        let mut kept: Vec<Point> = Vec::new();
        for at in points {
            while let [.., a, b] = kept[..] {
                let level = (a.y - b.y).abs() < 0.01 && (b.y - at.y).abs() < 0.01;
                let upright = (a.x - b.x).abs() < 0.01 && (b.x - at.x).abs() < 0.01;
                if !level && !upright {
                    break;
                }
                kept.pop();
            }
            kept.push(*at);
        }
        kept
    };
    Some((Area { left, top, right, bottom }, straight(&upper)))
}

/// Top and bottom of what a part takes, mm.
fn taken(placed: &Placed, part: PartId) -> (f64, f64, f64) {
    let half = placed.half.get(placed.block.ranks.rank(part)).copied().unwrap_or(6.0);
    (placed.part_y(part), half, EDGE)
}

/// What a cell has, from top to bottom.
fn own(placed: &Placed, cell: &Cell) -> Reach {
    let mut reach: Reach = None;
    for part in &cell.parts {
        let (y, half, _) = taken(placed, *part);
        reach = with(reach, y - half, y + half);
    }
    for core in &cell.above {
        let (y, half, edge) = taken(placed, *core);
        reach = with(reach, y + edge, y + half);
    }
    for core in &cell.below {
        let (y, half, edge) = taken(placed, *core);
        reach = with(reach, y - half, y - edge);
    }
    for node in &cell.nodes {
        let is_bus = placed
            .block
            .buses
            .iter()
            .any(|bus| bus.node == *node && bus.columns.contains(&cell.column) && !bus.looped);
        if is_bus {
            let y = placed.wire_y(*node);
            reach = with(reach, y - AROUND, y + AROUND);
        }
    }
    reach
}

/// What a column has of the place, and the wires of it that pass.
fn corridor(scheme: &Scheme, placed: &Placed, region: &Region, column: usize, own: Reach) -> Reach {
    let mut reach = own;
    for bus in &placed.block.buses {
        let passes = bus.columns.first().is_some_and(|first| *first <= column)
            && bus.columns.last().is_some_and(|last| *last >= column);
        if passes && scheme.nodes[bus.node].place == region.place && region.has(bus.node) {
            let y = placed.bus_y(bus);
            reach = with(reach, y - CORRIDOR, y + CORRIDOR);
        }
    }
    reach
}

/// Whether a column has anything of other places where the frame would be.
fn has_strangers(
    scheme: &Scheme,
    placed: &Placed,
    region: &Region,
    column: usize,
    (top, bottom): (f64, f64),
) -> bool {
    let place = region.place;
    let meets = |from: f64, to: f64| to > top + APART && from < bottom - APART;
    let runs = placed.block.plan.columns().filter(|(at, _)| *at == column);
    let of_run = |run: &crate::plan::Run| {
        let parts = run.parts.iter().any(|part| {
            let (y, half, edge) = taken(placed, *part);
            match core_places(scheme, *part, run.flipped) {
                Some((_, into)) if into == place => meets(y - half, y + edge),
                Some((from, _)) if from == place => meets(y - edge, y + half),
                Some(_) => meets(y - half, y + half),
                None => {
                    scheme.parts[*part].at.is_some_and(|at| at.place != place)
                        && meets(y - half, y + half)
                }
            }
        });
        // The wire between two parts of another place.
        let wires = run.nodes.iter().enumerate().any(|(at, node)| {
            let end = |part: Option<&PartId>| part.map(|part| placed.part_y(*part));
            let above = at.checked_sub(1).and_then(|above| end(run.parts.get(above)));
            let below = end(run.parts.get(at));
            let tap = placed.wire_y(*node);
            let from = above.unwrap_or(tap).min(below.unwrap_or(tap));
            let to = above.unwrap_or(tap).max(below.unwrap_or(tap));
            scheme.nodes[*node].place != place && meets(from, to)
        });
        parts || wires
    };
    let crossing = placed.block.buses.iter().any(|bus| {
        let passes = bus.columns.first().is_some_and(|first| *first <= column)
            && bus.columns.last().is_some_and(|last| *last >= column);
        let y = placed.bus_y(bus);
        passes && scheme.nodes[bus.node].place != place && meets(y, y)
    });
    runs.into_iter().any(|(_, run)| of_run(run)) || crossing
}
