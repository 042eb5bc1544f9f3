//! What is wrong with a chain across a coil, in the designer's words.

use super::{Action, Judge, LEAST_DROPOUT, Suppression};
use crate::duty::inductance::told;
use crate::words::list;
use fiftytwo_scheme::{DeviceKind, Finding, PartId, PartKind, Severity};

/// The clamp that a cure proposes, as a multiple of the supply's voltage.
const CURE_CLAMP: f64 = 2.0;

impl Judge<'_> {
    fn names(&self) -> String {
        let names: Vec<&str> = self
            .chain
            .parts
            .iter()
            .map(|(part, _)| self.scheme.parts[*part].name.as_str())
            .collect();
        names.join(" with ")
    }

    pub(super) fn find(&self, result: &mut Suppression, clamp: (f64, f64), series: (f64, f64)) {
        let (coil, names) = (&self.part.name, self.names());
        let first = self.chain.parts.first().map(|(part, _)| *part);
        let at = |finding: Finding| {
            let finding = match first.and_then(|part| self.scheme.parts[part].at) {
                Some(place) => finding.at(place.span, "across the coil"),
                None => finding,
            };
            self.chain.parts.iter().fold(finding.device(coil), |finding, (part, _)| {
                finding.device(&self.scheme.parts[*part].name)
            })
        };
        let found = |id, message| at(Finding::new(id, Severity::Finding, message));
        match result.action {
            Action::Shorts => result.findings.push(self.short(&found, &names, series)),
            Action::Blocks => result.findings.push(
                found(
                    "suppression-blocks",
                    format!(
                        "{names} across {coil} hold diodes against each other: no current runs \
                             through, and nothing takes up the coil's kick"
                    ),
                )
                .help("turn one of them round: upper end to the coil's minus side"),
            ),
            Action::Capacitor => result.findings.push(at(Finding::note(
                "suppression-not-computed",
                format!(
                    "{names} across {coil} hold a capacitor: delay and voltage were not computed"
                ),
            ))),
            Action::Diode | Action::Clamp | Action::Resistor => {
                let bridges = self.bridges_contacts(result).map(at);
                result.findings.extend(bridges);
                self.slows(result, &found, &names);
                self.absorbs(result, &found);
                self.conducts(result, &found, clamp, series);
            }
        }
        for (part, _) in &self.chain.parts {
            if let PartKind::Diode(diode) = &self.scheme.parts[*part].kind
                && let Some(blocks) = &diode.blocks
                && blocks.lo < self.supply.range.hi
            {
                let (name, most) = (&self.scheme.parts[*part].name, self.supply.range.hi);
                result.findings.push(
                    found(
                        "diode-blocks-too-little",
                        format!(
                            "{name} blocks {} while {} stands at up to {} V",
                            blocks.written,
                            self.supply.name,
                            told(most)
                        ),
                    )
                    .help(format!("take one that blocks at least {} V", told(2.0 * most)))
                    .why("broken down it is a short across the coil whenever the coil is driven"),
                );
            }
        }
    }

    /// It stands across contacts and the coil together: nothing takes up the coil's kick when one
    /// of these opens, and the coil keeps its current through it when another one does.
    fn bridges_contacts(&self, result: &Suppression) -> Option<Finding> {
        let contacts: Vec<String> = self
            .chain
            .inside
            .iter()
            .filter(|part| matches!(self.scheme.parts[**part].kind, PartKind::Contact(_)))
            .map(|part| self.name_of(*part))
            .collect();
        if contacts.is_empty() {
            return None;
        }
        let (coil, names, inside) = (&self.part.name, self.names(), list(&contacts));
        let first = contacts.join(" or ");
        let keeps = result.release_ms.map_or_else(String::new, |[_, most]| {
            format!(" for up to {} ms when any other contact opens", told(most))
        });
        let finding = Finding::note(
            "suppression-bridges-contacts",
            format!(
                "{names} stands across {inside} and {coil} together: it keeps {coil}'s current{keeps}, \
                 and takes nothing up when {first} opens first"
            ),
        )
        .why(format!(
            "the loop is {names}, {coil} and {}; opened inside, it is no loop",
            list(&result.inside)
        ))
        .help(format!("lead {names} to the 2 ends of {coil} itself"));
        Some(contacts.iter().fold(finding, Finding::device))
    }

    fn short(
        &self,
        found: &impl Fn(&'static str, String) -> Finding,
        names: &str,
        series: (f64, f64),
    ) -> Finding {
        let (coil, supply) = (&self.part.name, &self.supply.name);
        let message = if series.0 > 0.0 {
            format!(
                "{names} across {coil} conducts while {coil} is driven: it draws up to {} A beside \
                 the coil",
                told(self.supply.range.hi / series.0)
            )
        } else {
            format!(
                "{names} stands the wrong way round across {coil}: when a contact drives {coil}, it \
                 shorts {supply} at up to {} V",
                told(self.supply.range.hi)
            )
        };
        found("diode-reversed", message)
            .why(format!(
                "a diode lets current down its leg; seen from {supply}+ that is past {coil}. At rest \
                 nothing shows it"
            ))
            .help(format!(
                "turn it round: write its leg from the minus end of {coil} to its plus end"
            ))
    }

    fn slows(
        &self,
        result: &mut Suppression,
        found: &impl Fn(&'static str, String) -> Finding,
        names: &str,
    ) {
        let follows_coil = self.part.device.is_some_and(|device| {
            matches!(self.scheme.devices[device].kind, DeviceKind::Relay | DeviceKind::Timer { .. })
        });
        let (Some([least, most]), Some([lo, hi])) = (result.release_ms, result.declared_dropout_ms)
        else {
            return;
        };
        if !follows_coil || most <= hi {
            return;
        }
        let coil = &self.part.name;
        let clamp = CURE_CLAMP * self.supply.nominal.middle();
        let share = result.lets_go_at.map_or(LEAST_DROPOUT, |[lo, _]| lo);
        let with_clamp = self
            .decays((clamp, clamp), (0.0, 0.0))
            .filter_map(|(decay, ohm)| decay.falls_to(self.share(&decay, ohm).0))
            .fold(0.0, f64::max)
            * 1e3;
        result.findings.push(
            found(
                "suppression-slows-dropout",
                format!(
                    "{names} across {coil} alone keeps it for {} to {} ms after its contact opens, \
                     yet its dropout-time says {} to {} ms",
                    told(least),
                    told(most),
                    told(lo),
                    told(hi)
                ),
            )
            .why(format!(
                "the coil's current runs on through {names} until it has fallen to {} to {} % (L/R \
                 {} ms); stories and proofs go by the declared time",
                told(100.0 * share),
                told(100.0 * result.lets_go_at.map_or(share, |[_, hi]| hi)),
                told(self.time.most * 1e3)
            ))
            .help(format!(
                "write dropout-time=\"{} to {} ms\" if the declared time is without it, or put a \
                 clamp of {} V there: at most {} ms",
                told(lo + least),
                told((hi + most).ceil()),
                told(clamp),
                told(with_clamp)
            )),
        );
    }

    fn absorbs(&self, result: &mut Suppression, found: &impl Fn(&'static str, String) -> Finding) {
        let coil = &self.part.name;
        for (part, _) in &self.chain.parts {
            let item = &self.scheme.parts[*part];
            let PartKind::Varistor(varistor) = &item.kind else { continue };
            let Some(absorbs) = &varistor.absorbs else { continue };
            if absorbs.lo < result.clamp_j {
                let coils = if self.shared > 1 { " and the coils beside it" } else { "" };
                result.findings.push(
                    found(
                        "suppression-absorbs-too-little",
                        format!(
                            "{} takes {} in one pulse, but {coil}{coils} give it up to {} J",
                            item.name,
                            absorbs.written,
                            told(result.clamp_j)
                        ),
                    )
                    .why(format!(
                        "of the {} J in the coil at {} A the clamp takes its share, the coil's own \
                         resistance the rest",
                        told(result.energy_j),
                        told(self.volts.1 / self.ohms.0)
                    ))
                    .help(format!("take one of at least {} J", told(1.25 * result.clamp_j))),
                );
            }
        }
    }

    fn conducts(
        &self,
        result: &mut Suppression,
        found: &impl Fn(&'static str, String) -> Finding,
        clamp: (f64, f64),
        series: (f64, f64),
    ) {
        let most = self.supply.range.hi;
        if result.action == Action::Clamp && clamp.0 < most && !self.has_diode() {
            result.findings.push(
                found(
                    "clamp-below-supply",
                    format!(
                        "the clamp across {} holds {} V, less than the {} V that {} may have: it \
                         conducts while the coil is driven",
                        self.part.name,
                        told(clamp.0),
                        told(most),
                        self.supply.name
                    ),
                )
                .help(format!("take a clamp of at least {} V", told((1.1 * most).ceil()))),
            );
        }
        if result.action != Action::Resistor || series.0 <= 0.0 {
            return;
        }
        for (part, _) in &self.chain.parts {
            let item = &self.scheme.parts[*part];
            let PartKind::Resistor { resistance, power: Some(power) } = &item.kind else {
                continue;
            };
            let amps = self.volts.1 / series.0;
            let watt = amps * amps * resistance.hi.min(series.0);
            if watt > power.lo {
                result.findings.push(
                    found(
                        "resistor-overloaded",
                        format!(
                            "{} takes {} W while {} is driven and is good for {}",
                            item.name,
                            told(watt),
                            self.part.name,
                            power.written
                        ),
                    )
                    .help(format!("take one of at least {} W", told((2.0 * watt).ceil()))),
                );
            }
        }
    }

    fn has_diode(&self) -> bool {
        let kind = |part: &PartId| &self.scheme.parts[*part].kind;
        self.chain.parts.iter().any(|(part, _)| matches!(kind(part), PartKind::Diode(_)))
    }
}
