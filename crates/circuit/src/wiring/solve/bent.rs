//! A section with diodes, lights, varistors …: parts given by their characteristics.
//!
//! **In:** a section at one position. **Out:** the interval of every load.
//! **Never here:** sections without curves, which are solved faster.
//!
//! Every corner is solved with the characteristics as they are. What is exact about corners:
//! nothing in the section gives power out and every current grows with its voltage, so a small
//! change anywhere acts as in the linear network of the slopes at the solution. Where the section
//! with its supply is built up in series and parallel, the direction of every such effect is fixed
//! by the wiring, whatever the slopes; each voltage is then monotone in every resistance, in every
//! characteristic and in the supply, and its extremes are the two corners that those directions
//! name: exact. Around bridges, and where several supplies meet, a direction may change on the way:
//! the named corners and descents from them are tried, and the result says `sampled`.

use super::found::Found;
use super::many::{Sources, sources};
use super::series_parallel::is_series_parallel;
use super::single::Side;
use super::stamped::Stamped;
use super::{Ends, NO_CURRENT, Undeclared};
use crate::corner::{Battery, Corner, Heat, Others};
use crate::network::{Branch, CurveNumber, Network, Prepared, Solution};
use crate::positions::Supplies;
use crate::wiring::compile::{EdgeKind, Section};
use fiftytwo_scheme::Scheme;

/// A change of less than this part is no worse corner.
const SAME: f64 = 1e-9;
/// How often resistances are moved anew.
const MOST_MOVES: usize = 16;
/// How many corners beside the named ones descents begin from.
const MOST_STARTS: usize = 16;
/// The least internal resistance of a supply here, ohm: 1 µV at 10 A.
const LEAST_INTERNAL: f64 = 1e-7;

pub(super) fn solve(
    scheme: &Scheme,
    stamped: &Stamped<'_>,
    live: Supplies,
    others: &[f64],
    found: &mut Found,
) {
    let section = stamped.section;
    let exact = section.feeds.len() == 1
        && !stamped.has_undeclared()
        && is_series_parallel(section.nodes, stamped.joined(poles(section)).into_iter());
    let mut hot = Vec::new();
    for ends in Ends::all(stamped.has_undeclared()) {
        let Some(mut corners) = Corners::new(stamped, ends.undeclared) else { continue };
        ends.hot(section, &mut hot);
        for sources in sources(scheme, section, live, others, ends.conductors) {
            let corner = Corner {
                battery: sources.battery,
                conductors: ends.conductors,
                coils: ends.coils,
                others: sources.others,
            };
            let solved = corners.solve(&hot, &sources);
            for (edge, drive) in section.asked() {
                let (a, b) = section.ends(edge);
                let held = solved.as_ref().and_then(|solution| solution.voltage(a, b));
                let interval = found.of(drive);
                if ends.undeclared == Undeclared::Open && held.is_none() {
                    interval.floats = true;
                }
                // A voltage was not found: it may be anything.
                match &solved {
                    Some(_) => interval.take(held.unwrap_or(0.0), ends, corner),
                    None => interval.may_be_anything(sources.scale(), ends, corner),
                }
            }
        }
    }
    let Some(mut corners) = Corners::new(stamped, Undeclared::Open) else { return };
    if exact {
        corners.exact(scheme, live, others, found);
    } else {
        corners.sampled(scheme, live, others, found);
    }
}

fn poles(section: &Section) -> impl Iterator<Item = (usize, usize)> + '_ {
    section.feeds.iter().map(|feed| (feed.plus, feed.minus))
}

/// The branch of an edge, and what it may be.
enum Values {
    Ohms { lo: f64, hi: f64 },
    Curves { most: CurveNumber, least: CurveNumber },
}

/// A section at one position, to be solved at any corner.
pub(super) struct Corners<'s> {
    section: &'s Section,
    network: Prepared,
    /// For each edge its branch.
    edges: Vec<Option<(usize, Values)>>,
    /// For each feed its source and what others draw.
    feeds: Vec<(usize, usize)>,
}

impl<'s> Corners<'s> {
    /// None if the section can't be made ready.
    pub(super) fn new(stamped: &Stamped<'s>, undeclared: Undeclared) -> Option<Self> {
        let section = stamped.section;
        let mut network = Network::new(section.nodes);
        let mut edges = Vec::with_capacity(section.edges.len());
        for (index, edge) in section.edges.iter().enumerate() {
            let (a, b) = section.ends(edge);
            let values = match edge.kind {
                _ if a == b => None,
                EdgeKind::Switch(_) => {
                    if stamped.conducts(edge) {
                        network.switch(a, b, true);
                    }
                    None
                }
                EdgeKind::Core { lo, hi } | EdgeKind::Load { lo, hi, .. } => {
                    Some((network.resistor(a, b, lo), Values::Ohms { lo, hi }))
                }
                EdgeKind::Diode(curve) | EdgeKind::Bent { curve, .. } => {
                    let bent = &section.curves[curve];
                    let most = network.characteristic(bent.most.clone());
                    let least = network.characteristic(bent.least.clone());
                    let branch = network.add(Branch::Curve { a, b, curve: most });
                    Some((branch, Values::Curves { most, least }))
                }
                EdgeKind::Unknown { least, .. } => {
                    if undeclared == Undeclared::Least && stamped.is_in_series(index) {
                        network.resistor(a, b, least);
                    }
                    None
                }
                EdgeKind::Wire | EdgeKind::Open => None,
            };
            edges.push(values);
        }
        let feeds = poles(section)
            .map(|(plus, minus)| {
                // A dead supply is no more than a loose end: no conductance to speak of.
                let source = network.source(plus, minus, 0.0, DEAD);
                (source, network.add(Branch::Current { from: plus, to: minus, ampere: 0.0 }))
            })
            .collect();
        Some(Self { section, network: Prepared::new(network).ok()?, edges, feeds })
    }

