//! Why, why not, claims, and what if.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Served, folder};
use fiftytwo_circuit::{Certainty, coil_report, reaches_pickup};
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_motion::{Goal, Machine, why_not};
use fiftytwo_scheme::read_path;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// What why-not names really bars the coil, and nothing more than that is needed: the circuit is asked
/// with these contacts closed, and with each of them left out.
#[test]
fn what_is_named_in_the_way_is_what_bars_the_coil() {
    let mut coils = 0;
    for name in ["quillmere", "dunmarrow", "dunmarrow-repaired", "harrowfen", "latches"] {
        let reading = read_path(&folder(name).join("scheme.kdl"));
        let scheme = reading.scheme.unwrap();
        let machine = Machine::new(&scheme).unwrap();
        let scope = Scope::whole(&machine);
        let evaluator = Evaluator::new(&machine, &scope);
        let state = machine.drawn();
        let look = evaluator.look(&state);
        for (id, part, data) in scheme.coils() {
            let Some(section) = machine.wiring.section_of(id) else { continue };
            let told = why_not(&evaluator, &state, Goal::Coil(id), (0, &[]));
            let key = look.positions(section);
            let driven = |key: &fiftytwo_circuit::Positions| {
                let drives = machine.wiring.drive(section, key, look.live());
                let drive = drives.iter().find(|drive| drive.part == id).unwrap();
                reaches_pickup(drive, data) != Certainty::Not
            };
            if told.bars.is_empty() && told.one_of.is_empty() {
                assert!(
                    driven(&key) || !told.then.is_empty(),
                    "{name}: {}: {}",
                    part.name,
                    told.sentence
                );
                continue;
            }
            coils += 1;
            assert!(!driven(&key), "{name}: {} is driven as it stands", part.name);
            let bit =
                |part| machine.wiring.switches(section).iter().position(|it| *it == part).unwrap();
            let bars: Vec<usize> = told.bars.iter().map(|bar| bit(bar.part)).collect();
            let choices: Vec<Option<usize>> = if told.one_of.is_empty() {
                vec![None]
            } else {
                told.one_of.iter().map(|bar| Some(bit(bar.part))).collect()
            };
            for choice in choices {
                let whole = bars.iter().chain(choice.iter()).fold(key, |key, bit| key.with(*bit));
                assert_eq!(driven(&whole), told.enough, "{name}: {}: {}", part.name, told.sentence);
                assert!(told.enough, "{name}: {}: {}", part.name, told.sentence);
                for left_out in bars.iter().chain(choice.iter()) {
                    let mut less = whole;
                    less.set(*left_out, false);
                    assert!(!driven(&less), "{name}: {}: one too many is named", part.name);
                }
            }
            assert!(told.sentence.ends_with('.'), "{}", told.sentence);
        }
    }
    assert!(coils > 15, "{coils}");
}

#[test]
fn why_the_breaker_does_not_close_is_said_in_order() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let read = served.ask("read", &json!({ "scheme": scheme }));
    let told = served.ask("why-not", &json!({ "scheme": scheme, "start": read["start"] }));
    assert_eq!(told["goal"], "52 closed");
    let sentence = told["sentence"].as_str().unwrap();
    assert!(
        sentence.starts_with("One contact stands in the way: 52CS stands in after trip"),
        "{sentence}"
    );
    assert_eq!(told["beside"], "Nothing else stands in the way.");
    assert_eq!(told["stands"][0]["part"], "part-52CS-close");
    assert_eq!(told["enough"], true);
    // As drawn the air is discharged: the coil alone would not do.
    let told = served.ask("why-not", &json!({ "scheme": scheme }));
    assert!(told["beside"].as_str().unwrap().contains("air of 52 is not charged"), "{told}");
    // While the order stands and 52 has tripped, what bars it closes by itself.
    let acts = json!([{ "at_us": 0, "do": "press", "what": "device:52CS", "to": "close" }]);
    let question = json!({
        "scheme": scheme, "start": read["start"], "acts": acts, "until_us": 116_000
    });
    let told = served.ask("why-not", &question);
    assert_eq!(told["goal"], "52 closed");
    let soon = told["soon"].to_string();
    assert!(soon.contains("25 permit closes") || soon.contains("52 b1 closes"), "{told}");
}

