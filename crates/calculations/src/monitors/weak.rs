//! Monitors that the low end of the supply may drop: a false alarm. Each is told once, where it lacks
//! most, whatever number of coils its current runs through.

use super::find::Situation;
use super::{CoilMonitors, Monitors, Weak, smaller};
use crate::Study;
use crate::loads::corner::needed;
use crate::shown::Thresholds;
use crate::words::{amps, volts};
use fiftytwo_circuit::BenchFault;
use fiftytwo_scheme::{Finding, PartId, PartKind, Severity};

pub(super) fn findings(
    study: &Study<'_, '_>,
    monitors: &Monitors,
    situations: &[Situation],
) -> Result<Vec<Finding>, BenchFault> {
    let share = |weak: &Weak| weak.gets / weak.needs;
    let mut worst: Vec<(PartId, &CoilMonitors, &Weak)> = Vec::new();
    for coil in &monitors.coils {
        for monitor in &coil.monitors {
            let least = monitor.weak.iter().min_by(|a, b| share(a).total_cmp(&share(b)));
            let Some((weak, id)) = least.zip(study.scheme().part_named(&monitor.part)) else {
                continue;
            };
            match worst.iter_mut().find(|(known, ..)| *known == id) {
                Some(known) if share(weak) < share(known.2) => *known = (id, coil, weak),
                Some(_) => {}
                None => worst.push((id, coil, weak)),
            }
        }
    }
    worst
        .into_iter()
        .map(|(id, coil, weak)| told(study, monitors, situations, id, coil, weak))
        .collect()
}

fn told(
    study: &Study<'_, '_>,
    monitors: &Monitors,
    situations: &[Situation],
    id: PartId,
    coil: &CoilMonitors,
    weak: &Weak,
) -> Result<Finding, BenchFault> {
    let part = &study.scheme().parts[id];
    let tell = |value: f64| if weak.in_amps { amps(value) } else { volts(value) };
    let (severity, cut) = match &part.kind {
        PartKind::Lamp(_) => (Severity::Note, "dark"),
        PartKind::Input(input) if input.on_above.is_none() && input.off_below.is_none() => {
            (Severity::Note, "off")
        }
        _ => (Severity::Finding, "off"),
    };
    let text = format!(
        "{} may go {cut} with {} whole: at the low end of its supply it gets {}, and it is surely \
         on only from {}",
        part.name,
        coil.coil,
        tell(weak.gets),
        tell(weak.needs)
    );
    let finding = Finding::new("monitor-weak", severity, text)
        .at(part.span, format!("{} at the least", tell(weak.gets)))
        .why(format!("in the position {}: a false alarm", weak.position))
        .device(&part.name)
        .device(&coil.coil);
    let situation = situations
        .iter()
        .find(|it| it.coil == coil.id && !it.held && it.name == weak.position)
        .zip(Thresholds::of(study.scheme(), part));
    Ok(match situation {
        Some((situation, thresholds)) => {
            let low = needed(study, &situation.setup, id, &thresholds)?;
            let rows = &monitors.resistors;
            finding.help(smaller::cure(study, rows, situation, id, &thresholds, &low)?.0)
        }
        None => finding,
    })
}
