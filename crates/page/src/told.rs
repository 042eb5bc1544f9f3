//! What an answer says of findings and sheets.

use crate::text::Places;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{
    Chain, DeviceKind, LegId, NodeId, PartId, PartKind, Reading, Scheme, Severity, Sources, Span,
    Step,
};
use fiftytwo_sheet::Drawing;
use fiftytwo_sheet::geometry::{Role, Shape};
use serde::Serialize;
use std::collections::BTreeMap;

/// A finding with its place.
#[derive(Debug, Clone, Serialize)]
pub struct Finding {
    id: &'static str,
    severity: Severity,
    message: String,
    why: Option<String>,
    help: Option<String>,
    /// The file it lies in, if that is not the scheme's own.
    file: Option<String>,
    line: Option<u32>,
    column: Option<u32>,
    /// UTF-16 units in the scheme's own text.
    from: Option<usize>,
    to: Option<usize>,
    label: String,
    others: Vec<Other>,
    /// What can be written instead.
    instead: Vec<String>,
    /// The parts meant, by name.
    parts: Vec<String>,
    devices: Vec<String>,
    wires: Vec<String>,
}

/// Findings of a text as answers say them.
pub fn findings<'f>(
    found: impl IntoIterator<Item = &'f fiftytwo_scheme::Finding>,
    reading: &Reading,
    places: &Places,
) -> Vec<Finding> {
    found.into_iter().map(|it| Finding::new(it, &reading.sources, places)).collect()
}

/// Another place that matters.
#[derive(Debug, Clone, Serialize)]
struct Other {
    line: u32,
    words: String,
}

impl Finding {
    /// A finding of a text.
    fn new(finding: &fiftytwo_scheme::Finding, sources: &Sources, places: &Places) -> Self {
        let known = |span: &Span| span.file.index() < sources.files.len();
        let at = finding.at.filter(known);
        let main = at.filter(|span| span.file.index() == 0);
        let stretch = main.map(|span| places.stretch(span));
        let position = at.map(|span| sources.position(span));
        Self {
            id: finding.id,
            severity: finding.severity,
            message: finding.message.clone(),
            why: finding.why.clone(),
            help: finding.help.clone(),
            file: at
                .filter(|span| span.file.index() != 0)
                .map(|span| sources.file_name(span).to_owned()),
            line: position.map(|it| it.line),
            column: position.map(|it| it.column),
            from: stretch.map(|(from, _)| from),
            to: stretch.map(|(_, to)| to),
            label: finding.label.clone(),
            others: finding
                .others
                .iter()
                .filter(|(span, _)| known(span))
                .map(|(span, words)| Other {
                    line: sources.position(*span).line,
                    words: words.clone(),
                })
                .collect(),
            instead: instead(finding),
            parts: finding.devices.clone(),
            devices: finding.devices.clone(),
            wires: finding.wires.clone(),
        }
    }
}

/// What a help says in quotes may be written.
fn instead(finding: &fiftytwo_scheme::Finding) -> Vec<String> {
    let Some(help) = finding.help.as_deref() else { return Vec::new() };
    let rest = ["did you mean ", "write "].iter().find_map(|words| {
        let at = help.find(words)?;
        help.get(at + words.len()..)
    });
    let Some(rest) = rest else { return Vec::new() };
    let mut words = Vec::new();
    for piece in rest.trim_end_matches('?').split(" or ") {
        let piece = piece.trim().trim_end_matches(['?', '.', ',']);
        let fits = !piece.is_empty() && piece.len() <= 60 && piece.matches('"').count() % 2 == 0;
        if fits && !piece.contains(", ") {
            words.push(piece.to_owned());
        }
    }
    words
}

/// The line of a place, from 1; 0 if it lies in another file.
pub fn line(places: &Places, span: Span) -> usize {
    if span.file.index() == 0 { places.line(span.start as usize) } else { 0 }
}

/// A sheet.
#[derive(Debug, Clone, Serialize)]
pub struct Sheet {
    number: usize,
    title: String,
    svg: String,
    width_mm: f64,
    height_mm: f64,
    parts: Vec<Part>,
    wires: Vec<Wire>,
    /// Names of the legs from left to right.
    legs: Vec<String>,
    /// Names of the circuits, each with its left edge.
    circuits: Vec<Spot>,
}

#[derive(Debug, Clone, Serialize)]
struct Spot {
    name: String,
    x: f64,
}

/// A part on a sheet.
#[derive(Debug, Clone, Serialize)]
struct Part {
    id: String,
    part: String,
    name: String,
    device: Option<String>,
    what: String,
    kind: &'static str,
    /// The handle a press on it means.
    handle: Option<String>,
    line: usize,
    leg: String,
    order: usize,
    x: f64,
    y: f64,
    w: f64,
    h: f64,
}

