//! Quantities as written on a print, each with its unit, kept in SI.

use std::marker::PhantomData;

/// Volts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Volt {}
/// Amperes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ampere {}
/// Ohms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ohm {}
/// Watts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Watt {}
/// Metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metre {}
/// Degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Celsius {}
/// Joules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joule {}
/// Farads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Farad {}

/// A value or a range, in SI units (temperatures in °C). `lo <= hi`, both finite.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity<U> {
    /// Least value.
    pub lo: f64,
    /// Greatest value; equal to `lo` for a single value.
    pub hi: f64,
    /// Written as "typical": papers list every such value still in use.
    pub typical: bool,
    /// The temperature it is given at, °C ("22 ohm at 75 C").
    pub at: Option<f64>,
    /// As written.
    pub written: String,
    unit: PhantomData<U>,
}

impl<U> Quantity<U> {
    /// A range as written.
    pub fn new(lo: f64, hi: f64, written: impl Into<String>) -> Self {
        Self { lo, hi, typical: false, at: None, written: written.into(), unit: PhantomData }
    }
    /// The middle of the range.
    pub fn middle(&self) -> f64 {
        f64::midpoint(self.lo, self.hi)
    }
}

/// A time or a range of times in whole microseconds. A bound that is no whole microsecond
/// (cycles) is rounded outward. `lo <= hi`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeRange {
    /// Least, µs.
    pub lo: i64,
    /// Greatest, µs.
    pub hi: i64,
    /// Written as "typical".
    pub typical: bool,
    /// As written.
    pub written: String,
}

impl TimeRange {
    /// A range as written.
    pub fn new(lo: i64, hi: i64, written: impl Into<String>) -> Self {
        Self { lo, hi, typical: false, written: written.into() }
    }
}

/// The size of a conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WireSize {
    /// American wire gauge; 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3.
    Awg(i32),
    /// Thousands of circular mils.
    Kcmil(f64),
    /// Square millimetres (nominal, as in IEC 60228).
    Mm2(f64),
}