#[test]
fn why_leads_back_to_the_hand_that_began() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let read = served.ask("read", &json!({ "scheme": scheme }));
    let acts = json!([{ "at_us": 0, "do": "press", "what": "device:52CS", "to": "close" }]);
    let question = json!({ "scheme": scheme, "start": read["start"], "acts": acts });
    let run = served.ask("run", &question);
    let events = run["events"].as_array().unwrap();
    let n = events.iter().position(|event| event["what"] == "52Y picks up").unwrap();
    let mut question = question;
    question["event"] = json!(n);
    let told = served.ask("why", &question);
    let causes: Vec<&Value> = told["causes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|cause| &events[usize::try_from(cause.as_u64().unwrap()).unwrap()]["what"])
        .collect();
    assert_eq!(causes.first().unwrap().as_str().unwrap(), "52 a1, a2, a3, a4 close");
    assert!(causes.last().unwrap().as_str().unwrap().contains("turns 52CS to close"), "{causes:?}");
    assert!(told["beside"].as_str().unwrap().contains("Because of"), "{told}");
    assert!(told["path"].as_array().unwrap().iter().any(|id| id == "part-52Y"));
    assert!(!told["marks"].as_array().unwrap().is_empty());
}

fn lines(body: &str) -> Vec<Value> {
    body.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn the_claims_of_dunmarrow_come_one_by_one_and_the_story_of_pumping_is_shown() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let came = served.post("prove", &json!({ "scheme": scheme, "only": "no pumping" }));
    assert_eq!(came.status, 200);
    let lines = lines(&came.body);
    assert!(lines[0]["progress"]["of"].as_u64().unwrap() >= 1, "{}", lines[0]);
    let last = lines.last().unwrap();
    assert_eq!((&last["done"], &last["partial"]), (&json!(true), &json!(false)));
    assert_eq!(last["counts"]["fails"], 1, "{last}");
    let failed = lines.iter().find(|line| line["verdict"] == "fails").unwrap();
    assert_eq!(failed["words"], "fails");
    assert!(failed["covers"].as_str().unwrap().len() > 20);
    let story = &failed["story"];
    let question = json!({ "scheme": scheme, "claim_story": story["id"] });
    let run = served.ask("run", &question);
    let events = run["events"].as_array().unwrap();
    let begins = |event: &&Value| event["what"].as_str().unwrap().contains("a closing begins");
    assert_eq!(events.iter().filter(begins).count(), 2, "one order, two closings");
    let decisive = &events[usize::try_from(story["decisive"].as_u64().unwrap()).unwrap()];
    assert_eq!(decisive["what"], "52Y never picked up");
    assert!(run["rows"].to_string().contains("52 closed"));
    let mut question = question;
    question["event"] = story["decisive"].clone();
    let picture = served.ask("picture", &question);
    assert!(picture["moment"].as_str().unwrap().contains("52Y never picked up"));
    served.ask("why", &question);
    // Another text knows nothing of it.
    let (_, other) = served.open("dunmarrow-repaired");
    let came = served.post("run", &json!({ "scheme": other, "claim_story": story["id"] }));
    came.is_refusal(409);
    assert_eq!(came.json()["unknown_story"], true);
}

