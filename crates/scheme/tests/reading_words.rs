//! The words that the examples don't use: each says in the model what it says in the text.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test fails by panicking")]

use fiftytwo_scheme::{
    Atom, ClaimBody, Coil, CurrentKind, DeviceKind, Light, LogicRule, Material, Moves, Part,
    PartKind, Points, Scheme, Severity, WireSize, read_path, read_text,
};

fn scheme() -> Scheme {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good/scheme.kdl");
    let reading = read_path(&path);
    let errors: Vec<String> = reading
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .map(|finding| {
            let at = finding.at.map(|at| reading.sources.place(at)).unwrap_or_default();
            format!("{at} {} {}", finding.id, finding.message)
        })
        .collect();
    assert_eq!(errors, Vec::<String>::new());
    reading.scheme.unwrap()
}

fn part<'s>(scheme: &'s Scheme, name: &str) -> &'s Part {
    &scheme.parts[scheme.part_named(name).unwrap()]
}

fn coil<'s>(scheme: &'s Scheme, name: &str) -> &'s Coil {
    let device = scheme.device_named(name).unwrap();
    let parts = scheme.devices[device].parts.iter().map(|part| &scheme.parts[*part].kind);
    parts
        .filter_map(|kind| match kind {
            PartKind::Coil(coil) => Some(coil),
            _ => None,
        })
        .next()
        .unwrap()
}

fn wires(scheme: &Scheme, name: &str) -> (String, String) {
    let at = part(scheme, name).at.unwrap();
    let wire = |node| scheme.nodes[node].wire.clone().unwrap_or_default();
    (wire(at.from), wire(at.to))
}

#[test]
fn the_title_and_the_outside() {
    let scheme = scheme();
    assert!((scheme.frequency - 50.0).abs() < 1e-9);
    assert_eq!(scheme.revisions[0].by.as_deref(), Some("NN"));
    assert_eq!(scheme.notes, ["The title's note", "A note of the whole scheme"]);
    // Five cycles of 50 Hz.
    assert_eq!(scheme.orders.values().next().unwrap().lasts.as_ref().unwrap().lo, 100_000);
    let oil = scheme.conditions.values().find(|one| one.name == "oil").unwrap();
    assert_eq!(oil.moves, Moves::OnlyDown);
    let ac = scheme.supplies.values().find(|one| one.name == "AC1").unwrap();
    assert_eq!((ac.current, ac.grounded), (CurrentKind::Ac, true));
    assert_eq!(scheme.nodes[ac.plus].wire.as_deref(), Some("AC1L"));
    let dc = scheme.supplies.values().find(|one| one.name == "DC1").unwrap();
    assert!((dc.grounds.first().unwrap().minus.lo - 60_000.0).abs() < 1e-6);
    let cable = scheme.cables.values().next().unwrap();
    assert_eq!((cable.size, cable.material), (WireSize::Mm2(2.5), Material::Aluminium));
    // A foot is 0.3048 m by definition.
    assert!((cable.length.lo - 1150.0 * 0.3048).abs() < 1e-6);
    assert_eq!(cable.landings[0].to.as_deref(), Some("TB7:1"));
    assert_eq!(cable.landings[1].to, None);
}

#[test]
fn a_type_from_a_file_is_copied_into_each_device() {
    let scheme = scheme();
    for name in ["K5", "K6"] {
        let coil = coil(&scheme, name);
        // 56 to 112 % of 125 V.
        let works = coil.works.as_ref().unwrap();
        assert!((works.lo - 70.0).abs() < 1e-9 && (works.hi - 140.0).abs() < 1e-9, "{works:?}");
        assert!(coil.resistance.as_ref().unwrap().typical);
        assert!(scheme.part_named(&format!("{name} b1")).is_some());
    }
    assert!(scheme.part_named("K6 c1").is_some());
    assert!(scheme.part_named("K5 c1").is_none());
    let relay = &scheme.devices[scheme.device_named("K5").unwrap()];
    assert_eq!(relay.function.as_deref(), Some("94"));
    let screws = part(&scheme, "K5 a1").terminals.clone().unwrap();
    assert_eq!(screws, ("11".to_owned(), "14".to_owned()));
}

