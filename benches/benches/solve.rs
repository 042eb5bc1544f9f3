//! A circuit solve against a dense solve by a general linear-algebra library.
//!
//! The circuit: ten legs between two rails behind a fuse each, as in a close and trip circuit far
//! from the house. Leg k (0 to 9) has, from plus to minus: two contacts, a core of 350 m, three
//! more contacts, a coil of 40 + 200 k ohm, onto a common return of one core. A lamp of 15 kohm
//! stands across the first two contacts of every other leg. 10 legs of 6 nodes and 4 nodes of
//! rails: 64 nodes. In the positions solved, contact i of leg k is open where (k + 3 i + p) mod 7
//! is 0, p counting up from solve to solve.
//!
//! Ours: from the positions to the voltage across every coil, with nothing kept but the order of
//! elimination. Theirs: the nodal matrix of the same circuit at the same positions, assembled
//! beforehand and not counted; only factorising and solving is. Once with a closed contact as
//! 1 milliohm and an open one as 1e9 ohm (all nodes, as one would hand the circuit to a library),
//! once with closed contacts merged and dead nodes taken out (the least there is to solve).

use divan::{Bencher, black_box};
use faer::linalg::solvers::Solve;
use faer::{Mat, Side};
use fiftytwo_circuit::{AtCorner, Battery, Heat, Positions, Supplies, Wiring};
use fiftytwo_scheme::{Scheme, read_text};
use std::fmt::Write as _;

const LEGS: usize = 10;
const CONTACTS: usize = 5;
const VOLTS: f64 = 105.0;
const SUPPLY_OHM: f64 = 0.014;
/// 10 AWG at 20 C (both places), ohm for 350 m: NEC chapter 9 table 8 by the copper law.
const CORE_OHM: f64 = 1.24 / 304.8 * 350.0 / 1.216_15;
const LAMP_OHM: f64 = 125.0 / 0.008;

fn coil_ohm(leg: usize) -> f64 {
    40.0 + 200.0 * leg as f64
}

fn is_open(leg: usize, contact: usize, p: usize) -> bool {
    (leg + 3 * contact + p).is_multiple_of(7)
}

fn text() -> String {
    let mut text = String::from(
        r#"scheme "Ten legs"
place "HOUSE" "House" ambient="20 to 20 C"
place "YARD" "Yard" ambient="20 to 20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
cable "C1" from="HOUSE" to="YARD" length="350 m" size="10 AWG" cores=11
condition "go"
"#,
    );
    for leg in 0..LEGS {
        let _ = writeln!(
            text,
            "sensor \"H{leg}\" place=\"HOUSE\" {{ contact \"0\" \"1\" closed-when=\"go\" }}"
        );
        let _ = writeln!(
            text,
            "sensor \"Y{leg}\" place=\"YARD\" {{ contact \"2\" \"3\" \"4\" closed-when=\"go\" }}"
        );
        let _ = writeln!(
            text,
            "relay \"K{leg}\" place=\"YARD\" {{ coil resistance=\"{} ohm\" pickup=\"50 to 70 V\" }}",
            coil_ohm(leg)
        );
    }
    text.push_str(
        "circuit \"Legs\" supply=\"DC1\" {\n    feed { fuse \"F1\" \"30 A\"; wire \"P\" }\n",
    );
    text.push_str("    return { wire \"N\"; fuse \"F2\" \"30 A\" }\n");
    for leg in 0..LEGS {
        let _ = writeln!(text, "    leg \"Coil {leg}\" from=\"P\" to=\"NY\" {{");
        let _ = writeln!(text, "        contact \"H{leg}\" \"0\"");
        let _ = writeln!(text, "        contact \"H{leg}\" \"1\"");
        let _ = writeln!(text, "        wire \"T{leg}\"");
        let _ = writeln!(text, "        core \"C1\" {} into=\"YARD\"", leg + 1);
        for contact in 2..CONTACTS {
            let _ = writeln!(text, "        contact \"Y{leg}\" \"{contact}\"");
        }
        let _ = writeln!(text, "        coil \"K{leg}\"");
        text.push_str("    }\n");
        if leg % 2 == 0 {
            let _ = writeln!(
                text,
                "    leg \"Lamp {leg}\" from=\"P\" to=\"T{leg}\" {{ lamp \"L{leg}\" \"8 mA\" }}"
            );
        }
    }
    text.push_str(
        "    leg \"Common return\" from=\"NY\" to=\"N\" { core \"C1\" 11 into=\"HOUSE\" }\n}\n",
    );
    text
}

