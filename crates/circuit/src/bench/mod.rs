//! The whole scheme on the test bench: every supply at once, with faults put in, one corner at a
//! time.
//!
//! **In:** a scheme, once; then a [`Setup`]: which contacts are closed, which supplies live, which
//! ends the tolerances stand at, what is broken. **Out:** [`Readings`]: the potential of every
//! wire to the minus pole of its own supply and to ground, volts and amperes of every part.
//! **Never here:** intervals over corners (that is [`Wiring`](crate::Wiring)), time, devices,
//! verdicts.
//!
//! Ground is a node of its own: the detectors of every supply hang on it, and the neutral of a
//! grounded one is it. Direct and alternating current are solved beside each other and never
//! mixed: each has a ground node of its own, and a fault that joins the two is refused.
//!
//! What nothing holds has no number. An open contact is not there at all.

mod readings;
mod solve;
mod values;

use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{
    CurrentKind, Finding, GroundDetector, NodeId, PartId, PartKind, Scheme, SupplyId,
};

pub use readings::Readings;
pub use values::{Assumed, typical_coil};

/// Which voltage a supply stands at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Charge {
    /// The low end of its range.
    Low,
    /// Its nominal voltage.
    Nominal,
    /// The high end of its range.
    High,
}

/// How warm something is, and which end of a tolerance its resistance stands at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Warmth {
    /// The lowest ambient temperature of its place: least resistance.
    Cold,
    /// 20 °C, the middle of the tolerance.
    Room,
    /// The highest ambient temperature of its place: greatest resistance.
    Hot,
}

/// The end that every tolerance stands at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
pub struct Ends {
    /// Supplies.
    pub battery: Charge,
    /// Cores, and the internal resistance of the supplies.
    pub conductors: Warmth,
    /// Coils and all other loads.
    pub coils: Warmth,
}

impl Ends {
    /// Nominal voltage, everything at 20 °C.
    pub const NOMINAL: Self =
        Self { battery: Charge::Nominal, conductors: Warmth::Room, coils: Warmth::Room };
    /// The most current: supplies high, everything cold.
    pub const MOST: Self =
        Self { battery: Charge::High, conductors: Warmth::Cold, coils: Warmth::Cold };
    /// The least current: supplies low, everything hot.
    pub const LEAST: Self =
        Self { battery: Charge::Low, conductors: Warmth::Hot, coils: Warmth::Hot };
}

/// Where one part stands in its tolerance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stand {
    /// At this end.
    At(Warmth),
    /// At this resistance, ohm, whatever the scheme says. Counts for conductors and loads only.
    Ohm(f64),
}

/// A fault put in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A part carries nothing: a burnt lamp, a broken coil or core, a blown fuse.
    Open(PartId),
    /// A part is a piece of wire: a shorted lamp, a welded contact.
    Shorted(PartId),
    /// A wire touches ground.
    Ground {
        /// The wire.
        at: NodeId,
        /// Through this resistance, ohm; 0: solidly.
        ohm: f64,
    },
    /// Two wires touch.
    Joined(NodeId, NodeId),
    /// A resistor stands in series with a part, at its upper end (no fault: a cure to be tried).
    Behind {
        /// The part.
        part: PartId,
        /// Its resistance, ohm.
        ohm: f64,
    },
    /// The wire has come off one screw of a part.
    Loose {
        /// The part.
        part: PartId,
        /// At its upper end (nearer to plus, as written).
        upper: bool,
    },
}

/// Where the legs of ground detectors stand in their ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DetectorLegs {
    /// Each at its middle.
    #[default]
    Middle,
    /// Plus at its low end, minus at its high end: the ground rests nearest to plus.
    NearPlus,
    /// The other way round.
    NearMinus,
    /// Both at their low end: they send the most current.
    BothLow,
}

impl DetectorLegs {
    /// The ohms of a detector's two legs, plus and minus.
    pub fn ohms(self, detector: &GroundDetector) -> (f64, f64) {
        let (plus, minus) = (&detector.plus, &detector.minus);
        match self {
            Self::Middle => (plus.middle(), minus.middle()),
            Self::NearPlus => (plus.lo, minus.hi),
            Self::NearMinus => (plus.hi, minus.lo),
            Self::BothLow => (plus.lo, minus.lo),
        }
    }
}

/// How the scheme stands on the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// By part: whether it is closed. Counts for contacts, links and fuses only.
    pub closed: Vec<bool>,
    /// By supply: whether it lives. A lost supply is not there (both poles open).
    pub live: Vec<bool>,
    /// Where the tolerances stand.
    pub ends: Ends,
    /// Supplies that stand elsewhere than `ends` says.
    pub batteries: Vec<(SupplyId, Charge)>,
    /// Parts that stand elsewhere than `ends` says; of several the last counts.
    pub apart: Vec<(PartId, Stand)>,
    /// What is broken.
    pub faults: Vec<Fault>,
    /// Filaments have not warmed up yet: the moment a lamp is switched on.
    pub filaments_cold: bool,
    /// Motors draw their starting current.
    pub motors_start: bool,
    /// Where the legs of ground detectors stand.
    pub legs: DetectorLegs,
}

