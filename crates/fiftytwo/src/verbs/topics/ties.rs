//! Whether anything joins two supplies.

use super::{Outcome, Row, Section, few};
use fiftytwo_calculations::ties::{Pair, Ties};

/// Every two supplies.
pub fn sections(found: &Ties) -> Vec<Section> {
    vec![Section {
        title: "Supplies: what joins two of them",
        rows: found.pairs.iter().map(pair).collect(),
        ..Section::default()
    }]
}

fn pair(pair: &Pair) -> Row {
    let (worst, outcome) = match (pair.apart, pair.given_up) {
        (true, _) => ("nothing".to_owned(), Outcome::Holds),
        (false, true) if pair.ties.is_empty() => ("not known".to_owned(), Outcome::NotJudged),
        (false, _) => (crate::page::count_of(pair.ties.len(), "path"), Outcome::FallsShort),
    };
    let corner = match pair.ties.first() {
        None => "in no position of the contacts".to_owned(),
        Some(tie) => {
            let path: Vec<&str> = tie.path.iter().map(String::as_str).collect();
            format!("from {} to {} by {}", tie.from, tie.to, few(&path))
        }
    };
    Row {
        what: format!("{} and {}", pair.one, pair.other),
        worst,
        limit: String::new(),
        margin: if pair.apart { "apart".to_owned() } else { "joined".to_owned() },
        outcome,
        corner,
    }
}
