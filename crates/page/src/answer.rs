//! What goes back to the browser: an answer as JSON, or a refusal that says what to do.

use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::json;

/// A question that is not answered.
#[derive(Debug, Clone)]
pub struct Refusal {
    status: StatusCode,
    error: String,
    help: String,
    more: Vec<(&'static str, serde_json::Value)>,
}

impl Refusal {
    /// A refusal: what is wrong, and what to do.
    pub fn new(status: StatusCode, error: impl Into<String>, help: impl Into<String>) -> Self {
        Self { status, error: error.into(), help: help.into(), more: Vec::new() }
    }
    /// A question that can't be understood.
    pub fn unclear(error: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, error, "Load the page again.")
    }
    /// Something that is not there.
    pub fn missing(error: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, error, help)
    }
    /// Something that stands against another thing.
    pub fn conflict(error: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(StatusCode::CONFLICT, error, help)
    }
    /// A defect of ours.
    pub fn defect() -> Self {
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "A defect of fiftytwo, not of your text.",
            "Your text is kept. Please report it together with the file.",
        )
    }
    /// With one more value beside the sentences.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<serde_json::Value>) -> Self {
        self.more.push((name, value.into()));
        self
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let mut body = json!({ "error": self.error, "help": self.help });
        if let Some(object) = body.as_object_mut() {
            object.extend(self.more.into_iter().map(|(name, value)| (name.to_owned(), value)));
        }
        as_json(self.status, body.to_string().into_bytes())
    }
}

/// An answer.
pub fn answer(value: &impl Serialize) -> Response {
    match serde_json::to_vec(value) {
        Ok(bytes) => as_json(StatusCode::OK, bytes),
        Err(_) => Refusal::defect().into_response(),
    }
}

fn as_json(status: StatusCode, bytes: Vec<u8>) -> Response {
    let mut response = Response::new(Body::from(bytes));
    *response.status_mut() = status;
    let kind = HeaderValue::from_static("application/json; charset=utf-8");
    response.headers_mut().insert(header::CONTENT_TYPE, kind);
    response
}
