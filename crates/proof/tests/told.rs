//! How a story is told.
#![allow(clippy::unwrap_used, reason = "tests")]

use fiftytwo_proof::prove::{Progress, Stage};
use fiftytwo_proof::{Options, Report, Verdict, prove};
use fiftytwo_scheme::read_text;

/// A lockout is one device, but what a person does to it is told apart from what its coil does.
#[test]
fn a_reset_by_hand_is_an_event_of_its_own() {
    let text = r#"scheme "Lockout"
place "A" "House"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
condition "bus fault"
person "operator" place="A" { may "86 reset" }
sensor "87" place="A" { contact "1" closed-when="bus fault" }
lockout "86" place="A" reset-by="hand" {
    coil "operate" drives-to="operated" resistance="26 ohm" works="70 to 140 V" pickup-time="8 to 16 ms"
    contact "b1" closed-when="reset"
}
circuit "Lockout" supply="DC" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Lockout" { contact "87" "1"; contact "86" "b1"; coil "86" "operate" }
}
claim "once" at-most=1 of="86 operated"
"#;
    let scheme = read_text("test.kdl", text).scheme.unwrap();
    let proof = prove(&scheme, &Options::default()).unwrap();
    let once = proof.reports.iter().find(|report| report.claim == "once").unwrap();
    let told: Vec<&str> =
        once.story.as_ref().unwrap().events.iter().map(|event| event.what.as_str()).collect();
    assert_eq!(
        told,
        ["bus fault comes", "86 is operated", "operator resets 86", "86 is operated"],
        "{once:#?}"
    );
}

/// Who listens while it is searched hears of each question once, and nothing that is taken back at the end: a
/// motion without end may leave without an answer what was found to hold.
#[test]
fn what_is_told_on_the_way_is_what_is_said_at_the_end() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut taken_back = 0;
    for example in ["dunmarrow", "harrowfen-direct"] {
        let read = fiftytwo_scheme::read_path(&root.join(example).join("scheme.kdl"));
        let scheme = read.scheme.unwrap();
        let heard = std::sync::Mutex::new(Vec::new());
        let listen = |stage: Stage<'_>| {
            if let Stage::Answered(report) = stage {
                heard.lock().unwrap().push(report.clone());
            }
        };
        let progress = Some(Progress(&listen));
        let options = Options { progress, margins: false, ..Options::default() };
        let proof = prove(&scheme, &options).unwrap();
        let key = |report: &Report| format!("{} {} {:?}", report.claim, report.asks, report.across);
        let mut told: Vec<_> = heard.into_inner().unwrap();
        let mut said = proof.reports;
        told.sort_by_key(key);
        said.sort_by_key(key);
        // Its own search found nothing wrong, and yet it does not hold.
        let back = |report: &&Report| {
            let found = report.searches.last().is_some_and(|it| it.said == "nothing breaks it");
            found && report.verdict == Verdict::Fails
        };
        taken_back += said.iter().filter(back).count();
        let told: Vec<_> = told.iter().map(|it| (key(it), it.verdict, &it.because)).collect();
        let said: Vec<_> = said.iter().map(|it| (key(it), it.verdict, &it.because)).collect();
        assert_eq!(told, said, "{example}");
    }
    assert!(taken_back > 0);
}

/// A latch of 20 to 50 ms under orders of at most `order`; a hand may turn it off again, and to a
/// third position, but never on.
fn latch_under_orders(order: &str) -> Report {
    let text = format!(
        r#"scheme "Latch"
place "A" "House"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
order "O" lasts="{order}"
person "control centre" {{ may "O" }}
person "electrician" place="A" {{ may "L off" "L apart" }}
ied "I" place="A" {{ contact "a" closed-when="O" }}
latch "L" place="A" turned-by="hand or coil" drawn="off" {{
    position "off"
    position "on"
    position "apart"
    coil "on" drives-to="on" resistance="900 ohm" works="85 to 140 V" pickup="55 to 80 V" {{ pickup-time "20 to 50 ms" }}
    contact "a" closed-when="on"
}}
circuit "C" supply="DC" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "A" {{ contact "I" "a"; coil "L" "on" }}
}}
claim "short orders turn nothing" at-most=1 of="L on"
"#
    );
    let reading = read_text("test.kdl", &text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let proof = prove(&scheme, &Options { margins: false, ..Options::default() }).unwrap();
    let mut reports = proof.reports.into_iter();
    reports.find(|report| report.claim == "short orders turn nothing").unwrap()
}

