//! The drive of coils, lamps and inputs, on circuits small enough to work out by hand.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::{Bench, coil, quantity};
use fiftytwo_circuit::{
    Battery, Certainty, Drive, Heat, Method, Others, Supplies, Wiring, falls_below_dropout,
    input_on, lit, reaches_pickup,
};
use fiftytwo_scheme::{Input, Lamp, Light, PartId, PartKind, WireSize};

/// The drive of one part with the named contacts closed (fuses always).
fn drive_of(bench: &Bench, part: PartId, closed: &[&str]) -> Drive {
    drive_with(bench, part, closed, Supplies::ALL)
}

fn drive_with(bench: &Bench, part: PartId, closed: &[&str], live: Supplies) -> Drive {
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let section = wiring.section_of(part).unwrap();
    let key = wiring.positions(section, |switch| {
        let name = bench.scheme.parts[switch].name.as_str();
        name.starts_with('F') || closed.contains(&name)
    });
    let drives = wiring.drive(section, &key, live);
    drives.iter().find(|drive| drive.part == part).unwrap().clone()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1e-3)
}

/// Supply, fuse, contact, coil, fuse.
fn simple(ohm: Option<f64>) -> (Bench, PartId) {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.5);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("a1", "P", "1");
    let part = bench.coil("52X", "1", "N", ohm);
    bench.fuse("F2", "N", "DC1-");
    (bench, part)
}

#[test]
fn an_open_contact_leaves_a_coil_without_drive() {
    let (bench, part) = simple(Some(49.5));
    let drive = drive_of(&bench, part, &[]);
    assert!(!drive.connected && !drive.straight);
    assert_eq!((drive.volts_lo, drive.volts_hi), (0.0, 0.0));
    assert_eq!(falls_below_dropout(&drive, &coil(None)), Certainty::Surely);
    assert_eq!(reaches_pickup(&drive, &coil(None)), Certainty::Not);
}

#[test]
fn the_supply_drops_under_the_coils_own_current() {
    let (bench, part) = simple(Some(49.5));
    let drive = drive_of(&bench, part, &["a1"]);
    // 105 and 140 V behind 0.5 ohm into 49.5 ohm.
    assert!(close(drive.volts_lo, 105.0 * 0.99), "{drive:?}");
    assert!(close(drive.volts_hi, 140.0 * 0.99), "{drive:?}");
    assert!(drive.connected && drive.straight);
    assert_eq!(drive.corner_lo.battery, Battery::Low);
    assert_eq!(drive.corner_hi.battery, Battery::High);
    assert_eq!(drive.method, Method::Corners);
}

#[test]
fn other_sections_pull_the_supply_down_by_what_they_can_draw() {
    let (mut bench, part) = simple(Some(49.5));
    // A second section: 9.5 ohm behind its own fuse and contact; draws at most 140 / 9.5 A.
    bench.fuse("F3", "DC1+", "TP");
    bench.contact("b1", "TP", "T1");
    bench.resistor("R1", "T1", "DC1-", 9.5);
    let drive = drive_of(&bench, part, &["a1"]);
    let pole = (105.0 - 0.5 * 140.0 / 9.5) / (1.0 + 0.5 / 49.5);
    assert!(close(drive.volts_lo, pole), "{drive:?}");
    assert!(close(drive.volts_hi, 140.0 * 0.99), "{drive:?}");
    assert_eq!(drive.corner_lo.others, Others::On);
    assert_eq!(drive.corner_hi.others, Others::Off);
    let wiring = Wiring::new(&bench.scheme).unwrap();
    assert_eq!(wiring.sections().len(), 2);
}

#[test]
fn a_dead_supply_drives_nothing() {
    let (bench, part) = simple(Some(49.5));
    let supply = bench.scheme.supplies.ids().next().unwrap();
    let drive = drive_with(&bench, part, &["a1"], Supplies::ALL.without(supply));
    assert!(!drive.connected);
    assert_eq!(drive.volts_hi, 0.0);
}