#[test]
fn a_search_ends_when_nobody_listens_any_more() {
    use std::io::{Read, Write};
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let body = json!({ "scheme": scheme }).to_string();
    let mut head = String::from("POST /api/prove HTTP/1.1\r\n");
    for (name, value) in served.headers() {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    let mut stream = std::net::TcpStream::connect(("127.0.0.1", served.port)).unwrap();
    write!(stream, "{head}content-length: {}\r\n\r\n{body}", body.len()).unwrap();
    let mut first = [0_u8; 64];
    let _ = stream.read(&mut first).unwrap();
    drop(stream);
    // The desk still answers at once, and the server ends at once.
    let began = Instant::now();
    served.ask("read", &json!({ "scheme": scheme }));
    drop(served);
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
}

#[test]
fn what_if_says_what_check_says_of_the_changed_text() {
    let served = Served::examples();
    let (text, scheme) = served.open("dunmarrow");
    let told = served.ask("levers", &json!({ "scheme": scheme }));
    let levers = told["levers"].as_array().unwrap();
    let find = |id: &str| {
        levers.iter().find(|lever| lever["id"] == id).unwrap_or_else(|| panic!("{id} in {told}"))
    };
    assert_eq!(find("cable:D1:length")["value"], 120.0);
    assert_eq!(find("time:52Y:pickup-time")["declared"], "declared 12 to 20 ms");
    let yard = find("place:YARD:ambient");
    assert_eq!(yard["declared"], "nothing is declared: −30 to 50 °C is taken");
    assert_eq!(yard["unit"], "°C");
    let drawn =
        json!({ "cable:D1:length": 350, "supply:DC1:range": 98, "time:52Y:pickup-time": 24 });
    let then = served.ask("what-if", &json!({ "scheme": scheme, "levers": drawn }));
    assert!(then["refused"].is_null(), "{then}");
    let by_hand = text
        .replace("length=\"120 m\"", "length=\"350 m\"")
        .replace("range=\"105 to 140 V\"", "range=\"98 to 140 V\"")
        .replace("pickup-time \"12 to 20 ms\"", "pickup-time \"12 to 24 ms\"");
    let reading = fiftytwo_scheme::read_text("scheme.kdl", &by_hand);
    let whole = reading.scheme.unwrap();
    let wiring = fiftytwo_circuit::Wiring::new(&whole).unwrap();
    let expected = coil_report(&wiring);
    let coils = then["coils"].as_array().unwrap();
    assert_eq!(coils.len(), expected.len());
    for (coil, expected) in coils.iter().zip(&expected) {
        assert_eq!(coil["name"], expected.coil);
        let lowest = expected.lowest.as_ref().unwrap().volts;
        assert!((coil["lowest"].as_f64().unwrap() - lowest).abs() < 1e-9, "{coil}");
        assert_eq!(coil["ok"].as_bool().unwrap(), expected.margin_low.unwrap() >= 0.0);
    }
    assert!(coils.iter().any(|coil| coil["ok"] == false), "at 98 V and 350 m one falls short");
    // The changes write these numbers and nothing else.
    let mut units: Vec<u16> = text.encode_utf16().collect();
    let mut changes = then["changes"].as_array().unwrap().clone();
    changes.sort_by_key(|change| std::cmp::Reverse(change["from"].as_u64()));
    for change in &changes {
        let at = |name: &str| usize::try_from(change[name].as_u64().unwrap()).unwrap();
        let insert: Vec<u16> = change["insert"].as_str().unwrap().encode_utf16().collect();
        units.splice(at("from")..at("to"), insert);
    }
    assert_eq!(String::from_utf16(&units).unwrap(), by_hand);
    let known = json!({ "scheme": { "desk": scheme["desk"], "text_hash": then["after"] } });
    assert_eq!(served.ask("read", &known)["ok"], true);
}

#[test]
fn an_edge_once_found_is_judged_by_comparison_while_a_number_is_drawn() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow-repaired");
    let came = served.post("prove", &json!({ "scheme": scheme, "only": "no pumping" }));
    let lines = lines(&came.body);
    let held = lines.iter().find(|line| line["verdict"] == "holds-within-tolerances").unwrap();
    let edge = held["edges"]
        .as_array()
        .unwrap()
        .iter()
        .find(|edge| edge["first"] == "52Y picks up")
        .unwrap();
    let fails = edge["fails_from_ms"].as_f64().unwrap();
    let judge = |value: f64| {
        let drawn = json!({ "time:52Y:pickup-time": value });
        let then = served.ask("what-if", &json!({ "scheme": scheme, "levers": drawn }));
        let edges = then["edges"].as_array().unwrap().clone();
        edges.into_iter().find(|edge| edge["first"] == "52Y picks up").unwrap()
    };
    assert_eq!(judge(fails - 1.0)["holds"], true);
    assert_eq!(judge(fails)["holds"], false);
    assert_eq!(judge(20.0)["holds"], true);
    // The edge was found with everything else as declared: with a quicker breaker it says nothing.
    let drawn = json!({ "time:52Y:pickup-time": 20.0, "time:52:opening-time": 5.0 });
    let then = served.ask("what-if", &json!({ "scheme": scheme, "levers": drawn }));
    let edges = then["edges"].as_array().unwrap();
    let edge = edges.iter().find(|edge| edge["first"] == "52Y picks up").unwrap();
    assert!(edge["holds"].is_null() && edge["spare_ms"].is_null(), "{edge}");
    assert!(edge["words"].as_str().unwrap().starts_with("not asked with these numbers"), "{edge}");
    // A number drawn away and back is as declared.
    let declared = json!({ "supply:DC1:range": 105.0, "time:52Y:pickup-time": fails - 1.0 });
    let then = served.ask("what-if", &json!({ "scheme": scheme, "levers": declared }));
    let edges = then["edges"].as_array().unwrap();
    assert!(edges.iter().all(|edge| edge["holds"] == true), "{then}");
}

