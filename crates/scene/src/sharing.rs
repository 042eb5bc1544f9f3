//! How current divides between ways without any resistance. **In:** readings that leave it open.
//! **Out:** amperes for each part of such ways, as if every contact and every link in them had the same
//! small resistance. **Never here:** volts: these are not changed by it.

use fiftytwo_circuit::Readings;
use fiftytwo_scheme::{NodeId, PartId, Scheme};
use std::collections::BTreeMap;

/// Ends nearer than this lie at one potential, V.
const SAME: f64 = 1e-6;

/// A part of unknown current, and its ends.
struct Way {
    part: PartId,
    ends: (usize, usize),
}

/// The amperes of every placed part whose current the readings leave open, positive from its upper end
/// to its lower.
pub fn shared(scheme: &Scheme, readings: &Readings<'_>) -> BTreeMap<PartId, f64> {
    let open: Vec<(PartId, NodeId, NodeId)> = scheme
        .placed()
        .filter_map(|(id, part)| Some((id, part.at?.from, part.at?.to)))
        .filter(|(id, _, _)| readings.amps(*id).is_none())
        .filter(|(_, a, b)| readings.between(*a, *b).is_some_and(|volts| volts.abs() < SAME))
        .collect();
    if open.is_empty() {
        return BTreeMap::new();
    }
    let joined = joined(scheme);
    let root = |node: NodeId| joined.get(&node).copied().unwrap_or(node);
    let mut places: BTreeMap<NodeId, usize> = BTreeMap::new();
    let mut ways = Vec::new();
    for (part, a, b) in &open {
        let mut place = |node: NodeId| {
            let next = places.len();
            *places.entry(root(node)).or_insert(next)
        };
        let ends = (place(*a), place(*b));
        ways.push(Way { part: *part, ends });
    }
    let mut into = vec![0.0; places.len()];
    let mut add = |node: NodeId, amps: f64| {
        if let Some(at) = places.get(&root(node)) {
            into[*at] += amps;
        }
    };
    for (id, part) in scheme.placed() {
        if let (Some(at), Some(amps)) = (part.at, readings.amps(id)) {
            add(at.from, -amps);
            add(at.to, amps);
        }
    }
    for (id, supply) in scheme.supplies.iter() {
        let amps = readings.drawn(id).unwrap_or(0.0);
        add(supply.plus, amps);
        add(supply.minus, -amps);
    }
    let levels = levels(&ways, into);
    let along = |way: &Way| (way.part, levels[way.ends.0] - levels[way.ends.1]);
    ways.iter().map(along).collect()
}

/// Wires that strands without parts make one: each with the wire that stands for it.
fn joined(scheme: &Scheme) -> BTreeMap<NodeId, NodeId> {
    let mut joined: BTreeMap<NodeId, NodeId> = BTreeMap::new();
    for (a, b) in scheme.plain_wires() {
        let of =
            |node: NodeId, joined: &BTreeMap<NodeId, NodeId>| *joined.get(&node).unwrap_or(&node);
        let (a, b) = (of(a, &joined), of(b, &joined));
        if a != b {
            joined.values_mut().filter(|root| **root == b).for_each(|root| *root = a);
            joined.insert(b, a);
        }
    }
    joined
}

/// The level of each point when every way has the same resistance: one point of each piece at 0.
fn levels(ways: &[Way], into: Vec<f64>) -> Vec<f64> {
    let count = into.len();
    let mut rows: Vec<Vec<f64>> = vec![vec![0.0; count + 1]; count];
    for Way { ends: (a, b), .. } in ways.iter().filter(|way| way.ends.0 != way.ends.1) {
        rows[*a][*a] += 1.0;
        rows[*b][*b] += 1.0;
        rows[*a][*b] -= 1.0;
        rows[*b][*a] -= 1.0;
    }
    for (row, amps) in rows.iter_mut().zip(into) {
        row[count] = amps;
    }
    // Gauss and Jordan; a row that comes to nothing belongs to the point that stays at 0.
    let mut pivot_of = vec![None; count];
    let mut used = 0;
    for column in 0..count {
        let best =
            (used..count).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()));
        let Some(best) = best.filter(|row| rows[*row][column].abs() > 1e-9) else { continue };
        rows.swap(used, best);
        let pivot = rows[used].clone();
        for (_, row) in rows.iter_mut().enumerate().filter(|(index, _)| *index != used) {
            let times = row[column] / pivot[column];
            row.iter_mut().zip(&pivot).for_each(|(value, own)| *value -= times * own);
        }
        pivot_of[column] = Some(used);
        used += 1;
    }
    (0..count)
        .map(|column| pivot_of[column].map_or(0.0, |row| rows[row][count] / rows[row][column]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use fiftytwo_scheme::arena::Id;

    #[test]
    fn a_bridge_of_equal_ways_divides_as_by_hand() {
        // 3 A from point 0 to point 2: one way directly, one over point 1: 2 A and 1 A.
        let way = |index: usize, a: usize, b: usize| Way {
            part: PartId::from_index(index),
            ends: (a, b),
        };
        let ways = [way(0, 0, 2), way(1, 0, 1), way(2, 1, 2)];
        let levels = levels(&ways, vec![3.0, 0.0, -3.0]);
        assert!((levels[0] - levels[2] - 2.0).abs() < 1e-12);
        assert!((levels[0] - levels[1] - 1.0).abs() < 1e-12);
        assert!((levels[1] - levels[2] - 1.0).abs() < 1e-12);
    }
}
