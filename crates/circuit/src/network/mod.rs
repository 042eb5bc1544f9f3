//! General nodal analysis of a network of resistances, switches, sources, diodes and curves.
//!
//! **In:** a [`Network`]: nodes, and branches between them.
//! **Out:** a [`Solution`]: the potential of every node that something holds, and the current
//! through every branch, or an error that names the branch at fault.
//! **Never here:** parts, names, corners, time.
//!
//! Closed switches, resistances of 0 Ω and ideal sources hold nodes together (a set of nodes with
//! known differences of potential); open switches are absent. What is left is a positive definite
//! system, eliminated afresh (see `docs/circuit.md`). There is no special case for series or
//! parallel: bridges and sneak ways are solved as they are. Nothing here reads a scheme.

mod currents;
mod linear;
mod pieces;
mod prepared;
mod shapes;

use crate::curve::{Characteristic, Piece};
use crate::elimination::{Plan, Work};
use std::fmt;

pub use prepared::Prepared;
pub use shapes::Shapes;

/// The forward resistance of a conducting diode, ohm: small beside anything in a control circuit,
/// so that a diode is a switch worked by its own current.
pub const DIODE_OHM: f64 = 1e-3;
/// A blocking diode, and every curve, leaks this conductance, S: nothing beside any load, but it
/// gives the nodes behind it a potential, without which nobody could say that it should conduct.
pub const DIODE_LEAKS: f64 = 1e-15;

/// A branch between two nodes. A current is counted from the first node named to the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Branch {
    /// A resistance, ohm; 0 joins its nodes, infinity is no branch.
    Resistor {
        /// First node.
        a: usize,
        /// Second node.
        b: usize,
        /// Resistance.
        ohm: f64,
    },
    /// A voltage source with its internal resistance (0: ideal).
    Source {
        /// Positive pole.
        plus: usize,
        /// Negative pole.
        minus: usize,
        /// Open-circuit voltage.
        volt: f64,
        /// Internal resistance, ohm.
        ohm: f64,
    },
    /// A current source.
    Current {
        /// Where the current leaves the network.
        from: usize,
        /// Where it comes back.
        to: usize,
        /// Current, A.
        ampere: f64,
    },
    /// An ideal switch.
    Switch {
        /// First node.
        a: usize,
        /// Second node.
        b: usize,
        /// Whether it is closed.
        closed: bool,
    },
    /// A diode: a closed switch (of [`DIODE_OHM`]) while current flows from anode to cathode, else
    /// open (but for [`DIODE_LEAKS`]). No forward drop; a diode with one is a curve.
    Diode {
        /// Anode.
        anode: usize,
        /// Cathode.
        cathode: usize,
    },
    /// A part given by its characteristic.
    Curve {
        /// First node.
        a: usize,
        /// Second node.
        b: usize,
        /// Which of the network's characteristics (see [`Network::characteristic`]).
        curve: CurveNumber,
    },
}

/// A characteristic of one network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CurveNumber(usize);

impl Branch {
    /// Its two nodes in the order in which a positive current runs through it. Through a source
    /// a delivering current runs from minus to plus, so it counts from plus to minus negative.
    pub fn nodes(self) -> (usize, usize) {
        match self {
            Self::Resistor { a, b, .. } | Self::Switch { a, b, .. } | Self::Curve { a, b, .. } => {
                (a, b)
            }
            Self::Source { plus, minus, .. } => (plus, minus),
            Self::Current { from, to, .. } => (from, to),
            Self::Diode { anode, cathode } => (anode, cathode),
        }
    }

    fn is_closed_switch(&self) -> bool {
        matches!(self, Self::Switch { closed: true, .. } | Self::Resistor { ohm: 0.0, .. })
    }
}

/// Why a network has no answer. Branches and nodes are named by their number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NetworkError {
    /// An ideal source is shorted, or stands against another ideal source.
    Shorted {
        /// The branch of the source.
        source: usize,
    },
    /// Two ideal sources of the same voltage side by side: how they share is undetermined.
    Shared {
        /// The branch of the second source.
        source: usize,
    },
    /// A current source drives current into an island without a way back.
    Stranded {
        /// A node of the island's source.
        node: usize,
    },
    /// No voltage was found that fits this diode or curve.
    Unsettled {
        /// The branch that fits worst.
        branch: usize,
    },
    /// A value is not a number, a resistance is negative, or a node does not exist.
    Invalid {
        /// The branch.
        branch: usize,
    },
}

