//! Every run of a scheme: what can be reached, in any order and within tolerances.

pub mod search;
pub mod ticks;
pub mod timed;
pub mod zone;
