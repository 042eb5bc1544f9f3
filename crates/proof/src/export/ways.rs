//! The ways of a section: which contacts must be closed for a load to be driven.
//!
//! **In:** the scheme's parts and their nodes. **Out:** for every load its direct ways (through no
//! other load) and its sneak ways (through others too), each a list of switches and conductors.
//! **Never here:** volts, the solver, positions. Nothing here is shared with `fiftytwo-circuit`.

use super::Refusal;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, DeviceId, Expr, NodeId, PartId, PartKind, Scheme, SupplyId};
use std::collections::{BTreeMap, BTreeSet};

/// Most ways of one section.
const MOST_WAYS: usize = 4000;
/// Most steps of the search for them.
const MOST_STEPS: usize = 400_000;

/// What a part does to a way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// Always one point.
    Wire,
    /// Contact, fuse, link.
    Switch,
    /// A conductor with a resistance.
    Core,
    /// Anything that draws current.
    Load,
    /// Lets current down the leg only.
    Diode,
    /// No direct current.
    Open,
}

/// One way from plus to minus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Way {
    pub(super) switches: Vec<PartId>,
    pub(super) cores: Vec<PartId>,
    pub(super) loads: Vec<PartId>,
}

/// A section: what hangs together other than at the poles of its supply.
#[derive(Debug)]
pub(super) struct Section {
    pub(super) supply: SupplyId,
    pub(super) parts: Vec<PartId>,
    /// Every way from plus to minus.
    pub(super) ways: Vec<Way>,
}

impl Section {
    /// The ways of a load through no other load, and those through others too.
    pub(super) fn ways_of(&self, load: PartId) -> (Vec<&Way>, Vec<&Way>) {
        let mine = self.ways.iter().filter(|way| way.loads.contains(&load));
        mine.partition(|way| way.loads.len() == 1)
    }
}

/// The points and sections of a scheme.
#[derive(Debug)]
pub(super) struct Ground<'s> {
    scheme: &'s Scheme,
    /// The point of each node.
    point: Vec<usize>,
    /// Parts at each point, wires left out.
    at: BTreeMap<usize, Vec<PartId>>,
    plus: BTreeMap<usize, SupplyId>,
    minus: BTreeMap<usize, SupplyId>,
}

impl<'s> Ground<'s> {
    pub(super) fn new(scheme: &'s Scheme) -> Self {
        let point = points(scheme);
        let mut at: BTreeMap<usize, Vec<PartId>> = BTreeMap::new();
        for (id, part) in scheme.placed() {
            let Some(place) = part.at else { continue };
            let (a, b) = (point[place.from.index()], point[place.to.index()]);
            if a != b && !matches!(role(&part.kind), Role::Wire | Role::Open) {
                at.entry(a).or_default().push(id);
                at.entry(b).or_default().push(id);
            }
        }
        let pole = |node: NodeId| point[node.index()];
        let plus = scheme.supplies.iter().map(|(id, supply)| (pole(supply.plus), id)).collect();
        let minus = scheme.supplies.iter().map(|(id, supply)| (pole(supply.minus), id)).collect();
        Self { scheme, point, at, plus, minus }
    }
    fn ends(&self, part: PartId) -> Option<(usize, usize)> {
        let place = self.scheme.parts[part].at?;
        Some((self.point[place.from.index()], self.point[place.to.index()]))
    }
    fn is_pole(&self, point: usize) -> bool {
        self.plus.contains_key(&point) || self.minus.contains_key(&point)
    }
    /// The parts that hang together with `part` other than at a pole.
    pub(super) fn together_with(&self, part: PartId) -> Vec<PartId> {
        let mut found = BTreeSet::from([part]);
        let mut waiting = vec![part];
        while let Some(next) = waiting.pop() {
            let ends = self.ends(next).map_or(Vec::new(), |(a, b)| vec![a, b]);
            for point in ends.into_iter().filter(|point| !self.is_pole(*point)) {
                for &other in self.at.get(&point).into_iter().flatten() {
                    if found.insert(other) {
                        waiting.push(other);
                    }
                }
            }
        }
        found.into_iter().collect()
    }
    /// The section of a load with all its ways; none: it reaches no pole.
    pub(super) fn section(&self, load: PartId) -> Result<Option<Section>, Refusal> {
        let parts = self.together_with(load);
        let name = &self.scheme.parts[load].name;
        let mut supplies = BTreeSet::new();
        for point in parts.iter().filter_map(|part| self.ends(*part)).flat_map(|(a, b)| [a, b]) {
            supplies.extend(self.plus.get(&point).or_else(|| self.minus.get(&point)));
        }
        let supply = match supplies.iter().copied().collect::<Vec<_>>()[..] {
            [] => return Ok(None),
            [supply] => supply,
            _ => {
                return Err(Refusal(format!(
                    "contacts can join several supplies at {name}: the exporter knows ways \
                     of one supply only"
                )));
            }
        };
        let poles = &self.scheme.supplies[supply];
        let from = self.point[poles.plus.index()];
        let to = self.point[poles.minus.index()];
        let allowed: BTreeSet<PartId> = parts.iter().copied().collect();
        let mut walk = Walk {
            ground: self,
            allowed: &allowed,
            to,
            seen: vec![from],
            way: Vec::new(),
            found: Vec::new(),
            steps: 0,
            too_many: false,
        };
        walk.from(from);
        if walk.too_many {
            return Err(Refusal(format!(
                "the circuit of {name} has more than {MOST_WAYS} ways from pole to pole"
            )));
        }
        let ways: Vec<Way> = walk
            .found
            .iter()
            .map(|parts| self.sorted(parts))
            .filter(|way| !self.excludes_itself(way))
            .collect();
        if let Some(short) = ways.iter().find(|way| way.loads.is_empty()) {
            let names: Vec<&str> =
                short.switches.iter().map(|part| self.scheme.parts[*part].name.as_str()).collect();
            return Err(Refusal(format!(
                "{} can short the supply of {name}: what then is left of its volts, ways do not say",
                names.join(", ")
            )));
        }
        Ok(Some(Section { supply, parts, ways }))
    }
    fn sorted(&self, parts: &[PartId]) -> Way {
        let of = |wanted: Role| {
            let mut list: Vec<PartId> = parts
                .iter()
                .copied()
                .filter(|part| role(&self.scheme.parts[*part].kind) == wanted)
                .collect();
            list.sort_unstable();
            list
        };
        Way { switches: of(Role::Switch), cores: of(Role::Core), loads: of(Role::Load) }
    }
    /// A way over two contacts of one device that are closed in different positions.
    fn excludes_itself(&self, way: &Way) -> bool {
        let mut needed: BTreeMap<DeviceId, u8> = BTreeMap::new();
        way.switches.iter().any(|part| match &self.scheme.parts[*part].kind {
            PartKind::Contact(contact) => match contact.closed_when.expr {
                // A contact with times of its own lags behind its statement.
                Expr::Atom(Atom::Position(device, position))
                    if contact.closes_in.is_none()
                        && contact.opens_in.is_none()
                        && !is_breaker(self.scheme, device) =>
                {
                    *needed.entry(device).or_insert(position) != position
                }
                _ => false,
            },
            _ => false,
        })
    }
}

