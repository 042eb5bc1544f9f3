//! What may be opened.

use crate::answer::Refusal;
use crate::library::{Place, Source};
use crate::server::Shared;
use crate::text::plain;
use serde::{Deserialize, Serialize};
use tokio::task::spawn_blocking;

/// Nothing is asked.
#[derive(Debug, Deserialize)]
pub struct Asked {}

/// Everything that may be opened.
#[derive(Debug, Serialize)]
pub struct Told {
    version: &'static str,
    desks: Vec<Desk>,
    found: Vec<Found>,
    examples: Vec<About>,
    /// Texts that were not saved outlive the program.
    drafts_last: bool,
}

#[derive(Debug, Serialize)]
struct Desk {
    id: String,
    name: String,
    title: String,
    file: Option<String>,
    changed_on_disk: bool,
    draft: bool,
}

#[derive(Debug, Serialize)]
struct Found {
    name: String,
}

#[derive(Debug, Serialize)]
struct About {
    name: String,
    about: String,
}

pub async fn schemes(shared: &Shared, _: Asked) -> Result<Told, Refusal> {
    let office = shared.office.clone();
    spawn_blocking(move || {
        let mut places: Vec<Place> = office.library.named();
        let examples = office.library.examples().to_vec();
        if places.is_empty() {
            places.extend(examples.iter().cloned());
        }
        let found = office.library.found();
        for place in examples.iter().chain(&found) {
            let known = places.iter().any(|other| other.desk == place.desk);
            if !known && office.is_open(&place.desk) {
                places.push(place.clone());
            }
        }
        let desks = places.into_iter().map(|place| {
            let desk = office.set_up(place.clone());
            let disk = desk.on_disk().ok();
            let draft = office.keeping.draft(&place.desk);
            let file = match &place.source {
                Source::File(path) => Some(path.display().to_string()),
                Source::Example(_) => None,
            };
            let changed_on_disk = match (&draft, &disk) {
                (Some(draft), Some(disk)) => draft.disk_hash != disk.hash,
                (None, Some(_)) => false,
                (_, None) => true,
            };
            Desk {
                title: disk.as_ref().map(|disk| title(&disk.raw)).unwrap_or_default(),
                draft: draft.is_some_and(|draft| {
                    disk.as_ref().is_none_or(|disk| disk.text() != plain(&draft.text))
                }),
                id: place.desk,
                name: place.name,
                file,
                changed_on_disk,
            }
        });
        let about = |place: &Place| match &place.source {
            Source::Example(example) => example.about.clone(),
            Source::File(_) => String::new(),
        };
        Told {
            version: env!("CARGO_PKG_VERSION"),
            desks: desks.collect(),
            found: found.iter().map(|place| Found { name: place.name.clone() }).collect(),
            examples: examples
                .iter()
                .map(|place| About { name: place.name.clone(), about: about(place) })
                .collect(),
            drafts_last: office.keeping.folder().is_some(),
        }
    })
    .await
    .map_err(|_| Refusal::defect())
}

/// The title, found without reading the whole text.
pub fn title(text: &str) -> String {
    text.lines()
        .find_map(|line| {
            let rest = line.trim_start().strip_prefix("scheme ")?.trim_start().strip_prefix('"')?;
            rest.split('"').next().map(str::to_owned)
        })
        .unwrap_or_default()
}
