//! Fuses and small breakers: what each must carry, which short it clears in time, whether it is
//! selective with the one upstream, what goes dead with it, and whether it is too large for the
//! conductors behind it.
//!
//! **In:** a scheme on the bench; time-current points given as data. **Out:** one [`FuseReport`]
//! for each placed fuse, one [`ShortReport`] for each placed core, findings with cures. **Never
//! here:** the making of curves, arcs, whether a fuse may break direct current at that voltage.
//!
//! A fuse without points is judged by what is sure: it carries its rating for ever, and at less
//! than its rating it never opens. What a general-purpose fuse of that rating would do is told as
//! typical beside it and never makes a finding.

mod conductors;
mod curve;
mod gates;
mod grid;
mod load;
mod pairs;
mod selective;
mod short;
mod together;
mod told;

use curve::TimeCurrent;
use fiftytwo_circuit::Wiring;
use fiftytwo_circuit::bench::{Bench, Ends, Warmth};
use fiftytwo_circuit::conductor::size_name;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{DeviceKind, Finding, Part, PartId, PartKind, Scheme, Supply, SupplyId};
use grid::Grid;
use load::Asked;
use serde::Serialize;
use short::{FarEnd, Poles, Short};
use std::collections::BTreeMap;

pub(crate) use conductors::largest_fuse;
pub use load::{Carries, Moment};
pub use selective::{Selective, Upstream};

/// A bolted short must be cleared within so long, s: the longest time for which the rule of the
/// conductor's energy holds (IEC 60364-4-43, from memory); as a limit common practice, no source.
pub const CLEARS_WITHIN: f64 = 5.0;

/// Every fuse and every core behind one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fuses {
    /// One for each placed fuse, in source order.
    pub fuses: Vec<FuseReport>,
    /// One for each placed core of a cable, in source order.
    pub shorts: Vec<ShortReport>,
    /// Typical data in use.
    pub typical: Vec<String>,
    /// `short-may-last`, `fuse-points-below-rating`, `fuse-overloaded`, `fuse-melts-at-inrush`,
    /// `fuse-inrush-not-judged`, `short-not-cleared`, `short-overheats-cable`,
    /// `fuses-not-selective`, `selectivity-not-known`, `fuse-too-large`, `fuse-below-load`,
    /// `trips-on-one-fuse`, `fuses-of-a-pair-differ`, `fuse-in-one-pole`,
    /// `fuse-not-judged`, `cable-unfused`.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

impl Fuses {
    /// For each cable that cores of it have a nearest fuse, the largest of these, and its rating, A.
    pub(crate) fn of_cables(&self, scheme: &Scheme) -> OfCables {
        let mut found = OfCables::new();
        for fuse in &self.fuses {
            for core in &fuse.protects {
                let part = scheme.part_named(core).map(|id| &scheme.parts[id].kind);
                let Some(PartKind::Core(core)) = part else { continue };
                let cable = scheme.cables[core.cable].name.clone();
                let entry = found.entry(cable).or_insert_with(|| (fuse.fuse.clone(), fuse.rating));
                if fuse.rating > entry.1 {
                    *entry = (fuse.fuse.clone(), fuse.rating);
                }
            }
        }
        found
    }
}

/// By cable: the largest of the nearest fuses of its cores, and its rating, A.
pub(crate) type OfCables = BTreeMap<String, (String, f64)>;

/// One fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FuseReport {
    /// Its name.
    pub fuse: String,
    /// Rated current, A.
    pub rating: f64,
    /// Its time-current points are data of the scheme.
    pub has_points: bool,
    /// The least current of its points, A.
    pub points_begin: Option<f64>,
    /// What it must carry.
    pub carries: Carries,
    /// The coils, inputs, lamps, motors and feeds that go dead when it opens.
    pub takes_away: Vec<String>,
    /// The next fuse towards the supply, and whether it stays in.
    pub upstream: Option<Upstream>,
    /// The conductor behind it that allows the smallest fuse.
    pub thinnest: Option<Thin>,
    /// Cores it is the nearest fuse of.
    pub protects: Vec<String>,
    /// What can't be judged, and why.
    pub not_judged: Vec<String>,
    /// The coil that alone draws the most for a moment, A and s.
    #[serde(skip)]
    largest: Option<(String, f64, f64)>,
}

