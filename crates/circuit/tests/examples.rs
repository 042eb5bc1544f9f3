//! The bundled examples, checked by hand calculation.
//!
//! Copper by the law of `docs/circuit.md`: factor from 20 C to t is 1 + 0.00393 (t - 20). Stranded
//! 10 AWG is 1.24 ohm, 8 AWG 0.778 ohm, 2 AWG 0.194 ohm per 1000 ft at 75 C (NEC chapter 9 table 8).
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_circuit::coils::Reading;
use fiftytwo_circuit::{CoilReport, Wiring, coil_report};
use fiftytwo_scheme::{Scheme, read_path};

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let reading = read_path(path.as_ref());
    assert!(reading.is_usable(), "{:?}", reading.findings);
    reading.scheme.unwrap()
}

fn coil(scheme: &Scheme, name: &str) -> CoilReport {
    let reports = coil_report(&Wiring::new(scheme).unwrap());
    reports.into_iter().find(|report| report.coil == name).unwrap()
}

fn copper(celsius: f64) -> f64 {
    1.0 + 0.00393 * (celsius - 20.0)
}

/// One core, ohm.
fn core(per_kft: f64, metre: f64, celsius: f64) -> f64 {
    per_kft / 304.8 * metre * copper(celsius) / copper(75.0)
}

fn assert_near(reading: &Reading, volts: f64, within: f64) {
    assert!((reading.volts - volts).abs() <= within, "{reading:?} is not {volts} V");
}

#[test]
fn the_close_coil_of_quillmere_350_m_away() {
    let scheme = example("quillmere");
    let report = coil(&scheme, "52 close");
    assert_eq!(report.ways.len(), 3, "by hand, by SCADA, by the recloser");
    assert!(report.findings.is_empty());
    let way = &report.ways[0];
    // Two cores of 10 AWG; 41 ohm at 20 C; 14 milliohm in the battery.
    let highest = {
        let (line, coil) = (2.0 * core(1.24, 350.0, -30.0), 41.0 * copper(50.0));
        140.0 * coil / (coil + line + 0.014)
    };
    // The supply watch of 8000 ohm beside it takes 17 mA through 14 milliohm.
    assert_near(&way.alone.highest, highest, 1e-3);
    let lowest = {
        let (line, coil) = (2.0 * core(1.24, 350.0, 50.0), 41.0 * copper(-30.0));
        // The other circuits of DC1 at their most, everything cold: trip coil 1 over two cores,
        // and the lockout in the house; relays and inputs are a few times 40 mA.
        let trip = 140.0 / (22.0 * copper(-30.0) + 2.0 * core(1.24, 350.0, -30.0));
        let lockout = 140.0 / (26.0 * copper(-30.0));
        (105.0 - 0.014 * (trip + lockout)) * coil / (coil + line + 0.014)
    };
    assert_near(&way.alone.lowest, lowest, 0.01);
    assert!(report.lowest.unwrap().volts < way.alone.lowest.volts, "the lamp shares the return");
}

#[test]
fn the_trip_coils_of_quillmere_trip_at_a_low_battery() {
    let scheme = example("quillmere");
    for name in ["52 trip 1", "52 trip 2"] {
        let report = coil(&scheme, name);
        let coil = 22.0 * copper(-30.0);
        let alone = 105.0 * coil / (coil + 2.0 * core(1.24, 350.0, 50.0) + 0.014);
        let hand =
            report.ways.iter().find(|way| way.parts.iter().any(|part| part.starts_with("52CS")));
        let lowest = &hand.unwrap().alone.lowest;
        assert!(lowest.volts < alone && lowest.volts > alone - 0.3, "{lowest:?} under {alone}");
        assert!(report.margin_low.unwrap() > 20.0);
        assert!(report.findings.is_empty());
    }
}

#[test]
fn the_solenoid_of_harrowfen_on_its_local_bus() {
    let report = coil(&example("harrowfen"), "52 solenoid");
    // 45 m of 2 AWG, two cores a pole; 4 ohm at 20 C; 60 milliohm in the battery.
    let coil = 4.0 * copper(-30.0);
    let line = core(0.194, 45.0, 50.0);
    let lowest = 210.0 * coil / (coil + line + 0.06);
    assert_near(&report.ways[0].alone.lowest, lowest, 1e-6);
    assert!(report.ways[0].loaded.lowest.volts < lowest, "the trip coil draws beside it");
    assert!((report.ways[0].alone.lowest.amps.unwrap() - lowest / coil).abs() < 1e-6);
    assert!(report.findings.is_empty());
}

#[test]
fn the_closing_contactor_of_harrowfen_1000_m_away_at_48_v() {
    let report = coil(&example("harrowfen"), "52X");
    // 8 AWG, one core each way; the trip order on a core of its own shares the return when loaded.
    let coil = 120.0 * copper(-30.0);
    let lowest = 42.0 * coil / (coil + 2.0 * core(0.778, 1000.0, 50.0) + 0.012);
    let hand = &report.ways[0].alone.lowest;
    assert_near(hand, lowest, 1e-6);
    assert!(report.findings.is_empty());
}

#[test]
fn dunmarrow_is_wrong_in_its_logic_and_not_in_its_volts() {
    for name in ["dunmarrow", "dunmarrow-repaired", "harrowfen", "latches"] {
        let scheme = example(name);
        for report in coil_report(&Wiring::new(&scheme).unwrap()) {
            assert!(report.findings.is_empty(), "{name}: {:?}", report.findings);
            assert!(!report.ways.is_empty(), "{name}: {} has no way", report.coil);
        }
    }
}
