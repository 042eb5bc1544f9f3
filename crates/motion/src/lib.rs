//! One run of a scheme in time, with the cause of every event.
//!
//! **In:** a checked [`Scheme`](fiftytwo_scheme::Scheme) and a story.
//! **Out:** a [`Timeline`]: what moved when, and the path or statement that made it move.
//! **Never here:** verdicts over every run (that is `proof`), drawing, printing.
//!
//! The [`machine`] says what may move in a state and how long it takes. It is shared with
//! `proof`, so that a story found there can be replayed here with the same meaning.

pub mod acting;
pub mod chart;
mod giving_up;
pub mod machine;
mod operating;
pub mod patient;
pub mod play;
pub mod replay;
pub mod rows;
mod run;
pub mod timeline;
pub mod why_not;

pub use acting::{Acted, Acting, Pending, Refused, Until, act_out};
pub use machine::{Action, Agent, ClockId, Deed, Machine, State, Tri, UnitId};
pub use operating::Operating;
pub use play::{PlayOptions, play, play_seen};
pub use replay::{Replay, ReplayFault, Scripted, replay};
pub use timeline::{Event, Outcome, Timeline};
pub use why_not::{Goal, WhyNot, why_not};
