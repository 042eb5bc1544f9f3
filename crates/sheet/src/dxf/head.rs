//! What a DXF file needs around its entities. **In:** the names of the blocks, the sheets. **Out:**
//! header, tables, blocks' ends, layouts. **Never here:** marks.
//!
//! The least that the format's R2010 asks for, as far as two readers that we did not write want it.

use super::layers::Layer;
use super::marks::{line_type, line_width, style};
use super::tags::{Handle, Tags};
use crate::geometry::{Dash, Drawing, Pen, Point, Weight, point};

/// A block with its three objects.
pub struct Record {
    /// Its name.
    pub name: String,
    /// In the table of blocks; owns what is in it.
    pub record: Handle,
    /// Where it begins.
    pub begin: Handle,
    /// Where it ends.
    pub end: Handle,
}

/// A layout: a sheet of paper that looks at its part of the model.
pub struct Layout {
    /// The paper as a block.
    pub block: Record,
    /// The layout's object.
    pub layout: Handle,
    /// The paper's own viewport.
    pub paper: Handle,
    /// The viewport into the model.
    pub view: Handle,
    /// What its tab says.
    pub name: String,
    /// Place among the tabs, from 1.
    pub order: i32,
    /// Width and height of the paper, mm.
    pub size: Point,
    /// The middle of the sheet in the model.
    pub middle: Point,
}

/// All handles that must be known before anything is written.
pub struct Plan {
    /// The model.
    pub model: Record,
    model_layout: Handle,
    /// The blocks of symbols.
    pub blocks: Vec<Record>,
    /// The layouts.
    pub layouts: Vec<Layout>,
    tables: [Handle; 9],
    root: [Handle; 7],
    plot_style: Handle,
    mline: Handle,
    /// The last handle given.
    pub last: u32,
}

/// The tables of the format, in its order.
const TABLES: [&str; 9] =
    ["VPORT", "LTYPE", "LAYER", "STYLE", "VIEW", "UCS", "APPID", "DIMSTYLE", "BLOCK_RECORD"];

impl Plan {
    /// Gives out handles.
    pub fn new(blocks: impl Iterator<Item = String>, drawing: &Drawing) -> Self {
        let mut last = 0;
        let mut next = || {
            last += 1;
            Handle(last)
        };
        let tables = TABLES.map(|_| next());
        let root = [0; 7].map(|_| next());
        let (plot_style, mline, model_layout) = (next(), next(), next());
        let model = record("*Model_Space".to_owned(), &mut next);
        let blocks = blocks.map(|name| record(name, &mut next)).collect();
        let mut layouts: Vec<Layout> = Vec::new();
        let corners = super::corners(drawing);
        for (index, (sheet, left)) in drawing.sheets.iter().zip(corners).enumerate() {
            let name = tab(sheet.number, &sheet.title);
            let order = i32::try_from(index + 1).unwrap_or(i32::MAX);
            layouts.push(Layout::of(sheet, left, name, order, &mut next));
        }
        Self { model, model_layout, blocks, layouts, tables, root, plot_style, mline, last }
    }

    fn table(&self, name: &str) -> Handle {
        let at = TABLES.iter().position(|table| *table == name).unwrap_or(0);
        self.tables[at]
    }
}

fn record(name: String, next: &mut impl FnMut() -> Handle) -> Record {
    Record { name, record: next(), begin: next(), end: next() }
}

/// A tab's name: the number makes it unique; signs that names of layouts cannot have are left out.
fn tab(number: usize, title: &str) -> String {
    let fit = |letter: &char| !"<>/\\\":;?*|,=`".contains(*letter) && !letter.is_control();
    let words: String = title.chars().filter(fit).take(60).collect();
    format!("{number} {}", words.trim())
}

