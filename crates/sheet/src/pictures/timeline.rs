//! What moves when, and why. **In:** rows of true and false, edges with their reasons and, where
//! certain, their causes. **Out:** one sheet: bars over a time axis in milliseconds and cycles.
//! Edges with one reason share its number; arrows lead from cause to effect.

use super::alone;
use super::axis::{AXIS, Axis};
use super::causes;
use crate::geometry::{
    Anchor, Area, Dash, Drawing, Fill, Ink, MODULE, Pen, Point, Shape, Weight, point,
};
use crate::lettering;
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, clipped, text};

/// A statement and when it was so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The device.
    pub device: String,
    /// What is so where the bar is.
    pub what: String,
    /// From and to, µs.
    pub so: Vec<(i64, i64)>,
}

/// A change of a row, with its reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edge {
    /// The row, from 0.
    pub row: usize,
    /// When, µs.
    pub at: i64,
    /// Why, one line.
    pub why: String,
    /// The row and moment of what caused it, where that is known for certain.
    pub cause: Option<(usize, i64)>,
}

/// A run in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline {
    /// Over the picture.
    pub title: String,
    /// Below it: where it began, at which values it was played.
    pub about: String,
    /// The rows, top first.
    pub rows: Vec<Row>,
    /// The edges, in order of time.
    pub edges: Vec<Edge>,
    /// Where the picture ends, µs.
    pub end: i64,
    /// Hertz, for cycles.
    pub frequency: f64,
}

/// Least and greatest room left of the bars, mm.
const NAMES: (f64, f64) = (46.0, 105.0);
/// Height of a row, mm.
const ROW: f64 = 11.0;
/// Height of a bar, mm.
pub const BAR: f64 = 6.0;
/// Radius of a number's circle, mm.
const RING: f64 = 2.1;
/// Where what is so begins beside the name of its device, mm.
const WHAT: f64 = 16.0;
/// Times told with a reason, before it says how many more.
const TIMES: usize = 8;

/// Where rows lie.
pub struct Rows {
    top: f64,
    count: usize,
}

impl Rows {
    /// The line on which the bars of a row stand, mm.
    pub fn base(&self, row: usize) -> f64 {
        self.top + ROW * row as f64 + ROW - 2.0
    }
    fn end(&self) -> f64 {
        self.top + ROW * self.count as f64
    }
}

/// Draws a run in time.
pub fn timeline(timeline: &Timeline) -> Drawing {
    let wanted = timeline.rows.iter().map(|row| {
        let device = lettering::width(&row.device, MODULE, Weight::Bold);
        (device + 2.0).max(WHAT) + lettering::width(&row.what, MODULE, Weight::Plain)
    });
    let names = (8.0 + wanted.fold(0.0, f64::max) + 6.0).clamp(NAMES.0, NAMES.1);
    let axis = Axis::new(timeline, names);
    let (mut words, more) = super::headline(&timeline.title, names + AXIS - 10.0, (8.0, 12.0));
    let mut y = 18.5 + more;
    for about in
        lettering::wrapped(&sentences(&timeline.about), names + AXIS - 10.0, MODULE, Weight::Plain)
    {
        words.push(text((8.0, y), &about, SMALL_SECOND, Anchor::Start));
        y += MODULE * super::ABOUT;
    }
    let rows = Rows { top: y + 11.0, count: timeline.rows.len() };
    let (top, base) = (rows.top, rows.end());
    let (mut rules, numbers) = axis.scale(timeline.frequency, (top, base));
    words.extend(numbers);
    let mut bars = Vec::new();
    for (index, row) in timeline.rows.iter().enumerate() {
        let y = rows.base(index);
        words.push(text((8.0, y - 1.2), &row.device, SMALL_BOLD, Anchor::Start));
        let after = 8.0 + lettering::width(&row.device, MODULE, Weight::Bold) + 2.0;
        let after = after.max(8.0 + WHAT);
        let what = clipped(&row.what, names - 4.0 - after, MODULE, Weight::Plain);
        words.push(text((after, y - 1.2), &what, SMALL_SECOND, Anchor::Start));
        for (_, _, left, right) in &axis.pieces {
            rules.push(Shape::line(&[point(*left, y), point(*right, y)], Pen::Rule));
        }
        for span in &row.so {
            let begins = span.0 > 0 || timeline.edges.iter().any(|e| (e.row, e.at) == (index, 0));
            let ends = span.1 < timeline.end;
            bar(&axis, *span, (begins, ends), y, &mut bars);
        }
    }
    words.push(text((names - 3.0, base + 7.2), "ms", SMALL, Anchor::End));
    let cycles = format!("cycles of {:.0} Hz", timeline.frequency);
    words.push(text((names - 3.0, top - 6.2), &cycles, SMALL_SECOND, Anchor::End));
    if axis.breaks().next().is_some() {
        words.push(text((names - 3.0, base + 11.4), "left out", SMALL_SECOND, Anchor::End));
    }
    let reasons = Reason::all(timeline);
    let (arrows, covered) = causes::arrows(timeline, &axis, &rows);
    let marks = marks(timeline, &reasons, (&axis, &rows, covered), &mut words);
    let y = told(&reasons, (base + 19.0, names + AXIS), &mut words);
    alone(
        &timeline.title,
        (names + AXIS + 14.0, y + 1.0),
        vec![
            ("axis", rules),
            ("bars", bars),
            ("causes", arrows),
            ("edges", marks),
            ("words", words.into_iter().filter(|word| !is_empty(word)).collect()),
        ],
    )
}

