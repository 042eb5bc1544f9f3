//! The habits of each standard, each arrangement, the cover, marks of changes, and states.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::{PartKind, Scheme};
use fiftytwo_sheet::geometry::{Group, Ink, Pen, Role, Shape};
use fiftytwo_sheet::{
    Drawing, Legs, Level, Live, Options, Panel, Paper, PartNow, Symbols, WireNow, changes, draw,
    draw_changed, draw_live, is_drawn_closed, storyboard, verify, verify_marks,
};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

fn example(name: &str) -> Scheme {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    let text = std::fs::read_to_string(path.join("scheme.kdl")).unwrap();
    let text: String = text
        .lines()
        .filter(|line| !line.starts_with("use "))
        .fold(String::new(), |text, line| text + line + "\n");
    fiftytwo_scheme::read_text("scheme.kdl", &text).scheme.unwrap()
}

fn groups(drawing: &Drawing) -> impl Iterator<Item = &Group> {
    drawing.sheets.iter().flat_map(|sheet| &sheet.items)
}

fn words(group: &Group) -> Vec<String> {
    let word = |shape: &Shape| match shape {
        Shape::Text(text) => Some(text.words.clone()),
        _ => None,
    };
    group.shapes.iter().filter_map(word).collect()
}

fn part(drawing: &Drawing, scheme: &Scheme, name: &str) -> Group {
    let id = scheme.part_named(name).unwrap();
    groups(drawing).find(|group| group.role == Role::Part(id)).unwrap().clone()
}

#[test]
fn an_iec_sheet_counts_its_paths_and_refers_to_them() {
    let scheme = example("quillmere");
    let drawing = draw(&scheme, &Options { symbols: Symbols::Iec60617, ..Options::default() });
    for sheet in drawing.sheets.iter().filter(|sheet| !sheet.boxes.is_empty()) {
        let numbers: Vec<String> = sheet
            .items
            .iter()
            .filter(|group| group.id.starts_with("paths-"))
            .flat_map(words)
            .collect();
        let counted: Vec<String> = (1..=numbers.len()).map(|number| number.to_string()).collect();
        assert_eq!(numbers, counted, "sheet {}", sheet.number);
    }
    // The contact of 86 in the close circuit names sheet and path of its coil; above that path,
    // on that sheet, the coil stands.
    let place = words(&part(&drawing, &scheme, "86 b1"));
    let place = place.iter().find(|words| words.contains('.')).unwrap();
    let (sheet, path) = place.split_once('.').unwrap();
    let sheet = &drawing.sheets[sheet.parse::<usize>().unwrap() - 1];
    let coil = scheme.part_named("86 operate").unwrap();
    let body = sheet.boxes.iter().find(|body| body.part == coil).unwrap();
    let number = sheet
        .items
        .iter()
        .filter(|group| group.id.starts_with("paths-"))
        .flat_map(|group| &group.shapes)
        .find_map(|shape| match shape {
            Shape::Text(text) if text.words == path => Some(text.at.x),
            _ => None,
        })
        .unwrap();
    assert!((number - body.ends[0].x).abs() < 0.01, "path {path} is not that of the coil");
}

#[test]
fn an_iec_sheet_numbers_contacts_without_screws_and_says_that_it_counted() {
    let scheme = example("quillmere");
    let drawing = draw(&scheme, &Options { symbols: Symbols::Iec60617, ..Options::default() });
    // Given in the text: as given. Not given: second contact of its relay, closed as drawn.
    assert!(words(&part(&drawing, &scheme, "52 b1")).contains(&"21".to_owned()));
    let counted = words(&part(&drawing, &scheme, "52Y b1"));
    assert!(counted.contains(&"21".to_owned()) && counted.contains(&"22".to_owned()));
    assert!(words(&part(&drawing, &scheme, "52Y")).contains(&"A1".to_owned()));
    let notes: Vec<String> =
        groups(&drawing).filter(|group| group.id == "sheet-1-notes").flat_map(words).collect();
    assert!(notes.join(" ").contains("contacts and coils are counted here"), "{notes:#?}");
    // What the text gives is not told as counted: it stands in the ink of everything else.
    let inks = |name: &str, screw: &str| -> Vec<Ink> {
        let group = part(&drawing, &scheme, name);
        let texts = group.shapes.iter().filter_map(|shape| match shape {
            Shape::Text(text) if text.words == screw => Some(text.ink),
            _ => None,
        });
        texts.collect()
    };
    assert_eq!(inks("52 b1", "21"), [Ink::Main]);
    assert_eq!(inks("52Y b1", "21"), [Ink::Second]);
    let plain = draw(&scheme, &Options::default());
    assert!(!words(&part(&plain, &scheme, "52Y b1")).contains(&"21".to_owned()));
}

