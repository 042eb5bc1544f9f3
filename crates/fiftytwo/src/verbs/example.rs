//! No verb: the whole job on the bundled example, and one page that a designer enjoys reading.

use crate::bundled::{Bundled, DUNMARROW, QUILLMERE, REPAIRED};
use crate::input::Checked;
use crate::json::{JsonCalculations, JsonCoil, JsonStory, Results};
use crate::page::{ASIDE, BAD, Column, GOOD, Page, Table, WIDTH, painted, shown_width};
use crate::report::{CAUTIONS, Report, Told};
use crate::tell;
use crate::verbs::prove::Watched;
use crate::verbs::{chart, check, coils, draw, events, file, notes, play, prove, topics};
use fiftytwo_proof::{Proof, Report as Asked, Verdict};
use fiftytwo_scheme::{Finding, Severity};
use std::fs;
use std::path::Path;

/// Where the results go if nobody says where.
pub const FOLDER: &str = "out";
/// Positions for each question of the large scheme: enough for an answer while a reader waits.
const PLACES: usize = 150_000;

/// Findings on the page; the rest are counted.
const FOUND: usize = 8;

/// The examples, the large one first.
pub const BUNDLED: [Bundled; 3] = [QUILLMERE, DUNMARROW, REPAIRED];

/// Runs the whole job. `schemes` are the bundled ones, in their order.
pub fn example<'a>(schemes: &[Checked<'a>], folder: &Path) -> Report<'a> {
    let mut job = Job { folder, report: Report::default(), page: Page::default() };
    job.report.files = schemes.iter().map(file).collect();
    job.report.lesson = true;
    job.report.whole = Some(folder.to_owned());
    job.copies();
    if let [main, wrong, repaired] = schemes {
        job.report.findings.extend(notes(schemes));
        job.page.block(&check::title(main));
        job.drawings(schemes);
        job.volts(main);
        job.story(main);
        job.play_only(&[*wrong, *repaired]);
        let proofs = proofs([(main, Some(PLACES)), (wrong, None), (repaired, None)]);
        let told = [main, wrong, repaired].into_iter().zip(proofs);
        let told: Vec<Option<Proof>> = told.map(|(it, proof)| job.proof(it, proof)).collect();
        if let [Some(proof), Some(refuted), Some(held)] = told.as_slice() {
            job.claims(main, proof);
            job.lesson(wrong, refuted, held);
        }
        job.found(main);
    }
    job.end();
    job.report.text = job.page.into_text();
    job.report
}

type Proving = Result<Proof, Vec<Finding>>;

