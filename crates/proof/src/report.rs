//! What a proof says, as plain data.

use fiftytwo_motion::Replay;
use fiftytwo_motion::timeline::Event;
use fiftytwo_scheme::Span;
use serde::Serialize;

/// The verdict on one question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Hash, PartialOrd, Ord)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Whatever the times: no timing can break it.
    HoldsInAnyOrder,
    /// Within the declared times; a race decides.
    HoldsWithinTolerances,
    /// A run within the declared times breaks it.
    Fails,
    /// A limit stopped the search, or only runs outside the declared times were found.
    NotProven,
    /// What it speaks of never happens.
    Vacuous,
    /// Left out by the designer, with a reason.
    Waived,
    /// Not asked: this form of claim is not searched.
    NotAsked,
}

/// A time in words: "60 ms", "2.5 ms".
pub fn in_ms(time: i64) -> String {
    format!("{} ms", time as f64 / 1000.0)
}

/// One declared bound of a race, and where the claim falls.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Margin {
    /// The device that races.
    pub device: String,
    /// Its move, such as "picks up".
    pub the_move: String,
    /// The declared bound, ms.
    pub declared_ms: f64,
    /// The claim still holds at this value, ms.
    pub holds_to_ms: f64,
    /// A replayed story breaks it from this value, ms; none: none was found.
    pub fails_from_ms: Option<f64>,
}

impl Margin {
    /// From the declared bound to where the claim falls, or no longer is known to hold, ms.
    pub fn room(&self) -> f64 {
        (self.fails_from_ms.unwrap_or(self.holds_to_ms) - self.declared_ms).abs()
    }
}

/// One told event of a story: a movement with its steps.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// When it began, ms.
    pub time_ms: f64,
    /// When its last step came, ms.
    pub until_ms: f64,
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
    /// Its steps, each an event of the replay.
    pub steps: Vec<Event>,
}

/// A story that breaks a claim.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Story {
    /// The events, told.
    pub events: Vec<Told>,
    /// Whether the run was replayed at its times and showed the same violation.
    pub replayed: bool,
    /// How many pairs of steps fall in one instant although their order matters.
    pub ties: usize,
    /// The replayed run itself, state by state.
    #[serde(skip)]
    pub replay: Box<Replay>,
}

/// A run in which what a claim speaks of does happen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Witness {
    /// What is seen at its end.
    pub shows: String,
    /// The events, told; none: it is so from the start.
    pub events: Vec<Told>,
}

/// One search that was made for a question.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SearchMade {
    /// Units known to it; the rest could be anything at any time.
    pub known: usize,
    /// "in any order" or "within tolerances".
    pub mode: &'static str,
    /// Positions reached.
    pub positions: usize,
    /// What it said.
    pub said: String,
}

/// The report on one question.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Asked across the loss and return of this supply: told beside the claim, no finding.
    pub across: Option<String>,
    /// The claim, such as "no pumping".
    pub claim: String,
    /// What exactly was asked.
    pub asks: String,
    /// The device, need or source it is about.
    pub about: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Why it is so, in a sentence, where the verdict alone doesn't say it.
    pub because: Option<String>,
    /// Whether the claim is the designer's own.
    pub own: bool,
    /// What the verdict covers, and what not.
    pub covers: String,
    /// Positions searched.
    pub positions: usize,
    /// Units known to the search that decided, and units in all.
    pub known: (usize, usize),
    /// Every search made, in order.
    pub searches: Vec<SearchMade>,
    /// Margins of the race.
    pub margins: Vec<Margin>,
    /// The story that breaks it.
    pub story: Option<Story>,
    /// For a claim that holds: real runs in which what it speaks of does happen.
    pub witnesses: Vec<Witness>,
    /// Where the intent is written.
    pub at: Span,
}

/// Everything asked of a scheme.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proof {
    /// One report per question.
    pub reports: Vec<Report>,
    /// What every verdict assumes.
    pub assumptions: Vec<String>,
}

impl Proof {
    /// Whether something is left open: not proven, or a claim of the designer's own that is not
    /// asked.
    pub fn is_open(&self) -> bool {
        self.counted().any(|report| {
            report.verdict == Verdict::NotProven
                || (report.own && report.verdict == Verdict::NotAsked)
        })
    }
    /// The reports that count: what a lost supply does is told beside them.
    pub fn counted(&self) -> impl Iterator<Item = &Report> {
        self.reports.iter().filter(|report| report.across.is_none())
    }
    /// The exit code: 0 all that is asked holds, 1 some finding, 3 something is left open.
    pub fn exit_code(&self) -> u8 {
        let any = |verdict: Verdict| self.counted().any(|report| report.verdict == verdict);
        if any(Verdict::Fails) || any(Verdict::Vacuous) {
            1
        } else if self.is_open() {
            3
        } else {
            0
        }
    }
}
