//! `open`: what is printed, what is refused, how it ends.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, fiftytwo};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

fn opened(folder: &Path, words: &[&str]) -> (Child, String) {
    let mut child = fiftytwo()
        .current_dir(folder)
        .env("XDG_STATE_HOME", folder.join("state"))
        .args(["open", "--no-browser", "--port", "0"])
        .args(words)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    (child, line)
}

fn stop(mut child: Child) -> Option<i32> {
    let id = child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    child.wait().unwrap().code()
}

#[test]
fn the_first_line_is_the_whole_address_and_it_serves_until_it_is_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let (child, line) = opened(folder.path(), &[]);
    let rest = line.strip_prefix("http://127.0.0.1:").unwrap();
    let (port, key) = rest.trim_end().split_once("/#").unwrap();
    assert_eq!(key.len(), 32);
    let port: u16 = port.parse().unwrap();
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    write!(stream, "GET / HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\nconnection: close\r\n\r\n")
        .unwrap();
    let mut page = String::new();
    stream.read_to_string(&mut page).unwrap();
    assert!(page.starts_with("HTTP/1.1 200") && page.contains("<html"), "{page}");
    assert_eq!(stop(child), Some(0));
    // The key outlives it: a tab goes on.
    let (child, again) = opened(folder.path(), &[]);
    assert!(again.trim_end().ends_with(key), "{again}");
    assert_eq!(stop(child), Some(0));
}

#[test]
fn what_cannot_be_opened_is_refused_before_anything_is_served() {
    let folder = tempfile::tempdir().unwrap();
    for words in [
        vec!["open", "missing.kdl", "--no-browser"],
        vec!["open", "-", "--no-browser"],
        vec!["open", "--json", "--no-browser"],
        vec!["open", "--out", "x", "--no-browser"],
    ] {
        let run = Run::of(folder.path(), &words);
        assert_eq!(run.code, 2, "{words:?}: {}", run.err);
        assert!(run.err.contains("error") && !run.out.contains("http"), "{}", run.err);
    }
}

#[test]
fn a_port_in_use_is_refused_if_it_was_asked_for() {
    let taken = std::net::TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let folder = tempfile::tempdir().unwrap();
    let run = Run::of(folder.path(), &["open", "--no-browser", "--port", &port]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains(&port), "{}", run.err);
}
