//! Trip coils of one breaker that a single fuse takes away together.
//!
//! **In:** what each fuse takes away. **Out:** one finding for each such breaker, which names the
//! fuses. **Never here:** batteries, cables, terminals in common.
//!
//! Two trip coils are there so that one fault leaves one of them: circuits of their own from fuses
//! of their own (common practice; specifications of breakers, from memory).

use super::FuseReport;
use crate::figures::listed;
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

fn is_placed_trip(part: &Part) -> bool {
    part.at.is_some() && matches!(&part.kind, PartKind::Coil(coil) if coil.drives_to == 0)
}
