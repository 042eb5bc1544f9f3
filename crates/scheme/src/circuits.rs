//! Circuits, legs and the nodes between parts.

use crate::ids::{CircuitId, LegId, NodeId, PartId, PlaceId, SupplyId};
use crate::source::Span;

/// A point that keeps one potential whatever the contacts do.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Its wire number as written; poles of supplies are "DC1+", "DC1-", "AC1L", "AC1N". None:
    /// not numbered by the designer.
    pub wire: Option<String>,
    /// The number repeated on the sheet, if another than `wire`.
    pub label: Option<String>,
    /// Where it is.
    pub place: PlaceId,
    /// Where its number is written first.
    pub span: Option<Span>,
}

/// What shares fuses. A circuit hangs between two nodes of a supply (or of another circuit).
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Its name.
    pub name: String,
    /// The supply it hangs on in the end.
    pub supply: SupplyId,
    /// The circuit it branches from, if not from the supply itself.
    pub of_circuit: Option<CircuitId>,
    /// The sheet it is to stand on, if pinned.
    pub sheet: Option<String>,
    /// From the supply's plus to the rail.
    pub feed: Strand,
    /// From the other rail to the supply's minus.
    pub back: Strand,
    /// The positive rail: the last node of `feed`.
    pub plus: NodeId,
    /// The negative rail: the first node of `back`.
    pub minus: NodeId,
    /// Its legs, in source order.
    pub legs: Vec<LegId>,
    /// Notes for the sheet.
    pub notes: Vec<String>,
    /// Where it is written (its name).
    pub span: Span,
}

/// A leg: a chain in series between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// Its name.
    pub name: String,
    /// Its circuit.
    pub circuit: CircuitId,
    /// Its chain and both ends.
    pub strand: Strand,
    /// Whether it goes from rail to rail.
    pub rail_to_rail: bool,
    /// Where it is written (its name).
    pub span: Span,
}

/// A chain with the nodes at its two ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Strand {
    /// The upper end.
    pub from: NodeId,
    /// The lower end.
    pub to: NodeId,
    /// What stands in between, top to bottom.
    pub chain: Chain,
}

/// Parts in series, top to bottom.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chain {
    /// The steps.
    pub steps: Vec<Step>,
}

impl Chain {
    /// Whether any part stands in it; without one both ends are one wire.
    pub fn has_parts(&self) -> bool {
        self.steps.iter().any(|step| match step {
            Step::Part(_) => true,
            Step::Wire(_) => false,
            Step::Parallel(ways) => ways.iter().any(Self::has_parts),
        })
    }
}

/// One step of a chain.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// A part; its nodes are in its [`crate::Placement`].
    Part(PartId),
    /// A wire number written here.
    Wire(NodeId),
    /// Ways side by side, each a chain between the same two nodes.
    Parallel(Vec<Chain>),
}

/// The physical order of a wire's connections, as written.
#[derive(Debug, Clone, PartialEq)]
pub struct DaisyChain {
    /// The wire.
    pub wire: NodeId,
    /// DEVICE:TERMINAL in order; first equal to last: a ring.
    pub points: Vec<String>,
    /// Where it is written.
    pub span: Span,
}
