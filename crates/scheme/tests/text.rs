//! Slips of writing in whole files, answered where they stand.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::text::{decode, document, slips};
use fiftytwo_scheme::{FileId, Finding};
use proptest::prelude::*;

fn file() -> FileId {
    FileId::from_index(0)
}

/// Everything said about a text: what, the words it points at, what to do.
fn said(text: &str) -> Vec<(String, String, String)> {
    let findings = match document(file(), text) {
        Ok(_) => slips(file(), text),
        Err(findings) => findings,
    };
    findings.iter().map(|finding| shown(text, finding)).collect()
}

fn shown(text: &str, finding: &Finding) -> (String, String, String) {
    let at = finding.at.unwrap();
    let words = text.get(at.start as usize..at.end as usize).unwrap().to_owned();
    (finding.message.clone(), words, finding.help.clone().unwrap())
}

/// One slip a case: text, message, the words pointed at, help.
#[test]
fn a_slip_of_writing_is_answered_where_it_stands() {
    let cases = [
        ("contact 52CS \"a1\"", "quotes are missing round 52CS", "52CS", "round it: \"52CS\""),
        ("contact \"52CS\" a1", "quotes are missing round a1", "a1", "round it: \"a1\""),
        (
            "cable \"C\" length=1150ft cores=7",
            "quotes are missing round 1150ft",
            "1150ft",
            "\"1150 ft\"",
        ),
        ("coil resistance=41 ohm", "quotes are missing round 41 ohm", "41 ohm", "\"41 ohm\""),
        (
            "supply \"DC1\" range=105 to 140 V place=\"H\"",
            "105 to 140 V",
            "105 to 140 V",
            "\"105 to 140 V\"",
        ),
        (
            "logic \"x\" on-delay=8..14 ms",
            "quotes are missing round 8..14 ms",
            "8..14 ms",
            "\"8 to 14 ms\"",
        ),
        ("logic \"x\" on-delay=8-14", "quotes are missing round 8-14", "8-14", "\"8 to 14\""),
        ("lamp \"R\" 10kV", "quotes are missing round 10kV", "10kV", "\"10 kV\""),
        ("coil works=70%", "quotes are missing round 70%", "70%", "\"70 %\""),
        ("supply \"DC1\" grounded=true", "there is no true", "true", "in quotes"),
        ("supply \"DC1\" grounded=#true", "there is no #true", "#true", "in quotes"),
        ("supply \"DC1\" grounded=yes", "quotes are missing round yes", "yes", "round it"),
        ("contact \"a1 closed-when=\"open\"", "a quote is missing", "\"", "between two quotes"),
        (
            "leg \"Close coil {\n    coil \"52\" \"close\"\n}",
            "a quote is missing",
            "\"Close coil {",
            "between two quotes",
        ),
        ("contact \"a1\", \"a2\"", "a comma", ",", "only spaces"),
        ("contact “a1” closed-when=\"open\"", "quotes of another kind", "“a1”", "\"a1\""),
        (
            "contact 'trip 1' closed-when=\"open\"",
            "quotes of another kind",
            "'trip 1'",
            "\"trip 1\"",
        ),
        ("cable \"C\" from \"HOUSE\" to=\"YARD\"", "\"=\" is missing", "from", "from=\"HOUSE\""),
        (
            "contact \"52\" \"a1\" coil \"52Y\"",
            "a new statement begins",
            "coil",
            "new line before coil",
        ),
        ("contact \"a1\" closed when=\"closed\"", "a hyphen is missing", "closed", "closed-when=…"),
        ("fuse F1 15A", "quotes are missing round F1 15A", "F1 15A", "\"F1\" \"15A\""),
        ("contact \"52\"\"a1\"", "a space is missing", "\"a1\"", "a space stands"),
        (
            "leg \"x\" { coil \"K1\" } \"y\"",
            "behind a closing brace stands",
            "\"y\"",
            "before the braces",
        ),
        ("leg \"x\" { coil \"K1\" } { coil \"K2\" }", "two blocks", "{", "one pair"),
        ("cable \"C\" length= cores=7", "nothing follows \"length=\"", "length", "length=\"…\""),
        ("cable =\"350 m\"", "nothing stands before \"=\"", "=", "name=\"value\""),
        ("coil resistance=(ohm)41", "a bracket", "(", "inside the quotes"),
        ("coil resistance=1e400", "nothing can have the value 1e400", "1e400", "41 ohm"),
        ("coil resistance=#nan", "nothing can have the value #nan", "#nan", "41 ohm"),
        ("52 closed", "begins with 52", "52", "a line begins with"),
        ("# close coil", "\"#\" has no meaning", "#", "a comment begins with //"),
        ("terminals 52a=\"1-2\"", "quotes are missing round 52a", "52a", "\"52a\"=…"),
        ("/* never closed\nscheme \"x\"", "never closed", "/*", "*/"),
        ("note \"C:\\drawings\"", "backslash", "\\", "two backslashes"),
        ("scheme \"x\" \\ revision=\"A\"", "a backslash", "\\", "take it out"),
        ("{ coil \"K1\" }", "no statement before it", "{", "end of the line"),
        ("scheme \"x\"\n/-\n", "leaves nothing out", "/-", "before what"),
        ("", "empty", "", "title"),
        ("  \n\t\n", "empty", "", "title"),
        ("scheme \"x\u{0}\"", "not text", "\u{0}", "text file"),
    ];
    for (text, message, place, help) in cases {
        let found = said(text);
        assert_eq!(found.len(), 1, "{text:?}: {found:?}");
        let (what, words, todo) = &found[0];
        assert!(
            what.to_lowercase().contains(&message.to_lowercase()),
            "{text:?}: {message:?} is not in {found:?}"
        );
        assert_eq!(words, place, "{text:?}: {found:?}");
        assert!(todo.contains(help), "{text:?}: {help:?} is not in {found:?}");
    }
}

