//! Stories played on whole schemes.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_motion::{Machine, Operating, PlayOptions, Timeline, play};
use fiftytwo_scheme::{Scheme, read_path, read_text};
use std::path::Path;

fn example(name: &str) -> Scheme {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name).join("scheme.kdl");
    let reading = read_path(&path);
    reading.scheme.unwrap_or_else(|| panic!("{name}: {:?}", reading.findings))
}

fn text(source: &str) -> Scheme {
    let reading = read_text("test.kdl", source);
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

fn played(scheme: &Scheme, story: &str) -> Timeline {
    let machine = Machine::new(scheme).expect("a machine");
    play(&machine, scheme.story_named(story).expect("the story"), PlayOptions::default())
}

fn first_story(scheme: &Scheme, options: PlayOptions) -> Timeline {
    let machine = Machine::new(scheme).expect("a machine");
    play(&machine, scheme.stories.first().expect("a story"), options)
}

fn count(timeline: &Timeline, what: &str) -> usize {
    timeline.events.iter().filter(|event| event.what.contains(what)).count()
}

fn time_of(timeline: &Timeline, what: &str) -> f64 {
    let event = timeline.events.iter().find(|event| event.what.contains(what));
    event.unwrap_or_else(|| panic!("{what} never happens: {:#?}", timeline.events)).time_ms
}

/// A breaker that closes in 60 ms and opens in 30 ms, tripped 20 ms after each closing, under a
/// close order that stands for 2 s; with or without an anti-pump relay of 15 ms.
fn standing_close(anti_pump: bool) -> Scheme {
    let (relay, b, leg) = if anti_pump {
        (
            r#"relay "52Y" place="A" {
    coil resistance="2000 ohm" works="70 to 140 V" pickup="50 to 70 V" dropout="15 to 40 V" {
        pickup-time "15 ms"
        dropout-time "10 ms"
    }
    contact "a1" closed-when="picked up"
    contact "b1" closed-when="dropped out"
}"#,
            r#"contact "52Y" "b1""#,
            r#"leg "Anti-pump" from="C" to="N" {
        parallel { contact "52" "a1"; contact "52Y" "a1" }
        coil "52Y"
    }"#,
        )
    } else {
        ("", "", "")
    };
    text(&format!(
        r#"scheme "Standing close"
place "A" "Cabinet"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
person "operator" place="A" {{ may "CS" }}
breaker "52" place="A" closing-time="60 ms" opening-time="30 ms" {{
    coil "close" drives-to="closed" resistance="40 ohm" works="90 to 140 V" goes-after="0 ms"
    coil "trip" drives-to="open" resistance="25 ohm" works="70 to 140 V" goes-after="0 ms"
    contact "a1" "a2" closed-when="closed"
    contact "b1" closed-when="open"
}}
handle "CS" place="A" {{
    position "rest"
    position "close" returns-to="rest"
    contact "close" closed-when="close"
}}
{relay}
ied "21" place="A" {{
    logic "trip" when="52 closed" on-delay="20 ms"
    contact "trip" closed-when="trip"
}}
circuit "Close" supply="DC" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "Close" from="P" to="N" {{
        contact "CS" "close"
        wire "C"
        {b}
        contact "52" "b1"
        coil "52" "close"
    }}
    {leg}
    leg "Trip" {{ contact "21" "trip"; contact "52" "a2"; coil "52" "trip" }}
}}
story "Standing close" {{
    given "52 open"
    at "0 ms" "CS close" held="2 s"
    expect at-most=1 of="52 closed"
}}
"#
    ))
}

/// Closings = ceil(2000 / (60 + 20 + 30)) = 19: derived from the definitions of closing and opening
/// time and of trip-free (IEEE C37.04 wording, read in a public summary).
#[test]
fn without_anti_pump_a_standing_close_closes_nineteen_times() {
    let timeline = first_story(&standing_close(false), PlayOptions::default());
    assert_eq!(count(&timeline, "a closing begins"), 19);
    assert!(!timeline.holds());
}

/// The outcome a regulator's notice describes (1988, anti-pump circuitry): one closing, then
/// locked out while the order stands.
#[test]
fn with_anti_pump_a_standing_close_closes_once() {
    let timeline = first_story(&standing_close(true), PlayOptions::default());
    assert_eq!(count(&timeline, "a closing begins"), 1);
    assert!(timeline.holds(), "{:?}", timeline.outcomes);
    // 52 touches at 60 ms with its a contact; 52Y follows 15 ms later; parting at 60 + 20 + 30.
    assert!((time_of(&timeline, "main contacts touch") - 60.0).abs() < 1e-9);
    assert!((time_of(&timeline, "52Y picks up") - 75.0).abs() < 1e-9);
    assert!((time_of(&timeline, "main contacts part") - 110.0).abs() < 1e-9);
    // It drops out when the order is withdrawn at 2000 ms, 10 ms later.
    assert!((time_of(&timeline, "52Y drops out") - 2010.0).abs() < 1e-9);
}

