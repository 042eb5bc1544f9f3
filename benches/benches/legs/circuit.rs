//! N parallel legs, for all sides the same numbers.
//!
//! leg i:  rail -- fuse -- f -- S1 -- a -- S2 -- b -- S3 -- c -- S4 -- d -- cable -- e -- coil -- minus,
//! a lamp of 3 kohm from f to d, a bridge of 0.5 ohm from b of leg i to b of leg i + 1 for even i;
//! 125 V behind 14 milliohm. A closed contact is 10 milliohm, an open one is taken out.

use fiftytwo_circuit::network::Network;

pub const VOLT: f64 = 125.0;
pub const SUPPLY_OHM: f64 = 0.014;
pub const CLOSED_OHM: f64 = 0.010;
pub const OPEN_OHM: f64 = 1e9;
/// Node 0 is the minus pole, node 1 the rail.
const RAIL: usize = 1;

pub struct Legs {
    pub nodes: usize,
    /// Node, node, ohm.
    pub resistors: Vec<(usize, usize, f64)>,
    /// Ends of each contact.
    pub contacts: Vec<(usize, usize)>,
    /// The upper end of each coil; the lower is the minus pole.
    pub coils: Vec<usize>,
}

/// Numbers without a pattern, the same in every run.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        // Constants of a 64-bit linear congruential generator in common use (from memory).
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 11
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next() as f64 / (1_u64 << 53) as f64
    }
}

impl Legs {
    pub fn new(legs: usize) -> Self {
        let mut dice = Dice(52);
        let (mut resistors, mut contacts, mut coils) = (Vec::new(), Vec::new(), Vec::new());
        for leg in 0..legs {
            let f = 2 + 6 * leg;
            let (b, d, e) = (f + 2, f + 4, f + 5);
            resistors.push((RAIL, f, dice.between(0.003, 0.02)));
            contacts.extend((0..4).map(|at| (f + at, f + at + 1)));
            resistors.push((d, e, dice.between(0.2, 3.5)));
            resistors.push((e, 0, dice.between(20.0, 60.0)));
            resistors.push((f, d, 3000.0));
            coils.push(e);
            if leg % 2 == 1 {
                resistors.push((b - 6, b, 0.5));
            }
        }
        Self { nodes: 2 + 6 * legs, resistors, contacts, coils }
    }

    /// Positions in which each contact is closed seven times in ten.
    pub fn positions(&self, dice: &mut Dice) -> Vec<u64> {
        let mut closed = vec![0; self.contacts.len().div_ceil(64)];
        for contact in 0..self.contacts.len() {
            closed[contact / 64] |= u64::from(dice.next() % 10 < 7) << (contact % 64);
        }
        closed
    }

    pub fn network(&self) -> Network {
        let mut network = Network::new(self.nodes + self.contacts.len());
        network.source(RAIL, 0, VOLT, SUPPLY_OHM);
        self.resistors.iter().for_each(|&(a, b, ohm)| _ = network.resistor(a, b, ohm));
        for (contact, &(a, b)) in self.contacts.iter().enumerate() {
            let between = self.nodes + contact;
            network.switch(a, between, false);
            network.resistor(between, b, CLOSED_OHM);
        }
        network
    }

    pub fn asked(&self) -> Vec<(usize, usize)> {
        self.coils.iter().map(|&e| (e, 0)).collect()
    }

    /// All branches with open contacts at [`OPEN_OHM`], the contacts last.
    pub fn branches(&self, closed: &[u64]) -> Vec<(usize, usize, f64)> {
        let mut branches = self.resistors.clone();
        branches.extend(self.contacts.iter().enumerate().map(|(contact, &(a, b))| {
            let is_closed = closed[contact / 64] >> (contact % 64) & 1 == 1;
            (a, b, if is_closed { CLOSED_OHM } else { OPEN_OHM })
        }));
        branches
    }

    /// The branches with open contacts taken out, and what then floats.
    pub fn left(&self, closed: &[u64]) -> Vec<(usize, usize, f64)> {
        let branches = self.branches(closed);
        let kept: Vec<_> = branches.into_iter().filter(|&(_, _, ohm)| ohm < OPEN_OHM).collect();
        let mut around = vec![Vec::new(); self.nodes];
        for &(a, b, _) in &kept {
            around[a].push(b);
            around[b].push(a);
        }
        let (mut held, mut todo) = (vec![false; self.nodes], vec![0]);
        held[0] = true;
        while let Some(node) = todo.pop() {
            for &next in &around[node] {
                if !std::mem::replace(&mut held[next], true) {
                    todo.push(next);
                }
            }
        }
        kept.into_iter().filter(|&(a, _, _)| held[a]).collect()
    }
}
