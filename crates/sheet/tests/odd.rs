//! Corners of the language on one sheet: `odd.kdl`.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Group, Role, Shape};
use fiftytwo_sheet::{Drawing, Options, draw, verify, whole_svg};

fn odd() -> (Scheme, Drawing) {
    let scheme = fiftytwo_scheme::read_text("odd.kdl", include_str!("odd.kdl")).scheme.unwrap();
    let drawing = draw(&scheme, &Options::default());
    (scheme, drawing)
}

fn groups(drawing: &Drawing) -> impl Iterator<Item = &Group> {
    drawing.sheets.iter().flat_map(|sheet| &sheet.items)
}

fn words(group: &Group) -> Vec<&str> {
    group
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn nothing_is_marked_in_red() {
    let (scheme, drawing) = odd();
    assert_eq!(verify(&drawing, &scheme), []);
}

#[test]
fn a_leg_written_against_the_current_is_turned_over_with_its_diode() {
    let (scheme, drawing) = odd();
    let diode = scheme.part_named("D1").unwrap();
    let body = drawing.sheets[0].boxes.iter().find(|body| body.part == diode).unwrap();
    assert!(body.ends[0].y > body.ends[1].y, "the current would flow down against the diode");
}

#[test]
fn a_wire_that_goes_on_in_another_circuit_says_where() {
    let (scheme, drawing) = odd();
    let wire = scheme.node_named("C1").unwrap();
    let flags: Vec<Vec<&str>> =
        groups(&drawing).filter(|g| g.role == Role::Flag(wire)).map(words).collect();
    assert_eq!(flags.len(), 2);
    assert_ne!(flags[0][1], flags[1][1], "each flag names the other end, not its own place");
}

#[test]
fn a_feed_that_others_tap_stands_upright_under_the_pole() {
    let (scheme, drawing) = odd();
    let fuse = scheme.part_named("F1").unwrap();
    let body = drawing.sheets[0].boxes.iter().find(|body| body.part == fuse).unwrap();
    assert!((body.ends[0].x - body.ends[1].x).abs() < 1e-9);
}

#[test]
fn cores_say_where_they_land() {
    let (scheme, drawing) = odd();
    let core = scheme.part_named("C1/2").unwrap();
    let group = groups(&drawing).find(|group| group.role == Role::Part(core)).unwrap();
    // Core 2 is walked from the yard to the house: its yard terminal stands above.
    let texts = words(group);
    let at = |words: &str| texts.iter().position(|text| *text == words).unwrap();
    assert!(at("X2:12") < at("TB1:5"));
}

#[test]
fn signs_of_xml_and_foreign_letters_come_through() {
    let (_, drawing) = odd();
    let svg = whole_svg(&drawing);
    let document = roxmltree::Document::parse(&svg).unwrap();
    let has = |words: &str| {
        document.descendants().any(|node| node.has_tag_name("text") && node.text() == Some(words))
    };
    assert!(has("Odd <corners> & ends"));
    assert!(has("ÄMBER Δ"));
}