impl fmt::Display for NetworkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Shorted { source } => write!(f, "the ideal source of branch {source} is shorted"),
            Self::Shared { source } => {
                write!(f, "the ideal source of branch {source} stands beside another")
            }
            Self::Stranded { node } => write!(f, "a current into node {node} finds no way back"),
            Self::Unsettled { branch } => {
                write!(f, "no voltage was found that fits the curve of branch {branch}")
            }
            Self::Invalid { branch } => write!(f, "the values of branch {branch} are unusable"),
        }
    }
}

impl std::error::Error for NetworkError {}

/// A network: so many nodes, and branches between them.
#[derive(Debug, Clone)]
pub struct Network {
    nodes: usize,
    branches: Vec<Branch>,
    curves: Vec<Characteristic>,
}

impl Default for Network {
    fn default() -> Self {
        Self::new(0)
    }
}

/// Potentials and currents.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    potentials: Vec<Option<f64>>,
    currents: Vec<Option<f64>>,
    slopes: Vec<f64>,
    pieces: Vec<usize>,
}

impl Solution {
    /// The potential of a node, V, above the lowest pole of a voltage source in its island (above
    /// an arbitrary node where only current sources feed it). None: floating, nothing holds it.
    pub fn potential(&self, node: usize) -> Option<f64> {
        self.potentials.get(node).copied().flatten()
    }
    /// The voltage from `a` to `b`; none if either floats.
    pub fn voltage(&self, a: usize, b: usize) -> Option<f64> {
        Some(self.potential(a)? - self.potential(b)?)
    }
    /// The current through a branch, A, from its first node to its second (a source that delivers
    /// has a negative one). None: the branch lies in a ring of ideal switches, which share a
    /// current in an undetermined way, or it floats.
    pub fn current(&self, branch: usize) -> Option<f64> {
        self.currents.get(branch).copied().flatten()
    }
    /// The slope of a branch's current over its voltage at the solution, S: what small changes
    /// see (0 for what is open; none for what is ideal).
    pub fn slope(&self, branch: usize) -> Option<f64> {
        self.slopes.get(branch).copied().filter(|slope| slope.is_finite())
    }
}

impl Network {
    /// A network of so many nodes, without branches.
    pub fn new(nodes: usize) -> Self {
        Self::with_room(nodes, 0)
    }
    /// The same, with room for so many branches.
    pub(crate) fn with_room(nodes: usize, branches: usize) -> Self {
        let ideal = Characteristic::drop(0.0, DIODE_OHM);
        Self { nodes, branches: Vec::with_capacity(branches), curves: vec![ideal] }
    }
    /// Adds a branch and returns its number.
    pub fn add(&mut self, branch: Branch) -> usize {
        self.branches.push(branch);
        self.branches.len() - 1
    }
    /// Adds a resistance, ohm.
    pub fn resistor(&mut self, a: usize, b: usize, ohm: f64) -> usize {
        self.add(Branch::Resistor { a, b, ohm })
    }
    /// Adds a voltage source.
    pub fn source(&mut self, plus: usize, minus: usize, volt: f64, ohm: f64) -> usize {
        self.add(Branch::Source { plus, minus, volt, ohm })
    }
    /// Adds a switch.
    pub fn switch(&mut self, a: usize, b: usize, closed: bool) -> usize {
        self.add(Branch::Switch { a, b, closed })
    }
    /// Adds a part given by its characteristic, for a voltage from `a` to `b`.
    pub fn curve(&mut self, a: usize, b: usize, characteristic: Characteristic) -> usize {
        let curve = self.characteristic(characteristic);
        self.add(Branch::Curve { a, b, curve })
    }
    /// Makes a characteristic known, for any number of branches of this network.
    pub fn characteristic(&mut self, characteristic: Characteristic) -> CurveNumber {
        self.curves.push(characteristic);
        CurveNumber(self.curves.len() - 1)
    }
    /// Its branches.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }
    /// How many nodes it has.
    pub fn nodes(&self) -> usize {
        self.nodes
    }

