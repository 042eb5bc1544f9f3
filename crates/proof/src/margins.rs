//! For a claim that a race decides: for each declared bound alone, the value at which it falls.
//!
//! The bound is moved away from what was declared, further and further, until the claim no
//! longer holds; then the edge is sought between. "Holds to" is proven, "fails from" is replayed.
//! Whole milliseconds are tried, and the declared bound itself, whole or not.

use crate::asked::{Asked, Found, RACES_FIRST, Steps};
use crate::cone::Dependencies;
use crate::prove::{Options, ladder_of, starts, starts_of};
use crate::questions::{Question, questions};
use crate::report::Margin;
use crate::space::{ANY_NUMBER, Prepared};
use fiftytwo_motion::machine::{Machine, Scope};
use fiftytwo_scheme::{DeviceKind, PartId, PartKind, Scheme};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// One millisecond, µs.
const MS: i64 = 1000;
/// Furthest a bound is moved, as a factor: beyond it a race is none.
const FURTHEST: i64 = 16;
/// Most positions of one search for an edge.
pub(crate) const MOST_PLACES: usize = 50_000;
/// Rungs of a ladder that are searched before a story is looked for.
const CHEAP_RUNGS: usize = 3;
/// Least distance tried, µs.
const LEAST_RANGE: i64 = 100 * MS;

/// A bound that may race.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Knob {
    /// Greatest pickup time of a relay, upward.
    SlowPickup(PartId),
    /// Least dropout time of a relay, downward.
    QuickDropout(PartId),
}

/// The margins of a question that holds within tolerances.
pub(crate) fn margins(
    machine: &Machine<'_>,
    question: &Question,
    options: &Options<'_>,
    decided: &Scope,
) -> Vec<Margin> {
    let options = options.with_zones(MOST_PLACES);
    let mut found: Vec<Margin> = knobs(machine, decided)
        .into_iter()
        .filter_map(|knob| margin(machine, question, &options, knob))
        .collect();
    found.sort_by(|a, b| a.room().total_cmp(&b.room()));
    found
}

/// The relays that the deciding search knew: what it left out does not race.
fn knobs(machine: &Machine<'_>, decided: &Scope) -> Vec<Knob> {
    let scheme = machine.scheme;
    let mut knobs = Vec::new();
    for (part, item, coil) in scheme.coils() {
        let races = item.device.is_some_and(|device| {
            matches!(scheme.devices[device].kind, DeviceKind::Relay)
                && machine.device_unit(device).is_some_and(|unit| decided.knows(unit))
        });
        if item.at.is_none() || !races {
            continue;
        }
        if coil.pickup_time.is_some() {
            knobs.push(Knob::SlowPickup(part));
        }
        if coil.dropout_time.as_ref().is_some_and(|time| time.lo >= MS) {
            knobs.push(Knob::QuickDropout(part));
        }
    }
    knobs
}

fn declared(scheme: &Scheme, knob: Knob) -> Option<i64> {
    let (part, pickup) = match knob {
        Knob::SlowPickup(part) => (part, true),
        Knob::QuickDropout(part) => (part, false),
    };
    let PartKind::Coil(coil) = &scheme.parts[part].kind else { return None };
    if pickup {
        coil.pickup_time.as_ref().map(|time| time.hi)
    } else {
        coil.dropout_time.as_ref().map(|time| time.lo)
    }
}

fn with(scheme: &Scheme, knob: Knob, value: i64) -> Scheme {
    let mut changed = scheme.clone();
    let (part, pickup) = match knob {
        Knob::SlowPickup(part) => (part, true),
        Knob::QuickDropout(part) => (part, false),
    };
    if let PartKind::Coil(coil) = &mut changed.parts[part].kind {
        if pickup {
            if let Some(time) = &mut coil.pickup_time {
                time.hi = value;
                time.lo = time.lo.min(value);
            }
        } else if let Some(time) = &mut coil.dropout_time {
            time.lo = value;
            time.hi = time.hi.max(value);
        }
    }
    changed
}

/// What one value of a bound gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    Holds,
    Fails,
    Unknown,
}

