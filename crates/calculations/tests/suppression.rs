//! Diodes, varistors and resistors across coils: against published values and on whole schemes.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]
#![allow(clippy::disallowed_methods, reason = "an expected value, compared with a margin")]

use fiftytwo_calculations::suppression::{Action, Decay, Suppression, suppression};
use fiftytwo_circuit::Wiring;
use fiftytwo_scheme::{Scheme, read_text};
use serde_json::Value;
use std::path::Path;

/// The natural logarithm of 1.5 (table of logarithms).
const LN_1_5: f64 = 0.405_465_108_108_164_4;

fn checks() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/suppression.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(row: &Value, name: &str) -> f64 {
    row[name].as_f64().unwrap_or_else(|| panic!("{name} in {row}"))
}

#[test]
fn a_current_dies_as_the_textbooks_say() {
    for row in checks()["falls"]["rows"].as_array().unwrap() {
        let (k, f) = (number(row, "k"), number(row, "f"));
        let decay =
            Decay { amps: 2.0, ohm: 50.0, time_constant: 1.0, clamp: k * 100.0, series: 0.0 };
        let found = decay.falls_to(f).unwrap();
        assert!((found - number(row, "t")).abs() < 6e-8, "{row}: {found}");
    }
}

#[test]
fn a_current_dies_as_a_circuit_simulator_says() {
    let checks = checks();
    let cases = checks["cases"].as_array().unwrap();
    assert!(cases.len() >= 10);
    for row in cases {
        let ohm = number(row, "ohm");
        let decay = Decay {
            amps: number(row, "volts") / ohm,
            ohm,
            time_constant: number(row, "tau_ms") / 1e3,
            clamp: number(row, "clamp"),
            series: number(row, "series"),
        };
        let found = decay.falls_to(number(row, "f")).unwrap() * 1e3;
        assert!((found - number(row, "ms")).abs() <= number(row, "within"), "{row}: {found}");
    }
}

#[test]
fn a_coil_holds_half_l_i_squared() {
    for row in checks()["energies"].as_array().unwrap() {
        let decay = Decay {
            amps: number(row, "amps"),
            ohm: number(row, "ohm"),
            time_constant: number(row, "tau_ms") / 1e3,
            clamp: 0.0,
            series: 0.0,
        };
        assert!((decay.energy() - number(row, "joule")).abs() <= number(row, "within"), "{row}");
    }
}

/// The energy in clamp and series resistance against the same integral summed in small steps
/// (trapezoids): a general method that shares nothing with the closed form.
#[test]
fn what_a_clamp_absorbs_is_the_integral_of_its_power() {
    for (clamp, series) in [(0.7, 0.0), (50.0, 0.0), (250.0, 0.0), (50.0, 30.0), (5e6, 0.0)] {
        let decay = Decay { amps: 5.0, ohm: 25.0, time_constant: 0.04, clamp, series };
        let end = decay.falls_to(0.0).unwrap();
        let henry = decay.henry();
        let steps = 400_000_u32;
        let h = end / f64::from(steps);
        let slope = |i: f64| -((25.0 + series) * i + clamp) / henry;
        let (mut current, mut in_clamp, mut in_series) = (5.0_f64, 0.0, 0.0);
        for _ in 0..steps {
            let half = current + 0.5 * h * slope(current);
            let next = current + h * slope(half);
            in_clamp += clamp * 0.5 * (current + next) * h;
            in_series += series * 0.5 * (current * current + next * next) * h;
            current = next;
        }
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-5 * b.abs().max(1e-6);
        assert!(near(decay.in_clamp(), in_clamp), "{clamp}: {} {in_clamp}", decay.in_clamp());
        assert!(near(decay.in_series(), in_series), "{series}: {} {in_series}", decay.in_series());
        assert!(decay.in_clamp() + decay.in_series() <= decay.energy() * (1.0 + 1e-12));
    }
}

/// A relay with something across its coil. `leg` stands from the coil's minus end to its plus end.
fn relay(leg: &str) -> Scheme {
    let text = format!(
        r#"
scheme "Suppression" revision="A"
place "A" "Panel" ambient="20 to 20 C"
supply "DC1" "125 V DC" range="125 to 125 V" place="A"
person "operator" place="A" {{ may "PB" }}
button "PB" "Order" place="A" {{ contact "a1" closed-when="pressed" }}
relay "K" "Relay" place="A" {{
    coil resistance="2000 ohm" works="85 to 140 V" pickup="60 to 80 V" dropout="31.25 V" {{
        pickup-time "10 to 20 ms"
        dropout-time "8 to 20 ms"
        time-constant "20 ms"
    }}
}}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Coil" {{ contact "PB" "a1"; wire "C"; coil "K" }}
    {leg}
}}
"#
    );
    let reading = read_text("test.kdl", &text);
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

fn only(scheme: &Scheme) -> Suppression {
    let wiring = Wiring::new(scheme).unwrap();
    let mut found = suppression(&wiring);
    assert_eq!(found.len(), 1, "{found:#?}");
    found.remove(0)
}

