//! Lamps and inputs: do they get enough to be surely on, and no more than they stand?
//!
//! **In:** a [`Study`]. **Out:** for each placed lamp and input one [`LoadRow`]: the least it gets
//! where it is on (supplies low) and the most it ever gets (supplies high), of volts and current each
//! with every tolerance at the end that is worse for it, against its thresholds and its rating; for each overload element the running
//! current of its motors; for each motor and heater the volts it gets; findings with a cure in ohms, volts or amperes.
//! **Never here:** what a lamp or input does to a coil in series with it (that is `monitors`),
//! grounds, time.
//!
//! A lamp or input is looked at in every rest position; one that is on in none of them with each of
//! its ways closed.

pub(crate) mod corner;
mod elements;
mod judge;
mod kept;
pub(crate) mod less;
mod lost;
mod motors;

pub use elements::ElementRow;
pub use motors::MotorRow;

pub(crate) use judge::series_resistor;

use crate::fuses::Fuses;
use crate::shown::{Shown, Thresholds};
use crate::{RestPosition, Study};
use corner::{Extreme, extreme, lacking};
use fiftytwo_circuit::{BenchFault, Ends, Positions, Readings, Setup};
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, Light, Part, PartId, PartKind, Quantity, Scheme};
use serde::Serialize;

/// A lamp may get so many times its rated current (a filament: its rated voltage) at the highest
/// supply (common practice, no source).
pub const MOST_OF_RATED: f64 = 1.25;
/// An input takes at most so much at the highest voltage of its supply, A (1 to 4 mA typical, 20 mA
/// at the most: common practice, no source).
pub const MOST_OF_INPUT: f64 = 0.02;
/// Less than this is no current, A: leakage of what blocks.
const CARRIES: f64 = 1e-7;
/// Positions in which a part gets the same but for this share are alike (what others draw from the
/// same supply moves the fifth figure).
const SAME: f64 = 1e-3;

/// What was found about lamps and inputs.
#[derive(Debug, Clone, Serialize)]
pub struct Loads {
    /// Every placed lamp and input, in source order.
    pub rows: Vec<LoadRow>,
    /// Every placed overload element with a rated current, in source order.
    pub elements: Vec<ElementRow>,
    /// Every placed motor and heater that a way leads to, in source order.
    pub motors: Vec<MotorRow>,
    /// What the lamps show in each rest position, at nominal voltage.
    pub lamps: Vec<LampsAt>,
    /// Findings, each with its cure.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// The lamps in one rest position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LampsAt {
    /// The rest position.
    pub position: String,
    /// Surely lit.
    pub lit: Vec<String>,
    /// Surely dark.
    pub dark: Vec<String>,
    /// Neither.
    pub unsure: Vec<String>,
}

/// What one lamp or input gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoadRow {
    /// Its name.
    pub part: String,
    /// "lamp" or "input".
    pub kind: &'static str,
    /// It is on in none of the rest positions: its ways were closed.
    pub by_way: bool,
    /// The least it gets where it is on; none: nothing ever reaches it.
    pub least: Option<Gets>,
    /// The most it gets anywhere.
    pub most: Option<Gets>,
    /// The most current of a filament in the first instant, A.
    pub inrush: Option<f64>,
    /// It is surely on from here: V, lamps A.
    pub on_from: f64,
    /// Inputs: the current at which it is surely on, A.
    pub least_amps: Option<f64>,
    /// Lamps: its rated voltage, V.
    pub rated_volts: Option<f64>,
    /// Lamps: its rated current, A.
    pub rated_amps: Option<f64>,
    /// What it gets at the least over what it surely needs: below 1 it may stay off.
    pub of_needed: Option<f64>,
    /// Lamps: the most it gets over its rating (a filament in volts, others in amperes).
    pub of_rated: Option<f64>,
    /// The thresholds are typical ones.
    pub typical: bool,
    #[serde(skip)]
    id: PartId,
}

/// What a part gets in a position: volts and current each at the corner that is worst for it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gets {
    /// Volts across it.
    pub volts: f64,
    /// Current through it, A; none where its resistance is not declared.
    pub amps: Option<f64>,
    /// The rest position, or the contacts that are closed.
    pub position: String,
    #[serde(skip)]
    at: usize,
}

