//! Every run of a scheme: claims proven, or refuted by a story.
//!
//! **In:** a checked scheme with its matrix and claims.
//! **Out:** a [`Proof`]: a verdict for each question, the race that decides it with its margins,
//! or a story that `motion` has replayed.
//! **Never here:** drawing, printing, single faults. A search that met a limit never says "holds".

mod asked;
pub mod cone;
mod endless;
mod environment;
pub mod export;
mod fresh;
mod margins;
pub mod monitor;
mod packing;
mod patient;
pub mod prove;
pub mod questions;
pub mod report;
mod rest;
mod restless;
mod round;
pub mod search;
pub mod space;
pub mod split;
pub mod story;
pub mod ticks;
pub mod timed;
mod witness;
mod words;
pub mod zone;

pub use prove::{Options, prove, starts};
pub use questions::{Question, questions};
pub use report::{Margin, Proof, Report, Story, Told, Verdict, Witness};
