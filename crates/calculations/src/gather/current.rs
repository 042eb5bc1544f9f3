//! What one coil's current brings about at its fuses, its contacts and the coils beside it.
//!
//! **In:** the pool of findings, the reports on coils. **Out:** the same pool; where at least two of
//! fuses, contacts and the coil itself blame one coil's current, one finding with every cure in it.
//! **Never here:** new numbers.

use super::{OF_A_COIL, follow, take};
use fiftytwo_circuit::CoilReport;
use fiftytwo_scheme::{Finding, Severity};
use std::collections::BTreeSet;

/// What a fuse tells that has to carry too much.
pub(super) const OF_A_FUSE: [&str; 3] =
    ["fuse-below-load", "fuse-overloaded", "fuse-melts-at-inrush"];
/// What a contact tells that has too much to switch.
pub(super) const OF_A_CONTACT: [&str; 3] =
    ["contact-makes-too-much", "contact-breaks-too-much", "contact-carries-too-much"];

/// The findings that one coil's current may have brought about.
#[derive(Clone, Copy)]
struct Blame<'c> {
    coils: &'c [CoilReport],
    coil: &'c CoilReport,
}

impl Blame<'_> {
    fn is_first(self, it: &Finding) -> bool {
        it.devices.first().is_some_and(|first| *first == self.coil.coil)
    }
    fn own(self, it: &Finding) -> bool {
        matches!(it.id, "drive-too-low" | "coil-power") && self.is_first(it)
    }
    fn fuse(self, it: &Finding) -> bool {
        OF_A_FUSE.contains(&it.id) && it.devices.contains(&self.coil.coil)
    }
    fn contact(self, it: &Finding) -> bool {
        OF_A_CONTACT.contains(&it.id) && it.devices.contains(&self.coil.coil)
    }
    fn any(self, it: &Finding) -> bool {
        it.severity != Severity::Note && (self.own(it) || self.fuse(it) || self.contact(it))
    }
    /// A coil of the same supply that is starved only while others draw.
    fn starved_beside(self, it: &Finding) -> bool {
        let supply = |coil: &CoilReport| coil.ways.first().map(|way| way.supply.clone());
        let low = it.devices.first().and_then(|low| self.coils.iter().find(|it| it.coil == *low));
        it.id == "drive-too-low"
            && it.message.contains(" while every other load beside it is on")
            && low.is_some_and(|low| supply(low) == supply(self.coil))
    }
    fn follows(self, it: &Finding) -> bool {
        let brought = OF_A_COIL.contains(&it.id) && self.is_first(it);
        it.severity != Severity::Note && (self.any(it) || self.starved_beside(it) || brought)
    }
    /// One contact alone, or the coil's volts alone, is a trouble of its own.
    fn several(self, pool: &[Option<Finding>]) -> bool {
        let told = || pool.iter().flatten().filter(|it| it.severity != Severity::Note);
        let contacts: BTreeSet<Option<&String>> =
            told().filter(|it| self.contact(it)).map(|it| it.devices.first()).collect();
        let (own, fuse) = (told().any(|it| self.own(it)), told().any(|it| self.fuse(it)));
        contacts.len() > 1 || [own, fuse, !contacts.is_empty()].iter().filter(|it| **it).count() > 1
    }
    fn rank(self, it: &Finding) -> usize {
        match it.id {
            "drive-too-low" => 0,
            "coil-power" => 1,
            _ if self.fuse(it) => 2,
            "contact-makes-too-much" => 3,
            _ => 4,
        }
    }
}

/// A coil that draws more than its fuses, its contacts and its conductors are made for: most likely
/// its ohms are wrong; if not, each cure is named.
pub(super) fn draws_too_much(
    pool: &mut [Option<Finding>],
    coils: &[CoilReport],
    coil: &CoilReport,
) {
    let blame = Blame { coils, coil };
    if !blame.several(pool) {
        return;
    }
    let rank =
        |slot: &Option<Finding>| slot.as_ref().filter(|it| blame.any(it)).map(|it| blame.rank(it));
    let ranked = pool.iter().enumerate().filter_map(|(at, slot)| Some((rank(slot)?, at)));
    let Some((_, place)) = ranked.min() else { return };
    let Some(mut head) = pool[place].take() else { return };
    let followers = take(pool, place, |it| blame.follows(it));
    let mut cures: Vec<String> = head.help.take().into_iter().collect();
    for follower in &followers {
        let of = follower.devices.first().cloned().unwrap_or_default();
        cures.extend(follower.help.as_ref().map(|cure| format!("{of}: {cure}")));
    }
    let ohms = match coil.ohms {
        Some([least, most]) if least < most => format!(" ({least} to {most} ohm)"),
        Some([_, most]) => format!(" ({most} ohm)"),
        None => String::new(),
    };
    let name = &coil.coil;
    head.help =
        Some(format!("check the ohms of {name}{ohms}; if they are right: {}", cures.join("; ")));
    follow(&mut head, &format!("What {name} draws also brings about"), followers);
    pool[place] = Some(head);
}
