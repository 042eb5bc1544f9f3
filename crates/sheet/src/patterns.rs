//! A state on a finished drawing. **In:** sheets and a state. **Out:** the same sheets, every wire
//! in the pattern of its level, a band behind what carries current, arrows in its direction, the
//! legend. **Never here:** places of parts, volts computed.
//!
//! Every level has a pattern of its own, so it survives grey printing and eyes that don't tell
//! red from green; colour comes second.

use crate::geometry::{
    Anchor, Dash, Drawing, Fill, Group, Ink, MODULE, Pen, Point, Role, Shape, Sheet, Weight, point,
};
use crate::live::{Level, Live};
use crate::page::{self, SMALL, SMALL_BOLD, SMALL_SECOND, text};
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme};
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

/// Shows a state on every sheet.
pub fn show(drawing: &mut Drawing, scheme: &Scheme, live: &Live) {
    for sheet in &mut drawing.sheets {
        dress(sheet, scheme, live);
        let words = head(sheet, live);
        if !words.is_empty() {
            sheet.items.push(group("state", sheet.number, Role::Notes, "the state shown", words));
        }
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
pub fn dress(sheet: &mut Sheet, scheme: &Scheme, live: &Live) {
    let ends = symbol_ends(sheet);
    let pieces = wire_pieces(sheet);
    let bands = bands(sheet, scheme, live, &pieces);
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
        for shape in &group.shapes {
            if matches!(shape, Shape::Line { closed: true, points, .. } if points.len() == 5) {
                let area = shape.area();
                ends.push(point(area.left, (area.top + area.bottom) / 2.0));
                ends.push(point((area.left + area.right) / 2.0, area.top));
            }
        }
    }
    ends
}

fn near(a: Point, b: Point, by: f64) -> bool {
    (a.x - b.x).abs() < by && (a.y - b.y).abs() < by
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
                    let by = match wire.level {
                        Level::Plus => 0.5,
                        Level::Minus => 0.75,
                        Level::Between | Level::Floating => 0.0,
                    };
                    *points = lengthened(a, b, ends, by).to_vec();
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

/// The wires that lie between parts that carry current: of the pieces of each wire, those that
/// remain when ends without a carrying part are taken away one after the other.
fn bands(
    sheet: &Sheet,
    scheme: &Scheme,
    live: &Live,
    pieces: &BTreeMap<NodeId, Vec<(Point, Point)>>,
) -> Vec<Shape> {
    let mut sources: Vec<(NodeId, Point)> = Vec::new();
    for body in &sheet.boxes {
        if live.flow(body.part).is_some()
            && let Some(at) = scheme.parts[body.part].at
        {
            sources.push((at.from, body.ends[0]));
            sources.push((at.to, body.ends[1]));
        }
    }
    for group in &sheet.items {
        let Role::Wire(node) = group.role else { continue };
        if group.id.starts_with("pole-")
            && let Some(Shape::Circle { centre, .. }) = group.shapes.first()
        {
            sources.push((node, *centre));
        }
    }
    // A wire that goes on elsewhere carries what its parts here do not balance.
    for group in &sheet.items {
        let (Role::Flag(node), Some(shape)) = (group.role, group.shapes.first()) else { continue };
        if carries_on(sheet, scheme, live, node) {
            let area = shape.area();
            sources.push((node, point(area.left, (area.top + area.bottom) / 2.0)));
            sources.push((node, point((area.left + area.right) / 2.0, area.top)));
        }
    }
    let mut shapes = Vec::new();
    for (node, pieces) in pieces {
        let own: Vec<Point> =
            sources.iter().filter(|(at, _)| at == node).map(|(_, at)| *at).collect();
        let kept = between(pieces, &own);
        shapes.extend(kept.into_iter().map(|ends| band(ends, Dash::Solid)));
    }
    // The band runs on behind contacts and whatever else lies in the path.
    for body in &sheet.boxes {
        if live.flow(body.part).is_some() {
            shapes.push(band((body.ends[0], body.ends[1]), Dash::Solid));
        }
    }
    shapes
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

fn carries_on(sheet: &Sheet, scheme: &Scheme, live: &Live, node: NodeId) -> bool {
    let mut sum = 0.0;
    for body in &sheet.boxes {
        let (Some(at), Some(amps)) =
            (scheme.parts[body.part].at, live.parts.get(&body.part).and_then(|now| now.amps))
        else {
            continue;
        };
        if at.from == node {
            sum -= amps;
        }
        if at.to == node {
            sum += amps;
        }
    }
    f64::abs(sum) >= live.conducts_from
}

/// Pieces cut where another piece of the same wire ends on them: a rail at every tap.
fn split_at_taps(pieces: &[(Point, Point)]) -> Vec<(Point, Point)> {
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

/// Title of the state over the circuits, and the legend in one row above the notes.
fn head(sheet: &Sheet, live: &Live) -> Vec<Shape> {
    let frame = sheet.frame;
    let mut shapes = Vec::new();
    if sheet.boxes.is_empty() {
        return shapes;
    }
    shapes.extend(title(sheet, &live.title));
    shapes.extend(legend(live, (frame.left + 3.0, frame.bottom - 40.5)));
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
pub fn legend(live: &Live, (left, y): (f64, f64)) -> Vec<Shape> {
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
        (Level::Plus, "at +", "heavy"),
        (Level::Minus, "at −", "double"),
        (Level::Between, "between", "dashes"),
        (Level::Floating, "floating", "dots"),
    ];
    let mut starts = Vec::new();
    for (level, name, how) in words.into_iter().filter(|(level, _, _)| levels.contains(level)) {
        starts.push((x, Some(level)));
        entry(&mut x, name, how);
    }
    let flows = live.parts.keys().any(|part| live.flow(*part).is_some());
    if flows {
        starts.push((x, None));
        entry(&mut x, "carries current", "arrow: its way");
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
            None => {
                let tip = point(start + 7.0, y);
                shapes.push(Shape::outline(
                    &[tip, point(tip.x - 2.1, tip.y - 1.05), point(tip.x - 2.1, tip.y + 1.05)],
                    Pen::None,
                    Fill::Ink,
                ));
            }
            Some(_) => {}
        }
    }
    if let Some(note) = live.notes.first() {
        shapes.push(text((x, y + MODULE / 2.0), note, SMALL, Anchor::Start));
    }
    shapes
}
