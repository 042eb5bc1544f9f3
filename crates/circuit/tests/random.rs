//! Random networks against a dense solve of the full set of equations, written here with full
//! pivoting and sharing nothing with the product.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_circuit::network::{Branch, Network, NetworkError};
use proptest::prelude::*;

/// Nodes joined by a random tree of resistors, with more resistors, switches and sources thrown in.
#[derive(Debug, Clone)]
struct Random {
    nodes: usize,
    branches: Vec<Branch>,
}

fn ohm() -> impl Strategy<Value = f64> {
    // Milliohms to megohms, evenly by order of magnitude.
    (-3..6, 1.0..10.0_f64).prop_map(|(power, digits)| digits * 10_f64.powi(power))
}

fn random() -> impl Strategy<Value = Random> {
    (3..14_usize).prop_flat_map(|nodes| {
        let tree = proptest::collection::vec((any::<prop::sample::Index>(), ohm()), nodes - 1);
        let node = 0..nodes;
        let more = proptest::collection::vec((node.clone(), node.clone(), ohm()), 0..12);
        let switches = proptest::collection::vec((node.clone(), node.clone(), any::<bool>()), 0..5);
        let sources =
            proptest::collection::vec((node.clone(), node.clone(), -150.0..150.0, ohm()), 1..4);
        let currents = proptest::collection::vec((node.clone(), node, -5.0..5.0), 0..2);
        let ideal = proptest::collection::vec((0..nodes, -150.0..150.0_f64), 0..3);
        (tree, more, switches, sources, currents, ideal).prop_map(
            move |(tree, more, switches, sources, currents, ideal)| {
                let mut branches = Vec::new();
                for (at, (to, ohm)) in tree.into_iter().enumerate() {
                    branches.push(Branch::Resistor { a: at + 1, b: to.index(at + 1), ohm });
                }
                let apart = |a: usize, b: usize| a != b;
                branches.extend(
                    more.into_iter()
                        .filter(|&(a, b, _)| apart(a, b))
                        .map(|(a, b, ohm)| Branch::Resistor { a, b, ohm }),
                );
                branches.extend(
                    switches
                        .into_iter()
                        .filter(|&(a, b, _)| apart(a, b))
                        .map(|(a, b, closed)| Branch::Switch { a, b, closed }),
                );
                branches.extend(sources.into_iter().map(|(plus, minus, volt, ohm)| {
                    let minus = if apart(plus, minus) { minus } else { (plus + 1) % nodes };
                    Branch::Source { plus, minus, volt, ohm }
                }));
                branches.extend(
                    currents
                        .into_iter()
                        .filter(|&(a, b, _)| apart(a, b))
                        .map(|(from, to, ampere)| Branch::Current { from, to, ampere }),
                );
                // Ideal sources, each onto a node of its own with a load behind it.
                let mut nodes = nodes;
                for (on, volt) in ideal {
                    branches.push(Branch::Source { plus: nodes, minus: on, volt, ohm: 0.0 });
                    branches.push(Branch::Resistor { a: nodes, b: (on + 1) % 3, ohm: 10.0 });
                    nodes += 1;
                }
                Random { nodes, branches }
            },
        )
    })
}

fn network(random: &Random) -> Network {
    let mut network = Network::new(random.nodes);
    for branch in &random.branches {
        network.add(*branch);
    }
    network
}

/// Node potentials above node 0 from the full equations: node laws, and one more unknown (the
/// current) for every ideal branch.
fn dense(random: &Random) -> Vec<f64> {
    let ideal: Vec<(usize, usize, f64)> = random
        .branches
        .iter()
        .filter_map(|branch| match *branch {
            Branch::Switch { a, b, closed: true } => Some((a, b, 0.0)),
            Branch::Source { plus, minus, volt, ohm: 0.0 } => Some((plus, minus, volt)),
            _ => None,
        })
        .collect();
    let size = random.nodes + ideal.len();
    let mut matrix = vec![vec![0.0; size]; size];
    let mut right = vec![0.0; size];
    for branch in &random.branches {
        let (a, b, siemens, push) = match *branch {
            Branch::Resistor { a, b, ohm } => (a, b, 1.0 / ohm, 0.0),
            Branch::Source { plus, minus, volt, ohm } if ohm > 0.0 => {
                (plus, minus, 1.0 / ohm, volt / ohm)
            }
            Branch::Current { from, to, ampere } => (from, to, 0.0, -ampere),
            _ => continue,
        };
        matrix[a][a] += siemens;
        matrix[b][b] += siemens;
        matrix[a][b] -= siemens;
        matrix[b][a] -= siemens;
        right[a] += push;
        right[b] -= push;
    }
    for (index, &(plus, minus, volt)) in ideal.iter().enumerate() {
        let row = random.nodes + index;
        matrix[plus][row] += 1.0;
        matrix[minus][row] -= 1.0;
        matrix[row][plus] += 1.0;
        matrix[row][minus] -= 1.0;
        right[row] = volt;
    }
    // Node 0 is the reference: its law is replaced by "potential 0".
    matrix[0].fill(0.0);
    matrix[0][0] = 1.0;
    right[0] = 0.0;
    gauss(matrix, right).into_iter().take(random.nodes).collect()
}

