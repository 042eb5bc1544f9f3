//! Bus clearing: several coils at once through one feeder or one supply.
//!
//! **In:** the study. **Out:** for each source that drives two or more coils at once, and for all
//! trip coils of each supply, the voltage at each coil then, beside what it gets alone, against
//! what it works from; findings where it is too little. **Never here:** whether they really come at
//! one time, how a coil's current rises.
//!
//! What one source drives: the coils with a way through one of its contacts, the coils driven by
//! the contacts of relays and lockouts that pick up so, and so on. Each coil is on by the shortest
//! such way, its other contacts closed. Everything else stands as at rest with the breaker closed.
//!
//! Corner: supplies low, conductors hot, loads cold, the named corner of the least voltage at a
//! coil behind a shared feeder.

use crate::Study;
use crate::figures::{listed, volts};
use fiftytwo_circuit::bench::{BenchFault, Charge, Ends, Readings, Setup, Warmth};
use fiftytwo_circuit::warmth::surely_moves_from;
use fiftytwo_circuit::{Way, Wiring};
use fiftytwo_scheme::{
    Atom, DeviceId, DeviceKind, Expr, Finding, PartId, PartKind, Scheme, Severity, SupplyId,
};
use serde::Serialize;

/// The corner.
const WORST: Ends = Ends { battery: Charge::Low, conductors: Warmth::Hot, coils: Warmth::Cold };
/// A coil that others pull down by less than this is not told as pulled down, V.
const PULLED: f64 = 0.05;

/// Coils that draw at once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clearing {
    /// One for each source, then one for each supply.
    pub groups: Vec<Group>,
    /// `too-low-together`, `at-once-not-computed`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Coils that draw at one time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// What drives them: "86 operated", "all trip coils of DC1".
    pub name: String,
    /// What else drives the same coils.
    pub also: Vec<String>,
    /// The coils.
    pub coils: Vec<CoilThen>,
    /// What each supply delivers then, A, and the voltage at its poles.
    pub supplies: Vec<SupplyThen>,
    /// Why there are no numbers.
    pub not_computed: Option<String>,
}

/// A coil of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilThen {
    /// The coil.
    pub coil: String,
    /// Together with the others, V.
    pub volts: f64,
    /// Alone, by the same way at the same corner, V.
    pub alone: f64,
    /// What it surely works from, V.
    pub needs: Option<f64>,
    /// Volts above that.
    pub margin: Option<f64>,
}

/// A supply of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SupplyThen {
    /// The supply.
    pub supply: String,
    /// Delivered, A.
    pub amps: f64,
    /// At its poles, V.
    pub volts: f64,
}

/// Every group of two or more coils.
pub fn clearing(study: &Study<'_, '_>) -> Clearing {
    let scheme = study.scheme();
    let at = Bus { study, scheme, wiring: &study.machine.wiring };
    let mut found = Clearing { groups: Vec::new(), findings: Vec::new() };
    let mut seen: Vec<Vec<PartId>> = Vec::new();
    let mut too_low: Vec<(PartId, f64, Finding)> = Vec::new();
    let sources = at.sources().into_iter().map(|source| {
        let name = format!("{} {}", scheme.devices[source.device].name, source.text);
        (name, at.driven_by(&source))
    });
    let supplies = scheme
        .supplies
        .iter()
        .map(|(id, supply)| (format!("all trip coils of {}", supply.name), at.trip_coils(id)));
    for (name, coils) in sources.chain(supplies) {
        let mut ids: Vec<PartId> = coils.iter().map(|(coil, _)| *coil).collect();
        ids.sort_unstable();
        if ids.len() < 2 {
            continue;
        }
        if let Some(group) =
            seen.iter().position(|it| *it == ids).and_then(|at| found.groups.get_mut(at))
        {
            group.also.push(name);
            continue;
        }
        seen.push(ids);
        let group = at.group(name, &coils);
        found.findings.extend(at.not_computed(&group, &coils));
        too_low.extend(at.too_low(&group, &coils));
        found.groups.push(group);
    }
    // The worst of each coil only.
    too_low.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    too_low.dedup_by_key(|low| low.0);
    found.findings.extend(too_low.into_iter().map(|(_, _, finding)| finding));
    found
}

