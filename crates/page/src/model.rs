//! One text, read and ready to answer: a thread of its own holds the scheme, its machine and what was
//! found so far, and takes one question after the other.
//!
//! **Never here:** what a question asks (that is [`crate::calls`]). A question nobody waits for any
//! more is not worked on.

use crate::answer::Refusal;
use crate::hearing::Proving;
use crate::library::{Example, Source};
use crate::proven::Stories;
use crate::text::Places;
use fiftytwo_calculations::gather::WorkedOut;
use fiftytwo_circuit::{Bench, CoilReport, coil_report};
use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_scheme::{Finding, Reading, Scheme, read_text, read_text_beside, read_texts};
use fiftytwo_sheet::{Arranged, Drawing, Live, Options, Sheet, Symbols};
use std::cell::{OnceCell, RefCell};
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;
use std::sync::{Arc, mpsc};
use std::time::SystemTime;
use tokio::sync::oneshot;

/// Runs remembered of one text.
const RUNS: usize = 12;
/// Sheets in a state remembered of one text.
const SHOWN: usize = 16;
/// Room for the thread: the searches for ways are deep.
const STACK: usize = 64 << 20;

/// What the thread holds.
pub struct Model<'s> {
    /// The checked scheme.
    pub scheme: &'s Scheme,
    /// What was found while it was read.
    pub reading: &'s Reading,
    /// Places of the main text.
    pub places: &'s Places,
    /// The scheme in motion.
    pub motion: Motion<'s>,
    /// The scheme on the bench.
    pub bench: Bench<'s>,
    /// Stories of claims that fail.
    pub stories: Arc<Stories>,
    drawings: [OnceCell<(Arranged<'s>, Drawing)>; 2],
    coils: OnceCell<Vec<CoilReport>>,
    runs: RefCell<VecDeque<(String, Rc<crate::run::Played>)>>,
    shown: RefCell<VecDeque<Shown>>,
}

/// A sheet in a state.
struct Shown {
    symbols: Symbols,
    live: Live,
    sheet: Rc<Sheet>,
}

/// The machine of a scheme, or why it has none.
pub enum Motion<'s> {
    /// It has one.
    Moves(Evaluator<'s, 's>),
    /// It can't be set in motion.
    Stands(Vec<Finding>),
}

impl<'s> Model<'s> {
    /// The evaluator.
    ///
    /// # Errors
    /// Why the scheme can't be set in motion.
    pub fn evaluator(&self) -> Result<&Evaluator<'s, 's>, Refusal> {
        match &self.motion {
            Motion::Moves(evaluator) => Ok(evaluator),
            Motion::Stands(findings) => {
                let first = findings.first();
                let error = first.map_or("This scheme can't be set in motion.", |it| &it.message);
                let help = first.and_then(|it| it.help.clone());
                Err(Refusal::conflict(error, help.unwrap_or_else(|| "See the findings.".into())))
            }
        }
    }
    /// What every coil gets.
    ///
    /// # Errors
    /// Why the scheme can't be solved.
    pub fn coils(&self) -> Result<&[CoilReport], Refusal> {
        let evaluator = self.evaluator()?;
        Ok(self.coils.get_or_init(|| coil_report(&evaluator.machine.wiring)))
    }
    /// The drawing at rest.
    pub fn drawing(&self, symbols: Symbols) -> &Drawing {
        &self.arranged(symbols).1
    }
    /// One sheet in a state, the first if there is none with that number; none: there is no sheet at all.
    /// The last few are remembered: whoever looks back or turns a handle to and fro sees the same state
    /// again.
    pub fn sheet_of(&self, symbols: Symbols, live: &Live, number: usize) -> Option<Rc<Sheet>> {
        let (arranged, rest) = self.arranged(symbols);
        let has = rest.sheets.iter().any(|sheet| sheet.number == number);
        let number = if has { number } else { rest.sheets.first()?.number };
        let is_it =
            |it: &&Shown| (it.symbols, it.sheet.number) == (symbols, number) && it.live == *live;
        let known = self.shown.borrow().iter().find(is_it).map(|it| it.sheet.clone());
        if known.is_some() {
            return known;
        }
        let sheet = Rc::new(arranged.live_sheet(live, number)?);
        let mut shown = self.shown.borrow_mut();
        shown.push_front(Shown { symbols, live: live.clone(), sheet: sheet.clone() });
        shown.truncate(SHOWN);
        Some(sheet)
    }
    fn arranged(&self, symbols: Symbols) -> &(Arranged<'s>, Drawing) {
        let [us, iec] = &self.drawings;
        let kept = if symbols == Symbols::Iec60617 { iec } else { us };
        kept.get_or_init(|| Arranged::new(self.scheme, &options(symbols)))
    }
    /// A run that was played before, or is played now.
    ///
    /// # Errors
    /// Why it can't be played.
    pub fn run(
        &self,
        key: String,
        play: impl FnOnce(&Self) -> Result<crate::run::Played, Refusal>,
    ) -> Result<Rc<crate::run::Played>, Refusal> {
        let known =
            self.runs.borrow().iter().find(|(it, _)| *it == key).map(|(_, run)| run.clone());
        if let Some(run) = known {
            return Ok(run);
        }
        let run = Rc::new(play(self)?);
        let mut runs = self.runs.borrow_mut();
        runs.push_front((key, run.clone()));
        runs.truncate(RUNS);
        Ok(run)
    }
}

/// How the page's sheets are drawn.
pub fn options(symbols: Symbols) -> Options {
    Options { symbols, ..Options::default() }
}

type Question = Box<dyn for<'a> FnOnce(&Model<'a>) + Send>;