/// The proofs side by side; which is ready first does not show.
fn proofs(asked: [(&Checked<'_>, Option<usize>); 3]) -> [Proving; 3] {
    let gone = || Err(vec![Finding::error("not-proven", "a search ended without an answer")]);
    std::thread::scope(|scope| {
        asked
            .map(|(checked, places)| {
                scope.spawn(move || prove::proof(checked, places, Watched::default()))
            })
            .map(|search| search.join().unwrap_or_else(|_| gone()))
    })
}

struct Job<'r, 'a> {
    folder: &'r Path,
    report: Report<'a>,
    page: Page,
}

impl<'a> Job<'_, 'a> {
    /// The texts, to read and to change. A copy that was changed already is left alone.
    fn copies(&mut self) {
        for (path, text) in BUNDLED.iter().flat_map(Bundled::files) {
            let path = self.folder.join(path);
            match fs::read(&path) {
                Ok(old) if old != text.as_bytes() => {
                    let shown = crate::input::shown(&path);
                    let words = format!(
                        "{shown} was changed since: it is left as it is, the results are the example's"
                    );
                    self.page.words(0, 2, &painted(ASIDE, &words));
                }
                _ => self.report.outputs.add(path, text),
            }
        }
        self.page.gap();
    }

    fn drawings(&mut self, schemes: &[Checked<'a>]) {
        let mut drawings = Vec::new();
        for checked in schemes {
            let folder = self.folder.join(&checked.named.stem);
            let (drawing, faults) =
                draw::one(checked, &draw::Asked::all(), &folder, &mut self.report.outputs);
            self.report.findings.extend(faults.into_iter().map(|it| checked.told(it)));
            drawings.push(drawing);
        }
        if let Some(first) = drawings.first() {
            let sheets = crate::page::count_of(first.sheets.len(), "sheet");
            self.page.words(2, 2, &format!("drawn on {sheets}: {}", first.written.join(", ")));
        }
        self.report.results.drawings = Some(drawings);
    }

    fn volts(&mut self, checked: &Checked<'a>) {
        self.page.head("Volts at every coil: least, the range it works in, most");
        let found = match check::calculated(checked) {
            Err(faults) => return self.faults(checked, faults),
            Ok(found) => found,
        };
        self.page.block(&coils::told(&found.coils));
        let shown = &checked.named.shown;
        let coils = found.coils.iter().map(|it| JsonCoil::new(shown, it)).collect();
        self.report.results.coils = Some(coils);
        let data = JsonCalculations { file: shown.clone(), topics: found.calculations.clone() };
        self.report.results.calculations = Some(vec![data]);
        self.page.head("Calculated besides, each at its worst corner");
        self.page.block(&topics::brief(&topics::sections(&found.calculations)));
        let folder = self.folder.join(&checked.named.stem);
        check::write(checked, &found, &folder, &mut self.report.outputs);
        self.faults(checked, found.findings());
    }

    fn faults(&mut self, checked: &Checked<'a>, faults: Vec<Finding>) {
        self.report.findings.extend(faults.into_iter().map(|it| checked.told(it)));
    }

    /// The last story on the page, all of them into files.
    fn story(&mut self, checked: &Checked<'a>) {
        let Some(played) = self.play_one(checked).pop() else { return };
        let timeline = &played.timeline;
        self.page.head(&format!("A story: {}", played.story.name));
        self.page.words(2, 2, &painted(ASIDE, &format!("given {}", timeline.given.join(", "))));
        self.page.gap().block(&chart::told(timeline)).gap();
        for outcome in &timeline.outcomes {
            let (style, verdict) =
                if outcome.met { (GOOD, "so it is") } else { (BAD, "it is not so") };
            let line = format!("expected {}: {}", outcome.expected, painted(style, verdict));
            self.page.words(2, 2, &line);
        }
        let breaker = checked.scheme.matrices.first().map(|it| &checked.scheme.devices[it.breaker]);
        let of_breaker = timeline.events.iter().filter(|event| {
            !event.minor && breaker.is_some_and(|breaker| breaker.name == event.device)
        });
        if let Some(event) = of_breaker.clone().find(|event| !event.path.is_empty()) {
            let time = events::shown_ms(event.time_ms);
            let why = format!("why, at {time} ms: {}, because {}", event.what, event.why);
            self.page.words(2, 2, &painted(ASIDE, &why));
        }
    }

    fn play_only(&mut self, schemes: &[Checked<'a>]) {
        for checked in schemes {
            self.play_one(checked);
        }
    }

    fn play_one(&mut self, checked: &Checked<'a>) -> Vec<play::Played<'a>> {
        let played = match play::all(checked, None) {
            Ok(played) => played,
            Err(faults) => {
                self.faults(checked, faults);
                return Vec::new();
            }
        };
        let folder = self.folder.join(&checked.named.stem);
        for one in &played {
            let otherwise = play::otherwise(one);
            self.faults(checked, otherwise);
            let json = JsonStory::new(checked, one.story, &one.timeline);
            play::write(checked, one, &json, &folder, &mut self.report.outputs);
            self.report.results.stories.get_or_insert_default().push(json);
        }
        played
    }

    fn proof(&mut self, checked: &Checked<'a>, proof: Proving) -> Option<Proof> {
        match proof {
            Err(faults) => {
                self.faults(checked, faults);
                None
            }
            Ok(proof) => {
                let folder = self.folder.join(&checked.named.stem);
                let (claims, assumed) =
                    prove::write(checked, &proof, Some(&folder), &mut self.report.outputs);
                let Results { claims: all, assumptions, .. } = &mut self.report.results;
                all.get_or_insert_default().extend(claims);
                assumptions.get_or_insert_default().push(assumed);
                self.faults(checked, prove::findings(&proof));
                Some(proof)
            }
        }
    }

    /// How many questions of each claim came out how.
    fn claims(&mut self, checked: &Checked<'a>, proof: &Proof) {
        self.page.head(&format!("Claims of {}, asked in every run", checked.scheme.title));
        let mut names: Vec<&str> = Vec::new();
        for report in &proof.reports {
            if !names.contains(&report.claim.as_str()) {
                names.push(&report.claim);
            }
        }
        let mut table = Table::new(&[Column::Left, Column::Right]);
        let longest = names.iter().map(|name| shown_width(name)).max().unwrap_or(0);
        let room = WIDTH.saturating_sub(longest + "  00 questions    ".len());
        for name in names {
            let asked: Vec<&Asked> = proof.reports.iter().filter(|it| it.claim == name).collect();
            let questions = crate::page::count_of(asked.len(), "question");
            let (mut name, mut questions) = (name.to_owned(), questions);
            for line in lines(tally(&asked), room) {
                table.row([std::mem::take(&mut name), std::mem::take(&mut questions), line]);
            }
        }
        self.page.table(&table);
        let searched: usize = proof.reports.iter().map(|report| report.positions).sum();
        let open = proof.reports.iter().any(|it| it.verdict == Verdict::NotProven);
        let stem = &checked.named.stem;
        let words = if open {
            format!(
                "{searched} positions searched, at most {PLACES} for each question. Not proven is \
                 no pass: fiftytwo prove {stem}/scheme.kdl searches longer."
            )
        } else {
            format!("{searched} positions searched.")
        };
        self.page.words(2, 2, &painted(ASIDE, &words));
    }

    /// A wrong scheme refuted by its shortest story, and what its repair hangs on.
    fn lesson(&mut self, wrong: &Checked<'a>, refuted: &Proof, held: &Proof) {
        let Some(broken) = refuted.reports.iter().find(|it| it.verdict == Verdict::Fails) else {
            return;
        };
        self.page.head(&format!("A wrong scheme: {}", wrong.scheme.title));
        self.page.block(&prove::verdict(broken)).gap();
        if let Some(story) = &broken.story {
            self.page.block(&events::brief(story));
        }
        let same = held.reports.iter().find(|it| it.asks == broken.asks);
        if let Some(same) = same {
            self.page.gap().words(
                2,
                2,
                "Repaired, one line moved: the anti-pump is fed by the order itself.",
            );
            self.page.block(&prove::verdict(same));
        }
    }

    fn found(&mut self, main: &Checked<'a>) {
        let is_here = |told: &&Told<'_>| {
            told.file == Some(main.named.shown.as_str()) && told.finding.severity != Severity::Note
        };
        let found: Vec<&Told<'_>> = self.report.findings.iter().filter(is_here).collect();
        if found.is_empty() {
            return;
        }
        self.page.head(&format!("Found in {}", main.scheme.title));
        for told in found.iter().take(FOUND) {
            self.page.words(2, 2, &tell::brief(told));
        }
        if found.len() > FOUND {
            let more = found.len() - FOUND;
            let stem = &main.named.stem;
            let words = format!("and {more} more: fiftytwo check {stem}/scheme.kdl");
            self.page.words(2, 2, &painted(ASIDE, &words));
        }
    }

    fn end(&mut self) {
        let shown = crate::input::shown(self.folder);
        self.page.head(&format!("In the folder {shown}"));
        let rows = [
            ("results.txt, results.json", "this page, and everything as data"),
            ("quillmere/quillmere.pdf", "the drawing; .svg and .dxf beside it"),
            ("quillmere/quillmere-check.txt", "every part at its worst corner"),
            ("quillmere/quillmere-*.txt", "timelines with every cause; every verdict"),
            ("dunmarrow/, dunmarrow-repaired/", "the wrong scheme and its repair"),
            ("*/scheme.kdl", "the texts: change one, then fiftytwo check"),
        ];
        let mut table = Table::new(&[]);
        for (name, what) in rows {
            table.row([name, what]);
        }
        self.page.table(&table);
        self.page.gap();
        for caution in CAUTIONS {
            self.page.words(0, 2, &painted(ASIDE, caution));
        }
    }
}

/// Pieces with commas between them, in as few lines of `room` characters as take them.
fn lines(pieces: Vec<String>, room: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for piece in pieces {
        match lines.last_mut() {
            Some(line) if shown_width(line) + 3 + shown_width(&piece) <= room => {
                *line = format!("{line}, {piece}");
            }
            Some(line) => {
                line.push(',');
                lines.push(piece);
            }
            None => lines.push(piece),
        }
    }
    lines
}

/// "9 hold in any order", "2 not proven".
fn tally(asked: &[&Asked]) -> Vec<String> {
    let mut verdicts: Vec<Verdict> = asked.iter().map(|report| report.verdict).collect();
    verdicts.sort();
    verdicts.dedup();
    let told = |verdict| {
        let (style, words) = prove::words(verdict);
        let n = asked.iter().filter(|report| report.verdict == verdict).count();
        let many = || format!("{n} {}", words.trim_start_matches("holds "));
        painted(style, &if asked.len() == 1 { words.to_owned() } else { many() })
    };
    verdicts.into_iter().map(told).collect()
}
