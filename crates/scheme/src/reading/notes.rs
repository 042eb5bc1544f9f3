//! What a scheme leaves unsaid, and what it declares without using it.
//!
//! Nothing here changes the model. One note lists all devices or parts of one sort, so that a page
//! of notes stays readable. A lockout or a gas stage that no matrix names is more than a note.

use super::desk::Desk;
use super::names::listed;
use crate::device::DeviceKind;
use crate::finding::{Finding, Severity};
use crate::ids::{ConditionId, DeviceId};
use crate::model::Scheme;
use crate::part::{Contact, PartKind};
use crate::source::Span;
use crate::statement::{Atom, Expr, Statement};
use crate::world::CurrentKind;
use std::collections::BTreeSet;

/// Notes on a scheme without errors.
pub(super) fn all(desk: &mut Desk) {
    let mut notes = Vec::new();
    unsaid(&desk.scheme, &mut notes);
    ranges(&desk.scheme, &mut notes);
    unused(desk, &mut notes);
    intent(&desk.scheme, &mut notes);
    desk.findings.append(&mut notes);
}

/// Adds one note for several names; none if there is no name.
fn note(
    notes: &mut Vec<Finding>,
    id: &'static str,
    names: Vec<(String, Span)>,
    tell: (&str, &str),
    why: &str,
) {
    let Some((_, span)) = names.first() else { return };
    let (message, label) = tell;
    let list = listed(names.iter().map(|(name, _)| name.as_str()));
    let mut finding = Finding::note(id, message.replace("{}", &list)).at(*span, label);
    finding.others = names.iter().skip(1).map(|(_, span)| (*span, label.to_owned())).collect();
    finding.devices = names.iter().map(|(name, _)| name.clone()).collect();
    if !why.is_empty() {
        finding.why = Some(why.to_owned());
    }
    notes.push(finding);
}

/// Batteries whose range nobody wrote.
fn ranges(scheme: &Scheme, notes: &mut Vec<Finding>) {
    for supply in scheme.supplies.values().filter(|supply| supply.range_is_taken()) {
        let message =
            format!("No range is given for {}: {} is taken.", supply.name, supply.range.written);
        notes.push(
            Finding::note("unsaid-range", message)
                .at(supply.span, "no range")
                .why(
                    "a battery is lowest at the end of its discharge and highest on equalising \
                     charge; the typical volts are from memory of IEEE 946 and IEEE 485",
                )
                .help(format!(
                    "write range=\"{}\" with the volts of this battery",
                    supply.range.written.trim_end_matches(" (typical)")
                ))
                .device(&supply.name),
        );
    }
}

