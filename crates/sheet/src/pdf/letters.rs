//! The typeface inside the document. **In:** the words that are shown. **Out:** their codes, and
//! at the end the letters in use as embedded fonts that say which sign each letter is. **Never
//! here:** places, sizes.

use super::{Numbers, packed};
use crate::geometry::Weight;
use crate::lettering;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use subsetter::GlyphRemapper;

const SYSTEM: SystemInfo<'static> =
    SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };

struct Font {
    weight: Weight,
    id: Ref,
    glyphs: GlyphRemapper,
    /// By new number: the sign and its width in thousandths of an em.
    signs: BTreeMap<u16, (char, f64)>,
}

/// The two weights, as far as they are used.
pub struct Letters {
    plain: Font,
    bold: Font,
}

impl Letters {
    /// Nothing used yet.
    pub fn new(numbers: &mut Numbers) -> Self {
        let mut font = |weight| Font {
            weight,
            id: numbers.next(),
            glyphs: GlyphRemapper::new(),
            signs: BTreeMap::new(),
        };
        Self { plain: font(Weight::Plain), bold: font(Weight::Bold) }
    }

    /// Names and objects of the fonts.
    pub fn fonts(&self) -> [(&'static [u8], Ref); 2] {
        [(b"P", self.plain.id), (b"B", self.bold.id)]
    }

    /// The name of the font of a weight.
    pub fn name(&self, weight: Weight) -> &'static [u8] {
        match weight {
            Weight::Plain => b"P",
            Weight::Bold => b"B",
        }
    }

    fn font(&mut self, weight: Weight) -> &mut Font {
        match weight {
            Weight::Plain => &mut self.plain,
            Weight::Bold => &mut self.bold,
        }
    }

    /// Words as glyph numbers, two bytes each; zero for a letter the typeface lacks.
    pub fn encoded(&mut self, words: &str, weight: Weight) -> Vec<u8> {
        let font = self.font(weight);
        let mut bytes = Vec::with_capacity(words.len() * 2);
        for letter in words.chars() {
            let code = match lettering::glyph(letter, weight) {
                Some(glyph) => {
                    let code = font.glyphs.remap(glyph);
                    let width = lettering::advance(letter, weight) * 1000.0;
                    font.signs.entry(code).or_insert((letter, width));
                    code
                }
                None => 0,
            };
            bytes.extend(code.to_be_bytes());
        }
        bytes
    }

    /// By how much the glyph shown for a letter is wider than the room the drawing gives it, in
    /// thousandths of an em: only where the typeface lacks the letter.
    pub fn surplus(&self, letter: char, weight: Weight) -> f32 {
        if lettering::glyph(letter, weight).is_some() {
            return 0.0;
        }
        let shown = lettering::description(weight).map_or(0.0, |it| it.unknown);
        (shown - lettering::advance(letter, weight) * 1000.0) as f32
    }

    /// Writes both fonts.
    pub fn embed(&self, pdf: &mut Pdf, numbers: &mut Numbers) {
        self.plain.embed(pdf, numbers);
        self.bold.embed(pdf, numbers);
    }
}

impl Font {
    fn embed(&self, pdf: &mut Pdf, numbers: &mut Numbers) {
        let (cid, descriptor, file, unicode) =
            (numbers.next(), numbers.next(), numbers.next(), numbers.next());
        let whole = lettering::file(self.weight);
        // Both files of the typeface can be cut down: a test does it. Without its letters a viewer
        // takes another face.
        let part = subsetter::subset(whole, 0, &self.glyphs).unwrap_or_default();
        let name = format!("{}+{}", self.tag(), self.postscript_name());
        let name = Name(name.as_bytes());

        pdf.type0_font(self.id)
            .base_font(name)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(cid)
            .to_unicode(unicode);

        let about = lettering::description(self.weight);
        let unknown = about.map_or(0.0, |it| it.unknown) as f32;
        let mut font = pdf.cid_font(cid);
        font.subtype(CidFontType::Type2)
            .base_font(name)
            .system_info(SYSTEM)
            .font_descriptor(descriptor)
            .default_width(unknown)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        let mut widths = font.widths();
        for (code, (_, width)) in &self.signs {
            widths.consecutive(*code, [*width as f32]);
        }
        widths.finish();
        font.finish();

        let mut description = pdf.font_descriptor(descriptor);
        description.name(name).flags(FontFlags::SYMBOLIC).italic_angle(0.0);
        description.cap_height((lettering::CAPITAL * 1000.0) as f32);
        if let Some(about) = about {
            let [left, bottom, right, top] = about.bounds.map(|value| value as f32);
            description
                .bbox(Rect::new(left, bottom, right, top))
                .ascent(about.ascent as f32)
                .descent(about.descent as f32);
        }
        // Stems as drawn: h/9 and h/6.5 of capitals 700 high.
        description.stem_v(if self.weight == Weight::Bold { 108.0 } else { 78.0 });
        description.font_file2(file);
        description.finish();

        let length = i32::try_from(part.len()).unwrap_or(i32::MAX);
        let bytes = packed(&part);
        pdf.stream(file, &bytes).filter(Filter::FlateDecode).pair(Name(b"Length1"), length);

        let mut map = UnicodeCmap::new(Name(b"fiftytwo"), SYSTEM);
        for (code, (letter, _)) in &self.signs {
            map.pair(*code, *letter);
        }
        let map = packed(map.finish().as_slice());
        pdf.cmap(unicode, &map).filter(Filter::FlateDecode);
    }

    /// Six letters that differ for different sets of glyphs, as the format wants them.
    fn tag(&self) -> String {
        let mut mark =
            self.signs.iter().fold(u64::from(self.weight == Weight::Bold), |mark, it| {
                let (code, (letter, _)) = it;
                (mark ^ u64::from(*code) ^ u64::from(u32::from(*letter)) << 16)
                    .wrapping_mul(0x0100_0000_01b3)
            });
        (0..6)
            .map(|_| {
                let letter = char::from(b'A' + u8::try_from(mark % 26).unwrap_or(0));
                mark /= 26;
                letter
            })
            .collect()
    }

    fn postscript_name(&self) -> &'static str {
        match self.weight {
            Weight::Plain => "BarlowSemiCondensed-Regular",
            Weight::Bold => "BarlowSemiCondensed-SemiBold",
        }
    }
}
