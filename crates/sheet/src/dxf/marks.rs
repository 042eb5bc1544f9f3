//! Shapes as DXF entities. **In:** shapes, y up already. **Out:** LINE, LWPOLYLINE, SPLINE,
//! CIRCLE, HATCH, TEXT. **Never here:** where a sheet lies, blocks.

use super::blocks::Attribute;
use super::layers::Layer;
use super::tags::{Handle, Tags};
use crate::geometry::{Anchor, Dash, Fill, Ink, Pen, Point, Shape, Text, Weight, point};

/// Turns millimetres of a sheet, y down, into those of the file, y up.
#[derive(Debug, Clone, Copy)]
pub struct Frame {
    /// What becomes the origin, on the sheet.
    pub origin: Point,
}

impl Frame {
    /// A point of the file.
    pub fn put(&self, at: Point) -> Point {
        point(at.x - self.origin.x, self.origin.y - at.y)
    }
}

/// Writes marks that belong to one owner.
pub struct Marks<'a> {
    /// Where to.
    pub tags: &'a mut Tags,
    /// The last handle given.
    pub last: &'a mut u32,
    /// The block they belong to.
    pub owner: Handle,
    /// Where they lie.
    pub frame: Frame,
}

impl Marks<'_> {
    /// A new handle.
    pub fn handle(&mut self) -> Handle {
        *self.last += 1;
        Handle(*self.last)
    }

    fn begin(&mut self, kind: &str, layer: Layer, pen: Pen, ink: Ink, dash: Dash) {
        let handle = self.handle();
        self.tags.object(kind, handle, self.owner);
        self.tags.word(100, "AcDbEntity");
        self.tags.word(8, layer.name());
        if let Some(line_type) = line_type(dash) {
            self.tags.word(6, line_type);
        }
        match ink {
            Ink::Main => {}
            // Grey on a dark screen and on a light one.
            Ink::Second => self.tags.whole(62, 8),
            ink => {
                let [red, green, blue] = ink.on_white().map(i32::from);
                self.tags.whole(420, red << 16 | green << 8 | blue);
            }
        }
        let own = layer == Layer::Zero || pen != layer.pen();
        if own && pen != Pen::None {
            self.tags.whole(370, line_width(pen));
        }
    }

    /// Writes one mark.
    pub fn shape(&mut self, shape: &Shape, layer: Layer) {
        match shape {
            Shape::Line { points, closed, pen, ink, fill, dash } => {
                if let Some(ink) = inside(*fill, *ink)
                    && points.len() > 2
                {
                    self.filled(
                        layer,
                        ink,
                        &points.iter().map(|at| (*at, 0.0)).collect::<Vec<_>>(),
                    );
                }
                match pen {
                    // Nothing is covered here: what makes two lines of one on paper is two lines.
                    _ if *ink == Ink::Paper => {}
                    Pen::None => {}
                    Pen::AtMinus => {
                        for side in double(points) {
                            self.line(&side, *closed, (layer, Pen::Wire, *ink, *dash));
                        }
                    }
                    pen => self.line(points, *closed, (layer, *pen, *ink, *dash)),
                }
            }
            Shape::Curve { start, bends, pen, ink } => self.curve(*start, bends, layer, *pen, *ink),
            Shape::Circle { centre, radius, pen, ink, fill } => {
                if let Some(ink) = inside(*fill, *ink) {
                    let left = point(centre.x - radius, centre.y);
                    let right = point(centre.x + radius, centre.y);
                    self.filled(layer, ink, &[(left, 1.0), (right, 1.0)]);
                }
                if *pen != Pen::None {
                    self.begin("CIRCLE", layer, *pen, *ink, Dash::Solid);
                    self.tags.word(100, "AcDbCircle");
                    self.tags.point(10, self.frame.put(*centre));
                    self.tags.real(40, *radius);
                }
            }
            Shape::Text(text) => {
                if text.words.trim().is_empty() {
                    return;
                }
                self.begin("TEXT", layer, Pen::None, text.ink, Dash::Solid);
                self.stem(text);
                self.letters(text, &text.words);
                self.tags.word(100, "AcDbText");
            }
        }
    }

    fn line(&mut self, points: &[Point], closed: bool, look: (Layer, Pen, Ink, Dash)) {
        let (layer, pen, ink, dash) = look;
        let is_wide = pen.width() > WIDEST;
        if let ([from, to], false) = (points, closed || is_wide) {
            self.begin("LINE", layer, pen, ink, dash);
            self.tags.word(100, "AcDbLine");
            self.tags.point(10, self.frame.put(*from));
            self.tags.point(11, self.frame.put(*to));
            return;
        }
        self.begin("LWPOLYLINE", layer, pen, ink, dash);
        self.tags.word(100, "AcDbPolyline");
        self.tags.whole(90, i32::try_from(points.len()).unwrap_or(0));
        // 128: dashes run on round corners.
        self.tags.whole(70, i32::from(closed) + 128);
        if is_wide {
            self.tags.real(43, pen.width());
        }
        for at in points {
            self.tags.flat(10, self.frame.put(*at));
        }
    }

    /// Cubic curves one after another are one spline with threefold inner knots.
    fn curve(&mut self, start: Point, bends: &[[Point; 3]], layer: Layer, pen: Pen, ink: Ink) {
        let points: Vec<Point> =
            std::iter::once(start).chain(bends.iter().flatten().copied()).collect();
        let count = i32::try_from(bends.len()).unwrap_or(0);
        let mut knots = vec![0.0];
        for knot in 0..=count {
            knots.extend([f64::from(knot); 3]);
        }
        knots.push(f64::from(count));
        self.begin("SPLINE", layer, pen, ink, Dash::Solid);
        self.tags.word(100, "AcDbSpline");
        // 8: flat.
        self.tags.whole(70, 8);
        self.tags.whole(71, 3);
        self.tags.whole(72, i32::try_from(knots.len()).unwrap_or(0));
        self.tags.whole(73, i32::try_from(points.len()).unwrap_or(0));
        self.tags.whole(74, 0);
        for knot in knots {
            self.tags.real(40, knot);
        }
        for at in points {
            self.tags.point(10, self.frame.put(at));
        }
    }

    /// An area in ink; beside each corner the bulge of the edge after it (1: half a circle).
    fn filled(&mut self, layer: Layer, ink: Ink, corners: &[(Point, f64)]) {
        self.begin("HATCH", layer, Pen::None, ink, Dash::Solid);
        self.tags.word(100, "AcDbHatch");
        self.tags.point(10, point(0.0, 0.0));
        self.tags.real(210, 0.0);
        self.tags.real(220, 0.0);
        self.tags.real(230, 1.0);
        self.tags.word(2, "SOLID");
        self.tags.whole(70, 1);
        self.tags.whole(71, 0);
        // One edge: an outer polyline.
        self.tags.whole(91, 1);
        self.tags.whole(92, 3);
        let round = corners.iter().any(|(_, bulge)| *bulge != 0.0);
        self.tags.whole(72, i32::from(round));
        self.tags.whole(73, 1);
        self.tags.whole(93, i32::try_from(corners.len()).unwrap_or(0));
        for (at, bulge) in corners {
            self.tags.flat(10, self.frame.put(*at));
            if round {
                self.tags.real(42, *bulge);
            }
        }
        self.tags.whole(97, 0);
        self.tags.whole(75, 0);
        self.tags.whole(76, 1);
        self.tags.whole(98, 0);
    }

    /// Width of the strokes, for programs that draw letters with a pen: ISO 3098 type B, a tenth of
    /// the height, bold a seventh.
    fn stem(&mut self, text: &Text) {
        let part = if text.weight == Weight::Bold { 7.0 } else { 10.0 };
        self.tags.whole(370, nearest(text.height / part));
    }

    /// What a line of lettering shares with an attribute: the words between two points, as wide as
    /// drawn whatever typeface is at hand ("fit").
    fn letters(&mut self, text: &Text, words: &str) {
        let length = text.length();
        let shift = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -length / 2.0,
            Anchor::End => -length,
        };
        // Some programs fit the ink, some the room that letters take: a letter's own air is left free.
        let air = (AIR * text.height).min(length / 8.0);
        let along = |by: f64| {
            if text.turned {
                point(text.at.x, text.at.y - by)
            } else {
                point(text.at.x + by, text.at.y)
            }
        };
        let (from, to) = (along(shift + air), along(shift + length - air));
        let (from, to) = (self.frame.put(from), self.frame.put(to));
        self.tags.word(100, "AcDbText");
        self.tags.point(10, from);
        self.tags.real(40, text.height);
        self.tags.words(1, words);
        if text.turned {
            self.tags.real(50, 90.0);
        }
        self.tags.real(41, NARROW);
        self.tags.word(7, style(text.weight));
        self.tags.whole(72, 5);
        self.tags.point(11, to);
    }

    /// An attribute of a symbol (ATTRIB), or its definition, without words (ATTDEF).
    pub fn attribute(&mut self, kind: &str, attribute: &Attribute) {
        let Attribute { tag, text, layer, hidden } = attribute;
        self.begin(kind, *layer, Pen::None, text.ink, Dash::Solid);
        self.stem(text);
        if kind == "ATTDEF" {
            self.letters(text, "");
            self.tags.word(100, "AcDbAttributeDefinition");
            self.tags.word(3, &tag.to_lowercase());
        } else {
            self.letters(text, &text.words);
            self.tags.word(100, "AcDbAttribute");
        }
        self.tags.word(2, tag);
        self.tags.whole(70, i32::from(*hidden));
        self.tags.whole(74, 0);
    }
}

