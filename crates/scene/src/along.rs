//! The volts along the worst way of a coil, as data for its picture. **In:** a scheme and the name of
//! a coil. **Out:** every part of the way with the volts at both ends. **Never here:** strokes.

use fiftytwo_circuit::{Bench, Ends, Wiring, coil_report};
use fiftytwo_scheme::{Finding, PartKind, Scheme};
use fiftytwo_sheet::pictures::{Along, Step};

/// The way on which a coil gets least, solved alone with supplies low and everything hot.
///
/// # Errors
/// Findings where there is no such coil, it has no way, or its volts cannot be computed.
pub fn along(scheme: &Scheme, name: &str) -> Result<Along, Vec<Finding>> {
    let wiring = Wiring::new(scheme)?;
    let reports = coil_report(&wiring);
    let Some(report) = reports.iter().find(|report| report.coil == name) else {
        let names: Vec<&str> = reports.iter().map(|report| report.coil.as_str()).collect();
        let fault = Finding::error("coil-unknown", format!("there is no placed coil \"{name}\""));
        return Err(vec![fault.help(format!("coils are: {}", names.join(", ")))]);
    };
    let worst =
        report.ways.iter().min_by(|a, b| a.alone.lowest.volts.total_cmp(&b.alone.lowest.volts));
    let Some(way) = worst else {
        let message = format!("no way leads from plus through \"{name}\" to minus");
        return Err(vec![Finding::error("coil-without-way", message)]);
    };
    let parts: Vec<_> = way.parts.iter().filter_map(|part| scheme.part_named(part)).collect();
    let bench = Bench::new(scheme);
    let mut setup = bench.setup().at(Ends::LEAST);
    for part in &parts {
        setup = setup.with_closed(*part, true);
    }
    let readings = bench.solve(&setup).map_err(|fault| vec![fault.finding(scheme)])?;
    let mut steps = Vec::new();
    for id in parts {
        let part = &scheme.parts[id];
        let Some(at) = part.at else { continue };
        let (Some(a), Some(b)) = (readings.potential(at.from), readings.potential(at.to)) else {
            let message = format!("{} floats on the way of \"{name}\"", part.name);
            return Err(vec![Finding::error("way-floats", message)]);
        };
        let is_load = matches!(part.kind, PartKind::Coil(_)) && part.name == name;
        steps.push(Step { part: part.name.clone(), before: a.max(b), after: a.min(b), is_load });
    }
    Ok(Along {
        title: format!("{name}: volts along the way on which it gets least"),
        about: format!(
            "{}. Solved with {} low, conductors and coils hot, the contacts of this way closed and \
             all others open. With other loads on it gets {:.1} V at worst ({}).",
            scheme.title.trim_end_matches('.'),
            way.supply,
            way.loaded.lowest.volts,
            degrees(&way.loaded.lowest.words)
        ),
        steps,
        works: report.works.map(|[least, most]| (least, most)),
    })
}

/// The words of a corner as a picture has them: "50 C" is "50 °C".
fn degrees(words: &str) -> String {
    words.replace(" C)", " °C)").replace(" C,", " °C,")
}
