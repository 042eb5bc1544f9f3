//! Fuses: loads, shorts at the far end, selectivity, conductors.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

use fiftytwo_calculations::Study;
use fiftytwo_calculations::fuses::{FuseReport, Fuses, Selective, fuses};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{
    Curve, Material, PartKind, Points, Quantity, Scheme, Severity, read_path, read_text,
};
use serde_json::Value;

fn checks() -> Value {
    let path = format!("{}/../../checks/fuses.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn example(name: &str) -> Scheme {
    let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let reading = read_path(path.as_ref());
    assert!(reading.is_usable(), "{:?}", reading.findings);
    reading.scheme.unwrap()
}

fn of(scheme: &Scheme) -> Fuses {
    fuses(&Study::new(&Machine::new(scheme).unwrap()))
}

fn fuse<'f>(found: &'f Fuses, name: &str) -> &'f FuseReport {
    found.fuses.iter().find(|fuse| fuse.fuse == name).unwrap()
}

fn ids(found: &Fuses) -> Vec<&str> {
    found.findings.iter().map(|finding| finding.id).collect()
}

/// A panel with a main fuse, a close circuit over a cable and a motor beside it; its minus pole stands
/// on ground, so that fuses in the plus pole do.
struct Panel {
    main: &'static str,
    close: &'static str,
    size: String,
    material: &'static str,
    length: String,
    motor: &'static str,
}

impl Default for Panel {
    fn default() -> Self {
        Self {
            main: r#""60 A" curve="60 A""#,
            close: r#""15 A" curve="15 A""#,
            size: "10 AWG".to_owned(),
            material: "copper",
            length: "200 m".to_owned(),
            motor: r#"motor "6 A" inrush="18 A" starts-in="0.5 s""#,
        }
    }
}

const CURVES: &str = r#"
    curve "15 A" { point "30 A" "5 to 60 s"; point "60 A" "0.2 to 2 s"; point "200 A" "10 to 40 ms"; point "3000 A" "0.1 to 3 ms" }
    curve "60 A" { point "120 A" "50 to 500 s"; point "300 A" "1 to 8 s"; point "1000 A" "40 to 200 ms"; point "12000 A" "3.5 to 15 ms" }
    curve "quick 60 A" { point "120 A" "1 to 20 s"; point "300 A" "30 to 200 ms"; point "1000 A" "2 to 10 ms"; point "12000 A" "0.1 to 2 ms" }
"#;

impl Panel {
    fn scheme(&self) -> Scheme {
        let Self { main, close, size, material, length, motor } = self;
        let text = format!(
            r#"
            scheme "Panel"
            place "HOUSE" "House" ambient="20 to 20 C"
            place "YARD" "Yard" ambient="20 to 20 C"
            supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" grounded="yes" place="HOUSE"
            cable "K1" from="HOUSE" to="YARD" length="{length}" size="{size}" material="{material}" cores=7
            {CURVES}
            person "operator" place="HOUSE" {{ may "PB1" }}
            button "PB1" "Close" place="HOUSE" {{ contact "a1" closed-when="pressed" }}
            breaker "52" "Breaker" place="YARD" closing-time="45 to 60 ms" opening-time="20 to 30 ms" {{
                coil "close" drives-to="closed" {{
                    resistance "25 ohm"
                    works "70 to 140 V"
                    goes-after "8 to 12 ms"
                    max-on "1 s"
                }}
                energy "spring" closings=1 charged-by="motor" charged-in="8 to 12 s"
                {motor}
                contact "a1" closed-when="closed"
                contact "LS1" closed-when="spring discharged"
            }}
            circuit "Panel" supply="DC1" {{
                feed {{ fuse "F0" {main}; wire "P" }}
                return {{ wire "N" }}
                leg "Close" {{
                    fuse "F1" {close}
                    contact "PB1" "a1"
                    core "K1" 1 into="YARD"
                    coil "52" "close"
                    core "K1" 2 into="HOUSE"
                }}
                leg "Motor" {{
                    fuse "F3" {close}
                    core "K1" 3 into="YARD"
                    contact "52" "LS1"
                    motor "52"
                    core "K1" 4 into="HOUSE"
                }}
                leg "Lamp" {{ lamp "L1" "8 mA" }}
            }}
            "#
        );
        let reading = read_text("panel.kdl", &text);
        assert!(reading.is_usable(), "{:?}", reading.findings);
        reading.scheme.unwrap()
    }
}

#[test]
fn a_sound_panel_has_nothing_to_tell() {
    let found = of(&Panel::default().scheme());
    assert_eq!(ids(&found), Vec::<&str>::new(), "{:#?}", found.findings);
    assert!(found.typical.is_empty());
}

#[test]
fn a_short_at_the_far_end_is_what_the_loop_lets_through() {
    // Two cores of 200 m: 1.24 ohm per 1000 ft at 75 C (NEC chapter 9 table 8), here at 20 C.
    let found = of(&Panel::default().scheme());
    let short = found.shorts.iter().find(|short| short.core == "K1/1").unwrap();
    let core = 1.24 / 304.8 * 200.0 / (1.0 + 0.00393 * 55.0);
    let [least, greatest] = short.amps.unwrap();
    assert!((least - 105.0 / (2.0 * core + 0.014)).abs() < 1e-6, "{least}");
    assert!((greatest - 140.0 / (2.0 * core + 0.014)).abs() < 1e-6, "{greatest}");
    assert_eq!(
        (short.fuses.as_slice(), short.place.as_str()),
        (&["F1".into(), "F0".into()][..], "YARD")
    );
    assert_eq!(short.cleared_by.as_deref(), Some("F1"));
}

