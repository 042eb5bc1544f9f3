//! Monitors against what anyone can work out on paper for one loop, and against the trade's rules.
//!
//! Numbers: Ohm's and Kirchhoff's laws for a string of a lamp (24 V, 35 mA = 686 ohm), its resistor
//! of 2900 ohm and a coil; `(0.8 U - 20 V) / 1.5 mA` for the greatest resistor in front of a
//! supervising contact that needs 20 V and 1.5 mA (manuals of trip circuit supervision). Which cases
//! must be found: lists of checks of control schemes (common practice, no source).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::monitors::{CoilMonitors, Load, Monitors, monitors};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Finding, Scheme, Severity, read_path, read_text};

/// A breaker with a trip coil, its contact and a 94 behind its own contact; `extra` is the rest.
fn scheme(extra: &str) -> Scheme {
    let text = format!(
        r#"
scheme "Monitors"
place "P" "Panel" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="P"
breaker "52" "Breaker" place="P" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "close" drives-to="closed" resistance="41 ohm" works="90 to 140 V" pickup="45 to 75 V" goes-after="8 to 12 ms"
    coil "trip" drives-to="open" resistance="20.8333 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms"
    contact "a1" "a2" closed-when="closed" on-close="3 to 8 ms before touch" on-open="2 to 6 ms after parting"
    contact "b1" "b2" closed-when="open" on-close="10 to 5 ms before touch" on-open="4 to 10 ms after parting"
}}
button "CLOSE" "Close" place="P" {{ contact "a1" closed-when="pressed" }}
button "TRIP" "Trip" place="P" {{ contact "a1" closed-when="pressed" }}
{extra}
"#
    );
    let reading = read_text("monitors.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    reading.scheme.unwrap()
}

/// The trip leg with these branches beside the trip contact.
fn trip_circuit(beside: &str) -> String {
    format!(
        r#"
circuit "Trip" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "Trip coil" from="P" to="N" {{
        parallel {{ contact "TRIP" "a1"; {beside} }}
        wire "T1"
        contact "52" "a1"
        coil "52" "trip"
    }}
}}
"#
    )
}

/// A lamp string in front of a relay of so many ohms.
fn string_and_relay(ohm: f64, dropout: &str) -> Scheme {
    scheme(&format!(
        r#"
relay "94" "Auxiliary trip" place="P" {{
    coil {{ resistance "{ohm} ohm"; works "100 to 140 V"; pickup "75 to 81 V"; dropout "{dropout}"; pickup-time "5 to 8 ms"; dropout-time "5 to 15 ms" }}
    contact "a1" closed-when="picked up"
}}
circuit "Auxiliary" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Auxiliary trip" from="P" to="N" {{
        parallel {{ contact "TRIP" "a1"; branch {{ resistor "R1" "2900 ohm" power="10 W"; lamp "RED" "35 mA" rated="24 V" }} }}
        coil "94"
    }}
}}
"#
    ))
}

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    read_path(path.as_ref()).scheme.unwrap()
}

/// The same example with one value typed wrongly.
fn slip(name: &str, right: &str, wrong: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains(right), "{name} says {right}");
    let reading = read_text("slip.kdl", &text.replacen(right, wrong, 1));
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    reading.scheme.unwrap()
}

fn of(scheme: &Scheme) -> Monitors {
    let machine = Machine::new(scheme).unwrap();
    monitors(&Study::new(&machine))
}

fn coil<'m>(monitors: &'m Monitors, name: &str) -> &'m CoilMonitors {
    monitors.coils.iter().find(|coil| coil.coil == name).unwrap()
}

fn load<'c>(coil: &'c CoilMonitors, position: &str, shorted: &[&str]) -> &'c Load {
    let found = coil.loads.iter().find(|load| load.position == position && load.shorted == shorted);
    found.unwrap_or_else(|| panic!("{position} {shorted:?} not in {:#?}", coil.loads))
}

