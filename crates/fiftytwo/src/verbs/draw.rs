//! `draw`: the schematic as SVG, all sheets in one file and each in its own, as PDF and as DXF; and
//! pictures beside it.

use crate::args::{self, Form, LegsArg, PaperArg, SymbolsArg};
use crate::input::{Checked, shown};
use crate::json::{JsonDrawing, JsonSheet, Results};
use crate::output::Outputs;
use crate::page::{Page, count_of};
use crate::report::Report;
use crate::verbs::{file, notes, play, slug, watched};
use fiftytwo_motion::Timeline;
use fiftytwo_scene::told::{Told, told};
use fiftytwo_scene::{along, chart, state};
use fiftytwo_scheme::{Finding, Scheme};
use fiftytwo_sheet::{
    Drawing, Legs, Look, Options, Panel, Paper, Symbols, TitleFields, Watched, fill_title,
};
use std::path::Path;

/// Where drawings go if nobody says where.
pub const FOLDER: &str = "out";

/// All forms of a drawing.
pub const ALL: [Form; 3] = [Form::Svg, Form::Pdf, Form::Dxf];

/// What to draw, and how.
#[derive(Debug, Clone, Default)]
pub struct Asked<'a> {
    /// In which forms.
    pub forms: Vec<Form>,
    /// Paper, symbols, arrangement, cover.
    pub options: Options,
    /// Colours.
    pub look: Look,
    /// Mark what changed since this earlier scheme.
    pub since: Option<&'a Scheme>,
    /// The matrix of the text as a picture.
    pub matrix: bool,
    /// A coil whose volts are drawn along its worst way.
    pub volts: Option<&'a str>,
    /// A coil of which is drawn what its monitors watch.
    pub watched: Option<&'a str>,
    /// A story and moments of it, µs.
    pub story: Option<(&'a str, Vec<i64>)>,
    /// Fields of the title block that no scheme has words for.
    pub title: TitleFields,
}

impl<'a> Asked<'a> {
    /// The plain sheets in all forms.
    pub fn all() -> Self {
        Self { forms: ALL.to_vec(), ..Self::default() }
    }
    /// What was typed.
    pub fn new(typed: &'a args::Draw, since: Option<&'a Scheme>) -> Self {
        let options = Options {
            paper: match typed.paper {
                PaperArg::B => Paper::AnsiB,
                PaperArg::C => Paper::AnsiC,
                PaperArg::D => Paper::AnsiD,
                PaperArg::A3 => Paper::IsoA3,
                PaperArg::A2 => Paper::IsoA2,
                PaperArg::A1 => Paper::IsoA1,
            },
            symbols: match typed.symbols {
                SymbolsArg::Ieee => Symbols::Ieee315,
                SymbolsArg::Iec => Symbols::Iec60617,
            },
            legs: match typed.legs {
                LegsArg::Upright => Legs::Upright,
                LegsArg::Across => Legs::Across,
            },
            cover: typed.cover,
            ..Options::default()
        };
        let mut times: Vec<i64> = typed.at.clone();
        times.sort_unstable();
        times.dedup();
        Self {
            forms: typed.to.clone(),
            options,
            look: if typed.dark { Look::Dark } else { Look::Follow },
            since,
            matrix: typed.matrix,
            volts: typed.volts.as_deref(),
            watched: typed.watched.as_deref(),
            story: typed.story.as_deref().map(|name| (name, times)),
            title: TitleFields {
                owner: typed.owner.clone(),
                approved_by: typed.approved_by.clone(),
                number: typed.number.clone(),
            },
        }
    }
}

