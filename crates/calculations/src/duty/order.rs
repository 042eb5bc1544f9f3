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

use super::currents::{Currents, Stand};
use super::cutoff::{FOR_EVER, OwnCutOff, holds, own_cut_off};
use super::loads::Loads;
use fiftytwo_circuit::{Supplies, Way};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind};
use serde::Serialize;
use std::collections::BTreeMap;

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
    /// The most the load draws through it, steady and starting, A.
    pub(super) amps: f64,
    pub(super) starting: f64,
    /// The own cut-off that counts on the worst way, and when it has opened at the latest, µs.
    pub(super) cut_off: Option<(PartId, i64)>,
    /// How long the contact surely holds, µs.
    pub(super) holds: i64,
    /// The coil's least volts on the worst way do not surely move it.
    pub(super) unsure: bool,
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
    for &load in &loads.all {
        let ways = loads.wiring.ways(load);
        if !ways.complete {
            result.incomplete.push(load);
        }
        for way in &ways.list {
            let contacts: Vec<PartId> = way
                .parts
                .iter()
                .copied()
                .filter(|part| {
                    matches!(loads.scheme.parts[*part].kind, PartKind::Contact(_) | PartKind::Link)
                })
                .collect();
            let (amps, starting) = draws(loads, currents, way, load);
            let most = result.most.entry(load).or_insert(0.0);
            *most = most.max(amps);
            let cuts: Vec<(PartId, OwnCutOff)> = contacts
                .iter()
                .filter_map(|contact| Some((*contact, own_cut_off(loads.wiring, load, *contact)?)))
                .collect();
            let sure = surely_moves(loads, way, load);
            for &contact in &contacts {
                let holds = *held.entry(contact).or_insert_with(|| holds(loads.wiring, contact));
                let found = judge(loads, contact, &cuts, holds, sure, amps, starting);
                result
                    .behind
                    .entry((contact, load))
                    .and_modify(|worst| {
                        let (amps, starting) =
                            (worst.amps.max(found.amps), worst.starting.max(found.starting));
                        if found.order > worst.order {
                            *worst = found.clone();
                        }
                        worst.amps = amps;
                        worst.starting = starting;
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
    amps: f64,
    starting: f64,
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
    Behind { order, amps, starting, cut_off: first, holds, unsure: !sure && !cuts.is_empty() }
}

/// Whether the coil surely moves on a way at its least volts. Loads that move nothing: true.
fn surely_moves(loads: &Loads<'_, '_>, way: &Way, load: PartId) -> bool {
    let PartKind::Coil(coil) = &loads.scheme.parts[load].kind else { return true };
    let (Some(section), Some(needs)) = (loads.wiring.section_of(load), coil.surely_from()) else {
        return false;
    };
    let drives = loads.wiring.drive(section, &way.closed, Supplies::ALL);
    drives.iter().any(|drive| drive.part == load && drive.volts_lo >= needs)
}

/// What a load draws on a way alone at the corner of greatest current: steady, and starting.
fn draws(
    loads: &Loads<'_, '_>,
    currents: &mut Currents<'_, '_>,
    way: &Way,
    load: PartId,
) -> (f64, f64) {
    let switches = |kind: &PartKind| {
        matches!(kind, PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. })
    };
    let mut closed: Vec<bool> =
        loads.scheme.parts.values().map(|part| !switches(&part.kind)).collect();
    for part in &way.parts {
        closed[part.index()] = true;
    }
    let stand = Stand { closed, live: vec![true; loads.scheme.supplies.len()] };
    let steady = currents.steady(&stand).map_or(0.0, |sample| sample.drawn(load));
    let starting = if loads.starts(load) {
        currents.starting(&stand).map_or(steady, |sample| sample.drawn(load))
    } else {
        steady
    };
    (steady, starting.max(steady))
}
