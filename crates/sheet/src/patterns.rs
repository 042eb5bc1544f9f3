//! A state on a finished drawing. **In:** sheets and a state. **Out:** the same sheets, every wire
//! in the pattern of its level, a band behind what carries current, arrows in its direction, the
//! legend. **Never here:** places of parts, volts computed.
//!
//! Every level has a pattern of its own, so it survives grey printing and eyes that don't tell
//! red from green; colour comes second.

use crate::flow;
use crate::geometry::{
    Anchor, Dash, Drawing, Fill, Group, Ink, MODULE, Pen, Point, Role, Shape, Sheet, Weight, point,
};
use crate::live::{Level, Live};
use crate::page::{self, SMALL, SMALL_BOLD, SMALL_SECOND, text};
use fiftytwo_scheme::{CircuitId, CurrentKind, NodeId, PartId, PartKind, Scheme};
use std::collections::BTreeMap;

/// Pen, ink and dash of a level.
pub fn pattern(level: Level) -> (Pen, Ink, Dash) {
    match level {
        Level::Plus => (Pen::AtPlus, Ink::AtPlus, Dash::Solid),
        Level::Minus => (Pen::AtMinus, Ink::AtMinus, Dash::Solid),
        Level::Between => (Pen::Between, Ink::Between, Dash::Between),
        Level::Floating => (Pen::Floating, Ink::Floating, Dash::Dots),
    }
}

/// How far a wire at a level is drawn beyond its ends, so that corners close, mm.
pub fn beyond(level: Level) -> f64 {
    match level {
        Level::Plus => 0.5,
        Level::Minus => 0.75,
        Level::Between | Level::Floating => 0.0,
    }
}

/// Shows a state on every sheet.
pub fn show(drawing: &mut Drawing, scheme: &Scheme, live: &Live) {
    let carrying = flow::carrying(&drawing.sheets, scheme, live);
    for (sheet, carrying) in drawing.sheets.iter_mut().zip(&carrying) {
        show_on(sheet, (scheme, live), carrying);
    }
}

/// Shows a state on a sheet, of which these stretches carry current.
pub fn show_on(sheet: &mut Sheet, (scheme, live): (&Scheme, &Live), carrying: &[flow::Stretch]) {
    dress(sheet, (scheme, live), carrying);
    let words = head(sheet, scheme, live);
    if !words.is_empty() {
        sheet.items.push(group("state", sheet.number, Role::Notes, "the state shown", words));
    }
}

fn group(name: &str, number: usize, role: Role, title: &str, shapes: Vec<Shape>) -> Group {
    Group {
        id: format!("{name}-sheet-{number}"),
        role,
        title: title.to_owned(),
        source: None,
        shapes,
    }
}

/// Bands, patterns and arrows, without words.
pub fn dress(sheet: &mut Sheet, (scheme, live): (&Scheme, &Live), carrying: &[flow::Stretch]) {
    let ends = symbol_ends(sheet);
    let pieces = wire_pieces(sheet);
    let bands = bands(sheet, live, carrying);
    let arrows = arrows(sheet, live, scheme, &pieces);
    let gaps = restyle(sheet, (scheme, live), &ends);
    let number = sheet.number;
    sheet.items.push(group("current", number, Role::Band, "what carries current", bands));
    sheet.items.push(group("minus", number, Role::State, "wires at minus", gaps));
    sheet.items.push(group("arrows", number, Role::Change, "direction of the current", arrows));
    sheet.items.retain(|group| !group.shapes.is_empty());
}

/// Where wires meet symbols: there they end flush.
fn symbol_ends(sheet: &Sheet) -> Vec<Point> {
    let mut ends: Vec<Point> = sheet.boxes.iter().flat_map(|body| body.ends).collect();
    ends.extend(sheet.items.iter().filter(|group| group.id.starts_with("pole-")).flat_map(
        |group| {
            group.shapes.iter().filter_map(|shape| match shape {
                Shape::Circle { centre, .. } => Some(*centre),
                _ => None,
            })
        },
    ));
    // A flag begins where its wire ends.
    for group in &sheet.items {
        if !matches!(group.role, Role::Flag(_) | Role::Circuit(_)) {
            continue;
        }
        let flags = group.shapes.iter().filter_map(flow::flag_ends).flatten();
        ends.extend(flags.filter(|(_, begins)| !begins).map(|(at, _)| at));
    }
    ends
}