/// Each sentence begins with a capital.
fn sentences(words: &str) -> String {
    let each = words.split(". ").map(|sentence| {
        let mut letters = sentence.chars();
        let first = letters.next().map(|letter| letter.to_uppercase().to_string());
        first.unwrap_or_default() + letters.as_str()
    });
    each.collect::<Vec<_>>().join(". ")
}

fn is_empty(shape: &Shape) -> bool {
    matches!(shape, Shape::Text(text) if text.words.is_empty())
}

/// A bar, in as many pieces as the axis has; a stroke only where it really begins or ends.
fn bar(axis: &Axis, span: (i64, i64), (begins, ends): (bool, bool), y: f64, bars: &mut Vec<Shape>) {
    for (from, to, _, _) in &axis.pieces {
        let (a, b) = (span.0.max(*from), span.1.min(*to));
        if a >= b {
            continue;
        }
        let (left, right) = (axis.x(a), axis.x(b));
        let corners =
            [point(left, y - BAR), point(right, y - BAR), point(right, y), point(left, y)];
        bars.push(Shape::Line {
            points: corners.to_vec(),
            closed: true,
            pen: Pen::None,
            ink: Ink::Main,
            fill: Fill::Band,
            dash: Dash::Solid,
        });
        let mut outline: Vec<Point> = Vec::new();
        if begins && a == span.0 {
            outline.push(point(left, y));
        }
        outline.extend([point(left, y - BAR), point(right, y - BAR)]);
        if ends && b == span.1 {
            outline.push(point(right, y));
        }
        bars.push(Shape::line(&outline, Pen::Wire));
        bars.push(Shape::line(&[point(left, y), point(right, y)], Pen::Wire));
    }
}

/// What several edges of a row have in common.
struct Reason<'a> {
    why: &'a str,
    row: usize,
    times: Vec<i64>,
}

impl<'a> Reason<'a> {
    /// The reasons in order of their first edge: their places are their numbers.
    fn all(timeline: &'a Timeline) -> Vec<Self> {
        let mut reasons: Vec<Self> = Vec::new();
        for edge in &timeline.edges {
            let known = reasons.iter_mut().find(|it| it.row == edge.row && it.why == edge.why);
            match known {
                Some(reason) => reason.times.push(edge.at),
                None => {
                    let times = vec![edge.at];
                    reasons.push(Self { why: &edge.why, row: edge.row, times });
                }
            }
        }
        reasons
    }
    fn sentence(&self) -> String {
        let times: Vec<String> = self.times.iter().take(TIMES).map(|us| shown_ms(*us)).collect();
        let more = self.times.len().saturating_sub(TIMES);
        let times = match (times.as_slice(), more) {
            ([one], 0) => one.clone(),
            ([all @ .., last], 0) => format!("{} and {last}", all.join(", ")),
            (all, more) => format!("{} and {more} times more", all.join(", ")),
        };
        format!("{times} ms: {}", self.why)
    }
}

