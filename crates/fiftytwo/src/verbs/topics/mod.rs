//! What was calculated, topic by topic, as a person reads it: what falls short first, then what is
//! tightest, each with the corner that causes it.
//!
//! **In:** the results of the calculations. **Out:** sections of rows, and the page they make.
//! **Never here:** arithmetic beyond a margin; deciding what a finding is.

mod cables;
mod clearing;
mod duty;
mod fuses;
mod grounds;
mod loads;
pub mod meter;
mod monitors;
mod shorts;
mod shown;
mod ties;

use crate::page::{ASIDE, BAD, Column, GOOD, OPEN, Page, Table, count_of, painted};
use fiftytwo_calculations::Calculations;
use fiftytwo_calculations::methods::{HowGot, TopicMethod};

/// Rows of a topic that hold and are shown all the same; `--full` shows every row.
const TIGHTEST: usize = 4;
/// Rows of a topic that fall short and are shown; `--full` shows every row.
const SHORT: usize = 12;

/// How a row came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome {
    /// It has so much of its limit to spare; negative: it falls short.
    Spare(f64),
    /// It falls short, and no number says by how much.
    FallsShort,
    /// It holds, and no number says how well.
    Holds,
    /// Nothing to judge it by is declared.
    NotJudged,
}

impl Outcome {
    fn falls_short(self) -> bool {
        matches!(self, Self::FallsShort) || matches!(self, Self::Spare(spare) if spare < 0.0)
    }
    /// What is shown first: what falls short, then what is tight, then the rest.
    fn rank(self) -> f64 {
        match self {
            Self::FallsShort => f64::NEG_INFINITY,
            Self::Spare(spare) => spare,
            Self::Holds => 1e9,
            Self::NotJudged => f64::INFINITY,
        }
    }
}

/// One line of a topic.
#[derive(Debug, Clone)]
pub struct Row {
    /// The part, or the part and what is asked of it.
    pub what: String,
    /// Its worst case.
    pub worst: String,
    /// What it is held against.
    pub limit: String,
    /// What is left.
    pub margin: String,
    /// How it came out.
    pub outcome: Outcome,
    /// The corner that causes it, and what else is worth a line.
    pub corner: String,
}

/// One topic.
#[derive(Debug, Clone, Default)]
pub struct Section {
    /// Its heading: what is asked.
    pub title: &'static str,
    /// Its rows, in the order of the text.
    pub rows: Vec<Row>,
    /// Sentences below the rows.
    pub notes: Vec<String>,
    /// What the rows cover and what not; told where every row is.
    pub covers: Vec<String>,
    /// How the numbers were got; told where every row is.
    pub got: Vec<String>,
}

/// Every topic that has something to say.
pub fn sections(found: &Calculations) -> Vec<Section> {
    let got = |topics: &[&str], mut sections: Vec<Section>| {
        let of = |method: &&TopicMethod| {
            topics.iter().any(|topic| method.topic.split('.').next() == Some(topic))
        };
        let words: Vec<String> = found.methods.iter().filter(of).map(method).collect();
        if let Some(last) = sections.last_mut() {
            last.got = words;
        }
        sections
    };
    let sections = [
        got(&["monitors"], monitors::sections(&found.monitors)),
        got(&["loads"], loads::sections(&found.loads)),
        got(&["cables"], cables::sections(&found.cables)),
        got(&["clearing"], clearing::sections(&found.clearing)),
        got(&["fuses"], fuses::sections(&found.fuses)),
        got(&["shorts"], shorts::sections(&found.shorts)),
        got(&["ties"], ties::sections(&found.ties)),
        got(
            &["duty", "suppression", "charging"],
            duty::sections(&found.duty, &found.suppression, &found.charging),
        ),
        got(&["grounds"], grounds::sections(&found.grounds)),
    ]
    .concat();
    let speaks = |it: &Section| !(it.rows.is_empty() && it.notes.is_empty() && it.got.is_empty());
    sections.into_iter().filter(speaks).collect()
}

