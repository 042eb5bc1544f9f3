//! Quantities as written on a print: "41 ohm", "105 to 140 V", "18 A typical", "22 ohm at 75 C".

use super::Spelling;
use crate::part::StrokeOffset;
use crate::quantity::{
    Ampere, Celsius, Farad, Metre, Ohm, Quantity, TimeRange, Volt, Watt, WireSize,
};
use crate::world::CurrentKind;

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

fn todo_first_form() -> Spelling {
    Spelling::new("quantities are not read yet")
}

/// A voltage.
pub fn volts(_: &str) -> Result<Quantity<Volt>, Spelling> {
    Err(todo_first_form())
}
/// A voltage, or percent of `base` volts.
pub fn volts_or_percent(_: &str, _base: Option<f64>) -> Result<Quantity<Volt>, Spelling> {
    Err(todo_first_form())
}
/// A current.
pub fn amperes(_: &str) -> Result<Quantity<Ampere>, Spelling> {
    Err(todo_first_form())
}
/// A resistance.
pub fn ohms(_: &str) -> Result<Quantity<Ohm>, Spelling> {
    Err(todo_first_form())
}
/// A power.
pub fn watts(_: &str) -> Result<Quantity<Watt>, Spelling> {
    Err(todo_first_form())
}
/// A length, in metres.
pub fn metres(_: &str) -> Result<Quantity<Metre>, Spelling> {
    Err(todo_first_form())
}
/// A temperature, in °C.
pub fn celsius(_: &str) -> Result<Quantity<Celsius>, Spelling> {
    Err(todo_first_form())
}
/// A capacitance.
pub fn farads(_: &str) -> Result<Quantity<Farad>, Spelling> {
    Err(todo_first_form())
}
/// A duration in µs; `frequency_hz` makes cycles of it.
pub fn duration(_: &str, _frequency_hz: f64) -> Result<TimeRange, Spelling> {
    Err(todo_first_form())
}
/// One moment in µs.
pub fn instant(_: &str, _frequency_hz: f64) -> Result<i64, Spelling> {
    Err(todo_first_form())
}
/// "3 to 8 ms before touch", "2 to 6 ms after parting".
pub fn stroke_offset(
    _: &str,
    _stroke: Stroke,
    _frequency_hz: f64,
) -> Result<StrokeOffset, Spelling> {
    Err(todo_first_form())
}
/// "10 AWG", "1/0 AWG", "350 kcmil", "2.5 mm2".
pub fn wire_size(_: &str) -> Result<WireSize, Spelling> {
    Err(todo_first_form())
}
/// "125 V DC".
pub fn supply_voltage(_: &str) -> Result<(Quantity<Volt>, CurrentKind), Spelling> {
    Err(todo_first_form())
}
/// A whole number that should stand bare ("cores=7") but was written otherwise.
pub fn count(written: &str, what: &str) -> Spelling {
    Spelling::new(format!("{what} is a whole number, not {written}"))
}
/// A quantity that stands without quotes or as a bare number; `written` is the text there.
pub fn unquoted(written: &str, _kind: Kind) -> Spelling {
    Spelling::new(format!("{written} needs its unit, in quotes"))
}
