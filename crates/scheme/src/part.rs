//! Parts: everything that can stand in a leg. Each has two ends and, once placed, two nodes.

use crate::ids::{CableId, CircuitId, CurveId, DeviceId, LegId, NodeId, PartId, PlaceId};
use crate::quantity::{Ampere, Farad, Joule, Ohm, Quantity, TimeRange, Volt, Watt};
use crate::source::Span;
use crate::statement::Statement;

/// A part, placed or spare.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its full name, unique: "52 a1", "52Y" for a lone coil, "F1", "C4-1/5", "TS1/1".
    pub name: String,
    /// Its name within the device ("a1"), empty for a lone part and for parts that stand alone.
    pub own_name: String,
    /// The device it belongs to; none for fuses, lamps, cores ….
    pub device: Option<DeviceId>,
    /// What it is.
    pub kind: PartKind,
    /// Screw numbers, upstream first, as written ("11", "12").
    pub terminals: Option<(String, String)>,
    /// What a lamp or input must mean.
    pub shows: Option<Statement>,
    /// The coil whose path a lamp or input guards.
    pub watches: Option<PartId>,
    /// Where it stands in a circuit; none: a spare.
    pub at: Option<Placement>,
    /// Where it is declared.
    pub span: Span,
}

/// Where a part stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placement {
    /// The circuit.
    pub circuit: CircuitId,
    /// The leg; none: in the feed or the return.
    pub leg: Option<LegId>,
    /// The node at its upper end (nearer to plus, as written).
    pub from: NodeId,
    /// The node at its lower end.
    pub to: NodeId,
    /// The place it stands in; for a core, where it begins.
    pub place: PlaceId,
    /// The line that places it.
    pub span: Span,
}

/// What a part is.
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// A contact of a device.
    Contact(Contact),
    /// A coil of a device.
    Coil(Coil),
    /// An opto input of a programmed device.
    Input(Input),
    /// A motor.
    Motor(Motor),
    /// The current-sensing element of an overload.
    Element {
        /// Rated current.
        rating: Option<Quantity<Ampere>>,
        /// Its resistance (0 if not given).
        resistance: Option<Quantity<Ohm>>,
    },
    /// The feed of a programmed device: dead without it.
    Power {
        /// Load.
        burden: Option<Quantity<Watt>>,
    },
    /// An isolating blade or test link, closed unless opened by hand.
    Link,
    /// A fuse or small breaker.
    Fuse {
        /// Rated current.
        rating: Quantity<Ampere>,
        /// Its time-current points.
        curve: Option<CurveId>,
    },
    /// A resistor.
    Resistor {
        /// Its resistance.
        resistance: Quantity<Ohm>,
        /// Its power rating.
        power: Option<Quantity<Watt>>,
    },
    /// A capacitor: open for direct current.
    Capacitor {
        /// Its capacitance.
        capacitance: Quantity<Farad>,
    },
    /// A diode; conducts down the leg.
    Diode(Diode),
    /// A varistor or another two-way clamp.
    Varistor(Varistor),
    /// A lamp.
    Lamp(Lamp),
    /// A heater.
    Heater {
        /// Its power at nominal voltage.
        power: Quantity<Watt>,
    },
    /// A terminal of a block.
    Terminal,
    /// One or more cores of a cable, side by side.
    Core(Core),
    /// Joins two wires.
    Jumper,
}

impl PartKind {
    /// The word a part of this kind is written with.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Contact(_) => "contact",
            Self::Coil(_) => "coil",
            Self::Input(_) => "input",
            Self::Motor(_) => "motor",
            Self::Element { .. } => "element",
            Self::Power { .. } => "power",
            Self::Link => "link",
            Self::Fuse { .. } => "fuse",
            Self::Resistor { .. } => "resistor",
            Self::Capacitor { .. } => "capacitor",
            Self::Diode(_) => "diode",
            Self::Varistor(_) => "varistor",
            Self::Lamp(_) => "lamp",
            Self::Heater { .. } => "heater",
            Self::Terminal => "terminal",
            Self::Core(_) => "core",
            Self::Jumper => "jumper",
        }
    }
}

/// A contact; it says when it is closed, whatever it is called.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// When it is closed.
    pub closed_when: Statement,
    /// From the statement true to closed (programmed devices, limit switches; 0 if not given).
    pub closes_in: Option<TimeRange>,
    /// From the statement false to open.
    pub opens_in: Option<TimeRange>,
    /// After it has changed it may open and close again for up to this long (its `hi` counts); it
    /// changes once if not given.
    pub bounce: Option<TimeRange>,
    /// Breaker auxiliary contacts: when it changes in a closing stroke, relative to touch.
    pub on_close: Option<StrokeOffset>,
    /// The same in an opening stroke, relative to parting.
    pub on_open: Option<StrokeOffset>,
    /// What it may make, one line for each voltage or duration.
    pub makes: Vec<ContactRating>,
    /// What it may carry, one line for each duration.
    pub carries: Vec<ContactRating>,
    /// What it may break, one line for each voltage and L/R.
    pub breaks: Vec<ContactRating>,
}