/// A text that is remembered.
#[derive(Debug)]
pub struct Known {
    /// Its fingerprint.
    pub hash: String,
    /// What came of reading it.
    pub reading: Arc<Reading>,
    /// Places of the main text.
    pub places: Arc<Places>,
    /// Stories of its claims that fail.
    pub stories: Arc<Stories>,
    /// The search of all its claims, once somebody asked.
    pub proving: Proving,
    /// What `check` finds beside the reading, once somebody asked.
    worst: tokio::sync::OnceCell<Vec<Finding>>,
    /// The files beside it, as they were then.
    beside: Vec<(String, Option<SystemTime>)>,
    ask: Option<mpsc::Sender<Question>>,
}

impl Known {
    /// Reads a text.
    pub fn read(hash: String, source: &Source, text: &str) -> Self {
        let reading = match source {
            Source::File(path) => read_text_beside(path, text),
            Source::Example(Example { stories, .. }) if stories.is_empty() => {
                read_text("scheme.kdl", text)
            }
            Source::Example(Example { stories, .. }) => {
                read_texts(("scheme.kdl", text), ("stories.kdl", stories))
            }
        };
        let beside = reading.sources.files.values().skip(1);
        let beside = beside.map(|file| (file.name.clone(), changed(&file.name))).collect();
        let (reading, places) = (Arc::new(reading), Arc::new(Places::new(text)));
        let stories = Arc::<Stories>::default();
        let held = (reading.clone(), places.clone(), stories.clone());
        let ask = reading.is_usable().then(|| thread(held)).flatten();
        Self {
            hash,
            reading,
            places,
            stories,
            proving: Default::default(),
            worst: Default::default(),
            beside,
            ask,
        }
    }
    /// Whether the files beside it are still the same.
    pub fn is_fresh(&self) -> bool {
        self.beside.iter().all(|(name, then)| changed(name) == *then)
    }
    /// What `check` finds at the worst corners, beside what the reading found. It takes its time on
    /// a thread of its own: the drawing does not wait for it.
    ///
    /// # Errors
    /// The text can't be used, or working it out met a defect.
    pub async fn worst(&self) -> Result<&[Finding], Refusal> {
        if !self.reading.is_usable() {
            return Err(unusable());
        }
        let reading = self.reading.clone();
        let found = self.worst.get_or_try_init(|| async move {
            let (told, hear) = oneshot::channel();
            let work = move || {
                // Whoever asked may have gone away meanwhile.
                let _ = told.send(worst_of(&reading));
            };
            let thread = std::thread::Builder::new().name("check".to_owned()).stack_size(STACK);
            thread.spawn(work).map_err(|_| Refusal::defect())?;
            hear.await.map_err(|_| Refusal::defect())
        });
        found.await.map(Vec::as_slice)
    }
    /// Asks the thread.
    ///
    /// # Errors
    /// The text can't be used, or the question met a defect.
    pub async fn ask<T: Send + 'static>(
        &self,
        question: impl for<'a> FnOnce(&Model<'a>) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let Some(ask) = &self.ask else { return Err(unusable()) };
        let (told, hear) = oneshot::channel();
        let boxed: Question = Box::new(move |model| {
            if !told.is_closed() {
                // Whoever asked may have gone away meanwhile.
                let _ = told.send(question(model));
            }
        });
        ask.send(boxed).map_err(|_| Refusal::defect())?;
        hear.await.unwrap_or_else(|_| Err(Refusal::defect()))
    }
}

fn worst_of(reading: &Reading) -> Vec<Finding> {
    let Some(scheme) = &reading.scheme else { return Vec::new() };
    // Why it can't be set in motion is told with the reading.
    let Ok(machine) = Machine::new(scheme) else { return Vec::new() };
    WorkedOut::of(&machine).findings()
}

/// The text can't be used.
pub fn unusable() -> Refusal {
    Refusal::conflict(
        "A line of the text can't be read.",
        "The findings say which; the drawing waits until it can be read.",
    )
    .with("unreadable", true)
}

fn changed(name: &str) -> Option<SystemTime> {
    std::fs::metadata(name).and_then(|it| it.modified()).ok()
}

type Held = (Arc<Reading>, Arc<Places>, Arc<Stories>);

fn thread((reading, places, stories): Held) -> Option<mpsc::Sender<Question>> {
    let (ask, questions) = mpsc::channel::<Question>();
    std::thread::Builder::new()
        .name("desk".to_owned())
        .stack_size(STACK)
        .spawn(move || work(&reading, &places, stories, &questions))
        .ok()
        .map(|_| ask)
}

fn work(
    reading: &Reading,
    places: &Places,
    stories: Arc<Stories>,
    questions: &mpsc::Receiver<Question>,
) {
    let Some(scheme) = &reading.scheme else { return };
    // Nothing is made before somebody asks.
    let Ok(first) = questions.recv() else { return };
    let machine = Machine::new(scheme);
    let scope = machine.as_ref().ok().map(Scope::whole);
    let motion = match (&machine, &scope) {
        (Ok(machine), Some(scope)) => Motion::Moves(Evaluator::new(machine, scope)),
        (Err(findings), _) => Motion::Stands(findings.clone()),
        (Ok(_), None) => Motion::Stands(Vec::new()),
    };
    let model = Model {
        scheme,
        reading,
        places,
        motion,
        bench: Bench::new(scheme),
        stories,
        drawings: Default::default(),
        coils: OnceCell::new(),
        runs: RefCell::default(),
        shown: RefCell::default(),
    };
    for question in std::iter::once(first).chain(questions.iter()) {
        // What is remembered stays whole: every entry is put in at once, at the end of its making.
        let _ = catch_unwind(AssertUnwindSafe(|| question(&model)));
    }
}
