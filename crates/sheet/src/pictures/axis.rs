//! The axis of time: stretched where much happens, broken where nothing does. **In:** when something
//! changes. **Out:** places for times, ticks, numbers. **Never here:** bars.

use super::Timeline;
use crate::geometry::{Anchor, Pen, Shape, point};
use crate::page::{SMALL, SMALL_SECOND, text};

/// Length of the axis, mm.
pub const AXIS: f64 = 300.0;
/// Length of a break, mm.
const BREAK: f64 = 9.0;
/// A stretch of at least this in which nothing happens is broken out, µs.
const QUIET: i64 = 60_000;
/// Kept on either side of what happens, µs.
const AROUND: i64 = 8_000;

/// Stretches of time that are drawn, and their places.
pub struct Axis {
    /// From, to (µs), and the x of both (mm).
    pub pieces: Vec<(i64, i64, f64, f64)>,
}

impl Axis {
    /// The stretches in which something happens, from `left` on.
    pub fn new(timeline: &Timeline, left: f64) -> Self {
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
        let mut x = left;
        let mut pieces = Vec::new();
        for (from, to) in spans {
            let end = x + (to - from) as f64 * scale;
            pieces.push((from, to, x, end));
            x = end + BREAK;
        }
        Self { pieces }
    }
    /// The x of a time; within a break its nearer edge.
    pub fn x(&self, time: i64) -> f64 {
        let mut last = self.pieces.first().map_or(0.0, |piece| piece.2);
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
    pub fn step(&self) -> i64 {
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
    /// Left and right end of the stretch a time lies in.
    pub fn stretch(&self, time: i64) -> (f64, f64) {
        let found = self.pieces.iter().find(|(from, to, _, _)| (*from..=*to).contains(&time));
        found.map_or((0.0, f64::INFINITY), |(_, _, left, right)| (*left, *right))
    }
    /// What is left out between stretches: the middle of each break, and how long it is, µs.
    pub fn breaks(&self) -> impl Iterator<Item = (f64, i64)> {
        self.pieces.windows(2).filter_map(|pair| match pair {
            [a, b] => Some(((a.3 + b.2) / 2.0, b.0 - a.1)),
            _ => None,
        })
    }
    /// Ticks and numbers: milliseconds below, cycles above.
    pub fn scale(&self, frequency: f64, (top, base): (f64, f64)) -> (Vec<Shape>, Vec<Shape>) {
        let (mut rules, mut words) = (Vec::new(), Vec::new());
        let step = self.step();
        let cycle = 1e6 / frequency.max(1.0);
        let mut ends = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (from, to, left, right) in &self.pieces {
            let below = [point(*left, base + 2.0), point(*right, base + 2.0)];
            rules.push(Shape::line(&below, Pen::Wire));
            rules
                .push(Shape::line(&[point(*left, top - 4.0), point(*right, top - 4.0)], Pen::Thin));
            let mut tick = from.div_euclid(step) * step;
            while tick <= *to {
                if tick >= (*from).max(0) {
                    let x = self.x(tick);
                    rules.push(Shape::line(
                        &[point(x, base + 2.0), point(x, base + 3.6)],
                        Pen::Thin,
                    ));
                    let number = (tick / 1000).to_string();
                    let word = text((x, base + 7.2), &number, SMALL, Anchor::Middle);
                    put(word, &mut ends.0, &mut words);
                }
                tick += step;
            }
            let per = (*right - *left) / ((*to - *from).max(1)) as f64 * cycle;
            let every = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]
                .into_iter()
                .find(|count| f64::from(*count) * per >= 8.0)
                .unwrap_or(10_000);
            let first = (*from as f64 / cycle / f64::from(every)).ceil().max(0.0) as i64;
            let mut count = first * i64::from(every);
            while count as f64 * cycle <= *to as f64 {
                let x = self.x((count as f64 * cycle).round() as i64);
                rules.push(Shape::line(&[point(x, top - 5.4), point(x, top - 4.0)], Pen::Thin));
                let word = text((x, top - 6.2), &count.to_string(), SMALL_SECOND, Anchor::Middle);
                put(word, &mut ends.1, &mut words);
                count += i64::from(every);
            }
        }
        for (middle, left_out) in self.breaks() {
            for y in [base + 2.0, top - 4.0] {
                for shift in [-0.8, 0.8] {
                    let x = middle + shift;
                    let slant = [point(x - 1.2, y + 2.4), point(x + 1.2, y - 2.4)];
                    rules.push(Shape::line(&slant, Pen::Thin));
                }
            }
            let told = format!("+{}", shown_span(left_out));
            words.push(text((middle, base + 11.4), &told, SMALL_SECOND, Anchor::Middle));
        }
        (rules, words)
    }
}

/// Puts a number on a scale unless it would lie on the one before.
fn put(word: Shape, end: &mut f64, words: &mut Vec<Shape>) {
    let area = word.area();
    if area.left > *end + 0.8 {
        *end = area.right;
        words.push(word);
    }
}

/// A stretch of time, rounded to what the eye needs.
fn shown_span(us: i64) -> String {
    let ms = us as f64 / 1000.0;
    if ms < 1000.0 {
        format!("{ms:.0} ms")
    } else if ms < 120_000.0 {
        format!("{:.1} s", ms / 1000.0)
    } else {
        format!("{:.0} min", ms / 60_000.0)
    }
}
