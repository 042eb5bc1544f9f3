//! What stands across coils against the kick of their current: what it costs and what it takes.
//!
//! **In:** a compiled scheme. **Out:** one [`Suppression`] for each chain of diodes, varistors and
//! resistors that stands across a coil, or across a coil and contacts or conductors in series with
//! it: the time it adds to the coil's release, the energy
//! it has to absorb, the voltage that is left at the contact which opens, with findings.
//! **Never here:** coils that discharge into one another; whether a device then moves in time (its declared dropout-time stands in stories and
//! proofs).

mod across;
mod decay;
mod findings;

use crate::duty::inductance::{TimeConstant, time_constant};
use across::Across;
use fiftytwo_circuit::{Positions, SectionId, Supplies, Wiring};
use fiftytwo_scheme::{
    Coil, Curve, CurveId, Finding, Part, PartId, PartKind, Points, Scheme, Supply, TimeRange,
};
use serde::Serialize;

pub use decay::Decay;

/// The drop of a silicon diode, V: textbooks take 0.7; from memory of data sheets.
const DIODE_DROP: (f64, f64) = (0.5, 1.0);
/// Least dropout of a relay as a share of its rated voltage (read in a public relay glossary).
const LEAST_DROPOUT: f64 = 0.1;

/// How a chain acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Lets the coil's current run on at about the drop of a diode.
    Diode,
    /// Holds a voltage while the current dies.
    Clamp,
    /// A resistance beside the coil, always.
    Resistor,
    /// Has a capacitor in it: its ringing is not computed.
    Capacitor,
    /// Diodes against each other: nothing runs through it.
    Blocks,
    /// A diode that conducts while the coil is driven: a short.
    Shorts,
}

/// A chain across a coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suppression {
    /// The coil.
    pub coil: String,
    /// The chain's parts.
    pub parts: Vec<String>,
    /// Contacts, links and cores that it bridges together with the coil; empty: it stands at the
    /// coil itself.
    pub inside: Vec<String>,
    /// How it acts.
    pub action: Action,
    /// Clamp voltage, least and greatest, V.
    pub clamp_volts: [f64; 2],
    /// Resistance in the chain (and of the conductors inside), least and greatest, ohm.
    pub series_ohms: [f64; 2],
    /// The share of its current at which the coil lets go, least and greatest.
    pub lets_go_at: Option<[f64; 2]>,
    /// From the contact's opening to the coil's letting go, least and greatest, ms: the delay the
    /// chain costs. None: not computed.
    pub release_ms: Option<[f64; 2]>,
    /// Declared dropout-time, ms.
    pub declared_dropout_ms: Option<[f64; 2]>,
    /// Magnetic energy of the coil (of all coils between the same two wires), J, at most.
    pub energy_j: f64,
    /// What the clamp takes of it, J, at most.
    pub clamp_j: f64,
    /// What the chain's resistance takes of it, J, at most.
    pub series_j: f64,
    /// At most so many volts stand across the contact that opens.
    pub peak_volts: Option<f64>,
    /// Typical values that were used.
    pub typical: Vec<String>,
    /// What is wrong with it.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// All chains across coils, in source order of the coils.
pub fn suppression(wiring: &Wiring<'_>) -> Vec<Suppression> {
    let mut found = across::all(wiring);
    found.extend(across::beyond(wiring));
    found
        .iter()
        .filter_map(|chain| {
            let beside = found.iter().filter(|other| other.ends == chain.ends);
            let mut coils: Vec<PartId> = beside.map(|other| other.coil).collect();
            coils.dedup();
            Judge::new(wiring, chain, coils.len()).map(|judge| judge.judge(&coils, wiring))
        })
        .collect()
}

