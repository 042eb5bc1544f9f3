//! Changes of a text that keep everything else as it is written, comments included.
//!
//! **In:** a text that can be read, a place in it, what is to be done there. **Out:** [`Change`]s: a
//! stretch and what stands there instead. **Never here:** whether the changed text makes sense; who
//! changes reads it again.

mod chain;
mod find;
mod names;
mod values;

pub use chain::{Side, name_wire, put_beside, put_in, replace, swap, take_out};
pub use names::{join_leg, rename_wire};
pub use values::set;

/// One change: what stands instead of a stretch, in bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// First byte.
    pub from: usize,
    /// One past the last.
    pub to: usize,
    /// What stands there instead.
    pub insert: String,
}

impl Change {
    fn new(from: usize, to: usize, insert: impl Into<String>) -> Self {
        Self { from, to, insert: insert.into() }
    }
}

/// Why nothing was changed, one sentence.
pub type Refused = String;

/// The text after changes, which must not overlap.
pub fn changed(text: &str, changes: &[Change]) -> String {
    let mut sorted: Vec<&Change> = changes.iter().collect();
    sorted.sort_by_key(|change| (change.from, change.to));
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for change in sorted {
        out.push_str(text.get(at..change.from).unwrap_or_default());
        out.push_str(&change.insert);
        at = change.to.max(at);
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}