fn ids(found: &Suppression) -> Vec<&'static str> {
    found.findings.iter().map(|finding| finding.id).collect()
}

#[test]
fn a_diode_keeps_a_relay_longer_than_its_dropout_time_says() {
    let scheme = relay(r#"leg "Diode" from="N" to="C" { diode "V1" drop="0 V" }"#);
    let found = only(&scheme);
    assert_eq!(found.action, Action::Diode);
    let [least, most] = found.release_ms.unwrap();
    // 20 ms ln 4.
    assert!((least - 27.725887).abs() < 1e-5 && (most - 27.725887).abs() < 1e-5, "{found:?}");
    assert_eq!(ids(&found), ["suppression-slows-dropout"]);
    let finding = &found.findings[0];
    assert!(finding.message.contains("27.7"), "{}", finding.message);
    let help = finding.help.as_deref().unwrap();
    // A clamp of twice the supply: 20 ms ln(3/2.25).
    assert!(help.contains("250 V") && help.contains("5.75 ms"), "{help}");
    assert!(help.contains("35.7 to 48 ms"), "{help}");
}

#[test]
fn a_diode_whose_delay_is_declared_is_no_finding() {
    let scheme =
        relay(r#"leg "Clamp" from="N" to="C" { diode "V1" drop="0 V"; resistor "R1" "6 kohm" }"#);
    let found = only(&scheme);
    // L/R falls to a quarter: 6.93 ms.
    let [least, most] = found.release_ms.unwrap();
    assert!((least - 6.9314718).abs() < 1e-5 && (most - 6.9314718).abs() < 1e-5, "{found:?}");
    assert!(found.findings.is_empty(), "{:#?}", found.findings);
    // The supply's 125 V and 62.5 mA through 6 kohm.
    // A section with a diode is solved behind at least 1e-7 ohm of its supply.
    assert!((found.peak_volts.unwrap() - 500.0).abs() < 1e-6, "{found:?}");
}

#[test]
fn a_diode_the_wrong_way_round_is_a_short() {
    let scheme = relay(r#"leg "Diode" from="C" to="N" { diode "V1" }"#);
    let found = only(&scheme);
    assert_eq!(found.action, Action::Shorts);
    assert_eq!(ids(&found), ["diode-reversed"]);
    assert!(found.release_ms.is_none());
    assert!(found.findings[0].message.contains("shorts DC1"), "{}", found.findings[0].message);
}

#[test]
fn a_reversed_diode_behind_a_resistor_draws_a_current_that_is_told() {
    let scheme = relay(r#"leg "Diode" from="C" to="N" { diode "V1"; resistor "R1" "250 ohm" }"#);
    let found = only(&scheme);
    assert_eq!(ids(&found), ["diode-reversed"]);
    assert!(found.findings[0].message.contains("0.5 A"), "{}", found.findings[0].message);
}

#[test]
fn a_varistor_that_takes_too_little_is_found() {
    // 20 ms of 2000 ohm at 62.5 mA hold 78 mJ; a clamp of 250 V takes
    // V tau I (1 - 2 ln 1.5) = 59.1 mJ of it.
    let scheme = relay(r#"leg "Clamp" from="C" to="N" { varistor "V1" "250 V" absorbs="0.05 J" }"#);
    let found = only(&scheme);
    assert_eq!(found.action, Action::Clamp);
    assert!((found.energy_j - 0.078125).abs() < 1e-9, "{found:?}");
    assert!((found.clamp_j - 0.3125 * (1.0 - 2.0 * LN_1_5)).abs() < 1e-9, "{found:?}");
    assert_eq!(ids(&found), ["suppression-absorbs-too-little"]);
    assert!((found.peak_volts.unwrap() - 375.0).abs() < 1e-9);
    let enough = relay(r#"leg "Clamp" from="C" to="N" { varistor "V1" "250 V" absorbs="0.06 J" }"#);
    assert!(only(&enough).findings.is_empty());
}

#[test]
fn a_clamp_below_the_supply_and_a_weak_diode_are_found() {
    let low = relay(r#"leg "Clamp" from="C" to="N" { varistor "V1" "100 V" absorbs="1 J" }"#);
    assert_eq!(ids(&only(&low)), ["clamp-below-supply"]);
    let weak = relay(
        r#"leg "Diode" from="N" to="C" { diode "V1" blocks="50 V"; resistor "R1" "10 kohm" }"#,
    );
    assert_eq!(ids(&only(&weak)), ["diode-blocks-too-little"]);
}

#[test]
fn a_resistor_across_a_coil_has_to_stand_the_supply() {
    // 125² / 1000 = 15.6 W; 20 ms ln 4 times 2/3 stays within the 20 ms declared.
    let scheme = relay(r#"leg "R" from="C" to="N" { resistor "R1" "1 kohm" power="10 W" }"#);
    let found = only(&scheme);
    assert_eq!(found.action, Action::Resistor);
    assert_eq!(ids(&found), ["resistor-overloaded"]);
    assert!(found.findings[0].message.contains("15.6 W"), "{}", found.findings[0].message);
}

#[test]
fn what_stands_across_a_contact_too_is_not_taken_for_suppression() {
    let scheme = relay(r#"leg "Lamp" from="P" to="C" { resistor "R1" "50 kohm" }"#);
    assert!(suppression(&Wiring::new(&scheme).unwrap()).is_empty());
}

#[test]
fn a_diode_across_the_contact_too_is_told_with_the_contact_it_bridges() {
    let found = only(&relay(r#"leg "Diode" from="N" to="P" { diode "V1" drop="0 V" }"#));
    assert_eq!((found.action, found.inside.as_slice()), (Action::Diode, &["PB a1".to_owned()][..]));
    // 20 ms ln 4, as at the coil itself: a closed contact adds nothing to the loop.
    assert!((found.release_ms.unwrap()[1] - 27.725887).abs() < 1e-5, "{found:?}");
    assert_eq!(ids(&found), ["suppression-bridges-contacts", "suppression-slows-dropout"]);
    let told = &found.findings[0];
    assert!(told.message.contains("takes nothing up when PB a1 opens first"), "{told:?}");
}

#[test]
fn the_cable_inside_the_loop_of_a_diode_shortens_the_release() {
    let scheme = relay("");
    let text = scheme.sources.files.iter().next().unwrap().1.text.clone();
    let far = text
        .replace(
            "supply \"DC1\"",
            "place \"B\" \"Yard\" ambient=\"20 to 20 C\"\ncable \"C1\" from=\"A\" to=\"B\" \
             length=\"9000 m\" size=\"18 AWG\" cores=2\nsupply \"DC1\"",
        )
        .replace("relay \"K\" \"Relay\" place=\"A\"", "relay \"K\" \"Relay\" place=\"B\"")
        .replace(
            "wire \"C\"; coil \"K\"",
            "wire \"C\"; core \"C1\" 1 into=\"B\"; coil \"K\"; core \"C1\" 2 into=\"A\"",
        )
        .replace(
            "leg \"Coil\"",
            "leg \"Diode\" from=\"N\" to=\"C\" { diode \"V1\" drop=\"0 V\" }\n    leg \"Coil\"",
        );
    let reading = read_text("far.kdl", &far);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let found = only(&scheme);
    assert_eq!(found.inside, ["C1/1", "C1/2"]);
    // L = 40 H; two cores in the loop of the current and of its decay.
    let size = fiftytwo_scheme::WireSize::Awg(18);
    let copper = fiftytwo_scheme::Material::Copper;
    let cores = 2.0 * 9000.0 * fiftytwo_circuit::conductor::ohm_per_metre(size, copper, 20.0);
    let ohm = 2000.0 + cores;
    let expected = 40.0 / ohm * (125.0 * 2000.0 / ohm / 31.25).ln() * 1e3;
    let [least, most] = found.release_ms.unwrap();
    assert!((most / expected - 1.0).abs() < 1e-3 && (least / expected - 1.0).abs() < 1e-3);
    assert!(expected < 25.0, "{expected}: well below the 27.7 ms at the coil");
}

/// The relay of [`relay`], its resistance at a temperature, in a place of another.
fn relay_at(given: &str, ambient: &str) -> Scheme {
    let text = format!(
        r#"
scheme "Cold" revision="A"
place "A" "Cabinet" ambient="{ambient}"
supply "DC1" "125 V DC" range="125 to 125 V" place="A"
person "operator" place="A" {{ may "PB" }}
button "PB" "Order" place="A" {{ contact "a1" closed-when="pressed" }}
relay "K" "Relay" place="A" {{
    coil resistance="2000 ohm at {given} C" works="85 to 140 V" dropout="31.25 V" {{
        time-constant "20 ms"
    }}
}}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Coil" {{ contact "PB" "a1"; wire "C"; coil "K" }}
    leg "Diode" from="N" to="C" {{ diode "V1" drop="0 V" }}
}}
"#
    );
    let reading = read_text("test.kdl", &text);
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

/// L does not change with temperature, so that L/R and the energy grow as the coil gets cold; it lets
/// go at the same current, which is less of a greater one.
#[test]
fn a_cold_coil_lets_go_later_and_gives_up_more() {
    for row in checks()["warmth"].as_array().unwrap() {
        let (given, is) = (number(row, "given_at"), number(row, "celsius"));
        let scheme = relay_at(&given.to_string(), &format!("{is} to {is} C"));
        let found = only(&scheme);
        let [least, most] = found.release_ms.unwrap();
        let ms = number(row, "release_ms");
        assert!((least - ms).abs() < 0.001 && (most - ms).abs() < 0.001, "{row}: {least} {most}");
        assert!((found.energy_j - number(row, "joule")).abs() < 1e-5, "{row}: {}", found.energy_j);
    }
}
