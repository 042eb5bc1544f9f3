//! What a claim watches, as lines of the model: from the table of claims in `docs/proof.md`.
//!
//! **In:** the claim's monitor (which statements and coils it speaks of). **Out:** [`Watch`].
//! **Never here:** `Monitor::step`; what is only perhaps is read in the way that hurts the claim.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::moves::{Move, Moves};
use super::say::Speaker;
use crate::monitor::{Aim, Monitor, Quiet};
use fiftytwo_scheme::{DeviceId, Expr};

/// Something a claim remembers.
#[derive(Debug)]
pub(super) struct Kept {
    pub(super) name: &'static str,
    pub(super) words: &'static str,
    /// The greatest value it takes.
    pub(super) most: u8,
}

/// A statement that may not last longer than a time.
#[derive(Debug)]
pub(super) struct Lasts {
    pub(super) what: Bool,
    /// The time itself is still allowed, µs.
    pub(super) time: i64,
}

/// What is written for a claim.
#[derive(Debug, Default)]
pub(super) struct Watch {
    /// What it remembers.
    pub(super) memory: Vec<Kept>,
    /// Looked at once, where a run begins.
    pub(super) start: Vec<String>,
    /// Looked at after every move; it may read `w_closing`, `w_person` and `w_rested`.
    pub(super) step: Vec<String>,
    /// The breaker whose closings it counts.
    pub(super) counts: Option<DeviceId>,
    /// The lockout that a person resets.
    pub(super) lockout: Option<DeviceId>,
    /// It asks whether everything rested but for the move itself.
    pub(super) asks_rested: bool,
    /// It asks whether this was so before the move.
    pub(super) was: Option<Bool>,
    /// It remembers `done`: then nothing that comes later can break it.
    pub(super) may_be_done: bool,
    /// What must not last; only within tolerances, in any order it must not be.
    pub(super) lasts: Option<Lasts>,
}

impl Watch {
    fn remembers(&mut self, name: &'static str, words: &'static str, most: u8) {
        self.memory.push(Kept { name, words, most });
    }
    /// Looked at where a run begins and after every move.
    fn always(&mut self, line: String) {
        self.start.push(line.clone());
        self.step.push(line);
    }
    /// Whether it compares with what stood before the move.
    pub(super) fn asks_stood(&self) -> bool {
        self.memory.iter().any(|kept| ["stands", "during"].contains(&kept.name))
    }
    /// Nothing is decided yet.
    pub(super) fn is_open(&self) -> Bool {
        let done = self.may_be_done.then(|| Bool::word("done").negated());
        Bool::all(std::iter::once(Bool::word("broken").negated()).chain(done))
    }
    /// The lines just before a move is made.
    pub(super) fn before(&self, made: &Move, speaker: &Speaker<'_, '_>) -> Vec<String> {
        let mut lines = Vec::new();
        if self.counts.is_some() {
            let closes = made.closes.is_some() && made.closes == self.counts;
            lines.push(format!("w_closing = {}", u8::from(closes)));
        }
        if let Some(lockout) = self.lockout {
            let its = speaker.machine.device_unit(lockout) == Some(made.unit);
            lines.push(format!("w_person = {}", u8::from(its && !made.by_itself)));
        }
        if self.asks_rested {
            let own = u8::from(!made.restless().is_never());
            // Where its drive is only perhaps the move itself need not be among them.
            let own = match (own, made.drive.is_known()) {
                (0, _) => "0".to_owned(),
                (_, true) => "1".to_owned(),
                _ => made.restless().to_string(),
            };
            lines.push(format!("w_rested = (RESTLESS == {own})"));
        }
        if let Some(was) = &self.was {
            lines.push(format!("w_was = {was}"));
        }
        lines
    }
}

