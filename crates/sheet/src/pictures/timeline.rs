//! What moves when, and why. **In:** rows of true and false, numbered edges with their reasons.
//! **Out:** one sheet: bars over a time axis in milliseconds and cycles, stretched where much
//! happens and broken where nothing does.

use super::alone;
use crate::geometry::{Anchor, Area, Drawing, Fill, Ink, MODULE, Pen, Shape, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};

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

/// Left of the bars, mm.
const NAMES: f64 = 62.0;
/// Length of the axis, mm.
const AXIS: f64 = 300.0;
/// Height of a row, mm.
const ROW: f64 = 11.0;
/// Height of a bar, mm.
const BAR: f64 = 6.0;
/// Length of a break, mm.
const BREAK: f64 = 9.0;
/// A stretch of at least this in which nothing happens is broken out, µs.
const QUIET: i64 = 60_000;
/// Kept on either side of what happens, µs.
const AROUND: i64 = 8_000;

/// Stretches of time that are drawn, and their places.
struct Axis {
    /// From, to (µs), and the x of both (mm).
    pieces: Vec<(i64, i64, f64, f64)>,
}

impl Axis {
    fn new(timeline: &Timeline) -> Self {
        let mut times: Vec<i64> = vec![0];
        for row in &timeline.rows {
            times.extend(row.so.iter().flat_map(|(from, to)| [*from, *to]));
        }
        times.extend(timeline.edges.iter().map(|edge| edge.at));
        times.retain(|time| *time < timeline.end);
        times.sort_unstable();
        let mut spans: Vec<(i64, i64)> = Vec::new();
        for time in times {
            let (from, to) = (time - AROUND, (time + AROUND).min(timeline.end.max(time)));
            match spans.last_mut() {
                Some(last) if from - last.1 < QUIET => last.1 = last.1.max(to),
                _ => spans.push((from, to)),
            }
        }
        let breaks = spans.len().saturating_sub(1) as f64;
        let all: i64 = spans.iter().map(|(from, to)| to - from).sum();
        let scale = (AXIS - breaks * BREAK).max(20.0) / (all.max(1) as f64);
        let mut x = NAMES;
        let mut pieces = Vec::new();
        for (from, to) in spans {
            let end = x + (to - from) as f64 * scale;
            pieces.push((from, to, x, end));
            x = end + BREAK;
        }
        Self { pieces }
    }
    /// The x of a time; within a break its nearer edge.
    fn x(&self, time: i64) -> f64 {
        let mut last = NAMES;
        for (from, to, left, right) in &self.pieces {
            if time < *from {
                return last;
            }
            if time <= *to {
                let share = (time - from) as f64 / ((to - from).max(1)) as f64;
                return left + (right - left) * share;
            }
            last = *right;
        }
        last
    }
    /// Distance of numbered ticks, µs: at least 14 mm apart.
    fn step(&self) -> i64 {
        let per_us = self
            .pieces
            .iter()
            .map(|(from, to, left, right)| (right - left) / ((to - from).max(1)) as f64)
            .fold(0.0, f64::max);
        let steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 60_000];
        steps
            .into_iter()
            .map(|ms| ms * 1000)
            .find(|us| *us as f64 * per_us >= 14.0)
            .unwrap_or(600_000_000)
    }
}

