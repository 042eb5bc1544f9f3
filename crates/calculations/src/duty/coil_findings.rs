//! What falls short at coils: who may have to break their current, and how long they are on.

use super::cutoff::FOR_EVER;
use super::findings::Find;
use super::inductance::told;
use super::order::{Behind, Order};
use super::ratings::{Judged, Verdict};
use fiftytwo_circuit::typical::RELAY_POWER;
use fiftytwo_scheme::{DeviceKind, Finding, GoesAfter, PartId, PartKind, Severity};

/// Currents that differ by less are one.
const SAME: f64 = 0.98;

impl Find<'_, '_, '_, '_> {
    /// Contacts that may have to break a load's current and are declared for less; of a trip coil
    /// protection contacts that declare nothing too. `told`: contacts of which a finding already says
    /// what they break.
    pub(super) fn may_break(
        &self,
        coil: PartId,
        told_of: &[(PartId, Vec<PartId>)],
    ) -> Option<Finding> {
        let report = self.report;
        let weak: Vec<(PartId, &Behind, Judged)> = report
            .orders
            .behind
            .iter()
            .filter(|((_, load), _)| *load == coil)
            .filter_map(|((contact, _), it)| {
                let judged = self.weak(*contact, coil, it)?;
                let known = !self.asks_of_protection(*contact, coil)
                    && told_of.iter().any(|(told, loads)| told == contact && loads.contains(&coil));
                (!known && !self.told_before(*contact, coil, it)).then_some((*contact, it, judged))
            })
            .collect();
        weak.first()?;
        let mut together: Vec<PartId> =
            weak.iter().flat_map(|(_, it, _)| it.together.iter().copied()).collect();
        together.sort_unstable();
        together.dedup();
        let amps = weak.iter().map(|(_, it, _)| it.amps).fold(0.0, f64::max);
        let name = report.name(coil);
        let each: Vec<String> = weak
            .iter()
            .map(|(contact, _, judged)| {
                let rated = judged.rating.as_deref().unwrap_or("break rating not declared");
                let load = match judged.verdict {
                    Verdict::ResistiveOnly => ", for resistive load only",
                    _ => "",
                };
                format!("{} ({rated}{load})", report.name(*contact))
            })
            .collect();
        let message = format!(
            "{} may be what opens first while {} {} A {}",
            each.join(", "),
            if together.is_empty() {
                format!("{name} draws")
            } else {
                format!("{name} and, wired together with it, {} draw", self.list(&together))
            },
            told(amps),
            self.at(coil, &[coil])
        );
        let sure = weak.iter().any(|(contact, it, _)| {
            self.asks_of_protection(*contact, coil) || self.surely_weak(*contact, coil, it)
        });
        let severity = if sure { Severity::Finding } else { Severity::Note };
        let mut finding = Finding::new("contact-may-break-too-much", severity, message)
            .at(self.span(coil), "its current")
            .help(self.cure(coil, &weak))
            .device(name);
        let why = self.why(coil, &weak);
        finding = finding.why(why);
        for (contact, ..) in &weak {
            finding = finding.device(report.name(*contact));
        }
        Some(finding)
    }
    /// What would have to open first, and how long each contact is sure to wait.
    fn why(&self, coil: PartId, weak: &[(PartId, &Behind, Judged)]) -> String {
        let report = self.report;
        let latest = weak.iter().filter_map(|(_, it, _)| it.cut_off).max_by_key(|(_, us)| *us);
        let Some((cut, latest)) = latest else {
            return if weak.iter().any(|(_, it, _)| it.unsure) {
                format!("at its least volts {} does not surely move", report.name(coil))
            } else {
                "nothing else on the way opens by itself".to_owned()
            };
        };
        let each: Vec<String> = weak
            .iter()
            .map(|(contact, it, _)| match it.holds {
                ..=0 => {
                    format!("{} not at all (what closes it may end at once)", report.name(*contact))
                }
                holds => format!("{} for {} ms", report.name(*contact), told(holds as f64 / 1e3)),
            })
            .collect();
        format!(
            "{} has opened at the latest {} ms after {} is driven; until then only these are sure \
             to stay closed: {}",
            report.name(cut),
            told(latest as f64 / 1e3),
            report.name(coil),
            each.join(", ")
        )
    }
    /// How a contact that may open first, or has to, stands against its ratings where they do not do.
    fn weak(&self, contact: PartId, load: PartId, it: &Behind) -> Option<Judged> {
        let report = self.report;
        let asks = self.asks_of_protection(contact, load);
        // A protection contact that only the breaker's move opens breaks it every time. What else
        // opens in the normal course is told as what it breaks.
        let breaks = it.order == Order::May || (asks && it.order == Order::CutsOff);
        let time = report.loads.time_most(&it.loads(load));
        let judged = report.breaking(contact, it.amps, time);
        let short = if asks { judged.verdict != Verdict::Within } else { judged.falls_short() };
        (breaks && short).then_some(judged)
    }
    /// Of loads that are wired together behind a contact the first tells it, or the one that takes the
    /// other with it.
    fn told_before(&self, contact: PartId, load: PartId, it: &Behind) -> bool {
        self.report.behind(contact).any(|(other, of)| {
            other != load
                && of.together.contains(&load)
                && (other < load || !it.together.contains(&other))
                && of.amps >= SAME * it.amps
                && self.weak(contact, other, of).is_some()
        })
    }
    /// Too much whatever the L/R, or the L/R that rules it out is declared: a typical one gives a note.
    fn surely_weak(&self, contact: PartId, load: PartId, it: &Behind) -> bool {
        let report = self.report;
        let declared = it
            .loads(load)
            .iter()
            .all(|load| report.loads.time(*load).is_none_or(|time| time.typical.is_none()));
        declared || report.breaking(contact, it.amps, 0.0).falls_short()
    }
    /// A protection contact in front of a trip coil is asked for its rating even if it declares none.
    fn asks_of_protection(&self, contact: PartId, load: PartId) -> bool {
        let PartKind::Coil(data) = &self.report.loads.scheme.parts[load].kind else { return false };
        data.drives_to == 0
            && matches!(self.report.device(load), Some(DeviceKind::Breaker { .. }))
            && self.is_protection(contact)
    }
    fn is_protection(&self, contact: PartId) -> bool {
        matches!(
            self.report.device(contact),
            Some(
                DeviceKind::Ied { .. }
                    | DeviceKind::Relay
                    | DeviceKind::Timer { .. }
                    | DeviceKind::Lockout { .. }
            )
        )
    }
    fn cure(&self, coil: PartId, weak: &[(PartId, &Behind, Judged)]) -> String {
        let report = self.report;
        let amps = weak.iter().map(|(_, it, _)| it.amps).fold(0.0, f64::max);
        let latest = weak.iter().filter_map(|(_, it, _)| it.cut_off.map(|(_, us)| us)).max();
        let Some(latest) = latest else {
            return if weak.iter().any(|(_, it, _)| it.unsure) {
                format!(
                    "see that {} surely moves at its least volts; or contacts that break {} A",
                    report.name(coil),
                    told(amps)
                )
            } else if !matches!(report.device(coil), Some(DeviceKind::Breaker { .. }))
                || !matches!(report.loads.scheme.parts[coil].kind, PartKind::Coil(_))
            {
                format!("take a contact that breaks {} A {}", told(amps), self.at(coil, &[coil]))
            } else {
                format!(
                    "put a contact of the breaker itself that breaks {} A in series with {}",
                    told(amps),
                    report.name(coil)
                )
            };
        };
        // What a line of logic has to add so that the contact holds until the cut-off is open.
        let (mut by_logic, mut others) = (Vec::new(), Vec::new());
        let mut delay = 0;
        for (contact, it, _) in weak {
            match (report.device(*contact), report.contact(*contact)) {
                (Some(DeviceKind::Ied { .. }), Some(data)) if it.holds < FOR_EVER => {
                    let closes = data.closes_in.as_ref().map_or(0, |time| time.hi);
                    let opens = data.opens_in.as_ref().map_or(0, |time| time.lo);
                    delay = delay.max(latest + closes - opens);
                    by_logic.push(report.name(*contact));
                }
                _ => others.push(report.name(*contact)),
            }
        }
        let mut cures = Vec::new();
        if !by_logic.is_empty() {
            cures.push(format!(
                "give the logic of {} an off-delay of {} ms",
                by_logic.join(", "),
                told((delay as f64 / 1e3).ceil())
            ));
        }
        if !others.is_empty() {
            cures.push(format!(
                "hold {} for {} ms (a seal-in that the breaker opens) or take contacts that break \
                 {} A",
                others.join(", "),
                told((latest as f64 / 1e3).ceil()),
                told(amps)
            ));
        }
        cures.join("; ")
    }
    pub(super) fn on_too_long(&self, coil: PartId) -> Option<Finding> {
        let report = self.report;
        let PartKind::Coil(data) = &report.loads.scheme.parts[coil].kind else { return None };
        let max_on = data.max_on.as_ref()?;
        let on = report.seen.on.get(&coil)?;
        if on.us <= max_on.lo && !on.endless {
            return None;
        }
        let name = report.name(coil);
        let ms = told(on.us as f64 / 1e3);
        let still = if on.endless { " and is still on when the story ends" } else { "" };
        Some(
            Finding::new(
                "coil-on-too-long",
                Severity::Finding,
                format!(
                    "{name} is on for {ms} ms{still}; it may be on for {}",
                    max_on.written
                ),
            )
            .at(self.span(coil), "made for a moment")
            .why(format!("{}, from then on", self.when(&on.at)))
            .help(if let Some(needs) = self.works_for(coil).filter(|us| *us >= max_on.lo) {
                format!(
                    "{name} itself needs up to {} ms to do its work, so no shorter order helps: \
                     check max-on, or take a coil that may be on for {ms} ms",
                    told(needs as f64 / 1e3)
                )
            } else if self.has_cut_off(coil) {
                format!(
                    "its own cut-off opens only when it moves: let the order end within {} ms, or put \
                     in series what keeps it from moving, such as its stored energy",
                    told(max_on.lo as f64 / 1e3)
                )
            } else {
                format!(
                    "put a contact in series that opens when it has done its work, or let the order \
                     end within {} ms",
                    told(max_on.lo as f64 / 1e3)
                )
            })
            .device(name),
        )
    }
    pub(super) fn without_cut_off(&self, coil: PartId) -> Option<Finding> {
        let report = self.report;
        let PartKind::Coil(data) = &report.loads.scheme.parts[coil].kind else { return None };
        let breaker = matches!(report.device(coil), Some(DeviceKind::Breaker { .. }));
        let may_be_on = match &data.max_on {
            Some(max_on) => format!("it may be on for {}", max_on.written),
            None if breaker => {
                "coils of breakers are made for a moment (typical; its max-on is not written)"
                    .to_owned()
            }
            None => self.too_hot_to_stay(coil)?,
        };
        let ways = report.orders.ways.get(&coil)?;
        let bare = ways.iter().find(|way| way.lasting.is_empty())?;
        let name = report.name(coil);
        let own = report.loads.scheme.parts[coil].device.map(|device| {
            let device = &report.loads.scheme.devices[device];
            let position = device.positions.get(usize::from(data.drives_to));
            (device.name.clone(), position.cloned().unwrap_or_default())
        });
        let (device, position) = own.unwrap_or_default();
        let through = if bare.contacts.is_empty() {
            "straight from its supply".to_owned()
        } else {
            format!("through {}", self.list(&bare.contacts))
        };
        let for_a_while = if bare.passing.is_empty() {
            String::new()
        } else {
            format!(
                "; {} opens only until the {} is charged again",
                self.list(&bare.passing),
                self.energy(coil)
            )
        };
        Some(
            Finding::new(
                "momentary-coil-without-cut-off",
                Severity::Finding,
                format!(
                    "nothing cuts {name} off {through} once {device} is {position}; {may_be_on}"
                ),
            )
            .at(self.span(coil), "made for a moment")
            .why(format!("the coil stays on for as long as the order stands{for_a_while}"))
            .help(format!(
                "put a contact of {device} that is open when {device} is {position} in series, rated \
                 to break {} A",
                told(report.orders.most.get(&coil).copied().unwrap_or(0.0))
            ))
            .device(name),
        )
    }
    /// A lockout's coil that takes more than coils which stay on do: 754 W are no rating for ever.
    fn too_hot_to_stay(&self, coil: PartId) -> Option<String> {
        let report = self.report;
        let DeviceKind::Lockout { .. } = report.device(coil)? else { return None };
        let at = report.loads.scheme.parts[coil].at?;
        let supply = &report.loads.scheme.supplies[report.loads.scheme.circuits[at.circuit].supply];
        let watts = report.orders.most.get(&coil)? * supply.range.hi;
        (watts > RELAY_POWER.hi).then(|| {
            format!(
                "it takes up to {} (coils that stay on: {} to {} W, typical)",
                crate::words::watts(watts),
                told(RELAY_POWER.lo),
                told(RELAY_POWER.hi)
            )
        })
    }
    /// How long the coil may have to be on until its device goes by itself, µs.
    fn works_for(&self, coil: PartId) -> Option<i64> {
        let PartKind::Coil(data) = &self.report.loads.scheme.parts[coil].kind else { return None };
        match (&data.goes_after, self.report.device(coil)?) {
            (Some(GoesAfter::After(time)), _) => Some(time.hi),
            (
                Some(GoesAfter::WholeStroke),
                DeviceKind::Breaker { closing_time, opening_time, .. },
            ) => Some(if data.drives_to == 0 { opening_time.hi } else { closing_time.hi }),
            _ => data.pickup_time.as_ref().map(|time| time.hi),
        }
    }
    fn has_cut_off(&self, coil: PartId) -> bool {
        let ways = self.report.orders.ways.get(&coil);
        ways.is_some_and(|ways| ways.iter().all(|way| !way.lasting.is_empty()))
    }
    fn energy(&self, coil: PartId) -> String {
        match self.report.device(coil) {
            Some(DeviceKind::Breaker { energy: Some(energy), .. }) => energy.name.clone(),
            _ => "energy".to_owned(),
        }
    }
}
