//! From what was seen to typed results.

use super::cutoff::FOR_EVER;
use super::loads::Loads;
use super::order::{AnyOrder, Behind, Order};
use super::ratings::{self, Judged, Verdict};
use super::stories::{Seen, Switched};
use super::{Carries, CoilDuty, ContactDuty, Current, CutOff, Momentary, MomentaryWay};
use crate::duty::inductance::told;
use crate::suppression::Suppression;
use fiftytwo_scheme::{Contact, DeviceKind, PartId, PartKind};

/// Everything that was found, ready to be told.
pub(super) struct Report<'a, 'w, 's> {
    pub(super) loads: &'a Loads<'w, 's>,
    pub(super) orders: &'a AnyOrder,
    pub(super) seen: &'a Seen,
    pub(super) suppression: &'a [Suppression],
}

impl Report<'_, '_, '_> {
    pub(super) fn name(&self, part: PartId) -> &str {
        &self.loads.scheme.parts[part].name
    }
    pub(super) fn names(&self, parts: &[PartId]) -> Vec<String> {
        parts.iter().map(|part| self.name(*part).to_owned()).collect()
    }
    pub(super) fn contact(&self, part: PartId) -> Option<&Contact> {
        match &self.loads.scheme.parts[part].kind {
            PartKind::Contact(contact) => Some(contact),
            _ => None,
        }
    }
    pub(super) fn device(&self, part: PartId) -> Option<&DeviceKind> {
        let device = self.loads.scheme.parts[part].device?;
        Some(&self.loads.scheme.devices[device].kind)
    }
    fn judged(&self, part: PartId, with: impl FnOnce(&Contact) -> Judged) -> Judged {
        match self.contact(part) {
            Some(contact) => with(contact),
            None => Judged { verdict: Verdict::NotDeclared, allowed_amps: None, rating: None },
        }
    }
    pub(super) fn breaking(&self, part: PartId, amps: f64, time: f64) -> Judged {
        let nominal = self.loads.nominal(part);
        self.judged(part, |contact| ratings::breaking(contact, amps, nominal, time))
    }
    pub(super) fn making(&self, part: PartId, amps: f64) -> Judged {
        let nominal = self.loads.nominal(part);
        self.judged(part, |contact| ratings::making(contact, amps, nominal))
    }
    /// Magnetic energy of loads at their most, J.
    fn energy(&self, loads: &[PartId]) -> f64 {
        loads.iter().map(|load| self.energy_of(*load)).sum()
    }
    fn energy_of(&self, load: PartId) -> f64 {
        let amps = self.orders.most.get(&load).copied().unwrap_or(0.0);
        let (Some(time), Some(section)) =
            (self.loads.time(load), self.loads.wiring.section_of(load))
        else {
            return 0.0;
        };
        let ohm = self.loads.wiring.ohms(section, load).map_or(0.0, |(cold, _)| cold);
        0.5 * time.most * ohm * amps * amps
    }
    fn current(&self, contact: PartId, loads: &[PartId], it: &Switched, breaks: bool) -> Current {
        let time = self.loads.time_most(loads);
        Current {
            amps: it.amps,
            loads: self.names(loads),
            with: self.names(&it.with),
            time_constant_ms: time * 1e3,
            energy_j: self.energy(loads),
            at: it.at.clone(),
            judged: if breaks {
                self.breaking(contact, it.amps, time)
            } else {
                self.making(contact, it.amps)
            },
        }
    }
    pub(super) fn contacts(&self) -> Vec<ContactDuty> {
        self.loads.contacts.iter().map(|contact| self.duty_of(*contact)).collect()
    }
    fn duty_of(&self, contact: PartId) -> ContactDuty {
        let makes = self.seen.makes.range((contact, Vec::new())..);
        let breaks = self.seen.breaks.range((contact, Vec::new())..);
        let makes = makes
            .take_while(|((id, _), _)| *id == contact)
            .map(|((_, loads), it)| self.current(contact, loads, it, false));
        let breaks = breaks
            .take_while(|((id, _), _)| *id == contact)
            .map(|((_, loads), it)| self.current(contact, loads, it, true));
        let carries = self.seen.carries.get(&contact).map(|it| Carries {
            amps: it.amps,
            at: it.at.clone(),
            judged: self.judged(contact, |data| ratings::carrying(data, it.amps, &it.above)),
        });
        let behind = || self.behind(contact);
        ContactDuty {
            contact: self.name(contact).to_owned(),
            nominal_volts: self.loads.nominal(contact),
            makes: makes.collect(),
            carries,
            breaks: breaks.collect(),
            makes_at_most: behind().map(|(_, it)| it.own_starting).sum(),
            any_order: behind().map(|(load, it)| self.told_behind(contact, load, it)).collect(),
            typical: self.typical_of(contact),
        }
    }
    pub(super) fn behind(&self, contact: PartId) -> impl Iterator<Item = (PartId, &Behind)> {
        self.orders
            .behind
            .iter()
            .filter(move |((id, _), _)| *id == contact)
            .map(|((_, load), it)| (*load, it))
    }
    fn told_behind(&self, contact: PartId, load: PartId, it: &Behind) -> super::Behind {
        let time = self.loads.time_most(&it.loads(load));
        super::Behind {
            load: self.name(load).to_owned(),
            together: self.names(&it.together),
            amps: it.amps,
            starting_amps: it.starting,
            order: it.order,
            because: self.because(contact, load, it),
            judged: self.breaking(contact, it.amps, time),
        }
    }
    /// Why a contact may, or may not, be the one that breaks.
    pub(super) fn because(&self, contact: PartId, load: PartId, it: &Behind) -> String {
        let name = self.name(contact);
        let ms = |us: i64| told(us as f64 / 1e3);
        let holds = if it.holds >= FOR_EVER {
            format!("{name} stays closed until a person opens or resets it")
        } else if it.holds == 0 {
            format!("nothing keeps {name} closed for so long")
        } else {
            format!("{name} is sure to stay closed for {} ms", ms(it.holds))
        };
        match (it.order, it.cut_off) {
            (Order::Held, Some((cut, latest))) => format!(
                "{} has opened {} ms after {} is driven, and {holds}",
                self.name(cut),
                ms(latest),
                self.name(load)
            ),
            (Order::After, Some((cut, latest))) => {
                format!("{} has opened before it, {} ms at the latest", self.name(cut), ms(latest))
            }
            (Order::CutsOff, _) => {
                format!("it opens when {} has done its work", self.name(load))
            }
            (Order::May, Some((cut, latest))) => {
                format!("{} may take {} ms to open, and {holds}", self.name(cut), ms(latest))
            }
            (Order::May, None) if it.unsure => {
                format!("at its least volts {} does not surely move", self.name(load))
            }
            (Order::Held, None) => holds,
            _ => "nothing else on its way opens by itself".to_owned(),
        }
    }
    fn typical_of(&self, contact: PartId) -> Option<String> {
        self.contact(contact).filter(|data| data.breaks.is_empty())?;
        let of = match self.device(contact)? {
            DeviceKind::Ied { .. } => "output of a protection relay",
            DeviceKind::Breaker { .. } => "auxiliary switch of a breaker",
            _ => return None,
        };
        ratings::typical(of, self.loads.nominal(contact))
    }
    pub(super) fn coils(&self) -> Vec<CoilDuty> {
        self.loads.coils.iter().map(|(coil, _)| self.coil(*coil)).collect()
    }
    fn coil(&self, coil: PartId) -> CoilDuty {
        let cut_off = self.seen.cut_off.range((coil, Vec::new())..);
        let cut_off = cut_off.take_while(|((id, _), _)| *id == coil).map(|((_, by), it)| CutOff {
            by: self.names(by),
            amps: it.amps,
            times: it.times,
            next: it.next.map(|(next, _)| self.name(next).to_owned()),
            ahead_ms: it.next.map(|(_, us)| us as f64 / 1e3),
            at: it.at.clone(),
        });
        let may = self
            .orders
            .behind
            .iter()
            .filter(|((_, load), it)| {
                *load == coil && matches!(it.order, Order::May | Order::CutsOff)
            })
            .map(|((contact, _), _)| self.name(*contact).to_owned());
        let name = self.name(coil);
        let peaks = self.suppression.iter().filter(|it| it.coil == name && it.inside.is_empty());
        CoilDuty {
            coil: name.to_owned(),
            amps: self.orders.most.get(&coil).copied().unwrap_or(0.0),
            time_constant_ms: self.loads.time(coil).map(|time| [time.least * 1e3, time.most * 1e3]),
            energy_j: self.energy_of(coil),
            peak_volts: peaks.filter_map(|it| it.peak_volts).min_by(f64::total_cmp),
            cut_off: cut_off.collect(),
            may_break: may.collect(),
            momentary: self.momentary(coil),
            more_ways: self.orders.incomplete.contains(&coil),
        }
    }
    fn momentary(&self, coil: PartId) -> Option<Momentary> {
        let PartKind::Coil(data) = &self.loads.scheme.parts[coil].kind else { return None };
        let max_on = data.max_on.as_ref()?;
        let on = self.seen.on.get(&coil);
        let ways = self.orders.ways.get(&coil).into_iter().flatten().map(|way| MomentaryWay {
            contacts: self.names(&way.contacts),
            cut_off_by: self.names(&way.lasting),
            for_a_while: self.names(&way.passing),
        });
        Some(Momentary {
            max_on_ms: [max_on.lo as f64 / 1e3, max_on.hi as f64 / 1e3],
            longest_ms: on.map(|on| on.us as f64 / 1e3),
            endless: on.is_some_and(|on| on.endless),
            at: on.map(|on| on.at.clone()),
            ways: ways.collect(),
        })
    }
    /// Typical values in use: L/R, and ratings written as typical.
    pub(super) fn typical(&self) -> Vec<String> {
        let scheme = self.loads.scheme;
        let times =
            self.loads.coils.iter().filter_map(|(coil, _)| self.loads.time(*coil)?.typical.clone());
        let ratings = self.loads.contacts.iter().filter_map(|id| {
            let contact = self.contact(*id)?;
            let lines = contact.makes.iter().chain(&contact.carries).chain(&contact.breaks);
            let mut words: Vec<String> =
                lines.filter(|line| line.amps.typical).map(ratings::words).collect();
            words.dedup();
            (!words.is_empty())
                .then(|| format!("{}: {} as written", scheme.parts[*id].name, words.join(", ")))
        });
        times.chain(ratings).collect()
    }
}