/// A piece of wire on a sheet.
#[derive(Debug, Clone, Serialize)]
struct Wire {
    id: String,
    wire: String,
    line: Option<usize>,
    leg: String,
    place: String,
    /// Its middle.
    x: f64,
    y: f64,
    /// Both ends.
    ends: [f64; 4],
}

/// How a sheet becomes SVG.
type Ink<'a> = &'a dyn Fn(&fiftytwo_sheet::Sheet) -> String;

/// All sheets with what stands on them.
pub fn sheets(
    drawing: &Drawing,
    scheme: &Scheme,
    svg: Ink<'_>,
    line: impl Fn(Span) -> usize,
) -> Vec<Sheet> {
    let order = orders(scheme);
    let sheets = drawing.sheets.iter();
    sheets.map(|sheet| one_sheet(sheet, scheme, (svg, &order), &line)).collect()
}

/// A sheet without the outlines of its letters: their words stay, and are shown.
pub fn without_outlines(svg: &str) -> String {
    let mut out = String::with_capacity(svg.len() / 2);
    let mut rest = svg;
    for (open, close, many) in
        [("<defs>", "</defs>\n", false), ("<g aria-hidden=\"true\"", "</g>", true)]
    {
        while let Some((before, cut)) = rest.split_once(open) {
            let Some((_, after)) = cut.split_once(close) else { break };
            out.push_str(before);
            rest = after;
            if !many {
                break;
            }
        }
    }
    out.push_str(rest);
    out.replacen("text{fill-opacity:0;", "text{", 1)
}

fn one_sheet(
    sheet: &fiftytwo_sheet::Sheet,
    scheme: &Scheme,
    (svg, order): (Ink<'_>, &BTreeMap<PartId, usize>),
    line: &impl Fn(Span) -> usize,
) -> Sheet {
    let mut parts = Vec::new();
    let mut wires = Vec::new();
    let mut legs: Vec<(f64, LegId)> = Vec::new();
    for group in &sheet.items {
        match group.role {
            Role::Part(id) => {
                let Some(body) = sheet.boxes.iter().find(|body| body.part == id) else { continue };
                let part = &scheme.parts[id];
                let leg = part.at.and_then(|at| at.leg);
                if let Some(leg) = leg
                    && !legs.iter().any(|(_, known)| *known == leg)
                {
                    legs.push((body.area.left, leg));
                }
                parts.push(Part {
                    id: group.id.clone(),
                    part: part.name.clone(),
                    name: if part.own_name.is_empty() {
                        part.name.clone()
                    } else {
                        part.own_name.clone()
                    },
                    device: part.device.map(|device| scheme.devices[device].name.clone()),
                    what: what(scheme, id),
                    kind: kind(&part.kind),
                    handle: handle(scheme, id),
                    line: part.at.map_or(0, |at| line(at.span)),
                    leg: leg.map_or_else(String::new, |leg| scheme.legs[leg].name.clone()),
                    order: order.get(&id).copied().unwrap_or(0),
                    x: body.area.left,
                    y: body.area.top,
                    w: body.area.width(),
                    h: body.area.height(),
                });
            }
            Role::Wire(node) if group.id.starts_with("wire-") => {
                let Some(Shape::Line { points, .. }) = group.shapes.first() else { continue };
                let (Some(a), Some(b)) = (points.first(), points.last()) else { continue };
                wires.push(Wire {
                    id: group.id.clone(),
                    wire: group.title.strip_prefix("wire ").unwrap_or(&group.title).to_owned(),
                    line: scheme.nodes[node].span.map(line),
                    leg: nearest_leg(sheet, scheme, node, (a.x + b.x) / 2.0),
                    place: scheme.places[scheme.nodes[node].place].name.clone(),
                    x: (a.x + b.x) / 2.0,
                    y: (a.y + b.y) / 2.0,
                    ends: [a.x, a.y, b.x, b.y],
                });
            }
            _ => {}
        }
    }
    legs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut circuits: Vec<Spot> = Vec::new();
    for body in &sheet.boxes {
        let Some(at) = scheme.parts[body.part].at else { continue };
        let name = &scheme.circuits[at.circuit].name;
        match circuits.iter_mut().find(|spot| spot.name == *name) {
            Some(spot) => spot.x = spot.x.min(body.area.left),
            None => circuits.push(Spot { name: name.clone(), x: body.area.left }),
        }
    }
    circuits.sort_by(|a, b| a.x.total_cmp(&b.x));
    Sheet {
        number: sheet.number,
        title: sheet.title.clone(),
        svg: svg(sheet),
        width_mm: sheet.width,
        height_mm: sheet.height,
        parts,
        wires,
        legs: legs.into_iter().map(|(_, leg)| scheme.legs[leg].name.clone()).collect(),
        circuits,
    }
}

/// The leg whose part on that wire stands nearest.
fn nearest_leg(sheet: &fiftytwo_sheet::Sheet, scheme: &Scheme, node: NodeId, x: f64) -> String {
    let on_wire = sheet.boxes.iter().filter_map(|body| {
        let at = scheme.parts[body.part].at?;
        let touches = at.from == node || at.to == node;
        let leg = at.leg.filter(|_| touches)?;
        Some((((body.area.left + body.area.right) / 2.0 - x).abs(), leg))
    });
    let nearest = on_wire.min_by(|a, b| a.0.total_cmp(&b.0));
    nearest.map_or_else(String::new, |(_, leg)| scheme.legs[leg].name.clone())
}

/// Where each part stands in its leg, from 0, as current flows.
fn orders(scheme: &Scheme) -> BTreeMap<PartId, usize> {
    fn walk(chain: &Chain, next: &mut usize, orders: &mut BTreeMap<PartId, usize>) {
        for step in &chain.steps {
            match step {
                Step::Part(part) => {
                    orders.insert(*part, *next);
                    *next += 1;
                }
                Step::Wire(_) => {}
                Step::Parallel(ways) => ways.iter().for_each(|way| walk(way, next, orders)),
            }
        }
    }
    let mut orders = BTreeMap::new();
    let strands = scheme.legs.values().map(|leg| &leg.strand);
    for strand in strands.chain(scheme.circuits.values().flat_map(|it| [&it.feed, &it.back])) {
        walk(&strand.chain, &mut 0, &mut orders);
    }
    orders
}

/// What a part is, in a few words.
pub fn what(scheme: &Scheme, id: PartId) -> String {
    let part = &scheme.parts[id];
    let position = |index: u8| {
        part.device
            .and_then(|device| scheme.devices[device].positions.get(usize::from(index)).cloned())
            .unwrap_or_default()
    };
    match &part.kind {
        PartKind::Contact(contact) => format!("closed when {}", contact.closed_when.text),
        PartKind::Coil(coil) => format!("drives to {}", position(coil.drives_to)),
        PartKind::Core(core) => {
            let numbers: Vec<String> = core.cores.iter().map(u32::to_string).collect();
            format!("core {} of {}", numbers.join(", "), scheme.cables[core.cable].name)
        }
        PartKind::Fuse { rating, .. } => format!("fuse {}", rating.written),
        PartKind::Resistor { resistance, .. } => format!("resistor {}", resistance.written),
        PartKind::Lamp(_) | PartKind::Input(_) => part
            .shows
            .as_ref()
            .map_or_else(|| kind(&part.kind).to_owned(), |shows| format!("shows {}", shows.text)),
        other => kind(other).to_owned(),
    }
}

/// The kind of a part.
pub fn kind(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Power { .. } => "power feed",
        other => other.word(),
    }
}

