//! Voltages and currents of a scheme for given contact positions.
//!
//! **In:** a checked [`Scheme`](fiftytwo_scheme::Scheme) and the positions of its contacts.
//! **Out:** for every coil, input, lamp and motor the interval of volts across it over the corners
//! of supply, temperature and other load ([`Wiring::drive`]); why a part is driven and what bars
//! it ([`Wiring::path`], [`Wiring::blockers`]); a report on every coil ([`coil_report`]); the whole
//! scheme with faults put in at one corner ([`Bench`]). Beside them, what stands on its own: a
//! nodal analysis of any network ([`network`]), the characteristics of non-linear parts
//! ([`curve`]), one network at many positions of its contacts ([`fast`]), the current of a coil in time
//! ([`transient`]), typical values ([`typical`]) and the resistance of conductors ([`conductor`]).
//! **Never here:** positions of devices, time, orders, verdicts. Nothing here moves.
//!
//! AC circuits are solved in the same way in rms values with coils and motors as resistances: good
//! for a voltage drop along a cable, silent about phase angles.

pub mod bench;
pub mod certainty;
pub mod coils;
pub mod conductor;
pub mod corner;
pub mod curve;
pub mod fast;
pub mod network;
pub mod series;
pub mod transient;
pub mod typical;
pub mod warmth;
pub mod wiring;

mod elimination;
mod positions;
mod union;

pub use bench::{
    Bench, BenchFault, Charge, DetectorLegs, Ends, Fault, Readings, Setup, Stand, Warmth,
};
pub use certainty::{Certainty, falls_below_dropout, input_on, lit, reaches_pickup};
pub use coils::{CoilReport, coil_report};
pub use corner::{Battery, Corner, Heat, Method, Others};
pub use curve::{Characteristic, Conducts, CurveFault, Filament, PartCurve, part_curve};
pub use network::{Branch, Network, NetworkError, Solution};
pub use positions::{MOST_SUPPLIES, MOST_SWITCHES, Positions, Supplies};
pub use typical::{Mark, Typical};
pub use wiring::{AtCorner, Drive, MOST_WAYS, Resized, SectionId, Way, Ways, Wiring};
