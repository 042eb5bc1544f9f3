//! Symbols from strokes. **In:** what a part is and whether its contact is closed as drawn.
//! **Out:** shapes about the origin, current flowing down, unit mm. **Never here:** where a
//! part stands, names beside it.
//!
//! Shapes follow IEEE 315 and IEC 60617 as generally known; they were drawn from memory of the
//! standards, not from a copy at hand: heater, thermal element, delayed contact, programmed
//! device's feed and jumper deserve a look into them.

mod iec;

use crate::geometry::{
    Anchor, Area, Dash, Fill, Ink, MODULE, Meaning, Pen, Point, Shape, Text, Weight, point,
};
use crate::style::Symbols;

const M: f64 = MODULE;

/// What is to be seen of a contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Contact {
    /// Closed as drawn.
    pub closed: bool,
    /// Follows its device after a chosen delay.
    pub delayed: bool,
    /// Moved by a hand: turned or pressed.
    pub hand: Option<Hand>,
    /// Stays where its device was last driven, without supply too.
    pub stays: bool,
    /// Where it stands now, if a state is shown.
    pub now: Option<bool>,
}

/// What a hand does to a contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// Turns a handle.
    Turns,
    /// Presses a button.
    Presses,
}

/// The colour of a lamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// Amber.
    Amber,
    /// Blue.
    Blue,
    /// Clear.
    Clear,
    /// Green.
    Green,
    /// Orange.
    Orange,
    /// Purple.
    Purple,
    /// Red.
    Red,
    /// White.
    White,
    /// Yellow.
    Yellow,
}

impl Colour {
    /// All of them, with their words.
    pub const ALL: [(&'static str, Self); 9] = [
        ("AMBER", Self::Amber),
        ("BLUE", Self::Blue),
        ("CLEAR", Self::Clear),
        ("GREEN", Self::Green),
        ("ORANGE", Self::Orange),
        ("PURPLE", Self::Purple),
        ("RED", Self::Red),
        ("WHITE", Self::White),
        ("YELLOW", Self::Yellow),
    ];
    /// Its letter as IEEE 315 has it (from memory).
    pub fn letter(self) -> &'static str {
        match self {
            Self::Amber => "A",
            Self::Blue => "B",
            Self::Clear => "C",
            Self::Green => "G",
            Self::Orange => "O",
            Self::Purple => "P",
            Self::Red => "R",
            Self::White => "W",
            Self::Yellow => "Y",
        }
    }
    /// Its code after IEC 60757 (from memory); none: the standard has none.
    pub fn code(self) -> Option<&'static str> {
        match self {
            Self::Blue => Some("BU"),
            Self::Green => Some("GN"),
            Self::Orange => Some("OG"),
            Self::Purple => Some("VT"),
            Self::Red => Some("RD"),
            Self::White => Some("WH"),
            Self::Yellow => Some("YE"),
            Self::Amber | Self::Clear => None,
        }
    }
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Figure {
    /// A contact.
    Contact(Contact),
    /// A coil.
    Coil {
        /// The name of its device if it fits inside.
        name: String,
        /// Its device stays where it was driven.
        stays: bool,
    },
    /// A lamp with its colour, if known.
    Lamp(Option<Colour>),
    /// A fuse.
    Fuse,
    /// A resistor.
    Resistor,
    /// A capacitor.
    Capacitor,
    /// A diode, conducting down.
    Diode,
    /// A varistor.
    Varistor,
    /// An opto input.
    Input,
    /// A motor.
    Motor,
    /// A heater.
    Heater,
    /// The thermal element of an overload.
    Element,
    /// The feed of a programmed device.
    Power,
    /// A test link, closed.
    Link,
    /// A terminal.
    Terminal,
    /// A core of a cable.
    Core,
    /// Joins two wires.
    Jumper,
}

impl Figure {
    /// Its name, for writers that keep symbols as blocks.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Contact(contact) => match (contact.closed, contact.delayed) {
                (false, false) => "contact-open",
                (true, false) => "contact-closed",
                (false, true) => "contact-open-delayed",
                (true, true) => "contact-closed-delayed",
            },
            Self::Coil { stays: false, .. } => "coil",
            Self::Coil { stays: true, .. } => "coil-latched",
            Self::Lamp(_) => "lamp",
            Self::Fuse => "fuse",
            Self::Resistor => "resistor",
            Self::Capacitor => "capacitor",
            Self::Diode => "diode",
            Self::Varistor => "varistor",
            Self::Input => "input",
            Self::Motor => "motor",
            Self::Heater => "heater",
            Self::Element => "thermal-element",
            Self::Power => "feed-of-device",
            Self::Link => "link",
            Self::Terminal => "terminal",
            Self::Core => "core",
            Self::Jumper => "jumper",
        }
    }
}

