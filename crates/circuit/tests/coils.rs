//! What the report on coils says.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::{Bench, coil, quantity};
use fiftytwo_circuit::{CoilReport, Others, Wiring, coil_report};
use fiftytwo_scheme::{Coil, PartKind, Severity, WireSize};

fn report(bench: &Bench) -> Vec<CoilReport> {
    coil_report(&Wiring::new(&bench.scheme).unwrap())
}

fn nameplate(ohm: f64, lo: f64, hi: f64) -> Coil {
    let mut made = coil(Some(ohm));
    made.works = Some(quantity(lo, hi));
    made.max_on = Some(common::for_a_moment());
    made
}

/// A close coil of 41 ohm that works from 90 V behind a cable whose resistance at 75 C is to the
/// coil's as 24 to 90.
fn far_breaker(battery: f64) -> Bench {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, battery, 130.0, 0.0);
    let yard = bench.place("YARD", 20.0, 75.0);
    let metres = 24.0 / 90.0 * 41.0 / 2.0 / (1.24 / 304.8);
    let cable = bench.cable("K1", metres, WireSize::Awg(10), yard);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("close", "P", "1");
    bench.core("K1/1", "1", "2", cable);
    bench.part("52 close", "2", "3", PartKind::Coil(nameplate(41.0, 90.0, 140.0)));
    bench.core("K1/2", "3", "DC1-", cable);
    bench
}

#[test]
fn a_battery_that_is_operable_may_be_too_low_for_the_breaker() {
    // Public regulator notice 89-16: 90 V at the breaker needs 114 V at the battery.
    for (battery, low) in [(106.0, true), (113.9, true), (114.1, false), (116.0, false)] {
        let reports = report(&far_breaker(battery));
        let lowest = reports[0].lowest.as_ref().unwrap();
        assert!((lowest.volts - battery * 90.0 / 114.0).abs() < 1e-9, "{lowest:?}");
        assert_eq!(reports[0].findings.len(), usize::from(low), "{battery} V");
        assert_eq!(reports[0].margin_low.unwrap() < 0.0, low);
    }
}

#[test]
fn the_finding_names_coil_way_corner_and_limit() {
    let reports = report(&far_breaker(106.0));
    let finding = &reports[0].findings[0];
    assert_eq!((finding.id, finding.severity), ("drive-too-low", Severity::Finding));
    assert_eq!(finding.message, "52 close may get only 83.7 V; it surely works from 90 V");
    let why = finding.why.as_ref().unwrap();
    for word in ["DC1 at 106 V", "conductors hot (75 C)", "coil at 20 C", "K1/1", "52 close, K1/2"]
    {
        assert!(why.contains(word), "{word} in {why}");
    }
    assert!(finding.at.is_some());
    assert_eq!(finding.devices, ["52 close"]);
}

#[test]
fn a_coil_above_its_nameplate_is_told() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 145.0, 0.0);
    bench.part("K1", "DC1+", "DC1-", PartKind::Coil(nameplate(1000.0, 70.0, 140.0)));
    let reports = report(&bench);
    assert_eq!(reports[0].findings[0].id, "drive-too-high");
    assert_eq!(reports[0].findings[0].message, "K1 may get 145 V; it may be used up to 140 V");
    assert!((reports[0].margin_high.unwrap() + 5.0).abs() < 1e-9);
}

#[test]
fn a_load_on_the_same_return_pulls_a_coil_down() {
    // Two coils of 41 and 8 ohm share 4 ohm of return.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("a", "DC1+", "1");
    bench.part("K1", "1", "N", PartKind::Coil(nameplate(41.0, 90.0, 140.0)));
    bench.contact("b", "DC1+", "2");
    bench.part("K2", "2", "N", PartKind::Coil(nameplate(8.0, 50.0, 140.0)));
    bench.part("K3", "N", "DC1-", PartKind::Coil(nameplate(4.0, 1.0, 200.0)));
    let scheme = &mut bench.scheme;
    // The shared return as an overload's element: a conductor of 4 ohm.
    let last = scheme.part_named("K3").unwrap();
    scheme.parts[last].kind =
        PartKind::Element { rating: None, resistance: Some(quantity(4.0, 4.0)) };
    let reports = report(&bench);
    let way = &reports[0].ways[0];
    assert!((way.alone.lowest.volts - 105.0 * 41.0 / 45.0).abs() < 1e-9);
    let both = 41.0 * 8.0 / 49.0;
    assert!((way.loaded.lowest.volts - 105.0 * both / (both + 4.0)).abs() < 1e-9);
    assert_eq!(way.parts, ["a", "K1", "K3"]);
    let finding = &reports[0].findings[0];
    assert!(finding.message.contains("while every other load beside it is on"), "{finding:?}");
}

