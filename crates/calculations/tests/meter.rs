//! What a meter shows, and what its readings mean.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its scheme has failed")]
#![allow(clippy::print_stdout, reason = "the figures of an ignored test are for a person")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::meter::{
    Diagnosis, Expected, FaultKind, MeterFault, MeterTable, OtherProbe, ReadingFault, ReadingTaken,
    explain, table,
};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Scheme, read_text};

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    read_text("scheme.kdl", &text).scheme.unwrap()
}

fn table_of(scheme: &Scheme) -> MeterTable {
    table(&Study::new(&Machine::new(scheme).unwrap()))
}

fn diagnose(scheme: &Scheme, readings: &[&str], position: Option<&str>) -> Diagnosis {
    let machine = Machine::new(scheme).unwrap();
    let taken: Vec<ReadingTaken> =
        readings.iter().map(|text| ReadingTaken::parse(text).unwrap()).collect();
    explain(&Study::new(&machine), &taken, position).unwrap()
}

fn cell<'t>(
    table: &'t MeterTable,
    wire: &str,
    position: &str,
) -> &'t fiftytwo_calculations::meter::Cell {
    let column = table.positions.iter().position(|name| name == position).unwrap();
    let row = table.rows.iter().find(|row| row.wire == wire).unwrap();
    &row.cells[column]
}

fn nominal(expected: &Expected) -> f64 {
    match expected {
        Expected::Volts { nominal, .. } => *nominal,
        Expected::Floats => panic!("floats"),
    }
}

#[test]
fn the_poles_show_the_supply_and_half_of_it_to_ground() {
    let table = table_of(&example("quillmere"));
    let plus = cell(&table, "TP", "52 open");
    assert!((nominal(&plus.to_minus) - 125.0).abs() < 0.1);
    assert!(nominal(&plus.to_plus).abs() < 0.1);
    assert!((nominal(&plus.to_ground) - 62.5).abs() < 0.1);
    let minus = cell(&table, "TN", "52 open");
    assert!((nominal(&minus.to_ground) + 62.5).abs() < 0.1);
    let Expected::Volts { least, most, .. } = plus.to_minus else { panic!("floats") };
    assert!((least - 105.0).abs() < 0.1 && (most - 140.0).abs() < 0.1, "{least} {most}");
    // No detector is declared: the volts to ground rest on a typical one, and that is said.
    assert_eq!(table.typical.len(), 2);
}

/// The trip wire stands near minus through the coil while the breaker is closed, and near plus
/// through the lamp and the monitor while its own contact has opened the coil.
#[test]
fn the_trip_wire_tells_where_the_breaker_stands() {
    let table = table_of(&example("quillmere"));
    assert!(nominal(&cell(&table, "T1", "52 closed").to_minus) < 1.0);
    assert!(nominal(&cell(&table, "T1", "52 open").to_minus) > 120.0);
}

#[test]
fn a_wire_that_nothing_holds_floats_and_a_lost_supply_is_dead() {
    let table = table_of(&example("quillmere"));
    let between_contacts = cell(&table, "between 43LR local and 52CS close", "52 open");
    assert_eq!(between_contacts.to_minus, Expected::Floats);
    assert_eq!(between_contacts.words, "floats: nothing holds it");
    let row = table.rows.iter().find(|row| row.wire == "UP").unwrap();
    let lost = table.positions.iter().position(|name| name == "52 closed, DC2 lost").unwrap();
    let volts = &row.cells[lost].to_minus;
    assert!(matches!(volts, Expected::Floats) || nominal(volts).abs() < 1e-6, "{volts:?}");
}

#[test]
fn every_screw_stands_in_the_table() {
    let scheme = example("quillmere");
    let table = table_of(&scheme);
    let screws: Vec<&String> = table.rows.iter().flat_map(|row| &row.screws).collect();
    for screw in ["52:1", "52:2", "52:13", "52:35"] {
        assert!(screws.iter().any(|known| *known == screw), "{screw} in {screws:?}");
    }
}

