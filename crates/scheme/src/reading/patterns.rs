//! Patterns: pieces of a scheme with blanks, filled in where they are applied.
//!
//! **In:** the lines of all files. **Out:** the same without `pattern` and `apply`: every `apply`
//! has become the lines of its pattern, each `[blank]` replaced by its value.

use super::card::stray;
use super::desk::Desk;
use super::frame::{Arg, Form, Line, Prop};
use super::names::{listed, suggestion};
use crate::finding::Finding;
use std::collections::BTreeMap;

/// More lines than this are surely a slip: patterns that apply patterns grow fast.
const MOST: usize = 50_000;

struct Pattern {
    blanks: Vec<String>,
    line: Line,
    used: bool,
}

/// Replaces every `apply` by the lines of its pattern.
pub(super) fn fill_in(desk: &mut Desk, lines: Vec<Line>) -> Vec<Line> {
    let mut patterns: BTreeMap<String, Pattern> = BTreeMap::new();
    let mut rest = Vec::with_capacity(lines.len());
    for line in lines {
        match line.word.as_str() {
            "pattern" => declare(desk, line, &mut patterns),
            _ => rest.push(line),
        }
    }
    let mut filler = Filler { desk, patterns, trail: Vec::new(), made: 0 };
    let filled = filler.lines(rest, &BTreeMap::new());
    let Filler { patterns, .. } = filler;
    for (name, pattern) in patterns.iter().filter(|(_, pattern)| !pattern.used) {
        desk.unused.push((format!("The pattern {name:?}"), pattern.line.span));
    }
    filled
}

fn declare(desk: &mut Desk, line: Line, patterns: &mut BTreeMap<String, Pattern>) {
    for prop in &line.props {
        let message = format!("A pattern has no {:?}.", prop.name);
        desk
            .report(Finding::error("property-unknown", message).at(prop.span, "unknown here").help(
            "write its blanks as names behind its own: pattern \"anti-pump\" \"relay\" \"order\"",
        ));
    }
    let mut names =
        line.args.iter().filter_map(|arg| desk.name(arg)).collect::<Vec<_>>().into_iter();
    let Some(name) = names.next() else {
        if line.args.is_empty() {
            let message = "The pattern's name is missing.".to_owned();
            desk.error("name-missing", line.span, "nothing follows", message);
        }
        return;
    };
    let mut blanks: Vec<String> = Vec::new();
    for blank in names {
        if blanks.contains(&blank.text) {
            let message =
                format!("The pattern {:?} has the blank {:?} twice.", name.text, blank.text);
            desk.error("name-twice", blank.span, "given again", message);
        } else {
            blanks.push(blank.text);
        }
    }
    if let Some(first) = patterns.get(&name.text) {
        super::world::twice(desk, "pattern", &name, Some(first.line.span));
        return;
    }
    unknown_blanks(desk, &line.lines, &name.text, &blanks);
    patterns.insert(name.text, Pattern { blanks, line, used: false });
}

/// Reports every `[blank]` that the pattern doesn't name.
fn unknown_blanks(desk: &mut Desk, lines: &[Line], name: &str, blanks: &[String]) {
    for line in lines {
        for arg in line.args.iter().chain(line.props.iter().map(|prop| &prop.arg)) {
            for blank in blanks_of(&arg.text) {
                if arg.form != Form::Quoted || blanks.iter().any(|known| known == blank) {
                    continue;
                }
                desk.report(
                    Finding::error(
                        "blank-unknown",
                        format!("The pattern {name:?} has no blank [{blank}]."),
                    )
                    .at(arg.span, "unknown blank")
                    .help(suggestion(
                        blank,
                        blanks.iter().map(String::as_str),
                        "blank",
                    )),
                );
            }
        }
        unknown_blanks(desk, &line.lines, name, blanks);
    }
}

fn blanks_of(text: &str) -> impl Iterator<Item = &str> {
    text.split('[').skip(1).filter_map(|rest| rest.split_once(']')).map(|(blank, _)| blank)
}

struct Filler<'d> {
    desk: &'d mut Desk,
    patterns: BTreeMap<String, Pattern>,
    trail: Vec<String>,
    made: usize,
}

