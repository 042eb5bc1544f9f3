//! A text's fingerprint, and its places as a browser counts them.

use fiftytwo_scheme::Span;

/// FNV-1a over 128 bits (Fowler, Noll, Vo; offset and prime as published by the authors): the same
/// in every version of this program. It tells texts apart; it keeps nobody out.
const OFFSET: u128 = 0x6c62_272e_07bb_0142_62b8_2175_6295_c58d;
const PRIME: u128 = 0x0000_0000_0100_0000_0000_0000_0000_013b;

/// The fingerprint of bytes, in hex.
pub fn hash(bytes: &[u8]) -> String {
    let folded =
        bytes.iter().fold(OFFSET, |hash, byte| (hash ^ u128::from(*byte)).wrapping_mul(PRIME));
    format!("{folded:032x}")
}

/// Where the lines of a text begin, in bytes and in UTF-16 units.
#[derive(Debug, Clone)]
pub struct Places {
    text: String,
    lines: Vec<(usize, usize)>,
}

impl Places {
    /// Of a text.
    pub fn new(text: &str) -> Self {
        let mut lines = vec![(0, 0)];
        let mut units = 0;
        for (at, letter) in text.char_indices() {
            units += letter.len_utf16();
            if letter == '\n' {
                lines.push((at + 1, units));
            }
        }
        Self { text: text.to_owned(), lines }
    }
    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }
    /// A place in bytes as UTF-16 units from the beginning.
    pub fn units(&self, byte: usize) -> usize {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        let line = self.lines.partition_point(|(start, _)| *start <= byte).saturating_sub(1);
        let (start, units) = self.lines.get(line).copied().unwrap_or_default();
        let within = self.text.get(start..byte).unwrap_or_default();
        units + within.chars().map(char::len_utf16).sum::<usize>()
    }
    /// The line of a place in bytes, from 1.
    pub fn line(&self, byte: usize) -> usize {
        self.lines.partition_point(|(start, _)| *start <= byte).max(1)
    }
    /// A stretch, from and to.
    pub fn stretch(&self, span: Span) -> (usize, usize) {
        (self.units(span.start as usize), self.units(span.end as usize))
    }
}

/// A file's text as an editor has it: no mark of byte order, lines ended one way.
pub fn plain(text: &str) -> String {
    text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n")
}

/// A text in the manner of the file it goes into.
pub fn in_manner_of(text: &str, file: &str) -> String {
    let bom = if file.starts_with('\u{feff}') { "\u{feff}" } else { "" };
    let text = plain(text);
    if file.contains("\r\n") {
        format!("{bom}{}", text.replace('\n', "\r\n"))
    } else {
        format!("{bom}{text}")
    }
}

/// How many lines two texts differ in: line by line where as many stand between the first and the
/// last that differ, else all of these.
pub fn lines_differ(one: &str, other: &str) -> usize {
    let (one, other): (Vec<&str>, Vec<&str>) = (one.lines().collect(), other.lines().collect());
    let same =
        |pairs: &mut dyn Iterator<Item = (&&str, &&str)>| pairs.take_while(|(a, b)| a == b).count();
    let head = same(&mut one.iter().zip(&other));
    let most = one.len().min(other.len()) - head;
    let tail = same(&mut one.iter().rev().zip(other.iter().rev())).min(most);
    let between = |lines: &[&str]| lines.len() - head - tail;
    if between(&one) == between(&other) {
        let middle = one.iter().zip(&other).skip(head).take(between(&one));
        return middle.filter(|(a, b)| a != b).count();
    }
    between(&one).max(between(&other))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test values of the algorithm's authors for 128 bits: the empty text and "a", "foobar".
    #[test]
    fn the_fingerprint_is_the_published_one() {
        assert_eq!(hash(b""), "6c62272e07bb014262b821756295c58d");
        assert_eq!(hash(b"a"), "d228cb696f1a8caf78912b704e4a8964");
        assert_eq!(hash(b"foobar"), "343e1662793c64bf6f0d3597ba446f18");
    }

    #[test]
    fn a_place_is_counted_as_a_browser_does() {
        let places = Places::new("aµ\n𝄞b");
        assert_eq!(places.units(3), 2);
        assert_eq!(places.units(4), 3);
        assert_eq!(places.units(8), 5);
        assert_eq!(places.units(900), 6);
        assert_eq!((places.line(0), places.line(4), places.line(8)), (1, 2, 2));
    }

    #[test]
    fn a_file_keeps_its_manner() {
        assert_eq!(in_manner_of("a\nb\n", "x\r\ny\r\n"), "a\r\nb\r\n");
        assert_eq!(in_manner_of("a\n", "\u{feff}x\n"), "\u{feff}a\n");
    }

    #[test]
    fn lines_that_differ_are_counted() {
        assert_eq!(lines_differ("a\nb\nc", "a\nb\nc"), 0);
        assert_eq!(lines_differ("a\nb\nc", "a\nx\ny\nc"), 2);
        assert_eq!(lines_differ("", "a"), 1);
    }
}
