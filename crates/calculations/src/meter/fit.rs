//! Readings held against solved volts.
//!
//! **In:** readings whose points are found, a solution of the bench. **Out:** a [`Fit`].
//! **Never here:** which fault was put in.

use super::explain::{TOLERANCE_SHARE, TOLERANCE_VOLTS};
use super::taken::ReadingTaken;
use crate::Study;
use fiftytwo_circuit::bench::Readings;
use fiftytwo_scheme::{NodeId, Scheme, SupplyId};
use serde::Serialize;

/// A reading whose points are found.
pub(super) struct Wanted {
    pub point: NodeId,
    pub to: To,
    pub volts: f64,
    pub supply: Option<SupplyId>,
}

/// Where its other probe is.
#[derive(Clone, Copy)]
pub(super) enum To {
    Ground,
    Node(NodeId),
}

/// A supply at one voltage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StandsAt {
    /// Its name.
    pub supply: String,
    /// V.
    pub volts: f64,
}

/// How near some volts come to the readings.
pub(super) struct Fit {
    /// Every reading is within the tolerance.
    pub inside: bool,
    /// What every reading would be, V.
    pub expected: Vec<f64>,
    /// The greatest difference, V.
    pub off: f64,
    /// The voltage of each supply for that, V.
    pub supplies: Vec<StandsAt>,
}

/// Holds solved volts against the readings, each supply at the one voltage of its range that brings
/// its readings within the tolerance, or nearest to it.
pub(super) fn fit(study: &Study<'_, '_>, wanted: &[Wanted], solved: &Readings<'_>) -> Fit {
    let scheme = study.scheme();
    let shown: Vec<f64> = wanted
        .iter()
        .map(|reading| match reading.to {
            To::Ground => solved.to_ground(reading.point),
            To::Node(other) => solved.between(reading.point, other),
        })
        .map(|volts| volts.unwrap_or(0.0))
        .collect();
    let mut inside = true;
    let mut factors: Vec<(Option<SupplyId>, f64, f64)> = Vec::new();
    for (reading, &shown) in wanted.iter().zip(&shown) {
        let (lo, hi) = reading.supply.map_or((1.0, 1.0), |id| {
            let supply = &scheme.supplies[id];
            let nominal = supply.nominal.middle();
            (supply.range.lo.min(nominal) / nominal, supply.range.hi.max(nominal) / nominal)
        });
        let tolerance = TOLERANCE_VOLTS + TOLERANCE_SHARE * reading.volts.abs();
        let (mut least, mut most) = (lo, hi);
        if shown.abs() < 1e-9 {
            inside &= reading.volts.abs() <= tolerance;
        } else {
            let ends = [(reading.volts - tolerance) / shown, (reading.volts + tolerance) / shown];
            let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
            inside &= low <= hi && high >= lo;
            // Where none of the range will do, its nearer end.
            (least, most) = (low.clamp(lo, hi), high.clamp(lo, hi));
        }
        match factors.iter_mut().find(|(supply, ..)| *supply == reading.supply) {
            Some((_, old_least, old_most)) => {
                *old_least = old_least.max(least);
                *old_most = old_most.min(most);
            }
            None => factors.push((reading.supply, least, most)),
        }
    }
    inside &= factors.iter().all(|(_, least, most)| least <= most);
    let factor = |supply| {
        let found = factors.iter().find(|(known, ..)| *known == supply);
        found.map_or(1.0, |(_, least, most)| f64::midpoint(*least, *most))
    };
    let expected: Vec<f64> =
        wanted.iter().zip(&shown).map(|(reading, shown)| shown * factor(reading.supply)).collect();
    let off = wanted
        .iter()
        .zip(&expected)
        .map(|(reading, expected)| (reading.volts - expected).abs())
        .fold(0.0, f64::max);
    let supplies = factors
        .iter()
        .filter_map(|(supply, ..)| {
            let of = &scheme.supplies[(*supply)?];
            Some(StandsAt { supply: of.name.clone(), volts: of.nominal.middle() * factor(*supply) })
        })
        .collect();
    Fit { inside, expected, off, supplies }
}

/// Readings of more volts than their supply has.
pub(super) fn beyond(scheme: &Scheme, readings: &[ReadingTaken], wanted: &[Wanted]) -> Vec<String> {
    let mut told = Vec::new();
    for (reading, wanted) in readings.iter().zip(wanted) {
        let Some(supply) = wanted.supply.map(|id| &scheme.supplies[id]) else { continue };
        let most = supply.range.hi.max(supply.nominal.middle());
        let volts = wanted.volts.abs();
        if volts > most + TOLERANCE_VOLTS + TOLERANCE_SHARE * volts {
            told.push(format!(
                "{reading} is more than {} can give, {} at the most: another supply or alternating \
                 current is joined with it, or the meter stands on another range",
                supply.name,
                crate::words::volts(most)
            ));
        }
    }
    told
}