/// A conductor behind a fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Thin {
    /// The core.
    pub core: String,
    /// Its cable.
    pub cable: String,
    /// Its size as the trade writes it.
    pub size: String,
    /// Cores side by side.
    pub side_by_side: u32,
    /// The largest fuse before it, A.
    pub largest: f64,
    /// Where that comes from.
    pub source: &'static str,
}

/// A bolted short at the far end of a core.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShortReport {
    /// The core.
    pub core: String,
    /// Its cable.
    pub cable: String,
    /// The place of its far end.
    pub place: String,
    /// Least (supply low, conductors hot) and greatest (supply high, conductors cold) current, A;
    /// none: no conductor of the other pole is there, or nothing in the loop has a resistance.
    pub amps: Option<[f64; 2]>,
    /// The fuses in its loop, the nearest to the core first.
    pub fuses: Vec<String>,
    /// The fuse that surely clears first at the least current; none: not known.
    pub cleared_by: Option<String>,
    /// Within so long at the least and at the greatest current, s; none: it may never be cleared.
    pub cleared_within: Option<[f64; 2]>,
    /// What a general-purpose fuse of the rating would take at the least current, s: least and
    /// greatest; only where the fuse has no points.
    pub typical_within: Option<[f64; 2]>,
    /// Energy that the conductor takes in until then over what it stands; none: not known.
    pub heats: Option<f64>,
}

/// Reports on every fuse and every core.
pub fn fuses(study: &crate::Study<'_, '_>) -> Fuses {
    let (scheme, bench) = (study.scheme(), &study.bench);
    let grid = Grid::new(scheme, bench);
    let poles: Vec<Poles<'_>> =
        scheme.supplies.iter().map(|(id, _)| Poles::new(scheme, &grid, id)).collect();
    let mut panel = Panel {
        scheme,
        bench,
        wiring: &study.machine.wiring,
        grid: &grid,
        poles: &poles,
        ends: Vec::new(),
        times: BTreeMap::new(),
        needs: BTreeMap::new(),
        at_rest: at_rest(study),
        told: Vec::new(),
        found: Fuses {
            fuses: Vec::new(),
            shorts: Vec::new(),
            typical: Vec::new(),
            findings: Vec::new(),
        },
    };
    panel.run();
    panel.found
}

/// Supplies high, everything cold. A position that can't be solved is told elsewhere.
fn at_rest(study: &crate::Study<'_, '_>) -> Vec<f64> {
    let scheme = study.scheme();
    let mut most = vec![0.0_f64; scheme.parts.len()];
    for rest in &study.rest {
        let setup = rest.setup(&study.bench).at(Ends::MOST);
        let Ok(readings) = study.bench.solve(&setup) else { continue };
        for (id, part) in scheme.placed() {
            let momentary = |part: &Part| {
                let kind = part.device.map(|device| &scheme.devices[device].kind);
                kind.is_some_and(DeviceKind::is_breaker_or_lockout)
            };
            let steady = match &part.kind {
                PartKind::Lamp(_) | PartKind::Input(_) => true,
                PartKind::Coil(coil) => coil.max_on.is_none() && !momentary(part),
                _ => false,
            };
            if steady && let Some(amps) = readings.amps(id) {
                most[id.index()] = most[id.index()].max(amps.abs());
            }
        }
    }
    most
}

struct Panel<'a, 's> {
    scheme: &'s Scheme,
    bench: &'a Bench<'s>,
    wiring: &'a Wiring<'s>,
    grid: &'a Grid,
    poles: &'a [Poles<'a>],
    ends: Vec<(FarEnd, SupplyId, Option<Short>)>,
    times: BTreeMap<usize, Times>,
    /// The greatest current of one load behind each fuse, A.
    needs: BTreeMap<usize, f64>,
    /// By part: the most current of a lamp, an input or a relay in any rest position, A.
    at_rest: Vec<f64>,
    told: Vec<told::OfCore>,
    found: Fuses,
}

/// The times of one fuse: its own, or those of a general-purpose one as typical.
struct Times {
    rating: f64,
    own: Option<TimeCurrent>,
    typical: Option<TimeCurrent>,
}

impl Times {
    fn any(&self) -> Option<&TimeCurrent> {
        self.own.as_ref().or(self.typical.as_ref())
    }
}

