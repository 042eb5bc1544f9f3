//! Data of one text that contradict one another, or that no plant has: slips of the pen that would
//! pass as small numbers elsewhere.
//!
//! **In:** a scheme. **Out:** findings. **Never here:** networks; whether a good value is enough.

use crate::figures::digits;
use fiftytwo_scheme::{Coil, DeviceKind, Finding, GoesAfter, Part, Scheme, Severity};

/// Air that no plant stands in, °C (common practice, no source).
const AIR: (f64, f64) = (-60.0, 100.0);

/// All contradictions, in source order: supplies, places, coils.
pub fn contradictions(scheme: &Scheme) -> Vec<Finding> {
    let mut findings = Vec::new();
    for supply in scheme.supplies.values() {
        let nominal = supply.nominal.middle();
        if nominal < supply.range.lo || nominal > supply.range.hi {
            findings.push(
                found(
                    "nominal-outside-range",
                    format!(
                        "{} is called {} and ranges over {}",
                        supply.name, supply.nominal.written, supply.range.written
                    ),
                )
                .help(format!("a range with {} in it", supply.nominal.written))
                .at(supply.span, "both are written here")
                .device(&supply.name),
            );
        }
        for detector in &supply.grounds {
            if detector.plus.lo <= 0.0 || detector.minus.lo <= 0.0 {
                findings.push(
                    found(
                        "detector-without-resistance",
                        format!("a leg of the ground detector of {} has 0 ohm", supply.name),
                    )
                    .why("that would be a solid ground on a pole")
                    .help("its true resistance, 5 to 100 kohm as a rule (typical, from memory)")
                    .at(detector.span, "0 ohm")
                    .device(&supply.name),
                );
            }
        }
    }
    for supply in scheme.supplies.values() {
        let Some(detector) = supply.grounds.first().filter(|_| supply.grounded) else { continue };
        findings.push(
            found(
                "grounded-with-detector",
                format!("{} is grounded, and a ground detector measures it", supply.name),
            )
            .why(
                "a supply with a pole on ground has no ground to be detected: either it floats, or the \
                 detector gives alarm for ever",
            )
            .help("leave grounded=\"yes\" out of a supply that floats, or the detector out of one that does not")
            .at(detector.span, "its detector")
            .and_at(supply.span, "grounded here")
            .device(&supply.name),
        );
    }
    for place in scheme.places.values() {
        let air = &place.ambient;
        if air.lo < AIR.0 || air.hi > AIR.1 {
            findings.push(
                found(
                    "ambient-of-no-plant",
                    format!("{} stands in air of {}", place.name, air.written),
                )
                .help(format!("an ambient between {} and {} C", AIR.0, AIR.1))
                .at(place.span, "its ambient")
                .device(&place.name),
            );
        }
    }
    for (_, part, coil) in scheme.coils() {
        findings.extend(of_coil(scheme, part, coil));
    }
    findings.extend(crate::unlikely::unlikely(scheme));
    findings
}

fn found(id: &'static str, message: String) -> Finding {
    Finding::new(id, Severity::Finding, message)
}

fn of_coil(scheme: &Scheme, part: &Part, coil: &Coil) -> Vec<Finding> {
    let name = &part.name;
    let mut findings = Vec::new();
    let mut add = |id, message: String, help: String| {
        let finding = found(id, message).help(help).at(part.span, "this coil").device(name);
        findings.push(finding);
    };
    match &coil.resistance {
        Some(ohm) if ohm.lo <= 0.0 && part.at.is_some() => add(
            "coil-without-resistance",
            format!("{name} has 0 ohm: it would short its supply, and nothing of it is judged"),
            "its resistance from the nameplate".to_owned(),
        ),
        _ => {}
    }
    if let (Some(works), Some(pickup)) = (&coil.works, &coil.pickup)
        && pickup.lo > works.lo
    {
        add(
            "coil-data-contradict",
            format!(
                "{name} works from {} V, yet surely does not pick up below {} V",
                digits(works.lo, 3),
                digits(pickup.lo, 3)
            ),
            format!(
                "a pickup from {} V or less, or works from {} V",
                digits(works.lo, 3),
                digits(pickup.hi, 3)
            ),
        );
    }
    if let (Some(pickup), Some(dropout)) = (&coil.pickup, &coil.dropout)
        && dropout.hi > pickup.hi
    {
        add(
            "coil-data-contradict",
            format!(
                "{name} may drop out at {} V, above the {} V at which it surely picks up",
                digits(dropout.hi, 3),
                digits(pickup.hi, 3)
            ),
            format!("a dropout of {} V at the most", digits(pickup.hi, 3)),
        );
    }
    if let (Some(works), Some(dropout)) = (&coil.works, &coil.dropout)
        && dropout.hi > works.lo
        && coil
            .pickup
            .as_ref()
            .is_none_or(|pickup| dropout.hi <= pickup.hi && pickup.lo <= works.lo)
    {
        add(
            "coil-data-contradict",
            format!(
                "{name} works from {} V, and below {} V it may drop out",
                digits(works.lo, 3),
                digits(dropout.hi, 3)
            ),
            format!("a dropout of {} V at the most", digits(works.lo, 3)),
        );
    }
    let device = part.device.map(|device| &scheme.devices[device].kind);
    if let (
        Some(GoesAfter::After(goes)),
        Some(DeviceKind::Breaker { closing_time, opening_time, .. }),
    ) = (&coil.goes_after, device)
    {
        let whole = if coil.drives_to == 0 { opening_time } else { closing_time };
        if goes.hi > whole.hi {
            add(
                "coil-data-contradict",
                format!(
                    "{name} goes after {}, yet its breaker takes {} in all",
                    goes.written, whole.written
                ),
                format!("goes-after within {}: the time of the breaker includes it", whole.written),
            );
        }
    }
    findings
}
