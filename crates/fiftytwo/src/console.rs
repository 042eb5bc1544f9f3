//! The two streams a run prints to.
//!
//! **In:** text with colour codes, one JSON object. **Out:** bytes; colours only where the stream
//! is a terminal that wants them. A reader that has gone away is no error. **Never here:** files.

use anstream::AutoStream;
use std::io::{self, ErrorKind, IsTerminal, Write};

/// Where text and objects go.
#[derive(Debug)]
pub struct Console {
    json: bool,
    failure: Option<io::Error>,
}

impl Console {
    /// With `json`, one object has standard output for itself.
    pub fn new(json: bool) -> Self {
        Self { json, failure: None }
    }

    /// Prints what was asked for: to standard output, or to standard error beside an object.
    pub fn answer(&mut self, text: &str) {
        if self.json {
            self.trouble(text);
        } else {
            let outcome = write_all(AutoStream::auto(io::stdout()), text);
            self.note(outcome);
        }
    }

    /// Prints why something could not be done: always to standard error.
    pub fn trouble(&mut self, text: &str) {
        // If even standard error is gone there is nobody left to tell.
        let _ = write_all(AutoStream::auto(io::stderr()), text);
    }

    /// Says that something takes a while, to somebody who sits there and waits.
    pub fn wait_for(&mut self, text: &str) {
        if io::stderr().is_terminal() {
            self.trouble(text);
        }
    }

    /// Whether an object is wanted.
    pub fn wants_object(&self) -> bool {
        self.json
    }

    /// Prints the object, if one is wanted.
    pub fn object(&mut self, text: &str) {
        if self.json {
            let outcome = write_all(io::stdout(), text);
            self.note(outcome);
        }
    }

    /// What kept standard output from taking everything, a closed pipe aside.
    pub fn failure(&self) -> Option<&io::Error> {
        self.failure.as_ref()
    }

    fn note(&mut self, outcome: io::Result<()>) {
        match outcome {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => self.failure = Some(error),
            _ => {}
        }
    }
}

/// Most letters of the line that shows how far something is.
const LINE: usize = 78;

/// Shows in one line, which the next call overwrites, how far something is; nothing clears it. For
/// nobody but somebody who sits there and waits.
pub fn while_waiting(text: &str) {
    if io::stderr().is_terminal() {
        let line: String = text.chars().take(LINE).collect();
        let _ = write_all(io::stderr(), &format!("\r\x1b[K{line}"));
    }
}

fn write_all(mut stream: impl Write, text: &str) -> io::Result<()> {
    stream.write_all(text.as_bytes())?;
    stream.flush()
}
