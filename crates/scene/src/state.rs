//! A story's moments as states to be drawn. **In:** a scheme, one of its stories, times. **Out:** for
//! each time where every wire lies and what every part does, from the engines. **Never here:**
//! strokes, files, any state that no engine gave.

use crate::told::{Told, told};
use fiftytwo_circuit::{Bench, Ends, Setup};
use fiftytwo_motion::machine::{Evaluator, Look, Scope};
use fiftytwo_motion::{Machine, PlayOptions, Timeline, play_seen};
use fiftytwo_scheme::{
    Atom, CurrentKind, Finding, NodeId, PartId, PartKind, Scheme, Story, SupplyId,
};
use fiftytwo_sheet::{Level, Live, PartNow, WireNow};
use std::collections::BTreeMap;

/// Current from which a part counts as conducting, A: a relay's coil does, a lamp or an input
/// does not.
const CONDUCTS: f64 = 0.01;
/// Share of the supply's voltage within which a wire lies at a pole.
const AT_POLE: f64 = 0.05;

/// One moment of a story.
#[derive(Debug)]
pub struct Moment {
    /// The state; pointers show what does not stand as drawn.
    pub live: Live,
    /// The same; pointers show what changed since the moment before.
    pub since: Live,
}

/// What a look at the machine tells, kept.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// For what switches: whether it is closed.
    pub closed: BTreeMap<PartId, bool>,
    /// For what acts: whether it does.
    pub on: BTreeMap<PartId, bool>,
    /// Supplies that are lost.
    pub dead: Vec<SupplyId>,
}

/// What a look at the machine tells of every part.
pub fn seen(scheme: &Scheme, look: &Look<'_, '_, '_>) -> Seen {
    let mut seen = Seen::default();
    for (id, part) in scheme.parts.iter() {
        match part.kind {
            PartKind::Contact(_) => {
                seen.closed.insert(id, look.closed(id).sure());
            }
            PartKind::Link => {
                seen.closed.insert(id, !look.atom(Atom::LinkOpen(id)).sure());
            }
            PartKind::Fuse { .. } => {
                seen.closed.insert(id, !look.atom(Atom::Blown(id)).sure());
            }
            PartKind::Coil(_) => {
                seen.on.insert(id, look.atom(Atom::Driven(id)).sure());
            }
            PartKind::Lamp(_) => {
                seen.on.insert(id, look.atom(Atom::Lit(id)).sure());
            }
            PartKind::Motor(_) => {
                seen.on.insert(id, look.atom(Atom::Running(id)).sure());
            }
            PartKind::Input(_) => {
                seen.on.insert(id, look.atom(Atom::InputOn(id)).sure());
            }
            _ => {}
        }
    }
    seen.dead =
        scheme.supplies.ids().filter(|supply| !look.atom(Atom::Live(*supply)).sure()).collect();
    seen
}

/// The states of a story at those times, µs, each after everything that happens at that time.
///
/// # Errors
/// Findings where the scheme cannot be set in motion or the voltages of a moment are not known:
/// nothing is drawn then.
pub fn moments(
    scheme: &Scheme,
    story: &Story,
    times: &[i64],
) -> Result<(Vec<Moment>, Timeline), Vec<Finding>> {
    let machine = Machine::new(scheme)?;
    let scope = Scope::whole(&machine);
    let mut kept: Vec<Seen> = vec![Seen::default(); times.len()];
    let timeline = play_seen(
        &Evaluator::new(&machine, &scope),
        story,
        PlayOptions::default(),
        &mut |now, look| {
            for (at, kept) in times.iter().zip(&mut kept) {
                if now <= *at || kept.closed.is_empty() {
                    *kept = seen(scheme, look);
                }
            }
        },
    );
    let mut moments = Vec::new();
    for (index, (at, now)) in times.iter().zip(&kept).enumerate() {
        let bench = Bench::new(scheme);
        let before = index.checked_sub(1).and_then(|before| kept.get(before));
        let live = now.live(&bench, None).map_err(|fault| vec![fault])?;
        let since = match before {
            Some(_) => now.live(&bench, before).map_err(|fault| vec![fault])?,
            None => live.clone(),
        };
        let Told { what, .. } = told(scheme, &timeline.events, None, (i64::MIN, *at));
        let title = format!("{}, at {}: {what}", story.name, milliseconds(*at));
        moments.push(Moment { live: Live { title, ..live }, since });
    }
    Ok((moments, timeline))
}

/// A time in words.
pub fn milliseconds(us: i64) -> String {
    let ms = us as f64 / 1000.0;
    if us % 1000 == 0 { format!("{ms:.0} ms") } else { format!("{ms:.1} ms") }
}

