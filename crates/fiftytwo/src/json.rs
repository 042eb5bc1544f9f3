//! The one object of `--json`, as documented in `docs/json.md`.
//!
//! **In:** findings, places, results of the engines. **Out:** plain data in the documented form.
//! **Never here:** text for people. A change that takes something away raises [`FORMAT`].

use crate::exit::Exit;
use fiftytwo_scheme::{Finding, Severity, Sources, Span};
use serde::Serialize;

/// Version of the documented form.
pub const FORMAT: u32 = 1;

/// What every object says, in this order; then what its verb adds.
#[derive(Debug, Serialize)]
pub struct Document {
    /// [`FORMAT`].
    pub format: u32,
    /// The verb; `example` if there was none, `null` if the command could not be understood.
    pub verb: Option<&'static str>,
    /// The exit code.
    pub exit: u8,
    /// The files that were read.
    pub files: Vec<File>,
    /// What was found.
    pub findings: Vec<JsonFinding>,
    /// What the verb adds.
    #[serde(flatten)]
    pub results: Results,
    /// The files that hold the results, in the order they were written.
    pub written: Vec<String>,
    /// What the results do not say.
    pub cautions: Vec<&'static str>,
}

/// What a verb adds.
#[derive(Debug, Default, Serialize)]
pub struct Results {
    /// `format`: each file, and whether it was written the usual way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub formatted: Option<Vec<Formatted>>,
}

impl Document {
    /// The object as text, with a newline at its end.
    pub fn to_text(&self) -> String {
        // Plain data of strings and finite numbers always serialises.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// An object that says no more than why nothing was done.
    pub fn refusal(verb: Option<&'static str>, findings: Vec<JsonFinding>) -> Self {
        Self {
            format: FORMAT,
            verb,
            exit: Exit::BadInput.code(),
            files: Vec::new(),
            findings,
            results: Results::default(),
            written: Vec::new(),
            cautions: Vec::new(),
        }
    }
}

/// One file that was read.
#[derive(Debug, Serialize)]
pub struct File {
    /// Its name as given.
    pub file: String,
    /// The scheme's title.
    pub title: String,
    /// The scheme's revision.
    pub revision: Option<String>,
    /// Circuits in it.
    pub circuits: usize,
    /// Devices in it.
    pub devices: usize,
    /// Parts that stand on a leg, a feed or a return.
    pub placed_parts: usize,
    /// Cables in it.
    pub cables: usize,
    /// Stories told of it.
    pub stories: usize,
}

/// A finding with its place as an editor counts.
#[derive(Debug, Serialize)]
pub struct JsonFinding {
    /// Stable identifier.
    pub id: &'static str,
    /// `error`, `finding` or `note`.
    pub severity: Severity,
    /// What is wrong.
    pub message: String,
    /// Where; the beginning of the file if the whole file is meant; `null` if none is.
    pub at: Option<Place>,
    /// A few words at that place.
    pub label: String,
    /// Other places that matter.
    pub others: Vec<Other>,
    /// Why it matters.
    pub why: Option<String>,
    /// What to do.
    pub help: Option<String>,
    /// Devices and parts meant.
    pub devices: Vec<String>,
    /// Wires meant.
    pub wires: Vec<String>,
}

/// A place in a file; lines and columns count from 1, columns in characters.
#[derive(Debug, Serialize)]
pub struct Place {
    /// The file as given.
    pub file: String,
    /// Line.
    pub line: u32,
    /// Column.
    pub column: u32,
}

/// Another place that matters.
#[derive(Debug, Serialize)]
pub struct Other {
    /// Where.
    pub at: Place,
    /// A few words at that place.
    pub label: String,
}

impl JsonFinding {
    /// A finding told with its place; `file` is named if it has no place of its own.
    pub fn new(finding: &Finding, sources: &Sources, file: Option<&str>) -> Self {
        let place = |span| Place::new(span, sources);
        let whole = || file.map(|file| Place { file: file.to_owned(), line: 1, column: 1 });
        Self {
            id: finding.id,
            severity: finding.severity,
            message: finding.message.clone(),
            at: finding.at.map(place).or_else(whole),
            label: finding.label.clone(),
            others: finding
                .others
                .iter()
                .map(|(span, label)| Other { at: place(*span), label: label.clone() })
                .collect(),
            why: finding.why.clone(),
            help: finding.help.clone(),
            devices: finding.devices.clone(),
            wires: finding.wires.clone(),
        }
    }
}

impl Place {
    /// Where a stretch of text begins.
    pub fn new(span: Span, sources: &Sources) -> Self {
        let position = sources.position(span);
        Self {
            file: sources.file_name(span).to_owned(),
            line: position.line,
            column: position.column,
        }
    }
}

/// One file that was formatted.
#[derive(Debug, Serialize)]
pub struct Formatted {
    /// The file as given.
    pub file: String,
    /// Whether its text is not the usual way, or was not before this run.
    pub changed: bool,
}
