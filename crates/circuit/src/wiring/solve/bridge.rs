//! The extremes of a voltage in a bridge, where current may run either way.
//!
//! **In:** a linear section on one supply, a load. **Out:** bounds that no choice of resistances
//! leaves, and that one comes close to. **Never here:** curves, several supplies.
//!
//! In a bridge the direction in which a resistance moves a voltage depends on the others, so that
//! a descent may stop at a corner that is not the worst. But the voltage is monotone in each single
//! resistance while the others stand still, so each may be fixed at one end where its direction is
//! certain for all values of the others; where it is not, both ends are followed.
//!
//! What makes a direction certain: at the middle of all conductances `g` let `y = √g v` be the scaled
//! voltages, and let every conductance be free within `1 ± ε` of it. Then the scaled voltages move by
//! `z = −P ε (y + z)`, where `P` is the orthogonal projector with the entries `√(g_j g_k) λ_j(k)` (`λ(k)`
//! the voltages under 1 A driven through branch k). As `|P| ≤ 1`, `‖z‖ ≤ ‖ε y‖ / (1 − max ε)`, and
//! row by row `|z_k| ≤ Σ |P_kj| ε_j |y_j| + √P_kk max ε ‖z‖`. The same holds for the voltages under 1 A
//! through the load. A conductance moves the voltage by minus the product of its two voltages.

use super::single::{Rail, Side};
use super::stamped::Stamped;
use crate::wiring::compile::Feed;

/// How many boxes are looked at.
const MOST_BOXES: usize = 192;
/// A bound this close to a voltage that occurs is close enough, part of the supply's highest.
const CLOSE: f64 = 1e-3;

/// A load in a bridge on one supply.
pub(super) struct Bridge<'a> {
    pub(super) feed: &'a Feed,
    pub(super) rail: &'a Rail,
    pub(super) a: usize,
    pub(super) b: usize,
}

/// What one box of conductances came to.
struct Look {
    /// The voltage at its middle, V.
    middle: f64,
    /// How far it can be off anywhere in the box, V.
    off: f64,
    /// Parts whose direction is certain, with the sign of voltage over conductance.
    certain: Vec<(usize, f64)>,
    /// The part to follow to both its ends.
    split: Option<usize>,
}

