//! A second pair of eyes. **In:** a finished drawing and its scheme. **Out:** faults a checker
//! would mark with a red pencil. **Never here:** anything from the layout: it looks at the
//! marks on the paper only.

mod joints;
mod places;

use crate::geometry::{Area, Drawing, Group, MODULE, Pen, Point, Role, Shape, Sheet, Text};
use crate::labels::{clears, reads_as_one, touches};
use crate::order;
use fiftytwo_scheme::{CircuitId, LegId, NodeId, PartId, Scheme};
use std::collections::BTreeMap;

/// What is wrong with a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The sheet; 0: the drawing as a whole.
    pub sheet: usize,
    /// Which rule is broken.
    pub rule: Rule,
    /// In the designer's words.
    pub words: String,
}

/// The rules of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// Every placed part is drawn exactly once.
    DrawnOnce,
    /// No text lies on another.
    TextOnText,
    /// No number of a wire stands so near to another text that the two read as one.
    NumberApart,
    /// No text lies on a line.
    TextOnLine,
    /// The edge of a cloud runs through no text.
    TextOnCloud,
    /// No text lies on the symbol of a part.
    TextOnSymbol,
    /// No wire runs through a symbol.
    WireThroughSymbol,
    /// No symbol lies on another.
    SymbolOnSymbol,
    /// Everything is inside the frame.
    InsideFrame,
    /// Lettering is at least 2.5 mm high.
    Readable,
    /// Wires run upright or level, on a grid of a quarter of a millimetre.
    OnGrid,
    /// Every end of a part meets its own wire, and not that of its other end.
    Joined,
    /// Two wires never lie on each other.
    WireOnWire,
    /// Legs stand near where they are written.
    NearSource,
    /// Every id is given once.
    UniqueId,
    /// A wire that branches has a dot, and no other place has.
    Junction,
    /// A wire in several pieces goes on from each of them.
    OnePiece,
    /// Contacts stand as they do de-energised.
    DrawnState,
    /// Nothing stands in the frame of another place, and every frame bears its own name.
    OwnFrame,
    /// No frame lies on another.
    FrameOnFrame,
    /// No text lies on a circle or a curve.
    TextOnCircle,
    /// No symbol lies on the band of another's current.
    OnBand,
}

/// Looks for faults of the marks alone: text on text, on lines, on symbols, outside the frame, too
/// small, ids given twice. For drawings that show a part more than once, or none.
pub fn verify_marks(drawing: &Drawing, scheme: &Scheme) -> Vec<Fault> {
    let mut faults = Vec::new();
    unique_ids(drawing, &mut faults);
    for sheet in &drawing.sheets {
        Look::at(sheet, scheme).all(&mut faults);
    }
    faults
}

/// Looks for faults.
pub fn verify(drawing: &Drawing, scheme: &Scheme) -> Vec<Fault> {
    let mut faults = Vec::new();
    drawn_once(drawing, scheme, &mut faults);
    unique_ids(drawing, &mut faults);
    near_source(drawing, scheme, &mut faults);
    joints::in_one_piece(drawing, scheme, &mut faults);
    for sheet in &drawing.sheets {
        Look::at(sheet, scheme).all(&mut faults);
    }
    faults
}

fn drawn_once(drawing: &Drawing, scheme: &Scheme, faults: &mut Vec<Fault>) {
    let mut drawn: BTreeMap<PartId, (usize, usize)> = BTreeMap::new();
    for sheet in &drawing.sheets {
        for body in &sheet.boxes {
            let entry = drawn.entry(body.part).or_insert((sheet.number, 0));
            entry.1 += 1;
        }
    }
    let mut strokes: BTreeMap<PartId, usize> = BTreeMap::new();
    for group in drawing.sheets.iter().flat_map(|sheet| &sheet.items) {
        if let Role::Part(part) = group.role {
            *strokes.entry(part).or_default() += 1;
        }
    }
    for (id, part) in scheme.placed() {
        let bodies = drawn.get(&id).map_or(0, |(_, count)| *count);
        let groups = strokes.get(&id).copied().unwrap_or(0);
        if bodies != 1 || groups != 1 {
            let sheet = drawn.get(&id).map_or(0, |(sheet, _)| *sheet);
            faults.push(Fault {
                sheet,
                rule: Rule::DrawnOnce,
                words: format!("{} is drawn {} times", part.name, bodies.max(groups)),
            });
        }
    }
    for (id, (sheet, _)) in drawn {
        if scheme.parts[id].at.is_none() {
            faults.push(Fault {
                sheet,
                rule: Rule::DrawnOnce,
                words: format!(
                    "{} is drawn but stands nowhere in the scheme",
                    scheme.parts[id].name
                ),
            });
        }
    }
}

