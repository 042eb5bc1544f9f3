//! What stands around the columns: names of legs, lists under coils, supply strings, frames and
//! names of places, the left margin.

use super::*;

/// The frame of a place as drawn.
pub(super) struct Frame {
    place: PlaceId,
    /// The rectangle round it.
    area: Area,
    outline: Vec<Point>,
}

impl Frame {
    /// Whether an area lies inside the outline: both its corners and its edges.
    fn holds(&self, area: &Area) -> bool {
        let next = self.outline.iter().cycle().skip(1);
        let mut edges = self.outline.iter().copied().zip(next.copied());
        let middle = point((area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0);
        !edges.any(|edge| crate::labels::touches(area, &edge))
            && crate::labels::lies_inside(middle, &self.outline)
    }
}

impl Desk<'_> {
    pub(super) fn titles(&mut self) {
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
            let across = self.style().across();
            let (left, right) = if across {
                let limit = placed.x.get(last + 1).map_or(to + 3.0, |next| next - 5.0);
                (from - 2.5, limit.min(to + 3.0))
            } else {
                (from - 2.5, limit.min(to + 24.0))
            };
            let mut shapes = vec![Shape::line(
                &[
                    placed.at(left, bracket + 1.8),
                    placed.at(left, bracket),
                    placed.at(right, bracket),
                    placed.at(right, bracket + 1.8),
                ],
                Pen::Thin,
            )];
            if across {
                // Left of the bracket, its first line at the height of the main way.
                let lines = lettering::wrapped(name, block::LEG_NAME, MODULE, Weight::Bold);
                for (line, words) in lines.iter().enumerate() {
                    let y = from + MODULE / 2.0 + MODULE * LEADING * line as f64;
                    shapes.push(text((bracket - 1.6, y), words, SMALL_BOLD, Anchor::End));
                }
            } else {
                let room = right - left - 1.5;
                let lines = lettering::wrapped(name, room, MODULE, Weight::Bold);
                for (line, words) in lines.iter().rev().enumerate() {
                    let y = bracket - 1.6 - MODULE * LEADING * line as f64;
                    shapes.push(text((left, y), words, SMALL_BOLD, Anchor::Start));
                }
            }
            let id =
                format!("leg-{}-{}", slug(&self.scheme().circuits[plan.circuit].name), slug(name));
            let span = self.scheme().legs[leg].span;
            self.push(id, Role::Leg(leg), format!("leg {name}"), Some(span), shapes);
        }
    }

    /// Numbers of the paths, along the legs' beginnings.
    pub(super) fn paths(&mut self) {
        if !self.style().iec() {
            return;
        }
        let placed = self.placed;
        let mut shapes = Vec::new();
        let across = self.style().across();
        let y = placed.upper_rail() - block::head(self.style()) + if across { 2.5 } else { 3.2 };
        for (column, x) in placed.x.iter().enumerate() {
            let words = (placed.first_path + column).to_string();
            let shape = if across {
                text((y, x + MODULE / 2.0), &words, SMALL_SECOND, Anchor::Middle)
            } else {
                text((*x, y), &words, SMALL_SECOND, Anchor::Middle)
            };
            shapes.push(shape);
        }
        let circuit = placed.block.plan.circuit;
        let name = slug(&self.scheme().circuits[circuit].name);
        let id = format!("paths-{name}-sheet-{}", placed.sheet);
        self.push(id, Role::Circuit(circuit), "numbers of the paths".to_owned(), None, shapes);
    }

    pub(super) fn lists(&mut self) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        for (column, run) in placed.block.plan.columns() {
            for part in &run.parts {
                let Some(x) = placed.x.get(column).copied() else { continue };
                let style = self.style();
                if lists::size(scheme, *part, style).is_none() {
                    continue;
                }
                let at = (placed.at(x, placed.lower_rail()), style);
                let (references, tables) = (self.shared.references, self.shared.tables);
                if let Some(list) = lists::draw_list(scheme, references, tables, *part, at) {
                    self.push(list.id, list.role, list.title, None, list.shapes);
                }
            }
        }
    }

    /// Supply, fuses and whatever lies between supply and rail, and the names of the rails.
    pub(super) fn strings(&mut self, neighbours: &Neighbours) {
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
            let across = self.style().across();
            // A rail in a state is broader and ends later.
            let broad = if self.shared.live.is_some() { 1.0 } else { 0.0 };
            let mut shapes = if across {
                vec![
                    text((y + 1.6, placed.rail_left + 3.2), &rail_name, SMALL_BOLD, Anchor::Start),
                    text(
                        (y, placed.rail_right + 4.0 + broad),
                        &rail_name,
                        SMALL_BOLD,
                        Anchor::Middle,
                    ),
                ]
            } else {
                vec![
                    text((placed.rail_left + 1.0, y - 1.6), &rail_name, SMALL_BOLD, Anchor::Start),
                    text(
                        (placed.rail_right + 1.2 + broad, y + MODULE / 2.0),
                        &rail_name,
                        SMALL_BOLD,
                        Anchor::Start,
                    ),
                ]
            };
            let [of_upper, of_lower] = &neighbours.also;
            let also = if upper { of_upper } else { of_lower };
            if neighbours.after.is_some() || also.is_some() {
                shapes.pop();
            }
            if let Some((top, bottom)) = &neighbours.after {
                let place = if upper { top } else { bottom };
                let at = placed.at(placed.rail_right, y);
                shapes.extend(flag(&rail_name, place, at, self.style()));
            }
            if let Some((top, bottom)) = &neighbours.before {
                shapes.remove(0);
                let place = if upper { top } else { bottom };
                let start = placed.at(placed.left + 4.0, y);
                let drawn = flag(&rail_name, place, start, self.style());
                let width = drawn.iter().map(|shape| shape.area().right).fold(start.x, f64::max);
                let end = if across { placed.left + 8.2 + broad } else { width + broad };
                shapes.extend(drawn);
                self.wire(rail, &[point(end, y), point(placed.rail_left, y)], Pen::Rail);
            } else {
                self.string(rail, y, parts, pole, upper);
                let words = if supply.plus == pole || supply.minus == pole {
                    let mut words = vec![Piece::bold(&supply.name)];
                    let feeds = self.scheme().circuits[placed.block.plan.circuit].supply;
                    if self.shared.live.is_some_and(|live| live.lost.contains(&feeds)) {
                        words = vec![Piece::bold(format!("{} lost", supply.name))];
                    } else if upper {
                        words.push(Piece::second(words::short(&supply.nominal.written)));
                    }
                    words
                } else {
                    let number = self.number(pole).number;
                    vec![Piece::bold(number), Piece::second(self.elsewhere(pole))]
                };
                if across {
                    // Right of the terminal, on one line.
                    let base = placed.left + 8.0 + MODULE / 2.0;
                    shapes.extend(pieces((y + 2.6, base), &words));
                }
                let mut at = y - 3.6;
                for piece in words.iter().rev().filter(|_| !across) {
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
                    let at = if across {
                        (y - 1.8, placed.left + 8.0 + MODULE / 2.0)
                    } else {
                        (placed.left + 6.2, y + MODULE / 2.0)
                    };
                    shapes.push(text(at, sign, SMALL_BOLD, Anchor::End));
                }
            }
            if let Some(place) = also {
                // In the place of the rail's name at its end.
                let at = placed.at(placed.rail_right, y);
                let flag = flag(&rail_name, place, at, self.style());
                let id = format!("flag-{}-sheet-{}", self.wire_key(rail), placed.sheet);
                let title = format!("wire {rail_name} goes on at {place}");
                self.push(id, Role::Flag(rail), title, None, flag);
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
        let style = self.style();
        let slots = string_slots(scheme, &row, lead, style);
        let length = block::string_length(scheme, &row, lead, style);
        let terminal = placed.left + 8.0;
        let shift = placed.rail_left - length;
        let mut x = terminal + symbols::TERMINAL;
        let mut node = pole;
        for (part, slot) in row.iter().zip(slots) {
            let symbol = self.symbol(*part).1;
            let middle = shift + slot;
            self.wire(node, &[point(x, y), point(middle - symbol.reach, y)], Pen::Wire);
            let turn = match (style.across(), upper) {
                (false, true) => Turn::Right,
                (false, false) => Turn::Left,
                (true, true) => Turn::Down,
                (true, false) => Turn::Up,
            };
            self.part(*part, placed.at(middle, y), turn, style.across() && !upper);
            if let Some(at) = scheme.parts[*part].at {
                node = if upper { at.to } else { at.from };
            }
            x = middle + symbol.reach;
        }
        self.wire(rail, &[point(x, y), point(placed.rail_left, y)], Pen::Wire);
        let ring = Shape::Circle {
            centre: placed.at(terminal, y),
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
            let style = self.style();
            let shift = placed.rail_left - block::string_length(scheme, &row, lead, style);
            at.and_then(|at| {
                string_slots(scheme, &row, lead, style).get(at).map(|slot| shift + slot + EDGE)
            })
        };
        let fallback = placed.rail_left + 6.0;
        let (top, bottom) =
            (placed.upper_rail() - 5.0, placed.lower_rail() + placed.block.foot + 6.0);
        let upper = edge(&plan.feed, true).unwrap_or(fallback);
        let lower = edge(&plan.back, false).unwrap_or(fallback);
        // A straight edge, if it still passes between the terminals of both cores.
        let lower = if (upper - lower).abs() < 2.0 { upper } else { lower };
        let right = placed.rail_right + if self.style().across() { 6.0 } else { 14.0 };
        let middle = (top + bottom) / 2.0;
        let mut points = vec![point(upper, top), point(right, top), point(right, bottom)];
        points.push(point(lower, bottom));
        if (upper - lower).abs() > 0.01 {
            points.extend([point(lower, middle), point(upper, middle)]);
        }
        self.place_frame(place, &points);
        let edge = upper.max(lower);
        let spots = if self.style().across() {
            [(point(placed.upper_rail() + 10.0, edge + 6.0), false); 3]
        } else {
            [
                (point(edge + 5.5, middle), true),
                (point(edge + 2.5, bottom - 2.5), false),
                (point(edge + 2.5, top + 5.5), false),
            ]
        };
        let mut candidates: Vec<Vec<Shape>> = Vec::new();
        for (at, turned) in spots {
            candidates.push(frame_name(scheme, place, at, (turned, 3.5), true));
            candidates.push(frame_name(scheme, place, at, (turned, 3.5), false));
        }
        let free = candidates
            .iter()
            .position(|shapes| shapes.iter().all(|shape| self.board.is_free(&shape.area())));
        let name = candidates.swap_remove(free.unwrap_or(0));
        self.push_name(place, name);
    }

    fn place_frame(&mut self, place: PlaceId, points: &[Point]) {
        let shape = Shape::Line {
            points: points.iter().map(|at| self.placed.at(at.x, at.y)).collect(),
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

    pub(super) fn frames(&mut self) -> Vec<Frame> {
        let placed = self.placed;
        let mut frames = Vec::new();
        for region in &placed.block.regions {
            let Some((area, outline)) = outline(self.shared.scheme, placed, region) else {
                continue;
            };
            self.place_frame(region.place, &outline);
            let corners = (placed.at(area.left, area.top), placed.at(area.right, area.bottom));
            frames.push(Frame {
                place: region.place,
                area: Area::between(corners.0, corners.1),
                outline: outline.iter().map(|at| placed.at(at.x, at.y)).collect(),
            });
        }
        frames
    }

    /// The name of each place, inside its frame; where that has no room, just outside, in no other.
    pub(super) fn frame_names(&mut self, frames: &[Frame]) {
        for (index, frame) in frames.iter().enumerate() {
            let scheme = self.shared.scheme;
            let (place, area) = (frame.place, frame.area);
            let middle = (area.top + area.bottom) / 2.0;
            let across = self.style().across();
            let spots = [
                if across {
                    (point(area.left + 2.5, area.top + 5.5), false)
                } else {
                    (point(area.left + 5.5, middle), true)
                },
                (point(area.left + 2.5, area.bottom - 2.5), false),
                (point(area.left + 2.5, area.top + 5.5), false),
            ];
            // Turned at the left edge if possible, there the name alone if need be.
            let usual = spots.into_iter().flat_map(|(at, turned)| {
                [true, false].map(|describe| (at, (turned, 3.5), describe))
            });
            // Else wherever it fits, in smaller letters if need be. One is made after the other: there
            // may be thousands.
            let looks = [3.5, MODULE].into_iter().flat_map(|it| [(false, it), (true, it)]);
            let anywhere = looks.flat_map(|(turned, height)| {
                let rows = steps(area.top + 1.2 + height, area.bottom - 1.2, 1.0);
                let across = move |y: f64| {
                    steps(area.left + 1.4, area.right - 2.0, 2.0).map(move |x| point(x, y))
                };
                rows.flat_map(across).map(move |at| (at, (turned, height), false))
            });
            let inside = |shapes: &Vec<Shape>| {
                shapes.iter().all(|shape| {
                    let words = shape.area();
                    frame.holds(&words.grown(0.6)) && self.board.is_free(&words)
                })
            };
            let mut candidates = usual
                .chain(anywhere)
                .map(|(at, look, describe)| frame_name(scheme, place, at, look, describe));
            let shapes =
                candidates.find(inside).unwrap_or_else(|| self.name_outside(frames, index));
            self.push_name(place, shapes);
        }
    }

    fn name_outside(&self, frames: &[Frame], index: usize) -> Vec<Shape> {
        let frame = &frames[index];
        let area = frame.area;
        let mut candidates = Vec::new();
        let mut x = area.left;
        while x < area.right {
            for y in [area.top - 1.4, area.bottom + MODULE + 1.4] {
                let at = (false, MODULE);
                candidates.push(frame_name(
                    self.shared.scheme,
                    frame.place,
                    point(x, y),
                    at,
                    false,
                ));
            }
            x += 2.0;
        }
        let free = candidates.iter().position(|shapes| {
            shapes.iter().all(|shape| {
                let words = shape.area();
                self.board.is_free(&words)
                    && !frames.iter().any(|other| other.area.overlaps(&words))
            })
        });
        candidates.swap_remove(free.unwrap_or(0))
    }

    /// The same above legs that lie across: side by side, each near where it belongs.
    fn margin_across(&mut self, items: &[(f64, Vec<(f64, Piece)>)]) {
        let placed = self.placed;
        let circuit = &self.scheme().circuits[placed.block.plan.circuit];
        let (name, title) = (slug(&circuit.name), "place of the supply, cables".to_owned());
        let top = placed.left + if placed.block.plan.ends { 13.5 } else { 6.0 };
        let mut free = placed.upper_rail() + 14.0;
        let mut shapes = Vec::new();
        for (wanted, lines) in items {
            let width = lines
                .iter()
                .map(|(height, piece)| lettering::width(&piece.words, *height, piece.weight))
                .fold(0.0, f64::max);
            let left = (wanted - 2.0).min(placed.lower_rail() - 50.0).max(free);
            let mut y = top;
            // The heading, and all that is grey on one line below it.
            let mut told = lines.clone();
            let grey: Vec<&str> = told
                .iter()
                .skip(1)
                .filter(|(_, piece)| piece.ink == Ink::Second)
                .map(|(_, piece)| piece.words.as_str())
                .collect();
            let joined = Piece::second(grey.join(", "));
            if !grey.is_empty() && left + joined.width() + 3.0 < placed.lower_rail() {
                told.truncate(1);
                told.push((MODULE, joined));
            }
            let width = told
                .iter()
                .map(|(height, piece)| lettering::width(&piece.words, *height, piece.weight))
                .fold(0.0, f64::max)
                .min(width.max(60.0));
            for (index, (height, piece)) in told.iter().enumerate() {
                y += if index == 0 { *height } else { MODULE * LEADING };
                let look = (*height, piece.weight, piece.ink);
                shapes.push(text((left, y), &piece.words, look, Anchor::Start));
            }
            free = left + width + 6.0;
        }
        if !shapes.is_empty() {
            let id = format!("margin-{name}-sheet-{}", placed.sheet);
            self.push(id, Role::Circuit(placed.block.plan.circuit), title, None, shapes);
        }
    }

    /// What stands in the left margin: heading, the place of the supply, cables.
    pub(super) fn margin(&mut self, neighbours: &Neighbours) {
        let placed = self.placed;
        let scheme = self.shared.scheme;
        let plan = &placed.block.plan;
        let across = self.style().across();
        let x = placed.left + 3.0;
        let room = if across { 40.0 } else { 22.0 };
        let circuit = &scheme.circuits[plan.circuit];
        if let Some(heading) = &neighbours.heading {
            let look = (3.5, Weight::Bold, Ink::Main);
            let wide = if across { 26.0 } else { 40.0 };
            let lines = lettering::wrapped(heading, wide, 3.5, Weight::Bold);
            let mut shapes = Vec::new();
            for (line, words) in lines.iter().enumerate() {
                let step = if across { 6.5 } else { 5.0 } + 5.2 * line as f64;
                let at = if across {
                    (placed.top + 2.5, placed.left + step)
                } else {
                    (x, placed.top + step)
                };
                shapes.push(text(at, words, look, Anchor::Start));
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
        for (id, y) in &cables {
            let cable = &scheme.cables[*id];
            let mut lines = vec![(MODULE, Piece::bold(format!("Cable {}", cable.name)))];
            let cores = format!("{} × {}", cable.cores, cable.size_written);
            let spare = self.shared.spare.get(id).copied().unwrap_or(0);
            lines.push((MODULE, Piece::second(cores)));
            lines.push((MODULE, Piece::second(&cable.length.written)));
            if spare > 0 {
                lines.push((MODULE, Piece::second(format!("{spare} spare"))));
            }
            items.push(((y - 2.0).max(placed.upper_rail() + 9.5), lines));
        }
        items.sort_by(|a, b| a.0.total_cmp(&b.0));
        if across {
            self.margin_across(&items);
            return;
        }
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
}

/// From a place in steps up to before another, mm.
fn steps(from: f64, before: f64, by: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(from), move |at| Some(at + by)).take_while(move |at| *at < before)
}

/// Name and description of a place, on one line.
fn frame_name(
    scheme: &Scheme,
    place: PlaceId,
    at: Point,
    (turned, height): (bool, f64),
    describe: bool,
) -> Vec<Shape> {
    let place = &scheme.places[place];
    let about = place.description.split(',').next().unwrap_or_default();
    let about = if describe { about.to_owned() } else { String::new() };
    let name = lettering::width(&place.name, height, Weight::Bold);
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
            meaning: Meaning::Words,
        })
    };
    let mut shapes = vec![make(0.0, height, Weight::Bold, &place.name)];
    if !about.is_empty() {
        shapes.push(make(name + 2.5, MODULE, Weight::Plain, &about));
    }
    shapes
}
