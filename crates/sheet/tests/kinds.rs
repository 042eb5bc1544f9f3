//! One scheme with every kind of part, drawn in every style, plain, in a state, and with marks.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::{PartKind, Scheme};
use fiftytwo_sheet::geometry::{Ink, Role, Shape};
use fiftytwo_sheet::{
    Drawing, Legs, Level, Live, Options, PartNow, Symbols, WireNow, changes, draw, draw_changed,
    draw_live, dxf, svg, verify,
};
use std::collections::BTreeSet;

fn scheme() -> Scheme {
    let reading = fiftytwo_scheme::read_text("kinds.kdl", include_str!("kinds.kdl"));
    let said: Vec<String> = reading.findings.iter().map(|it| it.message.clone()).collect();
    reading.scheme.unwrap_or_else(|| panic!("{said:#?}"))
}

fn styles() -> Vec<Options> {
    let mut all = Vec::new();
    for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
        for legs in [Legs::Upright, Legs::Across] {
            all.push(Options { symbols, legs, ..Options::default() });
        }
    }
    all
}

/// A kind that is added to the model stops this from compiling: give it a line in `kinds.kdl`.
fn kind(kind: &PartKind) -> usize {
    match kind {
        PartKind::Contact(_) => 0,
        PartKind::Coil(_) => 1,
        PartKind::Input(_) => 2,
        PartKind::Motor(_) => 3,
        PartKind::Element { .. } => 4,
        PartKind::Power { .. } => 5,
        PartKind::Link => 6,
        PartKind::Fuse { .. } => 7,
        PartKind::Resistor { .. } => 8,
        PartKind::Capacitor { .. } => 9,
        PartKind::Diode(_) => 10,
        PartKind::Varistor(_) => 11,
        PartKind::Lamp(_) => 12,
        PartKind::Heater { .. } => 13,
        PartKind::Terminal => 14,
        PartKind::Core(_) => 15,
        PartKind::Jumper => 16,
    }
}

fn words(drawing: &Drawing) -> Vec<String> {
    let shapes = drawing.sheets.iter().flat_map(|sheet| &sheet.items).flat_map(|it| &it.shapes);
    shapes
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.clone()),
            _ => None,
        })
        .collect()
}

#[test]
fn every_kind_of_part_is_placed() {
    let scheme = scheme();
    let kinds: BTreeSet<usize> = scheme.placed().map(|(_, part)| kind(&part.kind)).collect();
    assert_eq!(kinds, (0..=16).collect());
}

#[test]
fn a_red_pencil_finds_nothing_in_any_style() {
    let scheme = scheme();
    for options in styles() {
        let drawing = draw(&scheme, &Options { cover: true, ..options });
        assert_eq!(verify(&drawing, &scheme), [], "{options:?}");
        for sheet in &drawing.sheets {
            roxmltree::Document::parse(&svg(sheet)).unwrap();
        }
    }
}

#[test]
fn conditions_and_ratings_stand_beside_their_contacts() {
    let scheme = scheme();
    let drawing = draw(&scheme, &Options::default());
    let said = words(&drawing).join(" ");
    for told in ["if not gas very low", "if spring discharged", "if station control close"] {
        assert!(said.contains(told), "{told}: {said}");
    }
    let beside = |name: &str| {
        let id = scheme.part_named(name).unwrap();
        let group = drawing.sheets.iter().flat_map(|sheet| &sheet.items);
        let group = group.into_iter().find(|group| group.role == Role::Part(id)).unwrap();
        let texts = group.shapes.iter().filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.clone()),
            _ => None,
        });
        texts.collect::<Vec<_>>().join(" ")
    };
    assert!(beside("52 a1").contains("breaks 10 A"), "{}", beside("52 a1"));
    assert!(!beside("K1 b1").contains("makes"), "a relay's coil alone: {}", beside("K1 b1"));
    assert!(beside("52 LS1").contains("makes 15 A"), "{}", beside("52 LS1"));
    assert!(!beside("52 a1").contains(" if "), "its name and the drawing tell");
    assert!(said.contains("30 A / 10 A"), "the table has both");
}

