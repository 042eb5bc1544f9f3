//! Which contacts of a coil's ways may be the one that opens while its current flows, in any order of
//! events.
//!
//! **In:** a compiled scheme and the bench. **Out:** for each contact and load the current and an
//! [`Order`]. **Never here:** stories.
//!
//! The rule. Every contact of every way of a coil may break its current, unless
//! - another contact of that way, the coil's own cut-off, surely opens first: the coil is surely
//!   driven on that way (its least volts reach what it surely works from), the cut-off opens at the
//!   latest T after that, and this contact, having made the current itself, surely stays closed
//!   longer than T ([`Order::Held`]), or
//! - it hangs on the same stroke and its earliest moment is no earlier than T ([`Order::After`]).
//!
//! What it does not cover: a device that does not obey its coil (then whatever opens breaks it), and
//! a contact near the end of its time when another one of the way makes the current late. "May
//! break" is therefore what any order allows; the stories tell who does.

use super::currents::{Currents, Sample, Stand};
use super::cutoff::{FOR_EVER, OwnCutOff, holds, own_cut_off};
use super::loads::{Loads, one_coil};
use fiftytwo_circuit::warmth::surely_moves_from;
use fiftytwo_circuit::{Supplies, Way};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind};
use serde::Serialize;
use std::collections::BTreeMap;
use std::rc::Rc;

/// How a contact stands among those that may open first. The later, the worse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Order {
    /// It surely stays closed until the coil's own cut-off has opened.
    Held,
    /// It surely opens after the coil's own cut-off.
    After,
    /// It is the coil's own cut-off: it breaks the current in the normal course.
    CutsOff,
    /// It may open first.
    May,
}

/// One contact and one load.
#[derive(Debug, Clone)]
pub(super) struct Behind {
    pub(super) order: Order,
    /// The most that runs through it when the load is on and no other contact than those of its way
    /// is closed, steady and starting, A: what is wired together with the load counts.
    pub(super) amps: f64,
    pub(super) starting: f64,
    /// The other loads that are on then through this contact.
    pub(super) together: Vec<PartId>,
    /// What the load alone draws of `starting`, A.
    pub(super) own_starting: f64,
    /// The own cut-off that counts on the worst way, and when it has opened at the latest, µs.
    pub(super) cut_off: Option<(PartId, i64)>,
    /// How long the contact surely holds, µs.
    pub(super) holds: i64,
    /// The coil's least volts on the worst way do not surely move it.
    pub(super) unsure: bool,
}

impl Behind {
    /// The load, and what is wired together with it.
    pub(super) fn loads(&self, load: PartId) -> Vec<PartId> {
        std::iter::once(load).chain(self.together.iter().copied()).collect()
    }
}

/// One way of a coil and what cuts it off.
#[derive(Debug, Clone)]
pub(super) struct WayCut {
    pub(super) contacts: Vec<PartId>,
    pub(super) lasting: Vec<PartId>,
    pub(super) passing: Vec<PartId>,
}

/// What any order of events allows.
#[derive(Debug, Default)]
pub(super) struct AnyOrder {
    pub(super) behind: BTreeMap<(PartId, PartId), Behind>,
    pub(super) ways: BTreeMap<PartId, Vec<WayCut>>,
    /// Loads with more ways than were followed.
    pub(super) incomplete: Vec<PartId>,
    /// The most each load draws on any way, A.
    pub(super) most: BTreeMap<PartId, f64>,
}

/// Looks at every way of every load.
pub(super) fn any_order(loads: &Loads<'_, '_>, currents: &mut Currents<'_, '_>) -> AnyOrder {
    let mut result = AnyOrder::default();
    let mut held: BTreeMap<PartId, i64> = BTreeMap::new();
    for load in loads.asked() {
        let ways = loads.wiring.ways(load);
        let series = loads.wiring.ways_in_series(load);
        if !ways.complete || !series.complete {
            result.incomplete.push(load);
        }
        let is_burden = loads.burdens.contains(&load);
        let can_be = |way: &&Way| !is_burden || crate::burdens::can_be(loads.scheme, way);
        let series = series.list.iter().filter(|way| one_coil(loads.scheme, way));
        for way in ways.list.iter().filter(can_be).chain(series) {
            let contacts: Vec<PartId> = way
                .parts
                .iter()
                .copied()
                .filter(|part| {
                    matches!(loads.scheme.parts[*part].kind, PartKind::Contact(_) | PartKind::Link)
                })
                .collect();
            let drawn = Drawn::new(loads, currents, way, load);
            let most = result.most.entry(load).or_insert(0.0);
            *most = most.max(drawn.own);
            let cuts: Vec<(PartId, OwnCutOff)> = contacts
                .iter()
                .filter_map(|contact| Some((*contact, own_cut_off(loads.wiring, load, *contact)?)))
                .collect();
            let sure = surely_moves(loads, way, load);
            for &contact in &contacts {
                let holds = *held.entry(contact).or_insert_with(|| holds(loads.wiring, contact));
                let through = drawn.through(loads, currents, contact);
                let found = judge(loads, contact, &cuts, holds, sure, through);
                result
                    .behind
                    .entry((contact, load))
                    .and_modify(|worst| {
                        let (amps, starting) =
                            (worst.amps.max(found.amps), worst.starting.max(found.starting));
                        let own_starting = worst.own_starting.max(found.own_starting);
                        let together = if found.amps > worst.amps {
                            found.together.clone()
                        } else {
                            std::mem::take(&mut worst.together)
                        };
                        if found.order > worst.order {
                            *worst = found.clone();
                        }
                        (worst.amps, worst.starting) = (amps, starting);
                        (worst.own_starting, worst.together) = (own_starting, together);
                    })
                    .or_insert(found);
            }
            if matches!(loads.scheme.parts[load].kind, PartKind::Coil(_)) {
                let of = |lasting: bool| {
                    cuts.iter()
                        .filter(|(_, cut)| cut.lasting == lasting)
                        .map(|(contact, _)| *contact)
                        .collect()
                };
                let cut = WayCut { lasting: of(true), passing: of(false), contacts };
                result.ways.entry(load).or_default().push(cut);
            }
        }
    }
    result
}

