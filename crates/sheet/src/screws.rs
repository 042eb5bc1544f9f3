//! Screw numbers beside a part. **In:** a part. **Out:** the numbers of the text, or, where IEC
//! sheets want one and the text has none, a number counted by the drawing. **Never here:** a claim
//! that a counted number stands on the device.

use crate::block::terminals;
use crate::lists;
use crate::style::Style;
use fiftytwo_scheme::{DeviceKind, PartId, PartKind, Scheme};

/// The numbers at both ends of a part, upstream first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Screws {
    /// Upstream.
    pub upper: String,
    /// Downstream.
    pub lower: String,
    /// Counted by the drawing, not given by the text.
    pub counted: bool,
}

/// The numbers of a part.
///
/// Counted ones follow EN 50005 (from memory): contacts 1–2 open, 3–4 close, 5–6 and 7–8 the same
/// with a delay, before them the place of the contact in its device; coils A1–A2, then B1–B2.
pub fn screws(scheme: &Scheme, id: PartId, style: Style) -> Option<Screws> {
    if let Some((upper, lower)) = terminals(scheme, id) {
        return Some(Screws { upper, lower, counted: false });
    }
    if !style.iec() {
        return None;
    }
    let part = &scheme.parts[id];
    let device = part.device?;
    let kind = &scheme.devices[device].kind;
    let has_coil = matches!(
        kind,
        DeviceKind::Relay
            | DeviceKind::Timer { .. }
            | DeviceKind::Lockout { .. }
            | DeviceKind::Latch { .. }
    );
    if !has_coil {
        return None;
    }
    let (upper, lower) = match &part.kind {
        PartKind::Contact(_) => {
            let place = lists::contacts(scheme, device).iter().position(|other| *other == id)? + 1;
            let delayed = matches!(kind, DeviceKind::Timer { .. });
            let (upper, lower) = match (crate::rest::is_closed(scheme, id), delayed) {
                (true, false) => (1, 2),
                (false, false) => (3, 4),
                (true, true) => (5, 6),
                (false, true) => (7, 8),
            };
            (format!("{place}{upper}"), format!("{place}{lower}"))
        }
        PartKind::Coil(_) => {
            let place = lists::coils(scheme, device).iter().position(|other| *other == id)?;
            let letter = char::from(b'A' + u8::try_from(place).ok()?.min(25));
            (format!("{letter}1"), format!("{letter}2"))
        }
        _ => return None,
    };
    Some(Screws { upper, lower, counted: true })
}
