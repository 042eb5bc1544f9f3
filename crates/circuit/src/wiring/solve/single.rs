//! A section on one supply: everything is in proportion to the voltage at its poles.
//!
//! For one supply of E volts behind R ohm, with I ampere drawn by others and a section of
//! conductance G, the voltage at the poles is `(E - R I) / (1 + R G)`; a load has a fixed share of
//! it. Both are found by one elimination at 1 V.
//!
//! Each share is monotone in every single resistance while the others stand still (a ratio of two
//! functions linear in it), so its extremes lie where every resistance is at one of its ends. The
//! named corners move all conductors together and all loads together; from the worst of them every
//! resistance is then moved on its own to the end that its sensitivity asks for (one adjoint
//! solve), until none asks any more.

use super::bridge::Bridge;
use super::found::Found;
use super::stamped::Stamped;
use super::{Ends, NO_CURRENT, Undeclared};
use crate::corner::{Battery, Corner, Others};
use crate::wiring::compile::Feed;
use fiftytwo_scheme::Supply;

/// A change of less than this part is no worse corner.
const SAME: f64 = 1e-12;
/// How often resistances are moved anew.
const MOST_MOVES: usize = 16;

/// The supply with what the other sections draw.
pub(super) struct Rail {
    volt: (f64, f64),
    ohm: (f64, f64),
    ampere: f64,
}

impl Rail {
    pub(super) fn new(supply: &Supply, ampere: f64) -> Self {
        Self {
            volt: (supply.range.lo, supply.range.hi),
            ohm: (supply.resistance.lo, supply.resistance.hi),
            ampere,
        }
    }
    /// Lowest voltage at the poles: supply low, others on.
    fn low(&self, siemens: f64) -> f64 {
        let ohm = self.ohm.1;
        ((self.volt.0 - ohm * self.ampere) / (1.0 + ohm * siemens)).max(0.0)
    }
    /// The voltage at the poles of a section of so much conductance, at its worst for a side.
    pub(super) fn over_unit(&self, siemens: f64, side: Side) -> f64 {
        if side == Side::Low { self.low(siemens) } else { self.high(siemens) }
    }
    /// The highest voltage of the supply, V.
    pub(super) fn highest(&self) -> f64 {
        self.volt.1
    }
    /// The internal resistance that goes with it, ohm.
    pub(super) fn internal(&self, side: Side) -> f64 {
        if side == Side::Low { self.ohm.1 } else { self.ohm.0 }
    }
    /// Highest voltage at the poles: supply high, others off.
    fn high(&self, siemens: f64) -> f64 {
        self.volt.1 / (1.0 + self.ohm.0 * siemens)
    }
}

pub(super) fn solve(stamped: &mut Stamped<'_>, feed: &Feed, rail: &Rail, found: &mut Found) {
    let section = stamped.section;
    let mut hot = Vec::new();
    for ends in Ends::all(stamped.has_undeclared()) {
        ends.hot(section, &mut hot);
        let siemens = unit(stamped, feed, &hot, ends.undeclared);
        let corner = |battery, others| Corner {
            battery,
            conductors: ends.conductors,
            coils: ends.coils,
            others,
        };
        let (low, high) = (corner(Battery::Low, Others::On), corner(Battery::High, Others::Off));
        for (edge, drive) in section.asked() {
            let (a, b) = section.ends(edge);
            let share = siemens.and_then(|_| stamped.volts(a, b));
            let siemens = siemens.unwrap_or(0.0);
            let interval = found.of(drive);
            if ends.undeclared == Undeclared::Open && share.is_none() {
                interval.floats = true;
            }
            let share = share.unwrap_or(0.0);
            interval.take(share * rail.low(siemens), ends, low);
            interval.take(share * rail.high(siemens), ends, high);
        }
    }
    for (edge, drive) in section.asked() {
        let (a, b) = section.ends(edge);
        let nominal = section.nominal[drive];
        let interval = found.of(drive);
        if !interval.is_declared() {
            continue;
        }
        // A bridge may be in balance at every named corner.
        let poles = (feed.plus, feed.minus);
        let bridge = !interval.is_straight() && stamped.is_bridge(edge, poles);
        if bridge || interval.hi > NO_CURRENT * nominal {
            for side in [Side::Low, Side::High] {
                let ends = if side == Side::Low { interval.ends_lo } else { interval.ends_hi };
                let descent = Descent { feed, rail, side, a, b };
                // Behind other loads it may hang in a bridge, where a sensitivity can change its
                // sign: from every named corner then.
                let starts = if interval.is_straight() { vec![ends] } else { Ends::all(false) };
                for start in starts {
                    let worst = descent.run(stamped, start, &mut hot);
                    match side {
                        Side::Low => interval.lower_to(worst),
                        Side::High => interval.raise_to(worst),
                    }
                }
            }
            if bridge {
                let (low, high) = if stamped.has_undeclared() {
                    (0.0, interval.hi)
                } else {
                    let known = interval.signed();
                    let bounds = Bridge { feed, rail, a, b }.bounds(stamped, known);
                    bounds.unwrap_or((0.0, interval.hi))
                };
                interval.lower_to(low);
                interval.raise_to(high);
            }
        }
    }
}