#[test]
fn the_volts_of_every_coil_and_along_its_way_are_told() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let told = served.ask("coils", &json!({ "scheme": scheme }));
    let close = told["coils"]
        .as_array()
        .unwrap()
        .iter()
        .find(|coil| coil["name"] == "52 close")
        .unwrap()
        .clone();
    assert_eq!(close["part"], "part-52-close");
    assert_eq!(close["ok"], true);
    assert!(close["words"].as_str().unwrap().contains("works from 90 V"), "{close}");
    let along = served.ask("along", &json!({ "scheme": scheme, "part": "part-52-close" }));
    let steps = along["steps"].as_array().unwrap();
    assert!(steps.windows(2).all(|pair| {
        pair[0]["after"].as_f64().unwrap() >= pair[1]["before"].as_f64().unwrap() - 1e-6
    }));
    let load = steps.iter().find(|step| step["load"] == true).unwrap();
    let across = load["before"].as_f64().unwrap() - load["after"].as_f64().unwrap();
    let lowest = close["lowest"].as_f64().unwrap();
    assert!((across - lowest).abs() < 3.0, "{across} along the way, {lowest} at worst");
    served.post("along", &json!({ "scheme": scheme, "part": "part-86-b1" })).is_refusal(400);
}

#[test]
fn a_floating_wire_promises_no_number() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let read = served.ask("read", &json!({ "scheme": scheme, "sheets": true }));
    let question =
        json!({ "scheme": scheme, "start": read["start"], "sheet": 1, "without_svg": true });
    let picture = served.ask("picture", &question);
    let wires = picture["wires"].as_object().unwrap();
    let mut seen = 0;
    for (id, wire) in wires {
        let mut question = json!({ "scheme": scheme, "start": read["start"] });
        question["wire"] = json!(id);
        let told = served.ask("reading", &question);
        let sentence = told["sentence"].as_str().unwrap();
        assert!(told["beside"].as_str().unwrap().contains("Expected, not measured"), "{told}");
        if wire["level"] == "floating" {
            assert!(
                sentence.contains("a meter may show anything") && !sentence.contains(" V"),
                "{sentence}"
            );
            seen += 1;
        } else {
            assert!(sentence.contains(" V to "), "{sentence}");
        }
    }
    assert!(seen > 0 && wires.len() > 20);
}

#[test]
fn papers_are_what_the_terminal_writes() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let reading = read_path(&folder("dunmarrow").join("scheme.kdl"));
    let whole = reading.scheme.unwrap();
    let drawing = fiftytwo_sheet::draw(&whole, &fiftytwo_sheet::Options::default());
    let told = served.ask("papers", &json!({ "scheme": scheme, "what": "sheets-dxf" }));
    assert_eq!(told["name"], "dunmarrow-69-kv-breaker-52-1.dxf");
    assert_eq!(
        unbased(told["base64"].as_str().unwrap()),
        fiftytwo_sheet::dxf(&drawing).into_bytes()
    );
    let told = served.ask("papers", &json!({ "scheme": scheme, "what": "sheets-pdf" }));
    assert_eq!(unbased(told["base64"].as_str().unwrap()), fiftytwo_sheet::pdf(&drawing));
    let question = json!({
        "scheme": scheme, "what": "timeline", "story": "A standing close on to a fault"
    });
    let svg =
        String::from_utf8(unbased(served.ask("papers", &question)["base64"].as_str().unwrap()));
    assert!(svg.unwrap().contains("52"));
    let told = served.ask("papers", &json!({ "scheme": scheme, "what": "report" }));
    let report = String::from_utf8(unbased(told["base64"].as_str().unwrap())).unwrap();
    assert!(report.contains("Expected, not measured") && report.contains("52 close gets at least"));
    assert!(
        report.contains("52 close is on for 2500 ms"),
        "what check finds stands in it: {report}"
    );
    assert!(report.contains("NOT COMPLETE: not all claims were asked"), "{report}");
    served.post("prove", &json!({ "scheme": scheme, "only": "no pumping" }));
    let told = served.ask("papers", &json!({ "scheme": scheme, "what": "report" }));
    let report = String::from_utf8(unbased(told["base64"].as_str().unwrap())).unwrap();
    let plain = report.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain.contains("fails: no pumping"), "{report}");
    assert!(plain.contains("across loss and return of DC1"), "{report}");
    assert!(plain.contains("covers: "), "{report}");
    assert!(report.contains("NOT COMPLETE"), "the other claims were not asked: {report}");
    served.post("papers", &json!({ "scheme": scheme, "what": "../x" })).is_refusal(400);
}