impl Seen {
    /// How the scheme stands on the bench in this state, supplies nominal, all at 20 °C.
    pub fn setup(&self, bench: &Bench<'_>) -> Setup {
        let mut setup = bench.setup().at(Ends::NOMINAL);
        for (part, closed) in &self.closed {
            setup = setup.with_closed(*part, *closed);
        }
        for supply in &self.dead {
            setup = setup.without(*supply);
        }
        setup
    }
    /// The state with its volts and amperes. `before`: the state against which parts are pointed at;
    /// none: the one drawn.
    ///
    /// # Errors
    /// What keeps the bench from telling volts; nothing is drawn then.
    pub fn live(&self, bench: &Bench<'_>, before: Option<&Seen>) -> Result<Live, Finding> {
        self.live_on(bench, &self.setup(bench), before)
    }
    /// The same with a bench that stands otherwise, such as with a fault put in.
    ///
    /// # Errors
    /// As [`Seen::live`].
    pub fn live_on(
        &self,
        bench: &Bench<'_>,
        setup: &Setup,
        before: Option<&Seen>,
    ) -> Result<Live, Finding> {
        live(bench, self, setup, before)
    }
}

fn live(
    bench: &Bench<'_>,
    now: &Seen,
    setup: &Setup,
    before: Option<&Seen>,
) -> Result<Live, Finding> {
    let scheme = bench.scheme();
    let readings = bench.solve(setup).map_err(|fault| fault.finding(scheme))?;
    let wires: BTreeMap<NodeId, WireNow> = scheme
        .nodes
        .ids()
        .map(|node| {
            let volts = readings.potential(node);
            let pole = bench.supply_of(node).map(|supply| &scheme.supplies[supply]);
            let full = pole.map_or(0.0, |supply| supply.nominal.middle());
            let level = match volts {
                None => Level::Floating,
                Some(volts) if volts >= full * (1.0 - AT_POLE) => Level::Plus,
                Some(volts) if volts <= full * AT_POLE => Level::Minus,
                Some(_) => Level::Between,
            };
            (node, WireNow { level, volts })
        })
        .collect();
    let mut parts = BTreeMap::new();
    let shared = crate::sharing::shared(scheme, &readings);
    for (id, part) in scheme.placed() {
        let closed = now.closed.get(&id).copied();
        let amps = readings.amps(id).or_else(|| shared.get(&id).copied());
        let on = now.on.get(&id).copied();
        let across = readings.across(id).map_or(0.0, f64::abs);
        let note = match &part.kind {
            PartKind::Coil(_) | PartKind::Motor(_) if on == Some(true) => {
                let volts = fiftytwo_sheet::shown_volts(across);
                Some(amps.map_or(volts.clone(), |amps| format!("{volts} {}", amperes(amps))))
            }
            PartKind::Lamp(_) | PartKind::Input(_) if on == Some(true) => {
                Some(format!("on, {}", fiftytwo_sheet::shown_volts(across)))
            }
            PartKind::Fuse { .. } if closed == Some(false) => Some("blown".to_owned()),
            PartKind::Link if closed == Some(false) => Some("open".to_owned()),
            _ => None,
        };
        let rest = match &part.kind {
            PartKind::Contact(_) => Some(fiftytwo_sheet::is_drawn_closed(scheme, id)),
            PartKind::Link | PartKind::Fuse { .. } => Some(true),
            _ => None,
        };
        let other = before.map_or(rest, |before| before.closed.get(&id).copied());
        let pointed_at = closed.is_some() && closed != other;
        parts.insert(id, PartNow { closed, on, note, amps, pointed_at });
    }
    let pointer =
        if before.is_some() { "changed since the step before" } else { "not as drawn at rest" };
    Ok(Live {
        title: String::new(),
        wires,
        parts,
        lost: now.dead.iter().copied().collect(),
        conducts_from: CONDUCTS,
        pointer: pointer.to_owned(),
        notes: notes(scheme, &now.dead, shared.values().any(|amps| amps.abs() >= CONDUCTS)),
    })
}

/// What the numbers on the sheet stand for.
fn notes(scheme: &Scheme, lost: &[SupplyId], shares: bool) -> Vec<String> {
    let names: Vec<&str> = lost.iter().map(|id| scheme.supplies[*id].name.as_str()).collect();
    let supplies = match (names.as_slice(), names.len() == scheme.supplies.len()) {
        ([], _) => "Supplies at nominal volts".to_owned(),
        ([one], true) => format!("{one} is lost"),
        ([one], false) => format!("{one} is lost, others at nominal volts"),
        (_, true) => format!("{} are lost", names.join(" and ")),
        (_, false) => format!("{} are lost, others at nominal volts", names.join(" and ")),
    };
    let ac = scheme.supplies.values().any(|supply| supply.current == CurrentKind::Ac);
    let against = if ac { "minus, AC against N" } else { "minus" };
    let mut notes = vec![format!("{supplies}, all at 20 °C; volts against {against}.")];
    if shares {
        notes.push(
            "Ways without resistance side by side are drawn with equal shares of the current."
                .to_owned(),
        );
    }
    notes
}

/// Amperes as they stand on a sheet.
pub fn amperes(amps: f64) -> String {
    let amps = amps.abs();
    if amps < 0.1 {
        format!("{:.0} mA", amps * 1000.0)
    } else if amps < 10.0 {
        format!("{amps:.1} A")
    } else {
        format!("{amps:.0} A")
    }
}
