//! The gates of general-purpose fuses, as typical data for a fuse without points of its own.
//!
//! **In:** a rated current. **Out:** currents it must carry for a time and currents that must open
//! it within a time. **Never here:** a maker's curve.
//!
//! From memory of IEC 60269-1 (gates and conventional currents of gG fuse-links; below 16 A
//! IEC 60269-2). One thing in them
//! can be checked without the standard: fuses whose ratings are as 1 to 1.6 are selective by it, so
//! the current that opens the smaller within 0.1 s is the one that the larger carries for 0.1 s.

/// Rated A, then A: not open within 10 s, open within 5 s, not open within 0.1 s, open within 0.1 s.
pub(super) const GATES: [(f64, f64, f64, f64, f64); 17] = [
    (2.0, 3.7, 9.2, 6.0, 23.0),
    (4.0, 7.8, 18.5, 14.0, 47.0),
    (6.0, 11.0, 28.0, 26.0, 72.0),
    (8.0, 16.0, 35.2, 41.6, 92.0),
    (10.0, 22.0, 46.5, 58.0, 110.0),
    (12.0, 24.0, 55.2, 69.6, 140.4),
    (16.0, 33.0, 65.0, 85.0, 150.0),
    (20.0, 42.0, 85.0, 110.0, 200.0),
    (25.0, 52.0, 110.0, 150.0, 260.0),
    (32.0, 75.0, 150.0, 200.0, 350.0),
    (40.0, 95.0, 190.0, 260.0, 450.0),
    (50.0, 125.0, 250.0, 350.0, 610.0),
    (63.0, 160.0, 320.0, 450.0, 820.0),
    (80.0, 215.0, 425.0, 610.0, 1100.0),
    (100.0, 290.0, 580.0, 820.0, 1450.0),
    (125.0, 355.0, 715.0, 1110.0, 1910.0),
    (160.0, 460.0, 950.0, 1450.0, 2590.0),
];

/// Current, time.
type Line = Vec<(f64, f64)>;

/// Least and greatest times. A rating between two of the table takes its least times from the
/// smaller and its greatest from the larger of them.
pub(super) fn general_purpose(rating: f64) -> Option<(Line, Line)> {
    let below = GATES.iter().rev().find(|gate| gate.0 <= rating * (1.0 + 1e-9))?;
    let above = GATES.iter().find(|gate| gate.0 >= rating * (1.0 - 1e-9))?;
    let least = vec![(below.1, 10.0), (below.3, 0.1)];
    let (times, hours) = conventional(above.0);
    let greatest = vec![(above.0 * times, hours * 3600.0), (above.2, 5.0), (above.4, 0.1)];
    Some((least, greatest))
}

/// The current that surely opens it within the conventional time, as a multiple of the rating, and
/// that time, h.
fn conventional(rating: f64) -> (f64, f64) {
    match rating {
        ..=4.0 => (2.1, 1.0),
        ..16.0 => (1.9, 1.0),
        ..=63.0 => (1.6, 1.0),
        _ => (1.6, 2.0),
    }
}

#[cfg(test)]
mod tests {
    use super::GATES;

    #[test]
    fn ratings_as_1_to_1_6_meet_at_a_tenth_of_a_second() {
        for (smaller, larger) in
            [(16, 25), (20, 32), (25, 40), (32, 50), (40, 63), (50, 80), (63, 100), (100, 160)]
        {
            let gate = |rating: i32| GATES.iter().find(|gate| gate.0 == f64::from(rating));
            let opens_smaller = gate(smaller).map(|gate| gate.4);
            assert!(opens_smaller.is_some());
            assert_eq!(opens_smaller, gate(larger).map(|gate| gate.3), "{smaller} and {larger} A");
        }
    }

    #[test]
    fn every_gate_grows_with_the_rating() {
        for pair in GATES.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            assert!(a.0 < b.0 && a.1 < b.1 && a.2 < b.2 && a.3 < b.3 && a.4 < b.4, "{a:?} {b:?}");
            assert!(a.0 < a.1 && a.1 < a.2 && a.3 < a.4 && a.2 < a.4 && a.1 < a.3, "{a:?}");
        }
    }
}
