//! What changed since an earlier text: nothing that means something is passed over in silence.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Group, Role, Shape};
use fiftytwo_sheet::{
    Changes, Drawing, Legs, Options, Symbols, changes, draw, draw_changed, verify,
};
use std::path::Path;

fn text() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/quillmere/scheme.kdl");
    let text = std::fs::read_to_string(path).unwrap();
    text.lines()
        .filter(|line| !line.starts_with("use "))
        .fold(String::new(), |text, line| text + line + "\n")
}

fn read(text: &str) -> Scheme {
    let reading = fiftytwo_scheme::read_text("scheme.kdl", text);
    let said: Vec<String> = reading.findings.iter().map(|it| it.message.clone()).collect();
    reading.scheme.unwrap_or_else(|| panic!("{said:#?}"))
}

fn groups(drawing: &Drawing) -> impl Iterator<Item = &Group> {
    drawing.sheets.iter().flat_map(|sheet| &sheet.items)
}

/// All words of the table of changes.
fn table(drawing: &Drawing) -> String {
    groups(drawing)
        .filter(|group| group.id.starts_with("table-Changes"))
        .flat_map(|group| &group.shapes)
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.clone()),
            _ => None,
        })
        .collect::<Vec<_>>()
        .join(" ")
}

fn clouds(drawing: &Drawing) -> Vec<&str> {
    groups(drawing).filter(|it| it.role == Role::Change).map(|it| it.title.as_str()).collect()
}

/// The earlier text is the later with `new` put in the place of `old`.
fn since(old: &str, new: &str) -> (Scheme, Changes) {
    let later = text();
    assert!(later.contains(old), "{old} is not in the example any more");
    let (before, after) = (read(&later.replacen(old, new, 1)), read(&later));
    let found = changes(&before, &after);
    (after, found)
}

#[test]
fn every_value_of_the_text_that_differs_is_told_on_the_sheets() {
    for (old, new, told) in [
        (
            "length=\"350 m\" size=\"10 AWG\" cores=19",
            "length=\"500 m\" size=\"14 AWG\" cores=19",
            "length 350 m, was 500 m",
        ),
        (
            "range=\"105 to 140 V\" resistance=\"14 mohm\" place=\"HOUSE\"",
            "range=\"90 to 140 V\" resistance=\"14 mohm\" place=\"HOUSE\"",
            "range 105 to 140 V, was 90 to 140 V",
        ),
        (
            "logic \"shot\" when=\"running and open\" on-delay=\"500 ms\"",
            "logic \"shot\" when=\"running and open\" on-delay=\"300 ms\"",
            "on after 500 ms, was 300 ms",
        ),
        (
            "opening-time=\"22 to 28 ms\"",
            "opening-time=\"22 to 40 ms\"",
            "opening time 22 to 28 ms, was 22 to 40 ms",
        ),
        (
            "order \"SCADA trip\" lasts=\"300 to 800 ms\"",
            "order \"SCADA trip\" lasts=\"100 to 800 ms\"",
            "lasts 300 to 800 ms, was 100 to 800 ms",
        ),
        (
            "condition \"cabinet\" \"warm\" \"cold\"",
            "condition \"cabinet\" \"cold\" \"warm\"",
            "states warm, cold, was cold, warm",
        ),
        (
            "relay \"63X\" \"Low gas, supply 1\"",
            "relay \"63X\" \"Low gas\"",
            "description Low gas, supply 1, was Low gas",
        ),
        ("fuse \"F3\" \"30 A\"", "fuse \"F3\" \"25 A\"", "rating 30 A, was 25 A"),
        (
            "resistor \"R1\" \"10 kohm\"",
            "resistor \"R1\" \"12 kohm\"",
            "resistance 10 kohm, was 12 kohm",
        ),
        ("max-on=\"1 s\"", "max-on=\"2 s\"", "max-on 1 s, was 2 s"),
    ] {
        let (scheme, found) = since(old, new);
        assert!(!found.is_empty(), "{old}");
        assert!(found.told(&scheme).contains(told), "{old}: {}", found.told(&scheme));
        let drawing = draw_changed(&scheme, &Options { cover: true, ..Options::default() }, &found);
        assert!(table(&drawing).contains(told), "{old}: {}", table(&drawing));
        assert_eq!(verify(&drawing, &scheme), [], "{old}");
    }
}

