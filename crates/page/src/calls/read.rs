//! Reads a text: its findings, and if it can be used the sheets and what stands on them.

use crate::answer::Refusal;
use crate::desks::Which;
use crate::handles::{Band, bands};
use crate::model::{Known, Model};
use crate::run::{Start, usual_start};
use crate::server::Shared;
use crate::told;
use fiftytwo_motion::machine::Evaluator;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartKind, Scheme, Span};
use fiftytwo_sheet::{Look, Sheet, Symbols, svg_in};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    /// Draw the sheets.
    #[serde(default)]
    sheets: bool,
    /// Strokes of this sheet alone, by its number; none: of all.
    #[serde(default)]
    sheet: Option<usize>,
    #[serde(flatten)]
    manner: Manner,
}

/// How sheets are drawn.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
pub struct Manner {
    /// Light on dark.
    #[serde(default)]
    pub dark: bool,
    /// Whose symbols.
    #[serde(default)]
    pub symbols: Whose,
    /// Leave the outlines of the letters out: the browser has letters of its own.
    #[serde(default)]
    pub plain: bool,
}

/// Whose symbols.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Whose {
    /// IEEE 315.
    #[default]
    Us,
    /// IEC 60617.
    Iec,
}

impl Manner {
    /// The symbols.
    pub fn symbols(self) -> Symbols {
        match self.symbols {
            Whose::Us => Symbols::Ieee315,
            Whose::Iec => Symbols::Iec60617,
        }
    }
    /// A sheet.
    pub fn svg(self, sheet: &Sheet) -> String {
        let look = if self.dark { Look::Dark } else { Look::Light };
        let svg = svg_in(sheet, look);
        if self.plain { told::without_outlines(&svg) } else { svg }
    }
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    ok: bool,
    findings: Vec<told::Finding>,
    #[serde(flatten)]
    whole: Option<Whole>,
}