/// A number that the drawing counted is no label, and a contact whose condition found no room is explained by a
/// table: where that goes unsaid somebody labels by the one and guesses the other.
#[test]
fn no_sheet_leaves_out_what_is_said_nowhere_else() {
    let (mut counted, mut left_out) = (0, 0);
    for name in ["quillmere", "quillmere-block", "quillmere-shared", "harrowfen", "dunmarrow"] {
        let scheme = example(name);
        for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
            for paper in [Paper::AnsiB, Paper::IsoA3] {
                let drawing = draw(&scheme, &Options { symbols, paper, ..Options::default() });
                for sheet in &drawing.sheets {
                    let notes = sheet.items.iter().filter(|group| group.id.ends_with("-notes"));
                    let notes = notes.flat_map(words).collect::<Vec<_>>().join(" ");
                    let place = format!("{name}, {symbols:?}, {paper:?}: {}: {notes}", sheet.title);
                    if sheet.items.iter().any(|it| it.title.ends_with("counted by the drawing")) {
                        counted += 1;
                        assert!(notes.contains("no labels"), "{place}");
                    }
                    // The condition of this contact stands beside it, or the note names its table.
                    let Some(block) = scheme.part_named("63 block") else { continue };
                    if sheet.boxes.iter().any(|body| body.part == block) {
                        let beside = words(&part(&drawing, &scheme, "63 block")).join(" ");
                        if !beside.contains("if not gas very low") {
                            left_out += 1;
                            assert!(notes.contains("tables, sheet"), "{place}: {beside}");
                        }
                    }
                }
            }
        }
    }
    assert!(counted > 20 && left_out > 1, "{counted}, {left_out}");
}

#[test]
fn legs_across_carry_the_current_to_the_right() {
    let scheme = example("dunmarrow");
    let drawing = draw(&scheme, &Options { legs: Legs::Across, ..Options::default() });
    let fuses = |part| matches!(scheme.parts[part].kind, PartKind::Fuse { .. });
    for body in drawing.sheets.iter().flat_map(|sheet| &sheet.boxes).filter(|b| !fuses(b.part)) {
        let name = &scheme.parts[body.part].name;
        assert!(body.ends[0].x < body.ends[1].x, "{name} does not lie along its leg");
        assert!((body.ends[0].y - body.ends[1].y).abs() < 1e-9, "{name} slants");
    }
}

#[test]
fn a_cover_lists_all_other_sheets_and_shifts_every_reference() {
    let scheme = example("quillmere");
    let drawing = draw(&scheme, &Options { cover: true, ..Options::default() });
    assert!(verify(&drawing, &scheme).is_empty());
    let plain = draw(&scheme, &Options::default());
    // The table of devices may need a sheet as well.
    let circuits = drawing.sheets.iter().filter(|sheet| sheet.title != "Tables").count();
    assert_eq!(circuits, plain.sheets.len() + 1);
    let listed: Vec<String> =
        groups(&drawing).filter(|group| group.id == "cover-lists").flat_map(words).collect();
    for sheet in &drawing.sheets[1..] {
        assert!(listed.contains(&sheet.title), "{} is not listed", sheet.title);
    }
    let cautions: Vec<String> =
        groups(&drawing).filter(|group| group.id == "cover-cautions").flat_map(words).collect();
    let cautions = cautions.join(" ");
    for word in ["energised", "stored energy", "Test switches", "licensed engineer", "Local codes"]
    {
        assert!(cautions.contains(word), "no caution says {word}");
    }
    let place = |drawing: &Drawing| {
        let words = words(&part(drawing, &scheme, "86 b1"));
        let place = words.into_iter().find(|words| words.contains('/')).unwrap();
        let (sheet, zone) = place.split_once('/').unwrap();
        (sheet.parse::<usize>().unwrap(), zone.to_owned())
    };
    let (before, after) = (place(&plain), place(&drawing));
    assert_eq!((before.0 + 1, before.1), after);
}