#[test]
fn percent_is_of_the_supply_where_no_rated_voltage_is_given() {
    let scheme = scheme();
    let pickup = coil(&scheme, "62").pickup.clone().unwrap();
    assert!((pickup.lo - 62.5).abs() < 1e-9 && (pickup.hi - 87.5).abs() < 1e-9);
    let timer = &scheme.devices[scheme.device_named("62").unwrap()];
    let DeviceKind::Timer { set } = &timer.kind else { panic!("no timer") };
    assert_eq!((set.lo, set.hi), (900_000, 1_100_000));
}

#[test]
fn a_pattern_is_filled_in() {
    let scheme = scheme();
    assert!(scheme.legs.values().any(|leg| leg.name == "Seal-in of K5"));
    assert_eq!(wires(&scheme, "F3").0, "P");
    assert_eq!(wires(&scheme, "K5").1, "N");
    let (one, two) = (part(&scheme, "PB1").at.unwrap(), part(&scheme, "K5 a1").at.unwrap());
    assert_eq!((one.from, one.to), (two.from, two.to));
}

#[test]
fn a_programmed_device_has_power_memory_and_a_link() {
    let scheme = scheme();
    let PartKind::Power { burden } = &part(&scheme, "21 power").kind else { panic!("no power") };
    assert!((burden.as_ref().unwrap().lo - 12.0).abs() < 1e-9);
    assert!(matches!(part(&scheme, "21 block").kind, PartKind::Link));
    let logic = scheme.logics.values().next().unwrap();
    assert!(matches!(logic.rule, LogicRule::Memory { .. }));
    let seen = part(&scheme, "21 seen");
    let watched = &scheme.parts[seen.watches.unwrap()];
    assert_eq!(watched.name, "K6");
    assert!(matches!(watched.kind, PartKind::Coil(_)));
}

#[test]
fn cores_without_into_lead_to_the_other_end() {
    let scheme = scheme();
    let PartKind::Core(core) = &part(&scheme, "K1/1").kind else { panic!("no core") };
    assert_eq!(scheme.places[core.into].name, "YARD");
    let PartKind::Core(core) = &part(&scheme, "K1/4+5").kind else { panic!("no core") };
    assert_eq!(core.cores, [4, 5]);
}

#[test]
fn wires_jumpers_and_chains() {
    let scheme = scheme();
    assert_eq!(wires(&scheme, "jumper X Y"), ("X".to_owned(), "Y".to_owned()));
    let node = &scheme.nodes[scheme.node_named("S").unwrap()];
    assert_eq!(node.label.as_deref(), Some("S1"));
    let chain = &scheme.chains[0];
    assert_eq!(chain.wire, scheme.node_named("N").unwrap());
    assert_eq!(chain.points.first(), chain.points.last());
    assert!(matches!(part(&scheme, "TB1/4").kind, PartKind::Terminal));
    assert!(matches!(part(&scheme, "TS9/1").kind, PartKind::Link));
}

#[test]
fn a_circuit_may_hang_on_another() {
    let scheme = scheme();
    let branch = scheme.circuits.values().find(|one| one.name == "Branch").unwrap();
    let main = &scheme.circuits[branch.of_circuit.unwrap()];
    assert_eq!(main.name, "Main");
    assert_eq!(branch.supply, main.supply);
    assert_eq!(wires(&scheme, "F4"), ("P".to_owned(), "P4".to_owned()));
    // Without a return of its own it shares the rail.
    assert_eq!(branch.minus, main.minus);
    assert_eq!(branch.notes, ["Behind the main fuses"]);
    assert_eq!(main.sheet.as_deref(), Some("2"));
}