fn unbased(text: &str) -> Vec<u8> {
    let value = |letter: u8| match letter {
        b'A'..=b'Z' => u32::from(letter - b'A'),
        b'a'..=b'z' => u32::from(letter - b'a') + 26,
        b'0'..=b'9' => u32::from(letter - b'0') + 52,
        b'+' => 62,
        _ => 63,
    };
    let mut out = Vec::new();
    for four in text.as_bytes().chunks(4) {
        let all = four
            .iter()
            .fold(0_u32, |all, letter| all << 6 | if *letter == b'=' { 0 } else { value(*letter) });
        let bytes = [(all >> 16) as u8, (all >> 8) as u8, all as u8];
        let pads = four.iter().filter(|letter| **letter == b'=').count();
        out.extend_from_slice(&bytes[..3 - pads]);
    }
    out
}

/// The page holds nothing back that the terminal finds.
#[test]
fn the_worst_corners_are_asked_beside_the_reading() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let told = served.ask("check", &json!({ "scheme": scheme }));
    let ids: Vec<&str> =
        told["findings"].as_array().unwrap().iter().map(|it| it["id"].as_str().unwrap()).collect();
    assert!(ids.contains(&"coil-on-too-long"), "{ids:?}");
    let whole = read_path(&folder("dunmarrow").join("scheme.kdl")).scheme.unwrap();
    let machine = Machine::new(&whole).unwrap();
    let same = fiftytwo_calculations::gather::WorkedOut::of(&machine).findings();
    assert_eq!(ids, same.iter().map(|it| it.id).collect::<Vec<_>>());
    let broken = json!({ "desk": scheme["desk"], "text": "relay {" });
    served.post("check", &json!({ "scheme": broken })).is_refusal(409);
}

/// While 52 closes nothing looks as if it had come to rest.
#[test]
fn a_run_that_is_cut_off_says_so() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let acts = json!([{ "at_us": 0, "do": "press", "what": "device:52CS", "to": "close" }]);
    let question = json!({ "scheme": scheme, "acts": acts, "until_us": 30_000 });
    assert_eq!(served.ask("run", &question)["more"], true);
    let picture = served.ask("picture", &question);
    // Nothing has moved since the handle was turned.
    assert_eq!(picture["moment"], "0 ms: now; more is still under way");
}

/// The spring takes 8 to 12 s to charge: nobody sees it charged in five, and who waits does.
#[test]
fn who_waits_sees_the_spring_charged_and_closes_again() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let close = json!({ "at_us": 0, "do": "press", "what": "device:52CS", "to": "close" });
    let local = json!({ "at_us": 0, "do": "set", "what": "device:43LR", "to": "local" });
    let given = json!({ "given": ["52 open", "52 spring charged", "sync permitted"] });
    let stories = served.ask("read", &json!({ "scheme": scheme }));
    let start = if stories["start"].is_object() { stories["start"].clone() } else { given };
    let question = json!({ "scheme": scheme, "start": start, "acts": [local, close] });
    let run = served.ask("run", &question);
    assert_eq!(run["more"], true, "{}", run["pending"]);
    let due = run["pending"][0]["latest_us"].as_i64().unwrap();
    assert!(due > 5_000_000, "{}", run["pending"]);
    let charged = |run: &Value| {
        let events = run["events"].as_array().unwrap();
        events.iter().any(|event| event["what"].as_str().unwrap().contains("spring charged"))
    };
    assert!(!charged(&run));
    let mut waited = question.clone();
    waited["tail_us"] = json!(due + 100_000);
    let run = served.ask("run", &waited);
    assert!(charged(&run), "{}", run["events"]);
}

