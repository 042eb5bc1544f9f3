//! The DC schematic, drawn from the scheme alone.
//!
//! **In:** a checked [`fiftytwo_scheme::Scheme`]. **Out:** a [`Drawing`]: typed geometry in
//! millimetres, sheet by sheet, and SVG written from it. **Never here:** volts, time, verdicts,
//! files. The same scheme gives the same bytes on every machine.
//!
//! Rooms, in the order the work flows: `plan` (circuit to columns), `rank` (heights), `order`
//! (legs), `block` (millimetres), `draw` (sheets), `ink` (strokes), with `symbols`, `words`,
//! `labels`, `lists`, `notes` and `page` beside them; then the writers (`svg`), and
//! [`verify`], which looks at the result only.

mod block;
mod draw;
mod frames;
mod ink;
mod labels;
mod lists;
mod meaning;
mod names;
mod notes;
mod order;
mod page;
mod plan;
mod rank;
mod rest;
mod svg;
mod symbols;
mod verify;
mod words;

pub mod geometry;
pub mod lettering;

pub use draw::{Options, draw};
pub use geometry::{Drawing, Sheet};
pub use page::Paper;
pub use svg::Look;
pub use verify::{Fault, Rule, verify};

/// One sheet as an SVG document.
pub fn svg(sheet: &Sheet) -> String {
    svg::sheet(sheet, Look::Follow)
}

/// One sheet as an SVG document in chosen colours.
pub fn svg_in(sheet: &Sheet, look: Look) -> String {
    svg::sheet(sheet, look)
}

/// All sheets of a drawing as one SVG document, one below the other.
pub fn whole_svg(drawing: &Drawing) -> String {
    svg::whole(drawing, Look::Follow)
}
