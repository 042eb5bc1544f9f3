//! The user's own folder for what must outlive the program: the key of the page, and texts that are
//! not saved yet. Nobody else may read it.

use crate::text::hash;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// A text that was not saved.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Draft {
    /// The text.
    pub text: String,
    /// The fingerprint of the file it was made from.
    pub disk_hash: String,
}

/// Where things are kept; without a folder in memory only.
#[derive(Debug)]
pub struct Keeping {
    folder: Option<PathBuf>,
    in_memory: Mutex<BTreeMap<String, Draft>>,
}

/// The usual folder: `$XDG_STATE_HOME/fiftytwo`, else `~/.local/state/fiftytwo`.
pub fn usual_folder() -> Option<PathBuf> {
    let absolute =
        |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let state = absolute("XDG_STATE_HOME")
        .or_else(|| absolute("HOME").map(|home| home.join(".local").join("state")))?;
    Some(state.join("fiftytwo"))
}

impl Keeping {
    /// Keeps things in a folder, which is made; where that can't be, in memory.
    pub fn in_folder(folder: Option<PathBuf>) -> Self {
        let made = folder.filter(|folder| own_folder(folder).is_ok());
        Self { folder: made, in_memory: Mutex::default() }
    }
    /// The folder.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }
    /// The key of the page: the one of the last time, or a new one.
    ///
    /// # Errors
    /// The system has no randomness to give.
    pub fn key(&self) -> io::Result<String> {
        let path = self.folder.as_ref().map(|folder| folder.join("key"));
        if let Some(key) = path.as_deref().and_then(read_key) {
            return Ok(key);
        }
        let mut bytes = [0_u8; 16];
        getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
        let key: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        if let Some(path) = path {
            // Without it the page only has to be opened anew next time.
            let _ = write_own(&path, key.as_bytes());
        }
        Ok(key)
    }
    /// The text kept for a desk.
    pub fn draft(&self, desk: &str) -> Option<Draft> {
        let Some(folder) = &self.folder else {
            return self.memory().get(desk).cloned();
        };
        let bytes = fs::read(draft_path(folder, desk)).ok()?;
        serde_json::from_slice(&bytes).ok()
    }
    /// Keeps a text for a desk.
    ///
    /// # Errors
    /// The folder takes no more.
    pub fn keep(&self, desk: &str, draft: &Draft) -> io::Result<()> {
        let Some(folder) = &self.folder else {
            self.memory().insert(desk.to_owned(), draft.clone());
            return Ok(());
        };
        own_folder(&folder.join("drafts"))?;
        let bytes = serde_json::to_vec(draft)?;
        write_own(&draft_path(folder, desk), &bytes)
    }
    /// Forgets the text kept for a desk.
    pub fn forget(&self, desk: &str) {
        match &self.folder {
            None => {
                self.memory().remove(desk);
            }
            Some(folder) => {
                let _ = fs::remove_file(draft_path(folder, desk));
            }
        }
    }
    fn memory(&self) -> std::sync::MutexGuard<'_, BTreeMap<String, Draft>> {
        self.in_memory.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A desk's name is never part of a path.
fn draft_path(folder: &Path, desk: &str) -> PathBuf {
    folder.join("drafts").join(format!("{}.json", hash(desk.as_bytes())))
}

fn read_key(path: &Path) -> Option<String> {
    let mut key = String::new();
    fs::File::open(path).ok()?.take(64).read_to_string(&mut key).ok()?;
    let whole = key.len() == 32 && key.bytes().all(|byte| byte.is_ascii_hexdigit());
    whole.then_some(key)
}

/// Writes a file that only its owner may read, whole or not at all.
pub fn write_own(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    // A temporary file is its owner's alone from the start.
    let mut file = tempfile::Builder::new().prefix(".fiftytwo-").tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_data()?;
    file.persist(path).map_err(|error| error.error)?;
    Ok(())
}

fn own_folder(folder: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::{DirBuilderExt as _, PermissionsExt as _};
        builder.mode(0o700);
        builder.create(folder)?;
        fs::set_permissions(folder, fs::Permissions::from_mode(0o700))
    }
    #[cfg(not(unix))]
    builder.create(folder)
}
