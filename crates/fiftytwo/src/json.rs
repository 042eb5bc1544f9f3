//! The one object of `--json`, as documented in `docs/json.md`.
//!
//! **In:** findings, places, results of the engines. **Out:** plain data in the documented form.
//! **Never here:** text for people. A change that takes something away raises [`FORMAT`].

use crate::exit::Exit;
use crate::verbs::{ms, slug};
use fiftytwo_calculations::Calculations;
use fiftytwo_calculations::meter::Diagnosis;
use fiftytwo_circuit::{CoilReport, Method};
use fiftytwo_motion::Event;
use fiftytwo_motion::timeline::Row;
use fiftytwo_proof::{Margin, Report, Told, Verdict};
use fiftytwo_scheme::{Finding, Severity, Sources, Span};
use serde::Serialize;
use serde_json::Value;

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
    /// `draw`: the drawings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawings: Option<Vec<JsonDrawing>>,
    /// `check`: every placed coil.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coils: Option<Vec<JsonCoil>>,
    /// `check`: everything calculated of each file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calculations: Option<Vec<JsonCalculations>>,
    /// `check --reading`: what the readings mean.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diagnoses: Option<Vec<JsonDiagnosis>>,
    /// `play`: the stories.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stories: Option<Vec<JsonStory>>,
    /// `prove`: the questions and their verdicts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub claims: Option<Vec<JsonClaim>>,
    /// `prove`: what the verdicts of each file assume.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assumptions: Option<Vec<Assumed>>,
    /// `format`: each file, and whether it was written the usual way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub formatted: Option<Vec<Formatted>>,
}

/// An object as text, with a newline at its end.
pub fn to_text(object: &impl Serialize) -> String {
    // Plain data with text keys always serialises.
    let mut text = serde_json::to_string_pretty(object).unwrap_or_default();
    text.push('\n');
    text
}

impl Document {
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
    /// `scheme.kdl:24:9` taken apart.
    pub fn parse(place: &str) -> Option<Self> {
        let mut parts = place.rsplitn(3, ':');
        let column = parts.next()?.parse().ok()?;
        let line = parts.next()?.parse().ok()?;
        Some(Self { file: parts.next()?.to_owned(), line, column })
    }

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

/// A scheme that was drawn.
#[derive(Debug, Serialize)]
pub struct JsonDrawing {
    /// The scheme's file as given.
    pub file: String,
    /// The files that hold all sheets: SVG, PDF, DXF, as asked for.
    pub written: Vec<String>,
    /// The sheets.
    pub sheets: Vec<JsonSheet>,
}

/// One sheet of a drawing.
#[derive(Debug, Serialize)]
pub struct JsonSheet {
    /// Its number, from 1.
    pub number: usize,
    /// What stands in its title block.
    pub title: String,
    /// Paper width, mm.
    pub width_mm: f64,
    /// Paper height, mm.
    pub height_mm: f64,
    /// The SVG file that holds this sheet alone; none if no SVG was asked for.
    pub written: Option<String>,
}

/// What one coil gets.
#[derive(Debug, Serialize)]
pub struct JsonCoil {
    /// The scheme's file as given.
    pub file: String,
    /// The coil's full name.
    pub coil: String,
    /// Its circuit.
    pub circuit: String,
    /// Where it is placed.
    pub at: Option<Place>,
    /// Least volts at which it works.
    pub works_min: Option<f64>,
    /// Most volts at which it may be used.
    pub works_max: Option<f64>,
    /// Ways on which it can be driven.
    pub ways: usize,
    /// The least it gets on any way.
    pub lowest: Option<JsonVolts>,
    /// The most it gets on any way.
    pub highest: Option<JsonVolts>,
    /// Volts above what it surely works from.
    pub margin_low: Option<f64>,
    /// Volts below the most it may be used at.
    pub margin_high: Option<f64>,
    /// What was assumed.
    pub notes: Vec<String>,
}

/// Volts at a corner.
#[derive(Debug, Serialize)]
pub struct JsonVolts {
    /// Volts.
    pub volts: f64,
    /// Amperes at that voltage.
    pub amps: Option<f64>,
    /// The corner in words.
    pub corner: String,
    /// How the bound was got.
    pub method: Method,
}

impl JsonCoil {
    /// A coil of that file.
    pub fn new(file: &str, report: &CoilReport) -> Self {
        let volts = |reading: &fiftytwo_circuit::coils::Reading| JsonVolts {
            volts: rounded(reading.volts),
            amps: reading.amps.map(rounded),
            corner: reading.words.clone(),
            method: reading.method,
        };
        Self {
            file: file.to_owned(),
            coil: report.coil.clone(),
            circuit: report.circuit.clone(),
            at: report.at.as_ref().map(|at| Place {
                file: at.file.clone(),
                line: at.line,
                column: at.column,
            }),
            works_min: report.works.map(|[from, _]| from),
            works_max: report.works.map(|[_, to]| to),
            ways: report.ways.len(),
            lowest: report.lowest.as_ref().map(volts),
            highest: report.highest.as_ref().map(volts),
            margin_low: report.margin_low.map(rounded),
            margin_high: report.margin_high.map(rounded),
            notes: report.notes.clone(),
        }
    }
}

/// Everything calculated of one file.
#[derive(Debug)]
pub struct JsonCalculations {
    /// The scheme's file as given.
    pub file: String,
    /// Topic by topic.
    pub topics: Calculations,
}

impl Serialize for JsonCalculations {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        /// The object: the file, then each topic.
        #[derive(Serialize)]
        struct Object<'a> {
            file: &'a str,
            #[serde(flatten)]
            topics: Value,
        }
        // Plain data with text keys always serialises.
        let mut topics = serde_json::to_value(&self.topics).unwrap_or_default();
        to_six_figures(&mut topics);
        Object { file: &self.file, topics }.serialize(serializer)
    }
}

