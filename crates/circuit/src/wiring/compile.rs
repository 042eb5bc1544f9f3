//! From a scheme's parts to sections: nodes, edges with their resistances, the order of
//! elimination.

use crate::conductor;
use crate::corner::Heat;
use crate::curve::{Characteristic, Filament, part_curve};
use crate::elimination::Plan;
use crate::positions::{MOST_SUPPLIES, MOST_SWITCHES, Supplies};
use crate::union::Union;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{
    Ampere, CurrentKind, Finding, Light, Material, NodeId, Ohm, Part, PartId, PartKind, Placement,
    Quantity, Scheme, SupplyId,
};
use std::collections::BTreeMap;

/// How many supplies may meet in one section: every mix of their low and high ends is solved.
const MOST_FEEDS: usize = 6;
/// An opto input without a declared resistance draws no more than this, A (common practice, no
/// source).
const INPUT_DRAWS: f64 = 0.02;
/// The least that a coil or feed without a declared resistance may have, ohm.
const LEAST_UNKNOWN: f64 = 1e-3;

/// A section.
#[derive(Debug, Clone)]
pub(crate) struct Section {
    /// Its parts.
    pub(crate) edges: Vec<Edge>,
    /// For every node of the edges, the node that is solved (wires and terminals are one).
    pub(crate) solved: Vec<usize>,
    /// How many nodes are solved.
    pub(crate) nodes: usize,
    /// Contacts, links, fuses.
    pub(crate) switches: Vec<PartId>,
    /// Loads that are asked for.
    pub(crate) loads: Vec<PartId>,
    /// Nominal voltage of each of the loads.
    pub(crate) nominal: Vec<f64>,
    /// Of an input with a least current the volts that drive it, least and greatest.
    pub(crate) needs: Vec<Option<(f64, f64)>>,
    /// The supplies it hangs on.
    pub(crate) feeds: Vec<Feed>,
    /// The poles of the feeds, as solved nodes, each once.
    pub(crate) poles: Vec<usize>,
    /// The order of elimination, all switches closed; the poles are kept.
    pub(crate) plan: Plan,
    /// The edges at every solved node.
    pub(crate) around: Vec<Vec<usize>>,
    /// Conductors and loads with their conductances, S.
    pub(crate) ranged: Vec<Ranged>,
    /// The characteristics of its diodes, lamps … at both ends of their tolerance.
    pub(crate) curves: Vec<Bent>,
    /// Where each edge is stamped; none: both its ends are one.
    pub(crate) slots: Vec<Option<usize>>,
}

/// A resistance with two ends, ready to be stamped.
#[derive(Debug, Clone)]
pub(crate) struct Ranged {
    pub(crate) edge: usize,
    pub(crate) slot: usize,
    /// Greatest and least conductance, S.
    pub(crate) cold: f64,
    pub(crate) hot: f64,
}

/// A characteristic with two ends.
#[derive(Debug, Clone)]
pub(crate) struct Bent {
    pub(crate) most: Characteristic,
    pub(crate) least: Characteristic,
}

/// A supply as a section sees it.
#[derive(Debug, Clone)]
pub(crate) struct Feed {
    pub(crate) supply: SupplyId,
    /// Solved nodes.
    pub(crate) plus: usize,
    pub(crate) minus: usize,
    /// The poles themselves, indices into [`Section::solved`].
    pub(crate) plus_at: usize,
    pub(crate) minus_at: usize,
}

/// A part between two nodes (indices into [`Section::solved`]).
#[derive(Debug, Clone)]
pub(crate) struct Edge {
    pub(crate) part: PartId,
    pub(crate) a: usize,
    pub(crate) b: usize,
    pub(crate) kind: EdgeKind,
}

