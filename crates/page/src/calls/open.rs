//! Opens a scheme by its name.

use super::schemes::title;
use crate::answer::Refusal;
use crate::library::Source;
use crate::server::Shared;
use crate::text::{lines_differ, plain};
use serde::{Deserialize, Serialize};
use tokio::task::spawn_blocking;

#[derive(Debug, Deserialize)]
pub struct Asked {
    name: String,
}

#[derive(Debug, Serialize)]
pub struct Told {
    desk: String,
    name: String,
    title: String,
    file: Option<String>,
    text: String,
    disk_hash: String,
    draft: Option<Draft>,
}

#[derive(Debug, Serialize)]
struct Draft {
    text: String,
    lines_differ: usize,
    /// The file it was made from.
    disk_hash: String,
    /// The file has changed since.
    changed_on_disk: bool,
}

pub async fn open(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let office = shared.office.clone();
    spawn_blocking(move || {
        // A tab that comes back knows its desk.
        let place =
            office.library.by_name(&asked.name).or_else(|| office.library.by_desk(&asked.name));
        let place = place.ok_or_else(|| {
            Refusal::missing(
                "There is no such scheme to open.",
                "Choose one under Schemes, or start fiftytwo with its file.",
            )
        })?;
        let desk = office.set_up(place.clone());
        let disk = desk.on_disk()?;
        let text = disk.text();
        let kept = office.keeping.draft(&place.desk).filter(|kept| plain(&kept.text) != text);
        let draft = kept.map(|kept| Draft {
            lines_differ: lines_differ(&text, &plain(&kept.text)),
            changed_on_disk: kept.disk_hash != disk.hash,
            text: kept.text,
            disk_hash: kept.disk_hash,
        });
        Ok(Told {
            title: title(&text),
            file: match &place.source {
                Source::File(path) => Some(path.display().to_string()),
                Source::Example(_) => None,
            },
            desk: place.desk,
            name: place.name,
            text,
            disk_hash: disk.hash,
            draft,
        })
    })
    .await
    .map_err(|_| Refusal::defect())?
}
