//! What falls short, in the designer's words, each with its cure.

use super::inductance::told;
use super::order::Order;
use super::ratings::{self, Judged, Verdict};
use super::report::Report;
use super::stories::Moment;
use crate::words::up;
use fiftytwo_scheme::{Finding, PartId, Severity, Span};

/// The worst case of one contact.
struct Worst {
    amps: f64,
    loads: Vec<PartId>,
    judged: Judged,
    how: String,
}

pub(super) struct Find<'r, 'a, 'w, 's> {
    pub(super) report: &'r Report<'a, 'w, 's>,
}

impl Find<'_, '_, '_, '_> {
    pub(super) fn all(&self) -> Vec<Finding> {
        let mut findings = Vec::new();
        let mut told: Vec<(PartId, Vec<PartId>)> = Vec::new();
        for &contact in &self.report.loads.contacts {
            if let Some((loads, finding)) = self.breaks(contact) {
                told.push((contact, loads));
                findings.push(finding);
            }
            findings.extend(self.makes(contact));
            findings.extend(self.carries(contact));
        }
        for load in self.report.loads.asked() {
            findings.extend(self.may_break(load, &told));
        }
        for &(coil, _) in &self.report.loads.coils {
            findings.extend(self.on_too_long(coil));
            findings.extend(self.without_cut_off(coil));
        }
        findings.extend(self.silent(Verdict::NotDeclared));
        findings.extend(self.silent(Verdict::ResistiveOnly));
        let scheme = self.report.loads.scheme;
        findings.extend(self.report.seen.faults.iter().map(|fault| {
            fault.finding(scheme).why("a state of a story, or a way of a coil, has no currents")
        }));
        findings.extend(self.report.seen.stuck.iter().map(|story| {
            let message = format!(
                "time does not go on in story {story:?}: what its contacts do \
                                   after that is not known"
            );
            Finding::note("duty-not-complete", message)
        }));
        findings
    }
    pub(super) fn span(&self, part: PartId) -> Span {
        self.report.loads.scheme.parts[part].span
    }
    pub(super) fn list(&self, parts: &[PartId]) -> String {
        let names = self.report.names(parts);
        match &names[..] {
            [] => String::new(),
            [one] => one.clone(),
            [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
        }
    }
    /// With each of the loads named.
    fn naming(&self, finding: Finding, loads: &[PartId]) -> Finding {
        self.report.names(loads).into_iter().fold(finding, Finding::device)
    }
    /// "at 125 V, L/R up to 40 ms".
    pub(super) fn at(&self, contact: PartId, loads: &[PartId]) -> String {
        let volts = told(self.report.loads.nominal(contact));
        let time = self.report.loads.time_most(loads);
        if time > 0.0 {
            format!("at {volts} V, L/R up to {} ms", told(time * 1e3))
        } else {
            format!("at {volts} V")
        }
    }
    pub(super) fn when(&self, at: &Moment) -> String {
        format!("in story {:?} at {} ms", at.story, told(at.time_us as f64 / 1e3))
    }
    /// The worst that a contact breaks beyond its rating, and of which loads.
    fn breaks(&self, contact: PartId) -> Option<(Vec<PartId>, Finding)> {
        let data = self.report.contact(contact).filter(|data| !data.breaks.is_empty())?;
        let in_stories = self.report.seen.breaks.range((contact, Vec::new())..);
        let in_stories =
            in_stories.take_while(|((id, _), _)| *id == contact).map(|((_, loads), it)| {
                let time = self.report.loads.time_most(loads);
                Worst {
                    amps: it.amps,
                    loads: loads.clone(),
                    judged: self.report.breaking(contact, it.amps, time),
                    how: self.when(&it.at),
                }
            });
        let by_nature =
            self.report.behind(contact).filter(|(_, it)| it.order == Order::CutsOff).map(
                |(load, it)| Worst {
                    amps: it.amps,
                    judged: self.report.breaking(
                        contact,
                        it.amps,
                        self.report.loads.time_most(&it.loads(load)),
                    ),
                    loads: it.loads(load),
                    how: self.report.because(contact, load, it),
                },
            );
        let worst = in_stories
            .chain(by_nature)
            .filter(|worst| worst.judged.falls_short())
            // The first of near equals: what a story tells says more.
            .reduce(|worst, next| if next.amps > 1.02 * worst.amps { next } else { worst })?;
        let name = self.report.name(contact);
        let at = self.at(contact, &worst.loads);
        let rated = worst.judged.rating.clone().unwrap_or_default();
        let message = match worst.judged.verdict {
            Verdict::NoneHolds => format!(
                "{name} breaks up to {} of {} {at}; its rating {rated} does not reach so far",
                crate::words::amps(worst.amps),
                self.list(&worst.loads)
            ),
            _ => format!(
                "{name} breaks up to {} of {} {at}; it is rated {rated}",
                crate::words::amps(worst.amps),
                self.list(&worst.loads)
            ),
        };
        let parallel = if data.breaks.len() > 1 {
            "; of several ratings the next higher voltage's counts"
        } else {
            ""
        };
        let finding = Finding::new("contact-breaks-too-much", Severity::Finding, message)
            .at(self.span(contact), "this contact")
            .why(format!("supply high, conductors and loads cold; {}{parallel}", worst.how))
            .help(format!("take a contact that breaks {} {at}", crate::words::amps(up(worst.amps))))
            .device(name);
        let finding = self.naming(finding, &worst.loads);
        Some((worst.loads, finding))
    }
    fn makes(&self, contact: PartId) -> Option<Finding> {
        let data = self.report.contact(contact).filter(|data| !data.makes.is_empty())?;
        let in_stories = self.report.seen.makes.range((contact, Vec::new())..);
        let mut cases: Vec<Worst> = in_stories
            .take_while(|((id, _), _)| *id == contact)
            .map(|((_, loads), it)| Worst {
                amps: it.amps,
                loads: loads.clone(),
                judged: self.report.making(contact, it.amps),
                how: self.when(&it.at),
            })
            .collect();
        cases.extend(self.report.behind(contact).map(|(load, it)| Worst {
            amps: it.starting,
            loads: it.loads(load),
            judged: self.report.making(contact, it.starting),
            how: "on its way alone".to_owned(),
        }));
        let worst = cases
            .into_iter()
            .filter(|case| case.judged.falls_short())
            .max_by(|a, b| a.amps.total_cmp(&b.amps));
        let name = self.report.name(contact);
        let rated = |judged: &Judged| judged.rating.clone().unwrap_or_default();
        if let Some(worst) = worst {
            let finding = Finding::new(
                "contact-makes-too-much",
                Severity::Finding,
                format!(
                    "{name} makes up to {} A of {}; it is rated {}",
                    told(worst.amps),
                    self.list(&worst.loads),
                    rated(&worst.judged)
                ),
            )
            .at(self.span(contact), "this contact")
            .why(format!(
                "supply high, everything cold, starting currents counted; {}; a contact that \
                 welds can't be opened again",
                worst.how
            ))
            .help(format!("take a contact that makes {} A", told(up(worst.amps))))
            .device(name);
            return Some(self.naming(finding, &worst.loads));
        }
        let all: f64 = self.report.behind(contact).map(|(_, it)| it.own_starting).sum();
        let judged = ratings::making(data, all, self.report.loads.nominal(contact));
        judged.falls_short().then(|| {
            let loads: Vec<PartId> = self.report.behind(contact).map(|(load, _)| load).collect();
            let message = format!(
                "{name} would make {} A if {} were all switched on at once; it is rated {}",
                told(all),
                self.list(&loads),
                rated(&judged)
            );
            Finding::note("contact-makes-too-much", message)
                .at(self.span(contact), "this contact")
                .device(name)
        })
    }
    fn carries(&self, contact: PartId) -> Option<Finding> {
        let data = self.report.contact(contact).filter(|data| !data.carries.is_empty())?;
        let in_stories = self.report.seen.carries.get(&contact).map(|it| {
            let judged = ratings::carrying(data, it.amps, &it.above);
            (it.amps, judged, format!("{}, from then on", self.when(&it.at)), Vec::new())
        });
        let alone = self.report.behind(contact).map(|(load, it)| {
            let judged = ratings::carrying(data, it.amps, &[]);
            let loads = it.loads(load);
            (it.amps, judged, format!("{} on its way alone", self.list(&loads)), loads)
        });
        let (amps, judged, how, loads) = in_stories
            .into_iter()
            .chain(alone)
            .filter(|(_, judged, ..)| judged.falls_short())
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        let name = self.report.name(contact);
        let finding = Finding::new(
            "contact-carries-too-much",
            Severity::Finding,
            format!(
                "{name} carries {} A; it is rated {}",
                told(amps),
                judged.rating.unwrap_or_default()
            ),
        )
        .at(self.span(contact), "this contact")
        .why(format!("supply high, conductors and loads cold; {how}"))
        .help(format!("take a contact that carries {} A for as long", told(up(amps))))
        .device(name);
        Some(loads.iter().fold(finding, |finding, load| finding.device(self.report.name(*load))))
    }
    /// One note for all contacts that break a coil's current in a story and have no rating for it.
    fn silent(&self, verdict: Verdict) -> Option<Finding> {
        let report = self.report;
        let mut contacts: Vec<PartId> = Vec::new();
        let mut most: Option<(f64, PartId, Vec<PartId>)> = None;
        for ((contact, loads), it) in &report.seen.breaks {
            let time = report.loads.time_most(loads);
            let is_contact = report.contact(*contact).is_some();
            if !is_contact
                || !it.on
                || time <= 0.0
                || report.breaking(*contact, it.amps, time).verdict != verdict
            {
                continue;
            }
            if !contacts.contains(contact) {
                contacts.push(*contact);
            }
            if most.as_ref().is_none_or(|(amps, ..)| it.amps > *amps) {
                most = Some((it.amps, *contact, loads.clone()));
            }
        }
        let (amps, contact, loads) = most?;
        let names = self.list(&contacts);
        let greatest = format!(
            "most of all {}: {} A of {} {}",
            report.name(contact),
            told(amps),
            self.list(&loads),
            self.at(contact, &loads)
        );
        let finding = if verdict == Verdict::NotDeclared {
            Finding::note(
                "break-rating-not-declared",
                format!(
                    "coils' currents are broken by {names}, whose break ratings are not declared"
                ),
            )
            .help("write breaks with its volts and time-constant")
        } else {
            Finding::note(
                "break-rating-without-time-constant",
                format!(
                    "the break ratings of {names} name no L/R: they hold for resistive load only, \
                     and coils' currents are broken"
                ),
            )
            .help("write the time-constant the rating holds for")
        };
        let finding = finding.why(greatest).at(self.span(contact), "breaks most");
        Some(
            contacts.iter().fold(finding, |finding, contact| finding.device(report.name(*contact))),
        )
    }
}
