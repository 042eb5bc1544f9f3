//! What is timed, and how it is told.

use crate::circuit::{Dice, Legs};
use crate::library::{self, Equations};
use crate::simulator;
use fiftytwo_circuit::fast::Sweep;
use fiftytwo_circuit::network::Network;
use fiftytwo_circuit::transient::{Clamp, Coil, Course, Feed, Joined};
use std::hint::black_box;
use std::time::Instant;

pub struct Table {
    title: String,
    /// What, seconds for one.
    rows: Vec<(String, f64)>,
}

impl Table {
    fn new(title: String) -> Self {
        Self { title, rows: Vec::new() }
    }
    fn row(&mut self, what: &str, seconds: f64) {
        self.rows.push((what.to_owned(), seconds));
    }
    fn row_if(&mut self, what: &str, seconds: Option<f64>) {
        if let Some(seconds) = seconds {
            self.row(what, seconds);
        }
    }
    /// Times are told beside the first row's.
    pub fn print(&self) {
        println!("\n{}\n", self.title);
        println!("| what | µs each | a second | times the first |");
        println!("| --- | --- | --- | --- |");
        let first = self.rows.first().map_or(1.0, |(_, seconds)| *seconds);
        for (what, seconds) in &self.rows {
            let (micro, rate, ratio) = (seconds * 1e6, 1.0 / seconds, seconds / first);
            println!("| {what} | {micro:.3} | {rate:.0} | {ratio:.2} |");
        }
    }
}

/// Seconds for one of `times`, fastest of `rounds`.
pub fn fastest(rounds: usize, times: usize, mut once: impl FnMut(usize)) -> f64 {
    (0..rounds)
        .map(|_| {
            let start = Instant::now();
            (0..times).for_each(&mut once);
            start.elapsed().as_secs_f64() / times as f64
        })
        .fold(f64::INFINITY, f64::min)
}

fn agree(what: &str, ours: &[f64], theirs: &[f64]) {
    assert_eq!(ours.len(), theirs.len(), "{what}");
    let worst = ours
        .iter()
        .zip(theirs)
        .map(|(a, b)| if a == b { 0.0 } else { ((a - b) / b).abs() })
        .fold(0.0, f64::max);
    println!("{what}: worst relative difference at a coil {worst:.1e}");
    assert!(worst <= 1e-9, "{what}: {worst}");
}

pub fn solve(legs: usize) -> Table {
    let circuit = Legs::new(legs);
    let nodes = circuit.nodes - 1;
    let sweep = Sweep::new(&circuit.network(), &circuit.asked()).expect("one source");
    let mut solver = sweep.solver();
    let mut dice = Dice(legs as u64);
    let positions: Vec<Vec<u64>> = (0..64).map(|_| circuit.positions(&mut dice)).collect();
    for closed in &positions[..4] {
        solver.put(closed);
        let ours = solver.volts().expect("no short").to_vec();
        let left = circuit.left(closed);
        let equations = Equations::new(circuit.nodes, &left);
        let matrix = equations.sparse();
        let solved = library::sparse(&library::shape(&matrix), &matrix, &equations.right);
        agree("sparse library", &ours, &equations.of(&solved, &circuit.coils));
        if legs <= 100 {
            let solved = library::lu(&equations.dense(), &equations.right);
            agree("dense library", &ours, &equations.of(&solved, &circuit.coils));
            if let Some(theirs) = simulator::potentials(&left, &circuit.coils) {
                agree("simulator", &ours, &theirs);
            }
        }
    }

    let title = format!("{legs} legs, {nodes} nodes, {} blocks", sweep.blocks());
    let mut table = Table::new(title);
    let times = 20_000 / legs;
    table.row(
        "ours, from positions, every block anew",
        fastest(20, times, |at| {
            solver.forget();
            solver.put(&positions[at % 64]);
            black_box(solver.volts().map(<[f64]>::len)).expect("no short");
        }),
    );
    let contacts = circuit.contacts.len();
    table.row(
        "ours, one contact moved",
        fastest(20, 20_000, |at| {
            let contact = at * 7 % contacts;
            solver.set(contact, (at / contacts).is_multiple_of(2));
            black_box(solver.volts().map(<[f64]>::len)).expect("no short");
        }),
    );
    let all = circuit.branches(&positions[0]);
    let body = format!("alter r{} = 0.01\nop\ndestroy", circuit.resistors.len());
    let passes = if legs > 100 { 20 } else { 2000 };
    let simulated: Vec<f64> = (0..3).filter_map(|_| simulator::each(&all, &body, passes)).collect();
    table.row_if(
        "ngspice, alter and op in a running process",
        simulated.into_iter().reduce(f64::min),
    );
    let equations: Vec<Equations> = positions[..8]
        .iter()
        .map(|closed| Equations::new(circuit.nodes, &circuit.left(closed)))
        .collect();
    if legs <= 100 {
        let dense: Vec<_> = equations.iter().map(Equations::dense).collect();
        table.row(
            "dense library, Cholesky, matrix given, open contacts taken out",
            fastest(10, 2000, |at| {
                black_box(library::cholesky(&dense[at % 8], &equations[at % 8].right));
            }),
        );
        table.row(
            "dense library, LU, matrix given, open contacts taken out",
            fastest(10, 2000, |at| {
                black_box(library::lu(&dense[at % 8], &equations[at % 8].right));
            }),
        );
    }
    let matrices: Vec<_> = equations.iter().map(Equations::sparse).collect();
    let shapes: Vec<_> = matrices.iter().map(library::shape).collect();
    table.row(
        "sparse library, Cholesky, matrix and order given, open contacts taken out",
        fastest(10, 2000 / legs.min(100), |at| {
            let at = at % 8;
            black_box(library::sparse(&shapes[at], &matrices[at], &equations[at].right));
        }),
    );
    table
}

