//! Numbers as a person writes them: three figures, a unit that fits.

/// Volts: "0.87 V", "47.3 V", "139 V".
pub fn volts(value: f64) -> String {
    with_unit(value, &[(1.0, "V"), (1e-3, "mV")])
}
/// Amperes: "42.8 mA", "6.3 A".
pub fn amps(value: f64) -> String {
    with_unit(value, &[(1.0, "A"), (1e-3, "mA"), (1e-6, "µA")])
}
/// Ohms: "686 ohm", "12.6 kohm".
pub fn ohms(value: f64) -> String {
    with_unit(value, &[(1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm"), (1e-3, "mohm")])
}
/// Watts: "7.3 W", "150 mW".
pub fn watts(value: f64) -> String {
    with_unit(value, &[(1.0, "W"), (1e-3, "mW")])
}
/// A share: "0.75 %", "82 %".
pub fn percent(share: f64) -> String {
    format!("{} %", figures(share * 100.0))
}
/// "with 52 open", "at rest".
pub fn standing(position: &str) -> String {
    if position.starts_with("at rest") { position.to_owned() } else { format!("with {position}") }
}
/// "a", "a and b", "a, b and c".
pub fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// In the first unit that leaves at least one; the last one if none does.
fn with_unit(value: f64, units: &[(f64, &str)]) -> String {
    // 999.7 of a unit is told as 1000 of it, so the step up comes a little earlier.
    let fits = units.iter().find(|(size, _)| value.abs() >= size * 0.9995);
    match fits.or(if value == 0.0 { units.first() } else { units.last() }) {
        Some((size, unit)) => format!("{} {unit}", figures(value / size)),
        None => figures(value),
    }
}

/// Three figures, no idle zeros behind the point.
fn figures(value: f64) -> String {
    let size = value.abs();
    let digits = if size >= 99.95 {
        0
    } else if size >= 9.995 {
        1
    } else {
        2
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Three figures, never more than the value: a bound that is told must hold as told.
pub fn down(value: f64) -> f64 {
    three_figures(value, |figures| (figures + 1e-9).floor())
}

/// Three figures, never less than the value.
pub fn up(value: f64) -> f64 {
    three_figures(value, |figures| (figures - 1e-9).ceil())
}

fn three_figures(value: f64, rounded: impl Fn(f64) -> f64) -> f64 {
    if !(value > 0.0 && value.is_finite()) {
        return value;
    }
    let mut unit = 1.0;
    while value / unit >= 1000.0 {
        unit *= 10.0;
    }
    while value / unit < 100.0 {
        unit /= 10.0;
    }
    rounded(value / unit) * unit
}

/// The next value of the E24 series of resistors (IEC 60063) that is not below `ohm`.
pub fn standard_ohm(ohm: f64) -> f64 {
    const E24: [f64; 24] = [
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1,
        5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ];
    if ohm.is_nan() || ohm <= 0.0 || ohm.is_infinite() {
        return ohm;
    }
    let mut decade = 1.0;
    while decade * 10.0 <= ohm {
        decade *= 10.0;
    }
    while decade > ohm {
        decade /= 10.0;
    }
    let next = E24.iter().map(|value| value * decade).find(|value| *value >= ohm * (1.0 - 1e-9));
    next.unwrap_or(10.0 * decade)
}

/// The next usual power rating that is not below `watt` (common practice, no source).
pub fn standard_watt(watt: f64) -> f64 {
    const RATINGS: [f64; 13] =
        [0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 25.0, 50.0, 100.0, 200.0];
    RATINGS.iter().copied().find(|rating| *rating >= watt).unwrap_or(watt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_three_figures_and_a_unit_that_fits() {
        assert_eq!(volts(138.95), "139 V");
        assert_eq!(volts(0.8087), "809 mV");
        assert_eq!(volts(0.0), "0 V");
        assert_eq!(ohms(12_625.0), "12.6 kohm");
        assert_eq!(ohms(999.9), "1 kohm");
        assert_eq!(amps(0.0428), "42.8 mA");
        assert_eq!(percent(0.0075), "0.75 %");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }

    #[test]
    fn a_bound_is_rounded_to_its_safe_side() {
        assert_eq!(volts(down(83.79)), "83.7 V");
        assert_eq!(amps(down(0.002_095_7)), "2.09 mA");
        assert_eq!(volts(down(105.0)), "105 V");
        assert_eq!(amps(up(85.04)), "85.1 A");
        assert_eq!(amps(up(7.15)), "7.15 A");
    }

    #[test]
    fn a_standard_resistor_is_the_next_one_up() {
        assert!((standard_ohm(2860.0) - 3000.0).abs() < 1e-6);
        assert!((standard_ohm(4700.0) - 4700.0).abs() < 1e-6);
        assert!((standard_ohm(9.2) - 10.0).abs() < 1e-9);
        assert!((standard_ohm(0.93) - 1.0).abs() < 1e-9);
    }
}