/// A position with what the bench shows at nominal voltage.
struct Solved<'b> {
    name: String,
    setup: Setup,
    nominal: Readings<'b>,
    cold: Option<Readings<'b>>,
}

impl<'b> Solved<'b> {
    fn new(study: &'b Study<'_, '_>, name: String, setup: Setup) -> Result<Self, BenchFault> {
        let filaments = study.scheme().placed().any(|(_, part)| is_filament(part));
        let cold = Setup { filaments_cold: true, ..setup.clone().at(Ends::MOST) };
        Ok(Self {
            nominal: study.bench.solve(&setup)?,
            cold: if filaments { Some(study.bench.solve(&cold)?) } else { None },
            name,
            setup,
        })
    }
}

/// What one part gets in a position.
struct Got {
    shown: Shown,
    nominal: f64,
    least: Extreme,
    most: Extreme,
}

/// How a section stands: its contacts, and which supplies are live.
type Standing = (Positions, Vec<bool>);

/// What one part gets in each position; positions in which its section stands alike are looked at
/// once.
fn got(
    study: &Study<'_, '_>,
    id: PartId,
    thresholds: &Thresholds,
    all: &[&Solved<'_>],
) -> Result<Vec<Got>, BenchFault> {
    let wiring = &study.machine.wiring;
    let section = wiring.section_of(id);
    let mut seen: Vec<(Standing, (Extreme, Extreme))> = Vec::new();
    let mut found = Vec::new();
    for solved in all {
        let none = Extreme { volts: 0.0, amps: 0.0 };
        let (least, most) = match section {
            Some(section) if of(&solved.nominal, id, false) > 1e-9 => {
                let closed =
                    |part: PartId| solved.setup.closed.get(part.index()).copied().unwrap_or(false);
                let live = wiring
                    .supplies(section)
                    .map(|supply| solved.setup.live.get(supply.index()).copied().unwrap_or(false));
                let key = (wiring.positions(section, closed), live.collect());
                match seen.iter().find(|(known, _)| *known == key) {
                    Some((_, known)) => *known,
                    None => {
                        let least = extreme(study, &solved.setup, id, false)?;
                        let most = extreme(study, &solved.setup, id, true)?;
                        seen.push((key, (least, most)));
                        (least, most)
                    }
                }
            }
            _ => (none, none),
        };
        found.push(Got {
            shown: thresholds.shown(&solved.nominal, id),
            nominal: of(&solved.nominal, id, thresholds.by_current),
            least,
            most,
        });
    }
    Ok(found)
}

pub(crate) fn is_filament(part: &Part) -> bool {
    matches!(&part.kind, PartKind::Lamp(lamp)
        if lamp.light == Light::Filament || lamp.cold.is_some())
}

/// Calculates everything about lamps and inputs. `told` are parts whose weakness is told already.
pub fn loads(study: &Study<'_, '_>, told: &[String], fuses: &Fuses) -> Loads {
    let scheme = study.scheme();
    let mut findings = Vec::new();
    let mut rests: Vec<Solved<'_>> = Vec::new();
    for rest in &study.rest {
        let setup = rest.setup(&study.bench);
        if rests.iter().any(|it| it.setup == setup) {
            continue;
        }
        match Solved::new(study, rest.name.clone(), setup) {
            Ok(solved) => rests.push(solved),
            Err(fault) => findings.push(fault.finding(scheme)),
        }
    }
    findings.dedup();
    let mut rows = Vec::new();
    let mut stay_on = Vec::new();
    for (id, part) in scheme.placed() {
        let Some(thresholds) = Thresholds::of(scheme, part) else { continue };
        if !matches!(part.kind, PartKind::Lamp(_) | PartKind::Input(_)) {
            continue;
        }
        let on_at_rest = rests.iter().any(|it| thresholds.shown(&it.nominal, id) == Shown::On);
        let ways = if on_at_rest { Vec::new() } else { by_ways(study, id) };
        let all: Vec<&Solved<'_>> = rests.iter().chain(&ways).collect();
        let looked = got(study, id, &thresholds, &all)
            .and_then(|got| Ok((got, kept::kept_on(study, id, &thresholds)?)));
        let (got, kept) = match looked {
            Ok(looked) => looked,
            Err(fault) => {
                findings.push(fault.finding(scheme));
                continue;
            }
        };
        let row = row(scheme, id, part, &thresholds, &all, &got, (!on_at_rest, kept.is_some()));
        let told_already = told.contains(&row.part) || kept.is_some();
        judge::tell(study, &row, &thresholds, &all, told_already, &mut findings);
        if let Some(kept) = kept {
            let off = thresholds.off;
            match kept::cure(study, id, &kept.setup, kept.gets, off) {
                Ok(cure) => {
                    findings.push(judge::not_off(part, &kept.position, kept.gets, off, cure));
                    stay_on.push(id);
                }
                Err(fault) => findings.push(fault.finding(scheme)),
            }
        }
        rows.push(row);
    }
    not_off(study, stay_on, &mut findings);
    findings.extend(lost::findings(study));
    let elements = elements::rows(study, &mut findings);
    let motors = motors::rows(study, &fuses.of_cables(scheme), &mut findings);
    let lamps = study.rest.iter().filter_map(|rest| lamps(study, rest)).collect();
    Loads { rows, elements, motors, lamps, findings }
}

/// What the lamps show in a position; none where there are no lamps or it can't be solved.
fn lamps(study: &Study<'_, '_>, rest: &RestPosition) -> Option<LampsAt> {
    let scheme = study.scheme();
    let readings = study.bench.solve(&rest.setup(&study.bench)).ok()?;
    let mut at = LampsAt {
        position: rest.name.clone(),
        lit: Vec::new(),
        dark: Vec::new(),
        unsure: Vec::new(),
    };
    for (id, part) in scheme.placed() {
        let PartKind::Lamp(_) = part.kind else { continue };
        let Some(thresholds) = Thresholds::of(scheme, part) else { continue };
        match thresholds.shown(&readings, id) {
            Shown::On => at.lit.push(part.name.clone()),
            Shown::Off => at.dark.push(part.name.clone()),
            Shown::Unsure => at.unsure.push(part.name.clone()),
        }
    }
    (!(at.lit.is_empty() && at.dark.is_empty() && at.unsure.is_empty())).then_some(at)
}

/// Each way of a part closed, everything else as in the first rest position.
fn by_ways<'b>(study: &'b Study<'_, '_>, id: PartId) -> Vec<Solved<'b>> {
    let scheme = study.scheme();
    let Some(base) = study.rest.first().map(|rest| rest.setup(&study.bench)) else {
        return Vec::new();
    };
    let ways = study.machine.wiring.ways(id);
    let solved = ways.list.iter().filter_map(|way| {
        let mut setup = base.clone();
        let mut names = Vec::new();
        for part in &way.parts {
            if let PartKind::Contact(_) = scheme.parts[*part].kind {
                names.push(scheme.parts[*part].name.clone());
                setup = setup.with_closed(*part, true);
            }
        }
        let name = format!("{} closed", crate::words::list(&names));
        // A way that shorts the supply in this position is no way: another one counts.
        Solved::new(study, name, setup).ok()
    });
    solved.collect()
}

