//! Findings told on a terminal: the place in the text, what is wrong, why, what to do.
//!
//! **In:** findings as plain data and the files they point into. **Out:** text with colour codes.
//! **Never here:** deciding what a finding is.

use crate::page::{ASIDE, BAD, OPEN, Page, WIDTH, painted, wrapped};
use crate::report::Told;
use annotate_snippets::{
    Annotation, AnnotationKind, Element, Group, Level, Origin, Renderer, Snippet,
    normalize_untrusted_str,
};
use fiftytwo_scheme::{FileId, Finding, Severity, Sources, Span};
use std::ops::Range;

/// Findings shown in full; the others are counted (`--json` has all of them).
const SHOWN: usize = 40;
/// A longer piece of text is named, not shown.
const LONGEST_PIECE: usize = 20_000;
/// The usual text has lines of up to 100 characters; they should be seen whole.
const SNIPPET_WIDTH: usize = 116;

/// All findings, graver ones first and in full; notes in a line or two each.
pub fn findings(findings: &[Told<'_>]) -> String {
    let mut sorted: Vec<&Told<'_>> = findings.iter().collect();
    sorted.sort_by_key(|told| told.finding.severity);
    let n_grave = sorted.partition_point(|told| told.finding.severity != Severity::Note);
    let (grave, notes) = sorted.split_at(n_grave);
    let mut page = Page::default();
    for told in grave.iter().take(SHOWN) {
        page.block(&one(told)).gap();
    }
    for told in notes.iter().take(SHOWN) {
        page.words(0, 6, &brief(told));
    }
    let shown = grave.len().min(SHOWN) + notes.len().min(SHOWN);
    if shown < sorted.len() {
        page.gap();
        page.line(&format!("and {} more (--json lists all of them)", sorted.len() - shown));
    }
    page.into_text()
}

/// A finding in a line or two: what it says, and where.
pub fn brief(told: &Told<'_>) -> String {
    let Told { finding, sources, file } = told;
    let place = match (finding.at, file) {
        (Some(at), _) => format!(" ({})", sources.place(at)),
        (None, Some(file)) => format!(" ({file})"),
        (None, None) => String::new(),
    };
    let (style, label) = match finding.severity {
        Severity::Error => (BAD, "error:"),
        Severity::Finding => (BAD, "finding:"),
        Severity::Note => (OPEN, "note:"),
    };
    let message = normalize_untrusted_str(&finding.message);
    format!("{} {message}{}", painted(style, label), painted(ASIDE, &place))
}

/// One finding; its file is named if it has no place of its own.
fn one(told: &Told<'_>) -> String {
    let Told { finding, sources, file } = told;
    let (level, name) = match finding.severity {
        Severity::Error => (Level::ERROR, "error"),
        Severity::Finding => (Level::WARNING, "finding"),
        Severity::Note => (Level::NOTE, "note"),
    };
    let title = hung(&finding.message, name.len() + finding.id.len() + 4);
    let mut group = Group::with_title(level.with_name(name).primary_title(title).id(finding.id));
    group = match (finding.at, *file) {
        (Some(at), _) => group.elements(places(finding, at, sources)),
        (None, Some(file)) => group.element(Origin::path(normalize_untrusted_str(file))),
        (None, None) => group,
    };
    if let Some(why) = &finding.why {
        group = group.element(Level::NOTE.with_name("why").message(hung(why, 10)));
    }
    if let Some(help) = &finding.help {
        group = group.element(Level::HELP.with_name("do").message(hung(help, 10)));
    }
    Renderer::styled().term_width(SNIPPET_WIDTH).render(&[group])
}

/// Words wrapped beside a title of that width; nothing in them can move the cursor.
fn hung(text: &str, title_width: usize) -> String {
    let safe = normalize_untrusted_str(text);
    let room = title_width.min(WIDTH / 2);
    let lines = wrapped(&safe, room, 0);
    lines.iter().map(|line| line.trim_start()).collect::<Vec<_>>().join("\n")
}

/// The stretches of text that a finding means, one element per file.
fn places<'a>(finding: &Finding, at: Span, sources: &'a Sources) -> Vec<Element<'a>> {
    let mut marks = vec![(at, finding.label.as_str(), AnnotationKind::Primary)];
    let others = finding.others.iter();
    marks.extend(others.map(|(span, label)| (*span, label.as_str(), AnnotationKind::Context)));
    let mut files: Vec<FileId> = Vec::new();
    for (span, ..) in &marks {
        if !files.contains(&span.file) {
            files.push(span.file);
        }
    }
    files
        .into_iter()
        .map(|file| {
            let here = marks.iter().filter(|(span, ..)| span.file == file);
            place(file, &here.copied().collect::<Vec<_>>(), sources)
        })
        .collect()
}

