//! What a handful of zones leave of another: is every reading covered?

use super::{NONE, Zone};

/// Every reading, also between whole microseconds, of `whole` is in one of `parts` (zones over the same
/// clocks).
///
/// What lies outside a closed bound is open (`x > c`). A set with open whole bounds over `n` clocks that
/// is not empty holds a point on the grid of step `1 / (n + 1)`, so all bounds are multiplied by `n + 1`
/// and `x > c` becomes `x >= c + 1`: exact, and no open bound is needed.
pub fn is_covered(whole: &Zone, parts: &[Zone]) -> bool {
    if whole.is_empty() || parts.iter().any(|part| part.includes(whole)) {
        return true;
    }
    let scale = whole.clocks() as i64 + 1;
    let parts: Vec<Zone> = parts.iter().map(|part| scaled(part, scale)).collect();
    leaves_nothing(scaled(whole, scale), &parts)
}

fn scaled(zone: &Zone, scale: i64) -> Zone {
    let mut out = zone.clone();
    if !zone.is_empty() {
        for cell in &mut out.cells {
            if *cell != NONE {
                *cell = cell.saturating_mul(scale);
            }
        }
    }
    out
}

/// Cut off `whole`, bound by bound, what lies outside the first part; all of that has to be covered by
/// the other parts.
fn leaves_nothing(mut whole: Zone, parts: &[Zone]) -> bool {
    let Some((first, others)) = parts.split_first() else {
        return whole.is_empty();
    };
    if first.is_empty() || first.size != whole.size {
        return leaves_nothing(whole, others);
    }
    for i in 0..whole.size {
        for j in 0..whole.size {
            let bound = first.get(i, j);
            if i == j || bound == NONE || whole.get(i, j) <= bound {
                continue;
            }
            let mut outside = whole.clone();
            if outside.constrain_difference(j, i, -bound - 1) && !leaves_nothing(outside, others) {
                return false;
            }
            if !whole.constrain_difference(i, j, bound) {
                return true;
            }
        }
    }
    true
}
