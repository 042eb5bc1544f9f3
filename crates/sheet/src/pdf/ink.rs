//! The marks of one page. **In:** shapes in millimetres, y down. **Out:** the operators of a PDF
//! content stream. **Never here:** pages, fonts as files.

use super::POINTS;
use super::letters::Letters;
use crate::geometry::{Anchor, Dash, Fill, Ink, Pen, Point, Shape, Text, point};
use crate::lettering::{self, CAPITAL};
use pdf_writer::types::LineCapStyle;
use pdf_writer::{Content, Finish, Name, Str, TextStr};

/// Part of the radius at which the control points of a quarter circle lie: 4/3 (sqrt 2 - 1).
const QUARTER: f64 = 0.552_284_749_830_793_4;

/// What was set last, so that it is not set again.
#[derive(Default)]
struct Standing {
    stroke: Option<Ink>,
    fill: Option<Ink>,
    pen: Option<Pen>,
    dash: Option<Dash>,
}

/// Lays marks down.
pub struct Strokes {
    content: Content,
    standing: Standing,
}

impl Strokes {
    /// For a sheet of that height, mm.
    pub fn new(height: f64) -> Self {
        let mut content = Content::new();
        let scale = POINTS as f32;
        content.transform([scale, 0.0, 0.0, -scale, 0.0, (height * POINTS) as f32]);
        Self { content, standing: Standing::default() }
    }

    /// The content stream.
    pub fn finish(self) -> Vec<u8> {
        self.content.finish().into_vec()
    }

    /// Lays one mark down.
    pub fn shape(&mut self, shape: &Shape, letters: &mut Letters) {
        match shape {
            Shape::Line { points, closed, pen, ink, fill, dash } => {
                let Some((first, rest)) = points.split_first() else { return };
                self.pen(*pen, *ink, *dash);
                self.inside(*fill, *ink);
                self.move_to(*first);
                for at in rest {
                    self.content.line_to(mm(at.x), mm(at.y));
                }
                if *closed {
                    self.content.close_path();
                }
                self.paint(*pen, *fill);
            }
            Shape::Curve { start, bends, pen, ink } => {
                self.pen(*pen, *ink, Dash::Solid);
                self.move_to(*start);
                for bend in bends {
                    self.bend(*bend);
                }
                self.paint(*pen, Fill::None);
            }
            Shape::Circle { centre, radius, pen, ink, fill } => {
                self.pen(*pen, *ink, Dash::Solid);
                self.inside(*fill, *ink);
                self.circle(*centre, *radius);
                self.paint(*pen, *fill);
            }
            Shape::Text(text) => self.text(text, letters),
        }
    }

    fn move_to(&mut self, at: Point) {
        self.content.move_to(mm(at.x), mm(at.y));
    }

    fn bend(&mut self, [a, b, end]: [Point; 3]) {
        self.content.cubic_to(mm(a.x), mm(a.y), mm(b.x), mm(b.y), mm(end.x), mm(end.y));
    }

    fn circle(&mut self, centre: Point, radius: f64) {
        let at = |x: f64, y: f64| point(centre.x + x * radius, centre.y + y * radius);
        let q = QUARTER;
        self.move_to(at(1.0, 0.0));
        for bend in [
            [at(1.0, q), at(q, 1.0), at(0.0, 1.0)],
            [at(-q, 1.0), at(-1.0, q), at(-1.0, 0.0)],
            [at(-1.0, -q), at(-q, -1.0), at(0.0, -1.0)],
            [at(q, -1.0), at(1.0, -q), at(1.0, 0.0)],
        ] {
            self.bend(bend);
        }
        self.content.close_path();
    }

