//! The files a run works on.
//!
//! **In:** paths as typed. **Out:** the schemes read from them, each under the name the user gave,
//! or findings that say which file cannot be used and what to do. **Never here:** any engine.

use crate::args::Part;
use crate::report::Told;
use fiftytwo_scheme::{
    Finding, Reading, Scheme, Severity, SourceFile, Sources, read_path, read_text,
};
use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};

/// No scheme comes near this; a file beyond it is something else.
const LARGEST: u64 = 16 << 20;
/// What stands for standard input.
const STDIN: &str = "-";

/// A file to read, and the name its results get.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The path as typed.
    pub path: PathBuf,
    /// The path as shown.
    pub shown: String,
    /// What the names of its results begin with.
    pub stem: String,
}

/// A file that was read.
#[derive(Debug)]
pub struct Input {
    /// Which.
    pub named: Named,
    /// What came of it.
    pub reading: Reading,
}

/// A scheme that can be worked on.
#[derive(Debug, Clone, Copy)]
pub struct Checked<'a> {
    /// Its file.
    pub named: &'a Named,
    /// The scheme.
    pub scheme: &'a Scheme,
    /// What was noted while it was read.
    pub notes: &'a [Finding],
    /// The files it was read from.
    pub sources: &'a Sources,
}

impl Named {
    /// Whether standard input is meant.
    pub fn is_stdin(&self) -> bool {
        self.path.as_os_str() == STDIN
    }
}

impl Input {
    /// What was found while it was read.
    pub fn told(&self) -> impl Iterator<Item = Told<'_>> {
        let Self { named, reading } = self;
        let file = Some(named.shown.as_str());
        let sources = &reading.sources;
        reading.findings.iter().map(move |it| Told { finding: it.clone(), sources, file })
    }

    /// The scheme, if the text can be used.
    pub fn checked(&self) -> Option<Checked<'_>> {
        let scheme = self.reading.scheme.as_ref().filter(|_| self.reading.is_usable())?;
        Some(Checked {
            named: &self.named,
            scheme,
            notes: &self.reading.findings,
            sources: &self.reading.sources,
        })
    }
}

impl<'a> Checked<'a> {
    /// A finding about this scheme.
    pub fn told(&self, finding: Finding) -> Told<'a> {
        Told { finding, sources: self.sources, file: Some(&self.named.shown) }
    }
}

/// The files of this run in a fixed order: sorted, each once, the part taken. The names of the
/// results depend on the whole list, so that the parts of a fleet never write over each other.
pub fn named(paths: &[PathBuf], part: Option<Part>) -> Vec<Named> {
    let mut sorted = paths.to_vec();
    sorted.sort();
    sorted.dedup();
    let stems = stems(&sorted);
    sorted
        .into_iter()
        .zip(stems)
        .enumerate()
        .filter(|(index, _)| part.is_none_or(|part| part.takes(*index)))
        .map(|(_, (path, stem))| {
            let shown = shown(&path);
            Named { path, shown, stem }
        })
        .collect()
}

/// A path as it is shown and stands in results.
pub fn shown(path: &Path) -> String {
    if path.as_os_str() == STDIN {
        return "standard input".to_owned();
    }
    path.to_string_lossy().chars().map(|it| if it.is_control() { '\u{fffd}' } else { it }).collect()
}

/// `examples/quillmere/scheme.kdl` gives `quillmere`, `bay-4.kdl` gives `bay-4`; two that would
/// be equal are numbered.
fn stems(paths: &[PathBuf]) -> Vec<String> {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    paths
        .iter()
        .map(|path| {
            let stem = plain_stem(path);
            let times = seen.entry(stem.clone()).or_default();
            *times += 1;
            if *times == 1 { stem } else { format!("{stem}-{times}") }
        })
        .collect()
}

fn plain_stem(path: &Path) -> String {
    let lossy = |text: &OsStr| text.to_string_lossy().into_owned();
    let file = path.file_stem().map(lossy).unwrap_or_default();
    let name = match folder_name(path) {
        Some(folder) if file == "scheme" => lossy(&folder),
        _ => file,
    };
    let safe: String = name
        .chars()
        .map(|it| if it.is_alphanumeric() || matches!(it, '.' | '_' | '-') { it } else { '-' })
        .collect();
    if safe.chars().any(char::is_alphanumeric) { safe } else { "scheme".to_owned() }
}

/// The name of the folder a file is in, also for `scheme.kdl` and `../scheme.kdl`.
fn folder_name(path: &Path) -> Option<OsString> {
    let folder = path.parent()?;
    if let Some(name) = folder.file_name() {
        return Some(name.to_owned());
    }
    // Only a path that names no folder asks the system where it is.
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    fs::canonicalize(here).ok()?.file_name().map(OsStr::to_owned)
}

/// Reads one file.
pub fn read(named: Named) -> Input {
    let reading = if named.is_stdin() {
        from_stream(&named.shown, io::stdin().lock())
    } else {
        match fs::metadata(&named.path) {
            Err(error) => refused(&named.shown, not_there(&named, &error)),
            Ok(it) if it.is_dir() => refused(&named.shown, a_folder(&named)),
            Ok(it) if it.len() > LARGEST => refused(&named.shown, too_large(&named.shown)),
            Ok(it) if it.is_file() => match fs::File::open(&named.path) {
                Ok(_) => read_path(&named.path),
                Err(error) => refused(&named.shown, unreadable(&named.shown, &error)),
            },
            // A pipe or a device: read it ourselves, with a limit.
            Ok(_) => match fs::File::open(&named.path) {
                Ok(file) => from_stream(&named.shown, file),
                Err(error) => refused(&named.shown, unreadable(&named.shown, &error)),
            },
        }
    };
    Input { reading: never_silent(reading, &named.shown), named }
}

