//! The table of expected volts to print and take along, and what readings mean.

use crate::page::{ASIDE, BAD, Page, count_of, painted};
use crate::report::CAUTIONS;
use fiftytwo_calculations::meter::{
    Cell, Diagnosis, Expected, Explanation, FaultKind, Grounded, MeterTable,
};
use std::fmt::Write;

/// The table as a page: one block a place, each point with its volts position by position.
pub fn page(title: &str, table: &MeterTable) -> String {
    let mut page = Page::default();
    page.head(&format!("{title}: volts to expect at every point"));
    page.words(
        2,
        2,
        "Red probe on the point, black on the pole or the ground that heads the column. Below each \
         point the rest positions that show the same, and below them V nominal, in brackets \
         the least and the most at the ends of the tolerances. A point that floats shows no fixed \
         volts.",
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
        let heads = ["to minus, V", "to plus, V", "to ground, V"];
        page.line(&columns(heads.map(str::to_owned)));
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

/// Positions that show the same stand in one line, their volts below it.
fn cells(positions: &[String], cells: &[Cell]) -> String {
    let mut groups: Vec<([String; 3], Vec<&str>)> = Vec::new();
    for (position, cell) in positions.iter().zip(cells) {
        let volts = [&cell.to_minus, &cell.to_plus, &cell.to_ground].map(told);
        match groups.iter_mut().find(|(known, _)| *known == volts) {
            Some((_, names)) => names.push(position),
            None => groups.push((volts, vec![position])),
        }
    }
    let mut page = Page::default();
    let all = groups.len() == 1;
    for (volts, names) in groups {
        let names = if all { "every position".to_owned() } else { names.join("; ") };
        page.words(4, 2, &format!("{names}:"));
        page.line(&columns(volts));
    }
    page.into_text()
}

/// Three columns, each wide enough for "-125.0 [-140.0 -105.0]".
fn columns([minus, plus, ground]: [String; 3]) -> String {
    format!("      {minus:<23} {plus:<23} {ground}")
}

fn told(expected: &Expected) -> String {
    match expected {
        Expected::Floats => "floats".to_owned(),
        Expected::Volts { nominal, least, most } => {
            let (nominal, least, most) = (one(*nominal), one(*least), one(*most));
            // All three alike once they are rounded: no range to tell.
            if nominal == least && nominal == most {
                return nominal;
            }
            format!("{nominal} [{least} {most}]")
        }
    }
}

/// One decimal everywhere, so that the ends never seem to lie past what is between them; no "-0".
fn one(volts: f64) -> String {
    format!("{:.1}", (volts * 10.0).round() / 10.0 + 0.0)
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

/// So many faults are listed for one reading of the next point.
const MOST_NEXT: usize = 4;
/// So many wires of a group of grounds are named.
const MOST_WIRES: usize = 8;

/// What readings mean.
pub fn diagnosis(found: &Diagnosis) -> String {
    let mut page = Page::default();
    page.head(&format!("Readings: {}", found.readings.join("; ")));
    if found.healthy {
        let all = found.healthy_in.len() == found.positions.len();
        let said = match (all, found.positions.len()) {
            (true, 1) => "As it should be: nothing broken is needed to explain this.".to_owned(),
            (true, _) => "As it should be in every position: nothing broken is needed to explain \
                          this."
                .to_owned(),
            (false, _) => format!(
                "As it should be with {}: nothing broken is needed to explain this there.",
                found.healthy_in.join("; ")
            ),
        };
        page.words(2, 2, &said);
    }
    let broken: Vec<&Explanation> =
        found.explanations.iter().filter(|it| it.kind != FaultKind::None).collect();
    if broken.is_empty() && !found.healthy {
        unexplained(&mut page, found);
    }
    if found.healthy && !broken.is_empty() {
        page.words(2, 2, "Where it stands otherwise, one of these is broken:");
    }
    for it in broken.iter().filter(|it| it.ground.is_none()) {
        page.words(2, 4, &format!("{} (expected {})", it.fault, expected(&it.expected)));
        page.words(6, 2, &painted(ASIDE, &it.positions.join("; ")));
    }
    grounds(&mut page, &broken);
    if found.more > 0 {
        page.words(2, 2, &format!("and {} more", found.more));
    }
    if found.unmoved > 0 {
        let faults = count_of(found.unmoved, "fault");
        page.words(
            2,
            2,
            &format!(
                "{faults} would leave these readings as they should be: they say nothing of them."
            ),
        );
    }
    if let Some(next) = found.next.as_ref().filter(|_| !broken.is_empty()) {
        let screws = match next.screws.is_empty() {
            true => String::new(),
            false => format!(" ({})", next.screws.join(", ")),
        };
        page.gap();
        page.words(2, 2, &format!("Measure next: {}{screws} to {}", next.wire, next.to));
        for group in &next.groups {
            let (least, most) = (one(group.least), one(group.most));
            let range = if least == most { least } else { format!("{least} to {most}") };
            page.words(4, 4, &format!("{range} V:"));
            for fault in group.faults.iter().take(MOST_NEXT) {
                page.words(8, 2, fault);
            }
            if let Some(more @ 1..) = group.faults.len().checked_sub(MOST_NEXT) {
                page.words(8, 2, &format!("and {more} more"));
            }
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

fn expected(volts: &[f64]) -> String {
    let volts: Vec<String> = volts.iter().map(|volts| format!("{} V", one(*volts))).collect();
    volts.join(", ")
}

/// What comes near, and what to do next.
fn unexplained(page: &mut Page, found: &Diagnosis) {
    for words in &found.beyond {
        page.words(2, 2, &painted(BAD, words));
    }
    page.words(2, 2, &painted(BAD, "No single fault that was tried explains them all."));
    if !found.nearest.is_empty() {
        page.words(2, 2, "Nearest:");
    }
    for it in &found.nearest {
        page.words(4, 4, &format!("{} (expected {})", it.fault, expected(&it.expected)));
        page.words(8, 2, &painted(ASIDE, &it.positions.join("; ")));
    }
    page.words(
        2,
        2,
        "Next: measure the poles of the supply against each other and against ground; measure these \
         points again, each to its own minus; see where every contact stands. If they stay as they \
         are, two things are broken at once, a joint is bad or the text is not what is built.",
    );
}

/// Grounds that show the same: wires with the same resistances, volts and positions in one line.
fn grounds(page: &mut Page, broken: &[&Explanation]) {
    // What is told of a wire: "solidly (expected 0.0 V)" and so on, and where.
    let mut wires: Vec<(&str, Vec<String>, &[String])> = Vec::new();
    for it in broken {
        let Some(Grounded { wire, ohm }) = &it.ground else { continue };
        let how = match *ohm {
            0.0 => "solidly".to_owned(),
            ohm => format!("through about {} kohm", ohm / 1e3),
        };
        let supplies: Vec<String> =
            it.supplies.iter().map(|at| format!("{} at {:.0} V", at.supply, at.volts)).collect();
        let with = match supplies.is_empty() {
            true => String::new(),
            false => format!(" with {}", supplies.join(", ")),
        };
        let how = format!("{how} (expected {}{with})", expected(&it.expected));
        let mut known = wires.iter_mut();
        match known.find(|known| known.0 == wire && known.2 == it.positions) {
            Some((_, hows, _)) => hows.push(how),
            None => wires.push((wire, vec![how], &it.positions)),
        }
    }
    // Wires that some position has in common stand together, with the positions that all have.
    let mut groups: Vec<(Vec<&str>, Vec<String>, Vec<&String>)> = Vec::new();
    for (wire, hows, positions) in wires {
        let together = groups.iter_mut().find(|(_, known, at)| {
            *known == hows && at.iter().any(|position| positions.contains(position))
        });
        match together {
            Some((names, _, at)) => {
                names.push(wire);
                at.retain(|position| positions.contains(position));
            }
            None => groups.push((vec![wire], hows, positions.iter().collect())),
        }
    }
    for (names, hows, positions) in groups {
        let hows = hows.join("; or ");
        let told = match names.as_slice() {
            [wire] => format!("{wire} is grounded {hows}"),
            many => {
                let shown = many.iter().take(MOST_WIRES).copied().collect::<Vec<_>>().join("; ");
                let more = match many.len().saturating_sub(MOST_WIRES) {
                    0 => String::new(),
                    more => format!(" and {more} more"),
                };
                format!("one of {} wires is grounded {hows}: {shown}{more}", many.len())
            }
        };
        page.words(2, 4, &told);
        let positions: Vec<&str> = positions.iter().map(|it| it.as_str()).collect();
        page.words(6, 2, &painted(ASIDE, &positions.join("; ")));
    }
}
