//! Long cables, and what drops in each core.

use super::shown::{amps, ohms, percent, volts};
use super::{Outcome, Row, Section};
use fiftytwo_calculations::cables::{Allowed, CableReport, Cables, CoreDrop};

/// What cables leave to coils, and the drop in each core.
pub fn sections(found: &Cables) -> Vec<Section> {
    vec![
        Section {
            title: "Cables: what the coil that decides gets through them",
            rows: found.cables.iter().filter_map(cable).collect(),
            ..Section::default()
        },
        Section {
            title: "Cores: the greatest drop",
            rows: found.cores.iter().map(core).collect(),
            ..Section::default()
        },
    ]
}

fn cable(report: &CableReport) -> Option<Row> {
    // Without a coil that decides, no conductor helps: then the coil worst off stands for it.
    let worst_off =
        || report.coils.iter().min_by(|a, b| (a.least - a.needs).total_cmp(&(b.least - b.needs)));
    let coil = report.deciding.and_then(|at| report.coils.get(at)).or_else(worst_off)?;
    let margin = coil.least - coil.needs;
    let cores = match coil.side_by_side {
        0 | 1 => String::new(),
        several => format!(", {several} side by side"),
    };
    Some(Row {
        what: format!("{}, {} {:.0} m: {}", report.cable, report.size, report.length, coil.coil),
        worst: volts(coil.least),
        limit: format!("needs {}", volts(coil.needs)),
        margin: volts(margin),
        outcome: Outcome::Spare(margin / coil.needs),
        corner: format!(
            "supply low, conductors at {:.0} C, {}{cores}; {}",
            report.celsius[1],
            report.material,
            report.allowed.as_ref().map_or_else(
                || format!("without any drop in it {}", volts(coil.without_drop)),
                allowed
            )
        ),
    })
}

fn allowed(allowed: &Allowed) -> String {
    let thinnest = &allowed.thinnest;
    let copper: Vec<&str> = [&thinnest.copper_awg, &thinnest.copper_mm2]
        .into_iter()
        .filter_map(|it| it.as_deref())
        .collect();
    let aluminium: Vec<&str> = [&thinnest.aluminium_awg, &thinnest.aluminium_mm2]
        .into_iter()
        .filter_map(|it| it.as_deref())
        .collect();
    let mut words: Vec<String> = Vec::new();
    if !copper.is_empty() {
        words.push(format!(
            "thinnest that passes (by this coil's volts): copper {}",
            copper.join(" or ")
        ));
    }
    if !aluminium.is_empty() {
        words.push(format!("aluminium {}", aluminium.join(" or ")));
    }
    if let Some(run) = allowed.longest_run {
        words.push(format!("longest run of this one {} m", metres(run)));
    }
    words.join(", ")
}

/// Whole metres, below ten hundredths, never more than the value: a bound that is told must hold.
fn metres(run: f64) -> f64 {
    if run >= 10.0 { run.floor() } else { (run * 100.0).floor() / 100.0 }
}

#[test]
fn the_longest_run_is_rounded_to_the_side_that_holds() {
    assert_eq!([549.6, 712.668, 9.999].map(metres), [549.0, 712.0, 9.99]);
}

fn core(drop: &CoreDrop) -> Row {
    let others = if drop.with_others { ", with every other load of its section" } else { "" };
    Row {
        what: drop.core.clone(),
        worst: volts(drop.volts),
        limit: format!("at {}", amps(drop.amps)),
        margin: format!("{} of supply", percent(drop.of_supply)),
        outcome: Outcome::Holds,
        corner: format!(
            "{} drives it{others}; {} hot; supply high, conductors hot, loads cold",
            drop.load,
            ohms(drop.ohm)
        ),
    }
}