/// Breaker closed, the trip wire at plus instead of minus: the way through coil and contact is
/// broken. A blown F4 would lift minus of the whole circuit instead.
#[test]
fn a_trip_wire_at_plus_means_a_broken_coil_path() {
    let scheme = example("quillmere");
    let found = diagnose(&scheme, &["T1=124", "TN=0.2"], Some("52 closed"));
    assert!(!found.healthy);
    let parts: Vec<&str> =
        found.explanations.iter().filter_map(|told| told.part.as_deref()).collect();
    for part in ["52 a2", "52 trip 1", "C4-1/5", "C4-1/7", "TS1/1"] {
        assert!(parts.contains(&part), "{part} in {parts:?}");
    }
    assert!(!parts.contains(&"F4") && !parts.contains(&"52 a3"), "{parts:?}");
    // The next point lies inside that path and splits it.
    let next = found.next.unwrap();
    assert!(next.groups.len() >= 2, "{next:?}");
    let all: usize = next.groups.iter().map(|group| group.faults.len()).sum();
    assert!(next.groups.iter().all(|group| group.faults.len() < all));
}

/// What the table says is explained by nothing being broken.
#[test]
fn right_readings_need_no_fault() {
    let scheme = example("quillmere");
    let found = diagnose(&scheme, &["T1=0.4", "TP=127", "TP=63 V to ground"], Some("52 closed"));
    assert!(found.healthy);
    assert_eq!(found.explanations[0].kind, FaultKind::None);
}

/// A solid ground on plus.
#[test]
fn plus_at_ground_is_a_ground_on_plus() {
    let scheme = example("quillmere");
    let found =
        diagnose(&scheme, &["TP=0 V to ground", "TN=-125 V to ground", "TP=125"], Some("52 open"));
    let kinds: Vec<FaultKind> = found.explanations.iter().map(|told| told.kind).collect();
    assert!(kinds.iter().all(|kind| *kind == FaultKind::Ground), "{kinds:?}");
    assert!(found.explanations.iter().any(|told| told.fault == "TP is solidly grounded"));
}

/// One battery has one voltage: readings of it that do not fit each other fit nothing.
#[test]
fn readings_that_contradict_each_other_are_not_explained_by_the_battery() {
    let scheme = example("quillmere");
    let found = diagnose(&scheme, &["TP=106", "CP=139"], Some("52 open"));
    assert!(!found.healthy);
}

/// Each break of the first trip circuit, the readings it makes at every wire of its supply: it is
/// among the explanations, or the readings are within the tolerance of what nothing broken shows,
/// and then it is counted. Lamp and input stand beside the coil: most breaks show.
#[test]
fn every_break_explains_its_own_readings() {
    let scheme = example("quillmere");
    let machine = Machine::new(&scheme).unwrap();
    let study = Study::new(&machine);
    let rest = study.rest.iter().find(|rest| rest.name == "52 closed").unwrap();
    let minus = scheme.node_named("DC1-").unwrap();
    let supply = study.bench.supply_of(minus).unwrap();
    let (mut tried, mut listed) = (0, Vec::new());
    for (id, part) in scheme.placed() {
        let circuit = part.at.map(|at| scheme.circuits[at.circuit].name.as_str());
        let is_open =
            matches!(part.kind, fiftytwo_scheme::PartKind::Contact(_)) && !rest.is_closed(id);
        if circuit != Some("Trip 1") || is_open {
            continue;
        }
        let fault = fiftytwo_circuit::bench::Fault::Open(id);
        let mut setup = rest.setup(&study.bench).with_fault(fault);
        for pole in [scheme.node_named("DC1+").unwrap(), minus] {
            let ground = fiftytwo_circuit::bench::Fault::Ground { at: pole, ohm: 25e3 };
            setup = setup.with_fault(ground);
        }
        let solved = study.bench.solve(&setup).unwrap();
        let readings: Vec<ReadingTaken> = scheme
            .nodes
            .iter()
            .filter(|(node, _)| study.bench.supply_of(*node) == Some(supply))
            .filter_map(|(node, it)| Some((node, it.wire.as_deref()?)))
            .map(|(node, wire)| {
                let volts = solved.between(node, minus).unwrap_or(0.0);
                ReadingTaken { point: wire.to_owned(), volts, to: OtherProbe::OwnMinus }
            })
            .collect();
        let found = explain(&study, &readings, Some("52 closed")).unwrap();
        let named =
            found.explanations.iter().any(|told| told.part.as_deref() == Some(part.name.as_str()));
        let counted = found.healthy && found.unmoved > 0;
        assert!(named || counted, "{} in {:#?}", part.name, found.explanations);
        assert!(!(named && found.healthy), "{} is listed beside nothing broken", part.name);
        tried += 1;
        if named {
            listed.push(part.name.as_str());
        }
    }
    assert!(tried >= 10 && listed.len() >= 6, "{tried} {listed:?}");
    for part in ["52 a2", "52 trip 1", "C4-1/5", "C4-1/7"] {
        assert!(listed.contains(&part), "{part} in {listed:?}");
    }
}

