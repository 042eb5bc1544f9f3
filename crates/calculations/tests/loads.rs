//! Lamps and inputs against Ohm's law for one loop. That a lamp surely lights from half its rated
//! current, and that an input must not go on at half the battery, is common practice.
#![allow(clippy::approx_constant, reason = "ohms of a wire table, not a circle")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::gather::WorkedOut;
use fiftytwo_calculations::loads::{LoadRow, Loads};
use fiftytwo_calculations::{Calculations, calculate};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Finding, Severity, read_path, read_text};
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
supply "DC1" "{volts:.1} V DC" range="{volts:.1} V" place="P"
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

/// A motor or a heater 14 AWG away, everything at 75 °C: NEC chapter 9 table 8 has 3.14 ohm a
/// thousand feet (304.8 m) there.
fn far(metres: u32, size: &str, motor: &str, leg: &str) -> Calculations {
    let text = format!(
        r#"
scheme "Motor"
place "H" "House" ambient="75 C"
place "Y" "Yard" ambient="75 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="H"
cable "K1" from="H" to="Y" length="{metres} m" size="{size}" cores=7
breaker "52" place="Y" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    energy "spring" closings=1 charged-by="motor" charged-in="8 to 12 s"
    motor {motor}
    contact "LS" closed-when="spring discharged"
}}
circuit "Motor" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    {leg}
}}
"#
    );
    let reading = read_text("motor.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    calculate(&reading.scheme.unwrap()).unwrap()
}

const MOTOR: &str = r#"leg "M" { core "K1" 1; contact "52" "LS"; motor "52"; core "K1" 2 }"#;
const HEATER: &str = r#"leg "H" { core "K1" 1; heater "H1" "900 W"; core "K1" 2 }"#;

fn of_id<'a>(found: &'a Calculations, id: &str) -> Vec<&'a Finding> {
    found.loads.findings.iter().filter(|it| it.id == id).collect()
}

/// Two cores of 100 m: 2 x 100 x 3.14 / 304.8 = 2.0604 ohm. The motor runs as 125 V / 6 A = 20.833
/// ohm: 105 x 20.833 / 22.894 = 95.55 V; it starts as 125 V / 18 A = 6.944 ohm: 80.98 V.
#[test]
fn a_motor_at_the_end_of_a_thin_cable_is_asked_for_its_volts() {
    let works = r#""6 A" inrush="18 A" works="100 to 140 V""#;
    let found = far(100, "14 AWG", works, MOTOR);
    let [row] = found.loads.motors.as_slice() else { panic!("{:?}", found.loads.motors) };
    let ohm = 2.0 * 100.0 * 3.14 / 304.8;
    let runs = 125.0 / 6.0;
    assert!((row.least - 105.0 * runs / (runs + ohm)).abs() < 1e-3, "{row:?}");
    let starts = 125.0 / 18.0;
    let starting = 105.0 * starts / (starts + ohm);
    assert!((row.starting.unwrap() - starting).abs() < 1e-3, "{row:?}");
    let low = finding(&found, "motor-volts-low");
    assert_eq!(low.severity, Severity::Finding);
    assert!(low.message.contains("95.5 V while it runs; it works from 100 V"), "{low:?}");
    assert!(low.why.as_ref().unwrap().contains("every motor starts, 81 V"), "{low:?}");
    // 20.833 x (105 / 100 - 1) = 1.0417 ohm may be there: 5.208 ohm per km, so 10 AWG (1.24 ohm a
    // thousand feet, 4.07 ohm per km; 12 AWG has 6.50) or 1.0417 / 2.0604 of 100 m = 50.56 m.
    let help = low.help.as_ref().unwrap();
    assert!(help.contains("10 AWG") && help.contains("50 m at the most"), "{help}");
    for cured in [far(100, "10 AWG", works, MOTOR), far(50, "14 AWG", works, MOTOR)] {
        assert!(of_id(&cured, "motor-volts-low").is_empty(), "{:#?}", cured.loads.findings);
    }
    assert_eq!(of_id(&far(51, "14 AWG", works, MOTOR), "motor-volts-low").len(), 1);
}

