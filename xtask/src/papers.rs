//! The sheets looked at by programs of others.
//!
//! **In:** the machine as it is. **Out:** a word on which of them are there; these checks alone as
//! a chore. **Never here:** the checks: they stand in `crates/sheet/tests` (`pdf.rs`, `dxf.rs`,
//! `rasters.rs`), tests like all others that need poppler's programs and a Python with ezdxf.

use std::io::Write;
use std::process::{Command, Stdio};

/// Set to `required`, the checks fail where they cannot run; continuous integration does so once it
/// has installed the programs.
const ASKED: &str = "FIFTYTWO_PAPERS";
/// Which Python has ezdxf; else the one in the path.
const PYTHON: &str = "FIFTYTWO_PYTHON";

/// Which of the programs cannot be started.
fn missing() -> Vec<&'static str> {
    let python = std::env::var(PYTHON).unwrap_or_else(|_| "python3".to_owned());
    let wanted: [(&str, &str, &[&str]); 3] = [
        ("pdftotext", "poppler-utils (Debian: apt-get install poppler-utils)", &["-v"]),
        ("pdftoppm", "poppler-utils (Debian: apt-get install poppler-utils)", &["-v"]),
        (&python, "ezdxf (in a virtual environment: pip install ezdxf)", &["-c", "import ezdxf"]),
    ];
    let mut missing: Vec<&str> = wanted
        .iter()
        .filter(|(program, _, args)| {
            let mut run = Command::new(program);
            run.args(*args).stdout(Stdio::null()).stderr(Stdio::null());
            !run.status().is_ok_and(|status| status.success())
        })
        .map(|(_, what, _)| *what)
        .collect();
    missing.dedup();
    missing
}

/// Says whether the checks run with the other tests. False: they have to and cannot.
pub fn announce() -> bool {
    let required = std::env::var(ASKED).is_ok_and(|value| value == "required");
    let missing = missing();
    let list = missing.join(", ");
    let words = match (missing.is_empty(), required) {
        (true, _) => "xtask: poppler and ezdxf are there: the sheets are read by them".to_owned(),
        (false, true) => {
            format!("xtask: required (FIFTYTWO_PAPERS) and not there, install: {list}")
        }
        (false, false) => {
            format!("xtask: NOT CHECKED: PDF or DXF are not read by others, for want of {list}")
        }
    };
    let _ = writeln!(std::io::stderr(), "{words}");
    missing.is_empty() || !required
}

/// The command of the checks alone.
pub fn alone(mut cargo: Command) -> Command {
    let tests = ["--test", "pdf", "--test", "dxf", "--test", "rasters"];
    cargo.args(["test", "-p", "fiftytwo-sheet"]).args(tests).env(ASKED, "required");
    cargo
}
