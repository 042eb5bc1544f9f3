//! `format`: the text laid out the usual way; comments stay, the meaning stays.

use crate::input::Named;
use crate::json::{Formatted, Results};
use crate::output::Outputs;
use crate::page::Page;
use crate::report::{Report, Told};
use fiftytwo_scheme::{Finding, Severity, Sources};
use std::path::{Path, PathBuf};

/// A text before and after.
#[derive(Debug)]
pub struct Text {
    /// Its file.
    pub named: Named,
    /// As it is.
    pub before: String,
    /// The usual way.
    pub after: String,
}

/// Where the texts go.
#[derive(Debug, Clone, Copy)]
pub enum To<'a> {
    /// Back into their own files.
    Place,
    /// Into a folder, under their results' names.
    Folder(&'a Path),
    /// Nowhere: only say which are not written the usual way.
    Nowhere,
}

/// Reports on texts that are laid out.
pub fn format<'a>(texts: &'a [Text], to: To<'_>, none: &'a Sources) -> Report<'a> {
    let mut page = Page::default();
    let mut outputs = Outputs::default();
    let mut formatted = Vec::new();
    let mut findings = Vec::new();
    for text in texts {
        let changed = text.before != text.after;
        let shown = &text.named.shown;
        match to {
            To::Nowhere if changed => {
                let finding = Finding::new(
                    "not-formatted",
                    Severity::Finding,
                    format!("{shown} is not written the usual way"),
                )
                .help("fiftytwo format writes it so; comments stay");
                findings.push(Told { finding, sources: none, file: Some(shown) });
            }
            To::Nowhere => {}
            To::Place if text.named.is_stdin() => {
                page.block(&text.after);
            }
            To::Place => {
                if changed {
                    page.line(&format!("{shown} is written the usual way now"));
                    outputs.add(real_path(&text.named.path), text.after.as_str());
                }
            }
            To::Folder(folder) => {
                outputs.add(folder.join(format!("{}.kdl", text.named.stem)), text.after.as_str());
            }
        }
        formatted.push(Formatted { file: shown.clone(), changed });
    }
    Report {
        text: page.into_text(),
        findings,
        results: Results { formatted: Some(formatted), ..Results::default() },
        outputs,
        ..Report::default()
    }
}

/// A link stays a link: its target is written.
fn real_path(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}
