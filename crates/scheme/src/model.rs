//! The checked scheme as a whole.

use crate::arena::Arena;
use crate::circuits::{Circuit, DaisyChain, Leg, Node, Step};
use crate::curve::Curve;
use crate::device::{Device, Logic};
use crate::ids::{
    CableId, CircuitId, ConditionId, CurveId, DeviceId, LegId, LogicId, NodeId, OrderId, PartId,
    PersonId, PlaceId, SupplyId,
};
use crate::intent::{Claim, Matrix, Story, Tune, Waiver};
use crate::part::{Part, PartKind};
use crate::source::{Sources, Span};
use crate::world::{Cable, Condition, Order, Person, Place, Supply};

/// One line of the revision table.
#[derive(Debug, Clone, PartialEq)]
pub struct Revision {
    /// Its name, such as "B".
    pub name: String,
    /// What changed.
    pub text: String,
    /// Date as written.
    pub date: Option<String>,
    /// Who, as written.
    pub by: Option<String>,
    /// Where it is written.
    pub span: Span,
}

/// A checked scheme. Immutable: engines only read it.
#[derive(Debug, Clone, Default)]
pub struct Scheme {
    /// Title of the sheet.
    pub title: String,
    /// Current revision, if named.
    pub revision: Option<String>,
    /// Revision history, as written.
    pub revisions: Vec<Revision>,
    /// System frequency, Hz (default 60).
    pub frequency: f64,
    /// Notes of the whole scheme.
    pub notes: Vec<String>,
    /// The files it was read from.
    pub sources: Sources,
    /// Places.
    pub places: Arena<PlaceId, Place>,
    /// Supplies.
    pub supplies: Arena<SupplyId, Supply>,
    /// Curves.
    pub curves: Arena<CurveId, Curve>,
    /// Cables.
    pub cables: Arena<CableId, Cable>,
    /// Conditions of the outside world.
    pub conditions: Arena<ConditionId, Condition>,
    /// Orders from afar.
    pub orders: Arena<OrderId, Order>,
    /// Persons.
    pub persons: Arena<PersonId, Person>,
    /// Devices.
    pub devices: Arena<DeviceId, Device>,
    /// Lines of logic, each in its device.
    pub logics: Arena<LogicId, Logic>,
    /// Parts: those of devices and those that stand alone, placed or spare.
    pub parts: Arena<PartId, Part>,
    /// Electrical nodes.
    pub nodes: Arena<NodeId, Node>,
    /// Circuits.
    pub circuits: Arena<CircuitId, Circuit>,
    /// Legs.
    pub legs: Arena<LegId, Leg>,
    /// Orders of daisy chains.
    pub chains: Vec<DaisyChain>,
    /// What was asked for.
    pub matrices: Vec<Matrix>,
    /// The designer's own claims.
    pub claims: Vec<Claim>,
    /// Claims left out, each with its reason.
    pub waivers: Vec<Waiver>,
    /// Claims with a changed limit.
    pub tunes: Vec<Tune>,
    /// Stories, those of the file beside the scheme included.
    pub stories: Vec<Story>,
}

impl Scheme {
    /// The placed parts, in source order.
    pub fn placed(&self) -> impl Iterator<Item = (PartId, &Part)> {
        self.parts.iter().filter(|(_, part)| part.at.is_some())
    }
    /// A device by its name.
    pub fn device_named(&self, name: &str) -> Option<DeviceId> {
        self.devices.iter().find(|(_, device)| device.name == name).map(|(id, _)| id)
    }
    /// A part by its full name, such as "52 a1" or "F1".
    pub fn part_named(&self, name: &str) -> Option<PartId> {
        self.parts.iter().find(|(_, part)| part.name == name).map(|(id, _)| id)
    }
    /// A node by its wire number.
    pub fn node_named(&self, wire: &str) -> Option<NodeId> {
        self.nodes.iter().find(|(_, node)| node.wire.as_deref() == Some(wire)).map(|(id, _)| id)
    }
    /// All coils, placed or spare.
    pub fn coils(&self) -> impl Iterator<Item = (PartId, &Part, &crate::part::Coil)> {
        self.parts.iter().filter_map(|(id, part)| match &part.kind {
            PartKind::Coil(coil) => Some((id, part, coil)),
            _ => None,
        })
    }
    /// The wires of strands in which no part stands (feeds, returns and legs without any), pairwise:
    /// both ends, and the start with each wire named between. The two of a pair may be the same.
    pub fn plain_wires(&self) -> impl Iterator<Item = (NodeId, NodeId)> {
        let circuits = self.circuits.values().flat_map(|circuit| [&circuit.feed, &circuit.back]);
        let strands = circuits.chain(self.legs.values().map(|leg| &leg.strand));
        strands.filter(|strand| !strand.chain.has_parts()).flat_map(|strand| {
            let named = strand.chain.steps.iter().filter_map(|step| match step {
                Step::Wire(node) => Some((strand.from, *node)),
                _ => None,
            });
            std::iter::once((strand.from, strand.to)).chain(named)
        })
    }
    /// The story of that name.
    pub fn story_named(&self, name: &str) -> Option<&Story> {
        self.stories.iter().find(|story| story.name == name)
    }
}
