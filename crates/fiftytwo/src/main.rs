//! The command line of fiftytwo.
//!
//! **In:** what the user typed. **Out:** a report on standard output, files written whole, an
//! exit code that scripts can rely on. **Never here:** knowledge of circuits; that is the
//! engines'.

mod args;
mod brake;
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
use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    std::panic::set_hook(Box::new(|defect| {
        // Nobody is left to tell if standard error is gone too.
        let _ = writeln!(
            std::io::stderr(),
            "error: a defect of fiftytwo, not of your text: {defect}\n\
             No file is half written. Please report it together with the file."
        );
    }));
    let typed: Vec<OsString> = std::env::args_os().collect();
    run::run(&typed).into()
}