impl Setup {
    /// Closes or opens a contact, a link or a fuse.
    #[must_use]
    pub fn with_closed(mut self, part: PartId, closed: bool) -> Self {
        if let Some(place) = self.closed.get_mut(part.index()) {
            *place = closed;
        }
        self
    }
    /// With one more fault.
    #[must_use]
    pub fn with_fault(mut self, fault: Fault) -> Self {
        self.faults.push(fault);
        self
    }
    /// With a supply lost.
    #[must_use]
    pub fn without(mut self, supply: SupplyId) -> Self {
        if let Some(place) = self.live.get_mut(supply.index()) {
            *place = false;
        }
        self
    }
    /// With one part at an end of its own.
    #[must_use]
    pub fn with_apart(mut self, part: PartId, stand: Stand) -> Self {
        self.apart.push((part, stand));
        self
    }
    /// At other ends of the tolerances.
    #[must_use]
    pub fn at(mut self, ends: Ends) -> Self {
        self.ends = ends;
        self
    }
    fn lives(&self, supply: SupplyId) -> bool {
        self.live.get(supply.index()).copied().unwrap_or(false)
    }
    fn is_closed(&self, part: PartId) -> bool {
        self.closed.get(part.index()).copied().unwrap_or(false)
    }
    fn stand(&self, part: PartId) -> Option<Stand> {
        self.apart.iter().rev().find(|(id, _)| *id == part).map(|(_, stand)| *stand)
    }
    fn charge(&self, supply: SupplyId) -> Charge {
        let told = self.batteries.iter().rev().find(|(id, _)| *id == supply);
        told.map_or(self.ends.battery, |(_, charge)| *charge)
    }
}

/// Why the bench shows nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BenchFault {
    /// Closed contacts and wires without any resistance join both poles of this supply, or set it
    /// against another one.
    Shorted(SupplyId),
    /// Two supplies without internal resistance stand side by side: how they share the load is
    /// not determined.
    Beside(SupplyId),
    /// Direct and alternating current are joined.
    Mixed {
        /// An AC supply.
        ac: SupplyId,
        /// The DC supply it is joined with.
        dc: SupplyId,
    },
    /// Parts that are not linear found no state that fits; one of them, if it is known which.
    Unsettled(Option<PartId>),
    /// A value can't be used (a fault with a negative resistance, a part that does not exist).
    Unusable(Option<PartId>),
}

impl BenchFault {
    /// The fault in the designer's words. Never a pass: what was to be computed is not known.
    pub fn finding(self, scheme: &Scheme) -> Finding {
        let part = |part: Option<PartId>| {
            part.map_or_else(|| "a part".to_owned(), |part| scheme.parts[part].name.clone())
        };
        let name = |supply: SupplyId| scheme.supplies[supply].name.as_str();
        match self {
            Self::Shorted(supply) => Finding::new(
                "supply-shorted",
                fiftytwo_scheme::Severity::Finding,
                format!("closed contacts and wires alone short {}", name(supply)),
            )
            .at(scheme.supplies[supply].span, "shorted")
            .help("put a load, at least 1 ohm, between the rails or open one of the contacts"),
            Self::Beside(supply) => Finding::new(
                "supplies-side-by-side",
                fiftytwo_scheme::Severity::Finding,
                format!(
                    "{} stands beside another supply and neither says its resistance",
                    name(supply)
                ),
            )
            .at(scheme.supplies[supply].span, "beside another")
            .help("write the internal resistance of each, such as resistance=\"14 mohm\""),
            Self::Mixed { ac, dc } => Finding::new(
                "ac-joins-dc",
                fiftytwo_scheme::Severity::Finding,
                format!("{} (AC) and {} (DC) are joined", name(ac), name(dc)),
            )
            .at(scheme.supplies[ac].span, "joined with direct current")
            .help("keep them apart: they can't be computed together"),
            Self::Unsettled(at) => Finding::new(
                "no-convergence",
                fiftytwo_scheme::Severity::Finding,
                format!(
                    "no voltages could be found that fit {}: nothing was computed here",
                    part(at)
                ),
            )
            .help("check the points of its curve: volts and amperes must both grow"),
            Self::Unusable(at) => Finding::new(
                "value-unusable",
                fiftytwo_scheme::Severity::Finding,
                format!(
                    "a value of {} can't be computed with: nothing was computed here",
                    part(at)
                ),
            )
            .help("give it a resistance of 0 ohm or more"),
        }
    }
}

