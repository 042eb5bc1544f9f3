//! Fresh elimination of a conductance network whose shape is known beforehand.
//!
//! **In:** which nodes may ever be joined, once; then, for each position of the contacts, the
//! conductance of every branch and which branches are closed ideal switches.
//! **Out:** every node as a weighted mean of the nodes that were kept.
//! **Never here:** parts, supplies, names.
//!
//! A resistive node is taken out by the star-mesh transformation (each pair of neighbours gains
//! `g_i g_k / sum g`), a node behind a closed ideal switch by merging it into its neighbour. Both
//! only add and divide positive numbers, so nothing cancels however far apart the conductances
//! are, and open contacts are simply absent. It is the LDLᵀ factorisation of the nodal matrix
//! written without subtractions. Merging a node into a neighbour never joins two nodes that the
//! order had not joined already (contracting an edge of a chordal graph leaves it chordal), so one
//! order, found with every contact closed, serves all positions.

/// The order of elimination and the places for its numbers. Made once.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Plan {
    rank: Vec<u32>,
    first: Vec<u32>,
    later: Vec<u32>,
    pair_first: Vec<u32>,
    pairs: Vec<u32>,
    free: usize,
}

/// The numbers of one elimination; kept and used again to spare allocations.
#[derive(Debug, Clone, Default)]
pub(crate) struct Work {
    /// By slot, S; infinite: a closed ideal switch.
    conductance: Vec<f64>,
    weight: Vec<f64>,
    sum: Vec<f64>,
    merged: Vec<u32>,
}

const NOWHERE: u32 = u32::MAX;

impl Plan {
    /// Plans the elimination of `nodes` nodes joined by `branches`. The nodes in `kept` are never
    /// eliminated.
    pub(crate) fn new(nodes: usize, branches: &[(usize, usize)], kept: &[usize]) -> Self {
        let mut neighbours = vec![std::collections::BTreeSet::new(); nodes];
        let mut join = |a: usize, b: usize| {
            if a != b {
                neighbours[a].insert(b);
                neighbours[b].insert(a);
            }
        };
        branches.iter().for_each(|&(a, b)| join(a, b));
        for (index, &a) in kept.iter().enumerate() {
            kept[..index].iter().for_each(|&b| join(a, b));
        }
        let order = minimum_degree(&mut neighbours, kept);
        let mut rank = vec![0_u32; nodes];
        for (step, &node) in order.iter().enumerate() {
            rank[node] = small(step);
        }
        // Neighbours left at the time of elimination are exactly the later ones.
        let rows: Vec<Vec<u32>> = order
            .iter()
            .map(|&node| {
                let mut row: Vec<u32> = neighbours[node].iter().map(|&other| rank[other]).collect();
                row.sort_unstable();
                row
            })
            .collect();
        let mut plan = Self {
            rank,
            first: vec![0],
            later: Vec::new(),
            pair_first: vec![0],
            pairs: Vec::new(),
            free: nodes - kept.len(),
        };
        for row in &rows {
            plan.later.extend(row);
            plan.first.push(small(plan.later.len()));
        }
        for row in &rows {
            for (index, &low) in row.iter().enumerate() {
                for &high in &row[index + 1..] {
                    let slot = plan.slot_of_steps(low, high);
                    plan.pairs.push(slot);
                }
            }
            plan.pair_first.push(small(plan.pairs.len()));
        }
        plan
    }

    /// Where the conductance between two joined nodes is kept.
    pub(crate) fn slot(&self, a: usize, b: usize) -> usize {
        let (a, b) = (self.rank[a], self.rank[b]);
        self.slot_of_steps(a.min(b), a.max(b)) as usize
    }

    fn slot_of_steps(&self, low: u32, high: u32) -> u32 {
        let row = self.row(low as usize);
        let offset = self.later[row.clone()].binary_search(&high).unwrap_or(0);
        small(row.start + offset)
    }

    /// How many places for conductances there are.
    pub(crate) fn slots(&self) -> usize {
        self.later.len()
    }

    /// The step at which a node is eliminated (its place among [`Potentials`]).
    pub(crate) fn step_of(&self, node: usize) -> u32 {
        self.rank[node]
    }

    /// How many free nodes there are; the others are kept.
    #[cfg(test)]
    pub(crate) fn free(&self) -> usize {
        self.free
    }

    /// These steps and all that their potentials hang on but for the kept nodes, late ones first.
    pub(crate) fn needed(&self, steps: impl Iterator<Item = u32>) -> Vec<u32> {
        let mut needed: std::collections::BTreeSet<u32> = steps.collect();
        for step in 0..small(self.free) {
            if needed.contains(&step) {
                needed.extend(&self.later[self.row(step as usize)]);
            }
        }
        needed.into_iter().rev().filter(|&step| (step as usize) < self.free).collect()
    }