/// What a part does to current. Resistances are in ohm, least and greatest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum EdgeKind {
    /// Always one node.
    Wire,
    /// Open or closed.
    Switch(usize),
    /// A conductor.
    Core { lo: f64, hi: f64 },
    /// A load; `drive` if its voltage is asked for.
    Load { lo: f64, hi: f64, drive: Option<usize> },
    /// A load whose resistance is not declared.
    Unknown { least: f64, drive: usize },
    /// A diode by its characteristic (its place in [`Section::curves`]), down the leg only.
    Diode(usize),
    /// A part by its characteristic; `drive` if its voltage is asked for.
    Bent { curve: usize, drive: Option<usize> },
    /// No direct current.
    Open,
}

impl Section {
    /// The solved nodes of an edge.
    pub(crate) fn ends(&self, edge: &Edge) -> (usize, usize) {
        (self.solved[edge.a], self.solved[edge.b])
    }
    /// The edges whose voltage is asked for, each with the place of its drive.
    pub(crate) fn asked(&self) -> impl Iterator<Item = (&Edge, usize)> {
        self.edges.iter().filter_map(|edge| match edge.kind {
            EdgeKind::Load { drive: Some(drive), .. }
            | EdgeKind::Bent { drive: Some(drive), .. }
            | EdgeKind::Unknown { drive, .. } => Some((edge, drive)),
            _ => None,
        })
    }
    /// The supplies it hangs on.
    pub(crate) fn supplies(&self) -> Supplies {
        self.feeds.iter().fold(Supplies::NONE, |all, feed| all.with(feed.supply))
    }
}

/// Compiles all sections.
pub(crate) fn sections(scheme: &Scheme) -> Result<Vec<Section>, Vec<Finding>> {
    let mut findings = Vec::new();
    if scheme.supplies.len() > MOST_SUPPLIES {
        findings.push(Finding::error(
            "too-many-supplies",
            format!(
                "the scheme has {} supplies; more than {MOST_SUPPLIES} can't be solved together",
                scheme.supplies.len()
            ),
        ));
        return Err(findings);
    }
    let mut wires = static_wires(scheme);
    let mut poles: BTreeMap<usize, Vec<SupplyId>> = BTreeMap::new();
    for (id, supply) in scheme.supplies.iter() {
        let (plus, minus) = (wires.root(supply.plus.index()), wires.root(supply.minus.index()));
        if plus == minus {
            findings.push(
                Finding::error(
                    "supply-shorted",
                    format!("wires that never open join both poles of supply {}", supply.name),
                )
                .at(supply.span, "shorted")
                .device(&supply.name)
                .help("look for a jumper or a leg without a load between the two rails"),
            );
        }
        poles.entry(plus).or_default().push(id);
        poles.entry(minus).or_default().push(id);
    }
    if !findings.is_empty() {
        return Err(findings);
    }
    let mut sections = Vec::new();
    for parts in groups(scheme, &mut wires, &poles) {
        match Builder::new(scheme, &mut wires, &poles, parts).finish() {
            Ok(section) => sections.push(section),
            Err(finding) => findings.push(*finding),
        }
    }
    if findings.is_empty() { Ok(sections) } else { Err(findings) }
}

/// Nodes that are one whatever the contacts do.
fn static_wires(scheme: &Scheme) -> Union {
    let mut wires = Union::new(scheme.nodes.len());
    for (_, part) in scheme.placed() {
        if let Some(at) = part.at
            && is_wire(&part.kind)
        {
            wires.join(at.from.index(), at.to.index(), 0.0);
        }
    }
    for (a, b) in scheme.plain_wires() {
        wires.join(a.index(), b.index(), 0.0);
    }
    wires
}

fn is_wire(kind: &PartKind) -> bool {
    match kind {
        PartKind::Terminal | PartKind::Jumper => true,
        PartKind::Element { resistance, .. } => {
            resistance.as_ref().is_none_or(|resistance| resistance.hi <= 0.0)
        }
        PartKind::Resistor { resistance, .. } => resistance.hi <= 0.0,
        _ => false,
    }
}

