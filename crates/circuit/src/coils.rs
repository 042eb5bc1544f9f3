//! What every coil gets: lowest and highest volts on each of its ways, against its nameplate.
//!
//! **In:** a compiled scheme. **Out:** one [`CoilReport`] for each placed coil, as plain data in SI
//! units, with findings where a coil gets too little or too much.
//! **Never here:** whether a way can come to be in time: contacts are closed as the way needs them.
//!
//! Each way is solved twice: alone (the contacts of the way closed, all others open) and loaded
//! (every other contact of the section closed too, but for those that would short the supply or the
//! coil). In both the other sections of the supply draw anything from nothing to their most.
//!
//! Ways through another coil in series (a target relay) are judged beside the free ones, but for
//! those on which the coil gets at most a fifth of its pickup: these are monitors.

use crate::corner::{Battery, Corner, Heat, Method, Others};
use crate::positions::{Positions, Supplies};
use crate::typical::RELAY_POWER;
use crate::warmth::{coil_warmth, surely_moves_from};
use crate::wiring::{Drive, MOST_WAYS, SectionId, Way, Ways, Wiring};
use fiftytwo_scheme::{
    Coil, CurrentKind, DeviceKind, Finding, Part, PartId, PartKind, Quantity, Severity,
};
use serde::Serialize;
use std::sync::Arc;

mod cures;

/// What a coil gets on a way through another coil without being ordered, as a share of its least
/// pickup: the upper end of what monitors may let through (10 to 20 %, common practice, no source).
const ONLY_MONITORS: f64 = 0.2;

/// What a coil gets at its supply's highest, as shares of its rated volts: less is a coil for a higher
/// supply, more one for a lower (112 to 120 % are usual; common practice, no source).
const RATED: (f64, f64) = (0.7, 1.4);

/// A place in the text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct At {
    /// File as given by the user.
    pub file: String,
    /// Line, from 1.
    pub line: u32,
    /// Column, from 1.
    pub column: u32,
}

/// A voltage across a coil at a corner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// Volts.
    pub volts: f64,
    /// Amperes at that voltage; none where the coil's resistance is not declared.
    pub amps: Option<f64>,
    /// The corner.
    pub corner: Corner,
    /// The corner in words, with its numbers.
    pub words: String,
    /// How the bound was got.
    pub method: Method,
}

/// Lowest and highest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Span {
    /// Lowest.
    pub lowest: Reading,
    /// Highest.
    pub highest: Reading,
}

/// One way on which a coil is driven.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayReport {
    /// The supply.
    pub supply: String,
    /// The parts from plus to minus, the coil among them.
    pub parts: Vec<String>,
    /// The way alone.
    pub alone: Span,
    /// With every other load of its section on.
    pub loaded: Span,
}

/// What one coil gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilReport {
    /// The coil's full name.
    pub coil: String,
    /// Its circuit.
    pub circuit: String,
    /// Where it is placed.
    pub at: Option<At>,
    /// Declared resistance, ohm, lowest and highest.
    pub ohms: Option<[f64; 2]>,
    /// Nameplate range, V.
    pub works: Option<[f64; 2]>,
    /// Pickup, V: surely not below, surely from.
    pub pickup: Option<[f64; 2]>,
    /// Its ways, the shortest first.
    pub ways: Vec<WayReport>,
    /// There are more ways than were followed.
    pub more_ways: bool,
    /// The least it gets on any way.
    pub lowest: Option<Reading>,
    /// The most it gets on any way.
    pub highest: Option<Reading>,
    /// Volts above what it surely works from; negative: too little.
    pub margin_low: Option<f64>,
    /// Volts below the most it may be used at; negative: too much.
    pub margin_high: Option<f64>,
    /// What is not declared, and what was assumed instead.
    pub notes: Vec<String>,
    /// `drive-too-low`, `drive-too-high`, `drive-not-judged`, `drive-past-a-contact`, `coil-power`,
    /// `coil-rated-for-another-supply`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Reports on every placed coil, in source order.
pub fn coil_report(wiring: &Wiring<'_>) -> Vec<CoilReport> {
    let scheme = wiring.scheme();
    scheme
        .coils()
        .filter_map(|(id, part, coil)| {
            let section = wiring.section_of(id)?;
            Some(Reporter { wiring, id, part, coil, section }.report())
        })
        .collect()
}

