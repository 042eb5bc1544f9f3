//! The files of a scheme: its own text, those it uses, and the stories beside it.

use super::card::{Card, Words};
use super::desk::Desk;
use super::frame::{self, Line};
use crate::arena::Id;
use crate::finding::Finding;
use crate::source::{FileId, SourceFile, Sources, Span};
use crate::text;
use std::path::{Path, PathBuf};

/// Everything that was read.
#[derive(Default)]
pub(super) struct Pile {
    /// The files.
    pub sources: Sources,
    /// What was found in their texts.
    pub findings: Vec<Finding>,
    /// Slips of writing: what touches one of them only repeats it.
    pub slips: Vec<Finding>,
    /// Lines outside all braces, of all files.
    pub lines: Vec<Line>,
    /// The scheme's own text could not be taken apart: what else is missing is no news.
    pub broken: bool,
    /// A file that is used could not be read.
    pub library_missing: bool,
    /// The folder that every file beside the scheme's own must lie in; none: anywhere.
    within: Option<PathBuf>,
}

/// What a file may carry.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Role {
    Scheme,
    Library,
    Stories,
}

/// A scheme from a file.
pub(super) fn from_path(path: &Path) -> Pile {
    let mut pile = Pile::default();
    match load(path) {
        Err(finding) => {
            let name = path.display().to_string();
            let file = pile.sources.files.push(SourceFile { name, text: String::new() });
            pile.findings.push(finding.at(Span { file, start: 0, end: 0 }, "this file"));
            pile.broken = true;
        }
        Ok(text) => pile.add_with_neighbours(path, &text),
    }
    pile
}

/// A scheme whose text is in memory and whose neighbours lie beside `path`, none of them outside
/// the folder it is in.
pub(super) fn from_text_beside(path: &Path, text: &str) -> Pile {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let within = Some(same_file(folder.unwrap_or(Path::new("."))));
    let mut pile = Pile { within, ..Pile::default() };
    pile.add_with_neighbours(path, text);
    pile
}

/// A scheme from memory.
pub(super) fn from_text(name: &str, text: &str) -> Pile {
    let mut pile = Pile::default();
    pile.add(name, text, Role::Scheme);
    pile.take_used(None, &mut Vec::new());
    pile
}

/// A scheme from memory with the stories beside it.
pub(super) fn from_texts(scheme: (&str, &str), stories: (&str, &str)) -> Pile {
    let mut pile = from_text(scheme.0, scheme.1);
    pile.add(stories.0, stories.1, Role::Stories);
    pile
}

/// A path that is equal for the same file however it is written.
fn same_file(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

fn load(path: &Path) -> Result<String, Finding> {
    let unreadable = |reason: String| {
        Finding::error("file", format!("The file {} can't be read: {reason}.", path.display()))
            .help("check the name and who may read it")
    };
    let size = std::fs::metadata(path).map_err(|error| unreadable(plain(&error)))?.len();
    if size > text::MAX_BYTES as u64 {
        return Err(too_big(&path.display().to_string(), size));
    }
    let bytes = std::fs::read(path).map_err(|error| unreadable(plain(&error)))?;
    // The caller knows the place.
    let nowhere = Span { file: FileId::from_index(0), start: 0, end: 0 };
    text::decode(&bytes).map_err(|spelling| spelling.finding("not-text", nowhere, "this file"))
}

fn too_big(name: &str, size: u64) -> Finding {
    let megabytes = size / 1_000_000;
    Finding::error("file-too-big", format!("The file {name} has {megabytes} MB: surely no scheme."))
        .help(format!("a scheme of a whole station stays below {} MB", text::MAX_BYTES / (1 << 20)))
}

fn plain(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "reading it is not allowed".to_owned(),
        _ => "the system refuses it".to_owned(),
    }
}

impl Pile {
    /// The text of a scheme, the files it uses, and the stories beside it.
    fn add_with_neighbours(&mut self, path: &Path, text: &str) {
        self.add(&path.display().to_string(), text, Role::Scheme);
        let mut open = vec![same_file(path)];
        self.take_used(Some(path.parent().unwrap_or(Path::new(""))), &mut open);
        let stories = path.with_file_name("stories.kdl");
        if stories != path && stories.is_file() && self.may_read(&stories) {
            let name = stories.display().to_string();
            match load(&stories) {
                Ok(text) => self.add(&name, &text, Role::Stories),
                Err(finding) => {
                    let text = String::new();
                    let file = self.sources.files.push(SourceFile { name, text });
                    let at = Span { file, start: 0, end: 0 };
                    self.findings.push(finding.at(at, "this file"));
                }
            }
        }
    }
    fn may_read(&self, path: &Path) -> bool {
        self.within.as_ref().is_none_or(|folder| same_file(path).starts_with(folder))
    }
    fn add(&mut self, name: &str, text: &str, role: Role) {
        let file =
            self.sources.files.push(SourceFile { name: name.to_owned(), text: text.to_owned() });
        if text.len() > text::MAX_BYTES {
            let at = Span { file, start: 0, end: 0 };
            self.findings.push(too_big(name, text.len() as u64).at(at, "here"));
            self.broken |= role == Role::Scheme;
            self.library_missing |= role == Role::Library;
            return;
        }
        let tree = match text::examine(file, text) {
            Ok(tree) => tree,
            Err(findings) => {
                self.findings.extend(findings);
                self.broken |= role == Role::Scheme;
                self.library_missing |= role == Role::Library;
                return;
            }
        };
        let lines = frame::lines(&tree, file, text, &mut self.findings);
        self.slips.extend(tree.findings);
        if lines.is_empty() && role == Role::Scheme {
            let at = Span { file, start: 0, end: 0 };
            self.findings.push(
                Finding::error("empty", format!("The file {name} holds no scheme."))
                    .at(at, "nothing here")
                    .help("begin with scheme \"…\" and what it is called"),
            );
            self.broken = true;
        }
        for line in lines {
            if let Some(finding) = out_of_place(&line, role) {
                self.findings.push(finding);
            } else {
                self.lines.push(line);
            }
        }
    }