/// Whether two points lie within `by` mm of each other on both axes.
pub fn near(a: Point, b: Point, by: f64) -> bool {
    (a.x - b.x).abs() < by && (a.y - b.y).abs() < by
}

/// A wire at a level as broad and as long as it may be drawn.
pub fn reach(level: Level, (a, b): (Point, Point)) -> ((Point, Point), f64) {
    let [a, b] = lengthened(a, b, &[], beyond(level));
    ((a, b), pattern(level).0.width())
}

/// A stroke made longer by `by` mm at every end that meets no symbol, so that corners close.
fn lengthened(a: Point, b: Point, ends: &[Point], by: f64) -> [Point; 2] {
    let length = ((b.x - a.x).powi(2) + (b.y - a.y).powi(2)).sqrt().max(1e-9);
    let step = point((b.x - a.x) / length * by, (b.y - a.y) / length * by);
    let free = |at: Point| !ends.iter().any(|end| near(*end, at, 1.3));
    let a = if free(a) { point(a.x - step.x, a.y - step.y) } else { a };
    let b = if free(b) { point(b.x + step.x, b.y + step.y) } else { b };
    [a, b]
}

/// Redraws all wires in the patterns of their levels; returns what makes two lines of minus.
fn restyle(sheet: &mut Sheet, (scheme, live): (&Scheme, &Live), ends: &[Point]) -> Vec<Shape> {
    let mut gaps = Vec::new();
    for group in &mut sheet.items {
        if let Role::Part(part) = group.role {
            core(group, (scheme, live, part));
        }
        let Role::Wire(node) = group.role else { continue };
        let Some(wire) = live.wires.get(&node) else { continue };
        let (new_pen, new_ink, new_dash) = pattern(wire.level);
        let is_ring = group.id.starts_with("pole-");
        for shape in &mut group.shapes {
            match shape {
                Shape::Line { points, pen, ink, dash, .. } => {
                    let (Some(a), Some(b)) = (points.first().copied(), points.last().copied())
                    else {
                        continue;
                    };
                    (*pen, *ink, *dash) = (new_pen, new_ink, new_dash);
                    *points = lengthened(a, b, ends, beyond(wire.level)).to_vec();
                    if wire.level == Level::Minus {
                        gaps.push(Shape::Line {
                            points: lengthened(a, b, ends, 0.25).to_vec(),
                            closed: false,
                            pen: Pen::MinusGap,
                            ink: Ink::Paper,
                            fill: Fill::None,
                            dash: Dash::Solid,
                        });
                    }
                }
                Shape::Circle { ink, .. } if !is_ring => *ink = new_ink,
                _ => {}
            }
        }
    }
    gaps
}

/// The wire within a core is drawn as its upper end.
fn core(group: &mut Group, (scheme, live, part): (&Scheme, &Live, PartId)) {
    let part = &scheme.parts[part];
    let PartKind::Core(_) = part.kind else { return };
    let Some(wire) = part.at.and_then(|at| live.wires.get(&at.from)) else { return };
    let Some(Shape::Line { points, pen, ink, dash, .. }) = group.shapes.first_mut() else {
        return;
    };
    (*pen, *ink, *dash) = pattern(wire.level);
    if wire.level == Level::Minus {
        // Under its own circles, over its own line: it lies within the part's group.
        let inner = Shape::Line {
            points: points.clone(),
            closed: false,
            pen: Pen::MinusGap,
            ink: Ink::Paper,
            fill: Fill::None,
            dash: Dash::Solid,
        };
        group.shapes.insert(1, inner);
    }
}