#[test]
fn a_new_scheme_is_begun_by_answers_and_reads() {
    let served = Served::examples();
    let told = served.ask("patterns", &json!({}));
    assert!(told["questions"].as_array().unwrap().len() >= 7);
    let begun = served
        .ask("begin", &json!({ "answers": { "title": "Bay 4", "volts": "110", "trips": 1 } }));
    let text = begun["text"].as_str().unwrap();
    assert!(text.contains("scheme \"Bay 4\"") && text.contains("110 V DC"));
    let read = served.ask("read", &json!({ "scheme": { "desk": begun["desk"], "text": text } }));
    assert_eq!(read["ok"], true, "{}", read["findings"]);
    assert_eq!(served.ask("open", &json!({ "name": begun["desk"] }))["text"], "");
    for (of, bad) in [
        ("volts", json!(90)),
        ("distance", json!("far")),
        // Twelve hundred to one reader, little more than one to another.
        ("distance", json!("1,200")),
        ("distance", json!("1.200")),
        ("title", json!("  ")),
    ] {
        let came = served.post("begin", &json!({ "answers": { of: bad } }));
        came.is_refusal(400);
        assert_eq!(came.json()["of"], of, "the answer at fault is named");
    }
}

#[test]
fn a_contact_is_put_in_on_the_drawing_and_the_comment_is_kept() {
    let served = Served::examples();
    let (text, scheme) = served.open("quillmere");
    let offers = served.ask("offers", &json!({ "scheme": scheme, "part": "part-25-permit" }));
    let spare = offers["unused"]
        .as_array()
        .unwrap()
        .iter()
        .find(|it| it["device"] == "86" && it["contact"] == "b3")
        .unwrap();
    assert_eq!(spare["same_place"], true);
    let edit = json!({
        "do": "put-in", "part": "part-25-permit", "how": "before",
        "contact": { "device": "86", "contact": "b3" }
    });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": edit }));
    assert!(told["refused"].is_null(), "{told}");
    assert_eq!(told["lines"][0]["text"], "contact \"86\" \"b3\"");
    assert!(told["sentence"].as_str().unwrap().contains("only while 86 reset"), "{told}");
    let after = json!({ "desk": scheme["desk"], "text_hash": told["after"] });
    let read = served.ask("read", &json!({ "scheme": after, "sheets": true }));
    assert_eq!(read["ok"], true);
    assert!(read["sheets"].to_string().contains("part-86-b3"));
    // One that stands in the yard asks for a core, and says so.
    let far = json!({
        "do": "put-in", "part": "part-25-permit", "how": "before",
        "contact": { "device": "63X", "contact": "b1" }
    });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": far }));
    assert!(told["refused"].as_str().unwrap().to_lowercase().contains("core"), "{told}");
    // One that is used already is refused by its line.
    let used = json!({
        "do": "put-in", "part": "part-25-permit", "contact": { "device": "86", "contact": "b1" }
    });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": used }));
    assert!(told["refused"].as_str().unwrap().contains("already"), "{told}");
    assert!(text.contains("// b2 breaks its own coil"));
}

#[test]
fn what_is_taken_out_is_told_as_what_goes() {
    let served = Served::examples();
    let (_, scheme) = served.open("quillmere");
    let out = |part: &str| {
        let edit = json!({ "do": "take-out", "part": part });
        served.ask("edit", &json!({ "scheme": scheme, "edit": edit }))
    };
    let told = out("part-25-permit");
    assert_eq!(told["lines"], json!([]), "the next line is none that the text gets");
    assert_eq!(told["gone"][0]["text"], "contact \"25\" \"permit\"");
    assert_eq!(told["gone"].as_array().unwrap().len(), 1, "{told}");
    // Within a line that goes on, the line is told.
    let told = out("part-R4");
    assert_eq!(told["gone"], json!([]), "{told}");
    assert!(told["lines"][0]["text"].as_str().unwrap().contains("lamp \"RED\""), "{told}");
    // A coil asks nothing.
    let told = out("part-52-close");
    assert_eq!(told["sentence"], "The leg “Close coil” goes on without 52 close.");
}

