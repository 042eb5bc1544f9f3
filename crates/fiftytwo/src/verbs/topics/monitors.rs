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
            covers: vec![
                "what a resistor may have: everything else as it is, its watts too; without a new \
                 finding on the coil, the lamps and the inputs in series with it"
                    .to_owned(),
            ],
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
    // Of a cold coil its volts are fewer than what its current is told as.
    let told = load.celsius.map(|celsius| format!(" at {celsius} C")).unwrap_or_default();
    let watched = match coil.form.as_str() {
        "" => "nothing watches it".to_owned(),
        form => format!("watched by {form}"),
    };
    let beside: Vec<&str> = load.beside.iter().map(String::as_str).collect();
    let but = match beside.as_slice() {
        [] => String::new(),
        beside => format!(" but {}, beside it at its most ohms", super::few(beside)),
    };
    Row {
        what: format!("{}{case}", coil.coil),
        worst: format!("{}{told}", volts(load.volts)),
        limit: format!("of {}", volts(limit)),
        margin: format!("{} {words}", percent(share)),
        outcome: Outcome::Spare(1.0 - share / most),
        corner: format!(
            "{} through it, {}, supply high, everything cold{but}; {watched}",
            amps(load.amps),
            load.position,
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
        let rest = coverage.uncovered.iter().filter(|piece| !piece.common);
        let single: Vec<&str> = rest.map(|piece| piece.part.as_str()).collect();
        let mut unseen = Vec::new();
        if !blind.is_empty() {
            unseen.push(super::few(&blind));
        }
        if !single.is_empty() {
            unseen.push(format!("{} (on one way of several)", super::few(&single)));
        }
        let corner = match unseen.is_empty() {
            true => String::new(),
            false => format!("no break is seen at {}", unseen.join(", nor at ")),
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
    let asked = |by: &Option<String>, than: &str| {
        by.as_ref().map(|by| format!(" ({than} for {by})")).unwrap_or_default()
    };
    let least = row
        .least_ohm
        .map(|ohm| format!("{}{}", ohms(up(ohm)), asked(&row.least_for, "less is too much")));
    let most = row
        .most_ohm
        .map(|ohm| format!("{}{}", ohms(down(ohm)), asked(&row.most_for, "more is too little")));
    let none = row.least_ohm.zip(row.most_ohm).is_some_and(|(least, most)| up(least) > down(most));
    let bounds = match (least, most) {
        (Some(least), Some(most)) if none => {
            format!("; no value does: {least} or more, {most} or less")
        }
        (Some(least), Some(most)) => format!("; it may have {least} to {most}"),
        (Some(least), None) => format!("; it must have {least} or more"),
        (None, Some(most)) => format!("; it may have {most} at most"),
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
        corner: match row.position.as_str() {
            "" => format!("nothing in any rest position{bounds}"),
            position => format!(
                "{position}{shorted}, supply high, everything cold; healthy {}{bounds}",
                watts(row.healthy)
            ),
        },
    }
}

/// Three figures, never less than the value: a bound that is told must hold as told.
fn up(value: f64) -> f64 {
    to_three(value, |figures| (figures - 1e-9).ceil())
}

/// Three figures, never more than the value.
fn down(value: f64) -> f64 {
    to_three(value, |figures| (figures + 1e-9).floor())
}

fn to_three(value: f64, rounded: impl Fn(f64) -> f64) -> f64 {
    if !(value > 0.0 && value.is_finite()) {
        return value;
    }
    let unit = 10_f64.powi(
        2 - format!("{value:e}").rsplit('e').next().and_then(|it| it.parse().ok()).unwrap_or(0),
    );
    rounded(value * unit) / unit
}