fn row(
    scheme: &Scheme,
    id: PartId,
    part: &Part,
    thresholds: &Thresholds,
    all: &[&Solved<'_>],
    got: &[Got],
    (by_way, kept): (bool, bool),
) -> LoadRow {
    let gets = |extreme: Extreme| if thresholds.by_current { extreme.amps } else { extreme.volts };
    let lit: Vec<usize> = (0..all.len()).filter(|index| got[*index].shown == Shown::On).collect();
    let need = |index: &usize| lacking(got[*index].least, thresholds);
    let brightest = |among: Vec<usize>| {
        among.into_iter().max_by(|a, b| got[*a].nominal.total_cmp(&got[*b].nominal))
    };
    let least_at = if lit.is_empty() {
        brightest((0..all.len()).collect()).filter(|index| got[*index].least.volts > 1e-3)
    } else if kept {
        // On everywhere: what counts is where its way is closed.
        brightest(lit)
    } else {
        lit.into_iter().min_by(|a, b| need(a).share().total_cmp(&need(b).share()))
    };
    let most_at = (0..all.len())
        .max_by(|a, b| gets(got[*a].most).total_cmp(&gets(got[*b].most)))
        .filter(|index| got[*index].most.volts > 1e-3);
    // Of positions that are alike the first is named: the healthy ones stand before the others.
    let told = |at: usize, of: fn(&Got) -> Extreme| {
        let alike = |index: &usize| {
            let (one, other) = (gets(of(&got[*index])), gets(of(&got[at])));
            got[*index].shown == got[at].shown && (one - other).abs() <= SAME * other
        };
        let named = (0..all.len()).find(alike).unwrap_or(at);
        let extreme = of(&got[at]);
        Gets {
            volts: extreme.volts,
            amps: Some(extreme.amps),
            position: all[named].name.clone(),
            at,
        }
    };
    let least = least_at.map(|at| told(at, |got| got.least));
    let most = most_at.map(|at| told(at, |got| got.most));
    let (kind, rated_volts, rated_amps) = match &part.kind {
        PartKind::Lamp(lamp) => {
            let nominal = part.at.map_or(0.0, |at| {
                scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle()
            });
            let volts = lamp.rated.as_ref().map_or(nominal, Quantity::middle);
            ("lamp", Some(volts), Some(lamp.current.middle()))
        }
        _ => ("input", None, None),
    };
    let of_needed = least_at.map(|at| need(&at).share());
    let of_rated = most.as_ref().zip(rated_volts).zip(rated_amps).map(|((most, volts), amps)| {
        if is_filament(part) { most.volts / volts } else { most.amps.unwrap_or(0.0) / amps }
    });
    let inrush = is_filament(part).then(|| {
        let cold = all.iter().filter_map(|it| it.cold.as_ref()?.amps(id));
        cold.map(f64::abs).fold(0.0, f64::max)
    });
    LoadRow {
        part: part.name.clone(),
        kind,
        by_way,
        least,
        most,
        inrush,
        on_from: thresholds.on,
        least_amps: thresholds.least,
        rated_volts,
        rated_amps,
        of_needed,
        of_rated,
        typical: thresholds.typical,
        id,
    }
}

fn of(readings: &Readings<'_>, part: PartId, amps: bool) -> f64 {
    let value = if amps { readings.amps(part) } else { readings.across(part) };
    value.unwrap_or(0.0).abs()
}

/// An input that gets this share of its supply's least voltage gets all of it: the rest is lost on
/// conductors (common practice, no source: 5 to 10 %).
const WHOLE: f64 = 0.9;

/// Inputs that may stay on in a rest position in which they are to show that something is not so.
fn not_off(study: &Study<'_, '_>, mut told: Vec<PartId>, findings: &mut Vec<Finding>) {
    let scheme = study.scheme();
    let scope = Scope::whole(study.machine);
    let evaluator = Evaluator::new(study.machine, &scope);
    for rest in study.rest.iter().filter(|rest| rest.rests) {
        let look = evaluator.look(&rest.state);
        let setup = rest.setup(&study.bench);
        let Ok(nominal) = study.bench.solve(&setup) else { continue };
        for (id, part) in scheme.placed() {
            let (PartKind::Input(_), Some(shows)) = (&part.kind, &part.shows) else { continue };
            let Some(thresholds) = Thresholds::of(scheme, part) else { continue };
            if told.contains(&id)
                || look.holds(&shows.expr).possible()
                || of(&nominal, id, true) < CARRIES
            {
                continue;
            }
            let off = thresholds.off;
            let Ok(most) = extreme(study, &setup, id, true) else { continue };
            if most.volts < off {
                continue;
            }
            told.push(id);
            let lies = thresholds.shown(&nominal, id) == Shown::On;
            // All of the supply's volts are on it: any input is on then, whatever its thresholds.
            let Ok(least) = extreme(study, &setup, id, false) else { continue };
            let supply = part.at.map(|at| &scheme.supplies[scheme.circuits[at.circuit].supply]);
            let whole = lies && supply.is_some_and(|it| least.volts >= WHOLE * it.range.lo);
            if whole {
                findings.push(judge::on_instead(part, &rest.name, least.volts));
                continue;
            }
            if thresholds.typical {
                findings.push(judge::not_off_typical(part, &rest.name, most.volts, off));
                continue;
            }
            match kept::cure(study, id, &setup, most.volts, off) {
                Ok(cure) => {
                    findings.push(judge::not_off(part, &rest.name, most.volts, off, cure));
                }
                Err(fault) => findings.push(fault.finding(scheme)),
            }
        }
    }
}
