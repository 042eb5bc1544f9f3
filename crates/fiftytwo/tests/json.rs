//! The object of `--json` is the one that `docs/json.md` describes: every key there occurs, and
//! every key that occurs stands there.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The documented key paths under each heading.
fn documented() -> BTreeMap<String, BTreeSet<String>> {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/json.md");
    let mut sections: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut heading = String::new();
    for line in fs::read_to_string(page).unwrap().lines() {
        if let Some(title) = line.strip_prefix("## ") {
            title.clone_into(&mut heading);
        }
        if let Some(key) = line.strip_prefix("| `").and_then(|it| it.split('`').next()) {
            assert!(
                sections.entry(heading.clone()).or_default().insert(key.to_owned()),
                "{key} twice"
            );
        }
    }
    sections
}

/// Every key path in an object.
fn paths(value: &Value, here: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let path = if here.is_empty() { key.clone() } else { format!("{here}.{key}") };
                found.insert(path.clone());
                paths(inner, &path, found);
            }
        }
        Value::Array(items) => {
            for item in items {
                paths(item, &format!("{here}[]"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn every_key_is_documented_and_every_documented_key_occurs() {
    let documented = documented();
    let always = &documented["Every object"];
    let mut seen: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (heading, run) in runs() {
        let object = run.object();
        let mut found = BTreeSet::new();
        paths(&object, "", &mut found);
        for key in &found {
            // Each step of a story is an event as in `play`.
            let key = match key.strip_prefix("claims[].story[].steps[]") {
                Some(event) => &format!("stories[].events[]{event}"),
                None => key,
            };
            let heading = if key.starts_with("stories") { "play" } else { heading };
            let known = always.contains(key)
                || documented.get(heading).is_some_and(|section| section.contains(key));
            assert!(known, "{heading}: {key} is not documented");
        }
        for key in ["format", "verb", "exit", "files", "findings", "written", "cautions"] {
            assert!(found.contains(key), "{heading}: {key} is missing");
        }
        assert_eq!(object["format"], 1);
        assert_eq!(object["exit"], run.code);
        seen.entry(heading.to_owned()).or_default().extend(found.iter().cloned());
        seen.entry("Every object".to_owned()).or_default().extend(found);
    }
    for (heading, keys) in &documented {
        for key in keys {
            let occurs = seen.get(heading).is_some_and(|found| found.contains(key));
            assert!(occurs, "{heading}: {key} is documented but never occurs");
        }
    }
}

/// What the examples don't show: two supplies joined, fuses that are not selective, a diode across
/// a coil.
const LOADED: &str = r#"
scheme "Joined, and suppressed"
place "PANEL" "Test panel"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="PANEL"
supply "DC2" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="PANEL"
ground "DC1" plus="50 kohm" minus="50 kohm" alarms-below="20 kohm"
ground "DC1" plus="50 kohm" minus="50 kohm" alarms-below="20 kohm"
curve "fast" { point "30 A" "20 to 100 s"; point "300 A" "8 to 20 ms"; point "20 kA" "1 to 6 ms" }
curve "slow" { point "30 A" "200 to 1000 s"; point "300 A" "10 to 30 ms"; point "20 kA" "1 to 9 ms" }
button "PB1" place="PANEL" { contact "a1" closed-when="pressed" }
relay "K1" place="PANEL" {
    coil resistance="2000 ohm" works="85 to 140 V" pickup="60 to 80 V" dropout="15 to 45 V" dropout-time="8 to 20 ms"
    contact "a1" closed-when="picked up"
}
circuit "One" supply="DC1" {
    feed { fuse "F1" "30 A" curve="slow"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Coil" { fuse "F5" "15 A" curve="fast"; contact "PB1" "a1"; wire "T"; coil "K1" }
    leg "Fused lamp" { fuse "F6" "20 A"; fuse "F7" "16 A"; lamp "H3" "8 mA" }
    leg "Clamp" from="N" to="T" { diode "V1" drop="0.7 V" }
    leg "Contact" from="P" to="T" { capacitor "C1" "10 uF"; resistor "R1" "47 ohm" power="5 W" }
}
circuit "Two" supply="DC2" {
    feed { fuse "F3" "15 A"; wire "P2" }
    return { wire "N2"; fuse "F4" "15 A" }
    leg "Lamp" from="P2" to="T" { contact "K1" "a1"; lamp "H1" "8 mA" }
    leg "Own lamp" { lamp "H2" "8 mA" }
}
"#;

/// Runs that together show every key.
fn runs() -> Vec<(&'static str, Run)> {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    fs::write(here.join("twice.kdl"), "scheme \"T\"\nplace \"A\"\nplace \"A\"\n").unwrap();
    fs::write(here.join("loose.kdl"), "scheme   \"T\"\n").unwrap();
    fs::write(here.join("loaded.kdl"), LOADED).unwrap();
    let shorted = LOADED.replace("from=\"N\" to=\"T\"", "from=\"T\" to=\"N\"");
    fs::write(here.join("shorted.kdl"), shorted).unwrap();
    let weak = fs::read_to_string(example("quillmere")).unwrap();
    fs::write(here.join("weak.kdl"), weak.replace("on-above \"80 V\"", "on-above \"120 V\""))
        .unwrap();
    let run = |words: &[&str]| Run::of(here, words);
    let on = |verb: &str, name: &str| {
        let path = example(name);
        Run::of(here, &[verb.as_ref(), path.as_os_str(), "--json".as_ref()])
    };
    vec![
        ("check", run(&["check", "twice.kdl", "--json"])),
        ("check", on("check", "quillmere")),
        ("check", on("check", "harrowfen")),
        ("check", run(&["check", "loaded.kdl", "--json"])),
        ("check", run(&["check", "shorted.kdl", "--json"])),
        ("check", run(&["check", "weak.kdl", "--json"])),
        // As it should be; a ground; more than the supply can give.
        ("check", run(&["check", "loaded.kdl", "--json", "--reading", "T=0 V"])),
        ("check", run(&["check", "loaded.kdl", "--json", "--reading", "P=0 V to ground"])),
        ("check", run(&["check", "loaded.kdl", "--json", "--reading", "T=500 V"])),
        ("draw", on("draw", "dunmarrow")),
        ("prove", on("prove", "dunmarrow")),
        ("prove", on("prove", "dunmarrow-repaired")),
        ("play", on("play", "dunmarrow")),
        ("format", run(&["format", "--check", "loose.kdl", "--json"])),
        ("usage", run(&["chek", "--json"])),
    ]
}
