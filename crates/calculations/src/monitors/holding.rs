//! Relays that live on through a resistor once they have picked up: a seal-in through one, or an
//! economy resistor that the relay's own contact puts in.
//!
//! **In:** a study. **Out:** a finding where a relay held so may drop out. **Never here:** whether it
//! picks up (that is the report on coils), what other loads behind the same resistor take, time.
//!
//! A way through a resistor holds a relay if a contact of its own (or of a relay that it alone drives)
//! that is closed while it is picked up stands on it, or if a free way has no other contacts than this
//! one but for own contacts that open when it picks up. Ways that are only leakage past an open contact are neither.
//!
//! The least, by hand: `U / (R + r w)` is the current at the lowest voltage, R at its high end, the
//! coil `r` at its low end and `w` times as many ohms at its hottest; times `r` these are the volts
//! that pickup and dropout are told in.

use crate::Study;
use crate::burdens::can_be;
use crate::words::{list, ohms, volts};
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_circuit::{BenchFault, Ends, Setup, Stand, Way};
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr, Finding, PartId, PartKind, Severity};

/// A relay without a declared dropout may let go below this share of what it picks up from (from memory
/// of data sheets of relays: 10 to 60 %).
const TYPICAL_DROP: f64 = 0.6;

/// The findings of all relays.
pub(super) fn findings(study: &Study<'_, '_>) -> Result<Vec<Finding>, BenchFault> {
    let scheme = study.scheme();
    let mut findings = Vec::new();
    for (id, part, _) in scheme.coils().filter(|(_, part, _)| part.at.is_some()) {
        let Some(device) = part.device else { continue };
        if matches!(scheme.devices[device].kind, DeviceKind::Relay | DeviceKind::Timer { .. }) {
            let moved = study.machine.wiring.moved_with(id);
            findings.extend(Holding { study, id, moved }.worst()?);
        }
    }
    Ok(findings)
}

struct Holding<'a, 's> {
    study: &'a Study<'a, 's>,
    id: PartId,
    /// Its device, and the relays that move only after it.
    moved: Vec<(DeviceId, u8)>,
}

impl Holding<'_, '_> {
    fn worst(&self) -> Result<Option<Finding>, BenchFault> {
        let scheme = self.study.scheme();
        let part = &scheme.parts[self.id];
        let PartKind::Coil(coil) = &part.kind else { return Ok(None) };
        let from = coil.pickup.as_ref().map(|it| it.lo).or(coil.surely_from());
        let declared = coil.dropout.as_ref().map(|dropout| dropout.hi);
        let Some(needs) = declared.or(from.map(|from| TYPICAL_DROP * from)) else {
            return Ok(None);
        };
        let mut worst: Option<(f64, Way)> = None;
        for way in self.ways() {
            let gets = self.least(&way)?;
            if gets < worst.as_ref().map_or(needs, |(least, _)| *least) {
                worst = Some((gets, way));
            }
        }
        let Some((gets, way)) = worst else { return Ok(None) };
        let names = |test: fn(&PartKind) -> bool| {
            let parts = way.parts.iter().filter(|part| test(&scheme.parts[**part].kind));
            parts.map(|part| scheme.parts[*part].name.clone()).collect::<Vec<_>>()
        };
        let resistors = names(|kind| matches!(kind, PartKind::Resistor { .. }));
        let contacts = names(|kind| matches!(kind, PartKind::Contact(_)));
        let name = &part.name;
        let usually = if declared.is_some() { "" } else { " (typical)" };
        let mut finding = Finding::new(
            "relay-may-not-hold",
            if declared.is_some() { Severity::Finding } else { Severity::Note },
            format!(
                "{name}, once picked up, may not stay so through {}: it gets {} at the least, and \
                 surely stays picked up only from {}{usually}",
                list(&resistors),
                volts(gets),
                volts(needs)
            ),
        )
        .why(format!(
            "held by {}, the supply at its lowest, the coil at its hottest; told as volts at the \
             temperature of its resistance; what else hangs behind {} leaves it less",
            list(&contacts),
            list(&resistors)
        ))
        .help(self.cure(&way, gets, needs, &resistors));
        if let Some(at) = part.at {
            finding = finding.at(at.span, format!("{} at the least", volts(gets)));
        }
        finding = finding.device(name);
        for resistor in &resistors {
            finding = finding.device(resistor);
        }
        Ok(Some(finding))
    }

