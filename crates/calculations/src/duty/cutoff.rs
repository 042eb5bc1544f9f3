//! Which contacts open because a coil has done its work, and how long others surely stay closed.
//!
//! **In:** a coil or a contact. **Out:** the earliest and latest moment of a coil's own cut-off; the
//! least time a contact stays closed. **Never here:** currents.
//!
//! A contact is a coil's *own cut-off* if its statement is false once the device stands where the
//! coil drives it, whatever everything else does (lines of logic followed, other things unknown). It
//! is *lasting* unless that hangs on energy that is charged again.
//!
//! A contact *holds* for the time that surely passes between its closing and its opening: the length
//! of an order, the off-delay of a line of logic, its own opens-in, a relay's dropout-time behind a
//! contact that holds. Hands hold for no time: they may let go at once. A lockout holds until a
//! person resets it, which takes longer than any stroke.

use fiftytwo_circuit::Wiring;
use fiftytwo_scheme::{
    Atom, Contact, DeviceId, DeviceKind, Expr, GoesAfter, LogicRule, PartId, PartKind, ResetBy,
    Scheme, TimeRange,
};

/// How deep lines of logic and relays are followed.
const MOST_DEEP: u32 = 8;
/// Holds until somebody resets it, µs.
pub(super) const FOR_EVER: i64 = i64::MAX / 4;

/// A coil's own cut-off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct OwnCutOff {
    /// From the coil's drive to its opening, µs; latest none: not said.
    pub(super) earliest: i64,
    pub(super) latest: Option<i64>,
    /// It stays open.
    pub(super) lasting: bool,
    /// It opens for no other reason.
    pub(super) pure: bool,
}

/// Whether a contact cuts a coil off by itself: at once, or as the contact of a relay whose own
/// coil is cut off so on every one of its ways.
pub(super) fn own_cut_off(wiring: &Wiring<'_>, coil: PartId, contact: PartId) -> Option<OwnCutOff> {
    direct_cut_off(wiring.scheme(), coil, contact)
        .or_else(|| relayed_cut_off(wiring, coil, contact))
        .or_else(|| charged_cut_off(wiring.scheme(), coil, contact))
}

/// The contact that stops a motor once the energy it charges is there: it opens every time. How long
/// that takes is not said of every voltage, so nothing else waits for it.
fn charged_cut_off(scheme: &Scheme, motor: PartId, contact: PartId) -> Option<OwnCutOff> {
    let PartKind::Motor(_) = &scheme.parts[motor].kind else { return None };
    let PartKind::Contact(data) = &scheme.parts[contact].kind else { return None };
    let (charges, _) = scheme.devices.iter().find(|(_, device)| match &device.kind {
        DeviceKind::Breaker { energy: Some(energy), .. } => energy.charged_by == Some(motor),
        _ => false,
    })?;
    let expr = &data.closed_when.expr;
    let assume = |atom: Atom| matches!(atom, Atom::Charged(of) if of == charges).then_some(true);
    if truth(scheme, expr, &assume, 0) != Some(false) {
        return None;
    }
    let mut pure = true;
    expr.atoms(&mut |atom| pure &= matches!(atom, Atom::Charged(of) if of == charges));
    Some(OwnCutOff { earliest: 0, latest: None, lasting: true, pure })
}

/// Through one relay that closes the contact while picked up.
fn relayed_cut_off(wiring: &Wiring<'_>, coil: PartId, contact: PartId) -> Option<OwnCutOff> {
    let scheme = wiring.scheme();
    let part = &scheme.parts[contact];
    let PartKind::Contact(data) = &part.kind else { return None };
    let relay = part.device?;
    let item = &scheme.devices[relay];
    let picked = Expr::Atom(Atom::Position(relay, 1));
    if !matches!(item.kind, DeviceKind::Relay) || data.closed_when.expr != picked {
        return None;
    }
    let (own, own_data) =
        item.parts.iter().copied().find_map(|part| match &scheme.parts[part].kind {
            PartKind::Coil(data) => Some((part, data)),
            _ => None,
        })?;
    let ways = wiring.ways(own);
    if own == coil || !ways.complete || ways.list.is_empty() {
        return None;
    }
    let drops = own_data.dropout_time.as_ref();
    let mut worst = OwnCutOff { earliest: i64::MAX, latest: Some(0), lasting: true, pure: false };
    for way in &ways.list {
        let cuts = way
            .parts
            .iter()
            .filter_map(|part| direct_cut_off(scheme, coil, *part))
            .filter(|cut| cut.lasting);
        let first = cuts.min_by_key(|cut| cut.latest.unwrap_or(i64::MAX))?;
        worst.earliest = worst.earliest.min(first.earliest);
        worst.latest = worst.latest.zip(first.latest).map(|(a, b)| a.max(b));
    }
    let opens = data.opens_in.as_ref().map_or((0, 0), |time| (time.lo, time.hi));
    worst.earliest += drops.map_or(0, |time| time.lo) + opens.0;
    worst.latest = worst.latest.zip(drops).map(|(latest, drops)| latest + drops.hi + opens.1);
    Some(worst)
}

