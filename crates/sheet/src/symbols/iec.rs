//! Symbols of IEC 60617 where they differ from those of IEEE 315.

use super::{Colour, Contact, Figure, Hand, Symbol, box_of, letters, m, ring, stroke, symbol};
use crate::geometry::{Area, Dash, Fill, Ink, Pen, Shape, Weight, point};

/// The symbol; none: as in IEEE 315.
pub fn draw(figure: &Figure) -> Option<Symbol> {
    Some(match figure {
        Figure::Contact(drawn) => contact(*drawn),
        Figure::Coil { stays, .. } => {
            let coil = symbol(vec![box_of(2.0, 1.0)], 1.0, 2.0);
            if *stays { coil.with_latch(-2.0) } else { coil }
        }
        Figure::Lamp(colour) => {
            let reach = 1.28 * std::f64::consts::FRAC_1_SQRT_2;
            let mut shapes = vec![
                ring(0.0, 1.28, Fill::Paper),
                stroke(&[(-reach, -reach), (reach, reach)]),
                stroke(&[(-reach, reach), (reach, -reach)]),
            ];
            let mut lamp = symbol(Vec::new(), 1.28, 1.28);
            if let Some(code) = colour.and_then(Colour::code) {
                // The code of its colour stands at its left, clear of the ring; as far again for a
                // lying lamp, whose code stays upright below.
                let mut mark = letters(code, Weight::Plain);
                if let Shape::Text(text) = &mut mark {
                    let half = text.length() / 2.0;
                    let away = m(1.28, 0.0).x + Pen::Symbol.width() / 2.0 + 0.7 + half;
                    text.at = point(-away, text.at.y);
                    lamp.body.left = -away - half - 0.2;
                }
                shapes.push(mark);
            }
            lamp.shapes = shapes;
            lamp
        }
        Figure::Fuse => {
            symbol(vec![box_of(0.6, 1.6), stroke_thin(&[(0.0, -1.6), (0.0, 1.6)])], 1.6, 0.6)
        }
        Figure::Resistor => symbol(vec![box_of(0.64, 1.6)], 1.6, 0.64),
        Figure::Capacitor => symbol(
            vec![
                stroke(&[(-1.0, -0.3), (1.0, -0.3)]),
                stroke(&[(-1.0, 0.3), (1.0, 0.3)]),
                stroke_thin(&[(0.0, -0.6), (0.0, -0.3)]),
                stroke_thin(&[(0.0, 0.3), (0.0, 0.6)]),
            ],
            0.6,
            1.0,
        ),
        Figure::Heater => symbol(
            vec![
                box_of(0.64, 1.6),
                stroke(&[(-0.64, -0.8), (0.64, -0.8)]),
                stroke(&[(-0.64, 0.0), (0.64, 0.0)]),
                stroke(&[(-0.64, 0.8), (0.64, 0.8)]),
            ],
            1.6,
            0.64,
        ),
        Figure::Element => symbol(
            vec![
                box_of(1.2, 1.3),
                stroke(&[
                    (0.0, -1.3),
                    (0.0, -0.6),
                    (0.7, -0.6),
                    (0.7, 0.6),
                    (0.0, 0.6),
                    (0.0, 1.3),
                ]),
            ],
            1.3,
            1.2,
        ),
        _ => return None,
    })
}

fn stroke_thin(points: &[(f64, f64)]) -> Shape {
    let points: Vec<_> = points.iter().map(|(x, y)| m(*x, *y)).collect();
    Shape::line(&points, Pen::Wire)
}

/// The arm of a contact from its foot: leaning left it is open, onto the stub at the right closed.
fn arm(closed: bool) -> [(f64, f64); 2] {
    if closed { [(0.0, 1.0), (0.87, -1.0)] } else { [(0.0, 1.0), (-0.96, -0.88)] }
}

fn contact(drawn: Contact) -> Symbol {
    let mut shapes = Vec::new();
    if drawn.closed {
        shapes.push(stroke(&[(0.0, -1.0), (0.0, -0.75), (1.0, -0.75)]));
    }
    let points: Vec<_> = arm(drawn.closed).iter().map(|(x, y)| m(*x, *y)).collect();
    match drawn.now {
        None => shapes.push(Shape::line(&points, Pen::Symbol)),
        // The rest position stays as a ghost; the arm stands as it does now. A make contact
        // closes upright, onto the wire above; a break contact opens to the left of its stub.
        Some(now) => {
            if now != drawn.closed {
                shapes.push(Shape::Line {
                    points,
                    closed: false,
                    pen: Pen::Thin,
                    ink: Ink::Main,
                    fill: Fill::None,
                    dash: Dash::Dashes,
                });
            }
            let arm = match (drawn.closed, now) {
                (true, true) => [(0.0, 1.0), (0.87, -1.0)],
                (false, true) => [(0.0, 1.0), (0.0, -1.0)],
                (_, false) => [(0.0, 1.0), (-0.96, -0.88)],
            };
            let points: Vec<_> = arm.iter().map(|(x, y)| m(*x, *y)).collect();
            shapes.push(Shape::line(&points, Pen::Rail));
        }
    }
    if drawn.stays {
        // Does not come back by itself: a small circle at the fixed side.
        shapes.push(ring(-0.75, 0.25, Fill::Paper));
    }
    // Half-way up the arm.
    let middle = if drawn.closed { (0.44, 0.0) } else { (-0.48, 0.06) };
    let mut left: f64 = 1.0;
    if drawn.delayed {
        for shift in [-0.14, 0.14] {
            let end = (-1.5, middle.1 + shift);
            shapes.push(stroke_thin(&[(middle.0, middle.1 + shift), end]));
        }
        shapes.push(Shape::Curve {
            start: m(-1.3, middle.1 - 0.6),
            bends: vec![[
                m(-1.9, middle.1 - 0.35),
                m(-1.9, middle.1 + 0.35),
                m(-1.3, middle.1 + 0.6),
            ]],
            pen: Pen::Wire,
            ink: Ink::Main,
        });
        left = 1.9;
    }
    if let Some(hand) = drawn.hand {
        let end = -2.3;
        shapes.push(Shape::Line {
            points: vec![m(middle.0, middle.1), m(end, middle.1)],
            closed: false,
            pen: Pen::Thin,
            ink: Ink::Main,
            fill: Fill::None,
            dash: Dash::Dashes,
        });
        let (y, half) = (middle.1, 0.5);
        let head: &[(f64, f64)] = match hand {
            // A turned handle: a stroke with two ends bent apart; a button: ends bent together.
            Hand::Turns => &[(0.35, -1.0), (0.0, -1.0), (0.0, 1.0), (-0.35, 1.0)],
            Hand::Presses => &[(0.35, -1.0), (0.0, -1.0), (0.0, 1.0), (0.35, 1.0)],
        };
        let points: Vec<(f64, f64)> =
            head.iter().map(|(x, step)| (end + x, y + step * half)).collect();
        shapes.push(stroke_thin(&points));
        left = 2.7;
    }
    let mut symbol = symbol(shapes, 1.0, 1.0);
    symbol.body = Area::between(m(-left, -1.0), m(1.0, 1.0));
    symbol
}