#[test]
fn an_unknown_point_or_position_is_told_with_what_is_known() {
    let scheme = example("quillmere");
    let machine = Machine::new(&scheme).unwrap();
    let study = Study::new(&machine);
    let taken = [ReadingTaken::parse("T11=5").unwrap()];
    let faults = explain(&study, &taken, None).unwrap_err();
    let MeterFault::PointUnknown { like, .. } = &faults[0] else { panic!("{faults:?}") };
    assert_eq!(like.as_deref(), Some("T1"));
    let taken = [ReadingTaken::parse("T1=5").unwrap()];
    let faults = explain(&study, &taken, Some("52 asleep")).unwrap_err();
    assert!(faults[0].to_string().contains("52 closed"), "{}", faults[0]);
    assert_eq!(explain(&study, &[], None).unwrap_err(), [MeterFault::NoReading]);
}

#[test]
fn readings_are_read_as_they_are_written() {
    let parse = |text| ReadingTaken::parse(text).unwrap();
    let reading = |point: &str, volts, to| ReadingTaken { point: point.to_owned(), volts, to };
    assert_eq!(parse("TB3-7=62"), reading("TB3-7", 62.0, OtherProbe::OwnMinus));
    assert_eq!(parse("TB3-7 = -62.5 V to ground"), reading("TB3-7", -62.5, OtherProbe::Ground));
    assert_eq!(parse("52:13=62 V to CN"), reading("52:13", 62.0, OtherProbe::Point("CN".into())));
    assert_eq!(parse("T1=800 mV"), reading("T1", 0.8, OtherProbe::OwnMinus));
    assert_eq!(parse("T1=0.125kV to plus"), reading("T1", 125.0, OtherProbe::OwnPlus));
    assert_eq!(parse("T1=5 V to minus").to, OtherProbe::OwnMinus);
}

#[test]
fn a_reading_that_cannot_be_read_says_why() {
    let fault = |text| ReadingTaken::parse(text).unwrap_err();
    assert_eq!(fault("TB3-7 62"), ReadingFault::NoEquals("TB3-7 62".into()));
    assert_eq!(fault("=62"), ReadingFault::NoPoint("=62".into()));
    assert!(matches!(fault("T1="), ReadingFault::NoVolts { found, .. } if found.is_empty()));
    assert!(matches!(fault("T1=low"), ReadingFault::NoVolts { .. }));
    assert!(matches!(fault("T1=2,5"), ReadingFault::Unit { .. } | ReadingFault::NoVolts { .. }));
    assert!(matches!(fault("T1=62 A"), ReadingFault::Unit { found, .. } if found == "A"));
    assert_eq!(fault("T1=62 V to"), ReadingFault::NoOther("T1=62 V to".into()));
    assert!(fault("T1=62 A").to_string().contains("only V, mV and kV"));
}

/// Prints figures: `cargo test … -- --ignored --nocapture`.
#[test]
#[ignore = "prints figures for a person"]
fn how_long_it_takes() {
    let scheme = example("quillmere");
    let machine = Machine::new(&scheme).unwrap();
    let study = Study::new(&machine);
    let begun = std::time::Instant::now();
    let result = table(&study);
    println!(
        "table of {} rows, {} positions: {:?}",
        result.rows.len(),
        result.positions.len(),
        begun.elapsed()
    );
    for position in [Some("52 closed"), None] {
        let begun = std::time::Instant::now();
        let taken =
            [ReadingTaken::parse("T1=124").unwrap(), ReadingTaken::parse("TN=0.2").unwrap()];
        let found = explain(&study, &taken, position).unwrap();
        println!(
            "{position:?}: {} tried, {} explain, {:?}",
            found.tried,
            found.explanations.len(),
            begun.elapsed()
        );
        println!("{:#?}", found.next);
        for told in found.explanations.iter().take(12) {
            println!("{told:?}");
        }
    }
}

