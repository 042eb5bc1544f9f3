//! Inputs that stay on: something leads current past the contacts that are to switch them.

use super::corner::extreme;
use super::less::least_that;
use crate::Study;
use crate::rest::{Change, RestPosition};
use crate::shown::{Shown, Thresholds};
use crate::words::{amps, down, ohms, standard_ohm, volts};
use fiftytwo_circuit::{BenchFault, Fault, Setup, Stand, Warmth};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{PartId, PartKind, Scheme};

/// An input that is surely off nowhere.
pub(super) struct Kept {
    /// The most it gets where it gets least, V.
    pub gets: f64,
    /// Where that is.
    pub position: String,
    /// The same on the bench.
    pub setup: Setup,
}

/// Whether an input that is on somewhere is surely off in no rest position, not even with one of the
/// contacts on its ways moved.
pub(super) fn kept_on(
    study: &Study<'_, '_>,
    id: PartId,
    thresholds: &Thresholds,
) -> Result<Option<Kept>, BenchFault> {
    let scheme = study.scheme();
    let PartKind::Input(_) = scheme.parts[id].kind else { return Ok(None) };
    let contacts = contacts(study, id);
    if thresholds.typical || contacts.is_empty() {
        return Ok(None);
    }
    let lives = |rest: &&RestPosition| rest.rests && !matches!(rest.change, Change::Lost(_));
    let mut kept: Option<Kept> = None;
    let mut on = false;
    for rest in study.rest.iter().filter(lives) {
        let base = rest.setup(&study.bench);
        let as_it_is = (rest.name.clone(), base.clone());
        let moved = contacts.iter().map(|contact| {
            let closed = !base.closed.get(contact.index()).copied().unwrap_or(false);
            let word = if closed { "closed" } else { "open" };
            let name = format!("{} and {} {word}", rest.name, scheme.parts[*contact].name);
            (name, base.clone().with_closed(*contact, closed))
        });
        for (position, setup) in std::iter::once(as_it_is).chain(moved) {
            // What shorts the supply is no position.
            let Ok(nominal) = study.bench.solve(&setup) else { continue };
            if super::of(&nominal, id, true) < super::CARRIES {
                return Ok(None);
            }
            on |= thresholds.shown(&nominal, id) == Shown::On;
            let gets = extreme(study, &setup, id, true)?.volts;
            if gets < thresholds.off {
                return Ok(None);
            }
            if kept.as_ref().is_none_or(|known| gets < known.gets * (1.0 - 1e-9)) {
                kept = Some(Kept { gets, position, setup });
            }
        }
    }
    Ok(kept.filter(|_| on))
}

fn contacts(study: &Study<'_, '_>, id: PartId) -> Vec<PartId> {
    let contact = |part: &PartId| matches!(study.scheme().parts[*part].kind, PartKind::Contact(_));
    let ways = study.machine.wiring.ways(id);
    let mut all: Vec<PartId> =
        ways.list.iter().flat_map(|way| way.parts.iter().copied()).filter(contact).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// What lets it go off: more ohms past its contacts, or a higher threshold where there is room.
pub(super) fn cure(
    study: &Study<'_, '_>,
    id: PartId,
    setup: &Setup,
    gets: f64,
    off: f64,
) -> Result<String, BenchFault> {
    let scheme = study.scheme();
    let higher = higher(scheme, id, gets);
    for (part, placed) in scheme.placed() {
        let PartKind::Resistor { resistance, .. } = &placed.kind else { continue };
        let broken = setup.clone().with_fault(Fault::Open(part));
        let Ok(broken) = extreme(study, &broken, id, true) else { continue };
        if broken.volts >= off {
            continue;
        }
        let is_off = |ohm: f64| -> Result<bool, BenchFault> {
            let with = setup.clone().with_apart(part, Stand::Ohm(ohm));
            Ok(extreme(study, &with, id, true)?.volts < off)
        };
        let Some(least) = least_that(resistance.lo, &is_off)? else { continue };
        let other = higher.map_or_else(String::new, |it| format!(", or {it}"));
        return Ok(format!("{} of at least {}{other}", placed.name, ohms(standard_ohm(least))));
    }
    let left = study.bench.ohm(id, Warmth::Hot).filter(|ohm| *ohm > 0.0).map(|ohm| off / ohm);
    Ok(higher.unwrap_or_else(|| match left {
        Some(left) => format!(
            "take out what leads current past its contacts: less than {} may be left",
            amps(down(left))
        ),
        None => format!(
            "take out what leads current past its contacts: less than {} may be left on it",
            volts(off)
        ),
    }))
}

/// A higher threshold, if one lies below that at which it goes on.
fn higher(scheme: &Scheme, id: PartId, gets: f64) -> Option<String> {
    let PartKind::Input(input) = &scheme.parts[id].kind else { return None };
    let on = input.on_above.as_ref().or(input.off_below.as_ref())?.lo;
    let least = (gets * (1.0 + 1e-9)).ceil();
    let roomy = (gets * 1.1).ceil();
    let off = if roomy <= on { roomy } else { least };
    (off <= on).then(|| format!("an input that is surely off below {} or more", volts(off)))
}