#[test]
fn points_on_a_line_of_constant_energy_stay_on_it() {
    let law = &checks()["power_law"];
    let (least, greatest) =
        (law["least_a2s"].as_f64().unwrap(), law["greatest_a2s"].as_f64().unwrap());
    let points: Vec<(f64, f64, f64)> = law["points_at"]
        .as_array()
        .unwrap()
        .iter()
        .map(|amps| amps.as_f64().unwrap())
        .map(|amps| (amps, least / amps.powi(2), greatest / amps.powi(2)))
        .collect();
    for asked in law["asked_at"].as_array().unwrap() {
        let amps = asked.as_f64().unwrap();
        // The length at which a short at 105 V draws that current.
        let per_metre = 1.24 / 304.8 / (1.0 + 0.00393 * 55.0);
        let metres = (105.0 / amps - 0.014) / 2.0 / per_metre;
        let mut scheme = Panel { length: format!("{metres:.9} m"), ..Panel::default() }.scheme();
        let id = scheme.curves.iter().find(|(_, curve)| curve.name == "15 A").unwrap().0;
        let curve = &scheme.curves[id];
        scheme.curves[id] = Curve { points: Points::AmpsSeconds(points.clone()), ..curve.clone() };
        let found = of(&scheme);
        let short = found.shorts.iter().find(|short| short.core == "K1/1").unwrap();
        let drawn = short.amps.unwrap()[0];
        assert!((drawn / amps - 1.0).abs() < 1e-8, "{drawn} for {amps}");
        let [seconds, _] = short.cleared_within.unwrap();
        assert!((seconds * amps.powi(2) / greatest - 1.0).abs() < 1e-5, "{amps} A: {seconds} s");
    }
}

