//! Rows of the checklist of a control scheme that ask what one short or one lost supply takes away: a motor
//! or a heater behind a trip coil's fuse, an alarm that dies with what it is to tell, a lockout's coil that
//! nothing cuts off.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::calculate;
use fiftytwo_scheme::{Finding, Severity, read_text};

fn found(devices: &str, circuits: &str) -> Vec<Finding> {
    let text = format!(
        r#"
scheme "Rows"
place "H" "House" ambient="20 to 40 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="H"
supply "DC2" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="H"
condition "line fault"
breaker "52" place="H" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" max-on="1 s"
    motor "M" "6 A" works="90 to 140 V"
    contact "a1" closed-when="closed"
    contact "LS" closed-when="closed"
}}
ied "21" place="H" {{ contact "t" closed-when="line fault" }}
{devices}
{circuits}
"#
    );
    let reading = read_text("rows.kdl", &text);
    assert!(reading.scheme.is_some(), "{:#?}", reading.findings);
    calculate(&reading.scheme.unwrap()).unwrap().findings()
}

fn told<'f>(found: &'f [Finding], id: &str) -> Vec<&'f Finding> {
    found.iter().filter(|it| it.id == id).collect()
}

const TRIP: &str =
    r#"leg "Trip" from="P" to="N" { contact "21" "t"; contact "52" "a1"; coil "52" "trip" }"#;

fn circuit(legs: &str) -> String {
    format!(
        r#"circuit "Trip" supply="DC1" {{
    feed {{ fuse "F1" "15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" }}
    {TRIP}
    {legs}
}}"#
    )
}

/// Behind F1 and F2 both the spring motor and the trip coil: 15 A over 1.6 are 9.375 A.
#[test]
fn a_short_in_a_motor_or_a_heater_must_not_take_tripping_away() {
    for (leg, name) in [
        (r#"leg "M" from="P" to="N" { contact "52" "LS"; motor "52" "M" }"#, "52 M"),
        (r#"leg "H" from="P" to="N" { heater "H1" "300 W" }"#, "H1"),
    ] {
        let all = found("", &circuit(leg));
        let beside = told(&all, "load-beside-trip");
        assert_eq!(beside.len(), 1, "{all:#?}");
        assert_eq!(beside[0].severity, Severity::Finding);
        assert_eq!(
            beside[0].message,
            format!("a short in {name} takes 52 trip away: F1 and F2 stand before both")
        );
        assert!(beside[0].help.as_ref().unwrap().contains("9.37 A or less"), "{beside:?}");
    }
    let own = r#"leg "M" from="P" to="N" { fuse "F3" "6 A"; contact "52" "LS"; motor "52" "M"; fuse "F4" "6 A" }"#;
    assert_eq!(told(&found("", &circuit(own)), "load-beside-trip"), Vec::<&Finding>::new());
    assert_eq!(told(&found("", &circuit("")), "load-beside-trip"), Vec::<&Finding>::new());
}

const RELAY: &str = r#"relay "27" place="H" {
    coil resistance="10 kohm" works="80 to 140 V" pickup="60 to 70 V" dropout="15 to 40 V"
    contact "b1" closed-when="dropped out"
}"#;

fn watch(shows: &str, from: &str) -> Vec<Finding> {
    let alarm = format!(
        r#"ied "ANN" place="H" {{ input "dc" resistance="60 kohm" on-above="88 V" off-below="75 V" shows="{shows}" }}"#
    );
    let leg = r#"{ contact "27" "b1"; input "ANN" "dc" }"#;
    let own = r#"leg "27" from="P" to="N" { coil "27" }"#;
    let circuits = if from == "DC1" {
        circuit(&format!(
            r#"{own}
    leg "Alarm" from="P" to="N" {leg}"#
        ))
    } else {
        format!(
            r#"{}
circuit "Alarm" supply="DC2" {{
    feed {{ fuse "F5" "6 A"; wire "AP" }}
    return {{ wire "AN"; fuse "F6" "6 A" }}
    leg "Alarm" from="AP" to="AN" {leg}
}}"#,
            circuit(own)
        )
    };
    found(&format!("{RELAY}\n{alarm}"), &circuits)
}

#[test]
fn an_alarm_of_a_lost_supply_that_the_lost_supply_feeds_is_found() {
    for shows in ["not DC1 live", "27 dropped out"] {
        let dead = watch(shows, "DC1");
        let dead = told(&dead, "alarm-lost-with-supply");
        assert_eq!(dead.len(), 1, "{shows}: {dead:#?}");
        assert_eq!((dead[0].severity, dead[0].devices[0].as_str()), (Severity::Finding, "ANN dc"));
        assert_eq!(told(&watch(shows, "DC2"), "alarm-lost-with-supply"), Vec::<&Finding>::new());
    }
}

#[test]
fn a_supply_whose_loss_changes_nothing_gets_a_note() {
    assert_eq!(told(&found("", &circuit("")), "supply-loss-unseen").len(), 1);
    let lamp = r#"leg "On" from="P" to="N" { lamp "W" "8 mA" shows="DC1 live" }"#;
    assert_eq!(told(&found("", &circuit(lamp)), "supply-loss-unseen").len(), 0);
}

/// 26 ohm at 20 C behind 14 mohm: 140 V drive 5.38 A, 753 W, for as long as 87 stands.
#[test]
fn a_lockout_coil_that_nothing_cuts_off_is_found() {
    let devices = |cut: &str| {
        format!(
            r#"lockout "86" place="H" {{ coil "operate" resistance="26 ohm" works="70 to 140 V" pickup="40 to 60 V" pickup-time="8 to 16 ms" time-constant="15 ms"{cut}
    contact "a1" closed-when="operated"
    contact "b1" closed-when="reset" }}
ied "87" place="H" {{ contact "t" closed-when="line fault" }}"#
        )
    };
    let leg = |cut: &str| {
        circuit(&format!(
            r#"leg "L" from="P" to="N" {{ contact "87" "t"; {cut}coil "86" "operate" }}"#
        ))
    };
    let bare = found(&devices(""), &leg(""));
    let bare = told(&bare, "momentary-coil-without-cut-off");
    assert_eq!(bare.len(), 1, "{bare:#?}");
    assert!(bare[0].message.contains("753 W"), "{bare:#?}");
    let own = found(&devices(""), &leg(r#"contact "86" "b1"; "#));
    assert_eq!(told(&own, "momentary-coil-without-cut-off"), Vec::<&Finding>::new());
}
