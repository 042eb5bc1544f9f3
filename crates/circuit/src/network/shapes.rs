//! Orders of elimination that were found before, for networks that differ in their values alone.
//!
//! **In:** networks. **Out:** their solutions. **Never here:** anything that a solution depends on: an
//! order of elimination is remembered by what stands between which nodes, and nothing else enters it.

use super::linear::{Frame, Shape};
use super::{Branch, Network, NetworkError, Solution, pieces};
use rustc_hash::FxHashMap;
use std::sync::{Arc, PoisonError, RwLock};

/// How many orders are remembered.
const MOST_REMEMBERED: usize = 4096;

/// What an order of elimination depends on.
type Key = Vec<(u32, u32, u8)>;

/// Orders of elimination by the shape of a network. Shared by threads.
#[derive(Debug, Default)]
pub struct Shapes {
    memory: RwLock<FxHashMap<Key, Arc<Shape>>>,
}

impl Shapes {
    /// Solves a network.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn solve(&self, network: &Network) -> Result<Solution, NetworkError> {
        network.check()?;
        let key = key(network);
        // A poisoned lock only means that another thread stopped while storing: the map is whole.
        let known = self.memory.read().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        let shape = match known {
            Some(shape) => shape,
            None => {
                let shape = Arc::new(Shape::new(network)?);
                let mut memory = self.memory.write().unwrap_or_else(PoisonError::into_inner);
                if memory.len() < MOST_REMEMBERED {
                    memory.insert(key, Arc::clone(&shape));
                }
                shape
            }
        };
        pieces::settle(&Frame::new(network, &shape)?)
    }
}

/// The nodes, and each branch with what it is: absent, one wire, an ideal source, a source, a current
/// or a resistance.
fn key(network: &Network) -> Key {
    let short = |node: usize| u32::try_from(node).unwrap_or(u32::MAX);
    let mut key = Vec::with_capacity(network.branches.len() + 1);
    key.push((short(network.nodes), 0, 0));
    for (index, branch) in network.branches.iter().enumerate() {
        let (a, b) = branch.nodes();
        let sort = match branch {
            _ if branch.is_closed_switch() => 1,
            Branch::Source { ohm: 0.0, .. } => 2,
            Branch::Source { .. } => 3,
            Branch::Current { .. } => 4,
            _ if network.line(index, 0).is_some() => 5,
            _ => 0,
        };
        key.push((short(a), short(b), sort));
    }
    key
}
