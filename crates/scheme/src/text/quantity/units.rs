//! The units of a print, and what people write instead.

use super::{Kind, Spelling};

/// A unit: SI value = (value + `before`) × `times` / `by`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unit {
    pub name: &'static str,
    pub times: f64,
    pub by: f64,
    pub before: f64,
}

const fn unit(name: &'static str, times: f64, by: f64) -> Unit {
    Unit { name, times, by, before: 0.0 }
}

/// Percent, wherever a base is known.
pub(super) const PERCENT: Unit = unit("%", 1.0, 100.0);

const VOLTAGE: &[Unit] = &[unit("V", 1.0, 1.0), unit("kV", 1e3, 1.0), unit("mV", 1.0, 1e3)];
const CURRENT: &[Unit] = &[unit("A", 1.0, 1.0), unit("mA", 1.0, 1e3), unit("kA", 1e3, 1.0)];
const RESISTANCE: &[Unit] = &[
    unit("ohm", 1.0, 1.0),
    unit("kohm", 1e3, 1.0),
    unit("mohm", 1.0, 1e3),
    unit("Mohm", 1e6, 1.0),
];
const POWER: &[Unit] = &[unit("W", 1.0, 1.0), unit("kW", 1e3, 1.0)];
const ENERGY: &[Unit] = &[unit("J", 1.0, 1.0), unit("kJ", 1e3, 1.0), unit("mJ", 1.0, 1e3)];
// The international foot is 0.3048 m by definition.
const LENGTH: &[Unit] = &[unit("ft", 3048.0, 1e4), unit("m", 1.0, 1.0), unit("km", 1e3, 1.0)];
const TEMPERATURE: &[Unit] = &[
    unit("C", 1.0, 1.0),
    Unit { name: "F", times: 5.0, by: 9.0, before: -32.0 },
    Unit { name: "K", times: 1.0, by: 1.0, before: -273.15 },
];
const CAPACITANCE: &[Unit] =
    &[unit("uF", 1.0, 1e6), unit("nF", 1.0, 1e9), unit("pF", 1.0, 1e12), unit("mF", 1.0, 1e3)];
// Times are counted in whole µs elsewhere; here only the names matter.
const TIME: &[Unit] = &[
    unit("ms", 1e3, 1.0),
    unit("s", 1e6, 1.0),
    unit("min", 6e7, 1.0),
    unit("h", 3.6e9, 1.0),
    unit("cycles", 1.0, 1.0),
    unit("cycle", 1.0, 1.0),
];
const SIZE: &[Unit] = &[unit("AWG", 1.0, 1.0), unit("kcmil", 1.0, 1.0), unit("mm2", 1.0, 1.0)];

