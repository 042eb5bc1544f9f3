//! Long cables: what each coil gets through them, the thinnest standard conductor that passes, the
//! longest run, how many conductors side by side, and what drops in each core.
//!
//! **In:** a compiled scheme. **Out:** one [`CableReport`] for each cable with coils behind it,
//! with a finding and its cure where a coil gets too little through it; a table of the coil's
//! voltage by size. **Never here:** whether a conductor stands the current (that is `fuses`),
//! whether a way comes about in time.
//!
//! Each coil is asked on all its ways, alone and with every other load of its section on, at the
//! worst corner of each (supply low, conductors and coils at whichever end is worse): the same
//! corners as in the report on coils. What other sections draw from the supply is taken through the
//! conductors of today, and where these get better through conductors without resistance: a cure
//! holds whatever the others draw then.

mod drops;
mod limit;
mod sizes;
mod told;

use crate::Study;
use crate::fuses::{Fuses, OfCables};
use fiftytwo_circuit::Wiring;
use fiftytwo_circuit::conductor::{Sizes, ohm_per_metre, size_name};
use fiftytwo_circuit::warmth::surely_moves_from;
use fiftytwo_scheme::{CableId, Finding, Material, PartId, Scheme};
use limit::{Limit, Question};
use serde::Serialize;

pub use drops::CoreDrop;
pub use sizes::{Allowed, Thinnest};
pub(crate) use sizes::{counted, temperatures};

/// Volts below the need that are rounding.
const ROUNDING: f64 = 1e-9;

/// Every cable with coils behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cables {
    /// One for each cable, in source order.
    pub cables: Vec<CableReport>,
    /// The worst case of every core that a load draws through.
    pub cores: Vec<CoreDrop>,
    /// `cable-too-thin`, `no-conductor-helps`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// What one cable does to the coils behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CableReport {
    /// Its name.
    pub cable: String,
    /// Size of each core, as the trade writes it.
    pub size: String,
    /// Copper or aluminium.
    pub material: &'static str,
    /// Length one way, m.
    pub length: f64,
    /// Conductor temperatures, °C.
    pub celsius: [f64; 2],
    /// The coils behind it that say what they need.
    pub coils: Vec<CoilBehind>,
    /// The coil that allows the least resistance, an index into `coils`.
    pub deciding: Option<usize>,
    /// What the cable must be so that every coil behind it works; none: no conductor helps.
    pub allowed: Option<Allowed>,
    /// What the deciding coil gets, by standard size of the present system and material.
    pub table: Vec<SizeRow>,
}

/// A coil behind a cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilBehind {
    /// The coil.
    pub coil: String,
    /// The least it gets today, V.
    pub least: f64,
    /// What it surely works from, V.
    pub needs: f64,
    /// What it would get at the least if this cable had no resistance, V.
    pub without_drop: f64,
    /// Cores of this cable side by side in each pole.
    pub side_by_side: u32,
    /// What the cable may be for this coil; none: a thicker conductor here is no cure.
    pub allowed: Option<Allowed>,
}

/// One line of the table of voltages.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeRow {
    /// The size.
    pub size: String,
    /// Resistance hot, ohm per km.
    pub ohm_per_km: f64,
    /// The resistance is a published value.
    pub published: bool,
    /// The least the coil gets, V.
    pub least: f64,
    /// Volts above what it needs.
    pub margin: f64,
}

/// What a cable may be instead, in words: its resistance so many times what it is, `now` cores side
/// by side.
pub(crate) fn cures_of(
    scheme: &Scheme,
    fuses: &OfCables,
    id: CableId,
    (now, times): (usize, f64),
) -> String {
    told::cures(scheme, fuses, &scheme.cables[id], (now, times))
}

