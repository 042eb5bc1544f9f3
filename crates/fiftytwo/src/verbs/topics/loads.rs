//! Lamps and inputs.

use super::shown::{amps, percent, volts};
use super::{Outcome, Row, Section};
use fiftytwo_calculations::loads::{LoadRow, Loads, MOST_OF_RATED};

/// Whether each gets enough, and what lamps get at the most.
pub fn sections(found: &Loads) -> Vec<Section> {
    vec![
        Section {
            title: "Lamps and inputs: the least they get where they are on",
            rows: found.rows.iter().map(enough).collect(),
            covers: vec![
                "each rest position; what is on in none of them with its own ways closed; supplies \
                 low, everything hot. A lamp surely lights from half its rated current"
                    .to_owned(),
            ],
            ..Section::default()
        },
        Section {
            title: "Lamps: the most they get",
            rows: found.rows.iter().filter_map(most).collect(),
            covers: vec![
                "supplies high, everything cold; not: lamps in series with one that is \
                          shorted"
                    .to_owned(),
            ],
            ..Section::default()
        },
    ]
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
            format!("with {}, supplies low, everything hot", least.position)
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
        corner: format!("with {}, supplies high, everything cold{inrush}", most.position),
    })
}
