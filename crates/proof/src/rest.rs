//! *Nothing hangs*, the half about motion: relays, latches and logic that feed back on themselves come
//! to rest when everything around them stands still.
//!
//! **In:** the machine, who depends on whom. **Out:** a verdict, with a run that goes round for ever.
//!
//! Devices that drive each other in a circle are taken together, everything else on their ways is held
//! in every combination of its resting positions: more than can come, so nothing is overlooked. In each
//! the moves that surely come must end. If they go round, a real run is looked for; only that refutes.
//! A breaker that closes and opens again is no matter of this claim but of *no pumping*.

use crate::cone::{Dependencies, units_of_expr};
use crate::monitor::Monitor;
use crate::questions::names;
use crate::report::{Report, Verdict};
use crate::round::{self, Round};
use crate::search::{Limits, Outcome, Search};
use crate::space::{ANY_NUMBER, Prepared, Product};
use crate::words::named;
use fiftytwo_motion::machine::{
    Agent, Deed, Evaluator, Machine, RelayPhase, Scope, State, UnitId, UnitKind,
};
use fiftytwo_motion::patient::Pace;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{DeviceKind, LogicRule, PartKind};
use std::collections::BTreeSet;

/// More combinations of what stands around a circle are not tried.
const MOST_AROUND: usize = 1 << 14;

/// Judges the claim.
pub(crate) fn decide(
    prepared: &Prepared<'_, '_>,
    dependencies: &Dependencies<'_, '_>,
    starts: &[State],
    limits: &Limits<'_>,
    report: &mut Report,
) {
    let machine = prepared.machine();
    let (mut left_out, mut open, mut positions) = (Vec::new(), Vec::new(), 0);
    let mut circles = circles(machine, dependencies, false);
    for circle in &mut circles {
        // What is left out stands in each of its positions while the others of its circle are asked.
        let waived: BTreeSet<UnitId> =
            circle.iter().copied().filter(|unit| reason(machine, *unit).is_some()).collect();
        for unit in &waived {
            let because = reason(machine, *unit).unwrap_or_default();
            left_out.push(format!("{}: {because}", machine.units[*unit].name));
        }
        circle.retain(|unit| !waived.contains(unit));
        match goes_round(prepared, dependencies, starts, limits, circle, &waived) {
            Ok(Circled { places, units }) => {
                positions += places;
                open.extend(units);
            }
            Err(why) => open.push(format!("{} ({why})", named(machine, &*circle))),
        }
    }
    circles.retain(|circle| !circle.is_empty());
    report.positions = positions;
    report.known.0 = circles.iter().map(BTreeSet::len).sum();
    if !open.is_empty() {
        let (verdict, because, story) = match endless_run(prepared, starts, limits) {
            Some(round) => {
                let (who, again) = (round.names(machine), round.words());
                let because = format!("nobody moves and it goes round for ever ({who}): {again}");
                (Verdict::Fails, because, Some(round.story))
            }
            None => (
                Verdict::NotProven,
                format!("{} may go on for ever; no run to it was found", open.join("; ")),
                None,
            ),
        };
        (report.verdict, report.because, report.story) = (verdict, Some(because), story);
        return;
    }
    report.verdict = Verdict::HoldsInAnyOrder;
    let looked: Vec<String> = circles.iter().map(|circle| named(machine, circle)).collect();
    let mut because = match looked.as_slice() {
        [] if !left_out.is_empty() => "nothing else acts on itself".to_owned(),
        [] => "no relay, latch or logic acts on itself".to_owned(),
        some => format!("what acts on itself comes to rest: {}", some.join("; ")),
    };
    if !left_out.is_empty() {
        because += &format!("; left out: {}", left_out.join("; "));
    }
    report.because = Some(because);
}

/// What was not shown to come to rest by itself, waived or not, without a stroke in between.
pub(crate) fn without_end(
    prepared: &Prepared<'_, '_>,
    dependencies: &Dependencies<'_, '_>,
    starts: &[State],
    limits: &Limits<'_>,
) -> BTreeSet<UnitId> {
    let nobody = BTreeSet::new();
    let rests = |circle: &BTreeSet<UnitId>| {
        let round = goes_round(prepared, dependencies, starts, limits, circle, &nobody);
        matches!(round, Ok(Circled { units: None, .. }))
    };
    let all = circles(prepared.machine(), dependencies, true);
    all.into_iter().filter(|circle| !rests(circle)).flatten().collect()
}

