//! One run from the words typed to the exit code.
//!
//! The order never changes: understand, read everything, refuse if anything cannot be used, work,
//! write the files, and only then print. So nothing is written if anything is wrong.

use crate::args::{self, Cli, Files, Verb};
use crate::brake::Brake;
use crate::bundled::Bundled;
use crate::console::Console;
use crate::exit::Exit;
use crate::input::{self, Checked, Input};
use crate::json::{Document, FORMAT, to_text};
use crate::page::Page;
use crate::refuse::{misunderstood, refuse, refuse_command, unwritten};
use crate::report::{CAUTIONS, Report, Told};
use crate::tell;
use crate::verbs::{check, draw, example, export, format, open, play, prove};
use clap::Parser;
use clap::error::{ContextKind, ContextValue};
use fiftytwo_calculations::meter::ReadingTaken;
use fiftytwo_scheme::{Finding, SourceFile, Sources};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Runs what was typed.
pub fn run(typed: &[OsString]) -> Exit {
    let mut console = Console::new(typed.iter().any(|it| it == "--json"));
    let exit = match Cli::try_parse_from(help_as_flag(typed)) {
        Ok(cli) => work(&cli, &mut console),
        Err(error) if !error.use_stderr() => {
            // Help or version, as asked for; a reader that has gone away is no error.
            let _ = error.print();
            Exit::Holds
        }
        Err(error) => match forgotten_verb(&error) {
            Some(finding) => refuse_command(&mut console, None, finding),
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
        None => bundled_example(cli, console),
        Some(Verb::Check(it)) => check_files(cli, it, console),
        Some(Verb::Draw(it)) => draw_files(cli, it, console),
        Some(Verb::Play(it)) => with_schemes(cli, &it.files, "play", console, |schemes| {
            play::play(schemes, it.story.as_deref(), cli.out.as_deref())
        }),
        Some(Verb::Prove(it)) => with_schemes(cli, &it.files, "prove", console, |schemes| {
            let places = it.positions.and_then(|it| usize::try_from(it).ok());
            let brake = Brake::ready();
            let watched = prove::Watched { stop: Some(brake.flag()), shown: true };
            let mut report = prove::prove(schemes, places, it.full, watched, cli.out.as_deref());
            if let Some(folder) = &it.export {
                export::export(schemes, folder, &mut report);
            }
            report
        }),
        Some(Verb::Format(it)) => format_files(cli, it, console),
        Some(Verb::Open(it)) => open_page(cli, it, console),
    }
}

/// Nothing is read before the page asks, but a file that is not there is refused at once.
fn open_page(cli: &Cli, asked: &args::Open, console: &mut Console) -> Exit {
    let useless =
        [("--json", cli.json), ("--out", cli.out.is_some()), ("--part", cli.part.is_some())];
    if let Some((flag, _)) = useless.iter().find(|(_, typed)| *typed) {
        let finding = Finding::error("usage", format!("{flag} has no meaning with open"))
            .help("leave it out; the page exports sheets and reports itself");
        return refuse_command(console, Some("open"), finding);
    }
    match open::open(asked, console) {
        Ok(()) => Exit::Holds,
        Err(finding) => refuse_command(console, Some("open"), *finding),
    }
}

/// Reads all files, then works on the schemes in them.
fn with_schemes(
    cli: &Cli,
    files: &Files,
    verb: &'static str,
    console: &mut Console,
    work: impl for<'a> FnOnce(&[Checked<'a>]) -> Report<'a>,
) -> Exit {
    let inputs: Vec<Input> =
        input::named(&files.files, cli.part).into_iter().map(input::read).collect();
    let schemes: Vec<Checked<'_>> = inputs.iter().filter_map(Input::checked).collect();
    if schemes.len() < inputs.len() {
        return refuse(
            console,
            Some(verb),
            &inputs.iter().flat_map(Input::told).collect::<Vec<_>>(),
        );
    }
    finish(verb, work(&schemes), console)
}

/// Readings of a meter are understood before any file is read.
fn check_files(cli: &Cli, asked: &args::Check, console: &mut Console) -> Exit {
    let (mut readings, mut faults) = (Vec::new(), Vec::new());
    for written in &asked.reading {
        match ReadingTaken::parse(written) {
            Ok(reading) => readings.push(reading),
            Err(fault) => faults.push(Finding::error("reading", fault.to_string())),
        }
    }
    if !faults.is_empty() {
        let sources = Sources::default();
        let told =
            faults.into_iter().map(|finding| Told { finding, sources: &sources, file: None });
        return refuse(console, Some("check"), &told.collect::<Vec<_>>());
    }
    with_schemes(cli, &asked.files, "check", console, |schemes| {
        let standing = asked.standing.as_deref();
        let asked = check::Asked { readings: &readings, standing, full: asked.full };
        check::check(schemes, asked, cli.out.as_deref())
    })
}

