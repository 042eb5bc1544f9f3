//! Coils of breakers and lockouts that are driven while nobody orders anything: what bridges a
//! contact, and what keeps current in a coil that is made for a moment; relays that a resistor across
//! their contacts moves or holds.

use super::find::{beside, breaker_or_lockout_coils};
use super::{Levels, MOST_SHARE, cures};
use crate::words::{list, ohms, standard_ohm, standing, volts};
use crate::{RestPosition, Study};
use fiftytwo_circuit::warmth::surely_moves_from;
use fiftytwo_circuit::{BenchFault, Ends, Fault, Setup, Warmth, Way};
use fiftytwo_scheme::{Coil, DeviceKind, Finding, PartId, PartKind, Severity};

/// A diode or a varistor that drops less than this is as good as a conductor, V: a way made so by
/// design.
const DROPS: f64 = 10.0;
/// A relay that does not say what it works from surely does at this share of the nominal voltage (from
/// memory of IEC 61810-1).
const SURELY: f64 = 0.8;

/// The findings of all rest positions, each coil told once for each kind.
pub(super) fn findings(study: &Study<'_, '_>) -> Result<Vec<Finding>, BenchFault> {
    let scheme = study.scheme();
    let mut findings = Vec::new();
    for id in breaker_or_lockout_coils(scheme) {
        let PartKind::Coil(coil) = &scheme.parts[id].kind else { continue };
        let driven = Driven { study, id, coil, levels: Levels::of(study, id, coil).0 };
        let mut told = None;
        for rest in study.rest.iter().filter(|rest| rest.is_healthy()) {
            told = driven.at_rest(rest)?;
            if told.is_some() {
                break;
            }
        }
        if told.is_none() && coil.max_on.is_some() {
            told = driven.kept_on()?;
        }
        findings.extend(told);
    }
    for (id, part, coil) in scheme.coils() {
        let relay = part.device.is_some_and(|device| {
            matches!(scheme.devices[device].kind, DeviceKind::Relay | DeviceKind::Timer { .. })
        });
        if relay && part.at.is_some() {
            let driven = Driven { study, id, coil, levels: Levels::of(study, id, coil).0 };
            findings.extend(driven.bridged()?);
        }
    }
    Ok(findings)
}

struct Driven<'a, 's> {
    study: &'a Study<'a, 's>,
    id: PartId,
    coil: &'a Coil,
    levels: Levels,
}

impl Driven<'_, '_> {
    /// The breaker is put where the position says: does the coil move it away at once?
    fn at_rest(&self, rest: &RestPosition) -> Result<Option<Finding>, BenchFault> {
        let base = self.study.bench.setup();
        let put = Setup { closed: rest.put.clone(), live: rest.live.clone(), ..base };
        let put = self.most(put.at(Ends::MOST))?;
        let gets = self.gets(&put)?;
        if gets < self.levels.pickup_from {
            return Ok(None);
        }
        let bridges = self.bridges(&put)?;
        // Monitors of a position that stays have findings of their own.
        if rest.stays && bridges.iter().any(|part| self.looks(*part)) {
            return Ok(None);
        }
        let name = self.name(self.id);
        let by = match &bridges[..] {
            [] => String::new(),
            parts => format!(" through {}", list(&self.names(parts))),
        };
        let stays = if rest.stays { "" } else { "; the position does not stay so" };
        let message = format!(
            "{name} is driven at rest: {} it gets {}{by}, and it may operate from {}",
            standing(&rest.name),
            self.gets_words(gets),
            volts(self.levels.pickup_from)
        );
        Ok(Some(self.told(
            "coil-driven-at-rest",
            message,
            format!("supply high, everything cold, nobody orders anything{stays}"),
            gets,
            self.cure(&put, &bridges, self.levels.pickup_from * MOST_SHARE)?,
            &bridges,
        )))
    }

