//! The currents of a state at the corner of greatest current, remembered by state.
//!
//! **In:** which contacts are closed and which supplies live. **Out:** amperes and volts of every
//! part with supplies high and everything cold. **Never here:** time.

use fiftytwo_circuit::{Bench, BenchFault, Ends, Setup};
use fiftytwo_scheme::PartId;
use fiftytwo_scheme::arena::Id;
use std::collections::HashMap;
use std::rc::Rc;

/// Where the contacts stand.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Stand {
    pub(super) closed: Vec<bool>,
    pub(super) live: Vec<bool>,
}

/// One state's currents and volts; NaN: no number.
#[derive(Debug)]
pub(super) struct Sample {
    amps: Vec<f64>,
    across: Vec<f64>,
}

impl Sample {
    /// Amperes through a part, without sign; none: it shares its current with a wire beside it.
    pub(super) fn amps(&self, part: PartId) -> Option<f64> {
        self.amps.get(part.index()).copied().filter(|amps| !amps.is_nan())
    }
    /// Volts across a part, without sign; none: an end floats.
    pub(super) fn across(&self, part: PartId) -> Option<f64> {
        self.across.get(part.index()).copied().filter(|volts| !volts.is_nan())
    }
    /// Amperes of a load; 0 where it floats.
    pub(super) fn drawn(&self, part: PartId) -> f64 {
        self.amps(part).unwrap_or(0.0)
    }
}

/// Solves states and remembers them.
pub(super) struct Currents<'b, 's> {
    bench: &'b Bench<'s>,
    steady: HashMap<Stand, Option<Rc<Sample>>>,
    starting: HashMap<Stand, Option<Rc<Sample>>>,
    /// Why a state had no currents, each reason once.
    pub(super) faults: Vec<BenchFault>,
}

impl<'b, 's> Currents<'b, 's> {
    pub(super) fn new(bench: &'b Bench<'s>) -> Self {
        Self { bench, steady: HashMap::new(), starting: HashMap::new(), faults: Vec::new() }
    }
    /// With everything as it runs; none: it could not be computed, see `faults`.
    pub(super) fn steady(&mut self, stand: &Stand) -> Option<Rc<Sample>> {
        if let Some(known) = self.steady.get(stand) {
            return known.clone();
        }
        let sample = self.solve(stand, false);
        self.steady.insert(stand.clone(), sample.clone());
        sample
    }
    /// With filaments cold and motors starting.
    pub(super) fn starting(&mut self, stand: &Stand) -> Option<Rc<Sample>> {
        if let Some(known) = self.starting.get(stand) {
            return known.clone();
        }
        let sample = self.solve(stand, true);
        self.starting.insert(stand.clone(), sample.clone());
        sample
    }
    fn solve(&mut self, stand: &Stand, starting: bool) -> Option<Rc<Sample>> {
        let setup = Setup {
            closed: stand.closed.clone(),
            live: stand.live.clone(),
            filaments_cold: starting,
            motors_start: starting,
            ..self.bench.setup()
        };
        match self.bench.solve(&setup.at(Ends::MOST)) {
            Ok(readings) => {
                let parts = || self.bench.scheme().parts.ids();
                let size = |value: Option<f64>| value.map_or(f64::NAN, f64::abs);
                Some(Rc::new(Sample {
                    amps: parts().map(|part| size(readings.amps(part))).collect(),
                    across: parts().map(|part| size(readings.across(part))).collect(),
                }))
            }
            Err(fault) => {
                if !self.faults.contains(&fault) {
                    self.faults.push(fault);
                }
                None
            }
        }
    }
}
