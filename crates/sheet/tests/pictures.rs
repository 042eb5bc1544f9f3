//! The pictures in the documents are what the program draws today. `UPDATE_PICTURES=1` draws
//! them anew; a person looks at them before they are committed.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_sheet::{Options, draw, svg};
use std::path::Path;

#[test]
fn the_picture_in_the_readme_is_drawn_by_this_program() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let text = std::fs::read_to_string(root.join("examples/quillmere/scheme.kdl")).unwrap();
    let scheme = fiftytwo_scheme::read_text("scheme.kdl", &text).scheme.unwrap();
    let drawing = draw(&scheme, &Options::default());
    let drawn = svg(&drawing.sheets[0]);
    let path = root.join("docs/img/quillmere-close.svg");
    if std::env::var_os("UPDATE_PICTURES").is_some() {
        std::fs::write(&path, &drawn).unwrap();
    }
    let committed = std::fs::read_to_string(&path).unwrap();
    assert!(
        without_lines(&committed) == without_lines(&drawn),
        "docs/img/quillmere-close.svg is out of date: UPDATE_PICTURES=1 cargo test -p fiftytwo-sheet --test pictures"
    );
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
