//! How much resistance a cable may have before a coil gets too little.
//!
//! **In:** a coil, the cables to be changed. **Out:** the factor on their resistance at which the
//! coil gets just what it needs, over all its ways. **Never here:** sizes, sentences.
//!
//! In a plain loop the reciprocal of the coil's voltage is linear in the resistance of the cable,
//! so lines are laid through reciprocals; a shared return bends them, and the bracket then closes
//! by false position.

use fiftytwo_circuit::{Positions, Resized, Supplies, Way, Wiring};
use fiftytwo_scheme::{CableId, PartId, PartKind, Scheme};

/// A factor from which on more resistance is no question.
pub(super) const ANY: f64 = 1e3;
/// The factor is found to this part of itself.
const CLOSE: f64 = 1e-9;
/// How often the bracket is narrowed.
const MOST_STEPS: usize = 60;
/// How many ways are asked one after the other for the worst.
const MOST_ROUNDS: usize = 16;

/// A coil to be asked about.
pub(super) struct Question<'w, 's> {
    scheme: &'s Scheme,
    resized: Resized<'w, 's>,
    /// Each way alone, and with every other load of its section on.
    keys: Vec<Positions>,
    /// Those that were the worst at some resistance.
    critical: Vec<Positions>,
    /// The cables of its ways, each with the least number of cores side by side.
    pub(super) cables: Vec<(CableId, usize)>,
    needs: f64,
}

/// What resistance a cable may have, as a factor on what it has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Limit {
    /// Without any resistance the coil still gets only so many volts.
    NoHelp(f64),
    /// Up to so many times; [`ANY`]: so much that it is no question.
    Times(f64),
}

impl<'w, 's> Question<'w, 's> {
    /// None for a coil without ways or without a stated voltage to work from.
    pub(super) fn new(wiring: &'w Wiring<'s>, coil: PartId, needs: f64) -> Option<Self> {
        let scheme = wiring.scheme();
        let section = wiring.section_of(coil)?;
        let resized = wiring.resized(coil)?;
        let mut keys = Vec::new();
        let mut cables: Vec<(CableId, usize)> = Vec::new();
        let mut resized = resized;
        resized.resize(|part| match &scheme.parts[part].kind {
            PartKind::Core(_) => 0.0,
            _ => 1.0,
        });
        // What a part in series takes of a way no cable gives back: the report on coils tells that.
        let could = |resized: &mut Resized<'_, '_>, way: &&Way| {
            let drive = resized.drive(&way.closed, Supplies::ALL);
            drive.is_some_and(|drive| drive.volts_lo >= needs)
        };
        let series = wiring.ways_in_series(coil);
        let series: Vec<&Way> = series.list.iter().filter(|way| could(&mut resized, way)).collect();
        let ways = wiring.ways(coil);
        for way in ways.list.iter().chain(series) {
            for key in [way.closed, wiring.with_other_loads(section, way, coil)] {
                if !keys.contains(&key) {
                    keys.push(key);
                }
            }
            for part in &way.parts {
                let PartKind::Core(core) = &scheme.parts[*part].kind else { continue };
                match cables.iter_mut().find(|(cable, _)| *cable == core.cable) {
                    Some((_, least)) => *least = (*least).min(core.cores.len()),
                    None => cables.push((core.cable, core.cores.len())),
                }
            }
        }
        let critical = Vec::new();
        (!keys.is_empty()).then_some(Self { scheme, resized, keys, critical, cables, needs })
    }

    /// The least voltage at the coil over all its ways, with the cables' resistance so many times.
    pub(super) fn least(&mut self, cables: &[CableId], times: f64) -> f64 {
        let keys = std::mem::take(&mut self.keys);
        let worst = self.worst_of(&keys, cables, times);
        self.keys = keys;
        self.keep(worst.and_then(|(worst, _)| self.keys.get(worst).copied()));
        worst.map_or(0.0, |(_, volts)| volts)
    }