fn unsaid(scheme: &Scheme, notes: &mut Vec<Finding>) {
    let mut list = |id, names, tell, why| note(notes, id, names, tell, why);
    let coils = |wanted: &dyn Fn(&crate::part::Coil, &DeviceKind) -> bool| -> Vec<(String, Span)> {
        scheme
            .coils()
            .filter(|(_, part, coil)| {
                part.at.is_some()
                    && part.device.is_some_and(|device| wanted(coil, &scheme.devices[device].kind))
            })
            .map(|(_, part, _)| (part.name.clone(), part.span))
            .collect()
    };
    list(
        "unsaid-resistance",
        coils(&|coil, _| coil.resistance.is_none()),
        ("No resistance is given for {}.", "no resistance"),
        "without it no voltage can be worked out: such a coil counts as perhaps driven",
    );
    list(
        "unsaid-works",
        coils(&|coil, _| coil.works.is_none() && coil.pickup.is_none()),
        ("Neither works nor pickup is given for {}.", "no works, no pickup"),
        "any voltage may drive such a coil, and none surely does",
    );
    list(
        "unsaid-dropout",
        coils(&|coil, kind| {
            coil.dropout.is_none() && matches!(kind, DeviceKind::Relay | DeviceKind::Timer { .. })
        }),
        ("No dropout voltage is given for {}.", "no dropout"),
        "between no voltage and pickup such a coil may hold or let go",
    );
    list(
        "unsaid-time",
        coils(&|coil, kind| match kind {
            DeviceKind::Breaker { .. } => false,
            DeviceKind::Relay => coil.pickup_time.is_none() || coil.dropout_time.is_none(),
            DeviceKind::Timer { .. } => coil.dropout_time.is_none(),
            _ => coil.pickup_time.is_none(),
        }),
        ("Not all times are given for {}.", "a time is missing"),
        "such a device may take any time",
    );
    list(
        "unsaid-goes-after",
        coils(&|coil, kind| {
            matches!(kind, DeviceKind::Breaker { .. }) && coil.goes_after.is_none()
        }),
        ("It is not said when the mechanism goes by itself for {}.", "no goes-after"),
        "a coil cut off before that moves nothing",
    );
    list(
        "unsaid-max-on",
        coils(&|coil, kind| kind.is_breaker_or_lockout() && coil.max_on.is_none()),
        ("It is not said how long {} may stay energised.", "no max-on"),
        "such coils are usually made for moments only",
    );
    let ieds = scheme.devices.iter().filter(|(_, device)| {
        matches!(device.kind, DeviceKind::Ied { .. })
            && !device
                .parts
                .iter()
                .any(|part| matches!(scheme.parts[*part].kind, PartKind::Power { .. }))
    });
    list(
        "unsaid-power",
        ieds.map(|(_, device)| (device.name.clone(), device.span)).collect(),
        ("No feed is given for {}: a loss of supply never stops them here.", "no power"),
        "with a power part and starts-in the loss of its supply opens its contacts",
    );
    let orders = scheme.orders.values().filter(|order| order.lasts.is_none());
    list(
        "unsaid-lasts",
        orders.map(|order| (order.name.clone(), order.span)).collect(),
        ("It is not said how long {} stands.", "no lasts"),
        "it may stand for any time",
    );
    let supplies = || scheme.supplies.values().filter(|supply| supply.current == CurrentKind::Dc);
    list(
        "range-of-one-value",
        supplies()
            .filter(|supply| supply.range.lo >= supply.range.hi)
            .map(|supply| (supply.name.clone(), supply.span))
            .collect(),
        ("The range of {} is one voltage: nothing below or above it is tried.", "one voltage"),
        "a battery is lowest at the end of its discharge and highest on equalising charge",
    );
    list(
        "unsaid-source",
        supplies()
            .filter(|supply| supply.resistance.written.is_empty())
            .map(|supply| (supply.name.clone(), supply.span))
            .collect(),
        ("No internal resistance is given for {}: none is taken.", "no resistance"),
        "",
    );
    let energies = scheme.devices.values().filter_map(|device| match &device.kind {
        DeviceKind::Breaker { energy: Some(energy), .. } if energy.charged_in.is_none() => {
            Some((format!("{} {}", device.name, energy.name), energy.span))
        }
        _ => None,
    });
    list(
        "unsaid-charging",
        energies.collect(),
        ("It is not said how long charging takes for {}.", "no charged-in"),
        "it may take any time",
    );
    let latches =
        scheme.devices.values().filter(|device| matches!(device.kind, DeviceKind::Latch { .. }));
    list(
        "latch-past",
        latches.map(|device| (device.name.clone(), device.span)).collect(),
        ("The past of {} is unknown: every proof tries all its positions.", "a latch"),
        "",
    );
    if scheme.devices.is_empty() && scheme.circuits.is_empty() {
        notes.push(Finding::note("nothing-yet", "The scheme has no device and no circuit yet."));
    }
    if scheme.persons.is_empty() && !scheme.circuits.is_empty() {
        notes.push(Finding::note(
            "nobody",
            "No person is declared: nobody turns, presses, resets or orders anything.",
        ));
    }
}

