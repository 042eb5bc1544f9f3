//! Overload elements against the running current of the motors behind them.
//!
//! **In:** a study. **Out:** one row for each placed element with a rated current, findings.
//! **Never here:** how long an element takes to operate.
//!
//! An element rated below the running current takes the motor away while nothing is wrong. One of
//! more than 1.4 times protects nothing (NEC 430.32 (C): 140 % at the most, from memory).

use crate::Study;
use crate::words::{amps, list};
use fiftytwo_scheme::{Finding, Part, PartId, PartKind, Severity};
use serde::Serialize;

/// The most that an element may be rated over its motor's running current.
const MOST_OVER: f64 = 1.4;

/// One overload element.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ElementRow {
    /// Its name.
    pub element: String,
    /// Rated current, A.
    pub rated: f64,
    /// The motors on whose way it stands.
    pub motors: Vec<String>,
    /// Their running currents together, A.
    pub runs: f64,
    /// Running over rated current.
    pub of_rated: f64,
}

pub(super) fn rows(study: &Study<'_, '_>, findings: &mut Vec<Finding>) -> Vec<ElementRow> {
    let scheme = study.scheme();
    let motors: Vec<(PartId, &Part, f64)> = scheme
        .placed()
        .filter_map(|(id, part)| match &part.kind {
            PartKind::Motor(motor) => Some((id, part, motor.rating.hi)),
            _ => None,
        })
        .collect();
    let mut rows = Vec::new();
    for (id, part) in scheme.placed() {
        let PartKind::Element { rating: Some(rating), .. } = &part.kind else { continue };
        let behind = motors.iter().filter(|(motor, ..)| {
            let ways = study.machine.wiring.ways(*motor);
            ways.list.iter().any(|way| way.parts.contains(&id))
        });
        let behind: Vec<_> = behind.collect();
        if behind.is_empty() {
            continue;
        }
        let runs: f64 = behind.iter().map(|(.., runs)| runs).sum();
        let row = ElementRow {
            element: part.name.clone(),
            rated: rating.lo,
            motors: behind.iter().map(|(_, motor, _)| motor.name.clone()).collect(),
            runs,
            of_rated: runs / rating.lo.max(1e-9),
        };
        findings.extend(tell(part, &row));
        rows.push(row);
    }
    rows
}

fn tell(part: &Part, row: &ElementRow) -> Option<Finding> {
    let (name, motors) = (&row.element, list(&row.motors));
    let (rated, runs) = (amps(row.rated), amps(row.runs));
    let (id, message, why) = if row.rated < row.runs {
        (
            "element-overloaded",
            format!(
                "{name} is rated {rated} and {motors} runs with {runs}: it operates for nothing"
            ),
            "at the running current of its motor, nothing broken",
        )
    } else if row.rated > MOST_OVER * row.runs * (1.0 + 1e-9) {
        (
            "element-too-large",
            format!("{name} is rated {rated} and {motors} runs with {runs}: it protects nothing"),
            "at most 140 % of the running current (NEC 430.32, from memory)",
        )
    } else {
        return None;
    };
    let help =
        format!("an element of {runs} to {}, its setting included", amps(MOST_OVER * row.runs));
    let mut finding = Finding::new(id, Severity::Finding, message)
        .at(part.span, format!("rated {rated}"))
        .why(why)
        .help(help)
        .device(name);
    for motor in &row.motors {
        finding = finding.device(motor);
    }
    Some(finding)
}
