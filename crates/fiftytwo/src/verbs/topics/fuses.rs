//! Fuses, and the shorts they clear.

use super::shown::{amps, percent, seconds};
use super::{Outcome, Row, Section, few};
use fiftytwo_calculations::fuses::{CLEARS_WITHIN, FuseReport, Fuses, Selective, ShortReport};

/// What fuses carry, clear and leave alone.
pub fn sections(found: &Fuses) -> Vec<Section> {
    let rows = |of: fn(&FuseReport) -> Option<Row>| found.fuses.iter().filter_map(of).collect();
    vec![
        Section {
            title: "Fuses: what each must carry",
            rows: rows(|fuse| Some(carries(fuse))),
            ..Section::default()
        },
        Section {
            title: "Fuses: the conductor behind each",
            rows: rows(conductor),
            ..Section::default()
        },
        Section { title: "Fuses in a row", rows: rows(in_a_row), ..Section::default() },
        Section {
            title: "Shorts at the far end of each core",
            rows: found.shorts.iter().map(short).collect(),
            ..Section::default()
        },
    ]
}

fn carries(fuse: &FuseReport) -> Row {
    // Typical times never say that a fuse falls short.
    let used = fuse.carries.used;
    let own = used.filter(|_| fuse.has_points).unwrap_or(0.0);
    let load = fuse.carries.steady.max(own * fuse.rating);
    let unknown = !fuse.has_points && fuse.carries.most > fuse.rating;
    let moments: Vec<String> = fuse
        .carries
        .moments
        .iter()
        .map(|it| format!("{} {} for {}", it.load, amps(it.amps), seconds(it.seconds)))
        .collect();
    let moments: Vec<&str> = moments.iter().map(String::as_str).collect();
    let takes: Vec<&str> = fuse.takes_away.iter().map(String::as_str).collect();
    let melting = match used {
        Some(used) if used.is_finite() => {
            format!("its moments use {} of its melting", percent(used))
        }
        Some(_) => format!("its moments of {} lie beyond its points", amps(fuse.carries.most)),
        None => "its times are not declared".to_owned(),
    };
    Row {
        what: fuse.fuse.clone(),
        worst: amps(fuse.carries.steady),
        limit: format!("of {}", amps(fuse.rating)),
        margin: percent(fuse.carries.steady / fuse.rating),
        outcome: match load <= fuse.rating && unknown {
            true => Outcome::NotJudged,
            false => Outcome::Spare(1.0 - load / fuse.rating),
        },
        corner: format!(
            "{melting}{}; opens: {} dead",
            if moments.is_empty() { String::new() } else { format!(" ({})", few(&moments)) },
            match takes.as_slice() {
                [] => "nothing goes".to_owned(),
                [one] => format!("{one} goes"),
                more => format!("{} go", few(more)),
            }
        ),
    }
}

fn conductor(fuse: &FuseReport) -> Option<Row> {
    let thin = fuse.thinnest.as_ref()?;
    Some(Row {
        what: format!("{} before {}", fuse.fuse, thin.core),
        worst: amps(fuse.rating),
        limit: format!("at most {}", amps(thin.largest)),
        margin: percent(fuse.rating / thin.largest),
        outcome: Outcome::Spare(1.0 - fuse.rating / thin.largest),
        corner: format!("{}, {}", thin.size, thin.source),
    })
}

fn in_a_row(fuse: &FuseReport) -> Option<Row> {
    let upstream = fuse.upstream.as_ref()?;
    let (worst, margin, outcome, corner) = match &upstream.selective {
        Selective::Yes => (
            "selective".to_owned(),
            "yes".to_owned(),
            Outcome::Holds,
            format!("up to the greatest short behind it, {}", amps(upstream.greatest)),
        ),
        Selective::No { from, clears, melts } => (
            format!("both open from {}", amps(*from)),
            "no".to_owned(),
            Outcome::FallsShort,
            format!(
                "there the first may take {}, and the other may melt after {}",
                clears.map_or_else(|| "for ever".to_owned(), seconds),
                seconds(*melts)
            ),
        ),
        Selective::Never { why } => {
            ("open together".to_owned(), "no".to_owned(), Outcome::FallsShort, why.clone())
        }
        Selective::Unknown { why, cure } => {
            ("not known".to_owned(), String::new(), Outcome::NotJudged, format!("{why}; {cure}"))
        }
    };
    Some(Row {
        what: format!("{} behind {}", fuse.fuse, upstream.fuse),
        worst,
        limit: String::new(),
        margin,
        outcome,
        corner,
    })
}

fn short(short: &ShortReport) -> Row {
    let current = short.amps.map_or_else(|| "not known".to_owned(), |[least, _]| amps(least));
    let (limit, margin, outcome) = match (short.cleared_within, &short.cleared_by) {
        (Some([within, _]), Some(by)) => (
            format!("{by}: {}", seconds(within)),
            short.heats.map_or_else(String::new, |heats| format!("{} heat", percent(heats))),
            Outcome::Spare((1.0 - within / CLEARS_WITHIN).min(1.0 - short.heats.unwrap_or(0.0))),
        ),
        _ => ("times not known".to_owned(), String::new(), Outcome::NotJudged),
    };
    let most = short.amps.map_or_else(String::new, |[_, most]| format!(", most {}", amps(most)));
    let fuses: Vec<&str> = short.fuses.iter().map(String::as_str).collect();
    let typical = short.typical_within.map_or_else(String::new, |[least, most]| {
        format!("; a general-purpose fuse would take {} to {}", seconds(least), seconds(most))
    });
    Row {
        what: format!("{} in {}", short.core, short.place),
        worst: current,
        limit,
        margin,
        outcome,
        corner: format!(
            "least: supply low, conductors hot{most}; in its loop {}{typical}",
            if fuses.is_empty() { "no fuse".to_owned() } else { few(&fuses) }
        ),
    }
}
