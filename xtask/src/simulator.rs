//! The comparison with a general-purpose circuit simulator.
//!
//! **In:** the machine as it is. **Out:** a word on whether the comparison runs; the comparison
//! alone as a chore. **Never here:** the networks that are compared: they stand in
//! `crates/circuit/tests/simulator.rs`, a test like all others that needs the program `ngspice`.

use std::io::Write;
use std::process::{Command, Stdio};

/// Set to `required`, the comparison fails where it cannot run; continuous integration does so once
/// it has installed the simulator.
const ASKED: &str = "FIFTYTWO_SIMULATOR";

/// Whether the simulator can be started.
fn is_there() -> bool {
    Command::new("ngspice")
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Says whether the comparison runs with the other tests. False: it has to and cannot.
pub fn announce() -> bool {
    let required = std::env::var(ASKED).is_ok_and(|value| value == "required");
    let words = match (is_there(), required) {
        (true, _) => "xtask: ngspice is there: random networks are compared with it",
        (false, true) => {
            "xtask: ngspice is required (FIFTYTWO_SIMULATOR) and not there: install it \
             (Debian: apt-get install ngspice)"
        }
        (false, false) => {
            "xtask: NOT COMPARED: ngspice is not there, so random networks are not compared with a \
             circuit simulator (Debian: apt-get install ngspice)"
        }
    };
    let _ = writeln!(std::io::stderr(), "{words}");
    is_there() || !required
}

/// The command of the comparison alone.
pub fn alone(mut cargo: Command) -> Command {
    cargo
        .args(["test", "-p", "fiftytwo-circuit", "--test", "simulator", "--", "--nocapture"])
        .env(ASKED, "required");
    cargo
}
