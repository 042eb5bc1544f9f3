//! Findings and sentences about grounds, in the designer's words.
//!
//! **In:** what was found. **Out:** findings. **Never here:** numbers that were not computed before.

use super::effect::How;
use super::field::FieldFault;
use super::figures as words;
use super::follow::Outcome;
use super::island::IslandFault;
use super::single::{OneGround, Singles, Unanswered};
use crate::rest::RestPosition;
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_scheme::{CurrentKind, Finding, Light, PartKind, Scheme, Severity};
use std::collections::BTreeMap;

/// A position that could not be computed: never a pass.
pub(super) fn not_computed(
    scheme: &Scheme,
    rest: &RestPosition,
    corner: &str,
    fault: IslandFault,
) -> Finding {
    match fault {
        IslandFault::Bench(fault) => {
            let finding = fault.finding(scheme);
            let why = format!("grounds with {} were not computed", rest.name);
            finding.why(why)
        }
        IslandFault::Field(supply, fault) => {
            let supply = &scheme.supplies[supply];
            let bent = bent(scheme, &supply.name);
            let (what, help) = match fault {
                FieldFault::Shorted => (
                    "is shorted or set against another supply there".to_owned(),
                    "part the two poles: a closed contact or link joins them there".to_owned(),
                ),
                FieldFault::Unsettled | FieldFault::Contradiction => (
                    format!(
                        "has no voltages that fit the curves of {} there ({corner})",
                        words::list(&bent)
                    ),
                    "check the points of these curves, or leave one out and compare".to_owned(),
                ),
            };
            Finding::new(
                "grounds-not-computed",
                Severity::Finding,
                format!(
                    "grounds on {} with {} were not computed: it {what}",
                    supply.name, rest.name
                ),
            )
            .at(supply.span, "not computed")
            .help(help)
            .device(&supply.name)
        }
    }
}

/// Parts on a supply whose characteristic bends.
fn bent(scheme: &Scheme, supply: &str) -> Vec<String> {
    let bends = |kind: &PartKind| match kind {
        PartKind::Lamp(lamp) => lamp.light != Light::NotSaid || lamp.curve.is_some(),
        PartKind::Input(input) => input.curve.is_some(),
        PartKind::Diode(_) | PartKind::Varistor(_) => true,
        _ => false,
    };
    let here = scheme.placed().filter(|(_, part)| {
        bends(&part.kind)
            && part.at.is_some_and(|at| {
                scheme.supplies[scheme.circuits[at.circuit].supply].name == supply
            })
    });
    here.map(|(_, part)| part.name.clone()).collect()
}

/// One finding for each wire without an answer.
pub(super) fn no_answers(scheme: &Scheme, faults: &[Unanswered]) -> Vec<Finding> {
    let mut told: Vec<&str> = Vec::new();
    let mut findings = Vec::new();
    for fault in faults {
        if !told.contains(&fault.wire.as_str()) {
            told.push(&fault.wire);
            findings.push(no_answer(scheme, fault));
        }
    }
    findings
}

fn no_answer(scheme: &Scheme, unanswered: &Unanswered) -> Finding {
    let Unanswered { wire, supply, position, corner, fault } = unanswered;
    let parts = supply.as_ref().map(|supply| bent(scheme, supply)).unwrap_or_default();
    let why = match fault {
        FieldFault::Unsettled => {
            format!("no voltages fit the curves of {}: {position}, {corner}", words::list(&parts))
        }
        FieldFault::Shorted | FieldFault::Contradiction => {
            format!("it would short a supply without any resistance: {position}, {corner}")
        }
    };
    Finding::new(
        "grounds-not-computed",
        Severity::Finding,
        format!(
            "a ground on {} could not be computed",
            words::on_wires(std::slice::from_ref(wire))
        ),
    )
    .why(why)
    .help("check the points of the curves named, or the ground of the supply")
    .wire(wire)
}