/// Gaussian elimination with full pivoting. Rings of closed switches leave the last pivots at 0:
/// their currents are undetermined and set to 0.
fn gauss(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    let size = right.len();
    let mut columns: Vec<usize> = (0..size).collect();
    let mut rank = size;
    for step in 0..size {
        let (row, column) = (step..size)
            .flat_map(|row| (step..size).map(move |column| (row, column)))
            .max_by(|a, b| matrix[a.0][a.1].abs().total_cmp(&matrix[b.0][b.1].abs()))
            .unwrap();
        if matrix[row][column].abs() < 1e-12 {
            rank = step;
            break;
        }
        matrix.swap(step, row);
        right.swap(step, row);
        matrix.iter_mut().for_each(|line| line.swap(step, column));
        columns.swap(step, column);
        let pivot = matrix[step].clone();
        for below in step + 1..size {
            let factor = matrix[below][step] / pivot[step];
            let line = matrix[below].iter_mut().zip(&pivot).skip(step);
            line.for_each(|(value, taken)| *value -= factor * taken);
            right[below] -= factor * right[step];
        }
    }
    let mut solved = vec![0.0; size];
    for step in (0..rank).rev() {
        let known: f64 = (step + 1..size).map(|at| matrix[step][at] * solved[at]).sum();
        solved[step] = (right[step] - known) / matrix[step][step];
    }
    let mut values = vec![0.0; size];
    columns.iter().zip(solved).for_each(|(&column, value)| values[column] = value);
    values
}

/// Ideal sources that closed switches set against each other have no solution; both sides know.
fn solvable(random: &Random) -> Option<fiftytwo_circuit::Solution> {
    match network(random).solve() {
        Ok(solution) => Some(solution),
        Err(NetworkError::Shorted { .. } | NetworkError::Shared { .. }) => None,
        Err(other) => panic!("{other}"),
    }
}

fn scale(random: &Random) -> f64 {
    random
        .branches
        .iter()
        .map(|branch| match *branch {
            Branch::Source { volt, .. } => volt.abs(),
            Branch::Current { ampere, .. } => ampere.abs(),
            _ => 0.0,
        })
        .fold(1.0, f64::max)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn potentials_are_those_of_the_dense_equations(random in random()) {
        let Some(solution) = solvable(&random) else { return Ok(()) };
        let dense = dense(&random);
        // A current of amperes may cross a megohm: compare with the largest potential.
        let largest = dense.iter().fold(scale(&random), |most, volt| most.max(volt.abs()));
        for (node, expected) in dense.iter().enumerate() {
            let found = solution.voltage(node, 0).unwrap();
            let off = (found - expected).abs();
            // Full pivoting loses up to a few digits over nine orders of magnitude.
            prop_assert!(off <= 1e-6 * largest, "node {}: {} instead of {}", node, found, expected);
        }
    }

    #[test]
    fn currents_into_every_node_sum_to_zero(random in random()) {
        let Some(solution) = solvable(&random) else { return Ok(()) };
        let mut sums = vec![0.0_f64; random.nodes];
        let mut known = vec![true; random.nodes];
        let mut largest = 0.0_f64;
        for (branch, data) in random.branches.iter().enumerate() {
            let (a, b) = data.nodes();
            match solution.current(branch) {
                Some(current) => {
                    sums[a] -= current;
                    sums[b] += current;
                    largest = largest.max(current.abs());
                }
                None => {
                    known[a] = false;
                    known[b] = false;
                }
            }
        }
        for node in (0..random.nodes).filter(|&node| known[node]) {
            prop_assert!(sums[node].abs() <= 1e-6 * largest.max(1e-9), "node {}: {} A", node, sums[node]);
        }
    }

    #[test]
    fn the_effect_of_all_sources_is_the_sum_of_their_effects(random in random()) {
        let Some(whole) = solvable(&random) else { return Ok(()) };
        let mut sum = vec![0.0; random.nodes];
        for at in 0..random.branches.len() {
            let mut alone = random.clone();
            let mut is_source = false;
            for (index, branch) in alone.branches.iter_mut().enumerate() {
                match branch {
                    Branch::Source { volt, .. } if index == at => is_source = *volt != 0.0,
                    Branch::Current { ampere, .. } if index == at => is_source = *ampere != 0.0,
                    Branch::Source { volt, .. } => *volt = 0.0,
                    Branch::Current { ampere, .. } => *ampere = 0.0,
                    _ => {}
                }
            }
            if is_source {
                let solution = network(&alone).solve().unwrap();
                for (node, total) in sum.iter_mut().enumerate() {
                    *total += solution.voltage(node, 0).unwrap();
                }
            }
        }
        let largest = sum.iter().fold(scale(&random), |most, volt: &f64| most.max(volt.abs()));
        for (node, expected) in sum.iter().enumerate() {
            let off = (whole.voltage(node, 0).unwrap() - expected).abs();
            prop_assert!(off <= 1e-7 * largest, "node {}", node);
        }
    }
}

