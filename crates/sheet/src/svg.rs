//! Sheets as SVG. **In:** geometry. **Out:** text, the same bytes each time. **Never here:**
//! any decision about place or words.
//!
//! Letters are drawn from the outlines of the shipped typeface, because many viewers and
//! converters ignore a typeface embedded in an SVG and would put another, wider one into the
//! drawing. The words themselves lie over them as transparent text of exactly the same length:
//! they can be searched, selected, copied and read aloud.

use crate::geometry::{
    Anchor, Dash, Drawing, Fill, Group, Ink, Meaning, Pen, Point, Role, Shape, Sheet, Text, Weight,
};
use crate::layers::layered;
use crate::lettering::{self, CAPITAL};
use std::collections::BTreeSet;
use std::fmt::Write;

/// Distance of sheets in the drawing of the whole scheme, mm.
const BETWEEN_SHEETS: f64 = 12.0;

/// One sheet as a document of its own, at its size in millimetres.
pub fn sheet(sheet: &Sheet, look: Look) -> String {
    let mut glyphs = BTreeSet::new();
    let mut body = String::new();
    paper(&mut body, sheet.width, sheet.height);
    sheet_items(&mut body, sheet, Some(sheet.number), &mut glyphs);
    let title = format!("Sheet {}: {}", sheet.number, sheet.title);
    document(&title, (sheet.width, sheet.height), (&glyphs, look), &body)
}

/// All sheets of a drawing, one below the other.
pub fn whole(drawing: &Drawing, look: Look) -> String {
    let mut glyphs = BTreeSet::new();
    let mut body = String::new();
    let width = drawing.sheets.iter().map(|sheet| sheet.width).fold(0.0, f64::max);
    let mut top = 0.0;
    for (index, sheet) in drawing.sheets.iter().enumerate() {
        if index > 0 {
            top += BETWEEN_SHEETS;
        }
        let _ = writeln!(
            body,
            "<g id=\"sheet-{}\" transform=\"translate(0 {})\">",
            sheet.number,
            number(top)
        );
        paper(&mut body, sheet.width, sheet.height);
        sheet_items(&mut body, sheet, None, &mut glyphs);
        body.push_str("</g>\n");
        top += sheet.height;
    }
    document(&drawing.title, (width, top), (&glyphs, look), &body)
}

type Glyphs = BTreeSet<(Weight, u16)>;

fn document(
    title: &str,
    (width, height): (f64, f64),
    (glyphs, look): (&Glyphs, Look),
    body: &str,
) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let (width, height) = (number(width), number(height));
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" role=\"graphics-document document\">"
    );
    let _ = writeln!(out, "<title>{}</title>", escaped(title));
    out.push_str("<style>\n");
    out.push_str(&style(look));
    out.push_str("</style>\n<defs>\n");
    for (weight, glyph) in glyphs {
        let _ = writeln!(
            out,
            "<path id=\"{}\" d=\"{}\"/>",
            glyph_id(*weight, *glyph),
            lettering::outline(*glyph, *weight)
        );
    }
    out.push_str("</defs>\n");
    out.push_str(body);
    out.push_str("</svg>\n");
    out
}

/// How the colours of a document are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Look {
    /// Black on white; on a screen that asks for it light on dark; in print always black.
    #[default]
    Follow,
    /// Black on white.
    Light,
    /// Light on dark.
    Dark,
}

/// Only classes: a rule for all paths would reach the letters through `use` in some viewers and
/// not in others.
fn style(look: Look) -> String {
    let mut out = String::new();
    for pen in PENS {
        let _ = writeln!(
            out,
            ".{}{{fill:none;stroke-width:{};stroke-linejoin:miter;stroke-linecap:{}}}",
            pen_class(pen),
            number(pen.width()),
            match pen {
                Pen::Wire => "square",
                Pen::Floating => "round",
                _ => "butt",
            }
        );
    }
    for dash in [Dash::LongDashDot, Dash::Dashes, Dash::Between, Dash::Dots] {
        let pattern: Vec<String> = dash.pattern().iter().map(|length| number(*length)).collect();
        let _ = writeln!(out, ".{}{{stroke-dasharray:{}}}", dash_class(dash), pattern.join(" "));
    }
    out.push_str(
        "text{fill-opacity:0;font-family:\"Barlow Semi Condensed\",\"Arial Narrow\",sans-serif;\
         font-kerning:none;white-space:pre}\n",
    );
    out.push_str(&colours(if look == Look::Dark { Ink::on_dark } else { Ink::on_white }));
    if look == Look::Follow {
        let dark = colours(Ink::on_dark);
        let _ = writeln!(out, "@media screen and (prefers-color-scheme:dark){{\n{dark}}}");
    }
    out
}

