//! What a sheet is: typed shapes in millimetres, y downwards, origin in the upper left corner
//! of the paper. **In:** nothing but numbers and words. **Out:** values that writers walk and
//! the verifier measures. **Never here:** SVG, the scheme's rules, any choice of place.

use crate::lettering;
use fiftytwo_scheme::{CircuitId, DeviceId, LegId, NodeId, PartId, PlaceId};

/// The module of the drawing, mm: the height of the smallest lettering and the unit in which
/// symbols are given.
pub const MODULE: f64 = 2.5;

/// A point, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// A point.
pub const fn point(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// An upright rectangle, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Area {
    /// The rectangle between two corners in any order.
    pub fn between(a: Point, b: Point) -> Self {
        Self { left: a.x.min(b.x), top: a.y.min(b.y), right: a.x.max(b.x), bottom: a.y.max(b.y) }
    }
    /// Grown on every side by `by` mm (shrunk if negative).
    #[must_use]
    pub fn grown(self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
    /// Moved.
    #[must_use]
    pub fn moved(self, x: f64, y: f64) -> Self {
        Self {
            left: self.left + x,
            top: self.top + y,
            right: self.right + x,
            bottom: self.bottom + y,
        }
    }
    /// The smallest rectangle round both.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }
    /// Whether the two share more than an edge.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
    /// Whether `other` lies inside, edges included.
    pub fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.right >= other.right
            && self.top <= other.top
            && self.bottom >= other.bottom
    }
    /// Width, mm.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }
    /// Height, mm.
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }
}

/// Line widths of ISO 128.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pen {
    /// No outline.
    None,
    /// 0.18 mm: rules of tables.
    Rule,
    /// 0.25 mm: frames of places, brackets, zones.
    Thin,
    /// 0.35 mm: wires.
    Wire,
    /// 0.5 mm: symbols.
    Symbol,
    /// 0.7 mm: rails, frame of the sheet.
    Rail,
    /// 1.0 mm: a wire at plus.
    AtPlus,
    /// 1.3 mm: a wire at minus, before [`Pen::MinusGap`] makes two lines of it.
    AtMinus,
    /// 0.55 mm: what is taken out of the middle of a wire at minus.
    MinusGap,
    /// 0.9 mm: a wire between plus and minus.
    Between,
    /// 0.5 mm: a wire that floats.
    Floating,
    /// 4.2 mm: the band behind what carries current.
    Band,
}

impl Pen {
    /// Width, mm.
    pub fn width(self) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Rule => 0.18,
            Self::Thin => 0.25,
            Self::Wire => 0.35,
            Self::Symbol => 0.5,
            Self::Rail => 0.7,
            Self::AtPlus => 1.0,
            Self::AtMinus => 1.3,
            Self::MinusGap => 0.55,
            Self::Between => 0.9,
            Self::Floating => 0.5,
            Self::Band => 4.2,
        }
    }
}

/// What a mark is made with. A plain sheet knows the first two only; the others show the state
/// of a wire, and never alone: each has its own line as well.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// The main ink.
    Main,
    /// For what is secondary: terminal numbers, ratings, cross-references.
    Second,
    /// The colour of the paper.
    Paper,
    /// A wire at plus.
    AtPlus,
    /// A wire at minus.
    AtMinus,
    /// A wire between.
    Between,
    /// A wire that floats.
    Floating,
    /// What carries current.
    Band,
}

impl Ink {
    /// Red, green, blue on white paper. Contrast to it (WCAG 2): at least 5.7 for all wires and
    /// words; the band is a ground, the ink on it stays above 14.
    pub fn on_white(self) -> [u8; 3] {
        match self {
            Self::Main => [0x11, 0x11, 0x11],
            Self::Second => [0x5a, 0x5a, 0x5a],
            Self::Paper => [0xff, 0xff, 0xff],
            Self::AtPlus => [0x9a, 0x3b, 0x00],
            Self::AtMinus => [0x1b, 0x4a, 0x94],
            Self::Between => [0x6a, 0x2c, 0x91],
            Self::Floating => [0x66, 0x66, 0x66],
            Self::Band => [0xff, 0xe2, 0x8a],
        }
    }
    /// The same on a dark screen.
    pub fn on_dark(self) -> [u8; 3] {
        match self {
            Self::Main => [0xe8, 0xea, 0xed],
            Self::Second => [0xa7, 0xae, 0xb5],
            Self::Paper => [0x12, 0x17, 0x1c],
            Self::AtPlus => [0xff, 0xb0, 0x70],
            Self::AtMinus => [0x8f, 0xbc, 0xff],
            Self::Between => [0xd3, 0xa6, 0xff],
            Self::Floating => [0x9a, 0xa2, 0xaa],
            Self::Band => [0x5a, 0x4a, 0x00],
        }
    }
}

/// What is inside a closed shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fill {
    /// Nothing: what lies below shows.
    None,
    /// The colour of the paper.
    Paper,
    /// The ink of the outline.
    Ink,
    /// The colour of what carries current.
    Band,
}

