//! Follows one play of a story: which contacts carried what before and after each step.

use super::currents::{Currents, Sample, Stand};
use super::loads::Loads;
use super::stories::{ARC_VOLTS, Carried, CutOff, Moment, OnTime, Seen, Switched, note};
use fiftytwo_motion::machine::Look;
use fiftytwo_motion::{Operating, PlayOptions, Tri};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind, Story, SupplyId};
use std::collections::BTreeMap;
use std::rc::Rc;

/// Below this a contact carries nothing, A.
const NOTHING: f64 = 1e-6;
/// A load is lost or won if its current changes by this share of the contact's.
const SHARE: f64 = 0.1;

struct Now {
    stand: Stand,
    sample: Option<Rc<Sample>>,
    since: i64,
}

struct Waiting {
    coil: PartId,
    by: Vec<PartId>,
    since: i64,
    others: Vec<PartId>,
}

pub(super) struct Player<'p, 'l, 'w, 's, 'b> {
    loads: &'p Loads<'l, 's>,
    currents: &'p mut Currents<'b, 'w>,
    seen: &'p mut Seen,
    story: &'p Story,
    options: PlayOptions,
    now: Option<Now>,
    /// Since when each coil is on.
    on_since: BTreeMap<PartId, i64>,
    waiting: Vec<Waiting>,
    /// For each contact with carry ratings: for how long it has been above each line, µs.
    above: BTreeMap<PartId, Vec<i64>>,
}

