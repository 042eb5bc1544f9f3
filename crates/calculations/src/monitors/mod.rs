//! Monitors: what lamps, inputs and relays do to the coil their current runs through, and what
//! they see of its path.
//!
//! **In:** a [`Study`]. **Out:** for each coil that lamps, inputs or relays lead current through: the
//! volts they leave on it at the corner of most current, healthy and with each of them shorted, against pickup and dropout; the
//! share of its path in which a break shows; whether a burnt lamp looks like a break. For each
//! resistor its power. Findings with a cure in ohms or watts.
//! **Never here:** the volts of a coil that is driven (that is the report on coils), time.
//!
//! A lamp, an input or another coil leads current through a coil in a rest position where its break
//! leaves the coil less: what else stands beside the coil does not matter. It is a monitor of the coil
//! where a break of the coil takes more than half of its current away, and a break of all such takes
//! more than half of the coil's. What the designer declares (`watches`) plays no part in finding them;
//! it is checked against what was found.

mod coverage;
mod cures;
mod dark;
mod driven;
mod find;
mod findings;
mod holding;
mod loads;
mod resistors;
mod smaller;
mod teller;
mod weak;

use crate::Study;
use crate::loads::corner::needed;
use crate::shown::{Shown, Thresholds};
use fiftytwo_circuit::certainty::RELEASE_SHARE;
use fiftytwo_circuit::{BenchFault, Fault, Warmth};
use fiftytwo_scheme::{Coil, Finding, PartId, PartKind};
use find::Situation;
use serde::Serialize;

pub use coverage::{Coverage, Uncovered};
pub use loads::{Case, Load};
pub use resistors::ResistorRow;

/// A monitor leaves at most this share of the pickup voltage on its coil (common practice, no
/// source).
pub const MOST_SHARE: f64 = 0.2;
/// A breaker or relay coil that says no pickup: surely not below this share of its rated voltage
/// (specifications of breakers, from memory).
const TYPICAL_PICKUP: f64 = 0.2;

/// What was found about monitors.
#[derive(Debug, Clone, Serialize)]
pub struct Monitors {
    /// Every coil with monitors, in source order.
    pub coils: Vec<CoilMonitors>,
    /// Coils of breakers that nothing watches.
    pub unwatched: Vec<String>,
    /// Every placed resistor.
    pub resistors: Vec<ResistorRow>,
    /// Findings, each with its cure.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

impl Monitors {
    /// The lamps and inputs that the low end of the supply may drop.
    pub(crate) fn weak(&self) -> Vec<String> {
        let all = self.coils.iter().flat_map(|coil| &coil.monitors);
        all.filter(|monitor| !monitor.weak.is_empty()).map(|it| it.part.clone()).collect()
    }
}

/// A coil and what runs through it while it is not driven.
#[derive(Debug, Clone, Serialize)]
pub struct CoilMonitors {
    /// The coil.
    pub coil: String,
    /// Its circuit.
    pub circuit: String,
    /// What watches it, in words: "one input and one lamp"; empty: nothing does.
    pub form: String,
    /// It surely does not operate below, V.
    pub pickup_from: f64,
    /// It surely lets go below, V.
    pub releases_below: f64,
    /// Values of the two that are not declared, in words.
    pub typical: Vec<String>,
    /// Its monitors: what sees a break of it.
    pub monitors: Vec<Monitor>,
    /// What lamps, inputs and relays leave on it, monitors or not.
    pub loads: Vec<Load>,
    /// What they see of its path.
    pub coverage: Vec<Coverage>,
    /// Whether a burnt lamp looks like a broken path.
    pub burnt: Vec<Burnt>,
    #[serde(skip)]
    id: PartId,
    #[serde(skip)]
    levels: Levels,
}

/// A lamp, an input or a relay whose current runs through a coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Monitor {
    /// Its name.
    pub part: String,
    /// "lamp", "input" or "relay".
    pub kind: &'static str,
    /// The designer declared that it watches this coil.
    pub declared: bool,
    /// Rest positions in which its current runs through the coil.
    pub positions: Vec<String>,
    /// Those in which a break of the coil surely shows on it.
    pub shows_break: Vec<String>,
    /// Those in which it is on, but not surely at the low end of the supply.
    pub weak: Vec<Weak>,
}

/// A monitor that the low end of the supply may drop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weak {
    /// The rest position.
    pub position: String,
    /// What it gets then, V or A.
    pub gets: f64,
    /// What it surely needs, V or A.
    pub needs: f64,
    /// Both are currents: of lamps, and of inputs whose least current is what lacks.
    pub in_amps: bool,
}

/// Whether a burnt lamp can be told from a broken coil path.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Burnt {
    /// The lamp.
    pub lamp: String,
    /// The rest position.
    pub position: String,
    /// Monitors that show the difference; empty: it looks like a broken path.
    pub told_apart_by: Vec<String>,
}

