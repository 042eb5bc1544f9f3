//! Who may ask, and what can be reached: each rule with a request as an attacker would send it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Served, example};
use fiftytwo_page::Wanted;
use serde_json::json;

fn changed(served: &Served, name: &str, value: Option<&str>) -> Vec<(String, String)> {
    let mut headers = served.headers();
    headers.retain(|(known, _)| known != name);
    if let Some(value) = value {
        headers.push((name.to_owned(), value.to_owned()));
    }
    headers
}

fn schemes_with(served: &Served, name: &str, value: Option<&str>) -> common::Came {
    served.with("POST", "/api/schemes", &changed(served, name, value), b"{}")
}

#[test]
fn the_pages_own_question_is_answered() {
    let served = Served::examples();
    let came = served.post("schemes", &json!({}));
    assert_eq!(came.status, 200, "{}", came.body);
    assert!(came.head.contains("no-store"), "{}", came.head);
    let localhost = format!("localhost:{}", served.port);
    assert_eq!(schemes_with(&served, "host", Some(&localhost)).status, 200);
}

#[test]
fn a_name_led_here_by_somebody_else_is_refused_for_questions_and_for_files() {
    let served = Served::examples();
    let port = served.port;
    for host in
        [format!("evil.example:{port}"), "127.0.0.1".to_owned(), format!("127.0.0.1.evil:{port}")]
    {
        schemes_with(&served, "host", Some(&host)).is_refusal(403);
        let headers = [("host".to_owned(), host)];
        served.with("GET", "/", &headers, b"").is_refusal(403);
    }
    let twice = [
        ("host".to_owned(), format!("127.0.0.1:{port}")),
        ("host".to_owned(), "evil.example".to_owned()),
    ];
    assert!(served.with("GET", "/", &twice, b"").status >= 400);
}

#[test]
fn another_page_is_refused_even_with_the_key() {
    let served = Served::examples();
    let other_port = format!("http://127.0.0.1:{}", served.port.wrapping_add(1));
    for origin in ["http://evil.example", "null", "https://127.0.0.1", &other_port, ""] {
        schemes_with(&served, "origin", Some(origin)).is_refusal(403);
    }
    for site in ["cross-site", "same-site", "none"] {
        schemes_with(&served, "sec-fetch-site", Some(site)).is_refusal(403);
    }
}

#[test]
fn nobody_asks_without_the_key() {
    let served = Served::examples();
    let long = format!("{}0", served.key);
    for key in [None, Some(""), Some("0"), Some("00000000000000000000000000000000"), Some(&long)] {
        schemes_with(&served, "x-fiftytwo-key", key).is_refusal(401);
    }
    // Two keys, one of them right.
    let mut headers = served.headers();
    headers.push(("x-fiftytwo-key".to_owned(), "0".to_owned()));
    served.with("POST", "/api/schemes", &headers, b"{}").is_refusal(401);
    for file in ["/", "/index.html", "/page.js"] {
        let host = [("host".to_owned(), format!("127.0.0.1:{}", served.port))];
        let came = served.with("GET", file, &host, b"");
        assert!(!came.body.contains(&served.key), "{file} holds the key");
    }
}

#[test]
fn questions_come_by_post_and_in_json() {
    let served = Served::examples();
    for method in ["GET", "HEAD", "PUT", "DELETE", "OPTIONS"] {
        let came = served.with(method, "/api/schemes", &served.headers(), b"");
        assert_eq!(came.status, 405, "{method}");
    }
    for kind in [None, Some("text/plain"), Some("application/x-www-form-urlencoded")] {
        schemes_with(&served, "content-type", kind).is_refusal(415);
    }
}