/// What readings mean in one file.
#[derive(Debug, Serialize)]
pub struct JsonDiagnosis {
    /// The scheme's file as given.
    pub file: String,
    /// The diagnosis.
    #[serde(flatten)]
    pub diagnosis: Value,
}

impl JsonDiagnosis {
    /// The diagnosis for that file.
    pub fn new(file: &str, found: &Diagnosis) -> Self {
        // Plain data with text keys always serialises.
        let mut diagnosis = serde_json::to_value(found).unwrap_or_default();
        to_six_figures(&mut diagnosis);
        Self { file: file.to_owned(), diagnosis }
    }
}

/// To six figures: more would be noise of the arithmetic.
fn to_six_figures(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(to_six_figures),
        Value::Object(map) => map.values_mut().for_each(to_six_figures),
        Value::Number(number) if number.is_f64() => {
            let exact = number.as_f64().unwrap_or_default();
            let short: f64 = format!("{exact:.5e}").parse().unwrap_or(exact);
            *value = short.into();
        }
        _ => {}
    }
}

/// A story that was played.
#[derive(Debug, Serialize)]
pub struct JsonStory {
    /// The scheme's file as given.
    pub file: String,
    /// The story's name.
    pub story: String,
    /// Whether everything came as expected.
    pub holds: bool,
    /// Where it began.
    pub given: Vec<String>,
    /// At which voltages and delays it was played, in words.
    pub played: String,
    /// What happened.
    pub events: Vec<JsonEvent>,
    /// When what was so.
    pub rows: Vec<JsonRow>,
    /// How the expectations came out.
    pub expectations: Vec<JsonExpectation>,
    /// What was assumed because nobody wrote it.
    pub notes: Vec<String>,
    /// The devices that moved without end, if time did not go on.
    pub stuck: Option<String>,
    /// When the story ends, ms.
    pub end_ms: f64,
}

/// One thing that happened.
#[derive(Debug, Serialize)]
pub struct JsonEvent {
    /// When, ms from the beginning.
    pub time_ms: f64,
    /// What moved.
    pub device: String,
    /// What happened, in one sentence.
    pub what: String,
    /// Why.
    pub why: String,
    /// The path from plus to minus that drove it, part by part.
    pub path: Vec<String>,
    /// Least volts at the coil over the corners.
    pub volts_min: Option<f64>,
    /// Greatest volts at the coil over the corners.
    pub volts_max: Option<f64>,
    /// `person`, `outside` or `device`.
    pub by: &'static str,
    /// The larger movement it belongs to.
    pub movement: String,
    /// A small step inside a larger movement.
    pub minor: bool,
    /// Where the thing that moved is written.
    pub at: Option<Place>,
}

impl From<&Event> for JsonEvent {
    fn from(event: &Event) -> Self {
        Self {
            time_ms: event.time_ms,
            device: event.device.clone(),
            what: event.what.clone(),
            why: event.why.clone(),
            path: event.path.clone(),
            volts_min: event.volts.map(|(least, _)| rounded(least)),
            volts_max: event.volts.map(|(_, greatest)| rounded(greatest)),
            by: event.by,
            movement: event.movement.clone(),
            minor: event.minor,
            at: event.at.as_deref().and_then(Place::parse),
        }
    }
}

/// A statement, and when it was so.
#[derive(Debug, Serialize)]
pub struct JsonRow {
    /// Such as "52 closed".
    pub name: String,
    /// The stretches in which it was so.
    pub so: Vec<Stretch>,
}

/// A stretch of time.
#[derive(Debug, Serialize)]
pub struct Stretch {
    /// Its beginning, ms.
    pub from_ms: f64,
    /// Its end, ms.
    pub to_ms: f64,
}

impl From<&Row> for JsonRow {
    fn from(row: &Row) -> Self {
        let stretch = |(from, to): &(i64, i64)| Stretch { from_ms: ms(*from), to_ms: ms(*to) };
        Self { name: row.name.clone(), so: row.so.iter().map(stretch).collect() }
    }
}

/// How an expectation came out.
#[derive(Debug, Serialize)]
pub struct JsonExpectation {
    /// What was expected.
    pub expected: String,
    /// Whether it came.
    pub met: bool,
    /// What came instead.
    pub instead: Option<String>,
    /// Where it is written.
    pub at: Place,
}

