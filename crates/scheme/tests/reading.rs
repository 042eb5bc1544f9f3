//! The examples are read whole, and the model says what their text says.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test fails by panicking")]

use fiftytwo_scheme::{
    Atom, CoilChoice, DeviceKind, Expr, GoesAfter, LogicRule, MayDo, PartKind, Scheme, Severity,
    Step, read_path, read_text,
};
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

fn example(name: &str) -> Scheme {
    let reading = read_path(&folder().join(name).join("scheme.kdl"));
    let errors: Vec<_> = reading
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .map(|finding| {
            let at = finding.at.map(|at| reading.sources.place(at)).unwrap_or_default();
            format!("{at} {}: {}", finding.id, finding.message)
        })
        .collect();
    assert!(errors.is_empty(), "{name}: {errors:#?}");
    reading.scheme.unwrap()
}

fn wire_of(scheme: &Scheme, part: &str, upper: bool) -> String {
    let part = &scheme.parts[scheme.part_named(part).unwrap()];
    let at = part.at.unwrap();
    let node = if upper { at.from } else { at.to };
    scheme.nodes[node].wire.clone().unwrap_or_default()
}

fn place_of(scheme: &Scheme, part: &str) -> String {
    let at = scheme.parts[scheme.part_named(part).unwrap()].at.unwrap();
    scheme.places[at.place].name.clone()
}

#[test]
fn every_example_is_read_without_an_error() {
    let mut count = 0;
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        if path.join("scheme.kdl").is_file() {
            let scheme = example(path.file_name().unwrap().to_str().unwrap());
            assert!(!scheme.stories.is_empty(), "{} has no story", path.display());
            count += 1;
        }
    }
    assert!(count >= 5);
}

#[test]
fn quillmere_has_at_least_a_hundred_placed_parts() {
    assert!(example("quillmere").placed().count() >= 100);
}

#[test]
fn parts_stand_between_the_wires_written_around_them() {
    let scheme = example("quillmere");
    assert_eq!(wire_of(&scheme, "43LR local", true), "CP");
    assert_eq!(wire_of(&scheme, "52CS close", false), "C1");
    assert_eq!(wire_of(&scheme, "RTU close", false), "C1");
    assert_eq!(wire_of(&scheme, "79 reclose", false), "C1");
    assert_eq!(wire_of(&scheme, "52 a1", false), "C11");
    assert_eq!(wire_of(&scheme, "52Y a1", false), "C11");
    assert_eq!(wire_of(&scheme, "52 close", false), "CNY");
    assert_eq!(wire_of(&scheme, "F1", true), "DC1+");
    assert_eq!(wire_of(&scheme, "F1", false), "CP");
    assert_eq!(wire_of(&scheme, "F2", true), "CN");
    assert_eq!(wire_of(&scheme, "F2", false), "DC1-");
    assert_eq!(wire_of(&scheme, "F11", true), "AC1L");
    assert_eq!(wire_of(&scheme, "C4-1/7", true), "TNY");
    // Low gas trips join below the test link.
    assert_eq!(wire_of(&scheme, "63X a1", false), "T2");
}

#[test]
fn a_leg_changes_place_through_a_core_only() {
    let scheme = example("quillmere");
    assert_eq!(place_of(&scheme, "25 permit"), "HOUSE");
    assert_eq!(place_of(&scheme, "C4-1/1"), "HOUSE");
    assert_eq!(place_of(&scheme, "69 on"), "YARD");
    assert_eq!(place_of(&scheme, "GREEN"), "HOUSE");
    assert_eq!(place_of(&scheme, "R3"), "YARD");
    assert_eq!(place_of(&scheme, "F12"), "YARD");
    let core = &scheme.parts[scheme.part_named("C4-1/4").unwrap()];
    let PartKind::Core(core) = &core.kind else { panic!("no core") };
    assert_eq!(scheme.places[core.into].name, "HOUSE");
    for (_, part) in scheme.placed() {
        let at = part.at.unwrap();
        if let Some(device) = part.device {
            assert_eq!(scheme.devices[device].place, at.place, "{}", part.name);
        }
        assert_eq!(scheme.nodes[at.from].place, at.place, "{}", part.name);
        if !matches!(part.kind, PartKind::Core(_)) {
            assert_eq!(scheme.nodes[at.to].place, at.place, "{}", part.name);
        }
    }
}

