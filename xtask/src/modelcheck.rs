//! The comparison with a general-purpose model checker.
//!
//! **In:** the machine as it is. **Out:** a word on whether the comparison runs; the comparison
//! alone as a chore. **Never here:** the models that are counted: `crates/proof/tests/export.rs`
//! has them, a test like all others that needs the programs `spin` and `gcc`.

use std::io::Write;
use std::process::{Command, Stdio};

/// Set to `required`, the comparison fails where it cannot run; continuous integration does so once
/// it has installed the checker.
const ASKED: &str = "FIFTYTWO_MODEL_CHECKER";

/// Whether the checker and the compiler it needs can be started.
fn is_there() -> bool {
    [("spin", "-V"), ("gcc", "--version")].iter().all(|(program, arg)| {
        let mut run = Command::new(program);
        run.arg(arg).stdout(Stdio::null()).stderr(Stdio::null());
        run.status().is_ok_and(|status| status.success())
    })
}

/// Says whether the comparison runs with the other tests. False: it has to and cannot.
pub fn announce() -> bool {
    let required = std::env::var(ASKED).is_ok_and(|value| value == "required");
    let words = match (is_there(), required) {
        (true, _) => "xtask: spin is there: exported models are counted by it",
        (false, true) => {
            "xtask: spin and gcc are required (FIFTYTWO_MODEL_CHECKER) and not there: install them \
             (Debian: apt-get install spin gcc)"
        }
        (false, false) => {
            "xtask: NOT COUNTED: spin or gcc is not there, so exported models are not counted by a \
             model checker (Debian: apt-get install spin gcc)"
        }
    };
    let _ = writeln!(std::io::stderr(), "{words}");
    is_there() || !required
}

/// The command of the comparison alone.
pub fn alone(mut cargo: Command) -> Command {
    cargo
        .args(["test", "-p", "fiftytwo-proof", "--test", "export", "--", "--nocapture"])
        .env(ASKED, "required");
    cargo
}
