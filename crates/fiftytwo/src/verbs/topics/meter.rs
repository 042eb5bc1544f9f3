//! The table of expected volts to print and take along, and what readings mean.

use crate::page::{ASIDE, BAD, Page, painted};
use crate::report::CAUTIONS;
use fiftytwo_calculations::meter::{Cell, Diagnosis, Expected, MeterTable};
use std::fmt::Write;

/// The table as a page: one block a place, each point with its volts position by position.
pub fn page(title: &str, table: &MeterTable) -> String {
    let mut page = Page::default();
    page.head(&format!("{title}: volts to expect at every point"));
    page.words(
        2,
        2,
        "Red probe on the point; black on the minus pole of its supply, on the plus pole, on \
         ground. Nominal, and in brackets what the ends of the tolerances give. A point that \
         floats shows no fixed volts.",
    );
    for caution in CAUTIONS {
        page.words(2, 2, caution);
    }
    let mut places: Vec<&str> = Vec::new();
    for row in &table.rows {
        if !places.contains(&row.place.as_str()) {
            places.push(&row.place);
        }
    }
    for place in places {
        page.head(place);
        for row in table.rows.iter().filter(|row| row.place == place) {
            let screws = match row.screws.is_empty() {
                true => String::new(),
                false => format!(" ({})", row.screws.join(", ")),
            };
            page.words(2, 4, &format!("{} of {}{screws}", row.wire, row.supply));
            page.block(&cells(&table.positions, &row.cells));
        }
    }
    for words in table.typical.iter().chain(&table.covers) {
        page.words(0, 2, words);
    }
    anstream::adapter::strip_str(&page.into_text()).to_string()
}

/// Positions that show the same stand in one line.
fn cells(positions: &[String], cells: &[Cell]) -> String {
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for (position, cell) in positions.iter().zip(cells) {
        let volts = format!(
            "{:>18} {:>18} {:>18}",
            told(&cell.to_minus),
            told(&cell.to_plus),
            told(&cell.to_ground)
        );
        match groups.iter_mut().find(|(known, _)| *known == volts) {
            Some((_, names)) => names.push(position),
            None => groups.push((volts, vec![position])),
        }
    }
    let mut page = Page::default();
    let all = groups.len() == 1;
    for (volts, names) in groups {
        page.line(&format!("      {volts}  V"));
        let names = if all { "in every position".to_owned() } else { names.join("; ") };
        page.words(10, 2, &names);
    }
    page.into_text()
}

fn told(expected: &Expected) -> String {
    match expected {
        Expected::Floats => "floats".to_owned(),
        Expected::Volts { nominal, least, most } => {
            format!("{nominal:.1} [{least:.0} {most:.0}]")
        }
    }
}

/// The table for a spreadsheet: one line a point and position.
pub fn csv(table: &MeterTable) -> String {
    let mut text = String::from(
        "place,supply,wire,screws,position,to minus nominal V,to minus least V,to minus most V,\
         to plus nominal V,to plus least V,to plus most V,to ground nominal V,to ground least V,\
         to ground most V\r\n",
    );
    for row in &table.rows {
        for (position, cell) in table.positions.iter().zip(&row.cells) {
            let names = [&row.place, &row.supply, &row.wire, &row.screws.join(" "), position];
            let names: Vec<String> = names.into_iter().map(|name| quoted(name)).collect();
            let volts: Vec<String> =
                [&cell.to_minus, &cell.to_plus, &cell.to_ground].into_iter().map(numbers).collect();
            let _ = write!(text, "{},{}\r\n", names.join(","), volts.join(","));
        }
    }
    text
}

/// Quotes doubled, and nothing that a spreadsheet would take for a formula.
fn quoted(name: &str) -> String {
    let formula = name.starts_with(['=', '+', '-', '@']);
    let name = name.replace('"', "\"\"");
    if formula { format!("\"'{name}\"") } else { format!("\"{name}\"") }
}

fn numbers(expected: &Expected) -> String {
    match expected {
        Expected::Floats => ",,".to_owned(),
        Expected::Volts { nominal, least, most } => format!("{nominal:.2},{least:.2},{most:.2}"),
    }
}

/// What readings mean.
pub fn diagnosis(found: &Diagnosis) -> String {
    let mut page = Page::default();
    page.head(&format!("Readings: {}", found.readings.join(", ")));
    if found.healthy {
        page.words(2, 2, "So it is with nothing broken, in at least one position.");
    }
    if found.explanations.is_empty() && !found.healthy {
        page.words(2, 2, &painted(BAD, "No single fault that was tried explains them all."));
    }
    for it in &found.explanations {
        let volts: Vec<String> = it.expected.iter().map(|volts| format!("{volts:.1} V")).collect();
        page.words(2, 4, &format!("{} (expected {})", it.fault, volts.join(", ")));
        page.words(6, 2, &painted(ASIDE, &it.positions.join("; ")));
    }
    if found.more > 0 {
        page.words(2, 2, &format!("and {} more", found.more));
    }
    if let Some(next) = &found.next {
        let screws = match next.screws.is_empty() {
            true => String::new(),
            false => format!(" ({})", next.screws.join(", ")),
        };
        page.gap();
        page.words(2, 2, &format!("Measure next: {}{screws} to {}", next.wire, next.to));
        for group in &next.groups {
            let faults = group.faults.join("; ");
            page.words(4, 4, &format!("{:.0} to {:.0} V: {faults}", group.least, group.most));
        }
    }
    page.words(
        2,
        2,
        &painted(
            ASIDE,
            &format!("{} faults tried, {} of them not computed.", found.tried, found.not_computed),
        ),
    );
    for words in &found.covers {
        page.words(2, 2, &painted(ASIDE, words));
    }
    page.into_text()
}
