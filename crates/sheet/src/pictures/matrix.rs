//! Close and trip logic as a plain matrix. **In:** a scheme with a matrix. **Out:** one sheet:
//! sources down the side, needs and effects across the top, a mark where one takes the other.
//! **Never here:** whether the circuit does it: that is what the claims are for.

use super::alone;
use crate::geometry::{Anchor, Drawing, Ink, MODULE, Pen, Shape, Text, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};
use fiftytwo_scheme::{CoilChoice, Matrix, PartId, Scheme};

/// Least width of the picture, mm.
const LEAST: f64 = 200.0;
/// Width of the sources' column, mm.
const SOURCES: f64 = 92.0;
/// Width of a column, mm.
const COLUMN: f64 = 11.0;
/// Height of a row, mm.
const ROW: f64 = 7.0;

/// One source and what it takes.
struct Line {
    source: String,
    /// By column: the mark.
    marks: Vec<&'static str>,
    within: String,
}

/// The matrices of a scheme, one below the other; none: the scheme has none.
pub fn matrix(scheme: &Scheme) -> Option<Drawing> {
    let title = format!("{}: who closes and trips", scheme.title);
    let (mut shapes, more) = super::headline(&title, LEAST - 16.0, (8.0, 12.0));
    let about = "What the matrix of the text asks for; whether the circuits do it, the claims say.";
    shapes.push(text((8.0, 18.5 + more), about, SMALL_SECOND, Anchor::Start));
    let mut y = 26.0 + more;
    let mut width = LEAST;
    let mut any = false;
    for matrix in &scheme.matrices {
        any = true;
        let breaker = &scheme.devices[matrix.breaker].name;
        let (needs, close) = closing(matrix);
        if !close.is_empty() {
            let heads: Vec<String> = needs;
            let name = format!("Close {breaker}: n: the source needs it");
            (y, width) = table(&mut shapes, (y, width), &name, &heads, &close);
        }
        let (heads, trip) = tripping(scheme, matrix);
        if !trip.is_empty() {
            let name = format!(
                "Trip {breaker}: dots: all of these coils; rings: at least one of them; n: needed"
            );
            (y, width) = table(&mut shapes, (y, width), &name, &heads, &trip);
        }
    }
    any.then(|| alone(&title, (width, y + 4.0), vec![("matrix", shapes)]))
}

fn closing(matrix: &Matrix) -> (Vec<String>, Vec<Line>) {
    let mut heads: Vec<String> = Vec::new();
    let own = matrix.close_by.iter().flat_map(|by| &by.needs).map(|need| &need.text);
    let all = matrix.close_needs.iter().map(|need| &need.need.text);
    for head in own.chain(all) {
        if !heads.contains(head) {
            heads.push(head.clone());
        }
    }
    let lines = matrix
        .close_by
        .iter()
        .map(|by| Line {
            source: by.by.text.clone(),
            marks: heads
                .iter()
                .map(|head| {
                    let own = by.needs.iter().any(|need| need.text == *head);
                    let all = matrix.close_needs.iter().any(|need| need.need.text == *head);
                    if own || all { "n" } else { "" }
                })
                .collect(),
            within: String::new(),
        })
        .collect();
    (heads, lines)
}

fn tripping(scheme: &Scheme, matrix: &Matrix) -> (Vec<String>, Vec<Line>) {
    let mut needs: Vec<String> = Vec::new();
    let mut coils: Vec<PartId> = Vec::new();
    for by in &matrix.trip_by {
        for need in &by.needs {
            if !needs.contains(&need.text) {
                needs.push(need.text.clone());
            }
        }
        let (CoilChoice::All(own) | CoilChoice::Any(own)) = &by.coils;
        for coil in own {
            if !coils.contains(coil) {
                coils.push(*coil);
            }
        }
    }
    let mut heads = needs.clone();
    heads.extend(coils.iter().map(|coil| scheme.parts[*coil].name.clone()));
    let lines = matrix
        .trip_by
        .iter()
        .map(|by| {
            let mut marks: Vec<&'static str> = needs
                .iter()
                .map(|need| if by.needs.iter().any(|own| own.text == *need) { "n" } else { "" })
                .collect();
            let (own, mark) = match &by.coils {
                CoilChoice::All(own) => (own, "●"),
                CoilChoice::Any(own) => (own, "○"),
            };
            marks.extend(coils.iter().map(|coil| if own.contains(coil) { mark } else { "" }));
            let within = by.within.as_ref().map(|time| time.written.clone());
            Line { source: by.by.text.clone(), marks, within: within.unwrap_or_default() }
        })
        .collect();
    (heads, lines)
}

