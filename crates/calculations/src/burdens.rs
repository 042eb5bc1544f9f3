//! Resistors that stand by themselves between the poles: loading resistors, burdens, discharge
//! resistors, and those that a contact leaves alone by shorting what stands behind them.
//!
//! **In:** a resistor. **Out:** the ways on which it is a load of its own, with contacts that can be
//! closed together; whether a coil made for a moment ends each of them. **Never here:** amperes,
//! verdicts. A chain of resistors is not one load here: each stands in series with another.

use crate::ties::possible;
use fiftytwo_circuit::{Way, Wiring};
use fiftytwo_scheme::{PartId, PartKind, Scheme};

/// The ways of a resistor through contacts and conductors alone; empty for anything else.
pub(crate) fn ways(wiring: &Wiring<'_>, resistor: PartId) -> Vec<Way> {
    let scheme = wiring.scheme();
    if !matches!(scheme.parts[resistor].kind, PartKind::Resistor { .. }) {
        return Vec::new();
    }
    let found = wiring.ways(resistor);
    if found.through_resistors || found.through_coils {
        return Vec::new();
    }
    found.list.iter().filter(|way| can_be(scheme, way)).cloned().collect()
}

/// Whether a coil that has no way but through another coil (a target relay) is driven so: every switch
/// of one of its ways is closed.
pub(crate) fn driven_in_series(
    wiring: &Wiring<'_>,
    coil: PartId,
    closed: impl Fn(PartId) -> bool,
) -> bool {
    let scheme = wiring.scheme();
    let switch = |part: &&PartId| {
        let kind = &scheme.parts[**part].kind;
        matches!(kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. })
    };
    let found = wiring.ways(coil);
    let whole = |way: &Way| way.parts.iter().filter(switch).all(|part| closed(*part));
    found.through_coils && found.list.iter().any(whole)
}

/// Whether the contacts of a way can be closed together.
pub(crate) fn can_be(scheme: &Scheme, way: &Way) -> bool {
    let statements: Vec<_> = way
        .parts
        .iter()
        .filter_map(|part| match &scheme.parts[*part].kind {
            PartKind::Contact(contact) => Some(&contact.closed_when.expr),
            _ => None,
        })
        .collect();
    possible(scheme, &statements)
}

/// The coil made for a moment on one of whose ways every contact stands on this way too: the way is
/// whole no longer than that coil is on.
pub(crate) fn ends_with(wiring: &Wiring<'_>, way: &Way) -> Option<PartId> {
    let scheme = wiring.scheme();
    let contact = |part: &&PartId| matches!(scheme.parts[**part].kind, PartKind::Contact(_));
    scheme.coils().filter(|(_, part, _)| part.at.is_some()).find_map(|(id, part, coil)| {
        let moves = part.device.is_some_and(|it| scheme.devices[it].kind.is_breaker_or_lockout());
        let momentary = coil.max_on.is_some() || moves;
        let within = |own: &Way| {
            let mut contacts = own.parts.iter().filter(contact).peekable();
            contacts.peek().is_some() && contacts.all(|part| way.parts.contains(part))
        };
        (momentary && wiring.ways(id).list.iter().any(within)).then_some(id)
    })
}

/// A resistor that may be on for longer than a moment.
pub(crate) fn lasts(wiring: &Wiring<'_>, resistor: PartId) -> bool {
    ways(wiring, resistor).iter().any(|way| ends_with(wiring, way).is_none())
}
