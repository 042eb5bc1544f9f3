//! The duty of contacts and momentary coils.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::duty::inductance::time_constant;
use fiftytwo_calculations::duty::ratings::{self, Verdict};
use fiftytwo_calculations::duty::{CoilDuty, ContactDuty, Duty, Order, duty};
use fiftytwo_calculations::suppression::suppression;
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{
    Contact, Finding, GoesAfter, PartKind, Scheme, Severity, TimeRange, read_path, read_text,
};
use serde_json::Value;
use std::path::Path;

fn example(name: &str) -> Scheme {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name).join("scheme.kdl");
    let reading = read_path(&path);
    reading.scheme.unwrap_or_else(|| panic!("{name}: {:?}", reading.findings))
}

fn worked_out(scheme: &Scheme) -> Duty {
    let machine = Machine::new(scheme).unwrap();
    let across = suppression(&machine.wiring);
    duty(&Study::new(&machine), &across)
}

fn read(text: &str) -> Scheme {
    let reading = read_text("test.kdl", text);
    reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

fn checks() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/contacts.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(row: &Value, name: &str) -> f64 {
    row[name].as_f64().unwrap_or_else(|| panic!("{name} in {row}"))
}

/// A breaker with one trip coil of 4.8 A at 125 V (a published standard trip coil) on a stiff 125 V
/// supply. `contact`: lines of the relay's trip contact; `logic`: its off-delay; `way`: what stands
/// between the contact and the coil; `close`: what stands before the close coil.
struct Bay {
    contact: &'static str,
    off_delay: &'static str,
    way: &'static str,
    close: &'static str,
    a1: &'static str,
}

const BAY: Bay = Bay {
    contact: r#"makes "30 A"; breaks "0.3 A" volts="125 V" time-constant="40 ms""#,
    off_delay: "0 ms",
    way: r#"contact "52" "a1""#,
    close: r#"contact "52" "b1""#,
    a1: r#"breaks "6 A" volts="125 V" time-constant="40 ms""#,
};

impl Bay {
    fn read(&self) -> Scheme {
        let Self { contact, off_delay, way, close, a1 } = self;
        read(&format!(
            r#"
scheme "Bay" revision="A"
place "A" "House" ambient="20 to 20 C"
supply "DC1" "125 V DC" range="125 to 125 V" place="A"
condition "fault"
order "remote trip" lasts="100 ms"
person "operator" place="A" {{ may "CS" "remote trip" }}
breaker "52" "Breaker" place="A" closing-time="60 ms" opening-time="30 ms" {{
    coil "close" drives-to="closed" resistance="60 ohm" works="90 to 140 V" pickup="45 to 75 V" goes-after="10 ms" max-on="1 s"
    coil "trip" drives-to="open" {{
        resistance "26.0416667 ohm"
        works "70 to 140 V"
        pickup "35 to 60 V"
        goes-after "8 ms"
        max-on "1 s"
        time-constant "40 ms"
    }}
    contact "a1" closed-when="closed" on-open="4 ms after parting" on-close="5 ms before touch" {{ {a1} }}
    contact "b1" closed-when="open" on-open="6 ms after parting" on-close="8 ms before touch"
}}
handle "CS" "Switch" place="A" drawn="rest" {{
    position "trip" returns-to="rest"
    position "rest"
    position "close" returns-to="rest"
    contact "trip" closed-when="trip"
    contact "close" closed-when="close"
}}
ied "21" "Protection" place="A" {{
    logic "trip" when="fault and 52 closed" off-delay="{off_delay}"
    contact "trip" closed-when="trip" closes-in="3 ms" opens-in="4 ms" {{ {contact} }}
    contact "remote" closed-when="remote trip"
}}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "Trip" {{
        parallel {{ contact "21" "trip"; contact "21" "remote"; contact "CS" "trip" }}
        wire "T1"
        {way}
        coil "52" "trip"
    }}
    leg "Close" {{ contact "CS" "close"; {close}; coil "52" "close" }}
}}
story "fault" {{
    given "52 closed"
    at "10 ms" "fault"
}}
story "close" {{
    given "52 open"
    at "10 ms" "CS close" held="2 s"
}}
"#
        ))
    }
}

fn of_contact<'d>(found: &'d Duty, name: &str) -> &'d ContactDuty {
    found.contacts.iter().find(|contact| contact.contact == name).unwrap()
}

fn of_coil<'d>(found: &'d Duty, name: &str) -> &'d CoilDuty {
    found.coils.iter().find(|coil| coil.coil == name).unwrap()
}

fn finding<'d>(found: &'d Duty, id: &str, name: &str) -> Option<&'d Finding> {
    found
        .findings
        .iter()
        .find(|finding| finding.id == id && finding.devices.iter().any(|device| device == name))
}

