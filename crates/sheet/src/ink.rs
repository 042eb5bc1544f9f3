//! A placed block as strokes and letters. **In:** where everything stands. **Out:** groups of
//! shapes, bodies, and the wires whose number found no free place. **Never here:** a choice of
//! column or rank.

use crate::block::{
    self, Bus, Cluster, Placed, base_lines, lines, string_slots, terminals, unit_columns,
};
use crate::frames::outline;
use crate::geometry::{
    Anchor, Area, Body, Dash, Fill, Group, Ink, MODULE, Pen, Point, Role, Shape, Source, Text,
    Turn, Weight, point,
};
use crate::labels::Board;
use crate::lettering::{self, LEADING};
use crate::lists::{self, References};
use crate::names::{Unique, WireNumber, slug};
use crate::page::{SMALL_BOLD, SMALL_SECOND, text};
use crate::rank::core_places;
use crate::symbols::{self, DOT, EDGE};
use crate::words::{self, GAP, Piece};
use fiftytwo_scheme::{CurrentKind, DeviceId, NodeId, PartId, PartKind, PlaceId, Scheme, Span};
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
}

struct Desk<'a> {
    shared: &'a Shared<'a>,
    placed: &'a Placed,
    unique: &'a mut Unique,
    pieces: &'a mut BTreeMap<NodeId, usize>,
    board: Board,
    drawn: Drawn,
}

/// Draws a block.
pub fn draw(
    shared: &Shared<'_>,
    placed: &Placed,
    neighbours: &Neighbours,
    unique: &mut Unique,
    pieces: &mut BTreeMap<NodeId, usize>,
) -> Drawn {
    let mut desk =
        Desk { shared, placed, unique, pieces, board: Board::default(), drawn: Drawn::default() };
    let frames = desk.frames();
    desk.rails();
    desk.runs();
    desk.buses();
    desk.parts();
    desk.titles();
    desk.lists();
    desk.strings(neighbours);
    desk.frame_names(&frames);
    desk.margin(neighbours);
    desk.wire_labels();
    desk.drawn
}