impl<'a, 's> Panel<'a, 's> {
    fn asked(&self) -> Asked<'a, 's> {
        Asked { scheme: self.scheme, wiring: self.wiring, bench: self.bench }
    }

    fn run(&mut self) {
        for (id, part) in self.scheme.placed() {
            let PartKind::Fuse { rating, curve } = &part.kind else { continue };
            let own = curve
                .and_then(|curve| TimeCurrent::declared(&self.scheme.curves[curve], rating.lo));
            let typical =
                if own.is_some() { None } else { TimeCurrent::general_purpose(rating.lo) };
            if let Some(typical) = own.as_ref().and_then(|own| own.typical.clone()) {
                self.found.typical.push(format!("{}: {typical}", part.name));
            }
            self.times.insert(id.index(), Times { rating: rating.lo, own, typical });
        }
        let fuses: Vec<usize> = self.times.keys().copied().collect();
        for (id, part) in self.scheme.placed().filter(|(id, _)| fuses.contains(&id.index())) {
            let Some(at) = part.at else { continue };
            let supply = self.scheme.circuits[at.circuit].supply;
            let behind = self.behind(id, supply);
            let needs = behind.iter().map(|load| {
                let supply = &self.scheme.supplies[supply];
                load::carries(self.asked(), supply, (&[*load], &[]), None).most
            });
            self.needs.insert(id.index(), needs.fold(0.0, f64::max));
        }
        for (id, part) in self.scheme.placed() {
            let Some(supply) = part.at.map(|at| self.scheme.circuits[at.circuit].supply) else {
                continue;
            };
            let Some(poles) = self.poles.get(supply.index()) else { continue };
            if let Some(end) = poles.far_end(id, part) {
                let short = poles.at_the_end_of(self.scheme, self.grid, &end);
                self.ends.push((end, supply, short));
            }
        }
        let ends = std::mem::take(&mut self.ends);
        for (end, supply, short) in &ends {
            let report = self.short(end, *supply, short.as_ref());
            self.found.shorts.push(report);
        }
        self.ends = ends;
        self.found.findings.extend(told::once_for_each_cable(std::mem::take(&mut self.told)));
        for (id, _) in self.scheme.placed() {
            if let Some(report) = self.fuse(id) {
                self.found.fuses.push(report);
            }
        }
        self.found.findings.extend(together::trips(self.scheme, &self.found.fuses));
        self.found.findings.extend(together::beside_trips(self.scheme, &self.found.fuses));
        let in_plus = |part: PartId| {
            let at = self.scheme.parts[part].at?;
            let poles = self.poles.get(self.scheme.circuits[at.circuit].supply.index())?;
            poles.belongs_to_plus(at.from).or_else(|| poles.belongs_to_plus(at.to))
        };
        let differ = pairs::differ(self.scheme, &self.found.fuses, in_plus);
        self.found.findings.extend(differ);
        let lone = pairs::in_one_pole(self.scheme, &self.found.fuses, in_plus);
        self.found.findings.extend(lone);
        self.not_judged();
        self.found.typical.sort();
        self.found.typical.dedup();
    }

    fn name(&self, part: PartId) -> &str {
        &self.scheme.parts[part].name
    }

