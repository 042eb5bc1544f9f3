//! `open`: serves the page on the loopback interface until it is stopped.

use crate::args;
use crate::bundled::{Bundled, DUNMARROW, QUILLMERE, REPAIRED};
use crate::console::Console;
use crate::input::{self, shown};
use fiftytwo_page::{Example, Server, Wanted, usual_folder, write_own};
use fiftytwo_scheme::Finding;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Serves the page.
///
/// # Errors
/// A file that can't be used, or a port that can't be had.
pub fn open(asked: &args::Open, console: &mut Console) -> Result<(), Box<Finding>> {
    for named in input::named(&asked.files, None) {
        if named.is_stdin() {
            let finding = Finding::error("usage", "the page can't save to standard input");
            return Err(Box::new(finding.help("name the scheme's file")));
        }
        input::text(&named).map_err(Box::new)?;
    }
    let here = std::env::current_dir().unwrap_or_else(|_| PathBuf::from("."));
    let wanted = Wanted {
        files: asked.files.clone(),
        examples: examples(),
        port: asked.port,
        folder: usual_folder(),
        here,
    };
    let server = Server::new(wanted).map_err(|error| {
        let port = asked.port.unwrap_or(fiftytwo_page::USUAL_PORT);
        let finding = Finding::error("port", format!("port {port} can't be had: {error}"));
        Box::new(finding.help("leave --port out, or name another one"))
    })?;
    let (address, folder) = (server.address(), server.folder().map(Path::to_owned));
    let ready = || {
        console.answer(&format!("{address}\n"));
        console.wait_for("The page is served on this machine only, until Ctrl-C.\n");
        if !asked.no_browser && !in_browser(&address, folder.as_deref()) {
            console.wait_for("No browser could be started: open the address above.\n");
        }
    };
    server.run_until_stopped(ready).map_err(|error| {
        Box::new(
            Finding::error("port", format!("the page is not served any more: {error}"))
                .help("start it again; unsaved texts are kept"),
        )
    })
}

fn examples() -> Vec<Example> {
    let example = |bundled: Bundled, about: &str| Example {
        name: bundled.name.to_owned(),
        about: about.to_owned(),
        scheme: bundled.scheme.to_owned(),
        stories: bundled.stories.to_owned(),
    };
    vec![
        example(QUILLMERE, "A whole modern scheme: supervised close, two trip coils"),
        example(DUNMARROW, "A wrong scheme, kept as a lesson"),
        example(REPAIRED, "The same, repaired"),
    ]
}

/// Starts the usual browser. The key must not stand in a command line, which every user of the
/// machine can read: the browser gets a file of the user's own that leads on to the address.
fn in_browser(address: &str, folder: Option<&Path>) -> bool {
    let Some(folder) = folder else { return false };
    let path = folder.join("open.html");
    let leads_on = format!(
        "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"refresh\" content=\"0; url={address}\">\n<title>fiftytwo</title>\n\
         <p><a href=\"{address}\">Open the page</a></p>\n</html>\n"
    );
    if write_own(&path, leads_on.as_bytes()).is_err() {
        return false;
    }
    let starts: &[(&str, &[&str])] = if cfg!(target_os = "macos") {
        &[("open", &[])]
    } else if cfg!(windows) {
        &[("explorer", &[])]
    } else {
        &[("xdg-open", &[]), ("gio", &["open"])]
    };
    starts.iter().any(|(program, before)| {
        let file = shown(&path);
        let started = Command::new(program)
            .args(*before)
            .arg(file)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        started.is_ok()
    })
}
