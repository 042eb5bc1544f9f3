//! What contacts make, carry and break; coils made for a moment; what stands across coils.

use super::shown::{amps, joules, millis, volts};
use super::{Outcome, Row, Section, few};
use fiftytwo_calculations::charging::{Charging, ChargingRow};
use fiftytwo_calculations::duty::{
    Behind, CoilDuty, ContactDuty, Current, Duty, Judged, Order, Verdict,
};
use fiftytwo_calculations::suppression::{Action, Suppression};
use fiftytwo_scheme::Severity;

/// What contacts and momentary coils have to stand.
pub fn sections(found: &Duty, suppression: &[Suppression], charging: &Charging) -> Vec<Section> {
    let mut contacts = Vec::new();
    for contact in &found.contacts {
        contacts.extend(broken(contact));
        contacts.extend(worst(&contact.makes).map(|it| switched(contact, "makes", it)));
        contacts.extend(contact.carries.iter().map(|it| {
            let told = it.at.story.clone();
            row(contact, "carries", it.amps, &it.judged, format!("in the story {told:?}"))
        }));
    }
    let without: Vec<&str> = found
        .contacts
        .iter()
        .filter(|it| it.makes.is_empty() && it.carries.is_none() && broken(it).is_none())
        .map(|it| it.contact.as_str())
        .collect();
    let unused = (!without.is_empty()).then(|| {
        format!(
            "No line for {}: no story uses them, and none of them may be what opens first; where \
             rated, each is held against every load behind it",
            few(&without)
        )
    });
    vec![
        Section {
            title: "Contacts: what they make, carry and break",
            rows: contacts,
            notes: unused.into_iter().collect(),
            covers: found.covers.iter().map(|it| (*it).to_owned()).collect(),
            ..Section::default()
        },
        Section {
            title: "Coils made for a moment: time on",
            rows: found.coils.iter().filter_map(momentary).collect(),
            ..Section::default()
        },
        Section {
            title: "Across coils: what it adds to their release",
            rows: suppression.iter().map(across).collect(),
            ..Section::default()
        },
        Section {
            title: "Capacitors: what their charging leaves on idle coils",
            rows: charging.rows.iter().map(charges).collect(),
            covers: vec![
                "the supply comes back to each rest position, one empty capacitor at a time; not: \
                 inductance, several capacitors at once, inputs, discharge into a coil"
                    .to_owned(),
            ],
            ..Section::default()
        },
    ]
}

/// The greatest current, or the one that falls short by most.
fn worst(currents: &[Current]) -> Option<&Current> {
    let load = |it: &&Current| it.judged.allowed_amps.map_or(it.amps * 1e-6, |most| it.amps / most);
    currents.iter().max_by(|a, b| load(a).total_cmp(&load(b)))
}

fn broken(contact: &ContactDuty) -> Option<Row> {
    if let Some(current) = worst(&contact.breaks) {
        return Some(switched(contact, "breaks", current));
    }
    let may = contact.any_order.iter().filter(|behind| behind.order >= Order::CutsOff);
    let worst = may.max_by(|a, b| a.amps.total_cmp(&b.amps))?;
    Some(may_break(contact, worst))
}

fn switched(contact: &ContactDuty, does: &str, current: &Current) -> Row {
    let loads: Vec<&str> = current.loads.iter().map(String::as_str).collect();
    let inductive = match current.time_constant_ms > 0.0 {
        true => format!(", L/R {}", millis(current.time_constant_ms)),
        false => String::new(),
    };
    let why = format!("{}{inductive}, in the story {:?}", few(&loads), current.at.story);
    row(contact, does, current.amps, &current.judged, why)
}

fn may_break(contact: &ContactDuty, behind: &Behind) -> Row {
    let why = format!("{}: {}", behind.load, behind.because);
    row(contact, "may break", behind.amps, &behind.judged, why)
}