impl Desk<'_> {
    fn scheme(&self) -> &Scheme {
        self.shared.scheme
    }
    fn source(&self, span: Span) -> Option<Source> {
        let sources = &self.scheme().sources;
        let known = sources.files.iter().any(|(id, _)| id == span.file);
        known.then(|| Source {
            // Without folders: a drawing says nothing about the machine it was made on.
            file: sources.file_name(span).rsplit(['/', '\\']).next().unwrap_or_default().to_owned(),
            line: sources.position(span).line,
        })
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
        let source = span.and_then(|span| self.source(span));
        let id = self.unique.once(id);
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
        let key = self.wire_key(node);
        let piece = self.pieces.entry(node).or_insert(0);
        *piece += 1;
        let id = format!("wire-{key}.{piece}");
        let title = format!("wire {}", self.number(node).number);
        let span = self.scheme().nodes[node].span;
        self.push(id, Role::Wire(node), title, span, vec![Shape::line(points, pen)]);
    }
    fn dot(&mut self, node: NodeId, x: f64, y: f64) {
        let key = self.wire_key(node);
        let title = format!("junction of wire {}", self.number(node).number);
        let shapes = vec![Shape::dot(point(x, y), DOT)];
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
                let symbol = symbols::draw(&words::figure(self.scheme(), *part));
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
                self.flag(bus, point(last + FLAG_STUB, y));
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
                if ends > 2 {
                    self.dot(bus.node, xs[index], y);
                }
            }
        }
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
        let shapes = flag(&number.number, &place, at);
        let id = format!("flag-{}-sheet-{}", self.wire_key(bus.node), self.placed.sheet);
        let title = format!("wire {} goes on at {place}", number.number);
        self.push(id, Role::Flag(bus.node), title, None, shapes);
    }

    fn parts(&mut self) {
        let placed = self.placed;
        for (column, run) in placed.block.plan.columns() {
            let Some(x) = placed.x.get(column).copied() else { continue };
            for part in &run.parts {
                let turn = if run.flipped { Turn::Up } else { Turn::Down };
                self.part(*part, point(x, placed.part_y(*part)), turn, run.flipped);
            }
        }
    }

    fn part(&mut self, part: PartId, at: Point, turn: Turn, flipped: bool) {
        let scheme = self.shared.scheme;
        let figure = words::figure(scheme, part);
        let symbol = symbols::draw(&figure);
        let mut shapes: Vec<Shape> =
            symbol.shapes.iter().map(|shape| shape.placed(turn, at)).collect();
        let body = turned(symbol.body, turn).moved(at.x, at.y);
        let reach = turn.apply(point(0.0, symbol.reach));
        let upstream = point(at.x - reach.x, at.y - reach.y);
        let downstream = point(at.x + reach.x, at.y + reach.y);
        self.drawn.bodies.push(Body { part, area: body, ends: [upstream, downstream] });
        self.board.add_body(body);
        let lying = matches!(turn, Turn::Left | Turn::Right);
        let mut texts = if lying {
            self.around(part, at, symbol.body.right)
        } else {
            let mut texts = self.beside(part, at, flipped);
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

    /// Texts to the right of an upright symbol.
    fn beside(&self, part: PartId, at: Point, flipped: bool) -> Vec<Shape> {
        let scheme = self.shared.scheme;
        let coil = lists::coil_of(scheme, part);
        let reference = coil.and_then(|coil| self.shared.references.get(&coil));
        let lines = lines(scheme, part, reference.map(String::as_str));
        let mut bases = base_lines(lines.len());
        let body = symbols::draw(&words::figure(scheme, part)).body.right;
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
        for (line, base) in lines.iter().zip(bases) {
            shapes.extend(pieces((x, at.y + base), line));
        }
        shapes
    }

    /// Screw numbers to the left of a symbol.
    fn screws(&self, part: PartId, at: Point, reach: f64, flipped: bool) -> Vec<Shape> {
        let scheme = self.shared.scheme;
        let Some((upper, lower)) = terminals(scheme, part) else { return Vec::new() };
        let (upper, lower) = if flipped { (lower, upper) } else { (upper, lower) };
        let (x, bases) = match scheme.parts[part].kind {
            PartKind::Contact(_) => (-1.28 * MODULE, (-0.18 * MODULE, 1.18 * MODULE)),
            PartKind::Core(_) => {
                let ring = symbols::CORE;
                (-1.7, (MODULE / 2.0 - ring, MODULE / 2.0 + ring))
            }
            _ => (-0.9, (-reach - 0.6, reach + 0.6 + MODULE)),
        };
        [(upper, bases.0), (lower, bases.1)]
            .iter()
            .filter(|(words, _)| !words.is_empty())
            .map(|(words, base)| text((at.x + x, at.y + base), words, SMALL_SECOND, Anchor::End))
            .collect()
    }

    /// Texts above and below a lying symbol.
    fn around(&self, part: PartId, at: Point, half: f64) -> Vec<Shape> {
        let lines = words::beside(self.shared.scheme, part, None, f64::INFINITY);
        let half = half.max(1.6);
        let mut shapes = Vec::new();
        for (index, line) in lines.iter().enumerate() {
            let width = words::line_width(line);
            let below = MODULE * (1.0 + LEADING * (index.max(1) - 1) as f64) + half + 1.0;
            let y = if index == 0 { at.y - half - 1.2 } else { at.y + below };
            let is_core = matches!(self.shared.scheme.parts[part].kind, PartKind::Core(_));
            let x = if is_core { at.x + EDGE - 1.0 - width } else { at.x - width / 2.0 };
            shapes.extend(pieces((x, y), line));
        }
        shapes
    }

    fn titles(&mut self) {
        let placed = self.placed;
        let plan = &placed.block.plan;
        let columns = unit_columns(self.shared.scheme, plan);
        let bracket = placed.upper_rail() - 8.5;
        for (index, (first, last, name)) in columns.iter().enumerate() {
            let Some(leg) = plan.units.get(index).and_then(|unit| unit.leg) else { continue };
            let (Some(from), Some(to)) = (placed.x.get(*first), placed.x.get(*last)) else {
                continue;
            };
            let limit = placed.x.get(last + 1).map_or(to + 19.0, |next| next - 5.0);
            let (left, right) = (from - 2.5, limit.min(to + 24.0));
            let mut shapes = vec![Shape::line(
                &[
                    point(left, bracket + 1.8),
                    point(left, bracket),
                    point(right, bracket),
                    point(right, bracket + 1.8),
                ],
                Pen::Thin,
            )];
            let lines = lettering::wrapped(name, right - left, MODULE, Weight::Bold);
            for (line, words) in lines.iter().rev().enumerate() {
                let y = bracket - 1.6 - MODULE * LEADING * line as f64;
                shapes.push(text((left, y), words, SMALL_BOLD, Anchor::Start));
            }
            let id =
                format!("leg-{}-{}", slug(&self.scheme().circuits[plan.circuit].name), slug(name));
            let span = self.scheme().legs[leg].span;
            self.push(id, Role::Leg(leg), format!("leg {name}"), Some(span), shapes);
        }
    }

    fn lists(&mut self) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        for (column, run) in placed.block.plan.columns() {
            for part in &run.parts {
                let Some(x) = placed.x.get(column).copied() else { continue };
                if lists::size(scheme, *part).is_none() {
                    continue;
                }
                let at = (x, placed.lower_rail());
                let (references, tables) = (self.shared.references, self.shared.tables);
                if let Some(list) = lists::draw_list(scheme, references, tables, *part, at) {
                    self.push(list.id, list.role, list.title, None, list.shapes);
                }
            }
        }
    }

    /// Supply, fuses and whatever lies between supply and rail, and the names of the rails.
    fn strings(&mut self, neighbours: &Neighbours) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        let plan = &placed.block.plan;
        let circuit = &scheme.circuits[plan.circuit];
        let supply = &scheme.supplies[circuit.supply];
        let ends = [
            (plan.plus, placed.upper_rail(), &plan.feed, circuit.feed.from, true),
            (plan.minus, placed.lower_rail(), &plan.back, circuit.back.to, false),
        ];
        for (rail, y, parts, pole, upper) in ends {
            let name = self.number(rail).number;
            let rail_name = if rail == pole { self.pole_name(pole) } else { name.clone() };
            let mut shapes = vec![
                text((placed.rail_left + 1.0, y - 1.6), &rail_name, SMALL_BOLD, Anchor::Start),
                text(
                    (placed.rail_right + 1.2, y + MODULE / 2.0),
                    &rail_name,
                    SMALL_BOLD,
                    Anchor::Start,
                ),
            ];
            if let Some((top, bottom)) = &neighbours.after {
                shapes.pop();
                let place = if upper { top } else { bottom };
                shapes.extend(flag(&rail_name, place, point(placed.rail_right, y)));
            }
            if let Some((top, bottom)) = &neighbours.before {
                shapes.remove(0);
                let place = if upper { top } else { bottom };
                let start = point(placed.left + 4.0, y);
                let drawn = flag(&rail_name, place, start);
                let width = drawn.iter().map(|shape| shape.area().right).fold(start.x, f64::max);
                shapes.extend(drawn);
                self.wire(rail, &[point(width, y), point(placed.rail_left, y)], Pen::Rail);
            } else {
                self.string(rail, y, parts, pole, upper);
                let words = if supply.plus == pole || supply.minus == pole {
                    let mut words = vec![Piece::bold(&supply.name)];
                    if upper {
                        words.push(Piece::second(words::short(&supply.nominal.written)));
                    }
                    words
                } else {
                    let number = self.number(pole).number;
                    vec![Piece::bold(number), Piece::second(self.elsewhere(pole))]
                };
                let mut at = y - 3.6;
                for piece in words.iter().rev() {
                    let room = 40.0;
                    for line in
                        lettering::wrapped(&piece.words, room, MODULE, piece.weight).iter().rev()
                    {
                        let look = (MODULE, piece.weight, piece.ink);
                        shapes.push(text((placed.left + 3.0, at), line, look, Anchor::Start));
                        at -= MODULE * LEADING;
                    }
                }
                if supply.plus == pole || supply.minus == pole {
                    let sign = match (supply.current, supply.plus == pole) {
                        (CurrentKind::Dc, true) => "+",
                        (CurrentKind::Dc, false) => "−",
                        (CurrentKind::Ac, true) => "L",
                        (CurrentKind::Ac, false) => "N",
                    };
                    shapes.push(text(
                        (placed.left + 6.2, y + MODULE / 2.0),
                        sign,
                        SMALL_BOLD,
                        Anchor::End,
                    ));
                }
            }
            let end = if upper { "upper" } else { "lower" };
            let id = format!("rail-{}-{end}-sheet-{}", slug(&circuit.name), placed.sheet);
            let title = format!("{} rail of circuit {}", rail_name, circuit.name);
            self.push(id, Role::Circuit(plan.circuit), title, Some(circuit.span), shapes);
        }
        self.outer_frame();
    }

    fn pole_name(&self, pole: NodeId) -> String {
        self.number(pole).number
    }

    fn string(&mut self, rail: NodeId, y: f64, parts: &[PartId], pole: NodeId, upper: bool) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        // From the supply to the rail, whatever way the current flows.
        let mut row: Vec<PartId> = parts.to_vec();
        if !upper {
            row.reverse();
        }
        let lead = placed.block.lead;
        let slots = string_slots(scheme, &row, lead);
        let length = block::string_length(scheme, &row, lead);
        let terminal = placed.left + 8.0;
        let shift = placed.rail_left - length;
        let mut x = terminal + symbols::TERMINAL;
        let mut node = pole;
        for (part, slot) in row.iter().zip(slots) {
            let symbol = symbols::draw(&words::figure(scheme, *part));
            let middle = shift + slot;
            self.wire(node, &[point(x, y), point(middle - symbol.reach, y)], Pen::Wire);
            let turn = if upper { Turn::Right } else { Turn::Left };
            self.part(*part, point(middle, y), turn, false);
            if let Some(at) = scheme.parts[*part].at {
                node = if upper { at.to } else { at.from };
            }
            x = middle + symbol.reach;
        }
        self.wire(rail, &[point(x, y), point(placed.rail_left, y)], Pen::Wire);
        let ring = Shape::Circle {
            centre: point(terminal, y),
            radius: symbols::TERMINAL,
            pen: Pen::Symbol,
            ink: Ink::Main,
            fill: Fill::Paper,
        };
        let id = format!("pole-{}", self.wire_key(pole));
        let title = format!("supply terminal {}", self.pole_name(pole));
        self.push(id, Role::Wire(pole), title, None, vec![ring]);
    }

    /// The frame round a circuit whose rails stand in another place than its supply.
    fn outer_frame(&mut self) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        let plan = &placed.block.plan;
        let circuit = &scheme.circuits[plan.circuit];
        let place = scheme.nodes[plan.plus].place;
        if place == scheme.supplies[circuit.supply].place {
            return;
        }
        let edge = |parts: &[PartId], upper: bool| {
            let mut row = parts.to_vec();
            if !upper {
                row.reverse();
            }
            let at =
                row.iter().rposition(|part| matches!(scheme.parts[*part].kind, PartKind::Core(_)));
            let lead = placed.block.lead;
            let shift = placed.rail_left - block::string_length(scheme, &row, lead);
            at.and_then(|at| {
                string_slots(scheme, &row, lead).get(at).map(|slot| shift + slot + EDGE)
            })
        };
        let fallback = placed.rail_left + 6.0;
        let (top, bottom) =
            (placed.upper_rail() - 6.0, placed.lower_rail() + placed.block.foot + 6.0);
        let upper = edge(&plan.feed, true).unwrap_or(fallback);
        let lower = edge(&plan.back, false).unwrap_or(fallback);
        // A straight edge, if it still passes between the terminals of both cores.
        let lower = if (upper - lower).abs() < 2.0 { upper } else { lower };
        let right = placed.rail_right + 14.0;
        let middle = (top + bottom) / 2.0;
        let mut points = vec![point(upper, top), point(right, top), point(right, bottom)];
        points.push(point(lower, bottom));
        if (upper - lower).abs() > 0.01 {
            points.extend([point(lower, middle), point(upper, middle)]);
        }
        self.place_frame(place, &points);
        let name = frame_name(scheme, place, point(upper.max(lower) + 5.5, middle), true, true);
        self.push_name(place, name);
    }

    fn place_frame(&mut self, place: PlaceId, points: &[Point]) {
        let shape = Shape::Line {
            points: points.to_vec(),
            closed: true,
            pen: Pen::Thin,
            ink: Ink::Main,
            fill: Fill::None,
            dash: Dash::LongDashDot,
        };
        let name = self.scheme().places[place].name.clone();
        let span = self.scheme().places[place].span;
        let id = format!("place-{}-sheet-{}", slug(&name), self.placed.sheet);
        self.push(id, Role::Place(place), format!("place {name}"), Some(span), vec![shape]);
    }

    fn push_name(&mut self, place: PlaceId, shapes: Vec<Shape>) {
        let name = self.scheme().places[place].name.clone();
        let span = self.scheme().places[place].span;
        let id = format!("place-name-{}-sheet-{}", slug(&name), self.placed.sheet);
        self.push(id, Role::Place(place), format!("place {name}"), Some(span), shapes);
    }

    fn frames(&mut self) -> Vec<(Cluster, Area)> {
        let placed = self.placed;
        let mut frames = Vec::new();
        for cluster in &placed.block.clusters {
            let Some((area, outline)) = outline(self.shared.scheme, placed, cluster) else {
                continue;
            };
            self.place_frame(cluster.place, &outline);
            frames.push((cluster.clone(), area));
        }
        frames
    }

    fn frame_names(&mut self, frames: &[(Cluster, Area)]) {
        for (cluster, area) in frames {
            let scheme = self.shared.scheme;
            let place = cluster.place;
            let middle = (area.top + area.bottom) / 2.0;
            let spots = [
                (point(area.left + 5.5, middle), true),
                (point(area.left + 2.5, area.bottom - 2.5), false),
                (point(area.left + 2.5, area.top + 5.5), false),
                (point(area.left + 2.5, area.top - 1.6), false),
                (point(area.left + 2.5, area.bottom + 5.0), false),
            ];
            // Turned at the left edge if possible, there the name alone if need be.
            let mut candidates: Vec<Vec<Shape>> = Vec::new();
            for (at, turned) in spots {
                candidates.push(frame_name(scheme, place, at, turned, true));
                candidates.push(frame_name(scheme, place, at, turned, false));
            }
            // Else wherever it fits.
            let mut y = area.top + 5.5;
            while y < area.bottom - 2.5 {
                let mut x = area.left + 2.5;
                while x < area.right - 12.0 {
                    candidates.push(frame_name(scheme, place, point(x, y), false, false));
                    x += 4.0;
                }
                y += 2.0;
            }
            let free = candidates.iter().position(|shapes| {
                let inside = area.grown(-1.2);
                shapes.iter().all(|shape| {
                    let words = shape.area();
                    let fits = inside.holds(&words) || !area.overlaps(&words);
                    fits && self.board.is_free(&words)
                })
            });
            let shapes = candidates.swap_remove(free.unwrap_or(0));
            self.push_name(place, shapes);
        }
    }

    /// What stands in the left margin: heading, the place of the supply, cables.
    fn margin(&mut self, neighbours: &Neighbours) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        let plan = &placed.block.plan;
        let x = placed.left + 3.0;
        let room = 22.0;
        let circuit = &scheme.circuits[plan.circuit];
        if let Some(heading) = &neighbours.heading {
            let look = (3.5, Weight::Bold, Ink::Main);
            let lines = lettering::wrapped(heading, 40.0, 3.5, Weight::Bold);
            let mut shapes = Vec::new();
            for (line, words) in lines.iter().enumerate() {
                let y = placed.top + 5.0 + 5.2 * line as f64;
                shapes.push(text((x, y), words, look, Anchor::Start));
            }
            let id = format!("circuit-{}", slug(&circuit.name));
            let title = format!("circuit {}", circuit.name);
            self.push(id, Role::Circuit(plan.circuit), title, Some(circuit.span), shapes);
        }
        let mut items: Vec<(f64, Vec<(f64, Piece)>)> = Vec::new();
        if neighbours.before.is_none() {
            let place = &scheme.places[scheme.supplies[circuit.supply].place];
            let mut lines = vec![(3.5, Piece::bold(&place.name))];
            for line in lettering::wrapped(&place.description, room, MODULE, Weight::Plain) {
                lines.push((MODULE, Piece::plain(line)));
            }
            items.push((placed.upper_rail() + 9.0, lines));
        }
        let mut cables: BTreeMap<_, f64> = BTreeMap::new();
        let columns =
            plan.runs().flat_map(|run| &run.parts).map(|part| (*part, placed.part_y(*part)));
        let strings =
            plan.feed.iter().chain(&plan.back).map(|part| (*part, placed.upper_rail() + 12.0));
        for (part, y) in columns.chain(strings) {
            if let PartKind::Core(core) = &scheme.parts[part].kind {
                let at = cables.entry(core.cable).or_insert(y);
                *at = at.min(y);
            }
        }
        for (cable, y) in cables {
            let cable = &scheme.cables[cable];
            let mut lines = vec![(MODULE, Piece::bold(format!("Cable {}", cable.name)))];
            let cores = format!("{} × {}", cable.cores, cable.size_written);
            lines.push((MODULE, Piece::second(cores)));
            lines.push((MODULE, Piece::second(&cable.length.written)));
            items.push(((y - 2.0).max(placed.upper_rail() + 9.5), lines));
        }
        items.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut free = placed.upper_rail() + 6.5;
        let mut shapes = Vec::new();
        for (wanted, lines) in items {
            let mut y = wanted.max(free);
            for (index, (height, piece)) in lines.iter().enumerate() {
                y += if index == 0 {
                    *height
                } else {
                    MODULE * LEADING + 0.2 * (lines[0].0 - MODULE)
                };
                shapes.push(text(
                    (x, y),
                    &piece.words,
                    (*height, piece.weight, piece.ink),
                    Anchor::Start,
                ));
            }
            free = y + 3.5;
        }
        if !shapes.is_empty() {
            let id = format!("margin-{}-sheet-{}", slug(&circuit.name), placed.sheet);
            let title = "place of the supply, cables".to_owned();
            self.push(id, Role::Circuit(plan.circuit), title, None, shapes);
        }
    }

    fn wire_labels(&mut self) {
        let placed = self.placed;
        let plan = &placed.block.plan;
        let mut done: BTreeSet<NodeId> = BTreeSet::new();
        for run in plan.runs() {
            for node in &run.nodes {
                if plan.is_rail(*node) || !done.insert(*node) {
                    continue;
                }
                let flagged = placed.block.buses.iter().any(|bus| bus.node == *node && bus.flag);
                if flagged {
                    continue;
                }
                self.wire_label(*node);
            }
        }
    }

    fn wire_label(&mut self, node: NodeId) {
        let number = self.number(node);
        let ink = if number.counted { Ink::Second } else { Ink::Main };
        let make = |x: f64, y: f64, anchor: Anchor| Text {
            at: point(x, y),
            anchor,
            height: MODULE,
            weight: Weight::Plain,
            ink,
            words: lettering::tidy(&number.number),
            turned: false,
        };
        let mut candidates = Vec::new();
        let pieces: Vec<(Point, Point)> = self.wire_pieces(node);
        for (a, b) in pieces.iter().filter(|(a, b)| (a.y - b.y).abs() < 0.01) {
            let (left, right) = (a.x.min(b.x), a.x.max(b.x));
            for base in [a.y - 1.0, a.y + 1.0 + MODULE] {
                candidates.push(make(right - 1.6, base, Anchor::End));
                candidates.push(make((left + right) / 2.0, base, Anchor::Middle));
                candidates.push(make(left + 1.6, base, Anchor::Start));
                let mut x = left + 3.0;
                while x < right - 3.0 {
                    candidates.push(make(x, base, Anchor::Start));
                    x += 2.0;
                }
            }
        }
        for (a, b) in pieces.iter().filter(|(a, b)| (a.x - b.x).abs() < 0.01) {
            let (top, bottom) = (a.y.min(b.y), a.y.max(b.y));
            let boundaries = self.placed.level_y.iter().filter(|y| top < **y && **y < bottom);
            let mut heights: Vec<f64> = boundaries.map(|y| y + MODULE / 2.0).collect();
            heights.push((top + bottom) / 2.0 + MODULE / 2.0);
            let mut y = top + MODULE + 0.6;
            while y < bottom - 0.6 {
                heights.push(y);
                y += 0.5;
            }
            for (x, anchor) in [(1.6, Anchor::Start), (-1.6, Anchor::End)] {
                candidates.extend(heights.iter().map(|y| make(a.x + x, *y, anchor)));
            }
        }
        let first = candidates.first().cloned();
        let found = self.board.take(candidates);
        if found.is_none() {
            self.drawn.crowded.insert(self.placed.block.ranks.level(node));
        }
        if let Some(label) = found.or(first) {
            let id = format!("number-{}", self.wire_key(node));
            let title = if number.counted {
                format!("wire {}, counted by the drawing", number.number)
            } else {
                format!("wire {}", number.number)
            };
            let span = self.scheme().nodes[node].span;
            self.push_quiet(id, Role::Wire(node), title, span, vec![Shape::Text(label)]);
        }
    }

    fn wire_pieces(&self, node: NodeId) -> Vec<(Point, Point)> {
        self.drawn
            .groups
            .iter()
            .filter(|group| group.role == Role::Wire(node))
            .flat_map(|group| &group.shapes)
            .filter_map(|shape| match shape {
                Shape::Line { points, .. } => Some((*points.first()?, *points.last()?)),
                _ => None,
            })
            .collect()
    }
}