fn finding<'m>(monitors: &'m Monitors, id: &str) -> Option<&'m Finding> {
    monitors.findings.iter().find(|finding| finding.id == id)
}

fn near(value: f64, expected: f64) {
    assert!((value / expected - 1.0).abs() < 1e-4, "{value} is not {expected}");
}

fn ids(monitors: &Monitors) -> Vec<&str> {
    monitors.findings.iter().map(|finding| finding.id).collect()
}

#[test]
fn a_lamp_string_leaves_less_than_a_volt_on_a_trip_coil() {
    let scheme = scheme(&trip_circuit(
        r#"branch { resistor "R1" "2900 ohm" power="15 W"; lamp "RED" "35 mA" rated="24 V" shows="52 closed" watches="52 trip" }"#,
    ));
    let monitors = of(&scheme);
    let trip = coil(&monitors, "52 trip");
    assert_eq!(trip.form, "one lamp");
    // 140 V over 20.833 + 2900 + 685.714 ohm.
    near(load(trip, "52 closed", &[]).amps, 38.8183e-3);
    near(load(trip, "52 closed", &[]).volts, 0.80871);
    near(load(trip, "52 closed", &["RED"]).amps, 47.9315e-3);
    near(load(trip, "52 closed", &["RED"]).volts, 0.99857);
    // The resistor shorted instead: 140 V over 685.714 + 20.833 ohm.
    near(load(trip, "52 closed", &["R1"]).volts, 4.128);
    near(load(trip, "52 closed", &["RED", "R1"]).volts, 140.0);
    near(monitors.resistors[0].healthy, 4.370);
    near(monitors.resistors[0].worst, 6.663);
    assert_eq!(ids(&monitors), ["burnt-lamp-unclear"]);
}

#[test]
fn the_same_string_holds_a_relay_of_2_kohm_and_operates_one_of_6_kohm() {
    // At 132 V it would be 47.3 V on 2000 ohm and 82.6 V on 6000 ohm; here 140 V.
    let holds = of(&string_and_relay(2000.0, "20 to 50 V"));
    near(load(coil(&holds, "94"), "52 open", &[]).amps, 140.0 / (2000.0 + 2900.0 + 685.714));
    let finding_ = finding(&holds, "monitor-holds-coil").unwrap();
    assert!(finding_.message.contains("RED leaves 50.1 V"), "{}", finding_.message);
    assert!(finding_.help.as_ref().unwrap().contains("ohm"), "{finding_:?}");
    let operates = of(&string_and_relay(6000.0, "20 to 50 V"));
    let finding_ = finding(&operates, "monitor-operates-coil").unwrap();
    assert!(finding_.message.contains("on 94"), "{}", finding_.message);
}

#[test]
fn the_cure_in_ohms_cures_and_leaves_the_lamp_lit() {
    // 40 V let go; with the lamp shorted 140 V * 2 kohm / 39.6 V - 4.9 kohm = 2.17 kohm more. Lit
    // from 12.5 mA at 105 V: 8.4 kohm - 2 - 2.9 - 0.96 = 2.54 kohm more. In the middle of both 2.35
    // kohm, as made 2.4. With the lamp shorted 140 V / 7.3 kohm = 19.2 mA: 0.88 W, doubled 1.77 W.
    let text = string_text(2000.0, "40 to 60 V").replace("\"35 mA\"", "\"25 mA\"");
    let sick = of(&read_text("sick.kdl", &text).scheme.unwrap());
    let help = finding(&sick, "monitor-holds-coil").unwrap().help.clone().unwrap();
    assert_eq!(
        help,
        "a resistor of 2.4 kohm (2 W) added in series with RED, which is surely on with at most 2.53 \
         kohm"
    );
    let scheme = slip_text(
        &text,
        r#"resistor "R1" "2900 ohm""#,
        r#"resistor "R2" "2.4 kohm" power="2 W"; resistor "R1" "2900 ohm""#,
    );
    let cured = of(&scheme);
    let wrong = cured.findings.iter().filter(|finding| finding.severity == Severity::Finding);
    assert_eq!(wrong.count(), 0, "{:#?}", cured.findings);
    assert!(finding(&cured, "monitor-weak").is_none(), "{:#?}", cured.findings);
}