fn table(
    shapes: &mut Vec<Shape>,
    (top, width): (f64, f64),
    name: &str,
    heads: &[String],
    lines: &[Line],
) -> (f64, f64) {
    let left = 8.0;
    let turned =
        heads.iter().map(|head| lettering::width(head, MODULE, Weight::Plain)).fold(20.0, f64::max);
    let mut y = top + 6.0;
    shapes.push(text((left, y), name, SMALL_BOLD, Anchor::Start));
    let head_top = y + 3.0;
    let first = head_top + turned + 4.0;
    let times = lines.iter().any(|line| !line.within.is_empty());
    let right = left + SOURCES + COLUMN * heads.len() as f64 + if times { 22.0 } else { 0.0 };
    for (column, head) in heads.iter().enumerate() {
        let x = left + SOURCES + COLUMN * (column as f64 + 0.5);
        shapes.push(Shape::Text(Text {
            at: point(x + MODULE / 2.0, first - 2.0),
            anchor: Anchor::Start,
            height: MODULE,
            weight: Weight::Plain,
            ink: Ink::Main,
            words: lettering::tidy(head),
            turned: true,
            meaning: crate::geometry::Meaning::Words,
        }));
    }
    if times {
        shapes.push(text((right - 20.0, first - 2.0), "within", SMALL_SECOND, Anchor::Start));
    }
    y = first;
    let rule = |y: f64, pen: Pen| Shape::line(&[point(left, y), point(right, y)], pen);
    shapes.push(rule(head_top, Pen::Wire));
    shapes.push(rule(y, Pen::Thin));
    for line in lines {
        let words = lettering::wrapped(&line.source, SOURCES - 4.0, MODULE, Weight::Plain);
        let height = ROW + MODULE * LEADING * (words.len().max(1) - 1) as f64;
        for (index, words) in words.iter().enumerate() {
            let at = (left + 1.5, y + 4.7 + MODULE * LEADING * index as f64);
            shapes.push(text(at, words, SMALL, Anchor::Start));
        }
        for (column, mark) in line.marks.iter().enumerate() {
            let middle = point(left + SOURCES + COLUMN * (column as f64 + 0.5), y + ROW / 2.0);
            match *mark {
                "●" => shapes.push(Shape::dot(middle, 1.3)),
                "○" => shapes.push(Shape::Circle {
                    centre: middle,
                    radius: 1.3,
                    pen: Pen::Symbol,
                    ink: Ink::Main,
                    fill: crate::geometry::Fill::None,
                }),
                "" => {}
                other => shapes.push(text(
                    (middle.x, middle.y + MODULE / 2.0),
                    other,
                    SMALL_BOLD,
                    Anchor::Middle,
                )),
            }
        }
        if !line.within.is_empty() {
            shapes.push(text((right - 20.0, y + 4.7), &line.within, SMALL, Anchor::Start));
        }
        y += height;
        shapes.push(rule(y, Pen::Rule));
    }
    for column in 0..=heads.len() {
        let x = left + SOURCES + COLUMN * column as f64;
        shapes.push(Shape::line(&[point(x, head_top), point(x, y)], Pen::Rule));
    }
    for x in [left, right] {
        shapes.push(Shape::line(&[point(x, head_top), point(x, y)], Pen::Rule));
    }
    (y + 4.0, width.max(right + 8.0))
}
