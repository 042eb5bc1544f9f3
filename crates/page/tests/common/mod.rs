//! A server on a port of its own, and a browser that says exactly what it is told to.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each test file uses its share; tests may fail loudly"
)]

use fiftytwo_page::{Example, Server, Wanted};
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::Duration;

/// A server under test; it ends with the value.
pub struct Served {
    pub port: u16,
    pub key: String,
    end: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

/// What came back.
#[derive(Debug)]
pub struct Came {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Came {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error} in {}", self.body))
    }
    /// A refusal says what is wrong and what to do, each in a sentence.
    pub fn is_refusal(&self, status: u16) {
        assert_eq!(self.status, status, "{}", self.body);
        let told = self.json();
        for name in ["error", "help"] {
            let words = told[name].as_str().unwrap_or_default();
            assert!(words.len() > 8 && words.ends_with('.'), "{name}: {words:?}");
        }
    }
}

pub fn examples() -> Vec<Example> {
    ["quillmere", "dunmarrow", "dunmarrow-repaired"]
        .map(|name| Example {
            name: name.to_owned(),
            about: String::new(),
            scheme: example(name),
            stories: std::fs::read_to_string(folder(name).join("stories.kdl")).unwrap_or_default(),
        })
        .to_vec()
}

pub fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name)
}

pub fn example(name: &str) -> String {
    std::fs::read_to_string(folder(name).join("scheme.kdl")).unwrap()
}

impl Served {
    /// The examples only, nothing kept.
    pub fn examples() -> Self {
        Self::new(Wanted { examples: examples(), ..Wanted::default() })
    }
    pub fn new(wanted: Wanted) -> Self {
        let here = if wanted.here.as_os_str().is_empty() {
            std::env::temp_dir()
        } else {
            wanted.here.clone()
        };
        let server = Server::new(Wanted { port: Some(0), here, ..wanted }).unwrap();
        let (port, key) = (server.port(), server.key().to_owned());
        let (end, ended) = tokio::sync::oneshot::channel::<()>();
        let thread = std::thread::spawn(move || {
            server
                .run(async {
                    let _ = ended.await;
                })
                .unwrap();
        });
        Self { port, key, end: Some(end), thread: Some(thread) }
    }
    /// Sends bytes as they are and reads until the other end closes.
    pub fn raw(&self, request: &[u8]) -> Came {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        // A server that refuses a long body early may close before all of it is sent.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((text.as_str(), ""));
        let status = head.split(' ').nth(1).and_then(|it| it.parse().ok()).unwrap_or(0);
        let chunked = head.to_ascii_lowercase().contains("transfer-encoding: chunked");
        let body = if chunked { unchunked(body) } else { body.to_owned() };
        Came { status, head: head.to_owned(), body }
    }
    /// The headers of the page's own question, to be changed one at a time.
    pub fn headers(&self) -> Vec<(String, String)> {
        let own = |name: &str, value: String| (name.to_owned(), value);
        vec![
            own("host", format!("127.0.0.1:{}", self.port)),
            own("origin", format!("http://127.0.0.1:{}", self.port)),
            own("sec-fetch-site", "same-origin".to_owned()),
            own("content-type", "application/json".to_owned()),
            own("x-fiftytwo-key", self.key.clone()),
        ]
    }
    pub fn with(
        &self,
        method: &str,
        path: &str,
        headers: &[(String, String)],
        body: &[u8],
    ) -> Came {
        let mut request = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
        for (name, value) in headers {
            request.push_str(&format!("{name}: {value}\r\n"));
        }
        request.push_str(&format!("content-length: {}\r\n\r\n", body.len()));
        let mut bytes = request.into_bytes();
        bytes.extend_from_slice(body);
        self.raw(&bytes)
    }
    pub fn post(&self, call: &str, question: &Value) -> Came {
        let body = question.to_string();
        self.with("POST", &format!("/api/{call}"), &self.headers(), body.as_bytes())
    }
    /// Asks, and takes nothing but an answer.
    pub fn ask(&self, call: &str, question: &Value) -> Value {
        let came = self.post(call, question);
        assert_eq!(came.status, 200, "{call}: {}", came.body);
        came.json()
    }
    /// Opens a scheme by name: its desk and text as a question names them.
    pub fn open(&self, name: &str) -> (String, Value) {
        let told = self.ask("open", &json!({ "name": name }));
        let text = told["text"].as_str().unwrap().to_owned();
        (text.clone(), json!({ "desk": told["desk"], "text": text }))
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        if let Some(end) = self.end.take() {
            let _ = end.send(());
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn unchunked(body: &str) -> String {
    let mut out = String::new();
    let mut rest = body;
    while let Some((length, after)) = rest.split_once("\r\n") {
        let Ok(length) = usize::from_str_radix(length.trim(), 16) else { break };
        if length == 0 {
            break;
        }
        let Some(piece) = after.get(..length) else { break };
        out.push_str(piece);
        rest = after.get(length + 2..).unwrap_or_default();
    }
    out
}
