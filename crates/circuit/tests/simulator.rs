//! Random networks against a general-purpose circuit simulator (ngspice, a Debian package).
//!
//! Runs where the simulator is found. `FIFTYTWO_SIMULATOR=required` makes its absence a failure
//! (continuous integration sets it once it has installed the package); otherwise the chore
//! `cargo xtask test` says that the comparison did not run. Open contacts are taken out before
//! comparing: simulators put 10⁹ Ω or more there, which beside a lamp of 3 kΩ is not nothing.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]
#![allow(
    clippy::disallowed_methods,
    reason = "laws are compared within tolerances far above a digit"
)]

mod common;
mod deck;

use common::junction;
use deck::{Deck, Element};
use fiftytwo_circuit::network::{Network, resistance_between};
use fiftytwo_circuit::{Characteristic, Conducts, Solution};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, TestRunner};

/// nVt at 26.83 °C, n = 1, V.
const THERMAL: f64 = 0.025_85;
/// How many networks of each kind are compared.
const EACH: usize = 120;

/// What stands between two nodes.
#[derive(Debug, Clone)]
enum Part {
    Resistor(f64),
    Closed,
    Source(f64, f64),
    Current(f64),
    Diode,
    Led,
    Varistor(f64),
}

/// A network whose nodes all hang together.
#[derive(Debug, Clone)]
struct Random {
    nodes: usize,
    parts: Vec<(usize, usize, Part)>,
}

fn ohm(range: std::ops::Range<i32>) -> impl Strategy<Value = f64> {
    (range, 1.0..10.0_f64).prop_map(|(power, digits)| digits * 10_f64.powi(power))
}

/// A tree of resistances, sources on nodes of their own, and more parts anywhere.
fn networks(
    least: i32,
    most: i32,
    more: impl Strategy<Value = Part> + Clone,
) -> impl Strategy<Value = Random> {
    (3..14_usize).prop_flat_map(move |nodes| {
        let node = 0..nodes;
        let tree =
            proptest::collection::vec((any::<prop::sample::Index>(), ohm(least..most)), nodes - 1);
        let across =
            proptest::collection::vec((node.clone(), node.clone(), ohm(least..most)), 0..10);
        let more = proptest::collection::vec((node.clone(), node.clone(), more.clone()), 1..10);
        let sources = proptest::collection::vec(
            (node, -150.0..150.0_f64, prop_oneof![Just(0.0), 0.01..2.0_f64]),
            1..3,
        );
        (tree, across, more, sources).prop_map(move |(tree, across, more, sources)| {
            let mut parts = Vec::new();
            for (at, (to, ohm)) in tree.into_iter().enumerate() {
                parts.push((at + 1, to.index(at + 1), Part::Resistor(ohm)));
            }
            parts.extend(across.into_iter().map(|(a, b, ohm)| (a, b, Part::Resistor(ohm))));
            parts.extend(more);
            parts.retain(|(a, b, _)| a != b);
            let mut all = nodes;
            for (on, volt, inner) in sources {
                parts.push((all, on, Part::Source(volt, inner)));
                parts.push((all, (on + 1) % nodes, Part::Resistor(25.0)));
                all += 1;
            }
            Random { nodes: all, parts: without_rings(all, parts) }
        })
    })
}

/// Rings of closed contacts share a current in no determined way: the simulator refuses them.
fn without_rings(nodes: usize, parts: Vec<(usize, usize, Part)>) -> Vec<(usize, usize, Part)> {
    let mut set: Vec<usize> = (0..nodes).collect();
    let mut kept = Vec::new();
    for (a, b, part) in parts {
        if matches!(part, Part::Closed | Part::Source(_, 0.0)) {
            if set[a] == set[b] {
                continue;
            }
            let (from, to) = (set[a], set[b]);
            set.iter_mut().filter(|root| **root == from).for_each(|root| *root = to);
        }
        kept.push((a, b, part));
    }
    kept
}

fn some(strategy: &impl Strategy<Value = Random>, count: usize) -> Vec<Random> {
    let mut runner = TestRunner::new_with_rng(
        Config::default(),
        proptest::test_runner::TestRng::deterministic_rng(
            proptest::test_runner::RngAlgorithm::ChaCha,
        ),
    );
    (0..count).map(|_| strategy.new_tree(&mut runner).unwrap().current()).collect()
}

