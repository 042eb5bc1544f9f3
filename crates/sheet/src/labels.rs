//! Places for labels, against everything already drawn. **In:** areas and strokes. **Out:** whether
//! a place is free. **Never here:** what a label says.

use crate::geometry::{Area, Point, Shape};

/// Clear distance between texts, mm.
const BETWEEN_TEXTS: f64 = 0.5;
/// Clear distance between text and line, mm.
const TO_LINES: f64 = 0.45;
/// Clear distance between text and the edge of a line that is broad in a state, mm.
const TO_BROAD: f64 = 0.2;
/// Words on one line nearer than this read as one, mm: no number of a wire stands so near to
/// another text.
pub const READS_AS_ONE: f64 = 1.2;
/// The same for words one above the other, mm.
pub const READS_AS_BLOCK: f64 = 0.75;
/// From here on a text beside is not felt any more, mm: beside, above or below.
const AT_EASE: (f64, f64) = (2.0, 1.0);

/// What is already drawn.
#[derive(Debug, Clone, Default)]
pub struct Board {
    texts: Vec<Area>,
    bodies: Vec<Area>,
    strokes: Vec<Stroke>,
}

/// A stroke, and what texts keep clear of its middle, mm.
#[derive(Debug, Clone, Copy)]
struct Stroke {
    ends: (Point, Point),
    clear: f64,
}

/// A stroke drawn thinly.
fn thin(a: Point, b: Point) -> Stroke {
    Stroke { ends: (a, b), clear: TO_LINES }
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

/// Whether a slanting line passes beside an area that its rectangle touches.
pub fn clears(area: &Area, (a, b): &(Point, Point)) -> bool {
    if (a.x - b.x).abs() < 1e-9 || (a.y - b.y).abs() < 1e-9 {
        return false;
    }
    let side = |x: f64, y: f64| (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
    let corners = [
        side(area.left, area.top),
        side(area.right, area.top),
        side(area.right, area.bottom),
        side(area.left, area.bottom),
    ];
    corners.iter().all(|value| *value > 0.0) || corners.iter().all(|value| *value < 0.0)
}

/// Whether a point lies inside a closed line: a ray to the right crosses it an odd number of times.
pub fn lies_inside(at: Point, outline: &[Point]) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crossed = outline.iter().zip(next).filter(|(a, b)| {
        let spans = (a.y > at.y) != (b.y > at.y);
        spans && at.x < a.x + (b.x - a.x) * (at.y - a.y) / (b.y - a.y)
    });
    crossed.count() % 2 == 1
}

/// How far two areas are apart: beside each other where they share a height, above each other
/// where they share a width, mm. Neither: they meet at no side.
pub fn gaps(a: &Area, b: &Area) -> (Option<f64>, Option<f64>) {
    let beside = (a.left - b.right).max(b.left - a.right);
    let above = (a.top - b.bottom).max(b.top - a.bottom);
    ((above < -0.4).then_some(beside), (beside < 0.0).then_some(above))
}

/// Whether two texts are read as one.
pub fn reads_as_one(a: &Area, b: &Area) -> bool {
    let (beside, above) = gaps(a, b);
    beside.is_some_and(|gap| gap < READS_AS_ONE) || above.is_some_and(|gap| gap < READS_AS_BLOCK)
}

impl Board {
    /// Notes shapes: texts as texts, everything else as strokes.
    pub fn add_shapes(&mut self, shapes: &[Shape]) {
        for shape in shapes {
            match shape {
                Shape::Text(text) => self.texts.push(text.area()),
                Shape::Line { points, closed, .. } => {
                    self.strokes.extend(points.windows(2).map(|pair| thin(pair[0], pair[1])));
                    if let (true, Some(first), Some(last)) =
                        (*closed, points.first(), points.last())
                    {
                        self.strokes.push(thin(*last, *first));
                    }
                }
                Shape::Curve { .. } | Shape::Circle { .. } => self.bodies.push(shape.area()),
            }
        }
    }
    /// Notes a stroke that is drawn so many mm broad.
    pub fn add_broad(&mut self, ends: (Point, Point), broad: f64) {
        let clear = TO_LINES.max(broad / 2.0 + TO_BROAD);
        self.strokes.push(Stroke { ends, clear });
    }
    /// Notes a body.
    pub fn add_body(&mut self, area: Area) {
        self.bodies.push(area);
    }
    /// Notes a text's area.
    pub fn add_text(&mut self, area: Area) {
        self.texts.push(area);
    }
    /// What texts cover.
    pub fn texts(&self) -> impl Iterator<Item = &Area> {
        self.texts.iter()
    }
    /// Whether a text would stand free.
    pub fn is_free(&self, area: &Area) -> bool {
        let wide = area.grown(BETWEEN_TEXTS);
        let near = area.grown(TO_LINES);
        let lies_on = |it: &Stroke| touches(&area.grown(it.clear), &it.ends);
        !self.texts.iter().any(|other| wide.overlaps(other))
            && !self.bodies.iter().any(|body| near.overlaps(body))
            && !self.strokes.iter().any(lies_on)
    }
    /// Whether a label would stand free, and not be taken for a part of another text.
    pub fn is_free_for_label(&self, area: &Area) -> bool {
        self.is_free(area) && !self.texts.iter().any(|other| reads_as_one(area, other))
    }
    /// How much the texts and symbols around crowd a place: 0 at ease, 1 for each that is as near
    /// as it may be.
    pub fn crowding(&self, area: &Area) -> f64 {
        let near = area.grown(AT_EASE.0);
        let share = |gap: Option<f64>, ease: f64| {
            gap.map_or(0.0, |gap| ((ease - gap) / ease).clamp(0.0, 1.0))
        };
        let felt = |other: &&Area| near.overlaps(other);
        let texts = self.texts.iter().filter(felt).map(|other| {
            let (beside, above) = gaps(area, other);
            share(beside, AT_EASE.0) + share(above, AT_EASE.1)
        });
        let bodies = self.bodies.iter().filter(felt).map(|other| {
            let (beside, above) = gaps(area, other);
            0.5 * (share(beside, 1.0) + share(above, 1.0))
        });
        texts.chain(bodies).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::point;

    /// A rail at minus is 1.3 mm broad: a word 0.5 mm from its middle would lie on it.
    #[test]
    fn a_word_keeps_clear_of_a_wire_that_is_broad_in_a_state() {
        let ends = (point(0.0, 10.0), point(50.0, 10.0));
        let word = |bottom: f64| Area { left: 20.0, right: 30.0, top: bottom - 2.5, bottom };
        let (mut at_rest, mut at_minus) = (Board::default(), Board::default());
        at_rest.strokes.push(thin(ends.0, ends.1));
        at_minus.add_broad(ends, 1.3);
        assert!(at_rest.is_free(&word(9.5)) && !at_minus.is_free(&word(9.5)));
        assert!(!at_minus.is_free(&word(9.2)) && at_minus.is_free(&word(9.1)));
    }
}
