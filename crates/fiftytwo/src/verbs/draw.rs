//! `draw`: the schematic as SVG, all sheets in one file and each in its own.

use crate::input::Checked;
use crate::json::{JsonDrawing, JsonSheet, Results};
use crate::output::Outputs;
use crate::page::{Page, count_of};
use crate::report::Report;
use crate::verbs::{file, notes};
use fiftytwo_scheme::Finding;
use fiftytwo_sheet::Options;
use std::path::Path;

/// Where drawings go if nobody says where.
pub const FOLDER: &str = "out";

/// Draws the schemes.
pub fn draw<'a>(schemes: &[Checked<'a>], out: Option<&Path>) -> Report<'a> {
    let folder = out.unwrap_or(Path::new(FOLDER));
    let mut page = Page::default();
    let mut outputs = Outputs::default();
    let mut findings = notes(schemes);
    let mut drawings = Vec::new();
    for checked in schemes {
        let (drawing, faults) = one(checked, folder, &mut outputs);
        page.head(&checked.scheme.title);
        let sheets = count_of(drawing.sheets.len(), "sheet");
        page.words(2, 2, &format!("{sheets} in {}", drawing.written));
        for sheet in &drawing.sheets {
            let JsonSheet { number, title, width_mm, height_mm, .. } = sheet;
            page.words(2, 4, &format!("{number}  {title} ({width_mm} × {height_mm} mm)"));
        }
        findings.extend(faults.into_iter().map(|it| checked.told(it)));
        drawings.push(drawing);
    }
    Report {
        text: page.into_text(),
        files: schemes.iter().map(file).collect(),
        findings,
        results: Results { drawings: Some(drawings), ..Results::default() },
        outputs,
        ..Report::default()
    }
}

/// Draws one scheme; what is crowded on it comes back as notes.
pub fn one(
    checked: &Checked<'_>,
    folder: &Path,
    outputs: &mut Outputs,
) -> (JsonDrawing, Vec<Finding>) {
    let stem = &checked.named.stem;
    let drawing = fiftytwo_sheet::draw(checked.scheme, &Options::default());
    let whole = folder.join(format!("{stem}.svg"));
    outputs.add(&whole, fiftytwo_sheet::whole_svg(&drawing));
    let mut sheets = Vec::new();
    for sheet in &drawing.sheets {
        let path = folder.join(format!("{stem}-{}.svg", sheet.number));
        outputs.add(&path, fiftytwo_sheet::svg(sheet));
        sheets.push(JsonSheet {
            number: sheet.number,
            title: sheet.title.clone(),
            width_mm: sheet.width,
            height_mm: sheet.height,
            written: crate::input::shown(&path),
        });
    }
    let crowded = fiftytwo_sheet::verify(&drawing, checked.scheme).into_iter().map(|fault| {
        Finding::note("drawing-crowded", format!("sheet {}: {}", fault.sheet, fault.words))
            .why("the drawing is whole, but hard to read there")
    });
    let arranged =
        drawing.notes.iter().map(|note| Finding::note("drawing-arranged", note.as_str()));
    let findings = arranged.chain(crowded).collect();
    let written = crate::input::shown(&whole);
    (JsonDrawing { file: checked.named.shown.clone(), written, sheets }, findings)
}
