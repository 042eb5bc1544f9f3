//! A network with every curve on one of its pieces: a linear system.
//!
//! **In:** a network, once; then a piece for each curve. **Out:** potentials. **Never here:** which
//! pieces fit.

use super::{Branch, Network, NetworkError};
use crate::elimination::{Plan, Work};
use crate::union::{Joined, Union};

/// What stays while values change: the order of elimination.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    plan: Plan,
    /// For each branch where it is stamped; none: ideal, open, or both its ends are one.
    slots: Vec<Option<usize>>,
}

impl Shape {
    pub(super) fn new(network: &Network) -> Result<Self, NetworkError> {
        let (mut union, _) = network.hold_together()?;
        let places: Vec<(usize, f64)> = (0..network.nodes).map(|node| union.find(node)).collect();
        let mut links = Vec::new();
        for (index, branch) in network.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let (a, b) = (places[a].0, places[b].0);
            if a != b && network.line(index, 0).is_some() {
                links.push((index, a, b));
            }
        }
        let shape: Vec<(usize, usize)> = links.iter().map(|&(_, a, b)| (a, b)).collect();
        let plan = Plan::new(network.nodes, &shape, &network.grounds(&places, &shape));
        let mut slots = vec![None; network.branches.len()];
        for &(index, a, b) in &links {
            slots[index] = Some(plan.slot(a, b));
        }
        Ok(Self { plan, slots })
    }
}

/// A network made ready: what is one node, and the order of elimination.
pub(super) struct Frame<'n> {
    pub(super) network: &'n Network,
    /// For each node its root and its potential above it.
    pub(super) places: Vec<(usize, f64)>,
    /// Ideal branches that hold nodes together.
    pub(super) forest: Vec<usize>,
    plan: &'n Plan,
    pub(super) slots: &'n [Option<usize>],
}

impl<'n> Frame<'n> {
    pub(super) fn new(network: &'n Network, shape: &'n Shape) -> Result<Self, NetworkError> {
        let (mut union, forest) = network.hold_together()?;
        let places = (0..network.nodes).map(|node| union.find(node)).collect();
        Ok(Self { network, places, forest, plan: &shape.plan, slots: &shape.slots })
    }

    /// Potentials under 1 A driven in at `a` and out at `b`, every source dead, V/A.
    pub(super) fn under_one_ampere(&self, pieces: &[usize], a: usize, b: usize) -> Vec<f64> {
        let network = self.network;
        let mut work = Work::default();
        work.clear(self.plan);
        for (index, slot) in self.slots.iter().enumerate() {
            if let (Some(slot), Some(line)) = (*slot, network.line(index, pieces[index])) {
                work.add(slot, line.siemens + network.leak(index));
            }
        }
        work.eliminate(self.plan);
        let mut injected = vec![0.0; network.nodes];
        injected[self.places[a].0] += 1.0;
        injected[self.places[b].0] -= 1.0;
        let (raw, _) = work.under_currents(self.plan, &injected);
        self.places.iter().map(|&(root, _)| raw.of(self.plan, root)).collect()
    }

    /// The potential of every node above the kept node of its island, with a piece for each branch
    /// (0 where it has no curve).
    pub(super) fn potentials(&self, pieces: &[usize]) -> Result<Vec<f64>, NetworkError> {
        let network = self.network;
        let mut injected = vec![0.0; network.nodes];
        let mut largest = 0.0_f64;
        let mut work = Work::default();
        work.clear(self.plan);
        for (index, branch) in network.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let ((root_a, above_a), (root_b, above_b)) = (self.places[a], self.places[b]);
            let push = if let Branch::Current { ampere, .. } = *branch {
                ampere
            } else {
                let (Some(slot), Some(line)) =
                    (self.slots[index], network.line(index, pieces[index]))
                else {
                    continue;
                };
                let leak = network.leak(index);
                work.add(slot, line.siemens + leak);
                line.current(above_a - above_b) + leak * (above_a - above_b)
            };
            if root_a != root_b {
                injected[root_a] -= push;
                injected[root_b] += push;
                largest = largest.max(push.abs());
            }
        }
        work.eliminate(self.plan);
        let (raw, stranded) = work.under_currents(self.plan, &injected);
        if stranded > 1e-9 * largest {
            let node = (0..network.nodes).find(|&node| injected[node] != 0.0).unwrap_or(0);
            return Err(NetworkError::Stranded { node });
        }
        Ok(self.places.iter().map(|&(root, above)| raw.of(self.plan, root) + above).collect())
    }
}

impl Network {
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
}
