//! A run's moments as what a drawing shows.
//!
//! **In:** a scheme and a state of its machine. **Out:** where every wire lies, what every part
//! does, in the words that stand beside it ([`state`]); what happened up to a moment ([`told`]); a run as
//! bars with causes ([`chart`]); the volts along a way ([`along`]); the story of a refuted claim as
//! pictures ([`refuted`]). **Never here:** strokes, files, time, any state that no engine gave.

pub mod along;
pub mod chart;
pub mod refuted;
mod sharing;
pub mod state;
pub mod told;
