//! The solver for many positions of one network: against published ladders and regular networks,
//! against the general solver on random networks, and against a dense solve written here.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_circuit::fast::{Shorted, Solver, Sweep, SweepError};
use fiftytwo_circuit::network::{Branch, Network};
use proptest::prelude::*;

fn assert_close(found: f64, expected: f64, what: &str) {
    let off = (found - expected).abs();
    assert!(off <= 1e-12 * expected.abs(), "{what}: {found} instead of {expected}");
}

fn volts(network: &Network, asked: &[(usize, usize)]) -> Vec<f64> {
    Sweep::new(network, asked).unwrap().solver().volts().unwrap().to_vec()
}

/// Node k of a ladder of n sections of 1 ohm in series and 1 ohm across, fed with 1 V, is at
/// F(2(n-k)+1) / F(2n+1) volts, F the Fibonacci numbers (open textbooks on ladder networks).
#[test]
fn ladders_fall_off_as_fibonacci_says() {
    let mut fibonacci = vec![0.0, 1.0];
    for at in 2..64 {
        fibonacci.push(fibonacci[at - 1] + fibonacci[at - 2]);
    }
    for n in (1..=10).chain([30]) {
        let mut network = Network::new(n + 2);
        network.source(1, 0, 1.0, 0.0);
        for k in 1..=n {
            network.resistor(k, k + 1, 1.0);
            network.resistor(k + 1, 0, 1.0);
        }
        let asked: Vec<(usize, usize)> = (0..=n).map(|k| (k + 1, 0)).collect();
        for (k, volt) in volts(&network, &asked).into_iter().enumerate() {
            let expected = fibonacci[2 * (n - k) + 1] / fibonacci[2 * n + 1];
            assert_close(volt, expected, &format!("node {k} of {n}"));
        }
        let last = volts(&network, &[(n + 1, 0)])[0];
        assert_close(last, 1.0 / fibonacci[2 * n + 1], "asked alone");
    }
}

fn edges_at_distance(points: usize, joined: impl Fn(usize, usize) -> bool) -> Vec<(usize, usize)> {
    (0..points)
        .flat_map(|a| (a + 1..points).map(move |b| (a, b)))
        .filter(|&(a, b)| joined(a, b))
        .collect()
}

fn grid(n: usize) -> Vec<(usize, usize)> {
    edges_at_distance(n * n, |a, b| (b == a + 1 && b % n != 0) || b == a + n)
}

/// Two-point resistances of networks of 1 ohm edges, textbook results.
#[test]
fn regular_networks_have_their_textbook_resistance() {
    let cube = edges_at_distance(8, |a, b| (a ^ b).count_ones() == 1);
    let octahedron = edges_at_distance(6, |a, b| a + b != 5);
    let mut cases = vec![
        ("edge of a cube", cube.clone(), (0, 1), 7.0 / 12.0),
        ("face diagonal of a cube", cube.clone(), (0, 3), 0.75),
        ("body diagonal of a cube", cube, (0, 7), 5.0 / 6.0),
        ("tetrahedron", edges_at_distance(4, |_, _| true), (0, 1), 0.5),
        ("octahedron, adjacent", octahedron.clone(), (0, 1), 5.0 / 12.0),
        ("octahedron, opposite", octahedron, (0, 5), 0.5),
        ("ring of 8", edges_at_distance(8, |a, b| b == a + 1 || b == a + 7), (0, 3), 15.0 / 8.0),
        ("grid of 3", grid(3), (0, 8), 1.5),
        ("grid of 4", grid(4), (0, 15), 13.0 / 7.0),
        ("grid of 5", grid(5), (0, 24), 47.0 / 22.0),
    ];
    for n in 3..=7 {
        cases.push(("complete", edges_at_distance(n, |_, _| true), (0, 1), 2.0 / n as f64));
    }
    for (name, edges, (a, b), ohm) in cases {
        let mut network = Network::new(25);
        network.source(a, b, 1.0, 1.0);
        edges.iter().for_each(|&(a, b)| _ = network.resistor(a, b, 1.0));
        assert_close(volts(&network, &[(a, b)])[0], ohm / (1.0 + ohm), name);
    }
}

