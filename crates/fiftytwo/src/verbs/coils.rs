//! What every coil gets, as a table: lowest, the range in which it works, highest.

use crate::page::{BAD, Column, GOOD, Page, Table, painted};
use fiftytwo_circuit::CoilReport;

/// Characters for a coil's working range.
const BAR: usize = 22;

/// One row a coil, the tightest one named below.
pub fn told(reports: &[CoilReport]) -> String {
    use Column::{Left, Right};
    let mut table = Table::new(&[Left, Right, Right, Left, Left, Right]);
    for report in reports {
        let (Some(lowest), Some(highest)) = (&report.lowest, &report.highest) else {
            table.row([report.coil.as_str(), "", "", "no way leads to it"]);
            continue;
        };
        let volts = |volts: f64, enough: bool| {
            painted(if enough { GOOD } else { BAD }, &format!("{volts:.1} V"))
        };
        let enough = report.margin_low.is_none_or(|margin| margin >= 0.0);
        let not_much = report.margin_high.is_none_or(|margin| margin >= 0.0);
        let (from, bar, to) = match (report.works, report.pickup) {
            (Some([from, to]), _) => {
                let bar = bar([from, to], [lowest.volts, highest.volts]);
                (format!("{from:.0}"), bar, format!("{to:.0}"))
            }
            (None, Some([_, from])) => {
                (String::new(), format!("picks up from {from:.0} V"), String::new())
            }
            (None, None) => (String::new(), "not declared".to_owned(), String::new()),
        };
        let name = report.coil.clone();
        table.row([
            name,
            volts(lowest.volts, enough),
            from,
            bar,
            to,
            volts(highest.volts, not_much),
        ]);
    }
    let mut page = Page::default();
    if !reports.is_empty() {
        page.head("Coils: the least they get, the range in which they work, the most they get");
    }
    page.table(&table);
    if let Some(tightest) = tightest(reports) {
        page.words(2, 2, &tightest);
    }
    page.into_text()
}

/// The coil with the least to spare, and the corner that causes it.
fn tightest(reports: &[CoilReport]) -> Option<String> {
    let margin = |it: &&CoilReport| it.margin_low;
    let report = reports
        .iter()
        .filter(|report| margin(report).is_some())
        .min_by(|a, b| margin(a).unwrap_or(0.0).total_cmp(&margin(b).unwrap_or(0.0)))?;
    let lowest = report.lowest.as_ref()?;
    let margin = report.margin_low?;
    let spare = if margin < 0.0 {
        format!("{:.1} V too little", -margin)
    } else {
        format!("{margin:.1} V to spare")
    };
    Some(format!("Tightest: {}, {spare}, at {}.", report.coil, lowest.words))
}

/// The working range as a line, what the coil gets as blocks on it; an arrow where it goes beyond.
fn bar([from, to]: [f64; 2], [lowest, highest]: [f64; 2]) -> String {
    let cell = (to - from) / BAR as f64;
    let blocks: String = (0..BAR)
        .map(|idx| {
            let middle = from + (idx as f64 + 0.5) * cell;
            if lowest <= middle && middle <= highest { '█' } else { '─' }
        })
        .collect();
    let left = if lowest < from { '◄' } else { '├' };
    let right = if highest > to { '►' } else { '┤' };
    format!("{left}{blocks}{right}")
}

#[cfg(test)]
mod tests {
    use super::bar;

    #[test]
    fn a_bar_shows_where_the_volts_lie_in_the_range() {
        assert_eq!(bar([0.0, 22.0], [0.0, 22.0]), format!("├{}┤", "█".repeat(22)));
        assert_eq!(
            bar([0.0, 22.0], [11.0, 25.0]),
            format!("├{}{}►", "─".repeat(11), "█".repeat(11))
        );
        assert_eq!(bar([90.0, 140.0], [70.0, 80.0]), format!("◄{}┤", "─".repeat(22)));
        assert_eq!(bar([90.0, 90.0], [95.0, 95.0]).chars().count(), 24);
    }
}