/// Milliseconds, with one decimal where they are not whole.
fn shown_ms(us: i64) -> String {
    let ms = us as f64 / 1000.0;
    let text = format!("{ms:.1}");
    text.strip_suffix(".0").unwrap_or(&text).to_owned()
}

/// Circled numbers at the edges, each in the nearest place where it covers no end of a bar, no
/// other number and no arrow.
fn marks(
    timeline: &Timeline,
    reasons: &[Reason<'_>],
    (axis, rows, mut taken): (&Axis, &Rows, Vec<Area>),
    words: &mut Vec<Shape>,
) -> Vec<Shape> {
    let mut marks = Vec::new();
    for (index, row) in timeline.rows.iter().enumerate() {
        let y = rows.base(index);
        for time in row.so.iter().flat_map(|(from, to)| [*from, *to]) {
            let x = axis.x(time);
            taken.push(Area { left: x - 0.2, right: x + 0.2, top: y - BAR, bottom: y });
        }
        // A bar that goes on behind a break ends there on the paper.
        for (_, to, _, right) in &axis.pieces {
            if row.so.iter().any(|(from, end)| from < to && to < end) {
                let (left, right) = (right - 0.2, right + 0.2);
                taken.push(Area { left, right, top: y - BAR, bottom: y });
            }
        }
    }
    for edge in &timeline.edges {
        let number = reasons.iter().position(|it| it.row == edge.row && it.why == edge.why);
        let Some(number) = number.map(|number| (number + 1).to_string()) else { continue };
        let (x, y) = (axis.x(edge.at), rows.base(edge.row));
        let (left, right) = axis.stretch(edge.at);
        let middle = y - BAR / 2.0;
        let above = y - BAR - RING - 0.3;
        let aside = RING + 0.7;
        let mut spots = vec![point(x + aside, middle), point(x - aside, middle), point(x, above)];
        for step in 1..12 {
            let away = 2.2 * f64::from(step);
            spots.push(point(x + away, above));
            spots.push(point(x + aside + away, middle));
            spots.push(point(x - away, above));
        }
        let area = |at: Point| Area::between(at, at).grown(RING + 0.15);
        let free = spots.iter().find(|at| {
            let area = area(**at);
            let inside = area.left >= left - 4.0 && area.right <= right + 4.5;
            inside && !taken.iter().any(|other| other.overlaps(&area))
        });
        let centre = free.copied().unwrap_or(point(x, above));
        if (centre.x - x).abs() > aside + 0.1 {
            marks.push(Shape::line(&[point(x, y - BAR), centre], Pen::Thin));
        }
        taken.push(area(centre));
        marks.push(Shape::Circle {
            centre,
            radius: RING,
            pen: Pen::Thin,
            ink: Ink::Main,
            fill: Fill::Paper,
        });
        let at = (centre.x, centre.y + MODULE / 2.0);
        words.push(text(at, &number, SMALL, Anchor::Middle));
    }
    marks
}

/// The reasons in two columns; returns where they end.
fn told(reasons: &[Reason<'_>], (top, width): (f64, f64), words: &mut Vec<Shape>) -> f64 {
    let wide = width / 2.0 - 10.0;
    let lines: Vec<Vec<String>> = reasons
        .iter()
        .map(|it| lettering::wrapped(&it.sentence(), wide - 8.0, MODULE, Weight::Plain))
        .collect();
    let all: usize = lines.iter().map(Vec::len).sum();
    let (mut column, mut y, mut lowest, mut done) = (0.0, top, top, 0);
    for (index, lines) in lines.iter().enumerate() {
        if column == 0.0 && done > 0 && 2 * (done + lines.len()) > all + 1 {
            (column, y) = (1.0, top);
        }
        let left = 8.0 + (wide + 10.0) * column;
        let number = (index + 1).to_string();
        words.push(text((left + 5.0, y), &number, SMALL_BOLD, Anchor::End));
        for line in lines {
            words.push(text((left + 8.0, y), line, SMALL, Anchor::Start));
            y += MODULE * super::ABOUT;
        }
        y += 0.4;
        done += lines.len();
        lowest = f64::max(lowest, y);
    }
    lowest
}
