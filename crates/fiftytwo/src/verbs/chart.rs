//! A timeline as bars of plain characters.
//!
//! Between two changes nothing happens, however long it lasts: a long quiet stretch gets a few
//! characters more than a short one, not a thousand times as many. The times stand below.

use crate::page::{ASIDE, Page, WIDTH, painted};
use crate::verbs::events::shown_ms;
use crate::verbs::ms;
use fiftytwo_motion::Timeline;
use fiftytwo_motion::timeline::Row;
use std::collections::BTreeSet;

/// Names are cut to this.
const WIDEST_NAME: usize = 26;
/// Characters for what comes after the last change.
const TAIL: usize = 3;

/// The rows of a timeline that change, as bars: `█` while it is so, `·` while not.
pub fn told(timeline: &Timeline) -> String {
    let rows: Vec<&Row> = timeline.rows.iter().filter(|row| changes(row, timeline)).collect();
    let times = times(&rows, timeline);
    let widest = rows.iter().map(|row| row.name.chars().count()).max().unwrap_or(0);
    let widest = widest.min(WIDEST_NAME);
    let room = WIDTH - widest - 4;
    let Some(widths) = widths(&times, room) else { return String::new() };
    let mut page = Page::default();
    for row in rows {
        let name: String = row.name.chars().take(widest).collect();
        let bar: String = times
            .iter()
            .zip(&widths)
            .map(|(time, width)| {
                let so = row.so.iter().any(|(from, to)| from <= time && time < to);
                if so { "█".repeat(*width) } else { "·".repeat(*width) }
            })
            .collect();
        page.line(&format!("  {name:<widest$}  {bar}"));
    }
    let scale = scale(&times, &widths);
    if !scale.is_empty() {
        page.line(&painted(ASIDE, &format!("  {:<widest$}  {scale} ms", "")));
    }
    page.into_text()
}

fn changes(row: &Row, timeline: &Timeline) -> bool {
    row.so.iter().any(|(from, to)| *from > 0 || *to < timeline.end_us)
}

/// The moments at which something in the chart changes, from 0.
fn times(rows: &[&Row], timeline: &Timeline) -> Vec<i64> {
    let changes = rows.iter().flat_map(|row| row.so.iter().flat_map(|(from, to)| [*from, *to]));
    let mut times: BTreeSet<i64> =
        changes.filter(|time| (0..timeline.end_us).contains(time)).collect();
    times.insert(0);
    times.into_iter().collect()
}

/// Characters for each stretch from one change to the next; none if there are too many changes.
fn widths(times: &[i64], room: usize) -> Option<Vec<usize>> {
    let stretches = times.windows(2).map(|pair| match pair {
        [from, to] => to.saturating_sub(*from).max(1).unsigned_abs(),
        _ => 1,
    });
    // Twice as long: three characters more, if there is room.
    let wanted: Vec<usize> = stretches.map(|us| 1 + 3 * (us / 500 + 1).ilog2() as usize).collect();
    let all: usize = wanted.iter().sum();
    let free = room.checked_sub(TAIL + wanted.len())?;
    let extra = all - wanted.len();
    let mut widths: Vec<usize> = if extra <= free {
        wanted
    } else {
        wanted.into_iter().map(|width| 1 + (width - 1) * free / extra).collect()
    };
    widths.push(TAIL);
    Some(widths)
}

/// The times under the changes, as many as fit.
fn scale(times: &[i64], widths: &[usize]) -> String {
    let mut line = String::new();
    let mut written = 0;
    let mut at = 0;
    for (time, width) in times.iter().zip(widths) {
        let label = shown_ms(ms(*time));
        if written == 0 || at > written {
            line.push_str(&" ".repeat(at - written));
            line.push_str(&label);
            written = at + label.chars().count();
        }
        at += width;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timeline(rows: &[(&str, &[(i64, i64)])], end_us: i64) -> Timeline {
        let row =
            |(name, so): &(&str, &[(i64, i64)])| Row { name: (*name).to_owned(), so: so.to_vec() };
        Timeline {
            story: String::new(),
            given: Vec::new(),
            played: String::new(),
            events: Vec::new(),
            rows: rows.iter().map(row).collect(),
            outcomes: Vec::new(),
            notes: Vec::new(),
            end_us,
            stuck: None,
        }
    }

    #[test]
    fn a_bar_changes_where_the_device_does() {
        let timeline = timeline(
            &[
                ("52CS close", &[(0, 2_000_000)]),
                ("52 closed", &[(62_000, 340_000)]),
                ("bus hot", &[(0, 3_000_000)]),
            ],
            3_000_000,
        );
        let text = anstream::adapter::strip_str(&told(&timeline)).to_string();
        insta::assert_snapshot!(text, @"
        52CS close  █████████████████████████████████████████████████████████████···
        52 closed   ··············█████████████████████·····························
                    0             62                   340                       2000 ms
        ");
    }

    #[test]
    fn a_chart_fits_the_page_however_much_happens() {
        for n in [0_i64, 1, 5, 20, 40, 400] {
            let so: Vec<(i64, i64)> = (0..n).map(|it| (it * 7_000, it * 7_000 + 3_000)).collect();
            let text =
                told(&timeline(&[("a relay with quite a long name, that is", &so)], 9_000_000));
            let text = anstream::adapter::strip_str(&text).to_string();
            for line in text.lines() {
                assert!(line.chars().count() <= WIDTH + 6, "{n}: {line}");
            }
        }
    }
}
