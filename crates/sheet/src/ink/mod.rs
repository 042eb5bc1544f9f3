//! A placed block as strokes and letters. **In:** where everything stands. **Out:** groups of
//! shapes, bodies, and the wires whose number found no free place. **Never here:** a choice of
//! column or rank.

mod around;
mod numbers;
mod state;

use crate::block::{self, Bus, Placed, base_lines, lines, string_slots, unit_columns};
use crate::frames::outline;
use crate::geometry::{
    Anchor, Area, Body, Dash, Fill, Group, Ink, MODULE, Meaning, Pen, Point, Role, Shape, Source,
    Text, Turn, Weight, point,
};
use crate::labels::Board;
use crate::lettering::{self, LEADING};
use crate::lines::Lines;
use crate::lists::{self, References};
use crate::live::{Live, PartNow};
use crate::names::{Unique, WireNumber, slug};
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};
use crate::patterns;
use crate::rank::core_places;
use crate::screws;
use crate::style::Style;
use crate::symbols::{self, DOT, EDGE, Figure, Symbol};
use crate::words::{self, GAP, Piece};
use fiftytwo_scheme::{
    CableId, CurrentKind, DeviceId, NodeId, PartId, PartKind, PlaceId, Scheme, Span,
};
use std::collections::{BTreeMap, BTreeSet};

/// Where each wire is drawn: number of the block, sheet and zone.
pub type Mentions = BTreeMap<NodeId, Vec<(usize, String)>>;

/// What all blocks of a drawing share.
pub struct Shared<'a> {
    /// The scheme.
    pub scheme: &'a Scheme,
    /// Wire numbers.
    pub numbers: &'a BTreeMap<NodeId, WireNumber>,
    /// Where parts stand.
    pub references: &'a References,
    /// On which sheet the table of a device is.
    pub tables: &'a BTreeMap<DeviceId, String>,
    /// Where a wire is drawn, block by block.
    pub wires: &'a Mentions,
    /// The state to be shown, if any.
    pub live: Option<&'a Live>,
    /// Where lines begin in the scheme's files.
    pub lines: &'a Lines,
    /// Cores of cables that no circuit uses.
    pub spare: &'a BTreeMap<CableId, usize>,
    /// Without lists under coils and words in the margin: one of several small pictures.
    pub bare: bool,
    /// Wires, parts and the names of all groups, without numbers of wires: what no state changes.
    pub bones: bool,
}

/// The neighbours of a block of a circuit that needs several sheets.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Neighbours {
    /// Where the rails come from: upper and lower.
    pub before: Option<(String, String)>,
    /// Where the rails go on.
    pub after: Option<(String, String)>,
    /// Name of the circuit, if it must stand beside the block.
    pub heading: Option<String>,
    /// Where legs of other circuits hang on the rails: upper and lower.
    pub also: [Option<String>; 2],
}

/// What came of drawing a block.
#[derive(Debug, Default)]
pub struct Drawn {
    /// The groups, lowest first.
    pub groups: Vec<Group>,
    /// The bodies.
    pub bodies: Vec<Body>,
    /// Levels at which a wire number found no room.
    pub crowded: BTreeSet<usize>,
    /// What a state puts beside wires and parts, and what found no room: "wire C5: 17 V".
    pub unplaced: Vec<String>,
}

struct Desk<'a> {
    shared: &'a Shared<'a>,
    placed: &'a Placed,
    unique: &'a mut Unique,
    pieces: &'a mut BTreeMap<NodeId, usize>,
    board: Board,
    drawn: Drawn,
    /// Where the rating of a part would stand: what the part does may stand there instead.
    slots: BTreeMap<PartId, (Point, Anchor)>,
}

/// Draws a block.
pub fn draw(
    shared: &Shared<'_>,
    placed: &Placed,
    neighbours: &Neighbours,
    unique: &mut Unique,
    pieces: &mut BTreeMap<NodeId, usize>,
) -> Drawn {
    let mut desk = Desk {
        shared,
        placed,
        unique,
        pieces,
        board: Board::default(),
        drawn: Drawn::default(),
        slots: BTreeMap::new(),
    };
    let frames = desk.frames();
    desk.rails();
    desk.runs();
    desk.buses();
    desk.parts();
    desk.titles();
    desk.paths();
    if !shared.bare {
        desk.lists();
    }
    desk.strings(neighbours);
    desk.frame_names(&frames);
    if !shared.bare {
        desk.margin(neighbours);
    }
    desk.pointers();
    desk.notes();
    desk.wire_labels();
    desk.drawn
}

