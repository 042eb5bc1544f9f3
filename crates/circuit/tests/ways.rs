//! Why a coil is driven and what bars it.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::Bench;
use fiftytwo_circuit::{Supplies, Wiring, coil_report};
use fiftytwo_scheme::{PartId, PartKind};

fn names(bench: &Bench, parts: &[PartId]) -> Vec<String> {
    parts.iter().map(|part| bench.scheme.parts[*part].name.clone()).collect()
}

fn path(bench: &Bench, part: PartId, closed: &[&str]) -> Vec<String> {
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let section = wiring.section_of(part).unwrap();
    let key =
        wiring.positions(section, |part| closed.contains(&bench.scheme.parts[part].name.as_str()));
    names(bench, &wiring.path(section, &key, Supplies::ALL, part))
}

fn blockers(bench: &Bench, part: PartId, closed: &[&str]) -> Vec<Vec<String>> {
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let section = wiring.section_of(part).unwrap();
    let key =
        wiring.positions(section, |part| closed.contains(&bench.scheme.parts[part].name.as_str()));
    wiring.blockers(section, &key, part).iter().map(|set| names(bench, set)).collect()
}

/// A close circuit: two orders side by side, a permission, a coil; an anti-pump relay fed from
/// ahead of the permission; a lamp through the coil.
fn close_circuit() -> (Bench, PartId, PartId, PartId) {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("hand", "P", "C1");
    bench.contact("remote", "P", "C1");
    bench.contact("permit", "C1", "2");
    bench.part("TB/1", "2", "3", PartKind::Terminal);
    let coil = bench.coil("52 close", "3", "N", Some(41.0));
    bench.contact("a1", "C1", "4");
    bench.contact("seal", "C1", "4");
    let pump = bench.coil("52Y", "4", "N", Some(1800.0));
    let lamp = bench.lamp("GREEN", "P", "2", 0.008);
    bench.fuse("F2", "N", "DC1-");
    (bench, coil, pump, lamp)
}

#[test]
fn the_path_runs_from_plus_to_minus_through_the_terminal() {
    let (bench, coil, ..) = close_circuit();
    assert_eq!(
        path(&bench, coil, &["F1", "hand", "permit", "F2"]),
        ["F1", "hand", "permit", "TB/1", "52 close", "F2"]
    );
    assert_eq!(
        path(&bench, coil, &["F1", "remote", "permit", "F2"]),
        ["F1", "remote", "permit", "TB/1", "52 close", "F2"]
    );
}

#[test]
fn a_lamp_in_the_path_is_told() {
    let (bench, coil, _, lamp) = close_circuit();
    let through = ["F1", "GREEN", "TB/1", "52 close", "F2"];
    assert_eq!(path(&bench, coil, &["F1", "F2"]), through);
    assert_eq!(path(&bench, lamp, &["F1", "F2"]), through);
}

#[test]
fn a_coil_without_current_has_no_path() {
    let (bench, coil, pump, _) = close_circuit();
    assert!(path(&bench, coil, &["F1", "hand", "permit"]).is_empty());
    assert!(path(&bench, pump, &["F1", "hand", "F2"]).is_empty());
}

#[test]
fn current_backwards_through_a_contact_is_followed() {
    // The classical sneak: the relay's own feed is open, another leg feeds it through a bridge.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.contact("left", "DC1+", "1");
    bench.contact("right", "DC1+", "2");
    bench.contact("across", "1", "2");
    bench.coil("K1", "1", "DC1-", Some(1000.0));
    let two = bench.coil("K2", "2", "DC1-", Some(1000.0));
    assert_eq!(path(&bench, two, &["left", "across"]), ["left", "across", "K2"]);
}

#[test]
fn the_nearest_open_contact_bars_the_coil() {
    let (bench, coil, pump, _) = close_circuit();
    let all = ["F1", "F2", "hand", "permit"];
    assert!(blockers(&bench, coil, &all).is_empty());
    assert_eq!(blockers(&bench, coil, &["F1", "F2", "hand"]), [["permit"]]);
    assert_eq!(blockers(&bench, coil, &["F1", "F2", "permit"]), [["hand"], ["remote"]]);
    assert_eq!(blockers(&bench, pump, &["F1", "F2", "hand"]), [["a1"], ["seal"]]);
}

