//! Paper. **In:** the paper chosen. **Out:** sizes, the drawing frame and its zones, title
//! block, revision table. **Never here:** circuits.
//!
//! Sizes from ANSI Y14.1 and ISO 216; frame of 20 mm at the binding edge and 10 mm elsewhere,
//! zones near 50 mm and centring marks after ISO 5457; fields of the title block after ISO 7200.
//! All from memory of the standards; the arrangement is ours.

use crate::geometry::{
    Anchor, Area, Dash, Drawing, Fill, Group, Ink, MODULE, Meaning, Pen, Role, Shape, Text, Weight,
    point,
};
use crate::lettering;
use fiftytwo_scheme::{Revision, Scheme};

/// A sheet of paper, landscape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// ANSI B, 17 by 11 in.
    #[default]
    AnsiB,
    /// ANSI C, 22 by 17 in.
    AnsiC,
    /// ANSI D, 34 by 22 in.
    AnsiD,
    /// ANSI E, 44 by 34 in.
    AnsiE,
    /// ISO A3.
    IsoA3,
    /// ISO A2.
    IsoA2,
    /// ISO A1.
    IsoA1,
    /// ISO A0.
    IsoA0,
}

impl Paper {
    /// Width and height, mm.
    pub fn size(self) -> (f64, f64) {
        match self {
            Self::AnsiB => (431.8, 279.4),
            Self::AnsiC => (558.8, 431.8),
            Self::AnsiD => (863.6, 558.8),
            Self::AnsiE => (1117.6, 863.6),
            Self::IsoA3 => (420.0, 297.0),
            Self::IsoA2 => (594.0, 420.0),
            Self::IsoA1 => (841.0, 594.0),
            Self::IsoA0 => (1189.0, 841.0),
        }
    }
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::AnsiB => "ANSI B",
            Self::AnsiC => "ANSI C",
            Self::AnsiD => "ANSI D",
            Self::AnsiE => "ANSI E",
            Self::IsoA3 => "ISO A3",
            Self::IsoA2 => "ISO A2",
            Self::IsoA1 => "ISO A1",
            Self::IsoA0 => "ISO A0",
        }
    }
    /// The next larger of its series.
    pub fn larger(self) -> Option<Self> {
        match self {
            Self::AnsiB => Some(Self::AnsiC),
            Self::AnsiC => Some(Self::AnsiD),
            Self::AnsiD => Some(Self::AnsiE),
            Self::IsoA3 => Some(Self::IsoA2),
            Self::IsoA2 => Some(Self::IsoA1),
            Self::IsoA1 => Some(Self::IsoA0),
            Self::AnsiE | Self::IsoA0 => None,
        }
    }
    /// Inside of the drawing frame.
    pub fn frame(self) -> Area {
        let (width, height) = self.size();
        Area { left: 20.0, top: 10.0, right: width - 10.0, bottom: height - 10.0 }
    }
    /// Number of zones along and down.
    fn zones(self) -> (usize, usize) {
        let frame = self.frame();
        // An even number, so that centring marks fall between zones.
        let count = |length: f64| 2 * (length / 100.0).round().clamp(1.0, 12.0) as usize;
        (count(frame.width()), count(frame.height()))
    }
    /// The zone of a point, such as "D7": letters from the top, numbers from the left.
    pub fn zone(self, x: f64, y: f64) -> String {
        let frame = self.frame();
        let (along, down) = self.zones();
        let at = |value: f64, length: f64, count: usize| {
            ((value / length * count as f64).floor().max(0.0) as usize).min(count - 1)
        };
        let column = at(x - frame.left, frame.width(), along) + 1;
        let row = at(y - frame.top, frame.height(), down);
        format!("{}{column}", row_letter(row))
    }
}

/// Letters of rows: I and O are left out (ISO 5457).
fn row_letter(row: usize) -> char {
    "ABCDEFGHJKLMNPQRSTUVWXYZ".chars().nth(row).unwrap_or('Z')
}

/// Width of the title block, mm.
pub const TITLE_WIDTH: f64 = 180.0;
/// Height of the title block, mm.
pub const TITLE_HEIGHT: f64 = 36.0;
/// Width of the revision table, mm.
const REVISIONS_WIDTH: f64 = 72.0;