/// Numbers of the text stand in the main ink, those that the drawing counts in grey.
fn screws_look(screws: &screws::Screws) -> (f64, Weight, Ink) {
    if screws.counted { SMALL_SECOND } else { SMALL }
}

impl Desk<'_> {
    fn scheme(&self) -> &Scheme {
        self.shared.scheme
    }

    fn source(&self, span: Span) -> Option<Source> {
        self.shared.lines.source(span)
    }

    fn push(
        &mut self,
        id: String,
        role: Role,
        title: String,
        span: Option<Span>,
        shapes: Vec<Shape>,
    ) {
        self.board.add_shapes(&shapes);
        self.push_quiet(id, role, title, span, shapes);
    }

    fn push_quiet(
        &mut self,
        id: String,
        role: Role,
        title: String,
        span: Option<Span>,
        shapes: Vec<Shape>,
    ) {
        let id = self.unique.once(id);
        self.push_as(id, role, title, span, shapes);
    }

    /// Under an id that is known to be given once.
    fn push_as(
        &mut self,
        id: String,
        role: Role,
        title: String,
        span: Option<Span>,
        shapes: Vec<Shape>,
    ) {
        let source = span.and_then(|span| self.source(span));
        self.drawn.groups.push(Group { id, role, title, source, shapes });
    }

    fn number(&self, node: NodeId) -> WireNumber {
        self.shared
            .numbers
            .get(&node)
            .cloned()
            .unwrap_or(WireNumber { number: "?".to_owned(), counted: true })
    }

    /// Name of a wire that lasts while the scheme changes elsewhere: its number, or the part it
    /// comes from.
    fn wire_key(&self, node: NodeId) -> String {
        if let Some(wire) = &self.scheme().nodes[node].wire {
            return slug(wire);
        }
        let above = self
            .placed
            .block
            .plan
            .runs()
            .find_map(|run| {
                let at = run.nodes.iter().position(|other| *other == node)?;
                run.parts.get(at.checked_sub(1)?).copied()
            })
            .map(|part| slug(&self.scheme().parts[part].name));
        above.map_or_else(|| "loose".to_owned(), |part| format!("after-{part}"))
    }

    fn wire(&mut self, node: NodeId, points: &[Point], pen: Pen) {
        let length: f64 = points
            .windows(2)
            .map(|pair| (pair[0].x - pair[1].x).abs() + (pair[0].y - pair[1].y).abs())
            .sum();
        if length < 0.01 {
            return;
        }
        let points: Vec<Point> = points.iter().map(|at| self.placed.at(at.x, at.y)).collect();
        let key = self.wire_key(node);
        let piece = self.pieces.entry(node).or_insert(0);
        *piece += 1;
        let id = format!("wire-{key}.{piece}");
        let title = format!("wire {}", self.number(node).number);
        let span = self.scheme().nodes[node].span;
        // In a state the wire is broader than at rest: what is placed beside it keeps clear of that.
        let level = self.shared.live.and_then(|live| live.wires.get(&node)).map(|wire| wire.level);
        if let (Some(level), Some(a), Some(b)) = (level, points.first(), points.last()) {
            let (ends, broad) = patterns::reach(level, (*a, *b));
            self.board.add_broad(ends, broad);
        }
        self.push(id, Role::Wire(node), title, span, vec![Shape::line(&points, pen)]);
    }

    fn dot(&mut self, node: NodeId, x: f64, y: f64) {
        let key = self.wire_key(node);
        let title = format!("junction of wire {}", self.number(node).number);
        let shapes = vec![Shape::dot(self.placed.at(x, y), DOT)];
        let id = format!("dot-{key}");
        self.push(id, Role::Wire(node), title, None, shapes);
    }

    fn rails(&mut self) {
        let placed = self.placed;
        let plan = &placed.block.plan;
        for (node, y) in [(plan.plus, placed.upper_rail()), (plan.minus, placed.lower_rail())] {
            let ends = [point(placed.rail_left, y), point(placed.rail_right, y)];
            self.wire(node, &ends, Pen::Rail);
        }
    }

    fn runs(&mut self) {
        let placed = self.placed;
        let plan = &placed.block.plan;
        let mut dots: Vec<(NodeId, f64, f64)> = Vec::new();
        for (column, run) in plan.columns() {
            let Some(x) = placed.x.get(column).copied() else { continue };
            let mut y = placed.wire_y(run.top());
            if plan.is_rail(run.top()) {
                dots.push((run.top(), x, y));
            }
            for (index, part) in run.parts.iter().enumerate() {
                let Some(node) = run.nodes.get(index).copied() else { continue };
                let symbol = self.symbol(*part).1;
                let middle = placed.part_y(*part);
                let is_bus = placed.block.buses.iter().any(|bus| bus.node == node && !bus.looped);
                if index > 0 && is_bus {
                    let tap = placed.wire_y(node);
                    self.wire(node, &[point(x, y), point(x, tap)], Pen::Wire);
                    y = tap;
                }
                self.wire(node, &[point(x, y), point(x, middle - symbol.reach)], Pen::Wire);
                y = middle + symbol.reach;
            }
            let node = run.bottom();
            let bottom = if run.looped {
                let bus =
                    placed.block.buses.iter().find(|bus| bus.looped && bus.columns == [column]);
                bus.map_or(y, |bus| placed.bus_y(bus))
            } else {
                placed.wire_y(node)
            };
            self.wire(node, &[point(x, y), point(x, bottom)], Pen::Wire);
            if plan.is_rail(node) && !run.looped {
                dots.push((node, x, bottom));
            }
        }
        for (node, x, y) in dots {
            self.dot(node, x, y);
        }
    }

    fn buses(&mut self) {
        let placed = self.placed;
        let runs: Vec<_> = placed.block.plan.columns().collect();
        for bus in &placed.block.buses {
            let y = placed.bus_y(bus);
            let xs: Vec<f64> =
                bus.columns.iter().filter_map(|c| placed.x.get(*c)).copied().collect();
            for pair in xs.windows(2) {
                self.wire(bus.node, &[point(pair[0], y), point(pair[1], y)], Pen::Wire);
            }
            if let (true, Some(last)) = (bus.flag, xs.last()) {
                self.wire(bus.node, &[point(*last, y), point(last + FLAG_STUB, y)], Pen::Wire);
                self.flag(bus, placed.at(last + FLAG_STUB, y));
            }
            for (index, column) in bus.columns.iter().enumerate() {
                let run = runs.iter().find(|(at, run)| {
                    at == column && (run.touches(bus.node) || bus.looped && run.looped)
                });
                let Some((_, run)) = run else { continue };
                let ends = usize::from(index > 0)
                    + usize::from(index + 1 < bus.columns.len() || bus.flag)
                    + usize::from(bus.looped || run.top() != bus.node)
                    + usize::from(!bus.looped && (run.looped || run.bottom() != bus.node));
                if ends > 2 && self.arms(bus.node, placed.at(xs[index], y)) > 2 {
                    self.dot(bus.node, xs[index], y);
                }
            }
        }
    }

    /// How many strokes of a wire leave a point of it.
    fn arms(&self, node: NodeId, at: Point) -> usize {
        let here = |p: &Point| (p.x - at.x).abs() < 0.05 && (p.y - at.y).abs() < 0.05;
        let pieces = self.wire_pieces(node);
        let strokes = pieces.iter().map(|(a, b)| {
            let passes = Area::between(*a, *b).grown(0.05).holds(&Area::between(at, at));
            match (here(a) || here(b), passes) {
                (true, _) => 1,
                (false, true) => 2,
                (false, false) => 0,
            }
        });
        strokes.sum()
    }

    /// Where a wire goes on: outside this block unless there is no other.
    fn elsewhere(&self, node: NodeId) -> String {
        let all = self.shared.wires.get(&node).cloned().unwrap_or_default();
        let mut others: Vec<String> = all
            .iter()
            .filter(|(block, _)| *block != self.placed.number)
            .map(|(_, place)| place.clone())
            .collect();
        if others.is_empty() {
            others = all.iter().map(|(_, place)| place.clone()).collect();
            others.dedup();
        }
        others.truncate(1);
        others.join(" ")
    }

    fn flag(&mut self, bus: &Bus, at: Point) {
        let number = self.number(bus.node);
        let place = self.elsewhere(bus.node);
        let mut shapes = flag(&number.number, &place, at, Style::default());
        if self.style().across() {
            // The wire runs down here: the flag hangs on it, turned with its words.
            shapes = shapes.iter().map(|shape| hanging(shape, at)).collect();
        }
        let id = format!("flag-{}-sheet-{}", self.wire_key(bus.node), self.placed.sheet);
        let title = format!("wire {} goes on at {place}", number.number);
        self.push(id, Role::Flag(bus.node), title, None, shapes);
    }

    fn parts(&mut self) {
        let placed = self.placed;
        for (column, run) in placed.block.plan.columns() {
            let Some(x) = placed.x.get(column).copied() else { continue };
            for part in &run.parts {
                let turn = match (self.style().across(), run.flipped) {
                    (false, false) => Turn::Down,
                    (false, true) => Turn::Up,
                    (true, false) => Turn::Right,
                    (true, true) => Turn::Left,
                };
                self.part(*part, placed.at(x, placed.part_y(*part)), turn, run.flipped);
            }
        }
    }

    fn style(&self) -> Style {
        self.placed.block.style
    }

    /// The figure of a part and its symbol, in the state to be shown.
    fn symbol(&self, part: PartId) -> (Figure, Symbol) {
        let mut figure = words::figure(self.shared.scheme, part);
        let now = self.shared.live.and_then(|live| live.parts.get(&part));
        if let (Figure::Contact(contact), Some(now)) = (&mut figure, now) {
            contact.now = now.closed;
        }
        let mut symbol = symbols::draw(&figure, self.style().symbols);
        if now.is_some_and(|now| now.on == Some(true)) {
            symbols::light(&mut symbol);
        }
        if now.is_some_and(|now| now.closed == Some(false)) && !matches!(figure, Figure::Contact(_))
        {
            symbols::part_open(&mut symbol);
        }
        (figure, symbol)
    }

    fn part(&mut self, part: PartId, at: Point, turn: Turn, flipped: bool) {
        let scheme = self.shared.scheme;
        let (figure, symbol) = self.symbol(part);
        // Bars and slash of a lying contact lean as those of an upright one do.
        let mirrored =
            self.style().across() && !self.style().iec() && matches!(figure, Figure::Contact(_));
        let mut shapes: Vec<Shape> = symbol
            .shapes
            .iter()
            .map(|shape| if mirrored { shape.mirrored() } else { shape.clone() })
            .map(|shape| shape.placed(turn, at))
            .collect();
        let body = turned(symbol.body, turn).moved(at.x, at.y);
        let reach = turn.apply(point(0.0, symbol.reach));
        let upstream = point(at.x - reach.x, at.y - reach.y);
        let downstream = point(at.x + reach.x, at.y + reach.y);
        let ends = [upstream, downstream];
        self.drawn.bodies.push(Body { part, symbol: figure.name(), area: body, ends });
        self.board.add_body(body);
        let lying = matches!(turn, Turn::Left | Turn::Right);
        let mut texts = if lying {
            let (right, left) = if self.style().across() {
                block::reach_across(scheme, part, self.style())
            } else {
                let half = symbol.body.right.max(-symbol.body.left).max(1.6);
                (half, half)
            };
            let reach = if turn == Turn::Left { (left.max(right), right) } else { (right, left) };
            let (mut texts, slot) = self.around(part, at, reach, flipped);
            self.slots.insert(part, slot);
            texts.extend(self.screws_along(part, at, symbol.reach, turn));
            texts
        } else {
            let (mut texts, slot) = self.beside(part, at, flipped);
            self.slots.insert(part, slot);
            texts.extend(self.screws(part, at, symbol.reach, flipped));
            texts
        };
        let placement = scheme.parts[part].at;
        shapes.append(&mut texts);
        for shape in &shapes {
            if let Shape::Text(text) = shape {
                let inside = body.holds(&text.area());
                if !inside {
                    self.board.add_text(text.area());
                }
            }
        }
        let id = format!("part-{}", slug(&scheme.parts[part].name));
        let title = words::title(scheme, part);
        self.push_quiet(id, Role::Part(part), title, placement.map(|at| at.span), shapes);
    }

    /// The lines beside a part.
    fn said(&self, part: PartId, room: Option<f64>) -> Vec<words::Line> {
        let scheme = self.shared.scheme;
        let coil = lists::coil_of(scheme, part);
        let reference = coil.and_then(|coil| self.shared.references.get(&coil));
        match room {
            None => lines(scheme, part, reference.map(String::as_str), self.style()),
            Some(room) => words::beside(scheme, part, None, (room, self.style())),
        }
    }

    /// Whether what a part does stands instead of its rating.
    fn has_note(&self, part: PartId) -> bool {
        let now = self.shared.live.and_then(|live| live.parts.get(&part));
        now.is_some_and(|now| now.note.is_some())
    }

    /// Texts to the right of an upright symbol, and where its rating stands.
    fn beside(&self, part: PartId, at: Point, flipped: bool) -> (Vec<Shape>, (Point, Anchor)) {
        let scheme = self.shared.scheme;
        let lines = self.said(part, None);
        let mut bases = base_lines(lines.len());
        let body = symbols::draw(&words::figure(scheme, part), self.style().symbols).body.right;
        let mut x = at.x + block::beside(body);
        if let Some((from, into)) = core_places(scheme, part, flipped) {
            x = at.x + 1.6;
            let ground = scheme.nodes[self.placed.block.plan.plus].place;
            bases = vec![match (from == ground, into == ground) {
                (true, false) => 0.9,
                (false, true) => MODULE - 0.9,
                _ => MODULE / 2.0,
            }];
        }
        let mut shapes = Vec::new();
        let mut slot: Option<f64> = None;
        let noted = self.has_note(part);
        for (line, base) in lines.iter().zip(&bases) {
            if noted && is_rating(line) {
                slot = slot.or(Some(*base));
                continue;
            }
            shapes.extend(pieces((x, at.y + base), line));
        }
        let last = bases.last().map_or(MODULE / 2.0, |last| last + MODULE * LEADING);
        let slot = if lines.is_empty() { MODULE / 2.0 } else { slot.unwrap_or(last) };
        (shapes, (point(x, at.y + slot), Anchor::Start))
    }

    /// Screw numbers to the left of a symbol.
    fn screws(&self, part: PartId, at: Point, reach: f64, flipped: bool) -> Vec<Shape> {
        let scheme = self.shared.scheme;
        let Some(screws) = screws::screws(scheme, part, self.style()) else { return Vec::new() };
        let look = screws_look(&screws);
        let (upper, lower) = (screws.upper, screws.lower);
        let (upper, lower) = if flipped { (lower, upper) } else { (upper, lower) };
        let (x, bases) = match scheme.parts[part].kind {
            PartKind::Contact(_) if !self.style().iec() => {
                (-1.28 * MODULE, (-0.18 * MODULE, 1.18 * MODULE))
            }
            PartKind::Core(_) => {
                let ring = symbols::CORE;
                (-1.7, (MODULE / 2.0 - ring, MODULE / 2.0 + ring))
            }
            // An arrow on the wire needs more room than the wire.
            _ if self.shared.live.is_some() => (-1.9, (-reach - 0.6, reach + 0.2 + MODULE)),
            _ => (-0.9, (-reach - 0.6, reach + 0.6 + MODULE)),
        };
        [(upper, bases.0), (lower, bases.1)]
            .iter()
            .filter(|(words, _)| !words.is_empty())
            .map(|(words, base)| text((at.x + x, at.y + base), words, look, Anchor::End))
            .collect()
    }

    /// Screw numbers above the wire at both ends of a lying symbol.
    fn screws_along(&self, part: PartId, at: Point, reach: f64, turn: Turn) -> Vec<Shape> {
        let scheme = self.shared.scheme;
        let Some(screws) = screws::screws(scheme, part, self.style()) else { return Vec::new() };
        let look = screws_look(&screws);
        let (left, right) = match turn {
            Turn::Left => (screws.lower, screws.upper),
            _ => (screws.upper, screws.lower),
        };
        let mut reach = reach;
        let mut base = at.y - if self.shared.live.is_some() { 1.5 } else { 0.9 };
        if matches!(scheme.parts[part].kind, PartKind::Contact(_)) {
            // Clear of the slash.
            reach = reach.max(2.5);
        }
        if matches!(scheme.parts[part].kind, PartKind::Core(_)) {
            // Above the circles, outwards.
            reach = symbols::CORE - symbols::TERMINAL;
            base = at.y - symbols::TERMINAL - 0.9;
        }
        [(left, -reach - 0.6, Anchor::End), (right, reach + 0.6, Anchor::Start)]
            .iter()
            .filter(|(words, _, _)| !words.is_empty())
            .map(|(words, x, anchor)| text((at.x + x, base), words, look, *anchor))
            .collect()
    }

    /// Texts above and below a lying symbol, and where its rating stands.
    fn around(
        &self,
        part: PartId,
        at: Point,
        (above, under): (f64, f64),
        flipped: bool,
    ) -> (Vec<Shape>, (Point, Anchor)) {
        let in_leg = self.style().across();
        let lines = self.said(part, (!in_leg).then_some(f64::INFINITY));
        let noted = self.has_note(part);
        let below =
            |line: usize| at.y + MODULE * (1.0 + LEADING * line as f64) + under + block::BELOW;
        let mut shapes = Vec::new();
        let mut slot: Option<f64> = None;
        let mut taken = 0;
        for (index, line) in lines.iter().enumerate() {
            let width = words::line_width(line);
            // A rating alone stands below.
            let first = !is_rating(line);
            let y = match (index, first) {
                (0, true) => at.y - above - block::ABOVE,
                (0, false) if !in_leg => at.y - above - block::ABOVE,
                _ => below(index.max(1) - 1),
            };
            if noted && is_rating(line) {
                slot = slot.or(Some(y));
                continue;
            }
            taken = index.max(taken);
            let places = core_places(self.shared.scheme, part, flipped);
            let ground = self.shared.scheme.nodes[self.placed.block.plan.plus].place;
            // The name of a core ends before the edge of the place that the core crosses; between two
            // places it stands beyond both edges.
            let x = match places {
                Some((_, into)) if in_leg && into == ground => at.x - EDGE + 1.0,
                Some((from, _)) if in_leg && from != ground => at.x + EDGE + 1.0,
                Some(_) => at.x + EDGE - 1.0 - width,
                None => at.x - width / 2.0,
            };
            shapes.extend(pieces((x, y), line));
        }
        let slot = slot.unwrap_or_else(|| below(taken));
        (shapes, (point(at.x, slot), Anchor::Middle))
    }
}

