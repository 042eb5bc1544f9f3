//! Lamps and inputs against Ohm's law for one loop. That a lamp surely lights from half its rated
//! current, and that an input must not go on at half the battery, is common practice.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::loads::{LoadRow, Loads};
use fiftytwo_calculations::{Calculations, calculate};
use fiftytwo_scheme::{Finding, read_text};
use serde_json::Value;

fn calculated(inputs: &str, legs: &str) -> Calculations {
    let text = format!(
        r#"
scheme "Lamps"
place "P" "Panel" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="P"
breaker "52" place="P" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="50 to 68 V" dropout="10 to 30 V"
    contact "a1" closed-when="closed"
    contact "b1" closed-when="open"
}}
button "PB1" place="P" {{ contact "a1" "a2" closed-when="pressed" }}
ied "RTU" "Station control" place="P" {{ {inputs} }}
circuit "Trip" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "Trip coil" {{ contact "PB1" "a1"; coil "52" "trip" }}
    {legs}
}}
"#
    );
    let reading = read_text("loads.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    calculate(&reading.scheme.unwrap()).unwrap()
}

fn row<'a>(loads: &'a Loads, part: &str) -> &'a LoadRow {
    loads.rows.iter().find(|row| row.part == part).unwrap_or_else(|| panic!("no {part}"))
}

fn finding<'a>(found: &'a Calculations, id: &str) -> &'a Finding {
    let all = &found.loads.findings;
    all.iter().find(|it| it.id == id).unwrap_or_else(|| panic!("no {id}: {all:#?}"))
}

