//! What to do where a coil gets too little, by what is on its way.
//!
//! **In:** a way and what the coil gets on it. **Out:** the cure in one line; the findings of a coil
//! that nothing drives, and of a bound that says nothing. **Never here:** solving of corners.

use super::{Reading, Reporter, told};
use crate::corner::Others;
use crate::wiring::Way;
use fiftytwo_scheme::{Finding, PartId, PartKind, Severity};

/// A bound that other circuits pull below anything real.
pub(super) struct Useless {
    pub(super) text: String,
    pub(super) why: String,
    pub(super) help: String,
}

impl Reporter<'_, '_> {
    /// Where the other circuits at their most would pull the supply itself below what the coil needs,
    /// the bound tells of the supply's resistance, not of the coil.
    pub(super) fn useless_bound(
        &self,
        way: &Way,
        lowest: &Reading,
        loaded: bool,
        needs: f64,
    ) -> Option<Useless> {
        let supply = &self.wiring.scheme().supplies[way.supply];
        let (volts, ohm) = (supply.range.lo, supply.resistance.hi);
        let draw = self.wiring.others_at_most(self.section, way.supply);
        if lowest.corner.others != Others::On || volts - ohm * draw >= needs {
            return None;
        }
        let key = if loaded {
            self.wiring.with_other_loads(self.section, way, self.id)
        } else {
            way.closed
        };
        let drives = self.wiring.drive_without_others(self.section, &key);
        let drive = drives.iter().find(|drive| drive.part == self.id)?;
        let (alone, own) = (drive.volts_lo, self.amps(drive.volts_lo, drive.corner_lo));
        let (name, supply) = (&self.part.name, &supply.name);
        let meanwhile = if loaded { " and every other load beside it on" } else { "" };
        let takes = format!(
            "the resistance of {supply}, {} ohm, makes the bound useless: the other circuits at \
             their most would draw {} A, which takes {} V of its {} V",
            told_ohm(ohm),
            told(draw),
            told((ohm * draw).min(volts)),
            told(volts)
        );
        let text = if alone < needs {
            format!(
                "{name} may get only {} V even with the other circuits of {supply} off{meanwhile}; \
                 it surely works from {} V",
                told(alone),
                told(needs)
            )
        } else {
            format!(
                "what {name} gets at the least is not known: {takes}; with them off{meanwhile} it \
                 gets {} V, and it surely works from {} V",
                told(alone),
                told(needs)
            )
        };
        let least = (volts - needs) / (draw + own.unwrap_or(0.0));
        Some(Useless {
            text,
            why: format!("{takes}; at this corner: {}", lowest.words),
            help: format!(
                "give the true resistance of {supply}: below {} ohm this bound would do, \
                 conductors left out; or give the coil a supply of its own",
                told_ohm(least.max(0.0))
            ),
        })
    }

    /// The cure in one line.
    pub(super) fn cure(&self, way: &Way, lowest: &Reading, loaded: bool, needs: f64) -> String {
        let key = if loaded {
            self.wiring.with_other_loads(self.section, way, self.id)
        } else {
            way.closed
        };
        let diodes = self.wiring.diodes_beside(self.section, way, self.id, &key);
        if !diodes.is_empty() {
            return format!(
                "turn {} round: current runs through it from plus to minus beside {}, instead of \
                 being blocked; no core is thick enough for that",
                self.names(&diodes),
                self.part.name
            );
        }
        let series: Vec<PartId> = way
            .parts
            .iter()
            .copied()
            .filter(|part| *part != self.id && self.is_coil(*part))
            .collect();
        if !series.is_empty() {
            return self.series_cure(way, lowest, needs, &series);
        }
        if let Some(cure) = self.resistor_cure(way, lowest, loaded, needs) {
            return cure;
        }
        if let Some(cure) = self.others_cure(way, needs) {
            return cure;
        }
        "thicker cores or several side by side, a shorter run, a relay close to the coil that \
         switches a local supply, or a coil for a lower voltage"
            .to_owned()
    }

    fn series_cure(&self, way: &Way, lowest: &Reading, needs: f64, series: &[PartId]) -> String {
        let ohms = |part: PartId| self.wiring.ohms(self.section, part);
        let names = self.names(series);
        let name = &self.part.name;
        let Some((_, own)) = ohms(self.id) else {
            return format!("give the resistance of {name}; {names} stands in series with it");
        };
        let others: f64 = series.iter().filter_map(|part| ohms(*part)).map(|ohm| ohm.1).sum();
        if own < others {
            return format!(
                "in series with {names}: a coil that surely picks up from {} V, or one of at least \
                 {} ohm",
                told(lowest.volts),
                told_ohm(own * needs / lowest.volts.max(f64::MIN_POSITIVE))
            );
        }
        // The loop as one: E = I (R + series + rest), so the series resistance may grow by
        // E (1 / I' - 1 / I) until the coil has the volts it needs.
        let supply = self.wiring.scheme().supplies[way.supply].range.lo;
        let may = lowest.amps.filter(|amps| *amps > 0.0).map(|amps| {
            let wanted = amps * needs / lowest.volts;
            others + supply * (wanted.recip() - amps.recip())
        });
        match may {
            Some(may) if may > 0.0 => format!(
                "a coil in series of at most {} ohm in place of {names} ({} ohm), or a contact \
                 beside it: {names} takes the volts that {name} lacks",
                told_ohm(may),
                told_ohm(others)
            ),
            _ => format!(
                "no coil in series: even with 0 ohm in place of {names} ({} ohm) {name} would lack \
                 volts; then thicker cores or a relay close to it",
                told_ohm(others)
            ),
        }
    }