struct Reporter<'a, 's> {
    wiring: &'a Wiring<'s>,
    id: PartId,
    part: &'a Part,
    coil: &'a Coil,
    section: SectionId,
}

impl Reporter<'_, '_> {
    /// Volts at its terminals with which it surely moves, a hot coil by its pickup too.
    fn needs(&self) -> Option<f64> {
        surely_moves_from(self.wiring.scheme(), self.part)
    }

    fn report(&self) -> CoilReport {
        let scheme = self.wiring.scheme();
        let found = self.wiring.ways(self.id);
        let beside = self.wiring.ways_through_coils(self.id);
        let series = self.wiring.ways_in_series(self.id);
        let judged = self.judged(&found, &beside, &series);
        let ways: Vec<WayReport> = judged.iter().map(|(_, way)| way.clone()).collect();
        let bounds = |quantity: &Quantity<_>| [quantity.lo, quantity.hi];
        let at = self.part.at.map(|at| {
            let position = scheme.sources.position(at.span);
            let file = scheme.sources.file_name(at.span).to_owned();
            At { file, line: position.line, column: position.column }
        });
        let circuit = self.part.at.map(|at| scheme.circuits[at.circuit].name.clone());
        let spans = || ways.iter().flat_map(|way| [&way.alone, &way.loaded]);
        let lowest = spans().map(|span| &span.lowest).min_by(|a, b| a.volts.total_cmp(&b.volts));
        let highest = spans().map(|span| &span.highest).max_by(|a, b| a.volts.total_cmp(&b.volts));
        let margin_low = lowest.zip(self.needs()).map(|(lowest, needs)| lowest.volts - needs);
        let margin_high =
            highest.zip(self.coil.works.as_ref()).map(|(highest, works)| works.hi - highest.volts);
        CoilReport {
            coil: self.part.name.clone(),
            circuit: circuit.unwrap_or_default(),
            at,
            ohms: self.coil.resistance.as_ref().map(|ohm| [ohm.lo, ohm.hi]),
            works: self.coil.works.as_ref().map(bounds),
            pickup: self.coil.pickup.as_ref().map(bounds),
            more_ways: !found.complete || !beside.complete || !series.complete,
            lowest: lowest.cloned(),
            highest: highest.cloned(),
            margin_low,
            margin_high,
            notes: self.notes([found.as_ref(), &beside, &series], &judged),
            findings: self.findings(&judged, margin_low, margin_high),
            ways,
        }
    }

    /// The ways with what the coil gets on them: all free ones, and those through other coils on
    /// which it gets more than a monitor may let through (where it gets no more on any, the best).
    /// Ways through parts in series that have a contact of their own are judged whatever they let
    /// through: no monitor stands on them.
    fn judged(&self, found: &Arc<Ways>, beside: &Ways, series: &Ways) -> Vec<(Way, WayReport)> {
        let report = |way: &Way| (way.clone(), self.way(way));
        let volts = |way: &WayReport| way.alone.highest.volts.max(way.loaded.highest.volts);
        let pickup = self.coil.pickup.as_ref().or(self.coil.works.as_ref()).map(|it| it.lo);
        let monitors = |way: &WayReport| {
            pickup.is_none_or(|pickup| way.alone.highest.volts <= ONLY_MONITORS * pickup)
        };
        let all: Vec<(Way, WayReport)> = found.list.iter().map(report).collect();
        if found.through_coils {
            let orders: Vec<_> = all.iter().filter(|(_, way)| !monitors(way)).cloned().collect();
            if !orders.is_empty() {
                return orders;
            }
            let best = all.into_iter().max_by(|a, b| volts(&a.1).total_cmp(&volts(&b.1)));
            return best.into_iter().collect();
        }
        let coils = |way: &Way| self.other_coil(way);
        let through = beside.list.iter().map(report).filter(|(_, way)| !monitors(way));
        let series = series.list.iter().map(report);
        let series = series.filter(|(way, report)| !coils(way) || !monitors(report));
        let mut judged = all;
        for next in through.chain(series) {
            if !judged.iter().any(|(way, _)| way.closed == next.0.closed && *way == next.0) {
                judged.push(next);
            }
        }
        judged
    }