#[test]
fn where_no_resistor_does_both_the_cure_says_so() {
    // To let go below 20 V it takes 10 kohm more; lit (17.5 mA at 105 V) it stays with 414 ohm.
    let sick = of(&string_and_relay(2000.0, "20 to 50 V"));
    let help = finding(&sick, "monitor-holds-coil").unwrap().help.clone().unwrap();
    assert!(help.starts_with("no resistor in series with RED does both"), "{help}");
    assert!(help.contains("at least 10 kohm") && help.contains("at most 414 ohm"), "{help}");
}

#[test]
fn what_bridges_an_order_contact_drives_the_coil_at_rest() {
    // 140 V over 5 + 20.8333 ohm; a lamp of 6 A at 125 V has as many ohms as the coil.
    let bridged = |part: &str, message: &str| {
        let monitors = of(&scheme(&trip_circuit(part)));
        let found = finding(&monitors, "coil-driven-at-rest").unwrap();
        assert_eq!(found.severity, Severity::Finding);
        assert_eq!(found.message, message);
        assert!(found.why.as_ref().unwrap().contains("does not stay so"), "{found:?}");
        found.help.clone().unwrap()
    };
    let help = bridged(
        r#"resistor "R9" "5 ohm" power="2000 W""#,
        "52 trip is driven at rest: with 52 closed it gets 113 V through R9, and it may operate \
         from 35 V",
    );
    // 7 V: 140 * 20.8333 / 7 - 20.8333 = 396 ohm.
    assert_eq!(help, "take R9 out, or let it have at least 430 ohm: then at most 7 V are left");
    bridged(
        r#"lamp "L9" "6 A""#,
        "52 trip is driven at rest: with 52 closed it gets 70 V through L9, and it may operate \
         from 35 V",
    );
    for name in ["quillmere", "dunmarrow", "dunmarrow-repaired", "harrowfen", "harrowfen-direct"] {
        let whole = of(&example(name));
        for id in ["coil-driven-at-rest", "momentary-coil-kept-on", "monitor-dark"] {
            assert!(finding(&whole, id).is_none(), "{name}: {:#?}", finding(&whole, id));
        }
    }
}