#[test]
fn a_coil_without_resistance_sees_the_rail_through_contacts_alone() {
    let (bench, part) = simple(None);
    let drive = drive_of(&bench, part, &["a1"]);
    assert!(drive.straight && drive.connected);
    assert_eq!(drive.method, Method::Undeclared);
    assert!(close(drive.volts_lo, 105.0) && close(drive.volts_hi, 140.0), "{drive:?}");
    assert_eq!(reaches_pickup(&drive, &coil(None)), Certainty::Surely);
}

#[test]
fn a_coil_without_resistance_behind_a_lamp_may_see_anything() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.lamp("RED", "DC1+", "1", 0.008);
    let part = bench.coil("52X", "1", "DC1-", None);
    let drive = drive_of(&bench, part, &[]);
    assert!(drive.connected && !drive.straight);
    assert_eq!(drive.volts_lo, 0.0);
    assert!(close(drive.volts_hi, 140.0), "{drive:?}");
    assert_eq!(reaches_pickup(&drive, &coil(None)), Certainty::Perhaps);
}

#[test]
fn an_input_without_resistance_never_drives_the_coil_it_watches() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    let input = bench.input("watch", "DC1+", "1", None);
    let part = bench.coil("52 trip", "1", "DC1-", Some(22.0));
    let drive = drive_of(&bench, part, &[]);
    // At most 20 mA at 125 V: 6250 ohm.
    assert!(drive.volts_hi < 0.5 && drive.volts_lo == 0.0, "{drive:?}");
    let input = drive_of(&bench, input, &[]);
    assert!(close(input.volts_hi, 140.0), "{input:?}");
}

#[test]
fn a_lamp_through_a_trip_coil_is_lit_and_does_not_trip() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    let lamp = bench.lamp("RED", "DC1+", "1", 0.008);
    let part = bench.coil("52 trip", "1", "DC1-", Some(22.0));
    let drive = drive_of(&bench, part, &[]);
    assert!(close(drive.volts_hi, 140.0 * 22.0 / (22.0 + 125.0 / 0.008)), "{drive:?}");
    let mut trip = coil(Some(22.0));
    trip.works = Some(quantity(70.0, 140.0));
    trip.pickup = Some(quantity(35.0, 60.0));
    assert_eq!(reaches_pickup(&drive, &trip), Certainty::Not);
    assert_eq!(falls_below_dropout(&drive, &trip), Certainty::Surely);
    assert_eq!(lit(&drive_of(&bench, lamp, &[])), Certainty::Surely);
}

#[test]
fn a_cable_drops_more_when_it_is_hot() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    let yard = bench.place("YARD", -30.0, 75.0);
    let cable = bench.cable("K1", 304.8, WireSize::Awg(10), yard);
    bench.core("K1/1", "DC1+", "1", cable);
    bench.core("K1/2", "2", "DC1-", cable);
    let part = bench.coil("52 close", "1", "2", Some(41.0));
    let drive = drive_of(&bench, part, &[]);
    // 1000 ft each way at 1.24 ohm per 1000 ft (75 C).
    assert!(close(drive.volts_lo, 105.0 * 41.0 / (41.0 + 2.48)), "{drive:?}");
    assert_eq!(drive.corner_lo.conductors, Heat::Hot);
    assert_eq!(drive.corner_hi.conductors, Heat::Cold);
}

#[test]
fn a_bridge_of_contacts_conducts_both_ways() {
    // Two legs, each contact over coil; a contact joins their middles.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.contact("left", "DC1+", "1");
    bench.contact("right", "DC1+", "2");
    bench.contact("across", "1", "2");
    let one = bench.coil("K1", "1", "DC1-", Some(1000.0));
    let two = bench.coil("K2", "2", "DC1-", Some(2000.0));
    for (closed, part) in [(["left", "across"], two), (["right", "across"], one)] {
        let drive = drive_of(&bench, part, &closed);
        assert!(close(drive.volts_lo, 125.0), "{drive:?}");
    }
    assert!(!drive_of(&bench, two, &["left"]).connected);
}