/// Behind 100 m of 14 AWG (2.0604 ohm, as above), each on cores of its own: the motor of 52 (20.833
/// ohm) has 95.5 V of 100 V, that of 53 the same 95.5 V of 98 V, and a contactor of 30 ohm (36.48 ohm at
/// 75 C) 105 x 36.48 / 38.54 = 99.4 V of 100 V. Alone the contactor would do with 0.05 x 36.48 = 1.824
/// ohm, 88.5 m, and 53 with 20.833 x (105 / 98 - 1) = 1.488 ohm, 72.2 m; 52 needs 50.56 m.
#[test]
fn one_cable_that_starves_motors_and_a_coil_is_one_trouble_with_one_cure() {
    let told = |metres: u32, works: &str| {
        let text = format!(
            r#"
scheme "Motors"
place "H" "House" ambient="75 C"
place "Y" "Yard" ambient="75 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="H"
cable "K1" from="H" to="Y" length="{metres} m" size="14 AWG" cores=7
breaker "52" place="Y" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    energy "spring" closings=1 charged-by="motor" charged-in="8 to 12 s"
    motor "6 A" {works}
    contact "LS" closed-when="spring discharged"
}}
breaker "53" place="Y" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    energy "spring" closings=1 charged-by="motor" charged-in="8 to 12 s"
    motor "6 A" works="98 to 140 V"
    contact "LS" closed-when="spring discharged"
}}
button "PB" place="H" {{ contact "a1" closed-when="pressed" }}
relay "X" place="Y" {{ coil resistance="30 ohm" works="100 to 140 V" pickup="60 to 90 V" dropout="15 to 40 V"; contact "a1" closed-when="picked up" }}
circuit "Motor" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "X" {{ contact "PB" "a1"; core "K1" 5; coil "X"; core "K1" 6 }}
    leg "M" {{ core "K1" 1; contact "52" "LS"; motor "52"; core "K1" 2 }}
    leg "M2" {{ core "K1" 3; contact "53" "LS"; motor "53"; core "K1" 4 }}
}}
"#
        );
        let reading = read_text("motors.kdl", &text);
        let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        let found = WorkedOut::of(&Machine::new(&scheme).unwrap()).findings();
        let thin = ["drive-too-low", "motor-volts-low", "cable-too-thin"];
        found.into_iter().filter(|it| thin.contains(&it.id)).collect::<Vec<Finding>>()
    };
    let declared = told(100, r#"works="100 to 140 V""#);
    let [one] = declared.as_slice() else { panic!("{declared:#?}") };
    assert!(one.help.as_ref().unwrap().contains("50 m at the most"), "{one:?}");
    for name in ["52 motor", "53 motor", "X"] {
        assert!(one.devices.iter().any(|it| it == name), "{name}: {one:?}");
    }
    assert!(told(50, r#"works="100 to 140 V""#).is_empty());
    // Without a declared value 80 % of 125 V, 100 V, is typical: a finding leads, and the cure serves
    // the motor that says nothing too.
    let typical = told(100, "");
    let [one] = typical.as_slice() else { panic!("{typical:#?}") };
    assert_eq!(one.severity, Severity::Finding);
    let help = one.help.as_ref().unwrap();
    assert!(help.contains("72 m at the most") && help.contains("50 m at the most"), "{help}");
    assert!(told(50, "").is_empty());
}

/// 2000 m of 14 AWG, 41.2 ohm there and back: a motor without a declared voltage has 105 x 20.833 / 62.04
/// = 35.3 V of a typical 100 V, a note. A short at the far end draws 105 / 41.2 = 2.55 A and F1 carries 15
/// A: that stays a finding of its own.
#[test]
fn a_note_on_a_motor_swallows_no_short_that_nothing_clears() {
    let text = format!(
        r#"
scheme "Motor"
place "H" "House" ambient="75 C"
place "Y" "Yard" ambient="75 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="H"
cable "K1" from="H" to="Y" length="2000 m" size="14 AWG" cores=7
breaker "52" place="Y" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    energy "spring" closings=1 charged-by="motor" charged-in="8 to 12 s"
    motor "6 A"
    contact "LS" closed-when="spring discharged"
}}
circuit "Motor" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    {MOTOR}
}}
"#
    );
    let scheme = read_text("motor.kdl", &text).scheme.unwrap();
    let found = WorkedOut::of(&Machine::new(&scheme).unwrap()).findings();
    let of = |id: &str| found.iter().filter(|it| it.id == id).collect::<Vec<&Finding>>();
    assert_eq!(of("motor-volts-low")[0].severity, Severity::Note);
    let shorts = of("short-not-cleared");
    assert!(!shorts.is_empty() && shorts[0].severity == Severity::Finding, "{found:#?}");
    assert!(shorts[0].message.contains("2.54 A") || shorts[0].message.contains("2.55 A"));
}