/// An earlier text is read before anything is drawn.
fn draw_files(cli: &Cli, asked: &args::Draw, console: &mut Console) -> Exit {
    let earlier = asked.since.as_ref().map(|path| fiftytwo_scheme::read_path(path));
    if let Some(reading) = earlier.as_ref().filter(|reading| reading.scheme.is_none()) {
        let told = reading.findings.iter().map(|finding| Told {
            finding: finding.clone(),
            sources: &reading.sources,
            file: None,
        });
        return refuse(console, Some("draw"), &told.collect::<Vec<_>>());
    }
    let since = earlier.as_ref().and_then(|reading| reading.scheme.as_ref());
    with_schemes(cli, &asked.files, "draw", console, |schemes| {
        draw::draw(schemes, &draw::Asked::new(asked, since), cli.out.as_deref())
    })
}

fn format_files(cli: &Cli, asked: &args::Format, console: &mut Console) -> Exit {
    let mut texts = Vec::new();
    let mut wrong = Vec::new();
    for named in input::named(&asked.files.files, cli.part) {
        match input::text(&named) {
            Err(finding) => wrong.push((named, Sources::default(), vec![finding])),
            Ok(before) => match fiftytwo_scheme::format(&named.shown, &before) {
                Ok(after) => texts.push(format::Text { named, before, after }),
                Err(findings) => {
                    let mut sources = Sources::default();
                    sources.files.push(SourceFile { name: named.shown.clone(), text: before });
                    wrong.push((named, sources, findings));
                }
            },
        }
    }
    if !wrong.is_empty() {
        let told = wrong.iter().flat_map(|(named, sources, findings)| {
            let file = Some(named.shown.as_str());
            findings.iter().map(move |it| Told { finding: it.clone(), sources, file })
        });
        return refuse(console, Some("format"), &told.collect::<Vec<_>>());
    }
    let to = match (&cli.out, asked.check) {
        (_, true) => format::To::Nowhere,
        (Some(folder), false) => format::To::Folder(folder),
        (None, false) => format::To::Place,
    };
    finish("format", format::format(&texts, to, &Sources::default()), console)
}

fn bundled_example(cli: &Cli, console: &mut Console) -> Exit {
    if cli.part.is_some() {
        let finding = Finding::error("usage", "--part shares files, and there are none here")
            .help("name a verb and files, or leave --part out");
        return refuse_command(console, None, finding);
    }
    let inputs: Vec<Input> = example::BUNDLED.iter().map(Bundled::read).collect();
    let schemes: Vec<Checked<'_>> = inputs.iter().filter_map(Input::checked).collect();
    let folder = cli.out.as_deref().unwrap_or(Path::new(example::FOLDER));
    console.wait_for("Reading, drawing, playing and proving the bundled example …\n");
    finish("example", example::example(&schemes, folder), console)
}

/// Writes the files, then prints.
fn finish(verb: &'static str, report: Report<'_>, console: &mut Console) -> Exit {
    let exit = report.exit();
    if exit == Exit::BadInput {
        return refuse(console, Some(verb), &report.findings);
    }
    let Report { text, files, findings, results, mut outputs, whole, .. } = report;
    let mut page = Page::default();
    page.block(&text);
    if whole.is_none() && !findings.is_empty() {
        page.gap().block(&tell::findings(&findings));
    }
    let text = page.into_text();
    let whole = whole.map(|folder| [folder.join("results.txt"), folder.join("results.json")]);
    let written = outputs.paths().chain(whole.iter().flatten().map(PathBuf::as_path));
    let written: Vec<String> = written.map(input::shown).collect();
    let document = Document {
        format: FORMAT,
        verb: Some(verb),
        exit: exit.code(),
        files,
        findings: findings.iter().map(Told::to_json).collect(),
        results,
        written,
        cautions: CAUTIONS.to_vec(),
    };
    let wanted = console.wants_object() || whole.is_some();
    let object = if wanted { to_text(&document) } else { String::new() };
    if let Some([page, data]) = whole {
        outputs.add(page, anstream::adapter::strip_str(&text).to_string());
        outputs.add(data, object.as_str());
    }
    if let Err(cause) = outputs.write() {
        return refuse_command(console, Some(verb), unwritten(&cause));
    }
    console.object(&object);
    console.answer(&text);
    exit
}

/// `fiftytwo help` and `fiftytwo help check` are `--help` and `check --help`.
fn help_as_flag(typed: &[OsString]) -> Vec<OsString> {
    match typed {
        [own, help, verbs @ ..] if help == "help" => {
            let verb = verbs.iter().take(1).cloned();
            std::iter::once(own.clone()).chain(verb).chain([OsString::from("--help")]).collect()
        }
        _ => typed.to_vec(),
    }
}

/// `fiftytwo bay.kdl`: the file is there, the verb is not.
fn forgotten_verb(error: &clap::Error) -> Option<Finding> {
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand) else {
        return None;
    };
    let path = Path::new(word);
    let is_scheme = path.extension().is_some_and(|end| end == "kdl") || path.exists();
    let file = is_scheme.then(|| input::shown(path))?;
    let finding = Finding::error("usage", format!("what is to be done with {file}?"));
    Some(finding.help(format!("put a verb before it, such as: fiftytwo check {file}")))
}