    fn row(&self, step: usize) -> std::ops::Range<usize> {
        self.first[step] as usize..self.first[step + 1] as usize
    }

    fn pair(&self, step: usize, degree: usize, a: usize, b: usize) -> usize {
        let (low, high) = (a.min(b), a.max(b));
        let before = low * (2 * degree - low - 1) / 2;
        self.pairs[self.pair_first[step] as usize + before + high - low - 1] as usize
    }
}

impl Work {
    /// Forgets all branches.
    pub(crate) fn clear(&mut self, plan: &Plan) {
        let slots = plan.later.len();
        self.conductance.clear();
        self.conductance.resize(slots, 0.0);
        self.weight.resize(slots, 0.0);
        self.sum.resize(plan.rank.len(), 0.0);
        self.merged.resize(plan.rank.len(), NOWHERE);
    }
    /// Makes room for a plan beside others that share this memory.
    pub(crate) fn make_room(&mut self, plan: &Plan) {
        let (slots, nodes) = (plan.later.len(), plan.rank.len());
        let grow = |numbers: &mut Vec<f64>, to: usize| numbers.resize(numbers.len().max(to), 0.0);
        grow(&mut self.conductance, slots);
        grow(&mut self.weight, slots);
        grow(&mut self.sum, nodes);
        self.merged.resize(self.merged.len().max(nodes), NOWHERE);
    }
    /// Begins again with these conductances, in the order of the slots, and every switch open.
    pub(crate) fn restart(&mut self, conductances: &[f64]) {
        self.conductance[..conductances.len()].copy_from_slice(conductances);
    }
    /// All conductances, in the order of the slots.
    pub(crate) fn conductances(&self) -> &[f64] {
        &self.conductance
    }
    /// Adds a conductance, S.
    pub(crate) fn add(&mut self, slot: usize, siemens: f64) {
        self.conductance[slot] += siemens;
    }
    /// Closes an ideal switch.
    pub(crate) fn close(&mut self, slot: usize) {
        self.conductance[slot] = f64::INFINITY;
    }
    /// What is left between two kept nodes: conductance, and whether they became one.
    pub(crate) fn left(&self, slot: usize) -> (f64, bool) {
        let siemens = self.conductance[slot];
        (siemens, siemens.is_infinite())
    }

    /// Eliminates every free node.
    pub(crate) fn eliminate(&mut self, plan: &Plan) {
        let mut start = 0;
        for (step, &end) in plan.first[1..=plan.free].iter().enumerate() {
            let end = end as usize;
            // Chains have two neighbours, a point with a lamp three: most of a control circuit. No
            // branch depends on a weight, since which contacts are closed can't be foreseen.
            match self.conductance[start..end] {
                [one, two] if is_sound(one + two) => {
                    let sum = one + two;
                    let (first, second) = (one / sum, two / sum);
                    self.weight[start..end].copy_from_slice(&[first, second]);
                    self.sum[step] = sum;
                    self.merged[step] = NOWHERE;
                    let slot = plan.pairs[plan.pair_first[step] as usize] as usize;
                    self.conductance[slot] += first * two;
                }
                [one, two, three] if is_sound(one + two + three) => {
                    let sum = one + two + three;
                    let inverse = sum.recip();
                    let (first, second) = (one * inverse, two * inverse);
                    self.weight[start..end].copy_from_slice(&[first, second, three * inverse]);
                    self.sum[step] = sum;
                    self.merged[step] = NOWHERE;
                    let pair = plan.pair_first[step] as usize;
                    if let [a, b, c] = plan.pairs[pair..pair + 3] {
                        self.conductance[a as usize] += first * two;
                        self.conductance[b as usize] += first * three;
                        self.conductance[c as usize] += second * three;
                    }
                }
                _ => self.eliminate_any(plan, step, start, end),
            }
            start = end;
        }
    }

    /// One node with any number of neighbours, perhaps behind closed switches, perhaps with none.
    fn eliminate_any(&mut self, plan: &Plan, step: usize, start: usize, end: usize) {
        let sum: f64 = self.conductance[start..end].iter().sum();
        self.sum[step] = sum;
        self.merged[step] = NOWHERE;
        if sum <= 0.0 {
            self.weight[start..end].fill(0.0);
        } else if sum.is_infinite() {
            self.merge(plan, step, start, end - start);
        } else if end - start == 1 {
            self.weight[start] = 1.0;
        } else {
            self.star_to_mesh(plan, step, start, end - start);
        }
    }