    /// Follows `use` lines until none is left. `open` holds the files read already.
    fn take_used(&mut self, folder: Option<&Path>, open: &mut Vec<PathBuf>) {
        let mut desk = Desk::default();
        let mut trail: Vec<Trail> = Vec::new();
        self.follow(folder, open, &mut desk, &mut trail, 0);
        self.findings.append(&mut desk.findings);
    }

    fn follow(
        &mut self,
        folder: Option<&Path>,
        open: &mut Vec<PathBuf>,
        desk: &mut Desk,
        trail: &mut Vec<Trail>,
        from: usize,
    ) {
        let uses: Vec<Line> =
            self.lines.iter().skip(from).filter(|line| line.word == "use").cloned().collect();
        for line in uses {
            let card = Card::open(desk, &line, &Words { props: &[], lines: &[] });
            if line.args.is_empty() {
                card.name(desk, 0, "The file's name");
                continue;
            }
            card.no_more(desk, 1);
            let Some(name) = line.args.first().and_then(|arg| desk.name(arg)) else { continue };
            let Some(folder) = folder else {
                let finding = Finding::error(
                    "use-missing",
                    format!("There is no file {:?} here.", name.text),
                )
                .at(name.span, "a text from memory uses no files");
                desk.report(finding);
                self.library_missing = true;
                continue;
            };
            let path = folder.join(&name.text);
            let same = same_file(&path);
            let circular =
                open.first() == Some(&same) || trail.iter().any(|step| step.path == same);
            if circular {
                desk.report(
                    Finding::error(
                        "use-circular",
                        format!("{:?} is used from within itself.", name.text),
                    )
                    .at(name.span, "closes a circle")
                    .why("two files that use each other have no beginning")
                    .help("move what both need into a third file"),
                );
                continue;
            }
            if open.contains(&same) {
                continue;
            }
            if !self.may_read(&path) {
                desk.report(
                    Finding::error(
                        "use-outside",
                        format!("{:?} lies outside the scheme's folder.", name.text),
                    )
                    .at(name.span, "not read here")
                    .why("a page in a browser reads nothing but the scheme's own folder")
                    .help("put a copy beside the scheme, or work on it from the command line"),
                );
                self.library_missing = true;
                continue;
            }
            match load(&path) {
                Err(finding) => {
                    let id = if finding.id == "file" { "use-missing" } else { finding.id };
                    let message = match finding.id {
                        "file" => format!("The file {:?} can't be read.", name.text),
                        _ => finding.message.clone(),
                    };
                    let help =
                        "its name counts from the folder of the file that uses it".to_owned();
                    desk.report(
                        Finding::error(id, message).at(name.span, "no such file").help(help),
                    );
                    self.library_missing = true;
                }
                Ok(text) => {
                    open.push(same.clone());
                    let before = self.lines.len();
                    self.add(&path.display().to_string(), &text, Role::Library);
                    trail.push(Trail { path: same });
                    let inner = path.parent().map(Path::to_owned);
                    self.follow(inner.as_deref(), open, desk, trail, before);
                    trail.pop();
                }
            }
        }
    }
}

/// A file on the way down.
struct Trail {
    path: PathBuf,
}

fn out_of_place(line: &Line, role: Role) -> Option<Finding> {
    let (allowed, what, id): (&[&str], _, _) = match role {
        Role::Scheme => return None,
        Role::Library => {
            (&["type", "pattern", "curve", "use", "note"], "A file that is used", "library-word")
        }
        Role::Stories => (&["story", "note"], "The file stories.kdl", "stories-word"),
    };
    if allowed.contains(&line.word.as_str()) {
        return None;
    }
    let words = super::names::listed(allowed.iter().copied()).replace('"', "");
    Some(
        Finding::error(id, format!("{what} can't hold {:?}.", line.word))
            .at(line.span, "belongs in the scheme")
            .help(format!("known here: {words}")),
    )
}