/// Bands along the wires that carry current, and on behind the parts that do.
fn bands(sheet: &Sheet, live: &Live, carrying: &[flow::Stretch]) -> Vec<Shape> {
    let bodies = sheet.boxes.iter().filter(|body| live.flow(body.part).is_some());
    let mut ends: Vec<flow::Stretch> = carrying.to_vec();
    ends.extend(bodies.map(|body| (body.ends[0], body.ends[1])));
    let all = ends.clone();
    ends.into_iter().map(|piece| band(cornered(piece, &all), Dash::Solid)).collect()
}

/// A stretch of band, made longer where it meets another at a corner, so that the corner is filled.
fn cornered((a, b): flow::Stretch, all: &[flow::Stretch]) -> flow::Stretch {
    let is_level = |(a, b): &flow::Stretch| (a.y - b.y).abs() < (a.x - b.x).abs();
    let turns = |at: Point| {
        all.iter().any(|other| {
            (near(other.0, at, 0.05) || near(other.1, at, 0.05))
                && is_level(other) != is_level(&(a, b))
        })
    };
    let half = Pen::Band.width() / 2.0;
    let length = (b.x - a.x).hypot(b.y - a.y).max(1e-9);
    let (dx, dy) = ((b.x - a.x) / length * half, (b.y - a.y) / length * half);
    let from = if turns(a) { point(a.x - dx, a.y - dy) } else { a };
    let to = if turns(b) { point(b.x + dx, b.y + dy) } else { b };
    (from, to)
}

/// A stretch of band.
pub fn band((a, b): (Point, Point), dash: Dash) -> Shape {
    Shape::Line {
        points: vec![a, b],
        closed: false,
        pen: Pen::Band,
        ink: Ink::Band,
        fill: Fill::None,
        dash,
    }
}

/// The pieces of a wire that lie between some of its points: what leads to none of them is taken
/// away, end by end.
pub fn between(pieces: &[(Point, Point)], own: &[Point]) -> Vec<(Point, Point)> {
    if own.is_empty() {
        return Vec::new();
    }
    let mut left: Vec<(Point, Point)> = split_at_taps(pieces);
    loop {
        let before = left.len();
        let all = left.clone();
        left.retain(|piece| {
            [piece.0, piece.1].iter().all(|end| {
                own.iter().any(|at| near(*at, *end, 1.3))
                    || all
                        .iter()
                        .filter(|other| *other != piece)
                        .any(|other| near(other.0, *end, 0.05) || near(other.1, *end, 0.05))
            })
        });
        if left.len() == before {
            return left;
        }
    }
}

/// The pieces of every wire on a sheet.
pub fn wire_pieces(sheet: &Sheet) -> BTreeMap<NodeId, Vec<(Point, Point)>> {
    let mut pieces: BTreeMap<NodeId, Vec<(Point, Point)>> = BTreeMap::new();
    for group in &sheet.items {
        let Role::Wire(node) = group.role else { continue };
        if let Some([Shape::Line { points, .. }]) = group.shapes.get(..1)
            && let (Some(a), Some(b)) = (points.first(), points.last())
        {
            pieces.entry(node).or_default().push((*a, *b));
        }
    }
    pieces
}

/// Pieces cut where another piece of the same wire ends on them: a rail at every tap.
pub fn split_at_taps(pieces: &[(Point, Point)]) -> Vec<(Point, Point)> {
    let ends: Vec<Point> = pieces.iter().flat_map(|(a, b)| [*a, *b]).collect();
    let mut cut = Vec::new();
    for (a, b) in pieces {
        let along = |p: &Point| {
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let length = dx.hypot(dy).max(1e-9);
            let at = ((p.x - a.x) * dx + (p.y - a.y) * dy) / length;
            let off = ((p.x - a.x) * dy - (p.y - a.y) * dx).abs() / length;
            (off < 0.05 && at > 0.05 && at < length - 0.05).then_some(at)
        };
        let mut places: Vec<f64> = ends.iter().filter_map(along).collect();
        places.sort_by(f64::total_cmp);
        places.dedup_by(|x, y| (*x - *y).abs() < 0.05);
        let length = (b.x - a.x).hypot(b.y - a.y).max(1e-9);
        let on = |at: f64| point(a.x + (b.x - a.x) / length * at, a.y + (b.y - a.y) / length * at);
        let mut from = *a;
        for at in places {
            cut.push((from, on(at)));
            from = on(at);
        }
        cut.push((from, *b));
    }
    cut
}

