//! Every place that stands on a sheet leads there.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Meaning, Role, Shape, Text};
use fiftytwo_sheet::{Drawing, Options, Paper, draw, svg, whole_svg};
use std::collections::BTreeSet;
use std::path::Path;

fn example(name: &str) -> Scheme {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    fiftytwo_scheme::read_path(&folder.join(name).join("scheme.kdl")).scheme.unwrap()
}

fn texts(drawing: &Drawing) -> impl Iterator<Item = (usize, &Role, &Text)> {
    drawing.sheets.iter().flat_map(|sheet| {
        sheet.items.iter().flat_map(|group| {
            group.shapes.iter().filter_map(|shape| match shape {
                Shape::Text(text) => Some((sheet.number, &group.role, text)),
                _ => None,
            })
        })
    })
}

/// "2/D7": a sheet, a stroke, a letter and a number.
fn says_a_place(words: &str) -> Option<usize> {
    let (sheet, zone) = words.split_once('/')?;
    let row = zone.chars().next()?;
    let is_zone = row.is_ascii_uppercase() && zone[1..].parse::<u32>().is_ok();
    if is_zone { sheet.parse().ok() } else { None }
}

#[test]
fn every_place_on_a_sheet_leads_to_a_group_in_that_zone() {
    let mut followed = 0;
    for name in ["dunmarrow", "harrowfen", "latches", "quillmere"] {
        let drawing = draw(&example(name), &Options::default());
        for (number, role, text) in texts(&drawing) {
            let Some(sheet) = says_a_place(&text.words) else { continue };
            let Meaning::Reference(link) = &text.meaning else {
                panic!("{name}, sheet {number}: {} of {role:?} leads nowhere", text.words)
            };
            assert_eq!(link.sheet, sheet, "{name}: {}", text.words);
            let target = &drawing.sheets[sheet - 1];
            assert!(target.items.iter().any(|group| group.id == link.group), "{}", link.group);
            if !matches!(role, Role::Flag(_) | Role::Circuit(_)) {
                let zone = Paper::AnsiB.zone(link.at.x, link.at.y);
                let lies = target.boxes.iter().any(|body| body.area.holds(&area(link.at)));
                assert!(lies, "{name}: {} leads beside every part", text.words);
                assert!(text.words.ends_with(&zone), "{name}: {} leads into {zone}", text.words);
            }
            followed += 1;
        }
    }
    assert!(followed > 100, "only {followed} places stand on the sheets of the examples");
}

fn area(at: fiftytwo_sheet::geometry::Point) -> fiftytwo_sheet::geometry::Area {
    fiftytwo_sheet::geometry::Area::between(at, at)
}

#[test]
fn wires_terminals_and_titles_that_look_like_places_lead_nowhere() {
    let drawing = draw(&example("quillmere"), &Options::default());
    for (number, role, text) in texts(&drawing) {
        if matches!(role, Role::Wire(_) | Role::Leg(_) | Role::Furniture | Role::Place(_)) {
            assert_eq!(text.meaning, Meaning::Words, "sheet {number}: {}", text.words);
        }
    }
}

#[test]
fn links_of_an_svg_lead_to_what_the_same_file_holds() {
    for name in ["harrowfen", "quillmere"] {
        let drawing = draw(&example(name), &Options::default());
        let led = |text: &str| {
            let document = roxmltree::Document::parse(text).unwrap();
            let ids: BTreeSet<&str> =
                document.descendants().filter_map(|node| node.attribute("id")).collect();
            let links = document.descendants().filter(|node| node.has_tag_name("a"));
            let links: Vec<&str> = links.filter_map(|node| node.attribute("href")).collect();
            for link in &links {
                assert!(ids.contains(link.trim_start_matches('#')), "{name}: {link}");
            }
            links.len()
        };
        let refers =
            |(_, _, text): &(usize, &Role, &Text)| matches!(text.meaning, Meaning::Reference(_));
        assert_eq!(led(&whole_svg(&drawing)), texts(&drawing).filter(refers).count(), "{name}");
        let here = |it: &(usize, &Role, &Text)| matches!(&it.2.meaning, Meaning::Reference(link) if link.sheet == it.0);
        let each: usize = drawing.sheets.iter().map(|sheet| led(&svg(sheet))).sum();
        assert_eq!(each, texts(&drawing).filter(here).count(), "{name}");
        assert!(each > 0, "{name}");
    }
}
