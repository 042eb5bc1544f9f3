//! Statements before the names are known.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::text::{Raw, reserved_word, statement};

fn shown(raw: &Raw) -> String {
    let list = |items: &[Raw], word: &str| {
        let items: Vec<String> = items.iter().map(shown).collect();
        format!("[{}]", items.join(word))
    };
    match raw {
        Raw::Phrase { text, .. } => text.clone(),
        Raw::Not(inner) => format!("!{}", shown(inner)),
        Raw::All(items) => list(items, " & "),
        Raw::Any(items) => list(items, " | "),
    }
}

#[test]
fn a_statement_is_taken_apart() {
    let read = |text: &str| shown(&statement(text).unwrap());
    assert_eq!(read("52 closed"), "52 closed");
    assert_eq!(read("  52   closed "), "52 closed");
    assert_eq!(read("not gas very low"), "!gas very low");
    assert_eq!(read("52 closed and not TC1 watch"), "[52 closed & !TC1 watch]");
    assert_eq!(read("a and b and c"), "[a & b & c]");
    assert_eq!(read("52 closed and (bus hot or line dead)"), "[52 closed & [bus hot | line dead]]");
    assert_eq!(read("not (a or b)"), "![a | b]");
    assert_eq!(read("(a and b) or (c and d)"), "[[a & b] | [c & d]]");
    assert_eq!(read("((52 closed))"), "52 closed");
    assert_eq!(read("on and off"), "[on & off]");
}

#[test]
fn every_phrase_knows_its_place() {
    let text = "52  closed and (bus hot or not line dead)";
    let raw = statement(text).unwrap();
    let places: Vec<(&str, &str)> =
        raw.phrases().into_iter().map(|(words, range)| (words, &text[range])).collect();
    assert_eq!(
        places,
        [("52 closed", "52  closed"), ("bus hot", "bus hot"), ("line dead", "line dead")]
    );
}

#[test]
fn and_mixed_with_or_shows_both_readings() {
    let (wrong, range) = statement("a b and c d or e f").unwrap_err();
    assert_eq!(wrong.message, "\"and\" is mixed with \"or\"");
    assert_eq!(wrong.help.unwrap(), "write \"(a b and c d) or e f\", or \"a b and (c d or e f)\"");
    assert_eq!(range, 0..18);
    let (wrong, range) = statement("x or (a or b and not (c or d) and e)").unwrap_err();
    assert_eq!(
        wrong.help.unwrap(),
        "write \"a or (b and not (c or d) and e)\", or \"(a or b) and not (c or d) and e\""
    );
    assert_eq!(range, 6..35);
}

#[test]
fn slips_are_answered_where_they_stand() {
    let deep = format!("{}a{}", "(".repeat(40), ")".repeat(40));
    let cases = [
        ("", "empty", ""),
        ("   ", "empty", "   "),
        ("a and", "nothing follows \"and\"", "and"),
        ("and a", "nothing stands before \"and\"", "and"),
        ("a or or b", "\"or\" stands twice", "or"),
        ("not not a", "\"not\" stands twice", "not"),
        ("not", "nothing follows \"not\"", "not"),
        ("52 closed closed", "\"closed\" stands twice", "closed"),
        ("52 not closed", "inside a phrase", "not"),
        ("(a or b", "never closed", "("),
        ("a and (", "never closed", "("),
        ("a or b)", "never opened", ")"),
        (")", "never opened", ")"),
        ("a and ()", "nothing stands between", "()"),
        ("a (b)", "is missing before \"(\"", "("),
        ("(a) b", "is missing before \"b\"", "b"),
        ("(a and) or b", "nothing follows \"and\"", "and"),
        ("a & b", "\"&\" is written \"and\"", "&"),
        ("a AND b", "\"AND\" is written \"and\"", "AND"),
        ("52 is closed", "does not belong", "is"),
        (&deep, "nested more than", "("),
    ];
    for (text, message, place) in cases {
        let (wrong, range) = statement(text).unwrap_err();
        assert!(wrong.message.contains(message), "{text:?}: {wrong:?}");
        assert_eq!(&text[range], place, "{text:?}: {wrong:?}");
        assert!(wrong.help.is_some(), "{text:?}");
    }
}

#[test]
fn a_name_may_not_use_the_joining_words() {
    assert_eq!(reserved_word("open and close"), Some("and"));
    assert_eq!(reserved_word("TRIP OR CLOSE"), Some("OR"));
    assert_eq!(reserved_word("stage (2)"), Some("(2)"));
    assert_eq!(reserved_word("reclosing on"), None);
}
