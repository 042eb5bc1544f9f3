//! The layout: laid out twice is laid out once, every comment stays, nothing changes its meaning.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::format;
use kdl::{KdlDocument, KdlNode};
use proptest::prelude::*;
use std::path::{Path, PathBuf};

/// All schemes of the repository and the samples beside this test.
fn schemes() -> Vec<(PathBuf, String)> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    let mut folders = vec![here.join("tests/format"), here.join("../../examples")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|end| end == "kdl") {
                let text = std::fs::read_to_string(&path).unwrap();
                found.push((path, text));
            }
        }
    }
    found.sort();
    found
}

/// What a text says, however it is laid out: properties by name wherever they stand.
fn said(nodes: &[KdlNode]) -> Vec<String> {
    nodes
        .iter()
        .map(|node| {
            let entries = node.entries();
            let plain = |entry: &kdl::KdlEntry| entry.value().to_string();
            let arguments: Vec<String> =
                entries.iter().filter(|one| one.name().is_none()).map(plain).collect();
            let children = node.children().map_or(&[][..], KdlDocument::nodes);
            let single = |child: &&KdlNode| {
                child.children().is_none()
                    && child.entries().len() == 1
                    && child.entries().iter().all(|one| one.name().is_none())
            };
            let lines: Vec<&KdlNode> = children.iter().take_while(single).collect();
            let rest = said(children.get(lines.len()..).unwrap());
            let lines: Vec<String> = lines
                .iter()
                .map(|line| std::format!("{} {}", line.name().value(), plain(&line.entries()[0])))
                .collect();
            let mut all: Vec<String> = entries
                .iter()
                .filter_map(|one| {
                    one.name().map(|name| std::format!("{} {}", name.value(), plain(one)))
                })
                .chain(lines)
                .collect();
            all.sort();
            std::format!("{} {arguments:?} {all:?} {rest:?}", node.name().value())
        })
        .collect()
}

fn meaning(text: &str) -> Vec<String> {
    said(KdlDocument::parse_v2(text).unwrap().nodes())
}

/// Every comment of a text in sorted order, found by looking for its signs outside strings.
fn comments(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(sign) = rest.chars().next() {
        let length = if rest.starts_with("//") {
            let end = rest.find('\n').unwrap_or(rest.len());
            found.push(rest[..end].trim_end().to_owned());
            end
        } else if rest.starts_with("/*") {
            let end = rest.find("*/").unwrap() + 2;
            found.push(rest[..end].to_owned());
            end
        } else if rest.starts_with("\"\"\"\n") {
            rest[3..].find("\"\"\"").unwrap() + 6
        } else if sign == '"' {
            string(rest)
        } else {
            sign.len_utf8()
        };
        rest = &rest[length..];
    }
    found.sort();
    found
}

/// The length of a string in plain quotes.
fn string(rest: &str) -> usize {
    let mut escaped = true;
    for (at, sign) in rest.char_indices() {
        match sign {
            '"' if !escaped => return at + 1,
            _ => escaped = sign == '\\' && !escaped,
        }
    }
    rest.len()
}

fn holds(text: &str) -> Result<String, TestCaseError> {
    let once = format("test", text)
        .map_err(|wrong| TestCaseError::fail(std::format!("{wrong:?}\n{text}")))?;
    let twice = format("test", &once)
        .map_err(|wrong| TestCaseError::fail(std::format!("{wrong:?}\n{once}")))?;
    prop_assert_eq!(&once, &twice, "laid out twice:\n{}", text);
    prop_assert_eq!(comments(text), comments(&once), "comments:\n{}", text);
    prop_assert_eq!(meaning(text), meaning(&once), "meaning:\n{}", text);
    prop_assert!(!once.contains("\n\n\n") && !once.starts_with('\n'), "empty lines:\n{}", once);
    prop_assert!(once.lines().all(|line| line.trim_end() == line || line.contains('*')));
    Ok(once)
}

#[test]
fn every_scheme_can_be_laid_out() {
    let schemes = schemes();
    assert!(!schemes.is_empty());
    for (path, text) in schemes {
        holds(&text).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()));
    }
}

#[test]
fn an_untidy_text_becomes_tidy() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/format/untidy.kdl");
    let text = std::fs::read_to_string(path).unwrap();
    let tidy = format("untidy.kdl", &text).unwrap();
    insta::assert_snapshot!("untidy", tidy);
}

#[test]
fn a_text_with_slips_is_left_alone() {
    for text in ["coil resistance=41 ohm", "contact 52CS \"a1\"", "leg \"a\" {", ""] {
        let findings = format("slips.kdl", text).unwrap_err();
        assert!(!findings.is_empty(), "{text}");
    }
}

#[test]
fn lines_end_in_one_way() {
    let tidy =
        format("test", "\u{feff}place \"A\" \"x\"\r\n\r\n\r\nplace \"B\" \"y\"\r\n").unwrap();
    assert_eq!(tidy, "place \"A\" \"x\"\n\nplace \"B\" \"y\"\n");
}

#[test]
fn properties_that_do_not_fit_stand_one_a_line() {
    let long = "coil \"close\" drives-to=\"closed\" resistance=\"41 ohm\" works=\"90 to 140 V\" goes-after=\"8 to 12 ms\" max-on=\"1 s\"";
    let tidy = format("test", long).unwrap();
    assert_eq!(
        tidy,
        "coil \"close\" drives-to=\"closed\" {\n    resistance \"41 ohm\"\n    works \"90 to 140 V\"\n    goes-after \"8 to 12 ms\"\n    max-on \"1 s\"\n}\n"
    );
    let short = "coil \"close\" drives-to=\"closed\" resistance=\"41 ohm\" works=\"90 to 140 V\"\n";
    assert_eq!(format("test", short).unwrap(), short);
}