/// Contacts that close together: those of one device with one statement.
struct Source {
    device: DeviceId,
    text: String,
    contacts: Vec<PartId>,
}

struct Bus<'a, 's> {
    study: &'a Study<'a, 's>,
    scheme: &'s Scheme,
    wiring: &'a Wiring<'s>,
}

impl Bus<'_, '_> {
    fn sources(&self) -> Vec<Source> {
        let mut sources: Vec<Source> = Vec::new();
        for (id, part) in self.scheme.placed() {
            let (PartKind::Contact(contact), Some(device)) = (&part.kind, part.device) else {
                continue;
            };
            if matches!(self.scheme.devices[device].kind, DeviceKind::Breaker { .. }) {
                continue;
            }
            let text = &contact.closed_when.text;
            match sources.iter_mut().find(|it| it.device == device && it.text == *text) {
                Some(source) => source.contacts.push(id),
                None if self.stands_at_rest(id) => {}
                None => {
                    sources.push(Source { device, text: text.clone(), contacts: vec![id] });
                }
            }
        }
        sources
    }

    /// It is closed while nothing happens: it permits, it does not order.
    fn stands_at_rest(&self, contact: PartId) -> bool {
        let healthy = self.study.rest.iter().filter(|rest| rest.is_healthy());
        healthy.into_iter().any(|rest| rest.is_closed(contact))
    }

    /// The contacts that close when a coil has moved its device.
    fn closed_by(&self, coil: PartId) -> Vec<PartId> {
        let part = &self.scheme.parts[coil];
        let (PartKind::Coil(data), Some(device)) = (&part.kind, part.device) else {
            return Vec::new();
        };
        let moves = matches!(
            self.scheme.devices[device].kind,
            DeviceKind::Relay | DeviceKind::Lockout { .. }
        );
        let position = Expr::Atom(Atom::Position(device, data.drives_to));
        let parts = self.scheme.devices[device].parts.iter().copied().filter(|_| moves);
        parts
            .filter(|id| match &self.scheme.parts[*id].kind {
                PartKind::Contact(contact) => contact.closed_when.expr == position,
                _ => false,
            })
            .collect()
    }

    fn driven_by(&self, source: &Source) -> Vec<(PartId, Way)> {
        let mut contacts = source.contacts.clone();
        let mut driven: Vec<(PartId, Way)> = Vec::new();
        loop {
            let next = self.scheme.coils().find_map(|(id, ..)| {
                if driven.iter().any(|(coil, _)| *coil == id) {
                    return None;
                }
                let (ways, series) = (self.wiring.ways(id), self.wiring.ways_in_series(id));
                let way = ways
                    .list
                    .iter()
                    .chain(&series.list)
                    .find(|way| way.parts.iter().any(|part| contacts.contains(part)))?;
                Some((id, way.clone()))
            });
            let Some((coil, way)) = next else { return driven };
            contacts.extend(self.closed_by(coil));
            driven.push((coil, way));
        }
    }

    fn trip_coils(&self, supply: SupplyId) -> Vec<(PartId, Way)> {
        let coils = self.scheme.coils().filter(|(_, part, coil)| {
            let kind = part.device.map(|device| &self.scheme.devices[device].kind);
            coil.drives_to == 0 && matches!(kind, Some(DeviceKind::Breaker { .. }))
        });
        coils
            .filter_map(|(id, ..)| {
                let ways = self.wiring.ways(id);
                let way = ways.list.iter().find(|way| way.supply == supply)?;
                Some((id, way.clone()))
            })
            .collect()
    }

    /// At rest with the breaker closed, and these ways closed.
    fn setup(&self, coils: &[(PartId, Way)]) -> Setup {
        let rest = self.study.rest.iter().find(|rest| rest.is_healthy_with(true));
        let bench = &self.study.bench;
        let mut setup = rest.map_or_else(|| bench.setup(), |rest| rest.setup(bench)).at(WORST);
        for (_, way) in coils {
            for &part in &way.parts {
                setup = setup.with_closed(part, true);
            }
        }
        setup
    }

