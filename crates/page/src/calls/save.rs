//! Saves a text, whole or not at all, and never over what somebody else has written; keeps texts that
//! are not saved yet.

use super::Done;
use crate::answer::Refusal;
use crate::desks::{Desk, MOST_TEXT, Office, too_long};
use crate::keeping::Draft;
use crate::library::Source;
use crate::server::Shared;
use crate::text::{hash, in_manner_of};
use serde::{Deserialize, Serialize};
use std::io::{self, Write as _};
use std::path::Path;
use std::sync::Arc;
use tokio::task::spawn_blocking;

#[derive(Debug, Deserialize)]
pub struct Keep {
    desk: String,
    text: String,
    /// The file the text was made from; none: as it is now.
    #[serde(default)]
    disk_hash: Option<String>,
}

#[derive(Debug, Deserialize)]
pub struct Forget {
    desk: String,
}

#[derive(Debug, Deserialize)]
pub struct Save {
    desk: String,
    text: String,
    disk_hash: String,
    /// Keep it as another file, in the same folder.
    #[serde(default, rename = "as")]
    as_name: Option<String>,
}

#[derive(Debug, Serialize)]
pub struct Saved {
    disk_hash: String,
    desk: String,
    name: String,
    file: Option<String>,
}

pub async fn keep(shared: &Shared, asked: Keep) -> Result<Done, Refusal> {
    let Keep { desk, text, disk_hash } = asked;
    if text.len() > MOST_TEXT {
        return Err(too_long());
    }
    let desk = shared.office.desk(&desk).await?;
    let office = shared.office.clone();
    spawn_blocking(move || {
        let disk_hash = match disk_hash {
            Some(hash) => hash,
            None => desk.on_disk().map(|disk| disk.hash).unwrap_or_default(),
        };
        office.keeping.keep(&desk.place.desk, &Draft { text, disk_hash }).map_err(|error| {
            Refusal::new(
                axum::http::StatusCode::INSUFFICIENT_STORAGE,
                format!("The text can't be kept beside the file: {}.", plain(&error)),
                "Save it now, or copy it elsewhere before you close the page.",
            )
        })?;
        Ok(Done {})
    })
    .await
    .map_err(|_| Refusal::defect())?
}

pub async fn forget(shared: &Shared, asked: Forget) -> Result<Done, Refusal> {
    let desk = shared.office.desk(&asked.desk).await?;
    let office = shared.office.clone();
    spawn_blocking(move || office.keeping.forget(&desk.place.desk))
        .await
        .map_err(|_| Refusal::defect())?;
    Ok(Done {})
}

pub async fn save(shared: &Shared, asked: Save) -> Result<Saved, Refusal> {
    if asked.text.len() > MOST_TEXT {
        return Err(too_long());
    }
    let desk = shared.office.desk(&asked.desk).await?;
    let office = shared.office.clone();
    spawn_blocking(move || match &asked.as_name {
        Some(name) => save_as(&office, &desk, &asked.text, name),
        None => save_over(&office, &desk, &asked),
    })
    .await
    .map_err(|_| Refusal::defect())?
}

fn save_over(office: &Office, desk: &Arc<Desk>, asked: &Save) -> Result<Saved, Refusal> {
    let Source::File(path) = &desk.place.source else {
        return Err(Refusal::conflict(
            "This is a bundled example; it stays as it is.",
            "Keep it as another file.",
        )
        .with("example", true));
    };
    let disk = desk.on_disk()?;
    if disk.hash != asked.disk_hash {
        return Err(Refusal::conflict(
            "The file was changed by somebody else since you opened it. Nothing is overwritten.",
            "Look at both texts; keep yours as another file, or take theirs.",
        )
        .with("changed", true)
        .with("theirs", disk.text())
        .with("disk_hash", disk.hash));
    }
    let text = in_manner_of(&asked.text, &disk.raw);
    write(path, &text, true).map_err(|error| unwritten(path, &error))?;
    office.keeping.forget(&desk.place.desk);
    Ok(Saved {
        disk_hash: hash(text.as_bytes()),
        desk: desk.place.desk.clone(),
        name: desk.place.name.clone(),
        file: Some(path.display().to_string()),
    })
}

fn save_as(office: &Office, desk: &Arc<Desk>, text: &str, name: &str) -> Result<Saved, Refusal> {
    let path = office.library.copy_of(&desk.place, name).ok_or_else(|| {
        Refusal::unclear(format!("{name:?} can't be the name of a file here.")).with("name", name)
    })?;
    write(&path, text, false).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => Refusal::conflict(
            format!("{} is there already. Nothing is overwritten.", path.display()),
            "Choose another name.",
        ),
        _ => unwritten(&path, &error),
    })?;
    office.keeping.forget(&desk.place.desk);
    let whole = path.canonicalize().unwrap_or_else(|_| path.clone());
    let place = office.library.add(whole);
    let desk = office.set_up(place.clone());
    Ok(Saved {
        disk_hash: desk.on_disk()?.hash,
        desk: place.desk,
        file: Some(place.name.clone()),
        name: place.name,
    })
}

/// Writes under another name in the same folder, then renames: whoever reads finds the old text or
/// the new one.
fn write(path: &Path, text: &str, over: bool) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".fiftytwo-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(path).map_or(0o644, |it| it.permissions().mode() & 0o777);
        builder.permissions(std::fs::Permissions::from_mode(mode));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    let renamed = if over { file.persist(path) } else { file.persist_noclobber(path) };
    renamed.map(|_| ()).map_err(|error| error.error)
}

fn unwritten(path: &Path, error: &io::Error) -> Refusal {
    Refusal::new(
        axum::http::StatusCode::INSUFFICIENT_STORAGE,
        format!("{} can't be written: {}.", path.display(), plain(error)),
        "Your text is kept here. Put the cause right, or keep it as another file.",
    )
}

fn plain(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::PermissionDenied => "you may not write there",
        io::ErrorKind::StorageFull => "the disk is full",
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read",
        io::ErrorKind::NotFound => "the folder is not there any more",
        _ => "the system refuses it",
    }
}
