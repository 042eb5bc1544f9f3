//! `format`: the text laid out the usual way; comments stay, the meaning stays.

use crate::exit::Exit;
use crate::input::Named;
use crate::json::{Formatted, JsonFinding, Results};
use crate::output::Outputs;
use crate::page::Page;
use crate::report::Report;
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
pub fn format(texts: Vec<Text>, to: To<'_>) -> Report {
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
                page.line(&finding.message);
                findings.push(JsonFinding::new(&finding, &Sources::default(), Some(shown)));
            }
            To::Nowhere => {}
            To::Place if text.named.is_stdin() => {
                page.block(&text.after);
            }
            To::Place => {
                if changed {
                    page.line(&format!("{shown} is written the usual way now"));
                    outputs.add(real_path(&text.named.path), text.after);
                }
            }
            To::Folder(folder) => {
                outputs.add(folder.join(format!("{}.kdl", text.named.stem)), text.after);
            }
        }
        formatted.push(Formatted { file: shown.clone(), changed });
    }
    let unusual = findings.is_empty();
    Report {
        text: page.into_text(),
        files: Vec::new(),
        findings,
        results: Results { formatted: Some(formatted) },
        outputs,
        exit: if unusual { Exit::Holds } else { Exit::Found },
    }
}

/// A link stays a link: its target is written.
fn real_path(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}
