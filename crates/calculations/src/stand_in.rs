//! Coils that say no resistance, or 0 ohm: what hangs on them is worked out with a typical one, and
//! that is said.
//!
//! **In:** a scheme. **Out:** the same with a typical resistance where a placed coil has none, and the
//! sentences about it. **Never here:** the volts of that coil on its ways (the report on coils takes
//! anything from nothing to all).
//!
//! Without any resistance such a coil may be driven by whatever watches it: every rest position in
//! which a lamp burns in front of it would end with the device moved, and monitors and pairs of grounds
//! would be missing without a word.

use crate::figures::{digits, listed};
use fiftytwo_circuit::bench::typical_coil;
use fiftytwo_scheme::{Finding, PartId, PartKind, Quantity, Scheme};

/// A scheme with typical resistances.
pub(crate) struct StandIn {
    pub(crate) scheme: Scheme,
    /// What was taken, one line a coil.
    pub(crate) typical: Vec<String>,
    /// `coil-resistance-taken`.
    pub(crate) note: Finding,
}

/// None: every placed coil has a resistance.
pub(crate) fn of(scheme: &Scheme) -> Option<StandIn> {
    let lacks = |(id, part): (PartId, &fiftytwo_scheme::Part)| match &part.kind {
        PartKind::Coil(coil) => {
            let has = coil.resistance.as_ref().is_some_and(|ohm| ohm.hi > 0.0);
            (!has).then_some(id)
        }
        _ => None,
    };
    let coils: Vec<PartId> = scheme.placed().filter_map(lacks).collect();
    let first = coils.first().copied()?;
    let mut copy = scheme.clone();
    let (mut names, mut typical, mut taken) = (Vec::new(), Vec::new(), Vec::new());
    for id in coils {
        let part = &scheme.parts[id];
        let at = part.at?;
        let nominal = scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle();
        let (most, _, least, class) = typical_coil(scheme, part);
        let (lo, hi) = (nominal / most, nominal / least);
        let range = format!("{} to {} ohm", digits(lo, 3), digits(hi, 3));
        let mut ohm = Quantity::new(lo, hi, format!("{range} (typical)"));
        ohm.typical = true;
        if let PartKind::Coil(coil) = &mut copy.parts[id].kind {
            coil.resistance = Some(ohm);
        }
        let volts = digits(nominal, 3);
        typical.push(format!("{}: {least} to {most} A at {volts} V, {class}", part.name));
        taken.push(format!("{} {range}", part.name));
        names.push(part.name.clone());
    }
    let has = if names.len() == 1 { "has" } else { "have" };
    let mut note = Finding::note(
        "coil-resistance-taken",
        format!(
            "{} {has} no resistance: monitors, grounds, pairs of grounds, contacts and cables are \
             worked out with a typical one, {}; none of it is a pass for the coil that is there",
            listed(&names),
            listed(&taken)
        ),
    )
    .at(scheme.parts[first].span, "no resistance")
    .help("write resistance=\"…\" from the nameplate or a measurement");
    note.devices = names;
    Some(StandIn { scheme: copy, typical, note })
}
