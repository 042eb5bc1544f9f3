//! The command line of fiftytwo.
//!
//! **In:** what the user typed. **Out:** a report on standard output, files written whole, an
//! exit code that scripts can rely on. **Never here:** knowledge of circuits; that is the
//! engines'.

mod args;
mod bundled;
mod console;
mod exit;
mod input;
mod json;
mod output;
mod page;
mod refuse;
mod report;
mod run;
mod tell;
mod verbs;

use std::ffi::OsString;
use std::process::ExitCode;

fn main() -> ExitCode {
    let typed: Vec<OsString> = std::env::args_os().collect();
    run::run(&typed).into()
}
