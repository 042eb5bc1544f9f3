//! One battery's network at one rest position and one corner, ready for a family of grounds.
//!
//! **In:** the bench's network of a setup. **Out:** an [`Island`] for each living direct-current
//! supply (one for several that are joined): its solved [`Field`], its points, its capacitance.
//! **Never here:** what moves.
//!
//! Islands meet in ground alone, and through a single point no current is exchanged: what a ground
//! does on one battery nothing of another feels. So each island has its own copy of ground.

use super::assumed::Detector;
use super::field::{Added, Bend, Changed, Field, FieldFault, Link, Parts, Piece, Point};
use super::joined::Joined;
use fiftytwo_circuit::curve::Characteristic;
use fiftytwo_circuit::network::{DIODE_OHM, Network};
use fiftytwo_circuit::{Bench, BenchFault, Branch, Setup};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{CurrentKind, NodeId, PartId, PartKind, SupplyId};

/// Below this a resistance is a wire, ohm: 1 mV at 100 A.
const WIRE: f64 = 1e-5;
/// A blocking part leaks this, S: no more than a number for what stands behind it.
const LEAKS: f64 = 1e-12;

/// One battery's network.
#[derive(Debug)]
pub(super) struct Island {
    /// What stands between it and ground is declared, not typical.
    pub declared: bool,
    pub field: Field,
    /// The minus pole everything is counted from.
    pub minus: usize,
    pub ground: usize,
    /// Stray capacitance, F.
    pub farad: f64,
    /// Nodes of one potential whatever happens; the first speaks for the rest.
    pub points: Vec<Vec<NodeId>>,
    /// Placed parts with both ends here.
    pub parts: Vec<PartId>,
}

/// Why an island can't be computed.
#[derive(Debug, Clone, Copy)]
pub(super) enum IslandFault {
    Bench(BenchFault),
    Field(SupplyId, FieldFault),
}

/// The islands of a setup that hold a wanted supply. With `fuse_ohm` fuses are resistances, so that
/// each one's current can be told.
pub(super) fn islands(
    bench: &Bench<'_>,
    setup: &Setup,
    detectors: &[Detector],
    wanted: &[SupplyId],
    fuse_ohm: Option<f64>,
) -> Result<Vec<Island>, IslandFault> {
    let scheme = bench.scheme();
    let network = bench.network(setup).map_err(IslandFault::Bench)?;
    let ground = scheme.nodes.len();
    let is_ground = |node: usize| node == ground || node == ground + 1;
    let mut hangs = Joined::new(network_nodes(&network, ground + 2));
    for branch in network.branches() {
        let (a, b) = branch.nodes();
        if !is_ground(a) && !is_ground(b) && conducts(branch) {
            hangs.join(a, b, 0.0);
        }
    }
    let fuses: Vec<(usize, usize)> = scheme
        .placed()
        .filter(|(_, part)| matches!(part.kind, PartKind::Fuse { .. }))
        .filter_map(|(_, part)| part.at.map(|at| (at.from.index(), at.to.index())))
        .collect();
    let mut islands = Vec::new();
    let mut seen = Vec::new();
    for (id, supply) in scheme.supplies.iter() {
        let lives = setup.live.get(id.index()).copied().unwrap_or(false);
        let root = hangs.find(supply.minus.index()).0;
        if supply.current != CurrentKind::Dc
            || !lives
            || !wanted.contains(&id)
            || seen.contains(&root)
        {
            continue;
        }
        seen.push(root);
        let here = |hangs: &mut Joined, node: usize| node == ground || hangs.find(node).0 == root;
        let supplies: Vec<SupplyId> = scheme
            .supplies
            .iter()
            .filter(|(other, supply)| {
                setup.live.get(other.index()).copied().unwrap_or(false)
                    && here(&mut hangs, supply.minus.index())
            })
            .map(|(other, _)| other)
            .collect();
        let mut parts = Parts {
            nodes: network_nodes(&network, ground + 2),
            reference: supply.minus.index(),
            ..Parts::default()
        };
        let mut whole = Network::new(parts.nodes);
        for (index, branch) in network.branches().iter().enumerate() {
            let (a, b) = branch.nodes();
            if here(&mut hangs, a) && here(&mut hangs, b) {
                match (branch, fuse_ohm, network.curve_of(index)) {
                    (Branch::Switch { closed: true, .. }, Some(ohm), _)
                        if fuses.contains(&(a, b)) =>
                    {
                        parts.links.push(resistor(a, b, ohm));
                        whole.resistor(a, b, ohm);
                        continue;
                    }
                    (Branch::Curve { .. }, _, Some(curve)) => {
                        whole.curve(a, b, curve.clone());
                    }
                    _ => {
                        whole.add(*branch);
                    }
                }
                put(&mut parts, branch, network.curve_of(index));
            }
        }
        let mut farad = 0.0;
        let mut declared = true;
        for detector in detectors.iter().filter(|detector| supplies.contains(&detector.supply)) {
            farad += detector.farad;
            declared &= !detector.typical_legs && !detector.typical_farad;
            if detector.typical_legs {
                let supply = &scheme.supplies[detector.supply];
                for (pole, ohm) in
                    [(supply.plus, detector.legs.plus), (supply.minus, detector.legs.minus)]
                {
                    parts.links.push(resistor(pole.index(), ground, ohm));
                    whole.resistor(pole.index(), ground, ohm);
                }
            }
        }
        if !parts.bends.is_empty() {
            parts.whole = Some(whole);
        }
        let field = Field::new(&parts).map_err(|fault| IslandFault::Field(id, fault))?;
        let mut points: Vec<(Point, Vec<NodeId>)> = Vec::new();
        for node in scheme.nodes.ids() {
            if node.index() == ground || !here(&mut hangs, node.index()) {
                continue;
            }
            let Some(point) = field.point(node.index()) else { continue };
            match points.iter_mut().find(|(other, _)| *other == point) {
                Some((_, nodes)) => nodes.push(node),
                None => points.push((point, vec![node])),
            }
        }
        let placed = scheme.placed().filter_map(|(part, data)| {
            let at = data.at?;
            (field.holds(at.from.index()) && field.holds(at.to.index())).then_some(part)
        });
        let placed = placed.collect();
        islands.push(Island {
            declared,
            field,
            minus: supply.minus.index(),
            ground,
            farad,
            points: points.into_iter().map(|(_, nodes)| nodes).collect(),
            parts: placed,
        });
    }
    Ok(islands)
}