fn unique_ids(drawing: &Drawing, faults: &mut Vec<Fault>) {
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    for group in drawing.sheets.iter().flat_map(|sheet| &sheet.items) {
        *seen.entry(&group.id).or_default() += 1;
    }
    for (id, count) in seen.into_iter().filter(|(_, count)| *count > 1) {
        faults.push(Fault {
            sheet: 0,
            rule: Rule::UniqueId,
            words: format!("{id} is given {count} times"),
        });
    }
}

/// Sheet, height of the row of names, x.
type Spot = (usize, f64, f64);

/// Legs of one circuit, as they stand from left to right over all sheets.
fn near_source(drawing: &Drawing, scheme: &Scheme, faults: &mut Vec<Fault>) {
    let mut legs: BTreeMap<CircuitId, Vec<(Spot, LegId)>> = BTreeMap::new();
    for sheet in &drawing.sheets {
        for group in &sheet.items {
            if let (Role::Leg(leg), Some(shape)) = (group.role, group.shapes.first()) {
                let circuit = scheme.legs[leg].circuit;
                // Names of legs that lie across stand below each other, circuits side by side.
                let area = shape.area();
                let at = if area.width() < area.height() {
                    (sheet.number, area.left, area.top)
                } else {
                    (sheet.number, area.top, area.left)
                };
                legs.entry(circuit).or_default().push((at, leg));
            }
        }
    }
    for (circuit, mut drawn) in legs {
        drawn.sort_by(|((a, b, c), _), ((d, e, f), _)| {
            a.cmp(d).then(b.total_cmp(e)).then(c.total_cmp(f))
        });
        let written = &scheme.circuits[circuit].legs;
        let reach = order::furthest(written.len()) + 1;
        for (at, ((sheet, _, _), leg)) in drawn.iter().enumerate() {
            let Some(source) = written.iter().position(|other| other == leg) else { continue };
            if at.abs_diff(source) > reach {
                faults.push(Fault {
                    sheet: *sheet,
                    rule: Rule::NearSource,
                    words: format!(
                        "leg {} stands far from where it is written",
                        scheme.legs[*leg].name
                    ),
                });
            }
        }
    }
}