#[derive(Debug, Clone)]
struct Random {
    nodes: usize,
    branches: Vec<Branch>,
    asked: Vec<(usize, usize)>,
    moves: Vec<usize>,
}

/// Milliohms to megohms, evenly by order of magnitude.
fn ohm() -> impl Strategy<Value = f64> {
    (-3..6, 1.0..10.0_f64).prop_map(|(power, digits)| digits * 10_f64.powi(power))
}

fn random() -> impl Strategy<Value = Random> {
    (3..40_usize).prop_flat_map(|nodes| {
        let node = 0..nodes;
        let resistors = proptest::collection::vec((node.clone(), node.clone(), ohm()), 1..60);
        let ideal = proptest::collection::vec((node.clone(), node.clone()), 0..3);
        let switches =
            proptest::collection::vec((node.clone(), node.clone(), any::<bool>()), 1..30);
        // Legs: chains of contacts and resistances between any two nodes.
        let legs = proptest::collection::vec((node.clone(), node.clone(), 1..5_usize, ohm()), 0..8);
        let asked = proptest::collection::vec((node.clone(), node.clone()), 1..12);
        let source = (node, 0.0..2.0_f64);
        let moves = proptest::collection::vec(any::<prop::sample::Index>(), 0..24);
        (resistors, ideal, switches, legs, asked, source, moves).prop_map(
            move |(resistors, ideal, switches, legs, asked, (minus, ohm), moves)| {
                let mut branches: Vec<Branch> = resistors
                    .into_iter()
                    .map(|(a, b, ohm)| Branch::Resistor { a, b, ohm })
                    .collect();
                branches.extend(ideal.into_iter().map(|(a, b)| Branch::Resistor {
                    a,
                    b,
                    ohm: 0.0,
                }));
                branches.extend(switches.into_iter().map(|(a, b, closed)| Branch::Switch {
                    a,
                    b,
                    closed,
                }));
                let (mut nodes, mut asked) = (nodes, asked);
                for (from, to, contacts, ohm) in legs {
                    let mut at = from;
                    for contact in 0..contacts {
                        branches.push(Branch::Switch { a: at, b: nodes, closed: contact != 2 });
                        at = nodes;
                        nodes += 1;
                    }
                    branches.push(Branch::Resistor { a: at, b: nodes, ohm: ohm / 100.0 });
                    branches.push(Branch::Resistor { a: nodes, b: to, ohm });
                    asked.push((nodes, to));
                    nodes += 1;
                }
                let plus = (minus + 1) % 3;
                branches.push(Branch::Source { plus, minus, volt: 125.0, ohm });
                let contacts = branches
                    .iter()
                    .filter(|branch| matches!(branch, Branch::Switch { .. }))
                    .count();
                let moves = moves.into_iter().map(|index| index.index(contacts)).collect();
                Random { nodes, branches, asked, moves }
            },
        )
    })
}

fn network(nodes: usize, branches: &[Branch]) -> Network {
    let mut network = Network::new(nodes);
    branches.iter().for_each(|&branch| _ = network.add(branch));
    network
}

fn bits(volts: Result<&[f64], Shorted>) -> Result<Vec<u64>, Shorted> {
    volts.map(|volts| volts.iter().map(|volt| volt.to_bits()).collect())
}

