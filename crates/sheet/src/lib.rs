//! The DC schematic, drawn from the scheme alone.
//!
//! **In:** a checked [`fiftytwo_scheme::Scheme`]. **Out:** a [`Drawing`]: typed geometry in
//! millimetres, sheet by sheet, and SVG, PDF and DXF written from it. **Never here:** volts, time, verdicts,
//! files. The same scheme gives the same bytes on every machine.
//!
//! Rooms, in the order the work flows: `plan` (circuit to columns), `rank` (heights), `order`
//! (legs), `block` (millimetres), `draw` (sheets), `ink` (strokes), with `symbols`, `words`,
//! `labels`, `lists`, `notes` and `page` beside them; then the writers (`svg`, `pdf`, `dxf`), and
//! [`verify`], which looks at the result only.

mod arranged;
mod block;
mod changes;
mod cover;
mod draw;
mod dxf;
mod flow;
mod frames;
mod ink;
mod labels;
mod layers;
mod lines;
mod lists;
mod live;
mod meaning;
mod names;
mod notes;
mod order;
mod page;
mod patterns;
mod pdf;
mod plan;
mod rank;
mod regions;
mod rest;
mod screws;
mod storyboard;
mod style;
mod svg;
mod symbols;
mod verify;
mod watched;
mod words;

pub mod geometry;
pub mod lettering;
pub mod pictures;

pub use arranged::Arranged;
pub use changes::{Changes, Line as ChangeLine, changes, mark as mark_changes};
pub use draw::{Options, draw, draw_changed, draw_live};
pub use geometry::{Drawing, Sheet};
pub use live::{Level, Live, PartNow, WireNow, shown_volts};
pub use page::{Paper, TitleFields, fill_title};
pub use storyboard::{Panel, board_circuit, storyboard};
pub use style::{Legs, Symbols};
pub use svg::Look;
pub use verify::{Fault, Rule, verify, verify_marks};
pub use watched::{Watched, draw_watched};

/// Whether a contact is closed as the sheets draw it: without supply, devices as drawn,
/// conditions in their first state.
pub fn is_drawn_closed(scheme: &fiftytwo_scheme::Scheme, contact: fiftytwo_scheme::PartId) -> bool {
    rest::is_closed(scheme, contact)
}

/// One sheet as an SVG document.
pub fn svg(sheet: &Sheet) -> String {
    svg::sheet(sheet, Look::Follow)
}

/// One sheet as an SVG document in chosen colours.
pub fn svg_in(sheet: &Sheet, look: Look) -> String {
    svg::sheet(sheet, look)
}

/// All sheets of a drawing as one SVG document in chosen colours.
pub fn whole_svg_in(drawing: &Drawing, look: Look) -> String {
    svg::whole(drawing, look)
}

/// All sheets of a drawing as one SVG document, one below the other.
pub fn whole_svg(drawing: &Drawing) -> String {
    svg::whole(drawing, Look::Follow)
}

/// All sheets of a drawing as one PDF document, a page each at the true size of its paper, with
/// the typeface embedded, bookmarks, and links where a place is named.
pub fn pdf(drawing: &Drawing) -> Vec<u8> {
    pdf::write(drawing)
}

/// All sheets of a drawing as one DXF document (R2010, millimetres): side by side in the model, and
/// a layout at true scale for each.
pub fn dxf(drawing: &Drawing) -> String {
    dxf::write(drawing)
}

/// The letters of a drawing that the shipped typeface lacks: a PDF shows a box for each.
pub fn unknown_letters(drawing: &Drawing) -> std::collections::BTreeSet<char> {
    let shapes = drawing.sheets.iter().flat_map(|sheet| &sheet.items).flat_map(|it| &it.shapes);
    let mut lacking = std::collections::BTreeSet::new();
    for shape in shapes {
        if let geometry::Shape::Text(text) = shape {
            let unknown = |letter: &char| lettering::glyph(*letter, text.weight).is_none();
            lacking.extend(text.words.chars().filter(unknown));
        }
    }
    lacking
}