    /// Puts a node behind closed switches into the first neighbour they lead to; adding an
    /// infinite conductance closes the switch between that one and the others they lead to.
    fn merge(&mut self, plan: &Plan, step: usize, start: usize, degree: usize) {
        let row = &self.conductance[start..start + degree];
        let into = row.iter().position(|siemens| siemens.is_infinite()).unwrap_or(0);
        self.merged[step] = plan.later[start + into];
        for at in (0..degree).filter(|&at| at != into) {
            let slot = plan.pair(step, degree, at, into);
            self.conductance[slot] += self.conductance[start + at];
        }
    }

    fn star_to_mesh(&mut self, plan: &Plan, step: usize, start: usize, degree: usize) {
        let inverse = self.sum[step].recip();
        let mut pair = plan.pair_first[step] as usize;
        for at in 0..degree {
            let weight = self.conductance[start + at] * inverse;
            self.weight[start + at] = weight;
            let slots = &plan.pairs[pair..pair + degree - at - 1];
            if weight > 0.0 {
                for (&slot, other) in slots.iter().zip(start + at + 1..) {
                    self.conductance[slot as usize] += weight * self.conductance[other];
                }
            }
            pair += slots.len();
        }
    }

    /// The potentials of all nodes from those of the kept ones, which stand in `potentials`
    /// already; NaN where nothing holds a node.
    pub(crate) fn spread(&self, plan: &Plan, potentials: &mut Potentials) {
        (0..plan.free).rev().for_each(|step| self.spread_to(plan, step, potentials));
    }

    /// The same for these steps alone, late ones first: whatever they hang on must be among them.
    pub(crate) fn spread_over(&self, plan: &Plan, steps: &[u32], potentials: &mut Potentials) {
        steps.iter().for_each(|&step| self.spread_to(plan, step as usize, potentials));
    }

    fn spread_to(&self, plan: &Plan, step: usize, potentials: &mut Potentials) {
        let into = self.merged[step];
        potentials.by_step[step] = if into != NOWHERE {
            potentials.by_step[into as usize]
        } else if self.sum[step] > 0.0 {
            self.mean(plan, step, potentials)
        } else {
            f64::NAN
        };
    }

    fn mean(&self, plan: &Plan, step: usize, potentials: &Potentials) -> f64 {
        let row = plan.row(step);
        let (weights, later) = (&self.weight[row.clone()], &plan.later[row]);
        // Chosen, not jumped over, so that a floating neighbour without weight says nothing.
        weights
            .iter()
            .zip(later)
            .map(|(&weight, &node)| {
                let share = weight * potentials.by_step[node as usize];
                if weight > 0.0 { share } else { 0.0 }
            })
            .sum()
    }

    /// Potentials under currents driven into the nodes (A, by node), the kept nodes at 0 V (and the
    /// last node of an island without one). Also the greatest current that finds no way out of its
    /// island (0 in a sound network, where each island has one kept node at most).
    pub(crate) fn under_currents(&self, plan: &Plan, injected: &[f64]) -> (Potentials, f64) {
        let mut driven = vec![0.0; injected.len()];
        for (node, &current) in injected.iter().enumerate() {
            driven[plan.rank[node] as usize] = current;
        }
        let mut stranded = 0.0_f64;
        for step in 0..plan.free {
            let current = driven[step];
            if self.merged[step] != NOWHERE {
                driven[self.merged[step] as usize] += current;
            } else if self.sum[step] > 0.0 {
                for slot in plan.row(step) {
                    driven[plan.later[slot] as usize] += self.weight[slot] * current;
                }
            } else {
                stranded = stranded.max(current.abs());
            }
        }
        for current in &driven[plan.free..] {
            stranded = stranded.max(current.abs());
        }
        let mut potentials = Potentials { by_step: vec![0.0; injected.len()] };
        for step in (0..plan.free).rev() {
            let into = self.merged[step];
            if into != NOWHERE {
                potentials.by_step[step] = potentials.by_step[into as usize];
            } else if self.sum[step] > 0.0 {
                potentials.by_step[step] =
                    driven[step] / self.sum[step] + self.mean(plan, step, &potentials);
            }
        }
        (potentials, stranded)
    }
}

impl Work {
    /// Potentials under 1 A driven in at `through.0` and out at `through.1`, with `ohm` between the
    /// two kept nodes `poles` (0: they are one), the second of which is at 0 V.
    pub(crate) fn adjoint(
        &self,
        plan: &Plan,
        through: (usize, usize),
        poles: (usize, usize),
        ohm: f64,
    ) -> Potentials {
        let mut driven = vec![0.0; plan.rank.len()];
        driven[plan.rank[through.0] as usize] += 1.0;
        driven[plan.rank[through.1] as usize] -= 1.0;
        for step in 0..plan.free {
            let current = driven[step];
            if current == 0.0 {
                continue;
            }
            if self.merged[step] != NOWHERE {
                driven[self.merged[step] as usize] += current;
            } else if self.sum[step] > 0.0 {
                for slot in plan.row(step) {
                    driven[plan.later[slot] as usize] += self.weight[slot] * current;
                }
            }
        }
        let mut potentials = Potentials { by_step: vec![0.0; driven.len()] };
        let plus = plan.rank[poles.0] as usize;
        let (siemens, one) = self.left(plan.slot(poles.0, poles.1));
        if !one && ohm > 0.0 {
            potentials.by_step[plus] = driven[plus] / (siemens + ohm.recip());
        }
        for step in (0..plan.free).rev() {
            let into = self.merged[step];
            if into != NOWHERE {
                potentials.by_step[step] = potentials.by_step[into as usize];
            } else if self.sum[step] > 0.0 {
                potentials.by_step[step] =
                    driven[step] / self.sum[step] + self.mean(plan, step, &potentials);
            }
        }
        potentials
    }
}