/// One line of a contact's ratings: a current, and where it holds.
#[derive(Debug, Clone, PartialEq)]
pub struct ContactRating {
    /// The current.
    pub amps: Quantity<Ampere>,
    /// The voltage it holds at; none: at the voltage of the circuit.
    pub volts: Option<Quantity<Volt>>,
    /// The greatest L/R it holds for; none: not said (a resistive load is safe to assume).
    pub time_constant: Option<TimeRange>,
    /// How long it may stand; none: for ever (carries), not said (makes).
    pub lasts: Option<TimeRange>,
}

/// A time relative to touch or parting, µs: negative is before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StrokeOffset {
    /// Earliest.
    pub lo: i64,
    /// Latest.
    pub hi: i64,
    /// As written.
    pub written: String,
}

/// A coil.
#[derive(Debug, Clone, PartialEq)]
pub struct Coil {
    /// The position it drives its device to (index into the device's `positions`).
    pub drives_to: u8,
    /// Resistance at 20 °C unless the quantity says another temperature. AC coils: impedance.
    pub resistance: Option<Quantity<Ohm>>,
    /// Rated voltage, for values written in %.
    pub rated: Option<Quantity<Volt>>,
    /// Nameplate promise: from `lo` it surely works, up to `hi` it may be used.
    pub works: Option<Quantity<Volt>>,
    /// Below `lo` it surely does not pick up, from `hi` it surely does.
    pub pickup: Option<Quantity<Volt>>,
    /// Below `lo` it surely drops out, above `hi` it surely stays.
    pub dropout: Option<Quantity<Volt>>,
    /// From drive to moved (relays, lockouts, latches).
    pub pickup_time: Option<TimeRange>,
    /// From drive gone to moved back (relays).
    pub dropout_time: Option<TimeRange>,
    /// Breaker coils: from then on the mechanism goes by itself.
    pub goes_after: Option<GoesAfter>,
    /// Longest time it may be energised.
    pub max_on: Option<TimeRange>,
    /// L/R.
    pub time_constant: Option<TimeRange>,
}

impl Coil {
    /// Surely not picked up below this voltage: low pickup, else 0.
    pub fn surely_not_below(&self) -> f64 {
        self.pickup.as_ref().map_or(0.0, |pickup| pickup.lo)
    }
    /// Surely picked up from this voltage: low works, else high pickup; none declared: any
    /// voltage above 0 may, none surely does.
    pub fn surely_from(&self) -> Option<f64> {
        self.works.as_ref().map(|works| works.lo).or(self.pickup.as_ref().map(|pickup| pickup.hi))
    }
}

/// How long a breaker coil must be driven until the mechanism goes by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GoesAfter {
    /// A latch is released after this time.
    After(TimeRange),
    /// The coil drives the stroke to its end (a solenoid).
    WholeStroke,
}

/// An opto input.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Its resistance, if given.
    pub resistance: Option<Quantity<Ohm>>,
    /// On from this voltage.
    pub on_above: Option<Quantity<Volt>>,
    /// Off below this voltage.
    pub off_below: Option<Quantity<Volt>>,
    /// Least current at which it is on.
    pub least: Option<Quantity<Ampere>>,
    /// Its volts and amperes; none: its resistance.
    pub curve: Option<CurveId>,
}

/// A diode.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Diode {
    /// Its volts and amperes.
    pub curve: Option<CurveId>,
    /// Forward drop.
    pub drop: Option<Quantity<Volt>>,
    /// Greatest reverse voltage.
    pub blocks: Option<Quantity<Volt>>,
}

/// A varistor or another two-way clamp.
#[derive(Debug, Clone, PartialEq)]
pub struct Varistor {
    /// Clamp voltage: open below it, holds it above.
    pub clamp: Quantity<Volt>,
    /// Its volts and amperes; none: the clamp voltage alone.
    pub curve: Option<CurveId>,
    /// The energy it may take in one pulse.
    pub absorbs: Option<Quantity<Joule>>,
}

/// A motor.
#[derive(Debug, Clone, PartialEq)]
pub struct Motor {
    /// Running current.
    pub rating: Quantity<Ampere>,
    /// Starting current.
    pub inrush: Option<Quantity<Ampere>>,
    /// How long the starting current stands.
    pub starts_in: Option<TimeRange>,
    /// Volts at its terminals while it runs: from `lo` it surely does its work, up to `hi` it may be
    /// used.
    pub works: Option<Quantity<Volt>>,
}

/// A lamp.
#[derive(Debug, Clone, PartialEq)]
pub struct Lamp {
    /// Its current at its rated voltage.
    pub current: Quantity<Ampere>,
    /// Its rated voltage; none: the supply's nominal voltage.
    pub rated: Option<Quantity<Volt>>,
    /// What gives the light.
    pub light: Light,
    /// Light-emitting diodes: the voltage below which no current flows.
    pub drop: Option<Quantity<Volt>>,
    /// Filaments: the resistance when cold.
    pub cold: Option<Quantity<Ohm>>,
    /// Its volts and amperes; none: by `light`.
    pub curve: Option<CurveId>,
}

/// What gives a lamp's light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Light {
    /// Not said: its current is taken to grow with its voltage.
    #[default]
    NotSaid,
    /// A filament: many times its rated current when cold.
    Filament,
    /// A light-emitting diode, its own dropping resistor included.
    Led,
}

/// Cores of a cable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Core {
    /// The cable.
    pub cable: CableId,
    /// The core numbers, side by side.
    pub cores: Vec<u32>,
    /// The place it leads into.
    pub into: PlaceId,
}