#[test]
fn a_resistor_that_keeps_a_momentary_coil_on_is_found() {
    let right = r#"resistor "R3" "6.8 kohm" power="7 W""#;
    for (ohm, level) in [("20 ohm", "operate from 35 V"), ("68 ohm", "at rest through R3")] {
        let wrong = format!(r#"resistor "R3" "{ohm}" power="1 kW""#);
        let monitors = of(&slip("quillmere", right, &wrong));
        let found = finding(&monitors, "momentary-coil-kept-on");
        let found = found.unwrap_or_else(|| panic!("{:?}", ids(&monitors)));
        assert!(found.message.starts_with("52 trip 2 may be on for 1 s and keeps"), "{found:?}");
        assert!(found.message.contains(level), "{found:?}");
        assert_eq!(found.severity, Severity::Finding);
    }
}

#[test]
fn a_resistor_too_large_for_an_input_is_told_with_its_most_ohms() {
    // On from 80 V with 105 V: 40 kohm * 105 / 80 = 52.5 kohm in all; beside R1 the lamp's 7 mA and
    // its own 2 mA leave 0.24 V on 27 ohm, so 40 * 104.76 / 80 = 52.38 kohm: 12.38 kohm, told as
    // no more than that.
    let dark = |right: &str, wrong: &str, message: &str, help: &str| {
        let monitors = of(&slip("quillmere", right, wrong));
        let found = finding(&monitors, "monitor-dark");
        let found = found.unwrap_or_else(|| panic!("{:?}", ids(&monitors)));
        assert!(found.message.starts_with(message), "{found:?}");
        assert!(found.help.as_ref().unwrap().starts_with(help), "{found:?}");
        assert!(finding(&monitors, "watches-nothing").is_none(), "{:?}", ids(&monitors));
    };
    dark(
        r#"resistor "R3" "6.8 kohm""#,
        r#"resistor "R3" "68 kohm""#,
        "21B TC2 watch is not on with 52 open, with 52 trip 2 whole",
        "R3 may have at most 9.77 kohm",
    );
    dark(
        r#"resistor "R1" "10 kohm""#,
        r#"resistor "R1" "120 kohm""#,
        "21A TC1 watch is not on with 52 closed, with 52 trip 1 whole",
        "R1 may have at most 12.3 kohm",
    );
}

fn string_text(ohm: f64, dropout: &str) -> String {
    let scheme = string_and_relay(ohm, dropout);
    scheme.sources.files.iter().next().unwrap().1.text.clone()
}

fn slip_text(text: &str, right: &str, wrong: &str) -> Scheme {
    assert!(text.contains(right));
    read_text("slip.kdl", &text.replacen(right, wrong, 1)).scheme.unwrap()
}

#[test]
fn a_lamp_alone_in_front_of_a_trip_coil_is_found_with_its_cure() {
    let scheme = scheme(&trip_circuit(r#"lamp "RED" "25 mA" watches="52 trip""#));
    let monitors = of(&scheme);
    // 140 V over 20.833 ohm.
    near(load(coil(&monitors, "52 trip"), "52 closed", &["RED"]).amps, 6.72);
    let found = finding(&monitors, "monitor-alone").unwrap();
    assert_eq!(found.severity, Severity::Finding);
    assert_eq!(
        found.message,
        "RED stands alone in front of 52 trip: shorted, it puts 140 V on it; it may operate from 35 V"
    );
    // (125 V - 24 V) / 25 mA = 4.04 kohm; 140² / 4300 = 4.6 W, twice: 10 W.
    assert_eq!(
        found.help.as_deref(),
        Some("a lamp of 24 V with a resistor of 4.3 kohm (10 W) of its own in series")
    );
}

#[test]
fn each_monitor_alone_is_fine_but_their_sum_operates_a_small_relay() {
    let monitor = |name: &str| {
        format!(
            r#"branch {{ resistor "R{name}" "9 kohm" power="3 W"; lamp "L{name}" "8 mA" rated="24 V" }}"#
        )
    };
    let relay = |monitors: &str| {
        scheme(&format!(
            r#"
relay "94" "Auxiliary trip" place="P" {{
    coil {{ resistance "2000 ohm"; works "70 to 140 V"; pickup "40 to 60 V"; dropout "30 to 38 V"; pickup-time "5 to 8 ms"; dropout-time "5 to 15 ms" }}
    contact "a1" closed-when="picked up"
}}
circuit "Auxiliary" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Auxiliary trip" from="P" to="N" {{ parallel {{ contact "TRIP" "a1"; {monitors} }}; coil "94" }}
}}
"#
        ))
    };
    // 140 V over 2 + 12 kohm: 20 V; three side by side, 2 + 4 kohm: 46.7 V.
    let one = of(&relay(&monitor("1")));
    near(load(coil(&one, "94"), "52 open", &[]).volts, 20.0);
    assert!(finding(&one, "monitor-operates-coil").is_none());
    let three = of(&relay(&[monitor("1"), monitor("2"), monitor("3")].join("; ")));
    let found = finding(&three, "monitor-operates-coil").unwrap();
    assert!(found.message.contains("L1, L2 and L3 leave 46.7 V on 94"), "{}", found.message);
}

#[test]
fn a_lamp_across_the_close_contact_holds_the_anti_pump_relay() {
    let close = |lamp: &str| {
        scheme(&format!(
            r#"
relay "52Y" "Anti-pump" place="P" {{
    coil {{ resistance "1800 ohm"; works "70 to 140 V"; pickup "50 to 68 V"; dropout "15 to 40 V"; pickup-time "12 to 20 ms"; dropout-time "8 to 20 ms" }}
    contact "a1" closed-when="picked up"
    contact "b1" closed-when="dropped out"
}}
circuit "Close" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "Close coil" from="P" to="N" {{
        parallel {{ contact "CLOSE" "a1"; {lamp} }}
        wire "C1"
        contact "52Y" "b1"
        contact "52" "b1"
        coil "52" "close"
    }}
    leg "Anti-pump" from="C1" to="N" {{ parallel {{ contact "52" "a1"; contact "52Y" "a1" }}; coil "52Y" }}
}}
"#
        ))
    };
    // Sealed in: 140 V over 3686 + 1800 ohm leaves 45.9 V on 52Y, which lets go below 15 V.
    let strong = of(&close(
        r#"branch { resistor "R1" "3 kohm" power="15 W"; lamp "GREEN" "35 mA" rated="24 V" watches="52 close" }"#,
    ));
    let anti_pump = coil(&strong, "52Y");
    near(load(anti_pump, "52 open, 52Y picked up", &[]).volts, 140.0 * 1800.0 / 5485.714);
    let found = finding(&strong, "monitor-holds-coil").unwrap();
    assert!(found.message.starts_with("52Y may stay picked up"), "{}", found.message);
    // The close coil itself is watched without danger.
    near(load(coil(&strong, "52 close"), "52 open", &[]).volts, 140.0 * 41.0 / (41.0 + 3685.714));
    // 40 kohm of an input in place of the lamp: 6 V.
    let weak = of(&close(
        r#"branch { resistor "R1" "40 kohm" power="1 W"; lamp "GREEN" "3 mA" rated="24 V" }"#,
    ));
    assert!(finding(&weak, "monitor-holds-coil").is_none(), "{:#?}", weak.findings);
}

