//! Saving, drafts, and two desks.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Served, example, examples};
use fiftytwo_page::Wanted;
use serde_json::json;
use std::path::Path;

fn on(file: &Path, state: Option<&Path>) -> Served {
    Served::new(Wanted {
        files: vec![file.to_owned()],
        folder: state.map(Path::to_owned),
        examples: examples(),
        here: file.parent().unwrap().to_owned(),
        ..Wanted::default()
    })
}

#[test]
fn a_text_is_saved_whole_and_leaves_nothing_beside() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bay.kdl");
    std::fs::write(&file, example("dunmarrow")).unwrap();
    let served = on(&file, None);
    let opened = served.ask("open", &json!({ "name": file.to_str().unwrap() }));
    let text = format!("{}// a word\n", opened["text"].as_str().unwrap());
    let saved = served.ask(
        "save",
        &json!({ "desk": opened["desk"], "text": text, "disk_hash": opened["disk_hash"] }),
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
    assert_ne!(saved["disk_hash"], opened["disk_hash"]);
    let names: Vec<_> = std::fs::read_dir(folder.path()).unwrap().flatten().collect();
    assert_eq!(names.len(), 1, "{names:?}");
    let disk = served.ask("disk", &json!({ "desk": opened["desk"] }));
    assert_eq!(disk["disk_hash"], saved["disk_hash"]);
}

#[test]
fn a_file_changed_by_somebody_else_is_not_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bay.kdl");
    std::fs::write(&file, example("dunmarrow")).unwrap();
    let served = on(&file, None);
    let opened = served.ask("open", &json!({ "name": file.to_str().unwrap() }));
    let theirs = format!("{}// theirs\n", example("dunmarrow"));
    std::fs::write(&file, &theirs).unwrap();
    let question = json!({
        "desk": opened["desk"], "text": "scheme \"mine\"", "disk_hash": opened["disk_hash"]
    });
    let came = served.post("save", &question);
    came.is_refusal(409);
    let told = came.json();
    assert_eq!(told["changed"], true);
    assert_eq!(told["theirs"], theirs);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), theirs);
    // Theirs is known now: mine may be kept beside it, or over it, knowingly.
    let copy = json!({
        "desk": opened["desk"], "text": "scheme \"mine\"\n", "disk_hash": "", "as": "mine"
    });
    let saved = served.ask("save", &copy);
    assert_eq!(
        std::fs::read_to_string(folder.path().join("mine.kdl")).unwrap(),
        "scheme \"mine\"\n"
    );
    assert_ne!(saved["desk"], opened["desk"]);
    served.post("save", &copy).is_refusal(409);
}

#[test]
fn a_file_keeps_its_line_ends() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bay.kdl");
    let crlf = example("dunmarrow").replace('\n', "\r\n");
    std::fs::write(&file, &crlf).unwrap();
    let served = on(&file, None);
    let opened = served.ask("open", &json!({ "name": file.to_str().unwrap() }));
    assert!(!opened["text"].as_str().unwrap().contains('\r'));
    let question = json!({
        "desk": opened["desk"], "text": opened["text"], "disk_hash": opened["disk_hash"]
    });
    let saved = served.ask("save", &question);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), crlf);
    assert_eq!(saved["disk_hash"], opened["disk_hash"]);
}

#[cfg(unix)]
#[test]
fn a_file_keeps_who_may_read_it() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bay.kdl");
    std::fs::write(&file, example("dunmarrow")).unwrap();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
    let served = on(&file, None);
    let opened = served.ask("open", &json!({ "name": file.to_str().unwrap() }));
    let question = json!({ "desk": opened["desk"], "text": "scheme \"x\"\n", "disk_hash": opened["disk_hash"] });
    served.ask("save", &question);
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o640);
}