/// One line of lettering.
pub fn text(
    (x, y): (f64, f64),
    words: &str,
    (height, weight, ink): (f64, Weight, Ink),
    anchor: Anchor,
) -> Shape {
    Shape::Text(Text {
        at: point(x, y),
        anchor,
        height,
        weight,
        ink,
        words: lettering::tidy(words),
        turned: false,
        meaning: Meaning::Words,
    })
}

/// The smallest lettering, plain.
pub const SMALL: (f64, Weight, Ink) = (MODULE, Weight::Plain, Ink::Main);
/// The smallest lettering, second ink.
pub const SMALL_SECOND: (f64, Weight, Ink) = (MODULE, Weight::Plain, Ink::Second);
/// The smallest lettering, bold.
pub const SMALL_BOLD: (f64, Weight, Ink) = (MODULE, Weight::Bold, Ink::Main);

fn thin(points: &[(f64, f64)], pen: Pen) -> Shape {
    let points: Vec<_> = points.iter().map(|(x, y)| point(*x, *y)).collect();
    Shape::line(&points, pen)
}

/// Frame, zones and centring marks.
pub fn frame(paper: Paper, number: usize) -> Group {
    let inner = paper.frame();
    let outer = inner.grown(5.0);
    let (along, down) = paper.zones();
    let mut shapes = vec![Shape::Line {
        points: vec![
            point(outer.left, outer.top),
            point(outer.right, outer.top),
            point(outer.right, outer.bottom),
            point(outer.left, outer.bottom),
        ],
        closed: true,
        pen: Pen::Rule,
        ink: Ink::Main,
        fill: Fill::None,
        dash: Dash::Solid,
    }];
    shapes.push(Shape::rectangle(inner, Pen::Rail, Fill::None));
    for column in 0..along {
        let step = inner.width() / along as f64;
        let (x, middle) =
            (inner.left + step * column as f64, inner.left + step * (column as f64 + 0.5));
        if column > 0 {
            shapes.push(thin(&[(x, outer.top), (x, inner.top)], Pen::Rule));
            shapes.push(thin(&[(x, inner.bottom), (x, outer.bottom)], Pen::Rule));
        }
        for y in [inner.top - 1.25, outer.bottom - 1.25] {
            let words = (column + 1).to_string();
            shapes.push(text((middle, y), &words, SMALL_SECOND, Anchor::Middle));
        }
    }
    for row in 0..down {
        let step = inner.height() / down as f64;
        let (y, middle) = (inner.top + step * row as f64, inner.top + step * (row as f64 + 0.5));
        if row > 0 {
            shapes.push(thin(&[(outer.left, y), (inner.left, y)], Pen::Rule));
            shapes.push(thin(&[(inner.right, y), (outer.right, y)], Pen::Rule));
        }
        for x in [inner.left - 2.5, inner.right + 2.5] {
            let words = row_letter(row).to_string();
            shapes.push(text((x, middle + 1.25), &words, SMALL_SECOND, Anchor::Middle));
        }
    }
    let (middle_x, middle_y) = ((inner.left + inner.right) / 2.0, (inner.top + inner.bottom) / 2.0);
    for ends in [
        [(middle_x, outer.top), (middle_x, inner.top + 2.0)],
        [(middle_x, inner.bottom), (middle_x, outer.bottom)],
        [(outer.left, middle_y), (inner.left + 2.0, middle_y)],
        [(inner.right - 2.0, middle_y), (outer.right, middle_y)],
    ] {
        shapes.push(thin(&ends, Pen::Rail));
    }
    Group {
        id: format!("sheet-{number}-frame"),
        role: Role::Furniture,
        title: format!("Frame of sheet {number}"),
        source: None,
        shapes,
    }
}

/// What the title block of one sheet says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TitleBlock {
    /// What is on the sheet.
    pub circuit: String,
    /// Sheet number and how many there are.
    pub sheet: (usize, usize),
    /// Symbols used.
    pub symbols: crate::style::Symbols,
    /// What kind of document it is.
    pub document: &'static str,
}

/// Fields of the title block (ISO 7200, from memory) that no scheme has words for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TitleFields {
    /// Legal owner.
    pub owner: Option<String>,
    /// Who approved it.
    pub approved_by: Option<String>,
    /// Identification number.
    pub number: Option<String>,
}

/// Captions of those fields in the title block.
const OWNER: &str = "Legal owner";
const APPROVED: &str = "Approved by";
const NUMBER: &str = "Identification number";

