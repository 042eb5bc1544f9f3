//! Several coils at once through one feeder or supply.

use super::shown::{amps, volts};
use super::{Outcome, Row, Section};
use fiftytwo_calculations::clearing::{Clearing, Group};

/// What each coil of a group keeps while the others draw.
pub fn sections(found: &Clearing) -> Vec<Section> {
    let notes = found.groups.iter().filter_map(|group| {
        let why = group.not_computed.as_ref()?;
        Some(format!("{}: not computed, {why}", group.name))
    });
    vec![Section {
        title: "Coils drawing at once",
        rows: found.groups.iter().flat_map(rows).collect(),
        notes: notes.collect(),
        ..Section::default()
    }]
}

fn rows(group: &Group) -> impl Iterator<Item = Row> + '_ {
    let supplies: Vec<String> = group
        .supplies
        .iter()
        .map(|it| format!("{} gives {} at {}", it.supply, amps(it.amps), volts(it.volts)))
        .collect();
    let supplies = supplies.join(", ");
    group.coils.iter().map(move |coil| Row {
        what: format!("{}: {}", group.name, coil.coil),
        worst: volts(coil.volts),
        limit: coil
            .needs
            .map_or_else(|| "not declared".to_owned(), |needs| format!("needs {}", volts(needs))),
        margin: coil.margin.map_or_else(String::new, volts),
        outcome: match (coil.margin, coil.needs) {
            (Some(margin), Some(needs)) => Outcome::Spare(margin / needs),
            _ => Outcome::NotJudged,
        },
        corner: format!(
            "by its own way only {}; supply low, conductors hot, coils cold; {supplies}",
            volts(coil.alone)
        ),
    })
}
