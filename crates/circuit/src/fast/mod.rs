//! One linear network solved for many positions of its contacts.
//!
//! **In:** a [`Network`] with one voltage source, resistances and switches, and the pairs of nodes
//! whose voltage is asked for, once ([`Sweep::new`]); then positions of the switches, as many as
//! one likes ([`Solver`]).
//! **Out:** the voltage across every asked pair, or that it floats.
//! **Never here:** parts, corners, diodes and other bent characteristics (ask
//! [`Network::solve`]), several supplies, time.
//!
//! The same method as [`Network::solve`] (open contacts are absent, closed ideal ones make their
//! nodes one, every number is made afresh without a subtraction), but what does not depend on the
//! contacts is done once: series chains become one link that is whole or open, points between
//! fixed resistances a fixed share ([`reduce`]), and the rest is cut at a few hubs into blocks
//! ([`divide`]). A contact that moves touches one block; the sums at the hubs are pairwise, so the
//! answer after any number of moves is to the last bit the answer made afresh.

mod divide;
mod plan;
mod reduce;
mod solver;
mod totals;

pub use plan::{Sweep, SweepError};
pub use solver::{Shorted, Solver};

#[cfg(doc)]
use crate::network::Network;
