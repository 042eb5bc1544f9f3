//! The power of every resistor, and the window of ohms of those in front of a monitor.

use super::find::{Situation, in_series};
use super::loads::worst;
use super::{Levels, MOST_SHARE, cures};
use crate::Study;
use crate::shown::{Shown, Thresholds};
use fiftytwo_circuit::{BenchFault, Ends, Setup};
use fiftytwo_scheme::{PartId, PartKind};
use serde::Serialize;

/// What a placed resistor takes, in the rest positions, with the monitors behind it whole and
/// shorted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ResistorRow {
    /// Its name.
    pub resistor: String,
    /// Its resistance, ohm, least and greatest.
    pub ohms: [f64; 2],
    /// Its rated power, W.
    pub rated: Option<f64>,
    /// Its power with nothing broken, W, at the corner of most current.
    pub healthy: f64,
    /// Its greatest power, W.
    pub worst: f64,
    /// The rest position of the greatest power.
    pub position: String,
    /// What is shorted then.
    pub shorted: Vec<String>,
    /// The least it must have, ohm: with the monitor behind it shorted the coil surely lets go and
    /// gets at most a fifth of its pickup.
    pub least_ohm: Option<f64>,
    /// The most it may have, ohm: the monitor behind it is still surely on with the supply low.
    pub most_ohm: Option<f64>,
    #[serde(skip)]
    pub(super) id: PartId,
}

pub(super) fn rows(
    study: &Study<'_, '_>,
    situations: &[Situation],
) -> Result<Vec<ResistorRow>, BenchFault> {
    let scheme = study.scheme();
    let mut rows: Vec<ResistorRow> = scheme
        .placed()
        .filter_map(|(id, part)| match &part.kind {
            PartKind::Resistor { resistance, power } => Some(ResistorRow {
                resistor: part.name.clone(),
                ohms: [resistance.lo, resistance.hi],
                rated: power.as_ref().map(|power| power.lo),
                healthy: 0.0,
                worst: 0.0,
                position: String::new(),
                shorted: Vec::new(),
                least_ohm: None,
                most_ohm: None,
                id,
            }),
            _ => None,
        })
        .collect();
    if rows.is_empty() {
        return Ok(rows);
    }
    for rest in study.rest.iter() {
        let setup = rest.setup(&study.bench).at(Ends::MOST);
        power(study, &mut rows, &setup, &rest.name, &[])?;
    }
    for situation in situations.iter().filter(|situation| !situation.monitors.is_empty()) {
        let mut cases: Vec<Vec<PartId>> =
            situation.monitors.iter().map(|monitor| vec![*monitor]).collect();
        cases.push(situation.monitors.clone());
        for shorted in cases {
            power(study, &mut rows, &worst(situation, &shorted), &situation.name, &shorted)?;
        }
        windows(study, &mut rows, situation)?;
    }
    Ok(rows)
}

fn power(
    study: &Study<'_, '_>,
    rows: &mut [ResistorRow],
    setup: &Setup,
    position: &str,
    shorted: &[PartId],
) -> Result<(), BenchFault> {
    let readings = study.bench.solve(setup)?;
    for row in rows {
        let volts = readings.across(row.id).unwrap_or(0.0);
        let watts = (volts * readings.amps(row.id).unwrap_or(0.0)).abs();
        if shorted.is_empty() {
            row.healthy = row.healthy.max(watts);
        }
        // What rounding adds is no reason to name another position.
        if watts > row.worst * (1.0 + 1e-9) {
            row.worst = watts;
            position.clone_into(&mut row.position);
            row.shorted =
                shorted.iter().map(|part| study.scheme().parts[*part].name.clone()).collect();
        }
    }
    Ok(())
}

/// The least and the most that the resistor of each monitor may have.
fn windows(
    study: &Study<'_, '_>,
    rows: &mut [ResistorRow],
    situation: &Situation,
) -> Result<(), BenchFault> {
    let scheme = study.scheme();
    let PartKind::Coil(coil) = &scheme.parts[situation.coil].kind else { return Ok(()) };
    let (levels, _) = Levels::of(study, situation.coil, coil);
    let target = levels.releases_below.min(levels.pickup_from * MOST_SHARE) / levels.from_cold;
    for &monitor in &situation.monitors {
        let alone = Situation { monitors: vec![monitor], ..situation.clone() };
        let series: Vec<PartId> = in_series(study, &alone)?
            .into_iter()
            .filter(|id| rows.iter().any(|row| row.id == *id))
            .collect();
        for one in series {
            window(study, rows, situation, (monitor, one), target)?;
        }
    }
    Ok(())
}

/// The window of one resistor in series with a monitor, everything else as it is.
fn window(
    study: &Study<'_, '_>,
    rows: &mut [ResistorRow],
    situation: &Situation,
    (monitor, one): (PartId, PartId),
    target: f64,
) -> Result<(), BenchFault> {
    let scheme = study.scheme();
    let Some(row) = rows.iter_mut().find(|row| row.id == one) else { return Ok(()) };
    let most_current = worst(situation, &[]);
    if let Some(more) = cures::series_ohm(study, &most_current, monitor, situation.coil, target)? {
        // Nothing at all would do as far as this monitor goes: no least.
        let least = row.ohms[0] + more;
        if least > 0.0 {
            row.least_ohm = Some(row.least_ohm.map_or(least, |known| known.max(least)));
        }
    }
    let Some(thresholds) = Thresholds::of(scheme, &scheme.parts[monitor]) else { return Ok(()) };
    let nominal = study.bench.solve(&situation.setup)?;
    if !situation.held && thresholds.shown(&nominal, monitor) != Shown::Off {
        let low = situation.setup.clone().at(Ends::LEAST);
        if let Some(more) = cures::room(study, &low, monitor, &thresholds)? {
            let most = (row.ohms[1] + more).max(0.0);
            row.most_ohm = Some(row.most_ohm.map_or(most, |known| known.min(most)));
        }
    }
    Ok(())
}
