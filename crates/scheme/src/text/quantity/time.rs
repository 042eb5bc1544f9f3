//! Times in whole microseconds, exact: a bound between two is rounded outward.

use super::read::{self, Parsed, Value};
use super::{Kind, Spelling, Stroke, finish};
use crate::part::StrokeOffset;
use crate::quantity::TimeRange;

/// Longer than any control circuit waits (about a century), and far from overflow.
const MAX_HOURS: i128 = 1_000_000;
const HOUR: i128 = 3_600_000_000;

/// A duration in µs; `frequency_hz` makes cycles of it.
///
/// # Errors
/// Anything but a number or a range with ms, s, min, h or cycles.
pub fn duration(text: &str, frequency_hz: f64) -> Result<TimeRange, Spelling> {
    let parsed = read::parse(text, Kind::Time, false)?;
    finish(text, Kind::Time, &parsed)?;
    let (lo, hi) = bounds(&parsed, frequency_hz)?;
    Ok(TimeRange { lo, hi, typical: parsed.typical, written: text.to_owned() })
}

/// One moment in µs, rounded to the nearest.
///
/// # Errors
/// As [`duration`]; also a range.
pub fn instant(text: &str, frequency_hz: f64) -> Result<i64, Spelling> {
    let parsed = read::parse(text, Kind::Time, false)?;
    finish(text, Kind::Time, &parsed)?;
    if parsed.lo != parsed.hi {
        return Err(Spelling::new(format!("\"{text}\" is a range, but one moment is needed"))
            .help(format!(
                "write one time, such as \"{} {}\"",
                parsed.lo.number.written, parsed.lo.unit.name
            )));
    }
    let (lo, hi) = bounds(&parsed, frequency_hz)?;
    let (numerator, denominator) = micros(&parsed.lo, frequency_hz)?;
    let low_is_nearer = 2 * (numerator - i128::from(lo) * denominator) < denominator;
    Ok(if low_is_nearer { lo } else { hi })
}

/// An offset from touch or parting: "3 to 8 ms before touch", "2 to 6 ms after parting",
/// "2 ms before to 3 ms after touch", "at touch". Before is negative; before counts backwards,
/// so both "8 to 3 ms before" and "3 to 8 ms before" mean −8 to −3 ms.
///
/// # Errors
/// As [`duration`]; also a missing or wrong word for the moment counted from.
pub fn stroke_offset(
    text: &str,
    stroke: Stroke,
    frequency_hz: f64,
) -> Result<StrokeOffset, Spelling> {
    let event = stroke.event();
    let right = format!("write it like \"3 to 8 ms before {event}\"");
    let words: Vec<&str> = text.split_whitespace().collect();
    let named = [Stroke::Closing, Stroke::Opening]
        .into_iter()
        .find(|named| words.last().is_some_and(|last| *last == named.event()));
    match named {
        Some(named) if named == stroke => {}
        Some(named) => {
            return Err(Spelling::new(format!(
                "a {} stroke is counted from {event}, not from {}",
                stroke.adjective(),
                named.event()
            ))
            .help(right));
        }
        None => {
            return Err(Spelling::new(format!("\"{text}\" does not say from when it is counted"))
                .help(right)
                .why("before and after need a moment: touch when closing, parting when opening"));
        }
    }
    let words = words.split_last().map_or(&[][..], |(_, rest)| rest);
    let written = text.to_owned();
    if words == ["at"] {
        return Ok(StrokeOffset { lo: 0, hi: 0, written });
    }
    if let Some(at) = words.iter().position(|word| *word == "before")
        && words.get(at + 1) == Some(&"to")
    {
        let (head, tail) = words.split_at(at);
        let tail = tail.get(2..).unwrap_or_default();
        if let Some(("after", tail)) = tail.split_last().map(|(last, rest)| (*last, rest)) {
            let before = duration(&head.join(" "), frequency_hz)?;
            let after = duration(&tail.join(" "), frequency_hz)?;
            return Ok(StrokeOffset { lo: -before.hi, hi: after.hi, written });
        }
    }
    let Some((side, words)) = words.split_last() else {
        return Err(Spelling::new(format!("\"{text}\" has no time")).help(right));
    };
    if !matches!(*side, "before" | "after") {
        return Err(Spelling::new(format!("\"{text}\" says neither before nor after")).help(right));
    }
    let parsed = read::parse(&words.join(" "), Kind::Time, false)?;
    if *side == "after" {
        finish(text, Kind::Time, &parsed)?;
        let (lo, hi) = bounds(&parsed, frequency_hz)?;
        return Ok(StrokeOffset { lo, hi, written });
    }
    let (low, low_by) = micros(&parsed.lo, frequency_hz)?;
    let (high, high_by) = micros(&parsed.hi, frequency_hz)?;
    let ordered = if low * high_by <= high * low_by {
        parsed
    } else {
        Parsed { lo: parsed.hi.clone(), hi: parsed.lo.clone(), ..parsed }
    };
    finish(text, Kind::Time, &ordered)?;
    let (lo, hi) = bounds(&ordered, frequency_hz)?;
    Ok(StrokeOffset { lo: -hi, hi: -lo, written })
}

impl Stroke {
    /// The moment its offsets are counted from.
    pub const fn event(self) -> &'static str {
        match self {
            Self::Closing => "touch",
            Self::Opening => "parting",
        }
    }
    const fn adjective(self) -> &'static str {
        match self {
            Self::Closing => "closing",
            Self::Opening => "opening",
        }
    }
}

fn bounds(parsed: &Parsed, frequency_hz: f64) -> Result<(i64, i64), Spelling> {
    let (low, low_by) = micros(&parsed.lo, frequency_hz)?;
    let (high, high_by) = micros(&parsed.hi, frequency_hz)?;
    if low * high_by > high * low_by {
        return Err(super::reversed(parsed));
    }
    let too_long =
        || Spelling::new("this time is longer than a hundred years").help("is the unit right?");
    if high > MAX_HOURS * HOUR * high_by {
        return Err(too_long());
    }
    let lo = i64::try_from(low.div_euclid(low_by)).map_err(|_| too_long())?;
    let up = high.div_euclid(high_by) + i128::from(high.rem_euclid(high_by) != 0);
    Ok((lo, i64::try_from(up).map_err(|_| too_long())?))
}

/// The value in µs as a fraction of whole numbers.
fn micros(value: &Value, frequency_hz: f64) -> Result<(i128, i128), Spelling> {
    let by = 10_i128.pow(value.number.scale);
    let (times, divisor) = match value.unit.name {
        "ms" => (1_000, 1),
        "s" => (1_000_000, 1),
        "min" => (60_000_000, 1),
        "h" => (HOUR, 1),
        _ => {
            if !(1.0..=1e6).contains(&frequency_hz) {
                return Err(Spelling::new("cycles need the frequency of the scheme").help(
                    "write frequency=\"60 Hz\" behind the scheme's title, or the time in ms",
                ));
            }
            // Frequencies are kept to a millionth of a hertz.
            #[expect(clippy::cast_possible_truncation, reason = "checked to lie below 10^12")]
            let micro_hertz = (frequency_hz * 1e6).round() as i128;
            (1_000_000_000_000, micro_hertz)
        }
    };
    Ok((value.number.digits * times, by * divisor))
}