#[test]
fn changes_are_what_changed_and_nothing_else() {
    let scheme = example("dunmarrow");
    let same = changes(&scheme, &scheme);
    assert!(same.is_empty());
    // A comment more moves every line: nothing on the sheet.
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/dunmarrow/scheme.kdl");
    let text = std::fs::read_to_string(path).unwrap();
    let read = |text: &str| fiftytwo_scheme::read_text("scheme.kdl", text).scheme.unwrap();
    let moved = read(&format!("// One line more.\n{text}"));
    assert!(changes(&scheme, &moved).is_empty(), "{:?}", changes(&scheme, &moved));
    let other = read(&text.replace("\"20 A\"", "\"25 A\""));
    let found = changes(&scheme, &other);
    let names: BTreeSet<&str> =
        found.altered.iter().map(|part| other.parts[*part].name.as_str()).collect();
    assert_eq!(names, BTreeSet::from(["F1", "F2"]));
    assert!(found.added.is_empty() && found.gone.is_empty());
    let drawing = draw_changed(&other, &Options::default(), &found);
    assert_eq!(groups(&drawing).filter(|group| group.role == Role::Change).count(), 2);
}

#[test]
fn a_rejoined_wire_and_a_contact_in_use_have_their_clouds_too() {
    let (before, after) = (example("quillmere-block"), example("quillmere"));
    let found = changes(&before, &after);
    let numbers: BTreeSet<&str> =
        found.wires.iter().filter_map(|node| after.nodes[*node].wire.as_deref()).collect();
    assert!(numbers.contains("T2"), "63X a1 hangs on T2 now: {numbers:?}");
    assert!(!numbers.contains("C1"), "nothing changed in the close circuit");
    let listed: BTreeSet<&str> =
        found.listed.iter().map(|part| after.parts[*part].name.as_str()).collect();
    assert!(listed.contains("63X a1"), "was spare, is in use: {listed:?}");
    for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
        for legs in [Legs::Upright, Legs::Across] {
            let options = Options { symbols, legs, ..Options::default() };
            let drawing = draw_changed(&after, &options, &found);
            assert_eq!(verify(&drawing, &after), [], "{symbols:?}, {legs:?}");
            let marked: Vec<&str> = groups(&drawing)
                .filter(|group| group.role == Role::Change)
                .map(|group| group.title.as_str())
                .collect();
            for told in ["63X a1", "wire T2", "line of 63X a1"] {
                assert!(marked.iter().any(|title| title.contains(told)), "{told}: {marked:?}");
            }
        }
    }
}