/// The kind of a device.
pub fn device_kind(kind: &DeviceKind) -> &'static str {
    match kind {
        DeviceKind::Breaker { .. } => "breaker",
        DeviceKind::Handle { .. } => "handle",
        DeviceKind::Button => "button",
        DeviceKind::Relay => "relay",
        DeviceKind::Timer { .. } => "timer",
        DeviceKind::Lockout { .. } => "lockout",
        DeviceKind::Latch { .. } => "latch",
        DeviceKind::Overload => "overload",
        DeviceKind::Sensor => "sensor",
        DeviceKind::Ied { .. } => "ied",
    }
}

/// What a press on a part means: the handle whose contact it is, the order or condition it follows.
fn handle(scheme: &Scheme, id: PartId) -> Option<String> {
    let part = &scheme.parts[id];
    match &part.kind {
        PartKind::Fuse { .. } | PartKind::Link => return Some(format!("part:{}", part.name)),
        PartKind::Contact(contact) => {
            if let Some(device) = part.device
                && matches!(
                    scheme.devices[device].kind,
                    DeviceKind::Handle { .. } | DeviceKind::Button
                )
            {
                return Some(format!("device:{}", scheme.devices[device].name));
            }
            let mut found = None;
            contact.closed_when.expr.atoms(&mut |atom| {
                let named = match atom {
                    fiftytwo_scheme::Atom::Order(order) => {
                        Some(format!("order:{}", scheme.orders[order].name))
                    }
                    fiftytwo_scheme::Atom::Condition(condition, _) => {
                        Some(format!("condition:{}", scheme.conditions[condition].name))
                    }
                    _ => None,
                };
                found = found.take().or(named);
            });
            return found;
        }
        _ => {}
    }
    None
}
