//! What comes to rest and what buzzes, claims that show that they are not empty, and a world in which
//! nothing can happen.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_proof::{Options, Proof, Report, Verdict, prove};
use fiftytwo_scheme::read_text;

fn proof(text: &str) -> Proof {
    let reading = read_text("test.kdl", text);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    prove(&scheme, &Options { margins: false, ..Options::default() }).unwrap()
}

fn rests(text: &str) -> Report {
    let mut reports = proof(text).reports;
    reports.retain(|report| report.claim == "nothing hangs" && report.asks.contains("buzz"));
    assert_eq!(reports.len(), 1);
    reports.pop().unwrap()
}

fn panel(legs: &str) -> String {
    let relay = |name: &str| {
        format!(
            r#"relay "{name}" place="A" {{
    coil resistance="2000 ohm" works="85 to 140 V" pickup="60 to 80 V" dropout="15 to 45 V" pickup-time="5 to 15 ms" dropout-time="4 to 12 ms"
    contact "a1" "a2" closed-when="picked up"
    contact "b1" "b2" closed-when="dropped out"
}}
"#
        )
    };
    format!(
        r#"scheme "Panel"
place "A" "Panel"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
person "operator" place="A" {{ may "PB1" "PB2" }}
button "PB1" place="A" {{ contact "a1" "a2" closed-when="pressed"; contact "b1" closed-when="released" }}
button "PB2" place="A" {{ contact "a1" "a2" closed-when="pressed"; contact "b1" closed-when="released" }}
{}{}latch "K3" place="A" {{
    position "cleared"
    position "set"
    coil "set" drives-to="set" resistance="2000 ohm" works="85 to 140 V" pickup="55 to 80 V" pickup-time="10 to 30 ms"
    coil "clear" drives-to="cleared" resistance="2000 ohm" works="85 to 140 V" pickup="55 to 80 V" pickup-time="10 to 30 ms"
    contact "a1" closed-when="set"
    contact "b1" closed-when="cleared"
}}
circuit "C" supply="DC" {{
    feed {{ fuse "F1" "6 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "6 A" }}
    {legs}
}}
claim "both" never="K1 picked up and K2 picked up"
"#,
        relay("K1"),
        relay("K2"),
    )
}

#[test]
fn a_relay_that_cuts_itself_off_buzzes_and_one_that_seals_itself_in_rests() {
    let seal = r#"leg "K1" { parallel { contact "PB1" "a1"; contact "K1" "a1" }; contact "PB2" "b1"; coil "K1" }
    leg "K2" { contact "PB2" "a1"; coil "K2" }"#;
    let report = rests(&panel(seal));
    assert_eq!(report.verdict, Verdict::HoldsInAnyOrder, "{report:#?}");
    assert!(report.because.unwrap().contains("K1"));
    // The seal closes only after its own b contact has cut the coil off.
    let sealed = seal.replace("contact \"PB2\" \"b1\"; coil", "contact \"K1\" \"b1\"; coil");
    assert_ne!(sealed, seal);
    assert_eq!(rests(&panel(&sealed)).verdict, Verdict::Fails);
    let buzzer = r#"leg "K1" { contact "PB1" "a1"; contact "K1" "b1"; coil "K1" }
    leg "K2" { contact "PB2" "a1"; coil "K2" }"#;
    let report = rests(&panel(buzzer));
    assert_eq!(report.verdict, Verdict::Fails, "{report:#?}");
    let story = report.story.unwrap();
    assert!(story.replayed);
    let picks = story.events.iter().filter(|event| event.what.contains("K1")).count();
    assert!(picks >= 2, "{story:#?}");
}

/// Two relays that each cut the other off rest with one of them in; a ring of one seal and one cut
/// goes round.
#[test]
fn a_ring_of_two_relays_goes_round_where_one_follows_and_the_other_cuts() {
    let interlock = r#"leg "K1" { contact "PB1" "a1"; contact "K2" "b1"; coil "K1" }
    leg "K2" { contact "PB2" "a1"; contact "K1" "b1"; coil "K2" }"#;
    let report = rests(&panel(interlock));
    assert_eq!(report.verdict, Verdict::HoldsInAnyOrder, "{report:#?}");
    let ring = r#"leg "K1" { contact "PB1" "a1"; contact "K2" "b1"; coil "K1" }
    leg "K2" { contact "K1" "a1"; coil "K2" }"#;
    let report = rests(&panel(ring));
    assert_eq!(report.verdict, Verdict::Fails, "{report:#?}");
    assert!(report.because.unwrap().contains("K1"));
}

/// Each coil cut off by the latch itself does not help against two held buttons; one button that cuts
/// the other does.
#[test]
fn a_latch_pulled_both_ways_never_rests() {
    let relays = r#"leg "K1" { contact "PB1" "a2"; coil "K1" }
    leg "K2" { contact "PB2" "a2"; coil "K2" }"#;
    let both = format!(
        r#"leg "Set" {{ contact "PB1" "a1"; contact "K3" "b1"; coil "K3" "set" }}
    leg "Clear" {{ contact "PB2" "a1"; contact "K3" "a1"; coil "K3" "clear" }}
    {relays}"#
    );
    let report = rests(&panel(&both));
    assert_eq!(report.verdict, Verdict::Fails, "{report:#?}");
    let one = both.replace(
        "contact \"PB2\" \"a1\"; contact \"K3\"",
        "contact \"PB2\" \"a1\"; contact \"PB1\" \"b1\"; contact \"K3\"",
    );
    let report = rests(&panel(&one));
    assert_eq!(report.verdict, Verdict::HoldsInAnyOrder, "{report:#?}");
    let waived = panel(&both) + "waive \"nothing hangs\" for=\"K3\" because=\"one hand only\"\n";
    let report = rests(&waived);
    assert_eq!(report.verdict, Verdict::HoldsInAnyOrder, "{report:#?}");
    assert!(report.because.unwrap().contains("one hand only"));
}

const APART: &str = r#"leg "K1" { contact "PB1" "a1"; contact "PB2" "b1"; coil "K1" }
    leg "K2" { contact "PB2" "a1"; contact "PB1" "b1"; coil "K2" }"#;

fn own(text: &str) -> Report {
    proof(text).reports.into_iter().find(|report| report.claim == "both").unwrap()
}

/// Each cuts the other off before its own contacts close; with the buttons alone a quick change of hands
/// finds one not yet dropped out when the other picks up.
#[test]
fn a_claim_that_holds_shows_a_run_for_each_of_its_parts() {
    let interlock = r#"leg "K1" { contact "PB1" "a1"; contact "K2" "b1"; coil "K1" }
    leg "K2" { contact "PB2" "a1"; contact "K1" "b1"; coil "K2" }"#;
    let report = own(&panel(interlock));
    assert_eq!(report.verdict, Verdict::HoldsInAnyOrder, "{report:#?}");
    assert_eq!(report.witnesses.len(), 2);
    for (witness, relay) in report.witnesses.iter().zip(["K1", "K2"]) {
        let last = witness.events.last().unwrap();
        assert!(last.what.contains(relay), "{witness:#?}");
    }
    let report = own(&panel(APART));
    assert_eq!(report.verdict, Verdict::Fails);
    assert!(report.witnesses.is_empty());
}

/// K2 stands in no circuit: that the two never come together says nothing.
#[test]
fn a_claim_of_which_one_part_never_happens_is_vacuous() {
    let report = own(&panel(r#"leg "K1" { contact "PB1" "a1"; coil "K1" }"#));
    assert_eq!(report.verdict, Verdict::Vacuous, "{report:#?}");
    assert!(report.because.unwrap().contains("part 2"));
    assert!(report.witnesses.is_empty());
}

#[test]
fn where_nobody_may_do_anything_nothing_is_proven() {
    let nobody =
        panel(APART).replace("person \"operator\" place=\"A\" { may \"PB1\" \"PB2\" }\n", "");
    let proof = proof(&nobody);
    assert!(!proof.reports.is_empty());
    for report in &proof.reports {
        assert_eq!(report.verdict, Verdict::Vacuous, "{report:#?}");
        assert!(report.because.as_ref().unwrap().contains("nobody may do anything"));
    }
    assert_eq!(proof.exit_code(), 1);
}
