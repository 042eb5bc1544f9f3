//! A hand on the brake while something long is under way.
//!
//! **In:** Ctrl-C. **Out:** a flag that a search reads: what was decided stays, the rest is not
//! proven, and everything is told and written as usual. Once more ends the program at once.
//! **Never here:** what is stopped.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Ended from the keyboard, as shells count it: 128 and the number of the signal.
const ENDED: i32 = 130;

/// The brake of one run.
#[derive(Debug, Default)]
pub struct Brake(Arc<AtomicBool>);

impl Brake {
    /// Puts a hand on it. Where that is not possible Ctrl-C ends the program, as ever.
    pub fn ready() -> Self {
        let brake = Self::default();
        let pulled = Arc::clone(&brake.0);
        let _ = ctrlc::set_handler(move || {
            if pulled.swap(true, Ordering::Relaxed) {
                std::process::exit(ENDED);
            }
            let _ = std::io::stderr().write_all(
                b"\nStopping: what is decided stays, the rest is not proven. \
                  Once more ends at once, and writes nothing.\n",
            );
        });
        brake
    }

    /// True once it is pulled.
    pub fn flag(&self) -> &AtomicBool {
        &self.0
    }
}
