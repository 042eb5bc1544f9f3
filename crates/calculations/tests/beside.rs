//! What lamps and inputs leave on a coil when something stands beside it, what they get at the worse
//! end of their own tolerance, and whether what is printed as a bound holds at the bound and not past
//! it.
//!
//! Numbers: Ohm's law for two or three resistances, written out beside each; copper has (234.5 + t)
//! over (234.5 + 20) of its resistance at 20 C (IEC 60228).
#![allow(clippy::disallowed_methods, reason = "compared with a bound, not digit by digit")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::monitors::{Load, ResistorRow};
use fiftytwo_calculations::{Calculations, calculate};
use fiftytwo_scheme::{Finding, Severity, read_text};

const RELAY: &str = r#"coil resistance="2000 ohm" works="70 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V" pickup-time="25 to 40 ms" dropout-time="5 to 60 ms"
    contact "a1" closed-when="picked up""#;

fn text(devices: &str, legs: &str) -> String {
    format!(
        r#"
scheme "Beside"
place "HOUSE" "Control house" ambient="0 to 40 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
ground "DC1" plus="200 kohm" minus="200 kohm" capacitance="1 uF" alarms-below="10 kohm"
condition "c"
button "PB" "Trip" place="HOUSE" {{ contact "a1" closed-when="pressed" }}
sensor "S" place="HOUSE" {{ contact "x" closed-when="c" }}
person "t" place="HOUSE" {{ may "PB" }}
{devices}
circuit "Trip" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    {legs}
}}
"#
    )
}

fn relays(names: &[&str]) -> String {
    names
        .iter()
        .map(|name| format!("relay \"{name}\" place=\"HOUSE\" {{\n    {RELAY}\n}}\n"))
        .collect()
}

fn of(text: &str) -> Calculations {
    let reading = read_text("beside.kdl", text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    calculate(&reading.scheme.unwrap()).unwrap()
}

/// A 94 behind a button, `beside` across the button and `shunt` across the coil.
fn one(beside: &str, shunt: &str) -> Calculations {
    of(&text(
        &relays(&["94"]),
        &format!(
            r#"leg "94" {{ contact "PB" "a1"; wire "T1"; coil "94" }}
    leg "m" from="P" to="T1" {{ {beside} }}
    {shunt}"#
        ),
    ))
}

fn grave(found: &Calculations) -> Vec<Finding> {
    let grave = found.findings().into_iter();
    grave.filter(|it| it.severity == Severity::Finding).collect()
}

fn ids(found: &Calculations) -> Vec<&'static str> {
    grave(found).iter().map(|it| it.id).collect()
}

fn healthy<'f>(found: &'f Calculations, coil: &str, held: bool) -> &'f Load {
    let coil = found.monitors.coils.iter().find(|it| it.coil == coil);
    let coil = coil.unwrap_or_else(|| panic!("{coil:?} has no row"));
    coil.loads.iter().find(|load| load.shorted.is_empty() && load.held == held).unwrap()
}

fn resistor<'f>(found: &'f Calculations, name: &str) -> &'f ResistorRow {
    found.monitors.resistors.iter().find(|row| row.resistor == name).unwrap()
}

fn near(value: f64, expected: f64) {
    assert!((value / expected - 1.0).abs() < 1e-3, "{value} is not {expected}");
}

/// 2000 ohm at 0 C.
const COLD: f64 = 2000.0 * 234.5 / 254.5;

#[test]
fn a_lamp_that_picks_up_two_relays_side_by_side_is_found_on_both() {
    let found = of(&text(
        &relays(&["94", "94B"]),
        r#"leg "94" { contact "PB" "a1"; wire "T1"; coil "94" }
    leg "m" from="P" to="T1" { resistor "R1" "470 ohm" power="50 W"; lamp "RED" "80 mA" rated="48 V" }
    leg "94B" from="T1" to="N" { coil "94B" }"#,
    ));
    // 48 V / 80 mA = 600 ohm; 470 + 600 ohm in front of 1843 / 2 ohm: 70.3 mA, half of it through
    // each: 35.15 mA are 70.3 V on 2000 ohm, above the 68 V at which they surely pick up.
    let amps = 140.0 / (1070.0 + COLD / 2.0) / 2.0;
    for coil in ["94", "94B"] {
        let load = healthy(&found, coil, false);
        near(load.amps, amps);
        near(load.volts, 70.30);
        assert_eq!(load.celsius, Some(20.0));
        let told = found.monitors.findings.iter().find(|it| {
            it.id == "monitor-operates-coil" && it.message.contains(&format!("on {coil} at rest"))
        });
        let told = told.unwrap_or_else(|| panic!("{:#?}", found.monitors.findings));
        assert_eq!(told.severity, Severity::Finding);
        assert!(told.message.contains("RED leaves 35.2 mA (70.3 V at 20 C)"), "{told:?}");
    }
}