    fn way(&self, way: &Way) -> WayReport {
        let scheme = self.wiring.scheme();
        let names = way.parts.iter().map(|part| scheme.parts[*part].name.clone());
        let loaded = self.wiring.with_other_loads(self.section, way, self.id);
        WayReport {
            supply: scheme.supplies[way.supply].name.clone(),
            parts: names.collect(),
            alone: self.span(way, &way.closed),
            loaded: self.span(way, &loaded),
        }
    }

    fn span(&self, way: &Way, key: &Positions) -> Span {
        let drives = self.wiring.drive_afresh(self.section, key, Supplies::ALL);
        let drive = drives.iter().find(|drive| drive.part == self.id);
        let reading = |volts: f64, corner: Corner, method: Method| Reading {
            volts,
            amps: self.amps(volts, corner),
            corner,
            words: self.words(way, corner),
            method,
        };
        let nothing = Corner {
            battery: Battery::Low,
            conductors: Heat::Hot,
            coils: Heat::Cold,
            others: Others::On,
        };
        drive.map_or_else(
            || Span {
                lowest: reading(0.0, nothing, Method::Undeclared),
                highest: reading(0.0, nothing, Method::Undeclared),
            },
            |Drive { volts_lo, volts_hi, corner_lo, corner_hi, method, .. }| Span {
                lowest: reading(*volts_lo, *corner_lo, *method),
                highest: reading(*volts_hi, *corner_hi, *method),
            },
        )
    }

    /// The coil's current; where its own end is open, that of its least resistance.
    fn amps(&self, volts: f64, corner: Corner) -> Option<f64> {
        let (lo, hi) = self.wiring.ohms(self.section, self.id)?;
        Some(volts / if corner.coils == Heat::Hot { hi } else { lo })
    }

    /// A corner in words: "DC1 at 105 V, conductors hot (50 C), coil cold (-30 C), …".
    fn words(&self, way: &Way, corner: Corner) -> String {
        let scheme = self.wiring.scheme();
        let supply = &scheme.supplies[way.supply];
        let mut words = vec![match corner.battery {
            Battery::Low => format!("{} at {} V", supply.name, told(supply.range.lo)),
            Battery::High => format!("{} at {} V", supply.name, told(supply.range.hi)),
            Battery::Mixed => "supplies at different ends".to_owned(),
        }];
        let ambients = way.parts.iter().filter_map(|part| match &scheme.parts[*part].kind {
            PartKind::Core(core) => Some(&scheme.cables[core.cable]),
            _ => None,
        });
        let ends: Vec<&Quantity<_>> = ambients
            .flat_map(|cable| [cable.from, cable.to])
            .map(|place| &scheme.places[place].ambient)
            .collect();
        if !ends.is_empty() {
            let cold = ends.iter().map(|ambient| ambient.lo).fold(f64::INFINITY, f64::min);
            let hot = ends.iter().map(|ambient| ambient.hi).fold(f64::NEG_INFINITY, f64::max);
            words.push(heat("conductors", corner.conductors, cold, hot));
        }
        if let Some(at) = self.part.at {
            let ambient = &scheme.places[at.place].ambient;
            words.push(heat("coil", corner.coils, ambient.lo, ambient.hi));
        }
        if supply.resistance.hi > 0.0 {
            words.push(match corner.others {
                Others::Off => format!("other circuits of {} off", supply.name),
                Others::On => format!("other circuits of {} at their most", supply.name),
            });
        }
        words.join(", ")
    }

    fn other_coil(&self, way: &Way) -> bool {
        way.parts.iter().any(|part| *part != self.id && self.is_coil(*part))
    }

