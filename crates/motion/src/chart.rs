//! A timeline as a chart of plain characters.

use crate::timeline::Timeline;

/// Width of the bars, in characters.
const WIDTH: i64 = 60;

/// The rows of a timeline as bars over time: `█` while it is so, `·` while not.
pub fn chart(timeline: &Timeline) -> String {
    let last = timeline.events.iter().map(|event| event.time_us).max().unwrap_or(0);
    let end = (last + last / 20).clamp(1, timeline.end_us.max(1));
    let names = timeline.rows.iter().map(|row| row.name.chars().count());
    let widest = names.max().unwrap_or(0).min(34);
    let mut text = String::new();
    for row in &timeline.rows {
        let name: String = row.name.chars().take(widest).collect();
        text.push_str(&format!("{name:>widest$} "));
        for cell in 0..WIDTH {
            let from = end * cell / WIDTH;
            let to = end * (cell + 1) / WIDTH;
            let so = row.so.iter().any(|(begin, stop)| *begin < to && *stop > from);
            text.push(if so { '█' } else { '·' });
        }
        text.push('\n');
    }
    let scale = format!("0{:>width$}", format!("{} ms", end / 1000), width = WIDTH as usize - 1);
    text.push_str(&format!("{:>widest$} {scale}\n", ""));
    text
}