/// What a text that can be used says.
#[derive(Debug, Serialize)]
struct Whole {
    title: String,
    revision: Option<String>,
    sheets: Vec<told::Sheet>,
    devices: Vec<Device>,
    bands: Vec<Band>,
    start: Beginning,
    stories: Vec<Named>,
    claims: Vec<Named>,
    cables: Vec<Cable>,
    wires: Vec<String>,
    /// Values written as typical.
    typical: usize,
    /// Of the system, Hz: what a cycle lasts.
    frequency_hz: f64,
    /// On whose sheets the places of all answers are, as asked.
    symbols: Whose,
    /// Not drawn: what a sheet would say of its own making.
    drawing_notes: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Beginning {
    #[serde(flatten)]
    start: Start,
    words: String,
}

#[derive(Debug, Serialize)]
struct Named {
    name: String,
    line: usize,
}

#[derive(Debug, Serialize)]
struct Cable {
    name: String,
    about: String,
    from: String,
    to: String,
    cores: u32,
    free: Vec<u32>,
    line: usize,
}

#[derive(Debug, Serialize)]
struct Device {
    name: String,
    title: String,
    kind: &'static str,
    place: String,
    line: usize,
    positions: Vec<String>,
    coils: Vec<String>,
    contacts: Vec<Contact>,
}

#[derive(Debug, Serialize)]
struct Contact {
    name: String,
    what: String,
    used_line: Option<usize>,
    part: Option<String>,
}

pub async fn read(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    if !known.reading.is_usable() {
        return Ok(without(&known));
    }
    let whole = known.ask(move |model| whole(model, &asked)).await;
    match whole {
        Ok((findings, whole)) => {
            Ok(Told { text: known.hash.clone(), ok: true, findings, whole: Some(whole) })
        }
        Err(refusal) => Err(refusal),
    }
}

fn without(known: &Arc<Known>) -> Told {
    let findings = told::findings(&known.reading.findings, &known.reading, &known.places);
    Told { text: known.hash.clone(), ok: false, findings, whole: None }
}

fn whole(model: &Model<'_>, asked: &Asked) -> Result<(Vec<told::Finding>, Whole), Refusal> {
    let scheme = model.scheme;
    let line = |span: Span| told::line(model.places, span);
    let mut all = model.reading.findings.clone();
    let (bands, start) = match model.evaluator() {
        Ok(evaluator) => (at_rest(evaluator, model), usual_start(scheme)),
        Err(_) => (Vec::new(), (Start::default(), "as drawn".to_owned())),
    };
    if let crate::model::Motion::Stands(faults) = &model.motion {
        all.extend(faults.iter().cloned());
    }
    let manner = asked.manner;
    let drawing = asked.sheets.then(|| model.drawing(manner.symbols()));
    let groups = drawing.map(crate::drawn::groups).unwrap_or_default();
    let sheets = drawing.map_or_else(Vec::new, |drawing| {
        told::sheets(drawing, scheme, &|sheet| strokes(asked, sheet), line)
    });
    let (start, words) = start;
    let whole = Whole {
        title: scheme.title.clone(),
        revision: scheme.revision.clone(),
        drawing_notes: drawing.map(|it| it.notes.clone()).unwrap_or_default(),
        sheets,
        devices: devices(scheme, |part| groups.get(&part).map(|(_, id)| id.clone()), line),
        bands,
        start: Beginning { start, words },
        stories: scheme
            .stories
            .iter()
            .map(|it| Named { name: it.name.clone(), line: line(it.span) })
            .collect(),
        claims: scheme
            .claims
            .iter()
            .map(|it| Named { name: it.name.clone(), line: line(it.span) })
            .collect(),
        cables: cables(scheme, line),
        wires: scheme.nodes.values().filter_map(|node| node.wire.clone()).collect(),
        frequency_hz: scheme.frequency,
        symbols: manner.symbols,
        typical: model.places.text().matches("typical\"").count(),
    };
    Ok((told::findings(&all, model.reading, model.places), whole))
}

fn strokes(asked: &Asked, sheet: &Sheet) -> String {
    let wanted = asked.sheet.is_none_or(|number| number == sheet.number);
    if wanted { asked.manner.svg(sheet) } else { String::new() }
}

fn at_rest(evaluator: &Evaluator<'_, '_>, model: &Model<'_>) -> Vec<Band> {
    let state = evaluator.machine.drawn();
    let look = evaluator.look(&state);
    bands(model.scheme, &look, |span| told::line(model.places, span))
}

fn devices(
    scheme: &Scheme,
    group: impl Fn(fiftytwo_scheme::PartId) -> Option<String>,
    line: impl Fn(Span) -> usize,
) -> Vec<Device> {
    let own = |part: fiftytwo_scheme::PartId| {
        let part = &scheme.parts[part];
        if part.own_name.is_empty() { part.name.clone() } else { part.own_name.clone() }
    };
    let device = |device: &fiftytwo_scheme::Device| Device {
        name: device.name.clone(),
        title: device.description.clone(),
        kind: told::device_kind(&device.kind),
        place: scheme.places[device.place].name.clone(),
        line: line(device.span),
        positions: device.positions.clone(),
        coils: device
            .parts
            .iter()
            .filter(|part| matches!(scheme.parts[**part].kind, PartKind::Coil(_)))
            .map(|part| own(*part))
            .collect(),
        contacts: device
            .parts
            .iter()
            .filter_map(|id| match &scheme.parts[*id].kind {
                PartKind::Contact(contact) => Some(Contact {
                    name: own(*id),
                    what: format!("closed when {}", contact.closed_when.text),
                    used_line: scheme.parts[*id].at.map(|at| line(at.span)),
                    part: group(*id),
                }),
                _ => None,
            })
            .collect(),
    };
    scheme.devices.values().map(device).collect()
}

fn cables(scheme: &Scheme, line: impl Fn(Span) -> usize) -> Vec<Cable> {
    let used: Vec<(usize, u32)> = scheme
        .placed()
        .filter_map(|(_, part)| match &part.kind {
            PartKind::Core(core) => Some(core),
            _ => None,
        })
        .flat_map(|core| core.cores.iter().map(|number| (core.cable.index(), *number)))
        .collect();
    let cables = scheme.cables.iter();
    cables
        .map(|(id, cable)| Cable {
            name: cable.name.clone(),
            about: cable.description.clone(),
            from: scheme.places[cable.from].name.clone(),
            to: scheme.places[cable.to].name.clone(),
            cores: cable.cores,
            free: (1..=cable.cores.min(1000))
                .filter(|number| !used.contains(&(id.index(), *number)))
                .collect(),
            line: line(cable.span),
        })
        .collect()
}
