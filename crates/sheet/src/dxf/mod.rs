//! Sheets as DXF R2010. **In:** geometry. **Out:** one file in millimetres: all sheets side by side
//! in the model, and a layout at true scale for each; the same bytes each time. **Never here:** any
//! decision about place or words.
//!
//! Layers go by meaning, symbols are blocks whose texts are attributes, line widths and line types
//! are those of the sheet, text is text. Words are fitted between two points, so that they take the
//! room the drawing gives them in whatever typeface is at hand.

mod blocks;
mod head;
mod layers;
mod marks;
mod tags;

use crate::geometry::{Drawing, Point, Sheet, point};
use crate::layers::layered;
use blocks::{Block, Blocks, Use};
use head::{Layout, Plan};
use layers::{Layer, layer};
use marks::{Frame, Marks};
use std::collections::BTreeMap;
use tags::{Handle, Tags};

/// Distance of sheets in the model, mm.
const BETWEEN_SHEETS: f64 = 50.0;

/// Writes a drawing.
pub fn write(drawing: &Drawing) -> String {
    let (blocks, uses) = Blocks::find(drawing);
    let mut plan = Plan::new(blocks.blocks.iter().map(|block| block.name.clone()), drawing);
    let mut last = plan.last;

    let mut sections = Tags::default();
    sections.word(0, "SECTION");
    sections.word(2, "BLOCKS");
    head::empty_block(&mut sections, &plan.model);
    for (index, layout) in plan.layouts.iter().enumerate() {
        // The entities of the first layout stand among the entities.
        head::begin_block(&mut sections, &layout.block, point(0.0, 0.0), false);
        if index > 0 {
            head::viewports(&mut sections, layout);
        }
        head::end_block(&mut sections, &layout.block);
    }
    for (block, record) in blocks.blocks.iter().zip(&plan.blocks) {
        head::begin_block(&mut sections, record, point(0.0, 0.0), true);
        let frame = Frame { origin: point(0.0, 0.0) };
        let mut marks = Marks { tags: &mut sections, last: &mut last, owner: record.record, frame };
        definition(&mut marks, block);
        head::end_block(&mut sections, record);
    }
    sections.word(0, "ENDSEC");

    sections.word(0, "SECTION");
    sections.word(2, "ENTITIES");
    for ((sheet, uses), corner) in drawing.sheets.iter().zip(&uses).zip(corners(drawing)) {
        // The upper left corner of the paper lies at (corner, height).
        let frame = Frame { origin: point(-corner, sheet.height) };
        let owner = plan.model.record;
        let mut marks = Marks { tags: &mut sections, last: &mut last, owner, frame };
        entities(&mut marks, sheet, uses, &blocks.blocks);
    }
    if let Some(layout) = plan.layouts.first() {
        head::viewports(&mut sections, layout);
    }
    sections.word(0, "ENDSEC");
    plan.last = last;

    let mut file = Tags::default();
    head::header(&mut file, &plan, extent(drawing));
    head::tables(&mut file, &plan);
    file.extend(&sections);
    head::objects(&mut file, &plan);
    file.word(0, "EOF");
    file.into_text()
}

/// The left edge of each sheet in the model.
fn corners(drawing: &Drawing) -> Vec<f64> {
    let mut left = 0.0;
    let step = |sheet: &Sheet| {
        let here = left;
        left += sheet.width + BETWEEN_SHEETS;
        here
    };
    drawing.sheets.iter().map(step).collect()
}

/// The upper right corner of everything.
fn extent(drawing: &Drawing) -> Point {
    let right = drawing.sheets.iter().zip(corners(drawing)).map(|(sheet, left)| left + sheet.width);
    let top = drawing.sheets.iter().map(|sheet| sheet.height);
    point(right.fold(0.0, f64::max), top.fold(0.0, f64::max))
}

fn definition(marks: &mut Marks<'_>, block: &Block) {
    for shape in &block.shapes {
        marks.shape(shape, Layer::Zero);
    }
    for attribute in &block.attributes {
        marks.attribute("ATTDEF", attribute);
    }
}

fn entities(marks: &mut Marks<'_>, sheet: &Sheet, uses: &BTreeMap<&str, Use>, blocks: &[Block]) {
    for group in layered(sheet) {
        if let Some(used) = uses.get(group.id.as_str())
            && let Some(block) = blocks.get(used.block)
        {
            insert(marks, used, block);
            continue;
        }
        for shape in &group.shapes {
            marks.shape(shape, layer(group, shape));
        }
    }
}

fn insert(marks: &mut Marks<'_>, used: &Use, block: &Block) {
    let handle = marks.handle();
    let owner = marks.owner;
    marks.tags.object("INSERT", handle, owner);
    marks.tags.word(100, "AcDbEntity");
    marks.tags.word(8, used.layer.name());
    marks.tags.word(100, "AcDbBlockReference");
    if !used.attributes.is_empty() {
        marks.tags.whole(66, 1);
    }
    marks.tags.word(2, &block.name);
    let at = marks.frame.put(used.at);
    marks.tags.point(10, at);
    if used.attributes.is_empty() {
        return;
    }
    marks.owner = handle;
    for attribute in &used.attributes {
        marks.attribute("ATTRIB", attribute);
    }
    let end = marks.handle();
    marks.tags.object("SEQEND", end, handle);
    marks.tags.word(100, "AcDbEntity");
    marks.tags.word(8, used.layer.name());
    marks.owner = owner;
}

impl Layout {
    /// A layout for a sheet whose left edge lies at `left` in the model.
    fn of(
        sheet: &Sheet,
        left: f64,
        name: String,
        order: i32,
        next: &mut impl FnMut() -> Handle,
    ) -> Self {
        let at = usize::try_from(order).unwrap_or(1);
        let block = match at {
            0 | 1 => "*Paper_Space".to_owned(),
            _ => format!("*Paper_Space{}", at - 2),
        };
        Self {
            block: head::Record { name: block, record: next(), begin: next(), end: next() },
            layout: next(),
            paper: next(),
            view: next(),
            name,
            order,
            size: point(sheet.width, sheet.height),
            middle: point(left + sheet.width / 2.0, sheet.height / 2.0),
        }
    }
}
