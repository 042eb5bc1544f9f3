//! From potentials to a solution: poles, currents, and what nothing holds.

use super::linear::Frame;
use super::{Branch, Network, Solution};
use crate::union::Union;

/// The solution for potentials found with these pieces.
pub(super) fn solution(frame: &Frame<'_>, mut potentials: Vec<f64>, pieces: &[usize]) -> Solution {
    let network = frame.network;
    let held = network.refer_to_poles(&mut potentials, pieces);
    let currents = network.currents(&potentials, &held, pieces, &frame.forest);
    let slopes = (0..network.branches.len())
        .map(|index| match network.branches[index] {
            Branch::Switch { closed: false, .. } | Branch::Current { .. } => 0.0,
            Branch::Resistor { ohm, .. } => ohm.recip(),
            _ => network.line(index, pieces[index]).map_or(f64::INFINITY, |line| line.siemens),
        })
        .collect();
    let potentials =
        potentials.into_iter().zip(&held).map(|(volt, &held)| held.then_some(volt)).collect();
    Solution { potentials, currents, slopes, pieces: pieces.to_vec() }
}

impl Network {
    /// Sets each island's lowest source pole to 0 V; tells which nodes anything holds.
    pub(super) fn refer_to_poles(&self, potentials: &mut [f64], pieces: &[usize]) -> Vec<bool> {
        let mut islands = Union::new(self.nodes);
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let ideal = matches!(branch, Branch::Source { .. } | Branch::Current { .. });
            if ideal || branch.is_closed_switch() || self.line(index, pieces[index]).is_some() {
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
        pieces: &[usize],
        forest: &[usize],
    ) -> Vec<Option<f64>> {
        let mut currents: Vec<Option<f64>> = vec![None; self.branches.len()];
        let mut excess = vec![0.0; self.nodes];
        for (index, branch) in self.branches.iter().enumerate() {
            let (a, b) = branch.nodes();
            let current = match *branch {
                Branch::Current { ampere, .. } => Some(ampere),
                Branch::Switch { closed: false, .. } => Some(0.0),
                Branch::Resistor { ohm, .. } if ohm.is_infinite() => Some(0.0),
                _ => self
                    .line(index, pieces[index])
                    .map(|line| line.current(potentials[a] - potentials[b])),
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
