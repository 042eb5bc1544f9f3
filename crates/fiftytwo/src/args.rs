//! Verbs and flags: the one table from which parsing and help come.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const ABOUT: &str = "\
DC control circuits of circuit breakers: written once as text, then drawn, calculated, played \
and proven.

Without a verb the whole job runs on the bundled example, into the folder `out`: the drawing, \
the coil voltages, a played story, the claims with their verdicts, and a wrong scheme refuted.";

const AFTER_HELP: &str = "\
Examples:
  fiftytwo                                    the whole job on the bundled example
  fiftytwo check scheme.kdl                   read it; every part at its worst corner
  fiftytwo draw scheme.kdl --to pdf,dxf       the schematic for paper and for CAD
  fiftytwo play scheme.kdl                    its stories as timelines, with causes
  fiftytwo prove *.kdl                        its claims, every run, every order
  fiftytwo prove *.kdl --json --part 3/8      the third of eight parts of a fleet
  fiftytwo format scheme.kdl                  write the text the usual way
  fiftytwo open scheme.kdl                    the drawing alive, in the browser

Exit codes:
  0  all claims hold, nothing found           1  something was found
  2  the input cannot be used; nothing written
  3  nothing found, but not proven within the limits

Cautions:
  The results follow from the text: what it leaves out or has wrong, no result can know.
  Control circuits are energised and mechanisms hold stored energy: isolate, discharge
  and test by the rules of your utility. A licensed engineer reviews the design; local
  codes and the utility's standards govern.";

const PROVE_HELP: &str = "\
Each claim has a page: what it says, assumes and does not cover, why it matters, an example that
holds and one that is refuted. \"no pumping\": docs/claims/no-pumping.md; all: docs/claims/README.md";

/// What the user typed.
#[derive(Debug, Parser)]
#[command(
    name = "fiftytwo",
    version,
    about = ABOUT,
    after_help = AFTER_HELP,
    max_term_width = 90,
    override_usage = "fiftytwo [VERB FILE...] [--json] [--out DIR] [--part K/N]",
    subcommand_help_heading = "Verbs",
    disable_help_subcommand = true
)]
pub struct Cli {
    /// What to do; the whole job on the bundled example if none.
    #[command(subcommand)]
    pub verb: Option<Verb>,
    /// Print one JSON object to standard output; text for people goes to standard error
    #[arg(long, global = true)]
    pub json: bool,
    /// Write results into this folder
    #[arg(long, global = true, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Take only part K of N of the files, sorted by name
    #[arg(long, global = true, value_name = "K/N", value_parser = part)]
    pub part: Option<Part>,
}

/// What a designer can ask for.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Read schemes: all slips of writing at once, then every volt, ampere and rating at its worst
    Check(Check),
    /// Draw the schematic as SVG, PDF or DXF into --out (`out` if not given)
    Draw(Draw),
    /// Play stories: a timeline for each, and why each event happened
    Play(Play),
    /// Prove claims in every run, or show the shortest story that breaks them
    #[command(after_help = PROVE_HELP)]
    Prove(Prove),
    /// Write schemes the usual way; comments stay
    Format(Format),
    /// Open schemes in the browser: the drawing alive, the claims, the text; nothing leaves the
    /// machine. Without a file the bundled examples
    Open(Open),
}

/// Files to work on.
#[derive(Debug, Args)]
pub struct Files {
    /// Scheme files; `-` reads standard input
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
}