#[test]
fn a_diode_lets_current_down_the_leg_only() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.diode("D1", "DC1+", "1");
    let with = bench.coil("K1", "1", "DC1-", Some(1000.0));
    bench.diode("D2", "2", "DC1+");
    let against = bench.coil("K2", "2", "DC1-", Some(1000.0));
    // Nothing is said of its drop: from 0.5 to 1 V is typical.
    let driven = drive_of(&bench, with, &[]);
    assert!((driven.volts_lo - 124.0).abs() < 0.01 && (driven.volts_hi - 124.5).abs() < 0.01);
    assert!(!drive_of(&bench, against, &[]).connected);
}

#[test]
fn a_contact_across_a_coil_takes_its_drive_away() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.resistor("R1", "DC1+", "1", 1000.0);
    let part = bench.coil("K1", "1", "DC1-", Some(1000.0));
    bench.contact("short", "1", "DC1-");
    assert!(close(drive_of(&bench, part, &[]).volts_lo, 62.5));
    assert!(!drive_of(&bench, part, &["short"]).connected);
}

#[test]
fn two_supplies_joined_at_one_pole_stay_independent() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.1);
    bench.supply("DC2", 125.0, 110.0, 130.0, 0.1);
    bench.contact("tie", "DC1+", "DC2+");
    bench.contact("a1", "DC2+", "1");
    let part = bench.coil("K1", "1", "DC2-", Some(99.9));
    let drive = drive_of(&bench, part, &["a1", "tie"]);
    assert!(close(drive.volts_lo, 110.0 * 0.999), "{drive:?}");
    assert!(close(drive.volts_hi, 130.0 * 0.999), "{drive:?}");
}

#[test]
fn a_coil_between_two_tied_supplies_sees_their_difference() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 140.0, 0.0);
    bench.supply("DC2", 48.0, 48.0, 56.0, 0.0);
    bench.contact("tie", "DC1-", "DC2-");
    let part = bench.coil("K1", "DC1+", "DC2+", Some(100.0));
    assert!(!drive_of(&bench, part, &[]).connected);
    let drive = drive_of(&bench, part, &["tie"]);
    assert!(close(drive.volts_lo, 125.0 - 56.0), "{drive:?}");
    assert!(close(drive.volts_hi, 140.0 - 48.0), "{drive:?}");
    assert_eq!(drive.corner_lo.battery, Battery::Mixed);
}

#[test]
fn a_rail_shorted_by_contacts_drives_nothing() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.014);
    bench.fuse("F1", "DC1+", "P");
    let part = bench.coil("K1", "P", "DC1-", Some(100.0));
    bench.contact("short", "P", "DC1-");
    assert!(!drive_of(&bench, part, &["short"]).connected);
    assert!(drive_of(&bench, part, &[]).connected);
}

#[test]
fn between_pickup_and_works_both_are_possible() {
    let (bench, part) = simple(Some(49.5));
    let drive = drive_of(&bench, part, &["a1"]);
    let mut relay = coil(Some(49.5));
    let judged = |lo, hi, relay: &mut fiftytwo_scheme::Coil| {
        relay.pickup = Some(quantity(lo, hi));
        reaches_pickup(&drive, relay)
    };
    assert_eq!(judged(60.0, 100.0, &mut relay), Certainty::Surely);
    assert_eq!(judged(60.0, 120.0, &mut relay), Certainty::Perhaps);
    assert_eq!(judged(139.0, 150.0, &mut relay), Certainty::Not);
    relay.pickup = None;
    relay.dropout = Some(quantity(20.0, 50.0));
    assert_eq!(falls_below_dropout(&drive, &relay), Certainty::Not);
    relay.dropout = Some(quantity(120.0, 150.0));
    assert_eq!(falls_below_dropout(&drive, &relay), Certainty::Perhaps);
}