/// A state made for the test: what the patterns do with it is asked, not whether it is true.
fn state(scheme: &Scheme, turn: usize) -> Live {
    let levels = [Level::Plus, Level::Minus, Level::Between, Level::Floating];
    let wires: BTreeMap<_, _> = scheme
        .nodes
        .ids()
        .enumerate()
        .map(|(index, node)| {
            let level = levels[(index + turn) % levels.len()];
            let volts = (level != Level::Floating).then_some(125.0);
            (node, WireNow { level, volts })
        })
        .collect();
    let parts: BTreeMap<_, _> = scheme
        .placed()
        .enumerate()
        .map(|(index, (id, part))| {
            let is_contact = matches!(part.kind, PartKind::Contact(_));
            let closed = is_contact.then_some((index + turn).is_multiple_of(2));
            let now = PartNow {
                closed,
                on: matches!(part.kind, PartKind::Coil(_)).then_some(true),
                note: matches!(part.kind, PartKind::Coil(_)).then(|| "118 V 2.9 A".to_owned()),
                amps: Some(if (index + turn).is_multiple_of(3) { 2.9 } else { 0.0 }),
                pointed_at: closed.is_some_and(|closed| closed != is_drawn_closed(scheme, id)),
            };
            (id, now)
        })
        .collect();
    Live {
        title: "A state for the test".to_owned(),
        wires,
        parts,
        lost: BTreeSet::new(),
        conducts_from: 0.01,
        pointer: "not as drawn at rest".to_owned(),
        notes: Vec::new(),
    }
}

#[test]
fn a_state_is_drawn_in_patterns_on_the_same_sheet() {
    for name in ["dunmarrow", "harrowfen", "latches", "quillmere"] {
        let scheme = example(name);
        for (symbols, legs) in [
            (Symbols::Ieee315, Legs::Upright),
            (Symbols::Iec60617, Legs::Upright),
            (Symbols::Ieee315, Legs::Across),
        ] {
            let options = Options { symbols, legs, ..Options::default() };
            let plain = draw(&scheme, &options);
            let live = draw_live(&scheme, &options, &state(&scheme, 0));
            assert_eq!(plain.sheets.len(), live.sheets.len(), "{name}");
            for (a, b) in plain.sheets.iter().zip(&live.sheets) {
                let places = |sheet: &fiftytwo_sheet::Sheet| -> Vec<_> {
                    sheet.boxes.iter().map(|body| (body.part, body.ends)).collect()
                };
                assert_eq!(places(a), places(b), "{name}: a state moves a part");
            }
            assert_eq!(verify(&live, &scheme), [], "{name}, {options:?}");
            let pens: BTreeSet<Pen> = groups(&live)
                .filter(|group| matches!(group.role, Role::Wire(_)))
                .flat_map(|group| &group.shapes)
                .filter_map(|shape| match shape {
                    Shape::Line { pen, .. } => Some(*pen),
                    _ => None,
                })
                .collect();
            let expected = [Pen::AtPlus, Pen::AtMinus, Pen::Between, Pen::Floating];
            assert_eq!(pens, BTreeSet::from(expected), "{name}: each level has a pen of its own");
        }
    }
}

#[test]
fn steps_stand_side_by_side_with_their_parts_at_one_height() {
    let scheme = example("dunmarrow");
    let panels: Vec<Panel> = (0..3)
        .map(|turn| Panel {
            when: format!("{turn} ms"),
            what: "something moves".to_owned(),
            why: "for the test".to_owned(),
            live: state(&scheme, turn),
        })
        .collect();
    let board = storyboard(&scheme, Symbols::Ieee315, "Steps", &panels).unwrap();
    assert_eq!(verify_marks(&board, &scheme), []);
    let coil = scheme.part_named("52 close").unwrap();
    let stands: Vec<(f64, f64)> = board.sheets[0]
        .boxes
        .iter()
        .filter(|body| body.part == coil)
        .map(|body| (body.ends[0].x, body.ends[0].y))
        .collect();
    assert_eq!(stands.len(), 3);
    // Beside each other at one height: some of them, or the board would be a roll.
    let beside =
        |pair: &&[(f64, f64)]| (pair[1].1 - pair[0].1).abs() < 1e-9 && pair[1].0 > pair[0].0;
    assert!(stands.windows(2).any(|pair| beside(&pair)), "{stands:?}");
    for pair in stands.windows(2).filter(|pair| !beside(pair)) {
        // The next strip, right below the first of the one before.
        assert!((pair[1].0 - stands[0].0).abs() < 1e-9 && pair[1].1 > pair[0].1, "{stands:?}");
    }
    let area = board.sheets[0].frame;
    assert!(area.bottom - area.top < 1.5 * (area.right - area.left), "{area:?}");
    let ids: Vec<&str> = groups(&board).map(|group| group.id.as_str()).collect();
    assert_eq!(ids.len(), ids.iter().collect::<BTreeSet<_>>().len(), "an id is given twice");
}

