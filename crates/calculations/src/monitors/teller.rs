//! What falls short at one coil, in the designer's words, with a cure in numbers.

use super::coverage::OPEN_HERE;
use super::find::Situation;
use super::loads::{Case, worst};
use super::{CoilMonitors, Load, MOST_SHARE, cures};
use crate::Study;
use crate::loads::series_resistor;
use crate::shown::{Shown, Thresholds};
use crate::words::{
    amps, down, list, ohms, percent, standard_ohm, standard_watt, standing, volts, watts,
};
use fiftytwo_scheme::{Finding, Lamp, PartId, PartKind, Scheme, Severity};

/// What a small signal lamp is rated for, V (trade practice: 24 to 28 V lamps behind a resistor).
const SMALL_LAMP: f64 = 24.0;

/// The findings of one coil.
pub(super) struct Teller<'a, 's> {
    pub(super) study: &'a Study<'a, 's>,
    pub(super) coil: &'a CoilMonitors,
    pub(super) situations: &'a [Situation],
}

impl Teller<'_, '_> {
    pub(super) fn tell(&self, findings: &mut Vec<Finding>) {
        let mut told = self.operates();
        // That a resistor may be shorted is no reason to keep quiet about what is likelier.
        if told.iter().all(|finding| finding.severity == Severity::Note) {
            told.extend(self.near_pickup());
        }
        // What operates the coil at rest holds it too: one cure for both.
        if !told.iter().any(|finding| finding.id == "monitor-operates-coil") {
            told.extend(self.holds());
        }
        findings.append(&mut told);
        self.burnt(findings);
        self.unseen(findings);
    }

    fn scheme(&self) -> &Scheme {
        self.study.scheme()
    }

    /// Monitors that may operate the coil: the worst case of each monitor.
    fn operates(&self) -> Vec<Finding> {
        let mut findings: Vec<Finding> = Vec::new();
        let reached = |case: Case| {
            self.coil
                .loads
                .iter()
                .filter(move |load| load.case == case && !load.held && load.of_pickup >= 1.0)
        };
        let worst = |case| reached(case).max_by(|a, b| a.volts.total_cmp(&b.volts));
        let coil = &self.coil.coil;
        let from = volts(self.coil.pickup_from);
        if let Some(load) = worst(Case::Healthy) {
            let (names, gets) = (self.leave(load), gets(load));
            findings.push(self.cured(
                "monitor-operates-coil",
                format!("{names} {gets} on {coil} at rest: it may operate from {from}"),
                load,
                self.largest(load),
                self.coil.pickup_from * MOST_SHARE,
            ));
            return findings;
        }
        if let Some(load) = worst(Case::FilamentsCold) {
            let text = format!(
                "while the filament warms up {coil} gets {}: it may operate from {from}",
                gets(load)
            );
            let target = self.coil.pickup_from * MOST_SHARE;
            findings.push(self.cured(
                "lamp-inrush-operates",
                text,
                load,
                self.largest(load),
                target,
            ));
        }
        let mut named: Vec<PartId> = Vec::new();
        let mut singles: Vec<&Load> = reached(Case::OneShorted).collect();
        singles
            .sort_by(|a, b| a.unlikely.cmp(&b.unlikely).then_with(|| b.volts.total_cmp(&a.volts)));
        for load in singles {
            let Some(&part) = load.ids.first() else { continue };
            if named.contains(&part) {
                continue;
            }
            named.push(part);
            findings.push(self.shorted(load, part));
        }
        if findings.is_empty()
            && let Some(load) = worst(Case::AllLightsShorted)
        {
            findings.push(self.note(
                "monitors-together-operate",
                format!(
                    "with {} all shorted {coil} gets {}: it may operate from {from}",
                    list(&load.shorted),
                    gets(load)
                ),
                load,
            ));
        }
        findings
    }

    /// One part shorted operates the coil.
    fn shorted(&self, load: &Load, part: PartId) -> Finding {
        let scheme = self.scheme();
        let (name, coil) = (&scheme.parts[part].name, &self.coil.coil);
        let (gets, from) = (gets(load), volts(self.coil.pickup_from));
        let target = self.coil.pickup_from * MOST_SHARE;
        let alone = self.situation(load).is_some_and(|situation| {
            situation.feeders.contains(&part) && situation.in_series(&[part]).is_empty()
        });
        if alone {
            let text = format!(
                "{name} stands alone in front of {coil}: shorted, it puts {gets} on it; it may \
                 operate from {from}"
            );
            return self.cured("monitor-alone", text, load, Some(part), target);
        }
        let text = format!("{name} shorted puts {gets} on {coil}: it may operate from {from}");
        self.as_likely(self.cured("monitor-short-operates", text, load, Some(part), target), part)
    }