    /// Fewer ohms in series, where a resistor takes more than the conductors do.
    fn resistor_cure(
        &self,
        way: &Way,
        lowest: &Reading,
        loaded: bool,
        needs: f64,
    ) -> Option<String> {
        let scheme = self.wiring.scheme();
        let resistors = self.resistors(way);
        let others: f64 = resistors
            .iter()
            .filter_map(|part| self.wiring.ohms(self.section, *part))
            .map(|ohm| ohm.1)
            .sum();
        let amps = lowest.amps.filter(|amps| *amps > 0.0)?;
        let supply = scheme.supplies[way.supply].range.lo;
        if resistors.is_empty() || amps * others < (supply - lowest.volts) / 2.0 {
            return None;
        }
        let names = self.names(&resistors);
        if loaded {
            return Some(format!(
                "a resistor of its own in place of {names} ({} ohm), or fewer ohms: what else is on \
                 runs through it too",
                told_ohm(others)
            ));
        }
        let may = others + supply * (lowest.volts / (amps * needs) - amps.recip());
        Some(if may > 0.0 {
            format!(
                "at most {} ohm in place of {names} ({} ohm)",
                told_ohm(down(may)),
                told_ohm(others)
            )
        } else {
            format!("no resistor does in place of {names}: a coil for a lower voltage")
        })
    }

    /// Where a varistor, a heater, a motor or a feed stands on the way: nothing that orders a coil.
    fn others_cure(&self, way: &Way, needs: f64) -> Option<String> {
        let scheme = self.wiring.scheme();
        let kind = |part: &PartId| &scheme.parts[*part].kind;
        let others: Vec<PartId> = way
            .parts
            .iter()
            .copied()
            .filter(|part| {
                matches!(
                    kind(part),
                    PartKind::Varistor(_)
                        | PartKind::Heater { .. }
                        | PartKind::Motor(_)
                        | PartKind::Power { .. }
                )
            })
            .collect();
        let may = scheme.supplies[way.supply].range.lo - needs;
        (!others.is_empty()).then(|| {
            format!(
                "take {} out of the way to {}, or lead this order past it: at most {} V may be lost \
                 between the poles and the coil",
                self.names(&others),
                self.part.name,
                told((may.max(0.0) * 10.0).floor() / 10.0)
            )
        })
    }

    /// More ohms in series, where a resistor stands there already: with the whole supply over the loop the
    /// coil gets no more than it may, `R = r (U / U_max - 1)`, conductors left out.
    pub(super) fn drops_more(&self, way: &Way, most: f64) -> Option<String> {
        let resistors = self.resistors(way);
        let (_, own) = self.wiring.ohms(self.section, self.id)?;
        let supply = self.wiring.scheme().supplies[way.supply].range.hi;
        let ohm = (own * (supply / most - 1.0)).ceil();
        (!resistors.is_empty() && ohm > 0.0).then(|| {
            format!("{ohm:.0} ohm or more in place of {}, at its low end", self.names(&resistors))
        })
    }

    fn resistors(&self, way: &Way) -> Vec<PartId> {
        let parts = &self.wiring.scheme().parts;
        let resistor = |part: &PartId| matches!(parts[*part].kind, PartKind::Resistor { .. });
        way.parts.iter().copied().filter(resistor).collect()
    }

    /// A coil that no way drives, though it says what it needs.
    pub(super) fn without_ways(&self) -> Option<Finding> {
        let needs = self.needs()?;
        let name = &self.part.name;
        let barred = self.wiring.ways_against_diodes(self.id);
        let finding = match barred.list.first() {
            Some(way) => {
                let diodes = self.names(&way.against);
                let parts = &self.wiring.scheme().parts;
                let on_way: Vec<&str> =
                    way.parts.iter().map(|part| parts[*part].name.as_str()).collect();
                let text = format!(
                    "{name} gets no current: {diodes} on its way blocks it; it surely works from {} V",
                    told(needs)
                );
                Finding::new("drive-too-low", Severity::Finding, text)
                    .why(format!(
                        "from plus to minus the way leads over {}: {diodes} stands with its \
                         cathode towards plus",
                        on_way.join(", ")
                    ))
                    .help(format!("turn {diodes} round: its anode towards plus; 0 V until then"))
            }
            None => {
                let text = format!(
                    "what drives {name} is not judged: no way leads to it through contacts, \
                     conductors, resistors, diodes and other coils alone"
                );
                Finding::new("drive-not-judged", Severity::Finding, text)
                    .why(format!(
                        "it surely works from {} V; through lamps, inputs, motors and varistors no \
                         way is followed",
                        told(needs)
                    ))
                    .help("lead 1 way from plus to minus through it, or leave it out")
            }
        };
        let finding = finding.device(name);
        Some(match self.part.at {
            Some(at) => finding.at(at.span, "no current here"),
            None => finding,
        })
    }

    pub(super) fn is_coil(&self, part: PartId) -> bool {
        matches!(self.wiring.scheme().parts[part].kind, PartKind::Coil(_))
    }

    pub(super) fn names(&self, parts: &[PartId]) -> String {
        let parts: Vec<&str> =
            parts.iter().map(|part| self.wiring.scheme().parts[*part].name.as_str()).collect();
        parts.join(" and ")
    }
}

/// Rounded down to what [`told_ohm`] prints of it.
fn down(ohm: f64) -> f64 {
    let scale = match ohm {
        _ if ohm >= 10.0 => 1.0,
        _ if ohm >= 1.0 => 10.0,
        _ => 1000.0,
    };
    (ohm * scale).floor() / scale
}

/// Ohm with two figures below ten.
fn told_ohm(ohm: f64) -> String {
    if ohm >= 10.0 {
        return format!("{ohm:.0}");
    }
    let digits = if ohm >= 1.0 { 1 } else { 3 };
    let text = format!("{ohm:.digits$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