/// From the last tap to a flag, mm.
const FLAG_STUB: f64 = 4.0;

/// A flag that says where a wire goes on.
fn flag(number: &str, place: &str, at: Point) -> Vec<Shape> {
    let line = [Piece::bold(number), Piece::second(place)];
    let line: Vec<Piece> = line.into_iter().filter(|piece| !piece.words.is_empty()).collect();
    let width = words::line_width(&line) + 2.4;
    let half = 2.1;
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

/// Name and description of a place, on one line.
fn frame_name(
    scheme: &Scheme,
    place: PlaceId,
    at: Point,
    turned: bool,
    describe: bool,
) -> Vec<Shape> {
    let place = &scheme.places[place];
    let about = place.description.split(',').next().unwrap_or_default();
    let about = if describe { about.to_owned() } else { String::new() };
    let name = lettering::width(&place.name, 3.5, Weight::Bold);
    let gap = if about.is_empty() { 0.0 } else { 2.5 };
    let all = name + gap + lettering::width(&about, MODULE, Weight::Plain);
    let make = |along: f64, height: f64, weight: Weight, words: &str| {
        let at =
            if turned { point(at.x, at.y + all / 2.0 - along) } else { point(at.x + along, at.y) };
        Shape::Text(Text {
            at,
            anchor: Anchor::Start,
            height,
            weight,
            ink: Ink::Main,
            words: lettering::tidy(words),
            turned,
        })
    };
    let mut shapes = vec![make(0.0, 3.5, Weight::Bold, &place.name)];
    if !about.is_empty() {
        shapes.push(make(name + 2.5, MODULE, Weight::Plain, &about));
    }
    shapes
}

fn turned(area: Area, turn: Turn) -> Area {
    let a = turn.apply(point(area.left, area.top));
    let b = turn.apply(point(area.right, area.bottom));
    Area::between(a, b)
}
