//! Broken schemes are answered, never crashed on; a layout never changes a model.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::{Finding, Reading, Severity, Sources, format, read_text};
use proptest::prelude::*;
use std::path::Path;
use std::sync::LazyLock;

/// The schemes of all examples.
static SCHEMES: LazyLock<Vec<String>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path().join("scheme.kdl");
        if path.is_file() {
            found.push(path);
        }
    }
    found.sort();
    found.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect()
});

/// Words to put in the place of others.
const WORDS: &[&str] = &[
    "\"\"",
    "\"52\"",
    "\"52 closed\"",
    "\"not\"",
    "\"a and b or c\"",
    "7",
    "-1",
    "1e400",
    "#nan",
    "41",
    "\"41\"",
    "\"8-14 ms\"",
    "\"20 to 12 ms\"",
    "\"2,5 V\"",
    "coil",
    "leg",
    "circuit",
    "{",
    "}",
    ";",
    "=",
    "\"",
    "\n",
    "//",
    "\"HOUSE\"",
    "\"99999999999 ms\"",
    "\"1000000 h\"",
    "\"-40 C\"",
    "4294967296",
    "\"0 V DC\"",
    "\"λ\"",
];

#[derive(Debug, Clone)]
enum Change {
    DropLine(usize),
    TwiceLine(usize),
    SwapLines(usize, usize),
    DropWord(usize),
    SwapWord(usize, usize),
    PutWord(usize, usize),
    DropByte(usize),
    Cut(usize),
}

fn change() -> impl Strategy<Value = Change> {
    let at = || any::<prop::sample::Index>().prop_map(|index| index.index(1_000_000));
    prop_oneof![
        at().prop_map(Change::DropLine),
        at().prop_map(Change::TwiceLine),
        (at(), at()).prop_map(|(one, other)| Change::SwapLines(one, other)),
        at().prop_map(Change::DropWord),
        (at(), at()).prop_map(|(one, other)| Change::SwapWord(one, other)),
        (at(), at()).prop_map(|(one, other)| Change::PutWord(one, other)),
        at().prop_map(Change::DropByte),
        at().prop_map(Change::Cut),
    ]
}

/// Where the words of a text stand: stretches without a space outside quotes.
fn words(text: &str) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let (mut start, mut quoted) = (None, false);
    for (at, sign) in text.char_indices() {
        let ends = !quoted && (sign.is_whitespace() || sign == ';' || sign == '=');
        quoted ^= sign == '"';
        match (start, ends) {
            (None, false) => start = Some(at),
            (Some(from), true) => {
                found.push(from..at);
                start = None;
            }
            _ => {}
        }
    }
    found
}

fn changed(text: &str, change: &Change) -> String {
    if text.is_empty() {
        return String::new();
    }
    let mut lines: Vec<&str> = text.lines().collect();
    let line = |at: &usize| at % lines.len().max(1);
    let spots = words(text);
    let word = |at: &usize| spots.get(at % spots.len().max(1)).cloned().unwrap_or(0..0);
    let put = |range: std::ops::Range<usize>, new: &str| {
        std::format!("{}{new}{}", &text[..range.start], &text[range.end..])
    };
    match change {
        Change::DropLine(at) => {
            let at = line(at);
            lines.remove(at);
            lines.join("\n")
        }
        Change::TwiceLine(at) => {
            let at = line(at);
            lines.insert(at, lines[at]);
            lines.join("\n")
        }
        Change::SwapLines(one, other) => {
            let (one, other) = (line(one), line(other));
            lines.swap(one, other);
            lines.join("\n")
        }
        Change::DropWord(at) => put(word(at), ""),
        Change::SwapWord(at, from) => put(word(at), &text[word(from)]),
        Change::PutWord(at, which) => put(word(at), WORDS[which % WORDS.len()]),
        Change::DropByte(at) => {
            let at = at % text.len().max(1);
            text.char_indices().filter(|(here, _)| *here != at).map(|(_, sign)| sign).collect()
        }
        Change::Cut(at) => {
            let mut at = at % text.len().max(1);
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            text[..at].to_owned()
        }
    }
}

/// What every answer must be, whatever the text.
fn answered(text: &str) -> Result<Reading, TestCaseError> {
    let reading = read_text("scheme.kdl", text);
    let errors = reading.findings.iter().any(|one| one.severity == Severity::Error);
    prop_assert_eq!(errors, reading.scheme.is_none(), "a scheme or errors, never both or none");
    for one in &reading.findings {
        told(one, &reading.sources)?;
    }
    Ok(reading)
}

fn told(finding: &Finding, sources: &Sources) -> Result<(), TestCaseError> {
    let shown = std::format!("{finding:?}");
    prop_assert!(finding.message.ends_with(['.', '?', '!']), "no sentence: {}", shown);
    prop_assert!(!finding.id.is_empty() && !finding.message.contains("Id("), "{}", shown);
    for place in finding.at.iter().chain(finding.others.iter().map(|(place, _)| place)) {
        let text = &sources.files[place.file].text;
        let words = text.get(place.start as usize..place.end as usize);
        prop_assert!(words.is_some(), "a place outside the text: {}", shown);
    }
    if finding.severity == Severity::Error {
        prop_assert!(finding.at.is_some(), "no place: {}", shown);
        prop_assert!(!finding.label.is_empty(), "no label: {}", shown);
    }
    Ok(())
}