#[test]
fn what_stays_where_it_was_driven_has_its_mark() {
    let scheme = scheme();
    let symbols = |options: &Options| -> BTreeSet<String> {
        let drawing = draw(&scheme, options);
        let named = |name: &str| {
            let id = scheme.part_named(name).unwrap();
            let bodies = drawing.sheets.iter().flat_map(|sheet| &sheet.boxes);
            bodies.into_iter().find(|body| body.part == id).unwrap().symbol.to_owned()
        };
        ["43RC on", "86 operate"].map(named).into()
    };
    for options in styles() {
        assert_eq!(symbols(&options), BTreeSet::from(["coil-latched".to_owned()]));
    }
    let notes = draw(&scheme, &Options::default());
    assert!(words(&notes).join(" ").contains("as after their last reset"));
}

/// A state made for the test: what is drawn of it is asked, not whether it is true.
fn state(scheme: &Scheme, turn: usize) -> Live {
    let levels = [Level::Plus, Level::Minus, Level::Between, Level::Floating];
    let wires = scheme.nodes.ids().enumerate().map(|(index, node)| {
        let level = levels[(index + turn) % levels.len()];
        let volts = (level != Level::Floating).then_some(123.4);
        (node, WireNow { level, volts })
    });
    let parts = scheme.placed().enumerate().map(|(index, (id, part))| {
        let switches = matches!(part.kind, PartKind::Contact(_) | PartKind::Link);
        let closed = switches.then_some((index + turn).is_multiple_of(2));
        let note = match part.kind {
            PartKind::Coil(_) | PartKind::Motor(_) => Some("124 V 96 mA".to_owned()),
            PartKind::Lamp(_) | PartKind::Input(_) => Some("on, 118 V".to_owned()),
            _ => None,
        };
        let now = PartNow {
            closed,
            on: note.is_some().then_some(true),
            note,
            amps: Some(if (index + turn).is_multiple_of(3) { 2.9 } else { 0.0 }),
            pointed_at: closed == Some(true),
        };
        (id, now)
    });
    Live {
        title: "A state for the test, with a title of some length: 52 trip latch goes at 99.5 ms"
            .to_owned(),
        wires: wires.collect(),
        parts: parts.collect(),
        lost: BTreeSet::new(),
        conducts_from: 0.01,
        pointer: "not as drawn at rest".to_owned(),
        notes: vec!["Supplies at nominal volts, all at 20 °C; volts against minus.".to_owned()],
    }
}

#[test]
fn a_state_of_every_kind_of_part_stays_readable() {
    let scheme = scheme();
    for options in styles() {
        for turn in 0..4 {
            let live = draw_live(&scheme, &options, &state(&scheme, turn));
            assert_eq!(verify(&live, &scheme), [], "{options:?}, {turn}");
        }
    }
}

#[test]
fn a_cloud_round_anything_cuts_no_words() {
    let scheme = scheme();
    let text = include_str!("kinds.kdl");
    let other = text
        .replace("\"10 A\"", "\"9 A\"")
        .replace("resistance=\"2000 ohm\"", "resistance=\"1900 ohm\"")
        .replace("wire \"C1\"", "wire \"C9\"")
        .replace("not gas very low", "gas normal");
    let before = fiftytwo_scheme::read_text("kinds.kdl", &other).scheme.unwrap();
    let found = changes(&before, &scheme);
    assert!(found.altered.len() > 5 && !found.wires.is_empty() && !found.listed.is_empty());
    for options in styles() {
        let drawing = draw_changed(&scheme, &options, &found);
        assert_eq!(verify(&drawing, &scheme), [], "{options:?}");
    }
}

#[test]
fn a_wire_at_minus_is_two_lines_in_a_dxf_and_nothing_is_white() {
    let scheme = scheme();
    let live = draw_live(&scheme, &Options::default(), &state(&scheme, 0));
    let paper = live
        .sheets
        .iter()
        .flat_map(|sheet| &sheet.items)
        .flat_map(|group| &group.shapes)
        .filter(|shape| matches!(shape, Shape::Line { ink: Ink::Paper, .. }))
        .count();
    assert!(paper > 0, "on paper the middle of a broad line is taken out");
    let file = dxf(&live);
    let pairs: Vec<(&str, &str)> = {
        let lines: Vec<&str> = file.lines().map(str::trim).collect();
        lines.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
    };
    let white = 0x00ff_ffff.to_string();
    assert!(!pairs.iter().any(|(code, value)| *code == "420" && *value == white));
    // The ink of minus: each of its wires is written twice.
    let blue = (0x1b << 16 | 0x4a << 8 | 0x94).to_string();
    let strokes = pairs.iter().filter(|(code, value)| *code == "420" && *value == blue).count();
    assert!(strokes > 2 && strokes.is_multiple_of(2), "{strokes}");
}