/// The shipped typeface against the common sans-serif that stands in for it: for programs that
/// don't fit words between two points.
const NARROW: f64 = 0.83;

/// Air at each end of a word in parts of its height: the typeface's side bearing.
const AIR: f64 = 0.08;

/// The text style of a weight.
pub fn style(weight: Weight) -> &'static str {
    match weight {
        Weight::Plain => "PLAIN",
        Weight::Bold => "BOLD",
    }
}

/// The widest line of the format, mm; what is wider is a polyline with a width of its own.
const WIDEST: f64 = 2.11;

/// The two lines of a wire at minus: the edges of a broad one whose middle is taken out.
fn double(points: &[Point]) -> Vec<Vec<Point>> {
    let away = (Pen::AtMinus.width() + Pen::MinusGap.width()) / 4.0;
    let beside = |by: f64| -> Vec<Point> {
        let (Some(a), Some(b)) = (points.first(), points.last()) else { return Vec::new() };
        let length = (b.x - a.x).hypot(b.y - a.y).max(1e-9);
        let step = point((b.y - a.y) / length * by, -(b.x - a.x) / length * by);
        points.iter().map(|at| point(at.x + step.x, at.y + step.y)).collect()
    };
    vec![beside(away), beside(-away)]
}

/// With what a closed shape is filled; none where what lies below shows, and where paper covers it:
/// wires end at the symbols.
fn inside(fill: Fill, ink: Ink) -> Option<Ink> {
    match fill {
        Fill::None | Fill::Paper => None,
        Fill::Ink => Some(ink),
        Fill::Band => Some(Ink::Band),
    }
}

/// The line type of a dash; none for a line without gaps. Names that programs know without their
/// definition, as some look at the name only.
pub fn line_type(dash: Dash) -> Option<&'static str> {
    match dash {
        Dash::Solid => None,
        Dash::LongDashDot => Some("DASHDOT"),
        Dash::Dashes => Some("DASHED"),
        Dash::Between => Some("HIDDEN"),
        Dash::Dots => Some("DOT"),
    }
}

/// The width of a pen in hundredths of a millimetre.
pub fn line_width(pen: Pen) -> i32 {
    nearest(pen.width())
}

/// A width in hundredths of a millimetre, of those that the format knows the nearest.
fn nearest(width: f64) -> i32 {
    const KNOWN: [i32; 24] = [
        0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120, 140, 158,
        200, 211,
    ];
    let wanted = (width * 100.0).round() as i32;
    KNOWN.into_iter().min_by_key(|known| (known - wanted).abs()).unwrap_or(25)
}
