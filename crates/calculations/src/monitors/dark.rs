//! Lamps and inputs that are off where they should be on: what stands in series with them is too
//! much.

use super::find::Situation;
use super::{Monitors, ResistorRow, smaller};
use crate::Study;
use crate::loads::corner::{Needed, needed};
use crate::shown::{Shown, Thresholds};
use crate::words::{amps, standing, volts};
use fiftytwo_circuit::BenchFault;
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_scheme::{Finding, PartId, PartKind, Severity};

/// A finding for each monitor that says what it shows and is off in a healthy rest position in
/// which that is true, or that watches a coil and is surely on in no position.
pub(super) fn findings(
    study: &Study<'_, '_>,
    monitors: &Monitors,
    situations: &[Situation],
) -> Result<Vec<(PartId, Finding)>, BenchFault> {
    let scheme = study.scheme();
    let scope = Scope::whole(study.machine);
    let evaluator = Evaluator::new(study.machine, &scope);
    let mut findings = Vec::new();
    for (id, part) in scheme.placed() {
        let Some(thresholds) = Thresholds::of(scheme, part) else { continue };
        if !matches!(part.kind, PartKind::Lamp(_) | PartKind::Input(_)) {
            continue;
        }
        let watches = part.watches.is_some_and(|coil| {
            let found = monitors.coils.iter().find(|it| it.id == coil);
            found.is_some_and(|found| {
                found.monitors.iter().any(|it| it.part == part.name && it.shows_break.is_empty())
            })
        });
        let mine =
            situations.iter().filter(|it| it.healthy && !it.held && it.monitors.contains(&id));
        let mut best: Option<(bool, f64, Finding)> = None;
        let mut on_somewhere = false;
        for situation in mine {
            let nominal = study.bench.solve(&situation.setup)?;
            let shown = thresholds.shown(&nominal, id);
            on_somewhere |= shown == Shown::On;
            let rest = study.rest.iter().find(|rest| rest.name == situation.name);
            let should =
                part.shows.as_ref().zip(rest).is_some_and(|(shows, rest)| {
                    evaluator.look(&rest.state).holds(&shows.expr).sure()
                });
            let off = (should && shown == Shown::Off) || (watches && shown != Shown::On);
            if !off {
                continue;
            }
            let low = needed(study, &situation.setup, id, &thresholds)?;
            // A supply whose nominal voltage lies below its range: on wherever it may stand.
            if low.enough() {
                continue;
            }
            let rows = &monitors.resistors;
            let (share, finding) = told(study, situation, id, &thresholds, rows, &low)?;
            let better =
                best.as_ref().is_none_or(|(known, most, _)| (should, share) > (*known, *most));
            if better {
                best = Some((should, share, finding));
            }
        }
        if let Some((should, _, finding)) = best
            && (should || !on_somewhere)
        {
            findings.push((id, finding));
        }
    }
    Ok(findings)
}

/// The finding, and the share of what it needs that it gets.
fn told(
    study: &Study<'_, '_>,
    situation: &Situation,
    id: PartId,
    thresholds: &Thresholds,
    rows: &[ResistorRow],
    low: &Needed,
) -> Result<(f64, Finding), BenchFault> {
    let scheme = study.scheme();
    let name = &scheme.parts[id].name;
    let Needed { gets, needs, in_amps, .. } = *low;
    let tell = |value: f64| if in_amps { amps(value) } else { volts(value) };
    let (help, resistor) = smaller::cure(study, rows, situation, id, thresholds, low)?;
    let says = scheme.parts[id].shows.as_ref();
    let says = says.map_or_else(String::new, |shows| format!(" (it shows \"{}\")", shows.text));
    let message = format!(
        "{name} is not on {}, with {} whole{says}: at the low end of its supply it gets {}, \
         and it is surely on only from {}",
        standing(&situation.name),
        scheme.parts[situation.coil].name,
        tell(gets),
        tell(needs)
    );
    let finding = Finding::new("monitor-dark", Severity::Finding, message)
        .at(scheme.parts[id].span, format!("{} at the least", tell(gets)))
        .help(help)
        .device(name)
        .device(&scheme.parts[situation.coil].name);
    let finding = match resistor {
        Some(part) => {
            finding.and_at(scheme.parts[part].span, "too much").device(&scheme.parts[part].name)
        }
        None => finding,
    };
    Ok((low.share(), finding))
}
