//! Whatever is sent, nothing breaks: a refusal, never a defect, and the server goes on.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::Served;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Map, Value, json};

const CALLS: [&str; 25] = [
    "schemes", "open", "keep", "forget", "save", "disk", "read", "run", "picture", "why",
    "why-not", "reading", "coils", "along", "levers", "what-if", "edit", "offers", "format",
    "words", "patterns", "begin", "papers", "check", "nothing",
];
const NAMES: [&str; 36] = [
    "scheme",
    "desk",
    "text",
    "text_hash",
    "name",
    "as",
    "disk_hash",
    "sheets",
    "start",
    "given",
    "story",
    "acts",
    "at_us",
    "do",
    "what",
    "to",
    "by",
    "until_us",
    "next",
    "event",
    "sheet",
    "dark",
    "symbols",
    "goal",
    "device",
    "coil",
    "wire",
    "part",
    "edit",
    "how",
    "contact",
    "levers",
    "property",
    "answers",
    "at",
    "claim_story",
];
const WORDS: [&str; 22] = [
    "",
    "example-dunmarrow",
    "dunmarrow",
    "52",
    "52CS",
    "device:52CS",
    "condition:line",
    "close",
    "press",
    "release",
    "set",
    "lose",
    "put-in",
    "take-out",
    "swap",
    "beside",
    "part-52-a1",
    "wire-C1.1",
    "../../etc/passwd",
    "\u{0}",
    "𝄞",
    "scheme \"x\"",
];

fn value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        (-5_i64..50).prop_map(Value::from),
        proptest::sample::select(&WORDS[..]).prop_map(Value::from),
        ".{0,12}".prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 24, 6, |inner| {
        let name = proptest::sample::select(&NAMES[..]).prop_map(str::to_owned);
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            proptest::collection::vec((name, inner), 0..6)
                .prop_map(|pairs| Value::Object(pairs.into_iter().collect::<Map<_, _>>())),
        ]
    })
}

/// A question that gets past the first look: a real desk and text, the rest at random.
fn question() -> impl Strategy<Value = Value> {
    let name = proptest::sample::select(&NAMES[..]).prop_map(str::to_owned);
    proptest::collection::vec((name, value()), 0..6).prop_map(|pairs| {
        let mut object: Map<String, Value> = pairs.into_iter().collect();
        object.entry("scheme").or_insert(json!({ "desk": "example-dunmarrow", "text": "" }));
        Value::Object(object)
    })
}

fn is_no_defect(call: &str, question: &[u8], served: &Served) -> Result<(), TestCaseError> {
    let came = served.with("POST", &format!("/api/{call}"), &served.headers(), question);
    let shown = String::from_utf8_lossy(question).into_owned();
    prop_assert!(
        came.status == 200 || (400..500).contains(&came.status),
        "{} on {}: {} {}",
        call,
        shown,
        came.status,
        came.body
    );
    if came.status != 200 {
        let told = came.json();
        prop_assert!(told["error"].is_string() && told["help"].is_string());
    }
    Ok(())
}

#[test]
fn no_question_however_wrong_makes_a_defect() {
    let served = Served::examples();
    let (text, _) = served.open("dunmarrow");
    let mut runner =
        TestRunner::new(Config { cases: 400, failure_persistence: None, ..Config::default() });
    let call = proptest::sample::select(&CALLS[..]);
    runner
        .run(&(call, question()), |(call, mut question)| {
            if question["scheme"]["text"] == "" {
                question["scheme"]["text"] = json!(text);
            }
            is_no_defect(call, question.to_string().as_bytes(), &served)
        })
        .unwrap();
    let bytes = proptest::collection::vec(any::<u8>(), 0..200);
    let call = proptest::sample::select(&CALLS[..]);
    runner.run(&(call, bytes), |(call, bytes)| is_no_defect(call, &bytes, &served)).unwrap();
    // Nested deeper than anything that is meant.
    for call in ["run", "read", "edit"] {
        let deep = "[".repeat(100_000);
        is_no_defect(call, deep.as_bytes(), &served).unwrap();
    }
    assert_eq!(served.post("schemes", &json!({})).status, 200);
}

#[test]
fn a_text_cut_anywhere_is_read_or_refused() {
    let served = Served::examples();
    let (text, scheme) = served.open("dunmarrow");
    let letters: Vec<char> = text.chars().collect();
    for cut in (0..letters.len()).step_by(97) {
        let part: String = letters[..cut].iter().collect();
        let question =
            json!({ "scheme": { "desk": scheme["desk"], "text": part }, "sheets": true });
        let told = served.ask("read", &question);
        assert!(told["ok"] == true || !told["findings"].as_array().unwrap().is_empty());
    }
}

#[test]
fn no_time_is_too_long_to_be_answered() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let read = served.ask("read", &json!({ "scheme": scheme }));
    let press =
        |at: i64| json!([{ "at_us": at, "do": "press", "what": "device:52CS", "to": "close" }]);
    let run = |acts: Value, until: i64, next: bool| {
        let question = json!({
            "scheme": scheme, "start": read["start"], "acts": acts, "until_us": until, "next": next
        });
        served.post("run", &question)
    };
    run(press(i64::MAX), 0, false).is_refusal(400);
    // A whole day of pumping, whenever there is air again.
    let told = run(press(0), i64::MAX, false).json();
    assert!(told["events"].as_array().unwrap().len() > 1000, "{}", told["now_us"]);
    for (until, next) in [(i64::MIN, false), (i64::MIN, true), (i64::MAX, true)] {
        assert_eq!(run(press(-5), until, next).status, 200);
    }
}
