//! Rest positions in which all that hangs together with a battery stands alike.
//!
//! **In:** the scheme; a supply and a rest position. **Out:** a key, equal where nothing that could
//! ever be joined with that supply stands differently.
//! **Never here:** volts.

use super::joined::Joined;
use crate::rest::RestPosition;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartKind, Scheme, SupplyId};

/// What hangs together if every contact closes.
#[derive(Debug)]
pub(crate) struct Alike {
    /// By node.
    roots: Vec<usize>,
    /// By part: the root of what it stands in, if it switches.
    switches: Vec<Option<usize>>,
    /// By supply.
    supplies: Vec<usize>,
}

impl Alike {
    pub fn new(scheme: &Scheme) -> Self {
        let mut hangs = Joined::new(scheme.nodes.len());
        for (_, part) in scheme.placed() {
            if let Some(at) = part.at
                && !matches!(part.kind, PartKind::Capacitor { .. })
            {
                hangs.join(at.from.index(), at.to.index(), 0.0);
            }
        }
        for supply in scheme.supplies.values() {
            hangs.join(supply.plus.index(), supply.minus.index(), 0.0);
        }
        let roots: Vec<usize> = (0..scheme.nodes.len()).map(|node| hangs.find(node).0).collect();
        let switches = scheme.parts.values().map(|part| {
            let switches =
                matches!(part.kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. });
            part.at.filter(|_| switches).map(|at| roots[at.from.index()])
        });
        let switches = switches.collect();
        let supplies = scheme.supplies.values().map(|supply| roots[supply.minus.index()]).collect();
        Self { roots, switches, supplies }
    }
    /// Equal for positions in which everything about a supply stands alike.
    pub fn key(&self, supply: SupplyId, rest: &RestPosition) -> (usize, Vec<bool>, Vec<bool>) {
        let root = self.supplies[supply.index()];
        let closed = self
            .switches
            .iter()
            .zip(&rest.closed)
            .filter(|(at, _)| **at == Some(root))
            .map(|(_, closed)| *closed)
            .collect();
        let live = self
            .supplies
            .iter()
            .zip(&rest.live)
            .filter(|(at, _)| **at == root)
            .map(|(_, live)| *live)
            .collect();
        (supply.index(), closed, live)
    }
    /// Whether two nodes hang together if every contact closes.
    pub fn together(&self, a: usize, b: usize) -> bool {
        self.roots.get(a).is_some_and(|root| self.roots.get(b) == Some(root))
    }
}
