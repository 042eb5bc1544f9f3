//! A trip that comes just after touch, before every auxiliary contact has changed: what has not
//! moved on the way up says nothing about the way down.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Options, Report, Verdict, prove};
use fiftytwo_scheme::read_text;

/// A breaker whose trip does not run through its own contact, so that it may come at touch.
fn scheme(offsets: &str, claim: &str) -> String {
    format!(
        r#"scheme "Trip at touch"
place "A" "Cabinet"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
person "operator" place="A" {{ may "PB1" "PB2" }}
button "PB1" place="A" {{ contact "a1" closed-when="pressed" }}
button "PB2" place="A" {{ contact "a1" closed-when="pressed" }}
breaker "52" place="A" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "close" drives-to="closed" resistance="41 ohm" works="90 to 140 V" goes-after="8 to 12 ms"
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" goes-after="6 to 10 ms"
    contact "a1" closed-when="closed"{offsets}
}}
circuit "C" supply="DC" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "Close" {{ contact "PB1" "a1"; coil "52" "close" }}
    leg "Trip" {{ contact "PB2" "a1"; coil "52" "trip" }}
    leg "Lamp" {{ contact "52" "a1"; lamp "RED" "8 mA" shows="52 closed" }}
}}
claim "opens" {claim}
"#
    )
}

fn own(text: &str) -> Report {
    let reading = read_text("test.kdl", text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let options = Options { margins: false, only: Some("opens"), ..Options::default() };
    prove(&scheme, &options).unwrap().reports.pop().unwrap()
}

const CONTACTS: [&str; 3] = [
    "",
    " on-close=\"1 to 3 ms after touch\" on-open=\"2 to 6 ms before parting\"",
    " on-close=\"1 to 3 ms after touch\" on-open=\"2 to 6 ms after parting\"",
];

/// By hand: until touch the breaker is open. A trip that stands by then has its latch gone at most
/// 10 ms after touch; then 28 - 10 = 18 ms to parting: 28 in all.
#[test]
fn a_trip_at_touch_stops_no_time_whatever_the_contact_declares() {
    for offsets in CONTACTS {
        let claim = |time: u32| {
            let claim = format!("if=\"PB2 pressed\" then=\"52 open\" within=\"{time} ms\"");
            own(&scheme(offsets, &claim))
        };
        let holds = claim(28);
        assert_eq!(holds.verdict, Verdict::HoldsWithinTolerances, "{offsets}: {holds:#?}");
        let fails = claim(27);
        assert_eq!(fails.verdict, Verdict::Fails, "{offsets}: {fails:#?}");
    }
}

/// The lamp's contact never closes in a stroke that is turned back at once: the same run within
/// the declared times as in any order.
#[test]
fn a_contact_that_has_not_changed_yet_may_never_change() {
    let claim = "never=\"52 closed and PB2 pressed\" longer-than=\"30 ms\"";
    // 10 ms to the latch, 18 ms to parting.
    for offsets in CONTACTS {
        let report = own(&scheme(offsets, claim));
        assert_eq!(report.verdict, Verdict::HoldsWithinTolerances, "{report:#?}");
    }
}
