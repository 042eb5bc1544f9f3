//! The pictures in the documents are what the program draws today. `UPDATE_PICTURES=1` draws
//! them anew; a person looks at them before they are committed.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_scheme::Scheme;
use fiftytwo_sheet::{Legs, Options, Symbols, changes, draw, draw_changed, pictures, svg};
use std::path::Path;

fn scheme(name: &str) -> Scheme {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let text =
        std::fs::read_to_string(root.join("examples").join(name).join("scheme.kdl")).unwrap();
    fiftytwo_scheme::read_text("scheme.kdl", &text).scheme.unwrap()
}

fn is_as_drawn(name: &str, drawn: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let path = root.join("docs/img").join(name);
    if std::env::var_os("UPDATE_PICTURES").is_some() {
        std::fs::write(&path, drawn).unwrap();
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        without_lines(&committed) == without_lines(drawn),
        "docs/img/{name} is out of date: UPDATE_PICTURES=1 cargo test -p fiftytwo-sheet --test pictures"
    );
}

#[test]
fn the_picture_in_the_readme_is_drawn_by_this_program() {
    let drawing = draw(&scheme("quillmere"), &Options::default());
    is_as_drawn("quillmere-close.svg", &svg(&drawing.sheets[0]));
}

#[test]
fn the_gallery_is_drawn_by_this_program() {
    let quillmere = scheme("quillmere");
    let iec = Options { symbols: Symbols::Iec60617, ..Options::default() };
    is_as_drawn("quillmere-close-iec.svg", &svg(&draw(&quillmere, &iec).sheets[0]));
    let across = Options { legs: Legs::Across, ..Options::default() };
    is_as_drawn("quillmere-close-across.svg", &svg(&draw(&quillmere, &across).sheets[0]));
    let cover = Options { cover: true, ..Options::default() };
    is_as_drawn("quillmere-cover.svg", &svg(&draw(&quillmere, &cover).sheets[0]));
    let matrix = pictures::matrix(&quillmere).unwrap();
    is_as_drawn("quillmere-matrix.svg", &svg(&matrix.sheets[0]));
    let (before, after) = (scheme("dunmarrow"), scheme("dunmarrow-repaired"));
    let drawing = draw_changed(&after, &Options::default(), &changes(&before, &after));
    is_as_drawn("dunmarrow-changed.svg", &svg(&drawing.sheets[0]));
}

/// A comment more in the scheme moves all lines of its text, but nothing on the sheet.
fn without_lines(svg: &str) -> String {
    let mut pieces = svg.split("data-line=\"");
    let mut kept = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        kept.push_str(piece.trim_start_matches(|letter: char| letter.is_ascii_digit()));
    }
    kept
}
