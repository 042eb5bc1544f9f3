//! One run from the words typed to the exit code.
//!
//! The order never changes: understand, read everything, refuse if anything cannot be used, work,
//! write the files, and only then print. So nothing is written if anything is wrong.

use crate::args::{self, Cli, Files, Verb};
use crate::console::Console;
use crate::exit::Exit;
use crate::input::{self, Checked, Input};
use crate::json::{Document, FORMAT};
use crate::refuse::{misunderstood, refuse, unwritten};
use crate::report::{CAUTIONS, Report};
use crate::verbs::{check, format};
use clap::Parser;
use clap::error::ErrorKind;
use fiftytwo_scheme::{Finding, SourceFile, Sources};
use std::ffi::OsString;
use std::path::Path;

/// Runs what was typed.
pub fn run(typed: &[OsString]) -> Exit {
    let mut console = Console::new(typed.iter().any(|it| it == "--json"));
    let exit = match Cli::try_parse_from(typed) {
        Ok(cli) => work(&cli, &mut console),
        Err(error) if !error.use_stderr() => {
            // Help or version, as asked for; a reader that has gone away is no error.
            let _ = error.print();
            Exit::Holds
        }
        Err(error) => match forgotten_verb(&error, typed) {
            Some(finding) => refuse(&mut console, None, [(&finding, &Sources::default(), None)]),
            None => misunderstood(&mut console, &error),
        },
    };
    match console.failure() {
        None => exit,
        Some(cause) => {
            let told = format!("error: standard output takes no more: {cause}\n");
            console.trouble(&told);
            Exit::BadInput
        }
    }
}

fn work(cli: &Cli, console: &mut Console) -> Exit {
    match &cli.verb {
        None => {
            let finding = Finding::error("usage", "a verb is missing")
                .help("fiftytwo --help shows the verbs, with examples");
            refuse(console, None, [(&finding, &Sources::default(), None)])
        }
        Some(Verb::Check(files)) => with_schemes(cli, files, "check", console, check::check),
        Some(Verb::Format(it)) => format_files(cli, it, console),
    }
}

/// Reads all files, then works on the schemes in them.
fn with_schemes(
    cli: &Cli,
    files: &Files,
    verb: &'static str,
    console: &mut Console,
    work: impl FnOnce(&[Checked<'_>]) -> Report,
) -> Exit {
    let inputs: Vec<Input> =
        input::named(&files.files, cli.part).into_iter().map(input::read).collect();
    let schemes: Vec<Checked<'_>> = inputs.iter().filter_map(Input::checked).collect();
    if schemes.len() < inputs.len() {
        let findings = inputs.iter().flat_map(|input| {
            let Input { named, reading } = input;
            let told = reading.findings.iter();
            told.map(|it| (it, &reading.sources, Some(named.shown.as_str())))
        });
        return refuse(console, Some(verb), findings);
    }
    finish(verb, work(&schemes), console)
}

fn format_files(cli: &Cli, asked: &args::Format, console: &mut Console) -> Exit {
    let mut texts = Vec::new();
    let mut wrong: Vec<(Finding, Sources, String)> = Vec::new();
    for named in input::named(&asked.files.files, cli.part) {
        let shown = named.shown.clone();
        let before = match input::text(&named) {
            Ok(before) => before,
            Err(finding) => {
                wrong.push((finding, Sources::default(), shown));
                continue;
            }
        };
        let mut sources = Sources::default();
        sources.files.push(SourceFile { name: shown.clone(), text: before.clone() });
        match fiftytwo_scheme::format(&shown, &before) {
            Ok(after) => texts.push(format::Text { named, before, after }),
            Err(findings) => {
                wrong.extend(findings.into_iter().map(|it| (it, sources.clone(), shown.clone())));
            }
        }
    }
    if !wrong.is_empty() {
        let told = wrong.iter().map(|(it, sources, file)| (it, sources, Some(file.as_str())));
        return refuse(console, Some("format"), told);
    }
    let to = match (&cli.out, asked.check) {
        (_, true) => format::To::Nowhere,
        (Some(folder), false) => format::To::Folder(folder),
        (None, false) => format::To::Place,
    };
    finish("format", format::format(texts, to), console)
}

/// Writes the files, then prints.
fn finish(verb: &'static str, report: Report, console: &mut Console) -> Exit {
    let Report { text, files, findings, results, outputs, exit } = report;
    if let Err(cause) = outputs.write() {
        return refuse(console, Some(verb), [(&unwritten(&cause), &Sources::default(), None)]);
    }
    let document = Document {
        format: FORMAT,
        verb: Some(verb),
        exit: exit.code(),
        files,
        findings,
        results,
        written: outputs.paths().map(input::shown).collect(),
        cautions: CAUTIONS.to_vec(),
    };
    console.object(&document.to_text());
    console.answer(&text);
    exit
}

/// `fiftytwo bay.kdl`: the file is there, the verb is not.
fn forgotten_verb(error: &clap::Error, typed: &[OsString]) -> Option<Finding> {
    if error.kind() != ErrorKind::InvalidSubcommand {
        return None;
    }
    let is_file = |it: &&OsString| Path::new(it).extension().is_some_and(|end| end == "kdl");
    let file = input::shown(Path::new(typed.iter().skip(1).find(is_file)?));
    let finding = Finding::error("usage", format!("what is to be done with {file}?"));
    Some(finding.help(format!("put a verb before it, such as: fiftytwo check {file}")))
}
