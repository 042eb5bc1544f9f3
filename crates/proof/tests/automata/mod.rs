//! Small random timed automata that act on one another.

use fiftytwo_proof::timed::{Bound, ClockId, Edge, Extremes, TimedSpace};
use proptest::prelude::*;

pub const CLOCKS: usize = 4;

/// Component, and which of its moves.
pub type Move = (u8, u8);

#[derive(Clone, Debug)]
pub struct Arc {
    from: u8,
    to: u8,
    guards: Vec<(u16, Bound)>,
    resets: Vec<u16>,
    /// Only while another component is in a position.
    needs: Option<(u8, u8)>,
}

#[derive(Clone, Debug)]
pub struct Component {
    arcs: Vec<Arc>,
    /// Position, clock, bound on staying.
    bounds: Vec<(u8, u16, i64)>,
    urgent: Vec<u8>,
}

#[derive(Clone, Debug)]
pub struct Plant {
    components: Vec<Component>,
    /// A clock runs unless the component is in the position.
    pauses: Vec<(u16, u8, u8)>,
    pub bad: Vec<(u8, u8)>,
}

fn bound(lower_only: bool) -> impl Strategy<Value = Bound> {
    let most = if lower_only { 0 } else { 1 };
    (0..=most, 0..=8i64).prop_map(|(kind, constant)| match kind {
        0 => Bound::AtLeast(constant),
        _ => Bound::AtMost(constant),
    })
}

fn arc(lower_only: bool) -> impl Strategy<Value = Arc> {
    let clock = 0..CLOCKS as u16;
    (
        0..3u8,
        0..3u8,
        prop::collection::vec((clock.clone(), bound(lower_only)), 0..3),
        prop::collection::vec(clock, 0..2),
        prop::option::weighted(0.4, (0..3u8, 0..3u8)),
    )
        .prop_map(|(from, to, guards, resets, needs)| Arc { from, to, guards, resets, needs })
}

fn component(lower_only: bool) -> impl Strategy<Value = Component> {
    (
        prop::collection::vec(arc(lower_only), 1..5),
        prop::collection::vec((0..3u8, 0..CLOCKS as u16, 0..=8i64), 0..3),
        prop::collection::vec(0..12u8, 0..2),
    )
        .prop_map(|(arcs, bounds, urgent)| Component { arcs, bounds, urgent })
}

pub fn plant(lower_only: bool) -> impl Strategy<Value = Plant> {
    (
        prop::collection::vec(component(lower_only), 2..=3),
        prop::collection::vec((0..CLOCKS as u16, 0..3u8, 0..3u8), 0..3),
        prop::collection::vec((0..3u8, 0..3u8), 2..=3),
    )
        .prop_map(|(components, pauses, bad)| Plant { components, pauses, bad })
}

impl Plant {
    fn is(place: &[u8], (component, position): (u8, u8)) -> bool {
        place.get(usize::from(component)) == Some(&position)
    }
}

impl Plant {
    /// The same with all constants so many times greater.
    pub fn scaled(&self, times: i64) -> Self {
        let mut plant = self.clone();
        for component in &mut plant.components {
            component.bounds.iter_mut().for_each(|(_, _, most)| *most *= times);
            for (_, bound) in component.arcs.iter_mut().flat_map(|arc| &mut arc.guards) {
                let (Bound::AtLeast(constant) | Bound::AtMost(constant)) = bound;
                *constant *= times;
            }
        }
        plant
    }

    fn runs(&self, place: &[u8], clock: u16) -> bool {
        !self
            .pauses
            .iter()
            .any(|&(of, component, position)| of == clock && Self::is(place, (component, position)))
    }
}

impl TimedSpace for Plant {
    type Place = Vec<u8>;
    type Event = Move;

    fn starts(&self) -> Vec<Vec<u8>> {
        vec![vec![0; self.components.len()]]
    }

    fn clocks(&self, place: &Vec<u8>, out: &mut Vec<ClockId>) {
        out.extend((0..CLOCKS as u16).rev().filter(|&c| self.runs(place, c)).map(ClockId));
    }

    fn invariants(&self, place: &Vec<u8>, out: &mut Vec<(ClockId, i64)>) {
        for (component, position) in self.components.iter().zip(place) {
            out.extend(
                component
                    .bounds
                    .iter()
                    .filter(|&&(at, clock, _)| at == *position && self.runs(place, clock))
                    .map(|&(_, clock, most)| (ClockId(clock), most)),
            );
        }
    }

    fn is_urgent(&self, place: &Vec<u8>) -> bool {
        self.components.iter().zip(place).any(|(c, position)| c.urgent.contains(position))
    }

    fn edges(&self, place: &Vec<u8>, out: &mut Vec<Edge<Move, Vec<u8>>>) {
        for (k, component) in self.components.iter().enumerate() {
            for (number, arc) in component.arcs.iter().enumerate() {
                let open = arc.needs.is_none_or(|needs| Self::is(place, needs));
                if arc.from == place[k] && open {
                    let mut target = place.clone();
                    target[k] = arc.to;
                    out.push(Edge {
                        event: (k as u8, number as u8),
                        guards: arc
                            .guards
                            .iter()
                            .filter(|&&(c, _)| self.runs(place, c))
                            .map(|&(c, b)| (ClockId(c), b))
                            .collect(),
                        resets: arc.resets.iter().map(|&c| ClockId(c)).collect(),
                        target,
                    });
                }
            }
        }
    }

    fn extremes(&self, _place: &Vec<u8>, clock: ClockId) -> Extremes {
        let mut extremes = Extremes::UNSEEN;
        for component in &self.components {
            for &(_, _, most) in component.bounds.iter().filter(|(_, of, _)| *of == clock.0) {
                extremes.upper = extremes.upper.max(most);
            }
            let guards = component.arcs.iter().flat_map(|arc| &arc.guards);
            for (_, bound) in guards.filter(|(of, _)| *of == clock.0) {
                match *bound {
                    Bound::AtLeast(least) => extremes.lower = extremes.lower.max(least),
                    Bound::AtMost(most) => extremes.upper = extremes.upper.max(most),
                }
            }
        }
        extremes
    }

    fn refutes(&self, place: &Vec<u8>) -> bool {
        !self.bad.is_empty() && self.bad.iter().all(|&at| Self::is(place, at))
    }

    fn comes_of_itself(&self, event: &Move) -> bool {
        // Component 2, where there is one, is a person.
        event.0 != 2
    }
}
