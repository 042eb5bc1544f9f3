//! The drive of a section's loads over the corners, for one position of its switches.

use super::Drive;
use super::compile::{EdgeKind, Section};
use crate::corner::{Battery, Corner, Heat, Method, Others};
use crate::elimination::{Potentials, Work};
use crate::network::{DIODE_LEAKS, DIODE_OHM, Network};
use crate::positions::{Positions, Supplies};
use crate::union::Union;
use fiftytwo_scheme::{Scheme, SupplyId};

/// Below this part of the nominal voltage a load counts as without current: rounding, not volts.
const NO_CURRENT: f64 = 1e-9;
/// A diode keeps its state within this voltage for one volt of supply.
const DIODE_KEEPS: f64 = 1e-9;

/// What stands for loads without a declared resistance that lie in series with something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Undeclared {
    Open,
    Least,
}

/// One end of all resistances.
#[derive(Debug, Clone, Copy)]
struct Ends {
    conductors: Heat,
    coils: Heat,
    undeclared: Undeclared,
}

/// The supplies at one corner.
struct Sources {
    battery: Battery,
    others: Others,
    /// For each feed: open-circuit voltage (none: dead), internal resistance, current of others.
    feeds: Vec<Option<(f64, f64, f64)>>,
}

/// What a part of the section is joined to by closed contacts and conductors alone.
struct Reach {
    root: Vec<usize>,
    plus: Vec<u64>,
    minus: Vec<u64>,
}

impl Reach {
    fn new(section: &Section, key: &Positions, live: Supplies) -> Self {
        let mut union = Union::new(section.nodes);
        for edge in &section.edges {
            let (a, b) = section.ends(edge);
            let joins = match edge.kind {
                EdgeKind::Core { .. } => true,
                EdgeKind::Switch(bit) => key.is_closed(bit),
                _ => false,
            };
            if joins {
                union.join(a, b, 0.0);
            }
        }
        let root: Vec<usize> = (0..section.nodes).map(|node| union.root(node)).collect();
        let mut reach = Self { plus: vec![0; section.nodes], minus: vec![0; section.nodes], root };
        for (bit, feed) in section.feeds.iter().enumerate() {
            if live.lives(feed.supply) {
                reach.plus[reach.root[feed.plus]] |= 1 << bit;
                reach.minus[reach.root[feed.minus]] |= 1 << bit;
            }
        }
        reach.through_diodes(section);
        reach
    }
    fn through_diodes(&mut self, section: &Section) {
        let diodes: Vec<(usize, usize)> = section
            .edges
            .iter()
            .filter(|edge| matches!(edge.kind, EdgeKind::Diode(_)))
            .map(|edge| section.ends(edge))
            .collect();
        for _ in 0..diodes.len() {
            for &(anode, cathode) in &diodes {
                let (anode, cathode) = (self.root[anode], self.root[cathode]);
                self.plus[cathode] |= self.plus[anode];
                self.minus[anode] |= self.minus[cathode];
            }
        }
    }
    fn is_straight(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.root[a], self.root[b]);
        self.plus[a] & self.minus[b] != 0 || self.plus[b] & self.minus[a] != 0
    }
}

/// The drives of all loads.
pub(super) fn drives(
    scheme: &Scheme,
    section: &Section,
    key: &Positions,
    live: Supplies,
    others: &[f64],
) -> Vec<Drive> {
    let reach = Reach::new(section, key, live);
    let mut found = Found::new(section, &reach);
    if section.feeds.iter().any(|feed| live.lives(feed.supply)) {
        let mut solver = Solver::new(section, key, &reach);
        for ends in solver.all_ends() {
            for sources in sources(scheme, section, live, others, ends.conductors) {
                let corner = Corner {
                    battery: sources.battery,
                    conductors: ends.conductors,
                    coils: ends.coils,
                    others: sources.others,
                };
                let solved = solver.solve(ends, &sources);
                found.add(section, &solver, solved, ends, corner);
            }
        }
        let most: f64 = section
            .feeds
            .iter()
            .filter(|feed| live.lives(feed.supply))
            .map(|feed| scheme.supplies[feed.supply].range.hi)
            .sum();
        found.widen_undeclared(section, &reach, most);
    }
    found.drives(section)
}

