//! Arrows from causes to effects. **In:** edges with their causes. **Out:** thin lines, each in a lane
//! of its own between two rows; what would lie on another is left to the words below. **Never here:**
//! a guess at a cause.

use super::Timeline;
use super::axis::Axis;
use super::timeline::{BAR, Rows};
use crate::geometry::{Area, Dash, Fill, Ink, Pen, Point, Shape, point};

/// From the top of a bar to the lane above it, mm.
const ABOVE: f64 = 2.4;
/// Length and half width of an arrow's head, mm.
const HEAD: (f64, f64) = (1.8, 0.7);

/// The level stroke of an arrow.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Lane {
    from: Point,
    to: Point,
}

impl Lane {
    /// What it covers.
    fn area(&self) -> Area {
        Area::between(self.from, self.to).grown(0.2)
    }
}

/// The arrows, and what their strokes cover.
pub fn arrows(timeline: &Timeline, axis: &Axis, rows: &Rows) -> (Vec<Shape>, Vec<Area>) {
    let (mut shapes, mut covered) = (Vec::new(), Vec::new());
    let mut lanes: Vec<(Lane, (usize, i64))> = Vec::new();
    for edge in &timeline.edges {
        let Some((row, at)) = edge.cause else { continue };
        if row == edge.row {
            continue;
        }
        let (from_x, x) = (axis.x(at), axis.x(edge.at));
        let (cause, effect) = (rows.base(row), rows.base(edge.row));
        let down = cause < effect;
        // Into the bar's top from above, into its foot from below.
        let (start, tip, lane_y) = if down {
            (cause, effect - BAR, effect - BAR - ABOVE)
        } else {
            (cause - BAR, effect, effect + ABOVE)
        };
        let lane = Lane { from: point(from_x, lane_y), to: point(x, lane_y) };
        let mine = (row, at);
        let level = lane.area().grown(0.5);
        let upright = Area::between(point(from_x, start), lane.from).grown(0.7);
        let meets = |(other, theirs): &(Lane, (usize, i64))| {
            *theirs != mine && (other.area().overlaps(&level) || other.area().overlaps(&upright))
        };
        if lanes.iter().any(meets) {
            continue;
        }
        let mut points = vec![point(from_x, start), lane.from, lane.to, point(x, tip)];
        points.dedup_by(|a, b| (a.x - b.x).abs() < 0.05 && (a.y - b.y).abs() < 0.05);
        covered.extend(points.windows(2).map(|ends| Area::between(ends[0], ends[1]).grown(0.2)));
        let (near, far) = (row.min(edge.row), row.max(edge.row));
        for between in near + 1..far {
            let y = rows.base(between);
            // Never over the end of a bar: that is what the picture is about.
            let ends = timeline.rows.get(between).into_iter().flat_map(|row| &row.so);
            let ends = ends.flat_map(|(from, to)| [*from, *to]);
            if ends.into_iter().any(|end| (axis.x(end) - from_x).abs() < 1.0) {
                continue;
            }
            // The pen's 1.3 mm clear the arrow from the bar it passes.
            shapes.push(Shape::Line {
                points: vec![point(from_x, y - BAR - 0.2), point(from_x, y + 0.2)],
                closed: false,
                pen: Pen::AtMinus,
                ink: Ink::Paper,
                fill: Fill::None,
                dash: Dash::Solid,
            });
        }
        shapes.push(Shape::line(&points, Pen::Thin));
        shapes.push(Shape::dot(point(from_x, start), 0.6));
        let back = if down { -HEAD.0 } else { HEAD.0 };
        let head = [point(x, tip), point(x - HEAD.1, tip + back), point(x + HEAD.1, tip + back)];
        shapes.push(Shape::outline(&head, Pen::None, Fill::Ink));
        lanes.push((lane, mine));
    }
    (shapes, covered)
}