fn direct_cut_off(scheme: &Scheme, coil: PartId, contact: PartId) -> Option<OwnCutOff> {
    let part = &scheme.parts[contact];
    let PartKind::Contact(data) = &part.kind else { return None };
    let device = scheme.parts[coil].device?;
    let PartKind::Coil(coil_data) = &scheme.parts[coil].kind else { return None };
    let to = coil_data.drives_to;
    let uses_up = match &scheme.devices[device].kind {
        DeviceKind::Breaker { energy: Some(energy), .. } => to == 1 && energy.closings == 1,
        _ => false,
    };
    let expr = &data.closed_when.expr;
    let there = |charge: Option<bool>| {
        move |atom: Atom| match atom {
            Atom::Position(of, position) if of == device => Some(position == to),
            Atom::Charged(of) if of == device => charge,
            _ => None,
        }
    };
    let lasting = truth(scheme, expr, &there(None), 0) == Some(false);
    let by_charge = uses_up && truth(scheme, expr, &there(Some(false)), 0) == Some(false);
    if !lasting && !by_charge {
        return None;
    }
    let mut pure = true;
    expr.atoms(&mut |atom| {
        pure &= matches!(atom, Atom::Position(of, _) | Atom::Charged(of) if of == device);
    });
    let (delay_lo, delay_hi) = delays(scheme, expr, 0);
    let own = |time: &Option<TimeRange>| time.as_ref().map_or((0, 0), |time| (time.lo, time.hi));
    let opens = own(&data.opens_in);
    let (earliest, latest) = moved(scheme, device, coil, data, lasting)?;
    Some(OwnCutOff {
        earliest: earliest + delay_lo + opens.0,
        latest: latest.map(|latest| latest + delay_hi + opens.1),
        lasting,
        pure,
    })
}

/// From the coil's drive until what the contact follows has changed, µs.
fn moved(
    scheme: &Scheme,
    device: DeviceId,
    coil: PartId,
    contact: &Contact,
    lasting: bool,
) -> Option<(i64, Option<i64>)> {
    let PartKind::Coil(data) = &scheme.parts[coil].kind else { return None };
    let follows_stroke = contact.on_close.is_some() || contact.on_open.is_some();
    match &scheme.devices[device].kind {
        DeviceKind::Breaker { closing_time, opening_time, .. } => {
            if !lasting && let Some(GoesAfter::After(time)) = &data.goes_after {
                return Some((time.lo, Some(time.hi)));
            }
            let (stroke, offset) = if data.drives_to == 0 {
                (opening_time, &contact.on_open)
            } else {
                (closing_time, &contact.on_close)
            };
            let (lo, hi) = offset
                .as_ref()
                .filter(|_| follows_stroke)
                .map_or((0, 0), |offset| (offset.lo, offset.hi));
            // A spring is used up at the release, no later than the stroke's end.
            let earliest = if lasting { (stroke.lo + lo).max(0) } else { 0 };
            Some((earliest, Some((stroke.hi + hi).max(0))))
        }
        _ => {
            let time = data.pickup_time.as_ref();
            Some((time.map_or(0, |time| time.lo), time.map(|time| time.hi)))
        }
    }
}

/// Three-valued truth of a statement under assumptions.
fn truth(
    scheme: &Scheme,
    expr: &Expr,
    assume: &dyn Fn(Atom) -> Option<bool>,
    deep: u32,
) -> Option<bool> {
    if deep > MOST_DEEP {
        return None;
    }
    let all = |items: &[Expr], neutral: bool| {
        let mut result = Some(neutral);
        for item in items {
            match truth(scheme, item, assume, deep) {
                Some(value) if value != neutral => return Some(value),
                None => result = None,
                Some(_) => {}
            }
        }
        result
    };
    match expr {
        Expr::Not(inner) => truth(scheme, inner, assume, deep).map(|value| !value),
        Expr::All(items) => all(items, true),
        Expr::Any(items) => all(items, false),
        Expr::Atom(atom) => assume(*atom).or_else(|| match *atom {
            Atom::Logic(logic) => match &scheme.logics[logic].rule {
                LogicRule::When { when, .. } => truth(scheme, &when.expr, assume, deep + 1),
                LogicRule::Memory { .. } => None,
            },
            Atom::Closed(part) => match &scheme.parts[part].kind {
                PartKind::Contact(contact) => {
                    truth(scheme, &contact.closed_when.expr, assume, deep + 1)
                }
                _ => None,
            },
            _ => None,
        }),
    }
}

