//! What one or two grounds do, and where coils rest.

use super::shown::{joules, ohms, percent, seconds, volts};
use super::{Outcome, Row, Section, few};
use fiftytwo_calculations::grounds::{
    Grounds, How, OneGround, Outcome as Comes, PairOfGrounds, RestingCoil, WorstGround,
};

/// Pairs shown at most where not every line is wanted is the page's own matter.
pub fn sections(found: &Grounds) -> Vec<Section> {
    let covers = || found.covers.clone();
    vec![
        Section {
            title: "One ground: the worst for each coil and input",
            rows: found.worst.iter().map(worst).collect(),
            covers: covers(),
            ..Section::default()
        },
        Section {
            title: "One ground: what it moves",
            rows: found.moves.iter().map(moves).collect(),
            ..Section::default()
        },
        Section {
            title: "Two grounds: what they do together",
            rows: found.pairs.iter().map(pair).collect(),
            ..Section::default()
        },
        Section {
            title: "Idle coils: at which pole they rest",
            rows: found.resting.iter().map(resting).collect(),
            ..Section::default()
        },
    ]
}

fn worst(it: &WorstGround) -> Row {
    let spare = it.margin / it.threshold.abs().max(1e-9);
    let gone = it.above.is_some_and(|above| above <= it.needs);
    let outcome = match it.margin {
        // Beyond its threshold, but for too short a time to move.
        margin if margin < 0.0 && gone => Outcome::Holds,
        _ => Outcome::Spare(spare),
    };
    let limit = match it.above {
        Some(above) if it.margin < 0.0 && gone => {
            format!("of {}, for {} of {}", volts(it.threshold), seconds(above), seconds(it.needs))
        }
        _ => format!("of {}", volts(it.threshold)),
    };
    let margin = if it.margin < 0.0 && gone { "too short".to_owned() } else { volts(it.margin) };
    let time = match it.above {
        Some(above) if above > 0.0 => {
            format!("; above it for {}, it needs {}", seconds(above), seconds(it.needs))
        }
        _ => String::new(),
    };
    Row {
        what: format!("{}, {} on {}", it.part, ground(it.ohm), wire(&it.wire)),
        worst: volts(it.first.abs().max(it.last.abs())),
        limit,
        margin,
        outcome,
        corner: format!(
            "{}, {}; {} at first, {} in the end{time}; {} from the stray capacitance{}",
            it.position,
            it.corner,
            volts(it.first),
            volts(it.last),
            joules(it.joule),
            if it.declared { "" } else { "; its threshold is typical" }
        ),
    }
}

fn moves(it: &OneGround) -> Row {
    let positions: Vec<&str> = it.positions.iter().map(String::as_str).collect();
    let on = if it.wires.len() > 1 {
        format!("on any of {}; ", it.wires.join(", "))
    } else {
        String::new()
    };
    Row {
        what: match it.up_to_ohm > 0.0 {
            true => format!("{} or less on {}", ohms(it.up_to_ohm), one_of(&it.wires)),
            false => format!("solid ground on {}", one_of(&it.wires)),
        },
        worst: format!("{} {}", it.moves.part, how(it.moves.how)),
        limit: comes(it.outcome).to_owned(),
        margin: if it.declared { String::new() } else { "typical legs".to_owned() },
        outcome: Outcome::FallsShort,
        corner: format!("{on}{}; {}", few(&positions), it.corner),
    }
}

/// A wire that speaks for all: one with a number, if any has, and how many more there are.
fn one_of(wires: &[String]) -> String {
    let numbered = wires.iter().find(|name| !name.contains(' ')).or(wires.first());
    match (numbered, wires.len().saturating_sub(1)) {
        (None, _) => String::new(),
        (Some(name), 0) => wire(name),
        (Some(name), more) => format!("{} (or {more} more)", wire(name)),
    }
}

/// "T1", "the wire between A and B".
fn wire(name: &str) -> String {
    let without_number = ["between ", "below ", "above "].iter().any(|it| name.starts_with(it));
    if without_number { format!("the wire {name}") } else { name.to_owned() }
}

fn ground(ohm: f64) -> String {
    if ohm > 0.0 { ohms(ohm) } else { "solid ground".to_owned() }
}

fn pair(it: &PairOfGrounds) -> Row {
    let positions: Vec<&str> = it.positions.iter().map(String::as_str).collect();
    let any = |names: &[String]| match names {
        [one] => one.clone(),
        several => format!("any of {}", several.join(", ")),
    };
    Row {
        what: format!("{} with {}", one_of(&it.first), one_of(&it.second)),
        worst: comes(it.outcome).to_owned(),
        limit: it.through.clone(),
        margin: String::new(),
        // Two solid grounds do something in every circuit: told, not counted against it.
        outcome: Outcome::Holds,
        corner: format!(
            "{}; one ground on {}, the other on {}; {}",
            it.words,
            any(&it.first),
            any(&it.second),
            few(&positions)
        ),
    }
}

fn resting(it: &RestingCoil) -> Row {
    let [upper, lower] = it.ends;
    let share = upper.max(lower) / it.supply.max(1e-9);
    Row {
        what: it.coil.clone(),
        worst: volts(upper.max(lower)),
        limit: format!("of {}", volts(it.supply)),
        margin: percent(share),
        outcome: Outcome::Holds,
        corner: match it.at_plus.is_empty() {
            true => "above the minus pole; it rests at minus".to_owned(),
            false => {
                let at: Vec<&str> = it.at_plus.iter().map(String::as_str).collect();
                format!("above the minus pole; it rests at plus: {}", few(&at))
            }
        },
    }
}

const fn how(how: How) -> &'static str {
    match how {
        How::PicksUp => "may pick up",
        How::DropsOut => "may drop out",
        How::StaysPickedUp => "may stay picked up",
        How::GoesOn => "may go on",
        How::GoesOff => "may go off",
        How::StaysOn => "may stay on",
    }
}

const fn comes(outcome: Comes) -> &'static str {
    match outcome {
        Comes::MovesAnInput => "an input says what is not so",
        Comes::MovesADevice => "a device moves",
        Comes::Holds => "a relay does not let go",
        Comes::BlocksATrip => "a trip is blocked",
        Comes::Closes => "the breaker closes",
        Comes::Trips => "the breaker trips",
    }
}