/// A scheme of a few lines: the walls of a test of one habit.
fn small(circuits: &str) -> Scheme {
    let text = format!(
        "scheme \"Small\"\nplace \"P\" \"Panel\"\nsupply \"D\" \"125 V DC\" place=\"P\"\n\
         supply \"E\" \"120 V AC\" place=\"P\"\n{circuits}"
    );
    let reading = fiftytwo_scheme::read_text("small.kdl", &text);
    let said: Vec<String> = reading.findings.iter().map(|it| it.message.clone()).collect();
    reading.scheme.unwrap_or_else(|| panic!("{said:#?}"))
}

#[test]
fn a_dead_programmed_device_follows_no_condition_and_the_note_says_so() {
    let scheme = small(
        "condition \"bus\" \"hot\" \"dead\"\n\
         ied \"I\" place=\"P\" { logic \"ok\" when=\"bus hot\"; contact \"ok\" closed-when=\"ok\"; \
         contact \"fail\" closed-when=\"not ok\"; contact \"live\" closed-when=\"bus hot\" }\n\
         sensor \"S\" \"Bus\" place=\"P\" { contact \"h\" closed-when=\"bus hot\" }\n\
         circuit \"C\" supply=\"D\" { feed { fuse \"F1\" \"15 A\"; wire \"P\" }; return { wire \"N\"; fuse \"F2\" \"15 A\" }\n\
         leg \"A\" { contact \"I\" \"ok\"; lamp \"1\" \"8 mA\" }\n\
         leg \"B\" { contact \"I\" \"fail\"; lamp \"2\" \"8 mA\" }\n\
         leg \"C\" { contact \"I\" \"live\"; lamp \"3\" \"8 mA\" }\n\
         leg \"D\" { contact \"S\" \"h\"; lamp \"4\" \"8 mA\" } }",
    );
    let closed = |name: &str| is_drawn_closed(&scheme, scheme.part_named(name).unwrap());
    assert!(
        !closed("I ok") && !closed("I live"),
        "two contacts of one dead device that both close"
    );
    assert!(closed("I fail"), "what opens while the device lives is closed without it");
    assert!(closed("S h"), "a sensor stands as its condition does");
    let drawing = draw(&scheme, &Options::default());
    let notes: Vec<String> =
        groups(&drawing).filter(|it| it.id == "sheet-1-notes").flat_map(words).collect();
    let notes = notes.join(" ");
    assert!(notes.contains("programmed devices dead") && notes.contains("bus hot"), "{notes}");
}

#[test]
fn an_ac_sheet_speaks_of_l_and_n_and_shows_no_way_of_the_current() {
    let scheme = small(
        "circuit \"C\" supply=\"E\" { feed { fuse \"F1\" \"15 A\"; wire \"P\" }; return { wire \"N\"; fuse \"F2\" \"15 A\" }\n\
         leg \"A\" { heater \"H\" \"150 W\" } }",
    );
    let mut state = state(&scheme, 0);
    for now in state.parts.values_mut() {
        now.amps = Some(1.25);
    }
    let live = draw_live(&scheme, &Options::default(), &state);
    let said: Vec<String> =
        groups(&live).filter(|it| it.id.starts_with("state-")).flat_map(words).collect();
    assert!(said.contains(&"at L".to_owned()) || said.contains(&"at N".to_owned()), "{said:?}");
    assert!(said.iter().all(|words| !words.contains('+') && !words.contains("arrow")), "{said:?}");
    assert!(said.contains(&"carries 10 mA or more".to_owned()), "{said:?}");
    assert!(
        !groups(&live).any(|it| it.id.starts_with("arrows-")),
        "alternating current has no way"
    );
}