/// Potentials in the order of elimination.
#[derive(Debug, Clone, Default)]
pub(crate) struct Potentials {
    by_step: Vec<f64>,
}

impl Potentials {
    /// Room for a plan's nodes.
    pub(crate) fn reset(&mut self, plan: &Plan) {
        self.by_step.clear();
        self.by_step.resize(plan.rank.len(), f64::NAN);
    }
    /// Room for a plan's nodes, whatever stands in it: [`Work::spread`] fills all but the kept.
    pub(crate) fn fit(&mut self, plan: &Plan) {
        self.by_step.resize(plan.rank.len(), f64::NAN);
    }
    /// All potentials, in the order of elimination.
    pub(crate) fn by_step(&self) -> &[f64] {
        &self.by_step
    }
    /// The potential of a node; NaN: nothing holds it.
    pub(crate) fn of(&self, plan: &Plan, node: usize) -> f64 {
        self.by_step[plan.rank[node] as usize]
    }
    /// Fixes the potential of a kept node.
    pub(crate) fn hold(&mut self, plan: &Plan, node: usize, volt: f64) {
        self.by_step[plan.rank[node] as usize] = volt;
    }
}

/// Eliminates the node with fewest neighbours first and leaves in `neighbours` the later ones.
fn minimum_degree(
    neighbours: &mut [std::collections::BTreeSet<usize>],
    kept: &[usize],
) -> Vec<usize> {
    let nodes = neighbours.len();
    let mut gone = vec![false; nodes];
    kept.iter().for_each(|&node| gone[node] = true);
    let mut order = Vec::with_capacity(nodes);
    while let Some(node) =
        (0..nodes).filter(|&node| !gone[node]).min_by_key(|&node| neighbours[node].len())
    {
        gone[node] = true;
        order.push(node);
        let around: Vec<usize> = neighbours[node].iter().copied().collect();
        for (index, &a) in around.iter().enumerate() {
            neighbours[a].remove(&node);
            for &b in &around[index + 1..] {
                neighbours[a].insert(b);
                neighbours[b].insert(a);
            }
        }
    }
    for (index, &node) in kept.iter().enumerate() {
        order.push(node);
        for &earlier in &kept[..index] {
            neighbours[node].remove(&earlier);
        }
    }
    order
}

/// Something, and no ideal switch in it.
fn is_sound(siemens: f64) -> bool {
    siemens > 0.0 && siemens < f64::INFINITY
}

fn small(value: usize) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_divider_is_the_mean_of_its_ends() {
        let plan = Plan::new(3, &[(0, 2), (2, 1)], &[0, 1]);
        assert_eq!(plan.free(), 1);
        let mut work = Work::default();
        work.clear(&plan);
        work.add(plan.slot(0, 2), 0.1);
        work.add(plan.slot(2, 1), 0.3);
        work.eliminate(&plan);
        let mut at = Potentials::default();
        at.reset(&plan);
        at.hold(&plan, 0, 100.0);
        at.hold(&plan, 1, 0.0);
        work.spread(&plan, &mut at);
        assert!((at.of(&plan, 2) - 25.0).abs() < 1e-12);
        assert!((work.left(plan.slot(0, 1)).0 - 0.075).abs() < 1e-15);
    }

    #[test]
    fn a_node_behind_two_closed_switches_joins_both_its_neighbours() {
        let plan = Plan::new(4, &[(0, 2), (2, 3), (3, 1), (2, 1)], &[0, 1]);
        let mut work = Work::default();
        work.clear(&plan);
        work.close(plan.slot(0, 2));
        work.close(plan.slot(2, 3));
        work.add(plan.slot(3, 1), 2.0);
        work.eliminate(&plan);
        assert_eq!(work.left(plan.slot(0, 1)), (2.0, false));
        work.clear(&plan);
        work.close(plan.slot(0, 2));
        work.close(plan.slot(2, 1));
        work.eliminate(&plan);
        assert!(work.left(plan.slot(0, 1)).1);
    }
}
