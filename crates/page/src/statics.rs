//! The page's own files, built into the program. A path is looked up among their names and never
//! leads to the disk.

use axum::body::Body;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "../../web/dist/"]
struct Files;

/// A file by the path of its address.
pub fn file(path: &str) -> Option<Response> {
    let name = match path.trim_start_matches('/') {
        "" => "index.html",
        name => name,
    };
    // Names are compared as they are: nothing is decoded, no folder is walked.
    let name = Files::iter().find(|known| *known == name)?;
    let found = Files::get(&name)?;
    let mut response = Response::new(Body::from(found.data.into_owned()));
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind(&name)));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    Some(response)
}

fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "svg" => "image/svg+xml",
        "woff2" => "font/woff2",
        "png" => "image/png",
        "ico" => "image/x-icon",
        "json" | "webmanifest" => "application/json",
        _ => "text/plain; charset=utf-8",
    }
}
