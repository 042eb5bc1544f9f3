//! The verifier finds what was spoiled on purpose: one sheet, one fault at a time.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::geometry::{Role, Shape, Text};
use fiftytwo_sheet::{Drawing, Options, Rule, draw, verify};
use std::path::Path;

fn dunmarrow() -> (Scheme, Drawing) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/dunmarrow/scheme.kdl");
    let text = std::fs::read_to_string(path).unwrap();
    let scheme = fiftytwo_scheme::read_text("scheme.kdl", &text).scheme.unwrap();
    let drawing = draw(&scheme, &Options::default());
    assert!(verify(&drawing, &scheme).is_empty());
    (scheme, drawing)
}

/// Spoils a drawing and asks whether the rule is seen to be broken.
fn seen(rule: Rule, spoil: impl FnOnce(&Scheme, &mut Drawing)) {
    let (scheme, mut drawing) = dunmarrow();
    spoil(&scheme, &mut drawing);
    let faults = verify(&drawing, &scheme);
    assert!(faults.iter().any(|fault| fault.rule == rule), "{rule:?} was not seen: {faults:?}");
}

fn text<'a>(drawing: &'a mut Drawing, words: &str) -> &'a mut Text {
    drawing
        .sheets
        .iter_mut()
        .flat_map(|sheet| &mut sheet.items)
        .flat_map(|group| &mut group.shapes)
        .find_map(|shape| match shape {
            Shape::Text(text) if text.words == words => Some(text),
            _ => None,
        })
        .unwrap()
}

fn part(drawing: &Drawing, scheme: &Scheme, name: &str) -> (usize, usize) {
    let id = scheme.part_named(name).unwrap();
    let items = &drawing.sheets[0].items;
    let item = items.iter().position(|group| group.role == Role::Part(id)).unwrap();
    let body = drawing.sheets[0].boxes.iter().position(|body| body.part == id).unwrap();
    (item, body)
}

#[test]
fn a_part_left_out() {
    seen(Rule::DrawnOnce, |scheme, drawing| {
        let (item, body) = part(drawing, scheme, "25 permit");
        drawing.sheets[0].items.remove(item);
        drawing.sheets[0].boxes.remove(body);
    });
}

#[test]
fn a_part_drawn_twice() {
    seen(Rule::DrawnOnce, |scheme, drawing| {
        let (item, body) = part(drawing, scheme, "25 permit");
        let (item, body) = (drawing.sheets[0].items[item].clone(), drawing.sheets[0].boxes[body]);
        drawing.sheets[0].items.push(item);
        drawing.sheets[0].boxes.push(body);
    });
}

#[test]
fn a_label_on_another() {
    seen(Rule::TextOnText, |_, drawing| {
        let at = text(drawing, "Close coil").at;
        text(drawing, "Trip coil").at = at;
    });
}

#[test]
fn a_number_that_reads_as_one_with_a_name() {
    seen(Rule::NumberApart, |_, drawing| {
        let name = text(drawing, "permit");
        let (at, length) = (name.at, name.length());
        let number = text(drawing, "C1");
        number.anchor = fiftytwo_sheet::geometry::Anchor::Start;
        number.at = at;
        number.at.x += length + 0.8;
    });
}

#[test]
fn a_cloud_through_a_name() {
    seen(Rule::TextOnCloud, |scheme, drawing| {
        let changes = fiftytwo_sheet::Changes {
            altered: [scheme.part_named("25 permit").unwrap()].into(),
            mark: "A".to_owned(),
            ..fiftytwo_sheet::Changes::default()
        };
        fiftytwo_sheet::mark_changes(drawing, scheme, &changes);
        assert!(verify(drawing, scheme).is_empty(), "as drawn it is clear");
        let cloud = drawing.sheets[0].items.iter().find(|group| group.role == Role::Change);
        let Some(Shape::Curve { start, .. }) = cloud.unwrap().shapes.first().cloned() else {
            panic!("no cloud");
        };
        text(drawing, "permit").at = start;
    });
}

#[test]
fn a_number_on_its_wire() {
    seen(Rule::TextOnLine, |_, drawing| text(drawing, "C1").at.x -= 2.5);
}

#[test]
fn a_name_on_a_symbol() {
    seen(Rule::TextOnSymbol, |scheme, drawing| {
        let (_, body) = part(drawing, scheme, "25 permit");
        let area = drawing.sheets[0].boxes[body].area;
        let name = text(drawing, "permit");
        name.at.x = area.left;
        name.at.y = area.bottom;
    });
}

#[test]
fn a_label_outside_the_frame() {
    seen(Rule::InsideFrame, |_, drawing| text(drawing, "HOUSE").at.x = 5.0);
}

#[test]
fn letters_too_small() {
    seen(Rule::Readable, |_, drawing| text(drawing, "52Y").height = 2.4);
}

#[test]
fn a_leg_far_from_home() {
    seen(Rule::NearSource, |scheme, drawing| {
        // Seven more names before all others push every other leg far to the right.
        let first = scheme.legs.ids().next().unwrap();
        let items = &mut drawing.sheets[0].items;
        let name = items.iter().find(|group| group.role == Role::Leg(first)).unwrap().clone();
        items.extend(std::iter::repeat_n(name, 7));
    });
}

#[test]
fn a_wire_cut_short_or_moved() {
    seen(Rule::Joined, |scheme, drawing| {
        let node = scheme.parts[scheme.part_named("25 permit").unwrap()].at.unwrap().from;
        drawing.sheets[0].items.retain(|group| group.role != Role::Wire(node));
    });
    seen(Rule::OnGrid, |_, drawing| {
        let wire = drawing.sheets[0].items.iter_mut().find(|g| matches!(g.role, Role::Wire(_)));
        for shape in &mut wire.unwrap().shapes {
            if let Shape::Line { points, .. } = shape {
                points[0].y += 0.1;
            }
        }
    });
}