    /// With so many ohms in place of all resistors of the way: the current is in proportion to the
    /// whole loop, so `R = (R + r) gets / needs - r`.
    fn cure(&self, way: &Way, gets: f64, needs: f64, resistors: &[String]) -> String {
        let scheme = self.study.scheme();
        let most = way.parts.iter().filter_map(|part| match &scheme.parts[*part].kind {
            PartKind::Resistor { resistance, .. } => Some(resistance.hi),
            _ => None,
        });
        let most: f64 = most.sum();
        let coil = self.coil_ohm().unwrap_or(0.0);
        let ohm = (most + coil) * gets / needs - coil;
        if coil > 0.0 && ohm > 0.0 {
            let together = if resistors.len() > 1 { " together" } else { "" };
            format!("{} of at most {}{together}", list(resistors), ohms(crate::words::down(ohm)))
        } else {
            format!("lead the holding current past {}", list(resistors))
        }
    }

    /// The coil's low end at its hottest, ohm.
    fn coil_ohm(&self) -> Option<f64> {
        let scheme = self.study.scheme();
        let part = &scheme.parts[self.id];
        let PartKind::Coil(coil) = &part.kind else { return None };
        Some(coil.resistance.as_ref()?.lo * coil_warmth(scheme, part).1)
    }

    /// The least volts on a way alone, as its thresholds are told.
    fn least(&self, way: &Way) -> Result<f64, BenchFault> {
        let (study, scheme) = (self.study, self.study.scheme());
        let closed = scheme.parts.ids().map(|part| way.parts.contains(&part)).collect();
        let mut setup = Setup { closed, ..study.bench.setup().at(Ends::LEAST) };
        if let Some(ohm) = self.coil_ohm() {
            setup = setup.with_apart(self.id, Stand::Ohm(ohm));
        }
        let readings = study.bench.solve(&setup)?;
        let hot = coil_warmth(scheme, &scheme.parts[self.id]).1.max(1.0);
        Ok(readings.across(self.id).unwrap_or(0.0).abs() / hot)
    }

    /// The ways through resistors that hold it.
    fn ways(&self) -> Vec<Way> {
        let scheme = self.study.scheme();
        let wiring = &self.study.machine.wiring;
        let known = wiring.ways(self.id);
        let free: &[Way] =
            if known.through_resistors || known.through_coils { &[] } else { &known.list };
        let stays = |way: &Way| way.parts.iter().all(|part| self.own(*part) != Some(false));
        let mut ways = wiring.ways_through_resistors(self.id).list;
        ways.retain(|way| {
            let seals = way.parts.iter().any(|part| self.own(*part) == Some(true));
            let contact = |part: &&PartId| {
                matches!(scheme.parts[**part].kind, PartKind::Contact(_))
                    && self.own(**part) != Some(false)
            };
            // With the contacts of this way closed: this way, and no free one, stays.
            let within =
                |own: &Way| own.parts.iter().filter(contact).all(|part| way.parts.contains(part));
            let saves = free.iter().any(|own| !stays(own) && within(own));
            let by_itself = !free.iter().any(|own| stays(own) && within(own));
            stays(way) && (seals || saves) && by_itself && can_be(scheme, way)
        });
        ways
    }

    /// A contact of the relay itself, or of a relay that it alone drives: closed while it is picked up
    /// (true) or open then (false).
    fn own(&self, part: PartId) -> Option<bool> {
        let part = &self.study.scheme().parts[part];
        let PartKind::Contact(contact) = &part.kind else { return None };
        let (expr, negated) = match &contact.closed_when.expr {
            Expr::Not(inner) => (inner.as_ref(), true),
            expr => (expr, false),
        };
        let Expr::Atom(Atom::Position(of, position)) = expr else { return None };
        let (_, picked_up) = self.moved.iter().find(|(device, _)| device == of)?;
        Some((picked_up == position) != negated)
    }
}
