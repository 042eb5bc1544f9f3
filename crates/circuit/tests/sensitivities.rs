//! The effect of a small change of resistance, from one adjoint solve, against finite differences.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_circuit::network::{Branch, Network, Prepared};
use fiftytwo_circuit::{Characteristic, Solution};
use proptest::prelude::*;

#[derive(Debug, Clone)]
struct Random {
    nodes: usize,
    ohms: Vec<(usize, usize, f64)>,
    sources: Vec<(usize, usize, f64, f64)>,
    diodes: Vec<(usize, usize, f64, f64)>,
}

fn random() -> impl Strategy<Value = Random> {
    (3..10_usize).prop_flat_map(|nodes| {
        let node = move || 0..nodes;
        let tree =
            proptest::collection::vec((any::<prop::sample::Index>(), 1.0..5000.0_f64), nodes - 1);
        let more = proptest::collection::vec((node(), node(), 1.0..5000.0_f64), 0..8);
        let sources =
            proptest::collection::vec((node(), node(), -150.0..150.0_f64, 0.1..50.0_f64), 1..3);
        let diodes =
            proptest::collection::vec((node(), node(), 0.3..40.0_f64, 0.5..500.0_f64), 0..6);
        (tree, more, sources, diodes).prop_map(move |(tree, more, sources, diodes)| {
            let mut ohms: Vec<_> = tree
                .into_iter()
                .enumerate()
                .map(|(at, (to, ohm))| (at + 1, to.index(at + 1), ohm))
                .collect();
            ohms.extend(more.into_iter().filter(|(a, b, _)| a != b));
            let sources = sources.into_iter().filter(|(a, b, ..)| a != b).collect();
            let diodes = diodes.into_iter().filter(|(a, b, ..)| a != b).collect();
            Random { nodes, ohms, sources, diodes }
        })
    })
}

/// The network with one conductance multiplied.
fn network(random: &Random, part: usize, factor: f64) -> Network {
    let mut network = Network::new(random.nodes);
    for (index, &(a, b, ohm)) in random.ohms.iter().enumerate() {
        network.resistor(a, b, if index == part { ohm / factor } else { ohm });
    }
    for &(plus, minus, volt, ohm) in &random.sources {
        network.source(plus, minus, volt, ohm);
    }
    for &(a, b, drop, ohm) in &random.diodes {
        network.curve(a, b, Characteristic::drop(drop, ohm));
    }
    network
}

fn slopes(random: &Random, solution: &Solution) -> Vec<Option<f64>> {
    let first = random.ohms.len() + random.sources.len();
    (0..random.diodes.len()).map(|diode| solution.slope(first + diode)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, ..ProptestConfig::default() })]

    #[test]
    fn the_adjoint_foretells_finite_differences(random in random(), a in any::<prop::sample::Index>(), part in any::<prop::sample::Index>()) {
        let (a, b) = (a.index(random.nodes), (a.index(random.nodes) + 1) % random.nodes);
        let part = part.index(random.ohms.len());
        let (p, q, ohm) = random.ohms[part];
        let prepared = Prepared::new(network(&random, part, 1.0)).unwrap();
        let here = prepared.solve().unwrap();
        let adjoint = prepared.adjoint(&here, a, b).unwrap();
        let foretold = -here.voltage(p, q).unwrap_or(0.0) * (adjoint[p] - adjoint[q]);
        let step = 1e-4;
        let [less, more] = [1.0 - step, 1.0 + step].map(|f| network(&random, part, f).solve().unwrap());
        // Past the corner of a curve the slope is another one.
        prop_assume!(slopes(&random, &less) == slopes(&random, &here));
        prop_assume!(slopes(&random, &more) == slopes(&random, &here));
        let moved = more.voltage(a, b).unwrap_or(0.0) - less.voltage(a, b).unwrap_or(0.0);
        let measured = moved / (2.0 * step / ohm);
        // The third derivative beside rounding: both far below a millionth of the greatest effect.
        let scale = 150.0 * ohm * random.sources.len() as f64;
        prop_assert!((measured - foretold).abs() <= 1e-6 * scale, "{} instead of {}", measured, foretold);
    }

    #[test]
    fn other_values_solve_as_a_new_network_does(random in random(), part in any::<prop::sample::Index>(), factor in 0.1..10.0_f64) {
        let part = part.index(random.ohms.len());
        let mut prepared = Prepared::new(network(&random, part, 1.0)).unwrap();
        let (a, b, ohm) = random.ohms[part];
        let other = Branch::Resistor { a, b, ohm: ohm / factor };
        let ideal = Branch::Resistor { a, b, ohm: 0.0 };
        prop_assert!(prepared.set(part, other));
        prop_assert_eq!(prepared.solve(), network(&random, part, factor).solve());
        let elsewhere = Branch::Resistor { a, b: (b + 1) % random.nodes, ohm };
        prop_assert!(!prepared.set(part, elsewhere));
        prop_assert!(!prepared.set(part, ideal));
        prop_assert_eq!(prepared.solve(), network(&random, part, factor).solve());
    }

    #[test]
    fn volts_and_ohms_scale(random in random(), factor in 0.01..100.0_f64) {
        let straight = Random { diodes: Vec::new(), ..random };
        let scaled = |volts: f64, ohms: f64| {
            let mut scaled = straight.clone();
            scaled.ohms.iter_mut().for_each(|(.., ohm)| *ohm *= ohms);
            scaled.sources.iter_mut().for_each(|(.., volt, ohm)| (*volt, *ohm) = (*volt * volts, *ohm * ohms));
            network(&scaled, 0, 1.0).solve().unwrap()
        };
        let (plain, volts, ohms) = (scaled(1.0, 1.0), scaled(factor, 1.0), scaled(1.0, factor));
        for part in 0..straight.ohms.len() {
            let Some(ampere) = plain.current(part) else { continue };
            let (more, less) = (volts.current(part).unwrap(), ohms.current(part).unwrap());
            let slack = 1e-10 * 150.0;
            prop_assert!((more / factor - ampere).abs() <= slack, "{} of {}", more, ampere);
            prop_assert!((less * factor - ampere).abs() <= slack, "{} of {}", less, ampere);
        }
    }
}