#[test]
fn a_cable_a_supply_and_a_line_of_logic_have_their_clouds_where_they_stand() {
    for (old, new, titles) in [
        (
            "length=\"350 m\" size=\"10 AWG\" cores=19",
            "length=\"500 m\" size=\"14 AWG\" cores=19",
            vec!["cable C4-1"],
        ),
        ("supply \"DC1\" \"125 V DC\"", "supply \"DC1\" \"110 V DC\"", vec!["supply DC1"]),
        (
            "logic \"shot\" when=\"running and open\" on-delay=\"500 ms\"",
            "logic \"shot\" when=\"running and open\" on-delay=\"300 ms\"",
            vec!["line of 79 shot"],
        ),
    ] {
        let (scheme, found) = since(old, new);
        for (symbols, legs) in
            [(Symbols::Ieee315, Legs::Upright), (Symbols::Iec60617, Legs::Across)]
        {
            let options = Options { symbols, legs, cover: true, ..Options::default() };
            let drawing = draw_changed(&scheme, &options, &found);
            for title in &titles {
                assert!(
                    clouds(&drawing).iter().any(|it| it.contains(title)),
                    "{title}: {:?}",
                    clouds(&drawing)
                );
            }
            assert_eq!(verify(&drawing, &scheme), [], "{old}, {options:?}");
        }
    }
}

#[test]
fn what_no_sheet_shows_is_named_at_least() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/quillmere");
    let later = fiftytwo_scheme::read_path(&root.join("scheme.kdl")).scheme.unwrap();
    let (story, claim) = (later.stories[0].name.clone(), later.claims[0].name.clone());
    let mut earlier = later.clone();
    earlier.stories.clear();
    earlier.claims.clear();
    let told = changes(&earlier, &later).told(&later);
    for new in [format!("story {story} (new)"), format!("claim {claim} (new)")] {
        assert!(told.contains(&new), "{new}: {told}");
    }
    let later = read(&text());
    let mut earlier = later.clone();
    for person in later.persons.ids() {
        let mut persons = fiftytwo_scheme::Arena::default();
        for (id, other) in later.persons.iter() {
            let mut other = other.clone();
            if id == person {
                other.may.clear();
            }
            persons.push(other);
        }
        earlier.persons = persons;
        let found = changes(&earlier, &later);
        let name = &later.persons[person].name;
        assert!(
            found.told(&later).contains(&format!("differs also in: person {name}")),
            "{}",
            found.told(&later)
        );
    }
}

#[test]
fn what_is_gone_stands_on_the_drawing() {
    let later = text();
    let lamp = later.lines().find(|line| line.contains("leg \"Opto monitor 1\"")).unwrap();
    let (before, after) = (read(&later), read(&later.replace(lamp, "")));
    let found = changes(&before, &after);
    assert!(found.gone.contains(&"R1".to_owned()), "{:?}", found.gone);
    let drawing = draw_changed(&after, &Options::default(), &found);
    for gone in ["parts gone", "R1", "leg Opto monitor 1 of circuit Trip 1", "gone"] {
        assert!(table(&drawing).contains(gone), "{gone}: {}", table(&drawing));
    }
}

#[test]
fn a_grey_number_that_moved_is_told_and_has_its_cloud() {
    let later = text();
    let lamp = later.lines().find(|line| line.contains("leg \"Red lamp\"")).unwrap();
    let (before, after) = (read(&later), read(&later.replace(lamp, "")));
    let found = changes(&before, &after);
    assert!(!found.renumbered.is_empty(), "no grey number moved: ask another leg");
    let drawing = draw_changed(&after, &Options::default(), &found);
    for (was, is) in found.renumbered.values() {
        assert!(table(&drawing).contains(&format!("{was} is {is}")), "{}", table(&drawing));
        let cloud = format!("wire {is}, counted");
        assert!(clouds(&drawing).iter().any(|title| title.contains(&cloud)), "{cloud}");
    }
}

#[test]
fn the_same_text_has_no_table_and_no_cloud() {
    let scheme = read(&text());
    let moved = read(&format!("// A line more.\n{}", text()));
    let found = changes(&scheme, &moved);
    assert!(found.is_empty(), "{found:?}");
    assert_eq!(
        draw_changed(&moved, &Options::default(), &found),
        draw(&moved, &Options::default())
    );
}
