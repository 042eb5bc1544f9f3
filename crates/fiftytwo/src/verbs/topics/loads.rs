//! Lamps and inputs.

use super::shown::{amps, percent, volts};
use super::{Outcome, Row, Section};
use fiftytwo_calculations::loads::{
    ElementRow, LampsAt, LoadRow, Loads, MOST_OF_INPUT, MOST_OF_RATED, MotorRow,
};

/// Whether each gets enough, and what lamps get at the most.
pub fn sections(found: &Loads) -> Vec<Section> {
    vec![
        Section {
            title: "Lamps and inputs: the least they get where they are on",
            rows: found.rows.iter().map(enough).collect(),
            covers: vec![
                "each rest position; what is on in none of them with its own ways closed; supplies \
                 low, each resistance at the end that is worse, for volts and current each. A lamp surely lights from half its rated current"
                    .to_owned(),
            ],
            ..Section::default()
        },
        Section {
            title: "Lamps and inputs: the most they get",
            rows: found.rows.iter().filter_map(|row| most(row).or_else(|| takes(row))).collect(),
            covers: vec![
                "supplies high, each resistance at the end that is worse, for volts and current \
                 each; not: lamps in series with one that is shorted"
                    .to_owned(),
            ],
            ..Section::default()
        },
        Section {
            title: "Motors and heaters: the least they get",
            rows: found.motors.iter().map(motor).collect(),
            covers: vec![
                "supplies low, conductors hot, each way alone and with every other load of its \
                 section on; not: torque, what other circuits take from the battery"
                    .to_owned(),
            ],
            ..Section::default()
        },
        Section {
            title: "Lamps: what they show at rest",
            rows: found.lamps.iter().map(lamps).collect(),
            covers: vec!["nominal voltage, nothing broken but what the position says".to_owned()],
            ..Section::default()
        },
        Section {
            title: "Overload elements: what their motors run with",
            rows: found.elements.iter().map(element).collect(),
            covers: vec!["declared currents; not: how long an element takes to operate".to_owned()],
            ..Section::default()
        },
    ]
}

fn lamps(at: &LampsAt) -> Row {
    let names = |names: &[String]| match names {
        [] => "none".to_owned(),
        names => names.join(", "),
    };
    Row {
        what: at.position.clone(),
        worst: names(&at.lit),
        limit: "lit".to_owned(),
        margin: String::new(),
        outcome: Outcome::Holds,
        corner: match at.unsure.is_empty() {
            true => format!("dark: {}", names(&at.dark)),
            false => format!("dark: {}; dim: {}", names(&at.dark), names(&at.unsure)),
        },
    }
}

fn takes(row: &LoadRow) -> Option<Row> {
    let most = row.most.as_ref().filter(|_| row.kind == "input")?;
    let takes = most.amps?;
    Some(Row {
        what: row.part.clone(),
        worst: format!("{}, {}", volts(most.volts), amps(takes)),
        limit: format!("of {}, typical", amps(MOST_OF_INPUT)),
        margin: percent(takes / MOST_OF_INPUT),
        outcome: Outcome::Spare(1.0 - takes / MOST_OF_INPUT),
        corner: format!("{}, supplies high", standing(&most.position)),
    })
}

fn motor(row: &MotorRow) -> Row {
    let typical = if row.typical { ", typical" } else { "" };
    let others = if row.with_others { "every other load beside it on" } else { "alone" };
    let starts = row.starting.map(|it| format!("; {} while motors start", volts(it)));
    Row {
        what: row.part.clone(),
        worst: volts(row.least),
        limit: format!("of {}{typical}", volts(row.from)),
        margin: percent(row.least / row.from - 1.0),
        outcome: Outcome::Spare(row.least / row.from - 1.0),
        corner: format!("supply low, conductors hot, {others}{}", starts.unwrap_or_default()),
    }
}

fn element(row: &ElementRow) -> Row {
    let motors: Vec<&str> = row.motors.iter().map(String::as_str).collect();
    Row {
        what: row.element.clone(),
        worst: amps(row.runs),
        limit: format!("of {}", amps(row.rated)),
        margin: percent(row.of_rated),
        outcome: Outcome::Spare(1.0 - row.of_rated),
        corner: format!("{} at its running current", super::few(&motors)),
    }
}

fn enough(row: &LoadRow) -> Row {
    let lamp = row.kind == "lamp";
    let worst = row.least.as_ref().map_or_else(
        || "nothing".to_owned(),
        |least| match least.amps {
            Some(gets) if lamp => amps(gets),
            Some(gets) => format!("{}, {}", volts(least.volts), amps(gets)),
            None => volts(least.volts),
        },
    );
    let needs = if lamp { amps(row.on_from) } else { volts(row.on_from) };
    let least = row.least_amps.map(|least| format!(", {}", amps(least))).unwrap_or_default();
    let typical = if row.typical { ", typical" } else { "" };
    Row {
        what: row.part.clone(),
        worst,
        limit: format!("of {needs}{least}{typical}"),
        margin: row.of_needed.map(|share| percent(share - 1.0)).unwrap_or_default(),
        outcome: row.of_needed.map_or(Outcome::NotJudged, |share| Outcome::Spare(share - 1.0)),
        corner: row.least.as_ref().map_or_else(String::new, |least| {
            format!("{}, supplies low", standing(&least.position))
        }),
    }
}

fn most(row: &LoadRow) -> Option<Row> {
    let most = row.most.as_ref()?;
    let share = row.of_rated?;
    let inrush = row.inrush.map(|it| format!("; {} cold, at first", amps(it))).unwrap_or_default();
    Some(Row {
        what: row.part.clone(),
        worst: format!("{}, {}", volts(most.volts), amps(most.amps?)),
        limit: format!("rated {}, {}", volts(row.rated_volts?), amps(row.rated_amps?)),
        margin: percent(share),
        outcome: Outcome::Spare(1.0 - share / MOST_OF_RATED),
        corner: format!("{}, supplies high{inrush}", standing(&most.position)),
    })
}

/// "with 52 open", "at rest".
fn standing(position: &str) -> String {
    if position.starts_with("at rest") { position.to_owned() } else { format!("with {position}") }
}
