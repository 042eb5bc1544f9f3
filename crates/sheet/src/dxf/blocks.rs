//! Symbols as blocks. **In:** the groups of parts. **Out:** each different symbol once, with the
//! attributes that its uses have. **Never here:** the format.

use super::layers::{Layer, layer};
use crate::geometry::{
    Anchor, Body, Drawing, Group, Ink, Meaning, Point, Role, Shape, Sheet, Text, Turn, Weight,
    point,
};
use fiftytwo_scheme::PartId;
use std::collections::BTreeMap;

/// A symbol.
pub struct Block {
    /// Its name, unique.
    pub name: String,
    /// Its strokes about the origin, y down.
    pub shapes: Vec<Shape>,
    /// Its attributes, each about the origin of its first use.
    pub attributes: Vec<Attribute>,
}

/// A text of a symbol that belongs to the part, not to the symbol.
#[derive(Clone)]
pub struct Attribute {
    /// What it is.
    pub tag: String,
    /// Where and how it is shown.
    pub text: Text,
    /// Its layer.
    pub layer: Layer,
    /// Whether it is there for lists only.
    pub hidden: bool,
}

/// A part on a sheet.
pub struct Use {
    /// Which block.
    pub block: usize,
    /// Its origin on the sheet.
    pub at: Point,
    /// Its layer.
    pub layer: Layer,
    /// Its attributes, where they stand on the sheet.
    pub attributes: Vec<Attribute>,
}

/// All blocks of a drawing and, by sheet, the uses of its groups.
#[derive(Default)]
pub struct Blocks {
    /// The blocks.
    pub blocks: Vec<Block>,
    by_look: BTreeMap<(&'static str, Vec<i64>), usize>,
}

impl Blocks {
    /// Finds the symbols of a drawing. For each sheet the uses by the names of their groups.
    pub fn find(drawing: &Drawing) -> (Self, Vec<BTreeMap<&str, Use>>) {
        let mut blocks = Self::default();
        let uses = drawing.sheets.iter().map(|sheet| blocks.of_sheet(sheet)).collect();
        (blocks, uses)
    }

    fn of_sheet<'a>(&mut self, sheet: &'a Sheet) -> BTreeMap<&'a str, Use> {
        let bodies: BTreeMap<PartId, &Body> =
            sheet.boxes.iter().map(|body| (body.part, body)).collect();
        let mut uses = BTreeMap::new();
        for group in &sheet.items {
            if let Role::Part(part) = group.role
                && let Some(body) = bodies.get(&part)
            {
                uses.insert(group.id.as_str(), self.of_part(group, body));
            }
        }
        uses
    }

    fn of_part(&mut self, group: &Group, body: &Body) -> Use {
        let [a, b] = body.ends;
        let at = point((a.x + b.x) / 2.0, (a.y + b.y) / 2.0);
        let home = |shape: &Shape| shape.placed(Turn::Down, point(-at.x, -at.y));
        let is_text = |shape: &&Shape| matches!(shape, Shape::Text(_));
        let shapes: Vec<Shape> =
            group.shapes.iter().filter(|shape| !is_text(shape)).map(home).collect();
        let block = self.block(body.symbol, shapes);
        let attributes = attributes(group, at);
        if let Some(block) = self.blocks.get_mut(block) {
            for attribute in &attributes {
                if !block.attributes.iter().any(|known| known.tag == attribute.tag) {
                    let mut text = attribute.text.clone();
                    text.at = point(text.at.x - at.x, text.at.y - at.y);
                    block.attributes.push(Attribute { text, ..attribute.clone() });
                }
            }
        }
        let is_terminal = matches!(body.symbol, "terminal" | "core" | "link");
        let layer = if is_terminal { Layer::Terminals } else { Layer::Symbols };
        Use { block, at, layer, attributes }
    }

    /// The block with this look; symbols that are turned are blocks of their own, as their letters
    /// stay upright.
    fn block(&mut self, symbol: &'static str, shapes: Vec<Shape>) -> usize {
        let look = (symbol, look(&shapes));
        let next = self.blocks.len();
        if let Some(known) = self.by_look.get(&look) {
            return *known;
        }
        let alike = self.by_look.keys().filter(|(name, _)| *name == symbol).count();
        let name = if alike == 0 { symbol.to_owned() } else { format!("{symbol}-{}", alike + 1) };
        self.by_look.insert(look, next);
        self.blocks.push(Block { name, shapes, attributes: Vec::new() });
        next
    }
}

/// Thousandths of a millimetre of every point, so that equal symbols are found equal.
fn look(shapes: &[Shape]) -> Vec<i64> {
    let mut look = Vec::new();
    let mut add = |at: &Point| {
        look.extend([at.x, at.y].map(|value| (value * 1000.0).round() as i64));
    };
    for shape in shapes {
        match shape {
            Shape::Line { points, pen, fill, .. } => {
                points.iter().for_each(&mut add);
                add(&point(pen.width(), f64::from(*fill as u8)));
            }
            Shape::Curve { start, bends, .. } => {
                add(start);
                bends.iter().flatten().for_each(&mut add);
            }
            Shape::Circle { centre, radius, fill, .. } => {
                add(centre);
                add(&point(*radius, f64::from(*fill as u8)));
            }
            Shape::Text(_) => {}
        }
    }
    look
}

/// The texts of a part, and what lists want to know of it.
fn attributes(group: &Group, at: Point) -> Vec<Attribute> {
    let mut found: Vec<Attribute> = Vec::new();
    for shape in &group.shapes {
        let Shape::Text(text) = shape else { continue };
        if text.words.trim().is_empty() {
            continue;
        }
        let base = match text.meaning {
            Meaning::Device => "DESIGNATION",
            Meaning::Contact => "CONTACT",
            Meaning::Terminal => "TERMINAL",
            Meaning::Rating => "RATING",
            Meaning::Reference(_) => "REFERENCE",
            Meaning::Words => "SIGN",
        };
        let alike = found.iter().filter(|other| other.tag.starts_with(base)).count();
        let tag = if alike == 0 { base.to_owned() } else { format!("{base}{}", alike + 1) };
        found.push(Attribute {
            tag,
            text: text.clone(),
            layer: layer(group, shape),
            hidden: false,
        });
    }
    let source = group.source.as_ref().map(|it| format!("{}:{}", it.file, it.line));
    let for_lists = [("DESCRIPTION", Some(group.title.clone())), ("SOURCE", source)];
    for (tag, words) in for_lists {
        let Some(words) = words else { continue };
        let text = Text {
            at,
            anchor: Anchor::Start,
            height: crate::geometry::MODULE,
            weight: Weight::Plain,
            ink: Ink::Main,
            words,
            turned: false,
            meaning: Meaning::Words,
        };
        let layer = Layer::Designations;
        found.push(Attribute { tag: tag.to_owned(), text, layer, hidden: true });
    }
    found
}
