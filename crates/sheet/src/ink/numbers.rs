//! Numbers of wires, put last, against everything already drawn.

use super::*;

/// Price of the next place in the order of preference; as much as a neighbour at its nearest: 1.
const LATER: f64 = 0.03;

/// What stands with the number of a wire, placed as one with it.
enum Beside<'a> {
    /// Nothing.
    Nothing,
    /// Where the wire lies, on the same line, which takes so many mm more.
    Behind(&'a str, f64),
    /// The same, on a line of its own.
    Below(&'a str),
}

impl Beside<'_> {
    /// What the number covers with it.
    fn whole(&self, text: &Text) -> Area {
        let area = text.area();
        match self {
            Self::Nothing => area,
            Self::Behind(_, behind) => match text.anchor {
                Anchor::Start => Area { right: area.right + behind, ..area },
                Anchor::End => Area { left: area.left - behind, ..area },
                Anchor::Middle => {
                    let half = behind / 2.0;
                    Area { left: area.left - half, right: area.right + half, ..area }
                }
            },
            Self::Below(said) => area.with(below(text, said).area()),
        }
    }
    fn shapes(&self, label: &Text) -> Vec<Shape> {
        let (said, behind) = match self {
            Self::Nothing => return vec![Shape::Text(label.clone())],
            Self::Below(said) => return vec![Shape::Text(label.clone()), below(label, said)],
            Self::Behind(said, behind) => (*said, *behind),
        };
        let left = match label.anchor {
            Anchor::Start => label.at.x,
            Anchor::End => label.at.x - label.length() - behind,
            Anchor::Middle => label.at.x - (label.length() + behind) / 2.0,
        };
        let mut number = label.clone();
        number.anchor = Anchor::Start;
        number.at.x = left;
        let at = (left + label.length() + GAP, label.at.y);
        vec![Shape::Text(number), text(at, said, SMALL_SECOND, Anchor::Start)]
    }
}

/// The line below a number.
fn below(number: &Text, said: &str) -> Shape {
    let at = (number.at.x, number.at.y + MODULE * LEADING);
    text(at, said, SMALL_SECOND, number.anchor)
}

impl Desk<'_> {
    pub(super) fn wire_labels(&mut self) {
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
        let id = self.unique.once(format!("number-{}", self.wire_key(node)));
        if self.shared.bones {
            return;
        }
        let number = self.number(node);
        let said = self.shared.live.and_then(|live| live.said(node));
        let candidates = self.label_places(node, &number, said.is_some());
        let mut found = None;
        if let Some(said) = &said {
            let behind = GAP + Piece::second(said).width();
            let ways = [Beside::Behind(said, behind), Beside::Below(said)];
            found = ways.iter().find_map(|beside| {
                self.best_place(&candidates, beside).map(|label| beside.shapes(label))
            });
            if found.is_none() {
                self.drawn.unplaced.push(format!("wire {}: {said}", number.number));
            }
        }
        let alone = |label: &Text| Beside::Nothing.shapes(label);
        found = found.or_else(|| self.best_place(&candidates, &Beside::Nothing).map(alone));
        if found.is_none() && said.is_none() {
            self.drawn.crowded.insert(self.placed.block.ranks.level(node));
            found = candidates.first().map(alone);
        }
        let Some(shapes) = found else { return };
        let title = if number.counted {
            format!("wire {}, counted by the drawing", number.number)
        } else {
            format!("wire {}", number.number)
        };
        let span = self.scheme().nodes[node].span;
        for shape in &shapes {
            self.board.add_text(shape.area());
        }
        self.push_as(id, Role::Wire(node), title, span, shapes);
    }

    /// Where the number of a wire may stand, the best first.
    fn label_places(&self, node: NodeId, number: &WireNumber, in_state: bool) -> Vec<Text> {
        let ink = if number.counted { Ink::Second } else { Ink::Main };
        // Clear of the band behind what carries current.
        let (off, over) = if in_state { (2.9, 2.7) } else { (1.6, 1.0) };
        let words = lettering::tidy(&number.number);
        let make = |x: f64, y: f64, anchor: Anchor| Text {
            at: point(x, y),
            anchor,
            height: MODULE,
            weight: Weight::Plain,
            ink,
            words: words.clone(),
            turned: false,
            meaning: Meaning::Words,
        };
        let mut candidates = Vec::new();
        let pieces: Vec<(Point, Point)> = self.wire_pieces(node);
        for (a, b) in pieces.iter().filter(|(a, b)| (a.y - b.y).abs() < 0.01) {
            if self.style().across() && (a.x - b.x).abs() < 4.0 {
                continue;
            }
            let (left, right) = (a.x.min(b.x), a.x.max(b.x));
            for base in [a.y - over, a.y + over + MODULE] {
                if self.style().across() {
                    candidates.push(make((left + right) / 2.0, base, Anchor::Middle));
                }
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
            let across = self.style().across();
            let boundaries =
                self.placed.level_y.iter().filter(|y| !across && top < **y && **y < bottom);
            let mut heights: Vec<f64> = boundaries.map(|y| y + MODULE / 2.0).collect();
            heights.push((top + bottom) / 2.0 + MODULE / 2.0);
            let mut y = top + MODULE + 0.6;
            while y < bottom - 0.6 {
                heights.push(y);
                y += 0.5;
            }
            for (x, anchor) in [(off, Anchor::Start), (-off, Anchor::End)] {
                candidates.extend(heights.iter().map(|y| make(a.x + x, *y, anchor)));
            }
        }
        candidates
    }

    /// The free place that costs least: the first costs nothing, a place among other words costs more.
    fn best_place<'t>(&self, candidates: &'t [Text], beside: &Beside<'_>) -> Option<&'t Text> {
        let mut found: Option<(f64, &Text)> = None;
        for (index, text) in candidates.iter().enumerate() {
            let price = index as f64 * LATER;
            if found.is_some_and(|(least, _)| least <= price) {
                break;
            }
            let area = beside.whole(text);
            if !self.board.is_free_for_label(&area) {
                continue;
            }
            let price = price + self.board.crowding(&area);
            if found.is_none_or(|(least, _)| price < least) {
                found = Some((price, text));
            }
        }
        found.map(|(_, text)| text)
    }

    pub(super) fn wire_pieces(&self, node: NodeId) -> Vec<(Point, Point)> {
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