#[test]
fn an_input_between_its_thresholds_may_be_either() {
    let (bench, part) = simple(Some(49.5));
    let drive = drive_of(&bench, part, &["a1"]);
    let input = |on, off| Input {
        resistance: None,
        on_above: Some(quantity(on, on)),
        off_below: Some(quantity(off, off)),
        least: None,
        curve: None,
    };
    assert_eq!(input_on(&drive, &input(80.0, 60.0)), Certainty::Surely);
    assert_eq!(input_on(&drive, &input(120.0, 60.0)), Certainty::Perhaps);
    assert_eq!(input_on(&drive, &input(160.0, 150.0)), Certainty::Not);
}

#[test]
fn a_jumper_between_the_poles_is_refused_by_name() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.part("J1", "DC1+", "DC1-", PartKind::Jumper);
    let findings = Wiring::new(&bench.scheme).unwrap_err();
    assert_eq!(findings[0].id, "supply-shorted");
    assert!(findings[0].message.contains("DC1"));
}

#[test]
fn a_relay_without_a_dropout_lets_go_below_a_twentieth_of_its_rating() {
    // Release voltage of d.c. relays, from memory of IEC 61810-1.
    let mut relay = coil(Some(22.0));
    relay.works = Some(quantity(70.0, 140.0));
    let leaked = |ohm: f64| {
        let mut bench = Bench::new();
        bench.supply("DC1", 125.0, 100.0, 100.0, 0.0);
        bench.resistor("R1", "DC1+", "1", ohm);
        let part = bench.coil("K1", "1", "DC1-", Some(22.0));
        drive_of(&bench, part, &[])
    };
    // 3.4, 3.6 and 88 V against 3.5 V (5 % of 70 V) and 70 V.
    let drop = |volt: f64| falls_below_dropout(&leaked(22.0 * (100.0 / volt - 1.0)), &relay);
    assert_eq!(drop(3.4), Certainty::Surely);
    assert_eq!(drop(3.6), Certainty::Perhaps);
    assert_eq!(drop(88.0), Certainty::Not);
    relay.rated = Some(quantity(125.0, 125.0));
    let drop = |volt: f64| falls_below_dropout(&leaked(22.0 * (100.0 / volt - 1.0)), &relay);
    assert_eq!(drop(6.2), Certainty::Surely);
    assert_eq!(drop(6.3), Certainty::Perhaps);
}

#[test]
fn an_input_without_thresholds_is_judged_by_its_connections() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("a", "DC1+", "1");
    let input = bench.input("gas low", "1", "DC1-", None);
    bench.lamp("RED", "DC1+", "2", 0.008);
    let behind = bench.input("behind a lamp", "2", "DC1-", None);
    let plain =
        Input { resistance: None, on_above: None, off_below: None, least: None, curve: None };
    assert_eq!(input_on(&drive_of(&bench, input, &["a"]), &plain), Certainty::Surely);
    assert_eq!(input_on(&drive_of(&bench, input, &[]), &plain), Certainty::Not);
    assert_eq!(input_on(&drive_of(&bench, behind, &[]), &plain), Certainty::Perhaps);
}

