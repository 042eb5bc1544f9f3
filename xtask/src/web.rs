//! The page's bundle and its tests in a real browser.
//!
//! **In:** the machine as it is: node, npm, a browser. **Out:** `web/dist` built anew; the browser
//! tests run against the program as built. **Never here:** the tests: they stand in `web/tests`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Which browser runs the tests; else the first of [`BROWSERS`] in the path.
const BROWSER: &str = "FIFTYTWO_BROWSER";
/// Set to `no`, `cargo xtask test` leaves the browser tests out and says so. Anything else, or
/// nothing: they have to run, and fail where they cannot.
const ASKED: &str = "FIFTYTWO_BROWSER_TESTS";
/// Which program the browser tests start; else the release build.
const PROGRAM: &str = "FIFTYTWO_PROGRAM";
/// Names under which systems install it.
const BROWSERS: [&str; 2] = ["chromium", "chromium-browser"];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new(".")).join("web")
}

fn starts(program: &str) -> bool {
    let mut run = Command::new(program);
    run.arg("--version").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    run.status().is_ok_and(|status| status.success())
}

fn browser() -> Option<String> {
    match std::env::var(BROWSER) {
        Ok(named) => starts(&named).then_some(named),
        Err(_) => BROWSERS.into_iter().find(|name| starts(name)).map(str::to_owned),
    }
}

fn say(words: &str) {
    let _ = writeln!(std::io::stderr(), "xtask: {words}");
}

/// Says what is missing. True: nothing is.
fn have(what: &[(&str, bool)]) -> bool {
    let missing: Vec<&str> =
        what.iter().filter(|(_, there)| !there).map(|(name, _)| *name).collect();
    if missing.is_empty() {
        return true;
    }
    say(&format!("missing: {} (Debian: apt-get install nodejs npm chromium)", missing.join(", ")));
    false
}

fn succeeds(mut command: Command) -> bool {
    match command.status() {
        Ok(status) => status.success(),
        Err(error) => {
            say(&format!("{:?} could not be started: {error}", command.get_program()));
            false
        }
    }
}

fn npm(args: &[&str]) -> bool {
    let mut command = Command::new("npm");
    command.args(args).current_dir(folder());
    succeeds(command)
}

/// The packages exactly as locked; nothing to do where they are there already.
fn packages() -> bool {
    let own = folder();
    let stamp = own.join("node_modules/.locked");
    let lock = std::fs::read(own.join("package-lock.json")).unwrap_or_default();
    if std::fs::read(&stamp).is_ok_and(|old| old == lock) {
        return true;
    }
    let done = npm(&["ci", "--no-audit", "--no-fund"]);
    if done {
        let _ = std::fs::write(&stamp, lock);
    }
    done
}

/// Builds `web/dist` anew from `web/src`, after the types were checked.
pub fn bundle() -> bool {
    have(&[("node", starts("node")), ("npm", starts("npm"))])
        && packages()
        && npm(&["run", "--silent", "check"])
        && npm(&["run", "--silent", "build"])
}

/// Whether the committed bundle is the one that the sources give.
pub fn same_bundle() -> bool {
    if !bundle() {
        return false;
    }
    let mut git = Command::new("git");
    git.args(["diff", "--exit-code", "--stat", "--", "dist"]).current_dir(folder());
    let same = succeeds(git);
    if !same {
        say("web/dist is not what web/src gives: run `cargo xtask web` and commit it");
    }
    same
}

/// Builds the program as its users do and runs the browser tests against it.
pub fn browser_tests(mut cargo: Command, named: &[String]) -> bool {
    cargo.args(["build", "--release", "-p", "fiftytwo"]);
    succeeds(cargo) && tried(named, None)
}

/// Runs the browser tests against a program; none: the release build.
fn tried(named: &[String], program: Option<PathBuf>) -> bool {
    let found = browser();
    if !have(&[
        ("node", starts("node")),
        ("npm", starts("npm")),
        ("a browser (chromium; FIFTYTWO_BROWSER names another)", found.is_some()),
    ]) {
        return false;
    }
    let Some(browser) = found else { return false };
    if !packages() {
        return false;
    }
    let mut tests = Command::new("node");
    tests.args(["--test", "--test-concurrency=1"]).current_dir(folder()).env(BROWSER, browser);
    if let Some(program) = program {
        tests.env(PROGRAM, program);
    }
    if named.is_empty() {
        tests.args(files());
    } else {
        tests.args(named.iter().map(|name| format!("tests/{name}.test.mjs")));
    }
    succeeds(tests)
}

fn files() -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder().join("tests")) else { return Vec::new() };
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name.ends_with(".test.mjs"))
        .map(|name| format!("tests/{name}"))
        .collect();
    names.sort();
    names
}

/// The browser tests among all others: they have to run unless somebody says no. The program is the one that
/// the other tests have just been run against: it lies beside this one.
pub fn with_the_others() -> bool {
    if std::env::var(ASKED).is_ok_and(|value| value == "no") {
        say("NOT CHECKED: the page was not tried in a browser (FIFTYTWO_BROWSER_TESTS=no)");
        return true;
    }
    let name = format!("fiftytwo{}", std::env::consts::EXE_SUFFIX);
    let program = std::env::current_exe().ok().map(|own| own.with_file_name(name));
    match program.filter(|program| program.is_file()) {
        Some(program) => tried(&[], Some(program)),
        None => {
            say("the program that the tests have built is not where it was expected");
            false
        }
    }
}
