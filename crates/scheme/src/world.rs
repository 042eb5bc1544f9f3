//! Where things are and what the outside may do.

use crate::ids::{DeviceId, NodeId, OrderId, PlaceId};
use crate::quantity::{Celsius, Farad, Metre, Ohm, Quantity, TimeRange, Volt, WireSize};
use crate::source::Span;
use crate::statement::Statement;

/// A place: a house, a cabinet.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Short name, such as "YARD".
    pub name: String,
    /// What it is.
    pub description: String,
    /// Ambient temperature, °C (default -30 to 50).
    pub ambient: Quantity<Celsius>,
    /// Where it is written.
    pub span: Span,
}

/// Direct or alternating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CurrentKind {
    /// Direct current: the supply's poles are NAME+ and NAME-.
    Dc,
    /// Alternating current: NAMEL and NAMEN; values are rms.
    Ac,
}

/// A battery or AC source.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Its name, such as "DC1".
    pub name: String,
    /// What it is.
    pub description: String,
    /// Direct or alternating.
    pub current: CurrentKind,
    /// Nominal voltage.
    pub nominal: Quantity<Volt>,
    /// Range at its poles without load. Not given: of a DC supply the typical one of its nominal
    /// voltage ([`Supply::typical_range`]), of an AC supply the nominal value alone.
    pub range: Quantity<Volt>,
    /// Internal resistance (0 if not given).
    pub resistance: Quantity<Ohm>,
    /// Grounded on purpose (AC neutral); DC control supplies float.
    pub grounded: bool,
    /// Where it stands.
    pub place: PlaceId,
    /// Positive pole, or the phase.
    pub plus: NodeId,
    /// Negative pole, or the neutral.
    pub minus: NodeId,
    /// Ground detectors and stray capacitance; more than one is a finding.
    pub grounds: Vec<GroundDetector>,
    /// Where it is written.
    pub span: Span,
}

impl Supply {
    /// Discharged to charging voltage of batteries of 24, 48, 125 and 250 V (12, 24, 60 and 120 lead
    /// cells of 1.75 to 2.33 V; from memory of IEEE 946 and IEEE 485).
    const BATTERIES: [(f64, f64, f64); 4] =
        [(24.0, 21.0, 28.0), (48.0, 42.0, 56.0), (125.0, 105.0, 140.0), (250.0, 210.0, 280.0)];

    /// The range of a battery that says none: that of its nominal voltage, of others 84 to 112 % of
    /// it as at 125 V. Marked as typical; nobody wrote it.
    pub fn typical_range(nominal: &Quantity<Volt>) -> Quantity<Volt> {
        let middle = nominal.middle();
        let known = Self::BATTERIES.iter().find(|(volts, ..)| (volts - middle).abs() < 0.5);
        let (lo, hi) = known.map_or((0.84 * middle, 1.12 * middle), |(_, lo, hi)| (*lo, *hi));
        let (lo, hi) = (lo.min(nominal.lo), hi.max(nominal.hi));
        let tenth = |volts: f64| (volts * 10.0).round() / 10.0;
        let written = format!("{} to {} V (typical)", tenth(lo), tenth(hi));
        let mut range = Quantity::new(lo, hi, written);
        range.typical = true;
        range
    }

    /// Its range is one that was taken for it, not one that was written.
    pub fn range_is_taken(&self) -> bool {
        self.current == CurrentKind::Dc && self.range == Self::typical_range(&self.nominal)
    }
}

/// The reference of a floating supply to ground.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundDetector {
    /// From plus to ground.
    pub plus: Quantity<Ohm>,
    /// From minus to ground.
    pub minus: Quantity<Ohm>,
    /// Stray capacitance of the station.
    pub capacitance: Option<Quantity<Farad>>,
    /// The resistance to ground from which on, downwards, it gives alarm.
    pub alarms_below: Option<Quantity<Ohm>>,
    /// Where it is written.
    pub span: Span,
}

/// Conductor material.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Material {
    /// Copper (the default).
    Copper,
    /// Aluminium.
    Aluminium,
}

/// A cable between two places.
#[derive(Debug, Clone, PartialEq)]
pub struct Cable {
    /// Its name.
    pub name: String,
    /// What it is.
    pub description: String,
    /// One end.
    pub from: PlaceId,
    /// The other end.
    pub to: PlaceId,
    /// One way.
    pub length: Quantity<Metre>,
    /// Of each core.
    pub size: WireSize,
    /// As written.
    pub size_written: String,
    /// Of the conductors.
    pub material: Material,
    /// How many.
    pub cores: u32,
    /// Where cores land, as written.
    pub landings: Vec<Landing>,
    /// Where it is written.
    pub span: Span,
}

/// Where one core lands at both ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Landing {
    /// Core number.
    pub core: u32,
    /// Terminal at `from`.
    pub from: Option<String>,
    /// Terminal at `to`.
    pub to: Option<String>,
    /// Where it is written.
    pub span: Span,
}

/// How a condition may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// Any state to any other.
    Freely,
    /// One state at a time, up or down.
    StepByStep,
    /// One state at a time, towards the last.
    OnlyDown,
}

/// Something outside the control circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// Its name.
    pub name: String,
    /// Its states; a yes/no condition has "no" (0) and "yes" (1) and `yes_no` set.
    pub states: Vec<String>,
    /// Written without states: the bare name means state 1.
    pub yes_no: bool,
    /// How it may change.
    pub moves: Moves,
    /// Once the outside has changed it, it is not changed back before this time (its `lo` counts);
    /// at any moment if not given.
    pub stays: Option<TimeRange>,
    /// Where it follows the breaker.
    pub becomes: Vec<Becomes>,
    /// Where it is written.
    pub span: Span,
}

/// While `when` stands, the condition goes to `state` after a time within `after`, and the
/// outside does not change it; otherwise it is free.
#[derive(Debug, Clone, PartialEq)]
pub struct Becomes {
    /// Index into the condition's states.
    pub state: u8,
    /// While this stands.
    pub when: Statement,
    /// Delay (0 if not given).
    pub after: TimeRange,
    /// Where it is written.
    pub span: Span,
}

/// A command from afar, given at any time.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Its name.
    pub name: String,
    /// How long it stands; any time if not given.
    pub lasts: Option<TimeRange>,
    /// Where it is written.
    pub span: Span,
}

/// Who may turn, press, reset or order what. What no person may do never happens.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// Who.
    pub name: String,
    /// Where they stand, if it matters.
    pub place: Option<PlaceId>,
    /// What they may do.
    pub may: Vec<May>,
    /// Where it is written.
    pub span: Span,
}

/// One thing a person may do.
#[derive(Debug, Clone, PartialEq)]
pub struct May {
    /// What.
    pub does: MayDo,
    /// Only while this stands.
    pub when: Option<Statement>,
    /// Where it is written.
    pub span: Span,
}

/// A thing a person can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MayDo {
    /// Turn a handle or a latch, or press a button, to any of its positions.
    Operate(DeviceId),
    /// Bring a device into one position ("86 reset").
    Bring(DeviceId, u8),
    /// Give an order.
    Give(OrderId),
}