#[test]
fn dunmarrow_pumps_until_its_air_is_spent_and_its_repaired_sibling_closes_once() {
    let wrong = first_story(&example("dunmarrow"), PlayOptions::default());
    assert_eq!(count(&wrong, "a closing begins"), 5, "air for five closings");
    assert!(!wrong.holds());
    let right = first_story(&example("dunmarrow-repaired"), PlayOptions::default());
    assert_eq!(count(&right, "a closing begins"), 1);
    assert!(right.holds());
}

#[test]
fn dunmarrow_pumps_at_every_end_of_its_declared_ranges() {
    let all = [Operating::Low, Operating::Middle, Operating::High];
    for volts in all {
        for delays in all {
            let options = PlayOptions { volts, delays };
            let wrong = first_story(&example("dunmarrow"), options);
            assert!(count(&wrong, "a closing begins") > 1, "{options:?}");
            let right = first_story(&example("dunmarrow-repaired"), options);
            assert_eq!(count(&right, "a closing begins"), 1, "{options:?}");
        }
    }
}

#[test]
fn quillmere_trips_recloses_and_never_closes_on_to_a_standing_fault_twice() {
    for name in ["quillmere", "quillmere-block"] {
        let scheme = example(name);
        assert!(!scheme.stories.is_empty());
        for story in &scheme.stories {
            let timeline = played(&scheme, &story.name);
            assert!(timeline.holds(), "{name}, {}: {:?}", story.name, timeline.outcomes);
        }
    }
}

#[test]
fn a_seal_in_forgets_and_latches_remember_a_loss_of_supply() {
    let scheme = example("latches");
    let timeline = played(&scheme, "Remember and forget");
    assert!(timeline.holds(), "{:?}", timeline.outcomes);
    let lost = time_of(&timeline, "DC1 is lost");
    let forgot = time_of(&timeline, "K1 drops out");
    assert!((2000.0 - lost).abs() < 1e-9 && forgot > lost);
}

#[test]
fn every_moved_coil_names_its_path_from_rail_to_rail() {
    let timeline = first_story(&example("dunmarrow"), PlayOptions::default());
    let close =
        timeline.events.iter().find(|event| event.what.contains("close latch goes")).unwrap();
    let expected =
        ["F1", "52CS close", "25 permit", "D1/1", "52Y b1", "52 b1", "52 close", "D1/4", "F2"];
    assert_eq!(close.path, expected);
    let (lo, hi) = close.volts.unwrap();
    // Hand: 105 V and 140 V less the drop of two cores of 120 m of 10 AWG before 30 ohm.
    assert!(lo > 95.0 && lo < 105.0 && hi > 130.0 && hi < 140.0, "{lo} {hi}");
}