/// One finding for each part that a single ground moves.
pub(super) fn single_findings(scheme: &Scheme, singles: &Singles) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut by_part: BTreeMap<(&str, How), Vec<&OneGround>> = BTreeMap::new();
    let mut undeclared: Vec<String> = Vec::new();
    for ground in &singles.moves {
        let is_input = matches!(scheme.parts[ground.moves.id].kind, PartKind::Input(_));
        if is_input && !ground.moves.declared {
            if !undeclared.contains(&ground.moves.part) {
                undeclared.push(ground.moves.part.clone());
            }
            continue;
        }
        by_part.entry((&ground.moves.part, ground.moves.how)).or_default().push(ground);
    }
    let mut parts: Vec<_> = by_part.into_values().collect();
    parts.sort_by_key(|grounds| std::cmp::Reverse(grounds.first().map(|ground| ground.outcome)));
    for grounds in parts {
        findings.extend(one(scheme, &grounds));
    }
    if !undeclared.is_empty() {
        let count = undeclared.len();
        let first = undeclared.iter().take(3).cloned().collect::<Vec<_>>();
        let mut finding = Finding::note(
            "input-threshold-not-declared",
            format!(
                "{count} {} no thresholds ({}{}): one ground may move {}",
                if count == 1 { "input declares" } else { "inputs declare" },
                first.join(", "),
                if count > 3 { ", …" } else { "" },
                if count == 1 { "it" } else { "them" }
            ),
        )
        .why(
            "a ground puts half of the supply's voltage on an input; what goes on below 60 % of \
             nominal may take that for its signal",
        )
        .help("write on-above and off-below; off-below above half of the highest voltage is safe");
        finding.devices = undeclared;
        findings.push(finding);
    }
    findings
}

fn one(scheme: &Scheme, grounds: &[&OneGround]) -> Option<Finding> {
    let worst = grounds.first()?;
    let moves = &worst.moves;
    let part = &scheme.parts[moves.id];
    let (does, passed) = match moves.how {
        How::PicksUp => ("may pick up", "not to move below"),
        How::GoesOn => ("may go on", "on from"),
        How::DropsOut => ("may drop out", "drops out below"),
        How::GoesOff => ("may go off", "off below"),
        How::StaysPickedUp => ("may not let go", "stays picked up from"),
        How::StaysOn => ("may not go off any more", "off below"),
    };
    let comes = match worst.outcome {
        Outcome::Trips => " and the breaker trip",
        Outcome::Closes => " and the breaker close",
        _ => "",
    };
    let lasts =
        moves.lasts.map_or(String::new(), |seconds| format!(", for {} ms", figure(seconds * 1e3)));
    let volts = if moves.lasts.is_some() { moves.first } else { moves.last };
    let ohm = if worst.up_to_ohm == 0.0 {
        "a solid ground".to_owned()
    } else {
        format!("a ground of up to {}", words::ohms(worst.up_to_ohm))
    };
    let wire = words::on_wires(&worst.wires);
    let mut wires: Vec<String> = grounds.iter().flat_map(|ground| ground.wires.clone()).collect();
    wires.sort();
    wires.dedup();
    let more = wires.len().saturating_sub(worst.wires.len());
    let others = match more {
        0 => String::new(),
        1 => " (or on one other wire)".to_owned(),
        more => format!(" (or on {more} other wires)"),
    };
    let id = match moves.how {
        How::StaysPickedUp | How::StaysOn => "ground-holds",
        _ => "ground-moves",
    };
    // Half of the supply's voltage is there in the first instant whatever the detector and the
    // capacitance are; how long it lasts is not known without them.
    let on = matches!(moves.how, How::GoesOn) && moves.first >= moves.threshold;
    let surely = worst.declared || on;
    let matters =
        worst.outcome > Outcome::MovesAnInput || matches!(moves.how, How::GoesOn | How::StaysOn);
    let severity = if surely && matters { Severity::Finding } else { Severity::Note };
    let typical = if worst.declared {
        String::new()
    } else {
        "; the detector's legs or the stray capacitance are typical ones: declare them to decide"
            .to_owned()
    };
    let declared = if moves.declared { "" } else { " (typical: not declared)" };
    // The figures are those of the worst resistance.
    let solid = if worst.up_to_ohm > 0.0 { " with a solid one" } else { "" };
    let text = format!(
        "with {ohm} on {wire}{others}, {} {does}{lasts}{comes}: {} across it{solid}, {passed} \
         {}{declared}",
        moves.part,
        words::volts(volts),
        words::volts(moves.threshold),
    );
    let mut finding = Finding::new(id, severity, text)
        .why(format!(
            "with {}, {}; the stray capacitance first holds the ground where it was, then the \
             detector's legs do{typical}",
            worst.positions.join("; "),
            worst.corner
        ))
        .help(legs(scheme, moves).unwrap_or_else(|| cure(scheme, worst)))
        .device(&moves.part);
    finding.wires = wires;
    Some(match part.at {
        Some(at) => finding.at(at.span, words::volts(volts)),
        None => finding,
    })
}