    fn pen(&mut self, pen: Pen, ink: Ink, dash: Dash) {
        if pen == Pen::None {
            return;
        }
        if self.standing.stroke.replace(ink) != Some(ink) {
            match colour(ink) {
                Colour::Grey(grey) => self.content.set_stroke_gray(grey),
                Colour::Rgb([red, green, blue]) => self.content.set_stroke_rgb(red, green, blue),
            };
        }
        let new_pen = self.standing.pen.replace(pen) != Some(pen);
        let new_dash = self.standing.dash.replace(dash) != Some(dash);
        if new_pen {
            self.content.set_line_width(pen.width() as f32);
        }
        if new_pen || new_dash {
            // The same ends as in the SVG: pieces that meet at a corner are drawn longer already.
            self.content.set_line_cap(match (pen, dash) {
                (Pen::Floating, _) => LineCapStyle::RoundCap,
                (Pen::Wire, Dash::Solid) => LineCapStyle::ProjectingSquareCap,
                _ => LineCapStyle::ButtCap,
            });
        }
        if new_dash {
            self.content.set_dash_pattern(dash.pattern().iter().map(|length| *length as f32), 0.0);
        }
    }

    fn inside(&mut self, fill: Fill, ink: Ink) {
        match fill {
            Fill::None => {}
            Fill::Paper => self.fill(Ink::Paper),
            Fill::Ink => self.fill(ink),
            Fill::Band => self.fill(Ink::Band),
        }
    }

    fn fill(&mut self, ink: Ink) {
        if self.standing.fill.replace(ink) != Some(ink) {
            match colour(ink) {
                Colour::Grey(grey) => self.content.set_fill_gray(grey),
                Colour::Rgb([red, green, blue]) => self.content.set_fill_rgb(red, green, blue),
            };
        }
    }

    fn paint(&mut self, pen: Pen, fill: Fill) {
        match (pen == Pen::None, fill == Fill::None) {
            (true, true) => self.content.end_path(),
            (true, false) => self.content.fill_nonzero(),
            (false, true) => self.content.stroke(),
            (false, false) => self.content.fill_nonzero_and_stroke(),
        };
    }

    fn text(&mut self, text: &Text, letters: &mut Letters) {
        if text.words.trim().is_empty() {
            return;
        }
        self.fill(text.ink);
        let length = text.length();
        let shift = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -length / 2.0,
            Anchor::End => -length,
        };
        // The page is y down, letters are y up.
        let (x, y) = (text.at.x, text.at.y);
        let matrix = if text.turned {
            [0.0, -1.0, -1.0, 0.0, mm(x), mm(y - shift)]
        } else {
            [1.0, 0.0, 0.0, -1.0, mm(x + shift), mm(y)]
        };
        let known = lettering::is_known(&text.words, text.weight);
        if !known {
            // Boxes on paper, but the words for whoever searches or copies.
            self.content
                .begin_marked_content_with_properties(Name(b"Span"))
                .properties()
                .actual_text(TextStr(&text.words));
        }
        self.content.begin_text();
        self.content.set_font(Name(letters.name(text.weight)), mm(text.height / CAPITAL));
        self.content.set_text_matrix(matrix);
        if known {
            let bytes = letters.encoded(&text.words, text.weight);
            self.content.show(Str(&bytes));
        } else {
            let mut show = self.content.show_positioned();
            let mut items = show.items();
            for letter in text.words.chars() {
                let bytes = letters.encoded(letter.encode_utf8(&mut [0; 4]), text.weight);
                items.show(Str(&bytes));
                let surplus = letters.surplus(letter, text.weight);
                if surplus.abs() > 0.01 {
                    items.adjust(surplus);
                }
            }
            items.finish();
            show.finish();
        }
        self.content.end_text();
        if !known {
            self.content.end_marked_content();
        }
    }
}

/// Thousandths of a millimetre.
fn mm(value: f64) -> f32 {
    ((value * 1000.0).round() / 1000.0) as f32
}

enum Colour {
    Grey(f32),
    Rgb([f32; 3]),
}

/// As on white paper, but black where a screen has nearly black: a plain sheet needs one ink.
fn colour(ink: Ink) -> Colour {
    match ink {
        Ink::Main => Colour::Grey(0.0),
        Ink::Paper => Colour::Grey(1.0),
        ink => {
            let parts @ [red, green, blue] = ink.on_white().map(|part| f32::from(part) / 255.0);
            if red == green && green == blue { Colour::Grey(red) } else { Colour::Rgb(parts) }
        }
    }
}