#[test]
fn a_counted_wire_number_is_no_name_of_anything_else() {
    // Wires of a circuit whose own are numbered R…, beside resistors R1 and R2; a coil A1; terminals 1, 2.
    let scheme = small(
        "relay \"W1\" \"x\" place=\"P\" { coil { resistance \"3000 ohm\" }; contact \"a1\" closed-when=\"picked up\" }\n\
         circuit \"C\" supply=\"D\" { feed { fuse \"F1\" \"15 A\"; wire \"P\" }; return { wire \"N\"; fuse \"F2\" \"15 A\" }\n\
         leg \"A\" { resistor \"R1\" \"1 kohm\"; wire \"R9\"; resistor \"R2\" \"1 kohm\"; coil \"W1\" } }\n\
         circuit \"D\" supply=\"E\" { feed { fuse \"F3\" \"15 A\"; wire \"LL\" }; return { wire \"NN\"; fuse \"F4\" \"15 A\" }\n\
         leg \"A\" { resistor \"R3\" \"1 kohm\"; resistor \"R4\" \"1 kohm\"; lamp \"H\" \"8 mA\" } }",
    );
    let drawing = draw(&scheme, &Options { symbols: Symbols::Iec60617, ..Options::default() });
    let counted: Vec<String> = groups(&drawing)
        .filter(|it| it.title.ends_with("counted by the drawing"))
        .filter_map(|it| words(it).first().cloned())
        .collect();
    assert!(counted.len() >= 3, "{counted:?}");
    for number in &counted {
        let taken = scheme.parts.values().any(|part| part.name == *number)
            || scheme.devices.values().any(|device| device.name == *number)
            || ["L1", "L2", "L3", "A1", "A2"].contains(&number.as_str());
        assert!(!taken, "wire {number} bears the name of something else");
    }
}

#[test]
fn a_lamp_of_an_iec_sheet_bears_the_code_of_its_colour() {
    // IEC 60757, from memory: RD red, GN green.
    let scheme = example("quillmere");
    for legs in [Legs::Upright, Legs::Across] {
        let options = Options { symbols: Symbols::Iec60617, legs, ..Options::default() };
        let drawing = draw(&scheme, &options);
        for (lamp, code) in [("RED", "RD"), ("GREEN", "GN")] {
            assert!(words(&part(&drawing, &scheme, lamp)).contains(&code.to_owned()), "{lamp}");
        }
    }
    assert!(
        words(&part(&draw(&scheme, &Options::default()), &scheme, "RED")).contains(&"R".to_owned())
    );
}

#[test]
fn a_rail_that_another_circuit_hangs_on_says_so_at_its_own_end() {
    let scheme = small(
        "circuit \"A\" supply=\"D\" { feed { fuse \"F1\" \"15 A\"; wire \"P\" }; return { wire \"701\"; fuse \"F2\" \"15 A\" }\n\
         leg \"A\" { resistor \"R0\" \"1 kohm\"; resistor \"R9\" \"1 kohm\"; lamp \"H1\" \"8 mA\" } }\n\
         circuit \"B\" supply=\"D\" { feed { fuse \"F3\" \"15 A\"; wire \"Q\" }; return { wire \"702\"; fuse \"F4\" \"15 A\" }\n\
         leg \"A\" { resistor \"R1\" \"1 kohm\"; resistor \"R2\" \"1 kohm\"; wire \"772\"; lamp \"H2\" \"8 mA\" }\n\
         jumper \"772\" \"701\" }",
    );
    let drawing = draw(&scheme, &Options { share: false, ..Options::default() });
    assert_eq!(verify(&drawing, &scheme), []);
    let rail = scheme.node_named("701").unwrap();
    let on: Vec<usize> = drawing
        .sheets
        .iter()
        .filter(|sheet| sheet.items.iter().any(|group| group.role == Role::Flag(rail)))
        .map(|sheet| sheet.number)
        .collect();
    assert_eq!(on, [1, 2], "a flag at the jumper and one at the rail");
}