fn place<'a>(
    file: FileId,
    marks: &[(Span, &str, AnnotationKind)],
    sources: &'a Sources,
) -> Element<'a> {
    let source = &sources.files[file];
    let name = normalize_untrusted_str(&source.name);
    let ranges: Vec<Range<usize>> =
        marks.iter().map(|(span, ..)| within(&source.text, *span)).collect();
    let first = ranges.iter().map(|range| range.start).min().unwrap_or(0);
    let last = ranges.iter().map(|range| range.end).max().unwrap_or(0);
    let start = source.text[..first].rfind('\n').map_or(0, |newline| newline + 1);
    let end = source.text[last..].find('\n').map_or(source.text.len(), |newline| last + newline);
    let line = source.text[..start].bytes().filter(|byte| *byte == b'\n').count() + 1;
    if end - start > LONGEST_PIECE {
        let position = marks.first().map(|(span, ..)| sources.position(*span));
        let (line, column) = position.map_or((1, 1), |it| (it.line as usize, it.column as usize));
        return Origin::path(name).line(line).char_column(column).into();
    }
    let annotations = marks.iter().zip(ranges).map(|((_, label, kind), range)| {
        let annotation = kind.span(range.start - start..range.end - start);
        if label.is_empty() { annotation } else { annotation.label(normalize_untrusted_str(label)) }
    });
    let annotations: Vec<Annotation<'a>> = annotations.collect();
    Snippet::source(&source.text[start..end])
        .path(name)
        .line_start(line)
        .annotations(annotations)
        .into()
}

/// The stretch, cut to the text and to whole characters.
fn within(text: &str, span: Span) -> Range<usize> {
    let floor = |at: u32| {
        let mut at = (at as usize).min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let (start, end) = (floor(span.start), floor(span.end));
    start..end.max(start)
}

#[cfg(test)]
mod tests {
    use super::{Told, findings};
    use fiftytwo_scheme::{Finding, SourceFile, Sources, Span};

    fn told(text: &str, build: impl Fn(Span) -> Finding, from: &str) -> String {
        let mut sources = Sources::default();
        let file =
            sources.files.push(SourceFile { name: "scheme.kdl".to_owned(), text: text.to_owned() });
        let start = text.find(from).unwrap_or(0);
        let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        let span = Span { file, start: number(start), end: number(start + from.len()) };
        let finding = build(span);
        let text = findings(&[Told { finding, sources: &sources, file: Some("scheme.kdl") }]);
        anstream::adapter::strip_str(&text).to_string()
    }

    #[test]
    fn a_finding_shows_its_place_its_cause_and_the_way_out() {
        let text = "leg \"Close coil\" {\n    contact \"52\" \"a3\"\n}\n";
        let told = told(
            text,
            |span| {
                Finding::error("contact-unknown", "52 has no contact a3")
                    .at(span, "not a contact of 52")
                    .why("the leg cannot be followed past it")
                    .help("did you mean a1?")
            },
            "\"a3\"",
        );
        insta::assert_snapshot!(told.trim_end(), @r#"
        error[contact-unknown]: 52 has no contact a3
         --> scheme.kdl:2:18
          |
        2 |     contact "52" "a3"
          |                  ^^^^ not a contact of 52
          |
          = why: the leg cannot be followed past it
          = do: did you mean a1?
        "#);
    }

    #[test]
    fn long_words_are_wrapped_and_harmless() {
        let message = "the leg changes place without a core ".repeat(5) + "\u{1b}[2J";
        let told = told("leg", |span| Finding::error("core-missing", &message).at(span, ""), "leg");
        assert!(!told.contains('\u{1b}'));
        assert!(told.lines().all(|line| line.chars().count() <= 90), "{told}");
    }

    #[test]
    fn a_place_beyond_the_text_is_no_panic() {
        let text = "a µ".to_owned();
        let told = told(
            &text,
            |span| {
                let beyond = Span { file: span.file, start: 3, end: 4_000_000_000 };
                Finding::error("odd", "odd")
                    .at(beyond, "here")
                    .and_at(Span { file: span.file, start: 900, end: 1 }, "and there")
            },
            "a",
        );
        assert!(told.contains("odd"));
    }

    #[test]
    fn an_endless_line_is_named_not_shown() {
        let text = "x".repeat(3_000_000);
        let told = told(&text, |span| Finding::error("odd", "odd").at(span, ""), "x");
        assert!(told.len() < 500);
        assert!(told.contains("scheme.kdl:1:1"));
    }
}
