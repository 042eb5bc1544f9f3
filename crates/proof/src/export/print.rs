//! The text of a model.

use super::logic::Bool;
use super::moves::{Move, Moves, moves};
use super::say::Speaker;
use super::watch::{Kept, Watch, watch};
use super::{Form, Model, Refusal};
use crate::monitor::Monitor;
use fiftytwo_motion::machine::{Direction, Machine, RelayPhase, Scope, State, UnitId, UnitKind};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// Most states a stopwatch may have.
const MOST_TICKS: i64 = 2_000_000;

/// The stopwatch of the claim itself.
const CLAIM: &str = "t_claim";

/// A stopwatch: when it runs, and the tick at which it stops.
struct Clock {
    runs: Bool,
    cap: i64,
}

pub(super) fn model(
    machine: &Machine<'_>,
    scope: &Scope,
    monitor: &Monitor,
    starts: &[State],
    form: Form,
    heading: &str,
) -> Result<Model, Refusal> {
    let timed = form == Form::WithinTolerances;
    let mut speaker = Speaker::new(machine, scope, timed);
    let moves = moves(&mut speaker)?;
    let watch = watch(monitor, &mut speaker, &moves)?;
    let perhaps = moves.list.iter().any(|made| !made.drive.is_known());
    if timed && let Some(open) = moves.list.iter().find(|made| !made.drive.is_known()) {
        return Err(Refusal(format!(
            "whether \"{}\" happens is decided by volts: a model in ticks would have to measure \
             what is perhaps so and what surely is apart",
            open.words
        )));
    }
    let tick = timed.then(|| common_tick(&moves, &watch));
    let clocks = match tick {
        Some(tick) => clocks(&moves, &watch, tick)?,
        None => BTreeMap::new(),
    };
    let begins = begins(&speaker, &moves, starts);
    let count = begins.len();
    let page = Page { speaker, moves, watch, clocks, tick, begins };
    let text = page.text(heading).map_err(|_| Refusal("it can't be written".to_owned()))?;
    Ok(Model { text, starts: count, tick, perhaps })
}

fn common_tick(moves: &Moves, watch: &Watch) -> i64 {
    let asks = moves.list.iter().flat_map(|made| &made.asks);
    let times = asks.flat_map(|ask| [ask.lo, ask.hi.unwrap_or(0)]);
    times.chain(watch.lasts.iter().map(|lasts| lasts.time)).fold(0, divisor).max(1)
}

fn divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a.abs() } else { divisor(b, a % b) }
}

fn clocks(moves: &Moves, watch: &Watch, tick: i64) -> Result<BTreeMap<String, Clock>, Refusal> {
    let mut clocks: BTreeMap<String, Clock> = BTreeMap::new();
    let mut add = |name: &String, runs: Bool, constant: i64| {
        let clock =
            clocks.entry(name.clone()).or_insert_with(|| Clock { runs: Bool::Is(false), cap: 1 });
        clock.runs = std::mem::replace(&mut clock.runs, Bool::Is(false)).or(runs);
        clock.cap = clock.cap.max(constant / tick + 1);
    };
    for (name, runs) in &moves.marks {
        add(name, Bool::any(runs.iter().cloned()), 0);
    }
    for made in &moves.list {
        for ask in &made.asks {
            let hi = ask.hi.unwrap_or(0);
            if ask.lo > 0 || hi > 0 {
                add(&ask.clock, made.may().and(ask.only.clone()), ask.lo.max(hi));
            }
        }
    }
    if let Some(lasts) = &watch.lasts {
        add(&CLAIM.to_owned(), lasts.what.clone(), lasts.time + tick);
    }
    if let Some((name, clock)) = clocks.iter().find(|(_, clock)| clock.cap > MOST_TICKS) {
        return Err(Refusal(format!(
            "{name} would take {} ticks of {tick} us, too many to count",
            clock.cap
        )));
    }
    Ok(clocks)
}

