//! What closed contacts and conductors alone join to the poles.

use crate::positions::{Positions, Supplies};
use crate::union::Union;
use crate::wiring::compile::{EdgeKind, Section};

/// For every node the living poles that it is joined to without a load in between.
pub(super) struct Reach {
    root: Vec<usize>,
    plus: Vec<u64>,
    minus: Vec<u64>,
}

impl Reach {
    pub(super) fn new(section: &Section, key: &Positions, live: Supplies) -> Self {
        let mut union = Union::new(section.nodes);
        for edge in &section.edges {
            let (a, b) = section.ends(edge);
            let joins = match edge.kind {
                EdgeKind::Core { .. } => true,
                EdgeKind::Switch(bit) => key.is_closed(bit),
                _ => false,
            };
            if joins {
                union.join(a, b, 0.0);
            }
        }
        let root: Vec<usize> = (0..section.nodes).map(|node| union.root(node)).collect();
        let mut reach = Self { plus: vec![0; section.nodes], minus: vec![0; section.nodes], root };
        for (bit, feed) in section.feeds.iter().enumerate() {
            if live.lives(feed.supply) {
                reach.plus[reach.root[feed.plus]] |= 1 << bit;
                reach.minus[reach.root[feed.minus]] |= 1 << bit;
            }
        }
        reach.through_diodes(section);
        reach
    }

    fn through_diodes(&mut self, section: &Section) {
        let diodes: Vec<(usize, usize)> = section
            .edges
            .iter()
            .filter(|edge| matches!(edge.kind, EdgeKind::Diode(_)))
            .map(|edge| section.ends(edge))
            .collect();
        for _ in 0..diodes.len() {
            for &(anode, cathode) in &diodes {
                let (anode, cathode) = (self.root[anode], self.root[cathode]);
                self.plus[cathode] |= self.plus[anode];
                self.minus[anode] |= self.minus[cathode];
            }
        }
    }

    /// Whether two nodes are joined to the two poles of one supply.
    pub(super) fn is_straight(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.root[a], self.root[b]);
        self.plus[a] & self.minus[b] != 0 || self.plus[b] & self.minus[a] != 0
    }
}
