//! Pictures beside the sheets, in the same strokes and letters. **In:** plain data that whoever
//! knows it hands in. **Out:** drawings of one sheet. **Never here:** where the data come from.

mod along;
mod axis;
mod causes;
mod matrix;
mod timeline;

pub use along::{Along, Step, along};
pub use matrix::matrix;
pub use timeline::{Edge, Row, Timeline, timeline};

use crate::geometry::{
    Anchor, Area, Drawing, Group, Ink, Point, Role, Shape, Sheet, Weight, point,
};
use crate::lettering;
use crate::notes;
use crate::page::text;

/// A drawing of one sheet without title block, as large as what is on it and the caution below.
fn alone(title: &str, (width, height): (f64, f64), shapes: Vec<(&str, Vec<Shape>)>) -> Drawing {
    let (caution, end) = notes::caution(8.0, height + 3.0, width - 16.0);
    let height = end + 3.0;
    let items = shapes
        .into_iter()
        .chain([("caution", caution)])
        .filter(|(_, shapes)| !shapes.is_empty())
        .map(|(id, shapes)| Group {
            id: id.to_owned(),
            role: Role::Notes,
            title: id.replace('-', " "),
            source: None,
            shapes,
        })
        .collect();
    let frame = Area { left: 0.0, top: 0.0, right: width, bottom: height };
    let sheet = Sheet {
        number: 1,
        title: title.to_owned(),
        width,
        height,
        frame,
        items,
        boxes: Vec::new(),
    };
    Drawing { title: title.to_owned(), sheets: vec![sheet], notes: Vec::new() }
}

/// The title over a picture from a point on: one line if it fits, else smaller ones below each other.
/// Returns how much lower what follows begins than after one line, mm.
pub fn headline(title: &str, room: f64, (left, y): (f64, f64)) -> (Vec<Shape>, f64) {
    let look = |height: f64| (height, Weight::Bold, Ink::Main);
    if lettering::width(title, 5.0, Weight::Bold) <= room {
        return (vec![text((left, y), title, look(5.0), Anchor::Start)], 0.0);
    }
    let leading = 3.5 * lettering::LEADING;
    let lines = lettering::wrapped(title, room, 3.5, Weight::Bold);
    let more = leading * lines.len().saturating_sub(1) as f64;
    let at = |line: usize| (left, y - 1.0 + leading * line as f64);
    let shape = |(line, words): (usize, &String)| text(at(line), words, look(3.5), Anchor::Start);
    (lines.iter().enumerate().map(shape).collect(), more)
}

/// Distance of lines of words about a picture, in heights: brackets reach beyond letters.
const ABOUT: f64 = 1.7;
/// Kept free between words and the lines of a scale, mm.
const ROUND_WORDS: f64 = 0.7;

/// Lines of a scale, left out where words stand on them.
fn broken_at_words(lines: Vec<Shape>, words: &[Shape]) -> Vec<Shape> {
    let mut kept = Vec::new();
    for line in lines {
        let Shape::Line { points, pen, .. } = &line else {
            kept.push(line);
            continue;
        };
        let [a, b] = points[..] else {
            kept.push(line);
            continue;
        };
        let level = (a.y - b.y).abs() < 1e-9;
        let along = |at: &Point| if level { at.x } else { at.y };
        let (from, to) = (along(&a).min(along(&b)), along(&a).max(along(&b)));
        let mut gaps: Vec<(f64, f64)> = words
            .iter()
            .filter(|shape| matches!(shape, Shape::Text(_)))
            .map(|shape| shape.area().grown(ROUND_WORDS))
            .filter(|area| crate::labels::touches(area, &(a, b)))
            .map(|area| if level { (area.left, area.right) } else { (area.top, area.bottom) })
            .collect();
        gaps.sort_by(|x, y| x.0.total_cmp(&y.0));
        let mut at = from;
        let mut piece = |start: f64, end: f64| {
            if end - start > 0.2 {
                let on = |v: f64| if level { point(v, a.y) } else { point(a.x, v) };
                kept.push(Shape::line(&[on(start), on(end)], *pen));
            }
        };
        for (start, end) in gaps {
            piece(at, start.min(to));
            at = at.max(end);
        }
        piece(at, to);
    }
    kept
}