/// Reports on every cable that leads to a coil.
pub fn cables(study: &Study<'_, '_>, fuses: &Fuses) -> Cables {
    let wiring = &study.machine.wiring;
    let scheme = wiring.scheme();
    let mut asked: Vec<Asked<'_, '_>> = scheme
        .coils()
        .filter_map(|(id, part, _)| {
            let needs = surely_moves_from(scheme, part)?;
            let question = Question::new(wiring, id, needs)?;
            (!question.cables.is_empty()).then(|| Asked::new(id, needs, question))
        })
        .collect();
    let mut findings = Vec::new();
    let fuses = fuses.of_cables(scheme);
    // A diode the wrong way round is told where it stands; conductors are no cure for it.
    let supply = |coil: PartId| scheme.parts[coil].at.map(|at| scheme.circuits[at.circuit].supply);
    let shorted: Vec<_> = crate::suppression::shorted(wiring).into_iter().map(supply).collect();
    for asked in asked.iter_mut().filter(|asked| !shorted.contains(&supply(asked.coil))) {
        if asked.least < asked.needs - ROUNDING {
            findings.push(told::cure(scheme, &fuses, asked));
        }
    }
    let reports = scheme.cables.iter().filter_map(|(id, _)| report(wiring, id, &mut asked));
    Cables { cables: reports.collect(), cores: drops::drops(wiring, &study.bench), findings }
}

/// A coil with what was found about each of its cables.
struct Asked<'w, 's> {
    coil: PartId,
    needs: f64,
    least: f64,
    question: Question<'w, 's>,
    limits: Vec<(CableId, usize, Limit)>,
}

impl<'w, 's> Asked<'w, 's> {
    fn new(coil: PartId, needs: f64, mut question: Question<'w, 's>) -> Self {
        let least = question.least(&[], 1.0);
        let cables = question.cables.clone();
        let limits =
            cables.into_iter().map(|(cable, now)| (cable, now, question.limit(&[cable]))).collect();
        Self { coil, needs, least, question, limits }
    }
}

fn report(wiring: &Wiring<'_>, id: CableId, asked: &mut [Asked<'_, '_>]) -> Option<CableReport> {
    let scheme = wiring.scheme();
    let cable = &scheme.cables[id];
    let mut coils = Vec::new();
    let mut deciding: Option<(usize, usize, f64)> = None;
    let mut helpless = false;
    for (index, asked) in asked.iter_mut().enumerate() {
        let Some(&(_, now, limit)) = asked.limits.iter().find(|(cable, ..)| *cable == id) else {
            continue;
        };
        let times = match limit {
            Limit::Times(times) => Some(times),
            Limit::NoHelp(_) => None,
        };
        helpless |= times.is_none();
        if let Some(times) = times
            && deciding.is_none_or(|(_, _, least)| times < least)
        {
            deciding = Some((coils.len(), index, times));
        }
        coils.push(CoilBehind {
            coil: scheme.parts[asked.coil].name.clone(),
            least: asked.least,
            needs: asked.needs,
            without_drop: match limit {
                Limit::NoHelp(volts) => volts,
                Limit::Times(_) => asked.question.least(&[id], 0.0),
            },
            side_by_side: u32::try_from(now).unwrap_or(u32::MAX),
            allowed: times.map(|times| sizes::allowed(scheme, cable, now, times)),
        });
    }
    if coils.is_empty() {
        return None;
    }
    let (low, high) = temperatures(scheme, cable);
    let present = ohm_per_metre(cable.size, cable.material, high);
    let table = deciding.map_or_else(Vec::new, |(_, index, _)| {
        let asked = &mut asked[index];
        // The ways that are the worst with much thinner and much thicker conductors.
        for times in [0.1, 5.0] {
            asked.question.least(&[id], times);
        }
        let row = |size| {
            let ohm = ohm_per_metre(size, cable.material, high);
            let least = asked.question.least_of_critical(&[id], ohm / present);
            SizeRow {
                size: size_name(size),
                ohm_per_km: ohm * 1000.0,
                published: fiftytwo_circuit::conductor::is_published(size, cable.material),
                least,
                margin: least - asked.needs,
            }
        };
        Sizes::of(cable.size).standard(cable.material).into_iter().map(row).collect()
    });
    let allowed = deciding
        .filter(|_| !helpless)
        .and_then(|(place, ..)| coils.get(place).and_then(|coil| coil.allowed.clone()));
    Some(CableReport {
        cable: cable.name.clone(),
        size: size_name(cable.size),
        material: match cable.material {
            Material::Copper => "copper",
            Material::Aluminium => "aluminium",
        },
        length: cable.length.hi,
        celsius: [low, high],
        coils,
        deciding: deciding.map(|(place, ..)| place),
        allowed,
        table,
    })
}
