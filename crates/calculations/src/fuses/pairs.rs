//! The two fuses of one circuit, one in each pole, that are not alike.
//!
//! **In:** what each fuse takes away. **Out:** a finding where one of a pair is rated at least twice
//! the other. **Never here:** fuses in one pole only, shorts.
//!
//! With a ground on one pole a second one leaves the fuse of the other pole alone to clear it, and
//! the wires in both poles are the same: both are chosen alike (common practice, no source).

use super::FuseReport;
use crate::figures::digits;
use fiftytwo_scheme::{Finding, PartId, Scheme, Severity};

/// From this ratio on it is no step of a series any more (common practice, no source).
const AT_LEAST: f64 = 2.0;

/// A finding for each pair; `in_plus`: the pole a fuse stands in, if it stands in one.
pub(super) fn differ(
    scheme: &Scheme,
    fuses: &[FuseReport],
    in_plus: impl Fn(PartId) -> Option<bool>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, one) in fuses.iter().enumerate() {
        let pole = |fuse: &FuseReport| scheme.part_named(&fuse.fuse).and_then(&in_plus);
        let partner = fuses.iter().skip(index + 1).find(|other| {
            let apart = pole(one).zip(pole(other)).is_some_and(|(one, other)| one != other);
            apart && !one.takes_away.is_empty() && one.takes_away == other.takes_away
        });
        let Some(other) = partner else { continue };
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