#[test]
fn own_claims_and_stories() {
    let scheme = scheme();
    let [once, always, follows] = scheme.claims.as_slice() else { panic!("not three claims") };
    assert!(once.during.is_some());
    assert!(matches!(once.body, ClaimBody::AtMost { times: 2, .. }));
    assert!(matches!(always.body, ClaimBody::Always(_)));
    let ClaimBody::IfThen { within, .. } = &follows.body else { panic!("no if") };
    assert_eq!(within.as_ref().unwrap().hi, 1_000_000);
    assert_eq!(scheme.tunes[0].within.as_ref().unwrap().hi, 60_000);
    assert_eq!(scheme.waivers[0].for_name.as_deref(), Some("21 seen"));
    let story = &scheme.stories[0];
    let acts: Vec<(Atom, bool)> =
        story.steps.iter().flat_map(|step| &step.acts).map(|act| (act.atom, act.so)).collect();
    assert!(matches!(acts[0], (Atom::LinkOpen(_), true)));
    assert!(matches!(acts[1], (Atom::Blown(_), true)));
    assert!(matches!(acts[2], (Atom::Condition(_, 1), true)));
    assert!(matches!(acts[4], (Atom::Live(_), false)));
    assert_eq!(story.steps[2].held, Some(20_000));
}

#[test]
fn curves_are_volts_and_amperes_or_currents_and_times() {
    let scheme = scheme();
    let [lamp, fuse] = scheme.curves.values().collect::<Vec<_>>()[..] else { panic!("not two") };
    // Typical is what any of its points is.
    assert!(lamp.typical && !fuse.typical && lamp.span.is_some());
    let Points::VoltsAmps(points) = &lamp.points else { panic!("no volts") };
    assert_eq!(points, &[(20.0, 0.0), (125.0, 0.008), (140.0, 0.009)]);
    let Points::AmpsSeconds(points) = &fuse.points else { panic!("no times") };
    assert_eq!(points, &[(12.0, 20.0, 100.0), (60.0, 0.05, 0.2)]);
    let PartKind::Fuse { curve, .. } = &part(&scheme, "F4").kind else { panic!("no fuse") };
    assert_eq!(scheme.curves[curve.unwrap()].name, "fuse 6 A");
    let PartKind::Input(input) = &part(&scheme, "21 lit").kind else { panic!("no input") };
    assert_eq!(scheme.curves[input.curve.unwrap()].name, "lamp");
    assert!((input.least.as_ref().unwrap().lo - 0.0015).abs() < 1e-12);
}

#[test]
fn a_contact_has_a_rating_for_each_voltage_and_time() {
    let scheme = scheme();
    let PartKind::Contact(contact) = &part(&scheme, "21 strong").kind else { panic!("no contact") };
    // The one in the contact's line says nothing of voltage.
    let [bare, made] = contact.makes.as_slice() else { panic!("not two") };
    assert!(bare.volts.is_none() && (bare.amps.lo - 30.0).abs() < 1e-12);
    assert!((made.volts.as_ref().unwrap().lo - 125.0).abs() < 1e-12);
    assert_eq!(made.lasts.as_ref().unwrap().hi, 200_000);
    let carried: Vec<f64> = contact.carries.iter().map(|rating| rating.amps.lo).collect();
    assert_eq!(carried, [10.0, 30.0]);
    assert_eq!(contact.breaks.len(), 3);
    let inductive = contact.breaks[1].time_constant.as_ref().unwrap();
    assert_eq!((inductive.lo, inductive.hi), (40_000, 40_000));
    assert!(contact.breaks[2].time_constant.is_none());
}

