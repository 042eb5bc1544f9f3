//! Divides a network into blocks that meet only at a few hubs.
//!
//! **In:** which points are joined, and the two poles.
//! **Out:** the hubs (the poles first, then the points where most links meet) and the blocks
//! between them. **Never here:** conductances, positions.
//!
//! Legs hang between buses: with the buses taken as hubs, each leg or pair of bridged legs is a
//! block of a few points, and a contact that moves touches one block. Any division is right; a
//! good one is fast.

use super::reduce::Link;
use std::collections::BTreeSet;

/// Blocks of so many points are not divided further.
const SMALL: usize = 16;
/// At most so many hubs beside the poles.
const MOST_HUBS: usize = 14;
/// A point with fewer links is no hub.
const LEAST_LINKS: usize = 4;

/// Hubs and blocks.
#[derive(Debug)]
pub(super) struct Division {
    /// The minus pole, the plus pole, then others.
    pub(super) hubs: Vec<usize>,
    /// The points of each block, ascending.
    pub(super) blocks: Vec<Vec<usize>>,
}

/// Divides so many points. `poles`: plus and minus.
pub(super) fn divide(points: usize, links: &[Link], poles: (usize, usize)) -> Division {
    let mut around = vec![BTreeSet::new(); points];
    for link in links {
        around[link.ends.0].insert(link.ends.1);
        around[link.ends.1].insert(link.ends.0);
    }
    let mut hubs = vec![poles.1, poles.0];
    loop {
        let blocks = blocks(&around, &hubs);
        let largest = blocks.iter().max_by_key(|block| block.len());
        let next = largest
            .filter(|block| block.len() > SMALL && hubs.len() < MOST_HUBS + 2)
            .and_then(|block| block.iter().rev().max_by_key(|&&point| around[point].len()))
            .filter(|&&point| around[point].len() >= LEAST_LINKS);
        let Some(&hub) = next else { return Division { hubs, blocks } };
        hubs.push(hub);
    }
}

fn blocks(around: &[BTreeSet<usize>], hubs: &[usize]) -> Vec<Vec<usize>> {
    let mut seen = vec![false; around.len()];
    hubs.iter().for_each(|&hub| seen[hub] = true);
    let mut blocks = Vec::new();
    for start in 0..around.len() {
        if seen[start] || around[start].is_empty() {
            continue;
        }
        seen[start] = true;
        let mut block = vec![start];
        let mut done = 0;
        while let Some(&point) = block.get(done) {
            done += 1;
            for &next in &around[point] {
                if !seen[next] {
                    seen[next] = true;
                    block.push(next);
                }
            }
        }
        block.sort_unstable();
        blocks.push(block);
    }
    blocks
}