#[test]
fn a_relay_is_not_moved_by_a_pulse_shorter_than_its_pickup() {
    let scheme = |held: &str| {
        text(&format!(
            r#"scheme "Pulse"
place "A" "Panel"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
person "operator" place="A" {{ may "PB" }}
button "PB" place="A" {{ contact "a1" closed-when="pressed" }}
relay "94" place="A" {{
    coil resistance="2000 ohm" pickup="50 to 70 V" dropout="15 to 40 V" {{
        pickup-time "20 ms"
        dropout-time "10 ms"
    }}
    contact "a1" closed-when="picked up"
}}
circuit "C" supply="DC" {{
    feed {{ fuse "F1" "6 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "6 A" }}
    leg "Relay" {{ contact "PB" "a1"; coil "94" }}
    leg "Lamp" {{ contact "94" "a1"; lamp "L" "8 mA" shows="94 picked up" }}
}}
story "Pulse" {{ at "0 ms" "PB pressed" held="{held}" }}
"#
        ))
    };
    assert_eq!(count(&first_story(&scheme("19 ms"), PlayOptions::default()), "94 picks up"), 0);
    assert_eq!(count(&first_story(&scheme("21 ms"), PlayOptions::default()), "94 picks up"), 1);
}

/// A latch whose coil takes 20 to 50 ms (35 ms in the middle), ordered on at 100 ms for `held`; a
/// hand may turn it too, if `by_hand`.
fn latch_ordered(by_hand: bool, held: &str) -> Timeline {
    let may = if by_hand { r#"person "electrician" place="P" { may "L" }"# } else { "" };
    let scheme = text(&format!(
        r#"scheme "Latch"
place "P" "Panel"
supply "D" "125 V DC" range="105 to 140 V" place="P"
{may}
order "O"
ied "I" place="P" {{ contact "a" closed-when="O" }}
latch "L" turned-by="hand or coil" place="P" drawn="off" {{
    position "off"
    position "on"
    coil "on" drives-to="on" resistance="900 ohm" works="85 to 140 V" pickup="55 to 80 V" {{ pickup-time "20 to 50 ms" }}
    contact "a" closed-when="on"
}}
circuit "C" supply="D" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    leg "A" {{ contact "I" "a"; coil "L" "on" }}
}}
story "S" {{
    given "L off"
    at "100 ms" "O" held="{held}"
}}
"#
    ));
    played(&scheme, "S")
}

#[test]
fn a_hand_that_may_turn_a_latch_takes_nothing_off_the_time_of_its_coil() {
    for by_hand in [false, true] {
        let timeline = latch_ordered(by_hand, "300 ms");
        let on = time_of(&timeline, "L is on");
        assert!((on - 135.0).abs() < 1e-9, "by hand {by_hand}: on at {on} ms");
        let pulse = latch_ordered(by_hand, "15 ms");
        assert_eq!(count(&pulse, "L is on"), 0, "by hand {by_hand}: {:#?}", pulse.events);
    }
}

#[test]
fn a_coil_with_too_little_voltage_does_not_move_and_the_timeline_says_so() {
    let scheme = |length: &str| {
        text(&format!(
            r#"scheme "Far away"
place "HOUSE" "House"
place "YARD" "Yard"
supply "DC" "125 V DC" range="105 to 140 V" place="HOUSE"
cable "K" from="HOUSE" to="YARD" length="{length}" size="14 AWG" cores=2
person "operator" place="HOUSE" {{ may "PB" }}
button "PB" place="HOUSE" {{ contact "a1" closed-when="pressed" }}
relay "52X" place="YARD" {{
    coil resistance="30 ohm" works="90 to 140 V" pickup="70 to 85 V" dropout="15 to 40 V" {{
        pickup-time "20 ms"
        dropout-time "10 ms"
    }}
}}
circuit "C" supply="DC" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; core "K" 2 into="HOUSE"; fuse "F2" "15 A" }}
    leg "Relay" {{ contact "PB" "a1"; core "K" 1 into="YARD"; coil "52X" }}
}}
story "Order" {{ at "0 ms" "PB pressed" held="1 s"; expect "52X picked up" by="500 ms" }}
"#
        ))
    };
    assert!(first_story(&scheme("20 m"), PlayOptions::default()).holds());
    // 14 AWG, 3.14 ohm per 1000 ft at 75 °C: about 41 ohm for 2000 m there and back, so that a
    // 30 ohm coil keeps less than half of the volts.
    let far = first_story(&scheme("2000 m"), PlayOptions::default());
    assert!(!far.holds());
    assert_eq!(count(&far, "too little to move"), 1, "{:#?}", far.events);
    assert_eq!(count(&far, "52X picks up"), 0);
}

#[test]
fn the_same_story_gives_the_same_timeline() {
    let scheme = example("quillmere");
    let story = &scheme.stories[0].name;
    assert_eq!(played(&scheme, story), played(&scheme, story));
}

#[test]
fn a_relay_that_feeds_itself_through_its_own_b_contact_never_lets_time_stop_unseen() {
    let scheme = text(
        r#"scheme "Buzzer"
place "A" "Panel"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
relay "K" place="A" {
    coil resistance="2000 ohm" pickup="50 to 70 V" dropout="15 to 40 V" {
        pickup-time "0 ms"
        dropout-time "0 ms"
    }
    contact "b1" closed-when="dropped out"
}
circuit "C" supply="DC" {
    feed { fuse "F1" "6 A"; wire "P" }
    return { wire "N"; fuse "F2" "6 A" }
    leg "Relay" { contact "K" "b1"; coil "K" }
}
story "Nothing" { at "10 ms" "DC live" }
"#,
    );
    let timeline = first_story(&scheme, PlayOptions::default());
    assert!(timeline.stuck.is_some(), "{:#?}", timeline.events.len());
    assert!(!timeline.holds());
}