/// A model without the places of its elements.
fn without_places(reading: Reading) -> String {
    let mut scheme = reading.scheme.unwrap();
    scheme.sources = Sources::default();
    let shown = std::format!("{scheme:?}");
    let mut out = String::with_capacity(shown.len());
    let mut rest = shown.as_str();
    while let Some(at) = rest.find("Span {") {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        rest = &rest[rest.find('}').unwrap() + 1..];
    }
    out + rest
}

#[test]
fn a_layout_never_changes_a_model() {
    assert!(SCHEMES.len() >= 5);
    for text in SCHEMES.iter() {
        let laid_out = format("scheme.kdl", text).unwrap();
        let before = without_places(read_text("scheme.kdl", text));
        let after = without_places(read_text("scheme.kdl", &laid_out));
        assert!(before == after, "the model of\n{text}\nchanged");
    }
}

proptest! {
    #[test]
    fn a_changed_scheme_is_answered(
        which in 0_usize..100,
        changes in prop::collection::vec(change(), 1..4),
    ) {
        let mut text = SCHEMES[which % SCHEMES.len()].clone();
        for change in &changes {
            text = changed(&text, change);
        }
        let reading = answered(&text)?;
        if reading.scheme.is_some() && let Ok(laid_out) = format("scheme.kdl", &text) {
            let after = read_text("scheme.kdl", &laid_out);
            prop_assert!(after.scheme.is_some(), "{:?}", after.findings);
            prop_assert_eq!(without_places(reading), without_places(after));
        }
    }

    #[test]
    fn any_text_is_answered(text in "\\PC{0,80}") {
        answered(&text)?;
    }

    #[test]
    fn any_lines_of_right_words_are_answered(picks in prop::collection::vec((0_usize..100, any::<prop::sample::Index>()), 1..40)) {
        let lines: Vec<&str> = picks
            .iter()
            .map(|(which, at)| {
                let lines: Vec<&str> = SCHEMES[which % SCHEMES.len()].lines().collect();
                lines[at.index(lines.len())]
            })
            .collect();
        answered(&lines.join("\n"))?;
    }
}

/// What one leg of a made scheme holds before its coil: for each step, how many ways.
type Shape = Vec<(u8, bool)>;

/// A right scheme: a relay for each leg, a button's contact for each way of each step.
fn made(shapes: &[Shape]) -> (String, usize) {
    let mut devices = String::new();
    let mut legs = String::new();
    let mut placed = 2;
    for (number, shape) in shapes.iter().enumerate() {
        let relay = std::format!("K{number}");
        devices += &std::format!(
            "relay {relay:?} place=\"YARD\" {{ coil resistance=\"{} ohm\" works=\"85 to 140 V\"; contact \"a1\" closed-when=\"picked up\" }}\n",
            1000 + number
        );
        legs += &std::format!("leg \"Leg {number}\" from=\"P\" to=\"NY\" {{\n");
        for (step, (ways, wired)) in shape.iter().enumerate() {
            let mut lines = Vec::new();
            for way in 0..*ways {
                let button = std::format!("PB{number}-{step}-{way}");
                devices += &std::format!(
                    "button {button:?} place=\"HOUSE\" {{ contact \"a1\" closed-when=\"pressed\" }}\n"
                );
                lines.push(std::format!("contact {button:?} \"a1\""));
                placed += 1;
            }
            match lines.as_slice() {
                [one] => legs += &std::format!("{one}\n"),
                _ => legs += &std::format!("parallel {{ {} }}\n", lines.join("; ")),
            }
            if *wired && step + 1 < shape.len() {
                legs += &std::format!("wire \"W{number}-{step}\"\n");
            }
        }
        legs += &std::format!("core \"C\" {} into=\"YARD\"\ncoil {relay:?}\n}}\n", number + 2);
        placed += 2;
    }
    placed += 1;
    let cores = shapes.len() + 1;
    let text = std::format!(
        "scheme \"Made\"\nplace \"HOUSE\" \"House\"; place \"YARD\" \"Yard\"\n\
         supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" place=\"HOUSE\"\n\
         cable \"C\" from=\"HOUSE\" to=\"YARD\" length=\"100 m\" size=\"2.5 mm2\" cores={cores}\n{devices}\
         circuit \"Made\" supply=\"DC1\" {{\nfeed {{ fuse \"F1\" \"6 A\"; wire \"P\" }}\n\
         return {{ wire \"N\"; fuse \"F2\" \"6 A\" }}\n{legs}\
         leg \"Common return\" from=\"NY\" to=\"N\" {{ core \"C\" 1 into=\"HOUSE\" }}\n}}\n"
    );
    (text, placed)
}

proptest! {
    #[test]
    fn a_right_scheme_is_read_and_laid_out(
        shapes in prop::collection::vec(prop::collection::vec((1_u8..4, any::<bool>()), 1..5), 1..6),
    ) {
        let (text, placed) = made(&shapes);
        let reading = answered(&text)?;
        prop_assert!(reading.scheme.is_some(), "{:?}\n{}", reading.findings, text);
        prop_assert_eq!(reading.scheme.as_ref().map(|scheme| scheme.placed().count()), Some(placed));
        let laid_out = format("made.kdl", &text).unwrap();
        prop_assert_eq!(without_places(reading), without_places(read_text("scheme.kdl", &laid_out)));
    }
}
