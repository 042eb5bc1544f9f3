//! DXF documents, audited by ezdxf, a general-purpose library in Python that shares nothing with
//! the writer.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

mod outside;

use fiftytwo_sheet::geometry::{Role, Shape};
use fiftytwo_sheet::{Drawing, Options, Paper, draw, dxf};
use outside::{examples, folder, is_there, python, said};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

fn written(name: &str, drawing: &Drawing) -> PathBuf {
    let path = folder().join(format!("{name}.dxf"));
    std::fs::write(&path, dxf(drawing)).unwrap();
    path
}

/// What the auditor says of a file: one JSON object.
fn audited(path: &Path) -> Option<Value> {
    let python = python();
    if !is_there(&python, &["-c", "import ezdxf"]) {
        return None;
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/audit.py");
    let text = said(Command::new(python).arg(script).arg(path));
    Some(serde_json::from_str(&text).unwrap())
}

struct Audit {
    name: &'static str,
    drawing: Drawing,
    found: Value,
}

/// Every example on the usual paper, the last one on ISO A3 too; empty where the auditor is not
/// there and need not be.
fn audits() -> &'static [Audit] {
    static AUDITS: OnceLock<Vec<Audit>> = OnceLock::new();
    AUDITS.get_or_init(|| {
        let mut wanted: Vec<_> =
            examples().into_iter().map(|(name, scheme)| (name, scheme, Paper::AnsiB)).collect();
        let (name, scheme, _) = wanted.last().unwrap();
        wanted.push((name, scheme.clone(), Paper::IsoA3));
        wanted
            .into_iter()
            .filter_map(|(name, scheme, paper)| {
                let drawing = draw(&scheme, &Options { paper, ..Options::default() });
                let path = written(&format!("{name}-{}", paper.name()), &drawing);
                Some(Audit { name, found: audited(&path)?, drawing })
            })
            .collect()
    })
}

#[test]
fn an_auditor_of_others_finds_nothing_to_mend_on_any_example() {
    for Audit { name, drawing, found } in audits() {
        assert_eq!(found["errors"], json!([]), "{name}");
        assert_eq!(found["fixes"], json!([]), "{name}");
        // R2010, millimetres.
        assert_eq!((&found["version"], &found["units"]), (&"AC1024".into(), &4.into()));
        let mut tabs: Vec<String> = vec!["Model".to_owned()];
        tabs.extend(drawing.sheets.iter().map(|it| format!("{} {}", it.number, it.title)));
        let tabs: Vec<String> = tabs.iter().map(|name| name.replace([',', ';', ':'], "")).collect();
        assert_eq!(found["layouts"], json!(tabs), "{name}");
    }
}

#[test]
fn every_part_is_a_block_with_its_designation_and_its_line_of_the_text() {
    for Audit { name, drawing, found } in audits() {
        let inserts = found["inserts"].as_array().unwrap();
        let mut read: Vec<(String, String)> = inserts
            .iter()
            .map(|insert| {
                let of = |tag: &str| insert["attributes"][tag].as_str().unwrap_or("").to_owned();
                assert!(!of("DESIGNATION").is_empty(), "{name}: {insert}");
                (of("DESCRIPTION"), of("SOURCE"))
            })
            .collect();
        let mut expected: Vec<(String, String)> = drawing
            .sheets
            .iter()
            .flat_map(|sheet| &sheet.items)
            .filter(|group| matches!(group.role, Role::Part(_)))
            .map(|group| {
                let source = group.source.as_ref().unwrap();
                (group.title.clone(), format!("{}:{}", source.file, source.line))
            })
            .collect();
        read.sort();
        expected.sort();
        assert_eq!(&read, &expected, "{name}");
    }
}

/// Words with their lower left corner and length in tenths of a millimetre.
fn located(words: &str, numbers: [f64; 3]) -> String {
    // Not rounded at a half, where the last bit would decide.
    let [x, y, length] = numbers.map(|value| (value * 10.0 + 0.337).floor());
    format!("{words} {x} {y} {length}")
}

#[test]
fn all_words_of_the_sheets_are_text_in_their_places() {
    for Audit { name, drawing, found } in audits() {
        let mut read: Vec<String> = found["texts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|text| {
                let number = |at: usize| text[at].as_f64().unwrap();
                located(text[0].as_str().unwrap(), [number(1), number(2), number(3)])
            })
            .collect();
        let mut expected = Vec::new();
        let mut left = 0.0;
        for sheet in &drawing.sheets {
            for shape in sheet.items.iter().flat_map(|group| &group.shapes) {
                let Shape::Text(text) = shape else { continue };
                let area = text.area();
                // The air at both ends is left free.
                let air = (0.08 * text.height).min(text.length() / 8.0);
                let (x, y) = if text.turned {
                    (text.at.x, sheet.height - area.bottom + air)
                } else {
                    (area.left + air, sheet.height - text.at.y)
                };
                let words = text.words.replace('\u{2212}', "-");
                expected.push(located(&words, [x + left, y, text.length() - 2.0 * air]));
            }
            left += sheet.width + 50.0;
        }
        read.sort();
        expected.sort();
        assert_eq!(read.len(), expected.len(), "{name}");
        for (read, expected) in read.iter().zip(&expected) {
            assert_eq!(read, expected, "{name}");
        }
    }
}

#[test]
fn layers_go_by_meaning_and_wires_are_on_theirs() {
    for Audit { name, drawing, found } in audits() {
        let wires = drawing
            .sheets
            .iter()
            .flat_map(|sheet| &sheet.items)
            .filter(|group| matches!(group.role, Role::Wire(_)))
            .flat_map(|group| &group.shapes)
            .filter(|shape| matches!(shape, Shape::Line { .. }))
            .count();
        let on = |layer: &str| found["lines"][layer].as_u64().unwrap_or(0);
        assert_eq!(on("WIRES") + on("RAILS"), u64::try_from(wires).unwrap(), "{name}");
        // The others have no cores, or no second place.
        if *name != "quillmere" {
            continue;
        }
        let used = found["layers"].as_array().unwrap();
        for layer in ["SYMBOLS", "TERMINALS", "DESIGNATIONS", "WIRE-NUMBERS", "PLACES"] {
            assert!(used.iter().any(|name| name == layer), "{name}: nothing lies on {layer}");
        }
    }
}

#[test]
fn the_same_scheme_gives_the_same_file() {
    for (name, scheme) in examples() {
        let once = dxf(&draw(&scheme, &Options::default()));
        assert!(once == dxf(&draw(&scheme.clone(), &Options::default())), "{name}");
    }
}