/// Line types of ISO 128.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dash {
    /// Continuous.
    Solid,
    /// Long dash and dot: the edge of a place.
    LongDashDot,
    /// Short dashes: what belongs together.
    Dashes,
    /// Dashes of a wire between plus and minus.
    Between,
    /// Round dots of a wire that floats.
    Dots,
}

impl Dash {
    /// Lengths of strokes and gaps in turn, mm; empty: continuous. Strokes of no length are dots
    /// with round ends.
    pub fn pattern(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::LongDashDot => &[7.0, 1.6, 0.6, 1.6],
            Self::Dashes => &[2.0, 1.0],
            Self::Between => &[2.2, 1.0],
            Self::Dots => &[0.0, 1.3],
        }
    }
}

/// Where a text is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Anchor {
    /// At its beginning.
    Start,
    /// In its middle.
    Middle,
    /// At its end.
    End,
}

/// The two weights of lettering.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Everything but names.
    Plain,
    /// Names of devices, rails, titles.
    Bold,
}

/// Where a cross-reference leads.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Number of the sheet, from 1.
    pub sheet: usize,
    /// The middle of what is referred to, mm.
    pub at: Point,
    /// The group it stands in.
    pub group: String,
}

/// What a text says, for writers that keep texts apart by meaning.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Meaning {
    /// Words.
    #[default]
    Words,
    /// The designation of a device.
    Device,
    /// The name of a contact or coil within its device.
    Contact,
    /// A terminal of a part.
    Terminal,
    /// A rating.
    Rating,
    /// Where something else stands: "2/D7".
    Reference(Link),
}

/// One line of lettering.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Its anchor on the base line.
    pub at: Point,
    /// Where it is held.
    pub anchor: Anchor,
    /// Height of a capital letter, mm.
    pub height: f64,
    /// Weight.
    pub weight: Weight,
    /// Ink.
    pub ink: Ink,
    /// The words; never two spaces in a row.
    pub words: String,
    /// Turned to read upwards.
    pub turned: bool,
    /// What it says.
    pub meaning: Meaning,
}

impl Text {
    /// Its width along the base line, mm.
    pub fn length(&self) -> f64 {
        lettering::width(&self.words, self.height, self.weight)
    }
    /// The rectangle it covers, descenders and accents of its own letters included.
    pub fn area(&self) -> Area {
        let length = self.length();
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => length / 2.0,
            Anchor::End => length,
        };
        let (above, below) = lettering::reach(&self.words, self.height, self.weight);
        let (x, y) = (self.at.x, self.at.y);
        if self.turned {
            Area { left: x - above, right: x + below, top: y + before - length, bottom: y + before }
        } else {
            Area { left: x - before, right: x - before + length, top: y - above, bottom: y + below }
        }
    }
}

/// One mark on the paper.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Straight strokes from point to point.
    Line {
        /// The points.
        points: Vec<Point>,
        /// Whether the last is joined to the first.
        closed: bool,
        /// Line width.
        pen: Pen,
        /// Ink.
        ink: Ink,
        /// Inside.
        fill: Fill,
        /// Line type.
        dash: Dash,
    },
    /// Cubic curves, one after another: two control points and the end of each.
    Curve {
        /// Where the first begins.
        start: Point,
        /// The curves.
        bends: Vec<[Point; 3]>,
        /// Line width.
        pen: Pen,
        /// Ink.
        ink: Ink,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
        /// Line width.
        pen: Pen,
        /// Ink.
        ink: Ink,
        /// Inside.
        fill: Fill,
    },
    /// Lettering.
    Text(Text),
}

impl Shape {
    /// An open line in the main ink.
    pub fn line(points: &[Point], pen: Pen) -> Self {
        Self::Line {
            points: points.to_vec(),
            closed: false,
            pen,
            ink: Ink::Main,
            fill: Fill::None,
            dash: Dash::Solid,
        }
    }
    /// A closed line in the main ink.
    pub fn outline(points: &[Point], pen: Pen, fill: Fill) -> Self {
        Self::Line {
            points: points.to_vec(),
            closed: true,
            pen,
            ink: Ink::Main,
            fill,
            dash: Dash::Solid,
        }
    }
    /// The outline of a rectangle.
    pub fn rectangle(area: Area, pen: Pen, fill: Fill) -> Self {
        Self::outline(
            &[
                point(area.left, area.top),
                point(area.right, area.top),
                point(area.right, area.bottom),
                point(area.left, area.bottom),
            ],
            pen,
            fill,
        )
    }
    /// A filled dot.
    pub fn dot(centre: Point, radius: f64) -> Self {
        Self::Circle { centre, radius, pen: Pen::None, ink: Ink::Main, fill: Fill::Ink }
    }
    /// Its mirror image, left and right exchanged.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let flip = |p: &mut Point| p.x = -p.x;
        let mut shape = self.clone();
        match &mut shape {
            Self::Line { points, .. } => points.iter_mut().for_each(flip),
            Self::Curve { start, bends, .. } => {
                flip(start);
                bends.iter_mut().flatten().for_each(flip);
            }
            Self::Circle { centre, .. } => flip(centre),
            Self::Text(text) => flip(&mut text.at),
        }
        shape
    }
    /// Moves and, before that, turns every point.
    #[must_use]
    pub fn placed(&self, turn: Turn, to: Point) -> Self {
        let put = |p: &Point| {
            let turned = turn.apply(*p);
            point(turned.x + to.x, turned.y + to.y)
        };
        let mut shape = self.clone();
        match &mut shape {
            Self::Line { points, .. } => points.iter_mut().for_each(|p| *p = put(p)),
            Self::Curve { start, bends, .. } => {
                *start = put(start);
                bends.iter_mut().flatten().for_each(|p| *p = put(p));
            }
            Self::Circle { centre, .. } => *centre = put(centre),
            // A letter in a symbol stays upright: its middle is turned, not its letters.
            Self::Text(text) => {
                let half = text.height / 2.0;
                let middle = put(&point(text.at.x, text.at.y - half));
                text.at = point(middle.x, middle.y + half);
            }
        }
        shape
    }
    /// The rectangle round all points (curves: round their control points).
    pub fn area(&self) -> Area {
        match self {
            Self::Line { points, .. } => around(points.iter().copied()),
            Self::Curve { start, bends, .. } => {
                around(std::iter::once(*start).chain(bends.iter().flatten().copied()))
            }
            Self::Circle { centre, radius, .. } => Area {
                left: centre.x - radius,
                top: centre.y - radius,
                right: centre.x + radius,
                bottom: centre.y + radius,
            },
            Self::Text(text) => text.area(),
        }
    }
}