/// All corners of the supplies for one end of the conductors (and of the internal resistances).
fn sources(
    scheme: &Scheme,
    section: &Section,
    live: Supplies,
    others: &[f64],
    conductors: Heat,
) -> Vec<Sources> {
    let living = section.feeds.iter().filter(|feed| live.lives(feed.supply)).count();
    let mut all = Vec::new();
    for mix in 0..1_u32 << living {
        for draw in [Others::Off, Others::On] {
            let mut place = 0;
            let feeds = section.feeds.iter().zip(others).map(|(feed, &ampere)| {
                let supply = &scheme.supplies[feed.supply];
                live.lives(feed.supply).then(|| {
                    let high = mix >> place & 1 == 1;
                    place += 1;
                    let volt = if high { supply.range.hi } else { supply.range.lo };
                    let ohm = match conductors {
                        Heat::Cold => supply.resistance.lo,
                        Heat::Hot | Heat::Each => supply.resistance.hi,
                    };
                    (volt, ohm, if draw == Others::On { ampere } else { 0.0 })
                })
            });
            let feeds = feeds.collect();
            let battery = match (mix, (1 << living) - 1) {
                (0, _) => Battery::Low,
                (mix, every) if mix == every => Battery::High,
                _ => Battery::Mixed,
            };
            all.push(Sources { battery, others: draw, feeds });
        }
    }
    all
}

struct Solver<'a> {
    section: &'a Section,
    key: &'a Positions,
    /// For every edge: an undeclared load in series with something.
    in_series: Vec<bool>,
    conducts: Vec<bool>,
    work: Work,
    potentials: Potentials,
    /// The ends that `work` stands for.
    factored: Option<Ends>,
}

/// Whether an answer was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Solved {
    Yes,
    /// A short across ideal sources, or diodes that do not settle: no voltage can be named.
    No,
}

impl<'a> Solver<'a> {
    fn new(section: &'a Section, key: &'a Positions, reach: &Reach) -> Self {
        let in_series = section
            .edges
            .iter()
            .map(|edge| {
                let (a, b) = section.ends(edge);
                matches!(edge.kind, EdgeKind::Unknown { .. }) && !reach.is_straight(a, b)
            })
            .collect();
        let diodes =
            section.edges.iter().filter(|edge| matches!(edge.kind, EdgeKind::Diode(_))).count();
        Self {
            section,
            key,
            in_series,
            conducts: vec![true; diodes],
            work: Work::default(),
            potentials: Potentials::default(),
            factored: None,
        }
    }

    fn all_ends(&self) -> Vec<Ends> {
        let mut undeclared = vec![Undeclared::Open];
        if self.in_series.contains(&true) {
            undeclared.push(Undeclared::Least);
        }
        let mut all = Vec::new();
        for undeclared in undeclared {
            for conductors in [Heat::Cold, Heat::Hot] {
                for coils in [Heat::Cold, Heat::Hot] {
                    all.push(Ends { conductors, coils, undeclared });
                }
            }
        }
        all
    }