/// 80 % of 125 V is 100 V: the same run, but a note that names its source.
#[test]
fn a_motor_that_says_nothing_gets_a_note() {
    let found = far(100, "14 AWG", r#""6 A""#, MOTOR);
    let low = finding(&found, "motor-volts-low");
    assert_eq!(low.severity, Severity::Note);
    assert!(low.message.contains("80 % of 125 V, 100 V, is typical"), "{low:?}");
    assert!(low.why.as_ref().unwrap().contains("instruction books"), "{low:?}");
    assert!(of_id(&far(50, "14 AWG", r#""6 A""#, MOTOR), "motor-volts-low").is_empty());
}

/// A resistor of 1 to 3 ohm in front of the motor (20.833 ohm behind 2.0604 ohm of cores): least 105 x
/// 20.833 / (20.833 + 2.0604 + 3) = 84.48 V, most 140 x 20.833 / (20.833 + 2.0604 + 1) = 122.07 V.
#[test]
fn a_resistor_in_front_of_a_motor_counts_at_the_end_that_is_worse() {
    let leg = r#"leg "M" { core "K1" 1; contact "52" "LS"; resistor "R" "1 to 3 ohm" power="200 W"; motor "52"; core "K1" 2 }"#;
    let found = far(100, "14 AWG", r#""6 A" works="90 to 140 V""#, leg);
    let [row] = found.loads.motors.as_slice() else { panic!("{:?}", found.loads.motors) };
    let (runs, cores) = (125.0 / 6.0, 2.0 * 100.0 * 3.14 / 304.8);
    assert!((row.least - 105.0 * runs / (runs + cores + 3.0)).abs() < 1e-3, "{row:?}");
    assert!((row.most - 140.0 * runs / (runs + cores + 1.0)).abs() < 1e-3, "{row:?}");
    assert!(finding(&found, "motor-volts-low").message.contains("84.4 V while it runs"));
}

/// 900 W at 125 V: 17.36 ohm; 105 x 17.36 / 19.42 = 93.86 V, (93.86 / 125)² = 56 % of its watts.
#[test]
fn a_heater_behind_a_thin_cable_stays_lukewarm() {
    let found = far(100, "14 AWG", r#""6 A""#, HEATER);
    let low = finding(&found, "heater-volts-low");
    assert!(low.message.contains("93.8 V and give 56 % of its watts"), "{low:?}");
    assert!(of_id(&far(10, "14 AWG", r#""6 A""#, HEATER), "heater-volts-low").is_empty());
}

/// One metre of 10 AWG, 8 mohm there and back: 140 x 20.833 / 20.841 = 139.95 V on a motor for 130 V.
#[test]
fn a_motor_for_less_than_the_charging_voltage_is_told() {
    let found = far(1, "10 AWG", r#""6 A" works="90 to 130 V""#, MOTOR);
    let high = finding(&found, "motor-volts-high");
    assert!(high.message.contains("may get 140 V; it may be used up to 130 V"), "{high:?}");
}

/// RED of the second supply gets the same with the first supply lost, RED of the first the same with the
/// second lost: the healthy position is the one to be named.
#[test]
fn of_positions_that_are_alike_the_healthy_one_is_named() {
    let path = format!("{}/../../examples/quillmere/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let scheme = read_path(path.as_ref()).scheme.unwrap();
    let found = calculate(&scheme).unwrap();
    for part in ["RED", "GREEN"] {
        let row = row(&found.loads, part);
        let at = [&row.least, &row.most].map(|gets| gets.as_ref().unwrap().position.as_str());
        let healthy = if part == "RED" { "52 closed" } else { "52 open" };
        assert_eq!(at, [healthy, healthy], "{row:?}");
    }
}

/// An input without thresholds behind 4.7 kohm across its open contact (taken as 30 kohm or so) gets
/// most of the battery: a note, for its thresholds are not known. One that all of the battery's volts
/// reach is on, whatever they are, and so is one that shows the contrary of what leads to it.
#[test]
fn an_input_without_thresholds_that_stays_on_is_not_passed_over() {
    let told = |input: &str, leg: &str| {
        let found = calculated(input, leg);
        let of = |it: &&Finding| it.id == "input-not-off";
        found.loads.findings.iter().find(of).cloned()
    };
    let leak = r#"leg "I" { parallel { contact "52" "b1"; resistor "R" "4.7 kohm" power="10 W" }; input "RTU" "i" }"#;
    let note = told(r#"input "i" shows="52 open""#, leak).unwrap();
    assert_eq!(note.severity, Severity::Note);
    let straight = r#"leg "I" { contact "52" "b1"; input "RTU" "i" }"#;
    assert!(told(r#"input "i" shows="52 open""#, straight).is_none());
    let turned = told(r#"input "i" shows="52 closed""#, straight).unwrap();
    assert_eq!(turned.severity, Severity::Finding);
    assert!(turned.message.contains("at least 105 V"), "{turned:?}");
    assert!(turned.help.as_deref().unwrap().contains("turn round"), "{turned:?}");
}
