//! How contacts stand on the sheet: everything without supply, devices as they are drawn.

use fiftytwo_scheme::{Atom, DeviceKind, PartId, PartKind, Scheme};

/// Whether a contact is closed as drawn: supplies off, nothing pending, breakers and relays in
/// their drawn position, energy stores empty, conditions in their first state, no order given,
/// programmed devices dead. A dead device knows nothing: its contacts stand as if nothing were so
/// that they follow, whatever the conditions are.
pub fn is_closed(scheme: &Scheme, contact: PartId) -> bool {
    closed_within(scheme, contact, 0)
}

/// A contact that follows a contact that follows a contact …: a scheme that goes round in a
/// circle here must not hang the drawing.
const DEEPEST: usize = 16;

fn closed_within(scheme: &Scheme, contact: PartId, depth: usize) -> bool {
    let PartKind::Contact(kind) = &scheme.parts[contact].kind else { return false };
    if depth > DEEPEST {
        return false;
    }
    let device = scheme.parts[contact].device.map(|device| &scheme.devices[device].kind);
    if matches!(device, Some(DeviceKind::Ied { .. })) {
        return kind.closed_when.expr.holds(&mut |_| false);
    }
    kind.closed_when.expr.holds(&mut |atom| match atom {
        Atom::Position(device, position) => scheme.devices[device].drawn == position,
        Atom::Condition(_, state) => state == 0,
        Atom::Closed(part) => closed_within(scheme, part, depth + 1),
        Atom::Charged(_)
        | Atom::Driven(_)
        | Atom::InputOn(_)
        | Atom::Logic(_)
        | Atom::Order(_)
        | Atom::Lit(_)
        | Atom::Running(_)
        | Atom::Blown(_)
        | Atom::LinkOpen(_)
        | Atom::Live(_) => false,
    })
}