    fn group(&self, name: String, coils: &[(PartId, Way)]) -> Group {
        let mut group = Group {
            name,
            also: Vec::new(),
            coils: Vec::new(),
            supplies: Vec::new(),
            not_computed: None,
        };
        let together = self.setup(coils);
        let readings = match self.study.bench.solve(&together) {
            Ok(readings) => readings,
            Err(fault) => {
                group.not_computed = Some(self.words(fault));
                return group;
            }
        };
        for (coil, way) in coils {
            let part = &self.scheme.parts[*coil];
            if !matches!(part.kind, PartKind::Coil(_)) {
                continue;
            }
            let alone = self.setup(&[(*coil, way.clone())]);
            let at = |readings: &Readings<'_>| readings.across(*coil).map_or(0.0, f64::abs);
            let volts = at(&readings);
            let needs = surely_moves_from(self.scheme, part);
            group.coils.push(CoilThen {
                coil: self.scheme.parts[*coil].name.clone(),
                volts,
                alone: self.study.bench.solve(&alone).map_or(volts, |readings| at(&readings)),
                needs,
                margin: needs.map(|needs| volts - needs),
            });
        }
        let mut supplies: Vec<SupplyId> = coils.iter().map(|(_, way)| way.supply).collect();
        supplies.sort_unstable();
        supplies.dedup();
        group.supplies = supplies
            .into_iter()
            .map(|id| {
                let supply = &self.scheme.supplies[id];
                SupplyThen {
                    supply: supply.name.clone(),
                    amps: readings.drawn(id).unwrap_or(0.0),
                    volts: readings.between(supply.plus, supply.minus).unwrap_or(0.0),
                }
            })
            .collect();
        group
    }

    fn not_computed(&self, group: &Group, coils: &[(PartId, Way)]) -> Option<Finding> {
        let why = group.not_computed.as_ref()?;
        let names: Vec<String> =
            coils.iter().map(|(coil, _)| self.scheme.parts[*coil].name.clone()).collect();
        let text = format!(
            "what {} get at once (by {}) was not computed: {why}",
            listed(&names),
            group.name
        );
        let finding = Finding::note("at-once-not-computed", text)
            .why("each is on by its shortest way, the contacts of all these ways closed together");
        Some(names.into_iter().fold(finding, Finding::device))
    }

    fn words(&self, fault: BenchFault) -> String {
        fault.finding(self.scheme).message
    }

    fn too_low(&self, group: &Group, coils: &[(PartId, Way)]) -> Vec<(PartId, f64, Finding)> {
        let names: Vec<String> = group.coils.iter().map(|coil| coil.coil.clone()).collect();
        let amps: f64 = group.supplies.iter().map(|supply| supply.amps).sum();
        let low = group.coils.iter().zip(coils).filter(|(coil, _)| {
            coil.margin.is_some_and(|margin| margin < 0.0) && coil.volts < coil.alone - PULLED
        });
        low.map(|(coil, (id, way))| {
            let needs = coil.needs.unwrap_or(0.0);
            let low = self.scheme.supplies[way.supply].range.lo;
            let text = format!(
                "with {} at once (by {}) {} gets only {} V; it works from {} V",
                listed(&names),
                group.name,
                coil.coil,
                volts(coil.volts),
                volts(needs)
            );
            let finding = Finding::new("too-low-together", Severity::Finding, text)
                .why(format!(
                    "alone it gets {} V; together they draw {} A (supplies low, conductors hot, \
                     coils cold)",
                    volts(coil.alone),
                    volts(amps)
                ))
                .help(format!(
                    "the drop on its way must fall from {} to {} V: a thicker common feeder, or \
                     feeders of their own",
                    volts(low - coil.volts),
                    volts(low - needs)
                ))
                .device(&coil.coil);
            let finding = match self.scheme.parts[*id].at {
                Some(at) => finding.at(at.span, format!("{} V together", volts(coil.volts))),
                None => finding,
            };
            (*id, coil.volts, finding)
        })
        .collect()
    }
}