const WORDS: &[&str] = &[
    "contact",
    "coil",
    "leg",
    "wire",
    "parallel",
    "note",
    "place",
    "terminals",
    "claim",
    "made-up",
];
const KEYS: &[&str] =
    &["place", "works", "closed-when", "within", "\"trip 1\"", "a1", "resistance"];
const VALUES: &[&str] = &[
    "\"52\"",
    "\"a1\"",
    "7",
    "\"he said \\\"open\\\" // twice\"",
    "\"12 to 20 ms\"",
    "#\"C:\\raw /* no comment */\"#",
    "\"a name that is as long as no name should ever be on any print\"",
    "\"/- not left out\"",
    "\"λ Ω μ ²\"",
];

fn space() -> impl Strategy<Value = String> {
    prop_oneof![
        10 => Just(" ".to_owned()),
        1 => Just("  \t".to_owned()),
        1 => Just(" /* in between */ ".to_owned()),
        1 => Just(" \\\n  ".to_owned()),
        1 => Just(" \\ // goes on\n ".to_owned()),
    ]
}

fn entry() -> impl Strategy<Value = String> {
    let value = || prop::sample::select(VALUES);
    let plain = prop_oneof![
        value().prop_map(str::to_owned),
        (prop::sample::select(KEYS), value())
            .prop_map(|(key, value)| std::format!("{key}={value}")),
        (prop::sample::select(KEYS), value())
            .prop_map(|(key, value)| std::format!("{key} = {value}")),
    ];
    (plain, prop::bool::weighted(0.1))
        .prop_map(|(plain, dashed)| if dashed { std::format!("/-{plain}") } else { plain })
}

fn end() -> impl Strategy<Value = String> {
    prop_oneof![
        5 => Just("\n".to_owned()),
        2 => Just("; ".to_owned()),
        2 => Just("\n\n\n".to_owned()),
        2 => Just(" // behind\n".to_owned()),
        1 => Just("; /* behind */ // and more  \n".to_owned()),
        1 => Just("\n  // alone\n".to_owned()),
        1 => Just("\n/* over\n   lines */\n".to_owned()),
        1 => Just(" /* over\n   lines */\n".to_owned()),
        1 => Just(";\n\t/* first */ ".to_owned()),
    ]
}

fn node() -> impl Strategy<Value = String> {
    let head = (
        prop::bool::weighted(0.1),
        prop::sample::select(WORDS),
        prop::collection::vec((space(), entry()), 0..8),
        end(),
    );
    let leaf = head.prop_map(|(dashed, word, entries, end)| line(dashed, word, &entries, "", &end));
    leaf.prop_recursive(3, 24, 5, |inner| {
        (
            prop::bool::weighted(0.1),
            prop::sample::select(WORDS),
            prop::collection::vec((space(), entry()), 0..6),
            prop::collection::vec(inner, 0..5),
            prop::sample::select(
                &[
                    " {",
                    " {\n",
                    " { // behind the brace\n",
                    " {\n\n",
                    " /-{",
                    " /* x */ { /* y */ ",
                ][..],
            ),
            end(),
        )
            .prop_map(|(dashed, word, entries, inner, open, end)| {
                line(dashed, word, &entries, &std::format!("{open}{}}}", inner.concat()), &end)
            })
    })
}

fn line(dashed: bool, word: &str, entries: &[(String, String)], block: &str, end: &str) -> String {
    let dash = if dashed { "/-" } else { "" };
    let entries: String = entries.iter().map(|(space, entry)| space.clone() + entry).collect();
    std::format!("{dash}{word}{entries}{block}{end}")
}

proptest! {
    // KDL does not take every order of dashes and semicolons; those texts are no texts.
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 2, max_global_rejects: 100_000, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_laid_out_once_and_for_all(nodes in prop::collection::vec(node(), 1..6)) {
        let text = nodes.concat();
        // A semicolon or a comment may stand behind nothing; KDL decides what is a text.
        prop_assume!(KdlDocument::parse_v2(&text).is_ok());
        holds(&text)?;
    }

}

proptest! {
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 4, ..ProptestConfig::default() })]

    #[test]
    fn a_scheme_in_any_spacing_is_laid_out(which in 0_usize..1000, seed in prop::collection::vec(0_u8..12, 64)) {
        let schemes = schemes();
        // Lines of a string over several lines are not lines of the scheme.
        let schemes: Vec<_> =
            schemes.into_iter().filter(|(_, text)| !text.contains("\"\"\"") && text.len() < 8_000).collect();
        let (_, text) = &schemes[which % schemes.len()];
        let mut out = String::new();
        for (at, line) in text.lines().enumerate() {
            let choice = seed[at % seed.len()];
            let pad = match choice { 0 => "\t\t", 1 => "         ", _ => "" };
            match choice {
                2 => out.push_str("// put in\n"),
                3 => out.push_str("\n\n\n"),
                4 => out.push_str("/* put in */ "),
                _ => {}
            }
            out.push_str(line.trim_start());
            out.push_str(pad);
            let whole = !line.contains("//") && !line.contains('\\') && !line.trim().is_empty();
            out.push_str(if choice == 5 && whole && !line.ends_with('{') { "; " } else { "\n" });
        }
        prop_assume!(KdlDocument::parse_v2(&out).is_ok());
        holds(&out)?;
    }
}
