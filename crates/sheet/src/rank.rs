//! From columns to heights. **In:** a plan. **Out:** the rank of every part (one part high) and
//! the level of every wire (a boundary between ranks; 0 is the upper rail). **Never here:**
//! millimetres, the order of columns.
//!
//! Longest path from the upper rail; cores between the same two places share a rank, and so do
//! the loads; then everything sinks as far as it can except what carries the picture: cores,
//! loads, wires shared by several legs, and the initiating contacts of plain legs.

use crate::plan::{Plan, Run};
use fiftytwo_scheme::{NodeId, PartId, PartKind, PlaceId, Scheme};
use std::collections::BTreeMap;

/// Heights of a plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ranks {
    /// How many ranks: the level of the lower rail.
    pub count: usize,
    /// The rank of each part: between level `rank` and level `rank + 1`.
    pub rank: BTreeMap<PartId, usize>,
    /// The level of each wire that any run touches.
    pub level: BTreeMap<NodeId, usize>,
}

impl Ranks {
    /// Level of a wire.
    pub fn level(&self, node: NodeId) -> usize {
        self.level.get(&node).copied().unwrap_or(0)
    }
    /// Rank of a part.
    pub fn rank(&self, part: PartId) -> usize {
        self.rank.get(&part).copied().unwrap_or(0)
    }
    /// First and last level a run covers.
    pub fn span(&self, run: &Run) -> (usize, usize) {
        let bottom = if run.looped {
            run.parts.last().map_or(0, |part| self.rank(*part) + 1)
        } else {
            self.level(run.bottom())
        };
        (self.level(run.top()), bottom)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Thing {
    Wire(NodeId),
    Part(PartId),
}

/// Who must stand how far above whom; things of a group stand at one height.
struct Order {
    index: BTreeMap<Thing, usize>,
    /// (upper, lower, least distance)
    edges: Vec<(usize, usize, usize)>,
    group: Vec<usize>,
    is_wire: Vec<bool>,
}

impl Order {
    fn of(plan: &Plan) -> Self {
        let mut order = Self {
            index: BTreeMap::new(),
            edges: Vec::new(),
            group: Vec::new(),
            is_wire: Vec::new(),
        };
        let plus = order.add(Thing::Wire(plan.plus));
        let minus = order.add(Thing::Wire(plan.minus));
        for run in plan.runs() {
            let mut upper = order.add(Thing::Wire(run.top()));
            for (index, part) in run.parts.iter().enumerate() {
                let part = order.add(Thing::Part(*part));
                order.edges.push((upper, part, 0));
                let last = index + 1 == run.parts.len();
                if last && run.looped {
                    order.edges.push((part, minus, 2));
                    break;
                }
                if let Some(node) = run.nodes.get(index + 1) {
                    let lower = order.add(Thing::Wire(*node));
                    order.edges.push((part, lower, 1));
                    upper = lower;
                }
            }
        }
        // No wire but the rails lies on a rail.
        for other in 0..order.group.len() {
            if other != plus && other != minus {
                let clear = usize::from(order.is_wire[other]);
                order.edges.push((plus, other, clear));
                order.edges.push((other, minus, 1));
            }
        }
        order.edges.push((plus, minus, 1));
        order
    }
    fn add(&mut self, thing: Thing) -> usize {
        let next = self.group.len();
        let at = *self.index.entry(thing).or_insert(next);
        if at == next {
            self.group.push(next);
            self.is_wire.push(matches!(thing, Thing::Wire(_)));
        }
        at
    }
    /// Edges between groups.
    fn joined(&self) -> impl Iterator<Item = (usize, usize, usize)> {
        self.edges.iter().map(|(a, b, distance)| (self.group[*a], self.group[*b], *distance))
    }
    /// Groups from top to bottom; none if something would stand above itself.
    fn sorted(&self) -> Option<Vec<usize>> {
        let count = self.group.len();
        let mut below: Vec<Vec<usize>> = vec![Vec::new(); count];
        let mut open_above = vec![0_usize; count];
        for (a, b, _) in self.joined() {
            below[a].push(b);
            open_above[b] += 1;
        }
        let mut ready: Vec<usize> =
            (0..count).rev().filter(|at| self.group[*at] == *at && open_above[*at] == 0).collect();
        let mut sorted = Vec::new();
        while let Some(at) = ready.pop() {
            sorted.push(at);
            for next in &below[at] {
                open_above[*next] -= 1;
                if open_above[*next] == 0 {
                    ready.push(*next);
                }
            }
        }
        let groups = (0..count).filter(|at| self.group[*at] == *at).count();
        (sorted.len() == groups).then_some(sorted)
    }
    /// Puts things at one height, leaving out those that would stand above themselves.
    fn align(&mut self, things: &[Thing]) -> Vec<Thing> {
        let mut aligned: Vec<Thing> = Vec::new();
        for thing in things {
            let Some(at) = self.index.get(thing).copied() else { continue };
            let Some(first) = aligned.first().and_then(|first| self.index.get(first)).copied()
            else {
                aligned.push(*thing);
                continue;
            };
            let before = self.group.clone();
            let (old, new) = (self.group[at], self.group[first]);
            self.group.iter_mut().filter(|group| **group == old).for_each(|group| *group = new);
            if self.sorted().is_some() {
                aligned.push(*thing);
            } else {
                self.group = before;
            }
        }
        aligned
    }
}

/// Ranks and levels of a plan.
pub fn ranks(scheme: &Scheme, plan: &Plan) -> Ranks {
    let mut order = Order::of(plan);
    let mut fixed: Vec<Thing> = vec![Thing::Wire(plan.plus), Thing::Wire(plan.minus)];
    for cores in core_rows(scheme, plan) {
        fixed.extend(order.align(&cores));
    }
    let loads = order.align(&load_row(scheme, plan));
    let load = loads.first().and_then(|first| order.index.get(first)).copied();
    fixed.extend(loads);
    fixed.extend(initiating_contacts(scheme, plan));
    fixed.extend(shared_wires(plan));

    let Some(sorted) = order.sorted() else { return Ranks::default() };
    let count = order.group.len();
    let mut height = vec![0_usize; count];
    let mut from: Vec<Vec<(usize, usize)>> = vec![Vec::new(); count];
    for (a, b, distance) in order.joined() {
        from[a].push((b, distance));
    }
    for at in &sorted {
        for (next, distance) in &from[*at] {
            height[*next] = height[*next].max(height[*at] + distance);
        }
    }
    let mut stays = vec![false; count];
    for thing in &fixed {
        if let Some(at) = order.index.get(thing) {
            stays[order.group[*at]] = true;
        }
    }
    for at in sorted.iter().rev() {
        let lowest = from[*at].iter().map(|(next, distance)| height[*next] - distance).min();
        // What works for a load stands above the loads, not among them.
        let loads = load.map_or(usize::MAX, |load| height[order.group[load]]);
        let lowest = lowest.map(|lowest| {
            let is_part = !order.is_wire[*at];
            if is_part && height[*at] < loads { lowest.min(loads - 1) } else { lowest }
        });
        if let (Some(lowest), false) = (lowest, stays[*at]) {
            height[*at] = height[*at].max(lowest);
        }
    }
    let mut ranks = Ranks::default();
    for (thing, at) in &order.index {
        let height = height[order.group[*at]];
        match thing {
            Thing::Wire(node) => {
                ranks.level.insert(*node, height);
            }
            Thing::Part(part) => {
                ranks.rank.insert(*part, height);
            }
        }
    }
    ranks.count = ranks.level(plan.minus);
    ranks
}

/// The places a core leads from and into, as drawn.
pub fn core_places(scheme: &Scheme, part: PartId, flipped: bool) -> Option<(PlaceId, PlaceId)> {
    let PartKind::Core(core) = &scheme.parts[part].kind else { return None };
    let from = scheme.parts[part].at?.place;
    Some(if flipped { (core.into, from) } else { (from, core.into) })
}

/// Cores that go the same way share a row; a second one in the same column starts another.
fn core_rows(scheme: &Scheme, plan: &Plan) -> Vec<Vec<Thing>> {
    let mut rows: BTreeMap<(PlaceId, PlaceId, usize), Vec<Thing>> = BTreeMap::new();
    for run in plan.runs() {
        let mut seen: BTreeMap<(PlaceId, PlaceId), usize> = BTreeMap::new();
        for part in &run.parts {
            if let Some((from, into)) = core_places(scheme, *part, run.flipped) {
                let depth = seen.entry((from, into)).or_default();
                rows.entry((from, into, *depth)).or_default().push(Thing::Part(*part));
                *depth += 1;
            }
        }
    }
    rows.into_values().collect()
}

/// What a leg is for: it stands on the load row.
pub fn is_load(scheme: &Scheme, part: PartId) -> bool {
    matches!(
        scheme.parts[part].kind,
        PartKind::Coil(_)
            | PartKind::Input(_)
            | PartKind::Motor(_)
            | PartKind::Heater { .. }
            | PartKind::Power { .. }
            | PartKind::Lamp(_)
    )
}

/// Loads with nothing that works below them: the last load of each leg that goes down to the
/// lower rail or a common return. A lamp with a contact below it is none.
fn load_row(scheme: &Scheme, plan: &Plan) -> Vec<Thing> {
    let mut row = Vec::new();
    for run in plan.runs() {
        let last = run.parts.iter().rposition(|part| is_load(scheme, *part));
        let Some(last) = last else { continue };
        let part = run.parts[last];
        let ends_leg = run.parts[last + 1..].is_empty();
        let lamp = matches!(scheme.parts[part].kind, PartKind::Lamp(_));
        if (lamp && !ends_leg) || leads_to_a_load(scheme, plan, run.bottom()) {
            continue;
        }
        row.push(Thing::Part(part));
    }
    row
}

fn leads_to_a_load(scheme: &Scheme, plan: &Plan, node: NodeId) -> bool {
    let mut open = vec![node];
    let mut seen = vec![node];
    while let Some(node) = open.pop() {
        for run in plan.runs() {
            let Some(at) = run.nodes.iter().position(|other| *other == node) else { continue };
            if run.parts[at.min(run.parts.len())..].iter().any(|part| is_load(scheme, *part)) {
                return true;
            }
            for below in &run.nodes[at..] {
                if !plan.is_rail(*below) && !seen.contains(below) {
                    seen.push(*below);
                    open.push(*below);
                }
            }
        }
    }
    false
}

/// What starts a leg that goes from rail to rail in one place stays in line at the top: the
/// contacts of all its ways, and the wires between them.
fn initiating_contacts(scheme: &Scheme, plan: &Plan) -> Vec<Thing> {
    let is_core = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Core(_));
    let mut things = Vec::new();
    for unit in &plan.units {
        let Some(trunk) = unit.runs.first() else { continue };
        let whole = trunk.top() == plan.plus && trunk.bottom() == plan.minus;
        if !whole || unit.runs.iter().any(|run| run.parts.iter().any(is_core)) {
            continue;
        }
        for run in &unit.runs {
            let before = run.parts.iter().take_while(|part| !is_load(scheme, **part)).count();
            things.extend(run.parts[..before].iter().map(|part| Thing::Part(*part)));
            if before > 0 {
                things.extend(run.nodes[..=before].iter().map(|node| Thing::Wire(*node)));
            }
        }
    }
    things
}

/// Wires that several legs tap.
fn shared_wires(plan: &Plan) -> Vec<Thing> {
    let mut tapped: BTreeMap<NodeId, Vec<usize>> = BTreeMap::new();
    for (index, unit) in plan.units.iter().enumerate() {
        for node in unit.runs.iter().flat_map(|run| &run.nodes) {
            let units = tapped.entry(*node).or_default();
            if !units.contains(&index) {
                units.push(index);
            }
        }
    }
    tapped
        .into_iter()
        .filter(|(node, units)| units.len() > 1 || plan.outside.contains(node))
        .map(|(node, _)| Thing::Wire(node))
        .collect()
}