#[test]
fn lamps_diodes_varistors_motors_and_detectors() {
    let scheme = scheme();
    let lamp = |name: &str| match &part(&scheme, name).kind {
        PartKind::Lamp(lamp) => lamp.clone(),
        _ => panic!("no lamp"),
    };
    let (old, new, known) = (lamp("OLD"), lamp("NEW"), lamp("KNOWN"));
    assert_eq!((old.light, new.light), (Light::Filament, Light::Led));
    assert!((old.cold.as_ref().unwrap().lo - 70.0).abs() < 1e-12);
    assert!((old.rated.as_ref().unwrap().lo - 24.0).abs() < 1e-12);
    assert!((new.drop.as_ref().unwrap().lo - 2.0).abs() < 1e-12);
    assert!(known.curve.is_some() && known.rated.is_none());
    assert_eq!(lamp("LATE").light, Light::NotSaid);
    let PartKind::Diode(diode) = &part(&scheme, "V3").kind else { panic!("no diode") };
    assert!((diode.drop.as_ref().unwrap().hi - 0.9).abs() < 1e-12);
    assert!((diode.blocks.as_ref().unwrap().lo - 1000.0).abs() < 1e-12);
    let PartKind::Varistor(varistor) = &part(&scheme, "V4").kind else { panic!("no varistor") };
    assert!((varistor.absorbs.as_ref().unwrap().lo - 20.0).abs() < 1e-12);
    assert!(varistor.curve.is_some());
    let PartKind::Motor(motor) = &part(&scheme, "M motor").kind else { panic!("no motor") };
    assert_eq!(motor.starts_in.as_ref().unwrap().lo, 300_000);
    let works = motor.works.as_ref().unwrap();
    assert!((works.lo - 100.0).abs() < 1e-12 && (works.hi - 140.0).abs() < 1e-12);
    let dc = scheme.supplies.values().find(|one| one.name == "DC1").unwrap();
    let [first, second] = dc.grounds.as_slice() else { panic!("not two detectors") };
    assert!(first.alarms_below.is_none());
    assert!((second.alarms_below.as_ref().unwrap().lo - 20_000.0).abs() < 1e-9);
}

#[test]
fn what_bounces_stays_and_starts_slowly_says_for_how_long() {
    let source = r#"scheme "Environment"
place "A" "Panel"
supply "DC" "125 V DC" range="105 to 140 V" place="A"
condition "gas low" stays="200 ms"
handle "43" place="A" stays="50 ms" { position "off"; position "on"; contact "on" closed-when="on" }
relay "K" place="A" bounce="3 ms" {
    coil
    contact "a1" closed-when="picked up"
    contact "b1" closed-when="dropped out" bounce="1 to 5 ms"
}
ied "87" place="A" starts-in="8 to 12 s" { power burden="10 W"; contact "trip" closed-when="gas low" }
circuit "C" supply="DC" {
    feed { fuse "F1" "6 A"; wire "P" }
    return { wire "N"; fuse "F2" "6 A" }
    leg "K" { contact "43" "on"; contact "87" "trip"; coil "K" }
    leg "87" { power "87" }
}
"#;
    let reading = read_text("scheme.kdl", source);
    let scheme = reading.scheme.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let bounce = |name: &str| match &part(&scheme, name).kind {
        PartKind::Contact(contact) => contact.bounce.as_ref().map(|time| time.hi),
        _ => None,
    };
    assert_eq!(bounce("K a1"), Some(3_000), "of the device");
    assert_eq!(bounce("K b1"), Some(5_000), "its own");
    assert_eq!(bounce("43 on"), None);
    let gas = scheme.conditions.values().next().unwrap();
    assert_eq!(gas.stays.as_ref().unwrap().lo, 200_000);
    let device = |name: &str| scheme.devices.values().find(|it| it.name == name).unwrap();
    assert_eq!(device("43").stays.as_ref().unwrap().lo, 50_000);
    let DeviceKind::Ied { starts_in, .. } = &device("87").kind else { panic!("no ied") };
    assert_eq!(starts_in.as_ref().unwrap().hi, 12_000_000);
}