#[test]
fn a_core_joins_its_two_places() {
    let scheme = example("harrowfen");
    let core = &scheme.parts[scheme.part_named("H2-2/1+2").unwrap()];
    let at = core.at.unwrap();
    assert_eq!(scheme.places[scheme.nodes[at.from].place].name, "HUT");
    assert_eq!(scheme.places[scheme.nodes[at.to].place].name, "YARD");
    let coil = &scheme.parts[scheme.part_named("52 solenoid").unwrap()];
    let PartKind::Coil(coil) = &coil.kind else { panic!("no coil") };
    assert_eq!(coil.goes_after, Some(GoesAfter::WholeStroke));
}

#[test]
fn statements_mean_what_they_say() {
    let scheme = example("quillmere");
    let contact = |name: &str| {
        let PartKind::Contact(contact) = &scheme.parts[scheme.part_named(name).unwrap()].kind
        else {
            panic!("{name} is no contact")
        };
        contact.closed_when.expr.clone()
    };
    let breaker = scheme.device_named("52").unwrap();
    assert_eq!(contact("52 a1"), Expr::Atom(Atom::Position(breaker, 1)));
    assert_eq!(contact("52 LS2"), Expr::Atom(Atom::Charged(breaker)));
    assert_eq!(contact("52 LS1"), Expr::Not(Box::new(Expr::Atom(Atom::Charged(breaker)))));
    let gas = scheme.conditions.iter().find(|(_, one)| one.name == "gas").unwrap().0;
    assert_eq!(contact("63 block"), Expr::Not(Box::new(Expr::Atom(Atom::Condition(gas, 2)))));
    // The line of logic of the same device, not the contact of the same name.
    let Expr::Atom(Atom::Logic(logic)) = contact("21A trip") else { panic!("no logic") };
    assert_eq!(scheme.logics[logic].name, "trip");
    assert!(matches!(scheme.logics[logic].rule, LogicRule::When { .. }));
}

#[test]
fn the_matrix_names_sources_needs_and_coils() {
    let scheme = example("quillmere");
    let [matrix] = scheme.matrices.as_slice() else { panic!("not one matrix") };
    assert_eq!(matrix.close_by.len(), 3);
    assert_eq!(matrix.close_needs.len(), 5);
    assert_eq!(matrix.trip_by.len(), 6);
    let CoilChoice::All(coils) = &matrix.trip_by[0].coils else { panic!("not all coils") };
    let names: Vec<&str> = coils.iter().map(|coil| scheme.parts[*coil].name.as_str()).collect();
    assert_eq!(names, ["52 trip 1", "52 trip 2"]);
    let permit = scheme.part_named("25 permit").unwrap();
    assert_eq!(matrix.close_needs[4].need.expr, Expr::Atom(Atom::Closed(permit)));
}

#[test]
fn persons_may_what_the_text_says() {
    let scheme = example("quillmere");
    let operator = scheme.persons.values().find(|one| one.name == "operator").unwrap();
    let lockout = scheme.device_named("86").unwrap();
    let handle = scheme.device_named("52CS").unwrap();
    assert_eq!(operator.may[0].does, MayDo::Operate(handle));
    assert_eq!(operator.may[2].does, MayDo::Bring(lockout, 0));
}

#[test]
fn stories_beside_the_scheme_belong_to_it() {
    let scheme = example("dunmarrow");
    let story = scheme.story_named("A standing close on to a fault").unwrap();
    assert_eq!(story.steps[0].held, Some(3_000_000));
    assert_eq!(scheme.sources.file_name(story.span).rsplit('/').next(), Some("stories.kdl"));
}

#[test]
fn a_spring_return_handle_springs_back() {
    let scheme = example("dunmarrow");
    let handle = &scheme.devices[scheme.device_named("52CS").unwrap()];
    let DeviceKind::Handle { returns_to } = &handle.kind else { panic!("no handle") };
    assert_eq!(*returns_to, [Some(1), None, None, Some(2)]);
    assert_eq!(handle.drawn, 1);
}

#[test]
fn ways_side_by_side_are_a_step() {
    let scheme = example("dunmarrow");
    let leg = scheme.legs.values().find(|leg| leg.name == "Anti-pump").unwrap();
    let [Step::Part(_), Step::Parallel(ways), Step::Part(_)] = leg.strand.chain.steps.as_slice()
    else {
        panic!("{:?}", leg.strand.chain)
    };
    assert_eq!(ways.len(), 2);
}

