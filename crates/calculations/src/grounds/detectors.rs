//! The ground detectors themselves: one for each battery, and too weak to move a relay.
//!
//! **In:** the scheme. **Out:** for each supply its detector's figures; findings where two measure
//! one battery or a detector's own current may move a relay.
//! **Never here:** grounds on wires.

use super::alike::Alike;
use super::assumed::{Detector, still_below};
use super::bridge::{Legs, Pole};
use crate::Study;
use fiftytwo_circuit::bench::Warmth;
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{CurrentKind, Finding, Severity, Supply, SupplyId};
use serde::Serialize;

/// A relay whose pickup current is less than this many times the detector's is worth a note
/// (common practice, no source: 10 to 20 % of pickup).
pub const ENOUGH: f64 = 5.0;

/// The detector of one supply.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DetectorReport {
    /// The supply.
    pub supply: String,
    /// How many are declared.
    pub declared: usize,
    /// From plus to ground, all side by side, ohm; null: nothing.
    pub plus_ohm: f64,
    /// From minus to ground, ohm.
    pub minus_ohm: f64,
    /// No detector is declared: typical legs.
    pub typical: bool,
    /// Stray capacitance, F.
    pub farad: f64,
    /// The pole with the lower leg to ground, solidly grounded at the far end: the most current it
    /// can send through a coil, A.
    pub amps: f64,
    /// The relay that needs the least current to pick up, and that current, A.
    pub smallest_relay: Option<(String, f64)>,
    /// For each detector that says from where it gives alarm: that resistance, and what is left of
    /// it with every other detector of the battery beside it (plus, minus), ohm.
    pub alarms: Vec<Alarm>,
}

/// How deaf a detector becomes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Alarm {
    /// Alone it gives alarm below this, ohm.
    pub alone: f64,
    /// With the others, for a ground on plus, ohm (0: never).
    pub plus: f64,
    /// For a ground on minus, ohm (0: never).
    pub minus: f64,
}

/// Reports on the detectors of every direct-current supply.
pub(super) fn report(
    study: &Study<'_, '_>,
    detectors: &[Detector],
) -> (Vec<DetectorReport>, Vec<Finding>) {
    let scheme = study.scheme();
    let alike = Alike::new(scheme);
    let mut reports = Vec::new();
    let mut findings = Vec::new();
    for detector in detectors {
        let supply = &scheme.supplies[detector.supply];
        let all: Vec<Legs> = scheme
            .supplies
            .values()
            .filter(|other| {
                other.current == CurrentKind::Dc
                    && alike.together(other.minus.index(), supply.minus.index())
            })
            .flat_map(|other| &other.grounds)
            .map(|detector| Legs { plus: detector.plus.middle(), minus: detector.minus.middle() })
            .collect();
        let none = Legs { plus: f64::INFINITY, minus: f64::INFINITY };
        let together = all.iter().fold(none, |legs, other| legs.beside(*other));
        let alarms: Vec<Alarm> = supply
            .grounds
            .iter()
            .filter_map(|detector| {
                let alone = detector.alarms_below.as_ref()?.middle();
                let own = Legs { plus: detector.plus.middle(), minus: detector.minus.middle() };
                Some(Alarm {
                    alone,
                    plus: own.alarm_beside(together, Pole::Plus, alone),
                    minus: own.alarm_beside(together, Pole::Minus, alone),
                })
            })
            .collect();
        let least = detector.legs.plus.min(detector.legs.minus);
        let amps = supply.range.hi / least;
        let smallest = smallest_relay(study, detector.supply);
        findings.extend(two(supply, &all, &alarms));
        findings.extend(too_strong(supply, amps, smallest.as_ref(), detector.typical_legs));
        reports.push(DetectorReport {
            supply: supply.name.clone(),
            declared: supply.grounds.len(),
            plus_ohm: detector.legs.plus,
            minus_ohm: detector.legs.minus,
            typical: detector.typical_legs,
            farad: detector.farad,
            amps,
            smallest_relay: smallest,
            alarms,
        });
    }
    (reports, findings)
}