/// The header: version, units, extent.
pub fn header(tags: &mut Tags, plan: &Plan, corner: Point) {
    tags.word(0, "SECTION");
    tags.word(2, "HEADER");
    let name = |tags: &mut Tags, name: &str| tags.word(9, name);
    name(tags, "$ACADVER");
    tags.word(1, "AC1024");
    name(tags, "$DWGCODEPAGE");
    tags.word(3, "ANSI_1252");
    name(tags, "$INSBASE");
    tags.point(10, point(0.0, 0.0));
    name(tags, "$EXTMIN");
    tags.point(10, point(0.0, 0.0));
    name(tags, "$EXTMAX");
    tags.point(10, corner);
    name(tags, "$LIMMIN");
    tags.flat(10, point(0.0, 0.0));
    name(tags, "$LIMMAX");
    tags.flat(10, corner);
    for (variable, code, value) in [
        // Dashes in millimetres, also through a viewport.
        ("$FILLMODE", 70, 1),
        ("$ATTMODE", 70, 1),
        ("$PSLTSCALE", 70, 1),
        ("$LUNITS", 70, 2),
        ("$LUPREC", 70, 2),
        // Metric, millimetres.
        ("$MEASUREMENT", 70, 1),
        ("$INSUNITS", 70, 4),
        // Line widths are shown.
        ("$LWDISPLAY", 290, 1),
    ] {
        name(tags, variable);
        tags.whole(code, value);
    }
    for (variable, value) in [("$LTSCALE", 1.0), ("$CELTSCALE", 1.0), ("$TEXTSIZE", 2.5)] {
        name(tags, variable);
        tags.real(40, value);
    }
    name(tags, "$TEXTSTYLE");
    tags.word(7, style(Weight::Plain));
    name(tags, "$CLAYER");
    tags.word(8, "0");
    name(tags, "$HANDSEED");
    tags.handle(5, Handle(plan.last + 1000));
    tags.word(0, "ENDSEC");
}

/// The tables. Their entries get handles above all others.
pub fn tables(tags: &mut Tags, plan: &Plan) {
    let mut own = plan.last;
    let mut next = || {
        own += 1;
        Handle(own)
    };
    tags.word(0, "SECTION");
    tags.word(2, "CLASSES");
    tags.word(0, "ENDSEC");
    tags.word(0, "SECTION");
    tags.word(2, "TABLES");
    for name in TABLES {
        let table = plan.table(name);
        tags.word(0, "TABLE");
        tags.word(2, name);
        tags.handle(5, table);
        tags.handle(330, Handle::NOBODY);
        tags.word(100, "AcDbSymbolTable");
        match name {
            "VPORT" => window(tags, next(), table, plan),
            "LTYPE" => line_types(tags, &mut next, table),
            "LAYER" => layers(tags, &mut next, table, plan),
            "STYLE" => styles(tags, &mut next, table),
            "APPID" => {
                tags.whole(70, 1);
                entry(tags, ("APPID", 5), next(), table, "AcDbRegAppTableRecord", "ACAD");
            }
            "DIMSTYLE" => {
                tags.whole(70, 1);
                tags.word(100, "AcDbDimStyleTable");
                let entry_of = ("DIMSTYLE", 105);
                entry(tags, entry_of, next(), table, "AcDbDimStyleTableRecord", "Standard");
            }
            "BLOCK_RECORD" => {
                block_records(tags, table, plan);
            }
            _ => tags.whole(70, 0),
        }
        tags.word(0, "ENDTAB");
    }
    tags.word(0, "ENDSEC");
}

/// The head of an entry: its kind and the code of its handle, its class, its name.
fn entry(
    tags: &mut Tags,
    (kind, code): (&str, u16),
    handle: Handle,
    table: Handle,
    class: &str,
    name: &str,
) {
    tags.word(0, kind);
    tags.handle(code, handle);
    tags.handle(330, table);
    tags.word(100, "AcDbSymbolTableRecord");
    tags.word(100, class);
    tags.word(2, name);
    tags.whole(70, 0);
}

