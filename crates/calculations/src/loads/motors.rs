//! Motors and heaters: the volts they get at the end of their conductors.
//!
//! **In:** a study. **Out:** one row for each placed motor and heater, the least volts over all its
//! ways, alone and with every other load of its section on; findings with a cure in conductors.
//! **Never here:** the time a motor takes, its torque, its protection.
//!
//! Corner: supplies low, conductors hot, every load at its most current, resistors in front of it at
//! their most ohms, motors running. While they
//! start they draw more and get less; that is told too. A motor is held against its `works`. One that
//! says none, and a heater, against a typical share of the nominal voltage, which makes a note only:
//! 80 % in direct current (instruction books of breakers, read: motors of 125 V for 100 to 140 V), 85 %
//! in alternating current (from memory of IEC 62271-1: 85 to 110 %).

use crate::Study;
use crate::figures::{digits, volts};
use crate::fuses::OfCables;
use fiftytwo_circuit::bench::{Charge, Ends, Readings, Setup, Stand, Warmth};
use fiftytwo_circuit::{Positions, SectionId};
use fiftytwo_scheme::{
    CableId, CurrentKind, Finding, Part, PartId, PartKind, Quantity, Severity, Volt,
};
use serde::Serialize;

/// The corner of the least volts.
const LEAST: Ends = Ends { battery: Charge::Low, conductors: Warmth::Hot, coils: Warmth::Cold };
/// The corner of the most.
const MOST: Ends = Ends { battery: Charge::High, conductors: Warmth::Cold, coils: Warmth::Hot };
/// Motors in direct current that say nothing (read in instruction books of breakers).
const TYPICAL_DC: f64 = 0.8;
/// Motors in alternating current that say nothing (from memory of IEC 62271-1).
const TYPICAL_AC: f64 = 0.85;
/// Below this share of the nominal voltage a motor may not start (common practice, no source).
const STARTS: f64 = 0.5;
/// So often a bracket of resistance is halved.
const STEPS: usize = 40;

/// The volts of one motor or heater.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MotorRow {
    /// Its name.
    pub part: String,
    /// "motor" or "heater".
    pub kind: &'static str,
    /// The least volts across it while it runs.
    pub least: f64,
    /// Every other load of its section is on then.
    pub with_others: bool,
    /// The least volts across it while all motors start; none: it draws no more then.
    pub starting: Option<f64>,
    /// The most volts across it.
    pub most: f64,
    /// It surely works from, V.
    pub from: f64,
    /// That is a typical value, not a declared one.
    pub typical: bool,
    /// It may be used up to, V; none: not declared.
    pub up_to: Option<f64>,
}

/// Every placed motor and heater, in source order.
pub(super) fn rows(
    study: &Study<'_, '_>,
    fuses: &OfCables,
    findings: &mut Vec<Finding>,
) -> Vec<MotorRow> {
    let mut rows = Vec::new();
    let mut lost = Vec::new();
    for (id, part) in study.scheme().placed() {
        let works = match &part.kind {
            PartKind::Motor(motor) => motor.works.as_ref(),
            PartKind::Heater { .. } => None,
            _ => continue,
        };
        let Some(asked) = Asked::new(study, id, part, works) else {
            lost.push(part);
            continue;
        };
        let Some(row) = asked.row() else {
            lost.push(part);
            continue;
        };
        findings.extend(asked.tell(&row, fuses));
        rows.push(row);
    }
    findings.extend(lost.into_iter().map(not_judged));
    rows
}

fn not_judged(part: &Part) -> Finding {
    let text =
        format!("what {} gets is not judged: no way leads to it that can be followed", part.name);
    let finding = Finding::note("motor-not-judged", text).device(&part.name);
    match part.at {
        Some(at) => finding.at(at.span, "not judged"),
        None => finding,
    }
}

struct Asked<'a, 'm, 's> {
    study: &'a Study<'m, 's>,
    id: PartId,
    part: &'a Part,
    works: Option<&'a Quantity<Volt>>,
    section: SectionId,
    /// Each way alone, and with every other load on.
    keys: Vec<(Positions, bool)>,
    /// The cables of its ways, each with the least number of cores side by side.
    cables: Vec<(CableId, usize)>,
    nominal: f64,
    alternating: bool,
}