    /// Fills in one corner and solves it; none if no voltage was found that fits.
    pub(super) fn solve(&mut self, hot: &[bool], sources: &Sources) -> Option<Solution> {
        for (feed, source) in sources.feeds.iter().enumerate() {
            let (plus, minus) = (self.section.feeds[feed].plus, self.section.feeds[feed].minus);
            let (volt, ohm, ampere) = source.unwrap_or((0.0, DEAD, 0.0));
            let (at, draw) = self.feeds[feed];
            let ohm = ohm.max(LEAST_INTERNAL);
            self.network.set(at, Branch::Source { plus, minus, volt, ohm });
            self.network.set(draw, Branch::Current { from: plus, to: minus, ampere });
        }
        for (edge, &hot) in hot.iter().enumerate() {
            self.place(edge, hot);
        }
        self.network.solve().ok()
    }

    fn place(&mut self, edge: usize, hot: bool) {
        let (a, b) = self.section.ends(&self.section.edges[edge]);
        let Some((branch, values)) = &self.edges[edge] else { return };
        let value = match *values {
            Values::Ohms { lo, hi } => Branch::Resistor { a, b, ohm: if hot { hi } else { lo } },
            Values::Curves { most, least } => {
                Branch::Curve { a, b, curve: if hot { least } else { most } }
            }
        };
        self.network.set(*branch, value);
    }

    /// The two extremes of every load of a section built up in series and parallel.
    fn exact(&mut self, scheme: &Scheme, live: Supplies, others: &[f64], found: &mut Found) {
        let section = self.section;
        let Some(model) = self.any_values() else { return };
        let Ok(at_model) = model.solve() else { return };
        for (edge, drive) in section.asked() {
            let (a, b) = section.ends(edge);
            let interval = found.of(drive);
            let across = at_model.voltage(a, b).unwrap_or(0.0);
            if !interval.is_declared() || across.abs() < NO_CURRENT {
                continue;
            }
            let Ok(adjoint) = model.adjoint(&at_model, a, b) else { continue };
            let direction = across.signum();
            for side in [Side::Low, Side::High] {
                let hot: Vec<bool> = (0..section.edges.len())
                    .map(|other| {
                        let (p, q) = section.ends(&section.edges[other]);
                        let across = at_model.voltage(p, q).unwrap_or(0.0);
                        // More conductance there moves the voltage asked for by minus this.
                        let lowers = across * (adjoint[p] - adjoint[q]) * direction > 0.0;
                        lowers != (side == Side::Low)
                    })
                    .collect();
                let Some(sources) = end_of(scheme, section, live, others, side) else { return };
                let Some(solution) = self.solve(&hot, &sources) else { continue };
                let size = solution.voltage(a, b).unwrap_or(0.0).abs();
                match side {
                    Side::Low => interval.lower_to(size),
                    Side::High => interval.raise_to(size),
                }
            }
        }
    }

    /// The same wiring with a resistance in place of every part, near 1 kΩ and no two alike, so that
    /// every effect that the wiring allows shows its direction.
    fn any_values(&self) -> Option<Prepared> {
        let mut network = Network::new(self.section.nodes);
        let mut next = 1000.0;
        for branch in self.network.network().branches() {
            let (a, b) = branch.nodes();
            match branch {
                Branch::Switch { .. } => network.switch(a, b, true),
                Branch::Source { .. } => network.source(a, b, 100.0, 1000.0),
                Branch::Current { .. } => continue,
                _ => {
                    next *= 1.01;
                    network.resistor(a, b, next)
                }
            };
        }
        Prepared::new(network).ok()
    }

    /// Descents from the named corners, on one supply.
    fn sampled(&mut self, scheme: &Scheme, live: Supplies, others: &[f64], found: &mut Found) {
        let section = self.section;
        let mut hot = Vec::new();
        for (edge, drive) in section.asked() {
            let interval = found.of(drive);
            interval.is_sampled();
            // Without current at every named corner it may still have some in between.
            if section.feeds.len() > 1 || !interval.is_declared() {
                continue;
            }
            let named = Ends::all(false).into_iter().map(|ends| {
                ends.hot(section, &mut hot);
                hot.clone()
            });
            let starts: Vec<Vec<bool>> = named.chain(self.scattered()).collect();
            // Past a bend a higher supply may lower a voltage: both its ends for both extremes.
            for end in [Side::Low, Side::High] {
                let Some(sources) = end_of(scheme, section, live, others, end) else { return };
                for start in &starts {
                    for side in [Side::Low, Side::High] {
                        let mut start = start.clone();
                        let worst = self.descend(section.ends(edge), side, &sources, &mut start);
                        match (side, worst) {
                            (Side::Low, Some(worst)) => interval.lower_to(worst),
                            (Side::High, Some(worst)) => interval.raise_to(worst),
                            (_, None) => {}
                        }
                    }
                }
            }
            interval.is_sampled();
        }
    }