/// Whether a line has nothing but what is secondary.
fn is_rating(line: &words::Line) -> bool {
    line.iter().all(|piece| piece.ink == Ink::Second)
}

/// From the last tap to a flag, mm.
const FLAG_STUB: f64 = 4.0;

/// A shape that lay right of a point, hung below it; words read upwards.
fn hanging(shape: &Shape, at: Point) -> Shape {
    let turn = |p: &Point| point(at.x - (p.y - at.y), at.y + (p.x - at.x));
    let mut shape = shape.clone();
    match &mut shape {
        Shape::Line { points, .. } => points.iter_mut().for_each(|p| *p = turn(p)),
        Shape::Text(text) => {
            let end = point(text.at.x + text.length(), text.at.y);
            let foot = turn(&end);
            // The base line lies on the other side when words read upwards.
            text.at = point(at.x + (text.at.y - at.y), foot.y);
            text.turned = true;
        }
        Shape::Curve { .. } | Shape::Circle { .. } => {}
    }
    shape
}

/// A flag that says where a wire goes on.
fn flag(number: &str, place: &str, at: Point, style: Style) -> Vec<Shape> {
    let line = [Piece::bold(number), Piece::second(place)];
    let line: Vec<Piece> = line.into_iter().filter(|piece| !piece.words.is_empty()).collect();
    let width = words::line_width(&line) + 2.4;
    let half = 2.1;
    let at = if style.across() { point(at.x - width / 2.0, at.y + half) } else { at };
    let (left, right) = (at.x, at.x + width);
    let mut shapes = vec![Shape::outline(
        &[
            point(left, at.y - half),
            point(right, at.y - half),
            point(right + half, at.y),
            point(right, at.y + half),
            point(left, at.y + half),
        ],
        Pen::Thin,
        Fill::Paper,
    )];
    shapes.extend(pieces((left + 1.2, at.y + MODULE / 2.0), &line));
    shapes
}

/// The pieces of a line as texts, side by side.
fn pieces((x, y): (f64, f64), line: &[Piece]) -> Vec<Shape> {
    let mut at = x;
    let mut shapes = Vec::new();
    for piece in line {
        shapes.push(text((at, y), &piece.words, (MODULE, piece.weight, piece.ink), Anchor::Start));
        at += piece.width() + GAP;
    }
    shapes
}

fn turned(area: Area, turn: Turn) -> Area {
    let a = turn.apply(point(area.left, area.top));
    let b = turn.apply(point(area.right, area.bottom));
    Area::between(a, b)
}