/// What to draw, and how.
#[derive(Debug, Args)]
pub struct Draw {
    #[command(flatten)]
    pub files: Files,
    /// Forms of the drawing; several with commas between them
    #[arg(long, value_name = "FORM", value_delimiter = ',', default_value = "svg")]
    pub to: Vec<Form>,
    /// The standard whose symbols and habits the sheets follow
    #[arg(long, value_enum, default_value_t, value_name = "STANDARD")]
    pub symbols: SymbolsArg,
    /// How the legs lie: upright between rails above and below, or across between rails left and
    /// right
    #[arg(long, value_enum, default_value_t, value_name = "WAY")]
    pub legs: LegsArg,
    /// Paper; what does not fit goes to the next larger of its series
    #[arg(long, value_enum, default_value_t, value_name = "SIZE")]
    pub paper: PaperArg,
    /// A sheet before all others: list of sheets, legend of the symbols used, cautions
    #[arg(long)]
    pub cover: bool,
    /// Mark what changed since this earlier text of the scheme
    #[arg(long, value_name = "FILE")]
    pub since: Option<PathBuf>,
    /// Draw who closes and trips, as the matrix of the text asks for it, as a table
    #[arg(long)]
    pub matrix: bool,
    /// Draw the volts along the way on which this coil gets least
    #[arg(long, value_name = "COIL")]
    pub volts: Option<String>,
    /// Draw what the monitors of this coil watch of its path
    #[arg(long, value_name = "COIL")]
    pub watched: Option<String>,
    /// Draw this story over time, and its moments: where every wire lies, what conducts, what moved
    #[arg(long, value_name = "NAME")]
    pub story: Option<String>,
    /// A moment of the story, from its beginning ("72", "72 ms", "1.5 s"; ms without a unit);
    /// several give a storyboard as well
    #[arg(long, value_name = "TIME", requires = "story", value_parser = moment)]
    pub at: Vec<i64>,
    /// Number of the drawing for the title block
    #[arg(long, value_name = "TEXT")]
    pub number: Option<String>,
    /// Legal owner for the title block
    #[arg(long, value_name = "TEXT")]
    pub owner: Option<String>,
    /// Who approved it, for the title block
    #[arg(long, value_name = "TEXT")]
    pub approved_by: Option<String>,
    /// Light on dark, for screens that don't choose by themselves
    #[arg(long)]
    pub dark: bool,
}

/// A form of a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
pub enum Form {
    /// For the screen and the browser: all sheets in one file, and each in its own
    Svg,
    /// To print and to sign: a page for each sheet
    Pdf,
    /// For CAD programs: all sheets in one file, a layout for each
    Dxf,
}

/// A standard for symbols.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum SymbolsArg {
    /// IEEE 315: bars and circles; places as sheet and zone
    #[default]
    Ieee,
    /// IEC 60617: arms and boxes; numbered paths; places as sheet and path
    Iec,
}

/// How legs lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum LegsArg {
    /// Rails above and below
    #[default]
    Upright,
    /// Rails left and right
    Across,
}

/// Sizes of paper, landscape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum PaperArg {
    /// ANSI B, 17 by 11 in
    #[default]
    B,
    /// ANSI C, 22 by 17 in
    C,
    /// ANSI D, 34 by 22 in
    D,
    /// ISO A3
    A3,
    /// ISO A2
    A2,
    /// ISO A1
    A1,
}

/// What to check.
#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    pub files: Files,
    /// Show every line, not only what falls short and what is tightest
    #[arg(long)]
    pub full: bool,
    /// A reading of a meter, such as "TB3-7=62 V" or "TB3-7=62 V to ground": which single faults
    /// explain it; may be repeated
    #[arg(long, value_name = "POINT=VOLTS")]
    pub reading: Vec<String>,
    /// The rest position in which the readings were taken, such as "52 closed"
    #[arg(long, value_name = "POSITION", requires = "reading")]
    pub standing: Option<String>,
}

/// Stories to play.
#[derive(Debug, Args)]
pub struct Play {
    #[command(flatten)]
    pub files: Files,
    /// Play only the story of this name
    #[arg(long, value_name = "NAME")]
    pub story: Option<String>,
}

/// Claims to prove.
#[derive(Debug, Args)]
pub struct Prove {
    #[command(flatten)]
    pub files: Files,
    /// Show for each claim that holds a run in which what it speaks of does happen, and what it covers
    #[arg(long)]
    pub full: bool,
    /// Search at most so many positions for each question; beyond: not proven
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub positions: Option<u32>,
    /// Write each question as models for the model checker spin into this folder
    #[arg(long, value_name = "DIR")]
    pub export: Option<PathBuf>,
}

