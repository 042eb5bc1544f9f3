//! What the file holds now.

use crate::answer::Refusal;
use crate::server::Shared;
use serde::{Deserialize, Serialize};
use tokio::task::spawn_blocking;

#[derive(Debug, Deserialize)]
pub struct Asked {
    desk: String,
}

#[derive(Debug, Serialize)]
pub struct Told {
    disk_hash: String,
    text: String,
}

pub async fn disk(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let desk = shared.office.desk(&asked.desk).await?;
    spawn_blocking(move || {
        let disk = desk.on_disk()?;
        Ok(Told { text: disk.text(), disk_hash: disk.hash })
    })
    .await
    .map_err(|_| Refusal::defect())?
}
