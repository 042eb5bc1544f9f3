//! PDF documents, opened by poppler (pdfinfo, pdffonts, pdftotext), which shares nothing with the
//! writer.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

mod outside;

use fiftytwo_sheet::geometry::{Meaning, Shape};
use fiftytwo_sheet::{Drawing, Options, Paper, draw, pdf};
use outside::{examples, folder, is_there, said};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::Command;

fn written(name: &str, drawing: &Drawing) -> PathBuf {
    let path = folder().join(format!("{name}.pdf"));
    std::fs::write(&path, pdf(drawing)).unwrap();
    path
}

/// How often each word occurs.
fn counted<'a>(words: impl Iterator<Item = &'a str>) -> BTreeMap<String, usize> {
    let mut count = BTreeMap::new();
    for word in words.flat_map(str::split_whitespace) {
        *count.entry(word.to_owned()).or_default() += 1;
    }
    count
}

#[test]
fn a_reader_of_others_finds_every_word_of_every_sheet() {
    if !is_there("pdftotext", &["-v"]) {
        return;
    }
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let path = written(name, &drawing);
        for sheet in &drawing.sheets {
            let page = sheet.number.to_string();
            let mut command = Command::new("pdftotext");
            command.args(["-raw", "-enc", "UTF-8", "-f", &page, "-l", &page]).arg(&path).arg("-");
            let found = said(&mut command);
            let drawn = sheet.items.iter().flat_map(|group| &group.shapes);
            let drawn = drawn.filter_map(|shape| match shape {
                Shape::Text(text) => Some(text.words.as_str()),
                _ => None,
            });
            // Neighbours may be read as one word: then the letters must still be all there.
            let (expected, read) = (counted(drawn), counted(found.lines()));
            let letters = |words: &BTreeMap<String, usize>| {
                let mut letters: BTreeMap<char, usize> = BTreeMap::new();
                for (word, count) in words {
                    for letter in word.chars() {
                        *letters.entry(letter).or_default() += count;
                    }
                }
                letters
            };
            assert_eq!(letters(&read), letters(&expected), "{name}, sheet {page}");
            let total: usize = expected.values().sum();
            let same: usize = expected
                .iter()
                .map(|(word, count)| read.get(word).copied().unwrap_or(0).min(*count))
                .sum();
            assert!(same * 100 >= total * 95, "{name}, sheet {page}: {same} of {total} words");
        }
    }
}

#[test]
fn pages_have_the_size_of_the_paper_and_fonts_are_embedded() {
    if !is_there("pdfinfo", &["-v"]) {
        return;
    }
    let (name, scheme) = examples().pop().unwrap();
    let sizes = [(Paper::AnsiB, "1224 x 792 pts"), (Paper::IsoA3, "1190.55 x 841.89 pts (A3)")];
    for (paper, size) in sizes {
        let drawing = draw(&scheme, &Options { paper, ..Options::default() });
        let path = written(&format!("{name}-{}", paper.name().replace(' ', "-")), &drawing);
        let info = said(Command::new("pdfinfo").args(["-f", "1", "-l", "99"]).arg(&path));
        let pages: Vec<&str> = info
            .lines()
            .filter(|line| line.starts_with("Page ") && line.contains(" size:"))
            .collect();
        assert_eq!(pages.len(), drawing.sheets.len(), "{info}");
        assert!(pages.iter().all(|page| page.trim_end().ends_with(size)), "{info}");
        assert!(info.contains(&drawing.title), "{info}");
        assert!(!info.contains("Date"), "a clock is in the document: {info}");
        let fonts = said(Command::new("pdffonts").arg(&path));
        let fonts: Vec<&str> = fonts.lines().skip(2).collect();
        assert_eq!(fonts.len(), 2, "{fonts:?}");
        for font in fonts {
            // Columns: name, type, encoding, embedded, subset, signs known.
            assert!(font.contains("+BarlowSemiCondensed-"), "{font}");
            assert!(font.contains("CID TrueType") && font.contains("yes yes yes"), "{font}");
        }
    }
}

#[test]
fn bookmarks_name_every_sheet_and_links_lead_where_the_place_says() {
    for (name, scheme) in examples() {
        let drawing = draw(&scheme, &Options::default());
        let bytes = pdf(&drawing);
        let document = lopdf::Document::load_mem(&bytes).unwrap();
        let pages = document.get_pages();
        assert_eq!(pages.len(), drawing.sheets.len(), "{name}");
        let contents = document.get_toc().unwrap();
        let sheets: Vec<(String, usize)> = contents
            .toc
            .iter()
            .filter(|entry| entry.level == 1)
            .map(|entry| (entry.title.clone(), entry.page))
            .collect();
        let expected: Vec<(String, usize)> = drawing
            .sheets
            .iter()
            .map(|sheet| (format!("{}  {}", sheet.number, sheet.title), sheet.number))
            .collect();
        assert_eq!(sheets, expected, "{name}");
        for sheet in &drawing.sheets {
            let mut wanted: Vec<usize> = sheet
                .items
                .iter()
                .flat_map(|group| &group.shapes)
                .filter_map(|shape| match shape {
                    Shape::Text(text) => match &text.meaning {
                        Meaning::Reference(link) => Some(link.sheet),
                        _ => None,
                    },
                    _ => None,
                })
                .collect();
            let page = pages[&u32::try_from(sheet.number).unwrap()];
            let mut led: Vec<usize> = document
                .get_page_annotations(page)
                .unwrap()
                .iter()
                .map(|link| {
                    let action = link.get(b"A").unwrap().as_dict().unwrap();
                    let target = action.get(b"D").unwrap().as_array().unwrap();
                    let target = target[0].as_reference().unwrap();
                    let found = pages.iter().find(|(_, page)| **page == target).unwrap();
                    usize::try_from(*found.0).unwrap()
                })
                .collect();
            wanted.sort_unstable();
            led.sort_unstable();
            assert_eq!(led, wanted, "{name}, sheet {}", sheet.number);
        }
    }
}

#[test]
fn the_same_scheme_gives_the_same_document() {
    for (name, scheme) in examples() {
        let once = pdf(&draw(&scheme, &Options::default()));
        let again = pdf(&draw(&scheme.clone(), &Options::default()));
        assert!(once == again, "{name}");
    }
}

#[test]
fn letters_the_typeface_lacks_are_still_found_by_their_words() {
    let (_, scheme) = examples().swap_remove(2);
    let mut drawing = draw(&scheme, &Options::default());
    for shape in drawing
        .sheets
        .iter_mut()
        .flat_map(|sheet| &mut sheet.items)
        .flat_map(|group| &mut group.shapes)
    {
        if let Shape::Text(text) = shape
            && text.height > 4.9
        {
            text.words = "線 8 開".to_owned();
        }
    }
    let path = written("strange", &drawing);
    if is_there("pdftotext", &["-v"]) {
        let found = said(Command::new("pdftotext").args(["-enc", "UTF-8"]).arg(&path).arg("-"));
        assert!(found.contains("線 8 開"), "{found}");
    }
}
