//! From a setup to a network and back to parts and wires.

use super::readings::Readings;
use super::values::Law;
use super::{Bench, BenchFault, Charge, Fault, Setup, Stand, Warmth};
use crate::network::{Branch, Network, NetworkError};
use crate::union::Union;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{CurrentKind, NodeId, PartId, Supply, SupplyId};

/// What a branch of the network stands for.
#[derive(Clone, Copy)]
enum Meaning {
    Part(PartId),
    Supply(SupplyId),
    Other,
}

struct Builder<'a, 's> {
    bench: &'a Bench<'s>,
    setup: &'a Setup,
    network: Network,
    /// By branch of the network.
    meanings: Vec<Meaning>,
    /// Ends of each placed part, loose ends at nodes of their own.
    ends: Vec<Option<(usize, usize)>>,
}

/// The network of a setup, before it is solved.
fn built<'a, 's>(bench: &'a Bench<'s>, setup: &'a Setup) -> Result<Builder<'a, 's>, BenchFault> {
    let loose = |fault: &&Fault| matches!(fault, Fault::Loose { .. } | Fault::Behind { .. });
    let nodes = bench.scheme.nodes.len() + 2 + setup.faults.iter().filter(loose).count();
    let branches = bench.scheme.parts.len() + bench.wires.len() + 4 * bench.scheme.supplies.len();
    let branches = branches + setup.faults.len();
    let mut builder = Builder {
        bench,
        setup,
        network: Network::with_room(nodes, branches),
        meanings: Vec::with_capacity(branches),
        ends: bench
            .scheme
            .parts
            .values()
            .map(|part| part.at.map(|at| (at.from.index(), at.to.index())))
            .collect(),
    };
    builder.loose_ends()?;
    builder.supplies();
    builder.wires();
    builder.parts()?;
    builder.faults()?;
    Ok(builder)
}

/// The bare network: the scheme's nodes, then ground of direct, then of alternating current.
pub(super) fn network(bench: &Bench<'_>, setup: &Setup) -> Result<Network, BenchFault> {
    Ok(built(bench, setup)?.network)
}

pub(super) fn solve<'b>(bench: &'b Bench<'b>, setup: &Setup) -> Result<Readings<'b>, BenchFault> {
    let Builder { network, meanings, ends, .. } = built(bench, setup)?;
    let islands = islands(bench, setup, &network)?;
    let solution = bench.shapes.solve(&network).map_err(|error| told(&meanings, error))?;
    let mut amps = vec![0.0; bench.scheme.parts.len()].into_iter().map(Some).collect::<Vec<_>>();
    let mut drawn = vec![None; bench.scheme.supplies.len()];
    for (index, meaning) in meanings.iter().enumerate() {
        match meaning {
            Meaning::Part(part) => amps[part.index()] = solution.current(index),
            // A delivering source has a negative current.
            Meaning::Supply(supply) => {
                drawn[supply.index()] = solution.current(index).map(|ampere| -ampere);
            }
            Meaning::Other => {}
        }
    }
    let potentials = (0..network.nodes()).map(|node| solution.potential(node)).collect();
    Ok(Readings { bench, potentials, islands, ends, amps, drawn })
}

/// Which nodes hang together, and whether direct and alternating current are kept apart.
fn islands(bench: &Bench<'_>, setup: &Setup, network: &Network) -> Result<Vec<usize>, BenchFault> {
    let scheme = bench.scheme;
    let nodes = network.nodes();
    let lives = |id: &SupplyId| setup.lives(*id);
    let mut ideal = Union::new(nodes);
    let mut union = Union::new(nodes);
    for branch in network.branches() {
        let (a, b) = branch.nodes();
        union.join(a, b, 0.0);
        if matches!(branch, Branch::Switch { closed: true, .. } | Branch::Resistor { ohm: 0.0, .. })
        {
            ideal.join(a, b, 0.0);
        }
    }
    for id in scheme.supplies.ids().filter(lives) {
        let supply = &scheme.supplies[id];
        if ideal.root(supply.plus.index()) == ideal.root(supply.minus.index()) {
            return Err(BenchFault::Shorted(id));
        }
    }
    for dc in scheme.supplies.ids().filter(lives) {
        for ac in scheme.supplies.ids().filter(lives) {
            let (direct, alternating) = (&scheme.supplies[dc], &scheme.supplies[ac]);
            if direct.current == CurrentKind::Dc
                && alternating.current == CurrentKind::Ac
                && union.root(direct.minus.index()) == union.root(alternating.minus.index())
            {
                return Err(BenchFault::Mixed { ac, dc });
            }
        }
    }
    Ok((0..nodes).map(|node| union.root(node)).collect())
}

fn told(meanings: &[Meaning], error: NetworkError) -> BenchFault {
    let meaning = |branch: usize| meanings.get(branch).copied();
    let part = |branch: usize| match meaning(branch) {
        Some(Meaning::Part(part)) => Some(part),
        _ => None,
    };
    match error {
        NetworkError::Shorted { source } | NetworkError::Shared { source } => {
            match (meaning(source), error) {
                (Some(Meaning::Supply(supply)), NetworkError::Shorted { .. }) => {
                    BenchFault::Shorted(supply)
                }
                (Some(Meaning::Supply(supply)), _) => BenchFault::Beside(supply),
                _ => BenchFault::Unusable(None),
            }
        }
        NetworkError::Invalid { branch } => BenchFault::Unusable(part(branch)),
        NetworkError::Unsettled { branch } => BenchFault::Unsettled(part(branch)),
        NetworkError::Stranded { .. } => BenchFault::Unusable(None),
    }
}

fn volts(supply: &Supply, charge: Charge) -> f64 {
    match charge {
        Charge::Low => supply.range.lo,
        Charge::Nominal => supply.nominal.middle(),
        Charge::High => supply.range.hi,
    }
}