/// A solid arrow on the wire before each part that carries current, in its direction.
fn arrows(
    sheet: &Sheet,
    live: &Live,
    scheme: &Scheme,
    pieces: &BTreeMap<NodeId, Vec<(Point, Point)>>,
) -> Vec<Shape> {
    let mut shapes = Vec::new();
    for body in &sheet.boxes {
        let (Some(down), Some(at)) = (live.flow(body.part), scheme.parts[body.part].at) else {
            continue;
        };
        if is_ac(scheme, at.circuit) {
            continue;
        }
        let (node, end, other) = if down {
            (at.from, body.ends[0], body.ends[1])
        } else {
            (at.to, body.ends[1], body.ends[0])
        };
        // Room for the arrow on that wire?
        let room = pieces.get(&node).into_iter().flatten().any(|(a, b)| {
            (near(*a, end, 0.05) || near(*b, end, 0.05)) && (b.x - a.x).hypot(b.y - a.y) >= 2.9
        });
        let length = (other.x - end.x).hypot(other.y - end.y);
        if !room || length < 0.01 {
            continue;
        }
        let (dx, dy) = ((other.x - end.x) / length, (other.y - end.y) / length);
        let tip = point(end.x - dx * 0.35, end.y - dy * 0.35);
        let foot = point(tip.x - dx * 2.1, tip.y - dy * 2.1);
        shapes.push(Shape::outline(
            &[
                tip,
                point(foot.x - dy * 1.05, foot.y + dx * 1.05),
                point(foot.x + dy * 1.05, foot.y - dx * 1.05),
            ],
            Pen::None,
            Fill::Ink,
        ));
    }
    shapes
}

/// Whether a circuit hangs on alternating current: its current has no way of its own.
pub fn is_ac(scheme: &Scheme, circuit: CircuitId) -> bool {
    scheme.supplies[scheme.circuits[circuit].supply].current == CurrentKind::Ac
}

/// Which kinds of current the parts on a sheet carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Kinds {
    /// Direct.
    pub dc: bool,
    /// Alternating.
    pub ac: bool,
}

impl Kinds {
    /// Of these sheets.
    pub fn of<'a>(scheme: &Scheme, sheets: impl Iterator<Item = &'a Sheet>) -> Self {
        let mut kinds = Self::default();
        for body in sheets.flat_map(|sheet| &sheet.boxes) {
            if let Some(at) = scheme.parts[body.part].at {
                let ac = is_ac(scheme, at.circuit);
                kinds.ac |= ac;
                kinds.dc |= !ac;
            }
        }
        kinds
    }
    /// The word for a pole: of direct current, of alternating current.
    fn pole(self, dc: &str, ac: &str) -> String {
        match (self.dc, self.ac) {
            (true, true) => format!("at {dc} or {ac}"),
            (false, true) => format!("at {ac}"),
            _ => format!("at {dc}"),
        }
    }
}

/// Title of the state over the circuits, and the legend in one row above the notes.
fn head(sheet: &Sheet, scheme: &Scheme, live: &Live) -> Vec<Shape> {
    let frame = sheet.frame;
    let mut shapes = Vec::new();
    if sheet.boxes.is_empty() {
        return shapes;
    }
    shapes.extend(title(sheet, &live.title));
    let kinds = Kinds::of(scheme, std::iter::once(sheet));
    shapes.extend(legend(live, kinds, (frame.left + 3.0, frame.bottom - 40.5)));
    shapes
}