/// Draws the schemes.
pub fn draw<'a>(schemes: &[Checked<'a>], asked: &Asked<'_>, out: Option<&Path>) -> Report<'a> {
    let folder = out.unwrap_or(Path::new(FOLDER));
    let mut page = Page::default();
    let mut outputs = Outputs::default();
    let mut findings = notes(schemes);
    let mut drawings = Vec::new();
    let mut found = asked.story.is_none();
    for checked in schemes {
        let mut drawn = Vec::new();
        let picture = fiftytwo_sheet::pictures::matrix(checked.scheme);
        if let (true, Some(picture)) = (asked.matrix, picture) {
            let name = format!("{}-matrix", checked.named.stem);
            let faults = drawn_alone(checked, &picture, (asked, folder, &name), &mut outputs);
            findings.extend(faults.into_iter().map(|it| checked.told(it)));
        }
        if let Some(coil) = asked.volts {
            match along::along(checked.scheme, coil) {
                Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
                Ok(path) => {
                    let name = format!("{}-{}-volts", checked.named.stem, slug(coil));
                    if let Some(picture) = fiftytwo_sheet::pictures::along(&path) {
                        let into = (asked, folder, name.as_str());
                        let faults = drawn_alone(checked, &picture, into, &mut outputs);
                        findings.extend(faults.into_iter().map(|it| checked.told(it)));
                    }
                }
            }
        }
        if let Some(coil) = asked.watched {
            match watched::watched(checked, coil) {
                Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
                Ok(watched) => {
                    drawn.push(of_watched(checked, (asked, &watched), folder, &mut outputs))
                }
            }
        }
        match &asked.story {
            None => drawn.push(one(checked, asked, folder, &mut outputs)),
            Some((name, times)) => {
                let Some(story) = checked.scheme.story_named(name) else { continue };
                found = true;
                match state::moments(checked.scheme, story, times) {
                    Err(faults) => findings.extend(faults.into_iter().map(|it| checked.told(it))),
                    Ok((moments, timeline)) => {
                        let picture = fiftytwo_sheet::pictures::timeline(&chart::picture(
                            checked.scheme,
                            &timeline,
                        ));
                        let stem = format!("{}-{}", checked.named.stem, slug(name));
                        let into = format!("{stem}-timeline");
                        let into = (asked, folder, into.as_str());
                        let faults = drawn_alone(checked, &picture, into, &mut outputs);
                        findings.extend(faults.into_iter().map(|it| checked.told(it)));
                        for (moment, at) in moments.iter().zip(times) {
                            let at = state::milliseconds(*at).replace(" ms", "");
                            let name = format!("-{}-{at}", slug(name));
                            drawn.push(at_moment(
                                checked,
                                (asked, moment),
                                (folder, &name),
                                &mut outputs,
                            ));
                        }
                        if moments.len() > 1 {
                            let told = (*name, times.as_slice(), &timeline);
                            let board = board(checked, told, &moments, asked);
                            if let Some(board) = board {
                                let into = format!("{stem}-storyboard");
                                let into = (asked, folder, into.as_str());
                                let faults = drawn_alone(checked, &board, into, &mut outputs);
                                findings.extend(faults.into_iter().map(|it| checked.told(it)));
                            }
                        }
                    }
                }
            }
        }
        page.head(&checked.scheme.title);
        for (drawing, faults) in drawn {
            let sheets = count_of(drawing.sheets.len(), "sheet");
            page.words(2, 2, &format!("{sheets} in {}", drawing.written.join(", ")));
            for sheet in &drawing.sheets {
                let JsonSheet { number, title, width_mm, height_mm, .. } = sheet;
                page.words(2, 4, &format!("{number}  {title} ({width_mm} × {height_mm} mm)"));
            }
            findings.extend(faults.into_iter().map(|it| checked.told(it)));
            drawings.push(drawing);
        }
    }
    if let (false, Some((name, _)), Some(first)) = (found, &asked.story, schemes.first()) {
        findings.push(first.told(play::no_such_story(schemes, name)));
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
    asked: &Asked<'_>,
    folder: &Path,
    outputs: &mut Outputs,
) -> (JsonDrawing, Vec<Finding>) {
    let mut since = Vec::new();
    let mut drawing = match asked.since {
        None => fiftytwo_sheet::draw(checked.scheme, &asked.options),
        Some(earlier) => {
            let changes = fiftytwo_sheet::changes(earlier, checked.scheme);
            since.push(Finding::note("drawing-changed", changes.told(checked.scheme)));
            fiftytwo_sheet::draw_changed(checked.scheme, &asked.options, &changes)
        }
    };
    fill_title(&mut drawing, &asked.title);
    let crowded = crowded(&drawing, checked.scheme);
    let arranged =
        drawing.notes.iter().map(|note| Finding::note("drawing-arranged", note.as_str()));
    let findings = arranged.chain(since).chain(crowded).chain(lacking(&drawing)).collect();
    (write(checked, &drawing, (&asked.forms, asked.look), (folder, ""), outputs), findings)
}

/// Writes a picture beside the sheets in the forms asked for; what is crowded on it comes back as
/// notes.
fn drawn_alone(
    checked: &Checked<'_>,
    picture: &Drawing,
    (asked, folder, name): (&Asked<'_>, &Path, &str),
    outputs: &mut Outputs,
) -> Vec<Finding> {
    for form in ALL.into_iter().filter(|form| asked.forms.contains(form)) {
        let (ending, bytes) = bytes(picture, form, asked.look);
        outputs.add(folder.join(format!("{name}.{ending}")), bytes);
    }
    fiftytwo_sheet::verify_marks(picture, checked.scheme).iter().map(hard_to_read).collect()
}

/// A drawing in one form, with the ending of its file.
fn bytes(drawing: &Drawing, form: Form, look: Look) -> (&'static str, Vec<u8>) {
    match form {
        Form::Svg => ("svg", fiftytwo_sheet::whole_svg_in(drawing, look).into_bytes()),
        Form::Pdf => ("pdf", fiftytwo_sheet::pdf(drawing)),
        Form::Dxf => ("dxf", fiftytwo_sheet::dxf(drawing).into_bytes()),
    }
}

/// Draws what is watched of the path of a coil.
fn of_watched(
    checked: &Checked<'_>,
    (asked, watched): (&Asked<'_>, &Watched),
    folder: &Path,
    outputs: &mut Outputs,
) -> (JsonDrawing, Vec<Finding>) {
    let mut drawing = fiftytwo_sheet::draw_watched(checked.scheme, &asked.options, watched);
    fill_title(&mut drawing, &asked.title);
    let name = format!("-{}-watched", slug(&watched.coil));
    let crowded = crowded(&drawing, checked.scheme);
    (write(checked, &drawing, (&asked.forms, asked.look), (folder, &name), outputs), crowded)
}

/// The moments side by side, each with what happened in its circuit since the one before.
fn board(
    checked: &Checked<'_>,
    (name, times, timeline): (&str, &[i64], &Timeline),
    moments: &[state::Moment],
    asked: &Asked<'_>,
) -> Option<Drawing> {
    let scheme = checked.scheme;
    let panel = |(moment, at): (&state::Moment, &i64)| Panel {
        when: state::milliseconds(*at),
        what: String::new(),
        why: String::new(),
        live: moment.since.clone(),
    };
    let mut panels: Vec<Panel> = moments.iter().zip(times).map(panel).collect();
    let circuit = fiftytwo_sheet::board_circuit(scheme, name, &panels);
    let mut since = i64::MIN;
    for (panel, at) in panels.iter_mut().zip(times) {
        let Told { what, why } = told(scheme, &timeline.events, circuit, (since, *at));
        (panel.what, panel.why) = (what, why);
        since = *at;
    }
    fiftytwo_sheet::storyboard(scheme, asked.options.symbols, name, &panels)
}

/// Draws a moment of a story.
fn at_moment(
    checked: &Checked<'_>,
    (asked, moment): (&Asked<'_>, &state::Moment),
    into: (&Path, &str),
    outputs: &mut Outputs,
) -> (JsonDrawing, Vec<Finding>) {
    let mut drawing = fiftytwo_sheet::draw_live(checked.scheme, &asked.options, &moment.live);
    fill_title(&mut drawing, &asked.title);
    let crowded = crowded(&drawing, checked.scheme);
    (write(checked, &drawing, (&asked.forms, asked.look), into, outputs), crowded)
}

fn write(
    checked: &Checked<'_>,
    drawing: &Drawing,
    (forms, look): (&[Form], Look),
    (folder, name): (&Path, &str),
    outputs: &mut Outputs,
) -> JsonDrawing {
    let stem = &checked.named.stem;
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
        let (ending, bytes) = bytes(drawing, form, look);
        let whole = folder.join(format!("{stem}{name}.{ending}"));
        written.push(shown(&whole));
        outputs.add(whole, bytes);
        if form == Form::Svg {
            for (sheet, told) in drawing.sheets.iter().zip(&mut sheets) {
                let path = folder.join(format!("{stem}{name}-{}.svg", sheet.number));
                told.written = Some(shown(&path));
                outputs.add(path, fiftytwo_sheet::svg_in(sheet, look));
            }
        }
    }
    JsonDrawing { file: checked.named.shown.clone(), written, sheets }
}

/// Letters that the drawing's typeface does not have.
fn lacking(drawing: &Drawing) -> Option<Finding> {
    let lacking = fiftytwo_sheet::unknown_letters(drawing);
    (!lacking.is_empty()).then(|| {
        let letters: String = lacking.into_iter().collect();
        let words = format!("the typeface of the drawing lacks {letters}");
        Finding::note("drawing-letters", words)
            .why("a PDF shows a box for each; an SVG or DXF is read in a typeface of the machine")
            .help("write these names in Latin letters")
    })
}

fn crowded(drawing: &Drawing, scheme: &Scheme) -> Vec<Finding> {
    fiftytwo_sheet::verify(drawing, scheme).iter().map(hard_to_read).collect()
}

fn hard_to_read(fault: &fiftytwo_sheet::Fault) -> Finding {
    Finding::note("drawing-crowded", format!("sheet {}: {}", fault.sheet, fault.words))
        .why("the drawing is whole, but hard to read there")
}