#[test]
fn ways_are_whole_and_lead_through_no_other_load() {
    let (bench, coil, pump, _) = close_circuit();
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let ways = wiring.ways(coil);
    assert!(ways.complete && !ways.through_resistors);
    let told: Vec<Vec<String>> = ways.list.iter().map(|way| names(&bench, &way.parts)).collect();
    assert_eq!(
        told,
        [["F1", "hand", "permit", "52 close", "F2"], ["F1", "remote", "permit", "52 close", "F2"]]
    );
    assert_eq!(wiring.ways(pump).list.len(), 4);
    let section = wiring.section_of(coil).unwrap();
    for way in &ways.list {
        let drives = wiring.drive(section, &way.closed, Supplies::ALL);
        let drive = drives.iter().find(|drive| drive.part == coil).unwrap();
        assert!(drive.straight);
    }
}

#[test]
fn a_mesh_of_contacts_is_cut_off_and_says_so() {
    // A ladder of changeovers: 2^12 ways.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    for step in 0..12 {
        let (from, to) = (format!("{step}"), format!("{}", step + 1));
        let from = if step == 0 { "DC1+".to_owned() } else { from };
        bench.contact(&format!("a{step}"), &from, &to);
        bench.contact(&format!("b{step}"), &from, &to);
    }
    let coil = bench.coil("K1", "12", "DC1-", Some(1000.0));
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let ways = wiring.ways(coil);
    assert!(!ways.complete);
    assert_eq!(ways.list.len(), fiftytwo_circuit::MOST_WAYS);
}

#[test]
fn a_coil_behind_an_economy_resistor_has_its_way() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.contact("a", "DC1+", "1");
    bench.resistor("R1", "1", "2", 500.0);
    let coil = bench.coil("K1", "2", "DC1-", Some(500.0));
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let ways = wiring.ways(coil);
    assert!(ways.through_resistors);
    assert_eq!(names(&bench, &ways.list[0].parts), ["a", "R1", "K1"]);
}

#[test]
fn a_leg_of_thousands_of_cores_is_cut_off_and_says_so() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    let yard = bench.place("YARD", 20.0, 20.0);
    let cable = bench.cable("K", 1.0, fiftytwo_scheme::WireSize::Awg(10), yard);
    let coil = bench.coil("K1", "DC1+", "0", Some(1000.0));
    for step in 0..2_500 {
        let to = if step == 2_499 { "DC1-".into() } else { format!("{}", step + 1) };
        bench.core(&format!("K/{step}"), &format!("{step}"), &to, cable);
    }
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let ways = wiring.ways(coil);
    assert!(ways.list.is_empty() && !ways.complete);
}

/// A relay fed from one circuit's rail and returned to another's: its coil joins the plus of the
/// first with the minus of the second, and no way of a trip coil leads back through it.
#[test]
fn a_way_ends_at_the_rails_of_its_supply() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.fuse("F1", "DC1+", "P");
    bench.fuse("F2", "N", "DC1-");
    bench.fuse("F3", "DC1+", "YP");
    bench.fuse("F4", "YN", "DC1-");
    bench.contact("86 a1", "P", "Q");
    let relay = bench.coil("94", "Q", "YN", Some(2000.0));
    bench.contact("94 a1", "YP", "T");
    let trip = bench.coil("trip", "T", "YN", Some(16.0));
    bench.contact("87B", "P", "8");
    let lockout = bench.coil("86", "8", "N", Some(26.0));
    let wiring = Wiring::new(&bench.scheme).unwrap();
    for (coil, way) in [
        (trip, ["F3", "94 a1", "trip", "F4"]),
        (relay, ["F1", "86 a1", "94", "F4"]),
        (lockout, ["F1", "87B", "86", "F2"]),
    ] {
        let ways = wiring.ways(coil);
        let found: Vec<_> = ways.list.iter().map(|way| names(&bench, &way.parts)).collect();
        assert_eq!(found, [way.map(str::to_owned).to_vec()]);
        assert_eq!(wiring.ways_through_coils(coil).list, []);
    }
    // 105 V: nothing is in the way but the coil itself.
    for report in coil_report(&wiring) {
        let lowest = report.lowest.unwrap().volts;
        assert!((lowest - 105.0).abs() < 1e-6, "{}: {lowest}", report.coil);
    }
}
