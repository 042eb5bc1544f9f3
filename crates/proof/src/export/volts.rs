//! Whether ways decide what a load does, by two bounds worked out by hand.
//!
//! **In:** a section with its ways. **Out:** what a load does while a direct way is closed, and
//! while only sneak ways are. **Never here:** the nodal solver.
//!
//! *Least volts on a direct way.* Current runs downhill from plus to minus, so it is a sum of flows
//! along ways; through a conductor flows at most what the loads on ways through that conductor
//! draw, and a load draws at most the supply's voltage over its least resistance. So the load has
//! at least `V (1 - R_i G_all - Σ R_core G_core)` over the conductors of the way.
//!
//! *Most volts without a direct way.* Then every flow through the load runs through another load
//! too, before it or after it. With `G_s` the conductance of all loads on ways in common with it
//! and `G` its own, it has at most `V G_s / (G_s + G)`; or, with both ends at one pole, at most the
//! drop along conductors.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::ways::{Section, Way, role};
use fiftytwo_circuit::certainty::{DARK_SHARE, LIT_SHARE, RELEASE_SHARE};
use fiftytwo_circuit::conductor;
use fiftytwo_scheme::{CurrentKind, Material, PartId, PartKind, Scheme, SupplyId};

/// What a load does.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// Reaches pickup, is on, is lit.
    pub(super) pickup: Tri,
    /// Falls below dropout, is off.
    pub(super) dropout: Tri,
    /// How it was judged, in words.
    pub(super) words: String,
}

/// A load without current.
pub(super) fn dead() -> Seen {
    Seen { pickup: Tri::is(false), dropout: Tri::is(true), words: "it reaches no pole".to_owned() }
}

/// Least and greatest volts; none: nothing is known.
struct Volts {
    /// At least this while a direct way is closed.
    floor: f64,
    /// At most this without one.
    ceiling: f64,
    /// No sneak way.
    clean: bool,
}

/// Judges a load by its ways.
pub(super) fn judge(
    scheme: &Scheme,
    section: &Section,
    load: PartId,
    mut closed: impl FnMut(PartId) -> Result<Tri, Refusal>,
) -> Result<Seen, Refusal> {
    let (direct_ways, sneak_ways) = section.ways_of(load);
    let volts = volts(scheme, section, load, &direct_ways, &sneak_ways);
    let mut one_of = |ways: &[&Way]| -> Result<Tri, Refusal> {
        let ways: Result<Vec<Tri>, Refusal> = ways
            .iter()
            .map(|way| {
                let switches: Result<Vec<Tri>, Refusal> =
                    way.switches.iter().map(|part| closed(*part)).collect();
                Ok(Tri::all(switches?))
            })
            .collect();
        Ok(Tri::any(ways?))
    };
    let direct = one_of(&direct_ways)?;
    let sneak = one_of(&sneak_ways)?;
    let nominal = scheme.supplies[section.supply].nominal.middle();
    let limits = Limits::of(scheme, load, nominal);
    let works = limits.surely_from.is_none_or(|from| volts.floor >= from);
    let may_sneak = !volts.clean && volts.ceiling >= limits.surely_not_below;
    let never_sneak = Bool::Is(false);
    let pickup = Tri {
        may: direct.may.clone().or(if may_sneak { sneak.may.clone() } else { never_sneak }),
        sure: if works { direct.sure.clone() } else { Bool::Is(false) },
    };
    let holds = limits.surely_stays_above.map_or(works, |from| volts.floor > from);
    let may_hold = !volts.clean && volts.ceiling >= limits.surely_lets_go_below;
    let mut current = direct.may;
    if may_hold {
        current = current.or(sneak.may);
    }
    let dropout = Tri {
        may: if holds { direct.sure.negated() } else { Bool::Is(true) },
        sure: current.negated(),
    };
    let sneaks = if volts.clean {
        "else nothing".to_owned()
    } else {
        format!(
            "on other ways at most {:.1} V ({})",
            volts.ceiling,
            if may_sneak || may_hold { "perhaps enough: both are tried" } else { "not enough" }
        )
    };
    let ways = if direct_ways.len() == 1 { "way" } else { "ways" };
    let words = format!(
        "{} {ways}, at least {:.1} V ({}); {sneaks}",
        direct_ways.len(),
        volts.floor,
        if works && holds { "enough" } else { "perhaps too little: both are tried" },
    );
    Ok(Seen { pickup, dropout, words })
}

struct Limits {
    surely_from: Option<f64>,
    surely_not_below: f64,
    /// None: from where it surely reaches pickup.
    surely_stays_above: Option<f64>,
    surely_lets_go_below: f64,
}

impl Limits {
    fn of(scheme: &Scheme, load: PartId, nominal: f64) -> Self {
        match &scheme.parts[load].kind {
            PartKind::Coil(coil) => {
                let rated = coil.rated.as_ref().map(|rated| rated.lo).or(coil.surely_from());
                let release = rated.unwrap_or(nominal) * RELEASE_SHARE;
                Self {
                    surely_from: coil.surely_from(),
                    surely_not_below: coil.surely_not_below(),
                    surely_stays_above: coil.dropout.as_ref().map(|dropout| dropout.hi),
                    surely_lets_go_below: coil
                        .dropout
                        .as_ref()
                        .map_or(release, |dropout| dropout.lo),
                }
            }
            PartKind::Input(input) => {
                let on = input.on_above.as_ref().or(input.off_below.as_ref());
                let off = input.off_below.as_ref().or(input.on_above.as_ref());
                Self {
                    surely_from: on.map(|on| on.hi),
                    surely_not_below: off.map_or(0.0, |off| off.lo),
                    surely_stays_above: None,
                    surely_lets_go_below: off.map_or(0.0, |off| off.lo),
                }
            }
            _ => Self {
                surely_from: Some(LIT_SHARE * nominal),
                surely_not_below: DARK_SHARE * nominal,
                surely_stays_above: None,
                surely_lets_go_below: DARK_SHARE * nominal,
            },
        }
    }
}