fn unused(desk: &Desk, notes: &mut Vec<Finding>) {
    let scheme = &desk.scheme;
    let spares = scheme
        .parts
        .values()
        .filter(|part| part.at.is_none() && matches!(part.kind, PartKind::Contact(_)));
    note(
        notes,
        "spare-contacts",
        spares.map(|part| (part.name.clone(), part.span)).collect(),
        ("Spare contacts: {}.", "spare"),
        "",
    );
    let other = scheme.parts.values().filter(|part| {
        part.at.is_none() && part.device.is_some() && !matches!(part.kind, PartKind::Contact(_))
    });
    note(
        notes,
        "never-placed",
        other.map(|part| (part.name.clone(), part.span)).collect(),
        ("Declared, but in no circuit: {}.", "in no circuit"),
        "what stands in no circuit never moves, lights or reports",
    );
    let unplaced = scheme.devices.values().filter(|device| {
        !device.parts.is_empty() && device.parts.iter().all(|part| scheme.parts[*part].at.is_none())
    });
    note(
        notes,
        "device-never-placed",
        unplaced.map(|device| (device.name.clone(), device.span)).collect(),
        ("No part of {} stands in a circuit.", "in no circuit"),
        "",
    );
    // A panel that other circuits branch from needs no leg of its own.
    let empty = scheme.circuits.iter().filter(|(id, circuit)| {
        let feeds = scheme.circuits.values().any(|other| other.of_circuit == Some(*id));
        circuit.legs.is_empty() && !feeds
    });
    let empty = empty.map(|(_, circuit)| circuit);
    note(
        notes,
        "circuit-empty",
        empty.map(|circuit| (circuit.name.clone(), circuit.span)).collect(),
        ("No leg stands in {}.", "no leg"),
        "",
    );
    let said = said(scheme);
    let conditions = scheme.conditions.iter().filter(|(id, _)| !said.conditions.contains(id));
    note(
        notes,
        "condition-unused",
        conditions.map(|(_, condition)| (condition.name.clone(), condition.span)).collect(),
        ("Nothing in the scheme follows {}.", "used by nothing"),
        "a condition that no contact, logic or claim names changes nothing",
    );
    let mut unused: Vec<(String, Span)> = desk.unused.clone();
    unused.sort_by_key(|(_, span)| *span);
    for (what, span) in unused {
        notes.push(
            Finding::note("unused", format!("{what} is used by nothing."))
                .at(span, "used by nothing"),
        );
    }
}

/// What the statements of a scheme speak of.
struct Spoken {
    conditions: BTreeSet<ConditionId>,
}

fn said(scheme: &Scheme) -> Spoken {
    let mut spoken = Spoken { conditions: BTreeSet::new() };
    statements(scheme, &mut |statement| {
        statement.expr.atoms(&mut |atom| {
            if let Atom::Condition(id, _) = atom {
                spoken.conditions.insert(id);
            }
        });
    });
    spoken
}

fn statements(scheme: &Scheme, visit: &mut impl FnMut(&Statement)) {
    use crate::device::LogicRule;
    use crate::intent::ClaimBody;
    for part in scheme.parts.values() {
        if let PartKind::Contact(Contact { closed_when, .. }) = &part.kind {
            visit(closed_when);
        }
        part.shows.iter().for_each(&mut *visit);
    }
    for logic in scheme.logics.values() {
        match &logic.rule {
            LogicRule::When { when, .. } => visit(when),
            LogicRule::Memory { set, clear } => [set, clear].into_iter().for_each(&mut *visit),
        }
    }
    for condition in scheme.conditions.values() {
        condition.becomes.iter().for_each(|becomes| visit(&becomes.when));
    }
    matrix_statements(scheme, visit);
    for claim in &scheme.claims {
        claim.during.iter().for_each(&mut *visit);
        match &claim.body {
            ClaimBody::Never { what, .. } => visit(what),
            ClaimBody::Always(what) | ClaimBody::AtMost { of: what, .. } => visit(what),
            ClaimBody::IfThen { premise, then, .. } => {
                [premise, then].into_iter().for_each(&mut *visit)
            }
        }
    }
}

fn matrix_statements(scheme: &Scheme, visit: &mut impl FnMut(&Statement)) {
    for matrix in &scheme.matrices {
        for by in &matrix.close_by {
            visit(&by.by);
            by.needs.iter().for_each(&mut *visit);
        }
        matrix.close_needs.iter().for_each(|need| visit(&need.need));
        matrix.backup_by.iter().flat_map(|it| [&it.by, &it.when]).for_each(&mut *visit);
        for by in &matrix.trip_by {
            visit(&by.by);
            by.needs.iter().for_each(&mut *visit);
        }
    }
}

