//! What a meter should show, and what a reading means.
mod taken;
pub use taken::{OtherProbe, ReadingFault, ReadingTaken};
