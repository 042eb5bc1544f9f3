//! One sheet in two forms, turned into dots by two renderers that share nothing: the SVG by resvg,
//! the PDF by poppler (pdftoppm). What one of them draws, the other draws in the same place.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

mod outside;

use fiftytwo_scheme::{PartKind, Scheme};
use fiftytwo_sheet::geometry::{Dash, Role, Shape};
use fiftytwo_sheet::{
    Drawing, Legs, Level, Live, Options, PartNow, Symbols, Watched, WireNow, draw, draw_live,
    draw_watched, pdf, svg,
};
use outside::{examples, folder, is_there, said};
use std::collections::BTreeSet;
use std::process::Command;

/// Dots to an inch: a dot is 0.25 mm, half the width of a symbol's line.
const FINENESS: f64 = 101.6;
/// Dots by which edges may lie apart, as each renderer has its own way to soften them.
const APART: i64 = 1;

/// How dark each dot is, 0 to 255.
struct Picture {
    width: i64,
    height: i64,
    dark: Vec<u8>,
}

impl Picture {
    fn at(&self, x: i64, y: i64) -> u8 {
        let inside = (0..self.width).contains(&x) && (0..self.height).contains(&y);
        if inside { self.dark[usize::try_from(y * self.width + x).unwrap()] } else { 0 }
    }
    /// Whether anything near a dot is at least that dark.
    fn is_near(&self, x: i64, y: i64, least: u8) -> bool {
        (-APART..=APART)
            .any(|down| (-APART..=APART).any(|right| self.at(x + right, y + down) >= least))
    }
    /// Dots in the light of a band, wide all round, where the other picture has only paper nearby.
    fn bands_missing_in(&self, other: &Self) -> Vec<(i64, i64)> {
        let dots = (0..self.height).flat_map(|y| (0..self.width).map(move |x| (x, y)));
        let wide = |x: i64, y: i64| {
            (-2..=2)
                .all(|down| (-2..=2).all(|right| (24..=60).contains(&self.at(x + right, y + down))))
        };
        dots.filter(|(x, y)| wide(*x, *y) && !other.is_near(*x, *y, 12)).collect()
    }
    fn ink(&self) -> f64 {
        self.dark.iter().map(|dark| f64::from(*dark) / 255.0).sum()
    }
    /// Dark dots that the other picture has not even nearby.
    fn missing_in(&self, other: &Self) -> Vec<(i64, i64)> {
        let dots = (0..self.height).flat_map(|y| (0..self.width).map(move |x| (x, y)));
        dots.filter(|(x, y)| self.at(*x, *y) >= 128 && !other.is_near(*x, *y, 32)).collect()
    }
}

fn by_resvg(text: &str) -> Picture {
    let tree = resvg::usvg::Tree::from_str(text, &resvg::usvg::Options::default()).unwrap();
    let size = tree.size();
    // The document is in millimetres, 96 units to an inch.
    let scale = (FINENESS / 96.0) as f32;
    let (width, height) = ((size.width() * scale).round(), (size.height() * scale).round());
    let mut dots = resvg::tiny_skia::Pixmap::new(width as u32, height as u32).unwrap();
    dots.fill(resvg::tiny_skia::Color::WHITE);
    let turn = resvg::tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, turn, &mut dots.as_mut());
    // The screen's nearly black, #111, is the paper's black.
    let darkest = 255 - 0x11;
    let dark = |dot: &resvg::tiny_skia::PremultipliedColorU8| {
        let dark = u32::from(255 - dot.green()) * 255 / darkest;
        u8::try_from(dark.min(255)).unwrap()
    };
    let dark = dots.pixels().iter().map(dark).collect();
    Picture { width: width as i64, height: height as i64, dark }
}

fn by_poppler(name: &str, bytes: &[u8], page: usize) -> Picture {
    let path = folder().join(format!("{name}-raster.pdf"));
    std::fs::write(&path, bytes).unwrap();
    let root = folder().join(format!("{name}-raster"));
    let page = page.to_string();
    let mut command = Command::new("pdftoppm");
    command.args(["-gray", "-singlefile", "-r", &FINENESS.to_string(), "-f", &page, "-l", &page]);
    said(command.arg(&path).arg(&root));
    let bytes = std::fs::read(root.with_extension("pgm")).unwrap();
    // P5, width, height, 255, each followed by one blank; then a byte for each dot.
    let mut rest = bytes.as_slice();
    let mut head = Vec::new();
    for _ in 0..4 {
        let end = rest.iter().position(u8::is_ascii_whitespace).unwrap();
        head.push(String::from_utf8(rest[..end].to_vec()).unwrap());
        rest = &rest[end + 1..];
    }
    assert_eq!((head[0].as_str(), head[3].as_str()), ("P5", "255"));
    let number = |at: usize| head[at].parse::<i64>().unwrap();
    Picture { width: number(1), height: number(2), dark: rest.iter().map(|it| 255 - it).collect() }
}

