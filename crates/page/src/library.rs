//! Which schemes may be opened: those named at the start, those in the same folders, and the bundled
//! examples. What a browser says is compared with these names and never becomes part of a path.

use crate::text::hash;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// A bundled example.
#[derive(Debug, Clone)]
pub struct Example {
    /// Its name.
    pub name: String,
    /// What it is, one sentence.
    pub about: String,
    /// Its text.
    pub scheme: String,
    /// The stories beside it.
    pub stories: String,
}

/// Where a scheme comes from.
#[derive(Debug, Clone)]
pub enum Source {
    /// A file, its path without links.
    File(PathBuf),
    /// An example.
    Example(Example),
}

/// A scheme that may be opened.
#[derive(Debug, Clone)]
pub struct Place {
    /// Its name on the page.
    pub name: String,
    /// The desk it lies on; the same in every run.
    pub desk: String,
    /// Where it comes from.
    pub source: Source,
}

/// Everything that may be opened.
#[derive(Debug)]
pub struct Library {
    /// Files named at the start, in that order, and those saved since.
    named: Mutex<Vec<Place>>,
    folders: BTreeSet<PathBuf>,
    examples: Vec<Place>,
    /// A scheme that is being begun.
    new: Place,
    /// Where a copy of an example is saved.
    here: PathBuf,
}

/// The desk of a scheme that is being begun: it has no file until it is kept as one.
pub const NEW: &str = "new";

/// Most files of the folders that are listed.
const MOST_FOUND: usize = 500;

impl Library {
    /// The files named at the start, and the examples.
    pub fn new(files: &[PathBuf], examples: &[Example], here: &Path) -> Self {
        let mut named = Vec::new();
        let mut folders = BTreeSet::new();
        for path in files {
            let Ok(whole) = path.canonicalize() else { continue };
            folders.extend(whole.parent().map(Path::to_owned));
            named.push(of_file(&path.display().to_string(), whole));
        }
        let examples = examples
            .iter()
            .map(|example| Place {
                name: example.name.clone(),
                desk: format!("example-{}", example.name),
                source: Source::Example(example.clone()),
            })
            .collect();
        let nothing = Example {
            name: NEW.to_owned(),
            about: String::new(),
            scheme: String::new(),
            stories: String::new(),
        };
        let new =
            Place { name: NEW.to_owned(), desk: NEW.to_owned(), source: Source::Example(nothing) };
        Self { named: Mutex::new(named), folders, examples, new, here: here.to_owned() }
    }
    /// Named at the start or saved since.
    pub fn named(&self) -> Vec<Place> {
        self.named.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
    /// The examples.
    pub fn examples(&self) -> &[Place] {
        &self.examples
    }
    /// Other schemes in the folders of the named files: plain files whose names end in `.kdl`, and
    /// links to such that stay inside.
    pub fn found(&self) -> Vec<Place> {
        let named = self.named();
        let mut found = Vec::new();
        for folder in &self.folders {
            let Ok(entries) = fs::read_dir(folder) else { continue };
            let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
            paths.sort();
            for path in paths {
                let is_scheme = path.extension().is_some_and(|end| end == "kdl")
                    && path.file_name().is_some_and(|name| name != "stories.kdl");
                let Ok(whole) = path.canonicalize() else { continue };
                if !is_scheme || !whole.is_file() || whole.parent() != Some(folder.as_path()) {
                    continue;
                }
                let place = of_file(&path.display().to_string(), whole);
                let known =
                    named.iter().chain(&found).any(|other: &Place| other.desk == place.desk);
                if !known && found.len() < MOST_FOUND {
                    found.push(place);
                }
            }
        }
        found
    }
    /// By its name on the page.
    pub fn by_name(&self, name: &str) -> Option<Place> {
        self.all().find(|place| place.name == name)
    }
    /// By its desk.
    pub fn by_desk(&self, desk: &str) -> Option<Place> {
        self.all().find(|place| place.desk == desk)
    }
    fn all(&self) -> impl Iterator<Item = Place> + use<> {
        let known = self.named().into_iter().chain(self.examples.clone());
        known.chain([self.new.clone()]).chain(self.found())
    }
    /// The file that a copy of a scheme gets, if its name is one.
    pub fn copy_of(&self, place: &Place, name: &str) -> Option<PathBuf> {
        let folder = match &place.source {
            Source::File(path) => path.parent()?.to_owned(),
            Source::Example(_) => self.here.canonicalize().ok()?,
        };
        Some(folder.join(file_name(name)?))
    }
    /// Adds a file that was saved.
    pub fn add(&self, path: PathBuf) -> Place {
        let place = of_file(&path.display().to_string(), path);
        let mut named = self.named.lock().unwrap_or_else(PoisonError::into_inner);
        if !named.iter().any(|other| other.desk == place.desk) {
            named.push(place.clone());
        }
        place
    }
}

fn of_file(shown: &str, path: PathBuf) -> Place {
    let desk = hash(path.as_os_str().as_encoded_bytes());
    Place { name: shown.to_owned(), desk, source: Source::File(path) }
}

/// A name that can only be a file's in the folder: letters, digits, spaces, hyphens, dots inside.
fn file_name(name: &str) -> Option<String> {
    let name = name.trim();
    let stem = name.strip_suffix(".kdl").unwrap_or(name);
    let fits = !stem.is_empty()
        && stem.chars().count() <= 80
        && !stem.starts_with(['.', '-', ' '])
        && !stem.ends_with(['.', ' '])
        && !stem.eq_ignore_ascii_case("stories")
        && stem.chars().all(|it| it.is_alphanumeric() || matches!(it, ' ' | '-' | '_' | '.'));
    fits.then(|| format!("{stem}.kdl"))
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn a_copys_name_can_lead_nowhere_else() {
        assert_eq!(file_name("bay 4").as_deref(), Some("bay 4.kdl"));
        assert_eq!(file_name("bay.kdl").as_deref(), Some("bay.kdl"));
        for bad in ["", "../x", "a/b", "a\\b", ".hidden", "..", "C:x", "a\0b", "stories.kdl", "-x"]
        {
            assert_eq!(file_name(bad), None, "{bad:?}");
        }
    }
}