/// A figure's strokes, ends and body.
#[derive(Debug, Clone, PartialEq)]
pub struct Symbol {
    /// The strokes.
    pub shapes: Vec<Shape>,
    /// Where the wire from above stops: (0, -reach).
    pub reach: f64,
    /// The body that nothing else may touch.
    pub body: Area,
}

/// Half the distance between the terminals of a core, mm.
pub const CORE: f64 = 1.8 * M;
/// Where the edge of a place crosses a core, from its middle to the side of that place, mm.
pub const EDGE: f64 = 0.76 * M;
/// Radius of a terminal, mm.
pub const TERMINAL: f64 = 0.4 * M;
/// Radius of a junction dot, mm.
pub const DOT: f64 = 0.3 * M;

fn m(x: f64, y: f64) -> Point {
    point(x * M, y * M)
}

fn stroke(points: &[(f64, f64)]) -> Shape {
    let points: Vec<Point> = points.iter().map(|(x, y)| m(*x, *y)).collect();
    Shape::line(&points, Pen::Symbol)
}

fn ring(y: f64, radius: f64, fill: Fill) -> Shape {
    Shape::Circle { centre: m(0.0, y), radius: radius * M, pen: Pen::Symbol, ink: Ink::Main, fill }
}

fn letters(words: &str, weight: Weight) -> Shape {
    Shape::Text(Text {
        at: point(0.0, M / 2.0),
        anchor: Anchor::Middle,
        height: M,
        weight,
        ink: Ink::Main,
        words: words.to_owned(),
        turned: false,
        meaning: Meaning::Words,
    })
}

fn symbol(shapes: Vec<Shape>, reach: f64, half_width: f64) -> Symbol {
    let body = Area { left: -half_width, top: -reach, right: half_width, bottom: reach };
    let scale = |v: f64| v * M;
    Symbol {
        shapes,
        reach: scale(reach),
        body: Area {
            left: scale(body.left),
            top: scale(body.top),
            right: scale(body.right),
            bottom: scale(body.bottom),
        },
    }
}

fn box_of(half_width: f64, half_height: f64) -> Shape {
    Shape::rectangle(
        Area::between(m(-half_width, -half_height), m(half_width, half_height)),
        Pen::Symbol,
        Fill::Paper,
    )
}

/// Draws a figure with the symbols of a standard.
pub fn draw(figure: &Figure, symbols: Symbols) -> Symbol {
    let other = match symbols {
        Symbols::Ieee315 => None,
        Symbols::Iec60617 => iec::draw(figure),
    };
    other.unwrap_or_else(|| ieee(figure))
}

