//! What a state adds to a drawn block: pointers, and what each part does in volts and amperes. Both
//! are put where they are free, after everything that stands on the plain sheet; a note that finds no
//! place is handed to the notes of the sheet.

use super::*;
use crate::labels::{clears, touches};

/// How far from its part a pointer may stand, mm.
const POINTER: f64 = 6.5;
/// How far from its part a note may stand, mm.
const FARTHEST: f64 = 17.0;
/// From here on a line leads from a note to its part, mm.
const LED: f64 = 2.6;
/// Price of a line that leads, as much as that many mm.
const PRICE: f64 = 3.0;

impl Desk<'_> {
    fn now(&self, part: PartId) -> Option<&PartNow> {
        self.shared.live.and_then(|live| live.parts.get(&part))
    }

    /// A solid pointer beside every part that stands otherwise than expected, in the nearest free
    /// place.
    pub(super) fn pointers(&mut self) {
        let bodies = self.drawn.bodies.clone();
        for body in bodies {
            if self.now(body.part).is_some_and(|now| now.pointed_at) {
                let shape = self.pointer(&body);
                self.board.add_body(shape.area());
                let own = |group: &&mut Group| group.role == Role::Part(body.part);
                if let Some(group) = self.drawn.groups.iter_mut().find(own) {
                    group.shapes.push(shape);
                }
            }
        }
    }

    fn pointer(&self, body: &Body) -> Shape {
        let area = body.area;
        let middle = point((area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0);
        let lying = (body.ends[0].y - body.ends[1].y).abs() < 0.01;
        let mut all: Vec<(f64, Shape)> = Vec::new();
        let mut away = 0.9;
        while away <= POINTER {
            for aside in [0.0, 2.0, -2.0, 4.0, -4.0] {
                for (side, price) in [(1.0, 0.0), (-1.0, 0.7)] {
                    let points = if lying {
                        // Below, pointing up; else above, pointing down.
                        let edge = if side > 0.0 { area.bottom } else { area.top };
                        let tip = point(middle.x + aside, edge + side * away);
                        let foot = tip.y + side * 2.2;
                        vec![tip, point(tip.x - 1.3, foot), point(tip.x + 1.3, foot)]
                    } else {
                        let edge = if side > 0.0 { area.left } else { area.right };
                        let tip = point(edge - side * away, middle.y + aside);
                        let foot = tip.x - side * 2.2;
                        vec![tip, point(foot, tip.y - 1.3), point(foot, tip.y + 1.3)]
                    };
                    let shape = Shape::outline(&points, Pen::None, Fill::Ink);
                    all.push((away + price + aside.abs() * 0.8, shape));
                }
            }
            away += 0.8;
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let free = all.iter().position(|(_, shape)| {
            let area = shape.area();
            self.board.is_free(&area) && self.is_nearest(body, &area)
        });
        all.swap_remove(free.unwrap_or(0)).1
    }

    /// Whether no other part lies nearer to a mark than its own.
    fn is_nearest(&self, body: &Body, mark: &Area) -> bool {
        let own = distance(mark, &body.area);
        let others = self.drawn.bodies.iter().filter(|other| other.part != body.part);
        others.into_iter().all(|other| distance(mark, &other.area) > own)
    }

    /// What each part does: coils and motors first, lamps and inputs last.
    pub(super) fn notes(&mut self) {
        if self.shared.live.is_none() {
            return;
        }
        let mut bodies = self.drawn.bodies.clone();
        let scheme = self.shared.scheme;
        bodies.sort_by_key(|body| match scheme.parts[body.part].kind {
            PartKind::Coil(_) | PartKind::Motor(_) => 0,
            PartKind::Lamp(_) | PartKind::Input(_) => 2,
            _ => 1,
        });
        for body in bodies {
            let Some(note) = self.now(body.part).and_then(|now| now.note.clone()) else { continue };
            let title = format!("{}: {note}", scheme.parts[body.part].name);
            let Some(shapes) = self.note(&body, &note) else {
                self.drawn.unplaced.push(title);
                continue;
            };
            self.board.add_shapes(&shapes);
            // As its part is called, so that no note depends on which others there are.
            let own = self.drawn.groups.iter().find(|it| it.role == Role::Part(body.part));
            let name = own.and_then(|own| own.id.strip_prefix("part-"));
            let id = format!("note-{}", name.unwrap_or_default());
            self.push_as(id, Role::State, title, None, shapes);
        }
    }

    /// A note where it is free: in the place of the rating, else near its part, with a line that leads
    /// to it if it stands apart.
    fn note(&self, body: &Body, note: &str) -> Option<Vec<Shape>> {
        let whole = note.replace(", ", ",\u{a0}");
        let pairs = bound_units(&whole);
        let one = vec![plain(&pairs)];
        let two: Vec<String> = pairs.split(' ').map(plain).collect();
        // Price, form, upper left corner, anchor.
        let mut ways: Vec<(f64, &Vec<String>, Point, Anchor)> = Vec::new();
        let slot = self.slots.get(&body.part);
        let forms = if two.len() > 1 { vec![(0.0, &one), (0.8, &two)] } else { vec![(0.0, &one)] };
        for (form_price, lines) in forms {
            let (wide, high) = size(lines);
            if let Some((at, anchor)) = slot {
                let left = if *anchor == Anchor::Middle { at.x - wide / 2.0 } else { at.x };
                ways.push((form_price, lines, point(left, at.y - MODULE), *anchor));
            }
            let own = body.area;
            let mut y = own.top - FARTHEST;
            while y <= own.bottom + FARTHEST {
                let mut x = own.left - wide - FARTHEST;
                while x <= own.right + FARTHEST {
                    let area = Area { left: x, top: y, right: x + wide, bottom: y + high };
                    let far = distance(&area, &own);
                    if far <= FARTHEST && !area.overlaps(&own) {
                        let left = if x < own.left { 0.6 } else { 0.0 };
                        let led = if far > LED { PRICE } else { 0.0 };
                        let price = 1.0 + form_price + far + left + led;
                        ways.push((price, lines, point(x, y), Anchor::Start));
                    }
                    x += 1.5;
                }
                y += 1.0;
            }
        }
        ways.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, lines, corner, anchor) in ways {
            let mut shapes = lettered(lines, corner, anchor);
            let free = shapes.iter().all(|shape| self.board.is_free(&shape.area()));
            if !free {
                continue;
            }
            let area = around(&shapes);
            let is_slot = slot.is_some_and(|(at, _)| (at.y - MODULE - area.top).abs() < 0.6)
                && distance(&area, &body.area) < 2.0 * LED;
            if distance(&area, &body.area) <= LED || is_slot {
                if is_slot || self.is_nearest(body, &area) {
                    return Some(shapes);
                }
                continue;
            }
            if let Some(line) = self.leader(body, &area) {
                shapes.push(line);
                return Some(shapes);
            }
        }
        None
    }

    /// A thin line from a note to its part, clear of words and other symbols.
    fn leader(&self, body: &Body, note: &Area) -> Option<Shape> {
        let from = nearest(note, &body.area, 0.6);
        let to = nearest(&body.area, note, 0.15);
        let ends = (from, to);
        let stroke = Area::between(from, to);
        let clear = |area: &Area| {
            let area = area.grown(0.3);
            !touches(&area, &ends) || clears(&area, &ends)
        };
        let others = self.drawn.bodies.iter().filter(|other| other.part != body.part);
        let bodies = others.into_iter().all(|other| clear(&other.area));
        let texts = self.board.texts().all(clear);
        (bodies && texts && stroke.width().hypot(stroke.height()) > 0.5)
            .then(|| Shape::line(&[from, to], Pen::Thin))
    }
}

