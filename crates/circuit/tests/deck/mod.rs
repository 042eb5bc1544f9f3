//! A network as the simulator reads it, and what it answers.

use fiftytwo_circuit::Characteristic;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Stdio};

const SIMULATOR: &str = "ngspice";

/// Whether the simulator is there.
///
/// # Panics
/// If it is required and not there.
pub fn is_there() -> bool {
    let found = Command::new(SIMULATOR)
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    let required = std::env::var("FIFTYTWO_SIMULATOR").is_ok_and(|value| value == "required");
    assert!(found || !required, "the simulator {SIMULATOR} is required and not there");
    if !found {
        report("not compared: the simulator is not there (Debian package ngspice)");
    }
    found
}

/// Says something whether or not the test passes.
pub fn report(what: &str) {
    let _ = writeln!(std::io::stderr().lock(), "simulator: {what}");
}

/// What stands between two nodes.
pub enum Element {
    Resistor(f64),
    /// V and internal ohm.
    Source(f64, f64),
    Current(f64),
    Junction {
        saturation: f64,
        ideality: f64,
    },
    /// 1 mA at `clamp`, to the power of 30.
    Power {
        clamp: f64,
    },
    Pieces(Characteristic),
}

pub struct Deck {
    nodes: usize,
    lines: String,
    count: usize,
}

impl Deck {
    pub fn new(nodes: usize) -> Self {
        Self { nodes, lines: String::new(), count: 0 }
    }

    pub fn add(&mut self, a: usize, b: usize, element: Element) {
        self.count += 1;
        let (number, lines) = (self.count, &mut self.lines);
        let across = format!("v({a},{b})");
        match element {
            Element::Resistor(ohm) => writeln!(lines, "R{number} {a} {b} {ohm:e}"),
            Element::Source(volt, 0.0) => writeln!(lines, "V{number} {a} {b} {volt:e}"),
            Element::Source(volt, ohm) => {
                writeln!(lines, "R{number} {a} x{number} {ohm:e}\nV{number} x{number} {b} {volt:e}")
            }
            Element::Current(ampere) => writeln!(lines, "I{number} {a} {b} {ampere:e}"),
            Element::Junction { saturation, ideality } => writeln!(
                lines,
                "D{number} {a} {b} M{number}\n.model M{number} D(IS={saturation:e} N={ideality})"
            ),
            Element::Power { clamp } => writeln!(
                lines,
                "B{number} {a} {b} I = 1e-3*sgn({across})*(abs({across})/{clamp:e})^30"
            ),
            Element::Pieces(curve) => {
                // The slope at the origin, then every change of slope on either side of it.
                let zero = curve.points().iter().position(|point| point.0 == 0.0).unwrap();
                let (below, above) = curve.slopes().split_at(zero + 1);
                let mut sum = format!("{:e}*max({across},0)", above[0]);
                write!(sum, " - {:e}*max(-{across},0)", below[zero]).unwrap();
                for (at, change) in above.windows(2).enumerate() {
                    let volt = curve.points()[zero + 1 + at].0;
                    write!(sum, " + ({:e})*max({across}-{volt:e},0)", change[1] - change[0])
                        .unwrap();
                }
                for (at, change) in below.windows(2).enumerate() {
                    let volt = curve.points()[at].0;
                    write!(sum, " - ({:e})*max(({volt:e})-{across},0)", change[0] - change[1])
                        .unwrap();
                }
                writeln!(lines, "B{number} {a} {b} I = {sum}")
            }
        }
        .unwrap();
    }

    /// The potential of every node above node 0; none if the simulator gives up.
    pub fn potentials(&self) -> Option<Vec<f64>> {
        let mut deck = String::from("* a random network\n");
        deck.push_str(&self.lines);
        deck.push_str(
            ".options reltol=1e-10 abstol=1e-14 vntol=1e-10 gmin=1e-15 itl1=2000 itl6=100 \
             temp=26.83 tnom=26.83\n.control\nset numdgt=15\nop\n",
        );
        (1..self.nodes).for_each(|node| writeln!(deck, "print v({node})").unwrap());
        deck.push_str(".endc\n.end\n");
        let mut child = Command::new(SIMULATOR)
            .args(["-b", "/dev/stdin"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(deck.as_bytes()).unwrap();
        let answer = child.wait_with_output().unwrap();
        let text = String::from_utf8_lossy(&answer.stdout);
        let mut potentials = vec![0.0];
        for node in 1..self.nodes {
            let name = format!("v({node}) = ");
            let line = text.lines().find_map(|line| line.trim().strip_prefix(&name))?;
            potentials.push(line.trim().parse().ok()?);
        }
        Some(potentials)
    }
}