#[test]
fn every_state_of_a_story_is_shown_once_at_its_time() {
    let scheme = example("quillmere");
    let machine = Machine::new(&scheme).unwrap();
    let scope = fiftytwo_motion::machine::Scope::whole(&machine);
    let evaluator = fiftytwo_motion::machine::Evaluator::new(&machine, &scope);
    let story = scheme.stories.first().unwrap();
    let trip = scheme.part_named("52 a2").unwrap();
    let mut opened = Vec::new();
    let mut was = None;
    let mut last = 0;
    let timeline =
        fiftytwo_motion::play_seen(&evaluator, story, PlayOptions::default(), &mut |now, look| {
            assert!(now >= last);
            last = now;
            let closed = look.closed(trip).sure();
            if was == Some(true) && !closed {
                opened.push(now);
            }
            was = Some(closed);
        });
    assert_eq!(timeline, play(&machine, story, PlayOptions::default()));
    let told: Vec<i64> = timeline
        .events
        .iter()
        .filter(|event| event.what.contains("a2") && event.movement == "52 opening")
        .map(|event| event.time_us)
        .collect();
    assert!(!opened.is_empty());
    assert_eq!(opened, told);
}

#[test]
fn an_input_that_may_be_either_does_not_flicker_at_the_highest_volts() {
    let scheme = example("quillmere");
    let machine = Machine::new(&scheme).unwrap();
    for story in &scheme.stories {
        for delays in [Operating::Low, Operating::Middle, Operating::High] {
            let timeline = play(&machine, story, PlayOptions { volts: Operating::High, delays });
            assert_eq!(timeline.stuck, None, "{}", story.name);
            assert!(timeline.holds(), "{}: {:?}", story.name, timeline.outcomes);
        }
    }
}

/// A button, a relay whose contact may bounce, and a programmed device that takes a time to start.
const ENVIRONMENT: &str = r#"scheme "Environment"
place "A" "Panel"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
condition "fault"
person "operator" place="A" { may "PB" }
button "PB" place="A" { contact "a1" closed-when="pressed" }
relay "K" place="A" {
    coil resistance="2000 ohm" pickup="50 to 70 V" dropout="15 to 40 V" pickup-time="10 ms" dropout-time="5 ms"
    contact "a1" closed-when="picked up" bounce="3 ms"
}
ied "87" place="A" starts-in="12 s" {
    power burden="10 W"
    logic "trip" when="fault"
    contact "trip" closed-when="trip"
    contact "failed" closed-when="not trip"
}
circuit "C" supply="DC" {
    feed { fuse "F1" "6 A"; wire "P" }
    return { wire "N"; fuse "F2" "6 A" }
    leg "K" { contact "PB" "a1"; coil "K" }
    leg "Red" { contact "K" "a1"; lamp "RED" "8 mA" }
    leg "White" { contact "87" "trip"; lamp "WHITE" "8 mA" }
    leg "Blue" { contact "87" "failed"; lamp "BLUE" "8 mA" }
    leg "87" { power "87" }
}
story "Pressed" { at "0 ms" "PB pressed" held="100 ms"; expect at-most=1 of="K a1 closed" }
story "Lost and back" {
    given "fault"
    at "100 ms" "not DC live" held="50 ms"
    expect "87 trip closed" by="90 ms"
    expect "not 87 trip closed" by="110 ms"
    expect "87 failed closed" by="160 ms"
    expect "not 87 trip closed" by="12100 ms"
    expect "87 trip closed" by="12160 ms"
}
"#;

#[test]
fn a_bounce_is_not_played_and_the_story_says_so() {
    let scheme = text(ENVIRONMENT);
    for volts in [Operating::Low, Operating::Middle, Operating::High] {
        let machine = Machine::new(&scheme).unwrap();
        let story = scheme.story_named("Pressed").unwrap();
        let timeline = play(&machine, story, PlayOptions { volts, delays: volts });
        assert_eq!((count(&timeline, "K a1 closes"), count(&timeline, "K a1 opens")), (1, 1));
        assert!(timeline.outcomes.iter().all(|it| it.met), "{:#?}", timeline.outcomes);
        let notes: Vec<_> =
            timeline.notes.iter().filter(|note| note.contains("may bounce")).collect();
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert!(notes[0].starts_with("K a1 may bounce for 3 ms"), "{notes:?}");
    }
}

#[test]
fn a_device_that_starts_slowly_is_as_without_supply_until_it_has_started() {
    let timeline = played(&text(ENVIRONMENT), "Lost and back");
    assert!(timeline.outcomes.iter().all(|it| it.met), "{:#?}", timeline.outcomes);
    assert!((time_of(&timeline, "87 is dead") - 100.0).abs() < 0.1);
    assert!((time_of(&timeline, "87 has started") - 12_150.0).abs() < 0.1);
}
