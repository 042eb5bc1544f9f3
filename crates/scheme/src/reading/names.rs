//! Names: who is known, and what was probably meant.

use crate::source::Span;
use std::collections::BTreeMap;

/// Names of one sort, each with what it stands for and where it was declared.
#[derive(Debug)]
pub(super) struct Table<I> {
    known: BTreeMap<String, (I, Span)>,
}

impl<I> Default for Table<I> {
    fn default() -> Self {
        Self { known: BTreeMap::new() }
    }
}

impl<I: Copy> Table<I> {
    /// What the name stands for.
    pub fn get(&self, name: &str) -> Option<I> {
        self.known.get(name).map(|(id, _)| *id)
    }
    /// Where the name was declared.
    pub fn span(&self, name: &str) -> Option<Span> {
        self.known.get(name).map(|(_, span)| *span)
    }
    /// Declares a name; the first declaration stays.
    pub fn declare(&mut self, name: &str, id: I, span: Span) {
        self.known.entry(name.to_owned()).or_insert((id, span));
    }
    /// All names, sorted.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.known.keys().map(String::as_str).collect();
        names.sort_unstable();
        names
    }
}

/// The known word nearest to a misspelt one, if any is near enough to be meant.
pub(super) fn nearest<'a>(
    wrong: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let wrong_low = wrong.to_lowercase();
    let limit = match wrong.chars().count() {
        0 => 0,
        1..=2 => 1,
        3..=7 => 2,
        _ => 3,
    };
    known
        .into_iter()
        .filter(|name| *name != wrong)
        .map(|name| (strsim::damerau_levenshtein(&wrong_low, &name.to_lowercase()), name))
        .filter(|(distance, name)| {
            *distance <= limit && *distance < name.chars().count().max(wrong.chars().count())
        })
        .min_by_key(|(distance, name)| (*distance, *name))
        .map(|(_, name)| name)
}

/// "did you mean X?", or the list of what there is.
pub(super) fn suggestion<'a>(
    wrong: &str,
    known: impl IntoIterator<Item = &'a str>,
    what: &str,
) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    if let Some(name) = nearest(wrong, known.iter().copied()) {
        return format!("did you mean {name:?}?");
    }
    match known.len() {
        0 => format!("there is no {what} yet"),
        _ => format!("known: {}", listed(known)),
    }
}

/// `"a", "b" and "c"`, shortened when long.
pub(super) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    const MOST: usize = 12;
    let mut words: Vec<String> = names.iter().take(MOST).map(|name| format!("{name:?}")).collect();
    if names.len() > MOST {
        words.push(format!("{} more", names.len() - MOST));
    }
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// "a" or "an".
pub(super) fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

/// The same with a capital letter.
pub(super) fn capital(word: &str) -> String {
    let mut signs = word.chars();
    signs.next().map(|first| first.to_uppercase().chain(signs).collect()).unwrap_or_default()
}