fn two(supply: &Supply, all: &[Legs], alarms: &[Alarm]) -> Option<Finding> {
    if all.len() < 2 || supply.grounds.is_empty() {
        return None;
    }
    let last = supply.grounds.last()?;
    let how_deaf =
        alarms.iter().find(|alarm| alarm.plus.min(alarm.minus) < alarm.alone).map(|alarm| {
            let left = alarm.plus.min(alarm.minus);
            if left > 0.0 {
                format!(
                    "; the one that gives alarm below {} kohm alone does so only below {:.1} kohm",
                    kilo(alarm.alone),
                    left / 1e3
                )
            } else {
                format!(
                    "; the one that gives alarm below {} kohm alone gives none even for a solid \
                     ground",
                    kilo(alarm.alone)
                )
            }
        });
    let beside = if supply.grounds.len() > 1 {
        format!("{} ground detectors measure {}", supply.grounds.len(), supply.name)
    } else {
        format!(
            "the ground detector of {} measures another supply's wires too, which has one of its \
             own",
            supply.name
        )
    };
    let mut finding = Finding::new(
        "two-ground-detectors",
        Severity::Finding,
        format!("{beside}{}", how_deaf.unwrap_or_default()),
    )
    .why(
        "their legs lie side by side: each sees less of a ground, and together they send more \
         current through a coil",
    )
    .help("keep one ground detector for each battery, or lift the legs of the others from ground")
    .at(last.span, "one more detector")
    .device(&supply.name);
    for other in supply.grounds.iter().rev().skip(1) {
        finding = finding.and_at(other.span, "and this one");
    }
    if supply.grounds.len() == 1 {
        finding = finding.and_at(supply.span, "hangs together with another supply");
    }
    Some(finding)
}

fn kilo(ohm: f64) -> String {
    format!("{:.1}", ohm / 1e3).trim_end_matches(".0").to_owned()
}

/// The coil of a relay on this supply that needs the least current.
fn smallest_relay(study: &Study<'_, '_>, supply: SupplyId) -> Option<(String, f64)> {
    let scheme = study.scheme();
    let nominal = scheme.supplies[supply].nominal.middle();
    scheme
        .coils()
        .filter(|(_, part, _)| {
            part.at.is_some_and(|at| scheme.circuits[at.circuit].supply == supply)
        })
        .filter_map(|(id, part, coil)| {
            coil.pickup.as_ref()?;
            // Its current at the volts and the temperature that both are told for.
            let ohm = study.bench.ohm(id, Warmth::Hot)? / coil_warmth(scheme, part).1;
            Some((part.name.clone(), still_below(coil, nominal).volts / ohm))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

fn too_strong(
    supply: &Supply,
    amps: f64,
    smallest: Option<&(String, f64)>,
    typical: bool,
) -> Option<Finding> {
    let (relay, needs) = smallest?;
    if amps * ENOUGH <= *needs {
        return None;
    }
    let may = amps >= *needs;
    let (what, severity) = if may && !typical {
        ("may move it", Severity::Finding)
    } else {
        ("leaves little room", Severity::Note)
    };
    let whose = if typical { " (a typical one, none is declared)" } else { "" };
    let ohm = ENOUGH * supply.range.hi / needs;
    let finding = Finding::new(
        "ground-detector-too-strong",
        severity,
        format!(
            "the ground detector of {}{whose} sends up to {:.1} mA through a grounded wire; {relay} \
             may pick up from {:.1} mA, which {what}",
            supply.name,
            amps * 1e3,
            needs * 1e3,
        ),
    )
    .why("with a solid ground on the wire in front of a coil the detector's leg feeds the coil")
    .help(format!(
        "legs of at least {} kohm keep it below a fifth of that (common practice, no source)",
        (ohm / 1e3).ceil()
    ))
    .device(relay);
    Some(match supply.grounds.first() {
        Some(detector) => finding.at(detector.span, format!("{:.1} mA", amps * 1e3)),
        None => finding.at(supply.span, "no ground detector is declared"),
    })
}