fn scheme() -> Scheme {
    let reading = read_text("ten-legs.kdl", &text());
    let told: Vec<&str> = reading.findings.iter().map(|found| found.message.as_str()).collect();
    reading.scheme.unwrap_or_else(|| panic!("{}", told.join("\n")))
}

/// The seven positions.
fn keys(wiring: &Wiring<'_>) -> Vec<Positions> {
    let section = wiring.sections().next().expect("one section");
    (0..7)
        .map(|p| {
            wiring.positions(section, |part| {
                let name = &wiring.scheme().parts[part].name;
                let Some((device, contact)) = name.split_once(' ') else { return true };
                let leg = device[1..].parse().expect("a leg");
                !is_open(leg, contact.parse().expect("a contact"), p)
            })
        })
        .collect()
}

/// Ohms between nodes; node 0 is the minus pole.
struct Dense {
    nodes: usize,
    branches: Vec<(usize, usize, f64)>,
}

fn dense(p: usize) -> Dense {
    // 1 plus rail, 2 return in the yard, 3 minus rail; the fuses are contacts that are closed.
    let mut branches = vec![(1, 4, 1e-3), (3, 0, 1e-3), (2, 3, CORE_OHM)];
    let mut nodes = 5;
    for leg in 0..LEGS {
        let chain: Vec<usize> =
            std::iter::once(1).chain(nodes..nodes + 6).chain(std::iter::once(2)).collect();
        nodes += 6;
        let contact = |at: usize| if is_open(leg, at, p) { 1e9 } else { 1e-3 };
        let ohms =
            [contact(0), contact(1), CORE_OHM, contact(2), contact(3), contact(4), coil_ohm(leg)];
        for (pair, ohm) in chain.windows(2).zip(ohms) {
            branches.push((pair[0], pair[1], ohm));
        }
        if leg % 2 == 0 {
            branches.push((1, chain[2], LAMP_OHM));
        }
    }
    Dense { nodes, branches }
}

impl Dense {
    /// The nodal matrix without node 0, the right side, and for each leg the rows of its coil.
    fn matrix(&self) -> (Mat<f64>, Mat<f64>) {
        let size = self.nodes - 1;
        let mut matrix = Mat::zeros(size, size);
        let mut right = Mat::zeros(size, 1);
        for &(a, b, ohm) in &self.branches {
            for (from, to) in [(a, b), (b, a)] {
                if from > 0 {
                    matrix[(from - 1, from - 1)] += 1.0 / ohm;
                    if to > 0 {
                        matrix[(from - 1, to - 1)] -= 1.0 / ohm;
                    }
                }
            }
        }
        // The supply between node 4 and node 0.
        matrix[(3, 3)] += 1.0 / SUPPLY_OHM;
        right[(3, 0)] = VOLTS / SUPPLY_OHM;
        (matrix, right)
    }
    /// The same with closed contacts merged and nodes that nothing feeds taken out.
    fn reduced(&self) -> Self {
        let mut one: Vec<usize> = (0..self.nodes).collect();
        for _ in 0..self.nodes {
            for &(a, b, ohm) in self.branches.iter().filter(|(_, _, ohm)| *ohm < 1e-2) {
                let _ = ohm;
                let least = one[a].min(one[b]);
                (one[a], one[b]) = (least, least);
            }
        }
        let kept: Vec<(usize, usize, f64)> = self
            .branches
            .iter()
            .filter(|(_, _, ohm)| *ohm > 1e-2 && *ohm < 1e8)
            .map(|&(a, b, ohm)| (one[a], one[b], ohm))
            .collect();
        // Node 4, where the supply stands, keeps its number.
        let mut number = vec![usize::MAX; self.nodes];
        let (mut next, mut branches) = (1, Vec::new());
        let supply = one[4];
        let place = |node: usize, number: &mut Vec<usize>, next: &mut usize| {
            if node == one[0] {
                return 0;
            }
            if node == supply {
                return 4;
            }
            if number[node] == usize::MAX {
                if *next == 4 {
                    *next += 1;
                }
                number[node] = *next;
                *next += 1;
            }
            number[node]
        };
        for (a, b, ohm) in kept {
            let (a, b) = (place(a, &mut number, &mut next), place(b, &mut number, &mut next));
            if a != b {
                branches.push((a, b, ohm));
            }
        }
        Self { nodes: next, branches }
    }
}