/// Writes fields into the title blocks of a finished drawing.
pub fn fill_title(drawing: &mut Drawing, fields: &TitleFields) {
    let given = [
        (OWNER, &fields.owner, 45.0),
        (APPROVED, &fields.approved_by, 47.0),
        (NUMBER, &fields.number, 47.0),
    ];
    for group in drawing.sheets.iter_mut().flat_map(|sheet| &mut sheet.items) {
        if !(group.role == Role::Furniture && group.id.ends_with("-title")) {
            continue;
        }
        for (caption, value, room) in given {
            let Some(value) = value else { continue };
            let at = group.shapes.iter().find_map(|shape| match shape {
                Shape::Text(text) if text.words == caption => Some(text.at),
                _ => None,
            });
            if let Some(at) = at {
                let value = clipped(value, room - 2.4, MODULE, Weight::Plain);
                let shape = text((at.x, at.y + 4.6), &value, SMALL, Anchor::Start);
                group.shapes.push(shape);
            }
        }
    }
}

/// Words cut to a width, with an ellipsis where something is missing.
pub fn clipped(words: &str, room: f64, height: f64, weight: Weight) -> String {
    if lettering::width(words, height, weight) <= room {
        return words.to_owned();
    }
    let mut kept: String = words.to_owned();
    while !kept.is_empty() && lettering::width(&format!("{kept}…"), height, weight) > room {
        kept.pop();
    }
    format!("{}…", kept.trim_end())
}

/// The scheme's title on one line, else on two smaller ones.
fn title_lines(title: &str, room: f64) -> (f64, Vec<String>) {
    if lettering::width(title, 3.5, Weight::Bold) <= room {
        return (3.5, vec![title.to_owned()]);
    }
    let mut lines = lettering::wrapped(title, room, 3.0, Weight::Bold);
    let rest = lines.split_off(lines.len().min(1)).join(" ");
    lines.push(rest);
    let fit = |line: &String| clipped(line, room, 3.0, Weight::Bold);
    (3.0, lines.iter().map(fit).collect())
}

/// The title block in the lower right corner. Fields the text does not fill stay empty.
pub fn title_block(scheme: &Scheme, paper: Paper, block: &TitleBlock) -> Group {
    let frame = paper.frame();
    let (right, bottom) = (frame.right, frame.bottom);
    let (left, top) = (right - TITLE_WIDTH, bottom - TITLE_HEIGHT);
    let columns = [left, left + 45.0, left + 90.0, left + 137.0, right];
    let rows = [top, top + 10.0, top + 23.0, bottom];
    let mut shapes =
        vec![Shape::rectangle(Area { left, top, right, bottom }, Pen::Rail, Fill::None)];
    let mid = columns[2];
    for line in [
        [(left, rows[1]), (right, rows[1])],
        [(mid, rows[2]), (right, rows[2])],
        [(columns[1], rows[0]), (columns[1], rows[1])],
        [(mid, rows[0]), (mid, rows[3])],
        [(columns[3], rows[0]), (columns[3], rows[3])],
        [(left + 158.0, rows[1]), (left + 158.0, rows[3])],
    ] {
        shapes.push(thin(&line, Pen::Thin));
    }
    let date = scheme
        .revisions
        .iter()
        .find(|revision| Some(&revision.name) == scheme.revision.as_ref())
        .or(scheme.revisions.last())
        .and_then(|revision| revision.date.clone())
        .unwrap_or_default();
    let by = scheme.revisions.iter().rev().find_map(|revision| revision.by.clone());
    let sheet = format!("{} of {}", block.sheet.0, block.sheet.1);
    let revision = scheme.revision.clone().unwrap_or_default();
    let fields: [(f64, f64, f64, &str, &str); 10] = [
        (columns[0], rows[0], 45.0, OWNER, ""),
        (columns[1], rows[0], 45.0, "Created by", by.as_deref().unwrap_or("")),
        (columns[2], rows[0], 47.0, APPROVED, ""),
        (columns[3], rows[0], 43.0, "Document type", block.document),
        (columns[2], rows[1], 47.0, NUMBER, ""),
        (columns[3], rows[1], 21.0, "Revision", &revision),
        (left + 158.0, rows[1], 22.0, "Sheet", &sheet),
        (columns[2], rows[2], 47.0, "Date of issue", &date),
        (columns[3], rows[2], 21.0, "Paper", paper.name()),
        (left + 158.0, rows[2], 22.0, "Symbols", block.symbols.name()),
    ];
    for (x, y, room, caption, value) in fields {
        shapes.push(text((x + 1.2, y + 3.7), caption, SMALL_SECOND, Anchor::Start));
        let value = clipped(value, room - 2.4, MODULE, Weight::Plain);
        shapes.push(text((x + 1.2, y + 8.3), &value, SMALL, Anchor::Start));
    }
    shapes.push(text((left + 1.2, rows[1] + 3.7), "Title", SMALL_SECOND, Anchor::Start));
    let room = 90.0 - 2.4;
    let (size, lines) = title_lines(&scheme.title, room);
    let base = rows[1] + if lines.len() > 1 { 8.2 } else { 10.2 };
    for (line, words) in lines.iter().enumerate() {
        let y = base + size * lettering::LEADING * line as f64;
        shapes.push(text((left + 1.2, y), words, (size, Weight::Bold, Ink::Main), Anchor::Start));
    }
    let mut height = 5.0;
    while height > 3.5 && lettering::width(&block.circuit, height, Weight::Bold) > room {
        height -= 0.5;
    }
    let circuit = clipped(&block.circuit, room, height, Weight::Bold);
    let look = (height, Weight::Bold, Ink::Main);
    shapes.push(text((left + 1.2, rows[1] + 20.5), &circuit, look, Anchor::Start));
    shapes.retain(|shape| !matches!(shape, Shape::Text(text) if text.words.is_empty()));
    Group {
        id: format!("sheet-{}-title", block.sheet.0),
        role: Role::Furniture,
        title: format!("Title block of sheet {}", block.sheet.0),
        source: None,
        shapes,
    }
}