fn around(points: impl Iterator<Item = Point>) -> Area {
    let nothing = Area {
        left: f64::INFINITY,
        top: f64::INFINITY,
        right: f64::NEG_INFINITY,
        bottom: f64::NEG_INFINITY,
    };
    points.fold(nothing, |area, p| area.with(Area::between(p, p)))
}

/// How a symbol, given with the current flowing down, stands on the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Current downwards.
    Down,
    /// Current upwards.
    Up,
    /// Current to the right.
    Right,
    /// Current to the left.
    Left,
}

impl Turn {
    /// Turns a point about the origin.
    pub fn apply(self, p: Point) -> Point {
        match self {
            Self::Down => p,
            Self::Up => point(-p.x, -p.y),
            Self::Right => point(p.y, -p.x),
            Self::Left => point(-p.y, p.x),
        }
    }
}

/// What a group of shapes stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// A part with its texts.
    Part(PartId),
    /// A piece of wire between two taps, or the number of a wire.
    Wire(NodeId),
    /// The name of a leg.
    Leg(LegId),
    /// The frame of a place.
    Place(PlaceId),
    /// Rails' names, supply, cables of a circuit.
    Circuit(CircuitId),
    /// The contacts of a device: a list under its coil, or a table.
    Contacts(DeviceId),
    /// Where wires go on: a flag with the wire number, sheet and zone.
    Flag(NodeId),
    /// Notes and cautions.
    Notes,
    /// The band behind what carries current.
    Band,
    /// What is drawn along wires to show their state, over the wires, under the symbols.
    State,
    /// What changed since an earlier revision: clouds and marks.
    Change,
    /// Frame, zones, title block, revisions.
    Furniture,
}

impl Role {
    /// What is drawn over what: lowest first. A terminal's circle covers the wire's end, so
    /// symbols come after wires.
    pub fn layer(self) -> u8 {
        match self {
            Self::Furniture | Self::Notes | Self::Place(_) => 0,
            Self::Band => 1,
            Self::Wire(_) => 2,
            Self::State => 3,
            Self::Part(_) => 4,
            Self::Leg(_) | Self::Circuit(_) | Self::Contacts(_) | Self::Flag(_) | Self::Change => 5,
        }
    }
}

/// The line of the scheme's text a group comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The name of the file, without folders.
    pub file: String,
    /// Line, from 1.
    pub line: u32,
}

/// Shapes that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Lasting name, unique in the drawing: "part-52-b1", "wire-C1.2".
    pub id: String,
    /// What it stands for.
    pub role: Role,
    /// The same in the designer's words, for a tool tip.
    pub title: String,
    /// Where it is written.
    pub source: Option<Source>,
    /// The marks, lowest first.
    pub shapes: Vec<Shape>,
}

/// The body of a placed part: what no wire may run through and no text may touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// The part.
    pub part: PartId,
    /// The name of its symbol: "contact-open".
    pub symbol: &'static str,
    /// The rectangle of its symbol.
    pub area: Area,
    /// Where its wires end, upstream first.
    pub ends: [Point; 2],
}

/// One sheet of paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its number, from 1.
    pub number: usize,
    /// What stands in its title block.
    pub title: String,
    /// Paper width, mm.
    pub width: f64,
    /// Paper height, mm.
    pub height: f64,
    /// Inside of the drawing frame.
    pub frame: Area,
    /// Everything drawn, lowest first.
    pub items: Vec<Group>,
    /// The bodies of the parts on it.
    pub boxes: Vec<Body>,
}

/// All sheets of a scheme.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// Title of the scheme.
    pub title: String,
    /// The sheets, in order.
    pub sheets: Vec<Sheet>,
    /// What the designer should know about the arrangement.
    pub notes: Vec<String>,
}