    /// Lamps and inputs short, resistors break (common practice, no source): a resistor shorted is
    /// worth knowing, no more.
    fn as_likely(&self, mut finding: Finding, shorted: PartId) -> Finding {
        if !self.shorts(shorted) {
            finding.severity = Severity::Note;
        }
        finding
    }

    fn shorts(&self, part: PartId) -> bool {
        !matches!(self.scheme().parts[part].kind, PartKind::Resistor { .. })
    }

    /// Nothing operates, but more than the usual share of pickup stands on the coil.
    fn near_pickup(&self) -> Option<Finding> {
        let counts =
            |load: &&Load| !load.held && matches!(load.case, Case::Healthy | Case::OneShorted);
        let most = |unlikely: bool| {
            self.coil
                .loads
                .iter()
                .filter(counts)
                .filter(move |load| load.unlikely == unlikely)
                .max_by(|a, b| a.volts.total_cmp(&b.volts))
                .filter(|load| load.of_pickup >= MOST_SHARE && load.of_pickup < 1.0)
        };
        let load = most(false).or_else(|| most(true))?;
        let shorted = match &load.shorted[..] {
            [] => String::new(),
            names => format!("with {} shorted, ", list(names)),
        };
        Some(self.note(
            "monitor-near-pickup",
            format!(
                "{shorted}{} gets {}, {} of the {} it may operate from",
                self.coil.coil,
                gets(load),
                percent(load.of_pickup),
                volts(self.coil.pickup_from)
            ),
            load,
        ))
    }

    /// Monitors that may keep the coil in after an operation.
    fn holds(&self) -> Option<Finding> {
        let relay = self.coil.loads.iter().any(|load| load.held);
        let stays = |case: Case, likely: bool| {
            self.coil
                .loads
                .iter()
                .filter(move |load| {
                    let counts = load.held || (!relay && load.of_pickup < 1.0);
                    let shorts = load.ids.iter().all(|part| self.shorts(*part));
                    load.case == case && counts && load.of_dropout >= 1.0 && shorts == likely
                })
                .max_by(|a, b| a.volts.total_cmp(&b.volts))
        };
        let one =
            |likely| stays(Case::OneShorted, likely).map(|load| (load, load.ids.first().copied()));
        let (load, shorted) = stays(Case::Healthy, true)
            .map(|load| (load, None))
            .or_else(|| one(true))
            .or_else(|| one(false))?;
        let coil = &self.coil.coil;
        let (gets, below) = (gets(load), volts(self.coil.releases_below));
        let (id, text) = match shorted {
            None => (
                "monitor-holds-coil",
                format!(
                    "{coil} may stay picked up after an operation: {} {gets} on it, and it surely \
                     lets go only below {below}",
                    self.leave(load)
                ),
            ),
            Some(part) => (
                "monitor-short-holds-coil",
                format!(
                    "{coil} may stay picked up after an operation with {} shorted: {gets} are \
                     left on it, and it surely lets go only below {below}",
                    self.scheme().parts[part].name
                ),
            ),
        };
        let monitor = shorted.or_else(|| self.largest(load));
        // Just below: the last volt is the designer's.
        let target = self.coil.releases_below * 0.99;
        let mut finding = self.cured(id, text, load, monitor, target);
        if let PartKind::Coil(data) = &self.scheme().parts[self.coil.id].kind
            && data.dropout.is_none()
        {
            finding.severity = Severity::Note;
        }
        Some(match shorted {
            Some(part) => self.as_likely(finding, part),
            None => finding,
        })
    }

    fn burnt(&self, findings: &mut Vec<Finding>) {
        let mut told: Vec<&str> = Vec::new();
        for burnt in self.coil.burnt.iter().filter(|burnt| burnt.told_apart_by.is_empty()) {
            if told.contains(&burnt.lamp.as_str()) {
                continue;
            }
            told.push(&burnt.lamp);
            let text =
                format!("{} burnt out looks like a broken path of {}", burnt.lamp, self.coil.coil);
            let finding = Finding::note("burnt-lamp-unclear", text)
                .why(format!("{} no other monitor tells the two apart", standing(&burnt.position)))
                .help("an input or a second lamp beside it, or 1 spare lamp at hand to try")
                .device(&burnt.lamp)
                .device(&self.coil.coil);
            findings.push(match self.scheme().part_named(&burnt.lamp) {
                Some(id) => finding.at(self.scheme().parts[id].span, "dark means either"),
                None => finding,
            });
        }
    }

