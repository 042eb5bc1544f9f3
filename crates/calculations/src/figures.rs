//! Numbers as a person writes them.

/// One decimal, none if it is whole.
pub(crate) fn volts(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded.fract() == 0.0 { format!("{rounded:.0}") } else { format!("{rounded:.1}") }
}

/// So many significant digits, without an exponent and without zeros at the end.
pub(crate) fn digits(value: f64, count: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value:.0}");
    }
    let before = 1 + floor_log10(value.abs());
    let decimals = (count - before).max(0);
    let scale = 10_f64.powi(count - before);
    let rounded = (value * scale).round() / scale;
    let text = format!("{rounded:.*}", usize::try_from(decimals).unwrap_or(0));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The exponent of the power of ten at or below a positive value, within ±30.
fn floor_log10(value: f64) -> i32 {
    (-30..=30).rev().find(|exponent| value >= 10_f64.powi(*exponent)).unwrap_or(-30)
}

/// "A, B and C".
pub(crate) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
