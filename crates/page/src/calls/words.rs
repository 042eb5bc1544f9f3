//! The words of the language, each with a line that explains it; and the usual layout of a text.

use super::edit::{InUnits, units};
use crate::answer::Refusal;
use crate::desks::Which;
use crate::server::Shared;
use crate::told;
use fiftytwo_scheme::edit::Change;
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;
use tokio::task::spawn_blocking;

/// The page of the vocabulary, as people read it: the editor says the same.
const VOCABULARY: &str = include_str!("../../../../docs/vocabulary.md");

#[derive(Debug, Deserialize)]
pub struct Asked {}

#[derive(Debug, Clone, Serialize)]
pub struct Told {
    words: &'static [Word],
}

/// A word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Word {
    word: String,
    /// The heading it stands under, or "property".
    kind: String,
    about: String,
    example: String,
    /// The properties and inner words it may have.
    with: Vec<String>,
}

pub async fn words(_: Asked) -> Result<Told, Refusal> {
    static WORDS: OnceLock<Vec<Word>> = OnceLock::new();
    Ok(Told { words: WORDS.get_or_init(|| of_table(VOCABULARY)) })
}

fn of_table(page: &str) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut heading = String::new();
    for line in page.lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
        let (Some(first), Some(with)) = (cells.first(), cells.get(1)) else { continue };
        if first.starts_with("**") {
            heading = first.split("**").nth(1).unwrap_or_default().to_owned();
            continue;
        }
        let about = cells.get(2).copied().unwrap_or_default();
        let example = cells.get(3).copied().unwrap_or_default();
        let inner: Vec<String> = with
            .split([',', ';'])
            .filter_map(|piece| {
                let word = piece.trim().trim_start_matches('`');
                let end = word.find(|it: char| !it.is_ascii_lowercase() && it != '-');
                let word = word.get(..end.unwrap_or(word.len()))?;
                (word.len() > 1).then(|| word.to_owned())
            })
            .collect();
        for word in first.split('`').skip(1).step_by(2) {
            words.push(Word {
                word: word.to_owned(),
                kind: heading.clone(),
                about: plain(about),
                example: plain(example),
                with: inner.clone(),
            });
        }
    }
    words
}

fn plain(cell: &str) -> String {
    cell.replace('`', "").replace("**", "").trim_end_matches('|').trim().to_owned()
}

#[derive(Debug, Deserialize)]
pub struct Format {
    scheme: Which,
}

#[derive(Debug, Serialize)]
pub struct Formatted {
    text: String,
    changes: Vec<InUnits>,
    /// Why it can't be laid out.
    findings: Vec<told::Finding>,
}

pub async fn format(shared: &Shared, asked: Format) -> Result<Formatted, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    spawn_blocking(move || {
        let text = known.places.text();
        let (changes, findings) = match fiftytwo_scheme::format("the text", text) {
            Ok(after) => (differing(text, &after), Vec::new()),
            Err(findings) => (Vec::new(), findings),
        };
        let findings = told::findings(&findings, &known.reading, &known.places);
        Ok(Formatted { text: known.hash.clone(), changes: units(&known, &changes), findings })
    })
    .await
    .map_err(|_| Refusal::defect())?
}

/// One change for each run of lines that differ, where both texts have as many lines; else one from
/// the first difference to the last.
fn differing(before: &str, after: &str) -> Vec<Change> {
    if before == after {
        return Vec::new();
    }
    let (old, new): (Vec<&str>, Vec<&str>) =
        (before.split_inclusive('\n').collect(), after.split_inclusive('\n').collect());
    let head = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let most = old.len().min(new.len()) - head;
    let tail = old.iter().rev().zip(new.iter().rev()).take_while(|(a, b)| a == b).count().min(most);
    if old.len() != new.len() {
        let length = |lines: &[&str]| lines.iter().map(|line| line.len()).sum::<usize>();
        let from = length(old.get(..head).unwrap_or_default());
        let to = before.len() - length(old.get(old.len() - tail..).unwrap_or_default());
        let insert = new.get(head..new.len() - tail).unwrap_or_default().concat();
        return vec![Change { from, to, insert }];
    }
    let mut changes = Vec::new();
    let mut at = 0;
    for (a, b) in old.iter().zip(&new) {
        if a != b {
            changes.push(Change { from: at, to: at + a.len(), insert: (*b).to_owned() });
        }
        at += a.len();
    }
    changes
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail loudly")]
mod tests {
    use super::*;

    #[test]
    fn the_words_are_those_of_the_vocabulary() {
        let words = of_table(VOCABULARY);
        let find = |word: &str| words.iter().find(|it| it.word == word).unwrap();
        assert_eq!(find("relay").kind, "Devices");
        assert!(find("coil").with.contains(&"goes-after".to_owned()));
        assert!(find("makes").about.contains("contact"));
        for word in ["scheme", "place", "supply", "circuit", "leg", "parallel", "core", "story"] {
            assert!(!find(word).about.is_empty(), "{word}");
        }
    }

    #[test]
    fn changes_of_layout_give_the_laid_out_text() {
        for (before, after) in [
            ("a\nb\nc\n", "a\nB\nc\n"),
            ("a\nb\nc\n", "a\nb1\nb2\nc\n"),
            ("a", "a\n"),
            ("", "a\n"),
            ("a\nb\nc\nd\n", "a\nd\n"),
        ] {
            let changes = differing(before, after);
            assert_eq!(fiftytwo_scheme::edit::changed(before, &changes), after);
        }
    }
}