/// The values of all variables where runs may begin, each once.
fn begins(
    speaker: &Speaker<'_, '_>,
    moves: &Moves,
    starts: &[State],
) -> Vec<Vec<(String, String)>> {
    let units: BTreeSet<UnitId> = speaker
        .machine
        .units
        .iter()
        .filter(|(unit, item)| speaker.scope.knows(*unit) && !crate::cone::never_moves(&item.kind))
        .map(|(unit, _)| unit)
        .collect();
    let declared: BTreeSet<&str> =
        moves.variables.iter().map(|variable| variable.name.as_str()).collect();
    let mut begins: Vec<Vec<(String, String)>> = Vec::new();
    for state in starts {
        let mut values = Vec::new();
        for &unit in &units {
            values.extend(values_of(speaker, unit, state.phase(unit)));
        }
        values.retain(|(name, value)| declared.contains(name.as_str()) && value != "0");
        if !begins.contains(&values) {
            begins.push(values);
        }
    }
    begins
}

fn values_of(speaker: &Speaker<'_, '_>, unit: UnitId, phase: u8) -> Vec<(String, String)> {
    let machine = speaker.machine;
    let own = |value: u8| vec![(speaker.name(unit).to_owned(), value.to_string())];
    match machine.units[unit].kind {
        UnitKind::Relay(_) if !speaker.timed => own(RelayPhase::from_u8(phase).cold() as u8),
        UnitKind::Energy(_) if !speaker.timed => own(machine.charge_of(unit, phase)),
        UnitKind::Stroke(device) => {
            let Some(table) = machine.stroke(device) else { return Vec::new() };
            let way = match table.phase(phase).direction {
                Direction::Down | Direction::Short => 0,
                Direction::Up => 1,
                Direction::Back => 2,
            };
            let touches = u8::from(table.touches(phase));
            let mut values = vec![
                (speaker.way(unit), way.to_string()),
                (speaker.touch(unit), touches.to_string()),
            ];
            for (index, group) in speaker.groups(device).iter().enumerate() {
                let closed = group
                    .contacts
                    .first()
                    .and_then(|contact| table.contact_closed(*contact, phase))
                    .unwrap_or(group.closed_when_open);
                let changed = u8::from(closed != group.closed_when_open);
                values.push((speaker.changed(unit, index), changed.to_string()));
            }
            values
        }
        _ => own(phase),
    }
}

/// Everything that is printed.
struct Page<'m, 's> {
    speaker: Speaker<'m, 's>,
    moves: Moves,
    watch: Watch,
    clocks: BTreeMap<String, Clock>,
    tick: Option<i64>,
    begins: Vec<Vec<(String, String)>>,
}