#[test]
fn a_resistor_beside_the_coil_takes_a_part_of_the_current_and_hides_nothing() {
    let beside = r#"resistor "R1" "6 kohm" power="10 W"; lamp "RED" "20 mA" rated="24 V""#;
    // 24 V / 20 mA = 1.2 kohm. 140 V over 7.2 kohm and 1843 ohm beside so many: with 2 kohm 16.5 V
    // on the coil, with 6 kohm 22.92 V (a circuit simulator: 22.924 V). As current 2000 / 1843 more.
    for (shunt, across) in [(2e3, 16.47), (6e3, 22.924), (10e3, 24.86)] {
        let found = one(
            beside,
            &format!(r#"leg "sh" from="T1" to="N" {{ resistor "RS" "{shunt} ohm" power="50 W" }}"#),
        );
        let beside_coil = COLD * shunt / (COLD + shunt);
        near(140.0 * beside_coil / (7200.0 + beside_coil), across);
        near(healthy(&found, "94", true).volts, across * 2000.0 / COLD);
        // It surely lets go only below 15 V.
        assert!(ids(&found).contains(&"monitor-holds-coil"), "{:?}", ids(&found));
    }
    let alone = one(beside, "");
    near(healthy(&alone, "94", true).volts, 140.0 / (7200.0 + COLD) * 2000.0);
    assert!(ids(&alone).contains(&"monitor-holds-coil"));
}

/// A bare resistor across the contact of a relay (coil 2 kohm, 1842.8 ohm at 0 C). 2 kohm: 140 x
/// 1842.8/3842.8 = 67.1 V, 72.9 V as current at 20 C: above the least pickup of 50 V. 6 kohm: 140 x
/// 1842.8/7842.8 = 32.9 V, 35.7 V at 20 C: it stays picked up, since it surely lets go only below 15 V.
/// 20 kohm: 140 x 1842.8/21842.8 = 11.8 V, 12.8 V at 20 C: above a fifth of pickup, below 15 V.
#[test]
fn a_bare_resistor_across_the_contact_of_a_relay_is_not_passed() {
    let with = |ohm: &str| one(&format!(r#"resistor "R1" "{ohm}" power="20 W""#), "");
    let told =
        |found: &Calculations| grave(found).into_iter().find(|it| it.id == "resistor-keeps-relay");
    let moves = told(&with("2 kohm")).unwrap();
    assert!(moves.message.contains("72.9 V at 20 C"), "{moves:?}");
    assert!(moves.message.contains("may pick up from 50 V"), "{moves:?}");
    let holds = told(&with("6 kohm")).unwrap();
    assert!(holds.message.contains("35.7 V at 20 C"), "{holds:?}");
    assert!(holds.message.contains("lets go only below 15 V"), "{holds:?}");
    assert!(told(&with("20 kohm")).is_none());
    // What the cure says, typed in, cures: the next standard value is in it.
    let cure = holds.help.unwrap();
    let ohm = cure.split_once("at least ").and_then(|(_, rest)| rest.split_once(':')).unwrap().0;
    assert!(told(&with(ohm)).is_none(), "{cure}");
    // No example has one.
    for name in ["quillmere", "dunmarrow", "harrowfen", "harrowfen-direct", "latches"] {
        let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
        let scheme = fiftytwo_scheme::read_path(path.as_ref()).scheme.unwrap();
        assert!(told(&calculate(&scheme).unwrap()).is_none(), "{name}");
    }
}

/// A resistor of 1 to 4 kohm across the coil takes the least where it has 4 kohm: coil of 2 kohm at 0 C
/// 2000 x 234.5/254.5 = 1842.8 ohm, beside 4 kohm 1261.6; in front 6 kohm and a lamp of 24 V / 20 mA =
/// 1.2 kohm: 140 x 1261.6 / 8461.6 = 20.87 V, as current at 20 C 20.87 x 254.5/234.5 = 22.65 V. It
/// surely lets go only below 15 V. With 1 kohm across it 11.56 V would stay, 12.5 V at 20 C.
#[test]
fn what_stands_beside_a_coil_counts_at_its_most_ohms() {
    let beside = r#"resistor "R1" "6 kohm" power="10 W"; lamp "RED" "20 mA" rated="24 V""#;
    let found =
        one(beside, r#"leg "sh" from="T1" to="N" { resistor "RS" "1 to 4 kohm" power="50 W" }"#);
    let load = healthy(&found, "94", true);
    let coil = 2000.0 * 234.5 / 254.5;
    let across = 1.0 / (1.0 / coil + 1.0 / 4000.0);
    let volts = 140.0 * across / (across + 7200.0) * 254.5 / 234.5;
    assert!((load.volts - volts).abs() < 0.01, "{load:?}");
    assert!((volts - 22.65).abs() < 0.01 && load.beside == ["RS"], "{load:?}");
    assert!(ids(&found).contains(&"monitor-holds-coil"), "{:?}", ids(&found));
    // With 1 kohm for certain it is held by nothing: 12.5 V.
    let found = one(beside, r#"leg "sh" from="T1" to="N" { resistor "RS" "1 kohm" power="50 W" }"#);
    assert!(!ids(&found).contains(&"monitor-holds-coil"), "{:?}", ids(&found));
}

#[test]
fn what_drives_a_coil_beside_a_lamp_is_not_the_lamps_doing() {
    // The relay is held in by a sensor that is closed at rest: the lamp beside it adds nothing.
    let found = of(&text(
        &relays(&["94"]).replace("a1\" closed-when", "a1\" \"b1\" closed-when"),
        r#"leg "94" { parallel { fuse "F9" "6 A"; branch { resistor "R1" "6 kohm" power="10 W"; lamp "RED" "20 mA" rated="24 V" } }; coil "94" }"#,
    ));
    assert!(!ids(&found).iter().any(|id| id.starts_with("monitor-")), "{:?}", ids(&found));
}

#[test]
fn a_lamp_alone_in_front_of_two_trip_coils_is_found() {
    let breaker = r#"breaker "52" place="HOUSE" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" max-on="1 s"
    coil "trip B" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" max-on="1 s"
    contact "a1" closed-when="closed"
}"#;
    let found = of(&text(
        breaker,
        r#"leg "Trip" { contact "PB" "a1"; wire "T1"; contact "52" "a1"; wire "T2"; coil "52" "trip" }
    leg "B" from="T2" to="N" { coil "52" "trip B" }
    leg "m" from="P" to="T1" { lamp "RED" "25 mA" }"#,
    ));
    let told: Vec<&Finding> =
        found.monitors.findings.iter().filter(|it| it.id == "monitor-alone").collect();
    assert_eq!(told.len(), 2, "{:#?}", found.monitors.findings);
    // 140 V on 22 ohm at 0 C, 20.3 ohm: 6.91 A, as 152 V would drive at 20 C.
    assert!(told[0].message.contains("shorted, it puts 6.91 A (152 V at 20 C) on it"), "{told:?}");
    // A break of one coil shows nowhere: the other leads the lamp's current.
    assert_eq!(found.monitors.unwatched, ["52 trip", "52 trip B"]);
}

/// An input that watches a 94, behind a resistor.
fn watched(input: &str, ohm: &str) -> Calculations {
    let ied = format!("ied \"21\" place=\"HOUSE\" {{ input \"mon\" {input} watches=\"94\" }}\n");
    let text = text(
        &(relays(&["94"]).replace("2000 ohm", "20 ohm") + &ied),
        &format!(
            r#"leg "94" {{ contact "PB" "a1"; wire "T1"; coil "94" }}
    leg "m" from="P" to="T1" {{ resistor "R9" "{ohm}" power="50 W"; input "21" "mon" }}"#
        ),
    );
    of(&text)
}

#[test]
fn an_input_gets_fewest_volts_with_its_own_fewest_ohms() {
    let found =
        watched(r#"resistance="25 to 60 kohm" on-above="80 V" off-below="60 V""#, "22 kohm");
    let row = found.loads.rows.iter().find(|row| row.part == "21 mon").unwrap();
    let (least, most) = (row.least.as_ref().unwrap(), row.most.as_ref().unwrap());
    // 105 V * 25 / 47 kohm and 140 V * 60 / 82 kohm; its current is least with 60 kohm, 105 V / 82
    // kohm, and most with 25 kohm, 140 V / 47 kohm.
    near(least.volts, 105.0 * 25.0 / 47.02);
    near(most.volts, 140.0 * 60.0 / 82.02);
    near(least.amps.unwrap(), 105.0 / 82.02e3);
    near(most.amps.unwrap(), 140.0 / 47.02e3);
    assert!(found.monitors.findings.iter().any(|it| it.message.contains("it gets 55.8 V")));
    // 18 kohm: with its middle resistance it would pass, with 25 kohm it gets 61 V of 80 V.
    let found =
        watched(r#"resistance="25 to 60 kohm" on-above="80 V" off-below="60 V""#, "18 kohm");
    assert!(ids(&found).contains(&"monitor-weak"), "{:?}", ids(&found));
    // Its cure: 25 kohm * (105 / 80 - 1) = 7.81 kohm, less the coil's 20 ohm.
    near(resistor(&found, "R9").most_ohm.unwrap(), 25e3 * (105.0 / 80.0 - 1.0) - 21.5);
    let cured =
        watched(r#"resistance="25 to 60 kohm" on-above="80 V" off-below="60 V""#, "7.78 kohm");
    assert!(!ids(&cured).contains(&"monitor-weak"), "{:?}", ids(&cured));
}

#[test]
fn an_input_without_ohms_is_a_typical_one_at_its_worse_end() {
    // 1 to 4 mA at 125 V are 31.25 to 125 kohm: 105 V * 31.25 / 53.27 kohm = 61.6 V.
    let found = watched(r#"on-above="80 V" off-below="60 V""#, "22 kohm");
    let row = found.loads.rows.iter().find(|row| row.part == "21 mon").unwrap();
    near(row.least.as_ref().unwrap().volts, 61.6);
}

/// A trip coil of 20 ohm with a lamp and an opto input, each behind its resistor.
fn string(lamp: f64, opto: f64) -> Calculations {
    let ied = "curve \"opto\" { point \"20 V\" \"0 mA\"; point \"80 V\" \"2 mA\"; point \"200 V\" \"6 mA\" }
ied \"21\" place=\"HOUSE\" { input \"mon\" curve=\"opto\" on-above=\"80 V\" off-below=\"60 V\" watches=\"94\" }\n";
    of(&text(
        &(relays(&["94"]).replace("2000 ohm", "20 ohm") + ied),
        &format!(
            r#"leg "94" {{ contact "PB" "a1"; wire "T1"; coil "94" }}
    leg "m" from="P" to="T1" {{ resistor "R1" "{lamp:.6} ohm" power="50 W"; lamp "RED" "8 mA" rated="24 V" }}
    leg "o" from="P" to="T1" {{ resistor "R2" "{opto:.6} ohm" power="100 W"; input "21" "mon" }}"#
        ),
    ))
}

#[test]
fn what_a_resistor_may_have_holds_at_its_ends_and_not_past_them() {
    let found = string(12e3, 4.7e3);
    assert!(ids(&found).is_empty(), "{:?}", ids(&found));
    let (lamp, opto) = (resistor(&found, "R1"), resistor(&found, "R2"));
    let (lamp_least, lamp_most) = (lamp.least_ohm.unwrap(), lamp.most_ohm.unwrap());
    let (opto_least, opto_most) = (opto.least_ohm.unwrap(), opto.most_ohm.unwrap());
    // The lamp, 3 kohm: half of 8 mA at 105 V: 26.25 kohm in all. 10 mA (1.25 times) at 140 V: 14
    // kohm in all. The coil adds 20 ohm (18.4 cold, 21.6 hot) with the current of both.
    assert!((lamp_most - 23_250.0).abs() < 60.0, "{lamp_most}");
    assert!((lamp_least - 11_000.0).abs() < 60.0, "{lamp_least}");
    assert_eq!(lamp.least_for.as_deref(), Some("RED"));
    // The opto, (105 V - 80 V) / 2 mA, less what both leave on the coil.
    assert!((opto_most - 12_500.0).abs() < 120.0 && opto_most < 12_500.0, "{opto_most}");
    assert_eq!(opto.most_for.as_deref(), Some("21 mon"));
    // The opto shorted: a fifth of the 50 V from which the coil may pick up, 10 V or 0.5 A at 20 C;
    // let go below 15 V. 140 V / 0.49 A = 285 ohm, less 18.4 ohm.
    assert!((opto_least - 266.0).abs() < 10.0, "{opto_least}");
    for (what, inside, outside) in [
        ("lamp-dim", (lamp_most * (1.0 - 1e-5), 4.7e3), (lamp_most * (1.0 + 1e-5), 4.7e3)),
        ("lamp-overloaded", (lamp_least * (1.0 + 1e-5), 4.7e3), (lamp_least * (1.0 - 1e-5), 4.7e3)),
        ("monitor-weak", (12e3, opto_most * (1.0 - 1e-5)), (12e3, opto_most * (1.0 + 1e-5))),
        (
            "monitor-near-pickup",
            (12e3, opto_least * (1.0 + 1e-5)),
            (12e3, opto_least * (1.0 - 1e-5)),
        ),
    ] {
        let fine = string(inside.0, inside.1);
        assert!(ids(&fine).is_empty(), "{what} at {inside:?}: {:?}", ids(&fine));
        let past = string(outside.0, outside.1);
        let told = past.findings().iter().any(|it| it.id == what || it.id == "monitor-weak");
        assert!(told, "{what} at {outside:?}: {:?}", ids(&past));
    }
}

#[test]
fn a_cure_that_would_bring_another_finding_is_not_told() {
    // Points ten times too high: 20 mA at 80 V. No resistor of 5 W in front of it does both, and
    // a threshold that it reaches lies below the half battery that a single ground puts on it.
    let text = text(
        &(relays(&["94"]).replace("2000 ohm", "20 ohm")
            + "curve \"opto\" { point \"20 V\" \"0 mA\"; point \"80 V\" \"20 mA\"; point \"200 V\" \"60 mA\" }
ied \"21\" place=\"HOUSE\" { input \"mon\" curve=\"opto\" on-above=\"80 V\" off-below=\"60 V\" watches=\"94\" }\n"),
        r#"leg "94" { contact "PB" "a1"; wire "T1"; coil "94" }
    leg "o" from="P" to="T1" { resistor "R2" "2.5 kohm" power="5 W"; input "21" "mon" }"#,
    );
    let found = of(&text);
    let weak = found.monitors.findings.iter().find(|it| it.id == "monitor-weak").unwrap();
    let help = weak.help.as_ref().unwrap();
    assert!(help.starts_with("no value of R2 does both"), "{help}");
    assert!(help.ends_with("an input for less current (1 to 4 mA are usual)"), "{help}");
}

/// An input of 30 kohm switched by a sensor, with a resistor across the sensor's contact.
fn trickle(ohm: &str) -> Calculations {
    let ied = "ied \"R\" place=\"HOUSE\" { input \"in\" resistance=\"30 kohm\" on-above=\"80 V\" off-below=\"60 V\" }\n";
    of(&text(
        ied,
        &format!(
            r#"leg "I" {{ parallel {{ contact "S" "x"; resistor "RB" "{ohm}" power="2 W" }}; wire "W"; input "R" "in" }}"#
        ),
    ))
}

#[test]
fn an_input_that_never_goes_off_is_told_as_that_and_its_cure_cures() {
    // 140 V * 30 / 57 = 73.7 V and 140 V * 30 / 40 = 105 V with the contact open; off below 60 V:
    // 30 kohm * (140 / 60 - 1) = 40 kohm and more.
    for (ohm, gets) in [("27 kohm", "73.7 V"), ("10 kohm", "105 V")] {
        let found = trickle(ohm);
        assert_eq!(ids(&found), ["input-not-off"], "{ohm}");
        let told = &grave(&found)[0];
        assert!(told.message.contains(&format!("it gets {gets}, and is surely off")), "{told:?}");
        assert!(told.why.as_ref().unwrap().contains("at rest, supplies"), "{told:?}");
        let help = told.help.as_ref().unwrap();
        assert!(help.starts_with("RB of at least 43 kohm"), "{help}");
        // Off below 105 V or more is no cure: it goes on from 80 V.
        assert_eq!(help.contains("surely off below 74 V or more"), ohm == "27 kohm", "{help}");
    }
    assert!(ids(&trickle("43 kohm")).is_empty(), "{:?}", ids(&trickle("43 kohm")));
    // At the bound: 140 V * 30 / 70 = 60 V.
    assert!(!ids(&trickle("40.1 kohm")).contains(&"input-not-off"));
    assert!(ids(&trickle("39.9 kohm")).contains(&"input-not-off"));
}

/// A capacitor with 47 ohm across the button of a 94 of 2000 ohm (place at 0 to 40 C).
fn charging(farad: &str) -> Calculations {
    one(&format!(r#"capacitor "C1" "{farad}"; resistor "RC" "47 ohm" power="5 W""#), "")
}

/// When 140 V come back, the coil at 40 C has 2000 (1 + 0.00393 x 20) = 2157.2 ohm: 140 / 2204.2 A,
/// 127.03 V at 20 C; R C = 2204.2 ohm x 10 uF = 22.04 ms; above the 50 V from which it may pick up for
/// 22.04 ln(127.03 / 50) = 20.55 ms, less than the 25 ms it needs. With 15 uF 30.83 ms: it may.
#[test]
fn a_capacitor_across_a_contact_may_operate_the_relay_when_the_supply_comes_back() {
    let short = charging("10 uF");
    let [row] = short.charging.rows.as_slice() else { panic!("{:?}", short.charging) };
    let ohm = 2000.0 * (1.0 + 0.00393 * 20.0) + 47.0;
    let first = 140.0 / ohm * 2000.0;
    let above = ohm * 10e-6 * (first / 50.0_f64).ln();
    assert!((row.first - first).abs() < 1e-2, "{row:?}");
    assert!((row.above - above).abs() < 1e-6 && row.last.abs() < 1e-6, "{row:?}");
    assert!(short.charging.findings.is_empty(), "{:#?}", short.charging.findings);
    let long = charging("15 uF");
    let [told] = long.charging.findings.as_slice() else { panic!("{:#?}", long.charging) };
    assert_eq!((told.id, told.severity), ("capacitor-operates-coil", Severity::Finding));
    assert!(told.message.contains("30.8 ms above 50 V; it may move after 25 ms"), "{told:?}");
    // 15 uF x 0.98 x 25 / 30.83 = 11.9 uF.
    assert!(told.help.as_ref().unwrap().starts_with("at most 11.9 uF"), "{told:?}");
    assert!(charging("11.9 uF").charging.findings.is_empty());
}

/// A trip coil of 25 ohm, or without a word of it, behind a red lamp.
fn trip_with_lamp(ohm: &str) -> Calculations {
    let device = format!(
        r#"breaker "52" place="HOUSE" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "trip" drives-to="open" {ohm} works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" max-on="1 s"
    contact "a1" closed-when="closed"
}}
"#
    );
    of(&text(
        &device,
        r#"leg "Trip" { contact "PB" "a1"; wire "T1"; contact "52" "a1"; coil "52" "trip" }
    leg "Red" from="P" to="T1" { lamp "RED" "35 mA" rated="24 V" watches="52 trip"; resistor "R1" "3 kohm" power="10 W" }"#,
    ))
}

/// 125 V / 2 to 6 A: 20.8 to 62.5 ohm (typical). The lamp has 24 V / 35 mA = 686 ohm: with R1 3686 ohm.
/// Most volts on the coil: 140 V x 62.5 / 3748 = 2.33 V (at its most ohms, by current at those).
#[test]
fn a_coil_without_a_resistance_keeps_its_monitors_and_its_pairs_of_grounds() {
    let (known, unknown) = (trip_with_lamp(r#"resistance="25 ohm""#), trip_with_lamp(""));
    for (found, zero) in [(&unknown, false), (&trip_with_lamp(r#"resistance="0 ohm""#), true)] {
        let [coil] = found.monitors.coils.as_slice() else { panic!("{:?}", found.monitors.coils) };
        assert_eq!(coil.form, "one lamp");
        let load = healthy(found, "52 trip", false);
        assert!(load.volts > 1.5 && load.volts < 2.6, "{load:?}");
        let trips = |found: &Calculations| -> Vec<(Vec<String>, Vec<String>)> {
            let all = found.grounds.pairs.iter();
            let trips =
                all.filter(|it| it.outcome == fiftytwo_calculations::grounds::Outcome::Trips);
            trips.map(|it| (it.first.clone(), it.second.clone())).collect()
        };
        assert!(!trips(found).is_empty());
        assert_eq!(trips(found), trips(&known));
        let note = found.contradictions.iter().find(|it| it.id == "coil-resistance-taken").unwrap();
        assert_eq!(note.severity, Severity::Note);
        assert!(
            note.message.contains("pairs of grounds") && note.message.contains("20.8 to 62.5 ohm"),
            "{note:?}"
        );
        assert!(found.typical.iter().any(|it| it.starts_with("52 trip: 2 to 6 A at 125 V")));
        assert!(!found.monitors.findings.iter().any(|it| it.id == "watches-nothing"));
        let contradicts = found.contradictions.iter().any(|it| it.id == "coil-without-resistance");
        assert_eq!(contradicts, zero);
    }
    assert!(!known.contradictions.iter().any(|it| it.id == "coil-resistance-taken"));
}

/// A resistor of 5 ohm behind fuses of 15 A: 140 V over 5 ohm are 28 A for ever.
#[test]
fn a_burden_that_blows_its_fuses_is_found() {
    let ways = |ohm: &str| {
        of(&text(
            "",
            &format!(r#"leg "R" {{ contact "PB" "a1"; resistor "R" "{ohm}" power="10 kW" }}"#),
        ))
    };
    let found = ways("5 ohm");
    let fuse = found.fuses.fuses.iter().find(|fuse| fuse.fuse == "F1").unwrap();
    assert!((fuse.carries.steady - 28.0).abs() < 1e-9, "{fuse:?}");
    assert_eq!(fuse.takes_away, ["R"]);
    assert!(ids(&found).contains(&"fuse-overloaded"), "{:?}", ids(&found));
    assert!(!ids(&ways("50 ohm")).contains(&"fuse-overloaded"));
}

/// A shunt release: with S x closed 140 V over 100 and 2000 ohm (cold, 1843 ohm) leave 0.52 W in RS;
/// PB shorts the coil, then 140 x 140 / 100 = 196 W. No rest position shows that.
#[test]
fn the_power_of_a_resistor_counts_with_any_contacts_closed() {
    let found = of(&text(
        &relays(&["K"]),
        r#"leg "K" { contact "S" "x"; resistor "RS" "100 ohm" power="20 W"; wire "A"; coil "K" }
    leg "sh" from="A" to="N" { contact "PB" "a1" }"#,
    ));
    let row = resistor(&found, "RS");
    assert!((row.worst - 196.0).abs() < 1e-6, "{row:?}");
    assert_eq!(row.position, "S x and PB a1 closed");
    assert!(ids(&found).contains(&"resistor-power"), "{:?}", ids(&found));
}

/// In front of a 48 V coil of 539 ohm (at 20 C): cold 496.6 ohm, 140 V over 450 + 496.6 ohm are 147.9 mA,
/// 9.84 W while its contact is closed.
#[test]
fn the_power_of_a_resistor_in_front_of_a_driven_coil_counts() {
    let relay = r#"relay "K" place="HOUSE" { coil resistance="539 ohm" works="38 to 90 V" pickup="20 to 30 V" dropout="5 to 10 V" }"#;
    let leg = r#"leg "K" { contact "PB" "a1"; resistor "R" "450 ohm" power="5 W"; coil "K" }"#;
    let found = of(&text(relay, leg));
    let cold = 539.0 * 234.5 / 254.5;
    let watts = (140.0_f64 / (450.0 + cold)).powi(2) * 450.0;
    let row = resistor(&found, "R");
    assert!((row.worst - watts).abs() < 1e-3 * watts, "{row:?} {watts}");
    assert!(ids(&found).contains(&"resistor-power"), "{:?}", ids(&found));
}

/// What bridges the contact of a 94 of 2000 ohm (cold, 0 C: 1842.8 ohm), nobody ordering anything. A
/// heater of 10 W (1562.5 ohm): 140 x 1842.8 / 3405.3 = 75.8 V, as a current at 20 C 82.2 V. A feed of
/// 5 W (3125 ohm): 51.9 V, 56.4 V. A varistor of 100 V: 40 V, 43.4 V.
#[test]
fn whatever_stands_across_a_contact_and_feeds_a_relay_is_found() {
    let cold = 2000.0 * 234.5 / 254.5;
    for (part, name, across) in [
        (r#"heater "H" "10 W""#, "H", 140.0 * cold / (cold + 1562.5)),
        (r#"varistor "V" "100 V""#, "V", 40.0),
    ] {
        let found = one(part, "");
        let told: Vec<Finding> =
            grave(&found).into_iter().filter(|it| it.id == "part-keeps-relay").collect();
        let [told] = &told[..] else { panic!("{part}: {:#?}", grave(&found)) };
        let volts = across * 2000.0 / cold;
        assert!(told.message.contains(&format!("{volts:.1} V")), "{volts} {told:?}");
        assert!(told.devices.contains(&name.to_owned()), "{told:?}");
    }
    // Driven by its contact alone it is as before.
    assert!(!ids(&one(r#"heater "H" "0.1 W""#, "")).contains(&"part-keeps-relay"));
}

/// An economy resistor: K of 500 ohm at 20 C is pulled in past it and lives on behind 2 kohm. At 105 V
/// and 40 C (274.5 / 254.5 x 500 = 539.3 ohm): 105 / 2539.3 = 41.35 mA, as volts at 20 C 20.7 V, and it
/// surely stays only from 40 V. With at most 105 x 500 / 40 - 539.3 = 773.2 ohm it stays.
#[test]
fn a_relay_that_may_let_go_behind_its_economy_resistor_is_found_with_the_ohms_that_hold_it() {
    let relay = r#"relay "K" place="HOUSE" { coil resistance="500 ohm" works="80 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V"
    contact "a1" closed-when="picked up"
    contact "b1" closed-when="dropped out" }"#;
    let with = |ohm: f64| {
        of(&text(
            relay,
            &format!(
                r#"leg "K" {{ contact "PB" "a1"; parallel {{ contact "K" "b1"; resistor "RE" "{ohm} ohm" power="100 W" }}; coil "K" }}"#
            ),
        ))
    };
    let found = with(2000.0);
    let told: Vec<Finding> =
        grave(&found).into_iter().filter(|it| it.id == "relay-may-not-hold").collect();
    let [told] = &told[..] else { panic!("{:#?}", grave(&found)) };
    assert!(told.message.contains("20.7 V") && told.message.contains("40 V"), "{told:?}");
    assert!(told.help.as_deref().unwrap().contains("RE of at most 773 ohm"), "{told:?}");
    assert!(!ids(&with(773.0)).contains(&"relay-may-not-hold"));
    assert!(ids(&with(774.0)).contains(&"relay-may-not-hold"));
}

/// A seal-in through 8 kohm: 105 V over 8000 + 2157.2 ohm are 10.34 mA, 20.7 V of a coil of 2000 ohm. A
/// resistor across the order contact is no seal-in, and a seal-in without one holds.
#[test]
fn a_seal_in_through_too_large_a_resistor_is_found() {
    let leg = |seal: &str| {
        of(&text(
            &relays(&["K"]),
            &format!(
                r#"leg "K" {{ contact "PB" "a1"; wire "T1"; coil "K" }}
    leg "seal" from="P" to="T1" {{ {seal} }}"#
            ),
        ))
    };
    let found = leg(r#"contact "K" "a1"; resistor "RS" "8 kohm" power="10 W""#);
    let told = grave(&found).into_iter().find(|it| it.id == "relay-may-not-hold").unwrap();
    assert!(told.message.contains("20.7 V"), "{told:?}");
    assert!(!ids(&leg(r#"contact "K" "a1""#)).contains(&"relay-may-not-hold"));
    assert!(!ids(&leg(r#"resistor "RS" "200 kohm""#)).contains(&"relay-may-not-hold"));
}

/// A target relay of 20 ohm in series with a 94 of 2000 ohm picks up at 0.6 V and gets 140 x 20 / 1863 =
/// 1.5 V when the order stands: that is what it is for. Nobody has to be told that the 94 operates it,
/// nor that it rests at plus while its current runs.
#[test]
fn a_target_relay_in_series_with_a_driven_coil_is_no_finding() {
    let target = r#"relay "T" place="HOUSE" { coil resistance="20 ohm" pickup="0.4 to 0.6 V" dropout="0.05 to 0.1 V" pickup-time="10 to 15 ms" }"#;
    let found = of(&text(
        &format!("{target}\n{}", relays(&["94"])),
        r#"leg "94" { contact "S" "x"; coil "T"; coil "94" }"#,
    ));
    assert_eq!(ids(&found), Vec::<&str>::new(), "{:#?}", grave(&found));
}

/// A 48 V coil of 539 ohm behind 450 ohm on 140 V gets 76 V and more of the 56 V it may; hot (40 C) it has
/// 539 x 274.5 / 254.5 = 581.4 ohm, and 581.4 x (140 / 56 - 1) = 872 ohm keep it below. Behind 1000 ohm it
/// gets too little, and the ohms of the cure do.
#[test]
fn a_dropping_resistor_is_named_with_the_ohms_that_it_should_have() {
    let relay = r#"relay "K" place="HOUSE" { coil resistance="539 ohm" works="38 to 56 V" pickup="20 to 30 V" dropout="5 to 10 V" }"#;
    let wide = relay.replace("38 to 56 V", "38 to 90 V");
    let machine = |found: &str, ohm: f64| {
        let scheme = read_text(
            "beside.kdl",
            &text(
                found,
                &format!(
                    r#"leg "K" {{ contact "PB" "a1"; resistor "R" "{ohm} ohm" power="200 W"; coil "K" }}"#
                ),
            ),
        );
        let scheme = scheme.scheme.unwrap();
        let wiring = fiftytwo_circuit::Wiring::new(&scheme).unwrap();
        fiftytwo_circuit::coil_report(&wiring).remove(0).findings
    };
    let high = machine(relay, 450.0);
    let told = high.iter().find(|it| it.id == "drive-too-high").unwrap();
    assert!(told.help.as_deref().unwrap().starts_with("873 ohm or more in place of R"), "{told:?}");
    assert!(machine(relay, 873.0).iter().all(|it| it.id != "drive-too-high"));
    let low = machine(&wide, 2000.0);
    let told = low.iter().find(|it| it.id == "drive-too-low").unwrap();
    let help = told.help.as_deref().unwrap();
    let ohm: f64 =
        help.split("at most ").nth(1).unwrap().split(" ohm").next().unwrap().parse().unwrap();
    assert!(machine(&wide, ohm - 1.0).iter().all(|it| it.id != "drive-too-low"), "{help}");
    assert!(machine(&wide, ohm * 1.02).iter().any(|it| it.id == "drive-too-low"), "{help}");
}

#[test]
fn a_seal_in_through_a_resistor_by_a_relay_that_follows_is_found_and_is_no_order() {
    // K1 picks up by the button, its contact drives K2, and a contact of K2 holds K1 through 8 kohm:
    // at 40 C K1 has 2000 x (234.5 + 40) / (234.5 + 20) = 2157 ohm, so 105 V leave
    // 105 / 10157 = 10.34 mA, 20.7 V at 20 C. It surely stays picked up only from 40 V.
    let found = of(&text(
        &relays(&["K1", "K2"]),
        r#"leg "K1" { parallel { contact "PB" "a1"
        branch { contact "K2" "a1"; resistor "RH" "8 kohm" power="10 W" } }; coil "K1" }
    leg "K2" { contact "K1" "a1"; coil "K2" }"#,
    ));
    let graves = grave(&found);
    assert_eq!(ids(&found), ["relay-may-not-hold"], "{graves:#?}");
    assert!(graves[0].message.contains("20.7 V"), "{}", graves[0].message);
}

#[test]
fn a_contact_in_front_of_a_resistor_and_a_coil_has_a_duty_of_its_own() {
    // S orders the 94 through 500 ohm beside the button that orders it straight: at 0 C the coil has
    // 2000 x 234.5 / 254.5 = 1842.8 ohm, so S switches 140 / 2342.8 = 59.8 mA.
    let found = of(&text(
        &relays(&["94"]),
        r#"leg "94" { parallel { contact "PB" "a1"
        branch { contact "S" "x"; resistor "RX" "500 ohm" power="10 W" } }; coil "94" }"#,
    ));
    let contact = found.duty.contacts.iter().find(|it| it.contact == "S x").unwrap();
    let behind = contact.any_order.iter().find(|it| it.load == "94").unwrap();
    near(behind.amps, 0.05976);
}