/// What people write, and what they mean.
const INSTEAD: &[(&str, &str)] = &[
    ("volt", "V"),
    ("volts", "V"),
    ("vdc", "V"),
    ("vac", "V"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("amperes", "A"),
    ("milliamps", "mA"),
    ("ohms", "ohm"),
    ("r", "ohm"),
    ("k", "kohm"),
    ("kilohm", "kohm"),
    ("kohms", "kohm"),
    ("meg", "Mohm"),
    ("megohm", "Mohm"),
    ("watt", "W"),
    ("watts", "W"),
    ("va", "W"),
    ("joule", "J"),
    ("joules", "J"),
    ("ws", "J"),
    ("foot", "ft"),
    ("feet", "ft"),
    ("metre", "m"),
    ("metres", "m"),
    ("meter", "m"),
    ("meters", "m"),
    ("celsius", "C"),
    ("degc", "C"),
    ("fahrenheit", "F"),
    ("degf", "F"),
    ("kelvin", "K"),
    ("mfd", "uF"),
    ("msec", "ms"),
    ("millisecond", "ms"),
    ("milliseconds", "ms"),
    ("us", "ms"),
    ("usec", "ms"),
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("mins", "min"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hrs", "h"),
    ("hour", "h"),
    ("hours", "h"),
    ("cy", "cycles"),
    ("cyc", "cycles"),
    ("gauge", "AWG"),
    ("ga", "AWG"),
    ("mcm", "kcmil"),
    ("mm", "mm2"),
    ("sqmm", "mm2"),
];

/// Every kind of quantity.
pub(super) const ALL: &[Kind] = &[
    Kind::Voltage,
    Kind::Current,
    Kind::Resistance,
    Kind::Power,
    Kind::Energy,
    Kind::Length,
    Kind::Temperature,
    Kind::Capacitance,
    Kind::Time,
    Kind::Size,
];

impl Kind {
    pub(super) const fn units(self) -> &'static [Unit] {
        match self {
            Self::Voltage => VOLTAGE,
            Self::Current => CURRENT,
            Self::Resistance => RESISTANCE,
            Self::Power => POWER,
            Self::Energy => ENERGY,
            Self::Length => LENGTH,
            Self::Temperature => TEMPERATURE,
            Self::Capacitance => CAPACITANCE,
            Self::Time => TIME,
            Self::Size => SIZE,
        }
    }
    /// "a voltage".
    pub const fn noun(self) -> &'static str {
        match self {
            Self::Voltage => "a voltage",
            Self::Current => "a current",
            Self::Resistance => "a resistance",
            Self::Power => "a power",
            Self::Energy => "an energy",
            Self::Length => "a length",
            Self::Temperature => "a temperature",
            Self::Capacitance => "a capacitance",
            Self::Time => "a time",
            Self::Size => "a conductor size",
        }
    }
    /// A right spelling, without the quotes.
    pub const fn example(self) -> &'static str {
        match self {
            Self::Voltage => "105 to 140 V",
            Self::Current => "15 A",
            Self::Resistance => "41 ohm",
            Self::Power => "150 W",
            Self::Energy => "20 J",
            Self::Length => "1150 ft",
            Self::Temperature => "-30 to 50 C",
            Self::Capacitance => "10 uF",
            Self::Time => "12 to 20 ms",
            Self::Size => "10 AWG",
        }
    }
    /// The unit meant most often.
    pub(super) fn usual(self) -> &'static str {
        self.units().first().map_or("", |unit| unit.name)
    }
    /// "V, kV or mV".
    pub(super) fn choice(self) -> String {
        let names: Vec<&str> = self.units().iter().map(|unit| unit.name).collect();
        let names = names.strip_suffix(&["cycle"]).unwrap_or(&names);
        match names.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
            _ => names.concat(),
        }
    }
    pub(super) fn find(self, name: &str) -> Option<Unit> {
        self.units().iter().copied().find(|unit| unit.name == name)
    }
    /// The unit that was probably meant.
    pub(super) fn meant(self, name: &str) -> Option<&'static str> {
        let small = name.to_lowercase();
        let same = self.units().iter().find(|unit| unit.name.to_lowercase() == small);
        let instead = || INSTEAD.iter().find(|(wrong, _)| *wrong == small).map(|(_, right)| *right);
        let near = || {
            let close = |unit: &&Unit| strsim::damerau_levenshtein(unit.name, name) == 1;
            self.units().iter().filter(|unit| unit.name.len() > 1).find(close).map(|unit| unit.name)
        };
        same.map(|unit| unit.name)
            .or_else(|| instead().filter(|right| self.find(right).is_some()))
            .or_else(near)
    }
}

/// Why `name` is not a unit here.
pub(super) fn wrong_unit(name: &str, kind: Kind) -> Spelling {
    let noun = kind.noun();
    if let Some(meant) = kind.meant(name) {
        let wrong = Spelling::new(format!("\"{name}\" is not how the unit is written"));
        let help =
            format!("did you mean {meant}? {} is written in {}", capital(noun), kind.choice());
        return match name {
            "us" | "usec" => Spelling::new("times are not written in microseconds")
                .help("write milliseconds with a point: 0.5 ms"),
            "M" | "m" if kind == Kind::Resistance => wrong.help("write Mohm or mohm in full"),
            _ if name.eq_ignore_ascii_case(meant) => {
                wrong.help(help).why("capitals count: m is a thousandth, M a million")
            }
            _ => wrong.help(help),
        };
    }
    let other = ALL.iter().find(|other| **other != kind && other.find(name).is_some());
    match other {
        Some(other) => Spelling::new(format!(
            "\"{name}\" is the unit of {}, but {noun} belongs here",
            other.noun()
        )),
        None => Spelling::new(format!(
            "\"{name}\" is not a unit of {}",
            noun.trim_start_matches("an ").trim_start_matches("a ")
        )),
    }
    .help(format!("{} is written in {}: \"{}\"", capital(noun), kind.choice(), kind.example()))
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
