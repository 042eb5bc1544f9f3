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
/// its readings within the tolerance, or nearest to it. Of several solutions, any volts between the
/// least and the most that they show.
pub(super) fn fit(study: &Study<'_, '_>, wanted: &[Wanted], solved: &[&Readings<'_>]) -> Fit {
    let scheme = study.scheme();
    let shown: Vec<(f64, f64)> = wanted
        .iter()
        .map(|reading| {
            let volts = solved.iter().map(|solved| match reading.to {
                To::Ground => solved.to_ground(reading.point),
                To::Node(other) => solved.between(reading.point, other),
            });
            let volts = volts.map(|volts| volts.unwrap_or(0.0));
            volts.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), volts| {
                (least.min(volts), most.max(volts))
            })
        })
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
        let (low, high) = match bounds(reading.volts, tolerance, shown) {
            Some(bounds) => bounds,
            None => {
                inside = false;
                (lo, hi)
            }
        };
        inside &= low <= hi && high >= lo;
        // Where none of the range will do, its nearer end.
        let (least, most) = (low.clamp(lo, hi), high.clamp(lo, hi));
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
    let expected: Vec<f64> = wanted
        .iter()
        .zip(&shown)
        .map(|(reading, (least, most))| {
            let factor = factor(reading.supply);
            reading.volts.clamp(least * factor, most * factor)
        })
        .collect();
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

/// Between which factors on the supply volts from `least` to `most` come within the tolerance of a
/// reading; none: at no factor.
fn bounds(volts: f64, tolerance: f64, (least, most): (f64, f64)) -> Option<(f64, f64)> {
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for (shown, limit, below) in
        [(least, volts + tolerance, true), (most, volts - tolerance, false)]
    {
        if shown.abs() < 1e-9 {
            if (below && limit < 0.0) || (!below && limit > 0.0) {
                return None;
            }
        } else if (shown > 0.0) == below {
            high = high.min(limit / shown);
        } else {
            low = low.max(limit / shown);
        }
    }
    Some((low, high))
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