/// Draws a run in time.
pub fn timeline(timeline: &Timeline) -> Drawing {
    let axis = Axis::new(timeline);
    let top = 36.0;
    let base = top + ROW * timeline.rows.len() as f64;
    let mut rules = Vec::new();
    let mut bars = Vec::new();
    let mut words =
        vec![text((8.0, 12.0), &timeline.title, (5.0, Weight::Bold, Ink::Main), Anchor::Start)];
    for (line, about) in
        lettering::wrapped(&timeline.about, NAMES + AXIS - 10.0, MODULE, Weight::Plain)
            .iter()
            .take(2)
            .enumerate()
    {
        let y = 18.5 + MODULE * LEADING * line as f64;
        words.push(text((8.0, y), about, SMALL_SECOND, Anchor::Start));
    }
    let row_y = |row: usize| top + ROW * row as f64 + ROW - 2.0;
    for (index, row) in timeline.rows.iter().enumerate() {
        let y = row_y(index);
        words.push(text((8.0, y - 1.2), &row.device, SMALL_BOLD, Anchor::Start));
        let after = 8.0 + lettering::width(&row.device, MODULE, Weight::Bold) + 2.0;
        words.push(text((after.max(24.0), y - 1.2), &row.what, SMALL_SECOND, Anchor::Start));
        for (_, _, left, right) in &axis.pieces {
            rules.push(Shape::line(&[point(*left, y), point(*right, y)], Pen::Rule));
        }
        for (from, to) in &row.so {
            for (begin, end, _, _) in &axis.pieces {
                let (a, b) = ((*from).max(*begin), (*to).min(*end));
                if a >= b {
                    continue;
                }
                let area = Area { left: axis.x(a), right: axis.x(b), top: y - BAR, bottom: y };
                bars.push(Shape::rectangle(area, Pen::Wire, Fill::Band));
            }
        }
    }
    // Ticks: milliseconds below, cycles above.
    let step = axis.step();
    let cycle = 1e6 / timeline.frequency.max(1.0);
    for (from, to, left, right) in &axis.pieces {
        rules.push(Shape::line(&[point(*left, base + 2.0), point(*right, base + 2.0)], Pen::Wire));
        rules.push(Shape::line(&[point(*left, top - 4.0), point(*right, top - 4.0)], Pen::Thin));
        let mut tick = from.div_euclid(step) * step;
        while tick <= *to {
            if tick >= *from {
                let x = axis.x(tick);
                rules.push(Shape::line(&[point(x, base + 2.0), point(x, base + 3.6)], Pen::Thin));
                let number = (tick / 1000).to_string();
                words.push(text((x, base + 7.2), &number, SMALL, Anchor::Middle));
            }
            tick += step;
        }
        let per = (*right - *left) / ((*to - *from).max(1)) as f64 * cycle;
        let every = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]
            .into_iter()
            .find(|count| f64::from(*count) * per >= 8.0)
            .unwrap_or(10_000);
        let mut count = (*from as f64 / cycle / f64::from(every)).ceil() as i64 * i64::from(every);
        while count as f64 * cycle <= *to as f64 {
            let x = axis.x((count as f64 * cycle).round() as i64);
            rules.push(Shape::line(&[point(x, top - 5.4), point(x, top - 4.0)], Pen::Thin));
            words.push(text((x, top - 6.2), &count.to_string(), SMALL_SECOND, Anchor::Middle));
            count += i64::from(every);
        }
    }
    for pair in axis.pieces.windows(2) {
        let middle = (pair[0].3 + pair[1].2) / 2.0;
        for shift in [-0.8, 0.8] {
            let x = middle + shift;
            rules.push(Shape::line(
                &[point(x - 1.2, base + 4.4), point(x + 1.2, base - 0.4)],
                Pen::Thin,
            ));
        }
    }
    words.push(text((NAMES - 3.0, base + 7.2), "ms", SMALL, Anchor::End));
    let cycles = format!("cycles of {:.0} Hz", timeline.frequency);
    words.push(text((NAMES - 3.0, top - 6.2), &cycles, SMALL_SECOND, Anchor::End));
    let (marks, numbered) = edges(timeline, &axis, &row_y, &mut words);
    let y = reasons(&numbered, base + 18.0, &mut words);
    alone(
        &timeline.title,
        (NAMES + AXIS + 14.0, y + 6.0),
        vec![("axis", rules), ("bars", bars), ("edges", marks), ("words", words)],
    )
}

/// Circled numbers at the edges and arrows from their causes; the numbers with their reasons.
fn edges(
    timeline: &Timeline,
    axis: &Axis,
    row_y: &dyn Fn(usize) -> f64,
    words: &mut Vec<Shape>,
) -> (Vec<Shape>, Vec<(usize, String)>) {
    let mut marks = Vec::new();
    let mut taken: Vec<Area> = Vec::new();
    let mut numbered = Vec::new();
    for (index, edge) in timeline.edges.iter().enumerate() {
        let (x, y) = (axis.x(edge.at), row_y(edge.row));
        let number = index + 1;
        if let Some((row, at)) = edge.cause {
            let (from_x, from_y) = (axis.x(at), row_y(row));
            let (end, tip) = if from_y < y { (from_y, y - BAR) } else { (from_y - BAR, y) };
            let middle = (end + tip) / 2.0;
            marks.push(Shape::line(
                &[point(from_x, end), point(from_x, middle), point(x, middle), point(x, tip)],
                Pen::Thin,
            ));
            marks.push(Shape::dot(point(from_x, end), 0.6));
        }
        let mut centre = point(x + 3.0, y - BAR / 2.0);
        let area = |at: crate::geometry::Point| Area::between(at, at).grown(2.1);
        while taken.iter().any(|other| other.overlaps(&area(centre))) {
            centre.x += 4.3;
        }
        taken.push(area(centre));
        marks.push(Shape::Circle {
            centre,
            radius: 2.1,
            pen: Pen::Thin,
            ink: Ink::Main,
            fill: Fill::Paper,
        });
        words.push(text(
            (centre.x, centre.y + MODULE / 2.0),
            &number.to_string(),
            SMALL,
            Anchor::Middle,
        ));
        let ms = edge.at as f64 / 1000.0;
        numbered.push((number, format!("{ms:.0} ms: {}", edge.why)));
    }
    (marks, numbered)
}

/// The reasons in two columns; returns where they end.
fn reasons(numbered: &[(usize, String)], top: f64, words: &mut Vec<Shape>) -> f64 {
    let wide = (NAMES + AXIS) / 2.0 - 10.0;
    let half = numbered.len().div_ceil(2);
    let mut lowest = top;
    for (column, chunk) in numbered.chunks(half.max(1)).enumerate() {
        let left = 8.0 + (wide + 10.0) * column as f64;
        let mut y = top;
        for (number, why) in chunk {
            words.push(text((left + 5.0, y), &number.to_string(), SMALL_BOLD, Anchor::End));
            for line in lettering::wrapped(why, wide - 8.0, MODULE, Weight::Plain) {
                words.push(text((left + 8.0, y), &line, SMALL, Anchor::Start));
                y += MODULE * LEADING;
            }
            y += 0.8;
        }
        lowest = lowest.max(y);
    }
    lowest
}