fn volts(
    scheme: &Scheme,
    section: &Section,
    load: PartId,
    direct: &[&Way],
    sneak: &[&Way],
) -> Volts {
    let supply = &scheme.supplies[section.supply];
    let greatest = |part: PartId| draws(scheme, part).map_or(f64::INFINITY, |(_, most)| most);
    let through = |core: PartId| -> f64 {
        let mut loads: Vec<PartId> = section
            .ways
            .iter()
            .filter(|way| way.cores.contains(&core))
            .flat_map(|way| way.loads.iter().copied())
            .collect();
        loads.sort_unstable();
        loads.dedup();
        loads.into_iter().filter_map(|part| draws(scheme, part)).map(|(_, most)| most).sum()
    };
    let all: f64 = all_loads(scheme, section.supply)
        .filter_map(|part| draws(scheme, part))
        .map(|(_, most)| most)
        .sum();
    let at_poles = supply.resistance.hi * all;
    let floor = direct
        .iter()
        .map(|way| {
            let lost: f64 = way.cores.iter().map(|core| ohm(scheme, *core) * through(*core)).sum();
            supply.range.lo * (1.0 - at_poles - lost).max(0.0)
        })
        .fold(f64::INFINITY, f64::min);
    let floor = if direct.is_empty() { 0.0 } else { floor };
    let mut series: Vec<PartId> = sneak
        .iter()
        .flat_map(|way| way.loads.iter().copied())
        .filter(|other| *other != load)
        .collect();
    series.sort_unstable();
    series.dedup();
    let others: f64 = series.iter().map(|part| greatest(*part)).sum();
    let own = draws(scheme, load).map_or(0.0, |(least, _)| least);
    let share = if others.is_finite() && own > 0.0 { others / (others + own) } else { 1.0 };
    let along: f64 = section
        .parts
        .iter()
        .filter(|part| role(&scheme.parts[**part].kind) == super::ways::Role::Core)
        .map(|core| ohm(scheme, *core) * through(*core))
        .sum();
    let ceiling = supply.range.hi * share.max(along).min(1.0);
    Volts { floor, ceiling, clean: sneak.is_empty() }
}

fn all_loads(scheme: &Scheme, supply: SupplyId) -> impl Iterator<Item = PartId> {
    scheme.placed().filter_map(move |(id, part)| {
        let at = part.at?;
        (role(&part.kind) == super::ways::Role::Load
            && scheme.circuits[at.circuit].supply == supply)
            .then_some(id)
    })
}

/// Least and greatest conductance of a load, S; none: not declared.
fn draws(scheme: &Scheme, part: PartId) -> Option<(f64, f64)> {
    let item = &scheme.parts[part];
    let at = item.at?;
    let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
    let nominal = supply.nominal.middle();
    let (lo, hi) = match &item.kind {
        PartKind::Coil(coil) => {
            let ohm = coil.resistance.as_ref()?;
            let ambient = &scheme.places[at.place].ambient;
            let at = |celsius| {
                let given = ohm.at.unwrap_or(20.0);
                conductor::temperature_factor(Material::Copper, given, celsius)
            };
            let copper = supply.current == CurrentKind::Dc;
            let factor = |celsius| if copper { at(celsius) } else { 1.0 };
            (ohm.lo * factor(ambient.lo), ohm.hi * factor(ambient.hi))
        }
        PartKind::Input(input) => {
            let ohm = input.resistance.as_ref()?;
            (ohm.lo, ohm.hi)
        }
        PartKind::Resistor { resistance, .. } => (resistance.lo, resistance.hi),
        PartKind::Motor(motor) => (nominal / motor.rating.hi, nominal / motor.rating.lo),
        PartKind::Lamp(lamp) => (nominal / lamp.current.hi, nominal / lamp.current.lo),
        PartKind::Heater { power } => (nominal.powi(2) / power.hi, nominal.powi(2) / power.lo),
        PartKind::Power { burden } => {
            let power = burden.as_ref()?;
            (nominal.powi(2) / power.hi, nominal.powi(2) / power.lo)
        }
        _ => return None,
    };
    (lo > 0.0 && hi.is_finite()).then(|| (hi.recip(), lo.recip()))
}

/// Greatest resistance of a conductor, ohm.
fn ohm(scheme: &Scheme, part: PartId) -> f64 {
    match &scheme.parts[part].kind {
        PartKind::Core(core) => {
            let cable = &scheme.cables[core.cable];
            let ends = [cable.from, cable.to].map(|place| scheme.places[place].ambient.hi);
            let hot = ends[0].max(ends[1]);
            let each = conductor::ohm_per_metre(cable.size, cable.material, hot);
            each * cable.length.hi / core.cores.len().max(1) as f64
        }
        PartKind::Element { resistance, .. } => resistance.as_ref().map_or(0.0, |ohm| ohm.hi),
        _ => 0.0,
    }
}