/// The parts of each section, in source order; sections in the order of their first parts.
fn groups(
    scheme: &Scheme,
    wires: &mut Union,
    poles: &BTreeMap<usize, Vec<SupplyId>>,
) -> Vec<Vec<PartId>> {
    let parts: Vec<(PartId, Placement)> =
        scheme.placed().filter_map(|(id, part)| part.at.map(|at| (id, at))).collect();
    let mut together = Union::new(parts.len());
    let mut first_at: BTreeMap<usize, usize> = BTreeMap::new();
    for (index, (_, at)) in parts.iter().enumerate() {
        for node in [at.from, at.to] {
            let root = wires.root(node.index());
            if !poles.contains_key(&root) {
                let first = *first_at.entry(root).or_insert(index);
                together.join(first, index, 0.0);
            }
        }
    }
    join_where_supplies_meet(wires, poles, &parts, &mut together);
    let mut groups: BTreeMap<usize, Vec<PartId>> = BTreeMap::new();
    for (index, (id, _)) in parts.iter().enumerate() {
        groups.entry(together.root(index)).or_default().push(*id);
    }
    groups.into_values().collect()
}

/// Two sections that both join two supplies form a loop together: they are one.
fn join_where_supplies_meet(
    wires: &mut Union,
    poles: &BTreeMap<usize, Vec<SupplyId>>,
    parts: &[(PartId, Placement)],
    together: &mut Union,
) {
    let mut touched: BTreeMap<usize, Vec<SupplyId>> = BTreeMap::new();
    for (index, (_, at)) in parts.iter().enumerate() {
        let group = together.root(index);
        for node in [at.from, at.to] {
            let supplies = poles.get(&wires.root(node.index())).into_iter().flatten();
            touched.entry(group).or_default().extend(supplies);
        }
    }
    let mut first: BTreeMap<SupplyId, usize> = BTreeMap::new();
    for (&group, supplies) in &mut touched {
        supplies.sort_unstable();
        supplies.dedup();
        if supplies.len() > 1 {
            for &supply in supplies.iter() {
                let other = *first.entry(supply).or_insert(group);
                together.join(other, group, 0.0);
            }
        }
    }
}

struct Builder<'a> {
    scheme: &'a Scheme,
    wires: &'a mut Union,
    poles: &'a BTreeMap<usize, Vec<SupplyId>>,
    parts: Vec<PartId>,
    /// Index of every node used.
    index: BTreeMap<NodeId, usize>,
    /// Solved node of every set of wires used.
    solved_of: BTreeMap<usize, usize>,
    solved: Vec<usize>,
    edges: Vec<Edge>,
    switches: Vec<PartId>,
    loads: Vec<PartId>,
    nominal: Vec<f64>,
    needs: Vec<Option<(f64, f64)>>,
    curves: Vec<Bent>,
    refused: Option<Box<Finding>>,
}

impl<'a> Builder<'a> {
    fn new(
        scheme: &'a Scheme,
        wires: &'a mut Union,
        poles: &'a BTreeMap<usize, Vec<SupplyId>>,
        parts: Vec<PartId>,
    ) -> Self {
        Self {
            scheme,
            wires,
            poles,
            parts,
            index: BTreeMap::new(),
            solved_of: BTreeMap::new(),
            solved: Vec::new(),
            edges: Vec::new(),
            switches: Vec::new(),
            loads: Vec::new(),
            nominal: Vec::new(),
            needs: Vec::new(),
            curves: Vec::new(),
            refused: None,
        }
    }

