//! What every contact makes, carries and breaks while the stories are played.
//!
//! **In:** the machine and the bench. **Out:** for each contact its greatest currents, for each coil
//! who cut it off and how long it was on. **Never here:** orders of events that no story tells (that
//! is [`order`](super::order)), ratings.
//!
//! Every story is played at the low, middle and high end of all delays together and of all volts.
//! Currents are those of the corner of greatest current, steady: a coil that was driven for less
//! than a few times its L/R carries less. A contact *breaks* if it carried current, opens, and more
//! than [`ARC_VOLTS`] stand across it afterwards; otherwise it hands its current over to another way.

use super::currents::Currents;
use super::loads::Loads;
use super::player::Player;
use fiftytwo_circuit::BenchFault;
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_motion::{Machine, Operating, PlayOptions, play_seen};
use fiftytwo_scheme::PartId;
use serde::Serialize;
use std::collections::BTreeMap;

/// Below this voltage no arc stands between opening contacts, V (from memory: contact handbooks give
/// 10 to 15 V for the usual metals).
pub const ARC_VOLTS: f64 = 10.0;

/// A moment of a story.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Moment {
    /// The story.
    pub story: String,
    /// Volts it was played at.
    pub volts: Operating,
    /// Delays it was played at.
    pub delays: Operating,
    /// µs from its beginning.
    pub time_us: i64,
}

/// Made or broken.
#[derive(Debug, Clone)]
pub(super) struct Switched {
    pub(super) amps: f64,
    pub(super) at: Moment,
    /// Other contacts that moved with it in the same instant and carried the same current.
    pub(super) with: Vec<PartId>,
    /// A coil was on: not only the trickle of a monitor.
    pub(super) on: bool,
}

/// Carried.
#[derive(Debug, Clone)]
pub(super) struct Carried {
    pub(super) amps: f64,
    pub(super) at: Moment,
    /// For each line of the contact's carry ratings: the longest time above it, s.
    pub(super) above: Vec<f64>,
}

/// Who cut a coil off.
#[derive(Debug, Clone)]
pub(super) struct CutOff {
    pub(super) amps: f64,
    pub(super) at: Moment,
    /// How often in all plays.
    pub(super) times: u32,
    /// The next contact of the coil's way to open, and how much later, µs: the nearest of all plays.
    pub(super) next: Option<(PartId, i64)>,
}

/// How long a coil was on.
#[derive(Debug, Clone)]
pub(super) struct OnTime {
    pub(super) us: i64,
    pub(super) at: Moment,
    /// It was still on at the end of the story.
    pub(super) endless: bool,
}

/// What came of all plays.
#[derive(Debug, Default)]
pub(super) struct Seen {
    /// By contact and the loads won.
    pub(super) makes: BTreeMap<(PartId, Vec<PartId>), Switched>,
    /// By contact and the loads lost.
    pub(super) breaks: BTreeMap<(PartId, Vec<PartId>), Switched>,
    pub(super) carries: BTreeMap<PartId, Carried>,
    /// By coil and the contacts that cut it off together; none: the supply went.
    pub(super) cut_off: BTreeMap<(PartId, Vec<PartId>), CutOff>,
    pub(super) on: BTreeMap<PartId, OnTime>,
    pub(super) faults: Vec<BenchFault>,
    /// Stories in which time did not go on.
    pub(super) stuck: Vec<String>,
}

/// Plays all stories.
pub(super) fn play_all(
    machine: &Machine<'_>,
    loads: &Loads<'_, '_>,
    currents: &mut Currents<'_, '_>,
) -> Seen {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let mut all = Seen::default();
    for story in &machine.scheme.stories {
        for volts in [Operating::Low, Operating::Middle, Operating::High] {
            for delays in [Operating::Low, Operating::Middle, Operating::High] {
                let options = PlayOptions { volts, delays };
                let mut seen = Seen::default();
                let mut player = Player::new(loads, currents, &mut seen, story, options);
                let timeline = play_seen(&evaluator, story, options, &mut |now, look| {
                    player.step(now, look);
                });
                player.end(timeline.end_us);
                // What moves without end in one instant has no times worth telling.
                if timeline.stuck.is_none() {
                    all.take_in(seen);
                } else if !all.stuck.contains(&story.name) {
                    all.stuck.push(story.name.clone());
                }
            }
        }
    }
    all.faults.clone_from(&currents.faults);
    all
}

impl Seen {
    /// Takes in another play.
    fn take_in(&mut self, other: Self) {
        for (key, item) in other.makes {
            note(&mut self.makes, key, item);
        }
        for (key, item) in other.breaks {
            note(&mut self.breaks, key, item);
        }
        for (contact, item) in other.carries {
            let Some(known) = self.carries.get_mut(&contact) else {
                self.carries.insert(contact, item);
                continue;
            };
            for (longest, above) in known.above.iter_mut().zip(&item.above) {
                *longest = longest.max(*above);
            }
            if item.amps > known.amps {
                (known.amps, known.at) = (item.amps, item.at);
            }
        }
        for (key, item) in other.cut_off {
            let Some(known) = self.cut_off.get_mut(&key) else {
                self.cut_off.insert(key, item);
                continue;
            };
            known.times += item.times;
            known.next = match (known.next, item.next) {
                (Some(a), Some(b)) => Some(if b.1 < a.1 { b } else { a }),
                (a, b) => a.or(b),
            };
            if item.amps > known.amps {
                (known.amps, known.at) = (item.amps, item.at);
            }
        }
        for (coil, item) in other.on {
            match self.on.get_mut(&coil) {
                Some(known) if known.us >= item.us => {}
                Some(known) => *known = item,
                None => {
                    self.on.insert(coil, item);
                }
            }
        }
    }
}

pub(super) fn note(
    into: &mut BTreeMap<(PartId, Vec<PartId>), Switched>,
    key: (PartId, Vec<PartId>),
    item: Switched,
) {
    match into.get_mut(&key) {
        Some(known) if known.amps >= item.amps => {}
        Some(known) => *known = item,
        None => {
            into.insert(key, item);
        }
    }
}
