//! What happened, told line by line: when, what, and why.

use crate::page::{ASIDE, Page, painted, wrapped};
use fiftytwo_motion::Event;

/// Where the words begin, after the time.
const INDENT: usize = 14;

/// Events in order, small steps left out and counted.
pub fn told(events: &[Event]) -> String {
    let mut page = Page::default();
    let mut n_minor = 0;
    let mut last = String::new();
    for event in events {
        if event.minor {
            n_minor += 1;
            continue;
        }
        let mut time = format!("{} ms", shown_ms(event.time_ms));
        if time == last {
            time.clear();
        } else {
            last.clone_from(&time);
        }
        let mut lines = wrapped(&event.what, INDENT, 2).into_iter();
        let first = lines.next().unwrap_or_default();
        page.line(&format!("{time:>12}  {}", first.trim_start()));
        for line in lines {
            page.line(&line);
        }
        for line in wrapped(&event.why, INDENT, 2) {
            page.line(&painted(ASIDE, &line));
        }
    }
    if n_minor > 0 {
        let steps = crate::page::count_of(n_minor, "small step");
        page.line(&painted(ASIDE, &format!("{:INDENT$}({steps} left out; --json has all)", "")));
    }
    page.into_text()
}

/// A time as a reader wants it: `12`, `12.5`.
pub fn shown_ms(ms: f64) -> String {
    let tenths = format!("{ms:.1}");
    tenths.strip_suffix(".0").map_or_else(|| tenths.clone(), str::to_owned)
}
