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
    let best: Vec<(Option<SupplyId>, f64)> = factors
        .iter()
        .map(|(supply, least, most)| {
            let of_supply = wanted.iter().zip(&shown).filter(|(it, _)| it.supply == *supply);
            let of_supply: Vec<(f64, (f64, f64))> =
                of_supply.map(|(it, shown)| (it.volts, *shown)).collect();
            (*supply, nearest(&of_supply, least.min(*most), least.max(*most)))
        })
        .collect();
    let factor = |supply| {
        let found = best.iter().find(|(known, _)| *known == supply);
        found.map_or(1.0, |(_, factor)| *factor)
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

/// The factor between two that brings the greatest difference of the readings to its least; of several
/// such the one nearest to nominal. The difference is convex in the factor.
fn nearest(readings: &[(f64, (f64, f64))], least: f64, most: f64) -> f64 {
    let off = |factor: f64| {
        let away = readings.iter().map(|(volts, (low, high))| {
            let (low, high) =
                ((low * factor).min(high * factor), (low * factor).max(high * factor));
            (volts - volts.clamp(low, high)).abs()
        });
        away.fold(0.0, f64::max)
    };
    let (mut low, mut high) = (least, most);
    for _ in 0..STEPS {
        let (one, two) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if off(one) <= off(two) {
            high = two;
        } else {
            low = one;
        }
    }
    let best = f64::midpoint(low, high);
    let enough = off(best) + 1e-9;
    let (mut inside, mut outside) = (best, 1.0_f64.clamp(least, most));
    if off(outside) <= enough {
        return outside;
    }
    for _ in 0..STEPS {
        let middle = f64::midpoint(inside, outside);
        if off(middle) <= enough { inside = middle } else { outside = middle }
    }
    inside
}

/// How often a search for a factor narrows: to a ten-thousandth of a volt and less.
const STEPS: usize = 60;

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
