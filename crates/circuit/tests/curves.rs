//! Non-linear parts: published and derived vectors, and random networks whose solutions are checked
//! by the node laws and by the curves themselves (a network of parts whose current never falls has
//! one solution, so that whatever meets both is it).
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]
#![allow(
    clippy::disallowed_methods,
    reason = "laws are compared within tolerances far above a digit"
)]

mod common;

use common::junction;
use fiftytwo_circuit::network::{Branch, Network};
use fiftytwo_circuit::{Characteristic, Conducts, CurveFault};
use proptest::prelude::*;

/// Current and voltage of a curve in series with a resistance on an ideal source.
fn in_series(volt: f64, ohm: f64, curve: &Characteristic) -> (f64, f64) {
    let mut network = Network::new(3);
    network.source(1, 0, volt, 0.0);
    network.resistor(1, 2, ohm);
    let bent = network.curve(2, 0, curve.clone());
    let solution = network.solve().unwrap();
    (solution.current(bent).unwrap(), solution.voltage(2, 0).unwrap())
}

#[test]
fn a_light_emitting_diode_of_straight_lines_carries_what_its_formula_says() {
    // I = max(0, (V - Vf) / (R + rd)), worked out exactly: 1.8 V, 15 ohm.
    let led = Characteristic::drop(1.8, 15.0);
    for (volt, ohm, milliampere) in [
        (24.0, 2200.0, 10.022_573),
        (125.0, 22_000.0, 5.596_184),
        (137.5, 22_000.0, 6.163_979),
        (1.5, 22_000.0, 0.0),
    ] {
        let (ampere, _) = in_series(volt, ohm, &led);
        assert!((ampere * 1e3 - milliampere).abs() < 5e-7, "{volt} V: {ampere} A");
    }
    let (ampere, across) = in_series(-125.0, 22_000.0, &led);
    assert_eq!(ampere, 0.0, "reversed it carries exactly nothing");
    assert!((across + 125.0).abs() < 1e-6);
}

/// The exponential law with a series resistance by the Lambert function (formula of open
/// literature; values with a general numeric library): 1 pA, 25.85 mV.
const LAMBERT: [(f64, f64, f64, f64); 2] = [
    (5.0, 1000.0, 4.425_852_661e-3, 0.574_147_339),
    (125.0, 33_000.0, 3.770_605_895e-3, 0.570_005_465),
];

#[test]
fn a_junction_in_pieces_keeps_its_stated_error() {
    let (saturation, thermal) = (1e-12, 0.025_85);
    let junction = junction(saturation, thermal).unwrap();
    for (volt, ohm, ampere, across) in LAMBERT {
        let (found, found_across) = in_series(volt, ohm, &junction);
        let off = across - found_across;
        assert!((0.0..0.62 * thermal).contains(&off), "{found_across} V instead of {across} V");
        assert!((found - ampere).abs() <= 0.62 * thermal / ohm, "{found} A instead of {ampere} A");
    }
    for step in 0..=1400 {
        let ampere = 10_f64.powf(-6.0 + f64::from(step) / 200.0);
        let law = thermal * (ampere / saturation).ln_1p();
        let off = law - junction.voltage(ampere).unwrap();
        assert!((-1e-12..0.62 * thermal).contains(&off), "{ampere} A: {off} V off");
    }
    for step in 0..=400 {
        let volt = f64::from(step) * 1e-3;
        let law = saturation * (volt / thermal).exp_m1();
        if law < 1e-6 {
            assert!((junction.current(volt) - law).abs() < 1e-6, "{volt} V");
        }
    }
}

#[test]
fn a_constant_drop_stands_for_a_junction_within_a_quarter_of_a_volt() {
    // Textbooks' 0.7 V against the same law from 0.1 mA to 10 A.
    let (saturation, thermal) = (1e-12_f64, 0.025_85_f64);
    let diode = Characteristic::drop(0.7, 1e-3);
    for step in 0..=1000 {
        let ampere = 10_f64.powf(-4.0 + f64::from(step) / 200.0);
        let law = thermal * (ampere / saturation).ln_1p();
        assert!((diode.voltage(ampere).unwrap() - law).abs() < 0.25, "{ampere} A");
    }
    for (volt, ohm, ampere, _) in LAMBERT {
        let (found, _) = in_series(volt, ohm, &diode);
        assert!((found - ampere).abs() < 0.25 / ohm);
    }
}

#[test]
fn a_filament_follows_its_law_and_is_never_below_its_cold_resistance() {
    let (volt, ampere, exponent) = (28.0, 0.04, 0.55);
    let hot = volt / ampere;
    let lamp = Characteristic::filament(volt, ampere, hot / 10.0).unwrap();
    for step in 1..=560 {
        let at = f64::from(step) * 0.1;
        let law = (ampere * (at / volt).powf(exponent)).min(at / (hot / 10.0));
        let off = lamp.current(at) / law - 1.0;
        assert!((-1e-2..1e-7).contains(&off), "{at} V: {off}");
        assert_eq!(lamp.current(-at), -lamp.current(at));
    }
}

