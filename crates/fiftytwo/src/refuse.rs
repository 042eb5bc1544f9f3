//! Why a run cannot be done: told to people on standard error, to programs as an object.

use crate::console::Console;
use crate::exit::Exit;
use crate::json::{Document, JsonFinding, to_text};
use crate::output::Unwritten;
use crate::report::Told;
use crate::tell;
use fiftytwo_scheme::{Finding, Sources};
use std::io::ErrorKind;

/// Tells why, and ends as bad input.
pub fn refuse(console: &mut Console, verb: Option<&'static str>, why: &[Told<'_>]) -> Exit {
    let findings = why.iter().map(Told::to_json).collect();
    console.object(&to_text(&Document::refusal(verb, findings)));
    console.trouble(&tell::findings(why));
    Exit::BadInput
}

/// The same for a finding that means no file.
pub fn refuse_command(console: &mut Console, verb: Option<&'static str>, finding: Finding) -> Exit {
    refuse(console, verb, &[Told { finding, sources: &Sources::default(), file: None }])
}

/// What the command line's own reader says about a command it does not understand.
pub fn misunderstood(console: &mut Console, error: &clap::Error) -> Exit {
    let told = error.render();
    let plain = told.to_string();
    let message = plain.lines().next().unwrap_or_default();
    let message = message.strip_prefix("error: ").unwrap_or(message);
    let finding = Finding::error("usage", message).help("fiftytwo --help shows the verbs");
    let finding = JsonFinding::new(&finding, &Sources::default(), None);
    console.object(&to_text(&Document::refusal(None, vec![finding])));
    console.trouble(&told.ansi().to_string());
    Exit::BadInput
}

/// A file that could not be written.
pub fn unwritten(unwritten: &Unwritten) -> Finding {
    let path = crate::input::shown(&unwritten.path);
    let cause = match unwritten.cause.kind() {
        ErrorKind::PermissionDenied => "you may not write there".to_owned(),
        ErrorKind::NotFound | ErrorKind::NotADirectory => "its folder cannot be made".to_owned(),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "there is no room left".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "that disk takes no writing".to_owned(),
        ErrorKind::Other => unwritten.cause.to_string(),
        kind => kind.to_string(),
    };
    Finding::error("not-written", format!("{path} cannot be written: {cause}"))
        .why("no file is half written: old files are whole")
        .help("choose another folder with --out, or make room for it")
}
