//! What was asked for, apart from the circuit: matrix, claims, stories.

use crate::ids::{DeviceId, LogicId, PartId};
use crate::quantity::TimeRange;
use crate::source::Span;
use crate::statement::{Atom, Statement};

/// What closes and trips one breaker.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    /// The breaker.
    pub breaker: DeviceId,
    /// Who closes.
    pub close_by: Vec<CloseBy>,
    /// What all of them need.
    pub close_needs: Vec<CloseNeed>,
    /// What trips.
    pub trip_by: Vec<TripBy>,
    /// What clears a fault when the breaker does not open.
    pub backup_by: Vec<BackupBy>,
    /// Where it is written.
    pub span: Span,
}

/// One source of closing.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseBy {
    /// The source.
    pub by: Statement,
    /// What only this source needs.
    pub needs: Vec<Statement>,
    /// Where it is written.
    pub span: Span,
}

/// One thing every source of closing needs.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseNeed {
    /// The need.
    pub need: Statement,
    /// The coil may be driven without the need for at most this long.
    pub longer_than: Option<TimeRange>,
    /// Where it is written.
    pub span: Span,
}

/// Which coils a trip must drive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CoilChoice {
    /// All of them ("trip 1 and trip 2").
    All(Vec<PartId>),
    /// At least one of them ("trip 1 or trip 2").
    Any(Vec<PartId>),
}

/// One source of tripping.
#[derive(Debug, Clone, PartialEq)]
pub struct TripBy {
    /// The source.
    pub by: Statement,
    /// What it needs.
    pub needs: Vec<Statement>,
    /// What it drives.
    pub coils: CoilChoice,
    /// How fast the coils are driven; no limit if not given.
    pub within: Option<TimeRange>,
    /// Where it is written.
    pub span: Span,
}

/// What must happen in time when the breaker does not open.
#[derive(Debug, Clone, PartialEq)]
pub struct BackupBy {
    /// What trips the breakers around, such as "86BF operated".
    pub by: Statement,
    /// The fault it is for: from here the critical time runs.
    pub when: Statement,
    /// What waits for the breaker, and by how much it may not be reached while the breaker obeys.
    pub timer: Option<BackupTimer>,
    /// From `by` to the clearing of the fault by the breakers around (0 if not given).
    pub clears_in: TimeRange,
    /// The fault must be cleared by then; none: not asked.
    pub critical: Option<TimeRange>,
    /// Where it is written.
    pub span: Span,
}

/// The timer of a backup.
#[derive(Debug, Clone, PartialEq)]
pub struct BackupTimer {
    /// Which.
    pub which: Waits,
    /// What is to be left of its least time when the breaker has opened (0 if not given).
    pub margin: TimeRange,
    /// As written.
    pub text: String,
}

/// What waits a chosen time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Waits {
    /// A timer.
    Timer(DeviceId),
    /// A line of logic with an on-delay.
    Logic(LogicId),
}

/// The designer's own claim.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// Its name.
    pub name: String,
    /// What it says.
    pub body: ClaimBody,
    /// Only while this stands.
    pub during: Option<Statement>,
    /// Where it is written.
    pub span: Span,
}

/// What a claim says.
#[derive(Debug, Clone, PartialEq)]
pub enum ClaimBody {
    /// Never so (longer than a time).
    Never {
        /// What must not be.
        what: Statement,
        /// Allowance.
        longer_than: Option<TimeRange>,
    },
    /// Always so.
    Always(Statement),
    /// Whenever `premise` stands, `then` follows within a time.
    IfThen {
        /// The premise.
        premise: Statement,
        /// The conclusion.
        then: Statement,
        /// Time allowed; no limit: at rest.
        within: Option<TimeRange>,
    },
    /// A statement becomes true at most so many times (while `during` stands).
    AtMost {
        /// How often.
        times: u32,
        /// What is counted.
        of: Statement,
    },
}

/// A claim left out, printed in every report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiver {
    /// The claim.
    pub claim: String,
    /// For which device or part; none: for all.
    pub for_name: Option<String>,
    /// Why.
    pub because: String,
    /// Where it is written.
    pub span: Span,
}

/// A claim with a changed limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tune {
    /// The claim.
    pub claim: String,
    /// The new limit.
    pub within: Option<TimeRange>,
    /// Where it is written.
    pub span: Span,
}

/// Events in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Its name.
    pub name: String,
    /// Where it begins, otherwise as drawn.
    pub given: Vec<Act>,
    /// What happens from outside.
    pub steps: Vec<StoryStep>,
    /// What must come.
    pub expects: Vec<Expect>,
    /// Where it is written.
    pub span: Span,
}

/// One thing put into a state from outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Act {
    /// The thing.
    pub atom: Atom,
    /// So (true) or not so.
    pub so: bool,
    /// As written.
    pub text: String,
    /// Where it is written.
    pub span: Span,
}

/// What is done at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct StoryStep {
    /// When, µs from the beginning.
    pub at: i64,
    /// What.
    pub acts: Vec<Act>,
    /// For how long, µs; then a handle springs back, an order or yes/no condition ends.
    pub held: Option<i64>,
    /// Where it is written.
    pub span: Span,
}

/// What must come of a story.
#[derive(Debug, Clone, PartialEq)]
pub struct Expect {
    /// What.
    pub body: ExpectBody,
    /// Where it is written.
    pub span: Span,
}

/// What must come.
#[derive(Debug, Clone, PartialEq)]
pub enum ExpectBody {
    /// The statement holds at that time (µs), or at the end if not given.
    By {
        /// The statement.
        statement: Statement,
        /// When.
        by: Option<i64>,
    },
    /// The statement becomes true at most so many times.
    AtMost {
        /// How often.
        times: u32,
        /// What is counted.
        of: Statement,
    },
}