#[test]
fn all_slips_of_a_file_are_told_at_once() {
    let text = "place HOUSE\nrelay 52Y place=\"HOUSE\" {\n    coil resistance=41 ohm\n    contact \"a1 closed-when=\"x\"\n}\n";
    let found: Vec<String> = said(text).into_iter().map(|(_, words, _)| words).collect();
    assert_eq!(found, ["HOUSE", "52Y", "41 ohm", "\""]);
}

#[test]
fn a_forgotten_brace_is_seen_at_the_first_line_that_cannot_stand_there() {
    let text = "relay \"52Y\" place=\"YARD\" {\n    coil resistance=\"41 ohm\"\nrelay \"94\" place=\"YARD\" {\n    coil\n}\n";
    let found = document(file(), text).unwrap_err();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].message, "The closing brace of relay \"52Y\" is missing.");
    assert_eq!(found[0].at.unwrap().start as usize, text.find("relay \"94\"").unwrap());
    assert_eq!(found[0].others[0].0.start, 0);

    let text = "circuit \"Close\" supply=\"DC1\" {\n    leg \"A\" {\n        coil \"K1\"\n    leg \"B\" { coil \"K2\" }\n}\n";
    let found = document(file(), text).unwrap_err();
    assert_eq!(found[0].message, "The closing brace of leg \"A\" is missing.");
    assert_eq!(found[0].at.unwrap().start as usize, text.find("leg \"B\"").unwrap());

    let text = "relay \"52Y\" {\n    coil\n\ncircuit \"Close\" supply=\"DC1\" {\n}\n";
    let found = document(file(), text).unwrap_err();
    assert_eq!(found[0].at.unwrap().start as usize, text.find("circuit").unwrap());

    let text = "circuit \"Close\" {\n    leg \"A\" {\n        coil \"K1\"\n    }\n";
    let found = document(file(), text).unwrap_err();
    assert_eq!(found[0].message, "The closing brace of circuit \"Close\" is missing.");
}

#[test]
fn a_forgotten_opening_brace_is_seen_at_its_line() {
    let text = "circuit \"Close\" {\n    leg \"A\"\n        coil \"K1\"\n    }\n    leg \"B\" { coil \"K2\" }\n}\n";
    let found = document(file(), text).unwrap_err();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].message, "The opening brace of leg \"A\" is missing.");
    assert_eq!(found[0].at.unwrap().start as usize, text.find("leg \"A\"").unwrap());

    let found = document(file(), "scheme \"x\"\n}\n").unwrap_err();
    assert_eq!(found[0].message, "This brace closes nothing.");
}

#[test]
fn what_is_no_scheme_is_refused_at_once() {
    let large = vec![b'x'; 50 << 20];
    assert!(decode(&large).unwrap_err().message.contains("50 MB"));
    assert!(decode(b"PK\x03\x04\x00\x00").unwrap_err().message.contains("not text"));
    assert!(decode(&[0xff, 0xfe, b'a', 0]).unwrap_err().message.contains("UTF-16"));
    let latin = decode(b"scheme \"Our station\"\nplace \"H\xdcTTE\"").unwrap_err();
    assert!(latin.message.contains("line 2 is not stored as UTF-8"), "{latin:?}");
    assert!(decode(&[0x80, 0x81, 0x82]).unwrap_err().message.contains("not text"));
    assert_eq!(decode(b"scheme \"x\"").unwrap(), "scheme \"x\"");
}