fn is_breaker(scheme: &Scheme, device: DeviceId) -> bool {
    matches!(scheme.devices[device].kind, fiftytwo_scheme::DeviceKind::Breaker { .. })
}

struct Walk<'g, 's> {
    ground: &'g Ground<'s>,
    allowed: &'g BTreeSet<PartId>,
    to: usize,
    seen: Vec<usize>,
    way: Vec<PartId>,
    found: Vec<Vec<PartId>>,
    steps: usize,
    too_many: bool,
}

impl Walk<'_, '_> {
    fn from(&mut self, point: usize) {
        self.steps += 1;
        if self.steps > MOST_STEPS || self.found.len() > MOST_WAYS {
            self.too_many = true;
        }
        if self.too_many {
            return;
        }
        if point == self.to {
            self.found.push(self.way.clone());
            return;
        }
        let ground = self.ground;
        for &part in ground.at.get(&point).into_iter().flatten() {
            let Some((a, b)) = ground.ends(part) else { continue };
            let next = if a == point { b } else { a };
            let backward = a != point;
            let bars = backward && role(&ground.scheme.parts[part].kind) == Role::Diode;
            if bars || !self.allowed.contains(&part) || self.seen.contains(&next) {
                continue;
            }
            self.seen.push(next);
            self.way.push(part);
            self.from(next);
            self.way.pop();
            self.seen.pop();
        }
    }
}

/// What a part does to a way.
pub(super) fn role(kind: &PartKind) -> Role {
    match kind {
        PartKind::Terminal | PartKind::Jumper => Role::Wire,
        PartKind::Element { resistance, .. } => {
            if resistance.as_ref().is_some_and(|ohm| ohm.hi > 0.0) {
                Role::Core
            } else {
                Role::Wire
            }
        }
        PartKind::Contact(_) | PartKind::Fuse { .. } | PartKind::Link => Role::Switch,
        PartKind::Core(_) => Role::Core,
        PartKind::Resistor { resistance, .. } if resistance.hi <= 0.0 => Role::Wire,
        PartKind::Coil(_)
        | PartKind::Input(_)
        | PartKind::Motor(_)
        | PartKind::Power { .. }
        | PartKind::Resistor { .. }
        | PartKind::Lamp(_)
        | PartKind::Heater { .. } => Role::Load,
        PartKind::Diode(_) => Role::Diode,
        PartKind::Capacitor { .. } | PartKind::Varistor(_) => Role::Open,
    }
}

/// Nodes that nothing but wire lies between are one point.
fn points(scheme: &Scheme) -> Vec<usize> {
    let mut point: Vec<usize> = (0..scheme.nodes.len()).collect();
    let mut join = |a: NodeId, b: NodeId| {
        let (old, new) = (point[a.index()], point[b.index()]);
        point.iter_mut().filter(|at| **at == old).for_each(|at| *at = new);
    };
    for (_, part) in scheme.placed() {
        if let (Some(at), Role::Wire) = (part.at, role(&part.kind)) {
            join(at.from, at.to);
        }
    }
    for (a, b) in scheme.plain_wires() {
        join(a, b);
    }
    point
}
