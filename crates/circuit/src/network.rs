//! General nodal analysis of a network of resistances, switches, sources and diodes.
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

use crate::elimination::{Plan, Work};
use crate::union::{Joined, Union};
use std::fmt;

/// The forward resistance of a conducting diode, ohm: small beside anything in a control circuit,
/// so that a diode is a switch worked by its own current.
pub const DIODE_OHM: f64 = 1e-3;
/// A blocking diode leaks this conductance, S: nothing beside any load, but it gives the nodes
/// behind it a potential, without which nobody could say that the diode should conduct.
pub const DIODE_LEAKS: f64 = 1e-15;
/// A blocking diode begins to conduct above this forward voltage; below it the state is kept, so
/// that rounding never decides it, V.
const DIODE_KEEPS: f64 = 1e-6;

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
    /// open (but for [`DIODE_LEAKS`]). No forward drop.
    Diode {
        /// Anode.
        anode: usize,
        /// Cathode.
        cathode: usize,
    },
}

impl Branch {
    /// Its two nodes in the order in which a positive current runs through it. Through a source
    /// a delivering current runs from minus to plus, so it counts from plus to minus negative.
    pub(crate) fn nodes(self) -> (usize, usize) {
        match self {
            Self::Resistor { a, b, .. } | Self::Switch { a, b, .. } => (a, b),
            Self::Source { plus, minus, .. } => (plus, minus),
            Self::Current { from, to, .. } => (from, to),
            Self::Diode { anode, cathode } => (anode, cathode),
        }
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
    /// The diodes found no state that fits.
    Unsettled,
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
            Self::Unsettled => write!(f, "the diodes did not settle"),
            Self::Invalid { branch } => write!(f, "the values of branch {branch} are unusable"),
        }
    }
}

impl std::error::Error for NetworkError {}

/// A network: so many nodes, and branches between them.
#[derive(Debug, Clone, Default)]
pub struct Network {
    nodes: usize,
    branches: Vec<Branch>,
}

/// Potentials and currents.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    potentials: Vec<Option<f64>>,
    currents: Vec<Option<f64>>,
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
}

