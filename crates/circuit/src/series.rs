//! Exponential and natural logarithm by series of a fixed order: the same digits on every system.

use std::f64::consts::{LN_2, SQRT_2};

/// 1 / n! for n from 0.
const TERMS: [f64; 15] = {
    let mut terms = [1.0; 15];
    let (mut n, mut factorial) = (1, 1.0);
    while n < terms.len() {
        factorial *= n as f64;
        terms[n] = 1.0 / factorial;
        n += 1;
    }
    terms
};

/// e^x, to a few units of the last digit; 0 below -708, infinite above 709.
pub fn exp(x: f64) -> f64 {
    if x.is_nan() || x > 709.0 {
        return if x > 709.0 { f64::INFINITY } else { x };
    }
    if x < -708.0 {
        return 0.0;
    }
    // x = doublings ln 2 + rest, |rest| < 0.35: fourteen terms reach the last digit. ln 2 in two
    // parts, the first with so few digits that its multiples are exact.
    const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let doublings = (x / LN_2).round();
    let rest = (x - doublings * LN_2_HIGH) - doublings * LN_2_LOW;
    let sum = TERMS.iter().rev().fold(0.0, |sum, term| sum * rest + term);
    // Within -1022 and 1023 after the checks above.
    let exponent = (doublings as i64 + 1023) as u64;
    sum * f64::from_bits(exponent << 52)
}

/// The natural logarithm, to a few units of the last digit; minus infinity for 0, not a number
/// below.
pub fn ln(x: f64) -> f64 {
    if x == 0.0 {
        return f64::NEG_INFINITY;
    }
    if x < 0.0 || !x.is_finite() {
        return if x == f64::INFINITY { x } else { f64::NAN };
    }
    let (mut mantissa, mut doublings) = (x, 0.0);
    if x < f64::MIN_POSITIVE {
        mantissa *= 2_f64.powi(54);
        doublings -= 54.0;
    }
    // The exponent of the number as it is stored, and the mantissa between 1 and 2.
    let bits = mantissa.to_bits();
    doublings += (bits >> 52) as f64 - 1023.0;
    mantissa = f64::from_bits((bits & ((1 << 52) - 1)) | (1023 << 52));
    if mantissa > SQRT_2 {
        mantissa *= 0.5;
        doublings += 1.0;
    }
    // ln m = 2 artanh((m - 1) / (m + 1)); |ratio| < 0.172, so 12 terms reach the last digit.
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    let square = ratio * ratio;
    let series = (0..12).rev().fold(0.0, |sum, term| sum * square + 1.0 / f64::from(2 * term + 1));
    2.0 * ratio * series + doublings * LN_2
}

#[cfg(test)]
#[allow(
    clippy::disallowed_methods,
    reason = "the system's own functions are what is compared with"
)]
mod tests {
    use super::*;

    #[test]
    fn both_are_the_systems_own_within_a_few_units_of_the_last_digit() {
        for step in -7000..7000 {
            let x = f64::from(step) * 0.1 + 0.0137;
            let off = (exp(x) / x.exp() - 1.0).abs();
            assert!(off < 1e-15, "e^{x}: {off}");
            let y = x.exp();
            assert!((ln(y) - y.ln()).abs() <= 1e-15 * y.ln().abs().max(1e-3), "ln {y}");
        }
        assert_eq!((exp(-1e9), exp(0.0), exp(1e9)), (0.0, 1.0, f64::INFINITY));
        assert!(exp(f64::NAN).is_nan() && ln(-1.0).is_nan() && ln(f64::NAN).is_nan());
        assert_eq!((ln(0.0), ln(1.0), ln(f64::INFINITY)), (f64::NEG_INFINITY, 0.0, f64::INFINITY));
        assert!((ln(5e-324) - 5e-324_f64.ln()).abs() < 1e-12);
    }
}