#[test]
fn hostile_texts_are_answered_not_crashed_on() {
    let hostile = [
        "a {".repeat(10_000),
        "}".repeat(100_000),
        "{".repeat(100_000),
        "(".repeat(100_000),
        "/-".repeat(100_000),
        "/*".repeat(100_000),
        "\"".repeat(100_001),
        "#".repeat(100_000),
        "\\".repeat(100_000),
        "=".repeat(100_000),
        "a=".repeat(50_000),
        "\\\n".repeat(50_000),
        "a b=c\n}".repeat(20_000),
        "\"\"\"\n".repeat(10_001),
        "x".repeat((4 << 20) + 1),
    ];
    for text in &hostile {
        let begin = std::time::Instant::now();
        assert!(document(file(), text).is_err(), "{}", &text[..8]);
        assert!(begin.elapsed().as_secs() < 10, "{} took {:?}", &text[..8], begin.elapsed());
    }
    // Long comments of stars are harmless, and a reader's habit.
    let banner = format!("/* {} */\nscheme \"x\"\n", "* ".repeat(100_000));
    assert!(document(file(), &banner).is_ok());
    let deep = format!("{}{}", "a {\n".repeat(64), "}\n".repeat(64));
    assert!(document(file(), &deep).is_ok());
}

#[test]
fn a_right_text_has_no_slips() {
    let text = r##"// a comment
scheme "Worked example" revision="A"; place "HOUSE" "Control house"
cable "K1" from="HOUSE" to="YARD" length="1150 ft" cores=7 /* of seven */ {
    core 1 "TB1:1" "X1:1"
}
/- place "LEFT OUT"
circuit "Close" supply="DC1" {                  // fuses
    feed { fuse "F1" "15 A"; wire "CP" }
    return { wire "CN"; core "K1" 1 2 into="HOUSE"; fuse "F2" "15 A" }
    leg "Close coil" from="CP" \ // goes on
        to="CN" { coil "52" "close" /-"left out"; }
}
breaker "52" place="YARD" { terminals "close"="1-2" a1="11-12"; note "he said \"open\"" }
note """
    two
    lines
    """
note #"C:\drawings"#
expect at-most=1 of="52 closed"
"##;
    assert_eq!(said(text), []);
    let crlf = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    assert_eq!(said(&crlf), []);
}

/// Pieces that a broken text is made of.
const PIECES: &[&str] = &[
    "\"", "\"52\"", "{", "}", ";", "=", "/-", "/*", "*/", "//", "\\", "\n", " ", " ", " ", "#",
    "(", ")", "[", "52", "52CS", "8..14", "ms", "coil", "leg", "from=", "true", "#true", "-",
    "1e400", "\"\"\"\n", "\"\"\"", "\r\n", "\u{feff}", "“", "λ", ",", "+", ".", "to", "%", "_",
    "\u{85}", "\t", "#\"", "\"#",
];

proptest! {
    #[test]
    fn no_text_makes_reading_panic(text in "\\PC{0,60}") {
        let _ = said_anyhow(&text);
    }

    #[test]
    fn no_bytes_make_reading_panic(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        if let Ok(text) = decode(&bytes) {
            let _ = said_anyhow(&text);
        }
    }

    #[test]
    fn no_order_of_signs_makes_reading_panic(pieces in prop::collection::vec(prop::sample::select(PIECES), 0..24)) {
        let text = pieces.concat();
        for finding in said_anyhow(&text) {
            // KDL is asked last and should find nothing new but the inner rules of long strings.
            prop_assert!(finding.id != "text" || text.contains("\"\"\""), "{:?}: {:?}", text, finding);
        }
    }
}

/// All findings of a text; their places lie in the text.
fn said_anyhow(text: &str) -> Vec<Finding> {
    let mut findings = match document(file(), text) {
        Ok(_) => slips(file(), text),
        Err(findings) => findings,
    };
    for finding in &findings {
        if let Some(at) = finding.at {
            assert!(
                text.get(at.start as usize..at.end as usize).is_some(),
                "{text:?}: {finding:?}"
            );
        }
    }
    if let Err(more) = fiftytwo_scheme::format("test", text) {
        assert!(more.iter().all(|one| one.id != "format-unsafe"), "{text:?}");
        findings.extend(more);
    }
    findings
}
