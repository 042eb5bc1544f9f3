//! Capacitors that charge when a supply comes back: their current may move a coil that nobody ordered.
//!
//! **In:** a [`Study`]. **Out:** for each capacitor and each idle coil that its charging current runs
//! through, the volts at first and how long they stand above what the coil may pick up from; a finding
//! where that is long enough. **Never here:** capacitance to ground (that is `grounds`), the release
//! that a capacitor across a coil delays, ringing.
//!
//! An empty capacitor is a piece of wire in the first instant and open in the end; in between every
//! voltage goes along one exponential with `τ = R C`, where `R` is what the capacitor sees: its volts
//! in the end over its current in the beginning (Thévenin; textbooks on RC circuits). Volts on a coil
//! are told as its current times the resistance that its thresholds are told for. Its inductance is
//! left out: it makes the current rise later and fall later.

use crate::Study;
use crate::figures::digits;
use crate::grounds::discharge::Discharge;
use crate::grounds::{TYPICAL_STILL, pickup_time};
use fiftytwo_circuit::bench::{Charge, Ends, Fault, Warmth};
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_scheme::{Finding, Part, PartId, PartKind, Scheme, Severity};
use serde::Serialize;

/// Shorter than this moves nothing, s.
const LEAST_TIME: f64 = 1e-4;
/// Less than this share of the threshold is not worth a row.
const WORTH: f64 = 0.2;

/// Capacitors and the coils they may move.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Charging {
    /// The worst rest position and corner of each capacitor and coil.
    pub rows: Vec<ChargingRow>,
    /// `capacitor-operates-coil`, `charging-not-computed`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// What the charging current of one capacitor does to one coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChargingRow {
    /// The capacitor.
    pub capacitor: String,
    /// The coil.
    pub coil: String,
    /// The rest position into which the supply comes back.
    pub position: String,
    /// Volts on the coil in the first instant, at the temperature its resistance is told for.
    pub first: f64,
    /// The same in the end.
    pub last: f64,
    /// Time constant, s.
    pub time_constant: f64,
    /// It may pick up from, V.
    pub pickup_from: f64,
    /// That is declared.
    pub declared: bool,
    /// It stands above that for so long, s.
    pub above: f64,
    /// It needs so long to move, s.
    pub needs: f64,
}

/// Tries each capacitor alone in every rest position with its supply alive.
pub fn charging(study: &Study<'_, '_>) -> Charging {
    let scheme = study.scheme();
    let mut found = Charging::default();
    for (id, part) in scheme.placed() {
        let PartKind::Capacitor { capacitance } = &part.kind else { continue };
        let mut rows: Vec<(PartId, ChargingRow)> = Vec::new();
        let mut failed = None;
        for rest in study.rest.iter().filter(|rest| rest.rests) {
            for coils in [Warmth::Cold, Warmth::Hot] {
                let ends = Ends { battery: Charge::High, conductors: Warmth::Cold, coils };
                let tried = Tried { study, id, part, farad: capacitance.hi, ends, coils };
                match tried.rows(rest) {
                    Ok(new) => new.into_iter().for_each(|new| keep(&mut rows, new)),
                    Err(why) => failed = Some(failed.unwrap_or((rest.name.clone(), why))),
                }
            }
        }
        found.findings.extend(failed.map(|(position, why)| {
            let text = format!(
                "what the charging current of {} does was not computed {}: {why}",
                part.name,
                crate::words::standing(&position)
            );
            placed(part, Finding::note("charging-not-computed", text), "not computed".to_owned())
        }));
        for (coil, row) in rows {
            found.findings.extend(tell(scheme, part, coil, &row));
            found.rows.push(row);
        }
    }
    found
}

fn keep(rows: &mut Vec<(PartId, ChargingRow)>, (coil, row): (PartId, ChargingRow)) {
    let spare = |row: &ChargingRow| row.needs.max(LEAST_TIME) - row.above;
    match rows.iter_mut().find(|(known, _)| *known == coil) {
        Some((_, known)) if spare(&row) < spare(known) => *known = row,
        Some(_) => {}
        None => rows.push((coil, row)),
    }
}

struct Tried<'a, 'm, 's> {
    study: &'a Study<'m, 's>,
    id: PartId,
    part: &'a Part,
    farad: f64,
    ends: Ends,
    coils: Warmth,
}

