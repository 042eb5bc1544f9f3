//! What a lamp, an input or a relay shows at given volts and amperes.
//!
//! **In:** readings of the bench. **Out:** off, on, or unsure between.
//! **Never here:** what it ought to show.

use fiftytwo_circuit::Readings;
use fiftytwo_circuit::certainty::{DARK_SHARE, LIT_SHARE, RELEASE_SHARE};
use fiftytwo_scheme::{Part, PartId, PartKind, Scheme};
use serde::Serialize;

/// An input without thresholds: surely on from this share of nominal voltage (manuals of line
/// relays: 88 V and 77 V of 125 V; typical).
const TYPICAL_ON: f64 = 0.70;
/// Surely off below this share (manuals of line relays: 75 V and 55 V of 125 V; typical).
const TYPICAL_OFF: f64 = 0.44;

/// What is seen of a lamp, an input or a relay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Shown {
    /// Dark, off, dropped out.
    Off,
    /// Neither surely: a dim lamp, an input between its thresholds, a relay that stays as it was.
    Unsure,
    /// Lit, on, picked up.
    On,
}

/// From where a lamp, an input or a relay is surely on, and below which it is surely off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Thresholds {
    /// Surely on from here, V (lamps: A).
    pub on: f64,
    /// Surely off below, V (lamps: A).
    pub off: f64,
    /// The least current at which an input is on, A.
    pub least: Option<f64>,
    /// They hold for the current, not the voltage (lamps).
    pub by_current: bool,
    /// Not declared: typical values.
    pub typical: bool,
}

impl Thresholds {
    /// Of a placed lamp, input or coil; none for anything else.
    pub fn of(scheme: &Scheme, part: &Part) -> Option<Self> {
        let at = part.at?;
        let nominal = scheme.supplies[scheme.circuits[at.circuit].supply].nominal.middle();
        match &part.kind {
            PartKind::Lamp(lamp) => Some(Self {
                on: LIT_SHARE * lamp.current.middle(),
                off: DARK_SHARE * lamp.current.middle(),
                least: None,
                by_current: true,
                typical: false,
            }),
            PartKind::Input(input) => {
                let on = input.on_above.as_ref().or(input.off_below.as_ref());
                let off = input.off_below.as_ref().or(input.on_above.as_ref());
                Some(Self {
                    on: on.map_or(TYPICAL_ON * nominal, |on| on.hi),
                    off: off.map_or(TYPICAL_OFF * nominal, |off| off.lo),
                    least: input.least.as_ref().map(|least| least.hi),
                    by_current: false,
                    typical: on.is_none(),
                })
            }
            PartKind::Coil(coil) => {
                let on = coil.surely_from();
                let rated = coil.rated.as_ref().map(|rated| rated.lo).or(on).unwrap_or(nominal);
                let off = coil.dropout.as_ref().map(|dropout| dropout.lo);
                Some(Self {
                    on: on.unwrap_or(nominal),
                    off: off.unwrap_or(rated * RELEASE_SHARE),
                    least: None,
                    by_current: false,
                    typical: on.is_none(),
                })
            }
            _ => None,
        }
    }
    /// What the part shows.
    pub fn shown(&self, readings: &Readings<'_>, part: PartId) -> Shown {
        let amps = readings.amps(part).unwrap_or(0.0).abs();
        let volts = readings.across(part).unwrap_or(0.0).abs();
        let value = if self.by_current { amps } else { volts };
        let enough = self.least.is_none_or(|least| amps >= least);
        if value >= self.on && enough {
            Shown::On
        } else if value < self.off {
            Shown::Off
        } else {
            Shown::Unsure
        }
    }
}
