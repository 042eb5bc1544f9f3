//! What to measure: the volts a meter should show at every point, and what a reading means.
//!
//! **In:** a [`Study`](crate::Study); for the reverse, readings taken.
//! **Out:** a [`MeterTable`] to print and take along; a [`Diagnosis`]: the single faults that explain
//! the readings, and where to measure next.
//! **Never here:** grounds' effects on devices (see [`grounds`](crate::grounds)), two faults at once.

mod ends;
mod explain;
mod fault;
mod fit;
mod next;
mod points;
mod table;
mod taken;

pub use explain::{
    Diagnosis, Explanation, Grounded, MeterFault, Near, TOLERANCE_SHARE, TOLERANCE_VOLTS, explain,
};
pub use fault::FaultKind;
pub use fit::StandsAt;
pub use next::{Group, NextPoint};
pub use points::{Points, screws, wire_name};
pub use table::{Cell, Expected, MeterRow, MeterTable, table};
pub use taken::{OtherProbe, ReadingFault, ReadingTaken};