fn ieee(figure: &Figure) -> Symbol {
    match figure {
        Figure::Contact(drawn) => contact(*drawn),
        Figure::Coil { name, stays } => {
            let mut shapes = vec![ring(0.0, 1.8, Fill::Paper)];
            if !name.is_empty() {
                shapes.push(letters(name, Weight::Bold));
            }
            let coil = symbol(shapes, 1.8, 1.8);
            if *stays { coil.with_latch(-1.76) } else { coil }
        }
        Figure::Lamp(colour) => lamp(*colour),
        Figure::Fuse => {
            let shape = Shape::Curve {
                start: m(0.0, -1.6),
                bends: vec![
                    [m(1.16, -1.28), m(1.16, -0.32), m(0.0, 0.0)],
                    [m(-1.16, 0.32), m(-1.16, 1.28), m(0.0, 1.6)],
                ],
                pen: Pen::Symbol,
                ink: Ink::Main,
            };
            symbol(vec![shape], 1.6, 0.9)
        }
        Figure::Resistor => {
            let mut points = vec![(0.0, -1.6)];
            for step in 0..6 {
                let side = if step % 2 == 0 { 0.6 } else { -0.6 };
                points.push((side, -1.6 + 3.2 * (f64::from(step) + 0.5) / 6.0));
            }
            points.push((0.0, 1.6));
            symbol(vec![stroke(&points)], 1.6, 0.6)
        }
        Figure::Capacitor => symbol(
            vec![
                stroke(&[(-1.0, -0.3), (1.0, -0.3)]),
                Shape::Curve {
                    start: m(-1.0, 0.6),
                    bends: vec![[m(-0.5, 0.2), m(0.5, 0.2), m(1.0, 0.6)]],
                    pen: Pen::Symbol,
                    ink: Ink::Main,
                },
                Shape::line(&[m(0.0, 0.3), m(0.0, 0.6)], Pen::Wire),
            ],
            0.6,
            1.0,
        )
        .with_stub(-0.6, -0.3),
        Figure::Diode => symbol(diode(0.0), 0.8, 0.8),
        Figure::Varistor => symbol(
            vec![box_of(0.64, 1.6), stroke(&[(-1.2, 1.2), (-0.8, 1.2), (0.9, -1.0)])],
            1.6,
            1.2,
        ),
        Figure::Input => input(),
        Figure::Motor => {
            symbol(vec![ring(0.0, 1.6, Fill::Paper), letters("M", Weight::Bold)], 1.6, 1.6)
        }
        Figure::Heater => symbol(
            vec![stroke(&[
                (0.0, -1.6),
                (0.0, -1.2),
                (0.7, -1.2),
                (0.7, -0.6),
                (-0.7, -0.6),
                (-0.7, 0.0),
                (0.7, 0.0),
                (0.7, 0.6),
                (-0.7, 0.6),
                (-0.7, 1.2),
                (0.0, 1.2),
                (0.0, 1.6),
            ])],
            1.6,
            0.7,
        ),
        Figure::Element => symbol(
            vec![stroke(&[
                (0.0, -1.3),
                (0.0, -0.7),
                (0.9, -0.7),
                (0.9, 0.7),
                (0.0, 0.7),
                (0.0, 1.3),
            ])],
            1.3,
            0.9,
        ),
        Figure::Power => symbol(
            vec![
                box_of(1.6, 1.28),
                stroke(&[(-0.45, -0.62), (0.45, -0.62)]),
                stroke(&[(0.0, -1.07), (0.0, -0.17)]),
                stroke(&[(-0.45, 0.68), (0.45, 0.68)]),
            ],
            1.28,
            1.6,
        ),
        Figure::Link => symbol(
            vec![
                ring(-0.96, 0.4, Fill::Paper),
                ring(0.96, 0.4, Fill::Paper),
                stroke(&[(-0.4, -0.96), (-0.76, -0.96), (-0.76, 0.96), (-0.4, 0.96)]),
            ],
            1.36,
            0.8,
        ),
        Figure::Terminal => symbol(vec![ring(0.0, 0.4, Fill::Paper)], 0.4, 0.4),
        Figure::Core => symbol(
            vec![
                Shape::line(&[m(0.0, -1.4), m(0.0, 1.4)], Pen::Wire),
                ring(-1.8, 0.4, Fill::Paper),
                ring(1.8, 0.4, Fill::Paper),
            ],
            2.2,
            0.4,
        ),
        Figure::Jumper => symbol(
            vec![
                ring(-0.8, 0.25, Fill::Ink),
                ring(0.8, 0.25, Fill::Ink),
                Shape::Curve {
                    start: m(0.0, -0.8),
                    bends: vec![[m(0.9, -0.8), m(0.9, 0.8), m(0.0, 0.8)]],
                    pen: Pen::Symbol,
                    ink: Ink::Main,
                },
            ],
            1.05,
            0.8,
        ),
    }
}

/// Shows that a part acts: its body in the colour of what carries current, its outline heavier.
pub fn light(symbol: &mut Symbol) {
    for shape in &mut symbol.shapes {
        match shape {
            Shape::Circle { fill, pen, .. } | Shape::Line { fill, pen, closed: true, .. }
                if *fill == Fill::Paper =>
            {
                *fill = Fill::Band;
                *pen = Pen::Rail;
            }
            _ => {}
        }
    }
}

/// Shows that a link is open or a fuse blown: two strokes across it.
pub fn part_open(symbol: &mut Symbol) {
    for shift in [-0.35, 0.35] {
        symbol.shapes.push(Shape::line(&[m(-0.9, 0.5 + shift), m(0.9, -0.5 + shift)], Pen::Rail));
    }
}