/// What a program shows when it opens the file: the first sheet.
fn window(tags: &mut Tags, handle: Handle, table: Handle, plan: &Plan) {
    tags.whole(70, 1);
    tags.word(0, "VPORT");
    tags.handle(5, handle);
    tags.handle(330, table);
    tags.word(100, "AcDbSymbolTableRecord");
    tags.word(100, "AcDbViewportTableRecord");
    tags.word(2, "*Active");
    tags.whole(70, 0);
    let (middle, size) = plan
        .layouts
        .first()
        .map_or((point(0.0, 0.0), point(420.0, 297.0)), |layout| (layout.middle, layout.size));
    for (code, at) in [
        (10, point(0.0, 0.0)),
        (11, point(1.0, 1.0)),
        (12, middle),
        (13, point(0.0, 0.0)),
        (14, point(2.5, 2.5)),
        (15, point(2.5, 2.5)),
    ] {
        tags.flat(code, at);
    }
    tags.point(16, point(0.0, 0.0));
    // Seen from above.
    tags.real(36, 1.0);
    tags.point(17, point(0.0, 0.0));
    tags.real(40, size.y * 1.05);
    tags.real(41, 1.6);
    tags.real(42, 50.0);
    for code in [43, 44, 50, 51] {
        tags.real(code, 0.0);
    }
    for (code, value) in [(71, 0), (72, 1000), (73, 1), (74, 3), (75, 0), (76, 0), (77, 0), (78, 0)]
    {
        tags.whole(code, value);
    }
}

fn line_types(tags: &mut Tags, next: &mut impl FnMut() -> Handle, table: Handle) {
    let mut types: Vec<(&str, &[f64])> = vec![("ByBlock", &[]), ("ByLayer", &[])];
    types.push(("Continuous", &[]));
    for dash in [Dash::LongDashDot, Dash::Dashes, Dash::Between, Dash::Dots] {
        types.extend(line_type(dash).map(|name| (name, dash.pattern())));
    }
    tags.whole(70, i32::try_from(types.len()).unwrap_or(0));
    for (name, pattern) in types {
        let kind = ("LTYPE", 5);
        entry(tags, kind, next(), table, "AcDbLinetypeTableRecord", name);
        tags.word(3, "");
        tags.whole(72, 65);
        tags.whole(73, i32::try_from(pattern.len()).unwrap_or(0));
        tags.real(40, pattern.iter().sum());
        for (index, length) in pattern.iter().enumerate() {
            // Gaps are negative.
            tags.real(49, if index % 2 == 0 { *length } else { -length });
            tags.whole(74, 0);
        }
    }
}

fn layers(tags: &mut Tags, next: &mut impl FnMut() -> Handle, table: Handle, plan: &Plan) {
    tags.whole(70, i32::try_from(Layer::ALL.len()).unwrap_or(0));
    for layer in Layer::ALL {
        entry(tags, ("LAYER", 5), next(), table, "AcDbLayerTableRecord", layer.name());
        // 7: black on white, white on black. No sheet needs a colour.
        tags.whole(62, 7);
        tags.word(6, "Continuous");
        if layer == Layer::Viewports {
            // The edge of a viewport is not printed.
            tags.whole(290, 0);
        }
        let width = if layer == Layer::Zero { Pen::Thin } else { layer.pen() };
        tags.whole(370, line_width(width));
        tags.handle(390, plan.plot_style);
    }
}

fn styles(tags: &mut Tags, next: &mut impl FnMut() -> Handle, table: Handle) {
    tags.whole(70, 3);
    let faces = [
        ("Standard", "arial.ttf"),
        (style(Weight::Plain), "arial.ttf"),
        (style(Weight::Bold), "arialbd.ttf"),
    ];
    for (name, file) in faces {
        entry(tags, ("STYLE", 5), next(), table, "AcDbTextStyleTableRecord", name);
        tags.real(40, 0.0);
        tags.real(41, 1.0);
        tags.real(50, 0.0);
        tags.whole(71, 0);
        tags.real(42, 2.5);
        tags.word(3, file);
        tags.word(4, "");
    }
}

fn block_records(tags: &mut Tags, table: Handle, plan: &Plan) {
    let papers = plan.layouts.iter().map(|layout| (&layout.block, layout.layout));
    let symbols = plan.blocks.iter().map(|record| (record, Handle::NOBODY));
    let all: Vec<_> =
        std::iter::once((&plan.model, plan.model_layout)).chain(papers).chain(symbols).collect();
    tags.whole(70, i32::try_from(all.len()).unwrap_or(0));
    for (record, layout) in all {
        tags.word(0, "BLOCK_RECORD");
        tags.handle(5, record.record);
        tags.handle(330, table);
        tags.word(100, "AcDbSymbolTableRecord");
        tags.word(100, "AcDbBlockTableRecord");
        tags.words(2, &record.name);
        tags.handle(340, layout);
        // Millimetres; may be taken apart.
        tags.whole(70, 4);
        tags.whole(280, 1);
        tags.whole(281, 0);
    }
}