/// "fuses.shorts: corners (…)".
fn method(it: &TopicMethod) -> String {
    let method = match it.method {
        HowGot::Corners => "corners",
        HowGot::Widened => "widened",
        HowGot::Sampled => "sampled",
        HowGot::Wiring => "wiring",
    };
    format!("{}: {method} ({})", it.topic, it.words)
}

/// Typical values in use, of all topics, each once.
pub fn typical(found: &Calculations) -> Vec<String> {
    let mut all = found.typical.clone();
    all.extend(found.monitors.coils.iter().flat_map(|coil| coil.typical.iter().cloned()));
    all.extend(found.fuses.typical.iter().cloned());
    all.extend(found.duty.typical.iter().cloned());
    all.extend(found.grounds.typical.iter().cloned());
    all.extend(found.meter.typical.iter().cloned());
    all.extend(found.suppression.iter().flat_map(|chain| chain.typical.iter().cloned()));
    all.sort();
    all.dedup();
    all
}

/// The page of all sections.
pub fn told(sections: &[Section], typical: &[String], full: bool) -> String {
    let mut page = Page::default();
    for section in sections {
        if section.rows.is_empty() && section.notes.is_empty() {
            continue;
        }
        page.head(section.title);
        page.block(&rows(&section.rows, full));
        for note in &section.notes {
            page.words(2, 2, note);
        }
        for words in section.covers.iter().filter(|_| full) {
            page.words(2, 2, &painted(ASIDE, &format!("Covers: {words}.")));
        }
    }
    let got: Vec<&String> = sections.iter().flat_map(|section| &section.got).collect();
    if full && !got.is_empty() {
        page.head("How the numbers were got");
        page.words(
            2,
            2,
            "Each volt of a coil says it beside its corner. corners: exact at the ends of what is \
             declared; widened: a bound, never short of what can happen; sampled: the corners named \
             were tried, no more; wiring: no tolerance enters.",
        );
        for words in got {
            page.words(2, 4, words);
        }
    }
    if !typical.is_empty() {
        page.head("Typical values in use, because nothing is declared");
        for line in typical {
            page.words(2, 2, line);
        }
    }
    page.into_text()
}