    fn notes(&self, all: [&Ways; 3], judged: &[(Way, WayReport)]) -> Vec<String> {
        let found = all[0];
        let mut notes = Vec::new();
        let name = &self.part.name;
        let scheme = self.wiring.scheme();
        if self.coil.resistance.is_none() {
            notes.push(format!(
                "{name} has no resistance: its own current and the drop it makes are left out"
            ));
        }
        if self.coil.surely_from().is_none() {
            notes.push(format!(
                "{name} says neither works nor pickup: it counts as picked up when contacts and \
                 conductors alone join it to both poles"
            ));
        }
        if let Some(at) = self.part.at {
            let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
            if supply.range.hi <= supply.range.lo {
                notes.push(format!(
                    "{} has no range: only its nominal voltage was tried",
                    supply.name
                ));
            }
            if supply.current == CurrentKind::Ac {
                notes.push(format!(
                    "{} is AC: solved in rms values, coils and motors as resistances",
                    supply.name
                ));
            }
        }
        if all.iter().any(|ways| !ways.complete) {
            notes.push(format!("{name} has more than {MOST_WAYS} ways: the shortest were solved"));
        }
        if found.through_coils {
            notes.push(format!("every way of {name} leads through another coil"));
        } else if found.through_resistors {
            notes.push(format!("every way of {name} leads through a resistor"));
        }
        let beside = || judged.iter().filter(|(way, _)| !found.list.contains(way));
        if beside().any(|(way, _)| self.other_coil(way)) {
            notes.push(format!("{name} is driven through another coil too: judged beside"));
        }
        if beside().any(|(way, _)| !self.other_coil(way)) {
            notes.push(format!(
                "{name} is driven through a part in series by a contact of its own too: judged beside"
            ));
        }
        notes
    }

    fn findings(
        &self,
        judged: &[(Way, WayReport)],
        margin_low: Option<f64>,
        margin_high: Option<f64>,
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        if judged.is_empty() {
            findings.extend(self.without_ways());
        }
        if margin_low.is_some_and(|margin| margin < 0.0) {
            findings.extend(self.too_low(judged));
        }
        let ways: Vec<WayReport> = judged.iter().map(|(_, way)| way.clone()).collect();
        if margin_high.is_some_and(|margin| margin < 0.0) {
            findings.extend(self.too_high(&judged.iter().collect::<Vec<_>>()));
        }
        findings.extend(self.power(&ways));
        if findings.is_empty() {
            findings.extend(self.not_its_rated(&ways));
            findings.extend(self.past_a_contact());
        }
        findings
    }

    fn too_low(&self, judged: &[(Way, WayReport)]) -> Option<Finding> {
        let needs = self.needs()?;
        let alone = judged
            .iter()
            .map(|(way, report)| (way, &report.alone.lowest, false))
            .min_by(|a, b| a.1.volts.total_cmp(&b.1.volts));
        let loaded = judged
            .iter()
            .map(|(way, report)| (way, &report.loaded.lowest, true))
            .min_by(|a, b| a.1.volts.total_cmp(&b.1.volts));
        let least = loaded.map(|(_, lowest, _)| lowest.volts);
        let (way, lowest, loaded) =
            alone.filter(|(_, lowest, _)| lowest.volts < needs).or(loaded)?;
        let still_less = match least {
            Some(least) if !loaded && least < lowest.volts - 0.05 => {
                format!("; with every other load beside it on {} V", told(least))
            }
            _ => String::new(),
        };
        let meanwhile = if loaded { " while every other load beside it is on" } else { "" };
        let name = &self.part.name;
        let by = self.in_series(way);
        let useless = self.useless_bound(way, lowest, loaded, needs);
        let (text, why) = match &useless {
            Some(useless) => (useless.text.clone(), useless.why.clone()),
            None => (
                {
                    let (gets, from) = apart(lowest.volts, needs);
                    let by = by.as_ref().map_or_else(String::new, |(words, _)| words.clone());
                    format!(
                        "{name} may get only {gets} V{by}{meanwhile}; it surely works from {from} V"
                    )
                },
                format!("at this corner: {}", lowest.words),
            ),
        };
        let named = if self.coil.works.is_some() { "works" } else { "pickup" };
        let parts = &self.wiring.scheme().parts;
        let on_way: Vec<&str> = way.parts.iter().map(|part| parts[*part].name.as_str()).collect();
        let help = match useless {
            Some(useless) => useless.help,
            None => self.cure(way, lowest, loaded, needs),
        };
        let finding = Finding::new("drive-too-low", Severity::Finding, text)
            .why(format!("{why}; on the way {}{still_less}", on_way.join(", ")))
            .help(help)
            .and_at(self.part.span, format!("{named} from {} V", told(needs)))
            .device(name);
        let series = by.map(|(_, parts)| parts).unwrap_or_default();
        let finding =
            series.iter().fold(finding, |finding, part| finding.device(&parts[*part].name));
        Some(match self.part.at {
            Some(at) => finding.at(at.span, format!("{} V at the least", told(lowest.volts))),
            None => finding,
        })
    }