    /// More corners to begin from, each part at an end of its own: all of them where they are few.
    fn scattered(&self) -> Vec<Vec<bool>> {
        let free: Vec<usize> =
            (0..self.edges.len()).filter(|&edge| self.edges[edge].is_some()).collect();
        let all = u32::try_from(free.len()).ok().and_then(|count| 1_usize.checked_shl(count));
        let count = all.map_or(MOST_STARTS, |all| all.min(MOST_STARTS));
        (0..count)
            .map(|corner| {
                let mut hot = vec![false; self.edges.len()];
                for (place, &edge) in free.iter().enumerate() {
                    // Bit by bit of the corner's number; beyond its bits a fixed pattern.
                    let mixed = corner.wrapping_mul(0x9e37).wrapping_add(place * 0x79b9) >> 7;
                    let bit = if all == Some(count) { corner >> place } else { mixed };
                    hot[edge] = bit & 1 == 1;
                }
                hot
            })
            .collect()
    }

    /// Moves every part to the end that its sensitivity asks for, as long as that makes it worse.
    fn descend(
        &mut self,
        (a, b): (usize, usize),
        side: Side,
        sources: &Sources,
        hot: &mut [bool],
    ) -> Option<f64> {
        let mut solution = self.solve(hot, sources)?;
        let mut worst = solution.voltage(a, b).unwrap_or(0.0);
        for _ in 0..MOST_MOVES {
            let adjoint = self.network.adjoint(&solution, a, b).ok()?;
            let mut asks = Vec::new();
            for (edge, &is_hot) in hot.iter().enumerate() {
                let (p, q) = self.section.ends(&self.section.edges[edge]);
                let Some(across) = solution.voltage(p, q) else { continue };
                let gain = self.more_when_cold(edge, across) * (adjoint[p] - adjoint[q]);
                let gain = gain * worst.signum();
                let wants_hot = (gain > 0.0) != (side == Side::Low);
                if gain.abs() > SAME * worst.abs() && wants_hot != is_hot {
                    asks.push((gain.abs(), edge));
                }
            }
            // All that ask together; if they undo each other, one at a time, the strongest first.
            asks.sort_by(|one, other| other.0.total_cmp(&one.0));
            let all: Vec<usize> = asks.iter().map(|ask| ask.1).collect();
            let trials = std::iter::once(&all[..]).chain(all.chunks(1));
            let mut better = None;
            for trial in trials.filter(|trial| !trial.is_empty()) {
                trial.iter().for_each(|&edge| hot[edge] = !hot[edge]);
                let next = self.solve(hot, sources)?;
                let volt = next.voltage(a, b).unwrap_or(0.0);
                let is_worse = match side {
                    Side::Low => volt * worst.signum() < worst.abs() * (1.0 - SAME),
                    Side::High => volt.abs() > worst.abs() * (1.0 + SAME),
                };
                if is_worse {
                    better = Some((volt, next));
                    break;
                }
                trial.iter().for_each(|&edge| hot[edge] = !hot[edge]);
            }
            let Some((volt, next)) = better else { break };
            if volt * worst < 0.0 && side == Side::Low {
                // It passed through 0 on the way.
                return Some(0.0);
            }
            (worst, solution) = (volt, next);
        }
        Some(worst.abs())
    }

    /// How much more current an edge takes at its cold end than at its hot one, A.
    fn more_when_cold(&self, edge: usize, across: f64) -> f64 {
        match &self.edges[edge] {
            Some((_, Values::Ohms { lo, hi })) => across * (lo.recip() - hi.recip()),
            Some((_, Values::Curves { .. })) => match self.section.edges[edge].kind {
                EdgeKind::Diode(curve) | EdgeKind::Bent { curve, .. } => {
                    let bent = &self.section.curves[curve];
                    bent.most.current(across) - bent.least.current(across)
                }
                _ => 0.0,
            },
            None => 0.0,
        }
    }
}

/// The resistance that stands for a dead supply, ohm.
const DEAD: f64 = 1e15;

/// The supply at its worst for one side: low behind its greatest resistance with others on, or
/// high behind its least with others off.
fn end_of(
    scheme: &Scheme,
    section: &Section,
    live: Supplies,
    others: &[f64],
    side: Side,
) -> Option<Sources> {
    let (heat, battery, draw) = match side {
        Side::Low => (Heat::Hot, Battery::Low, Others::On),
        Side::High => (Heat::Cold, Battery::High, Others::Off),
    };
    sources(scheme, section, live, others, heat)
        .into_iter()
        .find(|sources| sources.battery == battery && sources.others == draw)
}