#[test]
fn a_clamp_holds_its_voltage_either_way() {
    let clamp = Characteristic::clamp(180.0, 1e-3);
    for sign in [1.0, -1.0] {
        let (ampere, across) = in_series(sign * 1000.0, 820.0, &clamp);
        assert!((ampere * sign - 1.0).abs() < 1e-5 && (across * sign - 180.0).abs() < 2e-3);
        assert_eq!(in_series(sign * 125.0, 820.0, &clamp).0, 0.0);
    }
}

#[test]
fn points_that_make_no_characteristic_are_refused() {
    let one = |points: &[(f64, f64)]| Characteristic::through(points, Conducts::OneWay);
    assert_eq!(one(&[]), Err(CurveFault::Empty));
    assert_eq!(one(&[(0.0, 0.0)]), Err(CurveFault::Empty));
    assert_eq!(one(&[(1.0, 0.1), (2.0, 0.05)]), Err(CurveFault::Falls { volt: 2.0 }));
    assert_eq!(one(&[(-1.0, 0.1), (2.0, 0.2)]), Err(CurveFault::Falls { volt: 0.0 }));
    assert_eq!(one(&[(1.0, 0.1), (1.0, 0.2)]), Err(CurveFault::TooClose { volt: 1.0 }));
    assert_eq!(one(&[(1.0, 0.1), (1.001, 9.0)]), Err(CurveFault::TooSteep { volt: 1.001 }));
    assert_eq!(one(&[(f64::NAN, 0.1)]), Err(CurveFault::NotFinite));
}

#[test]
fn chords_bound_the_resistance_over_a_range_of_voltages() {
    let led = Characteristic::through(&[(2.0, 0.0), (24.0, 0.02)], Conducts::BothWays).unwrap();
    let (most, least) = led.chords(12.0, 24.0);
    assert!((most - 0.02 / 24.0).abs() < 1e-15);
    assert!((least - led.current(12.0) / 12.0).abs() < 1e-15);
    assert_eq!(led.chords(-1.0, 1.0), (0.0, 0.0));
    let lamp = Characteristic::filament(28.0, 0.04, 70.0).unwrap();
    let (most, least) = lamp.chords(0.0, 28.0);
    assert!((most - 1.0 / 70.0).abs() < 1e-12 && (least - 0.04 / 28.0).abs() < 1e-12);
}

fn curve() -> impl Strategy<Value = Characteristic> {
    let ohm = || (-2..6, 1.0..10.0_f64).prop_map(|(power, digits)| digits * 10_f64.powi(power));
    let points = proptest::collection::vec((0.01..30.0_f64, 0.0..0.1_f64), 1..6);
    prop_oneof![
        (0.0..3.0_f64, ohm()).prop_map(|(drop, ohm)| Characteristic::drop(drop, ohm)),
        (0.5..200.0_f64, ohm()).prop_map(|(volt, ohm)| Characteristic::clamp(volt, ohm)),
        (6.0..130.0_f64, 0.01..0.5_f64).prop_map(|(volt, amp)| Characteristic::filament(
            volt,
            amp,
            volt / amp / 12.0
        )
        .unwrap()),
        Just(junction(1e-12, 0.02585).unwrap()),
        Just(Characteristic::drop(0.7, 1e-3)),
        (points, any::<bool>()).prop_map(|(steps, both)| {
            let mut at = (0.0, 0.0);
            let points: Vec<(f64, f64)> = steps
                .into_iter()
                .map(|(volt, ampere)| {
                    at = (at.0 + volt, at.1 + ampere);
                    at
                })
                .collect();
            let way = if both { Conducts::BothWays } else { Conducts::OneWay };
            Characteristic::through(&points, way).unwrap_or(Characteristic::resistance(100.0))
        }),
    ]
}

#[derive(Debug, Clone)]
struct Random {
    nodes: usize,
    resistors: Vec<(usize, usize, f64)>,
    sources: Vec<(usize, usize, f64, f64)>,
    curves: Vec<(usize, usize, Characteristic)>,
}

