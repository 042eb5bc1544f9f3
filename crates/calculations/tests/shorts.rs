//! Contacts that short a supply, decided by hand on the drawing; currents by Ohm's law.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::shorts::{Shorts, shorts};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{read_path, read_text};

/// A button, a relay, a sensor and a battery of 0.1 ohm; `legs` beside the relay's own.
fn with(legs: &str) -> Shorts {
    let text = format!(
        r#"
scheme "Shorts"
place "P" "Panel"
supply "A" "125 V DC" range="105 to 140 V" resistance="0.1 ohm" place="P"
condition "gas" "normal" "low"
person "op" place="P" {{ may "PB" }}
button "PB" "Button" place="P" {{ contact "a1" "a2" closed-when="pressed"; contact "b1" closed-when="released" }}
relay "94" place="P" {{
    coil resistance="200 ohm" works="70 to 140 V"
    contact "a1" "a2" closed-when="picked up"
    contact "b1" closed-when="dropped out"
}}
relay "TGT" place="P" {{ coil resistance="0.1 ohm" pickup="0.1 to 0.2 V" }}
circuit "C" supply="A" {{
    feed {{ fuse "F1" "6 A"; wire "PA" }}
    return {{ wire "NA"; fuse "F2" "10 A" }}
    leg "Relay" {{ contact "PB" "a1"; wire "T1"; coil "94" }}
{legs}
}}
"#
    );
    let reading = read_text("shorts.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    let scheme = reading.scheme.unwrap();
    let machine = Machine::new(&scheme).unwrap();
    shorts(&Study::new(&machine))
}

fn contacts(shorts: &Shorts) -> Vec<Vec<&str>> {
    shorts.list.iter().map(|it| it.contacts.iter().map(String::as_str).collect()).collect()
}

#[test]
fn a_relay_between_the_poles_is_no_short() {
    assert!(with("").list.is_empty());
}

#[test]
fn a_pressed_button_that_joins_the_poles_is_told_with_current_and_fuses() {
    let found = with(r#"leg "2" from="PA" to="NA" { contact "PB" "a2" }"#);
    assert_eq!(contacts(&found), [["PB a2"]]);
    let finding = &found.findings[0];
    assert_eq!(finding.id, "supply-shorted-by");
    // 105 and 140 V through 0.1 ohm.
    assert_eq!(
        finding.message,
        "plus and minus of A are joined while PB a2 is closed, with no load between: 1050 to 1400 A"
    );
    let why = finding.why.as_ref().unwrap();
    assert!(why.contains("F1 (6 A) and F2 (10 A) would have to clear it"), "{why}");
}

#[test]
fn a_contact_across_the_coil_shorts_with_the_order() {
    let found = with(r#"leg "2" from="T1" to="NA" { contact "94" "a1" }"#);
    assert_eq!(contacts(&found), [["PB a1", "94 a1"]]);
}

#[test]
fn contacts_of_one_device_that_are_never_closed_together_short_nothing() {
    let found = with(r#"leg "2" from="PA" to="NA" { contact "94" "a1"; contact "94" "b1" }"#);
    assert!(found.list.is_empty(), "{:?}", found.list);
}

#[test]
fn a_resistor_of_milliohms_between_the_poles_is_a_short() {
    let found = with(r#"leg "2" { contact "PB" "b1"; resistor "R0" "1 mohm" }"#);
    assert_eq!(found.list[0].through, ["R0"]);
    let amps = found.list[0].amps.unwrap();
    assert!((amps[0] - 105.0 / 0.101).abs() < 1e-9 && (amps[1] - 140.0 / 0.101).abs() < 1e-9);
    assert!(with(r#"leg "2" { contact "PB" "b1"; resistor "R0" "1 kohm" }"#).list.is_empty());
}

#[test]
fn a_target_alone_between_the_poles_is_a_short() {
    let found = with(r#"leg "2" { contact "PB" "a2"; coil "TGT" }"#);
    assert_eq!(found.list[0].through, ["TGT"]);
    assert!(with(r#"leg "2" { contact "PB" "a2"; coil "TGT"; lamp "L" "8 mA" }"#).list.is_empty());
}

#[test]
fn a_diode_the_wrong_way_round_across_a_coil_is_a_short() {
    let found = with(r#"leg "2" from="T1" to="NA" { diode "V1" drop="0.7 V" blocks="1000 V" }"#);
    assert_eq!(contacts(&found), [["PB a1"]]);
    assert_eq!(found.list[0].through, ["V1"]);
    let right = with(r#"leg "2" from="NA" to="T1" { diode "V1" drop="0.7 V" blocks="1000 V" }"#);
    assert!(right.list.is_empty());
}

#[test]
fn the_examples_have_no_shorts() {
    for name in ["quillmere", "quillmere-block", "quillmere-shared", "harrowfen", "dunmarrow"] {
        let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
        let scheme = read_path(path.as_ref()).scheme.unwrap();
        let machine = Machine::new(&scheme).unwrap();
        let found = shorts(&Study::new(&machine));
        assert!(found.list.is_empty() && found.given_up.is_empty(), "{name}: {found:?}");
    }
}