const PENS: [Pen; 12] = [
    Pen::None,
    Pen::Rule,
    Pen::Thin,
    Pen::Wire,
    Pen::Symbol,
    Pen::Rail,
    Pen::AtPlus,
    Pen::AtMinus,
    Pen::MinusGap,
    Pen::Between,
    Pen::Floating,
    Pen::Band,
];
const INKS: [Ink; 8] = [
    Ink::Main,
    Ink::Second,
    Ink::Paper,
    Ink::AtPlus,
    Ink::AtMinus,
    Ink::Between,
    Ink::Floating,
    Ink::Band,
];

/// Strokes, fills and letters of every ink. Fills come last: they stand beside a stroke's class.
fn colours(of: fn(Ink) -> [u8; 3]) -> String {
    let mut out = String::new();
    let hex = |ink: Ink| {
        let [red, green, blue] = of(ink);
        format!("#{red:02x}{green:02x}{blue:02x}")
    };
    let _ = writeln!(out, ".paper{{fill:{}}}", hex(Ink::Paper));
    for ink in INKS {
        let class = ink_class(ink);
        let _ = writeln!(out, ".s{class}{{stroke:{0}}}.t{class},.f{class}{{fill:{0}}}", hex(ink));
    }
    out
}

fn pen_class(pen: Pen) -> &'static str {
    match pen {
        Pen::None => "p0",
        Pen::Rule => "p1",
        Pen::Thin => "p2",
        Pen::Wire => "p3",
        Pen::Symbol => "p4",
        Pen::Rail => "p5",
        Pen::AtPlus => "p6",
        Pen::AtMinus => "p7",
        Pen::MinusGap => "p8",
        Pen::Between => "p9",
        Pen::Floating => "p10",
        Pen::Band => "p11",
    }
}

fn ink_class(ink: Ink) -> char {
    match ink {
        Ink::Main => 'm',
        Ink::Second => 's',
        Ink::Paper => 'p',
        Ink::AtPlus => 'a',
        Ink::AtMinus => 'b',
        Ink::Between => 'c',
        Ink::Floating => 'd',
        Ink::Band => 'e',
    }
}

fn dash_class(dash: Dash) -> &'static str {
    match dash {
        Dash::Solid => "",
        Dash::LongDashDot => "l",
        Dash::Dashes => "d",
        Dash::Between => "b",
        Dash::Dots => "o",
    }
}

fn glyph_id(weight: Weight, glyph: u16) -> String {
    let letter = match weight {
        Weight::Plain => 'a',
        Weight::Bold => 'b',
    };
    format!("{letter}{glyph}")
}

fn paper(out: &mut String, width: f64, height: f64) {
    let (width, height) = (number(width), number(height));
    let _ = writeln!(out, "<rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>");
}

/// `only`: the one sheet that the document holds, if it holds one; links to others lead nowhere.
fn sheet_items(out: &mut String, sheet: &Sheet, only: Option<usize>, glyphs: &mut Glyphs) {
    for item in layered(sheet) {
        group(out, item, only, glyphs);
    }
}

fn group(out: &mut String, group: &Group, only: Option<usize>, glyphs: &mut Glyphs) {
    let class = match group.role {
        Role::Part(_) => "part",
        Role::Wire(_) => "wire",
        Role::Leg(_) => "leg",
        Role::Place(_) => "place",
        Role::Circuit(_) => "circuit",
        Role::Contacts(_) => "contacts",
        Role::Flag(_) => "flag",
        Role::Notes => "notes",
        Role::Band => "band",
        Role::State => "state",
        Role::Change => "change",
        Role::Furniture => "sheet",
    };
    let _ = write!(out, "<g id=\"{}\" class=\"{class}\"", escaped(&group.id));
    if let Some(source) = &group.source {
        let _ =
            write!(out, " data-file=\"{}\" data-line=\"{}\"", escaped(&source.file), source.line);
    }
    let _ = write!(out, "><title>{}</title>", escaped(&group.title));
    for item in &group.shapes {
        let target = target(item, only);
        if let Some(target) = target {
            let _ = write!(out, "<a href=\"#{}\">", escaped(target));
        }
        shape(out, item, glyphs);
        if target.is_some() {
            out.push_str("</a>");
        }
    }
    out.push_str("</g>\n");
}

/// The group that a text leads to, if the document holds it.
fn target(shape: &Shape, only: Option<usize>) -> Option<&str> {
    let Shape::Text(Text { meaning: Meaning::Reference(link), .. }) = shape else { return None };
    only.is_none_or(|sheet| sheet == link.sheet).then_some(link.group.as_str())
}

fn classes(pen: Pen, ink: Ink, fill: Fill, dash: Dash) -> String {
    let mut classes = String::from(pen_class(pen));
    if pen != Pen::None {
        classes.push_str(" s");
        classes.push(ink_class(ink));
    }
    let inside = match fill {
        Fill::None => None,
        Fill::Paper => Some(Ink::Paper),
        Fill::Ink => Some(ink),
        Fill::Band => Some(Ink::Band),
    };
    if let Some(inside) = inside {
        classes.push_str(" f");
        classes.push(ink_class(inside));
    }
    if dash != Dash::Solid {
        classes.push(' ');
        classes.push_str(dash_class(dash));
    }
    classes
}

