//! The same question put to the slow and sure solver, where the fast one found no pieces that hold.
//!
//! **In:** the bench's network of an island; a few things added. **Out:** volts and currents.
//! **Never here:** which pieces: `circuit` finds the one solution there is, wherever a search begins.
//!
//! A bus behind diodes that all block hangs on their leaks alone. The matrix of the fast way then
//! holds 10^11 ohm, and beside that the milliohm of a conducting diode is lost in rounding. Here
//! nothing is subtracted.

use super::field::{Added, FieldFault};
use fiftytwo_circuit::Branch;
use fiftytwo_circuit::network::{Network, NetworkError, Prepared, Solution};

/// A solved network with things added.
#[derive(Debug, Clone)]
pub(super) struct Exact {
    network: Network,
    solution: Solution,
    reference: usize,
    /// Branches before those of the things added.
    before: usize,
}

impl Exact {
    pub(super) fn new(
        network: &Network,
        reference: usize,
        added: &[Added],
    ) -> Result<Self, FieldFault> {
        let mut network = network.clone();
        let before = network.branches().len();
        for &Added { a, b, ohm, volt } in added {
            if volt == 0.0 && ohm > 0.0 {
                network.resistor(a, b, ohm);
            } else if volt == 0.0 {
                network.switch(a, b, true);
            } else {
                network.source(a, b, volt, ohm);
            }
        }
        let solution = network.solve().map_err(|error| match error {
            NetworkError::Unsettled { .. } => FieldFault::Unsettled,
            _ => FieldFault::Contradiction,
        })?;
        Ok(Self { network, solution, reference, before })
    }

    /// Volts above the reference.
    pub(super) fn potential(&self, node: usize) -> Option<f64> {
        self.solution.voltage(node, self.reference)
    }

    /// The current through something added, A.
    pub(super) fn amps(&self, added: usize) -> f64 {
        self.solution.current(self.before + added).unwrap_or(0.0)
    }

    /// Volts at a node per ampere into it, on the present pieces, ohm; without the last thing added
    /// if so wanted.
    pub(super) fn ohm_at(&self, node: usize, without_last: bool) -> Option<f64> {
        let mut network = Network::new(self.network.nodes());
        let all = self.network.branches();
        let count = all.len() - usize::from(without_last && all.len() > self.before);
        for (index, &branch) in all.iter().take(count).enumerate() {
            match (branch, self.network.curve_of(index)) {
                (Branch::Curve { a, b, .. }, Some(curve)) => network.curve(a, b, curve.clone()),
                _ => network.add(branch),
            };
        }
        let prepared = Prepared::new(network).ok()?;
        let volts = prepared.adjoint(&self.solution, node, self.reference).ok()?;
        Some(volts.get(node)? - volts.get(self.reference)?)
    }
}