/// What to format.
#[derive(Debug, Args)]
pub struct Format {
    #[command(flatten)]
    pub files: Files,
    /// Change nothing; exit with 1 if a file is not written the usual way
    #[arg(long)]
    pub check: bool,
}

/// What to open, and where.
#[derive(Debug, Args)]
pub struct Open {
    /// Scheme files; the bundled examples if none
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// The port; 5252 if it is free, else any, if nobody says
    #[arg(long, value_name = "N")]
    pub port: Option<u16>,
    /// Only print the address
    #[arg(long)]
    pub no_browser: bool,
}

/// One part of a list of files shared between several runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Which, from 1.
    pub k: usize,
    /// Of how many.
    pub n: usize,
}

impl Part {
    /// Whether the file at `index` (from 0, in the sorted list) belongs to this part.
    pub const fn takes(self, index: usize) -> bool {
        index % self.n + 1 == self.k
    }
}

/// A moment of a story in µs: a number with or without a unit; ms without.
fn moment(text: &str) -> Result<i64, String> {
    let text = text.trim();
    let split = text.find(|sign: char| sign.is_alphabetic()).unwrap_or(text.len());
    let (number, unit) = text.split_at(split);
    let us = match unit.trim() {
        "" | "ms" => 1e3,
        "us" | "µs" => 1.0,
        "s" => 1e6,
        "min" => 60e6,
        _ => return Err(format!("\"{unit}\" is no unit of time here: s, ms, us or min")),
    };
    let number: f64 = number
        .trim()
        .parse()
        .map_err(|_| "write it as a time, such as 72 ms or 1.5 s".to_owned())?;
    let time = (number * us).round();
    if (0.0..=MOST_US).contains(&time) {
        #[expect(clippy::cast_possible_truncation, reason = "within a year of µs")]
        return Ok(time as i64);
    }
    Err("a moment lies between the beginning of the story and a year later".to_owned())
}

/// A year, µs.
const MOST_US: f64 = 3.2e13;

fn part(text: &str) -> Result<Part, String> {
    let numbers = text.split_once('/').and_then(|(k, n)| Some((k.parse().ok()?, n.parse().ok()?)));
    match numbers {
        Some((k, n)) if 1 <= k && k <= n => Ok(Part { k, n }),
        _ => Err("write it as K/N with K from 1 to N, such as 3/8".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::{Cli, Part, moment, part};
    use clap::CommandFactory;

    #[test]
    fn the_table_of_verbs_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_file_belongs_to_exactly_one_part() {
        for n in 1..9 {
            for index in 0..30 {
                let takers = (1..=n).filter(|k| Part { k: *k, n }.takes(index)).count();
                assert_eq!(takers, 1, "file {index} of {n} parts");
            }
        }
    }

    #[test]
    fn a_moment_is_in_milliseconds_or_in_its_unit() {
        assert_eq!(moment("72"), Ok(72_000));
        assert_eq!(moment("72 ms"), Ok(72_000));
        assert_eq!(moment(" 99.5ms "), Ok(99_500));
        assert_eq!(moment("1.5 s"), Ok(1_500_000));
        assert_eq!(moment("2 min"), Ok(120_000_000));
        assert_eq!(moment("250 us"), Ok(250));
        for wrong in ["", "ms", "-1", "7 cycles", "1e99", "NaN", "72,5"] {
            assert!(moment(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_part_counts_from_one() {
        assert_eq!(part("3/8"), Ok(Part { k: 3, n: 8 }));
        for wrong in ["0/8", "9/8", "3", "3/", "/8", "a/b", "3/8/1", "-1/8", "1/0"] {
            assert!(part(wrong).is_err(), "{wrong}");
        }
    }
}
