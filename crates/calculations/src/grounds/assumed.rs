//! What stands between each supply and ground: declared, or typical and said so.
//!
//! **In:** the scheme. **Out:** one [`Detector`] for each direct-current supply, all its legs side
//! by side, and a sentence for every value that is not declared.

use super::bridge::Legs;
use fiftytwo_circuit::DetectorLegs;
use fiftytwo_scheme::{Coil, CurrentKind, Input, Quantity, Scheme, SupplyId};

/// Each leg of a ground detector where none is declared, ohm (from memory: 5 to 100 kohm).
pub const TYPICAL_LEG: f64 = 25e3;
/// Capacitance of a station's control wiring to ground where none is declared, F (from memory: 1
/// to 50 µF).
pub const TYPICAL_FARAD: f64 = 10e-6;
/// A coil without a declared pickup does not move below this share of its supply's nominal
/// voltage (from memory of specifications of trip coils; relays need more).
pub const TYPICAL_STILL: f64 = 0.20;
/// A relay without a declared dropout may stay picked up from this share of the nominal voltage
/// (a glossary of general-purpose relays: dropout at 10 % or more).
pub const TYPICAL_STAYS: f64 = 0.10;
/// An input without declared thresholds may go on from this share, and stays on from it (manuals
/// of line relays: surely off below 55 V of 125 V).
pub const TYPICAL_INPUT: f64 = 0.44;

/// The reference of one supply to ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Detector {
    pub supply: SupplyId,
    /// All detectors of the supply side by side, at the middle of their ranges.
    pub legs: Legs,
    /// No detector is declared.
    pub typical_legs: bool,
    /// The greatest stray capacitance, F.
    pub farad: f64,
    /// No capacitance is declared.
    pub typical_farad: bool,
}

/// The detectors of all direct-current supplies, and what was assumed.
pub(super) fn detectors(scheme: &Scheme) -> (Vec<Detector>, Vec<String>) {
    let mut words = Vec::new();
    let mut detectors = Vec::new();
    for (id, supply) in scheme.supplies.iter() {
        if supply.current != CurrentKind::Dc {
            continue;
        }
        let none = Legs { plus: f64::INFINITY, minus: f64::INFINITY };
        let legs = supply.grounds.iter().fold(none, |legs, detector| {
            legs.beside(Legs { plus: detector.plus.middle(), minus: detector.minus.middle() })
        });
        let typical_legs = supply.grounds.is_empty() && !supply.grounded;
        let declared: Vec<f64> = supply
            .grounds
            .iter()
            .filter_map(|detector| detector.capacitance.as_ref().map(|farad| farad.hi))
            .collect();
        let farad = if declared.is_empty() { TYPICAL_FARAD } else { declared.iter().sum() };
        let name = &supply.name;
        if typical_legs {
            words.push(format!(
                "{name} declares no ground detector: 25 kohm from each pole to ground, typical \
                 (from memory: 5 to 100 kohm)"
            ));
        }
        if declared.is_empty() {
            words.push(format!(
                "{name} declares no capacitance to ground: 10 µF, typical (from memory: 1 to 50 µF)"
            ));
        }
        let typical = Legs { plus: TYPICAL_LEG, minus: TYPICAL_LEG };
        let legs = if typical_legs { typical } else { legs };
        let typical_farad = declared.is_empty();
        detectors.push(Detector { supply: id, legs, typical_legs, farad, typical_farad });
    }
    (detectors, words)
}

/// The same detectors with their legs elsewhere in their ranges; none where no range is declared.
pub(super) fn with_legs(
    scheme: &Scheme,
    detectors: &[Detector],
    stand: DetectorLegs,
) -> Option<Vec<Detector>> {
    let mut differs = false;
    let moved = detectors
        .iter()
        .map(|detector| {
            let grounds = &scheme.supplies[detector.supply].grounds;
            if grounds.is_empty() {
                return *detector;
            }
            let none = Legs { plus: f64::INFINITY, minus: f64::INFINITY };
            let legs = grounds.iter().fold(none, |legs, own| {
                differs |= own.plus.hi > own.plus.lo || own.minus.hi > own.minus.lo;
                let (plus, minus) = stand.ohms(own);
                legs.beside(Legs { plus, minus })
            });
            Detector { legs, ..*detector }
        })
        .collect();
    differs.then_some(moved)
}

/// A threshold, V, and whether it is declared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Threshold {
    pub volts: f64,
    pub declared: bool,
}

impl Threshold {
    /// Of a coil with so many times the resistance that its volts are told for: it moves by its
    /// current.
    pub(super) fn warmed(self, times: f64) -> Self {
        Self { volts: self.volts * times, ..self }
    }
}

fn threshold<U>(declared: Option<&Quantity<U>>, low: bool, typical: f64) -> Threshold {
    declared.map_or(Threshold { volts: typical, declared: false }, |quantity| Threshold {
        volts: if low { quantity.lo } else { quantity.hi },
        declared: true,
    })
}

/// Below this a coil surely does not pick up.
pub(super) fn still_below(coil: &Coil, nominal: f64) -> Threshold {
    threshold(coil.pickup.as_ref(), true, TYPICAL_STILL * nominal)
}

/// From this on a coil may stay picked up.
pub(super) fn stays_from(coil: &Coil, nominal: f64) -> Threshold {
    threshold(coil.dropout.as_ref(), true, TYPICAL_STAYS * nominal)
}

/// Below this a picked-up coil may drop out.
pub(super) fn drops_below(coil: &Coil, nominal: f64) -> Threshold {
    let typical = coil.surely_from().unwrap_or(nominal);
    threshold(coil.dropout.as_ref(), false, typical)
}

/// From this on an input that is off may go on: low `on-above`.
pub(super) fn input_on_from(input: &Input, nominal: f64) -> Threshold {
    let on = input.on_above.as_ref().or(input.off_below.as_ref());
    threshold(on, true, TYPICAL_INPUT * nominal)
}

/// From this on an input that is on may stay on: low `off-below`.
pub(super) fn input_stays_from(input: &Input, nominal: f64) -> Threshold {
    let off = input.off_below.as_ref().or(input.on_above.as_ref());
    threshold(off, true, TYPICAL_INPUT * nominal)
}

/// Below this an input that is on may go off: high `off-below`.
pub(super) fn input_off_below(input: &Input, nominal: f64) -> Threshold {
    let off = input.off_below.as_ref().or(input.on_above.as_ref());
    threshold(off, false, TYPICAL_INPUT * nominal)
}
