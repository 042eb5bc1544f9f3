//! Where things stand on the sheets: the group of a part, and the way along wires between parts.
//!
//! **In:** a drawing. **Out:** names of groups, lines in millimetres. **Never here:** strokes.

use fiftytwo_scheme::{NodeId, PartId, Scheme};
use fiftytwo_sheet::geometry::{Point, Role, Shape};
use fiftytwo_sheet::{Drawing, Sheet};
use serde::Serialize;
use std::collections::BTreeMap;

/// Ends nearer than this meet a symbol, mm.
const MEETS: f64 = 1.3;
/// Ends nearer than this are one point, mm.
const SAME: f64 = 0.05;

/// A line on a sheet, for a marker along a path.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// Number of the sheet, from 1.
    pub sheet: usize,
    /// x and y of both ends, mm.
    pub line: [f64; 4],
}

/// A path on the sheets.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Way {
    /// Groups of the parts and pieces of wire, from plus to minus.
    pub ids: Vec<String>,
    /// Where it runs.
    pub marks: Vec<Mark>,
}

/// The sheet's index and the group of every part.
pub fn groups(drawing: &Drawing) -> BTreeMap<PartId, (usize, String)> {
    let mut groups = BTreeMap::new();
    for (index, sheet) in drawing.sheets.iter().enumerate() {
        for group in &sheet.items {
            if let Role::Part(part) = group.role {
                groups.entry(part).or_insert_with(|| (index, group.id.clone()));
            }
        }
    }
    groups
}

/// The way along these parts.
pub fn way(drawing: &Drawing, scheme: &Scheme, parts: &[PartId]) -> Way {
    let groups = groups(drawing);
    let mut way = Way::default();
    let place = |part: PartId| {
        let (sheet, id) = groups.get(&part)?;
        let sheet = drawing.sheets.get(*sheet)?;
        let body = sheet.boxes.iter().find(|body| body.part == part)?;
        Some((sheet, id, body))
    };
    let ends = |part: PartId| scheme.parts[part].at.map(|at| [at.from, at.to]);
    let mut before: Option<(NodeId, usize, Point)> = None;
    for (index, part) in parts.iter().enumerate() {
        let (Some((sheet, id, body)), Some(own)) = (place(*part), ends(*part)) else { continue };
        // Which end the path enters by: the one it shares with the part before it.
        let last = index.checked_sub(1).and_then(|index| parts.get(index)).and_then(|it| ends(*it));
        let next = parts.get(index + 1).and_then(|it| ends(*it));
        let enters_below = match (last, next) {
            (Some(last), _) => !last.contains(&own[0]) && last.contains(&own[1]),
            (None, Some(next)) => next.contains(&own[0]) && !next.contains(&own[1]),
            (None, None) => false,
        };
        let (enter, leave) = if enters_below { (1, 0) } else { (0, 1) };
        let from = match before {
            Some((node, number, at)) if number == sheet.number && node == own[enter] => Some(at),
            _ => pole(sheet, own[enter]),
        };
        if let Some(from) = from {
            along(sheet, own[enter], from, body.ends[enter], &mut way);
        }
        way.ids.push(id.clone());
        way.marks.push(mark(sheet, body.ends[0], body.ends[1]));
        before = Some((own[leave], sheet.number, body.ends[leave]));
        if index + 1 == parts.len()
            && let Some(pole) = pole(sheet, own[leave])
        {
            along(sheet, own[leave], body.ends[leave], pole, &mut way);
        }
    }
    way
}

fn mark(sheet: &Sheet, a: Point, b: Point) -> Mark {
    let short = |value: f64| (value * 100.0).round() / 100.0;
    Mark { sheet: sheet.number, line: [short(a.x), short(a.y), short(b.x), short(b.y)] }
}

/// The ring of a pole on a sheet.
fn pole(sheet: &Sheet, node: NodeId) -> Option<Point> {
    sheet.items.iter().find_map(|group| {
        let of_node = group.role == Role::Wire(node) && group.id.starts_with("pole-");
        match group.shapes.first() {
            Some(Shape::Circle { centre, .. }) if of_node => Some(*centre),
            _ => None,
        }
    })
}

struct Piece<'a> {
    id: &'a str,
    ends: [Point; 2],
}