/// Why a device is left out of the claim.
pub(crate) fn reason<'s>(machine: &Machine<'s>, unit: UnitId) -> Option<&'s str> {
    let name = &machine.units[unit].name;
    let waiver = machine
        .scheme
        .waivers
        .iter()
        .find(|waiver| waiver.claim == names::HANGS && waiver.for_name.as_ref() == Some(name));
    waiver.map(|waiver| waiver.because.as_str())
}

/// What settles by itself, without a stroke, a hand or the world in between.
fn settles(kind: &UnitKind) -> bool {
    matches!(
        kind,
        UnitKind::Relay(_)
            | UnitKind::Bistable(_)
            | UnitKind::Logic(_)
            | UnitKind::Contact(_)
            | UnitKind::Input(_)
    )
}

/// Units that drive each other in a circle, and latches that two coils may pull.
/// With `conditions` those too that follow devices.
fn circles(
    machine: &Machine<'_>,
    dependencies: &Dependencies<'_, '_>,
    conditions: bool,
) -> Vec<BTreeSet<UnitId>> {
    let follows = |kind: &UnitKind| matches!(kind, UnitKind::Condition(id) if !machine.scheme.conditions[*id].becomes.is_empty());
    let nodes: Vec<UnitId> = machine
        .units
        .iter()
        .filter(|(_, item)| settles(&item.kind) || (conditions && follows(&item.kind)))
        .map(|(unit, _)| unit)
        .collect();
    let reach = |from: UnitId| {
        let mut found: BTreeSet<UnitId> = BTreeSet::new();
        let mut waiting = vec![from];
        while let Some(unit) = waiting.pop() {
            let mut next = dependencies.on_ways(unit).clone();
            // What moves a unit leaves the unit itself out; its own contacts put it back.
            if reads_itself(machine, unit) {
                next.insert(unit);
            }
            for next in next.into_iter().filter(|next| nodes.contains(next)) {
                if found.insert(next) {
                    waiting.push(next);
                }
            }
        }
        found
    };
    let reached: Vec<(UnitId, BTreeSet<UnitId>)> =
        nodes.iter().map(|unit| (*unit, reach(*unit))).collect();
    let mut found: Vec<BTreeSet<UnitId>> = Vec::new();
    for (unit, ahead) in &reached {
        let mut circle: BTreeSet<UnitId> = reached
            .iter()
            .filter(|(other, back)| ahead.contains(other) && back.contains(unit))
            .map(|(other, _)| *other)
            .collect();
        if pulled_both_ways(machine, *unit) {
            circle.insert(*unit);
        }
        if !circle.is_empty() && !found.contains(&circle) {
            found.push(circle);
        }
    }
    found
}

fn pulled_both_ways(machine: &Machine<'_>, unit: UnitId) -> bool {
    let UnitKind::Bistable(device) = machine.units[unit].kind else { return false };
    let scheme = machine.scheme;
    let coils = scheme.devices[device].parts.iter().filter(|part| {
        let part = &scheme.parts[**part];
        matches!(part.kind, PartKind::Coil(_)) && part.at.is_some()
    });
    coils.count() > 1
}

/// Whether a device's own contact stands on a way of its own coil, or a line of logic reads itself.
fn reads_itself(machine: &Machine<'_>, unit: UnitId) -> bool {
    let scheme = machine.scheme;
    let reads = |part: fiftytwo_scheme::PartId| {
        let mut read = BTreeSet::new();
        if let PartKind::Contact(contact) = &scheme.parts[part].kind {
            units_of_expr(machine, &contact.closed_when.expr, &mut read);
        }
        read.contains(&unit)
    };
    match machine.units[unit].kind {
        UnitKind::Relay(device) | UnitKind::Bistable(device) => {
            let coils = scheme.devices[device]
                .parts
                .iter()
                .filter(|part| matches!(scheme.parts[**part].kind, PartKind::Coil(_)));
            coils.into_iter().any(|coil| {
                let Some(section) = machine.wiring.section_of(*coil) else { return false };
                let ways = machine.wiring.ways(*coil);
                if ways.complete {
                    ways.list.iter().flat_map(|way| &way.parts).any(|part| reads(*part))
                } else {
                    machine.wiring.switches(section).iter().any(|part| reads(*part))
                }
            })
        }
        UnitKind::Logic(logic) => {
            let mut read = BTreeSet::new();
            match &scheme.logics[logic].rule {
                LogicRule::When { when, .. } => units_of_expr(machine, &when.expr, &mut read),
                LogicRule::Memory { set, clear } => {
                    units_of_expr(machine, &set.expr, &mut read);
                    units_of_expr(machine, &clear.expr, &mut read);
                }
            }
            read.contains(&unit)
        }
        _ => false,
    }
}