impl Bridge<'_> {
    /// Least and greatest size of the voltage; `known` are voltages that occur, with their sign.
    /// None: a box has no bound.
    pub(super) fn bounds(
        &self,
        stamped: &mut Stamped<'_>,
        known: (f64, f64),
    ) -> Option<(f64, f64)> {
        let Some(free) = self.matters(stamped)? else { return Some((0.0, 0.0)) };
        let sign = if known.1 < 0.0 { -1.0 } else { 1.0 };
        let least = self.extreme(stamped, &free, Side::Low, (-sign, known.0))?;
        let most = self.extreme(stamped, &free, Side::High, (sign, known.1))?;
        if least * sign > 0.0 {
            return Some((least.abs(), most.abs()));
        }
        // From a voltage that occurs: `least` is a bound, and a second one would be laid upon it.
        let other = self.extreme(stamped, &free, Side::High, (-sign, known.0))?;
        Some((0.0, most.abs().max(other.abs())))
    }

    /// All parts free but for those that the wiring keeps from having any effect (which stand at
    /// their cold end). None inside: the wiring lets no current run through the load at all. With
    /// values of which no two are alike, what has no effect there has none with any.
    fn matters(&self, stamped: &mut Stamped<'_>) -> Option<Option<Vec<Option<bool>>>> {
        let section = stamped.section;
        let values: Vec<f64> = (0..section.ranged.len())
            .scan(1.0, |value: &mut f64, _| {
                *value = (*value * 1.618).fract() + 0.5;
                Some(*value)
            })
            .collect();
        stamped.factor_at(&values);
        let poles = (self.feed.plus, self.feed.minus);
        stamped.unit_potentials(self.feed)?;
        let nothing = 1e-9;
        if stamped.volts(self.a, self.b).unwrap_or(0.0).abs() < nothing {
            return Some(None);
        }
        let adjoint = stamped.work.adjoint(&section.plan, (self.a, self.b), poles, 1.0);
        let free = section.ranged.iter().map(|ranged| {
            let (p, q) = section.ends(&section.edges[ranged.edge]);
            let across = stamped.volts(p, q).unwrap_or(0.0);
            let under = adjoint.of(&section.plan, p) - adjoint.of(&section.plan, q);
            (across.abs() < nothing || under.abs() < nothing).then_some(false)
        });
        Some(Some(free.collect()))
    }

    /// The furthest that the voltage goes upwards (`way` 1) or downwards (−1) on a side of the
    /// supply, V.
    fn extreme(
        &self,
        stamped: &mut Stamped<'_>,
        free: &[Option<bool>],
        side: Side,
        (way, known): (f64, f64),
    ) -> Option<f64> {
        let close = CLOSE * self.rail.highest();
        let mut reached = known * way;
        let mut bound = reached;
        let mut boxes: Vec<Vec<Option<bool>>> = vec![free.to_vec()];
        let mut looks = 0;
        while let Some(mut free) = boxes.pop() {
            loop {
                looks += 1;
                let look = self.look(stamped, side, &free)?;
                let fixed = look.certain.iter().fold(false, |_, &(part, slope)| {
                    // Most conductance where more of it moves the voltage that way.
                    free[part] = Some(slope * way < 0.0);
                    true
                });
                if look.split.is_none() && !fixed {
                    reached = reached.max(look.middle * way);
                    break;
                }
                let most = look.middle * way + look.off;
                if most <= reached + close || looks >= MOST_BOXES {
                    bound = bound.max(most);
                    break;
                }
                if let (Some(split), false) = (look.split, fixed) {
                    let mut other = free.clone();
                    (free[split], other[split]) = (Some(false), Some(true));
                    boxes.push(other);
                }
            }
        }
        Some(bound.max(reached) * way)
    }

    /// Looks at a box: parts at an end (hot: true), and free ones.
    fn look(&self, stamped: &mut Stamped<'_>, side: Side, free: &[Option<bool>]) -> Option<Look> {
        let section = stamped.section;
        let plan = &section.plan;
        let mut siemens = Vec::with_capacity(free.len());
        let mut epsilon = Vec::with_capacity(free.len());
        for (ranged, end) in section.ranged.iter().zip(free) {
            let (cold, hot) = (ranged.cold, ranged.hot);
            siemens.push(match end {
                Some(true) => hot,
                Some(false) => cold,
                None => f64::midpoint(cold, hot),
            });
            epsilon.push(if end.is_none() { (cold - hot) / (cold + hot) } else { 0.0 });
        }
        stamped.factor_at(&siemens);
        let pole = self.rail.over_unit(stamped.unit_potentials(self.feed)?, side);
        let ohm = self.rail.internal(side);
        let poles = (self.feed.plus, self.feed.minus);
        let ends: Vec<(usize, usize)> =
            section.ranged.iter().map(|ranged| section.ends(&section.edges[ranged.edge])).collect();
        let scaled = |volt: f64, part: usize| volt * siemens[part].sqrt();
        let volts: Vec<f64> = ends
            .iter()
            .enumerate()
            .map(|(part, &(p, q))| scaled(stamped.volts(p, q).unwrap_or(0.0) * pole, part))
            .collect();
        let row = |stamped: &Stamped<'_>, through: (usize, usize)| -> Vec<f64> {
            let adjoint = stamped.work.adjoint(plan, through, poles, ohm);
            let across = |&(p, q): &(usize, usize)| adjoint.of(plan, p) - adjoint.of(plan, q);
            ends.iter().enumerate().map(|(part, at)| scaled(across(at), part)).collect()
        };
        let under = row(stamped, (self.a, self.b));
        let (volts_off, under_off) = (Off::new(&volts, &epsilon), Off::new(&under, &epsilon));
        let middle = stamped.volts(self.a, self.b).unwrap_or(0.0) * pole;
        let adjoint = stamped.work.adjoint(plan, (self.a, self.b), poles, ohm);
        let seen = (adjoint.of(plan, self.a) - adjoint.of(plan, self.b)).max(0.0);
        let off = volts_off.of(&under, seen.sqrt());
        let mut look = Look { middle, off, certain: Vec::new(), split: None };
        let mut most = 0.0;
        for part in (0..free.len()).filter(|&part| epsilon[part] > 0.0) {
            let mut projector = row(stamped, ends[part]);
            projector.iter_mut().for_each(|entry| *entry *= siemens[part].sqrt());
            let own = projector[part].clamp(0.0, 1.0).sqrt();
            let (v, v_off) = (volts[part], volts_off.of(&projector, own));
            let (u, u_off) = (under[part], under_off.of(&projector, own));
            if v.abs() > v_off && u.abs() > u_off {
                look.certain.push((part, -v * u));
                continue;
            }
            let weight = epsilon[part] * (v.abs() + v_off) * (u.abs() + u_off);
            if weight > most {
                (most, look.split) = (weight, Some(part));
            }
        }
        Some(look)
    }
}

/// How far scaled voltages can move while conductances are free within 1 ± ε.
struct Off {
    /// ε |y|.
    pushes: Vec<f64>,
    /// max ε ‖z‖.
    rest: f64,
}

impl Off {
    fn new(scaled: &[f64], epsilon: &[f64]) -> Self {
        let pushes: Vec<f64> = scaled.iter().zip(epsilon).map(|(y, e)| e * y.abs()).collect();
        let greatest = epsilon.iter().copied().fold(0.0, f64::max);
        let norm = pushes.iter().map(|push| push * push).sum::<f64>().sqrt();
        Self { pushes, rest: greatest * norm / (1.0 - greatest) }
    }
    /// Of a row of the projector, with the root of its own entry.
    fn of(&self, row: &[f64], own: f64) -> f64 {
        let first: f64 = row.iter().zip(&self.pushes).map(|(entry, push)| entry.abs() * push).sum();
        // What rounding may hide.
        (first + own * self.rest) * (1.0 + 1e-9) + 1e-12
    }
}
