//! Laws that hold for every position of every section of a whole scheme.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_circuit::{
    Battery, Certainty, Heat, Method, Positions, SectionId, Supplies, Wiring, falls_below_dropout,
    reaches_pickup,
};
use fiftytwo_scheme::{PartKind, Scheme, read_path};

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    read_path(path.as_ref()).scheme.unwrap()
}

/// Positions of a section, some of each kind: mostly closed, mostly open, even.
fn positions(wiring: &Wiring<'_>, section: SectionId) -> Vec<Positions> {
    let mut seed = 0x9e37_79b9_7f4a_7c15_u64;
    let mut next = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        seed
    };
    let switches = wiring.switches(section).len();
    let mut all = vec![Positions::OPEN, Positions::closed(switches)];
    for round in 0..60 {
        let mut key = Positions::OPEN;
        for bit in 0..switches {
            let bits = match round % 3 {
                0 => next() | next(),
                1 => next() & next(),
                _ => next(),
            };
            key.set(bit, bits >> 20 & 1 == 1);
        }
        all.push(key);
    }
    all
}

const EXAMPLES: [&str; 4] = ["quillmere", "harrowfen", "dunmarrow", "latches"];

#[test]
fn every_named_corner_lies_within_the_drive() {
    let mut seen = 0;
    for name in EXAMPLES {
        let scheme = example(name);
        let wiring = Wiring::new(&scheme).unwrap();
        for section in wiring.sections() {
            for key in positions(&wiring, section) {
                let drives = wiring.drive(section, &key, Supplies::ALL);
                for battery in [Battery::Low, Battery::High] {
                    for (conductors, coils) in [
                        (Heat::Cold, Heat::Cold),
                        (Heat::Cold, Heat::Hot),
                        (Heat::Hot, Heat::Cold),
                        (Heat::Hot, Heat::Hot),
                    ] {
                        let mut one =
                            wiring.at_corner(section, battery, conductors, coils).unwrap();
                        for (drive, volt) in drives.iter().zip(one.volts(&key)) {
                            let size = volt.abs();
                            if drive.method == Method::Undeclared && !drive.straight {
                                continue;
                            }
                            assert!(
                                size <= drive.volts_hi + 1e-7 && size >= drive.volts_lo - 1e-7,
                                "{name} {}: {size} outside {drive:?}",
                                scheme.parts[drive.part].name
                            );
                            seen += 1;
                        }
                    }
                }
            }
        }
    }
    assert!(seen > 15_000, "{seen}");
}

#[test]
fn a_part_with_current_has_a_closed_path_from_pole_to_pole() {
    let mut seen = 0;
    for name in EXAMPLES {
        let scheme = example(name);
        let wiring = Wiring::new(&scheme).unwrap();
        for section in wiring.sections() {
            let switches = wiring.switches(section);
            for key in positions(&wiring, section) {
                for drive in wiring.drive(section, &key, Supplies::ALL).iter() {
                    let path = wiring.path(section, &key, Supplies::ALL, drive.part);
                    assert_eq!(drive.connected, !path.is_empty(), "{name} {drive:?}");
                    if path.is_empty() {
                        continue;
                    }
                    seen += 1;
                    assert_eq!(path.iter().filter(|part| **part == drive.part).count(), 1);
                    let mut nodes = Vec::new();
                    for part in &path {
                        let at = scheme.parts[*part].at.unwrap();
                        nodes.extend([at.from, at.to]);
                        if let Some(bit) = switches.iter().position(|switch| switch == part) {
                            assert!(
                                key.is_closed(bit),
                                "{name}: {} is open",
                                scheme.parts[*part].name
                            );
                        }
                    }
                    // Every node but the two poles belongs to two neighbours.
                    let poles: Vec<_> = scheme
                        .supplies
                        .values()
                        .flat_map(|supply| [supply.plus, supply.minus])
                        .collect();
                    for node in &nodes {
                        let times = nodes.iter().filter(|other| *other == node).count();
                        assert_eq!(times, if poles.contains(node) { 1 } else { 2 }, "{name}");
                    }
                    if drive.straight {
                        let loads =
                            path.iter().filter(|part| wiring.loads(section).contains(part)).count();
                        assert_eq!(loads, 1, "{name}: a way without another load comes first");
                    }
                }
            }
        }
    }
    assert!(seen > 500, "{seen}");
}

#[test]
fn a_coil_never_surely_picks_and_surely_drops_at_once() {
    for name in EXAMPLES {
        let scheme = example(name);
        let wiring = Wiring::new(&scheme).unwrap();
        for section in wiring.sections() {
            for key in positions(&wiring, section) {
                for drive in wiring.drive(section, &key, Supplies::ALL).iter() {
                    let PartKind::Coil(coil) = &scheme.parts[drive.part].kind else { continue };
                    let both = (reaches_pickup(drive, coil), falls_below_dropout(drive, coil));
                    assert_ne!(both, (Certainty::Surely, Certainty::Surely), "{name} {drive:?}");
                }
            }
        }
    }
}

#[test]
fn closing_what_bars_a_coil_joins_it_to_its_supply() {
    for name in EXAMPLES {
        let scheme = example(name);
        let wiring = Wiring::new(&scheme).unwrap();
        for (coil, part, _) in scheme.coils() {
            let Some(section) = wiring.section_of(coil) else { continue };
            for key in positions(&wiring, section).into_iter().take(20) {
                for set in wiring.blockers(section, &key, coil) {
                    let mut closed = key;
                    for barring in &set {
                        let bit = wiring.switches(section).iter().position(|part| part == barring);
                        assert!(!closed.is_closed(bit.unwrap()), "{name}: {} is closed", part.name);
                        closed.set(bit.unwrap(), true);
                    }
                    let drives = wiring.drive(section, &closed, Supplies::ALL);
                    let drive = drives.iter().find(|drive| drive.part == coil).unwrap();
                    assert!(drive.straight, "{name}: {} stays without drive", part.name);
                }
            }
        }
    }
}

#[test]
fn what_is_remembered_is_what_is_computed() {
    let scheme = example("quillmere");
    let wiring = Wiring::new(&scheme).unwrap();
    for section in wiring.sections() {
        for key in positions(&wiring, section) {
            let first = wiring.drive(section, &key, Supplies::ALL);
            let again = wiring.drive(section, &key, Supplies::ALL);
            assert_eq!(first, again);
            assert_eq!(first[..], wiring.drive_afresh(section, &key, Supplies::ALL)[..]);
        }
    }
}
