//! Frames of places: who stands in which, and which frame bears which name.

use super::{Fault, Look, Rule, lie_together};
use crate::geometry::{Area, Point, Role, Shape, point};
use crate::labels::lies_inside;
use fiftytwo_scheme::{PartKind, PlaceId};

/// How far from its frame the name of a place may stand, mm.
const BESIDE: f64 = 5.0;

struct Frame<'a> {
    place: PlaceId,
    outline: &'a [Point],
    area: Area,
}

fn middle(area: &Area) -> Point {
    point((area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0)
}

impl Frame<'_> {
    fn edges(&self) -> impl Iterator<Item = (Point, Point)> {
        self.outline.iter().copied().zip(self.outline.iter().copied().cycle().skip(1))
    }
    fn size(&self) -> f64 {
        self.area.width() * self.area.height()
    }
}

impl Look<'_> {
    fn frames(&self) -> Vec<Frame<'_>> {
        let mut frames = Vec::new();
        for group in &self.sheet.items {
            let Role::Place(place) = group.role else { continue };
            for shape in &group.shapes {
                if let Shape::Line { points, closed: true, .. } = shape {
                    frames.push(Frame { place, outline: points, area: shape.area() });
                }
            }
        }
        frames
    }

    fn place_name(&self, place: PlaceId) -> &str {
        &self.scheme.places[place].name
    }

    /// Nothing stands in the frame of another place, every frame bears its own name, and no two lie
    /// on each other or, but for that of the rails, one in the other.
    pub(super) fn places(&self, faults: &mut Vec<Fault>) {
        let frames = self.frames();
        let innermost = |at: Point| {
            let round = frames.iter().filter(|frame| lies_inside(at, frame.outline));
            round.min_by(|a, b| a.size().total_cmp(&b.size()))
        };
        for body in &self.sheet.boxes {
            let part = &self.scheme.parts[body.part];
            let Some(at) = part.at.filter(|_| !matches!(part.kind, PartKind::Core(_))) else {
                continue;
            };
            let supply = self.scheme.supplies[self.scheme.circuits[at.circuit].supply].place;
            let stands = innermost(middle(&body.area)).map_or(supply, |frame| frame.place);
            if stands != at.place {
                let words = format!(
                    "{} of {} stands in {}",
                    part.name,
                    self.place_name(at.place),
                    self.place_name(stands)
                );
                self.fault(faults, Rule::OwnFrame, words);
            }
        }
        self.names(&frames, faults);
        let of_rails = |place: PlaceId| {
            self.scheme.circuits.values().any(|it| self.scheme.nodes[it.plus].place == place)
        };
        for (index, a) in frames.iter().enumerate() {
            for b in &frames[index + 1..] {
                let (inner, outer) = if a.size() < b.size() { (a, b) } else { (b, a) };
                let inside = inner.outline.iter().any(|at| lies_inside(*at, outer.outline));
                if inside && !of_rails(outer.place) {
                    let (a, b) = (self.place_name(inner.place), self.place_name(outer.place));
                    let words = format!("the frame of {a} lies in that of {b}");
                    self.fault(faults, Rule::OwnFrame, words);
                }
                let shared = a.edges().any(|one| b.edges().any(|two| lie_together(&one, &two)));
                if shared {
                    let (a, b) = (self.place_name(a.place), self.place_name(b.place));
                    let words = format!("the frame of {a} lies on that of {b}");
                    self.fault(faults, Rule::FrameOnFrame, words);
                }
            }
        }
    }

    fn names(&self, frames: &[Frame<'_>], faults: &mut Vec<Fault>) {
        let mut named = vec![false; frames.len()];
        for group in &self.sheet.items {
            let Role::Place(place) = group.role else { continue };
            let texts = group.shapes.iter().filter(|shape| matches!(shape, Shape::Text(_)));
            for area in texts.map(Shape::area) {
                let at = middle(&area);
                let round = frames.iter().enumerate().filter(|(_, it)| lies_inside(at, it.outline));
                let round = round.min_by(|a, b| a.1.size().total_cmp(&b.1.size()));
                let beside = frames.iter().enumerate().find(|(_, it)| {
                    it.place == place && it.area.grown(BESIDE).holds(&Area::between(at, at))
                });
                match round.or(beside) {
                    Some((index, frame)) if frame.place == place => named[index] = true,
                    _ => {
                        let words = format!(
                            "the name of {} stands outside its frame",
                            self.place_name(place)
                        );
                        self.fault(faults, Rule::OwnFrame, words);
                    }
                }
            }
        }
        for (frame, _) in frames.iter().zip(named).filter(|(_, named)| !named) {
            let words = format!("a frame of {} bears no name", self.place_name(frame.place));
            self.fault(faults, Rule::OwnFrame, words);
        }
    }
}