fn random() -> impl Strategy<Value = Random> {
    (2..12_usize).prop_flat_map(|nodes| {
        let node = || 0..nodes;
        let ohm = (-3..6, 1.0..10.0_f64).prop_map(|(power, digits)| digits * 10_f64.powi(power));
        // Ideal sources stand on nodes of their own, so that none can short another.
        let ideal = prop_oneof![Just(true), Just(false)];
        (
            proptest::collection::vec((node(), node(), ohm.clone()), 0..12),
            proptest::collection::vec((node(), node(), -150.0..150.0_f64, ohm, ideal), 1..4),
            proptest::collection::vec((node(), node(), curve()), 1..14),
        )
            .prop_map(move |(resistors, sources, curves)| {
                let mut all = nodes;
                let sources = sources
                    .into_iter()
                    .filter(|(a, b, ..)| a != b)
                    .map(|(a, b, volt, ohm, ideal)| {
                        if ideal {
                            all += 1;
                            (all - 1, b, volt, 0.0)
                        } else {
                            (a, b, volt, ohm)
                        }
                    })
                    .collect::<Vec<_>>();
                let apart = resistors.into_iter().filter(|(a, b, _)| a != b);
                let mut resistors: Vec<_> = apart.collect();
                for at in nodes..all {
                    resistors.push((at, at % nodes, 3.0));
                }
                let curves = curves.into_iter().filter(|(a, b, _)| a != b).collect();
                Random { nodes: all, resistors, sources, curves }
            })
    })
}

fn network(random: &Random, factor: f64) -> (Network, Vec<usize>) {
    let mut network = Network::new(random.nodes);
    for &(a, b, ohm) in &random.resistors {
        network.resistor(a, b, ohm * factor);
    }
    for &(plus, minus, volt, ohm) in &random.sources {
        network.source(plus, minus, volt, ohm * factor);
    }
    let bent = random.curves.iter().map(|(a, b, curve)| network.curve(*a, *b, curve.clone()));
    let bent: Vec<usize> = bent.collect();
    (network, bent)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    #[test]
    fn every_curve_is_met_and_every_node_balances(random in random()) {
        let (network, bent) = network(&random, 1.0);
        let solution = network.solve();
        prop_assert!(solution.is_ok(), "{:?}", solution);
        let solution = solution.unwrap();
        for (&branch, (a, b, curve)) in bent.iter().zip(&random.curves) {
            let Some(volt) = solution.voltage(*a, *b) else { continue };
            let ampere = solution.current(branch).unwrap();
            let near = [curve.current(volt - 1.1e-6), curve.current(volt + 1.1e-6)];
            let slack = 1.1e-9 + 1e-12 * ampere.abs();
            prop_assert!(near[0] - slack <= ampere && ampere <= near[1] + slack,
                "{} V, {} A off the curve: {:?}", volt, ampere, near);
        }
        let mut sums = vec![0.0_f64; random.nodes];
        let (mut power, mut largest) = (0.0, 0.0_f64);
        for (index, branch) in network.branches().iter().enumerate() {
            let (a, b) = branch.nodes();
            let Some(ampere) = solution.current(index) else { continue };
            sums[a] += ampere;
            sums[b] -= ampere;
            power += solution.voltage(a, b).unwrap_or(0.0) * ampere;
            largest = largest.max(ampere.abs());
        }
        for (node, sum) in sums.iter().enumerate() {
            // Each curve is met within 1.1 nA, as above.
            let slack = 1.1e-9 * bent.len() as f64;
            prop_assert!(sum.abs() <= 1e-9 * largest.max(1.0) + slack, "node {}: {} A", node, sum);
        }
        prop_assert!(power.abs() <= 1e-9 * largest.max(1.0) * 450.0, "{} W come from nowhere", power);
        prop_assert!(network.branches().iter().enumerate().all(|(index, branch)| {
            let (a, b) = branch.nodes();
            let is_bent = matches!(branch, Branch::Curve { .. });
            let drawn = solution.voltage(a, b).unwrap_or(0.0) * solution.current(index).unwrap_or(0.0);
            !is_bent || drawn >= -1e-6 * 450.0
        }), "a part gives power out");
    }

    #[test]
    fn a_part_seen_from_its_other_end_is_the_same_part(random in random()) {
        let (straight, bent) = network(&random, 1.0);
        let mut turned = random.clone();
        for (a, b, curve) in &mut turned.curves {
            (*a, *b, *curve) = (*b, *a, curve.reversed());
        }
        let (turned, _) = network(&turned, 1.0);
        let (one, other) = (straight.solve().unwrap(), turned.solve().unwrap());
        for (branch, (a, b, curve)) in bent.into_iter().zip(&random.curves) {
            // At a bend either piece is right within the stated microvolt.
            let near = one.voltage(*a, *b).map_or(0.0, |volt| {
                curve.current(volt + 1.1e-6) - curve.current(volt - 1.1e-6)
            });
            let (one, other) = (one.current(branch).unwrap_or(0.0), other.current(branch).unwrap_or(0.0));
            let allowed = 1e-6 * one.abs().max(1e-2) + near;
            prop_assert!((one + other).abs() <= allowed, "{} and {}", one, other);
        }
    }
}
