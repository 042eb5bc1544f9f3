//! What `check` finds at the worst corners: volts, currents, ratings, grounds. It takes longer than a
//! picture may, so the page asks for it beside the reading.

use crate::answer::Refusal;
use crate::desks::Which;
use crate::server::Shared;
use crate::told;
use serde::{Deserialize, Serialize};

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    findings: Vec<told::Finding>,
}

pub async fn check(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    // One at a time: while somebody types, the texts that are gone by need no answer any more.
    let _turn = shared.office.checking.acquire().await.map_err(|_| Refusal::defect())?;
    let found = known.worst().await?;
    let findings = told::findings(found, &known.reading, &known.places);
    Ok(Told { text: known.hash.clone(), findings })
}