#[test]
fn a_small_lamp_across_the_full_battery_burns_and_the_cure_is_its_resistor() {
    let found =
        calculated("", r#"leg "L" { contact "52" "b1"; lamp "GREEN" "8 mA" rated="24 V" }"#);
    // 24 V / 8 mA = 3 kohm; 140 V / 3 kohm = 46.7 mA.
    let most = row(&found.loads, "GREEN").most.clone().unwrap();
    assert!((most.amps.unwrap() - 140.0 / 3000.0).abs() < 1e-4, "{most:?}");
    // (125 - 24) V / 8 mA = 12.6 kohm.
    let burnt = finding(&found, "lamp-overloaded");
    assert!(burnt.help.as_ref().unwrap().contains("13 kohm"), "{burnt:?}");
}

#[test]
fn a_lamp_with_its_resistor_is_neither_burnt_nor_dark() {
    let found = calculated(
        "",
        r#"leg "L" { contact "52" "b1"; resistor "R" "12 kohm" power="5 W"; lamp "GREEN" "8 mA" rated="24 V" }"#,
    );
    assert!(found.loads.findings.is_empty(), "{:#?}", found.loads.findings);
    let least = row(&found.loads, "GREEN").least.clone().unwrap();
    assert!((least.amps.unwrap() - 105.0 / 15_000.0).abs() < 1e-4, "{least:?}");
}

#[test]
fn a_lamp_behind_too_many_ohms_stays_dark() {
    let found = calculated(
        "",
        r#"leg "L" { contact "52" "b1"; resistor "R" "47 kohm" power="5 W"; lamp "BLUE" "8 mA" rated="125 V" }"#,
    );
    // 125 V / 8 mA = 15.6 kohm; 105 V / 62.6 kohm = 1.68 mA; it needs 4 mA.
    let dark = finding(&found, "lamp-dim");
    assert!(
        dark.message.contains("it gets 1.68 mA") && dark.message.contains("from 4 mA"),
        "{dark:?}"
    );
    assert!(dark.help.as_ref().unwrap().contains("47 kohm less"), "{dark:?}");
}

#[test]
fn a_lamp_that_no_rest_position_lights_is_judged_with_its_way_closed() {
    let found =
        calculated("", r#"leg "L" { contact "PB1" "a2"; lamp "WHITE" "8 mA" rated="24 V" }"#);
    assert!(row(&found.loads, "WHITE").by_way);
    assert!(finding(&found, "lamp-overloaded").why.as_ref().unwrap().contains("PB1 a2"));
}

#[test]
fn a_cold_filament_draws_more_at_first() {
    let found = calculated(
        "",
        r#"leg "L" { contact "52" "b1"; lamp "WHITE" "80 mA" rated="125 V" light="filament" cold="150 ohm" }"#,
    );
    let inrush = row(&found.loads, "WHITE").inrush.unwrap();
    assert!((inrush - 140.0 / 150.0).abs() < 0.02, "{inrush}");
}

#[test]
fn an_input_is_judged_by_volts_and_by_its_least_current() {
    let leg = r#"leg "I" { contact "52" "b1"; input "RTU" "52b" }"#;
    let high =
        calculated(r#"input "52b" on-above="200 V" off-below="150 V" resistance="30 kohm""#, leg);
    let it = finding(&high, "input-too-little");
    assert!(it.message.contains("gets 105 V") && it.message.contains("from 200 V"), "{it:?}");
    // 105 V / 30 kohm = 3.5 mA.
    let hungry = calculated(
        r#"input "52b" on-above="80 V" off-below="75 V" least="50 mA" resistance="30 kohm""#,
        leg,
    );
    let it = finding(&hungry, "input-too-little");
    assert!(it.message.contains("gets 3.5 mA") && it.message.contains("from 50 mA"), "{it:?}");
    let fine = calculated(
        r#"input "52b" on-above="80 V" off-below="75 V" least="1.5 mA" resistance="30 kohm""#,
        leg,
    );
    assert!(fine.loads.findings.is_empty(), "{:#?}", fine.loads.findings);
}

#[test]
fn an_input_that_a_trickle_keeps_on_is_not_surely_off() {
    // 27 kohm past the contact, 30 kohm of input: 140 V * 30 / 57 = 73.7 V with the contact open.
    let found = calculated(
        r#"input "52b" on-above="95 V" off-below="71 V" resistance="30 kohm" shows="52 open""#,
        r#"leg "I" { parallel { contact "52" "b1"; resistor "R" "27 kohm" power="2 W" }; input "RTU" "52b" }"#,
    );
    let it = finding(&found, "input-not-off");
    assert!(it.message.contains("gets 73.7 V") && it.message.contains("below 71 V"), "{it:?}");
}

#[test]
fn a_threshold_below_half_the_battery_is_in_reach_of_a_single_ground() {
    let leg = r#"leg "I" { contact "52" "b1"; input "RTU" "52b" }"#;
    let low = calculated(r#"input "52b" on-above="8 V" off-below="6 V" resistance="30 kohm""#, leg);
    assert!(finding(&low, "input-threshold-low").message.contains("70 V, half of DC1"));
}

#[test]
fn an_input_of_40_ohm_takes_a_loads_current() {
    let leg = r#"leg "I" { contact "52" "b1"; input "RTU" "52b" }"#;
    let with = |ohm: &str| {
        calculated(
            &format!(r#"input "52b" on-above="95 V" off-below="75 V" resistance="{ohm}""#),
            leg,
        )
    };
    // 140 V / 40 ohm = 3.5 A, 490 W; 140 V / 20 mA = 7 kohm.
    let slip = with("40 ohm");
    let it = finding(&slip, "input-current");
    assert!(it.message.contains("takes 3.5 A at 140 V (490 W)"), "{it:?}");
    assert_eq!(it.help.as_deref(), Some("an input of 7 kohm or more"));
    assert!(with("7 kohm").loads.findings.is_empty());
}

/// Pickup volts of an opto input are its resistance times its current and the drop of its diode:
/// 38 kohm, 2 mA and 1.2 V; 22 kohm, 3 mA and 1.2 V (by hand).
#[test]
fn an_opto_input_goes_on_where_its_resistance_and_its_diode_let_its_current_through() {
    for (kohm, milli, pickup) in [(38.0, 2.0, 77.2), (22.0, 3.0, 67.2)] {
        let at = |volts: f64| {
            let far = 1.2 + kohm * 10.0;
            let text = format!(
                r#"
scheme "Opto"
place "P" "Panel" ambient="20 C"
supply "DC1" "{volts:.1} V DC" place="P"
curve "opto" {{ point "1.2 V" "0 mA"; point "{far} V" "10 mA" }}
ied "RTU" place="P" {{ input "I" on-above="10 V" off-below="5 V" least="{milli} mA" curve="opto" }}
circuit "C" supply="DC1" {{
    feed {{ fuse "F1" "6 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "6 A" }}
    leg "I" {{ input "RTU" "I" }}
}}
"#
            );
            let reading = read_text("opto.kdl", &text);
            assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
            calculate(&reading.scheme.unwrap()).unwrap().loads
        };
        let on = at(pickup + 0.1);
        let off = at(pickup - 0.1);
        assert!(row(&on, "RTU I").of_needed.unwrap() >= 1.0, "{on:?}");
        assert!(row(&off, "RTU I").of_needed.unwrap() < 1.0, "{off:?}");
        let amps = row(&on, "RTU I").least.as_ref().unwrap().amps.unwrap();
        assert!((amps - (milli + 0.1 / kohm) * 1e-3).abs() < 1e-8, "{amps}");
    }
}

#[test]
fn the_lamps_tell_open_from_closed_and_both_are_dark_without_the_supply() {
    let found = calculated(
        "",
        r#"leg "G" { contact "52" "b1"; lamp "GREEN" "8 mA" }
    leg "R" { contact "52" "a1"; lamp "RED" "8 mA" }"#,
    );
    let lit = |position: &str| {
        let at = found.loads.lamps.iter().find(|at| at.position == position);
        at.unwrap_or_else(|| panic!("{:#?}", found.loads.lamps)).lit.clone()
    };
    assert_eq!((lit("52 open"), lit("52 closed")), (vec!["GREEN".into()], vec!["RED".into()]));
    assert!(lit("52 open, DC1 lost").is_empty() && lit("52 closed, DC1 lost").is_empty());
}

#[test]
fn a_light_emitting_diode_without_its_resistor_burns() {
    // 2.4 V and a line to 8 mA at 24 V, 2.7 kohm: at 140 V it takes 50.96 mA.
    let found = calculated(
        "",
        r#"leg "L" { contact "52" "b1"; lamp "GREEN" "8 mA" rated="24 V" light="LED" drop="2.4 V" }"#,
    );
    let most = row(&found.loads, "GREEN").most.clone().unwrap();
    assert!((most.amps.unwrap() - (140.0 - 2.4) / 2700.0).abs() < 1e-4, "{most:?}");
    // (125 - 24) V / 8 mA = 12.6 kohm.
    assert!(finding(&found, "lamp-overloaded").help.as_ref().unwrap().contains("13 kohm"));
}

#[test]
fn every_kind_of_result_says_how_it_was_got() {
    let found = calculated("", "");
    let object = serde_json::to_value(&found).unwrap();
    for it in &found.methods {
        // "fuses.fuses.carries" is a place in the object: of a list its first item counts.
        let mut at = &object;
        for key in it.topic.split('.') {
            let one = match at {
                Value::Array(items) => match items.first() {
                    Some(first) => first,
                    None => break,
                },
                one => one,
            };
            let known = one.get(key);
            at = known.unwrap_or_else(|| panic!("{} has no {key}", it.topic));
        }
    }
    let object = object.as_object().unwrap();
    let without = ["rest", "methods", "typical"];
    for topic in object.keys().filter(|topic| !without.contains(&topic.as_str())) {
        let told = found.methods.iter().any(|it| it.topic.split('.').next() == Some(topic));
        assert!(told, "{topic} does not say how it was got");
    }
}

#[test]
fn an_input_that_goes_off_only_near_zero_cannot_be_relied_on_to_drop() {
    let leg = r#"leg "I" { contact "52" "b1"; input "RTU" "52b" }"#;
    let with = |off: &str| {
        let input =
            format!(r#"input "52b" on-above="95 V" off-below="{off}" resistance="30 kohm""#);
        calculated(&input, leg)
    };
    let slip = with("6 V");
    // A tenth of 125 V.
    let it = finding(&slip, "input-off-too-low");
    assert_eq!(it.help.as_deref(), Some("an input that is surely off below 12.5 V or more"));
    assert!(with("12.5 V").loads.findings.is_empty());
}
