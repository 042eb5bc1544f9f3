//! Statements: NAME STATE with and, or, not. One small language for contacts, logic,
//! conditions, claims, the matrix and stories.

use crate::ids::{ConditionId, DeviceId, LogicId, OrderId, PartId, SupplyId};
use crate::source::Span;

/// One thing that is so or not so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Atom {
    /// A device stands in a position (index into its `positions`).
    Position(DeviceId, u8),
    /// The energy of a breaker suffices for at least one closing.
    Charged(DeviceId),
    /// A coil is driven: it has at least its pickup voltage.
    Driven(PartId),
    /// A contact is closed.
    Closed(PartId),
    /// An opto input is on.
    InputOn(PartId),
    /// A line of logic is true.
    Logic(LogicId),
    /// An order stands.
    Order(OrderId),
    /// A condition is in a state (index into its `states`).
    Condition(ConditionId, u8),
    /// A lamp is lit.
    Lit(PartId),
    /// A motor runs.
    Running(PartId),
    /// A fuse is blown.
    Blown(PartId),
    /// A link is open.
    LinkOpen(PartId),
    /// A supply lives.
    Live(SupplyId),
}

/// Atoms joined by and, or, not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expr {
    /// One atom.
    Atom(Atom),
    /// Not.
    Not(Box<Expr>),
    /// All of them; never empty.
    All(Vec<Expr>),
    /// At least one of them; never empty.
    Any(Vec<Expr>),
}

impl Expr {
    /// Evaluates with `truth` for the atoms.
    pub fn holds(&self, truth: &mut impl FnMut(Atom) -> bool) -> bool {
        match self {
            Self::Atom(atom) => truth(*atom),
            Self::Not(inner) => !inner.holds(truth),
            Self::All(items) => items.iter().all(|item| item.holds(truth)),
            Self::Any(items) => items.iter().any(|item| item.holds(truth)),
        }
    }
    /// Calls `visit` for every atom, in written order.
    pub fn atoms(&self, visit: &mut impl FnMut(Atom)) {
        match self {
            Self::Atom(atom) => visit(*atom),
            Self::Not(inner) => inner.atoms(visit),
            Self::All(items) | Self::Any(items) => {
                for item in items {
                    item.atoms(visit);
                }
            }
        }
    }
}

/// A statement with its words and its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// As written.
    pub text: String,
    /// What it means.
    pub expr: Expr,
    /// Where it is written.
    pub span: Span,
}