/// One question and its verdict.
#[derive(Debug, Serialize)]
pub struct JsonClaim {
    /// The scheme's file as given.
    pub file: String,
    /// Stable identifier of the claim, such as `no-pumping`.
    pub id: String,
    /// The claim's name.
    pub claim: String,
    /// The device, need or source it is about.
    pub about: String,
    /// What exactly was asked.
    pub asks: String,
    /// Asked across the loss and return of this supply: beside the claim, no finding.
    pub across: Option<String>,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, where the verdict alone doesn't say it.
    pub because: Option<String>,
    /// What the verdict covers, and what not.
    pub covers: String,
    /// Positions searched.
    pub positions: usize,
    /// Things that move known to the search that decided.
    pub known: usize,
    /// Things that move in all.
    pub moving: usize,
    /// Where a race decides: its bounds.
    pub edges: Vec<Edge>,
    /// A story that breaks it.
    pub story: Option<Vec<JsonTold>>,
    /// Whether the story was replayed at its times and showed the same.
    pub replayed: Option<bool>,
    /// For a claim that holds: runs in which what it speaks of does happen.
    pub witnesses: Vec<JsonWitness>,
    /// Where the intent is written.
    pub at: Place,
}

/// A run in which what a claim speaks of does happen.
#[derive(Debug, Serialize)]
pub struct JsonWitness {
    /// What is seen at its end.
    pub shows: String,
    /// The run, movement by movement; none: it is so from the start.
    pub story: Vec<JsonSeen>,
}

/// One movement of such a run.
#[derive(Debug, Serialize)]
pub struct JsonSeen {
    /// When it began, ms.
    pub time_ms: f64,
    /// What happened.
    pub what: String,
    /// Why.
    pub why: String,
}

/// One bound of a race.
#[derive(Debug, Serialize)]
pub struct Edge {
    /// The device that races.
    pub device: String,
    /// Its move.
    #[serde(rename = "move")]
    pub the_move: String,
    /// The declared bound, ms.
    pub declared_ms: f64,
    /// The claim still holds at this value, ms.
    pub holds_to_ms: f64,
    /// A story breaks it from this value, ms.
    pub fails_from_ms: Option<f64>,
}

/// One movement of a story.
#[derive(Debug, Serialize)]
pub struct JsonTold {
    /// When it began, ms.
    pub time_ms: f64,
    /// When its last step came, ms.
    pub until_ms: f64,
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
    /// Its steps.
    pub steps: Vec<JsonEvent>,
}

/// What the verdicts of one file assume.
#[derive(Debug, Serialize)]
pub struct Assumed {
    /// The scheme's file as given.
    pub file: String,
    /// Each in a sentence.
    pub assumes: Vec<String>,
}

/// The proof of one scheme as a file of its own.
#[derive(Debug, Serialize)]
pub struct JsonProof<'a> {
    /// The scheme's file as given.
    pub file: String,
    /// The questions and their verdicts.
    pub claims: &'a [JsonClaim],
    /// What they assume.
    pub assumes: &'a [String],
}

impl JsonClaim {
    /// A question about that file.
    pub fn new(file: &str, report: &Report, sources: &Sources) -> Self {
        let edge = |margin: &Margin| Edge {
            device: margin.device.clone(),
            the_move: margin.the_move.clone(),
            declared_ms: margin.declared_ms,
            holds_to_ms: margin.holds_to_ms,
            fails_from_ms: margin.fails_from_ms,
        };
        let told = |told: &Told| JsonTold {
            time_ms: told.time_ms,
            until_ms: told.until_ms,
            what: told.what.clone(),
            why: told.why.clone(),
            steps: told.steps.iter().map(Into::into).collect(),
        };
        Self {
            file: file.to_owned(),
            id: slug(&report.claim),
            claim: report.claim.clone(),
            about: report.about.clone(),
            asks: report.asks.clone(),
            across: report.across.clone(),
            verdict: report.verdict,
            because: report.because.clone(),
            covers: report.covers.clone(),
            positions: report.positions,
            known: report.known.0,
            moving: report.known.1,
            edges: report.margins.iter().map(edge).collect(),
            story: report.story.as_ref().map(|story| story.events.iter().map(told).collect()),
            replayed: report.story.as_ref().map(|story| story.replayed),
            witnesses: report
                .witnesses
                .iter()
                .map(|it| JsonWitness {
                    shows: it.shows.clone(),
                    story: it
                        .events
                        .iter()
                        .map(|told| JsonSeen {
                            time_ms: told.time_ms,
                            what: told.what.clone(),
                            why: told.why.clone(),
                        })
                        .collect(),
                })
                .collect(),
            at: Place::new(report.at, sources),
        }
    }
}

/// To three digits after the point: more would be noise of the arithmetic.
pub fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// One file that was formatted.
#[derive(Debug, Serialize)]
pub struct Formatted {
    /// The file as given.
    pub file: String,
    /// Whether its text is not the usual way, or was not before this run.
    pub changed: bool,
}