/// What lies within the tolerance of what should be there says nothing: it is counted, not listed.
#[test]
fn a_healthy_reading_lists_no_fault() {
    let scheme = example("quillmere");
    let found = diagnose(&scheme, &["T1=0.4"], Some("52 closed"));
    assert_eq!(found.healthy_in, ["52 closed"]);
    assert!(found.explanations.iter().all(|told| told.kind == FaultKind::None), "{found:#?}");
    assert!(found.unmoved > 10 && found.more == 0, "{} {}", found.unmoved, found.more);
    // 52 open T1 stands near plus: there a fault is needed, and only there one is told.
    let found = diagnose(&scheme, &["T1=0.4"], None);
    let told: Vec<_> =
        found.explanations.iter().filter(|told| told.kind != FaultKind::None).collect();
    assert!(!told.is_empty());
    for it in told {
        assert!(!it.positions.iter().any(|position| found.healthy_in.contains(position)), "{it:?}");
    }
}

#[test]
fn an_unexplained_reading_tells_what_is_nearest_and_what_no_battery_gives() {
    let scheme = mends();
    // Through 10 ohm, TB3/7 stands at plus or at minus: never between.
    let found = diagnose(&scheme, &["TB3/7=80 V"], None);
    assert!(found.explanations.is_empty() && found.beyond.is_empty(), "{found:#?}");
    assert_eq!(found.nearest.len(), 3);
    let off = |volts: &[f64]| (volts[0] - 80.0).abs();
    assert!(found.nearest.windows(2).all(|two| off(&two[0].expected) <= off(&two[1].expected)));
    let found = diagnose(&scheme, &["P=200 V"], None);
    assert!(found.beyond[0].starts_with("P=200 V is more than DC1 can give, 140 V"), "{found:#?}");
}

/// 25 kohm legs: solid on minus, plus stands at the whole battery; through 5 kohm at 25 over 25 + 4.17
/// of it (25 kohm beside 5 kohm on the minus side).
#[test]
fn a_ground_tells_the_battery_that_it_needs() {
    let scheme = mends();
    let found = diagnose(&scheme, &["P=110 V to ground"], Some("at rest"));
    let volts = |ohm: f64| {
        let told = found
            .explanations
            .iter()
            .find(|told| told.ground.as_ref().is_some_and(|at| at.wire == "N" && at.ohm == ohm));
        told.unwrap().supplies[0].volts
    };
    assert!((volts(0.0) - 110.0).abs() < 0.1, "{}", volts(0.0));
    assert!((volts(5e3) - 110.0 * (25.0 + 25.0 / 6.0) / 25.0).abs() < 0.1, "{}", volts(5e3));
}

#[test]
fn the_terminals_of_a_core_are_points_and_a_core_is_none() {
    let text = r#"
scheme "Landed"
place "HOUSE" "House"
place "YARD" "Yard"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
cable "K1" from="HOUSE" to="YARD" length="100 m" size="10 AWG" cores=4 {
    core 1 "TB1-1" "TB11-1"
    core 2 "TB1-2" "TB11-2"
}
condition "c"
sensor "S" place="HOUSE" { contact "x" closed-when="c" }
relay "K" place="YARD" {
    coil resistance="2000 ohm" pickup="45 to 80 V" dropout="15 to 40 V"
    contact "a1" closed-when="picked up"
}
circuit "A" supply="DC1" {
    feed { fuse "F1" "10 A"; wire "P" }
    return { wire "N"; fuse "F2" "10 A" }
    leg "Relay" { contact "S" "x"; wire "T1"; core "K1" 1 into="YARD"; wire "U1"; coil "K"; wire "U2"; core "K1" 2 into="HOUSE" }
}
"#;
    let scheme = read_text("scheme.kdl", text).scheme.unwrap();
    let points = fiftytwo_calculations::meter::Points::new(&scheme);
    for (terminal, wire) in [("TB1-1", "T1"), ("TB11-1", "U1"), ("TB11-2", "U2"), ("TB1-2", "N")] {
        assert_eq!(points.find(terminal), scheme.node_named(wire), "{terminal}");
    }
    let machine = Machine::new(&scheme).unwrap();
    let taken = [ReadingTaken::parse("K1/1=5 V to gnd").unwrap()];
    let faults = explain(&Study::new(&machine), &taken, None).unwrap_err();
    let said = faults[0].to_string();
    assert!(said.contains("it is a core from \"T1\" to \"U1\"; write one of these two"), "{said}");
}

