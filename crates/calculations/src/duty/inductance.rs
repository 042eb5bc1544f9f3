//! L/R of what a contact switches.
//!
//! The inductance of a coil does not change with its temperature, its resistance does. An L/R holds
//! at the temperature of the coil's resistance (20 °C unless that says another); elsewhere
//! `L/R(t) = L/R(given) R(given) / R(t)`, so it is longest cold.

use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_scheme::{CurrentKind, DeviceKind, Part, PartKind, Scheme};
use serde::Serialize;

/// L/R of a coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeConstant {
    /// Least, s: the least given, at the hottest; 0 where nothing is known.
    pub least: f64,
    /// Greatest, s: the greatest given, at the coldest.
    pub most: f64,
    /// As given, at the temperature of the coil's resistance, s: least and greatest.
    pub given: (f64, f64),
    /// The coil's resistance over that at the temperature of `given`: coldest and hottest.
    pub warmth: (f64, f64),
    /// What stood in for a value that is not declared, with its mark.
    pub typical: Option<String>,
}

/// L/R of the coils of breakers, ms (from memory of data sheets of SF6 breakers).
const BREAKER_COIL: (f64, f64) = (5.0, 40.0);
/// DC-13 loads: so many ms per watt to 95 % of the current (IEC 60947-5-1, from memory) …
const MS_PER_WATT: f64 = 6.0;
/// … up to this power.
const MOST_WATT: f64 = 50.0;
/// 95 % of the current is reached after three times L/R.
const TIMES_TO_95: f64 = 3.0;
/// L/R at which protection relays' outputs are rated, ms.
const RELAY_RATING: f64 = 40.0;

/// L/R of a coil on direct current; none for what has no inductance to speak of, for AC, and for
/// motors, whose L/R nobody declares.
pub fn time_constant(scheme: &Scheme, part: &Part) -> Option<TimeConstant> {
    let PartKind::Coil(coil) = &part.kind else { return None };
    let at = part.at?;
    let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
    if supply.current == CurrentKind::Ac {
        return None;
    }
    let given_at = coil.resistance.as_ref().and_then(|ohm| ohm.at).unwrap_or(20.0);
    let warmth = coil_warmth(scheme, part);
    let of = |given: (f64, f64), typical| {
        let (least, most) = (given.0 / warmth.1, given.1 / warmth.0);
        Some(TimeConstant { least, most, given, warmth, typical })
    };
    if let Some(declared) = &coil.time_constant {
        let typical =
            declared.typical.then(|| format!("{}: L/R {} as written", part.name, declared.written));
        let second = |us: i64| us as f64 / 1e6;
        return of((second(declared.lo), second(declared.hi)), typical);
    }
    let is_breaker = part
        .device
        .is_some_and(|device| matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. }));
    let (least, most, words) = match &coil.resistance {
        _ if is_breaker => (
            BREAKER_COIL.0,
            BREAKER_COIL.1,
            "coils of breakers; from memory of data sheets".to_owned(),
        ),
        Some(ohm) if ohm.middle() > 0.0 => {
            let watt = supply.nominal.middle().powi(2) / ohm.middle();
            let most = MS_PER_WATT * watt.min(MOST_WATT) / TIMES_TO_95;
            let words = format!(
                "{watt:.1} W at {MS_PER_WATT:.0} ms per watt to 95 % of the current; from memory \
                 of IEC 60947-5-1, DC-13"
            );
            (0.0, most, words)
        }
        _ => (0.0, RELAY_RATING, "the L/R at which relay outputs are rated".to_owned()),
    };
    let typical = format!("{}: L/R up to {} ms at {given_at} C ({words})", part.name, told(most));
    of((least / 1e3, most / 1e3), Some(typical))
}

/// A number as told: three figures that count.
pub(crate) fn told(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let places = (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