/// A scheme ready to be put on the bench.
#[derive(Debug)]
pub struct Bench<'s> {
    scheme: &'s Scheme,
    /// What each part does to current.
    laws: Vec<values::Law>,
    /// Strands without parts: their ends are one wire.
    wires: Vec<(usize, usize)>,
    /// The supply whose wire each node is.
    supply_of: Vec<Option<SupplyId>>,
    assumed: Vec<Assumed>,
    /// Setups that differ in their values alone are eliminated in one order.
    shapes: crate::network::Shapes,
}

impl<'s> Bench<'s> {
    /// Compiles a scheme.
    pub fn new(scheme: &'s Scheme) -> Self {
        let mut assumed = Vec::new();
        let laws = scheme
            .parts
            .iter()
            .map(|(id, part)| values::law(scheme, id, part, &mut assumed))
            .collect();
        let wires = scheme.plain_wires().filter(|(a, b)| a != b);
        let wires = wires.map(|(a, b)| (a.index(), b.index()));
        Self {
            scheme,
            laws,
            wires: wires.collect(),
            supply_of: supplies(scheme),
            assumed,
            shapes: crate::network::Shapes::default(),
        }
    }
    /// The scheme.
    pub fn scheme(&self) -> &'s Scheme {
        self.scheme
    }
    /// Resistances that are not declared and were taken from typical data.
    pub fn assumed(&self) -> &[Assumed] {
        &self.assumed
    }
    /// The supply whose wire a node is: that of the circuits that stand on it.
    pub fn supply_of(&self, node: NodeId) -> Option<SupplyId> {
        self.supply_of.get(node.index()).copied().flatten()
    }
    /// Every contact open, links and fuses closed, every supply live, nothing broken, at
    /// [`Ends::NOMINAL`].
    pub fn setup(&self) -> Setup {
        let closed = |kind: &PartKind| matches!(kind, PartKind::Link | PartKind::Fuse { .. });
        Setup {
            closed: self.scheme.parts.values().map(|part| closed(&part.kind)).collect(),
            live: vec![true; self.scheme.supplies.len()],
            ends: Ends::NOMINAL,
            batteries: Vec::new(),
            apart: Vec::new(),
            faults: Vec::new(),
            filaments_cold: false,
            motors_start: false,
            legs: DetectorLegs::Middle,
        }
    }
    /// The resistance of a linear part, ohm; none for contacts, diodes and what carries no
    /// direct current.
    pub fn ohm(&self, part: PartId, warmth: Warmth) -> Option<f64> {
        match self.laws.get(part.index())? {
            values::Law::Conductor(range) | values::Law::Load(range) => Some(range.at(warmth)),
            _ => None,
        }
    }
    /// Whether the tolerance of a load lets it take more or less current.
    pub fn spreads(&self, part: PartId) -> bool {
        match self.laws.get(part.index()) {
            Some(values::Law::Load(range)) => range.spreads(),
            Some(values::Law::Curve(curves)) => curves.spread(),
            _ => false,
        }
    }
    /// Solves it.
    ///
    /// # Errors
    /// See [`BenchFault`].
    pub fn solve<'b>(&'b self, setup: &Setup) -> Result<Readings<'b>, BenchFault> {
        solve::solve(self, setup)
    }
    /// The network of a setup, for who solves a family of faults himself: node i is the scheme's
    /// node i; after them come the grounds of direct and of alternating current.
    ///
    /// # Errors
    /// [`BenchFault::Unusable`].
    pub fn network(&self, setup: &Setup) -> Result<crate::network::Network, BenchFault> {
        solve::network(self, setup)
    }
    fn is_ac(&self, node: NodeId) -> bool {
        self.supply_of(node)
            .is_some_and(|supply| self.scheme.supplies[supply].current == CurrentKind::Ac)
    }
}

fn supplies(scheme: &Scheme) -> Vec<Option<SupplyId>> {
    let mut of = vec![None; scheme.nodes.len()];
    for (id, supply) in scheme.supplies.iter() {
        of[supply.plus.index()] = Some(id);
        of[supply.minus.index()] = Some(id);
    }
    let mut set = |node: NodeId, supply| {
        of[node.index()].get_or_insert(supply);
    };
    for circuit in scheme.circuits.values() {
        set(circuit.plus, circuit.supply);
        set(circuit.minus, circuit.supply);
    }
    for (_, part) in scheme.placed() {
        if let Some(at) = part.at {
            let supply = scheme.circuits[at.circuit].supply;
            set(at.from, supply);
            set(at.to, supply);
        }
    }
    of
}