impl<'p, 'l, 'w, 's, 'b> Player<'p, 'l, 'w, 's, 'b> {
    pub(super) fn new(
        loads: &'p Loads<'l, 's>,
        currents: &'p mut Currents<'b, 'w>,
        seen: &'p mut Seen,
        story: &'p Story,
        options: PlayOptions,
    ) -> Self {
        Self {
            loads,
            currents,
            seen,
            story,
            options,
            now: None,
            on_since: BTreeMap::new(),
            waiting: Vec::new(),
            above: BTreeMap::new(),
        }
    }
    fn moment(&self, time_us: i64) -> Moment {
        Moment {
            story: self.story.name.clone(),
            volts: self.options.volts,
            delays: self.options.delays,
            time_us,
        }
    }
    fn stand(&self, look: &Look<'_, '_, '_>) -> Stand {
        let scheme = self.loads.scheme;
        let high = self.options.volts == Operating::High;
        let closed = scheme.parts.iter().map(|(id, part)| match part.kind {
            PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. } if part.at.is_some() => {
                match look.closed(id) {
                    Tri::Yes => true,
                    Tri::Perhaps => high,
                    Tri::No => false,
                }
            }
            _ => true,
        });
        let live = look.live();
        Stand {
            closed: closed.collect(),
            live: scheme.supplies.ids().map(|id: SupplyId| live.lives(id)).collect(),
        }
    }
    pub(super) fn step(&mut self, now: i64, look: &Look<'_, '_, '_>) {
        let stand = self.stand(look);
        if self.now.as_ref().is_some_and(|was| was.stand == stand) {
            return;
        }
        let sample = self.currents.steady(&stand);
        let was = self.now.take();
        if let Some(was) = &was {
            self.carry(was, now);
            if let (Some(before), Some(after)) = (&was.sample, &sample) {
                self.change(now, was, before, &stand, after);
            }
        }
        if let Some(sample) = &sample {
            self.coils(now, was.as_ref(), &stand, sample);
        }
        self.now = Some(Now { stand, sample, since: now });
    }
    fn carry(&mut self, was: &Now, until: i64) {
        let Some(sample) = &was.sample else { return };
        for &contact in &self.loads.contacts {
            if !was.stand.closed[contact.index()] {
                self.above.remove(&contact);
                continue;
            }
            let Some(amps) = sample.amps(contact) else { continue };
            if amps < NOTHING {
                self.above.remove(&contact);
                continue;
            }
            let at = self.moment(was.since);
            let entry = self.seen.carries.entry(contact).or_insert_with(|| Carried {
                amps: 0.0,
                at: at.clone(),
                above: Vec::new(),
            });
            if amps > entry.amps {
                entry.amps = amps;
                entry.at = at;
            }
            let PartKind::Contact(data) = &self.loads.scheme.parts[contact].kind else { continue };
            if data.carries.is_empty() {
                continue;
            }
            let running = self.above.entry(contact).or_insert_with(|| vec![0; data.carries.len()]);
            entry.above.resize(data.carries.len(), 0.0);
            for ((line, so_far), longest) in data.carries.iter().zip(running).zip(&mut entry.above)
            {
                *so_far = if amps <= line.amps.lo {
                    0
                } else if until == i64::MAX {
                    i64::MAX
                } else {
                    so_far.saturating_add(until - was.since)
                };
                let seconds =
                    if *so_far == i64::MAX { f64::INFINITY } else { *so_far as f64 / 1e6 };
                *longest = longest.max(seconds);
            }
        }
    }
    fn change(&mut self, now: i64, was: &Now, before: &Sample, stand: &Stand, after: &Sample) {
        let moved = |contact: &&PartId, to: bool| {
            let index = contact.index();
            was.stand.closed[index] != to && stand.closed[index] == to
        };
        let contacts = &self.loads.contacts;
        let opened: Vec<PartId> =
            contacts.iter().filter(|contact| moved(contact, false)).copied().collect();
        let closed: Vec<PartId> =
            contacts.iter().filter(|contact| moved(contact, true)).copied().collect();
        for &contact in &opened {
            let (amps, lost) = self.loads.changed(contact, before, after, SHARE);
            let arcs = after.across(contact).is_none_or(|volts| volts >= ARC_VOLTS);
            if amps < NOTHING || !arcs || lost.is_empty() {
                continue;
            }
            let lost = self.own(&was.stand, contact, (before, amps), lost);
            let same = |other: &&PartId| {
                **other != contact
                    && before.amps(**other).is_some_and(|it| (it - amps).abs() <= SHARE * amps)
                    && self.loads.together(contact, **other, &lost)
            };
            let with = opened.iter().filter(same).copied().collect();
            let at = self.moment(now);
            let on = self.loads.any_on(&lost, before);
            note(&mut self.seen.breaks, (contact, lost), Switched { amps, at, with, on });
        }
        if closed.is_empty() {
            return;
        }
        let (_, won) = self.loads.won(before, after);
        let starts = won.iter().any(|load| self.loads.starts(*load));
        let made = if starts { self.currents.starting(stand) } else { None };
        let made = made.as_deref().unwrap_or(after);
        for &contact in &closed {
            let (amps, won) = self.loads.changed(contact, made, before, SHARE);
            if amps < NOTHING || won.is_empty() {
                continue;
            }
            let won = self.own(stand, contact, (made, amps), won);
            let at = self.moment(now);
            let on = self.loads.any_on(&won, after);
            let switched = Switched { amps, at, with: Vec::new(), on };
            note(&mut self.seen.makes, (contact, won), switched);
        }
    }
    /// Of loads that changed in the same instant those that this contact feeds: with it alone open they draw
    /// less. All of them where that tells none (another contact beside it feeds them too).
    fn own(
        &mut self,
        stand: &Stand,
        contact: PartId,
        (sample, amps): (&Sample, f64),
        loads: Vec<PartId>,
    ) -> Vec<PartId> {
        if loads.len() < 2 {
            return loads;
        }
        let mut without = stand.clone();
        without.closed[contact.index()] = false;
        let Some(without) = self.currents.steady(&without) else { return loads };
        let least = SHARE * amps;
        let feeds = |load: &PartId| sample.drawn(*load) - without.drawn(*load) > least;
        let own: Vec<PartId> = loads.iter().copied().filter(feeds).collect();
        if own.is_empty() { loads } else { own }
    }
    fn coils(&mut self, now: i64, was: Option<&Now>, stand: &Stand, sample: &Sample) {
        let opened = |contact: PartId| {
            was.is_some_and(|was| was.stand.closed[contact.index()])
                && !stand.closed[contact.index()]
        };
        // Next contacts to open on the ways of coils that are off already.
        let mut waiting = std::mem::take(&mut self.waiting);
        waiting.retain(|entry| {
            let next = entry.others.iter().copied().find(|contact| opened(*contact));
            if let Some(next) = next
                && let Some(cut) = self.seen.cut_off.get_mut(&(entry.coil, entry.by.clone()))
            {
                let later = now - entry.since;
                if cut.next.is_none_or(|(_, nearest)| later < nearest) {
                    cut.next = Some((next, later));
                }
            }
            next.is_none()
        });
        self.waiting = waiting;
        for &(coil, from) in &self.loads.coils {
            let on = sample.across(coil).is_some_and(|volts| volts >= from);
            let since = self.on_since.get(&coil).copied();
            match (on, since) {
                (true, None) => {
                    self.on_since.insert(coil, now);
                    self.waiting.retain(|entry| entry.coil != coil);
                }
                (false, Some(since)) => {
                    self.on_since.remove(&coil);
                    self.was_on(coil, since, now, false);
                    if let Some(was) = was {
                        self.cut_off(coil, now, was, stand);
                    }
                }
                _ => {}
            }
        }
    }
    fn cut_off(&mut self, coil: PartId, now: i64, was: &Now, stand: &Stand) {
        let Some(before) = &was.sample else { return };
        let amps = before.drawn(coil);
        let carries = |contact: PartId| {
            was.stand.closed[contact.index()]
                && before.amps(contact).is_none_or(|it| it >= amps / 2.0)
        };
        let on_its_ways: Vec<PartId> =
            self.loads.on_ways(coil).iter().copied().filter(|contact| carries(*contact)).collect();
        let (by, others): (Vec<PartId>, Vec<PartId>) =
            on_its_ways.into_iter().partition(|contact| !stand.closed[contact.index()]);
        let at = self.moment(now);
        let cut = self.seen.cut_off.entry((coil, by.clone())).or_insert_with(|| CutOff {
            amps: 0.0,
            at: at.clone(),
            times: 0,
            next: None,
        });
        cut.times += 1;
        if amps > cut.amps {
            cut.amps = amps;
            cut.at = at;
        }
        self.waiting.push(Waiting { coil, by, since: now, others });
    }
    fn was_on(&mut self, coil: PartId, since: i64, until: i64, endless: bool) {
        let us = until - since;
        let at = self.moment(since);
        let entry = self.seen.on.entry(coil).or_insert(OnTime { us: -1, at: at.clone(), endless });
        if us > entry.us {
            *entry = OnTime { us, at, endless };
        }
    }
    pub(super) fn end(mut self, end: i64) {
        if let Some(was) = self.now.take() {
            self.carry(&was, i64::MAX);
        }
        let on: Vec<(PartId, i64)> = self.on_since.iter().map(|(coil, at)| (*coil, *at)).collect();
        for (coil, since) in on {
            self.was_on(coil, since, end, true);
        }
    }
}
