//! A junction in straight pieces, for comparing with its law.
#![allow(dead_code, reason = "each test file uses its own share")]

use fiftytwo_circuit::{Characteristic, Conducts, CurveFault};

/// `I = saturation × (exp(v / thermal) − 1)`, A and V, between its points at 1 µA, 10 µA … 10 A, one
/// way. At the same current its voltage is never above the law's and less than 0.62 × `thermal`
/// below it, from 1 µA to 10 A (between two points a factor r of current apart the chord lies below
/// by at most ln((r − 1) / ln r) − 1 + ln r / (r − 1), which is 0.619 for 10); below 1 µA its current
/// is within 1 µA of the law.
pub fn junction(saturation: f64, thermal: f64) -> Result<Characteristic, CurveFault> {
    let points: Vec<(f64, f64)> = (-6..=1)
        .map(|power| 10_f64.powi(power))
        .map(|ampere| (thermal * (ampere / saturation).ln_1p(), ampere))
        .collect();
    Characteristic::through(&points, Conducts::OneWay)
}
