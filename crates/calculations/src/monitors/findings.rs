//! What falls short, in the designer's words, with a cure in numbers.

use super::find::Situation;
use super::teller::Teller;
use super::{CoilMonitors, Monitors};
use crate::Study;
use crate::words::{down, list, ohms, standard_watt, standing, up, watts};
use fiftytwo_scheme::{DeviceKind, Finding, PartId, PartKind, Scheme, Severity};

/// All findings about monitors.
pub(super) fn of(
    study: &Study<'_, '_>,
    monitors: &Monitors,
    situations: &[Situation],
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for coil in &monitors.coils {
        Teller { study, coil, situations }.tell(&mut findings);
    }
    match super::weak::findings(study, monitors, situations) {
        Ok(weak) => findings.extend(weak),
        Err(fault) => findings.push(fault.finding(study.scheme())),
    }
    let dark = match super::dark::findings(study, monitors, situations) {
        Ok(dark) => dark,
        Err(fault) => {
            findings.push(fault.finding(study.scheme()));
            Vec::new()
        }
    };
    let told: Vec<PartId> = dark.iter().map(|(id, _)| *id).collect();
    // One that may go off is told as such and not as dark beside it; a lamp's note gives way.
    let name = |id: PartId| &study.scheme().parts[id].name;
    let weak: Vec<String> = findings
        .iter()
        .filter(|it| it.id == "monitor-weak" && it.severity == Severity::Finding)
        .filter_map(|it| it.devices.first().cloned())
        .collect();
    findings.retain(|it| {
        let note = it.id == "monitor-weak" && it.severity == Severity::Note;
        !note || !told.iter().any(|id| it.devices.first() == Some(name(*id)))
    });
    let dark = dark.into_iter().filter(|(id, _)| !weak.contains(name(*id)));
    findings.extend(dark.map(|(_, finding)| finding));
    watches(study, monitors, &told, &mut findings);
    resistors(study, monitors, &mut findings);
    unwatched(study.scheme(), monitors, &mut findings);
    findings
}

/// What the designer says is watched but is not.
fn watches(
    study: &Study<'_, '_>,
    monitors: &Monitors,
    told: &[PartId],
    findings: &mut Vec<Finding>,
) {
    let scheme = study.scheme();
    for (_, part) in scheme.placed().filter(|(id, _)| !told.contains(id)) {
        let Some(coil) = part.watches else { continue };
        let coil_name = &scheme.parts[coil].name;
        let found = monitors.coils.iter().find(|it| it.id == coil);
        let monitor =
            found.and_then(|it| it.monitors.iter().find(|monitor| monitor.part == part.name));
        // One that may be off with the coil whole is told as such, with its cure.
        if monitor.is_some_and(|it| !it.shows_break.is_empty() || !it.weak.is_empty())
            || found.is_some_and(|found| indirect(scheme, part, found))
        {
            continue;
        }
        let why = match monitor {
            Some(_) => {
                "its current runs through the coil, but a break does not surely change what it shows"
            }
            None => "in no rest position does its current run through the coil",
        };
        findings.push(
            Finding::new(
                "watches-nothing",
                Severity::Finding,
                format!(
                    "{} watches {coil_name} in name only: it shows the same with the coil broken",
                    part.name
                ),
            )
            .at(part.span, "declared here")
            .why(why)
            .help(format!(
                "connect it across the contacts in front of {coil_name} so that 1 to 10 mA run \
                 through the coil, or take out watches"
            ))
            .device(&part.name)
            .device(coil_name),
        );
    }
}

/// An input behind a contact of a relay that is itself a monitor of the coil.
fn indirect(scheme: &Scheme, part: &fiftytwo_scheme::Part, coil: &CoilMonitors) -> bool {
    let Some(leg) = part.at.and_then(|at| at.leg) else { return false };
    let devices = coil.monitors.iter().filter_map(|monitor| {
        let id = scheme.part_named(&monitor.part)?;
        (!monitor.shows_break.is_empty()).then_some(scheme.parts[id].device).flatten()
    });
    devices.into_iter().any(|device| {
        scheme.placed().any(|(_, other)| {
            other.device == Some(device)
                && matches!(other.kind, PartKind::Contact(_))
                && other.at.is_some_and(|at| at.leg == Some(leg))
        })
    })
}

fn resistors(study: &Study<'_, '_>, monitors: &Monitors, findings: &mut Vec<Finding>) {
    let scheme = study.scheme();
    for row in &monitors.resistors {
        let part = &scheme.parts[row.id];
        let shorted = match &row.shorted[..] {
            [] => String::new(),
            names => format!(" with {} shorted", list(names)),
        };
        let enough = watts(standard_watt(2.0 * row.worst));
        if let (Some((most, position)), Some(rated)) = (&row.moment, row.rated)
            && *most > rated
        {
            findings.push(
                Finding::note(
                    "resistor-power-for-a-moment",
                    format!(
                        "{} takes {} for a moment; it is rated {} for ever: whether it stands the \
                         moment is not judged",
                        row.resistor,
                        watts(*most),
                        watts(rated)
                    ),
                )
                .at(part.span, watts(*most))
                .why(format!("{}, the supply at its highest", standing(position)))
                .device(&row.resistor),
            );
        }
        match row.rated {
            Some(rated) if row.worst > rated => findings.push(
                Finding::new(
                    "resistor-power",
                    Severity::Finding,
                    format!(
                        "{} takes {}{shorted}; it is rated {}",
                        row.resistor,
                        watts(row.worst),
                        watts(rated)
                    ),
                )
                .at(part.span, watts(row.worst))
                .why(format!("{}, the supply at its highest", standing(&row.position)))
                .help(match row.least_ohm {
                    Some(least) if least > row.ohms[0] => format!(
                        "check its ohms ({}): with {} or more it takes no more than it is rated \
                         for{}; if they are right: a resistor of {enough} (twice its load)",
                        ohms(row.ohms[0]),
                        ohms(up(least)),
                        row.most_ohm.map_or_else(String::new, |most| format!(
                            ", and with {} or less all behind it is surely on",
                            ohms(down(most))
                        ))
                    ),
                    _ => format!("a resistor of {enough} (twice its load)"),
                })
                .device(&row.resistor),
            ),
            None if row.worst > 0.25 => findings.push(
                Finding::note(
                    "resistor-power-unsaid",
                    format!(
                        "{} takes {}{shorted} and says no power",
                        row.resistor,
                        watts(row.worst)
                    ),
                )
                .at(part.span, watts(row.worst))
                .help(format!("write power=\"{enough}\" (twice its load)"))
                .device(&row.resistor),
            ),
            _ => {}
        }
    }
}

fn unwatched(scheme: &Scheme, monitors: &Monitors, findings: &mut Vec<Finding>) {
    for name in &monitors.unwatched {
        let Some(id) = scheme.part_named(name) else { continue };
        let part = &scheme.parts[id];
        let trips = matches!(&part.kind, PartKind::Coil(coil) if coil.drives_to == 0);
        let breaker = part.device.is_some_and(|device| {
            matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. })
        });
        if trips && breaker {
            findings.push(
                Finding::note(
                    "coil-unwatched",
                    format!("nothing watches {name}: a break shows only when it is to trip"),
                )
                .at(part.span, "no lamp, input or relay leads current through it")
                .help("a lamp with its resistor or an input, 1 to 10 mA, across the trip contacts")
                .device(name),
            );
        }
    }
}