#[test]
fn a_short_that_draws_less_than_the_fuse_carries_is_never_cleared() {
    let found = of(&Panel { length: "2000 m".to_owned(), ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
    assert_eq!(finding.severity, Severity::Finding);
    assert!(
        finding.message.contains("draws only 7.84 A, and F1 carries 15 A for ever"),
        "{finding:?}"
    );
}

#[test]
fn a_short_that_stands_too_long_is_told_with_its_time() {
    // 30 A takes up to 60 s.
    let found = of(&Panel { length: "500 m".to_owned(), ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
    assert!(
        finding.message.contains("may stand for") && finding.message.contains("31.3 A"),
        "{finding:?}"
    );
    assert!(finding.help.as_ref().unwrap().contains("F1 does so from 4"), "{finding:?}");
}

#[test]
fn small_conductors_have_their_largest_fuse() {
    let data = checks();
    for row in data["small_conductors"]["rows"].as_array().unwrap() {
        let (size, material) = (row[0].as_str().unwrap(), row[1].as_str().unwrap());
        let most = row[2].as_f64().unwrap();
        for (rating, too_large) in [(most, false), (most + 1.0, true)] {
            let mut scheme =
                Panel { size: size.to_owned(), length: "5 m".to_owned(), ..Panel::default() }
                    .scheme();
            let cable = scheme.cables.ids().next().unwrap();
            if material == "aluminium" {
                scheme.cables[cable].material = Material::Aluminium;
            }
            set_rating(&mut scheme, "F1", rating);
            let found = of(&scheme);
            let told = found
                .findings
                .iter()
                .any(|it| it.id == "fuse-too-large" && it.message.starts_with("F1 "));
            assert_eq!(told, too_large, "{row} with {rating} A: {:?}", found.findings);
            assert_eq!(fuse(&found, "F1").thinnest.as_ref().unwrap().source, "NEC 240.4(D)");
        }
    }
    // Another field with the same rule, never more than ours.
    for row in data["trailing_cables"]["rows"].as_array().unwrap() {
        let size = format!("{} AWG", row[0]);
        let found = of(&Panel { size, ..Panel::default() }.scheme());
        let ours = fuse(&found, "F1").thinnest.as_ref().unwrap().largest;
        assert!(ours >= row[1].as_f64().unwrap() && ours <= row[1].as_f64().unwrap() * 1.2);
    }
}

fn set_rating(scheme: &mut Scheme, fuse: &str, amps: f64) {
    let id = scheme.part_named(fuse).unwrap();
    if let PartKind::Fuse { rating, .. } = &mut scheme.parts[id].kind {
        *rating = Quantity::new(amps, amps, format!("{amps} A"));
    }
}

#[test]
fn a_conductor_stands_the_energy_of_its_area() {
    for row in checks()["energy"]["rows"].as_array().unwrap() {
        let mut scheme = Panel {
            size: format!("{} mm2", row[0]),
            length: "20 m".to_owned(),
            ..Panel::default()
        }
        .scheme();
        let cable = scheme.cables.ids().next().unwrap();
        if row[1] == "aluminium" {
            scheme.cables[cable].material = Material::Aluminium;
        }
        let found = of(&scheme);
        let short = found.shorts.iter().find(|short| short.core == "K1/1").unwrap();
        let ([least, greatest], [slow, fast]) =
            (short.amps.unwrap(), short.cleared_within.unwrap());
        let energy = (least * least * slow).max(greatest * greatest * fast);
        let stands = energy / short.heats.unwrap();
        assert!((stands / row[2].as_f64().unwrap() - 1.0).abs() < 1e-9, "{row}: {stands}");
    }
}

#[test]
fn a_slow_fuse_before_a_thin_core_overheats_it() {
    let found = of(&Panel {
        size: "1.5 mm2".to_owned(),
        length: "3 m".to_owned(),
        close: r#""15 A" curve="60 A""#,
        ..Panel::default()
    }
    .scheme());
    assert!(ids(&found).contains(&"short-overheats-cable"), "{:?}", found.findings);
}

#[test]
fn fuses_in_a_row_are_selective_or_told() {
    let found = of(&Panel::default().scheme());
    let above = fuse(&found, "F1").upstream.as_ref().unwrap();
    assert_eq!((above.fuse.as_str(), &above.selective), ("F0", &Selective::Yes));
    // Right behind F1 only the battery's 14 milliohm are left.
    assert!((above.greatest - 140.0 / 0.014).abs() < 1e-6);
    let found = of(&Panel { main: r#""60 A" curve="quick 60 A""#, ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "fuses-not-selective").unwrap();
    assert!(finding.message.starts_with("F1 and F0 may both open"), "{finding:?}");
    assert_eq!(finding.severity, Severity::Finding);
    let Selective::No { from, clears, melts } =
        &fuse(&found, "F1").upstream.as_ref().unwrap().selective
    else {
        panic!()
    };
    assert!(clears.unwrap() >= *melts && *from >= 60.0);
}

/// A fuse of 15 A behind one of 40 A, whose points go on as `main` says.
fn in_a_row(main: &str) -> Scheme {
    rated_in_a_row(
        "40 A",
        &format!(r#"point "60 A" "100 to 500 s"; point "100 A" "3 to 12 s"; {main}"#),
    )
}

fn rated_in_a_row(rating: &str, main: &str) -> Scheme {
    let text = format!(
        r#"
scheme "In a row"
place "HOUSE" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
curve "main" {{ {main} }}
curve "sub" {{ point "20 A" "20 to 300 s"; point "60 A" "1 to 6 s"; point "100 A" "0.3 to 2.5 s"; point "300 A" "50 to 400 ms"; point "1000 A" "5 to 25 ms"; point "10000 A" "0.1 to 0.25 ms" }}
relay "K1" place="HOUSE" {{ coil resistance="2000 ohm" works="70 to 140 V" }}
circuit "Main" supply="DC1" {{
    feed {{ fuse "F1" "{rating}" curve="main"; wire "P" }}
    return {{ wire "N"; fuse "F2" "{rating}" curve="main" }}
}}
circuit "Sub" circuit="Main" {{
    feed {{ fuse "F3" "15 A" curve="sub"; wire "SP" }}
    return {{ wire "SN"; fuse "F4" "15 A" curve="sub" }}
    leg "K1" {{ coil "K1" }}
}}
"#
    );
    let outcome = read_text("row.kdl", &text);
    outcome.scheme.unwrap_or_else(|| panic!("{:#?}", outcome.findings))
}

/// By hand: F3 clears within 2.5 s (I/100 A)^-1.668 (2.5 s at 100 A, 0.4 s at 300 A), F1 may melt
/// after 3 s (I/100 A)^-2.176 (3 s at 100 A, 20 ms at 1000 A): equal at 100 A x 1.2^(1/0.508).
#[test]
fn both_open_from_where_their_curves_cross_not_from_the_next_point() {
    let scheme = in_a_row(r#"point "1000 A" "20 to 60 ms"; point "20000 A" "0.3 to 3 ms""#);
    let found = of(&scheme);
    let Selective::No { from, clears, melts } =
        &fuse(&found, "F3").upstream.as_ref().unwrap().selective
    else {
        panic!("{:?}", fuse(&found, "F3").upstream)
    };
    assert!((from - 143.18).abs() < 0.05, "{from}");
    assert!((clears.unwrap() / melts - 1.0).abs() < 1e-6, "{clears:?} {melts}");
}

/// Selective up to 90 A, where the points of the main fuse end; the short may be 10 kA.
#[test]
fn a_main_fuse_whose_points_end_early_is_not_judged() {
    let found = of(&in_a_row(r#"point "120 A" "2.9 to 12 s""#));
    let above = fuse(&found, "F3").upstream.as_ref().unwrap();
    let Selective::Unknown { why, .. } = &above.selective else { panic!("{above:?}") };
    assert_eq!(why, "the points of F1 end at 120 A, the short may be 10000 A");
}

#[test]
fn a_fuse_carries_its_loads_and_their_inrush() {
    let found = of(&Panel::default().scheme());
    let carries = &fuse(&found, "F3").carries;
    // 6 A and 18 A at 125 V are 6.72 and 20.16 A at 140 V.
    assert!((carries.steady - 6.72).abs() < 1e-9 && (carries.most - 20.16).abs() < 1e-9);
    assert!(carries.moments[0].declared && (carries.moments[0].seconds - 0.5).abs() < 1e-12);
    // At 20.16 A, under its first point, it takes at least 5 s: a tenth is used up.
    assert!((carries.used.unwrap() - 0.1).abs() < 1e-9, "{carries:?}");
    let slow = r#"motor "6 A" inrush="18 A" starts-in="6 s""#;
    let found = of(&Panel { motor: slow, ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "fuse-melts-at-inrush").unwrap();
    assert_eq!(finding.message, "F3 (15 A) may open while its loads draw 20.2 A for up to 6 s");
    let large = r#"motor "15 A""#;
    let found = of(&Panel { motor: large, ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "fuse-overloaded").unwrap();
    assert!(finding.message.starts_with("F3 (15 A) may have to carry 16.8 A"), "{finding:?}");
}

#[test]
fn what_goes_dead_with_each_fuse() {
    let found = of(&Panel::default().scheme());
    let dead = |name: &str| fuse(&found, name).takes_away.clone();
    assert_eq!(dead("F0"), ["52 close", "52 motor", "L1"]);
    assert_eq!(dead("F1"), ["52 close"]);
    assert_eq!(dead("F3"), ["52 motor"]);
    let found = of(&example("harrowfen"));
    assert_eq!(fuse(&found, "F3").takes_away, ["52 solenoid", "52 trip"]);
    assert_eq!(fuse(&found, "F5").takes_away, ["52 trip"]);
    assert_eq!(fuse(&found, "F6").takes_away, ["52 trip"]);
    assert_eq!(fuse(&found, "F1").takes_away, ["52X", "52Y", "94"]);
}

#[test]
fn a_fuse_without_points_is_named_and_not_passed() {
    let found = of(&Panel { main: r#""63 A""#, close: r#""16 A""#, ..Panel::default() }.scheme());
    let notes: Vec<_> = found.findings.iter().filter(|it| it.id == "fuse-not-judged").collect();
    assert_eq!(notes.len(), 1);
    assert!(notes[0].message.starts_with("F0, F1 and F3 have no time-current points"));
    assert_eq!(notes[0].severity, Severity::Note);
    let short = found.shorts.iter().find(|short| short.core == "K1/1").unwrap();
    assert!(short.cleared_within.is_none() && short.typical_within.is_some());
    assert!(!fuse(&found, "F1").has_points);
    // Ratings as 1 to 1.6 and more: typically selective, which decides nothing.
    let above = fuse(&found, "F1").upstream.as_ref().unwrap();
    let Selective::Unknown { why, .. } = &above.selective else { panic!("{above:?}") };
    assert!(why.contains("would be (typical, 1 to 1.6)"), "{why}");
    assert_eq!(above.typical.len(), 2, "{above:?}");
}

#[test]
fn a_fuse_ten_times_too_large_is_found_in_every_example() {
    for name in ["quillmere", "dunmarrow", "harrowfen"] {
        let scheme = example(name);
        let before = of(&scheme);
        let wrong = |found: &Fuses| {
            found.findings.iter().filter(|it| it.severity == Severity::Finding).count()
        };
        assert_eq!(wrong(&before), 0, "{name}: {:#?}", before.findings);
        let mut scheme = scheme;
        let PartKind::Fuse { rating, .. } = &scheme.parts[scheme.part_named("F1").unwrap()].kind
        else {
            panic!()
        };
        let ten_times = rating.lo * 10.0;
        set_rating(&mut scheme, "F1", ten_times);
        let found = of(&scheme);
        assert!(wrong(&found) > 0, "{name}");
        // The rating alone was typed wrong: the points of the fuse don't fit it.
        let named = found.findings.iter().any(|it| it.message.contains("F1"));
        assert!(named, "{name}: {:#?}", found.findings);
    }
}

#[test]
fn one_finding_tells_of_all_cores_of_a_cable() {
    let found = of(&Panel { length: "2000 m".to_owned(), ..Panel::default() }.scheme());
    let told: Vec<_> = found.findings.iter().filter(|it| it.id == "short-not-cleared").collect();
    // F1 and F3 each with the core behind it; the returns have F0 alone in their own loop.
    let of_f1 = told.iter().filter(|it| it.message.contains("F1 carries")).count();
    assert_eq!(of_f1, 1, "{told:#?}");
    let mut scheme = example("harrowfen");
    for name in ["F1", "F2"] {
        set_rating(&mut scheme, name, 10.0);
    }
    let found = of(&scheme);
    let told: Vec<_> = found.findings.iter().filter(|it| it.id == "short-not-cleared").collect();
    assert_eq!(told.len(), 2, "one for each pole: {told:#?}");
    assert!(told[0].why.as_ref().unwrap().ends_with("the same holds for H2-1/3 and H2-1/4"));
}

#[test]
fn what_is_typical_is_listed() {
    let found = of(&Panel { main: r#""63 A""#, close: r#""16 A""#, ..Panel::default() }.scheme());
    assert!(found.typical.iter().any(|it| it.starts_with("F1: general-purpose (gG) fuse of 16 A")));
    assert!(found.typical.iter().all(|it| it.contains("memory") || it.contains("no source")));
}

#[test]
fn a_slow_short_names_the_fuse_whose_points_it_quotes() {
    // The core's own fuse is the smaller and has no points; the main fuse has them.
    let found =
        of(&Panel { close: r#""1 A""#, length: "800 m".to_owned(), ..Panel::default() }.scheme());
    // When F1 clears it is not known, so nothing is said of the time.
    assert!(!ids(&found).contains(&"short-not-cleared"), "{:?}", found.findings);
    // With points of its own, 17.5 A is too little for them.
    let close = r#""15 A" curve="60 A""#;
    let slow = of(&Panel { close, length: "800 m".to_owned(), ..Panel::default() }.scheme());
    let finding = slow.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
    let help = finding.help.as_ref().unwrap();
    assert!(help.contains(" does so from "), "{help}");
    // 140 V, 25 ohm and two cores of 800 m of 10 AWG: less than 5.6 A, for its max-on.
    let below = found.findings.iter().find(|it| it.id == "fuse-below-load").unwrap();
    let amps = 140.0 / (0.014 + 25.0 + 2.0 * 1.24 / 304.8 * 800.0 / (1.0 + 0.00393 * 55.0));
    let says =
        format!("F1 (1 A) is rated less than 52 close alone draws, {amps:.2} A for up to 1 s");
    assert!(below.message.starts_with(&says), "{} {says}", below.message);
    assert_eq!(below.severity, Severity::Finding);
    let inrush = found.findings.iter().filter(|it| it.id == "fuse-inrush-not-judged");
    assert!(inrush.into_iter().all(|it| it.devices == ["F3"]), "F1 is told once");
}

#[test]
fn the_same_curve_twice_in_a_row_is_not_selective() {
    let found = of(&Panel { main: r#""15 A" curve="15 A""#, ..Panel::default() }.scheme());
    let above = fuse(&found, "F1").upstream.as_ref().unwrap();
    assert!(matches!(above.selective, Selective::No { .. }), "{above:?}");
    assert!(ids(&found).contains(&"fuses-not-selective"), "{:?}", ids(&found));
}

#[test]
fn points_that_end_below_the_short_are_named_with_the_current_they_should_reach() {
    // The slow 60 A curve before a short of 10 kA, its points to 12 kA; the first one's to 3 kA
    // suffice. Without the supply's resistance known well the short is greater than all of them.
    let mut scheme = Panel::default().scheme();
    let supply = scheme.supplies.ids().next().unwrap();
    scheme.supplies[supply].resistance = Quantity::new(0.007, 0.014, "7 to 14 mohm");
    let found = of(&scheme);
    let finding = found.findings.iter().find(|it| it.id == "selectivity-not-known").unwrap();
    assert!(
        finding.message.contains("the points of F0 end at 12000 A, the short may be 20000 A"),
        "{}",
        finding.message
    );
    assert_eq!(finding.help.as_deref(), Some("give F0 points up to 20000 A"));
}

#[test]
fn a_fuse_smaller_than_its_load_is_no_cure() {
    // Over 6000 m a short draws about as much as the coil: 5.6 A.
    let found = of(&Panel { length: "6000 m".to_owned(), ..Panel::default() }.scheme());
    let finding = found.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
    let help = finding.help.as_ref().unwrap();
    assert!(help.contains("a smaller fuse is no cure: F1 has to carry 5.6 A"), "{help}");
    assert!(!help.contains("well under"), "{help}");
}

#[test]
fn lamps_and_inputs_across_contacts_go_dead_too() {
    let text = r#"
scheme "Watched"
place "A" "Panel" ambient="20 to 20 C"
supply "DC1" "125 V DC" place="A"
person "operator" place="A" { may "PB1" }
button "PB1" "Trip" place="A" { contact "a1" closed-when="pressed" }
relay "94" "Trip relay" place="A" { coil resistance="2000 ohm" works="70 to 140 V" }
ied "21" "Protection" place="A" { input "TCM" resistance="30 kohm" on-above="80 V" off-below="60 V" }
circuit "One" supply="DC1" {
    feed { fuse "F1" "10 A"; wire "P" }
    return { wire "N"; fuse "F2" "10 A" }
    leg "Trip" {
        parallel { contact "PB1" "a1"; input "21" "TCM" }
        wire "T1"
        coil "94"
    }
    leg "Red lamp" from="P" to="T1" { resistor "R1" "12 kohm"; lamp "RED" "8 mA" rated="24 V" }
}
"#;
    let reading = read_text("watched.kdl", text);
    assert!(reading.is_usable(), "{:?}", reading.findings);
    let scheme = reading.scheme.unwrap();
    let found = of(&scheme);
    for name in ["F1", "F2"] {
        let mut dead = fuse(&found, name).takes_away.clone();
        dead.sort();
        assert_eq!(dead, ["21 TCM", "94", "RED"], "{name}");
    }
}

/// A panel of one circuit: its feed, its return, its legs and what stands beside them.
fn one(devices: &str, feed: &str, back: &str, legs: &str) -> Scheme {
    let text = format!(
        r#"
scheme "One"
place "A" "Panel" ambient="20 to 20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="A"
person "operator" place="A" {{ may "PB1" }}
button "PB1" "Trip" place="A" {{ contact "a1" "a2" closed-when="pressed" }}
{devices}
circuit "One" supply="DC1" {{
    feed {{ {feed}; wire "P" }}
    return {{ wire "N"; {back} }}
    {legs}
}}
"#
    );
    let reading = read_text("one.kdl", &text);
    assert!(reading.is_usable(), "{:?}", reading.findings);
    reading.scheme.unwrap()
}

const TWO_TRIPS: &str = r#"
breaker "52" "Breaker" place="A" closing-time="45 to 60 ms" opening-time="20 to 30 ms" {
    coil "trip 1" drives-to="open" resistance="25 ohm" works="70 to 140 V" max-on="1 s"
    coil "trip 2" drives-to="open" resistance="25 ohm" works="70 to 140 V" max-on="1 s"
    contact "a1" "a2" closed-when="closed"
}
relay "TGT" "Target" place="A" { coil resistance="0.2 ohm" pickup="0.2 to 0.5 V" }
relay "K1" "Relay" place="A" { coil resistance="2000 ohm" works="40 to 75 V" }
relay "K2" "Relay" place="A" { coil resistance="2000 ohm" works="40 to 75 V" }
"#;

#[test]
fn coils_in_series_carry_one_current() {
    let scheme = one(
        TWO_TRIPS,
        r#"fuse "F1" "10 A""#,
        r#"fuse "F2" "10 A""#,
        r#"
    leg "Trip" { contact "PB1" "a1"; coil "TGT"; contact "52" "a1"; coil "52" "trip 1" }
    leg "Both" { contact "PB1" "a2"; coil "K1"; coil "K2" }
"#,
    );
    let found = of(&scheme);
    let carries = &fuse(&found, "F1").carries;
    // 140 V over 4000 ohm for ever; over 25.2 ohm for a moment, not over 0.2 ohm beside 25.
    assert!((carries.steady - 0.035).abs() < 1e-9, "{carries:?}");
    assert!((carries.most - 0.035 - 140.0 / 25.2).abs() < 1e-9, "{carries:?}");
    assert!(!ids(&found).contains(&"fuse-overloaded"), "{:?}", found.findings);
}

#[test]
fn one_fuse_pair_for_both_trip_coils_is_told_with_its_fuses() {
    let trip = |number: u8| {
        format!(
            r#"{{ contact "PB1" "a{number}"; contact "52" "a{number}"; coil "52" "trip {number}" }}"#
        )
    };
    let (first, second) = (trip(1), trip(2));
    let scheme = one(
        TWO_TRIPS,
        r#"fuse "F1" "10 A""#,
        r#"fuse "F2" "10 A""#,
        &format!("leg \"Trip 1\" {first}\nleg \"Trip 2\" {second}"),
    );
    let found = of(&scheme);
    let told = found.findings.iter().find(|it| it.id == "trips-on-one-fuse").unwrap();
    assert_eq!(
        told.message,
        "each of F1 and F2 takes 52 trip 1 and 52 trip 2 away: with it out 52 cannot trip"
    );
    assert_eq!(told.severity, Severity::Finding);
    // Fuses of their own behind the poles: nothing to tell.
    let scheme = one(
        TWO_TRIPS,
        r#"link "X1" 1"#,
        r#"link "X2" 1"#,
        &format!(
            r#"
    leg "Plus 1" from="P" to="P1" {{ fuse "F1" "10 A" }}
    leg "Minus 1" from="N1" to="N" {{ fuse "F2" "10 A" }}
    leg "Plus 2" from="P" to="P2" {{ fuse "F3" "10 A" }}
    leg "Minus 2" from="N2" to="N" {{ fuse "F4" "10 A" }}
    leg "Trip 1" from="P1" to="N1" {first}
    leg "Trip 2" from="P2" to="N2" {second}
"#
        ),
    );
    assert!(!ids(&of(&scheme)).contains(&"trips-on-one-fuse"));
}

#[test]
fn a_fuse_behind_one_that_is_no_larger_is_never_selective() {
    let with = |above: &str, below: &str| {
        let leg =
            format!(r#"leg "Relay" {{ fuse "F1" "{below}"; contact "PB1" "a1"; coil "K1" }}"#);
        of(&one(TWO_TRIPS, &format!(r#"fuse "F0" "{above}""#), r#"fuse "F9" "63 A""#, &leg))
    };
    for (above, below) in [("10 A", "10 A"), ("10 A", "16 A")] {
        let found = with(above, below);
        let told = found.findings.iter().find(|it| it.id == "fuses-not-selective").unwrap();
        assert!(told.message.starts_with("F1 and F0 open together"), "{}", told.message);
        assert_eq!(told.severity, Severity::Finding);
    }
    // The cure: 1.6 times 16 A above, or 10 A / 1.6 below.
    for (above, below) in [("25.6 A", "16 A"), ("10 A", "6.25 A")] {
        let found = with(above, below);
        assert!(!ids(&found).contains(&"fuses-not-selective"), "{above} {below}");
    }
}

#[test]
fn the_cure_of_a_short_that_is_not_cleared_clears_it() {
    for close in [r#""15 A" curve="15 A""#, r#""15 A""#] {
        let at = |length: String| {
            let main = if close.contains("curve") { r#""60 A" curve="60 A""# } else { r#""60 A""# };
            of(&Panel { main, close, length, ..Panel::default() }.scheme())
        };
        let found = at("4000 m".to_owned());
        let told = found.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
        let help = told.help.as_ref().unwrap();
        let metres = help.split("run of at most ").nth(1).and_then(|it| it.split(" m").next());
        let metres = metres.unwrap_or_else(|| panic!("{help}"));
        let found = at(format!("{metres} m"));
        assert!(!ids(&found).contains(&"short-not-cleared"), "{close}: {:?}", found.findings);
    }
}

/// A core of 100 m, fed at hand or by a contact at the end of 2500 m: the least short is the one
/// over the long way. 105 V over 14 milliohm and 2 x 100 m + 2 x 2500 m of 14 AWG (3.14 ohm/1000 ft
/// at 75 C, NEC chapter 9 table 8, at 20 C).
#[test]
fn the_least_short_comes_over_the_longest_way_to_the_core() {
    let text = r#"
scheme "Two ways"
place "HOUSE" "House" ambient="20 C"
place "FAR" "Far" ambient="20 C"
place "YARD" "Yard" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
cable "K1" from="HOUSE" to="YARD" length="100 m" size="14 AWG" cores=4
cable "KR" from="HOUSE" to="FAR" length="2500 m" size="14 AWG" cores=4
button "PB" "Trip" place="HOUSE" { contact "a1" closed-when="pressed" }
button "PF" "Trip" place="FAR" { contact "a1" closed-when="pressed" }
relay "94" place="YARD" { coil resistance="2000 ohm" works="70 to 140 V" }
circuit "Trip" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Here" from="P" to="T1" { contact "PB" "a1" }
    leg "There" from="P" to="T1" { core "KR" 1 into="FAR"; contact "PF" "a1"; core "KR" 2 into="HOUSE" }
    leg "Relay" from="T1" to="N" { core "K1" 1 into="YARD"; coil "94"; core "K1" 2 into="HOUSE" }
}
"#;
    let outcome = read_text("ways.kdl", text);
    let found = of(&outcome.scheme.unwrap_or_else(|| panic!("{:#?}", outcome.findings)));
    let short = found.shorts.iter().find(|it| it.core == "K1/1").unwrap();
    let metre = 0.314 / 30.48 / (1.0 + 0.00393 * 55.0);
    let [least, most] = short.amps.unwrap();
    assert!((least - 105.0 / (0.014 + metre * 5200.0)).abs() < 0.01, "{least}");
    assert!((most - 140.0 / (0.014 + metre * 200.0)).abs() < 0.5, "{most}");
    let told = found.findings.iter().find(|it| it.id == "short-not-cleared").unwrap();
    assert!(told.message.contains("F1 carries 15 A for ever"), "{told:?}");
}

/// 1.25 times its rating is what a general-purpose fuse carries for an hour (conventional
/// non-fusing current, from memory of IEC 60269), 1.6 times what surely opens it.
#[test]
fn a_short_that_a_fuse_without_points_may_carry_is_found() {
    let told = |metres: u32| {
        let panel = Panel {
            main: r#""63 A""#,
            close: r#""15 A""#,
            length: format!("{metres} m"),
            ..Panel::default()
        };
        let found = of(&panel.scheme());
        let short = found.shorts.iter().find(|short| short.core == "K1/1").unwrap();
        let ids: Vec<_> = found.findings.iter().filter(|it| it.message.contains("K1/1")).collect();
        (short.amps.unwrap()[0], ids.first().map(|it| (it.id, it.severity)))
    };
    let (mut carried, mut unsure, mut clear) = (0, 0, 0);
    for metres in (400..1200).step_by(50) {
        let (amps, told) = told(metres);
        let expected = if amps <= 1.25 * 15.0 {
            carried += 1;
            Some(("short-not-cleared", Severity::Finding))
        } else if amps < 1.6 * 15.0 {
            unsure += 1;
            Some(("short-may-last", Severity::Note))
        } else {
            clear += 1;
            None
        };
        assert_eq!(told, expected, "{metres} m: {amps} A");
    }
    assert!(carried > 0 && unsure > 0 && clear > 0, "{carried} {unsure} {clear}");
}

/// The fuses of both poles protect the same wires (common practice, no source).
#[test]
fn one_fuse_of_a_pair_that_is_ten_times_the_other_is_found() {
    let mut scheme = example("latches");
    assert!(!ids(&of(&scheme)).contains(&"fuses-of-a-pair-differ"));
    set_rating(&mut scheme, "F2", 100.0);
    let found = of(&scheme);
    let told = found.findings.iter().find(|it| it.id == "fuses-of-a-pair-differ").unwrap();
    assert!(told.message.starts_with("F2 (100 A) is 10 times F1 (10 A)"), "{told:?}");
    set_rating(&mut scheme, "F1", 100.0);
    assert!(!ids(&of(&scheme)).contains(&"fuses-of-a-pair-differ"));
}

fn poles(feed: &str, back: &str, load: &str, grounded: &str) -> Fuses {
    let text = format!(
        r#"
scheme "Poles"
place "H" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" {grounded} place="H"
breaker "52" place="H" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {{
    coil "trip" drives-to="open" resistance="25 ohm" works="70 to 140 V" goes-after="6 to 10 ms" max-on="1 s"
    contact "a1" closed-when="closed"
}}
button "PB" place="H" {{ contact "a1" closed-when="pressed" }}
circuit "One" supply="DC1" {{
    feed {{ {feed} wire "P" }}
    return {{ wire "N"; {back} }}
    leg "Leg" {{ contact "PB" "a1"; {load} }}
}}
"#
    );
    let reading = read_text("poles.kdl", &text);
    of(&reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings)))
}

/// 140 V over the 14 mohm of the battery: 10,000 A past the only fuse.
#[test]
fn a_fuse_in_one_pole_of_a_floating_battery_is_told() {
    const TRIP: &str = r#"contact "52" "a1"; coil "52" "trip""#;
    const PLUS: &str = r#"fuse "F1" "15 A";"#;
    const MINUS: &str = r#"fuse "F2" "15 A""#;
    const BARE: &str = r#"terminal "TB1" 1;"#;
    const BARE_MINUS: &str = r#"terminal "TB2" 1"#;
    let told =
        |found: &Fuses| found.findings.iter().find(|it| it.id == "fuse-in-one-pole").cloned();
    let minus = told(&poles(BARE, MINUS, TRIP, "")).unwrap();
    assert_eq!(minus.severity, Severity::Finding);
    assert!(
        minus.message.contains("F2 stands in the minus pole, and none in the plus pole of 52 trip"),
        "{minus:?}"
    );
    assert!(minus.why.as_ref().unwrap().contains("up to 10000 A flow past F2"), "{minus:?}");
    let plus = told(&poles(PLUS, BARE_MINUS, TRIP, "")).unwrap();
    assert!(plus.help.as_ref().unwrap().contains("15 A in the minus pole"), "{plus:?}");
    assert!(told(&poles(PLUS, MINUS, TRIP, "")).is_none());
    assert!(told(&poles(PLUS, BARE_MINUS, TRIP, r#"grounded="yes""#)).is_none());
    let lamp = told(&poles(PLUS, BARE_MINUS, r#"lamp "L" "8 mA""#, "")).unwrap();
    assert_eq!(lamp.severity, Severity::Note);
}

/// A lamp of 24 V, 35 mA (685.7 ohm) behind 3 kohm across the contacts of a 25 ohm coil: 140 V over
/// 3710.7 ohm, 37.73 mA for ever.
#[test]
fn a_lamp_across_the_contacts_is_carried_by_the_fuse_for_ever() {
    let text = r#"
scheme "Lamp"
place "H" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="H"
breaker "52" place="H" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {
    coil "trip" drives-to="open" resistance="25 ohm" works="70 to 140 V" pickup="35 to 60 V" goes-after="6 to 10 ms" max-on="1 s"
    contact "a1" closed-when="closed"
}
button "PB" place="H" { contact "a1" closed-when="pressed" }
circuit "Trip" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Trip" { contact "PB" "a1"; wire "T1"; contact "52" "a1"; coil "52" "trip" }
    leg "Red" from="P" to="T1" { lamp "RED" "35 mA" rated="24 V"; resistor "R1" "3 kohm" power="10 W" }
}
"#;
    let found = of(&read_text("lamp.kdl", text).scheme.unwrap());
    let amps = 140.0 / (3000.0 + 24.0 / 0.035 + 25.0);
    for name in ["F1", "F2"] {
        let carries = &fuse(&found, name).carries;
        assert!((carries.steady - amps).abs() < 1e-6, "{carries:?}");
    }
}

/// A main fuse of 10 A before a branch of 15 A: from 10 to 15 A the main may open and the branch never
/// does (a fuse carries its rating for ever), whatever points are written down for either.
#[test]
fn a_main_fuse_smaller_than_its_branch_is_never_selective() {
    let slow = r#"point "18 A" "1000 to 5000 s"; point "60 A" "100 to 500 s"; point "1000 A" "1 to 2 s"; point "20000 A" "0.5 to 1 s""#;
    let with = |rating: &str| {
        let found = of(&rated_in_a_row(rating, slow));
        (fuse(&found, "F3").upstream.clone().unwrap().selective, ids(&found).join(" "))
    };
    let (Selective::Never { why }, told) = with("10 A") else { panic!("{:?}", with("10 A")) };
    assert!(why.contains("15 A stand behind 10 A"), "{why}");
    assert!(told.contains("fuses-not-selective"), "{told}");
    assert!(!matches!(with("18 A").0, Selective::Never { .. }));
}

/// A main of 100 A in both poles and one branch of 15 A in both: each is like its partner. A branch of
/// 15 A in plus and 100 A in minus is not.
#[test]
fn a_main_and_its_only_branch_are_no_pair() {
    let with = |main: &str, plus: &str, minus: &str| {
        let text = format!(
            r#"
scheme "Branch"
place "HOUSE" "House" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
relay "K1" place="HOUSE" {{ coil resistance="2000 ohm" works="70 to 140 V" }}
circuit "Main" supply="DC1" {{
    feed {{ fuse "F1" "{main}"; wire "P" }}
    return {{ wire "N"; fuse "F2" "{main}" }}
}}
circuit "Sub" circuit="Main" {{
    feed {{ fuse "F3" "{plus}"; wire "SP" }}
    return {{ wire "SN"; fuse "F4" "{minus}" }}
    leg "K1" {{ coil "K1" }}
}}
"#
        );
        let scheme = read_text("branch.kdl", &text).scheme.unwrap();
        let found = of(&scheme);
        found.findings.into_iter().find(|it| it.id == "fuses-of-a-pair-differ")
    };
    assert_eq!(with("100 A", "15 A", "15 A"), None);
    let told = with("100 A", "15 A", "60 A").unwrap();
    assert_eq!(told.devices, ["F4", "F3"]);
}

/// Two cables in a row, 200 m and 900 m of 10 AWG. By hand, at 20 C 3.277 mohm/m: in the far one the cure
/// changes only its own ohms, so typed in it leads to what it says.
#[test]
fn the_cure_of_a_far_short_scales_its_own_cable_only() {
    let with = |metres: f64| {
        let text = format!(
            r#"
scheme "Two cables"
place "HOUSE" "House" ambient="20 C"
place "YARD" "Yard" ambient="20 C"
place "FAR" "Far" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
cable "K1" from="HOUSE" to="YARD" length="200 m" size="10 AWG" cores=7
cable "K2" from="YARD" to="FAR" length="{metres:.1} m" size="10 AWG" cores=7
curve "15 A" {{ point "30 A" "20 to 100 s"; point "75 A" "0.3 to 1.5 s"; point "300 A" "8 to 20 ms"; point "12000 A" "1 to 4 ms" }}
relay "94" place="FAR" {{ coil resistance="2000 ohm" works="70 to 140 V" }}
circuit "One" supply="DC1" {{
    feed {{ fuse "F1" "15 A" curve="15 A"; wire "P" }}
    return {{ wire "N"; fuse "F2" "15 A" curve="15 A" }}
    leg "x" {{ core "K1" 1 into="YARD"; core "K2" 1 into="FAR"; coil "94"; core "K2" 2 into="YARD"; core "K1" 2 into="HOUSE" }}
}}
"#
        );
        let found = of(&read_text("two.kdl", &text).scheme.unwrap());
        let told = found.findings.iter().find(|it| {
            it.id == "short-not-cleared" && it.help.as_deref().is_some_and(|it| it.contains("K2"))
        });
        told.and_then(|it| it.help.clone())
    };
    let help = with(900.0).unwrap();
    assert!(help.contains("a run of at most "), "{help}");
    let run = help.split("a run of at most ").nth(1).unwrap().split(" m").next().unwrap();
    let metres: f64 = run.parse().unwrap();
    assert!(metres > 10.0 && metres < 187.0, "{help}");
    assert_eq!(with(metres), None, "{help}");
    assert!(with(metres * 1.1).is_some(), "{help}");
}

/// 200 m and 1000 m of 14 AWG side by side without a contact between, back over 200 m: 1 / (1/200 + 1/1000) =
/// 166.7 m, and their two far ends are one wire (3.14 ohm/1000 ft at 75 C, NEC chapter 9 table 8, at 20 C).
#[test]
fn cores_side_by_side_share_a_short_at_their_end() {
    let text = r#"
scheme "Side by side"
place "HOUSE" "House" ambient="20 C"
place "YARD" "Yard" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" resistance="14 mohm" place="HOUSE"
cable "K1" from="HOUSE" to="YARD" length="200 m" size="14 AWG" cores=4
cable "K2" from="HOUSE" to="YARD" length="1000 m" size="14 AWG" cores=4
button "PB" "Trip" place="HOUSE" { contact "a1" closed-when="pressed" }
relay "94" place="YARD" { coil resistance="2000 ohm" works="70 to 140 V" }
circuit "Trip" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Relay" from="P" to="N" { contact "PB" "a1"; parallel { core "K1" 1 into="YARD"; core "K2" 1 into="YARD" }; coil "94"; core "K1" 2 into="HOUSE" }
}
"#;
    let outcome = read_text("side.kdl", text);
    let found = of(&outcome.scheme.unwrap_or_else(|| panic!("{:#?}", outcome.findings)));
    let metre = 0.314 / 30.48 / (1.0 + 0.00393 * 55.0);
    for core in ["K1/1", "K2/1"] {
        let short = found.shorts.iter().find(|it| it.core == core).unwrap();
        let [least, most] = short.amps.unwrap();
        let ohm = 0.014 + metre * (1000.0 / 6.0 + 200.0);
        assert!((least - 105.0 / ohm).abs() < 0.01, "{core}: {least}");
        assert!((most - 140.0 / ohm).abs() < 0.5, "{core}: {most}");
    }
}