impl Tried<'_, '_, '_> {
    fn rows(&self, rest: &crate::RestPosition) -> Result<Vec<(PartId, ChargingRow)>, &'static str> {
        let (scheme, bench) = (self.study.scheme(), &self.study.bench);
        let setup = rest.setup(bench).at(self.ends);
        let open = bench.solve(&setup).map_err(|_| "no voltages were found there")?;
        let empty = setup.clone().with_fault(Fault::Shorted(self.id));
        let Ok(wire) = bench.solve(&empty) else {
            // It stands between the poles of a supply: nothing limits its current but no coil is in
            // its way either.
            return Ok(Vec::new());
        };
        let ends = open.across(self.id).unwrap_or(0.0).abs();
        if ends < 1e-6 {
            return Ok(Vec::new());
        }
        let amps = wire.amps(self.id).ok_or("its current is shared in a way nobody can know")?;
        let ohm = ends / amps.abs().max(1e-12);
        let mut rows = Vec::new();
        for (id, part, coil) in scheme.coils() {
            let Some(at) = part.at else { continue };
            let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
            let (cold, hot) = coil_warmth(scheme, part);
            let told = if self.coils == Warmth::Cold { cold } else { hot };
            let volts = |readings: &fiftytwo_circuit::Readings<'_>| {
                readings.across(id).unwrap_or(0.0) / told
            };
            let (first, last) = (volts(&wire), volts(&open));
            let typical = TYPICAL_STILL * supply.nominal.middle();
            let pickup_from = coil.pickup.as_ref().map_or(typical, |pickup| pickup.lo);
            // What is driven already, and what its charging does not touch.
            if last.abs() >= pickup_from || first.abs() < WORTH * pickup_from {
                continue;
            }
            let falls = Discharge { first, last, tau: ohm * self.farad };
            rows.push((
                id,
                ChargingRow {
                    capacitor: self.part.name.clone(),
                    coil: part.name.clone(),
                    position: rest.name.clone(),
                    first: first.abs(),
                    last: last.abs(),
                    time_constant: falls.tau,
                    pickup_from,
                    declared: coil.pickup.is_some(),
                    above: falls.above(pickup_from).longest(),
                    needs: pickup_time(scheme, part),
                },
            ));
        }
        Ok(rows)
    }
}

fn placed(part: &Part, finding: Finding, label: String) -> Finding {
    let finding = finding.device(&part.name);
    match part.at {
        Some(at) => finding.at(at.span, label),
        None => finding,
    }
}

fn tell(scheme: &Scheme, capacitor: &Part, coil: PartId, row: &ChargingRow) -> Option<Finding> {
    let needs = row.needs.max(LEAST_TIME);
    if row.above < needs {
        return None;
    }
    let PartKind::Capacitor { capacitance } = &capacitor.kind else { return None };
    let data = &scheme.parts[coil];
    let ms = |seconds: f64| format!("{} ms", digits(seconds * 1e3, 3));
    let severity = if row.declared { Severity::Finding } else { Severity::Note };
    let typical = if row.declared { "" } else { " (typical: no pickup is declared)" };
    let text = format!(
        "when the supply comes back {}, the charging current of {} may operate {}: {} V at first, \
         {} above {} V{typical}; it may move after {}",
        crate::words::standing(&row.position),
        row.capacitor,
        row.coil,
        digits(row.first, 3),
        ms(row.above),
        digits(row.pickup_from, 3),
        ms(row.needs)
    );
    // The time above is in proportion to the capacitance.
    let most = crate::words::down(capacitance.hi * 0.98 * row.needs / row.above);
    let less = if most > 0.0 && row.above.is_finite() {
        format!("at most {} uF, or ", digits(most * 1e6, 3))
    } else {
        String::new()
    };
    let longer = if row.above.is_finite() {
        format!("a coil that takes more than {}", ms(row.above * 1.02))
    } else {
        "a coil that does not pick up from it".to_owned()
    };
    let finding = Finding::new("capacitor-operates-coil", severity, text)
        .why(format!(
            "supply high; an empty capacitor is a piece of wire, and it charges with {}; the coil's \
             inductance is left out",
            ms(row.time_constant)
        ))
        .help(format!("{less}{longer}"));
    let finding = placed(capacitor, finding, format!("{} V on {}", digits(row.first, 3), row.coil));
    Some(finding.and_at(data.span, "this coil").device(&row.coil))
}