#[test]
fn a_contact_that_would_short_the_supply_stays_open_beside_a_loaded_coil() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.1);
    bench.fuse("F1", "DC1+", "P");
    bench.contact("a", "P", "1");
    bench.part("K1", "1", "DC1-", PartKind::Coil(nameplate(1000.0, 70.0, 140.0)));
    bench.contact("across", "1", "DC1-");
    let way = &report(&bench)[0].ways[0];
    assert!(way.loaded.lowest.volts > 100.0, "{way:?}");
}

#[test]
fn other_sections_are_named_in_the_corner() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.5);
    bench.part("K1", "DC1+", "DC1-", PartKind::Coil(nameplate(1000.0, 70.0, 140.0)));
    bench.fuse("F1", "DC1+", "P");
    bench.part("K2", "P", "DC1-", PartKind::Coil(nameplate(10.0, 70.0, 140.0)));
    let reports = report(&bench);
    let lowest = reports[0].lowest.as_ref().unwrap();
    assert_eq!(lowest.corner.others, Others::On);
    assert!(lowest.words.contains("other circuits of DC1 at their most"), "{}", lowest.words);
    // 140 V into 10 ohm: at most 14 A through 0.5 ohm.
    assert!((lowest.volts - (105.0 - 7.0) / (1.0 + 0.5 / 1000.0)).abs() < 1e-9);
}

#[test]
fn what_is_not_declared_is_noted() {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 125.0, 125.0, 0.0);
    bench.coil("K1", "DC1+", "DC1-", None);
    let reports = report(&bench);
    let notes = reports[0].notes.join("\n");
    for word in ["no resistance", "neither works nor pickup", "no range"] {
        assert!(notes.contains(word), "{word} in {notes}");
    }
    assert_eq!(reports[0].lowest.as_ref().unwrap().amps, None);
}

#[test]
fn the_report_is_plain_data() {
    let json = serde_json::to_value(report(&far_breaker(106.0))).unwrap();
    let coil = &json[0];
    assert_eq!(coil["coil"], "52 close");
    assert_eq!(coil["ways"][0]["parts"][0], "F1");
    assert_eq!(coil["lowest"]["corner"]["battery"], "low");
    assert_eq!(coil["lowest"]["corner"]["conductors"], "hot");
    assert_eq!(coil["lowest"]["method"], "corners");
    assert!(coil.get("findings").is_none());
}

/// A trip coil of 22 ohm that works from 70 V, tripped by `21` and, through what is given, by `87`.
fn two_trips(series: PartKind) -> Bench {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("21", "DC1+", "T");
    bench.contact("87", "DC1+", "X");
    bench.part("RX", "X", "T", series);
    bench.contact("52a", "T", "C");
    let trip = bench.part("52 trip", "C", "DC1-", PartKind::Coil(nameplate(22.0, 70.0, 140.0)));
    // The contacts are not the coil's own.
    bench.scheme.parts[trip].device = None;
    bench
}

fn ohms(ohm: f64) -> PartKind {
    PartKind::Resistor { resistance: quantity(ohm, ohm), power: None }
}

