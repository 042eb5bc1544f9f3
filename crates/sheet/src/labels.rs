//! Places for labels, against everything already drawn. **In:** areas and strokes. **Out:** whether
//! a place is free. **Never here:** what a label says.

use crate::geometry::{Area, Point, Shape};

/// Clear distance between texts, mm.
const BETWEEN_TEXTS: f64 = 0.5;
/// Clear distance between text and line, mm.
const TO_LINES: f64 = 0.45;

/// What is already drawn.
#[derive(Debug, Clone, Default)]
pub struct Board {
    texts: Vec<Area>,
    bodies: Vec<Area>,
    strokes: Vec<(Point, Point)>,
}

/// Whether an upright or level stroke touches an area. Slanting strokes count by their
/// rectangle.
pub fn touches(area: &Area, (a, b): &(Point, Point)) -> bool {
    let stroke = Area::between(*a, *b);
    stroke.left <= area.right
        && stroke.right >= area.left
        && stroke.top <= area.bottom
        && stroke.bottom >= area.top
}

impl Board {
    /// Notes shapes: texts as texts, everything else as strokes.
    pub fn add_shapes(&mut self, shapes: &[Shape]) {
        for shape in shapes {
            match shape {
                Shape::Text(text) => self.texts.push(text.area()),
                Shape::Line { points, closed, .. } => {
                    self.strokes.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
                    if let (true, Some(first), Some(last)) =
                        (*closed, points.first(), points.last())
                    {
                        self.strokes.push((*last, *first));
                    }
                }
                Shape::Curve { .. } | Shape::Circle { .. } => self.bodies.push(shape.area()),
            }
        }
    }
    /// Notes a body.
    pub fn add_body(&mut self, area: Area) {
        self.bodies.push(area);
    }
    /// Notes a text's area.
    pub fn add_text(&mut self, area: Area) {
        self.texts.push(area);
    }
    /// Whether a text would stand free.
    pub fn is_free(&self, area: &Area) -> bool {
        let wide = area.grown(BETWEEN_TEXTS);
        let near = area.grown(TO_LINES);
        !self.texts.iter().any(|other| wide.overlaps(other))
            && !self.bodies.iter().any(|body| near.overlaps(body))
            && !self.strokes.iter().any(|stroke| touches(&near, stroke))
    }
}
