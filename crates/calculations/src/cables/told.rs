//! The cure for a coil behind a long cable, in words.

use super::Asked;
use super::limit::Limit;
use super::sizes::{self, Thinnest, counted, told_length};
use crate::figures::volts;
use crate::fuses::{OfCables, largest_fuse};
use fiftytwo_circuit::conductor::{Sizes, size_name};
use fiftytwo_scheme::{Cable, CableId, Finding, Material, Scheme, Severity, WireSize};

pub(super) fn cure(scheme: &Scheme, fuses: &OfCables, asked: &mut Asked<'_, '_>) -> Finding {
    let name = &scheme.parts[asked.coil].name;
    let gets = format!(
        "{name} gets only {} V; it works from {} V",
        volts(asked.least),
        volts(asked.needs)
    );
    let alone = asked
        .limits
        .iter()
        .filter_map(|(cable, now, limit)| match limit {
            Limit::Times(times) => Some((*cable, *now, *times)),
            Limit::NoHelp(_) => None,
        })
        .max_by(|a, b| a.2.total_cmp(&b.2));
    let all: Vec<CableId> = asked.question.cables.iter().map(|(cable, _)| *cable).collect();
    let finding = match alone {
        Some((cable, now, times)) => one_cable(scheme, fuses, cable, (now, times), &gets),
        None => match asked.question.limit(&all) {
            Limit::Times(times) => all_cables(scheme, &asked.question.cables, times, &gets),
            Limit::NoHelp(best) => no_conductor(scheme, asked, best, &gets),
        },
    };
    finding.device(name)
}

fn one_cable(
    scheme: &Scheme,
    fuses: &OfCables,
    id: CableId,
    (now, times): (usize, f64),
    gets: &str,
) -> Finding {
    let cable = &scheme.cables[id];
    let allowed = sizes::allowed(scheme, cable, now, times);
    let (_, hot) = sizes::temperatures(scheme, cable);
    Finding::new(
        "cable-too-thin",
        Severity::Finding,
        format!("{} is too thin or too long: {gets}", cable.name),
    )
    .at(cable.span, format!("{} over {}", cable.size_written, cable.length.written))
    .why(format!(
        "one way it has {} ohm hot ({} C) and may have {} ohm",
        volts_like(
            sizes::hot_ohm(scheme, cable) / f64::from(u32::try_from(now.max(1)).unwrap_or(1))
        ),
        volts(hot),
        volts_like(allowed.ohm_one_way)
    ))
    .help(cures(scheme, fuses, cable, (now, times)))
}

/// "8 AWG (10 mm2), or two 10 AWG side by side, or 410 m at the most; in aluminium 6 AWG (16 mm2)";
/// where the thinnest that passes is too thin for its fuse, what both would be.
pub(super) fn cures(
    scheme: &Scheme,
    fuses: &OfCables,
    cable: &Cable,
    (now, times): (usize, f64),
) -> String {
    let allowed = &sizes::allowed(scheme, cable, now, times);
    let present = size_name(cable.size);
    let Thinnest { copper_awg, copper_mm2, aluminium_awg, aluminium_mm2 } = &allowed.thinnest;
    let metric = Sizes::of(cable.size) == Sizes::Mm2;
    let named = |awg: &Option<String>, mm2: &Option<String>| {
        let (first, second) = if metric { (mm2, awg) } else { (awg, mm2) };
        match (first, second) {
            (Some(first), Some(second)) => Some(format!("{first} ({second})")),
            (first, second) => first.clone().or_else(|| second.clone()),
        }
    };
    let copper = named(copper_awg, copper_mm2);
    let aluminium = named(aluminium_awg, aluminium_mm2);
    let (own, other, other_named) = match cable.material {
        Material::Copper => (copper, aluminium, "aluminium"),
        Material::Aluminium => (aluminium, copper, "copper"),
    };
    let mut cures = Vec::new();
    match own {
        Some(own) => {
            let fused = fuses.get(&cable.name);
            let and_fuse = fused.and_then(|(fuse, rating)| {
                with_fuse(scheme, cable, (now, times), (fuse.as_str(), *rating))
            });
            cures.push(own + &and_fuse.unwrap_or_default());
        }
        None => cures.push("no single standard conductor is thick enough".to_owned()),
    }
    if allowed.side_by_side < u32::MAX {
        cures.push(format!("{} {present} side by side", counted(allowed.side_by_side)));
    }
    if let Some(run) = allowed.longest_run {
        cures.push(format!("a run of {} m at the most", told_length(run)));
    }
    let aluminium = other.map_or_else(String::new, |size| format!("; in {other_named} {size}"));
    format!("{}{aluminium}", cures.join(", or "))
}

