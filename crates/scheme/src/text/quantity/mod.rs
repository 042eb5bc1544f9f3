//! Quantities as written on a print: "41 ohm", "105 to 140 V", "18 A typical", "22 ohm at 75 C".
//!
//! Units: mV V kV, mA A kA, mohm ohm kohm Mohm, W kW, mJ J kJ, ft m km, C F K, pF nF uF mF,
//! ms s min h cycles, AWG kcmil mm2, and % where a base is known. Ω, µ, ° and ² are read as
//! on paper. A space before the unit may be left out.

mod read;
mod scan;
mod special;
mod time;
mod units;

use super::Spelling;
use crate::quantity::{Ampere, Celsius, Farad, Joule, Metre, Ohm, Quantity, Volt, Watt};
use read::Parsed;
pub use special::{supply_voltage, wire_size};
pub use time::{duration, instant, stroke_offset};

/// What a quantity measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// mV, V, kV.
    Voltage,
    /// mA, A, kA.
    Current,
    /// mohm, ohm, kohm, Mohm.
    Resistance,
    /// W, kW.
    Power,
    /// J, kJ, mJ.
    Energy,
    /// ft, m, km.
    Length,
    /// C, F, K.
    Temperature,
    /// pF, nF, uF, mF.
    Capacitance,
    /// ms, s, min, h, cycles.
    Time,
    /// AWG, kcmil, mm2.
    Size,
}

/// Which stroke an auxiliary contact's offset belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// Offsets from touch.
    Closing,
    /// Offsets from parting.
    Opening,
}

/// A voltage in V, not negative.
///
/// # Errors
/// A value that is not a voltage as written on a print; all below likewise for their kind.
pub fn volts(text: &str) -> Result<Quantity<Volt>, Spelling> {
    simple(text, Kind::Voltage)
}

/// A voltage in V, or percent of `base` volts ("70 to 110 %").
///
/// # Errors
/// As [`volts`]; also percent without a base.
pub fn volts_or_percent(text: &str, base: Option<f64>) -> Result<Quantity<Volt>, Spelling> {
    let parsed = read::parse(text, Kind::Voltage, true)?;
    finish(text, Kind::Voltage, &parsed)?;
    let percents = [&parsed.lo, &parsed.hi].map(|value| value.unit.name == "%");
    match (percents, base) {
        ([false, false], _) => Ok(quantity(text, &parsed)),
        ([true, true], Some(base)) => {
            let mut found: Quantity<Volt> = quantity(text, &parsed);
            found.lo *= base;
            found.hi *= base;
            Ok(found)
        }
        ([true, true], None) => Err(Spelling::new(format!("\"{text}\": percent of what?"))
            .help("give the coil rated=\"125 V\", or write the voltage itself")),
        _ => Err(Spelling::new("one bound is in percent, the other in volts")
            .help("write both in the same unit")),
    }
}

/// A current in A, not negative.
///
/// # Errors
/// As [`volts`].
pub fn amperes(text: &str) -> Result<Quantity<Ampere>, Spelling> {
    simple(text, Kind::Current)
}

/// A resistance in Ω, not negative; alone it may say "at 75 C".
///
/// # Errors
/// As [`volts`].
pub fn ohms(text: &str) -> Result<Quantity<Ohm>, Spelling> {
    simple(text, Kind::Resistance)
}

/// A power in W, not negative.
///
/// # Errors
/// As [`volts`].
pub fn watts(text: &str) -> Result<Quantity<Watt>, Spelling> {
    simple(text, Kind::Power)
}

/// An energy in J, not negative.
///
/// # Errors
/// As [`volts`].
pub fn joules(text: &str) -> Result<Quantity<Joule>, Spelling> {
    simple(text, Kind::Energy)
}

/// A length in m, not negative; a foot is 0.3048 m.
///
/// # Errors
/// As [`volts`].
pub fn metres(text: &str) -> Result<Quantity<Metre>, Spelling> {
    simple(text, Kind::Length)
}

/// A temperature in °C.
///
/// # Errors
/// As [`volts`]; also below −273.15 °C.
pub fn celsius(text: &str) -> Result<Quantity<Celsius>, Spelling> {
    simple(text, Kind::Temperature)
}

/// A capacitance in F, not negative.
///
/// # Errors
/// As [`volts`].
pub fn farads(text: &str) -> Result<Quantity<Farad>, Spelling> {
    simple(text, Kind::Capacitance)
}

/// The error of a quantity that stands without quotes or as a bare number; `written` is the text
/// at its place (`41`, or `41 ohm`).
pub fn unquoted(written: &str, kind: Kind) -> Spelling {
    let number = written.trim();
    let has_unit = number.contains(|sign: char| sign.is_alphabetic() || sign == '%');
    if has_unit {
        return Spelling::new(format!("quotes are missing round {number}"))
            .help(format!("put quotes round it: \"{number}\""));
    }
    Spelling::new(format!("{number} of what? {} needs its unit", units::capital(kind.noun())))
        .help(format!("write it in quotes with its unit, such as \"{number} {}\"", kind.usual()))
        .why("nothing here has a silent unit, so that no number can be taken for another")
}

