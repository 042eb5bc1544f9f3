//! Numbers of wires, put last, against everything already drawn.

use super::*;

/// Price of the next place in the order of preference; as much as a neighbour at its nearest: 1.
const LATER: f64 = 0.03;

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
        let number = self.number(node);
        let ink = if number.counted { Ink::Second } else { Ink::Main };
        let said = self.shared.live.and_then(|live| live.said(node));
        let behind = said.as_ref().map_or(0.0, |said| GAP + Piece::second(said).width());
        // Clear of the band behind what carries current.
        let (off, over) = if said.is_some() { (2.9, 2.7) } else { (1.6, 1.0) };
        let make = |x: f64, y: f64, anchor: Anchor| Text {
            at: point(x, y),
            anchor,
            height: MODULE,
            weight: Weight::Plain,
            ink,
            words: lettering::tidy(&number.number),
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
        let first = candidates.first().cloned();
        // The number and what stands behind it are placed as one.
        let whole = |text: &Text| {
            let area = text.area();
            match text.anchor {
                Anchor::Start => Area { right: area.right + behind, ..area },
                Anchor::End => Area { left: area.left - behind, ..area },
                Anchor::Middle => {
                    let half = behind / 2.0;
                    Area { left: area.left - half, right: area.right + half, ..area }
                }
            }
        };
        // The first place costs least; a place among other words costs more.
        let mut found: Option<(f64, Text)> = None;
        for (index, text) in candidates.into_iter().enumerate() {
            let price = index as f64 * LATER;
            if found.as_ref().is_some_and(|(least, _)| *least <= price) {
                break;
            }
            let area = whole(&text);
            if !self.board.is_free_for_label(&area) {
                continue;
            }
            let price = price + self.board.crowding(&area);
            if found.as_ref().is_none_or(|(least, _)| price < *least) {
                found = Some((price, text));
            }
        }
        let found = found.map(|(_, text)| text);
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
            let mut label = label;
            let left = match label.anchor {
                Anchor::Start => label.at.x,
                Anchor::End => label.at.x - label.length() - behind,
                Anchor::Middle => label.at.x - (label.length() + behind) / 2.0,
            };
            if behind > 0.0 {
                label.anchor = Anchor::Start;
                label.at.x = left;
            }
            let mut shapes = vec![Shape::Text(label.clone())];
            if let Some(said) = said {
                let at = (left + label.length() + GAP, label.at.y);
                shapes.push(text(at, &said, SMALL_SECOND, Anchor::Start));
            }
            for shape in &shapes {
                self.board.add_text(shape.area());
            }
            self.push_quiet(id, Role::Wire(node), title, span, shapes);
        }
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