    fn factor(&mut self, ends: Ends) {
        let section = self.section;
        self.work.clear(&section.plan);
        let end = |heat: Heat, lo: f64, hi: f64| if heat == Heat::Cold { lo } else { hi };
        for (index, edge) in section.edges.iter().enumerate() {
            let Some(slot) = section.slots[index] else { continue };
            match edge.kind {
                EdgeKind::Switch(bit) if self.key.is_closed(bit) => self.work.close(slot),
                EdgeKind::Core { lo, hi } => {
                    self.work.add(slot, end(ends.conductors, lo, hi).recip());
                }
                EdgeKind::Load { lo, hi, .. } => {
                    self.work.add(slot, end(ends.coils, lo, hi).recip());
                }
                EdgeKind::Unknown { least, .. }
                    if self.in_series[index] && ends.undeclared == Undeclared::Least =>
                {
                    self.work.add(slot, least.recip());
                }
                EdgeKind::Diode(diode) => {
                    let conducts = self.conducts[diode];
                    let siemens = if conducts { DIODE_OHM.recip() } else { DIODE_LEAKS };
                    self.work.add(slot, siemens);
                }
                _ => {}
            }
        }
        self.work.eliminate(&section.plan);
        self.factored = Some(ends);
    }

    /// Solves one corner; diodes change, the first that does not fit, until all fit.
    fn solve(&mut self, ends: Ends, sources: &Sources) -> Solved {
        let diodes = self.conducts.len();
        for _ in 0..64 + 64 * diodes * diodes {
            let same = self.factored.is_some_and(|done| {
                done.conductors == ends.conductors
                    && done.coils == ends.coils
                    && done.undeclared == ends.undeclared
            });
            if !same {
                self.factor(ends);
            }
            if !self.hold_poles(sources) {
                return Solved::No;
            }
            self.work.spread(&self.section.plan, &mut self.potentials);
            let Some(wrong) = self.wrong_diode(sources) else { return Solved::Yes };
            self.conducts[wrong] = !self.conducts[wrong];
            self.factored = None;
        }
        Solved::No
    }

    fn wrong_diode(&self, sources: &Sources) -> Option<usize> {
        let scale: f64 = sources.feeds.iter().flatten().map(|(volt, ..)| volt).sum();
        self.section.edges.iter().find_map(|edge| {
            let EdgeKind::Diode(diode) = edge.kind else { return None };
            let (anode, cathode) = self.section.ends(edge);
            let forward = self.volts(anode, cathode)?;
            let wrong = if self.conducts[diode] {
                forward < -DIODE_KEEPS * scale * DIODE_OHM
            } else {
                forward > DIODE_KEEPS * scale
            };
            wrong.then_some(diode)
        })
    }

    /// Puts the poles at their potentials; false: a short leaves none.
    fn hold_poles(&mut self, sources: &Sources) -> bool {
        let section = self.section;
        self.potentials.reset(&section.plan);
        if let ([feed], [source]) = (&section.feeds[..], &sources.feeds[..]) {
            let Some((volt, ohm, ampere)) = *source else { return true };
            let (siemens, shorted) = self.work.left(section.plan.slot(feed.plus, feed.minus));
            let pole = if shorted {
                if ohm <= 0.0 {
                    return false;
                }
                0.0
            } else {
                ((volt - ohm * ampere) / (1.0 + ohm * siemens)).max(0.0)
            };
            self.potentials.hold(&section.plan, feed.plus, pole);
            self.potentials.hold(&section.plan, feed.minus, 0.0);
            return true;
        }
        self.hold_many(sources)
    }

    /// Several supplies: their poles and what is left between them form a small network.
    fn hold_many(&mut self, sources: &Sources) -> bool {
        let section = self.section;
        let place = |node: usize| section.poles.binary_search(&node).unwrap_or(0);
        let mut network = Network::new(section.poles.len());
        for (index, &a) in section.poles.iter().enumerate() {
            for &b in &section.poles[..index] {
                let (siemens, one) = self.work.left(section.plan.slot(a, b));
                if one {
                    network.switch(place(a), place(b), true);
                } else if siemens > 0.0 {
                    network.resistor(place(a), place(b), siemens.recip());
                }
            }
        }
        for (feed, source) in section.feeds.iter().zip(&sources.feeds) {
            if let Some((volt, ohm, ampere)) = *source {
                let (plus, minus) = (place(feed.plus), place(feed.minus));
                network.source(plus, minus, volt, ohm);
                network.add(crate::Branch::Current { from: plus, to: minus, ampere });
            }
        }
        let Ok(solution) = network.solve() else { return false };
        for (index, &node) in section.poles.iter().enumerate() {
            if let Some(volt) = solution.potential(index) {
                self.potentials.hold(&section.plan, node, volt);
            }
        }
        true
    }