/// Lockouts and gas stages that no matrix names.
fn intent(scheme: &Scheme, notes: &mut Vec<Finding>) {
    let breakers = scheme
        .devices
        .iter()
        .filter(|(_, device)| matches!(device.kind, DeviceKind::Breaker { .. }));
    let without: Vec<(String, Span)> = breakers
        .filter(|(id, _)| !scheme.matrices.iter().any(|matrix| matrix.breaker == *id))
        .map(|(_, device)| (device.name.clone(), device.span))
        .collect();
    note(
        notes,
        "matrix-missing",
        without,
        ("No matrix says what closes and trips {}.", "no matrix"),
        "a contact left out or a sense reversed is seen only against what was asked for",
    );
    if scheme.matrices.is_empty() {
        return;
    }
    let mut devices: BTreeSet<DeviceId> = BTreeSet::new();
    let mut states: BTreeSet<(ConditionId, u8)> = BTreeSet::new();
    matrix_statements(scheme, &mut |statement| {
        statement.expr.atoms(&mut |atom| match atom {
            Atom::Position(device, _) => {
                devices.insert(device);
            }
            Atom::Condition(condition, state) => {
                states.insert((condition, state));
            }
            _ => {}
        });
    });
    for (id, device) in scheme.devices.iter() {
        let placed = device.parts.iter().any(|part| scheme.parts[*part].at.is_some());
        if matches!(device.kind, DeviceKind::Lockout { .. }) && placed && !devices.contains(&id) {
            let message = format!("No matrix names the lockout {:?}.", device.name);
            notes.push(
                Finding::new("lockout-unnamed", Severity::Finding, message)
                    .at(device.span, "in no matrix")
                    .why("if its contact were left out of the close circuit, nothing would show it")
                    .help(format!("add to the matrix: close-needs \"{} reset\"", device.name))
                    .device(&device.name),
            );
        }
    }
    stages(scheme, &states, notes);
}

/// Stages of a sensor that reach a breaker's circuits but no matrix: a stage is a state of a
/// condition with states that a placed contact of a sensor follows. Alarms are told by `shows`.
fn stages(scheme: &Scheme, named: &BTreeSet<(ConditionId, u8)>, notes: &mut Vec<Finding>) {
    let mut shown: BTreeSet<(ConditionId, u8)> = named.clone();
    for part in scheme.parts.values() {
        if let Some(shows) = &part.shows {
            collect_states(&shows.expr, &mut shown);
        }
    }
    let mut told: BTreeSet<(ConditionId, u8)> = BTreeSet::new();
    for part in scheme.parts.values() {
        let sensor = part
            .device
            .is_some_and(|device| matches!(scheme.devices[device].kind, DeviceKind::Sensor));
        let PartKind::Contact(contact) = &part.kind else { continue };
        if !sensor || part.at.is_none() {
            continue;
        }
        let mut states = BTreeSet::new();
        collect_states(&contact.closed_when.expr, &mut states);
        for (id, state) in states {
            let condition = &scheme.conditions[id];
            // Two states are on and off, such as a thermostat's; a stage is one of several.
            let stage = condition.states.len() > 2 && state > 0;
            let in_matrix = named.contains(&(id, state));
            let last = usize::from(state) + 1 == condition.states.len();
            let covered =
                if last { in_matrix } else { shown.contains(&(id, state)) || covers(scheme, id) };
            if !stage || covered || !told.insert((id, state)) {
                continue;
            }
            let name = condition.states.get(usize::from(state)).map_or("", String::as_str);
            let message =
                format!("No matrix and no alarm names the stage \"{} {name}\".", condition.name);
            notes.push(
                Finding::new("stage-unnamed", Severity::Finding, message)
                    .at(part.span, "follows this stage")
                    .and_at(condition.span, "the condition")
                    .why("if its contact were left out or reversed, nothing would show it")
                    .help(format!(
                        "say in the matrix what it does: close-needs \"not {0} {name}\" or trip-by \"{0} {name}\"",
                        condition.name
                    ))
                    .device(&part.name),
            );
        }
    }
}

/// Whether some lamp or input shows that a condition has left its first state.
fn covers(scheme: &Scheme, id: ConditionId) -> bool {
    scheme.parts.values().filter_map(|part| part.shows.as_ref()).any(|shows| {
        matches!(&shows.expr, Expr::Not(inner) if **inner == Expr::Atom(Atom::Condition(id, 0)))
    })
}

fn collect_states(expr: &Expr, into: &mut BTreeSet<(ConditionId, u8)>) {
    expr.atoms(&mut |atom| {
        if let Atom::Condition(id, state) = atom {
            into.insert((id, state));
        }
    });
}
