//! A contact's ratings against what it does.
//!
//! **In:** the rating lines of a contact, a current, the nominal voltage, L/R. **Out:** a verdict
//! with the line that decided. **Never here:** which currents there are.
//!
//! A rating counts from its own voltage downwards: between two voltages the next higher one holds,
//! nothing is interpolated. It counts up to its own L/R; one that names no L/R holds for resistive
//! load only. Voltages are nominal ones, as makers write them.

use super::inductance::told;
use fiftytwo_scheme::{Contact, ContactRating, Quantity};
use serde::Serialize;

/// How a current stands against the ratings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Within a rating that holds here.
    Within,
    /// Above every rating that holds here.
    Beyond,
    /// Within a rating that names no L/R, while the load is inductive.
    ResistiveOnly,
    /// Ratings are declared, none of them for so high a voltage or so great an L/R.
    NoneHolds,
    /// No rating is declared.
    NotDeclared,
}

/// A current judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// The most that a rating allows here, A; none where none holds.
    pub allowed_amps: Option<f64>,
    /// The rating that decided, in words.
    pub rating: Option<String>,
}

impl Judged {
    /// A rating is there and the current is above it, or none holds.
    pub fn falls_short(&self) -> bool {
        matches!(self.verdict, Verdict::Beyond | Verdict::NoneHolds)
    }
    fn new(verdict: Verdict, by: Option<&ContactRating>) -> Self {
        Self { verdict, allowed_amps: by.map(|line| line.amps.lo), rating: by.map(words) }
    }
}

/// A rating line in words: "0.3 A at 125 V, L/R 40 ms".
pub fn words(line: &ContactRating) -> String {
    let mut text = line.amps.written.clone();
    if let Some(volts) = &line.volts {
        text += &format!(" at {}", volts.written);
    }
    if let Some(time) = &line.time_constant {
        text += &format!(", L/R {}", time.written);
    }
    if let Some(time) = &line.lasts {
        text += &format!(" for {}", time.written);
    }
    text
}

fn reaches(volts: Option<&Quantity<fiftytwo_scheme::Volt>>, nominal: f64) -> bool {
    // One part in a thousand: "110 V" and 110.0 are one voltage.
    volts.is_none_or(|volts| volts.hi >= nominal * 0.999)
}

fn greatest<'a>(lines: impl Iterator<Item = &'a ContactRating>) -> Option<&'a ContactRating> {
    lines.fold(None, |best: Option<&ContactRating>, line| match best {
        Some(best) if best.amps.lo >= line.amps.lo => Some(best),
        _ => Some(line),
    })
}

/// Judges a current that is broken. `time_constant`: the greatest L/R of what it runs through, s; 0:
/// resistive.
pub fn breaking(contact: &Contact, amps: f64, nominal: f64, time_constant: f64) -> Judged {
    let lines = &contact.breaks;
    if lines.is_empty() {
        return Judged::new(Verdict::NotDeclared, None);
    }
    let high = || lines.iter().filter(|line| reaches(line.volts.as_ref(), nominal));
    let most = |line: &ContactRating| line.time_constant.as_ref().map(|time| time.hi as f64 / 1e6);
    let holds = greatest(high().filter(|line| match most(line) {
        Some(most) => most >= time_constant * 0.999,
        None => time_constant <= 0.0,
    }));
    if let Some(line) = holds {
        let verdict = if amps <= line.amps.lo { Verdict::Within } else { Verdict::Beyond };
        return Judged::new(verdict, Some(line));
    }
    let resistive = greatest(high().filter(|line| most(line).is_none()));
    match resistive {
        Some(line) if amps <= line.amps.lo => Judged::new(Verdict::ResistiveOnly, Some(line)),
        // Too much even for a resistive load.
        Some(line) => Judged::new(Verdict::Beyond, Some(line)),
        None => Judged::new(Verdict::NoneHolds, greatest(lines.iter())),
    }
}

