//! The ways on which a contact of their own orders a coil through a part in series.
//!
//! **In:** a coil. **Out:** its ways through resistors, heaters, motors, feeds and varistors that a
//! free way does not stand for. **Never here:** volts.
//!
//! A free way by one contact says nothing of another: a trip contact with a resistor in its branch is
//! a way of its own. It counts where, of every known way, it has a contact or link that the known one
//! has not. A resistor around a contact (a bleeder, an economy resistor) adds no contact to the way
//! past it and is none. Neither is a way that needs the coil to have moved first (a seal-in by its
//! own contact, or by that of a relay which it alone drives): that one holds.

use super::ways::Through;
use super::{Way, Ways, Wiring};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr, PartId, PartKind};
use std::sync::Arc;

/// What was found for one coil.
#[derive(Debug, Default)]
pub(super) struct InSeries {
    orders: Arc<Ways>,
    past: Vec<Way>,
}

impl Wiring<'_> {
    /// Of a coil the ways through parts in series that order it by a contact of their own, beside
    /// those of [`Wiring::ways`]. Empty for anything else.
    pub fn ways_in_series(&self, coil: PartId) -> Arc<Ways> {
        Arc::clone(&self.in_series(coil).orders)
    }

    /// Of a coil the ways past an open contact through a part beside it that some other contact
    /// closes: not orders by themselves. Left out is what its own contacts bridge when it moves.
    pub fn ways_past_contacts(&self, coil: PartId) -> Vec<Way> {
        self.in_series(coil).past.clone()
    }

    fn in_series(&self, coil: PartId) -> Arc<InSeries> {
        let known = self
            .orders
            .get(coil.index())
            .map(|known| Arc::clone(known.get_or_init(|| Arc::new(self.search_in_series(coil)))));
        known.unwrap_or_default()
    }

    fn search_in_series(&self, coil: PartId) -> InSeries {
        if !matches!(self.scheme.parts[coil].kind, PartKind::Coil(_)) {
            return InSeries::default();
        }
        let known = self.ways(coil);
        let known: Vec<Vec<PartId>> =
            known.list.iter().map(|way| self.contacts(way).collect()).collect();
        let through = Through { resistors: true, coils: true, others: true, ..Through::default() };
        let mut found = self.follow(coil, through);
        let moved = self.moved_with(coil);
        let of_moved = |contact: &PartId| {
            self.closed_at(*contact).is_some_and(|(of, _)| moved.iter().any(|it| it.0 == of))
        };
        found.list.retain(|way| {
            let contacts: Vec<PartId> = self.contacts(way).collect();
            way.parts.iter().any(|part| self.takes_volts(*part))
                && !contacts.iter().any(|contact| self.closes_with(*contact, &moved))
                && self.at_one_time(&contacts)
        });
        let (orders, mut past): (Vec<Way>, Vec<Way>) = found.list.drain(..).partition(|way| {
            let contacts: Vec<PartId> = self.contacts(way).collect();
            known.iter().all(|of| contacts.iter().any(|contact| !of.contains(contact)))
        });
        past.retain(|way| {
            let contacts: Vec<PartId> = self.contacts(way).collect();
            contacts.iter().any(|contact| !of_moved(contact))
                && known.iter().any(|of| {
                    let mut open = of.iter().filter(|it| !contacts.contains(it)).peekable();
                    contacts.iter().all(|contact| of.contains(contact))
                        && open.peek().is_some()
                        && !open.any(of_moved)
                })
        });
        InSeries { orders: Arc::new(Ways { list: orders, ..found }), past }
    }

    /// The devices that move only after this coil has moved its own, that one first.
    pub fn moved_with(&self, coil: PartId) -> Vec<(DeviceId, u8)> {
        let part = &self.scheme.parts[coil];
        let (PartKind::Coil(data), Some(device)) = (&part.kind, part.device) else {
            return Vec::new();
        };
        let mut moved = vec![(device, data.drives_to)];
        if !self.is_relay(device) {
            return moved;
        }
        loop {
            let next = self.scheme.coils().find_map(|(id, part, data)| {
                let device = part.device.filter(|it| self.is_relay(*it))?;
                let ways = self.ways(id);
                let follows = part.at.is_some()
                    && !moved.iter().any(|(of, _)| *of == device)
                    && !ways.list.is_empty()
                    && ways.list.iter().all(|way| {
                        self.contacts(way).any(|contact| self.closes_with(contact, &moved))
                    });
                follows.then_some((device, data.drives_to))
            });
            match next {
                Some(next) => moved.push(next),
                None => return moved,
            }
        }
    }

    /// A contact that is closed just while one of these devices stands where it has moved.
    pub fn closes_with(&self, contact: PartId, moved: &[(DeviceId, u8)]) -> bool {
        self.closed_at(contact).is_some_and(|at| moved.contains(&at))
    }

    fn closed_at(&self, contact: PartId) -> Option<(DeviceId, u8)> {
        let PartKind::Contact(contact) = &self.scheme.parts[contact].kind else { return None };
        match contact.closed_when.expr {
            Expr::Atom(Atom::Position(device, position)) => Some((device, position)),
            _ => None,
        }
    }

    fn is_relay(&self, device: DeviceId) -> bool {
        matches!(self.scheme.devices[device].kind, DeviceKind::Relay | DeviceKind::Timer { .. })
    }

    pub(crate) fn contacts<'w>(&'w self, way: &'w Way) -> impl Iterator<Item = PartId> + 'w {
        way.parts.iter().copied().filter(|part| {
            matches!(self.scheme.parts[*part].kind, PartKind::Contact(_) | PartKind::Link)
        })
    }

    /// What stands in series and is neither a contact, a conductor, a diode nor a coil.
    pub(crate) fn takes_volts(&self, part: PartId) -> bool {
        matches!(
            self.scheme.parts[part].kind,
            PartKind::Resistor { .. }
                | PartKind::Heater { .. }
                | PartKind::Motor(_)
                | PartKind::Power { .. }
                | PartKind::Varistor(_)
        )
    }

    /// No two of these contacts ask one device to stand in two places.
    fn at_one_time(&self, contacts: &[PartId]) -> bool {
        let places: Vec<_> = contacts.iter().filter_map(|it| self.closed_at(*it)).collect();
        places.iter().all(|(device, at)| places.iter().all(|(of, is)| of != device || is == at))
    }
}
