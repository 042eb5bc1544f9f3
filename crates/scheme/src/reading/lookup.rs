//! Looking names up, with an error for those that don't exist.

use super::desk::{Desk, Missing, Name, Thing, owned};
use super::names::listed;
use crate::finding::Finding;
use crate::ids::{CableId, DeviceId, PartId, SupplyId};
use crate::part::PartKind;

/// The supply of that name.
pub(super) fn supply(desk: &mut Desk, name: &Name) -> Option<SupplyId> {
    let found = desk.supplies.get(&name.text);
    if found.is_none() {
        let known = owned(desk.supplies.names());
        desk.unknown("supply", "supply-unknown", name, &known);
    }
    found
}

/// The cable of that name.
pub(super) fn cable(desk: &mut Desk, name: &Name) -> Option<CableId> {
    let found = desk.cables.get(&name.text);
    if found.is_none() {
        let known = owned(desk.cables.names());
        desk.unknown("cable", "cable-unknown", name, &known);
    }
    found
}

/// The device of that name; the name of a part instead gets its own help.
pub(super) fn device(desk: &mut Desk, name: &Name) -> Option<DeviceId> {
    if let Some(id) = desk.devices.get(&name.text) {
        return Some(id);
    }
    if let Some(Thing::Part(part)) = desk.things.get(&name.text) {
        let part = &desk.scheme.parts[part];
        let help = match part.device {
            Some(device) => format!(
                "write {} {:?} {:?}",
                part.kind.word(),
                desk.scheme.devices[device].name,
                part.own_name
            ),
            None => format!("{:?} is a {}, not a device", part.name, part.kind.word()),
        };
        desk.report(
            Finding::error("device-unknown", format!("There is no device {:?}.", name.text))
                .at(name.span, "the name of a part")
                .help(help),
        );
        return None;
    }
    let known = owned(desk.devices.names());
    desk.unknown("device", "device-unknown", name, &known);
    None
}

/// The part a line in a leg means: WORD DEVICE PART, or WORD DEVICE for a lone part.
pub(super) fn part(
    desk: &mut Desk,
    what: &'static str,
    device: DeviceId,
    device_name: &Name,
    own: Option<&Name>,
) -> Option<PartId> {
    let owner = &desk.scheme.devices[device];
    let of_word: Vec<PartId> = owner
        .parts
        .iter()
        .copied()
        .filter(|part| desk.scheme.parts[*part].kind.word() == what)
        .collect();
    let Some(own) = own else {
        return match of_word.as_slice() {
            [only] => Some(*only),
            [] => {
                let at = Name { text: String::new(), span: device_name.span };
                desk.missing.push(Missing { what, device, own: at });
                None
            }
            several => {
                let names = several.iter().map(|part| desk.scheme.parts[*part].own_name.as_str());
                let help = format!("say which: {}", listed(names));
                desk.report(
                    Finding::error(
                        "part-unnamed",
                        format!("{:?} has {} {what}s.", device_name.text, several.len()),
                    )
                    .at(device_name.span, "which one?")
                    .help(help)
                    .device(&device_name.text),
                );
                None
            }
        };
    };
    let found = of_word.into_iter().find(|part| desk.scheme.parts[*part].own_name == own.text);
    if found.is_none() {
        desk.missing.push(Missing { what, device, own: own.clone() });
    }
    found
}

/// Reports the parts that devices lack, once everything is placed and the spares are known.
pub(super) fn report_missing(desk: &mut Desk) {
    for Missing { what, device, own } in std::mem::take(&mut desk.missing) {
        if desk.incomplete.contains(&device) {
            continue;
        }
        let owner = &desk.scheme.devices[device];
        let parts = owner.parts.iter().map(|part| &desk.scheme.parts[*part]);
        if let Some(other) =
            parts.clone().find(|part| part.own_name == own.text && !own.text.is_empty())
        {
            let found = other.kind.word();
            let finding = Finding::error(
                unknown_id(what),
                format!(
                    "{:?} is no {what} but {} {found}.",
                    other.name,
                    super::names::article(found)
                ),
            )
            .at(own.span, format!("not a {what}"))
            .and_at(other.span, "declared here")
            .help(format!("write {found} {:?} {:?}", owner.name, other.own_name))
            .device(&other.name);
            desk.report(finding);
            continue;
        }
        let of_word: Vec<_> = parts.filter(|part| part.kind.word() == what).collect();
        let spare =
            of_word.iter().filter(|part| part.at.is_none()).map(|part| part.own_name.as_str());
        let taken =
            of_word.iter().filter(|part| part.at.is_some()).map(|part| part.own_name.as_str());
        let (spare, taken) = (listed(spare), listed(taken));
        let help = match (of_word.is_empty(), spare.is_empty()) {
            (true, _) => format!("{:?} has no {what} at all; declare it in the device", owner.name),
            (false, true) => format!("all are placed: {taken}; declare another in the device"),
            (false, false) if taken.is_empty() => format!("spare: {spare}"),
            (false, false) => format!("spare: {spare}; placed: {taken}"),
        };
        let message = match own.text.as_str() {
            "" => format!("{:?} has no {what}.", owner.name),
            text => format!("{:?} has no {what} {text:?}.", owner.name),
        };
        let finding = Finding::error(unknown_id(what), message)
            .at(own.span, format!("no such {what}"))
            .and_at(owner.span, "the device")
            .help(help)
            .device(&owner.name);
        desk.report(finding);
    }
}

fn unknown_id(what: &str) -> &'static str {
    match what {
        "contact" => "contact-unknown",
        "coil" => "coil-unknown",
        "input" => "input-unknown",
        _ => "part-unknown",
    }
}

/// The coil of that full name ("52 trip 1"; "52Y" for a lone coil).
pub(super) fn coil(desk: &mut Desk, name: &Name) -> Option<PartId> {
    let is_coil =
        |desk: &Desk, part: &PartId| matches!(desk.scheme.parts[*part].kind, PartKind::Coil(_));
    let found = match desk.things.get(&name.text) {
        Some(Thing::Part(part)) => Some(part).filter(|part| is_coil(desk, part)),
        Some(Thing::Device(device)) => {
            let parts = &desk.scheme.devices[device].parts;
            let coils: Vec<PartId> =
                parts.iter().copied().filter(|part| is_coil(desk, part)).collect();
            match coils.as_slice() {
                [only] => Some(*only),
                _ => None,
            }
        }
        None => None,
    };
    if found.is_none() {
        let known = desk.scheme.coils().map(|(_, part, _)| part.name.clone()).collect::<Vec<_>>();
        desk.unknown("coil", "coil-unknown", name, &known);
    }
    found
}
