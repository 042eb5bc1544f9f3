//! Numbers as a person reads them: three figures and the unit that fits.

/// Volts.
pub fn volts(value: f64) -> String {
    in_units(value, &[(1.0, "V"), (1e-3, "mV")])
}

/// Amperes.
pub fn amps(value: f64) -> String {
    in_units(value, &[(1.0, "A"), (1e-3, "mA"), (1e-6, "µA")])
}

/// Ohms.
pub fn ohms(value: f64) -> String {
    in_units(value, &[(1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm"), (1e-3, "mohm")])
}

/// Watts.
pub fn watts(value: f64) -> String {
    in_units(value, &[(1e3, "kW"), (1.0, "W"), (1e-3, "mW")])
}

/// Joules.
pub fn joules(value: f64) -> String {
    in_units(value, &[(1e3, "kJ"), (1.0, "J"), (1e-3, "mJ"), (1e-6, "µJ")])
}

/// Seconds.
pub fn seconds(value: f64) -> String {
    in_units(value, &[(3600.0, "h"), (60.0, "min"), (1.0, "s"), (1e-3, "ms"), (1e-6, "µs")])
}

/// Milliseconds.
pub fn millis(value: f64) -> String {
    seconds(value / 1e3)
}

/// A share in percent.
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        return "any".to_owned();
    }
    format!("{} %", figures(share * 100.0))
}

fn in_units(value: f64, units: &[(f64, &str)]) -> String {
    let size = value.abs();
    if !value.is_finite() {
        return "any".to_owned();
    }
    // 999.7 mV is told as 1 V, so the step up comes a little earlier.
    let fits = units.iter().find(|(unit, _)| size >= unit * 0.9995);
    let fallback = if size == 0.0 {
        units.iter().find(|(unit, _)| (unit - 1.0).abs() < 1e-12)
    } else {
        units.last()
    };
    match fits.or(fallback) {
        Some((unit, name)) => format!("{} {name}", figures(value / unit)),
        None => figures(value),
    }
}

/// Three figures, no idle zeros behind the point.
fn figures(value: f64) -> String {
    let size = value.abs();
    let digits = match size {
        _ if size >= 99.95 => 0,
        _ if size >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{value:.digits$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::{amps, ohms, percent, seconds, volts};

    #[test]
    fn a_number_has_three_figures_and_a_unit_that_fits() {
        assert_eq!(volts(139.04), "139 V");
        assert_eq!(volts(0.8704), "870 mV");
        assert_eq!(volts(0.99974), "1 V");
        assert_eq!(volts(0.0), "0 V");
        assert_eq!(volts(-47.26), "-47.3 V");
        assert_eq!(amps(0.0428), "42.8 mA");
        assert_eq!(amps(6.3), "6.3 A");
        assert_eq!(ohms(12_640.0), "12.6 kohm");
        assert_eq!(percent(0.0075), "0.75 %");
        assert_eq!(seconds(0.02), "20 ms");
        assert_eq!(seconds(f64::INFINITY), "any");
        assert_eq!(percent(f64::INFINITY), "any");
    }
}
