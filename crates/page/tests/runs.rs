//! Runs led by hand: what a person does, what comes of it, and the same events as on the terminal.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Served, folder};
use fiftytwo_motion::{Machine, PlayOptions, play};
use fiftytwo_scheme::read_path;
use serde_json::{Value, json};
use std::collections::BTreeSet;

fn events(told: &Value) -> Vec<String> {
    let events = told["events"].as_array().unwrap().iter();
    events
        .filter(|event| event["kind"] != "gave up")
        .map(|event| format!("{} {}", event["time_us"], event["what"].as_str().unwrap()))
        .collect()
}

fn whats(told: &Value, part: &str) -> usize {
    let events = told["events"].as_array().unwrap().iter();
    events.filter(|event| event["what"].as_str().unwrap().contains(part)).count()
}

fn press(at_us: i64, what: &str, to: &str) -> Value {
    json!({ "at_us": at_us, "do": "press", "what": what, "to": to })
}

#[test]
fn the_breaker_of_quillmere_closes_on_a_press() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let read = served.ask("read", &json!({ "scheme": scheme }));
    let acts = json!([press(0, "device:52CS", "close")]);
    let told =
        served.ask("run", &json!({ "scheme": scheme, "start": read["start"], "acts": acts }));
    assert_eq!(whats(&told, "52 closed: main contacts touch"), 1);
    assert!(told["refused"].is_null());
    let bands = told["bands"].to_string();
    assert!(bands.contains("\"at\":\"close\""), "{bands}");
    // Let go, it springs back.
    let acts = json!([
        press(0, "device:52CS", "close"),
        { "at_us": 300_000, "do": "release", "what": "device:52CS" }
    ]);
    let told =
        served.ask("run", &json!({ "scheme": scheme, "start": read["start"], "acts": acts }));
    assert!(told["bands"].to_string().contains("\"at\":\"after close\""));
}

#[test]
fn a_standing_close_on_to_a_fault_pumps_in_dunmarrow_until_the_air_is_gone() {
    let served = Served::examples();
    for (name, closings) in [("dunmarrow", 5), ("dunmarrow-repaired", 1)] {
        let (_, scheme) = served.open(name);
        let read = served.ask("read", &json!({ "scheme": scheme }));
        let acts = json!([press(0, "device:52CS", "close")]);
        let told =
            served.ask("run", &json!({ "scheme": scheme, "start": read["start"], "acts": acts }));
        assert_eq!(whats(&told, "a closing begins"), closings, "{name}: air for five");
    }
}

#[test]
fn it_is_told_that_the_anti_pump_never_picked_up_and_where_its_feed_left() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let question = json!({
        "scheme": scheme, "story": "A standing close on to a fault", "until_us": 100_000
    });
    let told = served.ask("run", &question);
    let all = told["events"].as_array().unwrap();
    let gave_up = all.iter().find(|event| event["kind"] == "gave up").unwrap();
    assert_eq!(gave_up["what"], "52Y never picked up");
    let why = gave_up["why"].as_str().unwrap();
    assert!(why.contains("25 permit") && why.contains("12 to 20 ms"), "{why}");
    let cause = usize::try_from(gave_up["cause"].as_u64().unwrap()).unwrap();
    assert_eq!(all[cause]["what"], "25 permit opens");
    assert!(!gave_up["path"].as_array().unwrap().is_empty());
}

#[test]
fn every_bundled_story_plays_as_on_the_terminal() {
    for name in ["quillmere", "dunmarrow", "dunmarrow-repaired"] {
        let served = Served::examples();
        let (_, scheme) = served.open(name);
        let reading = read_path(&folder(name).join("scheme.kdl"));
        let whole = reading.scheme.unwrap();
        let machine = Machine::new(&whole).unwrap();
        assert!(!whole.stories.is_empty());
        for story in &whole.stories {
            let played = play(&machine, story, PlayOptions::default());
            let expected: Vec<String> = played
                .events
                .iter()
                .map(|event| format!("{} {}", event.time_us, event.what))
                .collect();
            let question = json!({
                "scheme": scheme, "story": story.name, "until_us": played.end_us
            });
            let told = served.ask("run", &question);
            assert_eq!(events(&told), expected, "{name}: {}", story.name);
            // The same acts by hand give the same run.
            let by_hand = json!({
                "scheme": scheme, "start": told["start"], "acts": told["acts"],
                "until_us": played.end_us
            });
            assert_eq!(events(&served.ask("run", &by_hand)), expected, "{name}: by hand");
        }
    }
}