/// How a non-linear part is expressed to the simulator.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Law {
    /// The same straight pieces.
    Pieces,
    /// The law that the pieces stand for.
    Exponential,
}

fn led() -> Characteristic {
    Characteristic::through(&[(1.8, 0.0), (1.95, 0.01), (2.1, 0.03)], Conducts::OneWay).unwrap()
}

/// `I = 1 mA (v / clamp)^30` either way, between its points at 1 µA, 10 µA … 10 A.
fn varistor(clamp: f64) -> Characteristic {
    let points: Vec<(f64, f64)> = (-6..=1)
        .map(|power| 10_f64.powi(power))
        .map(|ampere| (clamp * (ampere / 1e-3).powf(1.0 / 30.0), ampere))
        .collect();
    Characteristic::through(&points, Conducts::BothWays).unwrap()
}

fn pieces(part: &Part, law: Law) -> Option<Characteristic> {
    match (part, law) {
        (Part::Diode, Law::Pieces) => Some(Characteristic::drop(0.7, 0.05)),
        (Part::Diode, Law::Exponential) => Some(junction(1e-12, THERMAL).unwrap()),
        (Part::Led, Law::Pieces) => Some(led()),
        (Part::Led, Law::Exponential) => Some(junction(1e-18, 2.0 * THERMAL).unwrap()),
        (Part::Varistor(clamp), _) => Some(varistor(*clamp)),
        _ => None,
    }
}

/// The furthest that the pieces lie below the law at the same current from 1 µA to 10 A, V.
fn stated(part: &Part) -> f64 {
    match part {
        Part::Diode => 0.62 * THERMAL,
        Part::Led => 0.62 * 2.0 * THERMAL,
        // Between two decades a factor 10^(1/30) of voltage apart: the chord against the power law.
        Part::Varistor(clamp) => {
            let curve = varistor(*clamp);
            (0..=7000)
                .map(|step| 10_f64.powf(-6.0 + f64::from(step) / 1000.0))
                .map(|ampere| {
                    let law = clamp * (ampere / 1e-3).powf(1.0 / 30.0);
                    (law - curve.voltage(ampere).unwrap()).abs()
                })
                .fold(0.0, f64::max)
        }
        _ => 0.0,
    }
}

fn ours(random: &Random, law: Law) -> (Network, Solution) {
    let mut network = Network::new(random.nodes);
    for &(a, b, ref part) in &random.parts {
        match *part {
            Part::Resistor(ohm) => network.resistor(a, b, ohm),
            Part::Closed => network.switch(a, b, true),
            Part::Source(volt, ohm) => network.source(a, b, volt, ohm),
            Part::Current(ampere) => {
                network.add(fiftytwo_circuit::Branch::Current { from: a, to: b, ampere })
            }
            _ => network.curve(a, b, pieces(part, law).unwrap()),
        };
    }
    let solution = network.solve().unwrap_or_else(|error| panic!("{error}: {random:?}"));
    (network, solution)
}

fn theirs(random: &Random, law: Law) -> Option<Vec<f64>> {
    let mut deck = Deck::new(random.nodes);
    for &(a, b, ref part) in &random.parts {
        let element = match (part, law) {
            (Part::Resistor(ohm), _) => Element::Resistor(*ohm),
            (Part::Closed, _) => Element::Source(0.0, 0.0),
            (Part::Source(volt, ohm), _) => Element::Source(*volt, *ohm),
            (Part::Current(ampere), _) => Element::Current(*ampere),
            (Part::Diode, Law::Exponential) => {
                Element::Junction { saturation: 1e-12, ideality: 1.0 }
            }
            (Part::Led, Law::Exponential) => Element::Junction { saturation: 1e-18, ideality: 2.0 },
            (Part::Varistor(clamp), Law::Exponential) => Element::Power { clamp: *clamp },
            (part, Law::Pieces) => Element::Pieces(pieces(part, law).unwrap()),
        };
        deck.add(a, b, element);
    }
    deck.potentials()
}