fn order(found: &Duty, contact: &str, load: &str) -> Order {
    let behind = &of_contact(found, contact).any_order;
    behind.iter().find(|it| it.load == load).unwrap().order
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * b.abs().max(1e-9)
}

#[test]
fn the_auxiliary_switch_breaks_the_trip_coil_and_by_how_much_it_is_first() {
    let scheme = BAY.read();
    let found = worked_out(&scheme);
    let trip = of_coil(&found, "52 trip");
    assert!(near(trip.amps, 4.8), "{}", trip.amps);
    // Half of 40 ms times 26.04 ohm times 4.8 A squared: 12 J.
    assert!(near(trip.energy_j, 12.0), "{}", trip.energy_j);
    assert!(trip.peak_volts.is_none());
    let [cut] = &trip.cut_off[..] else { panic!("{:#?}", trip.cut_off) };
    assert_eq!(cut.by, ["52 a1"]);
    // Both from parting: 52 a1 4 ms; the line of logic at once, its contact 4 ms.
    assert_eq!(cut.next.as_deref(), Some("21 trip"));
    assert!(near(cut.ahead_ms.unwrap(), 0.0) || cut.ahead_ms == Some(0.0), "{cut:?}");
    let breaks = &of_contact(&found, "52 a1").breaks;
    assert!(near(breaks[0].amps, 4.8) && breaks[0].loads == ["52 trip"], "{breaks:#?}");
    assert_eq!(breaks[0].judged.verdict, Verdict::Within);
    assert!(finding(&found, "contact-breaks-too-much", "52 a1").is_none());
}

