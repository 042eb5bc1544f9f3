//! Five slips of the pen (a coil ten times lower, a cable ten times longer, a resistor missing, an
//! opto's thresholds ten times too low, a fuse ten times too large) at every place of every example
//! where they can be made. What each must come to stands in `typed_wrong.json`: the id and the first
//! device of every finding that the right text does not have, or why there is none.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example};
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::ops::Range;

/// One slip: what stands there, and what is typed instead.
struct Slip {
    name: String,
    at: Range<usize>,
    wrong: String,
}

/// The first quoted text from a place on: where it is, and what.
fn quoted(text: &str, from: usize) -> Option<(Range<usize>, &str)> {
    let begin = from + text[from..].find('"')? + 1;
    let end = begin + text[begin..].find('"')?;
    Some((begin..end, &text[begin..end]))
}

/// The number before a unit, times a factor.
fn times(value: &str, factor: f64) -> String {
    let (number, unit) = value.split_once(' ').unwrap();
    let typed = (number.parse::<f64>().unwrap() * factor * 1e6).round() / 1e6;
    format!("{typed} {unit}")
}

/// Every `word "12 unit"` or `word="12 unit"` of the text, with its line and what was opened above it.
fn slips(text: &str, kind: &str) -> Vec<Slip> {
    let (mut slips, mut start) = (Vec::new(), 0);
    let (mut device, mut block) = (String::new(), String::new());
    for line in text.split_inclusive('\n') {
        let trimmed = line.trim_start();
        let indent = line.len() - trimmed.len();
        let word = trimmed.split([' ', '{']).next().unwrap_or_default();
        let own = quoted(line, 0).map_or("", |(_, name)| name).to_owned();
        match word {
            "type" | "breaker" | "relay" | "lockout" | "latch" | "ied" => device = own.clone(),
            "coil" | "input" => {
                let named = trimmed[word.len()..].trim_start().starts_with('"');
                let name = if named { format!("{device} {own}") } else { device.clone() };
                block = format!("{word} {name}");
            }
            _ => {}
        }
        let mut add = |name: String, at: Range<usize>, wrong: String| {
            slips.push(Slip { name, at: start + at.start..start + at.end, wrong });
        };
        let after = |key: &str| {
            let at = line.find(&format!("{key} \"")).or_else(|| line.find(&format!("{key}=\"")))?;
            quoted(line, at)
        };
        match kind {
            "coil" if word == "coil" || (word == "resistance" && block.starts_with("coil")) => {
                if let Some((at, value)) = after("resistance") {
                    add(block.clone(), at, times(value, 0.1));
                }
            }
            "cable" if word == "cable" => {
                let (at, value) = after("length").unwrap();
                add(format!("cable {own}"), at, times(value, 10.0));
            }
            "opto" if block.starts_with("input") => {
                for key in ["on-above", "off-below"] {
                    if let Some((at, value)) = after(key) {
                        add(block.clone(), at, times(value, 0.1));
                    }
                }
            }
            "fuse" | "resistor" => {
                let mut from = indent;
                while let Some(found) = line[from..].find(&format!("{kind} \"")) {
                    let begin = from + found;
                    let (name_at, name) = quoted(line, begin).unwrap();
                    let (value_at, value) = quoted(line, name_at.end + 1).unwrap();
                    from = value_at.end + 1;
                    if kind == "fuse" {
                        add(format!("fuse {name}"), value_at, times(value, 10.0));
                    } else {
                        let end =
                            line[from..].find([';', '}']).map_or(line.len(), |end| from + end);
                        let end = if line[end..].starts_with(';') { end + 1 } else { end };
                        add(format!("resistor {name}"), begin..end, String::new());
                    }
                }
            }
            _ => {}
        }
        start += line.len();
    }
    slips
}

/// Id and first device of every finding, notes aside; each has a cure.
fn told(text: &str, stories: Option<&str>) -> BTreeSet<String> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("scheme.kdl"), text).unwrap();
    if let Some(stories) = stories {
        fs::write(folder.path().join("stories.kdl"), stories).unwrap();
    }
    let object = Run::of(folder.path(), &["check", "scheme.kdl", "--json"]).object();
    let findings = object["findings"].as_array().unwrap().iter();
    let grave = findings.filter(|it| it["severity"] != "note");
    let mut told = BTreeSet::new();
    for it in grave {
        assert!(it["help"].is_string(), "{it:#}");
        let id = it["id"].as_str().unwrap();
        let line = format!("{id} {}", it["devices"][0].as_str().unwrap_or_default());
        assert!(told.insert(line), "told twice: {it:#}");
    }
    told
}

fn every_slip_of(kind: &str) {
    let table = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/typed_wrong.json"));
    let table: Value = serde_json::from_str(&table.unwrap()).unwrap();
    let (mut wrong, mut tried) = (String::new(), 0);
    for (name, expected) in table.as_object().unwrap() {
        let path = example(name);
        let text = fs::read_to_string(&path).unwrap();
        let stories = fs::read_to_string(path.with_file_name("stories.kdl")).ok();
        let right = told(&text, stories.as_deref());
        let slips = slips(&text, kind);
        let names: BTreeSet<&str> = slips.iter().map(|slip| slip.name.as_str()).collect();
        for slip in &names {
            // The thresholds of one input are one slip.
            let mut typed = text.clone();
            for it in slips.iter().rev().filter(|it| it.name == *slip) {
                typed.replace_range(it.at.clone(), &it.wrong);
            }
            let found: Vec<String> =
                told(&typed, stories.as_deref()).difference(&right).cloned().collect();
            tried += 1;
            let expected: Vec<&str> = match &expected[slip] {
                Value::Array(lines) => lines.iter().filter_map(Value::as_str).collect(),
                // Why there is nothing to find.
                Value::String(why) if !why.is_empty() => Vec::new(),
                _ => vec!["(not in the table)"],
            };
            if found != expected {
                wrong += &format!("{name}, {slip}: {found:?}, expected {expected:?}\n");
            }
        }
        let begins = if kind == "opto" { "input" } else { kind };
        for slip in expected.as_object().unwrap().keys().filter(|it| it.starts_with(begins)) {
            if !names.contains(slip.as_str()) {
                wrong += &format!("{name}, {slip}: not in the text\n");
            }
        }
    }
    assert!(tried >= 7, "{kind}: {tried}");
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn a_coil_ten_times_lower() {
    every_slip_of("coil");
}

#[test]
fn a_cable_ten_times_longer() {
    every_slip_of("cable");
}

#[test]
fn a_resistor_missing() {
    every_slip_of("resistor");
}

#[test]
fn an_opto_threshold_ten_times_too_low() {
    every_slip_of("opto");
}

#[test]
fn a_fuse_ten_times_too_large() {
    every_slip_of("fuse");
}
