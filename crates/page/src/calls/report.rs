//! The report in words: what was found, what coils get, what must hold and how that stands.
//!
//! **Out:** text to keep beside the sheets. It says what it leaves out: claims not asked yet are
//! counted, never passed over.

use super::coils::all as all_coils;
use crate::answer::Refusal;
use crate::model::Model;
use crate::proven::Came;
use fiftytwo_proof::{Report, Verdict};
use fiftytwo_scheme::{Finding, Severity};
use std::fmt::Write as _;
use std::sync::Arc;

/// Letters of a line.
const WIDTH: usize = 96;

/// The report.
///
/// # Errors
/// Why the coils' volts are not known.
pub fn report(model: &Model<'_>, worst: &[Finding]) -> Result<String, Refusal> {
    let scheme = model.scheme;
    let mut out = String::new();
    let revision = scheme.revision.as_deref().map(|it| format!(", revision {it}"));
    let _ = writeln!(out, "{}{}", scheme.title, revision.unwrap_or_default());
    let _ = writeln!(out, "The text with the mark {}.\n", mark(model));
    let all: Vec<&Finding> = model.reading.findings.iter().chain(worst).collect();
    for (head, notes) in [("Found", false), ("Notes", true)] {
        let told: Vec<_> =
            all.iter().filter(|it| (it.severity == Severity::Note) == notes).collect();
        let _ = writeln!(out, "{head}");
        if told.is_empty() {
            out.push_str("  nothing\n");
        }
        for finding in told {
            paragraph(&mut out, 2, &finding.message);
            for more in finding.why.iter().chain(&finding.help) {
                paragraph(&mut out, 4, more);
            }
        }
        out.push('\n');
    }
    out.push_str("Coils at their worst corner\n");
    for coil in all_coils(model)? {
        paragraph(&mut out, 2, &coil.words);
    }
    out.push_str("\nMust hold\n");
    must_hold(&mut out, &model.stories.answers(), model.stories.came());
    out.push_str(
        "\nExpected, not measured. The results follow from the text: what it leaves out or has \
         wrong, no result can know.\nProve dead before you touch; stored energy still moves the \
         breaker. A licensed engineer reviews; local codes and utility standards govern.\n",
    );
    Ok(out)
}

/// So many letters of a text's fingerprint tell it from others.
const MARK: usize = 12;

fn mark(model: &Model<'_>) -> String {
    crate::text::hash(model.places.text().as_bytes()).chars().take(MARK).collect()
}

fn must_hold(out: &mut String, answers: &[Arc<Report>], came: Option<Came>) {
    match came {
        Some(Came { whole: true, .. }) => {}
        Some(Came { of, .. }) => paragraph(
            out,
            2,
            &format!(
                "NOT COMPLETE: {} of {of} questions have an answer so far; nothing is said of the \
                 others.",
                answers.iter().filter(|it| it.across.is_none()).count()
            ),
        ),
        None => paragraph(out, 2, "NOT COMPLETE: not all claims were asked on this page yet."),
    }
    let mut sorted: Vec<&Report> = answers.iter().map(AsRef::as_ref).collect();
    sorted.sort_by_key(|it| place(it.verdict));
    for answer in sorted {
        let across = answer.across.as_ref().map_or_else(String::new, |supply| {
            format!(", across loss and return of {supply} (beside the claim)")
        });
        let Report { claim, asks, .. } = answer;
        paragraph(out, 2, &format!("{}: {claim}: {asks}{across}", answer.verdict.words()));
        if let Some(because) = &answer.because {
            paragraph(out, 4, because);
        }
        for margin in &answer.margins {
            paragraph(out, 4, &margin.words());
        }
        if !answer.covers.is_empty() {
            paragraph(out, 4, &format!("covers: {}", answer.covers));
        }
    }
}

/// What must be looked at stands first.
fn place(verdict: Verdict) -> usize {
    const ORDER: [Verdict; 6] = [
        Verdict::Fails,
        Verdict::NotProven,
        Verdict::Vacuous,
        Verdict::NotAsked,
        Verdict::Waived,
        Verdict::HoldsWithinTolerances,
    ];
    ORDER.iter().position(|it| *it == verdict).unwrap_or(ORDER.len())
}

/// Words in lines of at most [`WIDTH`] letters, the first indented by so many.
fn paragraph(out: &mut String, indent: usize, words: &str) {
    let mut line = " ".repeat(indent);
    let mut empty = true;
    for word in words.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            let _ = writeln!(out, "{line}");
            line = " ".repeat(indent + 2);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{line}");
}
