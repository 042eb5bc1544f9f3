//! A bolted short at the far end of each core.
//!
//! **In:** the web of conductors. **Out:** least and greatest current of the short, the fuses on
//! its way. **Never here:** times.
//!
//! The far end of a core is joined to the nearest wire of the other pole at that place (through
//! whatever contacts, closed), by the way of least resistance. The core itself may be fed by several
//! ways: least current through that of most resistance (only its contacts closed), supply low, its
//! internal resistance and the conductors at their greatest; greatest by that of least, supply high,
//! both at their least. Contacts, fuses and the short itself have no resistance; the inductance of the loop only
//! delays the current and is left out.

use super::grid::{Grid, Path, Reached};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{
    CableId, CircuitId, NodeId, Part, PartId, PartKind, PlaceId, Scheme, Supply, SupplyId,
};

/// The two poles of one supply, reached without loads.
pub(super) struct Poles<'g> {
    pub(super) id: SupplyId,
    pub(super) plus: Reached<'g>,
    pub(super) minus: Reached<'g>,
}

/// A short at a node.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Short {
    /// From the pole to the node, by the way of most resistance.
    pub(super) own: Path,
    /// From the other pole to where it touches.
    pub(super) other: Path,
    /// Least and greatest current, A; infinite: nothing with a resistance is in the loop.
    pub(super) amps: [f64; 2],
}

/// A core with its far end.
pub(super) struct FarEnd {
    pub(super) core: PartId,
    pub(super) cable: CableId,
    pub(super) side_by_side: usize,
    pub(super) node: NodeId,
    /// Its other end.
    pub(super) near: NodeId,
    pub(super) from_plus: bool,
    pub(super) circuit: CircuitId,
}

impl<'g> Poles<'g> {
    pub(super) fn new(scheme: &Scheme, grid: &'g Grid, id: SupplyId) -> Self {
        let supply = &scheme.supplies[id];
        Self {
            id,
            plus: grid.reach(supply.plus, supply.minus, None),
            minus: grid.reach(supply.minus, supply.plus, None),
        }
    }

    fn side(&self, from_plus: bool) -> &Reached<'g> {
        if from_plus { &self.plus } else { &self.minus }
    }

    /// Which pole a node belongs to without loads; none: neither.
    pub(super) fn belongs_to_plus(&self, node: NodeId) -> Option<bool> {
        let (plus, minus) = (self.plus.distance(node), self.minus.distance(node));
        if plus.is_infinite() && minus.is_infinite() { None } else { Some(plus <= minus) }
    }

    /// The end of a core that is farther from its pole.
    pub(super) fn far_end(&self, id: PartId, part: &Part) -> Option<FarEnd> {
        let PartKind::Core(core) = &part.kind else { return None };
        let at = part.at?;
        let from_plus = self.belongs_to_plus(at.from).or_else(|| self.belongs_to_plus(at.to))?;
        let side = self.side(from_plus);
        let upright = side.distance(at.from) <= side.distance(at.to);
        let (near, node) = if upright { (at.from, at.to) } else { (at.to, at.from) };
        Some(FarEnd {
            core: id,
            cable: core.cable,
            side_by_side: core.cores.len(),
            node,
            near,
            from_plus,
            circuit: at.circuit,
        })
    }

    /// A short at the far end of a core, fed through the core.
    pub(super) fn at_the_end_of(
        &self,
        scheme: &Scheme,
        grid: &Grid,
        end: &FarEnd,
    ) -> Option<Short> {
        let short = self.short(scheme, end.node, end.from_plus, end.circuit)?;
        let supply = &scheme.supplies[self.id];
        let (pole, barred) =
            if end.from_plus { (supply.plus, supply.minus) } else { (supply.minus, supply.plus) };
        let Some(way) = grid.longest(pole, grid.wire(end.near), barred, end.core) else {
            return Some(short);
        };
        let own = grid.with_last(way, end.core);
        if own.hot <= short.own.hot * (1.0 + 1e-9) {
            return Some(short);
        }
        let [least, _] = amps(supply, &own, &short.other);
        Some(Short { amps: [least, short.amps[1]], own, other: short.other })
    }

    /// A short from a node to the nearest wire of the other pole at its place: one of its own
    /// circuit if there is one, else one of the supply. None: there is none.
    pub(super) fn short(
        &self,
        scheme: &Scheme,
        node: NodeId,
        from_plus: bool,
        circuit: CircuitId,
    ) -> Option<Short> {
        let own = self.side(from_plus).path(node)?;
        let place = scheme.nodes[node].place;
        let other = self
            .nearest(scheme, place, !from_plus, Some(circuit))
            .or_else(|| self.nearest(scheme, place, !from_plus, None))?;
        let supply = &scheme.supplies[self.id];
        Some(Short { amps: amps(supply, &own, &other), own, other })
    }

    fn nearest(
        &self,
        scheme: &Scheme,
        place: PlaceId,
        of_plus: bool,
        circuit: Option<CircuitId>,
    ) -> Option<Path> {
        let side = self.side(of_plus);
        let supply = &scheme.supplies[self.id];
        let ends = scheme.placed().filter_map(|(_, part)| part.at);
        let ends = ends.filter(|at| circuit.is_none_or(|circuit| at.circuit == circuit));
        let poles = circuit.is_none().then_some([supply.plus, supply.minus]);
        let nearest = ends
            .flat_map(|at| [at.from, at.to])
            .chain(poles.into_iter().flatten())
            .filter(|node| scheme.nodes[*node].place == place)
            .filter(|node| self.belongs_to_plus(*node) == Some(of_plus))
            .map(|node| (node, side.distance(node)))
            .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.index().cmp(&b.0.index())))?;
        side.path(nearest.0)
    }
}

fn amps(supply: &Supply, own: &Path, other: &Path) -> [f64; 2] {
    let current = |volts: f64, ohm: f64| if ohm > 0.0 { volts / ohm } else { f64::INFINITY };
    [
        current(supply.range.lo, supply.resistance.hi + own.hot + other.hot),
        current(supply.range.hi, supply.resistance.lo + own.cold + other.cold),
    ]
}

impl Short {
    /// The fuses on its way: those of its own pole, the nearest to the short first, then those of
    /// the other.
    pub(super) fn fuses(&self, scheme: &Scheme) -> Vec<PartId> {
        let is_fuse = |part: &&PartId| matches!(scheme.parts[**part].kind, PartKind::Fuse { .. });
        let own = self.own.parts.iter().rev().filter(is_fuse);
        own.chain(self.other.parts.iter().rev().filter(is_fuse)).copied().collect()
    }
}
