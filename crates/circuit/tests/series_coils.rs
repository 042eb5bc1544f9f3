//! Coils in series with a coil, diodes against it, supplies of much resistance: what the report on
//! coils says. All values by Ohm's law on one loop.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::{Bench, coil, quantity};
use fiftytwo_circuit::{CoilReport, Wiring, coil_report};
use fiftytwo_scheme::{Coil, PartKind};

fn report_of(bench: &Bench, coil: &str) -> CoilReport {
    let reports = coil_report(&Wiring::new(&bench.scheme).unwrap());
    reports.into_iter().find(|report| report.coil == coil).unwrap()
}

fn picks_up(ohm: f64, lo: f64, hi: f64) -> PartKind {
    let mut made: Coil = coil(Some(ohm));
    made.pickup = Some(quantity(lo, hi));
    PartKind::Coil(made)
}

fn works(ohm: f64, lo: f64, hi: f64) -> PartKind {
    let mut made: Coil = coil(Some(ohm));
    made.works = Some(quantity(lo, hi));
    made.pickup = Some(quantity(lo / 2.0, lo));
    made.max_on = Some(common::for_a_moment());
    PartKind::Coil(made)
}

/// A target of so many ohm in series with a trip coil of 20 ohm that works from 70 V, at 105 V.
fn target(ohm: f64) -> Bench {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("order", "P", "1");
    bench.part("TGT", "1", "2", picks_up(ohm, 0.1, 0.2));
    bench.part("52 trip", "2", "DC1-", works(20.0, 70.0, 140.0));
    bench
}

#[test]
fn a_target_of_many_ohms_starves_the_trip_coil() {
    let report = report_of(&target(20.0), "52 trip");
    assert!((report.lowest.unwrap().volts - 52.5).abs() < 1e-9);
    let finding = &report.findings[0];
    assert_eq!(finding.id, "drive-too-low");
    assert_eq!(finding.message, "52 trip may get only 52.5 V; it surely works from 70 V");
    // 105 V, 70 V across 20 ohm: 10 ohm may stand in series.
    let help = finding.help.as_ref().unwrap();
    assert!(
        help.starts_with("a coil in series of at most 10 ohm in place of TGT (20 ohm)"),
        "{help}"
    );
}

#[test]
fn a_target_of_little_resistance_is_no_finding_and_is_judged_itself() {
    let bench = target(0.1);
    assert!(report_of(&bench, "52 trip").findings.is_empty());
    let itself = report_of(&bench, "TGT");
    assert!((itself.lowest.unwrap().volts - 105.0 * 0.1 / 20.1).abs() < 1e-9);
    assert!(itself.findings.is_empty());
}

#[test]
fn a_target_that_gets_less_than_its_pickup_is_found() {
    let report = report_of(&target(0.02), "TGT");
    let finding = &report.findings[0];
    assert_eq!(finding.id, "drive-too-low");
    let help = finding.help.as_ref().unwrap();
    assert!(
        help.starts_with("in series with 52 trip: a coil that surely picks up from 0.1 V"),
        "{help}"
    );
}

#[test]
fn a_free_way_does_not_hide_the_way_through_a_target() {
    let mut bench = target(20.0);
    bench.contact("local order", "P", "2");
    let report = report_of(&bench, "52 trip");
    assert_eq!(report.ways.len(), 2);
    assert!((report.lowest.unwrap().volts - 52.5).abs() < 1e-9);
    assert_eq!(report.findings[0].id, "drive-too-low");
}

#[test]
fn a_relay_that_watches_the_trip_coil_orders_nothing() {
    let mut bench = target(0.1);
    // 52 trip gets 105 V x 20 / 20020: no order, and no finding.
    bench.part("WATCH", "P", "2", works(20_000.0, 70.0, 140.0));
    let report = report_of(&bench, "52 trip");
    assert_eq!(report.ways.len(), 1);
    assert!(report.findings.is_empty(), "{:?}", report.findings);
    assert!(report_of(&bench, "WATCH").findings.is_empty());
}

#[test]
fn a_diode_against_the_only_way_is_named() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("order", "DC1+", "1");
    bench.part("94", "1", "2", works(200.0, 70.0, 140.0));
    // From the minus side to the coil: its anode is at minus.
    bench.diode("V1", "DC1-", "2");
    let finding = &report_of(&bench, "94").findings[0];
    assert_eq!(finding.id, "drive-too-low");
    assert!(finding.message.starts_with("94 gets no current: V1 on its way blocks it"));
    assert!(finding.help.as_ref().unwrap().starts_with("turn V1 round"));
}

#[test]
fn a_diode_that_conducts_beside_the_coil_is_named_not_the_cores() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.5);
    let yard = bench.place("YARD", 20.0, 20.0);
    let cable = bench.cable("K", 100.0, fiftytwo_scheme::WireSize::Awg(10), yard);
    bench.contact("order", "DC1+", "1");
    bench.core("K/1", "1", "2", cable);
    bench.part("94", "2", "DC1-", works(200.0, 70.0, 140.0));
    bench.diode("V1", "2", "DC1-");
    let finding = &report_of(&bench, "94").findings[0];
    assert_eq!(finding.id, "drive-too-low");
    let help = finding.help.as_ref().unwrap();
    assert!(
        help.starts_with("turn V1 round") && help.contains("no core is thick enough"),
        "{help}"
    );
}

#[test]
fn a_coil_that_nothing_drives_is_not_passed_over() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("order", "DC1+", "1");
    bench.lamp("L", "1", "2", 0.008);
    bench.part("94", "2", "DC1-", works(200.0, 70.0, 140.0));
    assert_eq!(report_of(&bench, "94").findings[0].id, "drive-not-judged");
}

#[test]
fn a_supply_of_much_resistance_makes_the_bound_useless_and_that_is_said() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 14.0);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("order", "P", "1");
    bench.part("52 close", "1", "DC1-", works(1000.0, 90.0, 140.0));
    // Another circuit that may draw 14 A: 196 V in the supply.
    bench.fuse("F3", "DC1+", "TP");
    bench.resistor("R1", "TP", "DC1-", 10.0);
    let finding = &report_of(&bench, "52 close").findings[0];
    let told = &finding.message;
    assert!(!told.contains(" 0 V"), "{told}");
    for word in ["14 ohm, makes the bound useless", "would draw 14 A", "it gets 103.6 V"] {
        assert!(told.contains(word), "{word} in {told}");
    }
}