impl Filler<'_> {
    fn lines(&mut self, lines: Vec<Line>, values: &BTreeMap<String, String>) -> Vec<Line> {
        let mut filled = Vec::with_capacity(lines.len());
        for mut line in lines {
            fill(&mut line, values);
            if line.word == "apply" {
                filled.extend(self.apply(&line));
                continue;
            }
            if line.word == "pattern" {
                self.desk.report(
                    Finding::error("word-unknown", "A pattern can't stand in braces.")
                        .at(line.span, "declared inside something")
                        .help("declare it outside, and apply it here"),
                );
                continue;
            }
            line.lines = self.lines(std::mem::take(&mut line.lines), values);
            filled.push(line);
        }
        filled
    }

    fn apply(&mut self, line: &Line) -> Vec<Line> {
        for extra in line.args.iter().skip(1) {
            stray(self.desk, "apply", extra);
        }
        for inner in &line.lines {
            super::card::unknown_word(self.desk, "apply", inner, &[], &[]);
        }
        let Some(name) = line.args.first().and_then(|arg| self.desk.name(arg)) else {
            if line.args.is_empty() {
                let message = "The pattern's name is missing.".to_owned();
                self.desk.error("name-missing", line.span, "nothing follows", message);
            }
            return Vec::new();
        };
        let known: Vec<String> = self.patterns.keys().cloned().collect();
        let Some(pattern) = self.patterns.get_mut(&name.text) else {
            self.desk.unknown("pattern", "pattern-unknown", &name, &known);
            return Vec::new();
        };
        pattern.used = true;
        let (blanks, body) = (pattern.blanks.clone(), pattern.line.lines.clone());
        if self.trail.contains(&name.text) {
            self.desk.report(
                Finding::error(
                    "pattern-circular",
                    format!("The pattern {:?} applies itself in the end.", name.text),
                )
                .at(name.span, "closes a circle")
                .why("it would never end"),
            );
            return Vec::new();
        }
        self.made = self.made.saturating_add(count(&body));
        if self.made > MOST {
            if self.desk.first_time("too many lines", "") {
                let message = format!("The patterns would make more than {MOST} lines.");
                self.desk.error("pattern-too-big", name.span, "here it became too many", message);
            }
            return Vec::new();
        }
        let values = self.values(line, &blanks);
        self.trail.push(name.text);
        let filled = self.lines(body, &values);
        self.trail.pop();
        filled
    }

    fn values(&mut self, line: &Line, blanks: &[String]) -> BTreeMap<String, String> {
        let mut values = BTreeMap::new();
        for Prop { name, span, arg } in &line.props {
            if !blanks.contains(name) {
                self.desk.report(
                    Finding::error("blank-unknown", format!("The pattern has no blank {name:?}."))
                        .at(*span, "unknown blank")
                        .help(suggestion(name, blanks.iter().map(String::as_str), "blank")),
                );
            } else if let Some(value) = self.desk.name(arg) {
                values.insert(name.clone(), value.text);
            }
        }
        let said = |blank: &&String| line.props.iter().any(|prop| prop.name == **blank);
        let missing: Vec<&str> =
            blanks.iter().filter(|blank| !said(blank)).map(String::as_str).collect();
        if !missing.is_empty() {
            self.desk.report(
                Finding::error(
                    "blank-missing",
                    format!("Nothing is filled in for {}.", listed(missing.iter().copied())),
                )
                .at(line.span, "a blank stays open")
                .help(format!("add {}=\"…\"", missing.first().copied().unwrap_or_default())),
            );
        }
        values
    }
}

fn count(lines: &[Line]) -> usize {
    lines.iter().map(|line| 1 + count(&line.lines)).sum()
}

/// Fills the blanks of one line.
fn fill(line: &mut Line, values: &BTreeMap<String, String>) {
    if values.is_empty() {
        return;
    }
    let args = line.args.iter_mut().chain(line.props.iter_mut().map(|prop| &mut prop.arg));
    for Arg { text, form, .. } in args {
        if *form == Form::Quoted && text.contains('[') {
            for (blank, value) in values {
                *text = text.replace(&format!("[{blank}]"), value);
            }
        }
    }
}
