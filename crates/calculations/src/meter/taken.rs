//! One reading of a meter as a person types it: `TB3-7=62 V to ground`.
//!
//! **In:** the text. **Out:** a [`ReadingTaken`], or in one sentence what is wrong with it.
//! **Never here:** whether such a point exists (that needs the scheme).
//!
//! `POINT=VOLTS` counts to the minus pole of the point's own supply; `POINT=VOLTS to ground` and
//! `POINT=VOLTS to OTHER` say the other probe. The unit is V unless mV or kV is written; a
//! comma is refused, for it may part thousands as well as tenths; a minus
//! sign is read as the meter shows it with its red probe on POINT.

use std::fmt;

/// Where the other probe was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OtherProbe {
    /// On the minus pole of the point's own supply.
    OwnMinus,
    /// On the plus pole of the point's own supply.
    OwnPlus,
    /// On ground.
    Ground,
    /// On another point, by its name as typed.
    Point(String),
}

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingTaken {
    /// Where the red probe was, as typed.
    pub point: String,
    /// What the meter showed, V.
    pub volts: f64,
    /// Where the black probe was.
    pub to: OtherProbe,
}

/// What is wrong with a typed reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadingFault {
    /// There is no `=`.
    NoEquals(String),
    /// Nothing stands before the `=`.
    NoPoint(String),
    /// What stands after the `=` is no number of volts.
    NoVolts {
        /// The reading.
        written: String,
        /// What stands there.
        found: String,
    },
    /// The unit is none of volts.
    Unit {
        /// The reading.
        written: String,
        /// What stands there.
        found: String,
    },
    /// `to` without a point after it.
    NoOther(String),
}

impl fmt::Display for ReadingFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let example = "write it as \"TB3-7=62\", \"TB3-7=62 V to ground\" or \"TB3-7=62 V to CN\"";
        match self {
            Self::NoEquals(written) => {
                write!(
                    f,
                    "the reading \"{written}\" has no = between the point and its volts: {example}"
                )
            }
            Self::NoPoint(written) => {
                write!(f, "the reading \"{written}\" names no point before the =: {example}")
            }
            Self::NoVolts { written, found } if found.is_empty() => {
                write!(f, "the reading \"{written}\" has no volts after the =: {example}")
            }
            Self::NoVolts { written, found } => {
                write!(f, "the reading \"{written}\" has \"{found}\" where volts belong: {example}")
            }
            Self::Unit { written, found } if found.starts_with(',') => {
                write!(
                    f,
                    "the reading \"{written}\" has a comma in its volts: write a point before tenths, \
                     as in 62.5, and nothing between thousands"
                )
            }
            Self::Unit { written, found } => {
                write!(
                    f,
                    "the reading \"{written}\" has the unit \"{found}\": only V, mV and kV are read"
                )
            }
            Self::NoOther(written) => {
                write!(f, "the reading \"{written}\" says \"to\" but not to what: {example}")
            }
        }
    }
}

impl std::error::Error for ReadingFault {}

impl ReadingTaken {
    /// Reads one reading.
    ///
    /// # Errors
    /// One [`ReadingFault`], the first from the left.
    pub fn parse(written: &str) -> Result<Self, ReadingFault> {
        let whole = || written.trim().to_owned();
        let (point, rest) =
            written.rsplit_once('=').ok_or_else(|| ReadingFault::NoEquals(whole()))?;
        let point = point.trim();
        if point.is_empty() {
            return Err(ReadingFault::NoPoint(whole()));
        }
        let rest = rest.trim();
        let (amount, to) = split_off_other(rest);
        let to = match to {
            None => OtherProbe::OwnMinus,
            Some("") => return Err(ReadingFault::NoOther(whole())),
            Some(other) => other_probe(other),
        };
        let digits = amount
            .find(|letter: char| !letter.is_ascii_digit() && !"+-.".contains(letter))
            .unwrap_or(amount.len());
        let (number, unit) = amount.split_at(digits);
        let (number, unit) = (number.trim(), unit.trim());
        let volts: f64 =
            number.parse().ok().filter(|volts: &f64| volts.is_finite()).ok_or_else(|| {
                ReadingFault::NoVolts { written: whole(), found: amount.trim().to_owned() }
            })?;
        let scale = match unit {
            "" | "V" | "v" | "volt" | "volts" => 1.0,
            "mV" => 1e-3,
            "kV" => 1e3,
            found => {
                let found = found.to_owned();
                return Err(ReadingFault::Unit { written: whole(), found });
            }
        };
        Ok(Self { point: point.to_owned(), volts: volts * scale, to })
    }
}

/// "62 V to CN" into "62 V" and "CN"; none: no "to" stands there.
fn split_off_other(rest: &str) -> (&str, Option<&str>) {
    if let Some((amount, other)) = rest.split_once(" to ") {
        return (amount.trim(), Some(other.trim()));
    }
    match rest.strip_suffix(" to") {
        Some(amount) => (amount.trim(), Some("")),
        None => (rest, None),
    }
}

fn other_probe(other: &str) -> OtherProbe {
    match other.to_ascii_lowercase().as_str() {
        "ground" | "gnd" | "earth" | "pe" => OtherProbe::Ground,
        "minus" | "-" => OtherProbe::OwnMinus,
        "plus" | "+" => OtherProbe::OwnPlus,
        _ => OtherProbe::Point(other.to_owned()),
    }
}

impl fmt::Display for ReadingTaken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={} V", self.point, self.volts)?;
        match &self.to {
            OtherProbe::OwnMinus => Ok(()),
            OtherProbe::OwnPlus => write!(f, " to plus"),
            OtherProbe::Ground => write!(f, " to ground"),
            OtherProbe::Point(other) => write!(f, " to {other}"),
        }
    }
}
