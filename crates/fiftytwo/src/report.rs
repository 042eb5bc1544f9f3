//! What a verb hands back: text for people, results for programs, files, and how the run ends.

use crate::exit::Exit;
use crate::json::{File, JsonFinding, Results};
use crate::output::Outputs;
use fiftytwo_scheme::{Finding, Severity, Sources};
use std::path::PathBuf;

/// The result of one run.
#[derive(Debug, Default)]
pub struct Report<'a> {
    /// For people, with colour codes; the findings are told after it.
    pub text: String,
    /// What was read.
    pub files: Vec<File>,
    /// What was found.
    pub findings: Vec<Told<'a>>,
    /// What the verb adds to the object.
    pub results: Results,
    /// Files to write.
    pub outputs: Outputs,
    /// Something could not be proven within the limits.
    pub open: bool,
    /// What is found belongs to the bundled example: the run ends well all the same.
    pub lesson: bool,
    /// The page and the object go into files of this folder too; the page has told the findings.
    pub whole: Option<PathBuf>,
}

/// A finding with the files it points into.
#[derive(Debug, Clone)]
pub struct Told<'a> {
    /// What was found.
    pub finding: Finding,
    /// The files.
    pub sources: &'a Sources,
    /// The file meant, if the finding has no place of its own.
    pub file: Option<&'a str>,
}

impl Told<'_> {
    /// In the documented form.
    pub fn to_json(&self) -> JsonFinding {
        JsonFinding::new(&self.finding, self.sources, self.file)
    }
}

impl Report<'_> {
    /// How the run ends, if everything can be written.
    pub fn exit(&self) -> Exit {
        let worst = self.findings.iter().map(|told| told.finding.severity).min();
        match worst {
            Some(Severity::Error) => Exit::BadInput,
            _ if self.lesson => Exit::Holds,
            Some(Severity::Finding) => Exit::Found,
            _ if self.open => Exit::NotProven,
            _ => Exit::Holds,
        }
    }
}

/// What no result says, in every object and at the foot of every report.
pub const CAUTIONS: &[&str] = &[
    "The results follow from the text: what it leaves out or has wrong, no result can know.",
    "Control circuits are energised and mechanisms hold stored energy: isolate, discharge and \
     test by the rules of your utility.",
    "A licensed engineer reviews the design; local codes and the utility's standards govern.",
];

#[cfg(test)]
mod tests {
    use super::*;

    fn exit(severities: &[Severity], open: bool) -> u8 {
        let sources = Sources::default();
        let findings = severities.iter().map(|it| Told {
            finding: Finding::new("x", *it, "x"),
            sources: &sources,
            file: None,
        });
        Report { findings: findings.collect(), open, ..Report::default() }.exit().code()
    }

    #[test]
    fn a_finding_outweighs_what_is_not_proven_and_a_note_weighs_nothing() {
        use Severity::{Error, Finding, Note};
        assert_eq!(exit(&[], false), 0);
        assert_eq!(exit(&[Note], false), 0);
        assert_eq!(exit(&[Note], true), 3);
        assert_eq!(exit(&[Note, Finding], true), 1);
        assert_eq!(exit(&[Finding, Error], true), 2);
    }
}
