//! The power of every resistor, and the window of ohms of those in front of a monitor.

use super::find::Situation;
use super::loads::worst;
use super::{Levels, MOST_SHARE};
use crate::Study;
use crate::burdens;
use crate::loads::corner::{extreme, most_amps, needed};
use crate::loads::less::{CLOSE, least_that};
use crate::loads::{MOST_OF_INPUT, MOST_OF_RATED, is_filament};
use crate::shown::{Shown, Thresholds};
use fiftytwo_circuit::{BenchFault, Ends, Setup, Stand, Way};
use fiftytwo_scheme::{PartId, PartKind};
use serde::Serialize;
use std::cell::Cell;

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
    /// The least it must have, ohm, everything else as it is: with the monitor behind it shorted the
    /// coil surely lets go and gets at most a fifth of its pickup; no lamp or input behind it gets
    /// too much; its own power is no more than it is rated for.
    pub least_ohm: Option<f64>,
    /// Which of these asks for that.
    pub least_for: Option<String>,
    /// The most it may have, ohm: everything behind it is still surely on with the supply low.
    pub most_ohm: Option<f64>,
    /// Which part asks for that.
    pub most_for: Option<String>,
    #[serde(skip)]
    pub(super) id: PartId,
    /// What it takes while a coil made for a moment is driven, W, where that is more than what it is
    /// rated for, and the contacts that are closed then.
    #[serde(skip)]
    pub(super) moment: Option<(f64, String)>,
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
                least_for: None,
                most_ohm: None,
                most_for: None,
                id,
                moment: None,
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
    for situation in situations.iter().filter(|situation| !situation.lookers().is_empty()) {
        for shorted in shorts(situation) {
            power(study, &mut rows, &worst(situation, &shorted), &situation.name, &shorted)?;
        }
    }
    for row in &mut rows {
        driven(study, row)?;
    }
    for row in &mut rows {
        Window { study, situations, id: row.id, rated: row.rated }.set(row)?;
    }
    Ok(rows)
}

/// With the contacts of a way closed and all others open: ways of the resistor itself, and those of
/// loads that lead through it.
fn driven(study: &Study<'_, '_>, row: &mut ResistorRow) -> Result<(), BenchFault> {
    let (scheme, wiring) = (study.scheme(), &study.machine.wiring);
    let mut ways: Vec<Way> = burdens::ways(wiring, row.id);
    for (load, part) in scheme.placed() {
        let found = match part.kind {
            PartKind::Coil(_) => wiring.ways_through_resistors(load),
            PartKind::Motor(_) | PartKind::Heater { .. } | PartKind::Power { .. } => {
                wiring.ways(load).as_ref().clone()
            }
            _ => continue,
        };
        ways.extend(
            found
                .list
                .into_iter()
                .filter(|way| way.parts.contains(&row.id) && burdens::can_be(scheme, way)),
        );
    }
    for way in ways {
        let base = study.bench.setup().at(Ends::MOST);
        let setup = Setup {
            closed: scheme.parts.ids().map(|part| way.parts.contains(&part)).collect(),
            ..base
        };
        // A way that shorts something else is told where shorts are.
        let Ok(readings) = study.bench.solve(&setup) else { continue };
        let volts = readings.across(row.id).unwrap_or(0.0);
        let watts = (volts * readings.amps(row.id).unwrap_or(0.0)).abs();
        let contacts: Vec<String> = way
            .parts
            .iter()
            .filter(|part| matches!(scheme.parts[**part].kind, PartKind::Contact(_)))
            .map(|part| scheme.parts[*part].name.clone())
            .collect();
        if contacts.is_empty() || watts <= row.worst * (1.0 + 1e-9) {
            continue;
        }
        let position = format!("{} closed", crate::words::list(&contacts));
        if burdens::ends_with(wiring, &way).is_some() {
            if row.moment.as_ref().is_none_or(|(known, _)| watts > *known) {
                row.moment = Some((watts, position));
            }
            continue;
        }
        row.healthy = row.healthy.max(watts);
        row.worst = watts;
        row.position = position;
        row.shorted = Vec::new();
    }
    Ok(())
}

