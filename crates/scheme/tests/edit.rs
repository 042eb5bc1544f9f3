//! Changes of a text: what is put in can be taken out again, and nothing else is touched.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_scheme::edit::{
    Side, changed, join_leg, name_wire, put_beside, put_in, rename_wire, replace, set, swap,
    take_out,
};
use fiftytwo_scheme::{Scheme, read_text};
use proptest::prelude::*;
use std::path::Path;

const EXAMPLES: [&str; 6] =
    ["quillmere", "dunmarrow", "dunmarrow-repaired", "harrowfen", "harrowfen-direct", "latches"];
/// A line that no example has.
const NEW: &str = "contact \"9999\" \"put in\"";

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    std::fs::read_to_string(path.join("scheme.kdl")).unwrap()
}

fn scheme(text: &str) -> Scheme {
    let reading = read_text("scheme.kdl", text);
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

/// Where each placed part's line begins.
fn lines(scheme: &Scheme) -> Vec<usize> {
    scheme.placed().filter_map(|(_, part)| Some(part.at?.span.start as usize)).collect()
}

fn of(scheme: &Scheme, part: &str) -> usize {
    let id = scheme.part_named(part).unwrap_or_else(|| panic!("{part}"));
    scheme.parts[id].at.unwrap().span.start as usize
}

/// A comment behind every line, so that whatever loses one shows.
fn commented(text: &str) -> String {
    let lines = text.lines().enumerate().map(|(number, line)| {
        if line.contains("//") || line.trim().is_empty() {
            line.to_owned()
        } else {
            format!("{line}  // {number}")
        }
    });
    lines.collect::<Vec<_>>().join("\n") + "\n"
}

#[test]
fn whatever_is_put_in_anywhere_is_taken_out_again_without_a_trace() {
    for name in EXAMPLES {
        for text in [text(name), commented(&text(name))] {
            for at in lines(&scheme(&text)) {
                for how in 0..3 {
                    let put = match how {
                        0 => put_in(&text, at, NEW, Side::Before),
                        1 => put_in(&text, at, NEW, Side::After),
                        _ => put_beside(&text, at, NEW),
                    };
                    let with = changed(&text, &put.unwrap());
                    let new = with.find(NEW).unwrap();
                    assert_eq!(with.matches("//").count(), text.matches("//").count());
                    let back = changed(&with, &take_out(&with, new).unwrap());
                    assert_eq!(back, text, "{name}: put in at {at}, way {how}:\n{with}");
                }
            }
        }
    }
}

#[test]
fn a_text_with_something_put_in_still_reads() {
    let text = text("quillmere");
    let whole = scheme(&text);
    // A spare contact of the house, in series and beside, everywhere in the house.
    let house = whole.places.iter().find(|(_, place)| place.name == "HOUSE").unwrap().0;
    let spare = "contact \"86\" \"b3\"";
    let mut tried = 0;
    for (_, part) in whole.placed().filter(|(_, part)| part.at.is_some_and(|at| at.place == house))
    {
        let at = part.at.unwrap().span.start as usize;
        if matches!(part.kind, fiftytwo_scheme::PartKind::Core(_)) {
            continue;
        }
        for with in [
            changed(&text, &put_in(&text, at, spare, Side::Before).unwrap()),
            changed(&text, &put_beside(&text, at, spare).unwrap()),
        ] {
            let reading = read_text("scheme.kdl", &with);
            assert!(reading.scheme.is_some(), "{}: {:#?}", part.name, reading.findings);
            tried += 1;
        }
    }
    assert!(tried > 60, "{tried}");
}

#[test]
fn a_comment_stays_where_a_part_goes() {
    let text = "circuit \"C\" supply=\"D\" {\n    leg \"L\" {\n        contact \"A\" \"a\"  // asked by the owner\n        contact \"B\" \"b\"\n        coil \"K\"\n    }\n}\n";
    let at = text.find("contact \"A\"").unwrap();
    let after = changed(text, &take_out(text, at).unwrap());
    assert!(after.contains("        // asked by the owner\n        contact \"B\""), "{after}");
}

#[test]
fn what_is_swapped_twice_stands_as_before() {
    let text = commented(&text("quillmere"));
    let whole = scheme(&text);
    let (one, other) = (of(&whole, "86 b1"), of(&whole, "25 permit"));
    let once = changed(&text, &swap(&text, one, other).unwrap());
    assert_ne!(once, text);
    let whole = scheme(&once);
    let twice = changed(&once, &swap(&once, of(&whole, "86 b1"), of(&whole, "25 permit")).unwrap());
    assert_eq!(twice, text);
    assert!(swap(&text, one, one).is_err());
}

#[test]
fn a_contact_is_replaced_and_its_comment_stays() {
    let text = commented(&text("quillmere"));
    let at = of(&scheme(&text), "86 b1");
    let after = changed(&text, &replace(&text, at, "contact \"86\" \"b3\"").unwrap());
    let whole = scheme(&after);
    assert!(whole.parts[whole.part_named("86 b3").unwrap()].at.is_some());
    assert!(whole.parts[whole.part_named("86 b1").unwrap()].at.is_none());
    assert_eq!(after.matches("//").count(), text.matches("//").count());
}

#[test]
fn the_anti_pump_of_dunmarrow_is_moved_before_the_permission() {
    let before = text("dunmarrow");
    let whole = scheme(&before);
    let leg = whole.legs.values().find(|leg| leg.name == "Anti-pump").unwrap();
    let moved = join_leg(&before, leg.span.start as usize, (Some("C1"), None), ("C2", "NY"));
    let after = changed(&before, &moved.unwrap());
    let repaired = scheme(&after);
    let leg = repaired.legs.values().find(|leg| leg.name == "Anti-pump").unwrap();
    assert_eq!(repaired.nodes[leg.strand.from].wire.as_deref(), Some("C1"));
    assert_eq!(before.lines().count(), after.lines().count());
    let differ = before.lines().zip(after.lines()).filter(|(a, b)| a != b).count();
    assert_eq!(differ, 1);
}

#[test]
fn a_leg_from_rail_to_rail_says_both_ends_when_one_is_moved() {
    let before = text("quillmere");
    let whole = scheme(&before);
    let leg = whole.legs.values().find(|leg| leg.name == "Close supply watch").unwrap();
    let moved = join_leg(&before, leg.span.start as usize, (Some("C1"), None), ("CP", "CN"));
    let after = changed(&before, &moved.unwrap());
    assert!(after.contains("leg \"Close supply watch\" from=\"C1\" to=\"CN\" {"), "{after}");
    scheme(&after);
}

#[test]
fn a_wire_is_renamed_everywhere_and_nothing_else_is() {
    let before = text("dunmarrow");
    let after = changed(&before, &rename_wire(&before, "C2", "C2A").unwrap());
    assert!(!after.contains("\"C2\""));
    assert_eq!(after.matches("\"C2A\"").count(), 2);
    scheme(&after);
    // "52" is a device and no wire.
    assert!(rename_wire(&before, "52", "X").is_err());
    assert!(rename_wire(&before, "C2", " ").is_err());
}

#[test]
fn a_wire_without_a_number_gets_one() {
    let before = text("quillmere");
    let at = of(&scheme(&before), "86 b1");
    let after = changed(&before, &name_wire(&before, at, "C5", Side::After).unwrap());
    assert!(scheme(&after).node_named("C5").is_some());
}

#[test]
fn values_are_set_in_lines_in_braces_and_where_they_were_left_out() {
    let before = text("dunmarrow");
    let whole = scheme(&before);
    let cable = whole.cables.values().find(|cable| cable.name == "D1").unwrap();
    let after =
        changed(&before, &set(&before, cable.span.start as usize, "length", "350 m").unwrap());
    assert!((scheme(&after).cables.values().next().unwrap().length.lo - 350.0).abs() < 1e-9);
    let coil = &whole.parts[whole.part_named("52Y").unwrap()];
    let at = coil.span.start as usize;
    let after = changed(&before, &set(&before, at, "pickup-time", "12 to 30 ms").unwrap());
    let again = scheme(&after);
    let fiftytwo_scheme::PartKind::Coil(data) = &again.parts[again.part_named("52Y").unwrap()].kind
    else {
        panic!("52Y is a coil")
    };
    assert_eq!(data.pickup_time.as_ref().unwrap().hi, 30_000);
    let after = changed(&before, &set(&before, at, "max-on", "2 s").unwrap());
    scheme(&after);
    assert_eq!(after.matches("max-on").count(), before.matches("max-on").count() + 1);
    let place = whole.places.values().find(|place| place.name == "YARD").unwrap();
    let at = place.span.start as usize;
    let after = changed(&before, &set(&before, at, "ambient", "-20 to 40 C").unwrap());
    let place = scheme(&after).places.values().find(|place| place.name == "YARD").unwrap().clone();
    assert!((place.ambient.hi - 40.0).abs() < 1e-9);
}

#[test]
fn a_pattern_is_not_changed_at_one_of_its_uses() {
    let text = "pattern \"P\" \"r\" {\n    leg \"[r]\" { contact \"A\" \"a\"; coil \"[r]\" }\n}\n";
    let at = text.find("contact").unwrap();
    let refused = put_in(text, at, NEW, Side::Before).unwrap_err();
    assert!(refused.contains("pattern"), "{refused}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever the place, a change never panics and never breaks a letter.
    #[test]
    fn no_place_makes_a_change_fail_loudly(at in 0_usize..20_000, which in 0_usize..6) {
        let text = text(EXAMPLES[which]);
        for changes in [
            put_in(&text, at, NEW, Side::After),
            put_beside(&text, at, NEW),
            take_out(&text, at),
            set(&text, at, "length", "1 m"),
            swap(&text, at, at / 2),
        ]
        .into_iter()
        .flatten()
        {
            for change in &changes {
                prop_assert!(text.is_char_boundary(change.from) && text.is_char_boundary(change.to));
                prop_assert!(change.from <= change.to);
            }
            let _ = changed(&text, &changes);
        }
    }
}