#[test]
fn dunmarrow_is_repaired_on_the_drawing() {
    let served = Served::examples();
    let (text, scheme) = served.open("dunmarrow");
    let edit = json!({ "do": "move-leg", "leg": "Anti-pump", "ends": { "from": "C1" } });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": edit }));
    assert!(told["refused"].is_null(), "{told}");
    let after = json!({ "desk": scheme["desk"], "text_hash": told["after"] });
    let read = served.ask("read", &json!({ "scheme": after }));
    let acts = json!([{ "at_us": 0, "do": "press", "what": "device:52CS", "to": "close" }]);
    let run = served.ask("run", &json!({ "scheme": after, "start": read["start"], "acts": acts }));
    let begins = run["events"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|event| event["what"].as_str().unwrap().contains("a closing begins"))
        .count();
    assert_eq!(begins, 1);
    let bad = json!({ "do": "move-leg", "leg": "Anti-pump", "ends": { "from": "XX" } });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": bad }));
    assert!(told["refused"].as_str().unwrap().contains("XX"));
    assert!(text.contains("from=\"C2\""));
}

#[test]
fn the_layout_and_the_words_are_told() {
    let served = Served::examples();
    let (text, scheme) = served.open("dunmarrow");
    let told = served.ask("format", &json!({ "scheme": scheme }));
    let laid_out = fiftytwo_scheme::format("x", &text).unwrap();
    assert_eq!(told["changes"].as_array().unwrap().is_empty(), laid_out == text);
    let crooked = text.replace("    works", "  works");
    let question = json!({ "scheme": { "desk": scheme["desk"], "text": crooked } });
    assert!(!served.ask("format", &question)["changes"].as_array().unwrap().is_empty());
    let words = served.ask("words", &json!({}));
    assert!(words["words"].as_array().unwrap().len() > 60);
}

/// Sets every value that is written to another one of its sort; the kinds of the parts it was done to.
fn set_all(served: &Served, scheme: &Value) -> std::collections::BTreeSet<String> {
    let read = served.ask("read", &json!({ "scheme": scheme, "sheets": true }));
    assert_eq!(read["ok"], true, "{}", read["findings"]);
    let sheets = read["sheets"].as_array().unwrap();
    let parts = sheets.iter().flat_map(|sheet| sheet["parts"].as_array().unwrap());
    let mut kinds = std::collections::BTreeSet::new();
    for part in parts {
        let offers = served.ask("offers", &json!({ "scheme": scheme, "part": part["id"] }));
        let may_set = offers["may"].as_array().unwrap().contains(&json!("set"));
        let values = offers["values"].as_array().unwrap();
        assert_eq!(may_set, !values.is_empty());
        for value in values.iter().filter(|value| value["now"] != "") {
            let now = value["now"].as_str().unwrap();
            let to = now.replace('1', "2").replace('4', "5").replace('7', "8");
            let edit = json!({
                "do": "set", "part": part["id"], "of": value["of"],
                "property": value["property"], "to": format!("{to} "),
            });
            let told = served.ask("edit", &json!({ "scheme": scheme, "edit": edit }));
            let what = format!("{} {}: {told}", part["id"], value["property"]);
            if to == now {
                assert!(told["refused"].as_str().unwrap().contains("already"), "{what}");
                continue;
            }
            // It may be refused for what it would be, never for how it is written.
            let refused = told["refused"].as_str().unwrap_or_default();
            assert!(!refused.contains("There is no") && !refused.contains("belongs to"), "{what}");
            assert_eq!(told["changes"].as_array().unwrap().len(), 1, "{what}");
            assert_eq!(told["changes"][0]["insert"], format!("\"{to}\""), "{what}");
            let sentence = told["sentence"].as_str().unwrap();
            assert!(sentence.contains(&format!("{to} instead of {now}.")), "{what}");
            kinds.insert(part["kind"].as_str().unwrap().to_owned());
        }
    }
    kinds
}