#[test]
fn a_tee_without_its_dot_and_a_dot_where_wires_cross() {
    seen(Rule::Junction, |_, drawing| {
        let items = &mut drawing.sheets[0].items;
        let dot = items.iter().position(|group| group.id.starts_with("dot-")).unwrap();
        items.remove(dot);
    });
    seen(Rule::Junction, |_, drawing| {
        let items = &mut drawing.sheets[0].items;
        // Where nothing branches: in the middle of a piece of wire.
        let ends = items
            .iter()
            .filter(|group| matches!(group.role, Role::Wire(_)))
            .find_map(|group| match group.shapes.first() {
                Some(Shape::Line { points, .. }) if (points[0].y - points[1].y).abs() > 8.0 => {
                    Some((points[0], points[1]))
                }
                _ => None,
            })
            .unwrap();
        let dot = items.iter_mut().find(|group| group.id.starts_with("dot-")).unwrap();
        if let Some(Shape::Circle { centre, .. }) = dot.shapes.first_mut() {
            (centre.x, centre.y) = (ends.0.x, (ends.0.y + ends.1.y) / 2.0);
        }
    });
}

#[test]
fn a_part_with_its_ends_exchanged_or_both_on_one_wire() {
    seen(Rule::Joined, |scheme, drawing| {
        let (_, body) = part(drawing, scheme, "25 permit");
        drawing.sheets[0].boxes[body].ends.reverse();
    });
    seen(Rule::Joined, |scheme, drawing| {
        let at = scheme.parts[scheme.part_named("25 permit").unwrap()].at.unwrap();
        for group in &mut drawing.sheets[0].items {
            if group.role == Role::Wire(at.to) {
                group.role = Role::Wire(at.from);
            }
        }
    });
}

#[test]
fn a_wire_cut_in_the_middle() {
    seen(Rule::OnePiece, |_, drawing| {
        let items = &mut drawing.sheets[0].items;
        // A level piece between two legs: the ends of all parts keep their stubs.
        let middle = items.iter().position(|group| {
            matches!(group.role, Role::Wire(_))
                && matches!(group.shapes.first(),
                    Some(Shape::Line { points, pen: fiftytwo_sheet::geometry::Pen::Wire, .. })
                        if (points[0].y - points[1].y).abs() < 1e-9
                            && (points[0].x - points[1].x).abs() > 20.0)
        });
        items.remove(middle.unwrap());
    });
}

#[test]
fn a_contact_in_the_wrong_state() {
    seen(Rule::DrawnState, |scheme, drawing| {
        let (_, body) = part(drawing, scheme, "52 b1");
        drawing.sheets[0].boxes[body].symbol = "contact-open";
    });
}

#[test]
fn a_name_on_the_ring_of_its_coil() {
    seen(Rule::TextOnCircle, |scheme, drawing| {
        let id = scheme.part_named("52Y").unwrap();
        let items = &mut drawing.sheets[0].items;
        let group = items.iter_mut().find(|group| group.role == Role::Part(id)).unwrap();
        let ring = group.shapes.iter().find_map(|shape| match shape {
            Shape::Circle { radius, .. } => Some(*radius),
            _ => None,
        });
        for shape in &mut group.shapes {
            if let Shape::Text(text) = shape {
                text.at.x += ring.unwrap();
                break;
            }
        }
    });
}

#[test]
fn a_symbol_on_the_band_of_another() {
    use fiftytwo_sheet::geometry::{Fill, Ink, Pen};
    seen(Rule::OnBand, |scheme, drawing| {
        let (item, body) = part(drawing, scheme, "25 permit");
        let area = drawing.sheets[0].boxes[body].area;
        let middle = (area.left + area.right) / 2.0;
        let mut band = drawing.sheets[0].items[item].clone();
        band.id = "current-sheet-1".to_owned();
        band.role = Role::Band;
        let at = |y: f64| fiftytwo_sheet::geometry::point(middle + 1.0, y);
        band.shapes = vec![Shape::Line {
            points: vec![at(area.top - 5.0), at(area.bottom + 5.0)],
            closed: false,
            pen: Pen::Band,
            ink: Ink::Band,
            fill: Fill::None,
            dash: fiftytwo_sheet::geometry::Dash::Solid,
        }];
        drawing.sheets[0].items.push(band);
    });
}

#[test]
fn a_wire_through_a_symbol_and_along_another_wire() {
    let through = |scheme: &Scheme, drawing: &mut Drawing| {
        let from = scheme.part_named("25 permit").unwrap();
        let body = drawing.sheets[0].boxes.iter().find(|body| body.part == from).unwrap();
        let (top, end) = (body.ends[0], body.ends[1]);
        let wire = drawing.sheets[0].items.iter().find(|g| matches!(g.role, Role::Wire(_)));
        let mut wire = wire.unwrap().clone();
        wire.id.push('x');
        let mut far = end;
        far.y += 4.0;
        wire.shapes = vec![Shape::line(&[top, far], fiftytwo_sheet::geometry::Pen::Wire)];
        drawing.sheets[0].items.push(wire);
    };
    seen(Rule::WireThroughSymbol, through);
    seen(Rule::WireOnWire, through);
}

#[test]
fn two_symbols_in_one_place_and_an_id_given_twice() {
    seen(Rule::SymbolOnSymbol, |_, drawing| {
        let area = drawing.sheets[0].boxes[0].area;
        drawing.sheets[0].boxes[1].area = area;
    });
    seen(Rule::UniqueId, |_, drawing| {
        let id = drawing.sheets[0].items[3].id.clone();
        drawing.sheets[0].items[4].id = id;
    });
}