impl<'a, 'm, 's> Asked<'a, 'm, 's> {
    fn new(
        study: &'a Study<'m, 's>,
        id: PartId,
        part: &'a Part,
        works: Option<&'a Quantity<Volt>>,
    ) -> Option<Self> {
        let (scheme, wiring) = (study.scheme(), &study.machine.wiring);
        let section = wiring.section_of(id)?;
        let supply = &scheme.supplies[scheme.circuits[part.at?.circuit].supply];
        let mut keys: Vec<(Positions, bool)> = Vec::new();
        let mut cables: Vec<(CableId, usize)> = Vec::new();
        for way in &wiring.ways(id).list {
            for (key, others) in
                [(way.closed, false), (wiring.with_other_loads(section, way, id), true)]
            {
                if !keys.iter().any(|(known, _)| *known == key) {
                    keys.push((key, others));
                }
            }
            for part in &way.parts {
                let PartKind::Core(core) = &scheme.parts[*part].kind else { continue };
                match cables.iter_mut().find(|(cable, _)| *cable == core.cable) {
                    Some((_, least)) => *least = (*least).min(core.cores.len()),
                    None => cables.push((core.cable, core.cores.len())),
                }
            }
        }
        let alternating = supply.current == CurrentKind::Ac;
        let nominal = supply.nominal.middle();
        let some = !keys.is_empty();
        some.then_some(Self { study, id, part, works, section, keys, cables, nominal, alternating })
    }

    fn share(&self) -> f64 {
        if self.alternating { TYPICAL_AC } else { TYPICAL_DC }
    }

    fn from(&self) -> f64 {
        self.works.map_or(self.share() * self.nominal, |works| works.lo)
    }

    fn setup(&self, key: &Positions, ends: Ends) -> Setup {
        let mut setup = self.study.bench.setup().at(ends);
        let switches = self.study.machine.wiring.switches(self.section);
        for (bit, &switch) in switches.iter().enumerate() {
            setup = setup.with_closed(switch, key.is_closed(bit));
        }
        // What stands in front of it, a resistor, does at its other end what loads beside it do at this.
        let Ok(readings) = self.study.bench.solve(&setup) else { return setup };
        let (wanted, far) = if ends == LEAST { (-1.0, Warmth::Hot) } else { (1.0, Warmth::Cold) };
        let volts = |readings: &Readings<'_>| readings.across(self.id).unwrap_or(0.0).abs();
        let now = volts(&readings);
        let mut apart = Vec::new();
        for (other, part) in self.study.scheme().placed() {
            let matters = matches!(part.kind, PartKind::Resistor { .. })
                && self.study.bench.spreads(other)
                && self.study.machine.wiring.section_of(other) == Some(self.section)
                && readings.amps(other).is_some_and(|amps| amps != 0.0);
            let there = |setup: &Setup| setup.clone().with_apart(other, Stand::At(far));
            if matters
                && let Ok(moved) = self.study.bench.solve(&there(&setup))
                && (volts(&moved) - now) * wanted > 1e-9 * now
            {
                apart.push((other, Stand::At(far)));
            }
        }
        setup.apart.extend(apart);
        setup
    }

    /// None: it can't be solved (told elsewhere).
    fn volts(&self, setup: &Setup) -> Option<f64> {
        let readings = self.study.bench.solve(setup).ok()?;
        readings.across(self.id).map(f64::abs)
    }

    fn row(&self) -> Option<MotorRow> {
        let scheme = self.study.scheme();
        let mut least: Option<(f64, bool)> = None;
        let mut starting: Option<f64> = None;
        let mut most = 0.0_f64;
        for (key, others) in &self.keys {
            let mut setup = self.setup(key, LEAST);
            let Some(runs) = self.volts(&setup) else { continue };
            if least.is_none_or(|(known, _)| runs < known) {
                least = Some((runs, *others));
            }
            setup.motors_start = true;
            if let Some(starts) = self.volts(&setup) {
                starting = Some(starting.map_or(starts, |known| known.min(starts)));
            }
            most = most.max(self.volts(&self.setup(key, MOST)).unwrap_or(0.0));
        }
        let (least, with_others) = least?;
        let motor = matches!(scheme.parts[self.id].kind, PartKind::Motor(_));
        Some(MotorRow {
            part: self.part.name.clone(),
            kind: if motor { "motor" } else { "heater" },
            least,
            with_others,
            starting: starting.filter(|starts| motor && *starts < least - 1e-9),
            most,
            from: self.from(),
            typical: self.works.is_none(),
            up_to: self.works.map(|works| works.hi),
        })
    }