fn potentials(random: &Random, solution: &Solution) -> Vec<f64> {
    (0..random.nodes).map(|node| solution.voltage(node, 0).unwrap()).collect()
}

/// The greatest difference of a potential, V, and the greatest potential.
fn apart(ours: &[f64], theirs: &[f64]) -> (f64, f64) {
    let off = ours.iter().zip(theirs).map(|(one, other)| (one - other).abs());
    let most = theirs.iter().map(|volt| volt.abs()).fold(1.0, f64::max);
    (off.fold(0.0, f64::max), most)
}

#[test]
fn linear_networks_agree_within_a_millionth() {
    if !deck::is_there() {
        return;
    }
    let more = prop_oneof![Just(Part::Closed), (-2.0..2.0_f64).prop_map(Part::Current)];
    let mut worst = 0.0_f64;
    for random in some(&networks(-2, 5, more), EACH) {
        let (_, solution) = ours(&random, Law::Pieces);
        let theirs = theirs(&random, Law::Pieces).unwrap();
        let (off, most) = apart(&potentials(&random, &solution), &theirs);
        assert!(off <= 1e-6 * most, "{off} V of {most} V: {random:?}");
        worst = worst.max(off / most);
    }
    deck::report(&format!("linear: {EACH} networks, worst difference {worst:.1e} of the voltage"));
}

fn bent() -> impl Strategy<Value = Part> + Clone {
    prop_oneof![
        3 => Just(Part::Diode),
        2 => Just(Part::Led),
        1 => (20.0..200.0_f64).prop_map(Part::Varistor),
        2 => Just(Part::Closed),
    ]
}

#[test]
fn networks_of_straight_pieces_agree() {
    if !deck::is_there() {
        return;
    }
    let (mut compared, mut refused, mut worst) = (0, 0, 0.0_f64);
    for random in some(&networks(0, 5, bent()), EACH + EACH / 4) {
        let (_, solution) = ours(&random, Law::Pieces);
        // Corners of a curve are hard on the simulator: what it gives up on is counted.
        let Some(theirs) = theirs(&random, Law::Pieces) else {
            refused += 1;
            continue;
        };
        let (off, most) = apart(&potentials(&random, &solution), &theirs);
        assert!(off <= 1e-6 * most + 1e-6, "{off} V of {most} V: {random:?}");
        worst = worst.max(off / most);
        compared += 1;
    }
    assert!(compared >= 100, "the simulator gave up on {refused} networks");
    deck::report(&format!(
        "straight pieces: {compared} networks, worst difference {worst:.1e} of the voltage; the \
         simulator gave up on {refused}"
    ));
}

#[test]
fn networks_of_junctions_agree_within_the_stated_error() {
    if !deck::is_there() {
        return;
    }
    let (mut compared, mut refused, mut worst, mut most_off) = (0, 0, 0.0_f64, 0.0_f64);
    for random in some(&networks(0, 4, bent()), EACH + EACH / 4) {
        let (network, solution) = ours(&random, Law::Exponential);
        let Some(theirs) = theirs(&random, Law::Exponential) else {
            refused += 1;
            continue;
        };
        // Each curve differs from its law as a small voltage in series with it does, or below 1 µA
        // as a small current beside it; in a network of resistances a voltage moves no other by
        // more than itself, a current by no more than the resistance it sees.
        let mut allowed = 1e-6;
        for &(a, b, ref part) in &random.parts {
            let Some(curve) = pieces(part, Law::Exponential) else { continue };
            let carries = curve.current(solution.voltage(a, b).unwrap()).abs() > 1e-6;
            let seen = resistance_between(&network, a, b).unwrap().unwrap_or(0.0);
            allowed += if carries { stated(part) } else { (1e-6 * seen).max(stated(part)) };
        }
        let (off, _) = apart(&potentials(&random, &solution), &theirs);
        assert!(off <= allowed, "{off} V where {allowed} V are stated: {random:?}");
        worst = worst.max(off / allowed);
        most_off = most_off.max(off);
        compared += 1;
    }
    assert!(compared >= 100, "the simulator gave up on {refused} networks");
    deck::report(&format!(
        "junctions: {compared} networks, worst difference {most_off:.3} V, {worst:.2} of what is \
         stated; the simulator gave up on {refused}"
    ));
}
