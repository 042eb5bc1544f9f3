//! Claims about what is so at rest where rest need never come: a real run that comes again refutes, nothing is
//! passed.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Options, Report, Verdict, prove};
use fiftytwo_scheme::read_text;

/// A breaker that pumps by a race: 52X holds in longer than 52 needs to close and trip.
const PUMPS: &str = include_str!("../../../examples/harrowfen/scheme.kdl");

fn asked(text: &str, claim: &str) -> Vec<Report> {
    let reading = read_text("test.kdl", text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let options = Options { only: Some(claim), margins: false, ..Options::default() };
    prove(&scheme, &options).unwrap().reports
}

fn about<'r>(reports: &'r [Report], asks: &str) -> &'r Report {
    reports.iter().find(|report| report.asks.contains(asks)).expect(asks)
}

/// The replayed run comes back to a state it was in, one round earlier, and moves the breaker in between.
fn comes_again(report: &Report) {
    assert_eq!(report.verdict, Verdict::Fails);
    let because = report.because.as_ref().unwrap();
    let round = because.split("comes again every ").nth(1).expect(because);
    let round: f64 = round.split(" ms").next().unwrap().parse().unwrap();
    let replay = &report.story.as_ref().unwrap().replay;
    let (states, times) = (&replay.states, &replay.times);
    let ends = *times.last().unwrap() as f64 / 1000.0;
    let last = states.last().unwrap();
    // The state after step `at` stands at `at + 1`.
    let before = times.iter().position(|at| (*at as f64 / 1000.0 - (ends - round)).abs() < 0.0005);
    let before = (before.expect("a step one round earlier")..times.len())
        .find(|at| states[at + 1] == *last)
        .expect("the same state");
    assert!(before + 1 < times.len(), "a round has steps");
    let moved =
        replay.events[before + 1..].iter().any(|event| event.what.contains("main contacts touch"));
    assert!(moved, "the breaker closes in every round");
}

#[test]
fn a_breaker_that_pumps_under_a_standing_trip_never_comes_to_rest_open() {
    let reports = asked(PUMPS, "trip-free");
    let by_hand = about(&reports, "while \"52CS trip\" stands");
    comes_again(by_hand);
    assert!(by_hand.because.as_ref().unwrap().ends_with("52 never comes to rest open"));
}

/// The order lasts 800 ms at the most, and all that time the breaker pumps: nothing rests, so nothing is passed.
/// Without a time it goes round for ever.
#[test]
fn a_breaker_that_pumps_as_long_as_an_order_lasts_is_not_passed() {
    let ends = asked(PUMPS, "trip-free");
    let verdict = about(&ends, "while \"SCADA trip\" stands").verdict;
    assert_eq!(verdict, Verdict::NotProven);
    let lasts = "order \"SCADA trip\" lasts=\"300 to 800 ms\"";
    assert!(PUMPS.contains(lasts));
    let stands = asked(&PUMPS.replace(lasts, "order \"SCADA trip\""), "trip-free");
    comes_again(about(&stands, "while \"SCADA trip\" stands"));
}

/// 52X never lets go while the breaker pumps, so the solenoid, made for 2 s, is never let go either.
#[test]
fn a_coil_that_pumping_keeps_driven_is_left_driven() {
    let reports = asked(PUMPS, "nothing hangs");
    let solenoid = about(&reports, "52 solenoid is not left driven");
    assert_eq!(solenoid.verdict, Verdict::Fails);
    let story = solenoid.story.as_ref().unwrap();
    assert!(story.replayed);
    let closings = |what: &str| story.events.iter().filter(|it| it.what.contains(what)).count();
    assert!(closings("a closing begins") > 2);
}