/// The coils across which a diode without a resistance of its own conducts while they are driven:
/// what shares a supply with such a short has no voltages worth a cure.
pub(crate) fn shorted(wiring: &Wiring<'_>) -> Vec<PartId> {
    let scheme = wiring.scheme();
    let is_short = |chain: &&Across| {
        let parts = || chain.parts.iter().map(|(part, _)| &scheme.parts[*part].kind);
        parts().all(|kind| matches!(kind, PartKind::Diode(_)))
            && chain.parts.iter().all(|(_, upside_up)| {
                if *upside_up { chain.upper_positive } else { chain.lower_positive }
            })
    };
    let found = across::all(wiring);
    let mut coils: Vec<PartId> = found.iter().filter(is_short).map(|chain| chain.coil).collect();
    coils.dedup();
    coils
}

/// The voltage across a coil on its ways, least and greatest, V; none where no way drives it.
pub(crate) fn coil_volts(
    wiring: &Wiring<'_>,
    section: SectionId,
    coil: PartId,
) -> Option<(f64, f64)> {
    let mut range: Option<(f64, f64)> = None;
    for way in &wiring.ways(coil).list {
        let closed: Positions = way.closed;
        let drives = wiring.drive(section, &closed, Supplies::ALL);
        let Some(drive) = drives.iter().find(|drive| drive.part == coil) else { continue };
        let (lo, hi) = range.unwrap_or((f64::INFINITY, 0.0));
        range = Some((lo.min(drive.volts_lo), hi.max(drive.volts_hi)));
    }
    range
}

struct Judge<'a> {
    scheme: &'a Scheme,
    chain: &'a Across,
    part: &'a Part,
    coil: &'a Coil,
    supply: &'a Supply,
    volts: (f64, f64),
    ohms: (f64, f64),
    time: TimeConstant,
    typical: Vec<String>,
    shared: usize,
    /// Of the conductors in the loop, least and greatest, ohm.
    conductors: (f64, f64),
}

impl<'a> Judge<'a> {
    fn new(wiring: &Wiring<'a>, chain: &'a Across, shared: usize) -> Option<Self> {
        let scheme = wiring.scheme();
        let part = &scheme.parts[chain.coil];
        let PartKind::Coil(coil) = &part.kind else { return None };
        let supply = &scheme.supplies[scheme.circuits[part.at?.circuit].supply];
        let time = time_constant(scheme, part)?;
        let section = wiring.section_of(chain.coil)?;
        // A shorting diode takes the coil's volts away: then the supply's own range stands in.
        let volts = coil_volts(wiring, section, chain.coil)
            .filter(|(_, hi)| *hi > 0.05 * supply.nominal.lo)
            .unwrap_or((supply.range.lo, supply.range.hi));
        let ohms = wiring.ohms(section, chain.coil)?;
        let typical = time.typical.iter().cloned().collect();
        let in_loop = chain.inside.iter().chain(chain.parts.iter().map(|(part, _)| part));
        let conductors = in_loop
            .filter(|part| matches!(scheme.parts[**part].kind, PartKind::Core(_)))
            .filter_map(|part| wiring.ohms(section, *part))
            .fold((0.0, 0.0), |sum, ohm| (sum.0 + ohm.0, sum.1 + ohm.1));
        Some(Self {
            scheme,
            chain,
            part,
            coil,
            supply,
            volts,
            ohms,
            time,
            typical,
            shared,
            conductors,
        })
    }

