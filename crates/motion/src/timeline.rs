//! What came of a run, as plain data. Chart, words and JSON are views of it.

use crate::machine::UnitId;
use fiftytwo_scheme::PartId;
use serde::Serialize;

/// Whether an event is a move, or something that did not come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Came {
    /// Something moved.
    #[default]
    Moved,
    /// A coil has a path but too little voltage: what it drives stays.
    Held,
    /// A drive went away before what it drives had moved.
    GaveUp,
}

/// What kind of step an event is, for telling several as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepKind {
    /// A part of a stroke or of a relay's, lockout's or latch's move.
    Mechanism,
    /// A contact with times of its own.
    Contact,
    /// A line of logic.
    Thought,
    /// A hand on a handle.
    Hand,
    /// Anything else.
    Alone,
}

/// One thing that happened.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// When, µs from the beginning of the story.
    pub time_us: i64,
    /// When, ms.
    pub time_ms: f64,
    /// The device, condition, order or part that moved.
    pub device: String,
    /// What happened, one short sentence.
    pub what: String,
    /// Why.
    pub why: String,
    /// The conducting path from plus to minus that drove it; empty if no coil did.
    pub path: Vec<String>,
    /// Volts at the coil over the corners, least and greatest.
    pub volts: Option<(f64, f64)>,
    /// "person", "outside", "device", or "claim" where only a time runs out.
    pub by: &'static str,
    /// A small step inside a larger movement, left out where space is short.
    pub minor: bool,
    /// Nothing that anybody could see: the rest of an interrupted move dies away.
    #[serde(skip)]
    pub silent: bool,
    /// What kind of step it is.
    #[serde(skip)]
    pub kind: StepKind,
    /// The movement it belongs to ("52 close"), for telling several steps as one.
    pub movement: String,
    /// Where the thing that moved is written, "scheme.kdl:24:9".
    pub at: Option<String>,
    /// The parts along the path, terminals included.
    #[serde(skip)]
    pub parts: Vec<PartId>,
    /// The unit that moved.
    #[serde(skip)]
    pub unit: Option<UnitId>,
    /// The event (its place in the list) that started the clock which ran out.
    #[serde(skip)]
    pub cause: Option<usize>,
    /// Whether it moved.
    #[serde(skip)]
    pub came: Came,
}

/// How an expectation came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Outcome {
    /// What was expected, as written.
    pub expected: String,
    /// Whether it came.
    pub met: bool,
    /// What came instead.
    pub instead: Option<String>,
    /// Where the expectation is written.
    pub at: String,
}

/// One row of the chart: a statement about a device, and when it was so.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// Such as "52 closed".
    pub name: String,
    /// From and to, µs; the last may end with the story.
    pub so: Vec<(i64, i64)>,
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Timeline {
    /// Name of the story.
    pub story: String,
    /// Where it began, in words.
    pub given: Vec<String>,
    /// At which voltages and delays it was played.
    pub played: String,
    /// Everything that happened, in order.
    pub events: Vec<Event>,
    /// The chart's rows.
    pub rows: Vec<Row>,
    /// How the expectations came out.
    pub outcomes: Vec<Outcome>,
    /// What was assumed because nobody wrote it.
    pub notes: Vec<String>,
    /// The end, µs.
    pub end_us: i64,
    /// Set if time did not go on: the devices that moved without end.
    pub stuck: Option<String>,
}

impl Timeline {
    /// Whether every expectation came and time went on.
    pub fn holds(&self) -> bool {
        self.stuck.is_none() && self.outcomes.iter().all(|outcome| outcome.met)
    }
}
