//! Desks: an open scheme each, with the last texts of it that were asked about.

use crate::answer::Refusal;
use crate::keeping::Keeping;
use crate::library::{Library, Place, Source};
use crate::model::Known;
use crate::text::{hash, plain};
use serde::Deserialize;
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

/// Texts remembered of one desk.
const TEXTS: usize = 6;
/// The largest text, bytes.
pub const MOST_TEXT: usize = 4 << 20;

/// Everything the server holds.
#[derive(Debug)]
pub struct Office {
    /// What may be opened.
    pub library: Library,
    /// What outlives the program.
    pub keeping: Keeping,
    /// Who works out the worst corners of a text.
    pub checking: Semaphore,
    desks: Mutex<BTreeMap<String, Arc<Desk>>>,
}

/// An open scheme.
#[derive(Debug)]
pub struct Desk {
    /// What lies on it.
    pub place: Place,
    texts: tokio::sync::Mutex<VecDeque<Arc<Known>>>,
}

/// The text a question is about.
#[derive(Debug, Clone, Deserialize)]
pub struct Which {
    /// The desk.
    pub desk: String,
    /// The whole text.
    #[serde(default)]
    pub text: Option<String>,
    /// The fingerprint of a text asked about before.
    #[serde(default)]
    pub text_hash: Option<String>,
}

/// A file as it is on the disk.
#[derive(Debug, Clone)]
pub struct OnDisk {
    /// Its fingerprint, of its bytes.
    pub hash: String,
    /// Its text as it is.
    pub raw: String,
}

impl Office {
    /// An office.
    pub fn new(library: Library, keeping: Keeping) -> Self {
        Self { library, keeping, checking: Semaphore::new(1), desks: Mutex::default() }
    }
    /// A desk by its id; it is set up when it is first asked for, also after a new start.
    ///
    /// # Errors
    /// Nothing lies there.
    pub async fn desk(self: &Arc<Self>, id: &str) -> Result<Arc<Desk>, Refusal> {
        let known = self.desks().get(id).cloned();
        if let Some(desk) = known {
            return Ok(desk);
        }
        let (office, wanted) = (self.clone(), id.to_owned());
        let place = spawn_blocking(move || office.library.by_desk(&wanted));
        let place = place.await.map_err(|_| Refusal::defect())?;
        let place = place.ok_or_else(|| {
            Refusal::missing(
                "This scheme is not open here.",
                "Open it again under Schemes, or start fiftytwo with its file.",
            )
        })?;
        Ok(self.set_up(place))
    }
    /// The desk of a place.
    pub fn set_up(&self, place: Place) -> Arc<Desk> {
        let mut desks = self.desks();
        let id = place.desk.clone();
        let new = || Arc::new(Desk { place, texts: tokio::sync::Mutex::default() });
        desks.entry(id).or_insert_with(new).clone()
    }
    /// Whether a desk is set up.
    pub fn is_open(&self, id: &str) -> bool {
        self.desks().contains_key(id)
    }
    /// The text a question is about, read.
    ///
    /// # Errors
    /// The desk or the text is not known.
    pub async fn known(self: &Arc<Self>, which: Which) -> Result<Arc<Known>, Refusal> {
        let desk = self.desk(&which.desk).await?;
        desk.known(which).await
    }
    fn desks(&self) -> std::sync::MutexGuard<'_, BTreeMap<String, Arc<Desk>>> {
        self.desks.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Desk {
    async fn known(&self, which: Which) -> Result<Arc<Known>, Refusal> {
        let wanted = match (&which.text, which.text_hash) {
            (Some(text), _) if text.len() > MOST_TEXT => return Err(too_long()),
            (Some(text), _) => hash(text.as_bytes()),
            (None, Some(hash)) => hash,
            (None, None) => return Err(Refusal::unclear("The question names no text.")),
        };
        let mut texts = self.texts.lock().await;
        if let Some(at) = texts.iter().position(|known| known.hash == wanted) {
            let known = texts.remove(at).ok_or_else(Refusal::defect)?;
            if known.is_fresh() {
                texts.push_front(known.clone());
                return Ok(known);
            }
            // The files beside it have changed: the same text means something else now.
            let text = known.places.text().to_owned();
            return self.read(&mut texts, wanted, text).await;
        }
        let Some(text) = which.text else {
            return Err(Refusal::conflict(
                "This text is not remembered here.",
                "The page sends it once more by itself.",
            )
            .with("unknown_text", true));
        };
        self.read(&mut texts, wanted, text).await
    }
    async fn read(
        &self,
        texts: &mut VecDeque<Arc<Known>>,
        hash: String,
        text: String,
    ) -> Result<Arc<Known>, Refusal> {
        let source = self.place.source.clone();
        let known = spawn_blocking(move || Known::read(hash, &source, &text));
        let known = Arc::new(known.await.map_err(|_| Refusal::defect())?);
        texts.push_front(known.clone());
        texts.truncate(TEXTS);
        Ok(known)
    }
    /// What the file holds now; an example holds what it always did.
    ///
    /// # Errors
    /// The file can't be read.
    pub fn on_disk(&self) -> Result<OnDisk, Refusal> {
        let path = match &self.place.source {
            Source::Example(example) => {
                let raw = example.scheme.clone();
                return Ok(OnDisk { hash: hash(raw.as_bytes()), raw });
            }
            Source::File(path) => path,
        };
        let shown = path.display();
        let gone = |error: std::io::Error| {
            let cause = match error.kind() {
                std::io::ErrorKind::NotFound => "it is not there any more",
                std::io::ErrorKind::PermissionDenied => "you may not read it",
                _ => "the system refuses it",
            };
            Refusal::missing(
                format!("{shown} can't be read: {cause}."),
                "Your text is kept. Put the file back, or keep it as another file.",
            )
        };
        let size = std::fs::metadata(path).map_err(gone)?.len();
        if size > MOST_TEXT as u64 {
            return Err(too_long());
        }
        let bytes = std::fs::read(path).map_err(gone)?;
        let fingerprint = hash(&bytes);
        let raw = String::from_utf8(bytes).map_err(|_| {
            Refusal::conflict(format!("{shown} is not text."), "Save it as plain text in UTF-8.")
        })?;
        Ok(OnDisk { hash: fingerprint, raw })
    }
}

impl OnDisk {
    /// Its text as an editor has it.
    pub fn text(&self) -> String {
        plain(&self.raw)
    }
}

/// A text beyond what is taken.
pub fn too_long() -> Refusal {
    Refusal::new(
        axum::http::StatusCode::PAYLOAD_TOO_LARGE,
        format!("The text is longer than {} MB: surely no scheme.", MOST_TEXT >> 20),
        "Open the scheme's own file.",
    )
}