    fn short(&mut self, end: &FarEnd, supply: SupplyId, short: Option<&Short>) -> ShortReport {
        let scheme = self.scheme;
        let part = &scheme.parts[end.core];
        let cable = &scheme.cables[end.cable];
        let mut report = ShortReport {
            core: part.name.clone(),
            cable: cable.name.clone(),
            place: scheme.places[scheme.nodes[end.node].place].name.clone(),
            amps: None,
            fuses: Vec::new(),
            cleared_by: None,
            cleared_within: None,
            typical_within: None,
            heats: None,
        };
        let Some(short) = short.filter(|short| short.amps[0].is_finite()) else { return report };
        report.amps = Some(short.amps);
        let fuses = short.fuses(scheme);
        report.fuses = fuses.iter().map(|fuse| self.name(*fuse).to_owned()).collect();
        let times: Vec<(PartId, &Times)> = fuses
            .iter()
            .filter_map(|fuse| self.times.get(&fuse.index()).map(|times| (*fuse, times)))
            .collect();
        let within = |amps: f64| {
            let own = times.iter().filter_map(|(id, times)| Some((*id, times.own.as_ref()?)));
            own.map(|(id, own)| (id, own.clears_within(amps)))
                .filter(|(_, seconds)| seconds.is_finite())
                .min_by(|a, b| a.1.total_cmp(&b.1))
        };
        let [least, greatest] = short.amps;
        let mut typical_used = Vec::new();
        if let Some((fuse, seconds)) = within(least) {
            report.cleared_by = Some(self.name(fuse).to_owned());
            let at_greatest = within(greatest).map_or(seconds, |(_, seconds)| seconds);
            report.cleared_within = Some([seconds, at_greatest]);
            let stands = conductors::stands(cable.size, cable.material, count(end.side_by_side));
            let energy = |amps: f64, seconds: f64| amps * amps * seconds / stands;
            report.heats = Some(energy(least, seconds).max(energy(greatest, at_greatest)));
        } else {
            let typical = times.iter().filter_map(|(_, times)| times.typical.as_ref());
            report.typical_within = typical
                .map(|typical| [typical.melts_not_before(least), typical.clears_within(least)])
                .filter(|[least, greatest]| least.is_finite() && greatest.is_finite())
                .min_by(|a, b| a[1].total_cmp(&b[1]));
            if report.typical_within.is_some() {
                let used = times.iter().filter_map(|(id, times)| {
                    Some(format!(
                        "{}: {}",
                        self.name(*id),
                        times.typical.as_ref()?.typical.as_ref()?
                    ))
                });
                let used: Vec<String> = used.collect();
                typical_used.extend(used);
            }
        }
        let in_loop: Vec<told::InLoop> = times
            .iter()
            .map(|(fuse, times)| told::InLoop {
                fuse: *fuse,
                rating: times.rating,
                needs: self.needs.get(&fuse.index()).copied().unwrap_or(0.0),
                has_points: times.own.is_some(),
                own_pole: short.own.parts.contains(fuse),
                opens_at: times.own.as_ref().and_then(|own| own.opens_within(CLEARS_WITHIN)),
            })
            .collect();
        self.found.typical.extend(typical_used);
        let volts = scheme.supplies[supply].range.lo;
        let in_loop_of_cable = short.own.parts.iter().chain(&short.other.parts).filter(|part| {
            matches!(&scheme.parts[**part].kind, PartKind::Core(core) if core.cable == end.cable)
        });
        let hot = in_loop_of_cable.filter_map(|part| self.bench.ohm(*part, Warmth::Hot)).sum();
        let round = told::Round { volts, cable: hot };
        for finding in told::short(scheme, end.core, cable, &report, &in_loop, round) {
            let fuse = in_loop.first().map(|own| own.fuse);
            self.told.push(told::OfCore {
                cable: end.cable,
                fuse,
                core: report.core.clone(),
                least: short.amps[0],
                finding,
            });
        }
        report
    }

    fn fuse(&mut self, id: PartId) -> Option<FuseReport> {
        let scheme = self.scheme;
        let part = &scheme.parts[id];
        let (at, times) = (part.at?, self.times.get(&id.index())?);
        let supply_id = scheme.circuits[at.circuit].supply;
        let supply = &scheme.supplies[supply_id];
        let behind = self.behind(id, supply_id);
        let dead = self.dead(id, supply_id, &behind);
        let across: Vec<(PartId, f64)> = dead
            .iter()
            .filter(|load| !behind.contains(load))
            .map(|load| (*load, self.at_rest.get(load.index()).copied().unwrap_or(0.0)))
            .collect();
        let carries = load::carries(self.asked(), supply, (&behind, &across), times.any());
        let protects: Vec<PartId> = self
            .ends
            .iter()
            .filter(|(_, _, short)| {
                let nearest = short.as_ref().map(|short| short.own.parts.iter().rev());
                nearest.is_some_and(|mut parts| {
                    parts.find(|part| self.times.contains_key(&part.index())) == Some(&id)
                })
            })
            .map(|(end, ..)| end.core)
            .collect();
        let mut report = FuseReport {
            fuse: part.name.clone(),
            rating: times.rating,
            has_points: times.own.is_some(),
            points_begin: times.own.as_ref().and_then(TimeCurrent::opens_from),
            carries,
            takes_away: dead.iter().map(|load| self.name(*load).to_owned()).collect(),
            upstream: self.upstream(id, supply_id),
            thinnest: self.thinnest(&protects),
            protects: protects.iter().map(|core| self.name(*core).to_owned()).collect(),
            not_judged: Vec::new(),
            largest: self.largest(&behind, supply),
        };
        if times.own.is_none() {
            report.not_judged.push("it has no time-current points".to_owned());
        }
        if let Some(Upstream { selective: Selective::Unknown { why, .. }, fuse, .. }) =
            &report.upstream
        {
            report.not_judged.push(format!("selective with {fuse}: {why}"));
        }
        self.typical(&report);
        self.found.findings.extend(told::fuse(scheme, id, &report));
        Some(report)
    }