#[test]
fn every_span_shows_its_own_name() {
    for name in ["quillmere", "harrowfen", "latches"] {
        let scheme = example(name);
        let written = |span: fiftytwo_scheme::Span| {
            let text = &scheme.sources.files[span.file].text;
            text[span.start as usize..span.end as usize].to_owned()
        };
        for (_, device) in scheme.devices.iter() {
            assert_eq!(written(device.span), format!("{:?}", device.name));
        }
        for (_, leg) in scheme.legs.iter() {
            assert_eq!(written(leg.span), format!("{:?}", leg.name));
        }
        for (_, part) in scheme.parts.iter() {
            if !part.own_name.is_empty() && part.own_name != "motor" && part.own_name != "element" {
                assert_eq!(written(part.span), format!("{:?}", part.own_name));
            }
        }
    }
}

#[test]
fn a_text_that_declares_nothing_is_no_scheme() {
    let reading = read_text("empty.kdl", "// nothing\n");
    assert!(reading.scheme.is_none());
    assert_eq!(reading.findings.len(), 1);
    assert_eq!(reading.findings[0].id, "empty");
}

#[test]
fn what_is_left_unsaid_is_listed() {
    let text = r#"
scheme "Unsaid"
place "HOUSE" "House"
supply "DC1" "125 V DC" place="HOUSE"
condition "gas" "normal" "low"
order "SCADA close"
type "auxiliary" kind="relay" { coil; }
pattern "watch" "relay" { leg "[relay]" { coil "[relay]"; } }
breaker "52" place="HOUSE" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {
    coil "close" drives-to="closed"
    coil "trip 1" drives-to="open"
    coil "trip 2" drives-to="open"
    energy "spring"
    contact "a1" closed-when="closed"
}
relay "X" { coil; contact "a1" closed-when="picked up" }
latch "L" { position "off"; position "on"; contact "a1" closed-when="on" }
ied "RTU" { contact "close" closed-when="SCADA close" }
circuit "C" supply="DC1" {
    feed { fuse "F1" "10 A"; wire "P" }
    return { wire "N"; fuse "F2" "10 A" }
    leg "Close" { contact "RTU" "close"; coil "52" "close" }
    leg "X" { contact "52" "a1"; coil "X" }
}
matrix "52" { trip-by "SCADA close"; }
"#;
    let reading = read_text("unsaid.kdl", text);
    let ids: Vec<&str> = reading.findings.iter().map(|finding| finding.id).collect();
    assert!(reading.is_usable(), "{ids:?}");
    for id in [
        "unsaid-resistance",
        "unsaid-works",
        "unsaid-dropout",
        "unsaid-time",
        "unsaid-goes-after",
        "unsaid-max-on",
        "unsaid-power",
        "unsaid-lasts",
        "unsaid-range",
        "unsaid-source",
        "unsaid-charging",
        "unsaid-coils",
        "latch-past",
        "nobody",
        "spare-contacts",
        "never-placed",
        "device-never-placed",
        "condition-unused",
        "unused",
    ] {
        assert!(ids.contains(&id), "{id} is lacking in {ids:?}");
    }
    let range = reading.findings.iter().find(|one| one.id == "unsaid-range").unwrap();
    assert_eq!(range.message, "No range is given for DC1: 105 to 140 V (typical) is taken.");
    let coils = reading.findings.iter().find(|one| one.id == "unsaid-resistance").unwrap();
    assert_eq!(coils.devices, ["52 close", "X"], "spare coils need no resistance");
}

#[test]
fn the_siblings_of_quillmere_differ_by_their_gas_only() {
    let (whole, block, shared) =
        (example("quillmere"), example("quillmere-block"), example("quillmere-shared"));
    let in_leg = |scheme: &Scheme, part: &str, leg: &str| {
        let at = scheme.parts[scheme.part_named(part).unwrap()].at;
        at.and_then(|at| at.leg).is_some_and(|id| scheme.legs[id].name == leg)
    };
    assert!(in_leg(&whole, "63 block", "Close coil") && !in_leg(&whole, "63X b1", "Trip coil 1"));
    assert!(in_leg(&block, "63X b1", "Trip coil 1") && in_leg(&block, "63Z b1", "Trip coil 2"));
    assert!(in_leg(&shared, "63X b1", "Close coil"));
    assert_eq!(whole.matrices[0].trip_by.len(), block.matrices[0].trip_by.len() + 1);
}
