//! Pictures beside the sheets, in the same strokes and letters. **In:** plain data that whoever
//! knows it hands in. **Out:** drawings of one sheet. **Never here:** where the data come from.

mod along;
mod matrix;
mod timeline;

pub use along::{Along, Step, along};
pub use matrix::matrix;
pub use timeline::{Edge, Row, Timeline, timeline};

use crate::geometry::{Area, Drawing, Group, Role, Shape, Sheet};

/// A drawing of one sheet without title block, as large as what is on it.
fn alone(title: &str, (width, height): (f64, f64), shapes: Vec<(&str, Vec<Shape>)>) -> Drawing {
    let items = shapes
        .into_iter()
        .map(|(id, shapes)| Group {
            id: id.to_owned(),
            role: Role::Notes,
            title: id.replace('-', " "),
            source: None,
            shapes,
        })
        .collect();
    let frame = Area { left: 0.0, top: 0.0, right: width, bottom: height };
    let sheet = Sheet {
        number: 1,
        title: title.to_owned(),
        width,
        height,
        frame,
        items,
        boxes: Vec::new(),
    };
    Drawing { title: title.to_owned(), sheets: vec![sheet], notes: Vec::new() }
}
