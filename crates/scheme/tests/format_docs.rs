//! Every scheme in the documents is a scheme, laid out the usual way; every example line reads.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{FileId, Severity, format, read_text, text};
use std::path::Path;

fn page(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs").join(name))
        .unwrap()
}

/// The fenced blocks of a page that are marked with `mark`.
fn blocks(page: &str, mark: &str) -> Vec<String> {
    let opening = std::format!("```{mark}\n");
    page.split(&opening)
        .skip(1)
        .map(|behind| behind.split("```").next().unwrap().to_owned())
        .collect()
}

fn slips(fragment: &str) -> Vec<String> {
    let file = FileId::from_index(0);
    let findings = match text::document(file, fragment) {
        Ok(_) => text::slips(file, fragment),
        Err(findings) => findings,
    };
    findings.into_iter().map(|finding| finding.message).collect()
}

#[test]
fn the_worked_example_is_a_scheme_at_every_step() {
    let steps = blocks(&page("language.md"), "kdl");
    assert!(steps.len() >= 4);
    for step in steps {
        let reading = read_text("language.md", &step);
        let errors: Vec<&str> = reading
            .findings
            .iter()
            .filter(|finding| finding.severity == Severity::Error)
            .map(|finding| finding.message.as_str())
            .collect();
        assert!(errors.is_empty(), "{errors:?}\n{step}");
        assert!(reading.scheme.is_some());
        assert_eq!(format("language.md", &step).unwrap(), step);
    }
}

#[test]
fn fragments_are_written_right() {
    let fragments = blocks(&page("language.md"), "text");
    assert!(!fragments.is_empty());
    for fragment in fragments {
        assert_eq!(slips(&fragment), Vec::<String>::new(), "{fragment}");
    }
}

/// The last column of the vocabulary's table holds one example a row.
#[test]
fn every_example_of_the_vocabulary_is_written_right() {
    let page = page("vocabulary.md");
    let mut count = 0;
    for row in page.lines().filter(|line| line.starts_with("| `")) {
        let last = row.trim_end_matches('|').rsplit(" | ").next().unwrap().trim();
        let Some(example) = last.strip_prefix('`').and_then(|rest| rest.strip_suffix('`')) else {
            assert!(last.is_empty(), "{last}");
            continue;
        };
        let plain = example.replace('…', "");
        assert_eq!(slips(&plain), Vec::<String>::new(), "{example}");
        count += 1;
    }
    assert!(count >= 40, "{count}");
}

/// "Written" and "Answer" of the language page agree with what is really said.
#[test]
fn the_answers_on_the_page_are_the_answers_given() {
    let page = page("language.md");
    let table = page.split("| Written | Answer |").nth(1).unwrap();
    let mut count = 0;
    for row in table.lines().take_while(|line| line.is_empty() || line.starts_with('|')) {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").map(str::trim).collect();
        let [written, answer] = cells.as_slice() else { continue };
        let Some(written) = written.strip_prefix('`').and_then(|rest| rest.strip_suffix('`'))
        else {
            continue;
        };
        let file = FileId::from_index(0);
        let found = match text::document(file, written) {
            Ok(_) => text::slips(file, written),
            Err(found) => found,
        };
        let help = found.first().and_then(|finding| finding.help.clone()).unwrap_or_default();
        assert!(
            help.contains(&answer.replace('`', "")),
            "{written}: {answer:?} is not in {help:?}"
        );
        count += 1;
    }
    assert!(count >= 5, "{count}");
}

/// Where an example of the vocabulary may stand; the first braces that know all its words.
const PLACES: &[(&str, &str)] = &[
    ("", ""),
    ("breaker \"52\" {", "}"),
    ("relay \"52Y\" {", "}"),
    ("overload \"49\" {", "}"),
    ("ied \"RTU\" {", "}"),
    ("circuit \"C\" {", "}"),
    ("circuit \"C\" { leg \"L\" {", "} }"),
    ("circuit \"C\" { leg \"L\" { parallel {", "} } }"),
    ("matrix \"52\" {", "}"),
    ("story \"S\" {", "}"),
];

#[test]
fn the_reader_knows_every_word_of_the_vocabulary() {
    for row in page("vocabulary.md").lines().filter(|line| line.starts_with("| `")) {
        let Some((_, example)) = row.trim_end_matches(" |").rsplit_once(" | `") else { continue };
        let example = example.trim_end_matches('`');
        let unknown = |(before, behind): &(&str, &str)| -> Vec<String> {
            let text = std::format!("scheme \"S\"\n{before}\n{example}\n{behind}\n");
            read_text("vocabulary.md", &text)
                .findings
                .into_iter()
                .filter(|one| {
                    ["word-unknown", "property-unknown", "stray", "quantity"].contains(&one.id)
                })
                .map(|one| one.message)
                .collect()
        };
        let tried: Vec<Vec<String>> = PLACES.iter().map(unknown).collect();
        assert!(tried.iter().any(Vec::is_empty), "{example}: {tried:?}");
    }
}