/// The begin of a block. `attributes`: it has definitions of attributes.
pub fn begin_block(tags: &mut Tags, record: &Record, at: Point, attributes: bool) {
    tags.object("BLOCK", record.begin, record.record);
    tags.word(100, "AcDbEntity");
    tags.word(8, "0");
    tags.word(100, "AcDbBlockBegin");
    tags.words(2, &record.name);
    tags.whole(70, if attributes { 2 } else { 0 });
    tags.point(10, at);
    tags.words(3, &record.name);
    tags.word(1, "");
}

/// The end of a block.
pub fn end_block(tags: &mut Tags, record: &Record) {
    tags.object("ENDBLK", record.end, record.record);
    tags.word(100, "AcDbEntity");
    tags.word(8, "0");
    tags.word(100, "AcDbBlockEnd");
}

/// A block whose entities stand elsewhere.
pub fn empty_block(tags: &mut Tags, record: &Record) {
    begin_block(tags, record, point(0.0, 0.0), false);
    end_block(tags, record);
}

/// The viewports of a layout: the paper itself, and the sheet in the model at true scale.
pub fn viewports(tags: &mut Tags, layout: &Layout) {
    let middle = point(layout.size.x / 2.0, layout.size.y / 2.0);
    // The first shows the paper, somewhat larger than it is.
    for (handle, number, grown, looks_at) in
        [(layout.paper, 1, 1.1, middle), (layout.view, 2, 1.0, layout.middle)]
    {
        tags.object("VIEWPORT", handle, layout.block.record);
        tags.word(100, "AcDbEntity");
        tags.whole(67, 1);
        tags.word(8, Layer::Viewports.name());
        tags.word(100, "AcDbViewport");
        tags.point(10, middle);
        tags.real(40, layout.size.x * grown);
        tags.real(41, layout.size.y * grown);
        tags.whole(68, number);
        tags.whole(69, number);
        tags.flat(12, looks_at);
        tags.flat(13, point(0.0, 0.0));
        tags.flat(14, point(2.5, 2.5));
        tags.flat(15, point(2.5, 2.5));
        tags.point(16, point(0.0, 0.0));
        tags.real(36, 1.0);
        tags.point(17, point(0.0, 0.0));
        tags.real(42, 50.0);
        tags.real(43, 0.0);
        tags.real(44, 0.0);
        tags.real(45, layout.size.y * grown);
        tags.real(50, 0.0);
        tags.real(51, 0.0);
        tags.whole(72, 100);
        // 557056: on, no grid, scale locked is 16384.
        tags.whole(90, if number == 1 { 557_056 } else { 557_056 + 16_384 });
        tags.word(1, "");
        for code in [281, 71, 74] {
            tags.whole(code, 0);
        }
        tags.point(110, point(0.0, 0.0));
        tags.point(111, point(1.0, 0.0));
        tags.point(112, point(0.0, 1.0));
        tags.whole(79, 0);
        tags.real(146, 0.0);
    }
}

