//! Reasons are true of the moment they are told of.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_motion::timeline::Event;
use fiftytwo_scene::chart::picture;
use fiftytwo_scene::state::moments;
use fiftytwo_scene::told::told;
use fiftytwo_scheme::{Scheme, read_path};
use std::path::Path;

fn read(name: &str) -> Scheme {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    read_path(&path.join("scheme.kdl")).scheme.unwrap()
}

fn events(scheme: &Scheme, story: &str) -> Vec<Event> {
    let story = scheme.stories.iter().find(|it| it.name == story).unwrap();
    moments(scheme, story, &[0]).unwrap().1.events
}

fn reasons<'e>(events: &'e [Event], what: &str) -> Vec<&'e str> {
    let named = events.iter().filter(|event| event.what == what && !event.silent);
    named.map(|event| event.why.as_str()).collect()
}

const RECLOSING: &str = "Fault, trip and one reclosing";

/// Both trip contacts stand closed over the input of the second circuit, and no supply is lost in this run.
/// Later the breaker closes: 52 b3, its way while the breaker is open, opens, and 52 a3 is not closed yet.
#[test]
fn an_input_goes_off_because_it_is_bridged_or_its_way_opens_not_for_want_of_a_supply() {
    let scheme = read("quillmere");
    let events = events(&scheme, RECLOSING);
    let reasons = reasons(&events, "21B TC2 watch goes off");
    assert_eq!(reasons.len(), 2, "{reasons:?}");
    assert_eq!(reasons[0], "21B TC2 watch is bridged by 21B trip");
    assert_eq!(reasons[1], "21B TC2 watch is not driven: open are 52 a3; or 52 b3");
    assert!(events.iter().all(|event| !event.why.contains("no supply")));
}

#[test]
fn a_relay_whose_supply_is_lost_drops_out_for_that_and_not_for_its_own_contact() {
    let scheme = read("latches");
    let events = events(&scheme, "Remember and forget");
    let reasons = reasons(&events, "K1 drops out");
    assert!(reasons.contains(&"K1 has no supply: DC1 is lost"), "{reasons:?}");
    assert!(reasons.iter().all(|why| !why.contains("K1 a1")), "{reasons:?}");
}

/// The seal of the anti-pump relay opens because the relay lets go: the hand let it go first.
#[test]
fn a_relay_that_is_let_go_does_not_name_its_own_seal() {
    let scheme = read("quillmere");
    for story in &scheme.stories {
        for event in events(&scheme, &story.name) {
            let own = event.what == "52Y drops out" && event.why.contains("52Y a1");
            assert!(!own, "{}: {}", story.name, event.why);
        }
    }
}

/// `shot` closes the contact that recloses; `fired` comes on in the same instant and closes nothing.
#[test]
fn the_coil_is_driven_by_the_line_of_logic_that_its_contact_follows() {
    let scheme = read("quillmere");
    let story = scheme.stories.iter().find(|it| it.name == RECLOSING).unwrap();
    let chart = picture(&scheme, &moments(&scheme, story, &[0]).unwrap().1);
    let whys: Vec<&String> = chart
        .edges
        .iter()
        .map(|edge| &edge.why)
        .filter(|why| why.starts_with("52 close is driven"))
        .collect();
    assert_eq!(whys, ["52 close is driven: 79 shot comes on"]);
}

/// A panel of the close circuit tells what happens there, not that an input elsewhere comes on.
#[test]
fn a_circuit_is_told_of_its_own_parts_and_not_of_others_of_the_same_device() {
    let scheme = read("quillmere");
    let events = events(&scheme, RECLOSING);
    let close = scheme.circuits.iter().find(|(_, it)| it.name == "Close").unwrap().0;
    let times: Vec<i64> = events.iter().map(|event| event.time_us).collect();
    let mut told_of = 0;
    for at in times {
        let head = told(&scheme, &events, Some(close), (at - 1, at));
        for far in ["79 start comes on", "RTU closed", "RTU open"] {
            let own_time = events.iter().any(|event| {
                event.time_us == at && fiftytwo_scene::told::concerns(&scheme, event, close)
            });
            assert!(!own_time || !head.what.contains(far), "{at}: {}", head.what);
            told_of += usize::from(own_time);
        }
    }
    assert!(told_of > 9, "{told_of}");
}

/// What moved last is told, however small a step: a stale head would stand over another state.
#[test]
fn the_head_of_a_moment_is_its_last_event() {
    let scheme = read("quillmere");
    let events = events(&scheme, RECLOSING);
    let last = |at: i64| {
        events
            .iter()
            .filter(|event| event.time_us <= at && !event.silent)
            .map(|it| it.time_us)
            .max()
    };
    for at in [11_560_000, 11_062_000, 11_590_000] {
        let time = last(at).unwrap();
        let head = told(&scheme, &events, None, (i64::MIN, at)).what;
        let at_time = fiftytwo_scene::state::milliseconds(time);
        assert!(time == at || head.ends_with(&format!("at {at_time}")), "{at}: {head}");
    }
}