/// The revision table left of the title block, newest on top.
pub fn revision_table(revisions: &[Revision], paper: Paper, number: usize) -> Option<Group> {
    if revisions.is_empty() {
        return None;
    }
    let frame = paper.frame();
    let right = frame.right - TITLE_WIDTH;
    let left = right - REVISIONS_WIDTH;
    let bottom = frame.bottom;
    // As many as fit beside the title block; the newest matter most.
    let shown = revisions.len().min(7);
    let mut lines: Vec<(String, String, Vec<String>)> = Vec::new();
    for revision in revisions.iter().rev().take(shown) {
        let words =
            lettering::wrapped(&revision.text, REVISIONS_WIDTH - 31.5, MODULE, Weight::Plain);
        lines.push((
            clipped(&revision.name, 7.0, MODULE, Weight::Plain),
            clipped(revision.date.as_deref().unwrap_or(""), 19.0, MODULE, Weight::Plain),
            words
                .into_iter()
                .map(|words| clipped(&words, REVISIONS_WIDTH - 31.5, MODULE, Weight::Plain))
                .collect(),
        ));
    }
    let row = 4.9;
    let leading = MODULE * lettering::LEADING;
    let mut shapes = Vec::new();
    let mut y = bottom;
    let heading = ("Rev".to_owned(), "Date".to_owned(), vec!["Change".to_owned()]);
    let mut rows = vec![heading];
    rows.extend(lines.into_iter().rev());
    for (name, date, words) in rows {
        let extra = leading * (words.len().max(1) - 1) as f64;
        if y - row - extra < bottom - TITLE_HEIGHT {
            break;
        }
        let first = y - extra - 1.5;
        let look = if y == bottom { SMALL_SECOND } else { SMALL };
        shapes.push(text((left + 1.2, first), &name, look, Anchor::Start));
        shapes.push(text((left + 9.2, first), &date, look, Anchor::Start));
        for (index, words) in words.iter().enumerate() {
            let at = (left + 30.2, first + leading * index as f64);
            shapes.push(text(at, words, look, Anchor::Start));
        }
        y -= row + extra;
        shapes.push(thin(&[(left, y), (right, y)], Pen::Rule));
    }
    for x in [left, left + 8.0, left + 29.0] {
        shapes.push(thin(&[(x, y), (x, bottom)], Pen::Rule));
    }
    shapes.retain(|shape| !matches!(shape, Shape::Text(text) if text.words.is_empty()));
    Some(Group {
        id: format!("sheet-{number}-revisions"),
        role: Role::Furniture,
        title: "Revisions".to_owned(),
        source: None,
        shapes,
    })
}

/// Left edge of the revision table and title block: notes end before it.
pub fn furniture_left(paper: Paper, revisions: bool) -> f64 {
    paper.frame().right - TITLE_WIDTH - if revisions { REVISIONS_WIDTH } else { 0.0 }
}
