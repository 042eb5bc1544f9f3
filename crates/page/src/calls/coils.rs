//! What every coil gets at its worst corner, and the volts along the way there.

use super::read::Manner;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::drawn::{Way, groups, way};
use crate::model::Model;
use crate::server::Shared;
use crate::told;
use fiftytwo_circuit::CoilReport;
use fiftytwo_scheme::{PartId, PartKind};
use fiftytwo_sheet::Symbols;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    coils: Vec<Coil>,
    findings: Vec<told::Finding>,
}

/// A coil's volts.
#[derive(Debug, Clone, Serialize)]
pub struct Coil {
    pub name: String,
    pub part: Option<String>,
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
    pub works: Option<[f64; 2]>,
    /// Whether it is enough and not too much; none: not known.
    pub ok: Option<bool>,
    pub spare: Option<f64>,
    pub corner: Option<String>,
    pub words: String,
}

pub async fn coils(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme).await?;
    let text = known.hash.clone();
    known
        .ask(move |model| {
            let reports = model.coils()?;
            let found = reports.iter().flat_map(|report| &report.findings);
            let findings = told::findings(found, model.reading, model.places);
            Ok(Told { text, coils: all(model)?, findings })
        })
        .await
}

/// All coils.
pub fn all(model: &Model<'_>) -> Result<Vec<Coil>, Refusal> {
    let places = groups(model.drawing(Symbols::Ieee315));
    let reports = model.coils()?;
    let coil = |report: &CoilReport| {
        let part = model.scheme.part_named(&report.coil).and_then(|id| places.get(&id));
        Coil {
            name: report.coil.clone(),
            part: part.map(|(_, id)| id.clone()),
            lowest: report.lowest.as_ref().map(|it| it.volts),
            highest: report.highest.as_ref().map(|it| it.volts),
            works: report.works,
            ok: ok(report),
            spare: report.margin_low,
            corner: report.lowest.as_ref().map(|it| it.words.clone()),
            words: words(report),
        }
    };
    Ok(reports.iter().map(coil).collect())
}

fn ok(report: &CoilReport) -> Option<bool> {
    report.lowest.as_ref()?;
    let enough = report.margin_low? >= 0.0;
    Some(enough && report.margin_high.is_none_or(|margin| margin >= 0.0))
}

/// A coil in a sentence: "52 close gets at least 97.0 V, works from 90 V: 7.0 V to spare, at …".
fn words(report: &CoilReport) -> String {
    let name = &report.coil;
    let Some(lowest) = &report.lowest else { return format!("No way leads to {name}.") };
    let least = format!("{name} gets at least {:.1} V", lowest.volts);
    let corner = &lowest.words;
    match (report.works, report.margin_low, report.margin_high) {
        (Some([_, to]), _, Some(much)) if much < 0.0 => {
            let most = report.highest.as_ref().map_or(0.0, |it| it.volts);
            format!(
                "{name} gets up to {most:.1} V and may be used to {to:.0} V: {:.1} V too much.",
                -much
            )
        }
        (Some([from, _]), Some(spare), _) if spare < 0.0 => {
            format!("{least} and works from {from:.0} V: {:.1} V too little, at {corner}.", -spare)
        }
        (Some([from, _]), Some(spare), _) => {
            format!("{least} and works from {from:.0} V: {spare:.1} V to spare, at {corner}.")
        }
        _ => format!("{least}, at {corner}; what it needs is not declared."),
    }
}

#[derive(Debug, Deserialize)]
pub struct Along {
    scheme: Which,
    /// The group of a coil, or its name.
    part: String,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Serialize)]
pub struct AlongTold {
    text: String,
    title: String,
    sentence: String,
    beside: String,
    works: Option<(f64, f64)>,
    steps: Vec<Step>,
    #[serde(flatten)]
    way: Way,
    /// Volts of the wires along the way, by group.
    wires: BTreeMap<String, f64>,
}

#[derive(Debug, Serialize)]
struct Step {
    part: String,
    id: Option<String>,
    before: f64,
    after: f64,
    load: bool,
}

pub async fn along(shared: &Shared, asked: Along) -> Result<AlongTold, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| along_told(model, text, &asked)).await
}

fn along_told(model: &Model<'_>, text: String, asked: &Along) -> Result<AlongTold, Refusal> {
    let part = asked.part.as_str();
    let scheme = model.scheme;
    let drawing = model.drawing(asked.manner.symbols());
    let places = groups(drawing);
    let found = places.iter().find(|(_, (_, id))| id == part).map(|(id, _)| *id);
    let coil = found
        .or_else(|| scheme.part_named(part))
        .filter(|id| matches!(scheme.parts[*id].kind, PartKind::Coil(_)));
    let coil =
        coil.ok_or_else(|| Refusal::unclear("The volts are told along the way to a coil."))?;
    let name = &scheme.parts[coil].name;
    let told = fiftytwo_scene::along::along(scheme, name).map_err(|findings| {
        let first = findings.first();
        Refusal::conflict(
            first.map_or("Its volts are not known.", |it| &it.message),
            first.and_then(|it| it.help.clone()).unwrap_or_else(|| "See the findings.".to_owned()),
        )
    })?;
    let parts: Vec<PartId> =
        told.steps.iter().filter_map(|step| scheme.part_named(&step.part)).collect();
    let mut wires = BTreeMap::new();
    for (part, step) in parts.iter().zip(&told.steps) {
        let Some(at) = scheme.parts[*part].at else { continue };
        for (node, volts) in [(at.from, step.before), (at.to, step.after)] {
            for group in drawing.sheets.iter().flat_map(|sheet| &sheet.items) {
                let of_node = group.role == fiftytwo_sheet::geometry::Role::Wire(node);
                if of_node && group.id.starts_with("wire-") {
                    wires.entry(group.id.clone()).or_insert(volts);
                }
            }
        }
    }
    let report = model.coils()?.iter().find(|report| report.coil == *name);
    Ok(AlongTold {
        text,
        title: told.title.clone(),
        sentence: report.map_or_else(|| told.title.clone(), words),
        beside: told.about.clone(),
        works: told.works,
        steps: told
            .steps
            .iter()
            .map(|step| Step {
                part: step.part.clone(),
                id: scheme
                    .part_named(&step.part)
                    .and_then(|part| places.get(&part))
                    .map(|(_, id)| id.clone()),
                before: step.before,
                after: step.after,
                load: step.is_load,
            })
            .collect(),
        way: way(drawing, scheme, &parts),
        wires,
    })
}
