//! Every example, drawn and looked at by the verifier and by an XML reader we did not write.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Role, Shape};
use fiftytwo_sheet::{Drawing, Legs, Options, Paper, Symbols, draw, svg, verify, whole_svg};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn examples() -> Vec<(String, Scheme)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let schemes: Vec<(String, Scheme)> = paths
        .iter()
        .filter(|path| path.join("scheme.kdl").exists())
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let reading = fiftytwo_scheme::read_path(&path.join("scheme.kdl"));
            let errors: Vec<_> = reading.findings.iter().map(|f| f.message.clone()).collect();
            (name.clone(), reading.scheme.unwrap_or_else(|| panic!("{name}: {errors:?}")))
        })
        .collect();
    assert!(schemes.len() >= 4, "the examples are gone");
    schemes
}

/// Papers, both standards, both arrangements.
fn choices() -> Vec<Options> {
    let plain = Options::default();
    let mut all = vec![
        plain,
        Options { paper: Paper::IsoA3, ..plain },
        Options { share: false, ..plain },
        Options { paper: Paper::AnsiD, ..plain },
        Options { paper: Paper::IsoA1, ..plain },
    ];
    for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
        for legs in [Legs::Upright, Legs::Across] {
            all.push(Options { symbols, legs, ..plain });
            all.push(Options { symbols, legs, paper: Paper::IsoA3, ..plain });
        }
    }
    all
}

#[test]
fn a_checker_with_a_red_pencil_finds_nothing_on_any_example() {
    for (name, scheme) in examples() {
        for options in choices() {
            let drawing = draw(&scheme, &options);
            let faults: Vec<String> = verify(&drawing, &scheme)
                .into_iter()
                .map(|fault| format!("sheet {}: {}", fault.sheet, fault.words))
                .collect();
            assert!(faults.is_empty(), "{name} with {options:?}: {faults:#?}");
        }
    }
}

#[test]
fn every_placed_part_is_drawn_once_and_no_other() {
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let mut drawn: Vec<_> =
            drawing.sheets.iter().flat_map(|sheet| sheet.boxes.iter().map(|b| b.part)).collect();
        drawn.sort_unstable();
        let placed: Vec<_> = scheme.placed().map(|(id, _)| id).collect();
        assert_eq!(drawn, placed, "{name}");
    }
}

#[test]
fn a_general_xml_reader_accepts_every_sheet_and_finds_every_part_with_its_line() {
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let whole = whole_svg(&drawing);
        let document = roxmltree::Document::parse(&whole).unwrap();
        let ids: Vec<&str> =
            document.descendants().filter_map(|node| node.attribute("id")).collect();
        let distinct: BTreeSet<&&str> = ids.iter().collect();
        assert_eq!(ids.len(), distinct.len(), "{name}: an id is given twice");
        let parts = document
            .descendants()
            .filter(|node| node.attribute("class") == Some("part"))
            .filter(|node| node.attribute("data-line").is_some())
            .count();
        assert_eq!(parts, scheme.placed().count(), "{name}");
        for sheet in &drawing.sheets {
            roxmltree::Document::parse(&svg(sheet)).unwrap();
        }
    }
}

#[test]
fn words_stay_words_in_the_svg() {
    let (_, scheme) = examples().into_iter().find(|(name, _)| name == "dunmarrow").unwrap();
    let whole = whole_svg(&draw(&scheme, &Options::default()));
    let document = roxmltree::Document::parse(&whole).unwrap();
    let words: BTreeSet<&str> = document
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text())
        .collect();
    for expected in ["52CS", "52Y", "Close coil", "D1/1", "C1", "20 A"] {
        assert!(words.contains(expected), "{expected} is not on the sheet as text");
    }
}

#[test]
fn the_same_scheme_gives_the_same_bytes() {
    for (name, scheme) in examples() {
        let once = whole_svg(&draw(&scheme, &Options::default()));
        let again = whole_svg(&draw(&scheme.clone(), &Options::default()));
        assert!(once == again, "{name}");
    }
}

#[test]
fn every_wire_number_of_the_text_is_on_a_sheet() {
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let words = words(&drawing);
        for (_, part) in scheme.placed() {
            let at = part.at.unwrap();
            for node in [at.from, at.to] {
                let pole = scheme.supplies.values().any(|s| s.plus == node || s.minus == node);
                let node = &scheme.nodes[node];
                if let Some(wire) = node.label.as_ref().or(node.wire.as_ref()) {
                    assert!(pole || words.contains(wire), "{name}: wire {wire} is not numbered");
                }
            }
        }
    }
}

#[test]
fn every_contact_of_a_device_on_the_sheets_is_in_its_list_or_table() {
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let listed: BTreeSet<String> = drawing
            .sheets
            .iter()
            .flat_map(|sheet| &sheet.items)
            .filter(|group| group.id.starts_with("table-") || group.id.starts_with("contacts-"))
            .flat_map(|group| &group.shapes)
            .filter_map(|shape| match shape {
                Shape::Text(text) => Some(text.words.clone()),
                _ => None,
            })
            .collect();
        for part in scheme.parts.values() {
            let is_contact = matches!(part.kind, fiftytwo_scheme::PartKind::Contact(_));
            let on_sheet = part.device.is_some_and(|device| {
                scheme.devices[device].parts.iter().any(|part| scheme.parts[*part].at.is_some())
            });
            if is_contact && on_sheet {
                assert!(listed.contains(&part.own_name), "{name}: {} is in no list", part.name);
            }
        }
    }
}

fn words(drawing: &Drawing) -> BTreeSet<String> {
    drawing
        .sheets
        .iter()
        .flat_map(|sheet| &sheet.items)
        .filter(|group| !matches!(group.role, Role::Furniture))
        .flat_map(|group| &group.shapes)
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.clone()),
            _ => None,
        })
        .collect()
}

#[test]
fn what_the_designer_noted_and_the_caution_stand_on_every_sheet() {
    let mut noted = 0;
    for (name, scheme) in examples() {
        for sheet in draw(&scheme, &Options::default()).sheets {
            let notes = format!("sheet-{}-notes", sheet.number);
            let group = sheet.items.iter().find(|group| group.id == notes).unwrap();
            let words: Vec<&str> = group
                .shapes
                .iter()
                .filter_map(|shape| match shape {
                    Shape::Text(text) => Some(text.words.as_str()),
                    _ => None,
                })
                .collect();
            let words = words.join(" ");
            assert!(words.contains("Prove every circuit dead"), "{name}, sheet {}", sheet.number);
            for note in &scheme.notes {
                noted += 1;
                assert!(words.contains(note), "{name}, sheet {}: {note}", sheet.number);
            }
        }
    }
    assert!(noted > 0, "no example has a note any more");
}