/// Writes down what a claim watches.
pub(super) fn watch(
    monitor: &Monitor,
    speaker: &mut Speaker<'_, '_>,
    moves: &Moves,
) -> Result<Watch, Refusal> {
    let mut watch = Watch::default();
    match monitor {
        Monitor::Holds { what } => {
            let so = speaker.expr(what)?.may;
            watch.always(format!("if :: {so} -> broken = 1 :: else fi"));
        }
        Monitor::AtRest { what, held, .. } => {
            let closed = held.map_or(Bool::Is(true), |device| speaker.stands_closed(device));
            let so = speaker.expr(what)?.may.and(closed);
            watch.always(format!("if :: {so} && RESTLESS == 0 -> broken = 1 :: else fi"));
        }
        Monitor::Longer { quiet: Quiet::Yes, .. } => {
            return Err(Refusal("what counts only at rest is not exported".to_owned()));
        }
        Monitor::Longer { what, time, held, .. } => {
            let closed = held.map_or(Bool::Is(true), |device| speaker.stands_closed(device));
            let what = speaker.expr(what)?.may.and(closed);
            if speaker.timed {
                watch.lasts = Some(Lasts { what, time: *time });
            } else {
                watch.always(format!("if :: {what} -> broken = 1 :: else fi"));
            }
        }
        Monitor::Unasked { coils, asked } => {
            watch.remembers("done", "somebody has asked", 1);
            watch.may_be_done = true;
            let asked = speaker.expr(asked)?.sure;
            let mut driven = Vec::new();
            for coil in coils {
                driven.push(speaker.seen(*coil)?.pickup.may);
            }
            let driven = Bool::any(driven);
            watch.always(format!(
                "if :: {asked} -> done = 1 :: !{asked} && {driven} -> broken = 1 :: else fi"
            ));
        }
        Monitor::MoreThan { times, of, during } => {
            more_than(&mut watch, speaker, *times, of, during.as_ref())?
        }
        Monitor::DrivenWithout { coils, need, at_rest } => {
            let met = speaker.expr(need)?;
            let met = speaker.define("NEED_MET", met).sure;
            let mut driven = Vec::new();
            for coil in coils {
                driven.push(speaker.seen(*coil)?.pickup.may);
            }
            let driven = Bool::any(driven);
            // Remembered in either case: positions are counted with it.
            watch.remembers("settled", "everything has rested since the need went", 1);
            let mut lines = vec![format!(
                "if :: {met} -> settled = 0 :: !{met} && RESTLESS == 0 -> settled = 1 \
                 :: else fi"
            )];
            let asked = if *at_rest { Bool::word("settled") } else { Bool::Is(true) };
            let bad = Bool::all([asked, driven, met.negated()]);
            lines.push(format!("if :: {bad} -> broken = 1 :: else fi"));
            watch.start.clone_from(&lines);
            watch.step = lines;
        }
        Monitor::ClosesTwice { breaker, union } => {
            watch.remembers("stands", "the order stands", 1);
            watch.remembers("once", "a closing has begun under it", 1);
            watch.counts = Some(*breaker);
            let stood = stands(&mut watch, speaker, union)?;
            watch.step.push(stood);
            watch.step.push("if :: stands && !w_stood -> once = 0 :: else fi".to_owned());
            watch.step.push(
                "if :: w_closing && once -> broken = 1 :: w_closing && !once -> once = 1 \
                 :: else fi"
                    .to_owned(),
            );
        }
        Monitor::RefusesOrder { breaker, source, union, needs, aim: Aim::Close, .. } => {
            watch.remembers("stands", "an order stands", 1);
            watch.remembers("waits", "a fresh order at rest waits for its closing", 1);
            watch.asks_rested = true;
            let stood = stands(&mut watch, speaker, union)?;
            watch.step.push(stood);
            let source = speaker.expr(source)?.sure;
            let mut permitted = Vec::new();
            for need in needs {
                permitted.push(speaker.expr(need)?);
            }
            let trips = trips(speaker, *breaker)?;
            let permitted = Tri::all(permitted).sure.and(trips.negated());
            let permitted = speaker.define("PERMITTED", Tri::known(permitted)).sure;
            let open =
                speaker.expr(&Expr::Atom(fiftytwo_scheme::Atom::Position(*breaker, 0)))?.sure;
            let charged = match speaker.machine.energy_unit(*breaker) {
                Some(unit) => speaker.charged(unit),
                None => Bool::Is(true),
            };
            let fresh = Bool::all([
                Bool::word("stands"),
                Bool::word("w_stood").negated(),
                Bool::word("w_rested"),
                source.clone(),
                permitted.clone(),
                open,
                charged,
            ]);
            watch.step.push(format!("if :: {fresh} -> waits = 1 :: else fi"));
            let still = source.and(permitted);
            let closed =
                speaker.expr(&Expr::Atom(fiftytwo_scheme::Atom::Position(*breaker, 1)))?.sure;
            watch.step.push(format!("if :: !{still} || {closed} -> waits = 0 :: else fi"));
            watch.step.push("if :: waits && RESTLESS == 0 -> broken = 1 :: else fi".to_owned());
        }
        Monitor::StaysClosed { breaker, trip } => {
            let trip = speaker.expr(trip)?.may;
            let closed =
                speaker.expr(&Expr::Atom(fiftytwo_scheme::Atom::Position(*breaker, 1)))?.may;
            let bad = Bool::all([trip, closed]);
            watch.always(format!("if :: {bad} && RESTLESS == 0 -> broken = 1 :: else fi"));
        }
        Monitor::ClosesLockedOut { breaker, lockout, locked } => {
            watch.remembers("locked", "it has operated and nobody has reset it", 1);
            watch.counts = Some(*breaker);
            watch.lockout = Some(*lockout);
            let locked = speaker.expr(locked)?.may;
            let sees = format!("if :: {locked} -> locked = 1 :: else fi");
            watch.start.push(sees.clone());
            watch.step.push("if :: w_closing && locked -> broken = 1 :: else fi".to_owned());
            watch.step.push("if :: w_person -> locked = 0 :: else fi".to_owned());
            watch.step.push(sees);
        }
        #[allow(unreachable_patterns, reason = "claims of later kinds are refused, not mistaken")]
        other => {
            let kind = format!("{other:?}");
            let kind = kind.split([' ', '{', '(']).next().unwrap_or_default().to_owned();
            return Err(Refusal(format!("a claim of the kind {kind} is not exported yet")));
        }
    }
    let restless = moves.list.iter().map(Move::restless).filter(|so| !so.is_never());
    let restless: Vec<String> = restless.map(|so| so.to_string()).collect();
    let count = if restless.is_empty() { "0".to_owned() } else { restless.join(" + ") };
    speaker.defined.push(("RESTLESS".to_owned(), Bool::Word(count)));
    Ok(watch)
}

