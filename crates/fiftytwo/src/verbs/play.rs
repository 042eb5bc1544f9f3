//! `play`: stories as timelines, each event with its cause.

use crate::input::Checked;
use crate::json::{JsonExpectation, JsonStory, Place, Results, to_text};
use crate::output::Outputs;
use crate::page::{ASIDE, BAD, GOOD, Page, painted};
use crate::report::Report;
use crate::verbs::{chart, events, file, ms, notes, slug};
use fiftytwo_motion::{Machine, PlayOptions, Timeline};
use fiftytwo_scheme::{Finding, Severity, Story};
use std::path::Path;

/// A story and what came of it.
#[derive(Debug)]
pub struct Played<'a> {
    /// The story.
    pub story: &'a Story,
    /// What happened.
    pub timeline: Timeline,
}

/// Plays the stories of the schemes, or only the one of that name.
pub fn play<'a>(schemes: &[Checked<'a>], only: Option<&str>, out: Option<&Path>) -> Report<'a> {
    let mut findings = notes(schemes);
    let mut stories = Vec::new();
    let mut page = Page::default();
    let mut outputs = Outputs::default();
    let mut n_played = 0;
    for checked in schemes {
        page.head(&checked.scheme.title);
        match all(checked, only) {
            Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
            Ok(played) => {
                n_played += played.len();
                for one in &played {
                    page.gap().block(&told(one));
                    findings.extend(otherwise(one).into_iter().map(|it| checked.told(it)));
                    let json = JsonStory::new(checked, one.story, &one.timeline);
                    if let Some(folder) = out {
                        write(checked, one, &json, folder, &mut outputs);
                    }
                    stories.push(json);
                }
                if played.is_empty() && only.is_none() {
                    page.words(2, 2, "no story is told of it");
                }
            }
        }
    }
    if let (0, Some(name), Some(first)) = (n_played, only, schemes.first()) {
        findings.push(first.told(no_such_story(schemes, name)));
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings,
        results: Results { stories: Some(stories), ..Results::default() },
        outputs,
        ..Report::default()
    }
}

/// Every story of one scheme, or the one of that name, played at middle values.
///
/// # Errors
/// Findings where the scheme cannot be set in motion at all.
pub fn all<'a>(checked: &Checked<'a>, only: Option<&str>) -> Result<Vec<Played<'a>>, Vec<Finding>> {
    let machine = Machine::new(checked.scheme)?;
    let wanted = checked.scheme.stories.iter().filter(|it| only.is_none_or(|name| it.name == name));
    Ok(wanted
        .map(|story| {
            let timeline = fiftytwo_motion::play(&machine, story, PlayOptions::default());
            Played { story, timeline }
        })
        .collect())
}

/// A story's files: in words and as data.
pub fn write(
    checked: &Checked<'_>,
    played: &Played<'_>,
    json: &JsonStory,
    folder: &Path,
    outputs: &mut Outputs,
) {
    let name = format!("{}-{}", checked.named.stem, slug(&played.story.name));
    let plain = anstream::adapter::strip_str(&told(played)).to_string();
    outputs.add(folder.join(format!("{name}.txt")), plain);
    outputs.add(folder.join(format!("{name}.json")), to_text(json));
}

/// What came otherwise than expected, each a finding at its place.
pub fn otherwise(played: &Played<'_>) -> Vec<Finding> {
    let Played { story, timeline, .. } = played;
    let mut findings = Vec::new();
    for (outcome, expect) in timeline.outcomes.iter().zip(&story.expects) {
        if !outcome.met {
            let message = format!(
                "The story \"{}\" comes out otherwise: expected {}",
                story.name, outcome.expected
            );
            let instead = outcome.instead.clone().unwrap_or_default();
            let finding = Finding::new("story-otherwise", Severity::Finding, message)
                .at(expect.span, instead)
                .help("look in the timeline for the first event that should have been another");
            findings.push(finding);
        }
    }
    if let Some(stuck) = &timeline.stuck {
        let message =
            format!("The story \"{}\" does not end: {stuck} move without end", story.name);
        let finding = Finding::new("time-stops", Severity::Finding, message)
            .at(story.span, "played from here")
            .help("give the devices in the loop the time they need to move");
        findings.push(finding);
    }
    findings
}

/// A story told in words, with its chart.
pub fn told(played: &Played<'_>) -> String {
    let Played { story, timeline, .. } = played;
    let mut page = Page::default();
    page.head(&format!("Story: {}", story.name));
    if !timeline.given.is_empty() {
        page.words(2, 2, &format!("given {}", timeline.given.join(", ")));
    }
    page.words(2, 2, &painted(ASIDE, &timeline.played));
    page.gap();
    page.block(&events::told(&timeline.events));
    page.gap();
    page.block(&chart::told(timeline));
    page.gap();
    for outcome in &timeline.outcomes {
        let (style, verdict) = if outcome.met { (GOOD, "so it is") } else { (BAD, "it is not so") };
        let mut line = format!("expected {}: {}", outcome.expected, painted(style, verdict));
        if let Some(instead) = &outcome.instead {
            line.push_str(&format!("; {instead}"));
        }
        page.words(2, 2, &line);
    }
    for note in &timeline.notes {
        page.words(2, 2, &painted(ASIDE, &format!("note: {note}")));
    }
    page.into_text()
}

/// A story that nobody told.
pub fn no_such_story(schemes: &[Checked<'_>], name: &str) -> Finding {
    let names = schemes.iter().flat_map(|it| it.scheme.stories.iter().map(|it| it.name.as_str()));
    let nearest = names.min_by_key(|other| strsim::damerau_levenshtein(name, other));
    let finding = Finding::error("story-unknown", format!("there is no story \"{name}\""));
    match nearest {
        Some(other) => finding.help(format!("did you mean \"{other}\"?")),
        None => finding.help("no story is told in these files"),
    }
}

impl JsonStory {
    /// A story of that scheme.
    pub fn new(checked: &Checked<'_>, story: &Story, timeline: &Timeline) -> Self {
        let expectations = timeline.outcomes.iter().zip(&story.expects);
        Self {
            file: checked.named.shown.clone(),
            story: story.name.clone(),
            holds: timeline.holds(),
            given: timeline.given.clone(),
            played: timeline.played.clone(),
            events: timeline.events.iter().map(Into::into).collect(),
            rows: timeline.rows.iter().map(Into::into).collect(),
            expectations: expectations
                .map(|(outcome, expect)| JsonExpectation {
                    expected: outcome.expected.clone(),
                    met: outcome.met,
                    instead: outcome.instead.clone(),
                    at: Place::new(expect.span, checked.sources),
                })
                .collect(),
            notes: timeline.notes.clone(),
            stuck: timeline.stuck.clone(),
            end_ms: ms(timeline.end_us),
        }
    }
}
