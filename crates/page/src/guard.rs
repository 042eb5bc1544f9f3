//! Who may ask: only a page that this program served, on this machine, by who has its key.
//!
//! **In:** method and headers of a request. **Out:** nothing, or a refusal. **Never here:** what is
//! asked.

use crate::answer::Refusal;
use axum::http::{HeaderMap, HeaderName, Method, StatusCode, header};

/// The largest request, bytes.
pub const MOST_BODY: usize = 8 << 20;
/// The header with the key.
pub const KEY: &str = "x-fiftytwo-key";

/// What a server lets in.
#[derive(Debug, Clone)]
pub struct Guard {
    key: String,
    hosts: [String; 2],
}

impl Guard {
    /// For a key and a port.
    pub fn new(key: String, port: u16) -> Self {
        Self { key, hosts: [format!("127.0.0.1:{port}"), format!("localhost:{port}")] }
    }
    /// Whether the request names this server: another name means that somebody else's name was led
    /// here.
    ///
    /// # Errors
    /// It does not.
    pub fn host(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let host = only(headers, &header::HOST)
            .filter(|host| self.hosts.iter().any(|own| own.eq_ignore_ascii_case(host)));
        host.map(|_| ()).ok_or_else(|| {
            Refusal::new(
                StatusCode::FORBIDDEN,
                "This address leads here by another name.",
                format!("Open http://{}/ with the key that fiftytwo printed.", self.hosts[0]),
            )
        })
    }
    /// Whether a question may be asked.
    ///
    /// # Errors
    /// Why not.
    pub fn question(&self, method: &Method, headers: &HeaderMap) -> Result<(), Refusal> {
        self.host(headers)?;
        if method != Method::POST {
            return Err(Refusal::new(
                StatusCode::METHOD_NOT_ALLOWED,
                "Questions are asked by POST only.",
                "Open the page itself.",
            ));
        }
        let foreign = || {
            Refusal::new(
                StatusCode::FORBIDDEN,
                "Another page asks: only fiftytwo's own page may.",
                "Use the page that fiftytwo opened.",
            )
        };
        if headers.contains_key(header::ORIGIN) {
            let own = only(headers, &header::ORIGIN).and_then(|it| it.strip_prefix("http://"));
            if !own.is_some_and(|it| self.hosts.iter().any(|host| host.eq_ignore_ascii_case(it))) {
                return Err(foreign());
            }
        }
        let site = HeaderName::from_static("sec-fetch-site");
        if headers.contains_key(&site) && only(headers, &site) != Some("same-origin") {
            return Err(foreign());
        }
        let key = only(headers, &HeaderName::from_static(KEY)).unwrap_or_default();
        if !same(key.as_bytes(), self.key.as_bytes()) {
            return Err(Refusal::new(
                StatusCode::UNAUTHORIZED,
                "The key is missing or another one.",
                "Open the whole address that fiftytwo printed, with what stands behind the #.",
            ));
        }
        let kind = only(headers, &header::CONTENT_TYPE).unwrap_or_default();
        let kind = kind.split(';').next().unwrap_or_default().trim();
        if !kind.eq_ignore_ascii_case("application/json") {
            return Err(Refusal::new(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "Questions are asked in JSON only.",
                "Load the page again.",
            ));
        }
        let length = only(headers, &header::CONTENT_LENGTH).and_then(|it| it.parse::<u64>().ok());
        if length.is_some_and(|length| length > MOST_BODY as u64) {
            return Err(too_large());
        }
        Ok(())
    }
}

/// A request beyond what is taken.
pub fn too_large() -> Refusal {
    Refusal::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        format!("A question is at most {} MB long.", MOST_BODY >> 20),
        "Open the scheme's own file.",
    )
}

/// A header that stands there exactly once.
fn only<'h>(headers: &'h HeaderMap, name: &HeaderName) -> Option<&'h str> {
    let mut all = headers.get_all(name).iter();
    let one = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(one)
}

/// Compares without telling by its time how far they agree.
fn same(one: &[u8], other: &[u8]) -> bool {
    let differ = one.iter().zip(other).fold(0_u8, |differ, (a, b)| differ | (a ^ b));
    one.len() == other.len() && !other.is_empty() && differ == 0
}