/// Dictionaries, plot style, layouts.
pub fn objects(tags: &mut Tags, plan: &Plan) {
    let [root, groups, layouts, mlines, settings, plots, materials] = plan.root;
    tags.word(0, "SECTION");
    tags.word(2, "OBJECTS");
    dictionary(
        tags,
        (root, Handle::NOBODY),
        &[
            ("ACAD_GROUP", groups),
            ("ACAD_LAYOUT", layouts),
            ("ACAD_MATERIAL", materials),
            ("ACAD_MLINESTYLE", mlines),
            ("ACAD_PLOTSETTINGS", settings),
            ("ACAD_PLOTSTYLENAME", plots),
        ],
    );
    dictionary(tags, (groups, root), &[]);
    dictionary(tags, (materials, root), &[]);
    dictionary(tags, (settings, root), &[]);
    dictionary(tags, (mlines, root), &[("Standard", plan.mline)]);
    let mut tabs: Vec<(&str, Handle)> = vec![("Model", plan.model_layout)];
    tabs.extend(plan.layouts.iter().map(|layout| (layout.name.as_str(), layout.layout)));
    dictionary(tags, (layouts, root), &tabs);
    tags.object("ACDBDICTIONARYWDFLT", plots, root);
    tags.word(100, "AcDbDictionary");
    tags.whole(281, 1);
    tags.word(3, "Normal");
    tags.handle(350, plan.plot_style);
    tags.word(100, "AcDbDictionaryWithDefault");
    tags.handle(340, plan.plot_style);
    tags.object("ACDBPLACEHOLDER", plan.plot_style, plots);
    tags.object("MLINESTYLE", plan.mline, mlines);
    tags.word(100, "AcDbMlineStyle");
    tags.word(2, "Standard");
    tags.whole(70, 0);
    tags.word(3, "");
    tags.whole(62, 256);
    tags.real(51, 90.0);
    tags.real(52, 90.0);
    tags.whole(71, 2);
    for side in [0.5, -0.5] {
        tags.real(49, side);
        tags.whole(62, 256);
        tags.word(6, "BYLAYER");
    }
    let size = plan.layouts.first().map_or(point(420.0, 297.0), |layout| layout.size);
    layout(tags, (plan.model_layout, layouts), "Model", 0, size, &plan.model, None);
    for paper in &plan.layouts {
        let owner = (paper.layout, layouts);
        layout(tags, owner, &paper.name, paper.order, paper.size, &paper.block, Some(paper.paper));
    }
    tags.word(0, "ENDSEC");
}

fn dictionary(tags: &mut Tags, (own, owner): (Handle, Handle), entries: &[(&str, Handle)]) {
    tags.object("DICTIONARY", own, owner);
    tags.word(100, "AcDbDictionary");
    tags.whole(281, 1);
    for (name, handle) in entries {
        tags.words(3, name);
        tags.handle(350, *handle);
    }
}

fn layout(
    tags: &mut Tags,
    (own, owner): (Handle, Handle),
    name: &str,
    order: i32,
    size: Point,
    block: &Record,
    viewport: Option<Handle>,
) {
    tags.object("LAYOUT", own, owner);
    tags.word(100, "AcDbPlotSettings");
    tags.word(1, "");
    tags.word(4, "");
    tags.word(6, "");
    for code in 40..=43 {
        // No margins: the sheet has its own.
        tags.real(code, 0.0);
    }
    tags.real(44, size.x);
    tags.real(45, size.y);
    for code in [46, 47, 48, 49, 140, 141] {
        tags.real(code, 0.0);
    }
    tags.real(142, 1.0);
    tags.real(143, 1.0);
    // 32 + 128 + 512: true widths of lines, in millimetres, viewports first. 1024: the model.
    tags.whole(70, if order == 0 { 1024 } else { 672 });
    // Millimetres, not turned, the layout as it is.
    tags.whole(72, 1);
    tags.whole(73, 0);
    tags.whole(74, 5);
    tags.word(7, "");
    // 1 : 1.
    tags.whole(75, 16);
    tags.whole(76, 0);
    tags.whole(77, 2);
    tags.whole(78, 300);
    tags.real(147, 1.0);
    tags.real(148, 0.0);
    tags.real(149, 0.0);
    tags.word(100, "AcDbLayout");
    tags.words(1, name);
    tags.whole(70, 1);
    tags.whole(71, order);
    tags.flat(10, point(0.0, 0.0));
    tags.flat(11, size);
    tags.point(12, point(0.0, 0.0));
    tags.point(14, point(0.0, 0.0));
    tags.point(15, size);
    tags.real(146, 0.0);
    tags.point(13, point(0.0, 0.0));
    tags.point(16, point(1.0, 0.0));
    tags.point(17, point(0.0, 1.0));
    tags.whole(76, 1);
    tags.handle(330, block.record);
    if let Some(viewport) = viewport {
        tags.handle(331, viewport);
    }
}
