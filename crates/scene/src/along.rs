//! The volts along the worst way of a coil, as data for its picture. **In:** a scheme and the name of
//! a coil. **Out:** every part of the way with the volts at both ends, at the corner at which the coil
//! gets least. **Never here:** strokes.

use fiftytwo_circuit::network::Branch;
use fiftytwo_circuit::{
    Bench, Charge, Corner, Ends, Heat, Others, Positions, Solution, Warmth, Way, Wiring,
    coil_report,
};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Finding, NodeId, PartId, PartKind, Scheme};
use fiftytwo_sheet::pictures::{Along, Step};

/// Drawn and judged volts nearer than this are told as one, V.
const SAME: f64 = 0.05;

/// The way on which a coil gets least, solved at the corner at which it does: its contacts closed, the
/// other loads of its section on or off, whichever leaves less.
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
    let spans =
        report.ways.iter().flat_map(|way| [(way, &way.alone, false), (way, &way.loaded, true)]);
    let worst = spans.min_by(|a, b| a.1.lowest.volts.total_cmp(&b.1.lowest.volts));
    let found = scheme.part_named(name).zip(worst);
    let Some((coil, (told, span, loaded))) = found else {
        let message = format!("no way leads from plus through \"{name}\" to minus");
        return Err(vec![Finding::error("coil-without-way", message)]);
    };
    let parts: Vec<PartId> = told.parts.iter().filter_map(|part| scheme.part_named(part)).collect();
    let judged = &span.lowest;
    let corner = Stand { wiring: &wiring, coil, parts: &parts, loaded, corner: judged.corner };
    let solution = corner.solve(scheme)?;
    let supply = scheme.supplies.iter().find(|(_, supply)| supply.name == told.supply);
    let minus = supply.map(|(_, supply)| supply.minus);
    let volts =
        |node: NodeId| minus.and_then(|minus| solution.voltage(node.index(), minus.index()));
    let mut steps = Vec::new();
    for id in parts {
        let part = &scheme.parts[id];
        let Some(at) = part.at else { continue };
        let (Some(a), Some(b)) = (volts(at.from), volts(at.to)) else {
            let message = format!("{} floats on the way of \"{name}\"", part.name);
            return Err(vec![Finding::error("way-floats", message)]);
        };
        let is_load = matches!(part.kind, PartKind::Coil(_)) && part.name == name;
        steps.push(Step { part: part.name.clone(), before: a.max(b), after: a.min(b), is_load });
    }
    let inside = supply.and_then(|(_, supply)| {
        let (empty, poles) = (supply.range.lo, volts(supply.plus)?);
        let inside = Step {
            part: format!("{} inside", supply.name),
            before: empty,
            after: poles,
            is_load: false,
        };
        (empty - poles >= SAME).then_some(inside)
    });
    let drawn = steps.iter().find(|step| step.is_load).map_or(0.0, |step| step.before - step.after);
    let others =
        if loaded { "every other load of its section on" } else { "all other contacts open" };
    let apart = if (drawn - judged.volts).abs() < SAME {
        String::new()
    } else {
        format!(
            " The stair, solved at one corner, leaves it {drawn:.1} V; each resistance moved to its \
             worse end by itself: {:.1} V.",
            judged.volts
        )
    };
    Ok(Along {
        title: format!("{name}: volts along the way on which it gets least"),
        about: format!(
            "{}. Solved with {}, the contacts of this way closed, {others}.{apart}",
            scheme.title.trim_end_matches('.'),
            degrees(&judged.words)
        ),
        inside,
        steps,
        judged: judged.volts,
        works: report.works.map(|[least, most]| (least, most)),
    })
}

/// A way at a corner.
struct Stand<'a, 's> {
    wiring: &'a Wiring<'s>,
    coil: PartId,
    parts: &'a [PartId],
    loaded: bool,
    corner: Corner,
}

impl Stand<'_, '_> {
    fn solve(&self, scheme: &Scheme) -> Result<Solution, Vec<Finding>> {
        let bench = Bench::new(scheme);
        let warm = |heat: Heat, each: Warmth| match heat {
            Heat::Cold => Warmth::Cold,
            Heat::Hot => Warmth::Hot,
            Heat::Each => each,
        };
        let ends = Ends {
            battery: Charge::Low,
            conductors: warm(self.corner.conductors, Warmth::Hot),
            coils: warm(self.corner.coils, Warmth::Cold),
        };
        let mut setup = bench.setup().at(ends);
        for part in self.closed() {
            setup = setup.with_closed(part, true);
        }
        let mut network = bench.network(&setup).map_err(|fault| vec![fault.finding(scheme)])?;
        // What the other sections of its supplies draw meanwhile.
        if let (Others::On, Some(section)) = (self.corner.others, self.wiring.section_of(self.coil))
        {
            for id in self.wiring.supplies(section) {
                let ampere = self.wiring.others_at_most(section, id);
                let supply = &scheme.supplies[id];
                let (from, to) = (supply.plus.index(), supply.minus.index());
                if ampere > 0.0 {
                    network.add(Branch::Current { from, to, ampere });
                }
            }
        }
        let unsolved = || Finding::error("way-unsolved", "the volts along the way are not known");
        network.solve().map_err(|_| vec![unsolved()])
    }

    /// The switches that are closed: those of the way, and of the loads beside it.
    fn closed(&self) -> Vec<PartId> {
        let mut closed = self.parts.to_vec();
        if let (true, Some(section)) = (self.loaded, self.wiring.section_of(self.coil)) {
            let same = |way: &&Way| way.parts == self.parts;
            let free = self.wiring.ways(self.coil);
            let beside = self.wiring.ways_through_coils(self.coil);
            if let Some(way) = free.list.iter().chain(&beside.list).find(same) {
                let positions: Positions = self.wiring.with_other_loads(section, way, self.coil);
                let switches = self.wiring.switches(section).iter().enumerate();
                let on = switches.filter(|(bit, _)| positions.is_closed(*bit));
                closed.extend(on.map(|(_, part)| *part));
            }
        }
        closed
    }
}

/// The words of a corner as a picture has them: "50 C" is "50 °C".
fn degrees(words: &str) -> String {
    words.replace(" C)", " °C)").replace(" C,", " °C,")
}