/// All 4,096 positions of the first twelve contacts of ten legs.
pub fn sweep() -> Table {
    let circuit = Legs::new(10);
    let sweep = Sweep::new(&circuit.network(), &circuit.asked()).expect("one source");
    let rest = circuit.positions(&mut Dice(10))[0] & !0xFFF;
    let gray: Vec<u64> = (0..4096_u64).map(|step| rest | (step ^ (step >> 1))).collect();

    // The worst of all positions, against a dense solve of what is left.
    let (mut solver, mut sharing) = (sweep.solver(), sweep.sharing_solver());
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for &closed in &gray {
        solver.put(&[closed]);
        sharing.put(&[closed]);
        let volts = solver.volts().expect("no short").to_vec();
        assert_eq!(sharing.volts(), Ok(&volts[..]), "sharing changes no bit");
        let equations = Equations::new(circuit.nodes, &circuit.left(&[closed]));
        let solved = library::lu(&equations.dense(), &equations.right);
        theirs.extend(equations.of(&solved, &circuit.coils));
        ours.extend(volts);
    }
    agree("all 4,096 positions, dense library", &ours, &theirs);

    let mut table = Table::new("4,096 positions of 12 contacts, 10 legs".to_owned());
    let mut run = |what: &str, anew: bool, shares: bool| {
        let mut solver = if shares { sweep.sharing_solver() } else { sweep.solver() };
        let seconds = fastest(30, 4096, |at| {
            if anew {
                solver.forget();
            }
            solver.put(&gray[at..=at]);
            black_box(solver.volts().map(<[f64]>::len)).expect("no short");
        });
        table.row(what, seconds);
    };
    run("ours, every block anew at every position", true, false);
    run("ours, the touched block anew", false, false);
    run("ours, equal positions shared", false, true);
    let simulated: Vec<f64> = (0..3).filter_map(|_| simulator::sweep(&circuit, &[rest])).collect();
    table.row_if("ngspice, alter and op", simulated.into_iter().reduce(f64::min));
    let equations: Vec<Equations> = gray
        .iter()
        .map(|&closed| Equations::new(circuit.nodes, &circuit.left(&[closed])))
        .collect();
    let dense: Vec<_> = equations.iter().map(Equations::dense).collect();
    table.row(
        "dense library, Cholesky, matrices given, open contacts taken out",
        fastest(3, 4096, |at| {
            black_box(library::cholesky(&dense[at], &equations[at].right));
        }),
    );
    table
}

/// 200 ms of a coil that is let go onto a diode.
pub fn coil() -> Table {
    // The simulator's contact moves half a microsecond into ramps of one.
    const SHUT: f64 = 1.0005e-3;
    const OPENED: f64 = 100.0015e-3;
    let mut network = Network::new(4);
    network.source(1, 0, 125.0, 0.014);
    network.switch(1, 2, true);
    network.resistor(2, 3, 0.01);
    let coil = Coil { ohm: 40.0, henry: 0.4 };
    let clamp = Clamp::junction(1e-9, 1.8 * 0.025_864_9, 0.05, 125.0 / 40.0).expect("a diode");
    let feed = || Feed::seen(&network, 3, 0).expect("linear").expect("a way");
    let changes = |feed| [(SHUT, Joined::Fed(feed)), (OPENED, Joined::LetGo(clamp.clone()))];
    let given = changes(feed());
    let course = Course::new(coil, 0.0, &given).expect("a course");
    for step in ["0.1m", "1u"] {
        if let Some(theirs) = simulator::currents(step) {
            let ours = [0.02, 0.11, 0.13].map(|t| course.current(t));
            let off = |at: usize| ((ours[at] - theirs[at]) / theirs[at]).abs();
            println!(
                "coil, simulator with steps of {step}s: 20 ms {:.1e}, 110 ms {:.1e}, 130 ms {:.1e}",
                off(0),
                off(1),
                off(2)
            );
            assert!(off(0) < 1e-5 && off(1) < 2e-5 && off(2) < 1e-4);
        }
    }
    let mut table = Table::new("200 ms of a coil with a diode across it".to_owned());
    table.row(
        "ours, feed given: the whole course",
        fastest(20, 1000, |_| {
            black_box(Course::new(coil, 0.0, &given).expect("a course"));
        }),
    );
    table.row(
        "ours, from the network: feed, course",
        fastest(20, 1000, |_| {
            black_box(Course::new(coil, 0.0, &changes(feed())).expect("a course"));
        }),
    );
    table.row(
        "ours, the current at 2,001 instants of a course",
        fastest(20, 100, |_| {
            black_box((0..=2000).map(|at| course.current(f64::from(at) * 1e-4)).sum::<f64>());
        }),
    );
    let simulated: Vec<f64> = (0..3).filter_map(|_| simulator::transient(50)).collect();
    table.row_if("ngspice, tran in steps of 0.1 ms", simulated.into_iter().reduce(f64::min));
    table
}
