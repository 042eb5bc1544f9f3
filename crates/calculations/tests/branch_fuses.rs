//! Fuses in one pole of a branch, with other loads beside it on the same poles.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::fuses::{Fuses, fuses};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Scheme, read_path, read_text};

fn panel_text(legs: &str) -> String {
    format!(
        r#"
        scheme "Panel"
        place "HOUSE" "Control house"
        supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
        condition "c"
        sensor "S" place="HOUSE" {{ contact "x" closed-when="c" }}
        relay "K" place="HOUSE" {{
            coil resistance="2000 ohm" works="70 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V"
        }}
        circuit "A" supply="DC1" {{
            feed {{ fuse "F1" "60 A"; wire "P" }}
            return {{ wire "N"; fuse "F2" "60 A" }}
            {legs}
        }}
        "#
    )
}

fn panel(legs: &str) -> Scheme {
    let reading = read_text("panel.kdl", &panel_text(legs));
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

fn of(scheme: &Scheme) -> Fuses {
    fuses(&Study::new(&Machine::new(scheme).unwrap()))
}

fn carries(found: &Fuses, name: &str) -> f64 {
    found.fuses.iter().find(|fuse| fuse.fuse == name).unwrap().carries.steady
}

const HEATER: &str = r#"leg "h" { fuse "F5" "6 A"; heater "H" "1.5 kW" }"#;

/// 1.5 kW at 125 V are 10.42 ohm: 13.44 A at 140 V, more than twice the fuse, whatever hangs beside it.
#[test]
fn a_branch_fuse_carries_its_load_also_where_others_hang_beside_it() {
    let beside = [
        "",
        r#"leg "l" { lamp "W" "8 mA" }"#,
        r#"leg "k" { contact "S" "x"; coil "K" }"#,
        r#"leg "g" { fuse "F6" "6 A"; heater "G" "1.5 kW" }"#,
        r#"leg "k" { contact "S" "x"; coil "K" }
           leg "l" from="P" to="N" { lamp "W" "8 mA"; resistor "R" "2 kohm" }"#,
    ];
    for legs in beside {
        let found = of(&panel(&format!("{HEATER}\n{legs}")));
        let amps = carries(&found, "F5");
        assert!((13.3..13.5).contains(&amps), "{amps} A beside {legs}");
        let overloaded = |id: &str| found.findings.iter().any(|finding| finding.id == id);
        assert!(overloaded("fuse-overloaded"), "beside {legs}: {:#?}", found.findings);
    }
}

/// The same where the fuse stands behind the load.
#[test]
fn a_branch_fuse_in_the_minus_pole_carries_its_load_too() {
    let legs = r#"leg "h" { heater "H" "1.5 kW"; fuse "F5" "6 A" }
                  leg "l" { lamp "W" "8 mA" }"#;
    let amps = carries(&of(&panel(legs)), "F5");
    assert!((13.3..13.5).contains(&amps), "{amps} A");
}

/// 150 W at 120 V are 96 ohm: 1.375 A at 132 V.
#[test]
fn the_fuse_of_quillmeres_heater_carries_it() {
    let path = format!("{}/../../examples/quillmere/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let scheme = read_path(path.as_ref()).scheme.unwrap();
    let amps = carries(&of(&scheme), "F12");
    assert!((1.36..1.38).contains(&amps), "{amps} A");
}

/// Legs of every shape that stands on common rails, each with names of its own.
fn leg(kind: u64, at: usize) -> String {
    let name = format!("leg \"x{at}\" from=\"P\" to=\"N\"");
    match kind % 8 {
        0 => format!("{name} {{ heater \"H{at}\" \"1.5 kW\" }}"),
        1 => format!("{name} {{ fuse \"A{at}\" \"6 A\"; heater \"H{at}\" \"300 W\" }}"),
        2 => format!("{name} {{ heater \"H{at}\" \"300 W\"; fuse \"A{at}\" \"6 A\" }}"),
        3 => format!(
            "{name} {{ fuse \"A{at}\" \"6 A\"; lamp \"W{at}\" \"8 mA\"; fuse \"B{at}\" \"6 A\" }}"
        ),
        4 => format!(
            "{name} {{ contact \"S\" \"x{at}\"; resistor \"R{at}\" \"200 ohm\" power=\"200 W\" }}"
        ),
        5 => format!("{name} {{ resistor \"R{at}\" \"2 kohm\"; lamp \"W{at}\" \"8 mA\" }}"),
        6 => format!(
            "{name} {{ fuse \"A{at}\" \"6 A\"; wire \"M{at}\"; fuse \"B{at}\" \"4 A\"; heater \"H{at}\" \"150 W\" }}\n\
             leg \"y{at}\" from=\"M{at}\" to=\"N\" {{ lamp \"V{at}\" \"8 mA\" }}"
        ),
        _ => format!(
            "{name} {{ fuse \"A{at}\" \"6 A\"; contact \"S\" \"x{at}\"; heater \"H{at}\" \"600 W\" }}"
        ),
    }
}

/// What a fuse carries at the most counts every load at once: one more beside never makes it less.
#[test]
fn a_load_that_is_added_beside_never_lowers_what_a_fuse_carries() {
    let mut seed = 7_u64;
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        seed >> 33
    };
    for round in 0..12 {
        let mut legs = String::new();
        let mut before: Vec<(String, f64)> = Vec::new();
        for at in 0..6 {
            legs.push_str(&leg(next(), at));
            legs.push('\n');
            let contacts = (0..6).map(|at| format!("\"x{at}\"")).collect::<Vec<_>>().join(" ");
            let text =
                panel_text(&legs).replace("contact \"x\"", &format!("contact \"x\" {contacts}"));
            let found = of(&read_text("panel.kdl", &text).scheme.unwrap());
            for (fuse, amps) in &before {
                let now = carries(&found, fuse);
                assert!(
                    now >= amps * (1.0 - 1e-9),
                    "round {round}: {fuse} {amps} A, then {now} A:\n{legs}"
                );
            }
            before =
                found.fuses.iter().map(|fuse| (fuse.fuse.clone(), fuse.carries.steady)).collect();
        }
    }
}