impl Symbol {
    /// The mark of a device that stays where it was driven: a small box at the coil's left side, a
    /// step in it.
    fn with_latch(mut self, side: f64) -> Self {
        let (left, half) = (side - 1.0, 0.6);
        self.shapes.push(Shape::line(
            &[m(side, -half), m(left, -half), m(left, half), m(side, half)],
            Pen::Wire,
        ));
        let step = [(0.2, 0.3), (0.5, 0.3), (0.5, -0.3), (0.8, -0.3)];
        let step: Vec<Point> = step.iter().map(|(x, y)| m(left + x, *y)).collect();
        self.shapes.push(Shape::line(&step, Pen::Wire));
        self.body.left = left * M;
        self
    }
    fn with_stub(mut self, from: f64, to: f64) -> Self {
        self.shapes.push(Shape::line(&[m(0.0, from), m(0.0, to)], Pen::Wire));
        self
    }
}

/// IEEE 315, contact of a relay or switch: two bars; a slash across them: closed as drawn. Closed
/// now: the gap is filled. A delayed contact carries an arc below, open towards the bars.
fn contact(drawn: Contact) -> Symbol {
    let mut shapes = vec![stroke(&[(-1.0, -0.5), (1.0, -0.5)]), stroke(&[(-1.0, 0.5), (1.0, 0.5)])];
    if drawn.now == Some(true) {
        shapes.push(Shape::Line {
            points: vec![m(-0.48, -0.5), m(0.48, -0.5), m(0.48, 0.5), m(-0.48, 0.5)],
            closed: true,
            pen: Pen::None,
            ink: Ink::Main,
            fill: Fill::Ink,
            dash: Dash::Solid,
        });
    }
    if drawn.closed {
        let ends = [m(-0.84, 0.92), m(0.84, -0.92)];
        shapes.push(match drawn.now {
            None => Shape::line(&ends, Pen::Symbol),
            Some(_) => Shape::line(&ends, Pen::Thin),
        });
    }
    if drawn.delayed {
        shapes.push(Shape::line(&[m(-0.8, -0.5), m(-0.8, -1.0)], Pen::Thin));
        shapes.push(Shape::Curve {
            start: m(-1.25, -0.85),
            bends: vec![[m(-1.05, -1.15), m(-0.55, -1.15), m(-0.35, -0.85)]],
            pen: Pen::Thin,
            ink: Ink::Main,
        });
    }
    let mut symbol = symbol(shapes, 0.5, 1.0);
    symbol.body = symbol.body.grown(0.1);
    symbol
}

fn lamp(colour: Option<Colour>) -> Symbol {
    let mut shapes = vec![ring(0.0, 1.28, Fill::Paper)];
    let (near, far) =
        (1.4 * std::f64::consts::FRAC_1_SQRT_2, 1.9 * std::f64::consts::FRAC_1_SQRT_2);
    for (x, y) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
        shapes.push(stroke(&[(x * near, y * near), (x * far, y * far)]));
    }
    if let Some(colour) = colour {
        shapes.push(letters(colour.letter(), Weight::Bold));
    }
    symbol(shapes, 1.28, 1.36)
}

fn diode(shift: f64) -> Vec<Shape> {
    let at = |x: f64, y: f64| m(x + shift, y);
    vec![
        Shape::outline(&[at(-0.7, -0.6), at(0.7, -0.6), at(0.0, 0.55)], Pen::Symbol, Fill::Paper),
        Shape::line(&[at(-0.7, 0.6), at(0.7, 0.6)], Pen::Symbol),
        Shape::line(&[at(0.0, -0.8), at(0.0, -0.6)], Pen::Wire),
        Shape::line(&[at(0.0, 0.6), at(0.0, 0.8)], Pen::Wire),
    ]
}

/// An opto input: a light-emitting diode in a box, two arrows of light.
fn input() -> Symbol {
    let mut shapes = vec![box_of(1.6, 1.28)];
    shapes.push(Shape::line(&[m(0.0, -1.28), m(0.0, 1.28)], Pen::Wire));
    shapes.push(Shape::Line {
        points: vec![m(-0.58, -0.52), m(0.58, -0.52), m(0.0, 0.44)],
        closed: true,
        pen: Pen::Wire,
        ink: Ink::Main,
        fill: Fill::Ink,
        dash: Dash::Solid,
    });
    shapes.push(stroke(&[(-0.6, 0.5), (0.6, 0.5)]));
    for y in [-0.05, 0.5] {
        shapes.push(Shape::line(&[m(0.66, y), m(1.16, y - 0.36)], Pen::Thin));
        shapes.push(Shape::Line {
            points: vec![m(1.34, y - 0.49), m(0.96, y - 0.41), m(1.14, y - 0.16)],
            closed: true,
            pen: Pen::None,
            ink: Ink::Main,
            fill: Fill::Ink,
            dash: Dash::Solid,
        });
    }
    symbol(shapes, 1.28, 1.6)
}
