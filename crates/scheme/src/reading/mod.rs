//! Reading a scheme: text in, checked model or all findings out.
//!
//! The order of the lines in a text has no meaning, so reading goes in rounds: first where things
//! are and what the outside does, then devices, then circuits; when every name is known, the
//! statements; at last what was asked for. A round never stops at an error: what can still be
//! understood is read on, so that all errors of a text show at once.

mod backup;
mod card;
mod circuits;
mod curves;
mod desk;
mod devices;
mod files;
mod frame;
mod hanging;
mod intent;
mod loads;
mod lookup;
mod names;
mod notes;
mod parts;
mod path;
mod patterns;
mod ratings;
mod standing;
mod statements;
mod stories;
mod walk;
mod wiring;
mod world;

use crate::finding::{Finding, Severity};
use crate::model::Scheme;
use crate::source::{FileId, Sources, Span};
use crate::text::{ANYWHERE, TOP};
use desk::Desk;
use devices::{KINDS, Shared, Types};
use files::Pile;
use frame::Line;
use std::collections::BTreeSet;
use std::path::Path;

/// What came of reading a scheme.
#[derive(Debug, Clone, Default)]
pub struct Reading {
    /// The checked scheme; none if any finding is an error.
    pub scheme: Option<Scheme>,
    /// Everything found, in source order; notes too.
    pub findings: Vec<Finding>,
    /// The files read, for placing the findings.
    pub sources: Sources,
}

impl Reading {
    /// Whether the text can be used.
    pub fn is_usable(&self) -> bool {
        self.scheme.is_some()
            && self.findings.iter().all(|finding| finding.severity != Severity::Error)
    }
}

/// Reads a scheme file, the files it uses, and `stories.kdl` beside it if there is one.
pub fn read_path(path: &Path) -> Reading {
    understand(files::from_path(path))
}

/// Reads a scheme whose text is in memory as if it stood at `path`: the files it uses and
/// `stories.kdl` are read from beside there, and from nowhere outside that folder.
pub fn read_text_beside(path: &Path, text: &str) -> Reading {
    understand(files::from_text_beside(path, text))
}

/// Reads a scheme from memory; `use` finds no files.
pub fn read_text(name: &str, text: &str) -> Reading {
    understand(files::from_text(name, text))
}

/// Reads a scheme and the stories beside it from memory, each as name and text; `use` finds no
/// files.
pub fn read_texts(scheme: (&str, &str), stories: (&str, &str)) -> Reading {
    understand(files::from_texts(scheme, stories))
}

/// From the lines of all files to a scheme.
fn understand(pile: Pile) -> Reading {
    let Pile { sources, mut findings, slips, lines, broken, library_missing, .. } = pile;
    let mut desk = Desk { library_missing, ..Desk::default() };
    desk.scheme.frequency = 60.0;
    desk.findings.append(&mut findings);
    let lines = patterns::fill_in(&mut desk, lines);
    if !broken {
        rounds(&mut desk, &lines);
    }
    let Desk { mut scheme, mut findings, .. } = desk;
    tidy(&mut findings, slips, &sources);
    let usable = findings.iter().all(|finding| finding.severity != Severity::Error);
    scheme.sources = sources.clone();
    Reading { scheme: (usable && !broken).then_some(scheme), findings, sources }
}

