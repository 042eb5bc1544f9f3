//! The lines of a DXF file: a code, then its value. **In:** codes and values. **Out:** text.
//! **Never here:** what they mean.

use crate::geometry::Point;
use std::fmt::Write;

/// Numbers of objects, from 1, as the format writes them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Handle(pub u32);

impl Handle {
    /// Owner of the uppermost objects.
    pub const NOBODY: Self = Self(0);
}

/// Text of a file, or of a part of it.
#[derive(Default)]
pub struct Tags(String);

impl Tags {
    /// The text.
    pub fn into_text(self) -> String {
        self.0
    }

    /// Takes in what was written elsewhere.
    pub fn extend(&mut self, other: &Self) {
        self.0.push_str(&other.0);
    }

    fn code(&mut self, code: u16) {
        let _ = writeln!(self.0, "{code:>3}");
    }

    /// A word of the format itself.
    pub fn word(&mut self, code: u16, word: &str) {
        self.code(code);
        self.0.push_str(word);
        self.0.push('\n');
    }

    /// Words of the designer.
    pub fn words(&mut self, code: u16, words: &str) {
        self.word(code, &safe(words));
    }

    /// Whole numbers.
    pub fn whole(&mut self, code: u16, value: i32) {
        self.code(code);
        let _ = writeln!(self.0, "{value}");
    }

    /// Millimetres, or anything else with a fraction.
    pub fn real(&mut self, code: u16, value: f64) {
        self.code(code);
        // Ten-thousandths of a millimetre, and no "-0".
        let value = (value * 10_000.0).round() / 10_000.0 + 0.0;
        let _ = writeln!(self.0, "{value:?}");
    }

    /// A point of the plane.
    pub fn flat(&mut self, code: u16, at: Point) {
        self.real(code, at.x);
        self.real(code + 10, at.y);
    }

    /// A point in space, z = 0.
    pub fn point(&mut self, code: u16, at: Point) {
        self.flat(code, at);
        self.real(code + 20, 0.0);
    }

    /// A handle.
    pub fn handle(&mut self, code: u16, handle: Handle) {
        self.code(code);
        let _ = writeln!(self.0, "{:X}", handle.0);
    }

    /// The head of an object: its kind, its handle, its owner.
    pub fn object(&mut self, kind: &str, handle: Handle, owner: Handle) {
        self.word(0, kind);
        self.handle(5, handle);
        self.handle(330, owner);
    }
}

/// Words as the format can carry them: a line each, no control characters, the signs that mean
/// something else (`^`, `%%`) written so that they mean themselves.
fn safe(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut letters = words.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '^' => out.push_str("^ "),
            '%' if letters.peek() == Some(&'%') => out.push_str("%%%"),
            // Fonts of pens have no minus of its own; fitted into its room a hyphen is one.
            '\u{2212}' => out.push('-'),
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_point_and_no_negative_zero() {
        let mut tags = Tags::default();
        tags.real(40, -0.000_01);
        tags.real(40, 12.0);
        tags.real(40, 2.716_04);
        assert_eq!(tags.into_text(), " 40\n0.0\n 40\n12.0\n 40\n2.716\n");
    }

    #[test]
    fn signs_of_the_format_are_harmless() {
        assert_eq!(safe("90 %% of 2^3\n"), "90 %%%% of 2^ 3 ");
        assert_eq!(safe("5 %"), "5 %");
        assert_eq!(safe("\u{2212}"), "-");
    }
}
