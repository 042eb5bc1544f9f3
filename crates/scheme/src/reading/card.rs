//! One line with the words it may carry: what is unknown or too much is reported when it is opened.

use super::desk::{Desk, Name};
use super::frame::{Arg, Form, Line, Prop};
use super::names::{article, listed, nearest};
use crate::finding::Finding;
use crate::text;

/// The words a line may carry.
pub(super) struct Words {
    /// Properties, on the line or as lines of their own in the braces.
    pub props: &'static [&'static str],
    /// Lines in the braces.
    pub lines: &'static [&'static str],
}

/// A line, its properties gathered.
pub(super) struct Card<'a> {
    /// The line.
    pub line: &'a Line,
    props: Vec<(&'a str, &'a Arg)>,
    lines: Vec<&'a Line>,
}

impl<'a> Card<'a> {
    /// Opens a line, reporting every word that can't stand there.
    pub fn open(desk: &mut Desk, line: &'a Line, words: &Words) -> Self {
        let mut card = Self { line, props: Vec::new(), lines: Vec::new() };
        for prop in &line.props {
            if words.props.contains(&prop.name.as_str()) {
                card.props.push((&prop.name, &prop.arg));
            } else {
                unknown_property(desk, line, prop, words);
            }
        }
        for inner in &line.lines {
            let word = inner.word.as_str();
            if words.lines.contains(&word) || word == "note" {
                card.lines.push(inner);
            } else if words.props.contains(&word) {
                card.property_line(desk, inner);
            } else {
                unknown_word(desk, &line.word, inner, words.lines, words.props);
            }
        }
        card
    }

    fn property_line(&mut self, desk: &mut Desk, inner: &'a Line) {
        if let Some((_, first)) = self.props.iter().find(|(name, _)| *name == inner.word) {
            desk.report(
                Finding::error("property-twice", format!("{:?} is given twice.", inner.word))
                    .at(inner.span, "given again")
                    .and_at(first.span, "given here first")
                    .why("only one of the two can be meant, and a reader can't know which")
                    .help("keep the one that is meant"),
            );
            return;
        }
        let mut args = inner.args.iter();
        match args.next() {
            None => desk.report(
                Finding::error("value-missing", format!("{:?} has no value.", inner.word))
                    .at(inner.span, "nothing follows")
                    .help(format!("write {} \"…\"", inner.word)),
            ),
            Some(arg) => self.props.push((&inner.word, arg)),
        }
        for extra in args {
            stray(desk, &inner.word, extra);
        }
        for prop in &inner.props {
            unknown_property(desk, inner, prop, &Words { props: &[], lines: &[] });
        }
        for line in &inner.lines {
            unknown_word(desk, &inner.word, line, &[], &[]);
        }
    }

    /// The value of a property.
    pub fn prop(&self, name: &str) -> Option<&'a Arg> {
        self.props.iter().find(|(known, _)| *known == name).map(|(_, arg)| *arg)
    }

    /// The lines of one word.
    pub fn lines(&self, word: &'static str) -> impl Iterator<Item = &'a Line> + '_ {
        self.lines.iter().copied().filter(move |line| line.word == word)
    }

    /// All lines but notes, in source order.
    pub fn all_lines(&self) -> impl Iterator<Item = &'a Line> + '_ {
        self.lines.iter().copied().filter(|line| line.word != "note")
    }

    /// Whether the braces hold no line, understood or not.
    pub fn holds_nothing(&self) -> bool {
        self.line.lines.is_empty()
    }

    /// The name at `index`, or an error that says what is missing.
    pub fn name(&self, desk: &mut Desk, index: usize, what: &str) -> Option<Name> {
        match self.line.args.get(index) {
            Some(arg) => {
                let name = desk.name(arg)?;
                tidy(desk, &name);
                Some(name)
            }
            None => {
                desk.report(
                    Finding::error("name-missing", format!("{what} is missing."))
                        .at(self.line.span, "nothing follows")
                        .help(format!("write {} \"…\"", self.line.word)),
                );
                None
            }
        }
    }

    /// The same for a name that statements use.
    pub fn subject(&self, desk: &mut Desk, index: usize, what: &str) -> Option<Name> {
        let name = self.name(desk, index, what)?;
        usable(desk, &name);
        Some(name)
    }

    /// The text at `index`, empty if there is none.
    pub fn text(&self, desk: &mut Desk, index: usize) -> String {
        let arg = self.line.args.get(index);
        arg.and_then(|arg| desk.name(arg)).map(|name| name.text).unwrap_or_default()
    }

    /// Reports everything from `index` on as too much.
    pub fn no_more(&self, desk: &mut Desk, index: usize) {
        for extra in self.line.args.iter().skip(index) {
            stray(desk, &self.line.word, extra);
        }
    }

    /// The notes in the braces.
    pub fn notes(&self, desk: &mut Desk) -> Vec<String> {
        self.lines("note").filter_map(|line| note(desk, line)).collect()
    }
}