fn at_corner<'w>(wiring: &'w Wiring<'_>) -> AtCorner<'w> {
    let section = wiring.sections().next().expect("one section");
    wiring.at_corner(section, Battery::Low, Heat::Hot, Heat::Cold).expect("one supply")
}

fn main() {
    agree();
    divan::main();
}

/// Both must say the same before their times mean anything.
fn agree() {
    let scheme = scheme();
    let wiring = Wiring::new(&scheme).expect("a sound scheme");
    let mut ours = at_corner(&wiring);
    let section = wiring.sections().next().expect("one section");
    for (p, key) in keys(&wiring).iter().enumerate() {
        let volts = ours.volts(key).to_vec();
        let dense = dense(p);
        let (matrix, right) = dense.matrix();
        let solved = matrix.llt(Side::Lower).expect("positive definite").solve(&right);
        for (at, part) in wiring.loads(section).iter().enumerate() {
            let name = &scheme.parts[*part].name;
            if let Some(leg) = name.strip_prefix('K').and_then(|leg| leg.parse::<usize>().ok()) {
                // The coil hangs between the last node of its leg and the return.
                let last = 5 + 6 * leg + 5;
                let theirs = solved[(last - 1, 0)] - solved[(1, 0)];
                // Contacts of 1 milliohm, and 1e9 ohm that leaks: to a few millivolts.
                assert!((volts[at] - theirs).abs() < 5e-2, "{name} {p}: {} {theirs}", volts[at]);
            }
        }
    }
}

#[divan::bench]
fn ours(bencher: Bencher<'_, '_>) {
    let scheme = scheme();
    let wiring = Wiring::new(&scheme).expect("a sound scheme");
    let keys = keys(&wiring);
    let mut solver = at_corner(&wiring);
    let mut p = 0;
    bencher.bench_local(|| {
        p = (p + 1) % 7;
        black_box(solver.volts(black_box(&keys[p])).first().copied())
    });
}

/// The whole drive of all loads: four named corners, then each resistance at its own worse end.
#[divan::bench]
fn ours_all_corners(bencher: Bencher<'_, '_>) {
    let scheme = scheme();
    let wiring = Wiring::new(&scheme).expect("a sound scheme");
    let keys = keys(&wiring);
    let section = wiring.sections().next().expect("one section");
    let mut p = 0;
    bencher.bench_local(|| {
        p = (p + 1) % 7;
        black_box(wiring.drive_afresh(section, black_box(&keys[p]), Supplies::ALL))
    });
}

/// The same asked again: out of memory.
#[divan::bench]
fn ours_remembered(bencher: Bencher<'_, '_>) {
    let scheme = scheme();
    let wiring = Wiring::new(&scheme).expect("a sound scheme");
    let keys = keys(&wiring);
    let section = wiring.sections().next().expect("one section");
    let mut p = 0;
    bencher.bench_local(|| {
        p = (p + 1) % 7;
        black_box(wiring.drive(section, black_box(&keys[p]), Supplies::ALL))
    });
}

fn dense_solve(bencher: Bencher<'_, '_>, matrices: &[(Mat<f64>, Mat<f64>)], cholesky: bool) {
    let mut p = 0;
    bencher.bench_local(|| {
        p = (p + 1) % matrices.len();
        let (matrix, right) = black_box(&matrices[p]);
        if cholesky {
            black_box(matrix.llt(Side::Lower).expect("positive definite").solve(right))
        } else {
            black_box(matrix.partial_piv_lu().solve(right))
        }
    });
}

#[divan::bench]
fn dense_library_cholesky(bencher: Bencher<'_, '_>) {
    let matrices: Vec<_> = (0..7).map(|p| dense(p).matrix()).collect();
    dense_solve(bencher, &matrices, true);
}

#[divan::bench]
fn dense_library_lu(bencher: Bencher<'_, '_>) {
    let matrices: Vec<_> = (0..7).map(|p| dense(p).matrix()).collect();
    dense_solve(bencher, &matrices, false);
}

#[divan::bench]
fn dense_library_cholesky_reduced(bencher: Bencher<'_, '_>) {
    let matrices: Vec<_> = (0..7).map(|p| dense(p).reduced().matrix()).collect();
    dense_solve(bencher, &matrices, true);
}
