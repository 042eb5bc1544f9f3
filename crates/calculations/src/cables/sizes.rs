//! Standard sizes for an allowed resistance.
//!
//! **In:** a cable and the factor its resistance may be multiplied by. **Out:** the thinnest
//! standard conductor of each system and material, how many of the present ones side by side, the
//! longest run. **Never here:** which coil asks.

use super::limit::ANY;
use fiftytwo_circuit::conductor::{Sizes, ohm_per_metre, size_name};
use fiftytwo_scheme::{Cable, Material, Scheme, WireSize};
use serde::Serialize;

/// The thinnest standard conductor that passes; none: even the thickest of the series is too thin.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Thinnest {
    /// Copper, AWG or kcmil.
    pub copper_awg: Option<String>,
    /// Copper, mm².
    pub copper_mm2: Option<String>,
    /// Aluminium, AWG or kcmil.
    pub aluminium_awg: Option<String>,
    /// Aluminium, mm².
    pub aluminium_mm2: Option<String>,
}

/// What a cable may be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Allowed {
    /// Greatest resistance of one core (or of the cores side by side) one way, hot, ohm.
    pub ohm_one_way: f64,
    /// The longest run of the present conductors, m; none: no limit worth naming.
    pub longest_run: Option<f64>,
    /// How many of the present conductors it takes side by side.
    pub side_by_side: u32,
    /// The thinnest standard conductors for the present length, as many side by side as now.
    pub thinnest: Thinnest,
}

/// Temperatures of a cable, °C: the lowest and the highest of its two places.
pub(crate) fn temperatures(scheme: &Scheme, cable: &Cable) -> (f64, f64) {
    let ends = [&scheme.places[cable.from].ambient, &scheme.places[cable.to].ambient];
    (ends[0].lo.min(ends[1].lo), ends[0].hi.max(ends[1].hi))
}

/// One core, hot, over the whole length, ohm.
pub(super) fn hot_ohm(scheme: &Scheme, cable: &Cable) -> f64 {
    let (_, hot) = temperatures(scheme, cable);
    ohm_per_metre(cable.size, cable.material, hot) * cable.length.hi
}

pub(super) fn allowed(scheme: &Scheme, cable: &Cable, now: usize, times: f64) -> Allowed {
    let now = u32::try_from(now).unwrap_or(1).max(1);
    let one_core = hot_ohm(scheme, cable);
    let pick = |sizes, material| thinnest(scheme, cable, sizes, material, times).map(size_name);
    Allowed {
        ohm_one_way: one_core / f64::from(now) * times,
        longest_run: (times < ANY).then_some(cable.length.hi * times),
        side_by_side: side_by_side(now, times),
        thinnest: Thinnest {
            copper_awg: pick(Sizes::Awg, Material::Copper),
            copper_mm2: pick(Sizes::Mm2, Material::Copper),
            aluminium_awg: pick(Sizes::Awg, Material::Aluminium),
            aluminium_mm2: pick(Sizes::Mm2, Material::Aluminium),
        },
    }
}

fn side_by_side(now: u32, times: f64) -> u32 {
    let needed = (f64::from(now) / times.max(1e-9) * (1.0 - 1e-9)).ceil();
    // A whole number from 1 on; more than a million cores is as good as none.
    (1..=64).find(|count| f64::from(*count) >= needed).unwrap_or(u32::MAX)
}

pub(super) fn thinnest(
    scheme: &Scheme,
    cable: &Cable,
    sizes: Sizes,
    material: Material,
    times: f64,
) -> Option<WireSize> {
    let (_, hot) = temperatures(scheme, cable);
    let most = ohm_per_metre(cable.size, cable.material, hot) * times * (1.0 + 1e-9);
    sizes.standard(material).into_iter().find(|size| ohm_per_metre(*size, material, hot) <= most)
}

/// A count in words up to twelve.
pub(crate) fn counted(count: u32) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    usize::try_from(count)
        .ok()
        .and_then(|count| WORDS.get(count))
        .map_or_else(|| format!("{count} times"), |word| (*word).to_owned())
}

/// Rounded down to three digits, so that a length that is told passes.
pub(crate) fn told_length(metres: f64) -> String {
    if metres < 10.0 {
        return format!("{:.1}", (metres * 10.0).floor() / 10.0);
    }
    let step = if metres < 1000.0 { 1.0 } else { 10.0 };
    format!("{:.0}", (metres / step).floor() * step)
}