/// Where the detector's own current drives a coil for good: legs that do not. By hand: one leg feeds
/// the coil with the other leg L beside it, so it gets V R / (2 R + L); at the coldest, R is c times
/// what it is told as, and it moves at c times the volts: L = R (V / pickup - 2 c).
fn legs(scheme: &Scheme, moves: &super::effect::Moved) -> Option<String> {
    if let Some(alike) = legs_alike(scheme, moves) {
        return Some(alike);
    }
    if moves.how != How::PicksUp || moves.lasts.is_some() || moves.threshold <= 0.0 {
        return None;
    }
    let part = &scheme.parts[moves.id];
    let PartKind::Coil(coil) = &part.kind else { return None };
    let ohm = coil.resistance.as_ref()?.hi;
    let cold = coil_warmth(scheme, part).0;
    let pickup = moves.threshold / moves.warm;
    let supply = &scheme.supplies[scheme.circuits[part.at?.circuit].supply];
    let first = supply.grounds.first()?;
    let leg = ohm * (supply.range.hi / pickup - 2.0 * cold);
    if supply.grounded || leg <= first.plus.lo.min(first.minus.lo) {
        return None;
    }
    Some(format!(
        "detector legs of at least {} each: then only the stray capacitance drives it, for a moment",
        words::ohms(two_figures_up(leg))
    ))
}

/// Where the legs themselves lift ground so far from the middle that nothing which goes on surely could stay
/// off: legs that are alike.
fn legs_alike(scheme: &Scheme, moves: &super::effect::Moved) -> Option<String> {
    let part = &scheme.parts[moves.id];
    let supply = &scheme.supplies[scheme.circuits[part.at?.circuit].supply];
    let [detector] = supply.grounds.as_slice() else { return None };
    let (plus, minus) = (detector.plus.middle(), detector.minus.middle());
    let (less, more) = (plus.min(minus), plus.max(minus));
    let goes_on = matches!(moves.how, How::GoesOn | How::PicksUp | How::StaysOn);
    let half = supply.range.hi / 2.0;
    if !goes_on || less <= 0.0 || more < UNLIKE * less || moves.first.max(moves.last) <= half {
        return None;
    }
    Some(format!(
        "detector legs alike, of {} each, not {} and {}: then a ground puts no more than {} on it",
        words::ohms(more),
        words::ohms(plus),
        words::ohms(minus),
        words::volts(half)
    ))
}

/// Legs of a detector are meant to be alike within so much.
const UNLIKE: f64 = 1.2;

fn two_figures_up(value: f64) -> f64 {
    let mut unit = 1.0;
    while value / unit >= 100.0 {
        unit *= 10.0;
    }
    (value / unit).ceil() * unit
}

/// What would help. What lasts for a moment only comes from the stray capacitance: other legs are no
/// cure for it, a delay is. What goes on for good at a solid ground is half of the supply: no legs are
/// high enough.
fn cure(scheme: &Scheme, ground: &OneGround) -> String {
    let (moves, extremes) = (&ground.moves, &ground.extremes);
    let above = (extremes.most * 1.1).max(moves.threshold / moves.warm).ceil();
    let higher = can_be_higher(scheme, moves, above);
    let above = words::volts(above);
    let lasts = Some(extremes.lasts).filter(|seconds| seconds.is_finite());
    let delay = lasts.map(|seconds| format!("{} ms", figure((seconds * 1.1e3).max(0.1))));
    let below = words::volts((extremes.least * 0.9).floor().max(0.0));
    match (moves.how, delay) {
        (How::PicksUp, Some(delay)) if !higher => format!(
            "a coil that takes more than {delay} to pick up (what waits for it waits longer: prove \
             again); none that stays below {above} would surely pick up at all"
        ),
        (How::PicksUp, None) if !higher => "a resistor beside it".to_owned(),
        (How::GoesOn, Some(delay)) if !higher => format!("a delay of more than {delay}"),
        (How::GoesOn, None) if !higher => "a resistor beside it".to_owned(),
        (How::PicksUp, Some(delay)) => {
            format!(
                "a coil that does not pick up below {above}, or one that takes more than {delay}"
            )
        }
        (How::PicksUp, None) => {
            format!("a coil that does not pick up below {above}, or a resistor beside it")
        }
        (How::GoesOn, Some(delay)) => {
            format!("an input that goes on only above {above}, or a delay of more than {delay}")
        }
        (How::GoesOn, None) => {
            format!("an input that goes on only above {above}, or a resistor beside it")
        }
        (How::StaysPickedUp | How::StaysOn, _) => format!(
            "a part that lets go above {above}, a resistor beside it, or detector legs of higher \
             resistance"
        ),
        (How::DropsOut | How::GoesOff, Some(delay)) => {
            format!("a part that lets go only below {below}, or a delay of more than {delay}")
        }
        (How::DropsOut | How::GoesOff, None) => {
            format!("detector legs of higher resistance, or a part that lets go only below {below}")
        }
    }
}