    /// Pieces that every way needs and whose break shows in no healthy position.
    fn unseen(&self, findings: &mut Vec<Finding>) {
        let blind = |part: &str| {
            self.coil.coverage.iter().all(|coverage| {
                coverage.uncovered.iter().any(|piece| piece.common && piece.part == part)
            })
        };
        // A command contact is open in every position: nothing can watch it, and nobody asks.
        let whole = |part: &str| {
            self.coil.coverage.iter().any(|coverage| {
                coverage.uncovered.iter().any(|it| it.part == part && it.why != OPEN_HERE)
            })
        };
        let Some(first) = self.coil.coverage.first() else { return };
        let names: Vec<String> = first
            .uncovered
            .iter()
            .filter(|piece| piece.common && blind(&piece.part) && whole(&piece.part))
            .map(|piece| piece.part.clone())
            .collect();
        if names.is_empty() {
            return;
        }
        let text = format!(
            "a break at {} of {} shows on no monitor, with the breaker open or closed",
            list(&names),
            self.coil.coil
        );
        let mut finding = Finding::note("break-unseen", text)
            .help("lead the monitor's current through it too")
            .device(&self.coil.coil);
        for name in &names {
            finding = finding.device(name);
        }
        findings.push(self.placed(finding, "part of its path is not watched"));
    }

    fn situation(&self, load: &Load) -> Option<&Situation> {
        self.situations.iter().find(|situation| {
            situation.coil == self.coil.id
                && situation.name == load.position
                && situation.held == load.held
        })
    }

    /// "RED leaves", "RED and 21 watch leave": what leads current through the coil in a case.
    fn leave(&self, load: &Load) -> String {
        let feeders = self.situation(load).map(|it| it.feeders.as_slice()).unwrap_or_default();
        let names: Vec<String> =
            feeders.iter().map(|part| self.scheme().parts[*part].name.clone()).collect();
        let verb = if names.len() == 1 { "leaves" } else { "leave" };
        format!("{} {verb}", list(&names))
    }

    /// The monitor that leads the most current.
    fn largest(&self, load: &Load) -> Option<PartId> {
        let situation = self.situation(load)?;
        let readings = self.study.bench.solve(&worst(situation, &[])).ok()?;
        let current = |part: PartId| readings.amps(part).unwrap_or(0.0).abs();
        situation.feeders.iter().copied().max_by(|a, b| current(*a).total_cmp(&current(*b)))
    }

    fn cured(
        &self,
        id: &'static str,
        text: String,
        load: &Load,
        part: Option<PartId>,
        target: f64,
    ) -> Finding {
        let finding = self
            .placed(Finding::new(id, Severity::Finding, text), gets(load))
            .why(self.corner(load))
            .device(&self.coil.coil);
        let Some((part, situation)) = part.zip(self.situation(load)) else { return finding };
        let scheme = self.scheme();
        let finding = finding
            .and_at(scheme.parts[part].span, "declared here")
            .device(&scheme.parts[part].name);
        let with = |situation: &Situation, target: f64| {
            let setup = worst(situation, &[]);
            let across = target / self.coil.levels.from_cold;
            cures::series_ohm(self.study, &setup, part, self.coil.id, across)
        };
        let mut more = with(situation, target);
        if id == "monitor-operates-coil" {
            // It has to let go as well.
            for held in self.situations.iter().filter(|it| it.coil == self.coil.id && it.held) {
                if held.feeders.contains(&part)
                    && let (Ok(Some(first)), Ok(Some(other))) =
                        (more, with(held, self.coil.releases_below * 0.99))
                {
                    more = Ok(Some(first.max(other)));
                }
            }
        }
        let help = match more {
            Ok(Some(more)) => self.series_cure(part, situation, more),
            _ => format!(
                "lead it past the coil, or put a shunt across the coil so that at most {} are \
                 left on it",
                volts(target)
            ),
        };
        finding.help(help)
    }

    /// The cure in ohms. For a lamp that takes the full voltage: a small lamp and its resistor.
    fn series_cure(&self, id: PartId, situation: &Situation, more: f64) -> String {
        let setup = &situation.setup;
        let scheme = self.scheme();
        let part = &scheme.parts[id];
        let needed = standard_ohm(more);
        let supply = part.at.map(|at| &scheme.supplies[scheme.circuits[at.circuit].supply]);
        if let (PartKind::Lamp(lamp), Some(supply)) = (&part.kind, supply) {
            let nominal = supply.nominal.middle();
            let own = rated(lamp, nominal);
            if own > SMALL_LAMP && nominal > SMALL_LAMP {
                let amps = lamp.current.middle();
                let fits = standard_ohm((nominal - SMALL_LAMP) / amps);
                if fits >= more {
                    let power = standard_watt(2.0 * supply.range.hi * supply.range.hi / fits);
                    return format!(
                        "a lamp of 24 V with a resistor of {} ({}) of its own in series",
                        ohms(fits),
                        watts(power)
                    );
                }
            }
        }
        // With no more than that the lamp itself would burn: it has to have its rated current too.
        let for_lamp = match (&part.kind, supply) {
            (PartKind::Lamp(lamp), Some(supply)) => {
                let rated = (rated(lamp, supply.nominal.middle()), lamp.current.middle());
                series_resistor(self.study, setup, id, rated).filter(|(ohm, _)| *ohm >= needed)
            }
            _ => None,
        };
        let name = &part.name;
        match self.most_added(id) {
            Some(most) if most < needed => {
                let stays = if most > 0.0 {
                    format!("surely on with at most {}", ohms(most))
                } else {
                    "not surely on even without".to_owned()
                };
                format!(
                    "no resistor in series with {name} does both: {} needs at least {}, and what \
                     it feeds is {stays}; a lamp or input for less current, or lead it past the \
                     coil",
                    self.coil.coil,
                    ohms(needed)
                )
            }
            _ => match for_lamp {
                Some((ohm, power)) => format!(
                    "a resistor of {} ({}) in series with {name}, which so gets its rated current",
                    ohms(ohm),
                    watts(power)
                ),
                None => self.in_the_window(id, situation, needed),
            },
        }
    }