#[test]
fn an_example_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(Wanted {
        examples: examples(),
        here: folder.path().to_owned(),
        ..Wanted::default()
    });
    let opened = served.ask("open", &json!({ "name": "dunmarrow" }));
    let over = json!({
        "desk": opened["desk"], "text": "scheme \"x\"", "disk_hash": opened["disk_hash"]
    });
    let came = served.post("save", &over);
    came.is_refusal(409);
    assert_eq!(came.json()["example"], true);
    for bad in ["../x", "/tmp/x", "a/b", ".x", "stories"] {
        let question = json!({
            "desk": opened["desk"], "text": "x", "disk_hash": opened["disk_hash"], "as": bad
        });
        served.post("save", &question).is_refusal(400);
    }
    let copy = json!({
        "desk": opened["desk"], "text": opened["text"], "disk_hash": opened["disk_hash"], "as": "my bay"
    });
    let saved = served.ask("save", &copy);
    assert!(folder.path().join("my bay.kdl").is_file());
    let again = served.ask("open", &json!({ "name": saved["desk"] }));
    assert_eq!(again["text"], opened["text"]);
}

#[test]
fn a_text_not_saved_survives_the_server_and_the_key_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let state = folder.path().join("state");
    let file = folder.path().join("bay.kdl");
    std::fs::write(&file, example("dunmarrow")).unwrap();
    let name = file.to_str().unwrap();
    let (desk, key) = {
        let served = on(&file, Some(&state));
        let opened = served.ask("open", &json!({ "name": name }));
        assert!(opened["draft"].is_null());
        let text = opened["text"].as_str().unwrap().replace("12 to 20 ms", "12 to 30 ms");
        served.ask("keep", &json!({ "desk": opened["desk"], "text": text }));
        (opened["desk"].clone(), served.key.clone())
    };
    let served = on(&file, Some(&state));
    assert_eq!(served.key, key);
    // The tab goes on by its desk, without opening anything.
    let disk = served.ask("disk", &json!({ "desk": desk }));
    let opened = served.ask("open", &json!({ "name": name }));
    assert_eq!(opened["desk"], desk);
    let draft = &opened["draft"];
    assert_eq!(draft["lines_differ"], 2, "two relays' times were changed");
    assert_eq!(draft["disk_hash"], disk["disk_hash"]);
    assert_eq!(draft["changed_on_disk"], false);
    assert!(draft["text"].as_str().unwrap().contains("12 to 30 ms"));
    let told = served.ask("schemes", &json!({}));
    assert_eq!(told["desks"][0]["draft"], true);
    served.ask("forget", &json!({ "desk": desk }));
    assert!(served.ask("open", &json!({ "name": name }))["draft"].is_null());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&state), 0o700);
        assert_eq!(mode(&state.join("key")), 0o600);
    }
}

#[test]
fn two_desks_do_not_mix() {
    let folder = tempfile::tempdir().unwrap();
    let (one, two) = (folder.path().join("one.kdl"), folder.path().join("two.kdl"));
    std::fs::write(&one, example("dunmarrow")).unwrap();
    std::fs::write(&two, example("dunmarrow-repaired")).unwrap();
    let served = Served::new(Wanted { files: vec![one.clone(), two.clone()], ..Wanted::default() });
    let (text, first) = served.open(one.to_str().unwrap());
    let (other, second) = served.open(two.to_str().unwrap());
    assert_ne!(text, other);
    assert_ne!(first["desk"], second["desk"]);
    served.ask("keep", &json!({ "desk": first["desk"], "text": "scheme \"draft\"" }));
    let again = served.ask("open", &json!({ "name": two.to_str().unwrap() }));
    assert!(again["draft"].is_null());
    // A text that one desk remembers is unknown to the other.
    let read = served.ask("read", &json!({ "scheme": first }));
    let hash = read["text"].as_str().unwrap();
    let known = json!({ "scheme": { "desk": first["desk"], "text_hash": hash } });
    assert_eq!(served.ask("read", &known)["ok"], true);
    let unknown = json!({ "scheme": { "desk": second["desk"], "text_hash": hash } });
    let came = served.post("read", &unknown);
    came.is_refusal(409);
    assert_eq!(came.json()["unknown_text"], true);
}
