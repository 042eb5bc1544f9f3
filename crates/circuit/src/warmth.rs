//! How warm a coil may be, and what that does to the volts at which it moves.
//!
//! **In:** a scheme and a coil. **Out:** factors on its resistance, and on its thresholds.
//! **Never here:** networks; heating by its own current.
//!
//! One rule for the whole tool. A coil moves by its current. Its `pickup` and `dropout` are volts at
//! the temperature that its resistance is told for (20 °C if none is written), so they stand for a
//! current, and a coil of so many times that resistance moves at so many times those volts. `works`
//! is a range of terminal volts over the whole ambient temperature, as nameplates give it, and is
//! compared as it stands.

use crate::conductor::temperature_factor;
use fiftytwo_scheme::{CurrentKind, Material, Part, PartKind, Scheme};

/// The resistance of a coil at the lowest and at the highest ambient temperature of its place, over
/// that at the temperature it is told for. One for what is no placed coil, and for AC, where the
/// impedance does not follow copper.
pub fn coil_warmth(scheme: &Scheme, part: &Part) -> (f64, f64) {
    let (PartKind::Coil(coil), Some(at)) = (&part.kind, part.at) else { return (1.0, 1.0) };
    let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
    if supply.current == CurrentKind::Ac {
        return (1.0, 1.0);
    }
    let given = coil.resistance.as_ref().and_then(|ohm| ohm.at).unwrap_or(20.0);
    let ambient = &scheme.places[at.place].ambient;
    let factor = |celsius| temperature_factor(Material::Copper, given, celsius);
    (factor(ambient.lo), factor(ambient.hi))
}

/// The volts at its terminals with which a coil surely moves at every ambient temperature: its
/// `works`, else the high end of its pickup for a hot coil; none: neither is written.
pub fn surely_moves_from(scheme: &Scheme, part: &Part) -> Option<f64> {
    let PartKind::Coil(coil) = &part.kind else { return None };
    let needs = coil.surely_from()?;
    if coil.works.is_some() {
        return Some(needs);
    }
    Some(needs * coil_warmth(scheme, part).1.max(1.0))
}
