//! The two fuses of one circuit, one in each pole, that are not alike.
//!
//! **In:** what each fuse takes away. **Out:** a finding where one of a pair is rated at least twice
//! the other, and where there is none in the other pole. **Never here:** shorts from pole to pole.
//!
//! With a ground on one pole a second one leaves the fuse of the other pole alone to clear it, and
//! the wires in both poles are the same: both are chosen alike (common practice, no source).

use super::FuseReport;
use crate::figures::digits;
use fiftytwo_scheme::{CurrentKind, DeviceKind, Finding, PartId, PartKind, Scheme, Severity};

/// From this ratio on it is no step of a series any more (common practice, no source).
const AT_LEAST: f64 = 2.0;

/// A finding for each pair; `in_plus`: the pole a fuse stands in, if it stands in one.
pub(super) fn differ(
    scheme: &Scheme,
    fuses: &[FuseReport],
    in_plus: impl Fn(PartId) -> Option<bool>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    let pole = |fuse: &FuseReport| scheme.part_named(&fuse.fuse).and_then(&in_plus);
    let mut looked_at: Vec<&[String]> = Vec::new();
    let mut pairs: Vec<(&FuseReport, &FuseReport)> = Vec::new();
    for one in fuses.iter().filter(|fuse| !fuse.takes_away.is_empty()) {
        if looked_at.contains(&one.takes_away.as_slice()) {
            continue;
        }
        looked_at.push(&one.takes_away);
        // A main and its one branch take away the same: the smallest of each pole belong together, the
        // next ones, and so on.
        let in_pole = |plus: bool| {
            let mut alike: Vec<&FuseReport> = fuses
                .iter()
                .filter(|it| it.takes_away == one.takes_away && pole(it) == Some(plus))
                .collect();
            alike.sort_by(|a, b| a.rating.total_cmp(&b.rating));
            alike
        };
        pairs.extend(in_pole(true).into_iter().zip(in_pole(false)));
    }
    for (one, other) in pairs {
        let (large, small) = if one.rating > other.rating { (one, other) } else { (other, one) };
        let ratio = large.rating / small.rating;
        if !ratio.is_finite() || ratio < AT_LEAST {
            continue;
        }
        let rated = |fuse: &FuseReport| digits(fuse.rating, 3);
        let finding = Finding::new(
            "fuses-of-a-pair-differ",
            Severity::Finding,
            format!(
                "{} ({} A) is {} times {} ({} A), which protects the same wires in the other pole",
                large.fuse,
                rated(large),
                digits(ratio, 2),
                small.fuse,
                rated(small)
            ),
        )
        .why("with a ground on one pole the fuse of the other alone clears the next")
        .help(format!(
            "{} of {} A, or {} of {} A if conductors and loads allow",
            large.fuse,
            rated(small),
            small.fuse,
            rated(large)
        ))
        .device(&large.fuse)
        .device(&small.fuse);
        let at = scheme.part_named(&large.fuse).and_then(|part| scheme.parts[part].at);
        findings.push(match at {
            Some(at) => finding.at(at.span, format!("{} A", rated(large))),
            None => finding,
        });
    }
    findings
}

/// A finding for each fuse of a floating battery in one pole only: what it takes away no fuse of the
/// other pole does. Where no coil of a breaker or a lockout is among that, a note.
pub(super) fn in_one_pole(
    scheme: &Scheme,
    fuses: &[FuseReport],
    in_plus: impl Fn(PartId) -> Option<bool>,
) -> Vec<Finding> {
    let poles: Vec<Option<bool>> =
        fuses.iter().map(|fuse| scheme.part_named(&fuse.fuse).and_then(&in_plus)).collect();
    let supply = |fuse: &FuseReport| {
        let at = scheme.parts[scheme.part_named(&fuse.fuse)?].at?;
        Some(&scheme.supplies[scheme.circuits[at.circuit].supply])
    };
    let lacking = |index: usize| -> Vec<&String> {
        let others = || {
            let apart = poles.iter().zip(fuses).filter(|(pole, _)| {
                pole.zip(poles[index]).is_some_and(|(other, own)| other != own)
            });
            apart.map(|(_, other)| other)
        };
        let all = fuses[index].takes_away.iter();
        all.filter(|load| !others().any(|other| other.takes_away.contains(load))).collect()
    };
    let mut findings = Vec::new();
    let mut told: Vec<&String> = Vec::new();
    let mut order: Vec<(usize, Vec<&String>)> = (0..fuses.len())
        .filter(|index| poles[*index].is_some())
        .map(|index| (index, lacking(index)))
        .filter(|(_, loads)| !loads.is_empty())
        .collect();
    order.sort_by_key(|(_, loads)| std::cmp::Reverse(loads.len()));
    for (index, loads) in order {
        let fuse = &fuses[index];
        let floats = supply(fuse).filter(|it| it.current == CurrentKind::Dc && !it.grounded);
        let (Some(supply), Some(plus)) = (floats, poles[index]) else { continue };
        if loads.iter().all(|load| told.contains(load)) {
            continue;
        }
        told.extend(&loads);
        let matters = loads.iter().any(|load| trips_or_closes(scheme, load));
        let severity = if matters { Severity::Finding } else { Severity::Note };
        let (own, other) = if plus { ("plus", "minus") } else { ("minus", "plus") };
        let name = &fuse.fuse;
        let amps = if supply.resistance.lo > 0.0 {
            format!("up to {} A", digits(supply.range.hi / supply.resistance.lo, 3))
        } else {
            "without limit".to_owned()
        };
        let some: Vec<String> = loads.iter().take(3).map(|load| (*load).clone()).collect();
        let more = match loads.len() {
            0..=3 => String::new(),
            count => format!(" and {} more", count - 3),
        };
        let finding = Finding::new(
            "fuse-in-one-pole",
            severity,
            format!(
                "{name} stands in the {own} pole, and none in the {other} pole of {}{more}",
                some.join(", ")
            ),
        )
        .why(format!(
            "{} floats: with a ground on the {other} wire of that circuit and another on the {own} \
             pole of the battery, {amps} flow past {name} and nothing opens",
            supply.name
        ))
        .help(format!("one more fuse of {} A in the {other} pole", digits(fuse.rating, 3)))
        .device(name);
        let at = scheme.part_named(name).and_then(|part| scheme.parts[part].at);
        findings.push(match at {
            Some(at) => finding.at(at.span, format!("in the {own} pole only")),
            None => finding,
        });
    }
    findings
}

fn trips_or_closes(scheme: &Scheme, load: &str) -> bool {
    let part = scheme.part_named(load).map(|id| &scheme.parts[id]);
    let device = part.and_then(|part| part.device).map(|device| &scheme.devices[device].kind);
    part.is_some_and(|part| matches!(part.kind, PartKind::Coil(_)))
        && device.is_some_and(DeviceKind::is_breaker_or_lockout)
}