    fn finish(mut self) -> Result<Section, Box<Finding>> {
        for id in std::mem::take(&mut self.parts) {
            let part = &self.scheme.parts[id];
            if let Some(at) = part.at {
                let (a, b) = (self.node(at.from), self.node(at.to));
                let kind = self.kind(id, part, at);
                self.edges.push(Edge { part: id, a, b, kind });
            }
        }
        if let Some(refused) = self.refused.take() {
            return Err(refused);
        }
        let mut supplies: Vec<SupplyId> = self
            .solved_of
            .keys()
            .filter_map(|root| self.poles.get(root))
            .flatten()
            .copied()
            .collect();
        supplies.sort_unstable();
        supplies.dedup();
        self.refuse_too_much(&supplies)?;
        let feeds: Vec<Feed> = supplies
            .into_iter()
            .map(|id| {
                let supply = &self.scheme.supplies[id];
                let (plus_at, minus_at) = (self.node(supply.plus), self.node(supply.minus));
                let (plus, minus) = (self.solved[plus_at], self.solved[minus_at]);
                Feed { supply: id, plus, minus, plus_at, minus_at }
            })
            .collect();
        let mut poles: Vec<usize> = feeds.iter().flat_map(|feed| [feed.plus, feed.minus]).collect();
        poles.sort_unstable();
        poles.dedup();
        let nodes = self.solved_of.len();
        let ends = |edge: &Edge| (self.solved[edge.a], self.solved[edge.b]);
        let shape: Vec<(usize, usize)> = self.edges.iter().map(ends).collect();
        let plan = Plan::new(nodes, &shape, &poles);
        let mut around = vec![Vec::new(); nodes];
        for (index, &(a, b)) in shape.iter().enumerate().filter(|(_, (a, b))| a != b) {
            around[a].push(index);
            around[b].push(index);
        }
        let slots: Vec<Option<usize>> =
            shape.iter().map(|&(a, b)| (a != b).then(|| plan.slot(a, b))).collect();
        let mut ranged = Vec::new();
        for (index, (edge, slot)) in self.edges.iter().zip(&slots).enumerate() {
            if let (EdgeKind::Core { lo, hi } | EdgeKind::Load { lo, hi, .. }, Some(slot)) =
                (edge.kind, *slot)
            {
                ranged.push(Ranged { edge: index, slot, cold: lo.recip(), hot: hi.recip() });
            }
        }
        Ok(Section {
            edges: self.edges,
            solved: self.solved,
            nodes,
            switches: self.switches,
            loads: self.loads,
            nominal: self.nominal,
            needs: self.needs,
            feeds,
            poles,
            plan,
            around,
            ranged,
            curves: self.curves,
            slots,
        })
    }

    fn refuse_too_much(&self, supplies: &[SupplyId]) -> Result<(), Box<Finding>> {
        let scheme = self.scheme;
        if self.switches.len() > MOST_SWITCHES
            && let Some(first) = self.switches.get(MOST_SWITCHES)
        {
            let part = &scheme.parts[*first];
            return Err(Box::new(
                Finding::error(
                    "section-too-large",
                    format!(
                        "{} contacts and fuses hang together; more than {MOST_SWITCHES} can't be \
                         solved as one",
                        self.switches.len()
                    ),
                )
                .at(part.span, format!("{} is one too many", part.name))
                .help("split the circuit at its supply, each piece with fuses of its own"),
            ));
        }
        if supplies.len() > MOST_FEEDS {
            let names: Vec<&str> =
                supplies.iter().map(|id| scheme.supplies[*id].name.as_str()).collect();
            return Err(Box::new(Finding::error(
                "section-too-large",
                format!(
                    "contacts can join the supplies {}; more than {MOST_FEEDS} can't be solved as one",
                    names.join(", ")
                ),
            )));
        }
        Ok(())
    }

    fn node(&mut self, id: NodeId) -> usize {
        if let Some(&known) = self.index.get(&id) {
            return known;
        }
        let solved = self.solved_node(id);
        self.solved.push(solved);
        self.index.insert(id, self.solved.len() - 1);
        self.solved.len() - 1
    }