#[test]
fn a_relay_contact_that_alone_breaks_the_trip_coil_is_found() {
    let checks = checks();
    let coil = &checks["trip_coil"];
    let scheme = Bay { way: r#"resistor "R" "1 mohm""#, ..BAY }.read();
    let found = worked_out(&scheme);
    let trip = of_coil(&found, "52 trip");
    assert_eq!(trip.cut_off[0].by, ["21 trip"]);
    let breaks = &of_contact(&found, "21 trip").breaks[0];
    assert!((breaks.amps - number(coil, "amps")).abs() < 1e-3);
    assert_eq!(breaks.judged.verdict, Verdict::Beyond);
    assert!(
        (breaks.amps / breaks.judged.allowed_amps.unwrap() - number(coil, "ratio")).abs() < 0.01
    );
    let said = finding(&found, "contact-breaks-too-much", "21 trip").unwrap();
    assert!(said.message.contains("4.8 A") && said.message.contains("0.3 A"), "{}", said.message);
    let may = finding(&found, "contact-may-break-too-much", "21 trip").unwrap();
    assert_eq!(may.severity, Severity::Finding);
    assert!(may.help.as_deref().unwrap().contains("contact of the breaker"), "{may:?}");
}

#[test]
fn a_relay_contact_that_holds_until_the_switch_has_opened_never_breaks() {
    // 52 a1 has opened 34 ms after the coil is driven. The contact closes in 3 ms and opens in 4 ms:
    // with an off-delay of 33 ms it holds for 33 - 3 + 4 ms.
    for (off_delay, holds) in [("32 ms", Order::May), ("33 ms", Order::Held)] {
        let scheme = Bay { off_delay, ..BAY }.read();
        let found = worked_out(&scheme);
        assert_eq!(order(&found, "21 trip", "52 trip"), holds, "{off_delay}");
        let said = finding(&found, "contact-may-break-too-much", "21 trip");
        assert_eq!(said.is_some(), holds == Order::May, "{off_delay}: {said:?}");
        if let Some(said) = said {
            assert!(said.help.as_deref().unwrap().contains("off-delay of 33 ms"), "{said:?}");
        }
    }
}

/// Without an off-delay and without an opens-in nothing is sure to keep the contact closed.
#[test]
fn a_contact_that_nothing_holds_is_not_told_as_held_for_0_ms() {
    let mut scheme = BAY.read();
    let id = scheme.part_named("21 trip").unwrap();
    let PartKind::Contact(contact) = &mut scheme.parts[id].kind else { panic!("no contact") };
    contact.opens_in = None;
    let found = worked_out(&scheme);
    let said = finding(&found, "contact-may-break-too-much", "21 trip").unwrap();
    let why = said.why.as_deref().unwrap();
    assert!(why.contains("21 trip not at all") && !why.contains(" 0 ms"), "{why}");
}

#[test]
fn an_order_from_afar_holds_for_as_long_as_it_lasts_and_a_hand_for_no_time() {
    let found = worked_out(&BAY.read());
    assert_eq!(order(&found, "21 remote", "52 trip"), Order::Held);
    assert_eq!(order(&found, "CS trip", "52 trip"), Order::May);
    assert_eq!(order(&found, "52 a1", "52 trip"), Order::CutsOff);
    // A hand is no protection contact: where it declares no break rating it is no finding.
    assert!(finding(&found, "contact-may-break-too-much", "CS trip").is_none());
}

#[test]
fn a_coil_that_may_not_move_at_its_least_volts_has_no_sure_cut_off() {
    let scheme =
        Bay { way: r#"resistor "R" "30 ohm"; contact "52" "a1""#, off_delay: "1 s", ..BAY };
    let found = worked_out(&scheme.read());
    // 125 V over 56 ohm leave 58 V, and 70 V are needed.
    assert_eq!(order(&found, "21 trip", "52 trip"), Order::May);
}

#[test]
fn a_coil_made_for_less_time_than_it_needs_is_not_cured_by_a_shorter_order() {
    let mut scheme = BAY.read();
    let id = scheme.part_named("52 close").unwrap();
    let PartKind::Coil(data) = &mut scheme.parts[id].kind else { panic!() };
    let Some(GoesAfter::After(goes)) = &data.goes_after else { panic!() };
    data.max_on = Some(TimeRange { lo: 5000, hi: 5000, ..goes.clone() });
    let found = worked_out(&scheme);
    let help = finding(&found, "coil-on-too-long", "52 close").unwrap().help.as_ref().unwrap();
    assert!(help.contains("52 close itself needs up to 10 ms to do its work"), "{help}");
    assert!(!help.contains("within 5 ms"), "{help}");
}

#[test]
fn a_momentary_coil_without_a_cut_off_is_found_and_so_is_its_time() {
    let found = worked_out(&Bay { close: r#"resistor "R" "1 mohm""#, ..BAY }.read());
    let said = finding(&found, "momentary-coil-without-cut-off", "52 close").unwrap();
    assert!(said.message.contains("CS close"), "{}", said.message);
    let long = finding(&found, "coil-on-too-long", "52 close").unwrap();
    assert!(long.message.contains("2000 ms"), "{}", long.message);
    let right = worked_out(&BAY.read());
    assert!(finding(&right, "momentary-coil-without-cut-off", "52 close").is_none());
    let close = of_coil(&right, "52 close").momentary.as_ref().unwrap();
    // 52 b1 opens 8 ms before the 60 ms are over.
    assert!(near(close.longest_ms.unwrap(), 52.0), "{close:?}");
    assert_eq!(close.ways[0].cut_off_by, ["52 b1"]);
    assert_eq!(of_coil(&right, "52 close").cut_off[0].by, ["52 b1"]);
}

#[test]
fn a_rating_without_a_time_constant_is_for_resistive_loads() {
    let found = worked_out(&Bay { a1: r#"breaks "6 A""#, ..BAY }.read());
    let breaks = &of_contact(&found, "52 a1").breaks[0];
    assert_eq!(breaks.judged.verdict, Verdict::ResistiveOnly);
    assert!(finding(&found, "break-rating-without-time-constant", "52 a1").is_some());
    // Too much even so.
    let found = worked_out(&Bay { a1: r#"breaks "4 A""#, ..BAY }.read());
    assert!(finding(&found, "contact-breaks-too-much", "52 a1").is_some());
    // For a smaller L/R than the coil's, or a lower voltage: no rating holds.
    for a1 in [
        r#"breaks "6 A" volts="125 V" time-constant="20 ms""#,
        r#"breaks "6 A" volts="48 V" time-constant="40 ms""#,
    ] {
        let found = worked_out(&Bay { a1, ..BAY }.read());
        let breaks = &of_contact(&found, "52 a1").breaks[0];
        assert_eq!(breaks.judged.verdict, Verdict::NoneHolds, "{a1}");
        assert!(finding(&found, "contact-breaks-too-much", "52 a1").is_some());
    }
}

/// A contact with the break ratings of a published table.
fn published(lines: &Value) -> Contact {
    let lines: Vec<String> = lines
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            format!(
                "breaks \"{} A\" volts=\"{} V\" time-constant=\"{} ms\"",
                row["amps"][0], row["volts"], row["time_constant_ms"]
            )
        })
        .collect();
    let contact = lines.join("; ").leak();
    let scheme = Bay { contact, ..BAY }.read();
    let part = scheme.part_named("21 trip").unwrap();
    let PartKind::Contact(contact) = &scheme.parts[part].kind else { panic!() };
    contact.clone()
}

#[test]
fn of_several_ratings_the_next_higher_voltage_counts() {
    let checks = checks();
    let rows = checks["relay"]["breaks"].as_array().unwrap();
    let contact = published(&checks["relay"]["breaks"]);
    let allowed =
        |volts: f64, ms: f64| ratings::breaking(&contact, 0.01, volts, ms / 1e3).allowed_amps;
    for row in rows {
        let amps = row["amps"][0].as_f64().unwrap();
        assert_eq!(allowed(number(row, "volts"), 40.0), Some(amps));
        assert_eq!(allowed(number(row, "volts"), 5.0), Some(amps));
    }
    // Between two voltages the higher one's, never a value in between.
    assert_eq!(allowed(60.0, 40.0), Some(0.4));
    assert_eq!(allowed(130.0, 40.0), Some(0.2));
    // Above the highest voltage and the longest time none holds.
    assert_eq!(ratings::breaking(&contact, 0.01, 300.0, 0.04).verdict, Verdict::NoneHolds);
    assert_eq!(ratings::breaking(&contact, 0.01, 125.0, 0.06).verdict, Verdict::NoneHolds);
}

#[test]
fn typical_ratings_are_the_published_ones_and_pilot_duty_codes_are_of_constant_power() {
    let checks = checks();
    for (of, key) in
        [("output of a protection relay", "relay"), ("auxiliary switch of a breaker", "switch")]
    {
        for row in checks[key]["breaks"].as_array().unwrap() {
            let line = ratings::TYPICAL
                .iter()
                .find(|line| line.of == of && line.volts == number(row, "volts"))
                .unwrap_or_else(|| panic!("{of} {row}"));
            let amps = row["amps"][0].as_f64().or(row["inductive_amps"].as_f64()).unwrap();
            assert!((line.amps - amps).abs() < 1e-12, "{row}");
        }
    }
    // Of a contact that declares a code's two lines the printed amperes hold, and no more; between
    // the two voltages only the higher one's.
    for row in checks["pilot"]["rows"].as_array().unwrap() {
        let amps = |volts: f64| number(row, &format!("amps_{volts}"));
        let line = |volts: f64| {
            serde_json::json!({
                "amps": [amps(volts)], "volts": volts, "time_constant_ms": 300
            })
        };
        let contact = published(&Value::Array(vec![line(125.0), line(250.0)]));
        for (volts, allowed) in
            [(48.0, amps(125.0)), (125.0, amps(125.0)), (130.0, amps(250.0)), (250.0, amps(250.0))]
        {
            let verdict = |amps| ratings::breaking(&contact, amps, volts, 0.3).verdict;
            assert_eq!(verdict(allowed * 0.999), Verdict::Within, "{row} {volts}");
            assert_eq!(verdict(allowed * 1.001), Verdict::Beyond, "{row} {volts}");
            // Never more than the volt-amperes of the code, printed to two places.
            assert!(allowed <= number(row, "va") / volts.max(125.0) + 0.005, "{row} {volts}");
        }
    }
}

#[test]
fn an_electromagnets_l_over_r_follows_its_power() {
    for row in checks()["electromagnet"]["rows"].as_array().unwrap() {
        let ohm = 125.0 * 125.0 / number(row, "watt");
        let scheme = read(&format!(
            r#"
scheme "Coil" revision="A"
place "A" "Panel" ambient="20 to 20 C"
supply "DC1" "125 V DC" place="A"
person "operator" place="A" {{ may "PB" }}
button "PB" "Order" place="A" {{ contact "a1" closed-when="pressed" }}
relay "K" "Relay" place="A" {{ coil resistance="{ohm:.6} ohm" works="85 to 140 V" }}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "10 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "10 A" }}
    leg "Coil" {{ contact "PB" "a1"; coil "K" }}
}}
"#
        ));
        let part = &scheme.parts[scheme.part_named("K").unwrap()];
        let time = time_constant(&scheme, part).unwrap();
        assert!(
            (time.most * 1e3 - number(row, "time_constant_ms")).abs() < 1e-6,
            "{row}: {time:?}"
        );
        assert!(time.typical.unwrap().contains("IEC 60947-5-1"));
    }
}

/// Two buttons side by side before a motor and a relay.
fn side_by_side(makes: &str, carries: &str) -> Scheme {
    read(&format!(
        r#"
scheme "Side by side" revision="A"
place "A" "Panel" ambient="20 to 20 C"
supply "DC1" "125 V DC" range="125 to 125 V" place="A"
person "operator" place="A" {{ may "P1" "P2" }}
button "P1" "One" place="A" {{ contact "a1" closed-when="pressed" {{ {makes}; {carries} }} }}
button "P2" "Two" place="A" {{ contact "a1" closed-when="pressed" }}
relay "K" "Relay" place="A" {{
    coil resistance="1250 ohm" works="85 to 140 V" pickup="60 to 80 V" dropout="20 V" {{
        pickup-time "10 ms"
        dropout-time "10 ms"
    }}
}}
breaker "52" "Breaker" place="A" closing-time="60 ms" opening-time="30 ms" {{
    energy "spring" closings=1 charged-by="motor" charged-in="8 s"
    motor "6 A" inrush="18 A"
    coil "close" drives-to="closed" resistance="60 ohm" works="90 to 140 V" goes-after="10 ms"
}}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "Order" from="P" to="C" {{ parallel {{ contact "P1" "a1"; contact "P2" "a1" }} }}
    leg "Relay" from="C" to="N" {{ coil "K" }}
    leg "Motor" from="C" to="N" {{ motor "52" }}
}}
story "overlap" {{
    at "0 ms" "P1 pressed" held="500 ms"
    at "300 ms" "P2 pressed" held="600 ms"
}}
"#
    ))
}

#[test]
fn the_last_of_two_contacts_side_by_side_breaks_and_the_first_makes() {
    let found = worked_out(&side_by_side(r#"makes "30 A" lasts="0.2 s""#, r#"carries "5 A""#));
    let (first, second) = (of_contact(&found, "P1 a1"), of_contact(&found, "P2 a1"));
    // 18 A starting and 0.1 A of the relay.
    assert!(near(first.makes[0].amps, 18.1), "{:#?}", first.makes);
    assert!(first.breaks.is_empty(), "{:#?}", first.breaks);
    assert!(second.makes.is_empty(), "{:#?}", second.makes);
    assert!(near(second.breaks[0].amps, 6.1), "{:#?}", second.breaks);
    assert!(near(second.carries.as_ref().unwrap().amps, 6.1));
    // 6.1 A for 300 ms, and 5 A is all it may carry.
    let said = finding(&found, "contact-carries-too-much", "P1 a1").unwrap();
    assert!(said.message.contains("6.1 A"), "{}", said.message);
}

#[test]
fn starting_currents_count_for_what_is_made_and_short_times_for_what_is_carried() {
    let weak = worked_out(&side_by_side(r#"makes "15 A""#, r#"carries "10 A""#));
    let said = finding(&weak, "contact-makes-too-much", "P1 a1").unwrap();
    assert!(said.message.contains("18.1 A") && said.message.contains("15 A"), "{}", said.message);
    // Alone for 300 ms: within a line for 0.5 s, not within one for 0.2 s.
    let short = |lasts: &str| {
        let carries = format!(r#"carries "5 A"; carries "10 A" lasts="{lasts}""#);
        let found = worked_out(&side_by_side(r#"makes "30 A""#, &carries));
        of_contact(&found, "P1 a1").carries.as_ref().unwrap().judged.verdict
    };
    assert_eq!(short("0.5 s"), Verdict::Within);
    assert_eq!(short("0.2 s"), Verdict::Beyond);
}

#[test]
fn every_example_is_worked_out_with_numbers_only() {
    for name in [
        "quillmere",
        "quillmere-block",
        "quillmere-shared",
        "dunmarrow",
        "dunmarrow-repaired",
        "harrowfen",
        "latches",
    ] {
        let scheme = example(name);
        let found = worked_out(&scheme);
        assert!(!found.contacts.is_empty(), "{name}");
        for contact in &found.contacts {
            for current in contact.makes.iter().chain(&contact.breaks) {
                assert!(current.amps.is_finite() && current.amps > 0.0, "{name}: {current:?}");
            }
        }
        for coil in &found.coils {
            assert!(coil.amps > 0.0 && coil.amps < 200.0, "{name}: {coil:?}");
        }
        assert!(serde_json::to_string(&found).is_ok());
        // The same again, to the letter.
        assert_eq!(found, worked_out(&scheme), "{name}");
    }
}

#[test]
fn the_story_of_the_solenoid_names_the_contactor() {
    let found = worked_out(&example("harrowfen"));
    let solenoid = of_coil(&found, "52 solenoid");
    assert_eq!(solenoid.cut_off[0].by, ["52X main plus", "52X main minus"]);
    let ways = &solenoid.momentary.as_ref().unwrap().ways;
    assert!(
        ways.iter().all(|way| way.cut_off_by.contains(&"52X main plus".to_owned())),
        "{ways:?}"
    );
    let quillmere = worked_out(&example("quillmere"));
    assert_eq!(of_coil(&quillmere, "52 trip 1").cut_off[0].by, ["52 a2"]);
    // The spring switch opens at release, before 52b does.
    assert_eq!(of_coil(&quillmere, "52 close").cut_off[0].by, ["52 LS2"]);
}

/// An example with one value typed wrongly.
fn mistyped(name: &str, right: &str, wrong: &str) -> Scheme {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name).join("scheme.kdl");
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains(right), "{right}");
    read(&text.replace(right, wrong))
}

#[test]
fn a_trip_coil_ten_times_too_low_is_found_at_the_contacts_that_make_and_break_it() {
    let found =
        worked_out(&mistyped("quillmere", r#"resistance "22 ohm""#, r#"resistance "2.2 ohm""#));
    for contact in ["21A trip", "94 a1"] {
        let said = finding(&found, "contact-makes-too-much", contact).unwrap();
        assert!(said.message.contains("30 A"), "{}", said.message);
        assert!(said.help.is_some());
    }
    assert!(finding(&found, "contact-breaks-too-much", "52 a2").is_some());
}

#[test]
fn an_order_that_stands_too_long_for_a_coil_whose_contact_is_left_out_is_found() {
    let leg = r#"        contact "52" "b1"
        coil "52" "close""#;
    let found = worked_out(&mistyped("quillmere", leg, r#"        coil "52" "close""#));
    let said = finding(&found, "momentary-coil-without-cut-off", "52 close").unwrap();
    assert!(said.why.as_deref().unwrap().contains("52 LS2 opens only until"), "{said:?}");
}

/// How long it takes and what it says: `cargo test --release -p fiftytwo-calculations --test duty
/// -- --ignored --nocapture`.
#[test]
#[ignore = "measures"]
#[allow(clippy::print_stdout, reason = "a measurement is printed")]
fn how_long_the_duty_of_an_example_takes() {
    let name = std::env::var("EXAMPLE").unwrap_or_else(|_| "quillmere".to_owned());
    let scheme = example(&name);
    let machine = Machine::new(&scheme).unwrap();
    let study = Study::new(&machine);
    let across = suppression(&machine.wiring);
    // Time on a processor, where the system tells it: others may be busy beside.
    let on_processor = || {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
        text.split(' ').next().and_then(|ns| ns.parse::<f64>().ok()).unwrap_or(f64::NAN) / 1e6
    };
    let (begin, before) = (std::time::Instant::now(), on_processor());
    let found = duty(&study, &across);
    let (took, after) = (begin.elapsed(), on_processor());
    for finding in &found.findings {
        println!(
            "[{:?}] {}: {}\n    why: {}\n    help: {}",
            finding.severity,
            finding.id,
            finding.message,
            finding.why.as_deref().unwrap_or(""),
            finding.help.as_deref().unwrap_or("")
        );
    }
    for coil in &found.coils {
        println!(
            "{} {:.3} A {:?} {:.3} J",
            coil.coil, coil.amps, coil.time_constant_ms, coil.energy_j
        );
        for cut in &coil.cut_off {
            println!(
                "   {:?} {:.3} A {}x next {:?} {:?} at {:?}",
                cut.by, cut.amps, cut.times, cut.next, cut.ahead_ms, cut.at
            );
        }
        if let Some(momentary) = &coil.momentary {
            println!(
                "   on {:?} of {:?}, endless {}",
                momentary.longest_ms, momentary.max_on_ms, momentary.endless
            );
        }
    }
    println!("{name}: {took:?}, on a processor {:.1} ms", after - before);
}

/// What is written without L/R is for a resistive load (clause headings of contact ratings, common
/// practice, no source): such a contact may not be first to break a trip coil, in a story or out of it.
#[test]
fn a_resistive_rating_does_not_silence_a_contact_that_may_break_a_trip_coil() {
    let resistive = r#"makes "30 A"; breaks "8 A" volts="125 V""#;
    let found = worked_out(&Bay { contact: resistive, ..BAY }.read());
    let said = finding(&found, "contact-may-break-too-much", "21 trip").unwrap();
    assert_eq!(said.severity, Severity::Finding);
    assert!(said.message.contains("21 trip (8 A at 125 V, for resistive load only)"), "{said:?}");
    let inductive = r#"makes "30 A"; breaks "8 A" volts="125 V" time-constant="40 ms""#;
    let found = worked_out(&Bay { contact: inductive, ..BAY }.read());
    assert!(finding(&found, "contact-may-break-too-much", "21 trip").is_none());
}

/// Three pole coils of 20 ohm in parallel behind one 52a and one relay contact, no story: by hand
/// 3 x 140 V / 20 ohm = 21 A through both, always (Ohm's law).
#[test]
fn coils_wired_together_count_together_without_any_story() {
    let text = |makes: &str| {
        format!(
            r#"
scheme "Poles" revision="A"
place "A" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="A"
condition "fault"
breaker "52" "Breaker" place="A" closing-time="60 ms" opening-time="30 ms" {{
    coil "A" drives-to="open" resistance="20 ohm" works="70 to 140 V" goes-after="8 ms" max-on="1 s" time-constant="20 ms"
    coil "B" drives-to="open" resistance="20 ohm" works="70 to 140 V" goes-after="8 ms" max-on="1 s" time-constant="20 ms"
    coil "C" drives-to="open" resistance="20 ohm" works="70 to 140 V" goes-after="8 ms" max-on="1 s" time-constant="20 ms"
    contact "a1" closed-when="closed" on-open="4 ms after parting" on-close="5 ms before touch" {{ breaks "10 A" volts="125 V" time-constant="50 ms" }}
}}
ied "21" "Protection" place="A" {{
    logic "trip" when="fault and 52 closed" off-delay="200 ms"
    contact "trip" closed-when="trip" closes-in="3 ms" opens-in="4 ms" {{ makes "{makes}"; carries "10 A" }}
}}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "A" from="P" to="N" {{ contact "21" "trip"; contact "52" "a1"; wire "T"; coil "52" "A" }}
    leg "B" from="T" to="N" {{ coil "52" "B" }}
    leg "C" from="T" to="N" {{ coil "52" "C" }}
}}
"#
        )
    };
    let found = worked_out(&read(&text("12 A")));
    for (id, contact) in [
        ("contact-makes-too-much", "21 trip"),
        ("contact-carries-too-much", "21 trip"),
        ("contact-breaks-too-much", "52 a1"),
    ] {
        let said = finding(&found, id, contact).unwrap_or_else(|| panic!("{id}"));
        assert_eq!(said.severity, Severity::Finding);
        assert!(said.message.contains("21 A"), "{said:?}");
    }
    let behind = &of_contact(&found, "52 a1").any_order[0];
    assert!(near(behind.amps, 21.0) && behind.together == ["52 B", "52 C"], "{behind:?}");
    let large = worked_out(&read(&text("30 A")));
    assert!(finding(&large, "contact-makes-too-much", "21 trip").is_none());
}

/// "Make and carry 30 A for 0.5 s, carry 6 A": 7 A for the 42 ms until 52a has opened are within it.
#[test]
fn a_make_and_carry_rating_covers_the_time_a_trip_coil_draws() {
    let contact = |lasts: &str| {
        format!(
            r#"makes "30 A" lasts="{lasts}"; carries "3 A"; breaks "10 A" volts="125 V" time-constant="40 ms""#
        )
    };
    let (long, short) = (contact("0.5 s"), contact("5 ms"));
    let off_delay = "100 ms";
    let told = |contact: &str| {
        let contact: &'static str = Box::leak(contact.to_owned().into_boxed_str());
        let found = worked_out(&Bay { contact, off_delay, ..BAY }.read());
        finding(&found, "contact-carries-too-much", "21 trip").cloned()
    };
    assert!(told(&long).is_none(), "{:?}", told(&long));
    assert!(told(&short).is_some());
}

/// One contact in front of one load on 125 V, 140 V at most, no story.
fn bare(devices: &str, leg: &str) -> Duty {
    worked_out(&read(&format!(
        r#"
scheme "Bare" revision="A"
place "A" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="A"
condition "cold"
{devices}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "30 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "30 A" }}
    leg "Leg" {{ {leg} }}
}}
"#
    )))
}

/// A heater of 300 W at 125 V has 125 x 125 / 300 = 52.1 ohm: at 140 V it draws 2.69 A, which a
/// thermostat for 0.1 A breaks whenever it warms up. One for 3 A may.
#[test]
fn a_thermostat_rated_for_less_than_its_heater_draws_is_found_without_a_story() {
    let sensor = |breaks: &str| {
        let sensor = format!(
            r#"sensor "23" place="A" {{ contact "t" closed-when="cold" breaks="{breaks}" }}"#
        );
        bare(&sensor, r#"contact "23" "t"; heater "H" "300 W""#)
    };
    let weak = sensor("0.1 A");
    let said = finding(&weak, "contact-may-break-too-much", "23 t").unwrap();
    assert_eq!(said.severity, Severity::Finding);
    assert!(said.message.contains("2.69 A") && said.message.contains("0.1 A"), "{said:?}");
    assert!(said.help.as_deref().unwrap().contains("breaks 2.69 A"), "{said:?}");
    assert!(finding(&sensor("3 A"), "contact-may-break-too-much", "23 t").is_none());
}

/// Three lamps of 0.2 A at 125 V behind one contact: 3 x 0.2 x 140 / 125 = 0.67 A for resistive lamps.
/// One finding, not one for each lamp.
#[test]
fn lamps_wired_together_count_together_at_a_contact_that_may_break_them() {
    let relay = r#"ied "A" place="A" { contact "o" closed-when="cold" breaks="0.3 A" }"#;
    let lamps =
        r#"contact "A" "o"; parallel { lamp "L1" "0.2 A"; lamp "L2" "0.2 A"; lamp "L3" "0.2 A" }"#;
    let found = bare(relay, lamps);
    let said: Vec<&Finding> =
        found.findings.iter().filter(|it| it.id == "contact-may-break-too-much").collect();
    let [said] = &said[..] else { panic!("{said:#?}") };
    assert!(
        said.message.contains("L1 and, wired together with it, L2 and L3 draw 0.67"),
        "{said:?}"
    );
}

/// LS1 opens when the spring is charged by the very motor it stops: it breaks 6 A (nominal) x 140 / 125
/// = 6.72 A each time, story or not.
#[test]
fn the_switch_that_stops_the_spring_motor_breaks_it_every_time() {
    let breaker = |breaks: &str| {
        let breaker = format!(
            r#"breaker "52" place="A" closing-time="60 ms" opening-time="30 ms" {{
    energy "spring" closings=1 charged-by="M" charged-in="8 s"
    motor "M" "6 A"
    contact "LS1" closed-when="spring discharged" breaks="{breaks}"
}}"#
        );
        bare(&breaker, r#"contact "52" "LS1"; motor "52" "M""#)
    };
    let weak = breaker("0.5 A");
    assert_eq!(order(&weak, "52 LS1", "52 M"), Order::CutsOff);
    let said = finding(&weak, "contact-breaks-too-much", "52 LS1").unwrap();
    assert!(said.message.contains("6.72 A of 52 M"), "{said:?}");
    assert!(finding(&weak, "contact-may-break-too-much", "52 LS1").is_none());
    let sound = breaker("10 A");
    assert!(finding(&sound, "contact-breaks-too-much", "52 LS1").is_none());
}

/// The hand lets go before 52a1 has opened: 4.8 A through a contact declared for 0.3 A. A hand that
/// declares nothing is not asked (see above).
#[test]
fn a_hand_that_declares_too_small_a_break_rating_is_found_at_a_trip_coil() {
    let mut scheme = BAY.read();
    let protection = scheme.part_named("21 trip").unwrap();
    let PartKind::Contact(rated) = scheme.parts[protection].kind.clone() else { panic!() };
    let hand = scheme.part_named("CS trip").unwrap();
    let PartKind::Contact(contact) = &mut scheme.parts[hand].kind else { panic!() };
    contact.breaks = rated.breaks;
    let found = worked_out(&scheme);
    let said = finding(&found, "contact-may-break-too-much", "CS trip").unwrap();
    assert!(said.message.contains("CS trip (0.3 A at 125 V, L/R 40 ms)"), "{said:?}");
    assert!(said.message.contains("4.8 A"), "{said:?}");
}

/// 140 V over 50 ohm are 2.8 A through a contact for 1 A, and the 94 beside it adds 70 mA: a burden is
/// a load like any other. Twice 140 V over 5 ohm: 28 A, which it neither makes nor carries.
#[test]
fn a_burden_counts_for_the_contact_in_front_of_it() {
    let ied = r#"ied "21" place="A" { contact "t" closed-when="cold" makes="5 A" carries="5 A" { breaks "1 A" volts="125 V" time-constant="120 ms" } }
relay "94" place="A" { coil resistance="2000 ohm" works="80 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V" }"#;
    let found = bare(ied, r#"contact "21" "t"; parallel { coil "94"; resistor "R" "50 ohm" }"#);
    let said: Vec<&Finding> =
        found.findings.iter().filter(|it| it.id == "contact-may-break-too-much").collect();
    let [said] = &said[..] else { panic!("{said:#?}") };
    assert!(said.message.contains("94 and, wired together with it, R draw 2.87 A"), "{said:?}");
    let alone = bare(ied, r#"contact "21" "t"; resistor "R" "5 ohm""#);
    for id in ["contact-makes-too-much", "contact-carries-too-much", "contact-may-break-too-much"] {
        let said = finding(&alone, id, "21 t").unwrap_or_else(|| panic!("no {id}"));
        assert!(said.message.contains("28 A"), "{said:?}");
    }
    let sound = bare(ied, r#"contact "21" "t"; resistor "R" "500 ohm""#);
    assert!(sound.findings.iter().all(|it| it.severity == Severity::Note), "{:#?}", sound.findings);
}

/// 76 mA through a contact for 1 A at L/R 100 ms: that the L/R of the coil is typical, and at 20 C longer
/// than that, is worth a note, no finding. With the L/R declared it is one.
#[test]
fn a_typical_time_constant_alone_makes_no_finding() {
    let told = |time: &str| {
        let devices = format!(
            r#"sensor "S" place="A" {{ contact "x" closed-when="cold" {{ breaks "1 A" volts="125 V" time-constant="10 ms" }} }}
relay "K" place="A" {{ coil resistance="2000 ohm" works="80 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V" {time} }}"#
        );
        let found = bare(&devices, r#"contact "S" "x"; coil "K""#);
        finding(&found, "contact-may-break-too-much", "S x").unwrap().severity
    };
    assert_eq!(told(""), Severity::Note);
    assert_eq!(told(r#"time-constant="40 ms""#), Severity::Finding);
}