impl Builder<'_, '_> {
    /// The ground node of direct or alternating current.
    fn ground(&self, ac: bool) -> usize {
        self.bench.scheme.nodes.len() + usize::from(ac)
    }

    fn add(&mut self, branch: Branch, meaning: Meaning) {
        self.network.add(branch);
        self.meanings.push(meaning);
    }

    fn join(&mut self, a: usize, b: usize, meaning: Meaning) {
        self.add(Branch::Switch { a, b, closed: true }, meaning);
    }

    fn loose_ends(&mut self) -> Result<(), BenchFault> {
        let mut end = self.bench.scheme.nodes.len() + 2;
        for fault in &self.setup.faults {
            let (part, upper, behind) = match *fault {
                Fault::Loose { part, upper } => (part, upper, None),
                Fault::Behind { part, ohm } => (part, true, Some(ohm)),
                _ => continue,
            };
            let ends = self.ends.get_mut(part.index()).and_then(Option::as_mut);
            let ends = ends.ok_or(BenchFault::Unusable(None))?;
            let was = if upper {
                std::mem::replace(&mut ends.0, end)
            } else {
                std::mem::replace(&mut ends.1, end)
            };
            match behind {
                Some(ohm) if ohm > 0.0 => {
                    self.add(Branch::Resistor { a: was, b: end, ohm }, Meaning::Other);
                }
                Some(ohm) if ohm < 0.0 => return Err(BenchFault::Unusable(Some(part))),
                Some(_) => self.join(was, end, Meaning::Other),
                None => {}
            }
            end += 1;
        }
        Ok(())
    }

    fn supplies(&mut self) {
        let scheme = self.bench.scheme;
        for (id, supply) in scheme.supplies.iter() {
            let (plus, minus) = (supply.plus.index(), supply.minus.index());
            let ac = supply.current == CurrentKind::Ac;
            if self.setup.lives(id) {
                let volt = volts(supply, self.setup.charge(id));
                let ohm = match self.setup.ends.conductors {
                    Warmth::Cold => supply.resistance.lo,
                    Warmth::Room => supply.resistance.middle(),
                    Warmth::Hot => supply.resistance.hi,
                };
                self.add(Branch::Source { plus, minus, volt, ohm }, Meaning::Supply(id));
            }
            let ground = self.ground(ac);
            if supply.grounded {
                self.join(minus, ground, Meaning::Other);
            }
            for detector in &supply.grounds {
                let (to_plus, to_minus) = self.setup.legs.ohms(detector);
                for (pole, ohm) in [(plus, to_plus), (minus, to_minus)] {
                    self.add(Branch::Resistor { a: pole, b: ground, ohm }, Meaning::Other);
                }
            }
        }
    }

    fn wires(&mut self) {
        let bench = self.bench;
        for &(a, b) in &bench.wires {
            self.join(a, b, Meaning::Other);
        }
    }

    fn parts(&mut self) -> Result<(), BenchFault> {
        let setup = self.setup;
        let scheme = self.bench.scheme;
        let open = |part| setup.faults.contains(&Fault::Open(part));
        let shorted = |part| setup.faults.contains(&Fault::Shorted(part));
        for id in scheme.parts.ids() {
            let Some((a, b)) = self.ends[id.index()] else { continue };
            if open(id) {
                continue;
            }
            let meaning = Meaning::Part(id);
            let (conductors, coils, own) = match setup.stand(id) {
                Some(Stand::At(warmth)) => (warmth, warmth, None),
                Some(Stand::Ohm(ohm)) => (setup.ends.conductors, setup.ends.coils, Some(ohm)),
                None => (setup.ends.conductors, setup.ends.coils, None),
            };
            let ohm = match &self.bench.laws[id.index()] {
                _ if shorted(id) => 0.0,
                Law::Wire => 0.0,
                Law::Switch if setup.is_closed(id) => 0.0,
                Law::Switch | Law::Open => continue,
                Law::Conductor(_) | Law::Load(_) if own.is_some() => own.unwrap_or(0.0),
                Law::Conductor(range) => range.at(conductors),
                Law::Load(range) => range.at(coils),
                Law::Motor { starts, .. } if setup.motors_start => starts.at(coils),
                Law::Motor { runs, .. } => runs.at(coils),
                Law::Curve(curves) => {
                    let curve =
                        self.network.characteristic(curves.at(coils, setup.filaments_cold).clone());
                    self.add(Branch::Curve { a, b, curve }, meaning);
                    continue;
                }
                Law::Unusable => return Err(BenchFault::Unusable(Some(id))),
            };
            if ohm > 0.0 {
                self.add(Branch::Resistor { a, b, ohm }, meaning);
            } else {
                self.join(a, b, meaning);
            }
        }
        Ok(())
    }

    fn faults(&mut self) -> Result<(), BenchFault> {
        let known = |node: NodeId| node.index() < self.bench.scheme.nodes.len();
        for fault in &self.setup.faults {
            match *fault {
                Fault::Ground { at, ohm } if known(at) && ohm >= 0.0 => {
                    let ground = self.ground(self.bench.is_ac(at));
                    self.add(Branch::Resistor { a: at.index(), b: ground, ohm }, Meaning::Other);
                }
                Fault::Joined(a, b) if known(a) && known(b) => {
                    self.join(a.index(), b.index(), Meaning::Other);
                }
                Fault::Ground { .. } | Fault::Joined(..) => {
                    return Err(BenchFault::Unusable(None));
                }
                Fault::Open(_) | Fault::Shorted(_) | Fault::Loose { .. } | Fault::Behind { .. } => {
                }
            }
        }
        Ok(())
    }
}