    fn solved_node(&mut self, id: NodeId) -> usize {
        let root = self.wires.root(id.index());
        let next = self.solved_of.len();
        *self.solved_of.entry(root).or_insert(next)
    }

    fn kind(&mut self, id: PartId, part: &Part, at: Placement) -> EdgeKind {
        let supply = &self.scheme.supplies[self.scheme.circuits[at.circuit].supply];
        let nominal = supply.nominal.middle();
        if is_wire(&part.kind) {
            return EdgeKind::Wire;
        }
        let known = |range: (f64, f64), drive| EdgeKind::Load { lo: range.0, hi: range.1, drive };
        match &part.kind {
            PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. } => {
                self.switches.push(id);
                EdgeKind::Switch(self.switches.len() - 1)
            }
            PartKind::Core(core) => {
                let (lo, hi) = self.core(core);
                EdgeKind::Core { lo, hi }
            }
            PartKind::Coil(coil) => {
                let drive = self.load(id, nominal);
                match &coil.resistance {
                    Some(ohm) if ohm.lo > 0.0 => {
                        let wound = supply.current == CurrentKind::Dc;
                        known(self.coil(ohm, at, wound), Some(drive))
                    }
                    _ => EdgeKind::Unknown { least: LEAST_UNKNOWN, drive },
                }
            }
            PartKind::Input(input) => {
                let drive = self.load(id, nominal);
                self.needs[drive] = self.needs(id, input.least.as_ref());
                if input.curve.is_some() {
                    return self.bent(id, nominal, Some(drive));
                }
                match &input.resistance {
                    Some(ohm) if ohm.lo > 0.0 => known((ohm.lo, ohm.hi), Some(drive)),
                    _ => EdgeKind::Unknown { least: nominal / INPUT_DRAWS, drive },
                }
            }
            PartKind::Lamp(lamp) => {
                let rated = lamp.rated.as_ref().map_or(nominal, Quantity::middle);
                let drive = self.load(id, rated);
                if lamp.curve.is_some() || lamp.light != Light::NotSaid {
                    return self.bent(id, nominal, Some(drive));
                }
                known(by_current(rated, lamp.current.lo, lamp.current.hi), Some(drive))
            }
            PartKind::Motor(motor) => {
                let drive = self.load(id, nominal);
                known(by_current(nominal, motor.rating.lo, motor.rating.hi), Some(drive))
            }
            PartKind::Power { burden } => {
                let drive = self.load(id, nominal);
                match burden {
                    Some(watt) if watt.lo > 0.0 => {
                        known(by_power(nominal, watt.lo, watt.hi), Some(drive))
                    }
                    _ => EdgeKind::Unknown { least: LEAST_UNKNOWN, drive },
                }
            }
            PartKind::Heater { power } => known(by_power(nominal, power.lo, power.hi), None),
            PartKind::Resistor { resistance, .. } => {
                known((resistance.lo.max(LEAST_UNKNOWN), resistance.hi), None)
            }
            PartKind::Element { resistance, .. } => {
                let (lo, hi) = resistance.as_ref().map_or((0.0, 0.0), |ohm| (ohm.lo, ohm.hi));
                EdgeKind::Core { lo: lo.max(LEAST_UNKNOWN), hi: hi.max(LEAST_UNKNOWN) }
            }
            PartKind::Diode(_) => match self.bent(id, nominal, None) {
                EdgeKind::Bent { curve, .. } => EdgeKind::Diode(curve),
                other => other,
            },
            // Never reached at rest: nothing of it is seen by direct current.
            PartKind::Varistor(varistor)
                if varistor.curve.is_none() && self.never_reaches(varistor.clamp.lo) =>
            {
                EdgeKind::Open
            }
            PartKind::Varistor(_) => self.bent(id, nominal, None),
            PartKind::Capacitor { .. } => EdgeKind::Open,
            PartKind::Terminal | PartKind::Jumper => EdgeKind::Wire,
        }
    }

    /// Whether all supplies in series at their highest stay below a voltage.
    fn never_reaches(&self, volt: f64) -> bool {
        let all: f64 = self.scheme.supplies.iter().map(|(_, supply)| supply.range.hi).sum();
        all < volt
    }

    /// A part given by its characteristic at both ends of its tolerance.
    fn bent(&mut self, id: PartId, nominal: f64, drive: Option<usize>) -> EdgeKind {
        let curve = |heat| part_curve(self.scheme, id, nominal, heat, Filament::AtRest);
        match (curve(Heat::Cold), curve(Heat::Hot)) {
            (Ok(Some(most)), Ok(Some(least))) => {
                self.curves.push(Bent { most: most.curve, least: least.curve });
                EdgeKind::Bent { curve: self.curves.len() - 1, drive }
            }
            (Err(fault), _) | (_, Err(fault)) => {
                let part = &self.scheme.parts[id];
                self.refused = Some(Box::new(
                    Finding::error(
                        "curve-unusable",
                        format!("{} can't be calculated: {fault}", part.name),
                    )
                    .at(part.span, "here")
                    .device(&part.name)
                    .help("give volts and amperes that both grow, from 0 V and 0 A on"),
                ));
                EdgeKind::Open
            }
            _ => EdgeKind::Open,
        }
    }

    /// The volts that drive an input's least current through it, at both ends of its tolerance.
    fn needs(&self, id: PartId, least: Option<&Quantity<Ampere>>) -> Option<(f64, f64)> {
        let least = least?;
        let volts = |heat, ampere| {
            let made = part_curve(self.scheme, id, 0.0, heat, Filament::AtRest).ok()??;
            made.curve.voltage(ampere)
        };
        Some((volts(Heat::Cold, least.lo)?, volts(Heat::Hot, least.hi)?))
    }

    fn load(&mut self, id: PartId, nominal: f64) -> usize {
        self.loads.push(id);
        self.nominal.push(nominal);
        self.needs.push(None);
        self.loads.len() - 1
    }

    /// A core at the lowest and the highest ambient temperature of the two places it joins.
    fn core(&self, core: &fiftytwo_scheme::Core) -> (f64, f64) {
        let cable = &self.scheme.cables[core.cable];
        let ends = [&self.scheme.places[cable.from].ambient, &self.scheme.places[cable.to].ambient];
        let cold = ends[0].lo.min(ends[1].lo);
        let hot = ends[0].hi.max(ends[1].hi);
        let side_by_side = count(core.cores.len().max(1));
        let at = |celsius, length: f64| {
            let ohm = conductor::ohm_per_metre(cable.size, cable.material, celsius) * length;
            (ohm / side_by_side).max(1e-9)
        };
        (at(cold, cable.length.lo), at(hot, cable.length.hi))
    }

    /// A coil at the lowest and the highest ambient temperature of its place. An AC coil's
    /// impedance does not follow copper.
    fn coil(&self, ohm: &Quantity<Ohm>, at: Placement, wound: bool) -> (f64, f64) {
        if !wound {
            return (ohm.lo, ohm.hi);
        }
        let ambient = &self.scheme.places[at.place].ambient;
        let given = ohm.at.unwrap_or(20.0);
        let factor = |celsius| conductor::temperature_factor(Material::Copper, given, celsius);
        (ohm.lo * factor(ambient.lo), ohm.hi * factor(ambient.hi))
    }
}

fn by_current(volt: f64, lo: f64, hi: f64) -> (f64, f64) {
    (volt / hi.max(1e-9), volt / lo.max(1e-9))
}

fn by_power(volt: f64, lo: f64, hi: f64) -> (f64, f64) {
    (volt * volt / hi.max(1e-9), volt * volt / lo.max(1e-9))
}

fn count(number: usize) -> f64 {
    u32::try_from(number).map_or(f64::MAX, f64::from)
}
