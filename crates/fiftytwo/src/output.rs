//! Files that are written whole or not at all.
//!
//! **In:** names and bytes, collected while a run goes on. **Out:** files, each written under a
//! temporary name in its own folder and then renamed, so that a reader never sees half a file.
//! A file that has those bytes already is left alone. **Never here:** what the bytes mean.

use std::fs::{self, File, Permissions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Files to write at the end of a run.
#[derive(Debug, Default)]
pub struct Outputs {
    files: Vec<(PathBuf, Vec<u8>)>,
}

/// A file or folder that could not be written.
#[derive(Debug)]
pub struct Unwritten {
    /// Which.
    pub path: PathBuf,
    /// Why.
    pub cause: io::Error,
}

impl Outputs {
    /// Adds a file.
    pub fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), bytes.into()));
    }

    /// The paths, in the order they were added.
    pub fn paths(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(|(path, _)| path.as_path())
    }

    /// Writes everything: first all bytes under temporary names, then all renames, so that a
    /// full disk or a folder without permission leaves every old file as it was.
    ///
    /// # Errors
    /// The first file or folder that could not be written, with the system's reason.
    pub fn write(&self) -> Result<(), Unwritten> {
        let mut ready = Vec::new();
        for (path, bytes) in &self.files {
            let unwritten = |cause| Unwritten { path: path.clone(), cause };
            if let Some(temporary) = prepare(path, bytes).map_err(unwritten)? {
                ready.push((path, temporary));
            }
        }
        for (path, temporary) in ready {
            temporary
                .persist(path)
                .map_err(|error| Unwritten { path: path.clone(), cause: error.error })?;
        }
        Ok(())
    }
}

fn prepare(path: &Path, bytes: &[u8]) -> io::Result<Option<NamedTempFile>> {
    if is_already(path, bytes) {
        return Ok(None);
    }
    if path.is_dir() {
        return Err(io::Error::other("a folder of that name is in the way"));
    }
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    fs::create_dir_all(folder)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".fiftytwo-");
    let permissions = permissions_for(path);
    if let Some(permissions) = permissions {
        builder.permissions(permissions);
    }
    let mut temporary = builder.tempfile_in(folder)?;
    temporary.write_all(bytes)?;
    temporary.as_file().sync_data()?;
    Ok(Some(temporary))
}

fn is_already(path: &Path, bytes: &[u8]) -> bool {
    let same_length =
        fs::metadata(path).is_ok_and(|it| it.is_file() && it.len() == bytes.len() as u64);
    same_length && fs::read(path).is_ok_and(|old| old == bytes)
}

/// Those of the file to be replaced, else what a new file usually gets.
#[cfg(unix)]
fn permissions_for(path: &Path) -> Option<Permissions> {
    use std::os::unix::fs::PermissionsExt;
    let old = File::open(path).and_then(|file| file.metadata()).map(|it| it.permissions());
    Some(old.unwrap_or_else(|_| Permissions::from_mode(0o666)))
}

#[cfg(not(unix))]
fn permissions_for(_: &Path) -> Option<Permissions> {
    None
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail loudly")]
    use super::Outputs;
    use std::fs;

    #[test]
    fn nothing_is_written_if_one_file_cannot_be() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("old.txt"), "old").unwrap();
        fs::create_dir(folder.path().join("taken.txt")).unwrap();
        let mut outputs = Outputs::default();
        outputs.add(folder.path().join("old.txt"), "new");
        outputs.add(folder.path().join("taken.txt"), "new");
        let unwritten = outputs.write().unwrap_err();
        assert!(unwritten.path.ends_with("taken.txt"));
        assert_eq!(fs::read_to_string(folder.path().join("old.txt")).unwrap(), "old");
        let names = fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(names, 2, "a temporary file was left behind");
    }

    #[test]
    fn a_file_with_the_same_bytes_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("same.txt");
        fs::write(&path, "same").unwrap();
        let before = fs::metadata(&path).unwrap().modified().unwrap();
        std::thread::sleep(std::time::Duration::from_millis(20));
        let mut outputs = Outputs::default();
        outputs.add(&path, "same");
        outputs.write().unwrap();
        assert_eq!(fs::metadata(&path).unwrap().modified().unwrap(), before);
    }

    #[cfg(unix)]
    #[test]
    fn a_replaced_file_keeps_its_permissions() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("scheme.kdl");
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        let mut outputs = Outputs::default();
        outputs.add(&path, "new");
        outputs.write().unwrap();
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