/// Whether a part that stays put below so many volts, told as its thresholds are, can still be moved
/// surely: a coil by the volts it says it works from, at its hottest; else by its supply at the lowest,
/// a twentieth lost on the way.
fn can_be_higher(scheme: &Scheme, moves: &super::effect::Moved, above: f64) -> bool {
    let part = &scheme.parts[moves.id];
    let Some(at) = part.at else { return true };
    let lowest = scheme.supplies[scheme.circuits[at.circuit].supply].range.lo * 0.95;
    match &part.kind {
        PartKind::Coil(coil) => {
            let works = coil.works.as_ref().map_or(lowest, |works| works.lo.min(lowest));
            above * coil_warmth(scheme, part).1 < works
        }
        _ => above < lowest,
    }
}

/// At most one decimal.
fn figure(value: f64) -> String {
    if value >= 10.0 { format!("{value:.0}") } else { format!("{value:.1}") }
}

/// Typical thresholds in use.
pub(super) fn undeclared(scheme: &Scheme) -> Vec<String> {
    let mut coils = Vec::new();
    let mut relays = Vec::new();
    let mut inputs = Vec::new();
    for (_, part) in scheme.placed() {
        let direct = part.at.is_some_and(|at| {
            scheme.supplies[scheme.circuits[at.circuit].supply].current == CurrentKind::Dc
        });
        match &part.kind {
            PartKind::Coil(coil) if direct => {
                if coil.pickup.is_none() {
                    coils.push(part.name.clone());
                }
                if coil.dropout.is_none() {
                    relays.push(part.name.clone());
                }
            }
            PartKind::Input(input)
                if direct && input.on_above.is_none() && input.off_below.is_none() =>
            {
                inputs.push(part.name.clone());
            }
            _ => {}
        }
    }
    let mut words = Vec::new();
    if !coils.is_empty() {
        words.push(format!(
            "{}: no pickup declared, taken not to move below 20 % of nominal (typical, from memory)",
            coils.join(", ")
        ));
    }
    if !relays.is_empty() {
        words.push(format!(
            "{}: no dropout declared, under a ground taken to stay from 10 % of nominal (typical, a \
             glossary of relays)",
            relays.join(", ")
        ));
    }
    if !inputs.is_empty() {
        words.push(format!(
            "{}: no thresholds declared, taken to go on and stay on from 44 % of nominal (typical, \
             manuals of line relays)",
            inputs.join(", ")
        ));
    }
    words
}

/// What the numbers cover.
pub(super) fn covers(scheme: &Scheme) -> Vec<String> {
    let mut covers = vec![
        "one ground on any wire of every living direct-current supply, at every rest position, at \
         three corners of supply and temperature, legs of detectors that have a range at their middle \
         and at three corners of their own (one low and one high, both low)"
            .to_owned(),
        "two solid grounds on any two wires of one battery, at rest with the supply high; and with \
         a trip coil driven with the supply low; legs of detectors at their middle"
            .to_owned(),
        "where a lamp, diode or input bends, the discharge is taken as one exponential with the slower \
         time constant of its two ends"
            .to_owned(),
        "not: grounds that come while something moves, capacitance spread along cables, grounds of \
         two batteries that are joined only through ground"
            .to_owned(),
    ];
    if scheme.supplies.values().any(|supply| supply.current == CurrentKind::Ac) {
        covers.push("not: alternating current".to_owned());
    }
    covers
}