    /// Solves it.
    ///
    /// # Errors
    /// See [`NetworkError`].
    pub fn solve(&self) -> Result<Solution, NetworkError> {
        self.check()?;
        let shape = linear::Shape::new(self)?;
        pieces::settle(&linear::Frame::new(self, &shape)?)
    }

    fn check(&self) -> Result<(), NetworkError> {
        let good = |branch: &Branch| {
            let (a, b) = branch.nodes();
            let values = match *branch {
                Branch::Resistor { ohm, .. } => ohm >= 0.0,
                Branch::Source { volt, ohm, .. } => {
                    volt.is_finite() && ohm.is_finite() && ohm >= 0.0
                }
                Branch::Current { ampere, .. } => ampere.is_finite(),
                Branch::Switch { .. } | Branch::Diode { .. } => true,
                Branch::Curve { curve, .. } => curve.0 < self.curves.len(),
            };
            values && a < self.nodes && b < self.nodes
        };
        self.branches
            .iter()
            .position(|branch| !good(branch))
            .map_or(Ok(()), |branch| Err(NetworkError::Invalid { branch }))
    }

    /// The characteristic of a branch that has one.
    pub fn curve_of(&self, branch: usize) -> Option<&Characteristic> {
        match self.branches[branch] {
            Branch::Diode { .. } => self.curves.first(),
            Branch::Curve { curve, .. } => self.curves.get(curve.0),
            _ => None,
        }
    }

    /// The straight line of a branch, a curve's on the given piece and without its leak; none if
    /// the branch is ideal or open.
    fn line(&self, branch: usize, piece: usize) -> Option<Piece> {
        let through_zero = |siemens| Some(Piece { siemens, volt: 0.0, ampere: 0.0 });
        match self.branches[branch] {
            Branch::Resistor { ohm, .. } if ohm > 0.0 && ohm.is_finite() => {
                through_zero(ohm.recip())
            }
            Branch::Source { volt, ohm, .. } if ohm > 0.0 => {
                Some(Piece { siemens: ohm.recip(), volt, ampere: 0.0 })
            }
            Branch::Diode { .. } | Branch::Curve { .. } => {
                self.curve_of(branch).map(|curve| curve.piece(piece))
            }
            _ => None,
        }
    }

    /// What a branch leaks beside its line, S.
    fn leak(&self, branch: usize) -> f64 {
        let is_curve = matches!(self.branches[branch], Branch::Diode { .. } | Branch::Curve { .. });
        if is_curve { DIODE_LEAKS } else { 0.0 }
    }
}

/// The resistance between two nodes of a network of resistances, ohm; none if no way joins them.
/// Diodes and curves count with the piece on which they lie without voltage.
///
/// # Errors
/// As [`Network::solve`].
pub fn resistance_between(
    network: &Network,
    a: usize,
    b: usize,
) -> Result<Option<f64>, NetworkError> {
    let shape: Vec<(usize, usize)> = network.branches.iter().map(|branch| branch.nodes()).collect();
    network.check()?;
    if a == b {
        return Ok(Some(0.0));
    }
    let plan = Plan::new(network.nodes, &shape, &[a, b]);
    let mut work = Work::default();
    work.clear(&plan);
    for (index, branch) in network.branches.iter().enumerate() {
        let (from, to) = branch.nodes();
        if from == to {
            continue;
        }
        let piece = network.curve_of(index).map_or(0, |curve| curve.piece_at(0.0));
        if branch.is_closed_switch() {
            work.close(plan.slot(from, to));
        } else if let Some(line) = network.line(index, piece) {
            work.add(plan.slot(from, to), line.siemens + network.leak(index));
        }
    }
    work.eliminate(&plan);
    let (siemens, one) = work.left(plan.slot(a, b));
    Ok(if one { Some(0.0) } else { (siemens > 0.0).then(|| siemens.recip()) })
}
