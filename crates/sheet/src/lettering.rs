//! Lettering with known widths. **In:** words, height, weight. **Out:** widths and outlines
//! from the one typeface that is shipped with the program (Barlow Semi Condensed, SIL Open Font
//! License; its capitals are exactly 0.7 em high, its plain stem about h/9, close to the pen of
//! ISO 3098). **Never here:** fonts of the machine, kerning, line breaking by guess.
//!
//! Widths are plain sums of advances, so that every writer and every viewer agrees on them.

use crate::geometry::Weight;
use std::sync::OnceLock;
use ttf_parser::{Face, GlyphId, OutlineBuilder};

static PLAIN: &[u8] = include_bytes!("../fonts/BarlowSemiCondensed-Regular.ttf");
static BOLD: &[u8] = include_bytes!("../fonts/BarlowSemiCondensed-SemiBold.ttf");

/// Height of a capital letter in parts of the em (the typeface's own figure).
pub const CAPITAL: f64 = 0.7;
/// Depth of descenders in parts of the capital height.
pub const DESCENT: f64 = 0.31;
/// Distance of base lines in parts of the capital height (ISO 3098 type B: 1.4 at least for
/// lettering without diacritics).
pub const LEADING: f64 = 1.48;
/// Width, in em, taken for a letter the typeface does not have.
const UNKNOWN: f64 = 0.62;

fn face(weight: Weight) -> Option<&'static Face<'static>> {
    static FACES: OnceLock<[Option<Face<'static>>; 2]> = OnceLock::new();
    let faces = FACES.get_or_init(|| [Face::parse(PLAIN, 0).ok(), Face::parse(BOLD, 0).ok()]);
    match weight {
        Weight::Plain => faces[0].as_ref(),
        Weight::Bold => faces[1].as_ref(),
    }
}

/// The typeface as a file.
pub fn file(weight: Weight) -> &'static [u8] {
    match weight {
        Weight::Plain => PLAIN,
        Weight::Bold => BOLD,
    }
}

/// What a document that carries the typeface says of it, in thousandths of an em.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Description {
    /// The rectangle round all letters: left, bottom, right, top.
    pub bounds: [f64; 4],
    /// Highest reach.
    pub ascent: f64,
    /// Deepest reach, negative.
    pub descent: f64,
    /// Width of what is drawn for a letter the typeface lacks.
    pub unknown: f64,
}

/// What a document that carries the typeface says of it.
pub fn description(weight: Weight) -> Option<Description> {
    let face = face(weight)?;
    let scale = 1000.0 / f64::from(face.units_per_em());
    let bounds = face.global_bounding_box();
    let unknown = face.glyph_hor_advance(GlyphId(0)).unwrap_or(0);
    Some(Description {
        bounds: [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max]
            .map(|value| f64::from(value) * scale),
        ascent: f64::from(face.ascender()) * scale,
        descent: f64::from(face.descender()) * scale,
        unknown: f64::from(unknown) * scale,
    })
}

/// The glyph of a letter; none if the typeface lacks it.
pub fn glyph(letter: char, weight: Weight) -> Option<u16> {
    face(weight)?.glyph_index(letter).map(|id| id.0)
}

/// Whether every letter of `words` can be drawn from the typeface.
pub fn is_known(words: &str, weight: Weight) -> bool {
    words.chars().all(|letter| glyph(letter, weight).is_some())
}

/// What is known of one letter, in em.
#[derive(Debug, Clone, Copy)]
struct Metrics {
    advance: f64,
    above: f64,
    below: f64,
}

fn measured(letter: char, weight: Weight) -> Metrics {
    let nothing = Metrics { advance: UNKNOWN, above: CAPITAL, below: 0.0 };
    let Some(face) = face(weight) else { return nothing };
    let Some(id) = face.glyph_index(letter) else { return nothing };
    let units = f64::from(face.units_per_em());
    let em = |value: i16| f64::from(value) / units;
    let bounds = face.glyph_bounding_box(id);
    Metrics {
        advance: face.glyph_hor_advance(id).map_or(UNKNOWN, |advance| f64::from(advance) / units),
        above: bounds.map_or(0.0, |bounds| em(bounds.y_max)),
        below: bounds.map_or(0.0, |bounds| -em(bounds.y_min)),
    }
}