struct Look<'a> {
    sheet: &'a Sheet,
    scheme: &'a Scheme,
    texts: Vec<(&'a Group, &'a Text, Area)>,
    lines: Vec<(&'a Group, (Point, Point), Pen)>,
    wires: Vec<(NodeId, (Point, Point))>,
    clouds: Vec<(Point, Point)>,
    /// Centre and radius, with half the pen.
    circles: Vec<(&'a Group, Point, f64)>,
    /// The chords of curves beside symbols.
    curves: Vec<(&'a Group, (Point, Point))>,
}

/// What the eye still takes for apart, mm.
const CLEAR: f64 = 0.15;

impl<'a> Look<'a> {
    fn at(sheet: &'a Sheet, scheme: &'a Scheme) -> Self {
        let mut look = Self {
            sheet,
            scheme,
            texts: Vec::new(),
            lines: Vec::new(),
            wires: Vec::new(),
            clouds: Vec::new(),
            circles: Vec::new(),
            curves: Vec::new(),
        };
        for group in &sheet.items {
            for shape in &group.shapes {
                match shape {
                    Shape::Text(text) => look.texts.push((group, text, text.area())),
                    Shape::Line { points, closed, pen, .. } => {
                        for pair in points.windows(2) {
                            look.line(group, (pair[0], pair[1]), *pen);
                        }
                        if let (true, Some(last), Some(first)) =
                            (*closed, points.last(), points.first())
                        {
                            look.line(group, (*last, *first), *pen);
                        }
                    }
                    Shape::Curve { start, bends, .. } if group.role == Role::Change => {
                        look.clouds.extend(bowed(*start, bends));
                    }
                    Shape::Curve { start, bends, .. } => {
                        let chords = bowed(*start, bends);
                        look.curves.extend(chords.into_iter().map(|chord| (group, chord)));
                    }
                    Shape::Circle { centre, radius, pen, .. } => {
                        look.circles.push((group, *centre, radius + pen.width() / 2.0));
                    }
                }
            }
        }
        look
    }
    fn line(&mut self, group: &'a Group, ends: (Point, Point), pen: Pen) {
        self.lines.push((group, ends, pen));
        if let Role::Wire(node) = group.role {
            self.wires.push((node, ends));
        }
    }
    fn all(&self, faults: &mut Vec<Fault>) {
        self.texts_apart(faults);
        self.numbers_apart(faults);
        self.texts_off_lines(faults);
        self.texts_off_clouds(faults);
        self.texts_off_symbols(faults);
        self.symbols_clear(faults);
        self.inside(faults);
        self.readable(faults);
        self.grid(faults);
        self.joined(faults);
        self.wires_apart(faults);
        self.dots(faults);
        self.contacts_as_drawn(faults);
        self.places(faults);
        self.texts_off_circles(faults);
        self.bands_clear(faults);
    }
    fn fault(&self, faults: &mut Vec<Fault>, rule: Rule, words: String) {
        faults.push(Fault { sheet: self.sheet.number, rule, words });
    }
    fn texts_apart(&self, faults: &mut Vec<Fault>) {
        for (index, (_, a, area)) in self.texts.iter().enumerate() {
            let area = area.grown(CLEAR);
            for (_, b, other) in &self.texts[index + 1..] {
                if area.overlaps(other) {
                    let words = format!("\"{}\" lies on \"{}\"", a.words, b.words);
                    self.fault(faults, Rule::TextOnText, words);
                }
            }
        }
    }
    fn numbers_apart(&self, faults: &mut Vec<Fault>) {
        let is_number = |group: &Group| matches!(group.role, Role::Wire(_));
        for (index, (group, number, area)) in self.texts.iter().enumerate() {
            if !is_number(group) {
                continue;
            }
            for (at, (other_group, other, other_area)) in self.texts.iter().enumerate() {
                // Two numbers are asked once; what stands behind a number belongs to it.
                let asked = at <= index && is_number(other_group);
                if asked || std::ptr::eq(*group, *other_group) {
                    continue;
                }
                if reads_as_one(&area.grown(-0.05), other_area) {
                    let words =
                        format!("\"{}\" reads as one with \"{}\"", number.words, other.words);
                    self.fault(faults, Rule::NumberApart, words);
                }
            }
        }
    }
    fn texts_off_clouds(&self, faults: &mut Vec<Fault>) {
        for (_, text, area) in &self.texts {
            let area = area.grown(CLEAR);
            if self.clouds.iter().any(|bow| touches(&area, bow) && !clears(&area, bow)) {
                let words = format!("the edge of a cloud runs through \"{}\"", text.words);
                self.fault(faults, Rule::TextOnCloud, words);
            }
        }
    }
    /// A text lies within a circle or outside it. What lies on another part's symbol is asked of its
    /// body.
    fn texts_off_circles(&self, faults: &mut Vec<Fault>) {
        for (group, text, area) in &self.texts {
            let asked =
                |other: &Group| std::ptr::eq(*group, other) || !matches!(other.role, Role::Part(_));
            for (other, centre, radius) in self.circles.iter().filter(|(it, _, _)| asked(it)) {
                let x = centre.x.clamp(area.left, area.right) - centre.x;
                let y = centre.y.clamp(area.top, area.bottom) - centre.y;
                let far_x = (area.left - centre.x).abs().max((area.right - centre.x).abs());
                let far_y = (area.top - centre.y).abs().max((area.bottom - centre.y).abs());
                let outside = x.hypot(y) > radius + CLEAR;
                if !outside && far_x.hypot(far_y) > *radius {
                    let words = format!("\"{}\" lies on a circle of {}", text.words, other.title);
                    self.fault(faults, Rule::TextOnCircle, words);
                }
            }
            let near = area.grown(CLEAR);
            for (other, chord) in self.curves.iter().filter(|(it, _)| asked(it)) {
                if touches(&near, chord) && !clears(&near, chord) {
                    let words = format!("\"{}\" lies on a curve of {}", text.words, other.title);
                    self.fault(faults, Rule::TextOnCircle, words);
                }
            }
        }
    }
    fn texts_off_lines(&self, faults: &mut Vec<Fault>) {
        for (group, text, area) in &self.texts {
            let area = area.grown(CLEAR);
            for (other, ends, pen) in &self.lines {
                // Strokes of a part's own symbol are the body's business.
                let own = std::ptr::eq(*group, *other) && matches!(group.role, Role::Part(_));
                let symbol = matches!(other.role, Role::Part(_));
                // The band behind what carries current is a ground; words may lie on it.
                let ground = other.role == Role::Band || *pen == Pen::Band;
                if own || symbol || ground {
                    continue;
                }
                let half = pen.width() / 2.0;
                if touches(&area.grown(half), ends) && !clears(&area, ends) {
                    let words = format!("\"{}\" lies on a line of {}", text.words, other.title);
                    self.fault(faults, Rule::TextOnLine, words);
                }
            }
        }
    }
    fn texts_off_symbols(&self, faults: &mut Vec<Fault>) {
        for (group, text, area) in &self.texts {
            for body in &self.sheet.boxes {
                let own = group.role == Role::Part(body.part) && body.area.holds(area);
                if !own && area.overlaps(&body.area) {
                    let name = &self.scheme.parts[body.part].name;
                    let words = format!("\"{}\" lies on the symbol of {name}", text.words);
                    self.fault(faults, Rule::TextOnSymbol, words);
                }
            }
        }
    }
    fn symbols_clear(&self, faults: &mut Vec<Fault>) {
        for (index, body) in self.sheet.boxes.iter().enumerate() {
            let name = &self.scheme.parts[body.part].name;
            let inner = body.area.grown(-0.2);
            for (node, ends) in &self.wires {
                if touches(&inner, ends) {
                    let wire = self.wire_name(*node);
                    self.fault(
                        faults,
                        Rule::WireThroughSymbol,
                        format!("wire {wire} runs through {name}"),
                    );
                }
            }
            for other in &self.sheet.boxes[index + 1..] {
                if inner.overlaps(&other.area) {
                    let other = &self.scheme.parts[other.part].name;
                    self.fault(faults, Rule::SymbolOnSymbol, format!("{name} lies on {other}"));
                }
            }
        }
    }
    fn wire_name(&self, node: NodeId) -> String {
        self.scheme.nodes[node].wire.clone().unwrap_or_else(|| "without number".to_owned())
    }
    fn inside(&self, faults: &mut Vec<Fault>) {
        for group in &self.sheet.items {
            let frame = match group.role {
                Role::Furniture => {
                    Area { left: 0.0, top: 0.0, right: self.sheet.width, bottom: self.sheet.height }
                }
                _ => self.sheet.frame.grown(-0.5),
            };
            for shape in &group.shapes {
                if !frame.holds(&shape.area()) {
                    let words = format!("{} leaves the frame", group.title);
                    self.fault(faults, Rule::InsideFrame, words);
                    break;
                }
            }
        }
    }
    fn readable(&self, faults: &mut Vec<Fault>) {
        for (_, text, _) in &self.texts {
            if text.height < MODULE {
                self.fault(faults, Rule::Readable, format!("\"{}\" is too small", text.words));
            }
        }
    }
    fn grid(&self, faults: &mut Vec<Fault>) {
        let on_grid = |value: f64| (value * 4.0 - (value * 4.0).round()).abs() < 1e-6;
        for (node, (a, b)) in &self.wires {
            let level = (a.y - b.y).abs() < 1e-9 && on_grid(a.y);
            let upright = (a.x - b.x).abs() < 1e-9 && on_grid(a.x);
            if !level && !upright {
                let words = format!("wire {} leaves the grid", self.wire_name(*node));
                self.fault(faults, Rule::OnGrid, words);
            }
        }
    }
    fn wires_apart(&self, faults: &mut Vec<Fault>) {
        for (index, (node, ends)) in self.wires.iter().enumerate() {
            for (other, other_ends) in &self.wires[index + 1..] {
                if node != other && lie_together(ends, other_ends) {
                    let (a, b) = (self.wire_name(*node), self.wire_name(*other));
                    self.fault(faults, Rule::WireOnWire, format!("wire {a} lies on wire {b}"));
                }
            }
        }
    }
}

/// The chords of bows.
fn bowed(start: Point, bends: &[[Point; 3]]) -> Vec<(Point, Point)> {
    let mut chords = Vec::new();
    let mut from = start;
    for [a, b, end] in bends {
        let mut last = from;
        for step in 1..=4 {
            let t = f64::from(step) / 4.0;
            let u = 1.0 - t;
            let on = |p: f64, q: f64, r: f64, s: f64| {
                u * u * u * p + 3.0 * u * u * t * q + 3.0 * u * t * t * r + t * t * t * s
            };
            let at = Point { x: on(from.x, a.x, b.x, end.x), y: on(from.y, a.y, b.y, end.y) };
            chords.push((last, at));
            last = at;
        }
        from = *end;
    }
    chords
}

fn near(a: Point, b: Point) -> bool {
    (a.x - b.x).abs() < 0.05 && (a.y - b.y).abs() < 0.05
}

/// Two strokes in one line that share more than a point.
fn lie_together((a, b): &(Point, Point), (c, d): &(Point, Point)) -> bool {
    let upright = |p: &Point, q: &Point| (p.x - q.x).abs() < 1e-9;
    let level = |p: &Point, q: &Point| (p.y - q.y).abs() < 1e-9;
    let shared =
        |a: f64, b: f64, c: f64, d: f64| a.max(b).min(c.max(d)) - a.min(b).max(c.min(d)) > 0.05;
    (upright(a, b) && upright(c, d) && (a.x - c.x).abs() < 0.3 && shared(a.y, b.y, c.y, d.y))
        || (level(a, b) && level(c, d) && (a.y - c.y).abs() < 0.3 && shared(a.x, b.x, c.x, d.x))
}