    fn judge(mut self, coils: &[PartId], wiring: &Wiring<'_>) -> Suppression {
        let action = self.action();
        let (clamp, series) = self.clamp_and_series();
        let computed = matches!(action, Action::Diode | Action::Clamp | Action::Resistor);
        let lets_go = computed.then(|| self.lets_go()).flatten();
        let release = lets_go.and_then(|_| self.release(clamp, series));
        let worst = self.decays(clamp, series).map(|(decay, _)| decay);
        let worst = worst.max_by(|a, b| a.energy().total_cmp(&b.energy()));
        // Coils between the same two wires give their energy to the same chain.
        let scale = self.energy_scale(coils, wiring);
        let most = |of: fn(&Decay) -> f64| {
            self.decays(clamp, series).map(|(decay, _)| of(&decay)).fold(0.0, f64::max) * scale
        };
        let (clamp_j, series_j) =
            if computed { (most(Decay::in_clamp), most(Decay::in_series)) } else { (0.0, 0.0) };
        let kick = self.decays(clamp, series).map(|(decay, _)| decay.kick()).fold(0.0, f64::max);
        let ms = |time: &TimeRange| [time.lo as f64 / 1e3, time.hi as f64 / 1e3];
        let mut result = Suppression {
            coil: self.part.name.clone(),
            parts: self
                .chain
                .parts
                .iter()
                .map(|(part, _)| self.scheme.parts[*part].name.clone())
                .collect(),
            inside: self.chain.inside.iter().map(|part| self.name_of(*part)).collect(),
            action,
            clamp_volts: [clamp.0, clamp.1],
            series_ohms: [series.0, series.1],
            lets_go_at: lets_go.map(|(lo, hi)| [lo, hi]),
            release_ms: release.map(|(lo, hi)| [lo * 1e3, hi * 1e3]),
            declared_dropout_ms: self.coil.dropout_time.as_ref().map(ms),
            energy_j: worst.map_or(0.0, |decay| decay.energy()) * scale,
            clamp_j,
            series_j,
            peak_volts: computed.then_some(self.supply.range.hi + kick),
            typical: Vec::new(),
            findings: Vec::new(),
        };
        self.find(&mut result, clamp, series);
        result.typical = self.typical;
        result
    }

    fn name_of(&self, part: PartId) -> String {
        self.scheme.parts[part].name.clone()
    }

    fn action(&self) -> Action {
        let (mut down, mut up, mut clamp, mut capacitor) = (false, false, false, false);
        for (part, upside_up) in &self.chain.parts {
            match &self.scheme.parts[*part].kind {
                PartKind::Diode(_) if *upside_up => down = true,
                PartKind::Diode(_) => up = true,
                PartKind::Varistor(_) => clamp = true,
                PartKind::Capacitor { .. } => capacitor = true,
                _ => {}
            }
        }
        let conducts_when_driven =
            (down && self.chain.upper_positive) || (up && self.chain.lower_positive);
        if capacitor {
            Action::Capacitor
        } else if down && up {
            Action::Blocks
        } else if conducts_when_driven {
            Action::Shorts
        } else if clamp {
            Action::Clamp
        } else if down || up {
            Action::Diode
        } else {
            Action::Resistor
        }
    }

    fn clamp_and_series(&mut self) -> ((f64, f64), (f64, f64)) {
        let most = self.volts.1 / self.ohms.0;
        let least = LEAST_DROPOUT * self.volts.0 / self.ohms.1;
        let (mut clamp, mut series) = ((0.0, 0.0), self.conductors);
        for (part, _) in &self.chain.parts {
            let item = &self.scheme.parts[*part];
            let (lo, hi) = match &item.kind {
                PartKind::Diode(diode) => {
                    match (&diode.drop, curve(self.scheme, diode.curve, least, most)) {
                        (_, Some(range)) => range,
                        (Some(drop), None) => (drop.lo, drop.hi),
                        (None, None) => {
                            let (lo, hi) = DIODE_DROP;
                            self.typical.push(format!(
                                "{}: drop {lo} to {hi} V (silicon; from memory of data sheets)",
                                item.name
                            ));
                            DIODE_DROP
                        }
                    }
                }
                PartKind::Varistor(varistor) => curve(self.scheme, varistor.curve, least, most)
                    .unwrap_or((varistor.clamp.lo, varistor.clamp.hi)),
                PartKind::Resistor { resistance, .. } => {
                    series = (series.0 + resistance.lo, series.1 + resistance.hi);
                    continue;
                }
                _ => continue,
            };
            clamp = (clamp.0 + lo, clamp.1 + hi);
        }
        (clamp, series)
    }

    /// The share of the coil's current at which it lets go, over every corner: its dropout is a
    /// current, that of its volts at the temperature its resistance is told for.
    fn lets_go(&mut self) -> Option<(f64, f64)> {
        if self.volts.0 <= 0.0 {
            return None;
        }
        if self.coil.dropout.is_none() {
            self.typical.push(format!(
                "{}: lets go at 10 % or more (public relay glossary)",
                self.part.name
            ));
        }
        let shares =
            self.decays((0.0, 0.0), (0.0, 0.0)).map(|(decay, ohm)| self.share(&decay, ohm));
        Some(shares.fold((1.0, 0.0), |(least, most), (lo, hi)| (least.min(lo), most.max(hi))))
    }