    /// What a part beside an open contact lets through, where that is more than a monitor may and
    /// less than moves the coil surely: whether it is an order, nobody says.
    fn past_a_contact(&self) -> Option<Finding> {
        let needs = self.needs()?;
        let pickup = self.coil.pickup.as_ref().or(self.coil.works.as_ref())?.lo;
        let ways = self.wiring.ways_past_contacts(self.id);
        let ways = ways.iter().filter(|way| !self.other_coil(way));
        let (way, span) = ways
            .map(|way| (way, self.span(way, &way.closed)))
            .filter(|(_, span)| {
                span.highest.volts > ONLY_MONITORS * pickup && span.lowest.volts < needs
            })
            .min_by(|a, b| a.1.lowest.volts.total_cmp(&b.1.lowest.volts))?;
        let series: Vec<PartId> =
            way.parts.iter().copied().filter(|part| self.wiring.takes_volts(*part)).collect();
        let closed: Vec<PartId> = self.wiring.contacts(way).collect();
        let (name, through) = (&self.part.name, self.names(&series));
        let text = format!(
            "past an open contact {name} gets {} to {} V through {through} while {} is closed; it \
             surely works from {} V: whether that is to move it is not judged",
            told(span.lowest.volts),
            told(span.highest.volts),
            self.names(&closed),
            told(needs)
        );
        let note = Finding::note("drive-past-a-contact", text)
            .why("a resistor around a contact may be meant to leak, to save or to drive")
            .help(format!(
                "if this is an order: lead it past {through}; if not: below {} V nothing moves",
                told(pickup)
            ))
            .device(name);
        let note = series
            .iter()
            .fold(note, |note, part| note.device(&self.wiring.scheme().parts[*part].name));
        Some(match self.part.at {
            Some(at) => note.at(at.span, format!("{} V", told(span.lowest.volts))),
            None => note,
        })
    }

    /// Of a way through parts in series by a contact of its own: " by 87 t through RX", and these
    /// parts.
    fn in_series(&self, way: &Way) -> Option<(String, Vec<PartId>)> {
        if !self.wiring.ways_in_series(self.id).list.contains(way) {
            return None;
        }
        let free = self.wiring.ways(self.id);
        let own = self.wiring.contacts(way).filter(|contact| {
            !free.list.iter().any(|other| self.wiring.contacts(other).any(|it| it == *contact))
        });
        let own: Vec<PartId> = own.collect();
        let series = way.parts.iter().copied().filter(|part| self.wiring.takes_volts(*part));
        let series: Vec<PartId> = series.collect();
        let through = self.names(&series);
        let words = match own.as_slice() {
            [] => format!(" through {through}"),
            own => format!(" by {} through {through}", self.names(own)),
        };
        Some((words, own.into_iter().chain(series).collect()))
    }

    /// The coil of a relay, a timer or a latch that takes more than these do: most likely a slip of
    /// the pen.
    fn power(&self, ways: &[WayReport]) -> Option<Finding> {
        let scheme = self.wiring.scheme();
        let device = self.part.device.map(|device| &scheme.devices[device])?;
        let stays = matches!(
            device.kind,
            DeviceKind::Relay | DeviceKind::Timer { .. } | DeviceKind::Latch { .. }
        );
        if !stays || self.coil.max_on.is_some() {
            return None;
        }
        let highest = ways
            .iter()
            .flat_map(|way| [&way.alone.highest, &way.loaded.highest])
            .max_by(|a, b| a.volts.total_cmp(&b.volts))?;
        // A cold coil takes the most; it hardly gets fewer volts than a hot one.
        let cold = coil_warmth(scheme, self.part).0;
        let watts = highest.volts * highest.volts / (self.coil.resistance.as_ref()?.lo * cold);
        if watts <= RELAY_POWER.hi {
            return None;
        }
        let name = &self.part.name;
        // A coil of more ohms leaves less volts on the way to it: at the most all of the supply's.
        let supply = self.part.at.map(|at| scheme.circuits[at.circuit].supply);
        let most = supply.map_or(highest.volts, |supply| scheme.supplies[supply].range.hi);
        let most = most.max(highest.volts);
        let ohm = most * most / (RELAY_POWER.hi * cold);
        let text = format!(
            "{name} takes up to {} W for as long as it is on; coils of relays take {} to {} W",
            told(watts),
            told(RELAY_POWER.lo),
            told(RELAY_POWER.hi)
        );
        Some(
            Finding::new("coil-power", Severity::Finding, text)
                .why(format!(
                    "{} V at the most, the coil at its coldest; the bound is {RELAY_POWER}",
                    told(highest.volts)
                ))
                .help(format!(
                    "a resistance of {} ohm or more, or max-on if the coil is made for a moment",
                    told(ohm.ceil())
                ))
                .at(self.part.span, format!("{} W", told(watts)))
                .device(name),
        )
    }