/// The error of a count or core number that is not a bare whole number; `what` names it
/// ("cores").
pub fn count(written: &str, what: &str) -> Spelling {
    let inner = written.trim().trim_matches('"').trim();
    if !inner.is_empty() && inner.len() < 10 && inner.chars().all(|sign| sign.is_ascii_digit()) {
        return Spelling::new(format!("{what} stands in quotes"))
            .help(format!("counts and core numbers stand bare, without quotes: {inner}"));
    }
    Spelling::new(format!("{what} is a whole number, not {}", written.trim()))
        .help("write it bare, such as 7")
}

/// `1150ft` as it is written in quotes ("1150 ft"); none if it can't be a quantity.
pub(super) fn spaced(written: &str) -> Option<String> {
    let plain = scan::plain(written);
    let digits = plain.trim_start_matches(['-', '+']);
    let number = digits.find(|sign: char| !sign.is_ascii_digit() && sign != '.' && sign != ',')?;
    let start = plain.len() - digits.len() + number;
    let (number, rest) = (plain.get(..start)?, plain.get(start..)?);
    if let Some((least, _)) = number.split_once("..") {
        let greatest = plain.get(least.len()..)?.trim_start_matches('.');
        let greatest = spaced(greatest).unwrap_or_else(|| greatest.to_owned());
        return Some(format!("{least} to {greatest}"));
    }
    let word = rest.trim_start();
    let unit: String =
        word.chars().take_while(|sign| sign.is_alphanumeric() || *sign == '%').collect();
    let is_unit =
        |unit: &str| unit == "%" || units::ALL.iter().any(|kind| kind.find(unit).is_some());
    if is_unit(&unit) {
        return Some(format!("{number} {word}"));
    }
    let range = word.trim_start_matches(['-', '–']);
    let second = range.len() < word.len() && range.starts_with(|sign: char| sign.is_ascii_digit());
    if second {
        return Some(format!("{number} to {}", spaced(range).unwrap_or_else(|| range.to_owned())));
    }
    (word.starts_with("to ") || is_unit(word)).then(|| written.to_owned())
}

fn simple<U>(text: &str, kind: Kind) -> Result<Quantity<U>, Spelling> {
    let parsed = read::parse(text, kind, false)?;
    finish(text, kind, &parsed)?;
    Ok(quantity(text, &parsed))
}

fn quantity<U>(text: &str, parsed: &Parsed) -> Quantity<U> {
    let mut found = Quantity::new(parsed.lo.si(), parsed.hi.si(), text);
    found.typical = parsed.typical;
    found.at = parsed.at;
    found
}

/// What holds for every quantity of a kind: sense, order, no stray words.
fn finish(text: &str, kind: Kind, parsed: &Parsed) -> Result<(), Spelling> {
    if let Some(word) = parsed.tail.first() {
        return Err(Spelling::new(format!("\"{word}\" has no meaning in {}", kind.noun()))
            .help(format!("write it like \"{}\"", kind.example())));
    }
    if parsed.at.is_some() && kind != Kind::Resistance {
        return Err(Spelling::new(format!("{} is not given at a temperature", kind.noun()))
            .help("only a resistance is: \"22 ohm at 75 C\""));
    }
    let (lo, hi) = (parsed.lo.si(), parsed.hi.si());
    if !lo.is_finite() || !hi.is_finite() {
        return Err(Spelling::new(format!("\"{text}\" is too large to be {}", kind.noun())));
    }
    // Cycles have no length here: times are put in order where the frequency is known.
    if lo > hi && kind != Kind::Time {
        return Err(reversed(parsed));
    }
    match kind {
        Kind::Temperature if lo < -273.15 => {
            Err(Spelling::new("nothing is colder than -273.15 C").help("is the unit right?"))
        }
        Kind::Temperature => Ok(()),
        _ if parsed.lo.number.written.starts_with('-') => {
            Err(Spelling::new(format!("{} can't be negative", kind.noun())).help(match kind {
                Kind::Time => "leave the minus out: an offset says before or after",
                _ => "leave the minus out: the leg says which way the current flows",
            }))
        }
        _ => Ok(()),
    }
}

fn reversed(parsed: &Parsed) -> Spelling {
    let show = |value: &read::Value| format!("{} {}", value.number.written, value.unit.name);
    let right = if parsed.lo.unit == parsed.hi.unit {
        format!("{} to {}", parsed.hi.number.written, show(&parsed.lo))
    } else {
        format!("{} to {}", show(&parsed.hi), show(&parsed.lo))
    };
    Spelling::new("the range runs backwards").help(format!("write \"{right}\": the least first"))
}