    /// A coil made for a moment that a resistor keeps on in some rest position: its worst.
    fn kept_on(&self) -> Result<Option<Finding>, BenchFault> {
        let mut worst: Option<(f64, &RestPosition, Setup, Vec<PartId>)> = None;
        for rest in self.study.rest.iter() {
            let setup = self.most(rest.setup(&self.study.bench).at(Ends::MOST))?;
            let gets = self.gets(&setup)?;
            let known = worst.as_ref().map_or(self.levels.releases_below, |it| it.0);
            if gets < known {
                continue;
            }
            let bridges = self.bridges(&setup)?;
            if !bridges.is_empty() && !bridges.iter().any(|part| self.looks(*part)) {
                worst = Some((gets, rest, setup, bridges));
            }
        }
        let Some((gets, rest, setup, bridges)) = worst else { return Ok(None) };
        let name = self.name(self.id);
        let may = self.coil.max_on.as_ref().map_or("a moment", |time| time.written.as_str());
        let level = if gets >= self.levels.pickup_from {
            format!("it may operate from {}", volts(self.levels.pickup_from))
        } else {
            format!("it surely lets go only below {}", volts(self.levels.releases_below))
        };
        let message = format!(
            "{name} may be on for {may} and keeps {} at rest through {}: {level}",
            self.gets_words(gets),
            list(&self.names(&bridges))
        );
        Ok(Some(self.told(
            "momentary-coil-kept-on",
            message,
            format!("{}, supply high, everything cold", standing(&rest.name)),
            gets,
            self.cure(&setup, &bridges, self.levels.releases_below * 0.99)?,
            &bridges,
        )))
    }

    /// A relay that a resistor, a heater, a feed, a varistor or a diode across its contacts leaves current in while nobody orders it: the worst.
    /// One that it surely drives stands so by design.
    fn bridged(&self) -> Result<Option<Finding>, BenchFault> {
        let scheme = self.study.scheme();
        let part = &scheme.parts[self.id];
        let nominal = part
            .at
            .map_or(0.0, |at| scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle());
        let surely = surely_moves_from(scheme, part).unwrap_or(SURELY * nominal);
        let mut worst: Option<(f64, &RestPosition, Setup, Vec<PartId>)> = None;
        for rest in self.study.rest.iter().filter(|rest| rest.is_healthy()) {
            let at_rest = rest.setup(&self.study.bench);
            let setup = self.most(at_rest.clone().at(Ends::MOST))?;
            let gets = self.gets(&setup)?;
            let known = worst.as_ref().map_or(self.levels.releases_below, |it| it.0);
            if gets <= known {
                continue;
            }
            let bridges = self.bridges(&setup)?;
            let least = self.study.bench.solve(&at_rest.at(Ends::LEAST))?;
            // By design a resistor may, and nothing else.
            if bridges.iter().all(|part| self.resistor(*part))
                && least.across(self.id).unwrap_or(0.0).abs() >= surely
            {
                continue;
            }
            let beyond = |way: &Way| !bridges.iter().any(|part| way.parts.contains(part));
            // Lamps, inputs and coils have findings of their own.
            if !bridges.is_empty()
                && !bridges.iter().any(|part| self.looks(*part))
                && self.study.machine.wiring.ways(self.id).list.iter().any(beyond)
            {
                worst = Some((gets, rest, setup, bridges));
            }
        }
        let Some((gets, rest, setup, bridges)) = worst else { return Ok(None) };
        let moves = gets >= self.levels.pickup_from;
        let level = if moves {
            format!("it may pick up from {}", volts(self.levels.pickup_from))
        } else {
            format!(
                "picked up once, it surely lets go only below {}",
                volts(self.levels.releases_below)
            )
        };
        let message = format!(
            "{} keeps {} at rest through {}: {level}",
            self.name(self.id),
            self.gets_words(gets),
            list(&self.names(&bridges))
        );
        let most = self.levels.releases_below.min(self.levels.pickup_from * MOST_SHARE);
        let resistors = bridges.iter().all(|part| self.resistor(*part));
        let mut finding = self.told(
            if resistors { "resistor-keeps-relay" } else { "part-keeps-relay" },
            message,
            format!("{}, supply high, everything cold", standing(&rest.name)),
            gets,
            self.cure(&setup, &bridges, most * 0.99)?,
            &bridges,
        );
        if self.coil.pickup.is_none() || self.coil.dropout.is_none() {
            finding.severity = Severity::Note;
        }
        Ok(Some(finding))
    }