impl Island {
    /// A ground on a wire.
    pub fn grounded(&self, at: NodeId, ohm: f64) -> Added {
        Added { a: at.index(), b: self.ground, ohm, volt: 0.0 }
    }
    /// The ground held where it stood before: the first instant, while the capacitance still has
    /// its charge.
    pub fn held(&self, before: f64) -> Added {
        Added { a: self.ground, b: self.minus, ohm: 0.0, volt: before }
    }
    /// Volts across a placed part, V.
    pub fn across(&self, bench: &Bench<'_>, part: PartId, state: &Changed<'_>) -> Option<f64> {
        let at = bench.scheme().parts[part].at?;
        state.between(at.from.index(), at.to.index())
    }
}

fn network_nodes(network: &Network, least: usize) -> usize {
    let most = network.branches().iter().map(|branch| {
        let (a, b) = branch.nodes();
        a.max(b) + 1
    });
    most.max().unwrap_or(0).max(least)
}

fn resistor(a: usize, b: usize, ohm: f64) -> Link {
    Link { a, b, siemens: ohm.recip(), amps: 0.0 }
}

fn conducts(branch: &Branch) -> bool {
    match *branch {
        Branch::Switch { closed, .. } => closed,
        Branch::Resistor { ohm, .. } => ohm.is_finite(),
        Branch::Source { .. }
        | Branch::Current { .. }
        | Branch::Diode { .. }
        | Branch::Curve { .. } => true,
    }
}

fn put(parts: &mut Parts, branch: &Branch, curve: Option<&Characteristic>) {
    match *branch {
        Branch::Switch { closed: false, .. } => {}
        Branch::Switch { a, b, .. } => parts.joins.push((a, b, 0.0)),
        Branch::Resistor { a, b, ohm } if ohm < WIRE => parts.joins.push((a, b, 0.0)),
        Branch::Resistor { a, b, ohm } if ohm.is_finite() => parts.links.push(resistor(a, b, ohm)),
        Branch::Resistor { .. } => {}
        Branch::Source { plus, minus, volt, ohm } if ohm < WIRE => {
            parts.joins.push((plus, minus, volt));
        }
        Branch::Source { plus, minus, volt, ohm } => {
            let siemens = ohm.recip();
            parts.links.push(Link { a: plus, b: minus, siemens, amps: -volt * siemens });
        }
        Branch::Current { from, to, ampere } => {
            parts.links.push(Link { a: from, b: to, siemens: 0.0, amps: ampere });
        }
        Branch::Diode { anode, cathode } => parts.bends.push(Bend {
            a: anode,
            b: cathode,
            pieces: vec![
                Piece { until: 0.0, siemens: LEAKS, amps: 0.0 },
                Piece { until: f64::INFINITY, siemens: DIODE_OHM.recip(), amps: 0.0 },
            ],
        }),
        Branch::Curve { a, b, .. } => {
            let pieces = curve.map(pieces).unwrap_or_default();
            parts.bends.push(Bend { a, b, pieces });
        }
    }
}

/// The straight pieces of a characteristic, each with at least its leak.
fn pieces(curve: &Characteristic) -> Vec<Piece> {
    let points = curve.points();
    curve
        .slopes()
        .iter()
        .enumerate()
        .map(|(index, &slope)| {
            // The piece ends at its own point; it is drawn through that or through the one before.
            let (volt, ampere) = points.get(index).or(points.last()).copied().unwrap_or((0.0, 0.0));
            let until = points.get(index).map_or(f64::INFINITY, |point| point.0);
            Piece { until, siemens: slope.max(LEAKS), amps: ampere - slope * volt }
        })
        .collect()
}