impl Page<'_, '_> {
    fn text(&self, heading: &str) -> Result<String, std::fmt::Error> {
        let mut text = String::new();
        self.heading(&mut text, heading)?;
        self.variables(&mut text)?;
        self.definitions(&mut text)?;
        self.after(&mut text)?;
        self.process(&mut text)?;
        Ok(text)
    }
    fn heading(&self, text: &mut String, heading: &str) -> std::fmt::Result {
        let clean = |line: &str| line.replace("*/", "* /");
        writeln!(text, "/* {}", clean(heading).replace('\n', "\n   "))?;
        match self.tick {
            None => writeln!(text, "\n   In any order: times are left out.")?,
            Some(tick) => writeln!(
                text,
                "\n   Within tolerances: whole ticks of {} ms, which divide every declared time.",
                tick as f64 / 1000.0
            )?,
        }
        writeln!(
            text,
            "   Written by fiftytwo from the meaning of moves and from the ways of closed contacts.\n\
             \x20  A bound on volts stands beside each load; what it leaves open is tried both ways.\n\n\
             \x20    spin -a THIS && gcc -O2 -w -DSAFETY -DBFS -DNOREDUCE -o pan pan.c && ./pan -w24\n\n\
             \x20  The claim is broken where \"assertion violated\" is found. To count every position even\n\
             \x20  where it is broken: spin -a -DCOUNT. \"states, stored\" is the positions and one more,\n\
             \x20  before a run begins; transitions are the moves, {} for where runs begin, and one more.\n",
            self.begins.len()
        )?;
        for note in &self.speaker.notes {
            writeln!(text, "   {}", clean(note))?;
        }
        writeln!(text, "*/\n")
    }
    fn variables(&self, text: &mut String) -> std::fmt::Result {
        let kind = |is_bit: bool| if is_bit { "bit" } else { "byte" };
        for it in &self.moves.variables {
            writeln!(
                text,
                "{} {}; /* {} */",
                kind(it.is_bit),
                it.name,
                it.words.replace("*/", "")
            )?;
        }
        for (name, clock) in &self.clocks {
            let kind = match clock.cap {
                ..=255 => "byte",
                256..=32767 => "short",
                _ => "int",
            };
            writeln!(text, "{kind} {name}; /* a stopwatch; it stops at {} */", clock.cap)?;
        }
        for Kept { name, words, most } in &self.watch.memory {
            writeln!(text, "{} {name}; /* the claim: {words} */", kind(*most <= 1))?;
        }
        writeln!(text, "bit broken; /* the claim is broken */")?;
        for name in self.passing() {
            writeln!(text, "byte {name}; /* within one move only */")?;
        }
        writeln!(text)
    }
    /// What is known within one move only: zero again at its end.
    fn passing(&self) -> Vec<&str> {
        let before = self.used_before().map(|(name, _, _)| name.as_str());
        let watched = [
            ("w_closing", self.watch.counts.is_some()),
            ("w_person", self.watch.lockout.is_some()),
            ("w_rested", self.watch.asks_rested),
            ("w_stood", self.watch.asks_stood()),
            ("w_was", self.watch.was.is_some()),
        ];
        before.chain(watched.iter().filter(|(_, used)| *used).map(|(name, _)| *name)).collect()
    }
    fn used_before(&self) -> impl Iterator<Item = &(String, Bool, bool)> {
        self.moves.before.iter()
    }
    fn definitions(&self, text: &mut String) -> std::fmt::Result {
        for (name, so) in &self.speaker.defined {
            writeln!(text, "#define {name} {so}")?;
        }
        for (name, clock) in &self.clocks {
            writeln!(text, "#define RUN_{name} {}", clock.runs)?;
        }
        if self.tick.is_some() {
            writeln!(text, "#define AT_ONCE {}", self.at_once())?;
            writeln!(text, "#define IN_TIME {}", self.in_time())?;
        }
        writeln!(text)
    }
    /// Something must happen before time goes on.
    fn at_once(&self) -> Bool {
        Bool::any(self.due().filter(|(_, _, hi)| *hi == 0).map(|(so, _, _)| so))
    }
    /// Nothing is overdue if one more tick passes.
    fn in_time(&self) -> Bool {
        let tick = self.tick.unwrap_or(1);
        Bool::all(
            self.due().filter(|(_, _, hi)| *hi > 0).map(|(so, clock, hi)| {
                so.negated().or(Bool::word(format!("{clock} < {}", hi / tick)))
            }),
        )
    }
    /// What surely comes by itself: while so, this stopwatch reads at most that, µs.
    fn due(&self) -> impl Iterator<Item = (Bool, &str, i64)> {
        self.moves.list.iter().filter(|made| made.by_itself).flat_map(|made| {
            made.asks.iter().filter_map(|ask| {
                let sure = made.here.clone().and(made.drive.sure.clone()).and(ask.only.clone());
                Some((sure, ask.clock.as_str(), ask.hi?)).filter(|(so, _, _)| !so.is_never())
            })
        })
    }
    fn after(&self, text: &mut String) -> std::fmt::Result {
        writeln!(text, "/* What follows from a move at once. */\ninline look() {{")?;
        writeln!(
            text,
            "  if :: broken -> {} :: else fi;",
            self.watch
                .memory
                .iter()
                .map(|kept| format!("{} = 0", kept.name))
                .chain(["skip".to_owned()])
                .collect::<Vec<_>>()
                .join("; ")
        )?;
        for Kept { name, most, .. } in &self.watch.memory {
            // Spin leaves out of its positions what is never read.
            writeln!(text, "  assert({name} <= {most});")?;
        }
        for name in self.passing() {
            writeln!(text, "  {name} = 0;")?;
        }
        if self.tick.is_some() {
            // Which positions there are, times apart.
            let names: Vec<&str> = self
                .moves
                .variables
                .iter()
                .map(|it| it.name.as_str())
                .chain(self.watch.memory.iter().map(|kept| kept.name))
                .chain(["broken"])
                .collect();
            let signs = vec!["%d"; names.len()].join(" ");
            let values: Vec<String> = names.iter().map(|name| format!("now.{name}")).collect();
            writeln!(
                text,
                "#ifdef PLACES\n  c_code {{ printf(\"place {signs}\\n\", {}); }};\n#endif",
                values.join(", ")
            )?;
        }
        writeln!(text, "#ifndef COUNT\n  assert(!broken);\n#endif\n  skip\n}}")?;
        writeln!(text, "inline begins() {{")?;
        for line in &self.watch.start {
            writeln!(text, "  {line};")?;
        }
        writeln!(text, "  look()\n}}\ninline before() {{")?;
        for (name, so, _) in self.used_before() {
            writeln!(text, "  {name} = {so};")?;
        }
        writeln!(text, "  skip\n}}\ninline follows() {{")?;
        for line in &self.moves.settle {
            writeln!(text, "  {line};")?;
        }
        for name in self.clocks.keys() {
            writeln!(text, "  if :: !RUN_{name} -> {name} = 0 :: else fi;")?;
        }
        for line in &self.watch.step {
            writeln!(text, "  {line};")?;
        }
        writeln!(text, "  look()\n}}\n")
    }
    fn process(&self, text: &mut String) -> std::fmt::Result {
        writeln!(text, "active proctype runs() {{\n  /* Where a run begins. */\n  if")?;
        for values in &self.begins {
            let set: String =
                values.iter().map(|(name, value)| format!("{name} = {value}; ")).collect();
            writeln!(text, "  :: d_step {{ true -> {set}begins() }}")?;
        }
        writeln!(text, "  fi;\nend:\n  do")?;
        for made in &self.moves.list {
            self.one(text, made)?;
        }
        if self.tick.is_some() {
            self.time(text)?;
        }
        writeln!(text, "  od\n}}")
    }
    fn one(&self, text: &mut String, made: &Move) -> std::fmt::Result {
        let mut guard = self.watch.is_open().and(made.may());
        let mut lines = Vec::new();
        if let Some(tick) = self.tick {
            let early = made.asks.iter().filter(|ask| ask.lo > 0).map(|ask| {
                let late = Bool::word(format!("{} >= {}", ask.clock, ask.lo / tick));
                ask.only.clone().negated().or(late)
            });
            guard = guard.and(Bool::all(early));
        }
        lines.extend(self.watch.before(made, &self.speaker));
        lines.push("before()".to_owned());
        // Every new value is worked out from the old ones: no two of a move depend on each other.
        lines.extend(made.set.iter().map(|(name, value)| format!("{name} = {value}")));
        if made.restarts {
            let mut clocks: Vec<&String> = made.asks.iter().map(|ask| &ask.clock).collect();
            clocks.sort_unstable();
            clocks.dedup();
            let kept = clocks.into_iter().filter(|clock| self.clocks.contains_key(*clock));
            lines.extend(kept.map(|clock| format!("{clock} = 0")));
        }
        lines.push("follows()".to_owned());
        writeln!(text, "  /* {} */", made.words.replace("*/", ""))?;
        writeln!(text, "  :: d_step {{ {guard} -> {} }}", lines.join("; "))
    }
    fn time(&self, text: &mut String) -> std::fmt::Result {
        let goes_on = format!("{} && !AT_ONCE && IN_TIME", self.watch.is_open());
        writeln!(text, "  /* a tick passes */\n  :: d_step {{ {goes_on} ->")?;
        for (name, clock) in &self.clocks {
            writeln!(
                text,
                "     if :: RUN_{name} && {name} < {} -> {name}++ :: else fi;",
                clock.cap
            )?;
        }
        writeln!(text, "     skip }}")?;
        let (Some(lasts), Some(tick)) = (&self.watch.lasts, self.tick) else { return Ok(()) };
        // The time itself is still allowed: over from the next tick, the first that can be later.
        let over = lasts.time / tick + 1;
        writeln!(
            text,
            "  /* the time that the claim allows is over */\n  \
             :: d_step {{ !broken && RUN_{CLAIM} && {CLAIM} >= {over} -> broken = 1; {CLAIM} = 0; look() }}"
        )
    }
}
