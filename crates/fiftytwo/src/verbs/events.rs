//! What happened, told line by line: when, what, and why.

use crate::page::{ASIDE, Page, painted, wrapped};
use fiftytwo_motion::Event;
use fiftytwo_proof::Story;

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
        let time = format!("{} ms", shown_ms(event.time_ms));
        let shown = if time == last { "" } else { &time };
        page.block(&line(shown, &event.what, &event.why));
        last = time;
    }
    if n_minor > 0 {
        let steps = crate::page::count_of(n_minor, "small step");
        page.line(&painted(ASIDE, &format!("{:INDENT$}({steps} left out; --json has all)", "")));
    }
    page.into_text()
}

/// A story that breaks a claim, movement by movement.
pub fn story(story: &Story) -> String {
    let mut page = Page::default();
    for told in &story.events {
        page.block(&line(&span_ms(told.time_ms, told.until_ms), &told.what, &told.why));
    }
    if story.replayed {
        page.line(&painted(ASIDE, &format!("{:INDENT$}(replayed at these times)", "")));
    }
    page.into_text()
}

/// The same without the causes.
pub fn brief(story: &Story) -> String {
    seen(&story.events)
}

/// Events without their causes.
pub fn seen(events: &[fiftytwo_proof::Told]) -> String {
    let mut page = Page::default();
    for told in events {
        page.block(&line(&span_ms(told.time_ms, told.until_ms), &told.what, ""));
    }
    page.into_text()
}

/// When, what and why; the time stands once.
fn line(time: &str, what: &str, why: &str) -> String {
    let mut page = Page::default();
    for (idx, line) in wrapped(what, INDENT, 2).iter().enumerate() {
        if idx == 0 {
            page.line(&format!("{time:>12}  {}", line.trim_start()));
        } else {
            page.line(line);
        }
    }
    for line in wrapped(why, INDENT, 2) {
        page.line(&painted(ASIDE, &line));
    }
    page.into_text()
}

/// A time as a reader wants it: `12`, `12.5`.
pub fn shown_ms(ms: f64) -> String {
    let tenths = format!("{ms:.1}");
    tenths.strip_suffix(".0").map_or_else(|| tenths.clone(), str::to_owned)
}

/// "13 ms", or "13–73.5 ms" for a movement of several steps.
fn span_ms(from: f64, until: f64) -> String {
    let (from, until) = (shown_ms(from), shown_ms(until));
    if from == until { format!("{from} ms") } else { format!("{from}–{until} ms") }
}
