//! What a verb hands back: text for people, results for programs, files, and how the run ends.

use crate::exit::Exit;
use crate::json::{File, JsonFinding, Results};
use crate::output::Outputs;

/// The result of one run.
#[derive(Debug)]
pub struct Report {
    /// For people, with colour codes.
    pub text: String,
    /// What was read.
    pub files: Vec<File>,
    /// What was found.
    pub findings: Vec<JsonFinding>,
    /// What the verb adds to the object.
    pub results: Results,
    /// Files to write.
    pub outputs: Outputs,
    /// How the run ends, if everything can be written.
    pub exit: Exit,
}

/// What no result says, in every object and at the foot of every report.
pub const CAUTIONS: &[&str] = &[
    "The results follow from the text: what it leaves out or has wrong, no result can know.",
    "Control circuits are energised and mechanisms hold stored energy: isolate, discharge and \
     test by the rules of your utility.",
    "A licensed engineer reviews the design; local codes and the utility's standards govern.",
];