    fn told(
        &self,
        id: &'static str,
        message: String,
        why: String,
        gets: f64,
        help: String,
        bridges: &[PartId],
    ) -> Finding {
        let scheme = self.study.scheme();
        let mut finding = Finding::new(id, Severity::Finding, message).why(why).help(help);
        if let Some(at) = scheme.parts[self.id].at {
            finding = finding.at(at.span, volts(gets));
        }
        for part in bridges {
            finding = finding
                .and_at(scheme.parts[*part].span, "its current runs through this")
                .device(self.name(*part));
        }
        finding.device(self.name(self.id))
    }

    fn cure(&self, setup: &Setup, bridges: &[PartId], most: f64) -> Result<String, BenchFault> {
        let Some(&part) = bridges.first() else {
            return Ok("open its way at rest: 1 contact that only an order closes".to_owned());
        };
        let name = self.name(part);
        if matches!(
            self.study.scheme().parts[part].kind,
            PartKind::Power { .. } | PartKind::Varistor(_) | PartKind::Diode(_)
        ) {
            return Ok(format!(
                "take {name} away from across what is open there: at most {} may be left",
                volts(most)
            ));
        }
        let across = most / self.levels.from_cold;
        let least = cures::series_ohm(self.study, setup, part, self.id, across)?;
        Ok(match least {
            Some(ohm) if ohm > 0.0 => format!(
                "take {name} out, or let it have at least {}: then at most {} are left",
                ohms(standard_ohm(ohm)),
                volts(most)
            ),
            _ => format!("take {name} out: at most {} may be left", volts(most)),
        })
    }

    /// What its current runs through, beside contacts and conductors: broken, less than half is
    /// left.
    fn bridges(&self, setup: &Setup) -> Result<Vec<PartId>, BenchFault> {
        let readings = self.study.bench.solve(setup)?;
        let carried = readings.amps(self.id).unwrap_or(0.0).abs();
        let mut found = Vec::new();
        for (part, placed) in self.study.scheme().placed() {
            let load = matches!(
                placed.kind,
                PartKind::Resistor { .. }
                    | PartKind::Lamp(_)
                    | PartKind::Input(_)
                    | PartKind::Coil(_)
                    | PartKind::Motor(_)
                    | PartKind::Heater { .. }
                    | PartKind::Power { .. }
            ) || (matches!(placed.kind, PartKind::Diode(_) | PartKind::Varistor(_))
                && readings.across(part).unwrap_or(0.0).abs() >= DROPS);
            let amps = readings.amps(part).unwrap_or(0.0).abs();
            if !load || part == self.id || amps < carried / 2.0 {
                continue;
            }
            let broken = self.study.bench.solve(&setup.clone().with_fault(Fault::Open(part)))?;
            if broken.amps(self.id).unwrap_or(0.0).abs() < carried / 2.0 {
                found.push(part);
            }
        }
        Ok(found)
    }

    /// The same with what stands beside the coil at its most ohms: that leaves it more.
    fn most(&self, mut setup: Setup) -> Result<Setup, BenchFault> {
        let beside = beside(self.study, &setup, self.id, &[])?;
        setup.apart.extend(beside);
        Ok(setup)
    }

    /// Volts on the coil as its thresholds are told.
    fn gets(&self, setup: &Setup) -> Result<f64, BenchFault> {
        let readings = self.study.bench.solve(setup)?;
        Ok(readings.across(self.id).unwrap_or(0.0).abs() * self.levels.from_cold)
    }

    /// Volts as its thresholds are told, of a cold coil with its current.
    fn gets_words(&self, gets: f64) -> String {
        let cold = self.study.bench.ohm(self.id, Warmth::Cold);
        let across = gets / self.levels.from_cold;
        let amps = cold.map_or(0.0, |ohm| across / ohm);
        super::told(amps, gets, self.levels.celsius.filter(|_| cold.is_some()))
    }

    fn resistor(&self, part: PartId) -> bool {
        matches!(self.study.scheme().parts[part].kind, PartKind::Resistor { .. })
    }

    fn looks(&self, part: PartId) -> bool {
        let kind = &self.study.scheme().parts[part].kind;
        matches!(kind, PartKind::Lamp(_) | PartKind::Input(_) | PartKind::Coil(_))
    }

    fn name(&self, part: PartId) -> &str {
        &self.study.scheme().parts[part].name
    }

    fn names(&self, parts: &[PartId]) -> Vec<String> {
        parts.iter().map(|part| self.name(*part).to_owned()).collect()
    }
}