#[test]
fn what_nothing_holds_has_no_number() {
    let mut network = Network::new(5);
    network.source(1, 0, 10.0, 1.0);
    let load = network.resistor(1, 0, 9.0);
    network.resistor(2, 3, 5.0);
    network.switch(1, 4, false);
    let solution = network.solve().unwrap();
    assert_eq!(solution.potential(2), None);
    assert_eq!(solution.potential(4), None);
    assert_eq!(solution.potential(0), Some(0.0));
    assert!((solution.current(load).unwrap() - 1.0).abs() < 1e-12);
}

#[test]
fn a_shorted_ideal_source_is_named() {
    let mut network = Network::new(2);
    network.resistor(1, 0, 10.0);
    let source = network.source(1, 0, 125.0, 0.0);
    network.switch(1, 0, true);
    assert_eq!(network.solve(), Err(NetworkError::Shorted { source }));
}

#[test]
fn two_equal_ideal_sources_side_by_side_share_in_no_determined_way() {
    let mut network = Network::new(2);
    network.source(1, 0, 125.0, 0.0);
    let second = network.source(1, 0, 125.0, 0.0);
    assert_eq!(network.solve(), Err(NetworkError::Shared { source: second }));
}

#[test]
fn a_current_without_a_way_back_is_refused() {
    let mut network = Network::new(3);
    network.add(Branch::Current { from: 0, to: 2, ampere: 1.0 });
    network.resistor(0, 1, 10.0);
    assert!(matches!(network.solve(), Err(NetworkError::Stranded { .. })));
}

#[test]
fn the_current_of_a_shorted_battery_finds_its_way_back() {
    // 150 kA round a switch beside milliamperes elsewhere: what rounding leaves is not stranded.
    let mut network = Network::new(4);
    network.source(2, 0, 1.7e-3, 3.3);
    let battery = network.source(1, 0, 149.3, 1.1e-3);
    network.switch(1, 0, true);
    network.resistor(2, 3, 7.0);
    network.resistor(3, 1, 11.0);
    let solution = network.solve().unwrap();
    assert!((solution.current(battery).unwrap() + 149.3 / 1.1e-3).abs() < 1e-6);
}

#[test]
fn potentials_count_from_the_lowest_pole() {
    // A battery with its middle tied to nothing, and a second one floating on top of it.
    let mut network = Network::new(4);
    network.source(1, 0, 48.0, 0.1);
    network.source(3, 2, 125.0, 0.1);
    network.switch(2, 1, true);
    network.resistor(3, 0, 1e6);
    let solution = network.solve().unwrap();
    assert_eq!(solution.potential(0), Some(0.0));
    assert!((solution.potential(3).unwrap() - 173.0).abs() < 1e-3);
}

#[test]
fn a_ring_of_switches_has_no_current_of_its_own() {
    let mut network = Network::new(3);
    network.source(1, 0, 10.0, 0.0);
    let (one, two) = (network.switch(1, 2, true), network.switch(1, 2, true));
    let load = network.resistor(2, 0, 5.0);
    let solution = network.solve().unwrap();
    assert_eq!(solution.current(one), None);
    assert_eq!(solution.current(two), None);
    assert!((solution.current(load).unwrap() - 2.0).abs() < 1e-12);
}

#[test]
fn diodes_choose_the_higher_of_two_supplies() {
    let feed = |one: f64, two: f64| {
        let mut network = Network::new(4);
        network.source(1, 0, one, 0.01);
        network.source(2, 0, two, 0.01);
        network.add(Branch::Diode { anode: 1, cathode: 3 });
        network.add(Branch::Diode { anode: 2, cathode: 3 });
        network.resistor(3, 0, 100.0);
        let solution = network.solve().unwrap();
        (solution.potential(3).unwrap(), solution.current(2).unwrap(), solution.current(3).unwrap())
    };
    let (volt, first, second) = feed(130.0, 120.0);
    assert!((volt - 130.0).abs() < 0.05 && (first - 1.3).abs() < 1e-3 && second == 0.0);
    let (volt, first, second) = feed(110.0, 120.0);
    assert!((volt - 120.0).abs() < 0.05 && first == 0.0 && (second - 1.2).abs() < 1e-3);
}

#[test]
fn a_bridge_of_diodes_settles_either_way() {
    for direction in [1.0, -1.0] {
        let mut network = Network::new(4);
        network.source(0, 1, 24.0 * direction, 0.5);
        for (anode, cathode) in [(0, 2), (1, 2), (3, 0), (3, 1)] {
            network.add(Branch::Diode { anode, cathode });
        }
        let load = network.resistor(2, 3, 47.5);
        let current = network.solve().unwrap().current(load).unwrap();
        assert!((current - 0.5).abs() < 1e-3, "{current}");
    }
}
