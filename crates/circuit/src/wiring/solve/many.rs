//! A section where several supplies meet: their poles and what is left between them form a small
//! network of its own.

use super::found::Found;
use super::stamped::Stamped;
use super::{Ends, Undeclared};
use crate::corner::{Battery, Corner, Heat, Others};
use crate::network::{Branch, Network};
use crate::positions::Supplies;
use crate::wiring::compile::Section;
use fiftytwo_scheme::Scheme;

/// The supplies at one corner.
pub(super) struct Sources {
    pub(super) battery: Battery,
    pub(super) others: Others,
    /// For each feed: open-circuit voltage, internal resistance, current of others (none: dead).
    pub(super) feeds: Vec<Option<(f64, f64, f64)>>,
}

impl Sources {
    /// The greatest voltage there can be.
    pub(super) fn scale(&self) -> f64 {
        self.feeds.iter().flatten().map(|(volt, ..)| volt).sum()
    }
}

/// All corners of the supplies for one end of the conductors (and of the internal resistances).
pub(super) fn sources(
    scheme: &Scheme,
    section: &Section,
    live: Supplies,
    others: &[f64],
    conductors: Heat,
) -> Vec<Sources> {
    let living = section.feeds.iter().filter(|feed| live.lives(feed.supply)).count();
    let mut all = Vec::new();
    for mix in 0..1_u32 << living {
        for draw in [Others::On, Others::Off] {
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

pub(super) fn solve(
    scheme: &Scheme,
    stamped: &mut Stamped<'_>,
    live: Supplies,
    others: &[f64],
    found: &mut Found,
) {
    let section = stamped.section;
    let mut hot = Vec::new();
    for ends in Ends::all(stamped.has_undeclared()) {
        ends.hot(section, &mut hot);
        for sources in sources(scheme, section, live, others, ends.conductors) {
            let corner = Corner {
                battery: sources.battery,
                conductors: ends.conductors,
                coils: ends.coils,
                others: sources.others,
            };
            let solved = solve_corner(stamped, &hot, ends.undeclared, &sources);
            for (edge, drive) in section.asked() {
                let (a, b) = section.ends(edge);
                let held = if solved { stamped.volts(a, b) } else { None };
                let interval = found.of(drive);
                interval.is_sampled();
                if ends.undeclared == Undeclared::Open && held.is_none() {
                    interval.floats = true;
                }
                interval.take(held.unwrap_or(0.0), ends, corner);
            }
        }
    }
}

/// Solves one corner; false if a short leaves no voltage.
pub(super) fn solve_corner(
    stamped: &mut Stamped<'_>,
    hot: &[bool],
    undeclared: Undeclared,
    sources: &Sources,
) -> bool {
    stamped.factor(hot, undeclared);
    if !hold_poles(stamped, sources) {
        return false;
    }
    let plan = &stamped.section.plan;
    stamped.work.spread(plan, &mut stamped.potentials);
    true
}

fn hold_poles(stamped: &mut Stamped<'_>, sources: &Sources) -> bool {
    let section = stamped.section;
    let place = |node: usize| section.poles.binary_search(&node).unwrap_or(0);
    let mut network = Network::new(section.poles.len());
    for (index, &a) in section.poles.iter().enumerate() {
        for &b in &section.poles[..index] {
            let (siemens, one) = stamped.work.left(section.plan.slot(a, b));
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
            network.add(Branch::Current { from: plus, to: minus, ampere });
        }
    }
    let Ok(solution) = network.solve() else { return false };
    stamped.potentials.reset(&section.plan);
    for (index, &node) in section.poles.iter().enumerate() {
        if let Some(volt) = solution.potential(index) {
            stamped.potentials.hold(&section.plan, node, volt);
        }
    }
    true
}