fn rounds(desk: &mut Desk, lines: &[Line]) {
    let of = |word: &'static str| lines.iter().filter(move |line| line.word == word);
    for line in lines {
        let word = line.word.as_str();
        if !TOP.contains(&word) && !ANYWHERE.contains(&word) {
            card::unknown_word(desk, "", line, TOP, ANYWHERE);
        }
    }
    title(desk, lines);
    of("note").for_each(|line| {
        let note = card::note(desk, line);
        desk.scheme.notes.extend(note);
    });
    of("place").for_each(|line| world::place(desk, line));
    of("supply").for_each(|line| world::supply(desk, line));
    of("ground").for_each(|line| world::ground(desk, line));
    of("curve").for_each(|line| curves::curve(desk, line));
    of("cable").for_each(|line| world::cable(desk, line));
    of("condition").for_each(|line| world::condition(desk, line));
    of("order").for_each(|line| world::order(desk, line));

    let mut types = Types::new();
    of("type").for_each(|line| shared(desk, line, &mut types));
    lines
        .iter()
        .filter(|line| KINDS.contains(&line.word.as_str()))
        .for_each(|line| devices::device(desk, line, &mut types));

    for (name, shared) in types.iter().filter(|(_, shared)| !shared.used) {
        desk.unused.push((format!("The type {name:?}"), shared.line.span));
    }

    let circuits: Vec<&Line> = of("circuit").collect();
    let routes = circuits::all(desk, &circuits);
    lookup::report_missing(desk);
    circuits::report_points(desk);
    walk::all(desk, &routes);
    wiring::check(desk, &routes);

    curves::report_unused(desk);

    let book = statements::Book::of(desk);
    statements::settle(desk, &book);
    intent::settle(desk);
    of("person").for_each(|line| intent::person(desk, &book, line));
    of("matrix").for_each(|line| intent::matrix(desk, &book, line));
    of("claim").for_each(|line| intent::claim(desk, &book, line));
    of("waive").for_each(|line| intent::waive(desk, line));
    of("tune").for_each(|line| intent::tune(desk, line));
    of("story").for_each(|line| stories::story(desk, &book, line));
    if desk.findings.iter().all(|finding| finding.severity != Severity::Error) {
        notes::all(desk);
    }
}

fn title(desk: &mut Desk, lines: &[Line]) {
    let mut titles = lines.iter().filter(|line| line.word == "scheme");
    match (titles.next(), lines.first()) {
        (Some(line), _) => {
            world::scheme(desk, line);
            for extra in titles {
                let finding = Finding::error("scheme-twice", "A file holds one scheme.")
                    .at(extra.span, "a second one")
                    .and_at(line.span, "the first");
                desk.report(finding);
            }
        }
        (None, Some(first)) => desk.report(
            Finding::error("scheme-missing", "The scheme has no title.")
                .at(first.span, "no line scheme \"…\"")
                .help("begin with scheme \"…\" and what it is called"),
        ),
        (None, None) => {}
    }
}

fn shared(desk: &mut Desk, line: &Line, types: &mut Types) {
    let name = line.args.first().and_then(|arg| desk.name(arg));
    let kind =
        line.props.iter().find(|prop| prop.name == "kind").map(|prop| &prop.arg).or_else(|| {
            line.lines
                .iter()
                .find(|inner| inner.word == "kind")
                .and_then(|inner| inner.args.first())
        });
    let kind = kind.and_then(|arg| {
        let answers: Vec<(&str, &'static str)> = KINDS.iter().map(|kind| (*kind, *kind)).collect();
        desk.choice(arg, "kind", &answers)
    });
    let Some(name) = name else {
        if line.args.is_empty() {
            let message = "The type's name is missing.".to_owned();
            desk.error("name-missing", line.span, "nothing follows", message);
        }
        return;
    };
    for extra in line.args.iter().skip(1) {
        card::stray(desk, "type", extra);
    }
    let Some(kind) = kind else {
        desk.first_time("type", &name.text);
        if !line.props.iter().any(|prop| prop.name == "kind") {
            let known = names::listed(KINDS.iter().copied());
            desk.report(
                Finding::error("value-missing", format!("The type {:?} has no kind.", name.text))
                    .at(name.span, "no kind")
                    .help(format!("add kind=… ({known})")),
            );
        }
        return;
    };
    if let Some(first) = types.get(&name.text) {
        let first = first.line.span;
        world::twice(desk, "type", &name, Some(first));
        return;
    }
    types.insert(name.text, Shared { kind: kind.to_owned(), line: line.clone(), used: false });
}

/// Source order, and no finding twice: a type's error would else show for each of its devices.
/// What stands in a line with a slip of writing only repeats the slip.
fn tidy(findings: &mut Vec<Finding>, slips: Vec<Finding>, sources: &Sources) {
    let lines: BTreeSet<(FileId, u32)> = slips
        .iter()
        .filter_map(|slip| slip.at)
        .map(|at| (at.file, sources.position(at).line))
        .collect();
    if !slips.is_empty() {
        findings.retain(|finding| {
            finding.at.is_none_or(|at| !lines.contains(&(at.file, sources.position(at).line)))
        });
    }
    findings.extend(slips);
    let mut seen: BTreeSet<(&'static str, Option<Span>)> = BTreeSet::new();
    findings.retain(|finding| {
        finding.severity != Severity::Error
            || finding.at.is_none()
            || seen.insert((finding.id, finding.at))
    });
    findings.sort_by_key(|finding| finding.at);
}