#[test]
fn values_are_set_on_the_drawing_by_their_words() {
    let served = Served::examples();
    let (text, scheme) = served.open("quillmere");
    let kinds = set_all(&served, &scheme);
    for kind in [
        "coil", "contact", "core", "element", "fuse", "heater", "input", "lamp", "motor",
        "resistor",
    ] {
        assert!(kinds.contains(kind), "no {kind} was set: {kinds:?}");
    }
    // The kinds that quillmere has none of.
    let (other, own) = served.open("dunmarrow");
    let other = other
        .replace("ied \"25\" \"Synchronism check\" place=\"HOUSE\" {", "ied \"25\" \"Synchronism check\" place=\"HOUSE\" {\n    power \"10 W\"")
        .replace(
            "    leg \"Common return\"",
            "    leg \"Feed of 25\" from=\"P\" to=\"N\" { power \"25\" }
    leg \"Clamp\" from=\"P\" to=\"N\" { varistor \"V1\" \"241 V\" absorbs=\"10 J\" }
    leg \"Diode\" from=\"N\" to=\"P\" { diode \"V2\" drop=\"0.7 V\" blocks=\"1000 V\" }
    leg \"Capacitor\" from=\"P\" to=\"N\" { capacitor \"K1\" \"10 uF\"; resistor \"RC\" \"47 ohm\" power=\"5 W\" }
    leg \"Common return\"",
        );
    let kinds = set_all(&served, &json!({ "desk": own["desk"], "text": other }));
    for kind in ["capacitor", "diode", "power feed", "varistor"] {
        assert!(kinds.contains(kind), "no {kind} was set: {kinds:?}");
    }
    // What several devices share says so; the comment in the line stays.
    let edit = json!({
        "do": "set", "part": "part-63X", "property": "resistance", "to": "3300 ohm",
    });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": edit }));
    let sentence = told["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("63X: resistance: 3300 ohm instead of 3000 ohm typical."),
        "{sentence}"
    );
    assert!(sentence.contains("serves 63Z too"), "{sentence}");
    let wrong = json!({ "do": "set", "part": "part-F1", "property": "rating", "to": "red" });
    let told = served.ask("edit", &json!({ "scheme": scheme, "edit": wrong }));
    assert!(told["refused"].as_str().unwrap().len() > 10, "{told}");
    assert!(text.contains("// with a semiconductor beside it"));
}

#[test]
fn what_is_calculated_stands_among_the_claims() {
    let served = Served::examples();
    let (text, scheme) = served.open("quillmere");
    let name = "nothing breaks what it can't";
    let came = served.post("prove", &json!({ "scheme": scheme, "only": name }));
    let lines = lines(&came.body);
    let told: Vec<&Value> = lines.iter().filter(|line| line["claim"] == name).collect();
    // The command's report has the same ones.
    let reading = fiftytwo_scheme::read_text("scheme.kdl", &text);
    let expected = fiftytwo_page::joined::calculated(&reading.scheme.unwrap()).unwrap();
    let expected: Vec<_> = expected.iter().filter(|report| report.claim == name).collect();
    assert!(!expected.is_empty());
    assert_eq!(told.len(), expected.len(), "{}", came.body);
    for (told, expected) in told.iter().zip(expected) {
        assert_eq!(told["asks"], expected.asks);
        assert_eq!(told["verdict"], json!(expected.verdict));
        assert!(told["covers"].as_str().unwrap().starts_with("calculated"), "{told}");
        assert!(told["story"].is_null());
    }
}

#[test]
fn a_second_tab_hears_what_was_proven_already() {
    let served = Served::examples();
    let (_, scheme) = served.open("dunmarrow");
    let answers = |body: &str| -> Vec<Value> {
        lines(body).into_iter().filter(|line| line["progress"].is_null()).collect()
    };
    let first = served.post("prove", &json!({ "scheme": scheme }));
    let began = Instant::now();
    let second = served.post("prove", &json!({ "scheme": scheme }));
    let waited = began.elapsed();
    assert_eq!(answers(&first.body), answers(&second.body));
    assert!(lines(&second.body).iter().all(|line| line["progress"].is_null()), "nothing is asked");
    assert!(waited < Duration::from_secs(2), "{waited:?}: it was searched again");
    assert_eq!(answers(&second.body).last().unwrap()["done"], true);
}