    /// The same over the ways that were the worst at some resistance so far.
    pub(super) fn least_of_critical(&mut self, cables: &[CableId], times: f64) -> f64 {
        let keys = std::mem::take(&mut self.critical);
        let worst = self.worst_of(&keys, cables, times);
        self.critical = keys;
        worst.map_or_else(|| self.least(cables, times), |(_, volts)| volts)
    }

    fn keep(&mut self, key: Option<Positions>) {
        if let Some(key) = key.filter(|key| !self.critical.contains(key)) {
            self.critical.push(key);
        }
    }

    fn worst_of(
        &mut self,
        keys: &[Positions],
        cables: &[CableId],
        times: f64,
    ) -> Option<(usize, f64)> {
        let scheme = self.scheme;
        self.resized.resize(|part| match &scheme.parts[part].kind {
            PartKind::Core(core) if cables.contains(&core.cable) => times,
            _ => 1.0,
        });
        let volts = |key: &Positions| {
            self.resized.drive(key, Supplies::ALL).map_or(0.0, |drive| drive.volts_lo)
        };
        keys.iter().map(volts).enumerate().min_by(|(_, a), (_, b)| a.total_cmp(b))
    }

    /// The greatest factor with which the coil gets what it needs on every way.
    pub(super) fn limit(&mut self, cables: &[CableId]) -> Limit {
        let keys = std::mem::take(&mut self.keys);
        let limit = self.limit_over(&keys, cables);
        self.keys = keys;
        limit
    }

    fn limit_over(&mut self, keys: &[Positions], cables: &[CableId]) -> Limit {
        let mut times = 1.0;
        let mut asked: Vec<Positions> = Vec::new();
        for _ in 0..MOST_ROUNDS.min(keys.len() + 1) {
            let Some((worst, volts)) = self.worst_of(keys, cables, times) else { break };
            if !asked.is_empty() && volts >= self.needs * (1.0 - 1e-12) {
                return Limit::Times(times);
            }
            if asked.contains(&keys[worst]) {
                break;
            }
            asked.push(keys[worst]);
            self.keep(Some(keys[worst]));
            match self.root(&asked, cables) {
                Limit::Times(found) => times = found,
                no_help @ Limit::NoHelp(_) => return no_help,
            }
        }
        // The ways take turns at being the worst: all of them at once then.
        self.root(keys, cables)
    }

    fn root(&mut self, keys: &[Positions], cables: &[CableId]) -> Limit {
        let needs = self.needs;
        let mut excess = |times: f64| {
            let volts = self.worst_of(keys, cables, times).map_or(0.0, |(_, volts)| volts);
            (needs / volts.max(1e-9) - 1.0, volts)
        };
        let (at_none, best) = excess(0.0);
        if at_none > 0.0 {
            return Limit::NoHelp(best);
        }
        let (mut low, mut low_excess) = (0.0, at_none);
        let (mut high, mut high_excess) = (1.0, excess(1.0).0);
        while high_excess <= 0.0 {
            if high >= ANY {
                return Limit::Times(ANY);
            }
            (low, low_excess) = (high, high_excess);
            high = (high * 4.0).min(ANY);
            high_excess = excess(high).0;
        }
        let mut last_low = None;
        for _ in 0..MOST_STEPS {
            if high - low <= CLOSE * high {
                break;
            }
            let line = low - low_excess * (high - low) / (high_excess - low_excess);
            // A hair to the safe side, so that a straight line ends the search from below.
            let next = (line * (1.0 - 0.1 * CLOSE)).clamp(low, high);
            let (found, _) = excess(next);
            if found <= 0.0 {
                (low, low_excess) = (next, found);
                if found > -CLOSE {
                    break;
                }
                if last_low == Some(true) {
                    high_excess /= 2.0;
                }
                last_low = Some(true);
            } else {
                (high, high_excess) = (next, found);
                if last_low == Some(false) {
                    low_excess /= 2.0;
                }
                last_low = Some(false);
            }
        }
        Limit::Times(low)
    }
}
