//! Developer chores, run as `cargo xtask CHORE`.
//!
//! **In:** the name of a chore. **Out:** the exit code of the cargo commands it runs.
//! **Never here:** anything a user of fiftytwo needs.

mod modelcheck;
mod papers;
mod simulator;
mod web;

use std::io::Write;
use std::process::{Command, ExitCode};

const USAGE: &str = "\
usage: cargo xtask CHORE

chores:
  test [ARGS]    every test of the workspace, documentation examples included;
                 ARGS go to `cargo test`
  modelcheck     exported models against the model checker spin, with counts
  papers         sheets in PDF and DXF read by poppler and ezdxf, two rasters compared
  browser [NAME] the page in a real browser; NAME is a file of web/tests without .test.mjs
  web            the page's bundle web/dist from web/src; `web --same` fails if it changes
  simulator      random networks against the circuit simulator ngspice, with figures
";

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    match args.next().as_deref() {
        Some("test") => test(args.collect()),
        Some("modelcheck") => run(modelcheck::alone(cargo())),
        Some("papers") => run(papers::alone(cargo())),
        Some("browser") => code(web::browser_tests(cargo(), &args.collect::<Vec<_>>())),
        Some("web") => match args.next().as_deref() {
            Some("--same") => code(web::same_bundle()),
            _ => code(web::bundle()),
        },
        Some("simulator") => run(simulator::alone(cargo())),
        _ => {
            let _ = std::io::stderr().write_all(USAGE.as_bytes());
            ExitCode::from(2)
        }
    }
}

/// The one test command: a plain `cargo test` would run the command line's own tests only.
fn test(extra: Vec<String>) -> ExitCode {
    let able = [simulator::announce(), modelcheck::announce(), papers::announce()];
    if able.contains(&false) {
        return ExitCode::FAILURE;
    }
    let mut command = cargo();
    command.args(["test", "--workspace"]);
    let own = extra.is_empty();
    command.args(extra);
    let mut ended = run(command);
    // With arguments somebody asks for certain tests of cargo.
    if own && ended == ExitCode::SUCCESS {
        ended = code(web::with_the_others());
    }
    // Again at the end, where it is seen.
    simulator::announce();
    modelcheck::announce();
    papers::announce();
    ended
}

fn code(good: bool) -> ExitCode {
    if good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn cargo() -> Command {
    Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

fn run(mut command: Command) -> ExitCode {
    match command.status() {
        Ok(status) if status.success() => ExitCode::SUCCESS,
        Ok(_) => ExitCode::FAILURE,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "xtask: cargo could not be started: {error}");
            ExitCode::FAILURE
        }
    }
}