/// A state made for the test: every level, every second contact closed, every third part carries.
fn state(scheme: &Scheme) -> Live {
    let levels = [Level::Plus, Level::Minus, Level::Between, Level::Floating];
    let wires = scheme.nodes.ids().enumerate().map(|(index, node)| {
        let level = levels[index % levels.len()];
        (node, WireNow { level, volts: (level != Level::Floating).then_some(120.0) })
    });
    let parts = scheme.placed().enumerate().map(|(index, (id, part))| {
        let switches = matches!(part.kind, PartKind::Contact(_));
        let now = PartNow {
            closed: switches.then_some(index % 2 == 0),
            on: matches!(part.kind, PartKind::Coil(_)).then_some(true),
            amps: Some(if index % 3 == 0 { 2.9 } else { 0.0 }),
            pointed_at: switches,
            ..PartNow::default()
        };
        (id, now)
    });
    Live {
        title: "A state for the test".to_owned(),
        wires: wires.collect(),
        parts: parts.collect(),
        lost: BTreeSet::new(),
        conducts_from: 0.01,
        pointer: "not as drawn at rest".to_owned(),
        notes: Vec::new(),
    }
}

/// Half of the parts watched in one of two positions, a quarter in both, the others never.
fn watched(scheme: &Scheme) -> Watched {
    let seen = |index: usize| match index % 4 {
        0 => BTreeSet::from([0, 1]),
        1 | 2 => BTreeSet::from([index % 2]),
        _ => BTreeSet::new(),
    };
    Watched {
        coil: "52 trip 1".to_owned(),
        by: "one lamp".to_owned(),
        positions: vec!["52 closed".to_owned(), "52 open".to_owned()],
        pieces: scheme.placed().enumerate().map(|(index, (id, _))| (id, seen(index))).collect(),
    }
}

/// Sheets of every kind: plain, in both standards and arrangements, in a state, watched.
fn sheets() -> Vec<(String, Drawing)> {
    let plain = Options::default();
    let iec = Options { symbols: Symbols::Iec60617, ..plain };
    let across = Options { legs: Legs::Across, ..plain };
    let mut all = Vec::new();
    for (name, scheme) in examples() {
        all.push((name.to_owned(), draw(&scheme, &plain)));
        if name == "dunmarrow" {
            for (style, options) in [("plain", plain), ("iec", iec), ("across", across)] {
                all.push((format!("{name}-{style}"), draw(&scheme, &options)));
                let live = draw_live(&scheme, &options, &state(&scheme));
                all.push((format!("{name}-{style}-live"), live));
                let watched = draw_watched(&scheme, &options, &watched(&scheme));
                all.push((format!("{name}-{style}-watched"), watched));
            }
        }
    }
    all
}

#[test]
fn two_renderers_of_others_draw_the_same_sheet_from_two_forms() {
    if !is_there("pdftoppm", &["-v"]) {
        return;
    }
    for (name, drawing) in sheets() {
        let bytes = pdf(&drawing);
        for sheet in &drawing.sheets {
            let one = by_resvg(&svg(sheet));
            let other = by_poppler(&name, &bytes, sheet.number);
            assert!((one.width - other.width).abs() <= 1, "{} and {}", one.width, other.width);
            assert!((one.height - other.height).abs() <= 1);
            let place = format!("{name}, sheet {}", sheet.number);
            for (missing, form) in
                [(one.missing_in(&other), "PDF"), (other.missing_in(&one), "SVG")]
            {
                assert!(
                    missing.is_empty(),
                    "{place}: {} dots are not in the {form}, the first at {:?}",
                    missing.len(),
                    missing.first()
                );
            }
            for (missing, form) in
                [(one.bands_missing_in(&other), "PDF"), (other.bands_missing_in(&one), "SVG")]
            {
                assert!(
                    missing.is_empty(),
                    "{place}: {} dots of bands are not in the {form}, the first at {:?}",
                    missing.len(),
                    missing.first()
                );
            }
            let ratio = one.ink() / other.ink();
            assert!((0.95..1.05).contains(&ratio), "{place}: ink differs, {ratio:.3}");
        }
    }
}

#[test]
fn a_band_that_only_one_form_has_is_seen() {
    if !is_there("pdftoppm", &["-v"]) {
        return;
    }
    let (_, scheme) = examples().swap_remove(0);
    let drawing = draw_watched(&scheme, &Options::default(), &watched(&scheme));
    let sheet = drawing.sheets.iter().position(|it| it.items.iter().any(|g| g.role == Role::Band));
    let sheet = sheet.unwrap();
    let one = by_resvg(&svg(&drawing.sheets[sheet]));
    let mut spoilt = drawing.clone();
    for group in spoilt.sheets[sheet].items.iter_mut().filter(|group| group.role == Role::Band) {
        for shape in &mut group.shapes {
            if let Shape::Line { dash, .. } = shape {
                *dash = Dash::Solid;
            }
        }
    }
    let other = by_poppler("spoilt-band", &pdf(&spoilt), spoilt.sheets[sheet].number);
    assert!(!other.bands_missing_in(&one).is_empty(), "a broken band drawn whole");
}

#[test]
fn a_stroke_that_only_one_form_has_is_seen() {
    if !is_there("pdftoppm", &["-v"]) {
        return;
    }
    let (_, scheme) = examples().swap_remove(0);
    let drawing = draw(&scheme, &Options::default());
    let one = by_resvg(&svg(&drawing.sheets[0]));
    let mut spoilt = drawing.clone();
    let wires = spoilt.sheets[0].items.iter().position(|group| group.id.starts_with("wire-"));
    spoilt.sheets[0].items.remove(wires.unwrap());
    let other = by_poppler("spoilt", &pdf(&spoilt), 1);
    assert!(!one.missing_in(&other).is_empty());
}