/// Metrics of a letter; those of the common ones are kept.
fn metrics(letter: char, weight: Weight) -> Metrics {
    const KEPT: u32 = 0x180;
    static TABLES: OnceLock<[Vec<Metrics>; 2]> = OnceLock::new();
    let tables = TABLES.get_or_init(|| {
        [Weight::Plain, Weight::Bold].map(|weight| {
            (0..KEPT).map(|code| measured(char::from_u32(code).unwrap_or(' '), weight)).collect()
        })
    });
    let table = match weight {
        Weight::Plain => &tables[0],
        Weight::Bold => &tables[1],
    };
    table.get(letter as usize).copied().unwrap_or_else(|| measured(letter, weight))
}

/// Advance of a letter in em.
pub fn advance(letter: char, weight: Weight) -> f64 {
    metrics(letter, weight).advance
}

/// How far the letters of a line reach above and below the base line, mm, for capitals of
/// `height` mm: at least a capital's height above.
pub fn reach(words: &str, height: f64, weight: Weight) -> (f64, f64) {
    let mut above = CAPITAL;
    let mut below = 0.0_f64;
    for letter in words.chars() {
        let metrics = metrics(letter, weight);
        above = above.max(metrics.above);
        below = below.max(metrics.below);
    }
    // Rounded letters overshoot by a hundredth of an em: no reason to keep others away.
    let overshoot = 0.015;
    let above = if above < CAPITAL + 4.0 * overshoot { CAPITAL } else { above };
    let below = if below < overshoot { 0.0 } else { below };
    (above * height / CAPITAL, below * height / CAPITAL)
}

/// Width of a line, mm, for capitals of `height` mm.
pub fn width(words: &str, height: f64, weight: Weight) -> f64 {
    words.chars().map(|letter| advance(letter, weight)).sum::<f64>() * height / CAPITAL
}

/// The outline of a glyph as SVG path data in thousandths of an em, y downwards.
pub fn outline(id: u16, weight: Weight) -> String {
    let mut path = Path(String::new());
    if let Some(face) = face(weight) {
        face.outline_glyph(GlyphId(id), &mut path);
    }
    path.0
}

struct Path(String);

impl Path {
    fn add(&mut self, command: char, numbers: &[f32]) {
        self.0.push(command);
        for (index, pair) in numbers.chunks(2).enumerate() {
            if index > 0 {
                self.0.push(' ');
            }
            if let [x, y] = pair {
                self.0.push_str(&format!("{} {}", x.round() as i32, -y.round() as i32));
            }
        }
    }
}

impl OutlineBuilder for Path {
    fn move_to(&mut self, x: f32, y: f32) {
        self.add('M', &[x, y]);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.add('L', &[x, y]);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.add('Q', &[x1, y1, x, y]);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.add('C', &[x1, y1, x2, y2, x, y]);
    }
    fn close(&mut self) {
        self.0.push('Z');
    }
}

/// Breaks words into lines no wider than `room` mm, between words and after hyphens only; a
/// single word that is wider stays whole.
pub fn wrapped(words: &str, room: f64, height: f64, weight: Weight) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split(|letter: char| letter.is_whitespace() && letter != HELD) {
        if word.is_empty() {
            continue;
        }
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), height, weight) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A line that is too wide although no word breaks, cut between letters; a name that long is no reason to print
/// over its neighbour.
pub fn broken(line: &str, room: f64, height: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for letter in line.chars() {
        let Some(last) = pieces.last_mut() else { break };
        let wider = format!("{last}{letter}");
        if !last.is_empty() && width(&wider, height, Weight::Plain) > room {
            pieces.push(letter.to_string());
        } else {
            *last = wider;
        }
    }
    pieces
}

/// A space at which no line breaks.
const HELD: char = '\u{a0}';

/// One space between words, none at the ends: what a viewer would collapse anyway.
pub fn tidy(words: &str) -> String {
    words
        .split(|letter: char| letter.is_whitespace() && letter != HELD)
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_that_an_outside_font_library_sums() {
        // fontTools 4 (Python), sum of the advances in the same two files, 1000 units an em.
        let words = "motor overload C4-1/12 86 b1";
        let em = 1.0 * CAPITAL;
        assert!((width(words, em, Weight::Plain) - 11.005).abs() < 1e-9);
        assert!((width(words, em, Weight::Bold) - 11.382).abs() < 1e-9);
    }

    #[test]
    fn only_letters_that_reach_below_the_line_claim_room_there() {
        assert!(reach("52CS", 2.5, Weight::Bold).1 < 1e-9);
        assert!(reach("trip", 2.5, Weight::Plain).1 > 0.6);
    }

    #[test]
    fn a_single_long_word_stays_whole() {
        assert_eq!(wrapped("gas supervision", 5.0, 2.5, Weight::Plain), ["gas", "supervision"]);
    }
}
