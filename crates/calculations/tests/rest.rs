//! Rest positions of the examples, read off the schemes by hand.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::{RestPosition, rest_positions};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Scheme, read_path};

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    read_path(path.as_ref()).scheme.unwrap()
}

fn rest(scheme: &Scheme) -> Vec<RestPosition> {
    rest_positions(&Machine::new(scheme).unwrap())
}

fn names(positions: &[RestPosition]) -> Vec<&str> {
    positions.iter().map(|position| position.name.as_str()).collect()
}

#[test]
fn a_scheme_has_the_positions_that_its_devices_make_possible() {
    assert_eq!(
        names(&rest(&example("quillmere"))),
        [
            "52 open",
            "52 closed",
            "52 open, 86 operated",
            "52 open, gas low",
            "52 closed, gas low",
            "52 open, gas very low",
            "52 closed, gas very low",
            "52 open, cabinet cold",
            "52 closed, cabinet cold",
            "52 open, DC1 lost",
            "52 closed, DC1 lost",
            "52 open, DC2 lost",
            "52 closed, DC2 lost",
            "52 open, AC1 lost",
            "52 closed, AC1 lost",
        ]
    );
    assert_eq!(names(&rest(&example("latches"))), ["at rest", "DC1 lost"]);
}

#[test]
fn supply_watches_stand_picked_up_and_fall_with_their_supply() {
    let scheme = example("quillmere");
    let positions = rest(&scheme);
    let at = |name: &str| positions.iter().find(|position| position.name == name).unwrap();
    let closed = |name: &str, part: &str| at(name).is_closed(scheme.part_named(part).unwrap());
    assert!(!closed("52 open", "27T1 b1") && !closed("52 open", "27T2 b1"));
    assert!(closed("52 open, DC1 lost", "27T1 b1") && !closed("52 open, DC1 lost", "27T2 b1"));
    assert!(closed("52 closed", "52 a2") && !closed("52 closed", "52 b1"));
    assert!(closed("52 open", "52 LS2"), "the spring is charged");
    assert!(positions.iter().all(|position| position.unsure.is_empty() && position.rests));
}

#[test]
fn a_breaker_that_trips_by_itself_does_not_stay_closed() {
    let scheme = example("quillmere");
    let positions = rest(&scheme);
    let very_low = positions.iter().find(|it| it.name == "52 closed, gas very low").unwrap();
    assert!(very_low.rests && !very_low.stays);
    assert!(!very_low.is_closed(scheme.part_named("52 a2").unwrap()), "it has tripped");
    assert!(very_low.is_closed(scheme.part_named("63X a1").unwrap()), "and the relay stays");
    let blocked = example("quillmere-block");
    let positions = rest(&blocked);
    let very_low = positions.iter().find(|it| it.name == "52 closed, gas very low").unwrap();
    assert!(very_low.stays, "there low gas blocks: {}", very_low.description);
}
