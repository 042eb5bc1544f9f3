//! Ties between two supplies, each way a pole can meet a pole: common practice of the trade (lists
//! of checks; no source), decided by hand on the drawing.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::ties::{Ties, ties};
use fiftytwo_scheme::{Scheme, read_path, read_text};

/// Two circuits on two batteries; `second` is the second one's legs, W1 a wire of the first.
fn two(second: &str) -> Scheme {
    let text = format!(
        r#"
scheme "Ties"
place "P" "Panel"
supply "DC1" "125 V DC" place="P"
supply "DC2" "125 V DC" place="P"
condition "gas" "normal" "low"
relay "K" "Relay" place="P" {{
    coil resistance="1000 ohm"
    contact "a1" "a2" closed-when="picked up"
    contact "b1" closed-when="dropped out"
    terminals a1="11-14" b1="11-12" a2="23-24"
}}
sensor "63" "Gas" place="P" {{ contact "low" closed-when="gas low"; contact "normal" closed-when="gas normal" }}
ied "21" "Protection" place="P" {{ input "in" resistance="40 kohm" on-above="80 V" off-below="60 V" }}
button "PB" "Button" place="P" {{ contact "a1" "a2" closed-when="pressed" }}
circuit "First" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P1" }}
    return {{ wire "N1"; fuse "F2" "10 A" }}
    leg "Relay" from="P1" to="N1" {{ contact "PB" "a1"; wire "W1"; coil "K" }}
}}
circuit "Second" supply="DC2" {{
    feed {{ fuse "F3" "10 A"; wire "P2" }}
    return {{ wire "N2"; fuse "F4" "10 A" }}
    leg "Own lamp" from="P2" to="N2" {{ lamp "OWN" "8 mA" }}
{second}
}}
"#
    );
    let reading = read_text("ties.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    reading.scheme.unwrap()
}

fn messages(ties: &Ties) -> Vec<&str> {
    ties.findings.iter().map(|finding| finding.message.as_str()).collect()
}

#[test]
fn contacts_of_one_relay_in_both_circuits_are_no_tie() {
    let found =
        ties(&two(r#"    leg "Lamp" from="P2" to="N2" { contact "K" "a2"; lamp "W" "8 mA" }"#));
    assert!(found.pairs[0].apart && found.findings.is_empty(), "{found:#?}");
}

#[test]
fn an_input_does_not_join_its_circuit_to_what_its_device_does() {
    let found =
        ties(&two(r#"    leg "In" from="P2" to="N2" { contact "K" "a2"; input "21" "in" }"#));
    assert!(found.pairs[0].apart, "{found:#?}");
}

#[test]
fn a_lamp_from_one_circuit_to_the_minus_of_the_other_ties_both_batteries() {
    let found = ties(&two(r#"    leg "Lamp" from="W1" to="N2" { lamp "Q" "8 mA" }"#));
    // The coil leads to DC1- without any contact.
    assert_eq!(messages(&found), ["DC1 and DC2 are always joined at wire W1, through K and Q"]);
    let tie = &found.pairs[0].ties[0];
    assert_eq!((tie.from.as_str(), tie.to.as_str()), ("DC1-", "DC2-"));
    assert_eq!(tie.path, ["F2", "K", "Q", "F4"]);
    assert!(found.findings[0].help.as_ref().unwrap().contains("part them at wire W1"));
}

#[test]
fn a_diode_and_an_input_tie_as_well() {
    let diode = ties(&two(r#"    leg "Diode" from="P2" to="P1" { diode "V1" drop="0.7 V" }"#));
    assert_eq!(messages(&diode), ["DC1 and DC2 are always joined at wire P1, through V1"]);
    let input = ties(&two(r#"    leg "In" from="P1" to="N2" { input "21" "in" }"#));
    assert_eq!(messages(&input), ["DC1 and DC2 are always joined at wire P1, through 21 in"]);
}

#[test]
fn a_common_return_ties_before_anything_happens() {
    let found =
        ties(&two(r#"    leg "Lamp" from="P2" to="N1" { contact "PB" "a2"; lamp "W" "8 mA" }"#));
    assert_eq!(
        messages(&found),
        ["DC1 and DC2 are joined at wire N1, through W, while PB a2 is closed"]
    );
    assert_eq!(found.pairs[0].ties[0].contacts, ["PB a2"]);
}

#[test]
fn a_changeover_between_two_batteries_is_told() {
    let found = ties(&two(r#"    leg "One" from="X" to="P2" { contact "K" "b1" }
    leg "Two" from="X" to="P1" { contact "K" "a1" }
    leg "Lamp" from="X" to="N2" { contact "63" "low"; contact "63" "normal"; lamp "W" "8 mA" }"#));
    let told = messages(&found);
    assert_eq!(
        told,
        ["only the changeover K a1 and K b1 keeps DC1 and DC2 apart: they meet at wire P1"]
    );
    assert!(found.pairs[0].ties[0].changeover);
}

#[test]
fn a_way_whose_contacts_close_together_is_told_before_one_that_is_kept_apart() {
    let found = ties(&two(r#"    leg "One" from="X" to="P2" { contact "K" "b1" }
    leg "Two" from="X" to="P1" { contact "K" "a1" }
    leg "Three" from="X" to="N2" { contact "K" "a2"; lamp "W" "8 mA" }"#));
    let first = messages(&found)[0];
    assert!(first.contains("while K a1 and K a2 are closed"), "{first}");
}

#[test]
fn no_example_ties_its_supplies() {
    for name in ["quillmere", "quillmere-block", "quillmere-shared", "harrowfen"] {
        let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
        let scheme = read_path(path.as_ref()).scheme.unwrap();
        let found = ties(&scheme);
        assert!(!found.pairs.is_empty(), "{name} has two supplies");
        assert!(found.pairs.iter().all(|pair| pair.apart), "{name}: {:?}", messages(&found));
    }
}

#[test]
fn one_return_taken_to_the_other_battery_is_found_in_an_example() {
    let path = format!("{}/../../examples/quillmere/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let right = r#"leg "Opto monitor 2" from="UP" to="U1""#;
    assert!(text.contains(right));
    let slip = text.replacen(right, r#"leg "Opto monitor 2" from="TP" to="U1""#, 1);
    let scheme = read_text("slip.kdl", &slip).scheme.unwrap();
    let found = ties(&scheme);
    let told = messages(&found);
    // Through the trip switch of the second coil, which stands on DC2.
    assert_eq!(
        told[0],
        "DC1 and DC2 are joined at wire TP, through R2 and 21B TC2 watch, while 52CS trip 2 is closed"
    );
}
