//! `draw`: the schematic as SVG, all sheets in one file and each in its own, as PDF and as DXF.

use crate::args::Form;
use crate::input::{Checked, shown};
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

/// All forms of a drawing.
pub const ALL: [Form; 3] = [Form::Svg, Form::Pdf, Form::Dxf];

/// Draws the schemes.
pub fn draw<'a>(schemes: &[Checked<'a>], forms: &[Form], out: Option<&Path>) -> Report<'a> {
    let folder = out.unwrap_or(Path::new(FOLDER));
    let mut page = Page::default();
    let mut outputs = Outputs::default();
    let mut findings = notes(schemes);
    let mut drawings = Vec::new();
    for checked in schemes {
        let (drawing, faults) = one(checked, forms, folder, &mut outputs);
        page.head(&checked.scheme.title);
        let sheets = count_of(drawing.sheets.len(), "sheet");
        let files = drawing.written.join(", ");
        page.words(2, 2, &format!("{sheets} in {files}"));
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

/// Draws one scheme in these forms; what is crowded on it comes back as notes.
pub fn one(
    checked: &Checked<'_>,
    forms: &[Form],
    folder: &Path,
    outputs: &mut Outputs,
) -> (JsonDrawing, Vec<Finding>) {
    let stem = &checked.named.stem;
    let drawing = fiftytwo_sheet::draw(checked.scheme, &Options::default());
    let mut sheets: Vec<JsonSheet> = drawing
        .sheets
        .iter()
        .map(|sheet| JsonSheet {
            number: sheet.number,
            title: sheet.title.clone(),
            width_mm: sheet.width,
            height_mm: sheet.height,
            written: None,
        })
        .collect();
    let mut written = Vec::new();
    for form in ALL.into_iter().filter(|form| forms.contains(form)) {
        let (ending, bytes) = match form {
            Form::Svg => ("svg", fiftytwo_sheet::whole_svg(&drawing).into_bytes()),
            Form::Pdf => ("pdf", fiftytwo_sheet::pdf(&drawing)),
            Form::Dxf => ("dxf", fiftytwo_sheet::dxf(&drawing).into_bytes()),
        };
        let whole = folder.join(format!("{stem}.{ending}"));
        written.push(shown(&whole));
        outputs.add(whole, bytes);
        if form == Form::Svg {
            for (sheet, told) in drawing.sheets.iter().zip(&mut sheets) {
                let path = folder.join(format!("{stem}-{}.svg", sheet.number));
                told.written = Some(shown(&path));
                outputs.add(path, fiftytwo_sheet::svg(sheet));
            }
        }
    }
    let crowded = fiftytwo_sheet::verify(&drawing, checked.scheme).into_iter().map(|fault| {
        Finding::note("drawing-crowded", format!("sheet {}: {}", fault.sheet, fault.words))
            .why("the drawing is whole, but hard to read there")
    });
    let arranged =
        drawing.notes.iter().map(|note| Finding::note("drawing-arranged", note.as_str()));
    let lacking = fiftytwo_sheet::unknown_letters(&drawing);
    let lacking = (!lacking.is_empty()).then(|| {
        let letters: String = lacking.into_iter().collect();
        let words = format!("the typeface of the drawing lacks {letters}");
        Finding::note("drawing-letters", words)
            .why("a PDF shows a box for each; an SVG or DXF is read in a typeface of the machine")
            .help("write these names in Latin letters")
    });
    let findings = arranged.chain(crowded).chain(lacking).collect();
    (JsonDrawing { file: checked.named.shown.clone(), written, sheets }, findings)
}