    /// Voltage from `a` to `b`; none if either floats.
    fn volts(&self, a: usize, b: usize) -> Option<f64> {
        let plan = &self.section.plan;
        let volt = self.potentials.of(plan, a) - self.potentials.of(plan, b);
        (!volt.is_nan()).then_some(volt)
    }
}

/// Potentials of one corner, for telling which way current runs.
pub(super) struct Volts {
    by_node: Vec<f64>,
    /// Differences below this are rounding.
    pub(super) keeps: f64,
}

impl Volts {
    /// Potential of a solved node; NaN: floating.
    pub(super) fn at(&self, node: usize) -> f64 {
        self.by_node[node]
    }
}

/// Potentials with every living supply at its highest. None if nothing lives, or no voltage can be
/// named.
pub(super) fn potentials(
    scheme: &Scheme,
    section: &Section,
    key: &Positions,
    live: Supplies,
) -> Option<Volts> {
    let reach = Reach::new(section, key, live);
    let mut solver = Solver::new(section, key, &reach);
    let idle = vec![0.0; section.feeds.len()];
    let highest = sources(scheme, section, live, &idle, Heat::Hot).pop()?;
    let scale: f64 = highest.feeds.iter().flatten().map(|(volt, ..)| volt).sum();
    let ends = Ends { conductors: Heat::Hot, coils: Heat::Cold, undeclared: Undeclared::Least };
    if scale <= 0.0 || solver.solve(ends, &highest) == Solved::No {
        return None;
    }
    let by_node =
        (0..section.nodes).map(|node| solver.potentials.of(&section.plan, node)).collect();
    Some(Volts { by_node, keeps: NO_CURRENT * scale })
}

/// The intervals found so far.
struct Found {
    intervals: Vec<Interval>,
}

#[derive(Debug, Clone)]
struct Interval {
    lo: f64,
    hi: f64,
    sign: f64,
    corner_lo: Corner,
    corner_hi: Corner,
    straight: bool,
    method: Method,
    /// Without the undeclared loads in series: its ends float.
    floats: bool,
    seen: bool,
}

impl Found {
    fn new(section: &Section, reach: &Reach) -> Self {
        let corner = Corner {
            battery: Battery::Low,
            conductors: Heat::Hot,
            coils: Heat::Cold,
            others: Others::On,
        };
        let mut intervals = vec![
            Interval {
                lo: 0.0,
                hi: 0.0,
                sign: 0.0,
                corner_lo: corner,
                corner_hi: corner,
                straight: false,
                method: Method::Corners,
                floats: false,
                seen: false,
            };
            section.loads.len()
        ];
        for edge in &section.edges {
            if let Some(drive) = asked(edge.kind) {
                let (a, b) = section.ends(edge);
                intervals[drive].straight = reach.is_straight(a, b);
                if matches!(edge.kind, EdgeKind::Unknown { .. }) {
                    intervals[drive].method = Method::Undeclared;
                }
            }
        }
        Self { intervals }
    }

    fn add(
        &mut self,
        section: &Section,
        solver: &Solver<'_>,
        solved: Solved,
        ends: Ends,
        corner: Corner,
    ) {
        for edge in &section.edges {
            let Some(drive) = asked(edge.kind) else { continue };
            let (a, b) = section.ends(edge);
            let held = if solved == Solved::Yes { solver.volts(a, b) } else { None };
            let interval = &mut self.intervals[drive];
            if ends.undeclared == Undeclared::Open {
                interval.floats |= held.is_none();
            }
            interval.take(held.unwrap_or(0.0), ends, corner);
        }
    }