/// Width and height of lines of a note, mm.
fn size(lines: &[String]) -> (f64, f64) {
    let widths = lines.iter().map(|line| lettering::width(line, MODULE, Weight::Bold));
    let more = LEADING * lines.len().saturating_sub(1) as f64;
    (widths.fold(0.0, f64::max), MODULE * (1.0 + more))
}

/// The lines of a note below its upper left corner.
fn lettered(lines: &[String], corner: Point, anchor: Anchor) -> Vec<Shape> {
    let wide = size(lines).0;
    let x = match anchor {
        Anchor::Start => corner.x,
        Anchor::Middle => corner.x + wide / 2.0,
        Anchor::End => corner.x + wide,
    };
    let base = |line: usize| corner.y + MODULE * (1.0 + LEADING * line as f64);
    let shape = |(line, words): (usize, &String)| text((x, base(line)), words, SMALL_BOLD, anchor);
    lines.iter().enumerate().map(shape).collect()
}

/// A number stays with its unit: "118 V 2.9 A" breaks between the two only.
fn bound_units(note: &str) -> String {
    let words: Vec<&str> = note.split(' ').collect();
    let mut out = String::new();
    for (index, word) in words.iter().enumerate() {
        if index > 0 {
            let number =
                |word: &str| word.starts_with(|first: char| first.is_ascii_digit() || first == '−');
            let before = words[index - 1].rsplit('\u{a0}').next().unwrap_or_default();
            out.push(if number(before) { '\u{a0}' } else { ' ' });
        }
        out.push_str(word);
    }
    out
}

fn plain(words: &str) -> String {
    words.replace('\u{a0}', " ")
}

fn around(shapes: &[Shape]) -> Area {
    let areas = shapes.iter().map(Shape::area);
    areas.reduce(Area::with).unwrap_or(Area { left: 0.0, top: 0.0, right: 0.0, bottom: 0.0 })
}

/// How far two areas lie apart, mm.
fn distance(a: &Area, b: &Area) -> f64 {
    let x = (a.left - b.right).max(b.left - a.right).max(0.0);
    let y = (a.top - b.bottom).max(b.top - a.bottom).max(0.0);
    x.hypot(y)
}

/// The point of an area, `by` mm outside it, that lies nearest to another.
fn nearest(area: &Area, other: &Area, by: f64) -> Point {
    let grown = area.grown(by);
    let along = |low: f64, high: f64, other_low: f64, other_high: f64| {
        ((other_low + other_high) / 2.0).clamp(low, high)
    };
    point(
        along(grown.left, grown.right, other.left, other.right),
        along(grown.top, grown.bottom, other.top, other.bottom),
    )
}