/// Solves at 1 V between the poles and returns the section's conductance; none if it is shorted.
fn unit(
    stamped: &mut Stamped<'_>,
    feed: &Feed,
    hot: &[bool],
    undeclared: Undeclared,
) -> Option<f64> {
    stamped.factor(hot, undeclared);
    stamped.unit_potentials(feed)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Low,
    High,
}

/// Moves resistances one by one towards the worst voltage from `a` to `b`.
struct Descent<'a> {
    feed: &'a Feed,
    rail: &'a Rail,
    side: Side,
    a: usize,
    b: usize,
}

impl Descent<'_> {
    /// The worst voltage found, without its direction.
    fn run(&self, stamped: &mut Stamped<'_>, ends: Ends, hot: &mut Vec<bool>) -> f64 {
        ends.hot(stamped.section, hot);
        let mut worst = self.volt(stamped, hot, ends.undeclared);
        for _ in 0..MOST_MOVES {
            let asks = self.asks(stamped, hot, worst);
            if asks.is_empty() {
                break;
            }
            asks.iter().for_each(|&(edge, _)| hot[edge] = !hot[edge]);
            let moved = self.volt(stamped, hot, ends.undeclared);
            if self.is_worse(moved, worst) {
                worst = moved;
                continue;
            }
            // Together they undo each other: only the strongest then.
            asks.iter().for_each(|&(edge, _)| hot[edge] = !hot[edge]);
            let strongest = asks.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|ask| ask.0);
            let Some(strongest) = strongest else { break };
            hot[strongest] = !hot[strongest];
            let moved = self.volt(stamped, hot, ends.undeclared);
            if !self.is_worse(moved, worst) {
                break;
            }
            worst = moved;
        }
        worst.abs()
    }

    fn volt(&self, stamped: &mut Stamped<'_>, hot: &[bool], undeclared: Undeclared) -> f64 {
        unit(stamped, self.feed, hot, undeclared).map_or(0.0, |siemens| {
            let pole = match self.side {
                Side::Low => self.rail.low(siemens),
                Side::High => self.rail.high(siemens),
            };
            stamped.volts(self.a, self.b).unwrap_or(0.0) * pole
        })
    }

    fn is_worse(&self, moved: f64, than: f64) -> bool {
        // A voltage that changed its direction has passed through 0.
        match self.side {
            Side::Low => moved * than.signum() < than.abs() * (1.0 - SAME),
            Side::High => moved.abs() > than.abs() * (1.0 + SAME),
        }
    }

    /// The edges that stand at the wrong end, each with how much moving it promises.
    fn asks(&self, stamped: &Stamped<'_>, hot: &[bool], volt: f64) -> Vec<(usize, f64)> {
        let section = stamped.section;
        let ohm = if self.side == Side::Low { self.rail.ohm.1 } else { self.rail.ohm.0 };
        let poles = (self.feed.plus, self.feed.minus);
        let adjoint = stamped.work.adjoint(&section.plan, (self.a, self.b), poles, ohm);
        let mut asks = Vec::new();
        for ranged in section.ranged.iter().filter(|ranged| ranged.cold > ranged.hot) {
            let (p, q) = section.ends(&section.edges[ranged.edge]);
            let Some(across) = stamped.volts(p, q) else { continue };
            let (at_p, at_q) = (adjoint.of(&section.plan, p), adjoint.of(&section.plan, q));
            // d volt / d conductance, up to the positive voltage at the poles.
            let slope = -across * (at_p - at_q) * volt.signum();
            let gain = slope * (ranged.cold - ranged.hot);
            let wants_hot = (gain > 0.0) == (self.side == Side::Low);
            if gain.abs() > SAME && wants_hot != hot[ranged.edge] {
                asks.push((ranged.edge, gain.abs()));
            }
        }
        asks
    }
}
