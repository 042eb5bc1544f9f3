//! The calls: one file each.

mod check;
mod coils;
mod disk;
mod edit;
mod levers;
mod offers;
mod open;
mod papers;
mod patterns;
mod picture;
mod prove;
mod read;
mod reading;
mod report;
mod run;
mod save;
mod schemes;
mod values;
mod why;
mod words;

use crate::answer::{Refusal, answer as reply};
use crate::server::Shared;
use axum::response::Response;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// Answers a call by its name.
///
/// # Errors
/// Why it is not answered.
pub async fn answer(name: &str, shared: Shared, body: &[u8]) -> Result<Response, Refusal> {
    match name {
        "schemes" => told(schemes::schemes(&shared, asked(body)?).await),
        "open" => told(open::open(&shared, asked(body)?).await),
        "keep" => told(save::keep(&shared, asked(body)?).await),
        "forget" => told(save::forget(&shared, asked(body)?).await),
        "save" => told(save::save(&shared, asked(body)?).await),
        "disk" => told(disk::disk(&shared, asked(body)?).await),
        "read" => told(read::read(&shared, asked(body)?).await),
        "run" => told(run::run(&shared, asked(body)?).await),
        "picture" => told(picture::picture(&shared, asked(body)?).await),
        "edit" => told(edit::edit(&shared, asked(body)?).await),
        "offers" => told(offers::offers(&shared, asked(body)?).await),
        "format" => told(words::format(&shared, asked(body)?).await),
        "words" => told(words::words(asked(body)?).await),
        "check" => told(check::check(&shared, asked(body)?).await),
        "coils" => told(coils::coils(&shared, asked(body)?).await),
        "along" => told(coils::along(&shared, asked(body)?).await),
        "levers" => told(levers::levers(&shared, asked(body)?).await),
        "what-if" => told(levers::what_if(&shared, asked(body)?).await),
        "reading" => told(reading::reading(&shared, asked(body)?).await),
        "papers" => told(papers::papers(&shared, asked(body)?).await),
        "patterns" => told(patterns::patterns(asked(body)?).await),
        "begin" => told(patterns::begin(asked(body)?).await),
        "prove" => prove::prove(&shared, asked(body)?).await,
        "why" => told(why::why(&shared, asked(body)?).await),
        "why-not" => told(why::why_not(&shared, asked(body)?).await),
        _ => Err(Refusal::missing(
            "There is no such question.",
            "The page and fiftytwo are of different versions: load the page again.",
        )),
    }
}

fn asked<Q: DeserializeOwned>(body: &[u8]) -> Result<Q, Refusal> {
    serde_json::from_slice(body)
        .map_err(|error| Refusal::unclear(format!("The question can't be understood: {error}.")))
}

fn told<A: Serialize>(result: Result<A, Refusal>) -> Result<Response, Refusal> {
    result.map(|value| reply(&value))
}

/// An answer without content.
#[derive(Debug, Serialize)]
pub struct Done {}