#[test]
fn a_run_can_be_led_event_by_event() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let read = served.ask("read", &json!({ "scheme": scheme }));
    let acts = json!([press(0, "device:52CS", "close")]);
    let mut now = 0;
    let mut seen = 1;
    for _ in 0..12 {
        let question = json!({
            "scheme": scheme, "start": read["start"], "acts": acts, "until_us": now, "next": true
        });
        let told = served.ask("run", &question);
        let count = told["events"].as_array().unwrap().len();
        assert!(count > seen || now == 0, "nothing new at {now}");
        assert!(told["now_us"].as_i64().unwrap() > now);
        now = told["now_us"].as_i64().unwrap();
        seen = count;
    }
    assert!(now > 70_000, "{now}");
}

#[test]
fn what_nobody_may_do_is_refused_in_words_and_left_out() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let refused = |act: Value| {
        let told = served.ask("run", &json!({ "scheme": scheme, "acts": [act] }));
        assert_eq!(told["events"].as_array().unwrap().len(), 0, "{}", told["events"]);
        told["refused"].as_str().unwrap_or_default().to_owned()
    };
    let by = |what: &str, to: &str, by: &str| json!({ "at_us": 0, "do": "set", "what": what, "to": to, "by": by });
    let said = refused(by("device:86", "operated", "operator"));
    assert!(said.contains("86") && said.ends_with('.'), "{said}");
    let said = refused(by("device:69", "off", "operator"));
    assert!(said.contains("the field crew in YARD may"), "{said}");
    let said = refused(by("condition:gas", "very low", "operator"));
    assert!(said.contains("step by step") && said.contains("low comes first"), "{said}");
}

#[test]
fn a_moment_can_be_looked_at_again_and_again_alike() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let read = served.ask("read", &json!({ "scheme": scheme, "sheets": true }));
    let acts = json!([press(0, "device:52CS", "close")]);
    let ids = |svg: &str| -> BTreeSet<String> {
        svg.split("id=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next())
            .filter(|id| id.starts_with("part-") || id.starts_with("wire-"))
            .map(str::to_owned)
            .collect()
    };
    let at_rest = ids(read["sheets"][0]["svg"].as_str().unwrap());
    for event in [0, 5, 12, 19] {
        let question = json!({
            "scheme": scheme, "start": read["start"], "acts": acts, "event": event, "sheet": 1
        });
        let told = served.ask("picture", &question);
        let again = served.ask("picture", &question);
        assert_eq!(told, again);
        let svg = told["svg"].as_str().unwrap();
        assert_eq!(ids(svg), at_rest, "the same parts and wires in every moment");
        let plain = json!({
            "scheme": scheme, "start": read["start"], "acts": acts, "event": event, "sheet": 1,
            "plain": true
        });
        let plain = served.ask("picture", &plain);
        let plain = plain["svg"].as_str().unwrap();
        assert_eq!(ids(plain), at_rest);
        assert!(plain.len() * 2 < svg.len(), "{} of {}", plain.len(), svg.len());
        assert!(!plain.contains("<use") && plain.contains("<text"));
    }
    let driven = json!({
        "scheme": scheme, "start": read["start"], "acts": acts, "event": 0, "sheet": 1
    });
    let told = served.ask("picture", &driven);
    let coil = &told["parts"]["part-52-close"];
    assert_eq!(coil["on"], true);
    assert!(coil["words"].as_str().unwrap().contains("52 close, driven"), "{coil}");
    assert_eq!(told["wires"]["wire-C1.1"]["level"], "plus");
}

#[test]
fn a_text_with_a_slip_says_where_and_draws_nothing() {
    let served = Served::examples();
    let (text, scheme) = served.open("dunmarrow");
    let wrong = text.replace("contact \"52Y\" \"b1\"", "contact \"52Y\" \"b9\"");
    let question = json!({ "scheme": { "desk": scheme["desk"], "text": wrong }, "sheets": true });
    let told = served.ask("read", &question);
    assert_eq!(told["ok"], false);
    assert!(told["sheets"].is_null());
    let finding = &told["findings"][0];
    let (from, to) = (finding["from"].as_u64().unwrap(), finding["to"].as_u64().unwrap());
    let units: Vec<u16> = wrong.encode_utf16().collect();
    let marked =
        String::from_utf16(&units[usize::try_from(from).unwrap()..usize::try_from(to).unwrap()])
            .unwrap();
    assert!(marked.contains("b9"), "{marked}");
    let run = json!({ "scheme": { "desk": scheme["desk"], "text": wrong } });
    let came = served.post("run", &run);
    came.is_refusal(409);
    assert_eq!(came.json()["unreadable"], true);
}
