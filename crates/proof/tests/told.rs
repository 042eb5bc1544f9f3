//! How a story is told.
#![allow(clippy::unwrap_used, reason = "tests")]

use fiftytwo_proof::{Options, prove};
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