impl Network {
    /// A network of so many nodes, without branches.
    pub fn new(nodes: usize) -> Self {
        Self { nodes, branches: Vec::new() }
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
    /// Its branches.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// Solves it.
    ///
    /// # Errors
    /// See [`NetworkError`].
    pub fn solve(&self) -> Result<Solution, NetworkError> {
        self.check()?;
        let diodes: Vec<usize> = (0..self.branches.len())
            .filter(|&index| matches!(self.branches[index], Branch::Diode { .. }))
            .collect();
        let mut conducts = vec![false; self.branches.len()];
        // Changing only the first diode that does not fit ends after finitely many steps in a
        // passive network (least-index rule of complementary pivoting; open textbook on linear
        // complementarity). The limit is for what is not passive.
        let limit = 64 + diodes.len() * diodes.len() * 64;
        for _ in 0..limit {
            let solution = self.solve_with(&conducts)?;
            let Some(&wrong) = diodes.iter().find(|&&diode| {
                let (anode, cathode) = self.branches[diode].nodes();
                solution.voltage(anode, cathode).is_some_and(|forward| {
                    if conducts[diode] {
                        forward < -DIODE_KEEPS * DIODE_OHM
                    } else {
                        forward > DIODE_KEEPS
                    }
                })
            }) else {
                return Ok(solution);
            };
            conducts[wrong] = !conducts[wrong];
        }
        Err(NetworkError::Unsettled)
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
            };
            values && a < self.nodes && b < self.nodes
        };
        self.branches
            .iter()
            .position(|branch| !good(branch))
            .map_or(Ok(()), |branch| Err(NetworkError::Invalid { branch }))
    }

    fn solve_with(&self, conducts: &[bool]) -> Result<Solution, NetworkError> {
        let (mut union, forest) = self.hold_together()?;
        let places: Vec<(usize, f64)> = (0..self.nodes).map(|node| union.find(node)).collect();
        let mut injected = vec![0.0; self.nodes];
        let mut largest = 0.0_f64;
        let mut links = Vec::new();
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let ((root_a, above_a), (root_b, above_b)) = (places[a], places[b]);
            if root_a == root_b {
                continue;
            }
            if let Branch::Current { ampere, .. } = *branch {
                injected[root_a] -= ampere;
                injected[root_b] += ampere;
                largest = largest.max(ampere.abs());
            }
            let Some((siemens, volt)) = branch.conductance(conducts[index]) else { continue };
            let push = siemens * (above_a - above_b - volt);
            injected[root_a] -= push;
            injected[root_b] += push;
            largest = largest.max(push.abs());
            links.push((root_a, root_b, siemens));
        }
        let shape: Vec<(usize, usize)> = links.iter().map(|&(a, b, _)| (a, b)).collect();
        let plan = Plan::new(self.nodes, &shape, &self.grounds(&places, &shape));
        let mut work = Work::default();
        work.clear(&plan);
        links.iter().for_each(|&(a, b, siemens)| work.add(plan.slot(a, b), siemens));
        work.eliminate(&plan);
        let (raw, stranded) = work.under_currents(&plan, &injected);
        if stranded > 1e-9 * largest {
            let node = (0..self.nodes).find(|&node| injected[node] != 0.0).unwrap_or(0);
            return Err(NetworkError::Stranded { node });
        }
        let mut potentials: Vec<f64> =
            places.iter().map(|&(root, above)| raw.of(&plan, root) + above).collect();
        let held = self.refer_to_poles(&mut potentials, conducts);
        let currents = self.currents(&potentials, &held, conducts, &forest);
        Ok(Solution {
            potentials: (0..self.nodes)
                .map(|node| held[node].then_some(potentials[node]))
                .collect(),
            currents,
        })
    }

    /// For each island the node to count from: the lower pole of its first source.
    fn grounds(&self, places: &[(usize, f64)], links: &[(usize, usize)]) -> Vec<usize> {
        let mut islands = Union::new(self.nodes);
        for &(a, b) in links {
            islands.join(a, b, 0.0);
        }
        let mut ground: Vec<Option<usize>> = vec![None; self.nodes];
        for branch in &self.branches {
            if let Branch::Source { minus: node, .. } | Branch::Current { from: node, .. } = *branch
            {
                let root = places[node].0;
                ground[islands.root(root)].get_or_insert(root);
            }
        }
        let mut grounds: Vec<usize> = ground.into_iter().flatten().collect();
        grounds.sort_unstable();
        grounds.dedup();
        grounds
    }

    /// Joins what ideal sources and switches hold together. Also returns the branches that did so.
    fn hold_together(&self) -> Result<(Union, Vec<usize>), NetworkError> {
        let mut union = Union::new(self.nodes);
        let mut forest = Vec::new();
        // Switches first: a source that then meets itself is the one to name.
        for (index, branch) in self.branches.iter().enumerate() {
            if branch.is_closed_switch() {
                let (a, b) = branch.nodes();
                if union.join(a, b, 0.0) == Joined::Now {
                    forest.push(index);
                }
            }
        }
        for (index, branch) in self.branches.iter().enumerate() {
            if let Branch::Source { plus, minus, volt, ohm: 0.0 } = *branch {
                match union.join(plus, minus, volt) {
                    Joined::Now => forest.push(index),
                    Joined::Before if volt != 0.0 => {
                        return Err(NetworkError::Shared { source: index });
                    }
                    Joined::Before => {}
                    Joined::Against(_) => return Err(NetworkError::Shorted { source: index }),
                }
            }
        }
        Ok((union, forest))
    }

    /// Sets each island's lowest source pole to 0 V; tells which nodes anything holds.
    fn refer_to_poles(&self, potentials: &mut [f64], conducts: &[bool]) -> Vec<bool> {
        let mut islands = Union::new(self.nodes);
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let ideal = matches!(branch, Branch::Source { .. } | Branch::Current { .. });
            if ideal || branch.is_closed_switch() || branch.conductance(conducts[index]).is_some() {
                islands.join(a, b, 0.0);
            }
        }
        let mut lowest = vec![f64::INFINITY; self.nodes];
        let mut fed = vec![false; self.nodes];
        for branch in &self.branches {
            let (a, b) = branch.nodes();
            let island = islands.root(a);
            match branch {
                Branch::Source { .. } => {
                    fed[island] = true;
                    lowest[island] = lowest[island].min(potentials[a]).min(potentials[b]);
                }
                Branch::Current { .. } => fed[island] = true,
                _ => {}
            }
        }
        (0..self.nodes)
            .map(|node| {
                let island = islands.root(node);
                if lowest[island].is_finite() {
                    potentials[node] -= lowest[island];
                }
                fed[island]
            })
            .collect()
    }

    fn currents(
        &self,
        potentials: &[f64],
        held: &[bool],
        conducts: &[bool],
        forest: &[usize],
    ) -> Vec<Option<f64>> {
        let mut currents: Vec<Option<f64>> = vec![None; self.branches.len()];
        let mut excess = vec![0.0; self.nodes];
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let current = match *branch {
                Branch::Current { ampere, .. } => Some(ampere),
                Branch::Switch { closed: false, .. } => Some(0.0),
                Branch::Diode { .. } if !conducts[index] => Some(0.0),
                Branch::Resistor { ohm, .. } if ohm.is_infinite() => Some(0.0),
                _ => branch
                    .conductance(conducts[index])
                    .map(|(siemens, volt)| siemens * (potentials[a] - potentials[b] - volt)),
            };
            currents[index] = current.filter(|_| held[a]);
            excess[a] -= current.unwrap_or(0.0);
            excess[b] += current.unwrap_or(0.0);
        }
        self.through_ideal(forest, excess, &mut currents);
        currents
    }

    /// Currents through ideal branches by the node law, leaf by leaf.
    fn through_ideal(&self, forest: &[usize], mut excess: Vec<f64>, currents: &mut [Option<f64>]) {
        let mut left: Vec<usize> = forest.to_vec();
        let mut degree = vec![0_usize; self.nodes];
        for &index in forest {
            let (a, b) = self.branches[index].nodes();
            degree[a] += 1;
            degree[b] += 1;
        }
        let shared = self.shared(forest);
        while let Some(position) = left.iter().position(|&index| {
            let (a, b) = self.branches[index].nodes();
            degree[a] == 1 || degree[b] == 1
        }) {
            let index = left.swap_remove(position);
            let (a, b) = self.branches[index].nodes();
            let current = if degree[a] == 1 { excess[a] } else { -excess[b] };
            excess[a] -= current;
            excess[b] += current;
            degree[a] -= 1;
            degree[b] -= 1;
            currents[index] = (!shared[index]).then_some(current);
        }
    }

    /// Ideal branches in a ring of ideal branches.
    fn shared(&self, forest: &[usize]) -> Vec<bool> {
        let mut shared = vec![false; self.branches.len()];
        let ideal = |branch: &Branch| {
            branch.is_closed_switch() || matches!(branch, Branch::Source { ohm: 0.0, .. })
        };
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            if ideal(branch) && a != b && !forest.contains(&index) {
                shared[index] = true;
                self.way_in(forest, a, b).into_iter().for_each(|on_way| shared[on_way] = true);
            }
        }
        shared
    }

    fn way_in(&self, forest: &[usize], from: usize, to: usize) -> Vec<usize> {
        let mut came: Vec<Option<(usize, usize)>> = vec![None; self.nodes];
        let mut queue = std::collections::VecDeque::from([from]);
        while let Some(node) = queue.pop_front() {
            for &index in forest {
                let (a, b) = self.branches[index].nodes();
                let next = if a == node {
                    b
                } else if b == node {
                    a
                } else {
                    continue;
                };
                if next != from && came[next].is_none() {
                    came[next] = Some((node, index));
                    queue.push_back(next);
                }
            }
        }
        let mut way = Vec::new();
        let mut at = to;
        while let Some((before, index)) = came[at] {
            way.push(index);
            at = before;
        }
        way
    }
}