#[test]
fn an_input_that_watches_the_wrong_wire_watches_nothing() {
    let scheme = scheme(&format!(
        r#"
ied "21" "Line protection" place="P" {{
    input "watch" resistance="40 kohm" on-above="80 V" off-below="60 V" watches="52 trip"
}}
circuit "Other" supply="DC1" {{
    feed {{ fuse "F3" "6 A"; wire "P2" }}
    return {{ wire "N2"; fuse "F4" "6 A" }}
    leg "Watch" {{ input "21" "watch" }}
}}
{}"#,
        trip_circuit(r#"contact "52" "b2""#)
    ));
    let found = of(&scheme);
    let found = finding(&found, "watches-nothing").unwrap();
    assert!(found.message.contains("21 watch watches 52 trip in name only"), "{}", found.message);
}

#[test]
fn the_greatest_resistor_in_front_of_a_supervising_contact() {
    // A contact that needs 20 V and 1.5 mA at 80 % of 125 V: (100 - 20) / 1.5 mA = 53.3 kohm.
    let text =
        trip_circuit(r#"branch { resistor "R1" "40 kohm" power="1 W"; input "21" "watch" }"#);
    let scheme = scheme(&format!(
        r#"
ied "21" "Line protection" place="P" {{
    input "watch" resistance="13333.333 ohm" on-above="20 V" off-below="15 V" least="1.5 mA" watches="52 trip"
}}
{text}"#
    ));
    let text = scheme.sources.files.iter().next().unwrap().1.text.clone();
    let low = slip_text(&text, r#"range="105 to 140 V""#, r#"range="100 to 140 V""#);
    let monitors = of(&low);
    let most = monitors.resistors[0].most_ohm.unwrap();
    assert!((most - 53_333.0).abs() < 30.0, "{most} (the coil takes 21 ohm of it)");
    assert!(finding(&monitors, "monitor-weak").is_none());
    // One third more, and the end of discharge drops it.
    let weak = slip_text(&text, r#""40 kohm" power"#, r#""70 kohm" power"#);
    let found = of(&weak);
    let found = finding(&found, "monitor-weak").unwrap();
    assert!(found.message.contains("21 watch may go off with 52 trip whole"), "{}", found.message);
    // 105 V: 70 kohm must come down to (105 - 20) / 1.5 mA = 56.67 kohm, less the coil's 21 ohm. Its
    // 1 W stands 140 V from 19.6 kohm on, the input shorted.
    let help = found.help.as_ref().unwrap();
    assert!(help.starts_with("R1 may have at most 56.6 kohm, and at least 19.6 kohm"), "{help}");
}

#[test]
fn the_power_of_a_resistor_with_the_input_behind_it_shorted() {
    // 2.7 kohm at 125 V: 45.9 mA and 5.8 W, at 140 V 7.3 W, less 1 % for the coil in series.
    let scheme = scheme(&format!(
        r#"
ied "21" "Line protection" place="P" {{
    input "watch" resistance="40 kohm" on-above="60 V" off-below="50 V" watches="52 trip"
}}
{}"#,
        trip_circuit(r#"branch { resistor "R1" "2.7 kohm" power="5 W"; input "21" "watch" }"#)
    ));
    let monitors = of(&scheme);
    let row = &monitors.resistors[0];
    near(row.worst, 2700.0 * (140.0_f64 / (2700.0 + 20.8333)).powi(2));
    assert!((row.worst / 7.3 - 1.0).abs() < 0.03, "{}", row.worst);
    assert_eq!(row.shorted, ["21 watch"]);
    let found = finding(&monitors, "resistor-power").unwrap();
    assert_eq!(found.message, "R1 takes 7.15 W with 21 watch shorted; it is rated 5 W");
    // Its own 5 W: 140² x R / (R + 20.8)² = 5 W at R = 3878 ohm. The input is on from 60 V at 105 V:
    // 40 kohm x (105 / 60 - 1) = 30 kohm, less the coil's 21 to 25 ohm and the wires.
    assert_eq!(
        found.help.as_deref(),
        Some(
            "check its ohms (2.7 kohm): with 3.88 kohm or more it takes no more than it is rated for, \
             and with 29.9 kohm or less all behind it is surely on; if they are right: a resistor of 15 \
             W (twice its load)"
        )
    );
}

#[test]
fn quillmere_watches_trip_coil_1_closed_only_and_trip_coil_2_always() {
    let monitors = of(&example("quillmere"));
    let share = |coil_name: &str, position: &str| {
        let found = coil(&monitors, coil_name);
        let coverage = found.coverage.iter().find(|coverage| coverage.position == position);
        let coverage = coverage.unwrap();
        (coverage.common_covered, coverage.common_pieces)
    };
    // F3, the return core, F4, 52 a2 and the coil are common to every way.
    assert_eq!(share("52 trip 1", "52 closed"), (5, 5));
    assert_eq!(share("52 trip 1", "52 open"), (0, 5));
    assert_eq!(share("52 trip 2", "52 closed"), (5, 5));
    // With the breaker open 52 a3 itself is bridged by 52 b3 and R3.
    assert_eq!(share("52 trip 2", "52 open"), (4, 5));
    let trip = coil(&monitors, "52 trip 1");
    let burnt = trip.burnt.iter().find(|burnt| burnt.lamp == "RED").unwrap();
    assert_eq!(burnt.told_apart_by, ["21A TC1 watch"]);
    let uncovered = &trip.coverage.iter().find(|it| it.position == "52 closed").unwrap().uncovered;
    let names: Vec<&str> = uncovered.iter().map(|piece| piece.part.as_str()).collect();
    assert!(names.contains(&"21A trip") && !names.contains(&"TS1/1"), "{names:?}");
}

#[test]
fn slips_in_an_example_are_found() {
    // The threshold of the input ten times too high, its resistance ten times too low.
    let high = of(&slip("quillmere", r#"on-above "80 V""#, r#"on-above "115 V""#));
    assert!(finding(&high, "monitor-weak").is_some(), "{:?}", ids(&high));
    let low = of(&slip("quillmere", r#"resistance "40 kohm""#, r#"resistance "4 kohm""#));
    assert!(finding(&low, "monitor-dark").or(finding(&low, "monitor-weak")).is_some());
}

/// A 94 of 3 kohm behind 4.4 kohm and a lamp of 24 V, 35 mA, from -30 to 50 C.
fn relay_in_the_cold(pickup: &str, dropout: &str) -> Scheme {
    let text = scheme(&format!(
        r#"
relay "94" "Auxiliary trip" place="P" {{
    coil {{ resistance "3000 ohm"; works "85 to 140 V"; pickup "{pickup}"; dropout "{dropout}"; pickup-time "5 to 8 ms"; dropout-time "5 to 15 ms" }}
    contact "a1" closed-when="picked up"
}}
circuit "Auxiliary" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Auxiliary trip" from="P" to="N" {{
        parallel {{ contact "TRIP" "a1"; branch {{ resistor "R1" "4400 ohm" power="10 W"; lamp "RED" "35 mA" rated="24 V" }} }}
        coil "94"
    }}
}}
"#
    ));
    let text = text.sources.files.iter().next().unwrap().1.text.clone();
    slip_text(&text, r#"ambient="20 C""#, r#"ambient="-30 to 50 C""#)
}

#[test]
fn a_cold_coil_is_moved_by_its_current_not_by_its_volts() {
    // Copper at -30 C has 234.5 - 30 over 234.5 + 20 of its resistance at 20 C (IEC 60228).
    let cold = 3000.0 * 204.5 / 254.5;
    let healthy = 140.0 / (cold + 4400.0 + 685.714);
    let shorted = 140.0 / (cold + 4400.0);
    let monitors = of(&relay_in_the_cold("60 to 80 V", "54 to 59 V"));
    let relay = coil(&monitors, "94");
    near(load(relay, "52 open", &[]).amps, healthy);
    // 45.0 V stand on the cold coil; its current is that of 56.0 V at 20 C.
    near(load(relay, "52 open", &[]).volts, healthy * 3000.0);
    near(load(relay, "52 open", &[]).of_pickup, healthy * 3000.0 / 60.0);
    near(load(relay, "52 open, 94 picked up", &[]).of_dropout, healthy * 3000.0 / 54.0);
    let found = finding(&monitors, "monitor-holds-coil").unwrap();
    assert_eq!(found.severity, Severity::Finding);
    assert!(found.message.contains("RED leaves 18.7 mA (56 V at 20 C) on it"), "{found:?}");
    assert!(found.why.as_ref().unwrap().contains("as volts on the coil at 20 C"), "{found:?}");
    let found = finding(&monitors, "monitor-short-operates").unwrap();
    assert_eq!(found.severity, Severity::Finding);
    near(load(relay, "52 open", &["RED"]).volts, shorted * 3000.0);
    assert!(found.message.contains("RED shorted puts 20.6 mA (61.7 V at 20 C) on 94"), "{found:?}");
}

#[test]
fn a_shorted_lamp_is_told_beside_a_shorted_resistor() {
    let monitors = of(&relay_in_the_cold("60 to 80 V", "50 to 59 V"));
    let relay = coil(&monitors, "94");
    assert!(!load(relay, "52 open", &["RED"]).unlikely);
    assert!(load(relay, "52 open", &["R1"]).unlikely);
}
