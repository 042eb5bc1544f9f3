//! Where idle coils rest: on negative, or on plus.
//!
//! **In:** the islands at rest. **Out:** for every idle coil the potential it rests at, and a finding
//! for each that rests at plus.
//! **Never here:** driven coils.
//!
//! A coil held at plus draws moisture's current out of its fine wire and corrodes, and a ground on
//! its switched wire drives it; so contacts switch the positive side and coils rest on negative
//! (common practice; owners' rules may differ).

use super::Plant;
use crate::Study;
use crate::burdens::driven_in_series;
use fiftytwo_scheme::{CurrentKind, Finding, PartId, PartKind, Severity};
use serde::Serialize;
use std::collections::BTreeMap;

/// An idle coil has less than this share of its supply's voltage across it.
const IDLE: f64 = 0.05;
/// It rests at plus from this share of its supply's voltage on.
const AT_PLUS: f64 = 0.5;

/// Where one coil rests.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestingCoil {
    /// The coil.
    pub coil: String,
    /// Its upper and its lower end above the minus pole, V, at the position where they lie highest.
    pub ends: [f64; 2],
    /// The supply's voltage there, V.
    pub supply: f64,
    /// It rests at plus in these rest positions.
    pub at_plus: Vec<String>,
}

/// Looks at every idle coil in every position.
pub(super) fn resting(study: &Study<'_, '_>, plants: &[Plant]) -> (Vec<RestingCoil>, Vec<Finding>) {
    let scheme = study.scheme();
    let mut coils: BTreeMap<PartId, RestingCoil> = BTreeMap::new();
    for plant in plants.iter().filter(|plant| plant.high && plant.hot && plant.middle) {
        for island in &plant.islands {
            let Ok(state) = island.field.with(&[]) else { continue };
            for &id in &island.parts {
                let part = &scheme.parts[id];
                let (PartKind::Coil(_), Some(at)) = (&part.kind, part.at) else { continue };
                let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
                if supply.current != CurrentKind::Dc {
                    continue;
                }
                let above = |node| {
                    let index = fiftytwo_scheme::arena::Id::index(node);
                    let minus = fiftytwo_scheme::arena::Id::index(supply.minus);
                    state.between(index, minus)
                };
                let (Some(upper), Some(lower), Some(volts)) =
                    (above(at.from), above(at.to), above(supply.plus))
                else {
                    continue;
                };
                let rest = &study.rest[plant.position];
                if (upper - lower).abs() > IDLE * volts
                    || driven_in_series(&study.machine.wiring, id, |part| rest.is_closed(part))
                {
                    continue;
                }
                let coil = coils.entry(id).or_insert_with(|| RestingCoil {
                    coil: part.name.clone(),
                    ends: [upper, lower],
                    supply: volts,
                    at_plus: Vec::new(),
                });
                if upper.min(lower) > coil.ends[0].min(coil.ends[1]) {
                    (coil.ends, coil.supply) = ([upper, lower], volts);
                }
                if upper.min(lower) >= AT_PLUS * volts {
                    coil.at_plus.push(study.rest[plant.position].name.clone());
                }
            }
        }
    }
    let findings = coils
        .iter()
        .filter(|(_, coil)| !coil.at_plus.is_empty())
        .filter_map(|(id, coil)| finding(study, *id, coil));
    let findings = findings.collect();
    (coils.into_values().collect(), findings)
}

fn finding(study: &Study<'_, '_>, id: PartId, coil: &RestingCoil) -> Option<Finding> {
    let part = &study.scheme().parts[id];
    let at = part.at?;
    let most = coil.ends[0].min(coil.ends[1]);
    Some(
        Finding::new(
            "coil-rests-at-plus",
            Severity::Finding,
            format!("{} rests idle at {most:.0} V above minus, of {:.0} V", coil.coil, coil.supply),
        )
        .why(format!(
            "with {}: its way to plus stands while its way to minus is open. A coil that rests at \
             plus corrodes at damp insulation, and a ground below it drives it",
            super::figures::list(&coil.at_plus)
        ))
        .help("put the contacts between plus and the coil, and the coil at the negative rail")
        .at(at.span, format!("rests at {most:.0} V"))
        .device(&coil.coil),
    )
}
