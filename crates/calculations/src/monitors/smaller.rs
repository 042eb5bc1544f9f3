//! The cure of a monitor that gets too little: how many ohms the resistor in front of it may have,
//! and what else would do where none is right.

use super::ResistorRow;
use super::find::Situation;
use crate::Study;
use crate::loads::corner::Needed;
use crate::loads::less::{instead, most_ohm};
use crate::shown::Thresholds;
use crate::words::{down, ohms, up};
use fiftytwo_circuit::BenchFault;
use fiftytwo_scheme::PartId;

/// The cure, and the resistor that is too large.
pub(super) fn cure(
    study: &Study<'_, '_>,
    rows: &[ResistorRow],
    situation: &Situation,
    id: PartId,
    thresholds: &Thresholds,
    gets: &Needed,
) -> Result<(String, Option<PartId>), BenchFault> {
    let instead = instead(study, id, gets);
    let series = situation.in_series(&[id]);
    let largest = rows
        .iter()
        .filter(|row| series.contains(&row.id))
        .max_by(|a, b| a.ohms[1].total_cmp(&b.ohms[1]));
    let Some(row) = largest else { return Ok((instead, None)) };
    let Some(most) = most_ohm(study, &situation.setup, (row.id, row.ohms[1]), id, thresholds)?
    else {
        return Ok((format!("no resistor is small enough: {instead}"), None));
    };
    // What else stands behind it may ask for still less.
    let most = row.most_ohm.map_or(most, |other| other.min(most));
    let name = &study.scheme().parts[id].name;
    let help = match (row.least_ohm, &row.least_for) {
        (Some(least), Some(why)) if up(least) > down(most) && why == name => format!(
            "no value of {} does both: with less than {} {name} gets more than it may, with more than {} \
             it is not surely on; {instead}",
            row.resistor,
            ohms(up(least)),
            ohms(down(most))
        ),
        (Some(least), Some(why)) if up(least) > down(most) => format!(
            "no value of {} does both: {} or more for {why}, {} or less for {name}; {instead}",
            row.resistor,
            ohms(up(least)),
            ohms(down(most))
        ),
        (Some(least), Some(why)) => format!(
            "{} may have at most {}, and at least {} for {why}; everything else as it is",
            row.resistor,
            ohms(down(most)),
            ohms(up(least))
        ),
        _ => format!(
            "{} may have at most {}, everything else as it is",
            row.resistor,
            ohms(down(most))
        ),
    };
    Ok((help, Some(row.id)))
}