    /// A resistor added in series: one in the middle of what the coil and the part ask for, with the
    /// watts it takes when the part is shorted, doubled.
    fn in_the_window(&self, id: PartId, situation: &Situation, needed: f64) -> String {
        let most = self.most_added(id);
        let middle = most.map(|most| standard_ohm((needed * most).sqrt()));
        let ohm = middle.zip(most).filter(|(ohm, most)| ohm <= most).map_or(needed, |it| it.0);
        let name = &self.scheme().parts[id].name;
        let seen = cures::seen_from(self.study, &worst(situation, &[]), id).ok();
        let power = seen.map_or_else(String::new, |(volts, behind)| {
            let amps = volts / (behind + ohm);
            format!(" ({})", watts(standard_watt(2.0 * amps * amps * ohm)))
        });
        match most {
            Some(most) if ohm > needed => format!(
                "a resistor of {}{power} added in series with {name}, which is surely on with at most {}",
                ohms(ohm),
                ohms(down(most))
            ),
            _ => format!("a resistor of at least {}{power} added in series with {name}", ohms(ohm)),
        }
    }

    /// The most ohms that may be added in series with a monitor, or with a resistor in front of
    /// one, until the monitor is no longer surely on at rest. None: it is on nowhere.
    fn most_added(&self, part: PartId) -> Option<f64> {
        let scheme = self.scheme();
        let mut most: Option<f64> = None;
        let mine = self.situations.iter().filter(|it| it.coil == self.coil.id && !it.held);
        for situation in mine {
            for monitor in situation.lookers() {
                let counts = monitor == part || situation.in_series(&[monitor]).contains(&part);
                let thresholds = Thresholds::of(scheme, &scheme.parts[monitor]);
                let Some(thresholds) = thresholds.filter(|_| counts) else { continue };
                let nominal = self.study.bench.solve(&situation.setup).ok()?;
                if thresholds.shown(&nominal, monitor) == Shown::Off {
                    continue;
                }
                let room = cures::room(self.study, &situation.setup, monitor, &thresholds).ok()?;
                let room = room.unwrap_or(0.0);
                most = Some(most.map_or(room, |known| known.min(room)));
            }
        }
        most
    }

    fn note(&self, id: &'static str, text: String, load: &Load) -> Finding {
        self.placed(Finding::note(id, text), gets(load))
            .why(self.corner(load))
            .help(format!(
                "at most {} on it ({} of pickup) is common practice",
                volts(self.coil.pickup_from * MOST_SHARE),
                percent(MOST_SHARE)
            ))
            .device(&self.coil.coil)
    }

    fn corner(&self, load: &Load) -> String {
        let told = load.celsius.map_or_else(String::new, |celsius| {
            format!(", told as volts on the coil at {celsius} C: a coil moves by its current")
        });
        let current = amps(load.amps);
        let high = self.high();
        let but = match load.beside.as_slice() {
            [] => String::new(),
            beside => format!(" but {}, beside it at its most ohms", list(beside)),
        };
        format!("{current} {}, {high}, everything cold{but}{told}", standing(&load.position))
    }

    fn high(&self) -> String {
        let scheme = self.scheme();
        scheme.parts[self.coil.id].at.map_or_else(String::new, |at| {
            let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
            format!("{} at {}", supply.name, volts(supply.range.hi))
        })
    }

    fn placed(&self, finding: Finding, label: impl Into<String>) -> Finding {
        match self.scheme().parts[self.coil.id].at {
            Some(at) => finding.at(at.span, label),
            None => finding,
        }
    }
}

fn rated(lamp: &Lamp, nominal: f64) -> f64 {
    lamp.rated.as_ref().map_or(nominal, fiftytwo_scheme::Quantity::middle)
}

/// "50.1 V"; of a cold coil "18.7 mA (56 V at 20 C)": its volts are fewer than that.
fn gets(load: &Load) -> String {
    super::told(load.amps, load.volts, load.celsius)
}
