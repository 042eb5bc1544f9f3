//! What a claim watches, as lines of the model: from the table of claims in `docs/proof.md`.
//!
//! **In:** the claim's monitor (which statements and coils it speaks of). **Out:** [`Watch`].
//! **Never here:** `Monitor::step`; what is only perhaps is read in the way that hurts the claim.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::moves::{Move, Moves};
use super::say::Speaker;
use crate::monitor::Monitor;
use fiftytwo_scheme::{DeviceId, Expr};

/// What is written for a claim.
#[derive(Debug, Default)]
pub(super) struct Watch {
    /// What it remembers.
    pub(super) memory: Vec<(&'static str, &'static str)>,
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
}

impl Watch {
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
            let line = format!("if :: {so} -> broken = 1 :: else fi");
            watch.start.push(line.clone());
            watch.step.push(line);
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
            watch.memory.push(("settled", "everything has rested since the need went"));
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
            watch.memory.push(("stands", "the order stands"));
            watch.memory.push(("once", "a closing has begun under it"));
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
        Monitor::RefusesOrder { breaker, source, union, needs } => {
            watch.memory.push(("stands", "an order stands"));
            watch.memory.push(("waits", "a fresh order at rest waits for its closing"));
            watch.counts = Some(*breaker);
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
            watch.step.push(format!("if :: !{still} || w_closing -> waits = 0 :: else fi"));
            watch.step.push("if :: waits && RESTLESS == 0 -> broken = 1 :: else fi".to_owned());
        }
        Monitor::StaysClosed { breaker, trip } => {
            let trip = speaker.expr(trip)?.may;
            let closed =
                speaker.expr(&Expr::Atom(fiftytwo_scheme::Atom::Position(*breaker, 1)))?.may;
            let bad = Bool::all([trip, closed]);
            let line = format!("if :: {bad} && RESTLESS == 0 -> broken = 1 :: else fi");
            watch.start.push(line.clone());
            watch.step.push(line);
        }
        Monitor::ClosesLockedOut { breaker, lockout, locked } => {
            watch.memory.push(("locked", "it has operated and nobody has reset it"));
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