/// The text of a note.
pub(super) fn note(desk: &mut Desk, line: &Line) -> Option<String> {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    card.no_more(desk, 1);
    card.name_unchecked(desk)
}

impl Card<'_> {
    fn name_unchecked(&self, desk: &mut Desk) -> Option<String> {
        match self.line.args.first() {
            Some(arg) => desk.name(arg).map(|name| name.text),
            None => {
                let message = "The text of the note is missing.".to_owned();
                desk.error("name-missing", self.line.span, "nothing follows", message);
                None
            }
        }
    }
}

/// Reports an empty name, and spaces that can't be seen.
fn tidy(desk: &mut Desk, name: &Name) {
    let tidy = name.text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (message, help) = if tidy.is_empty() {
        ("A name is empty.".to_owned(), "give it a name".to_owned())
    } else if tidy != name.text {
        let message = format!(
            "The name {:?} begins or ends with a space, or has several in a row.",
            name.text
        );
        (message, format!("write {tidy:?}"))
    } else {
        return;
    };
    desk.report(Finding::error("name", message).at(name.span, "no usable name").help(help));
}

/// Reports a name that a statement would take apart.
pub(super) fn usable(desk: &mut Desk, name: &Name) {
    let Some(word) = text::reserved_word(&name.text) else { return };
    desk.report(
        Finding::error("name", format!("The name {:?} contains {word:?}.", name.text))
            .at(name.span, "no usable name")
            .why(format!("{word:?} joins statements, so that the name could never be said in one"))
            .help("choose a name without it"),
    );
}

/// Reports a value that nothing asks for.
pub(super) fn stray(desk: &mut Desk, word: &str, arg: &Arg) {
    if arg.form == Form::Wrong {
        return;
    }
    desk.report(
        Finding::error("stray", format!("{:?} is one too many behind {word}.", arg.text))
            .at(arg.span, "nothing more can stand here")
            .help("take it out, or begin a new line or property with it"),
    );
}

fn unknown_property(desk: &mut Desk, line: &Line, prop: &Prop, words: &Words) {
    let name = prop.name.as_str();
    let mut finding =
        Finding::error("property-unknown", format!("{name:?} is no property of {}.", line.word))
            .at(prop.span, "unknown here");
    let all = words.props.iter().chain(words.lines).copied();
    finding = match nearest(name, all) {
        Some(near) => finding.help(format!("did you mean {near}?")),
        None if words.props.is_empty() => finding.help("nothing of the kind stands here"),
        None => finding.help(format!("known here: {}", plain(words.props))),
    };
    desk.report(finding);
}

/// Reports a word that can't stand in these braces.
pub(super) fn unknown_word(
    desk: &mut Desk,
    context: &str,
    line: &Line,
    lines: &[&str],
    props: &[&str],
) {
    let home = text::home(&line.word);
    let message = if home.is_some() && context.is_empty() {
        format!("{:?} can't stand outside all braces.", line.word)
    } else if context.is_empty() {
        format!("{:?} is no word of this language.", line.word)
    } else {
        format!("{:?} can't stand in {} {context}.", line.word, article(context))
    };
    let finding = Finding::error("word-unknown", message).at(line.span, "unknown here");
    let all = lines.iter().chain(props).copied();
    let finding = match nearest(&line.word, all) {
        _ if home.is_some() => {
            finding.help(format!("{} stands {}", line.word, home.unwrap_or_default()))
        }
        Some(near) => finding.help(format!("did you mean {near}?")),
        None if lines.is_empty() && props.is_empty() => {
            finding.help("nothing stands in its braces")
        }
        None if lines.is_empty() => finding.help(format!("known here: {}", plain(props))),
        None => finding.help(format!("known here: {}", plain(lines))),
    };
    desk.report(finding);
}

fn plain(words: &[&str]) -> String {
    listed(words.iter().copied()).replace('"', "")
}