    /// The same at one corner, of a coil of so many ohm at that temperature.
    fn share(&self, decay: &Decay, ohm: f64) -> (f64, f64) {
        let rated = LEAST_DROPOUT * self.supply.nominal.middle();
        let (lo, hi) = self.coil.dropout.as_ref().map_or((rated, rated), |it| (it.lo, it.hi));
        let of = |volts: f64| (volts / ohm / decay.amps).clamp(0.0, 1.0);
        (of(lo), of(hi))
    }

    /// Every corner of the coil and the chain, each with the coil's resistance at the temperature it
    /// is told for. L/R goes with the temperature of the resistance.
    fn decays(
        &self,
        clamp: (f64, f64),
        series: (f64, f64),
    ) -> impl Iterator<Item = (Decay, f64)> + '_ {
        let both = |(lo, hi): (f64, f64)| [lo, hi];
        let (cold, hot) = self.time.warmth;
        let given = [self.ohms.0 / cold, self.ohms.1 / hot];
        let of_coil = move |(ohm, warmth): (f64, f64)| {
            both(self.volts).into_iter().flat_map(move |volts| {
                both(self.time.given).into_iter().flat_map(move |time| {
                    both(clamp).into_iter().flat_map(move |clamp| {
                        both(series).into_iter().map(move |series| {
                            let decay = Decay {
                                amps: (volts / (ohm * warmth)).max(1e-12),
                                ohm: ohm * warmth,
                                time_constant: time / warmth,
                                clamp,
                                series,
                            };
                            (decay, ohm)
                        })
                    })
                })
            })
        };
        let corners = given.into_iter().flat_map(move |ohm| [(ohm, cold), (ohm, hot)]);
        corners.flat_map(of_coil)
    }

    fn release(&self, clamp: (f64, f64), series: (f64, f64)) -> Option<(f64, f64)> {
        let mut range = (f64::INFINITY, 0.0_f64);
        for (decay, ohm) in self.decays(clamp, series) {
            let (lo, hi) = self.share(&decay, ohm);
            range.0 = range.0.min(decay.falls_to(hi)?);
            range.1 = range.1.max(decay.falls_to(lo)?);
        }
        Some(range)
    }

    fn energy_scale(&self, coils: &[PartId], wiring: &Wiring<'_>) -> f64 {
        let energy = |coil: PartId| {
            let part = &self.scheme.parts[coil];
            let section = wiring.section_of(coil)?;
            let time = time_constant(self.scheme, part)?;
            let (cold, _) = wiring.ohms(section, coil)?;
            Some(0.5 * time.most * self.volts.1.powi(2) / cold)
        };
        let own = energy(self.chain.coil).filter(|own| *own > 0.0);
        let all: f64 = coils.iter().filter_map(|coil| energy(*coil)).sum();
        own.map_or(1.0, |own| (all / own).max(1.0))
    }
}

/// Volts of a curve at the least and at the greatest current.
fn curve(scheme: &Scheme, id: Option<CurveId>, least: f64, most: f64) -> Option<(f64, f64)> {
    let Curve { points: Points::VoltsAmps(points), .. } = &scheme.curves[id?] else { return None };
    Some((volts_at(points, least)?, volts_at(points, most)?))
}

/// The volts at a current: straight lines between the points, beyond the ends along the last line.
fn volts_at(points: &[(f64, f64)], amps: f64) -> Option<f64> {
    let line =
        points.windows(2).find(|pair| amps <= pair[1].1).or_else(|| points.windows(2).last())?;
    let [(v0, i0), (v1, i1)] = line else { return None };
    (i1 > i0).then(|| v0 + (v1 - v0) * (amps - i0) / (i1 - i0))
}