fn row(contact: &ContactDuty, does: &str, current: f64, judged: &Judged, why: String) -> Row {
    let (outcome, margin) = match (judged.verdict, judged.allowed_amps) {
        (Verdict::NotDeclared, _) => (Outcome::NotJudged, "not declared".to_owned()),
        (Verdict::NoneHolds, _) => (Outcome::FallsShort, "no rating holds".to_owned()),
        (Verdict::ResistiveOnly, _) => (Outcome::NotJudged, "for resistive loads only".to_owned()),
        (Verdict::Beyond, Some(most)) => (
            Outcome::Spare((1.0 - current / most).min(-1e-9)),
            super::shown::percent(current / most),
        ),
        (Verdict::Beyond, None) => (Outcome::FallsShort, "too much".to_owned()),
        (Verdict::Within, Some(most)) => {
            (Outcome::Spare((1.0 - current / most).max(0.0)), super::shown::percent(current / most))
        }
        (Verdict::Within, None) => (Outcome::Holds, "within".to_owned()),
    };
    let rating = judged.rating.as_ref().map_or_else(String::new, |rating| format!("of {rating}"));
    let typical = contact.typical.as_ref().filter(|_| judged.verdict == Verdict::NotDeclared);
    Row {
        what: format!("{} {does}", contact.contact),
        worst: amps(current),
        limit: rating,
        margin,
        outcome,
        corner: match typical {
            Some(typical) => format!("{why}; {typical}"),
            None => why,
        },
    }
}

fn charges(row: &ChargingRow) -> Row {
    let long = row.above >= row.needs.max(1e-4);
    let lasts = if row.above.is_finite() { millis(row.above * 1e3) } else { "ever".to_owned() };
    Row {
        what: format!("{} through {}", row.capacitor, row.coil),
        worst: volts(row.first),
        limit: format!("of {}, for {lasts} of {}", volts(row.pickup_from), millis(row.needs * 1e3)),
        margin: if long { "may move" } else { "too short" }.to_owned(),
        outcome: if long { Outcome::FallsShort } else { Outcome::Holds },
        corner: format!(
            "supply high; it comes back {}; charges with {}",
            if row.position.starts_with("at rest") {
                row.position.clone()
            } else {
                format!("with {}", row.position)
            },
            millis(row.time_constant * 1e3)
        ),
    }
}

fn momentary(coil: &CoilDuty) -> Option<Row> {
    let momentary = coil.momentary.as_ref()?;
    let [least, _] = momentary.max_on_ms;
    let (worst, outcome) = match (momentary.longest_ms, momentary.endless) {
        (_, true) => ("stays on".to_owned(), Outcome::FallsShort),
        (Some(longest), false) => (millis(longest), Outcome::Spare(1.0 - longest / least)),
        (None, false) => ("never on".to_owned(), Outcome::NotJudged),
    };
    let mut cut: Vec<&str> = Vec::new();
    for by in momentary.ways.iter().flat_map(|way| &way.cut_off_by) {
        if !cut.contains(&by.as_str()) {
            cut.push(by);
        }
    }
    let cut = match cut.is_empty() {
        true => "nothing of its own cuts it off".to_owned(),
        false => format!("cut off by {}", few(&cut)),
    };
    let story = momentary.at.as_ref().map_or_else(String::new, |at| format!(", in {:?}", at.story));
    Some(Row {
        what: coil.coil.clone(),
        worst,
        limit: format!("of {}", millis(least)),
        margin: String::new(),
        outcome,
        corner: format!("{cut}{story}; {} at {}", joules(coil.energy_j), amps(coil.amps)),
    })
}

fn across(chain: &Suppression) -> Row {
    let act = match chain.action {
        Action::Diode => "diode",
        Action::Clamp => "clamp",
        Action::Resistor => "resistor",
        Action::Capacitor => "capacitor",
        Action::Blocks => "blocks both ways",
        Action::Shorts => "shorts the coil",
    };
    let parts: Vec<&str> = chain.parts.iter().map(String::as_str).collect();
    let release = chain.release_ms.map_or_else(
        || "not computed".to_owned(),
        |[least, most]| format!("{} to {}", millis(least), millis(most)),
    );
    let peak = chain.peak_volts.map_or_else(String::new, |peak| {
        format!("; at most {} across the contact that opens", volts(peak))
    });
    let grave = chain.findings.iter().any(|it| it.severity != Severity::Note);
    let fails = grave || matches!(chain.action, Action::Shorts | Action::Blocks);
    let inside: Vec<&str> = chain.inside.iter().map(String::as_str).collect();
    let inside = match inside.as_slice() {
        [] => String::new(),
        parts => format!("; it bridges {} as well", few(parts)),
    };
    Row {
        what: format!("{}: {}", chain.coil, few(&parts)),
        worst: release,
        limit: act.to_owned(),
        margin: joules(chain.energy_j),
        outcome: if fails { Outcome::FallsShort } else { Outcome::Holds },
        corner: format!(
            "of the coil's energy {} into the clamp, {} into its resistance{peak}{inside}",
            joules(chain.clamp_j),
            joules(chain.series_j)
        ),
    }
}