fn shape(out: &mut String, shape: &Shape, glyphs: &mut Glyphs) {
    match shape {
        Shape::Line { points, closed, pen, ink, fill, dash } => {
            let tag = if *closed { "polygon" } else { "polyline" };
            let classes = classes(*pen, *ink, *fill, *dash);
            let _ = write!(out, "<{tag} class=\"{classes}\" points=\"");
            for (index, at) in points.iter().enumerate() {
                if index > 0 {
                    out.push(' ');
                }
                out.push_str(&pair(*at));
            }
            out.push_str("\"/>");
        }
        Shape::Curve { start, bends, pen, ink } => {
            let classes = classes(*pen, *ink, Fill::None, Dash::Solid);
            let _ = write!(out, "<path class=\"{classes}\" d=\"M{}", pair(*start));
            for [a, b, end] in bends {
                let _ = write!(out, "C{} {} {}", pair(*a), pair(*b), pair(*end));
            }
            out.push_str("\"/>");
        }
        Shape::Circle { centre, radius, pen, ink, fill } => {
            let classes = classes(*pen, *ink, *fill, Dash::Solid);
            let (x, y) = (number(centre.x), number(centre.y));
            let _ = write!(
                out,
                "<circle class=\"{classes}\" cx=\"{x}\" cy=\"{y}\" r=\"{}\"/>",
                number(*radius)
            );
        }
        Shape::Text(words) => lettered(out, words, glyphs),
    }
}

/// Outlines of the letters, and over them the same words as transparent text.
fn lettered(out: &mut String, text: &Text, glyphs: &mut Glyphs) {
    let length = text.length();
    let shift = match text.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -length / 2.0,
        Anchor::End => -length,
    };
    let em = text.height / CAPITAL;
    let class = format!("t{}", ink_class(text.ink));
    let turn = if text.turned { " rotate(-90)" } else { "" };
    let (x, y) = (number(text.at.x), number(text.at.y));
    let known = lettering::is_known(&text.words, text.weight);
    let shown = if known { "" } else { " style=\"fill-opacity:1\"" };
    let _ = write!(out, "<g class=\"{class}\" transform=\"translate({x} {y}){turn}\">");
    if known {
        // Glyphs are in thousandths of an em.
        let scale = em / 1000.0;
        let _ = write!(out, "<g aria-hidden=\"true\" transform=\"scale({scale:.6})\">");
        let mut pen = shift / scale;
        for letter in text.words.chars() {
            if let (Some(glyph), false) =
                (lettering::glyph(letter, text.weight), letter.is_whitespace())
            {
                glyphs.insert((text.weight, glyph));
                let id = glyph_id(text.weight, glyph);
                let _ = write!(out, "<use href=\"#{id}\" x=\"{}\"/>", pen.round());
            }
            pen += lettering::advance(letter, text.weight) * 1000.0;
        }
        out.push_str("</g>");
    }
    let bold = match text.weight {
        Weight::Plain => "",
        Weight::Bold => " font-weight=\"600\"",
    };
    let _ = write!(
        out,
        "<text x=\"{}\" font-size=\"{}\"{bold} textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"{shown}>{}</text></g>",
        number(shift),
        number(em),
        number(length.max(0.01)),
        escaped(&text.words)
    );
}

fn pair(at: Point) -> String {
    format!("{},{}", number(at.x), number(at.y))
}

/// Hundredths of a millimetre, without needless zeros.
fn number(value: f64) -> String {
    let hundredths = (value * 100.0).round() as i64;
    let (whole, rest) = (hundredths.abs() / 100, hundredths.abs() % 100);
    let sign = if hundredths < 0 { "-" } else { "" };
    match rest {
        0 => format!("{sign}{whole}"),
        rest if rest % 10 == 0 => format!("{sign}{whole}.{}", rest / 10),
        rest => format!("{sign}{whole}.{rest:02}"),
    }
}

/// Safe in XML text and attributes; control characters, which XML 1.0 forbids, become "?".
pub fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            letter if (letter as u32) < 0x20 || letter == '\u{fffe}' || letter == '\u{ffff}' => {
                out.push('?');
            }
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_rule_of_the_style_reaches_the_letters_outlines() {
        // A rule for every path made all letters invisible in browsers, which match rules
        // inside `use`, and in no converter.
        let style = style(Look::Follow);
        assert!(!style.contains("path") && !style.contains("defs") && !style.contains('*'));
    }

    #[test]
    fn numbers_are_short_and_rounded_to_hundredths() {
        assert_eq!(number(12.0), "12");
        assert_eq!(number(-0.5), "-0.5");
        assert_eq!(number(2.716), "2.72");
        assert_eq!(number(-0.001), "0");
    }

    #[test]
    fn signs_of_xml_and_control_characters_are_harmless() {
        assert_eq!(escaped("<a & \"b\"\u{1}>"), "&lt;a &amp; &quot;b&quot;?&gt;");
    }
}
