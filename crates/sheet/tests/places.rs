//! Places: a frame goes round what stands in its place and nothing else.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Group, Role, Shape};
use fiftytwo_sheet::{Drawing, Legs, Options, Paper, Rule, Symbols, draw, verify};

/// A kiosk between a house and a breaker: left for the breaker and entered again on the way back.
const IN_A_ROW: &str = r#"
scheme "In a row"
place "HOUSE" "Relay room"
place "KIOSK" "Marshalling kiosk in the switchyard"
place "BREAKER" "Breaker cabinet"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
cable "W1" from="HOUSE" to="KIOSK" length="100 m" size="10 AWG" cores=24
cable "W2" from="KIOSK" to="BREAKER" length="20 m" size="10 AWG" cores=24
person "operator" place="HOUSE" { may "PB" }
button "PB" "Start" place="HOUSE" { contact "a1" "a2" "a3" "a4" closed-when="pressed" }
relay "K1" "In the breaker" place="BREAKER" { coil { resistance "3000 ohm" }; contact "a1" "a2" closed-when="picked up" }
relay "K2" "In the kiosk" place="KIOSK" { coil { resistance "3000 ohm" }; contact "a1" closed-when="picked up" }
circuit "Control" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "One" { contact "PB" "a1"; core "W1" 1 into="KIOSK"; terminal "X1" 1; core "W2" 1 into="BREAKER"; coil "K1"; core "W2" 2 into="KIOSK"; terminal "X1" 2; core "W1" 2 into="HOUSE" }
    leg "Two" { contact "PB" "a2"; core "W1" 3 into="KIOSK"; coil "K2"; core "W1" 4 into="HOUSE" }
    leg "Three" { contact "PB" "a3"; core "W1" 5 into="KIOSK"; core "W2" 3 into="BREAKER"; contact "K1" "a1"; core "W2" 4 into="KIOSK"; contact "K2" "a1"; core "W1" 6 into="HOUSE"; lamp "RED" "8 mA" }
    leg "Four" { core "W1" 7 into="KIOSK"; core "W2" 5 into="BREAKER"; contact "K1" "a2"; core "W2" 6 into="KIOSK"; core "W1" 8 into="HOUSE"; lamp "GREEN" "8 mA" }
}
"#;

fn scheme() -> Scheme {
    let reading = fiftytwo_scheme::read_text("places.kdl", IN_A_ROW);
    let said: Vec<String> = reading.findings.iter().map(|it| it.message.clone()).collect();
    reading.scheme.unwrap_or_else(|| panic!("{said:#?}"))
}

fn styles() -> Vec<Options> {
    let mut all = Vec::new();
    for symbols in [Symbols::Ieee315, Symbols::Iec60617] {
        for legs in [Legs::Upright, Legs::Across] {
            for paper in [Paper::AnsiB, Paper::IsoA3, Paper::AnsiD] {
                all.push(Options { symbols, legs, paper, ..Options::default() });
            }
        }
    }
    all
}

fn frames<'a>(drawing: &'a Drawing, scheme: &Scheme, place: &str) -> Vec<&'a Group> {
    let id = scheme.places.iter().find(|(_, it)| it.name == place).unwrap().0;
    let groups = drawing.sheets.iter().flat_map(|sheet| &sheet.items);
    groups
        .filter(|group| group.role == Role::Place(id))
        .filter(|group| matches!(group.shapes.first(), Some(Shape::Line { .. })))
        .collect()
}

#[test]
fn a_place_between_two_others_has_a_named_frame_on_each_side() {
    let scheme = scheme();
    for options in styles() {
        let drawing = draw(&scheme, &options);
        assert_eq!(verify(&drawing, &scheme), [], "{options:?}");
        let kiosk = frames(&drawing, &scheme, "KIOSK").len();
        assert!(kiosk >= 2, "{options:?}: the kiosk is entered twice and has {kiosk} frame");
        for group in frames(&drawing, &scheme, "BREAKER") {
            let Some(Shape::Line { points, .. }) = group.shapes.first() else { continue };
            assert_eq!(points.len(), 4, "{options:?}: a plain rectangle");
        }
    }
}

fn seen(rule: Rule, spoil: impl FnOnce(&Scheme, &mut Drawing)) {
    let scheme = scheme();
    let mut drawing = draw(&scheme, &Options::default());
    assert_eq!(verify(&drawing, &scheme), []);
    spoil(&scheme, &mut drawing);
    let faults = verify(&drawing, &scheme);
    assert!(faults.iter().any(|fault| fault.rule == rule), "{rule:?} was not seen: {faults:?}");
}

fn frame_of<'a>(drawing: &'a mut Drawing, scheme: &Scheme, place: &str) -> &'a mut Group {
    let id = scheme.places.iter().find(|(_, it)| it.name == place).unwrap().0;
    let groups = drawing.sheets.iter_mut().flat_map(|sheet| &mut sheet.items);
    groups
        .into_iter()
        .find(|group| {
            group.role == Role::Place(id)
                && matches!(group.shapes.first(), Some(Shape::Line { .. }))
        })
        .unwrap()
}

#[test]
fn a_frame_round_the_parts_of_another_place() {
    seen(Rule::OwnFrame, |scheme, drawing| {
        let breaker = frame_of(drawing, scheme, "BREAKER").shapes[0].clone();
        frame_of(drawing, scheme, "KIOSK").shapes[0] = breaker;
    });
}

#[test]
fn a_name_in_the_frame_of_another_place() {
    seen(Rule::OwnFrame, |scheme, drawing| {
        let breaker = frame_of(drawing, scheme, "BREAKER").shapes[0].area();
        let kiosk = scheme.places.iter().find(|(_, it)| it.name == "KIOSK").unwrap().0;
        let groups = drawing.sheets.iter_mut().flat_map(|sheet| &mut sheet.items);
        for group in groups.filter(|group| group.role == Role::Place(kiosk)) {
            for shape in &mut group.shapes {
                if let Shape::Text(text) = shape {
                    text.at.x = breaker.left + 4.0;
                    text.at.y = (breaker.top + breaker.bottom) / 2.0;
                }
            }
        }
    });
}

#[test]
fn a_frame_on_another() {
    seen(Rule::FrameOnFrame, |scheme, drawing| {
        let breaker = frame_of(drawing, scheme, "BREAKER").shapes[0].area();
        if let Shape::Line { points, .. } = &mut frame_of(drawing, scheme, "KIOSK").shapes[0] {
            let lowest = points.iter().map(|at| at.y).fold(f64::MIN, f64::max);
            points.iter_mut().filter(|at| at.y == lowest).for_each(|at| at.y = breaker.top);
        }
    });
}