fn at(
    declared: &Machine<'_>,
    question: &Question,
    options: &Options<'_>,
    (knob, value): (Knob, i64),
    runs: &RefCell<Vec<Steps>>,
) -> At {
    let changed = with(declared.scheme, knob, value);
    let Ok(machine) = Machine::retimed(&changed, declared) else { return At::Unknown };
    let asked_again = questions(&changed)
        .into_iter()
        .find(|other| other.claim == question.claim && other.asks == question.asks);
    let Some(question) = asked_again else { return At::Unknown };
    let Some(monitor) = &question.monitor else { return At::Unknown };
    let dependencies = Dependencies::new(&machine);
    let prepared = Prepared::new(&machine);
    let starts = starts_of(&machine, &question, &starts(&machine));
    let asked = Asked {
        machine: &machine,
        prepared: &prepared,
        ladder: ladder_of(&machine, &dependencies, &question, monitor),
        starts: &starts,
        monitor,
        options,
        deadline: None,
        witness: std::cell::OnceCell::new(),
        in_motion: None,
        moves: std::cell::Cell::new(None),
    };
    // What broke it at another value breaks it here, if its times still fit; or else other moves of the devices
    // upon the same moves of the outside.
    if let Some(whole) = asked.ladder.last() {
        let known = runs.borrow().clone();
        if known.iter().rev().any(|steps| asked.breaks_again(whole, steps)) {
            return At::Fails;
        }
        if let Some(steps) = known.iter().rev().find_map(|steps| asked.retraced(whole, steps)) {
            runs.borrow_mut().push(steps);
            return At::Fails;
        }
    }
    let quick_run = |scope: &Scope| match asked.quick_run(scope, RACES_FIRST) {
        Some((steps, _)) => {
            runs.borrow_mut().push(steps);
            true
        }
        None => false,
    };
    // The first rungs cost little and decide most; then a story, then the costly rungs.
    let mut sought = false;
    for (rung, scope) in asked.ladder.iter().enumerate() {
        if rung == CHEAP_RUNGS
            && let Some(whole) = asked.ladder.last()
        {
            sought = true;
            if quick_run(whole) {
                return At::Fails;
            }
        }
        match asked.within_tolerances(scope, ANY_NUMBER) {
            Found::Holds { .. } => return At::Holds,
            Found::Open { .. } | Found::Endless { .. } => break,
            Found::Breaks { .. } => {}
        }
    }
    // A second look would see the same.
    let whole = asked.ladder.last().filter(|_| !sought);
    if whole.is_some_and(quick_run) { At::Fails } else { At::Unknown }
}

fn margin(
    machine: &Machine<'_>,
    question: &Question,
    options: &Options<'_>,
    knob: Knob,
) -> Option<Margin> {
    let scheme = machine.scheme;
    let start = declared(scheme, knob)?;
    let up = matches!(knob, Knob::SlowPickup(_));
    // The declared bound first, then the whole milliseconds beyond it.
    let value = |step: i64| match (step, up) {
        (0, _) => start,
        (_, true) => (start.div_euclid(MS) + step) * MS,
        (_, false) => (start.div_euclid(MS) + i64::from(start % MS != 0) - step) * MS,
    };
    let known: RefCell<BTreeMap<i64, At>> = RefCell::default();
    let runs = RefCell::default();
    let ask = |step: i64| {
        let asked = known.borrow().get(&step).copied();
        asked.unwrap_or_else(|| {
            let found = at(machine, question, options, (knob, value(step)), &runs);
            known.borrow_mut().insert(step, found);
            found
        })
    };
    let far = if up {
        ((start * FURTHEST).max(LEAST_RANGE) - start) / MS + 1
    } else {
        start.div_euclid(MS) + i64::from(start % MS != 0)
    };
    if ask(far) == At::Holds {
        return None;
    }
    // Between `good` (holds) and `bad` (does not hold) lies the edge.
    let (mut good, mut bad) = (0, far);
    while (bad - good).abs() > 1 {
        let middle = i64::midpoint(good, bad);
        if ask(middle) == At::Holds { good = middle } else { bad = middle }
    }
    let fails_from = first_failure(&ask, bad, far);
    if fails_from.is_none() && good == 0 {
        return None;
    }
    let part = match knob {
        Knob::SlowPickup(part) | Knob::QuickDropout(part) => part,
    };
    let device = scheme.parts[part].device?;
    Some(Margin {
        device: scheme.devices[device].name.clone(),
        the_move: if up { "picks up" } else { "drops out" }.to_owned(),
        declared_ms: ms(start),
        holds_to_ms: ms(value(good)),
        fails_from_ms: fails_from.map(|step| ms(value(step))),
    })
}

fn ms(time: i64) -> f64 {
    time as f64 / MS as f64
}

/// The step nearest to `bad` at which a replayed story breaks the claim.
fn first_failure(ask: &impl Fn(i64) -> At, bad: i64, far: i64) -> Option<i64> {
    if ask(bad) == At::Fails {
        return Some(bad);
    }
    if ask(far) != At::Fails {
        return None;
    }
    let (mut open, mut fails) = (bad, far);
    while (fails - open).abs() > 1 {
        let middle = i64::midpoint(open, fails);
        if ask(middle) == At::Fails { fails = middle } else { open = middle }
    }
    Some(fails)
}