/// Calculates everything about monitors.
pub fn monitors(study: &Study<'_, '_>) -> Monitors {
    let mut findings = Vec::new();
    let situations = match find::situations(study) {
        Ok(situations) => situations,
        Err(fault) => {
            findings.push(fault.finding(study.scheme()));
            Vec::new()
        }
    };
    let scheme = study.scheme();
    let mut coils = Vec::new();
    for (id, _, coil) in scheme.coils() {
        let mine: Vec<&Situation> = situations.iter().filter(|it| it.coil == id).collect();
        if mine.iter().all(|situation| situation.lookers().is_empty()) {
            continue;
        }
        match of_coil(study, id, coil, &mine) {
            Ok(found) => coils.push(found),
            Err(fault) => findings.push(fault.finding(scheme)),
        }
    }
    let resistors = match resistors::rows(study, &situations) {
        Ok(rows) => rows,
        Err(fault) => {
            findings.push(fault.finding(scheme));
            Vec::new()
        }
    };
    let unwatched = find::breaker_coils(scheme)
        .filter(|id| !coils.iter().any(|coil| coil.id == *id && !coil.monitors.is_empty()))
        .map(|id| scheme.parts[id].name.clone())
        .collect();
    let mut result = Monitors { coils, unwatched, resistors, findings };
    let told = findings::of(study, &result, &situations);
    result.findings.extend(told);
    let driven = driven::findings(study).and_then(|found| {
        Ok(found.into_iter().chain(holding::findings(study)?).collect::<Vec<_>>())
    });
    match driven {
        Ok(driven) => result.findings.extend(driven),
        Err(fault) => {
            let fault = fault.finding(scheme);
            if !result.findings.iter().any(|known| known.message == fault.message) {
                result.findings.push(fault);
            }
        }
    }
    result
}

fn of_coil(
    study: &Study<'_, '_>,
    id: PartId,
    coil: &Coil,
    situations: &[&Situation],
) -> Result<CoilMonitors, BenchFault> {
    let scheme = study.scheme();
    let part = &scheme.parts[id];
    let (levels, typical) = Levels::of(study, id, coil);
    let mut loads = Vec::new();
    for situation in situations.iter().filter(|it| !it.feeders.is_empty()) {
        loads.extend(loads::of(study, situation, &levels)?);
    }
    let at_rest: Vec<&Situation> =
        situations.iter().copied().filter(|situation| !situation.held).collect();
    let mut coverage = Vec::new();
    let watched = at_rest.iter().any(|situation| !situation.monitors.is_empty());
    for situation in at_rest.iter().filter(|situation| situation.healthy && watched) {
        coverage.push(coverage::of(study, situation)?);
    }
    let mut all: Vec<PartId> =
        at_rest.iter().flat_map(|situation| situation.monitors.iter().copied()).collect();
    all.sort_unstable();
    all.dedup();
    let mut monitors = Vec::new();
    for monitor in all {
        monitors.push(of_monitor(study, id, monitor, &at_rest)?);
    }
    let mut burnt = Vec::new();
    for situation in at_rest.iter().filter(|situation| situation.healthy) {
        burnt.extend(burnt_lamps(study, situation)?);
    }
    let circuit = part.at.map(|at| scheme.circuits[at.circuit].name.clone()).unwrap_or_default();
    Ok(CoilMonitors {
        coil: part.name.clone(),
        circuit,
        form: form(&monitors),
        pickup_from: levels.pickup_from,
        releases_below: levels.releases_below,
        typical,
        monitors,
        loads,
        coverage,
        burnt,
        id,
        levels,
    })
}

/// The two voltages that a monitor must stay below.
///
/// A coil moves by its current, and its thresholds are told in volts at the temperature that its
/// resistance is told for. So what a monitor leaves on it is told as its current times that
/// resistance: a cold coil takes more current at fewer volts.
#[derive(Debug, Clone, Copy)]
struct Levels {
    pickup_from: f64,
    releases_below: f64,
    /// From the volts across the coil while it is cold to volts at that temperature (at the high
    /// end of its tolerance: an upper bound).
    from_cold: f64,
    /// That temperature, °C, where the coil stands at another one.
    celsius: Option<f64>,
}

