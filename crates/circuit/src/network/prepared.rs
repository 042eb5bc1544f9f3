//! A network solved again and again with other values.
//!
//! **In:** a network, once; then other values of its branches. **Out:** solutions, and how a voltage
//! moves when a branch's current does. **Never here:** other branches than those it began with.

use super::linear::{Frame, Shape};
use super::{Branch, CurveNumber, Network, NetworkError, Solution, pieces};
use crate::curve::Characteristic;

/// A network with its order of elimination.
#[derive(Debug, Clone)]
pub struct Prepared {
    network: Network,
    shape: Shape,
}

impl Prepared {
    /// Makes a network ready.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn new(network: Network) -> Result<Self, NetworkError> {
        network.check()?;
        Ok(Self { shape: Shape::new(&network)?, network })
    }
    /// The network as it stands.
    pub fn network(&self) -> &Network {
        &self.network
    }
    /// Gives a branch other values. False, and nothing changes: the branch would stand between
    /// other nodes, or become ideal or open, or cease to be so.
    pub fn set(&mut self, branch: usize, value: Branch) -> bool {
        let Some(&before) = self.network.branches.get(branch) else { return false };
        let has_line = |network: &Network| network.line(branch, 0).is_some();
        let (had, closed) = (has_line(&self.network), before.is_closed_switch());
        self.network.branches[branch] = value;
        let same = before.nodes() == value.nodes()
            && had == has_line(&self.network)
            && closed == value.is_closed_switch();
        if !same {
            self.network.branches[branch] = before;
        }
        same
    }
    /// Makes another characteristic known.
    pub fn characteristic(&mut self, characteristic: Characteristic) -> CurveNumber {
        self.network.characteristic(characteristic)
    }
    /// Solves it.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn solve(&self) -> Result<Solution, NetworkError> {
        self.network.check()?;
        pieces::settle(&Frame::new(&self.network, &self.shape)?)
    }
    /// How the voltage from `a` to `b` moves: the potentials under 1 A driven in at `a` and out at
    /// `b` with every source dead and every curve as steep as it is at `at`, V/A. A branch from `p`
    /// to `q` that takes `i` amperes more moves the voltage from `a` to `b` by
    /// `−i × (λ(p) − λ(q))`, so that its derivative by the conductance of that branch is
    /// `−v(p, q) × (λ(p) − λ(q))`.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn adjoint(&self, at: &Solution, a: usize, b: usize) -> Result<Vec<f64>, NetworkError> {
        let frame = Frame::new(&self.network, &self.shape)?;
        Ok(frame.under_one_ampere(&at.pieces, a, b))
    }
}
