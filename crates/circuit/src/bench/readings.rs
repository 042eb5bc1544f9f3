//! What the meter shows.

use super::Bench;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, PartId, SupplyId};

/// Potentials and currents of one setup.
#[derive(Debug)]
pub struct Readings<'b> {
    pub(super) bench: &'b Bench<'b>,
    /// By node: V above the lowest pole of its island; none: nothing holds it.
    pub(super) potentials: Vec<Option<f64>>,
    /// By node: what hangs together.
    pub(super) islands: Vec<usize>,
    /// By part: its two nodes.
    pub(super) ends: Vec<Option<(usize, usize)>>,
    pub(super) amps: Vec<Option<f64>>,
    pub(super) drawn: Vec<Option<f64>>,
}

impl Readings<'_> {
    /// The potential of a wire above the minus pole of its own supply, V. Where that pole hangs
    /// on nothing that lives but the wire does (fed by another supply), above the lowest living
    /// pole that it hangs on. None: nothing holds it.
    pub fn potential(&self, node: NodeId) -> Option<f64> {
        let own = self.bench.supply_of(node).map(|supply| self.bench.scheme.supplies[supply].minus);
        own.and_then(|minus| self.between(node, minus)).or_else(|| self.of(node.index()))
    }
    /// The potential of a wire above ground, V. None: no way, however weak, leads to ground.
    pub fn to_ground(&self, node: NodeId) -> Option<f64> {
        let ground = self.bench.scheme.nodes.len() + usize::from(self.bench.is_ac(node));
        self.difference(node.index(), ground)
    }
    /// The voltage from one wire to another, V. None: nothing joins them.
    pub fn between(&self, a: NodeId, b: NodeId) -> Option<f64> {
        self.difference(a.index(), b.index())
    }
    /// The voltage across a part, V, positive from its upper end to its lower. None: an end floats.
    pub fn across(&self, part: PartId) -> Option<f64> {
        let (a, b) = self.ends.get(part.index()).copied().flatten()?;
        self.difference(a, b)
    }
    /// The current through a part, A, positive from its upper end to its lower; 0 through what is
    /// open. None: it shares its current with a wire beside it in a way that nobody can know, it
    /// floats, or it is a spare.
    pub fn amps(&self, part: PartId) -> Option<f64> {
        self.ends.get(part.index()).copied().flatten()?;
        self.amps.get(part.index()).copied().flatten()
    }
    /// What a supply delivers, A. None: it does not live.
    pub fn drawn(&self, supply: SupplyId) -> Option<f64> {
        self.drawn.get(supply.index()).copied().flatten()
    }
    fn of(&self, node: usize) -> Option<f64> {
        self.potentials.get(node).copied().flatten()
    }
    fn difference(&self, a: usize, b: usize) -> Option<f64> {
        let together = self.islands.get(a)? == self.islands.get(b)?;
        together.then(|| Some(self.of(a)? - self.of(b)?)).flatten()
    }
}