    fn widen_undeclared(&mut self, section: &Section, reach: &Reach, most: f64) {
        for edge in &section.edges {
            let EdgeKind::Unknown { drive, .. } = edge.kind else { continue };
            let (a, b) = section.ends(edge);
            if !reach.is_straight(a, b) {
                let interval = &mut self.intervals[drive];
                interval.lo = 0.0;
                if interval.floats && interval.hi > NO_CURRENT * section.nominal[drive] {
                    interval.hi = most;
                }
            }
        }
    }

    fn drives(self, section: &Section) -> Vec<Drive> {
        let loads = section.loads.iter().zip(&section.nominal);
        loads
            .zip(self.intervals)
            .map(|((&part, &nominal), interval)| {
                let connected = interval.hi > NO_CURRENT * nominal;
                Drive {
                    part,
                    volts_lo: if connected { interval.lo } else { 0.0 },
                    volts_hi: if connected { interval.hi } else { 0.0 },
                    connected,
                    straight: interval.straight && connected,
                    nominal,
                    corner_lo: interval.corner_lo,
                    corner_hi: interval.corner_hi,
                    method: interval.method,
                }
            })
            .collect()
    }
}

impl Interval {
    fn take(&mut self, volt: f64, ends: Ends, corner: Corner) {
        let size = volt.abs();
        // A voltage that changes its direction passes through 0.
        if self.seen && self.sign * volt < 0.0 {
            self.lo = 0.0;
        }
        if volt != 0.0 {
            self.sign = volt;
        }
        if !self.seen || size < self.lo {
            (self.lo, self.corner_lo) = (size, corner);
            if self.seen && ends.undeclared == Undeclared::Least {
                self.method = Method::Undeclared;
            }
        }
        if !self.seen || size > self.hi {
            (self.hi, self.corner_hi) = (size, corner);
            if self.seen && ends.undeclared == Undeclared::Least {
                self.method = Method::Undeclared;
            }
        }
        self.seen = true;
    }
}

fn asked(kind: EdgeKind) -> Option<usize> {
    match kind {
        EdgeKind::Load { drive, .. } => drive,
        EdgeKind::Unknown { drive, .. } => Some(drive),
        _ => None,
    }
}

/// The most a section can draw from each of its supplies, A: every switch closed and everything
/// cold (closing a switch or lowering a resistance never lowers the conductance between two poles).
/// Where that shorts the supply, and where several supplies meet, each load at full voltage
/// instead. Loads without a declared resistance count as opto inputs do, others are left out.
pub(super) fn most_drawn(scheme: &Scheme, section: &Section) -> Vec<(SupplyId, f64)> {
    let full: f64 = section.feeds.iter().map(|feed| scheme.supplies[feed.supply].range.hi).sum();
    let each_alone: f64 = section
        .edges
        .iter()
        .map(|edge| match edge.kind {
            EdgeKind::Load { lo, .. } => full / lo,
            EdgeKind::Unknown { least, .. } if least > 1.0 => full / least,
            _ => 0.0,
        })
        .sum();
    let [feed] = &section.feeds[..] else {
        return section.feeds.iter().map(|feed| (feed.supply, each_alone)).collect();
    };
    let mut work = Work::default();
    work.clear(&section.plan);
    for (edge, slot) in section.edges.iter().zip(&section.slots) {
        let Some(slot) = *slot else { continue };
        match edge.kind {
            EdgeKind::Switch(_) => work.close(slot),
            EdgeKind::Core { lo, .. } | EdgeKind::Load { lo, .. } => work.add(slot, lo.recip()),
            EdgeKind::Unknown { least, .. } if least > 1.0 => work.add(slot, least.recip()),
            EdgeKind::Diode(_) => work.add(slot, DIODE_OHM.recip()),
            _ => {}
        }
    }
    work.eliminate(&section.plan);
    let (siemens, shorted) = work.left(section.plan.slot(feed.plus, feed.minus));
    let ampere = if shorted { each_alone } else { (full * siemens).min(each_alone) };
    vec![(feed.supply, ampere)]
}
