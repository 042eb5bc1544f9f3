//! Whether a fuse opens before the one upstream of it.
//!
//! **In:** the times of both, the greatest current of a short behind the first. **Out:** whether
//! the first has surely cleared before the second may begin to melt, at every current up to that
//! one. **Never here:** where they stand.
//!
//! Both curves are straight lines in the logarithms between their points, so the ratio of their
//! times is too between any two neighbouring bends, and is least at one of them.

use super::curve::TimeCurrent;
use crate::figures::digits;
use serde::Serialize;

/// What can be said of two fuses in a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "verdict", rename_all = "kebab-case")]
pub enum Selective {
    /// At every current up to the greatest.
    Yes,
    /// From this current on both may open.
    No {
        /// A.
        from: f64,
        /// The first may take so long there, s; none: for ever.
        clears: Option<f64>,
        /// The upstream one may melt so soon there, s.
        melts: f64,
    },
    /// Whatever the current: the first is no smaller than the one upstream, or both are alike.
    Never {
        /// Why, in words.
        why: String,
    },
    /// Points are missing.
    Unknown {
        /// Which, in words.
        why: String,
        /// What to write so that it can be said.
        cure: String,
    },
}

/// What is asked of two fuses in a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Upstream {
    /// The upstream fuse.
    pub fuse: String,
    /// Greatest current of a short right behind the downstream one, A.
    pub greatest: f64,
    /// The answer.
    pub selective: Selective,
    /// Typical curves used, in words.
    pub typical: Vec<String>,
}

/// General-purpose fuses whose ratings are as 1 to 1.6 or more are selective (from memory of
/// IEC 60269-2; it is what the gates are made for).
const RATIO: f64 = 1.6;

/// Two general-purpose fuses, by their ratings.
pub(super) fn general_purpose(first: f64, upstream: f64) -> Selective {
    // 10 and 16, 16 and 25, 63 and 100: the series is rounded.
    let enough = upstream >= RATIO * first * 0.975;
    let (first, upstream) = (digits(first, 3), digits(upstream, 3));
    Selective::Unknown {
        why: if enough {
            format!(
                "neither has points; two general-purpose fuses of {first} A and {upstream} A would \
                 be (typical, 1 to {RATIO}), two small breakers would not"
            )
        } else {
            format!("{upstream} A is less than {RATIO} times {first} A and neither has points")
        },
        cure: "give both points from their data sheets".to_owned(),
    }
}

/// Between a current at which they are selective and one at which not: where that begins. The ratio
/// of their times is a straight line there in logarithms, so it crosses once.
fn crossing(first: &TimeCurrent, upstream: &TimeCurrent, good: f64, bad: f64) -> f64 {
    let (mut good, mut bad) = (good, bad);
    for _ in 0..100 {
        let middle = f64::midpoint(good, bad);
        if middle <= good || middle >= bad {
            break;
        }
        let clears = first.clears_within(middle);
        if clears.is_finite() && clears >= upstream.melts_not_before(middle) {
            bad = middle;
        } else {
            good = middle;
        }
    }
    bad
}

pub(super) fn selective(
    first: &TimeCurrent,
    upstream: &TimeCurrent,
    greatest: f64,
    names: [&str; 2],
) -> Selective {
    let [own, name] = names;
    let known = upstream.known_up_to().unwrap_or(0.0);
    let points_up_to = |of: &str| {
        if greatest.is_finite() {
            format!("give {of} points up to {} A", digits(greatest, 3))
        } else {
            "give the supply or a cable its resistance: the short has no bound".to_owned()
        }
    };
    let Some(begin) = first.opens_from() else {
        let cure = format!("give {own} points from its data sheet");
        return Selective::Unknown { why: "no points".to_owned(), cure };
    };
    let end = greatest.min(known);
    let mut currents: Vec<f64> = first
        .bends()
        .chain(upstream.bends())
        .filter(|amps| *amps >= begin && *amps <= end)
        .chain([begin.min(greatest), end])
        .collect();
    currents.sort_by(f64::total_cmp);
    let mut before = None;
    for amps in currents {
        let (clears, melts) = (first.clears_within(amps), upstream.melts_not_before(amps));
        // Below its first point the downstream fuse may never open: nothing is said there.
        if clears.is_finite() && clears >= melts {
            if amps > first.opens_known_up_to() {
                let end = digits(first.opens_known_up_to(), 3);
                let why = format!("the points of {own} end at {end} A");
                return Selective::Unknown { why, cure: points_up_to(own) };
            }
            let from = before.map_or(amps, |good| crossing(first, upstream, good, amps));
            let (clears, melts) = (first.clears_within(from), upstream.melts_not_before(from));
            return Selective::No { from, clears: Some(clears), melts };
        }
        before = Some(amps);
    }
    // What is sure comes first; only then what is missing.
    if upstream.rating() < begin && upstream.rating() < greatest {
        let (begin, from) = (digits(begin, 3), digits(upstream.rating(), 3));
        return Selective::Unknown {
            why: format!(
                "the points of {own} begin at {begin} A, and {name} may open from {from} A"
            ),
            cure: format!("give {own} points from {from} A"),
        };
    }
    if greatest > known * (1.0 + 1e-9) {
        let (most, known) = (digits(greatest, 3), digits(known, 3));
        return Selective::Unknown {
            why: format!("the points of {name} end at {known} A, the short may be {most} A"),
            cure: points_up_to(name),
        };
    }
    Selective::Yes
}
