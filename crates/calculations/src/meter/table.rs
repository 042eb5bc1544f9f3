//! The table to take along: volts from every point to both poles and to ground, position by
//! position.
//!
//! **In:** a study. **Out:** a [`MeterTable`]: rows are points, columns rest positions.
//! **Never here:** faults.

use super::ends::corners;
use super::points::{screws, wire_name};
use crate::Study;
use crate::grounds::TYPICAL_LEG;
use fiftytwo_circuit::bench::{Charge, Ends, Fault, Readings, Setup};
use fiftytwo_scheme::{CurrentKind, Finding, NodeId, Scheme, Supply};
use serde::Serialize;

/// What a meter should show.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Expected {
    /// So many volts.
    Volts {
        /// At nominal voltage and 20 °C.
        nominal: f64,
        /// The least over the ends of the tolerances: see `ends.rs`.
        least: f64,
        /// The most.
        most: f64,
    },
    /// No fixed reading: nothing holds one of the two points. A meter pulls it to near 0 V; a
    /// stray charge may show for a moment.
    Floats,
}

/// One point in one position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cell {
    /// Red probe on the point, black on its supply's minus pole (AC: neutral).
    pub to_minus: Expected,
    /// Black probe on its supply's plus pole (AC: phase).
    pub to_plus: Expected,
    /// Black probe on ground.
    pub to_ground: Expected,
    /// The floating ones in words; empty if none floats.
    pub words: String,
}

/// One point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeterRow {
    /// Its wire number, or what it lies between.
    pub wire: String,
    /// Terminals and screws where it can be reached.
    pub screws: Vec<String>,
    /// Where it is.
    pub place: String,
    /// Its supply.
    pub supply: String,
    /// One for each position.
    pub cells: Vec<Cell>,
}

/// The whole table.
#[derive(Debug, Clone, Serialize)]
pub struct MeterTable {
    /// The columns.
    pub positions: Vec<String>,
    /// The rows, in the order of the source.
    pub rows: Vec<MeterRow>,
    /// Typical values in use.
    pub typical: Vec<String>,
    /// What is covered and what not.
    pub covers: Vec<String>,
    /// Positions that could not be computed.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Legs of a typical detector where none is declared, so that a voltage to ground can be told.
pub(super) fn with_reference(scheme: &Scheme, mut setup: Setup) -> Setup {
    for supply in scheme.supplies.values() {
        if lacks_reference(supply) {
            for at in [supply.plus, supply.minus] {
                setup = setup.with_fault(Fault::Ground { at, ohm: TYPICAL_LEG });
            }
        }
    }
    setup
}

fn lacks_reference(supply: &Supply) -> bool {
    supply.current == CurrentKind::Dc && supply.grounds.is_empty() && !supply.grounded
}

/// Computes the table.
pub fn table(study: &Study<'_, '_>) -> MeterTable {
    let scheme = study.scheme();
    let mut findings = Vec::new();
    let mut positions = Vec::new();
    let nodes: Vec<NodeId> =
        scheme.nodes.ids().filter(|node| study.bench.supply_of(*node).is_some()).collect();
    let mut cells: Vec<Vec<Cell>> = nodes.iter().map(|_| Vec::new()).collect();
    for rest in study.rest.iter().filter(|rest| rest.rests) {
        let setup = with_reference(scheme, rest.setup(&study.bench));
        let nominal = study.bench.solve(&setup.clone().at(Ends::NOMINAL));
        let solved = nominal.and_then(|nominal| {
            Ok((nominal, corners(study, &setup, &[Charge::Low, Charge::High])?))
        });
        match solved {
            Ok((nominal, corners)) => {
                let solved: Vec<Readings<'_>> = std::iter::once(nominal).chain(corners).collect();
                positions.push(rest.name.clone());
                for (node, cells) in nodes.iter().zip(&mut cells) {
                    cells.push(cell(study, rest.live.as_slice(), &solved, *node));
                }
            }
            Err(fault) => {
                let why = format!("the volts with {} were not computed", rest.name);
                findings.push(fault.finding(scheme).why(why));
            }
        }
    }
    let rows = nodes.iter().zip(cells).map(|(node, cells)| MeterRow {
        wire: wire_name(scheme, *node),
        screws: screws(scheme, *node),
        place: scheme.places[scheme.nodes[*node].place].name.clone(),
        supply: study
            .bench
            .supply_of(*node)
            .map_or_else(String::new, |supply| scheme.supplies[supply].name.clone()),
        cells,
    });
    let typical = scheme.supplies.values().filter(|supply| lacks_reference(supply)).map(|supply| {
        format!(
            "{} declares no ground detector: volts to ground with 25 kohm from each pole, typical \
             (from memory: 5 to 100 kohm)",
            supply.name
        )
    });
    MeterTable {
        positions,
        rows: rows.collect(),
        typical: typical.collect(),
        covers: vec![
            "direct volts (AC: rms) at rest, nothing broken; nominal at 20 °C, and the least and the \
             most with supplies low and high, each load that shares its volts at its own worse end; \
             the legs of ground detectors at the middle of theirs"
                .to_owned(),
            "not: the meter's own current (a point held through more than 100 kohm shows less), \
             induced and stray voltages, phase angles"
                .to_owned(),
        ],
        findings,
    }
}

fn cell(study: &Study<'_, '_>, live: &[bool], solved: &[Readings<'_>], node: NodeId) -> Cell {
    let scheme = study.scheme();
    let own = study.bench.supply_of(node);
    let pole = |plus: bool| {
        own.map(|id| {
            let supply = &scheme.supplies[id];
            if plus { supply.plus } else { supply.minus }
        })
    };
    let show = |read: &dyn Fn(&Readings<'_>) -> Option<f64>| {
        let volts: Option<Vec<f64>> = solved.iter().map(read).collect();
        volts.map_or(Expected::Floats, |volts| Expected::Volts {
            nominal: volts.first().copied().unwrap_or(0.0),
            least: volts.iter().copied().fold(f64::INFINITY, f64::min),
            most: volts.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        })
    };
    let to = |pole: Option<NodeId>| show(&|readings: &Readings<'_>| readings.between(node, pole?));
    let to_minus = to(pole(false));
    let to_plus = to(pole(true));
    let to_ground = show(&|readings: &Readings<'_>| readings.to_ground(node));
    let lost = own.is_some_and(|id| {
        !live.get(fiftytwo_scheme::arena::Id::index(id)).copied().unwrap_or(true)
    });
    let floats = [&to_minus, &to_plus, &to_ground].iter().any(|it| **it == Expected::Floats);
    let words = match (floats, lost, own) {
        (true, true, Some(id)) => format!("dead: {} is lost", scheme.supplies[id].name),
        (true, _, _) if to_minus == Expected::Floats => "floats: nothing holds it".to_owned(),
        (true, _, _) => "no reference to ground".to_owned(),
        _ => String::new(),
    };
    Cell { to_minus, to_plus, to_ground, words }
}
