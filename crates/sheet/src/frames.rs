//! Frames of places. **In:** a placed block and a stretch of columns in one place. **Out:** the
//! outline. **Never here:** the name of the place.
//!
//! A frame is a rectangle from the cores that lead in to the cores that lead out. Where a column
//! between has parts of another place at that height, the frame draws in to the wires of its own
//! place that pass there.

use crate::block::{Cluster, Placed};
use crate::geometry::{Area, Point, point};
use crate::rank::core_places;
use crate::symbols::EDGE;
use fiftytwo_scheme::Scheme;

/// From a wire of the place to the frame where no more is free, mm.
const CORRIDOR: f64 = 1.2;
/// From a wire of the place to the frame, mm.
const AROUND: f64 = 4.0;

type Reach = Option<(f64, f64)>;

fn with(reach: Reach, top: f64, bottom: f64) -> Reach {
    Some(reach.map_or((top, bottom), |(a, b)| (a.min(top), b.max(bottom))))
}

/// The rectangle a stretch would have, and its outline.
pub fn outline(scheme: &Scheme, placed: &Placed, cluster: &Cluster) -> Option<(Area, Vec<Point>)> {
    let columns = cluster.first..=cluster.last;
    let own: Vec<Reach> =
        columns.clone().map(|column| own(scheme, placed, cluster, column)).collect();
    let (top, bottom) =
        own.iter().flatten().fold(None, |all, (top, bottom)| with(all, *top, *bottom))?;
    let first = *placed.x.get(cluster.first)?;
    let last = *placed.x.get(cluster.last)?;
    let sides = &placed.block.sides;
    let before = sides.get(cluster.first)?.0;
    let left = match (cluster.first == 0, placed.block.style.across()) {
        (true, false) => first - 19.0,
        (true, true) => first - before - 6.0,
        (false, _) => first - before + 1.0,
    };
    let right = last + sides.get(cluster.last)?.1 - 1.5;
    let mut upper = Vec::new();
    let mut lower = Vec::new();
    let mut at = left;
    for (index, column) in columns.enumerate() {
        let free = !has_strangers(scheme, placed, cluster, column, (top, bottom));
        let narrow = corridor(scheme, placed, cluster, column).or(own[index]);
        let (t, b) = if free { (top, bottom) } else { narrow.unwrap_or((top, bottom)) };
        let next = if column == cluster.last {
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

/// What a column has of the place, from top to bottom.
fn own(scheme: &Scheme, placed: &Placed, cluster: &Cluster, column: usize) -> Reach {
    let mut reach: Reach = None;
    for (_, run) in placed.block.plan.columns().filter(|(at, _)| *at == column) {
        for part in &run.parts {
            let y = placed.part_y(*part);
            let half = placed.half.get(placed.block.ranks.rank(*part)).copied().unwrap_or(6.0);
            if let Some((from, into)) = core_places(scheme, *part, run.flipped) {
                if into == cluster.place {
                    reach = with(reach, y + EDGE, y + half);
                }
                if from == cluster.place {
                    reach = with(reach, y - half, y - EDGE);
                }
            } else if scheme.parts[*part].at.is_some_and(|at| at.place == cluster.place) {
                reach = with(reach, y - half, y + half);
            }
        }
        for node in &run.nodes {
            let is_bus = placed.block.buses.iter().any(|bus| bus.node == *node);
            if scheme.nodes[*node].place == cluster.place && run.touches(*node) && is_bus {
                let y = placed.wire_y(*node);
                reach = with(reach, y - AROUND, y + AROUND);
            }
        }
    }
    reach
}

/// The wires of the place that pass a column.
fn corridor(scheme: &Scheme, placed: &Placed, cluster: &Cluster, column: usize) -> Reach {
    let mut reach: Reach = None;
    for bus in &placed.block.buses {
        let passes = bus.columns.first().is_some_and(|first| *first <= column)
            && bus.columns.last().is_some_and(|last| *last >= column);
        if passes && scheme.nodes[bus.node].place == cluster.place {
            let y = placed.bus_y(bus);
            reach = with(reach, y - CORRIDOR, y + CORRIDOR);
        }
    }
    match own(scheme, placed, cluster, column) {
        // A column with something of the place in it keeps that inside.
        Some((top, bottom)) => with(reach, top, bottom),
        None => reach,
    }
}

/// Whether a column has parts of other places where the frame would be.
fn has_strangers(
    scheme: &Scheme,
    placed: &Placed,
    cluster: &Cluster,
    column: usize,
    (top, bottom): (f64, f64),
) -> bool {
    placed.block.plan.columns().filter(|(at, _)| *at == column).any(|(_, run)| {
        run.parts.iter().any(|part| {
            let y = placed.part_y(*part);
            let half = placed.half.get(placed.block.ranks.rank(*part)).copied().unwrap_or(6.0);
            let near = y + half > top + 0.01 && y - half < bottom - 0.01;
            match core_places(scheme, *part, run.flipped) {
                Some((from, into)) => {
                    let leads = from == cluster.place || into == cluster.place;
                    near && !leads
                        || (into == cluster.place && y + EDGE > top + 0.01)
                        || (from == cluster.place && y - EDGE < bottom - 0.01)
                }
                None => near && scheme.parts[*part].at.is_some_and(|at| at.place != cluster.place),
            }
        })
    })
}