/// The solver says what the general solver says; and moved, remembered and afresh are the same
/// to the last bit.
fn agrees(
    random: &Random,
    branches: &[Branch],
    solver: &mut Solver<'_>,
    sharing: &mut Solver<'_>,
) -> Result<(), TestCaseError> {
    let moved = bits(solver.volts());
    prop_assert_eq!(&moved, &bits(sharing.volts()));
    solver.forget();
    prop_assert_eq!(&moved, &bits(solver.volts()));
    let Ok(volts) = solver.volts() else {
        // A dead short: the general solver says so too, or puts next to all of the voltage across
        // the resistance inside of the source.
        let solved = network(random.nodes, branches).solve();
        let (plus, minus) = branches
            .iter()
            .find_map(|branch| match *branch {
                Branch::Source { plus, minus, .. } => Some((plus, minus)),
                _ => None,
            })
            .unwrap();
        prop_assert!(solved.is_err() || solved.unwrap().voltage(plus, minus).unwrap().abs() < 1e-9);
        return Ok(());
    };
    let solution = network(random.nodes, branches).solve().unwrap();
    for (&found, &(a, b)) in volts.iter().zip(&random.asked) {
        match solution.voltage(a, b) {
            None => prop_assert!(found.is_nan(), "{a} {b} floats, {found}"),
            Some(expected) => prop_assert!(
                (found - expected).abs() <= 1e-9 * expected.abs() + 1e-11,
                "{a} {b}: {found} instead of {expected}"
            ),
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn random_networks_at_random_positions_agree_with_the_general_solver(random in random()) {
        let mut branches = random.branches.clone();
        let sweep = match Sweep::new(&network(random.nodes, &branches), &random.asked) {
            Ok(sweep) => sweep,
            Err(error) => {
                prop_assert_eq!(error, SweepError::Shorted);
                return Ok(());
            }
        };
        let (mut solver, mut sharing) = (sweep.solver(), sweep.sharing_solver());
        agrees(&random, &branches, &mut solver, &mut sharing)?;
        let contacts: Vec<usize> = (0..branches.len())
            .filter(|&at| matches!(branches[at], Branch::Switch { .. }))
            .collect();
        for &contact in &random.moves {
            if let Branch::Switch { closed, .. } = &mut branches[contacts[contact]] {
                *closed = !*closed;
                let now = *closed;
                prop_assert!(solver.set(contact, now) && sharing.set(contact, now));
            }
            agrees(&random, &branches, &mut solver, &mut sharing)?;
        }
    }
}

#[test]
fn a_coil_behind_an_open_contact_has_no_volts_and_the_wire_between_two_open_contacts_floats() {
    let mut network = Network::new(4);
    network.source(1, 0, 125.0, 0.0);
    network.switch(1, 2, true);
    network.switch(2, 3, false);
    network.resistor(3, 0, 40.0);
    let sweep = Sweep::new(&network, &[(2, 0), (3, 0)]).unwrap();
    let mut solver = sweep.solver();
    assert_eq!(solver.volts(), Ok(&[125.0, 0.0][..]));
    assert!(solver.set(0, false) && !solver.set(2, true));
    assert_eq!(solver.volts().map(<[f64]>::len), Ok(2));
    assert_eq!((solver.volt(0), solver.volt(1), solver.volt(2)), (None, Some(0.0), None));
    solver.put(&[0b11]);
    assert_eq!(solver.volts(), Ok(&[125.0, 125.0][..]));
}

#[test]
fn a_short_is_said_and_forgotten_when_its_contact_opens() {
    let mut network = Network::new(2);
    network.source(1, 0, 125.0, 0.014);
    network.switch(1, 0, true);
    network.resistor(1, 0, 40.0);
    let sweep = Sweep::new(&network, &[(1, 0)]).unwrap();
    let mut solver = sweep.solver();
    assert_eq!(solver.volts(), Err(Shorted));
    assert_eq!(solver.volt(0), None);
    solver.set(0, false);
    assert_close(solver.volts().unwrap()[0], 125.0 * 40.0 / 40.014, "open");
}

#[test]
fn what_it_cannot_solve_is_refused_by_name() {
    let refuse = |change: &dyn Fn(&mut Network)| {
        let mut network = Network::new(3);
        network.source(1, 0, 125.0, 0.0);
        change(&mut network);
        Sweep::new(&network, &[]).unwrap_err()
    };
    let source = refuse(&|network| _ = network.source(2, 0, 1.0, 0.0));
    assert_eq!(source, SweepError::SecondSource { branch: 1 });
    let diode = refuse(&|network| _ = network.add(Branch::Diode { anode: 1, cathode: 2 }));
    assert_eq!(diode, SweepError::Unsuited { branch: 1 });
    assert_eq!(refuse(&|n| _ = n.resistor(1, 2, -1.0)), SweepError::Invalid { branch: 1 });
    assert_eq!(refuse(&|n| _ = n.resistor(1, 2, f64::NAN)), SweepError::Invalid { branch: 1 });
    assert_eq!(refuse(&|n| _ = n.resistor(1, 0, 0.0)), SweepError::Shorted);
    assert_eq!(Sweep::new(&Network::new(1), &[]).unwrap_err(), SweepError::NoSource);
}
