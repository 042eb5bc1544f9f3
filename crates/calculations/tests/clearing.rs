//! Several coils at once through one feeder.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::clearing::{Clearing, Group, clearing};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Scheme, read_path, read_text};

fn of(scheme: &Scheme) -> Clearing {
    clearing(&Study::new(&Machine::new(scheme).unwrap()))
}

fn group<'c>(found: &'c Clearing, name: &str) -> &'c Group {
    let named = |group: &&Group| group.name == name || group.also.iter().any(|also| also == name);
    found.groups.iter().find(named).unwrap()
}

/// A lockout that trips three breakers over one feeder of so many metres of 10 AWG.
fn bus(metres: f64) -> Scheme {
    use std::fmt::Write as _;
    let (mut breakers, mut legs) = (String::new(), String::new());
    for index in 1..=3 {
        writeln!(
            breakers,
            r#"breaker "52-{index}" "Breaker {index}" place="YARD" closing-time="45 to 60 ms" opening-time="20 to 30 ms" {{
                coil "trip" drives-to="open" {{ resistance "20 ohm"; works "70 to 140 V"; goes-after "6 to 10 ms"; max-on "1 s" }}
                contact "a1" closed-when="closed" on-close="3 to 8 ms before touch" on-open="2 to 6 ms after parting"
            }}"#
        )
        .unwrap();
        writeln!(
            legs,
            r#"leg "Trip {index}" {{ contact "86" "a{index}"; contact "52-{index}" "a1"; coil "52-{index}" "trip" }}"#
        )
        .unwrap();
    }
    let text = format!(
        r#"
        scheme "Bus"
        place "HOUSE" "House" ambient="20 to 20 C"
        place "YARD" "Yard" ambient="20 to 20 C"
        supply "DC1" "125 V DC" range="105 to 140 V" resistance="0.1 ohm" place="HOUSE"
        cable "K1" from="HOUSE" to="YARD" length="{metres} m" size="10 AWG" cores=7
        condition "bus fault"
        {breakers}
        lockout "86" "Bus lockout" place="YARD" reset-by="hand" {{
            coil "operate" drives-to="operated" resistance="1000 ohm" works="70 to 140 V" pickup-time="8 to 16 ms"
            contact "a1" "a2" "a3" closed-when="operated"
        }}
        ied "87B" "Bus protection" place="YARD" {{
            contact "trip" closed-when="bus fault" makes="30 A"
        }}
        circuit "Trip" supply="DC1" {{
            feed {{ fuse "F1" "30 A"; core "K1" 1 into="YARD"; wire "P" }}
            return {{ wire "N"; core "K1" 2 into="HOUSE"; fuse "F2" "30 A" }}
            leg "Lockout" {{ contact "87B" "trip"; coil "86" "operate" }}
            {legs}
        }}
        "#
    );
    let reading = read_text("bus.kdl", &text);
    assert!(reading.is_usable(), "{:?}", reading.findings);
    reading.scheme.unwrap()
}

#[test]
fn three_trip_coils_share_one_feeder() {
    let found = of(&bus(300.0));
    // By hand: 105 V behind 0.1 ohm and two cores of 300 m (1.24 ohm per 1000 ft at 75 C, at 20 C),
    // three coils of 20 ohm side by side; with the source 87B also the lockout of 1000 ohm.
    let line = 2.0 * 1.24 / 304.8 * 300.0 / (1.0 + 0.00393 * 55.0) + 0.1;
    let at = |coils: f64, more: f64| {
        let load = 1.0 / (coils / 20.0 + more);
        105.0 * load / (load + line)
    };
    let all = group(&found, "all trip coils of DC1");
    assert_eq!((all.coils.len(), all.name.as_str()), (3, "86 operated"));
    for coil in &all.coils {
        assert!((coil.volts - at(3.0, 0.0)).abs() < 1e-6, "{coil:?}");
        assert!((coil.alone - at(1.0, 0.0)).abs() < 1e-6, "{coil:?}");
        assert!((coil.margin.unwrap() - (coil.volts - 70.0)).abs() < 1e-9);
    }
    let by_87b = group(&found, "87B bus fault");
    assert_eq!(by_87b.coils.len(), 4, "{by_87b:?}");
    let trip = by_87b.coils.iter().find(|coil| coil.coil == "52-2 trip").unwrap();
    assert!((trip.volts - at(3.0, 1e-3)).abs() < 1e-6, "{trip:?}");
    let poles = &by_87b.supplies[0];
    assert!((poles.volts - (105.0 - 0.1 * poles.amps)).abs() < 1e-6);
    assert!(found.findings.is_empty());
}

#[test]
fn each_alone_works_and_all_together_do_not() {
    let found = of(&bus(600.0));
    assert_eq!(found.findings.len(), 4, "{:#?}", found.findings);
    let finding = &found.findings[0];
    assert_eq!(finding.id, "too-low-together");
    assert!(finding.message.contains("52-1 trip gets only 6"), "{finding:?}");
    assert!(finding.why.as_ref().unwrap().starts_with("alone it gets 8"), "{finding:?}");
    assert!(finding.help.as_ref().unwrap().contains("to 35 V"), "{finding:?}");
}

/// The first coil stands above wire W, the second below it: with both ways closed, plus, PB1 a1, W, PB2
/// a1 and minus are one wire.
#[test]
fn coils_whose_ways_short_the_supply_together_are_told_not_passed() {
    let breaker = |name: &str| {
        format!(
            r#"breaker "{name}" place="H" closing-time="45 to 60 ms" opening-time="20 to 30 ms" {{
            coil "trip" drives-to="open" resistance="20 ohm" works="70 to 140 V" max-on="1 s"
            contact "a1" closed-when="closed"
        }}"#
        )
    };
    let text = format!(
        r#"
scheme "Crossed"
place "H" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="0.1 ohm" place="H"
{}
{}
button "PB1" place="H" {{ contact "a1" closed-when="pressed" }}
button "PB2" place="H" {{ contact "a1" closed-when="pressed" }}
circuit "Trip" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "1" {{ contact "52-1" "a1"; coil "52-1" "trip"; wire "W"; contact "PB2" "a1" }}
    leg "2" from="P" to="W" {{ contact "PB1" "a1" }}
    leg "3" from="W" to="N" {{ contact "52-2" "a1"; coil "52-2" "trip" }}
}}
"#,
        breaker("52-1"),
        breaker("52-2")
    );
    let reading = read_text("crossed.kdl", &text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let found = of(&scheme);
    let told = found.findings.iter().find(|it| it.id == "at-once-not-computed");
    let told = told.unwrap_or_else(|| panic!("{found:#?}"));
    assert!(told.message.contains("52-1 trip and 52-2 trip"), "{told:?}");
}

#[test]
fn the_lockout_of_quillmere_trips_both_coils() {
    let path = format!("{}/../../examples/quillmere/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let scheme = read_path(path.as_ref()).scheme.unwrap();
    let found = of(&scheme);
    assert!(found.findings.is_empty(), "{:?}", found.findings);
    let by_87b = group(&found, "87B trip");
    let names: Vec<&str> = by_87b.coils.iter().map(|coil| coil.coil.as_str()).collect();
    for coil in ["86 operate", "52 trip 1", "52 trip 2"] {
        assert!(names.contains(&coil), "{names:?}");
    }
    assert!(by_87b.coils.iter().all(|coil| coil.margin.unwrap() > 20.0));
    // What only permits is no source.
    assert!(
        found.groups.iter().all(|group| group.name != "43LR remote" && group.name != "86 reset")
    );
}