/// The text of one file, with the same refusals.
///
/// # Errors
/// Why the file cannot be used.
pub fn text(named: &Named) -> Result<String, Finding> {
    let limited = |stream: &mut dyn Read| {
        let mut bytes = Vec::new();
        stream.take(LARGEST + 1).read_to_end(&mut bytes).map(|_| bytes)
    };
    let bytes = if named.is_stdin() {
        limited(&mut io::stdin().lock()).map_err(|error| unreadable(&named.shown, &error))?
    } else {
        match fs::metadata(&named.path) {
            Err(error) => return Err(not_there(named, &error)),
            Ok(it) if it.is_dir() => return Err(a_folder(named)),
            Ok(_) => fs::File::open(&named.path)
                .and_then(|mut file| limited(&mut file))
                .map_err(|error| unreadable(&named.shown, &error))?,
        }
    };
    as_text(&named.shown, bytes)
}

fn from_stream(shown: &str, stream: impl Read) -> Reading {
    let mut bytes = Vec::new();
    match stream.take(LARGEST + 1).read_to_end(&mut bytes) {
        Err(error) => refused(shown, unreadable(shown, &error)),
        Ok(_) => match as_text(shown, bytes) {
            Ok(text) => read_text(shown, &text),
            Err(finding) => refused(shown, finding),
        },
    }
}

fn as_text(shown: &str, bytes: Vec<u8>) -> Result<String, Finding> {
    if bytes.len() as u64 > LARGEST {
        return Err(too_large(shown));
    }
    String::from_utf8(bytes).map_err(|_| {
        Finding::error("not-text", format!("{shown} is not text"))
            .why("a scheme is plain text in UTF-8")
            .help("name the scheme's own file; save it as UTF-8")
    })
}

fn refused(shown: &str, finding: Finding) -> Reading {
    let mut sources = Sources::default();
    sources.files.push(SourceFile { name: shown.to_owned(), text: String::new() });
    Reading { scheme: None, findings: vec![finding], sources }
}

/// A text that cannot be used always says why.
fn never_silent(mut reading: Reading, shown: &str) -> Reading {
    let told = reading.findings.iter().any(|finding| finding.severity == Severity::Error);
    if reading.scheme.is_none() && !told {
        reading.findings.push(
            Finding::error("not-read", format!("{shown} could not be read as a scheme"))
                .why("this is a defect of fiftytwo, not of your text")
                .help("report it with the file"),
        );
    }
    reading
}

fn not_there(named: &Named, error: &io::Error) -> Finding {
    let shown = &named.shown;
    if error.kind() != ErrorKind::NotFound {
        return unreadable(shown, error);
    }
    let finding = Finding::error("file-missing", format!("there is no file {shown}"));
    match neighbour(&named.path) {
        Some(other) => finding.help(format!("did you mean {}?", self::shown(&other))),
        None => finding.help("check the path; a scheme's file usually ends in .kdl"),
    }
}

/// The file beside the missing one whose name is most like it.
fn neighbour(missing: &Path) -> Option<PathBuf> {
    let folder = missing.parent()?;
    let wanted = missing.file_name()?.to_string_lossy().into_owned();
    let list = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let mut names: Vec<_> = fs::read_dir(list).ok()?.flatten().map(|it| it.file_name()).collect();
    names.sort();
    names
        .into_iter()
        .map(|name| (strsim::damerau_levenshtein(&wanted, &name.to_string_lossy()), name))
        .filter(|(distance, _)| *distance <= 2 || *distance * 4 <= wanted.chars().count())
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| folder.join(name))
}

fn a_folder(named: &Named) -> Finding {
    let finding = Finding::error("file-is-folder", format!("{} is a folder", named.shown));
    let inside = named.path.join("scheme.kdl");
    if inside.is_file() {
        finding.help(format!("name the scheme in it: {}", shown(&inside)))
    } else {
        finding.help("name the scheme's file in it")
    }
}

fn too_large(shown: &str) -> Finding {
    Finding::error("file-too-large", format!("{shown} is larger than {} MB", LARGEST >> 20))
        .why("no scheme comes near that size, so this is another kind of file")
        .help("name the scheme's own file")
}

fn unreadable(shown: &str, error: &io::Error) -> Finding {
    let cause = match error.kind() {
        ErrorKind::PermissionDenied => "you may not read it".to_owned(),
        ErrorKind::NotADirectory => "a part of its path is no folder".to_owned(),
        kind => kind.to_string(),
    };
    Finding::error("file-unreadable", format!("{shown} cannot be read: {cause}"))
        .help("check the path and the file's permissions")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(names: &[&str]) -> Vec<PathBuf> {
        names.iter().map(PathBuf::from).collect()
    }

    #[test]
    fn results_are_named_after_the_scheme() {
        let named = named(&paths(&["b/scheme.kdl", "a/bay 4.kdl", "c/b/scheme.kdl", "-"]), None);
        let stems: Vec<&str> = named.iter().map(|it| it.stem.as_str()).collect();
        assert_eq!(stems, ["scheme", "bay-4", "b", "b-2"]);
    }

    #[test]
    fn the_parts_of_a_fleet_are_the_fleet() {
        let fleet = paths(&["d.kdl", "a.kdl", "c.kdl", "b.kdl", "a.kdl", "x/a.kdl"]);
        let whole = named(&fleet, None);
        let mut parts: Vec<Named> =
            (1..=3).flat_map(|k| named(&fleet, Some(Part { k, n: 3 }))).collect();
        parts.sort_by(|a, b| a.path.cmp(&b.path));
        assert_eq!(parts, whole);
        assert_eq!(whole.len(), 5);
    }
}