/// Where the thinnest conductor that passes allows no fuse as large as the present one: " with F3 of
/// 20 A at the most, or 10 AWG with F3 as it is (30 A)".
fn with_fuse(
    scheme: &Scheme,
    cable: &Cable,
    (now, times): (usize, f64),
    (fuse, rating): (&str, f64),
) -> Option<String> {
    let (sizes, material) = (Sizes::of(cable.size), cable.material);
    let thinnest = sizes::thinnest(scheme, cable, sizes, material, times)?;
    let cores = f64::from(u32::try_from(now.max(1)).unwrap_or(1));
    let largest = |size| largest_fuse(size, material).map(|amps| amps * cores);
    let allows = largest(thinnest)?;
    if rating <= allows * (1.0 + 1e-9) {
        return None;
    }
    let thicker = sizes.standard(material).into_iter().skip_while(|size| *size != thinnest);
    let enough = |size: &WireSize| largest(*size).is_some_and(|amps| amps >= rating);
    let own = match thicker.clone().find(enough) {
        Some(size) => format!(
            ", or {} with {fuse} as it is ({} A)",
            size_name(size),
            crate::figures::digits(rating, 3)
        ),
        None => String::new(),
    };
    Some(format!(" with {fuse} of {} A at the most{own}", crate::figures::digits(allows, 3)))
}

fn all_cables(scheme: &Scheme, cables: &[(CableId, usize)], times: f64, gets: &str) -> Finding {
    let names: Vec<&str> = cables.iter().map(|(id, _)| scheme.cables[*id].name.as_str()).collect();
    let names = names.join(" and ");
    let each: Vec<String> = cables
        .iter()
        .map(|(id, now)| {
            let cable = &scheme.cables[*id];
            let size = sizes::thinnest(scheme, cable, Sizes::of(cable.size), cable.material, times);
            let allowed = sizes::allowed(scheme, cable, *now, times);
            match size {
                Some(size) => format!("{} of {}", cable.name, size_name(size)),
                None => format!(
                    "{} of {} {} side by side",
                    cable.name,
                    counted(allowed.side_by_side),
                    size_name(cable.size)
                ),
            }
        })
        .collect();
    let finding = Finding::new(
        "cable-too-thin",
        Severity::Finding,
        format!("{names} together are too thin or too long: {gets}"),
    )
    .why("none of them alone, even without any resistance, would do")
    .help(each.join(" together with "));
    match cables.first() {
        Some((id, _)) => finding.at(scheme.cables[*id].span, "one of the cables on its way"),
        None => finding,
    }
}

fn no_conductor(scheme: &Scheme, asked: &Asked<'_, '_>, best: f64, gets: &str) -> Finding {
    let part = &scheme.parts[asked.coil];
    let finding = Finding::note("no-conductor-helps", format!("no conductor helps: {gets}"))
        .why(format!("without any resistance in its cables it would get {} V", volts(best)))
        .help(format!(
            "a coil that works from {} V, a higher voltage at the low end of the battery, or a \
             relay near the coil that switches a local supply of {} V or more",
            volts((asked.least.min(best) + 1e-6).floor()),
            volts(asked.needs)
        ));
    match part.at {
        Some(at) => finding.at(at.span, format!("{} V at the least", volts(asked.least))),
        None => finding,
    }
}

/// Three digits.
fn volts_like(ohm: f64) -> String {
    crate::figures::digits(ohm, 3)
}