/// The shortest way along the pieces of a wire from one end to another.
fn along(sheet: &Sheet, node: NodeId, from: Point, to: Point, way: &mut Way) {
    let pieces = pieces(sheet, node);
    let mut points: Vec<Point> = Vec::new();
    let mut edges: Vec<(usize, usize, f64, usize)> = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let [a, b] = piece.ends.map(|end| point_index(&mut points, end));
        let length = (piece.ends[0].x - piece.ends[1].x).hypot(piece.ends[0].y - piece.ends[1].y);
        edges.push((a, b, length, index));
    }
    let nearest = |at: Point| {
        let far = |point: &Point| (point.x - at.x).hypot(point.y - at.y);
        let (index, point) =
            points.iter().enumerate().min_by(|a, b| far(a.1).total_cmp(&far(b.1)))?;
        (far(point) <= MEETS).then_some(index)
    };
    let (Some(start), Some(goal)) = (nearest(from), nearest(to)) else { return };
    let mut best = vec![f64::INFINITY; points.len()];
    let mut came: Vec<Option<(usize, usize)>> = vec![None; points.len()];
    best[start] = 0.0;
    // As many rounds as there are points at most: few.
    for _ in 0..points.len() {
        let mut changed = false;
        for &(a, b, length, piece) in &edges {
            for (x, y) in [(a, b), (b, a)] {
                if best[x] + length < best[y] - 1e-9 {
                    best[y] = best[x] + length;
                    came[y] = Some((x, piece));
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    let mut at = goal;
    let mut found = Vec::new();
    while let Some((before, piece)) = came[at] {
        found.push(piece);
        at = before;
        if at == start {
            break;
        }
    }
    for index in found.into_iter().rev() {
        let Some(piece) = pieces.get(index) else { continue };
        if way.ids.last().is_none_or(|last| last != piece.id) {
            way.ids.push(piece.id.to_owned());
        }
        way.marks.push(mark(sheet, piece.ends[0], piece.ends[1]));
    }
}

fn point_index(points: &mut Vec<Point>, at: Point) -> usize {
    let same = |other: &Point| (other.x - at.x).abs() < SAME && (other.y - at.y).abs() < SAME;
    points.iter().position(same).unwrap_or_else(|| {
        points.push(at);
        points.len() - 1
    })
}

/// The strokes of a wire, cut wherever another one ends on them.
fn pieces(sheet: &Sheet, node: NodeId) -> Vec<Piece<'_>> {
    let mut whole: Vec<Piece<'_>> = Vec::new();
    for group in sheet.items.iter().filter(|group| group.role == Role::Wire(node)) {
        if !group.id.starts_with("wire-") {
            continue;
        }
        if let Some(Shape::Line { points, .. }) = group.shapes.first() {
            for pair in points.windows(2) {
                if let [a, b] = pair {
                    whole.push(Piece { id: &group.id, ends: [*a, *b] });
                }
            }
        }
    }
    let taps: Vec<Point> = whole.iter().flat_map(|piece| piece.ends).collect();
    let mut cut = Vec::new();
    for piece in &whole {
        let [a, b] = piece.ends;
        let length = (b.x - a.x).hypot(b.y - a.y).max(1e-9);
        let mut at: Vec<f64> = taps
            .iter()
            .filter_map(|tap| {
                let along = ((tap.x - a.x) * (b.x - a.x) + (tap.y - a.y) * (b.y - a.y)) / length;
                let off = ((tap.x - a.x) * (b.y - a.y) - (tap.y - a.y) * (b.x - a.x)) / length;
                (off.abs() < SAME && along > SAME && along < length - SAME).then_some(along)
            })
            .collect();
        at.extend([0.0, length]);
        at.sort_by(f64::total_cmp);
        at.dedup_by(|a, b| (*a - *b).abs() < SAME);
        for pair in at.windows(2) {
            let [from, to] = pair else { continue };
            let spot = |along: f64| Point {
                x: a.x + (b.x - a.x) * along / length,
                y: a.y + (b.y - a.y) * along / length,
            };
            cut.push(Piece { id: piece.id, ends: [spot(*from), spot(*to)] });
        }
    }
    cut
}
