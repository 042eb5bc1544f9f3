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

/// The order lasts 800 ms at the most, and all that time the breaker pumps: under it 52 closes a second time although
/// nobody has moved. Without a time it goes round for ever.
#[test]
fn a_breaker_that_pumps_as_long_as_an_order_lasts_closes_twice_under_it() {
    let ends = asked(PUMPS, "trip-free");
    let report = about(&ends, "while \"SCADA trip\" stands");
    assert_eq!(report.verdict, Verdict::Fails, "{:?}", report.because);
    let events = &report.story.as_ref().unwrap().replay.events;
    let when = |what: &str| {
        let found = events.iter().filter(|event| event.what.contains(what));
        found.map(|event| event.time_ms).collect::<Vec<_>>()
    };
    let by_somebody = [when("gives SCADA trip"), when("gives SCADA close")].concat();
    let since = by_somebody.iter().copied().fold(0.0, f64::max);
    let touches: Vec<f64> =
        when("main contacts touch").into_iter().filter(|at| *at > since).collect();
    let parts: Vec<f64> = when("main contacts part").into_iter().filter(|at| *at > since).collect();
    assert!(touches.len() == 2 && touches[1] - by_somebody[0] <= 800.0, "{touches:?}");
    assert!(parts.iter().any(|at| touches[0] < *at && *at < touches[1]), "{touches:?} {parts:?}");
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

/// For how long the story says a coil is driven in each round, and how long a round is, ms.
fn duty(because: &str, coil: &str) -> (f64, f64) {
    let number = |after: &str| -> f64 {
        let rest = because.split(after).nth(1).expect(because);
        rest.split(" ms").next().unwrap().parse().unwrap()
    };
    (number(&format!("{coil} is driven for ")), number("comes again every "))
}

/// Pumping drives the trip coil for some milliseconds in each round, and nobody need end that.
#[test]
fn a_coil_that_pumping_drives_again_and_again_is_left_driven() {
    let reports = asked(PUMPS, "nothing hangs");
    let trip = about(&reports, "52 trip is not left driven");
    assert_eq!(trip.verdict, Verdict::Fails, "{:?}", trip.because);
    let because = trip.because.as_ref().unwrap();
    let (driven, round) = duty(because, "52 trip");
    // By hand: from 52a made, up to 12 ms before the touch, until it opens, up to 6 ms after the main contacts part,
    // which they do 10 to 16 and then 40 to 55 ms after the trip coil has its volts; 94 stays in.
    assert!((40.0..=12.0 + 16.0 + 55.0 + 6.0).contains(&driven), "{because}");
    assert!(driven < round, "{because}");
}

/// A flasher drives a lockout's coil half of the time, never for as long as it may be on, and for ever.
#[test]
fn a_coil_driven_through_a_flasher_is_left_driven() {
    let reports = asked(include_str!("refuted/flashcoil.kdl"), "nothing hangs");
    let coil = about(&reports, "86 operate is not left driven");
    assert_eq!(coil.verdict, Verdict::Fails, "{:?}", coil.because);
    let because = coil.because.as_ref().unwrap();
    let (driven, round) = duty(because, "86 operate");
    // It flashes within 300 to 500 ms each way: on for that long, less what its contacts are between.
    assert!((290.0..=500.0).contains(&driven), "{because}");
    assert!((2.0 * 290.0..=1000.0).contains(&round), "{because}");
}

/// Between its pulses all rests for longer than the coil may be on: it is not left driven.
#[test]
fn a_coil_driven_now_and_then_is_not_left_driven() {
    let reports = asked(include_str!("refuted/driven-now-and-then.kdl"), "nothing hangs");
    for coil in reports.iter().filter(|report| report.asks.contains("left driven")) {
        assert_eq!(coil.verdict, Verdict::HoldsInAnyOrder, "{}: {:?}", coil.asks, coil.because);
    }
}

/// Its own race holds to 41 ms, but from 27 ms on the recloser closes again and again: no margin is told that does
/// not know of it.
#[test]
fn where_a_race_it_leans_on_has_no_known_margins_none_is_told() {
    let text = include_str!("refuted/two-races-of-one-relay.kdl");
    let trip_free = |text: &str| {
        let reading = read_text("test.kdl", text);
        let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        let options = Options { only: Some("trip-free"), ..Options::default() };
        prove(&scheme, &options).unwrap().reports.remove(0)
    };
    let report = trip_free(text);
    assert_eq!(report.verdict, Verdict::HoldsWithinTolerances, "{:?}", report.because);
    assert!(report.margins.is_empty(), "{:?}", report.margins);
    assert!(report.because.as_ref().unwrap().contains("the margins of that race are not known"));
    let declared = "pickup-time=\"12 to 20 ms\"";
    assert!(text.contains(declared));
    let slow = trip_free(&text.replace(declared, "pickup-time=\"12 to 27 ms\""));
    assert_eq!(slow.verdict, Verdict::Fails, "{:?}", slow.because);
}

const RACES: &str = include_str!("refuted/leans-on-a-slow-order.kdl");

/// What holds at rest only because a breaker does not pump, and that by a race, holds no better than that.
#[test]
fn a_claim_about_rest_leans_on_the_race_of_the_anti_pump() {
    let all = |text: &str| {
        let reading = read_text("test.kdl", text);
        let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        prove(&scheme, &Options::default()).unwrap().reports
    };
    let reports = all(RACES);
    let pumping = reports.iter().find(|it| it.claim == "no pumping").unwrap();
    assert_eq!(pumping.verdict, Verdict::HoldsWithinTolerances);
    let race = &pumping.margins[0];
    let leaning: Vec<&Report> = reports
        .iter()
        .filter(|it| it.because.as_ref().is_some_and(|why| why.contains("leans on 52")))
        .collect();
    assert!(!leaning.is_empty(), "something leans on it");
    for report in leaning {
        assert_eq!(report.verdict, Verdict::HoldsWithinTolerances, "{}", report.asks);
        let same = report.margins.iter().find(|it| it.device == race.device).expect("its margin");
        assert!(same.holds_to_ms <= race.holds_to_ms, "{}", report.asks);
    }
}
