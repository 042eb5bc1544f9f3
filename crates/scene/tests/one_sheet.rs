//! One sheet in a state is the same as that sheet of the whole drawing, and says all of the state.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_scene::state::moments;
use fiftytwo_scheme::{Scheme, read_path};
use fiftytwo_sheet::geometry::{Group, Role, Shape};
use fiftytwo_sheet::{Arranged, Drawing, Legs, Live, Options, Sheet, Symbols, verify};
use std::path::Path;

const EXAMPLES: &[&str] = &[
    "dunmarrow",
    "dunmarrow-repaired",
    "harrowfen",
    "harrowfen-direct",
    "latches",
    "quillmere",
    "quillmere-block",
    "quillmere-shared",
];

/// Calls with the arrangement, the drawing at rest and some moments of every story of every example,
/// in every style.
fn each(mut look: impl FnMut(&str, &Scheme, (&Arranged<'_>, &Drawing), &[Live])) {
    let iec = Options { symbols: Symbols::Iec60617, cover: true, ..Options::default() };
    let across = Options { legs: Legs::Across, ..Options::default() };
    for name in EXAMPLES {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
        let scheme = read_path(&path.join("scheme.kdl")).scheme.unwrap();
        let mut states = Vec::new();
        for story in &scheme.stories {
            let (moments, _) = moments(&scheme, story, &[0, 72_000, 320_000]).unwrap();
            states.extend(moments.into_iter().map(|moment| moment.live));
        }
        assert!(!states.is_empty(), "{name} has no story");
        for options in [Options::default(), iec, across] {
            let (arranged, rest) = Arranged::new(&scheme, &options);
            look(&format!("{name}, {options:?}"), &scheme, (&arranged, &rest), &states);
        }
    }
}

#[test]
fn one_sheet_is_drawn_as_the_whole_drawing_draws_it() {
    let mut compared = 0;
    each(|told, _, (arranged, _), states| {
        for live in states {
            let whole = arranged.live(live);
            assert!(arranged.live_sheet(live, 0).is_none(), "sheets count from 1");
            assert!(arranged.live_sheet(live, whole.sheets.len() + 1).is_none());
            for sheet in &whole.sheets {
                let alone = arranged.live_sheet(live, sheet.number).unwrap();
                for (a, b) in alone.items.iter().zip(&sheet.items) {
                    assert_eq!(a, b, "{told}: {}, sheet {}", live.title, sheet.number);
                }
                assert!(alone == *sheet, "{told}: {}, sheet {}", live.title, sheet.number);
                compared += 1;
            }
        }
    });
    assert!(compared > 400, "only {compared} sheets");
}

fn words(group: &Group) -> Vec<&str> {
    fn word(shape: &Shape) -> Option<&str> {
        match shape {
            Shape::Text(text) => Some(text.words.as_str()),
            _ => None,
        }
    }
    group.shapes.iter().filter_map(word).collect()
}

fn notes(sheet: &Sheet) -> String {
    let groups = sheet.items.iter().filter(|group| group.id.ends_with("-notes"));
    groups.flat_map(words).collect::<Vec<_>>().join(" ")
}

/// How much of a state stands beside its wires and parts, and how much in the notes. Nothing is left
/// out, nothing moves, nothing lies on anything else.
fn said(
    told: &str,
    scheme: &Scheme,
    (arranged, rest): (&Arranged<'_>, &Drawing),
    live: &Live,
) -> (usize, usize) {
    let (mut beside, mut apart) = (0, 0);
    let now = arranged.live(live);
    let told = format!("{told}: {}", live.title);
    assert_eq!(verify(&now, scheme), [], "{told}");
    for (still, sheet) in rest.sheets.iter().zip(&now.sheets) {
        assert_eq!(still.boxes, sheet.boxes, "{told}");
        let notes = notes(sheet);
        let mut asked = |group: Option<&Group>, said: &str, of: String| {
            if group.is_some_and(|it| words(it).join(" ").ends_with(said)) {
                beside += 1;
            } else {
                assert!(notes.contains(&of), "{told}: {of} in {notes}");
                apart += 1;
            }
        };
        for number in still.items.iter().filter(|it| it.id.starts_with("number-")) {
            let Role::Wire(node) = number.role else { continue };
            let said = live.said(node).unwrap();
            let drawn = sheet.items.iter().find(|it| it.id == number.id);
            asked(drawn, &said, format!("wire {}: {said}", words(number)[0]));
        }
        for body in &sheet.boxes {
            let Some(note) = &live.parts[&body.part].note else { continue };
            let of = format!("{}: {note}", scheme.parts[body.part].name);
            let mut notes = sheet.items.iter().filter(|it| it.id.starts_with("note-"));
            let last = note.rsplit(' ').next().unwrap();
            asked(notes.find(|it| it.title == of), last, of);
        }
    }
    (beside, apart)
}

#[test]
fn a_state_moves_nothing_and_says_everything() {
    let mut beside = 0;
    each(|told, scheme, drawn, states| {
        beside += states.iter().map(|live| said(told, scheme, drawn, live).0).sum::<usize>();
    });
    assert!(beside > 5_000, "only {beside} stand beside their wires and parts");
}

/// Volts that no scheme has, but as long as they would have to be to find no room.
#[test]
fn what_finds_no_room_beside_its_wire_is_told_in_the_notes_and_moves_nothing() {
    let (mut beside, mut apart) = (0, 0);
    each(|told, scheme, drawn, states| {
        let Some(state) = states.first() else { return };
        let mut live = state.clone();
        for wire in live.wires.values_mut() {
            wire.volts = Some(-123_456.0);
        }
        let (here, there) = said(told, scheme, drawn, &live);
        beside += here;
        apart += there;
        let alone = drawn.0.live_sheet(&live, 2);
        assert!(alone.as_ref() == drawn.0.live(&live).sheets.get(1), "{told}");
    });
    assert!(beside > 300 && apart > 5, "{beside} beside, {apart} in the notes");
}