    fn tell(&self, row: &MotorRow, fuses: &OfCables) -> Vec<Finding> {
        let mut findings = Vec::new();
        let name = &row.part;
        let placed = |finding: Finding, label: String| match self.part.at {
            Some(at) => finding.at(at.span, label).device(name),
            None => finding.device(name),
        };
        let others = if row.with_others { "every other load beside it on" } else { "alone" };
        let starting = row.starting.map_or_else(String::new, |starts| {
            format!("; while every motor starts, {} V", volts(starts))
        });
        let why = format!("supply low, conductors hot, {others}{starting}");
        if row.least < row.from * (1.0 - 1e-9) {
            let gets = crate::words::volts(crate::words::down(row.least));
            let (needs, source) = if !row.typical {
                (format!("it works from {} V", volts(row.from)), String::new())
            } else {
                let source = if self.alternating {
                    "from memory of IEC 62271-1"
                } else {
                    "instruction books of breakers"
                };
                (
                    format!(
                        "{} % of {} V, {} V, is typical for one that says nothing",
                        digits(self.share() * 100.0, 3),
                        volts(self.nominal),
                        volts(row.from)
                    ),
                    format!("; typical: {source}"),
                )
            };
            let (id, does) = match row.kind {
                "motor" => ("motor-volts-low", "while it runs".to_owned()),
                _ => (
                    "heater-volts-low",
                    format!(
                        "and give {} % of its watts",
                        digits(100.0 * (row.least / self.nominal).powi(2), 2)
                    ),
                ),
            };
            let severity = if row.typical { Severity::Note } else { Severity::Finding };
            let text = format!("{name} may get only {gets} {does}; {needs}");
            let finding = Finding::new(id, severity, text)
                .why(format!("{why}{source}"))
                .help(self.cure(row, fuses));
            findings.push(placed(finding, format!("{gets} at the least")));
        } else if let Some(starts) = row.starting.filter(|it| *it < STARTS * self.nominal) {
            let text = format!(
                "{name} may get only {} V while it starts: below half of {} V it may not start",
                volts(starts),
                volts(self.nominal)
            );
            let finding = Finding::note("motor-start-weak", text)
                .why(format!("{why}; half: common practice, no source"))
                .help("thicker cores, a shorter run or a stiffer supply");
            findings.push(placed(finding, format!("{} V while it starts", volts(starts))));
        }
        if let Some(up_to) = row.up_to.filter(|up_to| row.most > up_to * (1.0 + 1e-9)) {
            let gets = crate::words::volts(crate::words::up(row.most));
            let text = format!("{name} may get {gets}; it may be used up to {} V", volts(up_to));
            let finding = Finding::new("motor-volts-high", Severity::Finding, text)
                .why("supply high, conductors cold")
                .help(format!("a motor for {gets} or a lower charging voltage"));
            findings.push(placed(finding, format!("{gets} at the most")));
        }
        findings
    }

    /// The least volts with some cables' resistance so many times.
    fn least_with(&self, cables: &[CableId], times: f64) -> f64 {
        let scheme = self.study.scheme();
        let cores = || {
            scheme.placed().filter(|(_, part)| {
                matches!(&part.kind, PartKind::Core(core) if cables.contains(&core.cable))
            })
        };
        let of_key = |(key, _): &(Positions, bool)| {
            let mut setup = self.setup(key, LEAST);
            for (core, _) in cores() {
                let ohm = self.study.bench.ohm(core, Warmth::Hot).unwrap_or(0.0);
                setup = setup.with_apart(core, Stand::Ohm(ohm * times));
            }
            self.volts(&setup)
        };
        self.keys.iter().filter_map(of_key).fold(f64::INFINITY, f64::min)
    }

    /// The greatest factor on the resistance of some cables with which it gets enough; none: even
    /// without any resistance it does not.
    fn factor(&self, cables: &[CableId]) -> Option<f64> {
        if self.least_with(cables, 0.0) < self.from() {
            return None;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..STEPS {
            let middle = f64::midpoint(low, high);
            if self.least_with(cables, middle) >= self.from() {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(low)
    }

    fn cure(&self, row: &MotorRow, fuses: &OfCables) -> String {
        let scheme = self.study.scheme();
        let alone = self.cables.iter().filter_map(|(cable, now)| {
            Some((*cable, *now, self.factor(&[*cable]).filter(|times| *times > 0.0)?))
        });
        if let Some((cable, now, times)) = alone.max_by(|a, b| a.2.total_cmp(&b.2)) {
            let cures = crate::cables::cures_of(scheme, fuses, cable, (now, times));
            return format!("{} is too thin or too long: {cures}", scheme.cables[cable].name);
        }
        let all: Vec<CableId> = self.cables.iter().map(|(cable, _)| *cable).collect();
        match self.factor(&all).filter(|times| *times > 0.0 && !all.is_empty()) {
            Some(times) => {
                let each = self.cables.iter().map(|(cable, now)| {
                    let cures = crate::cables::cures_of(scheme, fuses, *cable, (*now, times));
                    format!("{}: {cures}", scheme.cables[*cable].name)
                });
                format!("all of its cables together: {}", each.collect::<Vec<_>>().join("; "))
            }
            None => format!(
                "no conductor helps: one that works from {}, or a nearer or stiffer supply",
                crate::words::volts(crate::words::down(row.least.min(self.least_with(&all, 0.0))))
            ),
        }
    }
}