/// Judges a current that is made.
pub fn making(contact: &Contact, amps: f64, nominal: f64) -> Judged {
    let lines = &contact.makes;
    if lines.is_empty() {
        return Judged::new(Verdict::NotDeclared, None);
    }
    match greatest(lines.iter().filter(|line| reaches(line.volts.as_ref(), nominal))) {
        Some(line) if amps <= line.amps.lo => Judged::new(Verdict::Within, Some(line)),
        Some(line) => Judged::new(Verdict::Beyond, Some(line)),
        None => Judged::new(Verdict::NoneHolds, greatest(lines.iter())),
    }
}

/// Judges a current that is carried: for every rating line the longest time during which the current
/// was above it is in `above`, s, in the order of the lines; `amps` is the greatest current at all.
pub fn carrying(contact: &Contact, amps: f64, above: &[f64]) -> Judged {
    let lines = &contact.carries;
    if lines.is_empty() {
        return Judged::new(Verdict::NotDeclared, None);
    }
    // Every current has to be covered: above one line only for as long as a greater line allows.
    // A make rating with a time is one of making and carrying for that long.
    let made = contact.makes.iter().filter(|line| line.lasts.is_some()).map(|line| (line, 0.0));
    let mut sorted: Vec<(&ContactRating, f64)> =
        lines.iter().zip(above.iter().copied().chain(std::iter::repeat(0.0))).chain(made).collect();
    sorted.sort_by(|a, b| a.0.amps.lo.total_cmp(&b.0.amps.lo));
    if let Some((greatest, _)) = sorted.last()
        && amps > greatest.amps.lo
    {
        return Judged::new(Verdict::Beyond, Some(greatest));
    }
    for pair in sorted.windows(2) {
        let [(_, above), (next, _)] = pair else { continue };
        let lasts = next.lasts.as_ref().map_or(f64::INFINITY, |time| time.lo as f64 / 1e6);
        if *above > lasts {
            return Judged::new(Verdict::Beyond, Some(next));
        }
    }
    let covers = sorted.iter().find(|(line, _)| amps <= line.amps.lo).map(|(line, _)| *line);
    Judged::new(Verdict::Within, covers)
}

/// What contacts of this kind usually break; never used for a verdict.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TypicalBreak {
    /// Of what.
    pub of: &'static str,
    /// Nominal volts.
    pub volts: f64,
    /// Amperes.
    pub amps: f64,
    /// L/R, ms; 0: resistive; none: "inductive", no more.
    pub time_constant_ms: Option<f64>,
    /// Where it comes from.
    pub source: &'static str,
}

const RELAY: &str = "several public instruction books of protection relays";
const SWITCH: &str = "a public instruction book of a breaker, table of auxiliary switches";

const fn relay(volts: f64, amps: f64) -> TypicalBreak {
    TypicalBreak {
        of: "output of a protection relay",
        volts,
        amps,
        time_constant_ms: Some(40.0),
        source: RELAY,
    }
}
const fn switch(volts: f64, amps: f64) -> TypicalBreak {
    TypicalBreak {
        of: "auxiliary switch of a breaker",
        volts,
        amps,
        time_constant_ms: None,
        source: SWITCH,
    }
}

/// Typical break ratings, low ends of what was read.
pub const TYPICAL: [TypicalBreak; 8] = [
    relay(48.0, 0.5),
    relay(110.0, 0.4),
    relay(125.0, 0.3),
    relay(220.0, 0.2),
    relay(250.0, 0.15),
    switch(48.0, 10.0),
    switch(125.0, 6.0),
    switch(250.0, 3.0),
];

/// The typical rating of the next higher voltage, in words.
pub fn typical(of: &str, nominal: f64) -> Option<String> {
    let line = TYPICAL.iter().find(|line| line.of == of && line.volts >= nominal * 0.999)?;
    let load = match line.time_constant_ms {
        Some(ms) => format!("L/R {} ms", told(ms)),
        None => "inductive".to_owned(),
    };
    Some(format!(
        "{} A at {} V, {load} (typical {of}; {})",
        told(line.amps),
        told(line.volts),
        line.source
    ))
}