    /// A coil that is rated for another supply than the one it hangs on, resistors in front counted.
    fn not_its_rated(&self, ways: &[WayReport]) -> Option<Finding> {
        let rated = self.coil.rated.as_ref()?;
        let highest = ways.iter().flat_map(|way| [&way.alone.highest, &way.loaded.highest]);
        let most = highest.max_by(|a, b| a.volts.total_cmp(&b.volts))?.volts;
        let (least, over) = (RATED.0 * rated.lo, RATED.1 * rated.hi);
        if (least..=over).contains(&most) {
            return None;
        }
        let name = &self.part.name;
        let supply = self.part.at.map(|at| {
            let scheme = self.wiring.scheme();
            &scheme.supplies[scheme.circuits[at.circuit].supply]
        })?;
        let text = format!(
            "{name} is rated {} and gets up to {} V of {}",
            rated.written,
            told(most),
            supply.name
        );
        Some(
            Finding::new("coil-rated-for-another-supply", Severity::Finding, text)
                .why(format!(
                    "a coil stands {} to {} % of its rated volts at the most of its supply (wide of 85 \
                     to 110 %, from memory of IEC 62271-1 and IEC 61810-1)",
                    told(100.0 * RATED.0),
                    told(100.0 * RATED.1)
                ))
                .help(format!(
                    "a coil rated {}, or hang it on the supply that it is made for",
                    supply.nominal.written
                ))
                .at(self.part.span, format!("rated {}", rated.written))
                .device(name),
        )
    }

    fn too_high(&self, ways: &[&(Way, WayReport)]) -> Option<Finding> {
        let most = self.coil.works.as_ref()?.hi;
        let (route, way, highest) = ways
            .iter()
            .flat_map(|(route, way)| {
                [(route, way, &way.alone.highest), (route, way, &way.loaded.highest)]
            })
            .max_by(|a, b| a.2.volts.total_cmp(&b.2.volts))?;
        let name = &self.part.name;
        let (gets, up_to) = apart(highest.volts, most);
        let text = format!("{name} may get {gets} V; it may be used up to {up_to} V");
        let finding = Finding::new("drive-too-high", Severity::Finding, text)
            .why(format!("at this corner: {}; on the way {}", highest.words, way.parts.join(", ")))
            .help(self.drops_more(route, most).unwrap_or_else(|| {
                "a coil for the supply's highest voltage, or a lower charging voltage".to_owned()
            }))
            .and_at(self.part.span, format!("works up to {} V", told(most)))
            .device(name);
        Some(match self.part.at {
            Some(at) => finding.at(at.span, format!("{} V at the most", told(highest.volts))),
            None => finding,
        })
    }
}

fn heat(what: &str, heat: Heat, cold: f64, hot: f64) -> String {
    match heat {
        _ if cold >= hot => format!("{what} at {} C", told(cold)),
        Heat::Cold => format!("{what} cold ({} C)", told(cold)),
        Heat::Hot => format!("{what} hot ({} C)", told(hot)),
        Heat::Each => format!("{what} each at its worse end"),
    }
}

/// Two numbers, one above the other, with as many decimals as show that.
fn apart(one: f64, other: f64) -> (String, String) {
    if told(one) != told(other) {
        return (told(one), told(other));
    }
    let decimals = (2..6).find(|places| format!("{one:.places$}") != format!("{other:.places$}"));
    let places = decimals.unwrap_or(6);
    (format!("{one:.places$}"), format!("{other:.places$}"))
}

/// A number as a person writes it: one decimal, none if it is whole.
fn told(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded.fract() == 0.0 { format!("{rounded:.0}") } else { format!("{rounded:.1}") }
}