/// What came of one circle: positions looked at, and the units that go round.
struct Circled {
    places: usize,
    units: Option<String>,
}

fn goes_round(
    prepared: &Prepared<'_, '_>,
    dependencies: &Dependencies<'_, '_>,
    starts: &[State],
    limits: &Limits<'_>,
    circle: &BTreeSet<UnitId>,
    waived: &BTreeSet<UnitId>,
) -> Result<Circled, String> {
    let machine = prepared.machine();
    if circle.is_empty() {
        return Ok(Circled { places: 0, units: None });
    }
    let around: BTreeSet<UnitId> = circle
        .iter()
        .flat_map(|unit| dependencies.on_ways(*unit).iter().copied())
        .filter(|unit| !crate::cone::never_moves(&machine.units[*unit].kind))
        .chain(circle.iter().copied())
        .collect();
    let first = starts.first().cloned().unwrap_or_else(|| machine.drawn());
    let mut states = vec![first];
    for &unit in &around {
        let phases = resting(machine, unit);
        if states.len() * phases.len() > MOST_AROUND {
            return Err("too much stands around it".to_owned());
        }
        states = states
            .iter()
            .flat_map(|state| {
                phases.iter().map(|phase| {
                    let mut state = state.clone();
                    state.set(unit, *phase);
                    state
                })
            })
            .collect();
    }
    let moved: BTreeSet<UnitId> = circle.union(waived).copied().collect();
    states.retain(|state| may_stand(machine, &around, &moved, state));
    let mut scope = Scope::whole(machine);
    for unit in machine.units.ids() {
        scope.held[unit.index()] = !circle.contains(&unit);
    }
    let monitor = Monitor::ComesToRest;
    let product = Product::of(prepared, &scope, &monitor, &states, false, ANY_NUMBER)
        .ok_or("more devices hang together than one search can hold")?;
    let search = Search::run(&product, limits);
    match search.outcome() {
        Outcome::Exhausted { places, .. } => {
            let units = product.endless(search.places(), true, |place| search.find(place));
            Ok(Circled { places, units })
        }
        _ => Err("the limit on positions".to_owned()),
    }
}

/// Whether what stands around a circle can stand so for ever, whatever the circle does: none of it is
/// surely on its way within a time.
fn may_stand(
    machine: &Machine<'_>,
    around: &BTreeSet<UnitId>,
    circle: &BTreeSet<UnitId>,
    state: &State,
) -> bool {
    let mut scope = Scope::of(vec![false; machine.units.len()]);
    for (unit, item) in machine.units.iter() {
        let stands = around.contains(&unit) && !circle.contains(&unit);
        scope.known[unit.index()] = stands || crate::cone::never_moves(&item.kind);
    }
    let evaluator = Evaluator::new(machine, &scope);
    !evaluator.look(state).actions().iter().any(|action| {
        action.agent == Agent::Device
            && action.deed != Deed::Give
            && action.certainty.sure()
            && !action.timing.is_empty()
            && action.timing.iter().all(|timing| timing.hi.is_some())
    })
}

/// The phases in which a unit may stand still.
fn resting(machine: &Machine<'_>, unit: UnitId) -> Vec<u8> {
    let item = &machine.units[unit];
    match item.kind {
        UnitKind::Relay(_) => vec![RelayPhase::Dropped as u8, RelayPhase::Picked as u8],
        UnitKind::Bistable(device) => {
            let positions = machine.scheme.devices[device].positions.len();
            (0..u8::try_from(positions).unwrap_or(u8::MAX)).collect()
        }
        UnitKind::Stroke(device) => {
            vec![0, machine.stroke(device).map_or(0, |table| table.closed)]
        }
        UnitKind::Energy(device) => match &machine.scheme.devices[device].kind {
            DeviceKind::Breaker { energy: Some(_), .. } => vec![0, item.phases / 2 - 1],
            _ => vec![0],
        },
        // A bounce ends, and so does the time that something stays.
        UnitKind::Contact(_) => vec![0, 1],
        UnitKind::Stay(_) => vec![0],
        _ => (0..item.phases).collect(),
    }
}

/// A real run in which devices go round for ever without a stroke.
fn endless_run(
    prepared: &Prepared<'_, '_>,
    starts: &[State],
    limits: &Limits<'_>,
) -> Option<Round> {
    let scope = Scope::whole(prepared.machine());
    let paces = [Pace::Middle];
    round::look_for(prepared, &scope, &Monitor::ComesToRest, starts, &paces, limits)
        .filter(|round| !round.has_a_stroke(prepared.machine()))
}