/// Counts how often something becomes so while something else stands; what is only perhaps so may
/// just have become so, and may become so again.
fn more_than(
    watch: &mut Watch,
    speaker: &mut Speaker<'_, '_>,
    times: u8,
    of: &Expr,
    during: Option<&Expr>,
) -> Result<(), Refusal> {
    watch.remembers("so", "it is so, or perhaps", 1);
    watch.remembers("during", "it is counted", 1);
    watch.remembers("times", "how often it has become so", times.max(1));
    let of = speaker.expr(of)?;
    let of = speaker.define("COUNTED", of);
    let during = match during {
        Some(during) => speaker.expr(during)?,
        None => Tri::is(true),
    };
    let during = speaker.define("DURING", during);
    watch.was = Some(of.sure.clone());
    watch.start.push(format!("if :: {} -> so = 1 :: else fi", of.may));
    watch.start.push(format!("if :: {} -> during = 1 :: else fi", during.may));
    let afresh = Bool::all([
        of.may.clone(),
        Bool::all([Bool::word("so"), of.sure, Bool::word("w_was")]).negated(),
        Bool::any([Bool::word("during"), Bool::word("w_stood")]),
    ]);
    // What begins with the count in one instant is counted.
    watch.step.push(format!(
        "w_stood = during; if :: {} -> during = 1 :: else -> during = 0 fi",
        during.may
    ));
    watch.step.push("if :: during && !w_stood -> times = 0 :: else fi".to_owned());
    watch.step.push(format!(
        "if :: {afresh} && times >= {times} -> broken = 1 :: {afresh} && times < {times} -> \
         times = times + 1 :: else fi"
    ));
    watch.step.push(format!("if :: {} -> so = 1 :: else -> so = 0 fi", of.may));
    watch.step.push("if :: during :: else -> times = 0 fi".to_owned());
    Ok(())
}

/// An order that is only perhaps given is taken as unchanged.
fn stands(
    watch: &mut Watch,
    speaker: &mut Speaker<'_, '_>,
    union: &Expr,
) -> Result<String, Refusal> {
    let so = speaker.expr(union)?;
    let so = speaker.define("ORDER", so);
    watch.start.push(format!("if :: {} -> stands = 1 :: else fi", so.may));
    Ok(if so.is_known() {
        format!("w_stood = stands; if :: {} -> stands = 1 :: else -> stands = 0 fi", so.may)
    } else {
        format!(
            "w_stood = stands; if :: {} -> stands = 1 :: !{} -> stands = 0 :: else fi",
            so.sure, so.may
        )
    })
}

fn trips(speaker: &mut Speaker<'_, '_>, breaker: DeviceId) -> Result<Bool, Refusal> {
    let scheme = speaker.scheme;
    let mut any = Vec::new();
    for &part in &scheme.devices[breaker].parts {
        if let fiftytwo_scheme::PartKind::Coil(coil) = &scheme.parts[part].kind
            && coil.drives_to == 0
        {
            any.push(speaker.seen(part)?.pickup.may);
        }
    }
    Ok(Bool::any(any))
}