/// Each monitor shorted, and all of them.
fn shorts(situation: &Situation) -> Vec<Vec<PartId>> {
    let all = situation.lookers();
    let mut cases: Vec<Vec<PartId>> = all.iter().map(|monitor| vec![*monitor]).collect();
    if all.len() > 1 {
        cases.push(all);
    }
    cases
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

/// One resistor with other ohms, everything else as it is.
struct Window<'a, 's> {
    study: &'a Study<'a, 's>,
    situations: &'a [Situation],
    id: PartId,
    rated: Option<f64>,
}

/// What a resistor is too small for.
#[derive(Debug, Clone, Copy, PartialEq)]
enum TooSmall {
    Coil(PartId),
    Load(PartId),
    Itself,
}

impl Window<'_, '_> {
    fn set(&self, row: &mut ResistorRow) -> Result<(), BenchFault> {
        let mine: Vec<&Situation> = self
            .situations
            .iter()
            .filter(|situation| situation.series.iter().any(|(id, _)| *id == self.id))
            .collect();
        if mine.is_empty() {
            return Ok(());
        }
        let name = |part: PartId| self.study.scheme().parts[part].name.clone();
        // Each position only where the bound of those before it does not do. Far less than it has is
        // no least.
        let (none, mut least, mut least_for) = (row.ohms[0] * 1e-6, None, None);
        for situation in &mine {
            let why = Cell::new(None);
            let fits = |ohm: f64| -> Result<bool, BenchFault> {
                let too_small = self.too_small(situation, ohm)?;
                why.set(too_small.or(why.get()));
                Ok(too_small.is_none())
            };
            let known = least.unwrap_or(none);
            if fits(known)? {
                continue;
            }
            match least_that(row.ohms[0].max(known), &fits)? {
                Some(ohm) => least = Some(ohm.max(known)),
                // No value is large enough: then there is none to tell.
                None => return Ok(()),
            }
            least_for = why.get();
        }
        row.least_ohm = least;
        row.least_for = least_for.map(|it| match it {
            TooSmall::Coil(part) | TooSmall::Load(part) => name(part),
            TooSmall::Itself => {
                format!("its own {}", crate::words::watts(self.rated.unwrap_or(0.0)))
            }
        });
        let (mut most, mut most_for) = (None, None);
        for situation in &mine {
            let dark = Cell::new(None);
            let fails = |ohm: f64| -> Result<bool, BenchFault> {
                let too_large = self.too_large(situation, ohm)?;
                dark.set(too_large.or(dark.get()));
                Ok(too_large.is_some())
            };
            if most.is_some_and(|ohm| matches!(fails(ohm), Ok(false))) {
                continue;
            }
            // Where even a wire in its place is too much it has no most: that is told of the part.
            if fails(none)? {
                return Ok(());
            }
            if let Some(ohm) = least_that(row.ohms[1], &fails)? {
                let ohm = ohm * (1.0 - 2.0 * CLOSE);
                most = Some(most.map_or(ohm, |known: f64| known.min(ohm)));
                most_for = dark.get();
            }
        }
        row.most_ohm = most;
        row.most_for = most_for.map(name);
        Ok(())
    }

    fn behind<'b>(&self, situation: &'b Situation) -> &'b [PartId] {
        let found = situation.series.iter().find(|(id, _)| *id == self.id);
        found.map(|(_, behind)| behind.as_slice()).unwrap_or_default()
    }

    fn too_small(&self, situation: &Situation, ohm: f64) -> Result<Option<TooSmall>, BenchFault> {
        let study = self.study;
        let with = |setup: Setup| setup.with_apart(self.id, Stand::Ohm(ohm));
        let PartKind::Coil(coil) = &study.scheme().parts[situation.coil].kind else {
            return Ok(None);
        };
        let (levels, _) = Levels::of(study, situation.coil, coil);
        let relay = self.situations.iter().any(|it| it.coil == situation.coil && it.held);
        // As `monitor-holds-coil` and `monitor-near-pickup` ask: just below.
        let near = levels.pickup_from * MOST_SHARE;
        let most = match (situation.held, relay) {
            (true, _) => levels.releases_below,
            (false, true) => near,
            (false, false) => near.min(levels.releases_below),
        };
        for &part in self.behind(situation).iter().filter(|it| situation.feeders.contains(it)) {
            let readings = study.bench.solve(&with(worst(situation, &[part])))?;
            let gets = readings.across(situation.coil).unwrap_or(0.0).abs() * levels.from_cold;
            if gets >= most {
                return Ok(Some(TooSmall::Coil(situation.coil)));
            }
        }
        if !situation.held {
            for &part in self.behind(situation) {
                if self.takes_too_much(&with(situation.setup.clone()), part)? {
                    return Ok(Some(TooSmall::Load(part)));
                }
            }
        }
        if let Some(rated) = self.rated {
            for shorted in std::iter::once(Vec::new()).chain(shorts(situation)) {
                let readings = study.bench.solve(&with(worst(situation, &shorted)))?;
                let amps = readings.amps(self.id).unwrap_or(0.0);
                if amps * amps * ohm > rated {
                    return Ok(Some(TooSmall::Itself));
                }
            }
        }
        Ok(None)
    }

    fn takes_too_much(&self, setup: &Setup, id: PartId) -> Result<bool, BenchFault> {
        let scheme = self.study.scheme();
        let part = &scheme.parts[id];
        Ok(match &part.kind {
            PartKind::Lamp(lamp) if is_filament(part) => {
                let most = extreme(self.study, setup, id, true)?;
                let nominal = part.at.map_or(0.0, |at| {
                    scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle()
                });
                let rated = lamp.rated.as_ref().map_or(nominal, fiftytwo_scheme::Quantity::middle);
                most.volts > MOST_OF_RATED * rated
            }
            PartKind::Lamp(lamp) => {
                most_amps(self.study, setup, id)? > MOST_OF_RATED * lamp.current.middle()
            }
            PartKind::Input(_) => most_amps(self.study, setup, id)? > MOST_OF_INPUT,
            _ => false,
        })
    }

    /// The part behind it that is on with the resistor as it is, and surely on no more.
    fn too_large(&self, situation: &Situation, ohm: f64) -> Result<Option<PartId>, BenchFault> {
        if situation.held {
            return Ok(None);
        }
        let scheme = self.study.scheme();
        let nominal = self.study.bench.solve(&situation.setup)?;
        for &part in self.behind(situation) {
            let Some(thresholds) = Thresholds::of(scheme, &scheme.parts[part]) else { continue };
            if thresholds.shown(&nominal, part) == Shown::Off {
                continue;
            }
            let setup = situation.setup.clone().with_apart(self.id, Stand::Ohm(ohm));
            if !needed(self.study, &setup, part, &thresholds)?.enough() {
                return Ok(Some(part));
            }
        }
        Ok(None)
    }
}