impl Branch {
    fn is_closed_switch(&self) -> bool {
        matches!(self, Self::Switch { closed: true, .. } | Self::Resistor { ohm: 0.0, .. })
    }
    /// Conductance and the voltage in series with it; none if it is ideal or open.
    fn conductance(&self, conducts: bool) -> Option<(f64, f64)> {
        match *self {
            Self::Resistor { ohm, .. } if ohm > 0.0 && ohm.is_finite() => Some((ohm.recip(), 0.0)),
            Self::Source { volt, ohm, .. } if ohm > 0.0 => Some((ohm.recip(), volt)),
            Self::Diode { .. } if conducts => Some((DIODE_OHM.recip(), 0.0)),
            Self::Diode { .. } => Some((DIODE_LEAKS, 0.0)),
            _ => None,
        }
    }
}

/// The resistance between two nodes of a network of resistances, ohm; none if no way joins them.
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
    for branch in &network.branches {
        let (from, to) = branch.nodes();
        if from == to {
            continue;
        }
        if branch.is_closed_switch() {
            work.close(plan.slot(from, to));
        } else if let Some((siemens, _)) = branch.conductance(false) {
            work.add(plan.slot(from, to), siemens);
        }
    }
    work.eliminate(&plan);
    let (siemens, one) = work.left(plan.slot(a, b));
    Ok(if one { Some(0.0) } else { (siemens > 0.0).then(|| siemens.recip()) })
}
