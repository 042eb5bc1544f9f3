//! A supply with a pole on ground: one ground on the other pole is a short.
//!
//! **In:** a study. **Out:** a finding for each grounded direct-current supply: the current through the
//! fuse that a single ground blows, and what goes dead. **Never here:** floating supplies.
//!
//! Supply high, everything cold, a ground of 1 mohm and fuses of 1 mohm (as for pairs of grounds).

use super::field::Added;
use super::island::islands;
use crate::Study;
use crate::figures::{digits, listed};
use crate::meter::wire_name;
use fiftytwo_circuit::bench::Ends;
use fiftytwo_scheme::{
    CurrentKind, DeviceKind, Finding, NodeId, PartId, PartKind, Severity, SupplyId,
};

/// The resistance of the ground, and of a fuse while its current is looked for, ohm.
const JOINT: f64 = 1e-3;

/// What one ground blows.
struct Blown {
    fuse: PartId,
    amps: f64,
    wire: NodeId,
}

/// One finding for each grounded supply on which a single ground blows a fuse or shorts it past all.
pub(super) fn shorts(study: &Study<'_, '_>) -> Vec<Finding> {
    let scheme = study.scheme();
    let grounded =
        scheme.supplies.iter().filter(|(_, it)| it.current == CurrentKind::Dc && it.grounded);
    let mut findings = Vec::new();
    for (id, supply) in grounded {
        let (blown, past) = of(study, id);
        let mut worst: Vec<Blown> = Vec::new();
        for one in blown {
            match worst.iter_mut().find(|known| known.fuse == one.fuse) {
                Some(known) if one.amps > known.amps => *known = one,
                Some(_) => {}
                None => worst.push(one),
            }
        }
        let name = &supply.name;
        let mut told: Vec<String> = worst
            .iter()
            .map(|one| {
                let fuse = &scheme.parts[one.fuse].name;
                let dead = coils_behind(study, one.fuse);
                let dead = match dead.is_empty() {
                    true => String::new(),
                    false => format!(" and takes {} away", listed(&dead)),
                };
                format!(
                    "on {} {} A flow through {fuse}, which opens{dead}",
                    wire_name(scheme, one.wire),
                    digits(one.amps, 3)
                )
            })
            .collect();
        if let Some((wire, amps)) = past {
            told.push(format!(
                "on {} {} A flow past every fuse",
                wire_name(scheme, wire),
                digits(amps, 3)
            ));
        }
        let Some(first) = told.first() else { continue };
        let more = match told.len() - 1 {
            0 => String::new(),
            more => format!(" (and {more} more)"),
        };
        let mut finding = Finding::new(
            "ground-shorts-supply",
            Severity::Finding,
            format!("{name} is grounded, so one solid ground is a short: {first}{more}"),
        )
        .why(format!(
            "a supply that floats lives through one ground, and its detector tells of it; here: {}",
            told.join("; ")
        ))
        .help(
            "leave grounded=\"yes\" out if it floats; a grounded supply has to live with 0 grounds",
        )
        .at(supply.span, "grounded")
        .device(name);
        finding.devices.extend(worst.iter().map(|one| scheme.parts[one.fuse].name.clone()));
        findings.push(finding);
    }
    findings
}

/// The fuses that a single ground blows, and the most current past every fuse.
fn of(study: &Study<'_, '_>, supply: SupplyId) -> (Vec<Blown>, Option<(NodeId, f64)>) {
    let scheme = study.scheme();
    let (mut blown, mut past): (Vec<Blown>, Option<(NodeId, f64)>) = (Vec::new(), None);
    let fuses: Vec<(PartId, f64)> = scheme
        .placed()
        .filter_map(|(id, part)| match &part.kind {
            PartKind::Fuse { rating, .. } => Some((id, rating.hi)),
            _ => None,
        })
        .collect();
    let largest = fuses.iter().map(|(_, rating)| *rating).fold(1.0, f64::max);
    for rest in study.rest.iter().filter(|rest| rest.rests && rest.is_healthy()) {
        let setup = rest.setup(&study.bench).at(Ends::MOST);
        let Ok(islands) = islands(&study.bench, &setup, &[], &[supply], Some(JOINT)) else {
            continue;
        };
        for island in &islands {
            for point in &island.points {
                let Some(&node) = point.first() else { continue };
                let ground = Added { ohm: JOINT, ..island.grounded(node, 0.0) };
                let Ok(state) = island.field.with(&[ground]) else { continue };
                let amps = state.amps(0).abs();
                let mut through = false;
                for &(fuse, rating) in fuses.iter().filter(|it| island.parts.contains(&it.0)) {
                    let volts = island.across(&study.bench, fuse, &state).unwrap_or(0.0);
                    let amps = volts.abs() / JOINT;
                    if amps > rating {
                        through = true;
                        blown.push(Blown { fuse, amps, wire: node });
                    }
                }
                if !through && amps > largest && past.is_none_or(|(_, known)| amps > known) {
                    past = Some((node, amps));
                }
            }
        }
    }
    (blown, past)
}

/// Coils of breakers and lockouts all of whose ways lead through a fuse.
fn coils_behind(study: &Study<'_, '_>, fuse: PartId) -> Vec<String> {
    let scheme = study.scheme();
    let of = scheme.coils().filter(|(id, part, _)| {
        let kind = part.device.map(|device| &scheme.devices[device].kind);
        let ways = &study.machine.wiring.ways(*id).list;
        kind.is_some_and(DeviceKind::is_breaker_or_lockout)
            && !ways.is_empty()
            && ways.iter().all(|way| way.parts.contains(&fuse))
    });
    of.map(|(_, part, _)| part.name.clone()).collect()
}
