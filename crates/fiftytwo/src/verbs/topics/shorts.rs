//! Contacts that join plus and minus of a supply.

use super::shown::amps;
use super::{Outcome, Row, Section, few};
use fiftytwo_calculations::shorts::{ShortBy, Shorts};

/// Every short found; one line where there is none.
pub fn sections(found: &Shorts) -> Vec<Section> {
    let mut rows: Vec<Row> = found.list.iter().map(short).collect();
    if rows.is_empty() && found.given_up.is_empty() {
        rows.push(Row {
            what: "plus and minus of every supply".to_owned(),
            worst: "nothing".to_owned(),
            limit: String::new(),
            margin: "apart".to_owned(),
            outcome: Outcome::Holds,
            corner: "no contacts join them without a load between".to_owned(),
        });
    }
    let notes = found
        .given_up
        .iter()
        .map(|supply| format!("{supply}: the search was given up; the list may lack some."));
    vec![Section {
        title: "Shorts by operation",
        rows,
        notes: notes.collect(),
        covers: vec![
            "every position of the contacts that one device and one condition allow; not: contacts \
             of one device that overlap while it moves"
                .to_owned(),
            "not: a core, a return or a link that is broken (what then runs backwards through other \
             coils), nor a return that several circuits have in common"
                .to_owned(),
        ],
        ..Section::default()
    }]
}

fn short(it: &ShortBy) -> Row {
    let names = |names: &[String]| few(&names.iter().map(String::as_str).collect::<Vec<_>>());
    let worst = it.amps.map_or_else(
        || "without limit".to_owned(),
        |[least, most]| format!("{} to {}", amps(least), amps(most)),
    );
    let fuses: Vec<String> =
        it.fuses.iter().map(|(name, rating)| format!("{name} ({})", amps(*rating))).collect();
    let clears = match fuses.is_empty() {
        true => "no fuse is on its way".to_owned(),
        false => format!("{} would have to clear it", names(&fuses)),
    };
    Row {
        what: match it.contacts.is_empty() {
            true => format!("{}, always", it.supply),
            false => format!("{} by {}", it.supply, names(&it.contacts)),
        },
        worst,
        limit: String::new(),
        margin: "shorted".to_owned(),
        outcome: Outcome::FallsShort,
        corner: format!("from plus over {} to minus; {clears}", names(&it.path)),
    }
}
