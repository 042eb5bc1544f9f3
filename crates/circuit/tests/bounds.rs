//! Bounds that hold whatever the doubtful switches do, against every way they can stand.
#![allow(clippy::unwrap_used, reason = "tests")]

use fiftytwo_circuit::{Certainty, Positions, Supplies, Wiring};
use proptest::prelude::*;
use std::path::Path;

fn example(name: &str) -> fiftytwo_scheme::Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    fiftytwo_scheme::read_path(Path::new(&path)).scheme.unwrap()
}

/// Closed surely, closed perhaps, and one way in which the doubtful ones stand.
fn positions(count: usize, bits: &[u8]) -> (Positions, Positions, Positions) {
    let (mut sure, mut maybe, mut real) = (Positions::OPEN, Positions::OPEN, Positions::OPEN);
    for index in 0..count {
        let byte = bits.get(index % bits.len()).copied().unwrap_or(0);
        let kind = (byte as usize + index / bits.len()) % 4;
        sure.set(index, kind == 0);
        maybe.set(index, kind != 1);
        real.set(index, kind == 0 || kind == 2);
    }
    (sure, maybe, real)
}

fn holds(scheme: &fiftytwo_scheme::Scheme, bits: &[u8]) -> (usize, usize) {
    let wiring = Wiring::new(scheme).unwrap();
    let (mut bounded, mut sure_ones) = (0, 0);
    for section in wiring.sections() {
        let (sure, maybe, real) = positions(wiring.switches(section).len(), bits);
        let bounds = wiring.bounds(section, &sure, &maybe, Supplies::ALL);
        let drives = wiring.drive_afresh(section, &real, Supplies::ALL);
        for ((certainty, bound), drive) in bounds.iter().zip(&drives) {
            let name = &scheme.parts[drive.part].name;
            assert_eq!(bound.part, drive.part);
            bounded += 1;
            match certainty {
                Certainty::Not => assert!(!drive.connected, "{name} is connected"),
                Certainty::Surely => {
                    sure_ones += 1;
                    assert!(drive.connected, "{name} is not connected");
                    assert!(!bound.straight || drive.straight, "{name} is not straight");
                    assert!(
                        bound.volts_lo <= drive.volts_lo + 1e-6,
                        "{name}: {} V bounds {} V from below",
                        bound.volts_lo,
                        drive.volts_lo
                    );
                }
                Certainty::Perhaps => {}
            }
            assert!(drive.volts_hi <= bound.volts_hi + 1e-6, "{name} has {} V", drive.volts_hi);
        }
    }
    (bounded, sure_ones)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn no_position_of_the_doubtful_switches_leaves_the_bounds(
        bits in proptest::collection::vec(any::<u8>(), 7..40)
    ) {
        for name in ["quillmere", "dunmarrow", "latches"] {
            let (bounded, _) = holds(&example(name), &bits);
            prop_assert!(bounded > 0);
        }
    }
}

#[test]
fn with_every_switch_surely_closed_loads_are_surely_bounded() {
    let scheme = example("quillmere");
    let (_, sure) = holds(&scheme, &[0; 300]);
    assert!(sure > 20, "only {sure} loads have sure bounds");
}