impl Levels {
    fn of(study: &Study<'_, '_>, id: PartId, coil: &Coil) -> (Self, Vec<String>) {
        let scheme = study.scheme();
        let nominal = scheme.parts[id]
            .at
            .map_or(0.0, |at| scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle());
        let name = &scheme.parts[id].name;
        let rated = coil.rated.as_ref().map_or(nominal, |rated| rated.lo);
        let mut typical = Vec::new();
        let pickup_from = coil.pickup.as_ref().map_or_else(
            || {
                typical.push(format!(
                    "{name} says no pickup: taken to stay below 20 % of {} (from memory)",
                    crate::words::volts(rated)
                ));
                rated * TYPICAL_PICKUP
            },
            |pickup| pickup.lo,
        );
        let releases_below = coil.dropout.as_ref().map_or_else(
            || {
                typical.push(format!(
                    "{name} says no dropout: behind monitors taken to let go surely below 5 % of {} \
                     (from memory of IEC 61810-1)",
                    crate::words::volts(rated)
                ));
                rated * RELEASE_SHARE
            },
            |dropout| dropout.lo,
        );
        let told = coil
            .resistance
            .as_ref()
            .map(|ohm| ohm.hi)
            .filter(|ohm| *ohm > 0.0)
            .or_else(|| study.bench.ohm(id, Warmth::Hot));
        let cold = study.bench.ohm(id, Warmth::Cold);
        let from_cold = told.zip(cold).map_or(1.0, |(told, cold)| told / cold);
        let celsius = ((from_cold - 1.0).abs() >= 1e-9)
            .then(|| coil.resistance.as_ref().and_then(|ohm| ohm.at).unwrap_or(20.0));
        (Self { pickup_from, releases_below, from_cold, celsius }, typical)
    }
}

/// "50.1 V"; of a coil at another temperature "18.7 mA (56 V at 20 C)".
fn told(gets: f64, as_volts: f64, celsius: Option<f64>) -> String {
    let volts = crate::words::volts(as_volts);
    match celsius {
        Some(celsius) => format!("{} ({volts} at {celsius} C)", crate::words::amps(gets)),
        None => volts,
    }
}

fn form(monitors: &[Monitor]) -> String {
    let parts = ["input", "lamp", "relay"].into_iter().filter_map(|kind| {
        let number = monitors.iter().filter(|monitor| monitor.kind == kind).count();
        match number {
            0 => None,
            1 => Some(format!("one {kind}")),
            2 => Some(format!("two {kind}s")),
            many => Some(format!("{many} {kind}s")),
        }
    });
    crate::words::list(&parts.collect::<Vec<_>>())
}

fn of_monitor(
    study: &Study<'_, '_>,
    coil: PartId,
    monitor: PartId,
    situations: &[&Situation],
) -> Result<Monitor, BenchFault> {
    let scheme = study.scheme();
    let part = &scheme.parts[monitor];
    let mut told = Monitor {
        part: part.name.clone(),
        kind: kind_of(&part.kind),
        declared: part.watches == Some(coil),
        positions: Vec::new(),
        shows_break: Vec::new(),
        weak: Vec::new(),
    };
    let Some(thresholds) = Thresholds::of(scheme, part) else { return Ok(told) };
    for situation in situations.iter().filter(|it| it.monitors.contains(&monitor)) {
        let position = situation.name.clone();
        let nominal = study.bench.solve(&situation.setup)?;
        let dark = thresholds.shown(&nominal, monitor) == Shown::Off;
        if find::shows(study, situation, monitor, Fault::Open(coil))? {
            told.shows_break.push(position.clone());
        }
        if !dark {
            let low = needed(study, &situation.setup, monitor, &thresholds)?;
            if !low.enough() {
                told.weak.push(Weak {
                    position: position.clone(),
                    gets: low.gets,
                    needs: low.needs,
                    in_amps: low.in_amps,
                });
            }
        }
        told.positions.push(position);
    }
    Ok(told)
}

fn kind_of(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Lamp(_) => "lamp",
        PartKind::Input(_) => "input",
        _ => "relay",
    }
}

/// For each lamp that is lit: which other monitors show a broken coil but not a burnt lamp.
fn burnt_lamps(study: &Study<'_, '_>, situation: &Situation) -> Result<Vec<Burnt>, BenchFault> {
    let scheme = study.scheme();
    let is_lamp = |part: &PartId| matches!(scheme.parts[*part].kind, PartKind::Lamp(_));
    let mut found = Vec::new();
    for &lamp in situation.monitors.iter().filter(|part| is_lamp(part)) {
        if !find::shows(study, situation, lamp, Fault::Open(situation.coil))? {
            continue;
        }
        let mut told_apart_by = Vec::new();
        for &other in situation.monitors.iter().filter(|part| **part != lamp) {
            let by_coil = find::shows(study, situation, other, Fault::Open(situation.coil))?;
            let by_lamp = find::shows(study, situation, other, Fault::Open(lamp))?;
            if by_coil != by_lamp {
                told_apart_by.push(scheme.parts[other].name.clone());
            }
        }
        found.push(Burnt {
            lamp: scheme.parts[lamp].name.clone(),
            position: situation.name.clone(),
            told_apart_by,
        });
    }
    Ok(found)
}