/// The title over the circuits, if there is room: where paths are counted their numbers stand there.
/// Note 1 says the same.
pub fn title(sheet: &Sheet, words: &str) -> Option<Shape> {
    let paths = sheet.items.iter().any(|group| group.id.starts_with("paths-"));
    let at = (sheet.frame.left + 56.0, sheet.frame.top + 5.6);
    // Left of the centring mark.
    let room = (sheet.frame.left + sheet.frame.right) / 2.0 - at.0 - 2.0;
    let width = |height: &f64| crate::lettering::width(words, *height, Weight::Bold);
    let height = [3.5, 3.0].into_iter().find(|height| width(height) <= room).unwrap_or(MODULE);
    let words = page::clipped(words, room, height, Weight::Bold);
    let shape = text(at, &words, (height, Weight::Bold, Ink::Main), Anchor::Start);
    // Legs across: names of supplies and flags may stand there.
    let area = shape.area().grown(0.4);
    let drawn = sheet.items.iter().filter(|group| group.role != Role::Furniture);
    let taken = drawn.flat_map(|group| &group.shapes).any(|other| other.area().overlaps(&area));
    (!paths && !taken).then_some(shape)
}

/// The legend of a state, in one row that begins at a point.
pub fn legend(live: &Live, kinds: Kinds, (left, y): (f64, f64)) -> Vec<Shape> {
    let mut shapes = Vec::new();
    let mut x = left;
    let mut entry = |x: &mut f64, name: &str, how: &str| {
        let after = *x + 13.0;
        let name_width = crate::lettering::width(name, MODULE, Weight::Bold);
        shapes.push(text((after, y + MODULE / 2.0), name, SMALL_BOLD, Anchor::Start));
        let mut end = after + name_width;
        if !how.is_empty() {
            shapes.push(text((end + 1.5, y + MODULE / 2.0), how, SMALL_SECOND, Anchor::Start));
            end += 1.5 + crate::lettering::width(how, MODULE, Weight::Plain);
        }
        *x = end + 6.0;
    };
    let levels = live.levels();
    let words = [
        (Level::Plus, kinds.pole("+", "L"), "heavy"),
        (Level::Minus, kinds.pole("−", "N"), "double"),
        (Level::Between, "between".to_owned(), "dashes"),
        (Level::Floating, "floating".to_owned(), "dots"),
    ];
    let mut starts = Vec::new();
    for (level, name, how) in words.into_iter().filter(|(level, _, _)| levels.contains(level)) {
        starts.push((x, Some(level)));
        entry(&mut x, &name, how);
    }
    let flows = live.parts.keys().any(|part| live.flow(*part).is_some());
    if flows {
        starts.push((x, None));
        let from = format!("carries {} or more", shown_amps(live.conducts_from));
        entry(&mut x, &from, if kinds.dc { "arrow: its way" } else { "" });
    }
    let pointed = live.parts.values().any(|now| now.pointed_at);
    if pointed {
        let tip = point(x + 8.0, y);
        entry(&mut x, &live.pointer, "");
        shapes.push(Shape::outline(
            &[tip, point(tip.x - 2.2, tip.y - 1.3), point(tip.x - 2.2, tip.y + 1.3)],
            Pen::None,
            Fill::Ink,
        ));
    }
    for (start, level) in starts {
        let ends = [point(start, y), point(start + 11.0, y)];
        let (pen, ink, dash) = level.map_or((Pen::Band, Ink::Band, Dash::Solid), pattern);
        let stroke = |pen: Pen, ink: Ink, dash: Dash| Shape::Line {
            points: ends.to_vec(),
            closed: false,
            pen,
            ink,
            fill: Fill::None,
            dash,
        };
        shapes.push(stroke(pen, ink, dash));
        match level {
            Some(Level::Minus) => {
                shapes.push(stroke(Pen::MinusGap, Ink::Paper, Dash::Solid));
            }
            None if kinds.dc => {
                let tip = point(start + 7.0, y);
                shapes.push(Shape::outline(
                    &[tip, point(tip.x - 2.1, tip.y - 1.05), point(tip.x - 2.1, tip.y + 1.05)],
                    Pen::None,
                    Fill::Ink,
                ));
            }
            _ => {}
        }
    }
    if let Some(note) = live.notes.first() {
        shapes.push(text((x, y + MODULE / 2.0), note, SMALL, Anchor::Start));
    }
    shapes
}

/// Amperes in a legend: whole milliamperes below 1 A.
fn shown_amps(amps: f64) -> String {
    if amps < 1.0 { format!("{:.0} mA", amps * 1000.0) } else { format!("{amps:.1} A") }
}
