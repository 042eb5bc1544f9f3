//! Data that contradict one another are found, and data that do not are left alone.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its scheme has failed")]

use fiftytwo_calculations::contradictions::contradictions;
use fiftytwo_scheme::{read_path, read_text};

fn told(place: &str, supply: &str, coil: &str) -> Vec<(&'static str, String)> {
    let text = format!(
        r#"
scheme "Slips"
place "A" "House" ambient="{place}"
supply "DC1" "125 V DC" {supply} place="A"
breaker "52" "Breaker" place="A" closing-time="60 ms" opening-time="22 to 28 ms" {{
    coil "trip" drives-to="open" {coil}
    contact "a1" closed-when="closed" on-open="4 ms after parting" on-close="5 ms before touch"
}}
button "PB" "Trip" place="A" {{ contact "a1" closed-when="pressed" }}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "Trip" {{ contact "PB" "a1"; contact "52" "a1"; coil "52" "trip" }}
}}
"#
    );
    let reading = read_text("slips.kdl", &text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    contradictions(&scheme).into_iter().map(|it| (it.id, it.message)).collect()
}

const RANGE: &str = r#"range="105 to 140 V""#;
const COIL: &str =
    r#"resistance="22 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms""#;

#[test]
fn good_data_are_left_alone() {
    assert_eq!(told("-30 to 50 C", RANGE, COIL), []);
    for name in ["quillmere", "dunmarrow", "harrowfen", "harrowfen-direct", "latches"] {
        let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
        let scheme = read_path(path.as_ref()).scheme.unwrap();
        assert_eq!(contradictions(&scheme), [], "{name}");
    }
}

#[test]
fn a_slip_of_the_pen_is_named() {
    let cases = [
        (
            "20 C",
            r#"range="200 to 280 V""#,
            COIL.to_owned(),
            "nominal-outside-range",
            "DC1 is called 125 V DC",
        ),
        ("5000 C", RANGE, COIL.to_owned(), "ambient-of-no-plant", "A stands in air of 5000 C"),
        (
            "20 C",
            RANGE,
            COIL.replace("22 ohm", "0 ohm"),
            "coil-without-resistance",
            "52 trip has 0 ohm",
        ),
        (
            "20 C",
            RANGE,
            COIL.replace("35 to 60 V", "110 to 130 V"),
            "coil-data-contradict",
            "52 trip works from 70 V, yet surely does not pick up below 110 V",
        ),
        (
            "20 C",
            RANGE,
            format!(r#"{COIL} dropout="20 to 65 V""#),
            "coil-data-contradict",
            "52 trip may drop out at 65 V, above the 60 V at which it surely picks up",
        ),
        (
            "20 C",
            RANGE,
            COIL.replace("6 to 10 ms", "60 to 100 ms"),
            "coil-data-contradict",
            "52 trip goes after 60 to 100 ms, yet its breaker takes 22 to 28 ms in all",
        ),
    ];
    for (place, supply, coil, id, says) in cases {
        let found = told(place, supply, &coil);
        assert_eq!(found.len(), 1, "{says}: {found:?}");
        assert!(found[0].0 == id && found[0].1.starts_with(says), "{says}: {found:?}");
    }
}

/// What no plant has, typed into a scheme that has nothing else to be told of.
#[test]
fn a_value_that_no_plant_has_is_named() {
    let scheme = |old: &str, new: &str| {
        let text = r#"
scheme "Unlikely"
place "A" "House" ambient="20 C"
place "B" "Yard" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="A"
ground "DC1" plus="25 kohm" minus="25 kohm" capacitance="10 uF" alarms-below="10 kohm"
cable "K1" from="A" to="B" length="200 m" size="10 AWG" cores=7
breaker "52" "Breaker" place="B" closing-time="60 ms" opening-time="22 to 28 ms" {
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" time-constant="20 ms"
    contact "a1" closed-when="closed" { breaks "6 A" volts="125 V" time-constant="40 ms" }
}
relay "94" place="A" {
    coil resistance="2000 ohm" works="70 to 140 V" pickup-time="8 ms" dropout-time="20 ms"
    contact "a1" closed-when="picked up"
}
ied "21" "Relay" place="A" {
    input "in" resistance="40 kohm"
    contact "trip" closed-when="order"
    logic "order" when="in" off-delay="34 ms"
}
circuit "One" supply="DC1" {
    feed { fuse "F1" "30 A"; wire "P" }
    return { wire "N"; fuse "F2" "30 A" }
    leg "Trip" { contact "21" "trip"; core "K1" 1; contact "52" "a1"; coil "52" "trip"; core "K1" 2 }
    leg "Relay" { contact "94" "a1"; resistor "R1" "2 kohm"; coil "94" }
    leg "In" { contact "94" "a1"; input "21" "in" }
}
"#
        .replace(r#"leg "In" { contact "94" "a1"; "#, r#"leg "In" { "#);
        assert!(text.contains(old), "{old}");
        let reading = read_text("unlikely.kdl", &text.replacen(old, new, 1));
        let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        let found = contradictions(&scheme);
        found.into_iter().map(|it| (it.id, it.message)).collect::<Vec<_>>()
    };
    assert_eq!(scheme("22 ohm", "22 ohm"), []);
    // 125 V / 22 kohm = 5.68 mA.
    let cases = [
        ("\"22 ohm\"", "\"22 kohm\"", "52 trip has 22 kohm and draws 5.68 mA at 125 V"),
        ("200 m", "0 m", "K1 is 0 m long"),
        ("volts=\"125 V\" t", "volts=\"125 kV\" t", "52 a1 breaks 6 A at 125 kV"),
        ("constant=\"40 ms\"", "constant=\"50 s\"", "52 a1 breaks 6 A with an L/R of 50 s"),
        ("constant=\"20 ms\"", "constant=\"0 ms\"", "52 trip has an L/R of 0 ms"),
        ("pickup-time=\"8 ms\"", "pickup-time=\"8 min\"", "94 picks up in 8 min"),
        ("34 ms", "200 h", "order stays on for 200 h"),
        ("22 to 28 ms", "0 to 28 ms", "52 takes 0 to 28 ms to open"),
        (
            "below=\"10 kohm\"",
            "below=\"10 Mohm\"",
            "the ground detector of DC1 gives alarm below 10 Mohm",
        ),
        ("\"2 kohm\"", "\"0 ohm\"", "R1 has 0 ohm: it is a wire"),
        ("range=\"105 to 140 V\"", "range=\"10.5 to 140 V\"", "DC1 ranges over 10.5 to 140 V"),
    ];
    for (old, new, says) in cases {
        let found = scheme(old, new);
        assert_eq!(found.len(), 1, "{says}: {found:?}");
        assert!(found[0].0 == "value-unlikely" && found[0].1.starts_with(says), "{found:?}");
    }
}

#[test]
fn a_coil_that_may_drop_out_at_the_volts_it_works_from_is_told() {
    let told = |dropout: &str| {
        told(
            "-30 to 50 C",
            RANGE,
            &format!(r#"resistance="22 ohm" works="80 to 140 V" dropout="{dropout}""#),
        )
    };
    assert_eq!(told("15 to 40 V"), []);
    let amiss = told("90 to 120 V");
    assert_eq!(amiss.len(), 1, "{amiss:?}");
    assert_eq!(amiss[0].1, "52 trip works from 80 V, and below 120 V it may drop out");
}
