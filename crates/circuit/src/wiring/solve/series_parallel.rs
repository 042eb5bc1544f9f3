//! Whether current can run through every part in one direction only.
//!
//! **In:** which points are joined by something that may carry current. **Out:** whether the whole,
//! its supply included, is built up in series and parallel. **Never here:** values.

use std::collections::BTreeSet;

/// Whether a network is built up in series and parallel (it has no bridge): taking out points with
/// at most two neighbours, again and again, leaves nothing. In such a network, and in no other, any
/// two branches that lie on common loops lie on all of them in the same relative direction (from
/// memory of the literature on confluent branches, 1965), so that every voltage moves one way only
/// with every single part, whatever the values and however bent the parts.
pub(super) fn is_series_parallel(
    nodes: usize,
    branches: impl Iterator<Item = (usize, usize)>,
) -> bool {
    let mut neighbours = vec![BTreeSet::new(); nodes];
    for (a, b) in branches.filter(|(a, b)| a != b) {
        neighbours[a].insert(b);
        neighbours[b].insert(a);
    }
    let mut few: Vec<usize> = (0..nodes).filter(|&node| neighbours[node].len() <= 2).collect();
    while let Some(node) = few.pop() {
        let around = std::mem::take(&mut neighbours[node]);
        for &other in &around {
            neighbours[other].remove(&node);
        }
        let ends: Vec<usize> = around.into_iter().collect();
        if let [a, b] = ends[..] {
            neighbours[a].insert(b);
            neighbours[b].insert(a);
        }
        few.extend(ends.into_iter().filter(|&end| neighbours[end].len() <= 2));
    }
    neighbours.iter().all(BTreeSet::is_empty)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bridge_is_not_built_up_in_series_and_parallel() {
        let star = [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)];
        assert!(is_series_parallel(4, star.into_iter()));
        assert!(!is_series_parallel(4, star.into_iter().chain([(0, 3)])));
    }

    #[test]
    fn legs_side_by_side_on_a_shared_return_are_built_up_in_series_and_parallel() {
        let legs = [(0, 1), (1, 4), (0, 2), (2, 4), (4, 3), (3, 5), (0, 5)];
        assert!(is_series_parallel(6, legs.into_iter()));
    }
}