    fn largest(&self, behind: &[PartId], supply: &Supply) -> Option<(String, f64, f64)> {
        let of_coil = behind.iter().filter_map(|id| {
            let PartKind::Coil(_) = &self.scheme.parts[*id].kind else { return None };
            let own = load::carries(self.asked(), supply, (&[*id], &[]), None);
            let moment = own.moments.into_iter().next()?;
            let amps = load::alone(self.asked(), supply, *id)?;
            Some((moment.load, amps, moment.seconds))
        });
        of_coil.max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// What was taken as typical for this fuse, in words.
    fn typical(&mut self, report: &FuseReport) {
        let typical = &mut self.found.typical;
        if let Some(upstream) = &report.upstream {
            typical.extend(upstream.typical.iter().cloned());
        }
        let undeclared = report.carries.moments.iter().filter(|moment| !moment.declared);
        typical.extend(undeclared.map(|moment| {
            let seconds = crate::figures::digits(moment.seconds, 2);
            format!("{}: draws {seconds} s long (common practice, no source)", moment.load)
        }));
    }

    /// The loads that both poles reach with the fuse in and not without it.
    fn behind(&self, fuse: PartId, supply: SupplyId) -> Vec<PartId> {
        let Some(poles) = self.poles.get(supply.index()) else { return Vec::new() };
        let data = &self.scheme.supplies[supply];
        let reach = |but: Option<PartId>| {
            let plus = self.grid.alive(data.plus, &poles.minus, &poles.plus, but);
            let minus = self.grid.alive(data.minus, &poles.plus, &poles.minus, but);
            (plus, minus)
        };
        let (with, without) = (reach(None), reach(Some(fuse)));
        let lives = |(plus, minus): &(Vec<bool>, Vec<bool>), a: usize, b: usize| {
            (plus[a] && minus[b]) || (plus[b] && minus[a])
        };
        let wiring = self.asked().wiring;
        let loads = self.scheme.placed().filter(|(id, part)| {
            // A resistor that ends with a coil made for a moment heats nothing up that lasts.
            is_load(&part.kind) || crate::burdens::lasts(wiring, *id)
        });
        loads
            .filter_map(|(id, part)| {
                let at = part.at?;
                let (a, b) = (self.grid.wire(at.from), self.grid.wire(at.to));
                (lives(&with, a, b) && !lives(&without, a, b)).then_some(id)
            })
            .collect()
    }

    /// What goes dead with the fuse: what hangs behind it, and what stands across contacts or in
    /// front of a coil (with every contact closed such a lamp or input has both ends on one pole).
    fn dead(&self, fuse: PartId, supply: SupplyId, behind: &[PartId]) -> Vec<PartId> {
        let data = &self.scheme.supplies[supply];
        let loads: Vec<(PartId, (usize, usize))> = self
            .scheme
            .placed()
            .filter(|(_, part)| is_load(&part.kind))
            .filter_map(|(id, part)| {
                let at = part.at?;
                Some((id, (self.grid.wire(at.from), self.grid.wire(at.to))))
            })
            .collect();
        let ends: Vec<(usize, usize)> = loads.iter().map(|(_, ends)| *ends).collect();
        let can = |but| self.grid.between_poles([data.plus, data.minus], &ends, but);
        let (with, without) = (can(None), can(Some(fuse)));
        let of =
            |index: usize, id: PartId| behind.contains(&id) || (with[index] && !without[index]);
        let dead = loads.iter().enumerate().filter(|(index, (id, _))| of(*index, *id));
        let mut dead: Vec<PartId> = dead.map(|(_, (id, _))| *id).collect();
        dead.extend(behind.iter().filter(|id| !is_load(&self.scheme.parts[**id].kind)));
        dead.sort_unstable();
        dead
    }

    fn upstream(&self, id: PartId, supply: SupplyId) -> Option<Upstream> {
        let at = self.scheme.parts[id].at?;
        let poles = self.poles.get(supply.index())?;
        let from_plus = poles.belongs_to_plus(at.from).or_else(|| poles.belongs_to_plus(at.to))?;
        // The end away from the pole: a short there.
        let far = [at.from, at.to]
            .into_iter()
            .filter_map(|node| Some((node, poles.short(self.scheme, node, from_plus, at.circuit)?)))
            .max_by(|a, b| a.1.own.parts.len().cmp(&b.1.own.parts.len()))?;
        let parts = &far.1.own.parts;
        let place = parts.iter().position(|part| *part == id)?;
        let above = parts[..place].iter().rev();
        let above = *above.clone().find(|part| self.times.contains_key(&part.index()))?;
        let (first, second) = (self.times.get(&id.index())?, self.times.get(&above.index())?);
        let greatest = far.1.amps[1];
        let name = self.name(above);
        let by_curves = match (first.any(), second.any()) {
            _ if first.own.is_none() && second.own.is_none() => {
                selective::general_purpose(first.rating, second.rating)
            }
            (Some(first), Some(second)) => {
                selective::selective(first, second, greatest, [self.name(id), name])
            }
            _ => Selective::Unknown {
                why: "one of them has no time-current points".to_owned(),
                cure: "give both points from their data sheets".to_owned(),
            },
        };
        let selective = match by_curves {
            Selective::No { .. } => by_curves,
            _ => self.never(id, above).unwrap_or(by_curves),
        };
        let typical = [(id, first), (above, second)]
            .into_iter()
            .filter_map(|(fuse, times)| {
                let words = times.any()?.typical.as_ref()?;
                Some(format!("{}: {words}", self.name(fuse)))
            })
            .collect();
        Some(Upstream { fuse: name.to_owned(), greatest, selective, typical })
    }

    /// Two fuses in a row that are sure to open together, whatever their points.
    fn never(&self, id: PartId, above: PartId) -> Option<Selective> {
        let of = |part: PartId| match &self.scheme.parts[part].kind {
            PartKind::Fuse { rating, curve } => Some((rating.lo, *curve)),
            _ => None,
        };
        let ((rating, curve), (above_rating, above_curve)) = (of(id)?, of(above)?);
        let both = curve.is_some() && above_curve.is_some();
        let why = if both && curve == above_curve {
            "both have the same curve".to_owned()
        } else if rating > above_rating || (!both && rating >= above_rating) {
            let (rating, above_rating) =
                (crate::figures::digits(rating, 3), crate::figures::digits(above_rating, 3));
            format!("{rating} A stand behind {above_rating} A")
        } else {
            return None;
        };
        Some(Selective::Never { why })
    }

    fn thinnest(&self, protects: &[PartId]) -> Option<Thin> {
        let scheme = self.scheme;
        let thin = protects.iter().filter_map(|id| {
            let PartKind::Core(core) = &scheme.parts[*id].kind else { return None };
            let cable = &scheme.cables[core.cable];
            let one = largest_fuse(cable.size, cable.material)?;
            Some(Thin {
                core: scheme.parts[*id].name.clone(),
                cable: cable.name.clone(),
                size: size_name(cable.size),
                side_by_side: u32::try_from(core.cores.len()).unwrap_or(u32::MAX),
                largest: one * count(core.cores.len()),
                source: conductors::source(cable.size, cable.material),
            })
        });
        thin.min_by(|a, b| a.largest.total_cmp(&b.largest))
    }

    fn not_judged(&mut self) {
        let without: Vec<String> = self
            .found
            .fuses
            .iter()
            .filter(|fuse| !fuse.has_points)
            .map(|fuse| fuse.fuse.clone())
            .collect();
        self.found.findings.extend(told::without_points(&without));
    }
}

fn is_load(kind: &PartKind) -> bool {
    matches!(
        kind,
        PartKind::Coil(_)
            | PartKind::Input(_)
            | PartKind::Lamp(_)
            | PartKind::Motor(_)
            | PartKind::Power { .. }
            | PartKind::Heater { .. }
    )
}

fn count(number: usize) -> f64 {
    u32::try_from(number.max(1)).map_or(f64::MAX, f64::from)
}
