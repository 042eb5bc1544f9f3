//! Why a coil or an input is not driven. **In:** a look at a state, the coil. **Out:** one sentence.
//! **Never here:** who drives it.

use super::Machine;
use super::eval::Look;
use fiftytwo_circuit::{Positions, SectionId};
use fiftytwo_scheme::PartId;

/// Most ways told.
const MOST: usize = 3;
/// How many times its volts one contact has to raise for being the cause.
const MANY_TIMES: f64 = 2.0;
/// The least that counts as a rise, V.
const LEAST_RISE: f64 = 1.0;

/// Why it is not driven: its supply is lost; contacts are open on its ways; one contact alone bridges it, or
/// leaves it without its return; or what it gets is too little.
pub(super) fn why(look: &Look<'_, '_, '_>, coil: PartId) -> Option<String> {
    let machine = look.machine();
    let section = machine.wiring.section_of(coil)?;
    let name = part_name(machine, coil);
    if let Some(lost) = lost_supply(look, coil) {
        return Some(format!("{name} has no supply: {lost} is lost"));
    }
    let positions = look.positions(section);
    let ways = open_ways(machine, section, &positions, coil);
    if !ways.is_empty() {
        return Some(format!("{name} is not driven: open are {}", ways.join("; or ")));
    }
    let asked = Asked { look, section, positions, coil };
    Some(asked.by_one_contact().unwrap_or_else(|| match asked.volts(&asked.positions) {
        Some((lo, hi)) => format!("{name} has only {}", super::tell::volts_text(lo, hi)),
        None => format!("{name} has no way from pole to pole"),
    }))
}

fn part_name<'s>(machine: &Machine<'s>, part: PartId) -> &'s str {
    &machine.scheme.parts[part].name
}

/// The supply of its circuit, if that is lost.
fn lost_supply<'s>(look: &Look<'_, '_, 's>, coil: PartId) -> Option<&'s str> {
    let scheme = look.machine().scheme;
    let circuit = scheme.parts[coil].at?.circuit;
    let supply = scheme.circuits[circuit].supply;
    (!look.live().lives(supply)).then(|| scheme.supplies[supply].name.as_str())
}

/// What is open on each way, in words. A contact of its own opened because it let go: it is named only
/// where nothing else is.
fn open_ways(
    machine: &Machine<'_>,
    section: SectionId,
    positions: &Positions,
    coil: PartId,
) -> Vec<String> {
    let scheme = machine.scheme;
    let blockers = machine.wiring.blockers(section, positions, coil);
    let device = scheme.parts[coil].device;
    let own = |part: &PartId| device.is_some() && scheme.parts[*part].device == device;
    let foreign: Vec<Vec<PartId>> = blockers
        .iter()
        .map(|way| way.iter().copied().filter(|part| !own(part)).collect::<Vec<_>>())
        .filter(|way| !way.is_empty())
        .collect();
    let told = if foreign.is_empty() { blockers } else { foreign };
    let mut ways: Vec<String> = Vec::new();
    for way in &told {
        let names: Vec<&str> = way.iter().map(|part| part_name(machine, *part)).collect();
        let words = names.join(" and ");
        if !ways.contains(&words) {
            ways.push(words);
        }
    }
    ways.truncate(MOST);
    ways
}

struct Asked<'a, 'e, 'm, 's> {
    look: &'a Look<'e, 'm, 's>,
    section: SectionId,
    positions: Positions,
    coil: PartId,
}

impl Asked<'_, '_, '_, '_> {
    fn volts(&self, positions: &Positions) -> Option<(f64, f64)> {
        let wiring = &self.look.machine().wiring;
        let drives = wiring.drive(self.section, positions, self.look.live());
        let own = drives.iter().find(|drive| drive.part == self.coil)?;
        Some((own.volts_lo, own.volts_hi))
    }
    /// The contacts each of which alone has to move for it to be driven again: what bridges it, else what is
    /// open.
    fn by_one_contact(&self) -> Option<String> {
        let machine = self.look.machine();
        let (_, now) = self.volts(&self.positions)?;
        let enough = (now * MANY_TIMES).max(now + LEAST_RISE);
        let (mut bridging, mut open) = (Vec::new(), Vec::new());
        for (bit, part) in machine.wiring.switches(self.section).iter().enumerate() {
            let closed = self.positions.is_closed(bit);
            let mut moved = self.positions;
            moved.set(bit, !closed);
            if self.volts(&moved).is_some_and(|(then, _)| then >= enough) {
                let list = if closed { &mut bridging } else { &mut open };
                list.push(part_name(machine, *part));
            }
        }
        bridging.truncate(MOST);
        open.truncate(MOST);
        let name = part_name(machine, self.coil);
        match (bridging.as_slice(), open.as_slice()) {
            ([], []) => None,
            ([], [one]) => Some(format!("{name} is not driven: open is {one}")),
            ([], _) => Some(format!("{name} is not driven: open are {}", open.join("; or "))),
            _ => Some(format!("{name} is bridged by {}", bridging.join(" or "))),
        }
    }
}