#[test]
fn too_large_a_question_is_refused_by_its_header_and_by_its_bytes() {
    let served = Served::examples();
    let mut head = String::from("POST /api/schemes HTTP/1.1\r\nconnection: close\r\n");
    for (name, value) in served.headers() {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    served.raw(format!("{head}content-length: {}\r\n\r\n{{}}", 9 << 20).as_bytes()).is_refusal(413);
    let mut bytes = format!("{head}transfer-encoding: chunked\r\n\r\n").into_bytes();
    let piece = vec![b' '; 1 << 20];
    for _ in 0..9 {
        bytes.extend_from_slice(format!("{:x}\r\n", piece.len()).as_bytes());
        bytes.extend_from_slice(&piece);
        bytes.extend_from_slice(b"\r\n");
    }
    bytes.extend_from_slice(b"0\r\n\r\n");
    let came = served.raw(&bytes);
    // The answer may be lost where the server closes on who still sends; it is never a 200.
    assert!(came.status == 413 || came.status == 0, "{}", came.status);
    let (_, scheme) = served.open("dunmarrow");
    let long = "/".repeat((4 << 20) + 1);
    for call in ["read", "run"] {
        let question = json!({ "scheme": { "desk": scheme["desk"], "text": long } });
        served.post(call, &question).is_refusal(413);
    }
    served.post("keep", &json!({ "desk": scheme["desk"], "text": long })).is_refusal(413);
}

#[test]
fn no_path_leads_out_of_the_pages_files() {
    let served = Served::examples();
    let host = [("host".to_owned(), format!("127.0.0.1:{}", served.port))];
    for path in [
        "/../Cargo.toml",
        "/../../Cargo.toml",
        "/%2e%2e/%2e%2e/Cargo.toml",
        "/..%2f..%2fCargo.toml",
        "/%2e%2e%5c%2e%2e%5cCargo.toml",
        "//etc/passwd",
        "/./../../../../../../etc/passwd",
        "/static/../../Cargo.toml",
        "/%00",
        "/index.html%00.js",
        "/C:/windows/win.ini",
    ] {
        let came = served.with("GET", path, &host, b"");
        assert!(matches!(came.status, 400 | 404), "{path}: {} {}", came.status, came.body);
    }
    let page = served.with("GET", "/", &host, b"");
    assert_eq!(page.status, 200);
    let head = page.head.to_ascii_lowercase();
    for rule in [
        "content-security-policy: default-src 'none'; script-src 'self';",
        "frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
    ] {
        assert!(head.contains(rule), "{rule} is missing in {head}");
    }
}

#[test]
fn no_name_opens_a_file_that_was_not_named() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("in");
    std::fs::create_dir(&inside).unwrap();
    std::fs::write(inside.join("bay.kdl"), example("dunmarrow")).unwrap();
    std::fs::write(inside.join("other.kdl"), example("dunmarrow")).unwrap();
    std::fs::write(inside.join("note.txt"), "not a scheme").unwrap();
    std::fs::write(folder.path().join("secret.kdl"), "scheme \"secret\"").unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(folder.path().join("secret.kdl"), inside.join("link.kdl")).unwrap();
    let served = Served::new(Wanted { files: vec![inside.join("bay.kdl")], ..Wanted::default() });
    let told = served.ask("schemes", &json!({}));
    let found = told["found"].as_array().unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0]["name"].as_str().unwrap().ends_with("other.kdl"));
    let bay = told["desks"][0]["name"].as_str().unwrap();
    assert_eq!(served.post("open", &json!({ "name": bay })).status, 200);
    let up = inside.join("../secret.kdl");
    for name in [
        "../secret.kdl",
        up.to_str().unwrap(),
        folder.path().join("secret.kdl").to_str().unwrap(),
        inside.join("link.kdl").to_str().unwrap(),
        inside.join("note.txt").to_str().unwrap(),
        "/etc/passwd",
        "",
        "in/bay.kdl\0",
    ] {
        served.post("open", &json!({ "name": name })).is_refusal(404);
        let scheme = json!({ "desk": name, "text": "scheme \"x\"" });
        served.post("read", &json!({ "scheme": scheme })).is_refusal(404);
    }
}

#[test]
fn a_text_reads_nothing_outside_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("in");
    std::fs::create_dir(&inside).unwrap();
    let file = inside.join("bay.kdl");
    std::fs::write(&file, example("dunmarrow")).unwrap();
    std::fs::write(folder.path().join("secret.kdl"), "note \"secret words\"").unwrap();
    let served = Served::new(Wanted { files: vec![file.clone()], ..Wanted::default() });
    let (text, scheme) = served.open(file.to_str().unwrap());
    let absolute = folder.path().join("secret.kdl");
    for used in ["../secret.kdl", absolute.to_str().unwrap(), "/etc/passwd"] {
        let text = format!("{text}\nuse \"{used}\"\n");
        let question = json!({ "scheme": { "desk": scheme["desk"], "text": text } });
        let told = served.ask("read", &question);
        assert_eq!(told["ok"], false, "{used}");
        assert_eq!(told["findings"][0]["id"], "use-outside", "{}", told["findings"]);
        assert!(!told.to_string().contains("secret words"));
    }
}