#[test]
fn a_coil_in_a_bridge_is_not_too_low_for_a_direction_it_never_takes() {
    // A lamp leg beside the coil's own ties its ends to both rails: by the wiring current could run
    // either way, but no resistance within its tolerance ever turns it round.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.02);
    bench.resistor("R1", "DC1+", "1", 4.0);
    bench.resistor("R2", "2", "DC1-", 4.0);
    bench.resistor("R3", "DC1+", "2", 2700.0);
    bench.resistor("R4", "1", "DC1-", 2700.0);
    let part = bench.coil("K1", "1", "2", Some(500.0));
    let drive = drive_of(&bench, part, &[]);
    // Two dividers and the coil between them, worked out by the node method:
    // v1 = (E/4 + v2/500) / (1/4 + 1/2700 + 1/500), v2 = E - v1.
    let sum = 0.25 + 1.0 / 2700.0 + 1.0 / 500.0;
    let v1 = |volt: f64| volt * (0.25 + 1.0 / 500.0) / (sum + 1.0 / 500.0);
    let across = |volt: f64| 2.0 * v1(volt) - volt;
    assert!((drive.volts_lo - across(105.0)).abs() < 0.02, "{drive:?}");
    assert!((drive.volts_hi - across(140.0)).abs() < 0.02, "{drive:?}");
}

#[test]
fn a_coil_in_a_bridge_that_may_turn_round_counts_from_nothing() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.02);
    let wide = |bench: &mut Bench, name: &str, from: &str, to: &str| {
        let mut made = coil(None);
        made.resistance = Some(quantity(90.0, 110.0));
        bench.part(name, from, to, PartKind::Coil(made))
    };
    wide(&mut bench, "K1", "DC1+", "1");
    wide(&mut bench, "K2", "1", "DC1-");
    wide(&mut bench, "K3", "DC1+", "2");
    wide(&mut bench, "K4", "2", "DC1-");
    let part = wide(&mut bench, "K5", "1", "2");
    let drive = drive_of(&bench, part, &[]);
    assert!(drive.volts_lo == 0.0 && drive.volts_hi > 1.0, "{drive:?}");
}

#[test]
fn lights_are_seen_by_their_characteristics() {
    // 2 V and 20 mA at 24 V, behind 2.2 kΩ on 125 V: I = (125 - 2) / (2200 + 1100).
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.resistor("R1", "DC1+", "1", 2200.0);
    let lamp = Lamp {
        current: quantity(0.02, 0.02),
        rated: Some(quantity(24.0, 24.0)),
        light: Light::Led,
        drop: Some(quantity(2.0, 2.0)),
        cold: None,
        curve: None,
    };
    let part = bench.part("H1", "1", "DC1-", PartKind::Lamp(lamp));
    let drive = drive_of(&bench, part, &[]);
    let expected = 2.0 + 1100.0 * (125.0 - 2.0) / 3300.0;
    assert!((drive.volts_lo - expected).abs() < 1e-3, "{drive:?}");
    assert!((drive.volts_hi - expected).abs() < 1e-3, "{drive:?}");
    assert_eq!(drive.method, Method::Corners);
    assert!((drive.nominal - 24.0).abs() < 1e-12, "a lamp is judged by its own rating");
}

#[test]
fn an_input_that_needs_a_least_current_is_off_behind_a_large_resistor() {
    // 1.5 mA through 44 to 46 kΩ takes 66 to 69 V; pick-up of an input: V = R I (its data sheet's law).
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    let input = || Input {
        resistance: Some(quantity(44_000.0, 46_000.0)),
        on_above: Some(quantity(40.0, 40.0)),
        off_below: None,
        least: Some(quantity(1.5e-3, 1.5e-3)),
        curve: None,
    };
    bench.resistor("R1", "DC1+", "1", 60_000.0);
    let behind = bench.part("IN1", "1", "DC1-", PartKind::Input(input()));
    let across = bench.part("IN2", "DC1+", "DC1-", PartKind::Input(input()));
    let drive = drive_of(&bench, behind, &[]);
    assert!(drive.volts_lo > 40.0 && drive.volts_hi < 66.0, "{drive:?}");
    assert_eq!(
        input_on(&drive, &input()),
        Certainty::Not,
        "above its threshold, too little current"
    );
    assert_eq!(input_on(&drive_of(&bench, across, &[]), &input()), Certainty::Surely);
    let (never, surely) = drive.needs.unwrap();
    assert!(close(never, 66.0) && close(surely, 69.0));
}