fn mends() -> Scheme {
    let text = r#"
scheme "Terminals"
place "HOUSE" "House"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
ground "DC1" plus="25 kohm" minus="25 kohm"
condition "c"
sensor "S" place="HOUSE" { contact "x" closed-when="c" }
relay "K" place="HOUSE" {
    coil resistance="2000 ohm" pickup="45 to 80 V" dropout="15 to 40 V"
    contact "a1" closed-when="picked up"
}
circuit "A" supply="DC1" {
    feed { fuse "F1" "10 A"; wire "P" }
    return { wire "N"; fuse "F2" "10 A" }
    leg "Relay" { resistor "R1" "10 ohm"; contact "S" "x"; terminal "TB3" 7; coil "K" }
}
"#;
    read_text("scheme.kdl", text).scheme.unwrap()
}

#[test]
fn a_terminal_is_found_however_its_dash_is_written() {
    let scheme = mends();
    for name in ["TB3/7", "TB3-7", "TB3:7", "TB3 7", "tb3-7"] {
        let found = diagnose(&scheme, &[&format!("{name}=0 V")], None);
        assert!(found.healthy, "{name}");
    }
}

#[test]
fn every_point_of_the_table_can_be_read_back() {
    for scheme in [mends(), example("quillmere")] {
        let points = fiftytwo_calculations::meter::Points::new(&scheme);
        let rows = table_of(&scheme).rows;
        let mut names: Vec<&str> = rows.iter().map(|row| row.wire.as_str()).collect();
        names.sort_unstable();
        let once: Vec<&&str> =
            names.iter().filter(|name| names.iter().filter(|it| it == name).count() == 1).collect();
        assert!(once.iter().any(|name| name.starts_with("between ")));
        for name in once {
            assert!(points.find(name).is_some(), "{name}");
        }
    }
}

#[test]
fn a_comma_is_refused_and_told_as_one() {
    let fault = ReadingTaken::parse("T1=62,5 V to ground").unwrap_err();
    assert!(fault.to_string().contains("write a point before tenths"), "{fault}");
}

/// Battery measured at 125 V; an input of 25 to 60 kohm behind 18 kohm then shows 125 x 25/43 = 72.7 to
/// 125 x 60/78 = 96.2 V, 87.8 V at its middle: 72 V and 96 V are sound, 60 V (3.3 V within the tolerance
/// of a meter would be 63.3) and 107 V are not.
#[test]
fn a_sound_input_at_the_end_of_its_tolerance_needs_no_fault() {
    let text = r#"
scheme "Wide"
place "HOUSE" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
condition "c"
sensor "S" place="HOUSE" { contact "x" closed-when="not c" }
ied "RTU" place="HOUSE" { input "in" resistance="25 to 60 kohm" on-above="60 V" off-below="45 V" }
circuit "A" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Input" { contact "S" "x"; wire "X"; resistor "R2" "18 kohm" power="5 W"; wire "Y"; input "RTU" "in" }
}
"#;
    let read = read_text("scheme.kdl", text);
    let scheme = read.scheme.unwrap_or_else(|| panic!("{:#?}", read.findings));
    for (reading, healthy) in [("Y=72", true), ("Y=96", true), ("Y=60", false), ("Y=107", false)] {
        let found = diagnose(&scheme, &["P=125", reading], None);
        assert_eq!(found.healthy, healthy, "{reading}: {:#?}", found.explanations);
    }
}

/// 107 V at the trip wire of a broken coil path: the battery stands at 107 V or a little more, not in the
/// middle of the voltages that would do within the tolerance.
#[test]
fn the_battery_stands_where_the_reading_fits_best() {
    let found = diagnose(&example("quillmere"), &["T1=107 V"], Some("52 closed"));
    let first = found.explanations.first().unwrap();
    assert!(first.off < 1e-3, "{first:#?}");
    assert!((first.supplies[0].volts - 107.0).abs() < 3.0, "{first:#?}");
}
