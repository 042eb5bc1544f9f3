//! Monitors and resistors.

use super::shown::{amps, ohms, percent, volts, watts};
use super::{Outcome, Row, Section};
use fiftytwo_calculations::monitors::{
    Case, CoilMonitors, Load, MOST_SHARE, Monitors, ResistorRow,
};

/// What monitors leave on their coils, what they see, and what resistors take.
pub fn sections(found: &Monitors) -> Vec<Section> {
    let mut left: Vec<Row> = Vec::new();
    let mut seen: Vec<Row> = Vec::new();
    for coil in &found.coils {
        left.extend(cases(coil).into_iter().map(|load| left_on(coil, load)));
        seen.extend(coverage(coil));
    }
    let mut notes = Vec::new();
    if !found.unwatched.is_empty() {
        notes.push(format!("Nothing watches {}.", found.unwatched.join(", ")));
    }
    for coil in &found.coils {
        let alike = coil.burnt.iter().filter(|burnt| burnt.told_apart_by.is_empty());
        let mut lamps: Vec<&str> = alike.map(|burnt| burnt.lamp.as_str()).collect();
        lamps.sort_unstable();
        lamps.dedup();
        if !lamps.is_empty() {
            notes.push(format!(
                "{}: {} burnt looks like a broken path.",
                coil.coil,
                lamps.join(" or ")
            ));
        }
    }
    vec![
        Section { title: "Monitors: what they leave on a coil", rows: left, ..Section::default() },
        Section {
            title: "Monitors: in how much of a path a break shows",
            rows: seen,
            notes,
            ..Section::default()
        },
        Section {
            title: "Resistors: power",
            rows: found.resistors.iter().map(resistor).collect(),
            ..Section::default()
        },
    ]
}

/// The worst load of each case that says something.
fn cases(coil: &CoilMonitors) -> Vec<&Load> {
    let of = |case: Case, held: bool, unlikely: bool| {
        coil.loads
            .iter()
            .filter(|load| (load.case, load.held, load.unlikely) == (case, held, unlikely))
            .max_by(|a, b| a.volts.total_cmp(&b.volts))
    };
    [
        (Case::Healthy, false, false),
        (Case::OneShorted, false, false),
        (Case::OneShorted, false, true),
        (Case::Healthy, true, false),
        (Case::OneShorted, true, false),
        (Case::OneShorted, true, true),
    ]
    .into_iter()
    .filter_map(|(case, held, unlikely)| of(case, held, unlikely))
    .collect()
}

fn left_on(coil: &CoilMonitors, load: &Load) -> Row {
    let case = match (load.shorted.as_slice(), load.held) {
        ([], false) => String::new(),
        ([], true) => ", held".to_owned(),
        (shorted, false) => format!(", {} shorted", shorted.join(" and ")),
        (shorted, true) => format!(", held, {} shorted", shorted.join(" and ")),
    };
    let (limit, share, words) = if load.held {
        (coil.releases_below, load.of_dropout, "of dropout")
    } else {
        (coil.pickup_from, load.of_pickup, "of pickup")
    };
    // Healthy, a monitor stays below a fifth of pickup; with a fault, below pickup.
    let most = if load.case == Case::Healthy && !load.held { MOST_SHARE } else { 1.0 };
    Row {
        what: format!("{}{case}", coil.coil),
        worst: volts(load.volts),
        limit: format!("of {}", volts(limit)),
        margin: format!("{} {words}", percent(share)),
        outcome: Outcome::Spare(1.0 - share / most),
        corner: format!(
            "{} through it, {}, supply high, everything cold; watched by {}",
            amps(load.amps),
            load.position,
            coil.form
        ),
    }
}

fn coverage(coil: &CoilMonitors) -> impl Iterator<Item = Row> + '_ {
    coil.coverage.iter().map(move |coverage| {
        let blind: Vec<&str> = coverage
            .uncovered
            .iter()
            .filter(|piece| piece.common)
            .map(|piece| piece.part.as_str())
            .collect();
        let corner = match blind.is_empty() {
            true => String::new(),
            false => format!("no break is seen at {}", super::few(&blind)),
        };
        Row {
            what: format!("{}, {}", coil.coil, coverage.position),
            worst: format!("{} of {}", coverage.covered, coverage.pieces),
            limit: String::new(),
            margin: percent(coverage.share),
            outcome: Outcome::Holds,
            corner,
        }
    })
}

fn resistor(row: &ResistorRow) -> Row {
    let outcome =
        row.rated.map_or(Outcome::NotJudged, |rated| Outcome::Spare(1.0 - row.worst / rated));
    let shorted = match row.shorted.is_empty() {
        true => String::new(),
        false => format!(", {} shorted", row.shorted.join(" and ")),
    };
    let bounds = match (row.least_ohm, row.most_ohm) {
        (Some(least), Some(most)) if least > most => format!(
            "; no value does: the coil needs {} or more, what it feeds {} or less",
            ohms(least),
            ohms(most)
        ),
        (Some(least), Some(most)) => {
            format!("; it may have {} to {}", ohms(least), ohms(most))
        }
        (Some(least), None) => format!("; it must have {} or more", ohms(least)),
        (None, Some(most)) => format!("; it may have {} at most", ohms(most)),
        (None, None) => String::new(),
    };
    Row {
        what: row.resistor.clone(),
        worst: watts(row.worst),
        limit: row
            .rated
            .map_or_else(|| "not declared".to_owned(), |rated| format!("of {}", watts(rated))),
        margin: row.rated.map_or_else(String::new, |rated| percent(row.worst / rated)),
        outcome,
        corner: format!(
            "{}{shorted}, supply high, everything cold; healthy {}{bounds}",
            row.position,
            watts(row.healthy)
        ),
    }
}
