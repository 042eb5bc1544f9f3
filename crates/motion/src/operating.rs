//! One value for every range: whether a coil moves where its interval of volts leaves it open.

use crate::machine::{Action, Deed, Look, Tri, UnitKind};
use fiftytwo_scheme::{PartId, PartKind};
use serde::Serialize;

/// Which value of its range everything takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Operating {
    /// The lowest.
    Low,
    /// The middle.
    #[default]
    Middle,
    /// The highest.
    High,
}

/// Whether an action that is only perhaps driven happens at the chosen voltage.
pub(crate) fn happens(look: &Look<'_, '_, '_>, action: &Action, volts: Operating) -> bool {
    if action.certainty != Tri::Perhaps {
        return action.certainty.sure();
    }
    // A bounce may always come and never need.
    if action.deed == Deed::Bounce {
        return false;
    }
    let machine = look.machine();
    if let (Deed::Sense, Operating::High, UnitKind::Input(input)) =
        (action.deed, volts, &machine.units[action.unit].kind)
    {
        return senses(look, *input, action.to == 1);
    }
    let coil = match action.deed {
        Deed::Begin(Some(coil)) | Deed::Arrive(Some(coil)) | Deed::Release(coil) => {
            Some((coil, true))
        }
        Deed::Begin(None) | Deed::Arrive(None) => match machine.units[action.unit].kind {
            UnitKind::Relay(device) => machine.lone_coil(device).map(|coil| (coil, false)),
            _ => None,
        },
        _ => None,
    };
    match coil {
        None => volts == Operating::High,
        Some((coil, true)) => picks_up(look, coil, volts),
        Some((coil, false)) => {
            let PartKind::Coil(data) = &machine.scheme.parts[coil].kind else { return false };
            let threshold = data.dropout.as_ref().map_or(0.0, fiftytwo_scheme::Quantity::middle);
            coil_volts(look, coil, volts).is_some_and(|seen| seen < threshold)
        }
    }
}

/// Whether an input that may be either goes on (or off) at its highest voltage. Between its two
/// thresholds it stays: it would go on and off without end otherwise.
fn senses(look: &Look<'_, '_, '_>, input: PartId, on: bool) -> bool {
    let PartKind::Input(data) = &look.machine().scheme.parts[input].kind else { return false };
    let threshold = if on {
        data.on_above.as_ref().or(data.off_below.as_ref())
    } else {
        data.off_below.as_ref().or(data.on_above.as_ref())
    };
    let seen = coil_volts(look, input, Operating::High);
    match (threshold.map(fiftytwo_scheme::Quantity::middle), seen) {
        (Some(threshold), Some(seen)) => (seen >= threshold) == on,
        _ => on,
    }
}

/// Whether a coil picks up at the chosen voltage: from the middle of its pickup, else from where it
/// surely works; where nothing is declared, from half of nominal.
pub(crate) fn picks_up(look: &Look<'_, '_, '_>, coil: PartId, volts: Operating) -> bool {
    match look.pickup(coil) {
        Tri::Yes => return true,
        Tri::No => return false,
        Tri::Perhaps => {}
    }
    let scheme = look.machine().scheme;
    let PartKind::Coil(data) = &scheme.parts[coil].kind else { return false };
    let nominal = scheme.parts[coil]
        .at
        .map_or(0.0, |at| scheme.supplies[scheme.circuits[at.circuit].supply].nominal.lo);
    let declared = data.pickup.as_ref().map(fiftytwo_scheme::Quantity::middle);
    let threshold = declared.or_else(|| data.surely_from()).unwrap_or(nominal / 2.0);
    coil_volts(look, coil, volts).is_some_and(|seen| seen >= threshold)
}

pub(crate) fn coil_volts(look: &Look<'_, '_, '_>, coil: PartId, volts: Operating) -> Option<f64> {
    let machine = look.machine();
    let section = machine.wiring.section_of(coil)?;
    let drives = machine.wiring.drive(section, &look.positions(section), look.live());
    let drive = drives.iter().find(|drive| drive.part == coil)?;
    if !drive.connected {
        return Some(0.0);
    }
    Some(match volts {
        Operating::Low => drive.volts_lo,
        Operating::Middle => f64::midpoint(drive.volts_lo, drive.volts_hi),
        Operating::High => drive.volts_hi,
    })
}