fn judge(
    loads: &Loads<'_, '_>,
    contact: PartId,
    cuts: &[(PartId, OwnCutOff)],
    holds: i64,
    sure: bool,
    through: Through,
) -> Behind {
    let device = |part: PartId| loads.scheme.parts[part].device;
    let own = cuts.iter().find(|(other, _)| *other == contact).map(|(_, cut)| *cut);
    let first = cuts
        .iter()
        .filter(|(other, cut)| {
            // Two contacts of one relay open together: neither waits for the other.
            *other != contact && (cut.pure || device(*other) != device(contact))
        })
        .filter_map(|(other, cut)| Some((*other, cut.latest?)))
        .min_by_key(|(_, latest)| *latest)
        .filter(|_| sure);
    let order = match (own, first) {
        (Some(cut), Some((_, latest))) if cut.pure && cut.earliest >= latest => Order::After,
        (Some(cut), _) if cut.pure => Order::CutsOff,
        // It may open for other reasons too, but nothing else breaks the current in the end.
        (Some(_), None) if sure => Order::CutsOff,
        (_, Some((_, latest))) if holds >= latest => Order::Held,
        (None, None) if holds >= FOR_EVER => Order::Held,
        _ => Order::May,
    };
    let Through { amps, starting, together, own_starting } = through;
    let unsure = !sure && !cuts.is_empty();
    Behind { order, amps, starting, together, own_starting, cut_off: first, holds, unsure }
}

/// Whether the coil surely moves on a way at its least volts. Loads that move nothing: true.
fn surely_moves(loads: &Loads<'_, '_>, way: &Way, load: PartId) -> bool {
    let part = &loads.scheme.parts[load];
    if !matches!(part.kind, PartKind::Coil(_)) {
        return true;
    }
    let needs = surely_moves_from(loads.scheme, part);
    let (Some(section), Some(needs)) = (loads.wiring.section_of(load), needs) else {
        return false;
    };
    let drives = loads.wiring.drive(section, &way.closed, Supplies::ALL);
    drives.iter().any(|drive| drive.part == load && drive.volts_lo >= needs)
}

/// What runs through one contact.
struct Through {
    amps: f64,
    starting: f64,
    together: Vec<PartId>,
    own_starting: f64,
}

/// A load on one way alone at the corner of greatest current: the contacts of the way closed, all
/// others open.
struct Drawn {
    load: PartId,
    stand: Stand,
    steady: Option<Rc<Sample>>,
    starting: Option<Rc<Sample>>,
    own: f64,
}

/// A contact that carries so much more than the load carries something else too.
const MORE: f64 = 1.005;

impl Drawn {
    fn new(
        loads: &Loads<'_, '_>,
        currents: &mut Currents<'_, '_>,
        way: &Way,
        load: PartId,
    ) -> Self {
        let switches = |kind: &PartKind| {
            matches!(kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. })
        };
        let mut closed: Vec<bool> =
            loads.scheme.parts.values().map(|part| !switches(&part.kind)).collect();
        for part in &way.parts {
            closed[part.index()] = true;
        }
        let stand = Stand { closed, live: vec![true; loads.scheme.supplies.len()] };
        let steady = currents.steady(&stand);
        let runs = |load: &PartId| {
            loads.starts(*load) && steady.as_ref().is_some_and(|it| it.drawn(*load) > 0.0)
        };
        let starts = loads.starts(load) || loads.all.iter().any(runs);
        let starting = if starts { currents.starting(&stand) } else { None };
        let own = steady.as_ref().map_or(0.0, |sample| sample.drawn(load));
        Self { load, stand, steady, starting, own }
    }

    fn through(
        &self,
        loads: &Loads<'_, '_>,
        currents: &mut Currents<'_, '_>,
        contact: PartId,
    ) -> Through {
        let own_starting = self.starting.as_ref().map_or(self.own, |it| it.drawn(self.load));
        let own_starting = own_starting.max(self.own);
        let carried = |sample: &Option<Rc<Sample>>| {
            sample.as_ref().and_then(|sample| sample.amps(contact)).unwrap_or(0.0)
        };
        let (amps, starting) = (carried(&self.steady), carried(&self.starting));
        let alone =
            Through { amps: self.own, starting: own_starting, together: Vec::new(), own_starting };
        if amps <= self.own * MORE && starting <= own_starting * MORE {
            return alone;
        }
        let mut without = self.stand.clone();
        without.closed[contact.index()] = false;
        let Some((with, without)) = self.steady.as_ref().zip(currents.steady(&without)) else {
            return alone;
        };
        let mut together = loads.together_behind(contact, with, &without);
        together.retain(|other| *other != self.load);
        let amps = amps.max(self.own);
        Through { amps, starting: starting.max(amps).max(own_starting), together, own_starting }
    }
}