#[test]
fn a_trip_contact_with_a_resistor_in_its_branch_is_asked_as_a_way_of_its_own() {
    // By 21 the coil has the whole 105 V, by 87 only 105 x 22 / (22 + 22) = 52.5 V; 70 V leave it
    // 22 x (105 / 70 - 1) = 11 ohm.
    let reports = report(&two_trips(ohms(22.0)));
    let lowest = reports[0].lowest.as_ref().unwrap();
    assert!((lowest.volts - 52.5).abs() < 1e-9, "{lowest:?}");
    let finding = &reports[0].findings[0];
    assert_eq!(finding.id, "drive-too-low");
    assert_eq!(
        finding.message,
        "52 trip may get only 52.5 V by 87 through RX; it surely works from 70 V"
    );
    assert_eq!(finding.help.as_deref(), Some("at most 11 ohm in place of RX (22 ohm)"));
    assert_eq!(finding.devices, ["52 trip", "87", "RX"]);
    assert_eq!(report(&two_trips(ohms(11.0)))[0].findings, []);
    // However little gets through, nothing on this way watches.
    let far = report(&two_trips(ohms(2200.0)));
    assert!((far[0].lowest.as_ref().unwrap().volts - 105.0 / 101.0).abs() < 1e-9);
}

#[test]
fn a_heater_or_a_varistor_in_the_branch_of_a_trip_contact_is_asked_too() {
    // 710.2 W at 125 V are 22 ohm.
    let watts = 125.0 * 125.0 / 22.0;
    let heater = report(&two_trips(PartKind::Heater { power: quantity(watts, watts) }));
    assert!((heater[0].lowest.as_ref().unwrap().volts - 52.5).abs() < 1e-9);
    let help = heater[0].findings[0].help.as_ref().unwrap();
    assert!(help.contains("at most 35 V may be lost"), "{help}");
}

#[test]
fn a_resistor_around_the_second_of_two_contacts_is_a_note() {
    // a alone leaves the coil 105 x 22 / 44 = 52.5 V to 140 / 2 = 70 V, a and b together 105 V.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("a", "DC1+", "1");
    bench.contact("b", "1", "2");
    bench.part("R", "1", "2", ohms(22.0));
    let coil = bench.part("52 trip", "2", "DC1-", PartKind::Coil(nameplate(22.0, 80.0, 140.0)));
    bench.scheme.parts[coil].device = None;
    let reports = report(&bench);
    assert_eq!(reports[0].lowest.as_ref().unwrap().volts, 105.0);
    let told = &reports[0].findings;
    assert_eq!((told.len(), told[0].id), (1, "drive-past-a-contact"));
    assert_eq!(told[0].severity, Severity::Note);
    assert!(told[0].message.contains("52.5 to 70 V through R while a is closed"), "{told:?}");
}

#[test]
fn a_resistor_around_a_contact_orders_nothing() {
    // Bleeders around two contacts in a row: on neither is the coil ordered, so 105 V is the least of
    // its one way; past the second 140 x 2 / 22 = 12.7 V are less than a fifth of 70 V.
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
    bench.contact("21", "DC1+", "T");
    bench.part("R1", "DC1+", "T", ohms(30_000.0));
    bench.contact("94b", "T", "E");
    bench.part("R2", "T", "E", ohms(20_000.0));
    let coil = bench.part("94", "E", "DC1-", PartKind::Coil(nameplate(2000.0, 70.0, 140.0)));
    bench.scheme.parts[coil].device = None;
    let reports = report(&bench);
    assert_eq!(reports[0].ways.len(), 1);
    assert_eq!(reports[0].lowest.as_ref().unwrap().volts, 105.0);
    assert_eq!(reports[0].findings, []);
}

#[test]
fn a_coil_rated_for_another_battery_is_found() {
    // 140 V are 2.9 times 48 V and 0.56 times 250 V; 1.12 times 125 V and 1.27 times 110 V are not amiss.
    for (rated, amiss) in [(48.0, true), (110.0, false), (125.0, false), (250.0, true)] {
        let mut made = coil(Some(2000.0));
        made.rated = Some(quantity(rated, rated));
        let mut bench = Bench::new();
        bench.supply("DC1", 125.0, 105.0, 140.0, 0.0);
        bench.part("K", "DC1+", "DC1-", PartKind::Coil(made));
        let reports = report(&bench);
        let ids: Vec<_> = reports[0].findings.iter().map(|it| it.id).collect();
        let expected: &[&str] = if amiss { &["coil-rated-for-another-supply"] } else { &[] };
        assert_eq!(ids, expected, "{rated} V");
    }
}