/// The first few of many, the rest counted.
fn few(names: &[&str]) -> String {
    const MOST: usize = 4;
    let shown: Vec<&str> = names.iter().take(MOST).copied().collect();
    match names.len().saturating_sub(MOST) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

/// A line or two a topic, for a page that has room for no more.
pub fn brief(sections: &[Section]) -> String {
    let mut page = Page::default();
    for section in sections.iter().filter(|section| !section.rows.is_empty()) {
        let short = section.rows.iter().filter(|row| row.outcome.falls_short()).count();
        let tightest = section
            .rows
            .iter()
            .filter(|row| matches!(row.outcome, Outcome::Spare(_)))
            .min_by(|a, b| a.outcome.rank().total_cmp(&b.outcome.rank()));
        let words = match (short, tightest) {
            (0, Some(row)) => format!("; tightest {}, {}", row.what, row.margin),
            (0, None) => String::new(),
            (short, _) => format!("; {}", painted(BAD, &count_of_short(short))),
        };
        let lines = count_of(section.rows.len(), "line");
        page.words(2, 4, &format!("{}: {lines}{words}", section.title));
    }
    page.into_text()
}

fn count_of_short(short: usize) -> String {
    if short == 1 { "1 falls short".to_owned() } else { format!("{short} fall short") }
}

fn rows(rows: &[Row], full: bool) -> String {
    let mut sorted: Vec<&Row> = rows.iter().collect();
    if !full {
        sorted.sort_by(|a, b| a.outcome.rank().total_cmp(&b.outcome.rank()));
        let short = sorted.iter().filter(|row| row.outcome.falls_short()).count();
        sorted.truncate(if short > 0 { short.min(SHORT) } else { TIGHTEST });
    }
    let mut table = Table::new(&[Column::Left, Column::Right, Column::Left, Column::Right]);
    for row in &sorted {
        let style = match row.outcome {
            _ if row.outcome.falls_short() => BAD,
            Outcome::NotJudged => OPEN,
            _ => GOOD,
        };
        let margin = painted(style, &row.margin);
        table.row([row.what.clone(), row.worst.clone(), row.limit.clone(), margin]);
    }
    let mut page = Page::default();
    if full {
        // Each row with its corner below it.
        for (line, row) in table.lines().iter().zip(&sorted) {
            page.line(line);
            if !row.corner.is_empty() {
                page.words(6, 2, &painted(ASIDE, &row.corner));
            }
        }
        return page.into_text();
    }
    page.table(&table);
    if let Some(worst) = sorted.first().filter(|row| !row.corner.is_empty()) {
        page.words(2, 2, &painted(ASIDE, &format!("{}: {}", worst.what, worst.corner)));
    }
    let left = rows.len() - sorted.len();
    if left > 0 {
        let unjudged = rows.iter().filter(|row| row.outcome == Outcome::NotJudged).count();
        let aside = match unjudged {
            0 => String::new(),
            n => format!(", {n} of all not judged: nothing is declared"),
        };
        let words = format!("and {} more{aside} (--full shows all)", count_of(left, "line"));
        page.words(2, 2, &painted(ASIDE, &words));
    }
    page.into_text()
}

#[cfg(test)]
mod tests {
    use super::{Outcome, Row, Section, brief, told};

    fn row(what: &str, outcome: Outcome) -> Row {
        let margin = match outcome {
            Outcome::Spare(spare) => format!("{:.0} %", spare * 100.0),
            _ => String::new(),
        };
        Row {
            what: what.to_owned(),
            worst: "1 V".to_owned(),
            limit: "of 2 V".to_owned(),
            margin,
            outcome,
            corner: format!("corner of {what}"),
        }
    }

    fn plain(text: &str) -> String {
        anstream::adapter::strip_str(text).to_string()
    }

    #[test]
    fn what_falls_short_is_shown_and_nothing_else_unless_all_is_asked_for() {
        let rows = vec![
            row("good", Outcome::Spare(0.5)),
            row("bad", Outcome::Spare(-0.1)),
            row("open", Outcome::NotJudged),
        ];
        let notes = vec!["A note.".to_owned()];
        let section = Section { title: "Monitors", rows, notes, ..Section::default() };
        let sections = [section];
        let short = plain(&told(&sections, &["F1: typical".to_owned()], false));
        assert!(short.contains("bad") && !short.contains("good"), "{short}");
        assert!(
            short.contains("and 2 lines more") && short.contains("1 of all not judged"),
            "{short}"
        );
        assert!(short.contains("A note.") && short.contains("F1: typical"), "{short}");
        let full = plain(&told(&sections, &[], true));
        for words in ["good", "bad", "open", "corner of good"] {
            assert!(full.contains(words), "{full}");
        }
        assert!(plain(&brief(&sections)).contains("1 falls short"));
    }

    #[test]
    fn where_all_holds_the_tightest_stand_first() {
        let spares = [0.9, 0.2, 0.5, 0.1, 0.8, 0.3];
        let rows = spares.iter().map(|spare| row(&format!("r{spare}"), Outcome::Spare(*spare)));
        let sections = [Section { title: "T", rows: rows.collect(), ..Section::default() }];
        let text = plain(&told(&sections, &[], false));
        let first = text.lines().nth(1).unwrap_or_default();
        assert!(first.contains("r0.1"), "{text}");
        assert!(!text.contains("r0.9") && text.contains("and 2 lines more"), "{text}");
        assert!(plain(&brief(&sections)).contains("tightest r0.1, 10 %"));
    }
}
