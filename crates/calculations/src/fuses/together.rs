//! What a single fuse takes away together with a trip coil: the other trip coil of its breaker, a motor or
//! a heater.
//!
//! **In:** what each fuse takes away. **Out:** one finding for each breaker whose trip coils hang on one
//! fuse, and for each motor or heater whose short takes tripping away; a note where a close coil does.
//! **Never here:** batteries, cables, terminals in common.
//!
//! Two trip coils are there so that one fault leaves one of them: circuits of their own from fuses
//! of their own (common practice; specifications of breakers, from memory).

use super::FuseReport;
use crate::figures::{digits, listed};
use fiftytwo_scheme::{DeviceKind, Finding, Part, PartKind, Scheme, Severity};

/// A finding for each breaker whose trip coils hang on one fuse.
pub(super) fn trips(scheme: &Scheme, fuses: &[FuseReport]) -> Vec<Finding> {
    let breakers =
        scheme.devices.values().filter(|device| matches!(device.kind, DeviceKind::Breaker { .. }));
    let of_breaker = breakers.filter_map(|device| {
        let parts = device.parts.iter().map(|part| &scheme.parts[*part]);
        let trips: Vec<&Part> = parts.filter(|part| is_placed_trip(part)).collect();
        let names: Vec<String> = trips.iter().map(|part| part.name.clone()).collect();
        let lost = |fuse: &&FuseReport| {
            names.iter().filter(|name| fuse.takes_away.contains(name)).count() > 1
        };
        let shared: Vec<&FuseReport> = fuses.iter().filter(lost).collect();
        let first = shared.first()?;
        let shared_names: Vec<String> = shared.iter().map(|fuse| fuse.fuse.clone()).collect();
        let (coils, last) = (listed(&names), names.last()?);
        let which = if shared.len() == 1 {
            format!("{} alone takes", first.fuse)
        } else {
            format!("each of {} takes", listed(&shared_names))
        };
        let mut finding = Finding::new(
            "trips-on-one-fuse",
            Severity::Finding,
            format!("{which} {coils} away: with it out {} cannot trip", device.name),
        )
        .why("two trip coils are there so that one blown fuse leaves one of them")
        .help(format!(
            "2 fuses of its own for {last}, one in each pole, from another battery if there is one"
        ));
        if let Some(at) = scheme.part_named(&first.fuse).and_then(|id| scheme.parts[id].at) {
            finding = finding.at(at.span, format!("takes {coils} away"));
        }
        for part in &trips {
            if let Some(at) = part.at {
                finding = finding.and_at(at.span, "behind it");
            }
        }
        Some(names.iter().chain(&shared_names).fold(finding, Finding::device))
    });
    of_breaker.collect()
}

/// Motors and heaters (a finding) and close coils (a note) that a fuse takes away together with a trip coil
/// and that have no fuse of their own behind it: a short there leaves the breaker without a trip (common
/// practice: separate fuses for closing, tripping, motor and alarms; from memory of IEEE C37.11).
pub(super) fn beside_trips(scheme: &Scheme, fuses: &[FuseReport]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (_, part) in scheme.placed() {
        let closes = match &part.kind {
            PartKind::Motor(_) | PartKind::Heater { .. } => false,
            PartKind::Coil(coil) => {
                let device = part.device.map(|device| &scheme.devices[device].kind);
                if coil.drives_to != 1 || !matches!(device, Some(DeviceKind::Breaker { .. })) {
                    continue;
                }
                true
            }
            _ => continue,
        };
        findings.extend(beside(scheme, fuses, part, closes));
    }
    findings
}

fn beside(scheme: &Scheme, fuses: &[FuseReport], part: &Part, closes: bool) -> Option<Finding> {
    let name = &part.name;
    let trips: Vec<&Part> = scheme
        .parts
        .iter()
        .map(|(_, part)| part)
        .filter(|part| is_breakers_trip(scheme, part))
        .collect();
    let trips_of =
        |fuse: &FuseReport| trips.iter().filter(|it| fuse.takes_away.contains(&it.name)).count();
    let mine = || fuses.iter().filter(|fuse| fuse.takes_away.contains(name));
    let own = mine().any(|fuse| trips_of(fuse) == 0);
    let shared: Vec<&FuseReport> = mine().filter(|fuse| trips_of(fuse) > 0).collect();
    let first = shared.first().filter(|_| !own)?;
    let names: Vec<String> = shared.iter().map(|fuse| fuse.fuse.clone()).collect();
    let lost: Vec<String> = trips
        .iter()
        .filter(|it| first.takes_away.contains(&it.name))
        .map(|it| it.name.clone())
        .collect();
    let text = format!(
        "a short in {name} takes {} away: {} {} before both",
        listed(&lost),
        listed(&names),
        if names.len() == 1 { "stands" } else { "stand" }
    );
    let finding = if closes {
        Finding::note("close-beside-trip", text)
    } else {
        Finding::new("load-beside-trip", Severity::Finding, text)
    };
    let smallest = shared.iter().map(|fuse| fuse.rating).fold(f64::INFINITY, f64::min);
    let finding = finding
        .why("a motor, a heater or closing that fails must not take tripping away")
        .help(format!(
            "2 fuses of its own for {name}, one in each pole, before {}, or behind them of {} A or less \
             if it runs with that (1 to 1.6)",
            listed(&names),
            digits(crate::words::down(smallest / 1.6), 3)
        ))
        .device(name);
    let finding = lost.iter().chain(&names).fold(finding, Finding::device);
    Some(match part.at {
        Some(at) => finding.at(at.span, "a short here"),
        None => finding,
    })
}

fn is_breakers_trip(scheme: &Scheme, part: &Part) -> bool {
    let device = part.device.map(|device| &scheme.devices[device].kind);
    is_placed_trip(part) && matches!(device, Some(DeviceKind::Breaker { .. }))
}

fn is_placed_trip(part: &Part) -> bool {
    part.at.is_some() && matches!(&part.kind, PartKind::Coil(coil) if coil.drives_to == 0)
}