/// The least and greatest delay of the lines of logic a statement goes through, µs.
fn delays(scheme: &Scheme, expr: &Expr, deep: u32) -> (i64, i64) {
    let mut range: Option<(i64, i64)> = None;
    if deep <= MOST_DEEP {
        expr.atoms(&mut |atom| {
            let delay = match atom {
                Atom::Logic(logic) => match &scheme.logics[logic].rule {
                    LogicRule::When { when, on_delay, off_delay } => {
                        let inner = delays(scheme, &when.expr, deep + 1);
                        (
                            inner.0 + on_delay.lo.min(off_delay.lo),
                            inner.1 + on_delay.hi.max(off_delay.hi),
                        )
                    }
                    LogicRule::Memory { .. } => (0, 0),
                },
                _ => (0, 0),
            };
            let (lo, hi) = range.unwrap_or(delay);
            range = Some((lo.min(delay.0), hi.max(delay.1)));
        });
    }
    range.unwrap_or((0, 0))
}

/// The least time that surely passes between a contact's closing and its opening, µs.
pub(super) fn holds(wiring: &Wiring<'_>, contact: PartId) -> i64 {
    contact_holds(wiring, contact, &mut Vec::new())
}

/// `open`: relays whose own coils are being asked about; one that leads back to itself (a seal-in)
/// makes no promise by that way.
fn contact_holds(wiring: &Wiring<'_>, part: PartId, open: &mut Vec<DeviceId>) -> i64 {
    let scheme = wiring.scheme();
    match &scheme.parts[part].kind {
        // Opened by hand, and not under load; a fuse by a fault.
        PartKind::Link | PartKind::Fuse { .. } => FOR_EVER,
        PartKind::Contact(contact) => {
            let statement = statement_holds(wiring, &contact.closed_when.expr, open);
            let closes = contact.closes_in.as_ref().map_or(0, |time| time.hi);
            let opens = contact.opens_in.as_ref().map_or(0, |time| time.lo);
            (statement - closes).max(0) + opens
        }
        _ => FOR_EVER,
    }
}

fn statement_holds(wiring: &Wiring<'_>, expr: &Expr, open: &mut Vec<DeviceId>) -> i64 {
    let scheme = wiring.scheme();
    match expr {
        // Of several that must stand together each but the last may be about to fall.
        Expr::Not(_) | Expr::All(_) => 0,
        Expr::Any(items) => {
            items.iter().map(|item| statement_holds(wiring, item, open)).min().unwrap_or(0)
        }
        Expr::Atom(atom) => match *atom {
            Atom::Order(order) => scheme.orders[order].lasts.as_ref().map_or(0, |time| time.lo),
            Atom::Logic(logic) => match &scheme.logics[logic].rule {
                // What stands behind it may last longer: not counted, lines may lead in a circle.
                LogicRule::When { off_delay, .. } => off_delay.lo,
                LogicRule::Memory { .. } => 0,
            },
            Atom::Position(device, position) => device_holds(wiring, device, position, open),
            _ => 0,
        },
    }
}

fn device_holds(
    wiring: &Wiring<'_>,
    device: DeviceId,
    position: u8,
    open: &mut Vec<DeviceId>,
) -> i64 {
    let scheme = wiring.scheme();
    let item = &scheme.devices[device];
    match &item.kind {
        DeviceKind::Lockout { reset_by: ResetBy::Hand } if position == 1 => FOR_EVER,
        DeviceKind::Relay if position == 1 => {
            let coil = item.parts.iter().copied().find_map(|part| match &scheme.parts[part].kind {
                PartKind::Coil(coil) => Some((part, coil)),
                _ => None,
            });
            let Some((part, coil)) = coil else { return 0 };
            let ways = wiring.ways(part);
            if !ways.complete || ways.list.is_empty() || open.contains(&device) {
                return 0;
            }
            open.push(device);
            let mut driven = FOR_EVER;
            for way in &ways.list {
                driven = driven.min(way_holds(wiring, &way.parts, open));
                if driven == 0 {
                    break;
                }
            }
            open.pop();
            let picks = coil.pickup_time.as_ref().map_or(0, |time| time.hi);
            let drops = coil.dropout_time.as_ref().map_or(0, |time| time.lo);
            // A drive that may flicker makes no promise.
            if driven > picks { driven - picks + drops } else { 0 }
        }
        _ => 0,
    }
}

/// How long a way is surely whole once it is.
fn way_holds(wiring: &Wiring<'_>, parts: &[PartId], open: &mut Vec<DeviceId>) -> i64 {
    let mut only = None;
    for &part in parts {
        if !matches!(wiring.scheme().parts[part].kind, PartKind::Contact(_)) {
            continue;
        }
        let holds = contact_holds(wiring, part, open);
        if holds >= FOR_EVER {
            continue;
        }
        // Of several each but the one that closes last may be about to open.
        if holds == 0 || only.is_some() {
            return 0;
        }
        only = Some(holds);
    }
    only.unwrap_or(FOR_EVER)
}