/// A pulse of 10 ms ends before the 20 ms of the coil, whatever a hand may do meanwhile (so what the
/// claim speaks of never happens, and it is not proven); one of 60 ms outlasts its 50 ms.
#[test]
fn a_hand_that_may_turn_a_latch_takes_nothing_off_the_time_of_its_coil() {
    let short = latch_under_orders("5 to 10 ms");
    let last = short.searches.last().unwrap();
    assert_eq!((last.mode, last.said.as_str()), ("within tolerances", "nothing breaks it"));
    assert_eq!(short.verdict, Verdict::NotProven, "{short:#?}");
    let long = latch_under_orders("55 to 60 ms");
    assert_eq!(long.verdict, Verdict::Fails, "{long:#?}");
}

/// A lockout that has begun goes through: what drove it is told with the time at which it still did.
#[test]
fn a_lockout_whose_coil_is_dead_when_it_arrives_is_told_so() {
    let scheme = read_text("pulses.kdl", include_str!("refuted/pulses.kdl")).scheme.unwrap();
    let options = Options { only: Some("lockout"), margins: false, ..Options::default() };
    let proof = prove(&scheme, &options).unwrap();
    let story = proof.reports[0].story.as_ref().unwrap();
    let last = story.events.last().unwrap();
    assert_eq!(last.what, "86 is operated");
    assert!(last.why.starts_with("86 operate has 104."), "{}", last.why);
    assert!(last.why.ends_with("when it had begun; it goes through"), "{}", last.why);
    let begins = last.steps.first().unwrap().time_ms;
    assert!(begins < 7.0, "the order ends at 7 ms; it begins at {begins}");
    assert!(last.why.contains(&format!("until {begins} ms")), "{}", last.why);
}

/// 125 V over a lamp of 8 mA (15.6 kohm) and a coil of 22 ohm leave it 125 x 22 / 15,600 = 0.2 V.
#[test]
fn a_coil_without_pickup_is_said_to_move_at_any_voltage() {
    let text = include_str!("refuted/red-lamp-without-pickup.kdl");
    let scheme = read_text("red.kdl", text).scheme.unwrap();
    let options = Options { only: Some("no trip unasked"), margins: false, ..Options::default() };
    let proof = prove(&scheme, &options).unwrap();
    let report = proof.counted().next().unwrap();
    assert_eq!(report.verdict, Verdict::Fails);
    let because = report.because.as_ref().unwrap();
    assert!(because.contains("52 trip has 0.1 to 0.2 V through"), "{because}");
    assert!(because.ends_with("it says no pickup, so any voltage may move it"), "{because}");
}

#[test]
fn what_a_scheme_says_about_the_outside_stands_beside_the_verdicts() {
    let assumed = |text: &str| {
        let scheme = read_text("test.kdl", text).scheme.unwrap();
        prove(&scheme, &Options { margins: false, ..Options::default() }).unwrap().assumptions
    };
    let stays = assumed(include_str!("forms/shortest-stay.kdl"));
    for sentence in [
        "bus fault: once moved from outside it is not moved back before 17 ms are over",
        "PB: once moved from outside it is not moved back before 17 ms are over",
    ] {
        assert!(stays.iter().any(|it| it == sentence), "{stays:#?}");
    }
    let bounces = assumed(include_str!("forms/bouncing-relay-contact.kdl"));
    let k = "K a1: after it has changed it may open and close again for 3 ms, no longer";
    assert!(bounces.iter().any(|it| it.starts_with(k)), "{bounces:#?}");
    let starts = assumed(include_str!("forms/slow-start.kdl"));
    let slow = "87: has started when a run begins; without its feed, and for 8 to 12 s after";
    assert!(starts.iter().any(|it| it.starts_with(slow)), "{starts:#?}");
}
